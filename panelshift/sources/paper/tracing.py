"""From a paper in true size to a drawing: outlines, waistlines, and what the maker is told.

`trace_paper` is the recipe. It never chooses between two lines that may both be meant: what is not
clear is a fault with its place, and a drawing with a fault is not to be used.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ...errors import PhotoError
from ...outline import Curve, FloatArray
from ...outline.planar import distance
from ...pattern.drawing import Drawing, LineStyle, Shape
from .approval import approval_picture
from .enclosed import Figure, find_figures
from .followed import (
    DARKER,
    MOST_GAP_MM,
    SAME_LINE_MM,
    TracedPanel,
    cells_of,
    contour,
    drawn_across,
    follow_figure,
    holes_in,
    off_line,
    straight_line,
)
from .ink import Grey, Ink, Mask, find_ink
from .leftover import (
    NEAR_MM,
    Leftover,
    beyond_strips,
    faint_lines,
    is_ruler,
    is_struck,
    lines_left,
    red_left,
    sort_leftover,
)
from .middles import ring_curve
from .rectified import Rectified, opencv
from .spots import Place, Pointed, Spot, fault, told
from .waists import find_waist

_WIDER_REACH_MM: Final = 6.0
"""How far apart half the ends of an open outline are still seen to belong together."""

_FAINT_REACH_MM: Final = 3.0
_AROUND_MM: Final = 2.0
_SURE_SHARE: Final = 0.7

_LEVEL_SLANT: Final = math.radians(20.0)

_AGAIN: Final = "Draw marks inside panels in red. Then photograph the paper again."


@dataclass(frozen=True, eq=False)
class Tracing:
    """What was read from a paper.

    *panels*: from left to right. *spots*: gaps that were closed, lines that were left out, faults.
    *picture*: PNG of the tracing over the paper, for the maker to approve.
    """

    drawing: Drawing
    panels: tuple[TracedPanel, ...]
    spots: tuple[Spot, ...]
    picture: bytes

    @property
    def faults(self) -> tuple[Spot, ...]:
        """What must be mended before the drawing is used."""
        return tuple(spot for spot in self.spots if spot.remedy)

    @property
    def refusal(self) -> PhotoError | None:
        """Why it cannot be used as it is: the first fault, if there is any."""
        if not self.faults:
            return None
        first, more = self.faults[0], len(self.faults) - 1
        return PhotoError(
            f"{first.words}{f' (and {more} more)' if more else ''}",
            remedy=first.remedy,
            source=self.drawing.source,
        )


def trace_paper(rectified: Rectified, pointed: Pointed | None = None) -> Tracing:
    """Read the outlines and waistlines drawn on a paper.

    *pointed*: what the maker has said of lines. Look at `Tracing.refusal` before the drawing is
    used.
    """
    pointed = pointed or Pointed()
    ink = find_ink(rectified)
    panels, aside, spots, framed = _panels(rectified, ink, pointed)
    rest, depths, known = _rest(ink, panels, aside, framed)
    left = sort_leftover(rectified, ink, rest, depths, known, pointed.struck)
    panels, more = _inner_lines(panels, left)
    spots += more
    left = _carried_on(panels, left)
    closing, seen = _open_outlines(ink, left, rectified.uncertainty)
    spots += closing + lines_left(left, seen) + faint_lines(ink, known)
    spots += red_left(ink, panels, aside, depths, pointed.struck) + beyond_strips(rectified)
    if not panels and not any(spot.remedy for spot in spots):
        spots.append(fault("panel", (0.0, 0.0), "no closed line is drawn on the paper", DARKER))
    drawing = _drawing(rectified, panels)
    picture = approval_picture(rectified, panels, spots, left)
    return Tracing(drawing, tuple(panels), tuple(spots), picture)


def _panels(
    rectified: Rectified, ink: Ink, pointed: Pointed
) -> tuple[list[TracedPanel], list[FloatArray], list[Spot], bool]:
    """Panels from left to right; rings of closed figures that are none."""
    figures, framed = find_figures(ink, ink.dark_ridges.sure)
    figures += _faintly_closed(ink, figures)
    panels, aside, spots = list[TracedPanel](), list[FloatArray](), list[Spot]()
    for figure in figures:
        outer = figure.inside if figure.outer is None else figure.outer
        ring = contour(outer, figure.corner, ink.cell)
        top, left = figure.corner
        rows, columns = outer.shape
        lines = ink.dark_ridges.sure[top : top + rows, left : left + columns] & outer
        y, x = np.nonzero(lines)
        cells = np.asarray((np.column_stack([x + left, y + top]) + 0.5) * ink.cell, dtype=float)
        if is_struck(ring, pointed.struck):
            spots.append(told("line", ring.mean(axis=0), "a closed line was struck out"))
            aside.append(ring)
            continue
        if _holds(ring, pointed.left_out):
            spots.append(told("panel", ring.mean(axis=0), "a piece was left out, as you said"))
            aside.append(ring)
            continue
        if is_ruler(rectified, cells, len(cells) * ink.cell):
            words = "what looks like a ruler or a tape was left out"
            spots.append(told("line", ring.mean(axis=0), words))
            aside.append(ring)
            continue
        panel, more = follow_figure(ink, figure, rectified.uncertainty)
        spots += more
        if panel is None:
            aside.append(ring)
        else:
            panels.append(panel)
    panels.sort(key=lambda panel: float(panel.middle[0]))
    for number, panel in enumerate(panels):
        panels[number], more = find_waist(ink, panel, number + 1, pointed)
        spots += more
    if framed:
        spots.append(Spot("line", (0.0, 0.0), "a frame round the panels was left out"))
    return panels, aside, spots, framed


def _holds(ring: FloatArray, places: Sequence[Place]) -> bool:
    """Whether one of the places lies in a ring."""
    cv2, shape = opencv(), ring.astype(np.float32)
    return any(cv2.pointPolygonTest(shape, place, False) > 0 for place in places)


def _faintly_closed(ink: Ink, figures: Sequence[Figure]) -> list[Figure]:
    """Figures whose lines are so faint here and there that ridges alone do not close them."""
    cv2 = opencv()
    lines = ink.dark_ridges.sure | ink.dark_ridges.faint
    thick = round(2.0 * _AROUND_MM / ink.cell) + 1
    taken = np.zeros(lines.shape, dtype=np.uint8)
    for figure in figures:
        outer = figure.inside if figure.outer is None else figure.outer
        ring = cells_of(contour(outer, figure.corner, ink.cell), ink.cell)
        cv2.fillPoly(taken, [ring], 1)
        cv2.polylines(taken, [ring], True, 1, thick)
    found, _ = find_figures(ink, lines & (taken == 0), _FAINT_REACH_MM)
    near = cv2.dilate(ink.dark_ridges.sure.astype(np.uint8), np.ones((thick, thick), np.uint8))
    kept = []
    for figure in found:
        outer = figure.inside if figure.outer is None else figure.outer
        top, left = figure.corner
        high, wide = outer.shape
        if (taken[top : top + high, left : left + wide] > 0)[outer].any():
            # A frame round panels.
            continue
        columns, rows = cells_of(contour(outer, figure.corner, ink.cell), ink.cell).T
        # A whole panel that was rubbed out has no sure line round it.
        if float(near[rows, columns].mean()) >= _SURE_SHARE:
            kept.append(figure)
    return kept


def _rest(
    ink: Ink, panels: Sequence[TracedPanel], aside: Sequence[FloatArray], framed: bool
) -> tuple[Mask, Grey, Mask]:
    """Ridges that are no known line's, how deep in a panel each cell lies, cells near known
    lines."""
    cv2 = opencv()
    shape = ink.dark_ridges.sure.shape
    near, inside = np.zeros(shape, dtype=np.uint8), np.zeros(shape, dtype=np.uint8)
    thick = 2 * round(NEAR_MM / ink.cell) + 1
    for panel in panels:
        lines = [panel.outline.flatten(0.05)]
        if panel.waist is not None:
            lines.append(panel.waist.flatten(0.05))
        for line in lines:
            cv2.polylines(near, [cells_of(line, ink.cell)], False, 1, thick)
        if panel.figure.outer is not None:
            ring = contour(panel.figure.outer, panel.figure.corner, ink.cell)
            cv2.polylines(near, [cells_of(ring, ink.cell)], True, 1, thick + 2)
        top, left = panel.figure.corner
        rows, columns = panel.figure.inside.shape
        inside[top : top + rows, left : left + columns] |= panel.figure.inside
    for ring in aside:
        cv2.fillPoly(near, [cells_of(ring, ink.cell)], 1)
        cv2.polylines(near, [cells_of(ring, ink.cell)], True, 1, thick + 2)
    rest = ink.dark_ridges.sure & (near == 0)
    if framed and panels:
        rest &= ~_frame(ink, rest, inside)
    depths: Grey = cv2.distanceTransform(inside, cv2.DIST_L2, 3)
    return rest, depths, near > 0


def _frame(ink: Ink, rest: Mask, inside: np.ndarray) -> Mask:
    """The line round all panels."""
    cv2 = opencv()
    near = cv2.dilate(rest.astype(np.uint8), np.ones((5, 5), np.uint8))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(near, connectivity=8)
    y, x = np.nonzero(inside)
    frame = np.zeros(len(stats), dtype=bool)
    for number, (left, top, width, height, _) in enumerate(stats.tolist()):
        frame[number] = number > 0 and (
            left <= x.min() and top <= y.min() and left + width > x.max() and top + height > y.max()
        )
    found: Mask = frame[labels]
    return found


def _inner_lines(
    panels: list[TracedPanel], left: Sequence[Leftover]
) -> tuple[list[TracedPanel], list[Spot]]:
    """Panels with the straight dark lines that lie in them: levels, which may divide a panel into
    parts, and marks."""
    found, spots = [], list[Spot]()
    inner = [one for one in left if one.kind == "inner"]
    for number, panel in enumerate(panels, start=1):
        own = [one for one in inner if distance(panel.outline, one.cells.mean(axis=0)) == 0.0]
        lines = [straight_line(one.cells) for one in own]
        whole = [drawn_across(panel.outline, line) for line in lines]
        levels = [line for line in whole if line is not None and _is_level(line, panel.waist)]
        marks = [level or line for level, line in zip(whole, lines, strict=True)]
        if own:
            words = f"straight dark lines in panel {number}, {len(own)} of them, are kept as marks"
            spots.append(told("panel", panel.middle, words))
        # Without a waistline nothing tells a level from a seam, and that fault is told.
        across = len(levels) + panel.dark_waist
        read = panel.waist is not None or panel.is_gore
        if read and panel.figure.parts > across + 1:
            words = f"dark lines divide panel {number} into {panel.figure.parts} parts"
            remedy = f"Rub out what does not count, or cover it with white paper. {_AGAIN}"
            spots.append(fault("panel", panel.middle, words, remedy))
        found.append(replace(panel, marks=(*panel.marks, *marks)))
    return found, spots


def _is_level(line: Curve, waist: Curve | None) -> bool:
    """Whether a line across a panel runs about as its waistline does."""
    if waist is None:
        return False
    one, other = line.end - line.start, waist.end - waist.start
    cross, dot = float(one[0] * other[1] - one[1] * other[0]), float(one @ other)
    return math.atan2(abs(cross), abs(dot)) < _LEVEL_SLANT


def _carried_on(panels: Sequence[TracedPanel], left: Sequence[Leftover]) -> list[Leftover]:
    """Leftovers; those that go on beside a panel as a level does within it are levels too."""
    lines = [mark for panel in panels for mark in panel.marks if _is_level(mark, panel.waist)]
    found = []
    for one in left:
        if one.kind == "doubt" and any(off_line(one.cells, line) < SAME_LINE_MM for line in lines):
            one = replace(one, kind="inner")
        found.append(one)
    return found


def _open_outlines(ink: Ink, left: Sequence[Leftover], doubt: float) -> tuple[list[Spot], set[int]]:
    """Lines that would close if wider gaps were closed: each gap, and which lines are told so."""
    lines = np.zeros_like(ink.dark_ridges.sure)
    owner = np.full(lines.shape, -1, dtype=np.int32)
    for number, one in enumerate(left):
        if one.kind in ("doubt", "inner"):
            columns, rows = np.floor(one.cells / ink.cell).astype(int).T
            lines[rows, columns] = True
            owner[rows, columns] = number
    spots, seen = list[Spot](), set[int]()
    if not lines.any():
        return spots, seen
    figures, _ = find_figures(ink, lines, _WIDER_REACH_MM)
    for figure in figures:
        ring = contour(figure.inside, figure.corner, ink.cell)
        outline = ring_curve(ink.dark, ink.pixel, ring, doubt)
        if outline is None:
            continue
        wide = [hole for hole in holes_in(ink, outline) if hole[1] > MOST_GAP_MM]
        for place, width in wide:
            words = f"an outline is open: a gap of {width:.1f} mm"
            remedy = f"Draw the line through; gaps up to {MOST_GAP_MM:.0f} mm are closed. {DARKER}"
            spots.append(fault("gap", place, words, remedy))
        if wide:
            cells = cells_of(outline.flatten(0.05), ink.cell)
            rows, columns = np.clip(cells[:, 1], 0, len(owner) - 1), cells[:, 0]
            near = np.unique(_dilated(owner)[rows, np.clip(columns, 0, len(owner[0]) - 1)])
            seen |= set(near[near >= 0].tolist())
    return spots, seen


def _dilated(owner: np.ndarray) -> np.ndarray:
    cv2 = opencv()
    grown: np.ndarray = cv2.dilate(owner.astype(np.float32), np.ones((7, 7), np.uint8))
    return grown.astype(int)


def _drawing(rectified: Rectified, panels: Sequence[TracedPanel]) -> Drawing:
    black, red = LineStyle("#000000", 0.5), LineStyle("#c01030", 0.5)
    shapes = list[Shape]()
    for number, panel in enumerate(panels, start=1):
        shapes.append(Shape(panel.outline, f"outline {number}", style=black))
        if panel.waist is not None:
            shapes.append(Shape(panel.waist, f"waist {number}", ("waist",), style=red))
        shapes += [
            Shape(mark, f"mark {number}.{place}", style=black)
            for place, mark in enumerate(panel.marks, start=1)
        ]
    rows, columns = rectified.valid.shape
    size = np.array([columns, rows]) * rectified.pixel
    return Drawing(
        tuple(shapes), source=", ".join(rectified.photos), page=np.array([[0.0, 0.0], size])
    )
