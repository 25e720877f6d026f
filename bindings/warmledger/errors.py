"""Everything the library raises on purpose. Each error carries its problem as a dict in the attribute `problem`.

The keys of a problem: file, line (of a text file), row (of a sheet, from 1, the header not counted), key (column, key
of a program file or argument), value, what, allowed, sentence.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from . import _core

Error = _core.errors.Error
ValueOutOfRange = _core.errors.ValueOutOfRange
MissingValue = _core.errors.MissingValue
MalformedText = _core.errors.MalformedText
UnknownName = _core.errors.UnknownName
DuplicateName = _core.errors.DuplicateName
Contradiction = _core.errors.Contradiction
FileUnreadable = _core.errors.FileUnreadable
NotAvailable = _core.errors.NotAvailable

if TYPE_CHECKING:
    Problem = dict[str, Any]

__all__ = [
    "Contradiction",
    "DuplicateName",
    "Error",
    "FileUnreadable",
    "MalformedText",
    "MissingValue",
    "NotAvailable",
    "UnknownColumnWarning",
    "UnknownName",
    "ValueOutOfRange",
    "error",
]


class UnknownColumnWarning(UserWarning):
    """A column of the input is no column of a household sheet and was not used."""


def error(
    kind: type[Error],
    what: str,
    *,
    allowed: str = "",
    value: str = "",
    file: str = "",
    line: int | None = None,
    row: int | None = None,
    key: str = "",
) -> Error:
    """An error of `kind` whose sentence is written as the library writes its own."""
    problem = _core.errors.problem(what, allowed=allowed, value=value, file=file, line=line, row=row, key=key)
    made = kind(problem["sentence"])
    made.problem = problem
    return made
