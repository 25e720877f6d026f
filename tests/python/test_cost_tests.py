"""Measures under other timings, and the cost tests, of households and of a sheet."""

import pickle
from typing import Any

import pandas as pd
import pytest
import warmledger as wl
from warmledger import economics, errors

HOUSEHOLD = {
    "household_id": "one",
    "place": "Quillmere",
    "occupants": 4,
    "yearly_income_usd": 52000,
    "heater_fuel": "propane",
}
DEMO = wl.data_dir() / "demo" / "program.toml"


@pytest.fixture(scope="module")
def program() -> wl.Program:
    return wl.load_program(DEMO)


@pytest.fixture(scope="module")
def one(program: wl.Program) -> wl.Appraisal:
    return wl.appraise(HOUSEHOLD, program, detail="monthly")


def with_keys(*changes: tuple[str, str]) -> wl.Program:
    text = DEMO.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return wl.parse_program(text)


def flows_of(one: wl.Appraisal, rate: float) -> dict[str, Any]:
    """Yearly flows, with minus without, from the ledger: in cash, and what remains at the end."""
    book = one.ledger()
    signed = book["amount_usd"].where(book["world"] == "with", -book["amount_usd"])
    remains = book["category"] == "remaining value"
    months = one.study_years * 12 + 1
    cash = [0.0] * months
    for month, amount in zip(book["month"][~remains], signed[~remains], strict=True):
        cash[month] += float(amount)
    return {"cash": cash, "left": float(signed[remains].sum())}


def test_the_measures_follow_from_the_ledger(one: wl.Appraisal, program: wl.Program) -> None:
    m = one.measures
    flows = flows_of(one, 0.05)
    total = [*flows["cash"][:-1], flows["cash"][-1] + flows["left"]]
    month_rate = economics.monthly_rate(0.05)
    assert m.net_savings_usd == pytest.approx(economics.npv(month_rate, total), abs=1e-6)
    assert m.internal_rates == pytest.approx([economics.yearly_rate(r, 12) for r in economics.irr(total)], abs=1e-9)
    for rate in m.internal_rates:
        assert economics.npv(economics.monthly_rate(rate), total) == pytest.approx(0, abs=1e-6)
    lasting = economics.lasting_simple_payback(flows["cash"])
    assert m.lasting_simple_payback_years == pytest.approx(lasting / 12 if lasting else lasting)
    assert m.equivalent_annual_value_usd == pytest.approx(
        economics.equivalent_annual_value(0.05, m.net_savings_usd, one.study_years)
    )


def test_yearly_conventions_take_the_sums_of_years(one: wl.Appraisal) -> None:
    flows = flows_of(one, 0.05)
    years = [flows["cash"][0], *(sum(flows["cash"][12 * y + 1 : 12 * y + 13]) for y in range(one.study_years))]
    left = flows["left"] * 1.05**-one.study_years
    for timing in ("end_of_year", "mid_year", "start_of_year"):
        m = one.measures_under(timing)
        assert m.net_savings_usd == pytest.approx(economics.present_value(0.05, years, timing) + left, abs=1e-6)
        assert m.net_savings_usd == pytest.approx(m.life_cycle_cost_without_usd - m.life_cycle_cost_with_usd, abs=1e-6)
    end = one.measures_under("end_of_year")
    assert end.discounted_payback_years == pytest.approx(economics.discounted_payback(0.05, years))
    assert end.internal_rates == pytest.approx(economics.irr([*years[:-1], years[-1] + flows["left"]]), abs=1e-9)
    assert dict(one.measures_under("monthly")) == dict(one.measures)
    with pytest.raises(errors.UnknownName, match="end_of_year"):
        one.measures_under("yearly")


def test_at_its_break_even_cost_and_price_a_purchase_saves_nothing(one: wl.Appraisal, program: wl.Program) -> None:
    # Without incentives, which would move with the cost.
    text = DEMO.read_text(encoding="utf-8")
    bare = wl.parse_program(text[: text.index("# County rebate by income")] + text[text.index("[[loan]]") :])
    first = wl.appraise(HOUSEHOLD, bare, detail="monthly")
    cost = first.measures.break_even_installed_cost_usd
    again = wl.appraise(
        {**HOUSEHOLD, "installed_cost_usd": round(cost, 2), "package": "drain-back-small"}, bare, detail="monthly"
    )
    if again.summary["package"] == first.summary["package"]:
        assert again.measures.net_savings_usd == pytest.approx(0, abs=0.02)
    price = first.measures.break_even_fuel_price_usd_per_unit
    cheap = wl.parse_program(
        (text[: text.index("# County rebate by income")] + text[text.index("[[loan]]") :]).replace(
            "usd_per_unit = 2.85", f"usd_per_unit = {price:.9f}", 1
        )
    )
    same = wl.appraise({**HOUSEHOLD, "package": first.summary["package"]}, cheap, detail="monthly")
    assert same.measures.net_savings_usd == pytest.approx(0, abs=1e-3)


