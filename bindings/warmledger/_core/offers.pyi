import numpy as np
import numpy.typing as npt

inputs: list[tuple[str, int]]
measure_names: list[str]

def measures(
    rows: int, columns: dict[str, npt.NDArray[np.float64]], study_years: int, threads: int
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.uint8], list[str]]: ...
