"""A budget spent well: against brute force, put back into the appraisals, with floors, gaps and what cannot be done."""

import itertools
import re
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import warmledger as wl
from conftest import PROGRAM, household
from warmledger import errors
from warmledger.whatif import Floor, allocate, allocation_options
from warmledger.whatif.selection import Limit, select, undominated

pytest.importorskip("scipy.optimize", reason="SciPy is not installed")

TOWN = wl.parse_program(PROGRAM.replace('payer = "the town (invented)"', 'payer = "x"\npaid_by = "administrator"'))
LEVELS = {"incentive.town-rebate.flat_usd": [0, 1000, 2500]}
SMALL = {
    "title": "Drain-back, one collector",
    "collector": "flat-plate-selective",
    "collector_count": 1,
    "storage_gal": 50,
    "loop": "drain_back",
    "arrangement": "two_tank",
    "material_usd": 2400,
    "labor_usd": 1500,
}
TWO = TOWN.changed({"package.one-collector": SMALL})
HOMES = pd.DataFrame(
    [
        household("A", yearly_income_usd=20_000, occupants=2),
        household("B", yearly_income_usd=90_000, occupants=6),
        household("C", yearly_income_usd=45_000, occupants=5),
        household("no income", yearly_income_usd=None),
        household("north", roof_azimuth_deg=5),
        household("quote", installed_cost_usd=4200, occupants=3, yearly_income_usd=60_000),
        household("dear", installed_cost_usd=25_000),
    ],
    index=list("abcdefg"),
)


@pytest.fixture(scope="module")
def options() -> pd.DataFrame:
    return allocation_options(HOMES, TWO, packages=TWO.packages, levels=LEVELS, detail="monthly")


def brute_force(groups: np.ndarray, benefit: np.ndarray, limits: list[Limit]) -> float | None:
    """The best of all choices, one by one."""
    best = None
    for choice in itertools.product(*([None, *np.flatnonzero(groups == group)] for group in np.unique(groups))):
        chosen = np.zeros(len(groups), dtype=bool)
        chosen[[at for at in choice if at is not None]] = True
        if all(limit.kept(chosen) for limit in limits):
            best = max(benefit[chosen].sum(), -np.inf if best is None else best)
    return best


def random_case(trial: int) -> tuple[np.ndarray, np.ndarray, list[Limit]]:
    """A small problem with a budget and a floor of one of the three kinds."""
    random = np.random.default_rng(trial)
    homes = int(random.integers(1, 6))
    groups = np.repeat(np.arange(homes), random.integers(1, 4, homes))
    count = len(groups)
    cost = np.round(random.uniform(0, 2000, count), 2)
    benefit = np.round(random.normal(500, 800, count), 2)
    poor = (random.random(homes) < 0.5)[groups]
    budget = float(random.uniform(500, 4000))
    floor = Floor(
        float(random.choice([0.0, 0.2, 0.4, 0.9])), tiers="low", of=["spent", "budget", "households"][trial % 3]
    )
    return groups, benefit, [Limit("budget", cost, budget), floor.limit("floor", poor, cost, budget)]


@pytest.mark.parametrize("core", [1, 3, 60])
def test_small_cases_are_solved_as_brute_force_solves_them(core: int) -> None:
    infeasible = 0
    for trial in range(60):
        groups, benefit, limits = random_case(trial)
        best = brute_force(groups, benefit, limits)
        found = select(groups, benefit, limits, core=core)
        if best is None:
            infeasible += 1
            assert found.status == "infeasible"
            continue
        assert found.status == "optimal", trial
        assert found.objective == pytest.approx(best, abs=1e-6), trial
        assert found.objective == pytest.approx(benefit[found.chosen].sum())
        assert all(limit.kept(found.chosen) for limit in limits)
        assert np.unique(groups[found.chosen]).size == found.chosen.sum()
    assert infeasible > 2


def test_leaving_out_dominated_options_loses_no_benefit() -> None:
    left_out = 0
    for trial in range(200):
        groups, benefit, limits = random_case(trial)
        keep = undominated(groups, benefit, limits)
        left_out += int((~keep).sum())
        fewer = [Limit(limit.name, limit.weights[keep], limit.most) for limit in limits]
        assert brute_force(groups[keep], benefit[keep], fewer) == brute_force(groups, benefit, limits), trial
    assert left_out > 100


