"""More than one machine: `screen` on a Dask frame, and `screen_batch`, a function of a record batch for any engine."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from .catalog import PathLike, Program, as_program
from .errors import MalformedText, NotAvailable, error

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa

__all__ = ["screen", "screen_batch", "screen_batches", "screen_partition"]


def screen(
    frame: Any,
    program: Program | PathLike,
    *,
    detail: str = "hourly",
    threads: int = 1,
    keep: bool | str | Iterable[str] = False,
) -> Any:
    """Appraises a household sheet that is a Dask frame, wherever its partitions lie.

    frame    a dask.dataframe with the columns of a household sheet
    program  a Program without pools, or the path of a program file; it is sent to the workers with its text, while the
             catalogue is read where they run, from the same folders
    detail   "hourly" or "monthly", as for `warmledger.screen`
    threads  that one partition takes on a worker, 1 or more: 1 where workers have as many threads as cores
    keep     as for `warmledger.screen`

    Returns a Dask frame, partition for partition and row for row, with the index, columns and types of what
    `warmledger.screen` returns: nothing is computed before it is asked for. A partition is worked out by a function of
    its rows and the program alone, so that a worker that dies costs its partitions' time and nothing else: Dask works
    them out again elsewhere, to the same bytes.

    A row that cannot be appraised is the decision "bad row" with its problems in `reason`. Identifiers are compared
    within a partition only: no partition sees another. Rows of one place belong in one partition, because they share
    weather (frame.shuffle("place")). Raises NotAvailable without Dask or for a program with pools, and what
    `warmledger.screen` raises for columns that are missing, before any work is sent out.
    """
    try:
        import dask.dataframe as dd
    except ImportError:
        raise error(
            NotAvailable, "cannot run without the Python package dask", allowed="dask[dataframe]", key="cluster"
        ) from None
    if not isinstance(frame, dd.DataFrame):
        allowed = "a dask.dataframe.DataFrame; warmledger.screen takes pandas frames and files"
        raise error(MalformedText, "is no Dask frame", value=type(frame).__name__, allowed=allowed, key="frame")
    program = _for_parts(program)
    settings: dict[str, Any] = {"detail": detail, "threads": threads, "keep": _kept(frame._meta, keep)}
    meta = screen_partition(frame._meta, program, **settings)
    return frame.map_partitions(screen_partition, program, meta=meta, **settings)


def screen_partition(
    rows: pd.DataFrame,
    program: Program | PathLike,
    *,
    detail: str = "hourly",
    threads: int = 1,
    keep: bool | str | Iterable[str] = False,
) -> pd.DataFrame:
    """Appraises one part of a sheet as a pandas frame, what `screen` does with a partition. A part without rows gives a
    frame without rows, of the same columns and types."""
    import warnings

    from .errors import UnknownColumnWarning
    from .screening import screen as screen_whole

    program = _for_parts(program)
    if len(rows):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UnknownColumnWarning)  # once a partition would be too often
            found = screen_whole(rows, program, detail=detail, threads=threads, progress=False, keep=keep)
    else:
        found = _without_rows(rows, program, detail, _kept(rows, keep))
    found.attrs.clear()  # an engine that joins partitions compares or drops them
    return found


def screen_batch(
    batch: pa.RecordBatch,
    program: Program | PathLike,
    *,
    detail: str = "hourly",
    threads: int = 1,
    keep: bool | str | Iterable[str] = False,
) -> pa.RecordBatch:
    """Appraises one record batch of a sheet: the body of any engine's map over batches. Also takes and returns a
    pyarrow Table.

    The result has a row for each row, in order, and always the schema of `result_schema(batch.schema)`, also where the
    batch has no rows. It depends on the rows and the program alone. Identifiers are compared within the batch only.
    """
    from .sources import arrow, one_batch

    pa = arrow()
    table = isinstance(batch, pa.Table)
    one = one_batch(batch.combine_chunks()) if table else batch
    found = list(screen_batches([one], program, detail=detail, threads=threads, keep=keep))[0]  # noqa: RUF015
    return pa.Table.from_batches([found]) if table else found


def screen_batches(
    batches: Iterable[pa.RecordBatch],
    program: Program | PathLike,
    *,
    detail: str = "hourly",
    threads: int = 1,
    keep: bool | str | Iterable[str] = False,
) -> Iterator[pa.RecordBatch]:
    """Appraises record batches, each by itself: an iterator in, an iterator out, as some engines want it. A batch's
    result is the same whatever other batches come."""
    import warnings

    from . import streaming
    from .errors import UnknownColumnWarning

    program = _for_parts(program)
    for batch in batches:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UnknownColumnWarning)
            yield from streaming.screen_batches([batch], program, detail=detail, threads=threads, keep=keep)


def result_schema(schema: pa.Schema, *, keep: bool | str | Iterable[str] = False) -> pa.Schema:
    """The schema of `screen_batch` for batches of a schema."""
    from . import streaming
    from .sources import ArrowSource

    sheet = ArrowSource((schema, iter(()), 0))
    return streaming.result_schema(sheet, streaming.kept_names(sheet, keep))


def _for_parts(program: Program | PathLike) -> Program:
    """A program that can be applied to a part of a sheet."""
    program = as_program(program)
    pools = program.core.pools
    if pools:
        raise error(
            NotAvailable,
            "cannot be spent on a sheet that is screened part by part: who is funded depends on every household",
            value=pools[0],
            allowed="screening the whole sheet at once, or a program without pools",
            file=program.file,
            key="pool",
        )
    return program


def _kept(rows: pd.DataFrame, keep: bool | str | Iterable[str]) -> list[str]:
    from .screening import kept_columns
    from .sheet import from_frame

    return kept_columns(from_frame(rows.iloc[:0]), keep)


def _without_rows(rows: pd.DataFrame, program: Program, detail: str, kept: list[str]) -> pd.DataFrame:
    """The results of no rows, after the checks that rows would have met."""
    from .frames import result_frame
    from .screening import run
    from .sheet import from_frame

    sheet = from_frame(rows)
    return result_frame(run(sheet, program, detail=detail, progress=False), sheet, None, kept)
