"""The loan worksheet: LibreOffice Calc recalculates its formulas, and they agree with the library to the cent."""

import pickle
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
import spreadsheet
import warmledger as wl
from conftest import household
from warmledger import cli, errors, worksheet

CENT = 0.005
RESULTS = {
    "due_at_install": "due_at_install_usd",
    "net_cost": "net_cost_usd",
    "first_year_saving": "first_year_saving_usd",
    "simple_payback": "simple_payback_years",
    "discounted_payback": "discounted_payback_years",
    "net_savings_cash": "net_savings_usd",
}
LOAN_RESULTS = {
    "amount_lent": "amount_usd",
    "paid_at_install": "cash_at_install_usd",
    "monthly_payment": "payment_usd",
    "total_interest": "total_interest_usd",
    "average_month": "average_month_usd",
    "lowest_month": "lowest_month_usd",
    "net_savings_loan": "net_savings_usd",
}


def more_help(month: int) -> dict[str, Any]:
    return {
        "title": "More help",
        "payer": "the town (invented)",
        "citation": "invented",
        "standing": "invented",
        "kind": "rebate",
        "flat_usd": 700.0,
        "arrival": "months_after",
        "arrival_months": month,
    }


# What a loan officer types, and the program and household for which the library should say the same.
CASES: dict[str, tuple[dict[str, float], dict[str, Any], dict[str, Any]]] = {
    "nothing": ({}, {}, {}),
    "price": ({"installed_cost": 6_200.55}, {}, {"installed_cost_usd": 6_200.55}),
    "rate": ({"yearly_rate": 0.0675}, {"loan.ten-years.yearly_rate": 0.0675}, {}),
    "no interest": ({"yearly_rate": 0.0}, {"loan.ten-years.yearly_rate": 0.0}, {}),
    "short term": ({"term_months": 7}, {"loan.ten-years.term_months": 7}, {}),
    "longer than the study": ({"term_months": 300}, {"loan.ten-years.term_months": 300}, {}),
    "rebate": ({"incentive 0": 1_850.25}, {"incentive.town-rebate.flat_usd": 1_850.25}, {}),
    "no rebate": ({"incentive 0": 0.0}, {"incentive.town-rebate.flat_usd": 0.0}, {}),
    "more help later": (
        {"incentive 1": 700.0, "month 1": 14},
        {"incentive.more": more_help(14)},
        {},
    ),
    "limit": ({"most_lent": 2_500.0}, {"loan.ten-years.largest_usd": 2_500.0}, {}),
    "discount rate": ({"discount_rate": 0.081}, {"economics.nominal_discount_rate": 0.081}, {}),
    "energy price": ({"energy_price_level": 1.25}, {"prices.electricity.usd_per_unit": 0.25}, {}),
    "everything": (
        {
            "installed_cost": 7_345.67,
            "yearly_rate": 0.0799,
            "term_months": 84,
            "incentive 0": 2_222.22,
            "most_lent": 4_000.0,
            "discount_rate": 0.03,
            "energy_price_level": 0.75,
        },
        {
            "loan.ten-years.yearly_rate": 0.0799,
            "loan.ten-years.term_months": 84,
            "loan.ten-years.largest_usd": 4_000.0,
            "incentive.town-rebate.flat_usd": 2_222.22,
            "economics.nominal_discount_rate": 0.03,
            "prices.electricity.usd_per_unit": 0.15,
        },
        {"installed_cost_usd": 7_345.67},
    ),
}
# Other programs: where a half cent goes (2.7 % gives ties), and help that arrives after the study.
VARIANTS: dict[str, dict[str, Any]] = {
    **{
        rule: {"loan.ten-years.rounding": rule, "loan.ten-years.yearly_rate": 0.027}
        for rule in ("half_even", "up", "down")
    },
    "late help": {"incentive.more": more_help(60), "study_years": 4},
}
# 2,500 dollars at 8.24 % over 12 months, from the documentation of numpy-financial's ipmt and ppmt.
PUBLISHED_INTEREST = (17.17, 15.79, 14.40, 13.01, 11.60, 10.18, 8.76, 7.32, 5.88, 4.42, 2.96, 1.49)
PUBLISHED_PRINCIPAL = (200.58, 201.96, 203.35, 204.74, 206.15, 207.56, 208.99, 210.42, 211.87, 213.32, 214.79, 216.26)
PUBLISHED = {
    "twelve months": {"installed_cost": 2_500.0, "yearly_rate": 0.0824, "term_months": 12, "incentive 0": 0.0},
    "twenty years": {"installed_cost": 100_000.0, "yearly_rate": 0.105, "term_months": 240, "incentive 0": 0.0},
}
GOOD, OUT, EMPTY = (
    "All inputs are in their ranges.",
    "CHECK: an input is out of its range",
    "CHECK: an input is empty or no number",
)
ENTERED: dict[str, tuple[str, float | None, str]] = {
    "term too long": ("term_months", 601, OUT),
    "half a month": ("term_months", 12.5, OUT),
    "rate below 0": ("yearly_rate", -0.01, OUT),
    "rebate below 0": ("incentive 1", -5, OUT),
    "rebate in half a month": ("month 0", 1.5, OUT),
    "no cost": ("installed_cost", None, EMPTY),
    "no limit": ("most_lent", None, GOOD),
    "rebate above the cost": ("incentive 0", 99_999, GOOD),
}


