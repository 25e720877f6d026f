"""What the package says of itself."""

import inspect
import re

import pytest
import warmledger as wl
from conftest import household


def table(markdown: str) -> list[list[str]]:
    rows = [line for line in markdown.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row.strip("|").split(" | ")] for row in rows[2:]]


def test_household_page_lists_every_column_of_the_reader() -> None:
    rows = table(wl.documentation.pages()["household-sheet.md"])
    specs = wl._core.catalog.household_columns()
    assert [row[0].strip(" `") for row in rows] == [spec["name"] for spec in specs]
    for row, spec in zip(rows, specs, strict=True):
        assert spec["meaning"] in row[1]
        assert ("required" in row[4]) == spec["required"]


def test_results_page_lists_every_column_of_a_result(program: wl.Program) -> None:
    import pandas as pd

    result = wl.screen(pd.DataFrame([household()]), program, progress=False)
    rows = table(wl.documentation.pages()["results.md"])
    assert [row[0].strip(" `") for row in rows] == list(result.columns)


@pytest.mark.parametrize("name", [name for name in wl.__all__ if callable(getattr(wl, name))])
def test_everything_public_is_explained(name: str) -> None:
    assert (inspect.getdoc(getattr(wl, name)) or "").strip()


def test_build_config_names_versions_and_folders() -> None:
    config = wl.build_config()
    assert re.fullmatch(r"\d+\.\d+\.\d+", config["warmledger"])
    assert config["compiler"].startswith(("GCC ", "Clang "))
    assert (wl.data_dir() / "climates.csv").is_file()
    assert config["data"] == str(wl.data_dir())


def test_help_of_screen_says_what_every_result_column_is() -> None:
    text = inspect.getdoc(wl.screen) or ""
    for column in wl.result_columns():
        assert f"{column['name']} " in text
        assert column["meaning"] in text
    for name in wl.plots.__all__:
        assert "Returns the axes" in (inspect.getdoc(getattr(wl.plots, name)) or "")
