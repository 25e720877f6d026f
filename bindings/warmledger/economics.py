"""Measures over cash flows (ASTM E917, E964, E1057, E1074, E1121; NIST Handbook 135; 10 CFR 436), and cost tests.

Flows are lists, NumPy arrays or pandas Series of amounts at times 0, 1, 2, ...: received positive, paid negative. Rates
are per period of the flows, decimal (0.05 is 5 %) and above -1; real rates go with constant dollars, nominal ones with
money of the day.

A measure is a float, or None where there is none; never 0, NaN or infinity in its place. To learn why, pass a dict:

    why = {}
    wl.economics.sir(100, 0, reasons=why)    # None
    why                                      # {"sir": "nothing is invested"}

What is no rate, no amount or too large for a number raises an error of `warmledger.errors`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from . import _core
from .errors import UnknownName, error

if TYPE_CHECKING:
    import pandas as pd

airr = _core.economics.airr
break_even = _core.economics.break_even
discounted_payback = _core.economics.discounted_payback
equivalent_annual_value = _core.economics.equivalent_annual_value
internal_rates_by_row = _core.economics.internal_rates_by_row
irr = _core.economics.irr
lasting_discounted_payback = _core.economics.lasting_discounted_payback
lasting_simple_payback = _core.economics.lasting_simple_payback
levelised_cost = _core.economics.levelised_cost
life_cycle_cost = _core.economics.life_cycle_cost
mirr = _core.economics.mirr
monthly_rate = _core.economics.monthly_rate
npv = _core.economics.npv
periodic_rate = _core.economics.periodic_rate
present_value = _core.economics.present_value
real_rate = _core.economics.real_rate
simple_payback = _core.economics.simple_payback
sir = _core.economics.sir
spv = _core.economics.spv
ucr = _core.economics.ucr
upv = _core.economics.upv
upv_star = _core.economics.upv_star
yearly_rate = _core.economics.yearly_rate

__all__ = [
    "InternalRates",
    "airr",
    "break_even",
    "cost_test",
    "cost_test_table",
    "cost_tests",
    "discounted_payback",
    "equivalent_annual_value",
    "internal_rates",
    "internal_rates_by_row",
    "irr",
    "lasting_discounted_payback",
    "lasting_simple_payback",
    "levelised_cost",
    "life_cycle_cost",
    "mirr",
    "monthly_rate",
    "npv",
    "periodic_rate",
    "present_value",
    "real_rate",
    "simple_payback",
    "sir",
    "spv",
    "ucr",
    "upv",
    "upv_star",
    "yearly_rate",
]


class InternalRates(NamedTuple):
    """Every internal rate of return above -1 per period, and what is to be said about them."""

    rates: list[float]
    """ascending; one that the value only touches stands once"""
    statement: str
    """why there is none, or that there are several; empty for exactly one"""
    sign_changes: int
    """of the flows in time: there are no more rates than that (Descartes' rule of signs)"""


def internal_rates(flows: Any) -> InternalRates:
    """irr with a statement: why there is no rate, or that there are several. Raises as irr does."""
    return InternalRates(*_core.economics.internal_rates(flows))


def cost_tests(flows: Mapping[str, Any], rates: float | Mapping[str, float]) -> dict[str, dict[str, Any]]:
    """The five cost tests of a program (California Standard Practice Manual).

    flows   amounts in dollars, 0 or more, at times 0, 1, 2, ... by item of cost_test_table(); a plain number is an
            amount at time 0, that is, a present value
    rates   discount rate per period, above -1: one for all tests, or one for each by name. The manual's custom is the
            participant's own rate for "participant", the administrator's for the next three, a lower one for "societal"

    Returns for "participant", "administrator", "ratepayer_impact", "total_resource" and "societal" a dict of benefits,
    costs, net (dollars, present value), ratio and why_none. A rate or an amount that is not allowed takes away the
    tests that it enters, and no other: their figures are None and why_none says why. Raises UnknownName for a name that
    is no item or no test.
    """
    names = list(_core.economics.cost_test_titles())
    if isinstance(rates, Mapping):
        for name in [*rates, *names]:
            if name not in names or name not in rates:
                what = "has no rate" if name in names else "is not known"
                raise error(UnknownName, what, value=repr(name), allowed=", ".join(names), key="rates")
        of_test = [float(rates[name]) for name in names]
    else:
        of_test = [float(rates)] * len(names)
    return _core.economics.cost_tests(
        [(item, [amounts] if isinstance(amounts, int | float) else amounts) for item, amounts in flows.items()], of_test
    )


def cost_test(test: str, flows: Mapping[str, Any], rate: float = 0.0) -> dict[str, Any]:
    """One of the cost tests; see cost_tests."""
    results = cost_tests(flows, rate)
    if test not in results:
        raise error(UnknownName, "is not known", value=repr(test), allowed=", ".join(results), key="test")
    return results[test]


def cost_test_table() -> pd.DataFrame:
    """Which item enters which cost test: "benefit", "cost", "less cost" (taken off the costs) or "-".

    One row an item, by name, with its title. The library computes from this very table. From memory of the manual but
    for the costs and benefits of the total resource and administrator tests, which commission decisions describe.
    """
    import pandas as pd

    return pd.DataFrame(_core.economics.cost_test_table()).set_index("item")
