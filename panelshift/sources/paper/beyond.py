"""What lies on the table beyond the strips: closed lines there are not read, and the maker is told.

Coarsely, on one picture at a time: it is enough to see that something is there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ...outline import FloatArray
from .light import Evened
from .placing import Placed
from .rectified import PIXEL_MM, opencv

_AROUND_MM: Final = 250.0
"""How far about the strips is looked."""

_COARSE: Final = 3
"""Pixels of the picture from above to one here."""

_NARROW_MM: Final = 4.0
_DARK: Final = 9.0
"""In grey levels against the paper beside it, once light and shadow are taken out and three cells
averaged each way: a pencil line of half a millimetre has 15, the grain of paper 5."""

_GAP_CELLS: Final = 5
_STEP: Final = 8
_LARGE_MM2: Final = 2500.0
_BROAD_MM: Final = 25.0
"""What is smaller or narrower is no piece of a corset."""

_MOST: Final = 6


def closed_beyond(
    placed: Placed,
    flats: Sequence[Evened],
    plane: Callable[[FloatArray, FloatArray], FloatArray],
    within: NDArray[np.bool_],
) -> tuple[tuple[float, float], ...]:
    """Middles of closed lines beyond the strips, in mm on the picture from above.

    *plane*: points of the table by pixels of that picture. *within*: what of it the strips enclose.
    """
    cv2 = opencv()
    cell = _COARSE * PIXEL_MM
    around = round(_AROUND_MM / cell)
    high, wide = (-(-side // _COARSE) for side in within.shape)
    broad, tall = wide + 2 * around, high + 2 * around
    # The way into a picture is smooth: between every eighth cell straight lines do.
    columns, rows = (
        (np.arange(0, side + _STEP, _STEP) - around + 0.5) * _COARSE - 0.5 for side in (broad, tall)
    )
    nodes = plane(columns, rows)
    x, y = np.meshgrid(np.arange(broad), np.arange(tall))
    between = tuple((part / _STEP).astype(np.float32) for part in (x, y))
    inner = np.zeros((tall, broad), dtype=np.uint8)
    small = cv2.resize(within.astype(np.uint8), (wide, high), interpolation=cv2.INTER_NEAREST)
    inner[around : around + high, around : around + wide] = small
    found: list[tuple[float, float]] = []
    for number, flat in enumerate(flats):
        seen = placed.see(nodes.reshape(-1, 2), number).pixels.reshape(nodes.shape)
        x, y = cv2.split(cv2.remap(seen.astype(np.float32), *between, cv2.INTER_LINEAR))
        down, across = flat.image.shape[:2]
        shown = (x > 1.0) & (x < across - 2.0) & (y > 1.0) & (y < down - 2.0)
        own = cv2.remap(flat.image, x, y, cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE)
        grey = cv2.cvtColor(own, cv2.COLOR_RGB2GRAY)
        side = 2 * round(0.5 * _NARROW_MM / cell) + 1
        narrow = cv2.morphologyEx(grey, cv2.MORPH_BLACKHAT, np.ones((side, side), np.uint8))
        dark = cv2.blur(narrow.astype(np.float32), (3, 3)) > _DARK
        lines = (dark & (inner == 0) & shown).astype(np.uint8)
        lines = cv2.morphologyEx(lines, cv2.MORPH_CLOSE, np.ones((_GAP_CELLS,) * 2, np.uint8))
        for x0, y0 in _holes(lines, inner):
            at = (x0 + 0.5) * cell - around * cell, (y0 + 0.5) * cell - around * cell
            if all(np.hypot(at[0] - a, at[1] - b) >= 2.0 * _BROAD_MM for a, b in found):
                found.append(at)
    return tuple(found[:_MOST])


def _holes(lines: NDArray[np.uint8], inner: NDArray[np.uint8]) -> list[tuple[float, float]]:
    """Middles, in cells, of large rooms that lines enclose; not of what the draft itself is in."""
    cv2, cell = opencv(), _COARSE * PIXEL_MM
    rings, nested = cv2.findContours(lines, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    rows, columns = np.nonzero(inner)
    draft = float(columns.mean()), float(rows.mean())
    found: list[tuple[float, float]] = []
    for ring, (_, _, _, parent) in zip(rings, [] if nested is None else nested[0], strict=True):
        if parent < 0 or cv2.contourArea(ring) * cell**2 < _LARGE_MM2:
            continue
        middle, size, _ = cv2.minAreaRect(ring)
        round_draft = cv2.pointPolygonTest(ring, draft, False) >= 0
        if min(size) * cell >= _BROAD_MM and not round_draft:
            found.append(middle)
    return found