@pytest.fixture(scope="module")
def base(program: wl.Program) -> wl.Program:
    """The test program with a longer-lived system and parts that wear out, so that every column has something."""
    return program.changed(
        {
            "study_years": 12,
            "package.two-collectors.life_years": 25,
            "package.two-collectors.upkeep": [
                {"what": "pump replaced", "usd": 300.0, "first_year": 9, "every_years": 9, "replaces": True},
                {"what": "looked over", "usd": 45.0, "first_year": 2, "every_years": 3},
            ],
        }
    )


def appraised(program: wl.Program, **changes: Any) -> wl.Appraisal:
    return wl.appraise(household(occupants=5, heater_age_years=4, **changes), program, detail="monthly")


def place_of(book: openpyxl.Workbook, name: str) -> tuple[str, str]:
    """Sheet and cell of an input or result; "incentive 1" and "month 1" count the incentives from 0."""
    word, _, number = name.partition(" ")
    defined = {"incentive": "incentive_usd", "month": "incentive_month"}.get(word, name)
    page, cells = book.defined_names[defined].attr_text.split("!")
    first = cells.replace("$", "").split(":")[0]
    return page, f"{first[0]}{int(first[1:]) + int(number or 0)}"


class Recalculated:
    """Worksheets after the spreadsheet program recalculated them, by case."""

    def __init__(self, paths: dict[str, Path], places: dict[str, tuple[str, str]]) -> None:
        self.paths, self.places = paths, places
        values = spreadsheet.recalculate_all(paths.values())
        self.values = dict(zip(paths, values, strict=True))

    def result(self, case: str, name: str) -> Any:
        page, cell = self.places[name]
        return self.values[case][page].get(cell)


@pytest.fixture(scope="module")
def recalculated(base: wl.Program, tmp_path_factory: pytest.TempPathFactory) -> Recalculated:
    """Every case typed into the worksheet, saved, and recalculated; one start of the spreadsheet program for all."""
    spreadsheet.program()
    folder = tmp_path_factory.mktemp("worksheet")
    paths = {"as written": folder / "offer.xlsx"}
    appraised(base).loan_worksheet(paths["as written"])
    book = openpyxl.load_workbook(paths["as written"])
    places = {name: place_of(book, name) for name in (*RESULTS, *LOAN_RESULTS, "month_one")}
    everything: dict[str, dict[str, Any]] = {case: typed for case, (typed, _, _) in CASES.items()}
    everything |= PUBLISHED
    everything |= {case: {name: value} for case, (name, value, _) in ENTERED.items()}
    for number, (case, typed) in enumerate(everything.items()):
        before = []
        for name, value in typed.items():
            page, cell = place_of(book, name)
            before.append((page, cell, book[page][cell].value))
            book[page][cell] = value
        paths[case] = folder / f"case-{number}.xlsx"
        book.save(paths[case])
        for page, cell, value in before:
            book[page][cell] = value
    for variant, changes in VARIANTS.items():
        paths[variant] = folder / f"{variant}.xlsx"
        appraised(base.changed(changes)).loan_worksheet(paths[variant])
    return Recalculated(paths, places)


