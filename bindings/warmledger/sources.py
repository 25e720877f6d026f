"""Household sheets that are read a batch of rows at a time: CSV by its bytes, Arrow data by its columns."""

from __future__ import annotations

import gzip
import hashlib
import os
from collections.abc import Callable, Iterable, Iterator
from typing import IO, TYPE_CHECKING, Any, Protocol

from . import _core
from .errors import FileUnreadable, MalformedText, MissingValue, NotAvailable, error
from .sheet import HEADER_ROWS, check_beginning, checked_header, header_of, known_columns, text_of

if TYPE_CHECKING:
    import pyarrow as pa

    from ._core.streaming import ArrowText, Batch, Stream

ENDINGS = (".csv", ".csv.gz", ".parquet", ".arrow", ".feather")
READ_BYTES = 1 << 20
IDENTITY_BYTES = 1 << 16
NOT_INSTALLED = "cannot be read or written without the Python package pyarrow"

Progress = Callable[[int], Any] | None


class Source(Protocol):
    """A sheet that gives batches of rows to a Stream."""

    file: str
    header: list[str]
    fields: dict[str, pa.Field]  # what columns are, where the source has types

    def screen(self, stream: Stream, most: int, progress: Progress) -> Batch | None:
        """Results of the next rows, `most` or fewer; None at the end."""

    def skip(self, stream: Stream, rows: int) -> None:
        """Passes over rows that were screened before."""

    def stored(self, name: str) -> Any:
        """A column of the last batch as the source stores it; None where that is text."""

    def file_row(self, number: int) -> int | None:
        """As Sheet.file_row."""

    def rows_expected(self, done: int) -> int | None:
        """Rows in all, or about as many, when `done` are done."""

    def close(self) -> None: ...


def arrow() -> Any:
    """The package pyarrow; NotAvailable where it is not installed."""
    try:
        import pyarrow
    except ImportError:
        raise error(NotAvailable, NOT_INSTALLED, allowed="pyarrow, or CSV", key="pyarrow") from None
    return pyarrow


def ending_of(path: str, endings: Iterable[str] = ENDINGS) -> str:
    """The ending of a path, if it is one of these; '' otherwise."""
    return next((ending for ending in endings if path.lower().endswith(ending)), "")


def open_source(path: str) -> Source:
    """The sheet in a file; the ending tells its kind."""
    ending = ending_of(path)
    if not ending:
        raise error(
            FileUnreadable,
            "is of a kind that is not read part by part",
            value=os.path.splitext(path)[1],
            allowed=", ".join(ENDINGS),
            file=path,
        )
    try:
        if ending.startswith(".csv"):
            return CsvSource(path)
        return ArrowSource(_batches_of(path, ending), path)
    except OSError as failure:
        raise _unreadable(path, failure) from None


def _unreadable(path: str, failure: Exception) -> Exception:
    what = getattr(failure, "strerror", None) or str(failure)
    return error(FileUnreadable, f"cannot be read ({what})"[:300], allowed=", ".join(ENDINGS), file=path)


def identity_of(path: str) -> dict[str, Any]:
    """What tells a file from another: name, size, time of change, and a hash of its beginning."""
    try:
        with open(path, "rb") as file:
            state = os.fstat(file.fileno())
            beginning = hashlib.sha256(file.read(IDENTITY_BYTES)).hexdigest()
    except OSError as failure:
        raise _unreadable(path, failure) from None
    return {
        "name": os.path.abspath(path),
        "bytes": state.st_size,
        "changed_ns": state.st_mtime_ns,
        "beginning_sha256": beginning,
    }


