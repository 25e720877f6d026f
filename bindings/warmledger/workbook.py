"""The results workbook: Summary, Households, Loans, Problems, Assumptions, Columns.

Rows are written in order and leave memory at once, so that a sheet of 100,000 households needs little more memory than
its frame.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from . import _core
from .colours import DECISION_COLOURS
from .errors import ValueOutOfRange, error
from .outputs import LARGEST_WORKBOOK_ROWS
from .styles import NOTICE, Styles, cut, new_workbook, printed

if TYPE_CHECKING:
    import pandas as pd

    from .catalog import Program

PAYBACK_BINS = (5, 8, 10, 12, 15, 20)
WIDE = {
    "reason": 90,
    "household_id": 16,
    "decision": 16,
    "income_tier": 14,
    "package": 24,
    "weather_station": 34,
    "fuel_unit": 11,
    "incentives_applied": 50,
    "incentives_refused": 60,
    "loan": 26,
    "cautions": 60,
    "defaults_used": 60,
    "method_notes": 40,
    "measures_none": 40,
}
LOAN_COLUMNS = (
    "household_id",
    "decision",
    "loan",
    "loan_amount_usd",
    "loan_payment_usd",
    "loan_cash_at_install_usd",
    "loan_average_month_usd",
    "loan_lowest_month_usd",
    "loan_net_savings_usd",
    "pays_from_month_one",
    "net_cost_usd",
    "first_year_saving_usd",
)
# On paper: who, what and why, and the few figures that a list of households is read for.
PRINTED = 6
SUMMARY_WIDTH = 8  # last column of the tables and notes of the summary


def write_workbook(
    path: str | os.PathLike[str], frame: pd.DataFrame, program: Program | None = None, *, source: str = ""
) -> None:
    """Writes the workbook of a frame that `screen` returned, or a part of one. Input text is written as text, never as
    a formula or link; the same frame gives the same bytes.

    program  None: what the frame carries of its program in attrs["program"]
    """
    if len(frame) > LARGEST_WORKBOOK_ROWS:
        raise error(
            ValueOutOfRange,
            "is too long for a worksheet",
            value=f"{len(frame)} rows",
            allowed=f"up to {LARGEST_WORKBOOK_ROWS} rows; write a .csv file",
            file=os.fspath(path),
        )
    about = program.about() if program is not None else frame.attrs.get("program")
    attrs = dict(frame.attrs)
    # pandas copies attrs, problems and all, whenever a column is taken.
    frame = frame.copy(deep=False)
    frame.attrs = {}
    screened = "decision" in frame.columns
    with new_workbook(path, about["title"] if about else "Results", long=True) as book:
        writer = _Writer(book)
        if screened:
            writer.summary(frame, about, os.path.basename(source or attrs.get("source", "")))
        writer.rows("Households" if screened else "Results", frame)
        if screened:
            if "loan" in frame.columns and frame["loan"].notna().any():
                writer.loans(frame)
            writer.problems(attrs.get("problems", []), attrs.get("unknown_columns", []), frame)
        if about:
            writer.assumptions(about["assumptions"])
        writer.columns(frame)


def columns_of(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """What is known of the columns of a frame: name, kind, unit, decimals, meaning, and whether it is one of ours."""
    import pandas as pd

    known = {spec["name"]: spec for spec in _core.screening.result_columns()}
    specs: list[dict[str, Any]] = []
    for at, name in enumerate(map(str, frame.columns)):
        dtype = frame.dtypes.iloc[at]
        if name in known and (known[name]["kind"] == "text") == (not pd.api.types.is_numeric_dtype(dtype)):
            specs.append({**known[name], "ours": True})
            continue
        if name in known and name == "household_id":  # numbers in the sheet stay numbers
            specs.append({**known[name], "kind": "number as it is", "ours": True})
            continue
        spec: dict[str, Any] = {"name": name, "kind": "text", "unit": "", "decimals": 0, "meaning": "", "ours": False}
        if pd.api.types.is_bool_dtype(dtype):
            spec["kind"] = "yes or no"
        elif pd.api.types.is_numeric_dtype(dtype) and not pd.api.types.is_complex_dtype(dtype):
            spec["kind"] = "number as it is"
            if name.endswith("_usd"):
                spec.update(kind="number", unit="US dollars", decimals=2)
        elif pd.api.types.is_datetime64_any_dtype(dtype):
            spec["kind"] = "date"
        specs.append(spec)
    return specs


class _Writer:
    def __init__(self, book: Any) -> None:
        self.book = book
        self.style = Styles(book)

    def table(self, name: str, headings: list[tuple[str, int]], rows: list[list[Any]], *, none: str = "") -> None:
        """A sheet of texts and counts with a frozen header and filters."""
        page, style = self.book.add_worksheet(name), self.style
        for c, (_, width) in enumerate(headings):
            page.set_column(c, c, width)
        for c, (heading, _) in enumerate(headings):
            page.write_string(0, c, heading, style.header)
        for r, row in enumerate(rows, start=1):
            page.set_row(r, style.height([(str(value), headings[c][1]) for c, value in enumerate(row)]))
            for c, value in enumerate(row):
                if isinstance(value, int):
                    page.write_number(r, c, value, style.top_left)
                elif value:
                    page.write_string(r, c, cut(str(value)), style.wrapped)
        if not rows and none:
            page.write_string(1, 0, none, style.plain)
        page.freeze_panes(1, 0)
        if rows:
            page.autofilter(0, 0, len(rows), len(headings) - 1)
        printed(page, landscape=True)
        page.repeat_rows(0)

    # ---- Summary ----

    def summary(self, frame: pd.DataFrame, about: dict[str, Any] | None, source: str) -> None:
        page, style = self.book.add_worksheet("Summary"), self.style
        page.hide_gridlines(2)
        page.set_column(0, 0, 38)
        page.set_column(1, SUMMARY_WIDTH, 16)
        page.set_row(0, 24)
        page.write_string(0, 0, cut(about["title"]) if about else "Results", style.title)
        row = 1
        if about and about["note"]:
            self.across(page, row, about["note"], style.note)
            row += 1
        self.across(page, row, NOTICE, style.notice)
        row += 1
        facts = f"{len(frame):,} households"
        if about:
            facts += f"; systems installed on {about['install_date']}; study of {about['study_years']} years"
        page.write_string(row, 0, f"{facts}.{f' Sheet: {source}.' if source else ''}", style.plain)
        tiers = self.tiers_of(frame, about)
        first = row + 2
        last = self.counts(page, first, frame, tiers)
        row = self.totals(page, last + 3, frame)
        bins = self.paybacks(page, row + 2, frame)
        self.charts(page, (first + 2, last), tiers, bins, max(3 + len(tiers), 5) + 1)
        page.set_landscape()
        page.set_paper(1)
        page.set_margins(left=0.4, right=0.4, top=0.5, bottom=0.5)
        page.fit_to_pages(1, 1)

    def across(self, page: Any, row: int, text: str, form: Any) -> None:
        """A wrapped text over the width of the summary."""
        page.set_row(row, self.style.height([(text, 38 + 16 * SUMMARY_WIDTH)]) + 4)
        page.merge_range(row, 0, row, SUMMARY_WIDTH, "", form)
        page.write_string(row, 0, cut(text), form)

    @staticmethod
    def tiers_of(frame: pd.DataFrame, about: dict[str, Any] | None) -> list[str]:
        """The income tiers that occur, in the program's order."""
        if "income_tier" not in frame.columns:
            return []
        present = [str(name) for name in frame["income_tier"].dropna().unique()]
        order = [*about["tiers"], "above"] if about else sorted(present)
        return [name for name in order if name in present]

    def counts(self, page: Any, row: int, frame: pd.DataFrame, tiers: list[str]) -> int:
        """Households by decision and tier; returns the last decision's row."""
        style = self.style
        decision = frame["decision"].astype(object)
        tier = frame["income_tier"].astype(object) if tiers else None
        page.write_string(row, 0, "Households by decision and income tier", style.section)
        row += 1
        for c, heading in enumerate(["decision", "all", "share", *tiers]):
            page.write_string(row, c, cut(heading), style.header_right if c else style.header)
        for name in DECISION_COLOURS:
            row += 1
            found = decision == name
            page.write_string(row, 0, name, style.fills[name])
            page.write_number(row, 1, int(found.sum()), style.count)
            page.write_number(row, 2, float(found.sum()) / max(len(frame), 1), style.share)
            for c, one in enumerate(tiers, start=3):
                page.write_number(row, c, int((found & (tier == one)).sum()), style.count)
        page.write_string(row + 1, 0, "all", style.total_label)
        page.write_number(row + 1, 1, len(frame), style.total)
        page.write_blank(row + 1, 2, None, style.total)
        for c, one in enumerate(tiers, start=3):
            page.write_number(row + 1, c, int((tier == one).sum()), style.total)
        return row

    def totals(self, page: Any, row: int, frame: pd.DataFrame) -> int:
        style = self.style
        decision = frame["decision"].astype(object)
        groups = {
            "pays in cash": frame[decision == "pays in cash"],
            "pays with loan": frame[decision == "pays with loan"],
            "needs more help": frame[decision == "needs more help"],
            "all appraised": frame[decision != "bad row"],
        }
        page.write_string(row, 0, "Totals and medians", style.section)
        row += 1
        for c, heading in enumerate(["", *groups]):
            page.write_string(row, c, heading, style.header_right if c else style.header)
        money, tenth = style.number("US dollars", 0), style.number("", 1)
        for label, name, how, form in (
            ("Households", "", "size", style.count),
            ("Installed cost, total", "installed_cost_usd", "sum", money),
            ("Incentives, total", "incentives_usd", "sum", money),
            ("Extra help to meet thresholds, total", "extra_help_usd", "sum", money),
            ("First-year saving, total", "first_year_saving_usd", "sum", money),
            ("CO2 saved, kg a year, total", "co2_saved_kg", "sum", style.count),
            ("Net cost, median", "net_cost_usd", "median", money),
            ("First-year saving, median", "first_year_saving_usd", "median", money),
            ("Simple payback in years, median*", "simple_payback_years", "median", tenth),
            ("Solar fraction in %, median", "solar_fraction_pct", "median", tenth),
            ("Net savings, median", "net_savings_usd", "median", money),
        ):
            if name and name not in frame.columns:
                continue
            row += 1
            page.write_string(row, 0, label, style.plain)
            for c, part in enumerate(groups.values(), start=1):
                if how == "size":
                    page.write_number(row, c, len(part), form)
                elif part[name].notna().any():
                    page.write_number(row, c, float(getattr(part[name].dropna(), how)()), form)
        page.write_string(row + 1, 0, "* of the households that recover their cost within the study", style.italic)
        return row + 1

    def paybacks(self, page: Any, row: int, frame: pd.DataFrame) -> tuple[int, int] | None:
        """Households by simple payback; returns first and last row of the bins."""
        if "simple_payback_years" not in frame.columns:
            return None
        style = self.style
        page.write_string(row, 0, "Simple payback of households with a suitable home", style.section)
        row += 1
        page.write_string(row, 0, "years", style.header)
        page.write_string(row, 1, "households", style.header_right)
        suitable = frame[~frame["decision"].isin(["bad row", "not suitable"])]
        first = row + 1
        for label, number in payback_bins(suitable["simple_payback_years"]):
            row += 1
            page.write_string(row, 0, label, style.plain)
            page.write_number(row, 1, number, style.count)
        return first, row

    def charts(
        self, page: Any, decisions: tuple[int, int], tiers: list[str], bins: tuple[int, int] | None, column: int
    ) -> None:
        """Charts beside the tables, which hold their numbers; `decisions` and `bins` are first and last rows."""
        (low, high), header = decisions, decisions[0] - 1
        dark = [{"fill": {"color": colour}} for colour, _ in DECISION_COLOURS.values()]
        names = ["Summary", low, 0, high, 0]
        chart = self.bars("bar", "Households by decision")
        chart.add_series({**_one_series("households", names, ["Summary", low, 1, high, 1]), "points": dark})
        chart.set_x_axis({"visible": False, "min": 0, "major_gridlines": {"visible": False}})
        chart.set_y_axis({**_AXIS, "reverse": True})  # from top to bottom in the table's order
        chart.set_legend({"none": True})
        made = [("Households by decision", chart)]
        if tiers:
            chart = self.bars("column", "Decisions by income tier", subtype="percent_stacked")
            for at, colour in enumerate(colour for colour, _ in DECISION_COLOURS.values()):
                chart.add_series(
                    {
                        "name": ["Summary", low + at, 0],
                        "categories": ["Summary", header, 3, header, 2 + len(tiers)],
                        "values": ["Summary", low + at, 3, low + at, 2 + len(tiers)],
                        "fill": {"color": colour},
                        "border": {"color": "#FFFFFF", "width": 0.75},
                        "gap": 60,
                    }
                )
            chart.set_x_axis({**_AXIS, "name": "income tier"})
            chart.set_y_axis({**_AXIS, **_GRID, "name": "share of households", "num_format": "0%"})
            chart.set_legend({"position": "right", "font": {"size": 10}})
            made.append(("Decisions by income tier", chart))
        if bins:
            chart = self.bars("column", "Simple payback, suitable homes")
            chart.add_series(
                _one_series("households", ["Summary", bins[0], 0, bins[1], 0], ["Summary", bins[0], 1, bins[1], 1])
            )
            chart.set_x_axis({**_AXIS, "name": "years"})
            chart.set_y_axis({**_AXIS, **_GRID, "name": "households", "num_format": "#,##0", "min": 0})
            chart.set_legend({"none": True})
            made.append(("Simple payback, suitable homes", chart))
        for number, (title, chart) in enumerate(made):
            chart.set_size({"width": 600, "height": 290})
            page.insert_chart(
                header - 1 + 15 * number,
                column,
                chart,
                {"description": f"Chart: {title}; the tables at the left hold its numbers", "object_position": 3},
            )

    def bars(self, kind: str, title: str, **options: str) -> Any:
        chart = self.book.add_chart({"type": kind, **options})
        chart.set_title({"name": title, "name_font": {"size": 12}, "overlay": False})
        return chart

    # ---- Households, and any other frame ----

    def rows(self, sheet: str, frame: pd.DataFrame) -> None:
        """One row a household, columns in the order of the frame."""
        page, style = self.book.add_worksheet(sheet), self.style
        specs = columns_of(frame)
        for c, spec in enumerate(specs):
            name, is_text = spec["name"], spec["kind"] == "text"
            page.set_column(c, c, WIDE.get(name, max(min(len(name) + 4, 40), 20 if is_text else 14)))
        page.set_row(0, 32)
        for c, spec in enumerate(specs):
            own = not spec["ours"] and sheet == "Households"
            form = style.header_own if own else style.header if spec["kind"] == "text" else style.header_right
            page.write_string(0, c, spec["name"], form)
            note = spec["meaning"] or ("A column of the household sheet, kept as it was" if own else "")
            if note:
                unit = f"\nUnit: {spec['unit']}" if spec["unit"] else ""
                page.write_comment(0, c, note + unit, {"x_scale": 1.8, "y_scale": 1.2, "font_size": 9})
        writers = [self.writer_of(page, c, spec) for c, spec in enumerate(specs)]
        columns = [_values(frame.iloc[:, c], spec["kind"]) for c, spec in enumerate(specs)]
        reason = next((c for c, spec in enumerate(specs) if spec["name"] == "reason"), None)
        for r, cells in enumerate(zip(*columns, strict=True), start=1):
            if reason is not None:
                page.set_row(r, style.height([(cells[reason] or "", WIDE["reason"])]))
            for c, value in enumerate(cells):
                if value is not None:
                    writers[c](r, c, value)
        last = max(len(frame), 1)
        page.freeze_panes(1, 1 if sheet == "Results" else 2)
        page.autofilter(0, 0, last, max(len(specs) - 1, 0))
        if sheet == "Households":  # all columns would fill hundreds of pages
            page.print_area(0, 0, last, min(PRINTED, len(specs)) - 1)
        printed(page, landscape=True)
        page.repeat_rows(0)

    def writer_of(self, page: Any, column: int, spec: dict[str, Any]) -> Callable[[int, int, Any], Any]:
        """A function (row, column, value) that writes a cell of a column."""
        style = self.style
        kind, write_string, write_number = spec["kind"], page.write_string, page.write_number
        if spec["name"] == "decision" and kind == "text":
            fills, plain = style.fills, style.plain
            return lambda r, c, value: write_string(r, c, value, fills.get(value, plain))
        if kind == "text":
            form = style.wrapped if spec["name"] == "reason" else style.plain
            return lambda r, c, value: write_string(r, c, value, form)
        if kind == "yes or no":
            return lambda r, c, value: page.write_boolean(r, c, value, style.yes_no)
        if kind == "date":
            return lambda r, c, value: page.write_datetime(
                r, c, value, style.time if value.time().isoformat() != "00:00:00" else style.date
            )
        form = style.right if kind == "number as it is" else style.number(spec["unit"], spec["decimals"])
        return lambda r, c, value: write_number(r, c, value, form)

    # ---- the other sheets ----

    def loans(self, frame: pd.DataFrame) -> None:
        """One row for each household that a loan is open to, with the loan that is best for it."""
        columns = [name for name in LOAN_COLUMNS if name in frame.columns]
        self.rows("Loans", frame.loc[frame["loan"].notna(), columns])

    def problems(self, problems: list[dict[str, Any]], unknown: list[list[str]], frame: pd.DataFrame) -> None:
        rows: list[list[Any]] = [
            [p["row"], p.get("file_row") or "", p["key"], p["value"], p["what"], p["allowed"]] for p in problems
        ]
        for name, nearest in unknown:
            kept = " and stands at the right end of Households" if name in frame.columns else ""
            hint = f" (did you mean {nearest}?)" if nearest else ""
            what = f"is no column of a household sheet and was not used{kept}{hint}"
            rows.append(["", "", name, "", what, "the columns of the sheet Columns"])
        self.table(
            "Problems",
            [
                ("row", 8),
                ("row of the file", 10),
                ("column", 30),
                ("value", 30),
                ("what is wrong", 50),
                ("allowed", 60),
            ],
            rows,
            none="No problems.",
        )

    def assumptions(self, rows: list[list[str]]) -> None:
        self.table("Assumptions", [("what", 40), ("value", 60), ("source", 80)], [list(row) for row in rows])

    def columns(self, frame: pd.DataFrame) -> None:
        rows: list[list[Any]] = []
        own = "kept from the household sheet" if "decision" in frame.columns else ""
        for spec in columns_of(frame):
            rows.append(["result", spec["name"], spec["unit"] or spec["kind"], spec["meaning"] or own])
        for c in _core.catalog.household_columns():
            empty = "required" if c["required"] else f"default {c['default']}: {c['why']}" if c["default"] else c["why"]
            kind = c["choices"] or c["unit"] or c["kind"]
            rows.append(["household sheet", c["name"], kind, f"{c['meaning']} ({empty})" if empty else c["meaning"]])
        self.table("Columns", [("where", 16), ("column", 34), ("unit or kind", 44), ("meaning", 90)], rows)


