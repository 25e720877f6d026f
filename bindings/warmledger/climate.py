"""Places: their twelve monthly means, their hours, and the sun. North and east are positive."""

from __future__ import annotations

from . import _core
from .catalog import Catalog, load_catalog

Climate = _core.climate.Climate
HourlyYear = _core.climate.HourlyYear
PlaneYear = _core.climate.PlaneYear
read_hourly = _core.climate.read_hourly
refraction_deg = _core.climate.refraction_deg
sun_position = _core.climate.sun_position
synthesize = _core.climate.synthesize

__all__ = [
    "Climate",
    "HourlyYear",
    "PlaneYear",
    "named",
    "nearest",
    "read_hourly",
    "refraction_deg",
    "sun_position",
    "synthesize",
]


def nearest(latitude_deg: float, longitude_deg: float, catalog: Catalog | None = None) -> tuple[Climate, float]:
    """The climate nearest to a point (north and east positive), and its distance in km."""
    return (catalog or load_catalog()).nearest(latitude_deg, longitude_deg)


def named(name: str, catalog: Catalog | None = None) -> Climate:
    """The climate of a weather station by number, or by name with its state."""
    return (catalog or load_catalog()).named(name)
