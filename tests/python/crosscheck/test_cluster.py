"""Screening on more than one process: Dask with real worker processes, and the same function in other engines."""

import os
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import warmledger as wl
from conftest import PROGRAM, ROOT

dd = pytest.importorskip("dask.dataframe")
distributed = pytest.importorskip("distributed")
pa = pytest.importorskip("pyarrow")

sys.path.insert(0, str(ROOT / "tests" / "bench"))
from make_sheet import make_sheet  # noqa: E402

pytestmark = [
    # Both libraries give notice of changes of their own, and of workers that die, which is what is tested here.
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::FutureWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::UserWarning"),
]
ROWS = 400


@pytest.fixture(scope="module")
def cluster() -> Iterator[object]:
    """Two worker processes of one thread each."""
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, worker_dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        yield client


def sheet(rows: int = ROWS) -> pd.DataFrame:
    frame = pd.DataFrame(make_sheet(rows, places=["Testville", "724660", "724695"]))
    frame["ward"] = np.arange(rows) % 5
    frame.loc[17, "occupants"] = "many"
    return frame


def as_bytes(frame: pd.DataFrame) -> bytes:
    return frame.reset_index(drop=True).to_csv(index=False).encode()


@pytest.fixture(scope="module")
def whole() -> pd.DataFrame:
    return wl.screen(sheet(), wl.parse_program(PROGRAM), detail="monthly", progress=False, keep="ward")


def test_two_worker_processes_give_the_same_bytes(cluster: object, whole: pd.DataFrame) -> None:
    program = wl.parse_program(PROGRAM)
    frame = dd.from_pandas(sheet(), npartitions=7)
    lazy = wl.cluster.screen(frame, program, detail="monthly", keep="ward")
    assert lazy.npartitions == 7
    computed = lazy.compute()
    assert as_bytes(computed) == as_bytes(whole)
    # The types that Dask was told before any work are those that came.
    pd.testing.assert_series_equal(lazy._meta.dtypes, computed.dtypes)
    assert lazy.dtypes.to_dict() == whole.dtypes.to_dict()
    assert list(computed.index) == list(whole.index)
    # A sum over columns is worked out where the partitions lie.
    assert lazy["net_savings_usd"].sum().compute() == pytest.approx(whole["net_savings_usd"].sum(), rel=1e-12)


def test_by_the_hour_too(cluster: object) -> None:
    program, rows = wl.parse_program(PROGRAM), sheet(24)
    lazy = wl.cluster.screen(dd.from_pandas(rows, npartitions=3), program)
    assert as_bytes(lazy.compute()) == as_bytes(wl.screen(rows.drop(columns="ward"), program, progress=False))


def killing(rows: pd.DataFrame, program: wl.Program, mark: str) -> pd.DataFrame:
    """Kills its own worker process in the middle of the run, once."""
    try:
        os.close(os.open(mark, os.O_CREAT | os.O_EXCL))
    except FileExistsError:
        return wl.cluster.screen_partition(rows, program, detail="monthly", keep="ward")
    os.kill(os.getpid(), signal.SIGKILL)
    raise AssertionError


def test_a_worker_that_is_killed_costs_nothing_but_time(cluster: object, whole: pd.DataFrame, tmp_path: Path) -> None:
    program, mark = wl.parse_program(PROGRAM), tmp_path / "killed"
    frame = dd.from_pandas(sheet(), npartitions=8)
    meta = wl.cluster.screen(frame, program, detail="monthly", keep="ward")._meta
    parts = frame.map_partitions(killing, program, str(mark), meta=meta)
    assert as_bytes(parts.compute()) == as_bytes(whole)
    assert mark.exists()


def test_a_bad_partition_is_told_row_by_row(cluster: object) -> None:
    program, rows = wl.parse_program(PROGRAM), sheet(60).drop(columns="ward")
    rows.loc[20:39, "place"] = "Nowhere at all"
    found = wl.cluster.screen(dd.from_pandas(rows, npartitions=3), program, detail="monthly").compute()
    assert (found["decision"].iloc[20:40] == "bad row").all()
    assert found["reason"].iloc[20:40].str.contains("Nowhere at all").all()
    expected = wl.screen(rows, program, detail="monthly", progress=False)
    assert as_bytes(found) == as_bytes(expected)


def test_a_partition_without_rows_keeps_the_schema(cluster: object) -> None:
    program, rows = wl.parse_program(PROGRAM), sheet(40).drop(columns="ward")
    frame = dd.from_pandas(rows, npartitions=4)
    none_left = frame[frame["household_id"] == "H-00000005"]
    found = wl.cluster.screen(none_left, program, detail="monthly").compute()
    assert found["household_id"].tolist() == ["H-00000005"]
    assert found.dtypes.to_dict() == wl.screen(rows, program, detail="monthly", progress=False).dtypes.to_dict()


def test_misuse_is_refused_before_work_is_sent_out() -> None:
    program = wl.parse_program(PROGRAM)
    frame = dd.from_pandas(sheet(10), npartitions=2)
    with pytest.raises(wl.errors.MalformedText, match="Dask"):
        wl.cluster.screen(sheet(10), program)
    with pytest.raises(wl.errors.MissingValue, match="heater_fuel"):
        wl.cluster.screen(frame.drop(columns="heater_fuel"), program)
    with pytest.raises(wl.errors.UnknownName, match="street"):
        wl.cluster.screen(frame, program, keep="street")
    pool = '\n[[pool]]\nid = "pot"\ntitle = "Town money"\nusd = 5000\norder = "first_come"\n'
    pooled = wl.parse_program(PROGRAM.replace("flat_usd = 1000", 'flat_usd = 1000\npool = "pot"') + pool)
    with pytest.raises(wl.errors.NotAvailable, match=r"pot.*whole sheet"):
        wl.cluster.screen(frame, pooled)


def test_record_batches_in_and_out(whole: pd.DataFrame) -> None:
    """The body that data/scale.md shows for engines which map over record batches."""
    program = wl.parse_program(PROGRAM)
    table = pa.Table.from_pandas(sheet(), preserve_index=False)
    schema = wl.cluster.result_schema(table.schema, keep="ward")
    parts = list(wl.cluster.screen_batches(table.to_batches(max_chunksize=64), program, detail="monthly", keep="ward"))
    assert all(part.schema.equals(schema, check_metadata=True) for part in parts)
    assert as_bytes(pa.Table.from_batches(parts).to_pandas()) == as_bytes(whole)
    for rows in (0, 1):
        one = wl.cluster.screen_batch(table.to_batches()[0].slice(0, rows), program, detail="monthly", keep="ward")
        assert (one.num_rows, one.schema.equals(schema)) == (rows, True)
    assert wl.cluster.screen_batch(table, program, detail="monthly", keep="ward").num_rows == ROWS
