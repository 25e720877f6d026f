"""The same household again with one thing changed at a time: price, fuel, hot water, tax."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .errors import Error

if TYPE_CHECKING:
    from .appraisal import Appraisal

PRICE_COLUMNS = {
    "electricity": "electricity_price_usd_per_kwh",
    "natural_gas": "natural_gas_price_usd_per_therm",
    "propane": "propane_price_usd_per_gal",
    "heating_oil": "heating_oil_price_usd_per_gal",
}
LITRE_PER_GALLON = 3.785411784  # NIST Handbook 44, appendix C: the gallon of 231 cubic inches


@dataclass(frozen=True)
class Change:
    """One change, the columns it sets, and the household with it; None where it cannot be appraised."""

    key: str
    columns: Mapping[str, str]
    appraisal: Appraisal | None


def changes_of(appraisal: Appraisal) -> list[Change]:
    """What could come differently; empty for an appraisal that does not know its household any more."""
    found = []
    for key, columns in _wanted(appraisal):
        try:
            again = appraisal.with_changes({"package": str(appraisal.summary["package"]), **columns})
        except Error:  # the changed value lies outside what a sheet may say
            again = None
        found.append(Change(key, columns, again))
    return found


def _wanted(appraisal: Appraisal) -> Iterator[tuple[str, dict[str, str]]]:
    if appraisal.inputs is None:
        return
    cost = float(appraisal.measures.installed_cost_usd)
    yield "cost_up", {"installed_cost_usd": f"{cost * 1.2:.2f}"}
    yield "cost_down", {"installed_cost_usd": f"{cost * 0.8:.2f}"}
    fuel = str(appraisal.system["heater_fuel"])
    price = flat_price(appraisal, fuel)
    if price is not None:
        yield "fuel_up", {PRICE_COLUMNS[fuel]: f"{price * 1.2:.6g}"}
        yield "fuel_down", {PRICE_COLUMNS[fuel]: f"{price * 0.8:.6g}"}
    gallons = float(appraisal.system["hot_water_l_day"]) / LITRE_PER_GALLON
    yield "water_up", {"hot_water_gal_day": f"{gallons * 1.25:.6g}", "hot_water_l_day": ""}
    yield "water_down", {"hot_water_gal_day": f"{gallons * 0.75:.6g}", "hot_water_l_day": ""}
    incentives = appraisal.incentives
    if ((incentives["kind"] == "credit") & incentives["applied"] & (incentives["amount_usd"] > 0)).any():
        yield "no_tax", {"tax_liability_usd": "0"}


def flat_price(appraisal: Appraisal, fuel: str) -> float | None:
    """What a unit of the fuel costs on the install date; None where it has no single price."""
    assert appraisal.inputs is not None
    own = appraisal.inputs.cell(PRICE_COLUMNS[fuel])
    if own:
        return float(own.replace("$", "").replace(",", ""))
    for sentence in appraisal.defaults_used:
        if found := re.match(rf"{fuel} price = ([\d.]+) a \w+ \(", sentence):
            return float(found[1])
    return None


def loan_of(appraisal: Appraisal, identifier: str | None) -> Mapping[str, Any] | None:
    """The loan of that id, if it lends here."""
    loans = appraisal.to_dict()["loans"]
    return next((loan for loan in loans if loan["id"] == identifier), None)
