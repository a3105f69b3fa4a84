"""One half or both: what each piece of evidence says, and who wins."""

from __future__ import annotations

from dataclasses import replace

import pytest

from panelshift.draft import Reading
from panelshift.draft.halves import WEIGHTS
from panelshift.errors import PatternError
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import Draft, full, half, panels, pattern, text

STRAIGHT = (0.0, 0.0)
CURVED = (7.0, 10.0)
EQUAL = 305.0 / 6.0
"""Six panels of this width come to 305 mm."""


def row(names: list[str], widths: list[float], *, gap: float = 30.0) -> list[Draft]:
    """Panels side by side with curved seams and straight edges at both ends."""
    drafts, x = [], 40.0
    for k, (name, waist) in enumerate(zip(names, widths, strict=True)):
        left = STRAIGHT if k == 0 else CURVED
        right = STRAIGHT if k == len(names) - 1 else CURVED
        drafts.append(Draft(name, x=x, waist=waist, left=left, right=right))
        x += waist + gap
    return drafts


def codes(found: Pattern) -> set[str]:
    return {remark.code for remark in found.ledger if remark.code.startswith("halves")}


def refused(drafts: list[Draft], extra: str = "", reading: Reading | None = None) -> str:
    with pytest.raises(PatternError) as caught:
        pattern(panels(drafts) + extra, reading)
    assert caught.value.element == "pattern.halves"
    assert 'halves = "half"' in caught.value.remedy or "left or right" in caught.value.remedy
    return str(caught.value)


SYMMETRIC = ["1 centre front", "2", "3", "4", "5", "6 centre back"]


def test_a_symmetric_half_block_is_a_half_for_its_names_say_so() -> None:
    # Equal widths, straight centre front and back: the second three mirror the first three.
    found = pattern(panels(row(SYMMETRIC, [EQUAL] * 6)))
    assert not found.full
    assert found.waist == pytest.approx(610.0, abs=0.1)
    assert codes(found) == {"halves-doubted"}
    assert "mirrors the first" in found.warnings[0]


def test_without_names_the_same_block_is_refused() -> None:
    drafts = row([f"path{k}" for k in range(6)], [EQUAL] * 6)
    words = refused(drafts)
    assert "305 mm is no whole waist" in words
    assert "mirrors the first" in words
    for halves, waist in (("half", 610.0), ("full", 305.0)):
        found = pattern(panels(drafts), Reading(halves=halves))  # type: ignore[arg-type]
        assert found.waist == pytest.approx(waist, abs=0.1)
    for waist in (610.0, 305.0):
        found = pattern(panels(drafts), Reading(drafted_waist=waist))
        assert found.waist == pytest.approx(waist, abs=0.1)


FULL_WIDTHS = [44.0, 48.0, 56.0, 58.0, 54.0, 50.0]
"""Half of 620 mm."""


@pytest.mark.parametrize("after", [False, True])
@pytest.mark.parametrize("style", ["{side}{k}", "{side} {k}", "{k} {word}", "panel {k}{side}"])
def test_a_full_draft_named_by_sides_counts_once(style: str, after: bool) -> None:
    def named(side: str, k: int) -> str:
        return style.format(side=side, k=k, word={"L": "left", "R": "right"}[side])

    own = row([named("L", k + 1) for k in range(6)], FULL_WIDTHS)
    # Both drawn from the centre front outwards, or laid round the body.
    other = [
        d.mirrored(0.0, named("R", k + 1)) if not after else replace(d, name=named("R", k + 1))
        for k, d in enumerate(own)
    ]
    lower = [replace(d, x=own[k].x, y=600.0) for k, d in enumerate(other)]
    found = pattern(panels([*own, *lower]))
    assert found.full
    assert found.waist == pytest.approx(620.0, abs=0.1)
    assert not found.warnings
    one, two = [named("L", k) for k in range(6, 0, -1)], [named("R", k) for k in range(1, 7)]
    names = [panel.name for panel in found.panels]
    assert names in ([*one, *two], [*two[::-1], *one[::-1]])


def test_a_full_draft_numbered_through_counts_once() -> None:
    drafts = [replace(d, name=str(k + 1)) for k, d in enumerate(full(12, gap=8.0, waist=620.0))]
    found = pattern(panels(drafts))
    assert found.full
    assert found.waist == pytest.approx(620.0)
    assert not found.warnings


def test_twelve_panels_that_mirror_nothing_are_taken_for_both_halves_with_a_warning() -> None:
    drafts = row([str(k + 1) for k in range(12)], [45.0 + k for k in range(12)], gap=20.0)
    found = pattern(panels(drafts))
    assert found.full
    assert codes(found) == {"halves-weak"}
    assert "12 panels are many for one half" in found.warnings[0]


def test_halves_one_after_the_other_without_names_of_sides_are_refused() -> None:
    own = row([f"a{k}" for k in range(4)], [70.0, 80.0, 90.0, 75.0], gap=20.0)
    lower = [d.mirrored(d.x, f"b{k}") for k, d in enumerate(own)]
    words = refused([*own, *(replace(d, y=600.0) for d in lower)])
    assert "one after the other" in words


def test_a_half_that_is_drawn_again_is_refused_unless_the_job_says_what_it_is() -> None:
    own = row([f"a{k}" for k in range(4)], [70.0, 80.0, 90.0, 75.0], gap=20.0)
    again = [replace(d, y=600.0, name=f"b{k}") for k, d in enumerate(own)]
    with pytest.raises(
        PatternError, match="is the first one drawn again, not its mirror"
    ) as caught:
        pattern(panels([*own, *again]))
    assert caught.value.element == "b0"
    assert pattern(panels([*own, *again]), Reading(halves="full")).full
    # A panel more is no second half.
    assert not pattern(panels([*own, again[0]])).full


