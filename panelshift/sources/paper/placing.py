"""Where strips and cameras were: all pictures of one draft solved together.

Each strip lies flat on one plane, at a place and an angle of its own; all are printed with one
stretch, wider one way than the other. How large the print is no picture can tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from ...outline import FloatArray
from .cameras import LENS, POSE, POWERS, Seen, half_diagonal, photographed, scanned
from .starting import start

_PIXEL: Final = 0.12
"""Usual error in pixels of a corner found on a sharp photo."""

_ROBUST: Final = 3.0
"""From how many times that on an error counts less than its square."""

_MIDDLE_PIXELS: Final = 40.0
"""How far the lens's middle may lie from the picture's, standard deviation, at 12 MP."""

_USUAL_DIAGONAL: Final = 5000.0
_FOCALS: Final = (0.2, 1.0, -0.3)
"""Logarithms of focal lengths in half diagonals: a telephone's usual lens (26 mm on a full frame),
its longer and its wider one. From a wrong one the others may not be found."""

_FOCAL_SPREAD: Final = 0.5
_GOOD: Final = 0.25
_FAR_OFF: Final = 3.0
"""In pixels, and of the lens's middle in standard deviations: what is worse may have begun too far
away, and is tried from another focal length."""

_LENS_FACTORS: Final = (0.2, 0.3, 0.3, 0.2, 0.1)
"""Standard deviations of the factors of `POWERS`."""

_STRETCH: Final = 0.01
"""Of the print, standard deviation: printers feed paper a little long or short."""

_SCAN_STRETCH: Final = 0.003
"""Of a scanner, its two directions against each other and out of the right angle."""


@dataclass(frozen=True, eq=False)
class Sighting:
    """A strip on a picture.

    *picture*: its number. *name*: the strip's letter. *places*: of corners on the strip in mm, and
    *pixels*: where they are seen, shapes (n, 2).
    """

    picture: int
    name: str
    places: FloatArray
    pixels: FloatArray


@dataclass(frozen=True, eq=False)
class Placed:
    """What the pictures of a draft tell.

    *sizes*: of pictures in pixels: wide, high. *lenses*: which camera took each; -1 for a scan.
    *values*: all that was solved,: lenses, poses, three numbers
    a strip, the stretch.
    """

    sizes: tuple[tuple[int, int], ...]
    lenses: tuple[int, ...]
    strips: tuple[str, ...]
    sightings: tuple[Sighting, ...]
    values: FloatArray

    @property
    def stretch(self) -> float:
        """Logarithm of how much wider the print is along strips than across."""
        return float(self.values[-1])

    @property
    def free(self) -> NDArray[np.int_]:
        """Which values are solved: the first strip's place is where the plane is measured from."""
        first = self._strip_at(0)
        return np.setdiff1d(np.arange(len(self.values)), np.arange(first, first + 3))

    def _pose_at(self, picture: int) -> int:
        return LENS * (max(self.lenses) + 1) + POSE * picture

    def _strip_at(self, strip: int) -> int:
        return self._pose_at(len(self.sizes)) + 3 * strip

    def see(self, points: FloatArray, picture: int) -> Seen:
        """Points (n, 2) of the plane on a picture."""
        return _see(self, self.values, points, picture)

    def moves(self, points: FloatArray, picture: int) -> FloatArray:
        """How what a picture shows at points (n, 2) moves on the plane with all values, by which.

        Shape (n, 2, values): the pixel stays, and what is solved changes.
        """
        seen = self.see(points, picture)
        slopes = np.zeros((len(points), 2, len(self.values)))
        lens, at = self.lenses[picture], self._pose_at(picture)
        if lens >= 0:
            slopes[:, :, LENS * lens : LENS * (lens + 1)] = seen.by_lens
        slopes[:, :, at : at + POSE] = seen.by_pose
        return np.asarray(np.linalg.solve(-seen.by_point, slopes), dtype=np.float64)

    def on_plane(self, name: str, places: FloatArray) -> FloatArray:
        """Where points of a strip, shape (n, 2), lie on the plane, in mm."""
        return _laid(self._strip_values(self.values, name), self.stretch, places)[0]

    def _strip_values(self, values: FloatArray, name: str) -> FloatArray:
        at = self._strip_at(self.strips.index(name))
        strip: FloatArray = values[at : at + 3]
        return strip

    @cached_property
    def residuals(self) -> tuple[FloatArray, ...]:
        """How far each sighting's corners lie from where they should, in pixels, (n, 2) each."""
        return tuple(
            self.see(self.on_plane(s.name, s.places), s.picture).pixels - s.pixels
            for s in self.sightings
        )

    @property
    def rms(self) -> float:
        """How far corners lie from where they should, in pixels."""
        return float(np.sqrt(np.mean(np.concatenate(self.residuals) ** 2) * 2.0))

    @cached_property
    def cost(self) -> float:
        """What was made least: robust squares of all errors, and of what is unusual."""
        squares = (errors_of(self, self.values)[0] / _ROBUST) ** 2
        return float((np.sqrt(1.0 + squares) - 1.0).sum())

    @property
    def off_middle(self) -> float:
        """How far the lens's middle lies off a picture's, in standard deviations of usual ones."""
        found = [0.0]
        for lens in range(max(self.lenses) + 1):
            size = self.sizes[self.lenses.index(lens)]
            away = np.hypot(*self.values[LENS * lens + 1 : LENS * lens + 3])
            found.append(float(away) / _middle_spread(size))
        return max(found)

    def back(self, pixels: FloatArray, picture: int, near: FloatArray) -> FloatArray:
        """Where on the plane pixels (n, 2) lie, by Newton's steps from places near them."""
        points = near
        for _ in range(6):
            seen = self.see(points, picture)
            steps = np.linalg.solve(seen.by_point, (pixels - seen.pixels)[:, :, None])
            points = np.add(points, steps[:, :, 0])
        return points


