"""Roots of cubics in Bernstein form, many at once."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from .bezier import LINE, FloatArray, IntArray

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
