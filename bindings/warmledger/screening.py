"""Whole sheets: `screen` and `check`."""

from __future__ import annotations

import contextlib
import logging
import sys
import warnings
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any

from . import _core
from .catalog import PathLike, Program, as_program
from .errors import Contradiction, MissingValue, UnknownColumnWarning, UnknownName, ValueOutOfRange, error
from .sheet import Sheet, read

if TYPE_CHECKING:
    import pandas as pd

    from .sources import Source

Progress = Callable[[int, int], None]

# Silent unless the caller sets logging up: logging.basicConfig(level=logging.INFO).
log = logging.getLogger("warmledger")
log.addHandler(logging.NullHandler())


def screen(
    sheet: Any,
    program: Program | PathLike,
    *,
    detail: str = "hourly",
    threads: int | None = None,
    progress: bool | Progress = True,
    sheet_name: str | None = None,
    keep: bool | str | Iterable[str] = False,
) -> pd.DataFrame:
    """Appraises every household of a sheet.

    sheet     a pandas frame, a path (.csv, .xlsx), or a file object with CSV
    program   a Program, or the path of a program file
    detail    "hourly" (simulation in steps of 15 minutes) or "monthly" (the X-Y correlation, faster)
    threads   None: one for each core. The result does not depend on it
    progress  True: a bar on a terminal or in a notebook (where tqdm is installed); False: none; or a function of (rows
              done, rows in all). What it raises stops the run
    sheet_name  of a workbook; None: its first sheet
    keep      columns of the sheet that are added at the right of the result, with their values as they were: True for
              all that are no columns of a household sheet, or their names

    Returns one row for each row of the sheet, in its order, with the index of the frame; rows of a file are counted
    from 1, as in problems. The columns are those of `result_columns()`: text as "string", numbers as "Float64", yes or
    no as "boolean"; what has no value is pandas.NA. Identifiers that are whole numbers in the frame or workbook stay
    whole numbers.
    A row that could not be appraised has the decision "bad row". `frame.attrs["problems"]` lists every problem as a
    dict (row, file_row, key, value, what, allowed, sentence), `attrs["unknown_columns"]` the columns that were not used
    (name, nearest known name), for which an UnknownColumnWarning is given too unless they are kept. `attrs["program"]`
    says which program it was. `save_results` writes all of it to a file. Copies and pickles keep them.

    Raises an error of `warmledger.errors` where nothing can be screened: a sheet or program that cannot be read, a
    required column that is missing, `threads` or `detail` out of range. Ctrl-C stops it at once.
    """
    table = read(sheet, sheet_name=sheet_name)
    program = as_program(program)
    kept = kept_columns(table, keep)
    screened = run(table, program, detail=detail, threads=threads, progress=progress)
    for message in unknown_column_messages(screened, table.file, kept):
        warnings.warn(message, UnknownColumnWarning, stacklevel=2)
    from .frames import result_frame

    return result_frame(screened, table, program, kept)


def kept_columns(table: Sheet, keep: bool | str | Iterable[str]) -> list[str]:
    """Names of the columns of a sheet to keep; raises for one that is not there or that the result has itself."""
    if isinstance(keep, bool):
        results = {column["name"] for column in result_columns()}
        return [name for name in table.own if name not in results] if keep else []
    names = [keep] if isinstance(keep, str) else list(dict.fromkeys(keep))
    header = [name.strip() for name in table.header]
    for name in names:
        if name not in header:
            raise error(
                UnknownName,
                "is no column of the sheet",
                value=str(name),
                allowed=", ".join(header[:40]),
                file=table.file,
                key="keep",
            )
        if name in {column["name"] for column in result_columns()}:
            raise error(
                Contradiction,
                "is a column of the results themselves",
                value=name,
                allowed="other columns, or this one under another name",
                file=table.file,
                key="keep",
            )
    return names


