"""wl.whatif.sweep: any inputs, by name, over any values, each combination as appraised by hand."""

import copy
import datetime
import itertools
import pickle
from typing import Any

import pandas as pd
import pytest
import warmledger as wl
from conftest import household
from warmledger import errors

NUMBERS = ["net_cost_usd", "net_savings_usd", "simple_payback_years", "loan_average_month_usd", "solar_fraction_pct"]


@pytest.fixture(scope="module")
def one(program: wl.Program) -> wl.Appraisal:
    return wl.appraise(household(), program, detail="monthly")


def test_each_row_is_what_appraise_says(program: wl.Program, one: wl.Appraisal) -> None:
    grid = {
        "installed_cost_usd": [4000, 5500.5],
        "incentive.town-rebate.flat_usd": [0, 1000, 1500],
        "loan.ten-years.yearly_rate": [0.0, 0.05],
        "occupants": [2, 4],
    }
    table = wl.whatif.sweep(one, grid)
    assert list(table.columns[:4]) == list(grid)
    assert table.attrs["inputs"] == list(grid)
    rows = list(itertools.product(*grid.values()))
    assert [tuple(row) for row in table[list(grid)].astype(float).to_numpy()] == rows
    for at in (0, 7, 18, len(rows) - 1):
        cost, rebate, rate, people = rows[at]
        changed = program.changed({"incentive.town-rebate.flat_usd": rebate, "loan.ten-years.yearly_rate": rate})
        by_hand = wl.screen(
            pd.DataFrame([household(installed_cost_usd=cost, occupants=people)]),
            changed,
            detail="monthly",
            progress=False,
        )
        for name in NUMBERS:
            assert table[name].iloc[at] == by_hand[name].iloc[0], (at, name)
        assert table["reason"].iloc[at] == by_hand["reason"].iloc[0]
    assert set(table.columns) == {*grid, *by_hand.columns}


def test_inputs_have_their_kinds(one: wl.Appraisal) -> None:
    table = wl.whatif.sweep(
        one,
        {
            "occupants": [3],
            "installed_cost_usd": [4000, 5000.0],
            "tenure": ["owner"],
            "install_date": [datetime.date(2026, 5, 1)],
            "loan.ten-years": [None],
            "new_home": [True],
        },
        measures=["decision"],
    )
    kinds = {name: str(kind) for name, kind in table.dtypes.items()}
    assert kinds["occupants"] == "Int64"
    assert kinds["installed_cost_usd"] == "Float64"
    assert kinds["tenure"] == kinds["decision"] == "string"
    assert kinds["install_date"].startswith("datetime64")
    assert kinds["new_home"] == "boolean"
    assert list(table.columns[6:]) == ["decision"]


def test_chosen_combinations_keep_their_order_and_what_they_leave_out(one: wl.Appraisal) -> None:
    chosen = [{"occupants": 5}, {"installed_cost_usd": 4000, "occupants": 2}, {"economics.inflation_rate": 0.03}]
    table = wl.whatif.sweep(one, chosen)
    assert list(table["occupants"]) == [5, 2, 4]
    assert list(table["economics.inflation_rate"]) == [0.02, 0.02, 0.03]
    assert list(table["installed_cost_usd"]) == [5000, 4000, 5000]  # where it is not given, what the package costs
    alone = wl.whatif.sweep(one, [chosen[2]])
    assert alone["net_savings_usd"].iloc[0] == table["net_savings_usd"].iloc[2]


def test_detail_is_chosen_for_all_or_per_row(program: wl.Program) -> None:
    base = (household(), program)
    table = wl.whatif.sweep(base, {"detail": ["hourly", "monthly"]})
    for detail in ("hourly", "monthly"):
        whole = wl.whatif.sweep(base, {"occupants": [4]}, detail=detail)
        row = table[table["detail"] == detail].iloc[0]
        assert row["net_savings_usd"] == whole["net_savings_usd"].iloc[0]
    assert table["net_savings_usd"].nunique() == 2
    with pytest.raises(errors.MalformedText, match="detail"):
        wl.whatif.sweep(base, {"detail": ["hourly"]}, detail="monthly")
    with pytest.raises(errors.UnknownName, match="daily"):
        wl.whatif.sweep(base, {"detail": ["daily"]})


