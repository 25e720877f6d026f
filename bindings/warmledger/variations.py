"""The same household again with one thing changed at a time: price, fuel, hot water, tax."""

from __future__ import annotations

import contextlib
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
        again = None
        if columns is not None:
            # A value that a sheet may not say is refused.
            with contextlib.suppress(Error):
                again = appraisal.with_changes({"package": str(appraisal.summary["package"]), **columns})
        found.append(Change(key, columns or {}, again))
    return found


def _wanted(appraisal: Appraisal) -> Iterator[tuple[str, dict[str, str] | None]]:
    """Key and columns of each change; no columns where the change cannot be said in columns of a sheet."""
    if appraisal.inputs is None:
        return
    cost = float(appraisal.measures.installed_cost_usd)
    yield "cost_up", {"installed_cost_usd": f"{cost * 1.2:.2f}"}
    yield "cost_down", {"installed_cost_usd": f"{cost * 0.8:.2f}"}
    fuel = str(appraisal.system["heater_fuel"])
    price = flat_price(appraisal, fuel)
    for key, times in (("fuel_up", 1.2), ("fuel_down", 0.8)):
        yield key, None if price is None else {PRICE_COLUMNS[fuel]: f"{price * times:.6g}"}
    gallons = float(appraisal.system["hot_water_l_day"]) / LITRE_PER_GALLON
    yield "water_up", {"hot_water_gal_day": f"{gallons * 1.25:.6g}", "hot_water_l_day": ""}
    yield "water_down", {"hot_water_gal_day": f"{gallons * 0.75:.6g}", "hot_water_l_day": ""}
    incentives = appraisal.incentives
    if ((incentives["kind"] == "credit") & incentives["applied"] & (incentives["amount_usd"] > 0)).any():
        yield "no_tax", {"tax_liability_usd": "0"}


def flat_price(appraisal: Appraisal, fuel: str) -> float | None:
    """What a unit of the fuel costs on the install date; None where no single price gives the same bills."""
    assert appraisal.inputs is not None
    own = appraisal.inputs.cell(PRICE_COLUMNS[fuel])
    if own:
        return float(own.replace("$", "").replace(",", ""))
    for sentence in appraisal.defaults_used:
        if found := re.match(rf"{fuel} price = ([\d.]+) a \w+ \(", sentence):
            price = float(found[1])
            same = appraisal.with_changes({PRICE_COLUMNS[fuel]: found[1]}).measures.first_year_cost_without_usd
            return price if abs(same - appraisal.measures.first_year_cost_without_usd) < 0.005 else None
    return None


def loan_of(appraisal: Appraisal, identifier: str | None) -> Mapping[str, Any] | None:
    """The loan of that id, if it lends here."""
    loans = appraisal.to_dict()["loans"]
    return next((loan for loan in loans if loan["id"] == identifier), None)
