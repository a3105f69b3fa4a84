"""All pictures of a draft as one that is seen from above."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ...errors import PhotoError
from ...outline import FloatArray
from . import cards
from .beyond import closed_beyond
from .doubts import Doubts
from .light import PAPER, Evened, evened
from .placing import Placed
from .rectified import PIXEL_MM, Rectified, opencv
from .sightings import Picture

_STEP: Final = 16
"""Pixels between which the way into a picture is straight, to less than 0.01 of its pixels."""

_BAND: Final = 32 * _STEP
"""Rows that are made at a time, so that little is held at once."""

_MOST_PIXELS: Final = 80_000_000
"""A paper of 3.2 square metres."""

_BEYOND_MM: Final = 15.0
"""How far beyond the strips the lens is still known."""

_AROUND_MM: Final = 1.5
"""What is painted out round a strip: its shadow, and a cut that was not quite straight."""

_FEATHER: Final = 60.0
"""Pixels of a picture over which it gives way to others towards its border."""

_TILE: Final = 24
"""Side in pixels of the squares in which photos are held against each other."""

_SMOOTH: Final = 3.0
_NARROW: Final = 15
"""Pixels: wider than any line that is drawn."""

_WORST_MM: Final = 0.25
_FEWEST_TILES: Final = 40


@dataclass(frozen=True, eq=False)
class _Raster:
    """Where the picture from above lies: mm of the plane by (x, y) = low + scale of its own mm."""

    origin: FloatArray
    turn: FloatArray
    scale: float
    wide: int
    high: int

    def plane(self, columns: FloatArray, rows: FloatArray) -> FloatArray:
        """Points of the plane of the middles of pixels, shape (rows, columns, 2)."""
        x, y = np.meshgrid(columns + 0.5, rows + 0.5)
        own = PIXEL_MM / self.scale * np.stack([x, y], axis=-1)
        points: FloatArray = own @ self.turn.T + self.origin
        return points

    def pixels(self, points: FloatArray) -> FloatArray:
        """Where points (n, 2) of the plane lie, in pixels with their middles at whole numbers."""
        found: FloatArray = (points - self.origin) @ self.turn * (self.scale / PIXEL_MM) - 0.5
        return found


def rectify(
    placed: Placed,
    pictures: Sequence[Picture],
    doubts: Doubts,
    *,
    scale: float = 1.0,
    advance: Callable[[float], None] = lambda part: None,
) -> Rectified:
    """See a paper from above; strip A, or the first there is, lies along x.

    *scale*: by what lengths are multiplied. *advance*: told of each part of 1 that is done.

    Raises `PhotoError` if the paper is too large, or the pictures' lines disagree.
    """
    cv = opencv()
    frame = _frame(placed, scale)
    masked, within = _masks(cv, placed, frame)
    image = np.empty((frame.high, frame.wide, 3), dtype=np.uint8)
    flats = [evened(placed, number, picture) for number, picture in enumerate(pictures)]
    shifts: list[FloatArray] = []
    for top in range(0, frame.high, _BAND):
        rows = slice(top, min(top + _BAND, frame.high))
        band, seen, found = _band(cv, placed, frame, flats, rows, masked[rows])
        image[rows] = band
        masked[rows] &= seen
        shifts.append(found)
        advance((rows.stop - rows.start) / frame.high)
    apart = _refuse_uneven(np.concatenate(shifts))
    image[~masked] = PAPER
    uncertainty = max(doubts.uncertainty, apart)
    names = tuple(picture.name for picture in pictures)
    beyond = closed_beyond(placed, flats, frame.plane, within)
    return Rectified(image, masked, PIXEL_MM, scale * uncertainty, names, beyond)


def _frame(placed: Placed, scale: float) -> _Raster:
    ends = placed.on_plane(placed.strips[0], np.array([[0.0, 0.0], [1.0, 0.0]]))
    x, y = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
    turn = np.array([[x, -y], [y, x]])
    every = np.concatenate([placed.on_plane(name, cards.outline()) for name in placed.strips])
    own = every @ turn
    low = own.min(axis=0) - _BEYOND_MM
    span = scale / PIXEL_MM * (own.max(axis=0) + _BEYOND_MM - low)
    wide, high = (int(np.ceil(side)) for side in span)
    if wide * high > _MOST_PIXELS:
        raise PhotoError(
            f"the strips lie {wide * PIXEL_MM:.0f} by {high * PIXEL_MM:.0f} mm apart, too large a "
            "paper at once",
            remedy="Photograph the draft in parts of at most 3 square metres.",
        )
    return _Raster(turn @ low, turn, scale, wide, high)


def _masks(cv: Any, placed: Placed, frame: _Raster) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Where the paper is between strips and no strip covers it, and where it is between them."""
    reach = frame.scale / PIXEL_MM
    strips = [frame.pixels(placed.on_plane(name, cards.outline())) for name in placed.strips]
    mask = np.zeros((frame.high, frame.wide), dtype=np.uint8)
    hull = cv.convexHull(np.concatenate(strips).astype(np.float32))
    cv.fillConvexPoly(mask, np.round(hull).astype(np.int32), 1)
    # Drawn as a thick line as well, a shape is as much larger as half of it.
    border = round(2.0 * _BEYOND_MM * reach)
    cv.polylines(mask, [np.round(hull).astype(np.int32)], True, 1, border)
    within = mask.astype(np.bool_)
    for strip in strips:
        corners = np.round(strip).astype(np.int32)
        cv.fillConvexPoly(mask, corners, 0)
        cv.polylines(mask, [corners], True, 0, round(2.0 * _AROUND_MM * reach))
    return mask.astype(np.bool_), within


