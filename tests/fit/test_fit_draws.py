"""Drawn growth agrees with what is worked out in closed form, by cloth, by sewing and by body."""

from __future__ import annotations

import math

import numpy as np
import pytest

import panelshift as ps
from panelshift.errors import StackError, WrongTypeError
from panelshift.fit.growth_draws import GrowthDraws
from panelshift.fit.plus_minus import growth_by_body, growth_spread
from panelshift.shift import Shifted
from tests.support.drafts import HOURGLASS, drawn

PATTERN = ps.read_pattern(drawn(HOURGLASS.panels()))
COUNT = 20_000
NEAR = 0.03
"""Of a standard deviation of so many draws: five of its own standard errors."""


def fabric(name: str, uncertainty: float | None, cloth: str = "", **more: float) -> ps.Fabric:
    return ps.Fabric(name, 0.5, thickness_uncertainty=uncertainty, cloth=cloth, **more)


FABRICS = [
    fabric("lining", 0.02),
    fabric("drill", 0.03, "drill"),
    fabric("twin", 0.03, "drill"),
    fabric("silk", 0.05, take_up=0.02, take_up_uncertainty=0.004),
]
BODY = ps.ClassModel()


def shifted(body: bool, sewn: bool = False, pinned: bool = False) -> Shifted:
    stack = ps.Stack(
        FABRICS, "lining", [ps.MeasuredDistance("lining", "twin", 1.1, 0.05)] if pinned else []
    )
    how = ps.Construction([ps.Shell(["drill", "twin"])]) if sewn else None
    return ps.shift_pattern(PATTERN, stack, None if body else BODY, gap=40.0, construction=how)


@pytest.mark.parametrize("body", [False, True])
@pytest.mark.parametrize(("sewn", "pinned"), [(False, False), (False, True), (True, False)])
@pytest.mark.slow
def test_they_spread_as_far_as_is_stated(body: bool, sewn: bool, pinned: bool) -> None:
    job = shifted(body, sewn, pinned)
    found = ps.growth_draws(job, COUNT, seed=4)
    assert found.layers == ("lining", "drill", "twin", "silk")
    for place, level in ((0, "waist"), (2, "waist"), (3, "waist"), (3, "hip")):
        height = PATTERN.level_height(level)
        drawn_ = found.growth[:, place, 2, found.levels.index(level)]
        cloth = growth_spread(job, place, 2, height)
        assert cloth is not None
        by_body = growth_by_body(job, place, 2, height) or 0.0
        assert drawn_.mean() == pytest.approx(job.growth(place, 2, height), abs=0.01)
        sd = float(drawn_.std()) * 1.959964
        assert sd == pytest.approx(math.hypot(cloth, by_body), rel=NEAR)


def test_girths_are_wrong_together_on_all_panels() -> None:
    job = shifted(body=False)
    found = ps.growth_draws(job, COUNT)
    waist = found.levels.index("waist")
    turns = {p.name: 2.0 * job.turn.growth_at(k, 0.0) for k, p in enumerate(PATTERN)}
    for place in (1, 2):
        expected = job.stack.girth_uncertainty(turns, 0, place)
        assert found.girths[:, place, waist].std() == pytest.approx(expected, rel=NEAR)
    assert not found.of_body.any()


@pytest.mark.slow
def test_a_body_shares_out_its_turn_and_so_hardly_changes_a_girth() -> None:
    found = ps.growth_draws(shifted(body=True), COUNT)
    waist = found.levels.index("waist")
    known = ps.growth_draws(shifted(body=False), COUNT).girths[:, 2, waist].var()
    more = found.girths[:, 2, waist].var() - known
    # Panels and gap turn by 2 pi together: were panels wrong each by itself, it would be so much.
    alone = (found.of_body[2, :, waist] * found.growth[:, 2, :, waist].var(axis=0)).sum()
    assert 0.0 < more < 0.1 * 4.0 * alone
    assert (found.of_body[2, :, waist] > 0.5).all()


def test_intervals_hold_what_they_say_and_seeds_are_kept() -> None:
    job = shifted(body=True)
    found, again, other = (ps.growth_draws(job, 2000, seed) for seed in (1, 1, 2))
    assert np.array_equal(found.growth, again.growth)
    assert not np.array_equal(found.growth, other.growth)
    low, high = found.interval(0.8)
    held = (found.growth >= low) & (found.growth <= high)
    assert held[:, 1:].mean() == pytest.approx(0.8, abs=0.01)


def test_bad_questions_are_refused() -> None:
    job = shifted(body=False)
    with pytest.raises(StackError, match="1 draws"):
        ps.growth_draws(job, 1)
    with pytest.raises(WrongTypeError):
        ps.growth_draws(PATTERN)  # type: ignore[arg-type]
    found: GrowthDraws = ps.growth_draws(job, 2)
    with pytest.raises(StackError, match=r"holds 1\.5 of all"):
        found.interval(1.5)


@pytest.mark.parametrize("sewn", [False, True])
def test_what_is_not_stated_is_asked_for(sewn: bool) -> None:
    stack = ps.Stack([fabric("drill", 0.03), fabric("silk", None)], "drill")
    how = ps.Construction([ps.Shell(["drill", "silk"])]) if sewn else None
    job = ps.shift_pattern(PATTERN, stack, BODY, gap=40.0, construction=how)
    with pytest.raises(StackError, match="no uncertainty is stated of silk"):
        ps.growth_draws(job)
