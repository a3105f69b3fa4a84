"""Flat sheets sewn edge to edge, laid flat in one piece with the least distortion."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from ..errors import ShiftError
from ..outline import FloatArray
from ..outline.bezier import IntArray

if TYPE_CHECKING:
    from scipy.interpolate import RBFInterpolator
    from scipy.sparse import csc_array

ComplexArray = npt.NDArray[np.complex128]

_STIFF_MM: Final = 1.0e6
"""What is kept is kept as if a strip of cloth so wide held it: to 0.001 mm."""

_SMOOTH_MM5: Final = 7.0e5
"""An edge that is kept as long as it is would rather buckle than press on the cloth. It is held by
a spline that resists changes of the bend it is given, not the bend itself: waves shorter than about
80 mm (k^5 = 2 / this) cost more than what they save."""

_MOST_STEPS: Final = 100
_SETTLED_MM: Final = 1.0e-3
_GAINED: Final = 1.0e-8
"""Part of the sum that a step has to gain: what is left then moves no point by 0.005 mm."""

_PARTS: Final = tuple(0.5**k for k in range(14))
_RIDGE: Final = 1.0e-10
"""Part of its diagonal by which a singular system (the whole may move and turn) is made regular."""

_SLOPE_MM: Final = 0.01
_NEAR_RIGID_MM: Final = 1.0e-6


@dataclass(frozen=True, eq=False)
class Flattened:
    """Sheets laid flat together.

    `rest` and `image` are the points of each sheet's grid before and after, complex, shape (rows,
    columns); the last column of one and the first of the next are one line in the image.
    `stretch`, shape (triangles, 2), are the least and the greatest principal stretch, 1 where
    nothing is distorted.
    """

    rest: tuple[ComplexArray, ...]
    image: tuple[ComplexArray, ...]
    stretch: FloatArray

    def carriers(self) -> list[SheetMap]:
        """The map of each sheet, between its grid's points as well."""
        return [SheetMap.of(*pair) for pair in zip(self.rest, self.image, strict=True)]


