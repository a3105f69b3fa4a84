"""What is drawn on the paper: how much light each line swallows, dark pens and red pens apart.

In: a picture in true size. Out: planes of darkness as fine as it, and ridges on a coarser grid:
places that are darker than the paper on *both* sides, which the edge of a shadow or of a fold is
not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from .rectified import Rectified, opencv

Mask = NDArray[np.bool_]
Plane = NDArray[np.uint8]
Grey = NDArray[np.float32]

COARSE: Final = 2
"""Ridges are looked for on a grid this many pixels wide, where a line is one or two cells."""

FULL: Final = 250.0
"""What a plane of darkness holds where all light is swallowed."""

_PAPER_MM: Final = 5.6
"""No line is as wide: what is left when all that is narrower is taken away is the paper."""

_DIRECTIONS: Final = 12
_ALONG_MM, _ACROSS_MM = 0.9, 0.28
"""Spread of the weights that a line is averaged with, along it and across."""

_BESIDE_MM: Final = 1.04
"""How far from its middle a line of 1.2 mm is paper again."""

FAINT: Final = 0.032
SURE: Final = 0.06
"""Darkness of a line against the paper on both sides, 0 to 1. Below the first it is dirt; a line
that reaches the second nowhere was rubbed out."""

_RED_IN_DARK: Final = 0.2
"""Share of what a red pen swallows of green light that it swallows of red as well, at least."""

_RED_PEN: Final = 0.6
"""Where round a red ridge less than so much red light is swallowed, compared with how much less
than green, the dark ridge on it is the red pen's own. Over a small area: cameras and JPEG blur
colours more than light."""

_ROUND_MM: Final = 2.0

_TILE: Final = 384


@dataclass(frozen=True, eq=False)
class Ridgelines:
    """Middles of lines on the coarse grid. *strength*: 0 to 1. *faint*: those that are nowhere
    sure."""

    strength: Grey
    sure: Mask
    faint: Mask


@dataclass(frozen=True, eq=False)
class Ink:
    """Darkness of dark pens and of red pens, shape (h, w), and their ridges. *cell*: side of a
    cell of the coarse grid in mm. *paper*: on the coarse grid, where there is paper to be read."""

    dark: Plane
    red: Plane
    dark_ridges: Ridgelines
    red_ridges: Ridgelines
    paper: Mask
    pixel: float
    cell: float


def find_ink(rectified: Rectified) -> Ink:
    """Part the lines of a picture from its paper."""
    cv2 = opencv()
    image, pixel = rectified.image, rectified.pixel
    paper = _paper(cv2, image, pixel)
    dark = np.zeros(image.shape[:2], dtype=np.uint8)
    red = np.zeros_like(dark)
    height, width = image.shape[0], image.shape[1]
    for top in range(0, height, _TILE):
        rows = slice(top, min(top + _TILE, height))
        light = _enlarged(cv2, paper, rows, (height, width))
        share = 1.0 - image[rows].astype(np.float32) / np.maximum(light, 1.0)
        redness = np.clip(share[..., 1] - share[..., 0], 0.0, 1.0)
        swallowed = np.clip(share[..., 0] - _RED_IN_DARK * redness, 0.0, 1.0)
        seen = rectified.valid[rows]
        dark[rows] = np.rint(FULL * swallowed) * seen
        red[rows] = np.rint(FULL * redness) * seen
    coarse = width // COARSE, height // COARSE
    valid = cv2.resize(rectified.valid.astype(np.uint8), coarse, interpolation=cv2.INTER_AREA)
    inside = cv2.erode(valid, np.ones((5, 5), np.uint8), borderValue=0).astype(bool)
    cell = pixel * COARSE
    dark_ridges = _ridges(cv2, dark, coarse, inside, cell)
    red_ridges = _ridges(cv2, red, coarse, inside, cell)
    # A deep red swallows some red light as well, but less.
    side = round(_ROUND_MM / cell)
    amounts = [
        cv2.blur(cv2.resize(plane, coarse, interpolation=cv2.INTER_AREA), (side, side))
        for plane in (dark, red)
    ]
    near = cv2.dilate(red_ridges.sure.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    own = near & (amounts[0] < _RED_PEN * amounts[1])
    dark_ridges = Ridgelines(
        dark_ridges.strength, dark_ridges.sure & ~own, dark_ridges.faint & ~near
    )
    return Ink(
        dark,
        red,
        dark_ridges,
        red_ridges,
        valid.astype(bool),
        pixel,
        cell,
    )


def _paper(cv2: Any, image: Plane, pixel: float) -> Plane:
    """The paper without its lines, four times as coarse as the picture."""
    small = cv2.resize(
        image, (image.shape[1] // 4, image.shape[0] // 4), interpolation=cv2.INTER_AREA
    )
    side = 2 * round(0.5 * _PAPER_MM / (4.0 * pixel)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    # Grain would lift what is the highest of many: take it away first.
    calm = cv2.medianBlur(small, 3)
    closed: Plane = cv2.blur(cv2.morphologyEx(calm, cv2.MORPH_CLOSE, disc), (3, 3))
    return closed


def _enlarged(cv2: Any, paper: Plane, rows: slice, shape: tuple[int, int]) -> Grey:
    """Some rows of the paper at the picture's own size."""
    y = (np.arange(rows.start, rows.stop, dtype=np.float32) + 0.5) * paper.shape[0] / shape[0] - 0.5
    x = (np.arange(shape[1], dtype=np.float32) + 0.5) * paper.shape[1] / shape[1] - 0.5
    columns, lines = np.meshgrid(x, y)
    light = cv2.remap(paper, columns, lines, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    grey: Grey = light.astype(np.float32)
    return grey


def _ridges(cv2: Any, plane: Plane, size: tuple[int, int], inside: Mask, cell: float) -> Ridgelines:
    coarse = cv2.resize(plane, size, interpolation=cv2.INTER_AREA).astype(np.float32) / FULL
    strength = np.zeros_like(coarse)
    middle = np.zeros(coarse.shape, dtype=bool)
    kernels = _kernels(cell)
    margin = 12
    busy = cv2.blur(coarse, (5, 5)) > 0.5 * FAINT
    for top in range(0, coarse.shape[0], _TILE):
        for left in range(0, coarse.shape[1], _TILE):
            if not busy[top : top + _TILE, left : left + _TILE].any():
                continue
            rows = slice(max(top - margin, 0), top + _TILE + margin)
            columns = slice(max(left - margin, 0), left + _TILE + margin)
            found, ridge = _strongest(cv2, coarse[rows, columns], kernels, cell)
            inner = (
                slice(top - rows.start, top - rows.start + _TILE),
                slice(left - columns.start, left - columns.start + _TILE),
            )
            strength[top : top + _TILE, left : left + _TILE] = found[inner]
            middle[top : top + _TILE, left : left + _TILE] = ridge[inner]
    middle &= inside & (strength > FAINT)
    sure = _reaching(cv2, middle, strength > SURE)
    return Ridgelines(strength, sure, middle & ~sure)


def _kernels(cell: float) -> list[tuple[Grey, tuple[int, int], tuple[int, int]]]:
    """For each direction: weights along it, a step beside it and the next cell beside it."""
    found = []
    reach = math.ceil(2.5 * _ALONG_MM / cell)
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1] * cell
    for turn in range(_DIRECTIONS):
        angle = math.pi * turn / _DIRECTIONS
        c, s = math.cos(angle), math.sin(angle)
        weights = np.exp(-0.5 * (((c * x + s * y) / _ALONG_MM) ** 2))
        weights *= np.exp(-0.5 * (((c * y - s * x) / _ACROSS_MM) ** 2))
        beside = round(-s * _BESIDE_MM / cell), round(c * _BESIDE_MM / cell)
        found.append(((weights / weights.sum()).astype(np.float32), beside, (round(-s), round(c))))
    return found


