"""Edits of the layers: their fields, their names and their order."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from ..errors import JobError
from ..units import parse_number, parse_percent
from .documents import Table, entry_for, put, value_at
from .editing import Edit, Form, Reader, field, typed_length, unknown

FABRIC_KEYS: Final[Mapping[str, tuple[Reader, str]]] = {
    "thickness": (typed_length, "the thickness"),
    "thickness_uncertainty": (typed_length, "how sure the thickness is"),
    "coverage": (lambda text, units: parse_percent(text), "the part covered"),
    "loft": (lambda text, units: parse_number(text), "the loft"),
    "cut_out": (lambda text, units: text == "yes", "whether pieces are cut"),
}


def _fabrics(data: Mapping[str, Any]) -> Any:
    return value_at(data, ("stack", "fabric")) or []


def _names(data: Mapping[str, Any]) -> list[str]:
    return [str(entry.get("name", "")) for entry in _fabrics(data)]


def _place_of(data: Mapping[str, Any], name: str) -> int:
    names = _names(data)
    if name not in names:
        raise JobError(
            f"there is no layer called {name!r:.80} any more",
            remedy="Another tab or an editor changed the layers; look at them again.",
        )
    return names.index(name)


def _entry(data: Mapping[str, Any], name: str) -> Any:
    return _fabrics(data)[_place_of(data, name)]


def edit_fabric(form: Form, units: str) -> Edit:
    """Set one field of a fabric."""
    name, key = form.get("fabric", ""), field(form, "key")
    if key not in FABRIC_KEYS:
        raise unknown(f"no field of a fabric is called {key!r:.40}")
    read, words = FABRIC_KEYS[key]
    text = field(form, "value") if key != "cut_out" else form.get("value", "no")
    if not text and key == "thickness":
        raise JobError(
            "a layer needs its thickness",
            remedy="Stack ten pieces under a light weight, measure the stack, divide by ten.",
        )
    value = read(text, units) if text else None

    def change(data: Table) -> None:
        put(_entry(data, name), (key,), value)

    def touches(data: Mapping[str, Any]) -> Any:
        return value_at(_entry(data, name), (key,)) if name in _names(data) else "gone"

    return Edit(change, touches, f"{words} of {name}")


def rename(form: Form, units: str) -> Edit:
    """Give a fabric another name, wherever the job uses it."""
    old, new = form.get("fabric", ""), field(form, "value")

    def change(data: Table) -> None:
        _entry(data, old)["name"] = new
        stack = data["stack"]
        if stack.get("drafted_layer") == old:
            stack["drafted_layer"] = new
        for item in stack.get("measured", ()):
            for key in ("inner", "outer"):
                if item.get(key) == old:
                    item[key] = new

    return Edit(change, _names, f"the name of {old}")


def add(form: Form, units: str) -> Edit:
    """Put another fabric outside all."""
    values = {
        "name": field(form, "name"),
        "thickness": typed_length(field(form, "thickness"), units),
    }

    def change(data: Table) -> None:
        entries = _fabrics(data)
        entries.append(entry_for(entries, values))

    return Edit(change, _names, f"the new layer {values['name']}")


def remove(form: Form, units: str) -> Edit:
    """Take a fabric out, with what was measured between it and others."""
    name = form.get("fabric", "")

    def change(data: Table) -> None:
        _fabrics(data).pop(_place_of(data, name))
        stack = data["stack"]
        if stack.get("drafted_layer") == name:
            stack.pop("drafted_layer")
        measured = stack.get("measured", [])
        for place in reversed(range(len(measured))):
            if name in (measured[place].get("inner"), measured[place].get("outer")):
                measured.pop(place)

    return Edit(change, _names, f"taking {name} out")


def move(form: Form, units: str) -> Edit:
    """Put a layer in another place, counted from the body."""
    name, text = form.get("fabric", ""), field(form, "to")
    if not text.isascii() or not text.isdigit() or len(text) > 4:
        raise unknown("no place in the stack")
    to = int(text)

    def change(data: Table) -> None:
        entries = _fabrics(data)
        place = _place_of(data, name)
        entries.insert(min(to, len(entries) - 1), entries.pop(place))

    return Edit(change, _names, f"the place of {name}")
