"""Finds the built package and makes the small sheets and programs that the tests share."""

import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

try:
    import warmledger as wl
except ImportError:  # not installed and not on PYTHONPATH: the build folder
    sys.path.insert(0, str(Path(os.environ.get("WARMLEDGER_BUILD", ROOT / "build")) / "python"))
    import warmledger as wl

PROGRAM = """\
title = "Test program of an invented town"
note = "Everything here is invented."
install_date = 2026-05-01
study_years = 20

[economics]
nominal_discount_rate = 0.05
inflation_rate = 0.02

[prices.electricity]
usd_per_unit = 0.20
source = "invented"

[income]
area_median_income_usd = 80000
source = "invented"

[[income.tier]]
name = "low"
most_share = 0.8

[[place]]
name = "Testville"
latitude_deg = 39.7
longitude_deg = -105.0

[[package]]
id = "two-collectors"
title = "Drain-back, two collectors"
collector = "flat-plate-selective"
collector_count = 2
storage_gal = 80
loop = "drain_back"
arrangement = "two_tank"
exchanger_effectiveness = 0.6
pump_w = 70
material_usd = 3200
labor_usd = 1800

[[incentive]]
id = "town-rebate"
title = "Town rebate"
payer = "the town (invented)"
citation = "invented"
standing = "invented"
kind = "rebate"
flat_usd = 1000
arrival = "install"

[[loan]]
id = "ten-years"
title = "Ten years at 4 %"
yearly_rate = 0.04
term_months = 120

[decision]
longest_simple_payback_years = 12
largest_extra_help_usd = 2000
"""

HEADER = "household_id,place,occupants,yearly_income_usd,heater_fuel"


def household(identifier: str = "A", **changes: object) -> dict[str, object]:
    """A good household, with changes."""
    return {
        "household_id": identifier,
        "place": "Testville",
        "occupants": 4,
        "yearly_income_usd": 50_000,
        "heater_fuel": "electricity",
        **changes,
    }


@pytest.fixture(scope="session")
def program() -> wl.Program:
    return wl.parse_program(PROGRAM, "test.toml")


@pytest.fixture
def program_file(tmp_path: Path) -> Path:
    path = tmp_path / "program.toml"
    path.write_text(PROGRAM, encoding="utf-8")
    return path


@pytest.fixture
def csv_file(tmp_path: Path) -> Callable[..., Path]:
    """A CSV file from lines after the usual header."""

    def make(*lines: str, header: str = HEADER) -> Path:
        path = tmp_path / "sheet.csv"
        path.write_text("\n".join([header, *lines]) + "\n", encoding="utf-8")
        return path

    return make
