"""Which side is which: neighbours, strips, the map and the order of pages, by geometry alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
import shapely

from panelshift.outline import Curve
from panelshift.printing.cover import map_labels, map_scale, plan_cover
from panelshift.printing.pages import _choices, _glue_lines, _trim_edges, page_labels
from panelshift.printing.sheet_prints import print_roll
from panelshift.printing.tiling import PageGrid, grid_for
from panelshift.sheets.palette import STYLES, TRIM_EDGE
from panelshift.sheets.sheet import Sheet, Stroke, label_corners
from tests.support.prints import options, sheet

USED = np.array([[True, True, False], [True, True, True], [False, True, True]])


@pytest.fixture
def grid() -> PageGrid:
    """Three by three pages, two of them blank, neither mirror nor turn the same."""
    return PageGrid(options().paper, 10.0, 12.0, 3, 3, USED)


def test_each_neighbour_is_named_on_the_side_on_which_it_is_taped(grid: PageGrid) -> None:
    names = {grid.name(r, c): (r, c) for r in range(3) for c in range(3)}
    middle = 0.5 * np.array([grid.paper.width, grid.paper.height])
    for (row, column), labels in page_labels(grid, "a title").items():
        found = {}
        for label in labels:
            corners = label_corners(label)
            assert corners.min() > grid.margin
            assert (corners < grid.margin + np.array(grid.tile)).all()
            if label.text == "a title":
                # Along a long side, as near to it as nothing is glued over it.
                assert label.angle == -0.5 * np.pi
                aside = min(label.at[0], grid.paper.width - label.at[0]) - grid.margin
                assert aside < grid.overlap + 10.0
                # In its second half: in the first stand the panels' names.
                assert label.at[1] > middle[1]
        for label in labels:
            name, _, rest = label.text.partition(" ")
            if name in names and name != grid.name(row, column):
                found[names[name]] = label
                assert (rest == "(blank)") == (not grid.used[names[name]]), label.text
                # From page to page, and from the page's middle to the name: one direction.
                way = grid.corner(*names[name]) - grid.corner(row, column)
                there = label.at - middle
                assert np.sign(way) @ np.sign(there) >= 1.0
                assert np.abs(there / grid.tile)[np.flatnonzero(way)] == pytest.approx(
                    0.48, abs=0.04
                )
                assert np.abs(there)[np.flatnonzero(way == 0.0)] == pytest.approx(0.0)
                # Along the edge; at both sides it is read from the right.
                assert label.angle == (-0.5 * np.pi if way[0] else 0.0)
        beside = {(row + 1, column), (row - 1, column), (row, column + 1), (row, column - 1)}
        assert found.keys() == beside & set(names.values())


@pytest.mark.parametrize("paper", ["a4", "90x400"])
def test_no_place_that_words_of_a_page_may_have_is_cut_off(paper: str) -> None:
    grid = PageGrid(options(paper).paper, 10.0, 12.0, 3, 3, USED)
    for row, column in grid.printed():
        for choices in _choices(grid, row, column, "a title", "a panel"):
            for label in choices:
                corners = label_corners(label) - grid.margin
                assert corners.min() >= 0.0, label
                assert (corners <= grid.tile).all(), label


def test_a_glue_line_lies_where_the_trimmed_edge_of_the_page_before_comes(grid: PageGrid) -> None:
    for row, column in grid.printed():
        lines = _glue_lines(grid, row, column)
        before = [
            (axis, place)
            for axis, place in ((0, (row, column - 1)), (1, (row - 1, column)))
            if min(place) >= 0 and grid.used[place]
        ]
        assert len(lines) == len(before)
        for (start, end), (axis, place) in zip(lines, before, strict=True):
            edge = (grid.corner(*place) + grid.tile - grid.corner(row, column))[axis]
            assert start[axis] == end[axis] == pytest.approx(grid.margin + edge)
            # All along the page.
            assert end[1 - axis] - start[1 - axis] == pytest.approx(grid.tile[1 - axis])


def test_the_edge_to_trim_is_drawn_where_a_page_follows_and_is_the_boldest_line(
    grid: PageGrid,
) -> None:
    for row, column in grid.printed():
        follow = [p for p in ((row, column + 1), (row + 1, column)) if max(p) < 3 and grid.used[p]]
        assert len(_trim_edges(grid, row, column)) == len(follow)
        # Where pages meet edge to edge nothing is trimmed.
        assert _trim_edges(replace(grid, margin=0.0, overlap=0.0), row, column) == []
    assert max(style.width for style in STYLES.values()) < TRIM_EDGE.width


def test_words_of_a_page_keep_clear_of_the_lines_that_it_shows(grid: PageGrid) -> None:
    """A line through the usual place of the name, the title and a neighbour's name."""
    usual = page_labels(grid, "a title")[1, 1]
    corner = grid.corner(1, 1) - grid.margin
    lines = [
        Stroke("cut-line", Curve.polyline([label.at + corner - 3.0, label.at + corner + 3.0]), "a")
        for label in usual
    ]
    moved = page_labels(grid, "a title", lines)[1, 1]
    assert [label.text for label in moved if label.text != "a"] == [lb.text for lb in usual]
    assert "a" in [label.text for label in moved], "the panel that the page shows"
    for label in moved:
        area = shapely.Polygon(label_corners(label) + corner)
        assert not any(area.intersects(shapely.LineString(s.curve.vertices)) for s in lines)


