"""Edits: what a control of the page asks for, as a change of the job file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from ..units import parse_number
from .documents import Place, Table, put, value_at
from .editing import Edit, Form, Reader, field, typed_length, unknown
from .fabric_edits import add, edit_fabric, move, remove, rename


def edit_of(kind: str, form: Form, units: str) -> Edit:
    """Return the edit that a form stands for.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    form : mapping
        Fields and their text.
    units : {"mm", "cm", "in"}
        Of lengths that name none.

    Raises
    ------
    PanelshiftError
        If there is no such edit or a field cannot be read.
    """
    maker = KINDS.get(kind)
    if maker is None:
        raise unknown(f"no edit is called {kind!r:.40}")
    return maker(form, units)


# -- single settings --------------------------------------------------------------------


def _number(text: str, units: str) -> Any:
    return parse_number(text)


def _words(text: str, units: str) -> Any:
    return text


SETTINGS: Final[Mapping[Place, tuple[Reader, str]]] = {
    ("pattern", "title"): (_words, "the title"),
    ("pattern", "units"): (_words, "the units"),
    ("pattern", "drafted_waist"): (typed_length, "the drafted waist"),
    ("pattern", "lacing_gap"): (typed_length, "the lacing gap"),
    ("pattern", "halves"): (_words, "half or whole pattern"),
    ("pattern", "scale"): (_number, "the drawing's scale"),
    ("pattern", "join_tolerance"): (typed_length, "the largest gap in an outline"),
    ("stack", "drafted_layer"): (_words, "the layer that keeps the drafted size"),
    ("allowance", "seam"): (typed_length, "the allowance at seams"),
    ("allowance", "centre_front"): (typed_length, "the allowance at the centre front"),
    ("allowance", "centre_back"): (typed_length, "the allowance at the centre back"),
    ("allowance", "top"): (typed_length, "the allowance at the top"),
    ("allowance", "bottom"): (typed_length, "the allowance at the bottom"),
    ("fit", "busk"): (typed_length, "the busk's width"),
    ("fit", "seam_tolerance"): (typed_length, "how far seams may differ"),
}
"""Keys that one field sets; an empty field takes the key out, so that its default counts."""


def _setting(form: Form, units: str) -> Edit:
    place = tuple(field(form, "place").split("."))
    if place not in SETTINGS:
        raise unknown(f"no field sets {'.'.join(place)!r:.60}")
    read, words = SETTINGS[place]
    text = field(form, "value")
    return _put(place, read(text, units) if text else None, words)


def _put(place: Place, value: Any, words: str) -> Edit:
    return Edit(
        lambda data: put(data, place, value),
        lambda data: value_at(data, place),
        words,
    )


# -- panels and body --------------------------------------------------------------------


def _panel_class(form: Form, units: str) -> Edit:
    panel, value = form.get("panel", ""), field(form, "value")
    return _put(("panel", panel, "class"), value or None, f"the class of {panel}")


def _girth(form: Form, units: str) -> Edit:
    level, text = form.get("level", ""), field(form, "value")
    value = typed_length(text, units) if text else None
    return _put(("body", "girths", level), value, f"the body's girth at the {level}")


_OF_MODEL: Final = {
    "classes": ("factors", "girths"),
    "section": ("ratio", "exponent", "girths"),
    "former": ("diameter",),
}


def _body(form: Form, units: str) -> Edit:
    """Choose a body model; keys that mean nothing to it go."""
    model = field(form, "model")
    if model not in _OF_MODEL:
        raise unknown(f"no body model is called {model!r:.40}")
    values: dict[str, Any] = {}
    if model == "section" and form.get("ratio", "").strip():
        values["ratio"] = parse_number(field(form, "ratio"))
    if model == "former":
        values["diameter"] = typed_length(field(form, "diameter"), units)

    def change(data: Table) -> None:
        put(data, ("body", "model"), model)
        body = data["body"]
        for key in {key for keys in _OF_MODEL.values() for key in keys}:
            if key not in _OF_MODEL[model]:
                body.pop(key, None)
        for key, value in values.items():
            put(data, ("body", key), value)

    return Edit(change, lambda data: value_at(data, ("body",)), "the body model")


KINDS: Final[Mapping[str, Callable[[Form, str], Edit]]] = {
    "setting": _setting,
    "class": _panel_class,
    "girth": _girth,
    "body": _body,
    "fabric": edit_fabric,
    "rename": rename,
    "add": add,
    "remove": remove,
    "move": move,
}
