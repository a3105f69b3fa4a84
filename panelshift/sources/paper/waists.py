"""A panel's waistline: the red line across it, or the one that the maker pointed at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from ...outline import Curve, FloatArray
from ...outline.crossing import crossings
from ...outline.planar import distance
from .followed import (
    POINTED_MM,
    TracedPanel,
    drawn_across,
    extent,
    guess_along,
    pieces_of,
    straight_line,
    straightness,
)
from .ink import Ink
from .middles import line_curve
from .rectified import opencv
from .spots import Place, Pointed, Spot, fault, told

_WAIST_MM: Final = 8.0
_MARK_MM: Final = 4.0

_OWN_MM: Final = 1.6
"""How far within an outline a line across has left the outline's own."""

_SHORT_MM: Final = 6.0
"""How far before an outline a line that was taken off it may end: what is averaged along it loses
its ends as well."""

_NEAR_END_MM: Final = 20.0
"""From a place that was pointed at to the edge that was meant."""


def find_waist(
    ink: Ink, panel: TracedPanel, number: int, pointed: Pointed
) -> tuple[TracedPanel, list[Spot]]:
    """The panel with its waistline and its marks, of what is drawn in red on it.

    *pointed*: what the maker pointed at, on this panel or on others.
    """
    cv2 = opencv()
    top, left = panel.figure.corner
    inside = cv2.dilate(panel.figure.inside.astype(np.uint8), np.ones((7, 7), np.uint8))
    rows, columns = inside.shape
    red = ink.red_ridges.sure[top : top + rows, left : left + columns] & (inside > 0)
    across, marks, spots = [], [], []
    for cells in pieces_of(red, (top, left), ink.cell):
        size = extent(cells)
        if size >= _WAIST_MM:
            run = line_curve(ink.red, ink.pixel, guess_along(cells), 0.15)
            if (line := drawn_across(panel.outline, run.curve())) is not None:
                across.append(line)
                continue
        if size >= _MARK_MM and straightness(cells) <= 0.5:
            # What a line is averaged with carries its ends on.
            marks.append(straight_line(cells, 1.0))
        elif size >= _MARK_MM:
            spots.append(told("line", cells.mean(axis=0), "red writing was not read"))
    if any(distance(panel.outline, np.array(place)) == 0.0 for place in pointed.gores):
        words = f"panel {number} has no waistline, as you said: it is a gore"
        panel = replace(panel, marks=(*marks, *across), is_gore=True)
        return panel, [*spots, told("panel", panel.middle, words)]
    own = [ends for ends in pointed.waists if distance(panel.outline, np.mean(ends, axis=0)) == 0.0]
    if own:
        waist, spot = _pointed_waist(ink, panel, across, own[-1], number)
        others = [line for line in across if line is not waist]
        dark = waist is not None and len(others) == len(across)
        panel = replace(panel, waist=waist, marks=(*marks, *others), dark_waist=dark)
        return panel, [*spots, *spot]
    if len(across) == 1:
        return replace(panel, waist=across[0], marks=tuple(marks)), spots
    panel = replace(panel, marks=(*marks, *across))
    edge = panel.outline.start
    if across:
        words = f"{len(across)} red lines cross panel {number}: which one is its waistline"
        remedy = "Draw only the waistline across in red, other levels in pencil."
    else:
        words = f"panel {number} has no waistline from edge to edge"
        x, y = panel.middle
        remedy = (
            "Draw the waistline across in red and photograph the paper again, or point at it "
            "(--waist, with a place on the line, or with both its ends). If it is a gore, which "
            f"has none, say so (--gore {x:.0f} {y:.0f}). If it is no piece at all, leave it out "
            f"(--strike {edge[0]:.0f} {edge[1]:.0f})."
        )
    return panel, [*spots, fault("panel", panel.middle, words, remedy)]


def _pointed_waist(
    ink: Ink,
    panel: TracedPanel,
    red: Sequence[Curve],
    ends: Sequence[Place],
    number: int,
) -> tuple[Curve | None, list[Spot]]:
    """The waistline that the maker pointed at: a drawn line through a place, the red ones first, or
    a straight one between two places."""
    if len(ends) > 1:
        found = _straight_across(panel.outline, np.array(ends, dtype=float))
        missing = "two ends of its waistline that lie near its edges"
    else:
        near = [line for line in red if _away(line, ends[0]) <= POINTED_MM]
        near = near or _dark_across(ink, panel, ends[0])
        found = near[0] if len(near) == 1 else None
        missing = "one line from edge to edge where its waistline was pointed at"
    if found is not None:
        words = f"the waistline of panel {number} is the one that you pointed at"
        return found, [told("panel", panel.middle, words)]
    words = f"panel {number} has not {missing}"
    remedy = "Point at it again: at one place on a line that is drawn across, or at both its ends."
    return None, [fault("panel", panel.middle, words, remedy)]


def _away(line: Curve, place: Place) -> float:
    """How far a place is from a line, to half a millimetre."""
    points = line.points_along(np.append(np.arange(0.0, line.length, 0.5), line.length))
    return float(np.hypot(*(points - place).T).min())


def _straight_across(outline: Curve, ends: FloatArray) -> Curve | None:
    """The straight line through two places, from edge to edge; None if the edges are elsewhere."""
    way = ends[1] - ends[0]
    size = float(np.hypot(*way))
    if size < _WAIST_MM:
        return None
    along = way / size
    line = Curve.polyline([ends[0] - _NEAR_END_MM * along, ends[1] + _NEAR_END_MM * along])
    met = crossings(outline, line)
    if len(met) < 2:
        return None
    places = np.asarray(met.along) - _NEAR_END_MM
    first, last = (float(places[np.argmin(np.abs(places - at))]) for at in (0.0, size))
    if last - first < _WAIST_MM:
        return None
    inside = [ends[0] + (first + 0.1) * along, ends[0] + (last - 0.1) * along]
    return drawn_across(outline, Curve.polyline(inside))


def _dark_across(ink: Ink, panel: TracedPanel, place: Place) -> list[Curve]:
    """Dark lines across a panel that run through a place."""
    cv2 = opencv()
    (top, left), (rows, columns) = panel.figure.corner, panel.figure.inside.shape
    side = 2 * round(_OWN_MM / ink.cell) + 1
    inner = cv2.erode(panel.figure.inside.astype(np.uint8), np.ones((side, side), np.uint8))
    dark = ink.dark_ridges.sure[top : top + rows, left : left + columns] & (inner > 0)
    lines = []
    for cells in pieces_of(dark, (top, left), ink.cell):
        if extent(cells) >= _WAIST_MM and np.hypot(*(cells - place).T).min() <= POINTED_MM:
            run = line_curve(ink.dark, ink.pixel, guess_along(cells), 0.15)
            lines.append(drawn_across(panel.outline, run.curve(), _SHORT_MM))
    return [line for line in lines if line is not None]
