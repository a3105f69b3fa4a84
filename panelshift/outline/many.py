"""Several curves in one pass: numpy costs more for each call than for each number."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from .bezier import FloatArray, IntArray, flat_points, flat_steps
from .curve import FLATNESS_MM, Curve


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


def transformed(curves: Sequence[Curve], matrix: npt.ArrayLike) -> list[Curve]:
    """Curves under one affine map: see `Curve.transformed`."""
    if not curves:
        return []
    control, _ = gathered(curves)
    whole = Curve.trusted(control, np.concatenate([curve.degree for curve in curves]))
    return parted(whole.transformed(matrix).control, curves)


def box(curves: Iterable[Curve], tolerance: float = FLATNESS_MM) -> FloatArray:
    """((xmin, ymin), (xmax, ymax)) in mm of the polylines of some curves together."""
    control, _ = gathered(tuple(curves))
    points = flat_points(control, flat_steps(control, tolerance))
    ends = control[:, 3]
    return np.array(
        [
            np.minimum(points.min(axis=0), ends.min(axis=0)),
            np.maximum(points.max(axis=0), ends.max(axis=0)),
        ]
    )
