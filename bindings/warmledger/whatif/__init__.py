"""What-ifs: the same household under other inputs, and a program's money spent well.

    sweep       any inputs, by name, over any values, as a tidy frame
    solve_for   the value of one input at which a measure hits its target
    monte_carlo thousands of trials of one household: percentiles and chances, with their sampling errors
    tornado     low, base and high of one input at a time, widest swing first
    allocate    a budget spent well: packages and incentive levels for the households of a sheet, with floors
    compare     incentive designs over one sheet: who gains, who loses, who takes part, and what it costs

Figures here support decisions; they are no lending, tax or legal advice, and no promise about prices or weather.
"""

from .acceptance import acceptance_curve
from .allocate import Allocation, Floor, allocate
from .compare import Comparison, compare
from .options import allocation_options
from .ranges import tornado
from .risk import Chance, PriceSpread, Risk, RiskModel, Spread, monte_carlo
from .solving import Solution, solve_for
from .sweeps import sweep

__all__ = [
    "Allocation",
    "Chance",
    "Comparison",
    "Floor",
    "PriceSpread",
    "Risk",
    "RiskModel",
    "Solution",
    "Spread",
    "acceptance_curve",
    "allocate",
    "allocation_options",
    "compare",
    "monte_carlo",
    "solve_for",
    "sweep",
    "tornado",
]
