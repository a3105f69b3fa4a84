"""A job held against its pattern: the scale, and the measures of the body by level or height."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

import numpy as np

from ..body import Measures
from ..construction.sewn import Sewn
from ..cutting.plan import CutPlan
from ..draft.panel_words import cut_counts, says_fold
from ..draft.written_sizes import likely_scale, unlike_waist
from ..errors import ScaleError, few
from ..pattern.drawing import Remark, spaced
from ..pattern.edge_pieces import profile
from ..pattern.pattern import Pattern
from ..stack import Stack
from ..units import show
from .model import BodyTable, JobFile

WAIST_TOLERANCE: Final = 0.01
"""Drafts are rounded; a pattern that misses its waist by over 1 % has another scale."""

PX_UNCHECKED: Final = (
    "the drawing's width and height are in px, and 96 px are taken for an inch; some programs "
    "mean 72 or 90, so say what waist was drafted to (pattern.drafted_waist), which tells"
)
"""Said of a drawing in px whose waist there is nothing to compare with."""

OUTLINE_UNCHECKED: Final = (
    "two outlines lie round each other, and which is the net outline is only told by their "
    "places; say what waist was drafted to (pattern.drafted_waist), which tells, or which it is "
    "(pattern.net_outline)"
)
"""Said of such a drawing whose waist there is nothing to compare with."""

_WHICH_OUTLINE: Final = (
    "First see whether net_outline takes the right one of the outlines that lie round each other. "
)

_NEARLY_MM: Final = 0.5
"""A level drawn right along an edge may lie beyond its end by rounding."""


_INSIDE: Final = re.compile(r"\b(lining|liner|next to (the )?(skin|body))\b", re.IGNORECASE)
_OUTSIDE: Final = re.compile(
    r"\b(fashion|outer(most)?|outside|face|show|shell|top)\b", re.IGNORECASE
)


def order_doubts(stack: Stack) -> tuple[Remark, ...]:
    """What the names of fabrics say against their order from the body outwards.

    Listed the other way round, every layer is corrected with the wrong sign.
    """
    names = [fabric.name for fabric in stack.fabrics if fabric.cut_out]
    if len(names) < 2:
        return ()
    said = []
    if _INSIDE.search(names[-1]) and not _OUTSIDE.search(names[-1]):
        said.append(f"{names[-1]} is the outermost layer")
    if _OUTSIDE.search(names[0]) and not _INSIDE.search(names[0]):
        said.append(f"{names[0]} is the innermost layer")
    if not said:
        return ()
    words = (
        f"{' and '.join(said)}: fabrics are listed from the body outwards; if these stand from the "
        "outside in, turn their order round, or every layer is corrected the wrong way"
    )
    return (Remark("warning", "layer-order", words),)


def covering_doubts(job: JobFile) -> tuple[Remark, ...]:
    """What is not cut from the pattern, as bones and tapes are not, but is to lie everywhere."""
    found = [
        Remark(
            "warning",
            "covers-all",
            f"{fabric.name} is not cut from the pattern and has no coverage, so that it counts as "
            "lying on the whole of each panel: if it covers only a part, as bones and tapes do, "
            "say which part, such as coverage = 0.2; coverage = 1 if it does lie everywhere",
        )
        for fabric in job.stack.fabric
        if fabric.cut_out is False
        and not {"coverage", "coverage_at", "from_", "to"} & fabric.model_fields_set
    ]
    return tuple(found)


def strength_doubts(sewn: Sewn | None) -> tuple[Remark, ...]:
    """The drafted layer taken for the strength layer, where bones or its place speak against it.

    One layer carries the tension, whichever keeps the drafted size: all inside it sinks in.
    """
    if sewn is None or sewn.construction.strength_layer or sewn.construction.body == "stiff":
        return ()
    stack = sewn.stack
    cut = [fabric.name for fabric in stack.fabrics if fabric.cut_out]
    boned = {bones.on for bones in sewn.construction.bones}
    # Bones in a lining lie under the strength layer.
    likely = boned | set(cut[1:2] if boned == set(cut[:1]) else ()) or set(cut[:-1] or cut)
    if stack.drafted in likely:
        return ()
    why = f"the bones lie on {' and '.join(sorted(boned))}" if boned else "it is the outermost"
    words = (
        f"no strength layer is named, so {stack.drafted}, which keeps the drafted size, is taken "
        f"to carry the tension, but {why}; what lies inside the strength layer sinks into a soft "
        "body: name it (construction.strength_layer), whichever layer keeps the drafted size"
    )
    return (Remark("warning", "strength-layer", words),)


_WHERE: Final = ("front", "side", "back")


def class_doubts(pattern: Pattern, classes: Sequence[str]) -> tuple[Remark, ...]:
    """Panels whose names tell another class than they have."""
    found = []
    for panel, given in zip(pattern.panels, classes, strict=True):
        said = [word for word in _WHERE if word in spaced(panel.name).split()]
        if said and given not in said:
            words = (
                f"{panel.name} is called {' and '.join(said)}, but its class is {given}, which "
                f'tells how the body curves there: set class = "{said[0]}" in its table if the '
                "name is right"
            )
            found.append(Remark("warning", "class-name", words, (panel.name,)))
    return tuple(found)


def cutting_doubts(
    pattern: Pattern, plan: CutPlan, job: JobFile, stack: Stack
) -> tuple[Remark, ...]:
    """Panels of a half that are not cut for both sides alike, or off the fold that is drawn."""
    found = [*_cut_words(pattern, plan, job, stack)]
    for k, panel in enumerate(pattern.panels if not pattern.full else ()):
        cutting, said = plan.cutting(pattern, k), job.panel.get(panel.name)
        as_drawn, mirrored = cutting.sides
        if cutting.fold is None and as_drawn != mirrored:
            words = (
                f"{panel.name} is cut {as_drawn} as drawn and {mirrored} mirrored, but one half "
                "of the pattern is drawn, and the other half of the body needs as many: see cut "
                "and mirrored in its table, or say fold if it lies on a fold"
            )
            found.append(Remark("warning", "cut-count", words, (panel.name,)))
        edge, words = drawn_fold(pattern, k)
        if edge and (said is None or (said.fold is None and said.cut is None)):
            words = (
                f"the words {words!r:.60} stand on {panel.name}, which is to be cut twice, with an "
                f'allowance at its {edge} edge: say fold = "{edge}" in its table if it lies on a '
                "fold of the cloth, or cut = 2 if not"
            )
            found.append(Remark("warning", "fold-words", words, (panel.name,)))
    return tuple(found)


def _cut_words(pattern: Pattern, plan: CutPlan, job: JobFile, stack: Stack) -> Iterator[Remark]:
    """Words on panels by which they are cut another number of times than the job says.

    They may count the pieces of one layer, or of all. The panels of one such word are told at once.
    """
    unlike: defaultdict[tuple[int, int], list[str]] = defaultdict(list)
    for k, panel in enumerate(pattern.panels):
        table = job.panel.get(panel.name)
        texts = [text for piece in (panel, *panel.pieces) for text in piece.texts]
        said = [n for words in (panel.name, *(t.content for t in texts)) for n in cut_counts(words)]
        count = plan.cutting(pattern, k).count
        layers = len([f for f in stack.fabrics if f.cut_out and f.covers(panel.name)])
        stated = table is not None and (table.cut is not None or table.fold is not None)
        if drawn_fold(pattern, k)[0]:
            # One piece of both halves: that it is to lie on the fold is told by itself.
            continue
        if said and not stated and count not in said and sum(said) != count * layers:
            unlike[said[0], count].append(panel.name)
    for (said_count, count), names in unlike.items():
        words = (
            f"the words 'cut {said_count}' stand on {few(names)}, and {count} of each layer are to "
            f"be cut: say cut = {said_count} in the table of each panel that is cut so often, or "
            f"cut = {count} if not"
        )
        yield Remark("warning", "cut-words", words, tuple(names))


def waist_doubts(job: JobFile, pattern: Pattern) -> tuple[Remark, ...]:
    """Words on the drawing by which its waist is another one than it has, or the body's."""
    body = [*job.body.girths.items(), *((k, t.girth) for k, t in job.body.tapes.items())]
    heights = [(pattern.height_of(key), girth) for key, girth in body if girth]
    at_waist = [girth for at, girth in heights if at is not None and abs(at) < _NEARLY_MM]
    laced = pattern.waist + job.pattern.lacing_gap
    found = unlike_waist(pattern, (laced, *at_waist))
    if found is None or any(r.kind == "fault" and r.code == "reduced" for r in pattern.ledger):
        return ()
    units, gap = job.pattern.units, job.pattern.lacing_gap
    words = (
        f"the words {found[0]!r:.60} stand on the drawing, whose whole waist is "
        f"{show(pattern.waist, units)}"
        + (f", {show(laced, units)} with the lacing gap" if gap else "")
        + ": see whether it is the right drawing, and at true size; if they are of the body before "
        "it is laced, let them say natural waist"
    )
    return (Remark("warning", "reduced", words),)


