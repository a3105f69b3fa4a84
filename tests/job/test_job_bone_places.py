"""Bones that are drawn where none can lie are told."""

from __future__ import annotations

import pytest

from panelshift import Fabric
from panelshift.construction.sewing import Bones, Construction, Shell
from panelshift.construction.sewn import Sewn
from panelshift.cutting.plan import CutPlan, Cutting
from panelshift.job.bone_places import bone_doubts
from panelshift.pattern.pattern import Pattern
from panelshift.stack import Stack
from tests.support.drawings import path, pattern

STACK = Stack([Fabric("coutil", 0.5), Fabric("silk", 0.3)], "coutil")


def with_bone(x: float) -> Pattern:
    """A half of two panels, 80 mm wide, and the middle line of a bone."""
    body = "".join(
        path(f"M{left} 10h80v200h-80Z", f"{k}") + path(f"M{left} 100h80", f"waist {k}")
        for k, left in enumerate((10, 110), start=1)
    )
    return pattern(body + path(f"M{x} 20V200", "bone"))


def sewn(held: str) -> Sewn:
    bones = Bones("coutil", 7.0, 1.5, drawn_as="middles")
    shells = [Shell(["coutil"]), Shell(["silk"], held=held)]  # type: ignore[arg-type]
    return Sewn(Construction(shells, [bones]), STACK)


@pytest.mark.parametrize(
    ("x", "held", "told"),
    [
        (11.0, "edges", "1: a bone is drawn over the centre front, and counts as one"),
        (188.0, "edges", "2: a bone is drawn over the centre back, and counts as one"),
        (12.9, "edges", "over the centre front"),
        (13.1, "edges", ""),
        (88.0, "edges", ""),
        (
            88.0,
            "seams",
            "1: a bone is drawn over a seam at which silk, which lies over it, is held",
        ),
        (112.0, "seams", "2: a bone is drawn over a seam"),
        (86.0, "seams", ""),
    ],
)
def test_a_bone_over_an_opening_or_a_held_seam_is_told(x: float, held: str, told: str) -> None:
    found = bone_doubts(with_bone(x), CutPlan(), sewn(held))
    assert [(remark.kind, remark.code) for remark in found] == [("warning", "bone-over")] * bool(
        told
    )
    assert told in "".join(remark.words for remark in found)


def test_a_bone_over_a_fold_or_by_number_is_not_told() -> None:
    half = with_bone(10.0)
    assert bone_doubts(half, CutPlan(), None)
    folded = CutPlan(cuttings={"1": Cutting(1, fold="front")})
    assert bone_doubts(half, folded, None) == ()
    bones = Bones("coutil", 7.0, 1.5, per_panel={"1": 20})
    assert bone_doubts(half, CutPlan(), Sewn(Construction([], [bones]), STACK)) == ()
    several = Bones("coutil", 7.0, 1.5, drawn_as="pairs")
    assert bone_doubts(half, CutPlan(), Sewn(Construction([], [several]), STACK)) == ()
