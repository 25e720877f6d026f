"""One household in full."""

import copy
import json
import pickle
from decimal import Decimal

import pandas as pd
import pytest
import warmledger as wl
from conftest import household
from hypothesis import given, settings
from hypothesis import strategies as st
from warmledger import errors


@pytest.fixture(scope="module")
def one(program: wl.Program) -> wl.Appraisal:
    return wl.appraise(household(heater_age_years=5), program)


def test_agrees_with_the_sheet(program: wl.Program) -> None:
    rows = pd.DataFrame([household("A"), household("B", occupants=2), household("C", heater_fuel="propane")])
    screened = wl.screen(rows, program, progress=False)
    for i in range(3):
        found = wl.appraise(rows.iloc[i], program)
        again = wl.appraise(rows.iloc[[i]], program)
        assert found.decision == again.decision == screened["decision"].iloc[i]
        assert found.reason == screened["reason"].iloc[i]
        for name in ("net_cost_usd", "net_savings_usd", "simple_payback_years", "first_year_saving_usd"):
            assert found.measures[name] == screened[name].iloc[i]


def test_ledger_adds_up(one: wl.Appraisal) -> None:
    book = one.ledger()
    assert list(book.columns) == ["date", "month", "world", "category", "amount_usd", "reason"]
    assert set(book["world"]) == {"with", "without"}
    assert (book["reason"] != "").all()
    m = one.measures
    start = book[book["month"] == 0].groupby("category")["amount_usd"].sum()
    assert -start.sum() == pytest.approx(m.due_at_install_usd)
    fuel = book[(book["month"].between(1, 12)) & book["category"].isin(["fuel", "pump electricity", "pump"])]
    by_world = fuel.groupby("world")["amount_usd"].sum()
    assert -by_world["without"] == pytest.approx(m.first_year_cost_without_usd, abs=1e-9)
    assert -by_world["with"] == pytest.approx(m.first_year_cost_with_usd, abs=1e-9)


def test_yearly_is_the_ledger_by_year(one: wl.Appraisal) -> None:
    yearly, book = one.yearly(), one.ledger()
    assert yearly.index.tolist() == list(range(21))
    for world in ("with", "without"):
        assert yearly[world].to_numpy().sum() == pytest.approx(book[book["world"] == world]["amount_usd"].sum())


