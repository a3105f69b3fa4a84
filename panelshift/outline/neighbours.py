"""Points that lie near each other, and what hangs together through them."""

from __future__ import annotations

import numpy as np

from .bezier import FloatArray, IntArray

_AT_ONCE = 1_000_000
"""Pairs compared in one array: its size does not depend on how many points lie in one place."""

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
