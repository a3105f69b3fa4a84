"""Which pages there are, what they are called, and where panels lie on them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, strategies as st

from panelshift.cutting.composing import Arrange, compose, rowed, rows
from panelshift.cutting.parts import layer_parts
from panelshift.cutting.plan import cut_layers
from panelshift.errors import PrintError
from panelshift.job.result import print_job, shift_job
from panelshift.outline import Curve, FloatArray
from panelshift.printing.arranging import Footprint, Pages, arrange_for_pages, cleared
from panelshift.printing.cover import _count, _taping
from panelshift.printing.pages import matching_marks
from panelshift.printing.paper import parse_paper
from panelshift.printing.tiling import PageGrid, PageOptions, drawn_lines, grid_for, lay_grid
from panelshift.sheets.sheet import Label, Sheet, Stroke, whole_mm
from tests.support.examples import thinned
from tests.support.prints import options, sample_job


def grid(columns: int, rows_: int, overlap: float = 10.0) -> PageGrid:
    return PageGrid(
        options().paper, 10.0, overlap, columns, rows_, np.ones((rows_, columns), dtype=bool)
    )


@pytest.mark.parametrize(
    ("row", "column", "name"),
    [
        (0, 0, "A1"),
        (2, 1, "B3"),
        (0, 25, "Z1"),
        (9, 26, "AA10"),
        (0, 27, "AB1"),
        (0, 52, "BA1"),
        (0, 701, "ZZ1"),
        (0, 702, "AAA1"),
    ],
)
def test_pages_are_named_by_column_and_row(row: int, column: int, name: str) -> None:
    assert grid(1, 1).name(row, column) == name


def test_two_pages_are_counted_and_glued() -> None:
    both = grid(2, 1)
    assert len(_taping(both)) == 1
    assert _count(both, 2, "mm").startswith("2 pages of a4, 2 across and 1 down")
    assert "; taped together " in _count(both, 2, "mm")
    assert "; showing " in _count(grid(1, 1), 1, "mm")
    assert _taping(grid(1, 1)) == []


def boxes_sheet(*boxes: tuple[float, float, float, float], width: float, height: float) -> Sheet:
    strokes = tuple(
        Stroke("cut-line", Curve.polyline([(a, b), (c, b), (c, d), (a, d)], closed=True))
        for a, b, c, d in boxes
    )
    return Sheet("boxes", width, height, strokes, ())


def test_blank_pages_are_left_out_but_stay_in_the_map() -> None:
    whole = boxes_sheet((5, 5, 50, 50), (400, 600, 450, 650), width=460.0, height=660.0)
    found = grid_for(whole, options(), turned=False)
    assert (found.columns, found.rows) == (3, 3)
    assert found.used.tolist() == [[True, False, False], [False] * 3, [False, False, True]]
    assert found.pages == 2
    assert found.printed() == [(0, 0), (2, 2)]


def test_blank_pages_at_the_far_ends_are_not_even_mapped() -> None:
    whole = boxes_sheet((5, 5, 50, 50), width=2000.0, height=2000.0)
    found = grid_for(whole, options())
    assert (found.columns, found.rows, found.pages) == (1, 1, 1)


def test_a_page_that_only_repeats_the_next_one_s_strip_is_left_out() -> None:
    # A4 upright shows 190 mm and goes on by 180: 180 to 190 is on both pages.
    whole = boxes_sheet((183, 5, 300, 50), width=370.0, height=100.0)
    assert grid_for(whole, options(), turned=False).used.tolist() == [[False, True]]
    whole = boxes_sheet((179, 5, 300, 50), width=370.0, height=100.0)
    assert grid_for(whole, options(), turned=False).used.tolist() == [[True, True]]


def test_text_alone_keeps_a_page() -> None:
    whole = boxes_sheet((5, 5, 50, 50), width=550.0, height=100.0)
    at = np.array([365.0, 50.0])
    words = Label("wide words that reach the next page", at, 8.0, align="middle")
    found = grid_for(replace(whole, labels=(words,)), options(), turned=False)
    assert found.used.tolist() == [[True, True, True]]


@pytest.mark.slow
@given(
    st.lists(
        st.tuples(st.floats(0, 900), st.floats(0, 900), st.floats(1, 300), st.floats(1, 300)),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from([0.0, 10.0, 15.0]),
)
def test_every_point_of_every_line_is_on_a_printed_page(
    boxes: list[tuple[float, float, float, float]], overlap: float
) -> None:
    whole = boxes_sheet(
        *((x, y, x + w, y + h) for x, y, w, h in boxes), width=1250.0, height=1250.0
    )
    found = grid_for(whole, options(overlap=overlap))
    lines = [stroke.curve.points(np.linspace(0, 4, 81)) for stroke in whole.strokes]
    points = np.concatenate(lines)
    shown = np.zeros(len(points), dtype=bool)
    for row, column in found.printed():
        at = points - found.corner(row, column)
        shown |= ((at >= -1e-6) & (at <= np.array(found.tile) + 1e-6)).all(axis=1)
    assert shown.all()


def test_on_a_common_grid_each_sheet_has_the_pages_that_it_needs_alone() -> None:
    """A layer that covers few panels needs few of the pages of all, and none beyond its own."""
    low, right = (5, 5, 50, 50), (400, 5, 450, 50)
    both = boxes_sheet(low, right, (5, 600, 50, 650), width=460.0, height=660.0)
    whole = grid_for(both, options(), turned=False)
    assert whole.printed() == [(0, 0), (0, 2), (2, 0)]
    for boxes, places in (
        ((low,), [(0, 0)]),
        ((right,), [(0, 2)]),
        ((low, right), [(0, 0), (0, 2)]),
    ):
        found = whole.showing(boxes_sheet(*boxes, width=460.0, height=660.0), options())
        assert found.printed() == places
        assert (found.rows, found.columns) == (whole.rows, whole.columns)


def test_on_a_common_grid_that_is_wide_pages_far_across_are_kept() -> None:
    far = boxes_sheet((5, 5, 50, 50), (900, 5, 950, 50), width=960.0, height=60.0)
    whole = grid_for(far, options(), turned=False)
    assert whole.columns > 2 * whole.rows
    assert whole.showing(far, options()).printed() == whole.printed()


def test_too_many_pages_are_refused() -> None:
    whole = boxes_sheet((0, 0, 49_000, 49_000), width=49_000.0, height=49_000.0)
    with pytest.raises(PrintError, match=r"\d+ pages of a4"):
        grid_for(whole, options())


@pytest.mark.parametrize("overlap", [0.0, 10.0, 15.0])
def test_crosses_lie_at_the_same_sheet_point_on_both_pages(overlap: float) -> None:
    found = grid(3, 2, overlap)
    at: dict[tuple[float, ...], list[tuple[int, int]]] = {}
    for row, column in found.printed():
        for mark in matching_marks(found, row, column):
            point = mark.at - found.margin + found.corner(row, column)
            at.setdefault((*np.round(point, 6).tolist(), mark.axis), []).append((row, column))
    seams = 2 * 2 + 3 * 1
    assert len(at) == 2 * seams
    for pages in at.values():
        (r0, c0), (r1, c1) = pages
        assert abs(r0 - r1) + abs(c0 - c1) == 1


def test_crosses_survive_trimming_to_the_frame() -> None:
    found = grid(3, 2)
    for row, column in found.printed():
        for mark in matching_marks(found, row, column):
            inside = mark.at - found.margin
            assert (inside >= 5.0 - 1e-9).all()
            assert (inside <= np.array(found.tile) - 5.0 + 1e-9).all()


def test_no_cross_points_to_a_page_that_is_not_printed() -> None:
    used = np.array([[True, False], [True, True]])
    found = PageGrid(options().paper, 10.0, 10.0, 2, 2, used)
    assert {mark.axis for mark in matching_marks(found, 0, 0)} == {1}


# -- placing panels ---------------------------------------------------------------------

SIZES = st.lists(
    st.tuples(st.floats(20, 420), st.floats(20, 600), st.floats(0.2, 0.8)), min_size=1, max_size=10
)
PAPERS_ = st.sampled_from(["a4", "letter", "105x148", "a3"])


def box(width: float, height: float, waist: float) -> FloatArray:
    return np.array([[-0.5 * width, -waist * height], [0.5 * width, (1.0 - waist) * height]])


def pieces(sizes: list[tuple[float, float, float]]) -> list[Footprint]:
    found = []
    for size in sizes:
        area = box(*size)
        (a, b), (c, d) = area
        found.append(Footprint(area, [np.array([(a, b), (c, b), (c, d), (a, d), (a, b)])]))
    return found


@given(SIZES, PAPERS_, st.booleans())
def test_panels_never_overlap_and_stay_on_the_sheet(
    sizes: list[tuple[float, float, float]], paper: str, together: bool
) -> None:
    footprints = pieces(sizes)
    arrange, _ = arrange_for_pages(
        footprints, options(paper), keep_together=together, plain_width=900.0
    )
    boxes = [piece.box for piece in footprints]
    places, width, height = arrange(boxes)
    placed = [area + place for area, place in zip(boxes, places, strict=True)]
    for k, one in enumerate(placed):
        assert (one[0] >= 0.0).all()
        assert (one[1] <= np.array([width, height]) + 1e-9).all()
        for other in placed[:k]:
            apart = np.maximum(one[0] - other[1], other[0] - one[1]).max()
            assert apart >= 5.0


@example([(347.7565988239301, 313.0, 0.2), (126.0305013464661, 82.07580348118219, 0.2)], "105x148")
@given(SIZES, PAPERS_)
def test_keep_together_puts_each_panel_on_the_fewest_pages_its_box_allows(
    sizes: list[tuple[float, float, float]], paper: str
) -> None:
    chosen = options(paper)
    footprints = pieces(sizes)
    arrange, turned = arrange_for_pages(footprints, chosen, keep_together=True, plain_width=900.0)
    boxes = [piece.box for piece in footprints]
    places, _, _ = arrange(boxes)
    needed = [
        shown_on(area + place, chosen, turned) for area, place in zip(boxes, places, strict=True)
    ]
    # A panel may happen to lie nearer to a page's border than one that is put there would, and so
    # on fewer pages; never on fewer than its size alone needs.
    assert all(
        fewest_pages(area, chosen, turned, clear=0.0)
        <= count
        <= fewest_pages(area, chosen, turned, clear=2.0)
        for area, count in zip(boxes, needed, strict=True)
    )
    # Nor would the paper the other way up have let them lie on fewer in all.
    other = sum(fewest_pages(area, chosen, not turned, clear=2.0) for area in boxes)
    assert sum(needed) <= other


def shown_on(area: FloatArray, chosen: PageOptions, turned: bool) -> int:
    """Pages needed to show a box where it lies, counted one by one."""
    pages = Pages.of(chosen.paper.turned() if turned else chosen.paper, chosen)
    count = 1
    for axis in (0, 1):
        low, high = area[:, axis]
        runs = [
            last - first + 1
            for first in range(60)
            for last in range(first, 60)
            if first * pages.step[axis] <= low + 1e-6
            and last * pages.step[axis] + pages.tile[axis] >= high - 1e-6
        ]
        count *= min(runs)
    return count


def fewest_pages(area: FloatArray, chosen: PageOptions, turned: bool, clear: float) -> int:
    """Pages that a box needs at the best place, its border kept so many mm from the page's."""
    pages = Pages.of(chosen.paper.turned() if turned else chosen.paper, chosen)
    count = 1
    for axis in (0, 1):
        size = float(area[1, axis] - area[0, axis]) + clear
        over = max(size - pages.tile[axis], 0.0)
        count *= 1 + int(np.ceil(over / pages.step[axis] - 1e-9))
    return count


