"""Inputs by name, changed and appraised: columns of a household sheet, keys of a program file, figures of an offer."""

from __future__ import annotations

import datetime
import difflib
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

from .. import _core
from ..appraisal import Appraisal, cells_of
from ..catalog import PathLike, Program, as_program
from ..changes import parts_of
from ..errors import Error, MalformedText, NotAvailable, UnknownName, error
from ..sheet import text_of
from ..variations import PRICE_COLUMNS
from .cases import appraise_cases

if TYPE_CHECKING:
    import pandas as pd

Changes = Mapping[str, Any]
Base = Appraisal | tuple[Any, Program | PathLike] | Mapping[str, Any]

ALLOWED_BASE = "an Appraisal, a pair of a household and a program, or a mapping of an offer's figures"
ALLOWED_NAME = (
    "a column of a household sheet, or a key of the program file, for example economics.inflation_rate or "
    "incentive.ID.flat_usd"
)


class Cases(Protocol):
    """What can be appraised again with other inputs."""

    detail: str

    def check(self, changes: Sequence[Changes]) -> None:
        """Raises UnknownName for an input that there is not."""

    def value(self, name: str) -> Any:
        """What an input is now; None where it is not said."""

    def columns(self) -> Sequence[str]:
        """Names of the result columns that are numbers."""

    def limits(self, name: str) -> tuple[float, float] | None:
        """Lowest and highest value that the library takes; None where it does not say."""

    def price(self, name: str) -> float | None:
        """What a unit of the fuel costs, of whose price a column or key is the name."""

    def longest_term(self) -> int | None:
        """The longest term of a loan, in months."""

    def run(self, changes: Sequence[Changes], details: Sequence[str], threads: int | None) -> pd.DataFrame:
        """One row a mapping of changes, each by its detail, in order; attrs["problems"], attrs["counts"]."""


def cases_of(base: Base, *, loan: str | None = None) -> Cases:
    """The cases around a base; `loan`: with that loan alone."""
    if isinstance(base, Appraisal):
        inputs = base.inputs
        if inputs is None:
            raise error(NotAvailable, "was made without its household", allowed="an Appraisal that appraise() returned")
        cells = {name.strip(): cell for name, cell in zip(inputs.header, inputs.cells, strict=True)}
        cells["package"] = str(base.summary["package"])
        return HouseholdCases(cells, base.program, inputs.detail, loan)
    if isinstance(base, tuple) and len(base) == 2:
        header, row = cells_of(base[0], stacklevel=4)
        return HouseholdCases(dict(zip(header, row, strict=True)), as_program(base[1]), "hourly", loan)
    if isinstance(base, Mapping) and "bills_without_usd" in base:
        return OfferCases(base)
    raise error(MalformedText, "is no base of a what-if", key="base", value=repr(base)[:80], allowed=ALLOWED_BASE)


