"""Household sheets as text: CSV, XLSX and pandas frames become a header and columns of cells, with nothing guessed.

Cells keep what was written or stored: 0.1 is "0.1", a whole number has no ".0", dates are ISO 8601, an empty cell is
None. What a cell means, and whether it is allowed, is for the library to say.
"""

from __future__ import annotations

import csv
import functools
import io
import os
import sys
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import IO, TYPE_CHECKING, Any

from . import _core
from .errors import DuplicateName, Error, FileUnreadable, MalformedText, MissingValue, UnknownName, error

if TYPE_CHECKING:
    import pandas as pd

HEADER_ROWS = 10  # the header stands in the first rows of a file
MOST_COLUMNS = 1_000
MOST_EMPTY_ROWS = 10_000  # a run of empty rows this long in a workbook ends the sheet
MOST_ROWS = 5_000_000
# Limits of a workbook, against files made to fill memory or disk.
MOST_PARTS = 2_000
MOST_UNPACKED_BYTES = 1 << 30
MOST_TEXT_BYTES = 256 << 20  # of the table of shared texts, which has to be held in memory
MOST_RATIO = 400  # unpacked over packed size, of parts above RATIO_FROM_BYTES
RATIO_FROM_BYTES = 4 << 20

# Number formats that a workbook names by number alone (ECMA-376, 18.8.30): those in percent.
BUILT_IN_FORMATS = {9: "0%", 10: "0.00%"}

Cells = list[str | None]


@dataclass
class Sheet:
    """A sheet as text. `ragged` holds, for rows that have another number of cells than the header, that number."""

    file: str
    header: list[str]
    columns: list[Cells]
    ragged: dict[int, int] = field(default_factory=dict)
    index: Any = None  # of a pandas frame
    header_at: int | None = None  # row of the file in which the header stands, from 1
    ids: Any = None  # identifiers as whole numbers, if that is how the source stores them all
    own: dict[str, Any] = field(default_factory=dict)  # values as stored, of columns that are none of a household sheet

    @property
    def row_count(self) -> int:
        return len(self.columns[0]) if self.columns else 0

    def file_row(self, number: int) -> int | None:
        """The row of the file in which data row `number` stands, as spreadsheet programs count; None without a file."""
        return None if self.header_at is None else self.header_at + number

    def row(self, number: int) -> Cells:
        """Cells of data row `number`, from 1."""
        return [column[number - 1] for column in self.columns]

    def column(self, name: str) -> Cells | None:
        for heading, cells in zip(self.header, self.columns, strict=True):
            if heading.strip() == name:
                return cells
        return None


@dataclass(frozen=True)
class Percent:
    """A number in a cell that a workbook shows in percent: 0.25 is stored, 25% is what was written."""

    share: float

    def __str__(self) -> str:
        # The decimal digits as written, moved by two places, so that 0.07 gives 7 and not 7.000000000000001.
        moved = Decimal(repr(self.share)).scaleb(2).normalize()
        return f"{moved:f}%"


def text_of(value: Any) -> str | None:
    """A cell of a workbook or frame as text; None for an empty one."""
    if value is None or isinstance(value, str):
        return value or None
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):  # numpy.float64 is one
        if value != value:
            return None
        if value.is_integer() and abs(value) < 1e15:
            return str(int(value))
        return float.__repr__(value)
    if hasattr(value, "isoformat"):
        if value != value:  # pandas.NaT
            return None
        text = str(value.isoformat())
        return text.removesuffix("T00:00:00")
    if hasattr(value, "item") and getattr(value, "ndim", None) == 0:  # other numpy scalars: a float32 keeps its digits
        text = str(value)
        kind = getattr(getattr(value, "dtype", None), "kind", "")
        return text_of(float(text)) if kind == "f" else text_of(value.item())
    if type(value).__name__ == "NAType":
        return None
    return str(value) or None


def read_sheet(source: Any, *, sheet_name: str | None = None) -> pd.DataFrame:
    """A household sheet (.csv, .xlsx or a file object with CSV) as a frame of text, pandas.NA where a cell is empty.

    The index counts the rows from 1, as problems do. `sheet_name` names a sheet of a workbook; the first one is read
    otherwise. `screen` reads files by itself; this is for looking at one, or changing it first.
    """
    import pandas as pd

    found = read(source, sheet_name=sheet_name)
    for row, cells in sorted(found.ragged.items()):
        what = f"has {cells} cells where the header has {len(found.header)}"
        raise error(MalformedText, what, allowed=f"{len(found.header)} cells", file=found.file, row=row + 1)
    frame = pd.DataFrame(dict(zip(found.header, found.columns, strict=True)), dtype="string")
    frame.index = pd.RangeIndex(1, len(frame) + 1, name="row")
    return frame


