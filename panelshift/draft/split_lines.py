"""Lines at which layers are split: drawn open, across a panel or several, and named by the job."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline import Curve
from ..outline.crossing import Crossings
from ..outline.measure import length
from ..outline.planar import distance
from ..pattern.drawing import Shape, spaced
from ..pattern.panel import Mark, Panel
from .draft import REACH_MM, TOUCHES_MM, Draft
from .marks import edge_at, part_between
from .names import Role, is_called

_ACROSS: Final = ({"front", "back"}, {"top", "bottom"})
_SPLIT: Final = Role("split")


def split_names(shapes: Iterable[Shape], wanted: Sequence[str]) -> dict[str, str]:
    """What the job calls each line at which a layer is split, by ident.

    A line is meant by its id, or else by its label or that of its layer or group.
    """
    shapes = tuple(shapes)
    found: dict[str, str] = {}
    for name in wanted:
        exact = [s for s in shapes if name in (s.ident, s.element)]
        for shape in exact or shapes:
            if exact or is_called(shape, name) or spaced(name) in map(spaced, shape.groups):
                found.setdefault(shape.ident, name)
    return found


def split_roles(
    shapes: Sequence[Shape], roles: Mapping[str, Role | None], wanted: Sequence[str]
) -> dict[str, Role | None]:
    """Roles again: lines at which layers are split are nothing else, but for waist and levels."""
    lines = [shape for shape in shapes if not shape.curve.closed]
    own = {
        ident: _SPLIT
        for ident in split_names(lines, wanted)
        if (role := roles[ident]) is None or role.kind not in ("level", "waist")
    }
    return {**roles, **own}


def with_split_lines(draft: Draft, panels: tuple[Panel, ...]) -> tuple[Panel, ...]:
    """The panels with the lines across them at which layers are split, cut off at their edges.

    Raises `PatternError` if a line crosses no panel, or one otherwise than once, from an edge to
    the one that lies opposite.
    """
    names = split_names(draft.shapes, draft.reading.split_at)
    lines = [shape for shape in draft.shapes if shape.ident in names]
    found: list[list[Mark]] = [[] for _ in panels]
    crossed = draft.meetings.across([panel.outline for panel in panels], lines, bounded=False)
    for panel, hits, own in zip(panels, crossed, found, strict=True):
        for shape, met in hits:
            line = _across(shape, met, panel, names[shape.ident])
            if line is not None:
                own.append(Mark("split", line, shape.ident, names[shape.ident]))
    used = {mark.ident for own in found for mark in own}
    for shape in lines:
        if shape.ident not in used:
            raise _fault(
                shape,
                names[shape.ident],
                "crosses no panel",
                "Draw it as an open line that runs right across the panels to be split.",
            )
    for name in dict.fromkeys(names.values()):
        on = {
            panel.name: mark.ident
            for panel, own in zip(panels, found, strict=True)
            for mark in own
            if mark.name == name
        }
        words = f"{name} runs across {', '.join(on)}: a layer that is split at it is divided there"
        draft.ledger.note("split-line", words, *dict.fromkeys(on.values()))
    return tuple(
        replace(panel, marks=(*panel.marks, *own)) for panel, own in zip(panels, found, strict=True)
    )


def _across(shape: Shape, met: Crossings, panel: Panel, name: str) -> Curve | None:
    """The line from a panel's front edge to its back edge, or from the bottom to the top.

    None if it only comes near the panel.
    """
    mend = "Let it run across the panel once, from one edge to the one opposite, and beyond both."
    whole = length(shape.curve)
    if len(met) == 1:
        ends = ((shape.curve.start, met.along[0]), (shape.curve.end, whole - met.along[0]))
        deep = [far for at, far in ends if distance(panel.outline, at) == 0.0]
        if max(deep, default=0.0) <= REACH_MM:
            return None
        raise _fault(shape, name, f"ends within panel {panel.name!r}", mend)
    if len(met) > 2 or shape.curve.closed:
        problem = f"crosses the edges of panel {panel.name!r} {len(met)} times"
        raise _fault(shape, name, "is a closed shape" if shape.curve.closed else problem, mend)
    corners, count = panel.corners, len(panel.outline)
    edges = [edge_at(corners, count, s) for s in met.positions.tolist()]
    own = (corners.front_bottom, corners.front_top, corners.back_top, corners.back_bottom)
    near = panel.outline.points(own)[:, None] - met.points
    if set(edges) not in _ACROSS or np.hypot(*near.T).min() <= TOUCHES_MM:
        where = f"from its {edges[0]} edge to its {edges[1]} edge"
        if set(edges) in _ACROSS:
            where = "into a corner"
        problem = f"runs {where} on panel {panel.name!r}, which leaves no piece of four edges"
        raise _fault(shape, name, problem, mend)
    curve = part_between(shape.curve, met.along, met.points)
    return curve if edges[0] in ("front", "bottom") else curve.reversed()


def _fault(shape: Shape, name: str, problem: str, remedy: str) -> PatternError:
    return PatternError(
        f"the line {name!r:.60}, at which a layer is split, {problem}",
        remedy=f"{remedy} See split_at in the job file.",
        element=shape.ident,
    )
