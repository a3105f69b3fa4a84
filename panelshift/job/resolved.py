"""Turn a job file into a pattern, a stack, a body and a cutting plan."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from ..body import BodyModel, ClassModel, Measures, infer_classes
from ..construction.sewn import Sewn
from ..cutting.bones import BoneOptions
from ..cutting.extras import Extras
from ..cutting.plan import Allowances, CutPlan, Cutting
from ..errors import NEXT_FAULT, BodyError, JobError, StackError, few
from ..files.one_line import as_line
from ..outline.by_value import ByValue
from ..pattern.drawing import Remark
from ..pattern.pattern import EDGE_KINDS, Pattern
from ..shift.cut_in_one import refuse_unjoinable
from ..shift.split_panels import refuse_unsplittable
from ..stack import Stack
from .bone_places import bone_doubts
from .checks import (
    class_doubts,
    covering_doubts,
    cutting_doubts,
    measure_faults,
    measures,
    order_doubts,
    strength_doubts,
    waist_doubts,
)
from .drafted import read_pattern
from .materials import body_of, stack_of, with_heights
from .model import AllowanceTable, ExtrasTable, JobFile, PanelTable
from .seamwork import edge_rolls, sewn_of, stretch_round
from .side_names import with_sides
from .slips import Slip, job_slips, refuse

if TYPE_CHECKING:
    from ..swatch import PairFit


@dataclass(frozen=True, eq=False)
class Job(ByValue):
    """Everything that a run needs, resolved.

    *classes*: Of each panel in order. *inferred*: Names of panels whose class was inferred. *gap*:
    Lacing gap in mm. *swatches*: Distances that the job's swatch file gave; they are in the stack
    already. *sewn*: How it is sewn, if the job says so.
    """

    file: JobFile = field(repr=False)
    pattern: Pattern
    stack: Stack
    classes: tuple[str, ...]
    inferred: frozenset[str] = field(repr=False)
    body: BodyModel
    gap: float
    plan: CutPlan = field(repr=False)
    swatches: tuple[PairFit, ...] = ()
    sewn: Sewn | None = None

    def __hash__(self) -> int:
        # What is in the file's tables cannot be hashed, nor need a script's own body.
        return hash((self.pattern, self.stack, self.classes, self.gap, self.plan))

    @property
    def opening(self) -> float | Measures:
        """The lacing gap in mm, by height where it is not the same all the way."""
        given = self.file.pattern.gap_at
        return self.gap if not given else measures({"+0": self.gap, **given}, self.pattern)

    @property
    def units(self) -> Literal["mm", "cm", "in"]:
        """The unit that lengths are shown in."""
        return self.file.pattern.units

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the maker should look at in the pattern, the fabrics and the swatches."""
        return tuple(remark.words for remark in self.look_at)

    @property
    def look_at(self) -> tuple[Remark, ...]:
        """The same with codes."""
        read = tuple(remark for remark in self.pattern.ledger if remark.kind == "warning")
        return (*read, *self.doubts)

    @property
    def doubts(self) -> tuple[Remark, ...]:
        """What the maker should look at in the job's numbers, the stack and the swatches."""
        return (*(slip.remark for slip in self.slips), *self.stack_doubts)

    @property
    def slips(self) -> tuple[Slip, ...]:
        """Numbers of the job that are possible, but far from what is usual."""
        return job_slips(self.file, self.pattern, self.stack)

    @property
    def stack_doubts(self) -> tuple[Remark, ...]:
        """What the maker should look at in the order of the fabrics and in the swatches."""
        told = (words for fit in self.swatches for words in fit.warnings())
        swatches = (Remark("warning", "swatch", words) for words in told)
        classes: tuple[Remark, ...] = ()
        if isinstance(self.body, ClassModel):
            classes = class_doubts(self.pattern, self.classes)
        cut = cutting_doubts(self.pattern, self.plan, self.file, self.stack)
        waist = waist_doubts(self.file, self.pattern)
        layers = (
            *order_doubts(self.stack),
            *covering_doubts(self.file),
            *strength_doubts(self.sewn),
            *bone_doubts(self.pattern, self.plan, self.sewn),
        )
        return (*layers, *waist, *cut, *classes, *swatches)


