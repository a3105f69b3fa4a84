"""A chain of Bezier segments in the plane, held as one flat array."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from numbers import Real
from typing import Final

import numpy as np
import numpy.typing as npt

from ..errors import CurveError, WrongTypeError
from ..files.plain_values import held_to_types
from ..units import LONGEST_MM
from .bezier import (
    CUBIC,
    LINE,
    QUADRATIC,
    FloatArray,
    IntArray,
    affine,
    bezier_derivatives,
    bezier_points,
    end_tangents,
    flat_points,
    flat_steps,
    line_control,
    mapped,
    numbers,
    of_degree,
    refuse_not_finite,
    refuse_unsound,
    row,
    sealed,
    split,
    third_differences,
)
from .by_value import Sealed

FLATNESS_MM: Final = 0.01
"""Default distance between a curve and its polyline: a tenth of a printed hairline."""


JOINED_MM: Final = 1e-3
"""Ends nearer than this are one point: a gap that no drawing shows."""

_BEYOND: Final = 1e-6
"""Positions so little beyond an open curve's ends are the ends, but for rounding."""

_CORNER: Final = 1e-3
"""Sine of a turn between segments that no pencil shows."""

MOST_FLAT_POINTS: Final = 1_000_000
"""Points of a polyline at most: a line a metre long, bent all along, has a thousand."""


def _refuse_undecided(closed: object) -> None:
    WrongTypeError.unless(closed, (bool, np.bool_), "closed of a curve", "True or False")


def _refuse_broken(control: FloatArray, closed: bool) -> None:
    """Refuse segments that do not begin where the one before them ends."""
    begins, ends = np.roll(control[:, 0], -1, axis=0), control[:, 3]
    apart = np.hypot(*(begins - ends).T)[: None if closed else -1]
    if (apart > JOINED_MM).any():
        k = int(np.argmax(apart > JOINED_MM))
        raise CurveError(
            f"segment {k + 1} ends {apart[k]:.3f} mm from where the next one begins",
            remedy="Give the segments in their order, each from the end of the one before.",
        )


def _refuse_bent_lines(control: FloatArray, degree: IntArray) -> None:
    """Refuse segments that are called straight and are not: they would be written as lines."""
    lines = control[degree == LINE]
    chord = lines[:, 3] - lines[:, 0]
    handles = lines[:, 1:3] - lines[:, :1]
    size = np.maximum((chord**2).sum(axis=1), JOINED_MM**2)[:, None]
    along = np.clip((handles * chord[:, None]).sum(axis=2) / size, 0.0, 1.0)
    aside = np.hypot(*np.moveaxis(handles - along[:, :, None] * chord[:, None], 2, 0)).max(axis=1)
    if (aside > FLATNESS_MM).any():
        k = int(np.argmax(aside > FLATNESS_MM))
        raise CurveError(
            f"segment {int(np.flatnonzero(degree == LINE)[k]) + 1} is given as a line, and its "
            f"inner control points lie {aside[k]:.3f} mm off it",
            remedy="Give 3 as its degree if it is a curve; Curve.polyline makes lines of points.",
        )


def _refuse_unlike_quadratics(control: FloatArray, degree: IntArray) -> None:
    """Refuse segments that are called quadratic and are not: they would be written as ones.

    A quadratic is written with the control point that the first inner one gives: the second one,
    whose weight is 4/9 at most, then lies off by a third of the third difference.
    """
    away = third_differences(control[degree == QUADRATIC]) * 4.0 / 27.0
    if (away > FLATNESS_MM).any():
        k = int(np.argmax(away > FLATNESS_MM))
        raise CurveError(
            f"segment {int(np.flatnonzero(degree == QUADRATIC)[k]) + 1} is given as a quadratic, "
            f"and lies {away[k]:.3f} mm off the one that would be written",
            remedy="Give 3 as its degree; a quadratic's inner control points lie two thirds of the "
            "way from each end to its own control point.",
        )


