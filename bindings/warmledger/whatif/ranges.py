"""How far one input at a time moves a measure: low, base and high of each, with the source of the range."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..appraisal import Appraisal, appraise
from ..catalog import Catalog
from ..errors import Error, FileUnreadable, MalformedText, MissingValue, error
from ..variations import PRICE_COLUMNS, cost_times, flat_price, fuel_price_times, hot_water_times
from .inputs import Base, Cases, cases_of
from .solving import _measure_of
from .sweeps import check_details, typed
from .wording import as_if_of, plain

if TYPE_CHECKING:
    import pandas as pd

KINDS = ("times", "plus", "value")
STATUS = ("verified", "secondary account", "from memory", "common practice")
COLUMNS = ("input", "title", "kind", "low", "high", "source", "status")


@dataclass(frozen=True)
class Range:
    """What an input may be: its base times or plus two numbers, or two values."""

    input: str
    title: str
    kind: str
    low: Any
    high: Any
    source: str


@dataclass(frozen=True)
class _Ends:
    """An input with its base, and the changes that bring it to its low and to its high end."""

    input: str
    base: Any
    values: tuple[Any, Any]
    changes: tuple[Mapping[str, Any], Mapping[str, Any]]


def tornado(
    base: Base,
    ranges: Mapping[str, Any] | None = None,
    *,
    measure: str = "net_savings_usd",
    detail: str | None = None,
    loan: str | None = None,
    threads: int | None = None,
) -> pd.DataFrame:
    """Moves one input at a time to its low and its high value, the others as they are.

    base     as for `sweep`; of a pair (household, program) the package that is chosen stays
    ranges   maps inputs to ranges: (low, high), or {"times": (0.8, 1.2)}, {"plus": (-0.01, 0.01)} or
             {"value": (low, high)}, with a "source" and a "title" where wanted. Inputs are named as for `sweep`; those
             of data/ranges.csv too: "installed_cost", "fuel_price" (whatever it comes from; bills in dollars follow),
             "fuel_escalation", "hot_water", "discount_rate". None: all of data/ranges.csv that this household has
    measure  the result column that moves; a loan measure is of `loan`, or of the base's best loan
    detail   "hourly" or "monthly"; None: as the Appraisal was made, else "hourly"
    threads  None: one for each core

    One row an input, widest swing first: input, title, low, base, high (its values), at_low, at_base, at_high (the
    measure), swing, source. Where the measure has no value at an end, at_low or at_high and swing are empty and the
    row stands last. A column as_if more says what is as if, where anything is. attrs: "measure", "left_out" (inputs of
    data/ranges.csv that do not apply, and why), "problems", "counts", "program", "as_if". Draw it with
    `wl.plots.tornado`.

    A range says how far an input may be off, not how probable that is, and inputs that move together are not seen.
    Raises UnknownName for an input that is not there, MissingValue for one without a value now. Not lending advice.
    """
    import pandas as pd

    if isinstance(base, tuple) and len(base) == 2:
        base = appraise(base[0], base[1], detail=detail or "hourly")
    cases = cases_of(base, loan=loan)
    measure = _measure_of(measure, cases)
    if isinstance(base, Appraisal) and loan is None and measure.startswith("loan_"):
        loan = base.summary.get("best_loan") or None
        cases = cases_of(base, loan=loan)
    detail = detail or cases.detail
    check_details([detail], cases.detail)
    first = cases.run([{}], [detail], threads)
    left_out = []
    wanted: list[tuple[Range, _Ends]] = []
    for one in _ranges_of(ranges, base):
        ends = _ends_of(one, base, cases, first, loan)
        if isinstance(ends, _Ends):
            wanted.append((one, ends))
        elif ranges is None:
            left_out.append({"input": one.input, "why": ends})
        else:
            raise error(MissingValue, ends, value=one.input, allowed="an input that has a value now", key="ranges")
    changes = [change for _, ends in wanted for change in ends.changes]
    cases.check(changes)
    results = cases.run([{}, *changes], [detail] * (len(changes) + 1), threads)
    column = results[measure].astype("Float64")
    low, high = column.iloc[1::2].reset_index(drop=True), column.iloc[2::2].reset_index(drop=True)
    frame = pd.DataFrame(
        {
            "input": typed([ends.input for _, ends in wanted]),
            "title": typed([one.title for one, _ in wanted]),
            "low": typed([ends.values[0] for _, ends in wanted]),
            "base": typed([ends.base for _, ends in wanted]),
            "high": typed([ends.values[1] for _, ends in wanted]),
            "at_low": low,
            "at_base": pd.array([column.iloc[0]] * len(wanted), dtype="Float64"),
            "at_high": high,
            "swing": (high - low).abs(),
            "source": typed([one.source for one, _ in wanted]),
        }
    )
    frame = frame.sort_values("swing", ascending=False, na_position="last", kind="stable", ignore_index=True)
    told = as_if_of([results])
    if told:
        frame["as_if"] = pd.array([told] * len(frame), dtype="string")
    frame.attrs = {**results.attrs, "measure": measure, "left_out": left_out, "as_if": told}
    return frame


def default_ranges(catalog: Catalog) -> list[Range]:
    """What data/ranges.csv says, or the file of that name in the catalogue's own folder."""
    own = Path(catalog.override) / "ranges.csv" if catalog.override else None
    path = own if own is not None and own.exists() else Path(catalog.data) / "ranges.csv"
    try:
        with open(path, encoding="utf-8-sig", newline="") as file:
            lines = list(csv.reader(file))
    except (OSError, UnicodeDecodeError) as failure:
        raise error(FileUnreadable, f"cannot be read ({failure})", file=str(path)) from None
    if not lines or tuple(lines[0]) != COLUMNS:
        found = ",".join(lines[0]) if lines else ""
        raise error(MalformedText, "is not the header", value=found, allowed=",".join(COLUMNS), file=str(path), line=1)
    return [_read(line, str(path), at) for at, line in enumerate(lines[1:], start=2) if any(line)]


