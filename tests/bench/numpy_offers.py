"""Every measure of many offers in vectorised NumPy, written for clarity, and the check that it agrees with ours.

30 years of months, one loan, four incentives. `run.py` times it in slices that fit the cache.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import warmledger as wl

Array = np.ndarray[Any, Any]
YEARS = 30


def invented(count: int, seed: int = 1) -> dict[str, Array]:
    draw = np.random.default_rng(seed)
    without = draw.uniform(10, 90, (count, 12))
    return {
        "installed_cost_usd": np.round(draw.uniform(1500, 12000, count), 2),
        "bills_without_usd": without,
        "bills_with_usd": without * draw.uniform(0.05, 0.9, (count, 12)),
        "pump_usd": draw.uniform(0, 2, (count, 12)),
        "fuel_escalation": draw.uniform(-0.02, 0.07, count),
        "electricity_escalation": draw.uniform(-0.01, 0.05, count),
        "inflation_rate": draw.uniform(0, 0.05, count),
        "nominal_discount_rate": draw.uniform(0.01, 0.12, count),
        "upkeep_usd_year": draw.uniform(0, 60, count),
        "system_life_years": draw.integers(15, 41, count).astype(float),
        "heat_saved_kwh_year": draw.uniform(500, 4000, count),
        "fuel_price_usd": draw.uniform(0.1, 4, count),
        "loan_usd": np.round(draw.uniform(500, 9000, count), 2),
        "loan_yearly_rate": draw.uniform(0.01, 0.18, count),
        "loan_term_months": draw.integers(12, 241, count).astype(float),
        "incentive_usd": np.round(draw.uniform(0, 1200, (count, 4)), 2),
        "incentive_month": draw.integers(0, 41, (count, 4)).astype(float),
    }


def with_numpy(o: dict[str, Array]) -> dict[str, Array]:
    """The same measures with arrays of offers by months; NaN where there is none."""
    count = len(o["installed_cost_usd"])
    months = YEARS * 12
    month = np.arange(1, months + 1)
    year = (month - 1) // 12
    served = year < o["system_life_years"][:, None]

    def index(rate: Array) -> Array:
        return ((1 + rate)[:, None] ** np.arange(YEARS))[:, year]

    fuel = index(o["fuel_escalation"])
    power = index(o["electricity_escalation"])
    without = o["bills_without_usd"][:, (month - 1) % 12] * fuel
    saved = np.where(served, (o["bills_without_usd"] - o["bills_with_usd"])[:, (month - 1) % 12] * fuel, 0)
    pump = np.where(served, o["pump_usd"][:, (month - 1) % 12] * power, 0)
    saving = saved - pump
    upkeep = np.zeros((count, months))
    ends = np.arange(1, YEARS)
    upkeep[:, ends * 12 - 1] = np.where(
        ends < o["system_life_years"][:, None],
        o["upkeep_usd_year"][:, None] * (1 + o["inflation_rate"])[:, None] ** ends,
        0,
    )
    extra = np.zeros((count, months + 1))
    extra[:, 0] = -o["installed_cost_usd"]
    rows = np.arange(count)
    for k in range(o["incentive_usd"].shape[1]):
        np.add.at(extra, (rows, o["incentive_month"][:, k].astype(int)), o["incentive_usd"][:, k])
    cost = o["installed_cost_usd"]
    incentives = o["incentive_usd"].sum(axis=1)
    start = extra[:, 0]

    flows = np.empty((count, months + 1))
    flows[:, 0] = start
    flows[:, 1:] = saving - upkeep + extra[:, 1:]
    monthly = (1 + o["nominal_discount_rate"]) ** (1 / 12)
    discount = monthly[:, None] ** -np.arange(months + 1.0)
    share = np.clip(1 - YEARS / o["system_life_years"], 0, None) * (1 + o["inflation_rate"]) ** YEARS
    remaining = np.maximum(cost - incentives, 0) * share
    discounted = flows * discount
    out: dict[str, Array] = {}
    fuel_pv = (saved * discount[:, 1:]).sum(axis=1)
    pump_pv = (pump * discount[:, 1:]).sum(axis=1)
    upkeep_pv = (upkeep * discount[:, 1:]).sum(axis=1)
    cash_pv = discounted.sum(axis=1)
    out["net_cost_usd"] = cost - incentives
    out["due_at_install_usd"] = -start
    out["first_year_saving_usd"] = (o["bills_without_usd"] - o["bills_with_usd"] - o["pump_usd"]).sum(axis=1)
    out["savings_present_value_usd"] = fuel_pv - pump_pv - upkeep_pv
    net = cash_pv + remaining * discount[:, -1]
    out["net_savings_usd"] = net
    out["investment_present_value_usd"] = out["savings_present_value_usd"] - net
    out["life_cycle_cost_without_usd"] = (without * discount[:, 1:]).sum(axis=1)
    out["life_cycle_cost_with_usd"] = out["life_cycle_cost_without_usd"] - net
    rate = o["nominal_discount_rate"]
    out["equivalent_annual_value_usd"] = net * rate / (1 - (1 + rate) ** -YEARS)

    def paybacks(of: Array) -> tuple[Array, Array]:
        sums = of.cumsum(axis=1)
        up = (sums[:, :-1] < 0) & (sums[:, 1:] >= 0)

        def at(step: Array) -> Array:
            with np.errstate(divide="ignore", invalid="ignore"):  # rows without a crossing are not looked at
                return (step - sums[rows, step] / of[rows, step + 1]) / 12

        first = np.where(start >= 0, 0.0, np.where(up.any(axis=1), at(up.argmax(axis=1)), np.nan))
        last = at(months - 1 - up[:, ::-1].argmax(axis=1))
        never_below = ~up.any(axis=1) & (sums[:, -1] >= 0)
        return first, np.where(sums[:, -1] < 0, np.nan, np.where(never_below, 0.0, last))

    out["simple_payback_years"], out["lasting_simple_payback_years"] = paybacks(flows)
    out["discounted_payback_years"], out["lasting_discounted_payback_years"] = paybacks(discounted)
    with np.errstate(divide="ignore", invalid="ignore"):
        invested = out["investment_present_value_usd"]
        sir = np.where(invested > 0, out["savings_present_value_usd"] / invested, np.nan)
        out["savings_to_investment"] = sir
        out["adjusted_internal_rate_of_return"] = np.where(sir > 0, (1 + rate) * sir ** (1 / YEARS) - 1, np.nan)
        heat = o["heat_saved_kwh_year"] / 12 * np.where(served, discount[:, 1:], 0).sum(axis=1)
        out["levelised_cost_usd_per_kwh"] = (invested + upkeep_pv + pump_pv) / heat
        out["break_even_fuel_price_usd"] = o["fuel_price_usd"] * (1 - net / fuel_pv)
    kept = 1 - share * discount[:, -1]
    level = cost + net / kept
    out["break_even_installed_cost_usd"] = np.where((level < incentives) | (cost < incentives), cost + cash_pv, level)

    yearly = np.empty((count, YEARS + 1))
    yearly[:, 0] = start
    yearly[:, 1:] = flows[:, 1:].reshape(count, YEARS, 12).sum(axis=2)
    yearly[:, -1] += remaining
    out["internal_rate_of_return"] = internal_rates_numpy(yearly)

    owed = np.round(o["loan_usd"] * 100)
    loan_rate = o["loan_yearly_rate"] / 12
    term = o["loan_term_months"]
    payment = np.floor(owed * loan_rate / (1 - (1 + loan_rate) ** -term) + 0.5)
    out["loan_payment_usd"] = payment / 100
    payments = np.zeros((count, months))
    interest_paid = np.zeros(count)
    for t in range(1, int(term.max()) + 1):
        interest = np.floor(owed * loan_rate + 0.5 + 1e-7)
        due = owed + interest
        paid = np.where((t >= term) | (due <= payment), due, payment)
        owed = due - paid
        interest_paid += interest
        payments[:, t - 1] = paid / 100
    out["loan_interest_usd"] = interest_paid / 100
    out["owed_at_end_usd"] = owed / 100
    out["net_savings_with_loan_usd"] = net + o["loan_usd"] - (payments * discount[:, 1:]).sum(axis=1)
    month_net = saving - payments
    out["average_month_net_usd"] = month_net[:, :12].mean(axis=1)
    out["lowest_month_net_usd"] = month_net[:, :12].min(axis=1)
    out["months_out_of_pocket"] = ((payments > 0) & (month_net < 0)).sum(axis=1).astype(float)
    running = flows.copy()
    running[:, 0] += o["loan_usd"]
    running[:, 1:] -= payments
    out["deepest_point_usd"] = running.cumsum(axis=1).min(axis=1)
    return out


def internal_rates_numpy(yearly: Array) -> Array:
    """Newton's method on all rows at once, for flows that change sign once; NaN for the others."""
    signs = np.sign(yearly)
    changes = (
        np.array([(np.diff(row[row != 0]) != 0).sum() for row in signs]) if len(yearly) < 2000 else _changes(signs)
    )
    x = np.full(len(yearly), 0.9)
    powers = np.arange(yearly.shape[1])
    with np.errstate(all="ignore"):
        for _ in range(60):
            terms = yearly * x[:, None] ** powers
            step = terms.sum(axis=1) / ((terms[:, 1:] * powers[1:]).sum(axis=1) / x)
            # A step past zero is halved towards it.
            new = np.where(x - step > 0, x - step, x / 2)
            if np.all(np.abs(new - x) <= 1e-14 * x):
                x = new
                break
            x = new
        return np.where(changes == 1, 1 / x - 1, np.nan)