def resolve(
    job: JobFile,
    *,
    source: str = "",
    pattern: Pattern | None = None,
    keep_faults: bool = False,
) -> Job:
    """Read the pattern and bring everything the job says about it together.

    *source*: for messages. *pattern*: as `read_pattern` gives it for this job, where it has been
    read already. *keep_faults*: whether a pattern that holds what must be mended is to be looked at
    all the same.

    Raises `PanelshiftError` if the pattern cannot be read or the job names panels, levels or layers
    that do not exist; all such faults are listed at once.
    """
    if job.construction is not None and job.construction.swatches:
        from .swatch_files import with_trials

        job = with_trials(job, source=source)
    if pattern is None:
        pattern = read_pattern(job, source=source)
    if not keep_faults:
        pattern.refuse_faults()
    job = with_sides(job, pattern, source=source)
    _refuse_unknown(job, pattern, source)
    stacking = stack_of(job, source=source)
    stack = with_heights(stacking.stack, job, pattern, source=source)
    _refuse_unused(stack, pattern, source)
    refuse(job_slips(job, pattern, stack), source)
    _refuse_uncut(job.extras, stack, source)
    _refuse_folds(job, pattern, source)
    plan = _plan(job, pattern, stack)
    try:
        for fabric in stack.fabrics:
            refuse_unjoinable(pattern, fabric)
            refuse_unsplittable(pattern, fabric)
            for group in fabric.cut_in_one:
                plan.refuse_unlike(pattern, group, fabric.name)
    except StackError as error:
        raise StackError(
            error.problem, remedy=error.remedy, source=source, element=error.element
        ) from None
    body = body_of(job.body, pattern, stack, source=source)
    classes, inferred = panel_classes(job, pattern, body)
    return Job(
        job,
        pattern,
        stack,
        classes,
        inferred,
        body,
        job.pattern.lacing_gap,
        plan,
        stacking.fits,
        _sewn(job, pattern, stack, source),
    )


def _refuse_unknown(job: JobFile, pattern: Pattern, source: str) -> None:
    """List every panel or level that the job names and the pattern has not."""
    panels = [panel.name for panel in pattern.panels]
    levels = pattern.level_names()
    faults = [
        f'panel."{name:.40}": the pattern has no panel of that name'
        for name in job.panel
        if name not in panels
    ]
    for fabric in job.stack.fabric:
        faults += [
            f"stack.fabric ({fabric.name}).panels: the pattern has no panel {name!r:.40}"
            for name in fabric.panels or ()
            if name not in panels
        ]
        if fabric.panels == ():
            faults.append(
                f"stack.fabric ({fabric.name}).panels: names no panel, so that the fabric would "
                "lie nowhere; name those it lies on, or leave panels out if it lies on all"
            )
    faults += measure_faults(job.body, pattern)
    faults += [
        f"pattern.gap_at.{key}: no such level, nor a height such as +120 mm"
        for key in job.pattern.gap_at
        if pattern.height_of(key) is None
    ]
    names = [fabric.name for fabric in job.stack.fabric]
    if job.stack.drafted_layer and job.stack.drafted_layer not in names:
        faults.append(
            f"stack.drafted_layer: no fabric has the name {job.stack.drafted_layer!r:.40}"
        )
    if faults:
        raise JobError(
            f"the job does not fit the pattern:\n    {few(faults, NEXT_FAULT)}",
            remedy="Correct the names in the job file, or those in the drawing. Panels here: "
            f"{few(panels)}. Levels: {few(levels)}. Layers: {few(names)}.",
            source=source,
        )


def _refuse_unused(stack: Stack, pattern: Pattern, source: str) -> None:
    """Refuse a measured distance that no panel can use, rather than leave it out unsaid."""
    used = {place for panel in pattern.panels for place in stack.applied(panel.name)}
    for place, item in enumerate(stack.measured):
        if place not in used:
            raise JobError(
                f"the measured distance {item.pair} counts on no panel: nowhere do both lie "
                "with all that the stack has between them",
                remedy="Measure layers that lie on the same panels, or mend panels of the fabrics.",
                source=source,
                element="stack.measured",
            )


def _refuse_uncut(extras: ExtrasTable, stack: Stack, source: str) -> None:
    """Refuse facings and strips of a fabric that is not there, or not cut."""
    cut = [fabric.name for fabric in stack.fabrics if fabric.cut_out]
    for extra, name in extras.fabric.items():
        if name and name not in cut:
            raise JobError(
                f"no fabric that is cut out has the name {name!r:.80}",
                remedy=f'Give one of: {few(cut)}; or "" for what is bought, or cut of another '
                "cloth.",
                source=source,
                element=f"extras.fabric.{extra}",
            )


