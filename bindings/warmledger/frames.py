"""pandas frames of results."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from . import _core

PROBLEM_COLUMNS = ["row", "column", "value", "what", "allowed", "sentence"]


def result_frame(screened: dict[str, Any], index: Any = None) -> pd.DataFrame:
    """The frame of a screened sheet; see `screen`."""
    columns = {}
    for spec in _core.screening.result_columns():
        values = screened["columns"][spec["name"]]
        if spec["kind"] == "text":
            text = np.array(values, dtype=object)
            text[text == ""] = pd.NA
            columns[spec["name"]] = pd.array(text, dtype="string")
        else:
            # Infinite numbers never leave the library; if one did, it would have no value here either.
            none = ~np.isfinite(values)
            if spec["kind"] == "yes or no":
                columns[spec["name"]] = pd.arrays.BooleanArray(np.where(none, 0, values).astype(bool), none)
            elif spec["kind"] == "whole number":
                columns[spec["name"]] = pd.arrays.IntegerArray(np.where(none, 0, values).astype(np.int64), none)
            else:
                columns[spec["name"]] = pd.arrays.FloatingArray(np.where(none, 0.0, values), none)
    if index is None:
        index = pd.RangeIndex(1, len(next(iter(columns.values()))) + 1, name="row")
    frame = pd.DataFrame(columns, index=index)
    frame.attrs["problems"] = screened["problems"]
    frame.attrs["unknown_columns"] = [list(pair) for pair in screened["unknown_columns"]]
    return frame


def problem_frame(screened: dict[str, Any]) -> pd.DataFrame:
    """Problems as a frame, one a row."""
    rows = [{**problem, "column": problem["key"]} for problem in screened["problems"]]
    frame = pd.DataFrame(rows, columns=PROBLEM_COLUMNS)
    frame["row"] = frame["row"].astype("Int64")
    for name in PROBLEM_COLUMNS[1:]:
        frame[name] = frame[name].astype("string")
    frame.attrs["unknown_columns"] = [list(pair) for pair in screened["unknown_columns"]]
    return frame
