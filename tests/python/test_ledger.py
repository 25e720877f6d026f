"""Appraisal.ledger: every amount, and the same by month or year, in dollars of the day or of the install date."""

import datetime

import conftest
import numpy as np
import pytest
import warmledger as wl


@pytest.fixture(scope="module")
def one(program: wl.Program) -> wl.Appraisal:
    return wl.appraise(conftest.household(), program, detail="monthly")


def test_sums_by_month_and_year_are_those_of_the_amounts(one: wl.Appraisal) -> None:
    amounts = one.ledger()
    whole = amounts.groupby(["world", "category"])["amount_usd"].sum()
    for by in ("month", "year"):
        sums = one.ledger(by).groupby(["world", "category"])["amount_usd"].sum()
        assert sums.index.equals(whole.index)
        assert np.allclose(sums, whole, atol=1e-6)
    yearly = one.ledger("year")
    first = amounts.query("1 <= month <= 12")["amount_usd"].sum()
    assert yearly.query("year == 1")["amount_usd"].sum() == pytest.approx(first, abs=1e-6)
    assert yearly.query("year == 0")["date"].unique().tolist() == [amounts["date"].min()]


def test_with_less_without_is_what_the_measures_say(one: wl.Appraisal) -> None:
    amounts = one.ledger()
    monthly = amounts.pivot_table(index="month", columns="world", values="amount_usd", aggfunc="sum").fillna(0.0)
    monthly = monthly.reindex(range(int(amounts["month"].max()) + 1), fill_value=0.0)
    rate = wl.economics.monthly_rate(0.05)  # the program's
    flows = (monthly["with"] - monthly["without"]).to_numpy()
    assert flows[0] == pytest.approx(-one.measures["due_at_install_usd"], abs=1e-6)
    assert wl.economics.npv(rate, flows) == pytest.approx(one.measures["net_savings_usd"], abs=1e-6)


def test_constant_dollars_take_general_inflation_off(one: wl.Appraisal) -> None:
    nominal = one.ledger()["amount_usd"].to_numpy()
    constant = one.ledger(dollars="constant")["amount_usd"].to_numpy()
    months = one.ledger()["month"].to_numpy()
    share = constant / nominal
    at_once = months == 0
    assert np.allclose(share[at_once], 1)
    # One rate for all: (1 + inflation)^(-month / 12).
    rates = share[~at_once] ** (-12 / months[~at_once]) - 1
    assert np.ptp(rates) < 1e-9
    assert rates.mean() > 0


def test_unknown_words_are_refused(one: wl.Appraisal) -> None:
    with pytest.raises(wl.errors.UnknownName, match="by: 'week' is not known; allowed"):
        one.ledger("week")
    with pytest.raises(wl.errors.UnknownName, match="dollars"):
        one.ledger(dollars="real")


def test_interest_is_deducted_only_where_the_rule_says_so(program: wl.Program) -> None:
    loan = """
[[loan]]
id = "plain"
title = "Loan"
yearly_rate = 0.06
term_months = 60
"""
    text = conftest.PROGRAM + loan
    plain = wl.appraise(conftest.household(), wl.parse_program(text), detail="monthly")
    deducted = wl.appraise(
        conftest.household(), wl.parse_program(text + "interest_deduction_rate = 0.22\n"), detail="monthly"
    )
    before = plain.loans.set_index("id").loc["plain"]
    after = deducted.loans.set_index("id").loc["plain"]
    gain = after["net_savings_usd"] - before["net_savings_usd"]
    # 22 % of the interest, a little less because it comes with a later tax return.
    assert 0.75 * 0.22 * before["total_interest_usd"] < gain < 0.22 * before["total_interest_usd"]
    assert after["payment_usd"] == before["payment_usd"]
    with pytest.raises(wl.errors.ValueOutOfRange, match=r"loan\.interest_deduction_rate: 0\.7 is out of range"):
        wl.parse_program(text + "interest_deduction_rate = 0.7\n")


def test_dates_of_an_install_on_the_29th_of_february() -> None:
    leap = conftest.PROGRAM.replace("2026-05-01", "2028-02-29")
    dates = wl.appraise(conftest.household(), wl.parse_program(leap), detail="monthly").ledger()["date"]
    days = {value if isinstance(value, datetime.date) else value.date() for value in dates}
    assert datetime.date(2028, 3, 29) in days
    assert datetime.date(2029, 2, 28) in days
