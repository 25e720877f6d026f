"""Measures over flows through the Python doors: published values, documented library vectors, edges, properties."""

import random

import numpy as np
import pandas as pd
import pytest
import warmledger as wl
from warmledger import economics, errors

# NIST Handbook 135, 3 %: recomputed from its formulas, in the digits below; the annual supplement prints single factors
# to 3 and uniform factors to 2 decimals (from memory).
SPV_UPV_3_PERCENT = """
1 0.970874 0.970874; 2 0.942596 1.913470; 3 0.915142 2.828611; 4 0.888487 3.717098; 5 0.862609 4.579707;
6 0.837484 5.417191; 7 0.813092 6.230283; 8 0.789409 7.019692; 9 0.766417 7.786109; 10 0.744094 8.530203;
11 0.722421 9.252624; 12 0.701380 9.954004; 13 0.680951 10.634955; 14 0.661118 11.296073; 15 0.641862 11.937935;
16 0.623167 12.561102; 17 0.605016 13.166118; 18 0.587395 13.753513; 19 0.570286 14.323799; 20 0.553676 14.877475;
21 0.537549 15.415024; 22 0.521893 15.936917; 23 0.506692 16.443608; 24 0.491934 16.935542; 25 0.477606 17.413148;
26 0.463695 17.876842; 27 0.450189 18.327031; 28 0.437077 18.764108; 29 0.424346 19.188455; 30 0.411987 19.600441
"""


def test_single_and_uniform_factors() -> None:
    rows = [row.split() for row in SPV_UPV_3_PERCENT.split(";")]
    assert len(rows) == 30
    for years, single, uniform in rows:
        assert f"{economics.spv(0.03, int(years)):.6f}" == single
        assert f"{economics.upv(0.03, int(years)):.6f}" == uniform


def test_six_factors_of_astm_at_3_percent_and_ten_years() -> None:
    # Identities between the factors of the ASTM E917 adjunct; values recomputed.
    upv, ucr = economics.upv(0.03, 10), economics.ucr(0.03, 10)
    assert (round(upv, 6), round(ucr, 6)) == (8.530203, 0.117231)
    assert round(1 / economics.spv(0.03, 10), 6) == 1.343916  # single compound amount
    assert round(ucr - 0.03, 6) == 0.087231  # uniform sinking fund
    assert round(upv / economics.spv(0.03, 10), 6) == 11.463879  # uniform compound amount


def test_handbook_example_to_the_dollar() -> None:
    # NIST Handbook 135 (2025 edition) section 7.1.1, example 7-1, storm windows, as one public transcription prints it.
    gas, electricity = 1.05 * 16.15, 0.135 * 15.48
    base = economics.life_cycle_cost(0.03, [1500 * gas + 1200 * electricity])
    alternative = economics.life_cycle_cost(0.03, [2000 + 1300 * gas + 1100 * electricity])
    assert (round(base), round(alternative)) == (27944, 26344)
    saved = base - (alternative - 2000)
    assert economics.sir(saved, 2000) == pytest.approx(1.80024, abs=1e-5)
    assert economics.airr(0.03, saved, 2000, 20) == pytest.approx(0.060727, abs=1e-6)


@pytest.mark.parametrize(
    ("flows", "rates"),
    [
        # numpy-financial docstrings (irr); it returns one rate where there are two or three.
        ([-100, 39, 59, 55, 20], [0.2809484212526239]),  # to the digits of pyxirr's documentation
        ([-100, 0, 0, 74], [0.74 ** (1 / 3) - 1]),
        ([-250000, 100000, 150000, 200000, 250000, 300000], [0.5672303344358536]),
        # Textbook flows with several rates, known exactly.
        ([-1600, 10000, -10000], [0.25, 4.0]),
        ([-252, 1431, -3035, 2850, -1000], [0.25, 1 / 3, 3 / 7, 2 / 3]),
        ([-100, 230, -132], [0.10, 0.20]),
        ([-1000, 3000, -2500], []),
        ([100, -200, 150], []),
    ],
)
def test_every_internal_rate(flows: list[float], rates: list[float]) -> None:
    found = economics.internal_rates(flows)
    assert found.rates == economics.irr(np.array(flows, dtype=float))
    assert found.rates == pytest.approx(rates, abs=1e-9)
    assert bool(found.statement) == (len(rates) != 1)
    assert len(rates) <= found.sign_changes


