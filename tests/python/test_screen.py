"""Whole sheets: every row comes out, in order, whatever stands in it."""

import copy
import pickle
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import warmledger as wl
from conftest import PROGRAM, household
from hypothesis import given, settings
from hypothesis import strategies as st
from warmledger import errors

COLUMNS = [column["name"] for column in wl._core.catalog.household_columns()]


def many(count: int) -> pd.DataFrame:
    fuels = ["electricity", "natural_gas", "propane", "heating_oil"]
    rows = [
        household(
            f"H{i}",
            occupants=1 + i % 7,
            yearly_income_usd=9_000 * (1 + i % 13),
            heater_fuel=fuels[i % 4],
            roof_azimuth_deg=120 + i % 120,
        )
        for i in range(count)
    ]
    return pd.DataFrame(rows)


def test_all_rows_in_order_with_the_index(program: wl.Program) -> None:
    frame = many(300)
    frame.index = pd.Index(np.arange(300)[::-1] * 10, name="case")
    frame.loc[frame.index[100], "occupants"] = -1
    result = wl.screen(frame, program, progress=False)
    assert result["household_id"].tolist() == frame["household_id"].tolist()
    assert result.index.equals(frame.index)
    assert result.index.name == "case"
    assert (result["decision"] == "bad row").tolist() == [i == 100 for i in range(300)]


def test_threads_do_not_change_the_result(program: wl.Program) -> None:
    frame = many(500)
    one = wl.screen(frame, program, threads=1, progress=False)
    for threads in (2, 3, 8):
        pd.testing.assert_frame_equal(wl.screen(frame, program, threads=threads, progress=False), one, check_exact=True)


@pytest.mark.parametrize("threads", [0, -1, 5000])
def test_threads_out_of_range(program: wl.Program, threads: int) -> None:
    with pytest.raises(errors.ValueOutOfRange, match=r"threads: .* is out of range; allowed: 1 to 1024 threads"):
        wl.screen(many(1), program, threads=threads)


def test_types_of_the_columns(program: wl.Program) -> None:
    result = wl.screen(many(40), program, progress=False)
    kinds = {"text": "string", "number": "Float64", "whole number": "Int64", "yes or no": "boolean"}
    assert result.dtypes.astype(str).to_dict() == {c["name"]: kinds[c["kind"]] for c in wl.result_columns()}
    for name in result.columns[result.dtypes == "Float64"]:
        values = result[name].dropna().to_numpy(dtype=float)
        assert np.isfinite(values).all()
    assert (result["installed_cost_usd"] - result["incentives_usd"] - result["net_cost_usd"]).abs().max() < 1e-9
    assert result["simple_payback_years"].isna().any()
    assert result["simple_payback_years"].notna().any()


@pytest.mark.parametrize(
    ("changes", "kind"),
    [
        ({"occupants": -2}, "occupants: -2 is out of range; allowed: a whole number, 1 to 20 persons"),
        ({"occupants": 2.5}, "occupants: 2.5 is not a whole number"),
        ({"occupants": None}, "occupants: is missing"),
        ({"yearly_income_usd": float("nan")}, "yearly_income_usd: is missing"),
        ({"yearly_income_usd": "NaN"}, "yearly_income_usd: NaN is not a number"),
        ({"yearly_income_usd": float("inf")}, "yearly_income_usd: inf is not a number"),
        ({"yearly_income_usd": 1e300}, "yearly_income_usd: 1e+300 is out of range"),
        ({"yearly_income_usd": "about 40k"}, "yearly_income_usd: about 40k is not a number"),
        ({"roof_pitch_rise_in_12": 90}, "roof_pitch_rise_in_12: 90 is out of range; allowed: 0 to 24"),
        ({"roof_pitch_rise_in_12": 6, "roof_tilt_deg": 26}, "are both given; allowed: one of the two"),
        ({"heater_fuel": "elektricity"}, "heater_fuel: elektricity is not known (did you mean electricity?)"),
        ({"installed_cost_usd": -100}, "installed_cost_usd: -100 is out of range"),
        ({"place": "Testvile"}, "did you mean Testville?"),
        ({"package": "none"}, "is not a package of the program"),
        ({"heater_kind": "heat_pump", "heater_fuel": "propane"}, "heat_pump"),
        ({"household_id": "twice"}, "household_id: twice already stands in row 1"),
        ({"household_id": "a\tb"}, "control character"),
        ({"place": None}, "place: is missing, and so are latitude_deg and longitude_deg"),
    ],
)
def test_a_bad_row_is_told_and_harms_no_other(program: wl.Program, changes: dict[str, object], kind: str) -> None:
    frame = pd.DataFrame([household("twice"), household("bad", **changes), household("C")])
    result = wl.screen(frame, program, progress=False)
    assert (result["decision"] == "bad row").tolist() == [False, True, False]
    problems = result.attrs["problems"]
    assert [problem["row"] for problem in problems] == [2] * len(problems)
    assert kind in " ".join(problem["sentence"] for problem in problems)
    assert problems[0]["what"] in result["reason"].iloc[1]
    assert problems[0]["sentence"].startswith("row 2, ")