def panel_classes(
    job: JobFile, pattern: Pattern, body: BodyModel | None = None
) -> tuple[tuple[str, ...], frozenset[str]]:
    """Class of each panel, and the names of those whose class was inferred.

    *body*: tells where each panel looks, if it can; else its place in the row does.
    """
    job = with_sides(job, pattern)
    widths = np.array([panel.waist_width for panel in pattern.panels])
    try:
        gap = job.pattern.lacing_gap
        guesses = infer_classes(widths, full=pattern.full, body=body, gap=gap)
    except BodyError:
        # The words of such a body are told when it is asked for the lines.
        guesses = infer_classes(widths, full=pattern.full)
    classes: list[str] = []
    inferred = set()
    # A gore in a slit curves as the panel around it, which comes before it.
    around = {slit.piece: k for k, panel in enumerate(pattern) for slit in panel.slits}
    for panel, guess in zip(pattern.panels, guesses, strict=True):
        given = job.panel.get(panel.name, PanelTable()).class_
        classes.append(given or (classes[around[panel.name]] if panel.name in around else guess))
        if given is None:
            inferred.add(panel.name)
    return tuple(classes), frozenset(inferred)


def _sewn(job: JobFile, pattern: Pattern, stack: Stack, source: str) -> Sewn | None:
    if job.construction is None:
        return None
    seam = _allowances(job.allowance, job.allowance).seam
    stretch = {
        f.name: stretch_round(f.stretch, pattern) for f in job.stack.fabric if f.stretch is not None
    }
    return sewn_of(job.construction, pattern, stack, seam, stretch, source=source)


def _allowances(default: AllowanceTable, own: AllowanceTable) -> Allowances:
    chosen = {}
    for kind in EDGE_KINDS:
        for table in (own, default):
            value = getattr(table, kind)
            if value is not None:
                chosen[kind] = value
                break
    return Allowances(**chosen)


def _rolled(
    job: JobFile, pattern: Pattern, stack: Stack, layer: str, own: Allowances
) -> Allowances:
    """Allowances with what a layer needs to turn over the edges: its cut line lies further out."""
    if job.construction is None:
        return own
    rolls = edge_rolls(job.construction, pattern, stack, layer)
    return replace(own, **{edge: own.of(edge) + more for edge, more in rolls.items()})


def _refuse_folds(job: JobFile, pattern: Pattern, source: str) -> None:
    """Refuse a fold where an edge is sewn, laced or curved: it would be cut without allowance."""
    for k, panel in enumerate(pattern.panels):
        edge = job.panel[panel.name].fold if panel.name in job.panel else None
        if edge is None:
            continue
        if pattern.full:
            why = "both halves are drawn, so that every piece is cut as it is"
        elif (k, edge) not in pattern.open_edges():
            why = f"its {edge} edge is sewn to the next panel"
        elif edge == "back" and job.pattern.lacing_gap > 0.0:
            why = "its back edge lies at the lacing gap, which is open"
        elif not panel.is_straight(edge):
            why = f"its {edge} edge is curved, and a fold is straight"
        else:
            continue
        raise JobError(
            f"panel {panel.name!r} cannot lie on the fold by its {edge} edge: {why}",
            remedy="Only a straight edge lies on a fold, at the centre front (of the first panel "
            'fold = "front") or at a closed centre back (of the last, fold = "back"): take fold '
            "out of the panel's table, or draw that edge as a straight line.",
            source=source,
            element=f"panel.{panel.name}.fold",
        )


def _plan(job: JobFile, pattern: Pattern, stack: Stack) -> CutPlan:
    cuttings = {}
    for name, table in job.panel.items():
        usual = Cutting(1, mirrored=False) if pattern.full or table.fold else Cutting()
        count = usual.count if table.cut is None else table.cut
        mirrored = (usual.mirrored and count > 1) if table.mirrored is None else table.mirrored
        cuttings[name] = Cutting(count, mirrored, table.fold)
    return CutPlan(
        job.pattern.title or as_line(job.pattern.file.stem),
        {
            f.name: _rolled(job, pattern, stack, f.name, _allowances(job.allowance, f.allowance))
            for f in job.stack.fabric
        },
        cuttings,
        job.sheet.mitre_limit,
        job.sheet.width,
        job.sheet.corners,
        job.sheet.notches,
        job.sheet.mates,
        job.sheet.client,
        job.sheet.revision,
        frozenset(f.name for f in job.stack.fabric if f.nap),
        job.pattern.units,
        job.sheet.inches == "decimals",
        job.sheet.accuracy,
        {f.name: f.give for f in job.stack.fabric if f.give},
        _extras(job.extras),
        job.record.lines("sheets"),
    )


def _extras(table: ExtrasTable) -> Extras:
    own = table.model_dump()
    sold = tuple(sorted(own.pop("bone_lengths")))
    bones = BoneOptions(own.pop("bones"), own.pop("bone_clearance"), sold)
    return Extras(**own, bones=bones)