def test_exact_measures_agree(one: wl.Appraisal, program: wl.Program) -> None:
    exact = wl.appraise(HOUSEHOLD, program, detail="monthly", exact=True)
    for name, value in one.measures.items():
        if isinstance(value, float):
            assert float(exact.measures[name]) == pytest.approx(value, abs=0.005 if name.endswith("_usd") else 1e-9)
    assert [float(rate) for rate in exact.measures.internal_rates] == pytest.approx(one.measures.internal_rates)
    assert exact.cost_tests["net_usd"].astype(float).tolist() == pytest.approx(one.cost_tests["net_usd"].tolist())


def test_money_is_conserved_between_all_parties(one: wl.Appraisal, program: wl.Program) -> None:
    tests = with_keys(("societal_discount_rate = 0.03\n", ""))
    same_rate = wl.appraise(HOUSEHOLD, tests, detail="monthly")
    frame = same_rate.cost_tests
    net = frame["net_usd"]
    # All at one rate: what the participant wins in the test is the net savings of the appraisal.
    assert net["participant"] == pytest.approx(same_rate.measures.net_savings_usd, abs=1e-6)
    # Participant and ratepayers together are the total resource test: rebates and bills only change hands.
    assert net["participant"] + net["ratepayer_impact"] == pytest.approx(net["total_resource"], abs=1e-6)
    assert (frame["net_usd"] == frame["benefits_usd"] - frame["costs_usd"]).all()
    assert (frame["why_none"] == "").all()


def test_a_missing_supply_cost_takes_away_the_tests_that_need_it() -> None:
    oil = wl.appraise({**HOUSEHOLD, "heater_fuel": "heating_oil"}, DEMO, detail="monthly").cost_tests
    assert oil["net_usd"].notna().to_dict() == {
        "participant": True,
        "administrator": False,
        "ratepayer_impact": False,
        "total_resource": False,
        "societal": False,
    }
    assert "[cost_tests.heating_oil]" in oil.loc["societal", "why_none"]


def test_a_program_without_cost_tests_has_none() -> None:
    text = DEMO.read_text(encoding="utf-8")
    bare = wl.parse_program(text[: text.index("# For the cost tests")])
    one = wl.appraise(HOUSEHOLD, bare, detail="monthly")
    assert one.cost_tests.empty
    assert pickle.loads(pickle.dumps(one)).cost_tests.empty


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("societal_discount_rate = 0.03", "societal_discount_rate = -2", "societal_discount_rate: -2 is out of range"),
        ('co2_source = "invented demo price"\n', "", "co2_source: is missing"),
        ("avoided_usd_per_unit = 2.05\nsource", "avoided_usd_per_unit = -1\nsource", "out of range"),
        ("administration_usd_per_household", "administration_per_household", "did you mean"),
        ('avoided_usd_per_unit = 2.05\nsource = "invented demo value"', "avoided_usd_per_unit = 2.05", "source"),
        (
            "co2_usd_per_tonne = 60",
            "co2_usd_per_tonne = 60\nco2_nominal_escalation = 0.1\nco2_real_escalation = 0.1",
            "beside",
        ),
    ],
)
def test_wrong_keys_are_named(old: str, new: str, message: str) -> None:
    with pytest.raises(errors.Error, match=message.replace("[", r"\[")):
        with_keys((old, new))


def test_a_sheet_adds_up(program: wl.Program) -> None:
    sheet = pd.DataFrame(
        [
            {**HOUSEHOLD, "household_id": f"{fuel} {people}", "heater_fuel": fuel, "occupants": people}
            for fuel in ("electricity", "natural_gas", "propane", "heating_oil")
            for people in (2, 5)
        ]
        + [{**HOUSEHOLD, "household_id": "bad", "occupants": -1}]
    )
    results = wl.screen(sheet, program, detail="monthly", progress=False)
    added = wl.cost_tests(results)
    assert added["households"].to_dict() == {
        "participant": 8,
        "administrator": 6,
        "ratepayer_impact": 6,
        "total_resource": 6,
        "societal": 6,
    }
    assert (added["households"] + added["without_result"] == 9).all()
    assert added.loc["participant", "reason"].startswith("1 of 9 households")
    alone = [wl.appraise(row, program, detail="monthly").cost_tests for row in sheet.to_dict("records")[:8]]
    for test in added.index:
        total = sum(frame.loc[test, "net_usd"] for frame in alone if pd.notna(frame.loc[test, "net_usd"]))
        assert added.loc[test, "net_usd"] == pytest.approx(total)
    dearer = wl.cost_tests(results, fixed_administration_usd=1000)
    difference = (added["net_usd"] - dearer["net_usd"]).round(6).to_dict()
    assert difference == {**dict.fromkeys(added.index, 1000.0), "participant": 0.0}
    empty = wl.cost_tests(results.iloc[:0])
    assert empty["reason"].tolist() == ["there are no households"] * 5
    with pytest.raises(errors.MissingValue, match="participant_test_benefits_usd"):
        wl.cost_tests(sheet)
    with pytest.raises(errors.ValueOutOfRange):
        wl.cost_tests(results, fixed_administration_usd=-1)
