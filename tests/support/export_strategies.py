"""Hypothesis strategies for exports: one draft, disturbed in several ways at once."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from hypothesis import strategies as st

from panelshift.outline import Curve

from .drafts import path_data
from .export_changes import (
    allowances,
    begun_at,
    closed_by,
    each_curve,
    hatch,
    in_pieces,
    mixed,
    nudged,
    outlines_changed,
    specks,
    turned,
    unnamed,
    with_double_points,
)
from .export_elements import Element, Elements, base, body_of, document, of_role
from .glyph_outlines import as_one_path, as_paths, glyph_paths

UNITS = {
    'width="1000mm" height="1000mm" viewBox="0 0 1000 1000"': 1.0,
    'width="2400pt" height="2400pt" viewBox="0 0 2400 2400"': 25.4 / 72.0,
    'width="1016mm" height="1016mm" viewBox="0 0 3840 3840"': 25.4 / 96.0,
    'width="30in" height="30in" viewBox="0 0 30000 30000"': 0.0254,
}


@dataclass(frozen=True)
class Export:
    """A file that a drawing program might have written of a base draft.

    Parameters
    ----------
    draft : str
    file : bytes
    changes : tuple of str
        What was done to the draft.
    """

    draft: str
    file: bytes
    changes: tuple[str, ...]


seeds = st.integers(0, 10_000)


@st.composite
def exports(draw: st.DrawFn, draft: str) -> Export:
    """A base draft with any of: pieces, copies, cut lines, hatching, letters, residue."""
    elements, changes = base(draft), list[str]()

    def happens(name: str) -> bool:
        if draw(st.booleans()):
            changes.append(name)
        return name in changes[-1:]

    plainly = elements
    extra: Elements = []
    if happens("cut lines"):
        cuts = allowances(plainly, draw(st.sampled_from((8.0, 10.0, 15.0))))
        if happens("cut lines in one path"):
            cuts = [Element(tuple(e.curves[0] for e in cuts), "", "cut")]
        extra += cuts
    if happens("hatching"):
        angle, pitch = draw(st.floats(-0.9, 0.9)), draw(st.floats(0.8, 5.0))
        lines = [hatch(e.curves[0], angle, pitch) for e in of_role(plainly, "outline")]
        together = happens("hatching in one path")
        extra += [
            element
            for several in lines
            for element in (
                [Element(several)] if together else [Element((one,)) for one in several]
            )
        ]
    if happens("specks"):
        extra += specks(plainly, draw(st.floats(1e-6, 0.49)), draw(seeds), draw(st.integers(1, 25)))
    if happens("copies"):
        extra += [draw(_copies(e)) for e in plainly if draw(st.booleans())]
    elements = outlines_changed(elements, lambda e: draw(_outlines(e[0])))
    changes.append("outlines")
    elements = elements + extra
    if happens("shuffled"):
        elements = mixed(elements, draw(seeds))
    data = draw(
        st.sampled_from(
            (path_data, with_double_points, closed_by("return Z"), closed_by("miss Z", (1e-6, 0)))
        )
    )
    root = draw(st.sampled_from(sorted(UNITS)))
    scale = np.diag([1.0 / UNITS[root]] * 2)
    matrix = np.column_stack([scale, np.zeros(2)])
    body = body_of((element.moved(matrix) for element in elements), data)
    if happens("letters"):
        way = draw(st.sampled_from((as_paths, as_one_path)))
        letters = way(glyph_paths("Size 8 oA@", 560.0, draw(st.floats(150.0, 260.0)), 9.0))
        letters += way(glyph_paths("8oA", 72.0, draw(st.floats(170.0, 230.0)), 7.0))
        letters = f'<g transform="scale({1.0 / UNITS[root]!r})">{letters}</g>'
        body = letters + body if draw(st.booleans()) else body + letters
    if happens("groups"):
        body = f'<g id="layer1"><g transform="rotate(90)"><g transform="rotate(-90)">{body}</g>'
        body += "</g></g>"
    return Export(draft, document(body, root), tuple(changes))


@st.composite
def _copies(draw: st.DrawFn, element: Element) -> Element:
    copy = unnamed(element)
    if draw(st.booleans()):
        (copy,) = each_curve([copy], turned)
    if draw(st.booleans()):
        start = draw(st.integers(0, 5))
        (copy,) = each_curve([copy], lambda curve: begun_at(curve, start))
    step = draw(st.sampled_from((0.0, 1e-4, 1e-3)))
    return nudged(copy, (step, -step))


@st.composite
def _outlines(draw: st.DrawFn, element: Element) -> Elements:
    start, turns = draw(st.integers(0, 6)), draw(st.booleans())

    def redrawn(curve: Curve) -> Curve:
        curve = begun_at(curve, start)
        return turned(curve) if turns else curve

    (element,) = each_curve([element], redrawn)
    if draw(st.booleans()):
        cuts = draw(st.lists(st.floats(0.0, 0.99), min_size=2, max_size=6, unique_by=_tenth))
        return in_pieces(element, cuts)
    return [replace(element)]


def _tenth(cut: float) -> int:
    """Cuts are some way apart, so that no piece is a speck."""
    return round(cut * 30.0)
