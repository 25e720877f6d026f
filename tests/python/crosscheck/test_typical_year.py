"""A synthetic year against the typical-year files that the pvlib package carries (TMY3, NREL for the US DOE)."""

from pathlib import Path

import pvlib
import pytest
import warmledger as wl


def tmy3_files() -> list[Path]:
    found = []
    for path in sorted(Path(pvlib.__file__).parent.rglob("*")):
        if path.suffix.lower() == ".csv" and path.stat().st_size > 1_000_000:
            head = path.read_text(encoding="utf-8", errors="replace")[:400]
            if "GHI (W/m^2)" in head:
                found.append(path)
    return found


def test_annual_fraction_within_three_points() -> None:
    files = tmy3_files()
    if not files:
        pytest.skip(f"pvlib {pvlib.__version__} carries no TMY3 file")
    for path in files:
        typical = wl.climate.read_hourly(path)
        made = wl.climate.synthesize(typical.monthly_means(), 1)
        for azimuth in (0.0, 60.0, -60.0):
            system = wl.hotwater.SolarSystem(storage_l=303, tilt_deg=abs(typical.latitude_deg), azimuth_deg=azimuth)
            real, synthetic = (
                wl.hotwater.simulate(
                    system, wl.hotwater.Demand(303, 49), year, heater=wl.hotwater.Heater()
                ).solar_fraction_by_heat
                for year in (typical, made)
            )
            assert synthetic == pytest.approx(real, abs=0.03), f"{path.name}, azimuth {azimuth}"
