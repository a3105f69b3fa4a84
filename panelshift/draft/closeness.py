"""How near drawn lines come to each other, on their polylines."""

from __future__ import annotations

import numpy as np

from ..outline import Curve, FloatArray

_SAMPLES = 64


def spread(curve: Curve, start: float = 0.0, *, backwards: bool = False) -> FloatArray:
    """Points at equal steps along a curve, shape (64, 2).

    Parameters
    ----------
    curve : Curve
    start : float
        Where on a closed curve to begin, in mm along it.
    backwards : bool
        Walk against the curve's own sense.
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

    Parameters
    ----------
    points : ndarray, shape (n, 2)
    curve : Curve

    Returns
    -------
    tuple of (ndarray, ndarray), both of shape (n,)
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


def _lengths(points: FloatArray) -> FloatArray:
    steps = np.diff(points, axis=0)
    return np.concatenate([[0.0], np.cumsum(np.hypot(steps[:, 0], steps[:, 1]))])
