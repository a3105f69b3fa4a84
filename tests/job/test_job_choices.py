"""Everything that a survey of small drawings leaves to their maker.

The golden page was looked over by eye; when it is meant to change, look at the new one and refresh
it:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/job/test_job_choices.py
"""

from __future__ import annotations

import difflib
from dataclasses import replace
from functools import cache
from pathlib import Path

from panelshift.draft import assemble
from panelshift.errors import PatternError
from panelshift.job.choices import OpenChoice, Option, Survey, _apart, _gives, _together, survey
from panelshift.job.starter import starter_job
from tests.support.drawings import Draft, drawing, half, panels, path, text
from tests.support.golden import changes

ONE = Draft("side", waist=90.0, x=60.0)


def sizes(count: int) -> str:
    """Rectangles round each other, each 6 mm outside the last, with one waistline."""
    rings = "".join(
        path(f"M{80 - 6 * k} {80 - 6 * k}H{250 + 6 * k}V{300 + 6 * k}H{80 - 6 * k}Z", f"ring {k}")
        for k in range(count)
    )
    return rings + path("M50 200H280", "waist")


DRAWINGS = {
    "three sizes": sizes(3),
    "two outlines, which may be sizes": sizes(2) + text("S", 82, 79) + text("M", 76, 73),
    "two lines across": ONE.outline() + path("M40 205H165", "a") + path("M40 240H165"),
    "a gap": ONE.pieces(1.4) + ONE.line(),
    "an allowance that words tell": panels(half(2)) + text("seam allowance 1 cm included", 20, 20),
    "a yoke without a waistline": ONE.panel() + path("M240 20H340V70L290 75L240 70Z", "yoke"),
    "nothing": panels(half(3)),
    "gores, and a line that is called a slit": panels(half(3))
    + path("M60 10L75 60H45Z", "gore 1")
    + path("M160 10L175 60H145Z", "gore 2")
    + path("M80 300V240", "slit 1"),
    "levels, and words on a fold": panels(half(2))
    + path("M0 260H300", "hip")
    + text("place on fold", 70, 230)
    + text("hip line", 40, 258),
    "a half or both": panels([Draft("a", waist=200.0), Draft("b", waist=190.0, x=340.0)]),
}


@cache
def surveyed(name: str) -> Survey:
    return survey(drawing(DRAWINGS[name]))


def told(found: Survey) -> list[str]:
    lines = [f"{pattern.waist:.1f} mm at the waist" for pattern in found.patterns]
    for choice in found.choices:
        lines.append(f"{choice.key}: {choice.why}")
        for option in choice.options:
            about = "".join(f" | {words}" for words in option.about)
            lines.append(f"  {option.value!r} {option.elements}: {option.gives}{about}")
    return [*lines, f"REFUSED {found.refusal}"] if found.refusal else lines


def test_what_a_drawing_leaves_open_is_the_golden_page() -> None:
    lines: list[str] = []
    for name in DRAWINGS:
        lines += [f"== {name}", *told(surveyed(name))]
    assert changes("choices.txt", "\n".join(lines)) == []


def test_the_job_files_that_ask_it_are_the_golden_page() -> None:
    """One whole, with a page and without questions as well; of the others what is not as in it."""
    file = Path("drafts", 'my "draft".svg')
    plain = starter_job(surveyed("nothing"), file)
    texts = {name: starter_job(surveyed(name), file) for name in DRAWINGS}
    texts["on page 3"] = starter_job(surveyed("nothing"), file, 3)
    texts["without questions"] = starter_job(surveyed("three sizes"), file, asks=False)
    lines = plain.splitlines()
    for name, found in texts.items():
        differs = difflib.unified_diff(plain.splitlines(), found.splitlines(), n=0, lineterm="")
        lines += [f"== {name}", *(line for line in differs if line[:2] not in ("--", "++", "@@"))]
    assert changes("starters.txt", "\n".join(lines)) == []


def test_what_may_be_one_half_or_both_has_two_waists() -> None:
    half_drawn = assemble(drawing(panels(half(2))))
    both = replace(half_drawn, full=True)
    whole, drawn = f"{half_drawn.waist:g} mm", f"{both.waist:g} mm"
    assert half_drawn.waist == 2.0 * both.waist
    assert _gives(Survey((half_drawn,)), "mm") == f"whole waist {whole}, one half drawn"
    told = f"whole waist {whole} if one half drawn, or {drawn} if both halves drawn"
    assert _gives(Survey((half_drawn, both)), "mm") == told
    assert _gives(Survey(()), "mm") == ""


def test_figures_that_hang_on_another_choice_are_not_told() -> None:
    options = (Option("half", "640 mm"), Option("full", "320 mm"))
    halves = _apart(OpenChoice("halves", "320 mm is either", options))
    assert (halves.key, halves.why) == ("halves", "it is not plain from what is drawn")
    assert [(option.value, option.gives) for option in halves.options] == [
        ("half", "the whole waist is twice what is drawn"),
        ("full", "it is what is drawn"),
    ]
    other = OpenChoice("size", "several", options)
    assert _apart(other) is other


def test_what_follows_from_one_option_keeps_its_figures() -> None:
    halves = OpenChoice("halves", "320 mm is either", (Option("half", "640 mm"),))
    own, refused = OpenChoice("size", "several", ()), PatternError("several", remedy="Choose.")
    one = Survey((), (halves,))
    assert _together(own, [one], refused).choices == (own, halves)
    assert _together(own, [one, one], refused).choices == (own, _apart(halves))
    assert _together(own, [Survey((), (own, halves))], refused).choices == (own, halves)
