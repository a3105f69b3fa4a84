"""Swatches with bones and test pieces that a job names, read straight into its keys."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any, TypeVar

from ..errors import JobError, PanelshiftError
from ..swatch import (
    BonedFit,
    BonedReading,
    Reading,
    Trial,
    bones_in_stack,
    read_csv,
    trials_in_stack,
)
from ..swatch.trials import JobEntry, job_entries
from .materials import fabric_stack, stack_of
from .model import FabricTable, JobFile
from .values import KeyTable

Table = TypeVar("Table", bound=KeyTable)


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
                found = {"standing": fit.line.value, "standing_uncertainty": fit.line.uncertainty}
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
