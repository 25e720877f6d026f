"""Measures beside a spreadsheet program that is not ours: LibreOffice Calc's own NPV, IRR and MIRR."""

import random
from pathlib import Path

import pytest
import warmledger as wl
import xlsxwriter
from spreadsheet import recalculate_all

CASES = 120


def drawn_flows(draw: random.Random) -> list[float]:
    """Money out, then savings, now and then a replacement: what a household's yearly flows look like."""
    years = draw.randint(2, 40)
    flows = [-round(draw.uniform(500, 12_000), 2)]
    flows += [round(draw.uniform(20, 1200), 2) for _ in range(years)]
    if years > 12 and draw.random() < 0.5:
        flows[draw.randint(8, years)] -= round(draw.uniform(300, 900), 2)
    return flows


def test_npv_irr_and_mirr_are_those_of_calc(tmp_path: Path) -> None:
    draw = random.Random(2026)
    cases = [(drawn_flows(draw), draw.uniform(0.001, 0.15), draw.uniform(0.0, 0.12)) for _ in range(CASES)]
    path = tmp_path / "flows.xlsx"
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("Flows")
        for row, (flows, rate, reinvest) in enumerate(cases, start=1):
            ours = wl.economics.irr(flows)
            guess = ours[0] if len(ours) == 1 else 0.1
            sheet.write_number(f"E{row}", rate)
            sheet.write_number(f"F{row}", reinvest)
            for k, flow in enumerate(flows):
                sheet.write_number(row - 1, 10 + k, flow)
            first = f"K{row}"
            last = xlsxwriter.utility.xl_rowcol_to_cell(row - 1, 10 + len(flows) - 1)
            second = f"L{row}"
            sheet.write_formula(f"A{row}", f"={first}+NPV(E{row},{second}:{last})")
            # Rounded, so that Calc searches from nearby and does not find our digits in its start.
            sheet.write_formula(f"B{row}", f"=IRR({first}:{last},{round(guess, 1)})")
            sheet.write_formula(f"C{row}", f"=MIRR({first}:{last},E{row},F{row})")
    values = recalculate_all([path])[0]["Flows"]
    with_one_rate = 0
    for row, (flows, rate, reinvest) in enumerate(cases, start=1):
        assert wl.economics.npv(rate, flows) == pytest.approx(values[f"A{row}"], abs=0.005, rel=1e-12)
        mirr = wl.economics.mirr(flows, rate, reinvest)
        assert mirr == pytest.approx(values[f"C{row}"], abs=1e-9)
        rates = wl.economics.irr(flows)
        if len(rates) == 1 and isinstance(values[f"B{row}"], float):
            assert rates[0] == pytest.approx(values[f"B{row}"], abs=1e-9)
            with_one_rate += 1
    # Calc gives up ("Err:523") on some deep losses, whose rate lies far from any guess.
    assert with_one_rate > 0.8 * CASES
