"""Solar water heaters and their year. SI units; energies are kWh of a month."""

from . import _core

SolarSystem = _core.hotwater.SolarSystem
Heater = _core.hotwater.Heater
Year = _core.hotwater.Year
correlate = _core.hotwater.correlate

__all__ = ["Heater", "SolarSystem", "Year", "correlate"]
