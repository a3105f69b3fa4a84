"""From a job's tables to its stack and its body."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

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
from ..body.widths import FACTORS
from ..errors import NEXT_FAULT, JobError, PanelshiftError, SwatchError, few
from ..form.section_file import read_section_file
from ..pattern.pattern import Pattern
from ..stack import Fabric, MeasuredDistance, Stack
from ..swatch import (
    BonedFit,
    BonedReading,
    Comparison,
    PairFit,
    Reading,
    SwatchReading,
    Trial,
    TrialFit,
    bones_in_stack,
    compare,
    fit_in_stack,
    fit_pair,
    grouped,
    measured_by,
    only,
    read_csv,
    trials_in_stack,
)
from ..swatch.boned import fit_boned, kind_of
from ..swatch.trials import fit_trials, group_of, job_entries
from ..units import LONGEST_MM
from .checks import height_of, measures
from .model import BodyTable, FabricTable, JobFile, TapeTable


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
            if key is not None and height_of(key, pattern) is None
        ]
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
        low = -LONGEST_MM if table.from_ is None else height_of(table.from_, pattern)
        high = LONGEST_MM if table.to is None else height_of(table.to, pattern)
        band = (low or 0.0, high or 0.0)
    courses = [
        sorted((height_of(key, pattern) or 0.0, value / whole) for key, value in given.items())
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
        file = str(table.swatches)
        try:
            fits = fit_in_stack(only(SwatchReading, read_csv(table.swatches)), stack)
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
    """Fitted pairs and, if there was a job, how each compares with its thicknesses; or others."""

    fits: tuple[PairFit, ...] = ()
    comparisons: tuple[Comparison, ...] = ()
    boned: tuple[BonedFit, ...] = ()
    trials: tuple[TrialFit, ...] = ()

    @property
    def warnings(self) -> list[str]:
        """What the maker should look at."""
        every: list[PairFit | BonedFit | TrialFit] = [*self.fits, *self.boned, *self.trials]
        return [words for fit in every for words in fit.warnings()]

    @property
    def job_lines(self) -> list[str]:
        """What bones and test pieces give the job file, a line each."""
        lines = [fit.job_line for fit in self.boned if fit.job_line]
        return lines + [entry.line for entry in job_entries(self.trials)]

    @property
    def said(self) -> list[str]:
        """What bones and test pieces come to, a line each."""
        return [fit.said for fit in self.boned] + [fit.said for fit in self.trials]


def fit_with_job(
    readings: Sequence[Reading], job: JobFile, *, of_job: str = "", source: str = ""
) -> SwatchResult:
    """Fit readings with the fabrics of a job, whose pattern is not needed.

    *of_job*, *source*: the job's file and that of the readings, for messages.

    Distances that the job already states or reads from swatches do not count for flat swatches;
    folds of test pieces use them.

    Raises `PanelshiftError` if the fabrics make no stack, or the readings do not fit them.
    """
    stack = fabric_stack(job, source=of_job)
    flat, boned, trials = _by_kind(readings)
    measured = stack_of(job, source=of_job).stack if trials else stack
    try:
        fits = fit_in_stack(flat, stack)
        return SwatchResult(
            fits,
            tuple(compare(fit, stack) for fit in fits),
            bones_in_stack(boned, stack),
            trials_in_stack(trials, measured),
        )
    except PanelshiftError as error:
        raise error.located(source=source) from None


def fit_by_hand(
    readings: Sequence[Reading],
    inner_thickness: float | None = None,
    outer_thickness: float | None = None,
    *,
    source: str = "",
) -> SwatchResult:
    """Fit readings with one thickness in mm of the inner cloth, and of the one outside it if known.

    Pieces of one cloth, measured before and after, need neither.

    Raises `SwatchError` if the readings are of several inner cloths, or cannot be fitted.
    """
    flat, boned, trials = _by_kind(readings)
    pairs = (*flat, *(item.flat for item in boned))
    cloths = sorted(
        {item.inner for item in pairs} | {item.inner for item in trials if item.kind == "fold"}
    )
    if len(cloths) > 1:
        raise SwatchError(
            f"one thickness is given for several inner cloths: {', '.join(cloths)}",
            remedy="Give --job instead, which has the thickness of each.",
            source=source,
        )
    if cloths and inner_thickness is None:
        raise SwatchError(
            "the thickness of the inner cloth is needed, once",
            remedy="Give either --job with the job file, or --inner-thickness.",
        )
    inner = inner_thickness or 0.0
    apart = None if outer_thickness is None else 0.5 * (inner + outer_thickness)
    try:
        return SwatchResult(
            tuple(
                fit_pair(group, inner, by_thickness=apart)
                for group in grouped(flat, lambda item: (item.inner, item.outer))
            ),
            boned=tuple(fit_boned(group, inner) for group in grouped(boned, kind_of)),
            trials=tuple(fit_trials(group, apart) for group in grouped(trials, group_of)),
        )
    except PanelshiftError as error:
        raise error.located(source=source) from None


def _by_kind(
    readings: Sequence[Reading],
) -> tuple[list[SwatchReading], list[BonedReading], list[Trial]]:
    return (
        [item for item in readings if isinstance(item, SwatchReading)],
        [item for item in readings if isinstance(item, BonedReading)],
        [item for item in readings if isinstance(item, Trial)],
    )


BUST = "bust"
"""Name of the level at which the mean form's bust is put."""


def body_of(table: BodyTable, pattern: Pattern, stack: Stack, *, source: str = "") -> BodyModel:
    """Return the body model that a job names; `measure_faults` must have found nothing wrong.

    *stack*: its innermost layer lies next to a former. *source*: for messages.

    Raises `PanelshiftError` if the measures make no body, or the section file cannot be read.
    """
    girths = measures(table.girths, pattern) if table.girths else None
    try:
        if table.model == "form":
            assert table.file is not None  # the job file's own check
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
        height = height_of(key, pattern)
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
    return pattern.level_height(BUST) if BUST in pattern.level_names() else None


def _ratios(given: float | Mapping[str, float], pattern: Pattern) -> Measures:
    return measures(given, pattern) if isinstance(given, Mapping) else Measures.constant(given)
