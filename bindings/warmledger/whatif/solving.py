"""Goal seek: the value of one input at which a measure hits its target, or why there is none."""

from __future__ import annotations

import difflib
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from ..changes import parts_of
from ..display import table_html
from ..errors import MalformedText, MissingValue, NotAvailable, UnknownName, ValueOutOfRange, error
from .inputs import Base, Cases, cases_of
from .sweeps import check_details
from .wording import as_if_of, plain, shown

if TYPE_CHECKING:
    import pandas as pd

POINTS = 33  # of the scan: a crossing and its return between two of them are not seen
EDGE_POINTS = 9
WHOLE = ("study_years", "carryforward_years", "collector_count", "occupants", "system_life_years")
LOWER_IS_BETTER = ("payback", "cost", "burden", "extra_help", "due_at", "out_of_pocket", "interest", "payment")
LEAST_STEP = 1e-10  # of unknowns that are no money
MOST_DEPTH = 4


@dataclass(frozen=True)
class Solution:
    """What `solve_for` found; `print` gives one plain sentence."""

    measure: str
    target: float
    unknown: str
    value: Any
    """the solution, where there is exactly one; else None"""
    values: list[Any]
    """every solution that was found, rising"""
    reached: list[float]
    """the measure at each, as it is with that value put back"""
    reason: str
    """one sentence: what the solution is, or why there is none"""
    closest: tuple[Any, float] | None
    """without a solution: the value that comes closest, and the measure there"""
    jumps: list[tuple[Any, float | None, Any, float | None]]
    """where the measure jumps over the target: the value just below with its measure, the one just above with its"""
    bounds: tuple[Any, Any]
    evaluations: int
    as_if: str
    """what is as if, and not the law or today's prices; empty for nothing"""
    results: pd.DataFrame = field(repr=False, compare=False)
    """one row a solution (else the closest): the unknown, then the result columns of `screen`"""
    scan: pd.DataFrame = field(repr=False, compare=False)
    """all that was worked out on the way: the unknown and the measure"""

    def __repr__(self) -> str:
        return f"<Solution: {self.reason}>"

    def __str__(self) -> str:
        return self.reason

    def _repr_html_(self) -> str:
        return table_html(
            [
                ("Unknown", self.unknown),
                ("Target", f"{plain(self.measure)} of {shown(self.measure, self.target)}"),
                ("Solution", ", ".join(shown(self.unknown, value) for value in self.values) or "none"),
                ("Reached", ", ".join(shown(self.measure, value) for value in self.reached)),
                ("In words", self.reason),
                ("As if", self.as_if),
            ]
        )


def solve_for(
    base: Base,
    target: Mapping[str, float] | tuple[str, float],
    unknown: str,
    *,
    bounds: tuple[float, float] | None = None,
    detail: str | None = None,
    loan: str | None = None,
    threads: int | None = None,
) -> Solution:
    """Finds the value of an input at which a measure hits its target.

    base     as for `sweep`: an Appraisal (its package stays), a pair (household, program), or an offer's figures
    target   {"simple_payback_years": 10} or ("net_savings_usd", 0): a result column that is a number. With a loan:
             {"loan_average_month_usd": 0}, or "average_month_usd" for short, is month one neither for nor against
    unknown  the input, named as for `sweep`: "installed_cost_usd", "incentive.ID.flat_usd", "loan.ID.yearly_rate",
             "loan.ID.term_months", "propane_price_usd_per_gal", ...
    bounds   the lowest and highest value to try. None: from 0 to three times what the input is now (rates 0 to 0.3,
             terms 12 to 480 months, prices a tenth to ten times, rebates up to the installed cost)
    detail   "hourly" or "monthly"; None: as the Appraisal was made, else "hourly"
    loan     id of the loan that a loan measure is of, which is then the only one. None: of an unknown "loan.ID..."
             that loan, else the best one of the program
    threads  None: one for each core

    33 values from bound to bound are tried first; between two where the measure crosses the target SciPy's bracketing
    solver (TOMS 748) goes on, to the cent where the unknown is money and to 1e-10 elsewhere. The measure moves in small
    steps, as lenders and agencies round to cents: a solution is one that comes within a cent a payment or two cents of
    an amount, 0.001 years, 0.001 percent points, or 1e-5. A larger step across the target is a jump, which is
    told and is no solution. A whole number (a term) is the first that meets the target from its better side: at most
    so many years of payback, at least so much saved.

    Returns a Solution: `value` if there is one, `values` if there are several, `closest` if there is none, and a
    sentence that says so. Raises UnknownName for names that are not there, MissingValue where bounds are needed,
    NotAvailable without the Python package SciPy. Not lending or tax advice.
    """
    measure, wanted = _target_of(target)
    if loan is None and measure not in ("net_savings_usd",) and unknown.startswith("loan."):
        loan = parts_of(unknown)[1]
    cases = cases_of(base, loan=loan)
    measure = _measure_of(measure, cases)
    detail = detail or cases.detail
    check_details([detail], cases.detail)
    cases.check([{unknown: cases.value(unknown)}])
    search = _Search(cases, measure, wanted, unknown, detail, threads)
    low, high = _bounds_of(bounds, search)
    search.look(low, high)
    return search.solution((low, high))


