"""Sun position, weather files and tilted planes against pvlib, a public library of solar physics.

Runs on the pip path only, where pvlib is installed. The two typical years are those that its package carries.
"""

import datetime
import math
import random
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest
import warmledger as wl

# Within pvlib, from pandas 3 on.
pytestmark = pytest.mark.filterwarnings("ignore:DatetimeIndex.dayofyear is deprecated")

DATA = Path(pvlib.__file__).parent / "data"
YEARS = sorted(path for path in DATA.glob("*TY*.[cC][sS][vV]"))
SKIES = {"isotropic": "isotropic", "Hay-Davies": "haydavies", "HDKR": "reindl", "Perez": "perez"}


def test_sun_position_within_a_hundredth_of_a_degree_of_spa() -> None:
    """From 1950 to 2050, anywhere on the globe; the azimuth as a distance on the sky."""
    draw = random.Random(20261125)
    for _ in range(300):
        moment = datetime.datetime(1950, 1, 2) + datetime.timedelta(seconds=draw.uniform(0, 100 * 365 * 86_400))
        latitude, longitude = draw.uniform(-90, 90), draw.uniform(-180, 180)
        index = pd.DatetimeIndex([moment], tz="UTC")
        theirs = pvlib.solarposition.spa_python(index, latitude, longitude, how="numpy").iloc[0]
        zenith, azimuth = wl.climate.sun_position(latitude, longitude, moment)
        assert zenith == pytest.approx(theirs.zenith, abs=0.011)
        turn = (azimuth - theirs.azimuth + 180) % 360 - 180
        assert abs(turn) * math.sin(math.radians(zenith)) < 0.011


@pytest.mark.parametrize("path", YEARS, ids=lambda path: path.stem)
def test_typical_year_reads_alike(path: Path) -> None:
    ours = wl.climate.read_hourly(path)
    theirs, place = pvlib.iotools.read_tmy3(path, map_variables=True)
    assert ours.latitude_deg == place["latitude"]
    assert ours.longitude_deg == place["longitude"]
    assert ours.utc_offset_h == place["TZ"]
    for name, column in [
        ("global_w_m2", "ghi"),
        ("beam_normal_w_m2", "dni"),
        ("diffuse_w_m2", "dhi"),
        ("dry_bulb_c", "temp_air"),
        ("wind_m_s", "wind_speed"),
    ]:
        np.testing.assert_array_equal(getattr(ours, name), theirs[column].to_numpy(dtype=float), err_msg=column)


@pytest.mark.parametrize("sky", SKIES)
@pytest.mark.parametrize("azimuth", [0.0, 60.0, -90.0])
def test_planes_of_a_typical_year(sky: str, azimuth: float) -> None:
    """Their sun stands at mid-hour, ours at the middle of the sunlit part: hours of sunrise and sunset differ."""
    assert YEARS
    for path in YEARS:
        year = wl.climate.read_hourly(path)
        ours = year.plane(40, azimuth, sky=sky, incidence_b0=0, ground_albedo=[0.2] * 12)
        data, _ = pvlib.iotools.read_tmy3(path, map_variables=True)
        middle = data.index - pd.Timedelta(minutes=30)
        sun = pvlib.solarposition.get_solarposition(middle, year.latitude_deg, year.longitude_deg)
        zenith = sun["zenith"].to_numpy()
        plane = pvlib.irradiance.get_total_irradiance(
            40,
            180 + azimuth,
            zenith,
            sun["azimuth"].to_numpy(),
            year.beam_normal_w_m2,
            year.global_w_m2,
            year.diffuse_w_m2,
            dni_extra=pvlib.irradiance.get_extra_radiation(middle, solar_constant=1367).to_numpy(),
            airmass=pvlib.atmosphere.get_relative_airmass(zenith),
            albedo=0.2,
            model=SKIES[sky],
        )
        theirs = np.nan_to_num(np.asarray(plane["poa_global"], dtype=float))
        high = zenith < 80
        assert np.sqrt(np.mean((ours.plane_w_m2 - theirs)[high] ** 2)) < 3
        assert ours.plane_w_m2.sum() == pytest.approx(theirs.sum(), rel=0.005)