def drawn_fold(pattern: Pattern, index: int) -> tuple[str, str]:
    """The edge of a panel of a half that words on it put on a fold, and the words; or empty."""
    panel = pattern.panels[index]
    told = next((text.content for text in panel.texts if says_fold(text.content)), "")
    ends = sorted(edge for k, edge in pattern.open_edges() if k == index)
    straight = [edge for edge in ends if panel.is_straight(edge)]
    return (straight[-1], told) if told and straight and not pattern.full else ("", "")


def check_scale(pattern: Pattern, drafted_waist: float | None, units: str) -> None:
    """Compare the pattern's waist with the drafted waist.

    *drafted_waist*: all panels together at the waist in mm, without the lacing gap; None if not
    stated. *units*: for the message.

    Raises `ScaleError` if they differ by more than 1 %: by how much, and what the ratio looks like.
    """
    if drafted_waist is None:
        return
    ratio = pattern.waist / drafted_waist
    if abs(ratio - 1.0) <= WAIST_TOLERANCE:
        return
    clue = likely_scale(ratio)
    raise ScaleError(
        f"the pattern's waist is {show(pattern.waist, units)}, but drafted_waist is "
        f"{show(drafted_waist, units)}: {abs(ratio - 1.0):.1%} too "
        f"{'large' if ratio > 1.0 else 'small'}"
        + (f" (ratio {ratio:.4f}, which looks like {clue})" if clue else f" (ratio {ratio:.4f})"),
        remedy=(_WHICH_OUTLINE if chose_outline(pattern) else "")
        + ("" if clue else _other_causes(pattern, drafted_waist, units))
        + "Correct drafted_waist (all panels together, both halves, without the lacing gap), or "
        "give the drawing its true size in the drawing program; or set pattern.scale = "
        f"{1.0 / ratio:.6g} if every length in it is off by this one factor.",
        source=pattern.source,
        element="pattern.drafted_waist",
    )


