"""The results workbook: Summary, Households, Problems, Assumptions, Columns."""

from __future__ import annotations

import datetime
import os
from typing import TYPE_CHECKING, Any

from . import _core
from .colours import DECISION_COLOURS
from .errors import ValueOutOfRange, error
from .outputs import LARGEST_WORKBOOK_ROWS

if TYPE_CHECKING:
    import pandas as pd

    from .catalog import Program

MOST_CELL_CHARACTERS = 32_767
NOTICE = (
    "These figures support a decision; they are no lending, tax or legal advice, and no offer. Local codes and "
    "licensed practice decide what may be built and how; ask a qualified tax adviser about credits and the lender "
    "about a loan."
)
PRINTED_COLUMNS = 6  # household_id to package
PAYBACK_BINS = (5, 8, 10, 12, 15, 20)
WIDE = {
    "reason": 90,
    "household_id": 16,
    "decision": 16,
    "weather_station": 34,
    "incentives_applied": 50,
    "incentives_refused": 60,
    "cautions": 60,
    "defaults_used": 60,
    "method_notes": 40,
    "measures_none": 40,
}


def write_workbook(path: str | os.PathLike[str], frame: pd.DataFrame, program: Program, *, source: str = "") -> None:
    """Writes the workbook of a frame that `screen` returned. Input text is written as text, never as a formula or link.

    The same frame gives the same bytes: the file carries no time of writing.
    """
    import xlsxwriter

    if len(frame) > LARGEST_WORKBOOK_ROWS:
        raise error(
            ValueOutOfRange,
            "is too long for a worksheet",
            value=f"{len(frame)} rows",
            allowed=f"up to {LARGEST_WORKBOOK_ROWS} rows; write a .csv file",
            file=os.fspath(path),
        )
    options = {
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
        "nan_inf_to_errors": False,
    }
    with xlsxwriter.Workbook(os.fspath(path), options) as book:
        book.set_properties(
            {"title": _cut(program.title, 200), "comments": NOTICE, "created": datetime.datetime(2000, 1, 1)}
        )
        book.set_size(2400, 1400)
        writer = _Writer(book)
        writer.summary(frame, program, source)
        writer.households(frame)
        writer.problems(frame)
        writer.assumptions(program)
        writer.columns()


def _cut(text: str, most: int = MOST_CELL_CHARACTERS) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"