@pytest.mark.parametrize(
    ("flows", "documented"),
    [([-100, 100, 0, -7], -0.0833), ([-100, 100, 0, 7], 0.06206), ([-5, 10.5, 1, -8, 1], 0.0886)],
)
def test_the_documented_rate_is_among_ours(flows: list[float], documented: float) -> None:
    # numpy-financial docstrings print these to four or five digits.
    assert any(round(rate, len(str(abs(documented))) - 2) == documented for rate in economics.irr(flows))


def test_documented_present_values_and_mirr() -> None:
    flows = [-40000, 5000, 8000, 12000, 30000]
    assert economics.npv(0.08, flows) == pytest.approx(3065.2226681795255, rel=1e-12)  # pyxirr's documentation
    assert economics.npv(0.08, [0, *flows]) == pytest.approx(2838.1691372032656, rel=1e-12)
    # From memory of numpy-financial's tests; recomputed from the formula in its source.
    assert economics.mirr([-4500, -800, 800, 800, 600, 600, 800, 800, 700, 3000], 0.08, 0.055) == pytest.approx(
        0.0665971750, abs=1e-10
    )
    assert economics.mirr([-120000, 39000, 30000, 21000, 37000, 46000], 0.10, 0.12) == pytest.approx(
        0.1260941303, abs=1e-10
    )


def test_timing_conventions() -> None:
    flows, rate = [-1000.0, 300, 300, 300, 300], 0.06
    value = {timing: economics.present_value(rate, flows, timing) for timing in TIMINGS}
    assert value["end_of_year"] == economics.npv(rate, flows)
    assert value["mid_year"] == pytest.approx(-1000 + sum(300 * 1.06 ** -(k - 0.5) for k in range(1, 5)), rel=1e-13)
    assert value["start_of_year"] == pytest.approx(-1000 + sum(300 * 1.06**-k for k in range(4)), rel=1e-13)
    months = [-1000.0, *[25.0] * 48]
    assert value["monthly"] == pytest.approx(economics.npv(economics.monthly_rate(rate), months), rel=1e-12)
    assert value["start_of_year"] > value["monthly"] > value["end_of_year"]
    with pytest.raises(errors.UnknownName, match="mid_year"):
        economics.present_value(rate, flows, "midyear")


TIMINGS = ("end_of_year", "mid_year", "start_of_year", "monthly")


@pytest.mark.parametrize("kind", [list, tuple, np.array, pd.Series])
def test_any_kind_of_sequence(kind: type) -> None:
    flows = kind([-100.0, 60.0, 60.0])
    assert economics.npv(0.1, flows) == pytest.approx(4.132231404958677, rel=1e-14)
    assert economics.simple_payback(flows) == pytest.approx(1 + 40 / 60)
    assert economics.irr(flows) == pytest.approx([0.1306623862918075])
    assert economics.npv(0.1, np.array([-100, 60, 60])) == economics.npv(0.1, flows)


def test_what_is_undefined_is_none_with_a_reason() -> None:
    cases = {
        "simple_payback": lambda why: economics.simple_payback([-100, 10], reasons=why),
        "discounted_payback": lambda why: economics.discounted_payback(0.1, [-100, 105], reasons=why),
        "lasting_simple_payback": lambda why: economics.lasting_simple_payback([-100, 120, -50], reasons=why),
        "lasting_discounted_payback": lambda why: economics.lasting_discounted_payback(0.1, [], reasons=why),
        "sir": lambda why: economics.sir(5, 0, reasons=why),
        "airr": lambda why: economics.airr(0.03, -5, 10, 20, reasons=why),
        "mirr": lambda why: economics.mirr([1, 2], 0.1, 0.1, reasons=why),
        "levelised_cost": lambda why: economics.levelised_cost(0.1, [1], [0], reasons=why),
        "break_even": lambda why: economics.break_even(1, 5, 2, 5, reasons=why),
    }
    for name, call in cases.items():
        why: dict[str, str] = {}
        assert call(why) is None
        assert list(why) == [name]
        assert why[name]
        assert call(None) is None
    why = {}
    assert economics.irr([1, 2], reasons=why) == []
    assert why["irr"] == "all flows have one sign: nothing is both paid and received"


