"""One closed figure on paper as a panel: its outline held against the line that was drawn, its
waistline, its allowance."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from scipy.ndimage import median_filter, uniform_filter1d
from scipy.spatial import cKDTree

from ...outline import Curve, FloatArray
from ...outline.crossing import crossings
from ...outline.measure import breaks, segment_lengths
from ...outline.planar import self_crossing
from .enclosed import Figure
from .ink import Ink, Mask
from .middles import (
    CORNER,
    corners_of,
    drawn_points,
    evened,
    look_along,
    ring_curve,
    second_line,
)
from .rectified import opencv
from .spots import Spot, fault, told

MOST_GAP_MM: Final = 2.0
"""A wider hole in an outline is not closed: the line may go another way there."""

_TOLD_GAP_MM: Final = 1.2
"""A pencil leaves out less on rough paper."""

_FADED, _FADING = 0.15, 0.25
"""Share of a line's darkness nearby below which there is none, and where its end is."""

_BLURRED_MM: Final = 0.15
"""What blur takes off a hole: seen with 1.5, 1.9 and 2.5 mm, ink within 0.05 mm, pencil 0.3."""

_NEARBY_MM: Final = 30.0
"""More than twice the widest gap that may be bridged: else a gap is all that is nearby."""
_STEP_MM: Final = 0.1

_SHIFTED_MM: Final = 0.3
_SHIFTED_ALONG_MM: Final = 3.0
"""An outline that lies further beside its line for longer is no outline of it."""

_AT_CORNER_MM: Final = 2.5

_EVEN_MM: Final = 1.5
"""By how much the width of an allowance may come and go along one edge: it is drawn by hand."""

_ACROSS_MM: Final = 3.0
"""How far from the outline a waistline may end."""

_BEYOND_MM: Final = 0.5
_BIN_MM: Final = 3.0

POINTED_MM: Final = 6.0
"""How near to a line a place is on it: a finger on a small picture is no finer."""

SAME_LINE_MM: Final = 1.5
"""How far off a straight line what goes on from it may lie."""

DARKER: Final = "Go over it with a darker pen and photograph the paper again."


@dataclass(frozen=True, eq=False)
class TracedPanel:
    """A panel. *waist*: None if none was found. *marks*: other lines in it. *allowance*: its least
    and its most width in mm if a second line runs evenly round the outline. *figure*: where it
    was found. *dark_waist*: whether the waistline is no red one: it then divides the figure.
    *is_gore*: whether it has none by the maker's word."""

    outline: Curve
    figure: Figure
    waist: Curve | None = None
    marks: tuple[Curve, ...] = ()
    allowance: tuple[float, float] | None = None
    dark_waist: bool = False
    is_gore: bool = False

    @property
    def middle(self) -> FloatArray:
        """Its centroid in mm."""
        return self.outline.centroid


def follow_figure(ink: Ink, figure: Figure, doubt: float) -> tuple[TracedPanel | None, list[Spot]]:
    """The panel that a closed figure is, and what is to be said of its outline.

    *doubt*: uncertainty of places in mm. None if there is no panel in it.
    """
    figure, spots = _with_loops(ink, figure)
    ring = contour(figure.inside, figure.corner, ink.cell)
    outline = ring_curve(ink.dark, ink.pixel, ring, doubt)
    if outline is None or self_crossing(outline) is not None:
        words = "a closed line without clear corners is no panel"
        return None, [fault("panel", ring.mean(axis=0), words, f"If it is a panel: {DARKER}")]
    spots += _holes(ink, outline) + _beside(ink, outline)
    panel = TracedPanel(outline, figure)
    if figure.outer is None:
        return panel, spots
    widths = _allowance(ink, figure, outline)
    if widths is None:
        words = "a second line runs round a panel, but not at an even distance"
        remedy = (
            "If one of the two does not count, rub it out or cover it with white paper; if the "
            "outer one is the cut line, draw it evenly. Then photograph the paper again."
        )
        return panel, [*spots, fault("panel", panel.middle, words, remedy)]
    low, high = widths
    size = f"{low:.1f} mm" if high - low < 1.0 else f"{low:.1f} to {high:.1f} mm"
    words = (
        f"an even line round a panel is taken as its seam allowance of {size} and left out; "
        "the inner line is the stitch line"
    )
    spots.append(told("panel", panel.middle, words))
    return replace(panel, allowance=widths), spots


