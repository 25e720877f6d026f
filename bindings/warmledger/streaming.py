"""Sheets of any length: `screen_batches` for Arrow record batches, `screen_file` from file to file with checkpoints."""

from __future__ import annotations

import os
import warnings
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from . import _core
from .catalog import PathLike, Program, as_program
from .errors import Contradiction, NotAvailable, UnknownColumnWarning, UnknownName, ValueOutOfRange, error
from .screening import log, placed, result_columns, unknown_column_messages
from .sources import ArrowSource, arrow, arrow_text, batches, ending_of, identity_of, open_source, own_columns

if TYPE_CHECKING:
    import pyarrow as pa

    from ._core.streaming import Batch, Stream
    from .screening import Progress
    from .sources import Source

BATCH_ROWS = 20_000
MOST_BATCH_ROWS = 1_000_000
OUT_ENDINGS = (".csv", ".parquet")


@dataclass
class FileSummary:
    """What `screen_file` did. Rows and counts are those of the whole sheet, also where a run was resumed."""

    out: str
    rows: int = 0
    bad_rows: int = 0
    decisions: dict[str, int] = field(default_factory=dict)  #: how often each decision was made
    problems: str | None = None  #: the file of problems; None where no row was bad
    unknown_columns: list[list[str]] = field(default_factory=list)  #: [name, nearest known name]
    resumed_rows: int = 0  #: rows that an earlier, broken run had done


def screen_file(
    source: PathLike,
    program: Program | PathLike,
    out: PathLike,
    *,
    detail: str = "hourly",
    threads: int | None = None,
    batch_rows: int = BATCH_ROWS,
    resume: bool = False,
    overwrite: bool = False,
    keep: bool | str | Iterable[str] = False,
    progress: bool | Progress = True,
) -> FileSummary:
    """Appraises every household of a file into another file, part by part, in memory that does not grow with the sheet.

    source      .csv, .csv.gz, .parquet, .arrow or .feather; only CSV without pyarrow
    program     a Program without pools (who is funded from a pool depends on the whole sheet: `screen`), or its path
    out         .csv or .parquet: what `save_results(screen(source, program), out)` would write
    detail      "hourly" or "monthly", as for `screen`
    threads     None: one for each core
    batch_rows  households taken at a time, 1 to 1,000,000: a checkpoint is made after each batch, and households of a
                batch that share weather are simulated side by side. Memory goes with it, some 15 kB a household. The
                results do not depend on it
    resume      go on with a run that was broken off, also by a kill or a power cut, with the same arguments. Refused if
                program, catalogue, source or options have changed. Without a broken run it starts at the beginning
    overwrite   replace results, or the beginnings of a broken run, that stand there
    keep        as for `screen`
    progress    True: a bar with rate and time left on a terminal (where tqdm is installed), else a line now and then on
                standard error; False: none; or a function of (rows done, rows expected in all or None)

    While it runs, the results grow in OUT.unfinished, with OUT.unfinished.json as its checkpoint; both go when all is
    done. Problems are written to OUT.problems.csv, one a line, with the row they stand in; without problems there is no
    such file. Raises what `screen` raises, and NotAvailable, Contradiction or FileUnreadable with what to do.
    """
    from .checkpoints import Run

    program = as_program(program)
    name, target = os.fspath(source), os.fspath(out)
    check_threads(threads)
    if not 1 <= batch_rows <= MOST_BATCH_ROWS:
        allowed = f"1 to {MOST_BATCH_ROWS} rows"
        raise error(ValueOutOfRange, "is out of range", value=str(batch_rows), allowed=allowed, key="batch_rows")
    ending = ending_of(target, OUT_ENDINGS)
    if not ending:
        raise error(
            NotAvailable,
            "is a kind of file that is not written part by part",
            value=os.path.splitext(target)[1],
            allowed=", ".join(OUT_ENDINGS),
            file=target,
        )
    sheet = open_source(name)
    try:
        kept = kept_names(sheet, keep)
        stream = stream_of(sheet, program, detail, threads, kept)
        told = [list(pair) for pair in stream.unknown_columns]
        summary = FileSummary(target, unknown_columns=told)
        for message in unknown_column_messages({"unknown_columns": told}, name, kept):
            warnings.warn(message, UnknownColumnWarning, stacklevel=2)
        settings = {"detail": detail, "batch_rows": batch_rows, "keep": kept}
        schema = result_schema(sheet, kept) if ending == ".parquet" else None
        run = Run(target, identity_of(name), program, settings, schema)
        with run.opened(resume=resume, overwrite=overwrite):
            summary.resumed_rows = run.rows
            sheet.skip(stream, run.rows)
            from .meter import meter

            with meter(progress, sheet.rows_expected, already=run.rows) as tell:
                while (batch := sheet.screen(stream, batch_rows, _after(tell, run.rows))) is not None:
                    problems = placed({"problems": batch.problems}, sheet)["problems"]
                    if schema is not None:
                        run.append_arrow(record_batch(batch, sheet, kept, schema))
                    else:
                        run.append_bytes(batch.csv() if run.rows else _core.streaming.csv_header(kept) + batch.csv())
                    run.checkpoint(problems, batch.rows, batch.bad_rows, batch.decisions)
                    log.debug("%s: %d rows done", name, run.rows)
            run.finish()
        summary.rows, summary.bad_rows, summary.decisions = run.rows, run.bad_rows, dict(run.decisions)
        summary.problems = run.problems_path if run.bad_rows else None
        return summary
    finally:
        sheet.close()