def test_words_of_a_page_keep_clear_of_the_words_on_its_sheet(grid: PageGrid) -> None:
    """A large word in the usual place of each: a box within it meets none of its edges."""
    usual = page_labels(grid, "a title")[1, 1]
    corner = grid.corner(1, 1) - grid.margin
    words = [replace(label, at=label.at + corner, size=1.2 * label.size) for label in usual]
    moved = page_labels(grid, "a title", words=words)[1, 1]
    assert [label.text for label in moved] == [label.text for label in usual]
    areas = [shapely.Polygon(label_corners(word)) for word in words]
    for label in moved:
        area = shapely.Polygon(label_corners(label) + corner)
        assert not any(area.intersects(other) for other in areas), label.text


def test_pages_come_row_by_row(grid: PageGrid) -> None:
    names = [grid.name(row, column) for row, column in grid.printed()]
    assert names == ["A1", "B1", "A2", "B2", "C2", "B3", "C3"]


def test_the_map_names_each_page_where_it_lies_and_printed_ones_in_bold(grid: PageGrid) -> None:
    scale, left, top = 0.2, 31.0, 47.0
    labels = {label.text: label for label in map_labels(grid, scale, left, top)}
    assert len(labels) == 9
    for row in range(3):
        for column in range(3):
            label = labels["ABC"[column] + "123"[row]]
            low = np.array([left, top]) + scale * grid.corner(row, column)
            middle = low + 0.5 * scale * np.array(grid.tile)
            assert np.abs(label.at - middle).max() < 0.5 * label.size
            assert label.bold == grid.used[row, column]


LISTED = [f"1 piece of silk, number {number}, to be cut on the fold" for number in range(12)]


@pytest.mark.parametrize("listed", [[], LISTED], ids=["", "listed"])
@pytest.mark.parametrize("paper", ["a4", "a3", "letter", "105x148", "90x400"])
def test_the_first_page_is_laid_out_clear_and_in_order(paper: str, listed: list[str]) -> None:
    whole = sheet(430.0, 560.0)
    grid = grid_for(whole, options(paper))
    cover = plan_cover(whole, grid, ["fabric: silk"], listed, pages=77, unit="in")
    low, high = np.array([grid.margin] * 2), grid.margin + np.array(grid.tile)
    texts: list[str] = []
    for leaf in cover.leaves:
        boxes = [shapely.Polygon(label_corners(label)) for label in leaf.labels]
        lines = [stroke.curve for stroke in leaf.strokes] + [curve for _, curve in leaf.samples]
        for k, (label, area) in enumerate(zip(leaf.labels, boxes, strict=True)):
            corners = label_corners(label)
            assert (corners >= low - 0.01).all(), label.text
            assert (corners <= high + 0.3 * label.size).all(), label.text
            for other in boxes[k + 1 :]:
                assert area.intersection(other).area < 0.25 * label.size, label.text
            assert not any(area.intersects(shapely.LineString(c.vertices)) for c in lines)
        for curve in lines:
            assert (curve.vertices >= low - 1e-9).all()
            assert (curve.vertices <= high + 1e-9).all()
        texts += [label.text for label in leaf.labels]
        # A sample stands before the name of its line, as high as its letters.
        names = {label.text: label for label in leaf.labels}
        for style, curve in leaf.samples:
            name = names[style.label]
            assert 1.0 < name.at[0] - curve.end[0] < 5.0
            assert curve.end[0] - curve.start[0] > 8.0
            assert 0.2 * name.size < name.at[1] - curve.start[1] < 0.5 * name.size
    shown = [style.label for leaf in cover.leaves for style, _ in leaf.samples]
    kinds = {STYLES[stroke.kind].label for stroke in whole.strokes}
    assert sorted(shown) == sorted({*kinds, *shown})
    assert sum(len(leaf.strokes) for leaf in cover.leaves) == 2
    assert cover.leaves[0].labels[0].text == whole.title
    assert cover.leaves[0].labels[0].bold
    said = " ".join(texts)
    parts = ["Print at 100 % (actual size)", "fabric: silk", "77 pages of ", "50 mm", "Sharp tools"]
    assert [said.find(part) for part in parts] == sorted(said.find(part) for part in parts)
    assert said.find(parts[0]) > 0
    for words in listed:
        assert words in said
    assert ("To cut" in texts) == bool(listed)
    # The map has the rest of the last page, and no word or line lies in it.
    x, y, across, down = cover.map_at
    room = shapely.box(x, y, x + across, y + down)
    assert low[0] <= x
    assert x + across <= high[0] + 1e-9
    assert y + down <= high[1] + 1e-9
    last = cover.leaves[-1]
    assert not any(room.intersects(shapely.Polygon(label_corners(lb))) for lb in last.labels)
    scale = map_scale(whole, grid, across, down)
    assert scale * whole.width <= across + 1e-9
    assert scale * whole.height <= down + 1e-9
    assert min(across, down) >= 32.0
    drawn = {label.text for label in cover.labels(whole, grid)}
    assert {grid.name(r, c) for r in range(grid.rows) for c in range(grid.columns)} <= drawn


