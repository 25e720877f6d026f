"""Monte Carlo: the sampler against NumPy, SciPy and known moments; discounting under risk against its closed form."""

from __future__ import annotations

import datetime
import math
import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import warmledger as wl
from warmledger import _core
from warmledger.whatif import PriceSpread, RiskModel, Spread, monte_carlo

scipy_stats = pytest.importorskip("scipy.stats")

PROGRAM = wl.load_program(wl.data_dir() / "demo" / "program.toml")
HOME = {
    "household_id": "first",
    "place": "Quillmere",
    "occupants": 4,
    "yearly_income_usd": 52000,
    "heater_fuel": "propane",
    "package": "drain-back-medium",
}


@pytest.fixture(scope="module")
def usual() -> wl.whatif.Risk:
    model = RiskModel.defaults().with_changes(gone={"county-rebate": 0.3})
    return monte_carlo((HOME, PROGRAM), model, trials=4000, seed=3)


def test_the_generator_is_numpys_philox() -> None:
    """NumPy counts up before its first block."""
    for counter, key in (([7, 11, 0, 0], [2**63 + 5, 12345]), ([1, 2, 3, 4], [5, 6]), ([2**40, 0, 9, 0], [0, 0])):
        before = np.array([counter[0] - 1, *counter[1:]], dtype=np.uint64)
        theirs = np.random.Philox(counter=before, key=np.array(key, dtype=np.uint64))
        assert list(theirs.random_raw(4)) == list(_core.whatif.philox(counter, key))


def test_distributions_are_scipys() -> None:
    u = [1e-12, 1e-4, 0.02, 0.3, 0.5, 0.77, 0.99, 1 - 1e-9]
    wide = {"low": -1e9, "high": 1e9}
    for spread, theirs in (
        (Spread("normal", 1.5, 0.3, **wide), scipy_stats.norm(1.5, 0.3)),
        (Spread("lognormal", 2.0, 0.4, **wide), scipy_stats.lognorm(0.4, scale=2.0)),
        (Spread("uniform", 2.0, 5.0, **wide), scipy_stats.uniform(2.0, 3.0)),
        (Spread("triangular", 1.0, 2.0, 5.0, **wide), scipy_stats.triang(0.25, 1.0, 4.0)),
        (Spread("triangular", 0.5, 1.0, 1.0, **wide), scipy_stats.triang(1.0, 0.5, 0.5)),
    ):
        assert _core.whatif.values(spread.as_dict(), u) == pytest.approx(theirs.ppf(u), rel=1e-9), spread


def test_draws_have_the_moments_of_their_distributions(usual: wl.whatif.Risk) -> None:
    """Means within four standard errors; the whole sample by the Kolmogorov-Smirnov test at one in ten thousand."""
    trials = usual.trials
    for column, theirs in (
        ("installed_cost_times", scipy_stats.triang((1 - 0.95) / 0.3, 0.95, 0.3)),
        ("hot_water_times", scipy_stats.lognorm(0.2)),
        ("upkeep_times", scipy_stats.triang(0.4 / 1.2, 0.6, 1.2)),
    ):
        values = trials[column].to_numpy()
        assert abs(values.mean() - theirs.mean()) < 4 * theirs.std() / math.sqrt(len(values)), column
        assert values.std() == pytest.approx(theirs.std(), rel=0.06), column
        assert scipy_stats.kstest(values, theirs.cdf).pvalue > 1e-4, column
    assert trials["incentives_gone"].mean() == pytest.approx(0.3, abs=4 * math.sqrt(0.21 / len(trials)))
    sun = trials["sun_times"].to_numpy()
    assert sun.std() == pytest.approx(0.03 / math.sqrt(PROGRAM.study_years), rel=0.06)


