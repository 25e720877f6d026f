"""One household in full: `appraise` and the Appraisal it returns."""

from __future__ import annotations

import calendar
import copy
import datetime
import functools
import json
import os
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from . import _core
from .catalog import PathLike, Program, as_program
from .display import table_html
from .errors import Contradiction, MalformedText, NotAvailable, UnknownColumnWarning, UnknownName, error
from .sheet import checked_header, known_columns, percents, text_of, usual_columns

if TYPE_CHECKING:
    import pandas as pd

SECTIONS = (
    "summary",
    "measures",
    "year",
    "system",
    "incentives",
    "loans",
    "ledger",
    "cautions",
    "defaults_used",
    "measures_by_timing",
    "cost_tests",
    "tax",
)
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MONTHLY = (
    "mains_c",
    "tilted_kwh_m2_day",
    "load_kwh",
    "solar_kwh",
    "fuel_without_kwh",
    "backup_with_kwh",
    "pump_kwh",
    "solar_fraction",
)
# What only the hourly method knows.
SIMULATED = (
    "pump_hours",
    "high_limit_hours",
    "stagnation_hours",
    "hot_tap_hours",
    "tank_loss_kwh",
    "pipe_loss_kwh",
    "standby_loss_kwh",
)


class Measures(Mapping[str, Any]):
    """Measures of the purchase in cash, by name or as attributes; None where there is none, and why in `why_none`.

    US dollars, years, or shares of 1 (a rate of return of 0.08 is 8 % a year); `wl.result_columns()` says what each is.
    A read-only mapping: `dict(measures)`, `measures["net_savings_usd"]` and `measures.net_savings_usd` all work.
    """

    def __init__(self, values: Mapping[str, Any], why_none: Mapping[str, str]) -> None:
        self._values = dict(values)
        self.internal_rates: list[Any] = list(self._values.pop("internal_rates", []))
        """every internal rate of return a year; where it is not one, why_none["internal_rate_of_return"] says why"""
        self.why_none = dict(why_none)

    def __getitem__(self, name: str) -> Any:
        return self._values[name]

    def __getattr__(self, name: str) -> Any:
        if not name.startswith("_") and name in self._values:
            return self._values[name]
        raise AttributeError(f"no measure {name!r}; there are: {', '.join(self.__dict__.get('_values', ()))}")

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._values]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __repr__(self) -> str:
        return "\n".join(f"{name}: {text}" for name, text in self._texts())

    def _repr_html_(self) -> str:
        return table_html(self._texts())

    def _texts(self) -> list[tuple[str, str]]:
        def text(name: str, value: Any) -> str:
            if value is None:
                return f"none: {self.why_none.get(name, '')}"
            return _dollars(value) if name.endswith("_usd") else f"{value:.4g}"

        return [(name, text(name, value)) for name, value in self._values.items()]


@dataclass(frozen=True)
class Inputs:
    """What an appraisal was made from, so that it can be made again with a change."""

    header: list[str]
    cells: list[str | None]
    detail: str
    exact: bool

    def cell(self, column: str) -> str | None:
        """The cell of a column; None if it is empty or there is no such column."""
        names = [name.strip() for name in self.header]
        return self.cells[names.index(column)] if column in names else None


