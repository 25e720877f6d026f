"""Figures of results, for notebooks and pages (matplotlib).

Every function draws on the matplotlib axes `ax` (None: new ones) and returns them. The colours are those of Okabe & Ito
(2008), which colour-blind readers tell apart, and nothing is told by colour alone; axes carry their units, and a line
below says what the figure rests on. Save one with `ax.figure.savefig("name.png", dpi=150)`.
"""

from __future__ import annotations

import calendar
import textwrap
from typing import TYPE_CHECKING, Any

from .colours import DECISION_COLOURS
from .errors import MissingValue, UnknownName, ValueOutOfRange, error

if TYPE_CHECKING:
    import pandas as pd

    from .appraisal import Appraisal
    from .whatif import Allocation, Comparison, Risk, Solution

__all__ = [
    "allocation",
    "cash_flow",
    "day",
    "decisions",
    "gains",
    "monthly_energy",
    "payback_map",
    "paybacks",
    "risk",
    "solution",
    "sweep",
    "tornado",
]

_BLUE, _SKY, _GREEN, _ORANGE, _RED, _GREY = "#0072B2", "#56B4E9", "#009E73", "#E69F00", "#D55E00", "#999999"
_TEXT = "#555555"
_SCALD_C = (120 - 32) / 1.8  # 120 F


def _axes(ax: Any, size: tuple[float, float] = (7, 4)) -> Any:
    if ax is not None:
        return ax
    import matplotlib.pyplot as plt

    return plt.subplots(figsize=size, layout="constrained")[1]


def _finish(ax: Any, title: str, source: str) -> Any:
    ax.set_title(title, loc="left", parse_math=False)  # two dollar signs are no formula
    ax.spines[["top", "right"]].set_visible(False)
    width = ax.get_window_extent().width / ax.figure.dpi  # inches
    ax.annotate(
        textwrap.fill(source, max(int(width * 17), 30), break_on_hyphens=False),
        (0, 0),
        xycoords="axes fraction",
        xytext=(0, -38),
        textcoords="offset points",
        fontsize=7,
        color=_TEXT,
        va="top",
        annotation_clip=False,
        parse_math=False,
    )
    return ax


def _dollars(value: float, _: Any = None) -> str:
    return f"-${-value:,.0f}" if value < -0.5 else f"${value:,.0f}"


def _source_of(appraisal: Appraisal) -> str:
    summary = appraisal.summary
    note = f" {summary['program_note']}" if summary["program_note"] else ""
    return f"warmledger; {summary['program_title']}; weather of {summary['weather_station']}.{note}"


def _source_of_results(results: pd.DataFrame) -> str:
    program = results.attrs.get("program", {})
    note = f" {program['note']}" if program.get("note") else ""
    return f"warmledger; {program.get('title', 'screened sheet')}; {len(results):,} households.{note}"


def decisions(results: pd.DataFrame, ax: Any = None) -> Any:
    """Draws how many households of a screened sheet got each decision.

    results  a frame that `screen` returned
    ax       matplotlib axes to draw on; None: new ones

    Returns the axes.
    """
    ax = _axes(ax)
    counts = results["decision"].value_counts()
    names = [name for name in DECISION_COLOURS if name in counts.index]
    bars = ax.barh(names, [int(counts[name]) for name in names], color=[DECISION_COLOURS[name][0] for name in names])
    ax.bar_label(bars, padding=3)
    ax.invert_yaxis()
    ax.set_xlabel("households")
    ax.margins(x=0.12)
    return _finish(ax, "Decisions", _source_of_results(results))


