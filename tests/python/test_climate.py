"""The climate room's hours at the Python door: arrays, moments, and errors."""

import datetime
from pathlib import Path

import numpy as np
import pytest
import warmledger as wl

MONTHS = {
    "horizontal_kwh_m2_day": [1.9, 2.8, 3.8, 4.7, 5.6, 6.1, 6.0, 5.3, 4.3, 3.2, 2.1, 1.7],
    "dry_bulb_c": [-2.0, 0, 5, 11, 16, 21, 24, 23, 19, 13, 6, 1],
    "dry_bulb_range_k": [8.0, 9, 10, 11, 12, 12, 12, 12, 12, 11, 9, 8],
    "wind_m_s": [3.5] * 12,
}


@pytest.fixture(scope="module")
def invented() -> wl.climate.Climate:
    return wl.climate.Climate(
        latitude_deg=40,
        longitude_deg=-90,
        utc_offset_h=-6,
        name="Invented Field",
        horizontal_kwh_m2_day=MONTHS["horizontal_kwh_m2_day"],
        dry_bulb_c=MONTHS["dry_bulb_c"],
        dry_bulb_range_k=MONTHS["dry_bulb_range_k"],
        wind_m_s=MONTHS["wind_m_s"],
    )


@pytest.fixture(scope="module")
def year(invented: wl.climate.Climate) -> wl.climate.HourlyYear:
    return wl.climate.synthesize(invented, 7)


def test_arrays_are_whole_read_only_and_outlive_their_year(invented: wl.climate.Climate) -> None:
    made = wl.climate.synthesize(invented, seed=7)
    arrays = [made.global_w_m2, made.beam_normal_w_m2, made.diffuse_w_m2, made.dry_bulb_c, made.wind_m_s]
    total = arrays[0].sum()
    del made
    for array in arrays:
        assert array.shape == (8760,)
        assert array.dtype == np.float64
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1
    assert arrays[0].sum() == total
    days = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    assert total / 1000 == pytest.approx(np.dot(days, MONTHS["horizontal_kwh_m2_day"]))


def test_monthly_means_and_mains_water_come_back(year: wl.climate.HourlyYear, invented: wl.climate.Climate) -> None:
    means = year.monthly_means()
    assert means.horizontal_kwh_m2_day == pytest.approx(MONTHS["horizontal_kwh_m2_day"], rel=1e-9)
    assert means.dry_bulb_c == pytest.approx(MONTHS["dry_bulb_c"], rel=1e-9, abs=1e-9)
    mains = year.mains_by_day_c()
    assert mains.shape == (365,)
    assert mains[:31].mean() == pytest.approx(invented.mains_c()[0])
    assert year.remarks == []
    assert year.filled == []
    assert "seed 7" in year.source


def test_planes(year: wl.climate.HourlyYear) -> None:
    south = year.plane(40)
    assert south.plane_w_m2 == pytest.approx(south.beam_w_m2 + south.sky_w_m2 + south.ground_w_m2)
    assert (south.effective_w_m2 <= south.plane_w_m2 + 1e-9).all()
    assert sum(south.plane_kwh_m2_day) > sum(year.plane(40, 90.0).plane_kwh_m2_day)
    shaded = year.plane(40, shaded_share=[0.25] * 12)
    assert shaded.effective_kwh_m2_day == pytest.approx([0.75 * x for x in south.effective_kwh_m2_day])
    assert year.plane(40, horizon_deg=[30.0]).beam_w_m2.sum() < south.beam_w_m2.sum()
    with pytest.raises(wl.errors.UnknownName, match="allowed: isotropic, Hay-Davies, HDKR, Perez"):
        year.plane(40, sky="clear")
    with pytest.raises(wl.errors.ValueOutOfRange, match="tilt_deg: 120 is out of range"):
        year.plane(120)


@pytest.mark.parametrize(
    "moment",
    [
        datetime.datetime(2003, 10, 17, 19, 30, 30),
        datetime.datetime(2003, 10, 17, 12, 30, 30, tzinfo=datetime.timezone(datetime.timedelta(hours=-7))),
        np.datetime64("2003-10-17T19:30:30"),
    ],
)
def test_sun_position_of_any_moment(moment: datetime.datetime) -> None:
    """The reference case of Reda & Andreas (2003), geometric zenith 50.127954 degrees."""
    zenith, azimuth = wl.climate.sun_position(39.742476, -105.1786, moment)
    assert zenith == pytest.approx(50.127954, abs=0.01)
    assert azimuth == pytest.approx(194.34024, abs=0.01)
    assert zenith - wl.climate.refraction_deg(90 - zenith, 820, 11) == pytest.approx(50.11162, abs=0.01)


@pytest.mark.parametrize(
    "moment", [datetime.date(2003, 10, 17), 5.0, np.float64(5), np.datetime64("NaT"), "2003-10-17", None]
)
def test_what_is_no_moment_is_refused(moment: object) -> None:
    with pytest.raises(wl.errors.MalformedText, match="is not a moment"):
        wl.climate.sun_position(40, -90, moment)  # type: ignore[arg-type]


def test_a_file_that_is_no_weather_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "x.csv"
    file.write_text("a,b\n1,2\n")
    with pytest.raises(wl.errors.MalformedText, match=r"x\.csv, line 1: a,b begins neither a TMY3 nor an EPW file"):
        wl.climate.read_hourly(file)
    with pytest.raises(wl.errors.FileUnreadable, match="does not exist"):
        wl.climate.read_hourly(str(tmp_path / "none.csv"))
