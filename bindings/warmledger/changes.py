"""A program file's text with some of its keys changed: what `Program.changed` and `Program.setting` rest on."""

from __future__ import annotations

import datetime
import difflib
import json
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any, NoReturn

from .errors import DuplicateName, MalformedText, UnknownName, error

# What tells the entries of a list of tables apart, by where the list stands.
NAMED_BY = {
    ("place",): "name",
    ("package",): "id",
    ("package", "upkeep"): "what",
    ("incentive",): "id",
    ("loan",): "id",
    ("income", "tier"): "name",
    ("tariff",): "fuel",
    ("tariff", "rate"): "name",
}
ALLOWED_KEY = (
    "names parted by dots, for example economics.inflation_rate or incentive.ID.flat_usd; a name that holds dots or "
    'spaces in "double quotes"'
)
ALLOWED_VALUE = "text, a number, true or false, a date, a list, a mapping for a whole table, or None to take it out"


_END = "the value of a key, which no key holds"


def parts_of(key: str) -> list[str]:
    """The names in a key written as TOML writes one: 'place."High Town".latitude_deg' has three."""
    try:
        found: Any = tomllib.loads(f"{key} = '{_END}'") if isinstance(key, str) and "\n" not in key else None
    except tomllib.TOMLDecodeError:
        found = None
    parts = []
    while isinstance(found, dict) and len(found) == 1:
        name, found = next(iter(found.items()))
        parts.append(name)
    if not parts or found != _END:
        raise error(MalformedText, "is no key of a program file", value=repr(key)[:120], allowed=ALLOWED_KEY, key="key")
    return parts


def changed_text(text: str, changes: Mapping[str, Any], file: str) -> str:
    """The text of a program file (one that has been read without an error) with the changes made, in their order."""
    document = tomllib.loads(text)
    for key, value in changes.items():
        _set(document, key, _plain(value, key), file)
    return toml_text(document)


def setting_in(text: str, key: str, file: str) -> Any:
    """What a program file says at a key."""
    node: Any = tomllib.loads(text)
    where: tuple[str, ...] = ()
    parts = parts_of(key)
    for at, part in enumerate(parts):
        if isinstance(node, list):
            node = _entry(node, where, part, key, file)
        elif isinstance(node, dict):
            where = (*where, part)
            if part not in node:
                _refuse(node, parts[: at + 1], key, file)
            node = node[part]
        else:
            _refuse({}, parts[: at + 1], key, file)
    return node


def without_entries(key: str) -> str:
    """The key as errors of a program file name it: incentive.ID.flat_usd is incentive.flat_usd there."""
    where: tuple[str, ...] = ()
    skip = False
    for part in parts_of(key):
        if not skip:
            where = (*where, part)
        skip = not skip and where in NAMED_BY
    return ".".join(where)


def _set(document: dict[str, Any], key: str, value: Any, file: str) -> None:
    parts = parts_of(key)
    node: Any = document
    where: tuple[str, ...] = ()
    for at, part in enumerate(parts):
        last = at == len(parts) - 1
        if isinstance(node, list):
            if not last:
                node = _entry(node, where, part, key, file)
            else:
                _set_entry(node, where, part, value, key, file)
                return
            continue
        where = (*where, part)
        if last:
            if value is not None:
                node[part] = value
            elif part in node:
                del node[part]
            else:
                _refuse(node, parts, key, file)
            return
        if part not in node:
            if value is None:
                _refuse(node, parts[: at + 1], key, file)
            node[part] = [] if where in NAMED_BY else {}
        node = node[part]
        if not isinstance(node, dict | list):
            raise error(
                MalformedText,
                f"goes on behind {'.'.join(where)}, which is a value",
                allowed=ALLOWED_KEY,
                file=file,
                key=key,
            )


