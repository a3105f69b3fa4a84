"""Edits of how the corset is sewn: fields of tables that a job may have several of."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, Final

from ..errors import JobError
from ..job.construction_keys import BonesTable, ShellTable, StripTable
from ..job.sewing_fields import FieldKind, label_of
from ..units import parse_number, several
from .edits import (
    Edit,
    Form,
    Reader,
    field,
    read_as,
    typed_height,
    typed_length,
    typed_percent,
    unknown,
)
from .toml_changes import Table, entry_for

Place = tuple[str | int, ...]
"""Keys, and places in lists, from the top of a job down to a value."""

_KINDS: Final[Mapping[str, tuple[str, ...]]] = {
    name: tuple(key for key, own in table.model_fields.items() if own.is_required())
    for name, table in (("shell", ShellTable), ("bones", BonesTable), ("strip", StripTable))
}
"""Tables of which a job may have several, and what each needs."""


def _words(text: str, units: str) -> Any:
    return text


def _number(text: str, units: str) -> Any:
    return parse_number(text)


def _lines(text: str, units: str) -> Any:
    return [line for line in text.splitlines() if line]


def _lengths(text: str, units: str) -> Any:
    return [typed_length(part, units) for part in several(text)]


def _share(text: str, units: str) -> Any:
    """A part of 1, or percent with their sign."""
    return typed_percent(text, units) if text.endswith("%") else parse_number(text)


def _yes(text: str, units: str) -> Any:
    return text == "yes"


READERS: Final[Mapping[FieldKind, Reader]] = {
    "choice": _words,
    "length": typed_length,
    "number": _number,
    "share": _share,
    "yes or no": _yes,
    "layers": _lines,
    "lengths": _lengths,
    "by panel": _number,
    "height": typed_height,
}


def sewing(form: Form, units: str) -> Edit:
    """Set one field of how the corset is sewn, or take it out."""
    place, kind = _place(form), form.get("kind", "")
    reader = next((READERS[known] for known in READERS if known == kind), None)
    if reader is None:
        raise unknown(f"no field takes {kind!r:.40}")
    text = form.get("value", "").strip() if kind == "layers" else field(form, "value")
    value = reader(text, units) if text else None

    def change(data: Table) -> None:
        _put(data, place, value)

    words = f"{form.get('label', 'a field'):.60} of how it is sewn"
    return Edit(change, lambda data: _reach(data, place), words, reader)


def add_sewn(form: Form, units: str) -> Edit:
    """Add a shell, bones or a strip, with all that its form says."""
    kind = form.get("table", "")
    if kind not in _KINDS:
        raise unknown(f"nothing to sew is called {kind!r:.40}")
    kinds = json.loads(form.get("kinds", "{}"))
    values: dict[str, Any] = {}
    fields: dict[str, tuple[str, Reader]] = {}
    for key, sort in kinds.items() if isinstance(kinds, dict) else ():
        text = form.get(key, "").strip()
        if text and sort in READERS:
            fields[key] = called, read = label_of(kind, key), READERS[sort]
            values[key] = read_as(called, partial(read, text, units))
    missing = [label_of(kind, key) for key in _KINDS[kind] if key not in values]
    if missing:
        raise JobError(
            "; ".join(f"{called}: must be given" for called in missing),
            remedy="Fill in the fields that are marked as needed.",
        )

    def change(data: Table) -> None:
        table = data.setdefault("construction", {})
        if kind in table:
            table[kind].append(entry_for(table[kind], values))
        else:
            table[kind] = [values]

    touches = partial(_reach, place=("construction", kind))
    return Edit(change, touches, f"the new {kind}", fields=fields)


def remove_sewn(form: Form, units: str) -> Edit:
    """Take a shell, bones or a strip out."""
    place = _place(form)
    if len(place) != 3 or place[0] != "construction" or place[1] not in _KINDS:
        raise unknown("nothing sewn is there")

    def change(data: Table) -> None:
        rows = _reach(data, place[:-1])
        if not isinstance(rows, list) or not isinstance(place[-1], int) or place[-1] >= len(rows):
            raise JobError("it is not there any more", remedy="Look at the page as it is now.")
        rows.pop(place[-1])
        if not rows:
            data["construction"].pop(place[1])

    return Edit(change, lambda data: _reach(data, place[:-1]), f"taking the {place[1]} out")


def renamed(data: Table, old: str, new: str) -> None:
    """Let everything that is sewn follow the new name of a layer."""
    table = data.get("construction")
    if not isinstance(table, dict):
        return
    tables = [table, *(row for kind in _KINDS for row in table.get(kind, ()))]
    for row in tables:
        for key in ("strength_layer", "on"):
            if row.get(key) == old:
                row[key] = new
        for key in ("layers", "stitched"):
            if old in row.get(key, ()):
                row[key] = [new if name == old else name for name in row[key]]


def _place(form: Form) -> Place:
    try:
        place = json.loads(form.get("place", ""))
    except ValueError:
        place = None
    whole = isinstance(place, list) and 0 < len(place) <= 5
    # A number below 0 would count from the end, and true is a number too.
    if not whole or not all(
        type(part) is str or (type(part) is int and part >= 0) for part in place
    ):
        raise unknown("the form lacks its place")
    if place[0] not in ("construction", "stack") or place[:2] == ["construction", "swatches"]:
        raise unknown("no field of how it is sewn is there")
    return tuple(place)


def _reach(data: Any, place: Place) -> Any:
    """What stands at a place of a job, None if nothing does."""
    here = data
    for part in place:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            return None
    return here


def _put(data: Any, place: Place, value: Any) -> None:
    """Set a value at a place, or take it out; tables on the way are made, entries of lists not."""
    *parents, last = place
    here = data
    for part in parents:
        if isinstance(here, list) or isinstance(part, int):
            if not (isinstance(here, list) and isinstance(part, int) and part < len(here)):
                raise JobError("it is not there any more", remedy="Look at the page as it is now.")
        elif part not in here:
            if value is None:
                return
            here[part] = {}
        here = here[part]
    if value is None:
        here.pop(last, None)
    else:
        here[last] = value


SEWN: Final[Mapping[str, Callable[[Form, str], Edit]]] = {
    "sewing": sewing,
    "sew": add_sewn,
    "unsew": remove_sewn,
}
"""Kinds of edits that are of how the corset is sewn."""
