"""Loans in Python, and against a spreadsheet that is not ours."""

import datetime
import pickle
import random
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import warmledger as wl
import xlsxwriter
from conftest import PROGRAM, household
from spreadsheet import recalculate
from warmledger import errors
from warmledger.loans import LoanTerms

START = datetime.date(2026, 5, 1)


def terms(**changes: Any) -> LoanTerms:
    return LoanTerms(**{"amount_usd": 6000, "yearly_rate": 0.06, "term_months": 120, "start": START, **changes})


def test_terms_are_values() -> None:
    one = terms(interest_only_months=12)
    assert one == terms(interest_only_months=12) != terms()
    assert pickle.loads(pickle.dumps(one)) == one
    assert eval(repr(one), {"LoanTerms": LoanTerms, "datetime": datetime}) == one
    assert one.changed(yearly_rate=0.05).yearly_rate == 0.05
    assert {one: 1}[terms(interest_only_months=12)] == 1


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"yearly_rate": 6}, "yearly_rate: 6 is out of range; allowed: 0 to 1"),
        ({"yearly_rate": "6 %"}, "yearly_rate: '6 %' is of the wrong kind; allowed: a number"),
        ({"term_months": 12.5}, "term_months: 12.5 is of the wrong kind; allowed: a whole number"),
        ({"amount_usd": float("nan")}, "amount_usd"),
        ({"rounding": "nearest"}, "rounding: nearest is not one of the choices"),
        ({"payments_per_year": 2, "term_months": 7}, "term_months: 7 is no whole number of payment periods"),
        ({"buy_down_rate": 0.01}, "buy_down_payer: is missing"),
    ],
)
def test_terms_that_are_none_are_refused_in_a_sentence(changes: dict[str, Any], sentence: str) -> None:
    with pytest.raises(errors.Error) as caught:
        terms(**changes)
    assert sentence in str(caught.value)


@pytest.mark.parametrize(
    "flows", [("1000", "2000"), ([("a", 0, 0)], [(1, 1, 0)]), ([(1, 0)], [(1, 1, 0)]), (5, 6), ([(1, 0.5, 0)], [])]
)
def test_flows_that_are_none_are_refused_in_a_sentence(flows: Any) -> None:
    with pytest.raises(errors.MalformedText, match=r"^advances.* is of the wrong kind; allowed: a") as caught:
        wl.loans.apr(*flows, unit_periods_per_year=12)
    assert "pybind" not in str(caught.value)


