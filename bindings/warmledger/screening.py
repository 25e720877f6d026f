"""Whole sheets: `screen` and `check`."""

from __future__ import annotations

import contextlib
import logging
import sys
import warnings
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from . import _core
from .catalog import PathLike, Program, as_program
from .errors import UnknownColumnWarning, ValueOutOfRange, error
from .sheet import Sheet, read

if TYPE_CHECKING:
    import pandas as pd

Progress = Callable[[int, int], None]

log = logging.getLogger("warmledger")


def screen(
    sheet: Any,
    program: Program | PathLike,
    *,
    detail: str = "hourly",
    threads: int | None = None,
    progress: bool | Progress = True,
) -> pd.DataFrame:
    """Appraises every household of a sheet.

    sheet     a pandas frame, a path (.csv, .xlsx), or a file object with CSV
    program   a Program, or the path of a program file
    detail    "hourly" (simulation in steps of 15 minutes) or "monthly" (the X-Y correlation, faster)
    threads   None: one for each core. The result does not depend on it
    progress  True: a bar on a terminal or in a notebook; False: none; or a function of (rows done, rows in all)

    Returns one row for each row of the sheet, in its order, with the index of the frame; rows of a file are counted
    from 1, as in problems. The columns are those of `result_columns()`: text as "string", numbers as "Float64", yes or
    no as "boolean"; what has no value is pandas.NA.
    A row that could not be appraised has the decision "bad row". `frame.attrs["problems"]` lists every problem as a
    dict (row, key, value, what, allowed, sentence), `attrs["unknown_columns"]` the columns that were not used (name,
    nearest known name), for which an UnknownColumnWarning is given too.
    """
    table = read(sheet)
    screened = run(table, as_program(program), detail=detail, threads=threads, progress=progress)
    for message in unknown_column_messages(screened, table.file):
        warnings.warn(message, UnknownColumnWarning, stacklevel=2)
    from .frames import result_frame

    return result_frame(screened, table.index)


def check(sheet: Any, program: Program | PathLike | None = None) -> pd.DataFrame:
    """Every problem of a sheet, one a row: row, column, value, what, allowed, sentence. Empty if all is well.

    Without a program only the cells are checked; with one also what depends on it (places, packages). Columns that
    would not be used stand in attrs["unknown_columns"].
    """
    table = read(sheet)
    from .frames import problem_frame

    if program is not None:
        return problem_frame(run(table, as_program(program), progress=False))
    return problem_frame(_core.screening.check(table.header, table.columns, table.file, table.ragged))


def run(
    table: Sheet,
    program: Program,
    *,
    detail: str = "hourly",
    threads: int | None = None,
    progress: bool | Progress = True,
) -> dict[str, Any]:
    """What the library returns for a sheet."""
    if threads is not None and not 1 <= threads <= 1024:
        raise error(ValueOutOfRange, "is out of range", value=str(threads), allowed="1 to 1024 threads", key="threads")
    with _meter(table.row_count, progress) as report:
        screened = _core.screening.screen(
            program.appraiser, table.header, table.columns, table.file, detail, threads or 0, report, table.ragged
        )
    log.info("%d rows screened, %d bad", table.row_count, screened["bad_rows"])
    return screened


def unknown_column_messages(screened: dict[str, Any], file: str) -> list[str]:
    place = f"{file}, " if file else ""
    return [
        f"{place}column {name!r} is not known and was not used" + (f" (did you mean {nearest}?)" if nearest else "")
        for name, nearest in screened["unknown_columns"]
    ]


def result_columns() -> list[dict[str, Any]]:
    """The columns of a result: name, kind, unit, decimals, meaning."""
    return _core.screening.result_columns()


@contextlib.contextmanager
def _meter(total: int, progress: bool | Progress) -> Iterator[Callable[[int], None] | None]:
    """A function of the rows done, or None."""
    if callable(progress):
        told = progress

        def tell(done: int) -> None:
            told(done, total)

        yield tell
        return
    notebook = "ipykernel" in sys.modules
    if not progress or not (notebook or (sys.stderr is not None and sys.stderr.isatty())):
        yield None
        return
    try:
        from tqdm.auto import tqdm
    except ImportError:
        yield None
        return
    with tqdm(total=total, unit=" households", unit_scale=True, leave=False) as bar:

        def report(done: int) -> None:
            bar.update(done - bar.n)

        yield report