def _target_of(target: Any) -> tuple[str, float]:
    pair = next(iter(target.items())) if isinstance(target, Mapping) and len(target) == 1 else target
    try:
        name, value = pair
        wanted = float(value)
    except (TypeError, ValueError):
        name, wanted = None, math.nan
    if not isinstance(name, str) or not math.isfinite(wanted):
        raise error(
            MalformedText,
            "is no target",
            value=repr(target)[:80],
            allowed='a measure and its value, for example {"simple_payback_years": 10}',
            key="target",
        )
    return name, wanted


def _measure_of(name: str, cases: Cases) -> str:
    known = list(cases.columns())
    for candidate in (name, f"loan_{name}"):
        if candidate in known:
            return candidate
    near = difflib.get_close_matches(name, known, n=1)
    raise error(
        UnknownName,
        "is no measure" + (f" (did you mean {near[0]}?)" if near else ""),
        value=name,
        allowed="a result column that is a number, for example simple_payback_years",
        key="target",
    )


def _bounds_of(bounds: Any, search: _Search) -> tuple[Any, Any]:
    import pandas as pd

    if bounds is not None:
        try:
            low, high = (float(bound) for bound in bounds)
        except (TypeError, ValueError):
            low = high = math.nan
        if not (math.isfinite(low) and math.isfinite(high) and low < high):
            raise error(
                ValueOutOfRange, "are no bounds", value=repr(bounds)[:80], allowed="(lowest, highest)", key="bounds"
            )
        return (math.ceil(low), math.floor(high)) if search.whole else (low, high)
    cases, unknown = search.cases, search.unknown
    last = parts_of(unknown)[-1] if "." in unknown else unknown
    row = search.base_row()
    now = cases.value(unknown)
    if now is None and unknown in row.index and not pd.isna(row[unknown]):
        now = float(row[unknown])
    limits = cases.limits(unknown)
    number = isinstance(now, int | float) and not isinstance(now, bool)
    if last.endswith("yearly_rate"):
        return 0.0, 0.3
    if last.endswith("term_months"):
        return 12, 480
    if last == "share_of_cost":
        return 0.0, 1.0
    if last == "flat_usd" and "installed_cost_usd" in row.index:
        return 0.0, float(row["installed_cost_usd"])
    if "usd_per_" in last or last.endswith("fuel_price_usd"):
        now = now if number else cases.price(unknown)
        if now:
            low, high = now / 10, now * 10
            return (max(low, limits[0]), min(high, limits[1])) if limits else (low, high)
    elif number and now > 0:
        low, high = (limits[0], min(3 * now, limits[1])) if limits else (0, 3 * now)
        return (math.ceil(low), math.floor(high)) if search.whole else (float(low), float(high))
    raise error(
        MissingValue,
        "are needed, as the input has no value now",
        value=unknown,
        allowed="bounds=(lowest, highest)",
        key="bounds",
    )


class _UndefinedError(Exception):
    """The measure has no value where the solver asked."""