def _height(cells: list[tuple[str, int]]) -> float:
    """Row height in points for wrapped texts in columns of these widths; not every program fits the height itself."""
    lines = max((-(-len(text) // max(width - 1, 1)) for text, width in cells), default=1)
    return 15.0 * min(max(lines, 1), 20)


class _Writer:
    def __init__(self, book: Any) -> None:
        self.book = book
        base: dict[str, Any] = {"font_name": "Calibri", "font_size": 11, "valign": "top"}
        self.base = base
        self.plain = book.add_format(base)
        self.wrapped = book.add_format({**base, "text_wrap": True})
        self.bold = book.add_format({**base, "bold": True})
        self.title = book.add_format({**base, "bold": True, "font_size": 16})
        self.section = book.add_format({**base, "bold": True, "font_size": 12})
        self.header = book.add_format({**base, "bold": True, "text_wrap": True, "bg_color": "#E7E6E6", "bottom": 1})
        self.header_right = book.add_format(
            {**base, "bold": True, "text_wrap": True, "bg_color": "#E7E6E6", "bottom": 1, "align": "right", "indent": 1}
        )
        self.count = book.add_format({**base, "num_format": "#,##0", "align": "right", "indent": 1})
        self.total = book.add_format(
            {**base, "num_format": "#,##0", "bold": True, "top": 1, "align": "right", "indent": 1}
        )
        self.total_label = book.add_format({**base, "bold": True, "top": 1})
        self.italic = book.add_format({**base, "italic": True})
        self.note = book.add_format({**base, "text_wrap": True, "italic": True})
        self.notice = book.add_format(
            {**base, "text_wrap": True, "bg_color": "#FBEBCB", "border": 1, "border_color": "#E69F00"}
        )
        self.fills = {name: book.add_format({**base, "bg_color": fill}) for name, (_, fill) in DECISION_COLOURS.items()}
        self.formats: dict[str, Any] = {}

    def number(self, unit: str, decimals: int) -> Any:
        form = "#,##0" + ("." + "0" * decimals if decimals else "")
        if unit.startswith("US dollars"):
            form = f"$#,##0.{'0' * decimals};-$#,##0.{'0' * decimals}" if decimals else "$#,##0;-$#,##0"
        if form not in self.formats:
            self.formats[form] = self.book.add_format({**self.base, "num_format": form, "align": "right", "indent": 1})
        return self.formats[form]

    def table(self, name: str, headings: list[tuple[str, int]], rows: list[list[Any]], *, none: str = "") -> None:
        """A sheet of texts and counts with a frozen header and filters."""
        page = self.book.add_worksheet(name)
        for c, (heading, width) in enumerate(headings):
            page.write_string(0, c, heading, self.header)
            page.set_column(c, c, width)
        for r, row in enumerate(rows, start=1):
            page.set_row(r, _height([(str(value), headings[c][1]) for c, value in enumerate(row)]))
            for c, value in enumerate(row):
                if isinstance(value, int):
                    page.write_number(r, c, value, self.plain)
                elif value:
                    page.write_string(r, c, _cut(str(value)), self.wrapped)
        if not rows and none:
            page.write_string(1, 0, none, self.plain)
        page.freeze_panes(1, 0)
        if rows:
            page.autofilter(0, 0, len(rows), len(headings) - 1)
        page.set_landscape()
        page.fit_to_pages(1, 0)
        page.repeat_rows(0)

    def summary(self, frame: pd.DataFrame, program: Program, source: str) -> None:
        import pandas as pd

        page = self.book.add_worksheet("Summary")
        page.hide_gridlines(2)
        page.set_column(0, 0, 34)
        page.set_column(1, 8, 16)
        page.write_string(0, 0, _cut(program.title), self.title)
        page.set_row(0, 24)
        row = 1
        if program.note:
            page.merge_range(row, 0, row, 8, "", self.note)
            page.write_string(row, 0, _cut(program.note), self.note)
            page.set_row(row, 32)
            row += 1
        page.merge_range(row, 0, row, 8, "", self.notice)
        page.write_string(row, 0, NOTICE, self.notice)
        page.set_row(row, 48)
        row += 1
        facts = (
            f"{len(frame):,} households; systems installed on {program.install_date}; "
            f"study of {program.study_years} years."
        )
        page.write_string(row, 0, facts + (f" Sheet: {source}." if source else ""), self.plain)
        row += 2

        tiers = [*program.tiers, "above"]
        decision, tier = frame["decision"].astype(object), frame["income_tier"].astype(object)
        present = [name for name in tiers if (tier == name).any()]
        page.write_string(row, 0, "Households by decision and income tier", self.section)
        row += 1
        for c, heading in enumerate(["decision", "all", "share", *present]):
            page.write_string(row, c, _cut(heading), self.header_right if c else self.header)
        first = row + 1
        share = self.book.add_format({**self.base, "num_format": "0.0%", "align": "right", "indent": 1})
        for name in DECISION_COLOURS:
            row += 1
            found = decision == name
            page.write_string(row, 0, name, self.fills[name])
            page.write_number(row, 1, int(found.sum()), self.count)
            page.write_number(row, 2, float(found.sum()) / max(len(frame), 1), share)
            for c, one in enumerate(present, start=3):
                page.write_number(row, c, int((found & (tier == one)).sum()), self.count)
        last = row
        row += 1
        page.write_string(row, 0, "all", self.total_label)
        page.write_number(row, 1, len(frame), self.total)
        page.write_blank(row, 2, None, self.total)
        for c, one in enumerate(present, start=3):
            page.write_number(row, c, int((tier == one).sum()), self.total)
        row += 2

        groups = {
            "pays in cash": frame[decision == "pays in cash"],
            "pays with loan": frame[decision == "pays with loan"],
            "needs more help": frame[decision == "needs more help"],
            "all appraised": frame[decision != "bad row"],
        }
        page.write_string(row, 0, "Totals and medians", self.section)
        row += 1
        for c, heading in enumerate(["", *groups]):
            page.write_string(row, c, heading, self.header_right if c else self.header)
        money, tenth = self.number("US dollars", 0), self.number("", 1)
        for label, name, how, form in (
            ("Households", "household_id", "size", self.count),
            ("Installed cost, total", "installed_cost_usd", "sum", money),
            ("Incentives, total", "incentives_usd", "sum", money),
            ("Extra help to meet thresholds, total", "extra_help_usd", "sum", money),
            ("First-year saving, total", "first_year_saving_usd", "sum", money),
            ("CO2 saved, kg a year, total", "co2_saved_kg", "sum", self.count),
            ("Net cost, median", "net_cost_usd", "median", money),
            ("First-year saving, median", "first_year_saving_usd", "median", money),
            ("Simple payback in years, median*", "simple_payback_years", "median", tenth),
            ("Solar fraction in %, median", "solar_fraction_pct", "median", tenth),
            ("Net savings, median", "net_savings_usd", "median", money),
        ):
            row += 1
            page.write_string(row, 0, label, self.plain)
            for c, part in enumerate(groups.values(), start=1):
                if how == "size":
                    value: Any = len(part)
                else:
                    value = getattr(part[name].dropna(), how)() if part[name].notna().any() else pd.NA
                if value is not pd.NA:
                    page.write_number(row, c, float(value), form)
        row += 1
        page.write_string(row, 0, "* of the households that recover their cost within the study", self.italic)
        row += 2

        page.write_string(row, 0, "Simple payback of households with a suitable home", self.section)
        row += 1
        page.write_string(row, 0, "years", self.header)
        page.write_string(row, 1, "households", self.header_right)
        suitable = frame[~decision.isin(["bad row", "not suitable"])]
        payback = suitable["simple_payback_years"]
        bins_first = row + 1
        for label, number in payback_bins(payback):
            row += 1
            page.write_string(row, 0, label, self.plain)
            page.write_number(row, 1, number, self.count)
        self.charts(page, (first, last), (bins_first, row), max(3 + len(present), 5) + 1)
        page.set_landscape()
        page.set_paper(9)
        page.fit_to_pages(1, 1)

    def charts(self, page: Any, decisions: tuple[int, int], bins: tuple[int, int], column: int) -> None:
        """Two charts beside the tables; the ranges are first and last row of each table."""
        axis: dict[str, Any] = {"num_font": {"size": 10}, "name_font": {"size": 10, "bold": False}}
        dark = [{"fill": {"color": color}} for color, _ in DECISION_COLOURS.values()]
        for title, top, (low, high), points in (
            ("Households by decision", 4, decisions, dark),
            ("Simple payback, suitable homes", 22, bins, None),
        ):
            chart = self.book.add_chart({"type": "bar" if points else "column"})
            chart.add_series(
                {
                    "name": title,
                    "categories": ["Summary", low, 0, high, 0],
                    "values": ["Summary", low, 1, high, 1],
                    "fill": {"color": "#0072B2"},
                    "points": points,
                    "gap": 40,
                    "data_labels": {"value": True, "num_format": "#,##0", "align": "right", "indent": 1},
                }
            )
            chart.set_title({"name": title, "name_font": {"size": 12}, "overlay": False})
            chart.set_legend({"none": True})
            counts = {
                **axis,
                "name": "households",
                "num_format": "#,##0",
                "min": 0,
                "major_gridlines": {"visible": True, "line": {"color": "#DDDDDD"}},
            }
            if points:  # bars run from top to bottom in the table's order
                chart.set_x_axis({"visible": False, "min": 0, "major_gridlines": {"visible": False}})
                chart.set_y_axis({**axis, "reverse": True})
            else:
                chart.set_x_axis({**axis, "name": "years"})
                chart.set_y_axis(counts)
            chart.set_size({"width": 560, "height": 330})
            page.insert_chart(
                top, column, chart, {"description": f"Chart: {title}; the table at the left holds its numbers"}
            )

    def households(self, frame: pd.DataFrame) -> None:
        import pandas as pd

        page = self.book.add_worksheet("Households")
        specs = _core.screening.result_columns()
        for c, spec in enumerate(specs):
            name, unit = spec["name"], spec["unit"]
            is_text = spec["kind"] == "text"
            page.set_column(c, c, WIDE.get(name, max(len(name) + 4, 20 if is_text else 14)))
            page.write_string(0, c, name, self.header if is_text else self.header_right)
            page.write_comment(
                0,
                c,
                f"{spec['meaning']}" + (f"\nUnit: {unit}" if unit else ""),
                {"x_scale": 1.8, "y_scale": 1.2, "font_size": 9},
            )
            form = self.number(unit, spec["decimals"])
            for r, value in enumerate(frame[name].astype(object).tolist(), start=1):
                if value is pd.NA:
                    continue
                if name == "decision":
                    page.write_string(r, c, value, self.fills.get(value, self.plain))
                elif is_text:
                    page.write_string(r, c, _cut(value), self.wrapped if name == "reason" else self.plain)
                elif spec["kind"] == "yes or no":
                    page.write_boolean(r, c, value, self.plain)
                else:
                    page.write_number(r, c, value, form)
        for r, text in enumerate(frame["reason"].fillna("").tolist(), start=1):
            page.set_row(r, _height([(text, WIDE["reason"])]))
        page.freeze_panes(1, 2)
        page.autofilter(0, 0, max(len(frame), 1), len(specs) - 1)
        # On paper the first columns; all of them would fill hundreds of pages.
        page.print_area(0, 0, max(len(frame), 1), PRINTED_COLUMNS - 1)
        page.set_landscape()
        page.fit_to_pages(1, 0)
        page.repeat_rows(0)

    def problems(self, frame: pd.DataFrame) -> None:
        rows = [[p["row"], p["key"], p["value"], p["what"], p["allowed"]] for p in frame.attrs.get("problems", [])]
        for name, nearest in frame.attrs.get("unknown_columns", []):
            rows.append(
                [
                    "",
                    name,
                    "",
                    "is no column of a household sheet and was not used"
                    + (f" (did you mean {nearest}?)" if nearest else ""),
                    "the columns of the sheet Columns",
                ]
            )
        self.table(
            "Problems",
            [("row", 8), ("column", 30), ("value", 30), ("what is wrong", 50), ("allowed", 60)],
            rows,
            none="No problems.",
        )

    def assumptions(self, program: Program) -> None:
        self.table(
            "Assumptions", [("what", 40), ("value", 60), ("source", 80)], [list(row) for row in program.assumptions()]
        )

    def columns(self) -> None:
        rows: list[list[Any]] = [
            ["result", c["name"], c["unit"] or c["kind"], c["meaning"]] for c in _core.screening.result_columns()
        ]
        for c in _core.catalog.household_columns():
            empty = "required" if c["required"] else f"default {c['default']}: {c['why']}" if c["default"] else c["why"]
            kind = c["choices"] or c["unit"] or c["kind"]
            rows.append(["household sheet", c["name"], kind, f"{c['meaning']} ({empty})" if empty else c["meaning"]])
        self.table("Columns", [("where", 16), ("column", 34), ("unit or kind", 44), ("meaning", 90)], rows)


def payback_bins(years: pd.Series) -> list[tuple[str, int]]:
    """Households by simple payback: (label, count), the last those without one."""
    counts = []
    low = 0
    for high in PAYBACK_BINS:
        inside = (years > low) & (years <= high) if low else years <= high
        counts.append((f"{low} to {high}" if not low else f"over {low} to {high}", int(inside.fillna(False).sum())))
        low = high
    counts.append((f"over {low}", int((years > low).fillna(False).sum())))
    counts.append(("not recovered", int(years.isna().sum())))
    return counts
