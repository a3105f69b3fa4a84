"""Several curves in one pass: numpy costs more for each call than for each number."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from .bezier import (
    FloatArray,
    IntArray,
    end_tangents,
    flat_points,
    flat_steps,
    mapped,
    of_degree,
    refuse_unsound,
)
from .curve import FLATNESS_MM, MOST_FLAT_POINTS, Curve


def gathered(curves: Sequence[Curve]) -> tuple[FloatArray, IntArray]:
    """Segments of curves one after the other, shape (n, 4, 2), and the curve of each, (n,)."""
    sizes = [len(curve) for curve in curves]
    return np.concatenate([curve.control for curve in curves]), np.repeat(
        np.arange(len(curves)), sizes
    )


def parted(control: FloatArray, curves: Sequence[Curve]) -> list[Curve]:
    """Cut gathered segments up again; the curves say how many each has, of which degree."""
    control.flags.writeable = False
    result, first = [], 0
    for curve in curves:
        last = first + len(curve)
        result.append(Curve.trusted(control[first:last], curve.degree, curve.closed))
        first = last
    return result


def closed_chains(groups: Sequence[Sequence[Curve]]) -> list[Curve]:
    """Join each group of curves, none empty, end to end into a closed one: see `Curve.chain`."""
    if not groups:
        return []
    curves = [curve for group in groups for curve in group]
    control = np.concatenate([curve.control for curve in curves])
    degree = np.concatenate([curve.degree for curve in curves])
    ends = np.cumsum([sum(map(len, group)) for group in groups])
    firsts = np.concatenate([[0], ends[:-1]])
    starts = control[firsts, 0]
    control[1:, 0] = control[:-1, 3]
    control[firsts, 0] = control[ends - 1, 3] = starts
    control = of_degree(control, degree)
    refuse_unsound(control)
    for array in (control, degree):
        array.flags.writeable = False
    bounds = zip(firsts.tolist(), ends.tolist(), strict=True)
    return [Curve.trusted(control[k:end], degree[k:end], True) for k, end in bounds]


def transformed(curves: Sequence[Curve], matrices: npt.ArrayLike) -> list[Curve]:
    """Curves under affine maps: see `Curve.transformed`.

    *matrices*: array_like, shape (2, 3) or (curves, 2, 3). One map for all of them, or one for
    each.
    """
    if not curves:
        return []
    control, owner = gathered(curves)
    maps = np.asarray(matrices, dtype=np.float64)
    return parted(mapped(control, maps[owner] if maps.ndim == 3 else maps), curves)


def share_tangents(curves: Sequence[Curve]) -> None:
    """Work out the end tangents of all curves in one pass; each then has its own at hand."""
    control, _ = gathered(curves)
    tangents, first = end_tangents(control), 0
    for curve in curves:
        last = first + len(curve)
        curve.know_tangents(tangents[first:last])
        first = last


def share_polylines(curves: Sequence[Curve], tolerance: float = FLATNESS_MM) -> None:
    """Flatten all curves in one pass; each then has its own polyline at hand."""
    if not curves:
        return
    control, owner = gathered(curves)
    steps = flat_steps(control, tolerance)
    if int(np.bincount(owner, steps).max()) > MOST_FLAT_POINTS:
        return  # Each says so by itself when it is asked.
    sizes = np.bincount(owner, steps).astype(np.int64)
    ends = np.cumsum([len(curve) for curve in curves])
    starts = np.cumsum(sizes) - sizes
    # One place more for the end of each curve.
    points = np.empty((int(sizes.sum()) + len(curves), 2))
    shift = np.repeat(np.arange(len(curves)), sizes)
    points[np.arange(len(shift)) + shift] = flat_points(control, steps)
    points[starts + sizes + np.arange(len(curves))] = control[ends - 1, 3]
    points.flags.writeable = False
    for k, curve in enumerate(curves):
        first = int(starts[k]) + k
        curve.know_polyline(tolerance, points[first : first + int(sizes[k]) + 1])


def boxes(curves: Sequence[Curve], tolerance: float = FLATNESS_MM) -> FloatArray:
    """Boxes of the polylines of curves, shape (n, 2, 2): see `Curve.bounds`."""
    if not curves:
        return np.zeros((0, 2, 2))
    share_polylines(curves, tolerance)
    lines = [curve.flatten(tolerance) for curve in curves]
    points = np.concatenate(lines)
    sizes = np.array([len(line) for line in lines])
    starts = np.cumsum(sizes) - sizes
    return np.stack(
        [np.minimum.reduceat(points, starts), np.maximum.reduceat(points, starts)], axis=1
    )


def group_boxes(groups: Sequence[Sequence[Curve]], tolerance: float = FLATNESS_MM) -> FloatArray:
    """Box of each of several groups of curves, none empty, shape (groups, 2, 2): see `boxes`."""
    if not groups:
        return np.zeros((0, 2, 2))
    control, _ = gathered([curve for group in groups for curve in group])
    first = np.cumsum([0, *(sum(map(len, group)) for group in groups[:-1])])
    steps = flat_steps(control, tolerance)
    points, ends = flat_points(control, steps), control[:, 3]
    point = np.concatenate([[0], np.cumsum(steps)])[first]
    low = np.minimum(np.minimum.reduceat(points, point), np.minimum.reduceat(ends, first))
    high = np.maximum(np.maximum.reduceat(points, point), np.maximum.reduceat(ends, first))
    return np.stack([low, high], axis=1)
