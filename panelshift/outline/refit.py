"""Carry a curve through a smooth plane map and fit Bezier segments to the image.

Used for the shift of a panel, and for offsets, whose map moves a point along the curve's own
normal.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import comb
from typing import Final

import numpy as np
import numpy.typing as npt

from .bezier import (
    CUBIC,
    LINE,
    FloatArray,
    IntArray,
    line_control,
    of_degree,
    refuse_unsound,
)
from .curve import Curve
from .many import gathered

REFIT_TOLERANCE_MM: Final = 0.005
"""Largest distance between a mapped curve and its fit: a twentieth of a thread."""

_MOST_HALVINGS: Final = 12
_PROBES = np.array([0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875])
_BERNSTEIN = np.stack(
    [comb(3, k) * _PROBES**k * (1.0 - _PROBES) ** (3 - k) for k in range(4)], axis=1
)
"""Weights of a cubic's control points at the probes, shape (7, 4)."""

_PLACES: Final = 2 + len(_PROBES)
"""Points of each part at which its image is asked for: both ends, and the probes."""

CurveMap = Callable[[IntArray, FloatArray], tuple[FloatArray, FloatArray]]
"""Takes m segment indices and m Bezier parameters; returns the images, shape (m, 2), and
their derivatives with respect to the parameter, shape (m, 2)."""

CopiesMap = Callable[[IntArray, FloatArray, IntArray], tuple[FloatArray, FloatArray]]
"""The same for several images of each segment: it takes besides which image is meant, shape (m,),
or all of them, (copies, 1), and then returns shapes (copies, m, 2)."""


def refit(
    curves: Sequence[Curve], image: CurveMap, tolerance: float = REFIT_TOLERANCE_MM
) -> list[Curve]:
    """Fit Bezier segments to the images of curves.

    Each segment is split in halves until the cubic Hermite curve through the images and
    image tangents of its ends is within `tolerance`. A straight segment whose image is
    straight to that tolerance stays a single line.

    *curves*: in the source plane. *image*: the map along the curves (see `CurveMap`); indices
    number the segments of all curves, one curve after the other. *tolerance*: largest distance from
    the true image in mm, checked at seven inner points of every fitted segment.

    Returns: the joints of each include the images of all joints of its source, in order.
    """
    _, curve_of = gathered(curves)
    drawn = np.concatenate([curve.degree for curve in curves])

    def one(index: IntArray, t: FloatArray, _: IntArray) -> tuple[FloatArray, FloatArray]:
        return image(index, t)

    control, degree, source = refit_copies(drawn, one, 1, tolerance)
    owner = curve_of[source]
    same = owner[1:] == owner[:-1]
    control[1:][same, 0] = control[:-1][same, 3]
    ends = np.searchsorted(owner, np.arange(len(curves) + 1)).tolist()
    parts = list(zip(curves, ends[:-1], ends[1:], strict=True))
    for curve, first, last in parts:
        if curve.closed:
            control[last - 1, 3] = control[first, 0]
    # A line that begins where the one before it ends may not be where its own image begins.
    control = of_degree(control, degree)
    refuse_unsound(control)
    # Before the curves take their parts: a view keeps the flag that it was made with.
    control.flags.writeable = False
    degree.flags.writeable = False
    return [
        Curve.trusted(control[first:last], degree[first:last], curve.closed)
        for curve, first, last in parts
    ]


