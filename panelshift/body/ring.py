"""The panels as a closed ring round the body, what a body model makes of it, and closure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache, cached_property
from typing import Final, Literal, Protocol

import numpy as np

from ..errors import BodyError, WrongTypeError
from ..outline import FloatArray
from ..outline.bezier import sealed
from ..outline.by_value import ByValue, Sealed, read_only
from .measures import Measures

CLOSURE_TOLERANCE: Final = 1e-9
"""Largest difference in radians between the sum of turning and 2 pi."""

SMOOTHING_MM: Final = 12.0
"""Half width over which tilt is taken: bones and flesh round off a crease in the draft."""


@dataclass(frozen=True, eq=False)
class Ring(Sealed):
    """Widths of all panels right round the body at a run of heights.

    Parameters
    ----------
    heights : ndarray, shape (m,)
        Increasing, evenly spaced, in mm above the waist.
    widths : ndarray, shape (m, k)
        Width in mm of each of the k panels, in order from one edge of the lacing gap at the
        centre back, round the front, to the other edge.
    gap : float or Measures
        Lacing gap in mm, one for all heights or by height.
    classes : tuple of str, length k
        Curvature class of each panel.
    first : {"right", "left"}, optional
        Half of the wearer that the first panels cover, where the two halves are drafted each
        by itself; not given where one half serves for both.
    """

    heights: FloatArray
    widths: FloatArray
    gap: float | Measures
    classes: tuple[str, ...]
    first: Literal["right", "left"] | None = None

    def __post_init__(self) -> None:
        read_only(self, "heights", "widths")

    @property
    def girths(self) -> FloatArray:
        """Girth of panels and gap together at each height in mm, shape (m,)."""
        return np.asarray(self.widths.sum(axis=1) + self.gaps)

    @property
    def gap_varies(self) -> bool:
        """Whether it is not the same all the way."""
        return isinstance(self.gap, Measures)

    @property
    def gaps(self) -> FloatArray:
        """The lacing gap at each height in mm, shape (m,)."""
        if isinstance(self.gap, Measures):
            return self.gap.at(self.heights)
        return np.full(len(self.heights), self.gap)

    def gap_at(self, height: float) -> float:
        """The lacing gap at one height in mm above the waist."""
        if isinstance(self.gap, Measures):
            return float(self.gap.at(np.array([height]))[0])
        return self.gap

    def fractions(self) -> FloatArray:
        """Place of each seam as a part of the girth from the centre front, shape (m, k + 1).

        From -1/2 to 1/2 at the centre back, which lies in the middle of the gap.
        """
        bounds = np.cumsum(self.widths, axis=1)
        bounds = np.column_stack([np.zeros(len(bounds)), bounds]) + 0.5 * self.gaps[:, None]
        return np.asarray(bounds / self.girths[:, None] - 0.5)

    def arcs(self) -> FloatArray:
        """Arc from the centre front to each seam in mm, shape (m, k + 1), negative before it.

        The centre front is the middle seam, or the middle of the middle panel: where halves
        differ it is not opposite the middle of the gap.
        """
        count = self.widths.shape[1]
        bounds = np.zeros((len(self.widths), count + 1))
        np.cumsum(self.widths, axis=1, out=bounds[:, 1:])
        front = 0.5 * (bounds[:, count // 2] + bounds[:, (count + 1) // 2])
        return bounds - front[:, None]


@dataclass(frozen=True, eq=False)
class Spread(Sealed):
    """How far growth and seams' lengths may be off for want of knowing the body.

    Parameters
    ----------
    heights : ndarray, shape (l,)
        In mm above the waist.
    growth : ndarray, shape (l, k)
        Half width of the interval that holds 95 % of each panel's growth, in mm for each mm
        of distance.
    lengthening : ndarray, shape (l, k + 1)
        The same for the change of each seam's length from the waist.
    narrowing : tuple of (str, float, float)
        Measures that would tell more: the name, the height in mm at which it tells most, and
        the part of the variance of growth that knowing it there removes; the best first.
    bodies : ndarray, shape (n, l, k)
        Of bodies that might be the wearer's: how much more each panel grows than on their mean.
    """

    heights: FloatArray
    growth: FloatArray
    lengthening: FloatArray
    bodies: FloatArray = field(repr=False)
    narrowing: tuple[tuple[str, float, float], ...] = ()


_SHAPES: Final = {
    "heights": None,
    "angles": 0,
    "gap_angles": None,
    "tilts": 1,
    "normals": 1,
    "slants": 1,
}
"""Columns of a turn's arrays beyond the number of panels; None where there is one number a height.
"""
_ANSWER: Final = "Give a Turn with a row for each height, rising, as the class describes."


def _answered(
    name: str, given: object, rows: tuple[int, ...], wide: int | None, count: tuple[int, ...]
) -> FloatArray:
    """An array of a body model's answer, as numbers in the shape that it must have."""
    columns = () if wide is None else tuple(each + wide for each in count)
    try:
        array = np.asarray(given, dtype=np.float64)
    except (TypeError, ValueError, OverflowError):
        array = np.empty(())
    if array.shape != (*rows, *columns) or not array.ndim:
        raise BodyError(
            f"the body model gives {name.replace('_', ' ')} of shape {array.shape}, "
            f"not {(*rows, *columns)}",
            remedy=_ANSWER,
        )
    if not np.isfinite(array).all():
        raise BodyError(
            f"the body model gives {name.replace('_', ' ')} that are not finite",
            remedy="Check the body's parameters and the panels' widths.",
        )
    return sealed(array)


