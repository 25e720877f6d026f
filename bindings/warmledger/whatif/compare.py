"""Incentive designs side by side over one sheet: who gains, who loses, how many take part, what it costs."""

from __future__ import annotations

import json
import warnings
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from ..catalog import PathLike, Program, as_program
from ..display import table_html
from ..errors import MissingValue, UnknownColumnWarning, UnknownName, ValueOutOfRange, error
from ..screening import cost_tests, run, unknown_column_messages
from ..sheet import read
from .acceptance import acceptance_curve, accepting_share
from .spending import administration_of, checked_ids, differing_incentives, own_incentives, program_cost

if TYPE_CHECKING:
    import pandas as pd

Array = np.ndarray[Any, Any]

KEPT = (
    "decision",
    "net_savings_usd",
    "first_year_saving_usd",
    "simple_payback_years",
    "due_at_install_usd",
    "incentives_usd",
    "loan_average_month_usd",
)
CHANGES = ("gains", "loses", "same", "newly served", "no longer served", "not served", "bad row")


class Comparison:
    """What `compare` found. Frames name the programs as the caller did; `base` is the one others are held against.

    households  one row a household, in the order and with the index of the sheet: household_id, income_tier and
                income_share_pct (of the base), then for each program "NAME: decision", "NAME: net_savings_usd" and so
                on, "NAME: program_cost_usd" (if it takes part; none where it cannot), "NAME: acceptance" (expected
                share of such households that take part, 0 to 1), and for each but the base "NAME: gain_usd" and
                "NAME: change"
    summary     one row a program; see below
    by_tier     the same by program and income tier, lowest first
    cost_tests  the five cost tests by program and test, as `wl.cost_tests`, each household weighted by its acceptance
    changes     by program (but the base) and tier how many households gain, lose, stay the same (within the threshold),
                are newly served, no longer served, not served by either, or have a bad row; gain_usd and loss_usd are
                the sums of what those gain and lose who are served by both
    results     what `screen` returned for each program, by name
    paid_by     ids of the incentives that count as the program's cost
    acceptance  the curve

    The columns of summary and by_tier:

        households, bad_rows, eligible      rows; those that cannot be appraised; those whose home suits
        expected_participants, participation    sum of the acceptances, and its share of the eligible
        program_cost_usd            expected: what the incentives of paid_by pay (nominal), and administration
        administration_usd          of it
        incentives_usd              expected, of all payers
        net_savings_usd             expected sum of participants' net savings, present value
        first_year_saving_usd       expected sum of participants' first-year bill savings
        co2_saved_tonnes            expected, metric tons over the life of the systems, not discounted
        cost_per_participant_usd, cost_per_tonne_co2_usd, cost_per_usd_saved (of net savings),
        cost_per_first_year_usd_saved    program_cost_usd over each of them; none where there is nothing to divide by,
                                    and `reason` says which
        gains, loses                households, against the base
    """

    def __init__(
        self,
        results: dict[str, pd.DataFrame],
        programs: dict[str, Program],
        base: str,
        curve: pd.DataFrame,
        paid_by: list[str],
        threshold_usd: float,
    ) -> None:
        import pandas as pd

        self.results, self.base, self.acceptance, self.paid_by = results, base, curve, paid_by
        self.threshold_usd = threshold_usd
        first = results[base]
        self._programs = programs
        self._tiers = [*programs[base].tiers, "above"]
        self._parts = {name: self._part(name) for name in results}
        tier = first["income_tier"].astype(object).where(first["income_tier"].notna(), "not known")
        columns: dict[str, Any] = {name: first[name] for name in ("household_id", "income_tier", "income_share_pct")}
        for name, part in self._parts.items():
            for column in (*KEPT, "program_cost_usd", "acceptance", *(("gain_usd", "change") if name != base else ())):
                columns[f"{name}: {column}"] = part[column]
        self.households = pd.DataFrame(columns)
        self.summary = self._figures({name: {name: part} for name, part in self._parts.items()}).droplevel(1)
        self.summary.index.name = "program"
        order = [one for one in [*self._tiers, "not known"] if (tier == one).any()]
        pieces = {name: {one: part[tier == one] for one in order} for name, part in self._parts.items()}
        self.by_tier = self._figures(pieces)
        self.cost_tests = pd.concat(
            {name: cost_tests(frame, weights=self._parts[name]["acceptance"]) for name, frame in results.items()},
            names=["program"],
        )
        self.changes = self._changes(pieces)

    def _part(self, name: str) -> pd.DataFrame:
        """What the other frames need of one program, one row a household."""
        import pandas as pd

        result, program, base = self.results[name], self._programs[name], self.results[self.base]
        part = result[["package", "co2_saved_kg", *KEPT]].copy()
        part.attrs = {}
        served = _served(result)
        part["eligible"] = served
        part["acceptance"] = np.where(served, accepting_share(self.acceptance, result["simple_payback_years"]), 0.0)
        part["administration_usd"] = administration_of(program)
        cost = program_cost(result, self.paid_by) + administration_of(program)
        part["program_cost_usd"] = cost.astype("Float64").where(served)
        part["co2_life_kg"] = result["co2_saved_kg"].astype("Float64") * result["package"].map(_lives(program)).astype(
            "Float64"
        )
        before = _served(base)
        gain = (result["net_savings_usd"] - base["net_savings_usd"]).where(served & before)
        part["gain_usd"] = gain
        change = pd.Series("not served", index=result.index, dtype="string")
        change[served & ~before] = "newly served"
        change[before & ~served] = "no longer served"
        change[served & before] = "same"
        change[(gain > self.threshold_usd).fillna(False)] = "gains"
        change[(gain < -self.threshold_usd).fillna(False)] = "loses"
        change[(result["decision"] == "bad row") | (base["decision"] == "bad row")] = "bad row"
        part["change"] = change
        return part

    def _figures(self, pieces: Mapping[str, Mapping[str, pd.DataFrame]]) -> pd.DataFrame:
        import pandas as pd

        rows, index = [], []
        for name, by_tier in pieces.items():
            for tier, part in by_tier.items():
                index.append((name, tier))
                rows.append(_figures_of(part))
        frame = pd.DataFrame(rows, index=pd.MultiIndex.from_tuples(index, names=["program", "tier"]))
        whole = {"households", "bad_rows", "eligible", "gains", "loses"}
        return frame.astype(
            {name: "string" if name == "reason" else "int64" if name in whole else "Float64" for name in frame.columns}
        )

    def _changes(self, pieces: Mapping[str, Mapping[str, pd.DataFrame]]) -> pd.DataFrame:
        import pandas as pd

        rows, index = [], []
        for name, by_tier in pieces.items():
            if name == self.base:
                continue
            for tier, part in by_tier.items():
                index.append((name, tier))
                counts = part["change"].value_counts()
                gain = part["gain_usd"].astype("Float64").fillna(0.0).astype(float)
                rows.append(
                    {
                        **{change: int(counts.get(change, 0)) for change in CHANGES},
                        "gain_usd": float(gain.clip(lower=0).sum()),
                        "loss_usd": float((-gain).clip(lower=0).sum()),
                    }
                )
        columns = [*CHANGES, "gain_usd", "loss_usd"]
        return pd.DataFrame(
            rows, index=pd.MultiIndex.from_tuples(index, names=["program", "tier"]) if index else None, columns=columns
        )

    def __repr__(self) -> str:
        return f"<Comparison of {', '.join(self.results)} over {len(self.households)} households; base: {self.base}>"

    def _repr_html_(self) -> str:
        import pandas as pd

        rows = []
        for name, row in self.summary.iterrows():
            told = f"{row['expected_participants']:,.0f} of {row['eligible']:,} expected to take part; "
            told += f"program cost ${row['program_cost_usd']:,.0f}"
            for column, words in (
                ("cost_per_participant_usd", "a participant"),
                ("cost_per_tonne_co2_usd", "a metric ton of CO2"),
                ("cost_per_usd_saved", "a dollar of net savings"),
            ):
                if pd.notna(row[column]):
                    told += f", ${row[column]:,.2f} {words}"
            if name != self.base:
                told += f"; {row['gains']:,} gain and {row['loses']:,} lose against {self.base}"
            rows.append((str(name), told))
        rows.append(("Counts as program cost", ", ".join(self.paid_by) or "nothing"))
        return table_html(rows)


