"""Law as if extended and prices as if: right in the figures, and labelled in every output."""

import csv
import datetime
import json
import pickle
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
import warmledger as wl
from conftest import PROGRAM, household
from warmledger import errors

LAW = "what-if, not the law"
PRICE = "what-if, not the price that holds"
UNTIL = datetime.date(2034, 12, 31)
RULE = "federal-solar-water-heating-2022"


@pytest.fixture(scope="module")
def plain() -> wl.Program:
    text = PROGRAM.replace("study_years = 20", 'study_years = 20\njurisdictions = ["federal"]')
    return wl.parse_program(text.replace("pump_w = 70", 'pump_w = 70\ncertification = "invented"'))


@pytest.fixture(scope="module")
def what_if(plain: wl.Program) -> wl.Program:
    return plain.as_if(RULE, valid_to=UNTIL).as_if_prices({"electricity": 0.31})


@pytest.fixture(scope="module")
def one(what_if: wl.Program) -> wl.Appraisal:
    return wl.appraise(household(tax_liability_usd=3000), what_if, detail="monthly")


@pytest.fixture(scope="module")
def results(what_if: wl.Program) -> pd.DataFrame:
    homes = [household("A", tax_liability_usd=3000), household("B", electricity_price_usd_per_kwh=0.1)]
    return wl.screen(pd.DataFrame(homes), what_if, detail="monthly", progress=False)


def test_a_price_as_if_is_a_price(plain: wl.Program) -> None:
    as_if = wl.appraise(household(), plain.as_if_prices({"electricity": 0.31}), detail="monthly")
    own = wl.appraise(household(electricity_price_usd_per_kwh=0.31), plain, detail="monthly")
    assert dict(as_if.measures) == dict(own.measures)


def test_it_stands_before_every_other_price(plain: wl.Program) -> None:
    as_if = plain.as_if_prices({"electricity": 0.31})
    wanted = wl.appraise(household(), as_if, detail="monthly").measures.net_savings_usd
    own = wl.appraise(household(electricity_price_usd_per_kwh=0.1), as_if, detail="monthly")
    assert own.measures.net_savings_usd == wanted
    text = PROGRAM.replace('[prices.electricity]\nusd_per_unit = 0.20\nsource = "invented"\n', "")
    tariff = '\n[[tariff]]\nfuel = "electricity"\ntitle = "Town"\nsource = "invented"\n\n[[tariff.rate]]\n'
    tariff += 'name = "all"\nusd_per_unit = 0.1\n'
    by_tariff = wl.parse_program(text + tariff)
    before = wl.appraise(household(), by_tariff, detail="monthly").measures.net_savings_usd
    after = wl.appraise(household(), by_tariff.as_if_prices({"electricity": 0.31}), detail="monthly")
    assert before != after.measures.net_savings_usd
    assert after.measures.net_savings_usd == pytest.approx(wanted, abs=1e-9)


def test_bills_in_dollars_were_paid_at_the_price_that_holds(plain: wl.Program) -> None:
    home = household(water_heating_bill_usd=700, electricity_price_usd_per_kwh=0.2)
    now = wl.appraise(home, plain, detail="monthly")
    doubled = wl.appraise(home, plain.as_if_prices({"electricity": 0.4}), detail="monthly")
    assert now.measures.first_year_cost_without_usd == pytest.approx(700)
    assert doubled.measures.first_year_cost_without_usd == pytest.approx(1400)


def test_other_fuels_are_as_they_are(plain: wl.Program) -> None:
    home = household(heater_fuel="propane", propane_price_usd_per_gal=3)
    assert dict(wl.appraise(home, plain.as_if_prices({"heating_oil": 9}), detail="monthly").measures) == dict(
        wl.appraise(home, plain, detail="monthly").measures
    )


def test_programs_tell_and_travel(what_if: wl.Program, plain: wl.Program) -> None:
    assert plain.what_ifs == []
    assert [text.split(": ")[0] for text in what_if.what_ifs] == ["price of electricity", RULE]
    for label in (LAW, PRICE):
        assert label in what_if.note
        assert any(label in " ".join(row) for row in what_if.assumptions())
    assert pickle.loads(pickle.dumps(what_if)).what_ifs == what_if.what_ifs
    assert wl.parse_program(what_if.text).what_ifs == what_if.what_ifs
    assert what_if.as_if_prices({"electricity": None}).what_ifs == what_if.what_ifs[1:]


@pytest.mark.parametrize(
    ("prices", "kind", "words"),
    [
        ({"propan": 3}, errors.UnknownName, "did you mean propane"),
        ({"propane": 300}, errors.ValueOutOfRange, "propane_usd_per_gal"),
        ({"propane": "3"}, errors.Error, "propane_usd_per_gal"),
        (3, errors.MalformedText, "prices"),
    ],
)
def test_what_is_no_price_is_refused(plain: wl.Program, prices: Any, kind: type[Exception], words: str) -> None:
    with pytest.raises(kind, match=words):
        plain.as_if_prices(prices)


def test_results_say_so(results: pd.DataFrame) -> None:
    for _, row in results.iterrows():
        assert LAW in row["as_if"]
        assert PRICE in row["as_if"]
        assert "A what-if, and not how things stand." in row["reason"]
        assert f"electricity price = 0.31 a kWh ({PRICE})" in row["defaults_used"]
    assert f"{RULE} ({LAW})" in results["incentives_applied"].iloc[0]


