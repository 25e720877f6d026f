"""Result files: checked before the work starts, written under a temporary name, moved in place when all is written."""

from __future__ import annotations

import contextlib
import csv
import os
import secrets
import signal
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .errors import Contradiction, DuplicateName, FileUnreadable, MalformedText, NotAvailable, error

if TYPE_CHECKING:
    import pandas as pd

    from .catalog import Program

ENDINGS = (".csv", ".xlsx", ".parquet")
LARGEST_WORKBOOK_ROWS = 1_048_575  # rows of a worksheet less the header


@dataclass
class Output:
    """A file to be written; `temporary` stands in the same folder until it is moved in place."""

    path: str
    ending: str
    temporary: str


def ending_of(path: str, endings: Iterable[str] = ENDINGS) -> str:
    ending = os.path.splitext(path)[1].lower()
    if ending not in endings:
        raise error(
            NotAvailable, "is a kind of file that is not written", value=ending, allowed=", ".join(endings), file=path
        )
    if ending == ".parquet":
        try:
            import pyarrow  # noqa: F401
        except ImportError:
            raise error(
                NotAvailable,
                "cannot be written without the Python package pyarrow",
                allowed=".csv or .xlsx, or pyarrow",
                file=path,
            ) from None
    if ending == ".xlsx":
        try:
            import xlsxwriter  # noqa: F401
        except ImportError:
            raise error(
                NotAvailable,
                "cannot be written without the Python package XlsxWriter",
                allowed=".csv, or XlsxWriter",
                file=path,
            ) from None
    return ending


@contextlib.contextmanager
def outputs(
    paths: Iterable[str], *, force: bool, inputs: Iterable[str] = (), endings: Iterable[str] = ENDINGS
) -> Iterator[list[Output]]:
    """Opens the way for result files. Raises before any work if one of them could not be written.

    When the body ends without an error, every temporary file is moved in place; otherwise all are removed and what
    stood there before is untouched.
    """
    made: list[Output] = []
    try:
        for path in paths:
            made.append(_prepared(path, force=force, inputs=inputs, endings=endings, made=made))
        yield made
        with _uninterrupted():  # all of them or none
            for output in made:
                if not force and os.path.lexists(output.path):
                    raise _exists(output.path)
            for output in made:
                os.replace(output.temporary, output.path)
    finally:
        for output in made:
            with contextlib.suppress(FileNotFoundError):
                os.unlink(output.temporary)


@contextlib.contextmanager
def _uninterrupted() -> Iterator[None]:
    """Keeps Ctrl-C and the like waiting for a moment."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    old = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, old)


def _exists(path: str) -> Exception:
    return error(Contradiction, "stands there already", allowed="a new name, or --force to replace it", file=path)


def _prepared(path: str, *, force: bool, inputs: Iterable[str], endings: Iterable[str], made: list[Output]) -> Output:
    ending = ending_of(path, endings)
    folder = os.path.dirname(path) or "."
    if not os.path.isdir(folder):
        raise error(
            FileUnreadable, "cannot be written, its folder does not exist", allowed="a folder that exists", file=path
        )
    if os.path.isdir(path):
        raise error(FileUnreadable, "is a folder", allowed="the name of a file", file=path)
    for other in inputs:
        if os.path.exists(path) and os.path.exists(other) and os.path.samefile(path, other):
            raise error(Contradiction, "is an input of this run", allowed="another name", file=path)
    if any(os.path.abspath(path) == os.path.abspath(other.path) for other in made):
        raise error(DuplicateName, "is named twice", allowed="each output once", file=path)
    if not force and os.path.lexists(path):
        raise _exists(path)
    # Creating the temporary file is the one sure test that the folder can be written to.
    temporary = os.path.join(folder, f".{os.path.basename(path)[:100]}.{secrets.token_hex(6)}.part{ending}")
    try:
        os.close(os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
    except OSError as failure:
        raise error(
            FileUnreadable, f"cannot be written ({failure.strerror})", allowed="a folder you may write to", file=path
        ) from None
    return Output(path, ending, temporary)


def save_results(
    results: pd.DataFrame,
    path: str | os.PathLike[str],
    *,
    program: Program | None = None,
    overwrite: bool = True,
) -> None:
    """Write a frame of results, or a part of one, as .xlsx, .csv or .parquet.

    results    a frame that `screen` returned, rows and columns of one, or any other frame of results
    path       the ending decides the kind; the file is written under another name and moved in place when it is whole
    program    for the assumptions of the workbook; None: what the frame says of its program itself
    overwrite  False: raise Contradiction when a file stands there

    The workbook has a summary with charts, a sheet of problems, the assumptions with their sources, and an explanation
    of every column; text of the input stays text. CSV is UTF-8 and holds every digit. An index with a name of its own
    becomes the first column. Raises NotAvailable for another ending or a missing package (XlsxWriter, pyarrow),
    FileUnreadable if the file cannot be written.
    """
    if not (hasattr(results, "columns") and hasattr(results, "iloc")):
        raise error(
            MalformedText,
            "is no frame of results",
            value=type(results).__name__,
            allowed="a frame that screen() returned, or a part of one",
            key="results",
        )
    with outputs([os.fspath(path)], force=overwrite) as (output,):
        write_results(output, results, program)


def write_results(output: Output, frame: pd.DataFrame, program: Program | None = None, source: str = "") -> None:
    """Writes a frame in the form the ending asks for."""
    frame = with_named_index(frame)
    try:
        if output.ending == ".csv":
            write_csv(output.temporary, frame)
        elif output.ending == ".xlsx":
            from .workbook import write_workbook

            write_workbook(output.temporary, frame, program, source=source)
        else:
            frame.to_parquet(output.temporary, engine="pyarrow", index=False)
    except OSError as failure:
        raise error(
            FileUnreadable,
            f"cannot be written ({failure.strerror or failure})",
            allowed="enough room on the disk",
            file=output.path,
        ) from None


def with_named_index(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with its index as first columns, if it has names of its own; "row" only counts."""
    names = [name for name in frame.index.names if name is not None]
    if not names or names == ["row"] or set(names) & set(frame.columns):
        return frame
    return frame.reset_index()


def write_csv(target: Any, frame: pd.DataFrame) -> None:
    """CSV in UTF-8 with one header line; an empty cell is no value. Text stands exactly as in the input, also when a
    spreadsheet program would take it for a formula: open the workbook there instead, which holds it as text."""
    frame.to_csv(target, index=False, encoding="utf-8", lineterminator="\n", quoting=_quoting(frame))


def _quoting(frame: pd.DataFrame) -> int:
    """Quotes where needed; around all text if some holds a bare carriage return, which the writer does not quote."""
    for _, column in frame.items():
        if column.dtype.kind == "O" and any("\r" in value for value in column.array if isinstance(value, str)):
            return csv.QUOTE_NONNUMERIC
    return csv.QUOTE_MINIMAL


def write_csv_to_stdout(frame: pd.DataFrame) -> None:
    sys.stdout.flush()
    rest = memoryview(frame.to_csv(index=False, lineterminator="\n", quoting=_quoting(frame)).encode("utf-8"))
    while rest:  # under PYTHONUNBUFFERED a write to a pipe may take only a part
        rest = rest[sys.stdout.buffer.write(rest) :]
    sys.stdout.buffer.flush()
