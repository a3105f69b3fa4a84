"""What befell a drawing before it came here, named before any symptom of it; and outlines that
the edge of the page cuts off."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..errors import PanelshiftError
from ..outline import Curve, FloatArray
from ..outline.measure import length
from ..outline.planar import area
from ..pattern.drawing import Drawing, Remark, Shape
from ..pattern.pattern import Pattern
from ..units import MM_PER_UNIT, trimmed
from .draft import Draft
from .halves import LEAST_GIRTH_MM, MOST_GIRTH_MM
from .names import given_name, looks, place
from .nested import PANEL_HEIGHT_MM, is_straight

_LARGE_MM: Final = 40.0
"""Smaller closed shapes are letters and marks."""

_BAND_MM: Final = 2.5
"""The two sides of a drawn line are nearer to each other than this."""

_BEYOND_MM: Final = 1.0
_MOST: Final = 0.5
_FEWEST: Final = 2
_TRACED_MM: Final = 4.0
"""Segments of a traced picture are shorter than this on average, of a draft longer."""

_FEWEST_NAMELESS: Final = 3
_FEWEST_LETTERS: Final = 8
_LETTER_MM: Final = 12.0


_DRAWN_IN: Final = {
    "mm": "millimetres",
    "cm": "centimetres",
    "in": "inches",
    "px": "px, 96 to the inch",
    "pt": "points, 72 to the inch",
}
_USUAL_LENGTH_MM: Final = (150.0, 620.0)
"""Most panels of corsets from end to end: no source."""

_USUAL_WAIST_MM: Final = (LEAST_GIRTH_MM, 1150.0)
"""Most waists of adults; beyond, a drawing that says no unit may be in another: no source."""


@dataclass(frozen=True)
class Cause:
    """Why a drawing cannot be read, and what to do about that."""

    words: str
    remedy: str


ONE_PAGE: Final = Cause(
    "lines run off the edge of the page, so that this looks like one page of several",
    "If the pattern is printed on several pages, put them together in one drawing: import each "
    "page, move it until its lines meet the next one's, and join the lines. If the drawing is "
    "whole, make its page as large as the drawing (resize page to content).",
)
STROKED: Final = Cause(
    "strokes have been turned into outlines: every line is drawn twice, once along each of its "
    "sides, as a filled shape",
    "Go back to the drawing as it was before strokes were turned into paths (the command is called "
    "stroke to path, outline stroke or expand), and save that. If it is lost: put the drawing on a "
    "locked layer, draw each outline and waistline anew along the middle of its line, and delete "
    "the locked layer.",
)
TRACED: Final = Cause(
    "this looks like a traced picture: every line is drawn twice, once along each of its sides",
    "Trace it again by centre lines (single lines), not by brightness or outlines; or put the "
    "picture on a locked layer and draw each outline and waistline over it.",
)


def cause_of(drawing: Drawing) -> Cause | None:
    """The cause that a drawing shows as a whole, None if it shows none."""
    doubled = _doubled(drawing.shapes)
    if doubled:
        return TRACED if _is_traced(doubled) else STROKED
    return ONE_PAGE if _runs_off(drawing) else None


def because(error: PanelshiftError, drawing: Drawing) -> PanelshiftError:
    """The same refusal with the cause before it, and the cause's remedy, if there is one."""
    cause = cause_of(drawing)
    problem = found_by(error.problem, drawing, error.element)
    if cause is None or cause.words in problem:
        return type(error)(
            problem,
            remedy=error.remedy,
            source=error.source,
            element=error.element,
            at=error.at,
            key=error.key,
        )
    return type(error)(
        f"{cause.words} ({problem})",
        remedy=cause.remedy,
        source=error.source,
        element=error.element,
        at=error.at,
    )


def told_where(remarks: Sequence[Remark], drawing: Drawing) -> tuple[Remark, ...]:
    """Remarks to be acted on, with the place of what a maker cannot find by its id."""
    return tuple(
        replace(remark, words=found_by(remark.words, drawing, remark.elements[0]))
        if remark.kind in ("fault", "warning") and remark.elements
        else remark
        for remark in remarks
    )


def found_by(words: str, drawing: Drawing, ident: str) -> str:
    """Words on a shape, followed by how it looks and where it is if no person has named it."""
    shape = next((shape for shape in drawing.shapes if shape.ident == ident), None)
    if shape is None or given_name(shape.names) or place(shape) in words:
        return words
    return f"{words} ({ident}: {looks(shape)}, {place(shape)})"