def _after(tell: Callable[[int], Any] | None, before: int) -> Callable[[int], Any] | None:
    """Progress of a batch as progress of the sheet."""
    if tell is None:
        return None
    told = tell
    return lambda done: told(before + done)


def screen_batches(
    source: Any,
    program: Program | PathLike,
    *,
    detail: str = "hourly",
    threads: int | None = None,
    keep: bool | str | Iterable[str] = False,
    file: str = "",
    on_problems: Callable[[list[dict[str, Any]]], Any] | None = None,
) -> Iterator[pa.RecordBatch]:
    """Appraises a household sheet that comes as Arrow record batches; columns in, columns out.

    source       a pyarrow Table, RecordBatchReader, RecordBatch or iterable of record batches of one schema, with the
                 columns of a household sheet as text or numbers
    file         how the sheet is called in problems
    on_problems  is called with the problems of each batch that has some, as `screen` lists them in attrs["problems"]
    The rest as for `screen_file`.

    Yields a record batch of results for each that comes, row for row, with the schema that `result_schema` gives. The
    first batch is worked out when it is asked for. Larger batches are faster: households of a batch that share weather
    are simulated side by side. Identifiers are compared over all batches. Needs pyarrow.
    """
    arrow()
    check_threads(threads)
    program = as_program(program)
    sheet = ArrowSource(batches(source), file)
    kept = kept_names(sheet, keep)
    stream = stream_of(sheet, program, detail, threads, kept)
    unknown = {"unknown_columns": [list(pair) for pair in stream.unknown_columns]}
    for message in unknown_column_messages(unknown, file, kept):
        warnings.warn(message, UnknownColumnWarning, stacklevel=2)
    schema = result_schema(sheet, kept)

    def results() -> Iterator[pa.RecordBatch]:
        while (batch := sheet.screen_next(stream)) is not None:
            if on_problems is not None and batch.problems:
                on_problems(batch.problems)
            yield record_batch(batch, sheet, kept, schema)

    return results()


def check_threads(threads: int | None) -> None:
    if threads is not None and not 1 <= threads <= 1024:
        raise error(ValueOutOfRange, "is out of range", value=str(threads), allowed="1 to 1024 threads", key="threads")


