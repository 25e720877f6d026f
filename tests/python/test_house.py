"""The rules of the house that a machine can check: floors, the top level, headers that stand alone, small files."""

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LIB = ROOT / "lib" / "warmledger"

# A room includes only itself and rooms on lower floors.
FLOORS = {
    "units": 1,
    "errors": 1,
    "money": 2,
    "dates": 2,
    "climate": 3,
    "prices": 3,
    "loans": 3,
    "economics": 3,
    "hotwater": 4,
    "incentives": 4,
    "catalog": 5,
    "ledger": 5,
    "appraisal": 6,
    "screening": 7,
    "whatif": 8,
}

TOP_LEVEL = {
    "CMakeLists.txt",
    "DEVELOPERS.md",
    "README.md",
    "bindings",
    "data",
    "lib",
    "notebooks",
    "pyproject.toml",
    "tests",
}

LARGEST_BYTES = 100_000  # outside data/

INCLUDE = re.compile(r'^\s*#\s*include\s+"warmledger/(\w+)/([\w./]+)"', re.MULTILINE)


def tracked_files() -> list[str]:
    """Paths that git knows, from the root; skips where this is not a git clone."""
    if shutil.which("git") is None or not (ROOT / ".git").exists():
        pytest.skip("not a git clone, or git is not installed")
    # The clone may belong to another user than the one who runs the tests.
    command = ["git", "-c", f"safe.directory={ROOT}", "-C", str(ROOT), "ls-files", "-z"]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    return [path for path in run.stdout.split("\0") if path]


def includes(path: Path) -> Iterator[tuple[str, str]]:
    """(room, file) of each include of ours."""
    for match in INCLUDE.finditer(path.read_text(encoding="utf-8")):
        yield match.group(1), match.group(2)


def library_files() -> list[Path]:
    return sorted(path for path in LIB.rglob("*") if path.suffix in (".hpp", ".cpp"))


def test_every_room_has_a_floor() -> None:
    rooms = {path.name for path in LIB.iterdir() if path.is_dir()}
    assert rooms, "no rooms found"
    assert rooms <= set(FLOORS), f"rooms without a floor: {sorted(rooms - set(FLOORS))}"
    assert not [path.name for path in LIB.iterdir() if path.is_file()], "a file stands outside the rooms"


def test_rooms_include_only_lower_floors() -> None:
    wrong = []
    for path in library_files():
        room = path.relative_to(LIB).parts[0]
        for other, name in includes(path):
            if other != room and FLOORS[other] >= FLOORS[room]:
                floors = f"floor {FLOORS[room]} includes floor {FLOORS[other]}"
                wrong.append(f"{path.relative_to(ROOT)} includes {other}/{name}: {floors}")
    assert not wrong, "\n".join(wrong)


def test_includes_of_ours_name_the_room() -> None:
    """Every include in quotes starts with warmledger/, so that the check of the floors sees it."""
    quoted = re.compile(r'^\s*#\s*include\s+"(?!warmledger/\w+/)([^"]*)"', re.MULTILINE)
    wrong = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in library_files()
        for name in quoted.findall(path.read_text(encoding="utf-8"))
    ]
    assert not wrong, "\n".join(wrong)


def first_include_is(path: Path, header: Path) -> bool:
    match = re.search(r"^\s*#\s*include\s+(\S+)", path.read_text(encoding="utf-8"), re.MULTILINE)
    return match is not None and match.group(1) == f'"{header.relative_to(LIB.parent).as_posix()}"'


def test_every_header_compiles_alone() -> None:
    """A header that its own .cpp includes before anything else is proved by the build; the others are compiled here."""
    compiler = os.environ.get("CXX") or shutil.which("g++") or shutil.which("c++")
    assert compiler, "no C++ compiler"
    headers = sorted(LIB.rglob("*.hpp"))
    assert headers
    rest = [
        header
        for header in headers
        if not (header.with_suffix(".cpp").is_file() and first_include_is(header.with_suffix(".cpp"), header))
    ]

    def compile_alone(header: Path) -> str:
        command = [compiler, "-std=c++20", "-fsyntax-only", "-Wall", "-Wextra", "-Werror", "-I", str(LIB.parent)]
        # As a main file, a header would warn about its own #pragma once.
        line = f'#include "{header.relative_to(LIB.parent).as_posix()}"\n'
        run = subprocess.run([*command, "-x", "c++", "-"], input=line, capture_output=True, text=True)
        return "" if run.returncode == 0 else f"{header.relative_to(ROOT)}:\n{run.stderr}"

    with ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        failures = [text for text in pool.map(compile_alone, rest) if text]
    assert not failures, "\n".join(failures)


def test_every_header_has_pragma_once() -> None:
    wrong = [str(path) for path in LIB.rglob("*.hpp") if "#pragma once" not in path.read_text(encoding="utf-8")]
    assert not wrong, wrong


def test_top_level_holds_only_what_belongs_there() -> None:
    top = {path.split("/", 1)[0] for path in tracked_files()}
    extra = {name for name in top if not name.startswith(".")} - TOP_LEVEL
    assert not extra, f"not allowed at the top level: {sorted(extra)}"


def test_files_are_small() -> None:
    large = [
        f"{name}: {(ROOT / name).stat().st_size} bytes"
        for name in tracked_files()
        if not name.startswith("data/") and (ROOT / name).is_file() and (ROOT / name).stat().st_size > LARGEST_BYTES
    ]
    assert not large, f"larger than {LARGEST_BYTES} bytes and not data: {large}"