def is_nameless(drawing: Drawing) -> bool:
    """Whether no line has a name that a person gave, as in a drawing made from a PDF."""
    # Converters give names to the letters that they draw.
    lines = [shape for shape in drawing.shapes if _size(shape) > _LETTER_MM]
    return len(lines) >= _FEWEST_NAMELESS and not any(
        given_name(shape.names) or shape.data.get("panel") or shape.data.get("level")
        for shape in lines
    )


FROM_PDF: Final = "no line in it has a name, as after a way through a PDF"


WORDS_LOST: Final = (
    "its words have become outlines and its lines have no names, as after a way through a PDF, so "
    "that nothing tells whether seam allowance is in the outlines: look for such words in the "
    "drawing; state pattern.drafted_waist, which tells, or pattern.allowance_drawn"
)


def are_words_lost(drawing: Drawing) -> bool:
    """Whether a drawing has letters, but no text and no names."""
    if drawing.texts or not is_nameless(drawing):
        return False
    letters = [s for s in drawing.shapes if s.style.width is None and 0.0 < _size(s) <= _LETTER_MM]
    return len(letters) >= _FEWEST_LETTERS


def how_to_name(what: str, key: str) -> str:
    """Steps by which a maker gives lines a name, or says in the job file which they are."""
    return (
        f"In the drawing program, select {what}, open its object properties (or the list of "
        f"objects and layers), and put the word {key} into its label or id; save as SVG with "
        "names kept. "
    )


def shrunk_words(scale: float) -> str:
    """What is to be said of a drawing that a converter made to fit its page."""
    return (
        f"all lines are drawn {1.0 - scale:.2%} smaller than their own numbers say, by one and the "
        f"same transform ({scale:.6g}): a converter or a printer driver made the page fit. If so, "
        f"{1000.0 * (1.0 - scale):.2f} mm are lost of each metre: convert it again without fit to "
        f"page, at 100 %, or set pattern.scale = {1.0 / scale:.6g} in the job file"
    )


_REDUCED: Final = re.compile(
    r"\bscale\b\D*\b1\s*[:/]\s*(\d{1,2})\b|\b1\s*[:/]\s*(\d{1,2})\s+scale\b|"
    r"\b(half|third|quarter)[ -](?:scale|size)\b|"
    r"\bscaled?\b\D*\b(\d{1,2})\s*%|\b(\d{1,2})\s*% (?:scale|of (?:full|true|actual) size)\b"
)
_PARTS: Final = {"half": 2, "third": 3, "quarter": 4}


_LEAST_TIMES: Final = 1.2
"""What is larger by less may be ease, or shrinkage."""


def _times(*said: str | None) -> float:
    """How often a drawing goes into true size, by the words of `_REDUCED`."""
    one, other, part, percent, share = said
    if part:
        return float(_PARTS[part])
    whole = percent or share
    return 100.0 / max(float(whole), 1.0) if whole else float(one or other or 1)


def tell_reduced(draft: Draft, pattern: Pattern) -> None:
    """Say that the words on a drawing call it smaller than true size, if its waist agrees."""
    if draft.reading.drafted_waist is not None:
        return
    for text in draft.drawing.texts:
        match = _REDUCED.search(text.content.lower())
        times = _times(*match.groups()) if match else 1.0
        larger, by = times * pattern.waist, trimmed(times, 3)
        if times < _LEAST_TIMES or not LEAST_GIRTH_MM <= larger <= MOST_GIRTH_MM:
            continue
        words = (
            f"the words {text.content!r:.60} stand on the drawing: its whole waist is "
            f"{pattern.waist:.0f} mm as drawn, {larger:.0f} mm at {by} times the size"
        )
        if pattern.waist >= LEAST_GIRTH_MM:
            draft.ledger.warn("reduced", f"{words}; state drafted_waist, which tells", text.ident)
        else:
            draft.ledger.fault(
                "reduced",
                words,
                text.ident,
                remedy=f"Set pattern.scale = {by} in the job file, or draw it at true size.",
            )
        return


