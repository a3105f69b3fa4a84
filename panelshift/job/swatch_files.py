"""Readings of swatches held against a job: the distances and keys that its own files give it.

Others, which it does not name, are fitted with its fabrics or by hand.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from ..errors import JobError, PanelshiftError, SwatchError
from ..stack import MeasuredDistance, Stack
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
from ..swatch.trials import JobEntry, fit_trials, group_of, job_entries
from .materials import fabric_stack, stack_of
from .model import FabricTable, JobFile
from .values import KeyTable

Table = TypeVar("Table", bound=KeyTable)


def pinned(
    stack: Stack, file: Path, stated: Sequence[MeasuredDistance], source: str
) -> tuple[tuple[PairFit, ...], tuple[MeasuredDistance, ...]]:
    """What a file of flat swatches comes to in a stack, and the distances that it measures.

    *stated*: those that the job, the *source*, states itself.

    Raises `PanelshiftError` if the file cannot be read, its readings do not fit the fabrics, or
    a distance is stated and measured.
    """
    try:
        fits = fit_in_stack(only(SwatchReading, read_csv(file)), stack)
        found = measured_by(fits)
    except PanelshiftError as error:
        raise error.located(source=str(file)) from None
    both = {(item.inner, item.outer) for item in stated}
    for item in found:
        if (item.inner, item.outer) in both:
            raise JobError(
                f"the distance {item.pair} is stated, and the swatches give it too",
                remedy=f"Leave out one of both: the entry in the job, or the lines in {file}.",
                source=source,
                element="stack.measured",
            )
    return fits, found


def with_trials(job: JobFile, *, source: str = "") -> JobFile:
    """A job with what its ``[construction] swatches`` found written into its keys.

    Raises `PanelshiftError` if a file cannot be read or holds flat swatches, its readings fit no
    fabric or bones of the job, or a key is stated besides.
    """
    table = job.construction
    for file in () if table is None else table.swatches:
        try:
            readings = read_csv(file)
            boned = [item for item in readings if isinstance(item, BonedReading)]
            trials = [item for item in readings if isinstance(item, Trial)]
            _refuse_flat(readings, file, len(boned) + len(trials))
            fits = bones_in_stack(boned, fabric_stack(job, source=source))
            pieces = trials_in_stack(trials, stack_of(job, source=source).stack) if trials else ()
            job = _standing(job, fits, file)
            job = _stated(job, job_entries(pieces), file)
        except PanelshiftError as error:
            raise error.located(source=error.source or str(file)) from None
    return job


def _refuse_flat(readings: Iterable[Reading], file: Path, other: int) -> None:
    if len(list(readings)) > other:
        raise JobError(
            "construction.swatches names a file of flat swatches",
            remedy=f'Name it in [stack]: swatches = "{file.name}".',
            element="construction.swatches",
        )


def _standing(job: JobFile, fits: Iterable[BonedFit], file: Path) -> JobFile:
    """How high bones stand, in the bones of that size on that layer."""
    for fit in fits:
        first = fit.readings[0]
        assert job.construction is not None  # it names the file
        kinds, met = [], False
        for item in job.construction.bones:
            own = dict(item)
            same = own["on"] == first.flat.inner and own["bends"] == first.bends
            same &= abs(own["width"] - first.width) < 0.05
            if same and abs(own["thickness"] - first.thickness) < 0.05:
                met = True
                known = fit.line.entry_uncertainty
                found = {"standing": fit.line.value, "standing_uncertainty": known}
                item = _filled(item, found, "construction.bones", file)
            kinds.append(item)
        if not met or fit.line.value <= 0.0:
            bend = ", which bend across" if first.bends else ""
            raise JobError(
                f"no [[construction.bones]] are {first.width:g} by {first.thickness:g} mm on "
                f"{first.flat.inner!r}{bend}, as those of the swatch are"
                if not met
                else f"{fit.said}",
                remedy="Give the bones of the job, or those of the swatch, their true size and "
                "layer; or take the readings again.",
                element="construction.bones",
            )
        sewn = job.construction.model_copy(update={"bones": tuple(kinds)})
        job = job.model_copy(update={"construction": sewn})
    return job


def _stated(job: JobFile, entries: Iterable[JobEntry], file: Path) -> JobFile:
    for entry in entries:
        found: dict[str, Any] = {entry.key: entry.value}
        if not entry.layer:
            assert job.construction is not None  # it names the file
            found[f"{entry.key}_uncertainty"] = entry.uncertainty
            sewn = _filled(job.construction, found, "construction", file)
            job = job.model_copy(update={"construction": sewn})
            continue
        if entry.uncertainty and entry.key == "take_up":
            found[f"{entry.key}_uncertainty"] = entry.uncertainty
        fabrics: list[FabricTable] = [
            _filled(item, found, f"stack.fabric ({item.name})", file)
            if item.name == entry.layer
            else item
            for item in job.stack.fabric
        ]
        stack = job.stack.model_copy(update={"fabric": tuple(fabrics)})
        job = job.model_copy(update={"stack": stack})
    return job


def _filled(item: Table, found: dict[str, Any], where: str, file: Path) -> Table:
    if stated := [key for key in found if key in item.model_fields_set]:
        raise JobError(
            f"{where}.{stated[0]} is stated, and {file.name} gives it too",
            remedy="Leave out one of both: the key in the job, or the readings in the file.",
            element=f"{where}.{stated[0]}",
        )
    return item.model_copy(update=found)


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
