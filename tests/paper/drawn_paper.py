"""A draft as it is drawn on paper: strokes of a pencil or a pen, and the paper under them.

Strokes are drawn by the true distance of each pixel from the line, not by a graphics library: what
is read back can be held against the line to a hundredth of a millimetre. Pixel (i, j) of a picture
has its centre at ((j + 0.5) / px_per_mm, (i + 0.5) / px_per_mm) in mm, y downwards.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d
from scipy.spatial import cKDTree

from panelshift.draft import assemble
from panelshift.outline import Curve, FloatArray
from panelshift.sources.drawings import read_drawing

SAMPLES: Final = Path(__file__).parents[2] / "sample_patterns"

_STEP_MM: Final = 0.04
"""How densely a line is sampled: distances from it are then true to 0.001 mm at 0.2 mm."""


@dataclass(frozen=True)
class Pen:
    """What draws. *width* in mm. *colour*: the share of red, green and blue that it swallows where
    it lies thick. *uneven*: how much of that comes and goes along the line, 0 to 1. *grain*: how
    much the tooth of the paper breaks it up, 0 to 1."""

    width: float = 0.5
    colour: tuple[float, float, float] = (0.8, 0.8, 0.8)
    uneven: float = 0.0
    grain: float = 0.0

    def wider(self, width: float) -> Pen:
        return replace(self, width=width)


INK: Final = Pen(0.5, (0.85, 0.85, 0.82))
PENCIL: Final = Pen(0.5, (0.42, 0.42, 0.41), uneven=0.45, grain=0.5)
FAINT: Final = Pen(0.5, (0.24, 0.24, 0.23), uneven=0.4, grain=0.5)
BLUE: Final = Pen(0.6, (0.8, 0.65, 0.25), uneven=0.1)
RED: Final = Pen(0.6, (0.12, 0.78, 0.72), uneven=0.1)
ERASED: Final = Pen(0.8, (0.045, 0.045, 0.045), uneven=0.5, grain=0.5)
"""The ghost of a line that was rubbed out."""


@dataclass(frozen=True, eq=False)
class Stroke:
    """One line. *points*: shape (n, 2), in mm. *gaps*: from where to where along it, in mm,
    nothing is drawn. *wobble*: how far the hand strays, in mm (one standard deviation)."""

    points: FloatArray
    pen: Pen = INK
    gaps: Sequence[tuple[float, float]] = ()
    wobble: float = 0.0


@dataclass(frozen=True)
class Band:
    """A ruler or a measuring tape that lies on the paper, its edges and ticks printed on it."""

    start: tuple[float, float]
    end: tuple[float, float]
    width: float = 16.0
    colour: tuple[int, int, int] = (236, 214, 96)
    tick: float = 10.0


@dataclass(frozen=True)
class Sheet:
    """The paper and its light. *shadow*: how much darker the far corner is, 0 to 1. *texture*, in
    grey levels of 255. *creases*: ends of folds, in mm; dark on one side, light on the other.
    *noise*: of the camera, in grey levels. *blur*: of the lens, in mm."""

    colour: tuple[int, int, int] = (236, 231, 217)
    texture: float = 1.5
    shadow: float = 0.0
    creases: Sequence[tuple[tuple[float, float], tuple[float, float]]] = ()
    crease_depth: float = 0.06
    noise: float = 0.0
    blur: float = 0.08


FLAT: Final = Sheet()
USED: Final = Sheet(texture=2.5, shadow=0.35, noise=2.0, blur=0.12)


def strokes_of(curves: Iterable[Curve], pen: Pen = INK) -> list[Stroke]:
    return [Stroke(curve.flatten(0.002), pen) for curve in curves]


def words(
    text: str, at: tuple[float, float], height: float = 6.0, pen: Pen = PENCIL
) -> list[Stroke]:
    """Hand lettering of straight strokes: letters that are not known are boxes."""
    letters = {
        "1": [[(0.3, 0), (0.3, 1)]],
        "A": [[(0, 1), (0.3, 0), (0.6, 1)], [(0.12, 0.6), (0.48, 0.6)]],
        "C": [[(0.6, 0.1), (0.3, 0), (0, 0.3), (0, 0.7), (0.3, 1), (0.6, 0.9)]],
        "F": [[(0.6, 0), (0, 0), (0, 1)], [(0, 0.5), (0.4, 0.5)]],
        "T": [[(0, 0), (0.6, 0)], [(0.3, 0), (0.3, 1)]],
        " ": [],
    }
    box = [[(0, 0), (0.6, 0), (0.6, 1), (0, 1), (0, 0)]]
    return [
        Stroke(np.array(line) * height + np.add(at, (0.85 * height * place, 0.0)), pen)
        for place, letter in enumerate(text)
        for line in letters.get(letter, box)
    ]


@dataclass(frozen=True, eq=False)
class Draft:
    """Panels as they are meant, in mm, and where the paper ends."""

    outlines: list[Curve]
    waists: list[Curve]
    size: tuple[float, float]

    def strokes(self, pen: Pen = INK, red: Pen = RED) -> list[Stroke]:
        return strokes_of(self.outlines, pen) + strokes_of(self.waists, red)


def sample_draft(name: str = "hourglass") -> Draft:
    """A sample's own draft: its panels and their waistlines, in their places."""
    drawing = read_drawing(SAMPLES / f"{name}.svg")
    panels = assemble(drawing).panels
    assert drawing.page is not None
    width, height = drawing.page[1]
    outlines = [panel.outline for panel in panels]
    return Draft(outlines, [panel.waist.curve for panel in panels], (float(width), float(height)))