def test_a_dearer_option_stays_where_a_floor_counts_money() -> None:
    """Two options of one poor household: the dearer one with less benefit is what keeps the floor."""
    groups, benefit = np.array([0, 0, 1]), np.array([100.0, 90.0, 1000.0])
    cost, poor = np.array([100.0, 400.0, 500.0]), np.array([True, True, False])
    limits = [Limit("budget", cost, 900.0), Floor(0.4, tiers="low").limit("floor", poor, cost, 900.0)]
    assert undominated(groups, benefit, limits).all()
    found = select(groups, benefit, limits)
    assert found.chosen.tolist() == [False, True, True]
    assert undominated(groups, benefit, limits[:1]).tolist() == [True, False, True]


def test_options_are_what_screening_says_under_each_level_and_package(options: pd.DataFrame) -> None:
    key = "incentive.town-rebate.flat_usd"
    for level, package in itertools.product(LEVELS[key], TWO.packages):
        by_hand = wl.screen(
            HOMES.assign(package=package), TWO.changed({key: level}), detail="monthly", progress=False
        ).reset_index(drop=True)
        mine = options[(options[key] == level) & (options["package"] == package)].set_index("row")
        mine = mine[~mine["household_id"].isin(["quote", "dear"])]
        assert len(mine) == 4  # A, B, C, north
        for name in ("net_savings_usd", "co2_saved_kg", "due_at_install_usd"):
            assert mine[name].tolist() == by_hand.loc[mine.index, name].tolist()
        assert (mine.loc[mine["takes"], "program_cost_usd"] == level).all()
    assert options["household_id"].tolist() == sorted(options["household_id"], key=HOMES["household_id"].tolist().index)
    counts = options["household_id"].value_counts()
    assert (counts["A"], counts["quote"], counts["no income"]) == (6, 3, 1)
    why = options.groupby("household_id", sort=False)["why_not"].first()
    assert "yearly_income_usd: is missing" in why["no income"]
    assert "the roof faces" in why["north"]
    assert why["dear"] == "would be worse off: net savings are below 0 or not known"
    assert options.attrs["paid_by_budget"] == ["town-rebate"]


def test_what_a_household_would_take(options: pd.DataFrame) -> None:
    assert (options.loc[options["takes"], "net_savings_usd"] >= 0).all()
    args: dict[str, Any] = {"packages": TWO.packages, "levels": LEVELS, "detail": "monthly"}
    pays = allocation_options(HOMES, TWO, accept="pays", **args)
    assert set(pays.loc[pays["takes"], "decision"]) <= {"pays in cash", "pays with loan"}
    suitable = allocation_options(HOMES, TWO, accept="suitable", **args)
    assert suitable.loc[suitable["household_id"] == "dear", "takes"].all()
    assert not suitable.loc[suitable["household_id"].isin(["north", "no income"]), "takes"].any()
    quick = allocation_options(HOMES, TWO, accept=lambda frame: frame["simple_payback_years"] < 8, **args)
    assert 0 < quick["takes"].sum() < suitable["takes"].sum()
    assert (quick.loc[quick["takes"], "simple_payback_years"] < 8).all()


