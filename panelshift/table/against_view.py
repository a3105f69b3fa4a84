"""What was kept as A beside what is set now: two corsets, and how they differ."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from ..fit.compared import ComparedCorsets, CorsetSide
from ..fit.compared_tables import compared_picture, compared_tables, compared_words
from ..fit.fact_tables import narrow
from ..fit.layer_change import suitable_magnification
from ..job import Job
from ..job.said import settings
from ..sheets.palette import SIDE_STYLES
from ..sheets.svg_writer import finished, key_line
from ..units import caliper_length
from .pattern_picture import safe
from .solid_view import whole_number
from .stages import State
from .toml_changes import key_of


def against_view(state: State, query: Mapping[str, str], aside: State | None) -> dict[str, Any]:
    """Return A and B, as far as A was kept; B's controls and pictures are those of now."""
    job = state.job.value
    assert job is not None  # as `look_view` has seen to
    if aside is None or aside.facts.value is None or aside.job.value is None:
        return {"kept": False}
    found: dict[str, Any] = {
        "kept": True,
        "same": aside.work == state.work and aside.path == state.path,
        "here": aside.path == state.path,
        "name": aside.path.name,
    }
    if found["same"]:
        return found
    units = job.units
    key = ("against", *((s.work.revision, s.path, s.outside) for s in (aside, state)))
    # Another panel is shown of the same two.
    both = state.reckoner.pictures.recall(key, lambda: ComparedCorsets(_side(aside), _side(state)))
    return found | {
        "words": compared_words(both, units),
        "differs": _differs(aside.job.value, job),
        "tables": narrow(*compared_tables(both, units)),
        **_picture(both, query),
    }


def _side(state: State) -> CorsetSide:
    facts, cloth = state.facts.value, state.cloth.value
    assert facts is not None
    return facts.side if cloth is None else replace(facts.side, needs=cloth)


def _picture(both: ComparedCorsets, query: Mapping[str, str]) -> dict[str, Any]:
    """One panel of one layer: A's line, B's over it, and the controls."""
    layers = {called: panels for called, panels in both.lines.items() if panels}
    if not layers:
        return {"svg": ""}
    # The outermost is where most of a difference shows.
    called = query.get("layer", "")
    called = called if called in layers else list(layers)[-1]
    panels = layers[called]
    names = list(panels)
    apart = [float(change.distances.max()) for change in panels.values()]
    at = whole_number(query, "panel", apart.index(max(apart)), 0, len(names) - 1)
    enlarged = suitable_magnification([panels])
    root, widest = compared_picture(panels[names[at]], names[at], enlarged)
    return {
        "svg": safe(finished(root)),
        "widest": widest,
        "enlarged": f"{enlarged:g}",
        "layer": called,
        "layers": list(layers),
        "panel": at,
        "panels": names,
        "keep": key_of("\n".join(["against", *names, "", *layers])),
        "key": [(name, safe(key_line(style))) for name, style in SIDE_STYLES.items()],
    }


def _differs(one: Job, other: Job) -> list[tuple[str, list[str]]]:
    """What was decided otherwise in A, and in B."""
    said = [_decided(job) for job in (one, other)]
    apart = ([line for line in own if line not in rest] for own, rest in (said, said[::-1]))
    return [(name, lines) for name, lines in zip(SIDE_STYLES, apart, strict=True) if lines]


def _decided(job: Job) -> list[str]:
    stack = job.stack
    cloths = [
        f"{fabric.name}: {caliper_length(fabric.thickness, job.units)} thick"
        for fabric in stack.fabrics
    ]
    order = f"layers from the body outwards: {', '.join(stack.names)}"
    drawing = f"pattern: {job.file.pattern.file.name}, {job.pattern.headline(job.units)}"
    return [drawing, order, *cloths, *settings(job)]
