"""At most one option a household, the most benefit under linear limits: a mixed-integer program, solved by HiGHS.

The solver is that of SciPy (scipy.optimize.milp and linprog); what it returns is rounded to whole choices and checked
against every limit again before anyone sees it.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..errors import NotAvailable, error

Array = np.ndarray[Any, Any]

# With no more options than this the best choice is proved, whatever gap is allowed.
FEW_OPTIONS = 100
# Nodes that the search spends on households that are not all that count.
NODES = 300
# A limit counts as kept if it is missed by no more than this (US dollars or households); amounts are cents.
SLACK = 0.005


@dataclass(frozen=True)
class Limit:
    """Sum of `weights` over what is chosen must not exceed `most`."""

    name: str
    weights: Array
    most: float

    def kept(self, chosen: Array) -> bool:
        """Whether a choice (true or false for each option) keeps it."""
        return bool(self.weights[chosen].sum() <= self.most + SLACK)


@dataclass(frozen=True)
class Selection:
    """What the solver found. `status`: "optimal", "within gap", "stopped early", "infeasible" or "none found"."""

    status: str
    chosen: Array  # true or false for each option
    objective: float | None  # sum of the benefits chosen
    bound: float | None  # no choice has more
    prices: dict[str, float]  # of each limit in the linear relaxation: benefit of one more unit of it
    options_kept: int  # after dominated ones are left out
    seconds: float

    @property
    def gap(self) -> float | None:
        """How much more the best choice could have at most, in units of the benefit."""
        return None if self.objective is None or self.bound is None else max(self.bound - self.objective, 0.0)


def optimise() -> Any:
    """scipy.optimize, with milp (SciPy 1.9 or newer)."""
    try:
        import scipy.optimize as library
        import scipy.sparse  # noqa: F401
    except ImportError:
        library = None
    if library is None or not hasattr(library, "milp"):
        raise error(
            NotAvailable,
            "needs a solver for mixed-integer programs",
            value="no scipy.optimize.milp",
            allowed="SciPy 1.9 or newer (the package scipy, or python3-scipy)",
            key="allocate",
        )
    return library


def undominated(groups: Array, benefit: Array, limits: list[Limit]) -> Array:
    """Options that a best choice may need: true or false for each. `groups` must stand in rising order.

    An option is left out if its household could take another one, or none, with no less benefit and with no greater
    weight in any limit: swapping it never breaks a limit and never costs benefit, so that some best choice goes without
    it. Of options that are equal in all of that the first stays. Nothing is left out for its cost alone: where a floor
    counts money, spending more on its households loosens it.
    """
    count = len(groups)
    weights = np.array([limit.weights for limit in limits]).reshape(len(limits), count)
    keep = ~((benefit <= 0) & (weights >= 0).all(axis=0))  # else choosing nothing is as good
    _, sizes = np.unique(groups, return_counts=True)
    for step in range(1, int(sizes.max(initial=1))):
        first, second = slice(0, count - step), slice(step, count)
        same = groups[first] == groups[second]
        no_worse = same & (benefit[first] >= benefit[second]) & (weights[:, first] <= weights[:, second]).all(axis=0)
        no_better = same & (benefit[second] >= benefit[first]) & (weights[:, second] <= weights[:, first]).all(axis=0)
        keep[second] &= ~no_worse
        keep[first] &= ~(no_better & ~no_worse)
    return np.asarray(keep, dtype=bool)


def select(
    groups: Array,
    benefit: Array,
    limits: list[Limit],
    *,
    gap: float = 0.0,
    time_limit_s: float | None = None,
    core: int = 60,
) -> Selection:
    """The choice with the most benefit.

    groups     household of each option, whole numbers in rising order; at most one option of each is chosen
    benefit    of each option
    limits     what the choice must keep
    gap        the search may end when no choice can be better by more than this share of the objective; with up to
               FEW_OPTIONS options it never does
    time_limit_s  seconds after which it ends with what it has; None: no end. With one, the result may differ from run
               to run
    core       number of options with which the search begins; see _Search
    """
    search = _Search(groups, benefit, limits, gap, time_limit_s)
    return search.run(core)


class _Search:
    """One run of `select`.

    The linear relaxation gives a price to each unit of each limit. At these prices every household has a best choice,
    and every other choice has a shortfall against it; the sum of all best choices, and what the limits allow at their
    prices, is a bound of the whole. A choice with a shortfall above (bound - best known) stands in no better solution
    (Lagrangian bound; for example Martello & Toth, Knapsack Problems, 1990, from memory). So the search solves the
    households whose shortfalls are least, the others as they are, and takes more in until none is left that counts.
    """

    def __init__(
        self, groups: Array, benefit: Array, limits: list[Limit], gap: float, time_limit_s: float | None
    ) -> None:
        self.library = optimise()
        self.begin = time.perf_counter()
        self.time_limit_s, self.gap_share = time_limit_s, gap
        self.benefit, self.limits = benefit, limits
        self.at = np.flatnonzero(undominated(groups, benefit, limits))
        self.best: Array | None = None  # true or false for each option
        self.bound = float("inf")  # no choice has more
        self.prices: dict[str, float] = {}
        if len(self.at) <= FEW_OPTIONS:
            self.gap_share = 0.0
        self.worth = benefit[self.at]
        self.weights = np.array([limit.weights[self.at] for limit in limits]).reshape(len(limits), len(self.at))
        self.most = np.array([limit.most for limit in limits], dtype=float)
        _, self.home = np.unique(groups[self.at], return_inverse=True)
        self.homes = int(self.home.max(initial=-1)) + 1
        self.consider(np.zeros(len(self.at), dtype=bool))

    def left_s(self) -> float | None:
        """Seconds left, 0 or more; None without an end."""
        if self.time_limit_s is None:
            return None
        return max(self.time_limit_s - (time.perf_counter() - self.begin), 0.0)

    def settings(self, **more: Any) -> dict[str, Any]:
        left = self.left_s()
        return more if left is None else {**more, "time_limit": left}

    def consider(self, picked: Array) -> bool:
        """Takes a choice among the options of `at` as the best known if it keeps all limits and is better."""
        chosen = np.zeros(len(self.benefit), dtype=bool)
        chosen[self.at[picked]] = True
        if not all(limit.kept(chosen) for limit in self.limits):
            return False
        if self.best is None or self.benefit[chosen].sum() > self.benefit[self.best].sum():
            self.best = chosen
        return True

    def known(self) -> float | None:
        """Objective of the best known choice."""
        return None if self.best is None else float(self.benefit[self.best].sum())

    def end(self, status: str) -> Selection:
        chosen = np.zeros(len(self.benefit), dtype=bool)
        objective = None
        if status not in ("infeasible", "none found"):
            assert self.best is not None
            chosen, objective = self.best, float(self.benefit[self.best].sum())
            self.bound = objective if status == "optimal" else max(self.bound, objective)
        bound = None if status == "infeasible" or not np.isfinite(self.bound) else self.bound
        seconds = time.perf_counter() - self.begin
        return Selection(status, chosen, objective, bound, self.prices, len(self.at), seconds)

    def run(self, core: int) -> Selection:
        if not len(self.at):
            return self.end("optimal" if self.best is not None else "infeasible")
        self.start()
        relaxed = self.relax()
        if relaxed is None:
            return self.end("none found" if self.best is None else "stopped early")
        if relaxed.status == 2:
            return self.end("infeasible")
        # Shortfalls at the prices of the relaxation: of each option, and of choosing none.
        price = np.maximum(-np.asarray(relaxed.ineqlin.marginals)[: len(self.limits)], 0.0)
        self.prices = {limit.name: float(one) for limit, one in zip(self.limits, price, strict=True)}
        value = self.worth - price @ self.weights
        top = np.zeros(self.homes)
        np.maximum.at(top, self.home, value)
        bound = float(price @ self.most + top.sum())
        self.bound = min(self.bound, bound)
        shortfall = top[self.home] - value
        self.consider(relaxed.x > 1 - 1e-9)
        every = np.concatenate([shortfall, top])  # `top` is the shortfall of choosing none
        every = np.append(np.sort(every[every > 1e-9 * max(1.0, abs(self.bound))]), np.inf)
        size = core
        while True:
            known = self.known()
            reach = np.inf if known is None else self.bound - known
            # What lies beyond `reach` cannot be better; 1e-7 of the bound is left for rounding.
            needed = reach + 1e-7 * max(1.0, abs(self.bound))
            within = min(needed, float(every[min(size, len(every) - 1)]))
            whole = within >= needed or size >= len(every)
            solved = self.solve(shortfall <= within, top <= within, {} if whole else {"node_limit": NODES})
            if whole:
                status, found = solved
                if status == "infeasible":
                    return self.end("infeasible" if self.best is None else "optimal")
                known = self.known()
                if known is not None and found is not None:
                    self.bound = min(self.bound, max(found, known))
                    if status == "optimal":
                        return self.end("optimal" if self.is_exact() else "within gap")
            if self.best is not None and self.within_gap():
                return self.end("optimal" if self.is_exact() else "within gap")
            if whole or self.left_s() == 0.0:
                return self.end("none found" if self.best is None else "stopped early")
            size *= 4

    def start(self) -> None:
        """A first choice and a first bound, at once: the first limit gets one price, all others none."""
        bound = float(np.maximum(self.worth, 0).sum())
        self.bound = bound
        first = self.weights[0]
        if (first < 0).any():
            return
        low, high = 0.0, float(np.max(self.worth / np.maximum(first, 1e-6), initial=0.0)) + 1.0
        for _ in range(60):
            price = (low + high) / 2
            value = self.worth - price * first
            top = np.zeros(self.homes)
            np.maximum.at(top, self.home, value)
            bound = min(bound, price * float(self.most[0]) + float(top.sum()))
            picked = np.zeros(len(self.at), dtype=bool)
            at = np.flatnonzero((value > 0) & (value >= top[self.home]))
            picked[at[np.unique(self.home[at], return_index=True)[1]]] = True  # the first of equals
            if float(first[picked].sum()) <= self.most[0]:
                self.consider(picked)
                high = price
            else:
                low = price
        self.bound = bound

    def is_exact(self) -> bool:
        """Whether the best known choice is the best one, within what the solver tells apart (1e-6)."""
        known = self.known()
        return known is not None and self.bound - known <= 2e-6 + 1e-9 * abs(known)

    def within_gap(self) -> bool:
        known = self.known()
        return known is not None and self.bound - known <= self.gap_share * abs(known)

    def relax(self) -> Any:
        """The linear relaxation; None if there was no time for it."""
        from scipy import sparse

        one_each = sparse.csr_matrix(
            (np.ones(len(self.at)), (self.home, np.arange(len(self.at)))), shape=(self.homes, len(self.at))
        )
        matrix = sparse.vstack([sparse.csr_matrix(self.weights), one_each]).tocsr()
        upper = np.concatenate([self.most, np.ones(self.homes)])
        # The interior-point method is many times faster here; simplex where it gives up.
        for method in ("highs-ipm", "highs-ds"):
            found = self.library.linprog(
                -self.worth, A_ub=matrix, b_ub=upper, bounds=(0, None), method=method, options=self.settings()
            )
            if found.status in (0, 2):
                return found
        return None

    def solve(self, options: Array, none: Array, settings: dict[str, Any]) -> tuple[str, float | None]:
        """Solves with these options, and with none where `none` says so; households with one choice left keep it.

        Takes what it finds as the best known if it is better. Returns the solver's status ("optimal", "stopped",
        "infeasible"; "again" if its rounded choice missed a limit) and its bound.
        """
        from scipy import sparse

        choices = np.bincount(self.home[options], minlength=self.homes) + none
        fixed = options & ((choices == 1) & ~none)[self.home]
        open_ = np.flatnonzero(options & ~fixed)
        base = float(self.worth[fixed].sum())
        room = self.most - self.weights[:, fixed].sum(axis=1)
        if not len(open_):
            fits = self.consider(fixed)
            return ("optimal", base) if fits else ("infeasible", None)
        homes, row = np.unique(self.home[open_], return_inverse=True)
        one_each = sparse.csr_matrix(
            (np.ones(len(open_)), (row, np.arange(len(open_)))), shape=(len(homes), len(open_))
        )
        matrix = sparse.vstack([sparse.csr_matrix(self.weights[:, open_]), one_each]).tocsr()
        must = np.where(none[homes], 0.0, 1.0)
        worth = self.worth[open_]
        known = self.known() or 0.0
        # The gap is a share of the whole objective; the solver measures it by what is open.
        share = min(self.gap_share * max(abs(known), abs(base)) / max(abs(known - base), 1e-9), 1.0)
        lower = np.concatenate([np.full(len(self.limits), -np.inf), must])
        for _ in range(5):
            found = self.library.milp(
                -worth,
                integrality=np.ones(len(open_)),
                bounds=self.library.Bounds(0, 1),
                constraints=self.library.LinearConstraint(matrix, lower, np.concatenate([room, np.ones(len(homes))])),
                options=self.settings(mip_rel_gap=share, **settings),
            )
            if found.status == 2:
                return "infeasible", None
            told = getattr(found, "mip_dual_bound", None)
            bound = base - float(told) if told is not None and np.isfinite(told) else None
            if found.x is None:
                return "stopped", bound
            picked = fixed.copy()
            picked[open_[found.x > 0.5]] = True
            if self.consider(picked):
                return ("optimal" if found.status == 0 else "stopped"), bound
            # The solver's whole numbers are whole within a tolerance; rounded, they missed a limit. Ask again below it.
            room = room - np.maximum(self.weights[:, picked].sum(axis=1) - self.most, 0.0)
        return "again", bound
