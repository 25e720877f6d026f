"""The benchmarks run, whatever they measure: the whole suite in its smallest sizes. Nothing here looks at a time."""

import json
import math
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
BENCH = ROOT / "tests" / "bench"
sys.path.insert(0, str(BENCH))

import harness  # noqa: E402  (it stands beside the benchmarks)

NAMES = [
    "import",
    "kernel",
    "hourly",
    "monthly",
    "appraise",
    "trials",
    "economics",
    "rates",
    "loans",
    "weather",
    "workbook",
    "rows",
]


def run(*words):
    done = subprocess.run(
        [sys.executable, str(BENCH / "run.py"), *words], capture_output=True, text=True, stdin=subprocess.DEVNULL
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def suite(tmp_path_factory):
    path = tmp_path_factory.mktemp("bench with a space") / "out.json"
    said = run("--quick", "--json", str(path), "--markdown", str(path.with_suffix(".md")))
    for line in path.with_suffix(".md").read_text(encoding="utf-8").splitlines():
        assert not line.startswith("|") or line.count("|") in (5, 6), line
    return said, json.loads(path.read_text())


def test_every_benchmark_runs_and_stands_in_the_table_and_the_json(suite):
    said, found = suite
    assert [bench["name"] for bench in found["benchmarks"]] == NAMES
    for bench in found["benchmarks"]:
        assert bench["title"] in said
        assert bench["rows"]
        for row in bench["rows"]:
            assert row["label"] in said
    assert {"processor", "cores", "system", "load_average_at_start", "python", "warmledger", "versions"} == set(
        found["machine"]
    )


def test_each_row_has_its_samples_or_the_reason_why_it_has_none(suite):
    _, found = suite
    for bench in found["benchmarks"]:
        for row in bench["rows"]:
            if "skipped" in row:
                assert "not installed" in row["skipped"] or "not built" in row["skipped"]
                continue
            samples = row["seconds_an_item"]
            assert samples
            assert all(math.isfinite(s) and s > 0 for s in samples)
            assert row["least"] <= row["median"] <= row["greatest"]
            if "ratio" in row:
                assert row["ratio"]["of"] == bench["base"]
                assert len(row["ratio"]["samples"]) == len(samples)
                assert row["ratio"]["least"] <= row["ratio"]["median"] <= row["ratio"]["greatest"]
        for target in bench["targets"]:
            assert target["bound"] in ("at_least", "at_most")
            assert target["reached"] in (True, False)


def test_what_needs_no_library_and_no_program_is_measured(suite):
    _, found = suite
    measured = {b["name"]: {r["label"] for r in b["rows"] if "skipped" not in r} for b in found["benchmarks"]}
    assert {"numpy", "warmledger"} <= measured["import"]
    assert {"plain NumPy", "screen, 1 thread"} <= measured["monthly"]
    assert "read_hourly, checked" in measured["weather"]
    assert {"monthly, 20 rows", "hourly, 4 rows"} <= measured["rows"]


def test_ratios_are_taken_turn_by_turn_and_skipped_rows_say_why():
    bench = harness.Bench("b", "A title", "an item", "slow")
    ticks = iter(range(1000))
    clock = lambda: float(next(ticks))  # noqa: E731
    harness.in_turns(
        bench,
        {"slow": lambda: [next(ticks) for _ in range(3)], "fast": lambda: None, "gone": "x is away"},
        {"slow": 1, "fast": 2},
        4,
        {"slow": clock, "fast": clock},
    )
    assert bench.row("slow").samples == [4.0] * 4
    assert bench.row("fast").samples == [0.5] * 4
    assert bench.ratios("fast") == [8.0] * 4
    bench.target("fast over slow", "at_least", 9, bench.ratio("fast"))
    assert not bench.as_dict()["targets"][0]["reached"]
    said = harness.table(bench)
    assert "8 x (8 to 8)" in said
    assert "skipped: x is away" in said
    assert "at least 9, measured 8: MISSED" in said


def test_one_benchmark_by_name(tmp_path):
    run("--quick", "--only", "loans", "--json", str(tmp_path / "one.json"))
    assert [b["name"] for b in json.loads((tmp_path / "one.json").read_text())["benchmarks"]] == ["loans"]
