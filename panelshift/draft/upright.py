"""How panels stand on the sheet: which way is up, who stands beside whom, their frames."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..pattern.panel import Frame
from .draft import Draft, FoundPanel
from .roles import LEVELS_ABOVE, LEVELS_BELOW

_PAGE_UP: Final = np.array([0.0, -1.0])
_SIDEWAYS: Final = 0.05


@dataclass(frozen=True, eq=False)
class UprightPanel:
    """A panel's vertical and its middle on the sheet."""

    found: FoundPanel
    up: FloatArray
    centre: FloatArray
    name: str

    @property
    def right(self) -> FloatArray:
        """Unit vector to the right of the panel as it stands upright."""
        return np.array([-self.up[1], self.up[0]])


def up_vectors(draft: Draft) -> list[FloatArray]:
    """The direction from waist to top of each panel: by named levels, else up the page."""
    senses = {
        shape.ident: 1.0 if role.level in LEVELS_ABOVE else -1.0
        for shape in draft.shapes
        if (role := draft.role(shape)) and role.level in LEVELS_ABOVE + LEVELS_BELOW
    }
    levels = [shape for shape in draft.shapes if shape.ident in senses]
    crossed = draft.meetings.across([found.outline for found in draft.panels], levels)
    result = []
    for found, hits in zip(draft.panels, crossed, strict=True):
        step = found.waist.points[1] - found.waist.points[0]
        normal = np.array([-step[1], step[0]]) / np.hypot(*step)
        middle = found.waist.points.mean(axis=0)
        vote = 0.0
        for shape, hit in hits:
            above = np.sign((hit.points.mean(axis=0) - middle) @ normal)
            vote += senses[shape.ident] * float(above)
        if vote == 0.0:
            vote = float(normal @ _PAGE_UP)
            if abs(vote) < _SIDEWAYS:
                draft.ledger.warn(
                    "lies-sideways",
                    f"{found.ident}: the panel lies on its side and no level line is named, so "
                    "its top is taken to be on the left; name a bust or hip line to say it",
                    found.ident,
                )
                vote = -float(normal[0])
        result.append(normal if vote > 0.0 else -normal)
    return result


def by_position(panels: list[UprightPanel]) -> list[UprightPanel]:
    """Order as one reads: rows from the top, left to right, seen with the panels upright."""
    up = np.sum([panel.up for panel in panels], axis=0)
    size = float(np.hypot(*up))
    up = up / size if size > 1e-9 else panels[0].up
    right = np.array([-up[1], up[0]])
    heights = [float(np.ptp(panel.found.outline.flatten() @ up)) for panel in panels]
    rows: list[list[UprightPanel]] = []
    for panel in sorted(panels, key=lambda p: -float(p.centre @ up)):
        # A new row begins where a waist lies more than half a panel below the row's first.
        if rows and float((rows[-1][0].centre - panel.centre) @ up) < 0.5 * min(heights):
            rows[-1].append(panel)
        else:
            rows.append([panel])
    return [p for row in rows for p in sorted(row, key=lambda p: float(p.centre @ right))]


def runs_right(placed: list[UprightPanel]) -> bool:
    """Whether an order runs to the right on the sheet, by majority of its steps."""
    steps = [float((b.centre - a.centre) @ a.right) for a, b in itertools.pairwise(placed)]
    return sum(np.sign(steps)) >= 0 if steps else True


def frame_of(panel: UprightPanel, sign: float) -> Frame:
    """Return a panel's axes; the back lies to its right if `sign` is above zero."""
    step = panel.found.waist.points[1] - panel.found.waist.points[0]
    across = step / np.hypot(*step)
    if float(across @ panel.right) * sign < 0.0:
        across = -across
    return Frame(panel.centre, across, panel.up)
