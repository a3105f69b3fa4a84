"""Smooth curves offset to one side, as Bezier curves, and what bounds such offsets together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from .bezier import FloatArray, IntArray, bezier_derivatives, bezier_points, flat_points, flat_steps
from .curve import Curve
from .many import gathered
from .planar import outer_ring
from .refit import refit

_TANGENT_NUDGE = 1e-7

_PLACES: Final = 48
"""Places on each segment at which its bend is looked at: a bend so short that it lies between
two of them is too small for any pencil."""

_HALVINGS: Final = 30
_TRACE_MM: Final = 1e-3
_SHORTEST_STEP: Final = 1e-9
"""Parts shorter than this, in positions, come from rounding where lines meet."""


def offset_all(curves: Sequence[Curve], distances: Sequence[float]) -> list[Curve]:
    """Offset smooth curves, each by its own distance in mm to the left of its direction.

    Left is the direction of (-dy, dx): outwards for the runs of a panel in panel coordinates. A
    negative distance offsets to the right.

    Notes
    -----
    With unit tangent T, left normal N and curvature k (positive to the left), the offset
    P + d N moves at P' (1 - d k).
    """
    result = list(curves)
    moving = [k for k, distance in enumerate(distances) if distance != 0.0]
    if not moving:
        return result
    chosen = [curves[k] for k in moving]
    whole, owner = gathered(chosen)
    by = np.array([distances[k] for k in moving])[owner]

    def image(index: IntArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
        control, distance = whole[index], by[index]
        speed, size, curvature = _bend(control, t)
        normal = np.column_stack([-speed[:, 1], speed[:, 0]]) / size[:, None]
        images = bezier_points(control, t) + distance[:, None] * normal
        return images, speed * (1.0 - distance * curvature)[:, None]

    for k, moved in zip(moving, refit(chosen, image), strict=True):
        result[k] = moved
    return result


def _bend(control: FloatArray, t: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Velocity, speed and curvature of m cubics at m parameters."""
    # A handle of no length has no tangent just at the end, but has one beside it.
    inner = np.clip(t, _TANGENT_NUDGE, 1.0 - _TANGENT_NUDGE)
    speed = bezier_derivatives(control, inner)
    # Its cube is divided by: a floor of 1e-90 keeps that from running out of exponent.
    size = np.maximum(np.hypot(speed[:, 0], speed[:, 1]), 1e-90)
    second = np.diff(control, n=2, axis=1) * 6.0
    bend = second[:, 0] * (1.0 - inner)[:, None] + second[:, 1] * inner[:, None]
    return speed, size, (speed[:, 0] * bend[:, 1] - speed[:, 1] * bend[:, 0]) / size**3


def turning_back(curves: Sequence[Curve], distances: Sequence[float]) -> list[list[float]]:
    """Positions between which the offset of each curve runs backwards, in pairs, in order.

    There the curve bends to the left more tightly than the distance (1 - d k < 0), and no
    point of its offset bounds the strip that lies within the distance.
    """
    control, owner = gathered(curves)
    by = np.asarray(distances)[owner]
    t = np.linspace(0.0, 1.0, _PLACES)
    each = np.repeat(np.arange(len(control)), _PLACES)
    curvature = _bend(control[each], np.tile(t, len(control)))[2].reshape(-1, _PLACES)
    back = by[:, None] * curvature > 1.0
    found: list[list[float]] = [[] for _ in curves]
    if not back.any():
        return found
    segment, place = np.nonzero(back[:, 1:] != back[:, :-1])
    low, high = t[place], t[place + 1]
    first = back[segment, place]
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        same = (by[segment] * _bend(control[segment], middle)[2] > 1.0) == first
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    starts = np.cumsum([0, *(len(curve) for curve in curves)])
    for k, curve in enumerate(curves):
        own = back[starts[k] : starts[k + 1]]
        mine = (segment >= starts[k]) & (segment < starts[k + 1])
        cuts = (segment[mine] - starts[k] + low[mine]).tolist()
        # A bend may begin or end at a joint.
        cuts += (np.flatnonzero(own[1:, 0] != own[:-1, -1]) + 1.0).tolist()
        ends = [0.0] * bool(own[0, 0]) + sorted(cuts) + [float(len(curve))] * bool(own[-1, -1])
        found[k] = ends
    return found


def outer_boundary(path: Curve) -> Curve:
    """Outer border of all that a closed curve goes round, which may cross itself at will.

    The parts of the curve itself, cut off where they cross. The curve runs clockwise (with y
    upwards) round what counts.
    """
    steps = flat_steps(path.control, _TRACE_MM)
    points = flat_points(path.control, steps)
    segment = np.repeat(np.arange(len(path)), steps)
    begins = (
        segment
        + (np.arange(len(points)) - np.repeat(np.cumsum(steps) - steps, steps)) / (steps[segment])
    )
    ends = begins + 1.0 / steps[segment]
    ring, chord = outer_ring(points)
    follows = (np.roll(chord, -1) - chord) % len(points) <= 1
    last = np.flatnonzero(~follows)
    if len(last) == 0:
        return path
    start = points[chord]
    step = np.roll(points, -1, axis=0)[chord] - start
    size = np.maximum((step * step).sum(axis=1), 1e-30)
    reach = ends[chord] - begins[chord]
    share = [
        np.clip(((at - start) * step).sum(axis=1) / size, 0.0, 1.0)
        for at in (ring, np.roll(ring, -1, axis=0))
    ]
    enters, leaves = (begins[chord] + part * reach for part in share)
    firsts = (np.roll(last, 1) + 1) % len(ring)
    stretches = np.column_stack([enters[firsts], leaves[last]])
    for k in range(len(stretches)):
        after = (k + 1) % len(stretches)
        stretches[k, 1], stretches[after, 0] = _met(path, stretches[k, 1], stretches[after, 0])
    whole = float(len(path))
    kept = [(s0, s1) for s0, s1 in stretches.tolist() if (s1 - s0) % whole > _SHORTEST_STEP]
    return Curve.chain([path.piece(s0, s1 % whole or whole) for s0, s1 in kept], closed=True)


def _met(path: Curve, one: float, two: float) -> tuple[float, float]:
    """Positions at which a curve meets itself, near two positions, by Newton's method."""
    segments = np.array([max(np.ceil(one) - 1.0, 0.0), np.floor(two)])
    t = np.array([one, two]) - segments
    segments %= len(path)
    control = path.control[segments.astype(np.int64)]
    for _ in range(4):
        points, speed = bezier_points(control, t), bezier_derivatives(control, t)
        apart = points[1] - points[0]
        divisor = speed[0, 0] * speed[1, 1] - speed[0, 1] * speed[1, 0]
        if abs(divisor) <= 1e-6 * np.hypot(*speed[0]) * np.hypot(*speed[1]):
            break
        moves = np.array(
            [
                (apart[0] * speed[1, 1] - apart[1] * speed[1, 0]) / divisor,
                (apart[0] * speed[0, 1] - apart[1] * speed[0, 0]) / divisor,
            ]
        )
        t = np.clip(t + moves, 0.0, 1.0)
    return float(segments[0] + t[0]), float(segments[1] + t[1])
