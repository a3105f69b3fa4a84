"""Several sizes in one drawing: one is picked by what tells it apart, and read as if alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelshift.draft import Reading, assemble
from panelshift.errors import PatternError
from tests.support.drawings import Draft, drawing, group, half, path, pattern, text
from tests.support.examples import thinned
from tests.support.same_pattern import assert_same

DASHES = ("", "stroke-dasharray='8 3'", "stroke-dasharray='2 2'")
COLOURS = ("stroke='#ff0000'", "stroke='#123456'", "stroke='blue'")
WIDTHS = ("stroke-width='0.3'", "stroke-width='0.5'", "stroke-width='0.75'")
LAYERS = ("Size 36", "Size 38", "40")
SAID = {
    "place": ("1", "2", "3"),
    "dash": ("solid", "Dashed 8 3", "dash dashed 2 2"),
    "colour": ("red", "#123456", "colour blue"),
    "width": ("0.3 mm", "0.5 MM", "width 0.75 mm"),
    "layer": ("size  36", "layer Size 38", "40"),
    "word": ("s", "M", "word L"),
}
ENDS = ("innermost", "", "outermost")


def grown(draft: Draft, size: int) -> Draft:
    """The panel in another size: each 5 mm wider on both sides and 6 mm higher than the last."""
    by = 5.0 * size
    return replace(
        draft,
        x=draft.x - by,
        waist=draft.waist + 2.0 * by,
        above=draft.above + 6.0 * size,
        below=draft.below + 6.0 * size,
    )


def of_size(size: int, extra: str = "") -> str:
    """The outlines of all panels in one size."""
    return "".join(
        grown(d, size).outline(ident=f"{d.name} {'abc'[size]}", extra=extra)
        for d in half(3, gap=70.0)
    )


def word(draft: Draft, size: int) -> str:
    """One of the words S, M, L beside its outline."""
    x, y = grown(draft, size).corners["left_bottom"]
    return text("SML"[size], x, y + 0.5)


WAISTS = "".join(draft.line(over=14.0) for draft in half(3, gap=70.0))
WORDS = "".join(word(draft, size) for draft in half(3, gap=70.0) for size in range(3))
REST = WAISTS + WORDS


def nested(kind: str) -> list[str]:
    """Each of three sizes, told apart by one thing."""
    extras = {"dash": DASHES, "colour": COLOURS, "width": WIDTHS}.get(kind, ("", "", ""))
    bodies = []
    for size, extra in enumerate(extras):
        plain = "stroke='black' " if kind in ("dash", "width") else ""
        body = of_size(size, plain + extra)
        bodies.append(group(body, LAYERS[size]) if kind == "layer" else body)
    return bodies


@pytest.mark.parametrize("size", [0, pytest.param(1, marks=pytest.mark.slow), 2])
@pytest.mark.parametrize("kind", thinned(SAID, 2))
@pytest.mark.slow
def test_a_size_that_is_picked_is_read_as_if_only_it_were_drawn(kind: str, size: int) -> None:
    bodies = nested(kind)
    own_words = "".join(word(draft, size) for draft in half(3, gap=70.0))
    alone = pattern(bodies[size] + WAISTS + own_words)
    for said in {SAID[kind][size], *filter(None, (ENDS[size],))}:
        found = pattern("".join(bodies) + REST, Reading(size=said))
        assert_same(found, alone, within=1e-6)
        for ours, own in zip(found.panels, alone.panels, strict=True):
            assert np.abs(ours.outline.control - own.outline.control).max() <= 1e-6
        assert [p.name for p in found.panels] == [p.name for p in alone.panels]
        gone = {r.elements[0] for r in found.ledger if r.code == "other-size"}
        others = set("abc") - {"abc"[size]}
        assert {f"panel {k} {o}" for k in (1, 2, 3) for o in others} <= gone
        assert not [r for r in found.ledger if r.code == "net-outline-by-place"]
    assert alone.waist == pytest.approx(2.0 * (40 + 44 + 48 + 3 * 10 * size), abs=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize(
    "kind",
    [kind if kind == "dash" else pytest.param(kind, marks=pytest.mark.slow) for kind in SAID],
)
def test_names_of_no_size_or_of_several_are_refused_with_what_there_is(kind: str) -> None:
    own = set(SAID[kind]) | set(SAID["place"]) | set(SAID["word"])
    others = {said for names in SAID.values() for said in names} - own
    if kind != "dash":
        others.discard("solid")
    drawn = drawing("".join(nested(kind)) + REST)
    tried = sorted(others | {"0", "4", "-1", "size", "layer", "fuchsia", "1.0"})
    # Of the kind that is tried after each change every third name; of the others, in CI, all.
    for said in tried[:: 3 if kind == "dash" else 1]:
        with pytest.raises(PatternError) as caught:
            assemble(drawn, Reading(size=said))
        assert (caught.value.element, caught.value.key) == ("pattern.size", "size")
        assert f"size {said!r} fits no outline of the panel panel 1 a" in caught.value.problem
        assert "40.0 mm at the waist" in caught.value.remedy
        assert "50.0 mm at the waist" in caught.value.remedy
        assert "60.0 mm at the waist" in caught.value.remedy


@pytest.mark.slow
def test_what_fits_several_outlines_is_refused() -> None:
    body = "".join(group(of_size(k), name) for k, name in enumerate("321")) + REST
    with pytest.raises(PatternError, match="'1' fits 2 outlines"):
        pattern(body, Reading(size="1"))
    inner = pattern(of_size(0) + REST)
    assert_same(pattern(body, Reading(size="place 1")), inner)
    assert_same(pattern(body, Reading(size="layer 3")), inner)
    same = "".join(nested("place")) + REST
    with pytest.raises(PatternError, match="'solid' fits no outline"):
        pattern(same, Reading(size="solid"))


def test_every_name_in_the_refusal_picks() -> None:
    body = "".join(nested("colour")) + REST
    with pytest.raises(PatternError) as caught:
        pattern(body)
    assert "size in the job file" in caught.value.remedy + str(caught.value)
    for words in ("place 1 or innermost from inside", "colour 'red'", "word 'S'", "50.0 mm"):
        assert words in str(caught.value)


def test_one_size_alone_has_no_other_to_pick() -> None:
    with pytest.raises(PatternError, match="no outlines lie round each other"):
        pattern(of_size(0) + REST, Reading(size="1"))


def test_places_that_are_not_the_same_size_on_all_panels_are_refused() -> None:
    """The second panel has its dashes the other way round, and on one panel a size is missing."""
    outlines = [
        grown(d, s).outline(ident=f"{d.name} {s}", extra=f"stroke='black' {DASHES[look]}")
        for k, d in enumerate(half(3, gap=70.0))
        for s, look in enumerate((0, 1, 2) if k != 1 else (2, 1, 0))
    ]
    body = "".join(outlines) + WAISTS
    with pytest.raises(PatternError, match="is not the same dash on all panels"):
        pattern(body, Reading(size="1"))
    # What is solid is another size on one panel: its waist does not meet its neighbours'.
    with pytest.raises(PatternError, match=r"the two waistlines meet it 12\.0 mm apart"):
        pattern(body, Reading(size="solid"))
    found = assemble(drawing(body), Reading(size="solid"), keep_faults=True)
    assert [p.waist_width for p in found.panels] == pytest.approx([40.0, 64.0, 48.0], abs=1e-6)
    short = "".join(outlines[1:]) + WAISTS
    with pytest.raises(PatternError, match="unequally many sizes"):
        pattern(short, Reading(size="1"))


def test_marks_in_the_layers_of_other_sizes_go_with_them() -> None:
    panel = half(3, gap=70.0)[0]
    bone = path(f"M{panel.x + 20} {panel.y - 80}V{panel.y + 60}", "channel")
    bodies = [group(of_size(k) + (bone if k == 1 else ""), LAYERS[k]) for k in range(3)]
    body = "".join(bodies) + REST
    assert len(pattern(body, Reading(size="Size 38")).panels[0].marks) == 1
    found = pattern(body, Reading(size="Size 36"))
    assert not found.panels[0].marks
    assert "channel" in {r.elements[0] for r in found.ledger if r.code == "other-size"}


@pytest.mark.parametrize("size", range(3))
@pytest.mark.slow
def test_words_of_other_sizes_go_with_their_outlines(size: int) -> None:
    names = "".join(text(f"panel no {k}", d.x + 15.0, d.y) for k, d in enumerate(half(3, gap=70.0)))
    found = pattern("".join(nested("place")) + REST + names, Reading(size="SML"[size]))
    said = [sorted(t.content for t in panel.texts) for panel in found.panels]
    assert said == [sorted(["SML"[size], f"panel no {k}"]) for k in range(3)]
