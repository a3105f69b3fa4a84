"""A chain of Bezier segments in the plane, held as one flat array."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from ..errors import CurveError
from ..units import LONGEST_MM

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

LINE: Final = 1
QUADRATIC: Final = 2
CUBIC: Final = 3

FLATNESS_MM: Final = 0.01
"""Default distance between a curve and its polyline: a tenth of a printed hairline."""


MOST_FLAT_POINTS: Final = 1_000_000
"""Points of a polyline at most: a line a metre long, bent all along, has a thousand."""


@dataclass(frozen=True, eq=False)
class Curve:
    """A continuous chain of line, quadratic and cubic Bezier segments.

    Every segment is held as a cubic; `degree` remembers what it was drawn as, so that it
    can be written again command for command.

    Parameters
    ----------
    control : ndarray, shape (n, 4, 2)
        Control points in mm, each segment starting where the one before it ends.
    degree : ndarray of int, shape (n,)
        1 for a line, 2 for a quadratic, 3 for a cubic.
    closed : bool
        Whether the last segment ends where the first starts.

    Raises
    ------
    CurveError
        If the arrays have the wrong shape, hold numbers that are not finite or longer than
        100 m, or have no segment.

    Notes
    -----
    A position on the curve is one number `s`: segment index plus the Bezier parameter in
    that segment, from 0 to n.
    """

    control: FloatArray
    degree: IntArray
    closed: bool = False

    def __post_init__(self) -> None:
        control = np.ascontiguousarray(self.control, dtype=np.float64)
        degree = np.ascontiguousarray(self.degree, dtype=np.int64)
        if control.ndim != 3 or control.shape[1:] != (4, 2) or degree.shape != control.shape[:1]:
            raise CurveError(
                f"control points of shape {control.shape} with degrees of shape {degree.shape}",
                remedy="Give control points of shape (n, 4, 2) and n degrees.",
            )
        if len(control) == 0:
            raise CurveError("a curve without segments", remedy="Give at least one segment.")
        _refuse_not_finite(control)
        if np.abs(control).max() > LONGEST_MM:
            raise CurveError(
                f"a coordinate of {np.abs(control).max():.4g} mm is beyond 100 m",
                remedy="Check the drawing's units, viewBox and transforms.",
            )
        control.flags.writeable = False
        degree.flags.writeable = False
        object.__setattr__(self, "control", control)
        object.__setattr__(self, "degree", degree)

    # -- making ---------------------------------------------------------------------

    @classmethod
    def polyline(cls, points: npt.ArrayLike, *, closed: bool = False) -> Curve:
        """Return straight segments through points of shape (m, 2), in mm.

        A closed polyline gets a closing segment unless its last point repeats the first.
        """
        vertices = np.asarray(points, dtype=np.float64)
        if vertices.ndim != 2 or vertices.shape[1] != 2 or len(vertices) < 2:
            raise CurveError(
                f"points of shape {vertices.shape}",
                remedy="Give at least two points, as an array of shape (m, 2).",
            )
        # Before any arithmetic: numpy warns of infinity times nothing.
        _refuse_not_finite(vertices)
        if closed and not np.array_equal(vertices[0], vertices[-1]):
            vertices = np.vstack([vertices, vertices[:1]])
        return cls(
            line_control(vertices[:-1], vertices[1:]),
            np.full(len(vertices) - 1, LINE),
            closed,
        )

    @classmethod
    def cubics(cls, control: npt.ArrayLike, *, closed: bool = False) -> Curve:
        """Return cubic segments from control points of shape (n, 4, 2), in mm."""
        array = np.asarray(control, dtype=np.float64)
        return cls(array, np.full(len(array), CUBIC), closed)

    @classmethod
    def trusted(cls, control: FloatArray, degree: IntArray, closed: bool = False) -> Curve:
        """Return a curve from arrays that are known to be sound: nothing is checked or copied."""
        curve = object.__new__(cls)
        for name, value in (("control", control), ("degree", degree), ("closed", closed)):
            object.__setattr__(curve, name, value)
        return curve

    @classmethod
    def chain(cls, curves: Sequence[Curve], *, closed: bool = False) -> Curve:
        """Join curves end to end; each is moved at its start to the end before it.

        The joints are made exact: where two ends differ, the later curve's first control
        point is replaced. It is the caller's business that they differ by little.
        """
        control = np.concatenate([curve.control for curve in curves])
        degree = np.concatenate([curve.degree for curve in curves])
        control[1:, 0] = control[:-1, 3]
        if closed:
            control[-1, 3] = control[0, 0]
        return cls(straighten(control, degree), degree, closed)

    # -- reading --------------------------------------------------------------------

    def __len__(self) -> int:
        return len(self.control)

    @property
    def start(self) -> FloatArray:
        """First point, shape (2,)."""
        first: FloatArray = self.control[0, 0]
        return first

    @property
    def end(self) -> FloatArray:
        """Last point, shape (2,)."""
        last: FloatArray = self.control[-1, 3]
        return last

    @property
    def vertices(self) -> FloatArray:
        """Ends of the segments, shape (n + 1, 2)."""
        return np.vstack([self.control[:, 0], self.control[-1:, 3]])

    @cached_property
    def _polylines(self) -> dict[float, FloatArray]:
        return {}

    @cached_property
    def hull_box(self) -> FloatArray:
        """((xmin, ymin), (xmax, ymax)) of the control points, which hold the curve between them."""
        points = self.control.reshape(-1, 2)
        return np.array([points.min(axis=0), points.max(axis=0)])

    def bounds(self) -> FloatArray:
        """Return ((xmin, ymin), (xmax, ymax)) of the polyline at the default flatness."""
        points = self.flatten()
        return np.array([points.min(axis=0), points.max(axis=0)])

    def _locate(self, s: npt.ArrayLike) -> tuple[IntArray, FloatArray]:
        position = np.atleast_1d(np.asarray(s, dtype=np.float64))
        if self.closed:
            position = np.where(position > len(self), position - len(self), position)
        index = np.clip(np.floor(position).astype(np.int64), 0, len(self) - 1)
        return index, position - index

    def points(self, s: npt.ArrayLike) -> FloatArray:
        """Points at positions `s`, shape (m, 2)."""
        index, t = self._locate(s)
        return bezier_points(self.control[index], t)

    def derivatives(self, s: npt.ArrayLike) -> FloatArray:
        """Derivatives with respect to `s`, shape (m, 2); at a joint, of the later segment."""
        index, t = self._locate(s)
        return bezier_derivatives(self.control[index], t)

    def end_tangents(self) -> FloatArray:
        """Unit tangents at both ends of each segment, shape (n, 2, 2).

        Zero-length handles are passed over, as SVG 2 (path data, 9.5.4) does for markers; a
        segment of no length at all has tangent (0, 0).
        """
        return self._tangents

    @cached_property
    def _tangents(self) -> FloatArray:
        return _end_tangents(self.control)

    # -- changing -------------------------------------------------------------------

    def reversed(self) -> Curve:
        """Return the same curve drawn from its end to its start."""
        return Curve.trusted(self.control[::-1, ::-1], self.degree[::-1], self.closed)

    def transformed(self, matrix: npt.ArrayLike) -> Curve:
        """Return the curve under an affine map given as ((a, c, e), (b, d, f)).

        The map is trusted not to carry it beyond all bounds.
        """
        (a, c, e), (b, d, f) = np.asarray(matrix, dtype=np.float64)
        x, y = self.control[..., 0], self.control[..., 1]
        # Elementwise, not as a matrix product: equal joints must stay equal to the last bit.
        moved = np.empty_like(self.control)
        moved[..., 0] = a * x + c * y + e
        moved[..., 1] = b * x + d * y + f
        return Curve.trusted(moved, self.degree, self.closed)

    def scaled(self, scale: float) -> Curve:
        """Return the curve with all coordinates multiplied by a factor, checked anew.

        Raises
        ------
        CurveError
            If that carries it beyond 100 m.
        """
        return Curve(self.control * scale, self.degree, self.closed)

    def piece(self, s0: float, s1: float) -> Curve:
        """Return the part from position `s0` to `s1`, open.

        On a closed curve `s1 <= s0` runs through the start point.

        Raises
        ------
        CurveError
            If the part is empty.
        """
        count = len(self)
        if self.closed and s1 <= s0:
            s1 += count
        first, last = int(np.floor(s0)), int(np.ceil(s1))
        if last <= first or s1 <= s0:
            raise CurveError("an empty part of a curve", remedy="Give s1 beyond s0.")
        index = np.arange(first, last) % count if self.closed else np.arange(first, last)
        control = self.control[index].copy()
        if s1 < last:
            control[-1] = _split(control[-1], s1 - (last - 1))[0]
        if s0 > first:
            scale = s1 - first if last - first == 1 else 1.0
            control[0] = _split(control[0], (s0 - first) / scale)[1]
        return Curve.trusted(control, self.degree[index])

    def flatten(self, tolerance: float = FLATNESS_MM) -> FloatArray:
        """Return a polyline within `tolerance` mm of the curve, shape (m, 2).

        Raises
        ------
        CurveError
            If that takes more than `MOST_FLAT_POINTS` points.

        Notes
        -----
        A chord over a parameter step h stays within max|B''| h^2 / 8 of its curve.
        """
        if tolerance not in self._polylines:
            points = self._flattened(tolerance)
            points.flags.writeable = False
            self._polylines[tolerance] = points
        return self._polylines[tolerance]

    def _flattened(self, tolerance: float) -> FloatArray:
        second = 6.0 * np.abs(np.diff(self.control, n=2, axis=1)).max(axis=1)
        bound = np.hypot(second[:, 0], second[:, 1])
        steps = np.clip(np.ceil(np.sqrt(bound / (8.0 * tolerance))), 1, 4096).astype(np.int64)
        if int(steps.sum()) > MOST_FLAT_POINTS:
            raise CurveError(
                f"a curve of {len(self)} segments is too long and too bent to be measured",
                remedy="Check the drawing's units and transforms, or draw the line more simply.",
            )
        index = np.repeat(np.arange(len(self)), steps)
        offset = np.arange(len(index)) - np.repeat(np.cumsum(steps) - steps, steps)
        points = bezier_points(self.control[index], offset / steps[index])
        return np.vstack([points, self.control[-1:, 3]])


def _refuse_not_finite(coordinates: FloatArray) -> None:
    if not np.isfinite(coordinates).all():
        raise CurveError(
            "coordinates that are not finite numbers",
            remedy="Look for NaN, infinity or an empty value in its coordinates.",
        )


# -- Bezier arithmetic on arrays of control points, shape (m, 4, 2) ---------------------


def line_control(starts: FloatArray, ends: FloatArray) -> FloatArray:
    """Control points of straight cubics, shape (m, 4, 2), from ends of shape (m, 2)."""
    weights = np.array([0.0, 1.0 / 3.0, 2.0 / 3.0, 1.0])[None, :, None]
    control: FloatArray = starts[:, None] * (1.0 - weights) + ends[:, None] * weights
    # (1 - w) a + w b is not exact at w = 1 in floating point for every a; the ends must be.
    control[:, 0], control[:, 3] = starts, ends
    return control


def straighten(control: FloatArray, degree: IntArray) -> FloatArray:
    """Put the inner control points of lines back on the line after an end was moved."""
    lines = degree == LINE
    result = control.copy()
    result[lines] = line_control(control[lines, 0], control[lines, 3])
    return result


def bezier_points(control: FloatArray, t: FloatArray) -> FloatArray:
    """Evaluate m cubics at m parameters, shape (m, 2)."""
    t = t[:, None]
    r = 1.0 - t
    a, b, c, d = control[:, 0], control[:, 1], control[:, 2], control[:, 3]
    result: FloatArray = r * r * (r * a + 3.0 * t * b) + t * t * (3.0 * r * c + t * d)
    return result


def bezier_derivatives(control: FloatArray, t: FloatArray) -> FloatArray:
    """Evaluate the derivatives of m cubics at m parameters, shape (m, 2)."""
    t = t[:, None]
    r = 1.0 - t
    step = 3.0 * np.diff(control, axis=1)
    result: FloatArray = r * r * step[:, 0] + 2.0 * r * t * step[:, 1] + t * t * step[:, 2]
    return result


def _split(control: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
    """Split one cubic at t by de Casteljau's construction."""
    one = control[:-1] + t * np.diff(control, axis=0)
    two = one[:-1] + t * np.diff(one, axis=0)
    mid = two[0] + t * (two[1] - two[0])
    left = np.array([control[0], one[0], two[0], mid])
    right = np.array([mid, two[1], one[2], control[3]])
    return left, right


def _end_tangents(control: FloatArray) -> FloatArray:
    result = np.zeros((len(control), 2, 2))
    # Handles shorter than this part of the segment's extent point nowhere in particular.
    extent = np.ptp(control, axis=1).max(axis=1)
    tiny = 1e-9 * extent
    for side, origin, others in ((0, 0, (1, 2, 3)), (1, 3, (2, 1, 0))):
        sign = 1.0 if side == 0 else -1.0
        for other in reversed(others):
            vector = sign * (control[:, other] - control[:, origin])
            norm = np.hypot(vector[:, 0], vector[:, 1])
            usable = (norm > tiny) & (norm > 0.0)
            result[usable, side] = vector[usable] / norm[usable, None]
    return result
