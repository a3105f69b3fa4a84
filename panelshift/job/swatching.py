"""Fit swatches for a maker: with a job's fabrics, or with a thickness given by hand."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import PanelshiftError, SwatchError
from ..swatch import Comparison, PairFit, Reading, compare, fit_in_stack, fit_pair
from .files import read_job
from .stacking import fabric_stack


@dataclass(frozen=True, eq=False)
class SwatchResult:
    """Fitted pairs and, if there was a job, how each compares with its thicknesses."""

    fits: tuple[PairFit, ...]
    comparisons: tuple[Comparison, ...] = ()


def fit_with_job(
    readings: Sequence[Reading], job: str | os.PathLike[str], *, source: str = ""
) -> SwatchResult:
    """Fit readings with the fabrics of a job file, whose pattern is not needed.

    Distances that the job already states or reads from swatches do not count here.

    Raises
    ------
    PanelshiftError
        If the job cannot be read, or the readings do not fit its fabrics.
    """
    stack = fabric_stack(read_job(job), source=str(job))
    try:
        fits = fit_in_stack(readings, stack)
        return SwatchResult(fits, tuple(compare(fit, stack) for fit in fits))
    except PanelshiftError as error:
        raise error.located(source=source) from None


def fit_by_hand(
    readings: Sequence[Reading], inner_thickness: float, *, source: str = ""
) -> SwatchResult:
    """Fit readings with one thickness of the inner cloth, in mm.

    Raises
    ------
    SwatchError
        If the readings are of several inner cloths, or cannot be fitted.
    """
    pairs: dict[tuple[str, str], list[Reading]] = {}
    for reading in readings:
        pairs.setdefault((reading.inner, reading.outer), []).append(reading)
    cloths = sorted({inner for inner, _ in pairs})
    if len(cloths) > 1:
        raise SwatchError(
            f"one thickness is given for several inner cloths: {', '.join(cloths)}",
            remedy="Give --job instead, which has the thickness of each.",
            source=source,
        )
    try:
        return SwatchResult(tuple(fit_pair(group, inner_thickness) for group in pairs.values()))
    except PanelshiftError as error:
        raise error.located(source=source) from None
