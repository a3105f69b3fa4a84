"""Text: the right letters, from embedded fonts, in the right place."""

from __future__ import annotations

import unicodedata
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest

from panelshift.outline import FloatArray
from panelshift.printing.sheet_prints import print_roll
from panelshift.sheets.lettering import (
    FaceName,
    drawable,
    fitted,
    missing,
    runs,
    subset,
    width,
    wrapped,
)
from panelshift.sheets.sheet import Label, Sheet
from tests.support.pixels import RENDERERS, Render, ink_box, only
from tests.support.prints import GREETING, options, squares_sheet

MARGIN = 10.0
PER_MM = 10.0

POLISH = "ĄąĆćĘęŁłŃńÓóŚśŹźŻż"
GREEK = "ΑαΆάΒβΓγΔδΩωΏώςΐ"
JAPANESE = "あアン漢字絹織物ー「」、。々〆１枚"


def labelled(*labels: Label) -> Sheet:
    return replace(squares_sheet(), labels=labels)


def printed(*labels: Label) -> bytes:
    return print_roll(labelled(*labels), options("roll:420", margin=MARGIN)).data


def extracted(data: bytes) -> str:
    document = pypdfium2.PdfDocument(data)
    words = document[0].get_textpage().get_text_bounded()
    document.close()
    return words


@pytest.mark.slow
@pytest.mark.parametrize("text", [POLISH, GREEK, JAPANESE, GREETING, "→ ① ※ ★ ½ °"])
@pytest.mark.parametrize("bold", [False, True])
def test_text_can_be_copied_as_it_was_written(text: str, bold: bool) -> None:
    found = extracted(printed(Label(text, np.array([20.0, 200.0]), 7.0, bold=bold)))
    # Once, although each letter is drawn over its own white edge.
    assert found.count(text) == 1


@pytest.mark.parametrize("text", [POLISH, GREEK, JAPANESE])
def test_every_letter_has_a_glyph_of_its_own(text: str) -> None:
    # Cutting a face down takes long: once for all of its characters.
    by_face: dict[FaceName, str] = {}
    for character in text:
        (run,) = runs(character)
        by_face[run.face] = by_face.get(run.face, "") + character
    codes = [code for face, some in by_face.items() for code in subset(face, some).codes.values()]
    assert len(codes) == len(set(text))
    for face, some in by_face.items():
        used = [subset(face, some).codes[character] for character in sorted(set(some))]
        assert 0 not in used, "code 0 is the box of a missing glyph"
        assert len(set(used)) == len(used)
    for character in text:
        assert missing(character) == ""
        assert width(character) > 0.2


@pytest.mark.slow
@pytest.mark.parametrize("render", RENDERERS)
def test_letters_are_drawn_and_not_boxes(render: Render) -> None:
    """Each letter differs from the box that stands for a character without a glyph."""
    letters = "żΩ絹あ"
    step = 25.0
    labels = [
        Label(character, np.array([30.0 + step * k, 200.0]), 20.0, align="middle")
        for k, character in enumerate([*letters, "\U0001f600"])
    ]
    ink = render(only(printed(*labels), "labels"), 6.0)[0]

    def glyph(place: int) -> FloatArray:
        x = round((MARGIN + 30.0 + step * place - 12.0) * 6.0)
        y = round((MARGIN + 178.0) * 6.0)
        return ink[y : y + 180, x : x + 144]

    box = glyph(len(letters))
    assert box.mean() > 0.01
    for place in range(len(letters)):
        assert glyph(place).mean() > 0.01
        assert np.abs(glyph(place) - box).mean() > 0.02


def test_characters_without_a_glyph_are_named() -> None:
    assert missing("silk \U0001f600 אב a") == "\U0001f600אב"
    assert missing(GREETING) == ""


def test_text_is_drawn_composed_and_without_invisible_characters() -> None:
    apart = unicodedata.normalize("NFD", "Żółć")
    assert len(apart) > 4
    assert drawable(apart) == "Żółć"
    assert drawable("a\tb\nc\u200b\ufeff\u00ad\ufe0f") == "a b c"
    assert drawable("\ud800x") == "x"
    assert missing("a\tb\u200b") == ""
    assert width(apart) == width("Żółć")


