"""Program.changed: a program with named keys changed, checked as a file is."""

import copy
import datetime
import pickle
import tomllib
from decimal import Decimal
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
from warmledger.changes import toml_text

DEMO = wl.data_dir() / "demo" / "program.toml"


@pytest.fixture(scope="module")
def demo() -> wl.Program:
    return wl.load_program(DEMO)


@pytest.mark.parametrize(
    ("key", "value", "old", "new"),
    [
        ("study_years", 25, "study_years = 20", "study_years = 25"),
        ("study_years", np.int64(25), "study_years = 20", "study_years = 25"),
        ("economics.inflation_rate", 0.03, "inflation_rate = 0.02", "inflation_rate = 0.03"),
        ("economics.inflation_rate", Decimal("0.03"), "inflation_rate = 0.02", "inflation_rate = 0.03"),
        ("prices.electricity.usd_per_unit", np.float64(0.25), "usd_per_unit = 0.20", "usd_per_unit = 0.25"),
        ("install_date", datetime.date(2025, 5, 1), "install_date = 2026-05-01", "install_date = 2025-05-01"),
        ("install_date", pd.Timestamp("2025-05-01"), "install_date = 2026-05-01", "install_date = 2025-05-01"),
        ("income.tier.low.most_share", 0.5, "most_share = 0.8", "most_share = 0.5"),
        ("place.Testville.latitude_deg", 36.1, "latitude_deg = 39.7", "latitude_deg = 36.1"),
        ("package.two-collectors.material_usd", 2000, "material_usd = 3200", "material_usd = 2000"),
        ("incentive.town-rebate.flat_usd", 0, "flat_usd = 1000", "flat_usd = 0"),
        ("incentive.town-rebate.fuels", ["propane"], 'kind = "rebate"', 'kind = "rebate"\nfuels = ["propane"]'),
        ("loan.ten-years.yearly_rate", 0.01, "yearly_rate = 0.04", "yearly_rate = 0.01"),
        ("decision.longest_simple_payback_years", None, "longest_simple_payback_years = 12\n", ""),
        ("heater.replacement_usd", 900, "[decision]", "[heater]\nreplacement_usd = 900\n\n[decision]"),
    ],
)
def test_it_is_the_program_of_the_file_with_that_change(
    program: wl.Program, key: str, value: Any, old: str, new: str
) -> None:
    assert PROGRAM.count(old) == 1
    by_hand = wl.parse_program(PROGRAM.replace(old, new), "by hand")
    changed = program.changed({key: value})
    homes = pd.DataFrame([household("A"), household("B", heater_fuel="propane", yearly_income_usd=20_000)])
    results = [wl.screen(homes, one, detail="monthly", progress=False) for one in (by_hand, changed)]
    pd.testing.assert_frame_equal(results[0], results[1], check_exact=True)
    assert by_hand.assumptions() == changed.assumptions()[1:]
    assert tomllib.loads(by_hand.text) == tomllib.loads(changed.text)


def test_the_first_program_stays_as_it_is(program: wl.Program) -> None:
    before = (program.text, program.study_years)
    program.changed({"study_years": 9})
    assert (program.text, program.study_years, program.changes) == (*before, {})


def test_whole_entries_come_and_go(demo: wl.Program) -> None:
    more = demo.changed({"loan.bridge": {"title": "Bridge", "yearly_rate": 0.06, "term_months": 24}})
    assert more.loans == [*demo.loans, "bridge"]
    assert more.setting("loan.bridge.term_months") == 24
    fewer = more.changed({f"loan.{name}": None for name in demo.loans})
    assert fewer.loans == ["bridge"]
    assert fewer.changed({"loan.bridge": None}).loans == []
    assert list(fewer.changes) == ["loan.bridge", *(f"loan.{name}" for name in demo.loans)]
    replaced = more.changed({"loan.bridge": {"title": "Other", "yearly_rate": 0.0, "term_months": 12}})
    assert replaced.loans == more.loans
    assert replaced.setting("loan.bridge")["title"] == "Other"


def test_names_with_spaces_stand_in_quotes(demo: wl.Program) -> None:
    key = 'package.glycol-medium.upkeep."pump replaced".usd'
    assert demo.setting(key) == 340
    assert demo.changed({key: 400}).setting(key) == 400
    assert demo.changed({'place."Dunmarrow Flats".latitude_deg': 38.4}).setting("place")[1]["latitude_deg"] == 38.4


def test_one_kind_of_amount_for_another(demo: wl.Program) -> None:
    design = demo.changed({"incentive.county-rebate.flat_usd": None, "incentive.county-rebate.share_of_cost": 0.1})
    assert "flat_usd" not in design.setting("incentive.county-rebate")