class HouseholdCases:
    """A household under a program, with changes of either."""

    def __init__(self, household: Mapping[str, Any], program: Program, detail: str, loan: str | None = None) -> None:
        self.household, self.detail = dict(household), detail
        if loan is not None:
            if loan not in program.loans:
                near = difflib.get_close_matches(loan, program.loans, n=1)
                raise error(
                    UnknownName,
                    "is no loan of this program" + (f" (did you mean {near[0]}?)" if near else ""),
                    value=loan,
                    allowed=", ".join(program.loans),
                    key="loan",
                )
            others = {f"loan.{name}": None for name in program.loans if name != loan}
            program = program.changed(others) if others else program
        self.program = program
        self._programs: dict[str, Program | Error] = {}
        self._columns = {column["name"]: column for column in _core.catalog.household_columns()}
        self._instead: dict[str, str] = {}
        for name, column in self._columns.items():
            if other := column["instead_of"]:
                self._instead |= {name: other, other: name}

    def check(self, changes: Sequence[Changes]) -> None:
        names = list(dict.fromkeys(name for change in changes for name in change))
        for name in names:
            if name in self._columns:
                if name == "household_id":
                    raise error(UnknownName, "names the household", value=name, allowed=ALLOWED_NAME, key="input")
                continue
            if len(_parts(name)) == 1 and not self._is_top(name):
                near = difflib.get_close_matches(name, [*self._columns, *self._top()], n=1)
                raise error(
                    UnknownName,
                    "is no input" + (f" (did you mean {near[0]}?)" if near else ""),
                    value=name,
                    allowed=ALLOWED_NAME,
                    key="input",
                )
            self._check_key(name, changes)

    def _check_key(self, name: str, changes: Sequence[Changes]) -> None:
        """A key is known if the file says it, or if the library takes one of its values."""
        failure: Error | None = None
        try:
            self.program.setting(name)
            return
        except Error as unknown:
            failure = unknown
        for change in changes[:1000]:
            if change.get(name) is not None:
                made = self._program_of(self._split(change)[1])
                if not isinstance(made, UnknownName):
                    return
                failure = made
        raise failure

    def _top(self) -> dict[str, Any]:
        import tomllib

        return tomllib.loads(self.program.text)

    def _is_top(self, name: str) -> bool:
        if name in self._top():
            return True
        try:  # a key that the file leaves out: the library knows it if it is not its name that it refuses
            self.program.changed({name: False})
        except Error as failure:
            return not isinstance(failure, UnknownName)
        return True

    def value(self, name: str) -> Any:
        if name in self._columns:
            column = self._columns[name]
            cell = self.household.get(name)
            if text_of(cell) is None:
                cell = column["default"] or None
            if cell is None or column["kind"] not in ("number", "whole number"):
                return cell
            try:
                found = float(str(cell).replace("$", "").replace(",", ""))
            except ValueError:
                return cell
            return int(found) if column["kind"] == "whole" and found.is_integer() else found
        try:
            return self.program.setting(name)
        except Error:
            return None

    def columns(self) -> Sequence[str]:
        return [column["name"] for column in _core.screening.result_columns() if column["kind"] == "number"]

    def limits(self, name: str) -> tuple[float, float] | None:
        column = self._columns.get(name)
        return (column["low"], column["high"]) if column and column["kind"] in ("number", "whole number") else None

    def price(self, name: str) -> float | None:
        for fuel, column in PRICE_COLUMNS.items():
            if name == column or fuel in name:
                found = self.value(column) or self.value(f"prices.{fuel}.usd_per_unit")
                return None if found is None else float(found)
        return None

    def longest_term(self) -> int | None:
        loans = self.value("loan") or []
        return max((int(loan.get("term_months", 0)) for loan in loans), default=None)

    def run(self, changes: Sequence[Changes], details: Sequence[str], threads: int | None) -> pd.DataFrame:
        import pandas as pd

        good: dict[str, list[int]] = {}
        cases: list[tuple[dict[str, Any], Program]] = []
        refused: dict[int, Error] = {}
        for at, (change, detail) in enumerate(zip(changes, details, strict=True)):
            columns, keys = self._split(change)
            made = self._program_of(keys)
            if isinstance(made, Error):
                refused[at] = made
                made = self.program
            else:
                good.setdefault(detail, []).append(at)
            cases.append(({**self.household, **columns}, made))
        parts = []
        problems: list[dict[str, Any]] = []
        counts = {"cases": 0, "simulations": 0, "irradiances": 0}
        for detail, places in good.items():
            part = appraise_cases([cases[at] for at in places], detail=detail, threads=threads)
            part.index = pd.Index(places)
            problems += [{**found, "row": places[found["row"] - 1] + 1} for found in part.attrs["problems"]]
            for name, count in part.attrs["counts"].items():
                counts[name] += count
            parts.append(part)
        if parts:
            frame = pd.concat(parts)
        else:
            empty = appraise_cases([(self.household, self.program)], detail="monthly", threads=1)
            frame = empty.iloc[:0]
        frame = frame.reindex(range(len(changes)))
        for at, failure in refused.items():
            problems.append({**failure.problem, "row": at + 1, "file_row": None})
            frame.loc[at, "household_id"] = str(self.household.get("household_id") or "")
            frame.loc[at, "decision"] = "bad row"
            frame.loc[at, "reason"] = str(failure)
        counts["cases"] = len(changes)
        about = self.program.about()
        frame.attrs = {
            "problems": sorted(problems, key=lambda found: int(found["row"])),
            "counts": counts,
            "program": about,
        }
        return frame

    def _split(self, changes: Changes) -> tuple[dict[str, Any], dict[str, Any]]:
        """Changes of the household and changes of the program. A column that is given takes the place of its twin: hot
        water in litres of hot water in gallons."""
        columns = {name: value for name, value in changes.items() if name in self._columns}
        keys = {name: value for name, value in changes.items() if name not in self._columns}
        for name in list(columns):
            twin = self._instead.get(name)
            if twin is not None and twin not in columns:
                columns[twin] = None
        if "place" in columns and self.household.get("latitude_deg") is not None:
            columns = {"latitude_deg": None, "longitude_deg": None, **columns}
        return columns, keys

    def _program_of(self, keys: Changes) -> Program | Error:
        """The program with the changes, made once for all cases that have the same; the error of one that cannot be."""
        if not keys:
            return self.program
        key = repr(list(keys.items()))
        if key not in self._programs:
            try:
                self._programs[key] = _with(self.program, keys)
            except Error as failure:
                self._programs[key] = failure
        return self._programs[key]


