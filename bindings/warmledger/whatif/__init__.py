"""What-ifs: the same household under other inputs, and a program's money spent well.

    sweep       any inputs, by name, over any values, as a tidy frame
    solve_for   the value of one input at which a measure hits its target
    tornado     low, base and high of one input at a time, widest swing first

Figures here support decisions; they are no lending, tax or legal advice, and no promise about prices or weather.
"""

from .ranges import tornado
from .solving import Solution, solve_for
from .sweeps import sweep

__all__ = ["Solution", "solve_for", "sweep", "tornado"]
