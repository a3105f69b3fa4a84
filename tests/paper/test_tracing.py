"""From ink on paper to a drawing, on flat rasters: how near, and what is refused.

The truth is the line that was drawn, known exactly; bounds are those of the project's own promise
for paper, see docs/reliability.md.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import ndimage

from panelshift.outline import Curve
from panelshift.outline.crossing import crossings
from panelshift.sources.paper.enclosed import _parts_of
from panelshift.sources.paper.leftover import _kind
from panelshift.sources.paper.rectified import Rectified, opencv
from panelshift.sources.paper.spots import Pointed
from panelshift.sources.paper.tracing import Tracing, trace_paper
from tests.paper.drawn_paper import (
    BLUE,
    ERASED,
    FAINT,
    FLAT,
    INK,
    PENCIL,
    RED,
    USED,
    Band,
    Pen,
    Sheet,
    Stroke,
    drawn,
    farthest,
    one_panel,
    resampled,
    sample_draft,
    strokes_of,
    words,
)

pytest.importorskip("cv2")

PANEL = one_panel(60.0, 160.0, 9.0)
"""From (15, 15) to (75, 175); its back is at 66 at the waist, which is at 95."""

APART = np.array([[1.0, 0.0, 95.0], [0.0, 1.0, 4.0]])


def traced(
    strokes: list[Stroke],
    size: tuple[float, float],
    sheet: Sheet = USED,
    pointed: Pointed | None = None,
    **more: Any,
) -> Tracing:
    image = drawn(strokes, size, sheet=sheet, **more)
    valid = np.ones(image.shape[:2], dtype=bool)
    return trace_paper(Rectified(image, valid, 0.2, 0.1, ("draft.jpg",)), pointed)


def line(*points: tuple[float, float], pen: Pen = PENCIL) -> Stroke:
    return Stroke(np.array(points), pen)


def with_gap(stroke: Stroke, *gap: float) -> Stroke:
    return replace(stroke, gaps=[(gap[0], gap[1])])


def said(tracing: Tracing) -> list[str]:
    """What is said of each spot, without its place; faults first."""
    faults = [f"FAULT {spot.words}" for spot in tracing.faults]
    return faults + [spot.words for spot in tracing.spots if not spot.remedy]


def width(outline: Curve, height: float) -> float:
    low, high = outline.bounds()
    level = Curve.polyline([(low[0] - 9.0, height), (high[0] + 9.0, height)])
    return float(np.ptp(crossings(outline, level).points[:, 0]))


@pytest.mark.slow
def test_a_line_with_a_small_gap_is_followed_and_the_gap_is_told() -> None:
    draft = one_panel()
    outline, waist = draft.strokes(INK)
    tracing = traced([with_gap(outline, 30.0, 31.9), waist], draft.size)
    assert tracing.refusal is None
    (panel,) = tracing.panels
    assert farthest(panel.outline, draft.outlines[0]) <= 0.1
    assert abs(width(panel.outline, 60.0) - 44.0) <= 0.05
    assert panel.waist is not None
    assert abs(panel.waist.start[1] - 60.0) <= 0.1
    (gap,) = tracing.spots
    # 30.95 mm along from the lower left corner, upwards.
    assert gap.kind == "gap"
    assert np.hypot(gap.place[0] - 15.0, gap.place[1] - (105.0 - 30.95)) <= 0.3
    assert float(gap.words.split()[3]) == pytest.approx(1.9, abs=0.1)
    assert tracing.picture.startswith(b"\x89PNG")
    assert [shape.names for shape in tracing.drawing.shapes] == [(), ("waist",)]
    assert np.allclose(tracing.drawing.page, [[0.0, 0.0], draft.size])


def test_a_wide_gap_is_told_by_its_place_and_width() -> None:
    draft = one_panel(25.0, 40.0, 3.0)
    outline, waist = draft.strokes(INK)
    tracing = traced([with_gap(outline, 5.0, 10.0), waist], draft.size)
    (gap,) = tracing.faults
    assert float(gap.words.split()[7]) == pytest.approx(5.0, abs=0.2)
    # From the lower left corner upwards.
    assert np.hypot(gap.place[0] - 15.0, gap.place[1] - (55.0 - 7.5)) <= 0.3


def on_line(*points: tuple[float, float]) -> np.ndarray:
    """Middles of cells along straight lines, two to a millimetre."""
    return resampled(np.array(points), 0.5)[0]


def test_what_a_line_that_is_left_over_may_be() -> None:
    """By its size, its shape, and whether it lies in a panel."""
    rectified = Rectified(np.zeros((9, 9, 3), np.uint8), np.ones((9, 9), bool), 0.2, 0.1, ())
    bent = on_line((0, 0), (50, 2), (100, 0))
    for kind, cells, length, inside in (
        ("speck", on_line((0, 0), (3, 1)), 3.2, True),
        ("speck", on_line((0, 0), (4, 0)), 4.0, False),
        ("writing", on_line((0, 0), (4.5, 0)), 4.5, True),
        ("writing", on_line((0, 0), (16, 0)), 16.0, False),
        ("writing", on_line((0, 0), (60, 0)), 140.0, True),
        ("inner", on_line((0, 0), (60, 0)), 60.0, True),
        ("doubt", on_line((0, 0), (60, 0)), 60.0, False),
        ("inner", on_line((0, 0), (100, 0)), 230.0, True),
        ("doubt", bent, 100.1, True),
    ):
        depths = np.full(len(cells), 5.0 if inside else 0.0)
        assert _kind(rectified, cells, length, depths) == kind, (cells[-1], length)


def test_parts_of_a_mask_are_those_of_another_library() -> None:
    mask = ndimage.gaussian_filter(np.random.default_rng(7).normal(size=(60, 80)), 2.0) > 0.05
    labels, count = ndimage.label(mask, np.ones((3, 3)))
    wanted = [labels == k for k in range(1, count + 1) if (labels == k).sum() >= 20]
    found = _parts_of(opencv(), mask, 20)
    assert len(found) == len(wanted) > 3
    placed = []
    for blob in found:
        whole = np.zeros_like(mask)
        whole[blob.rows, blob.columns] = blob.mask
        placed.append(whole)
        # What is outside shows round it, but where the picture ends.
        rows, columns = np.nonzero(whole)
        assert blob.rows.start == max(rows.min() - 2, 0)
        assert blob.columns.start == max(columns.min() - 2, 0)
    assert {whole.tobytes() for whole in placed} == {whole.tobytes() for whole in wanted}


@pytest.mark.slow
def test_a_wider_gap_no_waistline_and_a_stray_line_are_refused_by_place() -> None:
    draft = one_panel()
    stroke = with_gap(draft.strokes(INK)[0], 30.0, 32.5)
    tracing = traced([stroke, line((70.0, 20.0), (76.0, 95.0))], draft.size)
    gap, waist, stray = tracing.faults
    assert gap.words.startswith("an outline is open: a gap of ")
    assert "15 mm from the left and 74 mm from the top" in gap.words
    assert float(gap.words.split()[7]) == pytest.approx(2.5, abs=0.15)
    assert waist.words.startswith("panel 1 has no waistline from edge to edge, ")
    assert stray.words.startswith("a line of about 7")
    assert re.search(r"a gap of 2\.\d mm.*\(and 2 more\)", str(tracing.refusal))
    # Struck out, it is told and no fault.
    again = traced(
        [stroke, line((70.0, 20.0), (76.0, 95.0))], draft.size, pointed=Pointed(((73.0, 57.0),))
    )
    assert len(again.faults) == 2
    assert any(spot.words.startswith("a line was struck out") for spot in again.spots)


def pair(pen: Pen = PENCIL, red: Pen = RED) -> list[Stroke]:
    """Two panels side by side: outlines, then waistlines."""
    outlines = [PANEL.outlines[0], PANEL.outlines[0].transformed(APART)]
    waists = [PANEL.waists[0], PANEL.waists[0].transformed(APART)]
    return strokes_of(outlines, pen) + strokes_of(waists, red)


PAIR_SIZE = (210.0, 205.0)


def ring(by: float) -> list[Stroke]:
    """A line round each of the two, at a distance, by shapely."""
    from shapely import Polygon

    both = [PANEL.outlines[0], PANEL.outlines[0].transformed(APART)]
    rings = [Polygon(one.flatten(0.01)).buffer(by, join_style="mitre") for one in both]
    return [Stroke(np.array(one.exterior.coords), PENCIL) for one in rings]


GOOD: dict[str, tuple[list[Stroke], list[str]]] = {
    "pencil": (pair(), []),
    "ink": (pair(INK), []),
    "blue": (pair(BLUE), []),
    "a faint pencil": (pair(FAINT), []),
    "a pen of 1.2 mm": (pair(INK.wider(1.2)), []),
    "a deep red": (pair(INK, Pen(0.7, (0.35, 0.9, 0.85))), []),
    "lines past the corners": (
        pair() + [line((75, 15), (83, 15)), line((15, 175), (15, 183))],
        ["2 small marks and letters were not read"],
    ),
    "letters on the line and beside it": (
        pair() + words("CAT 1", (66.0, 60.0)) + words("FACT", (10.0, 140.0)),
        ["5 small marks and letters were not read"],
    ),
    "notches": (
        pair() + [line((15, 60), (20, 63), (15, 66)), line((75, 30), (80, 30))],
        ["2 small marks and letters were not read"],
    ),
    "a level in pencil through both": (
        pair() + [line((5, 50), (200, 50))],
        [
            "straight dark lines in panel 1, 1 of them, are kept as marks",
            "straight dark lines in panel 2, 1 of them, are kept as marks",
            "1 small marks and letters were not read",
        ],
    ),
    "one waistline through both": (
        strokes_of([PANEL.outlines[0], PANEL.outlines[0].transformed(APART)], PENCIL)
        + [line((5, 95), (200, 99), pen=RED)],
        [],
    ),
    "a corner cut off by a line": (
        pair() + [line((15, 35), (35, 15))],
        ["straight dark lines in panel 1, 1 of them, are kept as marks"],
    ),
    "a small corner cut off": (
        pair() + [line((15, 27), (27, 15))],
        ["1 small marks and letters were not read"],
    ),
    "a box in a panel": (
        pair() + [line((30, 120), (55, 120), (55, 150), (30, 150), (30, 120))],
        ["1 small marks and letters were not read"],
    ),
    "a frame": (
        pair() + [line((4, 4), (204, 4), (204, 200), (4, 200), (4, 4))],
        ["a frame round the panels was left out"],
    ),
    "the ghost of a line": (pair() + [line((66, 15), (62, 95), (66, 175), pen=ERASED)], []),
    "an allowance": (
        pair() + ring(8.0),
        2
        * [
            "an even line round a panel is taken as its seam allowance of 8.0 mm and left out; "
            "the inner line is the stitch line"
        ],
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", GOOD)
def test_what_else_is_drawn_does_not_move_the_outlines(name: str) -> None:
    strokes, told = GOOD[name]
    tracing = traced(strokes, PAIR_SIZE)
    assert tracing.faults == ()
    assert {spot.kind for spot in tracing.spots} <= {"gap", "line", "panel"}
    assert [panel.waist is None for panel in tracing.panels] == [False, False]
    for panel, by in zip(tracing.panels, (np.eye(2, 3), APART), strict=True):
        assert farthest(panel.outline, PANEL.outlines[0].transformed(by)) <= 0.1
        assert abs(width(panel.outline, 95.0 + by[1, 2]) - 51.0) <= 0.1
    assert [each.partition(",")[0] for each in said(tracing)] == [
        each.partition(",")[0] for each in told
    ]


REFUSED: dict[str, tuple[list[Stroke], str]] = {
    "a gap of 5 mm": ([with_gap(pair(INK)[0], 60.0, 65.0), *pair(INK)[1:]], "a gap of 5."),
    "a gap of 8 mm": ([with_gap(pair(INK)[0], 60.0, 68.0), *pair(INK)[1:]], "a gap of 8.1 mm"),
    # What was followed across it may lie aside of the line.
    "a gap of 9 mm": ([with_gap(pair(INK)[0], 60.0, 69.0), *pair(INK)[1:]], "a gap of 10.8 mm"),
    "a gap of 9 mm at a corner": (
        [with_gap(pair(INK)[0], 155.0, 164.0), *pair(INK)[1:]],
        "a gap of 9.1 mm",
    ),
    "a gap of 10 mm": ([with_gap(pair(INK)[0], 60.0, 70.0), *pair(INK)[1:]], "a gap of 10.1 mm"),
    "a gap of 30 mm": (
        [with_gap(pair(INK)[0], 60.0, 90.0), *pair(INK)[1:]],
        "belongs to no closed outline",
    ),
    "a corner left out": (
        [with_gap(pair(INK)[0], 158.0, 162.0), *pair(INK)[1:]],
        "a gap of 4.",
    ),
    "a line between panels": (
        pair() + [line((90, 30), (100, 120))],
        "belongs to no closed outline",
    ),
    "a seam drawn anew": (
        pair() + [line((15, 15), (22, 95), (15, 175))],
        "belongs to no closed outline",
    ),
    "a seam drawn anew close by": (
        pair() + [line((15.1, 40), (17, 60), (15.1, 80))],
        "a second line runs close beside an outline",
    ),
    "a line of 2 mm": (pair(INK.wider(2.0)), "or the line is too thick"),
    "a line down a panel": (
        pair() + [line((40, 15), (40, 175))],
        "dark lines divide panel 1 into 2 parts",
    ),
    "no waistline": (pair()[:-1], "panel 2 has no waistline from edge to edge"),
    "a waistline in pencil": (pair(PENCIL, PENCIL), "panel 1 has no waistline from edge to edge"),
    "two red lines": (
        pair() + [line((14, 60), (72, 60), pen=RED)],
        "2 red lines cross panel 1",
    ),
    "an outline in red": (
        pair() + [line((95, 4), (100, 198), (108, 198), (106, 4), (95, 4), pen=RED)],
        "a long red line lies outside the panels: outlines are read in dark pens alone",
    ),
    "the grain of a table": (
        pair() + [line((5 + k, 15), (6 + k, 180)) for k in (77, 80, 83, 86, 89, 92)],
        "the table shows beside the draft, such as grain, joints or tiles, or lines were drawn",
    ),
    "an uneven line round a panel": (
        pair() + [line((5, 8), (84, 3), (79, 95), (80, 190), (8, 183), (5, 8))],
        "a second line runs round a panel, but not at an even distance",
    ),
    "panels that touch": (
        pair() + [line((75, 15), (85, 95), (75, 175)), line((75, 15), (110, 19))],
        "belongs to no closed outline",
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", REFUSED)
def test_what_is_not_clear_is_refused(name: str) -> None:
    strokes, cause = REFUSED[name]
    tracing = traced(strokes, PAIR_SIZE)
    assert any(cause in spot.words for spot in tracing.faults), said(tracing)
    assert all(spot.remedy and "mm from the left" in spot.words for spot in tracing.faults)


@pytest.mark.slow
def test_a_box_beside_the_panels_is_no_panel_and_can_be_struck_out() -> None:
    box = line((80, 60), (105, 60), (105, 100), (80, 100), (80, 60), pen=INK)
    mark = line((30, 40), (30, 52), pen=RED)
    strokes = [*pair(INK)[:1], *pair(INK)[2:3], box, mark]
    tracing = traced(strokes, PAIR_SIZE)
    (fault,) = tracing.faults
    assert fault.words.startswith("panel 2 has no waistline from edge to edge")
    gore = traced(strokes, PAIR_SIZE, pointed=Pointed(gores=((90.0, 90.0),)))
    assert gore.faults == ()
    assert [panel.waist is None for panel in gore.panels] == [False, True]
    assert [shape.names for shape in gore.drawing.shapes].count(("waist",)) == 1
    assert any(words.startswith("panel 2 has no waistline, as you said") for words in said(gore))
    left_out = traced(strokes, PAIR_SIZE, pointed=Pointed(left_out=((90.0, 90.0),)))
    assert said(left_out)[0].startswith("a piece was left out, as you said")
    again = traced(strokes, PAIR_SIZE, pointed=Pointed(((80.0, 80.0),)))
    assert again.faults == ()
    (panel,) = again.panels
    (drawn_mark,) = panel.marks
    assert np.abs(np.sort(drawn_mark.vertices[:, 1]) - [40.0, 52.0]).max() <= 0.5
    # Marks are read off the coarse grid.
    assert np.abs(drawn_mark.vertices[:, 0] - 30.0).max() <= 0.2


@pytest.mark.slow
def test_the_waistline_is_the_line_that_was_pointed_at() -> None:
    """In pencil; the right one of two in red; with none drawn, between two places on the edges."""
    draft = one_panel()
    outline, waist = draft.strokes(INK)
    low = line((14.0, 75.0), (62.0, 75.0), pen=RED)
    pencil = line((15.0, 45.0), (60.0, 46.0))
    strokes = [outline, waist, low, pencil, line((3, 90), (9, 90), pen=RED)]
    plain = traced(strokes, draft.size)
    assert said(plain)[0].startswith("FAULT 2 red lines cross panel 1")
    # The levels are marks that can be chosen from.
    assert len(plain.panels[0].marks) == 3
    for ends, height in (
        (((40.0, 58.0),), 60.0),
        (((40.0, 73.0),), 75.0),
        (((40.0, 48.0),), 45.5),
        (((17.0, 31.0), (55.0, 33.0)), 32.1),
    ):
        # What is pointed at on another panel is not asked of this one.
        pointed = Pointed(waists=(((300.0, 10.0),), ends))
        found = traced(strokes, draft.size, pointed=pointed)
        assert found.faults == (), said(found)
        assert "the waistline of panel 1 is the one that you pointed at" in said(found)[0]
        assert any(words.startswith("1 red lines or marks outside") for words in said(found))
        (panel,) = found.panels
        assert panel.waist is not None
        met = crossings(panel.outline, panel.waist)
        assert len(met) == 2
        assert met.points[:, 1].mean() == pytest.approx(height, abs=0.1), ends
    for ends in (((40.0, 85.0),), ((30.0, 60.0), (31.0, 60.0)), ((33.0, 53.0), (33.0, 66.0))):
        found = traced(strokes, draft.size, pointed=Pointed(waists=(ends,)))
        assert found.faults[0].words.startswith("panel 1 has not "), ends


@pytest.mark.slow
def test_a_tape_beside_the_panels_is_left_out() -> None:
    tracing = traced(pair(), PAIR_SIZE, bands=[Band((5.0, 195.0), (200.0, 192.0), 12.0)])
    assert [each.partition(",")[0] for each in said(tracing)] == [
        "what looks like a ruler or a tape was left out"
    ]
    assert len(tracing.panels) == 2


@pytest.mark.slow
@pytest.mark.parametrize(("pen", "sheet"), [(INK, FLAT), (PENCIL, USED)], ids=["ink", "pencil"])
def test_the_sample_drawn_on_paper_is_read_back(pen: Pen, sheet: Sheet) -> None:
    draft = sample_draft()
    tracing = traced(draft.strokes(pen), draft.size, sheet)
    assert tracing.faults == ()
    assert len(tracing.panels) == 6
    wider = []
    for panel, truth in zip(tracing.panels, draft.outlines, strict=True):
        assert farthest(panel.outline, truth) <= 0.1
        assert abs(panel.outline.length - truth.length) <= 0.3
        wider.append(width(panel.outline, 250.0) - width(truth, 250.0))
    # By how much a fit that is too stiff would widen waists.
    assert abs(np.mean(wider)) <= 0.03
    assert np.abs(wider).max() <= 0.1