def test_net_savings_from_the_ledger(one: wl.Appraisal) -> None:
    """Net savings are life-cycle cost without less with (ASTM E1074), here from the ledger with the monthly rate that
    compounds to the program's 5 % a year."""
    book = one.ledger()
    present = book["amount_usd"] / 1.05 ** (book["month"] / 12)
    of = {world: present[book["world"] == world].sum() for world in ("with", "without")}
    m = one.measures
    assert of["with"] - of["without"] == pytest.approx(m.net_savings_usd, abs=1e-6)
    assert -of["without"] == pytest.approx(m.life_cycle_cost_without_usd, abs=1e-6)
    assert -of["with"] == pytest.approx(m.life_cycle_cost_with_usd, abs=1e-6)
    assert m.net_savings_usd == pytest.approx(m.savings_present_value_usd - m.investment_present_value_usd, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(
    occupants=st.integers(1, 12),
    income=st.integers(0, 300_000),
    fuel=st.sampled_from(["electricity", "natural_gas", "propane", "heating_oil"]),
    cost=st.integers(0, 20_000),
)
def test_exact_and_double_agree(program: wl.Program, occupants: int, income: int, fuel: str, cost: int) -> None:
    """Amounts within a cent, ratios and rates within 1e-9, or that share of one above 1: where a rebate leaves a
    dollar to pay, the internal rate is 1e16, which a double cannot hold closer."""
    row = household(occupants=occupants, yearly_income_usd=income, heater_fuel=fuel, installed_cost_usd=cost)
    plain, exact = wl.appraise(row, program), wl.appraise(row, program, exact=True)
    assert plain.decision == exact.decision
    for name, value in exact.measures.items():
        other = plain.measures[name]
        assert (value is None) == (other is None), name
        if value is not None:
            assert isinstance(value, Decimal)
            assert float(value) == (
                pytest.approx(other, abs=0.01) if name.endswith("_usd") else pytest.approx(other, rel=1e-9, abs=1e-9)
            ), name
    amounts = exact.ledger()["amount_usd"]
    assert all(isinstance(amount, Decimal) for amount in amounts)
    assert max(abs(float(a) - b) for a, b in zip(amounts, plain.ledger()["amount_usd"], strict=True)) < 0.01


@pytest.mark.parametrize("exact", [False, True])
def test_travels_as_pickle_copy_and_json(program: wl.Program, exact: bool) -> None:
    found = wl.appraise(household(), program, exact=exact)
    for again in (pickle.loads(pickle.dumps(found)), copy.copy(found), copy.deepcopy(found)):
        assert again.to_dict() == found.to_dict()
        pd.testing.assert_frame_equal(again.ledger(), found.ledger())
        assert repr(again) == repr(found)
    read = json.loads(found.to_json())
    assert read["summary"]["decision"] == found.decision
    assert read["summary"]["install_date"] == "2026-05-01"
    net_cost = read["measures"]["net_cost_usd"]
    assert Decimal(net_cost) == found.measures.net_cost_usd if exact else net_cost == found.measures.net_cost_usd


def test_measures_say_why_they_have_no_value(program: wl.Program) -> None:
    measures = wl.appraise(household(installed_cost_usd=200_000), program).measures
    assert measures.simple_payback_years is None
    assert measures.why_none["simple_payback_years"]
    assert "net_cost_usd" in dir(measures)
    assert len(measures) == len(list(measures))
    with pytest.raises(AttributeError, match="no measure 'payback'"):
        _ = measures.payback


def test_frames_of_an_appraisal(one: wl.Appraisal) -> None:
    year = one.year()
    assert year.index.tolist()[0] == "Jan"
    assert len(year) == 12
    assert (year["load_kwh"] > 0).all()
    assert year["solar_fraction"].between(0, 1).all()
    assert one.incentives["applied"].tolist() == [True]
    assert one.incentives["amount_usd"].tolist() == [1000.0]
    assert one.loans["id"].tolist() == ["ten-years"]
    assert {topic for topic, _ in one.cautions} >= {"scald", "pressure", "roof_work"}
    assert any(text.startswith("shading_pct = 0") for text in one.defaults_used)
    assert one.study_years == 20


def test_displays_are_one_line_and_escaped(program: wl.Program) -> None:
    found = wl.appraise(household("<b>&"), program)
    assert repr(found).startswith("<Appraisal <b>&: ")
    assert "\n" not in repr(found)
    assert "&lt;b&gt;&amp;" in found._repr_html_()
    assert "<b>" not in found._repr_html_()


def test_a_household_that_cannot_be_appraised_raises(program: wl.Program) -> None:
    with pytest.raises(errors.Error, match="occupants: 99 is out of range") as caught:
        wl.appraise(household(occupants=99), program)
    assert caught.value.problem["key"] == "occupants"
    again = pickle.loads(pickle.dumps(caught.value))
    assert again.problem == caught.value.problem
    with pytest.raises(errors.Error, match="did you mean Testville"):
        wl.appraise(household(place="Testvill"), program)
    for nothing in (None, [], 7):
        with pytest.raises(errors.MalformedText, match="is not a household"):
            wl.appraise(nothing, program)
        with pytest.raises(errors.MalformedText, match="is not a program"):
            wl.appraise(household(), nothing)
    with pytest.raises(errors.UnknownName, match="weekly"):
        wl.appraise(household(), program, detail="weekly")
    with pytest.raises(errors.Contradiction, match="2 rows"):
        wl.appraise(pd.DataFrame([household("A"), household("B")]), program)


def test_unknown_names_are_warned_of(program: wl.Program) -> None:
    with pytest.warns(wl.UnknownColumnWarning, match="did you mean occupants"):
        wl.appraise(household(ocupants=3), program)


def test_hours_are_those_of_the_appraisals_own_year(program: wl.Program) -> None:
    one = wl.appraise(household(), program)
    hours = one.hours()
    assert len(hours) == 8760
    assert hours[["month", "day", "hour"]].iloc[[0, 8759]].values.tolist() == [[1, 1, 0], [12, 31, 23]]
    section = one.to_dict()["year"]
    # Two tanks: what the backup takes in by month is what the year says, and its hottest tank is among the hours.
    backup = hours.groupby("month")["backup_w"].sum() / 1000
    assert backup.tolist() == pytest.approx(section["backup_with_kwh"], rel=1e-9)
    assert hours["tank_top_c"].max() <= section["peak_tank_c"] + 1e-9
    assert hours["tank_top_c"].max() > section["peak_tank_c"] - 3
    assert hours["drawn_l"].sum() / 365 == pytest.approx(one.system["hot_water_l_day"], rel=1e-6)


def test_hours_survive_copies_and_pickles_and_are_not_in_json(program: wl.Program) -> None:
    one = wl.appraise(household(), program)
    hours = one.hours()
    for again in (copy.copy(one), copy.deepcopy(one), pickle.loads(pickle.dumps(one))):
        pd.testing.assert_frame_equal(again.hours(), hours, check_exact=True)
        assert again.to_json() == one.to_json()
    assert "tank_top_c" not in one.to_json()
    exact = wl.appraise(household(), program, exact=True)
    pd.testing.assert_frame_equal(exact.hours(), hours, check_exact=True)
    with pytest.raises(errors.NotAvailable, match="monthly method"):
        wl.appraise(household(), program, detail="monthly").hours()


def test_objects_show_themselves(program: wl.Program) -> None:
    one = wl.appraise(household(), program)
    assert "Caution: " in one._repr_html_()
    assert "net_savings_usd: " in repr(one.measures)
    assert "<th" in one.measures._repr_html_()
    page = program.changed({"title": "<b>bold</b>"})._repr_html_()
    assert "&lt;b&gt;bold" in page
    assert "<b>" not in page
    for shown in (one, one.measures, program):
        assert 'class="tex2jax_ignore' in shown._repr_html_()  # dollar amounts are no formulas