class Appraisal:
    """One household under one program: decision, measures, ledger, year, incentives, loans and cautions.

    Amounts are US dollars as float, or as decimal.Decimal when appraised with exact=True. It never changes; it pickles,
    copies and goes to JSON (`to_json`).
    """

    def __init__(
        self,
        held: Any = None,
        sections: Mapping[str, Any] | None = None,
        program: Program | None = None,
        inputs: Inputs | None = None,
    ) -> None:
        self._held = held  # what the library computed; sections are read from it when first asked for
        self._sections: dict[str, Any] = dict(sections or {})
        self._program = program
        self.inputs = inputs  # None if it was made from sections alone

    def _section(self, name: str) -> Any:
        if name not in self._sections:
            self._sections[name] = self._held.section(name)
        return self._sections[name]

    def __getstate__(self) -> tuple[dict[str, Any], Program | None, Inputs | None]:
        return self.to_dict(), self._program, self.inputs

    def __setstate__(self, state: tuple[dict[str, Any], Program | None, Inputs | None]) -> None:
        self.__init__(None, *state)  # type: ignore[misc]

    @property
    def program(self) -> Program:
        """The program it was appraised under."""
        if self._program is None:
            raise error(NotAvailable, "was made without its program", allowed="an Appraisal that appraise() returned")
        return self._program

    def with_changes(self, columns: Mapping[str, Any], program: Program | None = None) -> Appraisal:
        """The same household with other values in some columns of the sheet (None empties one), or another program.

        Example: one.with_changes({"installed_cost_usd": 7500}).measures.net_savings_usd
        Raises UnknownName for a name that is no column, and what `appraise` raises.
        """
        inputs = self.inputs
        if inputs is None:
            raise error(NotAvailable, "was made without its household", allowed="an Appraisal that appraise() returned")
        for name in columns:
            if name not in known_columns():
                raise error(UnknownName, "is no column of a household sheet", value=name, key="columns")
        cells = {name.strip(): cell for name, cell in zip(inputs.header, inputs.cells, strict=True)}
        cells.update({name: text_of(value) for name, value in columns.items()})
        return appraise_row(
            list(cells), list(cells.values()), program or self.program, detail=inputs.detail, exact=inputs.exact
        )

    def report(self, path: PathLike, language: str = "en") -> None:
        """Writes a page for the household: one HTML file that needs nothing else and prints on two pages.

        What it costs, what helps pay, a month with the loan, when it pays, what could change that, cautions, sources.
        language: "en" or "es". A file (.html) there is replaced when the page is whole. Raises FileUnreadable if
        it cannot be written, NotAvailable without the Python package Jinja2.
        """
        from .publish import household_report

        household_report(self, path, language)

    def __copy__(self) -> Appraisal:
        return Appraisal(self._held, self._sections, self._program, self.inputs)

    def __deepcopy__(self, memo: dict[int, Any]) -> Appraisal:
        return Appraisal(self._held, copy.deepcopy(self._sections, memo), self._program, self.inputs)

    @property
    def summary(self) -> dict[str, Any]:
        """Household, decision, reason, package, program, weather station, income tier and the like."""
        return dict(self._section("summary"))

    @property
    def household_id(self) -> str:
        return str(self._section("summary")["household_id"])

    @property
    def decision(self) -> str:
        """pays in cash, pays with loan, needs more help, does not pay, or not suitable."""
        return str(self._section("summary")["decision"])

    @property
    def study_years(self) -> int:
        return int(self._section("summary")["study_years"])

    @property
    def reason(self) -> str:
        """Why, with the figures behind it."""
        return str(self._section("summary")["reason"])

    @property
    def measures(self) -> Measures:
        values = dict(self._section("measures"))
        return Measures(values, values.pop("why_none"))

    def measures_under(self, timing: str) -> Measures:
        """The measures under a named timing convention.

        "monthly" is that of `measures`: every month's money at its end. "end_of_year", "mid_year" and "start_of_year"
        take the sum of each year there, and remaining values at the end of the study. What no timing touches (costs,
        first-year saving, burdens, and extra_help_usd, which follows the thresholds) is the same under all.
        """
        by_timing = self._section("measures_by_timing")
        if timing not in by_timing:
            raise error(UnknownName, "is not known", value=repr(timing), allowed=", ".join(by_timing), key="timing")
        values = dict(by_timing[timing])
        return Measures(values, values.pop("why_none"))

    @property
    def cost_tests(self) -> pd.DataFrame:
        """The five cost tests of the purchase in cash, by name: title, discount_rate, benefits_usd, costs_usd, net_usd,
        ratio and why_none. No rows where the program file has no [cost_tests].

        Present values on the install date at each test's own rate. wl.economics.cost_test_table() says what enters.
        """
        import pandas as pd

        columns = ["test", "title", "discount_rate", "benefits_usd", "costs_usd", "net_usd", "ratio", "why_none"]
        frame = pd.DataFrame(self._section("cost_tests"), columns=columns)
        return frame.set_index("test")

    @property
    def system(self) -> dict[str, Any]:
        """Collectors, tank and roof in SI units, and the heater in use."""
        return dict(self._section("system"))

    @property
    def cautions(self) -> list[tuple[str, str]]:
        """(topic, text): what can hurt a person or a house. Local codes and licensed practice decide."""
        return list(self._section("cautions"))

    @property
    def defaults_used(self) -> list[str]:
        """Everything that was assumed because the household does not say, as "what = value (why)"."""
        return list(self._section("defaults_used"))

    @property
    def incentives(self) -> pd.DataFrame:
        """Every incentive of the program, applied or not, with amount and reason.

        Of one that another excludes: `instead`, the one taken, and `less_usd`, by how much the best combination with it
        is worth less. `as_if` is not empty for a what-if, which is not the law. Not tax advice.
        """
        import pandas as pd

        columns = [
            "id",
            "title",
            "payer",
            "kind",
            "applied",
            "amount_usd",
            "base_usd",
            "reason",
            "citation",
            "standing",
            "paid_by",
            "computed_usd",
            "income_tax_usd",
            "avoided_usd_year",
            "first_date",
            "instead",
            "less_usd",
            "as_if",
        ]
        return pd.DataFrame(self._section("incentives"), columns=columns)

    @property
    def tax(self) -> pd.DataFrame:
        """Credits and deductions by tax year: tax left for each, used, carried forward, lapsed, in dollars.

        `estimated` is true where the household did not give its liability. Not tax advice: ask a qualified preparer.
        """
        import pandas as pd

        columns = [
            "year",
            "tax",
            "id",
            "kind",
            "liability_usd",
            "available_usd",
            "used_usd",
            "carried_usd",
            "lapsed_usd",
            "estimated",
            "as_if",
        ]
        return pd.DataFrame(self._section("tax"), columns=columns)

    @property
    def loans(self) -> pd.DataFrame:
        """The loans of the program that lend this sum, side by side: one row a loan.

        payment_usd is the agreed level payment, average_month_usd the first year's saving less the payments of the
        loan's costliest year, over 12; coverage is the one over the other. apr and the three sums beside it are those
        of a disclosure (a creditor's own governs). months_out_of_pocket, deepest_usd and deepest_month follow the
        household's purse month by month, replacements and incentives included. owed_at_study_end_usd counts as paid
        then in net_savings_usd. shape is empty for level monthly payments without charges. Ratios are decimals; where
        one is None, why_none says why.
        """
        import pandas as pd

        columns = [
            "id",
            "title",
            "yearly_rate",
            "term_months",
            "amount_usd",
            "payment_usd",
            "total_interest_usd",
            "cash_at_install_usd",
            "average_month_usd",
            "lowest_month_usd",
            "net_savings_usd",
            "pays_from_month_one",
            "shape",
            "apr",
            "amount_financed_usd",
            "finance_charge_usd",
            "total_of_payments_usd",
            "first_payment_usd",
            "first_payment_date",
            "coverage",
            "months_out_of_pocket",
            "deepest_usd",
            "deepest_month",
            "debt_ratio_before",
            "debt_ratio_after",
            "energy_burden",
            "owed_at_study_end_usd",
            "dealer_fee_usd",
            "points_and_fee_usd",
            "sponsor",
            "sponsor_cost_usd",
            "collected_on",
            "why_none",
        ]
        return pd.DataFrame(self._section("loans"), columns=columns)

    def ledger(self, by: str | None = None, *, dollars: str = "nominal") -> pd.DataFrame:
        """The money of the study, in cash, with the system and without it; costs are negative.

        by       None: every amount, as date, month, world, category, amount_usd, reason. Month 0 is the install date.
                 "month" or "year": sums, as date, month or year, world, category, amount_usd. Year 0 is the install
                 date, year 1 the months 1 to 12, and so on; the date is the last day of the period's billing.
        dollars  "nominal": of the day; "constant": of the install date, general inflation taken off.

        Sums of the categories give the world's total, and "with" less "without" what the system changes.
        """
        import pandas as pd

        for name, value, allowed in (
            ("by", by, (None, "month", "year")),
            ("dollars", dollars, ("nominal", "constant")),
        ):
            if value not in allowed:
                words = ", ".join(str(word) for word in allowed)
                raise error(UnknownName, "is not known", key=name, value=repr(value), allowed=words)
        columns = dict(self._section("ledger"))
        constant = columns.pop("constant_usd")
        if dollars == "constant":
            columns["amount_usd"] = constant
        frame = pd.DataFrame(columns)[["date", "month", "world", "category", "amount_usd", "reason"]]
        if by is None:
            return frame
        if by == "year":
            frame["year"] = (frame["month"] + 11) // 12
        start = self._section("summary")["install_date"]
        sums = frame.groupby([by, "world", "category"], sort=True, as_index=False)["amount_usd"].sum()
        months = sums[by] * (12 if by == "year" else 1)
        sums.insert(0, "date", [_months_after(start, int(month)) for month in months])
        return sums

    def yearly(self, *, dollars: str = "nominal") -> pd.DataFrame:
        """The ledger by year: year 0 is the install date, year 1 months 1 to 12. Columns: world, then category."""
        frame = self.ledger(dollars=dollars)
        frame["year"] = (frame["month"] + 11) // 12
        return frame.pivot_table(
            index="year", columns=["world", "category"], values="amount_usd", aggfunc="sum", fill_value=0
        )

    def year(self) -> pd.DataFrame:
        """Energies of the twelve months: one row a month; units stand in the column names."""
        import pandas as pd

        section = self._section("year")
        names = MONTHLY + (SIMULATED if section["detail"] == "hourly" else ())
        return pd.DataFrame({name: section[name] for name in names}, index=pd.Index(MONTHS, name="month"))

    def loan_worksheet(self, path: PathLike, *, loan: str | None = None, overwrite: bool = True) -> None:
        """Write the offer with one loan as a workbook (.xlsx) whose formulas follow when somebody changes the inputs.

        path       where to write; the file is moved in place when it is whole
        loan       id of a loan of `loans`; None: the best one
        overwrite  False: raise Contradiction when a file stands there

        Cost, incentives, rate, term, largest sum lent, discount rate and the level of energy prices may be changed;
        payment schedule, cash flow by year, paybacks and net savings follow. Raises MissingValue if there is no loan,
        UnknownName for one that is not in `loans`, NotAvailable for one whose payments are not level.
        """
        from .outputs import outputs
        from .worksheet import write_worksheet

        with outputs([os.fspath(path)], force=overwrite, endings=(".xlsx",)) as (output,):
            write_worksheet(output.temporary, self, loan)

    def hours(self) -> pd.DataFrame:
        """The 8760 hours of the simulated year: month, day, hour (its start, 0 to 23, standard time), and

        dry_bulb_c        outdoor air, degrees C
        irradiance_w_m2   sun on the collectors behind their glass, W/m2, before the yearly shading comes off
        collector_c       collector, degrees C at the end of the hour
        tank_top_c, tank_bottom_c   solar tank, degrees C at the end of the hour
        drawn_l           hot water drawn at the taps, litres
        solar_w           mean heat into the solar tank, W
        backup_w          mean energy that the backup takes in, W

        Simulated once more when first asked for. Raises NotAvailable for an appraisal by the monthly method.
        """
        import numpy as np
        import pandas as pd

        if "hours" not in self._sections:
            held = self._held or self.with_changes({})._held  # one that came through a pickle holds its inputs only
            self._sections["hours"] = held.hours()
        days = pd.date_range("2001-01-01", periods=8760, freq="h")  # any year of 365 days
        clock = {"month": days.month, "day": days.day, "hour": days.hour}
        return pd.DataFrame(
            {name: np.asarray(values, dtype=np.int64) for name, values in clock.items()} | self._sections["hours"]
        )

    def to_dict(self) -> dict[str, Any]:
        """Everything but the hours, as plain Python objects."""
        return {name: self._section(name) for name in SECTIONS}

    def to_json(self, indent: int | None = None) -> str:
        """All but the hours as JSON; dates in ISO form, decimals as text, so that none of their digits is lost."""
        return json.dumps(self.to_dict(), indent=indent, default=_plain, allow_nan=False, ensure_ascii=False)

    def __repr__(self) -> str:
        m = self.measures
        return (
            f"<Appraisal {self.household_id}: {self.decision}; net cost {_dollars(m.net_cost_usd)}, first-year saving "
            f"{_dollars(m.first_year_saving_usd)}, net savings {_dollars(m.net_savings_usd)}>"
        )

    def _repr_html_(self) -> str:
        rows = [("Household", self.household_id), ("Decision", self.decision), ("Reason", self.reason)]
        return table_html([*rows, *self.figures(), *((f"Caution: {topic}", text) for topic, text in self.cautions)])

    def figures(self) -> list[tuple[str, str]]:
        """The main figures as (label, text), for display."""
        m, summary, year = self.measures, self._section("summary"), self._section("year")

        def shown(name: str, form: str, scale: int = 1) -> str:
            if m[name] is None:
                return f"none: {m.why_none[name]}"
            return form.format(m[name] * scale)

        return [
            ("Package", f"{summary['package_title']} ({summary['package']})"),
            ("Income tier", f"{summary['income_tier']}, {summary['income_share']:.0%} of area median income"),
            ("Solar share of hot water", f"{year['solar_fraction_by_heat']:.0%} a year"),
            ("Installed cost", _dollars(m.installed_cost_usd)),
            ("Incentives", _dollars(m.incentives_usd)),
            ("Net cost", _dollars(m.net_cost_usd)),
            ("Water heating, first year, without", _dollars(m.first_year_cost_without_usd)),
            ("Water heating, first year, with", _dollars(m.first_year_cost_with_usd)),
            ("First-year saving", _dollars(m.first_year_saving_usd)),
            ("Simple payback", shown("simple_payback_years", "{:.1f} years")),
            ("Discounted payback", shown("discounted_payback_years", "{:.1f} years")),
            ("Net savings, present value", _dollars(m.net_savings_usd)),
            ("Savings-to-investment ratio", shown("savings_to_investment", "{:.2f}")),
            (
                "Adjusted internal rate of return",
                shown("adjusted_internal_rate_of_return", "{:.2f} % a year, nominal", 100),
            ),
            ("Life-cycle cost without", _dollars(m.life_cycle_cost_without_usd)),
            ("Life-cycle cost with", _dollars(m.life_cycle_cost_with_usd)),
            ("Extra help to meet the thresholds", shown("extra_help_usd", "${:,.2f}")),
        ]


