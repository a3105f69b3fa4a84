"""The share of the tension: closed forms against an energy model, and what cut serves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import lsq_linear

from panelshift.construction.tension import (
    HANG_N_PER_MM,
    Pull,
    best_cut,
    comes_to,
)
from tests.support.examples import thinned

PULL = Pull(105.0, 24, 7.0, 1.5, 0.003, 0.01, 3.0)


def energy_model(radius: float, gap: float, height: float, share: float) -> float:
    """What the outer of two strings needs more than the inner over half a gap, in mm.

    Two strings on a fluid under pressure, the outer never inside the inner, held apart by a bone
    at one end and meeting their mirror image at the other; heights on a grid that make the energy
    least, with the tensions given (their sum is pressure times radius).
    """
    n = 160
    h = gap / n
    inner, outer, pressure = 1.0 - share, share, 1.0 / radius
    step = (np.eye(n) - np.eye(n, k=-1)) / np.sqrt(h)
    both = np.hstack([step, step])
    # Unknowns: the inner string's height, and how far the outer stands off it, beyond the bone.
    rows = np.vstack([np.sqrt(inner) * np.hstack([step, np.zeros((n, n))]), np.sqrt(outer) * both])
    known = np.zeros(2 * n)
    known[n] = np.sqrt(outer / h) * height
    load = np.zeros(2 * n)
    load[:n] = pressure * h
    load[n - 1] -= 0.5 * pressure * h
    load[n - 1] -= gap / radius
    load[-1] -= outer * gap / radius
    # The energy is half of |rows z - known|^2 less load z: a square again.
    shift = np.linalg.lstsq(rows.T, load, rcond=None)[0]
    low = np.concatenate([np.full(n, -np.inf), np.zeros(n)])
    z = lsq_linear(rows, known + shift, bounds=(low, np.inf), tol=1e-13).x
    lines = np.concatenate([[0.0], z[:n]]), np.concatenate([[height], z[:n] + z[n:]])
    # The mirror leans by gap / radius: what is higher there is longer.
    one, two = ((np.diff(y) ** 2).sum() / (2.0 * h) + gap / radius * y[-1] for y in lines)
    return float(two - one)


@pytest.mark.parametrize("share", thinned([0.05, 0.2, 0.4, 0.6], 2))
@pytest.mark.parametrize(("count", "height"), [(12, 1.5), (24, 1.5), (16, 0.8), (8, 2.0)])
@pytest.mark.slow
def test_closed_forms_against_the_energy_model(share: float, count: int, height: float) -> None:
    pull = replace(PULL, count=count, height=height)
    gap = np.pi * pull.radius / count - 0.5 * pull.width
    closed = pull.over(share) / count - height * pull.width / pull.radius
    model = 2.0 * energy_model(pull.radius, gap, height, share)
    whole = 2.0 * energy_model(pull.radius, gap, height, 1e-6)
    assert closed == pytest.approx(model, abs=0.01 * whole)


def test_bones_far_apart_know_nothing_of_each_other() -> None:
    alone = [
        bones.over(0.2) / count - bones.height * bones.width / bones.radius
        for count in (6, 8, 10)
        for bones in (replace(PULL, count=count),)
    ]
    assert alone == pytest.approx([alone[0]] * 3, rel=1e-12)


def test_cut_flat_and_cut_taut() -> None:
    flat, taut = comes_to(PULL, 0.0), comes_to(PULL, PULL.over(0.0))
    assert 100.0 * flat.strain == pytest.approx(0.94, abs=0.01)
    assert 100.0 * taut.strain == pytest.approx(0.32, abs=0.01)
    assert flat.stands < 0.6 < 0.9 < taut.stands


@pytest.mark.parametrize("height", [0.3, 1.5])
def test_bones_sink_steadily_as_the_outer_pulls(height: float) -> None:
    # The two cases, landing between bones and clear of the cloth, meet without a step.
    pull = replace(PULL, height=height)
    shares = np.linspace(0.0, 0.9, 2001)
    stands = np.array([pull.stands(share) for share in shares.tolist()])
    assert stands[0] == 1.0
    assert (np.diff(stands) <= 0.0).all()
    assert np.abs(np.diff(stands)).max() < 0.02


def test_full_standing_is_what_taut_cloth_needs() -> None:
    # 24 bendable bars 6.5 by 1.5 on a radius of 105: 8.57 by a convex hull.
    assert replace(PULL, width=6.5).over(0.0) == pytest.approx(8.57, abs=0.06)


@pytest.mark.parametrize("cut", [0.0, 3.0, 6.0, 9.0, 12.0])
def test_the_share_is_that_of_the_cut(cut: float) -> None:
    share = PULL.share(cut)
    assert PULL.cut(share) == pytest.approx(cut, abs=1e-6) or share == 0.0


def test_a_longer_cut_never_strains_more() -> None:
    strains = [comes_to(PULL, cut).strain for cut in np.linspace(0.0, 20.0, 40)]
    assert (np.diff(strains) <= 1e-12).all()
    assert strains[-1] == 0.0


def test_taut_is_never_slack_and_never_beyond_its_bound() -> None:
    for lacing in (1.0, 3.0, 6.0):
        pull = PULL.tighter(lacing)
        taut = comes_to(pull, pull.over(0.0))
        # Two cloths that share a pull strain as springs beside each other.
        shared = pull.pulls * pull.inner * pull.outer / (pull.inner + pull.outer)
        assert 0.0 < taut.strain <= shared + 1e-12


def test_the_best_cut_is_taut_or_longer_and_may_not_exist() -> None:
    best = best_cut(PULL)
    assert best is not None
    assert best.longer >= PULL.over(0.0) - 1e-12
    # A weak outer over a weak inner, laced tight: loose at rest or overstrained.
    assert best_cut(replace(PULL, inner=0.02, outer=0.05, lacing=6.0)) is None


def test_the_hang_test_is_one_kilogram_on_fifty_millimetres() -> None:
    assert pytest.approx(9.80665 / 50.0, abs=2e-4) == HANG_N_PER_MM
