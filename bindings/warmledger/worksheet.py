"""The loan worksheet: one household's offer as a workbook whose formulas a spreadsheet program recalculates.

Sheets: Offer (inputs and results), Payments (the schedule), Years (cash flow by year), Months (what the others sum up),
Notes. The formulas are those of the library; every cell also holds the value the library works out, for programs that
show a workbook without recalculating it.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .appraisal import _months_after
from .catalog import PathLike
from .errors import MissingValue, NotAvailable, UnknownName, error
from .loans import LoanTerms
from .loans import schedule as schedule_of_terms
from .styles import NOTICE, Styles, cut, new_workbook, printed

if TYPE_CHECKING:
    from .appraisal import Appraisal

LONGEST_TERM_MONTHS = 600
SPARE_INCENTIVES = 2
WITHOUT, WITH = "without", "with"
BILLS = ("fuel", "pump electricity")
NEVER = "none within the study"
FIRST = 4  # row of month 0, and of the first payment less one, on their sheets


@dataclass(frozen=True)
class Offer:
    """What the worksheet starts from, as float."""

    appraisal: Appraisal
    loan: dict[str, Any]
    start: datetime.date
    months: int
    discount_rate: float
    cost: float
    incentives: list[tuple[str, int, float]]  # title, month, amount
    most_lent: float | None
    without: list[float]  # water heating bills by month, costs positive
    bills_with: list[float]
    other: list[float]  # upkeep, replacements and whatever else differs, with less without
    worth: list[float]  # remaining values that do not depend on the price
    late_incentives: float  # those that arrive after the study
    system_worth_share: float  # the system's remaining value over its cost after incentives


def offer_of(appraisal: Appraisal, loan: str | None) -> Offer:
    """Everything the worksheet needs, out of an appraisal. Raises for a loan it cannot hold."""
    summary, measures = appraisal.summary, appraisal.measures
    loans = {row["id"]: row for row in appraisal.loans.to_dict("records")}
    if not loans:
        raise error(
            MissingValue,
            "has no loan to lay out",
            value=appraisal.household_id,
            allowed="an appraisal under a program with a loan, and a sum due at install",
            key="loan",
        )
    chosen = loan if loan is not None else summary["best_loan"] or next(iter(loans))
    if chosen not in loans:
        raise error(
            UnknownName, "is no loan of this appraisal", value=str(chosen), allowed=", ".join(loans), key="loan"
        )
    terms = loans[chosen]
    months = appraisal.study_years * 12
    table = {name: [0.0] * (months + 1) for name in ("without", "bills_with", "other", "worth")}
    incentives: list[tuple[str, int, float]] = []
    system_worth = 0.0
    for entry in appraisal.ledger().to_dict("records"):
        month, world, category = entry["month"], entry["world"], entry["category"]
        amount = float(entry["amount_usd"])
        signed = amount if world == WITH else -amount
        if category in BILLS:
            table["without" if world == WITHOUT else "bills_with"][month] -= amount
        elif category == "incentive":
            incentives.append((str(entry["reason"]), month, amount))
        elif category == "remaining value":
            if world == WITH and str(entry["reason"]).startswith("system"):
                system_worth += amount
            else:
                table["worth"][month] += signed
        elif category != "installed cost":
            table["other"][month] += signed
    # What arrives after the study is in no month of it, but lowers what the household paid for the system.
    promised = sum(float(usd) for rule in appraisal._section("incentives") for _, usd in rule["payments"])
    late = max(promised - sum(usd for *_, usd in incentives), 0.0)
    kept = float(measures["net_cost_usd"]) - late
    most = _said_of_loan(appraisal, chosen, "largest_usd")
    terms["rounding"] = _said_of_loan(appraisal, chosen, "rounding") or "half_up"
    return Offer(
        appraisal,
        terms,
        summary["install_date"],
        months,
        appraisal.program.core.nominal_discount_rate,
        float(measures["installed_cost_usd"]),
        incentives,
        None if most is None else float(most),
        table["without"],
        table["bills_with"],
        table["other"],
        table["worth"],
        late,
        system_worth / kept if kept > 0 else 0.0,
    )


def _said_of_loan(appraisal: Appraisal, loan: str, key: str) -> Any:
    """What the program file says of a loan, None where it leaves a key out."""
    try:
        return appraisal.program.setting(f'loan."{loan}".{key}')
    except UnknownName:
        return None


def schedule_of(offer: Offer) -> dict[str, list[Any]]:
    """The library's schedule of the loan. Raises NotAvailable if its payments are not level."""
    loan = offer.loan
    terms = LoanTerms(
        amount_usd=float(loan["amount_usd"]),
        yearly_rate=float(loan["yearly_rate"]),
        term_months=int(loan["term_months"]),
        start=offer.start,
        rounding=loan["rounding"],
    )
    schedule: dict[str, list[Any]] = schedule_of_terms(terms).to_dict("list")
    paid = schedule["payment_usd"]
    level = paid[0] if paid else 0.0
    interest = sum(schedule["interest_usd"])
    if (
        loan["shape"]
        or abs(level - float(loan["payment_usd"])) > 0.005
        or abs(interest - float(loan["total_interest_usd"])) > 0.005
    ):
        raise error(
            NotAvailable,
            "has payments that are not level, which this worksheet does not hold",
            value=str(loan["id"]),
            allowed="a loan with level monthly payments and no fees",
            key="loan",
        )
    return schedule