def stream_of(sheet: Source, program: Program, detail: str, threads: int | None, kept: list[str]) -> Stream:
    """What screens a sheet batch after batch; refuses a header or a program that it cannot screen so."""
    names = [heading.strip() for heading in sheet.header]
    columns = [names.index(name) for name in kept]
    return _core.streaming.Stream(program.appraiser, names, sheet.file, detail, threads or 0, columns)


def kept_names(sheet: Source, keep: bool | str | Iterable[str]) -> list[str]:
    """Names of the columns of a sheet to keep; raises for one that is not there or that the result has itself."""
    results = {column["name"] for column in result_columns()}
    if isinstance(keep, bool):
        return [name for name in own_columns(sheet.header) if name not in results] if keep else []
    header = [name.strip() for name in sheet.header]
    names = [keep] if isinstance(keep, str) else list(dict.fromkeys(keep))
    for name in names:
        if name not in header:
            allowed = ", ".join(header[:40])
            what = "is no column of the sheet"
            raise error(UnknownName, what, value=str(name), allowed=allowed, file=sheet.file, key="keep")
        if name in results:
            what, allowed = "is a column of the results themselves", "other columns, or this one under another name"
            raise error(Contradiction, what, value=name, allowed=allowed, file=sheet.file, key="keep")
    return names


def result_schema(sheet: Source | None = None, kept: Iterable[str] = ()) -> pa.Schema:
    """The Arrow schema of results: text as string, numbers as double, yes or no as bool; kept columns as the sheet has
    them. Files of it are read back by pandas with the types of `screen`. An identifier is a whole number where the
    sheet has whole numbers."""
    pa = arrow()
    import pandas as pd

    types = {"text": pa.string(), "number": pa.float64(), "whole number": pa.int64(), "yes or no": pa.bool_()}
    dtypes = {"text": "string", "number": "Float64", "whole number": "Int64", "yes or no": "boolean"}
    fields = {column["name"]: types[column["kind"]] for column in result_columns()}
    empty: dict[str, Any] = {column["name"]: pd.Series([], dtype=dtypes[column["kind"]]) for column in result_columns()}
    known = set() if sheet is None else {heading.strip() for heading in sheet.header} - set(own_columns(sheet.header))
    stored = {} if sheet is None else sheet.fields
    if "household_id" in stored and pa.types.is_integer(stored["household_id"].type):
        fields["household_id"] = stored["household_id"].type
        empty["household_id"] = pd.Series([], dtype=pd.api.types.pandas_dtype(str(fields["household_id"])))
    for name in kept:
        fields[name] = pa.string() if name in known or name not in stored else stored[name].type
        if fields[name] == pa.string():
            empty[name] = pd.Series([], dtype="string")
        else:
            empty[name] = pa.array([], fields[name]).to_pandas()
    described = pa.Schema.from_pandas(pd.DataFrame(empty), preserve_index=False)
    return pa.schema(list(fields.items()), metadata=described.metadata)


def record_batch(batch: Batch, sheet: Source | None, kept: list[str], schema: pa.Schema) -> pa.RecordBatch:
    """The results of a batch as Arrow holds them, without an object for a cell."""
    pa = arrow()
    import numpy as np

    columns = []
    for index, spec in enumerate(result_columns()):
        stored = sheet.stored("household_id") if sheet is not None and spec["name"] == "household_id" else None
        if stored is not None and pa.types.is_integer(stored.type):
            columns.append(stored)
        elif spec["kind"] == "text":
            columns.append(arrow_text(*batch.text(index)))
        else:
            values = batch.numbers(index)
            none = ~np.isfinite(values)
            kind = schema.field(index).type
            if kind != pa.float64():
                values = np.where(none, 0, values).astype("bool" if pa.types.is_boolean(kind) else "int64")
            columns.append(pa.array(values, kind, mask=none))
    for index, name in enumerate(kept):
        stored = None if sheet is None else sheet.stored(name)
        if stored is None or schema.field(name).type != stored.type:
            columns.append(arrow_text(*batch.kept_text(index)))
        else:
            columns.append(stored)
    return pa.RecordBatch.from_arrays(columns, schema=schema)
