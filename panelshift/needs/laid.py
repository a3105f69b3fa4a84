"""Where pieces lie on the cloth: checked, pushed together along it, and laid in rows."""

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


def in_rows(pieces: Sequence[Piece], width: float, gap: float, *, nap: bool) -> list[LaidPiece]:
    """Lay pieces in rows across the cloth, then push them together along it.

    *pieces*: none wider than the cloth. *width*: of the cloth, in mm. *gap*: between any two
    pieces, in mm. *nap*: whether all must lie the same way; if not, every second row is tried
    turned as well.

    Returns: in the order of the pieces; the shortest of a few tries.
    """
    # Rounded: two pieces alike but for rounding keep the pattern's order on every machine.
    order = sorted(range(len(pieces)), key=lambda k: -round(pieces[k].length, 6))
    tries = []
    for lines in (_first_fit(pieces, order, width, gap), _best_cut(pieces, order, width, gap)):
        for turning in (False,) if nap else (False, True):
            boxed = _boxed(pieces, lines, width, gap, turning)
            pushed = pushed_together(boxed, gap)
            tries.append(pushed if fits(pushed, width, gap) else boxed)
    return min(tries, key=lambda laid: round(laid_length(laid), 3))


def _first_fit(
    pieces: Sequence[Piece], order: Sequence[int], width: float, gap: float
) -> list[list[int]]:
    """Put each piece into the first row that has room for it, the longest first.

    First fit by decreasing height: Coffman, Garey, Johnson and Tarjan, SIAM J. Comput. 9
    (1980), 808-826.
    """
    lines: list[list[int]] = []
    runs: list[float] = []
    for k in order:
        size = pieces[k].width
        for place, run in enumerate(runs):
            if run + gap + size <= width + 1e-9:
                lines[place].append(k)
                runs[place] = run + gap + size
                break
        else:
            lines.append([k])
            runs.append(size)
    return lines


def _best_cut(
    pieces: Sequence[Piece], order: Sequence[int], width: float, gap: float
) -> list[list[int]]:
    """Cut the pieces, the longest first, into rows so that the rows together are shortest.

    First fit fills the first row to the brim and leaves what happens to be wide for the
    last; here the last row may take the shortest pieces instead. Found by going through all
    places of the last cut, for one piece more at a time.
    """
    shortest = [(0.0, 0)]
    for end in range(1, len(order) + 1):
        choices = []
        run = -gap
        for start in range(end - 1, -1, -1):
            run += gap + pieces[order[start]].width
            if run > width + 1e-9 and start < end - 1:
                break
            choices.append((shortest[start][0] + gap + pieces[order[start]].length, start))
        shortest.append(min(choices))
    lines: list[list[int]] = []
    end = len(order)
    while end > 0:
        start = shortest[end][1]
        lines.append(list(order[start:end]))
        end = start
    return lines[::-1]


def _boxed(
    pieces: Sequence[Piece],
    lines: Sequence[Sequence[int]],
    width: float,
    gap: float,
    turning: bool,
) -> list[LaidPiece]:
    """Rows from the left and from the right by turns.

    The longest pieces of a row then lie behind the shortest of the row before it, where
    there is most room to push them into.
    """
    result: dict[int, LaidPiece] = {}
    top = 0.0
    for place, line in enumerate(lines):
        odd = place % 2 == 1
        run = 0.0
        for k in line:
            size = pieces[k].width
            left = width - run - size if odd else run
            result[k] = with_corner(pieces[k], turning and odd, left, top)
            run += size + gap
        top += max(pieces[k].length for k in line) + gap
    return [result[k] for k in range(len(pieces))]
