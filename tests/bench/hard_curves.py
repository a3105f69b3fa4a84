"""Curves on which a fixed quadrature fails, with their lengths in closed form."""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np

from panelshift.outline import FloatArray

SIZE_MM: Final = 100.0


@cache
def all_hard() -> tuple[FloatArray, FloatArray]:
    """Control points, shape (n, 4, 2), and exact lengths in mm, shape (n,)."""
    curves = [cusp(float(place)) for place in np.linspace(0.0, 0.4999, 400)]
    curves += [
        hairpin(float(place), float(width))
        for place in np.linspace(0.01, 0.5, 20)
        for width in np.logspace(-6.0, 0.0, 20)
    ]
    return np.array([control for control, _ in curves]), np.array([size for _, size in curves])


def cusp(start: float) -> tuple[FloatArray, float]:
    """The part from `start` of (0, 0) (1, 1) (0, 1) (1, 0), which comes to a point at t = 1/2.

    With s = 1 - 2 t its speed is 3 |s| sqrt(1 + s^2).
    """
    whole = SIZE_MM * np.array([(0.0, 0.0), (1.0, 1.0), (0.0, 1.0), (1.0, 0.0)])
    # De Casteljau's construction at `start`; its last points are those of the part after it.
    one = whole[:-1] + start * np.diff(whole, axis=0)
    two = one[:-1] + start * np.diff(one, axis=0)
    first = two[0] + start * (two[1] - two[0])
    s = np.array([1.0 - 2.0 * start, 1.0])
    return (
        np.array([first, two[1], one[2], whole[3]]),
        0.5 * SIZE_MM * float(((1.0 + s * s) ** 1.5 - 1.0).sum()),
    )


def hairpin(place: float, width: float) -> tuple[FloatArray, float]:
    """A parabola (width s, s^2) that turns round sharply at t = `place`, where s = t - place."""
    ends = np.array([-place, 1.0 - place])
    speed = np.hypot(width, 2.0 * ends)
    upto = 0.5 * ends * speed + 0.25 * width**2 * np.arcsinh(2.0 * ends / width)
    (a, b) = ends
    x = width * np.linspace(a, b, 4)
    # The blossom of s^2 gives the cubic's control points.
    y = np.array([a * a, (a * a + 2.0 * a * b) / 3.0, (b * b + 2.0 * a * b) / 3.0, b * b])
    return SIZE_MM * np.column_stack([x, y]), SIZE_MM * float(upto[1] - upto[0])