@pytest.mark.parametrize("persistence", [1.0, 0.6])
def test_prices_keep_their_base_path_on_average(persistence: float) -> None:
    """E[exp(x - var/2)] = 1 for normal x; the variance of an AR(1) from 0 is s2 (1 - p^2n) / (1 - p^2), and n s2 of a
    random walk (any text on time series; Hamilton 1994, chapter 3, from memory)."""
    steps, volatility = PROGRAM.study_years - 1, 0.12
    model = RiskModel(prices={"propane": PriceSpread(volatility, persistence)})
    found = monte_carlo((HOME, PROGRAM), model, trials=20_000, seed=5)
    planned = monte_carlo((HOME, PROGRAM), RiskModel(), trials=16).trials["fuel_price_times"].iloc[0]
    assert planned == pytest.approx((1 + PROGRAM.setting("prices.propane.nominal_escalation")) ** steps)
    ratio = found.trials["fuel_price_times"].to_numpy() / planned
    variance = volatility**2 * (steps if persistence == 1 else (1 - persistence ** (2 * steps)) / (1 - persistence**2))
    spread = math.sqrt(math.exp(variance) - 1)  # of a lognormal with mean 1
    assert abs(ratio.mean() - 1) < 4 * spread / math.sqrt(len(ratio))
    assert np.log(ratio).std() == pytest.approx(math.sqrt(variance), rel=0.03)
    assert scipy_stats.kstest(np.log(ratio), scipy_stats.norm(-variance / 2, math.sqrt(variance)).cdf).pvalue > 1e-4


def test_correlated_inputs_and_prices() -> None:
    model = RiskModel(
        inputs={"installed_cost": Spread("normal", 1.0, 0.1), "upkeep": Spread("lognormal", 1.0, 0.3)},
        prices={"propane": PriceSpread(0.1), "electricity": PriceSpread(0.1)},
        correlations={("installed_cost", "upkeep"): -0.6, ("price.propane", "price.electricity"): 0.99},
    )
    trials = monte_carlo((HOME, PROGRAM), model, trials=4000).trials
    seen = np.corrcoef(trials["installed_cost_times"], np.log(trials["upkeep_times"]))[0, 1]
    assert seen == pytest.approx(-0.6, abs=4 * (1 - 0.36) / math.sqrt(4000))


@pytest.mark.parametrize("together", [True, False])
def test_prices_that_move_together_do(together: bool) -> None:
    """Propane follows the draws of electricity alone where the two are perfectly correlated, and its own where not."""
    model = RiskModel(
        prices={"propane": PriceSpread(0.1), "electricity": PriceSpread(0.1)},
        correlations={("price.propane", "price.electricity"): 1.0} if together else {},
    )
    cells = [str(cell) for cell in HOME.values()]
    prospect = _core.whatif.Prospect(PROGRAM.appraiser, list(HOME), cells, "monthly", model._as_dict(), None, 1)
    middle = np.full(prospect.dimensions, 0.5)
    years = slice(len(middle) - 3 * PROGRAM.study_years, None)
    electricity, propane = middle.copy(), middle.copy()
    electricity[years].reshape(-1, 3)[:, 1] = 0.9
    propane[years].reshape(-1, 3)[:, 2] = 0.9
    still, first, second = prospect.run_uniforms(np.vstack([middle, electricity, propane]), 1)["fuel_price_times"]
    assert (first > still) == together
    assert (second > still) != together


