"""Outlines in pieces, drawn twice, with residue, closed oddly, as subpaths, filled or stroked."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelshift.draft import Reading
from panelshift.errors import PatternError
from panelshift.outline.measure import length
from panelshift.pattern.pattern import Pattern
from tests.support.drafts import path_data
from tests.support.examples import thinned
from tests.support.export_changes import (
    begun_at,
    closed_by,
    each_curve,
    in_pieces,
    mixed,
    nudged,
    outlines_changed,
    specks,
    turned,
    unnamed,
    with_double_points,
)
from tests.support.export_elements import (
    EACH_BASE,
    FILLED,
    STROKED,
    Element,
    Elements,
    assembled,
    base,
    body_of,
    curves_of,
    of_role,
    pattern_of,
    plain,
)
from tests.support.same_pattern import assert_same

bases = pytest.mark.parametrize("draft", EACH_BASE)

CUTS = (0.0, 0.13, 0.3, 0.5, 0.77)


def reasons(found: Pattern) -> list[str]:
    return [item.reason for item in found.left_out]


@bases
def test_plain_drafts_are_read_without_a_word(draft: str) -> None:
    found = plain(draft)
    assert len(found.panels) == {"half block": 4, "hourglass": 6}[draft]
    assert not found.left_out
    assert not found.warnings


def test_the_comparison_can_fail() -> None:
    elements = base("half block")
    for change in (
        elements[1:],
        elements[:-1],
        [nudged(e, (0.002, 0.0)) if e.name == "notch" else e for e in elements],
        outlines_changed(elements, lambda e: [replace(e[0], name=e[0].name + "x")]),
        each_curve(elements, lambda curve: curve.scaled(1.0 + 1e-5)),
    ):
        with pytest.raises(AssertionError):
            assert_same(assembled(change), plain("half block"))


# -- pieces -------------------------------------------------------------------------------


def pieces(draft: str, cuts: tuple[float, ...] = CUTS) -> Elements:
    return outlines_changed(base(draft), lambda e: in_pieces(e[0], cuts))


@bases
@pytest.mark.parametrize(
    ("cuts", "seed"), [((0.0, 0.5), 1), (CUTS, 2), (tuple(np.linspace(0.0, 1.0, 24)), 3)]
)
def test_outlines_in_pieces_shuffled_and_turned(draft: str, cuts, seed: int) -> None:
    found = assembled(mixed(pieces(draft, cuts), seed))
    assert_same(found, plain(draft))
    assert not found.left_out
    joined = [note for note in found.notes if "joined from" in note]
    assert len(joined) == len(found.panels)


@bases
def test_name_of_a_panel_may_stand_on_each_of_its_pieces(draft: str) -> None:
    nameless = [replace(e, name="") if e.role == "piece" else e for e in pieces(draft)]
    names = [str(k + 1) for k in range(len(plain(draft).panels))]
    assert [panel.name for panel in assembled(nameless).panels] == names
    assert_same(assembled(pieces(draft)), plain(draft))


@bases
def test_gaps_within_the_tolerance_are_bridged_and_told(draft: str) -> None:
    def parted(elements: Elements) -> Elements:
        return [
            nudged(piece, (0.1 * (k % 2), 0.0))
            for k, piece in enumerate(in_pieces(elements[0], (0.0, 0.25, 0.5, 0.75)))
        ]

    found = assembled(outlines_changed(base(draft), parted))
    assert_same(found, plain(draft), within=0.25)
    assert sum("largest gap 0.100 mm" in note for note in found.notes) == len(found.panels)


def test_gap_beyond_the_tolerance_is_refused_with_the_remedy() -> None:
    parted = outlines_changed(
        base("half block"),
        lambda e: [
            nudged(piece, (0.7 * (k % 2), 0.0))
            for k, piece in enumerate(in_pieces(e[0], (0.1, 0.6)))
        ],
    )
    with pytest.raises(PatternError) as caught:
        assembled(parted)
    message = str(caught.value)
    assert "0 closed outline(s), 4 waistline(s)" in message
    assert "8 open lines do, such as panel 1" in message
    assert "ends within 0.5 mm are joined (join_tolerance" in message
    assert len(assembled(parted, reading=Reading(join_tolerance=0.8)).panels) == 4


@bases
@pytest.mark.parametrize("size", [0.02, 0.1, 0.4])
def test_short_piece_of_an_outline_takes_its_own_place(draft: str, size: float) -> None:
    def cut(elements: Elements) -> Elements:
        (curve,) = elements[0].curves
        # Inside a segment, so that the short piece is a true part of an edge.
        rate = float(np.hypot(*curve.derivatives([0.5])[0])) * len(curve)
        return in_pieces(elements[0], (0.0, 0.5 / len(curve), 0.5 / len(curve) + size / rate, 0.6))

    found = assembled(mixed(outlines_changed(base(draft), cut), 3))
    assert_same(found, plain(draft))
    assert not found.left_out


@pytest.mark.parametrize("size", [0.001, 0.02, 0.044])
def test_short_end_of_a_piece_at_a_corner_bends_no_edge(size: float) -> None:
    """Found by chance: the cut lay 0.04 mm beyond a corner, and the edge before it slanted."""

    def cut(elements: Elements) -> Elements:
        (curve,) = elements[0].curves
        ends = [0.0, *(start + size / 60.0 for start in range(len(curve)))]
        return in_pieces(elements[0], [end / len(curve) for end in ends])

    found = assembled(outlines_changed(base("half block"), cut))
    assert_same(found, plain("half block"))


# -- copies -------------------------------------------------------------------------------

COPIES = {
    "exact": lambda e: [e],
    "reversed": lambda e: each_curve([e], turned),
    "begun elsewhere": lambda e: each_curve([e], lambda curve: begun_at(curve, 2)),
    "reversed and begun elsewhere": lambda e: each_curve([e], lambda c: turned(begun_at(c, 3))),
    "in pieces": lambda e: in_pieces(e, CUTS) if e.curves[0].closed else [e],
    "1e-4 mm aside": lambda e: [nudged(e, (1e-4, -1e-4))],
    "rounded": lambda e: each_curve([e], lambda c: replace(c, control=np.round(c.control, 1))),
}


@pytest.mark.parametrize("how", thinned(COPIES, 2))
@pytest.mark.parametrize(
    ("draft", "first", "roles"),
    [
        ("hourglass", True, ("outline",)),
        ("half block", False, ("outline", "waist", "level", "mark")),
    ],
)
@pytest.mark.slow
def test_unnamed_copies_on_top_of_a_draft_are_passed_over(
    draft: str, how: str, first: bool, roles: tuple[str, ...]
) -> None:
    elements = base(draft)
    copied = of_role(elements, *roles)
    copies = [unnamed(one) for e in copied for one in COPIES[how](e)]
    found = assembled(copies + elements if first else elements + copies)
    assert_same(found, plain(draft))
    assert all("drawn twice: it lies on top of" in reason for reason in reasons(found))
    # A copy in pieces is told once, not for each of its pieces.
    assert len(found.left_out) == len(copied)
    assert not found.warnings


@bases
def test_everything_drawn_three_times_with_its_name(draft: str) -> None:
    found = assembled(base(draft) * 3)
    assert_same(found, plain(draft))
    assert len(found.left_out) == 2 * len(base(draft))
    assert not found.warnings


@bases
def test_pieces_drawn_twice_are_joined_once(draft: str) -> None:
    found = assembled(mixed(pieces(draft) * 2, 4))
    assert_same(found, plain(draft))


@bases
@pytest.mark.parametrize("named", ["fill", "stroke"])
def test_fill_and_stroke_of_a_panel_as_two_elements(draft: str, named: str) -> None:
    def both(elements: Elements) -> Elements:
        fill, stroke = replace(elements[0], paint=FILLED), replace(elements[0], paint=STROKED)
        return [unnamed(fill), stroke] if named == "stroke" else [fill, unnamed(stroke, STROKED)]

    assert_same(assembled(outlines_changed(base(draft), both)), plain(draft))


@pytest.mark.parametrize("draft", ["half block"])
@pytest.mark.parametrize(
    "paint", [FILLED, STROKED, 'fill="red"', "", 'style="fill:url(#p);stroke:none"']
)
def test_filled_stroked_or_neither_is_one_outline(draft: str, paint: str) -> None:
    body = body_of(replace(e, paint=paint) for e in base(draft))
    lines = "".join(f'<path d="M0 {k}H8"/>' for k in range(8))
    weave = f'<defs><pattern id="p" width="8" height="8">{lines}</pattern></defs>'
    assert_same(pattern_of(weave + body), plain(draft))


def test_copy_that_is_too_far_off_is_refused() -> None:
    elements = base("half block")
    shifted = [nudged(unnamed(e), (0.3, 0.3)) for e in of_role(elements, "outline")]
    with pytest.raises(PatternError, match="lie on top of each other and cross: panel 1 and path"):
        assembled(elements + shifted)


def test_lines_of_two_names_in_one_place_are_no_copies() -> None:
    elements = base("half block")
    bust = next(e for e in elements if e.name == "bust")
    found = assembled([*elements, replace(bust, name="underbust")])
    assert {"bust", "underbust"} & {level.name for level in found.panels[0].levels}
    assert reasons(found) != []


# -- residue ------------------------------------------------------------------------------


@pytest.mark.parametrize("draft", ["half block"])
@pytest.mark.parametrize(
    ("size", "broken"), [(1e-5, True), (0.01, False), (0.01, True), (0.1, True), (0.49, True)]
)
def test_tiny_stray_lines_change_nothing_and_are_told_in_a_line(
    draft: str, size: float, broken: bool
) -> None:
    elements = pieces(draft) if broken else base(draft)
    found = assembled(mixed(elements + specks(base(draft), size, 5, 30), 6))
    assert_same(found, plain(draft))
    assert len([r for r in reasons(found) if "a stray line shorter than 0.5 mm" in r]) == 1
    assert all("stray" in reason or "drawn twice" in reason for reason in reasons(found))
    assert not found.warnings


@bases
def test_points_and_lines_of_no_length_draw_nothing(draft: str) -> None:
    points = "".join(
        f'<path d="{data}"/>'
        for data in ("M9 9", "M80 200h0", "M80 200z", "M70 190L70 190Z", "M5 5M6 6M7 7", "M1 1L1 1")
    )
    found = pattern_of(points + body_of(base(draft)) + points)
    assert_same(found, plain(draft))
    assert all("only a point" in reason for reason in reasons(found))


@bases
def test_double_points(draft: str) -> None:
    found = assembled(base(draft), with_double_points)
    assert_same(found, plain(draft))
    assert not found.left_out


@bases
@pytest.mark.parametrize("step", [1e-6, 4e-4])
def test_points_that_are_almost_double(draft: str, step: float) -> None:
    found = assembled(base(draft), lambda curve: with_double_points(curve, step))
    assert_same(found, plain(draft))
    segments = [len(panel.outline) for panel in found.panels]
    assert segments == [len(panel.outline) for panel in plain(draft).panels]


MISSES = [(1e-6, 0.0), (-1e-6, 1e-6), (0.0, -1e-4), (9e-4, -9e-4), (-9e-4, 9e-4), (0.0, 5e-4)]


@pytest.mark.parametrize("draft", ["half block"])
@pytest.mark.parametrize("miss", MISSES)
@pytest.mark.parametrize(("turn", "start"), [(False, 0), (True, 0), (False, 1)])
def test_closing_segment_that_has_almost_no_length(
    draft: str, miss: tuple[float, float], turn: bool, start: int
) -> None:
    elements = outlines_changed(
        base(draft),
        lambda e: each_curve(e, lambda c: begun_at(turned(c) if turn else c, start)),
    )
    data = closed_by("miss Z", miss)
    body = body_of(of_role(elements, "outline"), data)
    body += body_of([e for e in elements if e.role != "outline"])
    found = pattern_of(body)
    assert_same(found, plain(draft))
    segments = [len(panel.outline) for panel in found.panels]
    assert segments == [len(panel.outline) for panel in plain(draft).panels]


@bases
@pytest.mark.parametrize("how", ["return", "return Z"])
def test_explicit_return_to_the_start(draft: str, how: str) -> None:
    found = assembled(base(draft), closed_by(how))
    # A bone channel that is not closed is joined like any outline.
    assert_same(found, plain(draft))


def test_spike_that_a_maker_can_see_is_refused() -> None:
    with pytest.raises(PatternError, match=r"crosses itself at \(60\.2, 80\.0\)"):
        assembled(base("half block"), closed_by("miss Z", (0.2, -0.2)))


@pytest.mark.slow
def test_curve_drawn_as_many_short_lines_keeps_them() -> None:
    def flattened(curve):
        if not curve.closed:
            return path_data(curve)
        points = curve.points(np.linspace(0.0, len(curve), 24_001)[:-1]).tolist()
        return "M" + "L".join(f"{x!r} {y!r}" for x, y in points) + "Z"

    elements = of_role(base("half block"), "outline", "waist")[:2]
    found, drawn = assembled(elements, flattened), assembled(elements)
    assert len(found.panels[0].outline) == 24_000
    assert length(found.panels[0].outline) == pytest.approx(length(drawn.panels[0].outline))


# -- several subpaths -----------------------------------------------------------------------


@bases
def test_all_outlines_as_one_compound_path(draft: str) -> None:
    elements = base(draft)
    whole = tuple(e.curves[0] for e in of_role(elements, "outline"))
    rest = [e for e in elements if e.role != "outline"]
    for name in ("", "Corset draft"):
        found = assembled([Element(whole, name, "mark", paint=FILLED), *rest])
        # The path's name is no panel's: they are numbered by their places.
        numbered = [str(k + 1) for k in range(len(whole))]
        assert [panel.name for panel in found.panels] == numbered
        assert found.waist == pytest.approx(plain(draft).waist, abs=1e-6)
        assert [len(p.marks) for p in found.panels] == [len(p.marks) for p in plain(draft).panels]


@bases
def test_each_panel_as_one_path_with_its_waistline_and_marks(draft: str) -> None:
    elements = base(draft)
    whole = [
        replace(o, curves=(o.curves[0], *(e.curves[0] for e in elements if _is_waist_of(e, o))))
        for o in of_role(elements, "outline")
    ]
    found = assembled(whole)
    assert [panel.name for panel in found.panels] == [p.name for p in plain(draft).panels]
    assert found.waist == pytest.approx(plain(draft).waist, abs=1e-6)


def _is_waist_of(element: Element, outline: Element) -> bool:
    return element.role == "waist" and element.panel == outline.panel


@bases
def test_waistlines_as_one_compound_path_may_be_named_by_its_id(draft: str) -> None:
    elements = base(draft)
    lines = tuple(e.curves[0] for e in of_role(elements, "waist"))
    others = [e for e in elements if e.role != "waist"]
    body = body_of(others) + f'<path id="x9" d="{"".join(map(path_data, lines))}"/>'
    assert_same(pattern_of(body, reading=Reading(waistlines=("x9",))), plain(draft))
    assert_same(pattern_of(body.replace("x9", "waistlines")), plain(draft))


def test_compound_path_is_read_like_its_parts() -> None:
    (ring, hole) = curves_of('<path d="M0 0h90v90h-90zm20 20v50h50v-50z"/>')
    assert (len(ring), len(hole)) == (4, 4)
    assert hole.start.tolist() == [20.0, 20.0]


# -- the two sides of a stroke ------------------------------------------------------------


def test_stroke_made_into_a_shape_is_refused() -> None:
    from tests.support.export_changes import allowances

    elements = base("half block")
    with pytest.raises(PatternError, match=r"0\.5 mm apart all round.*two sides of one thick line"):
        assembled(elements + allowances(elements, 0.5))
