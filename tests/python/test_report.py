"""The pages about a household and a sheet: words, structure, and every figure against the results."""

import datetime
import itertools
import pickle
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from string import Formatter
from typing import Any

import conftest
import pytest
import warmledger as wl
import warmledger.errors

pytest.importorskip("jinja2", reason="Jinja2 is not installed")

from pages import Node, prose, read, reading_grade, syllables
from warmledger.language import WORDS, Language, dollars, percent_text
from warmledger.phrases import FORMS, assumed, recognised, said
from warmledger.program_page import program_page
from warmledger.report import household_page
from warmledger.sheet import read as read_sheet
from warmledger.variations import changes_of

DEMO = wl.data_dir() / "demo"
HOSTILE = "<script>alert(1)</script>\"'&<b>{{ 7*7 }}{0.x}\u202e\u0007"
LANGUAGES = tuple(WORDS)


@pytest.fixture(scope="module")
def demo() -> wl.Program:
    return wl.load_program(DEMO / "program.toml")


@pytest.fixture(scope="module")
def examples(demo: wl.Program) -> dict[str, wl.Appraisal]:
    """One household of the demo county for each decision, one of them by the hour."""
    from warmledger.appraisal import appraise_row

    sheet = read_sheet(DEMO / "households.csv")
    found: dict[str, wl.Appraisal] = {}
    for row in range(1, 60):
        try:
            one = appraise_row(sheet.header, sheet.row(row), demo, detail="monthly" if found else "hourly")
        except wl.errors.Error:
            continue
        found.setdefault(one.decision, one)
    assert set(found) == {"pays in cash", "pays with loan", "needs more help", "does not pay", "not suitable"}
    return found


@pytest.fixture(scope="module")
def results(demo: wl.Program) -> Any:
    return wl.screen(DEMO / "households.csv", demo, progress=False, detail="monthly")


def page_of(one: wl.Appraisal, language: str = "en") -> Node:
    return read(household_page(one, language))


# -- words --


def test_both_languages_say_the_same_things() -> None:
    def fields(text: str) -> list[str]:
        return sorted(name for _, name, _, _ in Formatter().parse(text) if name is not None)

    assert set(WORDS["en"]) == set(WORDS["es"])
    for key, text in WORDS["en"].items():
        assert fields(text) == fields(WORDS["es"][key]), key
        assert text.strip() == text != "", key
    assert all(len(Language(code).months) == 12 for code in LANGUAGES)
    copied = [key for key in WORDS["en"] if WORDS["en"][key] == WORDS["es"][key]]
    assert set(copied) <= {"help.bar_part", "program.part"}, copied


def test_the_measure_of_reading() -> None:
    # Published example: 13 words, 24 syllables, grade 11.3 (read in a secondary account of the formula).
    platypus = "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature."
    assert len(platypus.split()) == 13
    assert sum(map(syllables, platypus.split())) == 24
    assert reading_grade([platypus]) == pytest.approx(11.3, abs=0.05)
    assert [syllables(w) for w in ("saves", "saved", "needed", "water", "the", "table", "prices", "August")] == [
        1, 1, 2, 2, 1, 2, 2, 2,
    ]  # fmt: skip


def test_english_is_at_or_below_the_ninth_grade(
    examples: dict[str, wl.Appraisal], demo: wl.Program, results: Any
) -> None:
    pages = {name: page_of(one) for name, one in examples.items()}
    pages["sheet"] = read(program_page(results, demo))
    for name, page in pages.items():
        sentences = prose(page)
        assert len(sentences) > 20, name
        assert reading_grade(sentences) <= 9, (name, reading_grade(sentences))
    text = [sentence for key, sentence in WORDS["en"].items() if "." in sentence and "_desc" not in key]
    assert reading_grade([part for one in text for part in re.split(r"(?<=[.])\s+", one)]) <= 9