@dataclass(frozen=True, eq=False)
class SheetMap:
    """A rigid motion and what the distortion adds to it: a thin plate through the grid's points.

    It is smooth, and the motion alone where there is no distortion (Duchon 1977). `after` is a
    turn of what is added.
    """

    turn: complex
    step: complex
    bent: RBFInterpolator | None
    after: complex = 1.0 + 0.0j

    @classmethod
    def of(cls, rest: ComplexArray, image: ComplexArray) -> SheetMap:
        """The map that takes a grid to its image."""
        from scipy.interpolate import RBFInterpolator

        turn, step = nearest_motion(rest.ravel(), image.ravel())
        over = image - (turn * rest + step)
        if np.abs(over).max() < _NEAR_RIGID_MM:
            return cls(turn, step, None)
        return cls(turn, step, RBFInterpolator(_pairs(rest.ravel()), _pairs(over.ravel())))

    def points(self, points: FloatArray) -> FloatArray:
        """Images of points, shape (n, 2)."""
        moved = _pairs(self.turn * (points[:, 0] + 1j * points[:, 1]) + self.step)
        return moved if self.bent is None else moved + self._added(points)

    def _added(self, points: FloatArray) -> FloatArray:
        assert self.bent is not None  # as the callers have seen to
        over = self.bent(points)
        return _pairs(self.after * (over[:, 0] + 1j * over[:, 1]))

    def carried(self, points: FloatArray, speeds: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Images of points and of vectors at them, shapes (n, 2)."""
        turned = _pairs(self.turn * (speeds[:, 0] + 1j * speeds[:, 1]))
        if self.bent is None:
            return self.points(points), turned
        size = np.maximum(np.hypot(*speeds.T), 1e-30)[:, None]
        near = _SLOPE_MM * speeds / size
        ahead, behind = np.split(self._added(np.concatenate([points + near, points - near])), 2)
        return self.points(points), turned + (ahead - behind) * size / (2.0 * _SLOPE_MM)


def lay_flat(
    sheets: Sequence[FloatArray], straight: tuple[bool, bool] = (False, False)
) -> Flattened:
    """Lay sheets flat that are sewn together in a row.

    *sheets*: points of each, shape (rows, columns, 2) in mm, in axes of its own: its columns go
    from the bottom edge to the top edge, the first and the last along the edges that are sewn.
    *straight*: whether the row's first and last edge stay straight.

    Of all maps that keep the row's two outer edges as long as they are, all along, and bend them
    smoothly, it is the one that is nearest to rigid: the sum over the cloth of |J - R|^2, J being
    the map's derivative and R the rotation nearest to it, is the least (as rigid as possible: Liu,
    Zhang, Xu, Gotsman and Gortler, A local/global approach to mesh parameterization, 2008; here by
    Gauss's and Newton's steps on J = alpha z + beta conj(z), for which |J - R|^2 = 2 (|alpha| -
    1)^2 + 2 |beta|^2).

    Raises `ShiftError` if that does not come to rest.
    """
    rest = [sheet[..., 0] + 1j * sheet[..., 1] for sheet in sheets]
    number = _numbers(rest)
    triangles, corners = _triangles(rest, number)
    kept = [
        _HeldEdge(named[:, side], np.diff(own[:, side]), still)
        for own, named, side, still in zip(
            (rest[0], rest[-1]), (number[0], number[-1]), (0, -1), straight, strict=True
        )
    ]
    mesh = _Netting(triangles, *_gradients(corners), kept)
    image = mesh.settled(_placed(rest, number))
    alpha, beta = mesh.parts(image)
    stretch = np.column_stack([np.abs(alpha) - np.abs(beta), np.abs(alpha) + np.abs(beta)])
    return Flattened(tuple(rest), tuple(image[own] for own in number), stretch)


def _numbers(rest: Sequence[ComplexArray]) -> list[IntArray]:
    """A number for every point of every grid; two that are sewn together have one."""
    found: list[IntArray] = []
    following = 0
    for own in rest:
        number = following + np.arange(own.size).reshape(own.shape[::-1]).T
        if found:
            number -= len(own)
            number[:, 0] = found[-1][:, -1]
        following = int(number.max()) + 1
        found.append(number)
    return found


def _triangles(
    rest: Sequence[ComplexArray], number: Sequence[IntArray]
) -> tuple[IntArray, ComplexArray]:
    """Triangles by the numbers of their points, and where these lie: each cell by both diagonals.

    Both halve its weight, so that none of them is preferred.
    """
    cells = ((0, 0), (0, 1), (1, 1), (1, 0))
    numbers, places = [], []
    for own, named in zip(rest, number, strict=True):
        high, wide = own.shape
        four = [(slice(i, high - 1 + i), slice(j, wide - 1 + j)) for i, j in cells]
        for three in ((0, 1, 2), (0, 2, 3), (0, 1, 3), (1, 2, 3)):
            numbers.append(np.stack([named[four[k]].ravel() for k in three], axis=1))
            places.append(np.stack([own[four[k]].ravel() for k in three], axis=1))
    return np.concatenate(numbers), np.concatenate(places)


def _gradients(corners: ComplexArray) -> tuple[ComplexArray, FloatArray]:
    """Gradients of the three hat functions of each triangle, and half its area."""
    opposite = np.roll(corners, -2, axis=1) - np.roll(corners, -1, axis=1)
    area = 0.5 * (np.conj(opposite[:, 0]) * opposite[:, 1]).imag
    return 1j * opposite / (2.0 * area[:, None]), 0.5 * np.abs(area)


def _placed(rest: Sequence[ComplexArray], number: Sequence[IntArray]) -> ComplexArray:
    """Every sheet moved rigidly so that its first edge meets the last one of the one before it."""
    image = np.zeros(int(max(own.max() for own in number)) + 1, dtype=np.complex128)
    counted = np.zeros(len(image), dtype=np.complex128)
    turn, step = 1.0 + 0.0j, 0.0 + 0.0j
    before: ComplexArray | None = None
    for own, named in zip(rest, number, strict=True):
        if before is not None:
            turn, step = nearest_motion(own[:, 0], before)
        moved = turn * own + step
        np.add.at(image, named, moved)
        np.add.at(counted, named, 1.0 + 0.0j)
        before = moved[:, -1]
    return image / counted


def nearest_motion(points: ComplexArray, onto: ComplexArray) -> tuple[complex, complex]:
    """The turn and the step that bring points nearest to others, by least squares."""
    middle, aim = points.mean(), onto.mean()
    turn = np.vdot(points - middle, onto - aim)
    turn /= abs(turn)
    return complex(turn), complex(aim - turn * middle)


def _pairs(points: ComplexArray) -> FloatArray:
    return np.column_stack([points.real, points.imag])


_Rates = tuple[IntArray, IntArray, ComplexArray]
"""Rows, numbers of points, and c: what is missed changes by Re(c dz) if a point moves by dz."""


@dataclass(frozen=True, eq=False)
class _HeldEdge:
    """An outer edge: the numbers of its points, the steps between them, whether it is straight."""

    points: IntArray
    steps: ComplexArray
    straight: bool

    @property
    def _roots(self) -> tuple[FloatArray, float]:
        """Weights of what the lengths miss, and of the bend."""
        lengths = np.abs(self.steps)
        bend = _STIFF_MM if self.straight else _SMOOTH_MM5 / float(lengths.mean()) ** 3
        return np.sqrt(_STIFF_MM / lengths), float(np.sqrt(bend))

    def missed(self, image: ComplexArray) -> FloatArray:
        """What its lengths miss, and its bend: all of it, or that which is not smooth."""
        steps = np.diff(image[self.points])
        stiff, bend = self._roots
        lengths = stiff * (np.abs(steps) - np.abs(self.steps))
        turned = np.unwrap(np.angle(steps / self.steps))
        order = 1 if self.straight else 2
        return np.concatenate([lengths, bend * np.diff(turned, order)])

    def rates(self, image: ComplexArray) -> _Rates:
        """Rates of change of what is missed."""
        steps = np.diff(image[self.points])
        stiff, bend = self._roots
        many = len(steps)
        found: list[_Rates] = []

        def add(row: IntArray, step: IntArray, rate: ComplexArray) -> None:
            found.append((row, self.points[step + 1], rate))
            found.append((row, self.points[step], -rate))

        every = np.arange(many)
        add(every, every, np.asarray(stiff * np.conj(steps) / np.abs(steps)))
        weights = (-1.0, 1.0) if self.straight else (1.0, -2.0, 1.0)
        rows = np.arange(many - len(weights) + 1)
        for place, weight in enumerate(weights):
            own = rows + place
            add(many + rows, own, -1j * bend * weight / steps[own])
        first, second, third = (np.concatenate(part) for part in zip(*found, strict=True))
        return first, second, third


@dataclass(frozen=True, eq=False)
class _Netting:
    """Triangles with the gradients of their hat functions, and the two edges of the whole."""

    triangles: IntArray
    gradients: ComplexArray
    weights: FloatArray
    kept: Sequence[_HeldEdge]

    def parts(self, image: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        """Alpha and beta of every triangle: the derivatives by z and by its conjugate."""
        own = image[self.triangles]
        alpha = 0.5 * (np.conj(self.gradients) * own).sum(axis=1)
        beta = 0.5 * (self.gradients * own).sum(axis=1)
        return alpha, beta

    def missed(self, image: ComplexArray) -> FloatArray:
        """What is to be made small, its squares added up."""
        alpha, beta = self.parts(image)
        root = np.sqrt(2.0 * self.weights)
        inside = [root * (np.abs(alpha) - 1.0), root * beta.real, root * beta.imag]
        return np.concatenate([*inside, *(edge.missed(image) for edge in self.kept)])

    def _rates(self, image: ComplexArray) -> csc_array:
        """Rates of change of `missed` by the coordinates of all points, x before y."""
        from scipy.sparse import coo_array, csc_array

        alpha, _ = self.parts(image)
        root = np.sqrt(2.0 * self.weights)[:, None]
        along = root * 0.5 * (np.conj(alpha) / np.abs(alpha))[:, None] * np.conj(self.gradients)
        across = root * 0.5 * self.gradients
        count, points = len(self.triangles), self.triangles.ravel()
        row = np.repeat(np.arange(count), 3)
        blocks = [
            (row, points, along.ravel()),
            (row + count, points, across.ravel()),
            (row + 2 * count, points, -1j * across.ravel()),
        ]
        last = 3 * count
        for edge in self.kept:
            rows, own, rates = edge.rates(image)
            blocks.append((rows + last, own, rates))
            last += int(rows.max()) + 1
        rows, columns, value = (np.concatenate(part) for part in zip(*blocks, strict=True))
        both = np.concatenate([value.real, -value.imag])
        place = np.tile(rows, 2), np.concatenate([columns, columns + len(image)])
        return csc_array(coo_array((both, place), shape=(last, 2 * len(image))))

    def settled(self, image: ComplexArray) -> ComplexArray:
        """The image with the least of it, from one that is near."""
        from scipy.sparse import csc_array
        from scipy.sparse.linalg import spsolve

        missed = self.missed(image)
        for _ in range(_MOST_STEPS):
            rates = self._rates(image)
            system = csc_array(rates.T @ rates)
            system.setdiag(system.diagonal() * (1.0 + _RIDGE))
            found = spsolve(system, -(rates.T @ missed))
            step = found[: len(image)] + 1j * found[len(image) :]
            before = float(missed @ missed)
            image = image + self._part(image, step, before) * step
            missed = self.missed(image)
            gained = before - float(missed @ missed)
            if np.abs(step).max() < _SETTLED_MM or 0.0 < gained < _GAINED * before:
                return image
        raise ShiftError(
            "panels in one piece do not come to rest when they are laid flat",
            remedy="Join fewer panels of this layer, or let darts be sewn (darts_from).",
        )

    def _part(self, image: ComplexArray, step: ComplexArray, whole: float) -> float:
        """How much of a step is to be taken, halved until it is not for the worse."""
        for part in _PARTS:
            nearer = self.missed(image + part * step)
            if nearer @ nearer <= whole:
                return part
        return 0.0
