"""How near growth and seams come on a body that is known, by what was measured of it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from form.bodies import mesh, saved, sections
from form.test_form_scan import waist_of_truth

from panelshift.body import Ring, Turn
from panelshift.body.form import FormModel
from panelshift.body.support import Sections
from panelshift.form.convex import convex_fit
from panelshift.form.scan import measure_scan
from panelshift.outline import FloatArray

HEIGHTS = np.linspace(-150.0, 150.0, 101)
INNER = np.abs(HEIGHTS) <= 120.0
PANELS = 14


@cache
def ring() -> Ring:
    """Panels of equal width round the body itself."""
    girths = sections(HEIGHTS + waist_of_truth()).girths
    return Ring(HEIGHTS, np.tile(girths[:, None] / PANELS, PANELS), 0.0, ("side",) * PANELS)


@cache
def truth() -> Turn:
    heights = np.arange(-280.0, 261.0, 10.0)
    return FormModel(heights, sections(heights + waist_of_truth())).turn(ring())


def growth(turn: Turn) -> FloatArray:
    """In mm for each mm of distance, heights by panels."""
    return np.asarray(turn.angles * np.cos(0.5 * (turn.tilts[:, 1:] + turn.tilts[:, :-1])))


def rms(turn: Turn) -> float:
    """Error of growth as a part of the mean panel's."""
    away = (growth(turn) - growth(truth()))[INNER] / (2.0 * np.pi / PANELS)
    return float(np.sqrt((away**2).mean()))


def lengths(turn: Turn) -> FloatArray:
    """Change of seams' lengths from the waist for each mm of distance, (heights, seams)."""
    assert turn.normals is not None
    assert turn.slants is not None
    step = HEIGHTS[1] - HEIGHTS[0]
    up, aside = np.cos(turn.slants), np.sin(turn.slants)
    bend, way = (np.gradient(part, step, axis=0) for part in (turn.tilts, turn.normals))
    run = np.cumsum((np.cos(turn.tilts) * way * aside - bend * up) * up, axis=0) * step
    return np.asarray(run - run[len(HEIGHTS) // 2])


def covered(turn: Turn) -> float:
    """Part of panels and heights at which growth is within what the model states."""
    spread = turn.spread
    assert spread is not None
    found, wanted = (
        np.column_stack([np.interp(spread.heights, HEIGHTS, c) for c in growth(t).T])
        for t in (turn, truth())
    )
    return float((np.abs(found - wanted) <= spread.growth).mean())


@pytest.mark.slow
def test_a_mesh_gives_growth_within_3_percent_and_seams_within_half_a_mm(tmp_path: Path) -> None:
    found = measure_scan(saved(mesh(turned=0.4), tmp_path / "body.ply"))
    turn = found.model().turn(ring())
    assert rms(turn) < 0.03
    away = 2.0 * np.abs(lengths(turn) - lengths(truth()))[INNER]
    assert away.max() < 0.5
    assert covered(turn) >= 0.9


@pytest.mark.slow
def test_seven_traced_sections_give_growth_within_15_percent() -> None:
    chance = np.random.default_rng(7)
    heights = np.linspace(-170.0, 170.0, 7)
    psi = np.linspace(0.0, 2.0 * np.pi, 120, endpoint=False)
    for _ in range(3):
        rows = []
        for curve in sections(heights + waist_of_truth()).points(np.tile(psi, (7, 1))):
            shaken = curve + chance.normal(0.0, 1.5, curve.shape)
            rows.append(convex_fit(shaken).sections.coefficients[0])
        turn = FormModel(heights, Sections(np.array(rows))).turn(ring())
        assert rms(turn) < 0.15
        assert covered(turn) >= 0.9
