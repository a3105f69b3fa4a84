"""The pattern that a job is made from: its drawing read as the job says, and altered."""

from __future__ import annotations

import itertools
import json
from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Final

from ..draft import Gore, Reading, StandsOn, assemble
from ..errors import JobError
from ..pattern.drawing import Drawing, Ledger
from ..pattern.pattern import EDGE_KINDS, EdgeKind, Pattern
from ..sources.drawings import read_drawing
from .altering import alter
from .checks import OUTLINE_UNCHECKED, PX_UNCHECKED, chose_outline
from .model import AllowanceTable, JobFile
from .slips import drawing_slips, reading_slips, refuse


def read_pattern(job: JobFile, *, source: str = "", drawing: Drawing | None = None) -> Pattern:
    """Read the job's draft and make the job's alterations to it: what all layers are made from.

    *source*, *drawing*: as for `drafted_pattern`.

    Raises `PanelshiftError` as `drafted_pattern` and `alter`.
    """
    if not job.altered:
        return drafted_pattern(job, source=source, drawing=drawing)
    if drawing is None:
        drawing = read_drawing(job.pattern.file, page=job.pattern.page)
    return alter(drafted_pattern(job, source=source, drawing=drawing), job, drawing, source).pattern


def drafted_pattern(job: JobFile, *, source: str = "", drawing: Drawing | None = None) -> Pattern:
    """Read and assemble the job's pattern, in the order that the job gives or implies.

    What must be mended stands in its ledger: `resolve` refuses it.

    Parameters
    ----------
    job : JobFile
    source : str
        For messages.
    drawing : Drawing, optional
        What the job's pattern file holds, at its own scale, where it has been read already.

    Raises
    ------
    PanelshiftError
        See `panelshift.sources.drawings.read_drawing` and `panelshift.draft.assemble`.
    """
    table = job.pattern
    refuse(reading_slips(job), source)
    if drawing is None:
        drawing = read_drawing(table.file, page=table.page)
    slips = drawing_slips(job, drawing.px_per_inch)
    drawing, reading = at_scale(job, drawing), reading_of(job)
    pattern = assemble(drawing, reading, keep_faults=True)
    if table.drafted_waist is None:
        doubts = Ledger()
        if drawing.in_px and table.scale == 1.0 and drawing.px_per_inch is None:
            doubts.warn("scale-unchecked", PX_UNCHECKED)
        if chose_outline(pattern) and table.net_outline == "auto":
            doubts.warn("outline-unchecked", OUTLINE_UNCHECKED)
        found = (*doubts.remarks, *(slip.remark for slip in slips))
        pattern = replace(pattern, ledger=(*pattern.ledger, *found))
    joins = {name: panel.joins for name, panel in job.panel.items() if panel.joins}
    if not joins:
        return pattern
    order = _order_of_joins(joins, pattern, source)
    chained = assemble(drawing, replace(reading, order=order), keep_faults=True)
    told = [remark for remark in chained.ledger if remark.kind in ("left out", "note")]
    told += [remark for remark in pattern.ledger if remark.kind in ("warning", "fault")]
    return replace(chained, ledger=tuple(told))


def _order_of_joins(joins: Mapping[str, str], pattern: Pattern, source: str) -> tuple[str, ...]:
    """Follow `joins` from the panel that none joins, filling in neighbours as read."""
    names = [panel.name for panel in pattern.panels if panel.pointed is None]
    unknown = sorted((set(joins) | set(joins.values())) - set(names))
    if unknown:
        raise JobError(
            f"joins names panel {unknown[0]!r}, which the pattern has not",
            remedy=f"Use the pattern's panel names: {', '.join(names)}.",
            source=source,
            element=f"panel.{unknown[0]}",
        )
    following = dict(itertools.pairwise(names))
    claimed = set(joins.values())
    following = {a: b for a, b in following.items() if a not in joins and b not in claimed}
    following.update(joins)
    starts = [name for name in names if name not in following.values()]
    chain = starts[:1]
    while chain and chain[-1] in following and following[chain[-1]] not in chain:
        chain.append(following[chain[-1]])
    if len(chain) != len(names) or len(set(joins.values())) != len(joins):
        raise JobError(
            "the joins of the panels do not make one chain from centre front to centre back",
            remedy="Give for every panel but the last the panel that is sewn to its back edge.",
            source=source,
            element="panel.*.joins",
        )
    return tuple(chain)


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
        level=table.level,
        leave_out=table.leave_out,
        leave_layers=(*table.leave_layers, *filter(None, [table.fitting_layer])),
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
        gores=tuple(Gore(g.panel, g.between, g.tip, g.opens_at, g.slit) for g in job.gore),
        stands_on=tuple(StandsOn(one.upper, one.lower) for one in job.stands_on),
        split_at=tuple(dict.fromkeys(name for f in job.stack.fabric for name in f.split_at)),
    )


_NOT_READ: Final = {"title", "lacing_gap", "gap_at"}
"""Keys of the job's pattern that say nothing of how it is read."""


def reading_key(job: JobFile) -> str:
    """All of a job that decides what `drafted_pattern` makes of its file, as one text.

    What is kept of one job serves another only if this is the same: it holds the whole `Reading`,
    wherever in the job that comes from.
    """
    data = (
        job.pattern.model_dump(exclude=_NOT_READ, exclude_unset=True),
        asdict(reading_of(job)),
        {name: panel.joins for name, panel in job.panel.items() if panel.joins},
    )
    return json.dumps(data, sort_keys=True, default=str)


def _allowance_drawn(given: float | AllowanceTable | None) -> dict[EdgeKind, float] | None:
    """What the outlines have in them, by kind of edge."""
    if given is None:
        return None
    if isinstance(given, AllowanceTable):
        return {kind: getattr(given, kind) or 0.0 for kind in EDGE_KINDS}
    return dict.fromkeys(EDGE_KINDS, given)
