"""Widths of words are those of the face that prints them."""

from __future__ import annotations

import string

import numpy as np
import pytest

from panelshift.sheets import lettering
from panelshift.sheets.lettering import BOLDER, face_font, width, wrapped

PLAIN = string.ascii_letters + string.digits + string.punctuation + " "


def test_the_widths_that_are_written_down_are_the_font_s_own() -> None:
    font = face_font("latin")
    names, advances = font.getBestCmap(), font["hmtx"]
    assert font["head"].unitsPerEm == 1000
    assert sorted(lettering._KNOWN) == sorted(PLAIN)
    assert {c: advances[names[ord(c)]][0] for c in PLAIN} == lettering._KNOWN


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
