"""Sections of a body as support functions: one kind of section, wherever it comes from."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from ..errors import BodyError, CurveError, WrongTypeError
from ..files.plain_values import held_to_types
from ..outline import FloatArray
from ..outline.bezier import numbers
from ..outline.by_value import ByValue, read_only
from ..units import LONGEST_MM

ComplexArray = npt.NDArray[np.complex128]

ORDER: Final = 40
"""Highest harmonic kept: a wave of 9 degrees, shorter than any panel is wide."""

LEAST_RADIUS: Final = 0.03
"""Smallest radius of curvature over the mean radius: about a centimetre's edge of a hip bone
under cloth. A cut series can dip below it, even below nothing, where a section is sharp."""

CORNER_RAD: Final = np.radians(5.0)
"""Over what turn the corners of a sampled section are rounded. From a trial on hulls of sliced
meshes of bodies: 2 and 10 degrees brought the growth of panels less near that of the body."""

_ROUNDED: Final = 0.6
"""Part of the turn between neighbouring edges over which each is spread. Chords of a smooth curve
need 0.3 (a box as wide as the turn); those of a body mesh's hull are less regular."""

_GRID: Final = 360
_ANGLES = np.linspace(0.0, 2.0 * np.pi, _GRID + 1)
_K = np.arange(ORDER + 1)
_WAVES = np.vstack([np.cos(_K[:, None] * _ANGLES), -np.sin(_K[:, None] * _ANGLES)])
"""With a series' real and imaginary parts side by side its real sum is one real product."""
_TWICE = np.where(_K == 0, 1.0, 2.0)
_BENDING = 1.0 - _K.astype(np.float64) ** 2
_ARC = np.divide(_BENDING, 1j * _K, out=np.zeros(ORDER + 1, dtype=np.complex128), where=_K > 1)
_NEWTON_STEPS = 2
_LEAST_COUNT, _MOST_COUNT = 100, 1_000_000
_BY_ROW = 2.0
_FLAT_TURN = 1e-12


