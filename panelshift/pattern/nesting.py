"""Outlines inside each other: net outlines, seam allowances, frames and shapes on panels."""

from __future__ import annotations

from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline import FloatArray
from ..outline.planar import area, contains
from .drawing import LeftOut
from .found import Candidate, FoundPanel

_PANEL_WIDTH_MM: Final = 20.0
"""Closed shapes narrower than this at the waist inside another are bone channels and the
like; common practice, no source: channels run from 6 to 15 mm, panels from 25 mm."""

_NET_SHARE: Final = 0.5
"""A single outline of at least this part of the area round it is the net outline inside its
seam allowance."""

MOST_NESTED: Final = 5_000
"""Pairs of crossed outlines of which one may lie inside the other, at most."""


def _waist_width(panel: FoundPanel) -> float:
    step: FloatArray = panel.waist.points[1] - panel.waist.points[0]
    return float(np.hypot(*step))


def sort_nested(
    panels: list[FoundPanel],
) -> tuple[list[FoundPanel], list[LeftOut], list[Candidate]]:
    """Part net outlines from seam-allowance lines, sheet frames and shapes inside panels."""
    boxes = np.array([panel.outline.bounds() for panel in panels]).reshape(-1, 2, 2)
    inside: dict[int, list[int]] = {i: [] for i in range(len(panels))}
    compared = 0
    for i, outer in enumerate(panels):
        fits = (boxes[i, 0] <= boxes[:, 0] + 0.01).all(axis=1)
        fits &= (boxes[i, 1] >= boxes[:, 1] - 0.01).all(axis=1)
        twins = np.abs(boxes[i] - boxes).max(axis=(1, 2)) < 0.01
        fits &= ~twins | (np.arange(len(panels)) > i)
        fits[i] = False
        compared += int(fits.sum())
        if compared > MOST_NESTED:
            raise PatternError(
                "hundreds of outlines lie inside or on top of each other",
                remedy="Delete the copies, or put each size on a sheet of its own.",
                element=outer.ident,
            )
        inside[i] += [
            int(j) for j in np.flatnonzero(fits) if contains(outer.outline, panels[j].outline)
        ]
    dropped: dict[int, str] = {}
    marks: set[int] = set()
    for i in sorted(inside, key=lambda k: len(inside[k])):
        wide = [
            j
            for j in inside[i]
            if j not in dropped and j not in marks and _waist_width(panels[j]) >= _PANEL_WIDTH_MM
        ]
        if len(wide) > 1:
            dropped[i] = f"a frame round {len(wide)} panels"
        elif wide:
            net = panels[wide[0]]
            share = area(net.outline) / area(panels[i].outline)
            if share >= _NET_SHARE:
                what = "drawn twice" if share > 0.9999 else "the seam allowance"
                dropped[i] = f"{what} round {net.ident}, which is taken as the net outline"
        if i not in dropped:
            marks |= set(inside[i]) - set(dropped)
    keep = [p for i, p in enumerate(panels) if i not in dropped and i not in marks]
    aside = [LeftOut(panels[i].ident, why) for i, why in sorted(dropped.items())]
    inner_shapes = [Candidate(panels[i].outline, panels[i].shapes) for i in sorted(marks)]
    return keep, aside, inner_shapes