def _set_entry(
    entries: list[dict[str, Any]], where: tuple[str, ...], name: str, value: Any, key: str, file: str
) -> None:
    """Adds, replaces or takes out a whole entry of a list of tables."""
    label = NAMED_BY.get(where, "id")
    if value is None:
        entries.remove(_entry(entries, where, name, key, file))
        return
    if not isinstance(value, dict):
        raise error(
            MalformedText,
            "is one value for a whole table",
            value=repr(value)[:80],
            allowed=f"a mapping with the keys of [[{'.'.join(where)}]], or a key in it: {key}.KEY",
            file=file,
            key=key,
        )
    entry = {label: name, **value}
    for i, old in enumerate(entries):
        if old.get(label) == name:
            entries[i] = entry
            return
    entries.append(entry)


def _entry(entries: list[Any], where: tuple[str, ...], name: str, key: str, file: str) -> Any:
    label = NAMED_BY.get(where, "id")
    names = [str(entry.get(label)) for entry in entries]
    if names.count(name) > 1:
        raise error(
            DuplicateName,
            f"stands {names.count(name)} times",
            value=name,
            allowed="a name that stands once",
            file=file,
            key=key,
        )
    if name not in names:
        near = difflib.get_close_matches(name, names, n=1)
        raise error(
            UnknownName,
            f"is no {'.'.join(where)} of this program file" + (f" (did you mean {near[0]}?)" if near else ""),
            value=name,
            allowed=", ".join(names) or "none stands there",
            file=file,
            key=key,
        )
    return entries[names.index(name)]


def _refuse(node: Mapping[str, Any], parts: Sequence[str], key: str, file: str) -> NoReturn:
    near = difflib.get_close_matches(parts[-1], list(node), n=1)
    raise error(
        UnknownName,
        f"is not said in this program file{f' (did you mean {near[0]}?)' if near else ''}",
        value=".".join(parts),
        allowed=", ".join(node) or "nothing stands there",
        file=file,
        key=key,
    )


def _plain(value: Any, key: str) -> Any:
    """A value as a TOML parser would give it."""
    if hasattr(value, "item") and getattr(value, "ndim", 0) == 0:  # a NumPy scalar
        value = value.item()
    if isinstance(value, str):
        if not any("\ud800" <= letter <= "\udfff" for letter in value):  # what UTF-8 can hold
            return value
    elif isinstance(value, datetime.datetime):  # a pandas Timestamp is one
        if value.time() == datetime.time() and value.tzinfo is None:
            return value.date()
    elif value is None or isinstance(value, bool | int | float | datetime.date):
        return value
    elif isinstance(value, Decimal):
        return float(value)
    elif isinstance(value, Mapping):
        return {str(name): _plain(part, key) for name, part in value.items() if part is not None}
    elif isinstance(value, Sequence | set | frozenset) and not isinstance(value, bytes):
        return [_plain(part, key) for part in (sorted(value) if isinstance(value, set | frozenset) else value)]
    raise error(MalformedText, "has no form in a program file", value=repr(value)[:80], allowed=ALLOWED_VALUE, key=key)


def toml_text(document: Mapping[str, Any]) -> str:
    """A TOML document: values, then tables, then lists of tables, each under its header."""
    return "\n".join(_lines(document, ())).lstrip("\n") + "\n"


def _lines(table: Mapping[str, Any], path: tuple[str, ...]) -> Iterator[str]:
    def is_list_of_tables(value: Any) -> bool:
        return isinstance(value, list) and bool(value) and all(isinstance(entry, dict) for entry in value)

    for name, value in table.items():
        if (
            not isinstance(value, dict)
            and not is_list_of_tables(value)
            and not (value == [] and (*path, name) in NAMED_BY)
        ):
            yield f"{_name(name)} = {_value(value)}"
    for name, value in table.items():
        header = ".".join(_name(part) for part in (*path, name))
        if isinstance(value, dict):
            yield from ("", f"[{header}]")
            yield from _lines(value, (*path, name))
        elif is_list_of_tables(value):
            for entry in value:
                yield from ("", f"[[{header}]]")
                yield from _lines(entry, (*path, name))


def _name(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _value(name)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):  # JSON's escapes are TOML's, but for one character
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    if isinstance(value, list):
        return f"[{', '.join(_value(part) for part in value)}]"
    if isinstance(value, dict):
        return f"{{{', '.join(f'{_name(name)} = {_value(part)}' for name, part in value.items())}}}"
    return value.isoformat() if isinstance(value, datetime.date | datetime.time) else repr(value)
