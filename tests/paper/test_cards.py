"""Strips as they are printed: found again on the page, in true size."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pytest
import shapely
from click.testing import CliRunner

from panelshift.cli import main
from panelshift.printing import PAPERS
from panelshift.printing.card_prints import _first_leaf, _picture
from panelshift.sheets.palette import STYLES
from panelshift.sheets.sheet import label_corners
from panelshift.sources.paper import cards
from panelshift.sources.paper.sightings import Picture, sightings
from tests.support.pixels import line_offsets, pdfium as pixels

DPI = 90.0


@pytest.fixture(scope="module", params=["letter", pytest.param("a4", marks=pytest.mark.slow)])
def printed(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("cards")
    done = CliRunner().invoke(main, ["cards", "--out", str(out), "--paper", request.param])
    assert done.exit_code == 0, done.output
    return out / f"cards_{request.param}.pdf"


def test_the_first_page_is_clear_and_its_picture_is_right() -> None:
    for paper in (PAPERS["a4"], PAPERS["letter"]):
        leaf = _first_leaf(paper)
        boxes = [shapely.Polygon(label_corners(label)) for label in leaf.labels]
        lines = [*(stroke.curve for stroke in leaf.strokes), *(line for _, line in leaf.samples)]
        low, high = 10.0, np.array([paper.width, paper.height]) - 10.0
        for k, (label, box) in enumerate(zip(leaf.labels, boxes, strict=True)):
            corners = label_corners(label)
            assert corners.min() >= low - 0.01
            assert (corners <= high + 1.0).all(), label.text
            assert not any(box.intersection(other).area > 1.0 for other in boxes[:k])
        assert all((c.vertices > low - 0.01).all() and (c.vertices < high).all() for c in lines)
        words = " ".join(label.text for label in leaf.labels)
        steps = [words.index(f" {k}. ") for k in range(1, 8)]
        assert steps == sorted(steps)
    picture = _picture()
    closed = [(s, shapely.Polygon(line.vertices)) for s, line in picture.samples if line.closed]
    panels = [area for style, area in closed if style is STYLES["stitch-line"]]
    strips = [area for style, area in closed if style is not STYLES["stitch-line"]]
    assert (len(panels), len(strips)) == (4, 7)
    every = [*panels, *strips]
    assert not any(a.intersects(b) for k, a in enumerate(every) for b in every[:k])
    waists = [line for style, line in picture.samples if style is STYLES["waistline"]]
    for panel, waist in zip(panels, waists, strict=True):
        for end in (waist.start, waist.end):
            assert panel.exterior.distance(shapely.Point(end)) < 1e-9
        assert panel.buffer(1e-9).covers(shapely.LineString([waist.start, waist.end]))
    rungs = [shapely.LineString(c.vertices) for _, c in picture.samples if not c.closed]
    for name, strip in zip(picture.labels, strips, strict=True):
        assert strip.contains(shapely.Polygon(label_corners(name)))
        assert strip.area == pytest.approx(54.0 * 13.5)
        # Eleven across and two along, as the squares of the strips lie.
        assert sum(strip.buffer(1e-6).covers(rung) for rung in rungs) == 13
    assert "".join(label.text for label in picture.labels) == "ABCDEFG"


def test_each_strip_has_its_letter_twice_and_a_cross_in_a_ring(printed: Path) -> None:
    paper = PAPERS["letter" if "letter" in printed.name else "a4"]
    page = pdfium.PdfDocument(printed)[1]
    text = page.get_textpage()
    step = cards.WIDTH_MM + 2.0 * cards.BORDER_MM
    top = 10.0 + cards.BORDER_MM
    found: dict[str, list[np.ndarray]] = {"A": [], "B": [], "C": []}
    for k in range(text.count_chars()):
        left, low, right, high = np.array(text.get_charbox(k)) * 25.4 / 72.0
        # Nor does the foot stand where printers leave the paper white.
        assert low > 10.0
        # The foot has smaller letters.
        if (letter := text.get_text_range(k, 1)) in found and right - left > 5.0:
            middle = np.array([0.5 * (left + right), paper.height - 0.5 * (low + high)])
            found[letter].append(middle)
    per_mm = 8.0
    (ink,) = pixels(printed.read_bytes(), per_mm, 2, 2)
    turns = np.linspace(0.0, 2.0 * np.pi, 60, endpoint=False)
    way = np.column_stack([np.cos(turns), np.sin(turns)])
    for place, letters in enumerate(found.values()):
        right = 0.5 * paper.width + (place - 0.5) * step - cards.BORDER_MM
        cross = np.array([right - cards.CROSS[1], top + cards.CROSS[0]])
        assert len(letters) == 2
        for at, share in zip(sorted(letters, key=lambda at: -at[0]), (0.2, 0.8), strict=True):
            # Its middle lies beside the cross, at a fifth of the width from either side.
            assert np.abs(at - (right - share * cards.WIDTH_MM, cross[1])).max() < 1.2
        # Off the arms of the cross.
        clear = np.abs(np.sin(2.0 * turns)) > 0.3
        ring = line_offsets(ink, per_mm, cross + 4.0 * way[clear], way[clear], 0.5)
        # The page is no whole number of pixels of 0.125 mm.
        assert np.abs(ring).max() < 0.14
        for arm in np.array([(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)]):
            along = np.array([1.0, 2.0, 3.0, 5.0])[:, None] * arm
            across = np.tile(arm[::-1], (4, 1))
            assert np.abs(line_offsets(ink, per_mm, cross + along, across, 0.4)).max() < 0.14


def test_all_nine_are_found_on_their_pages_in_true_size(printed: Path) -> None:
    document = pdfium.PdfDocument(printed)
    paper = PAPERS["letter" if "letter" in printed.name else "a4"]
    found = {}
    pages = len(document) if printed.name == "cards_a4.pdf" else 2
    for page in range(1, pages):
        image = document[page].render(scale=DPI / 72.0).to_numpy()[:, :, :3]
        # The picture has whole pixels, and the page is drawn as large as they.
        px = np.array(image.shape[1::-1]) / (paper.width, paper.height)
        for sighting in sightings(Picture("", np.ascontiguousarray(image)), page):
            found[sighting.name] = sighting.places, (sighting.pixels + 0.5) / px
    assert len(document) == 4
    assert "".join(found) == cards.NAMES[: 3 * (pages - 1)]
    for places, shown in found.values():
        assert len(places) == 22
        # The paper of a strip keeps clear of the 10 mm that printers leave white.
        right = shown[:, 0].max() + cards.SQUARE_MM + cards.BORDER_MM
        assert shown.min() - cards.SQUARE_MM - cards.BORDER_MM > 10.0
        assert right < paper.width - 10.0
        assert shown[:, 1].max() + cards.SQUARE_MM + cards.TAB_MM < paper.height - 10.0
        # A turn without a mirror, nowhere off by more than a fortieth of a millimetre.
        a, b = places - places.mean(axis=0), shown - shown.mean(axis=0)
        turn = np.array([[0.0, 1.0], [-1.0, 0.0]])
        assert np.abs(a @ turn - b).max() < 0.025


def test_no_two_strips_share_a_marker_and_the_dictionary_holds_all() -> None:
    numbers = [number for name in cards.NAMES for number in cards.markers(name)]
    assert len(set(numbers)) == len(numbers) == 162
    assert max(numbers) < cards.dictionary().bytesList.shape[0]


@pytest.mark.parametrize("name", ["A", "I"])
def test_boxes_cover_each_black_module_once(name: str) -> None:
    counts = np.zeros_like(cards.modules(name), dtype=int)
    for box in cards.black_boxes(name):
        x, y, wide, high = (round(value / cards.MODULE_MM) for value in box)
        counts[y : y + high, x : x + wide] += 1
    assert (counts == cards.modules(name)).all()