def test_no_sentence_of_the_library_is_left_untranslated(
    examples: dict[str, wl.Appraisal], results: Any, demo: wl.Program
) -> None:
    """Reasons and assumptions that the demo county meets."""
    for one in examples.values():
        sections = one.to_dict()
        for rule in sections["incentives"]:
            assert rule["applied"] or recognised(rule["reason"]), rule["reason"]
        for reason in sections["summary"]["unsuitable"]:
            assert recognised(reason), reason
        for reason in sections["measures"]["why_none"].values():
            assert recognised(reason), reason
        for sentence in sections["defaults_used"]:
            words = assumed(Language("es"), sentence)
            assert sentence not in words.striptags(), sentence
        for topic, _ in sections["cautions"]:
            assert f"caution.{topic}" in WORDS["es"], topic
    page = program_page(results, demo, "es")
    assert WORDS["es"]["misfit.other"] not in page
    source = Path(__file__).parents[2] / "lib" / "warmledger" / "hotwater" / "cautions.cpp"
    if source.exists():
        topics = set(re.findall(r'return "(\w+)";', source.read_text(encoding="utf-8")))
        assert len(topics) >= 9
        assert all(f"caution.{topic}.text" in WORDS["en"] for topic in topics), topics


def test_a_sentence_of_another_form_stands_as_it_is() -> None:
    assert str(said(Language("en"), "quite <new>")) == "<bdi>quite &lt;new&gt;</bdi>"
    assert str(said(Language("es"), "quite new")) == '<bdi lang="en">quite new</bdi>'
    assert said(Language("en"), "ended on 2025-12-31; the install date is 2026-09-01").striptags() == (
        "It ended on December 31, 2025."
    )
    assert said(Language("es"), "ended on 2025-12-31; the install date is 2026-09-01").striptags() == (
        "Terminó el 31 de diciembre de 2025."
    )
    beside = "cannot be had beside town-rebate; the best combination with it is worth $12.50 less"
    assert said(Language("en"), f"{beside}; what-if, not the law: flat_usd 1").striptags() == (
        "You cannot have it along with town-rebate. Choosing it would bring you $12.50 less."
    )
    assert all(f"phrase.{key}" in WORDS["en"] for key, _ in FORMS)
    assert "lang" not in str(assumed(Language("en"), "no = sense"))
    tariff = assumed(Language("en"), "electricity price = tariff By day (town, 2026)")
    assert tariff.striptags() == "Electricity is paid by this tariff: By day. Source: town, 2026."


def test_figures_are_written_as_the_library_writes_them() -> None:
    assert [dollars(v) for v in (0, -0.001, 1234.5, -1234567.891)] == ["$0.00", "$0.00", "$1,234.50", "−$1,234,567.89"]
    assert [dollars(v, cents=False) for v in (4126.5, 0.4, -0.4, -2.5)] == ["$4,127", "$0", "$0", "−$3"]
    assert [percent_text(v, 1) for v in (0.1, 0.0219, 1)] == ["10%", "2.2%", "100%"]


# -- figures --


def expected(of: str, one: wl.Appraisal, changed: dict[str, Any]) -> float:
    """What the results say about a figure of a household's page."""
    everything = one.to_dict()
    m = everything["measures"]
    if of == "help.at_install":
        return float(m["installed_cost_usd"] - m["due_at_install_usd"])
    if of == "help.later":
        return float(m["incentives_usd"] - m["installed_cost_usd"] + m["due_at_install_usd"])
    if of == "ledger.upkeep":
        book = one.ledger().query("category in ['upkeep', 'replacement']")
        sums = book.assign(amount_usd=book["amount_usd"].astype(float)).groupby("world")["amount_usd"].sum()
        return float(sums.get("without", 0) - sums.get("with", 0))
    if of.startswith("change."):
        _, key, rest = of.split(".", 2)
        again = changed[key]
        if rest == "loan.average_month_usd":
            loans = again.to_dict()["loans"]
            return float(next(x for x in loans if x["id"] == one.summary["best_loan"])["average_month_usd"])
        return expected(rest, again, {})
    if of == "loan.average_month_usd":
        return float(next(x for x in everything["loans"] if x["id"] == one.summary["best_loan"])["average_month_usd"])
    over = 1
    if of.endswith("/12"):
        of, over = of.removesuffix("/12"), 12
    node: Any = everything
    for part in of.split("."):
        node = node[int(part)] if part.isdecimal() else node[part]
    factor = {"summary.co2_saved_kg_year": 1 / 0.45359237, "summary.station_distance_km": 1 / 1.609344}.get(of, 1)
    return float(node) * factor / over


