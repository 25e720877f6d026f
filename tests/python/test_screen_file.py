"""Sheets of any length: the same results as a screening of the whole sheet, in memory that does not grow with it."""

import csv
import gzip
import io
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import warmledger as wl
from conftest import HEADER, PROGRAM, ROOT, household
from hypothesis import given, settings
from hypothesis import strategies as st
from warmledger import _core, meter, sources

sys.path.insert(0, str(ROOT / "tests" / "bench"))
from make_sheet import make_sheet, write_sheet

DEMO = wl.data_dir() / "demo"


def saved(results: pd.DataFrame, path: Path) -> bytes:
    wl.save_results(results, path)
    return path.read_bytes()


def test_the_demo_county_comes_out_to_the_byte(tmp_path: Path) -> None:
    whole = wl.screen(DEMO / "households.csv", DEMO / "program.toml", progress=False)
    out = tmp_path / "part.csv"
    done = wl.screen_file(DEMO / "households.csv", DEMO / "program.toml", out, batch_rows=117, progress=False)
    assert out.read_bytes() == saved(whole, tmp_path / "whole.csv")
    assert (done.rows, done.bad_rows) == (400, 12)
    assert done.decisions == whole["decision"].value_counts().to_dict()
    problems = pd.read_csv(done.problems, keep_default_na=False)
    assert problems["sentence"].tolist() == [problem["sentence"] for problem in whole.attrs["problems"]]
    assert problems["file_row"].tolist() == [problem["file_row"] for problem in whole.attrs["problems"]]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["part.csv", "part.csv.problems.csv", "whole.csv"]


ODD_SHEETS = {
    "blank lines, a title above the header, blank cells beyond it": (
        f"A title\n\n{HEADER}\nA,Testville,4,50000,electricity,,\n\n,,,\nB,Testville,2,40000,electricity\n\n\n,,\n"
    ),
    "line ends of two kinds, byte-order mark": (
        f"\ufeff{HEADER}\r\nA,Testville,4,50000,electricity\r\nB,Testville,4,50000,electricity\rC,Testville,1,1,propane"
    ),
    "cells too few and too many": (
        f"{HEADER}\nA,Testville,4\nB,Testville,4,50000,electricity,x\nC,Testville,4,50000,propane\n"
    ),
    "quotes": (
        f'{HEADER}\n"A, ""the first""",Testville,4,50000,electricity\n"B\nC",Testville,4,50000,electricity\n'
        'D"d,Testville,1,9,propane\n'
    ),
    "percent signs": (
        f"{HEADER},shading_pct\nA,Testville,4,50000,electricity,25 %\nB,Testville,4,50000,electricity,7%\n"
    ),
    "the same household twice, far apart": f"{HEADER}\n"
    + "".join(f"H{i % 9},Testville,{1 + i % 5},50000,electricity\n" for i in range(12)),
    "columns of one's own": (
        f'{HEADER},visit,"a, b"\nA,Testville,4,50000,electricity,2026-01-05,"x, y"\nB,Testville,4,5,propane,,\n'
    ),
}


@pytest.mark.parametrize("text", ODD_SHEETS.values(), ids=ODD_SHEETS.keys())
@pytest.mark.parametrize("batch_rows", [1, 3, 100])
@pytest.mark.filterwarnings("ignore::warmledger.UnknownColumnWarning")
def test_odd_sheets_come_out_to_the_byte(text: str, batch_rows: int, program: wl.Program, tmp_path: Path) -> None:
    source, out = tmp_path / "sheet.csv", tmp_path / "out.csv"
    source.write_bytes(text.encode())
    whole = wl.screen(source, program, detail="monthly", progress=False, keep=True)
    wl.screen_file(source, program, out, detail="monthly", batch_rows=batch_rows, progress=False, keep=True)
    assert out.read_bytes() == saved(whole, tmp_path / "whole.csv")


