"""Scale bars and test squares that are as long as they say, or not."""

from __future__ import annotations

import pytest

from panelshift.draft import Reading, assemble
from panelshift.errors import PatternError
from tests.support.drawings import drawing, half, panels, path, pattern, text

BODY = panels(half(3))


@pytest.mark.parametrize(
    ("mark", "factor"),
    [
        (path("M800 20h48v5h-48z", "scale bar 50 mm"), "1.04167"),
        (path("M800 20h75", "Ruler 10cm"), "1.33333"),
        (path("M800 20h38.1v38.1h-38.1z") + text("2 in", 815, 40), "1.33333"),
        (path("M800 20l30 40l-40 30l-30 -40z", "test square 2in"), "1.016"),
        (path("M800 20h127v127h-127z") + text('1"', 862, 84), "0.2"),
    ],
)
def test_a_scale_bar_that_is_not_as_long_as_it_says_is_asked_about(mark: str, factor: str) -> None:
    with pytest.raises(PatternError, match="not at true size") as caught:
        pattern(BODY + mark)
    assert f"pattern.scale = {factor} " in caught.value.remedy
    assert len(assemble(drawing(BODY + mark).scaled(float(factor)))) == 3
    stated = Reading(drafted_waist=pattern(BODY).waist)
    found = assemble(drawing(BODY + mark), stated)
    assert len(found) == 3
    (note,) = (remark for remark in found.ledger if remark.code == "reduced")
    assert note.kind == "note"
    assert "long; drafted_waist counts" in note.words


@pytest.mark.parametrize(
    "mark",
    [
        path("M800 20h50v14h-50z", "scale bar 50 mm"),
        path("M800 20h50.5", "scale 5 cm"),
        path("M800 20h50.8v50.8h-50.8z") + text("2 in", 815, 40),
        # A millimetre or a metre.
        path("M800 20h12", "scale 1,000 mm"),
        # What only holds a length, or speaks of another thing.
        path("M800 20h30v14h-30z") + text("50 mm", 805, 30),
        path("M800 20h30v30h-30z") + text("cut 2, 50 mm elastic", 802, 30),
        path("M800 20h30v30h-30z") + text("50 mm", 835, 30),
        path("M800 20h30", "scale 1:4"),
        path("M800 20h30", "scale bar"),
        path("M800 20h30", "scale bars 50 mm, 2 in"),
        path("M800 20c9 9 20 9 30 0", "scale bar 50 mm"),
        path("M200 20h700", "scale bar 50 mm"),
    ],
)
def test_what_is_as_long_as_it_says_or_says_nothing_is_passed_over(mark: str) -> None:
    assert len(pattern(BODY + mark)) == 3
