"""Readings of several pairs, and how they compare with the thicknesses of a stack."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ..errors import StackError, SwatchError
from ..stack import MeasuredDistance, Stack
from .distance import PairFit, fit_pair
from .pinned import SwatchReading
from .slope import NORMAL_FACTOR


@dataclass(frozen=True)
class Comparison:
    """A fitted distance beside what the thicknesses give.

    Parameters
    ----------
    by_thickness : float
        Half the inner cloth, all between, half the outer cloth, in mm.
    uncertainty : float
        Standard uncertainty in mm of the difference; the fit's alone where those of the
        thicknesses are not all known.
    unknown : tuple of str
        Fabrics without a stated uncertainty of thickness.
    difference : float
        Fitted distance less the one by thickness, in mm.
    between : tuple of str
        What lies between the two in the stack, and so belongs in the swatch.
    """

    by_thickness: float
    uncertainty: float
    unknown: tuple[str, ...]
    difference: float
    between: tuple[str, ...]

    @property
    def deviations(self) -> float:
        """The difference in standard uncertainties."""
        return self.difference / self.uncertainty

    @property
    def word(self) -> Literal["agrees", "compressed", "lofty"]:
        """Whether the layers lie as thick as measured flat, closer, or looser (at 95 %)."""
        if abs(self.deviations) <= NORMAL_FACTOR:
            return "agrees"
        return "compressed" if self.difference < 0.0 else "lofty"


def compare(fit: PairFit, stack: Stack) -> Comparison:
    """Hold a fitted distance against the thicknesses of a stack.

    Raises `SwatchError` if the stack has not both layers, or not in this order.
    """
    i, j = _places(fit.readings[0], stack)
    surfaces = replace(stack, measured=()).surfaces()
    own = surfaces.uncertainty(i, j)
    return Comparison(
        surfaces.distance(i, j),
        math.hypot(fit.entry_uncertainty, own or 0.0),
        surfaces.unknown(i, j),
        fit.distance - surfaces.distance(i, j),
        stack.names[i + 1 : j],
    )


def fit_in_stack(readings: Sequence[SwatchReading], stack: Stack) -> tuple[PairFit, ...]:
    """Fit every pair that readings name, with the inner cloth's thickness from a stack.

    *readings*: in any order; pairs come out in the order of their first reading.

    Raises `SwatchError` if a layer is not in the stack, the inner one does not lie inside the outer
    one, or the readings cannot be fitted.
    """
    pairs: dict[tuple[str, str], list[SwatchReading]] = {}
    for reading in readings:
        _places(reading, stack)
        pairs.setdefault((reading.inner, reading.outer), []).append(reading)
    fits = []
    for group in pairs.values():
        fabric = stack.fabrics[stack.names.index(group[0].inner)]
        # A strip of cloth is whole, however little of a panel it may cover in the corset.
        thickness = fabric.thickness * fabric.loft
        uncertainty = replace(fabric, coverage=1.0).build_uncertainty or 0.0
        plain = replace(stack, measured=()).surfaces()
        fits.append(
            fit_pair(
                group,
                thickness,
                thickness_uncertainty=uncertainty,
                by_thickness=plain.distance(*_places(group[0], stack)),
            )
        )
    return tuple(fits)


def measured_by(fits: Sequence[PairFit]) -> tuple[MeasuredDistance, ...]:
    """Entries for a stack.

    Raises `SwatchError` if readings give no distance above 0.
    """
    entries = []
    for fit in fits:
        try:
            entries.append(fit.entry)
        except StackError as error:
            raise fit.readings[0].fault(error.problem, error.remedy) from None
    return tuple(entries)


def _places(reading: SwatchReading, stack: Stack) -> tuple[int, int]:
    try:
        return stack.places(reading.inner, reading.outer)
    except StackError as error:
        raise SwatchError(error.problem, remedy=error.remedy, element=reading.origin) from None
