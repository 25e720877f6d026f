"""Makes the figures of data/what-if.md: python data/what-if/make_figures.py [NAME ...]"""

import datetime
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import matplotlib
import warmledger as wl

matplotlib.use("Agg")
FOLDER = Path(__file__).resolve().parent

PROGRAM = wl.load_program(wl.data_dir() / "demo" / "program.toml")
HOUSEHOLD = {
    "household_id": "first",
    "place": "Quillmere",
    "occupants": 4,
    "yearly_income_usd": 52000,
    "heater_fuel": "propane",
}


def sweep() -> Any:
    one = wl.appraise(HOUSEHOLD, PROGRAM)
    prices = [1.5, 2.0, 2.5, 3.0, 3.5, 4.0]
    table = wl.whatif.sweep(one, {"propane_price_usd_per_gal": prices, "installed_cost_usd": [6000, 8000, 10000]})
    return wl.plots.sweep(table, "net_savings_usd")


def payback_map() -> Any:
    one = wl.appraise(HOUSEHOLD, PROGRAM)
    prices = [1.5 + 0.25 * i for i in range(13)]
    costs = [5000 + 500 * i for i in range(13)]
    table = wl.whatif.sweep(one, {"propane_price_usd_per_gal": prices, "installed_cost_usd": costs})
    return wl.plots.payback_map(table)


def solve_for() -> Any:
    one = wl.appraise(HOUSEHOLD, PROGRAM)
    return wl.plots.solution(wl.whatif.solve_for(one, {"simple_payback_years": 10}, "installed_cost_usd"))


def tornado() -> Any:
    return wl.plots.tornado(wl.whatif.tornado(wl.appraise(HOUSEHOLD, PROGRAM)))


def risk() -> Any:
    return wl.plots.risk(wl.whatif.monte_carlo((HOUSEHOLD, PROGRAM), trials=10_000, detail="hourly"))


def allocation() -> Any:
    found = wl.whatif.allocate(
        wl.data_dir() / "demo" / "households.csv",
        PROGRAM,
        budget_usd=150_000,
        packages=["drain-back-small", "drain-back-medium"],
        levels={"incentive.county-rebate.flat_usd": [0, 500, 1000]},
        equity=wl.whatif.Floor(0.6, tiers="low"),
    )
    return wl.plots.allocation(found)


def gains() -> Any:
    new = PROGRAM.changed(
        {
            "incentive.county-rebate.flat_usd": 0,
            "incentive.county-rebate-low.share_of_cost": 0.3,
            "incentive.county-rebate-low.cap_usd": 2600,
        }
    )
    found = wl.whatif.compare({"now": PROGRAM, "low income first": new}, wl.data_dir() / "demo" / "households.csv")
    return wl.plots.gains(found)


def as_if() -> Any:
    rule = "federal-solar-water-heating-2022"
    what_ifs = ({}, {f"as_if.{rule}.valid_to": datetime.date(2034, 12, 31)}, {"as_if_prices.propane_usd_per_gal": 3.5})
    grid = [{"installed_cost_usd": 5000 + 500 * i, **what_if} for what_if in what_ifs for i in range(15)]
    return wl.plots.sweep(wl.whatif.sweep(wl.appraise(HOUSEHOLD, PROGRAM), grid), "net_savings_usd")


FIGURES: dict[str, Callable[[], Any]] = {
    "sweep": sweep,
    "payback_map": payback_map,
    "solve_for": solve_for,
    "tornado": tornado,
    "risk": risk,
    "allocation": allocation,
    "gains": gains,
    "as_if": as_if,
}

if __name__ == "__main__":
    for name in sys.argv[1:] or FIGURES:
        figure = FIGURES[name]().figure
        figure.savefig(FOLDER / f"{name}.png", dpi=100, metadata={"Software": None})
        matplotlib.pyplot.close(figure)
