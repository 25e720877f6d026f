"""Words, figures and dates of the pages in one language. Every sentence stands in words_en.py and words_es.py.

Figures are written as in the United States in both languages: $1,234.50, 9.5%. Whatever comes from a sheet or a program
file is escaped, shortened and kept apart from the text around it, so that no name can change the page.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal
from html import escape
from typing import Any

from markupsafe import Markup

from . import words_en, words_es
from .errors import UnknownName, error

WORDS: dict[str, dict[str, str]] = {"en": words_en.WORDS, "es": words_es.WORDS}
LONGEST_NAME = 120

# What no page shows: control characters, halves of surrogate pairs and noncharacters.
_UNFIT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]")
# Marks that change the direction of the text after them; an element <bdi> holds them in, plain text cannot.
_DIRECTION = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def shortened(text: object, longest: int = LONGEST_NAME) -> str:
    """Text fit for a page; the middle of a very long one is left out."""
    clean = _UNFIT.sub("\ufffd", str(text)).strip()
    if len(clean) <= longest:
        return clean
    return f"{clean[: longest - 25].rstrip()} … {clean[-20:].lstrip()}"


def plain(text: object, longest: int = LONGEST_NAME) -> str:
    """The same where there can be no element: titles and descriptions of figures."""
    return shortened(_DIRECTION.sub("", str(text)), longest)


class Language:
    """One language of the pages."""

    def __init__(self, code: str) -> None:
        if code not in WORDS:
            raise error(
                UnknownName, "is no language of the pages", value=code, allowed=", ".join(WORDS), key="language"
            )
        self.code = code
        self.words = WORDS[code]

    def has(self, key: str) -> bool:
        return key in self.words

    def say(self, key: str, **values: object) -> Markup:
        """The sentence of a key; values that are not Markup are escaped."""
        return Markup(escape(self.words[key], quote=False)).format(**values)

    def plain(self, key: str, **values: object) -> str:
        """The same as bare text, for figures."""
        return self.words[key].format(**{name: _bare(value) for name, value in values.items()})

    def name(self, text: object, *, longest: int = LONGEST_NAME) -> Markup:
        """Text of a program file or of the library, which is in English."""
        other = Markup(' lang="en"') if self.code != "en" else Markup("")
        return Markup("<bdi{}>{}</bdi>").format(other, shortened(text, longest))

    def identifier(self, text: object) -> Markup:
        return Markup("<bdi>{}</bdi>").format(shortened(text))

    # -- figures: each says where it is from, so that a page can be held against the results --

    def figure(self, text: str, value: object, of: str) -> Markup:
        return Markup('<data value="{}" data-of="{}">{}</data>').format(value, of, text)

    def money(self, value: Any, of: str) -> Markup:
        """Dollars and cents."""
        return self.figure(dollars(value), value, of)

    def whole_money(self, value: Any, of: str) -> Markup:
        """Whole dollars."""
        return self.figure(dollars(value, cents=False), value, of)

    def percent(self, share: Any, of: str, digits: int = 0) -> Markup:
        """A share, 0.1 is 10%."""
        return self.figure(percent_text(share, digits), share, of)

    def number(self, value: Any, of: str, digits: int = 0) -> Markup:
        return self.figure(f"{value:,.{digits}f}", value, of)

    def years(self, value: Any, of: str) -> Markup:
        return self.say("years", number=self.number(value, of, 1))

    def date_text(self, date: datetime.date) -> str:
        return self.words["date"].format(day=date.day, month=self.months[date.month - 1], year=date.year)

    def date(self, date: datetime.date) -> Markup:
        return Markup('<time datetime="{}">{}</time>').format(date.isoformat(), self.date_text(date))

    @property
    def months(self) -> list[str]:
        return self.words["months"].split()

    def join(self, parts: Iterable[Markup]) -> Markup:
        return Markup("; ").join(parts)


def dollars(value: Any, *, cents: bool = True) -> str:
    """US dollars, halves rounded away from zero as the library does; a minus sign stands before the dollar sign."""
    unit = Decimal("0.01") if cents else Decimal(1)
    rounded = abs(Decimal(f"{value:.6f}")).quantize(unit, ROUND_HALF_UP)
    return f"{'−' if value < 0 and rounded else ''}${rounded:,}"


def percent_text(share: Any, digits: int = 0) -> str:
    text = f"{share * 100:,.{digits}f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text}%"


def parsed_dollars(text: str) -> Decimal:
    """A sum as the library writes it in a sentence: $1,234.50 or -$3."""
    return Decimal(text.replace("$", "").replace(",", ""))


def _bare(value: object) -> object:
    return Markup(value).striptags() if isinstance(value, Markup) else plain(value)
