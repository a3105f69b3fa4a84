"""A waist that is not level: the upright by a plumb line or a level, heights by the seams."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from panelshift.body import ClassModel
from panelshift.body.turn import turn_of_cloth
from panelshift.draft import Reading, assemble
from panelshift.errors import PatternError
from panelshift.outline.measure import length
from panelshift.pattern.edge_pieces import profile
from panelshift.pattern.pattern import Pattern
from panelshift.shift import shift
from panelshift.shift.alteration import Alteration
from panelshift.shift.altered import alter_pattern
from panelshift.sources.svg import read_svg
from tests.support.gored import HEM, PANELS, TOP, box, gored_svg
from tests.support.runs import two_layers

NAMES = list(PANELS)


def lines(dips: list[float], *, plumb: bool = True, hip: bool = False) -> str:
    """Waistlines through heights at the seams, and what says that they are not level."""
    found = []
    for k, name in enumerate(NAMES):
        x = 60.0 + 190.0 * k
        rate = (dips[k + 1] - dips[k]) / 110.0
        ends = (220 - dips[k] + 9.0 * rate, 220 - dips[k + 1] - 9.0 * rate)
        found.append(f'<path id="waist {name}" d="M{x - 9} {ends[0]} L{x + 119} {ends[1]}"/>')
        if plumb:
            found.append(f'<path id="plumb {name}" d="M{x + 55} 100 V340"/>')
        if hip:
            found.append(f'<path id="hip {name}" d="M{x - 9} 320 H{x + 119}"/>')
    return "".join(found)


def read(extra: str, **said: object) -> Pattern:
    drawing = read_svg(gored_svg({}, waistline=False, extra=extra))
    return assemble(drawing, Reading(halves="half", **said))  # type: ignore[arg-type]


LEVEL = read(lines([0.0] * 4, plumb=False))
DIPS = [-12.0, -4.0, 4.0, 9.0]
"""Lower in front than behind: heights of the waist at the centre front, the seams and the back."""


@pytest.mark.parametrize("how", ["plumb", "hip"])
def test_a_dipping_waist_changes_no_layer_but_where_heights_begin(how: str) -> None:
    pattern = read(
        lines(DIPS, plumb=how == "plumb", hip=how == "hip"), level="hip" if how == "hip" else ""
    )
    heights = [
        [panel.frame.to_panel(panel.waist_end(edge))[1] for edge in ("front", "back")]
        for panel in pattern
    ]
    raised = heights[0][0] - DIPS[0]
    wanted = [[a + raised, b + raised] for a, b in itertools.pairwise(DIPS)]
    # The edges lean, so that the drawn lines meet them a hair off those heights.
    assert np.array(heights) == pytest.approx(np.array(wanted), abs=0.1)
    assert [own[1] for own in heights[:-1]] == pytest.approx([own[0] for own in heights[1:]])
    widths = [panel.waist_width for panel in pattern]
    assert np.dot(np.mean(heights, axis=1), widths) == pytest.approx(0.0, abs=1e-9)
    said = {"plumb": "by a plumb line: front, side, back", "hip": "by its hip line: front, side"}
    assert any(said[how] in note for note in pattern.notes)
    assert pattern.warnings == ()
    layers = [
        shift(p, two_layers(2.0), turn_of_cloth(p, ClassModel(), ["side"] * 3)).layers[1].whole
        for p in (LEVEL, pattern)
    ]
    for one, two in zip(*layers, strict=True):
        for edge in ("front", "top", "back", "bottom"):
            assert length(two.edge(edge)) == pytest.approx(length(one.edge(edge)), abs=2e-3)
    for walked in layers[1].walk():
        assert walked.difference == pytest.approx(0.0, abs=2e-3)


def test_a_waist_that_is_taken_as_level_is_told_where_another_level_disagrees() -> None:
    pattern = read(lines(DIPS, plumb=False, hip=True))
    (words,) = [words for words in pattern.warnings if "degrees" in words]
    assert "front: its waistline and its hip line differ by 4.2 degrees" in words
    assert 'level = "hip"' in words
    assert read(lines([0.0] * 4, plumb=False, hip=True)).warnings == ()


def test_both_halves_begin_at_one_height() -> None:
    panels = {f"{side} {k}": box(110.0) for side in ("left", "right") for k in (1, 2)}
    extra = ""
    for k, name in enumerate(panels):
        x, outer = 60.0 + 190.0 * k, -8.0 if name.endswith("1") else 0.0
        inner = outer - 8.0
        ends = (outer, inner) if name.startswith("left") else (inner, outer)
        extra += f'<path id="waist {name}" d="M{x} {220 - ends[0]} L{x + 110} {220 - ends[1]}"/>'
        extra += f'<path id="plumb {name}" d="M{x + 55} 100 V340"/>'
    drawing = read_svg(gored_svg({}, panels=panels, waistline=False, extra=extra))
    pattern = assemble(drawing, Reading(halves="full"))
    for seam in pattern.seams:
        sides = ((seam.first, seam.first_edge), (seam.second, seam.second_edge))
        one, two = (pattern.panels[k] for k, _ in sides)
        v = [
            p.frame.to_panel(p.waist_end(e))[1] for p, (_, e) in zip((one, two), sides, strict=True)
        ]
        assert v[0] == pytest.approx(v[1], abs=1e-9)


def test_what_is_no_upright_is_refused() -> None:
    with pytest.raises(PatternError, match="leans too far to be upright on 'front'"):
        read(lines(DIPS, plumb=False) + '<path id="plumb" d="M80 180 L150 240"/>')
    with pytest.raises(PatternError, match="no panel has a line of the level 'knee'"):
        read(lines(DIPS, plumb=False, hip=True), level="knee")
    # A plumb line beside the panels says nothing of them.
    beside = read(lines([0.0] * 4, plumb=False) + '<path id="plumb" d="M700 600 V700"/>')
    assert all("plumb" not in note for note in beside.notes)
    assert read(lines([0.0] * 4, plumb=False), level="waist").notes == LEVEL.notes


def test_an_alteration_keeps_the_heights_of_a_dipping_waist() -> None:
    pattern = read(lines(DIPS))
    altered = alter_pattern(pattern, [Alteration("front to side", 4.0)]).pattern
    for old, new in zip(pattern, altered, strict=True):
        assert old.waist is not None
        assert new.waist is not None
        found = new.frame.to_panel([new.waist.curve.start, new.waist.curve.end])[:, 1].mean()
        assert found == pytest.approx(old.waist.height, abs=0.2)


def test_mates_that_lean_unlike_are_met_where_their_waists_are() -> None:
    """Heights on a seam are one and the same; along its edges the waist then lies farther up on
    the one that leans more, and what is sewn to what is counted from there."""
    leans = {"front": (0.0, 15.0), "side": (40.0, 10.0), "back": (40.0, 0.0)}
    straight = {
        name: [(-front, HEM), (front, TOP), (110.0 + back, TOP), (110.0 - back, HEM)]
        for name, (front, back) in leans.items()
    }
    drawing = gored_svg({}, panels=straight, waistline=False, extra=lines(DIPS))
    pattern = assemble(read_svg(drawing), Reading(halves="half"))
    found = profile(pattern)
    met = []
    for panel, (front, back) in zip(pattern, leans.values(), strict=True):
        for edge, lean in (("front", front), ("back", back)):
            height = float(panel.frame.to_panel(panel.waist_end(edge))[1])
            met.append(height * np.hypot(lean, TOP) / TOP)
    wanted = [0.0, met[2] - met[1], met[1] - met[2], met[4] - met[3], met[3] - met[4], 0.0]
    assert np.abs(wanted).max() > 0.1
    for edge, offset in enumerate(wanted):
        own = found.mates.offset[found.starts[edge] : found.starts[edge + 1]]
        assert own == pytest.approx(np.full(len(own), offset), abs=1e-3), edge
