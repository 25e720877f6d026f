"""The demo county: its sheet is what its generator writes, and a screening of it loses nothing."""

import csv
import re
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
import warmledger as wl

DEMO = Path(__file__).resolve().parents[2] / "data" / "demo"
SHEET = DEMO / "households.csv"
PROGRAM = DEMO / "program.toml"

# Data row (from 1) and the column at fault.
DEFECTS = {
    23: "yearly_income_usd",
    57: "roof_pitch_rise_in_12",
    88: "occupants",
    119: "heater_fuel",
    152: "household_id",
    184: "yearly_income_usd",
    217: "shading_pct",
    249: "hot_water_gal_day",
    281: "place",
    316: "roof_azimuth_deg",
    347: "package",
    379: "household_id",
}
DECISIONS = {"pays in cash", "pays with loan", "needs more help", "does not pay", "not suitable"}


@pytest.fixture(scope="module")
def identifiers() -> list[str]:
    with SHEET.open(encoding="utf-8", newline="") as file:
        return [row["household_id"] for row in csv.DictReader(file)]


@pytest.fixture(scope="module")
def screened() -> pd.DataFrame:
    return wl.screen(SHEET, PROGRAM, progress=False)


def bad_rows(screened: pd.DataFrame) -> set[int]:
    return {row for row, decision in enumerate(screened["decision"], start=1) if decision == "bad row"}


def test_generator_reproduces_the_sheet_byte_for_byte(tmp_path: Path) -> None:
    again = tmp_path / "again.csv"
    # -B: no __pycache__ in data/, which is installed as it stands.
    subprocess.run([sys.executable, "-B", DEMO / "make_households.py", again], check=True)
    assert again.read_bytes() == SHEET.read_bytes()


def test_all_households_come_out_in_order(screened: pd.DataFrame, identifiers: list[str]) -> None:
    assert len(identifiers) == 400
    assert screened["household_id"].fillna("").tolist() == identifiers


def test_exactly_the_defective_rows_are_bad(screened: pd.DataFrame) -> None:
    assert bad_rows(screened) == set(DEFECTS)


def test_each_defect_is_named_with_row_and_column(screened: pd.DataFrame) -> None:
    problems = pd.DataFrame(screened.attrs["problems"])
    assert dict(zip(problems["row"].astype(int), problems["key"], strict=True)) == DEFECTS
    assert len(problems) == len(DEFECTS)


def test_readme_lists_the_defective_rows() -> None:
    text = (DEMO / "README.md").read_text(encoding="utf-8")
    listed = re.findall(r"^\| (\d+) \| [^|]+ \| `(\w+)` \|", text, re.MULTILINE)
    assert {int(row): column for row, column in listed} == DEFECTS


def test_every_decision_occurs(screened: pd.DataFrame) -> None:
    counts = screened["decision"].value_counts()
    assert set(counts.index) >= DECISIONS
    assert min(counts[decision] for decision in DECISIONS) >= 10, counts.to_dict()


@pytest.mark.parametrize("identifier", ["=1+1", 'Lot 9, "café" side'])
def test_odd_identifiers_are_appraised(screened: pd.DataFrame, identifier: str) -> None:
    rows = screened[screened["household_id"] == identifier]
    assert rows["decision"].isin(DECISIONS).tolist() == [True]


def test_three_places_meet_three_climates(screened: pd.DataFrame) -> None:
    good = screened[screened["decision"].isin(DECISIONS)]
    assert good["weather_station"].nunique() == 3
    assert good["station_distance_km"].max() < 60


def test_federal_credit_is_listed_as_ended(screened: pd.DataFrame) -> None:
    """26 USC 25D(h) as amended by Pub. L. 119-21: no credit for expenditures made after 2025-12-31."""
    good = screened[screened["decision"].isin(DECISIONS)]
    assert good["incentives_refused"].str.contains("2025-12-31").all()
    assert not good["incentives_applied"].str.contains("Federal").any()
