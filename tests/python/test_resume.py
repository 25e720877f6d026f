"""A run that is killed at any moment and resumed gives what an undisturbed one gives: nothing lost, nothing twice."""

import json
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import warmledger as wl
from conftest import HEADER, ROOT

sys.path.insert(0, str(ROOT / "tests" / "bench"))
from make_sheet import write_sheet

ROWS = 9000  # so many that no run comes to its end in the moment before it is killed
KILLS = 20


def command(source: Path, program: Path, out: Path, *more: str) -> list[str]:
    start = f"import sys; sys.path.insert(0, {str(Path(wl.__file__).parents[1])!r}); import warmledger.cli as c"
    arguments = ["screen", str(source), "--program", str(program), "--out", str(out), "--detail", "monthly", "--quiet"]
    return [sys.executable, "-c", f"{start}; sys.exit(c.main())", *arguments, "--batch-rows", "50", *more]


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sheets") / "sheet.csv"
    write_sheet(path, ROWS, places=["Testville", "724660"])
    lines = path.read_text(encoding="utf-8").splitlines()
    lines[2100] = lines[40]  # one household twice, in two batches: a resumed run must still know the first
    lines[2500] = lines[2500].replace("owner", "lodger", 1)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def rows_done(out: Path) -> int:
    try:
        return int(json.loads(Path(f"{out}.unfinished.json").read_bytes())["rows"])
    except FileNotFoundError:
        return -1


@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_killed_at_random_moments(ending: str, sheet: Path, program_file: Path, tmp_path: Path) -> None:
    if ending == ".parquet":
        pytest.importorskip("pyarrow")
    whole, out = tmp_path / f"whole{ending}", tmp_path / f"out{ending}"
    ran = subprocess.run(command(sheet, program_file, whole), stdin=subprocess.DEVNULL, capture_output=True, text=True)
    assert ran.returncode == 3, ran.stderr

    # Each run is let past a random number of checkpoints of what is left, then killed a moment of random length later:
    # within a batch, a write, a checkpoint. What a kill undid the next run does again.
    draw = random.Random(20261127)
    kills, before = 0, -1
    while kills < KILLS:
        process = subprocess.Popen(
            command(sheet, program_file, out, "--resume"),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        left = (ROWS - max(before, 0)) // (KILLS - kills + 4)
        target = max(before, 0) + draw.randrange(0, max(left, 1) + 1)
        while process.poll() is None and rows_done(out) < target:
            time.sleep(0.001)
        time.sleep(draw.random() * 0.01)
        assert process.poll() is None, process.stderr.read() if process.stderr else ""
        process.send_signal(signal.SIGKILL)
        process.communicate()
        kills += 1
        now = rows_done(out)
        assert now >= before  # a checkpoint is never taken back
        assert not out.exists()
        before = now
    ran = subprocess.run(
        command(sheet, program_file, out, "--resume"), stdin=subprocess.DEVNULL, capture_output=True, text=True
    )
    assert ran.returncode == 3, ran.stderr
    assert out.read_bytes() == whole.read_bytes()
    problems = [Path(f"{path}.problems.csv").read_bytes() for path in (out, whole)]
    assert problems[0] == problems[1]
    assert b"already stands in row 40" in problems[0]
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith("out")) == [
        f"out{ending}",
        f"out{ending}.problems.csv",
    ]


class StopError(Exception):
    pass


def broken(source: Path, program: wl.Program, out: Path, **settings: object) -> None:
    """A run that ends after its second batch."""

    def stop(done: int, _: object) -> None:
        if done > 20:
            raise StopError

    with pytest.raises(StopError):
        wl.screen_file(source, program, out, detail="monthly", batch_rows=10, progress=stop, **settings)  # type: ignore[arg-type]


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "small.csv"
    path.write_text(f"{HEADER},ward\n" + "".join(f"{i},Testville,4,50000,electricity,{i % 3}\n" for i in range(45)))
    return path


def test_a_broken_run_is_not_forgotten(small: Path, program: wl.Program, tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    broken(small, program, out, keep="ward")
    with pytest.raises(wl.errors.Contradiction, match="--resume"):
        wl.screen_file(small, program, out, detail="monthly", batch_rows=10, keep="ward")
    done = wl.screen_file(
        small, program, out, detail="monthly", batch_rows=10, keep="ward", resume=True, progress=False
    )
    assert (done.resumed_rows, done.rows) == (20, 45)
    whole = wl.screen(small, program, detail="monthly", progress=False, keep="ward")
    wl.save_results(whole, tmp_path / "whole.csv")
    assert out.read_bytes() == (tmp_path / "whole.csv").read_bytes()
    assert done.problems is None
    assert not Path(f"{out}.problems.csv").exists()


@pytest.mark.filterwarnings("ignore::warmledger.UnknownColumnWarning")
def test_it_goes_on_only_with_the_same_inputs(small: Path, program: wl.Program, tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    broken(small, program, out)
    same: dict[str, object] = {"detail": "monthly", "batch_rows": 10, "resume": True, "progress": False}

    def refused(what: str, source: Path = small, by: wl.Program = program, **changes: object) -> None:
        with pytest.raises(wl.errors.Contradiction, match=what):
            wl.screen_file(source, by, out, **{**same, **changes})  # type: ignore[arg-type]

    refused("another value of detail", detail="hourly")
    refused("another value of batch_rows", batch_rows=11)
    refused("another value of keep", keep="ward")
    refused("the program file", by=program.changed({"study_years": 19}))
    text = small.read_text()
    small.write_text(text.replace("44,Testville,4", "44,Testville,5"))
    refused("the source: .*changed_ns")
    small.write_text(text + "45,Testville,4,50000,electricity,0\n")
    refused("the source: .*bytes")
    with open(f"{out}.unfinished", "r+b") as file:
        file.truncate(10)
    small.write_text(text)
    state = json.loads(Path(f"{out}.unfinished.json").read_text())
    state["of"]["source"]["changed_ns"] = small.stat().st_mtime_ns
    Path(f"{out}.unfinished.json").write_text(json.dumps(state))
    refused("missing or shorter than its checkpoint says")
    Path(f"{out}.unfinished.json").write_text("{")
    with pytest.raises(wl.errors.MalformedText, match="no checkpoint that can be read"):
        wl.screen_file(small, program, out, **same)  # type: ignore[arg-type]
    done = wl.screen_file(small, program, out, **{**same, "resume": False, "overwrite": True})  # type: ignore[arg-type]
    assert (done.rows, done.resumed_rows) == (45, 0)


def test_two_runs_do_not_write_one_file(small: Path, program: wl.Program, tmp_path: Path) -> None:
    pytest.importorskip("fcntl")
    out = tmp_path / "out.csv"

    def second(done: int, _: object) -> None:
        with pytest.raises(wl.errors.Contradiction, match="another run"):
            wl.screen_file(small, program, out, detail="monthly", overwrite=True, progress=False, keep=True)

    wl.screen_file(small, program, out, detail="monthly", progress=second, keep=True)
    assert len(out.read_text().splitlines()) == 46
