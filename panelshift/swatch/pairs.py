"""Readings fitted with the layers of a stack, and how they compare with its thicknesses."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

from ..errors import StackError, SwatchError
from ..stack import MeasuredDistance, Stack
from .boned import BonedFit, BonedReading, fit_boned, kind_of
from .distance import PairFit, fit_pair
from .pinned import SwatchReading
from .slope import NORMAL_FACTOR
from .trials import Trial, TrialFit, fit_trials, group_of


@dataclass(frozen=True)
class Comparison:
    """A fitted distance beside what the thicknesses give.

    *by_thickness*: Half the inner cloth, all between, half the outer cloth, in mm. *uncertainty*:
    Standard uncertainty in mm of the difference; the fit's alone where those of the thicknesses are
    not all known. *unknown*: Fabrics without a stated uncertainty of thickness. *difference*:
    Fitted distance less the one by thickness, in mm. *between*: What lies between the two in the
    stack, and so belongs in the swatch.
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
    for reading in readings:
        _places(reading, stack)
    fits = []
    for group in grouped(readings, lambda reading: (reading.inner, reading.outer)):
        thickness, uncertainty = _strip(stack, group[0].inner)
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


def bones_in_stack(readings: Sequence[BonedReading], stack: Stack) -> tuple[BonedFit, ...]:
    """Fit how high bones of each kind stand between the layers of a stack.

    Raises `SwatchError` if a layer is not in the stack, or the readings cannot be fitted.
    """
    for reading in readings:
        _places(reading.flat, stack)
    return tuple(
        fit_boned(group, _strip(stack, group[0].flat.inner)[0])
        for group in grouped(readings, kind_of)
    )


def trials_in_stack(trials: Sequence[Trial], stack: Stack) -> tuple[TrialFit, ...]:
    """Fit test pieces of each kind; a fold's two cloths lie as far apart as the stack has them.

    Raises `SwatchError` if a layer is not in the stack, or the pieces cannot be fitted.
    """
    fits = []
    for group in grouped(trials, group_of):
        first = group[0]
        if first.layer not in stack.names:
            raise first.fault(
                f"there is no layer {first.layer!r} in the stack",
                f"The fabrics of the stack are: {', '.join(stack.names)}.",
            )
        if not first.inner:
            fits.append(fit_trials(group))
            continue
        try:
            places = stack.places(first.inner, first.layer)
        except StackError as error:
            raise first.fault(error.problem, error.remedy) from None
        surfaces = stack.surfaces()
        uncertainty = surfaces.uncertainty(*places) or 0.0
        fits.append(fit_trials(group, surfaces.distance(*places), uncertainty))
    return tuple(fits)


Item = TypeVar("Item")


def grouped(items: Sequence[Item], key: Callable[[Item], Hashable]) -> list[list[Item]]:
    """Items that have a key in common, in the order of the first of each."""
    groups: dict[Hashable, list[Item]] = {}
    for item in items:
        groups.setdefault(key(item), []).append(item)
    return list(groups.values())


def _strip(stack: Stack, name: str) -> tuple[float, float]:
    """Thickness of a strip of cloth and its uncertainty in mm: it is whole, whatever it covers."""
    fabric = replace(stack.fabrics[stack.names.index(name)], coverage=1.0)
    return fabric.build, fabric.build_uncertainty or 0.0


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