def _band(
    cv: Any,
    placed: Placed,
    frame: _Raster,
    flats: Sequence[Evened],
    rows: slice,
    masked: NDArray[np.bool_],
) -> tuple[NDArray[np.uint8], NDArray[np.bool_], FloatArray]:
    """Some rows of the picture from above, where paper is seen, and how far photos lie apart.

    Each photo counts by how near it was: by the eighth power of pixels to a mm, so that the
    sharpest nearly stands alone.
    """
    high = rows.stop - rows.start
    columns = np.arange(0, frame.wide + _STEP, _STEP, dtype=np.float64)
    steps = np.arange(rows.start, rows.stop + _STEP, _STEP, dtype=np.float64)
    points = frame.plane(columns, steps)
    total = np.zeros((high, frame.wide, 3), dtype=np.float32)
    weights = np.zeros((high, frame.wide), dtype=np.float32)
    lines, shares = [], []
    edge = np.ones((high, frame.wide), dtype=np.bool_)
    for number, flat in enumerate(flats):
        seen = placed.see(points.reshape(-1, 2), number)
        nearness = np.abs(np.linalg.det(seen.by_point)) ** 4
        grid = np.column_stack([seen.pixels, nearness]).reshape(*points.shape[:2], 3)
        x, y, near = _between(grid.astype(np.float32), high, frame.wide)
        own = cv.remap(flat.image, x, y, cv.INTER_CUBIC, borderMode=cv.BORDER_REPLICATE)
        tall, wide = flat.image.shape[:2]
        inside = np.minimum(np.minimum(x, wide - 1 - x), np.minimum(y, tall - 1 - y))
        share = near * np.clip((inside - 1.0) / _FEATHER, 0.0, 1.0)
        total += share[:, :, None] * own
        weights += share
        lines.append(_lines(cv, own))
        shares.append(share > 0.0)
        small = (part / flat.less for part in (x, y))
        edge &= (cv.remap(flat.edges, *small, cv.INTER_NEAREST) > 0) | (share <= 0.0)
    # An edge that not all photos have is a shadow's.
    open_paper = (weights > 0.0) & ~edge
    band = total / np.maximum(weights, 1e-30)[:, :, None]
    found = [
        _shifts(cv, lines[one], lines[two], masked & shares[one] & shares[two])
        for two in range(len(lines))
        for one in range(two)
    ]
    apart = np.concatenate([*found, np.zeros((0, 2))])
    return np.clip(band + 0.5, 0.0, 255.0).astype(np.uint8), open_paper, apart


