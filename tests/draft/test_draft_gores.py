"""Gores: found by name, set in a seam, and refused where they do not fit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree

from panelshift.draft import Gore, Reading, assemble
from panelshift.errors import PatternError
from panelshift.job import read_job, resolve
from panelshift.pattern.panel import Span
from panelshift.pattern.pattern import EDGE_KINDS
from panelshift.sources.svg import read_svg
from tests.support.gored import LONG, Point, box, edge_heights, gored, gored_svg, wedge
from tests.support.runs import SAMPLES

HIP = {"gore": wedge()}
COS = 150.0 / LONG


def test_a_gore_lies_as_far_from_the_hem_as_its_edges_are_long() -> None:
    found = gored(gored_svg(HIP))
    gore = found["gore"]
    assert [panel.name for panel in found] == ["front", "gore", "side", "back"]
    assert gore.pointed == "top"
    assert gore.waist is None
    assert (gore.waist_width, found.waist) == (0.0, 660.0)
    assert edge_heights(found) == pytest.approx([-41.0 * COS] * 2)
    # Its own height is that of its tip in the seam.
    assert gore.frame.to_panel(gore.edge("front").end) == pytest.approx([0.0, -41.0 * COS])
    assert gore.edge("top").start.tolist() == gore.edge("top").end.tolist()
    assert [name for name, _ in gore.runs()] == ["front", "back", "bottom"]
    walked = {seam.name: (seam.first, seam.second) for seam in found.walk()}
    below, above = LONG - 41.0, LONG + 41.0
    assert walked == {
        "front to gore": pytest.approx((below, below)),
        "gore to side": pytest.approx((below, below)),
        "front to side": pytest.approx((above, above)),
        "side to back": pytest.approx((2.0 * LONG, 2.0 * LONG)),
    }
    assert [seam.first_span for seam in found.seams] == [
        Span(high="gore"),
        None,
        Span(low="gore"),
        None,
    ]
    crossed = [(found.panels[s.first].name, s.second) for s in found.waist_seams]
    assert crossed == [("front", 2), ("side", 3)]
    assert any("open at the bottom" in note for note in found.notes)
    assert found.warnings == ()


def test_a_gore_called_after_the_bust_may_be_drawn_in_pieces() -> None:
    (tip, one, two) = wedge()
    sides = zip((tip, one, two), (one, two, tip), strict=True)
    pieces = "".join(
        f'<path aria-label="bust gore" d="M{100 + a} {600 - b} L{100 + c} {600 - d}"/>'
        for (a, b), (c, d) in sides
    )
    found = gored(gored_svg({}, extra=pieces), Gore("bust gore", ("front", "side")))
    assert edge_heights(found) == pytest.approx([-41.0 * COS] * 2)


@pytest.mark.parametrize("turned", [0.0, 40.0])
def test_a_gore_may_open_at_the_top_beside_one_that_opens_below(turned: float) -> None:
    drawing = gored_svg({"gore": wedge(), "cup": wedge(80.0, up=False)}, turned=turned)
    between = ("side", "front")  # either way round
    found = gored(drawing, Gore("cup", between), Gore("gore", between))
    assert [panel.name for panel in found] == ["front", "gore", "cup", "side", "back"]
    assert found["cup"].pointed == "bottom"
    assert sorted(edge_heights(found)) == pytest.approx(
        [-41.0 * COS] * 2 + [(LONG - 80.0) * COS] * 2
    )
    spans = {walked.name: walked.seam.second_span for walked in found.walk()}
    assert spans["front to side"] == Span("gore", "cup")
    assert spans["cup to side"] == Span(low="cup")
    again = found.mirrored().larger(1.2).part({"front", "side", "cup"})
    assert [walked.name for walked in again.walk()] == [
        "front to cup",
        "cup to side",
        "front to side",
    ]
    assert again.panels[0].tips[0].point == pytest.approx(
        found.mirrored().larger(1.2)["front"].tips[0].point
    )


def test_a_tip_may_be_given_by_its_height_and_seams_then_tell_the_difference() -> None:
    found = gored(gored_svg(HIP), Gore("gore", ("front", "side"), tip="-30 mm"))
    assert edge_heights(found) == pytest.approx([-30.0] * 2)
    first = found.walk()[0]
    assert first.difference == pytest.approx(41.0 - 30.0 / COS)


def test_a_level_line_says_what_is_upright_and_must_meet_its_neighbours() -> None:
    slanting = '<path id="hip" d="M60 690 L140 686"/><path id="hip2" class="hip" d="M40 320 H190"/>'
    found = gored(gored_svg(HIP, extra=slanting))
    up = found["gore"].frame.up
    assert up[0] / up[1] == pytest.approx(4.0 / 80.0)
    assert any("its level line says what is upright" in note for note in found.notes)
    (words,) = found.warnings
    assert "its hip line lies -1" in words
    assert "that of front -100.0 mm" in words


def test_a_line_beyond_the_waist_from_where_it_opens_is_refused() -> None:
    drawn = '<path id="bust" d="M60 690 L140 690"/><path class="bust" d="M40 150 H190"/>'
    words = "taken to open at the bottom, but the line 'bust' across it lies above the waist"
    with pytest.raises(PatternError, match=words):
        gored(gored_svg(HIP, extra=drawn))


@pytest.mark.parametrize("turn", ["matrix(1 0 0 -1 0 900)", "rotate(-90 450 450)"])
def test_gores_open_as_the_panels_stand_on_the_sheet(turn: str, tmp_path: Path) -> None:
    job = SAMPLES / "gored.toml"
    drawing = etree.fromstring((SAMPLES / "gored.svg").read_bytes())
    group = etree.SubElement(drawing, "{http://www.w3.org/2000/svg}g", {"transform": turn})
    group.extend([each for each in drawing if each is not group])
    drawing.set("viewBox", "0 0 900 900")
    drawing.set("width", "900mm")
    drawing.set("height", "900mm")
    (tmp_path / "gored.svg").write_bytes(etree.tostring(drawing))
    turned = tmp_path / "gored.toml"
    turned.write_bytes(job.read_bytes())
    one, two = (resolve(read_job(file)).pattern for file in (job, turned))
    assert [panel.pointed for panel in one] == [panel.pointed for panel in two]
    assert edge_heights(two) == pytest.approx(edge_heights(one), abs=1e-6)


def test_an_outline_that_ends_where_it_began_is_closed_whatever_it_is_called() -> None:
    before, _, after = gored_svg({"hip gore": wedge()}).rpartition(b" Z")
    found = gored(before + b" L100 600" + after, Gore("hip gore", SEAM))
    assert edge_heights(found) == pytest.approx([-41.0 * COS] * 2)


def test_edges_of_unlike_lengths_are_told() -> None:
    found = gored(gored_svg({"gore": [(0.0, 0.0), (25.0, -100.0), (-25.0, -108.0)]}))
    assert "its tip meets front -39.3 mm" in found.warnings[0]


def test_a_gore_that_crosses_the_waist_needs_its_waistline() -> None:
    long = {"gore": wedge(LONG + 30.0)}
    with pytest.raises(PatternError, match="would reach 30 mm across the waist"):
        gored(gored_svg(long))
    waist = f'<path id="waist gore" d="M60 {600.0 + 30.0 * COS} H140"/>'
    found = gored(gored_svg(long, extra=waist))
    assert found["gore"].waist_width == pytest.approx(
        30.0 * COS * 2.0 * 25.0 / -wedge(LONG + 30.0)[1][1]
    )
    assert found.warnings == ()
    crossed = [walked.name for walked in found.walk() if walked.seam in found.waist_seams]
    assert crossed == ["front to gore", "gore to side", "side to back"]
    with pytest.raises(PatternError, match="move it to where no waistline crosses it"):
        gored(gored_svg(long, extra=waist.replace("600", "650").replace("62", "66")))


SEAM = ("front", "side")
BLUNT = [(-3.0, 0.0), (3.0, 0.0), (25.0, -100.0), (-25.0, -100.0)]
BENT = [(0.0, 0.0), (4.0, -40.0), (40.0, -60.0), (40.0, -100.0), (-25.0, -100.0)]
LEGS = [
    (0.0, 0.0),
    (40.0, -100.0),
    (18.0, -100.0),
    (14.0, -45.0),
    (-14.0, -45.0),
    (-18.0, -100.0),
    (-40.0, -100.0),
]
ARROW = [(0.0, 0.0), (25.0, -100.0), (0.0, -40.0), (-25.0, -100.0)]


@pytest.mark.parametrize(
    ("gores", "said", "words"),
    [
        (HIP, [Gore("hip", SEAM)], "there is no outline called 'hip'"),
        (HIP, [Gore("gore", SEAM), Gore("gore", ("side", "back"))], "named twice"),
        (HIP, [Gore("gore", ("front", "cup"))], "there is no panel 'cup'"),
        (HIP, [Gore("gore", ("front", "back"))], "not sewn to each other"),
        (HIP, [Gore("gore", SEAM, tip="knee")], "'knee', which is no level and no height"),
        (
            HIP,
            [Gore("gore", SEAM, tip="-149 mm")],
            "5 mm must be left beyond the tip",
        ),
        ({"gore": wedge(320.0)}, [Gore("gore", SEAM)], "longer than the seam"),
        ({"gore": wedge(100.0, 58.0)}, [Gore("gore", SEAM)], "two of its corners are equally"),
        ({"gore": BLUNT}, [Gore("gore", SEAM)], "two of its corners are equally"),
        ({"gore": BENT}, [Gore("gore", SEAM)], "does not come to a point: its tip is 4"),
        ({"gore": ARROW}, [Gore("gore", SEAM)], "equally sharp"),
        (
            {"gore": wedge(), "twin": wedge()},
            [Gore("gore", SEAM), Gore("twin", SEAM)],
            "both open at the bottom",
        ),
        (
            {"gore": LEGS},
            [Gore("gore", SEAM)],
            "crossed more than twice",
        ),
        (
            {"gore": wedge(), "cup": wedge(150.0, up=False)},
            [Gore("gore", SEAM, tip="-3 mm"), Gore("cup", SEAM, tip="+1 mm")],
            "meet or overlap",
        ),
        (
            {"gore": wedge(), "cup": wedge(200.0, up=False)},
            [Gore("gore", SEAM), Gore("cup", SEAM)],
            "across the waist",
        ),
    ],
)
def test_what_does_not_fit_is_refused(
    gores: dict[str, list[Point]], said: list[Gore], words: str
) -> None:
    with pytest.raises(PatternError, match=words):
        gored(gored_svg(gores), *said)


def test_a_gore_on_its_side_asks_where_it_opens() -> None:
    drawing = gored_svg(HIP, turned=90.0)
    with pytest.raises(PatternError, match="lies on its side"):
        gored(drawing)
    found = gored(drawing, Gore("gore", SEAM, opens_at="bottom"))
    assert found["gore"].pointed == "top"
    assert gored(drawing, Gore("gore", SEAM, opens_at="top"))["gore"].pointed == "bottom"


def test_a_round_outline_and_an_open_one_are_no_gores() -> None:
    round_one = '<circle id="round" cx="500" cy="650" r="40"/>'
    with pytest.raises(PatternError, match="its outline has no corner"):
        gored(gored_svg({}, extra=round_one), Gore("round", SEAM))
    with pytest.raises(PatternError, match="is no closed outline"):
        gored(gored_svg({}, extra='<path id="open" d="M400 600 L425 700"/>'), Gore("open", SEAM))
    twice = "".join(
        f'<g id="twin gore"><path d="M{x} 600 l25 100 h-50 z"/></g>' for x in (400, 500)
    )
    twice = twice.replace("<path", '<path class="x" data-panel="twin gore"')
    with pytest.raises(PatternError, match="2 closed outlines are called 'twin gore'"):
        gored(gored_svg({}, extra=twice), Gore("twin gore", SEAM))


def test_gores_in_both_halves_of_a_full_pattern() -> None:
    panels = {f"{side} {k}": box(150.0) for side in ("left", "right") for k in (1, 2)}
    gores = {"a": wedge(100.0), "b": wedge(100.0)}
    drawing = read_svg(gored_svg(gores, panels=panels))
    said = Gore("a", ("left 1", "left 2")), Gore("b", ("right 1", "right 2"))
    found = assemble(drawing, Reading(gores=said))
    assert [p.name for p in found] == ["left 2", "a", "left 1", "right 1", "b", "right 2"]
    assert [walked.difference for walked in found.walk()] == pytest.approx([0.0] * 7)
    seam = found.seams[0]
    assert (seam.first_edge, seam.second_edge) == ("front", "back")
    with pytest.raises(PatternError, match="one half of the pattern has 1 gore, the other 0"):
        assemble(drawing, Reading(gores=said[:1], leave_out=("b",)))
    with pytest.raises(PatternError, match="meet at the front of the body"):
        assemble(drawing, Reading(gores=(Gore("a", ("left 1", "right 1")),), leave_out=("b",)))


def test_an_allowance_that_is_drawn_cannot_be_taken_off_gores() -> None:
    reading = Reading(gores=(Gore("gore", SEAM),), allowance_drawn={"seam": 10.0})
    drawing = read_svg(gored_svg(HIP))
    with pytest.raises(PatternError, match="which cannot be taken off a draft with gores"):
        assemble(drawing, reading)
    # 0 is the answer that there is none.
    none = replace(reading, allowance_drawn=dict.fromkeys(EDGE_KINDS, 0.0))
    assert assemble(drawing, none) == assemble(drawing, replace(reading, allowance_drawn=None))


def test_a_gore_that_nobody_names_is_no_small_matter() -> None:
    for name in ("gore", "path17"):  # by its name, or as a triangle
        found = assemble(
            read_svg(gored_svg({name: wedge()})), Reading(halves="half"), keep_faults=True
        )
        (fault,) = [remark for remark in found.ledger if remark.kind == "fault"]
        assert fault.elements == (name,)
        assert "[[gore]]" in fault.remedy
