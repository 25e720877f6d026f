"""The page about one household: plain words, figures that say where they are from, charts, cautions, sources."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jinja2
from markupsafe import Markup

from . import _core, drawings
from .language import Language, dollars
from .phrases import assumed, fuel, recognised, said
from .variations import changes_of, loan_of

if TYPE_CHECKING:
    from .appraisal import Appraisal
    from .catalog import Program

MARKS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
MOST_LOANS = 4  # in the table
MOST_HELP = 12
MOST_NAMES = 6
POUND_PER_KG = 2.2046226218  # NIST Handbook 44, appendix C: a pound is 0.45359237 kg
MILE_PER_KM = 0.62137119  # NIST Handbook 44, appendix C: a mile is 1.609344 km
LATE_DAYS = 45  # a first payment later than this is worth a word
SET_ABOVE_C = 49  # 120 F: hot water that burns within minutes (see hotwater/cautions.cpp)
CASH_STANDARDS = "ASTM E917, E964, E1057, E1074, E1121; 10 CFR 436"
HOURLY_METHOD = "simulation by energy balance; Klein 1977; Erbs, Klein & Duffie 1982; Burch & Christensen 2007"
MONTHLY_METHOD = "Klein, Beckman & Duffie 1976; EN 15316-4-3; Burch & Christensen 2007"


def household_page(appraisal: Appraisal, language: str = "en") -> str:
    """The page as text; see `Appraisal.report`."""
    return render("household.html", Household(appraisal, Language(language)))


def render(template: str, page: Any) -> str:
    """A page from a template of the folder pages; everything that is not Markup is escaped."""
    folder = jinja2.FileSystemLoader(Path(__file__).parent / "pages")
    environment = jinja2.Environment(
        loader=folder, autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined
    )
    lang: Language = page.language
    return environment.get_template(template).render(
        page=page, say=lang.say, lang=lang.code, version=_core.version, name=lang.name
    )


def as_if_of(rule: Mapping[str, Any]) -> str:
    """What of a rule is a supposition; empty if it is the law or the program as it stands."""
    return str(rule.get("as_if") or "").removeprefix("what-if, not the law: ")


def what_if_notes(language: Language, program: Program | None, as_if: bool) -> list[Markup]:
    """Says on the page's head that it is a what-if."""
    notes = []
    if program is not None and program.changes:
        names = language.join(language.name(f"{key} = {value}") for key, value in program.changes.items())
        notes.append(language.say("changed.note", names=names))
    if as_if:
        notes.append(language.say("as_if.note"))
    if program is not None and (prices := [text for text in program.what_ifs if text.startswith("price of ")]):
        told = (text.removeprefix("price of ").replace(": what-if, not the price that holds", "") for text in prices)
        notes.append(language.say("as_if.prices", prices=language.join(language.name(text) for text in told)))
    return notes


@dataclass(frozen=True)
class Help:
    """An incentive that pays."""

    mark: str
    title: str
    kind: str
    payer: str
    amount: Markup
    usd: Any
    of: str
    when: Markup
    note: Markup
    label: str


