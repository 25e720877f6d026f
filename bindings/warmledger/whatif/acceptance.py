"""The payback-acceptance curve: what share of households would buy at a given simple payback. It is data."""

from __future__ import annotations

import math
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from ..catalog import Catalog, PathLike
from ..errors import Contradiction, Error, FileUnreadable, MalformedText, MissingValue, ValueOutOfRange, error
from ..sheet import read, text_of

if TYPE_CHECKING:
    import pandas as pd

FILE = "acceptance.csv"
YEARS, SHARE = "payback_years", "share_of_households_that_accept"
MOST = {YEARS: 200.0, SHARE: 1.0}


def acceptance_curve(source: pd.DataFrame | PathLike | None = None, catalog: Catalog | None = None) -> pd.DataFrame:
    """A payback-acceptance curve, checked: a frame with payback_years and share_of_households_that_accept.

    source   a frame or a .csv or .xlsx file with those two columns (others stay as they are); None: acceptance.csv of
             the data folder, or of the folder that overrides it
    catalog  whose data folder; None: the package's own

    Two points or more. Years rise from row to row, 0 to 200; shares are 0 to 1 (0.5 is 50 %) and never rise. Between
    points the share runs in a straight line, before the first and after the last it stays. Raises MissingValue,
    MalformedText, ValueOutOfRange, Contradiction (with file, row, column), FileUnreadable.
    """
    import pandas as pd

    if source is None:
        held = catalog or Catalog()
        folders = [held.override, held.data] if held.override else [held.data]
        source = next((Path(folder, FILE) for folder in folders if Path(folder, FILE).is_file()), Path(held.data, FILE))
    file = "" if isinstance(source, pd.DataFrame) else os.fspath(source)
    if file and not os.path.isfile(file):
        raise error(FileUnreadable, "cannot be read (no such file)", allowed="a file with a curve", file=file)
    table = read(source)
    columns: dict[str, Any] = {}
    for name in (YEARS, SHARE):
        cells = table.column(name)
        if cells is None:
            raise error(MissingValue, "is missing", allowed=f"columns {YEARS} and {SHARE}", file=file, key=name)
        values: list[float] = []
        for row, cell in enumerate(cells, start=1):
            where: dict[str, Any] = {"file": file, "row": row, "key": name, "value": text_of(cell) or ""}
            try:
                value = float(cell or "")
            except ValueError:
                kind: type[Error] = MalformedText if cell else MissingValue
                what = "is no number" if cell else "is missing"
                raise error(kind, what, allowed=f"a number, 0 to {MOST[name]:g}", **where) from None
            if not 0 <= value <= MOST[name] or not math.isfinite(value):
                raise error(ValueOutOfRange, "is out of range", allowed=f"0 to {MOST[name]:g}", **where)
            if values and (value <= values[-1] if name == YEARS else value > values[-1]):
                what = "does not rise" if name == YEARS else "rises"
                allowed = "more years than in the row before" if name == YEARS else "no more than in the row before"
                raise error(Contradiction, what, allowed=allowed, **where)
            values.append(value)
        columns[name] = values
    if len(columns[YEARS]) < 2:
        raise error(MissingValue, "has too few points", allowed="two points or more", file=file, key=YEARS)
    frame = pd.DataFrame(columns)
    for name in ("source", "status"):
        cells = table.column(name)
        if cells is not None:
            frame[name] = pd.array(cells, dtype="string")
    frame.attrs["file"] = file
    return frame


def accepting_share(curve: pd.DataFrame, payback_years: Any) -> np.ndarray[Any, Any]:
    """Share of households that accept each payback, in years; 0 where there is none (not recovered in the study)."""
    import pandas as pd

    years = pd.array(payback_years, dtype="Float64").to_numpy(dtype=float, na_value=float("nan"))
    share = np.interp(years, curve[YEARS].to_numpy(dtype=float), curve[SHARE].to_numpy(dtype=float))
    return np.where(np.isnan(years), 0.0, share)
