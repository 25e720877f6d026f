"""wl.whatif.tornado: one input at a time, low and high, with the source of each range."""

from pathlib import Path
from typing import Any

import pandas as pd
import pytest
import warmledger as wl
from conftest import PROGRAM, household
from warmledger import errors
from warmledger.variations import changes_of
from warmledger.whatif.ranges import default_ranges

COLUMNS = ["input", "title", "low", "base", "high", "at_low", "at_base", "at_high", "swing", "source"]


@pytest.fixture(scope="module")
def one(program: wl.Program) -> wl.Appraisal:
    return wl.appraise(household(), program, detail="monthly")


@pytest.fixture(scope="module")
def table(one: wl.Appraisal) -> pd.DataFrame:
    return wl.whatif.tornado(one)


def test_textbook_present_worth_at_low_and_high_revenue() -> None:
    """Blank & Tarquin, Engineering Economy, 7th ed. (2012), solution of problem 18.1, read in the published solutions:
    500,000 now, at 15 % over 5 years; revenue of 135,000 a year gives a present worth of -47,453, 165,000 gives
    +53,113. Its table factor (P/A, 15 %, 5) = 3.3522 has four digits: 165,000 times half of its last one is 8.25."""
    offer = {
        "installed_cost_usd": 500_000,
        "bills_without_usd": [0] * 11 + [150_000],  # at the end of each year
        "nominal_discount_rate": 0.15,
        "study_years": 5,
        "system_life_years": 5,
    }
    table = wl.whatif.tornado(offer, {"bills_without_usd": {"times": (0.9, 1.1)}})
    row = table.iloc[0]
    assert row["low"][-1] == 135_000
    assert row["high"][-1] == 165_000
    assert row["at_low"] == pytest.approx(-47_453, abs=8.25)
    assert row["at_high"] == pytest.approx(53_113, abs=8.25)
    assert row["swing"] == pytest.approx(53_113 + 47_453, abs=8.25)
    assert row["at_low"] == pytest.approx(-500_000 + 135_000 * sum(1.15**-year for year in range(1, 6)), abs=1e-6)


def test_rows_have_their_columns_and_the_widest_is_first(table: pd.DataFrame, one: wl.Appraisal) -> None:
    assert list(table.columns) == COLUMNS
    swings = table["swing"]
    assert list(swings) == sorted(swings, reverse=True)
    assert (swings == (table["at_high"] - table["at_low"]).abs()).all()
    assert set(table["at_base"]) == {one.measures.net_savings_usd}
    assert (table["low"] <= table["base"]).all()
    assert (table["base"] <= table["high"]).all()
    assert table["source"].str.contains("common practice").all()
    assert table.attrs["measure"] == "net_savings_usd"


def test_each_end_is_what_appraise_says(table: pd.DataFrame, one: wl.Appraisal, program: wl.Program) -> None:
    assert len(table) >= 6
    for row in table.itertuples():
        for value, there in ((row.low, row.at_low), (row.high, row.at_high)):
            if "." in row.input:
                value = int(value) if row.input.endswith("life_years") else value
                again = wl.appraise(household(), program.changed({row.input: value}), detail="monthly")
            else:
                again = wl.appraise(household(**{row.input: value}), program, detail="monthly")
            assert again.measures.net_savings_usd == pytest.approx(there, abs=1e-6), row.input


def test_the_page_and_the_tornado_change_the_same_things(one: wl.Appraisal, table: pd.DataFrame) -> None:
    """The household's page shows cost and price a fifth, and water a quarter, up and down."""
    page = {change.key: change.appraisal.measures.net_savings_usd for change in changes_of(one)}
    rows = table.set_index("title")
    for title, key in (("installed cost", "cost"), ("price of the fuel", "fuel"), ("hot water drawn", "water")):
        assert rows["at_low"][title] == pytest.approx(page[f"{key}_down"], abs=1e-9)
        assert rows["at_high"][title] == pytest.approx(page[f"{key}_up"], abs=1e-9)


def test_what_does_not_apply_is_left_out_and_told(program: wl.Program) -> None:
    own = wl.whatif.tornado((household(water_heating_units=4000), program), detail="monthly")
    told = {entry["input"]: entry["why"] for entry in own.attrs["left_out"]}
    assert told["hot_water"] == "the household's own bill decides it"
    assert told["loan.{loan}.yearly_rate"] == "the measure is of no loan"
    assert "hot water drawn" not in set(own["title"])
    with pytest.raises(errors.MissingValue, match="hot_water"):
        wl.whatif.tornado(
            (household(water_heating_units=4000), program), {"hot_water": {"times": (0.5, 2)}}, detail="monthly"
        )


def test_a_loan_measure_moves_with_its_loan(one: wl.Appraisal, program: wl.Program) -> None:
    table = wl.whatif.tornado(one, measure="average_month_usd").set_index("title")
    assert table.attrs["measure"] == "loan_average_month_usd"
    row = table.loc["interest rate of the loan"]
    again = wl.appraise(household(), program.changed({"loan.ten-years.yearly_rate": 0.05}), detail="monthly")
    assert row["high"] == 0.05
    assert row["at_high"] == pytest.approx(again.loans["average_month_usd"].iloc[0], abs=1e-9)