def tell_unit(draft: Draft, pattern: Pattern) -> None:
    """Say that a file without a unit is drawn in another than was taken, if the waist says so."""
    taken = draft.drawing.unit_taken
    if not taken or draft.reading.drafted_waist is not None:
        return
    low, high = _USUAL_WAIST_MM
    waists = {unit: pattern.waist * MM_PER_UNIT[unit] / MM_PER_UNIT[taken] for unit in _DRAWN_IN}
    likely = [unit for unit, waist in waists.items() if low <= waist <= high]
    # A waist may be usual in two units; then the panels are as long as a corset's in one of them.
    tall = max(float(np.ptp(panel.outline.flatten() @ panel.frame.up)) for panel in pattern)
    shortest, longest = _USUAL_LENGTH_MM
    lengths = {unit: tall * waists[unit] / pattern.waist for unit in likely}
    fit = [unit for unit, long in lengths.items() if shortest <= long <= longest]
    also = ""
    if taken in likely and taken not in fit and fit:
        likely = fit
        also = f", and its longest panel {tall:.0f} mm"
    if taken in likely or not likely:
        return
    sizes = (f"{waists[unit]:.0f} mm in {_DRAWN_IN[unit]}" for unit in likely)
    factors = (
        f"{trimmed(MM_PER_UNIT[unit] / MM_PER_UNIT[taken], 6)} if it is drawn in {_DRAWN_IN[unit]}"
        for unit in likely
    )
    draft.ledger.fault(
        "file",
        f"the file does not say its unit: its whole waist is {waists[taken]:.0f} mm in "
        f"{_DRAWN_IN[taken]}{also}, which were taken, but {' or '.join(sizes)}",
        remedy="Set the unit of the drawing and save it again, or set pattern.scale in the job "
        f"file: {', '.join(factors)}. If {_DRAWN_IN[taken]} are right, state drafted_waist.",
    )


def _doubled(shapes: Sequence[Shape]) -> list[Shape]:
    """Large closed shapes that are a line's two sides, if most large shapes are such."""
    large = [s for s in shapes if s.curve.closed and _size(s) >= _LARGE_MM]
    unpainted = [shape for shape in large if shape.style.width is None]
    by_element: defaultdict[str, list[Shape]] = defaultdict(list)
    for shape in unpainted:
        by_element[shape.element or shape.ident].append(shape)
    found = [s for s in unpainted if _is_thin(s) or _has_twin(s, by_element[s.element or s.ident])]
    return found if len(found) >= max(_FEWEST, _MOST * len(large)) else []


def _size(shape: Shape) -> float:
    return float((shape.curve.hull_box[1] - shape.curve.hull_box[0]).max())


def _is_thin(shape: Shape) -> bool:
    return 2.0 * area(shape.curve) <= _BAND_MM * length(shape.curve, 1e-2)


def _has_twin(shape: Shape, others: Sequence[Shape]) -> bool:
    box = shape.curve.hull_box
    return any(
        other is not shape and float(np.abs(other.curve.hull_box - box).max()) <= _BAND_MM
        for other in others
    )


def _is_traced(doubled: Sequence[Shape]) -> bool:
    """Whether they have the many short pieces of a tracing."""
    pieces = sum(len(shape.curve) for shape in doubled)
    return sum(length(shape.curve, 1e-2) for shape in doubled) / pieces < _TRACED_MM


def _runs_off(drawing: Drawing) -> bool:
    """Whether a large line runs beyond the page, or beyond its clip."""
    return any(
        _size(shape) >= _LARGE_MM
        and any(
            box is not None
            and max(
                float((box[0] - shape.curve.hull_box[0]).max()),
                float((shape.curve.hull_box[1] - box[1]).max()),
            )
            > _BEYOND_MM
            for box in (drawing.page, shape.clip)
        )
        for shape in drawing.shapes
    )


_OUTSIDE_MM: Final = 0.5
"""What lies no further outside is rounding, or half of a line's width."""

_ALONG_MM: Final = 0.25
_LEAST_RUN_MM: Final = 5.0
"""An outline that runs along an edge for less only touches it."""

_TIGHT_MM: Final = 2.0
"""A page whose edges all lie as near to what is drawn was fitted to it."""

_SIDES: Final = ("left", "top", "right", "bottom")

_REMEDY: Final = (
    "If this is one page of a pattern printed on several, put the pages together in a drawing "
    "program, or save the pattern on one page; if the outline is whole, make the page larger than "
    "what is drawn on it."
)

_CLIP_REMEDY: Final = (
    "If this is one page of a pattern printed on several, put the pages together in a drawing "
    "program, or save the pattern on one page; if the outline is whole, release what hides a part "
    "of it: its clip, or the symbol or the placed drawing that it lies in, which shows only its "
    "own frame."
)


