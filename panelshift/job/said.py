"""What is said of a job: codes, what to mend and look at, and every choice in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from ..body import BodyModel, ClassModel, FormerModel, MeanFormModel, SectionModel, TapeModel
from ..body.form import FormModel
from ..construction.account import construction_lines
from ..construction.growth import RELAXED_MM
from ..cutting.extras import CLOTH_EXTRAS, cut_from
from ..cutting.plan import Allowances, drawn_larger
from ..errors import ScaleError
from ..pattern.drawing import CODES as DRAWING_CODES, Drawing, Remark
from ..pattern.pattern import EDGE_KINDS, Pattern
from ..stack import Fabric
from ..units import LONGEST_MM, MM_PER_UNIT, caliper_length, cloth_length, show
from .bounds import BOUNDS
from .checks import check_scale, waist_doubts
from .drafted import read_pattern
from .model import JobFile
from .resolved import Job, panel_classes
from .seamwork import edge_rolls
from .slips import pattern_slips

CODES: Final[dict[str, str]] = {
    **DRAWING_CODES,
    **{bound.code: f"out of bounds: {bound.about}" for bound in BOUNDS},
    "scale": "the pattern's waist is not the drafted one",
    "seam": "two edges that are sewn together differ in length",
    "tapes-disagree": "tapes of one level of the body do not bear each other out",
    "layer-order": "names of fabrics speak against their order from the body outwards",
    "covers-all": "what is not cut from the pattern counts as lying on the whole of each panel",
    "strength-layer": "the drafted layer is taken for the strength layer, against bones or place",
    "bone-over": "a bone is drawn over an edge that may open, or a seam at which cloth is sewn",
    "cut-count": "a panel is not cut for both sides of the body alike",
    "cut-words": "words on a panel have it cut another number of times than the job has",
    "fold-words": "words on a panel put it on the fold, and the job does not",
    "class-name": "a panel's name tells another class than it has",
    "swatch": "readings of a swatch are few, scattered, or disagree",
    "cut-in-one": "panels of a layer are one piece: its darts, or what it is changed by",
    "split": "a layer is split, and its seams there are not among what layers ride over",
    "cloth": "the layout of the cloth is in doubt",
    "level-short": "no girth is given at a level, which some panels do not reach",
    "walk": "walked seams fail",
    "print": "a print is in doubt, such as letters that no font has",
}
"""Each code, and what it is about; docs/codes.md lists them."""


SEAM_EASE_MM: Final = 1.0
"""Seam edges that differ by more are pointed out."""

SEAM_FAULT_MM: Final = 5.0
"""Seam edges that differ by more must be mended: common practice, no source; a few mm may be
eased in over a bust, more puckers."""


@dataclass(frozen=True)
class Finding:
    """One thing found, and what it is about.

    *words*: For people. *code*: One of `job.said.CODES`. *element*: Id of the drawn shape that it
    is about; empty if none. *seam*: Name of the seam that it is about; empty if none. *problem*: Of
    a fault: the words without what to do about it.
    """

    words: str
    code: str
    element: str = ""
    seam: str = ""
    problem: str = ""


@dataclass(frozen=True, eq=False)
class Check:
    """Findings on a pattern.

    *inferred*: Names of panels whose class was inferred. *faults*: What must be mended. *warnings*:
    What should be looked at. *units*: Display unit. *drafted_waist*: In mm. *gap*: Lacing gap in
    mm.
    """

    pattern: Pattern
    classes: tuple[str, ...]
    inferred: frozenset[str]
    faults: tuple[Finding, ...]
    warnings: tuple[Finding, ...]
    units: str
    drafted_waist: float | None
    gap: float


def check_draft(job: JobFile, *, source: str = "", drawing: Drawing | None = None) -> Check:
    """Read a draft and check it by itself, with what is odd about its size.

    *job*: of its pattern alone. *drawing*: what its file holds, where it was read already.
    Raises `PanelshiftError` as `read_pattern`.
    """
    pattern = read_pattern(job, source=source, drawing=drawing)
    also = [*(slip.remark for slip in pattern_slips(job, pattern)), *waist_doubts(job, pattern)]
    return check_pattern(pattern, job, also=also)


def check_pattern(
    pattern: Pattern, job: JobFile, *, also: Sequence[Remark] = (), body: BodyModel | None = None
) -> Check:
    """Check a pattern's scale and seams.

    *also*: what else is to be looked at: a job's numbers and swatches. *body*: tells where panels
    look.
    """
    classes, inferred = panel_classes(job, pattern, body)
    units = job.pattern.units
    faults = [
        Finding(
            f"{remark.words}. {remark.remedy}",
            remark.code,
            next(iter(remark.elements), ""),
            problem=remark.words,
        )
        for remark in pattern.ledger
        if remark.kind == "fault"
    ]
    told = [
        Finding(remark.words, remark.code, next(iter(remark.elements), ""))
        for remark in (*pattern.ledger, *also)
        if remark.kind == "warning"
    ]
    try:
        if not job.altered:  # what is altered was checked as it was read
            check_scale(pattern, job.pattern.drafted_waist, units)
    except ScaleError as error:
        faults.append(Finding(f"{error.problem}. {error.remedy}", "scale", problem=error.problem))
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


def settings(job: Job) -> list[str]:
    """Return every choice that decides the lines, defaults included."""
    body = job.body
    if isinstance(body, ClassModel):
        factors = ", ".join(f"{name} {body.factors[name]:.3f}" for name in body.factors)
        model = f"classes (radius over mean radius: {factors})"
    elif isinstance(body, SectionModel):
        ratios = ", ".join(f"{value:g}" for value in body.ratio.values)
        model = f"section (breadth to depth {ratios}; exponent {body.exponent:g})"
    elif isinstance(body, MeanFormModel):
        known = "" if body.ratio is None else "; your own breadth over depth"
        model = f"mean (the mean form of {_whose(body.of)}, at the draft's girths{known})"
    elif isinstance(body, TapeModel):
        model = (
            f"tapes (to {body.error:g} mm each, the rest from the mean form of {_whose(body.of)}; "
            f"heights {'upright' if body.upright else 'along the panels'})"
        )
    elif isinstance(body, FormModel):
        model = (
            f"form ({len(body.heights)} measured sections from {body.heights[0]:+.0f} to "
            f"{body.heights[-1]:+.0f} mm from the waist, at the draft's girths)"
        )
    elif isinstance(body, FormerModel):
        model = f"former (diameter {body.diameter:g} mm; does not close round the body)"
    else:
        model = type(body).__name__
    pairs = ", ".join(
        f"{panel.name} = {cls}{'*' if panel.name in job.inferred else ''}"
        for panel, cls in zip(job.pattern.panels, job.classes, strict=True)
    )
    star = " (* inferred from its place)" if job.inferred else ""
    words = "" if isinstance(body, ClassModel) else "; the lines do not hang on them"
    lines = [
        f"drafted layer: {job.stack.drafted}"
        + ("" if job.file.stack.drafted_layer else " (the innermost, as none is named)"),
        f"body model: {model}",
        *_body_measures(job),
        f"classes: {pairs}{star}{words}",
        f"lacing gap: {show(job.gap, job.units)}{_gap_at(job)}",
        *_measured(job),
        *_heights(job),
        *_taken_up(job),
    ]
    if job.sewn is not None:
        lines += construction_lines(job.sewn.construction, job.sewn.shells, job.units)
        lines += _edges(job)
    lines += _beside(job)
    default = Allowances()
    for fabric in job.stack.fabrics:
        own = job.plan.allowances.get(fabric.name, default)
        if fabric.cut_out:
            said = ", ".join(
                f"{kind.replace('_', ' ')} {cloth_length(own.of(kind), job.units)}"
                for kind in EDGE_KINDS
            )
            lines.append(f"allowances of {fabric.name}: {said}")
        else:
            lines.append(f"{fabric.name}: counted, but gets no cutting file")
    return lines


def _beside(job: Job) -> list[str]:
    """Of which cloth facings and strips are cut, and whether the maker said so."""
    extras = job.plan.extras
    return [
        f"{extra.replace('_', ' ')}: "
        + (f"cut of {cloth}" if cloth else "of no layer's cloth, so listed apart")
        + ("" if extra in extras.fabric else ", as extras.fabric names none")
        for extra in CLOTH_EXTRAS
        if getattr(extras, extra) > 0.0
        for cloth in [cut_from(extra, job.stack, extras)]
    ]


def _gap_at(job: Job) -> str:
    """The lacing gap at other heights than the waist."""
    given = job.file.pattern.gap_at.items()
    return "".join(f", {show(value, job.units)} at {key}" for key, value in given)


def _edges(job: Job) -> list[str]:
    """How top and bottom are finished, and what layers get for turning over them."""
    table = job.file.construction
    assert table is not None  # a job that says how it is sewn
    lines = [f"edges: top {table.top}, bottom {table.bottom}"]
    for fabric in job.stack.fabrics:
        for edge, more in edge_rolls(table, job.pattern, job.stack, fabric.name).items():
            lines.append(
                f"{fabric.name} turns over the {edge}: its cut line lies {show(more, job.units)} "
                "further out; sew at the usual allowance from the cut edge"
            )
    return lines


def _taken_up(job: Job) -> list[str]:
    """Fabrics whose pieces are cut larger than they come out; all else is said of the corset."""
    return [
        f"{fabric.name}: pieces {larger} (take_up {fabric.take_up:g}, take_up_length "
        f"{fabric.take_up_length:g}{_reduced(fabric)}), allowances not; girths, growth and seams "
        "are told as sewn"
        for fabric in job.stack.fabrics
        if fabric.cut_out and (larger := drawn_larger(fabric))
    ]


def _reduced(fabric: Fabric) -> str:
    parts = fabric.reduced, fabric.reduced_length
    return f", reduced {parts[0]:g}, reduced_length {parts[1]:g}" if any(parts) else ""


def _heights(job: Job) -> list[str]:
    """Fabrics that are not the same at all heights."""
    lines = []
    for fabric in job.stack.fabrics:
        if fabric.band is not None:
            ends = (
                "the bottom"
                if low <= -LONGEST_MM
                else "the top"
                if low >= LONGEST_MM
                else show(low, job.units, signed=True)
                for low in fabric.band
            )
            lines.append(
                f"{fabric.name}: from {' to '.join(ends)} from the waist, its ends eased over "
                f"{show(RELAXED_MM, job.units)}"
            )
        if fabric.by_height:
            given = ", ".join(
                f"{caliper_length(fabric.thickness * factor, job.units)} at "
                f"{show(height, job.units, signed=True)}"
                for height, factor in fabric.by_height
            )
            lines.append(f"{fabric.name}: by height: {given}; linear between, held beyond")
    return lines


def _whose(of: str) -> str:
    return "women and men" if of == "either" else of


def _body_measures(job: Job) -> list[str]:
    """What the maker measured on the body, and how far that reaches."""
    table = job.file.body
    units = job.units
    lines = []
    if table.girths:
        given = {key: show(value, units) for key, value in table.girths.items()}
        held = "the nearest one's ratio to the draft's own girth is held"
        lines.append(
            _reach("body girths", given, job, "their ratio to the draft's own girth", held)
        )
    if isinstance(table.ratio, dict):
        given = {key: f"{value:g}" for key, value in table.ratio.items()}
        lines.append(_reach("breadth over depth", given, job, "them", "the nearest one is held"))
    for key, tapes in table.tapes.items():
        taken = tapes.model_dump(exclude_none=True)
        words = ", ".join(f"{name.replace('_', ' ')} {show(v, units)}" for name, v in taken.items())
        lines.append(f"tapes at {key}: {words}")
    return lines


def _reach(what: str, given: Mapping[str, str], job: Job, filled: str, held: str) -> str:
    """Say where a measure was given, how gaps are filled, and what counts beyond."""
    heights = [round(job.pattern.height_of(key) or 0.0) for key in given]
    values = ", ".join(f"{key} {value}" for key, value in given.items())
    size, unit = MM_PER_UNIT[job.units], job.units
    low, high = (f"{end / size:+.4g}" for end in (min(heights), max(heights)))
    if len(given) == 1:
        return f"{what}: {values}; given at one level, {low} {unit}, so everywhere {held}"
    return (
        f"{what}: {values}; given from {low} to {high} {unit} from the waist, between them a "
        f"monotone curve through {filled} (PCHIP); beyond, {held}"
    )


def _measured(job: Job) -> list[str]:
    """Distances that swatches gave, beside what the thicknesses say."""
    lines, units = [], job.units
    for item in job.stack.measured:
        places = job.stack.places(item.inner, item.outer)
        plain = replace(job.stack, measured=()).surfaces().distance(*places)
        lines.append(
            f"measured on a swatch: {item.pair} {caliper_length(item.distance, units)}, "
            f"uncertainty {caliper_length(item.uncertainty, units, up=True)} (by thickness "
            f"{caliper_length(plain, units)})"
        )
    return lines
