"""Strips as they are printed: found again on the page, in true size."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pytest
from click.testing import CliRunner

from panelshift.cli import main
from panelshift.printing import PAPERS
from panelshift.sources.paper import cards
from panelshift.sources.paper.sightings import Picture, sightings

DPI = 90.0


@pytest.fixture(scope="module", params=["a4", "letter"])
def printed(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("cards")
    done = CliRunner().invoke(main, ["cards", "--out", str(out), "--paper", request.param])
    assert done.exit_code == 0, done.output
    return out / f"cards_{request.param}.pdf"


@pytest.mark.slow
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
