"""Plausible slips: numbers that are possible, but far from what garments and cloth have.

Each is held against one of `bounds`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..body import Measures
from ..body.mean_form import bust_of
from ..errors import NEXT_FAULT, JobError, few
from ..pattern.drawing import Remark
from ..pattern.edge_pieces import profile
from ..pattern.pattern import Pattern
from ..stack import Stack
from ..units import MM_PER_INCH, caliper_length, show, trimmed
from .bounds import (
    ALLOWANCE,
    BUSK,
    DOTS,
    DRAWN_BUST,
    FORMER,
    GAP,
    GIRTH,
    GROWTH,
    JOIN,
    MEASURED,
    NARROW,
    RATIO,
    SCALE,
    TAKE_UP,
    THICKNESS,
    WAIST,
    WIDTH,
    Bound,
)
from .checks import WAIST_TOLERANCE
from .model import JobFile


@dataclass(frozen=True)
class Slip:
    """A number outside its bound.

    *value*: What was compared. *words*: What is odd about it. *key*: Of the job file.
    """

    bound: Bound
    value: float
    words: str
    remedy: str
    key: str

    @property
    def refused(self) -> bool:
        """Whether nothing is to be made of it."""
        return self.bound.judge(self.value) == "refused"

    @property
    def remark(self) -> Remark:
        """What the maker should look at."""
        return Remark("warning", self.bound.code, f"{self.words}: {self.remedy}")


def fabric_key(name: str, key: str = "") -> str:
    """What a slip's key is of a fabric, or of a key of its table."""
    return f"stack.fabric ({name}){'.' if key else ''}{key}"


def refuse(slips: Sequence[Slip], source: str) -> None:
    """Refuse a job whose numbers cannot be.

    Raises `JobError` for of all that cannot be, the first named by its key.
    """
    found = [slip for slip in slips if slip.refused]
    if found:
        # Of several alike the remedy is told once, at the end.
        words = [
            f"{slip.key}: {slip.words}"
            + (f": {slip.remedy}" if slip.remedy != found[0].remedy else "")
            for slip in found[1:]
        ]
        more = f"{NEXT_FAULT}{few(words, NEXT_FAULT)}" if words else ""
        raise JobError(
            f"{found[0].words}{':' if more else ''}{more}",
            remedy=f"{found[0].remedy[:1].upper()}{found[0].remedy[1:]}.",
            source=source,
            element=found[0].key,
        )


def reading_slips(job: JobFile) -> tuple[Slip, ...]:
    """What the job says about reading the drawing, before it is read."""
    table = job.pattern
    join = Slip(
        JOIN,
        table.join_tolerance,
        f"ends of lines {caliper_length(table.join_tolerance, table.units)} apart would be joined, "
        "which joins lines of different panels",
        "join ends up to 0.5 mm apart as a rule, and close wider gaps in the drawing",
        "pattern.join_tolerance",
    )
    larger = "large" if table.scale > 1.0 else "small"
    times = table.scale if table.scale > 1.0 else 1.0 / table.scale
    scale = Slip(
        SCALE,
        table.scale,
        f"scale = {table.scale:.6g} makes the drawing {times:.6g} times as {larger}",
        "leave it at 1 if the drawing is at true size; say what waist was drafted to, and the "
        "factor that fits is told",
        "pattern.scale",
    )
    return _odd(join, scale)


def drawing_slips(job: JobFile, px_per_inch: float | None) -> tuple[Slip, ...]:
    """What the file itself tells of its scale, where the maker says nothing of it."""
    table = job.pattern
    if px_per_inch is None or table.drafted_waist is not None or table.scale != 1.0:
        return ()
    dots = Slip(
        DOTS,
        px_per_inch,
        f"the drawing's size is in px, and its program or page size means {px_per_inch:g} px to "
        f"the inch, not 96: it may be meant {96.0 / px_per_inch:.4g} times as large as it is read",
        "measure a panel in the drawing program, in mm; if it is larger there than here, set "
        f"pattern.scale = {96.0 / px_per_inch:.6g}; state drafted_waist, which tells",
        "pattern.scale",
    )
    return _odd(dots)


def pattern_slips(job: JobFile, pattern: Pattern) -> tuple[Slip, ...]:
    """What is odd about a pattern as it was read."""
    waist = Slip(
        WAIST,
        pattern.waist,
        f"the whole waist is {show(pattern.waist, job.pattern.units)}, which no adult has",
        "see whether the drawing is at true size, and whether one half or both are drawn; say what "
        "waist was drafted to, which tells",
        "pattern.halves" if job.pattern.scale == 1.0 else "pattern.scale",
    )
    if job.pattern.drafted_waist is not None and not waist.refused:
        return ()  # It is what the maker says that it is, or the scale is refused.
    return _odd(waist)


