"""Parts of shifting one by one: grids over rows of panels, refusals, lines over open darts."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from panelshift.body import ClassModel
from panelshift.errors import ShiftError, StackError
from panelshift.fit.facts import _walks
from panelshift.outline import Curve
from panelshift.outline.measure import length
from panelshift.shift import shift
from panelshift.shift.lengthening import Lengthening
from panelshift.shift.panel_row import PanelRow
from panelshift.shift.split_panels import _over_all, refuse_unsplittable
from panelshift.stack import Fabric, Stack
from tests.shift.test_shift_slits import shifted, three, turned
from tests.support.drafts import drawn, walls
from tests.support.runs import read_pattern, run, two_layers


def test_points_all_over_a_row_of_walls_are_an_even_grid() -> None:
    """Cells about 10 mm high below and above the waist, and at most 15 mm wide."""
    pattern = read_pattern(drawn(walls([100.0, 50.0], (-62.0, 147.0))))
    row = PanelRow.of(pattern, [0, 1], "lining")
    v = np.concatenate([np.linspace(-62.0, 0.0, 7), np.linspace(0.0, 147.0, 16)[1:]])
    for found, width, columns in zip(row.grids(), (100.0, 50.0), (7, 4), strict=True):
        u = np.linspace(-0.5 * width, 0.5 * width, columns + 1)
        assert found == pytest.approx(np.stack(np.meshgrid(u, v), axis=-1), abs=1e-6)
    # A low panel has four rows all the same.
    low = PanelRow.of(read_pattern(drawn(walls([100.0], (-12.0, 18.0)))), [0], "lining")
    assert low.grids()[0].shape == (9, 8, 2)


def test_the_panel_and_the_layer_that_have_no_width_are_named() -> None:
    with pytest.raises(ShiftError) as caught:
        run(drawn(walls([100.0, 20.0, 20.0])), two_layers(-35.0), classes=["front", "side", "back"])
    assert caught.value.problem == (
        "panel 'wall 2' in layer 'shifted', -100 mm from the waist: it would have no width left"
    )
    assert caught.value.element == "wall 2"


def lengthening(rises: np.ndarray) -> Any:
    """Two panels in two layers, whose tilt changes by 0.02 a mm for each mm beyond 50 mm."""
    pieces = np.arange(8) // 2
    control = np.zeros((8, 4, 2))
    control[:, 0, 1] = np.tile([-50.0, 0.0], 4)
    profile = SimpleNamespace(owner=pieces, control=control, ends=np.array([[-50.0, 50.0]] * 4))

    def tilts_at(heights: np.ndarray, edge: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return heights, 0.02 * (np.abs(heights) - 50.0) * (edge < 2)

    return SimpleNamespace(
        turn=SimpleNamespace(profile=profile, tilts_at=tilts_at),
        distances=np.array([[1.0, 1.0], [2.0, 2.0]]),
        rises=rises,
    )


def test_edges_turn_back_where_they_stop_rising_and_beyond_their_ends() -> None:
    rises = np.ones((2, 3, 8))
    for low, high, found in (
        # With d = 2 the tilt pulls as fast as heights rise 25 mm beyond, with d = 1 after 50.
        ([-60.0, -60.0], [80.0, 80.0], [np.nan, 75.0]),
        ([-60.0, -60.0], [120.0, 120.0], [100.0, 75.0]),
        ([-90.0, -60.0], [120.0, 60.0], [100.0, -90.0]),
        ([-50.0, -50.0], [50.0, 50.0], [np.nan, np.nan]),
    ):
        turned = Lengthening.turned(lengthening(rises), np.array(low), np.array(high))
        assert turned == pytest.approx(
            np.array([[found[0], np.nan], [found[1], np.nan]]), nan_ok=True
        )
    # Its fourth piece is the back edge's upper one, its sixth the other panel's.
    rises[0, 2, 3] = rises[0, 0, 5] = 0.0
    rises[1, 1, 2] = -0.1
    turned = Lengthening.turned(lengthening(rises), np.full(2, -60.0), np.full(2, 60.0))
    assert turned == pytest.approx(np.array([[0.0, 0.0], [-50.0, np.nan]]), nan_ok=True)


def test_a_line_over_a_piece_bridges_an_open_dart_and_closes_a_small_step() -> None:
    pattern = read_pattern(drawn(walls([200.0])))
    (panel,) = pattern

    def line(*points: tuple[float, float]) -> Curve:
        inverse = np.linalg.inv(np.vstack([panel.frame.matrix, [0.0, 0.0, 1.0]]))
        return Curve.polyline(np.array(points) @ inverse[:2, :2].T + inverse[:2, 2])

    parts = [line((40.0, 30.0), (-20.0, 30.0)), line((-90.0, 30.0), (-29.0, 30.0))]
    over = panel.frame.to_panel(_over_all(panel, parts).flatten())
    assert over == pytest.approx(
        np.array([[-90.0, 30.0], [-29.0, 30.0], [-20.0, 30.0], [40.0, 30.0]]), abs=1e-9
    )
    close = [line((-90.0, 30.0), (0.0, 30.2)), line((0.0, 30.0), (90.0, 30.0))]
    one = _over_all(panel, close)
    assert len(one) == 2
    assert panel.frame.to_panel(one.control[1, 0]) == pytest.approx([0.0, 30.1])


def test_a_layer_that_cannot_be_split_is_told_as_a_whole() -> None:
    pattern = read_pattern(drawn(walls([60.0, 60.0])))
    with pytest.raises(StackError) as caught:
        refuse_unsplittable(pattern, Fabric("lining", 0.2, split_at=("yoke",)))
    error = caught.value
    assert (error.source, error.element) == ("draft.svg", "lining")
    assert error.problem == (
        "layer 'lining', to be split at 'yoke': no such line crosses a panel on which it lies"
    )
    assert error.remedy == (
        "Draw an open line across the panels and give its label or id, or give a level. Lines "
        "here: waist, bust, hip. See split_at in docs/fewer-pieces.md."
    )


def test_seams_of_gores_in_slits_are_walked_along_the_gores() -> None:
    made = shifted(three(), ClassModel())
    found = list(_walks(made, 0.5))
    assert {walked.layer for walked in found} == {"drafted", "shifted"}
    seams = [seam for layer in made.layers for seam in layer.pattern.seams]
    assert sum(seam.in_slit for seam in seams) == 12
    for layer in made.layers:
        own = [walked for walked in found if walked.layer == layer.fabric.name]
        for walked, seam in zip(own, layer.pattern.seams, strict=True):
            assert walked.passes
            assert walked.difference == pytest.approx(walked.first - walked.second, abs=1e-9)
            if seam.in_slit and seam.second_span is None:
                gore = layer.pattern.panels[seam.second]
                assert walked.second == pytest.approx(length(gore.edge(seam.second_edge)))


def test_what_is_not_known_of_a_seam_in_a_slit_is_that_of_the_gore() -> None:
    """It goes with the distance: half the outer cloths and what lies between, there alone."""
    lies, own = ("cup", "gore"), {"drill": 0.05, "patch": 0.1, "silk": 0.02}
    stack = Stack(
        [
            Fabric("drill", 0.5, thickness_uncertainty=own["drill"]),
            Fabric("patch", 0.4, panels=frozenset(lies), thickness_uncertainty=own["patch"]),
            Fabric("silk", 0.3, thickness_uncertainty=own["silk"]),
        ],
        "drill",
    )
    pattern = three()
    made = shift(pattern, stack, turned(pattern, ClassModel()))
    drafted = [walked.first for walked in pattern.walk()]
    found = [walked for walked in _walks(made, 0.5) if walked.layer == "silk"]
    assert len(found) == len(drafted) == 8
    for walked, before in zip(found, drafted, strict=True):
        patched = any(name in walked.seam.split(" to ") for name in lies)
        distance = 0.25 + 0.4 * patched + 0.15
        doubt = np.hypot.reduce(
            [0.5 * own["drill"], own["patch"] * patched, 0.5 * own["silk"]]
        ) * stats.norm.ppf(0.975)
        expected = doubt * abs(walked.first - before) / distance
        assert walked.plus_minus == pytest.approx(expected, rel=1e-3), walked.seam
        assert walked.by_body is None
