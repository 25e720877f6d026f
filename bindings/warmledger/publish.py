"""Pages to read and to print, as files: `Appraisal.report` and `program_report`."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from .catalog import as_program
from .errors import FileUnreadable, NotAvailable, error
from .outputs import outputs

if TYPE_CHECKING:
    import pandas as pd

    from .appraisal import Appraisal
    from .catalog import PathLike, Program


def household_report(appraisal: Appraisal, path: PathLike, language: str) -> None:
    """See `Appraisal.report`."""
    check_language(language)
    from .report import household_page

    write_page(path, household_page(appraisal, language))


def program_report(results: pd.DataFrame, program: Program | PathLike, path: PathLike, *, language: str = "en") -> None:
    """Writes a page about a screened sheet: one HTML file that needs nothing else and prints on two pages.

    results   what `screen` returned, or rows of it
    program   the Program it was screened with, or the path of its file
    path      where to write (.html); a file that is there is replaced when the page is whole
    language  "en" or "es"

    Raises MalformedText or MissingValue if `results` is no result of a screening, UnknownName for another language,
    FileUnreadable if the file cannot be written, NotAvailable without the Python package Jinja2.
    """
    check_language(language)
    from .program_page import program_page

    write_page(path, program_page(results, as_program(program), language))


def check_language(language: str) -> None:
    """Raises NotAvailable where no page can be made, and UnknownName for a language there is none in."""
    try:
        import jinja2  # noqa: F401
    except ImportError:
        raise error(
            NotAvailable, "cannot be made without the Python package Jinja2", allowed="Jinja2", key="report"
        ) from None
    from .language import Language

    Language(language)


def write_page(path: PathLike, page: str) -> None:
    """Writes a page under a temporary name and moves it in place when it is whole."""
    name = os.fspath(path)
    with outputs([name], force=True, endings=(".html", ".htm")) as (output,):
        try:
            with open(output.temporary, "w", encoding="utf-8", newline="\n") as file:
                file.write(page)
        except OSError as failure:
            raise error(
                FileUnreadable,
                f"cannot be written ({failure.strerror or failure})",
                allowed="enough room on the disk",
                file=name,
            ) from None
