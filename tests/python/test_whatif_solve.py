"""wl.whatif.solve_for: what it finds is put back and gives the target; what there is not is told."""

import sys
from typing import Any

import pandas as pd
import pytest
import warmledger as wl
from conftest import household
from warmledger import errors

pytest.importorskip("scipy")

LOAN = "ten-years"
CENT = 0.01


@pytest.fixture(scope="module")
def one(program: wl.Program) -> wl.Appraisal:
    return wl.appraise(household(), program, detail="monthly")


def put_back(one: wl.Appraisal, unknown: str, value: Any) -> wl.Appraisal:
    """The household appraised with the value, by the plain way."""
    if "." in unknown:
        return one.with_changes({"package": one.summary["package"]}, one.program.changed({unknown: value}))
    return one.with_changes({"package": one.summary["package"], unknown: value})


def measured(found: wl.Appraisal, measure: str) -> float | None:
    if measure.startswith("loan_"):
        loans = found.loans.set_index("id")
        return float(loans.loc[LOAN, measure.removeprefix("loan_")])
    return found.measures[measure]


@pytest.mark.parametrize(
    ("target", "unknown", "near"),
    [
        # The three targets, over each kind of unknown that a program manager or loan officer can move.
        ({"simple_payback_years": 9}, "installed_cost_usd", 1e-3),
        ({"simple_payback_years": 4}, "incentive.town-rebate.flat_usd", 1e-3),
        ({"simple_payback_years": 9}, "electricity_price_usd_per_kwh", 1e-3),
        ({"simple_payback_years": 9}, "prices.electricity.usd_per_unit", 1e-3),
        ({"loan_average_month_usd": 0}, "installed_cost_usd", CENT),
        ({"loan_average_month_usd": 20}, "loan.ten-years.yearly_rate", CENT),
        ({"loan_average_month_usd": 8}, "incentive.town-rebate.flat_usd", CENT),
        ({"loan_average_month_usd": 0}, "electricity_price_usd_per_kwh", CENT),
        ({"net_savings_usd": 0}, "installed_cost_usd", 0.02),
        ({"net_savings_usd": 0}, "electricity_price_usd_per_kwh", 0.02),
        ({"net_savings_usd": 5500}, "incentive.town-rebate.flat_usd", 0.02),
        ({"net_savings_usd": 4000}, "economics.nominal_discount_rate", 0.02),
        ({"loan_net_savings_usd": 5000}, "loan.ten-years.yearly_rate", 0.01 * 120),
    ],
)
def test_a_solution_put_back_gives_the_target(
    one: wl.Appraisal, target: dict[str, float], unknown: str, near: float
) -> None:
    found = wl.whatif.solve_for(one, target, unknown)
    measure, wanted = next(iter(target.items()))
    assert found.value is not None, found.reason
    assert found.values == [found.value]
    again = measured(put_back(one, unknown, found.value), measure)
    assert again == pytest.approx(wanted, abs=near)
    assert found.reached[0] == pytest.approx(again, abs=1e-9)
    assert found.closest is None
    assert found.results[measure].iloc[0] == pytest.approx(again, abs=1e-9)
    assert found.results[unknown].iloc[0] == found.value
    if unknown.endswith("_usd"):
        assert found.value == round(found.value, 2)


def test_break_even_agrees_with_the_measures_of_the_library(one: wl.Appraisal) -> None:
    """The ledger's own break-even price, worked out by proportion and not by search."""
    found = wl.whatif.solve_for(one, ("net_savings_usd", 0), "electricity_price_usd_per_kwh")
    assert found.value == pytest.approx(one.measures["break_even_fuel_price_usd_per_unit"], rel=1e-6)


def test_the_discount_rate_that_breaks_even_is_the_internal_rate(one: wl.Appraisal) -> None:
    """ASTM E1057: the internal rate of return is the rate at which net savings are zero."""
    found = wl.whatif.solve_for(one, {"net_savings_usd": 0}, "economics.nominal_discount_rate", bounds=(0.01, 0.9))
    assert found.value == pytest.approx(one.measures.internal_rate_of_return, abs=1e-9)


def test_a_jump_is_told_and_is_no_solution(one: wl.Appraisal) -> None:
    """An upkeep visit at the end of year 10 (data/upkeep.csv) puts payback off: no cost pays back in just ten years."""
    found = wl.whatif.solve_for(one, {"simple_payback_years": 10}, "installed_cost_usd")
    assert (found.value, found.values) == (None, [])
    below, years_below, above, years_above = found.jumps[0]
    assert above == pytest.approx(below + 0.01)
    for value, years in ((below, years_below), (above, years_above)):
        assert put_back(one, "installed_cost_usd", value).measures.simple_payback_years == pytest.approx(
            years, abs=1e-9
        )
    assert years_below < 10 < years_above
    assert "jumps from 9.92 years to 10.07 years, over the target" in found.reason
    assert f"(${below:,.2f} meets it)" in found.reason


