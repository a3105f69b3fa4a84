"""The swatch sheet: true scales, on one page that both A4 and Letter hold."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable
from functools import partial
from itertools import pairwise
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from lxml import etree

from panelshift.sheets.lettering import width
from panelshift.sheets.sheet import Label, Sheet, Stroke
from panelshift.swatch.strip_kinds import boned_sheet, pieces_sheet, sheet_bytes
from panelshift.swatch.strips import (
    DEFAULT_FORMERS_MM,
    SCALE_MM,
    short_length,
    strips_sheet,
    swatch_length,
)
from tests.support.terminal import run

pytestmark = pytest.mark.slow

SETS = [DEFAULT_FORMERS_MM, (30.0,), (400.0,), (90.0, 100.0, 101.6, 120.0, 140.0, 400.0)]


def box(label: Label) -> tuple[float, float, float, float]:
    """What a label covers on the sheet: left, top, right, bottom, by the printed font."""
    long, high = width(label.text) * label.size * (1.07 if label.bold else 1.0), 0.75 * label.size
    x, y = map(float, label.at)
    start = -0.5 * long if label.align == "middle" else 0.0
    if label.angle:
        return x - high, y - start - long, x, y - start
    return x + start, y - high, x + start + long, y


def horizontal(sheet: Sheet, kind: str) -> list[tuple[float, float, float]]:
    """Straight level strokes of a kind: y, left, right."""
    found = []
    for stroke in sheet.strokes:
        (x0, y0), (x1, y1) = stroke.curve.start, stroke.curve.end
        if stroke.kind == kind and len(stroke.curve) == 1 and y0 == y1:
            found.append((float(y0), float(min(x0, x1)), float(max(x0, x1))))
    return found


def sides(stroke: Stroke) -> np.ndarray:
    """Low and high corner of each straight piece of a stroke."""
    points = stroke.curve.flatten(0.1)
    return np.array([np.minimum(points[:-1], points[1:]), np.maximum(points[:-1], points[1:])])


def cut_boxes(sheet: Sheet) -> list[np.ndarray]:
    """Corners of the inner and the outer strip, left one first."""
    boxes = [s.curve.flatten(0.1) for s in sheet.strokes if s.kind == "cut-line"]
    return sorted(boxes, key=lambda points: points[:, 0].min())


KINDS = [
    *(partial(strips_sheet, formers) for formers in SETS),
    *(partial(boned_sheet, formers) for formers in ((80.0,), *SETS)),
    pieces_sheet,
]


@pytest.mark.parametrize("drawn", KINDS, ids=range(len(KINDS)))
def test_everything_lies_on_the_sheet(drawn: Callable[[], Sheet]) -> None:
    sheet = drawn()
    assert sheet.width <= 190.0
    assert sheet.height <= 259.0
    for stroke in sheet.strokes:
        points = stroke.curve.flatten(0.1)
        assert points.min() >= 0.0
        assert (points.max(axis=0) <= (sheet.width, sheet.height)).all()
    for label in sheet.labels:
        left, top, right, bottom = box(label)
        assert left >= -0.01, label.text
        assert top >= 0.0, label.text
        assert right <= sheet.width, label.text
        assert bottom <= sheet.height, label.text


@pytest.mark.parametrize("drawn", KINDS, ids=range(len(KINDS)))
def test_no_words_lie_on_each_other_or_on_lines(drawn: Callable[[], Sheet]) -> None:
    sheet = drawn()
    boxes = [(label.text, box(label)) for label in sheet.labels]
    for k, (first, a) in enumerate(boxes):
        for second, b in boxes[k + 1 :]:
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (first, second)
    low, high = np.concatenate([sides(stroke) for stroke in sheet.strokes], axis=1)
    for words, (left, top, right, bottom) in boxes:
        struck = (high > (left, top)).all(axis=1) & (low < (right, bottom)).all(axis=1)
        assert not struck.any(), (words, low[struck], high[struck])


@pytest.mark.parametrize("drawn", KINDS, ids=range(len(KINDS)))
def test_lines_keep_to_their_piece_and_its_ways(drawn: Callable[[], Sheet]) -> None:
    sheet = drawn()
    pieces = [(box.min(axis=0), box.max(axis=0)) for box in cut_boxes(sheet)]
    assert len(pieces) == 2
    for stroke in sheet.strokes:
        low, high = sides(stroke)
        assert ((high - low).min(axis=1) < 1e-9).all(), stroke.kind
        for start, end in pieces:
            within = ((low >= start - 1e-9) & (high <= end + 1e-9)).all()
            assert within or ((high <= start) | (low >= end)).any(axis=1).all(), stroke.kind
    for stroke in sheet.strokes:
        if stroke.kind == "grainlines":
            assert stroke.curve.start[0] == stroke.curve.end[0]
        if stroke.kind in ("stitch-line", "notches"):
            ends = sorted((stroke.curve.start[0], stroke.curve.end[0]))
            assert tuple(ends) in [(start[0], end[0]) for start, end in pieces]


@pytest.mark.parametrize("drawn", KINDS, ids=range(len(KINDS)))
def test_tables_are_to_be_written_in_below_all_words(drawn: Callable[[], Sheet]) -> None:
    sheet = drawn()
    rows = sorted(y for y, left, right in horizontal(sheet, "marks") if right - left > 50.0)
    assert np.diff(rows) == pytest.approx(np.full(len(rows) - 1, rows[1] - rows[0]))
    ends = {(left, right) for y, left, right in horizontal(sheet, "marks") if right - left > 50.0}
    upright = [
        (float(s.curve.start[0]), *sorted((float(s.curve.start[1]), float(s.curve.end[1]))))
        for s in sheet.strokes
        if s.kind == "marks" and s.curve.start[0] == s.curve.end[0] and s.curve.start[0] < 120.0
    ]
    assert ends == {(min(upright)[0], max(upright)[0])}
    # The row of words above goes across all columns.
    for x, top, bottom in upright:
        assert (top, bottom) == (rows[(min(upright)[0] < x < max(upright)[0])], rows[-1])
    assert len(upright) == 6
    # A line of handwriting: common practice, no source.
    assert rows[1] - rows[0] >= 6.0
    edge = cut_boxes(sheet)[0][:, 0].min()
    column = [label for label in sheet.labels if label.at[0] < edge]
    top = [label for label in column if rows[0] < label.at[1] < rows[1]]
    heads = [label for label in column if rows[1] < label.at[1] < rows[2]]
    assert len(heads) == 5
    for label, following in pairwise(sorted(top, key=lambda label: label.at[0])):
        # Room for a name, or for a number.
        assert following.at[0] - box(label)[2] > (5.0 if "thick" in following.text else 19.0)
    assert min(label.at[0] for label in top) == min(label.at[0] for label in heads) == 1.0
    above = [label for label in column if label.at[1] < rows[0]]
    assert max(float(label.at[1]) for label in above) < rows[0] - 1.0
    # Each step's number stands at its first line; steps are counted from 1 in each list.
    counted = [label for label in above if label.text.isdigit() and label.at[0] == 0.5]
    for number in counted:
        beside = [lb for lb in above if lb.at[1] == number.at[1] and lb is not number]
        assert [lb.at[0] for lb in beside] == [7.0]
    numbers = [int(label.text) for label in counted]
    assert numbers[0] == 1
    assert all(b in (a + 1, 1) for a, b in pairwise(numbers))
    assert max(numbers) >= 3
    # What can hurt is in bold.
    hurting = [label for label in column if re.search("pins counted|Count pins|sharp", label.text)]
    assert hurting
    assert all(label.bold for label in hurting)


@pytest.mark.parametrize("drawn", KINDS[:-1], ids=range(len(KINDS) - 1))
def test_words_of_the_left_column_stay_out_of_the_strips(drawn: Callable[[], Sheet]) -> None:
    sheet = drawn()
    edge = cut_boxes(sheet)[0][:, 0].min()
    for label in sheet.labels:
        left, _, right, _ = box(label)
        assert right < edge or left > edge, label.text


@pytest.mark.parametrize("formers", SETS)
def test_scales_are_true(formers: tuple[float, ...]) -> None:
    sheet = strips_sheet(formers)
    length = swatch_length(formers)
    inner, outer = cut_boxes(sheet)
    (pin, _, _), (pin2, _, _) = horizontal(sheet, "stitch-line")
    assert pin == pin2
    # The inner strip ends where the outer strip's overhang begins.
    assert inner[:, 1].max() - pin == pytest.approx(length)
    ((zero, _, _),) = horizontal(sheet, "notches")
    assert zero - pin == pytest.approx(length)
    ticks = horizontal(sheet, "marks")
    for left, start, count in (
        (inner[:, 0].min(), pin, length),
        (outer[:, 0].min(), zero, SCALE_MM),
    ):
        own = sorted(y - start for y, x0, x1 in ticks if x0 == left and x1 - x0 <= 7.0)
        assert own == pytest.approx(np.arange(count + 1), abs=1e-9)
    for right, start, reach, parts in (
        (inner[:, 0].max(), pin, length, 8),
        (outer[:, 0].max(), zero, SCALE_MM, 16),
    ):
        own = sorted(y - start for y, x0, x1 in ticks if x1 == right and x1 - x0 <= 7.0)
        steps = math.floor(reach / 25.4 * parts + 1e-9) + 1
        assert own == pytest.approx(np.arange(steps) * 25.4 / parts, abs=1e-9)
        # Longer at quarters, halves and whole inches, as on a ruler.
        reached = {round((y - start) / 25.4 * parts): x1 - x0 for y, x0, x1 in ticks if x1 == right}
        ranks = {1: set(), 2: set(), 4: set(), parts: set()}
        for k in range(steps):
            ranks[next(r for r in ranks if k * r % parts == 0)].add(round(reached[k], 6))
        kinds = [lengths for lengths in ranks.values() if lengths]
        assert all(len(lengths) == 1 for lengths in kinds)
        assert all(min(a) > max(b) for a, b in pairwise(kinds))


def test_numbers_stand_at_their_ticks() -> None:
    sheet = strips_sheet()
    ((zero, x0, _),) = horizontal(sheet, "notches")
    read = {
        label.text: float(label.at[1]) - 1.3 - zero
        for label in sheet.labels
        if label.text.isdigit() and x0 + 7.0 < label.at[0] < x0 + 9.0 and label.at[1] > zero
    }
    assert read == {str(k): pytest.approx(k) for k in range(5, 40, 5)}


@pytest.mark.parametrize(
    ("formers", "length"), [((80.0,), 180.0), ((60.0, 80.0), 160.0), ((30.0,), 80.0)]
)
def test_the_swatch_never_goes_round_its_smallest_former(
    formers: tuple[float, ...], length: float
) -> None:
    assert swatch_length(formers) == length
    assert length < math.pi * min(formers)


def test_letters_can_be_read_at_arms_length() -> None:
    # Capitals of 2.3 mm and more, as on the cutting sheets.
    assert min(label.size for label in strips_sheet().labels) >= 3.2


def test_the_table_says_what_a_millimetre_gives() -> None:
    words = [label.text for label in strips_sheet((60.0, 80.0)).labels]
    assert "80 mm (3.1 in)" in words
    assert "4.0 mm" in words
    assert "5.3 mm" in words
    assert any("160 mm" in text and "6.30 in" in text for text in words)


def test_pdf_is_one_page_for_a4_and_letter() -> None:
    with pikepdf.open(io.BytesIO(sheet_bytes(DEFAULT_FORMERS_MM, ".pdf"))) as document:
        (page,) = document.pages
        wide, high = (float(side) * 25.4 / 72 for side in list(page.mediabox)[2:])
    assert wide <= 210.0 + 1e-3
    assert high <= 279.4


def test_svg_is_true_size_and_the_same_each_time(tmp_path: Path) -> None:
    file = tmp_path / "sheet.svg"
    result = run("swatch", "--sheet", file, "--formers", "60, 3in")
    assert result.exit_code == 0
    assert "Print at 100 %" in result.stdout
    root = etree.fromstring(file.read_bytes())
    assert (root.get("width"), root.get("viewBox")) == ("190mm", "0 0 190 247")
    assert file.read_bytes() == sheet_bytes((76.19999999999999, 60.0, 60.0), ".svg")


def test_sheet_and_readings_in_one_go(tmp_path: Path) -> None:
    arguments = ("--inner", "a", "--outer", "b", "--reading", "80,180,5", "--inner-thickness", "1")
    result = run("swatch", "--sheet", tmp_path / "s.pdf", *arguments)
    assert result.exit_code == 0
    assert (tmp_path / "s.pdf").read_bytes().startswith(b"%PDF")
    assert "[[stack.measured]]" in result.stdout


def test_bones_lie_evenly_and_far_enough_apart() -> None:
    """On an 80 mm former 36 mm or more, half of it at the ends."""
    for formers, least in (((80.0,), 36.0), ((400.0,), 55.0)):
        sheet = boned_sheet(formers)
        ((pin, _, _), _) = horizontal(sheet, "stitch-line")
        at = sorted(y - pin for y, _, _ in horizontal(sheet, "bone-channels"))
        steps = np.diff([-at[0], *at, 2 * swatch_length(formers) - at[-1]])
        assert steps == pytest.approx(np.full(len(at) + 1, steps[0]))
        assert steps[0] >= least


def test_a_short_strip_is_at_most_half() -> None:
    for formers in SETS:
        length = swatch_length(formers)
        short = short_length(length)
        sheet = strips_sheet(formers)
        if short is None:
            assert length < 100.0
            continue
        assert 30.0 <= short <= 0.5 * length
        (label,) = [x for x in sheet.labels if x.text == "SHORT"]
        ((pin, _, _), _) = horizontal(sheet, "stitch-line")
        assert float(label.at[1]) + 1.4 - pin == pytest.approx(short)


def test_sheets_by_kind_on_the_command_line(tmp_path: Path) -> None:
    for kind in ("bones", "pieces"):
        assert run("swatch", "--sheet", tmp_path / f"{kind}.svg", "--strips", kind).exit_code == 0
    assert "BONE 4" in (tmp_path / "bones.svg").read_text()
    assert "SEAM STRIP" in (tmp_path / "pieces.svg").read_text()