def _between(
    grid: NDArray[np.float32], high: int, wide: int
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Values at each pixel from those at every `_STEP`-th, three of them, on straight lines."""
    part = (np.arange(_STEP, dtype=np.float32) / _STEP)[:, None]
    tall = grid[:-1, None] + part[:, :, None] * (grid[1:] - grid[:-1])[:, None]
    rows = tall.reshape(-1, *grid.shape[1:])[:high]
    full = rows[:, :-1, None] + part * (rows[:, 1:] - rows[:, :-1])[:, :, None]
    cells = full.reshape(high, -1, 3)[:, :wide]
    return tuple(np.ascontiguousarray(cells[:, :, k]) for k in range(3))  # type: ignore[return-value]


def _lines(cv: Any, picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """What is narrow and dark on a picture, smoothed; light and shadow are not."""
    grey = cv.cvtColor(picture, cv.COLOR_RGB2GRAY)
    narrow = cv.morphologyEx(grey, cv.MORPH_BLACKHAT, np.ones((_NARROW, _NARROW), np.uint8))
    smooth: NDArray[np.float32] = cv.GaussianBlur(narrow.astype(np.float32), (0, 0), _SMOOTH)
    return smooth


def _shifts(
    cv: Any,
    first: NDArray[np.float32],
    second: NDArray[np.float32],
    both: NDArray[np.bool_],
) -> FloatArray:
    """How plain lines are and how far they lie apart on two photos, in mm: a row for each tile.

    By the flow across the line (Horn and Schunck, 1981), on pictures smoothed by three pixels, so
    that half a millimetre is still told.
    """
    middle = 0.5 * (first + second)
    slopes = np.stack(
        [
            cv.Sobel(middle, cv.CV_32F, 1, 0, scale=0.125),
            cv.Sobel(middle, cv.CV_32F, 0, 1, scale=0.125),
        ]
    )
    clear = cv.erode(both.astype(np.uint8), np.ones((25, 25), np.uint8)) > 0
    sums = {
        name: _tiled(np.where(clear, values, 0.0))
        for name, values in {
            "xx": slopes[0] ** 2,
            "xy": slopes[0] * slopes[1],
            "yy": slopes[1] ** 2,
            "xt": slopes[0] * (second - first),
            "yt": slopes[1] * (second - first),
        }.items()
    }
    half = 0.5 * (sums["xx"] + sums["yy"])
    gap = np.hypot(0.5 * (sums["xx"] - sums["yy"]), sums["xy"])
    most = half + gap
    angle = 0.5 * np.arctan2(2.0 * sums["xy"], sums["xx"] - sums["yy"])
    across = np.cos(angle) * sums["xt"] + np.sin(angle) * sums["yt"]
    drawn = most > _FAINT
    apart = PIXEL_MM * np.abs(across[drawn] / most[drawn])
    return np.column_stack([most[drawn], apart]).astype(np.float64)


_FAINT: Final = 300.0
"""Of a tile, the sum of squares of slopes: a faint pencil line has more, paper less."""

_PLAIN: Final = 0.2
"""What has that part of what lines have most often is a line as well, not an edge or a speck."""


def _tiled(values: NDArray[np.float32]) -> NDArray[np.float32]:
    """Sums over square tiles; what does not fill one is left out."""
    high, wide = (side // _TILE for side in values.shape)
    cut = values[: high * _TILE, : wide * _TILE]
    sums: NDArray[np.float32] = cut.reshape(high, _TILE, wide, _TILE).sum(axis=(1, 3))
    return sums


def _refuse_uneven(shifts: FloatArray) -> float:
    """How far lines lie apart on photos, in mm, 95 %; refused where the paper is not flat."""
    plain = shifts[shifts[:, 0] > _PLAIN * np.percentile([*shifts[:, 0], 0.0], 90.0), 1]
    if len(plain) < _FEWEST_TILES:
        return 0.0
    apart = float(np.percentile(plain, 95.0))
    if apart > _WORST_MM:
        raise PhotoError(
            f"lines lie {apart:.2f} mm apart from photo to photo, and {_WORST_MM} are allowed: the "
            "draft is not flat, or was moved",
            remedy="Press folds out, tape the draft flat all round, and take all photos again.",
        )
    return apart