def one_panel(
    width: float = 50.0, height: float = 90.0, curve: float = 6.0, margin: float = 15.0
) -> Draft:
    """A small panel: a straight front, a curved back that is narrowest at the waist."""
    left, top = margin, margin
    right, low, waist = left + width, top + height, top + 0.5 * height
    third = 0.25 * height
    back = [
        [
            (right, top),
            (right - curve, top + third),
            (right - curve, waist - third),
            (right - curve, waist),
        ],
        [
            (right - curve, waist),
            (right - curve, waist + third),
            (right - curve, low - third),
            (right, low),
        ],
    ]
    outline = Curve.chain(
        [
            Curve.polyline([(left, low), (left, top), (right, top)]),
            Curve.cubics(back),
            Curve.polyline([(right, low), (left, low)]),
        ],
        closed=True,
    )
    line = Curve.polyline([(left - 1.0, waist), (right - curve + 1.0, waist)])
    return Draft([outline], [line], (width + 2 * margin, height + 2 * margin))


def drawn(
    strokes: Sequence[Stroke],
    size: tuple[float, float],
    *,
    px_per_mm: float = 5.0,
    sheet: Sheet = FLAT,
    bands: Sequence[Band] = (),
    seed: int = 1,
) -> np.ndarray:
    """The picture: ndarray of uint8, shape (h, w, 3), RGB."""
    rng = np.random.default_rng(seed)
    shape = round(size[1] * px_per_mm), round(size[0] * px_per_mm)
    light = np.ones((*shape, 3), dtype=np.float32)
    tooth = _noise(rng, shape, 0.15 * px_per_mm)
    for stroke in strokes:
        _draw(light, stroke, px_per_mm, tooth, rng)
    picture = light * np.array(sheet.colour, dtype=np.float32)
    for band in bands:
        _lay(picture, band, px_per_mm)
    del light
    if sheet.blur:
        for channel in range(3):
            picture[..., channel] = gaussian_filter(picture[..., channel], sheet.blur * px_per_mm)
    shade = 1.0 + (sheet.texture / 255.0) * _noise(rng, shape, 0.3 * px_per_mm)
    if sheet.shadow:
        x = np.linspace(0.0, 1.0, shape[1], dtype=np.float32)
        y = np.linspace(0.0, 1.0, shape[0], dtype=np.float32)[:, None]
        edge = 1.0 / (1.0 + np.exp(-12.0 * (x + 0.6 * y - 0.9)))
        shade *= 1.0 - sheet.shadow * (0.3 * x * y + 0.7 * edge)
    for start, end in sheet.creases:
        shade *= 1.0 - sheet.crease_depth * _crease(shape, start, end, px_per_mm)
    picture *= shade[..., None]
    if sheet.noise:
        picture += rng.normal(0.0, sheet.noise, picture.shape).astype(np.float32)
    return np.clip(np.rint(picture), 0, 255).astype(np.uint8)