def test_disclosure_of_a_loan_and_of_dated_flows() -> None:
    # Regulation Z, Appendix J (c)(1)(ii): 6,000 on 10 February 1978, 36 x 200 from 1 April 1978: 11.82 %.
    days = [datetime.date(1978 + (3 + k) // 12, (3 + k) % 12 + 1, 1) for k in range(36)]
    shown = wl.loans.disclose(advances=[("1978-02-10", 6000)], payments=[(day, 200) for day in days])
    assert shown.apr is not None
    assert round(100 * float(shown.apr), 2) == 11.82
    assert shown.finance_charge_usd == 1200
    fee = wl.loans.disclose(terms(yearly_rate=0, dealer_fee_share=0.2))
    assert (fee.amount_financed_usd, fee.finance_charge_usd, fee.number_of_payments) == (6000, 1500, 120)
    exact = wl.loans.disclose(terms(points_share=0.02), exact=True)
    assert isinstance(exact.apr, Decimal)
    assert float(exact.apr) == pytest.approx(wl.loans.disclose(terms(points_share=0.02)).apr, abs=1e-9)
    none = wl.loans.disclose(advances=[("2026-01-01", 100)], payments=[])
    assert none.apr is None
    assert none.why_none == "nothing is paid back"


def test_ratios_say_why_there_is_none() -> None:
    assert wl.loans.debt_to_income(1500, 50_000).value == pytest.approx(0.36)
    assert wl.loans.debt_to_income(1500, 0) == (None, "there is no income")
    assert wl.loans.payment_coverage(30, 60).value == 0.5
    assert wl.loans.out_of_pocket([-10, 5, -2, 20]) == (2, -10.0, 0)
    assert wl.loans.buy_down(terms(buy_down_rate=0.06, buy_down_payer="the town")).cost_usd > 1400


def test_a_household_sees_loans_of_every_shape_side_by_side() -> None:
    shapes = {
        "same-as-cash": 'deferral_months = 12\ndeferred_interest = "waived_if_paid"\nearly_payoff_months = 12',
        "balloon": "balloon_share = 0.5",
        "assessment": 'payments_per_year = 2\nfirst_payment_date = 2026-12-10\ncollected_on = "property_tax_bill"',
        "dealer": "dealer_fee_share = 0.2",
        "sponsored": 'buy_down_rate = 0.02\nbuy_down_payer = "the town"',
        "long": "term_months = 360",
    }
    text = PROGRAM
    for name, keys in shapes.items():
        plain = "" if "term_months" in keys else "term_months = 120\n"
        text += f'\n[[loan]]\nid = "{name}"\ntitle = "{name}"\nyearly_rate = 0.04\n{plain}{keys}\n'
    one = wl.appraise(household(monthly_debt_payments_usd=1000), wl.parse_program(text, "t.toml"), detail="monthly")
    table = one.loans.set_index("id")
    assert list(table.index) == ["ten-years", *shapes]
    assert table.loc["ten-years", "shape"] == ""
    assert table.loc["long", "owed_at_study_end_usd"] > 0
    assert table.loc["long", "amount_usd"] == table.loc["ten-years", "amount_usd"] == 4000
    assert table.loc["dealer", "amount_usd"] == 5000
    assert table.loc["dealer", "amount_financed_usd"] == 4000
    assert table.loc["dealer", "apr"] > 0.08
    assert table.loc["sponsored", "sponsor_cost_usd"] > 300
    # Nobody calls a loan whose payoff or balloon falls on the household one that pays from month one.
    assert not table.loc[["same-as-cash", "balloon"], "pays_from_month_one"].any()
    assert table.loc["same-as-cash", "deepest_usd"] < -2500
    assert table["debt_ratio_before"].tolist() == pytest.approx([0.24] * len(table))
    assert (table["debt_ratio_after"] > 0.24).all()
    assert table["energy_burden"].isna().all()
    assert table.loc["ten-years", "why_none"] == "energy_burden: yearly_energy_bills_usd is not given"
    assert str(table.loc["assessment", "first_payment_date"]) == "2026-12-10"


def test_schedules_agree_with_a_spreadsheet_to_the_cent(tmp_path: Path) -> None:
    """LibreOffice Calc's PMT and RATE, and IPMT and PPMT line by line, where ours keeps its cents apart from theirs."""
    draw = random.Random(5)
    cases = [
        (round(draw.uniform(300, 60_000), 2), round(draw.uniform(0.002, 0.2), 4), per, per * draw.randint(1, 15))
        for per in (12, 12, 12, 26, 4, 2)
        for _ in range(8)
    ]
    path = tmp_path / "loans.xlsx"
    frames = []
    with xlsxwriter.Workbook(str(path)) as book:
        sheet = book.add_worksheet("loans")
        lines = book.add_worksheet("lines")
        at = 1
        for row, (amount, rate, per, periods) in enumerate(cases, start=1):
            loan = terms(amount_usd=amount, yearly_rate=rate, payments_per_year=per, term_months=12 * periods // per)
            frame = wl.loans.schedule(loan)
            frames.append(frame)
            sheet.write_row(row - 1, 0, [amount, rate, per, periods, frame["payment_usd"][0]])
            sheet.write_formula(f"F{row}", f"=ROUND(PMT(B{row}/C{row},D{row},-A{row}),2)")
            sheet.write_formula(f"G{row}", f"=C{row}*RATE(D{row},-PMT(B{row}/C{row},D{row},-A{row}),A{row})")
            # Each line of ours from the balance before it: Calc's interest of a first period is that balance's.
            balance = amount
            for line in frame.itertuples():
                lines.write_row(at - 1, 0, [balance, line.interest_usd, line.principal_usd])
                left = len(frame) - line.Index
                lines.write_formula(f"D{at}", f"=ROUND(-IPMT(loans!B{row}/loans!C{row},1,{left},A{at}),2)")
                lines.write_formula(f"E{at}", f"=-PPMT(loans!B{row}/loans!C{row},1,{left},A{at})")
                balance = line.balance_usd
                at += 1
    found = recalculate(path)
    for row, (_, rate, _, periods) in enumerate(cases, start=1):
        assert len(frames[row - 1]) == periods
        assert found["loans"][f"F{row}"] == pytest.approx(frames[row - 1]["payment_usd"][0], abs=1e-9)
        assert found["loans"][f"G{row}"] == pytest.approx(rate, abs=1e-9)
    for line in range(1, at):
        page = found["lines"]
        assert page[f"D{line}"] == pytest.approx(page[f"B{line}"], abs=1e-9)
    # Their principal re-levels each line over what is left; ours keeps the agreed payment, a half cent off at most each
    # time it was rounded, so the two part by what those half cents have grown to. The first line is the same payment.
    first = 1
    for frame in frames:
        assert found["lines"][f"E{first}"] == pytest.approx(found["lines"][f"C{first}"], abs=0.0101)
        first += len(frame)
