"""Bezier arithmetic on arrays of control points, shape (m, 4, 2): every segment is a cubic;
and roots of cubics in Bernstein form, many at once."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from ..errors import CurveError
from ..units import LONGEST_MM

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

LINE: Final = 1
QUADRATIC: Final = 2
CUBIC: Final = 3

_UNMOVED_MM: Final = 1e-9
"""Inner control points of a quadratic disagree so little by rounding alone."""


def line_control(starts: FloatArray, ends: FloatArray) -> FloatArray:
    """Control points of straight cubics, shape (m, 4, 2), from ends of shape (m, 2)."""
    weights = np.array([0.0, 1.0 / 3.0, 2.0 / 3.0, 1.0])[None, :, None]
    control: FloatArray = starts[:, None] * (1.0 - weights) + ends[:, None] * weights
    # (1 - w) a + w b is not exact at w = 1 in floating point for every a; the ends must be.
    control[:, 0], control[:, 3] = starts, ends
    return control


def of_degree(control: FloatArray, degree: IntArray) -> FloatArray:
    """Put inner control points where their degree has them, after an end was moved.

    On the line, or two thirds of the way from the ends to the quadratic's own control point: the
    mean of the two that the inner ones give.
    """
    lines = degree == LINE
    result = control.copy()
    result[lines] = line_control(control[lines, 0], control[lines, 3])
    bent = (degree == QUADRATIC) & (third_differences(control) > _UNMOVED_MM)
    ends, inner = control[bent][:, ::3], control[bent, 1:3]
    own = (1.5 * inner - 0.5 * ends).mean(axis=1, keepdims=True)
    result[bent, 1:3] = (ends + 2.0 * own) / 3.0
    return result


def third_differences(control: FloatArray) -> FloatArray:
    """Size in mm of the third difference of each segment: nothing for lines and quadratics."""
    third = control[:, 3] - control[:, 0] + 3.0 * (control[:, 1] - control[:, 2])
    return np.asarray(np.hypot(*third.T))


def refuse_unsound(control: FloatArray) -> None:
    """Refuse coordinates that are not finite or lie beyond 100 m."""
    refuse_not_finite(control)
    if np.abs(control).max() > LONGEST_MM:
        raise CurveError(
            f"a coordinate of {np.abs(control).max():.4g} mm is beyond 100 m",
            remedy="Check the drawing's units, viewBox and transforms.",
        )


def sealed(array: FloatArray) -> FloatArray:
    """Return a view of an array that cannot be written to."""
    view = np.asarray(array).view()
    view.flags.writeable = False
    return view


def numbers(values: npt.ArrayLike) -> FloatArray:
    """Return an array of numbers; `CurveError` if they are none, or make no array."""
    try:
        found = np.asarray(values)
        # Text would be read, complex numbers halved, and masked ones taken as they are.
        if found.dtype.kind in "iufO" and not np.ma.is_masked(values):
            return found.astype(np.float64, copy=False)
    except (TypeError, ValueError, OverflowError):
        pass
    raise CurveError(
        f"points that are no array of numbers: {values!r:.60}",
        remedy="Give real numbers in mm, as an array or as lists of equal length.",
    )


def pairs(points: npt.ArrayLike) -> FloatArray:
    """Return points as an array, shape (..., 2); `CurveError` if they are none."""
    found = numbers(points)
    if found.shape[-1:] != (2,):
        raise CurveError(
            f"points of shape {found.shape}, not (..., 2)",
            remedy="Give x and y of each in mm.",
        )
    return found


def row(values: npt.ArrayLike) -> FloatArray:
    """Return one finite number, or a row of them, as a row; `CurveError` if they are neither."""
    found = np.atleast_1d(numbers(values))
    if found.ndim > 1 or not np.isfinite(found).all():
        raise CurveError(
            f"positions that are no row of numbers: {values!r:.60}",
            remedy="Give one finite number, or an array of shape (m,).",
        )
    return found


def refuse_not_finite(coordinates: FloatArray) -> None:
    """Refuse coordinates that are not finite."""
    if not np.isfinite(coordinates).all():
        raise CurveError(
            "coordinates that are not finite numbers",
            remedy="Look for NaN, infinity or an empty value in its coordinates.",
        )


def flat_steps(control: FloatArray, tolerance: float) -> IntArray:
    """How many chords keep each of n cubics within `tolerance` mm, shape (n,)."""
    a, b, c, d = control[:, 0], control[:, 1], control[:, 2], control[:, 3]
    second = 6.0 * np.maximum(np.abs(a - 2.0 * b + c), np.abs(b - 2.0 * c + d))
    bound = np.hypot(second[:, 0], second[:, 1])
    return np.clip(np.ceil(np.sqrt(bound / (8.0 * tolerance))), 1, 4096).astype(np.int64)


def affine(matrix: npt.ArrayLike) -> FloatArray:
    """Return an affine map as an array, shape (2, 3); `CurveError` if it is none."""
    try:
        rows = numbers(matrix)
    except CurveError:
        rows = np.empty(0)
    if rows.shape != (2, 3) or not np.isfinite(rows).all():
        raise CurveError(
            f"a map of shape {rows.shape}, or with numbers that are not finite",
            remedy="Give ((a, c, e), (b, d, f)) for x' = a x + c y + e, y' = b x + d y + f.",
        )
    return rows


def mapped(control: FloatArray, maps: npt.ArrayLike) -> FloatArray:
    """Control points under affine maps, shape (2, 3), or (n, 2, 3) with one for each segment."""
    rows = np.asarray(maps, dtype=np.float64).reshape(-1, 2, 3)
    (a, c, e), (b, d, f) = rows.transpose(1, 2, 0)[..., None]
    x, y = control[..., 0], control[..., 1]
    # Elementwise, not as a matrix product: equal joints must stay equal to the last bit.
    return np.stack([a * x + c * y + e, b * x + d * y + f], axis=-1)


def each(counts: IntArray) -> tuple[IntArray, IntArray]:
    """For counts (2, 3): owners (0, 0, 1, 1, 1) and the number of each within its owner's."""
    owner = np.repeat(np.arange(len(counts)), counts)
    return owner, np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)


