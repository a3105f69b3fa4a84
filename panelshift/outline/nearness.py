"""What lies near what: points, boxes and lines, without any check of all pairs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from .bezier import FloatArray
from .curve import Curve

COPY_MM: Final = 0.1
"""Lines that run nearer to each other than this all along are one line: a third of a pencil
line's width, and more than programs lose by rounding."""

_SAMPLES = 64

_AT_ONCE: Final = 1_000_000
"""Pairs compared in one array."""


class Boxes:
    """The boxes of some curves, in their order.

    Boxes of control points hold their curves, so whatever is passed over truly is apart.

    Examples
    --------
    >>> boxes = Boxes([Curve.polyline([(0, 0), (9, 9)]), Curve.polyline([(20, 0), (30, 5)])])
    >>> boxes.near(np.array([[10.0, 0.0], [11.0, 1.0]]), 2.0)
    [0]
    """

    def __init__(self, curves: Sequence[Curve]) -> None:
        hulls = np.array([curve.hull_box for curve in curves]).reshape(-1, 2, 2)
        self._low, self._high = hulls[:, 0], hulls[:, 1]

    def near(self, box: FloatArray, room: float) -> list[int]:
        """Indices of the curves whose boxes come within `room` mm of a box, in order.

        *box*: ndarray, shape (2, 2). ((xmin, ymin), (xmax, ymax)); for a point, twice the point.
        """
        met = (self._low <= box[1] + room).all(axis=1) & (self._high >= box[0] - room).all(axis=1)
        found: list[int] = np.flatnonzero(met).tolist()
        return found

    def all_near(self, boxes: FloatArray, room: float) -> list[list[int]]:
        """The same for many boxes, shape (n, 2, 2)."""
        boxes = boxes.reshape(-1, 2, 2)
        result: list[list[int]] = []
        rows = max(_AT_ONCE // max(len(self._low), 1), 1)
        for first in range(0, len(boxes), rows):
            low, high = boxes[first : first + rows].transpose(1, 0, 2)[:, :, None]
            met = (self._low <= high + room).all(axis=2) & (self._high >= low - room).all(axis=2)
            bounds = np.cumsum(met.sum(axis=1))[:-1]
            result += [one.tolist() for one in np.split(np.nonzero(met)[1], bounds)]
        return result


def spread(curve: Curve, start: float = 0.0, *, backwards: bool = False) -> FloatArray:
    """Points at equal steps along a curve, shape (64, 2).

    *start*: where on a closed curve to begin, in mm along it. *backwards*: walk against the curve's
    own sense.
    """
    points = curve.flatten()
    along = _lengths(points)
    steps = np.linspace(0.0, along[-1], _SAMPLES)
    if backwards:
        steps = -steps if start else steps[::-1]
    if start:
        steps = (steps + start) % along[-1]
    return np.column_stack([np.interp(steps, along, points[:, k]) for k in (0, 1)])


def apart(points: FloatArray, curve: Curve) -> tuple[FloatArray, FloatArray]:
    """Distance of points from a line, and where along it they come nearest, both in mm.

    *points*: ndarray, shape (n, 2).

    Returns: tuple of (ndarray, ndarray), both of shape (n,).
    """
    line = curve.flatten()
    starts, steps = line[:-1], np.diff(line, axis=0)
    sizes = np.maximum((steps**2).sum(axis=1), 1e-300)
    along = _lengths(line)
    distance, place = np.empty(len(points)), np.empty(len(points))
    for k, point in enumerate(points):
        t = np.clip(((point - starts) * steps).sum(axis=1) / sizes, 0.0, 1.0)
        feet = starts + t[:, None] * steps - point
        gaps = np.hypot(feet[:, 0], feet[:, 1])
        best = int(np.argmin(gaps))
        distance[k] = gaps[best]
        place[k] = along[best] + t[best] * (along[best + 1] - along[best])
    return distance, place


def is_copy(one: Curve, two: Curve) -> bool:
    """Whether two lines run within `COPY_MM` of each other all along.

    Their sense, the start of a closed line, and how they are cut into segments do not matter.
    """
    rings = [_is_ring(curve) for curve in (one, two)]
    if rings[0] != rings[1]:
        return False
    walk = spread(one)
    if rings[0]:
        gaps, places = apart(walk[:1], two)
        if gaps[0] > COPY_MM:
            return False
        # A start at the very end of the other line is its start.
        start = float(places[0]) or 1e-12
        walks = [spread(two, start, backwards=back) for back in (False, True)]
    else:
        walks = [spread(two, backwards=back) for back in (False, True)]
    return any(np.hypot(*(walk - other).T).max() <= 2.0 * COPY_MM for other in walks) and bool(
        apart(walk, two)[0].max() <= COPY_MM
    )


def _is_ring(curve: Curve) -> bool:
    return curve.closed or bool(np.hypot(*(curve.end - curve.start)) <= COPY_MM)


def _lengths(points: FloatArray) -> FloatArray:
    steps = np.diff(points, axis=0)
    return np.concatenate([[0.0], np.cumsum(np.hypot(steps[:, 0], steps[:, 1]))])
