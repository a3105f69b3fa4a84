"""Bones on uneven ground: how bars rest on it, in closed forms, and that nothing leaps."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pytest

from panelshift import ClassModel, DraftPanel, Fabric, pattern_from_panels, read_pattern
from panelshift.body.turn import TurnOfCloth, turn_of_cloth
from panelshift.construction.laying import Lay, lay
from panelshift.construction.resting import resting
from panelshift.construction.sewing import Bones, Construction, SeamKind, Shell
from panelshift.construction.sewn import Sewn
from panelshift.stack import Stack
from tests.support.examples import thinned

THICK, STEP, LITTLE = 1.5, 0.4, 1e-7


def corners_over(at: np.ndarray, fall: float = LITTLE) -> np.ndarray:
    """How high bars' front and back corners lie on a cloth that ends so far across each, (k, 2)."""
    ones = np.ones_like(at)
    across, ground = (
        np.column_stack([-ones, at, ones]),
        np.array([[STEP, STEP, 0.0]]) * ones[:, None],
    )
    between = np.array([[STEP, 0.0]]) * ones[:, None]
    lies = ground + resting(across, ground, between, THICK * ones, fall * ones)
    # It is straight, but for the face's own fall.
    middle, tilt = 0.5 * (lies[:, 0] + lies[:, 2]), 0.5 * (lies[:, 2] - lies[:, 0])
    assert lies[:, 1] == pytest.approx(middle + tilt * at, abs=1e-9)
    return lies[:, [0, 2]]


@pytest.mark.parametrize("at", [-0.999, -0.7, -0.3, -0.02, 0.0, 0.02, 0.3, 0.9])
def test_a_bar_half_on_a_cloth_is_level_or_balanced_on_its_edge_or_lies_on_both(at: float) -> None:
    front, back = corners_over(np.array([at]))[0].tolist()
    if at >= 0.0:
        # Its middle lies on the cloth.
        assert (front, back) == pytest.approx((STEP, STEP), abs=1e-6)
        return
    # Taut cloth pulls down a corner that stands z high by sqrt(z): with levers l and s about the
    # edge they are in balance where sqrt(short) s = sqrt(long) l. With a ground of 0 below both.
    ratio = ((1.0 + at) / (1.0 - at)) ** 2
    lever = 0.5 * (1.0 + at)
    # (THICK + back) = ratio (THICK + front), (1 - lever) front + lever back = STEP.
    tipped = (STEP - lever * THICK * (ratio - 1.0)) / (1.0 - lever + lever * ratio)
    low = THICK * (ratio - 1.0) + ratio * tipped
    if low < 0.0:
        low, tipped = 0.0, STEP / (1.0 - lever)
    assert (front, back) == pytest.approx((tipped, low), abs=1e-6)


def test_a_bar_is_moved_over_an_edge_without_a_leap() -> None:
    poses = corners_over(np.linspace(-1.0, 1.0, 2001), 0.06)
    assert np.abs(np.diff(poses, axis=0)).max() < 0.006
    assert poses[[0, -1]] == pytest.approx(np.array([[STEP, 0.0], [STEP, STEP]]), abs=0.061)


def test_a_bar_lies_as_its_ground_does() -> None:
    # Level ground, and a cloth that hangs straight from one corner to the other.
    across, thick, fall = np.array([[-1.0, 0.2, 1.0]]), np.array([THICK]), np.array([0.06])
    level = np.full((1, 3), STEP)
    assert not resting(across, level, level[:, 1:], thick, fall).any()
    slant = 0.2 + 0.1 * across + 0.06 * across**2
    lifted = resting(across, slant, np.full((1, 2), -np.inf), thick, fall)
    assert np.abs(lifted + 0.06 * across**2).max() < 1e-9
    # What is there once is mirrored there twice: over the fold it does not tip.
    half = resting(across[:, 1:], np.array([[STEP, 0.0]]), np.zeros((1, 1)), thick, fall)
    assert half[0, 1] - half[0, 0] == pytest.approx(STEP, abs=1e-9)


WIDTH, COUNT = 44.0, 3


def around() -> TurnOfCloth:
    """Equal panels round a cylinder."""
    box = np.array([(0.0, 0.0), (WIDTH, 0.0), (WIDTH, 60.0), (0.0, 60.0)])
    panels = [
        DraftPanel(f"panel {k}", box + (60.0 * k, 0.0), box[:2] + (60.0 * k, 30.0))
        for k in range(COUNT)
    ]
    return turn_of_cloth(pattern_from_panels(panels), ClassModel(), ["side"] * COUNT)