def _read(line: list[str], file: str, at: int) -> Range:
    def refuse(key: str, what: str, value: str, allowed: str) -> Error:
        return error(MalformedText, what, value=value, allowed=allowed, file=file, line=at, key=key)

    if len(line) != len(COLUMNS):
        raise refuse("", "cells stand in the line", str(len(line)), f"{len(COLUMNS)} cells")
    row = dict(zip(COLUMNS, line, strict=True))
    for key in ("input", "title", "source"):
        if not row[key]:
            raise refuse(key, "is missing", "", "text")
    for key, allowed in (("kind", KINDS), ("status", STATUS)):
        if row[key] not in allowed:
            raise refuse(key, "is not known", row[key], ", ".join(allowed))
    ends = []
    for key in ("low", "high"):
        try:
            ends.append(float(row[key]))
        except ValueError:
            ends.append(math.nan)
        if not math.isfinite(ends[-1]):
            raise refuse(key, "is no number", row[key], "a number")
    if ends[0] > ends[1]:
        raise refuse("high", "is below low", row["high"], f"at least {row['low']}")
    return Range(row["input"], row["title"], row["kind"], ends[0], ends[1], f"{row['source']} ({row['status']})")


def _ranges_of(ranges: Mapping[str, Any] | None, base: Base) -> list[Range]:
    known = default_ranges(base.program.catalog) if isinstance(base, Appraisal) else []
    if ranges is None:
        if not known:
            raise error(MissingValue, "are needed for an offer's figures", key="ranges", allowed="inputs and ranges")
        return known
    if not isinstance(ranges, Mapping) or not ranges:
        raise error(
            MalformedText, "are no ranges", value=repr(ranges)[:80], allowed="inputs and their ranges", key="ranges"
        )
    titles = {one.input: one.title for one in known}
    found = []
    for name, given in ranges.items():
        kind, ends, source, title = "value", given, "given by the caller", titles.get(name) or plain(name)
        if isinstance(given, Mapping):
            kinds = [one for one in KINDS if one in given]
            unknown = set(given) - {*KINDS, "source", "title"}
            if len(kinds) != 1 or unknown:
                raise _no_range(name, given)
            kind, ends = kinds[0], given[kinds[0]]
            source, title = str(given.get("source", source)), str(given.get("title", title))
        if not isinstance(ends, Sequence) or isinstance(ends, str) or len(ends) != 2:
            raise _no_range(name, given)
        found.append(Range(str(name), title, kind, ends[0], ends[1], source))
    return found


