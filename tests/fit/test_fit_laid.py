"""Panels laid on the body: closed forms of cylinders and cones, and seams that meet."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels, shift_pattern
from panelshift.body import Measures
from panelshift.body.section import SectionModel
from panelshift.fit.corset_picture import Viewpoint
from panelshift.fit.facts import FitFacts
from panelshift.fit.laid_panels import LaidPanel, laid_layers, lay_panels
from panelshift.job import read_job, resolve
from panelshift.job.result import fit_job
from tests.support.runs import SAMPLES

ROUND = SectionModel(Measures.constant(1.0), 2.0)
TALL = 240.0


def gores(wide: float, flare: float) -> list[DraftPanel]:
    """Three panels of half a round body, whose width changes by a part of the height."""
    panels = []
    for k, name in enumerate(("one", "two", "three")):
        x = 200.0 * k
        # The sheet's y runs down.
        low, high = wide - flare * TALL / 2.0, wide + flare * TALL / 2.0
        ends = [(x - high / 2, 0), (x + high / 2, 0), (x + low / 2, TALL), (x - low / 2, TALL)]
        waist = [(x - wide / 2, TALL / 2), (x + wide / 2, TALL / 2)]
        panels.append(DraftPanel(name, ends, waist))
    return panels


def laid(wide: float, flare: float) -> tuple[LaidPanel, ...]:
    shifted = shift_pattern(pattern_from_panels(gores(wide, flare)), Stack([Fabric("drill", 0.6)]))
    turn = shift_pattern(shifted.turn.pattern, shifted.stack, ROUND).turn
    return lay_panels(turn, ROUND, gap=0.0)


@pytest.mark.parametrize("flare", [0.0, 0.12])
def test_points_lie_on_a_cylinder_and_on_a_cone(flare: float) -> None:
    """Of a slope that the gores' flare gives: dr/dv = 6 flare / 2 pi, dz = sqrt(1 - that^2) dv."""
    wide = 110.0
    radius, slope = 6.0 * wide / (2.0 * np.pi), 6.0 * flare / (2.0 * np.pi)
    panels = laid(wide, flare)
    assert len(panels) == 6
    for panel in panels:
        x, ahead, up = np.moveaxis(panel.points, -1, 0)
        # Away from the ends, at which tilt is taken over a part of its stretch.
        rows = slice(2, -2)
        assert np.hypot(x, ahead)[:, rows] == pytest.approx(
            radius + slope * panel.heights[:, rows], abs=0.02
        )
        assert up[:, rows] == pytest.approx(
            np.sqrt(1.0 - slope**2) * panel.heights[:, rows], abs=0.02
        )
        level = panel.outward[..., 0] * x + panel.outward[..., 1] * ahead
        assert level[:, rows] == pytest.approx(
            np.sqrt(1.0 - slope**2) * np.hypot(x, ahead)[:, rows], rel=1e-3
        )
        assert panel.outward[:, rows, 2] == pytest.approx(-slope, abs=1e-2)
        lifted = np.linalg.norm(panel.at(7.0) - panel.points, axis=-1)
        assert lifted == pytest.approx(7.0, abs=1e-9)


@pytest.fixture(scope="module")
def hourglass() -> FitFacts:
    return fit_job(resolve(read_job(SAMPLES / "hourglass.toml")), lay_cloth=False)


def test_seams_meet_on_every_layer_and_the_wearer_s_left_is_positive(hourglass: FitFacts) -> None:
    panels = hourglass.laid
    for one, two in itertools.pairwise(panels):
        for distance in (0.0, 20.0):
            first, second = one.at(distance)[-1], two.at(distance)[0]
            low = max(one.heights[-1, 0], two.heights[0, 0])
            high = min(one.heights[-1, -1], two.heights[0, -1])
            at = np.linspace(low, high, 9)
            for axis in range(3):
                assert np.interp(at, one.heights[-1], first[:, axis]) == pytest.approx(
                    np.interp(at, two.heights[0], second[:, axis]), abs=1.0
                )
    middles = np.array([panel.points[3, 7] for panel in panels])
    assert (middles[: len(panels) // 2, 0] < 0.0).all()
    assert (middles[len(panels) // 2 :, 0] > 0.0).all()
    assert middles[len(panels) // 2, 1] > 0.0 > middles[0, 1]


def test_what_layers_are_coloured_by_is_what_the_fit_sheet_states(hourglass: FitFacts) -> None:
    known = {(item.layer, item.panel, item.level): item for item in hourglass.alike}
    for panel, layers in zip(hourglass.laid, hourglass.laid_layers, strict=True):
        assert [layer.name for layer in layers] == ["lining", "coutille", "interlining", "brocade"]
        for layer in layers:
            if layer.name == hourglass.drafted:
                assert not layer.growth.any()
                continue
            item = known[layer.name, panel.name, "waist"]
            for k in (0, 3, 6):
                growth = np.interp(0.0, panel.heights[k], layer.growth[k])
                assert growth == pytest.approx(item.growth, abs=0.02)
                if item.strain is not None:
                    strain = np.interp(0.0, panel.heights[k], layer.strain[k])
                    assert strain == pytest.approx(item.strain, rel=0.05)


def test_a_layer_on_some_panels_only_is_on_those() -> None:
    stack = Stack([Fabric("drill", 0.6), Fabric("facing", 0.4, panels=frozenset({"one"}))])
    shifted = shift_pattern(pattern_from_panels(gores(110.0, 0.0)), stack, ROUND)
    panels = lay_panels(shifted.turn, ROUND, gap=0.0)
    for panel, layers in zip(panels, laid_layers(shifted, shifted.layers, panels), strict=True):
        assert ("facing" in [layer.name for layer in layers]) == (panel.name == "one")


def test_a_point_of_view() -> None:
    """From straight ahead left is right and up is up; from aside what lies ahead comes across."""
    point = np.array([3.0, 5.0, 7.0])
    assert Viewpoint(0.0, 0.0).seen(point) == pytest.approx([3.0, -7.0, 5.0])
    assert Viewpoint(np.pi / 2.0, 0.0).seen(point) == pytest.approx([5.0, -7.0, -3.0])
    assert Viewpoint(0.0, np.pi / 2.0).seen(point) == pytest.approx([3.0, 5.0, 7.0])
