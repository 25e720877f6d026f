"""Loans to the cent: terms of every shape, schedules, disclosure and ability to pay.

Not lending advice, and no check of compliance: a creditor's own contract and disclosure govern.
"""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from . import _core
from .errors import MalformedText, error

if TYPE_CHECKING:
    import pandas as pd

Day = datetime.date | str
Money = float | Decimal

apr = _core.loans.apr
level_payment = _core.loans.level_payment

__all__ = [
    "BuyDown",
    "Disclosure",
    "LoanTerms",
    "Purse",
    "Ratio",
    "apr",
    "buy_down",
    "debt_to_income",
    "disclose",
    "energy_burden",
    "level_payment",
    "out_of_pocket",
    "payment_coverage",
    "schedule",
]


@dataclass(frozen=True, kw_only=True)
class LoanTerms:
    """A loan of any shape. Rates are yearly and nominal (0.0599 is 5.99 %), shares decimals, days dates or ISO text.

    amount_usd            dollars of the purchase that the loan pays, at the price for cash; 0 to 1e12
    yearly_rate           of the lender; each period bears yearly_rate / payments_per_year; 0 to 1
    term_months           from the start to the last payment; 1 to 600
    start                 the day the loan is paid out
    largest_usd           most that is lent
    rounding              of the payment and of interest: half_up, half_even, up, down
    payments_per_year     52, 26, 12, 4, 2 (an assessment on the property-tax bill) or 1
    first_payment_date    makes the first period odd: days beyond whole periods bear yearly_rate / odd_days_year each
    odd_days_year         365 or 360
    deferral_months       at the start, in which nothing is paid; 0 to 120
    deferred_interest     added (to the balance), waived, or waived_if_paid by the end of the deferral (same as cash)
    interest_only_months  after the deferral
    balloon_share         of the amount lent, due with the last payment
    amortisation_months   payments are those of this longer term, the rest is due with the last payment
    lump_usd, lump_share  a planned extra payment, in dollars or as a share of the amount lent,
    lump_months, lump_date  and when; it is applied with the first payment from then on
    reamortise            after it the payment falls and the term stays; otherwise the loan ends sooner
    early_payoff_months   everything is paid with the first payment from then on
    interest_deduction_rate  marginal tax rate at which an appraisal deducts the interest; 0: not deductible
    dealer_fee_share      of the amount lent, kept from the seller, who raises the price by it
    points_share, fee_usd  charged by the lender, and lent too if fees_financed, otherwise paid at the start
    buy_down_rate         by which a sponsor, buy_down_payer, lowers yearly_rate
    collected_on          loan_bill, utility_bill or property_tax_bill

    Raises an error of `warmledger.errors` that names the term, the value found and what is allowed.
    """

    amount_usd: float
    yearly_rate: float
    term_months: int
    start: Day
    largest_usd: float = 1e12
    rounding: Literal["half_up", "half_even", "up", "down"] = "half_up"
    payments_per_year: int = 12
    first_payment_date: Day | None = None
    odd_days_year: int = 365
    deferral_months: int = 0
    deferred_interest: Literal["added", "waived", "waived_if_paid"] = "added"
    interest_only_months: int = 0
    balloon_share: float = 0.0
    amortisation_months: int = 0
    lump_usd: float = 0.0
    lump_share: float = 0.0
    lump_months: int = 0
    lump_date: Day | None = None
    reamortise: bool = False
    early_payoff_months: int = 0
    interest_deduction_rate: float = 0.0
    dealer_fee_share: float = 0.0
    points_share: float = 0.0
    fee_usd: float = 0.0
    fees_financed: bool = False
    buy_down_rate: float = 0.0
    buy_down_payer: str = ""
    collected_on: Literal["loan_bill", "utility_bill", "property_tax_bill"] = "loan_bill"

    def __post_init__(self) -> None:
        _core.loans.check(_given(self))

    def __repr__(self) -> str:
        """The terms that differ from a plain monthly loan."""
        shown = [
            f"{field.name}={getattr(self, field.name)!r}"
            for field in dataclasses.fields(self)
            if getattr(self, field.name) != field.default
        ]
        return f"LoanTerms({', '.join(shown)})"

    def changed(self, **terms: Any) -> LoanTerms:
        """The same loan with some terms changed."""
        unknown = sorted(terms.keys() - {field.name for field in dataclasses.fields(self)})
        if unknown:
            raise error(MalformedText, "is no term of a loan", key=unknown[0], allowed="the arguments of LoanTerms")
        return dataclasses.replace(self, **terms)