def _with_loops(ink: Ink, figure: Figure) -> tuple[Figure, list[Spot]]:
    """The figure with those small loops at its border that belong to it.

    A notch drawn inside, or a corner that a line cuts off, leaves a corner more without its loop; a
    letter that touches the line outside makes more corners with it.
    """
    spots = list[Spot]()
    plain = corners_of(evened(contour(figure.inside, figure.corner, ink.cell)))
    for mask in figure.with_loops:
        ring = evened(contour(mask, figure.corner, ink.cell))
        more = corners_of(ring)
        if len(more) < len(plain):
            figure = replace(figure, inside=figure.inside | mask)
        elif len(more) == len(plain):
            rows, columns = np.nonzero(mask & ~figure.inside)
            place = (np.array([columns.mean(), rows.mean()]) + figure.corner[::-1]) * ink.cell
            words = "it is not clear on which side of a small loop an outline runs"
            spots.append(
                fault("line", place, words, f"Rub out what does not belong to it. {DARKER}")
            )
    return figure, spots


def contour(mask: Mask, corner: tuple[int, int], cell: float) -> FloatArray:
    """The longest border of a mask as points in mm."""
    cv2 = opencv()
    found, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    cells = max(found, key=len)[:, 0, :] + np.array(corner[::-1])
    ring: FloatArray = (cells + 0.5) * cell
    return ring


def cells_of(points: FloatArray, cell: float) -> np.ndarray:
    """The cells that points in mm lie in, columns before rows."""
    return np.rint(points / cell - 0.5).astype(np.int32)