@pytest.mark.parametrize(
    "floors",
    [
        [],
        [Floor(0.6, below_income_share=0.5)],
        [Floor(0.5, below_income_usd=50_000, of="households"), Floor(0.3, tiers=["low"], of="budget")],
    ],
)
@pytest.mark.parametrize("maximise", ["net_savings_usd", "co2_saved_kg", "households"])
def test_the_choice_put_back_into_appraisals_adds_up(floors: list[Floor], maximise: str) -> None:
    budget = 4200.0
    found = allocate(
        HOMES,
        TWO,
        budget_usd=budget,
        packages=TWO.packages,
        levels=LEVELS,
        equity=floors,
        maximise=maximise,
        administration_usd_per_household=120,
        detail="monthly",
    )
    assert found.status == "optimal"
    assert found.chosen.index.tolist() == HOMES.index.tolist()
    assert found.chosen["household_id"].tolist() == HOMES["household_id"].tolist()
    key = "incentive.town-rebate.flat_usd"
    spent = benefit = 0.0
    mine: dict[str, float] = {}
    for place, row in found.chosen[found.chosen["chosen"]].iterrows():
        home = HOMES.loc[place].dropna().to_dict()
        again = wl.appraise({**home, "package": row["package"]}, TWO.changed({key: int(row[key])}), detail="monthly")
        rebate = sum(float(paid["amount_usd"]) for paid in again.to_dict()["incentives"] if paid["id"] == "town-rebate")
        assert row["program_cost_usd"] == pytest.approx(rebate + 120, abs=0.005)
        assert again.measures.net_savings_usd >= 0
        spent += rebate + 120
        mine[str(place)] = rebate + 120
        benefit += {
            "net_savings_usd": again.measures.net_savings_usd,
            "co2_saved_kg": again.summary["co2_saved_kg_year"],
            "households": 1,
        }[maximise]
    assert found.spent_usd == pytest.approx(spent)
    assert spent <= budget + 0.005
    assert found.objective == pytest.approx(benefit)
    assert found.gap == 0
    if floors and floors[0].of == "spent":
        assert mine.get("a", 0.0) + mine.get("c", 0.0) >= 0.6 * spent - 0.005
    elif floors:
        poor = [place for place in mine if HOMES.loc[place, "yearly_income_usd"] <= 50_000]
        assert len(poor) >= 0.5 * len(mine)
    tiers = found.by_tier()
    assert tiers["spent_usd"].sum() == pytest.approx(spent)
    assert tiers["benefit"].sum() == pytest.approx(benefit)
    assert tiers["chosen"].sum() == len(mine)
    assert tiers["households"].sum() == len(HOMES)
    assert found.chosen["why"].isna().tolist() == found.chosen["chosen"].tolist()


def test_brute_force_over_appraised_options(options: pd.DataFrame) -> None:
    usable = options[options["takes"]]
    for budget in (0, 999.99, 1000, 3500, 6000, 99_999):
        limits = [Limit("budget", usable["program_cost_usd"].to_numpy(dtype=float), float(budget))]
        best = brute_force(usable["row"].to_numpy(), usable["net_savings_usd"].to_numpy(dtype=float), limits)
        found = allocate(options=options, budget_usd=budget)
        assert found.objective == pytest.approx(best)
        assert found.spent_usd <= budget
    assert "No other choice gives more" in found.reason


def test_more_budget_never_does_less_and_floors_never_do_more(options: pd.DataFrame) -> None:
    by_budget = [allocate(options=options, budget_usd=budget).objective for budget in range(0, 9000, 1500)]
    assert by_budget == sorted(by_budget)
    free = allocate(options=options, budget_usd=3000)
    bound = allocate(options=options, budget_usd=3000, equity=Floor(0.8, tiers="low"))
    assert bound.objective <= free.objective
    again = allocate(options=options, budget_usd=3000)
    pd.testing.assert_frame_equal(free.chosen, again.chosen)


def invented(count: int, each: int = 4) -> pd.DataFrame:
    """Options of many households, invented."""
    random = np.random.default_rng(20)
    rows = count * each
    cost = np.round(np.tile([300.0, 800.0, 1500.0, 2500.0][:each], count) * random.uniform(0.6, 1.1, rows), 2)
    return pd.DataFrame(
        {
            "household_id": np.repeat(np.arange(count), each),
            "measure": np.tile(["wrap", "heat pump", "solar", "both"][:each], count),
            "program_cost_usd": cost,
            "net_savings_usd": np.round(cost * random.uniform(0.3, 3, rows) + random.normal(0, 200, rows), 2),
            "yearly_income_usd": np.repeat(np.round(random.uniform(9e3, 2e5, count)), each),
        }
    )


def test_many_households_come_close_and_say_how_close() -> None:
    table = invented(600)
    floor = Floor(0.6, below_income_usd=60_000)
    found = allocate(options=table, budget_usd=120_000, equity=floor, gap=3e-4)
    assert found.status in ("optimal", "within gap")
    assert found.gap == pytest.approx(found.bound - found.objective)
    assert 0 <= found.gap_share <= 3e-4
    took = found.chosen[found.chosen["chosen"]]
    assert took["program_cost_usd"].sum() == pytest.approx(found.spent_usd)
    assert found.spent_usd <= 120_000.005
    poor = took.loc[took["yearly_income_usd"] <= 60_000, "program_cost_usd"].sum()
    assert poor >= 0.6 * found.spent_usd - 0.005
    assert len(took) == took["household_id"].nunique()
    # What one more dollar adds is about what the relaxation says.
    more = allocate(options=table, budget_usd=124_000, equity=floor, gap=3e-4)
    assert (more.objective - found.objective) / 4_000 == pytest.approx(found.prices["budget"], rel=0.2)
    loose = allocate(options=table, budget_usd=120_000, equity=floor, gap=0.5)
    assert loose.gap_share <= 0.5
    assert loose.bound >= found.objective - 1e-6


