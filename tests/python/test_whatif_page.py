"""The page data/what-if.md: its snippets run, its figures are there and small."""

import contextlib
import io
import re
from pathlib import Path

import pytest

pytest.importorskip("scipy")
matplotlib = pytest.importorskip("matplotlib")
matplotlib.use("Agg")

DATA = Path(__file__).resolve().parents[2] / "data"
PAGE = (DATA / "what-if.md").read_text(encoding="utf-8")


def test_snippets_run_one_after_the_other() -> None:
    import matplotlib.pyplot as plt

    names: dict[str, object] = {}
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        for at, snippet in enumerate(re.findall(r"```python\n(.*?)```", PAGE, flags=re.DOTALL)):
            exec(compile(snippet, f"what-if.md, snippet {at + 1}", "exec"), names)
    plt.close("all")
    printed = out.getvalue()
    assert "gives simple payback of 10 years." in printed
    assert "what-if, not" in printed


def test_every_figure_is_shown_made_and_small() -> None:
    shown = set(re.findall(r"!\[[^\]]+\]\(what-if/(\w+)\.png\)", PAGE))
    there = {path.stem for path in (DATA / "what-if").glob("*.png")}
    script = (DATA / "what-if" / "make_figures.py").read_text(encoding="utf-8")
    assert shown == there == set(re.findall(r'^    "(\w+)": \1,$', script, flags=re.MULTILINE))
    assert sum(path.stat().st_size for path in (DATA / "what-if").glob("*.png")) < 600_000


def test_links_lead_somewhere() -> None:
    for target in re.findall(r"\]\((?!http)([^)#]+)\)", PAGE):
        assert (DATA / target).exists(), target
