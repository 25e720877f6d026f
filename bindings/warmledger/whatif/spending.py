"""Which incentives are a program's own money, and what a household's result says it costs the program."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Mapping
from typing import TYPE_CHECKING, Any

from ..catalog import Program
from ..errors import UnknownName, ValueOutOfRange, error
from ..frames import WHAT_IF, incentive_amounts

if TYPE_CHECKING:
    import pandas as pd


def tables_of(program: Program) -> dict[str, Mapping[str, Any]]:
    """The tables [[incentive]] of a program file by id; those of data/incentives are not among them."""
    try:
        return {str(entry["id"]): entry for entry in program.setting("incentive")}
    except UnknownName:
        return {}


def own_incentives(program: Program) -> list[str]:
    """Ids of the incentives of its file that the program pays itself: paid_by = "administrator"."""
    return [name for name, table in tables_of(program).items() if table.get("paid_by") == "administrator"]


def differing_incentives(programs: Collection[Program]) -> list[str]:
    """Ids of incentives that are not the same in the files of all these programs."""
    tables = [tables_of(program) for program in programs]
    names = dict.fromkeys(name for held in tables for name in held)
    return [name for name in names if any(held.get(name) != tables[0].get(name) for held in tables)]


def checked_ids(names: Iterable[str], programs: Iterable[Program], key: str) -> list[str]:
    """The names, once each; UnknownName for one that no program has."""
    known = list(dict.fromkeys(name for program in programs for name in program.incentives))
    found = [names] if isinstance(names, str) else list(dict.fromkeys(names))
    for name in found:
        if name not in known:
            near = difflib.get_close_matches(str(name), known, n=1)
            what = "is no incentive of the program" + (f" (did you mean {near[0]}?)" if near else "")
            raise error(UnknownName, what, value=str(name), allowed=", ".join(known) or "none stands there", key=key)
    return found


def administration_of(program: Program, usd: float | None = None) -> float:
    """US dollars of administration a household: those given, else the program file's [cost_tests], else 0."""
    if usd is None:
        try:
            return float(program.setting("cost_tests.administration_usd_per_household"))
        except UnknownName:
            return 0.0
    if not 0 <= usd <= 1e6:
        raise error(
            ValueOutOfRange,
            "is out of range",
            value=str(usd),
            allowed="0 to 1000000 US dollars",
            key="administration_usd_per_household",
        )
    return float(usd)


def program_cost(results: pd.DataFrame, names: Collection[str]) -> pd.Series:
    """What these incentives pay each household of a frame of results, US dollars; 0 where they pay nothing."""
    wanted = {*names, *(name + WHAT_IF for name in names)}
    return (
        results["incentives_applied"]
        .map(lambda text: round(sum(usd for name, usd in incentive_amounts(text).items() if name in wanted), 2))
        .astype("float64")
    )