@pytest.mark.parametrize("name", thinned(["hourglass", "fuller_figure"]))
@pytest.mark.parametrize(
    "paper",
    [
        "a4",
        *(pytest.param(p, marks=pytest.mark.slow) for p in ("letter", "a3", "tabloid", "160x210")),
    ],
)
@pytest.mark.slow
def test_the_choice_is_never_worse_than_the_cutting_file_s_layout(name: str, paper: str) -> None:
    job = sample_job(name)
    shifted = shift_job(job)
    layer = cut_layers(shifted)[0]
    parts = layer_parts(shifted, layer, job.plan)
    plain = compose("", [], parts, lambda boxes: rows(boxes, job.plan.sheet_width), headed=False)
    printed = print_job(job, options(paper), layers=[layer.fabric.name])[0].printed
    assert printed.grid is not None
    assert printed.grid.pages <= grid_for(plain, options(paper)).pages


def test_keep_together_cuts_fewer_panels_apart_than_the_fewest_pages_do() -> None:
    job = sample_job()
    counts = {}
    shifted = shift_job(job)
    parts = layer_parts(shifted, cut_layers(shifted)[0], job.plan)
    for together in (False, True):
        footprints = [
            Footprint(part.box(), drawn_lines(part.strokes, part.labels)) for part in parts
        ]
        arrange, turned = arrange_for_pages(
            footprints, options(), keep_together=together, plain_width=900.0
        )
        boxes = [piece.box for piece in footprints]
        counts[together] = sum(
            shown_on(area + place, options(), turned)
            for area, place in zip(boxes, arrange(boxes)[0], strict=True)
        )
    assert counts[True] < counts[False]