def figures(page: Node) -> Iterator[tuple[str, str, str]]:
    """(of, value, text) of every figure on a page, charts included."""
    for node in page.all("data", "text"):
        of = node.attributes.get("data-of")
        if of and of != "scale":
            yield of, node.attributes.get("value") or node.attributes["data-value"], node.text()


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_figure_agrees_with_the_appraisal(examples: dict[str, wl.Appraisal], language: str) -> None:
    for one in examples.values():
        page = page_of(one, language)
        changed = {change.key: change.appraisal for change in changes_of(one)}
        said_by_the_library = one.to_json()
        seen = 0
        for of, value, text in figures(page):
            if of in ("reason", "assumed"):
                assert text.lstrip("$").replace(",", "") in said_by_the_library.replace(",", ""), text
                continue
            want = expected(of, one, changed)
            assert abs(float(value)) == pytest.approx(abs(want), rel=1e-6, abs=1e-9), of
            number = float(value)
            shown = {dollars(number), dollars(number, cents=False), *(percent_text(number, k) for k in range(3))}
            assert text in shown | {f"{number:,.0f}", f"{number:,.1f}"}, (of, value, text)
            seen += 1
        assert seen > 40
        # No sum stands anywhere that is not such a figure, a name, or the description of a chart.
        loose = page.all("body")[0].text(without=("data", "bdi", "svg"))
        assert "$" not in loose, re.findall(r".{20}\$.{20}", loose)
        known = {text for _, _, text in figures(page)} | {dollars(v) for v in (0,)}
        for description in page.all("desc"):
            for sum_ in re.findall(r"−?\$[\d,]+\.\d\d", description.text()):
                assert sum_ in known or description.attributes["id"] == "month-chart-desc", sum_


def test_charts_agree_with_the_ledger(examples: dict[str, wl.Appraisal]) -> None:
    one = examples["pays with loan"]
    book = one.ledger()
    month = book["category"].isin(["fuel", "pump electricity"]) & (book["month"] == 1)
    saving = (
        book[month & (book["world"] == "with")]["amount_usd"].sum()
        - book[month & (book["world"] == "without")]["amount_usd"].sum()
    )
    description = page_of(one).all("desc")
    texts = {node.attributes["id"]: node.text() for node in description}
    from warmledger.report import Household

    shown = Household(one, Language("en"))
    assert shown.monthly_savings[0] == pytest.approx(saving)
    assert sum(shown.monthly_savings) == pytest.approx(one.measures.first_year_saving_usd)
    assert dollars(min(shown.monthly_savings)) in texts["month-chart-desc"]
    spent = -book[(book["world"] == "with") & (book["category"] != "remaining value")]["amount_usd"].sum()
    assert shown.running("with")[-1] == pytest.approx(spent)
    assert dollars(spent, cents=False) in texts["when-chart-desc"]


def test_changes_are_appraised_again(examples: dict[str, wl.Appraisal]) -> None:
    one = examples["pays in cash"]
    changed = {change.key: change for change in changes_of(one)}
    assert {"cost_up", "cost_down", "fuel_up", "fuel_down", "water_up", "water_down"} <= set(changed)
    base = one.measures
    for key, change in changed.items():
        assert change.appraisal is not None, key
        assert change.appraisal.summary["package"] == one.summary["package"]
    up, down = changed["cost_up"].appraisal, changed["cost_down"].appraisal
    assert up.measures.installed_cost_usd == pytest.approx(1.2 * base.installed_cost_usd)
    assert up.measures.net_savings_usd < base.net_savings_usd < down.measures.net_savings_usd
    fuel = changed["fuel_up"].appraisal.measures
    assert fuel.first_year_cost_without_usd == pytest.approx(1.2 * base.first_year_cost_without_usd, rel=1e-5)
    water = changed["water_up"].appraisal
    assert water.system["hot_water_l_day"] == pytest.approx(1.25 * one.system["hot_water_l_day"], rel=1e-5)
    with pytest.raises(wl.errors.UnknownName, match="occupant"):
        one.with_changes({"occupant": 3})
    again = {change.key: change.appraisal for change in changes_of(pickle.loads(pickle.dumps(one)))}
    assert {key: found.measures.net_savings_usd for key, found in again.items()} == {
        key: change.appraisal.measures.net_savings_usd for key, change in changed.items()
    }


