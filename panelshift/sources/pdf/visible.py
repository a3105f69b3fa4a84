"""What is seen of the lines of tiled pages: parts in clips, without the marks of the pages."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from ...outline import Curve, FloatArray
from ...outline.bezier import LINE
from ...outline.crossing import all_crossings
from ...pattern.drawing import Shape
from .reading import PdfPage

_PAGE_MARKS: Final = "page marks"
"""The layer in which our own prints keep what is not the drawing's."""

LEAST_PANEL_MM: Final = 150.0
"""A line this long, upright or across, may be one of a panel's."""

_SAME_MM: Final = 0.05


@dataclass(frozen=True, eq=False)
class Visible:
    """A visible part of a shape on a page."""

    page: int
    curve: Curve
    shape: Shape

    @property
    def is_whole(self) -> bool:
        """Whether no edge cuts it."""
        return self.curve is self.shape.curve


def visible(pages: Sequence[PdfPage]) -> list[Visible]:
    """What is seen of the shapes on all pages, but for the pages' own marks."""
    shown = [
        (k, shape, page.drawing.page if shape.clip is None else shape.clip)
        for k, page in enumerate(pages)
        for shape in page.drawing.shapes
        if _PAGE_MARKS not in shape.groups
    ]
    boxes = [np.full((2, 2), np.nan) if box is None else box for _, _, box in shown]
    parts = parts_inside([shape.curve for _, shape, _ in shown], boxes)
    return [
        Visible(k, curve, shape)
        for (k, shape, _), curves in zip(shown, parts, strict=True)
        for curve in curves
    ]


def parts_inside(curves: Sequence[Curve], boxes: Sequence[FloatArray]) -> list[list[Curve]]:
    """The parts of each curve in its upright rectangle; the curve itself if it lies in it."""
    hulls = np.array([curve.hull_box for curve in curves]).reshape(-1, 2, 2)
    limits = np.array(boxes).reshape(-1, 2, 2)
    whole = (hulls[:, 0] >= limits[:, 0] - 1e-6).all(axis=1)
    whole &= (hulls[:, 1] <= limits[:, 1] + 1e-6).all(axis=1)
    cut = np.flatnonzero(~whole).tolist()
    pairs = []
    for k in cut:
        (x0, y0), (x1, y1) = limits[k].tolist()
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]
        pairs += [
            (curves[k], Curve.polyline([first, second])) for first, second in pairwise(corners)
        ]
    found = all_crossings(pairs)
    result = [[curve] for curve in curves]
    for place, k in enumerate(cut):
        crossed = found[4 * place : 4 * place + 4]
        at = np.unique(np.concatenate([one.positions for one in crossed]))
        result[k] = list(_between(curves[k], at.tolist(), limits[k]))
    return result


def _between(curve: Curve, cuts: list[float], box: FloatArray) -> Iterator[Curve]:
    """Parts of a curve between its crossings with a rectangle that lie in it."""
    count = float(len(curve))
    spans = zip([0.0, *cuts], [*cuts, count], strict=True)
    if curve.closed and cuts:
        spans = zip(cuts, [*cuts[1:], cuts[0] + count], strict=True)
    for start, end in spans:
        if end - start < 1e-9:
            continue
        middle = curve.points(np.array([(0.5 * (start + end)) % count]))[0]
        if (middle >= box[0] - 1e-9).all() and (middle <= box[1] + 1e-9).all():
            yield curve.piece(start, end)


def repeated(pieces: Sequence[Visible], pages: int) -> set[int]:
    """Marks of the pages themselves: what lies whole at one place of several pages.

    A straight line that runs over a page from edge to edge is one only if all pages have it: a
    waistline may run so over several pages in a row.
    """
    groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for k, piece in enumerate(pieces):
        box = np.round(piece.curve.hull_box / _SAME_MM).astype(int)
        key = (*box.ravel().tolist(), len(piece.curve), piece.curve.closed, piece.shape.style)
        groups[key].append(k)
    boxes = np.array([piece.curve.hull_box for piece in pieces])
    size = boxes[:, 1].max(axis=0) - boxes[:, 0].min(axis=0)
    marks: set[int] = set()
    for group in groups.values():
        on = len({pieces[k].page for k in group})
        low, high = boxes[group[0]]
        spans = not pieces[group[0]].curve.closed and bool(((high - low) > 0.8 * size).any())
        whole = all(pieces[k].is_whole for k in group)
        # Panels that are alike may lie alike on their pages.
        if may_be_panel(pieces[group[0]].curve) and not is_upright(pieces[group[0]].curve):
            continue
        if on >= 2 and ((whole and not spans) or on == pages):
            marks.update(group)
    return marks


def may_be_panel(curve: Curve) -> bool:
    """Whether a line is as long as a panel is: an outline, or a slanting or curved piece of one."""
    long = float((curve.hull_box[1] - curve.hull_box[0]).max()) >= LEAST_PANEL_MM
    return long and (curve.closed or not is_upright(curve))


def is_upright(curve: Curve) -> bool:
    """Whether all of it runs straight along the edges of the page, as frames and rules do."""
    steps = np.abs(np.diff(curve.control, axis=1)).min(axis=2)
    return bool((curve.degree == LINE).all() and (steps <= _SAME_MM).all())


def open_ends(pieces: Iterable[Visible]) -> tuple[FloatArray, FloatArray, np.ndarray]:
    """Free ends of lines: points, directions outwards, and the page of each."""
    found = [piece for piece in pieces if not piece.curve.closed]
    points = [point for p in found for point in (p.curve.start, p.curve.end)]
    tangents = [p.curve.end_tangents() for p in found]
    ways = [way for tangent in tangents for way in (-tangent[0, 0], tangent[-1, 1])]
    page = np.repeat([p.page for p in found], 2)
    return np.array(points).reshape(-1, 2), np.array(ways).reshape(-1, 2), page
