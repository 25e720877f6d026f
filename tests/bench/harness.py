"""Measuring side by side: samples in turns, ratios turn by turn, a table and JSON."""

from __future__ import annotations

import json
import os
import platform
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field
from importlib import metadata
from pathlib import Path
from typing import Any

Clock = Callable[[], float]
LIBRARIES = ("numpy", "pandas", "numpy-financial", "pyxirr", "QuantLib", "XlsxWriter", "pyarrow")


@dataclass
class Row:
    """One side of a benchmark: seconds an item, one sample a turn."""

    label: str
    samples: list[float] = field(default_factory=list)
    skipped: str = ""

    @property
    def median(self) -> float:
        return statistics.median(self.samples)


@dataclass
class Target:
    """A bound on a figure: `at_least` or `at_most` `value`, reached or not."""

    what: str
    bound: str
    value: float
    measured: float

    @property
    def reached(self) -> bool:
        return self.measured >= self.value if self.bound == "at_least" else self.measured <= self.value


@dataclass
class Bench:
    """A benchmark: rows beside a base row. A ratio above 1 says how many times as long the base takes."""

    name: str
    title: str
    item: str
    base: str
    rows: list[Row] = field(default_factory=list)
    facts: dict[str, Any] = field(default_factory=dict)
    targets: list[Target] = field(default_factory=list)

    def row(self, label: str) -> Row:
        return next(row for row in self.rows if row.label == label)

    def ratios(self, label: str) -> list[float]:
        """Of each turn: the base's time over the row's."""
        return [base / own for base, own in zip(self.row(self.base).samples, self.row(label).samples, strict=False)]

    def ratio(self, label: str) -> float:
        return statistics.median(self.ratios(label))

    def target(self, what: str, bound: str, value: float, measured: float) -> None:
        self.targets.append(Target(what, bound, value, measured))

    def as_dict(self) -> dict[str, Any]:
        rows = []
        for row in self.rows:
            entry: dict[str, Any] = {"label": row.label}
            if row.skipped:
                entry["skipped"] = row.skipped
            else:
                entry |= {"seconds_an_item": row.samples, "median": row.median}
                entry |= {"least": min(row.samples), "greatest": max(row.samples)}
                if row.label != self.base and self.base in {r.label for r in self.rows if r.samples}:
                    found = self.ratios(row.label)
                    entry["ratio"] = {
                        "of": self.base,
                        "median": statistics.median(found),
                        "least": min(found),
                        "greatest": max(found),
                        "samples": found,
                    }
            rows.append(entry)
        return {
            "name": self.name,
            "title": self.title,
            "item": self.item,
            "base": self.base,
            "rows": rows,
            "facts": self.facts,
            "targets": [asdict(target) | {"reached": target.reached} for target in self.targets],
        }


def in_turns(
    bench: Bench,
    works: Mapping[str, Callable[[], object] | str],
    items: Mapping[str, int] | int,
    turns: int,
    clocks: Mapping[str, Clock] | None = None,
) -> Bench:
    """Runs every work once a turn, so that a change of the machine's speed meets all; the first turn is not kept.

    A work that is a text is skipped and the text says why. Clocks: processor time of this process unless named
    otherwise, so that other work on the machine counts less.
    """
    for label, work in works.items():
        bench.rows.append(Row(label, skipped=work if isinstance(work, str) else ""))
    for turn in range(turns + 1):
        for label, work in works.items():
            if isinstance(work, str):
                continue
            clock = (clocks or {}).get(label, time.process_time)
            start = clock()
            work()
            took = clock() - start
            if turn:
                bench.row(label).samples.append(took / (items if isinstance(items, int) else items[label]))
    return bench


def _seconds(value: float) -> str:
    for unit, factor in (("s", 1.0), ("ms", 1e3), ("us", 1e6)):
        if value * factor >= 1:
            return f"{value * factor:.3g} {unit}"
    return f"{value * 1e9:.3g} ns"