class CsvSource:
    """CSV, packed by gzip or not. Cells are what `sheet.from_csv` makes of the whole file."""

    def __init__(self, path: str) -> None:
        self.file = path
        self.fields: dict[str, Any] = {}
        self._size = os.path.getsize(path)
        self._raw = open(path, "rb")  # noqa: SIM115  (closed by close)
        self._text: IO[bytes] = gzip.GzipFile(fileobj=self._raw) if path.lower().endswith(".gz") else self._raw  # type: ignore[assignment]
        self._rows = _core.streaming.CsvRows(path)
        self._ended = False
        self._taken = 0  # rows given to the stream
        try:
            beginning = self._read()
            check_beginning(beginning, path)
            self._push(beginning.removeprefix(b"\xef\xbb\xbf"))
            self._fill(HEADER_ROWS)
            at, self.header = header_of(self._rows.first(HEADER_ROWS), path)
            self._rows.drop(at + 1)
            self.header_at: int | None = at + 1
            self._fill(1)
            if not self._rows.ready:
                raise error(MissingValue, "has a header but no rows", allowed="one row for each household", file=path)
        except BaseException:
            self.close()
            raise

    def _read(self) -> bytes:
        try:
            return self._text.read(READ_BYTES)
        except (OSError, EOFError) as failure:
            raise _unreadable(self.file, failure) from None

    def _push(self, data: bytes) -> None:
        if data:
            self._rows.push(data)
        else:
            self._ended = True
            self._rows.finish()

    def _fill(self, rows: int) -> None:
        while not self._ended and self._rows.ready < rows:
            self._push(self._read())

    def screen(self, stream: Stream, most: int, progress: Progress) -> Batch | None:
        self._fill(most)
        self._taken += min(most, self._rows.ready)
        return stream.screen_csv(self._rows, most, progress) if self._rows.ready else None

    def skip(self, stream: Stream, rows: int) -> None:
        while rows > 0:
            self._fill(1)
            passed = stream.skip_csv(self._rows, rows)
            if not passed:
                raise error(MissingValue, f"ends {rows} rows before those that were screened", file=self.file)
            rows -= passed
            self._taken += passed

    def stored(self, name: str) -> Any:
        return None

    def file_row(self, number: int) -> int | None:
        return None if self.header_at is None else self.header_at + number

    def rows_expected(self, done: int) -> int | None:
        parsed = self._taken + self._rows.ready
        if self._ended:
            return parsed
        read = self._raw.tell()
        return round(parsed * self._size / read) if read else None

    def close(self) -> None:
        self._text.close()
        self._raw.close()


def _batches_of(path: str, ending: str) -> tuple[Any, Iterator[pa.RecordBatch], int | None]:
    """Schema, record batches and number of rows of a Parquet or Arrow file."""
    pa = arrow()
    try:
        if ending == ".parquet":
            import pyarrow.parquet as pq

            file = pq.ParquetFile(path)
            return file.schema_arrow, file.iter_batches(batch_size=8192), file.metadata.num_rows
        source = pa.OSFile(path)
        try:
            reader = pa.ipc.open_file(source)
            return reader.schema, (reader.get_batch(i) for i in range(reader.num_record_batches)), None
        except pa.ArrowInvalid:
            source.seek(0)
            stream = pa.ipc.open_stream(source)
            return stream.schema, iter(stream), None
    except pa.ArrowException as failure:
        raise _unreadable(path, failure) from None


class ArrowSource:
    """Record batches of Arrow. Cells are what `sheet.from_frame` makes of them."""

    def __init__(self, parts: tuple[pa.Schema, Iterator[pa.RecordBatch], int | None], file: str = "") -> None:
        self.file = file
        schema, self._batches, self._total = parts
        self.header = checked_header(list(schema.names), file)
        if not self.header:
            raise error(MissingValue, "has no columns", allowed="the columns of a household sheet", file=file)
        self.fields = {name.strip(): schema.field(i) for i, name in enumerate(schema.names)}
        self._waiting: list[pa.RecordBatch] = []
        self._last: pa.RecordBatch | None = None
        self._texts: list[Any] = []  # the last batch's buffers, which a Batch looks into

    def _take(self, most: int) -> pa.RecordBatch | None:
        """The next `most` rows, however the source cuts them."""
        pa = arrow()
        parts, count = self._waiting, sum(part.num_rows for part in self._waiting)
        try:
            while count < most and (batch := next(self._batches, None)) is not None:
                parts.append(batch)
                count += batch.num_rows
        except (pa.ArrowException, OSError) as failure:
            raise _unreadable(self.file, failure) from None
        if not count:
            return None
        table = pa.Table.from_batches(parts)
        self._waiting = table.slice(most).to_batches() if count > most else []
        return one_batch(table.slice(0, most))

    def screen(self, stream: Stream, most: int, progress: Progress) -> Batch | None:
        self._last = self._take(most)
        if self._last is None:
            return None
        return stream.screen_arrow(self._columns(self._last), self._last.num_rows, progress)

    def screen_next(self, stream: Stream) -> Batch | None:
        """Results of the next record batch, as the source cuts them."""
        self._last = next(self._batches, None)
        if self._last is None:
            return None
        return stream.screen_arrow(self._columns(self._last), self._last.num_rows, None)

    def skip(self, stream: Stream, rows: int) -> None:
        while rows > 0:
            batch = self._take(min(rows, 65536))
            if batch is None:
                raise error(MissingValue, f"ends {rows} rows before those that were screened", file=self.file)
            stream.skip_arrow(self._columns(batch), batch.num_rows)
            rows -= batch.num_rows

    def _columns(self, batch: pa.RecordBatch) -> list[ArrowText]:
        self._texts = [text_column(column) for column in batch.columns]
        return [_buffers(column) for column in self._texts]

    def stored(self, name: str) -> Any:
        index = [heading.strip() for heading in self.header].index(name)
        return None if self._last is None else self._last.column(index)

    def file_row(self, number: int) -> int | None:
        return None

    def rows_expected(self, done: int) -> int | None:
        return self._total

    def close(self) -> None:
        self._batches = iter(())