def test_break_even_revenue_of_a_textbook() -> None:
    """Blank & Tarquin, Engineering Economy, 8th ed. (2018), chapter 18, part (b) of the problem on revenue of 135,000
    to 165,000, read in the published solutions: PMT(15%,5,-500000) = 149,158 a year breaks even."""
    offer = {
        "installed_cost_usd": 500_000,
        "bills_without_usd": 150_000,
        "nominal_discount_rate": 0.15,
        "study_years": 5,
        "system_life_years": 5,
    }
    found = wl.whatif.solve_for(offer, {"net_savings_usd": 0}, "bills_without_usd")
    # The book's money comes at the end of each year, the ledger's in twelve parts at the ends of the months: worth more
    # by the monthly compounding, 0.15 / (12 (1.15^(1/12) - 1)).
    factor = 0.15 / (12 * (1.15 ** (1 / 12) - 1))
    assert found.value * factor == pytest.approx(149_158, abs=0.5)


def test_a_term_is_the_first_whole_number_that_meets(one: wl.Appraisal) -> None:
    unknown = "loan.ten-years.term_months"
    found = wl.whatif.solve_for(one, {"average_month_usd": 30}, unknown)
    assert isinstance(found.value, int)
    months = {
        term: measured(put_back(one, unknown, term), "loan_average_month_usd")
        for term in (found.value, found.value - 1)
    }
    assert months[found.value] >= 30 > months[found.value - 1]
    assert f"{found.value - 1} months gives" in found.reason
    # From the other side: a payment of at most so much.
    years = wl.whatif.solve_for(one, {"loan_payment_usd": 60}, unknown)
    terms = {
        term: measured(put_back(one, unknown, term), "loan_payment_usd") for term in (years.value, years.value - 1)
    }
    assert terms[years.value] <= 60 < terms[years.value - 1]


def test_no_solution_says_how_close_it_gets(one: wl.Appraisal) -> None:
    found = wl.whatif.solve_for(one, {"simple_payback_years": 0.5}, "incentive.town-rebate.flat_usd", bounds=(0, 2000))
    assert (found.value, found.values, found.reached) == (None, [], [])
    value, there = found.closest
    assert value == 2000
    assert there == pytest.approx(put_back(one, "incentive.town-rebate.flat_usd", 2000).measures.simple_payback_years)
    assert found.reason.startswith("No amount of town-rebate from $0 to $2,000 gives simple payback of 0.5 years")
    assert "the closest is" in found.reason
    assert found.results["incentive.town-rebate.flat_usd"].iloc[0] == 2000


def test_a_measure_without_a_value_says_why(one: wl.Appraisal) -> None:
    found = wl.whatif.solve_for(one, {"simple_payback_years": 5}, "installed_cost_usd", bounds=(90_000, 100_000))
    assert found.closest is None
    assert found.results.empty
    assert "no value there: " in found.reason
    assert "recover" in found.reason


def test_solutions_close_to_where_the_measure_ends_are_found(one: wl.Appraisal) -> None:
    """Payback ceases to have a value at 20 years; 19.9 lies within one step of the scan before it."""
    found = wl.whatif.solve_for(one, {"simple_payback_years": 19.9}, "installed_cost_usd", bounds=(0, 400_000))
    assert found.value is not None, found.reason
    assert put_back(one, "installed_cost_usd", found.value).measures.simple_payback_years == pytest.approx(
        19.9, abs=1e-3
    )


class Wave:
    """Cases whose measure is a known function of x."""

    detail = "monthly"

    def __init__(self, function: Any) -> None:
        self.function = function

    def check(self, changes: Any) -> None: ...

    def value(self, name: str) -> float:
        return 1.0

    def columns(self) -> list[str]:
        return ["wave"]

    def limits(self, name: str) -> None: ...

    def price(self, name: str) -> None: ...

    def longest_term(self) -> int:
        return 12

    def run(self, changes: Any, details: Any, threads: Any) -> pd.DataFrame:
        values = [self.function(change["x"]) for change in changes]
        frame = pd.DataFrame({"wave": pd.array(values, dtype="Float64")})
        frame.attrs = {"program": {}, "problems": [], "counts": {}}
        return frame


