"""Income tiers, poverty regions and assistance programs, from a program file to Python."""

import datetime
import math
from pathlib import Path

import pytest
import warmledger as wl

DEMO = wl.data_dir() / "demo" / "program.toml"


def demo(*changes: tuple[str, str]) -> wl.Program:
    text = DEMO.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return wl.parse_program(text, "program")


def test_one_row_a_definition() -> None:
    table = wl.income_tiers(DEMO, yearly_income_usd=60000, occupants=4)
    assert list(table.columns) == ["definition", "title", "tier", "least_usd", "most_usd", "reason", "source"]
    tiers = dict(zip(table["definition"], table["tier"], strict=True))
    # The demo's area median is 84,000: 60,000 is 71 % of it.
    assert tiers["block-grants"] == "moderate"
    assert tiers["assisted-housing"] == "low"
    assert tiers["home-electrification"] == "low"
    assert tiers["community-reinvestment"] == "moderate"
    assert tiers["weatherization"] == "eligible"
    assert tiers["heating-assistance"] == "not known"
    row = table.set_index("definition").loc["block-grants"]
    assert (row["least_usd"], row["most_usd"]) == (42000, 67200)
    assert "24 CFR 570.3" in row["source"]
    assert table["reason"].str.len().min() > 10


def test_program_keys_decide_the_yardsticks() -> None:
    known = demo(("[income]", "[income]\nstate_median_income_usd = 100000"))
    tiers = wl.income_tiers(known, yearly_income_usd=60000, occupants=4).set_index("definition")
    assert tiers.loc["heating-assistance", "tier"] == "eligible"
    alaska = demo(("[income]", '[income]\npoverty_region = "alaska"'))
    assert wl.income_tiers(alaska, yearly_income_usd=1, occupants=1).set_index("definition").loc[
        "weatherization", "most_usd"
    ] == pytest.approx(2 * 19950)
    by_state = demo(("study_years", 'state = "HI"\nstudy_years'))
    assert wl.income_tiers(by_state, yearly_income_usd=1, occupants=1).set_index("definition").loc[
        "weatherization", "most_usd"
    ] == pytest.approx(2 * 18360)
    for territory_or_old in (
        demo(("study_years", 'state = "PR"\nstudy_years')),
        demo(("install_date = 2026-09-01", "install_date = 2024-01-10")),
    ):
        row = wl.income_tiers(territory_or_old, yearly_income_usd=1, occupants=1).set_index("definition")
        assert row.loc["weatherization", "tier"] == "not known"
        assert math.isnan(row.loc["weatherization", "most_usd"])


def test_the_guideline_stands_in_the_assumptions() -> None:
    rows = {what: (value, source) for what, value, source in wl.load_program(DEMO).assumptions()}
    assert rows["Poverty guideline, four persons"][0] == "$33,000.00 (contiguous, from 2026-01-13)"
    assert "91 FR 1797" in rows["Poverty guideline, four persons"][1]
    assert wl.load_program(DEMO).install_date == datetime.date(2026, 9, 1)


def test_what_cannot_be() -> None:
    with pytest.raises(wl.errors.ValueOutOfRange, match="persons"):
        wl.income_tiers(DEMO, yearly_income_usd=1, occupants=0)
    with pytest.raises(wl.errors.ValueOutOfRange, match="yearly_income_usd"):
        wl.income_tiers(DEMO, yearly_income_usd=-1, occupants=1)
    with pytest.raises(wl.errors.UnknownName, match=r"poverty_region.*allowed: contiguous, alaska, hawaii"):
        demo(("[income]", '[income]\npoverty_region = "hawai"'))
    with pytest.raises(wl.errors.ValueOutOfRange, match="state_median_income_usd"):
        demo(("[income]", "[income]\nstate_median_income_usd = 10"))


def test_assistance_is_a_column_of_the_sheet(tmp_path: Path) -> None:
    sheet = tmp_path / "two words.csv"
    sheet.write_text(
        "household_id,place,occupants,yearly_income_usd,heater_fuel,assistance\n"
        "a,Quillmere,4,52000,propane,food; heating\n"
        "b,Quillmere,4,52000,propane,fod\n"
        "c,Quillmere,4,52000,propane,\n",
        encoding="utf-8",
    )
    problems = wl.check(sheet, DEMO)
    assert list(problems["row"]) == [2]
    assert problems["column"].iloc[0] == "assistance"
    assert "did you mean food?" in problems["what"].iloc[0]
