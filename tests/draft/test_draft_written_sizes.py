"""Words on a drawing that say the waist it was drawn for, held against the waist it has."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from panelshift.draft import Reading, assemble
from panelshift.draft.panel_words import cut_counts
from panelshift.draft.written_sizes import waists_in
from panelshift.errors import PatternError
from panelshift.units import to_mm
from tests.support.drawings import drawing, half, panels, pattern, text

BODY = panels(half(5))
WAIST = pattern(BODY).waist


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("Waist 70 cm", 700.0),
        ("waist 27 1/2 in", 698.5),
        ('Waist: 27½"', 698.5),
        ("Hourglass, waist 70cm, hip 95 cm", 700.0),
        ("WAIST GIRTH = 700 mm", 700.0),
        ("waist (finished) 27,5 inches", 698.5),
        ("Waist / 70 cm", 700.0),
        ("waist-66cm", 660.0),
        ("70 cm waist", 700.0),
        ("half waist 35 cm", 700.0),
        ("waist 35 cm", 700.0),
        # The body's before it is laced, and lengths beside a waist.
        ("natural waist 78 cm", None),
        ("3 cm below waist 60 cm", None),
        ("bust to waist 18 cm, 70 cm waist to floor", None),
        ("waist tape 70 cm", None),
        ("waist 1,000 mm", None),
        ("waist 11.5 cm", None),
        ("waist 26-28 in", None),
        ("hip 95 cm / waist", None),
    ],
)
def test_words_say_a_whole_waist_or_none(words: str, said: float | None) -> None:
    assert [found for _, found in waists_in([words])] == ([] if said is None else [said])


@pytest.mark.parametrize(
    ("words", "counts"),
    [
        ("cut 4", [4]),
        ("CUT2", [2]),
        ("Cut 2 coutil / cut 2 lining", [2, 2]),
        ("cut a pair", [2]),
        ("cut 2 pairs", [4]),
        ("cut two, one mirrored", [2]),
        ("cut / 2", [2]),
        ("cut 10 mm below, cut 3/8 in wide, cut line 2", []),
    ],
)
def test_words_say_how_often_a_panel_is_cut(words: str, counts: list[int]) -> None:
    assert cut_counts(words) == counts


def test_what_a_drawing_calls_itself_is_held_against_it_as_well() -> None:
    drawn = replace(drawing(BODY), title=f"Hourglass, waist {2.0 * WAIST:.0f} mm")
    with pytest.raises(PatternError, match="the words 'Hourglass, waist"):
        assemble(drawn)


@pytest.mark.parametrize("times", [0.75, 25.4 / 96.0, 1.0 / 2.54, 0.5])
def test_a_waist_that_it_has_in_another_unit_is_refused(times: float) -> None:
    words = BODY + text(f"waist {WAIST:.0f} mm", 500, 500)
    assert len(pattern(words)) == 5
    drawn = drawing(words).scaled(times)
    with pytest.raises(PatternError, match="the ratio looks like") as caught:
        assemble(drawn, Reading(halves="half"))
    assert f"pattern.scale = {1.0 / times:.5g}" in caught.value.remedy[:40]
    # What else the remedy offers: the corset is right, and the words are of another waist.
    own = re.search(r"drafted_waist = '(.*?)'; .* let them say natural waist", caught.value.remedy)
    assert own is not None
    stated = Reading(drafted_waist=to_mm(own[1]), halves="half")
    assert len(assemble(drawn, stated)) == 5
    natural = BODY + text(f"natural waist {WAIST:.0f} mm", 500, 500)
    assert len(assemble(drawing(natural).scaled(times), Reading(halves="half"))) == 5
