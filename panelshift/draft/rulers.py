"""Scale bars and test squares: whether they are as long as they say."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

import numpy as np

from ..outline.bezier import LINE
from ..pattern.drawing import Shape, spaced
from ..units import trimmed
from .draft import Draft, middle_of
from .written_sizes import LENGTH, lengths_in

_RULER: Final = re.compile(r"\b(scale|ruler|test square)")

_LARGEST_MM: Final = 300.0
"""No scale bar is longer, as a rule."""

_EXACT: Final = 0.015
"""Bars drawn by hand are exact to this part of their length."""

_MOST_TIMES: Final = 30.0


def tell_rulers(draft: Draft) -> None:
    """Say that a scale bar, or a test square, is not as long as it says: a fault.

    A waist that was stated goes before it: then it is a note.
    """
    for shape, said in _rulers(draft):
        drawn = min(_sizes(shape), key=lambda size: abs(np.log(size / said)))
        times = said / drawn
        if abs(times - 1.0) <= _EXACT or not 1.0 / _MOST_TIMES < times < _MOST_TIMES:
            continue
        unlike = f"{shape.ident}: it says {trimmed(said, 1)} mm and is {trimmed(drawn, 1)} mm long"
        if draft.reading.drafted_waist is not None:
            draft.ledger.note(
                "reduced", f"{unlike}; drafted_waist counts, which was stated", shape.ident
            )
            return
        draft.ledger.fault(
            "reduced",
            f"{unlike}, so that the drawing is not at true size",
            shape.ident,
            remedy=f"Set pattern.scale = {trimmed(times, 5)} in the job file, or draw it at true "
            "size. If the panels are right all the same, state drafted_waist.",
        )
        return


def _rulers(draft: Draft) -> Iterator[tuple[Shape, float]]:
    """Shapes that say how long they are in mm: by their names, or by the word in a square."""
    squares = []
    for shape in draft.drawing.shapes:
        named = [said for n in shape.names if _RULER.search(spaced(n)) and (said := _length_in(n))]
        if not named and not (shape.curve.closed and len(shape.curve) == 4):
            continue
        sides = _sizes(shape)
        if not sides or max(sides) > _LARGEST_MM:
            continue
        yield from ((shape, said) for said in named)
        if len(sides) == 4 and max(sides) <= (1.0 + _EXACT) * min(sides):
            squares.append(shape)
    for text in draft.drawing.texts:
        if (said := _length_in(text.content)) and LENGTH.fullmatch(text.content.strip().lower()):
            at = middle_of(text)
            for shape in squares:
                low, high = shape.curve.hull_box
                if (low < at).all() and (at < high).all():
                    yield shape, said


def _length_in(words: str) -> float:
    """The only length in words, in mm; 0 if there is none, or are several."""
    found = lengths_in(words)
    return found[0] if len(found) == 1 else 0.0


def _sizes(shape: Shape) -> list[float]:
    """Lengths of the straight sides of a shape in mm; nothing if it is bent."""
    if (shape.curve.degree != LINE).any():
        return []
    step = shape.curve.control[:, 3] - shape.curve.control[:, 0]
    return [float(size) for size in np.hypot(step[:, 0], step[:, 1]) if size > 0.0]
