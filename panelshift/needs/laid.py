"""Where pieces lie on the cloth, and how they are pushed together along it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.planar import outward, too_near
from .pieces import AS_DRAWN, MIRROR, Piece

VERIFY_MM: Final = 0.01
"""By how much a piece may miss its clearance or the edge of the cloth: rounding, not cloth."""

_SLIDE_TOLERANCE_MM: Final = 0.05
_MOST_PASSES: Final = 6


@dataclass(frozen=True, eq=False)
class LaidPiece:
    """A piece in its place.

    Parameters
    ----------
    turned : bool
        Whether it is turned by half a turn: its top points along the cloth to larger y.
    at : ndarray, shape (2,)
        Where the piece's origin comes to lie, in mm: across the cloth from its left edge,
        along it from its beginning.
    """

    piece: Piece
    turned: bool
    at: FloatArray

    @property
    def name(self) -> str:
        """Name of the panel."""
        return self.piece.name

    @property
    def copy(self) -> int:
        """Which of the panel's pieces it is, from 1."""
        return self.piece.copy

    @property
    def mirrored(self) -> bool:
        """Whether it is cut as the mirror image of the draft."""
        return self.piece.mirrored

    @property
    def matrix(self) -> FloatArray:
        """Affine map, shape (2, 3), from the upright panel about its waist's middle to the cloth.

        Its determinant is -1 for a mirrored piece, otherwise 1. The upright panel is
        that of `panelshift.cutting.composing.upright`.
        """
        sign = -1.0 if self.turned else 1.0
        linear = sign * (MIRROR if self.mirrored else AS_DRAWN)[:, :2]
        return np.column_stack([linear, self.at])

    @property
    def outline(self) -> Curve:
        """Cut line on the cloth, in mm."""
        sign = -1.0 if self.turned else 1.0
        return self.piece.outline.transformed([[sign, 0.0, self.at[0]], [0.0, sign, self.at[1]]])

    @cached_property
    def ring(self) -> FloatArray:
        """Cut line on the cloth as a polygon, shape (m, 2), in mm."""
        sign = -1.0 if self.turned else 1.0
        return sign * self.piece.ring + self.at

    @cached_property
    def box(self) -> FloatArray:
        """((xmin, ymin), (xmax, ymax)) on the cloth, in mm."""
        return np.array([self.ring.min(axis=0), self.ring.max(axis=0)])

    def moved(self, x: float, y: float) -> LaidPiece:
        """Return it moved across and along the cloth by mm."""
        return LaidPiece(self.piece, self.turned, self.at + np.array([x, y]))


def with_corner(piece: Piece, turned: bool, x: float, y: float) -> LaidPiece:
    """Place a piece with the near left corner of its box at a point of the cloth."""
    loose = LaidPiece(piece, turned, np.zeros(2))
    return loose.moved(x - float(loose.box[0, 0]), y - float(loose.box[0, 1]))


def laid_length(laid: Sequence[LaidPiece]) -> float:
    """Length of cloth that the pieces take up, in mm."""
    return max(float(lying.box[1, 1]) for lying in laid)


def fits(laid: Sequence[LaidPiece], width: float, gap: float) -> bool:
    """Whether all pieces lie on cloth of a width in mm, a gap in mm between any two."""
    boxes = np.array([lying.box for lying in laid])
    on_cloth = boxes[:, 0].min() >= -VERIFY_MM and boxes[:, 1, 0].max() <= width + VERIFY_MM
    if not on_cloth:
        return False
    return not too_near([lying.ring for lying in laid], gap - VERIFY_MM)


def pushed_together(laid: Sequence[LaidPiece], gap: float) -> list[LaidPiece]:
    """Push every piece towards the beginning of the cloth until it meets another.

    *laid*: a gap in mm between any two. *gap*: to be kept.

    Returns: in the same order; pieces move along the cloth only, and none moves away from its
    beginning.
    """
    hulls = [outward(lying.ring, 0.5 * gap, _SLIDE_TOLERANCE_MM) for lying in laid]
    spans = [lying.box[:, 0] for lying in laid]
    # The nearest first: each then leaves room for those behind it.
    result = list(laid)
    for _ in range(_MOST_PASSES):
        order = sorted(range(len(result)), key=lambda k: float(result[k].box[0, 1]))
        furthest = 0.0
        for k in order:
            free = float(result[k].box[0, 1])
            for other, hull in enumerate(hulls):
                # Side by side they pass each other, though their hulls may touch.
                beside = max(spans[k][0] - spans[other][1], spans[other][0] - spans[k][1])
                if other != k and free > 0.0 and beside < gap - 1e-6:
                    free = min(free, _room_before(hulls[k], hull))
            if free > 0.0:
                result[k] = result[k].moved(0.0, -free)
                hulls[k] = hulls[k] - np.array([0.0, free])
                furthest = max(furthest, free)
        if furthest < VERIFY_MM:
            break
    return result


def _room_before(moving: FloatArray, fixed: FloatArray) -> float:
    """How far one ring can go towards smaller y before it meets another; inf if it never does.

    Two polygons that slide along an axis meet first with a corner of one on a side of the
    other, so that the smallest distance from corner to side along the axis is the answer.
    """
    ahead = _heights(moving, fixed, sign=1.0)
    behind = _heights(fixed, moving, sign=-1.0)
    return max(min(ahead, behind), 0.0)


def _heights(corners: FloatArray, ring: FloatArray, *, sign: float) -> float:
    """Smallest distance from a ring's sides to corners beyond them along y (or before)."""
    a, b = ring, np.roll(ring, -1, axis=0)
    run = b[:, 0] - a[:, 0]
    steep = np.abs(run) < 1e-12
    t = (corners[:, None, 0] - a[None, :, 0]) / np.where(steep, 1.0, run)
    side = a[None, :, 1] + t * (b[:, 1] - a[:, 1])
    gaps = sign * (corners[:, None, 1] - side)
    # Overlaps by rounding count as touching: the piece then stays where it is.
    met = ~steep[None, :] & (t >= 0.0) & (t <= 1.0) & (gaps > -VERIFY_MM)
    return float(gaps[met].min()) if met.any() else np.inf