def test_order_from_centre_front_to_centre_back_is_kept() -> None:
    footprints = pieces([(100.0, 150.0, 0.5)] * 7)
    arrange, _ = arrange_for_pages(footprints, options(), keep_together=True, plain_width=900.0)
    places, _, _ = arrange([piece.box for piece in footprints])
    order = sorted(range(7), key=lambda k: (round(places[k][1]), places[k][0]))
    assert order == list(range(7))


def test_panels_that_would_take_too_many_pages_are_refused() -> None:
    with pytest.raises(PrintError, match=r"\d+ pages of a4"):
        arrange_for_pages(
            pieces([(30_000.0, 30_000.0, 0.5)]),
            options(),
            keep_together=False,
            plain_width=900.0,
        )


def test_panels_move_off_a_page_that_holds_only_a_little_of_them() -> None:
    """Rows of the cutting file's kind, with a corner of the last one over the border of a page."""
    # A4 upright shows 190 by 277 mm: three of 80 mm reach 14 mm into the second page's own part.
    footprints = pieces([(80.0, 100.0, 0.5), (80.0, 100.0, 0.5), (30.0, 290.0, 0.5)])
    places = [np.array([45.0, 55.0]), np.array([133.0, 55.0]), np.array([60.0, 260.0])]
    lines = [line + at for p, at in zip(footprints, places, strict=True) for line in p.lines]
    size = (370.0, 544.0)
    assert lay_grid(lines, size, options(), turned=False).pages == 2
    places[1] = np.array([170.0, 55.0])
    lines = [line + at for p, at in zip(footprints, places, strict=True) for line in p.lines]
    assert lay_grid(lines, size, options(), turned=False).pages == 3
    moved = cleared(places, footprints, size, options(), turned=False)
    lines = [line + at for p, at in zip(footprints, moved, strict=True) for line in p.lines]
    assert lay_grid(lines, size, options(), turned=False).pages == 2
    boxes = [p.box + at for p, at in zip(footprints, moved, strict=True)]
    for k, one in enumerate(boxes):
        for other in boxes[:k]:
            assert np.maximum(one[0] - other[1], other[0] - one[1]).max() >= 5.0