class Household:
    """What the template household.html shows, in words of one language."""

    def __init__(self, appraisal: Appraisal, language: Language) -> None:
        self.language = language
        self.appraisal = appraisal
        self.all = appraisal.to_dict()
        self.summary: Mapping[str, Any] = self.all["summary"]
        self.measures: Mapping[str, Any] = self.all["measures"]
        self.loans: Sequence[Mapping[str, Any]] = self.all["loans"]
        self.system: Mapping[str, Any] = self.all["system"]
        self.years = int(self.summary["study_years"])
        self.helps = list(self._helps())
        self.best = next((k for k, loan in enumerate(self.loans) if loan["id"] == self.summary["best_loan"]), None)
        book = appraisal.ledger()
        self.book = book.assign(amount_usd=book["amount_usd"].astype(float))

    # -- short forms --

    def say(self, key: str, **values: object) -> Markup:
        return self.language.say(key, **values)

    def money(self, name: str, *, cents: bool = True) -> Markup:
        show = self.language.money if cents else self.language.whole_money
        return show(self.measures[name], f"measures.{name}")

    def years_or_not(self, measures: Mapping[str, Any], name: str, of: str) -> Markup:
        value = measures[name]
        if value is None:
            return self.say("not_in_study", years=self.years)
        if value < 0.05:
            return self.say("right_away")
        return self.language.years(value, f"{of}.{name}")

    # -- head and answer --

    @property
    def title(self) -> str:
        return self.language.plain("household.title", id=self.summary["household_id"])

    @property
    def heading(self) -> Markup:
        return self.say("household.title", id=self.language.identifier(self.summary["household_id"]))

    @property
    def program(self) -> Markup:
        return self.language.name(self.summary["program_title"])

    @property
    def note(self) -> Markup:
        note = self.summary["program_note"]
        return self.language.name(note, longest=400) if note else Markup("")

    @property
    def what_if(self) -> list[Markup]:
        program = self.appraisal.program if self.appraisal.inputs else None
        return what_if_notes(self.language, program, any(as_if_of(rule) for rule in self.all["incentives"]))

    @property
    def facts(self) -> Markup:
        package = self.language.name(self.summary["package_title"])
        return self.say("household.facts", package=package, date=self.language.date(self.summary["install_date"]))

    @property
    def decision(self) -> str:
        return str(self.summary["decision"]).replace(" ", "_")

    @property
    def why(self) -> Markup:
        if self.decision != "needs_more_help" and self.decision != "does_not_pay":
            return self.say(f"why.{self.decision}")
        if self.measures["extra_help_usd"] is None:
            return self.say("why.does_not_pay_at_all")
        return self.say(f"why.{self.decision}", extra=self.money("extra_help_usd"))

    @property
    def unsuitable(self) -> list[Markup]:
        return [said(self.language, reason) for reason in self.summary["unsuitable"]]

    @property
    def key_figures(self) -> list[tuple[Markup, Markup, Markup]]:
        gain = self.measures["net_savings_usd"]
        shown = self.language.whole_money(abs(gain), "measures.net_savings_usd")
        return [
            (self.say("key.net_cost"), self.money("net_cost_usd", cents=False), Markup("")),
            (self.say("key.saving"), self.money("first_year_saving_usd", cents=False), Markup("")),
            (
                self.say("key.payback"),
                self.years_or_not(self.measures, "simple_payback_years", "measures"),
                Markup(""),
            ),
            (
                self.say("key.net_savings" if gain >= 0 else "key.net_loss", years=self.years),
                shown,
                self.say("key.present_value"),
            ),
        ]

    @property
    def sun(self) -> Markup:
        share = self.language.percent(self.all["year"]["solar_fraction_by_heat"], "year.solar_fraction_by_heat")
        text = self.say("sun_share", share=share)
        pounds = self.summary["co2_saved_kg_year"] * POUND_PER_KG
        if pounds >= 1:
            text += " " + self.say("co2_less", pounds=self.language.number(pounds, "summary.co2_saved_kg_year"))
        return text

    # -- cost and help --

    @property
    def costs(self) -> list[tuple[Markup, Markup, bool]]:
        """(item, amount, whether it is a sum of those above)."""
        m, say = self.measures, self.say
        at_install = m["installed_cost_usd"] - m["due_at_install_usd"]
        later = m["incentives_usd"] - at_install
        rows = [
            (say("cost.installed"), self.money("installed_cost_usd"), False),
            (say("cost.help_at_install"), self.language.money(-at_install, "help.at_install"), False),
            (say("cost.due"), self.money("due_at_install_usd"), True),
            (say("cost.help_later"), self.language.money(-later, "help.later"), False),
            (say("cost.net"), self.money("net_cost_usd"), True),
        ]
        upkeep = self._more_spent("upkeep", "replacement")
        if upkeep:
            rows.append((say("cost.upkeep", years=self.years), self.language.money(upkeep, "ledger.upkeep"), False))
        rows += [
            (say("cost.without"), self.money("first_year_cost_without_usd"), False),
            (say("cost.with"), self.money("first_year_cost_with_usd"), False),
        ]
        return rows

    def _more_spent(self, *categories: str) -> float:
        """What these categories cost with the system beyond what they cost without it."""
        chosen = self.book[self.book["category"].isin(categories)]
        by_world = chosen.groupby("world")["amount_usd"].sum()
        return float(by_world.get("without", 0.0) - by_world.get("with", 0.0))

    @property
    def burden(self) -> Markup | None:
        without, with_solar = (self.measures[f"water_heating_burden_{w}"] for w in ("without", "with"))
        if without is None or with_solar is None:
            return None
        percent = self.language.percent
        return self.say(
            "cost.burden",
            without=percent(without, "measures.water_heating_burden_without", 1),
            with_solar=percent(with_solar, "measures.water_heating_burden_with", 1),
        )

    def _helps(self) -> Iterator[Help]:
        mark = 0
        for k, rule in enumerate(self.all["incentives"]):
            if not rule["applied"] or rule["amount_usd"] <= 0:
                continue
            reason = str(rule["reason"])
            note = Markup("")
            if "; limited by the cost left" in reason:
                note = self.say("help.cut_cost")
            elif "; limited by income tax" in reason:
                note = self.say("help.cut_tax")
            of = f"incentives.{k}.amount_usd"
            yield Help(
                MARKS[mark] if mark < len(MARKS) else str(mark + 1),
                rule["title"],
                rule["kind"],
                rule["payer"],
                self.language.money(rule["amount_usd"], of),
                rule["amount_usd"],
                of,
                self._when([date for date, _ in rule["payments"]]),
                note,
                as_if_of(rule),
            )
            mark += 1

    def kind(self, name: str) -> Markup:
        return self.say(f"kind.{name}") if self.language.has(f"kind.{name}") else self.language.name(name)

    def _when(self, dates: Sequence[datetime.date]) -> Markup:
        if max(dates) <= self.summary["install_date"]:
            return self.say("help.on_install_day")
        if min(dates) == max(dates):
            return self.language.date(dates[0])
        return self.say("help.from_to", first=self.language.date(min(dates)), last=self.language.date(max(dates)))

    @property
    def also(self) -> Markup | None:
        """Help that holds and pays nothing by itself, for example a tax that is not charged."""
        titles = [rule["title"] for rule in self.all["incentives"] if rule["applied"] and rule["amount_usd"] <= 0]
        if not titles:
            return None
        return self.say("help.also", names=self.language.join(self.language.name(title) for title in titles))

    @property
    def beyond_study(self) -> bool:
        """Whether some help arrives after the study and is in no total."""
        return abs(sum(float(one.usd) for one in self.helps) - float(self.measures["incentives_usd"])) >= 0.005

    @property
    def refused(self) -> list[tuple[Markup, Markup]]:
        """(title, why) of help that does not pay; what had ended is told in one line."""
        rows, ended = [], []
        for rule in self.all["incentives"]:
            if rule["applied"] and rule["amount_usd"] > 0:
                continue
            found = recognised(str(rule["reason"]))
            if found and found[0] == "ended" and not as_if_of(rule):
                ended.append((rule["title"], rule["reason"]))
            elif not rule["applied"]:
                why = said(self.language, str(rule["reason"]))
                if as_if_of(rule):
                    why += " " + self.say("as_if", label=self.language.name(as_if_of(rule)))
                rows.append((self.language.name(rule["title"]), why))
        if len(ended) == 1:
            rows.append((self.language.name(ended[0][0]), said(self.language, ended[0][1])))
        elif ended:
            names = [self.language.name(title) for title, _ in ended[:MOST_NAMES]]
            if len(ended) > MOST_NAMES:
                names.append(Markup("…"))
            rows.append((Markup(""), self.say("help.ended_many", names=self.language.join(names))))
        return rows

    @property
    def help_bar(self) -> Markup:
        plain_of = self.language.plain
        parts = [drawings.Part(one.mark, float(one.usd), one.of) for one in self.helps]
        words = [plain_of("help.bar_part", mark=h.mark, name=h.title, amount=dollars(h.usd)) for h in self.helps]
        rest = float(self.measures["net_cost_usd"])
        if rest > 0:
            parts.append(drawings.Part(plain_of("help.rest"), rest, "measures.net_cost_usd"))
            words.append(plain_of("help.bar_rest", amount=dollars(rest)))
        price = dollars(self.measures["installed_cost_usd"])
        description = plain_of("help.bar_desc", price=price, parts="; ".join(words))
        return drawings.shares_bar(parts, plain_of("help.bar_title"), description, "help-chart")

    # -- the month --

    @property
    def monthly_savings(self) -> list[float]:
        """How much lower the bills of the first twelve months are."""
        bills = self.book[self.book["category"].isin(("fuel", "pump electricity"))]
        by_month = bills.groupby(["month", "world"])["amount_usd"].sum()
        return [
            float(by_month.get((month, "with"), 0.0) - by_month.get((month, "without"), 0.0)) for month in range(1, 13)
        ]

    @property
    def month_names(self) -> list[str]:
        """Names of the months in which the first twelve bills come."""
        first = self.summary["install_date"].month
        return [self.language.months[(first + k) % 12] for k in range(12)]

    @property
    def month_text(self) -> list[Markup]:
        say, money = self.say, self.language.money
        if self.best is None:
            covered = self.measures["due_at_install_usd"] <= 0
            return [say("month.not_needed" if covered else "month.no_loans")]
        loan, of = self.loans[self.best], f"loans.{self.best}"
        saving = self.measures["first_year_saving_usd"] / 12
        yearly = re.match(r"(\d+) payments a year", str(loan.get("shape") or ""))
        texts = [
            say(
                "month.best_other" if yearly else "month.best",
                loan=self.language.name(loan["title"]),
                amount=money(loan["amount_usd"], f"{of}.amount_usd"),
                payment=money(loan["payment_usd"], f"{of}.payment_usd"),
                saving=money(saving, "measures.first_year_saving_usd/12"),
                count=yearly[1] if yearly else "",
            )
        ]
        average, lowest = loan["average_month_usd"], loan["lowest_month_usd"]
        key = "month.short" if average < 0 else "month.left_mixed" if lowest < 0 else "month.left"
        texts.append(
            say(
                key,
                left=money(abs(average), f"{of}.average_month_usd"),
                lowest=money(abs(lowest), f"{of}.lowest_month_usd"),
            )
        )
        if not self.level_payments:
            texts.append(say("month.costliest"))
        if loan["cash_at_install_usd"] > 0:
            texts.append(say("month.cash", cash=money(loan["cash_at_install_usd"], f"{of}.cash_at_install_usd")))
        return [*texts, *self._loan_terms(loan, of)]

    @property
    def mean_payment(self) -> float:
        """What the best loan takes in an average month, as its average month counts it."""
        assert self.best is not None
        saving = float(self.measures["first_year_saving_usd"]) / 12
        return saving - float(self.loans[self.best]["average_month_usd"])

    @property
    def level_payments(self) -> bool:
        """Whether the best loan takes the same every month."""
        assert self.best is not None
        return abs(self.mean_payment - float(self.loans[self.best]["payment_usd"])) < 0.005

    def _loan_terms(self, loan: Mapping[str, Any], of: str) -> Iterator[Markup]:
        """What is to be known of a loan beyond its payment; plain loans of older results lack some of it."""
        say, money = self.say, self.language.money
        if loan.get("shape"):
            yield say("month.shape", shape=self.language.name(loan["shape"], longest=300))
        first = loan.get("first_payment_date")
        if first is not None and (first - self.summary["install_date"]).days > LATE_DAYS:
            yield say("month.deferred", date=self.language.date(first))
        if loan.get("points_and_fee_usd"):
            yield say("month.fees", fees=money(loan["points_and_fee_usd"], f"{of}.points_and_fee_usd"))
        yield say("month.interest", interest=money(loan["total_interest_usd"], f"{of}.total_interest_usd"))
        if loan.get("apr") is not None:
            yield say("month.apr", apr=self.language.percent(loan["apr"], f"{of}.apr", 2))
        if loan.get("owed_at_study_end_usd"):
            yield say("month.balance", balance=money(loan["owed_at_study_end_usd"], f"{of}.owed_at_study_end_usd"))

    @property
    def loan_rows(self) -> list[list[Markup]]:
        order = sorted(range(len(self.loans)), key=lambda k: (k != self.best, -self.loans[k]["average_month_usd"]))
        rows = []
        for k in order[:MOST_LOANS]:
            loan = self.loans[k]
            cells = [self.language.name(loan["title"])]
            for name in (
                "amount_usd",
                "payment_usd",
                "average_month_usd",
                "lowest_month_usd",
                "total_interest_usd",
                "net_savings_usd",
            ):
                cells.append(self.language.money(loan[name], f"loans.{k}.{name}"))
            rows.append(cells)
        return rows

    @property
    def more_loans(self) -> bool:
        return len(self.loans) > MOST_LOANS

    @property
    def month_chart(self) -> Markup:
        words, names, savings = self.language.plain, self.month_names, self.monthly_savings
        low, high = min(savings), max(savings)
        extremes = {
            "low": dollars(low),
            "low_month": names[savings.index(low)],
            "high": dollars(high),
            "high_month": names[savings.index(high)],
        }
        payment, label, key = None, "", "month.desc_no_loan"
        if self.best is not None:
            payment = self.mean_payment
            label = words(
                "month.payment_label" if self.level_payments else "month.mean_label", payment=dollars(payment)
            )
            key = "month.desc"
        description = words(key, **extremes, payment=dollars(payment or 0))
        letters = [name[:3].capitalize() if self.language.code == "en" else name[:3] for name in names]
        return drawings.month_bars(letters, savings, payment, label, words("month.title"), description)

    # -- when it pays --

    @property
    def when_text(self) -> list[Markup]:
        say, m = self.say, self.measures
        texts = []
        simple, discounted = m["simple_payback_years"], m["discounted_payback_years"]
        if simple is not None and simple < 0.05:
            texts.append(say("when.at_once"))
        else:
            texts.append(
                say("when.simple_none", years=self.years)
                if simple is None
                else say("when.simple", years=self.language.years(simple, "measures.simple_payback_years"))
            )
            texts.append(
                say("when.discounted_none", years=self.years)
                if discounted is None
                else say("when.discounted", years=self.language.years(discounted, "measures.discounted_payback_years"))
            )
        gain = m["net_savings_usd"]
        texts.append(
            say(
                "when.gain" if gain >= 0 else "when.loss",
                years=self.years,
                without=self.money("life_cycle_cost_without_usd"),
                with_solar=self.money("life_cycle_cost_with_usd"),
                gain=self.language.money(abs(gain), "measures.net_savings_usd"),
                loss=self.language.money(abs(gain), "measures.net_savings_usd"),
            )
        )
        ratio = m["savings_to_investment"]
        if ratio is None:
            texts.append(say("when.sir_none", why=said(self.language, m["why_none"]["savings_to_investment"])))
        else:
            texts.append(say("when.sir", ratio=self.language.money(ratio, "measures.savings_to_investment")))
        return texts

    def running(self, world: str) -> list[float]:
        """What has been spent by the end of each month, remaining values left out: they are worth, not money."""
        rows = self.book[(self.book["world"] == world) & (self.book["category"] != "remaining value")]
        monthly = -rows.groupby("month")["amount_usd"].sum()
        return [float(v) for v in monthly.reindex(range(self.years * 12 + 1), fill_value=0.0).cumsum()]

    @property
    def when_chart(self) -> Markup:
        words, without, with_ = self.language.plain, self.running("without"), self.running("with")
        payback = self.measures["simple_payback_years"]
        crossing = words("when.no_crossing") if payback is None else words("when.crossing", years=f"{payback:.1f}")
        description = words(
            "when.desc",
            without_first=dollars(without[0], cents=False),
            without_last=dollars(without[-1], cents=False),
            with_first=dollars(with_[0], cents=False),
            with_last=dollars(with_[-1], cents=False),
            crossing=crossing,
        )
        return drawings.running_lines(
            [
                drawings.Line(words("when.with"), with_, drawings.WITH, ""),
                drawings.Line(words("when.without"), without, drawings.WITHOUT, "6 3"),
            ],
            self.years,
            None if payback is None else float(payback),
            words("when.paid_back"),
            words("when.axis"),
            words("when.title"),
            description,
        )

    # -- what could change that --

    @property
    def change_rows(self) -> list[list[Markup]]:
        loan = None if self.best is None else str(self.loans[self.best]["id"])
        rows = [self._change_row(self.say("change.base"), self.appraisal, loan, "")]
        for change in changes_of(self.appraisal):
            label = self.say(
                f"change.{change.key}", fuel=fuel(self.language, self.system["heater_fuel"], at_start=True)
            )
            if change.appraisal is None:
                rows.append([label, *[self.say("change.unknown")] * (4 if loan else 3)])
            else:
                rows.append(self._change_row(label, change.appraisal, loan, f"change.{change.key}."))
        return rows

    def _change_row(self, label: Markup, one: Appraisal, loan_id: str | None, of: str) -> list[Markup]:
        m, money = one.measures, self.language.whole_money
        row = [
            label,
            money(m.first_year_saving_usd, f"{of}measures.first_year_saving_usd"),
            self.years_or_not(m, "simple_payback_years", f"{of}measures"),
            money(m.net_savings_usd, f"{of}measures.net_savings_usd"),
        ]
        if loan_id is not None:
            loan = loan_of(one, loan_id)
            of_loan = f"{of}loan.average_month_usd"
            row.append(self.say("none") if loan is None else self.language.money(loan["average_month_usd"], of_loan))
        return row

    # -- cautions and sources --

    @property
    def cautions(self) -> list[tuple[Markup, Markup]]:
        rows = []
        for topic, text in self.all["cautions"]:
            if not self.language.has(f"caution.{topic}"):
                rows.append((self.language.name(topic), self.language.name(text, longest=1000)))
                continue
            words = self.say(f"caution.{topic}.text")
            if topic == "gas" and self.system["arrangement"] == "one_tank":
                words = self.say("caution.gas.one_tank")
            if topic == "scald" and self.system["set_temperature_c"] > SET_ABOVE_C:
                degrees = self.system["set_temperature_c"] * 9 / 5 + 32
                words += " " + self.say("caution.scald.set", degrees=f"{degrees:.0f}")
            rows.append((self.say(f"caution.{topic}"), words))
        for topic in ("debt", "tax", "code"):
            if topic == "debt" and not self.loans:
                continue
            rows.append((self.say(f"caution.{topic}"), self.say(f"caution.{topic}.text")))
        return rows

    @property
    def sources(self) -> list[Markup]:
        say, name = self.say, self.language.name
        detail = str(self.all["year"]["detail"])
        miles = self.language.number(self.summary["station_distance_km"] * MILE_PER_KM, "summary.station_distance_km")
        return [
            say(f"sources.{detail}"),
            say("sources.weather", station=name(self.summary["weather_station"]), miles=miles),
            say(
                "sources.methods",
                standards=name(CASH_STANDARDS),
                water=name(HOURLY_METHOD if detail == "hourly" else MONTHLY_METHOD),
            ),
        ]

    @property
    def assumptions(self) -> list[Markup]:
        return [assumed(self.language, sentence) for sentence in self.all["defaults_used"]]

    @property
    def rules(self) -> list[Markup]:
        """Citation and standing of the help that pays."""
        rows = []
        for rule in self.all["incentives"]:
            if rule["applied"] and rule["amount_usd"] > 0:
                key = f"sources.standing.{rule['standing']}"
                standing = self.say(key) if self.language.has(key) else self.language.name(rule["standing"])
                citation = self.language.name(rule["citation"], longest=240)
                rows.append(Markup("{}: {} ({})").format(self.language.name(rule["title"]), citation, standing))
        return rows[:MOST_HELP]
