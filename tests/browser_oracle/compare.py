"""Hold what panelshift reads against what a browser drew: points, lengths and counts."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely

from panelshift.outline import Curve, FloatArray
from panelshift.outline.bezier import LINE
from panelshift.outline.measure import length
from panelshift.pattern.drawing import Drawing, Shape

POINT_MM: Final = 0.01
"""Every point that the browser gives lies this near to our curve."""

LENGTH_MM: Final = 0.01
LENGTH_SHARE: Final = 1e-4
"""Lengths agree to the larger of these two."""

BROWSER_STEP_UNITS: Final = 0.5
"""The browser measures a curve along chords, halving a piece until its control points lie
within half a user unit of its thirds; see `longest_deficit`."""

FLATNESS_MM: Final = 1e-4


@dataclass(frozen=True)
class Agreement:
    """How far one element's curves are from the browser's, in mm.

    Parameters
    ----------
    point : float
        Largest distance of a browser's point from our curves.
    length : float
        Our length less the browser's, both in the element's user units, as mm.
    allowed : float
        What the length may differ by.
    """

    point: float
    length: float
    allowed: float


def by_element(drawing: Drawing) -> dict[str, list[Shape]]:
    """Shapes by the element that drew them: a path of several parts makes several shapes."""
    found: dict[str, list[Shape]] = {}
    for shape in drawing.shapes:
        found.setdefault(re.sub(r"~\d+$", "", shape.ident), []).append(shape)
    return found


def agreement(
    shapes: Sequence[Shape], answer: dict[str, Any], *, floating: bool = False
) -> Agreement:
    """Compare one element's shapes with the browser's answer for it.

    With `floating` the page may lie anywhere: the browser's first point is laid on our start.
    """
    polylines = [shape.curve.flatten(FLATNESS_MM) for shape in shapes]
    points = np.array(answer["points"])
    if floating:
        points += shapes[0].curve.start - points[0]
    point = float(distances(points, polylines).max())
    a, b, c, d, e, f = answer["matrix"]
    to_mm = np.array([[a, c, e], [b, d, f]]) * (25.4 / 96.0)
    linear = np.linalg.inv(to_mm[:, :2])
    to_units = np.column_stack([linear, -linear @ to_mm[:, 2]])
    ours = [shape.curve.transformed(to_units) for shape in shapes]
    in_units = sum(length(curve, 1e-4) for curve in ours)
    scale = float(np.sqrt(abs(np.linalg.det(to_mm[:, :2]))))
    slack = sum(longest_deficit(curve) for curve in ours) * scale
    allowed = max(LENGTH_MM, LENGTH_SHARE * in_units * scale) + slack
    return Agreement(point, (in_units - answer["length"]) * scale, allowed)


def distances(points: FloatArray, polylines: Iterable[FloatArray]) -> FloatArray:
    """Distance of each of m points from the nearest of some polylines, shape (m,)."""
    best = np.full(len(points), np.inf)
    for polyline in polylines:
        start, step = polyline[:-1], np.diff(polyline, axis=0)
        size = np.maximum((step**2).sum(axis=1), 1e-300)
        offset = points[:, None] - start[None]
        t = np.clip((offset * step).sum(axis=2) / size, 0.0, 1.0)
        apart = offset - t[..., None] * step
        best = np.minimum(best, np.hypot(apart[..., 0], apart[..., 1]).min(axis=1))
    return best


def longest_deficit(curve: Curve) -> float:
    """By how much the browser's chords may fall short of a curve's length, in user units.

    Notes
    -----
    The browser halves a cubic until both control points lie within `BROWSER_STEP_UNITS` of
    the thirds of its chord, along each axis, and adds up the chords. The same is done here
    and the difference taken, so that the allowance is no larger than the cause. Pieces of
    our arcs are shorter than the browser's, so for them it is doubled.
    """
    total = 0.0
    for control, degree in zip(curve.control, curve.degree, strict=True):
        if degree != LINE:
            total += length(Curve.cubics([control]), 1e-5) - _chords(control)
    return 2.0 * total


def _chords(control: FloatArray, depth: int = 0) -> float:
    thirds = np.linspace(control[0], control[3], 4)
    if depth >= 16 or np.abs(control[1:3] - thirds[1:3]).max() <= BROWSER_STEP_UNITS:
        return float(np.hypot(*(control[3] - control[0])))
    one = 0.5 * (control[:-1] + control[1:])
    two = 0.5 * (one[:-1] + one[1:])
    middle = 0.5 * (two[0] + two[1])
    left = np.array([control[0], one[0], two[0], middle])
    right = np.array([middle, two[1], one[2], control[3]])
    return _chords(left, depth + 1) + _chords(right, depth + 1)


def ink_box(drawing: Drawing, page: Sequence[float]) -> FloatArray | None:
    """(xmin, ymin, xmax, ymax) in mm of the areas inside all curves, cut off at the page.

    Parameters
    ----------
    drawing : Drawing
    page : (width, height)
        In mm.

    Returns
    -------
    ndarray or None
        None if no area lies on the page; a line there and back is none.
    """
    sheet = shapely.box(0.0, 0.0, *page)
    areas = []
    for shape in drawing.shapes:
        points = shape.curve.flatten(1e-3)
        if len(points) >= 3:
            area = shapely.make_valid(shapely.Polygon(points)).intersection(sheet)
            areas += [part for part in shapely.get_parts(area) if part.area > 1e-6]
    return np.array(shapely.total_bounds(areas)) if areas else None
