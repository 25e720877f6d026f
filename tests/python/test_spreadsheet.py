"""The helper that recalculates workbooks, on sheets whose results are known."""

from pathlib import Path

import pytest
import xlsxwriter
from openpyxl import Workbook
from spreadsheet import recalculate_all


def test_formulas_are_recalculated_whatever_value_the_file_holds(tmp_path: Path) -> None:
    stale = tmp_path / "a stale one.xlsx"
    with xlsxwriter.Workbook(str(stale)) as book:
        sheet = book.add_worksheet("First")
        sheet.write("A1", 2)
        sheet.write_formula("A2", "=A1*21", None, 7)  # 7 is a cached value, and wrong
        sheet.write_formula("A3", "=1/0")
        sheet.write_formula("A4", '="a"&"b"')
    other = tmp_path / "other.xlsx"
    book = Workbook()
    book.active.title = "Second"
    book.active["B2"] = "=PMT(0.075/12,180,-200000)"
    book.save(other)
    first, second = recalculate_all([stale, other])
    assert first == {"First": {"A1": 2, "A2": 42, "A3": "#DIV/0!", "A4": "ab"}}
    # The same figure stands in the documentation of numpy-financial (pmt).
    assert second["Second"]["B2"] == pytest.approx(1854.0247200054619, rel=1e-12)