def test_prices_by_tariff_move_as_a_whole(program: wl.Program) -> None:
    text = PROGRAM.replace('[prices.electricity]\nusd_per_unit = 0.20\nsource = "invented"\n', "")
    text += """
[[tariff]]
fuel = "electricity"
title = "Town"
source = "invented"
other_units_month = 400

[[tariff.block]]
up_to_units_month = 300
usd_per_unit = 0.1

[[tariff.block]]
usd_per_unit = 0.3
"""
    one = wl.appraise(household(), wl.parse_program(text), detail="monthly")
    table = wl.whatif.tornado(one, {"fuel_price": {"times": (0.5, 2)}})
    row = table.iloc[0]
    assert (row["input"], row["low"], row["base"], row["high"]) == ("fuel_price_times", 0.5, 1, 2)
    doubled = wl.parse_program(text.replace("= 0.1\n", "= 0.2\n").replace("= 0.3\n", "= 0.6\n"))
    again = wl.appraise(household(), doubled, detail="monthly")
    assert row["at_high"] == pytest.approx(again.measures.net_savings_usd, abs=1e-6)


def test_ranges_of_the_callers_own(one: wl.Appraisal) -> None:
    table = wl.whatif.tornado(
        one,
        {
            "occupants": (2, 6),
            "incentive.town-rebate.flat_usd": {"plus": (-500, 500), "source": "a council vote", "title": "rebate"},
            "discount_rate": {"value": (0.03, 0.07)},
        },
        measure="simple_payback_years",
    ).set_index("input")
    assert list(table.loc["incentive.town-rebate.flat_usd", ["low", "base", "high"]]) == [500, 1000, 1500]
    assert table.loc["incentive.town-rebate.flat_usd", "source"] == "a council vote"
    assert table.loc["incentive.town-rebate.flat_usd", "title"] == "rebate"
    assert table.loc["occupants", "source"] == "given by the caller"
    assert table.loc["economics.nominal_discount_rate", "swing"] == 0


def test_an_end_without_a_value_stands_last(one: wl.Appraisal) -> None:
    ranges = {"installed_cost_usd": (4000, 90_000), "occupants": (3, 5)}
    table = wl.whatif.tornado(one, ranges, measure="simple_payback_years")
    assert list(table["input"]) == ["occupants", "installed_cost_usd"]
    assert pd.isna(table["at_high"].iloc[1])
    assert pd.isna(table["swing"].iloc[1])


@pytest.mark.parametrize(
    ("ranges", "kind", "words"),
    [
        ({}, errors.MalformedText, "ranges"),
        ({"occupants": 3}, errors.MalformedText, "no range"),
        ({"occupants": (1, 2, 3)}, errors.MalformedText, "no range"),
        ({"occupants": {"times": (1, 2), "plus": (1, 2)}}, errors.MalformedText, "no range"),
        ({"occupants": {"tims": (1, 2)}}, errors.MalformedText, "no range"),
        ({"occupant": (1, 2)}, errors.UnknownName, "did you mean occupants"),
        ({"occupant": {"times": (1, 2)}}, errors.UnknownName, "did you mean occupants"),
        ({"yearly_energy_bills_usd": {"times": (1, 2)}}, errors.MissingValue, "no value now"),
    ],
)
def test_what_is_no_range_is_refused(one: wl.Appraisal, ranges: Any, kind: type[Exception], words: str) -> None:
    with pytest.raises(kind, match=words):
        wl.whatif.tornado(one, ranges)


def test_an_offer_has_no_ranges_of_its_own() -> None:
    with pytest.raises(errors.MissingValue, match="ranges"):
        wl.whatif.tornado({"installed_cost_usd": 1, "bills_without_usd": 1})


GOOD = "input,title,kind,low,high,source,status\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a,b\n", "line 1.*no header|line 1.*header"),
        ("", "header"),
        (GOOD + "shading_pct,shade,plus,0,10,me\n", "line 2.*6"),
        (GOOD + "shading_pct,,plus,0,10,me,common practice\n", "line 2.*title"),
        (GOOD + "shading_pct,shade,by,0,10,me,common practice\n", "line 2.*kind: by"),
        (GOOD + "shading_pct,shade,plus,0,ten,me,common practice\n", "line 2.*high: ten"),
        (GOOD + "shading_pct,shade,plus,5,1,me,common practice\n", "line 2.*below low"),
        (GOOD + "shading_pct,shade,plus,0,10,me,sure\n", "line 2.*status: sure"),
    ],
)
def test_a_bad_catalogue_names_line_and_column(tmp_path: Path, text: str, words: str) -> None:
    (tmp_path / "ranges.csv").write_text(text, encoding="utf-8")
    with pytest.raises(errors.MalformedText, match=words):
        default_ranges(wl.load_catalog(override=tmp_path))


def test_a_catalogue_of_ones_own_takes_the_place(tmp_path: Path, one: wl.Appraisal) -> None:
    (tmp_path / "ranges.csv").write_text(GOOD + "shading_pct,trees,plus,0,20,a look,verified\n", encoding="utf-8")
    program = wl.parse_program(PROGRAM, catalog=wl.load_catalog(override=tmp_path))
    table = wl.whatif.tornado((household(), program), detail="monthly")
    assert list(table["title"]) == ["trees"]
    assert list(table["source"]) == ["a look (verified)"]
