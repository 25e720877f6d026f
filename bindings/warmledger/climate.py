"""Places and their twelve monthly means."""

from __future__ import annotations

from . import _core
from .catalog import Catalog, load_catalog

Climate = _core.climate.Climate

__all__ = ["Climate", "named", "nearest"]


def nearest(latitude_deg: float, longitude_deg: float, catalog: Catalog | None = None) -> tuple[Climate, float]:
    """The climate nearest to a point (north and east positive), and its distance in km."""
    return (catalog or load_catalog()).nearest(latitude_deg, longitude_deg)


def named(name: str, catalog: Catalog | None = None) -> Climate:
    """The climate of a weather station by number, or by name with its state."""
    return (catalog or load_catalog()).named(name)
