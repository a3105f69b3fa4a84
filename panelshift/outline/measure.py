"""Arc length and turning of curves, with an error estimate that drives subdivision."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from .curve import Curve, FloatArray, bezier_derivatives

LENGTH_TOLERANCE_MM: Final = 1e-6
"""Default absolute error of a segment's length."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_NODES = 0.5 * (_NODES + 1.0)
_WEIGHTS = 0.5 * _WEIGHTS

_ROUNDING: Final = 1e-12

_MOST_HALVINGS: Final = 40
"""A cusp's error halves with each step; 2^-40 of a 100 m segment is far below any tolerance."""


def _speeds_integral(control: FloatArray, t0: FloatArray, t1: FloatArray) -> FloatArray:
    """Gauss-Legendre integral of the speed of m cubics over [t0, t1], shape (m,)."""
    width = t1 - t0
    t = t0[:, None] + width[:, None] * _NODES
    step = 3.0 * np.diff(control, axis=1)
    r = 1.0 - t
    a, b, c = r * r, 2.0 * r * t, t * t
    dx = a * step[:, :1, 0] + b * step[:, 1:2, 0] + c * step[:, 2:, 0]
    dy = a * step[:, :1, 1] + b * step[:, 1:2, 1] + c * step[:, 2:, 1]
    result: FloatArray = width * (np.hypot(dx, dy) @ _WEIGHTS)
    return result


def _lengths(control: FloatArray, t0: FloatArray, t1: FloatArray, tolerance: float) -> FloatArray:
    """Arc length of m cubics over [t0, t1] to an absolute tolerance, shape (m,)."""
    total = np.zeros(len(control))
    owner = np.arange(len(control))
    whole = _speeds_integral(control, t0, t1)
    for _ in range(_MOST_HALVINGS):
        middle = 0.5 * (t0 + t1)
        left = _speeds_integral(control[owner], t0, middle)
        right = _speeds_integral(control[owner], middle, t1)
        halves = left + right
        # Below rounding size no halving helps: without the second bound a tolerance of 0 would
        # double the work forty times over.
        good = np.abs(halves - whole) <= np.maximum(tolerance, _ROUNDING * whole)
        np.add.at(total, owner[good], halves[good])
        if good.all():
            return total
        bad = ~good
        owner = np.concatenate([owner[bad], owner[bad]])
        t0, t1 = (
            np.concatenate([t0[bad], middle[bad]]),
            np.concatenate([middle[bad], t1[bad]]),
        )
        whole = np.concatenate([left[bad], right[bad]])
    np.add.at(total, owner, whole)
    return total


def segment_lengths(curve: Curve, tolerance: float = LENGTH_TOLERANCE_MM) -> FloatArray:
    """Arc length of each segment in mm, shape (n,).

    Parameters
    ----------
    curve : Curve
    tolerance : float
        Absolute error allowed for each segment, in mm. The error is estimated by comparing
        a 16-point Gauss-Legendre rule with the same rule on both halves; where they differ
        by more, the segment is halved.
    """
    result = np.empty(len(curve))
    lines = curve.degree == 1
    chord = curve.control[:, 3] - curve.control[:, 0]
    result[lines] = np.hypot(chord[lines, 0], chord[lines, 1])
    bent = ~lines
    count = int(bent.sum())
    if count:
        result[bent] = _lengths(curve.control[bent], np.zeros(count), np.ones(count), tolerance)
    return result


def length(curve: Curve, tolerance: float = LENGTH_TOLERANCE_MM) -> float:
    """Arc length of the whole curve in mm.

    Examples
    --------
    >>> from panelshift.outline import Curve
    >>> length(Curve.polyline([(0, 0), (3, 4), (3, 10)]))
    11.0
    """
    return float(segment_lengths(curve, tolerance).sum())


def turning(curve: Curve) -> float:
    """Net signed turn of the tangent along the curve in radians, corners included.

    Positive from the x axis towards the y axis. For a closed curve without
    self-crossings this is 2 pi or -2 pi (theorem of turning tangents).
    """
    parameters = np.linspace(0.0, 1.0, 17)
    control = np.repeat(curve.control, len(parameters), axis=0)
    inner = bezier_derivatives(control, np.tile(parameters, len(curve)))
    directions = inner.reshape(len(curve), len(parameters), 2)
    tangents = curve.end_tangents()
    directions[:, 0], directions[:, -1] = tangents[:, 0], tangents[:, 1]
    chain = directions.reshape(-1, 2)
    chain = chain[np.hypot(chain[:, 0], chain[:, 1]) > 0.0]
    if curve.closed:
        chain = np.vstack([chain, chain[:1]])
    return float(angles_between(chain[:-1], chain[1:]).sum())


def angles_between(first: FloatArray, second: FloatArray) -> FloatArray:
    """Signed angles from vectors `first` to `second`, each of shape (m, 2), in (-pi, pi]."""
    cross = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    dot = (first * second).sum(axis=1)
    result: FloatArray = np.arctan2(cross, dot)
    return result


def arc_table(curve: Curve, step: float) -> tuple[FloatArray, FloatArray]:
    """Positions along a curve and the arc length up to each.

    Parameters
    ----------
    curve : Curve
    step : float
        Largest arc length between neighbouring positions, in mm (about).

    Returns
    -------
    positions : ndarray, shape (m,)
        Increasing from 0 to n; every joint of segments is among them.
    lengths : ndarray, shape (m,)
        Arc length in mm from the start.
    """
    whole = segment_lengths(curve, 1e-4)
    counts = np.clip(np.ceil(whole / step), 1, 4096).astype(np.int64)
    index = np.repeat(np.arange(len(curve)), counts)
    offset = np.arange(len(index)) - np.repeat(np.cumsum(counts) - counts, counts)
    t0 = offset / counts[index]
    t1 = (offset + 1) / counts[index]
    parts = _lengths(curve.control[index], t0, t1, LENGTH_TOLERANCE_MM)
    positions = np.concatenate([index + t0, [float(len(curve))]])
    return positions, np.concatenate([[0.0], np.cumsum(parts)])


def position_at_length(curve: Curve, lengths: npt.ArrayLike, step: float = 0.5) -> FloatArray:
    """Positions at given arc lengths from the start (mm), clipped to the curve's ends."""
    positions, table = arc_table(curve, step)
    return np.interp(np.atleast_1d(np.asarray(lengths, dtype=np.float64)), table, positions)