# -- structure --


def check_structure(page: Node, language: str) -> None:
    html = page.all("html")[0]
    assert html.attributes["lang"] == language
    assert not page.all("script", "link", "img", "iframe", "object", "embed", "form", "base")
    assert len(page.all("h1")) == len(page.all("main")) == len(page.all("header")) == len(page.all("footer")) == 1
    ids = [node.attributes["id"] for node in page.all() if "id" in node.attributes]
    assert len(ids) == len(set(ids))
    levels = [int(node.tag[1]) for node in page.all("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels)), levels
    for node in page.all():
        for name, value in node.attributes.items():
            assert not name.startswith("on"), (node.tag, name)
            assert name not in ("src", "srcset", "style"), (node.tag, name)
            if name == "href":
                assert value.startswith("#")
                assert value[1:] in ids
            if name in ("aria-labelledby", "aria-describedby"):
                assert set(value.split()) <= set(ids), value
    for section in page.all("section"):
        assert section.attributes.get("aria-labelledby")
    for table in page.all("table"):
        assert table.all("caption")[0].text().strip()
        assert all(th.attributes.get("scope") in ("row", "col") for th in table.all("th"))
        width = len(table.all("thead")[0].all("th"))
        for row in table.all("tbody")[0].all("tr"):
            assert len(row.all("th", "td")) == width
            assert len(row.all("th")) == 1
    for svg in page.all("svg"):
        title, description = svg.all("title"), svg.all("desc")
        assert svg.attributes["role"] == "img"
        assert title[0].text()
        assert len(description[0].text()) > 20
        named_by = set(svg.attributes["aria-labelledby"].split())
        assert named_by == {title[0].attributes["id"], description[0].attributes["id"]}
    text = page.text()
    assert not re.search(r"\bnan\b|\binf\b|\bNone\b|<NA>|\{\w*\}", text), re.findall(r".{30}(?:nan|None|NA).{30}", text)
    if language != "en":
        assert all("lang" in node.attributes or not node.text().startswith("Federal") for node in page.all("bdi"))
    policy = [node for node in page.all("meta") if node.attributes.get("http-equiv") == "Content-Security-Policy"]
    assert policy[0].attributes["content"].startswith("default-src 'none'")


@pytest.mark.parametrize("language", LANGUAGES)
def test_structure(examples: dict[str, wl.Appraisal], demo: wl.Program, results: Any, language: str) -> None:
    for decision, one in examples.items():
        page = page_of(one, language)
        check_structure(page, language)
        text = page.text()
        assert WORDS[language][f"answer.{decision.replace(' ', '_')}"] in text
        for topic in ("scald", "pressure", "roof_work", "wiring", "debt", "tax", "code"):
            assert WORDS[language][f"caution.{topic}"] in text, topic
        for part in WORDS[language]["disclaimer"].split(". "):
            assert part in text
    check_structure(read(program_page(results, demo, language)), language)


def test_pages_do_not_depend_on_anything_but_their_input(examples: dict[str, wl.Appraisal]) -> None:
    one = examples["pays in cash"]
    assert household_page(one) == household_page(one) == household_page(pickle.loads(pickle.dumps(one)))


# -- odd households and programs --


def appraised(text: str, **changes: object) -> wl.Appraisal:
    return wl.appraise(conftest.household(**changes), wl.parse_program(text, "odd.toml"), detail="monthly")


@pytest.mark.parametrize("language", LANGUAGES)
def test_hostile_and_long_text(language: str) -> None:
    program = conftest.PROGRAM
    hostile = HOSTILE.replace("\u0007", "")
    for name in ('title = "Test program of an invented town"', 'title = "Town rebate"', 'title = "Ten years at 4 %"',
                 'title = "Drain-back, two collectors"', 'note = "Everything here is invented."'):  # fmt: skip
        assert name in program
        program = program.replace(name, f"{name.split(' = ')[0]} = {toml(hostile)}")
    one = appraised(program, household_id=f"A{hostile}")
    page = page_of(one, language)
    check_structure(page, language)
    assert page.text().count("<script>alert(1)</script>") >= 5
    assert "{{ 7*7 }}" in page.text()
    assert "49" not in page.all("h1")[0].text()
    assert "\u202e" not in page.all("title")[0].text() + "".join(node.text() for node in page.all("desc"))
    assert all("\u202e" not in page.all(tag)[0].text(without=("bdi",)) for tag in ("h1", "main"))
    long = page_of(appraised(conftest.PROGRAM, household_id="x" * 9_000), language)
    assert len(long.all("h1")[0].text()) < 200
    results = wl.screen(
        conftest_frame([conftest.household(f"A{hostile}"), conftest.household("<b>", place=hostile)]),
        wl.parse_program(program, "odd.toml"),
        progress=False,
        detail="monthly",
    )
    sheet = read(program_page(results, wl.parse_program(program, "odd.toml"), language))
    check_structure(sheet, language)


def conftest_frame(rows: list[dict[str, object]]) -> Any:
    import pandas as pd

    return pd.DataFrame(rows)


def toml(text: str) -> str:
    import json

    return json.dumps(text, ensure_ascii=True)


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_help_no_loans_no_income_no_cost(language: str) -> None:
    bare = re.sub(r"\[\[(incentive|loan)\]\].*?(?=\n\[)", "", conftest.PROGRAM, flags=re.DOTALL)
    words = WORDS[language]
    one = appraised(bare, yearly_income_usd=0)
    page = page_of(one, language)
    check_structure(page, language)
    text = page.text()
    assert words["help.none"] in text
    assert words["month.no_loans"] in text
    assert words["caution.debt"] not in text

    free = conftest.PROGRAM.replace("flat_usd = 1000", "share_of_cost = 1")
    given = page_of(appraised(free), language)
    check_structure(given, language)
    assert words["month.not_needed"] in given.text()
    assert words["when.at_once"] in given.text()

    # Without the standard upkeep no part is replaced, and nothing at all is invested.
    plain = conftest.PROGRAM.replace("[[package]]\n", "[[package]]\nstandard_upkeep = false\n")
    nothing = appraised(plain, installed_cost_usd=0)
    check_structure(page_of(nothing, language), language)
    reason = said(Language(language), nothing.measures.why_none["savings_to_investment"]).striptags()
    assert reason in page_of(nothing, language).text()

    never = appraised(conftest.PROGRAM, installed_cost_usd=90_000)
    page = page_of(never, language)
    check_structure(page, language)
    assert words["not_in_study"].format(years=20) in page.text()
    assert words["when.simple_none"].format(years=20) in page.text()


def test_exact_amounts_and_unkept_inputs(program: wl.Program) -> None:
    exact = wl.appraise(conftest.household(), program, exact=True, detail="monthly")
    check_structure(page_of(exact), "en")
    plain = wl.appraise(conftest.household(), program, detail="monthly")
    strip = re.compile(r' value="[^"]*"| data-value="[^"]*"')
    assert strip.sub("", household_page(exact)) == strip.sub("", household_page(plain))
    bare = wl.Appraisal(sections=plain.to_dict())
    assert WORDS["en"]["change.not_kept"] in page_of(bare).text()


def test_a_what_if_says_so(program: wl.Program) -> None:
    changed = program.changed({"incentive.town-rebate.flat_usd": 2500})
    one = wl.appraise(conftest.household(), changed, detail="monthly")
    for page in (page_of(one), read(program_page(wl.screen(
        conftest_frame([conftest.household()]), changed, progress=False, detail="monthly"), changed))):  # fmt: skip
        head = page.all("header")[0].text()
        assert "This page is a what-if." in head
        assert "incentive.town-rebate.flat_usd = 2500" in head
    assert "what-if" not in page_of(wl.appraise(conftest.household(), program, detail="monthly")).text()


def test_rules_that_are_not_the_law_and_loans_with_a_rest(program: wl.Program) -> None:
    sections = wl.appraise(conftest.household(), program, detail="monthly").to_dict()
    sections["incentives"][0]["as_if"] = "what-if, not the law: flat_usd 1000 for 500"
    saving = sections["measures"]["first_year_saving_usd"] / 12
    sections["loans"][0].update(
        shape="26 payments a year; 5 months deferred, interest added",
        first_payment_date=datetime.date(2026, 10, 15),
        points_and_fee_usd=321.09,
        apr=0.04567,
        owed_at_study_end_usd=1234.5,
        average_month_usd=saving - 55.55,
    )
    page = page_of(wl.Appraisal(sections=sections))
    check_structure(page, "en")
    assert WORDS["en"]["as_if.note"] in page.text()
    assert "What-if, not the law: flat_usd 1000 for 500." in page.text()
    assert "you still owe $1,234.50" in page.text()
    assert "Payments start on October 15, 2026." in page.text()
    assert "each time, 26 times a year" in page.text()
    assert "charges $321.09 in fees" in page.text()
    assert "the loan costs 4.57% a year" in page.text()
    assert "5 months deferred, interest added" in page.text()
    assert "average month $55.55" in page.text()
    assert WORDS["en"]["month.costliest"] in page.text()


# -- the page of a sheet --


@pytest.mark.parametrize("language", LANGUAGES)
def test_figures_of_a_sheet_agree_with_the_results(demo: wl.Program, results: Any, language: str) -> None:
    page = read(program_page(results, demo, language))
    good = results["decision"].isin(["pays in cash", "pays with loan"])
    fitting = ~results["decision"].isin(["bad row", "not suitable"])
    seen = set()
    for of, value, text in figures(page):
        number = float(value)
        shown = {dollars(number), dollars(number, cents=False), f"{number:,.0f}", f"{number:,.1f}"}
        assert text in shown, (of, text)
        kind, _, rest = of.partition(".")
        want: float | None = None
        if of == "rows":
            want = len(results)
        elif of == "good":
            want = int(good.sum())
        elif kind == "decision":
            decision, _, tier = rest.partition(".")
            rows = results[results["decision"] == decision]
            want = len(rows) if not tier else int((rows["income_tier"] == tier).sum())
        elif kind == "sum":
            which, _, column = rest.rpartition(".")
            want = float(results[good if which == "good" else results["decision"] == which][column].sum())
        elif kind == "reached":
            usd, what = rest.split(".")
            enough = results[fitting & (results["extra_help_usd"] <= float(usd)).fillna(False)]["extra_help_usd"]
            want = len(enough) if what == "count" else float(enough.sum())
        elif of == "from_month_one":
            want = int(results["pays_from_month_one"].sum())
        elif kind == "household":
            row, column = rest.split(".")
            want = float(results.loc[int(row), column])
        elif kind == "help":
            name, what = rest.rsplit(".", 1)
            paid = results["incentives_applied"].dropna().str.extract(rf"(?:^|; ){re.escape(name)}: \$([\d,.]+\d)")[0]
            paid = paid.dropna().str.replace(",", "").astype(float)
            want = len(paid) if what == "count" else paid.sum()
        elif kind == "loan":
            name, what = rest.rsplit(".", 1)
            best = results[(results["loan"] == name).fillna(False)]
            want = len(best) if what == "count" else float(best["loan_average_month_usd"].median())
        elif kind == "misfit":
            words = {
                "renter": "a renter",
                "roof_direction": "roof faces",
                "shade": "shading takes",
                "glycol_draw": "glycol loop",
                "package_size": "is for",
                "roof_small": "free roof",
            }
            unfit = results[results["decision"] == "not suitable"]["reason"]
            want = int(unfit.str.contains(words[rest]).sum())
        if want is not None:
            seen.add(kind)
            assert number == pytest.approx(want, abs=0.005), of
    assert seen >= {
        "rows",
        "good",
        "decision",
        "sum",
        "reached",
        "household",
        "help",
        "loan",
        "misfit",
        "from_month_one",
    }
    bands = [float(value) for of, value, _ in figures(page) if of.startswith("band.")]
    assert sum(bands) == (results["decision"] != "bad row").sum()
    bad = results[results["decision"] == "bad row"]
    first = bad["reason"].iloc[0]
    assert first[:60] in page.text()


def test_a_sheet_of_bad_rows_or_none(program: wl.Program) -> None:
    frame = conftest_frame([conftest.household("A", occupants="many"), conftest.household("B", place="nowhere at all")])
    results = wl.screen(frame, program, progress=False)
    for rows in (results, results.iloc[:0], wl.screen(conftest_frame([conftest.household()]), program, progress=False)):
        page = read(program_page(rows, program))
        check_structure(page, "en")
    text = read(program_page(results, program)).text()
    assert "No household gains" in text
    assert "many" in text


def test_refusals(program: wl.Program, tmp_path: Path) -> None:
    one = wl.appraise(conftest.household(), program, detail="monthly")
    path = tmp_path / "page with space.html"
    one.report(path)
    assert path.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    with pytest.raises(wl.errors.UnknownName, match="fr is no language of the pages; allowed: en, es"):
        one.report(path, language="fr")
    with pytest.raises(wl.errors.FileUnreadable, match="cannot be written"):
        one.report(tmp_path / "nowhere" / "page.html")
    with pytest.raises(wl.errors.NotAvailable, match=r"\.pdf is a kind of file that is not written; allowed: \.html"):
        one.report(tmp_path / "page.pdf")
    assert [found.name for found in tmp_path.iterdir()] == ["page with space.html"]
    with pytest.raises(wl.errors.MissingValue, match="is missing from the results"):
        wl.program_report(conftest_frame([{"a": 1}]), program, path)
    with pytest.raises(wl.errors.MalformedText, match="is no result of a screening"):
        wl.program_report("results.csv", program, path)


def test_command_line(program_file: Path, tmp_path: Path, csv_file: Any, capsys: pytest.CaptureFixture[str]) -> None:
    from warmledger.cli import main

    sheet = csv_file("A,Testville,4,50000,electricity", "B,Testville,many,50000,electricity")
    common = [str(sheet), "--program", str(program_file)]
    page = tmp_path / "a.html"
    assert main(["appraise", *common, "--id", "A", "--report", str(page), "--language", "es"]) == 0
    assert 'lang="es"' in page.read_text(encoding="utf-8")
    assert f"written: {page}" in capsys.readouterr().out
    assert main(["appraise", *common, "--id", "A", "--report", str(page)]) == 2
    assert "stands there already" in capsys.readouterr().err
    sheet_page = tmp_path / "sheet.html"
    out = ["--out", str(tmp_path / "out.csv"), "--report"]
    assert main(["screen", *common, *out, str(sheet_page)]) == 3
    assert "results for 2 households" in read(sheet_page.read_text(encoding="utf-8")).all("title")[0].text()
    picture, unknown = tmp_path / "x.pdf", tmp_path / "y.html"
    for wrong, message in (([str(picture)], "kind of file"), ([str(unknown), "--language", "xx"], "no language")):
        assert main(["screen", *common, "--force", *out, *wrong]) == 2
        assert message in capsys.readouterr().err
    assert not picture.exists()
    assert not unknown.exists()


def test_a_tank_that_takes_the_heaters_place_has_its_own_caution(program: wl.Program) -> None:
    one_tank = conftest.PROGRAM.replace("two_tank", "one_tank").replace("pump_w", "backup_share_of_tank = 0.4\npump_w")
    text = page_of(appraised(one_tank, heater_fuel="natural_gas", natural_gas_price_usd_per_therm=1.5)).text()
    assert WORDS["en"]["caution.gas.one_tank"] in text
    assert WORDS["en"]["caution.gas.text"] not in text


def test_without_jinja_a_sentence_says_so(program: wl.Program, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "jinja2", None)
    one = wl.appraise(conftest.household(), program, detail="monthly")
    with pytest.raises(wl.errors.NotAvailable, match="cannot be made without the Python package Jinja2"):
        one.report(tmp_path / "page.html")
    assert list(tmp_path.iterdir()) == []