def test_choices_may_be_written_as_people_write_them(program: wl.Program) -> None:
    words = ["natural_gas", "Natural gas", "NATURAL-GAS", " natural gas "]
    frame = pd.DataFrame([household(f"H{i}", heater_fuel=word) for i, word in enumerate(words)])
    result = wl.screen(frame, program, detail="monthly", progress=False)
    assert result["fuel_unit"].tolist() == ["therm"] * 4
    assert result["net_savings_usd"].nunique() == 1
    wrong = wl.check(pd.DataFrame([household(heater_fuel="natural  gas"), household("B", heater_fuel="naturalgas")]))
    assert wrong["row"].tolist() == [1, 2]


def test_ragged_rows_are_bad_rows(program: wl.Program, csv_file: Callable[..., Path]) -> None:
    good = "Testville,4,50000,electricity"
    path = csv_file(f"A,{good}", "B,Testville,4", f"C,{good},surplus", f"D,{good}", "", f"E,{good}")
    result = wl.screen(path, program, progress=False)
    assert result["household_id"].fillna("").tolist() == ["A", "B", "C", "D", "", "E"]
    assert (result["decision"] == "bad row").tolist() == [False, True, True, False, True, False]
    sentences = [problem["sentence"] for problem in result.attrs["problems"]]
    for where, count in (("row 2 (row 3 of the file)", 3), ("row 3 (row 4 of the file)", 6)):
        sentence = f"{where}: {count} cells do not fit the header; allowed: 5 cells"
        assert any(sentence in text for text in sentences)
    assert result.index.tolist() == [1, 2, 3, 4, 5, 6]


def test_unknown_columns_are_warned_of(program: wl.Program) -> None:
    frame = pd.DataFrame([household(occupantz=3, note="x")])
    with pytest.warns(wl.UnknownColumnWarning) as caught:
        result = wl.screen(frame, program, progress=False)
    assert [str(w.message) for w in caught] == [
        "column 'occupantz' is not known and was not used (did you mean occupants?)",
        "column 'note' is not known and was not used",
    ]
    assert result.attrs["unknown_columns"] == [["occupantz", "occupants"], ["note", ""]]


def test_missing_and_duplicate_columns(program: wl.Program) -> None:
    frame = pd.DataFrame([household()])
    with pytest.raises(errors.MissingValue, match=r"occupants: is missing from the header \(is \"occupant\" meant\?\)"):
        wl.screen(frame.rename(columns={"occupants": "occupant"}), program)
    with pytest.raises(errors.DuplicateName, match="place: stands twice in the header, in columns 2 and 6"):
        wl.screen(pd.concat([frame, frame[["place"]]], axis=1), program)


def test_hourly_is_the_default_and_monthly_the_fast_choice(program: wl.Program) -> None:
    default = wl.screen(many(3), program, progress=False)
    hourly = wl.screen(many(3), program, detail="hourly", progress=False)
    monthly = wl.screen(many(3), program, detail="monthly", progress=False)
    pd.testing.assert_frame_equal(default, hourly)
    assert (hourly["pump_hours"] > 500).all()
    assert monthly["pump_hours"].isna().all()
    # Layers in the tank bring the simulation above the correlation, which was fitted to mixed tanks.
    assert (hourly["solar_fraction_pct"] - monthly["solar_fraction_pct"]).between(-3, 18).all()
    with pytest.raises(errors.UnknownName, match="weekly"):
        wl.screen(many(3), program, detail="weekly", progress=False)


def test_problems_survive_copies_and_pickles(program: wl.Program) -> None:
    result = wl.screen(pd.DataFrame([household(occupants=0)]), program, progress=False)
    problems = result.attrs["problems"]
    assert len(problems) == 1
    for again in (result.copy(), copy.deepcopy(result), pickle.loads(pickle.dumps(result)), result[["decision"]]):
        assert again.attrs["problems"] == problems


def test_empty_frame_gives_empty_result(program: wl.Program) -> None:
    result = wl.screen(pd.DataFrame([household()]).iloc[:0], program, progress=False)
    assert len(result) == 0
    assert result.attrs["problems"] == []


def test_progress_function_sees_the_end(program: wl.Program) -> None:
    seen: list[tuple[int, int]] = []
    wl.screen(many(200), program, progress=lambda done, total: seen.append((done, total)))
    assert seen[-1] == (200, 200)
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)


