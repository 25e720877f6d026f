"""Income tiers: what one law calls moderate income another calls low. All definitions side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from . import _core
from .catalog import PathLike, Program, as_program

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = ["definition", "title", "tier", "least_usd", "most_usd", "reason", "source"]


def income_tiers(program: Program | PathLike, *, yearly_income_usd: float, occupants: int) -> pd.DataFrame:
    """In which income tier of each program's law a household falls.

    One row a definition of data/income_tiers.csv, in its order:

    - definition, title: the definition's short name, and its name for people
    - tier: the law's own word; "above" where its tiers end below the income; "not known" where it needs the state
      median income or a poverty guideline and the program has none
    - least_usd, most_usd: the income limits of that tier for this household size, US dollars a year; NaN where it has
      no such end. Whether an end belongs to the tier differs from law to law and stands in `reason`
    - reason: one sentence; source: the law, and how sure that is

    Area median income, rounding, state median income and poverty guideline (of the install date) are the program's. Its
    own tiers, which the results show, may differ from all of these. A limit computed from the median is an estimate:
    where an agency publishes limits, those hold. An agency decides who is eligible, not this table.

    `yearly_income_usd`: 0 or more; `occupants`: 1 or more, else ValueOutOfRange.
    """
    import pandas as pd

    held = as_program(program)
    rows = _core.catalog.income_tiers(held.core, held.catalog.core, yearly_income_usd, occupants)
    frame = pd.DataFrame(rows, columns=COLUMNS)
    return frame.astype({"least_usd": "float64", "most_usd": "float64"})
