"""Cubic pieces through knots: values filled in smoothly between measures and levels."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from .bezier import FloatArray, IntArray
from .by_value import Sealed, read_only


@dataclass(frozen=True, eq=False)
class Spline(Sealed):
    """Cubics through knots, each with given slopes at its ends (Hermite's form).

    Several functions on the same knots are one spline: what is said of a value below then holds
    for a row of them.

    *knots*, shape (n,): at least two, increasing. *values*, shape (n, ...): of each function at
    each knot. *slopes*, shape (n, ...): rate of change of each there.

    Examples
    --------
    >>> Spline(np.array([0.0, 2.0]), np.array([0.0, 8.0]), np.array([0.0, 12.0])).at([1.0])
    array([1.])
    """

    knots: FloatArray
    values: FloatArray
    slopes: FloatArray

    def __post_init__(self) -> None:
        read_only(self, "knots", "values", "slopes")

    @classmethod
    def smooth(cls, knots: npt.ArrayLike, values: npt.ArrayLike) -> Spline:
        """Return the spline with two derivatives, its outermost two pieces at each end one cubic.

        Through three knots this is a parabola, through two a line.

        *knots*: array_like, shape (n,). At least two, increasing. *values*: array_like, shape (n,
        ...).

        Notes
        -----
        It is linear in its values. (De Boor, A Practical Guide to Splines, chapter IV, calls the
        end condition "not a knot"; from memory.)

        Examples
        --------
        >>> cube = Spline.smooth([0.0, 1.0, 2.0, 4.0], [1.0, 2.0, 9.0, 65.0])
        >>> cube.slopes[1:].round(12).tolist()
        [3.0, 12.0, 48.0]
        """
        x, y = np.asarray(knots, dtype=np.float64), np.asarray(values, dtype=np.float64)
        steps = np.diff(x)
        h = steps.reshape(-1, *(1,) * (y.ndim - 1))
        chords = np.diff(y, axis=0) / h
        if len(x) == 2:
            return cls(x, y, np.concatenate([chords, chords]))
        if len(x) == 3:
            bend = (chords[1] - chords[0]) / (x[2] - x[0])
            ends = chords[0] - bend * h[0], chords[0] + bend * h[0], chords[1] + bend * h[1]
            return cls(x, y, np.stack(ends))
        wanted = np.empty_like(y)
        wanted[1:-1] = 3.0 * (h[1:] * chords[:-1] + h[:-1] * chords[1:])
        first, last = x[2] - x[0], x[-1] - x[-3]
        wanted[0] = ((h[0] + 2.0 * first) * h[1] * chords[0] + h[0] ** 2 * chords[1]) / first
        wanted[-1] = (h[-1] ** 2 * chords[-2] + (2.0 * last + h[-1]) * h[-2] * chords[-1]) / last
        below = np.concatenate([steps[1:], [last]])
        middle = np.concatenate([steps[1:2], 2.0 * (steps[:-1] + steps[1:]), steps[-2:-1]])
        above = np.concatenate([[first], steps[:-1]])
        return cls(x, y, _solved(below.tolist(), middle.tolist(), above.tolist(), wanted))

    @classmethod
    def monotone(cls, knots: npt.ArrayLike, values: npt.ArrayLike) -> Spline:
        """Return the spline that rises and falls only where its values do.

        *knots*: array_like, shape (n,). At least two, increasing. *values*: array_like, shape (n,
        ...).

        Notes
        -----
        Slopes are the weighted harmonic means of Fritsch and Butland (SIAM J. Sci. Stat. Comput.
        5, 1984), at the ends the three-point formula, held back (Moler, Numerical Computing with
        MATLAB, 3.6; from memory).

        Examples
        --------
        >>> Spline.monotone([0.0, 1.0, 3.0], [0.0, 2.0, 2.0]).slopes.tolist()
        [2.6666666666666665, 0.0, 0.0]
        """
        x, y = np.asarray(knots, dtype=np.float64), np.asarray(values, dtype=np.float64)
        h = np.diff(x).reshape(-1, *(1,) * (y.ndim - 1))
        chords = np.diff(y, axis=0) / h
        if len(x) == 2:
            return cls(x, y, np.concatenate([chords, chords]))
        slopes = np.zeros_like(y)
        before, after = chords[:-1], chords[1:]
        left, right = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            mean = (left + right) / (left / before + right / after)
        slopes[1:-1] = np.where(np.sign(before) * np.sign(after) > 0.0, mean, 0.0)
        slopes[0] = _held_back(h[0], h[1], chords[0], chords[1])
        slopes[-1] = _held_back(h[-1], h[-2], chords[-1], chords[-2])
        return cls(x, y, slopes)

    def read_rows(self, wanted: FloatArray, row: IntArray) -> tuple[FloatArray, FloatArray]:
        """Values, each of a function of its own, and their rates of change.

        *wanted*: ndarray, shape (k,). *row*: ndarray of int, shape (..., k). Functions read at
        each, of a spline whose values have shape (n, rows).

        Returns: ndarray, shape (..., k).
        """
        left, h, t = self._found(wanted)
        # One take from a flat array is several times faster than an index for each axis.
        at = left * self.values.shape[1] + row
        after = at + self.values.shape[1]
        values, slopes = self.values.reshape(-1), self.slopes.reshape(-1)
        low, start, end = values.take(at), h * slopes.take(at), h * slopes.take(after)
        rise = values.take(after) - low
        bend, twist = 3.0 * rise - 2.0 * start - end, start + end - 2.0 * rise
        value = low + t * (start + t * (bend + t * twist))
        return value, (start + t * (2.0 * bend + t * (3.0 * twist))) / h

    def at(self, wanted: npt.ArrayLike) -> FloatArray:
        """Values anywhere; beyond the ends the outermost cubics go on.

        *wanted*: of any shape.

        Returns: of that shape, each with a row of values if the spline's are rows.
        """
        left, h, t = self._pieces(np.asarray(wanted, dtype=np.float64))
        rest = 1.0 - t
        result = self.values[left] * (rest * rest * (1.0 + 2.0 * t))
        result += self.slopes[left] * (h * t * rest * rest)
        result += self.values[left + 1] * (t * t * (3.0 - 2.0 * t))
        result -= self.slopes[left + 1] * (h * t * t * rest)
        return np.asarray(result)

    def rates(self, wanted: npt.ArrayLike) -> FloatArray:
        """Rates of change, shapes as for `at`."""
        left, h, t = self._pieces(np.asarray(wanted, dtype=np.float64))
        rest = 1.0 - t
        result = (self.values[left + 1] - self.values[left]) * (6.0 * t * rest / h)
        result += self.slopes[left] * (rest * (rest - 2.0 * t))
        result += self.slopes[left + 1] * (t * (t - 2.0 * rest))
        return np.asarray(result)

    def _pieces(self, wanted: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
        """What `_found` gives, as wide as a row of values."""
        left, h, t = self._found(wanted)
        shape = *t.shape, *(1,) * (self.values.ndim - 1)
        return left, h.reshape(shape), t.reshape(shape)

    @cached_property
    def _step(self) -> float | None:
        """Distance between the knots if it is one everywhere."""
        steps = np.diff(self.knots)
        step = float(steps.mean())
        return step if float(np.ptp(steps)) < 1e-9 * step else None

    def _found(self, wanted: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
        """Knot to the left of each, width of its piece, and how far in it, from 0 to 1."""
        if self._step is None:
            left = np.searchsorted(self.knots, wanted, side="right") - 1
        else:
            left = ((wanted - self.knots[0]) / self._step).astype(np.int64)
        left = np.minimum(np.maximum(left, 0), len(self.knots) - 2)
        low = self.knots.take(left)
        h = self.knots.take(left + 1) - low
        return left, h, (wanted - low) / h


def _held_back(near: FloatArray, far: FloatArray, one: FloatArray, two: FloatArray) -> FloatArray:
    """Slope at an end whose piece is `near` wide and rises by `one`; `far` and `two` are next."""
    slope = ((2.0 * near + far) * one - near * two) / (near + far)
    slope = np.where(np.sign(slope) != np.sign(one), 0.0, slope)
    steep = (np.sign(one) != np.sign(two)) & (np.abs(slope) > 3.0 * np.abs(one))
    return np.where(steep, 3.0 * one, slope)


def _solved(
    below: list[float], middle: list[float], above: list[float], wanted: FloatArray
) -> FloatArray:
    """Solve a system of n equations with three diagonals, for many right sides of shape (n, ...).

    Elimination without exchange of rows is stable here: inside, the middle outweighs the others,
    and the first and last row, which it does not, are positive and leave a positive rest.
    """
    rows, pivots = list(wanted), middle[:1]
    for k, (low, here, high) in enumerate(zip(below, middle[1:], above, strict=True)):
        share = low / pivots[k]
        pivots.append(here - share * high)
        rows[k + 1] = rows[k + 1] - share * rows[k]
    rows[-1] = rows[-1] / pivots[-1]
    for k in range(len(above) - 1, -1, -1):
        rows[k] = (rows[k] - above[k] * rows[k + 1]) / pivots[k]
    return np.array(rows)
