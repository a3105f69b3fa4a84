"""Widths of words are those of the face that prints them."""

from __future__ import annotations

import string
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import LineString, Polygon, box

from panelshift.errors import PrintError
from panelshift.job import cut, read_job, resolve
from panelshift.job.result import print_job
from panelshift.printing import PageOptions, parse_paper
from panelshift.printing.sheet_prints import _lost_letters
from panelshift.sheets import lettering
from panelshift.sheets.label_room import LabelRoom
from panelshift.sheets.lettering import BOLDER, face_font, width, wrapped

SAMPLES = Path(__file__).parents[2] / "sample_patterns"
PLAIN = string.ascii_letters + string.digits + string.punctuation + " "


def test_the_widths_that_are_written_down_are_the_font_s_own() -> None:
    font = face_font("latin")
    names, advances = font.getBestCmap(), font["hmtx"]
    assert font["head"].unitsPerEm == 1000
    assert sorted(lettering._KNOWN) == sorted(PLAIN)
    assert {c: advances[names[ord(c)]][0] for c in PLAIN} == lettering._KNOWN


def test_a_face_is_read_before_it_is_handed_out() -> None:
    # A second thread got the table that the first was still reading.
    font = face_font.__wrapped__("latin")
    font.reader = None
    assert font["head"].unitsPerEm == 1000
    assert font["hmtx"][font.getBestCmap()[ord("A")]][0] == lettering._KNOWN["A"]
    assert font["OS/2"].sCapHeight > 0 < font["hhea"].ascent


@pytest.mark.parametrize("words", ["1 centre front", "Żółw", "前身頃", "½ mirrored"])
def test_a_width_is_the_sum_of_its_letters(words: str) -> None:
    assert width(words) == pytest.approx(sum(width(letter) for letter in words))
    assert width(words, bold=True) == pytest.approx(width(words) + BOLDER)


def test_letters_differ_in_width() -> None:
    """A mean width for all letters made the narrow names too small and the wide ones too large."""
    assert width("mmmm") > 3.0 * width("illi")


def test_a_number_stays_with_its_word() -> None:
    text = "lining; cut 2, one mirrored; added: centre front 10 mm, top 10, seam 10 mm. End"
    for room in np.linspace(width("mirrored; "), width(text), 40):
        lines = wrapped(text, float(room))
        assert " ".join(lines) == text
        assert not any(line[0].isdigit() for line in lines)
        assert all(width(line) <= room for line in lines)


@pytest.fixture
def without_cjk(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """An installation without the extra."""
    caches = (lettering._face_path, lettering._coverage, lettering._runs, lettering._advances)
    places = {**lettering._PLACES, "cjk": ("no_such_font_package", "none.otf")}
    monkeypatch.setattr(lettering, "_PLACES", places)
    for each in caches:
        each.cache_clear()
    yield
    for each in caches:
        each.cache_clear()


def test_names_that_need_the_extra_have_their_width_and_say_so(without_cjk: None) -> None:
    assert width("前身頃") == 3.0
    assert [run.face for run in lettering.runs("1 前 ①")] == ["latin", "cjk", "latin"]
    assert lettering.missing("前 ①é") == "前①"
    with pytest.raises(PrintError, match=r"need a font that is not installed: 前身"):
        lettering.subset("cjk", "前身")


@pytest.mark.slow
def test_without_the_extra_our_own_words_are_all_printed(without_cjk: None) -> None:
    """No sign of a sheet of ours is one that only the large face has."""
    job = resolve(read_job(SAMPLES / "hourglass.toml"))
    prints = print_job(job, PageOptions(parse_paper("a3")), layers=["lining"])
    assert [words for item in prints for words in item.warnings if "no font" in words] == []
    sheet = replace(next(iter(cut(job).sheets.values())))
    label = replace(sheet.labels[0], text="前 ①")
    (words,) = _lost_letters(replace(sheet, labels=(label,)))
    assert words.endswith("前① (more signs come with pip install 'panelshift[cjk]')")


def test_a_whole_font_package_that_is_gone_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lettering, "_face_path", lambda face: None)
    with pytest.raises(PrintError, match="fontpkg_noto_sans is not installed"):
        lettering._data.__wrapped__("latin")


