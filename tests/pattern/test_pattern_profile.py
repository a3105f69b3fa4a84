"""Side edges as functions of height: drafts given by formulas, and how edges run out."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import simpson

from panelshift.draft import Gore
from panelshift.outline import Curve
from panelshift.outline.bezier import line_control
from panelshift.pattern.edge_pieces import profile
from panelshift.pattern.profile import SIDES, Profile, _root
from tests.support.drafts import (
    HOURGLASS,
    PanelDraft,
    both_halves,
    cone_gores,
    drawn,
    sphere_gores,
    straight,
)
from tests.support.edge_runs import edge_run
from tests.support.gored import HIP_TIP, LONG, box, gored, gored_svg, slit_gored, wedge
from tests.support.runs import read_pattern

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
    assert edge_run(slanted, 1, "front").reach == pytest.approx((-64.0, 84.0))


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


def of_points(*edges: list[tuple[float, float]]) -> Profile:
    """Edges drawn in lines through points, one piece a line."""
    corners = [np.array(edge, dtype=float) for edge in edges]
    lines = [line_control(edge[:-1], edge[1:]) for edge in corners]
    arcs = [
        np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(edge, axis=0).T))]) for edge in corners
    ]
    starts = np.concatenate([[0], np.cumsum([len(part) for part in lines])])
    return Profile(starts, np.concatenate(lines), np.concatenate(arcs), (-100.0, 100.0))


def test_an_edge_runs_out_along_its_own_last_piece() -> None:
    # Its lower end lies above the waist; it leans differently at each end.
    found = of_points([(3.0, 5.0), (0.0, 10.0), (1.0, 30.0), (9.0, 40.0)], [(20, 0), (20, 50)])

    def bend(past: float) -> float:
        return 25.0 * (1.0 - np.exp(-past / 25.0))

    at = np.array([-60.0, 2.0, 5.0, 20.0, 40.0, 41.0, 90.0])
    below = [3.0 + 3.0 / 5.0 * bend(past) for past in (65.0, 3.0)]
    above = [9.0 + 8.0 / 10.0 * bend(past) for past in (1.0, 50.0)]
    front, back = found.sides(at)
    assert front == pytest.approx([*below, 3.0, 0.5, 9.0, *above])
    assert back == pytest.approx(np.full(7, 20.0))
    assert found.widths_at(at)[0] == pytest.approx(back - front)
    assert found.ends.tolist() == [[5.0, 40.0], [0.0, 50.0]]
    assert found.drawn == (0.0, 50.0)
    # Beyond the tip of a gore it is as wide as there: its front edge ends below, and goes on above.
    tips = replace(found, pointed=np.array([[True, False], [False, False]]))
    spots = tips.at_heights(at, np.zeros(7, dtype=np.int64))
    assert tips.across(at, spots)[0] == pytest.approx([3.0, 3.0, 3.0, 0.5, 9.0, *above])


def test_rates_are_those_at_which_edges_move_across() -> None:
    found = profile_of(HOURGLASS.panels())
    count = len(found.starts) - 1
    at = np.tile(np.arange(-190.0, 205.0, 7.3), count)
    edge = np.repeat(np.arange(count), len(at) // count)

    def across(heights: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return found.across(heights, found.at_heights(heights, edge))[:2]

    h = 1e-4
    difference = (across(at + h)[0] - across(at - h)[0]) / (2.0 * h)
    assert across(at)[1] == pytest.approx(difference, abs=1e-6)


def test_heights_and_arcs_are_found_where_the_edge_has_them() -> None:
    found = profile_of(sphere_gores(100.0, 4, (-60.0, 70.0)))
    edge = np.full(50, 5)
    low, high = found.ends[5]
    heights = np.linspace(low, high, 50)
    spots = found.at_heights(heights, edge)
    assert found.point(spots)[1] == pytest.approx(heights, abs=1e-10)
    again = found.at_arcs(found.arc_at(spots), edge)
    assert again.piece + again.t == pytest.approx(spots.piece + spots.t, abs=1e-9)
    # Beyond the ends the ends are meant, of this edge and of no other.
    for beyond, end in ((low - 500.0, low), (high + 500.0, high)):
        there = found.at_heights(np.array([beyond]), edge[:1])
        assert found.point(there)[1] == pytest.approx([end], abs=1e-12)


def test_an_edge_that_ends_lying_flat_has_finite_slopes() -> None:
    # A quarter circle from upright to flat: v = 40 sin, the height rises ever more slowly.
    k = 0.5522847498
    flat = np.array([[(40, 0), (40, 40 * k), (40 * k, 40), (0, 40)]], dtype=float)
    wall = line_control(np.array([(90.0, 0.0)]), np.array([(90.0, 40.0)]))
    arcs = np.array([0.0, 20.0 * np.pi, 0.0, 40.0])
    found = Profile(np.array([0, 1, 2]), np.concatenate([flat, wall]), arcs, (0.0, 40.0))
    at = np.array([0.0, 20.0, 39.0, 39.99, 40.0, 60.0])
    u, rate, _ = found.across(at, found.at_heights(at, np.zeros(6, dtype=np.int64)))
    # Such a cubic keeps within 0.012 mm of the circle.
    assert np.hypot(u[:5], at[:5]) == pytest.approx(np.full(5, 40.0), abs=0.012)
    assert np.isfinite(u).all()
    assert np.isfinite(rate).all()
    assert np.abs(rate).max() <= 1000.0


@pytest.mark.parametrize("full", [False, True])
@pytest.mark.parametrize("broken", ["front", "back"])
def test_mates_are_cut_at_each_others_joints(full: bool, broken: str) -> None:
    """Between two panels one edge has joints at the waist and 33.3 mm up, and its mate none."""
    low, high = -60.0, 70.0
    joints = (low, 0.0, 33.3, high)
    plain = {u: Curve.polyline([(u, low), (u, high)]) for u in (-30.0, 30.0)}
    jointed = {u: Curve.polyline([(u, v) for v in joints]) for u in (-30.0, 30.0)}
    half = [
        PanelDraft("p1", plain[-30.0], (jointed if broken == "back" else plain)[30.0]),
        PanelDraft("p2", (jointed if broken == "front" else plain)[-30.0], plain[30.0]),
    ]
    found = profile_of(both_halves(half) if full else half)
    own = [found.arcs[0, a:b] for a, b in itertools.pairwise(found.starts)]
    # Front and back of each in turn; of the left half the last panel comes first.
    fronts, backs = ((0, 6), (3, 5)) if full else ((2,), (1,))
    even, pieces = np.linspace(low, high, 45)[:-1], [np.linspace(*ends, n) for ends, n in RUNS]
    for edge in range(len(own)):
        wanted = even
        if edge in (backs if broken == "front" else fronts):
            wanted = np.sort([*even, 0.0, 33.3])
        elif edge in (*fronts, *backs):
            wanted = np.concatenate([run[:-1] for run in pieces])
        assert own[edge] == pytest.approx(wanted, abs=1e-3), edge
    assert (np.diff(found.arcs, axis=0) > 0.5e-3).all()
    assert found.arcs[1] - found.arcs[0] == pytest.approx(
        found.control[:, 3, 1] - found.control[:, 0, 1]
    )


RUNS = (((-60.0, 0.0), 21), ((0.0, 33.3), 13), ((33.3, 70.0), 14))
"""Pieces of an edge with joints, each 3 mm long at most."""


def test_arc_length_is_counted_from_the_waist_upwards(slanted: Profile) -> None:
    for panel in range(len(slanted.starts) // 2):
        for edge in SIDES:
            run = edge_run(slanted, panel, edge)
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
        assert found.widths[k][inside] == pytest.approx(width, abs=3e-5)
        edge = edge_run(found, k, "back")
        slope = -0.5 * np.pi / count * np.sin(np.linspace(0.0, edge.v[-1], 20001) / radius)
        length = simpson(np.hypot(1.0, slope), dx=edge.v[-1] / 20000)
        assert edge.arc[-1] == pytest.approx(length, abs=1e-4)


def test_front_and_back_are_told_apart_on_every_panel() -> None:
    found = profile_of(HOURGLASS.panels())
    waist = np.searchsorted(found.heights, 0.0)
    for k, width in enumerate(HOURGLASS.waists):
        assert found.back[k, waist] == pytest.approx(0.5 * width, abs=1e-4)
        assert found.front[k, waist] == pytest.approx(-0.5 * width, abs=1e-4)
        hips = edge_run(found, k, "back").u[0] - 0.5 * width
        spring = width * (HOURGLASS.hip[k] - 1.0) * (1.0 - HOURGLASS.shares[k])
        # Truing moves an edge's end a little; its spring stays what was drafted.
        assert hips == pytest.approx(spring, abs=1.0)


def test_a_cylinder_has_one_width_at_every_height() -> None:
    found = profile_of(cone_gores(90.0, 0.0, 3, (-50.0, 50.0)))
    assert found.widths == pytest.approx(np.full(found.widths.shape, np.pi * 30.0), abs=1e-6)


def test_roots_of_rising_cubics_are_found_wherever_they_bend() -> None:
    chance = np.random.default_rng(3)
    # A cubic rises if its slope's Bernstein coefficients are positive, however uneven.
    begins, midst, ends = 10.0 * chance.uniform(0.01, 1.0, (3, 2000)) ** 3
    cubic = begins, midst - begins, (begins - 2.0 * midst + ends) / 3.0
    whole = sum(cubic)
    true = chance.uniform(0.0, 1.0, 2000)
    wanted = sum(part * true**power for power, part in enumerate(cubic, start=1))
    assert np.abs(_root(wanted, *cubic) - true).max() < 1e-9
    assert np.abs(_root(-0.1 * whole, *cubic)).max() < 1e-9
    assert np.abs(_root(1.1 * whole, *cubic) - 1.0).max() < 1e-9


def test_a_gore_has_no_width_at_all_beyond_its_tip() -> None:
    pattern = gored(gored_svg({"gore": wedge()}), Gore("gore", ("front", "side")))
    found = profile(pattern)
    (k,) = (k for k, panel in enumerate(pattern) if panel.pointed)
    tip = float(found.tips[k])
    heights = np.concatenate([tip + np.linspace(0.0, 200.0, 400), tip - np.array([10.0, 40.0])])
    widths = found.widths_at(heights)[k]
    assert (widths[:400] == 0.0).all()
    # 25 mm to each side of its middle at its end, as far from the tip as its edges are long.
    far = np.sqrt(wedge()[1][0] ** 2 + wedge()[1][1] ** 2)
    # The edges that it is sewn to lean, and are longer than they are high.
    along = np.array([10.0, 40.0]) * LONG / 150.0
    assert widths[400:] == pytest.approx(50.0 * along / far, rel=1e-6)
    assert (found.widths[k][found.heights >= tip] == 0.0).all()


@pytest.mark.parametrize("lean", [0.0, 30.0])
@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize("half", [5.0, 20.0, 45.0])
def test_a_gore_is_as_wide_at_a_height_as_its_edges_are_sewn_there(
    lean: float, up: bool, half: float
) -> None:
    high, tip = 100.0, -50.0 if up else 50.0
    sides = {
        "front": box(110.0, back=lean),
        "side": box(110.0, front=lean, back=0.0),
    }
    long = high * np.hypot(1.0, lean / 150.0)
    svg = gored_svg({"gore": wedge(long, half, up=up)}, panels=sides)
    found = profile(gored(svg, Gore("gore", ("front", "side"))))
    depth = np.array([0.0, 1.0, 30.0, 99.0])
    widths = found.widths_at(tip - depth if up else tip + depth)[1]
    assert widths == pytest.approx(2.0 * half * depth / high, abs=1e-6)


def test_a_gore_in_a_slit_is_as_wide_as_its_edges_are_sewn_there() -> None:
    pattern = slit_gored()
    found = profile(pattern)
    (k,) = (k for k, panel in enumerate(pattern) if panel.name == "gore")
    depth = np.array([1.0, 30.0, 89.0])
    widths = found.widths_at(HIP_TIP - depth)[k]
    assert widths == pytest.approx(50.0 * depth / np.hypot(90.0, 10.0), abs=1e-6)


def test_what_pieces_are_sewn_to_cannot_be_written_to(slanted: Profile) -> None:
    assert not slanted.mates.edge.flags.writeable
    assert not slanted.mates.offset.flags.writeable
