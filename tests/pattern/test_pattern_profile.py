"""Side edges as functions of height: drafts given by formulas, and how edges run out."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import simpson
from support.drafts import HOURGLASS, PanelDraft, cone_gores, drawn, sphere_gores, straight
from support.runs import read_pattern

from panelshift.pattern.profile import EdgeRun, Profile, profile

LEAN = 0.1
"""Change of u for each mm of v at the edges of the cone's gores."""


def profile_of(panels: list[PanelDraft]) -> Profile:
    return profile(read_pattern(drawn(panels)))


def gore(v: np.ndarray) -> np.ndarray:
    return 40.0 + LEAN * v


@pytest.fixture(scope="module")
def slanted() -> Profile:
    """Two panels whose edges end at four different heights above and below."""
    ends = [((-70.0, 90.0), (-64.0, 84.0)), ((-64.0, 84.0), (-50.0, 101.0))]
    return profile_of(
        [
            PanelDraft(
                f"p{k}",
                straight(lambda v: -gore(v), front),
                straight(gore, back),
                {"bust": 50.0, "hip": -40.0},
            )
            for k, (front, back) in enumerate(ends)
        ]
    )


def test_heights_are_even_hold_the_waist_and_go_80_mm_past_the_drawing(slanted: Profile) -> None:
    assert np.diff(slanted.heights) == pytest.approx(np.full(len(slanted.heights) - 1, 0.25))
    assert (np.abs(slanted.heights) < 1e-9).sum() == 1
    assert -150.5 < slanted.heights[0] <= -150.0
    assert 181.0 <= slanted.heights[-1] < 181.5


def test_the_edges_reach_from_the_lowest_end_to_the_highest(slanted: Profile) -> None:
    assert slanted.drawn == pytest.approx((-70.0, 101.0))
    assert slanted.runs[1]["front"].reach == pytest.approx((-64.0, 84.0))


def test_edges_follow_the_draft_then_bend_upright_over_25_mm(slanted: Profile) -> None:
    at = slanted.heights
    for k, (front, back) in enumerate([((-70, 90), (-64, 84)), ((-64, 84), (-50, 101))]):
        for found, sense, (low, high) in (
            (slanted.front[k], -1.0, front),
            (slanted.back[k], 1.0, back),
        ):
            inside = np.clip(at, low, high)
            past = at - inside
            ahead = np.sign(past) * 25.0 * (1.0 - np.exp(-np.abs(past) / 25.0))
            assert found == pytest.approx(sense * (gore(inside) + LEAN * ahead), abs=1e-6)
    assert np.array_equal(slanted.widths, slanted.back - slanted.front)


def test_an_edge_runs_out_along_its_own_last_piece() -> None:
    # Its lower end lies above the waist; it leans differently at each end.
    edge = EdgeRun(
        np.linspace(5.0, 45.0, 4), np.array([3.0, 0.0, 1.0, 9.0]), np.array([5.0, 10.0, 30.0, 40.0])
    )

    def bend(past: float) -> float:
        return 25.0 * (1.0 - np.exp(-past / 25.0))

    at = np.array([-60.0, 2.0, 5.0, 20.0, 40.0, 41.0, 90.0])
    below = [3.0 + 3.0 / 5.0 * bend(past) for past in (65.0, 3.0)]
    above = [9.0 + 8.0 / 10.0 * bend(past) for past in (1.0, 50.0)]
    assert edge.across(at) == pytest.approx([*below, 3.0, 0.5, 9.0, *above])
    assert edge.reach == (5.0, 40.0)


def test_arc_length_is_counted_from_the_waist_upwards(slanted: Profile) -> None:
    for runs in slanted.runs:
        for run in runs.values():
            assert run.arc == pytest.approx(run.v * np.hypot(1.0, LEAN), abs=1e-5)
            assert (np.diff(run.v) > 0.0).all()
            assert np.diff(run.arc).max() <= 0.5 + 1e-6


def test_curved_edges_are_as_wide_and_as_long_as_their_formula_says() -> None:
    radius, count = 100.0, 4
    found = profile_of(sphere_gores(radius, count, (-60.0, 70.0)))
    inside = (found.heights >= -60.0) & (found.heights <= 70.0)
    at = found.heights[inside]
    width = np.pi / count * radius * np.cos(at / radius)
    for k in range(count):
        # Chords of 0.5 mm lie h^2 / 8 R inside an edge of radius R, here 255 mm, on both sides.
        assert found.widths[k][inside] == pytest.approx(width, abs=3e-4)
        edge = found.runs[k]["back"]
        slope = -0.5 * np.pi / count * np.sin(np.linspace(0.0, edge.v[-1], 20001) / radius)
        length = simpson(np.hypot(1.0, slope), dx=edge.v[-1] / 20000)
        assert edge.arc[-1] == pytest.approx(length, abs=1e-4)


def test_front_and_back_are_told_apart_on_every_panel() -> None:
    found = profile_of(HOURGLASS.panels())
    waist = np.searchsorted(found.heights, 0.0)
    for k, width in enumerate(HOURGLASS.waists):
        assert found.back[k, waist] == pytest.approx(0.5 * width, abs=1e-4)
        assert found.front[k, waist] == pytest.approx(-0.5 * width, abs=1e-4)
        hips = found.runs[k]["back"].u[0] - 0.5 * width
        spring = width * (HOURGLASS.hip[k] - 1.0) * (1.0 - HOURGLASS.shares[k])
        # Truing moves an edge's end a little; its spring stays what was drafted.
        assert hips == pytest.approx(spring, abs=1.0)


def test_a_cylinder_has_one_width_at_every_height() -> None:
    found = profile_of(cone_gores(90.0, 0.0, 3, (-50.0, 50.0)))
    assert found.widths == pytest.approx(np.full(found.widths.shape, np.pi * 30.0), abs=1e-6)