def _no_range(name: str, given: Any) -> Error:
    allowed = '(low, high), {"times": (0.8, 1.2)}, {"plus": (-0.01, 0.01)} or {"value": (low, high)}'
    return error(MalformedText, "is no range", value=repr(given)[:80], allowed=allowed, key=str(name))


def _applied(kind: str, base: Any, by: Any) -> Any:
    """The base with a range's end applied; lists element by element."""
    if isinstance(base, Sequence) and not isinstance(base, str):
        return [_applied(kind, one, by) for one in base]
    if kind == "value":
        return by
    found = base * by if kind == "times" else base + by
    if isinstance(base, int) and float(found).is_integer():
        return int(found)
    return float(f"{found:.12g}")  # 0.03 rather than 0.030000000000000002


def _ends_of(one: Range, base: Base, cases: Cases, first: pd.DataFrame, loan: str | None) -> _Ends | str:
    """What the range means for this base; or why it means nothing."""
    import pandas as pd

    name = one.input
    if isinstance(base, Appraisal):
        if one.kind == "times" and name in _IN_PROPORTION:
            return _in_proportion(one, base)
        fuel = str(base.system["heater_fuel"])
        if name == "discount_rate":
            kinds = [f"economics.{kind}_discount_rate" for kind in ("nominal", "real")]
            name = next(key for key in kinds if cases.value(key) is not None)
        elif name == "fuel_escalation":
            found = _escalation(cases, fuel)
            if found is None:
                return f"the price of {fuel} rises by another amount each year"
            name = found
        elif name in _IN_PROPORTION:
            name = {"installed_cost": "installed_cost_usd", "fuel_price": PRICE_COLUMNS[fuel]}.get(
                name, "hot_water_gal_day"
            )
        if "{loan}" in name and loan is None:
            return "the measure is of no loan"
        name = name.replace("{package}", str(base.summary["package"])).replace("{loan}", loan or "")
    now = cases.value(name)
    if now is None and name in first.columns and not pd.isna(first[name].iloc[0]):
        now = float(first[name].iloc[0])
    if now is None and name.endswith("real_escalation"):
        now = 0.0  # what is taken where the program says nothing of it
    if now is None and one.kind != "value":
        cases.check([{name: one.low}])
        return "has no value now"
    values = (_applied(one.kind, now, one.low), _applied(one.kind, now, one.high))
    if one.kind == "value":
        values = (one.low, one.high)
    return _Ends(name, now, values, ({name: values[0]}, {name: values[1]}))


def _escalation(cases: Cases, fuel: str) -> str | None:
    table = cases.value(f"prices.{fuel}") or {}
    for key in ("nominal_escalation", "real_escalation"):
        if key in table:
            return f"prices.{fuel}.{key}"
    by_year = [key for key in table if key.endswith("_by_year") or key == "escalation_region"]
    return None if by_year else f"prices.{fuel}.real_escalation"


_IN_PROPORTION: dict[str, Callable[[Appraisal, float], dict[str, Any] | None]] = {
    "installed_cost": cost_times,
    "fuel_price": fuel_price_times,
    "hot_water": hot_water_times,
}


def _in_proportion(one: Range, base: Appraisal) -> _Ends | str:
    """The same changes that the household's page shows."""
    change = _IN_PROPORTION[one.input]
    made = [change(base, float(times)) for times in (one.low, one.high)]
    low, high = made
    if low is None or high is None:
        return "the household's own bill decides it"
    name = next(iter(low))
    if name == "tariff" or "tariff" in low:
        return _Ends(f"{one.input}_times", 1.0, (one.low, one.high), (low, high))
    now = flat_price(base, str(base.system["heater_fuel"])) if one.input == "fuel_price" and "." not in name else None
    if now is None:
        same = change(base, 1.0)
        assert same is not None
        now = float(same[name])
    return _Ends(name, now, (float(low[name]), float(high[name])), (low, high))
