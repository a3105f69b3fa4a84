"""From pictures of a paper to a drawing, by the command."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result
from scipy.spatial import cKDTree

from panelshift.cli import main
from panelshift.errors import PhotoError
from panelshift.outline import FloatArray
from panelshift.sources.drawings import read_drawing
from panelshift.sources.paper import cards
from panelshift.sources.paper.above import _lines, _refuse_uneven, _shifts, rectify
from panelshift.sources.paper.beyond import closed_beyond
from panelshift.sources.paper.doubts import Doubts
from panelshift.sources.paper.light import Evened
from panelshift.sources.paper.placing import Placed
from panelshift.sources.paper.rectified import PIXEL_MM, opencv
from panelshift.sources.paper.sightings import read_picture
from tests.paper.drawn_paper import (
    FLAT,
    INK,
    PENCIL,
    USED,
    Draft,
    Pen,
    Stroke,
    drawn,
    one_panel,
    resampled,
)
from tests.paper.photographed import (
    TWO_VIEWS,
    Bumps,
    Laid,
    laid_round,
    on_paper,
    photograph,
    scene,
    shots,
    telephones,
)

PX = 3.0
GLASS = {
    "A": (-255.0, 110.0, 0.0),
    "B": (-10.0, -160.0, 0.0),
    "C": (30.0, -90.0, 1.571),
    "D": (-275.0, -165.0, 0.0),
    "E": (10.0, 115.0, 0.01),
}
"""Strips on a table that two scans share C of; the first corner of each, in mm."""


def cross_to_cross(laid: Laid, first: str, second: str) -> float:
    cross = np.array([cards.CROSS])
    ends = [on_paper(laid[name], cross)[0] for name in (first, second)]
    return float(np.hypot(*(ends[1] - ends[0])))


def two_panels() -> Draft:
    """One panel to the left of strip C, one to its right."""
    one, size = one_panel(), (500.0, 360.0)
    moves = [np.array([[1.0, 0.0, x], [0.0, 1.0, 110.0]]) for x in (95.0, 330.0)]
    return Draft(
        [curve.transformed(move) for move in moves for curve in one.outlines],
        [curve.transformed(move) for move in moves for curve in one.waists],
        size,
    )


@pytest.fixture(scope="module")
def scans(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Two scans of one table: its left and its right two thirds."""
    folder = tmp_path_factory.mktemp("scans")
    draft = two_panels()
    paper = drawn(draft.strokes(), draft.size, px_per_mm=PX)
    table = scene(paper, GLASS, px=PX, table=FLAT.colour).texture
    wide = table.shape[1]
    files = [folder / "left.png", folder / "right.png"]
    for path, part in zip(
        files, (table[:, : 7 * wide // 10], table[:, 3 * wide // 10 :]), strict=True
    ):
        cv2.imwrite(str(path), part[:, :, ::-1])
    return files


def trace(files: Sequence[Path], out: Path, *options: str) -> Result:
    return CliRunner().invoke(main, ["trace", *map(str, files), "--out", str(out), *options])


def apart(true: Sequence[FloatArray], found: Sequence[FloatArray]) -> float:
    """Hausdorff's distance of lines in mm, once the whole is turned and moved to lie best."""
    one, two = (
        np.concatenate([resampled(line, 0.2)[0] for line in lines]) for lines in (true, found)
    )
    one = one + two.mean(axis=0) - one.mean(axis=0)
    for _ in range(20):
        target = two[cKDTree(two).query(one)[1]]
        a, b = one - one.mean(axis=0), target - target.mean(axis=0)
        u, _, v = np.linalg.svd(a.T @ b)
        one = a @ u @ v + target.mean(axis=0)
    return float(max(cKDTree(two).query(one)[0].max(), cKDTree(one).query(two)[0].max()))


@pytest.mark.slow
def test_two_scans_give_one_drawing_in_true_size(scans: list[Path], tmp_path: Path) -> None:
    length = f"B to A {cross_to_cross(GLASS, 'A', 'B'):.1f} mm"
    done = trace(scans, tmp_path / "draft.svg", "--scan", "--length", length)
    assert done.exit_code == 0, done.output
    assert "2 panels" in done.output
    assert "strips seen: A, B, C, D, E" in done.output
    assert "no more than ± 1 mm" in done.output
    drawing = read_drawing(tmp_path / "draft.svg")
    lines = [shape.curve.flatten(0.01) for shape in drawing.shapes]
    draft = two_panels()
    meant = [curve.flatten(0.01) for curve in draft.outlines]
    assert apart(meant, [line for line in lines if len(line) > 4]) < 0.2
    assert (tmp_path / "draft-tracing.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--scan"], "no measured length"),
        (["--scan", "--length", "A to B 400 mm"], "A to B measures 400 mm, but is"),
        (["--length", "waist to hem 412 mm"], "names no two strips"),
    ],
)
@pytest.mark.slow
def test_nothing_is_written_where_pictures_are_refused(
    scans: list[Path], tmp_path: Path, options: list[str], words: str
) -> None:
    done = trace(scans, tmp_path / "draft.svg", *options)
    assert done.exit_code == 2
    assert words in done.output
    assert list(tmp_path.iterdir()) == []


