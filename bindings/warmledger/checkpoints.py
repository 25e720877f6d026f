"""Result files that grow part by part and survive a kill: every part is on the disk before the checkpoint names it."""

from __future__ import annotations

import contextlib
import csv
import hashlib
import io
import json
import os
import shutil
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from . import _core
from .errors import Contradiction, FileUnreadable, MalformedText, error

if TYPE_CHECKING:
    import pyarrow as pa

    from .catalog import Program

FORM = 1  # of the checkpoint
PROBLEM_COLUMNS = ("row", "column", "value", "what", "allowed", "sentence", "file_row")
WORDS = {
    "warmledger": "the version of warmledger",
    "program": "the program file",
    "catalog": "the catalogue",
    "source": "the source",
    "detail": "detail",
    "batch_rows": "batch_rows",
    "keep": "keep",
    "form": "the form of the checkpoint",
}


def digest_of(program: Program) -> dict[str, str]:
    """Hashes of everything that a program's results rest on: its text, and the files of its catalogue."""
    catalog = hashlib.sha256()
    for folder in (program.catalog.data, program.catalog.override):
        if not folder:
            continue
        files = [*Path(folder).glob("*.csv"), *Path(folder).glob("incentives/*.toml")]
        for path in sorted(files):
            content = path.read_bytes()
            catalog.update(f"{path.name} {len(content)}\n".encode())
            catalog.update(content)
    return {"program": hashlib.sha256(program.text.encode()).hexdigest(), "catalog": catalog.hexdigest()}


