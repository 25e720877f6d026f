"""The page about a screened sheet: who gains, what it costs, what helps pay, what needs a look."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from . import drawings
from .colours import DECISION_COLOURS
from .errors import Error, MalformedText, MissingValue, error
from .frames import incentive_amounts
from .language import Language
from .phrases import FORMS
from .report import render, what_if_notes

if TYPE_CHECKING:
    import pandas as pd

    from .catalog import Program

GOOD = ("pays in cash", "pays with loan")
MISFITS = ("renter", "roof_direction", "shade", "glycol_draw", "package_size", "roof_small")
MORE_HELP_USD = (0, 500, 1000, 1500, 2000, 2500)
MOST_HELP, MOST_LOANS, MOST_NEAR, MOST_BAD, MOST_SOURCES = 10, 6, 6, 6, 40
CAUTIONS = ("scald", "bacteria", "freezing", "pressure", "roof_work", "wiring", "gas", "debt", "tax", "code")
NEEDED = (
    "household_id",
    "decision",
    "reason",
    "income_tier",
    "installed_cost_usd",
    "incentives_usd",
    "incentives_applied",
    "net_cost_usd",
    "first_year_saving_usd",
    "simple_payback_years",
    "extra_help_usd",
    "loan",
    "loan_average_month_usd",
    "pays_from_month_one",
)
# Assumptions of one household's system or rule are in its own page; here stands what holds for all.
FOR_ALL = re.compile(
    r"Changed|Install date|Study period|Discount rate|Inflation|Price |Area median|Income tier|Threshold|Most extra|"
    r"Existing heater|Weather|Cold water|Measures"
)


def program_page(results: pd.DataFrame, program: Program, language: str = "en") -> str:
    """The page as text; see `program_report`."""
    if not hasattr(results, "columns"):
        raise error(
            MalformedText,
            "is no result of a screening",
            key="results",
            value=repr(results)[:80],
            allowed="a frame that screen() returned",
        )
    missing = [name for name in NEEDED if name not in results.columns]
    if missing:
        raise error(
            MissingValue, "is missing from the results", key=missing[0], allowed="all columns that screen() returns"
        )
    return render("program.html", ScreenedSheet(results, program, Language(language)))


class ScreenedSheet:
    """What the template program.html shows, in words of one language."""

    def __init__(self, results: pd.DataFrame, program: Program, language: Language) -> None:
        import pandas as pd

        self.language = language
        self.results = results
        self.program_file = program
        self.count = len(results)
        decision = results["decision"].astype("string").fillna("bad row")
        self.decision = decision
        self.read = results[decision != "bad row"]  # rows with a result
        self.good = results[decision.isin(GOOD)]
        self.numbers = {
            name: pd.to_numeric(results[name], errors="coerce").astype("Float64")
            for name in NEEDED
            if name.endswith(("_usd", "_years"))
        }

    def say(self, key: str, **values: object) -> Markup:
        return self.language.say(key, **values)

    def counted(self, count: int, of: str) -> Markup:
        return self.language.number(count, of)

    def sum(self, name: str, rows: pd.DataFrame) -> float:
        return float(self.numbers[name].loc[rows.index].sum())

    def decided(self, name: str) -> pd.DataFrame:
        return self.results[self.decision == name]

    # -- head and answer --

    @property
    def program(self) -> Markup:
        return self.language.name(self.program_file.title)

    @property
    def note(self) -> Markup:
        note = self.program_file.note
        return self.language.name(note, longest=400) if note else Markup("")

    @property
    def what_if(self) -> list[Markup]:
        as_if = any("what-if, not the law" in " ".join(row) for row in self.program_file.assumptions())
        return what_if_notes(self.language, self.program_file, as_if)

    @property
    def title(self) -> str:
        return self.language.plain("program.title", count=f"{self.count:,}")

    @property
    def heading(self) -> Markup:
        return self.say("program.title", count=self.counted(self.count, "rows"))

    @property
    def facts(self) -> Markup:
        return self.say(
            "program.facts",
            date=self.language.date(self.program_file.install_date),
            years=self.program_file.study_years,
            count=self.counted(self.count, "rows"),
        )

    @property
    def answer(self) -> Markup:
        if not len(self.good):
            return self.say("program.answer.none")
        good, count = self.counted(len(self.good), "good"), self.counted(self.count, "rows")
        return self.say("program.answer", good=good, count=count)

    @property
    def answer_text(self) -> Markup:
        cash, loan, more = ("pays in cash", "pays with loan", "needs more help")
        return self.say(
            "program.answer.text",
            cash=self.decisions(cash),
            loan=self.decisions(loan),
            help=self.decisions(more),
        )

    def decisions(self, name: str) -> Markup:
        return self.counted(len(self.decided(name)), f"decision.{name}")

    @property
    def key_figures(self) -> list[tuple[Markup, Markup, Markup]]:
        money = self.language.whole_money
        return [
            (self.say("program.key.good"), self.counted(len(self.good), "good"), Markup("")),
            (self.say("program.key.help"), self.decisions("needs more help"), Markup("")),
            (
                self.say("program.key.net_cost"),
                money(self.sum("net_cost_usd", self.good), "sum.good.net_cost_usd"),
                Markup(""),
            ),
            (
                self.say("program.key.saving"),
                money(self.sum("first_year_saving_usd", self.good), "sum.good.first_year_saving_usd"),
                Markup(""),
            ),
        ]

    @property
    def decision_chart(self) -> Markup:
        names = list(DECISION_COLOURS)
        words = [self.language.plain(f"decision.{name}") for name in names]
        counts = [len(self.decided(name)) for name in names]
        parts = self._parts(words, counts)
        return drawings.count_bars(
            words,
            counts,
            [f"decision.{name}" for name in names],
            [DECISION_COLOURS[name][0] for name in names],
            self.language.plain("program.chart.title"),
            self.language.plain("program.chart.desc", parts=parts),
            "decision-chart",
        )

    def _parts(self, words: Sequence[str], counts: Sequence[int]) -> str:
        return "; ".join(
            self.language.plain("program.part", name=word, amount=f"{count:,}")
            for word, count in zip(words, counts, strict=True)
        )

    @property
    def tiers(self) -> list[str]:
        present = set(self.results["income_tier"].dropna())
        return [name for name in [*self.program_file.tiers, "above"] if name in present]

    @property
    def tier_heads(self) -> list[Markup]:
        tiers = [self.say("tier.above") if name == "above" else self.language.name(name) for name in self.tiers]
        return [self.say("program.tiers.answer"), self.say("program.tiers.all"), *tiers]

    @property
    def tier_rows(self) -> list[list[Markup]]:
        rows = []
        for name in DECISION_COLOURS:
            here = self.decided(name)
            tiers = here["income_tier"].astype("string")
            cells = [self.counted(int((tiers == t).sum()), f"decision.{name}.{t}") for t in self.tiers]
            rows.append([self.say(f"decision.{name}"), self.decisions(name), *cells])
        return rows

    # -- cost, help, loans --

    @property
    def cost_rows(self) -> list[list[Markup]]:
        rows = []
        for name in [n for n in DECISION_COLOURS if n != "bad row"]:
            here = self.decided(name)
            cells = [
                self.language.whole_money(self.sum(column, here), f"sum.{name}.{column}")
                for column in ("installed_cost_usd", "incentives_usd", "net_cost_usd", "first_year_saving_usd")
            ]
            rows.append([self.say(f"decision.{name}"), self.decisions(name), *cells])
        return rows

    @property
    def help_rows(self) -> list[list[Markup]]:
        """How many households get each incentive, and how much in all; the largest sums first."""
        found = self.helps()
        order = sorted(found, key=lambda one: (-found[one][1], one))
        return [
            [
                self.language.name(self.title_of("incentive", one)),
                self.counted(found[one][0], f"help.{one}.count"),
                self.language.whole_money(found[one][1], f"help.{one}.sum"),
            ]
            for one in order[:MOST_HELP]
        ]

    def title_of(self, kind: str, identifier: str) -> str:
        """Title of an incentive or loan; rules of a law do not stand in the program file, their ids speak for them."""
        try:
            return str(self.program_file.setting(f"{kind}.{json.dumps(identifier)}.title"))
        except Error:
            return identifier

    def helps(self) -> dict[str, tuple[int, float]]:
        """Households and sum by id, from the column incentives_applied."""
        found: dict[str, tuple[int, float]] = {}
        for text in self.read["incentives_applied"].dropna():
            for identifier, usd in incentive_amounts(text).items():
                count, sum_ = found.get(identifier, (0, 0.0))
                found[identifier] = (count + 1, sum_ + usd)
        return found

    @property
    def month_text(self) -> Markup:
        return self.say("program.month.text", count=self.counted(self.from_month_one, "from_month_one"))

    @property
    def from_month_one(self) -> int:
        values = self.read["pays_from_month_one"]
        return sum(1 for value in values.dropna() if value in (True, "True", "true", "yes"))

    @property
    def loan_rows(self) -> list[list[Markup]]:
        rows = []
        loans = self.read["loan"].dropna()
        for one, count in sorted(loans.value_counts().items(), key=lambda pair: (-pair[1], pair[0]))[:MOST_LOANS]:
            median = float(self.numbers["loan_average_month_usd"].loc[loans[loans == one].index].median())
            rows.append(
                [
                    self.language.name(self.title_of("loan", one)),
                    self.counted(int(count), f"loan.{one}.count"),
                    self.language.money(median, f"loan.{one}.median"),
                ]
            )
        return rows

    # -- when it pays --

    @property
    def bands(self) -> list[tuple[str, int]]:
        """Households by years until the money is back: bands of five years, then those that never get it back."""
        years = self.numbers["simple_payback_years"].loc[self.read.index]
        bands = []
        for low in range(0, max(self.program_file.study_years, 1), 5):
            high = min(low + 5, self.program_file.study_years)
            last = high == self.program_file.study_years
            inside = (years >= low) & ((years <= high) if last else (years < high))
            bands.append((self.language.plain("band.years", low=low, high=high), int(inside.sum())))
        return [*bands, (self.language.plain("band.never"), int(years.isna().sum()))]

    @property
    def when_text(self) -> Markup:
        if not len(self.read):
            return self.say("program.when.text_empty")
        years = self.numbers["simple_payback_years"].loc[self.read.index].fillna(float("inf"))
        middle = float(years.sort_values().iloc[(len(years) - 1) // 2])
        if middle == float("inf"):
            return self.say("program.when.text_none")
        return self.say("program.when.text", years=self.language.years(middle, "median.simple_payback_years"))

    @property
    def when_chart(self) -> Markup:
        words, counts = [name for name, _ in self.bands], [count for _, count in self.bands]
        fills = [drawings.FILLS[0]] * (len(words) - 1) + [drawings.FILLS[4]]
        return drawings.count_bars(
            words,
            counts,
            [f"band.{k}" for k in range(len(words))],
            fills,
            self.language.plain("program.when.title"),
            self.language.plain("program.when.desc", parts=self._parts(words, counts)),
            "when-chart",
        )

    # -- what could change that, what needs a look --

    @property
    def change_rows(self) -> list[list[Markup]]:
        fitting = self.read[self.decision.loc[self.read.index] != "not suitable"]
        needed = self.numbers["extra_help_usd"].loc[fitting.index].dropna()
        rows = []
        for usd in MORE_HELP_USD:
            reached = needed[needed <= usd]
            rows.append(
                [
                    self.language.whole_money(usd, "scale") if usd else self.say("program.change.none"),
                    self.counted(len(reached), f"reached.{usd}.count"),
                    self.language.whole_money(float(reached.sum()), f"reached.{usd}.sum"),
                ]
            )
        return rows

    @property
    def near_rows(self) -> list[list[Markup]]:
        here = self.decided("needs more help")
        needed = self.numbers["extra_help_usd"].loc[here.index].sort_values(kind="stable")
        rows = []
        for index in needed.index[:MOST_NEAR]:
            identifier = here.loc[index, "household_id"]
            cells = [
                self.language.money(float(self.numbers[name].loc[index]), f"household.{index}.{name}")
                for name in ("extra_help_usd", "net_cost_usd", "first_year_saving_usd")
            ]
            rows.append([self.language.identifier(identifier), *cells])
        return rows

    @property
    def misfits(self) -> list[tuple[Markup, Markup]]:
        forms = {key: re.compile(form.pattern) for key, form in FORMS if key in MISFITS}
        reasons = [str(text) for text in self.decided("not suitable")["reason"].dropna()]
        counts = {key: sum(1 for text in reasons if form.search(text)) for key, form in forms.items()}
        counts["other"] = sum(1 for text in reasons if not any(form.search(text) for form in forms.values()))
        return [(self.say(f"misfit.{key}"), self.counted(n, f"misfit.{key}")) for key, n in counts.items() if n]

    @property
    def bad_rows(self) -> list[tuple[Markup, Markup]]:
        here = self.decided("bad row")
        return [
            (
                self.say("program.look.row", row=self.language.identifier(index)),
                self.language.name(reason, longest=240),
            )
            for index, reason in here["reason"].head(MOST_BAD).items()
        ]

    @property
    def more_bad(self) -> int:
        return max(len(self.decided("bad row")) - MOST_BAD, 0)

    # -- cautions and sources --

    @property
    def cautions(self) -> list[tuple[Markup, Markup]]:
        return [(self.say(f"caution.{topic}"), self.say(f"caution.{topic}.text")) for topic in CAUTIONS]

    @property
    def sources_text(self) -> Markup:
        return self.say("program.sources.text", column=self.language.name("defaults_used"))

    @property
    def sources(self) -> list[Markup]:
        rows: list[Any] = [row for row in self.program_file.assumptions() if FOR_ALL.match(row[0])]
        return [self.language.name(f"{what}: {value} ({source})", longest=240) for what, value, source in rows][
            :MOST_SOURCES
        ]