def flat_points(control: FloatArray, steps: IntArray) -> FloatArray:
    """Starts of the chords of n cubics, one cubic after the other, shape (steps.sum(), 2)."""
    index, offset = each(steps)
    return bezier_points(control[index], offset / steps[index])


def bezier_points(control: FloatArray, t: FloatArray) -> FloatArray:
    """Evaluate m cubics at m parameters, shape (m, 2)."""
    t = t[:, None]
    r = 1.0 - t
    a, b, c, d = control[:, 0], control[:, 1], control[:, 2], control[:, 3]
    result: FloatArray = r * r * (r * a + 3.0 * t * b) + t * t * (3.0 * r * c + t * d)
    return result


def bezier_derivatives(control: FloatArray, t: FloatArray) -> FloatArray:
    """Evaluate the derivatives of m cubics at m parameters, shape (m, 2)."""
    t = t[:, None]
    r = 1.0 - t
    step = 3.0 * np.diff(control, axis=1)
    result: FloatArray = r * r * step[:, 0] + 2.0 * r * t * step[:, 1] + t * t * step[:, 2]
    return result


def restricted(control: FloatArray, t0: FloatArray, t1: FloatArray) -> FloatArray:
    """Parts [t0, t1] of m cubics as cubics, shape (m, 4, 2)."""
    width = ((t1 - t0) / 3.0)[:, None]
    result = np.empty_like(control)
    result[:, 0], result[:, 3] = bezier_points(control, t0), bezier_points(control, t1)
    result[:, 1] = result[:, 0] + width * bezier_derivatives(control, t0)
    result[:, 2] = result[:, 3] - width * bezier_derivatives(control, t1)
    return result