BARS = Bones("coutil", 7.0, THICK, per_panel={f"panel {k}": 1 for k in range(COUNT)})
STACK = Stack([Fabric("coutil", 0.5), Fabric("silk", 0.6)], "coutil")
"""The bars stand in the middle of each panel, with 18.5 mm on either side."""


def laid(turn: TurnOfCloth, bones: Bones, inner: Shell, outer: Shell) -> Lay:
    return lay(Sewn(Construction([inner, outer], [bones]), STACK), turn, np.array([-1.0, 0.0]))


def needed(found: Lay) -> float:
    return float(found.extra[1][:, 1].sum())


@pytest.mark.parametrize("kind", ["bar", "bends", "casing", "stitched"])
@pytest.mark.parametrize("under", thinned([True, False]))
@pytest.mark.parametrize("seams", thinned(["felled", "open"]))
def test_no_width_of_an_allowance_makes_a_leap_beside_a_bone(
    kind: str, under: bool, seams: SeamKind
) -> None:
    turn = around()
    bones = {
        "bar": BARS,
        "bends": Bones("coutil", 7.0, THICK, True, per_panel=BARS.per_panel),
        "casing": Bones("coutil", 7.0, THICK, per_panel=BARS.per_panel, casing=0.5),
        "stitched": Bones("coutil", 7.0, THICK, per_panel=BARS.per_panel, stitched=("silk",)),
    }[kind]
    bare = Shell(["coutil" if not under else "silk"], allowance=0.0)

    def over(width: float) -> Lay:
        lie: Literal["inside", "outside"] = "outside" if under else "inside"
        own = Shell(["coutil" if under else "silk"], seams, width, lie=lie)
        return laid(turn, bones, *((own, bare) if under else (bare, own)))

    # Both corners of the bone in the second panel, and both lines of its channel.
    site, ridges = over(5.0).pile.site, over(5.0).pile.ridges
    edges = np.stack([ridges.low[1], ridges.high[1]])[
        :, np.maximum(ridges.bone, ridges.casing) >= 0
    ]
    runs = site.face.run_at(np.ones(edges.size, dtype=np.int64), edges.ravel())
    own = runs[(runs > WIDTH) & (runs < 2.0 * WIDTH)]
    assert len(own) == 4
    for edge in own.tolist():
        lies = [needed(over(edge - WIDTH + more)) for more in (-1e-6, 1e-6)]
        assert lies[0] == pytest.approx(lies[1], abs=2e-5)


def beside(place: str, away: float) -> float:
    """What silk needs over one bar whose side lies so far before the back edge or a held seam."""
    middle = 80.0 - away - 3.5
    lines = "".join(
        f'<path id="panel{k}" d="M{x} 10 h80 v60 h-80 Z"/><path id="waist{k}" d="M{x} 40 h80"/>'
        for k, x in enumerate((10, 110))
    )
    left = 10.0 if place == "seam" else 110.0
    pattern = read_pattern(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="80mm" '
        f'viewBox="0 0 200 80">{lines}<path id="bone" d="M{left + middle} 10 v60"/></svg>'
    )
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * 2)
    bones = Bones("coutil", 7.0, THICK, drawn_as="middles")
    outer = Shell(["silk"], allowance=0.0, held="seams" if place == "seam" else "edges")
    return needed(laid(turn, bones, Shell(["coutil"], allowance=0.0), outer))


@pytest.mark.parametrize("place", ["back", "seam"])
def test_where_stitches_have_no_room_beside_a_bone_cloth_stands(place: str) -> None:
    # A line of stitches lies half a bone's thickness beside it at least; nearer it comes up to it,
    # until the bone lies over it.
    assert beside(place, 1e-6) == pytest.approx(beside(place, -1e-6), abs=1e-4)
    found = [beside(place, away) for away in (-0.5, 0.0, 0.25, 0.5, 0.75)]
    assert np.all(np.diff(found) > 0.0)
    assert np.diff(found).max() < 0.5
    if place == "back":
        # A flat bar covers less of the face than it is wide.
        radius = 160.0 / np.pi + 0.25
        room = np.array([0.25, 0.75]) + 3.5 - radius * np.arctan(3.5 / (radius + THICK))
        down = THICK * np.minimum(room / (0.5 * THICK), 1.0)
        climbs = np.hypot(room, down) - room
        assert found[4] - found[2] == pytest.approx(climbs[1] - climbs[0], abs=0.03)