@dataclass(frozen=True, eq=False)
class Sections(ByValue):
    """Closed convex curves in one common frame, one a row.

    Parameters
    ----------
    coefficients : ndarray of complex, shape (m, ORDER + 1)
        Fourier coefficients c_k of each support function in mm; the first is real.

    Raises
    ------
    BodyError
        If the coefficients have another shape, or are not finite; of methods, if directions or
        parts are no such array of finite numbers as is asked for.

    Notes
    -----
    h(psi) = c_0 + 2 Re sum c_k exp(i k psi) is the distance from the frame's origin of the
    tangent whose outward normal looks in direction psi: 0 to the front, pi/2 to the wearer's
    left. The girth is 2 pi c_0 (Cauchy); 2 Re c_1 forward and -2 Im c_1 to the left lies the
    Steiner point, the curve's *place*; the rest is its shape. The radius of curvature is
    h + h'', so that the arc from the front runs as

        s(psi) = c_0 psi + 2 Re sum_{k >= 2} c_k (1 - k^2) / (i k) (exp(i k psi) - 1).

    The point with that normal is h N + h' T, T being N turned by a right angle. (Santalo,
    Integral Geometry and Geometric Probability, 1976, chapter 1; from memory.)

    Examples
    --------
    A circle of radius 100 mm that stands 20 mm before the frame's origin:

    >>> circle = Sections.of_support(lambda psi: 100.0 + 20.0 * np.cos(psi))
    >>> circle.girths.round(6).tolist(), circle.place.round(6).tolist()
    ([628.318531], [[0.0, 20.0]])
    >>> np.degrees(circle.normals(np.array([[0.0, 0.25]]))).round(6).tolist()
    [[0.0, 90.0]]
    """

    coefficients: ComplexArray

    def __post_init__(self) -> None:
        read_only(self, "coefficients", dtype=np.complex128)
        shape = self.coefficients.shape
        if shape[1:] != (ORDER + 1,) or not np.isfinite(self.coefficients).all():
            raise BodyError(
                f"coefficients of shape {shape}, or not finite, of sections",
                remedy=f"Give an array of shape (m, {ORDER + 1}), or see of_support, of_points.",
            )

    @classmethod
    @held_to_types
    def of_support(cls, support: Callable[[FloatArray], FloatArray], count: int = 4096) -> Sections:
        """Take sections from a support function.

        Parameters
        ----------
        support : callable
            From directions in radians, shape (n,), to distances in mm, shape (n,) or (m, n).
        count : int
            Directions asked for: the coefficients are those of its discrete Fourier series. From
            100 to a million.

        Returns
        -------
        Sections

        Raises
        ------
        BodyError
            If the count is another, or what is answered no such array of lengths.
        """
        if not _LEAST_COUNT <= count <= _MOST_COUNT:
            raise BodyError(
                f"a support function asked in {count!r:.40} directions",
                remedy=f"Give a count from {_LEAST_COUNT} to {_MOST_COUNT}.",
            )
        psi = 2.0 * np.pi * np.arange(count) / count
        answer = np.atleast_2d(_lengths(support(psi), "a support function's answer"))
        if answer.ndim != 2 or answer.shape[1] != count:
            raise BodyError(
                f"a support function answers {count} directions with shape {answer.shape}",
                remedy="Let it give a distance in mm for each direction, shape (n,) or (m, n).",
            )
        return cls(np.fft.rfft(answer, axis=1)[:, : ORDER + 1] / count)

    @classmethod
    def of_points(cls, curves: Sequence[FloatArray], *, smoothing: float = CORNER_RAD) -> Sections:
        """Take the hull of each curve's points, its corners rounded.

        Parameters
        ----------
        curves : sequence of ndarray, shape (n, 2)
            Points in mm, in any order: x to the wearer's left, y to the front.
        smoothing : float
            Angle in radians over which an edge is spread at most. It is spread over 0.6 of the
            larger turn to its neighbours, so that a fine polygon keeps the shape it stands for:
            harmonic k > 1 of an edge spread over s is damped by exp(-(k s)^2 / 2).

        Returns
        -------
        Sections

        Raises
        ------
        BodyError
            If the points of a curve lie on one line, or are none.

        Notes
        -----
        A polygon turns at its edges' normals psi_j only, where its radius of curvature has
        the whole length l_j of the edge: c_k = sum l_j exp(-i k psi_j) / (2 pi (1 - k^2)) for
        k not 1. c_1 is that of the Steiner point, the corners' mean weighted by their turn.
        Both are exact; no sampling comes in.
        """
        # An array that holds a single number says that it is a collection.
        lone = isinstance(curves, np.ndarray) and not curves.ndim
        asked = None if lone or isinstance(curves, (str, bytes, Mapping)) else curves
        WrongTypeError.unless(asked, Collection, "sections", "a list of curves, each its points")
        if not 0.0 <= _lengths(smoothing, "smoothing").max() < np.pi:
            raise BodyError(f"smoothing over {smoothing:g}", remedy="Give an angle in radians.")
        rows = np.empty((len(curves), ORDER + 1), dtype=np.complex128)
        for row, points in zip(rows, curves, strict=True):
            known = _lengths(points, "a section's points")
            if known.ndim != 2 or known.shape[1] != 2:
                raise BodyError(
                    f"a section whose points are of shape {known.shape}, not (n, 2)",
                    remedy="Give x and y of each point in mm.",
                )
            corners = _hull(known)
            edges = np.roll(corners, -1, axis=0) - corners
            # Corners run anticlockwise seen with x to the right: outwards is to the right.
            psi = np.arctan2(edges[:, 1], -edges[:, 0])
            lengths = np.hypot(edges[:, 0], edges[:, 1])
            turns = np.mod(np.roll(psi, 1) - psi, 2.0 * np.pi)
            x, y = turns @ corners / (2.0 * np.pi)
            wide = _ROUNDED * np.maximum(turns, np.roll(turns, -1))
            wide = np.minimum(wide, smoothing)[:, None] * _K * (_K > 1)
            waves = lengths @ np.exp(-1j * psi[:, None] * _K - 0.5 * wide**2) / (2.0 * np.pi)
            row[:] = np.divide(waves, _BENDING, out=np.zeros_like(waves), where=_K != 1)
            row[1] = 0.5 * (y - 1j * x)
        rows[:, 0] = rows[:, 0].real
        return cls(rows)

    @property
    def girths(self) -> FloatArray:
        """Length of each curve in mm, shape (m,)."""
        return np.asarray(2.0 * np.pi * self.coefficients[:, 0].real)

    @property
    def place(self) -> FloatArray:
        """Steiner point of each in mm: to the wearer's left, and to the front, shape (m, 2)."""
        first = self.coefficients[:, 1]
        return np.column_stack([-2.0 * first.imag, 2.0 * first.real])

    def mirrored(self) -> Sections:
        """The same with left and right exchanged."""
        return Sections(self.coefficients.conj())

    def symmetric(self) -> Sections:
        """The mean of each section and its mirror image: what two equal halves are cut for."""
        return Sections(self.coefficients.real.astype(np.complex128))

    def support(self, psi: FloatArray) -> FloatArray:
        """Distance of the tangents with normals psi in mm, shape (m, n) as psi."""
        return _summed(self.coefficients, self._directions(psi))

    def slope(self, psi: FloatArray) -> FloatArray:
        """Rate h' in mm for each radian, shape (m, n) as psi."""
        return _summed(self.coefficients * (1j * _K), self._directions(psi))

    def radius(self, psi: FloatArray) -> FloatArray:
        """Radius of curvature in mm, floored, shape (m, n) as psi."""
        bare = _summed(self.coefficients * _BENDING, self._directions(psi))
        return np.maximum(bare, LEAST_RADIUS * self.coefficients[:, :1].real)

    def arc_between(self, begin: float, end: float) -> FloatArray:
        """Arc in mm between the points with two normals, in radians, shape (m,)."""
        for angle in (begin, end):
            WrongTypeError.unless(angle, (int, float, np.number), "a normal", "its angle")
            _lengths(angle, "a normal's angle")
        waves = np.exp(1j * _K * end) - np.exp(1j * _K * begin)
        straight = (end - begin) * self.coefficients[:, 0].real
        return np.asarray(straight + 2.0 * (self._arc_waves @ waves).real)

    def points(self, psi: FloatArray) -> FloatArray:
        """Points with normals psi, shape (m, n, 2): to the wearer's left, and to the front."""
        h, rate = self.support(psi), self.slope(psi)
        sine, cosine = np.sin(psi), np.cos(psi)
        return np.stack([h * sine + rate * cosine, h * cosine - rate * sine], axis=-1)

    def normals(self, parts: FloatArray) -> FloatArray:
        """Directions of the normals where given parts of the girth have been run.

        Parameters
        ----------
        parts : ndarray, shape (m, n)
            From the point that faces the front, positive to the wearer's left; a whole girth
            is 1, and parts may lie beyond it.

        Returns
        -------
        ndarray, shape (m, n)
            In radians, increasing with the parts.

        Notes
        -----
        Found between two of 360 directions, then by Newton's steps. Where the radius of
        curvature had to be floored the arc is that of the floored one, scaled to the girth.
        """
        parts = self._directions(parts)
        whole = np.floor(parts)
        wanted = (parts - whole) * self._arcs[:, -1:]
        rows = np.arange(len(parts))[:, None]
        # One sorted array for all rows: each is as long as its girth is to itself, 1.
        keys = self._arcs / self._arcs[:, -1:] + _BY_ROW * rows
        found = np.searchsorted(keys.ravel(), (parts - whole + _BY_ROW * rows).ravel(), "right")
        left = np.clip(found.reshape(parts.shape) - 1 - (_GRID + 1) * rows, 0, _GRID - 1)
        low, high = self._arcs[rows, left], self._arcs[rows, left + 1]
        step = _ANGLES[1]
        begin = left * step
        psi = begin + step * (wanted - low) / np.maximum(high - low, _FLAT_TURN)
        padding = self._padding[rows, left]
        extra = (self._padding[rows, left + 1] - padding) / step
        series = np.stack([self._arc_waves, self.coefficients * _BENDING])
        for _ in range(_NEWTON_STEPS):
            arc, rate = _summed(series, psi)
            arc += self.coefficients[:, :1].real * psi + self._arc_start[:, None]
            arc += padding + extra * (psi - begin)
            rate += extra
            rate = np.maximum(rate, LEAST_RADIUS * self.coefficients[:, :1].real)
            psi = np.clip(psi + (wanted - arc) / rate, begin, begin + step)
        return np.asarray(psi + 2.0 * np.pi * whole)

    def _directions(self, asked: FloatArray) -> FloatArray:
        """Directions or parts of the girth, a row for each section, as an array of numbers."""
        found = _lengths(asked, "directions")
        if found.ndim < 2 or found.shape[-2] != len(self.coefficients):
            raise BodyError(
                f"directions of shape {found.shape} for {len(self.coefficients)} sections",
                remedy="Give an array of shape (m, n), a row for each section.",
            )
        return found

    @cached_property
    def _arc_waves(self) -> ComplexArray:
        return np.asarray(self.coefficients * _ARC)

    @cached_property
    def _arc_start(self) -> FloatArray:
        return np.asarray(-2.0 * self._arc_waves.sum(axis=1).real)

    @cached_property
    def _padding(self) -> FloatArray:
        """What flooring has added to the arc up to each direction of the grid, in mm."""
        bare = _on_grid(self.coefficients * _BENDING)
        least = LEAST_RADIUS * self.coefficients[:, 0].real
        result = np.zeros_like(bare)
        # Few sections are as sharp as that.
        sharp = bare.min(axis=1) < least
        lack = np.maximum(least[sharp, None] - bare[sharp], 0.0)
        steps = 0.5 * (lack[:, 1:] + lack[:, :-1]) * _ANGLES[1]
        result[sharp, 1:] = np.cumsum(steps, axis=1)
        return result

    @cached_property
    def _arcs(self) -> FloatArray:
        """Arc from the front at each direction of the grid in mm, shape (m, grid + 1)."""
        plain = self.coefficients[:, :1].real * _ANGLES + _on_grid(self._arc_waves)
        arcs = plain + self._arc_start[:, None] + self._padding
        # The grid's own rule may leave an interval of a floored stretch falling by rounding.
        return np.maximum.accumulate(arcs, axis=1)


