from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from .appraisal import Appraiser

def cases(
    appraisers: Sequence[Appraiser],
    which: Sequence[int],
    header: Sequence[str],
    rows: Sequence[list[str | None]],
    detail: str,
    threads: int,
) -> dict[str, Any]: ...
def trial_columns() -> list[tuple[str, str, str]]: ...
def philox(counter: Sequence[int], key: Sequence[int]) -> list[int]: ...
def values(distribution: dict[str, Any], uniforms: Sequence[float]) -> npt.NDArray[np.float64]: ...

class Prospect:
    def __init__(
        self,
        appraiser: Appraiser,
        header: Sequence[str],
        cells: list[str | None],
        detail: str,
        model: dict[str, Any],
        loan: str | None,
        threads: int,
    ) -> None: ...
    @property
    def dimensions(self) -> int: ...
    @property
    def loan(self) -> str | None: ...
    def run(self, seed: int, first: int, count: int, threads: int) -> dict[str, npt.NDArray[np.float64]]: ...
    def run_uniforms(self, uniforms: npt.NDArray[np.float64], threads: int) -> dict[str, npt.NDArray[np.float64]]: ...
