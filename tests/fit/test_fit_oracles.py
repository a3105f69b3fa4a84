"""Checks 15, 16, 17 and 19: what others measured or worked out, each with its source."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import ellipe, ellipk
from shapely.geometry import Polygon

from panelshift.body import ClassModel, Measures, SectionModel
from panelshift.fit.girths import OUTSIDE, SKIN, buckle_height, cut_alike, finished_girths
from panelshift.fit.rolling import COMMON_OBJECTS, objects_near, one_former, rolling_guide
from panelshift.stack import Fabric, Stack
from tests.support.drafts import HOURGLASS, cone_gores, drawn, walls
from tests.support.runs import Run, run, two_layers

WIDTH, EXCESS = 50.0, 0.5


# -- 15: the buckle of excess length ------------------------------------------------------


def sine_height(width: float, excess: float) -> float:
    """Height of the half sine over `width` that is `excess` longer, by quadrature."""

    def missing(height: float) -> float:
        slope = height * np.pi / width
        run = quad(lambda x: np.hypot(1.0, slope * np.cos(np.pi * x / width)), 0.0, width)[0]
        return float(run - width - excess)

    return float(brentq(missing, 1e-9, width))


def elastica_height(width: float, excess: float) -> float:
    """Height of a thin strip of length width + excess between hinges `width` apart.

    Euler's elastica: length 2 K / s, span (2 / s)(2 E - K), height 2 k / s.
    """
    length = width + excess

    def missing(m: float) -> float:
        return float(2.0 * ellipe(m) / ellipk(m) - 1.0 - width / length)

    m = float(brentq(missing, 1e-9, 0.7))
    return float(np.sqrt(m) * length / ellipk(m))


def test_15_buckle_of_half_a_millimetre_in_fifty() -> None:
    assert buckle_height(EXCESS, WIDTH) == pytest.approx(3.1831, abs=5e-5)
    assert sine_height(WIDTH, EXCESS) == pytest.approx(3.1950, abs=5e-5)
    assert elastica_height(WIDTH, EXCESS) == pytest.approx(3.1891, abs=5e-5)


@pytest.mark.parametrize("part", [1e-4, 1e-3, 0.01, 0.02, 0.0269])
def test_15_the_short_formula_is_within_a_percent_below_the_stated_bound(part: float) -> None:
    exact = sine_height(WIDTH, part * WIDTH)
    assert 0.99 * exact < buckle_height(part * WIDTH, WIDTH) <= exact


def test_15_and_off_by_more_than_a_percent_beyond_it() -> None:
    part = 0.028
    assert buckle_height(part * WIDTH, WIDTH) < 0.99 * sine_height(WIDTH, part * WIDTH)


@pytest.mark.parametrize("waves", [2, 3, 5])
def test_15_one_wave_is_the_highest_bubble(waves: int) -> None:
    # Shared between several waves the same excess stands lower: one wave is the upper bound.
    each = sine_height(WIDTH / waves, EXCESS / waves)
    assert each == pytest.approx(sine_height(WIDTH, EXCESS) / waves, rel=1e-9)
    assert each < buckle_height(EXCESS, WIDTH)


def test_15_no_excess_makes_no_buckle() -> None:
    assert buckle_height(0.0, WIDTH) == 0.0


# -- 16: thigh and calf as formers --------------------------------------------------------

GIRTHS_CM = {"adult's thigh": (50.7, 56.3, 65.2), "adult's calf": (31.6, 36.0, 41.0)}
"""5th, 50th and 95th percentile of 507 adults: Heinz, Peterson, Johnson, Kerk, Journal of
Statistics Education 11(2), 2003. Summary numbers only."""

DIAMETERS_CM = {"adult's thigh": (16.1, 17.9, 20.8), "adult's calf": (10.1, 11.5, 13.1)}


@pytest.mark.parametrize("name", GIRTHS_CM)
def test_16_diameters_follow_from_the_published_girths(name: str) -> None:
    thing = next(item for item in COMMON_OBJECTS if item.name == name)
    low, middle, high = (10.0 * girth / np.pi for girth in GIRTHS_CM[name])
    assert (low / 10.0, middle / 10.0, high / 10.0) == pytest.approx(DIAMETERS_CM[name], abs=0.05)
    assert thing.smallest == pytest.approx(low, abs=0.5)
    assert thing.largest == pytest.approx(high, abs=0.5)
    assert "2003" in thing.source
    assert name in objects_near(middle)


def test_16_a_calf_is_no_thigh() -> None:
    assert "adult's thigh" not in objects_near(10.0 * DIAMETERS_CM["adult's calf"][1])
    assert "adult's calf" not in objects_near(10.0 * DIAMETERS_CM["adult's thigh"][1])


def test_16_all_other_objects_say_that_they_are_from_memory() -> None:
    sources = {thing.source for thing in COMMON_OBJECTS if thing.name not in GIRTHS_CM}
    assert sources == {"from memory"}


# -- 17: sections of a body ---------------------------------------------------------------

BODY = json.loads(Path(__file__).with_name("data").joinpath("body_sections.json").read_text())
HULLS = {name: Polygon(points) for name, points in BODY["sections"].items()}
D = 0.8


def ellipse_perimeter(breadth: float, depth: float) -> float:
    large, small = max(breadth, depth), min(breadth, depth)
    return float(2.0 * large * ellipe(1.0 - (small / large) ** 2))


def test_17_sections_are_convex_and_of_a_grown_person() -> None:
    assert BODY["licence"].startswith("CC0")
    assert set(HULLS) == {"bust", "underbust", "waist", "high hip", "hip"}
    for hull in HULLS.values():
        assert hull.equals(hull.convex_hull)
        assert 600.0 < hull.length < 1000.0
    assert min(HULLS, key=lambda name: HULLS[name].length) == "waist"


@pytest.mark.parametrize("name", HULLS)
def test_17_the_extra_round_a_hull_is_two_pi_d(name: str) -> None:
    hull = HULLS[name]
    extra = hull.buffer(D, quad_segs=1024).exterior.length - hull.length
    assert extra == pytest.approx(2.0 * np.pi * D, abs=1e-5)


@pytest.mark.parametrize("name", HULLS)
@pytest.mark.parametrize("model", ["classes", "section"])
def test_17_a_corset_for_that_body_finishes_so_much_larger(name: str, model: str) -> None:
    hull = HULLS[name]
    x0, y0, x1, y1 = hull.bounds
    body = (
        ClassModel()
        if model == "classes"
        else SectionModel(Measures.constant((x1 - x0) / (y1 - y0)))
    )
    girth, thick = hull.length, 0.3
    outcome = run(
        drawn(walls([girth / 12.0] * 6)),
        Stack([Fabric("drafted", thick), Fabric("outer", 2.0 * D - thick)]),
        body,
    )
    (waist,) = [
        row
        for row in finished_girths(outcome.turn, outcome.shifted.stack, "drafted", gap=0.0)
        if row.level == "waist"
    ]
    shell = hull.buffer(D, quad_segs=1024).exterior.length
    assert waist.closed["outer"] == pytest.approx(shell, abs=1e-3)


@pytest.mark.parametrize("name", HULLS)
def test_17_an_ellipse_of_the_same_breadth_and_depth_falls_short(name: str) -> None:
    # Which is why girths are measured or taken from the draft, never from breadth and depth.
    hull = HULLS[name]
    x0, y0, x1, y1 = hull.bounds
    short = 1.0 - ellipse_perimeter(x1 - x0, y1 - y0) / hull.length
    low, high = (0.06, 0.08) if name == "bust" else (0.01, 0.04)
    assert low < short < high


# -- 19: common practice, no source -------------------------------------------------------


def corset(stack: Stack, waist: float = 660.0, half_count: int = 6, gap: float = 0.0) -> Run:
    return run(drawn(walls([0.5 * waist / half_count] * half_count)), stack, gap=gap)


def at_waist(outcome: Run, drafted: str) -> dict[str, float]:
    rows = finished_girths(outcome.turn, outcome.shifted.stack, drafted, gap=0.0)
    return dict(next(row.closed for row in rows if row.level == "waist"))


def cloths(count: int, thickness: float = 0.5) -> Stack:
    return Stack([Fabric(f"layer {k}", thickness) for k in range(count)])


def test_19_twelve_panels_take_a_few_mm_each_and_about_an_inch_in_all() -> None:
    # Thick layers and a padded one: 4.15 mm from the middle of the lining to that of the satin.
    stack = Stack(
        [Fabric("lining", 0.5), Fabric("coutille", 0.8), Fabric("pad", 2.5), Fabric("satin", 1.2)]
    )
    outcome = corset(stack)
    spread = stack.distances(["wall 1"])[-1, 0]
    each = [outcome.shifted.growth(3, panel, 0.0) for panel in range(6)]
    assert all(0.5 < growth < 6.0 for growth in each)
    assert 2.0 * sum(each) == pytest.approx(25.4, rel=0.2)
    assert 2.0 * sum(each) == pytest.approx(2.0 * np.pi * spread, rel=1e-9)


def test_19_side_panels_need_more_than_front_or_back() -> None:
    outcome = run(drawn(HOURGLASS.panels()), two_layers(1.0))
    share = [outcome.shifted.growth(1, k, 0.0) / HOURGLASS.waists[k] for k in range(6)]
    assert min(share[2:4]) > max(*share[:2], *share[4:])


def test_19_a_smaller_waist_strains_more() -> None:
    strains = [
        max(item.strain or 0.0 for item in cut_alike(corset(two_layers(1.0), waist).shifted))
        for waist in (900.0, 760.0, 660.0, 540.0)
    ]
    assert strains == sorted(strains)
    assert strains[0] < strains[-1]


def test_19_more_layers_and_thicker_cloth_finish_larger() -> None:
    by_count = [at_waist(corset(cloths(n)), "layer 0")[OUTSIDE] for n in (1, 2, 3, 5)]
    by_thickness = [
        at_waist(corset(cloths(3, t)), "layer 0")[OUTSIDE] for t in (0.1, 0.3, 0.6, 1.0)
    ]
    assert all(np.diff(by_count) > 1.0)
    assert all(np.diff(by_thickness) > 1.0)


def test_19_the_drafted_layer_finishes_at_about_the_drafted_waist() -> None:
    outcome = corset(cloths(4))
    inner, outer = at_waist(outcome, "layer 0"), at_waist(outcome, "layer 3")
    half_a_cloth = np.pi * 0.5
    assert inner[SKIN] == pytest.approx(660.0 - half_a_cloth, abs=1e-6)
    assert inner[OUTSIDE] > 660.0 + 5.0
    assert outer[OUTSIDE] == pytest.approx(660.0 + half_a_cloth, abs=1e-6)
    assert outer[SKIN] < 660.0 - 5.0


# -- rolling guide ------------------------------------------------------------------------


def test_rolling_on_a_bottle_over_eases_as_the_design_works_it_out() -> None:
    # Twelve 55 mm panels, an 80 mm bottle, d = 1.5 mm: about 2 mm each, an inch together, where
    # the body needs 2 pi d = 9.4 mm.
    outcome = run(drawn(walls([55.0] * 6)), two_layers(1.5))
    found = one_former(outcome.shifted, 80.0)
    angle = 55.0 / (40.0 + 0.75)
    assert found.gained == pytest.approx(12.0 * 1.5 * angle, rel=1e-9)
    assert found.gained / 12.0 == pytest.approx(2.0, abs=0.05)
    assert found.gained == pytest.approx(25.4, abs=1.5)
    assert found.needed == pytest.approx(9.4248, abs=1e-4)
    assert found.excess == pytest.approx(found.gained - found.needed)


def test_a_former_as_wide_as_the_body_comes_out_right() -> None:
    outcome = run(drawn(walls([55.0] * 6)), two_layers(1.5))
    inside = at_waist(outcome, "drafted")[SKIN] / np.pi
    assert one_former(outcome.shifted, inside).excess == pytest.approx(0.0, abs=1e-9)
    assert one_former(outcome.shifted, 1.2 * inside).excess < -1.0


def test_what_lies_under_the_innermost_piece_lifts_it_off_the_former() -> None:
    tape = Fabric("tape", 2.0, cut_out=False)
    cloth = Fabric("lining", 1.0), Fabric("silk", 1.0)
    plain = run(drawn(walls([55.0] * 6)), Stack(cloth))
    lifted = run(drawn(walls([55.0] * 6)), Stack((tape, *cloth), "lining"))
    assert one_former(lifted.shifted, 80.0).gained == pytest.approx(
        one_former(plain.shifted, 84.0).gained, rel=1e-12
    )


def test_former_and_step_are_closed_forms() -> None:
    # Upright panels round an ellipse: the middle of the drafted layer turns by theta over w.
    stack = Stack([Fabric("lining", 0.4), Fabric("coutille", 0.6), Fabric("silk", 0.8)], "coutille")
    outcome = run(drawn(walls([40.0, 60.0, 50.0])), stack, SectionModel())
    steps = {step.panel: step for step in rolling_guide(outcome.shifted) if step.level == "waist"}
    assert len(steps) == 3
    for index, (name, width) in enumerate(zip(steps, (40.0, 60.0, 50.0), strict=True)):
        theta = outcome.turn.angle_at(index, 0.0)
        step = steps[name]
        # 0.7 mm lie inside the middle of the coutille: all the lining and half of itself.
        assert step.former is not None
        assert step.former == pytest.approx(2.0 * width / theta - 2.0 * 0.7, abs=1e-6)
        # From the lining's middle to the silk's: 0.2 + 0.6 + 0.4.
        assert step.step_front + step.step_back == pytest.approx(1.2 * theta, abs=1e-6)
    first, second, last = steps.values()
    assert first.step_front == 0.0  # a straight busk edge stays where it is
    assert last.step_back == 0.0
    assert second.step_front == second.step_back


def test_a_former_bends_a_tilted_panel_as_a_cone_is_bent_across() -> None:
    # A cone's curvature across is 1 over its slant distance from the axis, r / cos(tilt).
    cone = drawn(cone_gores(105.0, 0.5, 6, (-100.0, 100.0)))
    outcome = run(cone, two_layers(1.5), SectionModel(Measures.constant(1.0)))
    found = rolling_guide(outcome.shifted)
    assert {step.level for step in found} == {"bust", "waist", "hip"}
    for step in found:
        index = [panel.name for panel in outcome.pattern.panels].index(step.panel)
        height = outcome.pattern.level_height(step.level)
        radius = (105.0 + height * np.sin(0.5)) / np.cos(0.5)
        assert step.former == pytest.approx(2.0 * (radius - 0.75), rel=1e-3)
        # So the step that is told is the one that shows on it: d times the width over its radius.
        shown = 1.5 * outcome.turn.width_at(index, height) / (0.5 * step.former + 0.75)
        assert step.step_front + step.step_back == pytest.approx(shown, rel=1e-9)


@pytest.mark.slow
def test_a_panel_as_good_as_flat_needs_a_table() -> None:
    # A superellipse of exponent 20 is nearly a box: its front is flat.
    square = SectionModel(Measures.constant(1.4), 20.0)
    outcome = run(drawn(walls([25.0, 60.0, 50.0, 60.0, 30.0])), two_layers(1.0), square)
    steps = [step for step in rolling_guide(outcome.shifted) if step.level == "waist"]
    assert steps[0].angle < 1e-3
    assert (steps[0].former, steps[0].objects) == (None, ())
    assert steps[1].former is not None


def test_bones_have_no_edge_to_step() -> None:
    cloth = Fabric("lining", 1.0), Fabric("silk", 1.0)
    bones = Fabric("bones", 2.0, coverage=0.2, cut_out=False)
    plain = run(drawn(walls([55.0] * 6)), Stack(cloth))
    boned = run(drawn(walls([55.0] * 6)), Stack((*cloth, bones)))
    for one, two in zip(rolling_guide(plain.shifted), rolling_guide(boned.shifted), strict=True):
        assert one == two
