"""Step 2: where panels look on the body and how far they turn, and what the maker says of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, Final

from ..errors import JobError
from ..fit.girths import whole_levels
from ..fit.sections import section_at, section_figures
from ..job.model import KEYS_OF_BODY, BodyTable, JobFile
from ..units import parse_number, trimmed
from .edits import Edit, Form, field, read_as, setting_of, typed_length, unknown
from .pattern_picture import pattern_picture, safe
from .pattern_view import sized
from .stages import State, shown_at
from .toml_changes import Table, put, value_at
from .workspace import section_files


def body_view(state: State, file: JobFile, level: str) -> dict[str, Any]:
    """Return where each panel looks, how far it turns, and what is known of the body."""
    units, table = file.pattern.units, file.body
    view: dict[str, Any] = {
        "model": table.model,
        "of": table.of,
        "ratio": trimmed(table.ratio, 4) if isinstance(table.ratio, float) else "",
        "ratios": isinstance(table.ratio, dict),
        "diameter": shown_at(state, ("body", "diameter"), units),
        "gap": shown_at(state, ("pattern", "lacing_gap"), units),
        "panels": [],
        "girths": [],
        "file": "" if table.file is None else table.file.name,
        "forms": section_files(state.path.parent),
        "tapes": _tapes_view(table, units),
        "measures": TAPES,
    }
    job, pattern = state.job.value, state.pattern.value
    if job is None or pattern is None:
        return view
    key = ("classes", state.pattern_key, job.classes)
    svg = state.reckoner.pictures.recall(
        key, lambda: pattern_picture(pattern, "panels and their classes", (), job.classes)
    )
    view |= {
        "svg": safe(svg),
        "panels": [
            {
                "index": index,
                "name": panel.name,
                "class": cls,
                "guessed": panel.name in job.inferred,
                "width": sized(panel.waist_width, units),
            }
            for index, (panel, cls) in enumerate(zip(pattern.panels, job.classes, strict=True))
        ],
        "girths": [
            {
                "level": name,
                "value": shown_at(state, ("body", "girths", name), units),
            }
            for name in pattern.level_names()
        ],
    }
    return view | section_view(state, level)


def _tapes_view(table: BodyTable, units: str) -> list[tuple[str, str]]:
    """What was measured at each level, in words."""
    return [
        (
            level,
            ", ".join(
                f"{TAPES[key].lower()} {sized(value, units)}"
                for key, value in tapes.model_dump(exclude_none=True).items()
            ),
        )
        for level, tapes in table.tapes.items()
    ]


def section_view(state: State, level: str) -> dict[str, Any]:
    """Return the body's section at a level, and the levels there are."""
    job, turn = state.job.value, state.turn.value
    if job is None or turn is None:
        return {"section": "", "levels": (), "level": ""}
    levels = whole_levels(turn)
    if level not in levels:
        level = "waist" if "waist" in levels else next(iter(levels), "")
    if not level:
        return {"section": "", "levels": levels, "level": ""}
    units = job.units

    def draw() -> str:
        return section_figures([section_at(turn, job.body, level, gap=job.gap)], units)[0]

    svg = state.reckoner.pictures.recall(("section", state.turn_key, level, units), draw)
    return {"section": safe(svg), "levels": levels, "level": level}


def _panel_class(form: Form, units: str) -> Edit:
    panel, value = form.get("panel", ""), field(form, "value")
    return setting_of(("panel", panel, "class"), value or None, f"the class of {panel}")


def _girth(form: Form, units: str) -> Edit:
    level, text = form.get("level", ""), field(form, "value")
    value = typed_length(text, units) if text else None
    words = f"the body's girth at the {level}"
    return setting_of(("body", "girths", level), value, words, typed_length)


def _body(form: Form, units: str) -> Edit:
    """Choose a body model; keys that mean nothing to it go."""
    model = field(form, "model")
    if model not in KEYS_OF_BODY:
        raise unknown(f"no body model is called {model!r:.40}")
    values: dict[str, Any] = {}
    if model in ("section", "mean") and form.get("ratio", "").strip():
        values["ratio"] = parse_number(field(form, "ratio"))
    if model in ("mean", "tapes") and form.get("of", "").strip():
        values["of"] = field(form, "of")
    if model == "former":
        values["diameter"] = typed_length(field(form, "diameter"), units)
    if model == "form":
        values["file"] = field(form, "file")
    taped = _tapes(form, units) if model == "tapes" else {}

    def change(data: Table) -> None:
        put(data, ("body", "model"), model)
        body = data["body"]
        for key in frozenset().union(*KEYS_OF_BODY.values()) - KEYS_OF_BODY[model]:
            body.pop(key, None)
        for key, value in values.items():
            put(data, ("body", key), value)
        for key, value in taped.items():
            put(data, ("body", "tapes", field(form, "level"), key), value)

    fields = {key: (called, typed_length) for key, called in TAPES.items() if key in taped}
    return Edit(
        change,
        lambda data: value_at(data, ("body",)),
        "the body model",
        typed_length,
        fields=fields,
    )


TAPES: Final[Mapping[str, str]] = {
    "breadth": "Breadth",
    "depth": "Depth",
    "girth": "Girth",
    "front_arc": "Over the front",
    "stand_out": "Front stands before the waist's",
}
"""What may be measured on a body at a level, and how the page calls it."""


def _tapes(form: Form, units: str) -> dict[str, Any]:
    found = {
        key: read_as(called, partial(typed_length, form[key].strip(), units))
        for key, called in TAPES.items()
        if form.get(key, "").strip()
    }
    if not found:
        raise JobError("nothing was measured there", remedy="Give at least one measure.")
    return found


def _untape(form: Form, units: str) -> Edit:
    """Take what was measured at a level out; with the last of it the mean form is back."""
    level = form.get("level", "")

    def change(data: Table) -> None:
        put(data, ("body", "tapes", level), None)
        body = data.get("body", {})
        if body.get("model") == "tapes" and not body.get("tapes"):
            body["model"] = "mean"
            for key in KEYS_OF_BODY["tapes"] - KEYS_OF_BODY["mean"]:
                body.pop(key, None)

    return Edit(change, lambda data: value_at(data, ("body",)), f"the tapes at the {level}")


BODY: Final[Mapping[str, Callable[[Form, str], Edit]]] = {
    "class": _panel_class,
    "girth": _girth,
    "body": _body,
    "untape": _untape,
}
"""Kinds of edits that are of the body."""
