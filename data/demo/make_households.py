#!/usr/bin/env python3
"""Writes households.csv, the household sheet of the demo county. The county and every household in it are invented.

    python3 make_households.py            writes households.csv beside this file
    python3 make_households.py FILE       writes FILE instead

The same bytes come out on every machine: only random.random() of a seeded generator is drawn (the sequence Python keeps
from version to version), and nothing but sums, products and comparisons is done with it. Twelve rows are made defective
on purpose (DEFECTS), to show what a screening does with them; README.md lists them.
"""

import csv
import io
import random
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TypeVar

T = TypeVar("T")

SEED = 20260901
COUNT = 400

COLUMNS = (
    "household_id",
    "place",
    "occupants",
    "yearly_income_usd",
    "tenure",
    "filing_status",
    "tax_liability_usd",
    "heater_kind",
    "heater_fuel",
    "heater_uniform_energy_factor",
    "heater_age_years",
    "set_temperature_f",
    "hot_water_gal_day",
    "roof_pitch_rise_in_12",
    "roof_azimuth_deg",
    "shading_pct",
    "roof_area_ft2",
    "electricity_price_usd_per_kwh",
    "natural_gas_price_usd_per_therm",
    "propane_price_usd_per_gal",
    "heating_oil_price_usd_per_gal",
    "yearly_energy_bills_usd",
    "installed_cost_usd",
    "package",
)

# Area median income of the program file for four persons, and the federal factors for 1 to 8 persons.
MEDIAN_INCOME_USD = 84_000
SIZE_FACTOR = (0.70, 0.80, 0.90, 1.00, 1.08, 1.16, 1.24, 1.32)

# Row (data rows count from 1), column, cell. Each makes its row bad, and no other.
DEFECTS = (
    (23, "yearly_income_usd", ""),
    (57, "roof_pitch_rise_in_12", "90"),
    (88, "occupants", "-3"),
    (119, "heater_fuel", "natural gass"),
    (152, "household_id", "WM-0031"),
    (184, "yearly_income_usd", "about 40k"),
    (217, "shading_pct", "NaN"),
    (249, "hot_water_gal_day", "1e400"),
    (281, "place", "Quillmeer"),
    (316, "roof_azimuth_deg", "400"),
    (347, "package", "drainback-jumbo"),
    (379, "household_id", ""),
)

# Identifiers that are odd and good: a formula-like one, and one with a comma, quotes and an accent.
ODD_IDENTIFIERS = ((70, "=1+1"), (203, 'Lot 9, "café" side'))

PLACES = (("Quillmere", 0.52), ("Dunmarrow Flats", 0.27), ("Sorrelgate Pass", 0.21))

FUELS = {
    "Quillmere": (("natural_gas", 0.50), ("electricity", 0.44), ("heating_oil", 0.03), ("propane", 0.03)),
    "Dunmarrow Flats": (("electricity", 0.40), ("propane", 0.38), ("natural_gas", 0.14), ("heating_oil", 0.08)),
    "Sorrelgate Pass": (("propane", 0.48), ("electricity", 0.37), ("heating_oil", 0.15)),
}

SIZES = ((1, 0.13), (2, 0.26), (3, 0.20), (4, 0.20), (5, 0.11), (6, 0.06), (7, 0.025), (8, 0.015))
PITCHES = ((3, 0.07), (4, 0.18), (5, 0.16), (6, 0.22), (7, 0.10), (8, 0.14), (9, 0.05), (10, 0.04), (12, 0.04))
SET_TEMPERATURES_F = ((120, 0.45), (125, 0.20), (130, 0.20), (135, 0.10), (140, 0.05))

# Income as a share of the area median for the household's size: most households are of moderate income.
INCOME_SHARES = ((0.30, 0.45), (0.45, 0.60), (0.60, 0.80), (0.80, 1.00), (1.00, 1.20), (1.20, 1.50))
INCOME_WEIGHTS = (0.17, 0.21, 0.27, 0.18, 0.10, 0.07)


class Draw:
    """Draws made from random.random() alone."""

    def __init__(self, seed: int) -> None:
        self._next = random.Random(seed).random

    def chance(self, probability: float) -> bool:
        return self._next() < probability

    def between(self, low: float, high: float) -> float:
        return low + (high - low) * self._next()

    def whole(self, low: int, high: int) -> int:
        return low + int((high - low + 1) * self._next())

    def bell(self, center: float, reach: float) -> float:
        """Around `center`, never further than `reach`; the sum of three draws is close to a bell curve."""
        return center + reach * (self._next() + self._next() + self._next() - 1.5) / 1.5

    def one_of(self, weighted: Sequence[tuple[T, float]]) -> T:
        point = self._next() * sum(weight for _, weight in weighted)
        for value, weight in weighted:
            point -= weight
            if point < 0:
                return value
        return weighted[-1][0]


def to_step(value: float, step: int) -> int:
    return step * int(value / step + 0.5)


def income(draw: Draw, occupants: int) -> int:
    low, high = draw.one_of(tuple(zip(INCOME_SHARES, INCOME_WEIGHTS, strict=True)))
    return to_step(draw.between(low, high) * MEDIAN_INCOME_USD * SIZE_FACTOR[occupants - 1], 100)


def azimuth(draw: Draw) -> int:
    """Compass bearing of the best roof face: streets run mostly east to west, so many faces look near south."""
    if draw.chance(0.82):
        return int(draw.bell(180, 40) + 0.5)
    return int(draw.one_of(((draw.between(85, 140), 0.5), (draw.between(220, 275), 0.5))) + 0.5)


def shading(draw: Draw, place: str) -> int:
    if draw.chance(0.45):
        return 0
    wooded = place == "Sorrelgate Pass"
    most = 60 if draw.chance(0.25 if wooded else 0.12) else 25
    return to_step(draw.between(2, most), 5)