def _strongest(
    cv2: Any,
    plane: Grey,
    kernels: list[tuple[Grey, tuple[int, int], tuple[int, int]]],
    cell: float,
) -> tuple[Grey, Mask]:
    """Largest darkness of a line through each cell against both of its sides, and whether it is a
    ridge's middle."""
    strength = np.full(plane.shape, -1.0, dtype=np.float32)
    which = np.zeros(plane.shape, dtype=np.uint8)
    for number, (weights, beside, _) in enumerate(kernels):
        mean = cv2.filter2D(plane, -1, weights, borderType=cv2.BORDER_REPLICATE)
        sides = np.maximum(_moved(mean, beside), _moved(mean, (-beside[0], -beside[1])))
        contrast = mean - sides
        better = contrast > strength
        strength[better] = contrast[better]
        which[better] = number
    middle = np.zeros(plane.shape, dtype=bool)
    for number, (_, _, next_to) in enumerate(kernels):
        here = which == number
        one, other = _moved(strength, next_to), _moved(strength, (-next_to[0], -next_to[1]))
        middle |= here & (strength >= one) & (strength > other)
    return strength, middle


def _moved(plane: Grey, by: tuple[int, int]) -> Grey:
    """Each cell's neighbour `by` cells right and down; at the border, itself."""
    right, down = by
    rows = np.clip(np.arange(plane.shape[0]) + down, 0, plane.shape[0] - 1)
    columns = np.clip(np.arange(plane.shape[1]) + right, 0, plane.shape[1] - 1)
    return plane[rows][:, columns]


def _reaching(cv2: Any, mask: Mask, seeds: Mask) -> Mask:
    """Parts of a mask, holes of two cells in them closed, that hold a seed."""
    near = cv2.dilate(mask.astype(np.uint8), np.ones((3, 3), np.uint8))
    _, labels = cv2.connectedComponents(near, connectivity=8)
    keep = np.zeros(labels.max() + 1, dtype=bool)
    keep[labels[mask & seeds]] = True
    kept: Mask = keep[labels] & mask
    return kept