@pytest.mark.parametrize("together", [False, True])
def test_pages_in_one_long_row_are_avoided(together: bool) -> None:
    """Nine panels of a page's height were laid in a strip of 1 by 9."""
    footprints = pieces([(170.0, 250.0, 0.5)] * 9)
    arrange, turned = arrange_for_pages(
        footprints, options(), keep_together=together, plain_width=900.0
    )
    places, width, height = arrange([piece.box for piece in footprints])
    lines = [line + at for p, at in zip(footprints, places, strict=True) for line in p.lines]
    found = lay_grid(lines, (width, height), options(), turned=turned)
    assert min(found.columns, found.rows) > 1
    assert found.pages == 9
    # Asked for, it is one row or one column, of no more pages.
    asked = replace(options(), strip=True)
    arrange, turned = arrange_for_pages(
        footprints, asked, keep_together=together, plain_width=900.0
    )
    places, width, height = arrange([piece.box for piece in footprints])
    lines = [line + at for p, at in zip(footprints, places, strict=True) for line in p.lines]
    found = lay_grid(lines, (width, height), asked, turned=turned)
    assert min(found.columns, found.rows) == 1
    assert found.pages == 9
    with pytest.raises(PrintError, match="no single row or column"):
        arrange_for_pages(
            pieces([(300.0, 300.0, 0.5)]), asked, keep_together=together, plain_width=900.0
        )


@pytest.mark.parametrize(("rows", "columns"), [(1, 1), (2, 3), (5, 1)])
def test_what_is_taped_together_ends_where_its_last_page_does(rows: int, columns: int) -> None:
    used = np.ones((rows, columns), dtype=bool)
    grid = PageGrid(parse_paper("a4"), 7.0, 12.0, columns, rows, used)
    last = grid.corner(rows - 1, columns - 1) + grid.tile
    assert grid.taped == pytest.approx(tuple(last))


def test_the_cutting_file_s_own_layout_is_tried_though_its_boxes_look_worst() -> None:
    """Two slanting lines: boxes touch far more pages than the lines that are in them."""
    chosen, wide = options(), 1009.0
    footprints = []
    for half_wide, half_high, way in ((131.0, 204.0, 1), (107.0, 145.0, -1)):
        corner = np.array([half_wide, half_high])
        slant = np.array([[-way * half_wide, -half_high], [way * half_wide, half_high]])
        footprints.append(Footprint(np.stack([-corner, corner]), [slant]))
    boxes = [piece.box for piece in footprints]

    def pages(way: Arrange, turned: bool) -> int:
        places, width, height = way(boxes)
        lines = [one.lines[0] + place for one, place in zip(footprints, places, strict=True)]
        return lay_grid(lines, (whole_mm(width), whole_mm(height)), chosen, turned=turned).pages

    found, turned = arrange_for_pages(footprints, chosen, keep_together=False, plain_width=wide)
    assert pages(found, turned) == min(pages(rowed(wide), way) for way in (False, True)) == 3
