"""``[[alteration]]`` of a job: what a fitting changed, applied to the draft before everything."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Final, Literal

from pydantic import Discriminator, Field, Tag, model_validator

from ..errors import AlterationError, PanelshiftError
from ..outline import Curve
from ..pattern.drawing import Remark, refusal, spaced
from ..pattern.pattern import Pattern
from ..pattern.two_sides import SIDES_OF_BODY, both_sides
from ..units import unit_words
from .values import BRANCHES, Height, KeyTable, Length, OneLine, Positive, branch, height_said

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

MARKED: Final = "altered"
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
        low, high = height_said(self.from_), height_said(self.to)
        return Alteration(self.seam, amount, self.run_out, low, high, self.on, side)

    @property
    def mark(self) -> str:
        """A short hash of all it says, by which a draft tells that it has had it."""
        text = json.dumps(self.model_dump(exclude_unset=True), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:12]


def alter(draft: Pattern, job: JobFile, drawing: Drawing, source: str) -> Altered:
    """Alter a draft as a job says, and as lines of its fitting's layer do; its ledger tells.

    Without alterations it is the draft itself, and while something in it must be mended.

    Raises `AlterationError` if an alteration does not fit the draft, or was made in it already.
    Raises `UnknownNameError` if it names a seam, a panel or a level that is not. Raises
    `ScaleError` if the draft misses the drafted waist, which an altered pattern can no longer show.
    """
    from ..shift.alteration import Alteration, of_both_sides
    from ..shift.altered import Altered, alter_pattern
    from ..shift.drawn_alterations import drawn_alterations
    from ..shift.end_edges import ends_of_both_sides
    from .checks import check_scale

    if not job.altered or refusal(draft.ledger) is not None:
        return Altered(draft, draft, ())
    check_scale(draft, job.pattern.drafted_waist, job.pattern.units)
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
    units = job.pattern.units
    words = "; ".join(one.said(units) for one in found.alterations)
    if one_sided:
        words += "; both sides are pieces of their own now, marked left and right (the wearer's)"
    told = Remark(
        "warning", "altered", f"the draft was altered first, in {unit_words(units)}: {words}"
    )
    return replace(found, pattern=replace(found.pattern, ledger=(*draft.ledger, told)))


def _fitting_lines(job: JobFile, drawing: Drawing) -> list[tuple[str, Curve]]:
    """The lines of the drawing's layer of the fitting, at their true scale."""
    from .drafted import at_scale

    wanted = spaced(job.pattern.fitting_layer)
    return [
        (shape.ident, shape.curve)
        for shape in at_scale(job, drawing).shapes
        if wanted and wanted in map(spaced, shape.groups)
    ]


def marks_done(drawing: Drawing) -> frozenset[str]:
    """Marks of the alterations that a draft has had."""
    return frozenset(
        mark for shape in drawing.shapes for mark in shape.data.get(MARKED, "").split()
    )


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

    wide = AllowanceTable(**dict.fromkeys(AllowanceTable.model_fields, WIDE_MM))
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
