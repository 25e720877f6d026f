"""Incentives from Python: what-ifs, the tax view, pools on a sheet, a new state as one file."""

import datetime

import pandas as pd
import pytest
import warmledger as wl

PROGRAM = """
title = "Program of an invented county"
note = "Invented."
install_date = 2026-09-01
jurisdictions = ["federal"]

[economics]
nominal_discount_rate = 0.05
inflation_rate = 0.02

[income]
area_median_income_usd = 80000
source = "invented"

[[package]]
id = "two"
title = "Two collectors"
collector = "flat-plate-selective"
collector_count = 2
storage_gal = 80
loop = "drain_back"
material_usd = 5000
labor_usd = 3000
certification = "an invented body, number 7"

[suitability]
renters_served = true
"""

RULE = """
[[incentive]]
id = "{id}"
title = "{id}"
payer = "invented"
citation = "invented"
standing = "invented"
kind = "rebate"
flat_usd = {usd}
{more}
"""

HOUSEHOLD = {
    "household_id": "h",
    "place": "Denver",
    "occupants": 4,
    "yearly_income_usd": 60000,
    "heater_fuel": "electricity",
    "latitude_deg": 39.74,
    "longitude_deg": -104.99,
}
LAST = "federal-solar-water-heating-2022"


def rule(frame: pd.DataFrame, name: str) -> pd.Series:
    return frame.set_index("id").loc[name]


def test_an_ended_credit_pays_nothing_and_as_if_says_so_everywhere() -> None:
    program = wl.parse_program(PROGRAM)
    now = wl.appraise(HOUSEHOLD, program, detail="monthly")
    ended = rule(now.incentives, LAST)
    assert not ended["applied"]
    assert ended["reason"].startswith("ended on 2025-12-31")
    assert ended["as_if"] == ""

    extended = program.as_if(LAST, valid_to=datetime.date(2034, 12, 31))
    assert "what-if, not the law" in extended.note
    one = wl.appraise(HOUSEHOLD, extended, detail="monthly")
    what_if = rule(one.incentives, LAST)
    assert what_if["applied"]
    assert what_if["amount_usd"] == 2400.0
    assert "what-if, not the law: valid_to 2034-12-31 (by its citation 2025-12-31)" in what_if["reason"]
    assert one.ledger()["reason"].str.contains("what-if, not the law").any()
    row = wl.screen(pd.DataFrame([HOUSEHOLD]), extended, detail="monthly", progress=False).iloc[0]
    assert LAST in row["as_if"]
    assert f"{LAST} (what-if, not the law): $2,400.00" in row["incentives_applied"]
    # The same from a file, and the errors of one.
    assert wl.appraise(HOUSEHOLD, wl.parse_program(extended.text), detail="monthly").measures.incentives_usd == 2400.0
    with pytest.raises(wl.errors.UnknownName, match="did you mean"):
        program.as_if(LAST + "x", valid_to=datetime.date(2034, 12, 31))
    with pytest.raises(wl.errors.MissingValue):
        program.as_if(LAST)


def test_the_tax_view_follows_a_credit_year_by_year() -> None:
    extended = wl.parse_program(PROGRAM).as_if(LAST, valid_to=datetime.date(2034, 12, 31))
    given = wl.appraise({**HOUSEHOLD, "tax_liability_usd": 1000}, extended, detail="monthly").tax
    assert given["year"].tolist() == [2026, 2027, 2028]
    assert given["used_usd"].tolist() == [1000.0, 1000.0, 400.0]
    assert given["carried_usd"].tolist() == [1400.0, 400.0, 0.0]
    assert not given["estimated"].any()
    household = {**HOUSEHOLD, "yearly_income_usd": 52000}
    estimated = wl.appraise(household, extended, detail="monthly").tax
    # Income 52,000 of a single person in 2026: 10 % of 12,400 and 12 % of 23,500 (Rev. Proc. 2025-32).
    assert estimated["estimated"].all()
    assert estimated["liability_usd"].iloc[0] == pytest.approx(4060.0)
    less = wl.appraise({**household, "other_tax_credits_usd": 4000}, extended, detail="monthly").tax
    assert less["used_usd"].iloc[0] == pytest.approx(60.0)