@given(
    st.lists(st.lists(st.text(alphabet='ab ",\n\ré☀', max_size=5), min_size=1, max_size=4), min_size=1, max_size=6),
    st.integers(1, 9),
)
@settings(max_examples=150, deadline=None)
def test_csv_in_pieces_is_what_the_csv_module_reads(rows: list[list[str]], piece: int) -> None:
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n", quoting=csv.QUOTE_ALL).writerows(rows)
    raw = text.getvalue().encode()
    reader = _core.streaming.CsvRows("x.csv")
    for start in range(0, len(raw), piece):
        reader.push(raw[start : start + piece])
    reader.finish()
    expected = [row if any(row) else [] for row in csv.reader(io.StringIO(text.getvalue(), newline=""), strict=True)]
    while expected and not expected[-1]:
        expected.pop()
    assert reader.first(100) == expected


@given(st.text(alphabet='ab",\n\r', max_size=30))
@settings(max_examples=300, deadline=None)
def test_csv_that_is_none_is_refused_as_by_the_csv_module(text: str) -> None:
    reader = _core.streaming.CsvRows("x.csv")

    def read() -> None:
        for character in text:
            reader.push(character.encode())
        reader.finish()

    try:
        expected = [row if any(row) else [] for row in csv.reader(io.StringIO(text, newline=""), strict=True)]
    except csv.Error:
        with pytest.raises(wl.errors.MalformedText):
            read()
        return
    read()
    while expected and not expected[-1]:
        expected.pop()
    assert reader.first(100) == expected


@pytest.mark.parametrize(
    ("raw", "line", "what"),
    [
        (HEADER.encode() + b"\nA,Test\xffville,4,50000,electricity\n", 2, "is not UTF-8 (byte 0xFF)"),
        (HEADER.encode() + b"\nA,Test\0ville,4,50000,electricity\n", 2, "holds a NUL byte"),
        (HEADER.encode() + b'\nA,"Testville,4,50000,electricity\n', 3, "never closed"),
        (HEADER.encode() + b'\nA,"Test"ville,4,50000,electricity\n', 2, "expected after"),
        (b"", None, "is empty"),
        (HEADER.encode() + b"\n\n,,\n", None, "has a header but no rows"),
        (b"PK\x03\x04", None, "is a workbook"),
        (b"\xff\xfea", None, "is UTF-16"),
    ],
)
def test_a_file_that_is_no_sheet_is_refused(
    raw: bytes, line: int | None, what: str, program: wl.Program, tmp_path: Path
) -> None:
    source, out = tmp_path / "sheet.csv", tmp_path / "out.csv"
    source.write_bytes(raw)
    with pytest.raises(wl.errors.Error) as caught:
        wl.screen_file(source, program, out, detail="monthly", progress=False)
    assert what in caught.value.problem["what"]
    assert caught.value.problem["line"] == line
    assert not out.exists()


@pytest.mark.parametrize("value", [0.0, -0.0, 0.1, 12.0, 1e15, 1e16, 123456789.123, 1e-4, 1.5e-5, -2.5e300, 5e-324])
def test_numbers_are_written_as_pandas_writes_them(value: float) -> None:
    assert _core.streaming.number_text(value) == repr(value)


@given(st.floats(allow_nan=False, allow_infinity=False))
@settings(deadline=None)
def test_any_number_is_written_as_pandas_writes_it(value: float) -> None:
    assert _core.streaming.number_text(value) == repr(value)


def test_a_packed_sheet_and_threads_change_nothing(program: wl.Program, tmp_path: Path) -> None:
    places = ["724660", "724695", "Testville"]
    write_sheet(tmp_path / "sheet.csv", 60, places=places)
    with gzip.open(tmp_path / "sheet.csv.gz", "wb") as packed:
        packed.write((tmp_path / "sheet.csv").read_bytes())
    results = []
    for name, threads, rows in (("sheet.csv", 1, 60), ("sheet.csv.gz", 2, 60), ("sheet.csv", 3, 17)):
        out = tmp_path / f"out{threads}.csv"
        wl.screen_file(tmp_path / name, program, out, threads=threads, batch_rows=rows, progress=False)
        results.append(out.read_bytes())
    assert results[0] == results[1] == results[2]
    frame = pd.DataFrame(make_sheet(60, places=places))
    assert results[0] == saved(wl.screen(frame, program, progress=False).reset_index(drop=True), tmp_path / "whole.csv")


