"""pandas frames of results."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from . import _core
from .sheet import is_id_number, text_of

if TYPE_CHECKING:
    from ._core.screening import TextColumn
    from .catalog import Program
    from .sheet import Sheet

PROBLEM_COLUMNS = ["row", "column", "value", "what", "allowed", "sentence", "file_row"]
WHAT_IF = " (what-if, not the law)"


def result_frame(
    screened: dict[str, Any], sheet: Sheet | None = None, program: Program | None = None, keep: Iterable[str] = ()
) -> pd.DataFrame:
    """The frame of a screened sheet; see `screen`. `keep`: columns of the sheet that are added at the right."""
    columns: dict[str, Any] = {}
    for spec in _core.screening.result_columns():
        values = screened["columns"][spec["name"]]
        if spec["kind"] == "text":
            columns[spec["name"]] = text_column(values)
            continue
        numbers, none = values
        if spec["kind"] == "yes or no":
            columns[spec["name"]] = pd.arrays.BooleanArray(numbers.astype(bool), none)
        elif spec["kind"] == "whole number":
            columns[spec["name"]] = pd.arrays.IntegerArray(numbers.astype(np.int64), none)
        else:
            columns[spec["name"]] = pd.arrays.FloatingArray(numbers, none)
    if sheet is not None and sheet.ids is not None:
        whole = isinstance(sheet.ids, list)
        columns["household_id"] = pd.array(sheet.ids, dtype="Int64") if whole else sheet.ids.copy()
    for name in keep:
        columns[name] = kept_column(sheet, name)
    index = sheet.index if sheet is not None else None
    if index is None:
        index = pd.RangeIndex(1, len(next(iter(columns.values()))) + 1, name="row")
    frame = pd.DataFrame(columns, index=index, copy=False)
    if program is not None:
        frame.attrs["program"] = program.about()
    if sheet is not None and sheet.file:
        frame.attrs["source"] = sheet.file
    frame.attrs["problems"] = screened["problems"]
    frame.attrs["unknown_columns"] = [list(pair) for pair in screened["unknown_columns"]]
    return frame


def text_column(texts: TextColumn | list[str]) -> Any:
    """A column of text of the results, in the storage that pandas has for it."""
    if isinstance(texts, list):
        return pd.array(texts, dtype="string")
    if pd.StringDtype().storage == "pyarrow":
        from .sources import arrow_text

        return pd.array(arrow_text(*texts.arrow()), dtype="string")
    return pd.array(texts.objects(), dtype="string", copy=False)


def kept_column(sheet: Any, name: str) -> Any:
    """A column of the sheet with the values as they were stored."""
    if name not in sheet.own:  # one of the household sheet's own columns: what was written
        return pd.array(sheet.column(name), dtype="string")
    values = sheet.own[name]
    if not isinstance(values, list):
        return values.copy()
    kinds = {type(value) for value in values if value is not None}
    if kinds <= {bool}:
        return pd.array(values, dtype="boolean" if kinds else "string")
    if kinds == {int} and all(value is None or is_id_number(value) for value in values):
        return pd.array(values, dtype="Int64")
    if kinds <= {int, float}:
        return pd.array([pd.NA if value is None else float(value) for value in values], dtype="Float64")
    if kinds <= {datetime.datetime}:
        try:
            return pd.to_datetime(pd.Series(values, dtype=object)).array
        except (ValueError, OverflowError):  # a year that pandas does not hold
            pass
    return pd.array([text_of(value) for value in values], dtype="string")


def incentive_amounts(text: Any) -> dict[str, float]:
    """What each incentive pays, by its id, from a cell of the column incentives_applied; empty for an empty cell.

    The id of a what-if is followed by WHAT_IF, as in the cell.
    """
    if not isinstance(text, str):
        return {}
    found = re.findall(r"(.+?): \$([\d,]+\.\d\d)(?: \([^()]*\))*(?:; |$)", text)
    return {name: float(usd.replace(",", "")) for name, usd in found}


def problem_frame(screened: dict[str, Any]) -> pd.DataFrame:
    """Problems as a frame, one a row."""
    rows = [{**problem, "column": problem["key"]} for problem in screened["problems"]]
    frame = pd.DataFrame(rows, columns=PROBLEM_COLUMNS)
    for name in ("row", "file_row"):
        frame[name] = frame[name].astype("Int64")
    for name in PROBLEM_COLUMNS[1:-1]:
        frame[name] = frame[name].astype("string")
    frame.attrs["unknown_columns"] = [list(pair) for pair in screened["unknown_columns"]]
    return frame
