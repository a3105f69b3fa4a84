"""Printed pages measured in the pixels of two renderers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from lxml import etree
from scipy.ndimage import maximum_filter
from svgpathtools import parse_path

from panelshift.job import cut
from panelshift.outline import Curve, FloatArray
from panelshift.printing.drawing_prints import print_file, sheet_of_drawing
from panelshift.printing.sheet_prints import Printed, print_roll, print_tiles
from panelshift.sources.svg import read_svg
from tests.support.examples import thinned
from tests.support.pixels import (
    RENDERERS,
    Render,
    curve_points,
    line_offsets,
    only,
    pdfium,
    without,
)
from tests.support.prints import options, sample_job, sheet, squares_sheet

PER_MM = 10.0
BOUND_MM = 0.1
"""What the issue asks for; errors of 0.02 mm and less are measured."""


def square_sides(ink: FloatArray, left: float, top: float, size: float) -> list[float]:
    """Distance in mm between the opposite sides of a drawn square, in both directions."""
    low, high = 0.12 * size, 0.88 * size
    x, y = left + 0.5 * size, top + 0.5 * size
    sides = []
    for a, b in (
        ((left, top + low), (left + size, top + high)),
        ((left + low, top), (left + high, top + size)),
    ):
        normal = np.array([[1.0, 0.0]] if a[0] == left else [[0.0, 1.0]])
        at = [
            line_offsets(ink, PER_MM, np.array([point]), normal)[0]
            for point in ((a[0], a[1]), (b[0], b[1]))
        ]
        sides.append(size + at[1] - at[0])
    assert x > left
    assert y > top
    return sides


@pytest.mark.parametrize("render", RENDERERS)
@pytest.mark.parametrize("paper", ["a4", "letter", "105x148"])
def test_test_squares_measure_50_mm_and_2_in(render: Render, paper: str) -> None:
    printed = print_tiles(sheet(), options(paper), ["about"])
    data = only(printed.data, "test squares")
    grid = printed.grid
    assert grid is not None
    covers = render(data, PER_MM, 1, printed.pages - grid.pages)
    page = next(ink for ink in covers if dark_lines(ink) >= 4)
    left, top = first_ink(page)
    for size, offset in ((50.0, 0.0), (50.8, 58.0)):
        sides = square_sides(page, left + offset, top, size)
        assert sides == pytest.approx([size, size], abs=BOUND_MM)


def dark_lines(ink: FloatArray) -> int:
    """Columns of pixels that hold a line of at least 40 mm."""
    return int(((ink > 0.5).sum(axis=0) > 40.0 * PER_MM).sum())


def first_ink(ink: FloatArray) -> tuple[float, float]:
    """Middle of the left and top lines of the square that stands leftmost, in mm."""
    column = np.flatnonzero((ink > 0.5).sum(axis=0) > 40.0 * PER_MM)[0]
    side = ink[:, column : column + round(49.0 * PER_MM)] > 0.5
    row = np.flatnonzero(side.mean(axis=1) > 0.95)[0]
    return (column + 0.5 * STROKE_PIXELS) / PER_MM, (row + 0.5 * STROKE_PIXELS) / PER_MM


STROKE_PIXELS = 0.4 * PER_MM


def test_a_page_printed_at_99_per_cent_is_found_out() -> None:
    printed = print_tiles(sheet(), options(), ["about"])
    data = only(printed.data, "test squares")
    page = pdfium(data, 0.99 * PER_MM, 1, 1)[0]
    left, top = first_ink(page)
    assert abs(square_sides(page, left, top, 50.0)[0] - 50.0) > BOUND_MM


def worst_offset(
    printed: Printed, curve: Curve, render: Render, title: str, reach: float = 1.0
) -> tuple[float, int]:
    """Largest distance in mm of a printed curve from the sheet's, and points measured."""
    grid = printed.grid
    assert grid is not None
    inks = render(only(printed.data, title), PER_MM, printed.pages - grid.pages + 1)
    points, normals = curve_points(curve)
    worst, count = 0.0, 0
    for (row, column), ink in zip(grid.printed(), inks, strict=True):
        at = points - grid.corner(row, column)
        inside = ((at > 2.0) & (at < np.array(grid.tile) - 2.0)).all(axis=1)
        found = line_offsets(ink, PER_MM, at[inside] + grid.margin, normals[inside], reach)
        found = found[np.isfinite(found)]
        worst = max(worst, float(np.abs(found).max(initial=0.0)))
        count += len(found)
    return worst, count


@pytest.mark.parametrize("render", RENDERERS)
@pytest.mark.parametrize("place", [0, 1])
def test_cut_lines_lie_where_the_sheet_has_them(render: Render, place: int) -> None:
    whole = sheet()
    # The other panel's line would lie within reach at no point, but leave no doubt.
    one = replace(whole, strokes=(whole.strokes[place],), labels=())
    worst, count = worst_offset(
        print_tiles(one, options(), []), one.strokes[0].curve, render, "cut line"
    )
    assert count > 20
    assert worst < BOUND_MM


