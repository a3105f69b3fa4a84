"""Smooth curves offset to one side, as Bezier curves."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from . import Curve, FloatArray
from .bezier import IntArray, bezier_derivatives, bezier_points
from .many import gathered
from .refit import refit

_TANGENT_NUDGE = 1e-7


def offset_left(curve: Curve, distance: float) -> Curve:
    """Offset a smooth curve by a distance in mm to the left of its direction.

    Left is the direction of (-dy, dx): outwards for the runs of a panel in panel
    coordinates. A negative distance offsets to the right.

    Notes
    -----
    With unit tangent T, left normal N and curvature k (positive to the left), the offset
    P + d N moves at P' (1 - d k).
    """
    return offset_all([curve], [distance])[0]


def offset_all(curves: Sequence[Curve], distances: Sequence[float]) -> list[Curve]:
    """Offset smooth curves, each by its own distance: see `offset_left`."""
    result = list(curves)
    moving = [k for k, distance in enumerate(distances) if distance != 0.0]
    if not moving:
        return result
    chosen = [curves[k] for k in moving]
    whole, owner = gathered(chosen)
    by = np.array([distances[k] for k in moving])[owner]

    def image(index: IntArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
        control, distance = whole[index], by[index]
        # A handle of no length has no tangent just at the end, but has one beside it.
        inner = np.clip(t, _TANGENT_NUDGE, 1.0 - _TANGENT_NUDGE)
        speed = bezier_derivatives(control, inner)
        # Its cube is divided by: a floor of 1e-90 keeps that from running out of exponent.
        size = np.maximum(np.hypot(speed[:, 0], speed[:, 1]), 1e-90)
        normal = np.column_stack([-speed[:, 1], speed[:, 0]]) / size[:, None]
        second = np.diff(control, n=2, axis=1) * 6.0
        bend = second[:, 0] * (1.0 - inner)[:, None] + second[:, 1] * inner[:, None]
        curvature = (speed[:, 0] * bend[:, 1] - speed[:, 1] * bend[:, 0]) / size**3
        images = bezier_points(control, t) + distance[:, None] * normal
        return images, speed * (1.0 - distance * curvature)[:, None]

    for k, moved in zip(moving, refit(chosen, image), strict=True):
        result[k] = moved
    return result
