"""Lengths below which no layout can be, however clever.

Three reasons, the strongest of which counts:

- the pieces' area must lie on the cloth: length at least area / width;
- the longest piece lies along the cloth;
- on a cloth shorter than twice a piece, the piece must cross the line half way along: it has
  no room on either side. All pieces that must cross it lie side by side there, and cannot be
  together wider than the cloth.

The third is this package's own, and sharp for panels, which are long, narrow and nearly alike.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..outline import FloatArray
from .laid import VERIFY_MM
from .pieces import Piece


def lower_bound(pieces: Sequence[Piece], width: float, gap: float) -> float:
    """Length in mm that pieces on the grain take up at least, half turns allowed.

    *width*: of the cloth, in mm. *gap*: least distance in mm between two pieces.
    """
    profiles = [_profile(piece) for piece in pieces]
    by_area = sum(piece.area for piece in pieces) / width
    longest = max(piece.length for piece in pieces)
    # The gap counts across the line, or along the cloth, but not fully both ways at once.
    across = _half_way_bound(profiles, width, gap, 0.0)
    along = _half_way_bound(profiles, width, 0.0, gap)
    return max(by_area, longest, across, along)


def _half_way_bound(
    profiles: Sequence[tuple[FloatArray, FloatArray]], width: float, across: float, along: float
) -> float:
    """Greatest length at which the pieces that must cross the middle do not fit, or 0.

    Notes
    -----
    Let a piece have length l and the layout length L < 2 l. A point of the piece that is h
    from its end lies on the middle line if h is L/2 less where the piece begins, which is
    from 0 to L - l: so h is from l - L/2 to L/2, turned or not. The piece's width on the line
    is at least its least width there. With growing L the range only widens and fewer pieces
    must cross, so that halving finds the length.

    A gap along the cloth counts by taking each piece, and the cloth, as longer by it: pieces
    a gap apart do not overlap when each is smeared by the gap along the cloth, and the
    smeared piece is as wide at h (l + gap) / l as the piece at h, or wider.
    """
    lengths = np.array([float(heights[-1, 1]) for heights, _ in profiles])
    room = width + VERIFY_MM * len(profiles)

    def too_wide(length: float) -> bool:
        half = 0.5 * (length + along)
        total = -across
        for (heights, widths), own in zip(profiles, lengths, strict=True):
            if own + along > half:
                squeeze = own / (own + along)
                low, high = (own + along - half) * squeeze, half * squeeze
                total += across + _least_width(heights, widths, low, min(high, own))
        return bool(total > room)

    low, high = float(lengths.max()), 2.0 * float(lengths.max()) + along
    if not too_wide(low):
        return 0.0
    while high - low > VERIFY_MM:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if too_wide(middle) else (low, middle)
    return low


def _profile(piece: Piece) -> tuple[FloatArray, FloatArray]:
    """Slabs of a piece between its corners: heights and widths at both ends, shape (n, 2).

    Within a slab the width, summed over all parts of the piece, is linear in the height.
    """
    ring = piece.ring
    levels = np.unique(ring[:, 1])
    # Slabs thinner than rounding would have widths of nothing but noise.
    levels = levels[np.concatenate([[True], np.diff(levels) > 1e-6])]
    bottom, top = levels[:-1], levels[1:]
    thirds = np.stack([(2.0 * bottom + top) / 3.0, (bottom + 2.0 * top) / 3.0], axis=1)
    inner = np.array([[_width_at(ring, y) for y in pair] for pair in thirds])
    # From the values at a third and two thirds to those at the ends.
    step = inner[:, 1] - inner[:, 0]
    ends = np.stack([inner[:, 0] - step, inner[:, 1] + step], axis=1)
    heights = np.stack([bottom, top], axis=1) - levels[0]
    return heights, np.maximum(ends, 0.0)


def _width_at(ring: FloatArray, y: float) -> float:
    a, b = ring[:-1], ring[1:]
    cross = (a[:, 1] - y) * (b[:, 1] - y) < 0.0
    t = (y - a[cross, 1]) / (b[cross, 1] - a[cross, 1])
    hits = np.sort(a[cross, 0] + t * (b[cross, 0] - a[cross, 0]))
    return float((hits[1::2] - hits[0::2]).sum())


def _least_width(heights: FloatArray, widths: FloatArray, low: float, high: float) -> float:
    """Least width in mm between two heights."""
    met = (heights[:, 1] >= low) & (heights[:, 0] <= high)
    bottom, top = heights[met].T
    first, last = widths[met].T
    rate = (last - first) / (top - bottom)
    at_low = first + rate * (np.clip(low, bottom, top) - bottom)
    at_high = first + rate * (np.clip(high, bottom, top) - bottom)
    return float(min(at_low.min(), at_high.min()))
