"""How often a piece of several panels, or a part of one, is cut, and what lies on the fold."""

from __future__ import annotations

from dataclasses import replace

import pytest

from panelshift import Fabric, Stack, shift_pattern
from panelshift.cutting.plan import CutPlan, Cutting
from panelshift.errors import StackError
from panelshift.pattern.panel import EDGE_NAMES
from tests.support.drafts import drawn, walls
from tests.support.runs import read_pattern

WALLS = read_pattern(drawn(walls((45.0, 50.0, 55.0))))


def test_parts_of_a_panel_on_the_fold_are_one_on_it_and_two_beside() -> None:
    front, *others = WALLS.panels
    part = {"made_of": (front.name,)}
    pieces = (
        replace(front, name="wall 1 by the fold", parted=frozenset({"back"}), **part),
        replace(front, name="wall 1 beside it", parted=frozenset({"front"}), **part),
        *others,
    )
    pattern = replace(WALLS, panels=pieces)
    plan = CutPlan(cuttings={front.name: Cutting(1, mirrored=False, fold="front")})
    assert [plan.cutting(pattern, k) for k in range(4)] == [
        Cutting(1, mirrored=False, fold="front"),
        Cutting(2),
        Cutting(2),
        Cutting(2),
    ]
    # On the fold there is nothing to turn in.
    for own in (pattern, WALLS):
        assert plan.edges(own, 0, "drill") == dict.fromkeys(EDGE_NAMES, 10.0) | {"front": 0.0}


@pytest.mark.parametrize("odd", [0, 1, 2])
def test_the_panel_of_one_piece_that_is_cut_otherwise_is_named(odd: int) -> None:
    names = [panel.name for panel in WALLS]
    plan = CutPlan(cuttings={names[odd]: Cutting(4)})
    # The first says how the piece is cut: then the one behind it is another.
    named, words = (names[1], "cut 2, one mirrored") if odd == 0 else (names[odd], "cut 4, half")
    with pytest.raises(StackError, match=f"'{named}' is cut '{words}"):
        plan.refuse_unlike(WALLS, names, "drill")
    alike = CutPlan(cuttings=dict.fromkeys(names, Cutting(4)))
    alike.refuse_unlike(WALLS, names[::-1], "drill")


def test_a_plan_by_which_one_piece_is_cut_in_two_ways_is_refused() -> None:
    names = [panel.name for panel in WALLS]
    lining = Fabric("lining", 0.2, cut_in_one=[names[:2]])
    shifted = shift_pattern(WALLS, Stack([lining, Fabric("drill", 0.5)]))
    CutPlan().refuse_unknown(shifted)
    with pytest.raises(StackError, match=f"'{names[1]}' is cut 'cut 4"):
        CutPlan(cuttings={names[1]: Cutting(4)}).refuse_unknown(shifted)


@pytest.mark.parametrize(
    ("place", "edge", "refused"),
    [
        (0, "front", False),
        (0, "back", True),
        (1, "front", True),
        (2, "front", True),
        (2, "back", False),
    ],
)
def test_one_piece_lies_on_the_fold_by_its_outer_edges_alone(
    place: int, edge: str, refused: bool
) -> None:
    names = [panel.name for panel in WALLS]
    fold = Cutting(1, mirrored=False, fold=edge)  # type: ignore[arg-type]
    plan = CutPlan(cuttings={names[place]: fold})
    if refused:
        with pytest.raises(StackError, match=f"'{names[place]}' is cut 'on the fold'"):
            plan.refuse_unlike(WALLS, names, "drill")
    else:
        plan.refuse_unlike(WALLS, names, "drill")