def appraise(
    household: Any,
    program: Program | PathLike,
    *,
    detail: str = "hourly",
    exact: bool = False,
) -> Appraisal:
    """Appraises one household.

    household  a mapping of column names of a household sheet, or a row of a frame (a Series or a one-row frame)
    program    a Program, or the path of a program file
    detail     "hourly" (simulation in steps of 15 minutes) or "monthly" (the X-Y correlation, faster)
    exact      compute every amount with 50 decimal digits; amounts are then decimal.Decimal

    Raises an error of `warmledger.errors` for a household that cannot be appraised. A column that is not known gives an
    UnknownColumnWarning.
    """
    header, cells = cells_of(household, stacklevel=3)
    return appraise_row(header, cells, as_program(program), detail=detail, exact=exact)


def cells_of(household: Any, *, stacklevel: int) -> tuple[list[str], list[str | None]]:
    """Names of columns and cells of a household; what `appraise` raises and warns of."""
    if getattr(household, "ndim", 1) == 2:
        if len(household) != 1:
            raise error(
                Contradiction, "is not one household", value=f"{len(household)} rows", allowed="a frame of one row"
            )
        household = {name: household[name].iloc[0] for name in household.columns}
    if not hasattr(household, "keys"):
        raise error(
            MalformedText,
            "is not a household",
            key="household",
            value=repr(household)[:80],
            allowed="a mapping of column names to values, or one row of a frame",
        )
    header, in_percent, plain = _columns_of(tuple(map(str, household.keys())))
    cells = [text_of(household[name]) for name in household.keys()]  # noqa: SIM118  (a Series iterates over values)
    for place, name in in_percent:
        cells[place] = percents(name, [cells[place]])[0]
    # Asking the library costs more than the rest of this function: only where the header may be at fault.
    for name, nearest in [] if plain else _core.screening.check(header, [[c] for c in cells], "")["unknown_columns"]:
        hint = f" (did you mean {nearest}?)" if nearest else ""
        warnings.warn(
            f"{name!r} is no column of a household sheet and was not used{hint}",
            UnknownColumnWarning,
            stacklevel=stacklevel,
        )
    return list(header), cells


