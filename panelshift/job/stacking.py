"""The stack of a job: its fabrics, and swatches fitted with them or by hand."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..errors import JobError, PanelshiftError, SwatchError
from ..stack import Fabric, MeasuredDistance, Stack
from ..swatch import (
    Comparison,
    PairFit,
    SwatchReading,
    compare,
    fit_in_stack,
    fit_pair,
    measured_by,
    read_csv,
)
from .model import JobFile
from .toml import read_job


@dataclass(frozen=True, eq=False)
class Stacking:
    """A stack and the swatches behind it.

    Parameters
    ----------
    stack : Stack
        With every measured distance of the job.
    fits : tuple of PairFit
        Of the job's swatch file; empty if it names none.
    """

    stack: Stack
    fits: tuple[PairFit, ...] = ()


def fabric_stack(job: JobFile, *, source: str = "") -> Stack:
    """Stack of a job by its thicknesses alone.

    Raises `StackError` if the fabrics make no stack.
    """
    fabrics = [
        Fabric(
            table.name,
            table.thickness,
            table.coverage,
            table.loft,
            None if table.panels is None else frozenset(table.panels),
            table.coverage == 1.0 if table.cut_out is None else table.cut_out,
            table.thickness_uncertainty,
        )
        for table in job.stack.fabric
    ]
    try:
        return Stack(fabrics, job.stack.drafted_layer)
    except PanelshiftError as error:
        raise error.located(source=source) from None


def stack_of(job: JobFile, *, source: str = "") -> Stacking:
    """Stack of a job with the distances that it states or that its swatch file gives.

    Raises `PanelshiftError` if the fabrics make no stack, or the swatches cannot be read, do not
    fit the fabrics or contradict each other.
    """
    stack = fabric_stack(job, source=source)
    table = job.stack
    fits: tuple[PairFit, ...] = ()
    try:
        stated = [
            MeasuredDistance(item.inner, item.outer, item.distance, item.uncertainty)
            for item in table.measured
        ]
    except PanelshiftError as error:
        raise error.located(source=source) from None
    found: tuple[MeasuredDistance, ...] = ()
    if table.swatches is not None:
        file = str(table.swatches)
        try:
            fits = fit_in_stack(read_csv(table.swatches), stack)
            found = measured_by(fits)
        except PanelshiftError as error:
            raise error.located(source=file) from None
        both = {(item.inner, item.outer) for item in stated}
        for item in found:
            if (item.inner, item.outer) in both:
                raise JobError(
                    f"the distance {item.pair} is stated, and the swatches give it too",
                    remedy=f"Leave out one of both: the entry in the job, or the lines in {file}.",
                    source=source,
                    element="stack.measured",
                )
    try:
        return Stacking(replace(stack, measured=(*stated, *found)), fits)
    except PanelshiftError as error:
        raise error.located(source=source) from None


@dataclass(frozen=True, eq=False)
class SwatchResult:
    """Fitted pairs and, if there was a job, how each compares with its thicknesses."""

    fits: tuple[PairFit, ...]
    comparisons: tuple[Comparison, ...] = ()


def fit_with_job(
    readings: Sequence[SwatchReading], job: str | os.PathLike[str], *, source: str = ""
) -> SwatchResult:
    """Fit readings with the fabrics of a job file, whose pattern is not needed.

    Distances that the job already states or reads from swatches do not count here.

    Raises `PanelshiftError` if the job cannot be read, or the readings do not fit its fabrics.
    """
    stack = fabric_stack(read_job(job), source=str(job))
    try:
        fits = fit_in_stack(readings, stack)
        return SwatchResult(fits, tuple(compare(fit, stack) for fit in fits))
    except PanelshiftError as error:
        raise error.located(source=source) from None


def fit_by_hand(
    readings: Sequence[SwatchReading],
    inner_thickness: float,
    outer_thickness: float | None = None,
    *,
    source: str = "",
) -> SwatchResult:
    """Fit readings with one thickness in mm of the inner cloth, and of all outside it if known.

    Raises `SwatchError` if the readings are of several inner cloths, or cannot be fitted.
    """
    pairs: dict[tuple[str, str], list[SwatchReading]] = {}
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
        flat = None if outer_thickness is None else 0.5 * (inner_thickness + outer_thickness)
        return SwatchResult(
            tuple(fit_pair(group, inner_thickness, by_thickness=flat) for group in pairs.values())
        )
    except PanelshiftError as error:
        raise error.located(source=source) from None
