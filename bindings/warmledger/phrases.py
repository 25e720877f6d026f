"""The library gives its reasons in English sentences of fixed forms; here they are said in the plain words of a page.

A sentence of a form that is not known stands on the page as the library wrote it, marked as English.
"""

from __future__ import annotations

import datetime
import re

from markupsafe import Markup

from .language import Language, dollars, parsed_dollars

_USD = r"-?\$[\d,]+(?:\.\d\d)?"
_DATE = r"\d{4}-\d\d-\d\d"
_NUMBER = r"-?[\d,]+(?:\.\d+)?"

# Fields ending in _usd, _date, _fuel, _value and _name are sums, dates, fuels, words of the library and names; others
# stand as they are.
_FORMS = [
    ("ended", rf"ended on (?P<date_date>{_DATE})(?:;.*)?"),
    ("not_begun", rf"begins on (?P<date_date>{_DATE})(?:;.*)?"),
    ("income_too_high", rf"income (?P<income_usd>{_USD}) is above the limit of (?P<limit_usd>{_USD}).*"),
    ("income_too_low", rf"income (?P<income_usd>{_USD}) is below the least of (?P<limit_usd>{_USD}).*"),
    ("wrong_tenure", r"not for a household that is (?P<tenure_value>owner|renter)"),
    ("wrong_fuel", r"not for a heater on (?P<fuel_fuel>\w+)"),
    ("wrong_filing_status", r"not for the filing status (?P<status_value>single|joint|head_of_household)"),
    ("wrong_installer_contractor", r"not for a system put in by the contractor"),
    ("wrong_installer_owner", r"not for a system put in by the owner"),
    (
        "too_little_sun",
        rf"the sun gives (?P<percent>{_NUMBER}) % of the energy for hot water; at least (?P<least>{_NUMBER}) % "
        r"is asked for",
    ),
    ("not_certified", r"the package states no certification of its equipment, which this asks for"),
    ("new_home", r"not for a new home"),
    ("poverty_unknown", r"no poverty guideline is known for the place and date, and a multiple of it decides"),
    ("tax_unknown", r"the \w+ income tax is not known:.*|the rate of the tax is not known:.*"),
    ("no_deduction", r"there is no income tax that the deduction could save"),
    ("left_out", rf"left out: with it the household would get (?P<less_usd>{_USD}) less"),
    (
        "not_beside",
        rf"cannot be had beside (?P<other_name>.+); the best combination with it is worth (?P<less_usd>{_USD}) less",
    ),
    ("waiting", r"wait-listed: .*"),
    ("cost_covered", r"the cost is already paid in full by the incentives before it"),
    ("tax_used_up", r"the income tax is used up by the credits before it"),
    ("no_tax", r"no income tax to credit it against"),
    ("renter", r"a renter cannot have a system installed without the building's owner, who would pay for it"),
    (
        "roof_direction",
        rf"the roof faces (?P<degrees>{_NUMBER}) degrees away from south; the program takes up to (?P<most>{_NUMBER})",
    ),
    (
        "shade",
        rf"shading takes (?P<percent>{_NUMBER}) % of the sun; the program takes up to (?P<most>{_NUMBER}) %",
    ),
    (
        "glycol_draw",
        rf"(?P<people>{_NUMBER}) occupants draw too little in summer for a pressurized glycol loop; the program asks "
        rf"for (?P<least>{_NUMBER}) or more",
    ),
    (
        "package_size",
        rf"package .* is for (?P<least>{_NUMBER}) to (?P<most>{_NUMBER}) occupants; the household has "
        rf"(?P<people>{_NUMBER})",
    ),
    (
        "roof_small",
        rf"the free roof of (?P<have>{_NUMBER}) ft2 is smaller than the (?P<need>{_NUMBER}) ft2 of collectors",
    ),
    ("not_recovered", r"not recovered within the study period"),
    ("not_recovered_for_good", r"not recovered for good within the study period"),
    ("one_sign", r"all flows have one sign: nothing is both paid and received"),
    ("no_rate", r"no rate above -1 makes the net present value zero"),
    ("several_rates", r"several rates make the net present value zero"),
    ("nothing_delivered", r"no quantity is delivered"),
    ("value_without_effect", r"net savings do not change with the value"),
    ("all_zero", r"all flows are zero"),
    ("nothing_invested", r"nothing is invested"),
    ("savings_not_positive", r"the savings are not positive"),
    ("no_income", r"there is no income"),
    ("no_bills", r"yearly_energy_bills_usd is not given"),
    ("never_met", r"the thresholds are not met even if the system is free at install"),
    ("no_flows", r"there are no flows"),
]
FORMS = [(key, re.compile(form)) for key, form in _FORMS]


