"""Change a job file's text and nothing else in it: comments and order stay as they are."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Callable, Mapping, MutableMapping
from typing import Any, Final

import tomlkit
import tomlkit.items
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from ..errors import JobError
from ..job.starter import UNMEASURED

Table = MutableMapping[str, Any]
Change = Callable[[Table], None]
"""Changes a job, given as nested mappings and lists."""

KeyPath = tuple[str, ...]
"""Keys from the top of the job file down to a value."""


def changed(text: str, change: Change, *, source: str = "") -> str:
    """Return the text of a job file after a change.

    *text*: TOML. *source*: for messages.

    Raises `JobError` if the text is written so that the change cannot be made in it; also what
    `change` itself raises.

    Notes
    -----
    The change is made twice: in the text, and in the plain data that the text stands for. Only
    if both come to the same is the new text returned.
    """
    expected = tomllib.loads(text)
    change(expected)
    try:
        document = tomlkit.parse(text)
        change(document)
        result = _same_line_ends(tomlkit.dumps(document), text)
        agree = _solid(tomllib.loads(result)) == _solid(expected)
    except (TOMLKitError, tomllib.TOMLDecodeError, ValueError, TypeError, KeyError, IndexError):
        agree = False
    if not agree:
        raise JobError(
            "the job file is written in a way that this page cannot change here",
            remedy="Change it as text, in step 5.",
            source=source,
        )
    return result


def _same_line_ends(text: str, model: str) -> str:
    """Give new lines the ends that the others have."""
    if "\r\n" in model and model.count("\r\n") == model.count("\n"):
        return text.replace("\r\n", "\n").replace("\n", "\r\n")
    return text


def _solid(value: Any) -> Any:
    """A job without its empty tables, which say nothing and may go from a text."""
    if isinstance(value, dict):
        parts = {key: _solid(part) for key, part in value.items()}
        return {key: part for key, part in parts.items() if part != {}}
    return [_solid(part) for part in value] if isinstance(value, list) else value


def value_at(data: Mapping[str, Any], path: KeyPath) -> Any:
    """Value at a path of a job, or None if there is none."""
    here: Any = data
    for key in path:
        if not isinstance(here, Mapping) or key not in here:
            return None
        here = here[key]
    return here


def unmeasured(data: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the fabrics whose thickness is still to be measured."""
    stack = data.get("stack")
    entries = stack.get("fabric") if isinstance(stack, dict) else None
    if not isinstance(entries, list):
        return []
    return [
        entry
        for entry in entries
        if isinstance(entry, dict) and entry.get("thickness") == UNMEASURED
    ]


def as_if_measured(data: dict[str, Any]) -> dict[str, Any]:
    """Return a job's data with 0 for each thickness still to be measured."""
    open_ones = unmeasured(data)
    if not open_ones:
        return data
    entries = [
        {**entry, "thickness": 0.0} if entry in open_ones else entry
        for entry in data["stack"]["fabric"]
    ]
    return {**data, "stack": {**data["stack"], "fabric": entries}}


def put(data: Table, path: KeyPath, value: Any) -> None:
    """Set a value, with the tables it needs; None takes it out."""
    *parents, last = path
    here: Any = data
    for key in parents:
        if key not in here:
            if value is None:
                return
            here[key] = {}
        here = here[key]
    if value is None:
        here.pop(last, None)
    elif isinstance(here, tomlkit.items.Table) and last not in here:
        _add(here, last, value)
    else:
        here[last] = value


def _add(table: tomlkit.items.Table, key: str, value: Any) -> None:
    """Add a key to a table of a text right after its last value.

    By itself tomlkit adds it at the table's end, after comments that speak of the next table.
    """
    tables = (tomlkit.items.Table, AoT)
    own = [name for name, item in table.value.body if name and not isinstance(item, tables)]
    if own:
        table.value._insert_after(own[-1], key, value)
    else:
        table[key] = value


def entry_for(entries: Any, values: Mapping[str, Any]) -> Any:
    """Return a new entry for a list of tables, with an empty line after it in a text."""
    if not isinstance(entries, AoT):
        return dict(values)
    table = tomlkit.table()
    table.update(values)
    table.add(tomlkit.nl())
    return table


def add_row(data: Table, name: str, values: Mapping[str, Any]) -> None:
    """Add a table to those of a name that a job has a list of."""
    if name not in data:
        if isinstance(data, tomlkit.TOMLDocument):
            data.add(tomlkit.nl())
        data[name] = tomlkit.aot()
    # What the document gives back counts, not what it was given.
    rows = data[name]
    rows.append(entry_for(rows, values))


def numbered(text: str) -> int | None:
    """Return a place in a list, as a form says it; None for what is no such number."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS else None


_MOST_DIGITS: Final = 6


def row_at(data: Mapping[str, Any], name: str, place: str) -> Any:
    """Return the table at a place of such a list, which a form says.

    Raises `JobError` if there is none.
    """
    rows = data.get(name, [])
    number = numbered(place)
    if number is None or number >= len(rows):
        raise JobError("it is not there any more", remedy="Look at the page as it is now.")
    return rows[number]


def take_row(data: Table, name: str, place: str) -> None:
    """Take the table at a place of such a list out, and the list if it was the last.

    Raises `JobError` if there is none.
    """
    row_at(data, name, place)
    data[name].pop(int(place))
    if not data[name]:
        data.pop(name)


def key_of(name: str) -> str:
    """Return a short name for ids in the page, as any name may be a fabric's."""
    return hashlib.sha256(name.encode("utf-8", "surrogateescape")).hexdigest()[:8]