def test_a_note_on_how_a_photo_is_turned_changes_nothing(tmp_path: Path) -> None:
    """Turned by its note, the lens's middle would lie elsewhere (Exif 2.3, tag 0x0112)."""
    from PIL import Image

    picture = np.zeros((40, 60, 3), np.uint8)
    picture[:20] = 200
    note = Image.Exif()
    note[0x0112] = 6
    Image.fromarray(picture).save(tmp_path / "turned.jpg", exif=note)
    found = read_picture(tmp_path / "turned.jpg")
    assert found.size == (60, 40)
    assert found.image[:16].min() > 150
    assert found.image[24:].max() < 50


def test_what_telephones_save_instead_of_jpeg_is_named(tmp_path: Path) -> None:
    path = tmp_path / "photo.jpg"
    path.write_bytes(b"\x00\x00\x00\x24ftypheic\x00\x00\x00\x00mif1heic")
    for read in (read_picture, read_drawing):
        with pytest.raises(PhotoError, match="saved as HEIC or AVIF") as caught:
            read(path)
        assert "save it as JPEG" in caught.value.remedy


@pytest.mark.parametrize("data", [b"", b"no picture", b"\x89PNG\r\n\x1a\n"])
def test_a_file_that_is_no_picture(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "photo.jpg"
    path.write_bytes(data)
    with pytest.raises(PhotoError, match=r"photo\.jpg: this is no picture that can be read"):
        read_picture(path)


def test_lines_that_lie_apart_on_two_photos_are_measured_and_refused() -> None:
    """Three tenths of a millimetre, across a line that runs aslant; shade does not count."""
    cv = opencv()
    size = (120.0, 120.0)
    one = np.array([[20.0, 10.0], [60.0, 110.0]])
    across = np.array([100.0, -40.0]) / np.hypot(100.0, 40.0)
    views = [
        _lines(cv, drawn([Stroke(line, INK)], size, sheet=sheet))
        for line, sheet in ((one, USED), (one + 0.3 * across, FLAT))
    ]
    whole = np.ones(views[0].shape, dtype=bool)
    found = _shifts(cv, *views, whole)
    plain = found[found[:, 0] > 0.5 * found[:, 0].max(), 1]
    assert np.median(plain) == pytest.approx(0.3, abs=0.03)
    assert _refuse_uneven(found[:5]) == 0.0  # too few to say
    with pytest.raises(PhotoError, match=r"lines lie 0\.\d+ mm apart .* not flat"):
        _refuse_uneven(np.repeat(found, 5, axis=0))
    still = _shifts(cv, views[0], views[0], whole)
    assert _refuse_uneven(np.repeat(still, 5, axis=0)) == 0.0


def test_a_paper_that_is_too_large_is_refused() -> None:
    values = np.array([1.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 3000.0, 3000.0, 0.0, 0.0])
    placed = Placed(((9, 9),), (-1,), ("A", "B"), (), values)
    with pytest.raises(PhotoError, match=r"3\d\d\d by 3\d\d\d mm apart, too large"):
        rectify(placed, [], Doubts(0.1, (0.1, "A", 0), 0.0, (0.0, ""), 0.1))


def photos(
    folder: Path, draft: Draft, pen: Pen, place: int, lift: Bumps | None = None
) -> tuple[list[Path], str]:
    """Two photos of 12 MP of a draft with strips round it, and the length that was measured."""
    rng = np.random.default_rng(place)
    laid = laid_round(*draft.size)
    table = scene(drawn(draft.strokes(pen), draft.size, px_per_mm=6.0, sheet=USED), laid)
    files = []
    for number, shot in enumerate(shots(telephones()[place], laid, TWO_VIEWS)):
        path = folder / f"{number}.jpg"
        path.write_bytes(photograph(table, shot, rng, lift=lift))
        files.append(path)
    return files, f"A to D {cross_to_cross(laid, 'A', 'D'):.1f} mm"


@pytest.mark.slow
@pytest.mark.parametrize(("place", "pen"), [(5, INK), (1, PENCIL)], ids=["ink", "pencil"])
def test_photos_of_a_used_paper_come_out_true(tmp_path: Path, place: int, pen: Pen) -> None:
    """Half a shadow, noise, JPEG, the odd lens of a telephone: outlines within 0.3 mm."""
    draft = two_panels()
    files, length = photos(tmp_path, draft, pen, place)
    done = trace(files, tmp_path / "draft.svg", "--length", length)
    assert done.exit_code == 0, done.output
    drawing = read_drawing(tmp_path / "draft.svg")
    lines = [shape.curve.flatten(0.01) for shape in drawing.shapes if shape.curve.closed]
    assert apart([curve.flatten(0.01) for curve in draft.outlines], lines) < 0.3


@pytest.mark.slow
def test_paper_that_stands_up_by_2_mm_is_refused(tmp_path: Path) -> None:
    """A bump under the left piece: strips lie flat, and only the lines can tell."""
    hills = Bumps(((-120.0, 0.0, 90.0, 2.0),))
    files, length = photos(tmp_path, two_panels(), INK, 1, hills)
    done = trace(files, tmp_path / "draft.svg", "--length", length)
    assert done.exit_code == 2
    assert "the draft is not flat" in done.output
    assert not (tmp_path / "draft.svg").exists()


def test_a_closed_line_beyond_the_strips_is_seen_and_little_else() -> None:
    """One pixel to a mm, 300 mm of table round a draft of 200 by 150 mm, a sheet round it all."""

    class Straight:
        def see(self, points: FloatArray, number: int) -> SimpleNamespace:
            return SimpleNamespace(pixels=points + 300.0)

    def plane(columns: FloatArray, rows: FloatArray) -> FloatArray:
        x, y = np.meshgrid(columns + 0.5, rows + 0.5)
        return PIXEL_MM * np.stack([x, y], axis=-1)

    image = np.full((750, 800, 3), 245, np.uint8)
    within = np.ones((750, 1000), dtype=bool)
    ring = {"color": (150, 150, 150), "thickness": 2}
    cv2.rectangle(image, (90, 90), (700, 640), **ring)
    cv2.rectangle(image, (150, 330), (210, 430), **ring)  # a piece, left of the draft
    cv2.rectangle(image, (560, 330), (570, 500), **ring)  # too narrow
    cv2.line(image, (300, 500), (500, 560), **ring)
    cv2.rectangle(image, (340, 330), (400, 400), **ring)  # what the strips enclose is read
    flat = Evened(image, np.zeros((2, 2), np.uint8), 1)
    found = closed_beyond(cast("Placed", Straight()), [flat, flat], plane, within)
    assert np.abs(np.array(found) - [(-120.0, 80.0)]).max() <= 1.0
