"""The command line, run as a user runs it."""

import io
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
import warmledger as wl
from warmledger.outputs import outputs

PACKAGE_FOLDER = str(Path(wl.__file__).parent.parent)
GOOD = "A,Testville,4,50000,electricity"
BAD = "B,Testville,-1,50000,electricity"


def run(*arguments: object, stdin: bytes = b"", **environment: str) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "warmledger", *map(str, arguments)]
    variables = {**os.environ, "PYTHONPATH": PACKAGE_FOLDER, **environment}
    return subprocess.run(command, input=stdin, capture_output=True, env=variables, timeout=120)


def with_signals() -> None:
    """In the child: signals work, also where whoever started the tests ignores them, as for a job in the background."""
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_DFL)


def one_line(done: subprocess.CompletedProcess[bytes]) -> str:
    """The single line of a run that could not start."""
    assert done.returncode == 2, done.stderr.decode()
    assert done.stdout == b""
    lines = done.stderr.decode().splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("warmledger: ")
    return lines[0]


def left_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_all_good(csv_file: Callable[..., Path], program_file: Path, tmp_path: Path) -> None:
    outs = [tmp_path / "r.xlsx", tmp_path / "r.csv"]
    done = run("screen", csv_file(GOOD), "--program", program_file, "--out", outs[0], "--out", outs[1])
    assert done.returncode == 0, done.stderr.decode()
    assert done.stderr == b""
    text = done.stdout.decode()
    assert "Test program of an invented town" in text
    assert "Everything here is invented." in text
    assert "all                      1" in text
    assert all(f"written: {out}" in text for out in outs)
    assert "no lending, tax or legal advice" in text
    assert pd.read_csv(outs[1])["household_id"].tolist() == ["A"]
    assert openpyxl.load_workbook(outs[0])["Households"]["A2"].value == "A"
    assert left_in(tmp_path) == {"sheet.csv", "program.toml", "r.xlsx", "r.csv"}


def test_some_bad(csv_file: Callable[..., Path], program_file: Path, tmp_path: Path) -> None:
    lines = [GOOD] + [BAD.replace("B,", f"B{i},") for i in range(25)]
    sheet = csv_file(*lines)
    done = run("screen", sheet, "--program", program_file, "--out", tmp_path / "r.csv", "--quiet")
    assert done.returncode == 3
    assert done.stdout == b""
    told = done.stderr.decode().splitlines()
    assert len(told) == 22
    where = f"{sheet}, row 2 (row 3 of the file), occupants"
    assert told[0] == f"{where}: -1 is out of range; allowed: a whole number, 1 to 20 persons"
    assert told[20] == "... and 5 more problems; all stand in the results"
    assert told[21] == "25 bad rows"
    assert len(pd.read_csv(tmp_path / "r.csv")) == 26


def test_unknown_column_is_noted(csv_file: Callable[..., Path], program_file: Path) -> None:
    sheet = csv_file(GOOD + ",x", header="household_id,place,occupants,yearly_income_usd,heater_fuel,tenur")
    done = run("screen", sheet, "--program", program_file, "--out", "-", "--quiet")
    assert done.returncode == 0
    assert (
        done.stderr.decode() == f"note: {sheet}, column 'tenur' is not known and was not used (did you mean tenure?)\n"
    )


def test_standard_input_to_standard_output(csv_file: Callable[..., Path], program_file: Path) -> None:
    done = run("screen", "-", "--program", program_file, "--out", "-", stdin=csv_file(GOOD, BAD).read_bytes())
    assert done.returncode == 3
    frame = pd.read_csv(io.BytesIO(done.stdout))
    assert frame["household_id"].tolist() == ["A", "B"]
    assert "standard input, row 2 (row 3 of the file), occupants" in done.stderr.decode()


def test_threads_give_the_same_bytes(program_file: Path, csv_file: Callable[..., Path], tmp_path: Path) -> None:
    sheet = csv_file(*(f"H{i},Testville,{1 + i % 8},{i * 300},propane" for i in range(300)))
    raw = []
    for threads in (1, 3):
        out = tmp_path / f"r{threads}.csv"
        assert run("screen", sheet, "--program", program_file, "--out", out, "--threads", threads).returncode == 0
        raw.append(out.read_bytes())
    assert raw[0] == raw[1]