def table(bench: Bench) -> str:
    """A benchmark as text: medians, spread, ratios, facts and targets."""
    lines = [f"\n{bench.title}", f"  {'':38}{'median ' + bench.item:>24}{'least to greatest':>22}{'ratio':>22}"]
    for row in bench.rows:
        if row.skipped:
            lines.append(f"  {row.label:38}skipped: {row.skipped}")
            continue
        spread = f"{_seconds(min(row.samples))} to {_seconds(max(row.samples))}"
        text = f"  {row.label:38}{_seconds(row.median):>24}{spread:>22}"
        if row.label != bench.base and any(r.label == bench.base and r.samples for r in bench.rows):
            found = bench.ratios(row.label)
            text += f"{statistics.median(found):>8.3g} x ({min(found):.3g} to {max(found):.3g})"
        lines.append(text)
    lines += [
        f"  {name}: {value:.4g}" if isinstance(value, float) else f"  {name}: {value}"
        for name, value in bench.facts.items()
    ]
    for target in bench.targets:
        sign = "at least" if target.bound == "at_least" else "at most"
        said = "reached" if target.reached else "MISSED"
        lines.append(f"  target {target.what}: {sign} {target.value:g}, measured {target.measured:.3g}: {said}")
    return "\n".join(lines)


def markdown(where: dict[str, Any], benches: list[Bench]) -> str:
    """All benchmarks as two tables of Markdown: what was measured, and the targets."""
    lines = [
        f"{where['processor']}, {where['cores']} cores, load {where['load_average_at_start']:.1f} at the start; "
        f"Python {where['python']}, {where['warmledger']['compiler']}, NumPy {where['versions']['numpy']}, "
        f"pandas {where['versions']['pandas']}.",
        "",
        "| benchmark | side | median | least to greatest | times as fast as the first side |",
        "| --- | --- | --- | --- | --- |",
    ]
    for bench in benches:
        title = f"{bench.title}; {bench.item}"
        for row in bench.rows:
            cells = [title, row.label, row.skipped and f"skipped: {row.skipped}", "", ""]
            if not row.skipped:
                cells[2:4] = _seconds(row.median), f"{_seconds(min(row.samples))} to {_seconds(max(row.samples))}"
                if row.label != bench.base and any(r.label == bench.base and r.samples for r in bench.rows):
                    found = bench.ratios(row.label)
                    cells[4] = f"**{statistics.median(found):.3g}** ({min(found):.3g} to {max(found):.3g})"
            lines.append(f"| {' | '.join(cells)} |")
            title = ""
    lines += ["", "| target | bound | measured | |", "| --- | --- | --- | --- |"]
    for target in (target for bench in benches for target in bench.targets):
        bound = f"{target.bound.replace('_', ' ')} {target.value:g}"
        said = "reached" if target.reached else "missed"
        lines.append(f"| {target.what} | {bound} | {target.measured:.3g} | {said} |")
    lines.append("")
    for bench in benches:
        lines += [
            f"- {name}: {value:.3g}" if isinstance(value, float) else f"- {name}: {value}"
            for name, value in bench.facts.items()
        ]
    return "\n".join(lines) + "\n"


def processor() -> str:
    try:
        for line in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    except OSError:
        pass
    return platform.processor()


def machine() -> dict[str, Any]:
    """Where it was measured, with what, and how busy the machine was."""
    import warmledger as wl

    versions = {}
    for name in LIBRARIES:
        try:
            versions[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            versions[name] = "not installed"
    return {
        "processor": processor(),
        "cores": os.cpu_count(),
        "system": f"{platform.system()} {platform.release()} {platform.machine()}",
        "load_average_at_start": os.getloadavg()[0] if hasattr(os, "getloadavg") else None,
        "python": platform.python_version(),
        "warmledger": wl.build_config(),
        "versions": versions,
    }


def write_json(path: Path, where: dict[str, Any], benches: list[Bench]) -> None:
    path.write_text(json.dumps({"machine": where, "benchmarks": [b.as_dict() for b in benches]}, indent=1) + "\n")


def child(code: str, *words: str) -> dict[str, float]:
    """What a new interpreter prints as JSON on its last line, with its greatest memory in bytes as `peak_bytes`."""
    tail = (
        "\nimport json, resource\n"
        "seen = dict(seen, peak_bytes=resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024)\n"
        "print(json.dumps(seen))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code + tail, *words], capture_output=True, text=True, stdin=subprocess.DEVNULL
    )
    if done.returncode:
        raise RuntimeError(done.stderr)
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found
