from typing import Any

class Error(ValueError):
    problem: dict[str, Any]

class ValueOutOfRange(Error): ...  # noqa: N818
class MissingValue(Error): ...  # noqa: N818
class MalformedText(Error): ...  # noqa: N818
class UnknownName(Error): ...  # noqa: N818
class DuplicateName(Error): ...  # noqa: N818
class Contradiction(Error): ...  # noqa: N818
class FileUnreadable(Error): ...  # noqa: N818
class NotAvailable(Error): ...  # noqa: N818

def problem(
    what: str,
    *,
    allowed: str = "",
    value: str = "",
    file: str = "",
    line: int | None = None,
    row: int | None = None,
    key: str = "",
) -> dict[str, Any]: ...
