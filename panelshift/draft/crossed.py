"""Which outlines the waistlines cross, and which of those can be panels."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline.crossing import Crossings
from ..outline.measure import length
from ..outline.planar import contains
from ..pattern.drawing import Drawing, LeftOut, Shape
from .enclosing import height
from .found import Candidate, FoundPanel
from .nearby import REACH_MM, Boxes, NearLines
from .nesting import Nested

MOST_PANELS: Final = 500
"""Crossed outlines at most: sixty panels, each with its allowance, would be a lot."""

_LEAST_HEIGHT_SHARE: Final = 0.25
"""Panels are sewn to each other along their sides, so none is less high than this part of the
highest; letters and logos are."""


@dataclass
class Crossed:
    """Outlines by how waistlines cross them.

    Parameters
    ----------
    panels : list of FoundPanel
        Crossed twice by one waistline.
    uncrossed : list of Candidate
    doubtful : list of (Candidate, PatternError)
        Crossed otherwise, and what is to be said if one turns out to be a panel.
    """

    panels: list[FoundPanel] = field(default_factory=list)
    uncrossed: list[Candidate] = field(default_factory=list)
    doubtful: list[tuple[Candidate, PatternError]] = field(default_factory=list)


@dataclass
class Small:
    """Crossed outlines that are no panels: marks on panels, and what is passed over."""

    marks: list[Candidate] = field(default_factory=list)
    aside: list[LeftOut] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def cross(drawing: Drawing, candidates: list[Candidate], lines: list[Shape]) -> Crossed:
    """Cross outlines with waistlines.

    Raises
    ------
    PatternError
        If waistlines cross more than `MOST_PANELS` outlines.
    """
    result = Crossed()
    near = NearLines(lines, drawing.source)
    for candidate in candidates:
        hits = [*near.crossing(candidate.outline)]
        if not hits:
            result.uncrossed.append(candidate)
            continue
        hits = _without_strays(hits)
        fault = _fault(drawing, candidate, hits)
        if fault is not None:
            result.doubtful.append((candidate, fault))
            continue
        line, found = hits[0]
        result.panels.append(FoundPanel(candidate.outline, candidate.shapes, line, found))
        if len(result.panels) > MOST_PANELS:
            raise PatternError(
                f"waistlines cross more than {MOST_PANELS} outlines",
                remedy="Keep the panels of one garment and one size on a sheet.",
                source=drawing.source,
            )
    return result


def settle(crossed: Crossed, nested: Nested) -> tuple[list[FoundPanel], Small]:
    """Part panels from small shapes that a waistline happens to cross, such as letters.

    Raises
    ------
    PatternError
        If an outline of a panel's size is not crossed as a panel is.
    """
    result = Small()
    highest = max((height(panel) for panel in nested.panels), default=0.0)
    least = _LEAST_HEIGHT_SHARE * highest
    panels = [panel for panel in nested.panels if height(panel) >= least]
    boxes = Boxes([panel.outline for panel in panels])
    small = [p.ident for p in nested.panels if height(p) < least]
    for candidate, fault in crossed.doubtful:
        near = boxes.near(candidate.outline.hull_box, 0.0)
        if any(contains(panels[k].outline, candidate.outline) for k in near):
            result.marks.append(candidate)
        elif float(np.ptp(candidate.outline.hull_box, axis=0).max()) < least:
            small.append(candidate.ident)
        elif (count := sum(contains(candidate.outline, panels[k].outline) for k in near)) > 1:
            result.aside.append(LeftOut(candidate.ident, f"a frame round {count} panels"))
        else:
            raise fault
    why = "crossed by a waistline, but far too small for a panel"
    result.aside += [LeftOut(ident, why) for ident in small]
    if small:
        more = f" and {len(small) - 1} more closed shapes" if len(small) > 1 else ""
        result.warnings.append(f"{small[0]}{more}: {why}")
    return panels, result


def _fault(
    drawing: Drawing, candidate: Candidate, hits: list[tuple[Shape, Crossings]]
) -> PatternError | None:
    """What is wrong with an outline for a panel, None if one waistline crosses it twice."""
    for line, found in hits:
        if len(found) != 2:
            return _wrong_crossing(drawing, candidate, line, len(found))
    line, found = hits[0]
    for other, again in hits[1:]:
        if float(np.abs(again.points - found.points).max()) > REACH_MM:
            return PatternError(
                f"two waistlines cross this outline: {line.ident} and {other.ident}",
                remedy="Keep one waistline a panel; name the others for their own level.",
                source=drawing.source,
                element=candidate.ident,
            )
    return None


def _without_strays(hits: list[tuple[Shape, Crossings]]) -> list[tuple[Shape, Crossings]]:
    """Leave out a neighbour's waistline that only just pokes over this outline's edge.

    Panels may lie edge to edge; an outline with a waistline of its own cannot be lost so.
    """
    own = [(line, found) for line, found in hits if len(found) == 2]

    def stray(line: Shape, found: Crossings) -> bool:
        size = length(line.curve)
        near_end = (found.along <= REACH_MM) | (found.along >= size - REACH_MM)
        return len(found) == 1 and bool(near_end.all())

    return [hit for hit in hits if not (own and stray(*hit))]


def _wrong_crossing(
    drawing: Drawing, candidate: Candidate, line: Shape, count: int
) -> PatternError:
    if count == 1:
        remedy = (
            "Draw the waistline from side edge to side edge: it ends inside the panel, "
            f"more than {REACH_MM:g} mm short of the outline."
        )
    else:
        remedy = "A panel is crossed twice, once at each side edge: look for a doubled or folded "
        remedy += "outline, or a waistline that wanders over the edge."
    times = "once" if count == 1 else f"{count} times"
    return PatternError(
        f"waistline {line.ident} crosses this outline {times}, not twice",
        remedy=remedy,
        source=drawing.source,
        element=candidate.ident,
    )