def compare(
    programs: Mapping[str, Program | PathLike],
    sheet: Any,
    *,
    base: str | None = None,
    acceptance: pd.DataFrame | PathLike | None = None,
    paid_by: Iterable[str] | None = None,
    threshold_usd: float = 1.0,
    detail: str = "hourly",
    threads: int | None = None,
) -> Comparison:
    """Two or more incentive designs over one sheet of households.

    programs    names of your own to programs: {"now": program, "new": program.changed({...})}
    sheet       as in `screen`
    base        the name that the others are held against; None: the first
    acceptance  payback-acceptance curve, a frame or a file as in `acceptance_curve`; None: acceptance.csv of the data
                folder. It gives the share of households that would take part at their simple payback; a household that
                does not recover the cost in the study, or whose home does not suit, takes no part
    paid_by     ids of the incentives that count as the program's cost; None: those with paid_by = "administrator" in
                any of the programs, and those that are not the same in all of them. Administration is what [cost_tests]
                of each program file says a household
    threshold_usd  a household gains or loses only if its net savings differ by more than this

    A gain is the difference in net savings, bought in cash, under a program and under the base; whether the household
    buys at all is for the acceptance curve. A curve is measured on other people, other goods and other times: the
    participation it gives serves to compare designs, not to forecast. Pools of money are drawn on as `screen` does, by
    every household that asks, not by the expected share.

    Returns a Comparison. Raises MissingValue for fewer than two programs, UnknownName for a base or an incentive that
    is not there, and what `screen` raises.
    """
    held = {str(name): as_program(program) for name, program in programs.items()}
    if len(held) < 2:
        raise error(
            MissingValue, "are missing", key="programs", value=str(len(held)), allowed="two or more programs by name"
        )
    first = next(iter(held)) if base is None else base
    if first not in held:
        raise error(UnknownName, "is none of the programs", key="base", value=str(base), allowed=", ".join(held))
    if not 0 <= threshold_usd <= 1e9:
        raise error(
            ValueOutOfRange,
            "is out of range",
            key="threshold_usd",
            value=str(threshold_usd),
            allowed="0 or more dollars",
        )
    from ..frames import result_frame

    curve = acceptance_curve(acceptance, held[first].catalog)
    every = list(held.values())
    if paid_by is None:
        own = [name for program in every for name in own_incentives(program)]
        counted = list(dict.fromkeys([*own, *differing_incentives(every)]))
    else:
        counted = checked_ids(paid_by, every, "paid_by")
    table = read(sheet)
    results = {}
    for name, program in held.items():
        screened = run(table, program, detail=detail, threads=threads, progress=False)
        results[name] = result_frame(screened, table, program)
    for message in unknown_column_messages(screened, table.file):
        warnings.warn(message, UnknownColumnWarning, stacklevel=2)
    return Comparison(results, held, first, curve, counted, float(threshold_usd))


