"""A spreadsheet program that is not ours: LibreOffice Calc, without a window, recalculates a workbook's formulas.

    values = recalculate(path)           # {"Sheet name": {"B3": 1854.02, ...}, ...}
    several = recalculate_all([a, b])    # the same for several workbooks in one start, which costs a second or two

Formulas come back as what Calc makes of them: numbers, text, dates, True or False; errors as text ("#DIV/0!"). Cells
without a value are left out. Cached values in the file are never trusted. Without LibreOffice the test is skipped.
"""

import atexit
import functools
import os
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

Values = dict[str, dict[str, Any]]

# Calc takes cached values of .xlsx files for granted unless its settings say "always recalculate" (0).
SETTINGS = """\
<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
    xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
  <prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
  <prop oor:name="ODFRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"""


def program() -> str:
    """The path of LibreOffice; skips the test where there is none."""
    for name in ("soffice", "localc", "libreoffice"):
        if path := shutil.which(name):
            return path
    pytest.skip("LibreOffice Calc (package libreoffice-calc-nogui) is not installed")


@functools.cache
def _profile() -> Path:
    """Settings of our own, so that neither the user's nor a running LibreOffice has a part in it."""
    folder = Path(tempfile.mkdtemp(prefix="calc-profile-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    (folder / "user").mkdir()
    (folder / "user" / "registrymodifications.xcu").write_text(SETTINGS, encoding="utf-8")
    return folder


def _run(command: list[str], timeout_seconds: float) -> None:
    environment = {**os.environ, "HOME": str(_profile()), "LC_ALL": "C.UTF-8"}
    environment.pop("PYTHONPATH", None)  # LibreOffice may start a Python of its own
    with subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        env=environment,
        start_new_session=True,
    ) as process:
        try:
            output, _ = process.communicate(timeout=timeout_seconds)
        except BaseException:
            # soffice is a script that starts the program: end the whole group that we started.
            os.killpg(process.pid, signal.SIGKILL)
            raise
    if process.returncode != 0:
        raise RuntimeError(f"LibreOffice ended with status {process.returncode}: {output.decode(errors='replace')}")


def recalculate_all(paths: Iterable[Path], *, timeout_seconds: float = 240) -> list[Values]:
    """The values of every workbook after Calc has recalculated it, in the order of `paths`."""
    soffice = program()
    with tempfile.TemporaryDirectory(prefix="calc-") as name:
        folder = Path(name)
        (folder / "out").mkdir()
        copies = []
        for number, path in enumerate(paths):
            copies.append(folder / f"{number}{path.suffix}")
            shutil.copyfile(path, copies[-1])
        _run(
            [
                soffice,
                f"-env:UserInstallation={_profile().as_uri()}",
                "--headless",
                "--norestore",
                "--nologo",
                "--convert-to",
                "xlsx",
                "--outdir",
                str(folder / "out"),
                *map(str, copies),
            ],
            timeout_seconds,
        )
        return [_values(folder / "out" / f"{copy.stem}.xlsx") for copy in copies]


def recalculate(path: Path, *, timeout_seconds: float = 240) -> Values:
    """The values of one workbook after Calc has recalculated it."""
    return recalculate_all([path], timeout_seconds=timeout_seconds)[0]


def _values(path: Path) -> Values:
    if not path.exists():
        raise RuntimeError(f"LibreOffice wrote no {path.name}: it could not read the workbook")
    book = openpyxl.load_workbook(path, data_only=True)
    try:
        return {
            sheet.title: {
                cell.coordinate: cell.value for row in sheet.iter_rows() for cell in row if cell.value is not None
            }
            for sheet in book.worksheets
        }
    finally:
        book.close()
