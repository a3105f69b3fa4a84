"""Pieces that the job file names and no waistline crosses: gores, and what stands on panels."""

from __future__ import annotations

import numpy as np

from ..errors import PatternError, few
from ..files.one_line import collapsed
from ..outline import Curve
from ..outline.measure import CORNER_ANGLE, breaks
from ..pattern.drawing import Shape
from ..pattern.panel import Corners, Frame, Level, Panel
from .corners import find_corners
from .draft import Candidate, Draft, FoundPanel
from .marks import level_across
from .names import given_name, is_called, listed
from .order import NamedPanel


def called(draft: Draft, wanted: str, what: str) -> Candidate:
    """The outline that the maker means by a label or an id; *what* it is to be, for messages."""
    exact = [found for found in draft.outlines if found.ident == wanted]
    found = exact or [
        found for found in draft.outlines if any(is_called(s, wanted) for s in found.shapes)
    ]
    if len(found) == 1:
        return found[0]
    if found:
        raise PatternError(
            f"{len(found)} closed outlines are called {wanted!r}: "
            f"{listed([one.shapes[0] for one in found])}",
            remedy="Give the id of one in the job file, or delete the others.",
            element=found[0].ident,
        )
    open_lines = [shape for shape in draft.drawing.shapes if is_called(shape, wanted)]
    if open_lines:
        raise PatternError(
            f"{wanted!r}, which the job file names as {what}, is no closed outline",
            remedy="Close the outline in the drawing program (join its end nodes).",
            element=open_lines[0].ident,
        )
    closed = few(found.ident for found in draft.outlines) or "none but what a waistline crosses"
    raise PatternError(
        f"there is no outline called {wanted!r:.60}, which the job file names as {what}",
        remedy=f"Give the id or the label of a closed outline. Those here: {closed}.",
        element=wanted,
    )


def piece_name(wanted: str, found: Candidate) -> str:
    """What a person has called it; else what the job file does."""
    shape = found.shapes[0]
    name = shape.data.get("panel", "").strip() or given_name(shape.names) or wanted
    return collapsed(name)


def standing(
    draft: Draft, piece: Candidate, name: str, frame: Frame, *, pointed: bool = False
) -> Panel | None:
    """A piece as a panel with these axes.

    Its corners are the four that it has, or else found from half way up: None if it is crossed
    there more than twice. *pointed*: whether it may end in a point.
    """
    four = None if pointed or name in draft.reading.corners else _four_corners(piece, frame)
    if four is not None:
        return Panel(name, piece.ident, piece.outline, frame, four, None)
    points = frame.to_panel(piece.outline.flatten())
    middle = 0.5 * (points[:, 1].min() + points[:, 1].max())
    ends = np.array([[points[:, 0].min() - 1.0, middle], [points[:, 0].max() + 1.0, middle]])
    line = Shape(Curve.polyline(frame.to_sheet(ends)), piece.ident)
    met = draft.meetings.of(piece.outline, line.curve)
    if len(met) != 2:
        return None
    found = FoundPanel(piece.outline, piece.shapes, piece.gap, waistline=line, waist=met)
    named = NamedPanel(name, found, frame)
    (corners,) = find_corners((named,), draft.reading.corners, pointed=pointed)
    return Panel(name, piece.ident, piece.outline, frame, corners, None)


def _four_corners(piece: Candidate, frame: Frame) -> Corners | None:
    """The corners of an outline that has just four, whichever way it leans."""
    outline = piece.outline
    at = np.flatnonzero(np.abs(breaks(outline)) >= CORNER_ANGLE).astype(float)
    if len(at) != 4:
        return None
    points = frame.to_panel(outline.points(at))
    middles = 0.5 * (points + np.roll(points, -1, axis=0))
    # The bottom is the edge whose middle lies lowest; the others follow round.
    own = np.roll(np.arange(4), -int(np.argmin(middles[:, 1])))
    if points[own[0], 0] < points[own[1], 0]:
        front_bottom, back_bottom, back_top, front_top = at[own].tolist()
        return Corners(front_bottom, front_top, back_top, back_bottom, False)
    back_bottom, front_bottom, front_top, back_top = at[own].tolist()
    return Corners(front_bottom, front_top, back_top, back_bottom, True)


def level_lines(draft: Draft, panel: Panel) -> list[Level]:
    """Level lines drawn right across it, by name."""
    named = [(shape, "waist") for shape in draft.waistlines]
    for shape in draft.shapes:
        if not shape.curve.closed and (role := draft.role(shape)) and role.level:
            named.append((shape, role.level))
    found = []
    for shape, name in named:
        met = draft.meetings.of(panel.outline, shape.curve)
        level = level_across(shape, met, name, panel.outline, panel.frame, panel.corners)
        if level is not None:
            found.append(level)
    return found
