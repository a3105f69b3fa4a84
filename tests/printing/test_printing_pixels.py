"""What a maker sees and measures on paper, from pixels: at 600 dpi, and once more coarsely."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.ndimage import maximum_filter

from panelshift.cutting.layer_sheets import layer_sheet
from panelshift.cutting.plan import cut_layers
from panelshift.job.result import shift_job
from panelshift.outline import FloatArray
from panelshift.printing.pages import MatchingMark, matching_marks
from panelshift.printing.sheet_prints import Printed, print_tiles
from panelshift.printing.tiling import PageGrid
from panelshift.sheets.palette import STYLES
from panelshift.sheets.sheet import Sheet
from tests.support.pixels import curve_points, line_offsets, only, pdfium, without
from tests.support.prints import options, sample_job

BOUND_MM = 0.1
DPI = [
    pytest.param("hourglass", 200.0, id="hourglass, 200 dpi"),
    pytest.param("hourglass", 600.0, id="hourglass, 600 dpi", marks=pytest.mark.slow),
    pytest.param("fuller_figure", 301.0, id="fuller figure, 301 dpi", marks=pytest.mark.slow),
]


@cache
def printed_sample(name: str) -> tuple[Sheet, Printed]:
    """The outermost layer of a sample without the draft's own words, on A4."""
    job = sample_job(name)
    shifted = shift_job(job)
    sheet = layer_sheet(shifted, cut_layers(shifted)[-1], job.plan, headed=False)
    labels = tuple(label for label in sheet.labels if not label.drafted)
    whole = replace(sheet, labels=labels)
    return whole, print_tiles(whole, options(), [])


def pages_of(printed: Printed, dpi: float) -> list[tuple[tuple[int, int], int]]:
    """Row and column with the number of the page; only the first few where it need be quick."""
    grid = printed.grid
    assert grid is not None
    first = printed.pages - grid.pages + 1
    every = [(place, first + k) for k, place in enumerate(grid.printed())]
    return every if dpi > 300.0 else every[:4]


def mark_at(ink: FloatArray, per_mm: float, mark: MatchingMark) -> FloatArray:
    """Where the lines of a cross really are, in page mm, looked for round where it should be."""
    along = np.array([1.0, 0.0] if mark.axis == 0 else [0.0, 1.0])
    beside = along[::-1]
    # On the long arm within the ring, and on the short one beside it, clear of other marks.
    found = mark.at.copy()
    for direction, normal, at in ((along, beside, 3.2), (beside, along, 2.2)):
        points = mark.at + np.array([[at], [-at]]) * direction
        offsets = line_offsets(ink, per_mm, points, np.tile(normal, (2, 1)), reach=0.7)
        found += float(np.nanmean(offsets)) * normal
    return found


@pytest.mark.parametrize(("name", "dpi"), DPI)
@pytest.mark.slow
def test_pages_laid_together_by_their_own_crosses_carry_every_line_on(
    name: str, dpi: float
) -> None:
    sheet, printed = printed_sample(name)
    grid, per_mm = printed.grid, dpi / 25.4
    assert grid is not None
    pages = dict(pages_of(printed, dpi))
    lines, marks = only(printed.data, "cut line"), only(printed.data, "page marks")
    measured = 0
    for (row, column), number in pages.items():
        for r, c, axis in ((row, column + 1, 0), (row + 1, column, 1)):
            if (r, c) not in pages:
                continue
            here, there = shared_marks(grid, (row, column), (r, c), axis)
            on_one, on_two = (
                np.array([mark_at(ink, per_mm, mark) for mark in own])
                for own, page in ((here, number), (there, pages[r, c]))
                for ink in pdfium(marks, per_mm, page, page)
            )
            moves = on_one - on_two
            # Both crosses of the edge ask for one move.
            assert np.ptp(moves, axis=0).max() < BOUND_MM
            apart = carried_on(
                sheet,
                grid,
                lines,
                per_mm,
                number,
                pages[r, c],
                (row, column),
                moves.mean(axis=0),
                axis,
            )
            # A strip between two panels holds no line.
            assert np.isfinite(apart).all()
            assert np.abs(apart).max(initial=0.0) < BOUND_MM
            measured += len(apart)
    assert measured > 10


