"""clang-tidy over lib/ and bindings/; a file is looked at again only when it, or a project header it includes, changed.

usage: tidy.py ROOT BUILD JOBS
"""

import hashlib
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path


def own_headers(path: Path, lib: Path, seen: set[Path]) -> set[Path]:
    """`path` and every header of ours that it includes, directly or not."""
    if path not in seen and path.is_file():
        seen.add(path)
        for name in re.findall(r'^\s*#\s*include\s+"([^"]+)"', path.read_text(), re.MULTILINE):
            for candidate in (lib / name, path.parent / name):
                own_headers(candidate, lib, seen)
    return seen


def main(root: Path, build: Path, jobs: int) -> int:
    lib = root / "lib"
    sources = sorted([*lib.rglob("*.cpp"), *(root / "bindings").glob("*.cpp")])
    version = subprocess.run(["clang-tidy", "--version"], capture_output=True, text=True, check=True).stdout
    common = version + (root / ".clang-tidy").read_text() + (root / "CMakeLists.txt").read_text()
    cache = build / "tidy"
    cache.mkdir(parents=True, exist_ok=True)

    def look(source: Path) -> tuple[Path, bool, str]:
        digest = hashlib.sha256(common.encode())
        for file in sorted(own_headers(source, lib, set())):
            digest.update(file.relative_to(root).as_posix().encode() + b"\0" + file.read_bytes())
        stamp = cache / source.relative_to(root).as_posix().replace("/", "-")
        if stamp.exists() and stamp.read_text() == digest.hexdigest():
            return source, True, ""
        command = ["clang-tidy", "--quiet", "-p", str(build), "--extra-arg=-Wno-unknown-warning-option", str(source)]
        run = subprocess.run(command, capture_output=True, text=True, stdin=subprocess.DEVNULL)
        if run.returncode == 0:
            stamp.write_text(digest.hexdigest())
        return source, run.returncode == 0, run.stdout if run.stdout.strip() else run.stderr

    bad = 0
    with ThreadPoolExecutor(jobs) as pool:
        for source, good, text in pool.map(look, sources):
            if not good:
                bad += 1
                print(f"{source.relative_to(root)}:\n{text}")
    print(f"{len(sources)} files looked at, {bad} with findings")
    return 1 if bad or not sources else 0


sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])))