def paybacks(results: pd.DataFrame, ax: Any = None) -> Any:
    """Draws the distribution of simple payback over a screened sheet: households by whole years, stacked by decision.

    Households that do not recover the cost within the study stand in a bar of their own at the right; bad rows and
    homes that do not suit are left out.

    results  a frame that `screen` returned
    ax       matplotlib axes to draw on; None: new ones

    Returns the axes.
    """
    ax = _axes(ax)
    names = [name for name in DECISION_COLOURS if name not in ("bad row", "not suitable")]
    suitable = results[results["decision"].isin(names)]
    years = suitable["simple_payback_years"].astype("Float64")
    last = int(years.max()) if years.notna().any() else 0
    from_zero = [0] * (last + 1)
    beyond = last + 2
    bottoms, bottom_none = from_zero, 0
    for name in names:
        mine = suitable["decision"] == name
        found = years[mine].dropna().astype(int)
        counts = [int((found == year).sum()) for year in range(last + 1)]
        none = int(years[mine].isna().sum())
        if not sum(counts) + none:
            continue
        places = [year + 0.5 for year in range(last + 1)]
        colour = DECISION_COLOURS[name][0]
        ax.bar([*places, beyond + 0.5], [*counts, none], 0.92, [*bottoms, bottom_none], color=colour, label=name)
        bottoms = [a + b for a, b in zip(bottoms, counts, strict=True)]
        bottom_none += none
    step = max(1, -(-(last + 1) // 12))
    ticks = list(range(0, last + 2, step))
    ax.set_xticks([*ticks, beyond + 0.5], [*map(str, ticks), "none"])
    ax.set_xlabel("simple payback, years; none: not recovered within the study")
    ax.set_ylabel("households")
    if bottom_none or any(bottoms):
        ax.legend(frameon=False)
    return _finish(ax, "Simple payback, homes that suit", _source_of_results(results))


def cash_flow(appraisal: Appraisal, ax: Any = None) -> Any:
    """Draws what water heating has cost a household by each year, with the system bought in cash and without it.

    Running sums of the ledger in nominal US dollars, remaining values left out. Where the lines cross the system is
    paid back.

    appraisal  what `appraise` returned
    ax         matplotlib axes to draw on; None: new ones

    Returns the axes.
    """
    ax = _axes(ax)
    book = appraisal.ledger()
    book = book[book["category"] != "remaining value"]
    for world, colour, style in (("without", _RED, "--"), ("with", _BLUE, "-")):
        monthly = book[book["world"] == world].groupby("month")["amount_usd"].sum().astype(float)
        running = -monthly.reindex(range(appraisal.study_years * 12 + 1), fill_value=0.0).cumsum()
        ax.plot(running.index / 12, running, color=colour, linestyle=style, linewidth=2)
        ax.annotate(
            f"{world} the system",
            (running.index[-1] / 12, running.iloc[-1]),
            xytext=(4, 0),
            textcoords="offset points",
            color=colour,
            va="center",
            annotation_clip=False,
        )
    payback = appraisal.measures["simple_payback_years"]
    if payback is not None:
        ax.axvline(float(payback), color=_GREY, linewidth=1, linestyle=":")
        ax.annotate(
            f"paid back after {float(payback):.1f} years",
            (float(payback), ax.get_ylim()[1]),
            xytext=(4, -4),
            textcoords="offset points",
            va="top",
            color=_TEXT,
        )
    ax.set_xlabel("years after installation")
    ax.set_xticks(range(0, appraisal.study_years + 1, 5 if appraisal.study_years > 9 else 1))
    ax.set_ylabel("spent so far, US dollars of the day")
    ax.yaxis.set_major_formatter(_dollars)
    return _finish(ax, "Water heating, running cost", _source_of(appraisal))


def monthly_energy(appraisal: Appraisal, ax: Any = None) -> Any:
    """Draws the heat in a household's hot water by month, from the sun and from the heater, and the solar fraction.

    appraisal  what `appraise` returned
    ax         matplotlib axes to draw on; None: new ones

    Returns the axes.
    """
    ax = _axes(ax)
    year = appraisal.year()
    months = list(year.index)
    sun = year["solar_kwh"].astype(float)
    rest = (year["load_kwh"].astype(float) - sun).clip(lower=0)
    ax.bar(months, sun, 0.8, color=_ORANGE, label="from the sun")
    ax.bar(months, rest, 0.8, sun, color=_SKY, hatch="///", edgecolor="white", label="from the heater")
    for i, fraction in enumerate(year["solar_fraction"]):
        ax.annotate(
            f"{float(fraction):.0%}",
            (i, float(sun.iloc[i] + rest.iloc[i])),
            xytext=(0, 3),
            textcoords="offset points",
            ha="center",
            fontsize=9,
        )
    ax.set_ylabel("heat in the hot water, kWh a month")
    ax.set_xlabel("month; above the bars the solar fraction")
    ax.margins(y=0.16)
    ax.legend(frameon=False, ncol=2, loc="upper right")
    share = appraisal.to_dict()["year"]["solar_fraction_by_heat"]
    return _finish(ax, f"Hot water by month, {share:.0%} from the sun in the year", _source_of(appraisal))


def day(appraisal: Appraisal, month: int = 6, day: int = 21, ax: Any = None) -> Any:
    """Draws the temperatures of one day of the simulated year: collector, solar tank and outdoor air, and the draws.

    appraisal   what `appraise` returned by the hourly method
    month, day  1 to 12 and a day of that month (the year has 365 days)
    ax          matplotlib axes to draw on; None: new ones

    Temperatures in degrees C at the left and F at the right, each at the end of its hour, in standard time; draws in
    litres, written above the hour. Returns the axes.
    """
    hours = appraisal.hours()
    if not 1 <= month <= 12:
        raise error(ValueOutOfRange, "is out of range", value=str(month), allowed="1 to 12", key="month")
    days = calendar.monthrange(2001, month)[1]
    if not 1 <= day <= days:
        raise error(ValueOutOfRange, "is out of range", value=str(day), allowed=f"1 to {days}", key="day")
    ax = _axes(ax)
    # From the hour before midnight, so that the lines begin at 0 h.
    last = hours.index[(hours["month"] == month) & (hours["day"] == day)]
    rows = hours.iloc[[(last[0] - 1) % len(hours), *last]]
    clock = range(25)
    for name, label, colour, style in (
        ("collector_c", "collector", _RED, "-"),
        ("tank_top_c", "solar tank, top", _ORANGE, "-"),
        ("tank_bottom_c", "solar tank, bottom", _BLUE, "--"),
        ("dry_bulb_c", "outdoor air", _GREEN, ":"),
    ):
        ax.plot(clock, rows[name].astype(float), color=colour, linestyle=style, linewidth=2, label=label)
    ax.axhline(_SCALD_C, color=_GREY, linewidth=1)
    ax.annotate("120 °F: above it water scalds", (24, _SCALD_C), ha="right", va="bottom", fontsize=8, color=_TEXT)
    low, high = ax.get_ylim()
    floor = low - 0.16 * (high - low)
    drawn = rows["drawn_l"].astype(float).iloc[1:]
    scale = 0.12 * (high - low) / max(float(drawn.max()), 1e-9)
    ax.bar([hour + 0.5 for hour in range(24)], drawn * scale, 0.8, floor, color=_GREY, label="hot water drawn")
    ax.annotate(f"{drawn.sum():.0f} l drawn", (0.2, floor + 0.13 * (high - low)), fontsize=8, color=_TEXT, va="bottom")
    ax.set_ylim(floor, high + 0.22 * (high - low))  # room for the legend
    ax.set_xlim(0, 24)
    ax.set_xticks(range(0, 25, 3))
    ax.set_xlabel("hour of the day, standard time")
    ax.set_ylabel("temperature, °C")
    right = ax.secondary_yaxis("right", functions=(lambda c: c * 1.8 + 32, lambda f: (f - 32) / 1.8))
    right.set_ylabel("temperature, °F")
    ax.legend(frameon=False, loc="upper center", ncol=3, fontsize=8)
    _finish(ax, f"{calendar.month_name[month]} {day}", _source_of(appraisal))
    ax.spines["right"].set_visible(True)
    return ax


def tornado(
    table: pd.DataFrame,
    base: float | None = None,
    ax: Any = None,
    *,
    unit: str = "",
    title: str = "What matters",
) -> Any:
    """Draws how far a result moves when one input at a time goes to its low and its high value.

    table  what `wl.whatif.tornado` returned; or a frame with a row for each input, whose index names it, and the
           columns `low` and `high`: the result with the input at its low and at its high value. Columns `low_input`
           and `high_input`, where there are any, tell those values in words and stand beside the bars
    base   the result with all inputs as they are; of a frame of `wl.whatif.tornado` it is known
    unit   what the result is, with its unit; empty: of such a frame the measure, else net savings
    ax     matplotlib axes to draw on; None: new ones

    Widest bars first. A result that has no value (None, NA) gets no bar but a word. Returns the axes.
    """
    source = _source_of_what_if(table)
    if "at_low" in table.columns:
        unit = unit or _named(table.attrs.get("measure", "net_savings_usd"))
        base = base if base is not None or table["at_base"].isna().any() else float(table["at_base"].iloc[0])
        table = _bars_of(table)
    unit = unit or "net savings, US dollars"
    if base is None:
        raise error(MissingValue, "is missing", key="base", allowed="the result with all inputs as they are")
    for name in ("low", "high"):
        if name not in table.columns:
            raise error(
                MissingValue, "is missing", key=f"table.{name}", allowed="a frame with the columns low and high"
            )
    ax = _axes(ax, (7, 1.4 + 0.5 * max(len(table), 2)))
    ends = table[["low", "high"]].astype("Float64")
    swing = (ends.max(axis=1) - ends.min(axis=1)).fillna(0)
    order = list(swing.argsort(kind="stable"))[::-1]
    for place, i in enumerate(order):
        for name, colour, hatch in (("low", _ORANGE, "///"), ("high", _BLUE, "")):
            value = ends[name].iloc[i]
            there = not bool(ends[name].isna().iloc[i])
            length = float(value) - base if there else 0.0
            ax.barh(place, length, 0.7, base, color=colour, hatch=hatch, edgecolor="white")
            words = str(table[f"{name}_input"].iloc[i]) if f"{name}_input" in table.columns else name
            # A bar that goes nowhere keeps its word on the side where the other one is not.
            other = ends["high" if name == "low" else "low"].fillna(base).iloc[i] - base
            left = length < 0 or (length == 0 and (other > 0 or (other == 0 and name == "low")))
            ax.annotate(
                words if there else f"{words}: none",
                (base + length, place),
                xytext=(-4 if left else 4, 0),
                textcoords="offset points",
                ha="right" if left else "left",
                va="center",
                fontsize=8,
            )
    ax.axvline(base, color="black", linewidth=1)
    ax.set_yticks(range(len(order)), [str(table.index[i]) for i in order])
    ax.invert_yaxis()
    ax.margins(x=0.36 if "low_input" in table.columns else 0.25)
    if "dollars" in unit:
        ax.xaxis.set_major_formatter(_dollars)
    ax.set_xlabel(unit)
    at = _dollars(base) if "dollars" in unit else f"{base:,.1f}"
    return _finish(ax, title, f"{source}; one input changed at a time, the others as they are (line: {at}).")


def _bars_of(table: pd.DataFrame) -> pd.DataFrame:
    """A frame of `wl.whatif.tornado` as bars."""
    import pandas as pd

    from .whatif.wording import shown

    rows = [
        {
            "low": row.at_low,
            "high": row.at_high,
            "low_input": shown(row.input, row.low),
            "high_input": shown(row.input, row.high),
        }
        for row in table.itertuples()
    ]
    return pd.DataFrame(rows, index=list(table["title"]), columns=["low", "high", "low_input", "high_input"])


def _source_of_what_if(table: pd.DataFrame) -> str:
    """What a frame of `wl.whatif` rests on, and whether it is as if."""
    program = table.attrs.get("program") or {}
    told = table.attrs.get("as_if", "")
    if not told:
        from .whatif.wording import as_if_of

        told = as_if_of([table])
    if told and told in program.get("note", ""):
        told = ""
    parts = [part for part in ("warmledger", program.get("title"), program.get("note"), told) if part]
    return "; ".join(part.removesuffix(".") for part in parts)


def _named(name: str) -> str:
    """An input or measure with its unit, for an axis."""
    from .whatif.wording import plain, unit_of

    unit = unit_of(name)
    return f"{plain(name)}, {unit}" if unit else plain(name)


def _inputs_of(table: pd.DataFrame, count: int) -> list[str]:
    names = [name for name in table.attrs.get("inputs", ()) if name in table.columns]
    if len(names) < count or any(name not in table.columns for name in names):
        raise error(
            MissingValue,
            "has too few inputs",
            value=", ".join(names),
            allowed=f"a frame that wl.whatif.sweep returned, over {count} inputs or more",
            key="table",
        )
    return names[:count] if count > 1 else names


def sweep(table: pd.DataFrame, measure: str = "net_savings_usd", ax: Any = None) -> Any:
    """Draws a measure over an input of a sweep, one line for each value of the other inputs.

    table    what `wl.whatif.sweep` returned; its first input with several numbers runs across
    measure  the result column
    ax       matplotlib axes to draw on; None: new ones

    Values without a result leave a gap. More than twelve lines are refused: take fewer values, or a payback_map.
    Returns the axes.
    """
    import pandas as pd

    from .whatif.wording import plain, shown

    names = _inputs_of(table, 1)
    if measure not in table.columns:
        raise error(MissingValue, "is missing", key=f"table.{measure}", allowed="a result column of the frame")
    numbers = [name for name in names if pd.api.types.is_numeric_dtype(table[name]) and table[name].nunique() > 1]
    if not numbers:
        raise error(MissingValue, "has no input with several numbers", key="table", allowed="one to run across")
    across = numbers[0]
    others = [name for name in names if name != across]
    groups = (
        list(table.groupby(others if len(others) > 1 else others[0], sort=False, dropna=False))
        if others
        else [((), table)]
    )
    if len(groups) > 12:
        raise error(ValueOutOfRange, "lines are too many", value=str(len(groups)), allowed="up to 12", key="table")
    ax = _axes(ax)
    colours = (_BLUE, _RED, _GREEN, _ORANGE, _SKY, _GREY)
    for i, (values, rows) in enumerate(groups):
        values = values if isinstance(values, tuple) else (values,)
        said = [(name, value) for name, value in zip(others, values, strict=True) if not pd.isna(value)]
        label = ", ".join(f"{plain(name)}: {shown(name, value)}" for name, value in said) or "as it is"
        rows = rows.sort_values(across)
        ax.plot(
            rows[across].astype(float),
            rows[measure].astype("Float64").to_numpy(dtype=float, na_value=float("nan")),
            color=colours[i % 6],
            linestyle=("-", "--", ":", "-.")[(i + i // 6) % 4],
            marker="osD^v<"[i % 6],
            markersize=4,
            label=label,
        )
    if others:
        low, high = ax.get_ylim()
        ax.set_ylim(low, high + 0.075 * len(groups) * (high - low))  # room for the legend
        ax.legend(frameon=False, fontsize=8, loc="upper right")
    _dollar_axes(ax, across, measure)
    return _finish(ax, f"{plain(measure)} over {plain(across)}".capitalize(), _source_of_what_if(table))


def solution(found: Solution, ax: Any = None) -> Any:
    """Draws a measure over the unknown that `wl.whatif.solve_for` was asked for, its target, and what was found.

    found  what `wl.whatif.solve_for` returned
    ax     matplotlib axes to draw on; None: new ones

    A ring marks each solution; without one a square marks what comes closest. Returns the axes.
    """
    from .whatif.wording import plain, shown

    ax = _axes(ax)
    scan = found.scan
    ax.plot(
        scan[found.unknown].astype(float),
        scan[found.measure].to_numpy(dtype=float, na_value=float("nan")),
        color=_BLUE,
        linewidth=2,
    )
    ax.axhline(found.target, color=_GREY, linestyle="--", linewidth=1)
    low, high = ax.get_xlim()
    ax.annotate(
        f"target {shown(found.measure, found.target)}",
        (high, found.target),
        xytext=(-2, 3),
        textcoords="offset points",
        ha="right",
        fontsize=8,
        color=_TEXT,
    )
    marked = list(zip(found.values, found.reached, strict=True)) or ([found.closest] if found.closest else [])
    for value, reached in marked:
        ax.plot([value], [reached], "o" if found.values else "s", color=_RED, markersize=9, fillstyle="none", mew=2)
        text = shown(found.unknown, value)
        left = value > (low + high) / 2
        ax.annotate(
            text if found.values else f"closest: {shown(found.measure, reached)} at {text}",
            (value, reached),
            xytext=(-8 if left else 8, 10),
            textcoords="offset points",
            ha="right" if left else "left",
        )
    _dollar_axes(ax, found.unknown, found.measure)
    title = f"{plain(found.measure)} over {plain(found.unknown)}".capitalize()
    return _finish(ax, title, _source_of_what_if(scan))


def _dollar_axes(ax: Any, across: str, up: str) -> None:
    ax.set_xlabel(_named(across))
    ax.set_ylabel(_named(up))
    if across.endswith("_usd"):
        ax.xaxis.set_major_formatter(_dollars)
    if up.endswith("_usd"):
        ax.yaxis.set_major_formatter(_dollars)
    for axis, name in ((ax.xaxis, across), (ax.yaxis, up)):
        if name.endswith(("_rate", "_escalation", "share_of_cost")):
            axis.set_major_formatter(lambda value, _=None: f"{value * 100:g} %")


def payback_map(
    table: pd.DataFrame,
    ax: Any = None,
    *,
    xlabel: str = "",
    ylabel: str = "",
    source: str = "",
) -> Any:
    """Draws simple payback over two inputs, as shades with lines of equal payback.

    table           what `wl.whatif.sweep` returned over two inputs (the first goes up, the second across); or a frame
                    of paybacks in years: the index holds the values of the input up, the columns those of the input
                    across, both numbers in rising order. A field without a payback (None, NA) is hatched
    xlabel, ylabel  what the inputs are, with their units; empty: of a sweep their names, else price and cost
    source          what the figure rests on, for the line below
    ax              matplotlib axes to draw on; None: new ones

    Returns the axes.
    """
    import numpy as np

    if "inputs" in table.attrs:
        up, across = _inputs_of(table, 2)
        source = "; ".join(part for part in (_source_of_what_if(table).removeprefix("warmledger; "), source) if part)
        xlabel, ylabel = xlabel or _named(across), ylabel or _named(up)
        table = table.pivot(index=up, columns=across, values="simple_payback_years").sort_index().sort_index(axis=1)
    xlabel, ylabel = xlabel or "installed cost, US dollars", ylabel or "fuel price, US dollars a unit"

    x = np.asarray(table.columns, dtype=float)
    y = np.asarray(table.index, dtype=float)
    for key, values in (("columns", x), ("index", y)):
        if len(values) < 2 or not (np.diff(values) > 0).all():
            raise error(
                ValueOutOfRange, "do not rise", key=f"table.{key}", allowed="two or more numbers in rising order"
            )
    ax = _axes(ax)
    years = table.astype("Float64").to_numpy(dtype=float, na_value=float("nan"))
    none = np.isnan(years)
    ax.set_facecolor("#EEEEEE")
    shades = ax.pcolormesh(x, y, years, shading="nearest", cmap="cividis_r")
    edges = ax.get_xlim(), ax.get_ylim()
    if none.any():
        ax.pcolor(x, y, np.where(none, 0.0, np.nan), shading="nearest", hatch="////", alpha=0)
        ax.annotate(
            "hatched: not recovered within the study",
            (1, 1),
            xycoords="axes fraction",
            xytext=(0, 4),
            textcoords="offset points",
            ha="right",
            va="bottom",
            fontsize=8,
            color=_TEXT,
        )
    levels = [
        level
        for level in (3, 5, 7, 10, 12, 15, 20, 30)
        if not none.all() and np.nanmin(years) < level < np.nanmax(years)
    ]
    if levels:
        lines = ax.contour(x, y, years, levels=levels, colors="white", linewidths=1.2)
        ax.clabel(lines, fmt="%g years", fontsize=8)
    ax.set_xlim(edges[0])
    ax.set_ylim(edges[1])
    ax.figure.colorbar(shades, ax=ax, label="simple payback, years")
    ax.set_xlabel(xlabel)
    ax.set_ylabel(ylabel)
    if "dollars" in xlabel and x.max() >= 100:
        ax.xaxis.set_major_formatter(_dollars)
    return _finish(ax, "Simple payback", f"warmledger; {source}" if source else "warmledger")


def risk(found: Risk, column: str = "net_savings_usd", ax: Any = None) -> Any:
    """Draws how a figure of one household comes out over the trials: bars, percentiles 5, 50 and 95, and as planned.

    found   what `wl.whatif.monte_carlo` returned
    column  of found.trials; trials without a finite value (a payback that is not reached) are told in words
    ax      matplotlib axes to draw on; None: new ones

    Bars on the losing side of zero are hatched. Returns the axes.
    """
    import numpy as np

    ax = _axes(ax)
    marks = found.percentiles(column, (5, 50, 95))["value"]
    values = found.trials[column].to_numpy(dtype=float)
    finite = values[np.isfinite(values)]
    low, high = (float(finite.min()), float(finite.max())) if len(finite) else (0.0, 1.0)
    steps = np.linspace(low, high if high > low else low + 1, 41)
    money = column.endswith("_usd")
    if money and low < 0 < high:  # no bar on both sides of zero
        steps = steps - min(steps[steps > 0])
        steps = np.append(steps, steps[-1] + (steps[1] - steps[0]))
    counts, edges = np.histogram(finite, steps)
    loses = edges[1:] <= 1e-9 if money else np.zeros(len(counts), bool)
    width = edges[1] - edges[0]
    for chosen, colour, hatch in ((~loses, _SKY, ""), (loses, _ORANGE, "///")):
        if counts[chosen].any():
            shares = counts[chosen] / len(values) * 100
            ax.bar(edges[:-1][chosen], shares, width, align="edge", color=colour, hatch=hatch, edgecolor="white")
    top = max(counts.max() / len(values) * 100, 0.1)
    for percent, style in ((5, ":"), (50, "-"), (95, ":")):
        value = float(marks.loc[percent])
        if not np.isfinite(value):
            continue
        ax.axvline(value, color=_BLUE, linestyle=style, linewidth=1.5)
        told = _dollars(value) if money else f"{value:.3g}"
        ax.annotate(
            f"{percent} %: {told}",
            (value, top * (1.12 if percent == 50 else 1.03)),
            xytext=(-3 if percent == 5 else 3, 0),
            textcoords="offset points",
            ha="right" if percent == 5 else "left",
            fontsize=8,
            color=_BLUE,
            parse_math=False,
        )
    if column in found.base:
        ax.plot(
            [found.base[column]], [0], marker="^", markersize=9, color=_RED, linestyle="none", clip_on=False, zorder=5
        )
        ax.plot([], [], marker="^", color=_RED, linestyle="none", label="as planned, nothing drawn")
        ax.legend(frameon=False, fontsize=8, loc="upper right")
    if len(finite):
        shown = np.quantile(finite, (0.0005, 0.9995))  # a single far trial would squeeze the others
        ax.set_xlim(shown[0] - width, shown[1] + width)
    ax.set_ylim(0, top * 1.22)
    unit = next(unit for name, unit, _ in found.columns() if name == column)
    ax.set_xlabel(f"{_named(column)}{f', {unit}' if unit and unit not in _named(column) else ''}")
    if money:
        ax.xaxis.set_major_formatter(_dollars)
    ax.set_ylabel("percent of the trials")
    without = 1 - len(finite) / len(values)
    told = f"; no value in {without:.0%} of the trials" if without else ""
    note = f" {found.note}" if found.note else ""
    title = f"{len(found):,} trials of {found.household_id}: {_named(column)}"
    return _finish(
        ax, title, f"warmledger; {found.program.title}; {found.sampling} draws, seed {found.seed}{told}.{note}"
    )


def allocation(found: Allocation, ax: Any = None) -> Any:
    """Draws what the money of a budget does: for each income tier the benefit so far over the dollars spent so far.

    found  what `wl.whatif.allocate` returned
    ax     matplotlib axes to draw on; None: new ones

    Households of a tier stand in the order of their benefit per dollar, so that a line bends where the money does less.
    Without income tiers there is one line. Returns the axes.
    """
    ax = _axes(ax)
    took = found.chosen[found.chosen["chosen"]]
    known = "income_tier" in took.columns
    tiers = [
        name for name in (found.by_tier().index if known else [""]) if not known or (took["income_tier"] == name).any()
    ]
    colours = (_BLUE, _RED, _GREEN, _ORANGE, _SKY, _GREY)
    for i, tier in enumerate(tiers):
        mine = took[took["income_tier"] == tier] if known else took
        spent = mine["program_cost_usd"].to_numpy(dtype=float)
        benefit = mine["benefit"].to_numpy(dtype=float)
        order = sorted(range(len(mine)), key=lambda at: (spent[at] * 1e9 / max(benefit[at], 1e-9), at))
        across, up = [0.0], [0.0]
        for at in order:
            across.append(across[-1] + float(spent[at]))
            up.append(up[-1] + float(benefit[at]))
        style = ("-", "--", "-.", ":")[i % 4]
        label = f"{tier}: {len(mine)} households, {_dollars(across[-1])}" if tier else f"{len(mine)} households"
        ax.plot(across, up, color=colours[i % 6], linestyle=style, linewidth=2, label=label)
        ax.plot(across[-1:], up[-1:], color=colours[i % 6], marker="osD^v<"[i % 6], linestyle="none")
    ax.set_xlabel("spent so far in the tier, US dollars" if known else "spent so far, US dollars")
    ax.xaxis.set_major_formatter(_dollars)
    ax.set_ylabel(found.benefit_unit)
    if "dollars" in found.benefit_unit:
        ax.yaxis.set_major_formatter(_dollars)
    if tiers:
        ax.legend(frameon=False, fontsize=8, loc="lower right")
    spent_usd = found.spent_usd or 0.0
    title = f"{_dollars(spent_usd)} of {_dollars(found.budget_usd)} for {len(took)} of {len(found.chosen)} households"
    program = found.options.attrs.get("program", {})
    note = f" {program['note']}" if program.get("note") else ""
    told = f"; {'; '.join(map(str, found.equity))}" if found.equity else ""
    return _finish(ax, title, f"warmledger; {program.get('title', 'options as given')}; {found.status}{told}.{note}")


def gains(found: Comparison, program: str | None = None, ax: Any = None) -> Any:
    """Draws who gains and who loses by a program against the base, by income tier.

    found    what `wl.whatif.compare` returned
    program  which of its programs; None: the first besides the base
    ax       matplotlib axes to draw on; None: new ones

    A box holds the middle half of a tier's households, its line is the median, the whiskers reach to the outermost; the
    words count who gains, loses and stays the same. Homes that not both programs serve are counted, not drawn.
    Returns the axes.
    """
    import numpy as np

    others = [name for name in found.results if name != found.base]
    name = others[0] if program is None else program
    if name not in others:
        raise error(
            UnknownName, "is no program besides the base", key="program", value=str(name), allowed=", ".join(others)
        )
    counts = found.changes.loc[name]
    counts = counts[counts[["gains", "loses", "same"]].sum(axis=1) > 0]
    ax = _axes(ax, (7, 1.8 + 0.6 * max(len(counts), 2)))
    gain = found.households[f"{name}: gain_usd"]
    for place, tier in enumerate(counts.index):
        mine = gain[(found.households["income_tier"] == tier) & gain.notna()].to_numpy(dtype=float)
        least, low, middle, high, most = np.quantile(mine, [0, 0.25, 0.5, 0.75, 1])
        ax.plot([least, most], [place, place], color=_BLUE, marker="|", markersize=10)
        ax.barh(place, high - low, 0.5, low, color=_SKY, edgecolor=_BLUE, zorder=2)
        ax.plot([middle, middle], [place - 0.25, place + 0.25], color=_RED, linewidth=2)
        one = counts.loc[tier]
        words = ", ".join(
            f"{int(one[column])} {told}"
            for column, told in (
                ("gains", "gain"),
                ("loses", "lose"),
                ("same", "the same"),
                ("newly served", "newly served"),
                ("no longer served", "no longer served"),
            )
            if one[column]
        )
        ax.annotate(
            words, (0.01, place - 0.4), xycoords=("axes fraction", "data"), fontsize=8, color=_TEXT, va="center"
        )
    ax.axvline(0, color="black", linewidth=1)
    ax.set_yticks(range(len(counts)), [str(tier) for tier in counts.index])
    ax.set_ylim(len(counts) - 0.4, -0.7)
    ax.use_sticky_edges = False
    ax.margins(x=0.08)
    ax.set_ylabel("income tier")
    ax.set_xlabel("gain in net savings, US dollars, present value")
    ax.xaxis.set_major_formatter(_dollars)
    return _finish(ax, f"{name} against {found.base}", _source_of_results(found.results[name]))
