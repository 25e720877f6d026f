"""Measures over cash flows. Rates are per period: 0.05 is 5 %. A measure that has no value is None."""

from . import _core

irr = _core.economics.irr
npv = _core.economics.npv
simple_payback = _core.economics.simple_payback
discounted_payback = _core.economics.discounted_payback
sir = _core.economics.sir
airr = _core.economics.airr
spv = _core.economics.spv
upv = _core.economics.upv
upv_star = _core.economics.upv_star
real_rate = _core.economics.real_rate
monthly_rate = _core.economics.monthly_rate

__all__ = [
    "airr",
    "discounted_payback",
    "irr",
    "monthly_rate",
    "npv",
    "real_rate",
    "simple_payback",
    "sir",
    "spv",
    "upv",
    "upv_star",
]
