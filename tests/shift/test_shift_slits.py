"""Layers of panels with slits: they stay one piece, and their gores follow the slits."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.body import BodyModel, ClassModel, MeanFormModel, Measures, SectionModel
from panelshift.body.turn import TurnOfCloth, turn_of_cloth
from panelshift.construction.account import fold_range, seam_bulk
from panelshift.construction.laying import lay
from panelshift.construction.sewing import Bones, Construction, Shell, Strip
from panelshift.construction.sewn import Sewn
from panelshift.draft import Gore, Reading, assemble
from panelshift.errors import StackError
from panelshift.outline import Curve
from panelshift.outline.crossing import nearest_position
from panelshift.outline.measure import length
from panelshift.pattern.panel import Mark
from panelshift.pattern.pattern import Pattern
from panelshift.shift import Shifted, shift
from panelshift.sources.svg import read_svg
from panelshift.stack import Fabric, Stack
from tests.support.examples import examples
from tests.support.gored import HEM, PANELS, TOP, box, gored_svg, slit, wedge
from tests.support.runs import two_layers

BODIES = [ClassModel(), SectionModel(Measures.constant(1.4)), MeanFormModel()]
GAP = 40.0
BENT = [(60.0, HEM), (58.0, -90.0), (50.0, -40.0)]
SLIT = sum(math.dist(a, b) for a, b in itertools.pairwise(BENT))


def plain() -> Pattern:
    return assemble(read_svg(gored_svg({})), Reading(halves="half"))


def three(half: float = 25.0, tip: float = 70.0) -> Pattern:
    """Two gores over the bust in the front panel, and one over the hip in the side panel."""
    long = math.hypot(TOP - tip, 4.0)
    lines = (
        slit("hip", 1, *BENT)
        + slit("one", 0, (40.0, TOP), (44.0, tip))
        + slit("two", 0, (72.0, TOP), (68.0, tip))
    )
    cup = wedge(long, 14.0, up=False)
    said = (Gore("gore", slit="hip"), Gore("cup", slit="one"), Gore("other cup", slit="two"))
    svg = gored_svg({"gore": wedge(SLIT, half), "cup": cup, "other cup": cup}, extra=lines)
    return assemble(read_svg(svg), Reading(gores=said, halves="half"))


def turned(pattern: Pattern, body: BodyModel) -> TurnOfCloth:
    return turn_of_cloth(pattern, body, ["side"] * len(pattern), gap=GAP)


def shifted(pattern: Pattern, body: BodyModel, d: float = 2.0) -> Shifted:
    return shift(pattern, two_layers(d), turned(pattern, body))


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("d", [2.0, pytest.param(-1.5, marks=pytest.mark.slow)])
def test_each_edge_of_a_gore_is_as_long_as_its_slit(body: BodyModel, d: float) -> None:
    pattern = three()
    outcome = shifted(pattern, body, d)
    layer = outcome.layer("shifted").whole
    assert outcome.layer("drafted").whole is pattern
    for before, after in zip(pattern.walk(), layer.walk(), strict=True):
        assert after.seam == before.seam
        assert after.difference == pytest.approx(before.difference, abs=2e-3)
    for old, new in zip(pattern, layer, strict=True):
        for one, two in zip(old.slits, new.slits, strict=True):
            assert (two.piece, two.opens_at, two.ident) == (one.piece, one.opens_at, one.ident)
            # The slit opens on the edge of its own layer.
            end = two.curve.start if two.opens_at == "bottom" else two.curve.end
            assert nearest_position(new.edge(two.opens_at), end)[1] < 0.005
            # As a mark would, it goes along with what lies beside it.
            assert new.frame.to_panel(two.tip)[1] == pytest.approx(
                old.frame.to_panel(one.tip)[1], abs=2.0
            )


@given(
    st.floats(8.0, 45.0),
    st.floats(20.0, 110.0),
    st.sampled_from([*BODIES[:2]]),
)
@examples(6)
def test_angles_close_at_every_height_with_gores_in_slits(
    half: float, tip: float, body: BodyModel
) -> None:
    turn = turned(three(half, tip), body)
    whole = 2.0 * turn.angles.sum(axis=0) + turn.gap_angles
    assert np.abs(whole - 2.0 * math.pi).max() < 1e-9
    heights = np.linspace(HEM, TOP, 50)
    widths, angles = turn.by_place(heights)
    # The parts of a panel are the panel: in width, turning and growth.
    assert turn.places.summed(widths) == pytest.approx(turn.profile.widths_at(heights), abs=1e-9)
    panels = np.array(
        [[turn.angle_at(k, float(v)) for v in heights] for k in range(len(turn.pattern))]
    )
    assert turn.places.summed(angles) == pytest.approx(panels, abs=1e-9)
    grown = turn.places.summed(turn.growth_by_place(heights))
    assert grown == pytest.approx(turn.growth_on(heights), abs=1e-9)
    assert widths.min() > -1e-9


@pytest.mark.parametrize("body", BODIES[:2])
def test_above_its_slit_a_panel_turns_as_it_would_without(body: BodyModel) -> None:
    line = slit("hip", 1, *BENT)
    svg = gored_svg({"gore": wedge(SLIT, 25.0)}, extra=line)
    said = Reading(gores=(Gore("gore", slit="hip"),), halves="half")
    with_slit, without = turned(assemble(read_svg(svg), said), body), turned(plain(), body)
    names = [panel.name for panel in with_slit.pattern]
    for v in (20.0, 80.0, 140.0):
        for k, panel in enumerate(without.pattern):
            own = names.index(panel.name)
            # 60 mm and more from the slit's tip; what is left are the body's own splines.
            assert with_slit.angle_at(own, v) == pytest.approx(without.angle_at(k, v), abs=1e-6)
            assert with_slit.growth_at(own, v) == pytest.approx(without.growth_at(k, v), abs=1e-3)
    # The gore lies where its slit is, not beside the panel.
    order = [names[k] for k in with_slit.places.panel]
    assert order == ["front", "side", "gore", "side", "back"]
    # Above its tip the slit would go on between the panel's edges, in the share that it ended at.
    widths, _ = with_slit.by_place(np.array([-40.0, 0.0, 60.0, 140.0]))
    shares = widths[1] / (widths[1] + widths[3])
    assert shares == pytest.approx(np.full(4, shares[0]), abs=1e-9)


@pytest.mark.parametrize("body", BODIES[1:])
def test_a_gore_in_a_slit_turns_as_it_would_in_a_seam_there(body: BodyModel) -> None:
    halves = {"side a": box(55.0, front=8.0), "side b": box(55.0, back=8.0)}
    panels = {"front": PANELS["front"], **halves, "back": PANELS["back"]}
    seamed = assemble(
        read_svg(gored_svg({"gore": wedge(100.0)}, panels=panels)),
        Reading(gores=(Gore("gore", ("side a", "side b")),), halves="half"),
    )
    line = slit("hip", 1, (55.0, HEM), (55.0, HEM + 100.0))
    slitted = assemble(
        read_svg(gored_svg({"gore": wedge(100.0)}, extra=line)),
        Reading(gores=(Gore("gore", slit="hip"),), halves="half"),
    )
    one, two = turned(slitted, body), turned(seamed, body)
    for v in np.linspace(HEM + 2.0, TOP - 2.0, 12):
        own = {panel.name: two.angle_at(k, v) for k, panel in enumerate(seamed)}
        own["side"] = own["side a"] + own["side b"]
        for k, panel in enumerate(slitted):
            assert one.angle_at(k, v) == pytest.approx(own[panel.name], abs=1e-9)
    before, after = (shift(p, two_layers(2.0), t) for p, t in ((slitted, one), (seamed, two)))
    grown = [found.growth(1, found.turn.pattern.index("gore"), -120.0) for found in (before, after)]
    assert grown[0] == pytest.approx(grown[1], abs=1e-9)


def test_what_is_not_known_of_the_body_is_that_of_the_whole_panel() -> None:
    with_slits, without = turned(three(), BODIES[2]), turned(plain(), BODIES[2])
    for name in PANELS:
        k, own = with_slits.pattern.index(name), without.pattern.index(name)
        for v in (-10.0, 20.0):
            spread = without.spread_at(own, v)
            assert spread is not None
            assert with_slits.spread_at(k, v) == pytest.approx(spread, rel=0.05)
        for edge in ("front", "back"):
            found = with_slits.lengthening_spread_at(k, edge, 20.0)
            assert found == pytest.approx(without.lengthening_spread_at(own, edge, 20.0), abs=0.02)
    assert with_slits.with_classes(["front"] * 6).ring.classes == ("front",) * 18


SHELL = Shell(("shifted",), seams="open", allowance=10.0)
STRIPS = (
    Strip("drafted", 0.5, 8.0, "seams"),
    Strip("drafted", 0.6, 15.0, "top"),
    Strip("drafted", 0.4, 15.0, "bottom"),
)


def test_beyond_a_slit_nothing_is_sewn() -> None:
    construction = Construction(shells=(SHELL,), strips=STRIPS, fold_factor=0.5)
    sewn = Sewn(construction, Stack(two_layers(1.5).fabrics, "drafted"))
    found = []
    for pattern in (three(), plain()):
        turn = turned(pattern, ClassModel())
        found.append(lay(sewn, turn, np.array([10.0, 13.0, 16.0, 19.0, 22.0])))
    one, two = found
    mains = [one.turn.pattern.index(panel.name) for panel in two.turn.pattern]
    assert one.extra[:, mains] == pytest.approx(two.extra, abs=1e-4)
    assert one.angles[mains] == pytest.approx(two.angles, abs=1e-6)
    gores = [k for k in range(6) if k not in mains]
    assert not one.extra[:, gores].any()
    bulk = [item.seam for item in seam_bulk(one, 16.0)]
    assert bulk == ["front to side", "side to back"]
    assert fold_range(one) == pytest.approx(fold_range(two))


@pytest.mark.parametrize("bends", [True, False])
def test_what_is_sewn_at_a_slit_makes_layers_longer(bends: bool) -> None:
    bones = Bones("drafted", 7.0, 1.2, bends=bends, per_panel={"side": 2, "front": 1})
    shells = (SHELL, Shell(("drafted",), seams="open", allowance=10.0))
    sewn = Sewn(
        Construction(shells=shells, bones=(bones,), fold_factor=0.3),
        Stack(two_layers(1.5).fabrics, "drafted"),
    )
    pattern = three()
    turn = turned(pattern, SectionModel(Measures.constant(1.3)))
    laid = lay(sewn, turn)
    names = {item.seam for item in seam_bulk(laid, -120.0)}
    assert {"side to gore", "gore to side"} <= names
    below, above = (int(np.argmin(np.abs(laid.levels - v))) for v in (-120.0, -20.0))
    side = pattern.index("side")
    assert laid.extra[1, side, below] > laid.extra[1, side, above]
    outcome = shift(pattern, sewn.stack, turn, sewn)
    for before, after in zip(pattern.walk(), outcome.layers[1].whole.walk(), strict=True):
        assert after.difference == pytest.approx(before.difference, abs=0.02)


def test_bones_beside_a_slit_stand_on_their_own_side_of_it() -> None:
    pattern = three()
    bones = Bones("drafted", 7.0, 1.2, per_panel={"side": 2})
    sewn = Sewn(Construction(shells=(SHELL,), bones=(bones,)), two_layers(1.5))
    turn = turned(pattern, ClassModel())
    laid = lay(sewn, turn, np.array([-140.0, -137.0, -134.0]))
    ridges = laid.pile.ridges
    middles = 0.5 * (ridges.low + ridges.high)[0, ridges.bone >= 0]
    places = turn.places.panel.tolist()
    gore = places.index(pattern.index("gore"))
    low, high = laid.pile.site.face.bounds[0, [gore, gore + 1]]
    assert middles[0] < low < high < middles[1]


def test_marks_beside_a_slit_change_nothing_of_it() -> None:
    pattern = three()
    at = pattern.index("side")
    side = pattern.panels[at]
    line = Curve.polyline(side.frame.to_sheet(np.array([[10.0, -30.0], [14.0, -5.0]])))
    marked = replace(side, marks=(Mark("grainline", line), Mark("notch", line)))
    panels = (*pattern.panels[:at], marked, *pattern.panels[at + 1 :])
    one, two = (
        shifted(each, ClassModel()).layers[1].whole.panels[at]
        for each in (pattern, replace(pattern, panels=panels))
    )
    assert len(two.marks) == 2
    assert two.slits == one.slits
    assert replace(two, marks=()) == one


def test_both_halves_drawn_are_as_one_half() -> None:
    line = [(75.0, HEM), (75.0, -60.0)]
    half = {"front": box(150.0), "back": box(150.0)}
    whole = {f"{side} {name}": box(150.0) for side in ("left", "right") for name in half}
    # On the sheet: left front, left back, right front, right back.
    lines = slit("a", 0, *line) + slit("b", 2, *line)
    gore = wedge(90.0)
    order = ("left back", "left front", "right front", "right back")
    full = assemble(
        read_svg(gored_svg({"one": gore, "two": gore}, panels=whole, extra=lines)),
        Reading(gores=(Gore("one", slit="a"), Gore("two", slit="b")), halves="full", order=order),
    )
    one = assemble(
        read_svg(gored_svg({"one": gore}, panels=half, extra=slit("a", 0, *line))),
        Reading(gores=(Gore("one", slit="a"),), halves="half"),
    )
    body = SectionModel(Measures.constant(1.4))
    both, single = turned(full, body), turned(one, body)
    for v in (-130.0, -80.0, 0.0, 90.0):
        for name in half:
            k, own = full.index(f"right {name}"), one.index(name)
            mate = full.index(f"left {name}")
            assert both.angle_at(k, v) == pytest.approx(single.angle_at(own, v), abs=1e-9)
            assert both.angle_at(mate, v) == pytest.approx(single.angle_at(own, v), abs=1e-9)
    moved = shift(full, two_layers(1.0), both).layer("shifted").whole
    for before, after in zip(full.walk(), moved.walk(), strict=True):
        assert after.difference == pytest.approx(before.difference, abs=2e-3)


def test_a_layer_without_the_gore_keeps_its_panel_whole() -> None:
    pattern = three()
    lining = Fabric("lining", 0.3, panels=frozenset(PANELS))
    outcome = shift(
        pattern, Stack([lining, Fabric("drill", 0.6)], "drill"), turned(pattern, ClassModel())
    )
    walked = outcome.layer("lining").walk()
    assert [one.name for one in walked] == ["front to side", "side to back"]
    joined = replace(lining, cut_in_one=(("front", "side"),))
    with pytest.raises(StackError, match="a gore is set in its slit"):
        shift(pattern, Stack([joined, Fabric("drill", 0.6)], "drill"), outcome.turn)
    split = replace(lining, panels=None, split_at=("waist",))
    with pytest.raises(StackError, match="has one in its seam or its slit"):
        shift(pattern, Stack([split, Fabric("drill", 0.6)], "drill"), outcome.turn)
    assert length(outcome.layer("lining").pattern["side"].slits[0].curve) > 0.0