def test_stopped_early_it_says_the_gap() -> None:
    found = allocate(options=invented(400), budget_usd=90_000, gap=0, time_limit_s=0)
    assert found.status == "stopped early"
    assert found.bound >= found.objective
    assert re.search(r"Stopped early: the best choice could give up to [\d,.]+ US dollars", found.reason)
    assert found.spent_usd <= 90_000
    assert found.summary()["gap"] == found.gap > 0


def test_floors_that_cannot_be_kept_are_named(options: pd.DataFrame) -> None:
    found = allocate(
        options=options, budget_usd=50_000, equity=[Floor(0.9, tiers="low", of="budget"), Floor(0.1, tiers="low")]
    )
    assert (found.status, found.objective, found.spent_usd, found.gap) == ("infeasible", None, None, None)
    assert "at least 0.9 of the budget to households of tier low means $45,000.00" in found.reason
    assert "0.1 of the money" not in found.reason
    assert not found.chosen["chosen"].any()
    assert found.chosen["why"].notna().all()
    both = [Floor(0.6, tiers="low", of="budget"), Floor(0.6, tiers="above", of="budget")]
    assert "without this one there is one" in allocate(options=options, budget_usd=3000, equity=both).reason


def test_options_may_be_fewer_or_more(options: pd.DataFrame) -> None:
    fewer = allocate(options=options[options["takes"]], budget_usd=3000)
    assert fewer.chosen.index.tolist() == ["a", "b", "c", "f"]
    assert fewer.objective == allocate(options=options, budget_usd=3000).objective
    wrap = (
        options.groupby("row")
        .head(1)
        .assign(package="tank wrap", program_cost_usd=10.0, net_savings_usd=50.0, takes=True, why_not=None)
    )
    more = allocate(options=pd.concat([options, wrap]), budget_usd=25)
    assert more.chosen.index.tolist() == list("abcdefg")
    assert (more.chosen["package"] == "tank wrap").sum() == 2
    assert more.objective >= 100
    assert allocate(options=options[:0], budget_usd=25).objective == 0


def test_options_without_the_benefit_are_left_out_and_say_so() -> None:
    table = invented(3)
    table.loc[:3, "net_savings_usd"] = np.nan
    found = allocate(options=table, budget_usd=10_000)
    assert found.chosen["why"].tolist()[0] == "its net_savings_usd is not known"
    assert found.chosen["chosen"].tolist() == [False, True, True]
    assert found.summary()["households_with_an_option"] == 2


@pytest.mark.parametrize("homes", [HOMES.iloc[3:4], HOMES.iloc[:0]])
def test_sheets_without_a_good_row(homes: pd.DataFrame) -> None:
    found = allocate(
        homes, TWO, budget_usd=1000, levels=LEVELS, equity=Floor(0.5, below_income_usd=1e4), detail="monthly"
    )
    assert (found.objective, found.spent_usd, len(found.chosen)) == (0, 0, len(homes))
    assert found.by_tier()["households"].sum() == len(homes)
    assert "0 households get" in found._repr_html_()


def test_rows_are_told_apart_by_their_place() -> None:
    homes = HOMES.set_axis([1, 1, 2, 2, 3, 3, 3])
    found = allocate(homes, TWO, budget_usd=3000, levels=LEVELS, detail="monthly")
    pd.testing.assert_frame_equal(
        found.chosen.reset_index(drop=True),
        allocate(HOMES, TWO, budget_usd=3000, levels=LEVELS, detail="monthly").chosen.reset_index(drop=True),
    )
    assert found.chosen.index.tolist() == homes.index.tolist()


def test_a_file_gives_what_its_frame_gives(tmp_path: Path) -> None:
    HOMES.to_csv(tmp_path / "homes.csv", index=False)
    of_file = allocate(str(tmp_path / "homes.csv"), TWO, budget_usd=3000, detail="monthly").chosen
    of_frame = allocate(HOMES, TWO, budget_usd=3000, detail="monthly").chosen
    assert of_file.index.tolist() == [1, 2, 3, 4, 5, 6, 7]
    pd.testing.assert_frame_equal(of_file.reset_index(drop=True), of_frame.reset_index(drop=True))


