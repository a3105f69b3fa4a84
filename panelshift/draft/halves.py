"""Whether one half of a pattern is drawn, or both."""

from __future__ import annotations

from typing import Final

import numpy as np

from .draft import Draft
from .roles import body_side
from .upright import UprightPanel

_SAME_LENGTH: Final = 0.005


def are_both_drawn(draft: Draft, placed: list[UprightPanel]) -> tuple[bool, str]:
    """Whether the panels go right round the body, rather than from front to back; and why."""
    halves = draft.reading.halves
    if halves != "auto":
        return halves == "full", ""
    sides = {side for p in placed if (side := body_side((p.name, *p.found.shapes[0].groups)))}
    if len(sides) == 2:
        return True, "both halves are drawn: panels are named left and right"
    if len(placed) < 4:
        return False, ""
    measures = [_side_lengths(panel) for panel in placed]
    mirrored = all(
        _alike(a, (b[0], b[2], b[1])) for a, b in zip(measures, measures[::-1], strict=True)
    )
    if not mirrored:
        return False, ""
    if all(_alike(m, (m[0], m[2], m[1])) for m in measures):
        return False, (
            "taken as a half pattern, though it reads the same from both ends "
            '(halves = "full" in the job file says otherwise)'
        )
    return True, "both halves are drawn: the second half of the panels mirrors the first"


def _side_lengths(panel: UprightPanel) -> tuple[float, float, float]:
    """Waist width, and how far the outline reaches to the left and right of the waist's middle."""
    waist = panel.found.waist
    width = float(np.hypot(*(waist.points[1] - waist.points[0])))
    reach = (panel.found.outline.flatten() - panel.centre) @ panel.right
    return width, -float(reach.min()), float(reach.max())


def _alike(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return all(abs(x - y) <= _SAME_LENGTH * max(x, y) for x, y in zip(a, b, strict=True))
