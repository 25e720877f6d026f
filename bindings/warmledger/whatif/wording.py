"""Names and values of inputs and measures in plain words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from ..changes import parts_of

if TYPE_CHECKING:
    import pandas as pd

# Endings of names, their unit in words, and how a value with it is written.
_ENDINGS: dict[str, tuple[str, str]] = {
    "_usd_per_kwh": ("US dollars a kWh", "${:,.4f} a kWh"),
    "_usd_per_therm": ("US dollars a therm", "${:,.4f} a therm"),
    "_usd_per_gal": ("US dollars a gallon", "${:,.4f} a gallon"),
    "_usd_per_unit": ("US dollars a unit", "${:,.4f} a unit"),
    "_usd": ("US dollars", "${:,.2f}"),
    "_years": ("years", "{:,.6g} years"),
    "_months": ("months", "{:,.0f} months"),
    "_pct": ("percent", "{:,.4g} %"),
    "_gal_day": ("gallons a day", "{:,.4g} gallons a day"),
    "_l_day": ("litres a day", "{:,.4g} litres a day"),
    "_deg": ("degrees", "{:,.4g}°"),
    "_ft2": ("square feet", "{:,.4g} square feet"),
    "_m2": ("square metres", "{:,.4g} m²"),
    "_kwh": ("kWh", "{:,.0f} kWh"),
    "_times": ("times what it is", "× {:.4g}"),
}
_RATES = ("yearly_rate", "escalation", "discount_rate", "inflation_rate", "share_of_cost", "_rate")


def _last(name: str) -> str:
    return parts_of(name)[-1] if "." in name else name


def _ending(last: str) -> str | None:
    return next((ending for ending in _ENDINGS if f"_{last}".endswith(ending)), None)


def plain(name: str) -> str:
    """installed_cost_usd as installed cost; loan.ID.yearly_rate as yearly rate of ID."""
    parts = parts_of(name) if "." in name else [name]
    last = parts[-1]
    ending = _ending(last)
    words = f"_{last}".removesuffix(ending or "").replace("_", " ").strip()
    if not words and ending == "_usd_per_unit":
        words = "price"
    if words == "flat":
        words = "amount"
    if parts[0] == "as_if_prices":
        return f"{words} price as if"
    if parts[0] == "as_if" and len(parts) == 3:
        return f"{parts[1]} as if {'until' if last == 'valid_to' else 'from'}"
    return f"{words or last} of {parts[-2]}" if len(parts) > 1 and parts[-2] != "economics" else words or last


def unit_of(name: str) -> str:
    """The unit that a name tells, in words; empty for none."""
    last = _last(name)
    ending = _ending(last)
    return _ENDINGS[ending][0] if ending else "percent" if last.endswith(_RATES) else ""


def shown(name: str, value: Any) -> str:
    """A value with the unit that its name tells: $5,200.00, 9.8 years, 4.25 %."""
    if value is None or type(value).__name__ in ("NAType", "NaTType"):
        return "none"
    if hasattr(value, "isoformat"):
        return str(value.isoformat()).removesuffix("T00:00:00")
    if not isinstance(value, int | float) and not hasattr(value, "item"):
        return str(value)
    last, number = _last(name), float(value)
    ending = _ending(last)
    if ending is None:
        return f"{number * 100:.4g} %" if last.endswith(_RATES) else f"{number:,.6g}"
    form = _ENDINGS[ending][1]
    if ending == "_years":  # a thousandth of a year is no digit of a measure that steps by cents
        number = round(number, 1) if abs(number - round(number, 1)) < 1e-3 else round(number, 2)
    if not form.startswith("$"):
        return form.format(number)
    digits = 2 if ending == "_usd" else 4
    text = f"{abs(number):,.{digits}f}"
    sign = "-" if number < 0 and float(text.replace(",", "")) else ""
    return sign + form.format(abs(number)).replace(text, _short(text))


def _short(text: str) -> str:
    """$2.8500 as $2.85, $8,000.00 as $8,000."""
    whole, part = text.split(".")
    part = part[:2] + part[2:].rstrip("0")
    return whole if not part.strip("0") else f"{whole}.{part}"


def as_if_of(frames: Iterable[pd.DataFrame]) -> str:
    """All that results say is as if, each thing once; empty for nothing."""
    told: dict[str, None] = {}
    for frame in frames:
        if "as_if" in frame.columns:
            for text in frame["as_if"].dropna().unique():
                told.update(dict.fromkeys(part for part in str(text).split("; ") if part))
    return "; ".join(told)
