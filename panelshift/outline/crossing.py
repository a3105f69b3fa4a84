"""Where a drawn line crosses a curve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import CurveError
from .bezier import LINE, FloatArray, IntArray, bezier_derivatives, bezier_points
from .curve import Curve

SAME_POINT_MM: Final = 1e-3
"""Crossings closer than this are one crossing, found in two neighbouring segments."""

_LINE_FLATNESS_MM: Final = 1e-3

_ROOT_TOLERANCE: Final = 1e-9
"""How far outside [0, 1] rounding may carry a root at the end of a segment."""

MOST_COMPARED: Final = 50_000_000
"""Pieces of a line times segments of a curve at most: a few seconds' work."""

_OVERHEAD: Final = 500
"""What looking at one piece costs at least, in segments."""

_AT_ONCE: Final = 20_000
"""Pieces times segments compared in one array: its size stays in the processor's cache."""


@dataclass(frozen=True, eq=False)
class Crossings:
    """Crossings of one curve by a line, in order along the line.

    Parameters
    ----------
    positions : ndarray, shape (m,)
        Positions on the crossed curve.
    points : ndarray, shape (m, 2)
        In mm.
    along : ndarray, shape (m,)
        Arc length along the crossing line's polyline in mm, negative or beyond its length
        where only its extension crosses.
    """

    positions: FloatArray
    points: FloatArray
    along: FloatArray

    def __len__(self) -> int:
        return len(self.positions)


