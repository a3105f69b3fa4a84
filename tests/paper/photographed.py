"""Photographs of a draft with strips beside it, by pin-hole perspective and real lens figures.

The figures are those that photographers have measured for lensfun (Debian's liblensfun-data-v1, CC
BY-SA 3.0), read when a test runs: no table of theirs stands here. Their models (lensfun's manual,
"The lens distortion models") map the radius r of a true picture to that of the lens's, r being 1 at
half the shorter side: ptlens r (a r^3 + b r^2 + c r + 1 - a - b - c), poly3 r (1 - k1 + k1 r^2),
poly5 r (1 + k1 r^2 + k2 r^4). None is the solver's own.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Final

import cv2
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from panelshift.outline import FloatArray
from panelshift.sources.paper import cards
from panelshift.sources.paper.placing import Placed, Sighting, solve

FIGURES: Final = Path("/usr/share/lensfun/version_1")
_FIGURES: Final = ("a", "b", "c", "k1", "k2")
FULL_FRAME_MM: Final = 43.267
"""Diagonal of 36 x 24 mm: what crop factors count from."""


@dataclass(frozen=True)
class Lens:
    """A lens as lensfun knows it. *focal*: in mm for a full frame."""

    name: str
    focal: float
    model: str = "poly3"
    figures: tuple[tuple[str, float], ...] = ()

    def factor(self, r: FloatArray) -> FloatArray:
        """By what a radius grows; r is 1 at half the shorter side."""
        f = dict(self.figures)
        if self.model == "ptlens":
            a, b, c = (f.get(key, 0.0) for key in "abc")
            return a * r**3 + b * r**2 + c * r + 1.0 - a - b - c
        k1, k2 = f.get("k1", 0.0), f.get("k2", 0.0)
        if self.model == "poly3":
            return 1.0 - k1 + k1 * r**2
        return 1.0 + k1 * r**2 + k2 * r**4


@cache
def telephones() -> tuple[Lens, ...]:
    """The measured lenses of telephones; skips the test if there are none."""
    return _lenses("misc.xml", smallest_crop=4.5)


@cache
def lenses() -> tuple[Lens, ...]:
    """Every measured lens of a usual angle; skips the test if there are none."""
    return _lenses("*.xml")


def _lenses(files: str, smallest_crop: float = 0.1) -> tuple[Lens, ...]:
    found = []
    for path in sorted(FIGURES.glob(files)):
        for entry in ET.parse(path).getroot().findall("lens"):
            crop = float(entry.findtext("cropfactor") or 0.0)
            if crop < smallest_crop or entry.findtext("type") not in (None, "rectilinear"):
                continue
            for given in entry.iter("distortion"):
                focal = crop * float(given.get("focal", 0.0))
                if 22.0 <= focal <= 85.0:
                    model = given.get("model", "")
                    numbers = {k: float(v) for k, v in given.items() if k in _FIGURES}
                    name = f"{entry.findtext('model')} at {given.get('focal')} mm"
                    found.append(Lens(name, focal, model, tuple(sorted(numbers.items()))))
    if not found:
        pytest.skip("no lens figures: apt-get install liblensfun-data-v1")
    return tuple(sorted(found, key=lambda lens: (lens.name, lens.focal)))


Laid = Mapping[str, tuple[float, float, float]]
"""Where strips lie: x, y in mm and the angle."""


def laid_round(wide: float, high: float, *, inside: bool = True) -> Laid:
    """Six strips round a draft whose middle is (0, 0), as the cards' picture has it; G on it."""
    right, low = 0.5 * wide, 0.5 * high
    found = {
        "A": (-right + 60.0, low + 20.0, 0.02),
        "B": (max(60.0, right - 300.0), low + 25.0, -0.01),
        "C": (right + 90.0, -120.0, 1.58),
        "D": (max(60.0, right - 310.0), -low - 80.0, 0.015),
        "E": (-right + 60.0, -low - 85.0, 0.0),
        "F": (-right - 20.0, -130.0, 1.55),
    }
    if inside:
        found["G"] = (30.0, -130.0, 1.58)
    return found


def on_paper(place: Sequence[float], points: FloatArray, stretch: float = 0.0) -> FloatArray:
    """Points of a strip on the paper, printed longer than wide by a logarithm."""
    x, y, angle = place
    c, s = np.cos(angle), np.sin(angle)
    own = points * np.exp([0.5 * stretch, -0.5 * stretch])
    return own @ np.array([[c, s], [-s, c]]) + (x, y)