class Disclosure(NamedTuple):
    """What is disclosed of closed-end credit (12 CFR 1026.18); apr is a decimal, or None with the reason."""

    amount_financed_usd: Money
    finance_charge_usd: Money
    total_of_payments_usd: Money
    number_of_payments: int
    apr: Money | None
    why_none: str = ""


class BuyDown(NamedTuple):
    """What a sponsor pays the lender for a lower rate, and the level payment without and with it."""

    cost_usd: Money
    payment_without_usd: Money
    payment_with_usd: Money
    payer: str


class Ratio(NamedTuple):
    """A ratio as a decimal, or None with the reason."""

    value: float | None
    why_none: str = ""


class Purse(NamedTuple):
    """Months in which more goes out than comes in; the lowest running sum, zero or below, and its month."""

    months_out_of_pocket: int
    deepest_usd: float
    deepest_month: int


def _given(terms: LoanTerms) -> dict[str, Any]:
    if not isinstance(terms, LoanTerms):
        raise error(
            MalformedText,
            "is no LoanTerms",
            key="terms",
            value=repr(terms)[:80],
            allowed="warmledger.loans.LoanTerms(...)",
        )
    return {field.name: getattr(terms, field.name) for field in dataclasses.fields(terms)}


def schedule(terms: LoanTerms, *, exact: bool = False) -> pd.DataFrame:
    """Every payment: number, date, payment_usd, interest_usd, principal_usd, balance_usd, added_usd, lump_usd.

    payment = interest + principal; balance = balance before + added - principal, and ends at exactly zero. added_usd is
    interest that was not paid and became principal; lump_usd the part of a payment beyond the agreed one. `exact` gives
    decimal.Decimal. The last payment settles what rounding left.
    """
    import numpy as np
    import pandas as pd

    columns = _core.loans.schedule(_given(terms), exact)
    # Dates in an array of objects pandas takes as they are; from a list it, and np.array, would look at each for long.
    dates = np.fromiter(columns["date"], dtype=object, count=len(columns["date"]))
    return pd.DataFrame({**columns, "number": np.array(columns["number"], dtype=np.int64), "date": dates}, copy=False)


def disclose(
    terms: LoanTerms | None = None,
    *,
    advances: Iterable[tuple[Day, float]] | None = None,
    payments: Iterable[tuple[Day, float]] | None = None,
    prepaid_finance_charge_usd: float = 0.0,
    exact: bool = False,
) -> Disclosure:
    """The disclosed figures of a loan, or of any dated advances and payments: lists of (date, dollars).

    The annual percentage rate is that of Regulation Z (12 CFR 1026), Appendix J, with unit-period and odd days from the
    dates alone. A dealer's fee that raises the price, points and fees are part of the finance charge (1026.4).
    """
    if terms is not None:
        return Disclosure(**_core.loans.disclose_terms(_given(terms), exact))
    return Disclosure(**_core.loans.disclose_flows(advances or [], payments or [], prepaid_finance_charge_usd))


def buy_down(terms: LoanTerms, *, exact: bool = False) -> BuyDown:
    """What terms.buy_down_rate costs its payer: the present value, at the lender's rate, of the fall in payments."""
    figures = _core.loans.lending(_given(terms), exact)
    return BuyDown(
        figures["cost_usd"], figures["payment_without_usd"], figures["payment_with_usd"], terms.buy_down_payer
    )


def debt_to_income(monthly_debt_payments_usd: float, yearly_income_usd: float) -> Ratio:
    """Debt payments over gross income; None without an income. Which share is too much is the lender's to say."""
    return Ratio(*_core.loans.debt_to_income(monthly_debt_payments_usd, yearly_income_usd))


def payment_coverage(monthly_saving_usd: float, monthly_payment_usd: float) -> Ratio:
    """Saving over payment: 1 and more pays for itself; None without payments."""
    return Ratio(*_core.loans.payment_coverage(monthly_saving_usd, monthly_payment_usd))


def energy_burden(yearly_bills_usd: float, yearly_income_usd: float) -> Ratio:
    """Energy bills over income; None without an income."""
    return Ratio(*_core.loans.energy_burden(yearly_bills_usd, yearly_income_usd))


def out_of_pocket(flows: Iterable[float]) -> Purse:
    """A purse by month, month 0 first: received positive, paid negative."""
    return Purse(*_core.loans.purse(list(flows)))