@pytest.mark.slow
@pytest.mark.parametrize("render", RENDERERS)
@pytest.mark.parametrize("bold", [False, True])
def test_middle_aligned_text_stands_in_the_middle(render: Render, bold: bool) -> None:
    at = np.array([150.0, 200.0])
    data = printed(Label("OHO", at, 12.0, align="middle", bold=bold))
    ink = render(only(data, "labels"), PER_MM)[0]
    left, top, right, bottom = ink_box(ink, PER_MM, (110.0, 180.0), (210.0, 220.0))
    assert 0.5 * (left + right) == pytest.approx(at[0] + MARGIN, abs=0.3)
    # H stands on the baseline; the round O reaches a little below it.
    assert bottom == pytest.approx(at[1] + MARGIN, abs=0.3 + 0.02 * 12.0)
    assert right - left == pytest.approx(width("OHO") * 12.0, abs=2.0)
    assert bottom - top == pytest.approx(0.714 * 12.0, abs=0.8)


@pytest.mark.parametrize("render", RENDERERS)
@pytest.mark.parametrize("angle", [-0.5 * np.pi, 0.5 * np.pi])
def test_turned_text_runs_along_its_angle(render: Render, angle: float) -> None:
    at = np.array([150.0, 160.0])
    data = printed(Label("OHO", at, 12.0, angle=angle, align="middle"))
    ink = render(only(data, "labels"), PER_MM)[0]
    left, top, right, bottom = ink_box(ink, PER_MM, (120.0, 130.0), (200.0, 210.0))
    assert 0.5 * (top + bottom) == pytest.approx(at[1] + MARGIN, abs=0.3)
    baseline = right if angle < 0.0 else left
    assert baseline == pytest.approx(at[0] + MARGIN, abs=0.3 + 0.02 * 12.0)


@pytest.mark.parametrize("render", RENDERERS)
def test_text_starts_at_its_point(render: Render) -> None:
    at = np.array([150.0, 200.0])
    ink = render(only(printed(Label("HOO", at, 12.0)), "labels"), PER_MM)[0]
    left, *_ = ink_box(ink, PER_MM, (140.0, 180.0), (230.0, 220.0))
    # The H of Noto Sans has a side bearing of 0.098 of the size.
    assert left == pytest.approx(at[0] + MARGIN + 0.098 * 12.0, abs=0.3)


@pytest.mark.parametrize("render", RENDERERS)
def test_lines_do_not_run_through_letters(render: Render) -> None:
    whole = squares_sheet()
    level = next(stroke for stroke in whole.strokes if stroke.kind == "grainlines")
    at = np.array([level.curve.start[0], 120.0])
    label = Label("O", at, 20.0, align="middle")
    bare = replace(whole, strokes=(*whole.strokes[:2], level), labels=(label,))
    ink = render(print_roll(bare, options("roll:420", margin=MARGIN)).data, PER_MM)[0]
    x, y = (round((v + MARGIN) * PER_MM) for v in at)
    # Just above the letter its white edge has covered the line, further up it is there.
    top = y - round(0.75 * 20.0 * PER_MM)
    assert ink[top, x - 3 : x + 4].max() < 0.1
    assert ink[top - 30, x - 3 : x + 4].max() > 0.5


def test_wrapping_breaks_at_spaces_and_within_text_that_has_none() -> None:
    assert wrapped("one two three", width("one two th")) == ["one two", "three"]
    assert wrapped("one two", width("one two")) == ["one two"]
    japanese = wrapped("絹のブロケード絹のブロケード", 5.0)
    assert "".join(japanese) == "絹のブロケード絹のブロケード"
    assert max(width(line) for line in japanese) <= 5.0
    assert wrapped("", 5.0) == [""]


def test_fitting_shortens_with_a_mark() -> None:
    assert fitted("short", 10.0) == "short"
    short = fitted("a very long name of a pattern", 5.0)
    assert short.endswith("…")
    assert width(short) <= 5.0