@pytest.mark.parametrize("render", RENDERERS)
def test_a_cutting_file_prints_at_the_size_its_own_path_data_says(
    render: Render, tmp_path: Path
) -> None:
    name, content = next(iter(cut(sample_job()).drawings.items()))
    file = tmp_path / name
    file.write_bytes(content)
    printed = print_file(file, options()).printed
    again = sheet_of_drawing(read_svg(file), "")
    # svgpathtools reads the path data itself: a cutting file has no transform on its paths.
    group = etree.fromstring(content).find(".//{*}g[@id='cut-line']")
    assert group is not None
    drawn = [parse_path(path.get("d", "")) for path in group]
    shift = again.strokes[0].curve.start - np.array([drawn[0].start.real, drawn[0].start.imag])
    grid = printed.grid
    assert grid is not None
    per_mm = 6.0
    inks = render(only(printed.data, "cut line"), per_mm, printed.pages - grid.pages + 1)
    worst, count = 0.0, 0
    for path in drawn:
        s = [(segment.point(t), segment.unit_tangent(t)) for segment in path for t in (0.3, 0.7)]
        points = np.array([[p.real, p.imag] for p, _ in s]) + shift
        normals = np.array([[-t.imag, t.real] for _, t in s])
        for (row, column), ink in zip(grid.printed(), inks, strict=True):
            at = points - grid.corner(row, column)
            inside = ((at > 2.0) & (at < np.array(grid.tile) - 2.0)).all(axis=1)
            if inside.any():
                found = line_offsets(ink, per_mm, at[inside] + grid.margin, normals[inside])
                worst = max(worst, float(np.nanmax(np.abs(found))))
                count += int(np.isfinite(found).sum())
    assert count > 100
    assert worst < BOUND_MM


@pytest.mark.slow
@pytest.mark.parametrize("render", RENDERERS)
def test_a_roll_is_at_true_size(render: Render) -> None:
    whole = squares_sheet()
    printed = print_roll(whole, options("roll:450", margin=12.0))
    ink = render(only(printed.data, "test squares"), PER_MM)[0]
    assert np.array(ink.shape[::-1]) / PER_MM == pytest.approx(printed.size, abs=0.11)
    for size, left in ((50.0, 27.0), (50.8, 85.0)):
        assert square_sides(ink, left, 27.0, size) == pytest.approx([size, size], abs=BOUND_MM)
    line = render(only(printed.data, "stitch line"), PER_MM)[0]
    points, normals = curve_points(next(s for s in whole.strokes if s.kind == "stitch-line").curve)
    found = line_offsets(line, PER_MM, points + 12.0, normals)
    assert np.isfinite(found).sum() > 10
    assert np.nanmax(np.abs(found)) < BOUND_MM


UNION = [
    ("a4", 10.0, 10.0, 5.0),
    ("160x210", 5.0, 0.0, 5.0),
    *(
        pytest.param(*more, marks=pytest.mark.slow)
        for more in (
            ("a4", 10.0, 0.0, 5.0),
            ("a4", 5.0, 15.0, 5.0),
            ("letter", 10.0, 10.0, 10.0),
            ("160x210", 10.0, 15.0, 5.0),
        )
    ),
]


def page_windows(
    printed: Printed, per_mm: float, render: Render, *off: str
) -> dict[tuple[int, int], FloatArray]:
    """What each tile shows between its margins, some layers switched off."""
    grid = printed.grid
    assert grid is not None
    inks = render(without(printed.data, *off), per_mm, printed.pages - grid.pages + 1)
    m = round(grid.margin * per_mm)
    across, down = (round(side * per_mm) for side in grid.tile)
    return {
        place: ink[m : m + down, m : m + across]
        for place, ink in zip(grid.printed(), inks, strict=True)
    }


def joined(
    printed: Printed, windows: dict[tuple[int, int], FloatArray], step_error: float = 0.0
) -> tuple[FloatArray, float]:
    """All tiles laid on the taped sheet, and the most by which two disagree where they lap."""
    grid = printed.grid
    assert grid is not None
    per_mm = next(iter(windows.values())).shape[1] / grid.tile[0]
    columns, rows = (round(side * per_mm) for side in grid.taped)
    result = np.full((rows, columns), np.nan)
    disagree = 0.0
    for (row, column), ink in windows.items():
        x, y = (round(v * per_mm) for v in grid.corner(row, column))
        x += round(column * step_error * per_mm)
        part = result[y : y + ink.shape[0], x : x + ink.shape[1]]
        ink = ink[: part.shape[0], : part.shape[1]]
        known = np.isfinite(part)
        disagree = max(disagree, float(np.abs(part[known] - ink[known]).max(initial=0.0)))
        part[~known] = ink[~known]
    return np.nan_to_num(result), disagree


