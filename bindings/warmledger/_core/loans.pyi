import datetime
from collections.abc import Sequence
from typing import Any

def schedule(
    amount_usd: float,
    yearly_rate: float,
    term_months: int,
    start: datetime.date | str,
    rounding: str = "half_up",
) -> dict[str, list[Any]]: ...
def apr(
    advances: Sequence[tuple[float, int, float]],
    payments: Sequence[tuple[float, int, float]],
    *,
    unit_periods_per_year: float,
) -> float: ...
def level_payment(amount_usd: float, rate_per_period: float, periods: int) -> float: ...
