"""What-ifs: the same household under other inputs, and a program's money spent well.

    sweep       any inputs, by name, over any values, as a tidy frame
    solve_for   the value of one input at which a measure hits its target
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
from .solving import Solution, solve_for
from .sweeps import sweep

__all__ = [
    "Allocation",
    "Comparison",
    "Floor",
    "Solution",
    "acceptance_curve",
    "allocate",
    "allocation_options",
    "compare",
    "solve_for",
    "sweep",
    "tornado",
]
