"""The figures say what the numbers say, with units, a source and colours that can be told apart."""

import colorsys
from collections.abc import Iterator
from typing import Any

import pandas as pd
import pytest
import warmledger as wl
from conftest import PROGRAM, household
from warmledger import errors, plots

matplotlib = pytest.importorskip("matplotlib")
matplotlib.use("Agg")
import matplotlib.pyplot as plt  # noqa: E402


@pytest.fixture(autouse=True)
def _close_figures() -> Iterator[None]:
    yield
    plt.close("all")


@pytest.fixture(scope="module")
def one(program: wl.Program) -> wl.Appraisal:
    return wl.appraise(household(), program)


@pytest.fixture(scope="module")
def results(program: wl.Program) -> pd.DataFrame:
    homes = [household(f"H{i}", occupants=1 + i % 7, yearly_income_usd=9000 * (1 + i)) for i in range(40)]
    homes += [household("gas", heater_fuel="natural_gas", installed_cost_usd=30000), household("bad", occupants=-1)]
    homes += [household("north", roof_azimuth_deg=10)]
    return wl.screen(pd.DataFrame(homes), program, detail="monthly", progress=False)


TORNADO = pd.DataFrame(
    {
        "low": [900.0, 200.0, None],
        "high": [1100.0, 1900.0, 1300.0],
        "low_input": ["$1", "1 %", "a"],
        "high_input": ["$2", "3 %", "b"],
    },
    index=["price", "rate", "odd"],
)
MAP = pd.DataFrame([[6.0, 9.0, None], [4.0, 6.0, 11.0]], index=[2.0, 3.0], columns=[5000, 8000, 11000])

HOMES = pd.DataFrame(
    [household(f"H{i}", occupants=2 + i % 5, yearly_income_usd=9000 * (1 + i)) for i in range(12)]
    + [household("bad", occupants=-1), household("renter", tenure="renter")]
)
PAYER = wl.parse_program(PROGRAM.replace('payer = "the', 'paid_by = "administrator"\npayer = "the'))


def spent() -> wl.whatif.Allocation:
    pytest.importorskip("scipy")
    levels = {"incentive.town-rebate.flat_usd": [500, 1500]}
    return wl.whatif.allocate(HOMES, PAYER, budget_usd=5000, levels=levels, detail="monthly")


def compared() -> wl.whatif.Comparison:
    less = PAYER.changed({"incentive.town-rebate.most_income_share": 0.8})
    return wl.whatif.compare({"now": PAYER, "for some": less}, HOMES, detail="monthly")


DRAWN = {
    "decisions": lambda one, results, ax: plots.decisions(results, ax),
    "paybacks": lambda one, results, ax: plots.paybacks(results, ax=ax),
    "cash_flow": lambda one, results, ax: plots.cash_flow(one, ax=ax),
    "monthly_energy": lambda one, results, ax: plots.monthly_energy(one, ax=ax),
    "day": lambda one, results, ax: plots.day(one, 1, 31, ax=ax),
    "tornado": lambda one, results, ax: plots.tornado(TORNADO, 1000, ax=ax),
    "payback_map": lambda one, results, ax: plots.payback_map(MAP, ax=ax),
    "sweep": lambda one, results, ax: plots.sweep(wl.whatif.sweep(one, {"shading_pct": [0, 20]}), ax=ax),
    "solution": lambda one, results, ax: plots.solution(
        wl.whatif.solve_for(one, {"net_savings_usd": 0}, "installed_cost_usd", detail="monthly"), ax=ax
    ),
    "risk": lambda one, results, ax: plots.risk(wl.whatif.monte_carlo(one, trials=200), ax=ax),
    "allocation": lambda one, results, ax: plots.allocation(spent(), ax=ax),
    "gains": lambda one, results, ax: plots.gains(compared(), ax=ax),
}


def texts(ax: Any) -> str:
    return "\n".join(text.get_text() for text in ax.texts)


@pytest.mark.parametrize("name", DRAWN)
def test_each_draws_on_given_axes_or_new_ones(name: str, one: wl.Appraisal, results: pd.DataFrame) -> None:
    assert set(DRAWN) == set(plots.__all__)
    _, given = plt.subplots()
    assert DRAWN[name](one, results, given) is given
    made = DRAWN[name](one, results, None)
    assert made is not given
    made.figure.canvas.draw()
    assert made.get_title(loc="left")
    assert made.get_xlabel()
    assert made.get_ylabel() or name in ("decisions", "tornado")
    assert "warmledger" in made.texts[-1].get_text()
    assert "ax" in (getattr(plots, name).__doc__ or "")


def test_sources_name_the_program_and_its_note(one: wl.Appraisal, results: pd.DataFrame) -> None:
    for ax in (plots.cash_flow(one), plots.paybacks(results)):
        source = ax.texts[-1].get_text().replace("\n", " ")
        assert "Test program of an invented town" in source
        assert "Everything here is invented." in source


def test_cash_flow_ends_at_the_ledgers_sums(one: wl.Appraisal) -> None:
    ax = plots.cash_flow(one)
    book = one.ledger()
    sums = book[book["category"] != "remaining value"].groupby("world")["amount_usd"].sum()
    ends = [line.get_ydata()[-1] for line in ax.lines[:2]]
    assert ends == pytest.approx([-sums["without"], -sums["with"]])
    # The lines cross where the simple payback says (month by month, so within one).
    gap = ax.lines[1].get_ydata() - ax.lines[0].get_ydata()
    crossed = next(month for month, value in enumerate(gap) if value <= 0)
    assert one.measures.simple_payback_years * 12 == pytest.approx(crossed, abs=1)