@dataclass(frozen=True, eq=False)
class Curve(Sealed):
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
        100 m, or have no segment; if a segment does not begin where the one before it ends, or is
        called a line and is bent, or a quadratic and is none.

    Notes
    -----
    A position on the curve is one number `s`: segment index plus the Bezier parameter in
    that segment, from 0 to n. On a closed curve those beyond go on round it.

    Examples
    --------
    A quarter circle of radius 100 mm as one cubic; its middle is at s = 0.5:

    >>> arc = Curve.cubics([[(100, 0), (100, 55.23), (55.23, 100), (0, 100)]])
    >>> arc.points(0.5).round(1).tolist()
    [[70.7, 70.7]]
    >>> len(Curve.polyline([(0, 0), (60, 0), (60, 160)], closed=True))
    3
    """

    control: FloatArray
    degree: IntArray
    closed: bool = False

    def __post_init__(self) -> None:
        # Copies: the caller's own arrays may change afterwards.
        control, degrees = np.array(numbers(self.control), order="C"), numbers(self.degree)
        # Without what no whole number is: numpy warns of it.
        degree = np.where(np.abs(degrees) <= CUBIC, degrees, 0.0).astype(np.int64)
        if control.ndim != 3 or control.shape[1:] != (4, 2) or degree.shape != control.shape[:1]:
            raise CurveError(
                f"control points of shape {control.shape} with degrees of shape {degree.shape}",
                remedy="Give control points of shape (n, 4, 2) and n degrees.",
            )
        if len(control) == 0:
            raise CurveError("a curve without segments", remedy="Give at least one segment.")
        refuse_unsound(control)
        if not ((degree == degrees) & (degree >= LINE) & (degree <= CUBIC)).all():
            raise CurveError(
                f"segments of degree {degrees.tolist()!r:.60}",
                remedy="Give 1 for a line, 2 for a quadratic, 3 for a cubic.",
            )
        _refuse_undecided(self.closed)
        object.__setattr__(self, "closed", bool(self.closed))
        _refuse_broken(control, self.closed)
        _refuse_bent_lines(control, degree)
        _refuse_unlike_quadratics(control, degree)
        control.flags.writeable = False
        degree.flags.writeable = False
        object.__setattr__(self, "control", control)
        object.__setattr__(self, "degree", degree)

    # -- making ---------------------------------------------------------------------

    @classmethod
    def polyline(cls, points: npt.ArrayLike, *, closed: bool = False) -> Curve:
        """Return straight segments through points.

        Parameters
        ----------
        points : array_like, shape (m, 2)
            At least two, in mm.
        closed : bool
            Whether to go back to the first point: a closing segment is added unless the last
            point repeats the first.

        Returns
        -------
        Curve

        Raises
        ------
        CurveError
            If the points have the wrong shape or are not finite.
        """
        vertices = numbers(points)
        if vertices.ndim != 2 or vertices.shape[1] != 2 or len(vertices) < 2:
            raise CurveError(
                f"points of shape {vertices.shape}",
                remedy="Give at least two points, as an array of shape (m, 2).",
            )
        # Before any arithmetic: numpy warns of infinity times nothing.
        refuse_not_finite(vertices)
        _refuse_undecided(closed)
        if closed and not np.array_equal(vertices[0], vertices[-1]):
            vertices = np.vstack([vertices, vertices[:1]])
        return cls(
            line_control(vertices[:-1], vertices[1:]), np.full(len(vertices) - 1, LINE), closed
        )

    @classmethod
    def cubics(cls, control: npt.ArrayLike, *, closed: bool = False) -> Curve:
        """Return cubic segments.

        Parameters
        ----------
        control : array_like, shape (n, 4, 2)
            Control points in mm.
        closed : bool
            Whether the last segment ends where the first starts.

        Returns
        -------
        Curve

        Raises
        ------
        CurveError
            If the control points have the wrong shape, are not finite, or a segment does not
            begin where the one before it ends.
        """
        array = numbers(control)
        return cls(array, np.full(array.shape[:1], CUBIC), closed)

    @classmethod
    def trusted(cls, control: FloatArray, degree: IntArray, closed: bool = False) -> Curve:
        """Return a curve from arrays that are known to be sound: nothing is checked or copied.

        The arrays cannot be written to from then on.

        Parameters
        ----------
        control : ndarray, shape (n, 4, 2)
            In mm.
        degree : ndarray of int, shape (n,)
        closed : bool

        Returns
        -------
        Curve
        """
        control.flags.writeable = degree.flags.writeable = False
        curve = object.__new__(cls)
        curve.__dict__.update(control=control, degree=degree, closed=closed)
        return curve

    @classmethod
    @held_to_types
    def chain(cls, curves: Sequence[Curve], *, closed: bool = False) -> Curve:
        """Join curves end to end; each is moved at its start to the end before it.

        The joints are made exact: where two ends differ, the later curve's first control
        point is replaced. It is the caller's business that they differ by little.

        Parameters
        ----------
        curves : sequence of Curve
        closed : bool
            Whether the end is joined to the start as well.

        Returns
        -------
        Curve

        Raises
        ------
        CurveError
            If there are none.
        """
        if not curves:
            raise CurveError("a chain of no curves", remedy="Give at least one curve.")
        control = np.concatenate([curve.control for curve in curves])
        degree = np.concatenate([curve.degree for curve in curves])
        control[1:, 0] = control[:-1, 3]
        if closed:
            control[-1, 3] = control[0, 0]
        return cls(of_degree(control, degree), degree, closed)

    # -- reading --------------------------------------------------------------------

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Curve):
            return NotImplemented
        return self is other or (
            self.closed == other.closed
            and np.array_equal(self.degree, other.degree)
            and np.array_equal(self.control, other.control)
        )

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        # Of all numbers: sums agree for lines of a fan. Adding 0.0 makes -0.0, its equal, the same.
        return hash((self.closed, (self.control + 0.0).tobytes()))

    def __len__(self) -> int:
        return len(self.control)

    def __repr__(self) -> str:
        (left, top), (right, bottom) = self.hull_box
        kind = "closed" if self.closed else "open"
        box = f"{left:g}, {top:g} to {right:g}, {bottom:g} mm"
        return f"<Curve: {kind}, segments: {len(self)}, within {box}>"

    @property
    def start(self) -> FloatArray:
        """First point in mm, shape (2,)."""
        first: FloatArray = self.control[0, 0]
        return first

    @property
    def end(self) -> FloatArray:
        """Last point in mm, shape (2,)."""
        last: FloatArray = self.control[-1, 3]
        return last

    @property
    def vertices(self) -> FloatArray:
        """Ends of the segments in mm, shape (n + 1, 2)."""
        return np.vstack([self.control[:, 0], self.control[-1:, 3]])

    @cached_property
    def _polylines(self) -> dict[float, FloatArray]:
        return {}

    @cached_property
    def hull_box(self) -> FloatArray:
        """((xmin, ymin), (xmax, ymax)) of the control points in mm: the curve lies within."""
        points = self.control.reshape(-1, 2)
        return sealed(np.array([points.min(axis=0), points.max(axis=0)]))

    def bounds(self) -> FloatArray:
        """Return the box of the polyline at the default flatness.

        Returns
        -------
        ndarray, shape (2, 2)
            ((xmin, ymin), (xmax, ymax)) in mm.
        """
        points = self.flatten()
        return np.array([points.min(axis=0), points.max(axis=0)])

    def _locate(self, s: npt.ArrayLike) -> tuple[IntArray, FloatArray]:
        position, count = row(s), len(self)
        beyond = (position < 0.0) | (position > count)
        if beyond.any():
            if self.closed:
                position = np.where(beyond, position % count, position)
            elif ((position < -_BEYOND) | (position > count + _BEYOND)).any():
                raise CurveError(
                    f"positions from {position.min():g} to {position.max():g} on a curve of "
                    f"{count} segments",
                    remedy=f"Give positions from 0 to {count}: an open curve ends there.",
                )
            else:
                position = np.clip(position, 0.0, count)
        index = np.clip(np.floor(position).astype(np.int64), 0, len(self) - 1)
        return index, position - index

    def points(self, s: npt.ArrayLike) -> FloatArray:
        """Points at given positions.

        Parameters
        ----------
        s : array_like, shape (m,)
            Positions on the curve, see the class's notes.

        Returns
        -------
        ndarray, shape (m, 2)
            In mm.

        Raises
        ------
        CurveError
            If a position lies beyond the ends of an open curve.
        """
        index, t = self._locate(s)
        return bezier_points(self.control[index], t)

    def derivatives(self, s: npt.ArrayLike) -> FloatArray:
        """Derivatives with respect to position; at a joint, of the later segment.

        Parameters
        ----------
        s : array_like, shape (m,)
            Positions on the curve, see the class's notes.

        Returns
        -------
        ndarray, shape (m, 2)
            In mm for each unit of `s`.

        Raises
        ------
        CurveError
            If a position lies beyond the ends of an open curve.
        """
        index, t = self._locate(s)
        return bezier_derivatives(self.control[index], t)

    def end_tangents(self) -> FloatArray:
        """Unit tangents at both ends of each segment.

        Zero-length handles are passed over, as SVG 2 (path data, 9.5.4) does for markers; a
        segment of no length at all has tangent (0, 0).

        Returns
        -------
        ndarray, shape (n, 2, 2)
            For each segment the direction at its start, then at its end.
        """
        return self._tangents

    def know_tangents(self, tangents: FloatArray) -> None:
        """Keep end tangents that were worked out together with those of other curves.

        Parameters
        ----------
        tangents : ndarray, shape (n, 2, 2)
            Unit vectors, as `end_tangents` gives them.
        """
        self.__dict__["_tangents"] = sealed(tangents)

    def know_polyline(self, tolerance: float, points: FloatArray) -> None:
        """Keep a polyline that was worked out together with those of other curves.

        Parameters
        ----------
        tolerance : float
            As for `flatten`, in mm.
        points : ndarray, shape (m, 2)
            In mm, as `flatten` gives them.
        """
        self._polylines[tolerance] = points

    @cached_property
    def _tangents(self) -> FloatArray:
        return sealed(end_tangents(self.control))

    # -- measuring ------------------------------------------------------------------

    @property
    def length(self) -> float:
        """Arc length in mm, to 1e-6 mm a segment.

        Examples
        --------
        >>> Curve.polyline([(0, 0), (3, 4)]).length
        5.0
        """
        from .measure import length

        return length(self)

    @property
    def area(self) -> float:
        """Area in mm2 within the curve, closed by its chord where it is open; never negative.

        Examples
        --------
        >>> Curve.polyline([(0, 0), (60, 0), (60, 160)], closed=True).area
        4800.0
        """
        from .measure import area_and_centroid

        return abs(area_and_centroid(self)[0])

    @property
    def centroid(self) -> FloatArray:
        """Centre of gravity of that area in mm, shape (2,); the hull's middle if there is none.

        Examples
        --------
        >>> Curve.polyline([(0, 0), (60, 0), (60, 150)], closed=True).centroid.round(6).tolist()
        [40.0, 50.0]
        """
        from .measure import area_and_centroid

        return area_and_centroid(self)[1]

    def points_along(self, lengths: npt.ArrayLike) -> FloatArray:
        """Points at arc lengths from the start.

        Parameters
        ----------
        lengths : array_like, shape (m,)
            In mm; beyond the ends, the ends.

        Returns
        -------
        ndarray, shape (m, 2)
            In mm.

        Raises
        ------
        CurveError
            If the lengths are no row of finite numbers.

        Examples
        --------
        >>> Curve.polyline([(0, 0), (60, 0), (60, 160)]).points_along([30, 100]).tolist()
        [[30.0, 0.0], [60.0, 40.0]]
        """
        from .measure import positions_at

        return self.points(positions_at(self, lengths))

    @held_to_types
    def offset(self, distance: float) -> Curve:
        """The curve moved to its left by one distance all along, as a parallel curve.

        Parameters
        ----------
        distance : float
            In mm to the left of its direction, as seen with y upwards: to the side of
            (-dy, dx). Negative to the right.

        Returns
        -------
        Curve
            Within 0.005 mm of the true parallel curve.

        Raises
        ------
        CurveError
            If the curve has a corner, beyond which a parallel curve is broken; or bends more
            tightly than the distance, so that it would turn back.

        Notes
        -----
        At curvature k, positive to the left, the parallel curve is 1 - k d times as long.

        Examples
        --------
        >>> arc = Curve.cubics([[(100, 0), (100, 55.23), (55.23, 100), (0, 100)]])
        >>> round(arc.length - arc.offset(10.0).length, 2)  # a quarter turn: 10 pi / 2
        15.71
        """
        from .offset import offset_all, turning_back

        if not abs(distance) <= LONGEST_MM:
            raise CurveError(f"a curve {distance:g} mm off", remedy="Give a length in mm.")
        starts, ends = self.end_tangents().swapaxes(0, 1)
        joints = [(k, (k + 1) % len(self)) for k in range(len(self) - (not self.closed))]
        for one, two in joints:
            across = ends[one, 0] * starts[two, 1] - ends[one, 1] * starts[two, 0]
            if abs(across) > _CORNER or float(ends[one] @ starts[two]) < 0.0:
                x, y = self.control[two, 0]
                raise CurveError(
                    f"a parallel curve is broken at the corner at ({x:.1f}, {y:.1f}) mm",
                    remedy="Offset the parts between corners, each by itself: see piece.",
                )
        if turning_back([self], [distance])[0]:
            raise CurveError(
                f"it bends more tightly than {abs(distance):g} mm: so far off it would turn back",
                remedy="Offset it by less, or to its other side.",
            )
        return offset_all([self], [float(distance)])[0]

    def tangents_along(self, lengths: npt.ArrayLike) -> FloatArray:
        """Directions of the curve at arc lengths from the start; at a joint, of the later segment.

        Parameters
        ----------
        lengths : array_like, shape (m,)
            In mm; beyond the ends, the ends.

        Returns
        -------
        ndarray, shape (m, 2)
            Unit vectors; (0, 0) where the curve stands still.

        Raises
        ------
        CurveError
            If the lengths are no row of finite numbers.

        Examples
        --------
        >>> corner = Curve.polyline([(0, 0), (60, 0), (60, 160)])
        >>> corner.tangents_along([30, 100]).round(12).tolist()
        [[1.0, 0.0], [0.0, 1.0]]
        """
        from .measure import positions_at

        along = self.derivatives(positions_at(self, lengths))
        size = np.hypot(*along.T)[:, None]
        unit = np.divide(along, size, out=np.zeros_like(along), where=size > 0.0)
        return np.asarray(unit)

    @property
    def __geo_interface__(self) -> dict[str, object]:
        """The polyline near it as a GeoJSON-like polygon or line in mm, for shapely and others."""
        ring = [(float(x), float(y)) for x, y in self.flatten()]
        if self.closed:
            return {"type": "Polygon", "coordinates": [ring]}
        return {"type": "LineString", "coordinates": ring}

    def _repr_svg_(self) -> str:
        from .pathtext import path_data

        (left, top), (right, bottom) = self.bounds()
        edge = 0.02 * max(right - left, bottom - top, 1.0)
        box = (left - edge, top - edge, right - left + 2.0 * edge, bottom - top + 2.0 * edge)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="100%" style="max-height:30em" '
            f'viewBox="{" ".join(f"{value:.3f}" for value in box)}"><title>curve</title>'
            f'<path d="{path_data(self)}" fill="none" stroke="currentColor" '
            'stroke-width="1.5" vector-effect="non-scaling-stroke"/></svg>'
        )

    # -- changing -------------------------------------------------------------------

    def reversed(self) -> Curve:
        """Return the same curve drawn from its end to its start.

        Returns
        -------
        Curve
        """
        return Curve.trusted(self.control[::-1, ::-1], self.degree[::-1], self.closed)

    def transformed(self, matrix: npt.ArrayLike) -> Curve:
        """Return the curve under an affine map, which is trusted to keep it within bounds.

        Parameters
        ----------
        matrix : array_like, shape (2, 3)
            ((a, c, e), (b, d, f)): x' = a x + c y + e, y' = b x + d y + f; e and f in mm.

        Returns
        -------
        Curve

        Raises
        ------
        CurveError
            If the matrix has another shape, or is not of finite numbers.
        """
        return Curve.trusted(mapped(self.control, affine(matrix)), self.degree, self.closed)

    @held_to_types
    def scaled(self, scale: float) -> Curve:
        """Return the curve with all coordinates multiplied by a factor, checked anew.

        Parameters
        ----------
        scale : float

        Returns
        -------
        Curve

        Raises
        ------
        CurveError
            If that carries it beyond 100 m, or the factor is 0 or not finite.
        """
        if not np.isfinite(scale) or scale == 0.0:
            raise CurveError(f"a curve scaled by {scale:g}", remedy="Give a number other than 0.")
        return Curve(self.control * scale, self.degree, self.closed)

    @held_to_types
    def piece(self, s0: float, s1: float) -> Curve:
        """Return a part of the curve, open.

        Parameters
        ----------
        s0, s1 : float
            Positions where it begins and ends. On a closed curve `s1 <= s0` runs through the
            start point, as does an `s1` beyond the last segment.

        Returns
        -------
        Curve

        Raises
        ------
        CurveError
            If the part is empty, or not a part of the curve.
        """
        count = len(self)
        if self.closed and s1 <= s0:
            s1 += count
        if not (0.0 <= s0 <= count and s1 <= (s0 if self.closed else 0.0) + count):
            raise CurveError(
                f"a part from {s0:g} to {s1:g} of a curve of {count} segments",
                remedy=f"Give positions from 0 to {count}, once round a closed curve at most.",
            )
        if s1 <= s0:
            raise CurveError("an empty part of a curve", remedy="Give s1 beyond s0.")
        first, last = int(np.floor(s0)), int(np.ceil(s1))
        index = np.arange(first, last) % count if self.closed else np.arange(first, last)
        control = self.control[index].copy()
        if s1 < last:
            control[-1] = split(control[-1], s1 - (last - 1))[0]
        if s0 > first:
            scale = s1 - first if last - first == 1 else 1.0
            control[0] = split(control[0], (s0 - first) / scale)[1]
        return Curve.trusted(control, self.degree[index])

    def flatten(self, tolerance: float = FLATNESS_MM) -> FloatArray:
        """Return a polyline near the curve.

        Parameters
        ----------
        tolerance : float
            Largest distance in mm between the two.

        Returns
        -------
        ndarray, shape (m, 2)
            In mm; it cannot be written to.

        Raises
        ------
        CurveError
            If the tolerance is not above 0, or takes more than `MOST_FLAT_POINTS` points.

        Notes
        -----
        A chord over a parameter step h stays within max|B''| h^2 / 8 of its curve.
        """
        try:
            return self._polylines[tolerance]
        except (KeyError, TypeError):  # an array is no key, nor a tolerance
            points = self._flattened(tolerance)
        points.flags.writeable = False
        return self._polylines.setdefault(tolerance, points)

    def _flattened(self, tolerance: float) -> FloatArray:
        WrongTypeError.unless(tolerance, Real, "the tolerance", "a number in mm")
        if not tolerance > 0.0:
            raise CurveError(
                f"a polyline within {tolerance} mm of its curve", remedy="Give a number above 0."
            )
        steps = flat_steps(self.control, float(min(tolerance, LONGEST_MM)))
        if int(steps.sum()) > MOST_FLAT_POINTS:
            raise CurveError(
                f"a curve of {len(self)} segments is too long and too bent to be measured",
                remedy="Check the drawing's units and transforms, or draw the line more simply.",
            )
        return np.vstack([flat_points(self.control, steps), self.control[-1:, 3]])
