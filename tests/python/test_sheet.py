"""Reading sheets: what is stored comes through unchanged, what cannot be read is refused with a sentence."""

import datetime
import io
import math
import os
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
import warmledger as wl
from conftest import HEADER, household
from warmledger import errors, sheet


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, None),
        ("", None),
        (" x ", " x "),
        (4, "4"),
        (4.0, "4"),
        (0.1, "0.1"),
        (0.1 + 0.2, "0.30000000000000004"),
        (1e300, "1e+300"),
        (math.nan, None),
        (math.inf, "inf"),
        (-math.inf, "-inf"),
        (True, "true"),
        (np.float32(0.1), "0.1"),
        (np.float64(2.5), "2.5"),
        (np.int16(7), "7"),
        (np.bool_(False), "false"),
        (pd.NA, None),
        (pd.NaT, None),
        (pd.Timestamp("2026-05-01"), "2026-05-01"),
        (datetime.date(2026, 5, 1), "2026-05-01"),
        (datetime.datetime(2026, 5, 1, 13, 30), "2026-05-01T13:30:00"),
    ],
)
def test_cells_become_text_without_noise(value: object, text: str | None) -> None:
    assert sheet.text_of(value) == text


def workbook(path: Path, rows: list[list[object]], title: str = "homes") -> Path:
    book = openpyxl.Workbook()
    page = book.active
    page.title = title
    for row in rows:
        page.append(row)
    book.create_sheet("other").append(["nothing"])
    book.save(path)
    return path


def test_csv_and_workbook_read_the_same(tmp_path: Path) -> None:
    rows: list[list[object]] = [
        HEADER.split(","),
        ["A", "Testville", 3, 0.1, "propane"],
        ["B", None, 4.0, 51000.55, "x,y"],
    ]
    from_xlsx = sheet.read(workbook(tmp_path / "a.xlsx", rows))
    csv_path = tmp_path / "a.csv"
    csv_path.write_text(HEADER + '\nA,Testville,3,0.1,propane\nB,,4,51000.55,"x,y"\n', encoding="utf-8")
    from_csv = sheet.read(csv_path)
    assert (
        from_xlsx.columns
        == from_csv.columns
        == [["A", "B"], ["Testville", None], ["3", "4"], ["0.1", "51000.55"], ["propane", "x,y"]]
    )
    assert from_xlsx.header == from_csv.header


def test_header_stands_anywhere_in_the_first_ten_rows(tmp_path: Path) -> None:
    rows: list[list[object]] = [
        ["Homes of spring"],
        [],
        ["place", "note"],
        HEADER.split(","),
        ["A", "Testville", 3, 1, "propane"],
    ]
    found = sheet.read(workbook(tmp_path / "a.xlsx", rows))
    assert found.header == HEADER.split(",")
    assert found.row_count == 1
    assert found.header_at == 4
    assert found.file_row(1) == 5
    late = workbook(tmp_path / "b.xlsx", [[f"title {i}"] for i in range(10)] + rows[3:])
    with pytest.raises(errors.MissingValue, match="has none of the columns of a household sheet in its first 10 rows"):
        sheet.read(late)


def test_named_sheet(tmp_path: Path) -> None:
    path = workbook(tmp_path / "a.xlsx", [HEADER.split(","), ["A"]])
    assert sheet.read(path, sheet_name="homes").row_count == 1
    with pytest.raises(errors.UnknownName, match=r"'?hoems'? is no sheet of the workbook; allowed: homes, other"):
        sheet.read(path, sheet_name="hoems")


def test_formula_without_a_stored_value_does_not_pass_for_an_empty_cell(tmp_path: Path) -> None:
    path = workbook(tmp_path / "a.xlsx", [HEADER.split(","), ["A", "Testville", "=1+1", 1, "propane"]])
    assert sheet.read(path).columns[2] == ["=1+1"]


def test_dates_in_a_workbook_are_iso(tmp_path: Path) -> None:
    path = workbook(tmp_path / "a.xlsx", [["household_id", "visited"], ["A", datetime.date(2026, 5, 1)]])
    assert sheet.read(path).columns[1] == ["2026-05-01"]


def test_trailing_empty_rows_end_the_sheet_and_others_are_kept(csv_file: Callable[..., Path]) -> None:
    found = sheet.read(csv_file("A,,,,", "", ",,,,", "B,,,,", ",,,,", "", ""))
    assert found.columns[0] == ["A", None, None, "B"]
    assert not found.ragged


