"""Loan and present-value functions against public general-purpose libraries (numpy-financial, pyxirr, QuantLib).

Runs on the pip path only, where those libraries are installed.
"""

import datetime
import random

import numpy_financial as npf
import pytest
import pyxirr
import QuantLib as ql  # noqa: N813
import warmledger as wl
from warmledger import _core

START = datetime.date(2026, 1, 31)


def cases(count: int) -> list[tuple[float, float, int]]:
    draw = random.Random(20260901)
    return [
        (round(draw.uniform(100, 50_000), 2), draw.choice([0.0, draw.uniform(0.001, 0.3)]), draw.randint(2, 480))
        for _ in range(count)
    ]


def test_level_payment_agrees_with_numpy_financial() -> None:
    for amount, rate, months in cases(10_000):
        theirs = -npf.pmt(rate / 12, months, amount) if rate else amount / months
        assert wl.loans.level_payment(amount, rate / 12, months) == pytest.approx(float(theirs), rel=1e-10)


def test_present_value_agrees_with_numpy_financial_and_pyxirr() -> None:
    draw = random.Random(7)
    for _ in range(10_000):
        flows = [draw.uniform(-1000, 1000) for _ in range(draw.randint(1, 60))]
        rate = draw.uniform(-0.2, 0.5)
        # Sums of terms of both signs cancel, so the tolerance is of the largest term, not of the result.
        scale = max(abs(flow) * (1 + rate) ** -k for k, flow in enumerate(flows))
        ours = wl.economics.npv(rate, flows)
        assert ours == pytest.approx(float(npf.npv(rate, flows)), rel=1e-10, abs=1e-11 * scale)
        assert ours == pytest.approx(pyxirr.npv(rate, flows), rel=1e-10, abs=1e-11 * scale)


def household_flows(count: int) -> list[list[float]]:
    """Yearly flows of a purchase: money out, then savings that change sign once."""
    draw = random.Random(31)
    cases = []
    for _ in range(count):
        years = draw.randint(3, 40)
        cases.append([-draw.uniform(500, 12_000), *(draw.uniform(50, 1500) for _ in range(years))])
    return cases


def test_internal_rates_agree_with_numpy_financial_and_pyxirr() -> None:
    """10,000 rows. numpy-financial takes eigenvalues of the whole polynomial and is compared on 1,000 of them; pyxirr
    and numpy-financial answer with one rate, ours with every rate: of one sign change there is just one."""
    import numpy as np

    cases = household_flows(10_000)
    gave_up = 0
    for k, flows in enumerate(cases):
        ours = wl.economics.irr(flows)
        assert len(ours) == 1
        theirs = pyxirr.irr(flows)
        if theirs is None:  # it starts from 10 % and does not reach some deep losses
            gave_up += 1
        else:
            assert ours[0] == pytest.approx(theirs, abs=1e-8)
        if k < 1000:
            other = float(npf.irr(flows))
            assert np.isnan(other) or ours[0] == pytest.approx(other, abs=1e-8)
        # Whatever others say: at our rate the value vanishes, but for rounding.
        scale = sum(abs(flow) * (1 + ours[0]) ** -k for k, flow in enumerate(flows))
        assert abs(wl.economics.npv(ours[0], flows)) <= 1e-10 * scale
    assert gave_up < 500


def test_modified_internal_rates_agree_with_numpy_financial_and_pyxirr() -> None:
    draw = random.Random(41)
    for flows in household_flows(10_000):
        finance, reinvest = draw.uniform(0, 0.15), draw.uniform(0, 0.12)
        ours = wl.economics.mirr(flows, finance, reinvest)
        assert ours == pytest.approx(float(npf.mirr(flows, finance, reinvest)), abs=1e-10)
        assert ours == pytest.approx(pyxirr.mirr(flows, finance, reinvest), abs=1e-10)


def test_schedule_repays_at_the_rate_of_numpy_financial() -> None:
    # Payments rounded to cents move the implied rate by far less than a hundredth of a per cent.
    for amount, rate, months in [(8000.0, 0.0799, 84), (6500.0, 0.0299, 120), (12000.0, 0.12, 36)]:
        columns = wl.loans.schedule(
            wl.loans.LoanTerms(amount_usd=amount, yearly_rate=rate, term_months=months, start=START)
        )
        payments = [-amount, *columns["payment_usd"]]
        assert 12 * float(npf.irr(payments)) == pytest.approx(rate, abs=2e-5)
        interest = [-float(x) for x in npf.ipmt(rate / 12, range(1, months + 1), months, amount)]
        assert max(abs(a - b) for a, b in zip(columns["interest_usd"], interest, strict=True)) < 0.5


def test_first_lines_of_random_loans_agree_with_numpy_financial() -> None:
    """10,000 loans, vectorised on their side, whose figures are not rounded: ours lie within half a cent of them.

    Later lines part by design: each of ours starts from a balance in whole cents.
    """
    import numpy as np

    drawn = cases(10_000)
    amount, rate, months = (np.array(column) for column in zip(*drawn, strict=True))
    monthly = rate / 12
    with np.errstate(divide="ignore", invalid="ignore"):
        payment = -npf.pmt(monthly, months, amount)
        interest = -npf.ipmt(monthly, 1, months, amount)
    assert np.isfinite(payment).all()
    for k, (lent, yearly, term) in enumerate(drawn):
        terms = {"amount_usd": lent, "yearly_rate": yearly, "term_months": term, "start": START}
        columns = _core.loans.schedule(terms)
        assert columns["payment_usd"][0] == pytest.approx(float(payment[k]), abs=0.005 + 1e-8)
        assert columns["interest_usd"][0] == pytest.approx(float(interest[k]), abs=0.005 + 1e-8)
        assert columns["principal_usd"][0] == pytest.approx(float(payment[k] - interest[k]), abs=0.01 + 1e-8)
        assert columns["balance_usd"][-1] == 0


def test_present_value_agrees_with_quantlib() -> None:
    draw = random.Random(11)
    today = ql.Date(1, 1, 2026)
    ql.Settings.instance().evaluationDate = today
    for _ in range(200):
        rate = draw.uniform(0.0, 0.2)
        flows = [draw.uniform(-500, 500) for _ in range(20)]
        # One flow a year on a day count of exact years: 30/360 makes every year one.
        leg = [ql.SimpleCashFlow(flow, ql.Date(1, 1, 2026 + k)) for k, flow in enumerate(flows)]
        curve = ql.YieldTermStructureHandle(
            ql.FlatForward(today, rate, ql.Thirty360(ql.Thirty360.BondBasis), ql.Compounded, ql.Annual)
        )
        theirs = ql.CashFlows.npv(leg, curve, True, today, today)
        assert wl.economics.npv(rate, flows) == pytest.approx(theirs, rel=1e-9, abs=1e-7)


def test_calendar_months_agree_with_quantlib() -> None:
    for day in (28, 29, 30, 31):
        for month in (1, 3, 5, 10, 12):
            start = datetime.date(2027, month, min(day, 31 if month != 10 else 30))
            columns = wl.loans.schedule(
                wl.loans.LoanTerms(amount_usd=1000, yearly_rate=0.05, term_months=24, start=start)
            )
            for number, ours in zip(columns["number"], columns["date"], strict=True):
                theirs = ql.Date(start.day, start.month, start.year) + ql.Period(int(number), ql.Months)
                assert ours == datetime.date(theirs.year(), theirs.month(), theirs.dayOfMonth())