def _changes(signs: Array) -> Array:
    """Changes of sign in each row, zeros left out."""
    filled = signs.copy()
    for k in range(1, filled.shape[1]):
        filled[:, k] = np.where(filled[:, k] == 0, filled[:, k - 1], filled[:, k])
    return (filled[:, 1:] * filled[:, :-1] < 0).sum(axis=1)


def part_of(offers: dict[str, Array], begin: int, end: int) -> dict[str, Array]:
    return {name: column[begin:end] for name, column in offers.items()}


def in_slices(offers: dict[str, Array], rows: int) -> None:
    count = len(offers["installed_cost_usd"])
    for begin in range(0, count, rows):
        with_numpy(part_of(offers, begin, begin + rows))


def check(offers: dict[str, Array]) -> None:
    """Both sides agree, or nothing is timed."""
    ours = wl.evaluate_offers(offers, study_years=YEARS)
    theirs = with_numpy(offers)
    for name, column in theirs.items():
        a, b = ours[name].to_numpy(), column
        if name == "internal_rate_of_return":
            known = ~np.isnan(b)
            assert known.mean() > 0.5, "too few rates to compare"
            assert np.allclose(a[known], b[known], rtol=1e-8, atol=1e-10), name
        else:
            assert np.allclose(a, b, rtol=1e-8, atol=0.005, equal_nan=True), name
    assert set(theirs) == set(ours.columns)