@pytest.mark.parametrize(
    ("function", "values", "jumps"),
    [
        (lambda x: (x - 1) * (x - 2.5) * (x - 4), [1, 2.5, 4], []),
        (lambda x: (x - 2.3) ** 2, [2.3], []),
        (lambda x: 1.0 if x < 2.2 else -3.0, [], [2.2]),
        (lambda x: None if 1 < x < 3 else x - 3.5, [3.5], []),
        (lambda x: None if x < 2.9 else x - 2.95, [2.95], []),
        (lambda x: 1 / (x - 2.71) if x != 2.71 else None, [], [2.71]),
        (lambda x: x * x + 0.3, [], []),
    ],
)
def test_several_touching_jumping_and_undefined(
    function: Any, values: list[float], jumps: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    from warmledger.whatif import solving

    monkeypatch.setattr(solving, "cases_of", lambda base, loan: Wave(function))
    found = wl.whatif.solve_for(None, {"wave": 0}, "x", bounds=(0.1, 5))
    # A touching root is found to the square root of what a measure may be off.
    assert found.values == pytest.approx(values, abs=4e-3 if len(values) == 1 and function(0) == 2.3**2 else 1e-8)
    assert [jump[0] for jump in found.jumps] == pytest.approx(jumps, abs=1e-6)
    assert (found.value is None) == (len(values) != 1)
    if len(values) > 1:
        assert found.reason.startswith(f"{len(values)} values of x")
    if jumps:
        assert "jumps from" in found.reason
    if not values:
        assert found.closest is not None


def test_all_of_a_range_may_hit(one: wl.Appraisal) -> None:
    found = wl.whatif.solve_for(one, {"extra_help_usd": 0}, "electricity_price_usd_per_kwh", bounds=(0.2, 0.4))
    assert found.value is None
    assert found.values == [0.2, 0.4]
    assert "every value tried" in found.reason


def test_it_shows_itself_and_what_is_as_if(program: wl.Program, one: wl.Appraisal) -> None:
    import datetime

    found = wl.whatif.solve_for(one, {"net_savings_usd": 0}, "installed_cost_usd")
    assert repr(found) == f"<Solution: {found.reason}>"
    assert str(found) == found.reason
    assert "Installed cost of $" in found._repr_html_()
    assert found.as_if == ""
    assert found.evaluations >= len(found.scan)
    extended = program.as_if("town-rebate", valid_to=datetime.date(2030, 1, 1))
    then = wl.whatif.solve_for((household(), extended), {"net_savings_usd": 0}, "installed_cost_usd", detail="monthly")
    assert "what-if, not the law" in then.reason
    assert "what-if, not the law" in then.as_if
    assert then.value == found.value


@pytest.mark.parametrize(
    ("target", "unknown", "options", "kind", "words"),
    [
        ({"simple_payback_year": 3}, "installed_cost_usd", {}, errors.UnknownName, "did you mean simple_payback_years"),
        ({"decision": 3}, "installed_cost_usd", {}, errors.UnknownName, "decision"),
        ({"net_savings_usd": "x"}, "installed_cost_usd", {}, errors.MalformedText, "target"),
        ({"net_savings_usd": float("nan")}, "installed_cost_usd", {}, errors.MalformedText, "target"),
        ({}, "installed_cost_usd", {}, errors.MalformedText, "target"),
        (7, "installed_cost_usd", {}, errors.MalformedText, "target"),
        ({"net_savings_usd": 0}, "installed_cost", {}, errors.UnknownName, "did you mean installed_cost_usd"),
        ({"net_savings_usd": 0}, "installed_cost_usd", {"bounds": (5, 1)}, errors.ValueOutOfRange, "bounds"),
        ({"net_savings_usd": 0}, "installed_cost_usd", {"bounds": 5}, errors.ValueOutOfRange, "bounds"),
        ({"net_savings_usd": 0}, "yearly_energy_bills_usd", {}, errors.MissingValue, "bounds"),
        ({"average_month_usd": 0}, "installed_cost_usd", {"loan": "ten-year"}, errors.UnknownName, "did you mean ten"),
        ({"net_savings_usd": 0}, "installed_cost_usd", {"detail": "daily"}, errors.UnknownName, "daily"),
    ],
)
def test_what_cannot_be_asked(
    one: wl.Appraisal, target: Any, unknown: str, options: Any, kind: type[Exception], words: str
) -> None:
    with pytest.raises(kind, match=words):
        wl.whatif.solve_for(one, target, unknown, **options)


def test_without_scipy_it_says_so(one: wl.Appraisal, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "scipy", None)
    with pytest.raises(errors.NotAvailable, match="SciPy"):
        wl.whatif.solve_for(one, {"net_savings_usd": 0}, "installed_cost_usd")