def test_ragged_rows_are_remembered(csv_file: Callable[..., Path]) -> None:
    found = sheet.read(csv_file("A,x,1,2,y", "B,x", "C,x,1,2,y,,", "D,x,1,2,y,z"))
    assert found.ragged == {1: 2, 3: 6}
    assert found.columns[0] == ["A", "B", "C", "D"]


def test_file_objects_and_byte_order_mark() -> None:
    raw = b"\xef\xbb\xbf" + HEADER.encode() + b'\r\n"A\nB","say ""hi""",1,2,x\r\n'
    for source in (io.BytesIO(raw), io.StringIO(raw.decode("utf-8"))):
        found = sheet.read(source)
        assert found.header[0] == "household_id"
        assert found.columns[0] == ["A\nB"]
        assert found.columns[1] == ['say "hi"']


@pytest.mark.parametrize(
    ("raw", "kind", "words"),
    [
        (b"", errors.MissingValue, ["is empty"]),
        (b" \r\n \n", errors.MissingValue, ["is empty"]),
        (HEADER.encode() + b"\n", errors.MissingValue, ["has a header but no rows"]),
        (HEADER.encode() + b"\n,,,,\n", errors.MissingValue, ["has a header but no rows"]),
        (HEADER.encode() + b"\nA\xe9,,,,\n", errors.FileUnreadable, ["line 2", "0xE9", "UTF-8"]),
        ("household_id\n".encode("utf-16"), errors.FileUnreadable, ["UTF-16", "CSV UTF-8"]),
        (HEADER.encode() + b"\nA\0,,,,\n", errors.FileUnreadable, ["line 2", "NUL"]),
        (b"household_id;place\nA;b\n", errors.MalformedText, ["semicolons", "commas"]),
        (b"household_id,place,household_id\nA,b,c\n", errors.DuplicateName, ["household_id", "columns 1 and 3"]),
        (HEADER.encode() + b'\n"A,,,,\n', errors.MalformedText, ["never closed"]),
        (HEADER.encode() + b'\n"A"b,,,,\n', errors.MalformedText, ["line 2"]),
        (b"PK\x03\x04rest", errors.FileUnreadable, [".xlsx"]),
    ],
)
def test_unreadable_csv_says_why(tmp_path: Path, raw: bytes, kind: type[Exception], words: list[str]) -> None:
    path = tmp_path / "county.csv"
    path.write_bytes(raw)
    with pytest.raises(kind) as caught:
        sheet.read(path)
    for word in ["county.csv", *words]:
        assert word in str(caught.value)
    assert caught.value.problem["sentence"] == str(caught.value)


@pytest.mark.parametrize("name", ["none.csv", "none.xlsx", "none.ods", "."])
def test_missing_file_or_unknown_kind(tmp_path: Path, name: str) -> None:
    with pytest.raises(errors.FileUnreadable, match=r"allowed: a .csv or .xlsx file"):
        sheet.read(tmp_path / name)


