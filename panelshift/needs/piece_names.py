"""Where the name of each piece stands in a layout's picture, and how large."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..sheets.lettering import width
from .laid import LaidPiece

_SHRINK: Final = 0.9
_LEVELS: Final = 9
"""Places along a piece that are tried for its name."""
_SAMPLES: Final = 7
"""Lines across the piece on which the room for a name is measured."""


@dataclass(frozen=True, eq=False)
class Name:
    """What is written on a piece.

    Parameters
    ----------
    lines : tuple of str
        One under the other, read from the bottom of the piece to its top.
    full : tuple of str
        Its name, and whether it is mirrored.
    at : ndarray, shape (2,)
        Middle of the lines, in mm on the cloth.
    size : float
        Font size in mm of cloth.
    turned : bool
        Whether the piece, and with it the name, is turned.
    key : str
        Not empty if the name has no room: then `lines` holds only this number.
    """

    lines: tuple[str, ...]
    full: tuple[str, ...]
    at: FloatArray
    size: float
    turned: bool
    key: str = ""


def names_in(laid: Sequence[LaidPiece], size: float, smallest: float, line: float) -> list[Name]:
    """Find room for the name of each piece.

    *size*, *smallest*: font size to try first, and the least, in mm of cloth. *line*: distance of
    lines as a part of the font size.
    """
    names = []
    keys: dict[tuple[str, ...], str] = {}
    for lying in laid:
        full = (lying.name, "mirrored") if lying.mirrored else (lying.name,)
        one_line = (", ".join(full),)
        name = _fitted(lying, full, (full, one_line), size, smallest, line)
        if name is None:
            key = keys.setdefault(full, str(len(keys) + 1))
            at, _ = _roomiest(lying.ring, smallest, np.inf)
            name = Name((key,), full, at, smallest, lying.turned, key)
        names.append(name)
    return names


def _fitted(
    lying: LaidPiece,
    full: tuple[str, ...],
    forms: Sequence[tuple[str, ...]],
    size: float,
    smallest: float,
    line: float,
) -> Name | None:
    while size >= smallest:
        for lines in forms:
            run = size * max(width(text) for text in lines)
            needed = line * size * len(lines)
            at, room = _roomiest(lying.ring, run, needed)
            if room >= needed:
                return Name(lines, full, at, size, lying.turned)
        size *= _SHRINK
    return None


def _roomiest(ring: FloatArray, run: float, enough: float) -> tuple[FloatArray, float]:
    """Middle and width in mm of a strip along the cloth that is as long as a run.

    The one nearest to the middle that is wide enough, or else the widest.
    """
    low, high = float(ring[:, 1].min()), float(ring[:, 1].max())
    middle = 0.5 * (low + high)
    best = (np.array([float(ring[:, 0].mean()), middle]), 0.0)
    if run >= high - low:
        return best
    spare = 0.5 * (high - low - run) * 0.9
    places = middle + spare * np.linspace(-1.0, 1.0, _LEVELS)
    for place in sorted(places, key=lambda y: abs(y - middle)):
        left, right = _strip(ring, place - 0.5 * run, place + 0.5 * run)
        if right - left > best[1]:
            best = (np.array([0.5 * (left + right), float(place)]), right - left)
        if best[1] >= enough:
            break
    return best


def _strip(ring: FloatArray, low: float, high: float) -> tuple[float, float]:
    """Ends across the cloth of the widest strip inside a ring between two lengths."""
    a, b = ring[:-1], ring[1:]
    strips = [(-np.inf, np.inf)]
    for y in np.linspace(low, high, _SAMPLES):
        cross = (a[:, 1] - y) * (b[:, 1] - y) < 0.0
        t = (y - a[cross, 1]) / (b[cross, 1] - a[cross, 1])
        hits = np.sort(a[cross, 0] + t * (b[cross, 0] - a[cross, 0]))
        # Inside lies between every other pair of crossings: a hollow piece has several.
        inside = list(zip(hits[0::2], hits[1::2], strict=False))
        strips = [
            (max(left, float(x0)), min(right, float(x1)))
            for left, right in strips
            for x0, x1 in inside
            if min(right, x1) > max(left, x0)
        ]
    if not strips:
        return 0.0, 0.0
    return max(strips, key=lambda strip: strip[1] - strip[0])
