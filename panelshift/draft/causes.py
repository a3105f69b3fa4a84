"""What befell a drawing before it came here: causes that are named before any symptom of them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import PanelshiftError
from ..outline.measure import length
from ..outline.planar import area
from ..pattern.drawing import Drawing, Shape
from .roles import given_name

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
    if cause is None or cause.words in error.problem:
        return error
    return type(error)(
        f"{cause.words} ({error.problem})",
        remedy=cause.remedy,
        source=error.source,
        element=error.element,
        at=error.at,
    )


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
    """Whether they have the many short pieces of a tracing, most of them in one path."""
    count = Counter(shape.element or shape.ident for shape in doubled).most_common(1)[0][1]
    pieces = sum(len(shape.curve) for shape in doubled)
    whole = sum(length(shape.curve, 1e-2) for shape in doubled)
    return whole / pieces < _TRACED_MM and 2 * count >= len(doubled)


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
