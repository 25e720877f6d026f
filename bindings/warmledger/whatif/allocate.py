"""A budget spent well: which households get which package and incentive level."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ..catalog import PathLike, Program
from ..display import table_html
from ..errors import Contradiction, MissingValue, ValueOutOfRange, error
from .options import Accept, Levels, allocation_options, decide
from .selection import Array, Limit, Selection, select

if TYPE_CHECKING:
    import pandas as pd

BENEFITS = {
    "net_savings_usd": "US dollars of net savings, present value",
    "first_year_saving_usd": "US dollars saved in the first year",
    "co2_saved_kg": "kg of CO2 a year",
    "households": "households",
}
FLOORS_OF = {
    "spent": "of the money spent",
    "budget": "of the budget",
    "households": "of the households",
}
LEFT_OUT = "left out: the budget does more elsewhere"


@dataclass(frozen=True)
class Floor:
    """At least a share goes to some households: an equity floor of `allocate`.

    share               0 to 1 (0.4 is 40 %)
    below_income_share  the households whose income is at or below this share of the area median for their size (0.8)
    below_income_usd    or at or below this yearly income
    tiers               or in these income tiers of the program
    of                  a share of what: "spent" (the money spent), "budget" (of it, spent or not) or "households" (of
                        those chosen)
    """

    share: float
    below_income_share: float | None = None
    below_income_usd: float | None = None
    tiers: Sequence[str] | None = None
    of: str = "spent"

    def __post_init__(self) -> None:
        if not 0 <= self.share <= 1:
            raise error(ValueOutOfRange, "is out of range", key="share", value=str(self.share), allowed="0 to 1")
        if self.of not in FLOORS_OF:
            raise error(
                ValueOutOfRange, "is no kind of floor", key="of", value=str(self.of), allowed=", ".join(FLOORS_OF)
            )
        named = [self.below_income_share, self.below_income_usd, self.tiers]
        if sum(one is not None for one in named) != 1:
            raise error(
                Contradiction,
                "name its households in no way or in several",
                key="Floor",
                value=str(self),
                allowed="exactly one of below_income_share, below_income_usd, tiers",
            )
        if isinstance(self.tiers, str):
            object.__setattr__(self, "tiers", (self.tiers,))

    def __str__(self) -> str:
        if self.tiers is not None:
            whom = f"households of tier {', '.join(self.tiers)}"
        elif self.below_income_usd is not None:
            whom = f"households with an income up to ${self.below_income_usd:,.0f}"
        elif self.below_income_share is not None:
            whom = f"households with an income up to {self.below_income_share:.4g} of the area median"
        else:
            whom = "no households"
        return f"at least {self.share:.4g} {FLOORS_OF.get(self.of, self.of)} to {whom}"

    def meets(self, options: pd.DataFrame) -> Array:
        """Of each option whether its household is one of those."""
        if self.tiers is not None:
            known = options.attrs.get("tiers")
            for name in self.tiers:
                if known is not None and name not in known:
                    raise error(
                        ValueOutOfRange,
                        "is no income tier",
                        key="Floor.tiers",
                        value=str(name),
                        allowed=", ".join(known),
                    )
            return np.asarray(_column(options, "income_tier", "Floor").isin(list(self.tiers)).fillna(False), dtype=bool)
        if self.below_income_share is not None:
            name, most = "income_share_pct", self.below_income_share * 100
        else:
            name, most = "yearly_income_usd", float(self.below_income_usd or 0.0)
        income = _column(options, name, "Floor").astype("Float64")
        return np.asarray((income <= most * (1 + 1e-12)).fillna(False), dtype=bool)

    def limit(self, name: str, meets: Array, cost: Array, budget_usd: float) -> Limit:
        """The floor as a limit of the program."""
        if self.of == "households":
            return Limit(name, self.share - meets.astype(float), 0.0)
        if self.of == "budget":
            return Limit(name, np.where(meets, -cost, 0.0), -self.share * budget_usd)
        return Limit(name, cost * (self.share - meets), 0.0)


class Allocation:
    """What `allocate` chose, and how sure that is.

    chosen         one row a household, in the order of the sheet: household_id, chosen (True or False), why, package, a
                   column a key of the levels, program_cost_usd and the other columns of the option that was chosen; of
                   a household that gets none, the income columns and why
    options        the options it chose from, with the column chosen
    status         "optimal", "within gap", "stopped early", "infeasible", "none found"
    reason         the same in a sentence
    objective      sum of the benefit over the households chosen; None if nothing could be chosen
    bound          no choice can have more than this; None if infeasible
    gap, gap_share bound less objective, and as a share of the objective (None where that is 0)
    spent_usd, budget_usd, maximise, equity
    prices         of each limit the benefit of one more dollar (of a floor of households: of one more household) by the
                   linear relaxation, in which households may be split: an estimate. prices["budget"] is what one more
                   dollar of budget would add
    """

    def __init__(
        self,
        options: pd.DataFrame,
        found: Selection,
        benefit: Array,
        budget_usd: float,
        maximise: str,
        equity: Sequence[Floor],
        why: str,
        index: Any = None,
    ) -> None:
        self._index = index
        self.options = options
        self.status, self.bound, self.objective, self.gap = found.status, found.bound, found.objective, found.gap
        self.seconds, self.prices = found.seconds, dict(found.prices)
        self.budget_usd, self.maximise, self.equity = float(budget_usd), maximise, tuple(equity)
        test = maximise.removesuffix("_net_usd").replace("_", " ")
        of_test = f"US dollars of net benefit, {test} test" if maximise.endswith("_net_usd") else maximise
        self.benefit_unit = BENEFITS.get(maximise, of_test)
        options["benefit"] = benefit
        self.spent_usd = None if found.objective is None else round(float(_cost(options)[found.chosen].sum()), 2)
        self.gap_share = None
        if self.gap is not None and found.objective:
            self.gap_share = self.gap / abs(found.objective)
        self.reason = why or self._sentence()
        self.chosen = self._households()

    def _sentence(self) -> str:
        if self.objective is None or self.bound is None or self.spent_usd is None:
            return "Nothing was found in the time allowed." if self.status == "none found" else "Nothing can be chosen."
        count = int(self.options["chosen"].sum())
        money = f"${self.spent_usd:,.2f} of ${self.budget_usd:,.2f}"
        told = f"{count} households get {money}: {self._amount(self.objective)}. "
        share = f" ({self.gap_share:.2g} of it)" if self.gap_share is not None else ""
        if self.status == "optimal":
            return told + "No other choice gives more."
        if self.status == "within gap":
            return told + f"The best choice gives at most {self._amount(self.gap or 0.0)} more{share}."
        return told + f"Stopped early: the best choice could give up to {self._amount(self.gap or 0.0)} more{share}."

    def _amount(self, value: float) -> str:
        places = 0 if self.maximise == "households" else 2
        return f"{value:,.{places}f} {self.benefit_unit}"

    def _households(self) -> pd.DataFrame:
        import pandas as pd

        options = self.options
        first = options.groupby("row", sort=True).head(1)
        took = options[options["chosen"]].set_index("row")
        could = options.loc[options["takes"], "row"].unique()
        frame = took.reindex(first["row"].to_numpy())
        for name in ("household_id", "income_tier", "income_share_pct", "yearly_income_usd"):
            if name in options.columns:
                frame[name] = first[name].array
        frame["chosen"] = frame.index.isin(took.index)
        reasons = first["why_not"].array if "why_not" in first.columns else pd.array([pd.NA] * len(first), "string")
        frame["why"] = pd.array(reasons, dtype="string")
        frame.loc[frame.index.isin(could), "why"] = LEFT_OUT if self.objective is not None else self.reason
        frame.loc[frame["chosen"], "why"] = pd.NA
        frame["program_cost_usd"] = frame["program_cost_usd"].fillna(0.0)
        frame["benefit"] = frame["benefit"].fillna(0.0)
        rest = [name for name in options.columns if name not in ("row", "household_id", "takes", "why_not", "chosen")]
        frame = frame[["household_id", "chosen", "why", *rest]]
        at = first["row"].to_numpy()
        index = options.attrs.get("index") if self._index is None else self._index
        frame.index = pd.Index(at + 1, name="row") if index is None else pd.Index(index)[at]
        frame.attrs = {}
        return frame

    def summary(self) -> pd.Series:
        """The figures of the whole: budget, spent, households, objective, bound, gap and what limits cost."""
        import pandas as pd

        values: dict[str, Any] = {
            "status": self.status,
            "reason": self.reason,
            "maximise": self.maximise,
            "budget_usd": self.budget_usd,
            "spent_usd": self.spent_usd,
            "households": len(self.chosen),
            "households_with_an_option": int(self.options.loc[self.options["takes"], "row"].nunique()),
            "households_chosen": int(self.chosen["chosen"].sum()),
            "objective": self.objective,
            "bound": self.bound,
            "gap": self.gap,
            "gap_share": self.gap_share,
        }
        for name, price in self.prices.items():
            values[f"estimated_benefit_of_one_more: {name}"] = price
        return pd.Series(values, name="value", dtype=object)

    def by_tier(self) -> pd.DataFrame:
        """One row a tier, lowest first: households, with_an_option, chosen, spent_usd, share_of_spent, benefit."""
        import pandas as pd

        tier = _column(self.chosen, "income_tier", "by_tier").astype("string").fillna("not known")
        able = set(self.options.loc[self.options["takes"], "row"])
        frame = pd.DataFrame(
            {
                "tier": tier.to_numpy(),
                "households": 1,
                "with_an_option": [row in able for row in np.unique(self.options["row"])],
                "chosen": self.chosen["chosen"].to_numpy(),
                "spent_usd": self.chosen["program_cost_usd"].astype(float).to_numpy(),
                "benefit": self.chosen["benefit"].astype(float).to_numpy(),
            }
        )
        found = frame.groupby("tier").sum()
        known = self.options.attrs.get("tiers") or sorted(set(tier) - {"not known"})
        found = found.reindex([name for name in [*known, "not known"] if name in found.index])
        total = float(found["spent_usd"].sum())
        share = found["spent_usd"] / total if total > 0 else pd.Series(pd.NA, index=found.index)
        found.insert(4, "share_of_spent", share.astype("Float64"))
        return found

    def __repr__(self) -> str:
        return f"<Allocation {self.status}: {self.reason}>"

    def _repr_html_(self) -> str:
        rows = [
            ("Outcome", self.reason),
            ("Status", self.status),
            ("Budget", f"${self.budget_usd:,.2f}"),
            ("Spent", "" if self.spent_usd is None else f"${self.spent_usd:,.2f}"),
            ("Benefit", "" if self.objective is None else self._amount(self.objective)),
            ("Floors", "; ".join(map(str, self.equity))),
            ("One more dollar", f"about {self.prices['budget']:.3g} more" if "budget" in self.prices else ""),
        ]
        if "income_tier" in self.chosen.columns:
            for name, row in self.by_tier().iterrows():
                rows.append(
                    (f"Tier {name}", f"{row['chosen']:.0f} of {row['households']:.0f}, ${row['spent_usd']:,.0f}")
                )
        return table_html(rows)


def allocate(
    sheet: Any = None,
    program: Program | PathLike | None = None,
    *,
    budget_usd: float,
    packages: Sequence[str] | None = None,
    levels: Levels | None = None,
    maximise: str = "net_savings_usd",
    equity: Floor | Iterable[Floor] = (),
    paid_by_budget: Iterable[str] | None = None,
    administration_usd_per_household: float | None = None,
    accept: Accept = "no worse off",
    options: pd.DataFrame | None = None,
    detail: str = "hourly",
    gap: float = 1e-4,
    time_limit_s: float | None = None,
    threads: int | None = None,
) -> Allocation:
    """Chooses at most one package and incentive level for each household so that a budget does the most.

    sheet, program, packages, levels, paid_by_budget, administration_usd_per_household, accept, detail, threads
                  as in `allocation_options`, which works out every option's cost and benefit
    options       options worked out before, or of other measures, instead of a sheet and program: a frame with
                  household_id, program_cost_usd and the column to maximise; `takes` (all True if left out), `row`
                  (households by identifier, in order, if left out), and the income columns that floors ask for
    budget_usd    0 or more. What counts against it: see allocation_options
    maximise      a column of the options: "net_savings_usd" (of the households), "first_year_saving_usd",
                  "co2_saved_kg" (a year), "societal_net_usd" and others; or "households" (as many as possible)
    equity        floors, each a Floor: Floor(0.4, below_income_share=0.8)
    gap           the search may end when no choice can be better by more than this share; 0 proves the best one, which
                  can take long. With few options (100) the best one is always proved
    time_limit_s  seconds for the search (not for working out the options), which then ends with the best choice it has
                  and says how far it may be from the best; the result may differ from run to run. None: no limit

    Solved as a mixed-integer program by HiGHS through SciPy (1.9 or newer). Amounts are those of the appraisals, in
    cents; the budget is kept to half a cent. Returns an Allocation; where floors cannot be kept, its status is
    "infeasible" and its reason names the floor. An allocation is a plan for a program's money, not a promise to anyone.

    Raises MissingValue for missing columns, ValueOutOfRange for a budget, gap or share out of range, NotAvailable
    without SciPy.
    """
    import pandas as pd

    floors = [equity] if isinstance(equity, Floor) else list(equity)
    for key, value, most in (("budget_usd", budget_usd, 1e12), ("gap", gap, 1.0), ("time_limit_s", time_limit_s, 1e9)):
        if value is not None and not 0 <= value <= most:
            raise error(ValueOutOfRange, "is out of range", key=key, value=str(value), allowed=f"0 to {most:.0e}")
    if (options is None) == (sheet is None or program is None):
        raise error(
            Contradiction,
            "are needed, one or the other",
            key="options",
            allowed="a sheet and a program, or options",
        )
    if options is None:
        assert program is not None
        needs_income = any(floor.below_income_usd is not None for floor in floors)
        options = allocation_options(
            sheet,
            program,
            packages=packages,
            levels=levels,
            paid_by_budget=paid_by_budget,
            administration_usd_per_household=administration_usd_per_household,
            accept=accept,
            detail=detail,
            threads=threads,
            keep_income=needs_income,
        )
    else:
        options = ready(options)
        if accept != "no worse off":
            decide(options, accept)
    benefit = _benefit(options, maximise)
    unknown = options["takes"].to_numpy(dtype=bool) & np.isnan(benefit)
    if unknown.any():
        if "why_not" not in options.columns:
            options["why_not"] = pd.array([pd.NA] * len(options), dtype="string")
        options.loc[unknown, "why_not"] = f"its {maximise} is not known"
        options.loc[unknown, "takes"] = False
    usable = options["takes"].to_numpy(dtype=bool)
    groups = options["row"].to_numpy()[usable]
    cost = _cost(options)[usable]
    meets = [floor.meets(options)[usable] for floor in floors]
    limits = [Limit("budget", cost, float(budget_usd))]
    limits += [floor.limit(str(floor), met, cost, float(budget_usd)) for floor, met in zip(floors, meets, strict=True)]
    found = select(groups, benefit[usable], limits, gap=gap, time_limit_s=time_limit_s)
    chosen = np.zeros(len(options), dtype=bool)
    chosen[np.flatnonzero(usable)[found.chosen]] = True
    options["chosen"] = chosen
    why = _why_infeasible(groups, cost, limits, floors, meets) if found.status == "infeasible" else ""
    whole = Selection(
        found.status, chosen, found.objective, found.bound, found.prices, found.options_kept, found.seconds
    )
    return Allocation(
        options,
        whole,
        np.nan_to_num(benefit),
        budget_usd,
        maximise,
        floors,
        why,
        sheet.index if hasattr(sheet, "columns") else None,
    )


def ready(options: pd.DataFrame) -> pd.DataFrame:
    """A copy of a frame of options with the columns row and takes, options of a household together."""
    import pandas as pd

    for name in ("household_id", "program_cost_usd"):
        _column(options, name, "options")
    held = options.reset_index(drop=True).copy()
    held.attrs = dict(options.attrs)
    cost = pd.to_numeric(held["program_cost_usd"], errors="coerce").astype("Float64")
    takes = held["takes"].fillna(False).astype(bool) if "takes" in held.columns else pd.Series(True, index=held.index)
    wrong = takes & ~(cost.fillna(-1.0) >= 0)
    if wrong.any():
        at = int(np.flatnonzero(wrong)[0])
        raise error(
            ValueOutOfRange,
            "is no cost",
            key="program_cost_usd",
            row=at + 1,
            value=str(options["program_cost_usd"].iloc[at]),
            allowed="0 or more US dollars",
        )
    held["program_cost_usd"], held["takes"] = cost, takes
    if "row" not in held.columns:
        held["row"] = pd.factorize(held["household_id"])[0]
        held.attrs.pop("index", None)
    return held.sort_values("row", kind="stable", ignore_index=True)


def _column(frame: pd.DataFrame, name: str, key: str) -> pd.Series:
    if name not in frame.columns:
        raise error(
            MissingValue,
            "is missing",
            key=f"{key}: {name}",
            allowed=f"a column {name}; there are {', '.join(frame.columns)}",
        )
    return frame[name]


def _cost(options: pd.DataFrame) -> Array:
    return np.asarray(options["program_cost_usd"].to_numpy(dtype=float, na_value=float("nan")))


def _benefit(options: pd.DataFrame, maximise: str) -> Array:
    import pandas as pd

    if maximise == "households":
        return np.ones(len(options))
    column = _column(options, maximise, "maximise")
    if not pd.api.types.is_numeric_dtype(column) or pd.api.types.is_bool_dtype(column):
        raise error(
            MissingValue, "is no column of numbers", key="maximise", value=maximise, allowed="a column of numbers"
        )
    return np.asarray(column.to_numpy(dtype=float, na_value=float("nan")))


def _why_infeasible(
    groups: Array, cost: Array, limits: list[Limit], floors: Sequence[Floor], meets: Sequence[Array]
) -> str:
    """Names the floor that cannot be kept: alone, or together with the others."""
    alone = []
    for floor, met, limit in zip(floors, meets, limits[1:], strict=True):
        # The most that can go to its households within the budget. (Other floors only take away from it.)
        most = select(groups[met], cost[met], [Limit("budget", cost[met], limits[0].most)], gap=1e-4)
        if floor.of == "budget" and (most.bound or 0.0) < -limit.most - 0.005:
            alone.append(
                f"{floor} means ${-limit.most:,.2f}, but no choice within the budget brings more than "
                f"${most.bound or 0.0:,.2f} to them"
            )
    if alone:
        return f"No choice keeps the floors: {'; '.join(alone)}."
    for i, floor in enumerate(floors):
        rest = [limits[0], *(limit for at, limit in enumerate(limits[1:]) if at != i)]
        if select(groups, np.zeros(len(groups)), rest).status != "infeasible":
            return f"No choice keeps all floors; without this one there is one: {floor}."
    return f"No choice keeps the floors together: {'; '.join(map(str, floors))}."
