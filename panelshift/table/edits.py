"""Edits: what a control of the page asks for, as a change of the job file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field as defaulted
from functools import partial
from typing import Any, Final, TypeVar

from ..errors import JobError, PanelshiftError
from ..job.toml import Fault
from ..units import parse_length, parse_number, parse_percent, shown_length, tidy
from .toml_changes import (
    Change,
    KeyPath,
    Table,
    add_row,
    entry_for,
    numbered,
    put,
    take_row,
    value_at,
)

Form = Mapping[str, str]
Touched = Callable[[Mapping[str, Any]], Any]
Reader = Callable[[str, str], Any]
"""Reads a field: its text, and the unit of lengths that name none."""
T = TypeVar("T")


@dataclass(frozen=True, eq=False)
class Edit:
    """One change that a maker asks for.

    *change*: of a job's document. *touches*: what of a job the edit is about: where two tabs
    changed different things, both count. *words*: what it does, for undoing it. *reader*: of its
    field, which tells in what its bounds are to be told. *asks*: whether it may leave open what the
    page then asks. *fields*: of a form of several, what the page calls each, by its key, and its
    reader.
    """

    change: Change
    touches: Touched
    words: str
    reader: Reader | None = None
    asks: bool = False
    fields: Mapping[str, tuple[str, Reader]] = defaulted(default_factory=dict)


def typed_length(text: str, units: str) -> float | int | str:
    """What a job file should say for a length that was typed; a `Reader`."""
    return parse_length(text, bare=units).job_value


def typed_height(text: str, units: str) -> str:
    """What a job file should say for a level or a signed height that was typed; a `Reader`."""
    if text[:1] not in ("+", "-"):
        return text
    height = parse_length(text[1:], bare=units)
    return f"{text[0]}{tidy(height.number)} {height.unit}"


def typed_percent(text: str, units: str) -> float | int:
    """What a job file should say for a part that was typed in per cent; a `Reader`."""
    return parse_percent(text)


def read_as(called: str, read: Callable[[], T]) -> T:
    """Read one field of a form that has several: what is wrong with it is told with its name.

    *called*: as the page calls it.

    Raises `PanelshiftError` if it cannot be read.
    """
    try:
        return read()
    except PanelshiftError as error:
        raise type(error)(f"{called}: {error.problem}", remedy=error.remedy) from None


def bound_words(fault: Fault, edit: Edit, units: str) -> str:
    """Say what a value breaks in the unit of its field, and which field of several it is."""
    own = (edit.fields[str(key)] for key in reversed(fault.place) if str(key) in edit.fields)
    called, reader = next(own, ("", edit.reader))
    words = fault.words
    if fault.limit is not None:
        limit = f"{fault.limit:g}"
        if reader is typed_length:
            limit = f"{shown_length(fault.limit, units)} {units}"
        elif reader is typed_percent:
            limit = f"{100.0 * fault.limit:g} %"
        words = f"must be {fault.relation} {limit}"
    return f"{called}: {words}" if called else words


def edit_of(
    kind: str,
    form: Form,
    units: str,
    more: Mapping[str, Callable[[Form, str], Edit]] | None = None,
) -> Edit:
    """Return the edit that a form stands for.

    *kind*: one of `KINDS` or *more*. *form*: fields and their text. *units*: mm, cm or in, of
    lengths that name none.

    Raises `PanelshiftError` if there is no such edit or a field cannot be read.
    """
    maker = KINDS.get(kind) or (more or {}).get(kind)
    if maker is None:
        raise unknown(f"no edit is called {kind!r:.40}")
    return maker(form, units)


def unknown(problem: str) -> JobError:
    """Return the error for a form that no page of ours sends."""
    return JobError(problem, remedy="Load the page again.")


def field(form: Form, name: str) -> str:
    """Text of a field, one line.

    Raises `JobError` if the form has none.
    """
    if name not in form:
        raise unknown(f"the form lacks {name!r}")
    return " ".join(form[name].split())


# -- layers ------------------------------------------------------------------------------


FABRIC_KEYS: Final[Mapping[str, tuple[Reader, str]]] = {
    "thickness": (typed_length, "the thickness"),
    "thickness_uncertainty": (typed_length, "how sure the thickness is"),
    "coverage": (typed_percent, "the part covered"),
    "loft": (lambda text, units: parse_number(text), "the loft"),
    "cut_out": (lambda text, units: text == "yes", "whether pieces are cut"),
}


def _fabrics(data: Mapping[str, Any]) -> Any:
    return value_at(data, ("stack", "fabric")) or []


def _names(data: Mapping[str, Any]) -> list[str]:
    return [str(entry.get("name", "")) for entry in _fabrics(data)]


def _index_of(data: Mapping[str, Any], name: str) -> int:
    names = _names(data)
    if name not in names:
        raise JobError(
            f"there is no layer called {name!r:.80} any more",
            remedy="Another tab or an editor changed the layers; look at them again.",
        )
    return names.index(name)


def _entry(data: Mapping[str, Any], name: str) -> Any:
    return _fabrics(data)[_index_of(data, name)]


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

    return Edit(change, touches, f"{words} of {name}", read)


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
    fields: Mapping[str, tuple[str, Reader]] = {
        "name": ("Name", _words),
        "thickness": ("Thickness", typed_length),
    }
    values = {
        key: read_as(called, partial(read, field(form, key), units))
        for key, (called, read) in fields.items()
    }

    def change(data: Table) -> None:
        entries = _fabrics(data)
        entries.append(entry_for(entries, values))

    return Edit(change, _names, f"the new layer {values['name']}", fields=fields)


def remove(form: Form, units: str) -> Edit:
    """Take a fabric out, with what was measured between it and others."""
    name = form.get("fabric", "")

    def change(data: Table) -> None:
        _fabrics(data).pop(_index_of(data, name))
        stack = data["stack"]
        if stack.get("drafted_layer") == name:
            stack.pop("drafted_layer")
        measured = stack.get("measured", [])
        for index in reversed(range(len(measured))):
            if name in (measured[index].get("inner"), measured[index].get("outer")):
                measured.pop(index)

    return Edit(change, _names, f"taking {name} out")


def move(form: Form, units: str) -> Edit:
    """Put a layer in another place, counted from the body."""
    name, to = form.get("fabric", ""), numbered(field(form, "to"))
    if to is None:
        raise unknown("no place in the stack")

    def change(data: Table) -> None:
        entries = _fabrics(data)
        index = _index_of(data, name)
        entries.insert(min(to, len(entries) - 1), entries.pop(index))

    return Edit(change, _names, f"the place of {name}")


# -- single settings --------------------------------------------------------------------


def _number(text: str, units: str) -> Any:
    return parse_number(text)


def _words(text: str, units: str) -> Any:
    return text


SETTINGS: Final[Mapping[KeyPath, tuple[Reader, str]]] = {
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
    path = tuple(field(form, "place").split("."))
    if path not in SETTINGS:
        raise unknown(f"no field sets {'.'.join(path)!r:.60}")
    read, words = SETTINGS[path]
    text = field(form, "value")
    return setting_of(path, read(text, units) if text else None, words, read)


def setting_of(path: KeyPath, value: Any, words: str, reader: Reader | None = None) -> Edit:
    """Return the edit that sets the value at a path, or takes it out."""
    return Edit(
        lambda data: put(data, path, value), lambda data: value_at(data, path), words, reader
    )


# -- mending a draft ---------------------------------------------------------------------

_MENDS: Final[Mapping[str, str]] = {
    "join_tolerance": "the closed gap",
    "drafted_waist": "the drafted waist",
    "scale": "the drawing's scale",
    "halves": "half or whole pattern",
    "size": "the size that is read",
    "allowance_drawn": "the allowance that is drawn in",
    "waistlines": "which lines are the waist",
    "leave_out": "what is no panel",
    "page": "the page that is read",
}
"""Keys of ``[pattern]`` that settle what a draft leaves open."""

_OF_LINES: Final = frozenset({"waistlines", "leave_out"})
"""Those that take ids of shapes, a line each."""


def _mend(form: Form, units: str) -> Edit:
    """Settle what a draft leaves open, by an answer that the library has given."""
    key, text = form.get("key", ""), form.get("value", "")
    if key not in _MENDS:
        raise unknown(f"nothing is mended by {key!r:.40}")
    value: Any = [line for line in text.splitlines() if line] if key in _OF_LINES else text
    if key in ("join_tolerance", "drafted_waist", "allowance_drawn"):
        value = typed_length(field(form, "value"), units)
    elif key in ("scale", "page"):
        value = parse_number(field(form, "value"))
    if not value and value != 0:
        raise JobError("nothing is chosen", remedy="Point at what it is first.")
    return setting_of(("pattern", key), value, _MENDS[key])


def _gore(form: Form, units: str) -> Edit:
    """Set a piece in between two panels, as its gore."""
    piece, seam = field(form, "panel"), form.get("between", "").splitlines()
    if not piece or len(seam) != len(("first", "second")):
        raise JobError("nothing is chosen", remedy="Choose the piece, and the seam it is set in.")
    return Edit(
        lambda data: add_row(data, "gore", {"panel": piece, "between": seam}),
        lambda data: data.get("gore"),
        f"the gore {piece}",
    )


def _ungore(form: Form, units: str) -> Edit:
    """Take a gore out of its seam."""
    place = form.get("place", "")
    return Edit(
        lambda data: take_row(data, "gore", place),
        lambda data: data.get("gore"),
        "taking the gore out",
        asks=True,
    )


KINDS: Final[Mapping[str, Callable[[Form, str], Edit]]] = {
    "setting": _setting,
    "fabric": edit_fabric,
    "rename": rename,
    "add": add,
    "remove": remove,
    "move": move,
    "mend": _mend,
    "gore": _gore,
    "ungore": _ungore,
}
