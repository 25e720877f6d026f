"""Draws picture.png of the README: the demo county's decisions and one household's money. Run it after a release build.

usage: PYTHONPATH=build/python .venv/bin/python data/demo/make_picture.py
"""

from pathlib import Path

import matplotlib as mpl
import warmledger as wl

mpl.use("Agg")
import matplotlib.pyplot as plt

folder = Path(__file__).resolve().parent
program = wl.load_program(folder / "program.toml")
results = wl.screen(folder / "households.csv", program, progress=False)
household = {
    "household_id": "first",
    "place": "Quillmere",
    "occupants": 4,
    "yearly_income_usd": 52000,
    "heater_fuel": "propane",
}
one = wl.appraise(household, program)

figure, (left, right) = plt.subplots(1, 2, figsize=(11, 3.8), layout="constrained", width_ratios=(2, 3))
wl.plots.decisions(results, left)
wl.plots.cash_flow(one, right)
right.set_title("One household of four, propane heater", loc="left")
figure.supxlabel(
    "An invented county; weather: TMY3 typical years (NREL for the US Department of Energy), no endorsement.",
    fontsize=8,
    color="#555555",
)
figure.savefig(folder / "picture.png", dpi=96, metadata={"Software": None})
