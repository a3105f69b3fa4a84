"""Checks 13 and 14: sphere, cone and cylinder. Source: geometry.

Gores of a sphere of radius R, carried out by d, are gores of a sphere of radius R + d: they
scale by (R + d) / R in both directions. Gores of a cone or cylinder keep their length and
grow across by d cos(tilt) theta. All are drawn as SVG, shifted, written and read back.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from panelshift.body import BodyModel, ClassModel, Measures, SectionModel
from panelshift.pattern.panel import Panel
from panelshift.pattern.pattern import Pattern
from tests.support.drafts import PanelDraft, cone_gores, drawn, sphere_gores
from tests.support.examples import thinned
from tests.support.runs import Run, edge_lengths, level_widths, run, two_layers

ROUND: list[BodyModel] = [SectionModel(Measures.constant(1.0)), ClassModel()]
"""Both are round for panels that are all of one class."""


def shifted_gores(panels: list[PanelDraft], d: float, model: BodyModel) -> Run:
    return run(drawn(panels), two_layers(d), model, classes=["side"] * len(panels))


def outline(panel: Panel) -> shapely.LineString:
    return shapely.LineString(panel.frame.to_panel(panel.outline.flatten(5e-4)))


def farthest(one: shapely.LineString, other: shapely.LineString) -> float:
    """Largest distance of a point of either line from the other."""
    there = shapely.distance(other, shapely.points(shapely.segmentize(one, 0.5).coords))
    back = shapely.distance(one, shapely.points(shapely.segmentize(other, 0.5).coords))
    return float(max(there.max(), back.max()))


SPHERES = [
    (150.0, 6, 2.0, (-90.0, 90.0), 0.0),
    (150.0, 6, -2.0, (-90.0, 90.0), 0.0),
    (100.0, 4, -0.8, (-70.0, 40.0), 0.0),
    (100.0, 4, 0.8, (-60.0, 70.0), 0.0),
    (100.0, 5, 1.5, (-40.0, 60.0), 35.0),
    (100.0, 5, -1.5, (-60.0, 40.0), -35.0),
    (80.0, 3, 4.0, (-50.0, 50.0), 0.0),
    (60.0, 3, 1.0, (-40.0, 40.0), 0.0),
]


@pytest.mark.parametrize("model", ROUND, ids=["section", "classes"])
@pytest.mark.parametrize(("radius", "count", "d", "reach", "waist_at"), thinned(SPHERES, 3))
def test_13_sphere_gores_scale_both_ways(
    radius: float,
    count: int,
    d: float,
    reach: tuple[float, float],
    waist_at: float,
    model: BodyModel,
) -> None:
    outcome = shifted_gores(sphere_gores(radius, count, reach, waist_at), d, model)
    scale = (radius + d) / radius
    for before, after in zip(outcome.pattern.panels, outcome.written().panels, strict=True):
        wanted = shapely.affinity.scale(outline(before), scale, scale, origin=(0, 0))
        assert farthest(wanted, outline(after)) < 0.01
        lengths = scale * np.array(edge_lengths(before))
        assert edge_lengths(after) == pytest.approx(lengths, abs=0.01)


@pytest.mark.parametrize("d", [1.5, -1.5])
def test_13_level_lines_of_a_sphere_scale_too(d: float) -> None:
    outcome = shifted_gores(sphere_gores(100.0, 4, (-60.0, 60.0)), d, ROUND[0])
    scale = (100.0 + d) / 100.0
    widths = np.array(level_widths(outcome.pattern))
    assert np.array(level_widths(outcome.written())) == pytest.approx(scale * widths, abs=0.01)
    for before, after in zip(outcome.pattern.panels, outcome.layer().panels, strict=True):
        heights = [scale * level.height for level in before.levels]
        assert [level.height for level in after.levels] == pytest.approx(heights, abs=0.01)


CONES = [
    (100.0, 0.3, 4, 0.8),
    (100.0, -0.3, 4, -0.8),
    (70.0, 0.5, 3, -2.0),
    (100.0, -0.6, 6, 3.0),
    (60.0, 0.0, 2, -3.0),
    (105.0, 0.0, 6, 1.5),
]
"""Waist radius, tilt (0: a cylinder), panels in a half, distance."""


def cone(radius: float, tilt: float, count: int, d: float, model: BodyModel) -> Run:
    return shifted_gores(cone_gores(radius, tilt, count, (-60.0, 60.0)), d, model)


@pytest.mark.parametrize("model", ROUND, ids=["section", "classes"])
@pytest.mark.parametrize(("radius", "tilt", "count", "d"), thinned(CONES, 2))
def test_14_girth_grows_by_d_cos_tilt_theta(
    radius: float, tilt: float, count: int, d: float, model: BodyModel
) -> None:
    outcome = cone(radius, tilt, count, d, model)
    growth = d * np.cos(tilt) * np.pi / count
    widths = np.array(level_widths(outcome.pattern))
    assert np.array(level_widths(outcome.written())) == pytest.approx(widths + growth, abs=0.01)


@pytest.mark.parametrize(("radius", "tilt", "count", "d"), thinned(CONES, 2))
def test_14_lengths_do_not_change(radius: float, tilt: float, count: int, d: float) -> None:
    def extents(pattern: Pattern) -> list[float]:
        return [float(np.ptp(outline(panel).xy[1])) for panel in pattern.panels]

    outcome = cone(radius, tilt, count, d, ROUND[0])
    assert extents(outcome.written()) == pytest.approx(extents(outcome.pattern), abs=0.01)
    for before, after in zip(outcome.pattern.panels, outcome.written().panels, strict=True):
        assert edge_lengths(after)[:2] == pytest.approx(edge_lengths(before)[:2], abs=0.01)


@pytest.mark.parametrize(("radius", "tilt", "count", "d"), thinned(CONES, 2))
def test_14_straight_edges_stay_straight(radius: float, tilt: float, count: int, d: float) -> None:
    for panel in cone(radius, tilt, count, d, ROUND[0]).layer().panels:
        assert len(panel.outline) == 4
        assert panel.outline.degree.tolist() == [1, 1, 1, 1]


def test_13_negative_control_a_cone_does_not_scale() -> None:
    # The comparison can fail: a cone's gores scaled like a sphere's are half a mm out.
    outcome = cone(100.0, 0.3, 4, 0.8, ROUND[0])
    before, after = outcome.pattern.panels[1], outcome.written().panels[1]
    wanted = shapely.affinity.scale(outline(before), 1.008, 1.008, origin=(0, 0))
    assert farthest(wanted, outline(after)) > 0.3
