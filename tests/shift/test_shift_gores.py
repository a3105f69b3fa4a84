"""Layers of panels with gores: closure, three pieces that meet, and the cloth they replace."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.body import (
    BodyModel,
    ClassModel,
    FormerModel,
    MeanFormModel,
    Measures,
    SectionModel,
)
from panelshift.body.turn import turn_of_cloth
from panelshift.construction.channels import channels_of
from panelshift.construction.laying import lay
from panelshift.construction.sewing import Bones, Construction, Shell, Strip
from panelshift.construction.sewn import Sewn
from panelshift.draft import Gore, Reading, assemble
from panelshift.errors import AlterationError, BodyError, ConstructionError, StackError
from panelshift.outline.measure import length
from panelshift.pattern.pattern import Pattern
from panelshift.pattern.two_sides import both_sides
from panelshift.shift import Shifted, shift
from panelshift.shift.alteration import Alteration
from panelshift.shift.altered import alter_pattern
from panelshift.sources.svg import read_svg
from panelshift.stack import Fabric, Stack
from tests.support.examples import examples
from tests.support.gored import HEM, LONG, PANELS, TOP, box, gored, gored_svg, slit, wedge
from tests.support.runs import two_layers

BODIES = [ClassModel(), SectionModel(Measures.constant(1.4)), MeanFormModel()]
BOTH = Gore("gore", ("front", "side")), Gore("cup", ("front", "side"))


def shifted(pattern: Pattern, body: BodyModel, d: float = 2.0) -> Shifted:
    classes = ["side"] * len(pattern)
    return shift(pattern, two_layers(d), turn_of_cloth(pattern, body, classes, gap=40.0))


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("d", [2.0, -1.5])
def test_three_pieces_meet_and_every_part_of_a_seam_walks(body: BodyModel, d: float) -> None:
    pattern = gored(gored_svg({"gore": wedge(), "cup": wedge(80.0, up=False)}), *BOTH)
    outcome = shifted(pattern, body, d)
    moved = outcome.layer("shifted").whole
    assert outcome.layer("drafted").whole is pattern
    for before, after in zip(pattern.walk(), moved.walk(), strict=True):
        assert after.seam == before.seam
        # A gore's seams end where its own edges do, within what a tip is smoothed by.
        assert after.difference == pytest.approx(before.difference, abs=2e-3)
    for name in ("gore", "cup"):
        gore, end = moved[name], pattern[name].pointed
        assert gore.pointed == end
        sides = [gore.edge(edge) for edge in ("front", "back")]
        tips = [side.end if end == "top" else side.start for side in sides]
        assert tips[0] == pytest.approx(tips[1], abs=1e-12)
        assert gore.frame.to_panel(tips[0])[0] == pytest.approx(0.0, abs=1e-12)


def test_a_slice_cut_out_and_set_in_again_grows_as_the_whole_did() -> None:
    # The front panel of the second draft is the first's less a slice, which is its gore.
    slope, tip, half = 20.0 / 90.0, -60.0, 55.0
    whole = {"front": box(110.0), "side": box(110.0)}
    far = tip - HEM
    cut = {
        "front": [(0, HEM), (0, TOP), (half, TOP), (half, tip), (half - slope * far, HEM)],
        "middle": [(slope * far, HEM), (0, tip), (0, TOP), (half, TOP), (half, HEM)],
        "side": box(110.0),
    }
    gore = [(0.0, 0.0), (slope * far, -far), (-slope * far, -far)]
    pattern = gored(gored_svg({"gore": gore}, panels=cut), Gore("gore", ("front", "middle")))
    plain = gored_plain(gored_svg({}, panels=whole))
    for v in np.linspace(HEM + 1.0, TOP - 1.0, 40):
        parts = sum(pattern_growth(pattern, name, v) for name in ("front", "gore", "middle"))
        assert parts == pytest.approx(pattern_growth(plain, "front", v), abs=2e-3)


def gored_plain(svg: bytes) -> Pattern:
    """A draft without its gores."""
    return assemble(read_svg(svg), Reading(halves="half"))


def pattern_growth(pattern: Pattern, name: str, v: float) -> float:
    return shifted_once(pattern).growth(1, pattern.index(name), v)


_KNOWN: dict[int, Shifted] = {}


def shifted_once(pattern: Pattern) -> Shifted:
    if id(pattern) not in _KNOWN:
        _KNOWN[id(pattern)] = shifted(pattern, ClassModel())
    return _KNOWN[id(pattern)]


@given(
    st.floats(75.0, 145.0),
    st.floats(8.0, 30.0),
    st.floats(60.0, 120.0),
    st.sampled_from(BODIES[:2]),
)
@examples(8)
def test_angles_close_at_every_height_with_any_gores(
    long: float, half: float, upper: float, body: BodyModel
) -> None:
    pattern = gored(gored_svg({"gore": wedge(long, half), "cup": wedge(upper, up=False)}), *BOTH)
    turn = turn_of_cloth(pattern, body, ["side"] * len(pattern), gap=40.0)
    whole = 2.0 * turn.angles.sum(axis=0) + turn.gap_angles
    assert np.abs(whole - 2.0 * math.pi).max() < 1e-9
    # Where a gore is not it has no width, and turns by next to nothing.
    gore = pattern.index("gore")
    above = turn.profile.heights > turn.profile.tips[gore]
    assert not turn.profile.widths[gore, above].any()
    assert np.abs(turn.angles[gore, above]).max() < 2e-3


@pytest.mark.parametrize(("long", "half"), [(60.0, 25.0), (145.0, 8.0), (100.0, 45.0)])
def test_seams_walk_with_wide_and_narrow_gores(long: float, half: float) -> None:
    pattern = gored(gored_svg({"gore": wedge(long, half)}))
    outcome = shifted(pattern, BODIES[1], 3.0)
    for before, after in zip(pattern.walk(), outcome.layers[1].whole.walk(), strict=True):
        assert after.difference == pytest.approx(before.difference, abs=5e-3)


def test_a_gore_that_crosses_the_waist_shifts_as_a_panel_does() -> None:
    waist = f'<path id="waist gore" d="M60 {600.0 + 30.0 * 150.0 / LONG} H140"/>'
    pattern = gored(gored_svg({"gore": wedge(LONG + 30.0)}, extra=waist))
    outcome = shifted(pattern, SectionModel(Measures.constant(1.3)))
    for before, after in zip(pattern.walk(), outcome.layers[1].whole.walk(), strict=True):
        assert after.difference == pytest.approx(before.difference, abs=2e-3)
    after = outcome.layers[1].whole["gore"]
    assert after.waist is not None
    assert after.waist_width > pattern["gore"].waist_width


def test_a_gore_whose_edges_cross_has_no_width() -> None:
    crossed = [(0.0, 0.0), (1.0, -60.0), (30.0, -100.0), (-30.0, -100.0), (3.0, -60.0)]
    pattern = gored(gored_svg({"gore": crossed}))
    with pytest.raises(BodyError, match="'gore' has no width"):
        turn_of_cloth(pattern, FormerModel(100.0), ["side"] * 4)


SHELL = Shell(("shifted",), seams="open", allowance=10.0)
STRIPS = (
    Strip("drafted", 0.5, 8.0, "seams"),
    Strip("drafted", 0.6, 15.0, "top"),
    Strip("drafted", 0.4, 15.0, "bottom"),
)


@pytest.mark.parametrize(("strips", "without_gores"), [((), False), (STRIPS, False), ((), True)])
def test_what_lies_under_is_counted_once_where_a_gore_is_not(
    strips: tuple[Strip, ...], without_gores: bool
) -> None:
    construction = Construction(shells=(SHELL,), strips=strips, fold_factor=0.5)
    drafted, outer = two_layers(1.5).fabrics
    lies_on = frozenset(PANELS) if without_gores else None
    sewn = Sewn(construction, Stack([drafted, replace(outer, panels=lies_on)], "drafted"))
    with_gores = gored(gored_svg({"gore": wedge(), "cup": wedge(60.0, up=False)}), *BOTH)
    without = gored_plain(gored_svg({}))
    found = []
    for pattern in (with_gores, without):
        turn = turn_of_cloth(pattern, ClassModel(), ["side"] * len(pattern))
        found.append(lay(sewn, turn, np.array([18.0, 21.0, 24.0, 27.0, 30.0])))
    one, two = found
    mains = [with_gores.index(panel.name) for panel in without]
    assert one.extra[:, mains] == pytest.approx(two.extra, abs=1e-5)
    assert not one.extra[:, [1, 2]].any()
    outcome = shift(with_gores, sewn.stack, one.turn, sewn)
    for before, after in zip(with_gores.walk(), outcome.layers[1].whole.walk(), strict=True):
        assert after.difference == pytest.approx(before.difference, abs=0.02)


def test_bones_by_number_are_not_set_in_a_gore() -> None:
    pattern = gored(gored_svg({"gore": wedge()}))
    bones = Bones("drafted", 6.0, 1.0, per_panel={"gore": 1})
    with pytest.raises(ConstructionError, match="a gore, which comes to a point"):
        channels_of(pattern, bones)
    assert channels_of(pattern, replace(bones, per_panel={"gore": 0, "front": 1}))


def test_a_lining_without_gores_keeps_the_seam_above_them() -> None:
    pattern = gored(gored_svg({"gore": wedge()}))
    lining = Fabric("lining", 0.3, panels=frozenset(PANELS))
    outcome = shift(
        pattern,
        Stack([lining, Fabric("drill", 0.6)], "drill"),
        turn_of_cloth(pattern, ClassModel(), ["side"] * 4),
    )
    names = [walked.name for walked in outcome.layer("lining").walk()]
    assert names == ["front to side", "side to back"]
    assert length(outcome.layer("lining").pattern["front"].edge("back")) > 0.0


def test_seams_without_gores_are_altered_and_those_with_them_refused() -> None:
    pattern = gored(gored_svg({"gore": wedge()}))
    found = alter_pattern(pattern, [Alteration("side to back", {"waist": 6.0, "-100 mm": 0.0})])
    assert found.girths[0].after - found.girths[0].before == pytest.approx(12.0, abs=1e-3)
    same = [new is old for new, old in zip(found.pattern, pattern, strict=True)]
    assert same == [True, True, False, False]
    (tip,) = found.pattern["side"].tips
    assert tip.point == pytest.approx(pattern["side"].tips[0].point, abs=1e-6)
    for walked in found.pattern.walk():
        assert walked.difference == pytest.approx(0.0, abs=1e-3)
    for seam in ("front to side", "gore to side"):
        with pytest.raises(AlterationError, match="'gore' is a gore"):
            alter_pattern(pattern, [Alteration(seam, 2.0)])


@pytest.mark.parametrize("darts_from", [3.0, 500.0])
def test_a_piece_of_several_panels_ends_at_a_gore(darts_from: float) -> None:
    pattern = gored(gored_svg({"gore": wedge()}))
    for group, name in ((("side", "back"), "side + back"), (("front",), "")):
        lining = Fabric("lining", 0.5, cut_in_one=(group,), darts_from=darts_from)
        stack = Stack([lining, Fabric("drill", 0.6)], "drill")
        turn = turn_of_cloth(pattern, ClassModel(), ["side"] * 4)
        if not name:
            with pytest.raises(StackError, match="to be cut in one of front"):
                shift(pattern, stack, turn)
            continue
        layer = shift(pattern, stack, turn).layers[0]
        (tip,) = layer.pieced.whole[name].tips
        assert (tip.edge, tip.piece) == ("front", "gore")
        walked = layer.walk()
        assert [one.name for one in walked] == [
            "front to gore",
            f"gore to {name}",
            f"front to {name}",
        ]
        assert all(abs(one.difference) < 5e-3 for one in walked)


@pytest.mark.parametrize("in_slit", [False, True])
def test_a_gored_half_drawn_out_to_both_sides_is_the_half_twice(in_slit: bool) -> None:
    said = Gore("gore", slit="cut") if in_slit else Gore("gore", ("front", "side"))
    line = slit("cut", 1, (55.0, HEM), (55.0, -40.0)) if in_slit else ""
    half = gored(gored_svg({"gore": wedge(110.0 if in_slit else LONG - 41.0)}, extra=line), said)
    full = both_sides(half)
    names = ["right back", "right side", "right gore", "right front"]
    assert [panel.name for panel in full][:4] == names
    over = full.mirrored()
    met = [{frozenset(walked.name.split(" to ")) for walked in own.walk()} for own in (full, over)]
    assert met[0] == met[1]
    assert over.mirrored() == full
    if in_slit:
        with pytest.raises(AlterationError, match="'left gore' is a gore in a seam or a panel"):
            alter_pattern(full, [Alteration("left side to left back", 2.0)])
    layers = [
        shift(own, two_layers(2.0), turn_of_cloth(own, ClassModel(), ["side"] * len(own))).layers[1]
        for own in (half, full)
    ]
    for panel in layers[0].whole:
        for side in ("left", "right"):
            own = layers[1].whole[f"{side} {panel.name}"]
            assert own.outline.area == pytest.approx(panel.outline.area, rel=1e-9)
            assert {tip.piece for tip in own.tips} == {f"{side} {t.piece}" for t in panel.tips}
    for walked in layers[1].walk():
        assert walked.difference == pytest.approx(0.0, abs=2e-3)