def test_the_package_of_an_appraisal_stays_unless_it_is_left_free() -> None:
    demo = wl.load_program(wl.data_dir() / "demo" / "program.toml")
    home = {**household(), "place": "Quillmere", "heater_fuel": "propane"}
    one = wl.appraise(home, demo, detail="monthly")
    held = wl.whatif.sweep(one, {"occupants": [2, 9]})
    assert set(held["package"]) == {one.summary["package"]}
    free = wl.whatif.sweep(one, {"occupants": [2, 9], "package": [None]})
    by_sheet = wl.whatif.sweep((home, demo), {"occupants": [2, 9]}, detail="monthly")
    assert list(free["package"]) == list(by_sheet["package"])
    assert free["package"].nunique() == 2


def test_a_column_takes_the_place_of_its_twin(program: wl.Program) -> None:
    """A column of the sheet that stands instead of another is refused beside it: the other is emptied."""
    base = (household(hot_water_l_day=200, roof_pitch_rise_in_12=4), program)
    table = wl.whatif.sweep(base, {"hot_water_gal_day": [50], "roof_tilt_deg": [30]}, detail="monthly")
    by_hand = wl.appraise(household(hot_water_gal_day=50, roof_tilt_deg=30), program, detail="monthly")
    assert table["net_savings_usd"].iloc[0] == by_hand.measures.net_savings_usd


def test_bad_combinations_keep_their_rows(one: wl.Appraisal) -> None:
    grid = {"occupants": [4, 99], "loan.ten-years.yearly_rate": [0.04, 7, 0.05]}
    table = wl.whatif.sweep(one, grid)
    bad = [occupants == 99 or rate == 7 for occupants, rate in itertools.product(*grid.values())]
    assert list(table["decision"] == "bad row") == bad
    assert [problem["row"] for problem in table.attrs["problems"]] == [at + 1 for at, b in enumerate(bad) if b]
    assert "99" in table["reason"].iloc[3]
    assert "loan.ten-years.yearly_rate: 7 is out of range" in table["reason"].iloc[1]
    assert list(table["loan.ten-years.yearly_rate"].astype(float)) == [0.04, 7, 0.05] * 2
    every = wl.whatif.sweep(one, {"loan.ten-years.yearly_rate": [7, 8]})
    assert list(every["decision"]) == ["bad row"] * 2
    assert list(every.columns[1:]) == list(table.columns[2:])


@pytest.mark.parametrize(
    ("grid", "kind", "words"),
    [
        ({"occupant": [1]}, errors.UnknownName, "did you mean occupants"),
        ({"household_id": ["x"]}, errors.UnknownName, "household_id"),
        ({"economics.inflaton_rate": [0.1]}, errors.UnknownName, "did you mean inflation_rate"),
        ({"incentive.town-rebat.flat_usd": [1]}, errors.UnknownName, "did you mean town-rebate"),
        ({"study_year": [1]}, errors.UnknownName, "did you mean study_years"),
        ({"a b": [1]}, errors.MalformedText, "a b"),
        ({"": [1]}, errors.MalformedText, "input"),
        ({"occupants": []}, errors.MissingValue, "occupants"),
        ({"occupants": 3}, errors.MalformedText, "no list"),
        ({"tenure": "owner"}, errors.MalformedText, "no list"),
        ({}, errors.MissingValue, "grid"),
        ([], errors.MissingValue, "grid"),
        ("occupants", errors.MalformedText, "grid"),
        ({"occupants": itertools.count()}, errors.ValueOutOfRange, "1,000,001"),
        ({"occupants": range(2000), "shading_pct": range(2000)}, errors.ValueOutOfRange, "4,000,000"),
    ],
)
def test_what_is_no_grid_is_refused(one: wl.Appraisal, grid: Any, kind: type[Exception], words: str) -> None:
    with pytest.raises(kind, match=words):
        wl.whatif.sweep(one, grid)


