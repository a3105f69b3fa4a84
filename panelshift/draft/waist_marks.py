"""Waistlines that are only marked, by a short line at either side of a panel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline import Curve, FloatArray
from ..outline.crossing import nearest_position
from ..outline.nearness import Boxes, apart
from ..pattern.drawing import Shape
from .draft import NEAR_MM, TOUCHES_MM, Candidate, Draft
from .names import Role, described, listed
from .tidy import extent

LONGEST_MARK_MM: Final = 20.0
"""Marks at an edge are shorter, lines across a panel longer; common practice, no source."""

_LEAST_WAIST: Final = 0.25
"""No panel is so much narrower at the waist than it is wide; common practice, no source."""

_PLACES: Final = 21
"""A mark may run through the edge: it is looked at every mm or nearer."""


def join_waist_marks(draft: Draft) -> Draft:
    """Draw the waistline of each outline that two marks named waist touch, from one to the other.

    The marks themselves stay, as notches.

    Raises `PatternError` if an outline that no other waistline crosses is touched by one mark
    alone, by more than two, or by two on one side.
    """
    waists = [s for s in draft.shapes if draft.kind(s) == "waist" and not s.curve.closed]
    if not any(extent(shape.curve) < LONGEST_MARK_MM for shape in waists):
        return draft
    met = draft.meetings.across([found.outline for found in draft.outlines], waists)
    across = {shape.ident for hits in met for shape, points in hits if len(points) > 1}
    # A panel may be narrower than marks are long.
    marks = [s for s in waists if extent(s.curve) < LONGEST_MARK_MM and s.ident not in across]
    drawn: list[Shape] = []
    used: dict[str, Role | None] = {}
    for candidate, hits in zip(draft.outlines, met, strict=True):
        touching = _touching(candidate, marks)
        if not touching or any(shape not in marks for shape, _ in hits):
            continue
        if len(touching) != 2 or not _opposite(candidate, [point for _, point in touching]):
            marked = "short mark named waist touches"
            if len(touching) != 1:
                marked = "short marks named waist touch"
            raise PatternError(
                f"{len(touching)} {marked} the outline "
                f"{described(candidate.shapes[0])}: {listed([mark for mark, _ in touching])}",
                remedy="Mark the waist once on either side edge, or draw a line across the panel, "
                "from side edge to side edge.",
                element=candidate.ident,
            )
        (one, start), (two, end) = touching
        ident = f"{one.ident} to {two.ident}"
        drawn.append(Shape(Curve.polyline([start, end]), ident, style=one.style))
        used |= {ident: Role("waist", "waist"), one.ident: Role("notch"), two.ident: Role("notch")}
        draft.ledger.note(
            "waist-marks", f"waistline drawn between two marks: {ident}", one.ident, two.ident
        )
    return replace(draft, shapes=(*draft.shapes, *drawn), roles={**draft.roles, **used})


def _opposite(candidate: Candidate, points: Sequence[FloatArray]) -> bool:
    """Whether two points lie on both sides of an outline, and not beside each other on one."""
    step = points[1] - points[0]
    size = float(np.hypot(*step))
    reach = float(np.ptp(candidate.outline.flatten() @ step)) / max(size, 1e-9)
    return size >= _LEAST_WAIST * reach


def _touching(candidate: Candidate, marks: Sequence[Shape]) -> list[tuple[Shape, FloatArray]]:
    """The marks that touch an outline, each with the point of the outline that it marks."""
    outline = candidate.outline
    boxes = Boxes([mark.curve for mark in marks])
    (near,) = boxes.all_near(np.array([outline.hull_box]), NEAR_MM)
    found = []
    for mark in (marks[k] for k in near):
        points = mark.curve.points(np.linspace(0.0, float(len(mark.curve)), _PLACES))
        gaps, _ = apart(points, outline)
        nearest = points[int(np.argmin(gaps))]
        if gaps.min() <= TOUCHES_MM:
            place, _ = nearest_position(outline, nearest)
            found.append((mark, outline.points([place])[0]))
    return found