class _Search:
    """The measure less its target over the unknown; what was worked out is kept."""

    def __init__(
        self, cases: Cases, measure: str, target: float, unknown: str, detail: str, threads: int | None
    ) -> None:
        self.cases, self.measure, self.target, self.unknown = cases, measure, target, unknown
        self.detail, self.threads = detail, threads
        last = parts_of(unknown)[-1] if "." in unknown else unknown
        self.whole = last.endswith("_months") or last in WHOLE
        self.money = last.endswith("_usd")
        self.rows: dict[float, tuple[pd.DataFrame, int]] = {}
        self.roots: list[Any] = []
        self.jumps: list[tuple[Any, float | None, Any, float | None]] = []
        self.notes: list[str] = []
        self.evaluations = 0
        self.program: dict[str, Any] = {}
        self._base: pd.Series | None = None

    def base_row(self) -> pd.Series:
        if self._base is None:
            self.evaluations += 1
            self._base = self.cases.run([{}], [self.detail], self.threads).iloc[0]
        return self._base

    def many(self, values: Sequence[float]) -> list[float | None]:
        new = [value for value in dict.fromkeys(values) if value not in self.rows]
        if new:
            frame = self.cases.run([{self.unknown: value} for value in new], [self.detail] * len(new), self.threads)
            self.evaluations += len(new)
            self.program = frame.attrs["program"]
            for at, value in enumerate(new):
                self.rows[value] = (frame, at)
        return [self.gap(value) for value in values]

    def gap(self, value: float) -> float | None:
        found = self._number(value)
        return None if found is None else found - self.target

    def _number(self, value: float) -> float | None:
        frame, at = self.rows[value]
        column = frame[self.measure]
        return None if column.isna().iloc[at] else float(column.iloc[at])

    def at(self, value: float) -> float:
        gap = self.many([value])[0]
        if gap is None:
            raise _UndefinedError
        return gap

    def tolerance(self, value: float) -> float:
        """How near a measure that rounds to cents can come."""
        name = self.measure
        if name.endswith("_usd") and "net_savings" in name and "loan" in name:
            return 0.01 * self._payments(value)
        if name.endswith("_usd"):
            return 0.02
        return 0.001 if name.endswith(("_years", "_pct")) else 1e-5

    def _payments(self, value: float) -> int:
        if self.unknown.endswith("term_months"):
            return int(value)
        return int(self.cases.longest_term() or 480)

    def look(self, low: Any, high: Any) -> None:
        """Fills roots and jumps."""
        points = self._between(low, high)
        self.many(points)
        points = self._with_edges(points)
        if self.whole:
            self._whole_roots(points)
        else:
            self._roots(points, MOST_DEPTH)
            self._touches(points)
        self.roots = sorted(set(self.roots))

    def _between(self, low: Any, high: Any, count: int = POINTS) -> list[Any]:
        if self.whole:
            count = min(count, high - low + 1)
            return sorted({low + round((high - low) * i / max(count - 1, 1)) for i in range(count)})
        if low > 0 and high / low > 50:  # so that the low end is not one step
            return [low * (high / low) ** (i / (count - 1)) for i in range(count - 1)] + [high]
        points = [low + (high - low) * i / (count - 1) for i in range(count - 1)] + [high]
        return sorted({round(point, 2) for point in points}) if self.money and high - low > 1 else points

    def _with_edges(self, points: list[Any]) -> list[Any]:
        """With points close to where the measure ceases to have a value: the target may lie just before."""
        more = list(points)
        for a, b in itertools.pairwise(points):
            while (self.gap(a) is None) != (self.gap(b) is None) and not self._narrow(a, b):
                inner = self._between(a, b, EDGE_POINTS)
                if len(inner) < 3:
                    break
                gaps = self.many(inner)
                more += inner
                at = next(i for i in range(len(inner) - 1) if (gaps[i] is None) != (gaps[i + 1] is None))
                a, b = inner[at], inner[at + 1]
        return sorted(set(more))

    def _narrow(self, a: float, b: float) -> bool:
        return b - a <= (1 if self.whole else 0.011 if self.money else 1e-6 * max(abs(a), abs(b), 1e-3))

    def _pairs(self, points: list[Any]) -> list[tuple[Any, Any]]:
        """Neighbours between which the measure crosses the target. What hits it by itself is a root at once."""
        run: list[Any] = []
        for point in [*points, None]:
            if point is not None and self.gap(point) == 0:
                run.append(point)
                continue
            if run:
                self.roots += run[:: max(len(run) - 1, 1)]
                if len(run) > 1:
                    first, last = (shown(self.unknown, one) for one in (run[0], run[-1]))
                    self.notes.append(f"every value tried from {first} to {last} hits it")
            run = []
        pairs = []
        for a, b in itertools.pairwise(points):
            left, right = self.gap(a), self.gap(b)
            if left is not None and right is not None and left * right < 0:
                pairs.append((a, b))
        return pairs

    def _roots(self, points: list[Any], depth: int) -> None:
        optimize = _scipy()
        step = 0.004 if self.money else LEAST_STEP
        for a, b in self._pairs(points):
            try:
                root = optimize.toms748(self.at, a, b, xtol=step, rtol=1e-14)
            except _UndefinedError:
                if depth > 0 and not self._narrow(a, b):
                    inner = self._between(a, b)
                    self.many(inner)
                    self._roots(self._with_edges(inner), depth - 1)
                continue
            self._settle(root, a, b)

    def _settle(self, root: float, a: float, b: float) -> None:
        """A root, or a jump over the target."""
        if self.money:
            cent = math.floor(root * 100)
            near = [(cent + i) / 100 for i in (-1, 0, 1, 2)]
        else:
            step = max(2 * LEAST_STEP, abs(root) * 4e-14)
            near = [root - step, root, root + step]
        near = [min(max(value, a), b) for value in near]
        gaps = self.many(near)
        known = [(abs(gap), value) for gap, value in zip(gaps, near, strict=True) if gap is not None]
        if known and min(known)[0] <= self.tolerance(root):
            self.roots.append(min(known)[1])
            return
        # The two neighbours between which it jumps, a cent or the least step apart.
        at = next(
            (
                i
                for i in range(len(near) - 1)
                if (left := gaps[i]) is None or (right := gaps[i + 1]) is None or left * right <= 0
            ),
            0,
        )
        below, above = (None if gap is None else gap + self.target for gap in gaps[at : at + 2])
        self.jumps.append((near[at], below, near[at + 1], above))

    def _touches(self, points: list[Any]) -> None:
        """Where the measure comes to the target and goes back."""
        gaps = [self.gap(point) for point in points]
        for i in range(1, len(points) - 1):
            before, here, after = gaps[i - 1], gaps[i], gaps[i + 1]
            if before is None or here is None or after is None or here == 0:
                continue
            same = before * here > 0 and after * here > 0
            if same and abs(here) < abs(before) and abs(here) <= abs(after):
                found = self._nearest(points[i - 1], points[i + 1])
                gap = self.many([found])[0]
                if gap is not None and abs(gap) <= self.tolerance(found):
                    self.roots.append(found)

    def _nearest(self, a: float, b: float) -> float:
        def away(value: float) -> float:
            gap = self.many([float(value)])[0]
            return math.inf if gap is None else abs(gap)

        found = float(_scipy().minimize_scalar(away, bounds=(a, b), method="bounded", options={"maxiter": 60}).x)
        return round(found, 2) if self.money else found

    def _whole_roots(self, points: list[int]) -> None:
        for a, b in self._pairs(points):
            while b - a > 1:
                inner = self._between(a, b)
                gaps = self.many(inner)
                for i in range(len(inner) - 1):
                    left, right = gaps[i], gaps[i + 1]
                    if left is not None and right is not None and left * right <= 0:
                        a, b = inner[i], inner[i + 1]
                        break
                else:
                    break
                if 0 in (self.gap(a), self.gap(b)):
                    break
            meets = [value for value in (a, b) if self._meets(value)]
            if meets:
                self.roots.append(meets[0])
                other = b if meets[0] == a else a
                if (gap := self.gap(other)) is not None and self.gap(meets[0]) != 0:
                    told = f"{shown(self.unknown, other)} gives {shown(self.measure, gap + self.target)}"
                    self.notes.append(told)

    def _meets(self, value: float) -> bool:
        """Whether the measure is at the target or better: at most so many years, at least so many dollars saved."""
        gap = self.gap(value)
        lower = any(word in self.measure for word in LOWER_IS_BETTER)
        return gap is not None and (gap <= 0 if lower else gap >= 0)

    def _closest(self) -> float | None:
        """The value that comes closest, looked for between the neighbours of the closest one tried."""
        points = sorted(self.rows)
        known = [point for point in points if self.gap(point) is not None]
        if not known:
            return None
        best: float = min(known, key=lambda point: abs(self.gap(point) or 0.0))
        at = points.index(best)
        if 0 < at < len(points) - 1 and not self.whole and not self.jumps:
            self.many([found := self._nearest(points[at - 1], points[at + 1])])
            known = [best, *([found] if self.gap(found) is not None else [])]
            best = min(known, key=lambda point: abs(self.gap(point) or 0.0))
        return best

    def solution(self, bounds: tuple[Any, Any]) -> Solution:
        import pandas as pd

        name = plain(self.unknown)
        goal = f"{plain(self.measure)} of {shown(self.measure, self.target)}"
        between = f"from {shown(self.unknown, bounds[0])} to {shown(self.unknown, bounds[1])}"
        closest = None
        values = self.roots
        if not values and (nearest := self._closest()) is not None:
            closest = (nearest, (self.gap(nearest) or 0.0) + self.target)
        reached = [(self.gap(value) or 0.0) + self.target for value in values]
        if len(values) == 1:
            text = f"{name} of {shown(self.unknown, values[0])} gives {plain(self.measure)} of "
            text += shown(self.measure, reached[0]) + "".join(f"; {note}" for note in self.notes)
        elif values:
            text = f"{len(values)} values of {name} {between} give {goal}: "
            text += ", ".join(shown(self.unknown, value) for value in values) + "".join(f"; {n}" for n in self.notes)
        else:
            text = f"no {name} {between} gives {goal}"
            if closest is not None:
                text += f"; the closest is {shown(self.measure, closest[1])} at {shown(self.unknown, closest[0])}"
            else:
                text += f"; it has no value there: {self._why()}"
        for left, below, right, above in self.jumps:
            sides = " to ".join("none" if side is None else shown(self.measure, side) for side in (below, above))
            text += f"; at {shown(self.unknown, left)} it jumps from {sides}, over the target"
            better = [value for value in (left, right) if self._meets(value)]
            text += f" ({shown(self.unknown, better[0])} meets it)" if self.money and better else ""
        where = values or ([closest[0]] if closest else [])
        first, _ = self.rows[min(self.rows)]
        kept = [frame.iloc[[at]] for frame, at in (self.rows[value] for value in where)]
        results = pd.concat(kept, ignore_index=True) if kept else first.iloc[:0]
        told = as_if_of([results, first])
        if told:
            text += f" ({told})"
        results = results.drop(columns=[name for name in (self.unknown,) if name in results.columns])
        results.insert(0, self.unknown, where)
        scan = pd.DataFrame(
            {
                self.unknown: sorted(self.rows),
                self.measure: pd.array(
                    [None if (gap := self.gap(value)) is None else gap + self.target for value in sorted(self.rows)],
                    dtype="Float64",
                ),
            }
        )
        for frame in (results, scan):
            frame.attrs = {"program": self.program, "as_if": told}
        return Solution(
            self.measure,
            self.target,
            self.unknown,
            values[0] if len(values) == 1 else None,
            list(values),
            reached,
            text[0].upper() + text[1:] + ".",
            closest,
            list(self.jumps),
            bounds,
            self.evaluations,
            told,
            results,
            scan,
        )

    def _why(self) -> str:
        frame, at = self.rows[min(self.rows)]
        row = frame.iloc[at]
        for part in str(row.get("measures_none", "")).split("; "):
            if part.startswith(f"{self.measure}: "):
                return part.removeprefix(f"{self.measure}: ")
        return str(row.get("reason", "no reason is known"))


def _scipy() -> Any:
    try:
        from scipy import optimize
    except ImportError:
        raise error(
            NotAvailable,
            "needs the Python package SciPy",
            key="solve_for",
            allowed="python3-scipy, or pip install scipy",
        ) from None
    return optimize