@pytest.mark.parametrize(
    ("out", "words"),
    [
        ("none/r.csv", "its folder does not exist"),
        ("r.ods", "is a kind of file that is not written; allowed: .csv, .xlsx, .parquet"),
        ("r", "is a kind of file that is not written"),
        ("there.csv", "stands there already; allowed: a new name, or --force to replace it"),
        ("folder.csv", "is a folder"),
        ("sheet.csv", "is an input of this run"),
    ],
)
def test_outputs_are_checked_before_the_work(
    tmp_path: Path, program_file: Path, csv_file: Callable[..., Path], out: str, words: str
) -> None:
    sheet = csv_file(GOOD)
    (tmp_path / "there.csv").write_text("precious")
    (tmp_path / "folder.csv").mkdir()
    before = left_in(tmp_path)
    good = tmp_path / "good.csv"
    # The sheet does not exist, which would be found later.
    wrong_sheet = sheet if out == "sheet.csv" else tmp_path / "no such sheet.csv"
    line = one_line(run("screen", wrong_sheet, "--program", program_file, "--out", good, "--out", tmp_path / out))
    assert out in line
    assert words in line
    assert left_in(tmp_path) == before
    assert (tmp_path / "there.csv").read_text() == "precious"


def test_force_replaces_but_never_an_input(tmp_path: Path, program_file: Path, csv_file: Callable[..., Path]) -> None:
    sheet, out = csv_file(GOOD), tmp_path / "r.csv"
    out.write_text("old")
    assert run("screen", sheet, "--program", program_file, "--out", out, "--force").returncode == 0
    assert out.read_text().startswith("household_id,decision,reason")
    line = one_line(run("screen", sheet, "--program", program_file, "--out", sheet, "--force"))
    assert "is an input of this run" in line


def test_a_run_that_fails_leaves_the_old_file(tmp_path: Path, program_file: Path) -> None:
    out = tmp_path / "r.csv"
    out.write_text("old")
    line = one_line(run("screen", tmp_path / "none.csv", "--program", program_file, "--out", out, "--force"))
    assert "none.csv: cannot be read" in line
    assert out.read_text() == "old"
    assert left_in(tmp_path) == {"r.csv", "program.toml"}


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_folder_without_permission(tmp_path: Path, program_file: Path, csv_file: Callable[..., Path]) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o500)
    line = one_line(run("screen", csv_file(GOOD), "--program", program_file, "--out", closed / "r.csv"))
    assert "cannot be written (Permission denied)" in line


def test_unwritable_place() -> None:
    line = one_line(run("screen", "x.csv", "--program", "x.toml", "--out", "/proc/r.csv"))
    assert "/proc/r.csv: cannot be written" in line


def test_program_error_names_line_and_key(tmp_path: Path, program_file: Path, csv_file: Callable[..., Path]) -> None:
    program_file.write_text(program_file.read_text().replace("study_years = 20", "study_years = 500"))
    line = one_line(run("screen", csv_file(GOOD), "--program", program_file, "--out", tmp_path / "r.csv"))
    assert "program.toml, line 4, study_years: 500 is out of range; allowed: a whole number, 1 to 50 years" in line


def test_details_are_the_two_there_are(tmp_path: Path, program_file: Path, csv_file: Callable[..., Path]) -> None:
    out = tmp_path / "r.csv"
    sheet = csv_file(GOOD)
    fractions = []
    for detail in ("hourly", "monthly"):
        run("screen", sheet, "--program", program_file, "--out", out, "--force", "--detail", detail)
        fractions.append(pd.read_csv(out)["solar_fraction_pct"].dropna().iloc[0])
    assert fractions[0] != fractions[1]
    arguments = ["--program", program_file, "--out", out, "--force", "--detail", "weekly"]
    assert "weekly" in one_line(run("screen", sheet, *arguments))


def test_workbook_with_a_named_sheet(tmp_path: Path, program_file: Path) -> None:
    book = openpyxl.Workbook()
    book.create_sheet("homes").append(["household_id", "place", "occupants", "yearly_income_usd", "heater_fuel"])
    book["homes"].append(["A", "Testville", 4, 50000.5, "electricity"])
    book.save(tmp_path / "in.xlsx")
    arguments = [tmp_path / "in.xlsx", "--program", program_file, "--out", tmp_path / "r.csv"]
    assert "is empty" in one_line(run("screen", *arguments))
    assert run("screen", *arguments, "--sheet", "homes").returncode == 0


