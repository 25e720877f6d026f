"""Risk: one household's purchase in thousands of trials, with prices, weather, use and costs drawn anew in each."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from .. import _core
from ..catalog import Catalog, Program, data_dir
from ..display import table_html
from ..errors import FileUnreadable, MalformedText, NotAvailable, UnknownName, ValueOutOfRange, error
from ..sheet import text_of

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

    from ..appraisal import Appraisal

INPUTS = ("installed_cost", "hot_water", "upkeep", "system_life", "heater_left")
FUELS = ("electricity", "natural_gas", "propane", "heating_oil")
SHAPES = ("fixed", "uniform", "triangular", "normal", "lognormal")
SAMPLINGS = ("random", "latin_hypercube", "sobol")
REPLICATES = 16  # independent randomisations that show what a sampling is worth
MOST_TRIALS = 10_000_000


@dataclass(frozen=True)
class Spread:
    """How an input may come out, as a factor on what is planned.

    shape   "fixed" (first), "uniform" (first to second), "triangular" (first, most likely second, third), "normal"
            (mean first, standard deviation second) or "lognormal" (median first, standard deviation of the logarithm
            second)
    low, high   what falls outside is moved to the bound
    source  where it comes from, and status: how sure that is, as in data/README.md
    """

    shape: str = "fixed"
    first: float = 1.0
    second: float = 0.0
    third: float = 0.0
    low: float = 0.0
    high: float = 1e6
    source: str = ""
    status: str = ""

    def as_dict(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in ("shape", "first", "second", "third", "low", "high")}


@dataclass(frozen=True)
class PriceSpread:
    """How the price of a fuel may leave its base path (the program's escalation).

    With x = 0 in year 1 and x(t) = persistence x(t-1) + volatility e(t), e standard normal, the price of year t is that
    of the base path times exp(x(t) - variance / 2): on average the base path. persistence 1 is a random walk; below 1
    the price comes back to its path (mean-reverting). volatility 0 to 2, persistence 0 to 1.
    """

    volatility: float = 0.0
    persistence: float = 1.0
    source: str = ""
    status: str = ""


@dataclass(frozen=True)
class RiskModel:
    """What is uncertain, and how. `RiskModel.defaults()` holds those of data/risks.csv; nothing varies in RiskModel().

    inputs        Spread by name: installed_cost, hot_water, upkeep, system_life, heater_left
    correlations  {("installed_cost", "upkeep"): 0.5, ("price.propane", "price.electricity"): 0.3}: of normal scores,
                  among inputs or among prices, -1 to 1
    prices        PriceSpread by fuel
    sun_deviation of a year's sun over the typical year's, 0 to 0.5; each year is drawn by itself. No month gets clearer
                  than 0.8 of the sun outside the atmosphere, or than it is in the typical year
    sun_years     instead: observed years over the typical year (0.3 to 1.7), drawn with equal chance
    gone          {incentive id: chance that it is gone}, 0 to 1
    """

    inputs: Mapping[str, Spread] = field(default_factory=dict)
    correlations: Mapping[tuple[str, str], float] = field(default_factory=dict)
    prices: Mapping[str, PriceSpread] = field(default_factory=dict)
    sun_deviation: float = 0.0
    sun_years: Sequence[float] = ()
    gone: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def defaults(cls, catalog: Catalog | None = None) -> RiskModel:
        """The model of risks.csv: of the catalogue's override folder, where the file stands there, or of its data."""
        return _read(catalog)

    def with_changes(self, **changes: Any) -> RiskModel:
        """The same with other members: model.with_changes(sun_deviation=0, gone={"county-rebate": 0.3})."""
        return replace(self, **changes)

    def _as_dict(self) -> dict[str, Any]:
        spread: Any  # callers may give anything
        price: Any
        for name, spread in self.inputs.items():
            if name not in INPUTS:
                raise error(UnknownName, "is no input", value=str(name), allowed=", ".join(INPUTS), key="inputs")
            if not isinstance(spread, Spread):
                raise error(
                    MalformedText, "is no Spread", value=repr(spread)[:80], allowed="a Spread", key=f"inputs.{name}"
                )
            if spread.shape not in SHAPES:
                allowed = ", ".join(SHAPES)
                raise error(UnknownName, "is no shape", value=str(spread.shape), allowed=allowed, key=f"inputs.{name}")
        for name, price in self.prices.items():
            if name not in FUELS:
                raise error(UnknownName, "is no fuel", value=str(name), allowed=", ".join(FUELS), key="prices")
            if not isinstance(price, PriceSpread):
                allowed, key = "a PriceSpread", f"prices.{name}"
                raise error(MalformedText, "is no PriceSpread", value=repr(price)[:80], allowed=allowed, key=key)
        fuels = sorted(self.prices, key=FUELS.index)
        of_inputs = _matrix(INPUTS)
        of_prices = _matrix(fuels)
        changed = [False, False]
        for (first, second), correlation in self.correlations.items():
            names = [name.removeprefix("price.") for name in (first, second)]
            if all(name in INPUTS for name in (first, second)):
                table, order, which = of_inputs, list(INPUTS), 0
            elif all(name.startswith("price.") for name in (first, second)) and set(names) <= set(fuels):
                table, order, which = of_prices, fuels, 1
            else:
                raise error(
                    UnknownName,
                    "cannot be correlated",
                    value=f"{first}, {second}",
                    allowed=f"two of {', '.join(INPUTS)}, or two of "
                    f"{', '.join(f'price.{fuel}' for fuel in fuels) or 'the prices that vary'}",
                    key="correlations",
                )
            at, other = order.index(names[0]), order.index(names[1])
            table[at * len(order) + other] = table[other * len(order) + at] = _number(
                correlation, f"correlations.{first}, {second}"
            )
            changed[which] = True
        return {
            "inputs": {
                name: {
                    part: value if part == "shape" else _number(value, f"inputs.{name}.{part}")
                    for part, value in self.inputs.get(name, Spread()).as_dict().items()
                }
                for name in INPUTS
            },
            "correlation": of_inputs if changed[0] else [],
            "prices": [
                (
                    fuel,
                    _number(self.prices[fuel].volatility, f"prices.{fuel}.volatility"),
                    _number(self.prices[fuel].persistence, f"prices.{fuel}.persistence"),
                )
                for fuel in fuels
            ],
            "price_correlation": of_prices if changed[1] else [],
            "sun_deviation": _number(self.sun_deviation, "sun_deviation"),
            "sun_years": [_number(year, "sun_years") for year in self.sun_years],
            "gone": [(str(rule), _number(chance, f"gone.{rule}")) for rule, chance in self.gone.items()],
        }

    def sources(self) -> list[tuple[str, str, str]]:
        """(input, what it may be, source and status) of all that varies."""
        rows = []
        for name, spread in self.inputs.items():
            numbers = ", ".join(f"{x:g}" for x in (spread.first, spread.second, spread.third)[: _count(spread.shape)])
            rows.append((name, f"{spread.shape} {numbers}", _told(spread.source, spread.status)))
        for fuel, price in self.prices.items():
            kind = "random walk" if price.persistence == 1 else f"persistence {price.persistence:g}"
            rows.append(
                (f"price.{fuel}", f"volatility {price.volatility:g}, {kind}", _told(price.source, price.status))
            )
        if self.sun_years:
            rows.append(("sun", f"{len(self.sun_years)} observed years", "the caller's"))
        elif self.sun_deviation:
            rows.append(("sun", f"normal 1, {self.sun_deviation:g}", "see data/risks.csv"))
        rows.extend((f"gone.{rule}", f"chance {chance:g}", "the caller's") for rule, chance in self.gone.items())
        return rows


def _number(value: Any, key: str) -> float:
    try:
        return float(value)
    except (TypeError, ValueError):
        raise error(MalformedText, "is no number", value=repr(value)[:80], allowed="a number", key=key) from None


def _count(shape: str) -> int:
    return {"fixed": 1, "triangular": 3}.get(shape, 2)


def _told(source: str, status: str) -> str:
    return f"{source} ({status})" if source and status else source or status or "the caller's"


def _matrix(names: Sequence[str]) -> list[float]:
    return [1.0 if i == j else 0.0 for i in range(len(names)) for j in range(len(names))]


def _read(catalog: Catalog | None) -> RiskModel:
    folder = data_dir()
    if catalog is not None:
        from pathlib import Path

        folder = (
            Path(catalog.override)
            if catalog.override and (Path(catalog.override) / "risks.csv").exists()
            else Path(catalog.data)
        )
    path = folder / "risks.csv"
    inputs: dict[str, Spread] = {}
    prices: dict[str, PriceSpread] = {}
    sun = 0.0
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as failure:
        raise error(
            FileUnreadable, f"cannot be read ({failure})", allowed="a CSV file in UTF-8", file=str(path)
        ) from None
    for line, row in enumerate(csv.DictReader(text.splitlines()), start=2):
        try:
            numbers = {name: float(row[name] or 0) for name in ("first", "second", "third", "low", "high")}
            name, shape = row["input"], row["shape"]
            source, status = row["source"], row["status"]
        except (KeyError, TypeError, ValueError) as failure:
            raise error(
                MalformedText,
                f"cannot be read ({failure})",
                allowed="input,shape,first,second,third,low,high,source,status with numbers in the middle",
                file=str(path),
                line=line,
            ) from None
        if name.startswith("price."):
            prices[name.removeprefix("price.")] = PriceSpread(numbers["first"], numbers["second"], source, status)
        elif name == "sun":
            sun = numbers["second"]
        elif name in INPUTS and shape not in SHAPES:
            allowed = ", ".join(SHAPES)
            raise error(
                UnknownName, "is no shape", value=shape, allowed=allowed, file=str(path), line=line, key="shape"
            )
        elif name in INPUTS:
            inputs[name] = Spread(shape, **numbers, source=source, status=status)
        else:
            allowed = ", ".join((*INPUTS, "sun", *(f"price.{fuel}" for fuel in FUELS)))
            raise error(UnknownName, "is no input", value=name, allowed=allowed, file=str(path), line=line, key="input")
    return RiskModel(inputs=inputs, prices=prices, sun_deviation=sun)


@dataclass(frozen=True)
class Chance:
    """A share of the trials, and its standard error from sampling."""

    value: float
    standard_error: float

    def __repr__(self) -> str:
        return f"{self.value:.1%} ± {self.standard_error:.1%}"


class Mean(Chance):
    """A mean, and its standard error."""

    def __repr__(self) -> str:
        return f"{self.value:,.2f} ± {self.standard_error:,.2f}"


class Risk:
    """What `monte_carlo` found: the trials, percentiles and chances, each with its sampling error."""

    def __init__(
        self,
        trials: pd.DataFrame,
        *,
        household_id: str,
        program: Program,
        model: RiskModel,
        seed: int,
        sampling: str,
        loan: str | None,
        detail: str,
        base: Mapping[str, float],
    ) -> None:
        self.trials = trials
        self.household_id, self.program, self.model = household_id, program, model
        self.seed, self.sampling, self.loan, self.detail = seed, sampling, loan, detail
        self.base = dict(base)  # the appraisal's own figures, nothing drawn

    def __len__(self) -> int:
        return len(self.trials)

    @property
    def note(self) -> str:
        """What every output says of its program, and of laws or prices taken as if."""
        return self.program.note

    def columns(self) -> list[tuple[str, str, str]]:
        """(name, unit, meaning) of the columns of `trials`."""
        return list(_core.whatif.trial_columns())

    def _groups(self) -> list[pd.DataFrame]:
        """Independent replicates of the sampling; none for random draws, whose trials are independent themselves."""
        if self.sampling == "random":
            return []
        return [group for _, group in self.trials.groupby("replicate")]

    def _error(self, column: str, of: Any, plain: float) -> float:
        """Standard error of a statistic: from the spread over replicates, or as for independent trials."""
        import numpy as np

        groups = self._groups()
        if not groups:
            return plain
        found = np.array([of(group[column].to_numpy()) for group in groups])
        if not np.isfinite(found).all():  # a payback that a replicate does not reach
            return math.inf
        return float(found.std(ddof=1) / math.sqrt(len(found)))

    def percentiles(
        self, column: str = "net_savings_usd", at: Sequence[float] = (5, 10, 25, 50, 75, 90, 95)
    ) -> pd.DataFrame:
        """Percentiles of a column: value and standard_error, by percent (0 to 100, both left out).

        The error of random draws follows from the ranks that are one binomial standard deviation to either side; that
        of the other samplings from their replicates. An infinite value (a payback that is not reached) stays infinite.
        """
        import numpy as np
        import pandas as pd

        self._known(column)
        values = np.sort(self.trials[column].to_numpy())
        count = len(values)
        rows = []
        for percent in at:
            if not 0 < percent < 100:
                raise error(
                    ValueOutOfRange, "is out of range", value=str(percent), allowed="above 0, below 100", key="at"
                )
            share = percent / 100
            value = _quantile(values, share)
            wide = math.sqrt(share * (1 - share) / count)
            low, high = _quantile(values, max(share - wide, 0)), _quantile(values, min(share + wide, 1))
            plain = (high - low) / 2 if math.isfinite(high) and math.isfinite(low) else math.inf
            rows.append(
                {
                    "percent": percent,
                    "value": value,
                    "standard_error": self._error(column, lambda x, s=share: _quantile(np.sort(x), s), plain)
                    if math.isfinite(value)
                    else math.nan,
                }
            )
        return pd.DataFrame(rows).set_index("percent")

    def mean(self, column: str = "net_savings_usd") -> Mean:
        """Mean of a column and its standard error. Raises ValueOutOfRange for a column with infinite values."""
        import numpy as np

        self._known(column)
        values = self.trials[column].to_numpy()
        if not np.isfinite(values).all():
            raise error(
                ValueOutOfRange,
                "has no mean: some trials have no finite value",
                value=column,
                allowed="percentiles() or chance()",
                key="column",
            )
        plain = float(values.std(ddof=1) / math.sqrt(len(values)))
        return Mean(float(values.mean()), self._error(column, np.mean, plain))

    def chance(self, column: str, relation: str, value: float) -> Chance:
        """Share of the trials in which a column is "<", "<=", ">" or ">=" a value, and its standard error."""
        import operator

        self._known(column)
        relations = {"<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge}
        if relation not in relations:
            raise error(
                UnknownName, "is no relation", value=str(relation), allowed=", ".join(relations), key="relation"
            )
        met = relations[relation]
        share = float(met(self.trials[column].to_numpy(), value).mean())
        plain = math.sqrt(share * (1 - share) / len(self.trials))
        return Chance(share, self._error(column, lambda x: float(met(x, value).mean()), plain))

    def chance_it_pays_within(self, years: float) -> Chance:
        """Chance that the purchase in cash pays back (simple payback) within so many years."""
        return self.chance("simple_payback_years", "<=", years)

    def chance_out_of_pocket(self, usd: float, *, everything: bool = False) -> Chance:
        """Chance that in any month of the study the household is out of pocket by more than `usd`.

        Compared are each month's bills saved and the loan's payment; with everything=True also upkeep, replacements and
        incentives of the month, the install date left out.
        """
        return self.chance("worst_month_usd" if everything else "lowest_bill_month_usd", "<", -usd)

    def chance_of_net_savings(self) -> Chance:
        """Chance that net savings are positive: with the loan where there is one, else in cash."""
        return self.chance("net_savings_with_loan_usd", ">", 0.0)

    def variance_gain(self, column: str = "net_savings_usd") -> float:
        """How many times as many random trials would be needed for a mean as sure as this sampling's.

        Variance of the mean of as many independent trials over that seen between the replicates: 1 for random draws. It
        is itself an estimate, from 16 replicates, good to about a third.
        """
        if self.sampling == "random":
            return 1.0
        values = self.trials[column].to_numpy()
        seen = self.mean(column).standard_error
        return float(values.var(ddof=1) / len(values) / seen**2) if seen > 0 else math.inf

    def drivers(self, column: str = "net_savings_usd") -> pd.Series:
        """Rank correlation (Spearman) of each drawn input with a column, strongest first. Inputs that do not vary are
        left out."""
        self._known(column)
        drawn = [name for name, _, meaning in _core.whatif.trial_columns() if meaning.startswith("drawn")]
        varied = [name for name in drawn if self.trials[name].nunique() > 1]
        ranks = self.trials[[*varied, column]].rank()
        found = ranks[varied].corrwith(ranks[column])
        return found.reindex(found.abs().sort_values(ascending=False).index)

    def summary(self) -> pd.DataFrame:
        """The usual figures in one table: base, mean, and percentiles 5, 50 and 95 of the money columns."""
        import pandas as pd

        rows = {}
        for column in ("first_year_saving_usd", "net_savings_usd", "net_savings_with_loan_usd", "simple_payback_years"):
            found = self.percentiles(column, (5, 50, 95))
            rows[column] = {
                "as planned": self.base.get(column, math.nan),
                **{f"{percent} %": found.loc[percent, "value"] for percent in (5, 50, 95)},
                "standard error of 50 %": found.loc[50, "standard_error"],
            }
        return pd.DataFrame(rows).T

    def sentences(self, within_years: float = 10.0, out_of_pocket_usd: float = 10.0) -> list[str]:
        """The answer in words."""
        told = [
            f"In {len(self)} trials net savings{' with the loan' if self.loan else ''} are positive in "
            f"{self.chance_of_net_savings()!r}.",
            f"The purchase pays back within {within_years:g} years in {self.chance_it_pays_within(within_years)!r}.",
            f"Some month is out of pocket by more than ${out_of_pocket_usd:g} in "
            f"{self.chance_out_of_pocket(out_of_pocket_usd)!r}.",
        ]
        if self.sampling != "random":
            told.append(
                f"The mean of net savings is as sure as that of {self.variance_gain():.0f} times as many random trials."
            )
        return told

    def __repr__(self) -> str:
        return f"<Risk of {self.household_id}: {' '.join(self.sentences())}>"

    def _repr_html_(self) -> str:
        rows = [("Household", self.household_id), ("Program", self.program.title)]
        if self.note:
            rows.append(("Note", self.note))
        rows += [("Loan", self.loan or "none"), ("Sampling", f"{self.sampling}, seed {self.seed}")]
        rows += [("", sentence) for sentence in self.sentences()]
        rows += [(name, f"{what}: {source}") for name, what, source in self.model.sources()]
        return table_html(rows)

    def _known(self, column: str) -> None:
        if column not in self.trials.columns:
            raise error(
                UnknownName,
                "is no column of the trials",
                value=str(column),
                allowed=", ".join(self.trials),
                key="column",
            )


def _quantile(ordered: np.ndarray[Any, Any], share: float) -> float:
    """The value below which a share of sorted values lies: straight lines between ranks; infinite values stay so."""
    place = share * (len(ordered) - 1)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    low, high = float(ordered[below]), float(ordered[above])
    if place == below or low == high:
        return low
    return low + (place - below) * (high - low)


def monte_carlo(
    base: Appraisal | tuple[Mapping[str, Any], Program],
    model: RiskModel | None = None,
    *,
    trials: int = 10_000,
    seed: int = 1,
    sampling: str = "random",
    loan: str | None = None,
    detail: str = "monthly",
    threads: int | None = None,
) -> Risk:
    """One household's purchase in thousands of trials.

    base      an Appraisal that `appraise` returned, whose package stays, or (household, program)
    model     what varies; None: RiskModel.defaults(), with the prices of the fuels that the household buys
    trials    16 to 10 million; other samplings than random round it down to a multiple of 16
    seed      0 or more. Random draws depend on seed, household_id and the trial's number alone: not on threads, nor on
              how many trials there are
    sampling  "random" (independent draws of a counter-based generator), "latin_hypercube" or "sobol" (both by SciPy, in
              16 independent randomisations, from which errors and Risk.variance_gain come; sobol is best with 16 times
              a power of 2)
    loan      id of the program's loan; None: the best one of the appraisal, if there is any; "" for cash
    detail    "monthly" or "hourly": how the hot water is worked out. Uses and suns lie on a grid worked out once
              (up to 36 by 10 simulations by the hourly method); trials read it by straight lines between its points

    Every trial runs incentives, dated cash flow, measures and loan again. A loan's payments are taken in proportion to
    the amount, so each may be off by a cent's rounding. The rate to discount at stays: risk shows in the spread, not in
    a higher rate. Figures for a decision, no promise about prices, weather or law.

    Raises what `appraise` raises, ValueOutOfRange or UnknownName for the model, NotAvailable for a loan that does not
    lend here, or without SciPy where the sampling needs it.
    """
    import pandas as pd

    from ..appraisal import appraise
    from .inputs import HouseholdCases, cases_of

    cases = cases_of(base)
    if not isinstance(cases, HouseholdCases):
        raise error(
            MalformedText, "are the figures of an offer", allowed="an Appraisal, or (household, program)", key="base"
        )
    household, program = cases.household, cases.program
    planned = appraise(household, program, detail=detail)
    if isinstance(trials, bool) or not isinstance(trials, int) or not REPLICATES <= trials <= MOST_TRIALS:
        raise error(
            ValueOutOfRange,
            "is out of range",
            value=str(trials),
            allowed=f"{REPLICATES} to {MOST_TRIALS}",
            key="trials",
        )
    if isinstance(seed, bool) or not isinstance(seed, int) or not 0 <= seed < 2**64:
        raise error(ValueOutOfRange, "is out of range", value=str(seed), allowed="0 to 2^64 - 1", key="seed")
    if sampling not in SAMPLINGS:
        raise error(UnknownName, "is no sampling", value=str(sampling), allowed=", ".join(SAMPLINGS), key="sampling")
    if threads is not None and not 1 <= threads <= 1024:
        raise error(ValueOutOfRange, "is out of range", value=str(threads), allowed="1 to 1024 threads", key="threads")
    if model is None:
        model = RiskModel.defaults(program.catalog)
    for key, names, known in (
        ("gone", model.gone, program.incentives),
        ("loan", [loan] if loan else [], program.loans),
    ):
        for name in names:
            if name not in known:
                raise error(
                    UnknownName, "is not of this program", value=str(name), allowed=", ".join(known) or "none", key=key
                )
    header = list(household)
    prospect = _core.whatif.Prospect(
        program.appraiser,
        header,
        [text_of(household[name]) for name in header],
        detail,
        model._as_dict(),
        loan,
        threads or 0,
    )
    if sampling == "random":
        frame = pd.DataFrame(prospect.run(seed, 0, trials, threads or 0))
    else:
        count = trials // REPLICATES
        tables = []
        for replicate in range(REPLICATES):
            uniforms = _uniforms(sampling, count, prospect.dimensions, (seed, planned.household_id, replicate))
            table = pd.DataFrame(prospect.run_uniforms(uniforms, threads or 0))
            table["replicate"] = replicate
            tables.append(table)
        frame = pd.concat(tables, ignore_index=True)
    frame.index.name = "trial"
    measures = planned.measures
    lent = next((row for row in planned.to_dict()["loans"] if row["id"] == prospect.loan), None)
    base_figures = {
        "first_year_saving_usd": float(measures.first_year_saving_usd),
        "net_savings_usd": float(measures.net_savings_usd),
        "net_savings_with_loan_usd": float(lent["net_savings_usd"] if lent else measures.net_savings_usd),
    }
    if measures.simple_payback_years is not None:
        base_figures["simple_payback_years"] = float(measures.simple_payback_years)
    return Risk(
        frame,
        household_id=planned.household_id,
        program=program,
        model=model,
        seed=seed,
        sampling=sampling,
        loan=prospect.loan,
        detail=detail,
        base=base_figures,
    )


def _uniforms(sampling: str, count: int, dimensions: int, key: tuple[int, str, int]) -> np.ndarray[Any, Any]:
    """A design of `count` points, strictly inside the unit cube, that depends on the key alone."""
    import hashlib

    import numpy as np

    try:
        from scipy.stats import qmc
    except ImportError:
        raise error(
            NotAvailable,
            "needs the Python package scipy, which is not installed",
            value=sampling,
            allowed='sampling="random", or scipy installed',
            key="sampling",
        ) from None
    digest = hashlib.sha256(repr(key).encode()).digest()
    generator = np.random.default_rng(np.frombuffer(digest, dtype=np.uint32))
    design: Any
    if sampling == "sobol":
        import warnings

        design = qmc.Sobol(d=dimensions, scramble=True, seed=generator)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # a count that is no power of 2 is told in the docs
            points = design.random(count)
    else:
        points = qmc.LatinHypercube(d=dimensions, seed=generator).random(count)
    tiny = 2.0**-54
    return np.clip(np.asarray(points, dtype=np.float64), tiny, 1 - 2.0**-53)