def test_of_rules_that_exclude_each_other_the_table_shows_the_one_passed_up() -> None:
    text = (
        PROGRAM
        + RULE.format(id="small", usd=300, more="")
        + RULE.format(id="large", usd=900, more='not_with = ["small"]')
    )
    frame = wl.appraise(HOUSEHOLD, wl.parse_program(text), detail="monthly").incentives
    assert rule(frame, "large")["applied"]
    small = rule(frame, "small")
    assert (small["instead"], small["less_usd"]) == ("large", 600.0)


def test_a_pool_funds_in_its_order_and_those_who_wait_are_appraised_without_it() -> None:
    pool = '\n[[pool]]\nid = "county"\ntitle = "County money"\nusd = 2500\norder = "need_first"\n'
    text = PROGRAM + RULE.format(id="rebate", usd=1000, more='pool = "county"') + pool
    incomes = [70000, 20000, 50000, 30000, None]
    sheet = pd.DataFrame(
        [{**HOUSEHOLD, "household_id": f"h{i}", "yearly_income_usd": income} for i, income in enumerate(incomes)]
    )
    result = wl.screen(sheet, wl.parse_program(text), detail="monthly", progress=False)
    assert result["household_id"].tolist() == ["h0", "h1", "h2", "h3", "h4"]
    assert result["incentives_usd"].iloc[:4].tolist() == [0.0, 1000.0, 0.0, 1000.0]
    assert [bool(waits) for waits in result["wait_listed"].iloc[:4]] == [True, False, True, False]
    assert "wait-listed, $1,000.00 asked and $500.00 left (place 3 of 4 by need_first)" in result["pool_funding"][2]
    assert "funded $1,000.00 (place 1 of 4" in result["pool_funding"][1]
    assert "wait-listed" in result["incentives_refused"][0]
    again = wl.screen(sheet, wl.parse_program(text), detail="monthly", progress=False, threads=3)
    pd.testing.assert_frame_equal(result, again)


def test_a_new_state_is_one_file_and_no_code(tmp_path) -> None:
    folder = tmp_path / "incentives"
    folder.mkdir()
    (folder / "testland.toml").write_text(
        """
[[incentive]]
id = "testland-credit"
title = "Testland solar water heating credit"
payer = "an invented state"
citation = "invented"
standing = "invented"
kind = "credit"
tax = "state"
share_of_cost = 0.25
cap_usd = 1000
needs_certification = true
carryforward_years = 5
""",
        encoding="utf-8",
    )
    catalog = wl.load_catalog(override=tmp_path)
    text = PROGRAM.replace('["federal"]', '["federal", "testland"]') + "\n[tax]\nstate_rate = 0.01\n"
    one = wl.appraise(HOUSEHOLD, wl.parse_program(text, catalog=catalog), detail="monthly")
    assert rule(one.incentives, "testland-credit")["amount_usd"] == 1000.0
    assert one.tax["used_usd"].tolist() == [600.0, 400.0]
    (folder / "testland.toml").write_text("[[incentive]]\nid = 'x'\ntitel = 'y'\n", encoding="utf-8")
    with pytest.raises(wl.errors.UnknownName, match=r"testland\.toml, line 3, incentive\.titel.*did you mean title"):
        wl.load_catalog(override=tmp_path)


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ("share_of_tax = 1", "stands beside flat_usd"),
        ("valid_from = 2026-02-30", "is not a day of the calendar"),
        ("yearly_shares = [0.5, 0.4]", "belongs to credit and deduction"),
        ("cap_share_of_cost = 1.2", "out of range; allowed: 0 to 1"),
        ('not_with = ["smal"]', "did you mean small"),
        ('pool = "nowhere"', "is no pool of this program"),
        ("carryforward_years = 2", "belongs to a credit"),
    ],
)
def test_a_mistake_names_line_and_key(more: str, message: str) -> None:
    text = PROGRAM + RULE.format(id="small", usd=300, more="") + RULE.format(id="wrong", usd=1, more=more)
    where = text[: text.rindex(more)].count("\n") + 1
    with pytest.raises(wl.errors.Error, match=message) as caught:
        wl.parse_program(text, "county.toml")
    assert f"county.toml, line {where}, " in str(caught.value)
    assert more.split(" ")[0] in str(caught.value)
