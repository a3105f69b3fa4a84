"""``[[alteration]]`` of a job: what a fitting changed, applied to the draft before everything."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Final, Literal

import numpy as np
from pydantic import Discriminator, Field, Tag, model_validator

from ..draft import Reading, assemble
from ..errors import AlterationError, PanelshiftError
from ..outline import Curve, FloatArray
from ..pattern.drawing import Remark, refusal, spaced
from ..pattern.panel import EDGE_NAMES, Panel
from ..pattern.pattern import Pattern
from ..pattern.two_sides import SIDES_OF_BODY, both_sides
from ..sources.drawings import read_drawing
from .values import BRANCHES, Height, KeyTable, Length, OneLine, Positive, branch

if TYPE_CHECKING:
    from ..pattern.drawing import Drawing
    from ..shift.alteration import Alteration
    from ..shift.altered import Altered
    from ..shift.end_edges import EndAlteration
    from .model import JobFile

AmountOrTable = Annotated[
    Annotated[Length, Tag(BRANCHES[0])] | Annotated[dict[str, Length], Tag(BRANCHES[1])],
    Discriminator(branch),
]

MET_MM: Final = 0.01
"""Girths come out as entered within this, or nothing is written."""

_DONE: Final = "altered"
"""Data attribute of outlines with a mark of each alteration that their draft has had."""


class AlterationTable(KeyTable):
    """``[[alteration]]``: one seam let out or taken in, or one edge raised or lowered."""

    seam: Annotated[OneLine, Field(min_length=1)] | None = None
    edge: Literal["top", "bottom"] | None = None
    raise_: Annotated[dict[str, Length] | None, Field(alias="raise")] = None
    lower: dict[str, Length] | None = None
    let_out: AmountOrTable | None = None
    take_in: AmountOrTable | None = None
    from_: Annotated[Height | None, Field(alias="from")] = None
    to: Height | None = None
    run_out: Positive | None = None
    on: OneLine = ""
    side: Literal["left", "right", "both"] | None = None
    note: OneLine = ""

    @model_validator(mode="after")
    def _one_way(self) -> AlterationTable:
        if (self.seam is None) == (self.edge is None):
            raise ValueError("needs either a seam, or an edge (top or bottom)")
        if self.edge is not None:
            if (self.raise_ is None) == (self.lower is None):
                raise ValueError(
                    'an edge needs either raise or lower, by place: { "centre front" = 10, ... }'
                )
            strange = self.model_fields_set - {"edge", "raise_", "lower", "run_out", "note"}
        else:
            strange = self.model_fields_set & {"raise_", "lower"}
        if strange:
            what = "a seam" if self.edge is None else f"the {self.edge} edge"
            raise ValueError(
                f"{', '.join(sorted(strange)).replace('_', '')} means nothing of {what}"
            )
        if self.edge is None and (self.let_out is None) == (self.take_in is None):
            raise ValueError("needs either let_out or take_in")
        return self

    def alteration(self) -> Alteration | EndAlteration:
        """What is asked for; letting out and raising count up, taking in and lowering down."""
        from ..shift.alteration import Alteration
        from ..shift.end_edges import EndAlteration

        if self.edge is not None:
            ends, way = (self.lower, -1.0) if self.raise_ is None else (self.raise_, 1.0)
            amounts = {key: way * value + 0.0 for key, value in (ends or {}).items()}
            return EndAlteration(self.edge, amounts, self.run_out)

        given, sign = (self.let_out, 1.0) if self.take_in is None else (self.take_in, -1.0)
        amount: float | Mapping[str, float]
        if isinstance(given, dict):
            amount = {key: sign * value + 0.0 for key, value in given.items()}
        else:
            assert given is not None  # as `_one_way` has seen to
            amount = sign * given
        side = self.side or ""
        assert self.seam is not None  # the same
        return Alteration(self.seam, amount, self.run_out, self.from_, self.to, self.on, side)

    @property
    def mark(self) -> str:
        """A short hash of all it says, by which a draft tells that it has had it."""
        text = json.dumps(self.model_dump(exclude_unset=True), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:12]


def alter(draft: Pattern, job: JobFile, drawing: Drawing, source: str) -> Altered:
    """Alter a draft as a job says, and as lines of its fitting's layer do; its ledger tells.

    Raises `AlterationError` if an alteration does not fit the draft, or was made in it already.
    Raises `UnknownNameError` if it names a seam, a panel or a level that is not.
    """
    from ..shift.alteration import Alteration, of_both_sides
    from ..shift.altered import alter_pattern
    from ..shift.drawn_alterations import drawn_alterations
    from ..shift.end_edges import ends_of_both_sides

    tables, done = job.alteration, marks_done(drawing)
    for place, table in enumerate(tables, start=1):
        if table.mark in done:
            raise AlterationError(
                f"the draft has had alteration {place} already: {table.alteration().said()}",
                remedy="Take it out of the job file: the draft was written with it. If a second "
                "fitting asks for just the same once more, say so in its note.",
                source=source,
                element=f"alteration ({table.seam or f'{table.edge} edge'})",
            )
    one_sided = not draft.full and any(table.side in SIDES_OF_BODY for table in tables)
    try:
        alterations = [
            *drawn_alterations(draft, _fitting_lines(job, drawing)),
            *(table.alteration() for table in tables),
        ]
        if one_sided:
            alterations = [
                own
                for one in alterations
                for own in (
                    of_both_sides(draft, [one])
                    if isinstance(one, Alteration)
                    else [ends_of_both_sides(draft, one)]
                )
            ]
            draft = both_sides(draft)
        found = alter_pattern(draft, alterations)
    except PanelshiftError as error:
        raise error.located(source=source) from None
    for girth in found.girths:
        if abs(girth.off) > MET_MM:
            raise AlterationError(
                f"the girth at the level {girth.level} would change by "
                f"{girth.after - girth.before:.3f} mm, where {girth.asked:.3f} are asked for",
                remedy="The side edges lean too far there: alter by less, or over a longer way.",
                source=source,
            )
    words = "; ".join(one.said() for one in found.alterations)
    if one_sided:
        words += "; both sides are pieces of their own now, marked left and right (the wearer's)"
    told = Remark("warning", "altered", f"the draft was altered first, in mm: {words}")
    return replace(found, pattern=replace(found.pattern, ledger=(*draft.ledger, told)))


def _fitting_lines(job: JobFile, drawing: Drawing) -> list[tuple[str, Curve]]:
    """The lines of the drawing's layer of the fitting, at their true scale."""
    from .resolved import at_scale

    wanted = spaced(job.pattern.fitting_layer)
    return [
        (shape.ident, shape.curve)
        for shape in at_scale(job, drawing).shapes
        if wanted and wanted in map(spaced, shape.groups)
    ]