def test_the_map_has_room_on_paper_of_any_shape() -> None:
    """A tall sheet on narrow paper, where there is room for a sliver beside the words."""
    whole = sheet(120.0, 900.0)
    for wide in (140, 152, 164, 176):
        grid = grid_for(whole, options(f"{wide}x240"), turned=False)
        cover = plan_cover(whole, grid, ["fabric: silk"])
        assert min(cover.map_at[2:]) >= 32.0


@pytest.mark.parametrize("overlap", [0.0, 10.0, 15.0])
@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("pages", [1, 2, 3])
def test_what_lies_only_in_the_last_strip_of_the_last_page_is_printed(
    overlap: float, axis: int, pages: int
) -> None:
    chosen = options(overlap=overlap)
    bare = PageGrid(chosen.paper, chosen.margin, overlap, 1, 1, np.ones((1, 1), dtype=bool))
    end = (pages - 1) * bare.step[axis] + bare.tile[axis]
    at = np.array([20.0, 20.0])
    # One millimetre before the sheet's end: all that there is on the last page.
    at[axis] = end - 1.0
    size = np.array([30.0, 30.0])
    size[axis] = end
    along = np.eye(2)[1 - axis]
    line = Curve.polyline([at, at + 5.0 * along])
    whole = Sheet("strip", float(size[0]), float(size[1]), (Stroke("cut-line", line, "1"),), ())
    found = grid_for(whole, chosen, turned=False)
    last = [0, 0]
    last[1 - axis] = pages - 1
    assert found.printed() == [tuple(last)]


def test_fewer_pages_are_taken_of_both_ways_to_lay_the_paper() -> None:
    """A strip of 270 mm by 100 fits one A4 page on its side (277 by 190) and two upright."""
    box = Curve.polyline([(1, 1), (270, 1), (270, 100), (1, 100)], closed=True)
    whole = Sheet("wide", 271.0, 101.0, (Stroke("cut-line", box, "1"),), ())
    assert [grid_for(whole, options(), turned=side).pages for side in (False, True)] == [2, 1]
    assert grid_for(whole, options()).pages == 1
    tall = Sheet("tall", 101.0, 271.0, (Stroke("cut-line", turned(box), "1"),), ())
    assert grid_for(tall, options()).pages == 1


def turned(curve: Curve) -> Curve:
    return curve.transformed(np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0]]))


@pytest.mark.parametrize("margin", [5.0, 25.0])
def test_a_roll_leaves_its_margin_below_the_last_line(margin: float) -> None:
    """The lowest letter's box, as another program reads it from the file."""
    printed = print_roll(replace(sheet(), labels=()), options("roll:914", margin=margin))
    document = pypdfium2.PdfDocument(printed.data)
    text = document[0].get_textpage()
    lowest = min(text.get_charbox(k)[1] for k in range(text.count_chars()))
    document.close()
    # A user unit may be more than a point; the page's own height tells.
    assert lowest * printed.size[1] / page_height(printed.data) >= margin - 0.1


def page_height(data: bytes) -> float:
    document = pypdfium2.PdfDocument(data)
    height = document[0].get_height()
    document.close()
    return float(height)


@pytest.mark.parametrize("paper", ["a4", "letter", "a4-letter", "150x200"])
@pytest.mark.parametrize("turned", [False, True])
def test_every_line_is_on_a_page_to_the_last_strip(paper: str, turned: bool) -> None:
    """A line round the sheet's very edge: a grid without its last strip would lose a side of it."""
    for wide, high in ((203.0, 290.0), (391.0, 551.5), (1234.0, 777.0)):
        edge = [(0.4, 0.4), (wide - 0.4, 0.4), (wide - 0.4, high - 0.4), (0.4, high - 0.4)]
        one = Sheet(
            "edge", wide, high, (Stroke("cut-line", Curve.polyline(edge, closed=True)),), ()
        )
        grid = grid_for(one, options(paper), turned=turned)
        points = shapely.points(
            shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(edge), 1.0))
        )
        windows = [
            shapely.box(*corner, *(corner + np.array(grid.tile)))
            for corner in (grid.corner(*place) for place in grid.printed())
        ]
        assert shapely.covers(shapely.unary_union(windows), points).all()
        assert grid.taped >= (wide - 1.0, high - 1.0)
        # Names on the map run to the right and down as the pages lie.
        labels = map_labels(grid, 0.1, 0.0, 0.0)
        at = {label.text: label.at for label in labels}
        for row in range(grid.rows):
            for column in range(grid.columns - 1):
                step = at[grid.name(row, column + 1)] - at[grid.name(row, column)]
                assert step == pytest.approx([0.1 * grid.step[0], 0.0])
        for row in range(grid.rows - 1):
            step = at[grid.name(row + 1, 0)] - at[grid.name(row, 0)]
            assert step == pytest.approx([0.0, 0.1 * grid.step[1]])