@functools.lru_cache(maxsize=64)
def _columns_of(names: tuple[str, ...]) -> tuple[list[str], list[tuple[int, str]], bool]:
    """A header that may stand; its columns in percent, by place; and whether nothing in it is unknown or missing."""
    header = checked_header(list(names), "")
    stripped = [name.strip() for name in header]
    in_percent = [(place, name) for place, name in enumerate(stripped) if name.endswith("_pct")]
    return header, in_percent, known_columns().issuperset(header) and usual_columns().issubset(header)


def appraise_row(
    header: list[str],
    cells: list[str | None],
    program: Program,
    *,
    file: str = "",
    row: int = 1,
    detail: str = "hourly",
    exact: bool = False,
) -> Appraisal:
    """The same for a row of a sheet that was read as text."""
    held = program.appraiser.appraise(header, cells, file, row, detail, exact)
    return Appraisal(held, program=program, inputs=Inputs(header, cells, detail, exact))


def _months_after(start: datetime.date, months: int) -> datetime.date:
    """The same day so many months later; a day that the month lacks becomes its last one."""
    year, month = divmod(start.year * 12 + start.month - 1 + months, 12)
    return datetime.date(year, month + 1, min(start.day, calendar.monthrange(year, month + 1)[1]))


def _dollars(value: float | Decimal) -> str:
    text = f"{abs(value):,.2f}"
    return f"-${text}" if value < 0 and float(text.replace(",", "")) else f"${text}"


def _plain(value: Any) -> str:
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    raise TypeError(f"{type(value).__name__} has no JSON form")