def read(source: Any, *, sheet_name: str | None = None) -> Sheet:
    """Reads a pandas frame, a path ending in .csv or .xlsx, a binary or text file object with CSV, or "-" (CSV on
    standard input). `sheet_name` names a sheet of a workbook; the first one is read otherwise."""
    sheet = sheet_name
    if sheet is not None and not _is_workbook(source):
        raise error(
            FileUnreadable,
            "has no named sheets",
            value=sheet,
            allowed="a sheet name only with .xlsx",
            file=os.fspath(source) if isinstance(source, str | os.PathLike) else "",
        )
    if hasattr(source, "columns") and hasattr(source, "index"):
        return from_frame(source)
    if hasattr(source, "read"):
        name = getattr(source, "name", None)
        content = source.read()
        raw = content.encode("utf-8", "surrogatepass") if isinstance(content, str) else bytes(content)
        return from_csv(raw, name if isinstance(name, str) else "sheet")
    name = os.fspath(source)
    if name == "-":
        if sys.stdin is None:
            raise error(FileUnreadable, "is closed", allowed="CSV on standard input", file="standard input")
        return from_csv(sys.stdin.buffer.read(), "standard input")
    ending = os.path.splitext(name)[1].lower()
    if ending not in (".csv", ".xlsx"):
        raise error(
            FileUnreadable, "is of a kind that is not read", value=ending, allowed="a .csv or .xlsx file", file=name
        )
    try:
        with open(name, "rb") as file:
            if ending == ".xlsx":
                return from_workbook(file, name, sheet)
            return from_csv(file.read(), name)
    except OSError as failure:
        raise error(
            FileUnreadable, f"cannot be read ({failure.strerror or failure})", allowed="a .csv or .xlsx file", file=name
        ) from None


def _is_workbook(source: Any) -> bool:
    return isinstance(source, str | os.PathLike) and os.fspath(source).lower().endswith(".xlsx")


@functools.cache
def known_columns() -> frozenset[str]:
    return frozenset(column["name"] for column in _core.catalog.household_columns())


@functools.cache
def usual_columns() -> frozenset[str]:
    """A header with these lacks nothing; one without a place needs both coordinates instead."""
    return frozenset(column["name"] for column in _core.catalog.household_columns() if column["required"]) | {"place"}


def header_row(rows: Sequence[Sequence[str | None]]) -> int:
    """Which of the first rows is the header: the one with the most names of columns, the first row that is not empty if
    none has any."""
    known = known_columns()
    counts = [len(known & {(cell or "").strip() for cell in row}) for row in rows]
    if counts and max(counts) > 0:
        return counts.index(max(counts))
    return next((i for i, row in enumerate(rows) if any(row)), 0)


def checked_header(header: list[str], file: str) -> list[str]:
    names = [name.strip() for name in header]
    if len(names) == 1:
        for mark, word in ((";", "semicolons"), ("\t", "tabs")):
            if mark in names[0]:
                raise error(MalformedText, f"parts its cells by {word}", allowed="commas", file=file, line=1)
    for i, name in enumerate(names):
        if name in names[:i]:
            shown = f"columns {names.index(name) + 1} and {i + 1}"
            what = f"stands twice in the header, in {shown}" if name else f"the header has no name in {shown}"
            raise error(DuplicateName, what, allowed="each column name once", file=file, key=name)
    return header