def tell_cut_off(draft: Draft) -> None:
    """Say of each outline, and of each long open line, that the page or its clip cuts it off."""
    panels = {shape.ident for panel in draft.panels for shape in panel.shapes}
    closed = [(panel.shapes[0], panel.outline) for panel in draft.panels]
    page = draft.drawing.page
    fitted = page is not None and _is_fitted(draft, page)
    runs: Counter[str] = Counter()
    found: list[tuple[str, str, str]] = []
    for shape, outline in closed:
        for name, box in _edges_of(shape, page):
            side, how = _cut(outline, box)
            if how == "along" and fitted and name == "page":
                runs.update(_runs_along(outline.flatten(), box).keys())
            if side:
                found.append((shape.ident, how, f"{side} edge of the {name}"))
    level = [side for side in ("top", "bottom") if runs[side] == len(closed) > 1]
    if fitted and max((runs[side] for side in runs if side not in level), default=0) < 2:
        # Of a page fitted to a pattern the straight edges of the outermost panels are part.
        found = [item for item in found if item[1] != "along"]
        if level:
            # A page cuts some panels off sooner than others, as a rule; so these are level there.
            draft.ledger.warn(
                "cut-off",
                f"the page is as large as what is drawn, and all outlines run along its "
                f"{level[0]} edge: they are taken to be level there. {_REMEDY}",
                *(shape.ident for shape, _ in closed),
            )
    for ident, how, edge in found:
        _tell(draft, ident, f"this outline runs {how}", edge)
    for shape in draft.shapes:
        if shape.ident not in panels and _may_be_piece(draft, shape):
            for name, box in _edges_of(shape, page):
                if side := _ends_at(shape.curve, box):
                    edge = f"{side} edge of the {name}"
                    _tell(draft, shape.ident, "this line is cut off at", edge)


def _tell(draft: Draft, ident: str, words: str, edge: str) -> None:
    draft.ledger.fault(
        "cut-off",
        f"{ident}: {words} the {edge}; this may be one page of several",
        ident,
        remedy=_CLIP_REMEDY if edge.endswith("clip") else _REMEDY,
    )


def _edges_of(shape: Shape, page: FloatArray | None) -> list[tuple[str, FloatArray]]:
    edges = [("page", page), ("clip", shape.clip)]
    return [(name, box) for name, box in edges if box is not None]


def _is_fitted(draft: Draft, page: FloatArray) -> bool:
    """Whether the page has just the size of all that is drawn."""
    hulls = np.array([shape.curve.hull_box for shape in draft.drawing.shapes])
    around = np.array([hulls[:, 0].min(axis=0), hulls[:, 1].max(axis=0)])
    return bool(np.abs(around - page).max() <= _TIGHT_MM)


def _cut(curve: Curve, box: FloatArray) -> tuple[str, str]:
    """At which side of a box a curve lies beyond it, or runs along it; empty if it does not."""
    points = curve.flatten()
    # Positive beyond the side.
    beyond = np.column_stack([box[0] - points, points - box[1]])
    over = beyond.max(axis=0)
    if over.max() > _OUTSIDE_MM:
        return _SIDES[int(np.argmax(over))], "off"
    runs = _runs_along(points, box)
    return (max(runs, key=runs.__getitem__), "along") if runs else ("", "")


def _runs_along(points: FloatArray, box: FloatArray) -> dict[str, float]:
    """How far a polyline runs along each side of a box that it does not only touch, in mm."""
    along = np.abs(np.column_stack([box[0] - points, points - box[1]])) <= _ALONG_MM
    steps = np.hypot(*np.diff(points, axis=0).T)
    sides = zip(_SIDES, along.T, strict=True)
    runs = {side: float(steps[on[:-1] & on[1:]].sum()) for side, on in sides}
    return {side: run for side, run in runs.items() if run >= _LEAST_RUN_MM}


def _may_be_piece(draft: Draft, shape: Shape) -> bool:
    """Whether an open line may be a piece of an outline that the edge cuts off.

    Straight lines from one edge to another are none, nor are those across panels.
    """
    low, high = shape.curve.hull_box
    if shape.curve.closed or not draft.may_be_outline(shape):
        return False
    if float((high - low).max()) < PANEL_HEIGHT_MM or is_straight(shape.curve):
        return False
    return not any(draft.meetings.across([p.outline for p in draft.panels], [shape], bounded=False))


def _ends_at(curve: Curve, box: FloatArray) -> str:
    """The side of a box at which an open curve ends, or over which it runs; empty if none."""
    side, _ = _cut(curve, box)
    ends = np.array([curve.start, curve.end])
    near = np.abs(np.column_stack([box[0] - ends, ends - box[1]])) <= _ALONG_MM
    if not side and near.any():
        side = _SIDES[int(np.flatnonzero(near.any(axis=0))[0])]
    return side
