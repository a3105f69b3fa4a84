"""Which way is up on a panel whose waistline is not level: by a plumb line, or another level.

A waist that dips at the front slants on the panels. Then the waistline says where the waist is, and
another line what is upright; heights are such that two waistlines meet on the seam between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from ..errors import PatternError, few
from ..outline import FloatArray
from ..outline.planar import distance
from ..pattern.drawing import Shape
from ..pattern.panel import Frame
from .draft import Draft
from .names import described
from .order import NamedPanel

_MOST_LEAN: Final = np.radians(35.0)
"""A plumb line that leans further from square to the waistline is none."""

_NOT_LEVEL: Final = np.radians(3.0)
"""By less two level lines may be drawn askew by hand: over 100 mm 5 mm (no source)."""


def own_uprights(
    draft: Draft, panels: tuple[NamedPanel, ...], full: bool
) -> tuple[NamedPanel, ...]:
    """The panels with axes by their plumb lines, or by the level line that the maker names.

    Raises `PatternError` if a plumb line leans too far, or no panel has the level named.
    """
    plumbs = [shape for shape in draft.shapes if draft.kind(shape) == "plumb"]
    wanted = draft.reading.level
    by: dict[str, list[str]] = {}
    frames = []
    for panel in panels:
        up, how = _by_plumb(panel, plumbs), "a plumb line"
        if up is None and wanted and wanted != "waist":
            up, how = _by_level(draft, panel, wanted), f"its {wanted} line"
        by.setdefault("its waistline" if up is None else how, []).append(panel.name)
        frames.append(panel.frame if up is None else _along(panel.frame, up))
    if list(by) == ["its waistline"] or not panels:
        if wanted and wanted != "waist":
            raise PatternError(
                f"no panel has a line of the level {wanted!r:.60}, which is to say what is level",
                remedy="Name a level line that is drawn right across panels, or leave level out.",
                element="pattern.level",
            )
        _tell_askew(draft, panels)
        return panels
    said = "; ".join(f"by {how}: {few(names)}" for how, names in by.items())
    draft.ledger.note("upright", f"what is upright was told, {said}")
    turned = tuple(replace(p, frame=f) for p, f in zip(panels, frames, strict=True))
    return _at_one_height(turned, full)


def _by_plumb(panel: NamedPanel, plumbs: Sequence[Shape]) -> FloatArray | None:
    """The direction of the plumb line that is drawn on a panel, upwards."""
    for shape in plumbs:
        ends = np.array([shape.curve.start, shape.curve.end])
        if distance(panel.found.outline, ends.mean(axis=0)) > 0.0:
            continue
        step = ends[1] - ends[0]
        size = float(np.hypot(*step))
        if size <= 0.0 or abs(step @ panel.frame.up) < np.cos(_MOST_LEAN) * size:
            raise PatternError(
                f"the plumb line {described(shape)} leans too far to be upright on {panel.name!r}",
                remedy="Draw a straight line that hangs down on the body; or take the word plumb "
                "out of its name.",
                element=shape.ident,
            )
        return np.asarray(step / size if step @ panel.frame.up > 0.0 else -step / size)
    return None


def _by_level(draft: Draft, panel: NamedPanel, wanted: str) -> FloatArray | None:
    """Square to a level line that is drawn right across a panel, upwards."""
    for shape in draft.shapes:
        role = draft.role(shape)
        if role is None or role.level != wanted or shape.curve.closed:
            continue
        met = draft.meetings.of(panel.found.outline, shape.curve)
        if len(met) == 2:
            step = met.points[1] - met.points[0]
            normal = np.array([-step[1], step[0]]) / np.hypot(*step)
            return np.asarray(normal if normal @ panel.frame.up > 0.0 else -normal)
    return None


def _along(frame: Frame, up: FloatArray) -> Frame:
    """Axes with another upright and the same front."""
    across = np.array([-up[1], up[0]])
    return Frame(frame.origin, across if across @ frame.across > 0.0 else -across, up)


def _at_one_height(panels: tuple[NamedPanel, ...], full: bool) -> tuple[NamedPanel, ...]:
    """The panels with such heights that waistlines meet on every seam, and are 0 on the mean."""
    sides = []
    for k, panel in enumerate(panels):
        points = panel.frame.to_panel(panel.found.waist.points)
        v = points[np.argsort(points[:, 0]), 1]
        sides.append(v[::-1] if full and k < len(panels) // 2 else v)
    ends = np.array(sides)
    raised = np.concatenate([[0.0], np.cumsum(ends[:-1, 1] - ends[1:, 0])])
    widths = np.array([np.hypot(*np.diff(p.found.waist.points, axis=0)[0]) for p in panels])
    # The ends of a waistline lie as far above its middle, the origin, as below it.
    raised -= float(widths @ raised / widths.sum())
    return tuple(
        replace(panel, frame=replace(panel.frame, origin=panel.frame.origin - by * panel.frame.up))
        for panel, by in zip(panels, raised.tolist(), strict=True)
    )


def _tell_askew(draft: Draft, panels: Sequence[NamedPanel]) -> None:
    """Say of panels whose waistline and another level line run in different directions."""
    found = []
    lines = [s for s in draft.shapes if draft.kind(s) == "level" and not s.curve.closed]
    hits = draft.meetings.across([p.found.outline for p in panels], lines, bounded=False)
    for panel, crossed in zip(panels, hits, strict=True):
        for shape, met in crossed:
            role = draft.role(shape)
            if len(met) != 2 or role is None or not role.level:
                continue
            step = met.points[1] - met.points[0]
            lean = np.arctan2(abs(step @ panel.frame.up), abs(step @ panel.frame.across))
            if _NOT_LEVEL < lean < _MOST_LEAN:
                found.append((panel, shape, role.level, float(np.degrees(lean))))
    if found:
        panel, shape, level, lean = max(found, key=lambda item: item[3])
        names = few(dict.fromkeys(item[0].name for item in found))
        draft.ledger.warn(
            "not-level",
            f"{panel.name}: its waistline and its {level} line differ by {lean:.1f} degrees in "
            f"direction; the waistline was taken as level (on {names}). If the waist dips, say "
            f'which line is level: [pattern] level = "{level}", or draw a plumb line on each panel',
            shape.ident,
        )
