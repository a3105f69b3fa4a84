"""Where a drawn line crosses a curve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import CurveError
from .curve import Curve, FloatArray, bezier_derivatives, bezier_points

SAME_POINT_MM: Final = 1e-3
"""Crossings closer than this are one crossing, found in two neighbouring segments."""

_LINE_FLATNESS_MM: Final = 1e-3

MOST_COMPARED: Final = 50_000_000
"""Pieces of a line times segments of a curve at most: a few seconds' work."""

_OVERHEAD: Final = 500
"""What looking at one piece costs at least, in segments."""


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
    found: list[tuple[float, float]] = []
    for index in np.flatnonzero(near):
        found += [
            (s, float(starts[index]) + along)
            for s, along in _line_crossings(curve, path[index], path[index + 1])
        ]
    found.sort(key=lambda pair: pair[1])
    positions = np.array([s for s, _ in found])
    along = np.array([distance for _, distance in found])
    points = curve.points(positions) if len(found) else np.zeros((0, 2))
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


def _line_crossings(curve: Curve, start: FloatArray, end: FloatArray) -> list[tuple[float, float]]:
    """Positions on the curve and distances from `start` where a straight piece crosses it."""
    direction = end - start
    size = float(np.hypot(*direction))
    if size == 0.0:
        return []
    unit = direction / size
    relative = curve.control - start
    height = relative @ np.array([-unit[1], unit[0]])
    along = relative @ unit
    # Bezier curves lie in the hull of their control points.
    near = (height.min(axis=1) <= 0.0) & (height.max(axis=1) >= 0.0)
    near &= (along.min(axis=1) <= size) & (along.max(axis=1) >= 0.0)
    near &= np.abs(height).max(axis=1) > 0.0
    found = []
    for index in np.flatnonzero(near):
        for t in _roots(height[index], curve.degree[index]):
            distance = float(_bernstein(along[index], t))
            if -1e-9 <= distance <= size + 1e-9:
                found.append((float(index) + t, distance))
    return found


def _bernstein(c: FloatArray, t: float) -> float:
    r = 1.0 - t
    return float(r * r * (r * c[0] + 3 * t * c[1]) + t * t * (3 * r * c[2] + t * c[3]))


def _roots(c: FloatArray, degree: int) -> list[float]:
    """Roots in [0, 1] of a cubic in Bernstein form."""
    if degree == 1:
        # The power basis of an elevated line has a cubic term of pure rounding noise.
        candidates = np.array([c[0] / (c[0] - c[3])]) if c[0] != c[3] else np.array([])
    else:
        power = np.array(
            [
                c[3] - 3.0 * c[2] + 3.0 * c[1] - c[0],
                3.0 * (c[2] - 2.0 * c[1] + c[0]),
                3.0 * (c[1] - c[0]),
                c[0],
            ]
        )
        power[np.abs(power) < 1e-13 * np.abs(c).max()] = 0.0
        roots = np.roots(power)
        candidates = roots.real[np.abs(roots.imag) < 1e-6]
    tolerance = 1e-9
    inside = candidates[(candidates >= -tolerance) & (candidates <= 1.0 + tolerance)]
    return [float(t) for t in np.clip(inside, 0.0, 1.0)]


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
