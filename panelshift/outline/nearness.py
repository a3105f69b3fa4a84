"""What lies near what: points, boxes and lines, without any check of all pairs, and what hangs
together through it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from .bezier import FloatArray, IntArray
from .curve import Curve

COPY_MM: Final = 0.1
"""Lines that run nearer to each other than this all along are one line: a third of a pencil
line's width, and more than programs lose by rounding."""

_SAMPLES = 64

_AT_ONCE: Final = 1_000_000
"""Pairs compared in one array: its size does not depend on how many points lie in one place."""


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


_FEW = 100
"""Points of which all pairs are sooner compared than sorted out."""


def near_pairs(points: FloatArray, reach: float, most: int) -> IntArray:
    """Pairs of points of which no coordinate differs by more than a reach.

    *points*: ndarray, shape (n, d). In any number of dimensions. *reach*: in the points' unit.
    *most*: once more pairs than these are found the others are not looked for.

    Returns: ndarray of int, shape (m, 2): each pair once.

    Examples
    --------
    >>> near_pairs(np.array([[0.0, 0.0], [9.0, 0.0], [0.3, 0.2]]), 0.5, 100).tolist()
    [[0, 2]]
    """
    if len(points) <= _FEW:
        near = np.tri(len(points), k=-1, dtype=np.bool_).T
        for coordinate in points.T:
            near = near & (np.abs(coordinate[:, None] - coordinate) <= reach)
        return np.argwhere(near)
    order, after = _windows(points, reach)
    ends = np.cumsum(after)
    found, count = [np.zeros((0, 2), dtype=np.int64)], 0
    first = 0
    while first < len(points) and count <= most:
        done = ends[first] - after[first]
        last = max(int(np.searchsorted(ends, done + _AT_ONCE, side="right")), first + 1)
        own = np.arange(first, last)
        left = np.repeat(own, after[own])
        right = left + 1 + np.arange(len(left)) - (ends[left] - after[left] - done)
        for coordinate in points[order].T:
            near = np.abs(coordinate.take(left) - coordinate.take(right)) <= reach
            left, right = left[near], right[near]
        found.append(np.stack([order[left], order[right]], axis=1))
        count += len(left)
        first = last
    return np.sort(np.concatenate(found), axis=1)


def _windows(points: FloatArray, reach: float) -> tuple[IntArray, IntArray]:
    """Points in a row such that each lies near few that follow, and how many those are."""
    group = np.zeros(len(points), dtype=np.int64)
    windows = group, np.full(len(points), len(points))
    settled = 0
    # Where a coordinate leaves a gap no pair crosses it; and where one has parted the points
    # the others may leave gaps that were not there before.
    while settled < points.shape[1]:
        for coordinate in points.T:
            order = np.lexsort((coordinate, group))
            step = np.diff(coordinate[order])
            parted = (step > reach) | (np.diff(group[order]) != 0)
            rank = np.concatenate([[0], np.cumsum(parted)])
            settled = settled + 1 if rank[-1] == group.max() else 0
            group[order] = rank
            # Rounding may carry a sum either way; the pairs are compared once more.
            row = np.concatenate([[0.0], np.cumsum(np.where(parted, 2.0 * reach + 1.0, step))])
            after = np.searchsorted(row, row + reach * (1.0 + 1e-9) + 1e-9, side="right")
            after -= np.arange(len(points)) + 1
            if after.sum() < windows[1].sum():
                windows = order, after
    return windows


def linked(count: int, pairs: IntArray) -> IntArray:
    """Number the sets of things that hang together through pairs.

    *count*: how many things there are. *pairs*: ndarray of int, shape (m, 2).

    Returns: ndarray of int, shape (count,): set of each thing; sets are numbered in the order of
    their first members.

    Examples
    --------
    >>> linked(5, np.array([[4, 1], [2, 4]])).tolist()
    [0, 1, 1, 2, 1]
    """
    label = np.arange(count)
    one, two = pairs.T
    while True:
        low = np.minimum(label[one], label[two])
        before = label.copy()
        for side in (one, two):
            np.minimum.at(label, before[side], low)
        # Each set's first member keeps its own number: follow numbers until they lead there.
        while not np.array_equal(label, label[label]):
            label = label[label]
        if np.array_equal(label, before):
            return np.unique(label, return_inverse=True)[1]
