"""The functions for record batches as the body of Spark's mapInArrow and Ray's map_batches, in real workers."""

import subprocess
import sys
from pathlib import Path

import pytest

RUNS = Path(__file__).with_name("engine_runs.py")
COULD_NOT_START = 77


@pytest.mark.parametrize(("engine", "package"), [("spark", "pyspark"), ("ray", "ray")])
def test_results_are_those_of_one_process(engine: str, package: str) -> None:
    pytest.importorskip("pyarrow")
    pytest.importorskip(package)
    try:
        run = subprocess.run([sys.executable, RUNS, engine], capture_output=True, text=True, timeout=240)
    except subprocess.TimeoutExpired:
        pytest.skip(f"{package} did not end within four minutes here")
    if run.returncode == COULD_NOT_START:
        pytest.skip(run.stdout.splitlines()[-1][:200])
    assert run.returncode == 0, run.stderr[-2000:]
    assert run.stdout.splitlines()[-1] == "same"
