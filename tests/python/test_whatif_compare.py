"""Incentive designs side by side: by hand on a few homes, invariants on many, the curve, and what is wrong."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import warmledger as wl
from conftest import PROGRAM, household
from hypothesis import given
from hypothesis import strategies as st
from warmledger import errors
from warmledger.whatif import acceptance_curve, compare
from warmledger.whatif.acceptance import accepting_share

DEMO = wl.load_program(wl.data_dir() / "demo" / "program.toml")
SHEET = wl.data_dir() / "demo" / "households.csv"
TOWN = wl.parse_program(PROGRAM.replace("[[loan]]", "[cost_tests]\nadministration_usd_per_household = 150\n\n[[loan]]"))
CURVE = pd.DataFrame({"payback_years": [0, 10, 20], "share_of_households_that_accept": [0.9, 0.4, 0.0]})
HOMES = pd.DataFrame(
    [
        household("poor", yearly_income_usd=30_000, occupants=6),
        household("rich", yearly_income_usd=150_000, occupants=5),
        household("renter", tenure="renter"),
        household("bad", occupants=-1),
        household("dear", installed_cost_usd=30_000),
    ],
    index=[10, 20, 30, 40, 50],
)
NEW = TOWN.changed({"incentive.town-rebate.flat_usd": 1600, "incentive.town-rebate.most_income_share": 0.8})


@pytest.fixture(scope="module")
def town() -> wl.whatif.Comparison:
    return compare({"now": TOWN, "new": NEW}, HOMES, acceptance=CURVE, detail="monthly")


@pytest.fixture(scope="module")
def demo() -> wl.whatif.Comparison:
    low = {"incentive.county-rebate-low.share_of_cost": 0.3, "incentive.county-rebate-low.cap_usd": 2600}
    return compare(
        {"now": DEMO, "none": DEMO.changed({"incentive.county-rebate.flat_usd": 0}), "low": DEMO.changed(low)},
        SHEET,
        detail="monthly",
    )


def test_by_hand(town: wl.whatif.Comparison) -> None:
    """The rebate moves by $600 up for one home and by $1,000 down for another; everything else follows."""
    homes = town.households
    assert homes.index.tolist() == HOMES.index.tolist()
    assert homes["new: change"].tolist() == ["gains", "loses", "not served", "bad row", "gains"]
    # The remaining value is on the cost after incentives, so that a gain is a bit less than the rebate.
    alone = [wl.appraise(HOMES.loc[10].dropna().to_dict(), one, detail="monthly") for one in (TOWN, NEW)]
    net = [one.measures.net_savings_usd for one in alone]
    assert homes.loc[10, "new: gain_usd"] == pytest.approx(net[1] - net[0])
    assert 500 < homes.loc[10, "new: gain_usd"] <= 600
    for name, one in zip(("now", "new"), alone, strict=True):
        assert homes.loc[10, f"{name}: net_savings_usd"] == pytest.approx(one.measures.net_savings_usd)
        years = one.measures.simple_payback_years
        by_hand = 0.9 - 0.05 * years if years <= 10 else 0.4 - 0.04 * (years - 10)
        assert homes.loc[10, f"{name}: acceptance"] == pytest.approx(by_hand)
    assert homes["now: program_cost_usd"].tolist()[:2] == [1150, 1150]
    assert homes["new: program_cost_usd"].tolist()[:2] == [1750, 150]
    assert homes["now: program_cost_usd"].isna().tolist() == [False, False, True, True, False]
    assert homes["now: acceptance"].tolist()[2:] == [0, 0, 0]

    row = town.summary.loc["new"]
    weights = homes["new: acceptance"]
    assert (row["households"], row["bad_rows"], row["eligible"]) == (5, 1, 3)
    assert row["expected_participants"] == pytest.approx(weights.sum())
    assert row["participation"] == pytest.approx(weights.sum() / 3)
    cost = 1750 * weights[10] + 150 * weights[20]
    assert row["program_cost_usd"] == pytest.approx(cost)
    assert row["administration_usd"] == pytest.approx(150 * weights.sum())
    assert row["cost_per_participant_usd"] == pytest.approx(cost / weights.sum())
    result = town.results["new"]
    tonnes = (weights[[10, 20]] * result.loc[[10, 20], "co2_saved_kg"]).sum() * 20 / 1000  # packages live 20 years
    assert row["co2_saved_tonnes"] == pytest.approx(tonnes)
    assert row["cost_per_tonne_co2_usd"] == pytest.approx(cost / tonnes)
    net_savings = (weights[[10, 20]] * result.loc[[10, 20], "net_savings_usd"]).sum()
    assert row["cost_per_usd_saved"] == pytest.approx(cost / net_savings)
    assert (row["gains"], row["loses"]) == (2, 1)
    assert town.paid_by == ["town-rebate"]  # not the administrator's, but not the same in both
    assert town.changes.loc[("new", "low"), "gains"] == 2
    assert town.changes["bad row"].sum() == 1


def test_who_is_newly_served() -> None:
    renters = TOWN.changed({"suitability.renters_served": True})
    found = compare({"owners": TOWN, "all": renters}, HOMES, detail="monthly")
    assert found.households["all: change"].tolist() == ["same", "same", "newly served", "bad row", "same"]
    back = compare({"owners": TOWN, "all": renters}, HOMES, detail="monthly", base="all")
    assert back.households["owners: change"].tolist()[2] == "no longer served"
    assert pd.isna(back.households["owners: gain_usd"].iloc[2])


def test_the_same_design_twice_changes_nothing() -> None:
    found = compare({"one": DEMO, "other": DEMO}, SHEET, detail="monthly")
    assert set(found.households["other: change"]) <= {"same", "not served", "bad row"}
    assert (found.households["other: gain_usd"].fillna(0.0) == 0).all()
    pd.testing.assert_series_equal(found.summary.loc["one"], found.summary.loc["other"], check_names=False)


def test_the_parts_add_up(demo: wl.whatif.Comparison) -> None:
    sums = ["households", "bad_rows", "eligible", "expected_participants", "program_cost_usd", "net_savings_usd"]
    for name in demo.summary.index:
        tiers = demo.by_tier.loc[name]
        for column in [*sums, "co2_saved_tonnes", "incentives_usd", "gains", "loses"]:
            assert tiers[column].sum() == pytest.approx(demo.summary.loc[name, column])
        weights = demo.households[f"{name}: acceptance"]
        assert weights.between(0, 1).all()
        assert demo.summary.loc[name, "expected_participants"] <= demo.summary.loc[name, "eligible"]
        tests = demo.cost_tests.loc[name]
        by_hand = demo.results[name]
        net = by_hand["participant_test_benefits_usd"] - by_hand["participant_test_costs_usd"]
        assert tests.loc["participant", "net_usd"] == pytest.approx((net.fillna(0) * weights).sum())
        # All at one rate: the participant test is the net savings of who takes part.
        assert tests.loc["participant", "net_usd"] == pytest.approx(demo.summary.loc[name, "net_savings_usd"])
    counts = demo.changes.drop(columns=["gain_usd", "loss_usd"]).groupby("program").sum().sum(axis=1)
    assert counts.tolist() == [len(demo.households)] * 2
    assert list(demo.by_tier.loc["now"].index) == ["low", "moderate", "middle", "above", "not known"]


def test_less_help_never_raises_participation(demo: wl.whatif.Comparison) -> None:
    fewer = demo.summary.loc["none"]
    assert fewer["gains"] == 0 < fewer["loses"]
    assert (demo.households["none: acceptance"] <= demo.households["now: acceptance"]).all()
    assert fewer["program_cost_usd"] < demo.summary.loc["now", "program_cost_usd"]
    more = demo.summary.loc["low"]
    assert more["loses"] == 0 < more["gains"]
    assert set(demo.households.loc[demo.households["low: change"] == "gains", "income_tier"]) == {"low"}


def test_weights_of_cost_tests() -> None:
    results = wl.screen(SHEET, DEMO, detail="monthly", progress=False)
    whole = wl.cost_tests(results)
    ones = wl.cost_tests(results, weights=np.ones(len(results)))
    pd.testing.assert_frame_equal(whole, ones)
    half = wl.cost_tests(results, weights=np.full(len(results), 0.5))
    assert (half["net_usd"] * 2).tolist() == pytest.approx(whole["net_usd"].tolist())
    picked = results["decision"] == "pays in cash"
    pd.testing.assert_frame_equal(wl.cost_tests(results, weights=picked), wl.cost_tests(results[picked]))
    for wrong in ([1.0], np.full(len(results), -1.0), np.full(len(results), np.nan)):
        with pytest.raises(errors.ValueOutOfRange, match="weights"):
            wl.cost_tests(results, weights=wrong)


def test_the_curve_is_data_with_a_source() -> None:
    curve = acceptance_curve()
    assert curve["source"].notna().all()
    assert set(curve["status"]) <= {"verified", "secondary account", "from memory", "common practice"}
    # exp(-0.3 x years), as the file says, to four digits.
    for years, share in zip(curve["payback_years"], curve["share_of_households_that_accept"], strict=True):
        assert share == pytest.approx(math.exp(-0.3 * years), abs=5.1e-5)
    assert accepting_share(CURVE, [0, 5, 15, 20, 99, None]).tolist() == pytest.approx([0.9, 0.65, 0.2, 0, 0, 0])


@given(st.lists(st.floats(0, 60), min_size=2, max_size=20))
def test_a_longer_payback_is_never_accepted_by_more(years: list[float]) -> None:
    shares = accepting_share(acceptance_curve(), sorted(years))
    assert (np.diff(shares) <= 0).all()
    assert ((shares >= 0) & (shares <= 1)).all()


def test_the_folder_that_overrides_gives_its_curve(tmp_path: Path) -> None:
    CURVE.to_csv(tmp_path / "acceptance.csv", index=False)
    catalog = wl.load_catalog(override=tmp_path)
    assert acceptance_curve(catalog=catalog)["share_of_households_that_accept"].tolist() == [0.9, 0.4, 0.0]
    program = wl.parse_program(TOWN.text, catalog=catalog)
    found = compare({"a": program, "b": program}, HOMES, detail="monthly")
    assert found.acceptance.attrs["file"] == str(tmp_path / "acceptance.csv")
    named = compare({"a": TOWN, "b": TOWN}, HOMES, detail="monthly", acceptance=tmp_path / "acceptance.csv")
    pd.testing.assert_frame_equal(found.summary, named.summary)


@pytest.mark.parametrize(
    ("lines", "kind", "words"),
    [
        (["0,1", "5,x"], errors.MalformedText, "row 2.*share_of_households_that_accept: x is no number"),
        (["0,1", "5,"], errors.MissingValue, "row 2.*is missing"),
        (["0,1", "5,1.2"], errors.ValueOutOfRange, r"row 2.*1\.2 is out of range"),
        (["0,1", "-5,0.2"], errors.ValueOutOfRange, "row 2.*payback_years: -5"),
        (["0,0.5", "5,0.6"], errors.Contradiction, r"row 2.*0\.6 rises"),
        (["5,0.5", "5,0.4"], errors.Contradiction, "row 2.*5 does not rise"),
        (["0,nan", "5,0.4"], errors.ValueOutOfRange, "nan"),
        (["0,1"], errors.MissingValue, "too few points"),
    ],
)
def test_wrong_curves_are_named(lines: list[str], kind: type[Exception], words: str, tmp_path: Path) -> None:
    path = tmp_path / "curve.csv"
    path.write_text("\n".join(["payback_years,share_of_households_that_accept", *lines]) + "\n", encoding="utf-8")
    with pytest.raises(kind, match=words) as raised:
        acceptance_curve(path)
    assert "curve.csv" in str(raised.value)


def test_wrong_curve_files_are_named(tmp_path: Path) -> None:
    with pytest.raises(errors.FileUnreadable, match=r"none\.csv"):
        acceptance_curve(tmp_path / "none.csv")
    with pytest.raises(errors.MissingValue, match="share_of_households_that_accept"):
        acceptance_curve(pd.DataFrame({"payback_years": [0, 1]}))


@pytest.mark.parametrize(
    ("arguments", "kind", "words"),
    [
        ({"programs": {"now": TOWN}}, errors.MissingValue, "two or more"),
        ({"base": "then"}, errors.UnknownName, "now, new"),
        ({"paid_by": ["town-rebat"]}, errors.UnknownName, "did you mean town-rebate"),
        ({"threshold_usd": -1}, errors.ValueOutOfRange, "threshold_usd"),
        ({"detail": "weekly"}, errors.UnknownName, "weekly"),
    ],
)
def test_what_is_wrong_is_named(arguments: dict[str, Any], kind: type[Exception], words: str) -> None:
    with pytest.raises(kind, match=words):
        compare(**{"programs": {"now": TOWN, "new": NEW}, "sheet": HOMES, "detail": "monthly", **arguments})


def test_it_shows_itself_and_warns_of_unknown_columns(town: wl.whatif.Comparison) -> None:
    page = town._repr_html_()
    assert "2 gain and 1 lose against now" in page
    assert "town-rebate" in page
    assert repr(town).startswith("<Comparison of now, new over 5 households")
    with pytest.warns(errors.UnknownColumnWarning, match="occupant"):
        compare({"a": TOWN, "b": TOWN}, HOMES.assign(occupant=1), detail="monthly")


def test_nothing_to_divide_by_is_none_with_a_reason() -> None:
    found = compare({"a": TOWN, "b": NEW}, HOMES.loc[[30, 40]], detail="monthly")
    row = found.summary.loc["a"]
    assert (row["eligible"], row["expected_participants"], row["program_cost_usd"]) == (0, 0, 0)
    for name in ("participation", "cost_per_participant_usd", "cost_per_tonne_co2_usd", "cost_per_usd_saved"):
        assert pd.isna(row[name])
    assert "nobody is eligible" in row["reason"]
    assert "0 of 0 expected to take part; program cost $0<" in found._repr_html_()
    empty = compare({"a": TOWN, "b": NEW}, HOMES[:0], detail="monthly")
    assert (len(empty.households), len(empty.by_tier), len(empty.changes)) == (0, 0, 0)
    assert empty.summary["households"].tolist() == [0, 0]
    assert empty.cost_tests["households"].sum() == 0
