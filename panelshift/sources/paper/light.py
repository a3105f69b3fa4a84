"""Pictures with their paper equally light all over, and where it ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from . import cards
from .placing import Placed
from .rectified import opencv
from .sightings import Picture

PAPER: Final = 245
"""The lightness that paper is given."""

_INK_MM: Final = 6.0
"""What is narrower than that is ink, and the paper's lightness is taken beside it."""

_BAND: Final = 512
"""Rows that are made at a time, so that little is held at once."""

_EDGE: Final = 1.3
"""How many times as light the paper is as a table beside it, within `_EDGE_MM`."""

_EDGE_MM: Final = 7.0


@dataclass(frozen=True, eq=False)
class Evened:
    """A picture with its paper equally light all over.

    *image*: RGB. *edges*: where light and dark ground meet, such as at the border of a paper on a
    table, on a picture that is smaller by *less*.
    """

    image: NDArray[np.uint8]
    edges: NDArray[np.uint8]
    less: int


def evened(placed: Placed, number: int, picture: Picture) -> Evened:
    """Take light and shadow out of a picture."""
    cv = opencv()
    sighting = next(s for s in placed.sightings if s.picture == number)
    middle = placed.on_plane(sighting.name, sighting.places).mean(axis=0, keepdims=True)
    seen = placed.see(middle, number).by_point[0]
    per_mm = float(np.sqrt(abs(np.linalg.det(seen))))
    less = max(1, round(per_mm))
    high, wide = picture.image.shape[:2]
    small = cv.resize(picture.image, (wide // less, high // less), interpolation=cv.INTER_AREA)
    side = 2 * round(0.5 * _INK_MM * per_mm / less) + 1
    bare = _bare(cv, placed, number, small.shape[:2], less)
    light = cv.morphologyEx(small, cv.MORPH_CLOSE, np.ones((side, side), np.uint8))
    # Strips are lighter and darker than what they lie on, and would leave an edge beside them.
    sums = cv.GaussianBlur(light * bare[:, :, None].astype(np.float32), (0, 0), 0.15 * side)
    shares = cv.GaussianBlur(bare.astype(np.float32), (0, 0), 0.15 * side)
    light = np.where(shares[:, :, None] > 1e-3, sums / np.maximum(shares, 1e-3)[:, :, None], light)
    light = light.astype(np.float32)
    return Evened(_divided(cv, picture.image, light), _edges(cv, light, bare, per_mm / less), less)


def _divided(cv: Any, image: NDArray[np.uint8], light: NDArray[np.float32]) -> NDArray[np.uint8]:
    """A picture (BGR) over the lightness of its paper, which is smaller; as RGB."""
    high, wide = image.shape[:2]
    even = np.empty_like(image)
    for top in range(0, high, _BAND):
        rows = slice(top, min(top + _BAND, high))
        # The paper's lightness where each row is, between the rows of the small one.
        y = (np.arange(rows.start, rows.stop) + 0.5) * light.shape[0] / high - 0.5
        x = (np.arange(wide) + 0.5) * light.shape[1] / wide - 0.5
        at_x, at_y = (grid.astype(np.float32) for grid in np.meshgrid(x, y))
        paper = cv.remap(light, at_x, at_y, cv.INTER_LINEAR, borderMode=cv.BORDER_REPLICATE)
        shown = PAPER * image[rows].astype(np.float32) / np.maximum(paper, 8.0)
        even[rows] = np.clip(shown + 0.5, 0.0, 255.0).astype(np.uint8)
    return np.ascontiguousarray(even[:, :, ::-1])


def _edges(
    cv: Any, light: NDArray[np.float32], bare: NDArray[np.uint8], per_mm: float
) -> NDArray[np.uint8]:
    """Where ground turns from light to dark at once."""
    grey = light.mean(axis=2)
    side = 2 * round(0.5 * _EDGE_MM * per_mm) + 1
    around = np.ones((side, side), np.uint8)
    most = cv.dilate(np.where(bare > 0, grey, 0.0).astype(np.float32), around)
    least = cv.erode(np.where(bare > 0, grey, 255.0).astype(np.float32), around)
    edges: NDArray[np.uint8] = (most > _EDGE * np.maximum(least, 8.0)).astype(np.uint8)
    return edges


def _bare(
    cv: Any, placed: Placed, number: int, shape: tuple[int, int], less: int
) -> NDArray[np.uint8]:
    """Where no strip lies on a picture, made smaller by a whole number."""
    bare = np.ones(shape, dtype=np.uint8)
    for name in {s.name for s in placed.sightings if s.picture == number}:
        ends = placed.see(placed.on_plane(name, cards.outline()), number).pixels / less
        corners = np.round(ends).astype(np.int32)
        cv.fillConvexPoly(bare, corners, 0)
        cv.polylines(bare, [corners], True, 0, 3)
    return bare