def test_discounting_under_risk_against_its_closed_form() -> None:
    """With independent years, the variance of a present value is the sum of each year's variance times its discount
    factor squared (Hillier 1963, "The derivation of probabilistic information for the evaluation of risky investments",
    Management Science 9:443-457; from memory). Only the sun is drawn, so a year's saving is normal but for the bend of
    the solar fraction, which is small for a small deviation."""
    deviation = 0.01
    found = monte_carlo((HOME, PROGRAM), RiskModel(sun_deviation=deviation), trials=20_000, seed=2)
    # What one year's sun does to the present value: from runs in which every year has the same sun.
    up, down = (
        monte_carlo((HOME, PROGRAM), RiskModel(sun_years=[times]), trials=16).trials["net_savings_usd"].iloc[0]
        for times in (1 + deviation, 1 - deviation)
    )
    slope = (up - down) / (2 * deviation)  # of all years together
    one = wl.appraise(HOME, PROGRAM, detail="monthly")
    life = min(PROGRAM.study_years, 25)
    fuel = one.ledger()
    fuel = fuel[fuel["category"].isin(["fuel", "pump electricity"])]
    signed = np.where(fuel["world"] == "with", 1.0, -1.0) * fuel["amount_usd"].astype(float)
    rate = (1 + PROGRAM.core.nominal_discount_rate) ** (1 / 12) - 1
    by_year = np.zeros(life)
    for month, usd in zip(fuel["month"], signed, strict=True):
        if 1 <= month <= life * 12:
            by_year[(month - 1) // 12] += usd * (1 + rate) ** -month
    shares = by_year / by_year.sum()  # each year's part of the slope: its part of the discounted saving
    expected = abs(slope) * deviation * math.sqrt(float((shares**2).sum()))
    values = found.trials["net_savings_usd"]
    assert values.std() == pytest.approx(expected, rel=0.03)
    assert abs(values.mean() - found.base["net_savings_usd"]) < 4 * expected / math.sqrt(len(values)) + 0.5


def test_discounting_under_risk_against_a_worked_textbook_example() -> None:
    """Newnan, Eschenbach & Lavelle, Engineering Economic Analysis, chapter on uncertainty in future events: a project
    of $25,000 at 10 %, with an expected present worth of $10,209 and a 20 % chance of a loss (both read in an excerpt
    of the book). Its table is from memory, and gives just these two: yearly benefit $5,000, $8,000 or $10,000 at 30, 60
    and 10 %, life 6 years at two in three, else 9."""
    benefits, lives = {5000: 0.3, 8000: 0.6, 10000: 0.1}, {6: 2 / 3, 9: 1 / 3}

    def worth(benefit: float, life: int) -> float:
        return float(wl.economics.npv(0.10, [-25000.0] + [float(benefit)] * life))

    worths = {(b, n): worth(b, n) for b in benefits for n in lives}
    chance = {(b, n): benefits[b] * lives[n] for b, n in worths}
    assert sum(chance[x] * worths[x] for x in worths) == pytest.approx(10_209, abs=0.5)
    assert sum(chance[x] for x in worths if worths[x] < 0) == pytest.approx(0.20)

    count = 20_000
    drawn = np.empty(count)
    for trial in range(count):
        block = _core.whatif.philox([0, trial, 0, 0], [1, 2])
        first, second = (x / 2**64 for x in block[:2])
        benefit = 5000 if first < 0.3 else 8000 if first < 0.9 else 10000
        drawn[trial] = worths[benefit, 6 if second < 2 / 3 else 9]
    assert abs(drawn.mean() - 10_209) < 4 * drawn.std() / math.sqrt(count)
    assert abs((drawn < 0).mean() - 0.20) < 4 * math.sqrt(0.16 / count)


def test_threads_and_number_of_trials_change_nothing(usual: wl.whatif.Risk) -> None:
    for threads in (1, 2):
        again = monte_carlo((HOME, PROGRAM), usual.model, trials=900, seed=3, threads=threads).trials
        assert again.equals(usual.trials.iloc[:900])
    other = monte_carlo(({**HOME, "household_id": "second"}, PROGRAM), usual.model, trials=900, seed=3).trials
    assert not np.isclose(other["hot_water_times"], usual.trials["hot_water_times"].iloc[:900]).any()


def test_percentiles_and_chances_with_their_errors(usual: wl.whatif.Risk) -> None:
    values = usual.trials["net_savings_usd"].to_numpy()
    found = usual.percentiles("net_savings_usd", (10, 50, 90))
    assert found["value"].tolist() == pytest.approx(np.quantile(values, [0.1, 0.5, 0.9]).tolist())
    # The error of a normal median is 1.2533 s / sqrt(n) (Kendall & Stuart, from memory); the sample is nearly normal.
    assert found.loc[50, "standard_error"] == pytest.approx(1.2533 * values.std() / math.sqrt(len(values)), rel=0.25)
    pays = usual.chance_it_pays_within(11)
    share = (usual.trials["simple_payback_years"] <= 11).mean()
    assert pays.value == share
    assert pays.standard_error == pytest.approx(math.sqrt(share * (1 - share) / len(values)))
    worse = usual.chance_out_of_pocket(10).value
    assert worse == (usual.trials["lowest_bill_month_usd"] < -10).mean()
    assert usual.chance_out_of_pocket(10, everything=True).value >= worse
    assert usual.chance("installed_cost_usd", ">", 0).value == 1
    assert usual.percentiles("simple_payback_years", (5, 95))["value"].iloc[1] > 10
    assert "trials" in repr(usual)
    assert "county" in usual._repr_html_().lower()
    assert list(usual.drivers().abs()) == sorted(usual.drivers().abs(), reverse=True)
    assert "incentives_gone" in usual.drivers().index
    assert usual.summary().loc["net_savings_usd", "as planned"] == usual.base["net_savings_usd"]


def test_errors_tell_the_truth() -> None:
    """Of 30 runs with other seeds, the mean lies about as far from the truth as its error says."""
    model = RiskModel(inputs={"hot_water": Spread("lognormal", 1.0, 0.2, low=0.4, high=2.5)})
    means = [monte_carlo((HOME, PROGRAM), model, trials=300, seed=seed).mean() for seed in range(30)]
    seen = np.std([mean.value for mean in means], ddof=1)
    told = np.mean([mean.standard_error for mean in means])
    assert seen == pytest.approx(told, rel=0.5)


@pytest.mark.parametrize("sampling", ["latin_hypercube", "sobol"])
def test_other_samplings_are_worth_more_trials(usual: wl.whatif.Risk, sampling: str) -> None:
    found = monte_carlo((HOME, PROGRAM), usual.model, trials=2048, sampling=sampling, seed=3)
    assert len(found) == 2048
    assert found.variance_gain() > 5
    assert usual.variance_gain() == 1
    both = math.hypot(found.mean().standard_error, usual.mean().standard_error)
    assert abs(found.mean().value - usual.mean().value) < 4 * both
    again = monte_carlo((HOME, PROGRAM), usual.model, trials=2048, sampling=sampling, seed=3, threads=1)
    assert again.trials.equals(found.trials)
    assert found.percentiles("net_savings_usd")["standard_error"].gt(0).all()
    assert found.percentiles("simple_payback_years", (50, 97))["standard_error"].gt(0).iloc[0]


def test_loan_cash_and_both_methods() -> None:
    best = monte_carlo((HOME, PROGRAM), trials=64)
    assert best.loan == wl.appraise(HOME, PROGRAM, detail="monthly").summary["best_loan"]
    cash = monte_carlo((HOME, PROGRAM), trials=64, loan="")
    assert cash.loan is None
    assert cash.trials["net_savings_with_loan_usd"].equals(cash.trials["net_savings_usd"].rename("x"))
    named = monte_carlo((HOME, PROGRAM), trials=64, loan="seven-year-loan")
    assert (named.trials["lowest_bill_month_usd"] < best.trials["lowest_bill_month_usd"]).all()
    hourly = monte_carlo(wl.appraise(HOME, PROGRAM), RiskModel(), trials=16, detail="hourly")
    assert hourly.trials["net_savings_usd"].iloc[0] == pytest.approx(
        float(wl.appraise(HOME, PROGRAM).measures.net_savings_usd), abs=1e-6
    )


def test_a_law_as_if_is_told() -> None:
    program = PROGRAM.as_if("federal-solar-water-heating-2022", valid_to=datetime.date(2034, 12, 31))
    found = monte_carlo((HOME, program), trials=64)
    assert "not the law" in found.note
    assert "not the law" in found._repr_html_()
    assert "not the law" in wl.plots.risk(found).texts[-1].get_text().replace("\n", " ")


def test_defaults_come_from_the_data_with_their_sources(tmp_path: Path) -> None:
    told = {name: source for name, _, source in RiskModel.defaults().sources()}
    assert {"installed_cost", "hot_water", "sun", "price.propane"} <= set(told)
    assert all(told.values())
    (tmp_path / "risks.csv").write_text(
        "input,shape,first,second,third,low,high,source,status\nupkeep,uniform,1,2,,0,3,mine,verified\n",
        encoding="utf-8",
    )
    own = RiskModel.defaults(wl.load_catalog(override=tmp_path))
    assert own.inputs["upkeep"].second == 2
    assert not own.prices
    for text, what in (
        ("upkeep,uniform,one,2,,0,3,x,y", "line 2"),
        ("upkeep,beta,1,2,,0,3,x,y", "beta.*triangular"),
        ("age,uniform,1,2,,0,3,x,y", "age"),
    ):
        (tmp_path / "risks.csv").write_text(
            f"input,shape,first,second,third,low,high,source,status\n{text}\n", encoding="utf-8"
        )
        with pytest.raises(wl.errors.Error, match=what):
            RiskModel.defaults(wl.load_catalog(override=tmp_path))


@pytest.mark.parametrize(
    ("asked", "error", "told"),
    [
        ({"trials": 3}, wl.errors.ValueOutOfRange, "trials"),
        ({"seed": -1}, wl.errors.ValueOutOfRange, "seed"),
        ({"sampling": "antithetic"}, wl.errors.UnknownName, "sampling"),
        ({"threads": 0}, wl.errors.ValueOutOfRange, "threads"),
        ({"loan": "nobody"}, wl.errors.UnknownName, "nobody"),
        ({"detail": "daily"}, wl.errors.UnknownName, "daily"),
        ({"model": RiskModel(inputs={"weather": Spread()})}, wl.errors.UnknownName, "weather"),
        ({"model": RiskModel(inputs={"upkeep": Spread("beta")})}, wl.errors.UnknownName, "beta"),
        ({"model": RiskModel(inputs={"upkeep": Spread("uniform", 2, 1)})}, wl.errors.ValueOutOfRange, "upkeep"),
        ({"model": RiskModel(prices={"wood": PriceSpread(0.1)})}, wl.errors.UnknownName, "wood"),
        ({"model": RiskModel(prices={"propane": PriceSpread(9)})}, wl.errors.ValueOutOfRange, "volatility"),
        ({"model": RiskModel(correlations={("upkeep", "sun"): 0.1})}, wl.errors.UnknownName, "correlated"),
        ({"model": RiskModel(correlations={("upkeep", "hot_water"): 1.5})}, wl.errors.ValueOutOfRange, "correlation"),
        ({"model": RiskModel(gone={"gift": 0.1})}, wl.errors.UnknownName, "gift.*county-rebate"),
        ({"model": RiskModel(inputs={"upkeep": "wide"})}, wl.errors.MalformedText, "inputs.upkeep"),
        ({"model": RiskModel(prices={"propane": 0.1})}, wl.errors.MalformedText, "prices.propane"),
        ({"model": RiskModel(sun_deviation="some")}, wl.errors.MalformedText, "sun_deviation"),
    ],
)
def test_what_cannot_be_is_refused(asked: dict[str, Any], error: type[Exception], told: str) -> None:
    with pytest.raises(error, match=told):
        monte_carlo((HOME, PROGRAM), **{"trials": 16, **asked})


def test_what_is_no_base_is_refused() -> None:
    for base in (5, {"bills_without_usd": [1]}):
        with pytest.raises(wl.errors.Error, match="base"):
            monte_carlo(base, trials=16)  # type: ignore[arg-type]


def test_an_appraisal_keeps_its_package() -> None:
    small = wl.appraise({**HOME, "package": "drain-back-small"}, PROGRAM)
    free = small.with_changes({"package": None})
    assert monte_carlo(small, RiskModel(), trials=16).trials["installed_cost_usd"].iloc[0] == float(
        small.measures.installed_cost_usd
    )
    assert monte_carlo(free, RiskModel(), trials=16).trials["installed_cost_usd"].iloc[0] == float(
        free.measures.installed_cost_usd
    )


def test_wrong_questions(usual: wl.whatif.Risk) -> None:
    for ask in (
        lambda: usual.percentiles("weather"),
        lambda: usual.percentiles("net_savings_usd", (0,)),
        lambda: usual.chance("net_savings_usd", "=", 0),
        lambda: usual.mean("simple_payback_years"),
    ):
        with pytest.raises(wl.errors.Error):
            ask()
    assert len(pickle.loads(pickle.dumps(usual))) == len(usual)