def job_slips(job: JobFile, pattern: Pattern, stack: Stack) -> tuple[Slip, ...]:
    """What is odd about a job's numbers beside its pattern."""
    units, gap = job.pattern.units, job.pattern.lacing_gap
    laced = pattern.waist + gap
    found = [
        *_gaps(job, pattern),
        *_ratios(job),
        *_bust(job, pattern),
        Slip(
            BUSK,
            job.fit.busk,
            f"the busk holds the front edges {show(job.fit.busk, units)} apart",
            "it is how far the closed busk holds the two front edges apart, not its length; 0 if "
            "they meet",
            "fit.busk",
        ),
        *_allowances(job),
        *_beside_panels(job),
        *_formers(job),
        *_girths(job, pattern, gap),
        *_thicknesses(stack),
        *_distances(stack),
        *_growth(job, pattern, stack, laced),
        *_taken_up(stack),
    ]
    return (*reading_slips(job), *pattern_slips(job, pattern), *_odd(*found))


def _percent(share: float) -> str:
    percent = 100.0 * share
    return f"{percent:.0f} %" if percent >= 1000.0 else f"{percent:.3g} %"


def _odd(*slips: Slip) -> tuple[Slip, ...]:
    return tuple(slip for slip in slips if slip.bound.judge(slip.value))


_BARE: Final = (
    "see whether its unit is right: in a job file a number without one is mm, and inches are "
    'text, such as "3/8 in"'
)


def _bust(job: JobFile, pattern: Pattern) -> Iterator[Slip]:
    drawn = bust_of(pattern)
    goes_by_it = job.body.model in ("mean", "tapes") and job.body.bust_height is None
    # Where the waist was stated and is missed, the scale is what is wrong, and is refused.
    stated = job.pattern.drafted_waist or pattern.waist
    if drawn is not None and goes_by_it and abs(pattern.waist / stated - 1.0) <= WAIST_TOLERANCE:
        yield Slip(
            DRAWN_BUST,
            drawn,
            f"the level bust is drawn {show(drawn, job.pattern.units)} above the waist, where no "
            "body has it",
            "see whether the drawing is at true size (say what waist was drafted to, which tells), "
            "or whether the line is another level; if both are right, say body.bust_height",
            "body.bust_height",
        )


def _allowances(job: JobFile) -> Iterator[Slip]:
    tables = {"": job.allowance} | {
        fabric_key(fabric.name, ""): fabric.allowance for fabric in job.stack.fabric
    }
    for key, table in tables.items():
        for kind, width in table:
            if width:
                yield Slip(
                    ALLOWANCE,
                    width,
                    f"the allowance {kind.replace('_', ' ')} is {width:g} mm wide",
                    _BARE,
                    f"{key}allowance.{kind}",
                )


def _beside_panels(job: JobFile) -> Iterator[Slip]:
    """How wide and thick is what lies beside seams and edges, or is cut beside the panels."""
    widths: list[tuple[Bound, str, float]] = [
        (WIDTH, f"extras.{key}", value)
        for key, value in job.extras
        if isinstance(value, float) and key not in ("eyelet_inset", "bone_clearance")
    ]
    if (how := job.construction) is not None:
        for shell in map(dict, how.shell):
            every = [shell["allowance"], *shell["graded"]]
            widths += [(ALLOWANCE, "construction.shell", width or 0.0) for width in every]
        for strip in map(dict, how.strip):
            widths.append((WIDTH, "construction.strip", strip["width"]))
            widths.append((THICKNESS, "construction.strip", strip["thickness"]))
        casings = [(THICKNESS, "construction.bones", dict(bones)["casing"]) for bones in how.bones]
        widths += casings
    for bound, key, size in widths:
        if size:
            what = "a thickness" if bound is THICKNESS else "a width"
            yield Slip(bound, size, f"{what} of {size:g} mm in {key}", _BARE, key)


def _gaps(job: JobFile, pattern: Pattern) -> Iterator[Slip]:
    """The lacing gap, at the waist and at other heights."""
    given = {"": job.pattern.lacing_gap, **job.pattern.gap_at}
    for level, gap in given.items():
        key, at = (
            (f"pattern.gap_at.{level}", f" at {level}") if level else ("pattern.lacing_gap", "")
        )
        units = job.pattern.units
        yield Slip(
            GAP,
            gap / pattern.waist,
            f"the lacing gap of {show(gap, units)}{at} is {_percent(gap / pattern.waist)} of the "
            f"whole waist of {show(pattern.waist, units)}",
            "it is the opening at the centre back when laced; see whether its unit is right",
            key,
        )
        yield Slip(NARROW, gap or math.inf, f"the lacing gap{at} is {gap:g} mm", _BARE, key)


