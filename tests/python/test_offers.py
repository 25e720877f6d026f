"""wl.evaluate_offers: columns in, columns out; the same as vectorised NumPy says (general-purpose library)."""

import importlib.util
import pathlib
import pickle

import numpy as np
import pandas as pd
import pytest
import warmledger as wl

_bench = pathlib.Path(__file__).parent.parent / "bench" / "numpy_offers.py"


@pytest.fixture(scope="module")
def pipeline():
    spec = importlib.util.spec_from_file_location("numpy_offers", _bench)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_all_measures_agree_with_a_plain_numpy_pipeline(pipeline):
    pipeline.check(pipeline.invented(1500, seed=5))


def test_threads_and_order_change_nothing(pipeline):
    offers = pipeline.invented(700, seed=2)
    one = wl.evaluate_offers(offers, study_years=30, threads=1)
    two = wl.evaluate_offers(offers, study_years=30, threads=2)
    pd.testing.assert_frame_equal(one, two, check_exact=True)
    back = wl.evaluate_offers({name: column[::-1] for name, column in offers.items()}, study_years=30)
    assert np.array_equal(one.to_numpy(), back.to_numpy()[::-1], equal_nan=True)


def test_a_frame_keeps_its_index_and_reasons_are_words():
    frame = pd.DataFrame({"installed_cost_usd": [5000.0, 5000.0], "bills_without_usd": [600.0, 12.0]}, index=["a", "b"])
    found = wl.evaluate_offers(frame, study_years=20)
    assert list(found.index) == ["a", "b"]
    assert found.loc["a", "simple_payback_years"] == pytest.approx(5000 / 600)
    assert np.isnan(found.loc["b", "simple_payback_years"])
    reasons = found.attrs["reasons"].frame()
    assert reasons.loc["b", "simple_payback_years"] == "not recovered within the study period"
    assert reasons.loc["a", "simple_payback_years"] == ""
    assert (reasons.ne("") == found.isna()).all().all()
    pd.testing.assert_frame_equal(pickle.loads(pickle.dumps(found)), found)


def test_one_number_stands_for_all():
    found = wl.evaluate_offers(
        {"installed_cost_usd": [1000, 2000, 3000], "bills_without_usd": 240, "incentive_usd": [[100, 50]]}
    )
    assert found["net_cost_usd"].tolist() == [850, 1850, 2850]
    assert found["first_year_saving_usd"].tolist() == pytest.approx([240] * 3)


@pytest.mark.parametrize(
    ("change", "kind", "words"),
    [
        ({"instaled_cost_usd": 1}, wl.errors.UnknownName, "instaled_cost_usd"),
        ({"installed_cost_usd": None}, wl.errors.ValueOutOfRange, "installed_cost_usd"),
        ({"fuel_escalation": [0.1, 9.0]}, wl.errors.ValueOutOfRange, "row 2, fuel_escalation: 9 is out of range"),
        ({"loan_term_months": 10.5}, wl.errors.ValueOutOfRange, "loan_term_months: 10.5 is no whole number"),
        ({"bills_with_usd": [[1, 2, 3]]}, wl.errors.ValueOutOfRange, "bills_with_usd"),
        ({"upkeep_usd_year": [1, 2, 3]}, wl.errors.ValueOutOfRange, "upkeep_usd_year"),
        ({"pump_usd": float("nan")}, wl.errors.ValueOutOfRange, "row 1, pump_usd"),
    ],
)
def test_mistakes_are_named(change, kind, words):
    offers = {"installed_cost_usd": [1000, 2000], "bills_without_usd": [240, 250], **change}
    with pytest.raises(kind, match=words):
        wl.evaluate_offers(offers)


def test_what_is_missing_is_named():
    with pytest.raises(wl.errors.MissingValue, match="bills_without_usd"):
        wl.evaluate_offers({"installed_cost_usd": 1000})
    with pytest.raises(wl.errors.ValueOutOfRange, match="study_years"):
        wl.evaluate_offers({"installed_cost_usd": 1000, "bills_without_usd": 1}, study_years=51)