_NO_PANELS: Final = frozenset(
    {"no-waistline", "short-panel", "too-small", "set-aside", "left-out", "cut-off"}
)
"""Codes of what may have been a panel."""

_LIKELY_ALLOWANCE_MM: Final = (4.0, 30.0)
"""Seam allowances in use; common practice, no source."""


def _other_causes(pattern: Pattern, drafted_waist: float, units: str) -> str:
    """What else than the scale may make a waist differ: a lost panel, an allowance drawn in."""
    words, count = "", len(pattern.panels)
    more = pattern.waist - drafted_waist
    if more < 0.0:
        lost = [
            ident
            for remark in pattern.ledger
            if remark.code in _NO_PANELS
            for ident in remark.elements[:1]
        ]
        words = f"See whether a panel is missing: {count} were read"
        words += f", and left out was {', '.join(lost[:5])}. " if lost else ". "
    edges = 2 * count * (1 if pattern.full else 2)
    each = more / edges
    low, high = _LIKELY_ALLOWANCE_MM
    drawn = any(remark.code == "allowance-drawn" for remark in pattern.ledger)
    if low <= each <= high and not drawn:
        words += (
            f"If the seam allowance is drawn in, it is about {show(each, units)} wide ("
            f"{show(more, units)} over {edges} edges): set pattern.allowance_drawn = {each:.3g}, "
            "in mm, and it is taken off. "
        )
    return words


def chose_outline(pattern: Pattern) -> bool:
    """Whether a net outline was told from a cut line by its place alone."""
    return any(remark.code == "net-outline-by-place" for remark in pattern.ledger)


def measures(values: Mapping[str, float], pattern: Pattern) -> Measures:
    """Bring measures in order of height; `measure_faults` must have found nothing wrong.

    Raises `BodyError` if two of them stand at one height.
    """
    heights = [pattern.height_of(key) for key in values]
    return Measures(
        np.array([height for height in heights if height is not None]),
        np.array(list(values.values())),
    )


def measure_faults(body: BodyTable, pattern: Pattern) -> list[str]:
    """Every key of a measure that means no height, or one that the pattern does not reach.

    A girth corrects the pattern's own girth at its height, so there must be one. A ratio of
    breadth to depth and tapes may lie beyond the pattern: they bound what is filled in between.
    """
    faults = []
    for name, table in (("girths", body.girths), ("ratio", body.ratio), ("tapes", body.tapes)):
        if not isinstance(table, dict):
            continue
        for key in table:
            height = pattern.height_of(key)
            if height is None:
                faults.append(f"body.{name}.{key}: no such level, nor a height such as +120 mm")
            elif name == "girths":
                low, high = profile(pattern).drawn
                if not low - _NEARLY_MM <= height <= high + _NEARLY_MM:
                    faults.append(
                        f"body.girths.{key}: the pattern's side edges reach from {low:+.0f} to "
                        f"{high:+.0f} mm from the waist"
                    )
    return faults
