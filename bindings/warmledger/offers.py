"""Measures of many offers at once, from a few figures of each: columns in, columns out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from . import _core
from .errors import MissingValue, UnknownName, ValueOutOfRange, error

if TYPE_CHECKING:
    import pandas as pd

_WIDTHS: dict[str, int] = dict(_core.offers.inputs)
_WHOLE = {"system_life_years", "loan_term_months", "incentive_month", "replacement_month"}
_YEARLY = {"bills_without_usd", "bills_with_usd", "pump_usd"}


def _as_column(name: str, values: Any) -> np.ndarray[Any, Any]:
    """`values` as float64 of shape (rows or 1, width)."""
    width = _WIDTHS[name]
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as bad:
        raise error(
            ValueOutOfRange, "is no column of numbers", key=name, value=repr(values)[:60], allowed="numbers"
        ) from bad
    if array.ndim == 0:
        array = array.reshape(1, 1)
    elif array.ndim == 1:
        array = array.reshape(-1, 1)
    if (
        array.ndim != 2
        or array.shape[1] > width
        or array.shape[1] == 0
        or (name in _YEARLY and array.shape[1] not in (1, 12))
    ):
        allowed = "one number, one a row" + (
            ", or 12 a row" if name in _YEARLY else f", or up to {width} a row" if width > 1 else ""
        )
        raise error(ValueOutOfRange, "does not fit", key=name, value=f"shape {np.shape(values)}", allowed=allowed)
    wrong = ~np.isfinite(array)
    if name in _WHOLE:
        wrong |= (array != np.floor(array)) | (np.abs(array) > 1e6)
    if wrong.any():
        row, column = np.argwhere(wrong)[0]
        what = "is no whole number" if name in _WHOLE else "is no number"
        allowed = "whole numbers up to 1000000" if name in _WHOLE else "finite numbers"
        found = repr(float(array[row, column]))
        raise error(ValueOutOfRange, what, key=name, value=found, allowed=allowed, row=int(row) + 1)
    if name in _YEARLY and array.shape[1] == 1:
        return np.repeat(array / 12.0, 12, axis=1)
    if array.shape[1] < width:
        array = np.pad(array, ((0, 0), (0, width - array.shape[1])))
    return np.ascontiguousarray(array)


def evaluate_offers(
    offers: Mapping[str, Any] | pd.DataFrame, *, study_years: int = 20, threads: int | None = None
) -> pd.DataFrame:
    """Every measure of many offers: one row an offer, one column a measure.

    `offers` maps names to a number (for all), a column, or a table with one row an offer:

    - ``installed_cost_usd`` (required);
    - ``bills_without_usd`` (required), ``bills_with_usd`` and ``pump_usd``: bills of the first year without the system,
      with it, and of its pumps, US dollars; one number a year, or 12 for the months after the install date;
    - ``fuel_escalation``, ``electricity_escalation`` (the pumps' price), ``inflation_rate``,
      ``nominal_discount_rate``: yearly, decimal (0.03 is 3 %), default 0;
    - ``upkeep_usd_year`` at the end of each year, in dollars of the install date; ``system_life_years`` (20);
    - ``incentive_usd`` with ``incentive_month`` (up to 8 a row) received, ``replacement_usd`` with
      ``replacement_month`` (up to 4 a row) paid, months after the install date;
    - ``loan_usd`` (0: none), ``loan_yearly_rate`` (charged monthly as rate / 12), ``loan_term_months`` (120);
    - ``heat_saved_kwh_year`` for the levelised cost, ``fuel_price_usd`` for the break-even price.

    `study_years` is 1 to 50; `threads` None takes one for each processor. The result's index is that of a DataFrame
    given. Present values stand at the install date, monthly flows discounted at the monthly rate that compounds to the
    yearly one (ASTM E917, E964, E1057, E1074, E1121; 10 CFR 436). What is undefined is NaN in the column and its reason
    stands in ``attrs["reasons"].frame()``: a table of the same shape with text, empty where there is a number.

    Raises UnknownName for an unknown name, MissingValue for a missing one, ValueOutOfRange (with row and column) for
    values outside their range. Not lending or tax advice.
    """
    import pandas as pd

    columns: dict[str, np.ndarray[Any, Any]] = {}
    for name in offers:
        if name not in _WIDTHS:
            raise error(UnknownName, "is not an input of an offer", key=str(name), allowed=", ".join(_WIDTHS))
        columns[str(name)] = _as_column(str(name), offers[name])
    for name in ("installed_cost_usd", "bills_without_usd"):
        if name not in columns:
            raise error(MissingValue, "is missing", key=name, allowed="a number, or one a row")
    lengths = {name: len(column) for name, column in columns.items() if len(column) != 1}
    rows = len(offers) if isinstance(offers, pd.DataFrame) else next(iter(lengths.values()), 1)
    for name, length in lengths.items():
        if length != rows:
            what = "has not as many rows as others have"
            raise error(ValueOutOfRange, what, key=name, value=str(length), allowed=f"1 or {rows}")
    if threads is not None and threads < 1:
        raise error(ValueOutOfRange, "is out of range", key="threads", value=str(threads), allowed="1 or more, or None")
    values, codes, reasons = _core.offers.measures(rows, columns, study_years, threads or 0)
    index = offers.index if isinstance(offers, pd.DataFrame) else pd.RangeIndex(rows)
    frame = pd.DataFrame(values.T, index=index, columns=_core.offers.measure_names, copy=False)
    words = np.array(["", *reasons], dtype=object)
    frame.attrs["reasons"] = _Reasons(codes, words, index)
    return frame


class _Reasons:
    """Why measures are undefined, as text when asked; compares by value, so that pandas can carry it along."""

    def __init__(self, codes: np.ndarray[Any, Any], words: np.ndarray[Any, Any], index: pd.Index) -> None:
        self._codes, self._words, self._index = codes, words, index

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Reasons) and np.array_equal(self._codes, other._codes)

    __hash__ = None  # type: ignore[assignment]

    def frame(self) -> pd.DataFrame:
        """One text a measure and offer; empty where there is a number."""
        import pandas as pd

        return pd.DataFrame(self._words[self._codes.T], index=self._index, columns=_core.offers.measure_names)

    def __repr__(self) -> str:
        return f"<reasons of {int((self._codes > 0).sum())} undefined measures; .frame() shows them>"
