"""The results workbook, opened as another program would open it."""

import csv
import datetime
import zipfile
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
import spreadsheet
import warmledger as wl
from conftest import household
from warmledger import cli, errors, outputs, workbook


@pytest.fixture(scope="module")
def result(program: wl.Program) -> pd.DataFrame:
    rows = [household(f"H{i}", occupants=1 + i % 6, yearly_income_usd=8_000 * i) for i in range(30)]
    rows += [
        household("=1+1"),
        household("http://example.org/x"),
        household("@SUM(A1)"),
        household("0012"),
        household("bad", occupants=0),
        household("=cmd()", place="=HYPERLINK(1)"),
    ]
    with pytest.warns(wl.UnknownColumnWarning):
        return wl.screen(pd.DataFrame(rows).assign(remark="x"), program, progress=False)


@pytest.fixture(scope="module")
def path(result: pd.DataFrame, program: wl.Program, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("workbook") / "results.xlsx"
    workbook.write_workbook(path, result, program, source="homes.csv")
    return path


@pytest.fixture(scope="module")
def book(path: Path) -> openpyxl.Workbook:
    return openpyxl.load_workbook(path)


def column(page: object, name: str) -> list[object]:
    rows = list(page.iter_rows(values_only=True))  # type: ignore[attr-defined]
    at = rows[0].index(name)
    return [row[at] for row in rows[1:]]


def test_sheets(book: openpyxl.Workbook) -> None:
    assert book.sheetnames == ["Summary", "Households", "Loans", "Problems", "Assumptions", "Columns"]


def test_loans_list_the_best_loan_of_each_household(book: openpyxl.Workbook, result: pd.DataFrame) -> None:
    rows = list(book["Loans"].iter_rows(values_only=True))
    offered = result[result["loan"].notna()]
    assert [row[0] for row in rows[1:]] == offered["household_id"].tolist()
    at = rows[0].index("loan_payment_usd")
    assert [row[at] for row in rows[1:]] == pytest.approx(offered["loan_payment_usd"].tolist())


def test_households_hold_the_frame(book: openpyxl.Workbook, result: pd.DataFrame) -> None:
    page = book["Households"]
    names = [cell.value for cell in page[1]]
    assert names == list(result.columns)
    assert names[:3] == ["household_id", "decision", "reason"]
    for name in ("household_id", "decision", "net_cost_usd", "simple_payback_years", "pays_from_month_one"):
        expected = [None if value is pd.NA else value for value in result[name].astype(object)]
        # The file holds 16 or more significant digits.
        for found, wanted in zip(column(page, name), expected, strict=True):
            assert found == (pytest.approx(wanted, rel=1e-14) if isinstance(wanted, float) else wanted)
    assert page.freeze_panes == "C2"
    assert page.auto_filter.ref == f"A1:{openpyxl.utils.get_column_letter(len(names))}{len(result) + 1}"


def test_formula_like_text_is_text(book: openpyxl.Workbook) -> None:
    page = book["Households"]
    by_id = {row[0].value: row[0] for row in page.iter_rows(min_row=2)}
    for text in ("=1+1", "http://example.org/x", "@SUM(A1)", "0012"):
        assert by_id[text].hyperlink is None
        assert by_id[text].value == text


def test_no_formula_or_link_stands_in_the_file(path: Path) -> None:
    with zipfile.ZipFile(path) as archive:
        for name in archive.namelist():
            if name.startswith("xl/worksheets/"):
                text = archive.read(name).decode("utf-8")
                assert "<f>" not in text
                assert "<hyperlink" not in text


def test_numbers_have_formats_and_headers_have_notes(book: openpyxl.Workbook) -> None:
    page = book["Households"]
    specs = {spec["name"]: spec for spec in wl.result_columns()}
    for cell in page[1]:
        assert specs[cell.value]["meaning"] in cell.comment.text
        assert specs[cell.value]["unit"] in cell.comment.text
    row = {cell.value: page.cell(2, cell.column) for cell in page[1]}
    assert row["net_cost_usd"].number_format == "$#,##0.00;-$#,##0.00"
    assert row["solar_fraction_pct"].number_format == "#,##0.0"
    assert row["load_kwh"].number_format == "#,##0"


def test_decisions_are_coloured_each_in_its_own(book: openpyxl.Workbook) -> None:
    colours: dict[object, set[str]] = {}
    for row in book["Households"].iter_rows(min_row=2, min_col=2, max_col=2):
        colours.setdefault(row[0].value, set()).add(row[0].fill.fgColor.rgb)
    assert len(colours) >= 3
    assert all(len(found) == 1 for found in colours.values())
    assert len({next(iter(found)) for found in colours.values()}) == len(colours)


def test_summary_counts_match_the_frame(book: openpyxl.Workbook, result: pd.DataFrame, program: wl.Program) -> None:
    rows = [list(row) for row in book["Summary"].iter_rows(values_only=True)]
    assert rows[0][0] == program.title
    assert rows[1][0] == program.note
    assert "no lending, tax or legal advice" in rows[2][0]
    assert "Local codes and licensed practice decide" in rows[2][0]
    header = next(i for i, row in enumerate(rows) if row[0] == "decision")
    tiers = [name for name in rows[header][3:] if name]
    assert set(tiers) == set(result["income_tier"].dropna())
    counted = 0
    for row in rows[header + 1 : header + 7]:
        found = result[result["decision"] == row[0]]
        assert row[1] == len(found)
        assert row[3 : 3 + len(tiers)] == [int((found["income_tier"] == tier).sum()) for tier in tiers]
        counted += row[1]
    assert counted == len(result)
    good = result[result["decision"] != "bad row"]
    by_label = {row[0]: row for row in rows if isinstance(row[0], str)}
    assert by_label["Installed cost, total"][4] == pytest.approx(good["installed_cost_usd"].sum())
    assert by_label["Net savings, median"][4] == pytest.approx(good["net_savings_usd"].median())


def test_three_charts(path: Path) -> None:
    with zipfile.ZipFile(path) as archive:
        charts = [name for name in archive.namelist() if name.startswith("xl/charts/chart")]
        drawing = archive.read("xl/drawings/drawing1.xml").decode("utf-8")
    assert len(charts) == 3
    assert drawing.count('descr="Chart: ') == 3


def test_problems_list_row_and_column(book: openpyxl.Workbook, result: pd.DataFrame) -> None:
    rows = list(book["Problems"].iter_rows(values_only=True))
    assert rows[0] == ("row", "row of the file", "column", "value", "what is wrong", "allowed")
    assert rows[1] == (35, None, "occupants", "0", "is out of range", "a whole number, 1 to 20 persons")
    assert len(rows) == 1 + len(result.attrs["problems"]) + 1
    assert rows[-1][2] == "remark"


def test_assumptions_have_sources(book: openpyxl.Workbook, program: wl.Program) -> None:
    rows = list(book["Assumptions"].iter_rows(values_only=True))
    assert rows[1:] == program.assumptions()
    assert all(row[2] for row in rows)


def test_columns_explain_every_column(book: openpyxl.Workbook, result: pd.DataFrame) -> None:
    rows = list(book["Columns"].iter_rows(values_only=True))
    assert [row[1] for row in rows if row[0] == "result"] == list(result.columns)
    assert all(row[3] for row in rows)


def test_bytes_do_not_depend_on_when(path: Path, result: pd.DataFrame, program: wl.Program, tmp_path: Path) -> None:
    again = tmp_path / "again.xlsx"
    workbook.write_workbook(again, result, program, source="homes.csv")
    assert again.read_bytes() == path.read_bytes()


def test_empty_result_still_opens(program: wl.Program, tmp_path: Path) -> None:
    empty = wl.screen(pd.DataFrame([household()]).iloc[:0], program, progress=False)
    workbook.write_workbook(tmp_path / "empty.xlsx", empty, program)
    book = openpyxl.load_workbook(tmp_path / "empty.xlsx")
    assert book["Problems"]["A2"].value == "No problems."


def test_long_text_is_cut_not_lost(program: wl.Program, tmp_path: Path) -> None:
    frame = wl.screen(pd.DataFrame([household("x" * 9_000)]), program, progress=False)
    frame["reason"] = pd.array(["y" * 40_000], dtype="string")
    workbook.write_workbook(tmp_path / "long.xlsx", frame, program)
    page = openpyxl.load_workbook(tmp_path / "long.xlsx")["Households"]
    assert page["A2"].value == "x" * 9_000
    assert page["C2"].value == "y" * 32_766 + "…"


def test_a_sheet_too_long_for_a_worksheet_is_refused(
    program: wl.Program, result: pd.DataFrame, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workbook, "LARGEST_WORKBOOK_ROWS", 10)
    with pytest.raises(errors.ValueOutOfRange, match="36 rows is too long for a worksheet"):
        workbook.write_workbook(tmp_path / "a.xlsx", result, program)


def test_payback_bins_count_every_household() -> None:
    years = pd.Series([0.0, 5.0, 5.1, 8.0, 19.9, 20.0, 20.1, None], dtype="Float64")
    bins = dict(workbook.payback_bins(years))
    assert sum(bins.values()) == len(years)
    assert bins == {
        "0 to 5": 2,
        "over 5 to 8": 2,
        "over 8 to 10": 0,
        "over 10 to 12": 0,
        "over 12 to 15": 0,
        "over 15 to 20": 2,
        "over 20": 1,
        "not recovered": 1,
    }


def test_csv_keeps_text_exactly_and_reads_back(result: pd.DataFrame, tmp_path: Path) -> None:
    outputs.write_csv(tmp_path / "a.csv", result)
    raw = (tmp_path / "a.csv").read_bytes()
    assert b"\r" not in raw
    with open(tmp_path / "a.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file, strict=True))
    assert [row["household_id"] for row in rows] == result["household_id"].tolist()
    for name in ("net_cost_usd", "net_savings_usd", "load_kwh"):
        assert [float(row[name] or -1) for row in rows] == result[name].fillna(-1).tolist()


def test_csv_keeps_every_character(program: wl.Program, tmp_path: Path) -> None:
    """Read back by another reader of CSV: the standard library's."""
    words = ["a\rb", "a\nb", 'say "hi"', "a,b", " blank ends ", "=1+1", "0012", "café", "NA", "\t"]
    sheet = pd.DataFrame([household(str(n)) for n in range(len(words))]).assign(remark=words)
    frame = wl.screen(sheet, program, detail="monthly", progress=False, keep="remark")
    wl.save_results(frame, tmp_path / "a.csv")
    with open(tmp_path / "a.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file, strict=True))
    assert [row["remark"] for row in rows] == words
    assert [float(row["net_savings_usd"]) for row in rows] == frame["net_savings_usd"].tolist()
    assert rows[0]["loan"] == frame["loan"].iloc[0]


@pytest.fixture(scope="module")
def kept(program: wl.Program) -> pd.DataFrame:
    sheet = pd.DataFrame([household(n, occupants=n - 38) for n in (41, 42, 43)])
    sheet["visited"] = pd.to_datetime(["2026-05-01", None, "2026-05-03"])
    sheet["case_worker"] = ["A. Invented", "=1+1", None]
    sheet["file_number"] = [7, 8, 9]
    sheet["agreed"] = [True, False, True]
    sheet["score"] = [0.1, float("nan"), float("inf")]
    return wl.screen(sheet, program, detail="monthly", progress=False, keep=True)


OWN = ["visited", "case_worker", "file_number", "agreed", "score"]


def test_own_columns_are_kept_as_they_were(kept: pd.DataFrame, recwarn: pytest.WarningsRecorder) -> None:
    assert list(kept.columns[-5:]) == OWN
    assert kept["household_id"].dtype == "int64"
    assert kept["household_id"].tolist() == [41, 42, 43]
    assert kept["visited"].dtype.kind == "M"
    assert kept["file_number"].dtype == "int64"
    assert kept["agreed"].dtype == "bool"
    assert not recwarn


def test_own_columns_stand_in_the_workbook(kept: pd.DataFrame, tmp_path: Path) -> None:
    wl.save_results(kept, tmp_path / "a.xlsx")
    book = openpyxl.load_workbook(tmp_path / "a.xlsx")
    page = book["Households"]
    header = [cell.value for cell in page[1]]
    rows = [dict(zip(header, row, strict=True)) for row in page.iter_rows(min_row=2, values_only=True)]
    assert [row["household_id"] for row in rows] == [41, 42, 43]
    assert [row["visited"] for row in rows] == [datetime.datetime(2026, 5, 1), None, datetime.datetime(2026, 5, 3)]
    assert [row["case_worker"] for row in rows] == ["A. Invented", "=1+1", None]
    assert page.cell(3, header.index("case_worker") + 1).data_type in ("s", "inlineStr")
    assert [row["agreed"] for row in rows] == [True, False, True]
    assert [row["score"] for row in rows] == [0.1, None, None]
    explained = {row[1]: row[3] for row in book["Columns"].iter_rows(min_row=2, values_only=True) if row[0] == "result"}
    assert explained["case_worker"] == "kept from the household sheet"


def test_named_columns_are_kept_and_wrong_names_refused(program: wl.Program) -> None:
    sheet = pd.DataFrame([household()]).assign(note="x", other="y")
    with pytest.warns(wl.UnknownColumnWarning, match="'other' is not known"):
        found = wl.screen(sheet, program, detail="monthly", progress=False, keep=["note", "occupants"])
    assert list(found.columns[-2:]) == ["note", "occupants"]
    with pytest.raises(
        errors.UnknownName, match=r"keep: notes is no column of the sheet; allowed: household_id, .*note"
    ):
        wl.screen(sheet, program, keep="notes")
    with pytest.raises(errors.Contradiction, match="household_id is a column of the results themselves"):
        wl.screen(sheet, program, keep=["household_id"])
    with pytest.warns(wl.UnknownColumnWarning, match=r"'occupantz' .*did you mean occupants"):
        wl.screen(sheet.drop(columns=["note", "other"]).assign(occupantz=3), program, progress=False, keep=True)


def test_a_workbook_s_numbers_dates_and_ids_come_back_as_they_were(program: wl.Program, tmp_path: Path) -> None:
    source = openpyxl.Workbook()
    facts = household(1)
    source.active.append([*facts, "visited", "amount", "count", "remark"])
    for n in (11, 12):
        day = datetime.datetime(2026, 5, n)
        source.active.append([*{**facts, "household_id": n}.values(), day, n + 0.5, n, None if n == 11 else 3])
    source.save(tmp_path / "homes.xlsx")
    found = wl.screen(tmp_path / "homes.xlsx", program, detail="monthly", progress=False, keep=True)
    assert found["household_id"].dtype == "Int64"
    assert found["visited"].tolist() == [pd.Timestamp("2026-05-11"), pd.Timestamp("2026-05-12")]
    assert found["amount"].tolist() == [11.5, 12.5]
    assert found["count"].dtype == "Int64"
    assert found["remark"].isna().tolist() == [True, False]


def test_any_part_of_a_result_and_any_frame_can_be_saved(result: pd.DataFrame, tmp_path: Path) -> None:
    wl.save_results(result[result["decision"] == "bad row"], tmp_path / "part.xlsx")
    book = openpyxl.load_workbook(tmp_path / "part.xlsx")
    assert book["Households"].max_row == 1 + int((result["decision"] == "bad row").sum())
    assert book["Assumptions"].max_row > 10
    few = result[["household_id", "decision", "net_cost_usd"]]
    wl.save_results(few, tmp_path / "few.xlsx")
    assert [c.value for c in openpyxl.load_workbook(tmp_path / "few.xlsx")["Households"][1]] == list(few.columns)
    other = pd.DataFrame({"net_cost_usd": [1.5, None], "what": ["=1+1", "b"]}, index=pd.Index([2, 3], name="year"))
    wl.save_results(other, tmp_path / "other.xlsx")
    book = openpyxl.load_workbook(tmp_path / "other.xlsx")
    assert book.sheetnames == ["Results", "Columns"]
    assert list(book["Results"].iter_rows(values_only=True)) == [
        ("year", "net_cost_usd", "what"),
        (2, 1.5, "=1+1"),
        (3, None, "b"),
    ]
    wl.save_results(other, tmp_path / "other.csv")
    assert (tmp_path / "other.csv").read_text(encoding="utf-8") == "year,net_cost_usd,what\n2,1.5,=1+1\n3,,b\n"


def test_saving_replaces_or_refuses_and_leaves_nothing_half_done(
    result: pd.DataFrame, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.csv"
    wl.save_results(result, path)
    before = path.read_bytes()
    wl.save_results(result.iloc[:3], path)
    assert path.read_bytes() != before
    with pytest.raises(errors.Contradiction, match="stands there already"):
        wl.save_results(result, path, overwrite=False)
    with pytest.raises(errors.NotAvailable, match=r"\.ods is a kind of file that is not written"):
        wl.save_results(result, tmp_path / "a.ods")
    with pytest.raises(errors.MalformedText, match="dict is no frame of results"):
        wl.save_results({}, path)  # type: ignore[arg-type]
    before = path.read_bytes()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(outputs, "write_csv", full)
    with pytest.raises(errors.FileUnreadable, match="No space left on device"):
        wl.save_results(result, path)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["a.csv"]


def test_parquet_keeps_types_and_values(kept: pd.DataFrame, tmp_path: Path) -> None:
    pytest.importorskip("pyarrow")
    wl.save_results(kept, tmp_path / "a.parquet")
    again = pd.read_parquet(tmp_path / "a.parquet")
    assert again["household_id"].tolist() == kept["household_id"].tolist()
    assert again["net_savings_usd"].tolist() == kept["net_savings_usd"].tolist()
    assert again["visited"].tolist()[0] == kept["visited"].tolist()[0]


def test_yes_and_no_are_words_in_calc(book: openpyxl.Workbook, path: Path, tmp_path: Path) -> None:
    """LibreOffice Calc holds yes and no as 1 and 0 and shows what the format says."""
    page = book["Households"]
    at = next(cell.column for cell in page[1] if cell.value == "pays_from_month_one")
    assert page.cell(2, at).number_format == '"TRUE";"TRUE";"FALSE"'
    words = spreadsheet_as_csv(path, tmp_path, "Households")
    header = words[0]
    shown = {row[header.index("pays_from_month_one")] for row in words[1:]}
    assert shown <= {"TRUE", "FALSE", ""}
    assert shown & {"TRUE", "FALSE"}


def spreadsheet_as_csv(path: Path, folder: Path, name: str) -> list[list[str]]:
    """A sheet as Calc shows it."""
    office = spreadsheet.program()
    # Separator, quote, UTF-8, first line, no column formats, language, quote no text, as shown, ..., all sheets.
    form = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"
    profile = f"-env:UserInstallation={spreadsheet._profile().as_uri()}"
    spreadsheet._run([office, profile, "--headless", "--convert-to", form, "--outdir", str(folder), str(path)], 120)
    with open(folder / f"{path.stem}-{name}.csv", encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


@pytest.mark.parametrize(
    ("keep", "own"), [([], []), (["--keep"], ["remark", "worker"]), (["--keep", "worker"], ["worker"])]
)
def test_columns_are_kept_from_the_command_line(
    keep: list[str], own: list[str], tmp_path: Path, program_file: Path
) -> None:
    sheet = tmp_path / "homes.csv"
    pd.DataFrame([household("A"), household("B")]).assign(remark=["007", "=1+1"], worker="x").to_csv(sheet, index=False)
    command = ["screen", str(sheet), "--program", str(program_file), "--detail", "monthly", "--quiet"]
    assert cli.main([*command, "--out", str(tmp_path / "r.csv"), *keep]) == 0
    with open(tmp_path / "r.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [name for name in rows[0] if name in ("remark", "worker")] == own
    if "remark" in own:
        assert [row["remark"] for row in rows] == ["007", "=1+1"]
