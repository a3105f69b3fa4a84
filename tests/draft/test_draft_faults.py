"""What must be mended before anything is cut: pieces left over, pages cut off."""

from __future__ import annotations

from dataclasses import replace

import pytest

from panelshift.draft import Reading, assemble
from panelshift.draft.names import looks
from panelshift.errors import PatternError
from panelshift.outline import Curve
from panelshift.pattern.drawing import LineStyle, Shape
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import Draft, drawing, group, half, panels, path, pattern, text

ONE = Draft("side")


def left_out(found: Pattern) -> dict[str, str]:
    return {item.ident: item.reason for item in found.left_out}


def refusal(body: str, reading: Reading | None = None, root: str = "") -> str:
    with pytest.raises(PatternError) as caught:
        pattern(body, reading, root)
    return str(caught.value)


def faulty(body: str, root: str = "") -> Pattern:
    """What is read of a drawing that must be mended before it is cut."""
    with pytest.raises(PatternError):
        pattern(body, root=root)
    return assemble(drawing(body, root), keep_faults=True)


def faults(found: Pattern) -> dict[str, str]:
    return {r.elements[0]: r.code for r in found.ledger if r.kind == "fault"}


PIECES = {
    "yoke": "M300 100H400V165L350 175L300 165Z",
    "gore": "M300 250L350 100L400 250Z",
    "cup": "M300 200C300 120 400 120 400 200C380 230 320 230 300 200Z",
    "forgotten": Draft("forgotten", x=300.0).data,
}


@pytest.mark.parametrize("name", PIECES)
def test_a_piece_that_no_waistline_crosses_must_be_named_before_anything_is_cut(name: str) -> None:
    body = ONE.panel() + path(PIECES[name], name)
    message = refusal(body)
    assert f"{name}: it looks like a panel, but no waistline crosses it" in message
    assert "leave_out" in message
    found = faulty(body)
    assert faults(found) == {name: "no-waistline"}
    assert [panel.name for panel in found.panels] == ["side"]
    assert name in left_out(found)
    asked = pattern(body, Reading(leave_out=(name,)))
    assert left_out(asked) == {name: "left out as asked"}


def test_a_short_panel_with_a_waistline_of_its_own_is_not_dropped() -> None:
    tall = Draft("tall", y=250.0, above=200.0, below=200.0)
    short = Draft("short", x=300.0, y=250.0, waist=90.0, above=50.0, below=40.0)
    assert faults(faulty(tall.panel() + short.panel())) == {"short": "short-panel"}


@pytest.mark.parametrize(
    "other",
    [
        '<rect id="r" x="300" y="60" width="100" height="100"/>',
        '<circle id="r" cx="340" cy="100" r="9"/>',
        '<rect id="r" x="300" y="60" width="12" height="200"/>',
        '<rect id="frame" x="300" y="60" width="120" height="200"/>',
    ],
)
def test_test_squares_logos_strips_and_frames_are_no_pieces(other: str) -> None:
    assert not faults(pattern(ONE.panel() + other))


def test_an_element_or_layer_to_leave_out_must_be_there() -> None:
    message = refusal(ONE.panel(), Reading(leave_out=("yoke",)))
    assert "no element 'yoke' to leave out" in message
    message = refusal(group(ONE.panel(), "net"), Reading(leave_layers=("old",)))
    assert "no layer 'old'" in message
    assert "Its layers and groups: net" in message


def test_layers_are_left_out_by_name_with_their_texts() -> None:
    other = Draft("old", x=300.0)
    body = ONE.panel() + group(other.outline() + text("old", 310.0, 200.0), "Old Version")
    found = pattern(body, Reading(leave_layers=("old version",)))
    assert left_out(found) == {"old": "in the layer old version, which was left out as asked"}


# -- one page of several ------------------------------------------------------------------

PAGE = 'width="210mm" height="297mm" viewBox="0 0 210 297"'


def cut_at(y: float, name: str = "cut") -> str:
    """A panel whose bottom lies at a height on the page."""
    return Draft(name, x=140.0, y=150.0, waist=30.0, below=y - 150.0).outline()


@pytest.mark.parametrize(
    ("bottom", "words"),
    [
        (296.9, "runs along the bottom edge of the page"),
        (297.1, "runs along the bottom edge of the page"),
        (340.0, "runs off the bottom edge of the page"),
        (290.0, ""),
    ],
)
def test_an_outline_at_the_edge_of_the_page_may_be_of_one_page_of_several(
    bottom: float, words: str
) -> None:
    body = Draft("whole", y=150.0, x=60.0).outline() + cut_at(bottom) + path("M30 150H190", "waist")
    if not words:
        assert not faults(pattern(body, root=PAGE))
        return
    message = refusal(body, root=PAGE)
    assert f"cut: this outline {words}; this may be one page of several" in message
    assert faults(faulty(body, PAGE)) == {"cut": "cut-off"}
    assert not faults(pattern(body))


def test_a_clip_cuts_an_outline_as_a_page_does() -> None:
    body = Draft("whole", y=150.0, x=60.0).outline() + path("M30 150H190", "waist")
    clip = '<clipPath id="tile"><rect x="0" y="0" width="200" height="220"/></clipPath>'
    clipped = f'{clip}<g clip-path="url(#tile)">{body}</g>'
    assert "runs off the bottom edge of the clip" in refusal(clipped)