def _ratios(job: JobFile) -> Iterator[Slip]:
    given = job.body.ratio
    table = given if isinstance(given, Mapping) else {"": given} if given else {}
    for level, ratio in table.items():
        yield Slip(
            RATIO,
            ratio,
            f"the body's breadth over its depth{f' at {level}' if level else ''} is {ratio:g}",
            "bodies are broader than deep: divide the breadth by the depth, not the depth by the "
            "breadth",
            f"body.ratio.{level}" if level else "body.ratio",
        )
    for level, tapes in job.body.tapes.items():
        if tapes.breadth is not None and tapes.depth is not None:
            units = job.pattern.units
            yield Slip(
                RATIO,
                tapes.breadth / tapes.depth,
                f"tapes at {level}: {show(tapes.breadth, units)} broad and "
                f"{show(tapes.depth, units)} deep",
                "bodies are broader than deep: see whether the two were exchanged, breadth is from "
                "side to side and depth from front to back",
                f"body.tapes.{level}",
            )


def _formers(job: JobFile) -> Iterator[Slip]:
    given: Mapping[str, float | None] = {
        "body.diameter": job.body.diameter,
        "fit.former": job.fit.former,
    }
    for key, value in given.items():
        if value is not None:
            yield Slip(
                FORMER,
                value,
                f"a former of {show(value, job.pattern.units)} diameter",
                "give its diameter, not its radius or its girth, and see whether the unit is right",
                key,
            )


def _girths(job: JobFile, pattern: Pattern, gap: float) -> Iterator[Slip]:
    if not job.body.girths:
        return
    edges = profile(pattern)
    known = {0.0: gap}
    for key, opening in job.pattern.gap_at.items():
        if (at := pattern.height_of(key)) is not None:
            known[at] = opening
    gaps = Measures(np.array(list(known)), np.array(list(known.values())))
    for key, girth in job.body.girths.items():
        height = pattern.height_of(key)
        if height is None:
            continue
        drawn = float(edges.widths_at(np.array([height])).sum())
        drawn = drawn * (1.0 if pattern.full else 2.0) + float(gaps.at(np.array([height]))[0])
        units = job.pattern.units
        yield Slip(
            GIRTH,
            girth / drawn,
            f"the body's girth at {key} is {show(girth, units)}, the pattern's with its lacing "
            f"gap {show(drawn, units)}",
            "give whole girths of the body as laced; see whether the pattern is at true size, and "
            "whether one half or both are drawn",
            f"body.girths.{key}",
        )


def _thicknesses(stack: Stack) -> Iterator[Slip]:
    for fabric in stack.fabrics:
        thick = fabric.thickness
        if thick > THICKNESS.usual[1]:
            words = f"{fabric.name} is {thick:g} mm thick, more than cloth for corsets is"
        else:
            words = f"{fabric.name} is {thick:g} mm thick, thinner than cloth is"
            words += f"; in inches it would be {MM_PER_INCH * thick:.2g} mm" if thick else ""
        yield Slip(
            THICKNESS,
            thick,
            words,
            "measure it again, one layer of it, and see whether the unit is right",
            fabric_key(fabric.name, "thickness"),
        )


def _taken_up(stack: Stack) -> Iterator[Slip]:
    for fabric in stack.fabrics:
        for key in ("take_up", "take_up_length", "reduced", "reduced_length"):
            share: float = getattr(fabric, key)
            taken = key in ("take_up", "take_up_length")
            yield Slip(
                TAKE_UP,
                share,
                f"sewing is to take up {_percent(share)} of {fabric.name}"
                if taken
                else f"{fabric.name} is to be cut {_percent(share)} smaller",
                "measure a test piece before and after; a cloth that loses so much is better "
                "quilted, or steamed, before it is cut",
                fabric_key(fabric.name, key),
            )


def _distances(stack: Stack) -> Iterator[Slip]:
    for item in stack.measured:
        plain = Stack(stack.fabrics, stack.drafted).surfaces()
        by_thickness = plain.distance(*stack.places(item.inner, item.outer))
        if by_thickness > 0.0:
            yield Slip(
                MEASURED,
                item.distance / by_thickness,
                f"{item.pair} measure {trimmed(item.distance, 3)} mm apart, and by thickness "
                f"{trimmed(by_thickness, 3)} mm",
                "measure the thicknesses and the swatch again; both are in mm",
                "stack.measured",
            )


def _growth(job: JobFile, pattern: Pattern, stack: Stack, laced: float) -> Iterator[Slip]:
    distances = stack.distances([panel.name for panel in pattern.panels])
    for fabric, own in zip(stack.fabrics, abs(distances).max(axis=1).tolist(), strict=True):
        share = 2.0 * math.pi * own / laced
        if job.body.model == "former" and job.body.diameter:
            share = own / (0.5 * job.body.diameter)
        yield Slip(
            GROWTH,
            share,
            f"{fabric.name} lies {own:.2f} mm from the drafted layer, so that its girth changes "
            f"by {_percent(share)}",
            "see whether all thicknesses and lofts are right; what covers only a part of a panel, "
            "as bones do, counts by that part",
            fabric_key(fabric.name),
        )