def whole_ink(per_mm: float, render: Render, like: FloatArray, *off: str) -> FloatArray:
    """The sheet alone, as one page, on as much paper as the taped pages make."""
    printed = print_roll(squares_sheet(), options("roll:420", margin=10.0))
    ink = render(without(printed.data, *off), per_mm)[0]
    m = round(10.0 * per_mm)
    ink = ink[m : m + round(300.0 * per_mm), m : m + round(400.0 * per_mm)]
    result = np.zeros(np.maximum(like.shape, ink.shape))
    result[: ink.shape[0], : ink.shape[1]] = ink
    return result


@pytest.mark.parametrize("render", RENDERERS)
@pytest.mark.parametrize(("paper", "margin", "overlap", "per_mm"), UNION)
@pytest.mark.slow
def test_the_taped_pages_are_the_whole_sheet(
    render: Render, paper: str, margin: float, overlap: float, per_mm: float
) -> None:
    """No strip of any line is missing, none is there twice: pixel by pixel."""
    printed = print_tiles(squares_sheet(), options(paper, margin, overlap), ["about"])
    windows = page_windows(printed, per_mm, render, "page marks", "labels")
    taped, disagree = joined(printed, windows)
    whole = whole_ink(per_mm, render, taped, "page marks", "labels")
    assert len(windows) >= 3
    assert whole.mean() > 0.003
    assert disagree < 0.02
    taped = padded(taped, whole)
    if render is pdfium:
        assert np.abs(taped - whole).max() < 0.02
    # Poppler sets edges on whole pixels, where a line half way between two may go either way.
    assert (whole - spread(taped)).max() < 0.5
    assert (taped - spread(whole)).max() < 0.5


@pytest.mark.parametrize("render", RENDERERS)
@pytest.mark.parametrize(("paper", "overlap"), thinned([("160x210", 0.0), ("a4", 10.0)]))
@pytest.mark.slow
def test_the_taped_pages_hold_every_letter(render: Render, paper: str, overlap: float) -> None:
    printed = print_tiles(squares_sheet(), options(paper, 10.0, overlap), ["about"])
    taped, _ = joined(printed, page_windows(printed, 5.0, render, "page marks"))
    whole = whole_ink(5.0, render, taped, "page marks")
    taped = padded(taped, whole)
    # One renderer sets letters on whole pixels, which may fall out differently page by page.
    assert (whole - spread(taped)).max() < 0.5
    assert (taped - spread(whole)).max() < 0.5
    lines = whole_ink(5.0, render, taped, "page marks", "labels")
    assert (whole - spread(lines)).max() > 0.9, "there are letters to be seen"


def padded(taped: FloatArray, whole: FloatArray) -> FloatArray:
    result = np.zeros_like(whole)
    result[: taped.shape[0], : taped.shape[1]] = taped
    return result


def spread(ink: FloatArray) -> FloatArray:
    """The darkest of each pixel and its neighbours."""
    return np.asarray(maximum_filter(ink, size=3))


@pytest.mark.slow
def test_a_strip_too_many_or_a_page_too_few_is_found_out() -> None:
    printed = print_tiles(squares_sheet(), options(), ["about"])
    windows = page_windows(printed, 5.0, pdfium, "page marks")
    taped, disagree = joined(printed, windows, step_error=1.0)
    whole = whole_ink(5.0, pdfium, taped, "page marks")
    shape = tuple(np.minimum(taped.shape, whole.shape))
    assert disagree > 0.5
    assert np.abs(taped[: shape[0], : shape[1]] - whole[: shape[0], : shape[1]]).max() > 0.5
    windows.pop(next(iter(windows)))
    fewer, _ = joined(printed, windows)
    assert np.abs(fewer[: shape[0], : shape[1]] - whole[: shape[0], : shape[1]]).max() > 0.5


@pytest.mark.parametrize("render", RENDERERS)
def test_squares_stand_below_each_other_on_narrow_paper(render: Render) -> None:
    """Paper 72 mm wide leaves 52 mm, which is room for either square alone."""
    narrow = options("72x150", margin=10.0, overlap=10.0)
    printed = print_tiles(replace(sheet(), labels=()), narrow, [], turned=False)
    grid = printed.grid
    assert grid is not None
    data = only(printed.data, "test squares")
    found = []
    for ink in render(data, PER_MM, 1, printed.pages - grid.pages):
        # Columns with a line of 40 mm are the upright sides of squares.
        columns = np.flatnonzero((ink > 0.5).sum(axis=0) > 40.0 * PER_MM)
        if len(columns):
            ends = ink_ends(ink[:, columns[0] + 1])
            found += [high - low for low, high in ends if high - low > 40.0]
    assert sorted(found) == pytest.approx([50.4, 51.2], abs=BOUND_MM)


def ink_ends(column: FloatArray) -> list[tuple[float, float]]:
    """Where runs of ink begin and end along a column of pixels, in mm."""
    dark = np.concatenate([[False], column > 0.5, [False]])
    edges = np.flatnonzero(dark[1:] != dark[:-1]) / PER_MM
    return [(float(a), float(b)) for a, b in edges.reshape(-1, 2)]
