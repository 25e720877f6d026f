"""Sweeps: any inputs, by name, over any values."""

from __future__ import annotations

import datetime
import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from ..errors import MalformedText, MissingValue, UnknownName, ValueOutOfRange, error
from .inputs import Base, Changes, cases_of
from .wording import as_if_of

if TYPE_CHECKING:
    import pandas as pd

MOST_COMBINATIONS = 1_000_000
DETAILS = ("hourly", "monthly")


def sweep(
    base: Base,
    grid: Mapping[str, Iterable[Any]] | Sequence[Changes],
    *,
    detail: str | None = None,
    threads: int | None = None,
    measures: Iterable[str] | None = None,
) -> pd.DataFrame:
    """Appraises a household with every combination of other inputs, as a tidy frame.

    base      an Appraisal (its household, program and package; {"package": [None]} in the grid lets the package be
              chosen anew in each row), a pair (household, program), or the figures of an offer as `evaluate_offers`
              takes them
    grid      maps names of inputs to their values: all combinations, the last input running fastest. Names are columns
              of a household sheet ("occupants", "installed_cost_usd"), keys of the program file as for
              `Program.changed` ("economics.inflation_rate", "incentive.ID.flat_usd", "loan.ID.yearly_rate"), dates as
              if ("as_if.RULE.valid_to") or "detail". None empties a column or takes a key out.
              Or a list of such mappings with one value each: chosen combinations, rows in their order; an input that
              one of them leaves out is there as it is
    detail    "hourly" or "monthly", for all rows; None: as the Appraisal was made, else "hourly". Where "detail" is
              an input of the grid, it decides
    threads   None: one for each core. The result does not depend on it
    measures  which result columns to keep; None: all

    One row a combination, index from 0: the inputs as columns first, then the result columns of `screen`. A result
    column that is an input stands once, as the input; where the input is empty, the result. A combination that cannot
    be appraised keeps its row with the decision "bad row"; attrs["problems"] lists each (row counted from 1).
    attrs["counts"] says how much was worked out: cases, simulations, irradiances; what a change does not touch is
    shared. attrs["inputs"] names the inputs, attrs["program"] tells the base's program.

    Raises UnknownName for a name that is no input, ValueOutOfRange for more than 1,000,000 combinations, MissingValue
    for an input without values. Not lending or tax advice.
    """
    import pandas as pd

    cases = cases_of(base)
    names, changes = combinations_of(grid)
    for change in changes:
        for name, value in change.items():
            if value is pd.NA or (isinstance(value, float) and math.isnan(value)):  # a sheet takes it for an empty cell
                raise error(
                    MalformedText,
                    "is no value",
                    value=repr(value),
                    allowed="a value, or None for what stands where nothing is said",
                    key=str(name),
                )
    if "detail" in names:
        if detail is not None:
            raise error(
                MalformedText, "stands beside an input detail of the grid", key="detail", allowed="one of the two"
            )
        names_of_inputs = [name for name in names if name != "detail"]
        details = [str(change.get("detail", cases.detail)) for change in changes]
    else:
        names_of_inputs = names
        details = [detail or cases.detail] * len(changes)
    check_details(details, cases.detail)
    plain = [{name: value for name, value in change.items() if name in names_of_inputs} for change in changes]
    cases.check(plain)
    results = cases.run(plain, details, threads)
    kept = list(results.columns) if measures is None else _kept(results, measures)
    told = as_if_of([results])
    if told and "as_if" not in kept:
        kept.append("as_if")  # what is as if never goes without its label
    inputs = {}
    for name in names:
        values = [change.get(name, cases.detail if name == "detail" else cases.value(name)) for change in changes]
        column = typed(values)
        if name in results.columns and column.isna().any():
            column = typed([was if value is None else value for was, value in zip(results[name], values, strict=True)])
        inputs[name] = column
    frame = pd.concat(
        [pd.DataFrame(inputs, index=results.index), results[[name for name in kept if name not in inputs]]], axis=1
    )
    frame.attrs = {**results.attrs, "inputs": list(names), "as_if": told}
    return frame


def check_details(details: Iterable[str], own: str) -> None:
    for name in set(details):
        if name not in (*DETAILS, own):
            raise error(UnknownName, "is not known", value=repr(name), allowed=", ".join(DETAILS), key="detail")


def combinations_of(grid: Any) -> tuple[list[str], list[dict[str, Any]]]:
    """Names of the inputs, and the value of each in each combination."""
    if isinstance(grid, Mapping):
        columns = {}
        for name, values in grid.items():
            if isinstance(values, str | bytes | Mapping) or not hasattr(values, "__iter__"):
                raise error(
                    MalformedText,
                    "is no list of values",
                    value=repr(values)[:80],
                    allowed="a list of values, for example [1.5, 2.0]",
                    key=str(name),
                )
            columns[str(name)] = list(itertools.islice(values, MOST_COMBINATIONS + 1))
            if not columns[str(name)]:
                raise error(MissingValue, "has no values", allowed="one value or more", key=str(name))
        if not columns:
            raise error(MissingValue, "is empty", allowed="one input or more", key="grid")
        _refuse_many(math.prod(len(values) for values in columns.values()))
        return list(columns), [
            dict(zip(columns, values, strict=True)) for values in itertools.product(*columns.values())
        ]
    if isinstance(grid, Sequence) and not isinstance(grid, str) and all(isinstance(one, Mapping) for one in grid):
        if not grid:
            raise error(MissingValue, "is empty", allowed="one combination or more", key="grid")
        _refuse_many(len(grid))
        return list(dict.fromkeys(str(name) for one in grid for name in one)), [dict(one) for one in grid]
    raise error(
        MalformedText,
        "is no grid",
        value=repr(grid)[:80],
        allowed="a mapping of input names to values, or a list of mappings with one value each",
        key="grid",
    )


def _refuse_many(count: int) -> None:
    if count > MOST_COMBINATIONS:
        raise error(
            ValueOutOfRange,
            "combinations are too many",
            value=f"{count:,}",
            allowed=f"up to {MOST_COMBINATIONS:,}",
            key="grid",
        )


def _kept(results: pd.DataFrame, measures: Iterable[str]) -> list[str]:
    import difflib

    names = [measures] if isinstance(measures, str) else list(measures)
    for name in names:
        if name not in results.columns:
            near = difflib.get_close_matches(str(name), list(results.columns), n=1)
            raise error(
                UnknownName,
                "is no result column" + (f" (did you mean {near[0]}?)" if near else ""),
                value=str(name),
                allowed="a column of wl.result_columns()",
                key="measures",
            )
    return names


def typed(values: Sequence[Any]) -> pd.Series:
    """A column of its own kind: whole numbers, numbers, yes or no, dates or text; anything else as it is."""
    import pandas as pd

    plain = [value.item() if hasattr(value, "item") and getattr(value, "ndim", 0) == 0 else value for value in values]
    plain = [None if value is None or value is pd.NA else value for value in plain]
    kinds = {type(value) for value in plain if value is not None}
    if kinds and kinds <= {bool}:
        return pd.Series(plain, dtype="boolean")
    if kinds and kinds <= {int} and all(abs(value) < 2**63 for value in plain if value is not None):
        return pd.Series(plain, dtype="Int64")
    if kinds and kinds <= {int, float}:
        return pd.Series([None if value is None else float(value) for value in plain], dtype="Float64")
    if kinds <= {str}:
        return pd.Series(plain, dtype="string")
    if kinds <= {datetime.date, datetime.datetime, pd.Timestamp}:
        return pd.Series(pd.to_datetime(pd.Series(plain)))
    return pd.Series(plain, dtype=object)