@dataclass(frozen=True, eq=False)
class Shot:
    """A camera over the paper. *tilt*, *towards*: how far it looks aslant and about which axis, in
    degrees. *off*: the lens's middle from the picture's, in pixels."""

    lens: Lens
    tilt: float = 0.0
    towards: float = 0.0
    size: tuple[int, int] = (4000, 3000)
    off: tuple[float, float] = (0.0, 0.0)
    away: float = 1000.0
    aim: tuple[float, float] = (0.0, 0.0)

    @property
    def turn(self) -> FloatArray:
        axis = np.radians(self.towards)
        vector = np.radians(self.tilt) * np.array([np.cos(axis), np.sin(axis), 0.0])
        return Rotation.from_rotvec(vector).as_matrix()

    @property
    def scale(self) -> float:
        return self.lens.focal / FULL_FRAME_MM * float(np.hypot(*self.size))

    @property
    def middle(self) -> FloatArray:
        return 0.5 * np.array(self.size) - 0.5 + np.array(self.off)

    def see(self, points: FloatArray, lift: FloatArray | float = 0.0) -> FloatArray:
        """Where points of the paper appear, shape (n, 2), *lift* mm above the table."""
        at = np.column_stack([points - np.array(self.aim), np.broadcast_to(-lift, len(points))])
        eye = at @ self.turn.T + (0.0, 0.0, self.away)
        flat = self.scale * eye[:, :2] / eye[:, 2:]
        r = np.hypot(*flat.T) / (0.5 * min(self.size))
        return self.middle + flat * self.lens.factor(r)[:, None]

    def fitted(self, points: FloatArray) -> Shot:
        """The same from as near as all points are in the picture."""
        low, high = 200.0, 30000.0
        half = 0.5 * np.array(self.size)
        for _ in range(30):
            away = np.sqrt(low * high)
            seen = np.abs(replace(self, away=away).see(points) - half) < 0.97 * half
            low, high = (low, away) if seen.all() else (away, high)
        return replace(self, away=high)

    def back(self, pixels: FloatArray, lift: Bumps | None = None) -> FloatArray:
        """What of the paper is at pixels, shape (n, 2)."""
        short = 0.5 * min(self.size)
        true = np.linspace(0.0, 3.0, 30001)
        own = true * self.lens.factor(true)
        end = int(np.argmax(np.diff(own) <= 0.0)) or len(own)
        away = pixels - self.middle
        r = np.hypot(*away.T) / short
        grown = np.interp(r, own[:end], true[:end]) / np.maximum(r, 1e-12)
        rays = np.column_stack([away * grown[:, None] / self.scale, np.ones(len(away))]) @ self.turn
        eye = -np.array([0.0, 0.0, self.away]) @ self.turn
        height = np.zeros(len(pixels))
        for _ in range(1 if lift is None else 4):
            steps = (-height - eye[2]) / rays[:, 2]
            points = (eye + rays * steps[:, None])[:, :2] + np.array(self.aim)
            if lift is not None:
                height = lift.at(points)
        return points


@dataclass(frozen=True)
class Bumps:
    """Paper that does not lie flat: round hills, each x, y, its radius and its height in mm."""

    hills: tuple[tuple[float, float, float, float], ...]

    def at(self, points: FloatArray) -> FloatArray:
        total = np.zeros(len(points))
        for x, y, radius, height in self.hills:
            far = ((points - (x, y)) ** 2).sum(axis=1) / radius**2
            total += height * np.clip(1.0 - far, 0.0, 1.0) ** 2
        return total


FOUR_VIEWS: Final = ((0.0, 0.0), (22.0, 17.0), (22.0, 109.0), (22.0, 195.0))
TWO_VIEWS: Final = FOUR_VIEWS[:2]


def shots(
    lens: Lens,
    laid: Laid,
    views: Sequence[tuple[float, float]] = FOUR_VIEWS,
    size: tuple[int, int] = (4000, 3000),
    off: tuple[float, float] = (14.0, -9.0),
) -> list[Shot]:
    """Cameras over all strips, each as near as it can be."""
    every = np.concatenate([on_paper(place, cards.outline()) for place in laid.values()])
    aim = 0.5 * (every.min(axis=0) + every.max(axis=0))
    made = [Shot(lens, tilt, towards, size, off, aim=(*aim,)) for tilt, towards in views]
    return [shot.fitted(every) for shot in made]


