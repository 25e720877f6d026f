"""python engine_runs.py ENGINE (spark or ray): screens an invented sheet in another engine's workers.

Prints `same` when every value is that of one process, else what differs. Exit status 77: the engine does not start.
"""

import os
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import warmledger as wl

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "bench"))
from make_sheet import make_sheet

ROWS = 200
COULD_NOT_START = 77


def in_ray(frame: pd.DataFrame, program: wl.Program) -> pd.DataFrame:
    import ray

    try:
        ray.init(num_cpus=2, include_dashboard=False, log_to_driver=False)
    except Exception as failure:  # a machine without the ports or the shared memory that it wants
        print(f"Ray does not start: {failure}")
        sys.exit(COULD_NOT_START)
    sheet = ray.data.from_pandas(frame).repartition(4)
    options = {"program": program, "detail": "monthly"}
    results: pd.DataFrame = sheet.map_batches(
        wl.cluster.screen_batch, batch_format="pyarrow", batch_size=32, fn_kwargs=options
    ).to_pandas()
    return results


def in_spark(frame: pd.DataFrame, program: wl.Program) -> pd.DataFrame:
    from pyspark.sql import SparkSession
    from pyspark.sql.pandas.types import from_arrow_schema

    os.environ["PYSPARK_PYTHON"] = sys.executable
    try:
        session = SparkSession.builder.master("local[2]").config("spark.ui.enabled", "false").getOrCreate()
    except Exception as failure:  # no Java
        print(f"Spark does not start: {failure}")
        sys.exit(COULD_NOT_START)
    schema = from_arrow_schema(wl.cluster.result_schema(pa.Schema.from_pandas(frame, preserve_index=False)))
    sheet = session.createDataFrame(frame).repartition(4)
    results: pd.DataFrame = sheet.mapInArrow(
        lambda batches: wl.cluster.screen_batches(batches, program, detail="monthly"), schema
    ).toPandas()
    session.stop()
    return results


def plain(column: Any) -> list[Any]:
    """Values with one kind of none."""
    return [None if pd.isna(value) else value for value in np.asarray(column, dtype=object)]


def main(engine: str) -> int:
    frame = pd.DataFrame(make_sheet(ROWS, places=["Quillmere"])).astype(str)
    frame.loc[17, "occupants"] = "many"
    program = wl.load_program(wl.data_dir() / "demo" / "program.toml")
    expected = wl.screen(frame, program, detail="monthly", progress=False)
    found = {"ray": in_ray, "spark": in_spark}[engine](frame, program)
    found = found.set_index("household_id").loc[list(expected["household_id"])].reset_index()
    differing = [name for name in expected if plain(expected[name]) != plain(found[name])]
    print(f"{len(found)} rows; {', '.join(differing)} differ" if differing or len(found) != ROWS else "same")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
