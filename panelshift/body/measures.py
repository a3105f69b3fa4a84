"""A measure of the body taken at some heights, and how values are filled in between."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ..errors import BodyError, CurveError, WrongTypeError
from ..outline import FloatArray
from ..outline.bezier import numbers
from ..outline.by_value import ByValue
from ..outline.splines import Spline
from ..units import LONGEST_MM


@dataclass(frozen=True, eq=False)
class Measures(ByValue):
    """Values at heights above the waist.

    Parameters
    ----------
    heights : ndarray, shape (k,)
        In mm above the waist, distinct; in any order.
    values : ndarray, shape (k,)
        Of the measure at each height: girths in mm, or breadth over depth, which has no unit.

    Raises
    ------
    BodyError
        If two values stand at one height, any number is not finite or beyond 100 m, or there is
        none.

    Examples
    --------
    >>> girths = Measures(np.array([0.0, 120.0]), np.array([660.0, 900.0]))
    >>> girths.at(np.array([-50.0, 60.0, 120.0])).tolist()
    [660.0, 780.0, 900.0]
    """

    heights: FloatArray
    values: FloatArray

    def __post_init__(self) -> None:
        try:
            heights, values = (np.atleast_1d(numbers(v)) for v in (self.heights, self.values))
        except CurveError:
            heights = values = np.empty(0)
        if heights.ndim != 1 or heights.shape != values.shape:
            raise BodyError(
                f"measures of shape {values.shape} at heights of shape {heights.shape}",
                remedy="Give one value for each height.",
            )
        order = np.argsort(heights)
        heights, values = heights[order], values[order]
        if len(heights) == 0 or not (np.isfinite(heights).all() and np.isfinite(values).all()):
            raise BodyError(
                "measures of the body that are missing or not finite",
                remedy="Give at least one height with its value.",
            )
        if max(float(np.abs(part).max()) for part in (heights, values)) > LONGEST_MM:
            raise BodyError(
                "measures of the body, or heights, of more than 100 m",
                remedy="Give girths and heights in mm.",
            )
        if (np.diff(heights) < APART_MM).any():
            raise BodyError(
                "two measures of the body at one height",
                remedy="Give one value for each level.",
            )
        heights.flags.writeable = values.flags.writeable = False
        object.__setattr__(self, "heights", heights)
        object.__setattr__(self, "values", values)

    @classmethod
    def constant(cls, value: float) -> Measures:
        """Return one value for every height.

        Parameters
        ----------
        value : float
            In the measure's own unit.

        Returns
        -------
        Measures

        Raises
        ------
        BodyError
            If it is not finite.
        """
        WrongTypeError.unless(value, (int, float, np.number), "a constant measure", "a number")
        return cls(np.array([0.0]), np.array([value]))

    def at(self, heights: npt.ArrayLike) -> FloatArray:
        """Values at other heights: monotone between the given ones, constant beyond them.

        Between the given heights this is the monotone piecewise cubic of Fritsch and Butland
        (SIAM J. Sci. Stat. Comput. 5, 1984): it never overshoots a measure.

        Parameters
        ----------
        heights : array_like, shape (m,) or one number
            In mm above the waist.

        Returns
        -------
        ndarray, shape as heights

        Raises
        ------
        BodyError
            If the heights are no list of numbers.
        """
        return self.with_rates(heights)[0]

    def with_rates(self, heights: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Values as `at` has them, and their change for each mm of height.

        Parameters
        ----------
        heights : array_like, shape (m,) or one number
            In mm above the waist.

        Returns
        -------
        values, rates : ndarray, shape as heights

        Raises
        ------
        BodyError
            If the heights are no list of numbers.
        """
        try:
            asked = numbers(heights)
        except CurveError:
            asked = np.array(np.nan)
        if asked.ndim > 1 or np.isnan(asked).any():
            raise BodyError(
                "measures at heights that are no list of numbers",
                remedy="Give an array of heights in mm above the waist.",
            )
        rates = monotone_rates(self.heights, self.values)
        found, changing = filled(self.heights, self.values, rates, np.atleast_1d(asked))
        return found.reshape(asked.shape), changing.reshape(asked.shape)


APART_MM: Final = 1e-6
"""How far two heights are from each other at least."""

ROUND_MM: Final = (0.01, LONGEST_MM)
"""How thin and how long what cloth is laid round can be: squares of numbers far beyond that are
none that a computer has."""

RATIOS: Final = (0.01, 100.0)
"""Breadth over depth of what has both, and a radius of curvature over the mean one."""


def refuse_girths(girths: Measures | None) -> None:
    """Refuse girths of a body, if some are given, that nothing round has."""
    _refuse_beyond(girths, "a girth", ROUND_MM, "Give whole girths in mm, such as 660.", "girths")


def refuse_ratios(ratios: Measures | None) -> None:
    """Refuse what is no breadth over depth of a body, if some are given."""
    what, remedy = "a breadth to depth ratio", "Give breadth over depth, such as 1.4."
    _refuse_beyond(ratios, what, RATIOS, remedy, "ratio")


def _refuse_beyond(
    measures: Measures | None, what: str, within: tuple[float, float], remedy: str, key: str
) -> None:
    low, high = within
    for value in () if measures is None else measures.values.tolist():
        if not low <= value <= high:
            raise BodyError(
                f"{what} of {value:g}, not from {low:g} to {high:g}",
                remedy=remedy,
                element=f"body.{key}",
            )


def monotone_rates(heights: FloatArray, values: FloatArray) -> FloatArray:
    """Slopes with which `filled` never overshoots, shape as values (k, ...)."""
    if len(heights) == 1:
        return np.zeros_like(values)
    return Spline.monotone(heights, values).slopes


def filled(
    heights: FloatArray, values: FloatArray, rates: FloatArray, at: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Values with given slopes at some heights, and their rates, at any heights.

    *heights*: ndarray, shape (k,). Increasing; a single one stands for all. *values*, *rates*:
    ndarray, shape (k, ...). *at*: ndarray, shape (m,).

    Returns: ndarray, shape (m, ...).
    """
    if len(heights) == 1:
        whole = np.repeat(values, len(at), axis=0)
        return whole, np.zeros_like(whole)
    spline = Spline(heights, values, rates)
    inside = np.clip(at, heights[0], heights[-1])
    within = (at == inside).reshape(-1, *(1,) * (values.ndim - 1))
    return spline.at(inside), np.where(within, spline.rates(inside), 0.0)