def marks_done(drawing: Drawing) -> frozenset[str]:
    """Marks of the alterations that a draft has had."""
    return frozenset(mark for shape in drawing.shapes for mark in shape.data.get(_DONE, "").split())


@dataclass(frozen=True, eq=False)
class NewDraft:
    """A draft as it is saved after a fitting.

    *svg*: its file. *altered*: what was changed. *advice*: what the job file must say of the new
    draft, and no longer, in words.
    """

    svg: bytes
    altered: Altered
    advice: tuple[str, ...]


def new_draft(
    job: JobFile, *, source: str = "", name: str = "draft-2.svg", saved: bool = True
) -> NewDraft:
    """Read a job's draft, alter it as the job says, and save it; the file is read again to see.

    *saved*: whether it is to be saved at all, rather than looked at; then it has no file.

    Raises `PanelshiftError` as `read_pattern` and `alter`; and `AlterationError` if what would be
    written does not read back as the altered pattern.
    """
    from ..shift.altered import Altered
    from ..sources.svg import draft_page, draft_svg
    from .resolved import drafted_pattern
    from .side_names import with_sides

    drawing = read_drawing(job.pattern.file, page=job.pattern.page)
    draft = drafted_pattern(job, source=source, drawing=drawing)
    if (fault := refusal(draft.ledger)) is not None:
        raise fault.located(source=draft.source)
    tables = job.alteration
    found = alter(draft, job, drawing, source) if job.altered else Altered(draft, draft, ())
    if not saved:
        return NewDraft(b"", found, ())
    marks = sorted(marks_done(drawing) | {table.mark for table in tables})
    svg = draft_svg(
        found.pattern,
        title=job.pattern.title,
        altered={_DONE: " ".join(marks)} if marks else None,
    )
    job = with_sides(job, found.pattern, source=source)
    names = tuple(panel.name for panel in found.pattern)
    low = draft_page(found.pattern)[0]
    corners = {
        panel.name: _corners(panel, low) for panel in found.pattern if _given(job, panel.name)
    }
    halves: Literal["half", "full"] = "full" if found.pattern.full else "half"
    again = _read_again(svg, Reading(order=names, halves=halves, corners=corners))
    _refuse_other(found.pattern, again, source)
    return NewDraft(svg, found, tuple(_advice(job, found, halves, corners, name)))