def test_check_writes_nothing(tmp_path: Path, program_file: Path, csv_file: Callable[..., Path]) -> None:
    sheet = csv_file(GOOD, BAD, "C,Nowhere,4,50000,electricity")
    before = left_in(tmp_path)
    done = run("check", sheet, "--program", program_file)
    assert done.returncode == 3
    lines = done.stdout.decode().splitlines()
    assert "row 2 (row 3 of the file), occupants: -1" in lines[0]
    assert "row 3 (row 4 of the file), place" in lines[1]
    assert lines[2] == "3 rows, 2 bad"
    assert left_in(tmp_path) == before
    assert run("check", csv_file(GOOD), "--program", program_file).returncode == 0
    assert b"places and packages were not checked" in run("check", csv_file(GOOD)).stdout


def test_appraise_prints_a_page(tmp_path: Path, program_file: Path, csv_file: Callable[..., Path]) -> None:
    sheet = csv_file(
        GOOD, "=1+1,Testville,2,9000,propane", BAD, GOOD.replace("A,", "twice,"), GOOD.replace("A,", "twice,")
    )
    arguments = [sheet, "--program", program_file, "--id"]
    done = run("appraise", *arguments, "=1+1", "--out", tmp_path / "a.json")
    assert done.returncode == 0, done.stderr.decode()
    text = done.stdout.decode()
    for words in (
        "Household =1+1: ",
        "Net cost",
        "Town rebate",
        "Ten years at 4 %",
        "Cautions",
        "scald",
        "Assumed, because",
        "Local codes and licensed practice",
    ):
        assert words in text
    assert json.loads((tmp_path / "a.json").read_text(encoding="utf-8"))["summary"]["household_id"] == "=1+1"
    assert run("appraise", *arguments, "A", "--out", tmp_path / "a.csv", "--exact").returncode == 0
    assert "amount_usd" in (tmp_path / "a.csv").read_text()
    assert "did you mean A?" in one_line(run("appraise", *arguments, "AA"))
    assert "stands in rows 4, 5" in one_line(run("appraise", *arguments, "twice"))
    assert "row 3, occupants: -1" in one_line(run("appraise", *arguments, "B"))


def test_appraise_writes_a_worksheet_of_a_loan(
    tmp_path: Path, program_file: Path, csv_file: Callable[..., Path]
) -> None:
    arguments = [csv_file(GOOD), "--program", program_file, "--id", "A", "--worksheet"]
    done = run("appraise", *arguments, tmp_path / "offer.xlsx", "--loan", "ten-years")
    assert done.returncode == 0, done.stderr.decode()
    assert f"written: {tmp_path / 'offer.xlsx'}" in done.stdout.decode()
    assert openpyxl.load_workbook(tmp_path / "offer.xlsx").sheetnames
    before = left_in(tmp_path)
    assert "stands there already" in one_line(run("appraise", *arguments, tmp_path / "offer.xlsx"))
    assert "nobody" in one_line(run("appraise", *arguments, tmp_path / "b.xlsx", "--loan", "nobody"))
    assert left_in(tmp_path) == before


def test_columns_prints_the_tables(tmp_path: Path) -> None:
    for table, words in (
        ("household", "| `roof_pitch_rise_in_12` |"),
        ("program", "study_years"),
        ("results", "| net_cost_usd |"),
    ):
        done = run("columns", table)
        assert done.returncode == 0
        assert words in done.stdout.decode()
    assert run("columns", "--write", tmp_path).returncode == 0
    assert left_in(tmp_path) == set(wl.documentation.pages())


@pytest.mark.parametrize("command", [[], ["screen"], ["check"], ["appraise"], ["columns"]])
def test_help(command: list[str]) -> None:
    done = run(*command, "--help")
    assert done.returncode == 0
    assert "exit status:" in done.stdout.decode()
    if command:
        assert "python -m warmledger " + command[0] in done.stdout.decode().split("example")[1]


def test_wrong_usage_is_status_2() -> None:
    assert run().returncode == 2
    assert run("screen", "x.csv").returncode == 2
    assert b"'0' is not allowed" in run("screen", "x", "--program", "p", "--out", "o", "--threads", "0").stderr