def _served(result: pd.DataFrame) -> pd.Series:
    """Households that the program would serve: those that are appraised and whose homes suit."""
    return ~result["decision"].isin(["bad row", "not suitable"]) & result["net_savings_usd"].notna()


def _lives(program: Program) -> dict[str, float]:
    """Years a system of each package lives."""
    lives = {}
    for name in program.packages:
        try:
            lives[name] = float(program.setting(f"package.{json.dumps(name)}.life_years"))
        except UnknownName:
            lives[name] = 20.0  # the default of the program file
    return lives


def _figures_of(part: pd.DataFrame) -> dict[str, Any]:
    """One row of summary or by_tier."""
    weight = part["acceptance"].to_numpy(dtype=float)

    def expected(name: str) -> float:
        values = part[name].astype("Float64").to_numpy(dtype=float, na_value=float("nan"))
        return float((weight * values)[weight > 0].sum())

    eligible = int(part["eligible"].sum())
    takers = float(weight.sum())
    cost = expected("program_cost_usd")
    tonnes = expected("co2_life_kg") / 1000
    net, year = expected("net_savings_usd"), expected("first_year_saving_usd")
    row: dict[str, Any] = {
        "households": len(part),
        "bad_rows": int((part["decision"] == "bad row").sum()),
        "eligible": eligible,
        "expected_participants": takers,
        "participation": takers / eligible if eligible else None,
        "program_cost_usd": cost,
        "administration_usd": expected("administration_usd"),
        "incentives_usd": expected("incentives_usd"),
        "net_savings_usd": net,
        "first_year_saving_usd": year,
        "co2_saved_tonnes": tonnes,
    }
    none = [] if eligible else ["nobody is eligible"]
    for name, over, words in (
        ("cost_per_participant_usd", takers, "nobody is expected to take part"),
        ("cost_per_tonne_co2_usd", tonnes, "no CO2 is saved"),
        ("cost_per_usd_saved", net, "participants save nothing in present value"),
        ("cost_per_first_year_usd_saved", year, "participants save nothing in the first year"),
    ):
        row[name] = cost / over if over > 0 else None
        if over <= 0 and (takers > 0 or name == "cost_per_participant_usd"):
            none.append(words)
    row["gains"] = int((part["change"] == "gains").sum())
    row["loses"] = int((part["change"] == "loses").sum())
    row["reason"] = "; ".join(none) or None
    return row
