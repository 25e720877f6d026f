#!/usr/bin/env python3
"""Household sheets of any length for measuring. Every household is invented; only the weather stations are real.

    PYTHONPATH=build/python python3 tests/bench/make_sheet.py ROWS OUT.csv|OUT.parquet [--seed N] [--places N]

Rows are drawn in blocks of BLOCK, each with a generator of its own: a longer sheet begins with the shorter one, and
writing takes the same memory for any length. Places are drawn at random, so that neighbours in the sheet rarely share
weather: the hard case for a screening.
"""

from __future__ import annotations

import argparse
import csv
from pathlib import Path
from typing import Any

import numpy as np

BLOCK = 10_000
FUELS = ("natural_gas", "electricity", "propane", "heating_oil")
Column = np.ndarray[Any, Any]


def stations(count: int | None = None) -> list[str]:
    """Numbers of weather stations of the catalogue, spread over it; all of them without a count."""
    import warmledger as wl

    with open(wl.data_dir() / "climates.csv", encoding="utf-8", newline="") as file:
        # Of Guam, Puerto Rico and the like some have mains water too warm for the lowest thermostat setting drawn.
        ids = [row["station_id"] for row in csv.DictReader(file) if 24 < float(row["latitude_deg"]) < 50]
    if count is None or count >= len(ids):
        return ids
    return [ids[i * len(ids) // count] for i in range(count)]


def block(number: int, rows: int, seed: int, places: list[str]) -> dict[str, Column]:
    """Rows of one block, BLOCK or fewer, as columns of text; an empty text is an empty cell."""
    draw = np.random.default_rng([seed, number])
    n = BLOCK  # always as many draws, so that a shorter block is the beginning of a whole one

    def some(share: float, values: Column) -> Column:
        """The values, with only a share of them known."""
        return np.where(draw.random(n) < share, values.astype(str), "")

    first = number * BLOCK
    occupants = draw.choice(np.arange(1, 9), n, p=(0.27, 0.34, 0.16, 0.13, 0.06, 0.02, 0.01, 0.01))
    fuel = draw.choice(FUELS, n, p=(0.45, 0.40, 0.10, 0.05))
    # South-facing faces are the likely ones; a face that a map shows is known to 5 degrees.
    azimuth = np.clip(np.round(draw.normal(180, 25, n) / 5) * 5, 90, 270).astype(int)
    columns = {
        "household_id": np.array([f"H-{first + i:08d}" for i in range(n)]),
        "place": draw.choice(places, n),
        "occupants": occupants.astype(str),
        "yearly_income_usd": (np.round(np.exp(draw.normal(10.8, 0.5, n)) / 100) * 100).astype(int).astype(str),
        "tenure": some(0.9, draw.choice(("owner", "renter"), n, p=(0.92, 0.08))),
        "filing_status": some(0.8, draw.choice(("single", "joint", "head_of_household"), n)),
        # There are no instantaneous heaters on oil in the catalogue.
        "heater_kind": np.where(
            fuel == "heating_oil", "", some(0.7, draw.choice(("storage", "instantaneous"), n, p=(0.9, 0.1)))
        ),
        "heater_fuel": fuel,
        "heater_age_years": some(0.7, draw.integers(0, 20, n)),
        "set_temperature_f": some(0.5, draw.choice((120, 125, 130, 140), n)),
        "hot_water_gal_day": some(0.4, np.round(occupants * draw.uniform(12, 24, n) + 5)),
        "roof_pitch_rise_in_12": some(0.9, draw.integers(3, 13, n)),
        "roof_azimuth_deg": some(0.9, azimuth),
        "shading_pct": some(0.5, draw.integers(0, 30, n)),
        "roof_area_ft2": some(0.3, draw.integers(60, 500, n)),
        "yearly_energy_bills_usd": some(0.5, draw.integers(900, 4200, n)),
        "installed_cost_usd": some(0.2, draw.integers(50, 110, n) * 100),
    }
    return {name: values[:rows] for name, values in columns.items()}


def blocks(rows: int, seed: int = 1, places: list[str] | None = None) -> Any:
    places = places or stations()
    for number, first in enumerate(range(0, rows, BLOCK)):
        yield block(number, min(BLOCK, rows - first), seed, places)


def make_sheet(rows: int, seed: int = 1, places: list[str] | None = None) -> dict[str, Column]:
    """A sheet as columns of text, ready for pandas.DataFrame. `places`: names or station numbers to draw from."""
    made = list(blocks(rows, seed, places))
    return {name: np.concatenate([one[name] for one in made]) for name in made[0]}


def write_sheet(path: str | Path, rows: int, seed: int = 1, places: list[str] | None = None) -> None:
    """The same as a file, .csv or .parquet, written block by block."""
    if str(path).endswith(".parquet"):
        import pyarrow as pa
        import pyarrow.parquet as pq

        writer = None
        for columns in blocks(rows, seed, places):
            table = pa.table({name: pa.array([v or None for v in values.tolist()]) for name, values in columns.items()})
            writer = writer or pq.ParquetWriter(path, table.schema)
            writer.write_table(table)
        if writer:
            writer.close()
        return
    with open(path, "w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        for number, columns in enumerate(blocks(rows, seed, places)):
            if number == 0:
                out.writerow(columns)
            out.writerows(zip(*(values.tolist() for values in columns.values()), strict=True))


def main() -> None:
    parser = argparse.ArgumentParser(description="Writes an invented household sheet.")
    parser.add_argument("rows", type=int)
    parser.add_argument("out", type=Path, help=".csv or .parquet")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--places", type=int, help="weather stations to draw from (default: all of the mainland)")
    options = parser.parse_args()
    write_sheet(options.out, options.rows, options.seed, stations(options.places))


if __name__ == "__main__":
    main()
