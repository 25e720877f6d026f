"""The front page and the generated pages tell the truth."""

import contextlib
import io
import re
from pathlib import Path

import pytest
import warmledger as wl

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def block(language: str) -> str:
    found = re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)
    assert len(found) == 1
    return str(found[0])


def test_python_example_runs() -> None:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(block("python"), "README.md", "exec"), {})
    printed = out.getvalue()
    assert "not suitable" in printed
    assert "amount_usd" in printed


def test_cpp_example_is_the_program_that_the_tests_build() -> None:
    assert block("cpp") == (ROOT / "tests" / "consumer" / "main.cpp").read_text(encoding="utf-8")


def test_links_lead_somewhere() -> None:
    for page in (
        ROOT / "README.md",
        ROOT / "DEVELOPERS.md",
        ROOT / "data" / "README.md",
        ROOT / "data" / "demo" / "README.md",
    ):
        for target in re.findall(r"\]\((?!http)([^)#]+)\)", page.read_text(encoding="utf-8")):
            assert (page.parent / target).exists(), f"{page.name} links to {target}"


@pytest.mark.parametrize("name", ["household-sheet.md", "program-file.md", "results.md"])
def test_pages_are_what_the_library_says(name: str) -> None:
    page = (ROOT / "data" / name).read_text(encoding="utf-8")
    assert page == wl.documentation.pages()[name], f"run: python -m warmledger columns --write {ROOT / 'data'}"