def test_pools_want_the_whole_sheet(tmp_path: Path) -> None:
    pool = '\n[[pool]]\nid = "pot"\ntitle = "Town money"\nusd = 5000\norder = "first_come"\n'
    program = wl.parse_program(PROGRAM.replace("flat_usd = 1000", 'flat_usd = 1000\npool = "pot"') + pool)
    source = tmp_path / "sheet.csv"
    source.write_text(f"{HEADER}\nA,Testville,4,50000,electricity\n")
    with pytest.raises(wl.errors.NotAvailable, match=r"pot.*whole sheet"):
        wl.screen_file(source, program, tmp_path / "out.csv")
    assert wl.screen(source, program, progress=False)["wait_listed"].notna().all()


def test_what_stands_there_is_not_replaced(program: wl.Program, tmp_path: Path) -> None:
    source, out = tmp_path / "sheet.csv", tmp_path / "out.csv"
    source.write_text(f"{HEADER}\nA,Testville,4,50000,electricity\n")
    out.write_text("mine")
    with pytest.raises(wl.errors.Contradiction, match="stands there already"):
        wl.screen_file(source, program, out, detail="monthly")
    assert out.read_text() == "mine"
    wl.screen_file(source, program, out, detail="monthly", overwrite=True, progress=False)
    assert out.read_text().startswith("household_id,decision")
    with pytest.raises(wl.errors.Contradiction, match="input of this run"):
        wl.screen_file(source, program, source, overwrite=True)


@pytest.mark.parametrize(
    ("changes", "kind"),
    [
        ({"batch_rows": 0}, wl.errors.ValueOutOfRange),
        ({"threads": 0}, wl.errors.ValueOutOfRange),
        ({"detail": "weekly"}, wl.errors.UnknownName),
        ({"keep": "nothing"}, wl.errors.UnknownName),
        ({"keep": "decision"}, wl.errors.UnknownName),
        ({"out": "results.xlsx"}, wl.errors.NotAvailable),
        ({"out": "nowhere/results.csv"}, wl.errors.FileUnreadable),
        ({"source": "sheet.txt"}, wl.errors.FileUnreadable),
        ({"source": "absent.csv"}, wl.errors.FileUnreadable),
    ],
)
def test_misuse_is_refused_before_any_work(
    changes: dict[str, object], kind: type[Exception], program: wl.Program, tmp_path: Path
) -> None:
    (tmp_path / "sheet.csv").write_text(f"{HEADER}\nA,Testville,4,50000,electricity\n")
    given = {"source": "sheet.csv", "out": "out.csv", **changes}
    source, out = tmp_path / str(given.pop("source")), tmp_path / str(given.pop("out"))
    with pytest.raises(kind):
        wl.screen_file(source, program, out, progress=False, **given)  # type: ignore[arg-type]
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.csv"]


def test_progress_tells_rows_and_a_guess_of_all(program: wl.Program, tmp_path: Path) -> None:
    source = tmp_path / "sheet.csv"
    source.write_text(f"{HEADER}\n" + "".join(f"{i},Testville,4,50000,electricity\n" for i in range(30)))
    told: list[tuple[int, int]] = []
    wl.screen_file(
        source,
        program,
        tmp_path / "out.csv",
        detail="monthly",
        batch_rows=10,
        progress=lambda done, expected: told.append((done, expected)),
    )
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert told[-1] == (30, 30)
    assert {expected for _, expected in told} == {30}  # a small file is read at once