def recognised(sentence: str) -> tuple[str, dict[str, str]] | None:
    """The form of a sentence of the library and what stands in its fields."""
    plain, _, _ = sentence.partition("; what-if, not the law: ")
    for key, form in FORMS:
        if found := form.fullmatch(plain.rstrip(".")):
            return key, found.groupdict()
    return None


def said(language: Language, sentence: str) -> Markup:
    """A sentence of the library in plain words."""
    found = recognised(sentence)
    if found is None:
        return language.name(sentence, longest=400)
    key, fields = found
    values: dict[str, object] = {}
    for name, text in fields.items():
        if name.endswith("_usd"):
            sum_ = parsed_dollars(text)
            values[name.removesuffix("_usd")] = language.figure(dollars(sum_), sum_, "reason")
        elif name.endswith("_date"):
            values[name.removesuffix("_date")] = language.date(datetime.date.fromisoformat(text))
        elif name.endswith("_fuel"):
            values[name.removesuffix("_fuel")] = fuel(language, text)
        elif name.endswith("_name"):
            values[name.removesuffix("_name")] = language.name(text)
        elif name.endswith("_value"):
            values[name.removesuffix("_value")] = language.say(f"value.{text}")
        else:
            values[name] = text
    return language.say(f"phrase.{key}", **values)


def fuel(language: Language, name: str, *, at_start: bool = False) -> Markup:
    """A fuel by the library's name, in words."""
    key = f"{'Fuel' if at_start else 'fuel'}.{name}"
    return language.say(key) if language.has(key) else language.name(name)


_ASSUMED = re.compile(r"(?P<what>[\w ]+?) = (?P<value>.*?)(?: a (?P<unit>\w+))? \((?P<why>.*)\)", re.DOTALL)


def assumed(language: Language, sentence: str) -> Markup:
    """One assumption, given as "what = value (why)", in plain words."""
    found = _ASSUMED.fullmatch(sentence)
    if found is None:
        return language.name(sentence, longest=400)
    what, value, unit, why = found["what"], found["value"], found["unit"], found["why"]
    if what.endswith(" price") and unit:
        kind = what.removesuffix(" price")
        usd = parsed_dollars(value)
        if why == "what-if, not the price that holds":
            return language.say(
                "assumed.price_as_if",
                fuel=fuel(language, kind, at_start=True),
                value=language.figure(f"${usd}", usd, "assumed"),
                unit=language.say(f"value.{unit}") if language.has(f"value.{unit}") else unit,
            )
        return language.say(
            "assumed.price",
            fuel=fuel(language, kind, at_start=True),
            value=language.figure(f"${usd}", usd, "assumed"),
            unit=language.say(f"value.{unit}") if language.has(f"value.{unit}") else unit,
            source=language.name(why, longest=200),
        )
    if what.endswith(" price") and value.startswith("tariff "):
        return language.say(
            "assumed.tariff",
            fuel=fuel(language, what.removesuffix(" price"), at_start=True),
            title=language.name(value.removeprefix("tariff ")),
            source=language.name(why, longest=200),
        )
    if what == "water heater":
        return language.say("assumed.new_heater")
    key = f"assumed.{what}"
    if not language.has(key):
        return language.name(sentence, longest=400)
    shown: object = language.say(f"value.{value}") if language.has(f"value.{value}") else value
    if value.startswith("$"):
        usd = parsed_dollars(value)
        shown = language.figure(dollars(usd), usd, "assumed")
    return language.say(key, value=shown)
