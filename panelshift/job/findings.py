"""What is to be said of a pattern before it is cut: what must be mended, what to look at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ..errors import ScaleError
from ..pattern.drawing import Remark
from ..pattern.pattern import Pattern
from ..units import show
from .checks import check_scale
from .model import JobFile
from .resolved import panel_classes

SEAM_EASE_MM: Final = 1.0
"""Seam edges that differ by more are pointed out."""

SEAM_FAULT_MM: Final = 5.0
"""Seam edges that differ by more must be mended: common practice, no source; a few mm may be
eased in over a bust, more puckers."""


@dataclass(frozen=True)
class Finding:
    """One thing found, and what it is about.

    Parameters
    ----------
    words : str
        For people.
    code : str
        One of `job.codes.CODES`.
    element : str
        Id of the drawn shape that it is about; empty if none.
    seam : str
        Name of the seam that it is about; empty if none.
    """

    words: str
    code: str
    element: str = ""
    seam: str = ""


@dataclass(frozen=True, eq=False)
class Check:
    """Findings on a pattern.

    Parameters
    ----------
    inferred : frozenset of str
        Names of panels whose class was inferred.
    faults : tuple of Finding
        What must be mended.
    warnings : tuple of Finding
        What should be looked at.
    units : str
        Display unit.
    drafted_waist : float or None
        In mm.
    gap : float
        Lacing gap in mm.
    """

    pattern: Pattern
    classes: tuple[str, ...]
    inferred: frozenset[str]
    faults: tuple[Finding, ...]
    warnings: tuple[Finding, ...]
    units: str
    drafted_waist: float | None
    gap: float


def check_pattern(pattern: Pattern, job: JobFile, *, also: Sequence[Remark] = ()) -> Check:
    """Check a pattern's scale and seams.

    *also*: what else is to be looked at: a job's numbers and swatches.
    """
    classes, inferred = panel_classes(job, pattern)
    units = job.pattern.units
    faults = [
        Finding(f"{remark.words}. {remark.remedy}", remark.code, next(iter(remark.elements), ""))
        for remark in pattern.ledger
        if remark.kind == "fault"
    ]
    told = [
        Finding(remark.words, remark.code, next(iter(remark.elements), ""))
        for remark in (*pattern.ledger, *also)
        if remark.kind == "warning"
    ]
    try:
        check_scale(pattern, job.pattern.drafted_waist, units)
    except ScaleError as error:
        faults.append(Finding(f"{error.problem}. {error.remedy}", "scale"))
    for walked in pattern.walk():
        apart = abs(walked.difference)
        if apart > SEAM_EASE_MM:
            words = (
                f"seam {walked.name}: its edges differ by {show(apart, units)} "
                f"({show(walked.first, units)} and {show(walked.second, units)})"
            )
            found = Finding(words, "seam", seam=walked.name)
            (faults if apart > SEAM_FAULT_MM else told).append(found)
    return Check(
        pattern,
        classes,
        inferred,
        tuple(faults),
        tuple(told),
        units,
        job.pattern.drafted_waist,
        job.pattern.lacing_gap,
    )
