"""Carry a curve through a smooth plane map and fit Bezier segments to the image.

Used for the shift of a panel, and for offsets (the map then moves a point along the
curve's own normal).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import comb
from typing import Final

import numpy as np

from .bezier import CUBIC, LINE, FloatArray, IntArray, line_control
from .curve import Curve, refuse_unsound
from .many import gathered

REFIT_TOLERANCE_MM: Final = 0.005
"""Largest distance between a mapped curve and its fit: a twentieth of a thread."""

_MOST_HALVINGS: Final = 12
_PROBES = np.array([0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875])
_BERNSTEIN = np.stack(
    [comb(3, k) * _PROBES**k * (1.0 - _PROBES) ** (3 - k) for k in range(4)], axis=1
)
"""Weights of a cubic's control points at the probes, shape (7, 4)."""

CurveMap = Callable[[IntArray, FloatArray], tuple[FloatArray, FloatArray]]
"""Takes m segment indices and m Bezier parameters; returns the images, shape (m, 2), and
their derivatives with respect to the parameter, shape (m, 2)."""


def refit(curve: Curve, image: CurveMap, tolerance: float = REFIT_TOLERANCE_MM) -> Curve:
    """Fit Bezier segments to the image of a curve.

    Each segment is split in halves until the cubic Hermite curve through the images and
    image tangents of its ends is within `tolerance`. A straight segment whose image is
    straight to that tolerance stays a single line.

    Parameters
    ----------
    curve : Curve
        The curve in the source plane.
    image : callable
        The map along the curve (see `CurveMap`).
    tolerance : float
        Largest distance from the true image in mm, checked at seven inner points of every
        fitted segment.

    Returns
    -------
    Curve
        Its joints include the images of all joints of the source, in order.
    """
    return refit_all([curve], image, tolerance)[0]


def refit_all(
    curves: Sequence[Curve], image: CurveMap, tolerance: float = REFIT_TOLERANCE_MM
) -> list[Curve]:
    """Fit the images of several curves in one pass; see `refit`.

    The map's indices number the segments of all curves, one curve after the other.
    """
    _, curve_of = gathered(curves)
    drawn = np.concatenate([curve.degree for curve in curves])
    control, degree, source = refit_segments(drawn, image, tolerance)
    owner = curve_of[source]
    same = owner[1:] == owner[:-1]
    control[1:][same, 0] = control[:-1][same, 3]
    ends = np.searchsorted(owner, np.arange(len(curves) + 1)).tolist()
    parts = list(zip(curves, ends[:-1], ends[1:], strict=True))
    for curve, first, last in parts:
        if curve.closed:
            control[last - 1, 3] = control[first, 0]
    refuse_unsound(control)
    # Before the curves take their parts: a view keeps the flag that it was made with.
    control.flags.writeable = False
    degree.flags.writeable = False
    return [
        Curve.trusted(control[first:last], degree[first:last], curve.closed)
        for curve, first, last in parts
    ]


def refit_segments(
    degree: IntArray, image: CurveMap, tolerance: float = REFIT_TOLERANCE_MM
) -> tuple[FloatArray, IntArray, IntArray]:
    """Fit Bezier segments to the images of many segments at once, of any number of curves.

    Parameters
    ----------
    degree : ndarray of int, shape (n,)
        What each source segment was drawn as.
    image : callable
        The map along each segment (see `CurveMap`).
    tolerance : float
        As for `refit`.

    Returns
    -------
    control : ndarray, shape (m, 4, 2)
        Fitted segments, in the order of their sources.
    degree : ndarray of int, shape (m,)
    source : ndarray of int, shape (m,)
        Index of the source segment of each.
    """
    count = len(degree)
    index = np.arange(count)
    t0, t1 = np.zeros(count), np.ones(count)
    done: list[tuple[IntArray, FloatArray, FloatArray, IntArray]] = []
    for halving in range(_MOST_HALVINGS + 1):  # pragma: no branch - the last round ends it
        control, fitted, good = _fit(degree, image, index, t0, t1, tolerance, halving == 0)
        if halving == _MOST_HALVINGS:
            good[:] = True
        done.append((index[good], t0[good], control[good], fitted[good]))
        if good.all():
            break
        bad = ~good
        middle = 0.5 * (t0[bad] + t1[bad])
        index, t0, t1 = (
            np.concatenate([index[bad], index[bad]]),
            np.concatenate([t0[bad], middle]),
            np.concatenate([middle, t1[bad]]),
        )
    if len(done) == 1:
        return done[0][2], done[0][3], done[0][0]
    owners = np.concatenate([part[0] for part in done])
    starts = np.concatenate([part[1] for part in done])
    order = np.lexsort((starts, owners))
    control = np.concatenate([part[2] for part in done])[order]
    fitted = np.concatenate([part[3] for part in done])[order]
    return control, fitted, owners[order]


def _fit(
    drawn: IntArray,
    image: CurveMap,
    index: IntArray,
    t0: FloatArray,
    t1: FloatArray,
    tolerance: float,
    whole: bool,
) -> tuple[FloatArray, IntArray, IntArray]:
    """Fit one Hermite cubic (or line) to each part; tell which are within tolerance."""
    width, many = t1 - t0, len(_PROBES)
    # Ends and probes of all parts in one call: the map's cost is its calls.
    places = np.concatenate([t0, t1, (t0[:, None] + width[:, None] * _PROBES).ravel()])
    images, speeds = image(np.concatenate([index, index, np.repeat(index, many)]), places)
    count = len(index)
    starts, ends, probes = images[:count], images[count : 2 * count], images[2 * count :]
    third = (width / 3.0)[:, None]
    control = np.empty((count, 4, 2))
    control[:, 0], control[:, 3] = starts, ends
    control[:, 1] = starts + speeds[:count] * third
    control[:, 2] = ends - speeds[count : 2 * count] * third
    degree = np.full(count, CUBIC)
    fitted = np.einsum("pk,mkc->mpc", _BERNSTEIN, control)
    apart = probes.reshape(-1, many, 2) - fitted
    error = np.sqrt((apart * apart).sum(axis=2).max(axis=1))
    good = error <= tolerance
    if whole:
        straight = drawn[index] == LINE
        straight &= _bulge(starts, ends, probes.reshape(-1, many, 2)) <= tolerance
        control[straight] = line_control(starts[straight], ends[straight])
        degree[straight] = LINE
        good |= straight
    return control, degree, good


def _bulge(starts: FloatArray, ends: FloatArray, probes: FloatArray) -> FloatArray:
    """Largest distance of probes, shape (m, k, 2), from the chords, shape (m,)."""
    chord = ends - starts
    size = np.hypot(chord[:, 0], chord[:, 1])
    safe = np.where(size > 0.0, size, 1.0)
    across = probes - starts[:, None]
    cross = chord[:, None, 0] * across[..., 1] - chord[:, None, 1] * across[..., 0]
    distance: FloatArray = np.abs(cross / safe[:, None]).max(axis=1)
    return np.where(size > 0.0, distance, np.hypot(across[..., 0], across[..., 1]).max(axis=1))
