"""Charts as inline SVG: no script, no picture file, a title and a description for those who cannot see them.

Nothing is told by colour alone: parts have marks or patterns, lines have names and dashes. Colours are from the set of
Okabe & Ito (2008), darkened where text of that colour has to be read.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from markupsafe import Markup

from .language import dollars

WIDTH = 420
INK, FAINT, GRID = "#1a1a1a", "#595959", "#d9d9d9"
WITH, WITHOUT = "#005a8f", "#a84300"
FILLS = ("#8fc4e3", "#f3c66b", "#9ad5bf", "#e3b3cd", "#c9c9c9", "#f4ec9a")


class Part(NamedTuple):
    """One part of a bar: its mark, its amount, and where that is from."""

    mark: str
    amount: float
    of: str


class Line(NamedTuple):
    name: str
    values: Sequence[float]
    colour: str
    dashes: str


def svg(height: float, title: str, description: str, body: Markup, identifier: str) -> Markup:
    return Markup(
        '<svg viewBox="0 0 {w} {h}" role="img" aria-labelledby="{i}-title {i}-desc" focusable="false">'
        '<title id="{i}-title">{title}</title><desc id="{i}-desc">{description}</desc>{body}</svg>'
    ).format(w=WIDTH, h=_n(height), i=identifier, title=title, description=description, body=body)


def text(
    x: float, y: float, words: object, *, anchor: str = "start", colour: str = INK, size: float = 12, bold: bool = False
) -> Markup:
    return Markup('<text x="{}" y="{}" text-anchor="{}" fill="{}" font-size="{}"{}>{}</text>').format(
        _n(x), _n(y), anchor, colour, _n(size), Markup(' font-weight="700"') if bold else "", words
    )


def sum_text(x: float, y: float, value: float, of: str, *, anchor: str = "start", colour: str = INK) -> Markup:
    """Whole dollars as text that says where they are from."""
    return Markup(
        '<text x="{}" y="{}" text-anchor="{}" fill="{}" font-size="12" data-value="{}" data-of="{}">{}</text>'
    ).format(_n(x), _n(y), anchor, colour, value, of, dollars(value, cents=False))


def line(x1: float, y1: float, x2: float, y2: float, colour: str = GRID, width: float = 1, dashes: str = "") -> Markup:
    return Markup('<line x1="{}" y1="{}" x2="{}" y2="{}" stroke="{}" stroke-width="{}"{}/>').format(
        _n(x1), _n(y1), _n(x2), _n(y2), colour, _n(width), _dash(dashes)
    )


def box(x: float, y: float, width: float, height: float, fill: str, stroke: str = INK) -> Markup:
    return Markup('<rect x="{}" y="{}" width="{}" height="{}" fill="{}" stroke="{}" stroke-width="0.8"/>').format(
        _n(x), _n(y), _n(max(width, 0)), _n(max(height, 0)), fill, stroke
    )


def steps(low: float, high: float, wanted: int = 4) -> list[float]:
    """Round values of a scale that covers low to high: multiples of 1, 2, 2.5 or 5 times a power of ten."""
    span = max(high - low, 1e-9)
    power = 10.0 ** math.floor(math.log10(span / wanted))
    step = next(k * power for k in (1, 2, 2.5, 5, 10) if k * power >= span / wanted * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [k * step for k in range(first, max(last, first + 1) + 1)]


def shares_bar(parts: Sequence[Part], title: str, description: str, identifier: str) -> Markup:
    """One bar, divided; each part has its mark on it or, where it is narrow, above it."""
    whole = sum(part.amount for part in parts)
    body, x, left, width = Markup(""), 0.0, 1.0, WIDTH - 2
    last_above = -100.0
    for k, part in enumerate(parts):
        size = width * part.amount / whole if whole > 0 else 0
        body += box(left + x, 18, size, 34, FILLS[k % len(FILLS)])
        middle = left + x + size / 2
        if size >= 18:
            body += text(middle, 40, part.mark, anchor="middle", bold=True, size=13)
        elif middle - last_above >= 14:
            body += text(middle, 13, part.mark, anchor="middle", bold=True)
            last_above = middle
        x += size
    return svg(56, title, description, body, identifier)


def month_bars(
    months: Sequence[str], savings: Sequence[float], payment: float | None, payment_label: str, title: str, desc: str
) -> Markup:
    """Savings of twelve months as bars, and the payment of a loan as a line across."""
    scale = steps(min(0.0, *savings), max(1.0, *savings, payment or 0.0))
    left, right, top, bottom = 48.0, WIDTH - 4.0, 24.0, 178.0

    def height_of(value: float) -> float:
        return bottom - (value - scale[0]) / (scale[-1] - scale[0]) * (bottom - top)

    body = _scale(scale, height_of, left, right)
    each = (right - left) / len(savings)
    for k, saving in enumerate(savings):
        ends = sorted((height_of(saving), height_of(0)))
        body += box(left + each * (k + 0.18), ends[0], each * 0.64, ends[1] - ends[0], FILLS[0], WITH)
        body += text(left + each * (k + 0.5), bottom + 15, months[k], anchor="middle", colour=FAINT, size=11)
    body += line(left, height_of(0), right, height_of(0), INK)
    if payment is not None:
        body += line(left, height_of(payment), right, height_of(payment), WITHOUT, 2.5, "7 3")
        body += line(left, 9, left + 36, 9, WITHOUT, 2.5, "7 3")
        body += text(left + 42, 13, payment_label, colour=WITHOUT, bold=True)
    return svg(bottom + 22, title, desc, body, "month-chart")


def running_lines(
    lines: Sequence[Line], years: int, crossing: float | None, crossing_label: str, axis: str, title: str, desc: str
) -> Markup:
    """Running sums by month, named at their ends; a mark where the money is back."""
    values = [value for one in lines for value in one.values]
    scale = steps(min(0.0, *values), max(1.0, *values))
    left, right, top, bottom = 60.0, WIDTH - 6.0, 22.0, 182.0

    def height_of(value: float) -> float:
        return bottom - (value - scale[0]) / (scale[-1] - scale[0]) * (bottom - top)

    def place_of(year: float) -> float:
        return left + year / years * (right - left)

    body = _scale(scale, height_of, left, right)
    every = next(k for k in (1, 2, 5, 10) if years / k <= 10)
    for year in range(0, years + 1, every):
        body += line(place_of(year), bottom, place_of(year), bottom + 4, FAINT)
        body += text(place_of(year), bottom + 16, year, anchor="middle", colour=FAINT, size=11)
    body += text((left + right) / 2, bottom + 31, axis, anchor="middle", colour=FAINT, size=11)
    key_x = left
    for one in lines:
        points = " ".join(f"{_n(place_of(m / 12))},{_n(height_of(value))}" for m, value in enumerate(one.values))
        body += Markup('<polyline points="{}" fill="none" stroke="{}" stroke-width="2.2"{}/>').format(
            points, one.colour, _dash(one.dashes)
        )
        body += line(key_x, 9, key_x + 30, 9, one.colour, 2.2, one.dashes)
        body += text(key_x + 36, 13, one.name, colour=one.colour, bold=True)
        key_x += 170
    if crossing is not None and crossing <= years:
        x = place_of(crossing)
        month = min(round(crossing * 12), len(lines[0].values) - 1)
        y = height_of(lines[0].values[month])
        body += line(x, y, x, bottom, FAINT, 1, "2 3")
        body += Markup('<circle cx="{}" cy="{}" r="5" fill="#fff" stroke="{}" stroke-width="2"/>').format(
            _n(x), _n(y), INK
        )
        body += text(x + (6 if crossing < years * 0.7 else -6), bottom - 6, crossing_label, size=11,
                     anchor="start" if crossing < years * 0.7 else "end")  # fmt: skip
    return svg(bottom + 36, title, desc, body, "when-chart")


def count_bars(
    names: Sequence[str], counts: Sequence[int], ofs: Sequence[str], fills: Sequence[str], title: str, desc: str,
    identifier: str,
) -> Markup:  # fmt: skip
    """Counts as bars that lie, each with its name before and its number behind it."""
    row, name_width = 24.0, 150.0
    most = max([1, *counts])
    body = Markup("")
    for k, (name, count) in enumerate(zip(names, counts, strict=True)):
        y = 4 + row * k
        size = (WIDTH - name_width - 60) * count / most
        body += text(name_width - 8, y + 15, name, anchor="end")
        body += box(name_width, y + 2, max(size, 0.8), row - 7, fills[k % len(fills)])
        body += Markup('<text x="{}" y="{}" fill="{}" font-size="12" data-value="{}" data-of="{}">{:,}</text>').format(
            _n(name_width + size + 6), _n(y + 15), INK, count, ofs[k], count
        )
    return svg(8 + row * len(names), title, desc, body, identifier)


def _scale(scale: Sequence[float], height_of: object, left: float, right: float) -> Markup:
    assert callable(height_of)
    cents = any(abs(value - round(value)) > 1e-9 for value in scale)
    body = Markup("")
    for value in scale:
        y = height_of(value)
        body += line(left, y, right, y)
        body += Markup(
            '<text x="{}" y="{}" text-anchor="end" fill="{}" font-size="11" data-of="scale">{}</text>'
        ).format(_n(left - 6), _n(y + 4), FAINT, dollars(value, cents=cents))
    return body


def _dash(dashes: str) -> Markup:
    return Markup(' stroke-dasharray="{}"').format(dashes) if dashes else Markup("")


def _n(value: float) -> str:
    """A coordinate with one decimal at most, the same on every machine."""
    return f"{value:.1f}".removesuffix(".0")