def seen_corners(
    taken: Sequence[Shot],
    laid: Laid,
    rng: np.random.Generator,
    *,
    noise: float = 0.1,
    stretch: float = 0.0,
    lift: Mapping[str, float] | None = None,
) -> list[Sighting]:
    """Corners as a good detector finds them, without any picture. *noise*: in pixels. *lift*: how
    high strips lie above the table, in mm."""
    corners = cards.corners()
    return [
        Sighting(
            number,
            name,
            corners,
            shot.see(on_paper(place, corners, stretch), (lift or {}).get(name, 0.0))
            + rng.normal(0.0, noise, corners.shape),
        )
        for number, shot in enumerate(taken)
        for name, place in laid.items()
    ]


def solved(taken: Sequence[Shot], seen: Sequence[Sighting]) -> Placed:
    return solve([shot.size for shot in taken], [0] * len(taken), seen)


@dataclass(frozen=True)
class Errors:
    """Of the paper as it comes out: places and lengths of 400 mm in mm, mean and worst."""

    mean: float
    worst: float
    of_400: float


def errors_within(placed: Placed, taken: Sequence[Shot], laid: Laid, within: FloatArray) -> Errors:
    """How far points of the paper within a box (2, 2) come out from where they are, on each photo,
    once the whole is turned and moved to lie best."""
    axes = [np.linspace(low, high, 13) for low, high in within.T]
    grid = np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2)
    one, two = np.triu_indices(len(grid), 1)
    true = np.hypot(*(grid[two] - grid[one]).T)
    near = np.abs(true - 400.0) < 40.0 if true.max() > 400.0 else true > 0.8 * true.max()
    apart, lengths = [], []
    for number, shot in enumerate(taken):
        found = placed.back(shot.see(grid), number, _guess(placed, laid, grid))
        apart.append(np.hypot(*(_moved(grid, found) - found).T))
        long = np.hypot(*(found[two] - found[one]).T)
        lengths.append(np.abs(long / true - 1.0)[near].max() * 400.0)
    every = np.concatenate(apart)
    return Errors(float(every.mean()), float(every.max()), float(max(lengths)))


def _guess(placed: Placed, laid: Laid, points: FloatArray) -> FloatArray:
    corners = cards.corners()
    name = placed.strips[0]
    return _moved(points, placed.on_plane(name, corners), on_paper(laid[name], corners))


def _moved(points: FloatArray, target: FloatArray, of: FloatArray | None = None) -> FloatArray:
    """Points turned and moved as those *of* whom come nearest to a target."""
    of = points if of is None else of
    a, b = of - of.mean(axis=0), target - target.mean(axis=0)
    u, _, v = np.linalg.svd(a.T @ b)
    turn = u @ np.diag([1.0, np.linalg.det(u @ v)]) @ v
    return (points - of.mean(axis=0)) @ turn + target.mean(axis=0)


@dataclass(frozen=True, eq=False)
class Scene:
    """A table seen from above. *texture*: RGB, its first pixel at *low* mm, *px* to a mm."""

    texture: np.ndarray
    low: FloatArray
    px: float
    laid: Laid = field(default_factory=dict)


def scene(
    paper: np.ndarray,
    laid: Laid,
    *,
    px: float = 6.0,
    table: tuple[int, int, int] = (120, 96, 72),
    stretch: float = 0.0,
    scale: float = 1.0,
) -> Scene:
    """A draft's paper in the middle of a table, with strips round it, printed at a scale."""
    every = np.concatenate([on_paper(place, cards.outline()) for place in laid.values()])
    half = 0.5 * np.array(paper.shape[1::-1]) / px
    low = np.minimum(every.min(axis=0), -half) - 60.0
    high = np.maximum(every.max(axis=0), half) + 60.0
    wide, tall = (int(side) for side in (high - low) * px)
    texture = np.empty((tall, wide, 3), np.uint8)
    texture[:] = table
    x, y = np.round((-half - low) * px).astype(int)
    texture[y : y + paper.shape[0], x : x + paper.shape[1]] = paper
    for name, place in laid.items():
        _lay_strip(texture, name, place, low, px, stretch, scale)
    return Scene(texture, low, px, laid)