def test_words_find_the_free_room_that_is_nearest() -> None:
    piece = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0), (0.0, 0.0)])
    line = np.array([(0.0, 30.0), (100.0, 30.0)])
    room = LabelRoom([piece], [line])
    for near in ((20.0, 15.0), (80.0, 45.0), (50.0, 10.0)):
        found = room.place(10.0, 5.0, np.array(near))
        assert found is not None
        at, away = found
        # There is room just there, but for squares of a millimetre or two.
        assert np.hypot(*(at - near)) == pytest.approx(away)
        assert away < 2.5
    at, away = room.place(10.0, 5.0) or (np.zeros(2), np.inf)
    # The middle of the piece is taken by the line: above or below it, half the box's height off.
    assert abs(at[0] - 50.0) < 2.5
    assert 2.5 <= abs(at[1] - 30.0) < 6.0
    trial = room.copy()
    trial.take_box(np.array([0.0, 0.0]), np.array([100.0, 28.0]))
    above, _ = trial.place(10.0, 5.0, np.array([20.0, 15.0])) or (np.zeros(2), 0.0)
    assert above[1] > 32.0
    at, _ = room.place(10.0, 5.0, np.array([20.0, 15.0])) or (np.zeros(2), 0.0)
    assert at[1] < 28.0
    for large in ((101.0, 5.0), (10.0, 29.5), (300.0, 300.0), (10.0, 400.0), (400.0, 10.0)):
        assert room.place(*large) is None


def test_squares_are_taken_by_lines_and_by_what_lies_outside() -> None:
    """Against shapely, in squares of 1.5 mm from the piece's corner; some lines lie beside it."""
    low, size = np.array([3.0, 6.0]), 1.5
    triangle = low + [(0.0, 0.0), (12.4, 0.0), (0.0, 11.8), (0.0, 0.0)]
    far = np.array([-9.0, 30.0])
    across, upright = np.column_stack([far, [9.75] * 2]), np.column_stack([[6.75] * 2, far])
    beyond = [np.column_stack([far, [v] * 2]) for v in (3.0, 24.0)]
    beside = [np.column_stack([[u] * 2, far]) for u in (0.0, 21.0)]
    lines = [across, upright, *beyond, *beside]
    taken = LabelRoom([triangle], lines)._taken
    assert taken.shape == (9, 10)
    drawn = [LineString(line) for line in (triangle, *lines)]
    inner = Polygon(triangle)
    for row, column in np.ndindex(taken.shape):
        x, y = low + size * np.array([column, row])
        square = box(x, y, x + size, y + size)
        longest = max(line.intersection(square).length for line in drawn)
        # Lines are looked at every half of a square.
        if longest > 0.5 * size or not inner.contains(square.centroid):
            assert taken[row, column], (row, column)
        elif longest == 0.0:
            assert not taken[row, column], (row, column)


def test_a_letter_is_written_by_its_place_in_the_face_or_by_what_its_name_holds() -> None:
    assert lettering._code("latin", [".notdef", "a", "b"], "b") == 2
    assert [lettering._code("cjk", [], glyph) for glyph in ("cid00017", ".notdef")] == [17, 0]


@pytest.mark.parametrize("size", [60.0, 200.0])
def test_room_beside_a_spot_is_the_nearest_there_is_if_it_lies_within_reach(size: float) -> None:
    rng = np.random.default_rng(11)
    piece = size * np.array([(0.0, 0.0), (1.0, 0.0), (0.8, 1.0), (0.1, 0.7), (0.0, 0.0)])
    room = LabelRoom([piece], [size * rng.random((2, 2)) for _ in range(12)])
    for spot, part, share in zip(
        size * rng.random((60, 2)), rng.uniform(0.02, 0.1, (60, 2)), rng.random(60), strict=True
    ):
        box, reach = size * part, min(0.3 * size, 40.0) * share
        nearest, away = room.place(*box, spot) or (None, np.inf)
        found = room.first(*box, np.array([spot]), reach)
        assert (found is not None) == (away <= reach)
        if found is not None and nearest is not None:
            assert np.hypot(*(found - spot)) == pytest.approx(away)
