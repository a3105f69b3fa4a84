"""How a flat bar rests on uneven ground, such as the raw edge of an allowance under a half of it.

The bar touches what lies under it and goes through none of it, which leaves it free to tip about
what it touches. The cloth drawn over its two corners tips it: it is shortest where it pulls both
sides down alike. So the bar lies along the ground where it can, else it is balanced on an edge, and
however it is moved it leaps nowhere: what has a least sum of convex terms among poses that are
bounded by the ground moves as the ground does.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import FloatArray

_HALVINGS: Final = 36
"""So exactly is a tilt found: a step of 1 mm to 1e-10 mm."""

_SAME_MM: Final = 1e-12
"""Heights are alike that differ by rounding only."""

_WHOLE: Final = 1e-6
"""A bar that lies on its face but for so much of half its width lies on it wholly."""


def resting(
    across: FloatArray,
    ground: FloatArray,
    between: FloatArray,
    thick: FloatArray,
    fall: FloatArray,
) -> FloatArray:
    """How far bars, by where they rest, lift what lies on them above the ground: k of them, (k, n).

    That is beside what they fall short of the face by being flat: nothing on level ground.

    *across*: where the ground is known, (k, n), from -1 at the front corner to 1 at the back one;
    a bar that goes on beyond that lies level, as its mirror image goes on. *ground*: its height
    above the face there in mm. *between*: its height where it is parallel to the face from each
    such place to the next, (k, n - 1), else -inf: it is straight there. *thick*: of the bars, and
    *fall*: how far the face falls off from a bar's middle to its corner, in mm, (k,).
    """
    lifted = np.zeros_like(ground)
    same = (np.diff(across, axis=1) <= 0.0) | (np.abs(between - ground[:, :1]) <= _SAME_MM)
    uneven = ~(same.all(axis=1) & (np.abs(ground - ground[:, :1]) <= _SAME_MM).all(axis=1))
    own = np.flatnonzero(uneven)
    if len(own):
        across, ground, fall = across[own], ground[own], fall[own]
        bars = _Bars(across, ground - fall[:, None] * across**2, between[own], fall)
        floor = thick[own] + fall - ground.min(axis=1)
        middle, tilt = bars.balanced(floor)
        lifted[own] = middle[:, None] + tilt[:, None] * across - ground
    return lifted


@dataclass(frozen=True, eq=False)
class _Bars:
    """Bars over points of the ground, heights above planes that touch the face under them."""

    across: FloatArray
    points: FloatArray
    between: FloatArray
    fall: FloatArray

    def balanced(self, floor: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Heights of middles, and by how much back corners are higher, where the cloth is shortest.

        *floor*: how high corners of bars stand above the lowest ground that lie in their planes.
        """
        whole = (self.across[:, 0] <= -1.0 + _WHOLE) & (self.across[:, -1] >= 1.0 - _WHOLE)
        most = np.where(whole, np.ptp(self.points, axis=1), 0.0)
        low, high = -most, most
        for _ in range(_HALVINGS):
            tilt = 0.5 * (low + high)
            middle, at = self.touching(tilt)
            # Cloth that comes down from z to the face is longer by z^1.5: so it pulls by z^0.5.
            front, back = (np.sqrt(floor + middle + side * tilt) for side in (-1.0, 1.0))
            down = back * (1.0 - at) > front * (1.0 + at)
            low, high = np.where(down, low, tilt), np.where(down, tilt, high)
        tilt = 0.5 * (low + high)
        return self.touching(tilt)[0], tilt

    def touching(self, tilt: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The lowest middles of bars tilted so, and where across them they touch the ground.

        What is parallel to the face is touched where it falls off as fast as the bar.
        """
        beneath = self.points - tilt[:, None] * self.across
        most = np.argmax(beneath, axis=1)[:, None]
        middle, at = (
            np.take_along_axis(values, most, axis=1)[:, 0] for values in (beneath, self.across)
        )
        turn = -0.5 * tilt / self.fall
        own = (self.across[:, :-1] <= turn[:, None]) & (turn[:, None] <= self.across[:, 1:])
        rounded = np.where(own, self.between, -np.inf).max(axis=1) + self.fall * turn**2
        higher = rounded > middle
        return np.where(higher, rounded, middle), np.where(higher, turn, at)
