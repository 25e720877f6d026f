"""Loans to the cent."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

from . import _core

if TYPE_CHECKING:
    import pandas as pd

apr = _core.loans.apr
level_payment = _core.loans.level_payment

__all__ = ["apr", "level_payment", "schedule"]


def schedule(
    amount_usd: float,
    yearly_rate: float,
    term_months: int,
    start: datetime.date | str,
    rounding: str = "half_up",
) -> pd.DataFrame:
    """A level-payment schedule: number, date, payment_usd, interest_usd, principal_usd, balance_usd.

    yearly_rate is nominal (0.0599 is 5.99 %), payments fall one month apart from `start` on, interest and payment are
    rounded to cents: half_up, half_even, up or down. The last payment settles what rounding left.
    """
    import pandas as pd

    return pd.DataFrame(_core.loans.schedule(amount_usd, yearly_rate, term_months, start, rounding))