def _lay_strip(
    texture: np.ndarray,
    name: str,
    place: Sequence[float],
    low: FloatArray,
    px: float,
    stretch: float,
    scale: float,
) -> None:
    """Print a strip twelve times as fine as its modules need, and lay it by a turned map."""
    fine = 12
    ink = np.where(np.kron(cards.modules(name), np.ones((30, 30))), 25, 240).astype(np.uint8)
    across = cards.LENGTH_MM * fine
    assert ink.shape[1] == across
    border = round(cards.BORDER_MM * fine)
    ink = np.pad(ink, ((border, border), (border, round(cards.TAB_MM * fine))), constant_values=240)
    sides = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    on = (on_paper(place, sides * scale, stretch) - low) * px
    # From pixels of the strip's own print to pixels of the table, middles at half numbers.
    step = np.column_stack([on[1] - on[0], on[2] - on[0]]) / fine
    shift = on[0] - 0.5 - step @ np.array([border - 0.5, border - 0.5])
    grain = cv2.GaussianBlur(ink, (0, 0), 0.45 * fine / px)
    size = texture.shape[1::-1]
    how = {"flags": cv2.INTER_LINEAR, "borderMode": cv2.BORDER_CONSTANT}
    corners = np.round(on_paper(place, cards.outline() * scale, stretch) * px - low * px)
    x0, y0 = np.maximum(corners.min(axis=0).astype(int) - 4, 0)
    x1, y1 = np.minimum(corners.max(axis=0).astype(int) + 4, size)
    matrix = np.column_stack([step, shift - (x0, y0)])
    part = (int(x1 - x0), int(y1 - y0))
    laid = cv2.warpAffine(grain, matrix, part, **how)
    cover = cv2.warpAffine(np.full_like(ink, 255), matrix, part, **how)[:, :, None] / 255.0
    window = texture[y0:y1, x0:x1]
    window[:] = np.round(cover * laid[:, :, None] + (1.0 - cover) * window)


def photograph(
    table: Scene,
    shot: Shot,
    rng: np.random.Generator,
    *,
    blur: float = 0.6,
    noise: float = 2.0,
    shadow: float = 0.3,
    quality: int = 92,
    lift: Bumps | None = None,
) -> bytes:
    """A JPEG of the table. *blur*: in pixels. *noise*: in grey levels. *shadow*: how dark a hand's
    shadow makes one corner."""
    wide, high = shot.size
    image = np.empty((high, wide, 3), np.float32)
    # The way back is smooth: between every eighth pixel straight lines are true to 0.001 pixels.
    step = 8
    nodes = np.meshgrid(np.arange(0, wide + step, step), np.arange(0, high + step, step))
    back = shot.back(np.column_stack([node.ravel() for node in nodes]).astype(float), lift)
    spots = ((back - table.low) * table.px - 0.5).reshape(*nodes[0].shape, 2)
    part = np.arange(step)[:, None] / step
    for k in range(0, high, step):
        row = spots[k // step] + part[:, :, None] * (spots[k // step + 1] - spots[k // step])[None]
        full = row[:, :-1, None] + part * (row[:, 1:] - row[:, :-1])[:, :, None]
        at = full.reshape(step, -1, 2)[: high - k, :wide].astype(np.float32)
        image[k : k + step] = cv2.remap(
            table.texture, at, None, cv2.INTER_LINEAR, borderValue=(60, 50, 45)
        )
    image = cv2.GaussianBlur(image, (0, 0), blur)
    x = np.linspace(-1.0, 1.0, wide, dtype=np.float32)
    y = np.linspace(-1.0, 1.0, high, dtype=np.float32)[:, None]
    light = 1.0 - 0.25 * (x**2 + y**2) / 2.0
    light = light * (1.0 - shadow / (1.0 + np.exp(-15.0 * (x + y - 0.9))))
    image *= light[:, :, None]
    image += noise * rng.standard_normal(image.shape, dtype=np.float32)
    shown = np.clip(np.round(image), 0, 255).astype(np.uint8)[:, :, ::-1]
    done, data = cv2.imencode(".jpg", shown, [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert done
    return data.tobytes()