def test_an_open_line_that_ends_at_the_edge_is_a_piece_of_a_panel_cut_off() -> None:
    body = Draft("whole", y=150.0, x=60.0).panel()
    piece = path("M140 297V190C150 150 150 120 140 90H180C170 150 180 200 185 297", "piece")
    found = faulty(body + piece, PAGE)
    assert faults(found) == {"piece": "cut-off"}
    # Lines across the page, and such as stay on it, are none.
    lines = path("M0 180H210", "grid") + path("M150 20V260", "long") + path("M150 0V297", "fold")
    assert not faults(pattern(body + lines, root=PAGE))


@pytest.mark.parametrize(("count", "level"), [(2, 2), (6, 6), (6, 5)])
def test_level_ends_of_all_panels_on_a_page_fitted_to_them_are_told(count: int, level: int) -> None:
    body = ""
    for k in range(count):
        x, end = 80.0 * k, 300.0 if k < level else 290.0
        top = 5.0 * (k + 1) if k else 0.0
        body += path(f"M{x} {top} L{x + 60} 5 L{x + 55} 150 L{x + 60} {end} H{x} Z", f"{k + 1}")
        body += path(f"M{x} 150 H{x + 58}", f"waist {k + 1}")
    wide = 80.0 * (count - 1) + 60.0
    page = f'width="{wide}mm" height="300mm" viewBox="0 0 {wide} 300"'
    read = pattern if level == count else faulty
    told = [r for r in (read(body, root=page)).ledger if r.code == "cut-off"]
    assert [remark.kind for remark in told] == (
        ["warning"] if level == count else ["fault"] * level
    )
    assert told[0].elements[0] == "1"


def test_a_page_fitted_to_the_pattern_may_touch_its_straight_edges() -> None:
    drafts = half(3)
    left, right = drafts[0].x, drafts[-1].x + drafts[-1].waist
    page = f'width="{right - left}mm" height="220mm" viewBox="{left} 80 {right - left} 220"'
    inner = "".join(
        d.outline() + path(f"M{d.x} 200h{d.waist}", f"waist {k}") for k, d in enumerate(drafts)
    )
    drawn = pattern(inner, root=page)
    assert not faults(drawn)


def test_panels_that_share_their_edges_are_to_be_divided() -> None:
    # A half block with style lines: no panel is 400 mm wide at the waist.
    block = path("M40 100H440V320H40Z", "block") + path("M40 200H440", "waist")
    lines = path("M130 320V100", "path7") + path("M250 100C240 180 240 240 255 320", "path9")
    assert faults(faulty(block + lines)) == {"block": "shared-edges"}
    # Rows of stitching, named, and lines that do not run through.
    assert not faults(pattern(block + group(lines, "channels")))
    assert not faults(pattern(block + path("M130 320V140", "path7")))
    narrow = Draft("one", waist=90.0)
    assert not faults(pattern(narrow.panel() + path("M80 80V300", "path7")))


@pytest.mark.parametrize(
    "words", ["scale 1:4", "drawn at 1/4 scale", "Quarter scale", "Scale: 1 / 4", "scaled to 25 %"]
)
def test_words_that_call_a_draft_smaller_than_true_size(words: str) -> None:
    drafts = half(2, gap=10.0)
    body = "".join(draft.panel() for draft in drafts) + text(words, 20, 20)
    # 168 mm whole, which no adult has, and 672.
    assert "reduced" in faults(faulty(body)).values()
    assert not faults(pattern(body, Reading(drafted_waist=168.0)))
    wide = Draft("one", waist=210.0).panel() + text(
        words.replace("4", "3").replace("Quarter", "Third").replace("25", "33"), 20, 20
    )
    told = [remark.kind for remark in pattern(wide).ledger if remark.code == "reduced"]
    assert told == ["warning"]
    assert not faults(pattern(drafts[0].panel() + text("scale 1:1", 20, 20)))


@pytest.mark.parametrize(("times", "asked"), [(1.15, True), (1.0, False)])
def test_a_waist_that_two_units_make_usual_is_told_by_the_length_of_the_panels(
    times: float, asked: bool
) -> None:
    # 423 mm round the waist in cm and 1075 mm in inches, which make the panels 643 mm long.
    drawn = drawing(panels(half(4)))
    taken = replace(drawn.scaled(2.54 * times), unit_taken="in")
    found = assemble(taken, keep_faults=True)
    told = [r for r in found.ledger if r.code == "file" and r.kind == "fault"]
    assert len(told) == asked
    for remark in told:
        assert "1075 mm in inches, and its longest panel 643 mm, which were taken" in remark.words
        assert "423 mm in centimetres" in remark.words
    stated = assemble(taken, Reading(drafted_waist=found.waist), keep_faults=True)
    assert not [r for r in stated.ledger if r.code == "file" and r.kind == "fault"]


@pytest.mark.parametrize(
    ("width", "words"),
    [(0.0, "solid red line"), (0.25, "solid red line, 0.25 mm wide"), (None, "not painted")],
)
def test_a_line_of_no_stated_width_is_told_without_one(width: float | None, words: str) -> None:
    line = Curve.polyline([(0.0, 0.0), (50.0, 0.0)])
    assert looks(Shape(line, "path[1]", style=LineStyle("#ff0000", width))).endswith(words)