def table(rows: Iterator[Sequence[Any]], file: str, *, stored: bool = False) -> Sheet:
    """Finds the header, lays the rows out in columns and ends the sheet after the last row that is not empty.

    `stored`: cells are values as a workbook stores them, not text; a row may then end before the header does, because
    empty cells are not stored.
    """
    first: list[Sequence[Any]] = []
    for row in rows:
        first.append(row)
        if len(first) == HEADER_ROWS:
            break
    at, header = header_of(first, file)
    width = len(header)
    columns: list[list[Any]] = [[] for _ in header]
    ragged: dict[int, int] = {}
    last = -1  # index of the last row that is not empty

    def following() -> Iterable[Sequence[Any]]:
        yield from first[at + 1 :]
        yield from rows

    for count, row in enumerate(following()):
        cells = len(row)
        if any(map(_filled, row)) if stored else any(row):
            last = count
            # Blank cells beyond the header say nothing; anything else may have slipped into a wrong column.
            if any(map(_filled, row[width:])) or (cells < width and not stored):
                ragged[count] = cells
        for i, column in enumerate(columns):
            column.append(row[i] if i < cells else None)
        if count >= MOST_ROWS:
            raise error(MalformedText, f"has more than {MOST_ROWS} rows", allowed=f"up to {MOST_ROWS} rows", file=file)
    for column in columns:
        del column[last + 1 :]
    if last < 0:
        raise error(MissingValue, "has a header but no rows", allowed="one row for each household", file=file)
    found = Sheet(file, header, columns, ragged, header_at=at + 1)
    known = known_columns()
    for i, heading in enumerate(header):
        name = heading.strip()
        values = columns[i]
        columns[i] = percents(name, [text_of(value) for value in values] if stored else [v or None for v in values])
        if name not in known:
            found.own[name] = [own_value(value) for value in values]
        elif stored and name == "household_id" and all(v is None or is_id_number(v) for v in values):
            found.ids = values
    return found


def header_of(first: Sequence[Sequence[Any]], file: str) -> tuple[int, list[str]]:
    """Which of the first rows is the header, from 0, and its names."""
    if not any(_filled(cell) for row in first for cell in row):
        raise error(MissingValue, "is empty", allowed="a header and one row for each household", file=file)
    texts = [[text_of(cell) for cell in row] for row in first]
    at = header_row(texts)
    names = [cell or "" for cell in texts[at]]
    while names and not names[-1].strip():
        names.pop()
    if len(names) > MOST_COLUMNS:
        raise error(MalformedText, f"has {len(names)} columns", allowed=f"up to {MOST_COLUMNS} columns", file=file)
    return at, checked_header(names, file)


def _filled(value: Any) -> bool:
    return value is not None and value != ""


def is_id_number(value: Any) -> bool:
    """Whether an identifier is a whole number that a column of numbers holds."""
    return type(value) is int and -(2**63) <= value < 2**63


def own_value(value: Any) -> Any:
    """A value of a column that is nobody's but the user's: as stored, a share out of a cell shown in percent too."""
    return float(value.share) if isinstance(value, Percent) else value if _filled(value) else None


def percents(name: str, cells: Cells) -> Cells:
    """Cells of a column in percent without their percent signs; elsewhere 25% stays what it is, and is refused."""
    if not name.endswith("_pct") or "%" not in "".join(filter(None, cells)):
        return cells
    return [cell.rstrip()[:-1].rstrip() if cell is not None and cell.rstrip().endswith("%") else cell for cell in cells]