def test_bars_of_a_month_make_its_load(one: wl.Appraisal) -> None:
    ax = plots.monthly_energy(one)
    tops = [bar.get_y() + bar.get_height() for bar in ax.containers[1]]
    assert tops == pytest.approx(list(one.year()["load_kwh"]))
    assert f"{one.year()['solar_fraction'].iloc[0]:.0%}" in texts(ax)


def test_paybacks_count_every_home_that_suits(results: pd.DataFrame) -> None:
    ax = plots.paybacks(results)
    heights = sum(bar.get_height() for bars in ax.containers for bar in bars)
    suitable = ~results["decision"].isin(["bad row", "not suitable"])
    assert heights == suitable.sum()
    assert 0 < heights < len(results)
    assert results["simple_payback_years"][suitable].isna().any()


def test_paybacks_of_nothing() -> None:
    empty = pd.DataFrame({"decision": pd.array([], "string"), "simple_payback_years": pd.array([], "Float64")})
    assert plots.paybacks(empty).get_title(loc="left")


def test_a_day_shows_its_hours(one: wl.Appraisal) -> None:
    ax = plots.day(one, 7, 4)
    hours = one.hours()
    picked = hours[(hours["month"] == 7) & (hours["day"] == 4)]
    collector = ax.lines[0].get_ydata()
    assert list(collector[1:]) == list(picked["collector_c"])
    assert collector[0] == hours["collector_c"][picked.index[0] - 1]
    assert f"{picked['drawn_l'].sum():.0f} l drawn" in texts(ax)
    first = plots.day(one, 1, 1).lines[0].get_ydata()
    assert first[0] == hours["collector_c"].iloc[-1]


@pytest.mark.parametrize(("month", "day", "words"), [(13, 1, "month: 13"), (2, 29, "day: 29"), (0, 1, "month: 0")])
def test_days_that_are_not_in_the_year(one: wl.Appraisal, month: int, day: int, words: str) -> None:
    with pytest.raises(errors.ValueOutOfRange, match=words):
        plots.day(one, month, day)


def test_the_monthly_method_has_no_day(program: wl.Program) -> None:
    with pytest.raises(errors.NotAvailable, match="monthly method"):
        plots.day(wl.appraise(household(), program, detail="monthly"))


def test_tornado_puts_the_widest_first_and_names_what_has_no_value() -> None:
    ax = plots.tornado(TORNADO, 1000.0)
    labels = [label.get_text() for label in ax.get_yticklabels()]
    assert labels[0] == "rate"
    assert set(labels) == {"rate", "price", "odd"}
    assert "a: none" in texts(ax)
    sides = {text.get_text(): text.get_ha() for text in plots.tornado(TORNADO.assign(low=1000.0), 1000.0).texts}
    assert (sides["$1"], sides["$2"]) == ("right", "left")  # "$1" moves nothing: not over the bar of "$2"
    bar = ax.patches[0]
    assert (bar.get_x(), bar.get_width()) == (1000, -800)
    with pytest.raises(errors.MissingValue, match=r"table\.high"):
        plots.tornado(TORNADO.drop(columns="high"), 1000)


def test_map_hatches_what_is_not_recovered() -> None:
    ax = plots.payback_map(MAP)
    assert "not recovered" in texts(ax)
    assert "not recovered" not in texts(plots.payback_map(MAP.fillna(12.0)))
    with pytest.raises(errors.ValueOutOfRange, match=r"table\.index: do not rise"):
        plots.payback_map(MAP.iloc[::-1])


def test_lines_of_an_allocation_end_at_what_each_tier_gets() -> None:
    found = spent()
    ax = plots.allocation(found)
    tiers = found.by_tier()
    tiers = tiers[tiers["chosen"] > 0]
    ends = [(line.get_xdata()[-1], line.get_ydata()[-1]) for line in ax.lines[::2]]
    assert ends == [(pytest.approx(row["spent_usd"]), pytest.approx(row["benefit"])) for _, row in tiers.iterrows()]
    assert len(ends) == 2
    one = plots.allocation(wl.whatif.allocate(options=found.options.drop(columns="income_tier"), budget_usd=900))
    assert len(one.lines) == 2
    nothing = plots.allocation(wl.whatif.allocate(options=found.options, budget_usd=0))
    assert "for 0 of 14 households" in nothing.get_title(loc="left")


def test_boxes_of_gains_stand_on_the_quartiles_and_count() -> None:
    found = compared()
    ax = plots.gains(found, "for some")
    counts = found.changes.loc["for some"]
    assert f"{counts.loc['above', 'loses']} lose" in texts(ax)
    assert [label.get_text() for label in ax.get_yticklabels()] == ["low", "above"]
    gain = found.households.loc[found.households["income_tier"] == "above", "for some: gain_usd"].dropna()
    drawn = {float(value) for line in ax.lines for value in line.get_xdata()}
    assert any(value == pytest.approx(float(gain.median())) for value in drawn)
    assert min(drawn) == pytest.approx(float(gain.min()))
    with pytest.raises(errors.UnknownName, match="for some"):
        plots.gains(found, "now")


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.1."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_colours_are_of_the_published_set() -> None:
    """Okabe & Ito (2008), 'Color Universal Design', the eight colours (from memory)."""
    published = {"#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}
    used = {getattr(plots, name) for name in ("_BLUE", "_SKY", "_GREEN", "_ORANGE", "_RED")}
    assert used <= published
    # Two lines in one figure differ in lightness or in style; the two of the cash flow in both.
    assert colorsys.rgb_to_hsv(*[int("D55E00"[i : i + 2], 16) / 255 for i in (0, 2, 4)])[0] < 0.15
    assert abs(luminance("#0072B2") - luminance("#D55E00")) > 0.05
