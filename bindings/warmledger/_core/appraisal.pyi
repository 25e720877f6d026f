from typing import Any

from .catalog import Catalog, Program

class Held:
    def section(self, name: str) -> Any: ...

class ExactHeld:
    def section(self, name: str) -> Any: ...

class Appraiser:
    def __init__(self, program: Program, catalog: Catalog) -> None: ...
    def appraise(
        self, header: list[str], cells: list[str | None], file: str, row: int, detail: str, exact: bool
    ) -> Held | ExactHeld: ...