def assert_agrees(recalculated: Recalculated, case: str, one: wl.Appraisal) -> None:
    found = recalculated.values[case]
    for name, measure in RESULTS.items():
        value = recalculated.result(case, name)
        if one.measures[measure] is None:
            assert value == worksheet.NEVER, name
        else:
            assert value == pytest.approx(one.measures[measure], abs=CENT, rel=0), name
    [loan] = one.loans.to_dict("records")
    for name, column in LOAN_RESULTS.items():
        assert recalculated.result(case, name) == pytest.approx(loan[column], abs=CENT, rel=0), name
    assert recalculated.result(case, "month_one") == ("yes" if loan["pays_from_month_one"] else "no")

    rounding = VARIANTS.get(case, {}).get("loan.ten-years.rounding", "half_up")
    schedule = wl.loans.schedule(
        wl.loans.LoanTerms(
            amount_usd=loan["amount_usd"],
            yearly_rate=loan["yearly_rate"],
            term_months=int(loan["term_months"]),
            start=one.summary["install_date"],
            rounding=rounding,
        )
    )
    page = found["Payments"]
    first = worksheet.FIRST + 2
    for n, line in enumerate(schedule.itertuples(index=False)):
        assert page[f"A{first + n}"] == line.number
        assert page[f"B{first + n}"].date() == line.date
        for letter, amount in zip("CDEF", line[2:6], strict=True):
            assert page[f"{letter}{first + n}"] == pytest.approx(amount, abs=1e-6), (letter, n)
    assert page.get(f"A{first + len(schedule)}", "") == ""

    yearly = one.yearly()
    years = found["Years"]
    for year in range(one.study_years + 1):
        cell = worksheet.FIRST + 1 + year

        def sums(world: str, *categories: str, year: int = year) -> float:
            return sum(float(yearly.loc[year].get((world, name), 0.0)) for name in categories)

        bills = "fuel", "pump electricity"
        worn = "upkeep", "replacement"
        wanted = {
            "B": sums("with", "installed cost"),
            "C": sums("with", "incentive"),
            "D": sums("without", *bills),
            "E": sums("with", *bills),
            "F": sums("with", *bills) - sums("without", *bills),
            "G": sums("with", *worn) - sums("without", *worn),
            "H": sums("with", "remaining value") - sums("without", "remaining value"),
        }
        for letter, amount in wanted.items():
            assert years[f"{letter}{cell}"] == pytest.approx(amount, abs=CENT, rel=0), (letter, year)
        paid = sum(line.payment_usd for line in schedule.itertuples() if (line.number + 11) // 12 == year)
        assert years[f"J{cell}"] == pytest.approx(-paid, abs=CENT), year
    assert years[f"L{worksheet.FIRST + 1 + one.study_years}"] == pytest.approx(
        sum(years[f"K{worksheet.FIRST + 1 + year}"] for year in range(one.study_years + 1)), abs=CENT
    )


@pytest.mark.parametrize("case", CASES)
def test_calc_agrees_with_the_library_to_the_cent(recalculated: Recalculated, base: wl.Program, case: str) -> None:
    typed, changes, about = CASES[case]
    assert_agrees(recalculated, case, appraised(base.changed(changes), **about))
    if typed:
        moved = [n for n in recalculated.places if recalculated.result(case, n) != recalculated.result("nothing", n)]
        assert moved, "the change moved nothing"


@pytest.mark.parametrize("case", VARIANTS)
def test_other_programs(recalculated: Recalculated, base: wl.Program, case: str) -> None:
    assert_agrees(recalculated, case, appraised(base.changed(VARIANTS[case])))


@pytest.mark.parametrize("case", ["as written", *VARIANTS])
def test_what_is_shown_before_recalculation_is_what_the_formulas_give(recalculated: Recalculated, case: str) -> None:
    path, found = recalculated.paths[case], recalculated.values[case]
    compared = 0
    for page in openpyxl.load_workbook(path, data_only=True):
        for row in page.iter_rows():
            for cell in row:
                value, again = cell.value, found[page.title].get(cell.coordinate)
                if isinstance(value, int | float) and isinstance(again, int | float):
                    assert again == pytest.approx(value, abs=1e-6), (page.title, cell.coordinate)
                else:
                    assert (again or "") == (value or ""), (page.title, cell.coordinate)
                compared += 1
    assert compared > 5_000


def test_no_cell_is_an_error(recalculated: Recalculated) -> None:
    for case, found in recalculated.values.items():
        if case in ENTERED:
            continue
        for page in found.values():
            assert not [text for text in page.values() if isinstance(text, str) and text.startswith(("#", "Err:"))]


def test_published_schedule(recalculated: Recalculated) -> None:
    """The published one works unrounded, so each month may be a cent off."""
    page = recalculated.values["twelve months"]["Payments"]
    first = worksheet.FIRST + 2
    for n, (charge, repaid) in enumerate(zip(PUBLISHED_INTEREST, PUBLISHED_PRINCIPAL, strict=True)):
        assert page[f"D{first + n}"] == pytest.approx(charge, abs=0.011)
        # The last payment settles eleven months of rounding.
        assert page[f"E{first + n}"] == pytest.approx(repaid, abs=0.011 if n < 11 else 0.06)
    assert page[f"F{first + 11}"] == 0


def test_published_payment(recalculated: Recalculated) -> None:
    """100,000 dollars at 10.5 % over 240 months: 998.38, manual page of a database language's PAYMENT() function."""
    assert recalculated.result("twenty years", "monthly_payment") == 998.38


@pytest.mark.parametrize("case", ENTERED)
def test_inputs_out_of_range_are_said(recalculated: Recalculated, case: str) -> None:
    sentence = ENTERED[case][2]
    assert sentence in recalculated.values[case]["Offer"].values()
    if case == "rebate above the cost":
        assert recalculated.result(case, "amount_lent") == 0
        assert recalculated.result(case, "monthly_payment") == 0
        assert recalculated.result(case, "simple_payback") == 0


def test_sheets_caution_and_print_set_up(base: wl.Program, tmp_path: Path) -> None:
    path = tmp_path / "offer.xlsx"
    one = appraised(base)
    one.loan_worksheet(path)
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["Offer", "Payments", "Years", "Months", "Notes"]
    front = [cell.value for row in book["Offer"].iter_rows() for cell in row if isinstance(cell.value, str)]
    assert any("no lending, tax or legal advice" in text for text in front)
    assert base.note in front
    notes = [row[1].value for row in book["Notes"].iter_rows(min_row=2)]
    assert all(text in notes for _, text in one.cautions)
    for page in book:
        assert not page.protection.sheet
        assert page.sheet_properties.pageSetUpPr.fitToPage
    assert book["Payments"].freeze_panes == f"B{worksheet.FIRST + 1}"
    assert len(book["Offer"].data_validations.dataValidation) == 8
    with zipfile.ZipFile(path) as archive:
        assert "xl/charts/chart1.xml" in archive.namelist()


def test_exact_and_pickled_appraisals_write_the_same_values(base: wl.Program, tmp_path: Path) -> None:
    one = appraised(base)
    exact = wl.appraise(household(occupants=5, heater_age_years=4), base, detail="monthly", exact=True)
    again = pickle.loads(pickle.dumps(one))
    found = []
    for number, each in enumerate((one, again, exact)):
        path = tmp_path / f"{number}.xlsx"
        each.loan_worksheet(path)
        found.append(list(openpyxl.load_workbook(path, data_only=True)["Payments"].iter_rows(values_only=True)))
    assert (tmp_path / "0.xlsx").read_bytes() == (tmp_path / "1.xlsx").read_bytes()
    assert found[0] == found[2]


def test_formula_like_names_are_text(program: wl.Program, tmp_path: Path) -> None:
    one = wl.appraise(household("=1+1"), program.changed({"incentive.town-rebate.title": "=2+2"}), detail="monthly")
    one.loan_worksheet(tmp_path / "a.xlsx")
    book = openpyxl.load_workbook(tmp_path / "a.xlsx")
    kinds = {cell.value: cell.data_type for row in book["Offer"].iter_rows() for cell in row}
    assert kinds["=2+2"] == "s"


def test_errors(base: wl.Program, tmp_path: Path) -> None:
    one = appraised(base)
    with pytest.raises(errors.UnknownName, match=r"five-years is no loan of this appraisal; allowed: ten-years"):
        one.loan_worksheet(tmp_path / "a.xlsx", loan="five-years")
    none = appraised(base.changed({"loan.ten-years": None}))
    with pytest.raises(errors.MissingValue, match="has no loan to lay out"):
        none.loan_worksheet(tmp_path / "a.xlsx")
    with pytest.raises(errors.NotAvailable, match=r"allowed: \.xlsx"):
        one.loan_worksheet(tmp_path / "a.csv")
    assert not list(tmp_path.iterdir())
    one.loan_worksheet(tmp_path / "a.xlsx")
    one.loan_worksheet(tmp_path / "a.xlsx")
    with pytest.raises(errors.Contradiction, match="stands there already"):
        one.loan_worksheet(tmp_path / "a.xlsx", overwrite=False)


def test_from_the_command_line(tmp_path: Path, program_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = tmp_path / "homes.csv"
    pd.DataFrame([household("A"), household("B")]).to_csv(sheet, index=False)
    command = ["appraise", str(sheet), "--program", str(program_file), "--id", "B", "--detail", "monthly"]
    path = tmp_path / "offer.xlsx"
    assert cli.main([*command, "--worksheet", str(path), "--loan", "ten-years"]) == 0
    assert f"written: {path}" in capsys.readouterr().out
    direct = wl.appraise(household("B"), wl.load_program(program_file), detail="monthly")
    direct.loan_worksheet(tmp_path / "direct.xlsx", loan="ten-years")
    assert path.read_bytes() == (tmp_path / "direct.xlsx").read_bytes()
    assert cli.main([*command, "--worksheet", str(tmp_path / "b.xlsx"), "--loan", "none"]) == 2
    assert "none is no loan of this appraisal; allowed: ten-years" in capsys.readouterr().err
    assert not (tmp_path / "b.xlsx").exists()
