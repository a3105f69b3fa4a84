"""Tiled pages put together again: with overlap and without, framed, incomplete, out of order."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from panelshift.errors import PdfError
from panelshift.outline import Curve
from panelshift.outline.measure import length
from panelshift.pattern.drawing import Shape
from panelshift.sources.pdf import read_pdf
from panelshift.sources.pdf.seams import PageSeam
from panelshift.sources.pdf.visible import Visible, parts_inside, repeated
from tests.support.examples import thinned
from tests.support.pdfs import POINTS, made, stroked

PAGE = (200.0, 260.0)
MARGIN = 12.0
SEEN = PAGE[0] - 2 * MARGIN, PAGE[1] - 2 * MARGIN
HIGH = 420.0


def outline(x: float, waist: float) -> Curve:
    """A panel of curved sides: 420 mm tall, 120 wide at its ends."""
    sides = [
        [(x, 20), (x + 30, 120), (x + 20, 160), (x + 60 - waist / 2, 220)],
        [(x + 60 - waist / 2, 220), (x, 300), (x - 5, 360), (x, 440)],
        [(x, 440), (x + 40, 445), (x + 80, 445), (x + 120, 440)],
        [(x + 120, 440), (x + 125, 360), (x + 120, 300), (x + 60 + waist / 2, 220)],
        [(x + 60 + waist / 2, 220), (x + 100, 160), (x + 90, 120), (x + 120, 20)],
        [(x + 120, 20), (x + 80, 10), (x + 40, 10), (x, 20)],
    ]
    return Curve.cubics(sides, closed=True)


DRAFT = (
    outline(40.0, 60.0),
    outline(190.0, 70.0),
    outline(330.0, 64.0),
    Curve.polyline([(30.0, 220.0), (470.0, 224.0)]),
    Curve.polyline([(100.0, 60.0), (100.0, 400.0)]),
    Curve.polyline([(20.0, 90.0), (470.0, 330.0)]),
)


def tiles(
    overlap: float, *, frame: bool = False, cut: bool = True, curves: Sequence[Curve] = DRAFT
) -> list[str]:
    """Contents of pages of a grid, row by row; lines are cut at the edges, or clipped there."""
    step = SEEN[0] - overlap, SEEN[1] - overlap
    contents = []
    for row in range(2):
        for column in range(3):
            low = np.array([column * step[0], row * step[1]])
            box = np.array([low, low + SEEN])
            shift = np.array([[1, 0, MARGIN - low[0]], [0, 1, MARGIN - low[1]]])
            if cut:
                parts = parts_inside(curves, [box] * len(curves))
                drawn = [part for some in parts for part in some]
            else:
                drawn = list(curves)
            lines = [stroked(part.transformed(shift), PAGE[1]) for part in drawn]
            x, y, w, h = (v * POINTS for v in (MARGIN, MARGIN, *SEEN))
            if not cut:
                lines = [f"q {x} {y} {w} {h} re W n", *lines, "Q"]
            if frame:
                lines.append(f"3 w {x} {y} {w} {h} re S 1 w")
                # A mark of its own on every page, where no other page has one.
                lines.append(f"{x + 9 * (3 * row + column)} {y + 40} 4 4 re S")
            contents.append("\n".join(lines))
    return contents


def check(contents: Sequence[str], *, within: float = 0.002) -> str:
    drawing = read_pdf(made(contents, PAGE))
    drawn = [shape.curve for shape in drawing.shapes]
    closed = sorted(length(c) for c in drawn if c.closed and length(c) > 300.0)
    assert closed == pytest.approx(sorted(length(c) for c in DRAFT[:3]), abs=within)
    lines = sorted(length(c) for c in drawn if not c.closed)
    assert lines == pytest.approx(sorted(length(c) for c in DRAFT[3:]), abs=within)
    # Where they lie to each other is right as well, not only how long they are.
    panels = sorted((c for c in drawn if c.closed), key=length)[-3:]
    centres = [c.bounds().mean(axis=0) for c in panels]
    wanted = [c.bounds().mean(axis=0) for c in sorted(DRAFT[:3], key=length)]
    for k in (1, 2):
        assert np.allclose(centres[k] - centres[0], wanted[k] - wanted[0], atol=0.02)
    return drawing.notes[0]


@pytest.mark.parametrize("frame", [False, True], ids=["bare", "framed"])
@pytest.mark.parametrize("overlap", thinned([10.0, 0.0, 17.3]))
@pytest.mark.parametrize("cut", [True, False], ids=["cut", "clipped"])
def test_tiles_make_the_drawing_that_was_cut(overlap: float, frame: bool, cut: bool) -> None:
    note = check(tiles(overlap, frame=frame, cut=cut))
    assert "6 pages were joined, 3 across and 2 down" in note


def test_pages_may_come_in_any_order() -> None:
    contents = tiles(10.0)
    check([contents[k] for k in (4, 0, 5, 2, 1, 3)])


def test_a_cover_is_left_out_and_told() -> None:
    cover = f"{20 * POINTS} {20 * POINTS} {50 * POINTS} {50 * POINTS} re S"
    drawing = read_pdf(made([cover, *tiles(10.0)], PAGE))
    assert "page 1 is left out" in drawing.warnings[0]
    assert len([s for s in drawing.shapes if s.curve.closed]) == 3


def test_a_panel_on_a_page_of_its_own_is_kept() -> None:
    alone = outline(40.0, 60.0).scaled(0.5).transformed([[1, 0, 20], [0, 1, 15]])
    drawing = read_pdf(made([stroked(alone, PAGE[1]), *tiles(10.0)], PAGE))
    assert len([s for s in drawing.shapes if s.curve.closed]) == 4


@pytest.mark.parametrize("turned", [False, True], ids=["upright", "sideways"])
def test_whatever_may_be_a_panel_is_kept(turned: bool) -> None:
    # One panel of two open lines, which no closed outline tells.
    whole = outline(40.0, 60.0).scaled(0.5).transformed([[1, 0, 10], [0, 1, 15]])
    if turned:
        whole = whole.transformed([[0, 0.7, 10], [-1, 0, 120]])
    sides = [stroked(whole.piece(a, a + 3.0), PAGE[1]) for a in (0.0, 3.0)]
    drawing = read_pdf(made(["\n".join(sides), *tiles(10.0)], PAGE))
    assert drawing.warnings == ()
    assert sum(not s.curve.closed for s in drawing.shapes) == 3 + 2


def test_panels_that_lie_alike_on_their_pages_are_no_marks_of_the_pages() -> None:
    contents = tiles(0.0)
    alike = stroked(
        Curve.polyline([(90, 60), (110, 60), (104, 225), (94, 225)], closed=True), 260.0
    )
    contents[1] += "\n" + alike
    contents[4] += "\n" + alike
    drawing = read_pdf(made(contents, PAGE))
    assert sum(s.curve.closed for s in drawing.shapes) == 3 + 2


@pytest.mark.parametrize("missing", [0, 1, 4, 5])
@pytest.mark.parametrize("overlap", [0.0, 10.0])
def test_a_missing_page_is_refused(missing: int, overlap: float) -> None:
    contents = tiles(overlap)
    del contents[missing]
    with pytest.raises(PdfError, match="do not make up one drawing") as caught:
        read_pdf(made(contents, PAGE))
    assert "no page go" in caught.value.problem or "ends of lines meet" in caught.value.problem
    assert caught.value.key == "page"


def test_pages_of_another_print_are_refused() -> None:
    contents = tiles(10.0)
    moved = [c.transformed([[1, 0, 0], [0, 1, 3.0]]) for c in DRAFT]
    contents[1] = tiles(10.0, curves=moved)[1]
    with pytest.raises(PdfError, match="do not make up one drawing"):
        read_pdf(made(contents, PAGE))


def test_sizes_on_pages_of_their_own_are_not_joined() -> None:
    whole = [stroked(c.scaled(0.4 + 0.02 * k), PAGE[1]) for k in range(3) for c in DRAFT[:3]]
    pages = ["\n".join(whole[k : k + 3]) for k in (0, 3, 6)]
    with pytest.raises(PdfError, match="page 3: 3 lines"):
        read_pdf(made(pages, PAGE))


def test_marks_of_pages_are_what_lies_at_one_place_of_several() -> None:
    """Pages of 200 by 300 mm, as far from where sheets begin across as down it is not."""
    left, top = 1000.0, 50.0
    lines = {
        "page": [(0, 0), (200, 0), (200, 300), (0, 300), (0, 0)],
        "rule": [(5, 10), (195, 10)],
        "short": [(5, 20), (105, 20)],
        "upright": [(3, 30), (3, 280)],
        "waist": [(10, 200), (190, 200)],
        "tall": [(150, 10), (150, 290)],
    }
    pages = {
        "page": (0, 1, 2),
        "rule": (0, 1, 2),
        "short": (0, 2),
        "upright": (0, 1),
        "waist": (1, 2),
        "tall": (0, 2),
    }
    pieces, names = [], []
    for name, points in lines.items():
        curve = Curve.polyline([(x + left, y + top) for x, y in points])
        shape = Shape(curve, name)
        pieces += [Visible(page, curve, shape) for page in pages[name]]
        names += [name] * len(pages[name])
    found = repeated(pieces, 3)
    # A line from edge to edge is one if all pages have it, a shorter one if two have.
    assert sorted(found) == [k for k, name in enumerate(names) if name in ("page", "rule", "short")]
    cut = [Visible(piece.page, piece.curve, Shape(piece.curve.reversed(), "")) for piece in pieces]
    assert {names[k] for k in repeated(cut, 3)} == {"page", "rule"}


def test_a_seam_of_pages_holds_if_nine_ends_of_ten_meet_and_two_at_least() -> None:
    for ends in range(1, 31):
        for met in range(ends + 1):
            wanted = met >= 2 and 10 * met >= 9 * ends
            assert PageSeam(0, 0, 1, met, ends).holds == wanted, (met, ends)
