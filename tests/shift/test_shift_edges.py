"""Displacement along side edges: beyond their ends, in sharp hollows, and where a layer ends."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.body import SectionModel
from panelshift.body.turn import TurnOfCloth, turn_of_cloth
from panelshift.construction.growth import Growth
from panelshift.errors import ShiftError
from panelshift.outline import Curve
from panelshift.pattern.panel import EdgeName
from panelshift.shift import shift
from panelshift.shift.layers import anchors
from panelshift.shift.lengthening import Lengthening
from panelshift.stack import Fabric, Stack
from tests.support.drafts import HOURGLASS, PanelDraft, drawn, round_gores
from tests.support.edge_runs import edge_run
from tests.support.runs import on_grid, read_pattern
from tests.support.superellipses import LeaningModel

EDGES: tuple[tuple[int, EdgeName], ...] = ((0, "front"), (1, "back"))


def turned(panels: list[PanelDraft]) -> TurnOfCloth:
    pattern = read_pattern(drawn(panels))
    return turn_of_cloth(pattern, LeaningModel(), ["side"] * len(panels))


@pytest.fixture(scope="module")
def hourglass() -> TurnOfCloth:
    return turned(HOURGLASS.panels())


DISTANCES = np.array([[1.0, 1.2, 1.4, 1.6, 1.8, 2.0], [-0.5, -0.4, -0.3, -0.2, -0.1, 0.6]])


def test_beyond_its_ends_an_edge_goes_on_by_tilt_alone(hourglass: TurnOfCloth) -> None:
    found = Lengthening.of(hourglass, Growth(DISTANCES, hourglass), anchors(hourglass.pattern))
    heights = hourglass.profile.heights
    for layer, distances in enumerate(DISTANCES):
        for _, name in EDGES:
            grid = on_grid(found, layer, name)
            for k, d in enumerate(distances):
                tilt = hourglass.tilt[name][k]
                for end in edge_run(hourglass.profile, k, name).reach:
                    beyond = heights > end if end > 0.0 else heights < end
                    assert beyond.sum() > 300
                    at_end = np.interp(end, heights, grid[k])
                    expected = at_end + d * (np.interp(end, heights, tilt) - tilt[beyond])
                    # The grid's step in which the edge ends is read from both sides.
                    assert grid[k][beyond] == pytest.approx(expected, abs=3e-4)


def test_rates_are_those_at_which_the_displacement_changes(hourglass: TurnOfCloth) -> None:
    found = Lengthening.of(hourglass, Growth(DISTANCES, hourglass), anchors(hourglass.pattern))
    # In the middle of the grid's steps, up to 60 mm beyond the edges' ends.
    heights = np.arange(-190.0, 205.0, 7.25) + 0.125
    h, off = 1e-4, 0
    for layer in (0, 1):
        for edge in range(12):
            which = np.full(len(heights), layer), np.full(len(heights), edge)
            _, rate = found.at(*which, heights)
            ahead, behind = (found.at(*which, heights + s)[0] for s in (h, -h))
            off += int((np.abs((ahead - behind) / (2 * h) - rate) > 1e-6).sum())
    # A few of these heights lie at a sample of the edge, where the rate changes.
    assert off < 0.01 * 24 * len(heights)


def test_the_waist_stays_where_it_is(hourglass: TurnOfCloth) -> None:
    found = Lengthening.of(hourglass, Growth(DISTANCES, hourglass), anchors(hourglass.pattern))
    waist = np.searchsorted(hourglass.profile.heights, -1e-9)
    for layer in (0, 1):
        for _, name in EDGES:
            assert np.abs(on_grid(found, layer, name)[:, waist]).max() < 1e-9


def test_where_one_side_of_a_seam_is_not_carried_both_take_half() -> None:
    # Nothing but a pad on the first two panels, and a cover of no thickness over it.
    pattern = read_pattern(drawn(HOURGLASS.panels()))
    turn = turn_of_cloth(pattern, SectionModel(), ["side"] * 6)
    d = np.array([[3.0, 3.0, 0.0, 0.0, 0.0, 0.0]])
    found = Lengthening.of(turn, Growth(d, turn), anchors(pattern))
    heights = turn.profile.heights
    second, third = on_grid(found, 0, "back")[1], on_grid(found, 0, "front")[2]
    natural = 3.0 * (np.interp(0.0, heights, turn.tilt["back"][1]) - turn.tilt["back"][1])
    inside = (heights > -100.0) & (heights < 100.0)
    # Both lean little, so that a strain is a displacement along the panel.
    assert np.abs(natural[inside]).max() > 0.8
    assert second[inside] == pytest.approx(0.5 * natural[inside], abs=0.1)
    assert third[inside] == pytest.approx(0.5 * natural[inside], abs=0.1)
    # Farther back nothing moves, not even by rounding.
    assert not on_grid(found, 0, "back")[2:].any()
    assert not on_grid(found, 0, "front")[3:].any()


# -- folds ------------------------------------------------------------------------------

BEND = 40.0
DEEP = 32.0
"""At the sides of an oval body the tilt changes faster than by 1 / DEEP, at its front and back
more slowly: only seams are asked to turn back, and they may share what room there is."""


def gores(rise: float = 0.0, dip: float = 0.0, sense: float = 1.0) -> list[PanelDraft]:
    """A short, sharply waisted body; the panels may rise or dip beyond the ends of their edges."""

    def radius(v: np.ndarray) -> np.ndarray:
        return 100.0 + sense * BEND * (1.0 - np.cos(np.asarray(v) / BEND))

    class Shaped(PanelDraft):
        def outline(self) -> Curve:
            parts = [self.front, _bowed(self.front.end, self.back.end, rise)]
            parts += [self.back.reversed(), _bowed(self.back.start, self.front.start, -dip)]
            return Curve.chain(parts, closed=True)

    heights = tuple(np.linspace(-30.0, 30.0, 25))
    plain = round_gores(radius, 4, heights, {"bust": 20.0, "hip": -20.0})
    return [Shaped(p.name, p.front, p.back, p.levels) for p in plain]


def _bowed(start: np.ndarray, end: np.ndarray, height: float) -> Curve:
    if not height:
        return Curve.polyline([start, end])
    third, up = (end - start) / 3, np.array([0.0, 4 / 3 * height])
    return Curve.cubics([[start, start + third + up, end - third + up, end]])


def test_seams_in_a_sharp_hollow_keep_a_twentieth_of_their_rise() -> None:
    turn = turned(gores())
    found = Lengthening.of(turn, Growth(np.full((1, 4), DEEP), turn), anchors(turn.pattern))
    heights = turn.profile.heights
    inside = np.abs(heights[:-1] + 0.125) < 29.0
    rises = [
        1.0 + np.diff(on_grid(found, 0, name)[k])[inside] / 0.25
        for k in (1, 2)
        for _, name in EDGES
    ]
    assert min(float(rise.min()) for rise in rises) == pytest.approx(0.05, abs=2e-3)


@pytest.mark.parametrize(
    ("rise", "dip", "where"), [(0.0, 0.0, 0.0), (12.0, 0.0, 30.0), (0.0, 12.0, -30.0)]
)
def test_a_panel_that_reaches_beyond_its_edges_is_looked_at_there_as_well(
    rise: float, dip: float, where: float
) -> None:
    turn = turned(gores(rise, dip))
    panels = turn.pattern.panels
    reach = [p.frame.to_panel(p.outline.flatten())[:, 1] for p in panels]
    low, high = (np.array([end(v) for v in reach]) for end in (np.min, np.max))
    assert (low.min(), high.max()) == pytest.approx((-30.0 - dip, 30.0 + rise), abs=0.1)
    found = Lengthening.of(turn, Growth(np.full((1, 4), DEEP), turn), anchors(turn.pattern)).turned(
        low, high
    )
    if not where:
        assert np.isnan(found).all()
        return
    # The seams beside the sides of the body, not the openings at the front and the back.
    assert np.isfinite(found[0]).tolist() == [False, True, True, False]
    if where > 0.0:
        assert found[0, 1:3] == pytest.approx([where] * 2, abs=0.5)
    else:
        assert low[1] - 0.5 <= found[0, 1] <= where


def test_the_panel_that_folds_is_named() -> None:
    # Pads under the last panel alone: its open back edge turns back, no other.
    pattern = read_pattern(drawn(gores()))
    turn = turn_of_cloth(pattern, SectionModel(), ["side"] * 4)
    pads = [Fabric(f"pad {k}", 40.0, panels=frozenset({"gore 4"})) for k in (1, 2)]
    stack = Stack([Fabric("inner", 0.1), *pads, Fabric("cover", 0.1)])
    with pytest.raises(ShiftError, match=r"panel 'gore 4' in layer '(pad 2|cover)'") as caught:
        shift(pattern, stack, turn)
    assert "fold over on itself" in caught.value.problem