@pytest.mark.parametrize("reading", [Reading(), Reading(halves="half")])
@pytest.mark.parametrize("word", ["", "cut 1", "Cut 1 on fold"])
def test_a_centre_front_panel_drawn_whole_beside_halves_is_refused(
    reading: Reading, word: str
) -> None:
    # 80 mm of it and 266 of the others: 692 when it is counted twice, 612 when it is not.
    drafts = row(["1 centre front", "2", "3", "4 centre back"], [80.0, 86.0, 90.0, 90.0])
    drafts[0] = replace(drafts[0], left=CURVED)
    with pytest.raises(PatternError, match="its own mirror image") as caught:
        pattern(panels(drafts) + text(word, 60.0, 200.0), reading)
    assert "80 mm of waist would be counted twice" in caught.value.problem
    assert "Cut it along the centre front line" in caught.value.remedy
    cut = [replace(drafts[0], waist=40.0, left=STRAIGHT), *drafts[1:]]
    assert pattern(panels(cut)).waist == pytest.approx(612.0)


def test_panels_that_all_are_their_own_mirror_images_lie_across_nothing() -> None:
    drafts = [Draft(f"p{k}", x=60.0 + 120.0 * k, waist=50.0 + 9.0 * k) for k in range(3)]
    assert not pattern(panels(drafts)).full


@pytest.mark.parametrize(
    ("names", "whole"),
    [
        (["centre back left", "side", "centre front", "side b", "centre back right"], True),
        (["CB", "a", "CF", "CF b", "b", "CB b"], True),
        (["CF", "a", "b", "c", "CB"], False),
        (["left 1", "left 2", "left 3", "left 4"], False),
        (["Front", "side a", "side b", "Back"], False),
        (["CF", "a", "b", "c"], False),
    ],
)
def test_names_tell_by_themselves(names: list[str], whole: bool) -> None:
    # Together 450 to 500 mm: a waist, and half a waist.
    count = len(names)
    drafts = row(names, [480.0 / count + 3.0 * (k % 3) for k in range(count)])
    found = pattern(panels(drafts))
    assert found.full == whole
    assert not found.warnings


@pytest.mark.parametrize("inset", [0.0, 20.0])
@pytest.mark.parametrize(
    ("words", "whole"),
    [("cut 2", False), ("Cut 1 pair", False), ("cut one", True), ("cut on fold", False)],
)
def test_words_on_the_panels_tell(words: str, whole: bool, inset: float) -> None:
    drafts = row(["a", "b", "c", "d"], [110.0, 113.0, 116.0, 119.0])
    # Words that begin at the panel's left end are still on it.
    said = "".join(text(words, d.corners["left_bottom"][0] + inset, d.y + 30.0) for d in drafts)
    found = pattern(panels(drafts) + said)
    assert found.full == whole
    assert not found.warnings
    assert codes(pattern(panels(drafts))) == {"halves-weak"}


def test_plain_words_against_each_other_are_refused() -> None:
    drafts = row(["CF", "left a", "right b", "CB"], [110.0, 113.0, 116.0, 119.0])
    words = refused(drafts)
    assert "names run from centre front to centre back" in words
    assert "panels are named left and right" in words
    # A waist that was measured settles it, and the doubt is told.
    found = pattern(panels(drafts), Reading(drafted_waist=916.0))
    assert not found.full
    assert codes(found) == {"halves-doubted"}


def test_girths_that_no_body_has_tell() -> None:
    drafts = half(4)
    assert any("184 mm is no whole waist" in note for note in pattern(panels(drafts)).notes)
    wide = row(["a", "b", "c", "d"], [250.0, 240.0, 230.0, 220.0], gap=5.0)
    found = pattern(panels([replace(d, x=d.x - 35.0) for d in wide]))
    assert found.full
    assert any("1880 mm is no waist" in note for note in found.notes)


def test_every_kind_of_evidence_has_a_weight_and_hints_alone_never_settle() -> None:
    assert all(weight >= 1 for weight in WEIGHTS.values())
    assert WEIGHTS["drafted waist"] == max(WEIGHTS.values())


@pytest.mark.parametrize("names", ["rb rs rf lf lb", "rb rs rf front lf lb", "rb rf lf ls lb"])
def test_sides_of_unlike_numbers_of_panels_are_refused(names: str) -> None:
    # The middle panel would be taken to lie across the centre front.
    sides = {"l": "left", "r": "right"}
    body = "".join(
        Draft(
            name=f"{sides[name[0]]} {name[1:]}" if name != "front" else name, x=60.0 + 110.0 * k
        ).panel()
        for k, name in enumerate(names.split())
    )
    with pytest.raises(PatternError, match="panels are named left and"):
        pattern(body, Reading(halves="full"))


def test_half_a_waist_stated_for_a_whole_one_is_asked_about() -> None:
    """It made a whole corset of one half's panels, 312 mm round."""
    drafts = row(["1", "2", "3", "4", "5", "6"], [52.0, 47.0, 55.0, 58.0, 51.0, 49.0])
    with pytest.raises(PatternError, match="drafted_waist counts both halves") as caught:
        pattern(panels(drafts), Reading(drafted_waist=312.0))
    assert caught.value.key == "halves"
    assert pattern(panels(drafts), Reading(drafted_waist=312.0, halves="full")).full
    # A doll's, drawn with both its halves.
    both = full(6, waist=312.0)
    assert pattern(panels(both), Reading(drafted_waist=312.0)).full