def split(control: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
    """Split one cubic at t by de Casteljau's construction."""
    one = control[:-1] + t * np.diff(control, axis=0)
    two = one[:-1] + t * np.diff(one, axis=0)
    mid = two[0] + t * (two[1] - two[0])
    left = np.array([control[0], one[0], two[0], mid])
    right = np.array([mid, two[1], one[2], control[3]])
    return left, right


def end_tangents(control: FloatArray) -> FloatArray:
    """Unit tangents at both ends of m cubics, shape (m, 2, 2): see `Curve.end_tangents`."""
    result = np.zeros((len(control), 2, 2))
    # Handles shorter than this part of the segment's extent point nowhere in particular.
    tiny = 1e-9 * (control.max(axis=1) - control.min(axis=1)).max(axis=1)
    for side, handles in ((0, ((0, 1), (0, 2), (0, 3))), (1, ((2, 3), (1, 3), (0, 3)))):
        left = np.arange(len(control))
        for start, end in handles:
            vector = control[left, end] - control[left, start]
            norm = np.hypot(vector[:, 0], vector[:, 1])
            usable = (norm > tiny[left]) & (norm > 0.0)
            result[left[usable], side] = vector[usable] / norm[usable, None]
            left = left[~usable]
            if len(left) == 0:
                break
    return result


CONTACT_MM: Final = 1e-9
"""A curve that comes this near to a line and turns back, or ends there, touches it: rounding."""

_MOST_STEPS: Final = 80
"""Steps towards a root: Newton's take five, halving a bracket down to rounding sixty."""

_ROUNDING: Final = 4e-16


def bernstein(c: FloatArray, t: FloatArray) -> FloatArray:
    """Values of m cubics in Bernstein form, shape (m, 4), at m parameters."""
    r = 1.0 - t
    a, b, d, e = c.T
    return np.asarray(r * r * (r * a + 3 * t * b) + t * t * (3 * r * d + t * e))


def roots(c: FloatArray, degree: IntArray) -> tuple[IntArray, FloatArray]:
    """Roots in [0, 1] of m cubics in Bernstein form, and which cubic each belongs to.

    *c*: ndarray, shape (m, 4). Heights in mm. Values within 1e-9 mm of 0 at an end, or where the
    cubic turns back, count as roots, however flat it lies there. *degree*: ndarray of int, shape
    (m,). 1 for those that are known to be straight.

    Notes
    -----
    Roots of the derivative by the form of the quadratic formula that loses no digits (Press et
    al., Numerical Recipes, 5.6); then Newton's steps, or halves where they leave the bracket
    (ibid., 9.4).
    """
    ends = np.stack([np.zeros(len(c)), *_turns(c, degree), np.ones(len(c))], axis=1)
    values = np.stack(
        [c[:, 0], bernstein(c, ends[:, 1]), bernstein(c, ends[:, 2]), c[:, 3]], axis=1
    )
    touch = np.abs(values) <= CONTACT_MM
    owner, column = np.nonzero(touch)
    clear = ~(touch[:, :-1] | touch[:, 1:])
    across, part = np.nonzero(clear & (values[:, :-1] < 0.0) & (values[:, 1:] > 0.0))
    falling, fall = np.nonzero(clear & (values[:, :-1] > 0.0) & (values[:, 1:] < 0.0))
    crossed = np.concatenate([across, falling])
    part = np.concatenate([part, fall])
    sense = np.repeat([1.0, -1.0], [len(across), len(falling)])
    inner = _bracketed(c[crossed] * sense[:, None], ends[crossed, part], ends[crossed, part + 1])
    straight = degree[crossed] == LINE
    inner[straight] = c[crossed[straight], 0] / (c[crossed[straight], 0] - c[crossed[straight], 3])
    return np.concatenate([owner, crossed]), np.concatenate([ends[owner, column], inner])


def _turns(c: FloatArray, degree: IntArray) -> tuple[FloatArray, FloatArray]:
    """Where m cubics turn back, in rising order; 0 and 1 where they do not."""
    d0, d1, d2 = np.diff(c, axis=1).T
    # d0 (1 - t)^2 + 2 d1 t (1 - t) + d2 t^2 = a t^2 + 2 b t + d0
    a, b = d0 - 2.0 * d1 + d2, d1 - d0
    under = b * b - a * d0
    q = -(b + np.copysign(np.sqrt(np.maximum(under, 0.0)), b))
    with np.errstate(divide="ignore", invalid="ignore"):
        one, two = q / a, d0 / q
    bends = (under > 0.0) & (degree != LINE)
    one = np.where(bends & (one > 0.0) & (one < 1.0), one, 0.0)
    two = np.where(bends & (two > 0.0) & (two < 1.0), two, one)
    one = np.where(one > 0.0, one, two)
    return np.minimum(one, two), np.maximum(one, two)


def _bracketed(c: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Roots of m cubics that rise from below 0 at `low` to above 0 at `high`."""
    low, high = low.copy(), high.copy()
    t = 0.5 * (low + high)
    slope = 3.0 * np.diff(c, axis=1)
    open_: npt.NDArray[np.int64] = np.arange(len(c))
    for _ in range(_MOST_STEPS):
        if len(open_) == 0:
            break
        now = t[open_]
        value = bernstein(c[open_], now)
        below = value < 0.0
        low[open_[below]] = now[below]
        high[open_[~below]] = now[~below]
        r = 1.0 - now
        d0, d1, d2 = slope[open_].T
        rise = r * r * d0 + 2.0 * r * now * d1 + now * now * d2
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            step = value / rise
        a, b = low[open_], high[open_]
        new = now - step
        # A step too small to leave its place is the end, and no reason to halve the bracket.
        done = (np.abs(step) <= _ROUNDING * now) | (b - a <= _ROUNDING * now)
        inside = (new > a) & (new < b)
        t[open_] = np.where(done, now, np.where(inside, new, 0.5 * (a + b)))
        open_ = open_[~done]
    return t