def one_batch(table: pa.Table) -> pa.RecordBatch:
    """A table as one record batch."""
    pa = arrow()
    columns = [
        column.chunk(0) if column.num_chunks == 1 else pa.concat_arrays(column.chunks) for column in table.columns
    ]
    return pa.RecordBatch.from_arrays(columns, schema=table.schema)


def text_column(column: pa.Array) -> pa.Array:
    """A column as text, cell by cell what `sheet.text_of` makes of the same value in a frame; very large and very small
    numbers may stand in another form."""
    pa = arrow()
    import pyarrow.compute as pc

    kind, types = column.type, pa.types
    if types.is_string(kind) or types.is_large_string(kind):
        return column
    if types.is_dictionary(kind):
        return text_column(column.dictionary_decode())
    if types.is_integer(kind) or types.is_boolean(kind) or types.is_null(kind):
        return pc.cast(column, pa.string())
    if types.is_float32(kind) or types.is_float64(kind):
        # A short float keeps its digits; whole numbers have no ".0".
        texts = pc.cast(column, pa.string())
        whole = pc.and_(pc.equal(column, pc.floor(column)), pc.less(pc.abs(column), 1e15))
        digits = pc.cast(pc.cast(pc.if_else(whole, column, 0), pa.int64()), pa.string())
        known = pc.invert(pc.fill_null(pc.is_nan(column), True))
        return pc.if_else(known, pc.if_else(whole, digits, texts), pa.scalar(None, pa.string()))
    return pa.array([text_of(value) for value in column.to_pylist()], pa.string())


def _buffers(column: pa.Array) -> ArrowText:
    pa = arrow()
    there, ends, data = column.buffers()
    if ends is None:  # of a column without any rows
        ends = pa.py_buffer(bytes(8))
    wide = pa.types.is_large_string(column.type)
    return (ends, data if data is not None and data.size else None, there, column.offset, wide)


def arrow_text(there: Any, ends: Any, data: Any, empty: int) -> pa.Array:
    """A column of text of the results; its ends are wide (int64) or not (int32)."""
    pa = arrow()
    kind = pa.LargeStringArray if ends.itemsize == 8 else pa.StringArray
    bits = pa.py_buffer(there) if empty else None
    return kind.from_buffers(len(ends) - 1, pa.py_buffer(ends), pa.py_buffer(data), bits, empty)


def batches(source: Any) -> tuple[pa.Schema, Iterator[pa.RecordBatch], int | None]:
    """Schema and record batches of a table, a reader or an iterable of record batches."""
    if hasattr(source, "to_batches") and hasattr(source, "schema"):
        return source.schema, iter(source.to_batches()), source.num_rows
    if hasattr(source, "schema") and hasattr(source, "num_rows"):
        return source.schema, iter([source]), source.num_rows
    if hasattr(source, "schema"):
        return source.schema, iter(source), None
    found = iter(source)
    first = next(found, None)
    if first is None or not hasattr(first, "schema"):
        raise error(
            MalformedText,
            "are no record batches" if first is not None else "has no record batches",
            value=type(first or source).__name__,
            allowed="a pyarrow Table, RecordBatchReader or iterable of at least one RecordBatch",
            key="source",
        )

    def all_of() -> Iterator[Any]:
        yield first
        yield from found

    return first.schema, all_of(), None


def own_columns(header: Iterable[str]) -> list[str]:
    """Names of the columns that are none of a household sheet."""
    known = known_columns()
    return [name.strip() for name in header if name.strip() not in known]