@pytest.mark.parametrize(
    ("flows", "payback", "rates", "statement"),
    [
        ([], None, [], "there are no flows"),
        ([0, 0, 0], 0.0, [], "all flows are zero"),
        ([-5], None, [], "all flows have one sign: nothing is both paid and received"),
        ([5], 0.0, [], "all flows have one sign: nothing is both paid and received"),
    ],
)
def test_short_and_empty_flows(flows: list[float], payback: float | None, rates: list[float], statement: str) -> None:
    assert economics.npv(0.05, flows) == (flows[0] if flows else 0)
    assert economics.simple_payback(flows) == payback
    found = economics.internal_rates(flows)
    assert (found.rates, found.statement) == (rates, statement)


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -float("inf")])
def test_flows_that_are_not_finite_are_refused_by_every_function(bad: float) -> None:
    flows = [-100.0, 300.0, bad]
    calls = [
        lambda: economics.npv(0.1, flows),
        lambda: economics.present_value(0.1, flows, "mid_year"),
        lambda: economics.life_cycle_cost(0.1, flows),
        lambda: economics.simple_payback(flows),
        lambda: economics.discounted_payback(0.1, flows),
        lambda: economics.lasting_simple_payback(flows),
        lambda: economics.lasting_discounted_payback(0.1, flows),
        lambda: economics.irr(flows),
        lambda: economics.internal_rates_by_row([[1.0, -1.0, 0.0], flows]),
        lambda: economics.mirr(flows, 0.1, 0.1),
        lambda: economics.levelised_cost(0.1, flows, [1, 1]),
        lambda: economics.sir(bad, 1),
        lambda: economics.sir(1, bad),
        lambda: economics.break_even(0, bad, 1, 2),
        lambda: economics.equivalent_annual_value(0.1, bad, 5),
        lambda: economics.spv(0.1, bad),
    ]
    for call in calls:
        with pytest.raises(errors.ValueOutOfRange):
            call()


def test_what_would_leave_the_range_of_numbers_is_refused() -> None:
    for call in (
        lambda: economics.npv(-0.999, [1.0] * 2000),
        lambda: economics.spv(-0.999, 2000),
        lambda: economics.upv(-0.999, 2000),
        lambda: economics.npv(0.0, [1e308, 1e308]),
        lambda: economics.simple_payback([-1e308, -1e308]),
        lambda: economics.lasting_discounted_payback(-0.999, [-1.0] * 2000),
    ):
        with pytest.raises(errors.ValueOutOfRange):
            call()
    for call in (lambda: economics.upv(0.05, -1), lambda: economics.ucr(0.05, 0), lambda: economics.npv(-1.0, [1])):
        with pytest.raises(errors.ValueOutOfRange):
            call()
    why: dict[str, str] = {}
    assert economics.sir(1e308, 1e-308, reasons=why) is None
    assert why["sir"] == "it is too large for a number"


def test_what_is_no_row_of_flows_is_refused() -> None:
    with pytest.raises(errors.MalformedText, match="2 dimensions"):
        economics.npv(0.1, [[1, 2]])
    with pytest.raises(errors.MalformedText, match="1 dimension"):
        economics.internal_rates_by_row([1, 2])
    with pytest.raises(errors.ValueOutOfRange, match=r"flows\[1\]"):
        economics.npv(0.1, [1, None])


def test_many_rows_at_once_are_the_rows_one_by_one() -> None:
    draw = np.random.default_rng(5)
    flows = draw.uniform(-50, 60, (700, 12))
    flows[:, 0] = -draw.uniform(0, 300, 700)
    alone = [economics.irr(row) for row in flows]
    assert {len(rates) for rates in alone} >= {0, 1, 2}
    for threads in (None, 1, 3):
        assert economics.internal_rates_by_row(flows, threads=threads) == alone
    assert economics.internal_rates_by_row(np.empty((0, 4))) == []
    with pytest.raises(errors.ValueOutOfRange, match="threads"):
        economics.internal_rates_by_row(flows, threads=0)


