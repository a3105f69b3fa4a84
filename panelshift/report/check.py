"""What was read from a pattern, and what must be mended before cutting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from ..errors import ScaleError
from ..job.checks import check_scale
from ..job.model import JobFile
from ..job.resolved import panel_classes
from ..outline.measure import length
from ..pattern.panel import EDGE_NAMES
from ..pattern.pattern import Pattern
from ..units import show
from .tables import listing, paragraphs, table

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


def check_text(check: Check) -> str:
    """Findings as text for people."""
    pattern, units = check.pattern, check.units

    def cell(value: float) -> str:
        return show(value, units).split()[0]

    panel_rows = [
        [
            panel.name,
            cls + ("*" if panel.name in check.inferred else ""),
            cell(panel.waist.width),
            *(cell(length(panel.edge(edge))) for edge in EDGE_NAMES),
            ", ".join(level.name for level in panel.levels) or "none",
            str(len(panel.marks)),
        ]
        for panel, cls in zip(pattern.panels, check.classes, strict=True)
    ]
    heads = ["panel", "class", "waist", *EDGE_NAMES, "level lines", "marks"]
    seam_rows = [
        [w.name, cell(w.first), cell(w.second), f"{cell(w.difference)}"] for w in pattern.walk()
    ]
    return paragraphs(
        f"{pattern.source}: {'full' if pattern.full else 'half'} pattern of "
        f"{len(pattern.panels)} panels, in {units}",
        table(heads, panel_rows),
        "* class inferred from the panel's place; set it in the job file" if check.inferred else "",
        _waist_text(check),
        table(["seam", "first edge", "second edge", "difference"], seam_rows) if seam_rows else "",
        listing("How it was read", pattern.notes),
        listing("Left out", [f"{item.ident}: {item.reason}" for item in pattern.left_out]),
        listing("Look at", check.warnings),
        listing("Must be mended", check.faults) or "Nothing that must be mended.",
    )


def _waist_text(check: Check) -> str:
    whole = check.pattern.waist
    words = f"waist: half {show(0.5 * whole, check.units)}, whole {show(whole, check.units)}"
    if check.gap:
        words += f", with the lacing gap {show(whole + check.gap, check.units)}"
    if check.drafted_waist is not None:
        words += f"; drafted to {show(check.drafted_waist, check.units)}"
        words += f" ({show(whole - check.drafted_waist, check.units, signed=True)})"
    return words


def check_data(check: Check) -> dict[str, Any]:
    """Findings as plain data, lengths in mm."""
    pattern = check.pattern
    return {
        "source": pattern.source,
        "unit": "mm",
        "halves": "full" if pattern.full else "half",
        "waist": round(pattern.waist, 4),
        "drafted_waist": check.drafted_waist,
        "lacing_gap": check.gap,
        "panels": [
            {
                "name": panel.name,
                "id": panel.ident,
                "class": cls,
                "class_inferred": panel.name in check.inferred,
                "waist": round(panel.waist.width, 4),
                "edges": {e: round(length(panel.edge(e)), 4) for e in EDGE_NAMES},
                "levels": {
                    level.name: {"height": round(level.height, 4), "width": round(level.width, 4)}
                    for level in panel.levels
                },
                "marks": [{"kind": m.kind, "id": m.ident} for m in panel.marks],
                "texts": [text.content for text in panel.texts],
            }
            for panel, cls in zip(pattern.panels, check.classes, strict=True)
        ],
        "seams": [
            {
                "name": w.name,
                "first": round(w.first, 4),
                "second": round(w.second, 4),
                "difference": round(w.difference, 4),
            }
            for w in pattern.walk()
        ],
        "notes": list(pattern.notes),
        "left_out": [{"id": item.ident, "reason": item.reason} for item in pattern.left_out],
        "warnings": list(check.warnings),
        "faults": list(check.faults),
    }