@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_closed_pipe_leaves_no_traceback(program_file: Path, csv_file: Callable[..., Path], unbuffered: str) -> None:
    sheet = csv_file(*(f"H{i},Testville,4,50000,propane" for i in range(400)))
    environment = {**os.environ, "PYTHONPATH": PACKAGE_FOLDER, "PYTHONUNBUFFERED": unbuffered}
    command = [sys.executable, "-m", "warmledger", "screen", str(sheet), "--program", str(program_file), "--out", "-"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.read(100)
        process.stdout.close()
        told = process.stderr.read().decode()
        assert process.wait(60) == 141
    assert "Traceback" not in told
    assert "Error" not in told


@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGHUP, 129)])
def test_ctrl_c_leaves_no_half_file(
    program_file: Path, csv_file: Callable[..., Path], tmp_path: Path, number: int, status: int
) -> None:
    sheet = csv_file(*(f"H{i},Testville,{1 + i % 9},{i},propane" for i in range(60_000)))
    out = tmp_path / "r.xlsx"
    environment = {**os.environ, "PYTHONPATH": PACKAGE_FOLDER}
    command = [
        sys.executable,
        "-m",
        "warmledger",
        "screen",
        str(sheet),
        "--program",
        str(program_file),
        "--out",
        str(out),
    ]
    with subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment,
        preexec_fn=with_signals,
    ) as process:
        assert process.stderr is not None
        deadline = time.monotonic() + 60
        while not any(name.endswith(".part.xlsx") for name in left_in(tmp_path)):
            assert time.monotonic() < deadline
            time.sleep(0.005)
        time.sleep(0.2)
        process.send_signal(number)
        told = process.stderr.read().decode()
        assert process.wait(60) == status
    assert told == "warmledger: stopped, nothing written\n"
    assert left_in(tmp_path) == {"sheet.csv", "program.toml"}


def test_an_interrupt_while_files_are_written_leaves_none(tmp_path: Path) -> None:
    (tmp_path / "b.csv").write_text("old")
    files = [str(tmp_path / "a.csv"), str(tmp_path / "b.csv")]

    def write_and_stop() -> None:
        with outputs(files, force=True) as prepared:
            Path(prepared[0].temporary).write_text("half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_and_stop()
    assert left_in(tmp_path) == {"b.csv"}
    assert (tmp_path / "b.csv").read_text() == "old"
    with outputs(files, force=True) as prepared:
        for output in prepared:
            Path(output.temporary).write_text("new")
    assert left_in(tmp_path) == {"a.csv", "b.csv"}
    assert (tmp_path / "b.csv").read_text() == "new"


def test_a_file_that_appears_meanwhile_is_not_replaced(tmp_path: Path) -> None:
    files = [str(tmp_path / "a.csv"), str(tmp_path / "b.csv")]
    with pytest.raises(wl.errors.Contradiction, match="stands there already"), outputs(files, force=False):
        (tmp_path / "b.csv").write_text("another's")
    assert left_in(tmp_path) == {"b.csv"}
    assert (tmp_path / "b.csv").read_text() == "another's"


def test_closed_standard_streams(program_file: Path, csv_file: Callable[..., Path], tmp_path: Path) -> None:
    """A job may be started with no standard input or output at all."""
    out = tmp_path / "r.csv"
    words = [sys.executable, "-m", "warmledger", "screen", str(csv_file(GOOD)), "--program", str(program_file)]
    environment = {**os.environ, "PYTHONPATH": PACKAGE_FOLDER}
    for shell, status in ((f"--out '{out}' <&- >&-", 0), (f"--out '{out}' --force 2>&-", 0)):
        line = " ".join(f"'{word}'" for word in words) + " " + shell
        assert subprocess.run(["sh", "-c", line], env=environment, timeout=120).returncode == status
    assert pd.read_csv(out)["household_id"].tolist() == ["A"]
    line = f"'{sys.executable}' -m warmledger check - <&-"
    done = subprocess.run(["sh", "-c", line], env=environment, capture_output=True, timeout=120)
    assert "standard input: is closed" in one_line(done)


def test_import_is_light() -> None:
    """Nothing heavy is loaded before it is needed."""
    heavy = ["pandas", "openpyxl", "matplotlib", "tqdm", "xlsxwriter"]
    code = f"import sys, warmledger; print([name for name in {heavy} if name in sys.modules])"
    environment = {**os.environ, "PYTHONPATH": PACKAGE_FOLDER}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=environment, check=True)
    assert done.stdout == "[]\n"


def test_a_slow_reader_gets_everything(program_file: Path, csv_file: Callable[..., Path]) -> None:
    """More than a pipe holds at once, with and without Python's own buffer."""
    sheet = csv_file(*(f"H{i},Testville,4,50000,propane" for i in range(400)))
    arguments = ["screen", sheet, "--program", program_file, "--out", "-", "--quiet"]
    raw = [run(*arguments, PYTHONUNBUFFERED=value).stdout for value in ("", "1")]
    assert len(raw[0]) > 200_000
    assert raw[0] == raw[1]
    assert len(pd.read_csv(io.BytesIO(raw[0]))) == 400
