"""The demo county by the monthly method, twice: by the library, and by the plain NumPy pipeline of the benchmarks, a
second writing of the formulas. Dollars agree to the cent (in fact to 1e-8), other figures to 1e-9 of themselves.
"""

import csv
import sys
from pathlib import Path

import pandas as pd
import pytest
import warmledger as wl

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "data" / "demo"
sys.path.insert(0, str(ROOT / "tests" / "bench"))

import plain_pipeline  # noqa: E402  (it stands beside the benchmarks)

# What the pipeline leaves out: text, what only the simulation knows, cost tests, pools and own bills.
LEFT_OUT = {
    *("household_id", "reason", "weather_station", "station_distance_km", "fuel_unit", "pump_hours", "hot_tap_hours"),
    *("high_limit_hours", "stagnation_hours", "peak_tank_f", "incentives_applied", "incentives_refused", "as_if"),
    *("wait_listed", "pool_funding", "cost_tests_none", "measures_none", "cautions", "method_notes", "own_bill_scale"),
    *("own_bill_note", "defaults_used"),
}


@pytest.fixture(scope="module")
def county():
    return plain_pipeline.County(ROOT / "data", DEMO / "program.toml")


@pytest.fixture(scope="module")
def results():
    return wl.screen(DEMO / "households.csv", DEMO / "program.toml", detail="monthly", progress=False)


@pytest.fixture(scope="module")
def rows():
    with open(DEMO / "households.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def differences(figures, ours):
    """Columns in which the two disagree, with both values."""
    found = {}
    for name, value in figures.items():
        other = None if pd.isna(ours[name]) else ours[name]
        if isinstance(value, str | bool) or value is None or other is None:
            same = value == other
        elif "usd" in name and "per_kwh" not in name:
            same = abs(value - other) <= 0.01
        else:
            same = value == pytest.approx(other, rel=1e-9, abs=1e-9)
        if not same:
            found[name] = (value, other)
    return found


def test_every_good_row_of_the_demo_county_agrees_to_the_cent(county, rows, results):
    compared = 0
    unsupported = {}
    for row, (_, ours) in zip(rows, results.iterrows(), strict=True):
        if ours["decision"] == "bad row":
            continue
        try:
            figures = plain_pipeline.appraise(row, county)
        except plain_pipeline.Unsupported as reason:
            unsupported[row["household_id"]] = str(reason)
            continue
        assert not differences(figures, ours), row["household_id"]
        compared += 1
    assert not unsupported
    assert compared == (results["decision"] != "bad row").sum() > 380


def test_the_figures_are_all_that_the_library_returns_but_what_is_named(county, rows):
    figures = plain_pipeline.appraise(rows[0], county)
    tests = {c["name"] for c in wl.result_columns() if "_test_" in c["name"]}
    assert set(figures) == {c["name"] for c in wl.result_columns()} - LEFT_OUT - tests


def test_a_difference_would_be_found(county, rows, results):
    # 0.1 cent passes, 2 cents of one amount, another decision or a fraction 1e-8 off do not.
    figures = plain_pipeline.appraise(rows[0], county)
    ours = results.iloc[0]
    assert not differences(figures | {"net_cost_usd": figures["net_cost_usd"] + 0.001}, ours)
    for name, value in {
        "net_cost_usd": figures["net_cost_usd"] + 0.02,
        "decision": "pays in cash",
        "solar_fraction_pct": figures["solar_fraction_pct"] * (1 + 1e-8),
        "simple_payback_years": 3.0,
    }.items():
        assert set(differences(figures | {name: value}, ours)) == {name}


def test_a_day_within_the_month_and_a_shorter_life(tmp_path, rows):
    # Bills by days, a system that ends within the study, and prices that fall.
    text = (DEMO / "program.toml").read_text(encoding="utf-8")
    text = text.replace("install_date = 2026-09-01", "install_date = 2027-02-11")
    text = text.replace("life_years = 25", "life_years = 17").replace(
        "nominal_escalation = 0.02\n", "nominal_escalation = -0.01\n"
    )
    path = tmp_path / "program.toml"
    path.write_text(text, encoding="utf-8")
    county = plain_pipeline.County(ROOT / "data", path)
    results = wl.screen(pd.DataFrame(rows[100:160]), path, detail="monthly", progress=False)
    good = 0
    for row, (_, ours) in zip(rows[100:160], results.iterrows(), strict=True):
        if ours["decision"] != "bad row":
            assert not differences(plain_pipeline.appraise(row, county), ours), row["household_id"]
            good += 1
    assert good > 50


def test_what_it_leaves_out_is_refused_by_name(county, rows, tmp_path):
    for change, named in (
        ({"place": "DENVER, CO"}, "DENVER, CO"),
        ({"water_heating_units": "200"}, "own bills"),
        ({"package": "none"}, "none"),
    ):
        with pytest.raises(plain_pipeline.Unsupported, match=named):
            plain_pipeline.appraise({**rows[0], **change}, county)
    text = (DEMO / "program.toml").read_text(encoding="utf-8").replace("flat_usd = 300", "usd_per_first_year_kwh = 1")
    (tmp_path / "program.toml").write_text(text, encoding="utf-8")
    with pytest.raises(plain_pipeline.Unsupported, match="usd_per_first_year_kwh"):
        plain_pipeline.County(ROOT / "data", tmp_path / "program.toml")