def test_what_a_progress_function_raises_stops_the_run(program: wl.Program) -> None:
    def refuse(done: int, total: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        wl.screen(many(200), program, progress=refuse)


def test_check_finds_all_that_a_simulation_would(program: wl.Program) -> None:
    rows = [
        household("A", package="none"),
        household("B", heater_kind="heat_pump", heater_fuel="propane"),
        household("C", place=None, latitude_deg=10.0, longitude_deg=10.0),
        household("D"),
        household("D"),
        household("E", heater_uniform_energy_factor=3.9),
        household("F", place=None, latitude_deg=21.3, longitude_deg=-157.9, set_temperature_f=90),
        household("G", hot_water_gal_day=400),
    ]
    frame = pd.DataFrame(rows)
    screened = wl.screen(frame, program, progress=False).attrs["problems"]
    assert {problem["row"] for problem in screened} >= {1, 2, 3, 5, 6}
    assert wl.check(frame, program)["sentence"].tolist() == [problem["sentence"] for problem in screened]


def test_check_finds_what_screen_finds(program: wl.Program) -> None:
    frame = pd.DataFrame([household("A", occupants=0), household("B"), household("C", place="Nowhere at all")])
    full = wl.check(frame, program)
    screened = wl.screen(frame, program, progress=False).attrs["problems"]
    assert full["sentence"].tolist() == [problem["sentence"] for problem in screened]
    assert full[["row", "column"]].values.tolist() == [[1, "occupants"], [3, "place"]]
    assert wl.check(frame)["row"].tolist() == [1]


def test_program_can_be_a_path_and_travels(program: wl.Program, program_file: Path) -> None:
    by_path = wl.screen(many(5), program_file, progress=False)
    by_copy = wl.screen(many(5), pickle.loads(pickle.dumps(program)), progress=False)
    pd.testing.assert_frame_equal(by_path, by_copy)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("study_years = 20", "study_years = 0", ["line 4", "study_years", "0", "1 to 50 years"]),
        ("study_years = 20", "study_years = 500", ["line 4", "study_years", "500", "1 to 50 years"]),
        ("study_years = 20", "study_year = 20", ["line 4", "study_year", "did you mean study_years?"]),
        ("yearly_rate = 0.04", "yearly_rate = 40.0", ["yearly_rate", "40"]),
        ("material_usd = 3200", "material_usd = -1", ["material_usd", "-1"]),
        ("material_usd = 3200", "material_usd = nan", ["material_usd"]),
        ("material_usd = 3200", "material_usd = inf", ["material_usd"]),
        ("install_date = 2026-05-01", "install_date = 2026-02-30", ["line 3"]),
        ("install_date = 2026-05-01", "install_date = 1000-05-01", ["line 3", "install_date", "1000-05-01"]),
        ("[economics]", "[economics", ["line 6"]),
    ],
)
def test_wrong_program_file_names_line_and_key(tmp_path: Path, old: str, new: str, words: list[str]) -> None:
    path = tmp_path / "wrong.toml"
    assert old in PROGRAM
    path.write_text(PROGRAM.replace(old, new), encoding="utf-8")
    with pytest.raises(errors.Error) as caught:
        wl.load_program(path)
    for word in ["wrong.toml", *words]:
        assert word in str(caught.value)


def test_program_file_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(errors.FileUnreadable, match="cannot be read"):
        wl.load_program(tmp_path / "none.toml")
    path = tmp_path / "latin.toml"
    path.write_bytes(b'title = "a"\nnote = "\xe9"\n')
    with pytest.raises(errors.FileUnreadable, match=r"line 2: is not UTF-8 \(byte 0xE9\)"):
        wl.load_program(path)


def test_data_folder_can_be_overridden(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    prices = (wl.data_dir() / "prices.csv").read_text(encoding="utf-8").splitlines()
    fuels = (wl.data_dir() / "fuels.csv").read_text(encoding="utf-8")
    assert prices
    (tmp_path / "fuels.csv").write_text(fuels.split("\n", 1)[0] + "\n", encoding="utf-8")
    monkeypatch.setenv("WARMLEDGER_DATA", str(tmp_path))
    with pytest.raises(errors.Error, match=r"fuels\.csv"):
        wl.load_catalog()
    wl.load_catalog(data=wl.data_dir())  # an argument goes before the environment
    monkeypatch.delenv("WARMLEDGER_DATA")
    with pytest.raises(errors.Error, match=r"fuels\.csv"):
        wl.load_catalog(override=tmp_path)


CELLS = st.one_of(
    st.none(),
    st.text(max_size=30),
    st.floats(),
    st.integers(-(10**20), 10**20),
    st.booleans(),
    st.sampled_from(["=1+1", "@x", "1e400", "-0", "$1,000", "1,00", "٣", "0x10", "\ud800", "electricity", "1" * 400]),
)


@settings(max_examples=150, deadline=None)
@given(rows=st.lists(st.dictionaries(st.sampled_from(COLUMNS), CELLS), min_size=1, max_size=8))
def test_any_cell_in_any_column_loses_no_row(rows: list[dict[str, object]]) -> None:
    program = wl.parse_program(PROGRAM, "test.toml")
    frame = pd.DataFrame([household(f"H{i}") | row for i, row in enumerate(rows)], dtype=object)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        result = wl.screen(frame, program, progress=False, threads=1)
    assert len(result) == len(rows)
    bad = {problem["row"] for problem in result.attrs["problems"]}
    assert {i for i, decision in enumerate(result["decision"], start=1) if decision == "bad row"} == bad
    assert result["reason"].notna().all()