def test_changes_travel_and_are_told(demo: wl.Program) -> None:
    changed = demo.changed({"study_years": 25}).changed({"loan.seven-year-loan": None})
    for again in (pickle.loads(pickle.dumps(changed)), copy.deepcopy(changed), copy.copy(changed)):
        assert again.changes == {"study_years": 25, "loan.seven-year-loan": None}
        assert again.text == changed.text
        assert again.study_years == 25
    assert [row[:2] for row in changed.assumptions()[:2]] == [
        ("changed: study_years", "25"),
        ("changed: loan.seven-year-loan", "taken out"),
    ]
    assert "changed: study_years, loan.seven-year-loan" in repr(changed)
    assert "loan.seven-year-loan = None" in changed._repr_html_()


def test_a_changed_program_can_be_saved(demo: wl.Program, tmp_path: Path) -> None:
    path = tmp_path / "b.toml"
    changed = demo.changed({"study_years": 25})
    path.write_text(changed.text, encoding="utf-8")
    assert wl.load_program(path).assumptions() == changed.assumptions()[1:]


@pytest.mark.parametrize(
    ("changes", "kind", "words"),
    [
        ({"study_years": 500}, errors.ValueOutOfRange, "changed, study_years: 500 is out of range; allowed: a whole"),
        ({"study_years": 20.5}, errors.MalformedText, "study_years: 20.5 is not a whole number"),
        ({"study_years": 10**40}, errors.MalformedText, "study_years"),
        ({"study_year": 25}, errors.UnknownName, "did you mean study_years?"),
        ({"economic.inflation_rate": 0.1}, errors.UnknownName, "did you mean economics?"),
        ({"package.glycol-medium.material_usd": -5}, errors.ValueOutOfRange, "package.glycol-medium.material_usd: -5"),
        (
            {"package.glycol-medium.material_usd": 1, "package.drain-back-small.material_usd": -5},
            errors.ValueOutOfRange,
            "package.drain-back-small.material_usd: -5",
        ),
        ({"income.area_median_income_usd": float("nan")}, errors.ValueOutOfRange, "area_median_income_usd: NaN"),
        ({"incentive.county-rebate.share_of_cost": 0.1}, errors.Contradiction, "stands beside flat_usd"),
        ({"loan.seven-year-lon.title": "x"}, errors.UnknownName, "did you mean seven-year-loan?"),
        ({"incentive.federal-solar-water-heating-2022": None}, errors.UnknownName, "is no incentive of this program"),
        ({"loan.new": {"title": "n"}}, errors.MissingValue, "loan.yearly_rate: is missing"),
        ({"loan.new": 3}, errors.MalformedText, r"a mapping with the keys of \[\[loan\]\]"),
        ({"decision.longest": None}, errors.UnknownName, "is not said in this program file"),
        ({"title.short": "x"}, errors.MalformedText, "goes on behind title"),
        ({"package": None}, errors.MissingValue, "package: is missing"),
        ({"title": "two\nlines"}, errors.MalformedText, "control character"),
        ({"title": "\ud800"}, errors.MalformedText, "has no form in a program file"),
        ({"title": object()}, errors.MalformedText, "has no form in a program file"),
        ({"title": b"x"}, errors.MalformedText, "has no form in a program file"),
        ({"a b": 1}, errors.MalformedText, "is no key of a program file"),
        ({"": 1}, errors.MalformedText, "is no key of a program file"),
        ({"a = 1\nb": 1}, errors.MalformedText, "is no key of a program file"),
        ({"study_years = 0 #": 1}, errors.MalformedText, "is no key of a program file"),
        ({7: 1}, errors.MalformedText, "is no key of a program file"),
        ([("study_years", 20)], errors.MalformedText, "are no changes"),
    ],
)
def test_errors_are_those_of_a_file_and_name_the_key(
    demo: wl.Program, changes: Any, kind: type[errors.Error], words: str
) -> None:
    with pytest.raises(errors.Error, match=words) as caught:
        demo.changed(changes)
    assert type(caught.value) is kind
    assert caught.value.problem["line"] is None


def test_settings_that_are_not_there(demo: wl.Program) -> None:
    with pytest.raises(errors.UnknownName, match=r"did you mean inflation_rate\?"):
        demo.setting("economics.inflation_rat")
    with pytest.raises(errors.UnknownName, match="is no loan of this program file"):
        demo.setting("loan.none.title")
    with pytest.raises(errors.UnknownName):
        demo.setting("title.short")


NAMES = st.text(st.characters(blacklist_categories=["Cs"]), max_size=8)
VALUES = st.recursive(
    st.one_of(st.booleans(), st.integers(-(2**63), 2**63 - 1), st.floats(allow_nan=False), NAMES, st.dates()),
    lambda parts: st.one_of(st.lists(parts, max_size=3), st.dictionaries(NAMES, parts, max_size=3)),
    max_leaves=8,
)


@given(st.dictionaries(NAMES, VALUES, max_size=5))
def test_any_document_is_written_so_that_it_reads_the_same(document: dict[str, Any]) -> None:
    assert tomllib.loads(toml_text(document)) == document
