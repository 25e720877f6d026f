"""Writes what this Python's warmledger offers and computes, for comparing two installations byte by byte.

usage: same_results.py OUT
"""

import subprocess
import sys
import tempfile
from pathlib import Path

import warmledger
from warmledger import _core


def main(out: Path) -> None:
    lines = [f"warmledger: {name}" for name in sorted(dir(warmledger)) if not name.startswith("_")]
    lines += [f"_core: {name}" for name in sorted(dir(_core)) if not name.startswith("__")]
    data = Path(warmledger.__file__).parent / "data"
    lines += [
        f"data: {path.relative_to(data).as_posix()}: {path.stat().st_size} bytes"
        for path in sorted(data.rglob("*"))
        if path.suffix in (".csv", ".md", ".toml")  # not the scripts and the picture of the source tree
    ]
    demo = data / "demo"
    with tempfile.TemporaryDirectory() as folder:
        results = Path(folder) / "results.csv"
        command = [sys.executable, "-m", "warmledger", "screen", str(demo / "households.csv")]
        command += ["--program", str(demo / "program.toml"), "--out", str(results), "--quiet"]
        status = subprocess.run(command, stdin=subprocess.DEVNULL).returncode
        if status not in (0, 3):  # 3: some rows are bad, and the demo sheet has bad ones on purpose
            sys.exit(f"the demo county could not be screened: exit status {status}")
        lines += [f"exit status {status}", results.read_text(encoding="utf-8")]
    out.write_text("\n".join(lines), encoding="utf-8")


main(Path(sys.argv[1]))
