"""What is to be said of a pattern before it is cut: what must be mended, what to look at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from ..errors import ScaleError
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


@dataclass(frozen=True, eq=False)
class Check:
    """Findings on a pattern.

    Parameters
    ----------
    pattern : Pattern
    classes : tuple of str
    inferred : frozenset of str
        Names of panels whose class was inferred.
    faults : tuple of str
        What must be mended.
    warnings : tuple of str
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
    faults: tuple[str, ...]
    warnings: tuple[str, ...]
    units: str
    drafted_waist: float | None
    gap: float


def check_pattern(
    pattern: Pattern, job: JobFile, *, warnings: Sequence[str] | None = None
) -> Check:
    """Check a pattern's scale and seams.

    Parameters
    ----------
    pattern : Pattern
    job : JobFile
    warnings : sequence of str, optional
        Those of a whole job, where there is one; else the pattern's own.
    """
    classes, inferred = panel_classes(job, pattern)
    units = job.pattern.units
    faults, told = [], list(pattern.warnings if warnings is None else warnings)
    try:
        check_scale(pattern, job.pattern.drafted_waist, units)
    except ScaleError as error:
        faults.append(f"{error.problem}. {error.remedy}")
    for walked in pattern.walk():
        apart = abs(walked.difference)
        if apart > SEAM_EASE_MM:
            words = (
                f"seam {walked.name}: its edges differ by {show(apart, units)} "
                f"({show(walked.first, units)} and {show(walked.second, units)})"
            )
            (faults if apart > SEAM_FAULT_MM else told).append(words)
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