def check(sheet: Any, program: Program | PathLike | None = None, *, sheet_name: str | None = None) -> pd.DataFrame:
    """Every problem that `screen` would find, one a row: row, column, value, what, allowed, sentence, file_row. Empty
    if all is well. Nothing is simulated.

    `row` counts the households from 1; `file_row` is the row of the file, as spreadsheet programs count.

    Without a program only the cells are checked; with one also what depends on it (places, packages). Columns that
    would not be used stand in attrs["unknown_columns"].
    """
    from .frames import problem_frame

    table = read(sheet, sheet_name=sheet_name)
    return problem_frame(find_problems(table, None if program is None else as_program(program)))


def find_problems(table: Sheet, program: Program | None) -> dict[str, Any]:
    """What the library finds in a sheet: problems, unknown_columns, bad_rows. Without a program, in its cells alone."""
    appraiser = None if program is None else program.appraiser
    return placed(_core.screening.check(table.header, table.columns, table.file, table.ragged, appraiser), table)


def placed(screened: dict[str, Any], table: Sheet | Source) -> dict[str, Any]:
    """The same with the rows of the file beside the data rows, where there is a file: as file_row and in sentences."""
    for problem in screened["problems"]:
        row = problem["row"]
        problem["file_row"] = None if row is None else table.file_row(row)
        if problem["file_row"] is None:
            continue
        before = f"row {row}"
        after = f"row {row} (row {problem['file_row']} of the file)"
        told = problem["sentence"]
        start = len(table.file) if told.startswith(table.file) else 0
        problem["sentence"] = told[:start] + told[start:].replace(before, after, 1)
    return screened


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
    log.debug("screening %s: %d rows, %s method", table.file or "a frame", table.row_count, detail)
    with _meter(table.row_count, progress) as report:
        screened = _core.screening.screen(
            program.appraiser, table.header, table.columns, table.file, detail, threads or 0, report, table.ragged
        )
    log.info("%s: %d rows screened, %d bad", table.file or "a frame", table.row_count, screened["bad_rows"])
    placed(screened, table)
    for problem in screened["problems"]:
        log.debug("%s", problem["sentence"])
    return screened


def unknown_column_messages(screened: dict[str, Any], file: str, kept: Iterable[str] = ()) -> list[str]:
    """What to say of columns that were not used; of kept ones only if they look like a known one misspelt."""
    kept = set(kept)
    place = f"{file}, " if file else ""
    return [
        f"{place}column {name!r} is not known and was not used" + (f" (did you mean {nearest}?)" if nearest else "")
        for name, nearest in screened["unknown_columns"]
        if nearest or name not in kept
    ]


def result_columns() -> list[dict[str, Any]]:
    """The columns of a result: name, kind, unit, decimals, meaning."""
    return _core.screening.result_columns()