def _lengths(values: npt.ArrayLike, what: str) -> FloatArray:
    """Values as an array of finite numbers no larger than lengths are; `BodyError` if none."""
    try:
        found = numbers(values)
    except CurveError:
        found = np.array(np.nan)
    if not (np.abs(found) <= LONGEST_MM).all():
        raise BodyError(
            f"{what} with numbers that are none, or beyond 100 m",
            remedy="Give an array of finite numbers: lengths in mm, angles in radians.",
        )
    return found


def _on_grid(coefficients: ComplexArray) -> FloatArray:
    """Real sum of a series at the grid's directions, shape (m, grid + 1)."""
    twice = coefficients * _TWICE
    if not twice.imag.any():  # symmetric bodies, which most are
        return np.asarray(twice.real @ _WAVES[: ORDER + 1])
    return np.asarray(np.hstack([twice.real, twice.imag]) @ _WAVES)


def _summed(coefficients: ComplexArray, psi: FloatArray) -> FloatArray:
    """Real sums of series at directions, by Horner's rule in exp(i psi), shape (..., m, n).

    Coefficients may hold several series for each row, shape (..., m, ORDER + 1).
    """
    turn = np.exp(1j * psi)
    terms = np.moveaxis(coefficients * _TWICE, -1, 0)[..., None]
    total = np.empty((*coefficients.shape[:-1], psi.shape[-1]), dtype=np.complex128)
    total[:] = terms[ORDER]
    for term in terms[ORDER - 1 :: -1]:
        total *= turn
        total += term
    return np.asarray(total.real)


def _hull(points: FloatArray) -> FloatArray:
    """Corners of the convex hull, anticlockwise with x to the right (Andrew's chain)."""
    ordered = points[np.lexsort((points[:, 1], points[:, 0]))].tolist()
    sides = []
    for run in (ordered, ordered[::-1]):
        chain: list[list[float]] = []
        for x, y in run:
            while len(chain) > 1 and (
                (chain[-1][0] - chain[-2][0]) * (y - chain[-2][1])
                <= (chain[-1][1] - chain[-2][1]) * (x - chain[-2][0])
            ):
                chain.pop()
            chain.append([x, y])
        sides += chain[:-1]
    if len(sides) < 3:
        raise BodyError(
            "a section whose points lie on one line",
            remedy="Give the points of a closed curve round the body.",
        )
    return np.array(sides)