def resampled(line: FloatArray, step: float = _STEP_MM) -> tuple[FloatArray, FloatArray]:
    """Points at equal steps of a polyline, and how far along it they are."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = np.linspace(0.0, along[-1], max(2, int(along[-1] / step) + 1))
    return np.column_stack([np.interp(at, along, line[:, k]) for k in (0, 1)]), at


def _draw(
    light: np.ndarray, stroke: Stroke, px: float, tooth: np.ndarray, rng: np.random.Generator
) -> None:
    points, along = resampled(np.asarray(stroke.points, dtype=float))
    if stroke.wobble:
        # Round and round: a closed stroke stays closed.
        strays = rng.normal(size=(len(points), 2))
        strays = gaussian_filter1d(strays, 4.0 / _STEP_MM, axis=0, mode="wrap")
        points = points + strays * (stroke.wobble / strays.std())
    strength = np.ones(len(points), dtype=np.float32)
    if stroke.pen.uneven:
        come = gaussian_filter1d(rng.normal(size=len(points)), 3.0 / _STEP_MM, mode="nearest")
        come /= max(float(come.std()), 1e-9)
        strength *= 1.0 - stroke.pen.uneven * np.clip(0.5 + 0.35 * come, 0.0, 1.0)
    shown = np.ones(len(points), dtype=bool)
    for first, last in stroke.gaps:
        # The round end of a stroke reaches half its width into the gap.
        half = 0.5 * stroke.pen.width
        shown &= (along < first - half) | (along > last + half)
    points, strength = points[shown], strength[shown]
    rows, columns = _near(points, 0.5 * stroke.pen.width + 1.5 / px, light.shape[:2], px)
    centres = (np.column_stack([columns, rows]) + 0.5) / px
    apart, nearest = cKDTree(points).query(centres, workers=1)
    cover = np.clip((0.5 * stroke.pen.width - apart) * px + 0.5, 0.0, 1.0)
    cover *= strength[nearest]
    if stroke.pen.grain:
        cover *= np.clip(1.0 - stroke.pen.grain * (0.5 + 0.8 * tooth[rows, columns]), 0.0, 1.0)
    for channel, share in enumerate(stroke.pen.colour):
        light[rows, columns, channel] *= 1.0 - share * cover


def _near(
    points: FloatArray, reach: float, shape: tuple[int, int], px: float
) -> tuple[np.ndarray, np.ndarray]:
    """Rows and columns of all pixels whose centre may lie within reach of a point."""
    r = int(np.ceil(reach * px)) + 1
    cells = np.unique(np.floor(points * px).astype(np.int64), axis=0)
    dy, dx = np.mgrid[-r : r + 1, -r : r + 1]
    inside = dx**2 + dy**2 <= (r + 1) ** 2
    flat = [
        (cells[:, 1] + down) * shape[1] + cells[:, 0] + right
        for down, right in zip(dy[inside], dx[inside], strict=True)
    ]
    ok = [
        (cells[:, 1] + down >= 0)
        & (cells[:, 1] + down < shape[0])
        & (cells[:, 0] + right >= 0)
        & (cells[:, 0] + right < shape[1])
        for down, right in zip(dy[inside], dx[inside], strict=True)
    ]
    found = np.unique(np.concatenate([f[o] for f, o in zip(flat, ok, strict=True)]))
    return found // shape[1], found % shape[1]


def _noise(rng: np.random.Generator, shape: tuple[int, int], sigma: float) -> np.ndarray:
    """Smooth noise of spread 1, made as a tile and repeated: the eye of a program is no better."""
    tile = gaussian_filter(rng.normal(size=(512, 512)), sigma, mode="wrap")
    tile = (tile / tile.std()).astype(np.float32)
    return np.tile(tile, (shape[0] // 512 + 1, shape[1] // 512 + 1))[: shape[0], : shape[1]].copy()


def _crease(
    shape: tuple[int, int], start: tuple[float, float], end: tuple[float, float], px: float
) -> np.ndarray:
    """One side of a fold is in shade, the other catches the light, fading over 3 mm."""
    a, b = np.array(start), np.array(end)
    along = (b - a) / np.hypot(*(b - a))
    x = ((np.arange(shape[1]) + 0.5) / px - a[0]).astype(np.float32)
    y = ((np.arange(shape[0]) + 0.5) / px - a[1]).astype(np.float32)[:, None]
    across = x * along[1] - y * along[0]
    return np.sign(across) * np.exp(-np.abs(across) / 3.0)


def _lay(picture: np.ndarray, band: Band, px: float) -> None:
    a, b = np.array(band.start), np.array(band.end)
    size = float(np.hypot(*(b - a)))
    along = (b - a) / size
    x = ((np.arange(picture.shape[1]) + 0.5) / px - a[0]).astype(np.float32)
    y = ((np.arange(picture.shape[0]) + 0.5) / px - a[1]).astype(np.float32)[:, None]
    u, v = x * along[0] + y * along[1], x * along[1] - y * along[0]
    half = 0.5 * band.width
    on = (u >= 0.0) & (u <= size) & (np.abs(v) <= half)
    picture[on] = band.colour
    ticks = (np.abs((u + 0.5 * band.tick) % band.tick - 0.5 * band.tick) < 0.2) & (v > 0.2 * half)
    edges = (np.abs(v) > half - 0.3) | (u < 0.3) | (u > size - 0.3)
    picture[on & (ticks | edges)] = (40, 38, 36)


def farthest(one: Curve, other: Curve) -> float:
    """The Hausdorff distance of two curves in mm."""
    first, second = (resampled(curve.flatten(0.005), 0.05)[0] for curve in (one, other))
    ways = cKDTree(second).query(first)[0], cKDTree(first).query(second)[0]
    return max(float(way.max()) for way in ways)