def cents(amount: str, rounding: str) -> str:
    """Formula of a positive amount rounded to cents; a tie is a tie although binary fractions miss it by a little."""
    near = f"ROUND({amount},8)"
    return {
        "half_up": f"ROUND({amount},2)",
        "half_even": f"IF(MOD(ROUND(100*({amount}),6),2)=0.5,ROUNDDOWN({near},2),ROUND({amount},2))",
        "up": f"ROUNDUP({near},2)",
        "down": f"ROUNDDOWN({near},2)",
    }[rounding]


def write_worksheet(path: PathLike, appraisal: Appraisal, loan: str | None) -> None:
    """Writes the worksheet of one appraisal and one of its loans; see Appraisal.loan_worksheet."""
    offer = offer_of(appraisal, loan)
    schedule = schedule_of(offer)
    with new_workbook(path, f"Loan worksheet, household {appraisal.household_id}") as book:
        _Writer(book, offer, schedule).write()


class _Writer:
    def __init__(self, book: Any, offer: Offer, schedule: dict[str, list[Any]]) -> None:
        self.book, self.offer, self.schedule = book, offer, schedule
        self.style = Styles(book)
        self.rounding = offer.loan["rounding"]
        self.money = self.style.number("US dollars", 2)
        self.quiet = self.style.number("US dollars", 2, quiet_zero=True)
        self.whole = self.style.number("", 0)
        self.tenth = self.style.number("", 1)
        self.pages = {name: book.add_worksheet(name) for name in ("Offer", "Payments", "Years", "Months", "Notes")}
        self.live: dict[str, Any] = {}  # values of the results, as the library has them
        self.first_incentive = self.last_incentive = 0

    def write(self) -> None:
        self.compute()
        self.front()
        self.payments()
        self.years()
        self.months_page()
        self.notes()
        self.pages["Offer"].activate()

    # ---- the values that the formulas come to before anyone changes an input ----

    def compute(self) -> None:
        offer, paid = self.offer, self.schedule["payment_usd"]
        balance = self.schedule["balance_usd"]
        size = offer.months + 1
        flow: dict[str, list[float]] = {}
        flow["saving"] = [a - b for a, b in zip(offer.without, offer.bills_with, strict=True)]
        flow["incentive"] = [sum(usd for _, month, usd in offer.incentives if month == m) for m in range(size)]
        flow["cost"] = [-offer.cost, *[0.0] * offer.months]
        flow["cash"] = [
            flow["saving"][m] + offer.other[m] + flow["incentive"][m] + flow["cost"][m] for m in range(size)
        ]
        flow["factor"] = [(1 + offer.discount_rate) ** (-m / 12) for m in range(size)]
        flow["discounted"] = [flow["cash"][m] * flow["factor"][m] for m in range(size)]
        kept = max(offer.cost - sum(usd for *_, usd in offer.incentives) - offer.late_incentives, 0.0)
        flow["worth"] = [*offer.worth[:-1], offer.worth[-1] + kept * offer.system_worth_share]
        flow["advance"] = [float(offer.loan["amount_usd"]), *[0.0] * offer.months]
        flow["payment"] = [0.0, *[-paid[m - 1] if m <= len(paid) else 0.0 for m in range(1, size)]]
        flow["settled"] = [*[0.0] * offer.months, -balance[size - 2] if len(balance) > size - 2 else 0.0]
        flow["financed"] = [
            flow["cash"][m] + flow["advance"][m] + flow["payment"][m] + flow["settled"][m] for m in range(size)
        ]
        loan_savings = sum((flow["financed"][m] + flow["worth"][m]) * flow["factor"][m] for m in range(size))
        if abs(loan_savings - float(offer.loan["net_savings_usd"])) > 0.005:
            raise error(
                NotAvailable,
                "has a fee, a tax saving or another amount that this worksheet does not hold",
                value=str(offer.loan["id"]),
                allowed="a loan with level monthly payments and nothing beside them",
                key="loan",
            )
        for name in ("cash", "discounted", "financed"):
            flow[f"running {name}"] = running(flow[name])
        for name in ("cash", "discounted"):
            sums = flow[f"running {name}"]
            flow[f"crossing {name}"] = [
                0.0
                if m == 0 and sums[0] >= 0
                else m - 1 - sums[m - 1] / flow[name][m]
                if m > 0 and sums[m] >= 0 > sums[m - 1]
                else None  # type: ignore[misc]
                for m in range(size)
            ]
        self.flow = flow

    # ---- Offer ----

    def front(self) -> None:
        offer, page, style = self.offer, self.pages["Offer"], self.style
        summary, measures, loan = offer.appraisal.summary, offer.appraisal.measures, offer.loan
        page.hide_gridlines(2)
        page.set_column(0, 0, 46)
        page.set_column(1, 1, 19)
        page.set_column(2, 2, 38)
        page.set_column(3, 4, 19)
        page.write_string(0, 0, cut(f"Loan worksheet: household {offer.appraisal.household_id}", 200), style.title)
        page.set_row(0, 24)
        page.write_string(1, 0, cut(f"{summary['package_title']}; {loan['title']}", 300), style.plain)
        page.write_string(2, 0, cut(str(summary["program_title"]), 300), style.plain)
        row = 3
        if summary["program_note"]:
            page.merge_range(row, 0, row, 4, "", style.note)
            page.write_string(row, 0, cut(str(summary["program_note"])), style.note)
            page.set_row(row, 32)
            row += 1
        page.merge_range(row, 0, row, 4, "", style.notice)
        page.write_string(row, 0, NOTICE, style.notice)
        page.set_row(row, 34)
        row += 2
        row = self.inputs(row)
        row = self.results(row + 1, measures)
        self.chart(row + 1)
        page.set_portrait()
        page.set_paper(1)
        page.fit_to_pages(1, 1)
        page.print_area(0, 0, row + 21, 4)

    def inputs(self, row: int) -> int:
        """Inputs and their names; returns the row after them."""
        offer, page, style, loan = self.offer, self.pages["Offer"], self.style, self.offer.loan
        page.write_string(row, 0, "Inputs: change the blue cells", style.section)
        row += 1
        for c, text in enumerate(("", "now", "unit and range", "appraised with")):
            page.write_string(
                row, c, text, style.header_right if c in (1, 3) else style.header_indented if c else style.header
            )
        at_least_0: dict[str, Any] = {"validate": "decimal", "criteria": ">=", "value": 0}
        rate: dict[str, Any] = {"validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 1}
        lines: list[tuple[str, str, Any, str, str, dict[str, Any]]] = [
            ("installed_cost", "Installed cost", offer.cost, "money", "US dollars, 0 or more", at_least_0),
            ("yearly_rate", "Yearly rate of the loan", float(loan["yearly_rate"]), "rate", "a year, 0 to 100 %", rate),
            (
                "term_months",
                "Term of the loan",
                int(loan["term_months"]),
                "whole",
                f"months, 1 to {LONGEST_TERM_MONTHS}",
                {"validate": "integer", "criteria": "between", "minimum": 1, "maximum": LONGEST_TERM_MONTHS},
            ),
            ("most_lent", "Most the lender lends", offer.most_lent, "money", "US dollars; empty: no limit", at_least_0),
            (
                "discount_rate",
                "Discount rate, nominal",
                offer.discount_rate,
                "rate",
                "a year, -50 % to 100 %",
                {**rate, "minimum": -0.5},
            ),
            (
                "energy_price_level",
                "Energy prices against the appraised ones",
                1.0,
                "rate",
                "100 %: the prices of the appraisal",
                {**rate, "maximum": 10},
            ),
        ]
        inputs = {
            "money": style.input("$#,##0.00;-$#,##0.00"),
            "rate": style.input("0.00%"),
            "whole": style.input("#,##0"),
        }
        shown = {
            "money": self.money,
            "rate": self.book.add_format({**style.base, "num_format": "0.00%", "align": "right", "indent": 1}),
            "whole": self.whole,
        }
        for name, label, value, kind, unit, rule in lines:
            row += 1
            page.write_string(row, 0, label, style.plain)
            page.write_string(row, 2, unit, style.indented)
            if value is None:
                page.write_blank(row, 1, None, inputs[kind])
                page.write_string(row, 3, "no limit", style.right)
            else:
                page.write_number(row, 1, value, inputs[kind])
                page.write_number(row, 3, value, shown[kind])
            page.data_validation(
                row, 1, row, 1, {**rule, "error_title": "Not allowed", "error_message": f"{label}: {unit}"}
            )
            self.book.define_name(name, f"=Offer!$B${row + 1}")
        row += 2
        for c, text in enumerate(("incentive", "amount, US dollars", "months after install", "appraised with")):
            page.write_string(row, c, text, style.header_right if c else style.header)
        self.first_incentive = row + 1
        spare = [("more help", 0, 0.0)] * SPARE_INCENTIVES
        for title, month, usd in [*offer.incentives, *spare]:
            row += 1
            page.write_string(row, 0, cut(title, 200), style.input("@", align="left"))
            page.write_number(row, 1, usd, inputs["money"])
            page.write_number(row, 2, month, inputs["whole"])
            page.write_number(row, 3, usd, self.money)
        self.last_incentive = row
        page.data_validation(
            self.first_incentive,
            1,
            row,
            1,
            {**at_least_0, "error_title": "Not allowed", "error_message": "Allowed: US dollars, 0 or more"},
        )
        page.data_validation(
            self.first_incentive,
            2,
            row,
            2,
            {
                "validate": "integer",
                "criteria": "between",
                "minimum": 0,
                "maximum": offer.months,
                "error_title": "Not allowed",
                "error_message": f"Allowed: whole months, 0 (at install) to {offer.months}",
            },
        )
        low, high = self.first_incentive + 1, row + 1
        self.book.define_name("incentive_usd", f"=Offer!$B${low}:$B${high}")
        self.book.define_name("incentive_month", f"=Offer!$C${low}:$C${high}")
        row += 1
        count = 5 + 2 * (high - low + 1)
        numbers = (
            "installed_cost,yearly_rate,term_months,discount_rate,energy_price_level,incentive_usd,incentive_month"
        )
        page.merge_range(row, 0, row, 4, "", style.bold)
        page.write_formula(
            row,
            0,
            f'=IF(COUNT({numbers})<{count},"CHECK: an input is empty or no number",'
            "IF(OR(MIN(installed_cost,yearly_rate,energy_price_level,incentive_usd,incentive_month)<0,"
            f"N(most_lent)<0,yearly_rate>1,discount_rate<-0.5,discount_rate>1,term_months<1,"
            f"term_months>{LONGEST_TERM_MONTHS},term_months<>INT(term_months),MAX(incentive_month)>{offer.months},"
            'SUMPRODUCT(ABS(incentive_month-INT(incentive_month)))>0),"CHECK: an input is out of its range",'
            '"All inputs are in their ranges."))',
            style.bold,
            "All inputs are in their ranges.",
        )
        page.conditional_format(
            row, 0, row, 0, {"type": "text", "criteria": "begins with", "value": "CHECK", "format": style.alarm}
        )
        return row + 1

    def results(self, row: int, measures: Any) -> int:
        """Results, now and as the library appraised them; returns the row after them."""
        offer, page, style, loan = self.offer, self.pages["Offer"], self.style, self.offer.loan
        page.write_string(row, 0, "Results", style.section)
        kinds = (style.header, style.header_right, style.header_indented, style.header_right, style.header_right)
        row += 1
        for c, text in enumerate(("", "now", "unit", "as appraised", "change")):
            page.write_string(row, c, text, kinds[c])
        last = FIRST + 1 + offer.months  # of the months, counted from 1 as in formulas

        def months(column: str) -> str:
            return f"Months!${column}${FIRST + 1}:${column}${last}"

        year_one = f"${FIRST + 2}:${{0}}${FIRST + 13}"

        def first_year(column: str) -> str:
            return f"Months!${column}" + year_one.format(column)

        def first_crossing(column: str) -> str:
            return f'=IF(COUNT({months(column)})=0,"{NEVER}",MIN({months(column)})/12)'

        payment = cents(
            "IF(yearly_rate=0,amount_lent/term_months,PMT(yearly_rate/12,term_months,-amount_lent))", self.rounding
        )
        paid = f"Payments!${{0}}${FIRST + 2}:${{0}}${FIRST + 1 + LONGEST_TERM_MONTHS}"
        usd, present = "US dollars", "US dollars, present value"
        own = float(loan["cash_at_install_usd"])
        dues = "installed_cost-SUMIFS(incentive_usd,incentive_month,0)"
        received = f'SUMIFS(incentive_usd,incentive_month,"<={offer.months}")'
        lines: list[tuple[str, str, str, str, Any, Any]] = [
            ("due_at_install", "Due at install, after incentives of that day", f"={dues}", usd, self.money,
             measures["due_at_install_usd"]),
            ("amount_lent", "Amount lent", "=ROUND(MAX(0,IF(ISNUMBER(most_lent),MIN(due_at_install,most_lent),"
             "due_at_install)),2)", usd, self.money, loan["amount_usd"]),
            ("paid_at_install", "Found by the household at install", "=ROUND(due_at_install-amount_lent,2)", usd,
             self.money, own),
            ("monthly_payment", "Monthly payment", f"=IF(amount_lent=0,0,MAX(0.01,{payment}))", "US dollars a month",
             self.money, loan["payment_usd"]),
            ("total_interest", "Interest over the term", f"=SUM({paid.format('D')})", usd, self.money,
             loan["total_interest_usd"]),
            ("net_cost", "Net cost, after all incentives", f"=installed_cost-{received}", usd, self.money,
             measures["net_cost_usd"]),
            ("first_year_saving", "First-year saving on water heating", f"=SUM({first_year('F')})", usd, self.money,
             measures["first_year_saving_usd"]),
            ("average_month", "Average month of year 1, saving less payment",
             f"=(first_year_saving+SUM({first_year('S')}))/12", "US dollars a month", self.money,
             loan["average_month_usd"]),
            ("lowest_month", "Lowest month of year 1, saving less payment", f"=MIN({first_year('U')})",
             "US dollars a month", self.money, loan["lowest_month_usd"]),
            ("month_one", "Pays from month one", '=IF(AND(paid_at_install<=0,average_month>=0),"yes","no")',
             "nothing at install, month not below 0", style.right, "yes" if loan["pays_from_month_one"] else "no"),
            ("simple_payback", "Simple payback, in cash", first_crossing("N"), "years", self.tenth,
             measures["simple_payback_years"]),
            ("discounted_payback", "Discounted payback, in cash", first_crossing("Q"), "years", self.tenth,
             measures["discounted_payback_years"]),
            ("net_savings_cash", "Net savings, in cash", f"=SUMPRODUCT({months('L')}+{months('K')},{months('O')})",
             present, self.money, measures["net_savings_usd"]),
            ("net_savings_loan", "Net savings, with the loan", f"=net_savings_cash+SUMPRODUCT({months('R')}+"
             f"{months('S')}+{months('T')},{months('O')})", present, self.money, loan["net_savings_usd"]),
        ]  # fmt: skip
        for name, label, formula, unit, form, appraised in lines:
            row += 1
            value = NEVER if appraised is None else appraised if isinstance(appraised, str) else float(appraised)
            self.live[name] = value
            page.write_string(row, 0, label, style.plain)
            page.write_formula(row, 1, formula, form, value)
            page.write_string(row, 2, unit, style.indented)
            if isinstance(value, str):
                page.write_string(row, 3, value, style.right)
            else:
                page.write_number(row, 3, value, form)
            cells = f"B{row + 1}", f"D{row + 1}"
            page.write_formula(
                row,
                4,
                f'=IF(AND(ISNUMBER({cells[0]}),ISNUMBER({cells[1]})),ROUND({cells[0]}-{cells[1]},6),IF({cells[0]}={cells[1]},"",'
                '"changed"))',
                form,
                "" if isinstance(value, str) else 0.0,
            )
            self.book.define_name(name, f"=Offer!$B${row + 1}")
        return row + 1

    def chart(self, row: int) -> None:
        axis: dict[str, Any] = {"num_font": {"size": 10}, "name_font": {"size": 10, "bold": False}}
        chart = self.book.add_chart({"type": "line"})
        first, last = FIRST, FIRST + self.offer.appraisal.study_years
        for column, name, line in (
            (11, "in cash", {"color": "#0072B2", "width": 2.25}),
            (14, "with the loan", {"color": "#D55E00", "width": 2.25, "dash_type": "dash"}),
        ):
            chart.add_series(
                {
                    "name": name,
                    "categories": ["Years", first, 0, last, 0],
                    "values": ["Years", first, column, last, column],
                    "line": line,
                }
            )
        chart.set_title(
            {"name": "Money ahead of keeping the present heater", "name_font": {"size": 12}, "overlay": False}
        )
        chart.set_x_axis({**axis, "name": "years after installation", "label_position": "low", "interval_unit": 5})
        chart.set_y_axis(
            {
                **axis,
                "name": "US dollars of the day, running sum",
                "num_format": "$#,##0;-$#,##0",
                "major_gridlines": {"visible": True, "line": {"color": "#DDDDDD"}},
            }
        )
        chart.set_legend({"position": "bottom", "font": {"size": 10}})
        chart.set_size({"width": 960, "height": 380})
        self.pages["Offer"].insert_chart(
            row, 0, chart, {"description": "Chart: running sums of the sheet Years, in cash and with the loan"}
        )

    # ---- Payments ----

    def headed(
        self, name: str, text: str, headings: list[tuple[str, float]], *, wide: bool, last: int, left: int = 1
    ) -> Any:
        """A sheet of figures with a title, a note and a frozen header."""
        page, style = self.pages[name], self.style
        page.write_string(0, 0, cut(f"{name}: household {self.offer.appraisal.household_id}", 200), style.section)
        page.write_string(1, 0, text, style.italic)
        for c, (heading, width) in enumerate(headings):
            page.set_column(c, c, width)
            page.write_string(FIRST - 1, c, heading, style.header_right)
        page.set_row(FIRST - 1, 48)
        page.freeze_panes(FIRST, left)
        page.repeat_rows(FIRST - 1)
        page.print_area(0, 0, last, len(headings) - 1)
        printed(page, landscape=wide)
        return page

    def payments(self) -> None:
        term = int(self.offer.loan["term_months"])
        page = self.headed(
            "Payments",
            f"US dollars, to the cent; {LONGEST_TERM_MONTHS} rows are ready, those after the term stay empty.",
            [("number", 10), ("date", 13), ("payment", 15), ("interest", 15), ("principal", 15),
             ("balance after it", 17)],
            wide=False,
            last=FIRST + term,
        )  # fmt: skip
        page.write_string(FIRST, 4, "amount lent", self.style.right)
        page.write_formula(FIRST, 5, "=amount_lent", self.money, float(self.offer.loan["amount_usd"]))
        page.write_formula(FIRST, 1, f"=Months!$C${FIRST + 1}", self.style.date, serial(self.offer.start))
        rows = self.schedule
        for n in range(1, LONGEST_TERM_MONTHS + 1):
            r, here = FIRST + n, FIRST + n + 1
            owed = f"N(F{here - 1})"
            known = n <= len(rows["number"])
            for c, (formula, form, column) in enumerate(
                (
                    (f'=IF(AND({n}<=term_months,{owed}>0),{n},"")', self.whole, "number"),
                    (f'=IF(A{here}="","",EDATE($B${FIRST + 1},{n}))', self.style.date, "date"),
                    (
                        f'=IF(A{here}="","",IF(OR({n}=term_months,ROUND({owed}+D{here},2)<=monthly_payment),'
                        f"ROUND({owed}+D{here},2),monthly_payment))",
                        self.money,
                        "payment_usd",
                    ),
                    (
                        f'=IF(A{here}="","",{cents(f"{owed}*yearly_rate/12", self.rounding)})',
                        self.money,
                        "interest_usd",
                    ),
                    (f'=IF(A{here}="","",ROUND(C{here}-D{here},2))', self.money, "principal_usd"),
                    (f'=IF(A{here}="","",ROUND({owed}-E{here},2))', self.money, "balance_usd"),
                )
            ):
                value = rows[column][n - 1] if known else ""
                page.write_formula(r, c, formula, form, serial(value) if known and column == "date" else value)

    # ---- Years and Months ----

    def years(self) -> None:
        study = self.offer.appraisal.study_years
        page = self.headed(
            "Years",
            "US dollars of the day; what is paid is negative. Year 0 is the install date.",
            [
                ("year", 8), ("installed cost", 14), ("incentives", 14), ("water heating without", 14),
                ("water heating with, pumps included", 16), ("saving on water heating", 14),
                ("upkeep and replacements, with less without", 18), ("remaining values, with less without", 17),
                ("loan paid out", 14), ("loan payments", 14), ("net cash flow, in cash", 15),
                ("running sum, in cash", 15), ("balance settled at the end", 15), ("net cash flow, with the loan", 16),
                ("running sum, with the loan", 16),
            ],
            wide=True,
            last=FIRST + study + 1,
        )  # fmt: skip
        flow, offer = self.flow, self.offer
        sources: dict[int, tuple[str, list[float], str]] = {
            1: ("J", flow["cost"], ""),
            2: ("I", flow["incentive"], ""),
            3: ("D", [-usd for usd in offer.without], "-energy_price_level*"),
            4: ("E", [-usd for usd in offer.bills_with], "-energy_price_level*"),
            5: ("F", flow["saving"], ""),
            6: ("G", offer.other, ""),
            7: ("K", flow["worth"], ""),
            8: ("R", flow["advance"], ""),
            9: ("S", flow["payment"], ""),
            12: ("T", flow["settled"], ""),
        }
        sums = {c: by_year(values) for c, (_, values, _) in sources.items()}
        cash, financed = by_year(flow["cash"]), by_year(flow["financed"])
        runs = running(cash), running(financed)
        last = FIRST + 1 + offer.months
        year_of_month = f"Months!$B${FIRST + 1}:$B${last}"
        for year in range(study + 1):
            r, here = FIRST + year, FIRST + year + 1
            page.write_number(r, 0, year, self.whole)
            for c, (column, _, factor) in sources.items():
                page.write_formula(
                    r,
                    c,
                    f"={factor}SUMIFS(Months!${column}${FIRST + 1}:${column}${last},{year_of_month},A{here})",
                    self.quiet,
                    sums[c][year],
                )
            before = f"+{{0}}{here - 1}" if year else ""
            page.write_formula(r, 10, f"=B{here}+C{here}+F{here}+G{here}", self.quiet, cash[year])
            page.write_formula(r, 11, f"=K{here}{before.format('L')}", self.quiet, runs[0][year])
            page.write_formula(r, 13, f"=K{here}+I{here}+J{here}+M{here}", self.quiet, financed[year])
            page.write_formula(r, 14, f"=N{here}{before.format('O')}", self.quiet, runs[1][year])
        r = FIRST + study + 1
        total = self.book.add_format(
            {
                **self.style.base,
                "num_format": "$#,##0.00;-$#,##0.00",
                "bold": True,
                "top": 1,
                "align": "right",
                "indent": 1,
            }
        )
        page.write_string(r, 0, "all", self.style.total_label)
        totals = {**sums, 10: cash, 13: financed}
        for c in range(1, 15):
            if c not in totals:
                page.write_blank(r, c, None, total)
                continue
            letter = "ABCDEFGHIJKLMNO"[c]
            page.write_formula(r, c, f"=SUM({letter}{FIRST + 1}:{letter}{r})", total, sum(totals[c]))

    def months_page(self) -> None:
        offer, flow = self.offer, self.flow
        page = self.headed(
            "Months",
            "US dollars of the day; what is paid is negative, but the bills of columns D and E stand as costs at the "
            "appraised prices. Month 0 is the install date.",
            [
                ("month", 8), ("year", 7), ("date", 12), ("water heating without, appraised", 15),
                ("water heating with, appraised", 15), ("saving on water heating", 14),
                ("upkeep and replacements, with less without", 18), ("remaining values that stay", 15),
                ("incentives", 13), ("installed cost", 14), ("remaining values in all", 15),
                ("net cash flow, in cash", 14), ("running sum, in cash", 14), ("month of payback", 12),
                ("discount factor", 12), ("running sum, discounted", 14), ("month of discounted payback", 13),
                ("loan paid out", 13), ("loan payment", 13), ("balance settled at the end", 13),
                ("saving less payment", 13),
            ],
            wide=True,
            last=FIRST + offer.months,
        )  # fmt: skip
        factor = self.book.add_format({**self.style.base, "num_format": "0.000000", "align": "right", "indent": 1})
        hundredth = self.style.number("", 2)
        for m in range(offer.months + 1):
            r, here, before = FIRST + m, FIRST + m + 1, FIRST + m
            at_end = m == offer.months
            page.write_number(r, 0, m, self.whole)
            page.write_number(r, 1, (m + 11) // 12, self.whole)
            if m:
                page.write_formula(
                    r, 2, f"=EDATE($C${FIRST + 1},A{here})", self.style.date, serial(_months_after(offer.start, m))
                )
            else:
                page.write_number(r, 2, serial(offer.start), self.style.date)
            for c, fixed in ((3, offer.without), (4, offer.bills_with), (6, offer.other), (7, offer.worth)):
                page.write_number(r, c, fixed[m], self.quiet)

            def put(c: int, formula: str, name: str, form: Any, r: int = r, m: int = m) -> None:
                value: Any = flow[name][m]
                page.write_formula(r, c, formula, form, "" if value is None else value)

            put(5, f"=energy_price_level*(D{here}-E{here})", "saving", self.quiet)
            put(8, f"=SUMIFS(incentive_usd,incentive_month,A{here})", "incentive", self.quiet)
            put(9, "=0" if m else "=-installed_cost", "cost", self.quiet)
            after = f"installed_cost-SUM(incentive_usd)-{offer.late_incentives!r}"
            worth = f"+MAX(0,{after})*{offer.system_worth_share!r}" if at_end else ""
            put(10, f"=H{here}{worth}", "worth", self.quiet)
            put(11, f"=F{here}+G{here}+I{here}+J{here}", "cash", self.quiet)
            put(12, f"=L{here}+M{before}" if m else f"=L{here}", "running cash", self.quiet)
            put(13, crossing("M", f"L{here}", m), "crossing cash", hundredth)
            put(14, f"=(1+discount_rate)^(-A{here}/12)", "factor", factor)
            put(15, f"=L{here}*O{here}" + (f"+P{before}" if m else ""), "running discounted", self.quiet)
            put(16, crossing("P", f"(L{here}*O{here})", m), "crossing discounted", hundredth)
            put(17, "=0" if m else "=amount_lent", "advance", self.quiet)
            put(18, f"=-N(Payments!C{here})" if m else "=0", "payment", self.quiet)
            put(19, f"=-N(Payments!F{here})" if at_end else "=0", "settled", self.quiet)
            page.write_formula(r, 20, f"=F{here}+S{here}", self.quiet, flow["saving"][m] + flow["payment"][m])

    # ---- Notes ----

    def notes(self) -> None:
        page, style, offer = self.pages["Notes"], self.style, self.offer
        page.hide_gridlines(2)
        page.set_column(0, 0, 30)
        page.set_column(1, 1, 100)
        page.write_string(0, 0, "Notes", style.section)
        lines: list[tuple[str, str]] = [
            ("Decision of the appraisal", f"{offer.appraisal.decision}. {offer.appraisal.reason}"),
            ("What moves", "Every result follows the blue cells of the sheet Offer. Nothing is locked."),
            (
                "What stays",
                "Energy bills, upkeep and replacements are those of the appraisal; energy prices in all years move "
                "together by the one percentage. Incentives stay as they stand in the blue cells: where one is a share "
                "of the cost or has a limit, appraise again for what it pays at another price.",
            ),
            (
                "Loan",
                f"Level monthly payments, interest each month on the balance at a twelfth of the yearly rate, payment "
                f"and interest rounded to cents ({self.rounding.replace('_', ' ')}); the last payment settles what "
                "rounding left. A balance still owed at the end of the study is counted as settled then.",
            ),
            (
                "Paybacks and net savings",
                f"Study of {offer.appraisal.study_years} years. Paybacks leave remaining values out, for no money comes"
                " in; net savings count them. Monthly amounts are discounted by (1 + rate)^(months / 12).",
            ),
            (
                "Remaining value of the system",
                "Straight line over its life, on the cost after incentives, in dollars of the end of the study."
                if offer.system_worth_share
                else "None is counted: its life ends with the study, or incentives covered its whole cost.",
            ),
            *[(f"Caution: {topic}", text) for topic, text in offer.appraisal.cautions],
            *[("Assumed", text) for text in offer.appraisal.defaults_used],
            ("", NOTICE),
        ]  # fmt: skip
        for r, (what, text) in enumerate(lines, start=1):
            page.write_string(r, 0, what, style.bold)
            page.write_string(r, 1, cut(text), style.wrapped)
            page.set_row(r, style.height([(text, 100)]))
        printed(page, landscape=False)


def crossing(sums: str, step: str, month: int) -> str:
    """Formula of the month, with its fraction, in which the running sum of a column reaches zero; empty elsewhere."""
    here = FIRST + month + 1
    if month == 0:
        return f'=IF({sums}{here}>=0,0,"")'
    before = f"{sums}{here - 1}"
    return f'=IF(AND({sums}{here}>=0,{before}<0),{month - 1}-{before}/{step},"")'


def running(values: list[float]) -> list[float]:
    total, sums = 0.0, []
    for value in values:
        total += value
        sums.append(total)
    return sums


def by_year(values: list[float]) -> list[float]:
    return [values[0], *[sum(values[m : m + 12]) for m in range(1, len(values), 12)]]


def serial(date: datetime.date) -> int:
    """Day number of a spreadsheet (ECMA-376: 1900 date system, for dates from March 1900 on)."""
    return (date - datetime.date(1899, 12, 30)).days