def test_keys_that_the_file_leaves_out_may_be_swept(one: wl.Appraisal) -> None:
    table = wl.whatif.sweep(one, {"heater.replacement_usd": [500, 3000], "state": ["CO"]})
    assert (table["decision"] != "bad row").all()
    assert list(table["heater.replacement_usd"]) == [500, 3000]


def test_what_is_no_base_or_measure_is_refused(program: wl.Program, one: wl.Appraisal) -> None:
    for base in (None, 3, {"occupants": 3}, (1, 2, 3)):
        with pytest.raises(errors.MalformedText, match="base"):
            wl.whatif.sweep(base, {"occupants": [1]})
    with pytest.raises(errors.UnknownName, match="did you mean net_savings_usd"):
        wl.whatif.sweep(one, {"occupants": [1]}, measures=["net_saving_usd"])
    with pytest.warns(wl.UnknownColumnWarning, match="ocupants"):
        wl.whatif.sweep((household(ocupants=3), program), {"occupants": [1]}, detail="monthly")


def test_the_frame_travels_and_threads_do_not_matter(one: wl.Appraisal) -> None:
    grid = {"occupants": range(1, 9), "shading_pct": [0, 20]}
    table = wl.whatif.sweep(one, grid, threads=1)
    pd.testing.assert_frame_equal(table, wl.whatif.sweep(one, grid, threads=4), check_exact=True)
    for again in (pickle.loads(pickle.dumps(table)), copy.deepcopy(table)):
        assert again.attrs == table.attrs


def test_figures_of_an_offer_may_be_swept() -> None:
    offer = {"installed_cost_usd": 6000, "bills_without_usd": 700, "bills_with_usd": 200, "nominal_discount_rate": 0.05}
    table = wl.whatif.sweep(offer, {"installed_cost_usd": [5000, 7000], "study_years": [10, 20], "loan_usd": [0, "x"]})
    assert list(table["decision"].fillna("") == "bad row") == [False, True] * 4
    for at, (cost, years) in enumerate(itertools.product([5000, 7000], [10, 20])):
        by_hand = wl.evaluate_offers({**offer, "installed_cost_usd": cost, "loan_usd": 0}, study_years=years)
        assert table["net_savings_usd"].iloc[2 * at] == by_hand["net_savings_usd"].iloc[0]
    with pytest.raises(errors.UnknownName, match="did you mean loan_usd"):
        wl.whatif.sweep(offer, {"loan_us": [1]})
    with pytest.raises(errors.UnknownName, match="bills"):
        wl.whatif.sweep({**offer, "bills": 3}, {"loan_usd": [1]})


def test_counts_say_how_much_was_worked_out(program: wl.Program) -> None:
    """Money moves no water: one simulation. A tilt moves the sun and the water."""
    one = wl.appraise(household(), program)
    money = wl.whatif.sweep(
        one,
        {
            "installed_cost_usd": [4000, 5000, 6000],
            "incentive.town-rebate.flat_usd": [0, 500],
            "loan.ten-years.yearly_rate": [0.02, 0.04],
        },
    ).attrs["counts"]
    tilts = wl.whatif.sweep(one, {"roof_tilt_deg": [20, 30, 40], "installed_cost_usd": [4000, 5000]}).attrs["counts"]
    water = wl.whatif.sweep(one, {"hot_water_gal_day": [40, 60], "yearly_income_usd": [9000, 50_000]}).attrs["counts"]
    both = wl.whatif.sweep(one, {"detail": ["hourly", "monthly"], "roof_tilt_deg": [20, 40]}).attrs["counts"]
    assert (money["cases"], tilts["cases"], water["cases"], both["cases"]) == (12, 6, 4, 4)
    assert (money["simulations"], money["irradiances"]) == (1, 1)
    assert (tilts["simulations"], tilts["irradiances"]) == (3, 3)
    assert (water["simulations"], water["irradiances"]) == (2, 1)


def test_not_a_number_is_no_value(one: wl.Appraisal) -> None:
    with pytest.raises(wl.errors.MalformedText, match="installed_cost_usd: nan is no value"):
        wl.whatif.sweep(one, {"installed_cost_usd": [8000, float("nan")]})
