"""What a program could offer each household of a sheet: packages and incentive levels, each with cost and benefit."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from .. import _core
from ..catalog import PathLike, Program, as_program
from ..changes import parts_of
from ..errors import Contradiction, MalformedText, MissingValue, UnknownName, error
from ..screening import find_problems
from ..sheet import Sheet, read
from .cases import appraise_cases
from .spending import administration_of, checked_ids, own_incentives, program_cost

if TYPE_CHECKING:
    import pandas as pd

Levels = Mapping[str, Sequence[Any]] | Sequence[Mapping[str, Any]]
Accept = str | Callable[["pd.DataFrame"], Any]

# What options keep of the result columns.
KEPT = (
    "decision",
    "income_tier",
    "income_share_pct",
    "net_savings_usd",
    "first_year_saving_usd",
    "simple_payback_years",
    "co2_saved_kg",
    "installed_cost_usd",
    "incentives_usd",
    "due_at_install_usd",
)
HOUSEHOLDS_AT_ONCE = 2000  # so that the wide frames of results do not pile up
RULES = {
    "no worse off": "would be worse off: net savings are below 0 or not known",
    "pays": "does not meet the program's thresholds",
    "suitable": "",
}


def level_list(levels: Levels | None) -> list[dict[str, Any]]:
    """Levels as changes of the program file, each a mapping with the same keys."""
    if levels is None:
        return [{}]
    if isinstance(levels, Mapping):
        for key, values in levels.items():
            if isinstance(values, str) or not isinstance(values, Iterable) or not list(values):
                raise error(
                    MalformedText,
                    "is no list of levels",
                    key=f"levels.{key}",
                    value=repr(values)[:80],
                    allowed="a list of values of that key, at least one",
                )
        found = [dict(zip(levels, values, strict=True)) for values in itertools.product(*levels.values())]
    else:
        found = [dict(level) for level in levels]
    if not found or any(list(level) != list(found[0]) for level in found):
        raise error(
            MalformedText,
            "have not the same keys, or there are none",
            key="levels",
            value=repr(levels)[:80],
            allowed="a mapping of keys to lists of values, or a list of mappings with the same keys",
        )
    for key in found[0]:
        parts = parts_of(key)
        if parts[0] != "incentive" or len(parts) < 3:
            raise error(
                Contradiction,
                "is no key of an incentive, so that what the program pays would not be known",
                key="levels",
                value=key,
                allowed="incentive.ID.KEY, for example incentive.county-rebate.flat_usd",
            )
    return found


def counted_ids(program: Program, levels: list[dict[str, Any]], paid_by_budget: Iterable[str] | None) -> list[str]:
    """Ids of the incentives that count against the budget."""
    swept = list(dict.fromkeys(parts_of(key)[1] for key in levels[0]))
    named = own_incentives(program) if paid_by_budget is None else paid_by_budget
    return list(dict.fromkeys([*swept, *checked_ids(named, [program], "paid_by_budget")]))


def allocation_options(
    sheet: Any,
    program: Program | PathLike,
    *,
    packages: Sequence[str] | None = None,
    levels: Levels | None = None,
    paid_by_budget: Iterable[str] | None = None,
    administration_usd_per_household: float | None = None,
    accept: Accept = "no worse off",
    detail: str = "hourly",
    threads: int | None = None,
    keep_income: bool = False,
) -> pd.DataFrame:
    """Every package and incentive level for every household: what `allocate` chooses from.

    sheet     as in `screen`
    program   as in `screen`; pools of money are left out of account, as if each household came first
    packages  ids of packages, each offered to every household it fits; None: the one that the row names, or that
              screening chooses. A household with a quote of its own (installed_cost_usd) is offered only what that
              quote is for, however many packages there are
    levels    incentive levels: a mapping of keys of the program file to lists of values, every combination of which is
              a level, {"incentive.county-rebate.flat_usd": [0, 500, 1000]}; or a list of mappings, each one level;
              None: the program as it is
    paid_by_budget  ids of the incentives that the budget pays, besides those in `levels`; None: those with
              paid_by = "administrator" in the program file
    administration_usd_per_household  on top of them; None: what [cost_tests] of the program file says, or 0
    accept    what a household would take: "no worse off" (net savings, bought in cash, are 0 or more), "pays" (meets
              the program's thresholds, in cash or with a loan), "suitable" (whatever fits the home, even if it loses by
              it), or a function of the frame of options that returns True or False a row
    keep_income  adds the column yearly_income_usd as the sheet has it

    Returns one row an option, options of a household together and in the order of the sheet: `row` (of the sheet, from
    0), household_id, package, a column a key of `levels`, program_cost_usd (nominal, what those incentives pay and
    administration), takes (True or False), why_not, then result columns as in `result_columns()` and, of each cost
    test that has a result, TEST_net_usd (for example societal_net_usd). A household that cannot be appraised has one
    row with takes False. The cost never depends on whether others take part.
    """
    import pandas as pd

    held = as_program(program)
    table = read(sheet)
    steps = level_list(levels)
    counted = counted_ids(held, steps, paid_by_budget)
    administration = administration_of(held, administration_usd_per_household)
    for name in packages or ():
        if name not in held.packages:
            what = "is no package of the program"
            raise error(UnknownName, what, value=str(name), allowed=", ".join(held.packages), key="packages")
    if not callable(accept) and accept not in RULES:
        raise error(
            UnknownName, "is no rule", value=str(accept), allowed=f"{', '.join(RULES)}, or a function", key="accept"
        )
    programs = [held.changed(step) if step else held for step in steps]
    bad = bad_rows(table, held)
    cells = {name.strip(): column for name, column in zip(table.header, table.columns, strict=True)}
    ids = table.ids if table.ids is not None else cells.get("household_id", [None] * table.row_count)
    ids = list(ids)

    frames = []
    cases: list[tuple[dict[str, Any], Program]] = []
    labels: list[tuple[int, int]] = []  # row of the sheet, level

    def flush() -> None:
        if not cases:
            return
        results = appraise_cases(cases, detail=detail, threads=threads)
        frame = results[["package", *KEPT]].copy()
        frame.insert(0, "row", [row for row, _ in labels])
        for key in steps[0]:
            frame.insert(len(frame.columns) - len(KEPT), key, [steps[level][key] for _, level in labels])
        frame["program_cost_usd"] = program_cost(results, counted) + administration
        frame["why_not"] = results["reason"].where(frame["decision"].isin(["bad row", "not suitable"]))
        for name in results.columns:
            if name.endswith("_test_benefits_usd"):
                test = name.removesuffix("_test_benefits_usd")
                if results[name].notna().any():
                    frame[f"{test}_net_usd"] = results[name] - results[f"{test}_test_costs_usd"]
        frames.append(frame)
        cases.clear()
        labels.clear()

    at_once = 0
    for row in range(table.row_count):
        if row in bad:
            continue
        household = {name: column[row] for name, column in cells.items()}
        offered: list[str | None] = [None]
        if packages is not None and not household.get("installed_cost_usd"):
            offered = list(dict.fromkeys(packages))
        for package, level in itertools.product(offered, range(len(steps))):
            cases.append((household if package is None else {**household, "package": package}, programs[level]))
            labels.append((row, level))
        at_once += 1
        if at_once % HOUSEHOLDS_AT_ONCE == 0:
            flush()
    flush()
    if bad or not frames:
        frames.append(
            pd.DataFrame({"row": pd.array(list(bad), "int64"), "decision": "bad row", "why_not": list(bad.values())})
        )
    found = pd.concat(frames, ignore_index=True)
    found = found.sort_values("row", kind="stable", ignore_index=True)
    found.insert(1, "household_id", [ids[row] for row in found["row"]])
    tests = [name for name in found.columns if name.endswith("_net_usd")]
    if keep_income:
        income = cells.get("yearly_income_usd", [None] * table.row_count)
        # As the library reads a cell; those of bad rows are left empty.
        dollars = [
            pd.NA if row in bad else float(str(income[row]).replace("$", "").replace(",", "")) for row in found["row"]
        ]
        found["yearly_income_usd"] = pd.array(dollars, dtype="Float64")
    found = found.reindex(
        columns=["row", "household_id", "package", *steps[0], "program_cost_usd", "takes", "why_not", *KEPT, *tests]
        + ["yearly_income_usd"] * keep_income
    )
    texts = dict.fromkeys(("package", "why_not", "decision", "income_tier"), "string")
    numbers = dict.fromkeys(("program_cost_usd", *KEPT, *tests), "Float64")
    found = found.astype({**numbers, **texts, "row": "int64"})
    for key in steps[0]:
        found[key] = found[key].convert_dtypes()
    decide(found, accept)
    found.attrs = {
        "program": held.about(),
        "paid_by_budget": counted,
        "administration_usd_per_household": administration,
        "levels": list(steps[0]),
        "index": None if table.index is None else list(table.index),
        "tiers": [*held.tiers, "above"],
    }
    return found


def decide(options: pd.DataFrame, accept: Accept) -> None:
    """Fills the columns takes and why_not by a rule."""
    fits = ~options["decision"].isin(["bad row", "not suitable"])
    if callable(accept):
        import numpy as np
        import pandas as pd

        told = np.asarray(accept(options), dtype=object)
        told = np.where(pd.isna(told), False, told)
        if told.shape != (len(options),):
            raise error(
                MissingValue,
                "does not say of each option whether a household takes it",
                key="accept",
                value=f"shape {told.shape}",
                allowed=f"True or False for each of {len(options)} options",
            )
        takes, words = told.astype(bool), "the rule that was given refuses it"
    elif accept == "suitable":
        takes, words = fits, ""
    elif accept == "pays":
        takes, words = options["decision"].isin(["pays in cash", "pays with loan"]), RULES[accept]
    else:
        takes, words = (options["net_savings_usd"] >= 0).fillna(False), RULES[accept]
    options["takes"] = fits & takes
    options.loc[fits & ~options["takes"], "why_not"] = words


def bad_rows(table: Sheet, program: Program) -> dict[int, str]:
    """Rows of a sheet, from 0, that cannot be appraised, and why."""
    found: dict[int, list[str]] = {}
    for problem in find_problems(table, program)["problems"]:
        if problem["row"] is not None:
            told = {name: problem[name] for name in ("key", "value", "allowed")}
            sentence = _core.errors.problem(problem["what"], file="", line=None, row=None, **told)["sentence"]
            found.setdefault(problem["row"] - 1, []).append(sentence)
    return {row: "; ".join(sentences) for row, sentences in sorted(found.items())}
