"""From a job's tables to its stack and its body.

What reads swatches and measured bodies is imported for those jobs only that name them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from ..body import (
    BodyModel,
    ClassModel,
    FormerModel,
    MeanFormModel,
    Measures,
    SectionModel,
    TapeModel,
    Tapes,
)
from ..body.mean_form import BUST_MM, bust_of
from ..body.widths import FACTORS
from ..errors import NEXT_FAULT, JobError, PanelshiftError, few
from ..pattern.pattern import Pattern
from ..stack import Fabric, MeasuredDistance, Stack
from ..units import LONGEST_MM
from .checks import measures
from .model import BodyTable, FabricTable, JobFile, TapeTable

if TYPE_CHECKING:
    from ..swatch import PairFit


@dataclass(frozen=True, eq=False)
class Stacking:
    """A stack and the swatches behind it.

    *stack*: With every measured distance of the job. *fits*: Of the job's swatch file; empty if it
    names none.
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
            table.cut_out,
            table.thickness_uncertainty,
            table.loft_uncertainty,
            table.coverage_uncertainty,
            table.cloth,
            take_up=table.take_up,
            take_up_length=table.take_up_length,
            reduced=table.reduced,
            reduced_length=table.reduced_length,
            take_up_uncertainty=table.take_up_uncertainty,
            cut_in_one=table.cut_in_one,
            darts_from=table.darts_from,
            split_at=table.split_at,
        )
        for table in job.stack.fabric
    ]
    try:
        return Stack(fabrics, job.stack.drafted_layer)
    except PanelshiftError as error:
        raise error.located(source=source) from None


def with_heights(stack: Stack, job: JobFile, pattern: Pattern, *, source: str = "") -> Stack:
    """The stack with what the job says of heights: from where to where, thickness by level.

    Raises `PanelshiftError` if a level or height means none, or the fabrics make no stack so.
    """
    fabrics, faults = [], []
    for fabric, table in zip(stack.fabrics, job.stack.fabric, strict=True):
        keys = [table.from_, table.to, *table.thickness_at, *table.coverage_at]
        faults += [
            f"stack.fabric ({fabric.name}): {key!r:.40} is no level, nor a height such as +120 mm"
            for key in keys
            if key is not None and pattern.height_of(key) is None
        ]
        for given in (table.thickness_at, table.coverage_at) if not faults else ():
            heights = sorted(pattern.height_of(key) or 0.0 for key in given)
            if any(high - low < _ONE_HEIGHT_MM for low, high in pairwise(heights)):
                faults.append(
                    f"stack.fabric ({fabric.name}): two of {', '.join(given)} are one height"
                )
        if not faults and any(key is not None for key in keys):
            fabric = _by_height(fabric, table, pattern)
        fabrics.append(fabric)
    if faults:
        raise JobError(
            f"the job does not fit the pattern:\n    {few(faults, NEXT_FAULT)}",
            remedy=f"Levels here: {', '.join(pattern.level_names())}.",
            source=source,
        )
    try:
        return replace(stack, fabrics=tuple(fabrics))
    except PanelshiftError as error:
        raise error.located(source=source) from None


def _by_height(fabric: Fabric, table: FabricTable, pattern: Pattern) -> Fabric:
    band = None
    if table.from_ is not None or table.to is not None:
        low = -LONGEST_MM if table.from_ is None else pattern.height_of(table.from_)
        high = LONGEST_MM if table.to is None else pattern.height_of(table.to)
        band = (low or 0.0, high or 0.0)
    courses = [
        sorted((pattern.height_of(key) or 0.0, value / whole) for key, value in given.items())
        for given, whole in (
            (table.thickness_at, table.thickness),
            (table.coverage_at, table.coverage),
        )
        if given and whole > 0.0
    ]
    heights = sorted({height for course in courses for height, _ in course})
    factors = np.ones(len(heights))
    for course in courses:
        at, values = np.array(course).T
        factors *= np.interp(np.array(heights), at, values)
    by_height = tuple(zip(heights, factors.tolist(), strict=True))
    return replace(fabric, band=band, by_height=by_height)


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
        from .swatch_files import pinned

        fits, found = pinned(stack, table.swatches, stated, source)
    try:
        return Stacking(replace(stack, measured=(*stated, *found)), fits)
    except PanelshiftError as error:
        raise error.located(source=source) from None


_ONE_HEIGHT_MM = 1e-6


def body_of(table: BodyTable, pattern: Pattern, stack: Stack, *, source: str = "") -> BodyModel:
    """Return the body model that a job names; `measure_faults` must have found nothing wrong.

    *stack*: its innermost layer lies next to a former. *source*: for messages.

    Raises `PanelshiftError` if the measures make no body, or the section file cannot be read.
    """
    try:
        girths = measures(table.girths, pattern) if table.girths else None
        if table.model == "form":
            assert table.file is not None  # the job file's own check
            from ..form.section_file import read_section_file

            return read_section_file(table.file).model(girths)
        if table.model == "tapes":
            return _tapes(table, pattern)
        if table.model == "mean":
            own = None if table.ratio is None else _ratios(table.ratio, pattern)
            return MeanFormModel(table.of, own, girths, _bust(table, pattern))
        if table.model == "former":
            assert table.diameter is not None  # the job file's own check
            return FormerModel(table.diameter, stack.fabrics[0].build)
        if table.model == "section":
            ratios = _ratios(1.4 if table.ratio is None else table.ratio, pattern)
            return SectionModel(ratios, table.exponent or 2.0, girths)
        given = table.factors.model_dump(exclude_none=True)
        return ClassModel({**FACTORS[table.of], **given}, girths)
    except PanelshiftError as error:
        raise error.located(source=source) from None


def _tapes(table: BodyTable, pattern: Pattern) -> TapeModel:
    found: dict[float, Tapes] = {}
    for key, tapes in table.tapes.items():
        height = pattern.height_of(key)
        assert height is not None  # `measure_faults` asks
        if any(abs(height - other) < 1.0 for other in found):
            raise JobError(
                f"tapes are given twice {height:+.0f} mm from the waist",
                remedy="Write all tapes of a level into one table.",
                element=f"body.tapes.{key}",
            )
        found[height] = _taken(tapes)
    return TapeModel(
        found,
        table.of,
        table.error,
        upright=table.heights == "upright",
        bust_height=_bust(table, pattern),
    )


def _taken(tapes: TapeTable) -> Tapes:
    return Tapes(tapes.breadth, tapes.depth, tapes.girth, tapes.front_arc, tapes.stand_out)


def _bust(table: BodyTable, pattern: Pattern) -> float | None:
    if table.bust_height is not None:
        return table.bust_height
    drawn = bust_of(pattern)
    # One that no body has is told as a slip: mostly the drawing is not at true size.
    return drawn if drawn is not None and BUST_MM[0] <= drawn <= BUST_MM[1] else None


def _ratios(given: float | Mapping[str, float], pattern: Pattern) -> Measures:
    return measures(given, pattern) if isinstance(given, Mapping) else Measures.constant(given)
