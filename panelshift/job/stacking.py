"""The stack of a job: its fabrics, and the distances that swatches gave."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..errors import JobError, PanelshiftError
from ..stack import Fabric, MeasuredDistance, Stack
from ..swatch import PairFit, fit_in_stack, measured_by, read_csv
from .model import JobFile


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

    Raises
    ------
    StackError
        If the fabrics make no stack.
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

    Raises
    ------
    PanelshiftError
        If the fabrics make no stack, or the swatches cannot be read, do not fit the fabrics
        or contradict each other.
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
