"""Turning, growth and tilt of cones and spheres, on half and full patterns, read at any height.

Gores of a surface of revolution turn by equal parts of a full turn and grow by its cosine of
tilt; on a sphere of radius R the tilt is -v / R at the length v from the equator.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from panelshift.body import BodyModel, ClassModel, MeanFormModel, Measures, SectionModel
from panelshift.body.turn import TurnOfCloth, turn_of_cloth
from panelshift.errors import BodyError
from panelshift.pattern.edge_pieces import profile
from tests.support.drafts import (
    HOURGLASS,
    PanelDraft,
    both_halves,
    cone_gores,
    drawn,
    round_gores,
    sphere_gores,
    straight,
    walls,
)
from tests.support.examples import thinned
from tests.support.runs import read_pattern

RADIUS, TILT, COUNT = 100.0, 0.3, 5
ROUND: list[BodyModel] = [SectionModel(Measures.constant(1.0)), ClassModel()]


def turned(
    panels: list[PanelDraft], model: BodyModel, *, gap: float = 0.0, full: bool = False
) -> TurnOfCloth:
    pattern = read_pattern(drawn(both_halves(panels) if full else panels))
    return turn_of_cloth(pattern, model, ["side"] * len(pattern.panels), gap=gap)


@pytest.mark.parametrize("model", ROUND, ids=["section", "classes"])
@pytest.mark.parametrize("full", [False, True])
@pytest.mark.parametrize("height", thinned([-31.7, -60.0, 0.0, 44.0, 60.0]))
def test_gores_of_a_cone_turn_and_grow_alike(model: BodyModel, full: bool, height: float) -> None:
    turn = turned(cone_gores(RADIUS, TILT, COUNT, (-60.0, 60.0)), model, full=full)
    theta = np.pi / COUNT
    for panel in range(len(turn.pattern.panels)):
        assert turn.angle_at(panel, height) == pytest.approx(theta, abs=1e-9)
        assert turn.growth_at(panel, height) == pytest.approx(theta * np.cos(TILT), abs=1e-6)
        width = theta * (RADIUS + height * np.sin(TILT))
        assert turn.width_at(panel, height) == pytest.approx(width, abs=1e-4)
    assert turn.closure_at(height) == pytest.approx(2 * np.pi, abs=1e-9)
    assert turn.ring_growth_at(height) == pytest.approx(2 * np.pi * np.cos(TILT), abs=1e-6)


@pytest.mark.parametrize("full", [False, True])
@pytest.mark.parametrize("height", [-50.0, 0.0, 50.0])
def test_the_gap_turns_and_grows_like_the_panels_beside_it(full: bool, height: float) -> None:
    # Panels and gap make the girth of a round body, so each turns by its width over R.
    gap = 70.0
    turn = turned(walls([60.0, 60.0, 60.0], (-50.0, 50.0)), ROUND[0], gap=gap, full=full)
    girth = 6 * 60.0 + gap
    assert turn.angle_at(1, height) == pytest.approx(2 * np.pi * 60.0 / girth)
    assert turn.gap_angles == pytest.approx(np.full(len(turn.gap_angles), 2 * np.pi * gap / girth))
    assert turn.gap_growth == pytest.approx(turn.gap_angles)
    assert turn.closure_at(height) == pytest.approx(2 * np.pi)
    assert turn.ring_growth_at(height) == pytest.approx(2 * np.pi)


def test_the_gap_grows_by_the_cosine_of_the_tilt_beside_it() -> None:
    # Gores fall short of the round body by the gap, as a lacing gap does.
    gap, levels = 40.0, {"bust": 40.0, "hip": -40.0}
    gores = round_gores(
        lambda v: RADIUS + v * np.sin(TILT) - gap / (2 * np.pi),
        COUNT,
        (-60.0, 60.0),
        levels,
        lines=True,
    )
    turn = turned(gores, ROUND[0], gap=gap)
    at = turn.profile.heights
    inside = (at >= -60.0) & (at <= 60.0)
    radius = RADIUS + at[inside] * np.sin(TILT)
    assert turn.gap_angles[inside] == pytest.approx(gap / radius, abs=1e-5)
    assert turn.gap_growth[inside] == pytest.approx(gap / radius * np.cos(TILT), abs=1e-5)


@pytest.mark.parametrize("model", ROUND, ids=["section", "classes"])
def test_beyond_its_edges_a_sphere_goes_on_along_its_tangent_for_25_mm(model: BodyModel) -> None:
    low, high = -40.0, 60.0
    turn = turned(sphere_gores(RADIUS, COUNT, (low, high)), model)
    at = turn.profile.heights
    inside = np.clip(at, low, high)
    past = at - inside
    expected = -(inside + np.sign(past) * 25.0 * (1 - np.exp(-np.abs(past) / 25.0))) / RADIUS
    for edge in ("front", "back"):
        for panel in range(COUNT):
            assert turn.tilt[edge][panel] == pytest.approx(expected, abs=2e-3)
    assert turn.angles == pytest.approx(np.full(turn.angles.shape, np.pi / COUNT), abs=1e-9)
    # The grid goes on for 80 mm: there is something to check beyond both ends.
    assert past.min() <= -80.0
    assert past.max() >= 80.0


def test_growth_is_the_angle_times_the_mean_cosine_at_its_two_edges() -> None:
    turn = turned(HOURGLASS.panels(), SectionModel(), gap=60.0)
    mean = 0.5 * (np.cos(turn.tilt["front"]) + np.cos(turn.tilt["back"]))
    assert turn.growth == pytest.approx(turn.angles * mean, abs=1e-12)
    # Both edges of the gap lie alike, at the back of the last panel and of its mirror.
    assert turn.gap_growth == pytest.approx(turn.gap_angles * np.cos(turn.tilt["back"][-1]))
    # On an oval body the two differ, or the mean would not be seen.
    assert np.abs(turn.tilt["front"] - turn.tilt["back"]).max() > 0.05


@pytest.mark.parametrize("full", [False, True])
def test_a_slanting_seam_is_strained_as_its_normal_turns_along_it(full: bool) -> None:
    turn = turned(HOURGLASS.panels(), MeanFormModel(), full=full)
    body, pattern = turn.body, turn.pattern
    assert body.normals is not None
    assert body.slants is not None
    heights = body.heights[5:-5]
    psi, phi, a = (
        CubicSpline(body.heights, values) for values in (body.normals, body.tilts, body.slants)
    )
    up, aside = np.cos(a(heights)), np.sin(a(heights))
    expected = (np.cos(phi(heights)) * psi(heights, 1) * aside - phi(heights, 1) * up) * up
    first = 0 if full else len(pattern.panels)
    for k in range(len(pattern.panels)):
        for side, edge in enumerate(("front", "back")):
            seam = first + k + (pattern.ends(k).index(edge))
            found = turn.strains_at(heights, np.full(len(heights), 2 * k + side))
            assert found == pytest.approx(expected[:, seam], abs=1e-9)
    assert np.abs(expected).max() > 1e-3
    plain = turned(HOURGLASS.panels(), ClassModel(), full=full)
    assert plain.strains_at(heights, np.zeros(len(heights), dtype=np.int64)) is None


def test_edges_that_are_known_are_taken() -> None:
    pattern = read_pattern(drawn(sphere_gores(100.0, 4, (-60.0, 60.0))))
    known = profile(pattern)
    found = turn_of_cloth(pattern, ClassModel(), ["side"] * 4, edges=known)
    assert found.profile is known
    plain = turn_of_cloth(pattern, ClassModel(), ["side"] * 4)
    assert found.angles.tolist() == plain.angles.tolist()


def test_both_sides_of_a_seam_tilt_alike() -> None:
    for full in (False, True):
        turn = turned(HOURGLASS.panels(), SectionModel(), full=full)
        for seam in turn.pattern.seams:
            one = turn.tilt[seam.first_edge][seam.first]
            assert np.array_equal(one, turn.tilt[seam.second_edge][seam.second])


@pytest.mark.slow
def test_a_full_pattern_turns_and_tilts_as_its_half_does() -> None:
    half = turned(HOURGLASS.panels(), SectionModel(), gap=30.0)
    full = turned(HOURGLASS.panels(), SectionModel(), gap=30.0, full=True)
    count = len(half.pattern.panels)
    for k in range(count):
        for other in (count + k, count - 1 - k):
            assert full.angles[other] == pytest.approx(half.angles[k], abs=1e-9)
            assert full.growth[other] == pytest.approx(half.growth[k], abs=1e-9)
            for edge in ("front", "back"):
                assert full.tilt[edge][other] == pytest.approx(half.tilt[edge][k], abs=1e-9)
    assert full.gap_growth == pytest.approx(half.gap_growth, abs=1e-9)


def test_the_bodys_own_answer_is_the_same_on_both_sides() -> None:
    pattern = read_pattern(drawn(HOURGLASS.panels()))
    classes = ["front", "side", "side", "side", "back", "back"]
    for model in (ClassModel(), SectionModel()):
        turn = turn_of_cloth(pattern, model, classes)
        assert turn.body.angles == pytest.approx(turn.body.angles[:, ::-1], abs=1e-9)
        assert turn.body.tilts == pytest.approx(turn.body.tilts[:, ::-1], abs=1e-9)
        # Unless said otherwise the edges meet at the back.
        assert np.abs(turn.gap_angles).max() < 1e-9


@pytest.mark.parametrize("model", [SectionModel(), MeanFormModel()])
@pytest.mark.parametrize("full", [False, True])
def test_classes_change_nothing_of_a_body_that_does_not_ask_for_them(
    full: bool, model: BodyModel
) -> None:
    panels = walls([60.0, 70.0])
    pattern = read_pattern(drawn(both_halves(panels) if full else panels))
    own, others = (["front", "side", "back", "side"][: len(pattern.panels)] for _ in range(2))
    others[0] = "back"
    found = turn_of_cloth(pattern, model, own, gap=20.0).with_classes(others)
    asked = turn_of_cloth(pattern, model, others, gap=20.0)
    assert found.ring.classes == asked.ring.classes
    assert np.array_equal(found.body.angles, asked.body.angles)
    assert np.array_equal(found.body.tilts, asked.body.tilts)


@pytest.mark.parametrize(("lean", "fits"), [(0.03, True), (0.05, False)])
def test_a_panel_may_be_as_narrow_as_it_likes_but_not_less_than_nothing(
    lean: float, fits: bool
) -> None:
    # 2 mm wide at its top, 100 mm up; beside a taller one its edges run on towards each
    # other, over 25 mm: to half a millimetre, or past each other by as much.
    def half(v: np.ndarray) -> np.ndarray:
        return 1.0 + lean * (100.0 - np.asarray(v))

    levels = {"bust": 70.0, "hip": -70.0}
    narrow = PanelDraft(
        "narrow",
        straight(lambda v: -half(v), (-100.0, 100.0)),
        straight(half, (-100.0, 100.0)),
        levels,
    )
    pattern = read_pattern(drawn([walls([80.0], (-100.0, 300.0))[0], narrow]))
    if fits:
        turn = turn_of_cloth(pattern, ClassModel(), ["side"] * 2)
        assert 0.4 < turn.width_at(1, 300.0) < 0.6
        return
    with pytest.raises(BodyError, match=r"panel 'narrow' has no width \+\d+ mm"):
        turn_of_cloth(pattern, ClassModel(), ["side"] * 2)


@pytest.mark.parametrize("count", [4, 6])
def test_classes_must_be_as_many_as_panels(count: int) -> None:
    pattern = read_pattern(drawn(walls([60.0] * 5)))
    with pytest.raises(BodyError, match=f"{count} classes for 5 panels"):
        turn_of_cloth(pattern, ClassModel(), ["side"] * count)


@pytest.mark.parametrize("gap", [-0.01, np.nan, np.inf])
def test_a_senseless_gap_is_refused(gap: float) -> None:
    pattern = read_pattern(drawn(walls([60.0] * 5)))
    with pytest.raises(BodyError, match="lacing gap"):
        turn_of_cloth(pattern, ClassModel(), ["side"] * 5, gap=gap)


def test_classes_count_from_the_front_to_the_back() -> None:
    pattern = read_pattern(drawn(walls([60.0, 60.0, 60.0])))
    model = ClassModel({"front": 2.0, "side": 1.0, "back": 4.0})
    turn = turn_of_cloth(pattern, model, ["front", "side", "back"])
    front, side, back = (turn.angle_at(k, 0.0) for k in range(3))
    assert side == pytest.approx(2 * front)
    assert front == pytest.approx(2 * back)