def from_csv(raw: bytes, file: str) -> Sheet:
    """CSV (RFC 4180): commas, double quotes, UTF-8 with or without a byte-order mark."""
    if not raw.strip():
        raise error(MissingValue, "is empty", allowed="a header and one row for each household", file=file)
    check_beginning(raw, file)
    nul = raw.find(0)
    if nul >= 0:
        raise error(
            FileUnreadable,
            "holds a NUL byte, so it is no text in UTF-8",
            allowed="text in UTF-8",
            file=file,
            line=raw.count(b"\n", 0, nul) + 1,
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as failure:
        byte = raw[failure.start] if failure.start < len(raw) else 0
        raise error(
            FileUnreadable,
            f"is not UTF-8 (byte 0x{byte:02X})",
            allowed='text in UTF-8; save it again as "CSV UTF-8"',
            file=file,
            line=raw.count(b"\n", 0, failure.start) + 1,
        ) from None
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        return table(iter(reader), file)
    except csv.Error as failure:
        what = {"unexpected end of data": "has a quoted cell that is never closed"}.get(
            str(failure), f"is no CSV: {failure}"
        )
        raise error(
            MalformedText, what, allowed='cells parted by commas, quoted by "', file=file, line=reader.line_num
        ) from None


def check_beginning(raw: bytes, file: str) -> None:
    """Refuses what its first bytes show to be no CSV in UTF-8."""
    if raw.startswith(b"PK\x03\x04"):
        raise error(
            FileUnreadable, "is a workbook or zip file, not CSV", allowed="the ending .xlsx for a workbook", file=file
        )
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise error(FileUnreadable, "is UTF-16", allowed='text in UTF-8; save it again as "CSV UTF-8"', file=file)


def from_frame(frame: pd.DataFrame) -> Sheet:
    """Cells of a pandas frame; its index is kept for the result."""
    header = checked_header([str(name) for name in frame.columns], "")
    columns: list[Cells] = []
    known, own, ids = known_columns(), {}, None
    for i in range(frame.shape[1]):
        cells = frame.iloc[:, i]
        name = header[i].strip()
        if name not in known:
            own[name] = cells.array
        elif name == "household_id" and getattr(cells.dtype, "kind", "") in "iu":
            ids = cells.array
        columns.append(percents(name, _column_texts(cells)))
    if not frame.shape[1]:
        raise error(MissingValue, "the frame has no columns", allowed="the columns of a household sheet")
    return Sheet("", header, columns, {}, frame.index, ids=ids, own=own)


def _column_texts(cells: pd.Series) -> list[str | None]:
    """A column of a frame as text; None where a cell is empty."""
    import numpy as np

    values: Any
    if type(cells.dtype).__name__ == "StringDtype":
        values = cells.array.to_numpy(dtype=object)
    elif cells.dtype in (np.float64, np.int64, object):
        values = cells.to_numpy()
    else:
        # A float32 becomes text before it becomes a float: as a float, 0.1 would grow digits.
        short_float = getattr(cells.dtype, "kind", "") == "f" and getattr(cells.dtype, "itemsize", 8) < 8
        values = list(cells.array) if short_float else cells.tolist()
    return _core.screening.cell_texts(values, text_of)


def from_workbook(file: IO[bytes], name: str, sheet: str | None) -> Sheet:
    """A sheet of an XLSX workbook, with the values as the spreadsheet stored them."""
    has_formulas = check_workbook(file, name)
    try:
        import openpyxl
    except ImportError:
        raise error(
            FileUnreadable,
            "cannot be read without the Python package openpyxl",
            allowed="openpyxl, or a CSV file",
            file=name,
        ) from None
    try:
        books = [openpyxl.load_workbook(file, read_only=True, data_only=True, keep_links=False)]
        if has_formulas:  # a formula that was never calculated has no value: its text must not pass for an empty cell
            books.append(openpyxl.load_workbook(file, read_only=True, data_only=False, keep_links=False))
        names = [page.title for page in books[0].worksheets]
        if sheet is not None and sheet not in names:
            raise error(UnknownName, "is no sheet of the workbook", value=sheet, allowed=", ".join(names), file=name)
        if not names:
            raise error(MissingValue, "has no sheet with cells", allowed="a sheet with a header and rows", file=name)
        chosen = sheet if sheet is not None else names[0]
        pages = [book[chosen] for book in books]
        for page in pages:
            page.reset_dimensions()  # what the file says of its own size is not trusted
        try:
            found = table(workbook_rows(pages, name, percent_styles(books[0])), name, stored=True)
        except MissingValue as failure:
            raise _on_sheet(failure, chosen, names, name) from None
        if len(names) > 1 and not known_columns() & {heading.strip() for heading in found.header}:
            what = f"has none of the columns of a household sheet in its first {HEADER_ROWS} rows"
            raise _on_sheet(error(MissingValue, what, file=name), chosen, names, name)
        return found
    except Error:
        raise
    except Exception as failure:  # openpyxl raises whatever a broken part leads to
        raise error(
            FileUnreadable,
            f"is no workbook that can be read ({type(failure).__name__}: {failure})"[:300],
            allowed="an .xlsx file as spreadsheet programs save it",
            file=name,
        ) from failure


def _on_sheet(failure: Error, chosen: str, names: list[str], file: str) -> Error:
    """The same failure, with the sheet it was found on and the names of the others."""
    others = [name for name in names if name != chosen]
    allowed = failure.problem["allowed"] or "a header and one row for each household"
    if others:
        allowed += f"; name another sheet (sheet_name=, --sheet): {', '.join(others[:20])}"
    return error(MissingValue, failure.problem["what"], value=f"sheet {chosen!r}", allowed=allowed, file=file)


def percent_styles(book: Any) -> bool:
    """Whether any cell style of a workbook shows numbers in percent."""
    formats = [*book._number_formats, *(BUILT_IN_FORMATS.get(style.numFmtId, "") for style in book._cell_styles)]
    return any("%" in form for form in formats)


def workbook_rows(pages: Sequence[Any], file: str, with_percents: bool) -> Iterator[list[Any]]:
    """Rows of values, numbers shown in percent as Percent. Ends after a long run of empty rows; refuses rows too wide
    to be a household's."""
    empty = wide = 0
    # Cells with their formats take longer to read than bare values.
    bare = [page.iter_rows(values_only=not with_percents or i > 0) for i, page in enumerate(pages)]
    for parts in zip(*bare, strict=True):
        values = list(map(shown, parts[0])) if with_percents else list(parts[0])
        if len(values) > MOST_COLUMNS:
            wide += 1
            if wide > MOST_EMPTY_ROWS or any(value is not None for value in values[MOST_COLUMNS:]):
                raise error(
                    MalformedText,
                    f"has a row of {len(values)} cells",
                    allowed=f"up to {MOST_COLUMNS} columns",
                    file=file,
                )
            del values[MOST_COLUMNS:]
        if len(parts) > 1:
            for i, formula in enumerate(parts[1][: len(values)]):
                if values[i] is None and formula is not None:
                    values[i] = getattr(formula, "text", formula)
        while values and not _filled(values[-1]):
            values.pop()
        empty = empty + 1 if not values else 0
        if empty > MOST_EMPTY_ROWS:
            return
        yield values


def shown(cell: Any) -> Any:
    """The value of a cell; a Percent if it is a number shown in percent."""
    value = cell.value
    if type(value) in (int, float) and "%" in cell.number_format:
        return Percent(float(value))
    return value


def check_workbook(file: IO[bytes], name: str) -> bool:
    """Refuses a workbook that would unpack to too much or that declares XML entities; tells whether it has formulas."""

    def refuse(what: str, allowed: str) -> Error:
        return error(FileUnreadable, what, allowed=allowed, file=name)

    has_formulas = False
    try:
        with zipfile.ZipFile(file) as archive:
            parts = archive.infolist()
            if len(parts) > MOST_PARTS:
                raise refuse(f"has {len(parts)} parts", f"up to {MOST_PARTS} parts in a workbook")
            total = sum(part.file_size for part in parts)
            if total > MOST_UNPACKED_BYTES:
                raise refuse(f"unpacks to {total >> 20} MiB", f"up to {MOST_UNPACKED_BYTES >> 20} MiB")
            for part in parts:
                if part.flag_bits & 1:
                    raise refuse("is encrypted", "a workbook without a password")
                if part.file_size > RATIO_FROM_BYTES and part.file_size > MOST_RATIO * max(part.compress_size, 1):
                    raise refuse(
                        f"has a part that unpacks to {part.file_size // max(part.compress_size, 1)} times its size "
                        f"({part.filename[:80]})",
                        f"up to {MOST_RATIO} times",
                    )
                if part.filename.lower().endswith("sharedstrings.xml") and part.file_size > MOST_TEXT_BYTES:
                    raise refuse(f"holds {part.file_size >> 20} MiB of text", f"up to {MOST_TEXT_BYTES >> 20} MiB")
            for part in parts:
                if part.filename.lower().endswith((".xml", ".rels", ".vml")):
                    has_formulas |= check_part(archive, part, refuse)
    except zipfile.BadZipFile:
        raise refuse("is not an .xlsx workbook", "an .xlsx file as spreadsheet programs save it") from None
    except (RuntimeError, NotImplementedError, EOFError, zipfile.LargeZipFile, zlib.error) as failure:
        raise refuse(f"cannot be unpacked ({failure})"[:200], "an .xlsx file as spreadsheet programs save it") from None
    file.seek(0)
    return has_formulas


def check_part(archive: zipfile.ZipFile, part: zipfile.ZipInfo, refuse: Any) -> bool:
    """Looks through one XML part; true if it holds formulas."""
    formulas = False
    tail = b""
    with archive.open(part) as stream:
        while chunk := stream.read(1 << 20):
            if not tail and chunk[:2] in (b"\xff\xfe", b"\xfe\xff"):
                raise refuse(f"has a part in UTF-16 ({part.filename[:80]})", "parts in UTF-8")
            text = tail + chunk
            if b"<!DOCTYPE" in text or b"<!ENTITY" in text or b"<\0!\0" in text or b"\0<\0!" in text:
                raise refuse(f"declares XML entities ({part.filename[:80]})", "a workbook without them")
            formulas = formulas or b"<f>" in text or b"<f " in text
            tail = text[-16:]
    return formulas