_AXIS: dict[str, Any] = {"num_font": {"size": 10}, "name_font": {"size": 10, "bold": False}}
_GRID: dict[str, Any] = {"major_gridlines": {"visible": True, "line": {"color": "#DDDDDD"}}}


def _one_series(name: str, categories: list[Any], values: list[Any]) -> dict[str, Any]:
    return {
        "name": name,
        "categories": categories,
        "values": values,
        "fill": {"color": "#0072B2"},
        "gap": 40,
        "data_labels": {"value": True, "num_format": "#,##0"},
    }


def _values(column: pd.Series, kind: str) -> list[Any]:
    """The cells of a column as plain values, None for no value and for numbers that a spreadsheet cannot hold."""
    import numpy as np

    none = column.isna().to_numpy()
    cells: list[Any]
    if kind == "text":
        cells = [None if gone else cut(str(value)) for value, gone in zip(column.tolist(), none, strict=True)]
    elif kind == "date":
        naive = column.dt.tz_localize(None) if getattr(column.dt, "tz", None) is not None else column
        cells = [None if gone else value.to_pydatetime() for value, gone in zip(naive.tolist(), none, strict=True)]
    elif kind == "yes or no":
        cells = [None if gone else bool(value) for value, gone in zip(column.tolist(), none, strict=True)]
    else:
        numbers = column.to_numpy(dtype=np.float64, na_value=np.nan) if none.any() else column.to_numpy()
        numbers = np.asarray(numbers, dtype=np.float64) if numbers.dtype.kind not in "iuf" else numbers
        finite = np.isfinite(numbers)
        cells = numbers.tolist()
        if not finite.all():
            cells = [value if ok else None for value, ok in zip(cells, finite, strict=True)]
    return cells


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
