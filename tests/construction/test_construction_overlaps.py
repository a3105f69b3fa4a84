"""Raw edges that meet on one panel and go over each other: nothing leaps by a ply."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from panelshift import ClassModel, DraftPanel, Fabric, pattern_from_panels
from panelshift.body.turn import TurnOfCloth, turn_of_cloth
from panelshift.construction.laying import lay
from panelshift.construction.overlaps import full_width
from panelshift.construction.sewing import Bones, Construction, Shell, Strip
from panelshift.construction.sewn import Sewn
from panelshift.outline import FloatArray
from panelshift.stack import Stack

WIDTH = 60.0
EXACT_MM = 1.2e-3
"""As layers are laid: wide plies are looked at every 4 mm."""
STACK = Stack([Fabric("coutil", 0.5), Fabric("mid", 0.3), Fabric("silk", 0.6)], "coutil")


@cache
def around() -> TurnOfCloth:
    box = np.array([(0.0, 0.0), (WIDTH, 0.0), (WIDTH, 260.0), (0.0, 260.0)])
    panels = [
        DraftPanel(f"panel {k}", box + (80.0 * k, 0.0), box[:2] + (80.0 * k, 130.0))
        for k in range(3)
    ]
    return turn_of_cloth(pattern_from_panels(panels), ClassModel(), ["side"] * 3)


def needed(how: Construction) -> FloatArray:
    return lay(Sewn(how, STACK), around(), np.array([-1.0, 0.0])).extra[:, :, 1]


BONES = Bones(
    "coutil", 7.0, 1.5, True, per_panel={f"panel {k}": 1 for k in range(3)}, stitched=("silk",)
)


@pytest.mark.parametrize(("held", "bones"), [("edges", ()), ("fused", ()), ("edges", (BONES,))])
@pytest.mark.parametrize(
    "layers", [("coutil", "coutil"), ("coutil", "mid"), ("mid", "coutil"), ("mid", "")]
)
def test_edges_that_go_over_each_other_make_no_leap(
    held: str, layers: tuple[str, str], bones: tuple[Bones, ...]
) -> None:
    # No multiples of 4 mm, at which it is looked at more finely, and beside the channel if any.
    back = 45.0 if bones else 20.7

    def at(overlap: float) -> FloatArray:
        wide = WIDTH - back + overlap
        first, second = layers
        strips = [Strip(first, 0.8, back, "centre_back")]
        strips += [Strip(second, 0.5, wide, "seams")] if second else []
        mid = Shell(["mid"], allowance=0.0 if second else wide, lie="outside", held=held)  # type: ignore[arg-type]
        outer = Shell(["silk"], allowance=0.0)
        return needed(Construction([Shell(["coutil"], allowance=0.0), mid, outer], bones, strips))

    meets = [at(overlap) for overlap in (-1e-6, 1e-6)]
    assert meets[0] == pytest.approx(meets[1], abs=EXACT_MM)
    # Once they overlap by what cloth needs to come down, they are as high as both.
    assert at(2.0 + 1e-6) == pytest.approx(at(2.0 - 1e-6), abs=EXACT_MM)
    assert at(4.0)[2].sum() > meets[0][2].sum() + 0.01


def test_what_is_narrow_counts_by_its_width_as_high_as_it_is() -> None:
    # From 0: 10 mm, 0.5 on them that is 1 mm wide, and as much again on the half of that.
    plies = np.array([[0.0, 1.0, 1.5, 2.0, 9.0, 1.5, 1.0, 0.3]])
    widths = np.array([[5.0, 4.0, 0.25, 0.25, 0.0, 0.5, 5.0, 0.5]])
    kept = full_width(plies, widths, 2.0)
    assert kept[0, [0, 1, 4, 6]].tolist() == [0.0, 1.0, 9.0, 1.0]
    assert kept[0, [2, 5]] == pytest.approx(1.0 + 0.5 * 0.5)
    assert kept[0, 3] == pytest.approx(1.25 + 0.5 * 0.125)
    assert kept[0, 7] == pytest.approx(0.3)
    assert full_width(plies[:, :1], widths[:, :1], 2.0).tolist() == [[0.0]]
    assert full_width(np.array([[1.0]]), np.array([[0.5]]), 2.0) == pytest.approx(0.25)