def test_a_line_of_progress_has_rate_and_time_left() -> None:
    assert meter.line(500, 2000, 0, 50.0) == "500 of about 2,000 households (25%), 10.0 a second, 2 min left"
    assert meter.line(1500, 2000, 1000, 50.0) == "1,500 of about 2,000 households (75%), 10.0 a second, 50 s left"
    assert meter.line(500, None, 0, 50.0) == "500 households, 10.0 a second"
    assert meter.duration(10_000) == "2 h 47 min"


MEMORY = """
import resource, sys
import warmledger as wl
from make_sheet import write_sheet
folder, rows = sys.argv[1], int(sys.argv[2])
write_sheet(folder + "/sheet.csv", rows, places=["Testville"])
program = wl.load_program(folder + "/program.toml")
wl.screen_file(folder + "/sheet.csv", program, folder + f"/out{rows}.csv", detail="monthly", batch_rows=500,
               threads=2, progress=False, keep=True)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def test_ten_times_the_rows_take_the_same_memory(program_file: Path, tmp_path: Path) -> None:
    pytest.importorskip("resource")
    path = [str(Path(wl.__file__).parents[1]), str(ROOT / "tests" / "bench")]
    peak = []
    for rows in (2_000, 20_000):
        command = [sys.executable, "-c", f"import sys; sys.path[:0] = {path!r}\n{MEMORY}", str(tmp_path), str(rows)]
        peak.append(int(subprocess.run(command, check=True, stdin=subprocess.DEVNULL, capture_output=True).stdout))
    assert (tmp_path / "out20000.csv").stat().st_size > 60_000_000  # so much went through
    assert peak[1] < 1.15 * peak[0]


# ---- Arrow and Parquet, where pyarrow is installed ----


@pytest.fixture
def pa() -> object:
    return pytest.importorskip("pyarrow")


def typed(rows: int) -> pd.DataFrame:
    """A sheet with columns of several types."""
    frame = pd.DataFrame(make_sheet(rows, places=["Testville"]))
    frame["household_id"] = np.arange(1, rows + 1)
    frame["occupants"] = frame["occupants"].astype("int64")
    frame["yearly_income_usd"] = frame["yearly_income_usd"].astype("float64")
    frame["shading_pct"] = frame["shading_pct"].replace("", None).astype("float32")
    frame["tenure"] = frame["tenure"].replace("", None).astype("category")
    frame["ward"] = np.arange(rows) % 7
    return frame


@pytest.mark.parametrize("ending", [".parquet", ".arrow", ".feather"])
def test_arrow_files_are_screened_like_frames(ending: str, pa: object, program: wl.Program, tmp_path: Path) -> None:
    import pyarrow as arrow
    import pyarrow.parquet as pq

    frame = typed(90)
    source = tmp_path / f"sheet{ending}"
    table = arrow.Table.from_pandas(frame, preserve_index=False)
    if ending == ".parquet":
        pq.write_table(table, source, row_group_size=40)
    else:
        with arrow.ipc.new_file(source, table.schema) as writer:
            writer.write_table(table, max_chunksize=33)
    whole = wl.screen(frame, program, detail="monthly", progress=False, keep=True).reset_index(drop=True)
    for out_ending in (".parquet", ".csv"):
        out = tmp_path / f"out{out_ending}"
        wl.screen_file(source, program, out, detail="monthly", batch_rows=37, progress=False, keep=True)
        expected = saved(whole, tmp_path / f"whole{out_ending}")
        if out_ending == ".csv":
            assert out.read_bytes() == expected
        else:
            pd.testing.assert_frame_equal(pd.read_parquet(out), pd.read_parquet(tmp_path / "whole.parquet"))


def test_record_batches_give_record_batches(pa: object, program: wl.Program) -> None:
    import pyarrow as arrow

    frame = typed(50)
    table = arrow.Table.from_pandas(frame, preserve_index=False)
    whole = wl.screen(frame, program, detail="monthly", progress=False, keep="ward").reset_index(drop=True)
    for source in (table, table.to_batches(max_chunksize=7), table.to_reader(max_chunksize=11)):
        batches = list(wl.screen_batches(source, program, detail="monthly", keep="ward"))
        found = arrow.Table.from_batches(batches).to_pandas()
        pd.testing.assert_frame_equal(found, whole)


def test_one_identifier_in_two_batches_is_told(pa: object, program: wl.Program) -> None:
    import pyarrow as arrow

    rows = [household("A"), household("B"), household("A")]
    table = arrow.Table.from_pylist(rows)
    problems: list[dict[str, object]] = []
    found = list(
        wl.screen_batches(table.to_batches(max_chunksize=2), program, detail="monthly", on_problems=problems.extend)
    )
    assert [batch.num_rows for batch in found] == [2, 1]
    assert problems[0]["row"] == 3
    assert "already stands in row 1" in str(problems[0]["what"])


def test_text_of_arrow_columns_is_text_of_frames(pa: object) -> None:
    import pyarrow as arrow

    columns = [
        arrow.array([1.0, 0.1, None, float("nan"), -3.5, 1e15, 1e22, 1e-7]),
        arrow.array([1.0, 0.1, None, 2.5], arrow.float32()),
        arrow.array([True, False, None]),
        arrow.array([1, None, -(2**62)]),
        arrow.array(["a", None, ""]).dictionary_encode(),
        arrow.array([None, None]),
    ]
    for column in columns:
        series = column.to_pandas() if column.type == arrow.float32() else pd.Series(column.to_pylist(), dtype=object)
        expected = [sources.text_of(value) for value in series.array]
        found = [text or None for text in sources.text_column(column).to_pylist()]
        assert len(found) == len(expected)
        for one, other in zip(found, expected, strict=True):
            # Of very large and very small numbers Arrow writes the same digits in another form.
            assert one == other or float(one) == float(other) >= 1e15 or 0 < float(one) == float(other) < 1e-4


# ---- the command line ----


def told(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    from warmledger import cli

    status = cli.main(arguments)
    shown = capsys.readouterr()
    return status, shown.out, shown.err


def test_the_command_line_streams(
    program_file: Path, program: wl.Program, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source, out = tmp_path / "sheet.csv", tmp_path / "out.csv"
    source.write_text(f"{HEADER},ward\nA,Testville,4,50000,electricity,1\nB,Testville,none,50000,electricity,2\n")
    packed = tmp_path / "sheet.csv.gz"
    packed.write_bytes(gzip.compress(source.read_bytes()))
    common = ["--program", str(program_file), "--out", str(out), "--detail", "monthly"]
    status, shown, errors = told(["screen", str(packed), *common], capsys)  # part by part without being asked
    assert (status, out.exists()) == (3, True)
    assert "bad row" in shown
    assert f"1 bad row, listed in {out}.problems.csv" in errors
    assert "'ward' is not known" in errors
    streamed = out.read_bytes()
    assert told(["screen", str(source), *common, "--force"], capsys)[0] == 3
    assert out.read_bytes() == streamed
    assert told(["screen", str(source), *common, "--force", "--batch-rows", "1", "--quiet"], capsys)[1] == ""
    assert out.read_bytes() == streamed
    status, _, errors = told(["screen", str(source), *common, "--resume"], capsys)
    assert (status, "stands there already" in errors) == (2, True)


@pytest.mark.parametrize(
    "more", [["--out", "b.csv"], ["--report", "page.html"], ["--sheet", "first"]], ids=lambda more: more[0]
)
def test_what_does_not_go_part_by_part(
    more: list[str], program_file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ["screen", "sheet.csv", "--stream", "--program", str(program_file), "--out", str(tmp_path / "a.csv")]
    status, _, errors = told([*arguments, *more], capsys)
    assert status == 2
    assert f"{more[0]}: does not go with a screening part by part" in errors


@pytest.mark.parametrize("rows", ["0", "x", "2000000", "-1"])
def test_a_batch_has_a_sensible_size(rows: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        told(["screen", "sheet.csv", "--program", "p.toml", "--out", "a.csv", f"--batch-rows={rows}"], capsys)
    assert "1 to 1000000" in capsys.readouterr().err
