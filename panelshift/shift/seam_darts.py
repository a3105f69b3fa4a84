"""What a seam would have to leave open if its panels lay flat beside each other: its darts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ..outline import FloatArray
from .flattened import ComplexArray, nearest_motion

NO_DART_MM: Final = 0.5
"""A dart that is nowhere wider is none: what careful shears hold."""

_SHUT_MM: Final = 0.05
"""Two edges nearer than half a thread lie on each other."""

_ROUNDS: Final = 6
_MOST_TURN: Final = 0.3
"""Radians by which a panel is turned in one round."""


@dataclass(frozen=True)
class SeamDart:
    """A place where two panels' edges do not meet while they lie flat side by side.

    Parameters
    ----------
    low, high : float
        From where to where it is open, in mm above the waist.
    width : float
        In mm, where it is widest.
    at : float
        Which height that is, in mm above the waist.
    top, bottom : bool
        Whether it runs out at that edge.
    angle : float
        By how much its two sides turn against each other in all, in radians: the Gaussian
        curvature that the seam gathers there, its integral (Gauss and Bonnet).
    rows : (int, int)
        Numbers of the points of the edges between which it is open.
    """

    low: float
    high: float
    width: float
    at: float
    top: bool
    bottom: bool
    angle: float
    rows: tuple[int, int] = field(repr=False)


@dataclass(frozen=True)
class SideBySide:
    """How a panel lies beside the one before it: z goes to turn z + step, and what stays open."""

    turn: complex
    step: complex
    darts: tuple[SeamDart, ...]


def side_by_side(before: FloatArray, behind: FloatArray) -> SideBySide:
    """Lay a panel flat beside another, the edges that are sewn to each other as near as they can.

    *before*, *behind*: points of the two edges, from the bottom up, shape (n, 2), in mm in the
    panels' own axes, the first panel lying to the left of its edge.

    The second panel is moved rigidly so that nothing overlaps and the gap's area is the least: a
    linear programme in its small turn and step, solved again from where it has come to lie.
    """
    turn, step = _beside(before, behind)
    moved = turn * _complex(behind) + step
    placed = np.column_stack([moved.real, moved.imag])
    along = np.gradient(before, axis=0)
    along /= np.hypot(*along.T)[:, None]
    right = np.column_stack([along[:, 1], -along[:, 0]])
    gap = ((placed - before) * right).sum(axis=1)
    gap = np.where(gap > _SHUT_MM, gap, 0.0)
    return SideBySide(turn, step, tuple(_darts(gap, before, behind)))


def _darts(gap: FloatArray, before: FloatArray, behind: FloatArray) -> Iterator[SeamDart]:
    """The places where a gap is open, from the lowest to the highest."""
    heights = before[:, 1]
    turned = _turning(before) - _turning(behind)
    opened, last = gap > 0.0, len(gap) - 1
    steps = np.diff(np.concatenate([[False], opened, [False]]).astype(int))
    begins, ends = np.flatnonzero(steps > 0), np.flatnonzero(steps < 0)
    # Where the edges lie on each other, the middle of it parts what turns here from what there.
    middles = ((ends[:-1] + begins[1:]) // 2).tolist()
    for number, (first, end) in enumerate(zip(begins.tolist(), ends.tolist(), strict=True)):
        # From where the edges part to where they meet again.
        k0, k1 = max(first - 1, 0), min(end, last)
        low = middles[number - 1] if number else k0
        high = middles[number] if number < len(middles) else k1
        widest = k0 + int(np.argmax(gap[k0 : k1 + 1]))
        if gap[widest] >= NO_DART_MM:
            yield SeamDart(
                float(heights[k0]),
                float(heights[k1]),
                float(gap[widest]),
                float(heights[widest]),
                bool(opened[last]) and k1 == last,
                bool(opened[0]) and k0 == 0,
                float(turned[high] - turned[low]),
                (k0, k1),
            )


def _turning(edge: FloatArray) -> FloatArray:
    """Direction of an edge at each of its points, in radians, without jumps."""
    speed = np.gradient(edge, axis=0, edge_order=2)
    return np.unwrap(np.arctan2(speed[:, 1], speed[:, 0]))


def _beside(before: FloatArray, behind: FloatArray) -> tuple[complex, complex]:
    """The turn and the step that bring the second edge to the first."""
    from scipy.optimize import linprog

    fixed, drawn = _complex(before), _complex(behind)
    turn, step = nearest_motion(drawn, fixed)
    aim = fixed.mean()
    moved = turn * drawn + step
    along = np.gradient(fixed)
    weight = np.abs(along)
    along = along / weight
    right = -1j * along
    for _ in range(_ROUNDS):
        apart = moved - fixed
        arm = 1j * (moved - aim)
        # By the turn, and the steps along x and y.
        gaps = np.column_stack([_dot(right, arm), right.real, right.imag])
        slips = np.column_stack([_dot(along, arm), along.real, along.imag])
        found = linprog(
            weight @ gaps,
            A_ub=-gaps,
            b_ub=_dot(right, apart),
            A_eq=(weight @ slips)[None],
            b_eq=[-float(weight @ _dot(along, apart))],
            bounds=[(-_MOST_TURN, _MOST_TURN), (None, None), (None, None)],
        )
        by, x, y = np.asarray(found.x).tolist()
        moved = aim + np.exp(1j * by) * (moved - aim) + x + 1j * y
    return nearest_motion(drawn, moved)


def _complex(points: FloatArray) -> ComplexArray:
    return np.asarray(points[:, 0] + 1j * points[:, 1])


def _dot(one: ComplexArray, two: ComplexArray) -> FloatArray:
    return np.asarray((np.conj(one) * two).real)
