"""What a job says of its drawing, and what it leaves open."""

from __future__ import annotations

from ..draft import Reading
from ..pattern.drawing import Drawing
from ..pattern.pattern import EDGE_KINDS, EdgeKind
from ..sources.svg import read_svg
from .choices import Survey, survey
from .model import AllowanceTable, JobFile


def survey_job(job: JobFile) -> Survey:
    """Say what must be chosen so that the job's pattern can be read.

    Raises `PanelshiftError` if the drawing itself cannot be read.
    """
    drawing = at_scale(job, read_svg(job.pattern.file))
    return survey(drawing, reading_of(job), units=job.pattern.units)


def at_scale(job: JobFile, drawing: Drawing) -> Drawing:
    """Return the job's drawing at its true scale."""
    return drawing if job.pattern.scale == 1.0 else drawing.scaled(job.pattern.scale)


def reading_of(job: JobFile) -> Reading:
    """What the job says of its drawing."""
    table = job.pattern
    return Reading(
        order=table.order,
        halves=table.halves,
        waistlines=table.waistlines,
        leave_out=table.leave_out,
        leave_layers=table.leave_layers,
        join_tolerance=table.join_tolerance,
        net_outline=table.net_outline,
        size=table.size,
        drafted_waist=table.drafted_waist,
        allowance_drawn=_allowance_drawn(table.allowance_drawn),
        corners={
            name: {str(k): v for k, v in panel.corners.items()}
            for name, panel in job.panel.items()
            if panel.corners
        },
    )


def _allowance_drawn(given: float | AllowanceTable | None) -> dict[EdgeKind, float] | None:
    """What the outlines have in them, by kind of edge."""
    if given is None:
        return None
    if isinstance(given, AllowanceTable):
        return {kind: getattr(given, kind) or 0.0 for kind in EDGE_KINDS}
    return dict.fromkeys(EDGE_KINDS, given)
