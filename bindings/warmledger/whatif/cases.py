"""Many cases at once: households under programs, each pair appraised, with what they share worked out once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from ..catalog import Program
from ..sheet import text_of

if TYPE_CHECKING:
    import pandas as pd


def appraise_cases(
    cases: Sequence[tuple[Mapping[str, Any], Program]], *, detail: str = "hourly", threads: int | None = None
) -> pd.DataFrame:
    """Appraises households, each under its program; one row a case, in order (index from 0).

    The columns are those of `screen`, without pools: nobody is wait-listed. A case that cannot be appraised has the
    decision "bad row" and stands in attrs["problems"] (its `row` counts cases from 1). attrs["counts"] says how much
    was worked out: cases, simulations, irradiances.
    """
    import pandas as pd

    from ..screening import screen

    frames = []
    problems: list[dict[str, Any]] = []
    by_program: dict[int, list[int]] = {}
    for at, (_, program) in enumerate(cases):
        by_program.setdefault(id(program), []).append(at)
    for places in by_program.values():
        rows = [{**cases[at][0], "household_id": f"case {at}"} for at in places]
        sheet = pd.DataFrame([{name: text_of(value) for name, value in row.items()} for row in rows], dtype=object)
        sheet.index = pd.Index(places)
        found = screen(sheet, cases[places[0]][1], detail=detail, threads=threads, progress=False)
        for problem in found.attrs["problems"]:
            problems.append({**problem, "row": places[problem["row"] - 1] + 1})
        frames.append(found)
    frame = pd.concat(frames).sort_index()
    frame["household_id"] = pd.array([str(household["household_id"]) for household, _ in cases], dtype="string")
    frame.attrs = {
        "problems": sorted(problems, key=lambda problem: problem["row"]),
        "unknown_columns": frames[0].attrs["unknown_columns"],
        "counts": {"cases": len(cases), "simulations": None, "irradiances": None},
    }
    return frame