def heater(draw: Draw, row: dict[str, str]) -> None:
    fuel = row["heater_fuel"]
    if fuel == "electricity":
        kind = draw.one_of((("storage", 0.88), ("heat_pump", 0.09), ("instantaneous", 0.03)))
    elif fuel == "heating_oil":
        kind = "storage"
    else:
        kind = draw.one_of((("storage", 0.86), ("instantaneous", 0.14)))
    if kind == "heat_pump":
        age = draw.whole(0, 9)
    else:
        low, high = draw.one_of((((0, 5), 0.3), ((6, 12), 0.45), ((13, 19), 0.2), ((20, 27), 0.05)))
        age = draw.whole(low, high)
    if kind != "storage" or draw.chance(0.4):
        row["heater_kind"] = kind
    if draw.chance(0.72):
        row["heater_age_years"] = str(age)
    if draw.chance(0.22):
        least, most = {
            ("storage", "electricity"): (0.86, 0.93),
            ("storage", "heating_oil"): (0.51, 0.60),
            ("heat_pump", "electricity"): (2.3, 3.4),
            ("instantaneous", "electricity"): (0.96, 0.98),
            ("instantaneous", "natural_gas"): (0.80, 0.92),
            ("instantaneous", "propane"): (0.80, 0.92),
        }.get((kind, fuel), (0.54, 0.63))
        row["heater_uniform_energy_factor"] = f"{draw.between(least, most):.2f}"


def own_price(draw: Draw, row: dict[str, str]) -> None:
    """The household's own price of the heater's fuel, on some bills."""
    column, low, high, digits = {
        "electricity": ("electricity_price_usd_per_kwh", 0.145, 0.215, 3),
        "natural_gas": ("natural_gas_price_usd_per_therm", 1.05, 1.60, 2),
        "propane": ("propane_price_usd_per_gal", 2.35, 3.40, 2),
        "heating_oil": ("heating_oil_price_usd_per_gal", 3.45, 4.25, 2),
    }[row["heater_fuel"]]
    row[column] = f"{draw.between(low, high):.{digits}f}"


def quote(draw: Draw, row: dict[str, str], occupants: int) -> None:
    """An installer's quote; a household that has one often names the package it is for."""
    size, cost = ("small", 6150) if occupants <= 2 else ("medium", 8000) if occupants <= 4 else ("large", 10300)
    row["installed_cost_usd"] = str(to_step(draw.bell(cost, 1500), 50))
    if draw.chance(0.6):
        row["package"] = f"drain-back-{size}"


def household(draw: Draw, number: int) -> dict[str, str]:
    row = dict.fromkeys(COLUMNS, "")
    row["household_id"] = f"WM-{number:04d}"
    place = draw.one_of(PLACES)
    occupants = draw.one_of(SIZES)
    row["place"] = place
    row["occupants"] = str(occupants)
    yearly = income(draw, occupants)
    row["yearly_income_usd"] = str(yearly)

    if draw.chance(0.15):
        row["tenure"] = "renter"
    elif draw.chance(0.6):
        row["tenure"] = "owner"
    if draw.chance(0.8):
        shared = (("joint", 0.68), ("head_of_household", 0.2), ("single", 0.12))
        row["filing_status"] = "single" if occupants == 1 else draw.one_of(shared)
    if draw.chance(0.15):
        deduction = {"joint": 32_000, "head_of_household": 24_000}.get(row["filing_status"], 16_000)
        row["tax_liability_usd"] = str(to_step(max(0.0, yearly - deduction) * draw.between(0.05, 0.12), 10))

    row["heater_fuel"] = draw.one_of(FUELS[place])
    heater(draw, row)
    if draw.chance(0.3):
        row["set_temperature_f"] = str(draw.one_of(SET_TEMPERATURES_F))
    if draw.chance(0.12):
        row["hot_water_gal_day"] = str(to_step(occupants * draw.bell(17, 7) + 4, 1))

    if draw.chance(0.85):
        row["roof_pitch_rise_in_12"] = str(draw.one_of(PITCHES))
    bearing = azimuth(draw)
    if draw.chance(0.92):
        row["roof_azimuth_deg"] = str(bearing)
    shade = shading(draw, place)
    if shade > 0 or draw.chance(0.5):
        row["shading_pct"] = str(shade)
    if draw.chance(0.25):
        row["roof_area_ft2"] = str(to_step(draw.between(50, 420), 10))

    if draw.chance(0.25):
        own_price(draw, row)
    if draw.chance(0.35):
        row["yearly_energy_bills_usd"] = str(to_step(draw.bell(1650, 700) + 190 * occupants, 10))
    if draw.chance(0.12):
        quote(draw, row, occupants)
    elif draw.chance(0.04):
        row["package"] = "glycol-medium"
    return row


def make_rows() -> list[dict[str, str]]:
    draw = Draw(SEED)
    rows = [household(draw, number) for number in range(1, COUNT + 1)]
    for number, identifier in ODD_IDENTIFIERS:
        rows[number - 1]["household_id"] = identifier
    for number, column, cell in DEFECTS:
        rows[number - 1][column] = cell
    return rows


def csv_text() -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(make_rows())
    return text.getvalue()


def main(arguments: Sequence[str]) -> int:
    if len(arguments) > 1 or any(argument.startswith("-") for argument in arguments):
        print(__doc__)
        return 0 if list(arguments) in (["-h"], ["--help"]) else 2
    target = Path(arguments[0]) if arguments else Path(__file__).with_name("households.csv")
    try:
        target.write_bytes(csv_text().encode("utf-8"))
    except OSError as error:
        print(f"{target} cannot be written: {error.strerror}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