def _see(placed: Placed, values: FloatArray, points: FloatArray, picture: int) -> Seen:
    at = placed._pose_at(picture)
    pose, lens = values[at : at + POSE], placed.lenses[picture]
    if lens < 0:
        return scanned(points, pose)
    return photographed(
        points, values[LENS * lens : LENS * (lens + 1)], pose, placed.sizes[picture]
    )


def _laid(
    strip: FloatArray, stretch: float, places: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points of a strip on the plane, and how they move with its angle and with the stretch."""
    c, s = np.cos(strip[2]), np.sin(strip[2])
    half = 0.5 * np.array([stretch, -stretch])
    own = places * np.exp(half)
    turn = np.array([[c, s], [-s, c]])
    turned = own @ turn
    by_angle = turned @ np.array([[0.0, 1.0], [-1.0, 0.0]])
    return turned + strip[:2], by_angle, (own * (0.5, -0.5)) @ turn


def solve(
    sizes: Sequence[tuple[int, int]],
    lenses: Sequence[int],
    sightings: Sequence[Sighting],
) -> Placed:
    """Solve lenses, pictures and strips from what is seen of strips, as one robust least squares.

    *lenses*: the number of the camera that took each picture, or -1 for a scan. Every picture must
    be joined to the others by strips that they share.
    """
    strips = tuple(sorted({sighting.name for sighting in sightings}))
    best: Placed | None = None
    for focal in _FOCALS if max(lenses) >= 0 else _FOCALS[:1]:
        poses, places = start(sizes, lenses, sightings, strips, focal)
        lens = np.tile([focal, *[0.0] * (LENS - 1)], max(lenses) + 1)
        values = np.concatenate([lens, poses.ravel(), places.ravel(), [0.0]])
        found = fitted(Placed(tuple(sizes), tuple(lenses), strips, tuple(sightings), values))
        if best is None or found.cost < best.cost:
            best = found
        if best.rms < _GOOD and best.off_middle < _FAR_OFF:
            break
    assert best is not None
    return best


def fitted(placed: Placed) -> Placed:
    """The same with the best values, looked for from those that it has on."""
    free = placed.free
    last: dict[bytes, tuple[FloatArray, FloatArray]] = {}

    def whole(some: FloatArray) -> FloatArray:
        values = placed.values.copy()
        values[free] = some
        return values

    def both(some: FloatArray) -> tuple[FloatArray, FloatArray]:
        key = some.tobytes()
        if key not in last:
            last.clear()
            errors, slopes = errors_of(placed, whole(some))
            last[key] = errors, slopes[:, free]
        return last[key]

    def errors(some: FloatArray) -> FloatArray:
        return both(some)[0]

    def slopes(some: FloatArray) -> FloatArray:
        return both(some)[1]

    # The plain sum of squares leads from far away; the robust one says what counts there.
    rough = least_squares(
        errors,
        placed.values[free],
        jac=slopes,
        method="lm",
        x_scale="jac",
        max_nfev=100,
        ftol=1e-6,
    )
    found = least_squares(
        errors,
        rough.x,
        jac=slopes,
        loss="soft_l1",
        f_scale=_ROBUST,
        x_scale="jac",
        max_nfev=40,
        ftol=1e-7,
        xtol=1e-10,
    )
    return replace(placed, values=whole(found.x))


def _middle_spread(size: tuple[int, int]) -> float:
    return _MIDDLE_PIXELS * 2.0 * half_diagonal(size) / _USUAL_DIAGONAL


def errors_of(placed: Placed, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """All errors as multiples of their standard deviations, and their slopes."""
    errors, rows = [], []
    width = len(values)
    for sighting in placed.sightings:
        index = placed.strips.index(sighting.name)
        points, by_angle, by_stretch = _laid(
            placed._strip_values(values, sighting.name), values[-1], sighting.places
        )
        seen = _see(placed, values, points, sighting.picture)
        slopes = np.zeros((len(points), 2, width))
        lens = placed.lenses[sighting.picture]
        if lens >= 0:
            slopes[:, :, LENS * lens : LENS * (lens + 1)] = seen.by_lens
        at = placed._pose_at(sighting.picture)
        slopes[:, :, at : at + POSE] = seen.by_pose
        at = placed._strip_at(index)
        slopes[:, :, at : at + 2] = seen.by_point
        slopes[:, :, at + 2] = (seen.by_point @ by_angle[:, :, None])[:, :, 0]
        slopes[:, :, -1] = (seen.by_point @ by_stretch[:, :, None])[:, :, 0]
        errors.append((seen.pixels - sighting.pixels).ravel() / _PIXEL)
        rows.append(slopes.reshape(-1, width) / _PIXEL)
    for wanted, factors in _expected(placed):
        rows.append(factors[None])
        errors.append(np.array([factors @ values - wanted]))
    return np.concatenate(errors), np.concatenate(rows)


def _expected(placed: Placed) -> list[tuple[float, FloatArray]]:
    """What is known before any picture, as a sum of values, by their standard deviation."""
    found: list[tuple[float, FloatArray]] = []

    def expect(value: float, spread: float, *terms: tuple[int, float]) -> None:
        row = np.zeros(len(placed.values))
        for place, factor in terms:
            row[place] = factor / spread
        found.append((value / spread, row))

    for lens in range(max(placed.lenses) + 1):
        size = placed.sizes[placed.lenses.index(lens)]
        at = LENS * lens
        expect(_FOCALS[0], _FOCAL_SPREAD, (at, 1.0))
        middle = _middle_spread(size)
        expect(0.0, middle, (at + 1, 1.0))
        expect(0.0, middle, (at + 2, 1.0))
        for k in range(len(POWERS)):
            expect(0.0, _LENS_FACTORS[k], (at + 3 + k, 1.0))
    for picture, lens in enumerate(placed.lenses):
        if lens < 0:
            at = placed._pose_at(picture)
            pitch = float(np.linalg.norm(placed.values[at : at + 4])) / np.sqrt(2.0)
            expect(0.0, _SCAN_STRETCH * pitch, (at, 1.0), (at + 3, -1.0))
            expect(0.0, _SCAN_STRETCH * pitch, (at + 1, 1.0), (at + 2, 1.0))
    expect(0.0, _STRETCH, (len(placed.values) - 1, 1.0))
    return found
