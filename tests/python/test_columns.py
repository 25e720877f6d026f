"""Cells into a sheet and text out of it: whatever holds them, they are what one value after the other gives."""

import datetime
import decimal
import itertools
from typing import Any

import numpy as np
import pandas as pd
import pytest
import warmledger as wl
from conftest import household
from warmledger import _core, sheet

NUMBERS = [0.0, -0.0, 1.0, -2.0, 0.1, 1 / 3, 1e15, 1e15 - 1, 1e16, 123456789.5, 5e-324, 1e-5, 1e300, -1e22]


class Odd:
    """A value that is written as its maker wants."""

    def __str__(self) -> str:
        return "odd"


COLUMNS: list[Any] = [
    pd.Series(NUMBERS),
    pd.Series([*NUMBERS, np.nan, np.inf, -np.inf]),
    pd.Series(NUMBERS).iloc[::-2],  # every second number in memory
    pd.Series([0.1, 16777216, 1 / 3, np.nan], dtype="float32"),
    pd.Series([0.1, 2, np.nan], dtype="float16"),
    pd.Series([0, -1, 2**63 - 1, -(2**63)]),
    pd.Series([1, 2, 3], dtype="int8"),
    pd.Series([0, 2**64 - 1], dtype="uint64"),
    pd.Series([True, False]),
    pd.Series([1, None, 3], dtype="Int64"),
    pd.Series([0.5, None, 3], dtype="Float64"),
    pd.Series([True, None, False], dtype="boolean"),
    pd.Series(["a", None, "", " b "], dtype="string"),
    pd.Series(["a", "b", None, "a"], dtype="category"),
    pd.Series([1, 2.5, None], dtype="category"),
    pd.Series(pd.to_datetime(["2026-05-01", None, "2026-05-01 13:30"], format="mixed"))
    if int(pd.__version__.split(".")[0]) > 1
    else pd.Series(pd.to_datetime(["2026-05-01", None, "2026-05-01 13:30"])),
    pd.Series(
        [
            *("text", "", None, 1, 2**70, True, False, 2.0, 0.1, float("nan"), float("inf"), pd.NA, pd.NA, pd.NaT),
            *(np.float64(3), np.float32(0.1), np.int16(4), np.bool_(True), np.str_("numpy"), np.str_("")),
            *(b"bytes", b"", decimal.Decimal("1.50"), datetime.date(2026, 5, 1), Odd(), Odd(), [1], "ü", "\ud800"),
        ],
        dtype=object,
    ),
    pd.Series([], dtype=object),
    pd.Series([], dtype=float),
    pd.Series(np.array([1.5, 2.0], dtype=">f8")),
]


@pytest.mark.parametrize("cells", COLUMNS, ids=lambda cells: str(cells.dtype))
def test_a_column_is_its_values_one_by_one(cells: pd.Series) -> None:
    held = cells.array if cells.dtype in (np.float32, np.float16) else cells.tolist()
    expected = [sheet.text_of(value) for value in held]
    found = sheet.from_frame(pd.DataFrame({"note": cells})).columns[0]
    assert found == expected
    assert all(text is None or isinstance(text, str) for text in found)


def test_text_kept_by_arrow_is_read_like_any_other() -> None:
    pa = pytest.importorskip("pyarrow")
    texts = ["a", None, "", "ü", "a"]
    for dtype in ("string[pyarrow]", pd.ArrowDtype(pa.string())):
        cells = pd.Series(texts, dtype=dtype)
        assert sheet.from_frame(pd.DataFrame({"note": cells})).columns[0] == ["a", None, None, "ü", "a"]


def test_a_sequence_and_an_array_of_objects_are_read_alike() -> None:
    values: list[Any] = ["a", None, pd.NA, pd.NA, 1, 1, 1.5, Odd()]
    expected = [sheet.text_of(value) for value in values]
    array = np.array(values, dtype=object)
    for cells in (values, tuple(values), array, np.repeat(array, 2)[::2]):
        assert _core.screening.cell_texts(cells, sheet.text_of) == expected
    assert _core.screening.cell_texts(np.empty(3, dtype=object), sheet.text_of) == [None, None, None]
    with pytest.raises(TypeError, match="cells of a column are a sequence"):
        _core.screening.cell_texts(5, sheet.text_of)
    with pytest.raises(ZeroDivisionError):  # what text_of raises comes out
        _core.screening.cell_texts([object()], lambda value: str(1 // 0))


FUELS = ["electricity", "natural_gas", "propane", "heating_oil"]


def homes(count: int) -> pd.DataFrame:
    rows = [household(f"H{i}", occupants=1 + i % 9, heater_fuel=FUELS[i % 4]) for i in range(count)]
    frame = pd.DataFrame(rows)
    frame.loc[5, "occupants"] = 99
    return frame


def screened(frame: pd.DataFrame, program: wl.Program, **settings: Any) -> pd.DataFrame:
    return wl.screen(frame, program, detail="monthly", progress=False, **settings)


def test_how_a_frame_holds_its_cells_changes_nothing(program: wl.Program) -> None:
    frame = homes(40)
    expected = screened(frame, program)
    forms = [
        frame.astype(object),
        frame.convert_dtypes(),
        frame.astype({"heater_fuel": "category", "occupants": "Float64"}),
        frame.astype({"occupants": "float32"}),
        frame.astype("string"),
        pd.DataFrame(frame.to_numpy(), columns=frame.columns),
    ]
    for form in forms:
        pd.testing.assert_frame_equal(screened(form, program), expected, check_exact=True)
    assert len(expected) == 40
    assert expected["decision"].tolist().count("bad row") == 1


def test_texts_that_come_often_are_shared_and_right(program: wl.Program) -> None:
    frame = homes(400)
    one = screened(frame, program, threads=1)
    for threads in (2, 5):
        pd.testing.assert_frame_equal(screened(frame, program, threads=threads), one, check_exact=True)
    alone = pd.concat([screened(frame[i : i + 1], program) for i in range(0, 400, 37)])
    pd.testing.assert_frame_equal(one.iloc[::37], alone, check_exact=True)
    words = one["decision"].astype(object)
    if pd.StringDtype().storage == "python":  # Arrow's storage makes a str whenever it is asked
        assert len({id(word) for word in words}) <= 2 * words.nunique()


def test_a_frame_owns_what_it_shows(program: wl.Program) -> None:
    """Changing a result, or the sheet, leaves others as they were."""
    frame = homes(20)
    first, second = screened(frame, program), screened(frame, program)
    before = first.copy(deep=True)
    second["net_savings_usd"] = 0.0
    second.loc[0, "decision"] = "changed"
    second.loc[1, "pays_from_month_one"] = pd.NA
    frame["place"] = "elsewhere"
    pd.testing.assert_frame_equal(first, before, check_exact=True)
    assert second.loc[0, "decision"] == "changed"
    assert first["net_savings_usd"].array._data.flags.writeable


def test_columns_outlive_the_run(program: wl.Program) -> None:
    table = sheet.read(homes(30))
    found = _core.screening.screen(program.appraiser, table.header, table.columns, "", "monthly", 1, None, table.ragged)
    column = found["columns"]["reason"]
    texts = column.objects()
    del found
    assert texts.tolist() == column.objects().tolist()
    there, ends, data, empty = column.arrow()
    raw = data.tobytes()
    assert [raw[a:b].decode() or None for a, b in itertools.pairwise(ends)] == texts.tolist()
    assert empty == sum(text is None for text in texts)
    assert len(there) == 4
