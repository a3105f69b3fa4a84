"""Finished girths against perimeters that shapely measures, and their uncertainty.

The body's section is sampled densely and offset by shapely's buffer; quad_segs is 1024, since at
8 a round join loses 0.16 % of its arc.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from shapely.geometry import Polygon

from panelshift.body import ClassModel, Measures, SectionModel
from panelshift.body.section import half_axes, section_points
from panelshift.body.turn import TurnOfCloth, turn_of_cloth
from panelshift.errors import StackError
from panelshift.fit.girths import (
    NORMAL_95,
    OUTSIDE,
    OVER_BONES,
    SKIN,
    TAPE,
    LevelGirths,
    _beside_gap,
    finished_girths,
    over_all,
    short_panels,
    surface_distances,
    whole_levels,
)
from panelshift.fit.plus_minus import growth_spread
from panelshift.shift import shift
from panelshift.stack import Fabric, MeasuredDistance, Stack
from tests.support.drafts import both_halves, cone_gores, drawn, round_gores, walls
from tests.support.examples import thinned
from tests.support.runs import read_pattern
from tests.support.superellipses import superellipse_perimeter

CLOTHS = (
    Fabric("lining", 0.2),
    Fabric("coutille", 0.45),
    Fabric("interlining", 0.3),
    Fabric("brocade", 0.65),
)
THICK = sum(cloth.thickness for cloth in CLOTHS)
MIDDLES = {"lining": 0.1, "coutille": 0.425, "interlining": 0.8, "brocade": 1.275}
"""Of each layer from the skin side, added up by hand."""

WIDTHS = (45.0, 50.0, 52.0, 56.0, 50.0, 45.0)
GAP = 40.0


def turned(
    body: ClassModel | SectionModel,
    *,
    gap: float | Measures = GAP,
    full: bool = False,
    **shape: object,
) -> TurnOfCloth:
    panels = shape.get("panels") or walls(WIDTHS)
    pattern = read_pattern(drawn(both_halves(panels) if full else panels))  # type: ignore[arg-type]
    return turn_of_cloth(pattern, body, ["side"] * len(pattern.panels), gap=gap)


def girths(turn: TurnOfCloth, stack: Stack, drafted: str, *, gap: float = GAP, busk: float = 0.0):
    rows = finished_girths(turn, stack, drafted, gap=gap, busk=busk)
    return {row.level: row for row in rows}


@cache
def section(girth: float, ratio: float, exponent: float) -> Polygon:
    breadth, depth = half_axes(np.array([girth]), np.array([ratio]), exponent)
    points = section_points(
        np.linspace(-0.5, 0.5, 2001)[:-1], float(breadth[0]), float(depth[0]), exponent
    )
    return Polygon(points)


@cache
def measured(body: Polygon, distance: float) -> float:
    return float(body.buffer(distance, quad_segs=1024).exterior.length)


@cache
def oval(ratio: float, exponent: float, *, full: bool) -> TurnOfCloth:
    """The same for every layer that may be the drafted one."""
    return turned(SectionModel(Measures.constant(ratio), exponent), full=full)


SHAPES = [
    (1.4, 2.0),
    (1.0, 2.0),
    (0.8, 2.0),
    (1.5, 2.5),
    pytest.param(1.3, 4.0, marks=pytest.mark.slow),
]


@pytest.mark.parametrize(("ratio", "exponent"), thinned(SHAPES, 2))
@pytest.mark.parametrize("drafted", MIDDLES)
@pytest.mark.parametrize("full", thinned([True, False], 2), ids=["full", "half"])
def test_every_surface_is_as_long_as_shapely_measures(
    ratio: float, exponent: float, drafted: str, full: bool
) -> None:
    girth = 2.0 * sum(WIDTHS) + GAP
    body = section(girth, ratio, exponent)
    rows = girths(oval(ratio, exponent, full=full), Stack(CLOTHS), drafted)
    assert set(rows) == {"bust", "waist", "hip"}
    for surface, place in {SKIN: 0.0, **MIDDLES, OUTSIDE: THICK}.items():
        shell = measured(body, place - MIDDLES[drafted])
        for row in rows.values():
            assert row.closed[surface] == pytest.approx(shell, abs=0.01), surface
    for row in rows.values():
        assert list(row.closed) == [SKIN, *MIDDLES, OUTSIDE]
        assert row.closed[drafted] == pytest.approx(girth, abs=1e-6)


@pytest.mark.parametrize("drafted", MIDDLES)
@pytest.mark.parametrize("tilt", thinned([0.2, 0.0, -0.35]))
def test_on_a_tilted_round_body_distances_count_by_the_cosine(drafted: str, tilt: float) -> None:
    turn = turned(ClassModel(), gap=0.0, panels=cone_gores(105.0, tilt, 6, (-100.0, 100.0)))
    for row in girths(turn, Stack(CLOTHS), drafted, gap=0.0).values():
        body = section(row.closed[drafted], 1.0, 2.0)
        for surface, place in {SKIN: 0.0, **MIDDLES, OUTSIDE: THICK}.items():
            shell = measured(body, (place - MIDDLES[drafted]) * np.cos(tilt))
            assert row.closed[surface] == pytest.approx(shell, abs=0.01)


@pytest.mark.parametrize("ratio", [1.2, 1.4])
def test_on_a_tilted_oval_body_each_point_moves_by_its_own_cosine(ratio: float) -> None:
    # Sections of one shape, their girth growing evenly with height: the support function in the
    # direction psi grows by k(psi) for each mm, and k is that of a section of unit girth.
    rise = 0.25
    panels = round_gores(lambda v: 105.0 + rise * v, 6, (-100.0, 100.0), {"bust": 60.0}, lines=True)
    turn = turned(SectionModel(Measures.constant(ratio)), gap=0.0, panels=panels)
    psi = np.linspace(-np.pi, np.pi, 4001)[:-1]
    normal = np.column_stack([np.sin(psi), np.cos(psi)])
    for row in girths(turn, Stack(CLOTHS), "lining", gap=0.0).values():
        b, d = (
            float(x[0]) for x in half_axes(np.array([row.closed["lining"]]), np.array([ratio]), 2.0)
        )
        support = np.hypot(b * normal[:, 0], d * normal[:, 1])
        edge = normal * np.array([b * b, d * d]) / support[:, None]
        sine = support / row.closed["lining"] * 2.0 * np.pi * rise
        out = edge + normal * ((THICK - 0.1) * np.sqrt(1.0 - sine**2))[:, None]
        assert row.closed[OUTSIDE] == pytest.approx(Polygon(out).exterior.length, abs=0.01)


def test_the_lacing_gap_is_counted_round_the_body_and_left_out_of_the_corset() -> None:
    model = SectionModel()
    for gap in (0.0, 20.0, 80.0):
        row = girths(turned(model, gap=gap), Stack(CLOTHS), "coutille", gap=gap)["waist"]
        assert row.closed["coutille"] == pytest.approx(2.0 * sum(WIDTHS) + gap)
        assert row.edge_to_edge["coutille"] == pytest.approx(2.0 * sum(WIDTHS))
        body = section(2.0 * sum(WIDTHS) + gap, 1.4, 2.0)
        assert row.closed[OUTSIDE] == pytest.approx(measured(body, THICK - 0.425), abs=0.01)
        grown = row.closed[OUTSIDE] - row.closed["coutille"]
        own = row.edge_to_edge[OUTSIDE] - 2.0 * sum(WIDTHS)
        assert grown == pytest.approx(2.0 * np.pi * (THICK - 0.425), abs=1e-6)
        assert (own < grown - 0.05) == (gap > 0.0)


def test_a_busk_adds_its_own_width_on_every_surface() -> None:
    turn = turned(SectionModel())
    without = girths(turn, Stack(CLOTHS), "coutille")["waist"]
    with_busk = girths(turn, Stack(CLOTHS), "coutille", busk=12.5)["waist"]
    for surface in without.closed:
        assert with_busk.closed[surface] - without.closed[surface] == pytest.approx(12.5)
        assert with_busk.edge_to_edge[surface] - without.edge_to_edge[surface] == pytest.approx(
            12.5
        )


BONED = (*CLOTHS[:2], Fabric("bones", 1.5, coverage=0.2, cut_out=False), *CLOTHS[2:])


def test_bones_count_by_their_coverage_and_a_tape_rests_on_them_whole() -> None:
    row = girths(turned(SectionModel()), Stack(BONED), "coutille")["waist"]
    body = section(2.0 * sum(WIDTHS) + GAP, 1.4, 2.0)
    average, ridge = 1.5 * 0.2, 1.5
    outside = THICK - 0.425 + average
    assert row.closed[OUTSIDE] == pytest.approx(measured(body, outside), abs=0.01)
    over = measured(body, outside - average + ridge)
    assert row.closed[OVER_BONES] == pytest.approx(over, abs=0.01)
    # Without anything that covers only a part there is no such surface.
    assert OVER_BONES not in girths(turned(SectionModel()), Stack(CLOTHS), "lining")["waist"].closed


def test_a_fabric_on_some_panels_only_adds_only_there() -> None:
    patch = Fabric("patch", 1.0, panels=frozenset({"wall 3"}))
    turn = turned(SectionModel())
    plain = girths(turn, Stack(CLOTHS), "lining")["waist"]
    patched = girths(turn, Stack((*CLOTHS, patch)), "lining")["waist"]
    extra = patched.closed[OUTSIDE] - plain.closed[OUTSIDE]
    assert extra == pytest.approx(2.0 * 1.0 * turn.angle_at(2, 0.0), abs=1e-9)


def test_a_layer_that_does_not_cover_all_panels_cannot_keep_the_size() -> None:
    patch = Fabric("patch", 1.0, panels=frozenset({"wall 3"}))
    with pytest.raises(StackError, match="does not cover every panel"):
        finished_girths(turned(SectionModel()), Stack((*CLOTHS, patch)), "patch", gap=GAP)


def test_worn_in_the_cloth_gives_and_the_gap_does_not() -> None:
    row = LevelGirths("waist", 0.0, "a", {"a": 700.0}, {"a": 650.0}, {"a": None})
    assert row.worn_in("a", 0.02) == pytest.approx(650.0 * 1.02 + 50.0)


# -- levels -------------------------------------------------------------------------------


def test_levels_that_a_panel_does_not_reach_have_no_girth() -> None:
    panels = walls(WIDTHS)
    low = replace(walls([45.0], (-100.0, 40.0))[0], name="low", levels={"hip": -70.0})
    pattern = read_pattern(drawn([*panels[:-1], low]))
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * 6, gap=GAP)
    assert short_panels(turn, "bust") == ("low",)
    assert whole_levels(turn) == ("waist", "hip")
    assert list(girths(turn, Stack(CLOTHS), "lining")) == ["waist", "hip"]


def test_a_level_not_drawn_on_a_panel_that_reaches_it_has_one() -> None:
    panels = walls(WIDTHS)
    bare = replace(panels[2], levels={})
    pattern = read_pattern(drawn([*panels[:2], bare, *panels[3:]]))
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * 6, gap=GAP)
    assert whole_levels(turn) == ("bust", "waist", "hip")
    row = girths(turn, Stack(CLOTHS), "lining")["bust"]
    assert row.closed["lining"] == pytest.approx(2.0 * sum(WIDTHS) + GAP, abs=1e-6)


# -- uncertainty --------------------------------------------------------------------------

TRIALS = 1000

UNSURE = tuple(
    replace(cloth, thickness_uncertainty=u)
    for cloth, u in zip(BONED, (0.02, 0.03, 0.08, 0.02, 0.05), strict=True)
)


def tried(fabrics: tuple[Fabric, ...], drafted: str) -> dict[str, np.ndarray]:
    """What seeded trials add to the girth of each surface, thicknesses drawn at random.

    On upright walls every surface is longer by 2 pi times its distance (Steiner).
    """
    rng = np.random.default_rng(20)
    trials = []
    for _ in range(TRIALS):
        cloths = [
            replace(f, thickness=f.thickness + float(rng.normal(0.0, f.thickness_uncertainty or 0)))
            for f in fabrics
        ]
        trials.append(surface_distances(Stack(cloths, drafted), ["wall 1"]))
    return {
        surface: 2.0 * np.pi * np.array([float(trial[surface][0]) for trial in trials])
        for surface in trials[0]
    }


@pytest.mark.slow
@pytest.mark.parametrize("drafted", ["lining", "brocade"])
def test_stated_plus_or_minus_is_what_trials_scatter_by(drafted: str) -> None:
    turn = turned(SectionModel())
    row = girths(turn, Stack(UNSURE), drafted)["waist"]
    scatter = tried(UNSURE, drafted)
    assert row.plus_minus[drafted] == 0.0
    for surface in (SKIN, "coutille", "interlining", OUTSIDE):
        stated = row.plus_minus[surface]
        assert stated is not None
        if surface != drafted:
            # 1,000 trials tell a standard deviation to 2.2 %.
            assert scatter[surface].std() * NORMAL_95 == pytest.approx(stated, rel=0.08)
            reckoned = row.closed[surface] - row.closed[drafted]
            within = np.abs(scatter[surface] - reckoned) <= stated
            assert 0.92 < within.mean() < 0.98
    # A tape on bones: their own thickness counts whole, all the rest as on the outside.
    over = row.plus_minus[OVER_BONES]
    assert over is not None
    assert scatter[OVER_BONES].std() * NORMAL_95 == pytest.approx(over, rel=0.08)


def test_a_cloth_of_unknown_thickness_makes_only_what_depends_on_it_unknown() -> None:
    fabrics = (*UNSURE[:-1], replace(UNSURE[-1], thickness_uncertainty=None))
    row = girths(turned(SectionModel()), Stack(fabrics), "lining")["waist"]
    assert row.plus_minus[SKIN] is not None
    assert row.plus_minus["interlining"] is not None
    assert row.plus_minus["brocade"] is None
    assert row.plus_minus[OUTSIDE] is None


def test_bones_of_unknown_thickness_leave_the_skin_side_known() -> None:
    fabrics = tuple(
        replace(f, thickness_uncertainty=None) if f.name == "bones" else f for f in UNSURE
    )
    row = girths(turned(SectionModel()), Stack(fabrics), "coutille")["waist"]
    assert row.plus_minus[SKIN] is not None
    assert row.plus_minus[OVER_BONES] is None


def test_a_swatch_sharpens_what_the_thicknesses_leave_open() -> None:
    turn = turned(SectionModel())
    vague = Stack(UNSURE, "lining")
    pinned = replace(vague, measured=[MeasuredDistance("lining", "brocade", 1.45, 0.01)])
    by_thickness = girths(turn, vague, "lining")["waist"].plus_minus["brocade"]
    by_swatch = girths(turn, pinned, "lining")["waist"].plus_minus["brocade"]
    assert by_thickness is not None
    # 2 pi times its own uncertainty.
    assert by_swatch == pytest.approx(NORMAL_95 * 2.0 * np.pi * 0.01, rel=1e-6)
    assert by_swatch < 0.5 * by_thickness


def test_growth_carries_the_uncertainty_of_its_distance() -> None:
    turn = turned(SectionModel())
    stack = Stack(UNSURE[:2], "lining")
    # The middles are half of each thickness apart.
    u = 0.5 * np.hypot(0.02, 0.03)
    shifted = shift(turn.pattern, stack, turn)
    spread = growth_spread(shifted, 1, 3, 0.0)
    assert spread == pytest.approx(NORMAL_95 * u * turn.growth_at(3, 0.0), rel=1e-9)
    assert growth_spread(shifted, 0, 3, 0.0) == 0.0
    assert growth_spread(shift(turn.pattern, Stack(CLOTHS), turn), 1, 3, 0.0) is None


def test_perimeter_oracle_agrees_with_the_section() -> None:
    # So that a fault in `section` above cannot hide in both.
    body = section(superellipse_perimeter(140.0, 90.0, 2.0), 140.0 / 90.0, 2.0)
    assert body.length == pytest.approx(731.128765860, abs=5e-4)
    assert body.bounds == pytest.approx((-140.0, -90.0, 140.0, 90.0), abs=1e-4)


def test_a_tape_over_all_lies_on_the_outermost_that_is_known() -> None:
    known = {SKIN: 700.0, "drill": 702.0, OUTSIDE: 704.0}
    for surface in (OUTSIDE, OVER_BONES, TAPE):
        closed = known | {surface: 706.0}
        assert over_all(LevelGirths("waist", 0.0, "drill", closed, closed, {})) == surface


def test_the_gap_goes_on_from_the_panels_beside_it() -> None:
    """At the centre back: the last panel of a half, the first and the last of both halves."""
    assert _beside_gap(4, full=False).tolist() == [0.0, 0.0, 0.0, 1.0]
    assert _beside_gap(4, full=True).tolist() == [0.5, 0.0, 0.0, 0.5]


def test_a_gap_that_opens_counts_at_each_level_as_wide_as_it_is_there() -> None:
    opening = Measures([-60.0, 0.0, 70.0], [30.0, 50.0, 90.0])
    turn = turned(ClassModel(), gap=opening)
    rows = finished_girths(turn, Stack(CLOTHS, "coutille"), "coutille", gap=50.0)
    assert len(rows) >= 2
    for row in rows:
        # The drafted layer's girth is the draft's: what it has besides is the gap alone.
        beside = row.closed["coutille"] - row.edge_to_edge["coutille"]
        assert beside == pytest.approx(opening.at([row.height])[0], abs=0.01)