def test_incomes_count_however_the_sheet_writes_them() -> None:
    homes = HOMES.iloc[:4].astype(object)
    homes["yearly_income_usd"] = ["$20,000", " 90000 ", "45,000.00", "much"]
    found = allocate(
        homes, TWO, budget_usd=4000, levels=LEVELS, equity=Floor(0.5, below_income_usd=45_000), detail="monthly"
    )
    assert found.chosen["yearly_income_usd"].fillna(-1).tolist() == [20_000, 90_000, 45_000, -1]
    assert found.equity[0].meets(found.options).tolist() == (found.options["row"].isin([0, 2])).tolist()


def test_it_shows_itself(options: pd.DataFrame) -> None:
    found = allocate(options=options, budget_usd=3000, equity=Floor(0.5, tiers="low"))
    page = found._repr_html_()
    assert "at least 0.5 of the money spent to households of tier low" in page
    assert found.reason in page.replace("&#x27;", "'")
    assert "<Allocation optimal" in repr(found)
    assert found.summary()["households_chosen"] == found.chosen["chosen"].sum()


@pytest.mark.parametrize(
    ("arguments", "kind", "words"),
    [
        ({"budget_usd": -1}, errors.ValueOutOfRange, "budget_usd"),
        ({"budget_usd": float("nan")}, errors.ValueOutOfRange, "budget_usd"),
        ({"gap": 2}, errors.ValueOutOfRange, "gap"),
        ({"levels": {"economics.inflation_rate": [0.01]}}, errors.Contradiction, "economics.inflation_rate"),
        ({"levels": {"incentive.town-rebate.flat_usd": 500}}, errors.MalformedText, "levels.incentive.town-rebate"),
        ({"levels": []}, errors.MalformedText, "levels"),
        ({"levels": {"incentive.toun-rebate.flat_usd": [1]}}, errors.UnknownName, "did you mean town-rebate"),
        ({"levels": {"incentive.town-rebate.flat_usd": [-5]}}, errors.ValueOutOfRange, "flat_usd: -5"),
        ({"packages": ["none"]}, errors.UnknownName, "two-collectors"),
        ({"paid_by_budget": ["town-rebat"]}, errors.UnknownName, "did you mean town-rebate"),
        ({"maximise": "joy"}, errors.MissingValue, "maximise: joy"),
        ({"maximise": "package"}, errors.MissingValue, "no column of numbers"),
        ({"accept": "gladly"}, errors.UnknownName, "no worse off"),
        ({"accept": lambda frame: [True]}, errors.MissingValue, "accept"),
        ({"administration_usd_per_household": -1}, errors.ValueOutOfRange, "administration"),
        ({"equity": Floor(0.5, tiers="rich")}, errors.ValueOutOfRange, "rich.*low, above"),
        ({"options": pd.DataFrame()}, errors.Contradiction, "one or the other"),
    ],
)
def test_what_is_wrong_is_named(arguments: dict[str, Any], kind: type[Exception], words: str) -> None:
    with pytest.raises(kind, match=words):
        allocate(HOMES.iloc[:2], TWO, **{"budget_usd": 1000, "detail": "monthly", **arguments})


def test_wrong_floors_and_options_are_named() -> None:
    with pytest.raises(errors.ValueOutOfRange, match=r"share: 1\.5"):
        Floor(1.5, tiers="low")
    with pytest.raises(errors.ValueOutOfRange, match="no kind of floor"):
        Floor(0.5, tiers="low", of="joy")
    with pytest.raises(errors.Contradiction, match="exactly one"):
        Floor(0.5)
    with pytest.raises(errors.Contradiction, match="exactly one"):
        Floor(0.5, tiers="low", below_income_share=0.8)
    with pytest.raises(errors.MissingValue, match="program_cost_usd"):
        allocate(options=pd.DataFrame({"household_id": [1]}), budget_usd=1)
    table = invented(3)
    table.loc[4, "program_cost_usd"] = -2
    with pytest.raises(errors.ValueOutOfRange, match="row 5"):
        allocate(options=table, budget_usd=1)
    with pytest.raises(errors.MissingValue, match="income_tier"):
        allocate(options=invented(3), budget_usd=1, equity=Floor(0.5, tiers="low"))


def test_without_scipy_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "scipy.optimize", None)
    with pytest.raises(errors.NotAvailable, match="python3-scipy"):
        allocate(options=invented(2), budget_usd=1)
