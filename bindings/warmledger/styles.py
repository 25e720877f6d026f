"""What the workbooks have in common: formats, the notice, page set-up."""

from __future__ import annotations

import contextlib
import datetime
import os
from collections.abc import Iterator
from typing import Any

from .colours import DECISION_COLOURS

MOST_CELL_CHARACTERS = 32_767
MOST_LINES = 20  # of a cell whose row is made higher
LETTER_PAPER = 1
NOTICE = (
    "These figures support a decision; they are no lending, tax or legal advice, and no offer. Local codes and "
    "licensed practice decide what may be built and how; ask a qualified tax adviser about credits and the lender "
    "about a loan."
)
# Input text is written as text: never as a formula, a link or a number.
_OPTIONS = {
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
    "nan_inf_to_errors": False,
}


@contextlib.contextmanager
def new_workbook(path: str | os.PathLike[str], title: str, *, long: bool = False) -> Iterator[Any]:
    """A workbook that is written when the body ends. The same content gives the same bytes: it carries no time of
    writing. `long`: rows are written in order and leave memory at once."""
    import xlsxwriter

    with xlsxwriter.Workbook(os.fspath(path), {**_OPTIONS, "constant_memory": long}) as book:
        book.set_properties({"title": cut(title, 200), "comments": NOTICE, "created": datetime.datetime(2000, 1, 1)})
        book.set_size(2400, 1400)
        yield book


def cut(text: str, most: int = MOST_CELL_CHARACTERS) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"


def printed(page: Any, *, landscape: bool) -> None:
    """Print set-up: letter paper, as many pages down as it takes, one across."""
    if landscape:
        page.set_landscape()
    else:
        page.set_portrait()
    page.set_paper(LETTER_PAPER)
    page.set_margins(left=0.4, right=0.4, top=0.5, bottom=0.6)
    page.set_footer("&L&A&RPage &P of &N")
    page.fit_to_pages(1, 0)


class Styles:
    """Formats of one workbook."""

    def __init__(self, book: Any) -> None:
        self.book = book
        base: dict[str, Any] = {"font_name": "Calibri", "font_size": 11, "valign": "top"}
        figure: dict[str, Any] = {**base, "align": "right", "indent": 1}
        heading: dict[str, Any] = {**base, "bold": True, "text_wrap": True, "bg_color": "#E7E6E6", "bottom": 1}
        self.base = base
        self.plain = book.add_format(base)
        self.right = book.add_format(figure)
        self.indented = book.add_format({**base, "indent": 1})
        self.top_left = book.add_format({**base, "align": "left"})
        self.wrapped = book.add_format({**base, "text_wrap": True})
        self.bold = book.add_format({**base, "bold": True})
        self.alarm = book.add_format({"bold": True, "font_color": "#9C2A00", "bg_color": "#F7D9C6"})
        self.title = book.add_format({**base, "bold": True, "font_size": 16})
        self.section = book.add_format({**base, "bold": True, "font_size": 12})
        self.header = book.add_format(heading)
        self.header_right = book.add_format({**heading, "align": "right", "indent": 1})
        self.header_indented = book.add_format({**heading, "indent": 1})
        self.header_own = book.add_format({**heading, "bg_color": "#D9ECF7"})
        self.count = book.add_format({**figure, "num_format": "#,##0"})
        self.share = book.add_format({**figure, "num_format": "0.0%"})
        self.total = book.add_format({**figure, "num_format": "#,##0", "bold": True, "top": 1})
        self.total_label = book.add_format({**base, "bold": True, "top": 1})
        self.italic = book.add_format({**base, "italic": True})
        self.note = book.add_format({**base, "text_wrap": True, "italic": True})
        self.notice = book.add_format(
            {**base, "text_wrap": True, "bg_color": "#FBEBCB", "border": 1, "border_color": "#E69F00"}
        )
        # Spreadsheet programs that hold yes and no as 1 and 0 need the words in the format.
        self.yes_no = book.add_format({**base, "num_format": '"TRUE";"TRUE";"FALSE"', "align": "center"})
        self.date = book.add_format({**figure, "num_format": "yyyy-mm-dd"})
        self.time = book.add_format({**figure, "num_format": "yyyy-mm-dd hh:mm:ss"})
        self.fills = {name: book.add_format({**base, "bg_color": fill}) for name, (_, fill) in DECISION_COLOURS.items()}
        self._made: dict[tuple[str, ...], Any] = {}

    def _format(self, key: tuple[str, ...], properties: dict[str, Any]) -> Any:
        if key not in self._made:
            self._made[key] = self.book.add_format({**self.base, **properties})
        return self._made[key]

    def number(self, unit: str, decimals: int, *, quiet_zero: bool = False) -> Any:
        """Numbers with thousands parted; dollars with their sign. `quiet_zero`: a dash for nothing."""
        form = "#,##0" + ("." + "0" * decimals if decimals else "")
        if unit.startswith("US dollars"):
            form = f"${form};-${form}" + (';"–"' if quiet_zero else "")
        return self._format((form,), {"num_format": form, "align": "right", "indent": 1})

    def input(self, form: str, align: str = "right") -> Any:
        """A cell that is meant to be changed."""
        properties = {
            "num_format": form,
            "align": align,
            "bg_color": "#D9ECF7",
            "border": 1,
            "border_color": "#0072B2",
            **({"indent": 1} if align == "right" else {}),
        }
        return self._format((form, align, "input"), properties)

    @staticmethod
    def height(cells: list[tuple[str, float]]) -> float:
        """Row height in points for wrapped texts in columns of these widths; not every program fits it by itself."""
        lines = max((_lines(text, int(width)) for text, width in cells), default=1)
        return 15.0 * min(max(lines, 1), MOST_LINES)


def _lines(text: str, width: int) -> int:
    """Lines of a wrapped text. Words are not broken, so a line holds a little less than its width."""
    room = max(width - 3, 1)
    return sum(max(-(-len(part) // room), 1) for part in text.split("\n")) if text else 1
