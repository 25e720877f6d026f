"""Figures of results, for notebooks and pages (matplotlib; colours that colour-blind readers tell apart)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .colours import DECISION_COLOURS

if TYPE_CHECKING:
    from .appraisal import Appraisal

_WITHOUT, _WITH = "#D55E00", "#0072B2"


def _axes(axes: Any) -> Any:
    if axes is not None:
        return axes
    import matplotlib.pyplot as plt

    return plt.subplots(figsize=(7, 4), layout="constrained")[1]


def decisions(results: Any, axes: Any = None) -> Any:
    """Draw how many households of a screened sheet got each decision.

    results: a frame that `screen` returned. axes: matplotlib axes to draw on, or None for new ones. Returns the axes.
    """
    axes = _axes(axes)
    counts = results["decision"].value_counts()
    names = [name for name in DECISION_COLOURS if name in counts.index]
    bars = axes.barh(names, [int(counts[name]) for name in names], color=[DECISION_COLOURS[name][0] for name in names])
    axes.bar_label(bars, padding=3)
    axes.invert_yaxis()
    axes.set_xlabel("households")
    axes.set_title("Decisions", loc="left")
    axes.margins(x=0.12)
    axes.spines[["top", "right"]].set_visible(False)
    return axes


def cash_flow(appraisal: Appraisal, axes: Any = None) -> Any:
    """Draw what water heating has cost a household by each year, with the system bought in cash and without it.

    Running sums of the ledger in nominal US dollars, remaining values left out. axes: matplotlib axes to draw on, or
    None for new ones. Returns the axes.
    """
    axes = _axes(axes)
    book = appraisal.ledger()
    book = book[book["category"] != "remaining value"]
    for world, colour, style in (("without", _WITHOUT, "--"), ("with", _WITH, "-")):
        monthly = book[book["world"] == world].groupby("month")["amount_usd"].sum().astype(float)
        running = -monthly.reindex(range(appraisal.study_years * 12 + 1), fill_value=0.0).cumsum()
        axes.plot(running.index / 12, running, color=colour, linestyle=style, linewidth=2)
        axes.annotate(
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
        axes.axvline(float(payback), color="#999999", linewidth=1, linestyle=":")
        axes.annotate(
            f"paid back after {float(payback):.1f} years",
            (float(payback), axes.get_ylim()[1]),
            xytext=(4, -4),
            textcoords="offset points",
            va="top",
            color="#555555",
        )
    axes.set_xlabel("years after installation")
    axes.set_xticks(range(0, appraisal.study_years + 1, 5))
    axes.set_ylabel("spent so far, US dollars of the day")
    axes.yaxis.set_major_formatter(lambda value, _: f"${value:,.0f}")
    axes.set_title("Water heating, running cost", loc="left")
    axes.spines[["top", "right"]].set_visible(False)
    return axes
