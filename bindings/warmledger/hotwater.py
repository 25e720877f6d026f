"""Solar water heaters and their year. SI units; energies are kWh of a month."""

from . import _core

Demand = _core.hotwater.Demand
Heater = _core.hotwater.Heater
Plant = _core.hotwater.Plant
SimulatedYear = _core.hotwater.SimulatedYear
SolarSystem = _core.hotwater.SolarSystem
Year = _core.hotwater.Year
correlate = _core.hotwater.correlate
recommend = _core.hotwater.recommend
simulate = _core.hotwater.simulate

__all__ = [
    "Demand",
    "Heater",
    "Plant",
    "SimulatedYear",
    "SolarSystem",
    "Year",
    "correlate",
    "recommend",
    "simulate",
]