@dataclass(frozen=True, eq=False)
class Turn(ByValue):
    """What a body model says of a ring.

    Parameters
    ----------
    heights : ndarray, shape (m,)
        In mm above the waist.
    angles : ndarray, shape (m, k)
        Angle in radians through which each panel turns across its width.
    gap_angles : ndarray, shape (m,)
        The same for the lacing gap.
    tilts : ndarray, shape (m, k + 1)
        Tilt of the surface from the vertical at each seam in radians, positive where it
        flares outwards upwards.
    closes : bool
        Whether the angles are meant to sum to 2 pi.
    normals : ndarray, shape (m, k + 1), optional
        Direction of the surface's normal at each seam, seen from above: 0 at the front.
    slants : ndarray, shape (m, k + 1), optional
        Angle between each seam and the line straight up the surface, positive where the seam
        runs on round the body upwards; with `normals`, for models that know where seams lie.

    doubt : callable, optional
        Works out the `spread`, for models that know theirs.

    Raises
    ------
    BodyError
        If the angles are meant to close and do not, within 1e-9; or if arrays do not fit together,
        hold numbers that are not finite, or lean by a right angle.
    """

    heights: FloatArray
    angles: FloatArray
    gap_angles: FloatArray
    tilts: FloatArray
    closes: bool = True
    normals: FloatArray | None = field(default=None, kw_only=True)
    slants: FloatArray | None = field(default=None, kw_only=True)
    doubt: Callable[[], Spread] | None = field(
        default=None, kw_only=True, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        count = np.shape(self.angles)[-1:]
        for name, wide in _SHAPES.items():
            given = getattr(self, name)
            if given is None and name in ("normals", "slants"):
                continue
            array = _answered(name, given, np.shape(self.heights)[:1], wide, count)
            object.__setattr__(self, name, array)
        if not (np.diff(self.heights) > 0.0).all():
            raise BodyError("the body model's heights do not rise", remedy=_ANSWER)
        steepest = float(np.abs(self.tilts).max(initial=0.0))
        if steepest >= 0.5 * np.pi:
            raise BodyError(
                f"the body model gives a tilt of {steepest:.3g} rad: no surface leans so far",
                remedy="Give tilts from the vertical in radians, between -pi/2 and pi/2.",
            )
        fault = float(np.abs(self.closure() - 2.0 * np.pi).max())
        if self.closes and fault > CLOSURE_TOLERANCE:
            raise BodyError(
                f"the turning of all panels misses a full turn by {fault:.3g} rad",
                remedy="This is a fault in panelshift or in a body model: please report it.",
            )

    @cached_property
    def spread(self) -> Spread | None:
        """Plus or minus that the body leaves open; None if the model states none."""
        return None if self.doubt is None else self.doubt()

    def closure(self) -> FloatArray:
        """Sum of turning of panels and gap at each height in radians, shape (m,)."""
        return np.asarray(self.angles.sum(axis=1) + self.gap_angles)


class BodyModel(Protocol):
    """A source of turning and tilt. To add one, write a class with this method."""

    def turn(self, ring: Ring) -> Turn:
        """Turning, tilt and, where it is known, slant for a ring of panels.

        Parameters
        ----------
        ring : Ring
            The panels' widths right round the body, in mm.

        Returns
        -------
        Turn
            Angles in radians at the ring's heights.

        Raises
        ------
        BodyError
            If the girth changes faster than cloth can follow, or the model cannot serve these
            panels.
        """
        ...


class RingModel:
    """What the body models here have in common: how they are asked."""

    def turn(self, ring: Ring) -> Turn:
        """Turning and tilt for a ring of panels, as `BodyModel` has them."""
        WrongTypeError.unless(ring, Ring, "what a body model is asked of", "a Ring of panels")
        return self._answer(ring)

    def _answer(self, ring: Ring) -> Turn:
        raise NotImplementedError


def tilt_of(outward: FloatArray, what: str, heights: FloatArray | None = None) -> FloatArray:
    """Tilt in radians from the rate at which the surface moves outwards along its own length.

    *outward*: sin(tilt): mm outwards for each mm along the panel. *what*: named in the message if
    no surface can do that. *heights*: of the rows of `outward`, in mm above the waist, for the
    message.

    Raises `BodyError` if the rate is 1 or more: the surface would be flat as a table.
    """
    worst = float(np.abs(outward).max(initial=0.0))
    if worst >= 1.0:
        where = ""
        if heights is not None:
            rows = np.abs(outward).reshape(len(heights), -1).max(axis=1)
            where = f" {heights[int(np.argmax(rows))]:+.0f} mm from the waist"
        raise BodyError(
            f"{what} changes by {worst:.2f} mm outwards for each mm of height{where}: no cloth can "
            "follow",
            remedy="See what is near that height: girths given in body.girths (whole ones, in mm) "
            "against the pattern's width there, and panels whose top or bottom slopes or comes to "
            "a point, so that their side edges end there.",
            element="body",
        )
    return np.asarray(np.arcsin(outward))


def body_girths(ring: Ring, given: Measures | None) -> FloatArray:
    """Girths in mm at the ring's heights, shape (m,).

    Given girths replace the pattern's at their own heights; in between, the pattern's girth
    is scaled by the ratio of the two, so that the draft's shape fills the gaps.
    """
    if given is None:
        return ring.girths
    drawn = np.interp(given.heights, ring.heights, ring.girths)
    return np.asarray(ring.girths * Measures(given.heights, given.values / drawn).at(ring.heights))


def slopes(heights: FloatArray, values: FloatArray) -> FloatArray:
    """Rate of change of values over evenly spaced heights, smoothed, shape as values.

    A cubic is fitted by least squares to the values within `SMOOTHING_MM` of each height
    (Savitzky and Golay, Analytical Chemistry 36, 1964), on one side only near the ends.
    Straight lines and cubics come out exactly; a crease is spread over the window.

    *heights*: ndarray, shape (m,). *values*: ndarray, shape (m,) or (m, n). One or several
    functions of height.
    """
    count = len(heights)
    if count < 2:
        return np.zeros_like(values)
    step = float(heights[1] - heights[0])
    half = min(max(round(SMOOTHING_MM / step), 1), (count - 1) // 2)
    if half == 0:
        return np.asarray(np.gradient(values, step, axis=0))
    weights = _slope_weights(half)
    window = 2 * half + 1
    result = np.empty_like(values, dtype=np.float64)
    inner = np.lib.stride_tricks.sliding_window_view(values, window, axis=0)
    result[half : count - half] = inner @ weights[half]
    result[:half] = weights[:half] @ values[:window]
    result[count - half :] = weights[half + 1 :] @ values[-window:]
    return result / step


@cache
def _slope_weights(half: int) -> FloatArray:
    """What each of 2 half + 1 values adds to the fitted cubic's slope at each of their places."""
    window = 2 * half + 1
    places = np.arange(window) - half
    fit = np.linalg.pinv(np.vander(places, min(4, window), increasing=True))
    powers = np.arange(1, len(fit))
    result = (powers * places[:, None].astype(np.float64) ** (powers - 1)) @ fit[1:]
    result.flags.writeable = False
    return np.asarray(result)