def test_the_appraisal_says_so(one: wl.Appraisal) -> None:
    book = one.ledger()
    assert book["reason"].str.contains(LAW).any()
    energy = book[book["reason"].str.contains("dollars a kWh")]
    assert not energy.empty
    assert energy["reason"].str.contains(PRICE).all()
    assert "A what-if, and not how things stand." in one.reason
    assert "A what-if" in one._repr_html_()
    assert LAW in one.summary["program_note"]
    assert PRICE in one.summary["program_note"]
    told = json.loads(one.to_json())
    assert PRICE in told["summary"]["program_note"]
    assert any(PRICE in text for text in told["defaults_used"])


def cells(path: Path) -> dict[str, str]:
    """All text of each sheet of a workbook."""
    found = {}
    for sheet in openpyxl.load_workbook(path):
        found[sheet.title] = "\n".join(str(cell) for row in sheet.iter_rows(values_only=True) for cell in row)
    return found


def test_files_of_results_say_so(results: pd.DataFrame, tmp_path: Path) -> None:
    wl.save_results(results, tmp_path / "results.csv")
    with open(tmp_path / "results.csv", encoding="utf-8-sig", newline="") as file:
        for row in csv.DictReader(file):
            assert LAW in row["as_if"]
            assert PRICE in row["as_if"]
    wl.save_results(results, tmp_path / "results.xlsx")
    sheets = cells(tmp_path / "results.xlsx")
    for name in ("Summary", "Households", "Assumptions"):
        assert LAW in sheets[name], name
        assert PRICE in sheets[name], name


def test_the_loan_worksheet_says_so(one: wl.Appraisal, tmp_path: Path) -> None:
    one.loan_worksheet(tmp_path / "offer.xlsx")
    sheets = cells(tmp_path / "offer.xlsx")
    for name in ("Offer", "Notes"):
        assert PRICE in sheets[name], name
    assert LAW in sheets["Offer"]


@pytest.mark.parametrize(
    ("language", "words", "prices"),
    [
        ("en", "This page is a what-if. It counts on rules that are not the law.", "prices that do not hold today"),
        ("es", "Esta página es una suposición. Cuenta con reglas que no son la ley.", "precios que hoy no rigen"),
    ],
)
def test_pages_say_so(
    one: wl.Appraisal,
    results: pd.DataFrame,
    what_if: wl.Program,
    tmp_path: Path,
    language: str,
    words: str,
    prices: str,
) -> None:
    pytest.importorskip("jinja2")
    one.report(tmp_path / "one.html", language)
    wl.program_report(results, what_if, tmp_path / "all.html", language=language)
    for name in ("one.html", "all.html"):
        page = (tmp_path / name).read_text(encoding="utf-8")
        assert words in page, name
        assert prices in page, name
        assert "$0.31 a kWh" in page, name


def test_figures_say_so(one: wl.Appraisal, results: pd.DataFrame) -> None:
    matplotlib = pytest.importorskip("matplotlib")
    matplotlib.use("Agg")
    pytest.importorskip("scipy")
    table = wl.whatif.sweep(one, {"installed_cost_usd": [4000, 5000]}, measures=["net_savings_usd"])
    drawn = [
        wl.plots.cash_flow(one),
        wl.plots.monthly_energy(one),
        wl.plots.decisions(results),
        wl.plots.paybacks(results),
        wl.plots.sweep(table),
        wl.plots.tornado(wl.whatif.tornado(one)),
        wl.plots.solution(wl.whatif.solve_for(one, {"net_savings_usd": 0}, "installed_cost_usd")),
        wl.plots.payback_map(wl.whatif.sweep(one, {"occupants": [3, 4], "installed_cost_usd": [4000, 5000]})),
    ]
    for ax in drawn:
        line = ax.texts[-1].get_text().replace("\n", " ")
        assert LAW in line
        assert PRICE in line
    matplotlib.pyplot.close("all")


def test_what_ifs_say_so(one: wl.Appraisal, plain: wl.Program) -> None:
    table = wl.whatif.sweep(one, {"occupants": [3, 4]}, measures=["net_savings_usd"])
    swings = wl.whatif.tornado(one)
    for frame in (table, swings):
        for label in (LAW, PRICE):
            assert frame["as_if"].str.contains(label).all()
            assert label in frame.attrs["as_if"]
    # As inputs of a sweep they are told row by row.
    base = wl.appraise(household(tax_liability_usd=3000), plain, detail="monthly")
    grid = {
        f"as_if.{RULE}.valid_to": [None, UNTIL],
        "as_if_prices.electricity_usd_per_kwh": [None, 0.31],
    }
    rows = wl.whatif.sweep(base, [dict(zip(grid, pair, strict=True)) for pair in ((UNTIL, 0.31), (UNTIL, 0.1))])
    assert rows["as_if"].str.contains(LAW).all()
    assert list(rows["as_if"].str.contains("0.31")) == [True, False]
    assert rows["net_savings_usd"].iloc[0] == one.measures.net_savings_usd


def test_a_tornado_moves_a_price_that_is_as_if(one: wl.Appraisal, plain: wl.Program) -> None:
    row = wl.whatif.tornado(one, {"fuel_price": {"times": (0.5, 2)}}).iloc[0]
    assert (row["input"], row["base"]) == ("as_if_prices.electricity_usd_per_kwh", 0.31)
    then = plain.as_if(RULE, valid_to=UNTIL).as_if_prices({"electricity": 0.62})
    again = wl.appraise(household(tax_liability_usd=3000), then, detail="monthly")
    assert row["at_high"] == again.measures.net_savings_usd