def crossings(curve: Curve, line: Curve, *, reach: float = 0.0) -> Crossings:
    """Cross a curve with a line, straight or curved.

    Parameters
    ----------
    curve : Curve
        The crossed curve, usually an outline.
    line : Curve
        The crossing line; curved parts are followed within 0.001 mm.
    reach : float
        How far beyond each of its ends the line is prolonged along its end tangent, in mm,
        so that a line drawn just up to the outline counts as crossing it.
    """
    if not _boxes_meet(curve, line, reach):
        return Crossings(np.zeros(0), np.zeros((0, 2)), np.zeros(0))
    path = _prolonged(line, reach)
    steps = np.diff(path, axis=0)
    sizes = np.hypot(steps[:, 0], steps[:, 1])
    starts = np.concatenate([[0.0], np.cumsum(sizes)[:-1]]) - reach
    low, high = curve.hull_box
    near = (np.maximum(path[:-1], path[1:]) >= low - SAME_POINT_MM).all(axis=1)
    near &= (np.minimum(path[:-1], path[1:]) <= high + SAME_POINT_MM).all(axis=1)
    if int(near.sum()) * (len(curve) + _OVERHEAD) > MOST_COMPARED:
        raise CurveError(
            "an outline and a line across it are drawn in too many pieces to be crossed",
            remedy="Draw one of them more simply: a few curves are enough for an edge.",
        )
    pieces = np.flatnonzero(near & (sizes > 0.0))
    at_once = max(_AT_ONCE // len(curve), 1)
    found = [
        _piece_crossings(curve, path, sizes, pieces[first : first + at_once])
        for first in range(0, len(pieces), at_once)
    ]
    positions = np.concatenate([np.zeros(0), *(s for _, s, _ in found)])
    along = np.concatenate([np.zeros(0), *(starts[piece] + d for piece, _, d in found)])
    order = np.argsort(along, kind="stable")
    positions, along = positions[order], along[order]
    points = curve.points(positions) if len(positions) else np.zeros((0, 2))
    keep = _distinct(points)
    return Crossings(positions[keep], points[keep], along[keep])


def _boxes_meet(curve: Curve, line: Curve, reach: float) -> bool:
    """Whether the curves' boxes come within reach: most pairs on a sheet do not."""
    (low, high), (other_low, other_high) = curve.hull_box, line.hull_box
    room = reach + SAME_POINT_MM
    return bool((low <= other_high + room).all() and (other_low - room <= high).all())


def _prolonged(line: Curve, reach: float) -> FloatArray:
    path = line.flatten(_LINE_FLATNESS_MM)
    if reach <= 0.0 or line.closed:
        return path
    tangents = line.end_tangents()
    before = path[0] - reach * tangents[0, 0]
    after = path[-1] + reach * tangents[-1, 1]
    return np.vstack([before, path, after])


def _distinct(points: FloatArray) -> list[int]:
    keep: list[int] = []
    for i, point in enumerate(points):
        apart = points[keep] - point
        if (np.hypot(apart[:, 0], apart[:, 1]) > SAME_POINT_MM).all():
            keep.append(i)
    return keep


def _piece_crossings(
    curve: Curve, path: FloatArray, sizes: FloatArray, pieces: IntArray
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Which straight pieces of a path cross the curve, where on it, and how far along each."""
    start, size = path[pieces], sizes[pieces]
    unit = (path[pieces + 1] - start) / size[:, None]
    relative = curve.control - start[:, None, None]
    x, y = relative[..., 0], relative[..., 1]
    cos, sin = unit[:, 0, None, None], unit[:, 1, None, None]
    height, along = cos * y - sin * x, cos * x + sin * y
    # Bezier curves lie in the hull of their control points.
    low, high = height.min(axis=2), height.max(axis=2)
    near = (low <= 0.0) & (high >= 0.0) & (low < high)
    near &= (along.min(axis=2) <= size[:, None]) & (along.max(axis=2) >= 0.0)
    piece, segment = np.nonzero(near)
    if len(piece) == 0:
        return piece, np.zeros(0), np.zeros(0)
    which, t = _roots(height[piece, segment], curve.degree[segment])
    piece, segment = piece[which], segment[which]
    distance = _bernstein(along[piece, segment], t)
    hit = (distance >= -_ROOT_TOLERANCE) & (distance <= size[piece] + _ROOT_TOLERANCE)
    return pieces[piece[hit]], (segment + t)[hit], distance[hit]


def _bernstein(c: FloatArray, t: FloatArray) -> FloatArray:
    r = 1.0 - t
    a, b, d, e = c.T
    return np.asarray(r * r * (r * a + 3 * t * b) + t * t * (3 * r * d + t * e))


def _roots(c: FloatArray, degree: IntArray) -> tuple[IntArray, FloatArray]:
    """Roots in [0, 1] of m cubics in Bernstein form, and which cubic each belongs to.

    They are the eigenvalues of companion matrices (Horn and Johnson, Matrix Analysis, 3.3).
    """
    power = np.stack(
        [
            c[:, 3] - 3.0 * c[:, 2] + 3.0 * c[:, 1] - c[:, 0],
            3.0 * (c[:, 2] - 2.0 * c[:, 1] + c[:, 0]),
            3.0 * (c[:, 1] - c[:, 0]),
            c[:, 0],
        ],
        axis=1,
    )
    lines = degree == LINE
    # The power basis of an elevated line has higher terms of pure rounding noise.
    power[lines, :2] = 0.0
    power[lines, 2] = c[lines, 3] - c[lines, 0]
    power[np.abs(power) < 1e-13 * np.abs(c).max(axis=1)[:, None]] = 0.0
    lead = np.argmax(power != 0.0, axis=1)
    owners, roots = [np.zeros(0, dtype=np.int64)], [np.zeros(0)]
    for first in (0, 1, 2):
        order = 3 - first
        which = np.flatnonzero((lead == first) & (power[:, first] != 0.0))
        if len(which) == 0:
            continue
        companion = np.zeros((len(which), order, order))
        companion[:, 0] = -power[which, first + 1 :] / power[which, first, None]
        companion[:, np.arange(1, order), np.arange(order - 1)] = 1.0
        values = np.linalg.eigvals(companion)
        real = np.abs(values.imag) < 1e-6
        owners.append(np.repeat(which, order)[real.ravel()])
        roots.append(values.real[real])
    owner, root = np.concatenate(owners), np.concatenate(roots)
    inside = (root >= -_ROOT_TOLERANCE) & (root <= 1.0 + _ROOT_TOLERANCE)
    return owner[inside], np.clip(root[inside], 0.0, 1.0)


def nearest_position(curve: Curve, point: FloatArray) -> tuple[float, float]:
    """Position on the curve nearest to a point, and its distance in mm."""
    per_segment = 33
    t = np.linspace(0.0, 1.0, per_segment)
    control = np.repeat(curve.control, per_segment, axis=0)
    samples = bezier_points(control, np.tile(t, len(curve)))
    best = int(np.argmin(np.hypot(*(samples - point).T)))
    segment, t0 = divmod(best, per_segment)
    one = curve.control[segment : segment + 1]
    low, high = max(t[t0] - 1 / 32, 0.0), min(t[t0] + 1 / 32, 1.0)
    for _ in range(60):
        # The foot of the perpendicular: (P - point) . P' changes sign there.
        middle = np.array([0.5 * (low + high)])
        slope = (bezier_points(one, middle) - point)[0] @ bezier_derivatives(one, middle)[0]
        low, high = (low, middle[0]) if slope > 0.0 else (middle[0], high)
    foot = bezier_points(one, np.array([0.5 * (low + high)]))[0]
    return segment + 0.5 * (low + high), float(np.hypot(*(foot - point)))