class Run:
    """A screening from file to file: its results so far, and the checkpoint beside them."""

    def __init__(
        self,
        out: str,
        source: dict[str, Any],
        program: Program,
        settings: dict[str, Any],
        schema: pa.Schema | None,
    ) -> None:
        self.out, self.schema = out, schema
        self.problems_path = f"{out}.problems.csv"
        self.growing = f"{out}.unfinished"  # a file of CSV, or a folder of Arrow files
        self.growing_problems = f"{self.problems_path}.unfinished"
        self.checkpoint_path = f"{out}.unfinished.json"
        self.of: dict[str, Any] = {
            "form": FORM,
            "warmledger": _core.version,
            **digest_of(program),
            "source": source,
            **settings,
        }
        self.rows = self.bad_rows = self.parts = 0
        self.bytes = self.problem_bytes = 0
        self.decisions: Counter[str] = Counter()
        self._file: IO[bytes] | None = None
        self._problems: IO[bytes] | None = None
        self._lock: IO[bytes] | None = None

    # ---- beginning ----

    @contextlib.contextmanager
    def opened(self, *, resume: bool, overwrite: bool) -> Iterator[None]:
        """Opens the growing files, at their beginning or where a broken run left them."""
        folder = os.path.dirname(self.out) or "."
        if not os.path.isdir(folder):
            what = "cannot be written, its folder does not exist"
            raise error(FileUnreadable, what, allowed="a folder that exists", file=self.out)
        if os.path.isdir(self.out):
            raise error(FileUnreadable, "is a folder", allowed="the name of a file", file=self.out)
        source = self.of["source"]["name"]
        if os.path.exists(self.out) and os.path.samefile(self.out, source):
            raise error(Contradiction, "is an input of this run", allowed="another name", file=self.out)
        try:
            self._take_lock()
            broken = os.path.exists(self.checkpoint_path)
            if broken and resume:
                self._go_on()
            else:
                if not overwrite:
                    self._refuse_to_replace(broken)
                self._begin()
            yield
        except OSError as failure:
            what = f"cannot be written ({failure.strerror or failure})"
            raise error(FileUnreadable, what, allowed="a folder you may write to, with room", file=self.out) from None
        finally:
            self._close()

    def _take_lock(self) -> None:
        """Two runs that write the same results at once would spoil them."""
        try:
            import fcntl
        except ImportError:  # not on this system
            return
        self._lock = open(f"{self.out}.unfinished.lock", "ab")  # noqa: SIM115  (held to the end of the run)
        try:
            fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            self._lock.close()
            self._lock = None
            raise error(
                Contradiction, "is being written by another run", allowed="waiting for its end", file=self.out
            ) from None

    def _refuse_to_replace(self, broken: bool) -> None:
        if broken:
            raise error(
                Contradiction,
                "has the beginnings of a run that was broken off",
                allowed="resume=True (--resume) to go on with it, or overwrite=True (--force) to begin again",
                file=self.out,
            )
        if os.path.lexists(self.out):
            allowed = "a new name, or overwrite=True (--force) to replace it"
            raise error(Contradiction, "stands there already", allowed=allowed, file=self.out)

    def _begin(self) -> None:
        for path in (self.checkpoint_path, self.growing_problems):
            Path(path).unlink(missing_ok=True)
        if os.path.isdir(self.growing):
            shutil.rmtree(self.growing)
        Path(self.growing).unlink(missing_ok=True)
        if self.schema is not None:
            os.mkdir(self.growing)
        else:
            self._file = open(self.growing, "wb")  # noqa: SIM115  (closed by _close)
        self._problems = open(self.growing_problems, "wb")  # noqa: SIM115
        self._write_problems([PROBLEM_COLUMNS])
        self._save("running")

    def _go_on(self) -> None:
        state = self._read_checkpoint()
        self._compare(state["of"])
        self.rows, self.bad_rows, self.parts = state["rows"], state["bad_rows"], state["parts"]
        self.bytes, self.problem_bytes = state["bytes"], state["problem_bytes"]
        self.decisions = Counter(state["decisions"])
        if state["stage"] == "moving":  # all was written; only names were left to change
            return
        if self.schema is None:
            self._file = self._reopened(self.growing, self.bytes)
        elif not all(os.path.exists(self._part(number)) for number in range(self.parts)):
            raise error(Contradiction, "has lost parts of the broken run", allowed="overwrite=True", file=self.growing)
        self._problems = self._reopened(self.growing_problems, self.problem_bytes)

    def _read_checkpoint(self) -> dict[str, Any]:
        try:
            state: dict[str, Any] = json.loads(Path(self.checkpoint_path).read_bytes())
            if not isinstance(state["of"], dict):
                raise TypeError
            for key in ("rows", "bad_rows", "parts", "bytes", "problem_bytes", "decisions", "stage"):
                state[key]
        except (ValueError, KeyError, TypeError):
            raise error(
                MalformedText,
                "is no checkpoint that can be read",
                allowed="overwrite=True (--force) to begin again",
                file=self.checkpoint_path,
            ) from None
        return state

    def _compare(self, before: dict[str, Any]) -> None:
        for key, word in WORDS.items():
            was: Any = before.get(key)
            now: Any = self.of[key]
            if was == now:
                continue
            shown = key in ("detail", "batch_rows", "keep", "warmledger", "form")
            if key == "source" and isinstance(was, dict):
                word = "the source: " + ", ".join(name for name in now if was.get(name) != now[name])
            what = f"is of a run with another value of {word}"
            allowed = f"{was!r}, as before, or overwrite=True (--force) to begin again" if shown else ""
            raise error(
                Contradiction,
                what,
                value=f"{now!r}" if shown else "",
                allowed=allowed or "what it was before, or overwrite=True (--force) to begin again",
                file=self.checkpoint_path,
            )

    def _reopened(self, path: str, size: int) -> IO[bytes]:
        """A growing file, cut back to what the checkpoint says is whole."""
        if not os.path.exists(path) or os.path.getsize(path) < size:
            what = "is missing or shorter than its checkpoint says"
            raise error(Contradiction, what, allowed="overwrite=True (--force) to begin again", file=path)
        file = open(path, "r+b")  # noqa: SIM115  (closed by _close)
        file.truncate(size)
        file.seek(size)
        return file

    # ---- part by part ----

    def append_bytes(self, data: bytes) -> None:
        assert self._file is not None
        self._file.write(data)
        self.bytes += len(data)

    def append_arrow(self, batch: pa.RecordBatch) -> None:
        import pyarrow as pa

        compression = "lz4" if pa.Codec.is_available("lz4") else None
        with open(self._part(self.parts), "wb") as file:
            options = pa.ipc.IpcWriteOptions(compression=compression)
            with pa.ipc.new_file(file, batch.schema, options=options) as writer:
                writer.write_batch(batch)
            _sync(file)
        _sync_folder(self.growing)
        self.parts += 1

    def _part(self, number: int) -> str:
        return os.path.join(self.growing, f"part-{number:06d}.arrow")

    def checkpoint(self, problems: list[dict[str, Any]], rows: int, bad_rows: int, decisions: dict[str, int]) -> None:
        """Puts what was appended since the last checkpoint on the disk, then says so."""
        self._write_problems(
            [tuple(problem["key" if name == "column" else name] for name in PROBLEM_COLUMNS) for problem in problems]
        )
        if self._file is not None:
            _sync(self._file)
        self.rows += rows
        self.bad_rows += bad_rows
        self.decisions.update(decisions)
        self._save("running")

    def _write_problems(self, lines: list[tuple[Any, ...]]) -> None:
        assert self._problems is not None
        if not lines:
            return
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(lines)
        data = text.getvalue().encode()
        self._problems.write(data)
        self.problem_bytes += len(data)
        _sync(self._problems)

    def _save(self, stage: str) -> None:
        state = {
            "of": self.of,
            "stage": stage,
            "rows": self.rows,
            "bad_rows": self.bad_rows,
            "decisions": dict(sorted(self.decisions.items())),
            "parts": self.parts,
            "bytes": self.bytes,
            "problem_bytes": self.problem_bytes,
        }
        temporary = f"{self.checkpoint_path}.new"
        with open(temporary, "w", encoding="utf-8") as file:
            json.dump(state, file, indent=1)
            _sync(file)
        os.replace(temporary, self.checkpoint_path)
        _sync_folder(os.path.dirname(self.checkpoint_path) or ".")

    # ---- the end ----

    def finish(self) -> None:
        """Moves the results in place. Killed in the middle, it is done again by the run that resumes."""
        joined = f"{self.growing}.parquet"
        if os.path.isdir(self.growing) and not self._is_moving():
            self._join(joined)
        self._close_files()
        self._save("moving")
        whole = joined if self.schema is not None else self.growing
        if os.path.exists(whole):
            os.replace(whole, self.out)
        if not self.bad_rows:
            for path in (self.growing_problems, self.problems_path):
                Path(path).unlink(missing_ok=True)
        elif os.path.exists(self.growing_problems):
            os.replace(self.growing_problems, self.problems_path)
        if os.path.isdir(self.growing):
            shutil.rmtree(self.growing)
        _sync_folder(os.path.dirname(self.out) or ".")
        Path(self.checkpoint_path).unlink(missing_ok=True)

    def _is_moving(self) -> bool:
        return bool(self._read_checkpoint()["stage"] == "moving")

    def _join(self, path: str) -> None:
        """One Parquet file of all parts, a row group each."""
        import pyarrow as pa
        import pyarrow.parquet as pq

        assert self.schema is not None
        with open(path, "wb") as file:
            with pq.ParquetWriter(file, self.schema) as writer:
                for number in range(self.parts):
                    with pa.OSFile(self._part(number)) as part:
                        writer.write_table(pa.ipc.open_file(part).read_all())
            _sync(file)

    def _close_files(self) -> None:
        for file in (self._file, self._problems):
            if file is not None:
                file.close()
        self._file = self._problems = None

    def _close(self) -> None:
        self._close_files()
        if self._lock is not None:
            with contextlib.suppress(OSError):
                os.unlink(self._lock.name)
            self._lock.close()
            self._lock = None


def _sync(file: IO[Any]) -> None:
    file.flush()
    os.fsync(file.fileno())


def _sync_folder(path: str) -> None:
    """Makes new names in a folder last, where the system can."""
    with contextlib.suppress(OSError, AttributeError):
        handle = os.open(path, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
