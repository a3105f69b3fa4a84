"""Places round the body of panels with slits, on one half and on both, by their own formulas."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from panelshift.pattern.drawing import Text
from panelshift.pattern.edge_pieces import profile
from panelshift.pattern.panel import Panel
from panelshift.pattern.pattern import Pattern
from panelshift.pattern.places import Places
from panelshift.pattern.two_sides import both_sides
from tests.support.gored import SLITS, TOP, slit_gored

ORDER = ["front", "cup", "front", "other cup", "front", "side", "gore", "side", "back"]


@cache
def both() -> Pattern:
    return both_sides(slit_gored())


def ended(places: Places) -> list[str]:
    names = [panel.name for panel in places.pattern]
    return [names[k].removeprefix("left ").removeprefix("right ") for k in places.all_round]


def cuts(name: str, heights: np.ndarray) -> np.ndarray:
    """u of a panel's edges and slits from its waist's front, each slit going on by its share."""

    def edges(v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        aside = 8.0 * np.abs(v) / TOP
        return -aside * (name != "front"), 110.0 + aside * (name != "back")

    front, back = edges(heights)
    rows = [front]
    for u, v, at, tip in SLITS.get(name, ()):
        low, high = edges(np.array(tip))
        goes_on = front + (at - low) / (high - low) * (back - front)
        drawn = at + (u - at) * (heights - tip) / (v - tip)
        rows.append(np.where((heights - tip) * (v - tip) > 0.0, drawn, goes_on))
    return np.array([*rows, back])


def test_places_follow_each_other_as_their_panels_lie_on_the_body() -> None:
    one, two = Places.of(slit_gored()), Places.of(both())
    assert ended(one) == ended(two) == [*ORDER[::-1], *ORDER]
    parts = [0, 0, 1, 0, 2, 0, 0, 1, 0]
    assert one.part.tolist() == parts
    assert two.part.tolist() == [*parts[::-1], *parts]
    count = len(ORDER)
    assert (one.first, two.first) == (count, 0)
    for k, panel in enumerate(slit_gored()):
        own = [place for place, name in enumerate(ORDER) if name == panel.name]
        assert one.columns(k).tolist() == [count + place for place in own]
        assert one.edges[k].tolist() == [own[0], own[-1] + 1]
        # The other half is its image: from the front on, places go down.
        sides = sorted(
            (two.columns(i).tolist(), two.edges[i].tolist())
            for i, other in enumerate(both())
            if other.name.partition(" ")[2] == panel.name
        )
        mirrored = [count - 1 - place for place in own[::-1]]
        assert sides == [
            (mirrored, [count - own[0], count - own[-1] - 1]),
            ([count + place for place in own], [count + own[0], count + own[-1] + 1]),
        ]


@pytest.mark.parametrize("pattern", [slit_gored, both])
def test_sides_and_widths_are_those_of_the_lines_that_were_drawn(
    pattern: Callable[[], Pattern],
) -> None:
    places = Places.of(pattern())
    edges = profile(places.pattern)
    heights = np.array([-149.0, -100.0, -59.0, 0.0, 40.0, 71.0, 120.0, 149.0])
    sides, widths = places.sides(edges, heights), places.widths(edges, heights)
    whole = edges.widths_at(heights)
    for place, (k, part) in enumerate(zip(places.panel, places.part, strict=True)):
        panel = places.pattern.panels[k]
        name = panel.name.removeprefix("left ").removeprefix("right ")
        if panel.pointed:
            assert np.array_equal(widths[place], whole[k])
            continue
        own = cuts(name, heights)[part : part + 2]
        # Frames have their origin in the waist's middle.
        assert sides[2 * place : 2 * place + 2] == pytest.approx(own - 55.0, abs=1e-6)
        assert widths[place] == pytest.approx(own[1] - own[0], abs=1e-6)
    assert places.summed(widths) == pytest.approx(whole, abs=1e-9)
    ring = np.concatenate([np.zeros((places.first, len(heights))), widths]).T
    assert places.by_panel(ring) == pytest.approx(whole.T, abs=1e-9)


def test_beyond_its_tip_a_slit_has_no_seam() -> None:
    """Nor has a gore in a seam any; the parts of a panel hang together there."""
    places = Places.of(slit_gored())
    heights = np.array([-100.0, 0.0, 100.0])
    there = places.open_at(profile(slit_gored()), heights)
    seams = list(itertools.pairwise(ORDER))
    for pair, own in zip(seams, there.tolist(), strict=True):
        if "gore" in pair:
            assert own == [True, False, False]
        elif {"cup", "other cup"} & set(pair):
            assert own == [False, False, True]
        else:
            assert own == [True, True, True]


def test_all_that_is_drawn_on_a_panel_is_turned_over_with_it() -> None:
    word = Text("front", np.array([90.0, 200.0]), 10.0, 0.3, "word", align="start")
    over = np.array([-1.0, 1.0])
    for panel in slit_gored():
        one = replace(panel, texts=(word,))
        two = one.mirrored()
        assert two.mirrored() == one
        for before, after in zip(drawn_on(one), drawn_on(two), strict=True):
            assert after == pytest.approx(before * over)
        (said,) = two.texts
        assert (said.content, said.angle, said.align) == ("front", -0.3, "end")
        # Its own axes are turned with it: what is up, and in front, stays so.
        points = one.outline.vertices
        assert two.frame.to_panel(points * over) == pytest.approx(one.frame.to_panel(points))


def drawn_on(panel: Panel) -> list[np.ndarray]:
    curves = [panel.outline, *(level.curve for level in panel.level_lines)]
    curves += [each.curve for each in (*panel.marks, *panel.slits)]
    points = [each.tip for each in panel.slits] + [tip.point for tip in panel.tips]
    return [*(curve.control for curve in curves), *points, *(t.anchor for t in panel.texts)]
