"""Which panel follows which, where the front is, which way is up, one half or both."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelshift.draft import Reading, assemble
from panelshift.errors import PatternError
from panelshift.outline.measure import length
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import Draft, drawing, full, group, half, panels, path, pattern, text
from tests.support.examples import thinned


def names(found: Pattern) -> list[str]:
    return [panel.name for panel in found.panels]


def widths(found: Pattern) -> list[float]:
    return [round(panel.waist_width, 6) for panel in found.panels]


def unnamed(drafts: list[Draft]) -> list[Draft]:
    """The same with ids such as a program makes up."""
    return [replace(d, name=f"path{4000 + 8 * k}") for k, d in enumerate(drafts)]


def seams_walk(found: Pattern) -> bool:
    return all(abs(walked.difference) < 1e-3 for walked in found.walk())


@pytest.mark.parametrize("count", [1, 2, 3, 4, 7])
def test_half_pattern_runs_from_left_to_right_and_its_seams_walk(count: int) -> None:
    found = pattern(panels(unnamed(half(count))))
    assert not found.full
    assert names(found) == [str(k + 1) for k in range(count)]
    assert widths(found) == [40.0 + 4.0 * k for k in range(count)]
    assert seams_walk(found)
    assert found.waist == pytest.approx(2.0 * sum(widths(found)))


def test_unnamed_panels_are_told_to_have_been_taken_left_to_right() -> None:
    assert any("left to right" in note for note in pattern(panels(unnamed(half(3)))).notes)


def test_a_column_of_panels_runs_neither_way_though_their_middles_lie_askew() -> None:
    """Narrower ones below, in line at the left: it was told as an order from right to left."""
    row = half(4)
    column = [
        replace(d, x=80.0, y=150.0 + 240.0 * k, waist=70.0 - 6.0 * k) for k, d in enumerate(row)
    ]
    found = pattern(panels(column))
    assert names(found) == [d.name for d in row]
    assert [round(panel.frame.across[0]) for panel in found.panels] == [1] * 4
    assert found.warnings == ()


@pytest.mark.parametrize("first", [12, 5])
def test_numbers_that_count_down_from_the_left_are_asked_about(first: int) -> None:
    # From 1 on they tell the order; panels that are part of a longer row count on from another.
    rising = [replace(d, name=f"piece {first + k}") for k, d in enumerate(half(4))]
    assert names(pattern(panels(rising))) == [d.name for d in rising]
    falling = [replace(d, name=f"piece {first - k}") for k, d in enumerate(half(4))]
    with pytest.raises(PatternError, match=f"the numbers on them are {first}, {first - 1}, ") as e:
        pattern(panels(falling))
    assert f'["piece {first - 3}", ' in e.value.remedy
    words = [
        replace(d, name=f"{e} {d.name}") for d, e in zip(falling, ("cf", "", "", "cb"), strict=True)
    ]
    assert len(pattern(panels(words))) == 4


@pytest.mark.parametrize(("first", "told"), [("", True), ("cf ", False)])
def test_numbers_from_right_to_left_are_told_where_no_word_says_the_front(
    first: str, told: bool
) -> None:
    falling = [replace(d, name=f"{4 - k}") for k, d in enumerate(half(4))]
    falling[-1] = replace(falling[-1], name=f"{first}1")
    found = pattern(panels(falling))
    assert names(found) == [f"{first}1", "2", "3", "4"]
    doubts = [r.words for r in found.ledger if (r.kind, r.code) == ("warning", "order-doubted")]
    assert len(doubts) == told
    assert all("if they count from the centre back" in words for words in doubts)


def test_document_order_says_nothing() -> None:
    drafts = unnamed(half(4))
    shuffled = [drafts[k] for k in (2, 0, 3, 1)]
    assert widths(pattern(panels(shuffled))) == [40.0, 44.0, 48.0, 52.0]


@pytest.mark.parametrize("count", [4, 6, 8, 5, 7])
def test_full_pattern_is_known_by_its_two_mirrored_halves(count: int) -> None:
    found = pattern(panels(full(count)))
    assert found.full
    assert len(found.seams) == count - 1
    assert seams_walk(found)
    assert found.waist == pytest.approx(sum(widths(found)))


@pytest.mark.parametrize(("count", "fronts"), [(6, 2), (7, 0)])
def test_full_pattern_has_centre_front_edges_only_where_two_panels_meet_there(
    count: int, fronts: int
) -> None:
    found = pattern(panels(full(count)))
    kinds = [found.edge_kind(index, edge) for index in range(count) for edge in ("front", "back")]
    assert kinds.count("centre_front") == fronts
    assert kinds.count("centre_back") == 2
    assert found.edge_kind(0, "back") == "centre_back"
    assert found.edge_kind(count - 1, "back") == "centre_back"


def test_full_pattern_drawn_is_not_said_to_have_its_centre_front_on_the_left() -> None:
    assert not any("centre front" in note for note in pattern(panels(full(6))).notes)


def test_left_and_right_in_names_make_a_full_pattern_though_the_halves_differ() -> None:
    drafts = [
        Draft("2 right", x=60, waist=52, left=(0, 0)),
        Draft("1 right", x=160, waist=40, right=(0, 0)),
        Draft("1 left", x=260, waist=44, left=(0, 0)),
        Draft("2 left", x=360, waist=55, right=(0, 0)),
    ]
    found = pattern(panels(drafts))
    assert found.full
    assert names(found) == ["2 right", "1 right", "1 left", "2 left"]


@pytest.mark.parametrize("below", [0.0, 300.0])
def test_halves_laid_one_after_the_other_are_put_round_the_body_by_their_numbers(
    below: float,
) -> None:
    own = half(3)
    right = [replace(d, name=f"{k + 1} right") for k, d in enumerate(own)]
    x = 60.0 if below else 500.0
    left = [
        d.mirrored(x + 90.0 * k, f"{k + 1} left").at(x + 90.0 * k, d.y + below)
        for k, d in enumerate(own)
    ]
    found = pattern(panels([*right, *left]))
    assert found.full
    assert names(found) == ["3 right", "2 right", "1 right", "1 left", "2 left", "3 left"]
    assert any("round the body" in note for note in found.notes)


def test_numbers_of_both_halves_may_run_from_the_centre_back() -> None:
    own = half(3)
    labels = ("3 CF", "2", "1 CB")
    right = [replace(d, name=f"{n} right") for d, n in zip(own, labels, strict=True)]
    left = [
        d.mirrored(500.0 + 90.0 * k, f"{n} left")
        for k, (d, n) in enumerate(zip(own, labels, strict=True))
    ]
    assert names(pattern(panels([*right, *left]))) == [
        *("1 CB right", "2 right", "3 CF right", "3 CF left", "2 left", "1 CB left"),
    ]


def test_number_given_twice_on_one_half_is_no_order() -> None:
    drafts = [
        replace(d, name=n)
        for d, n in zip(full(4), ("2 a right", "2 b right", "1 left", "2 left"), strict=True)
    ]
    assert names(pattern(panels(drafts))) == ["2 a right", "2 b right", "1 left", "2 left"]


def test_equal_symmetric_panels_are_a_half_pattern_and_that_is_said() -> None:
    drafts = [Draft(f"path{k}", x=60 + 150 * k, waist=110.0) for k in range(4)]
    found = pattern(panels(drafts))
    assert not found.full
    (warning,) = found.warnings
    assert "one half is drawn as far as can be told" in warning
    assert "state halves in the job file" in warning
    assert pattern(panels(drafts), Reading(halves="full")).full


def test_halves_in_the_job_overrule_what_the_panels_look_like() -> None:
    assert not pattern(panels(full(6)), Reading(halves="half")).full


# -- where the front is -------------------------------------------------------------------


@pytest.mark.parametrize(
    "labels",
    [
        ("CF", "2", "3", "CB"),
        ("centre front", "side front", "side back", "centre back"),
        ("center_front", "x", "y", "z"),
        ("x", "y", "z", "CentreBack"),
        ("Front", "side a", "side b", "Back"),
    ],
)
def test_centre_front_on_the_right_is_read_from_the_names(labels: tuple[str, ...]) -> None:
    # Drawn right to left: the half pattern mirrored.
    own = half(4)
    drafts = [d.mirrored(900.0 - d.x, name) for d, name in zip(own, labels, strict=True)]
    found = pattern(panels(drafts))
    assert names(found) == list(labels)
    assert seams_walk(found)
    # The front edge faces the centre front, which is on the right.
    assert all(panel.frame.across[0] < -0.99 for panel in found.panels)
    assert found.panels[0].is_straight("front")
    assert found.panels[-1].is_straight("back")


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("first", [0, 1])
def test_numbers_in_names_give_the_order(mirrored: bool, first: int) -> None:
    own = half(4)
    drafts = [
        d.mirrored(900.0 - d.x, f"panel_{k + first}")
        if mirrored
        else replace(d, name=f"panel_{k + first}")
        for k, d in enumerate(own)
    ]
    found = pattern(panels(drafts[::-1]))
    assert names(found) == [f"panel_{k + first}" for k in range(4)]
    assert seams_walk(found)
    assert (found.panels[1].frame.across[0] < 0.0) == mirrored


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize(
    "labels",
    [
        ("centre front", "side front", "side", "side back", "centre back"),
        ("Vordere Mitte", "Seitenvorderteil", "Seite", "Seitenr\u00fcckenteil", "R\u00fcckenmitte"),
        (
            "milieu devant",
            "c\u00f4t\u00e9 devant",
            "c\u00f4t\u00e9",
            "c\u00f4t\u00e9 dos",
            "milieu dos",
        ),
        ("I", "II", "III", "IV", "V"),
        ("panel one", "panel two", "panel three", "panel four", "panel five"),
        ("1/5", "2/5", "3/5", "4/5", "5/5"),
        (
            "size 12 panel 1",
            "size 12 panel 2",
            "size 12 panel 3",
            "size 12 panel 4",
            "size 12 panel 5",
        ),
    ],
)
@pytest.mark.parametrize(
    "places", thinned([((2, 4, 0, 3, 1),), ((4, 3, 2, 1, 0),), ((3, 2, 4, 1, 0),)])
)
def test_panels_moved_about_are_put_in_order_by_what_they_are_called(
    places: tuple[int, ...], labels: tuple[str, ...], mirrored: bool
) -> None:
    # Moved, not mirrored: where they lie says neither their order nor where their fronts are.
    drafts = [
        replace(draft, x=60.0 + 120.0 * place, name=name)
        for draft, place, name in zip(half(5), places, labels, strict=True)
    ]
    if mirrored:
        drafts = [draft.mirrored(900.0 - draft.x, draft.name) for draft in drafts]
    found = pattern(panels(drafts))
    assert not found.full
    assert names(found) == list(labels)
    assert seams_walk(found)
    assert found.panels[0].is_straight("front")
    assert found.panels[-1].is_straight("back")
    assert all((panel.frame.across[0] < 0.0) == mirrored for panel in found.panels)


def test_pieces_of_both_halves_moved_about_keep_their_fronts() -> None:
    drafts = [replace(d, name=str(k + 1)) for k, d in enumerate(full(8))]
    # From the right to the left, each as it was.
    moved = [replace(d, x=830.0 - 110.0 * k) for k, d in enumerate(drafts)]
    one, other = pattern(panels(drafts)), pattern(panels(moved))
    assert other.full
    assert names(other) == names(one)
    assert seams_walk(other)
    assert other.panels[0].is_straight("back")


def test_names_that_speak_against_the_order_must_be_mended() -> None:
    labels = ("1 side front", "2 centre front", "3 side", "4 centre back")
    drafts = [replace(d, name=n) for d, n in zip(half(4), labels, strict=True)]
    found = assemble(drawing(panels(drafts)), keep_faults=True)
    (fault,) = [r for r in found.ledger if r.kind == "fault"]
    assert fault.code == "order-doubted"
    assert "'2 centre front' is called nearer to the front than '1 side front'" in fault.words


@pytest.mark.parametrize(
    "labels", [("3 CF", "2 side", "1 CB"), ("1 centre front", "2 front", "3 side front")]
)
def test_numbers_are_turned_by_names_if_they_run_from_the_centre_back(
    labels: tuple[str, ...],
) -> None:
    own = half(3)
    found = pattern(panels([replace(d, name=n) for d, n in zip(own, labels, strict=True)]))
    assert names(found) == list(labels)
    assert found.panels[0].frame.across[0] > 0.0


def test_numbers_with_a_hole_are_not_an_order() -> None:
    own = half(3)
    labels = ("size 38", "size 42", "size 40")
    found = pattern(panels([replace(d, name=n) for d, n in zip(own, labels, strict=True)]))
    assert names(found) == list(labels)


def test_order_of_the_job_wins_over_numbers_and_position() -> None:
    drafts = half(4)
    given = ("panel 4", "panel 3", "panel 2", "panel 1")
    found = pattern(panels(drafts), Reading(order=given))
    assert names(found) == list(given)
    assert all(panel.frame.across[0] < 0.0 for panel in found.panels)
    assert seams_walk(found)


def test_order_of_the_job_may_give_ids_of_labelled_outlines() -> None:
    body = "".join(
        path(d.data, f"path{k}", f'data-panel="{name}"') + d.line(over=0.5)
        for k, (d, name) in enumerate(zip(half(3), ("left", "mid", "end"), strict=True))
    )
    found = pattern(body, Reading(order=("path2", "mid", "path0")))
    assert names(found) == ["end", "mid", "left"]


@pytest.mark.parametrize(
    ("order", "words"),
    [
        (("panel 1", "panel 2"), "not in the order: panel 3"),
        (("panel 1", "panel 2", "panel 3", "panel 9"), 'no such panel: "panel 9"'),
        (("panel 1", "panel 2", "panel 3", "panel 1"), "a panel is named twice"),
    ],
)
def test_order_that_does_not_fit_is_refused(order: tuple[str, ...], words: str) -> None:
    with pytest.raises(PatternError) as caught:
        pattern(panels(half(3)), Reading(order=order))
    message = str(caught.value)
    assert words in message
    assert "pattern.order" in message
    assert "panel 1, panel 2, panel 3" in message


# -- names --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("outline", "wrap", "expected"),
    [
        ('id="gusset"', "", "gusset"),
        ('id="path88" aria-label="gusset"', "", "gusset"),
        ('id="path88" data-panel="gusset"', "hip pieces", "gusset"),
        ('id="gusset" data-panel="side"', "", "side"),
        ('id="path88"', "gusset", "gusset"),
        ('id="outline"', "gusset", "gusset"),
        ('id="path88"', "g44", "1"),
        ('id="path88"', "", "1"),
    ],
)
def test_panel_is_named_by_data_own_name_or_its_group(
    outline: str, wrap: str, expected: str
) -> None:
    draft = Draft()
    body = f'<path {outline} d="{draft.data}"/>' + draft.line()
    found = pattern(group(body, wrap) if wrap else body)
    assert names(found) == [expected]


def test_group_round_several_panels_names_none_of_them() -> None:
    drafts = unnamed(half(3))
    assert names(pattern(group(panels(drafts), "bodice"))) == ["1", "2", "3"]


def test_label_of_any_prefix_names_a_panel() -> None:
    draft = Draft(name="path1")
    body = f'<g xmlns:d="urn:x" d:label="side front">{draft.outline()}{draft.line()}</g>'
    assert names(pattern(body)) == ["side front"]


def test_two_panels_with_one_name_are_refused_with_both_ids() -> None:
    drafts = half(2)
    body = "".join(
        path(d.data, f"path{k}", 'data-panel="side"') + d.line() for k, d in enumerate(drafts)
    )
    with pytest.raises(PatternError, match="two panels have the name 'side': path0 and path1"):
        pattern(body)


# -- rows and turned sheets ---------------------------------------------------------------


def test_rows_are_read_like_writing() -> None:
    drafts = unnamed(half(5))
    body = panels([d.at(60 + 120 * (k % 3), 200 + 300 * (k // 3)) for k, d in enumerate(drafts)])
    assert widths(pattern(body)) == [40.0, 44.0, 48.0, 52.0, 56.0]


def test_waists_a_little_out_of_line_are_still_one_row() -> None:
    drafts = unnamed(half(4))
    body = panels([d.at(d.x, 200 + 40 * (-1) ** k) for k, d in enumerate(drafts)])
    assert widths(pattern(body)) == [40.0, 44.0, 48.0, 52.0]


def turned(degrees: float, body: str) -> str:
    return f'<g transform="rotate({degrees} 500 500)">{body}</g>'


@pytest.mark.parametrize("degrees", [0.0, 20.0, 90.0, 137.0, 180.0, 270.0, 300.0])
def test_turned_sheet_with_named_levels_changes_nothing(degrees: float) -> None:
    drafts = unnamed(half(3))
    body = panels(drafts) + "".join(d.line("bust", 80.0) + d.line("hip", -70.0) for d in drafts)
    # Turned about its middle, the row reaches beyond a page of its own height.
    page = 'width="3000mm" height="3000mm" viewBox="-1000 -1000 3000 3000"'
    found = pattern(turned(degrees, body), root=page)
    straight = pattern(body)
    assert widths(found) == widths(straight)
    for a, b in zip(found.panels, straight.panels, strict=True):
        for edge in ("front", "back", "top", "bottom"):
            assert length(a.edge(edge)) == pytest.approx(length(b.edge(edge)), abs=1e-6)
        assert [level.name for level in a.levels] == ["bust", "hip"]
        assert a.level("bust").height == pytest.approx(80.0, abs=1e-6)  # type: ignore[union-attr]
    angle = np.radians(degrees)
    up = np.array([np.sin(angle), -np.cos(angle)])
    assert np.allclose(found.panels[0].frame.up, up, atol=1e-9)
    assert not found.warnings


def test_sheet_on_its_side_without_levels_warns_that_the_top_is_a_guess() -> None:
    found = pattern(turned(-90.0, panels(unnamed(half(2)))))
    assert len(found.warnings) == 2
    assert "lies on its side" in found.warnings[0]
    assert found.panels[0].frame.up[0] < -0.99


@pytest.mark.parametrize(("turned", "mirrored"), [(180, 1), (90, 1), (270, 1), (0, -1), (180, -1)])
def test_words_tell_which_end_is_the_top_where_no_level_does(turned: int, mirrored: int) -> None:
    drafts = half(3)
    body = panels(drafts) + "".join(text("cut 2", d.x + 15.0, 170.0) for d in drafts)
    lie = (
        f'transform="translate(400 400) rotate({turned}) scale({mirrored} 1) translate(-300 -200)"'
    )
    found = pattern(group(body, "sheet", lie))
    assert names(found) == [d.name for d in drafts]
    tops = [length(panel.edge("top")) for panel in found.panels]
    plain = [length(panel.edge("top")) for panel in pattern(panels(drafts)).panels]
    assert tops == pytest.approx(plain, abs=1e-3)
    assert [r.code for r in found.ledger].count("top-by-words") == 3 * (turned > 0)


def test_upside_down_panels_are_righted_by_their_levels_one_by_one() -> None:
    first, second = half(2)
    body = panels([first]) + first.line("bust", 80.0)
    body += f'<g transform="rotate(180 {second.x + 0.5 * second.waist} 200)">'
    body += second.panel() + second.line("bust", 80.0) + "</g>"
    found = pattern(body)
    assert found.panels[0].frame.up[1] == pytest.approx(-1.0)
    assert found.panels[1].frame.up[1] == pytest.approx(1.0)
    (note,) = (r for r in found.ledger if r.code == "top-by-levels")
    assert (note.kind, note.elements) == ("note", (second.name,))
    heights = [level.height for panel in found.panels for level in panel.levels]
    assert heights == pytest.approx([80.0, 80.0])
    assert seams_walk(found)


@pytest.mark.parametrize("told", [[0], [2], [1, 2]])
@pytest.mark.parametrize("degrees", [90.0, 180.0, 270.0])
def test_panels_without_levels_go_with_those_of_a_turned_draft_that_have_them(
    degrees: float, told: list[int]
) -> None:
    """They stood the other way up: half of each layer would have been cut on its head."""
    drafts = half(3)
    body = panels(drafts) + "".join(drafts[k].line("bust", 80.0) for k in told)
    page = 'width="3000mm" height="3000mm" viewBox="-1000 -1000 3000 3000"'
    found = pattern(turned(degrees, body), root=page)
    straight = pattern(body)
    assert [r.code for r in straight.ledger].count("top-taken") == 0
    for a, b in zip(found.panels, straight.panels, strict=True):
        for edge in ("front", "back", "top", "bottom"):
            assert length(a.edge(edge)) == pytest.approx(length(b.edge(edge)), abs=1e-6)
    (warning,) = (r for r in found.ledger if r.code == "top-taken")
    assert warning.kind == "warning"
    assert list(warning.elements) == [d.name for k, d in enumerate(drafts) if k not in told]


def test_levels_that_contradict_each_other_leave_a_panel_as_it_stands() -> None:
    """Two hip lines, one above the waist: only the panel with the wrong one alone is turned.

    That its seam does not walk then shows it; turned with it all would walk, on their heads.
    """
    drafts = half(3)
    hips = "".join(d.line("hip", 80.0) for d in drafts)
    hips += "".join(d.line("hip", -70.0) for d in drafts[:2])
    with pytest.raises(PatternError, match="seam panel 2 to panel 3: the two waistlines meet it"):
        pattern(panels(drafts) + hips)


def test_a_top_that_nothing_tells_is_told_as_taken_from_the_sheet() -> None:
    drafts = half(3)
    (note,) = (r for r in pattern(panels(drafts)).ledger if r.code == "top-taken")
    assert (note.kind, note.elements) == ("note", ())
    turned_one = f'<g transform="rotate(180 {drafts[1].x} 200)">'
    body = drafts[0].panel() + drafts[0].line("bust", 80.0) + drafts[2].at(400.0).panel()
    body += f"{turned_one}{drafts[1].at(0.0).panel()}{drafts[1].at(0.0).line('bust', 80.0)}</g>"
    (warning,) = (r for r in pattern(body).ledger if r.code == "top-taken")
    assert (warning.kind, warning.elements) == ("warning", (drafts[2].name,))


@pytest.mark.parametrize("backwards", [False, True])
def test_sense_in_which_an_outline_is_drawn_changes_nothing(backwards: bool) -> None:
    draft = half(2)[0]
    source = drawing(draft.panel())
    if backwards:
        outline = replace(source.shapes[0], curve=source.shapes[0].curve.reversed())
        source = replace(source, shapes=(outline, *source.shapes[1:]))
    from panelshift.draft import assemble

    panel = assemble(source).panels[0]
    assert panel.is_straight("front")
    assert not panel.is_straight("back")
    assert panel.edge("front").start == pytest.approx([60.0, 300.0])
    assert panel.edge("top").start == pytest.approx([60.0, 80.0])


@pytest.mark.parametrize("by_words", [True, False])
@pytest.mark.parametrize("back_outside", [True, False])
def test_both_halves_have_their_centre_fronts_together_however_they_are_drawn(
    by_words: bool, back_outside: bool
) -> None:
    own = half(3)
    places = ["cf", "side", "cb"]
    first = own if not back_outside else [replace(d, left=d.right, right=d.left) for d in own[::-1]]
    said = places if not back_outside else places[::-1]
    second = [replace(d, left=d.right, right=d.left) for d in first[::-1]]
    x, row, words = 60.0, [], []
    for k, (draft, word) in enumerate(zip([*first, *second], [*said, *said[::-1]], strict=True)):
        side = "left" if (k < 3) != back_outside else "right"
        name = f"path{4000 + k}" if by_words else f"{word} {side}"
        row.append(replace(draft, x=x, name=name))
        words.append(text(word, x + 10.0, 220.0) if by_words else "")
        x += draft.waist + 40.0
    found = pattern(panels(row) + "".join(words))
    assert found.full
    said_of = [set(name.split()) for name in names(found)]
    for k, place in enumerate(["cb", "side", "cf", "cf", "side", "cb"]):
        assert place in said_of[k]
    sides = [said & {"left", "right"} for said in said_of]
    assert sides[:3] == [sides[0]] * 3
    assert sides[3:] == [sides[3]] * 3
    assert sides[0] != sides[3]
    assert seams_walk(found)
    # The centre front and back are straight, and the front edges of each half look at its front.
    for panel in found.panels:
        place = next(place for place in places if place in panel.name.split())
        assert panel.is_straight("front") == (place == "cf")
        assert panel.is_straight("back") == (place == "cb")


def test_one_panel_across_the_centre_back_is_refused() -> None:
    row = full(5)
    called = [
        replace(d, name=n)
        for d, n in zip(row, ["cf left", "a", "centre back", "b", "cf right"], strict=True)
    ]
    with pytest.raises(PatternError, match="across the centre back"):
        pattern(panels(called))


def shuffled(places: list[int], **named: str) -> Pattern:
    """Panels whose seams differ in length from each other, laid on the sheet in some order."""
    ups = [118.0, 124.0, 131.0, 120.0, 110.0]
    row, x = [], 60.0
    for k in places:
        low, high = ups[k], ups[k + 1]
        data = f"M{x} {200 - low}L{x + 50} {200 - high}V{290 + 5 * (k + 1)}L{x} {290 + 5 * k}Z"
        row.append(path(data, f"path{k}", f'data-panel="{named[f"p{k}"]}"' if named else ""))
        row.append(path(f"M{x} 200H{x + 50}", f"waist {k}"))
        x += 90.0
    return assemble(drawing("".join(row)), keep_faults=True)


def test_seams_tell_the_order_of_panels_that_were_moved() -> None:
    assert not [r for r in shuffled([0, 1, 2, 3]).ledger if r.kind == "fault"]
    moved = shuffled([2, 0, 1, 3])
    told = [r for r in moved.ledger if r.kind == "fault" and r.code == "order-taken"]
    (fault,) = told
    # By the names that they have: their places on the sheet, from the left.
    assert "all seams walk: 2, 3, 1, 4" in fault.words
    assert 'order = ["2", "3", "1", "4"]' in fault.remedy


@pytest.mark.parametrize("bust", [10, 20, 40])
def test_a_seam_that_goes_on_beyond_a_sharp_bend_is_asked_about(bust: int) -> None:
    # A bend as under a cup, 60 and 90 mm over the waist, in both edges of the seam.
    one = path(f"M60 80H{110 + bust}L{115 + bust} 140L115 170L110 230L134 350H60Z", "1")
    two = path(f"M{250 - bust} 80H300V350H226L250 230L245 170L{245 - bust} 140Z", "2")
    body = one + two + path("M50 230H310", "waist")
    found = assemble(drawing(body), Reading(halves="half"), keep_faults=True)
    told = [r for r in found.ledger if r.code == "seam-goes-on"]
    assert len(told) == (bust > 10)
    whole = np.hypot(24, 120) + np.hypot(5, 60) + np.hypot(bust, 30) + np.hypot(5, 60)
    if told:
        assert length(found.panels[0].edge("back")) < 0.8 * whole
        assert f'[panel."1"] corners = {{ back_top = [{110 + bust}.0, 80.0] }}' in told[0].remedy
        ends = {"1": {"back_top": (110.0 + bust, 80.0)}, "2": {"front_top": (250.0 - bust, 80.0)}}
        found = assemble(drawing(body), Reading(halves="half", corners=ends))
    assert found.seam_lengths() == pytest.approx(np.full((1, 2), whole))


def test_an_order_that_is_said_is_not_doubted_by_seams_alone() -> None:
    said = {"p2": "1", "p0": "2", "p1": "3", "p3": "4"}
    assert "order-taken" not in {r.code for r in shuffled([2, 0, 1, 3], **said).ledger}


@pytest.mark.slow
def test_alike_panels_beside_one_that_fits_none_end_soon() -> None:
    # Eleven that could stand in any order, and one that could stand nowhere.
    row = [Draft(f"path{k}", x=60.0 + 90.0 * k) for k in range(12)]
    row[5] = replace(row[5], left=(6.0, 45.0), right=(30.0, 9.0))
    found = assemble(drawing(panels(row)), Reading(halves="half"), keep_faults=True)
    assert "order-taken" not in {r.code for r in found.ledger if r.kind == "fault"}