def holes_in(ink: Ink, curve: Curve) -> list[tuple[FloatArray, float]]:
    """Where nothing is drawn along a closed curve: middle and width in mm of each hole."""
    found, along = look_along(ink.dark, ink.pixel, curve, _STEP_MM)
    nearby = median_filter(found.darkness, round(_NEARBY_MM / _STEP_MM), mode="wrap")
    share = found.darkness / np.maximum(nearby, 1e-3)
    count = len(share)
    faded = np.flatnonzero((share < _FADED) | (nearby < 1e-3))
    holes, seen = [], np.zeros(count, dtype=bool)
    for start in faded.tolist():
        if seen[start]:
            continue
        first = last = start
        while share[(first - 1) % count] < _FADING and last - first < count:
            first -= 1
        while share[(last + 1) % count] < _FADING and last - first < count:
            last += 1
        seen[np.arange(first, last + 1) % count] = True
        middle = along[((first + last) // 2) % count]
        width = (last - first + 1) * _STEP_MM + _BLURRED_MM
        holes.append((curve.points_along([middle])[0], width))
    return holes


def _holes(ink: Ink, outline: Curve) -> list[Spot]:
    spots = []
    for place, width in holes_in(ink, outline):
        if width > MOST_GAP_MM + _BLURRED_MM:
            words = f"an outline is open: a gap of {width:.1f} mm"
            remedy = f"Draw the line through; gaps up to {MOST_GAP_MM:.0f} mm are closed. {DARKER}"
            spots.append(fault("gap", place, words, remedy))
        elif width >= _TOLD_GAP_MM:
            spots.append(told("gap", place, f"a gap of {width:.1f} mm in an outline was closed"))
    return spots


def _beside(ink: Ink, outline: Curve) -> list[Spot]:
    """Where the outline does not run on the line that was drawn."""
    step = 2.0 * _STEP_MM
    found, along = look_along(ink.dark, ink.pixel, outline, step)
    width = round(_SHIFTED_ALONG_MM / step)
    offset = np.abs(median_filter(found.offsets, width, mode="wrap"))
    at = _corner_lengths(outline)
    size = outline.length
    gap = np.abs(along[:, None] - at)
    near = np.minimum(gap, size - gap).min(axis=1, initial=np.inf) < _AT_CORNER_MM
    blank = found.darkness < _FADED * np.median(found.darkness)
    bad = (offset > _SHIFTED_MM) & ~near & ~blank
    bad &= uniform_filter1d(bad.astype(float), width, mode="wrap") > 0.9
    if not bad.any():
        twin = second_line(ink.dark, ink.pixel, outline)
        if twin is None:
            return []
        words = "a second line runs close beside an outline, or the line is too thick"
        return [fault("line", twin, words, f"Rub out the line that does not count. {DARKER}")]
    worst = int(np.argmax(np.where(bad, offset, 0.0)))
    words = "it is not clear where an outline runs: other lines touch it"
    remedy = f"Rub out what does not belong to it. {DARKER}"
    return [fault("line", found.points[worst], words, remedy)]


def _corner_lengths(outline: Curve) -> FloatArray:
    """How far along an outline its corners lie."""
    starts = np.concatenate([[0.0], np.cumsum(segment_lengths(outline))[:-1]])
    return np.asarray(starts[np.abs(breaks(outline)) > 0.8 * CORNER])


def _allowance(ink: Ink, figure: Figure, outline: Curve) -> tuple[float, float] | None:
    """Least and most width of the ring round an outline; None if it is not even on each edge."""
    assert figure.outer is not None
    ring = contour(figure.outer, figure.corner, ink.cell)
    border = cKDTree(drawn_points(ink.dark, ink.pixel, ring))
    corners = _corner_lengths(outline)
    size = float(outline.length)
    bounds = np.concatenate([corners, [corners[0] + size]])
    widths = []
    for first, last in pairwise(bounds):
        along = np.arange(first + 1.0, last, 2.0) % size
        if len(along) == 0:
            continue
        apart = np.asarray(border.query(outline.points_along(along))[0])
        place = np.arange(first + 1.0, last, 2.0)
        # Round a corner the outer line may be mitred, squared off or round.
        clear = 1.5 * float(np.median(apart))
        kept = apart[(place - first > clear) & (last - place > clear)]
        if len(kept) == 0:
            continue
        low, high = np.percentile(kept, [3.0, 97.0])
        if high - low > _EVEN_MM:
            return None
        widths.append(float(np.median(kept)))
    return (min(widths), max(widths)) if widths else None


def pieces_of(mask: Mask, corner: tuple[int, int], cell: float) -> list[FloatArray]:
    """Lines of a mask, holes of about 2 mm in them closed, each as middles of its cells in mm."""
    cv2 = opencv()
    near = cv2.dilate(mask.astype(np.uint8), np.ones((5, 5), np.uint8))
    _, labels = cv2.connectedComponents(near, connectivity=8)
    rows, columns = np.nonzero(mask)
    owner = labels[rows, columns]
    order = np.argsort(owner, kind="stable")
    ends = np.searchsorted(owner[order], np.arange(1, labels.max() + 2))
    points = (np.column_stack([columns, rows]) + np.array(corner[::-1]) + 0.5) * cell
    return [points[order[a:b]] for a, b in pairwise(ends)]


def extent(points: FloatArray) -> float:
    """How far points reach, in mm."""
    return float(np.hypot(*np.ptp(points, axis=0)))


def straightness(points: FloatArray) -> float:
    """How far points lie from one straight line, root of the mean square in mm."""
    middle = points - points.mean(axis=0)
    return float(np.linalg.svd(middle, compute_uv=False)[-1]) / math.sqrt(len(points))


def _axis(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    middle = points.mean(axis=0)
    return middle, np.linalg.svd(points - middle, full_matrices=False)[2][0]


def straight_line(points: FloatArray, by: float = 0.5) -> Curve:
    """The straight line through middles of cells, its ends taken back by so many mm."""
    middle, axis = _axis(points)
    along = (points - middle) @ axis
    low, high = along.min() + by, along.max() - by
    return Curve.polyline([middle + low * axis, middle + high * axis])


def off_line(points: FloatArray, line: Curve) -> float:
    """How far points lie at most from a straight line, carried on."""
    along = (line.end - line.start) / np.hypot(*(line.end - line.start))
    apart = (points - line.start) @ np.array([-along[1], along[0]])
    return float(np.abs(apart).max())


def guess_along(points: FloatArray) -> FloatArray:
    """Points in order along a line that hardly turns back."""
    middle, axis = _axis(points)
    along = (points - middle) @ axis
    count = max(int(np.ptp(along) / _BIN_MM), 1)
    bins = np.clip(
        ((along - along.min()) / max(np.ptp(along), 1e-9) * count).astype(int), 0, count - 1
    )
    order = [points[bins == k].mean(axis=0) for k in range(count) if (bins == k).any()]
    ends = points[np.argmin(along)], points[np.argmax(along)]
    return np.array([ends[0], *order, ends[1]])


def drawn_across(outline: Curve, line: Curve, reach: float = _ACROSS_MM) -> Curve | None:
    """A line that crosses an outline twice, carried on to a little beyond it; None if it does
    not. *reach*: how far in mm it may end before the outline."""
    met = crossings(outline, line, reach=reach)
    if len(met) != 2:
        return None
    first, last = float(met.along[0]), float(met.along[1])
    parts = [line]
    start, end = line.end_tangents()[0, 0], line.end_tangents()[-1, 1]
    if first < _BEYOND_MM:
        parts.insert(0, Curve.polyline([line.start - start * (_BEYOND_MM - first), line.start]))
    if line.length - last < _BEYOND_MM:
        more = _BEYOND_MM - (line.length - last)
        parts.append(Curve.polyline([line.end, line.end + end * more]))
    whole = Curve.chain(parts)
    if (line.degree == 1).all() and len(line) == 1:
        return Curve.polyline([whole.start, whole.end])
    return whole
