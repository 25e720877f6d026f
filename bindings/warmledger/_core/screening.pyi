from collections.abc import Callable
from typing import Any

from .appraisal import Appraiser

class TextColumn:
    def objects(self) -> Any: ...
    def arrow(self) -> tuple[Any, Any, Any, int]: ...

def screen(
    appraiser: Appraiser,
    header: list[str],
    columns: list[list[str | None]],
    file: str,
    detail: str,
    threads: int,
    progress: Callable[[int], Any] | None,
    ragged: dict[int, int] = ...,
) -> dict[str, Any]: ...
def check(
    header: list[str],
    columns: list[list[str | None]],
    file: str,
    ragged: dict[int, int] = ...,
    appraiser: Appraiser | None = None,
) -> dict[str, Any]: ...
def cell_texts(cells: Any, text_of: Callable[[Any], str | None]) -> list[str | None]: ...
def result_columns() -> list[dict[str, Any]]: ...
def result_columns_markdown() -> str: ...