def packed(path: Path, parts: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


def test_no_workbook_at_all(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(b"household_id,place\n")
    with pytest.raises(errors.FileUnreadable, match=r"is not an \.xlsx workbook"):
        sheet.read(path)
    with pytest.raises(errors.FileUnreadable, match="is no workbook that can be read"):
        sheet.read(packed(tmp_path / "b.xlsx", {"readme.txt": b"hello"}))


def test_part_that_unpacks_to_hundreds_of_times_its_size_is_refused(tmp_path: Path) -> None:
    with pytest.raises(errors.FileUnreadable, match="times its size"):
        sheet.read(packed(tmp_path / "a.xlsx", {"xl/worksheets/sheet1.xml": b" " * (64 << 20)}))


def test_too_many_parts_are_refused(tmp_path: Path) -> None:
    with pytest.raises(errors.FileUnreadable, match=r"has 2001 parts; allowed: up to 2000 parts"):
        sheet.read(packed(tmp_path / "a.xlsx", {f"{i}": b"" for i in range(sheet.MOST_PARTS + 1)}))


def test_unpacked_size_is_limited(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheet, "MOST_UNPACKED_BYTES", 1 << 20)
    with pytest.raises(errors.FileUnreadable, match="unpacks to 2 MiB; allowed: up to 1 MiB"):
        sheet.read(packed(tmp_path / "a.xlsx", {"a.xml": b"x" * (2 << 20)}))


def test_external_entities_are_refused(tmp_path: Path) -> None:
    good = workbook(tmp_path / "good.xlsx", [HEADER.split(","), ["A"]])
    with zipfile.ZipFile(good) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = "xl/worksheets/sheet1.xml"
    parts[name] = b'<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>' + parts[name]
    with pytest.raises(errors.FileUnreadable, match="declares XML entities"):
        sheet.read(packed(tmp_path / "bad.xlsx", parts))


def test_a_cell_far_below_ends_the_sheet_in_bounded_time(tmp_path: Path) -> None:
    good = workbook(tmp_path / "good.xlsx", [HEADER.split(","), ["A", "Testville", 1, 1, "propane"]])
    with zipfile.ZipFile(good) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = "xl/worksheets/sheet1.xml"
    far = b'<row r="999999999"><c r="A999999999" t="n"><v>1</v></c></row></sheetData>'
    parts[name] = parts[name].replace(b"</sheetData>", far)
    assert sheet.read(packed(tmp_path / "far.xlsx", parts)).row_count == 1


def test_read_sheet_gives_a_frame_of_text(csv_file: Callable[..., Path]) -> None:
    frame = wl.read_sheet(csv_file("A,Testville,3,0.10,propane", "=1+1,,,,"))
    assert frame.loc[1, "yearly_income_usd"] == "0.10"
    assert frame.loc[2, "household_id"] == "=1+1"
    assert frame.loc[2, "place"] is pd.NA
    with pytest.raises(errors.MalformedText, match="row 1: has 2 cells where the header has 5"):
        wl.read_sheet(csv_file("A,b"))


def test_frames_keep_index_and_nullable_types() -> None:
    frame = pd.DataFrame([household("A"), household("B", occupants=None)], index=["x", "y"]).convert_dtypes()
    found = sheet.read(frame)
    assert found.index.tolist() == ["x", "y"]
    assert found.column("occupants") == ["4", None]


def test_frames_keep_whole_number_identifiers(program: wl.Program) -> None:
    for dtype in ("int64", "int32", "Int64"):
        frame = pd.DataFrame([household(7), household(8)]).astype({"household_id": dtype})
        found = wl.screen(frame, program, detail="monthly", progress=False)
        assert str(found["household_id"].dtype) == dtype
        assert len(found.merge(frame, on="household_id")) == 2
    text = wl.screen(pd.DataFrame([household("007")]), program, detail="monthly", progress=False)
    assert text["household_id"].tolist() == ["007"]


def test_read_me_first_names_the_other_sheets(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "Read me"
    book.active.append(["How to fill in this workbook"])
    book.create_sheet("Homes").append(HEADER.split(","))
    book.create_sheet("Words")
    book.save(tmp_path / "a.xlsx")
    with pytest.raises(
        errors.MissingValue,
        match=r"'Read me' has a header but no rows; .*name another sheet \(sheet_name=, --sheet\): Homes, Words",
    ):
        sheet.read(tmp_path / "a.xlsx")
    book["Read me"].append(["One row for each home"])
    book.save(tmp_path / "a.xlsx")
    with pytest.raises(errors.MissingValue, match=r"'Read me' has none of the columns .*: Homes, Words"):
        wl.read_sheet(tmp_path / "a.xlsx")
    with pytest.raises(errors.MissingValue, match=r"'Words' is empty; .*: Read me, Homes"):
        wl.read_sheet(tmp_path / "a.xlsx", sheet_name="Words")


def test_a_sheet_name_needs_a_workbook(csv_file: Callable[..., Path]) -> None:
    for source in (csv_file("A,Testville,3,1,propane"), pd.DataFrame([household()]), io.StringIO("household_id\nA\n")):
        with pytest.raises(errors.FileUnreadable, match="has no named sheets"):
            sheet.read(source, sheet_name="homes")


def test_messages_name_the_row_of_the_file(tmp_path: Path, program: wl.Program) -> None:
    rows = [["Homes"], [], HEADER.split(",")]
    rows += [["A", "Testville", 3, 1, "propane"], ["B", "Testville", 99, 1, "propane"]]
    path = workbook(tmp_path / "a.xlsx", rows)
    found = wl.check(path)
    assert found.loc[0, "row"] == 2
    assert found.loc[0, "file_row"] == 5
    assert ".xlsx, row 2 (row 5 of the file), occupants: 99 is out of range" in found.loc[0, "sentence"]
    result = wl.screen(path, program, detail="monthly", progress=False)
    assert result.attrs["problems"][0]["file_row"] == 5


def percent_workbook(path: Path, form: str, **cells: float) -> Path:
    book = openpyxl.Workbook()
    facts = {**household(), **cells}
    book.active.append(list(facts))
    book.active.append(list(facts.values()))
    for name in cells:
        book.active.cell(2, list(facts).index(name) + 1).number_format = form
    book.save(path)
    return path


@pytest.mark.parametrize("form", ["0%", "0.00%", "0.0 %"])
def test_a_cell_shown_in_percent_is_read_as_it_is_shown(tmp_path: Path, form: str) -> None:
    found = sheet.read(percent_workbook(tmp_path / "a.xlsx", form, shading_pct=0.25))
    assert found.column("shading_pct") == ["25"]
    for share, text in ((0.07, "7"), (0.125, "12.5"), (0, "0"), (1, "100"), (1e-9, "0.0000001")):
        assert sheet.read(percent_workbook(tmp_path / "b.xlsx", form, shading_pct=share)).column("shading_pct") == [
            text
        ]


def test_a_percent_cell_elsewhere_is_refused(tmp_path: Path) -> None:
    path = percent_workbook(tmp_path / "a.xlsx", "0%", roof_azimuth_deg=1.8)
    [problem] = wl.check(path).to_dict("records")
    assert problem["column"] == "roof_azimuth_deg"
    assert "180%" in problem["sentence"]


def test_percent_signs_of_a_csv(csv_file: Callable[..., Path]) -> None:
    found = sheet.read(csv_file("A,Testville,3,1,propane,25 %", header=f"{HEADER},shading_pct"))
    assert found.column("shading_pct") == ["25"]
    assert wl.check(csv_file("A,Testville,3%,1,propane")).loc[0, "column"] == "occupants"


def test_percent_signs_of_one_household(program: wl.Program) -> None:
    signed, bare = (wl.appraise(household(shading_pct=cell), program, detail="monthly") for cell in ("25%", 25))
    assert signed.measures.net_savings_usd == bare.measures.net_savings_usd
    with pytest.raises(errors.Error, match="occupants: 3% "):
        wl.appraise(household(occupants="3%"), program)


HOSTILE = """\
import resource, sys
import warmledger as wl
resource.setrlimit(resource.RLIMIT_AS, (2 << 30, 2 << 30))
resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
try:
    print(len(wl.read_sheet(sys.argv[1])))
except wl.errors.Error as failure:
    print(failure)
"""


def in_bounds(path: Path) -> str:
    """What reading a workbook says, in a process with 2 GiB of memory and a minute of processor."""
    done = subprocess.run(
        [sys.executable, "-c", HOSTILE, str(path)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(Path(wl.__file__).parents[1])},
        stdin=subprocess.DEVNULL,
    )
    return done.stdout


def with_sheet(path: Path, body: bytes) -> Path:
    """A workbook whose only sheet has these rows after a good one."""
    book = openpyxl.Workbook()
    book.active.append(HEADER.split(","))
    book.active.append(["A", "Testville", 1, 1, "propane"])
    book.save(path)
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = "xl/worksheets/sheet1.xml"
    parts[name] = parts[name].replace(b"</sheetData>", body + b"</sheetData>")
    return packed(path, parts)


def test_a_million_empty_rows_take_bounded_memory_and_time(tmp_path: Path) -> None:
    rows = b"".join(b'<row r="%d" ht="15"><c r="A%d" s="0"/></row>' % (r, r) for r in range(3, 300_000))
    assert in_bounds(with_sheet(tmp_path / "a.xlsx", rows)) == "1\n"


def test_numbers_beyond_64_bits_stay_what_they_are(tmp_path: Path, program: wl.Program) -> None:
    big = 12345678901234567890
    book = openpyxl.Workbook()
    book.active.append([*household(), "account", "mixed"])
    book.active.append([*household(4711).values(), 4711, 7])
    book.active.append([*household(3).values(), 5, "x"])
    book.save(tmp_path / "a.xlsx")
    with zipfile.ZipFile(tmp_path / "a.xlsx") as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = "xl/worksheets/sheet1.xml"
    parts[name] = parts[name].replace(b"<v>4711</v>", f"<v>{big}</v>".encode())
    packed(tmp_path / "a.xlsx", parts)
    found = wl.screen(tmp_path / "a.xlsx", program, detail="monthly", progress=False, keep=True)
    assert found["household_id"].tolist() == [str(big), "3"]
    assert found["account"].tolist() == [pytest.approx(float(big)), 5.0]
    assert found["mixed"].tolist() == ["7", "x"]
