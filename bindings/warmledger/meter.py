"""Progress of long runs: a bar where there is a terminal, lines elsewhere. Nothing in a result depends on it."""

from __future__ import annotations

import contextlib
import importlib
import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

SECONDS_BETWEEN_LINES = 30.0


def line(done: int, expected: int | None, already: int, seconds: float) -> str:
    """How far a run is: rows, rate and time left. `already`: rows that an earlier run had done."""
    rate = (done - already) / seconds if seconds > 0 else 0.0
    text = f"{done:,} households, {rate:,.1f} a second"
    if expected is None or expected < done:
        return text
    text = f"{done:,} of about {expected:,} households ({done / max(expected, 1):.0%}), {rate:,.1f} a second"
    return text if rate <= 0 else f"{text}, {duration((expected - done) / rate)} left"


def duration(seconds: float) -> str:
    """A time in words, to two units at most."""
    if seconds < 100:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    if minutes < 100:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60} min"


@contextlib.contextmanager
def meter(
    progress: bool | Callable[[int, Any], Any], expected: Callable[[int], int | None], *, already: int = 0
) -> Iterator[Callable[[int], Any] | None]:
    """A function of the rows done, or None. `expected` gives the rows in all, as well as they are known."""
    if callable(progress):
        told = progress
        yield lambda done: told(done, expected(done))
        return
    if not progress or sys.stderr is None:
        yield None
        return
    from .screening import _widgets_are_new

    notebook = "ipykernel" in sys.modules
    bar_of: Any = None
    if notebook or sys.stderr.isatty():
        with contextlib.suppress(ImportError):
            name = "tqdm.notebook" if notebook and _widgets_are_new() else "tqdm"
            bar_of = importlib.import_module(name).tqdm
    if bar_of is not None:
        with bar_of(total=expected(already), initial=already, unit=" households", unit_scale=True, leave=False) as bar:

            def show(done: int) -> None:
                bar.total = expected(done)
                bar.update(done - bar.n)

            yield show
        return
    start = last = time.monotonic()

    def tell(done: int) -> None:
        nonlocal last
        if (now := time.monotonic()) - last < SECONDS_BETWEEN_LINES:
            return
        last = now
        print(line(done, expected(done), already, now - start), file=sys.stderr, flush=True)

    yield tell