def test_the_order_of_flows_within_a_period_changes_nothing() -> None:
    draw = random.Random(3)
    for _ in range(200):
        # Cents as whole numbers, so that sums do not depend on their order by rounding either.
        parts = [[draw.randint(-9000, 10000) for _ in range(draw.randint(1, 5))] for _ in range(12)]
        shuffled = [draw.sample(period, len(period)) for period in parts]
        one, other = ([sum(period) for period in periods] for periods in (parts, shuffled))
        assert economics.npv(0.07, one) == economics.npv(0.07, other)
        assert economics.irr(one) == economics.irr(other)
        assert economics.simple_payback(one) == economics.simple_payback(other)


def test_payback_falls_with_the_price_of_what_is_saved() -> None:
    draw = random.Random(9)
    for _ in range(200):
        units = [draw.uniform(50, 200) for _ in range(25)]
        cost = draw.uniform(1000, 9000)
        for payback in (
            economics.simple_payback,
            lambda flows: economics.discounted_payback(0.04, flows),
            economics.lasting_simple_payback,
        ):
            found = [payback([-cost, *(price * u for u in units)]) for price in (1.0, 2.0, 4.0, 8.0)]
            known = [years for years in found if years is not None]
            assert known == sorted(known, reverse=True)
            # Once a price pays back, so does every higher one.
            assert found[len(found) - len(known) :] == known


def test_annual_value_and_levelised_cost_are_what_they_say() -> None:
    even = economics.equivalent_annual_value(0.05, 1000, 20)
    assert economics.npv(0.05, [0, *[even] * 20]) == pytest.approx(1000, rel=1e-13)
    costs, heat = [5000, *[40] * 20], [0, *[2500] * 20]
    price = economics.levelised_cost(0.05, costs, heat)
    assert price is not None
    assert economics.npv(0.05, [price * q - c for c, q in zip(costs, heat, strict=True)]) == pytest.approx(0, abs=1e-9)


def test_cost_tests_of_a_constructed_program() -> None:
    # Constructed; worked by hand from the manual's table, partly from memory.
    amounts = {
        "avoided_supply": 1200,
        "bill_reduction": 1500,
        "incentive": 400,
        "tax_credit": 300,
        "administration": 100,
        "participant_cost": 1600,
        "outside_benefit": 150,
    }
    found = economics.cost_tests(amounts, 0.0)
    assert [(found[t]["benefits"], found[t]["costs"], found[t]["net"]) for t in found] == [
        (2200, 1600, 600),
        (1200, 500, 700),
        (1200, 2000, -800),
        (1200, 1400, -200),
        (1350, 1700, -350),
    ]
    assert [round(found[t]["ratio"], 4) for t in found] == [1.375, 2.4, 0.6, 0.8571, 0.7941]
    assert economics.cost_test("societal", amounts) == found["societal"]


def test_an_odd_rate_takes_away_its_own_test_only() -> None:
    flows = {"avoided_supply": [0, 500, 500], "participant_cost": 700, "bill_reduction": [0, 600, 600]}
    rates = dict.fromkeys(economics.cost_tests(flows, 0.05), 0.05)
    good = economics.cost_tests(flows, rates)
    assert all(test["net"] is not None for test in good.values())
    odd = economics.cost_tests(flows, {**rates, "societal": -3})
    assert odd["societal"]["net"] is None
    assert odd["societal"]["why_none"].startswith("rate: -3 is out of range")
    assert {name: odd[name] for name in rates if name != "societal"} == {
        name: good[name] for name in rates if name != "societal"
    }
    negative = economics.cost_tests({**flows, "outside_cost": -1}, 0.05)
    assert [name for name, test in negative.items() if test["net"] is None] == ["societal"]
    with pytest.raises(errors.UnknownName, match="tax_credit"):
        economics.cost_tests({"tax_credits": 1}, 0.05)
    with pytest.raises(errors.UnknownName, match="has no rate"):
        economics.cost_tests(flows, {"participant": 0.05})


def test_the_table_of_entries_can_be_read() -> None:
    table = economics.cost_test_table()
    assert table.loc["tax_credit", "total_resource"] == "less cost"
    assert table.loc["bill_reduction", "ratepayer_impact"] == "cost"
    assert set(table.columns[1:]) == set(economics.cost_tests({}, 0.0))
    assert set(table.iloc[:, 1:].to_numpy().ravel()) == {"benefit", "cost", "less cost", "-"}


def test_every_public_function_has_a_docstring() -> None:
    for name in economics.__all__:
        assert (getattr(wl.economics, name).__doc__ or "").strip(), name