def shared_marks(
    grid: PageGrid, one: tuple[int, int], two: tuple[int, int], axis: int
) -> tuple[list[MatchingMark], list[MatchingMark]]:
    """Crosses at the end of one page and at the beginning of the next."""
    half = 0.5 * np.array(grid.tile) + grid.margin
    here = [m for m in matching_marks(grid, *one) if m.axis == axis and m.at[axis] > half[axis]]
    there = [m for m in matching_marks(grid, *two) if m.axis == axis and m.at[axis] < half[axis]]
    assert len(here) == len(there) == 2
    return here, there


def carried_on(
    sheet: Sheet,
    grid: PageGrid,
    lines: bytes,
    per_mm: float,
    one: int,
    two: int,
    place: tuple[int, int],
    move: FloatArray,
    axis: int,
) -> FloatArray:
    """How far lines on two pages lie from each other in their common strip, in mm."""
    (first,), (second,) = pdfium(lines, per_mm, one, one), pdfium(lines, per_mm, two, two)
    found = []
    for stroke in (stroke for stroke in sheet.strokes if stroke.kind == "cut-line"):
        points, normals = curve_points(stroke.curve, 60)
        at = points - grid.corner(*place) + grid.margin
        end = grid.margin + np.array(grid.tile)
        inside = (at[:, axis] > end[axis] - grid.overlap + 1.5) & (at[:, axis] < end[axis] - 1.5)
        inside &= (at > grid.margin + 1.5).all(axis=1) & (at < end - 1.5).all(axis=1)
        if inside.any():
            a = line_offsets(first, per_mm, at[inside], normals[inside])
            b = line_offsets(second, per_mm, at[inside] - move, normals[inside])
            found.append(a - b)
    return np.concatenate(found) if found else np.zeros(0)


@pytest.mark.slow
@pytest.mark.parametrize(("name", "dpi"), DPI)
def test_no_letter_touches_a_line(name: str, dpi: float) -> None:
    _, printed = printed_sample(name)
    per_mm = dpi / 25.4
    words, lines = only(printed.data, "labels"), without(printed.data, "labels", "page marks")
    seen = 0.0
    for _, page in pages_of(printed, dpi):
        (letters,), (drawn,) = pdfium(words, per_mm, page, page), pdfium(lines, per_mm, page, page)
        near = maximum_filter(drawn > 0.2, size=2 * round(0.1 * per_mm) + 1)
        assert not (near & (letters > 0.2)).any()
        seen += letters.mean()
    assert seen > 0.002


@pytest.mark.slow
@pytest.mark.parametrize(("name", "dpi"), DPI)
def test_notches_run_from_the_stitch_line_to_the_cut_edge_on_paper(name: str, dpi: float) -> None:
    sheet, printed = printed_sample(name)
    grid, per_mm = printed.grid, dpi / 25.4
    assert grid is not None
    notches, cuts = only(printed.data, "notches"), only(printed.data, "cut line")
    count = 0
    for (row, column), page in pages_of(printed, dpi):
        (ink,), (edge,) = pdfium(notches, per_mm, page, page), pdfium(cuts, per_mm, page, page)
        for stroke in (stroke for stroke in sheet.strokes if stroke.kind == "notches"):
            ends = np.array([stroke.curve.start, stroke.curve.end])
            ends = ends - grid.corner(row, column) + grid.margin
            low, high = grid.margin + 2.0, grid.margin + np.array(grid.tile) - 2.0
            size = float(np.hypot(*(ends[1] - ends[0])))
            # Those of the draft, which begin at the stitch line, are no longer than 5 mm.
            if size < 7.0 or not ((ends > low) & (ends < high)).all():
                continue
            out = (ends[1] - ends[0]) / size
            # How far the ink of the notch goes on, its round end taken off.
            steps = np.arange(-2.0, 2.0, 0.2 / per_mm)
            at = ends[1] + steps[:, None] * out
            dark = ink[tuple(np.clip((at * per_mm).astype(int).T[::-1], 0, None))] > 0.5
            reach = float(steps[dark].max()) - 0.5 * STYLES["notches"].width
            (line,) = line_offsets(edge, per_mm, ends[1:], out[None])
            # What a pixel cannot tell is not counted.
            assert abs(reach - line) < BOUND_MM + 0.7 / per_mm
            count += 1
    assert count >= 4
