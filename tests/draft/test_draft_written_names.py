"""Words that stand on panels name them, and say which panel comes first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from panelshift.draft import Reading
from panelshift.errors import PatternError
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import half, panels, pattern, text


def worded(*words: str | tuple[str, ...]) -> Pattern:
    """Panels from left to right, unnamed, with a word or several below each waist."""
    drafts = [replace(d, name=f"path{4000 + 8 * k}") for k, d in enumerate(half(len(words)))]
    body = panels(drafts)
    for draft, said in zip(drafts, words, strict=True):
        for line, word in enumerate([said] if isinstance(said, str) else said):
            body += text(word, draft.x, draft.y + 20.0 + 12.0 * line)
    return pattern(body)


def names(found: Pattern) -> list[str]:
    return [panel.name for panel in found.panels]


NUMBERED = ["1", "2", "3", "4"]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        # The numbers and places that makers write on their pieces: common practice, no source.
        (("4", "3", "2", "1"), NUMBERED),
        (("Panel 4", "Panel 3", "Panel 2", "Panel 1"), [f"Panel {k}" for k in NUMBERED]),
        (
            ("4 centre back", "3", "2", "1 centre front"),
            ["1 centre front", "2", "3", "4 centre back"],
        ),
        (("1 CB", "2", "3", "4 CF"), ["4 CF", "3", "2", "1 CB"]),
        ((("4", "CB"), "3", "2", ("1", "CF")), ["1 CF", "2", "3", "4 CB"]),
        (("CB", "side back", "side front", "CF"), ["CF", "side front", "side back", "CB"]),
        (("D", "C", "B", "A"), ["A", "B", "C", "D"]),
        (("II", "IV", "I", "III"), ["I", "II", "III", "IV"]),
        (("CB", "Amsel", "Drossel", "CF"), ["CF", "Drossel", "Amsel", "CB"]),
        (("3 / cut 2", "2 / cut 2", "1 / cut 2 on fold", "0 - cut 2"), ["0", "1", "2", "3"]),
        (
            (("coutil", "2"), ("coutil", "1"), ("coutil", "4"), ("coutil", "3")),
            NUMBERED,
        ),
    ],
)
def test_words_on_panels_name_and_order_them(
    words: tuple[str | tuple[str, ...], ...], expected: list[str]
) -> None:
    found = worded(*words)
    assert names(found) == expected
    assert "named-by-words" in [remark.code for remark in found.ledger]


@pytest.mark.parametrize(
    "words",
    [
        ("62", "64.5", "66", "70 mm"),
        ("bust", "waist", "hip", "grain"),
        ("cut 2", "cut 2 pairs", "fold", "size 38"),
        ("lining", "lining", "lining", "lining"),
        ("A", "A", "B", "B"),
        ("62", "1", "2", "3"),
        ("this edge was let out a little after the first fitting", "", "", ""),
        ("let out", "", "", ""),
    ],
)
def test_other_words_name_none(words: tuple[str, ...]) -> None:
    found = worded(*words)
    assert names(found) == NUMBERED
    assert any("left to right" in note for note in found.notes)


def test_a_name_that_was_given_goes_before_what_is_written() -> None:
    drafts = half(2, names=("cf piece", "path8"))
    body = panels(drafts) + "".join(
        text(word, d.x, d.y) for word, d in zip(("one", "cb piece"), drafts, strict=True)
    )
    assert names(pattern(body)) == ["cf piece", "cb piece"]


@pytest.mark.parametrize("made_up", ["id{}", "XMLID_{}_", "_203911{}", "patch_{}", "Rectangle {}"])
def test_words_go_before_what_programs_call_outlines(made_up: str) -> None:
    """Such names put the panels as they lie, whatever stood on them."""
    drafts = half(3, names=tuple(made_up.format(k) for k in (4, 9, 14)))
    body = panels(drafts) + "".join(
        text(word, d.x, d.y) for word, d in zip(("3", "1", "2"), drafts, strict=True)
    )
    assert names(pattern(body)) == ["1", "2", "3"]


@pytest.mark.parametrize(
    ("given", "words", "doubted"),
    [
        (("p1", "p2", "p3"), ("3", "2", "1"), True),
        (("1 cf", "2 side", "3 cb"), ("1", "3", "2"), True),
        (("p1", "p2", "p3"), ("1", "2", "3"), False),
        (("p1", "p2", "p3"), ("2", "2", "2"), False),
        (("cf", "side", "cb"), ("3", "2", "1"), False),
        (("p1", "p2", "p3"), ("38", "40", "42"), False),
    ],
)
def test_numbers_written_on_panels_are_held_against_those_in_their_names(
    given: tuple[str, ...], words: tuple[str, ...], doubted: bool
) -> None:
    drafts = half(3, names=given)
    body = panels(drafts) + "".join(
        text(word, d.x, d.y) for word, d in zip(words, drafts, strict=True)
    )
    found = pattern(body)
    assert names(found) == list(given)
    assert ("order-doubted" in [r.code for r in found.ledger]) is doubted
    order = Reading(order=given)
    assert "order-doubted" not in [r.code for r in pattern(body, order).ledger]


def test_words_beside_panels_name_none() -> None:
    drafts = half(2, names=("path1", "path2"))
    body = panels(drafts) + "".join(
        text(word, d.x + d.waist + 20.0, d.y) for word, d in zip(("CB", "CF"), drafts, strict=True)
    )
    with pytest.raises(PatternError, match="'CF' put the centre front elsewhere"):
        pattern(body)


@pytest.mark.parametrize(
    ("words", "expected"),
    [(("CB", "CF"), ["CF", "CB"]), (("", "CB"), ["1", "2"]), (("", "CF"), None)],
)
def test_words_under_panels_name_them_if_they_name_all(
    words: tuple[str, ...], expected: list[str] | None
) -> None:
    drafts = half(2, names=("path1", "path2"))
    body = panels(drafts) + "".join(
        text(word, d.x + 10.0, d.y + d.below + 20.0)
        for word, d in zip(words, drafts, strict=True)
        if word
    )
    if expected is None:
        with pytest.raises(PatternError, match=r'order = \["2", "1"\]'):
            pattern(body)
    said = None if expected else Reading(order=("1", "2"))
    assert names(pattern(body, said)) == (expected or ["1", "2"])