def cost_tests(results: pd.DataFrame, *, fixed_administration_usd: float = 0.0, weights: Any = None) -> pd.DataFrame:
    """The five cost tests of a program, added up over a screened sheet.

    results                   what `screen` returned for a program file with [cost_tests], or the rows of it that would
                              take part, for example results[results["decision"] == "pays in cash"]
    fixed_administration_usd  cost of running the program whatever the number of households, 0 or more, on the install
                              date; it enters where wl.economics.cost_test_table() lets administration enter
    weights                   a number for each row, 0 or more, by which its benefits and costs count: for example the
                              share of such households that is expected to take part. Rows of weight 0 are left out as
                              if they were not there. None: every row counts once

    One row a test, by name: title, households (that have a result), without_result (that have none), benefits_usd,
    costs_usd, net_usd, ratio and reason. What has no value is pandas.NA, and reason says why. A household without a
    result, or a bad row, is left out of the sums, counted, and told in reason. Raises MissingValue for a frame without
    the columns, ValueOutOfRange for a cost below 0.
    """
    import pandas as pd

    if not 0 <= fixed_administration_usd <= 1e12:
        raise error(
            ValueOutOfRange,
            "is out of range",
            value=str(fixed_administration_usd),
            allowed="0 to 1e12 dollars",
            key="fixed_administration_usd",
        )
    count_of = None
    if weights is not None:
        import numpy as np

        count_of = np.asarray(weights, dtype=float)
        if count_of.shape != (len(results),) or not (np.isfinite(count_of) & (count_of >= 0)).all():
            raise error(
                ValueOutOfRange,
                "are no weights of these rows",
                value=repr(weights)[:80],
                allowed=f"{len(results)} numbers, 0 or more",
                key="weights",
            )
        results, count_of = results[count_of > 0], count_of[count_of > 0]
    table = {row["item"]: row for row in _core.economics.cost_test_table()}
    rows = []
    for test, title in _core.economics.cost_test_titles().items():
        names = (f"{test}_test_benefits_usd", f"{test}_test_costs_usd")
        for name in names:
            if name not in getattr(results, "columns", ()):
                raise error(MissingValue, "is missing", allowed="a frame that screen() returned", key=name)
        known = results[names[0]].notna() & results[names[1]].notna()
        count, without = int(known.sum()), int((~known).sum())
        row: dict[str, Any] = {"test": test, "title": title, "households": count, "without_result": without}
        reasons = []
        if count:
            amounts = [results.loc[known, name].astype(float) for name in names]
            if count_of is not None:
                amounts = [amount * count_of[known] for amount in amounts]
            benefits, costs = (float(amount.sum()) for amount in amounts)
            if table["administration"][test] == "cost":
                costs += fixed_administration_usd
            row |= {"benefits_usd": benefits, "costs_usd": costs, "net_usd": benefits - costs}
            if costs > 0:
                row["ratio"] = benefits / costs
            else:
                reasons.append("there are no costs to compare benefits with")
        elif not without:
            reasons.append("there are no households")
        if without:
            reasons.append(
                f"{without} of {count + without} households have no result and are left out, "
                f"the first because {_reason_of(results[~known], title)}"
            )
        if reasons:
            row["reason"] = "; ".join(reasons)
        rows.append(row)
    columns = ["title", "households", "without_result", "benefits_usd", "costs_usd", "net_usd", "ratio", "reason"]
    frame = pd.DataFrame(rows).set_index("test").reindex(columns=columns)
    for name in columns[3:7]:
        frame[name] = frame[name].astype("Float64")
    frame["reason"] = frame["reason"].astype("string")
    return frame


def _reason_of(without: pd.DataFrame, title: str) -> str:
    """Why the first of these households has no result of a test."""
    if without["decision"].iloc[0] == "bad row":
        return "its row is bad"
    for part in str(without["cost_tests_none"].iloc[0]).split("; "):
        if part.startswith(f"{title}: "):
            return part.removeprefix(f"{title}: ")
    return "the program file has no [cost_tests]"


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
        if notebook and _widgets_are_new():
            from tqdm.notebook import tqdm
        else:
            from tqdm import tqdm
    except ImportError:
        yield None
        return
    with tqdm(total=total, unit=" households", unit_scale=True, leave=False) as bar:

        def report(done: int) -> None:
            bar.update(done - bar.n)

        yield report


def _widgets_are_new() -> bool:
    """Whether tqdm can draw its bar by ipywidgets: it fails on those before 7 (Debian 12 has 6), where text does."""
    from importlib import metadata

    try:
        return int(metadata.version("ipywidgets").split(".")[0]) >= 7
    except (metadata.PackageNotFoundError, ValueError):
        return False


def _with_result_columns(text: str) -> str:
    """The docstring with what each result column is, so that help() needs no other page."""
    listed = "\n".join(
        f"    {column['name']:<34} {column['unit'] or column['kind']}: {column['meaning']}"
        for column in result_columns()
    )
    return f"{text.rstrip()}\n\n    The columns:\n\n{listed}\n    "


if screen.__doc__:  # python -OO takes docstrings away
    screen.__doc__ = _with_result_columns(screen.__doc__)
