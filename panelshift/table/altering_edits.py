"""Edits after a fitting: alterations as the job file has them, and the new draft with them made."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, Final

import tomlkit

from ..errors import JobError
from ..files import safe_name
from ..job.new_draft import new_draft
from ..sources.drawings import read_drawing
from .edits import Edit, Form, Reader, field, read_as, typed_height, typed_length, unknown
from .intake import Taken, checked
from .stages import State
from .toml_changes import Table, add_row, changed, put, row_at, take_row
from .workspace import free_place

PLACE: Final = "at "
"""Begins the name of a field with the amount at a level, or at a place along an edge."""

_WAYS: Final[Mapping[str, tuple[str, ...]]] = {
    "seam": ("let_out", "take_in"),
    "edge": ("raise", "lower"),
}

_CALLED: Final[Mapping[str, tuple[str, Reader]]] = {
    "from": ("which counts from", typed_height),
    "to": ("to", typed_height),
    "run_out": ("runs out to nothing over", typed_length),
}
"""What the page calls fields beside the amounts, and their readers."""


def _alter(form: Form, units: str) -> Edit:
    """Add an alteration, or change one, with all that its form says."""
    kind = "edge" if "edge" in form else "seam"
    place, values = form.get("place", ""), _values(form, kind, units)

    def change(data: Table) -> None:
        if not place:
            add_row(data, "alteration", values)
            return
        entry = row_at(data, "alteration", place)
        for key in [key for key in entry if key not in values]:
            del entry[key]
        for key, value in values.items():
            put(entry, (key,), value)

    words = f"the alteration of {values[kind]}{' edge' * (kind == 'edge')}"
    given = values.get(form.get("way", ""))
    fields = {
        key: (f"at {key}", typed_length) for key in (given if isinstance(given, dict) else ())
    }
    return Edit(change, _all, words, typed_length, fields={**fields, **_CALLED})


def _unalter(form: Form, units: str) -> Edit:
    """Take an alteration out."""
    place = form.get("place", "")

    return Edit(lambda data: take_row(data, "alteration", place), _all, "taking the alteration out")


ALTERED: Final[Mapping[str, Callable[[Form, str], Edit]]] = {"alter": _alter, "unalter": _unalter}
"""Kinds of edits that are of what a fitting changed."""


def _all(data: Mapping[str, Any]) -> Any:
    return data.get("alteration")


def _values(form: Form, kind: str, units: str) -> dict[str, Any]:
    """An alteration as the job file says it."""
    what = field(form, kind)
    if not what:
        raise JobError(f"no {kind} is chosen", remedy="Choose it in the list or in the drawing.")
    way = field(form, "way")
    if way not in _WAYS[kind]:
        raise unknown(f"nothing is done to the {kind} by {way!r:.40}")
    given = _amounts(form, units)
    whole = form.get("whole", "").strip()
    if whole and given:
        raise JobError(
            "one amount for the whole seam, and amounts by level beside it",
            remedy="Leave one of them empty.",
        )
    if not whole and not given:
        raise JobError(
            "no amount is given",
            remedy="Give one at every level or place that counts, 0 where it is to stay.",
        )
    values: dict[str, Any] = {kind: what}
    values[way] = _read(whole, "the whole seam", units) if whole else _inline(given)
    for key in ("from", "to", "run_out", "on", "side", "note"):
        text = " ".join(form.get(key, "").split())
        if text and key in _CALLED:
            called, read = _CALLED[key]
            values[key] = read_as(called, partial(read, text, units))
        elif text:
            values[key] = text
    return values


def _amounts(form: Form, units: str) -> dict[str, Any]:
    texts = {key.removeprefix(PLACE): form[key] for key in form if key.startswith(PLACE)}
    columns = (form.get(name, "").split("\n") for name in ("height", "height_amount"))
    for height, text in zip(*columns, strict=False):
        own, amount = height.strip(), text.strip()
        if bool(own) != bool(amount):
            raise JobError(
                f"the amount at {own:.40} is not given"
                if own
                else f"the height at which {amount:.40} counts is not given",
                remedy="Give both: how far above the waist, such as +30 mm, or -30 mm below it, "
                "and the amount there.",
            )
        if not own:
            continue
        height = read_as("at the height", partial(typed_height, own, units))
        if texts.setdefault(height, amount).strip() != amount:
            raise JobError(f"two amounts at {own:.40}", remedy="Name each height once.")
    return {key: _read(text, key, units) for key, text in texts.items() if text.strip()}


def _read(text: str, place: str, units: str) -> Any:
    return read_as(place, partial(typed_length, text.strip(), units))


def _inline(values: Mapping[str, Any]) -> Any:
    """A table that stands in one line of a text."""
    table = tomlkit.inline_table()
    table.update(values)
    return table


def redrafted(state: State, called: str) -> Taken:
    """The draft with the job's alterations made, and the job that goes on from it.

    *called*: what its file is to be called; a number is added where something else is.

    Raises `PanelshiftError` as `new_draft` of a job, or if the job would not fit it.
    """
    for error in (state.data.error, state.file.error):
        if error is not None:
            raise error
    job = state.file.value
    assert job is not None  # there is no error
    stem = safe_name(called.strip().removesuffix(".svg"))
    path = free_place(state.path.parent, f"{stem}.svg")
    made = new_draft(job, source=str(state.path), name=path.name)

    def change(data: Table) -> None:
        for place, value in made.changes:
            put(data, place, value)

    raw = changed(state.work.text, change, source=str(state.path)).encode()
    checked(raw, read_drawing(made.svg), state)
    words = f"{path.name} is the draft now, with the alterations made in it"
    return Taken(path, made.svg, raw, f"{words}; {job.pattern.file.name} stays as it was.")