def _read_again(svg: bytes, reading: Reading) -> Pattern:
    """The pattern that a saved draft is read as."""
    return assemble(read_drawing(svg), reading)


def _given(job: JobFile, panel: str) -> bool:
    table = job.panel.get(panel)
    return table is not None and bool(table.corners)


def _corners(panel: Panel, low: FloatArray) -> dict[str, tuple[float, float]]:
    """The four corners of a panel on a page whose low corner is given, in mm."""
    front, back = panel.edge("front"), panel.edge("back")
    places = {
        "front_top": front.end,
        "back_top": back.end,
        "back_bottom": back.start,
        "front_bottom": front.start,
    }
    return {
        key: (round(float(x - low[0]), 2), round(float(y - low[1]), 2))
        for key, (x, y) in places.items()
    }


def _refuse_other(wanted: Pattern, found: Pattern, source: str) -> None:
    """Refuse a file that does not read back as the pattern that it was written from."""
    same = [p.name for p in wanted] == [p.name for p in found] and wanted.full == found.full
    if same:
        for one, two in zip(wanted, found, strict=True):
            # The sheet may have been moved as a whole.
            ends = [
                np.array([p.edge(name).start for name in EDGE_NAMES]) - p.edge("front").start
                for p in (one, two)
            ]
            levels = [[level.name for level in p.levels] for p in (one, two)]
            same &= bool(np.abs(ends[0] - ends[1]).max() < MET_MM) and levels[0] == levels[1]
    lengths = [p.edge_lengths() for p in (wanted, found)] if same else []
    if not same or np.abs(lengths[0] - lengths[1]).max() >= MET_MM:
        raise AlterationError(
            "the altered draft would not be read as what was altered",
            remedy="Panels may have come to lie on each other, or a corner may be too blunt now: "
            "move the panels of the draft further apart in the drawing program, or name the "
            "corners in the job file.",
            source=source,
        )


_OF_THE_OLD: Final = (
    "page",
    "scale",
    "waistlines",
    "leave_out",
    "leave_layers",
    "fitting_layer",
    "net_outline",
    "size",
    "allowance_drawn",
)
"""Keys of ``[pattern]`` that say how the old drawing is read; the new one has all of it named."""


def _advice(
    job: JobFile,
    found: Altered,
    halves: str,
    corners: Mapping[str, Mapping[str, tuple[float, float]]],
    name: str,
) -> list[str]:
    said = job.pattern.model_fields_set
    lines = [f'in [pattern]: file = "{name}", halves = "{halves}"']
    if "drafted_waist" in said:
        change = found.pattern.waist - found.before.waist
        drafted = (job.pattern.drafted_waist or 0.0) + change
        lines.append(f"in [pattern]: drafted_waist = {drafted:.2f}")
    for panel, places in corners.items():
        ends = ", ".join(f"{key} = [{x:.2f}, {y:.2f}]" for key, (x, y) in places.items())
        lines.append(f'in [panel."{panel}"]: corners = {{ {ends} }}')
    gone = [key for key in _OF_THE_OLD if key in said]
    if gone:
        lines.append(f"take out of [pattern]: {', '.join(gone)}")
    if job.alteration:
        lines.append(
            "take out every [[alteration]]: the new draft has them, and refuses them again"
        )
    return lines


WIDE_MM: Final = 25.0
"""Seam allowance of a mock-up: enough to let out what a fitting finds (common practice, no
source)."""

MOCK_UP: Final = "mock-up"


def mock_up(job: JobFile, *, source: str = "") -> bytes:
    """The cutting file of a mock-up: one cloth cut to the draft's own lines, alterations made.

    Every line of the draft is on it, `WIDE_MM` of allowance round each panel, and words along the
    centre front and the centre back; panels on the fold stay there.

    Raises `PanelshiftError` as `resolve`.
    """
    from .model import AllowanceTable, BodyTable, ExtrasTable, FabricTable, FitTable, StackTable
    from .resolved import resolve
    from .result import cut

    wide = AllowanceTable(
        **dict.fromkeys(("seam", "centre_front", "centre_back", "top", "bottom"), WIDE_MM)
    )
    cloth = FabricTable(name=MOCK_UP, thickness=0.0)
    own = job.model_copy(
        update={
            "stack": StackTable(fabric=(cloth,)),
            "allowance": wide,
            "body": BodyTable(),
            "construction": None,
            "extras": ExtrasTable(),
            "fit": FitTable(needs=False),
        }
    )
    found = resolve(own, source=source)
    found = replace(found, plan=replace(found.plan, centres=True))
    (layer, *_) = cut(found).drawings.values()
    return layer
