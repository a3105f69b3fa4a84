"""Dashed lines that a PDF writer cut into pieces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelshift.draft import Reading, assemble
from panelshift.draft.dashes import _rows
from panelshift.errors import PatternError
from panelshift.outline import Curve
from panelshift.outline.measure import length, position_at_length
from panelshift.pattern.drawing import Drawing, Shape
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import Draft, drawing, half, panels
from tests.support.examples import thinned
from tests.support.same_pattern import assert_same

DRAFTS = half(4)


def dashed(shape: Shape, dash: float, space: float, offset: float = 0.0) -> list[Shape]:
    """The dashes of a line, as paths of their own."""
    curve, size = shape.curve, length(shape.curve)
    starts = np.arange(-offset, size, dash + space)
    found = []
    for start in starts:
        low, high = max(float(start), 0.0), min(float(start) + dash, size)
        if high - low < 0.05:
            continue
        s0, s1 = position_at_length(curve, [low, high])
        piece = curve.piece(float(s0), float(s1))
        number = len(found)
        found.append(Shape(piece, f"{shape.ident} {number}", shape.names, shape.groups))
    return found


def plain(*levels: float) -> Drawing:
    """Panels with unnamed lines across each, at heights above the waist."""
    body = "".join(d.outline() for d in DRAFTS)
    source = drawing(body)
    lines = [
        Shape(
            Curve.polyline([(d.x - 12.0, d.y - up), (d.x + d.waist + 12.0, d.y - up)]),
            f"line {k} {up:g}",
        )
        for k, d in enumerate(DRAFTS)
        for up in levels
    ]
    return replace(source, shapes=(*source.shapes, *lines))


def exploded(source: Drawing, chosen: str, dash: float, space: float) -> Drawing:
    shapes: list[Shape] = []
    for shape in source.shapes:
        shapes += dashed(shape, dash, space) if shape.ident.endswith(chosen) else [shape]
    return replace(source, shapes=tuple(shapes))


def read(source: Drawing, *waist: str) -> Pattern:
    return assemble(source, Reading(waistlines=waist))


@pytest.mark.parametrize(("dash", "space"), [(6, 3), (3, 2), (10, 4), (1, 1), (12, 6)])
def test_the_solid_hip_is_not_the_waist_because_the_waist_is_dashed(
    dash: float, space: float
) -> None:
    source = exploded(plain(0.0, -70.0), " 0", dash, space)
    with pytest.raises(PatternError, match="2 lines cross the outline"):
        assemble(source)
    found = read(source, *(f"line {k} 0 0" for k in range(4)))
    same = read(plain(0.0, -70.0), *(f"line {k} 0" for k in range(4)))
    assert found.waist == pytest.approx(same.waist, abs=1e-6)
    assert [p.levels[0].height for p in found.panels] == pytest.approx([-70.0] * 4)
    assert not any(panel.marks for panel in found.panels)


def test_a_train_with_other_pieces_across_it_is_no_only_line() -> None:
    # Spaces that are not even: no train can be told, but a line is there all the same.
    source = plain(0.0, -70.0)
    shapes: list[Shape] = []
    for shape in source.shapes:
        if shape.ident.endswith(" 0"):
            cut = dashed(shape, 6.0, 2.0)
            shapes += [s for k, s in enumerate(cut) if k % 4 != 2]
        else:
            shapes.append(shape)
    with pytest.raises(PatternError, match="other lines lie across it as well"):
        assemble(replace(source, shapes=tuple(shapes)))


@pytest.mark.parametrize("dash", [(6.0, 3.0), (4.0, 1.5), (2.0, 2.0)])
@pytest.mark.slow
def test_dashed_outlines_are_what_they_were(dash: tuple[float, float]) -> None:
    source = drawing(panels(DRAFTS))
    names = {d.name for d in DRAFTS}
    shapes: list[Shape] = []
    for shape in source.shapes:
        shapes += dashed(shape, *dash) if shape.ident in names else [shape]
    found, same = assemble(replace(source, shapes=tuple(shapes))), assemble(source)
    for one, two in zip(found.panels, same.panels, strict=True):
        for edge in ("front", "top", "back", "bottom"):
            assert length(one.edge(edge)) == pytest.approx(length(two.edge(edge)), abs=0.1)
        assert one.waist.width == pytest.approx(two.waist.width, abs=0.1)


@pytest.mark.parametrize("size", thinned([3.0, 6.0, 9.0]))
def test_outlines_in_short_pieces_are_neither_dashed_nor_hatched(size: float) -> None:
    source = drawing(panels(DRAFTS))
    names = {d.name for d in DRAFTS}
    shapes: list[Shape] = []
    for shape in source.shapes:
        shapes += dashed(shape, size, 0.0) if shape.ident in names else [shape]
    assert_same(assemble(replace(source, shapes=tuple(shapes))), assemble(source))


def test_letters_notches_and_single_strokes_are_no_dashes() -> None:
    letters = [
        Shape(Curve.polyline([(70 + 3 * k, 150 + (k % 2)), (72 + 3 * k, 153)]), f"t{k}")
        for k in range(9)
    ]
    notches = [
        Shape(Curve.polyline([(58, 120 + 30 * k), (62, 120 + 30 * k)]), f"n{k}") for k in range(5)
    ]
    rungs = [
        Shape(Curve.polyline([(70, 230 + 4 * k), (80, 230 + 4 * k)]), f"r{k}") for k in range(6)
    ]
    source = drawing(Draft("side", x=60.0, left=(0.0, 0.0)).panel())
    found = assemble(replace(source, shapes=(*source.shapes, *letters, *notches, *rungs)))
    assert not any(remark.code == "dashes-joined" for remark in found.ledger)
    assert len(found.panels[0].marks) == 20


def test_links_are_followed_from_one_end_of_a_line_to_the_other() -> None:
    """Of piece k the start is 2 k and the end 2 k + 1, whatever lies between in the drawing."""
    ahead = {1: (4, 2.0), 5: (9, 2.5)}
    ring = {2: (6, 3.0), 7: (3, 3.5)}
    links = {**ahead, **ring}
    links |= {there: (here, size) for here, (there, size) in links.items()}
    rows = [(row.members, row.backwards, row.spaces) for row in _rows(6, links)]
    # Piece 5 has no neighbour; piece 4 lies the other way round than 0 and 2.
    assert rows == [
        ([0, 2, 4], [False, False, True], [2.0, 2.5]),
        ([1, 3], [False, True], [3.5, 3.0]),
    ]
