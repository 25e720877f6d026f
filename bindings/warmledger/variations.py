"""The same household again with one thing changed at a time: price, fuel, hot water, tax."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from .catalog import AS_IF_PRICES
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


# What a household says of its own bills: in units of the fuel, and in dollars.
OWN_UNITS = ("water_heating_units", "water_heating_bill_usd")
OWN_BILLS = ("water_heating_bill_usd", "home_fuel_bill_usd")


@dataclass(frozen=True)
class Change:
    """One change, and the household with it; None where it cannot be appraised."""

    key: str
    appraisal: Appraisal | None


def changes_of(appraisal: Appraisal) -> list[Change]:
    """What could come differently; empty for an appraisal that does not know its household any more."""
    if appraisal.inputs is None:
        return []
    found = []
    for key, change in _wanted(appraisal).items():
        again = None
        # A value that a sheet or program may not say is refused.
        with contextlib.suppress(Error):
            again = change()
        found.append(Change(key, again))
    return found


def _wanted(appraisal: Appraisal) -> dict[str, Callable[[], Appraisal | None]]:
    """Key of each change and what makes it."""

    def by(change: Callable[[Appraisal, float], dict[str, Any] | None], times: float) -> Appraisal | None:
        changes = change(appraisal, times)
        return None if changes is None else _again(appraisal, changes)

    wanted: dict[str, Callable[[], Appraisal | None]] = {
        "cost_up": partial(by, cost_times, 1.2),
        "cost_down": partial(by, cost_times, 0.8),
        "fuel_up": partial(by, fuel_price_times, 1.2),
        "fuel_down": partial(by, fuel_price_times, 0.8),
        "water_up": partial(by, hot_water_times, 1.25),
        "water_down": partial(by, hot_water_times, 0.75),
    }
    incentives = appraisal.incentives
    if ((incentives["kind"] == "credit") & incentives["applied"] & (incentives["amount_usd"] > 0)).any():
        wanted["no_tax"] = partial(_again, appraisal, {"tax_liability_usd": "0"})
    return wanted


def _again(appraisal: Appraisal, changes: Mapping[str, Any]) -> Appraisal:
    """With the same package, which else might change too."""
    keys = {name: value for name, value in changes.items() if name == "tariff" or "." in name}
    columns = {name: value for name, value in changes.items() if name not in keys}
    program = appraisal.program.changed(keys) if keys else None
    return appraisal.with_changes({"package": str(appraisal.summary["package"]), **columns}, program)


# What changes an input in proportion: columns of the household, or keys of the program file, with their new values.


def cost_times(appraisal: Appraisal, times: float) -> dict[str, Any]:
    """The installed cost."""
    return {"installed_cost_usd": f"{float(appraisal.measures.installed_cost_usd) * times:.2f}"}


def hot_water_times(appraisal: Appraisal, times: float) -> dict[str, Any] | None:
    """The hot water drawn; None where the household's own bill decides it, whatever the sheet says of hot water."""
    assert appraisal.inputs is not None
    if any(appraisal.inputs.cell(name) for name in OWN_UNITS):
        return None
    gallons = float(appraisal.system["hot_water_l_day"]) / LITRE_PER_GALLON
    return {"hot_water_gal_day": f"{gallons * times:.6g}", "hot_water_l_day": ""}


def fuel_price_times(appraisal: Appraisal, times: float) -> dict[str, Any]:
    """The price of the heater's fuel; bills in dollars follow it, so that the use stays."""
    inputs = appraisal.inputs
    assert inputs is not None
    fuel = str(appraisal.system["heater_fuel"])
    as_if = f"as_if_prices.{AS_IF_PRICES[fuel]}"
    with contextlib.suppress(Error):
        return {as_if: float(appraisal.program.setting(as_if)) * times}  # bills were paid at the price that holds
    bills = {}
    for name in OWN_BILLS:
        if cell := inputs.cell(name):
            bills[name] = ";".join(f"{_number(part) * times:.6g}" for part in cell.split(";"))
    price = flat_price(appraisal, fuel)
    if price is not None:
        return {PRICE_COLUMNS[fuel]: f"{price * times:.6g}", **bills}
    tariffs = appraisal.program.setting("tariff")
    for tariff in tariffs:
        if tariff["fuel"] == fuel:
            for rate in (*tariff.get("rate", ()), *tariff.get("block", ())):
                rate["usd_per_unit"] *= times
    return {**bills, "tariff": tariffs}


def _number(cell: str) -> float:
    return float(cell.replace("$", "").replace(",", ""))


def flat_price(appraisal: Appraisal, fuel: str) -> float | None:
    """What a unit of the fuel costs on the install date; None where no single price gives the same bills."""
    assert appraisal.inputs is not None
    own = appraisal.inputs.cell(PRICE_COLUMNS[fuel])
    if own:
        return _number(own)
    for sentence in appraisal.defaults_used:
        if found := re.match(rf"{fuel} price = ([\d.]+) a \w+ \(", sentence):
            same = appraisal.with_changes({PRICE_COLUMNS[fuel]: found[1]}).measures.first_year_cost_without_usd
            difference = abs(same - appraisal.measures.first_year_cost_without_usd)
            return float(found[1]) if difference < 0.005 else None
    return None


def loan_of(appraisal: Appraisal, identifier: str | None) -> Mapping[str, Any] | None:
    """The loan of that id, if it lends here."""
    loans = appraisal.to_dict()["loans"]
    return next((loan for loan in loans if loan["id"] == identifier), None)