def _with(program: Program, keys: Changes) -> Program:
    """The program with changes; as_if.RULE.valid_from and as_if.RULE.valid_to take a rule as if it held then."""
    rules: dict[str, dict[str, datetime.date | None]] = {}
    plain = {}
    for name, value in keys.items():
        parts = _parts(name)
        if parts[0] == "as_if" and len(parts) == 3 and parts[2] in ("valid_from", "valid_to"):
            if hasattr(value, "date"):  # a pandas Timestamp
                value = value.date()
            if value is not None and not isinstance(value, datetime.date):
                raise error(MalformedText, "is no date", value=repr(value)[:80], allowed="a datetime.date", key=name)
            rules.setdefault(parts[1], {})[parts[2]] = value
        elif value is not None or _said(program, name):  # what the file does not say cannot be taken out
            plain[name] = value
    if plain:
        program = program.changed(plain)
    for rule, dates in rules.items():
        if any(date is not None for date in dates.values()):
            program = program.as_if(rule, valid_from=dates.get("valid_from"), valid_to=dates.get("valid_to"))
    return program


def _said(program: Program, name: str) -> bool:
    try:
        program.setting(name)
    except Error:
        return False
    return True


def _parts(name: Any) -> list[str]:
    if not isinstance(name, str) or not name:
        raise error(MalformedText, "is no name of an input", value=repr(name)[:80], allowed=ALLOWED_NAME, key="input")
    return [name] if name.isidentifier() else parts_of(name)


class OfferCases:
    """The figures of an offer, as `evaluate_offers` takes them; `study_years` is one of them here."""

    detail = "figures"

    def __init__(self, figures: Mapping[str, Any]) -> None:
        self.figures = dict(figures)
        self.known = [*dict(_core.offers.inputs), "study_years"]
        self.check([self.figures])

    def check(self, changes: Sequence[Changes]) -> None:
        for change in changes:
            for name in change:
                if name not in self.known:
                    near = difflib.get_close_matches(str(name), self.known, n=1)
                    raise error(
                        UnknownName,
                        "is no input of an offer" + (f" (did you mean {near[0]}?)" if near else ""),
                        value=str(name),
                        allowed=", ".join(self.known),
                        key="input",
                    )

    def value(self, name: str) -> Any:
        return self.figures.get(name)

    def columns(self) -> Sequence[str]:
        return list(_core.offers.measure_names)

    def limits(self, name: str) -> tuple[float, float] | None:
        return None

    def price(self, name: str) -> float | None:
        return None

    def longest_term(self) -> int | None:
        return int(self.figures.get("loan_term_months", 120))

    def run(self, changes: Sequence[Changes], details: Sequence[str], threads: int | None) -> pd.DataFrame:
        import pandas as pd

        rows = [{**self.figures, **change} for change in changes]
        problems: list[dict[str, Any]] = []
        try:
            frame = _offers_frame(rows, threads)
        except Error:  # a bad figure must not stop the others: each by itself
            parts = []
            for at, row in enumerate(rows):
                try:
                    parts.append(_offers_frame([row], 1))
                except Error as failure:
                    problems.append({**failure.problem, "row": at + 1, "file_row": None})
                    parts.append(pd.DataFrame({"decision": ["bad row"], "measures_none": [str(failure)]}))
            frame = pd.concat(parts, ignore_index=True)
        frame = frame.reindex(columns=["decision", *self.columns(), "measures_none"])
        for name in self.columns():
            frame[name] = frame[name].astype("Float64")
        for name in ("decision", "measures_none"):
            frame[name] = frame[name].astype("string")
        frame.attrs = {
            "problems": problems,
            "counts": {"cases": len(changes), "simulations": 0, "irradiances": 0},
            "program": {},
        }
        return frame


def _offers_frame(rows: Sequence[dict[str, Any]], threads: int | None) -> pd.DataFrame:
    import pandas as pd

    from ..offers import evaluate_offers

    years = [row.get("study_years", 20) for row in rows]
    parts = []
    for study in dict.fromkeys(years):
        places = [at for at, one in enumerate(years) if one == study]
        names = [name for name in rows[places[0]] if name != "study_years"]
        columns = {name: [rows[at][name] for at in places] for name in names}
        found = evaluate_offers(columns, study_years=study, threads=threads)
        why = found.attrs["reasons"].frame()
        found.attrs = {}
        found["measures_none"] = [
            "; ".join(f"{name}: {reason}" for name, reason in row.items() if reason) or None
            for _, row in why.iterrows()
        ]
        found.index = pd.Index(places)
        parts.append(found)
    return pd.concat(parts).sort_index()
