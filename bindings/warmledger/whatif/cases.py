"""Many cases at once: households under programs, each pair appraised, with what they share worked out once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from .. import _core
from ..catalog import Program
from ..errors import MissingValue, ValueOutOfRange, error
from ..sheet import text_of

if TYPE_CHECKING:
    import pandas as pd


def appraise_cases(
    cases: Sequence[tuple[Mapping[str, Any], Program]], *, detail: str = "hourly", threads: int | None = None
) -> pd.DataFrame:
    """Appraises households, each under its program; one row a case, in order (index from 0).

    cases    (household, program): a household as for `appraise`, a mapping of columns of the household sheet to values
    detail   "hourly" or "monthly"
    threads  None: one for each core. The result does not depend on it

    The columns are those of `screen`, without pools: nobody is wait-listed. A case that cannot be appraised has the
    decision "bad row" and stands in attrs["problems"] (its `row` counts cases from 1). attrs["counts"] says how much
    was worked out: cases, simulations (distinct years of hot water) and irradiances (distinct years of sun on a roof).
    Equal ones are worked out once, whatever else differs between cases.

    Raises MissingValue for no cases, ValueOutOfRange for `threads`, UnknownName for `detail`.
    """
    from ..frames import result_frame

    if not cases:
        raise error(MissingValue, "are missing", allowed="one case or more", key="cases")
    if threads is not None and not 1 <= threads <= 1024:
        raise error(ValueOutOfRange, "is out of range", value=str(threads), allowed="1 to 1024 threads", key="threads")
    header: dict[str, None] = {"household_id": None}
    programs: dict[int, int] = {}
    appraisers: list[Any] = []
    which = []
    for household, program in cases:
        header.update(dict.fromkeys(household))
        if id(program) not in programs:
            programs[id(program)] = len(appraisers)
            appraisers.append(program.appraiser)
        which.append(programs[id(program)])
    # Cases of one household share its identifier, which a sheet's rows may not.
    rows = [
        [f"case {at}", *(text_of(household.get(name)) for name in list(header)[1:])]
        for at, (household, _) in enumerate(cases)
    ]
    found = _core.whatif.cases(appraisers, which, list(header), rows, detail, threads or 0)
    ids = [str(household.get("household_id", f"case {at}")) for at, (household, _) in enumerate(cases)]
    found["columns"]["household_id"] = ids
    for problem in found["problems"]:
        problem["file_row"] = None
    frame = result_frame(found)
    frame.index = range(len(cases))
    frame.attrs["counts"] = {
        "cases": len(cases),
        "simulations": found["simulations"],
        "irradiances": found["irradiances"],
    }
    return frame