def refit_copies(
    degree: IntArray, image: CopiesMap, copies: int, tolerance: float = REFIT_TOLERANCE_MM
) -> tuple[FloatArray, IntArray, IntArray]:
    """Fit Bezier segments to several images of many segments at once.

    *degree*: ndarray of int, shape (n,). What each source segment was drawn as. *image*: the maps
    along each segment (see `CopiesMap`). The first time it is asked for all images of the same
    points: what does not depend on the image is worked out once. *copies*: how many images there
    are. *tolerance*: as for `refit`.

    Returns: *control*, ndarray, shape (m, 4, 2): fitted segments, image by image in the order of
    their sources; *degree*, ndarray of int, shape (m,); *source*, ndarray of int, shape (m,): image
    times n plus index of the source segment of each.
    """
    count = len(degree)
    index = np.arange(copies * count)
    t0, t1 = np.zeros(len(index)), np.ones(len(index))
    segment, every = np.arange(count), np.arange(copies)[:, None]
    asked = image(*_asked(segment, t0[:count], t1[:count]), every)
    images, speeds = (
        part.reshape(copies, _PLACES, count, 2).swapaxes(0, 1).reshape(_PLACES, -1, 2)
        for part in asked
    )
    control, good = _fit(images, speeds, t1 - t0, tolerance)
    fitted = np.full(len(index), CUBIC)
    straight = np.tile(degree == LINE, copies)
    straight &= _bulge(images) <= tolerance
    control[straight] = line_control(images[0, straight], images[1, straight])
    fitted[straight] = LINE
    good |= straight
    done = [(index[good], t0[good], control[good], fitted[good])]
    for halving in range(1, _MOST_HALVINGS + 1):
        bad = ~good
        if not bad.any():
            break
        middle = 0.5 * (t0[bad] + t1[bad])
        index = np.tile(index[bad], 2)
        t0, t1 = np.concatenate([t0[bad], middle]), np.concatenate([middle, t1[bad]])
        copy, segment = np.divmod(index, count)
        asked = image(*_asked(segment, t0, t1), np.tile(copy, _PLACES))
        images, speeds = (part.reshape(_PLACES, -1, 2) for part in asked)
        control, good = _fit(images, speeds, t1 - t0, tolerance)
        if halving == _MOST_HALVINGS:
            good[:] = True
        done.append((index[good], t0[good], control[good], np.full(int(good.sum()), CUBIC)))
    if len(done) == 1:
        return done[0][2], done[0][3], done[0][0]
    owners = np.concatenate([part[0] for part in done])
    order = np.lexsort((np.concatenate([part[1] for part in done]), owners))
    control = np.concatenate([part[2] for part in done])[order]
    fitted = np.concatenate([part[3] for part in done])[order]
    return control, fitted, owners[order]


def _asked(index: IntArray, t0: FloatArray, t1: FloatArray) -> tuple[IntArray, FloatArray]:
    """Where images of parts [t0, t1] are asked for: ends, then probes, `_PLACES` times m."""
    # Ends and probes of all parts in one call: the map's cost is its calls.
    probes = t0 + (t1 - t0) * _PROBES[:, None]
    return np.tile(index, _PLACES), np.concatenate([t0, t1, probes.ravel()])


def _fit(
    images: FloatArray, speeds: FloatArray, width: FloatArray, tolerance: float
) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Fit one Hermite cubic to each part; tell which are within tolerance.

    Images and speeds have shape (places, m, 2), widths (m,).
    """
    third = (width / 3.0)[:, None]
    control = np.stack(
        [images[0], images[0] + speeds[0] * third, images[1] - speeds[1] * third, images[1]]
    )
    apart = images[2:] - np.einsum("pk,kmc->pmc", _BERNSTEIN, control)
    error = np.sqrt((apart * apart).sum(axis=2).max(axis=0))
    return np.ascontiguousarray(control.swapaxes(0, 1)), error <= tolerance


def _bulge(images: FloatArray) -> FloatArray:
    """Largest distance of probes from the chord of each part, shape (m,)."""
    starts, ends, probes = images[0], images[1], images[2:]
    chord = ends - starts
    size = np.hypot(chord[:, 0], chord[:, 1])
    safe = np.where(size > 0.0, size, 1.0)
    across = probes - starts
    cross = chord[:, 0] * across[..., 1] - chord[:, 1] * across[..., 0]
    distance: FloatArray = np.abs(cross / safe).max(axis=0)
    return np.where(size > 0.0, distance, np.hypot(across[..., 0], across[..., 1]).max(axis=0))
