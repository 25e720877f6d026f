from collections.abc import Sequence
from typing import Any

from .appraisal import Appraiser

def cases(
    appraisers: Sequence[Appraiser],
    which: Sequence[int],
    header: Sequence[str],
    rows: Sequence[list[str | None]],
    detail: str,
    threads: int,
) -> dict[str, Any]: ...
