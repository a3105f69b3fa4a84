"""A layer's extra girth, measured on its cutting file read back, is 2 pi d cos(tilt).

Turning tangents and Steiner's formula on the section, Meusnier's theorem for its tilt. The
gap's share of the turn belongs to no panel.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, reject, strategies as st
from scipy.integrate import quad

from panelshift.body import (
    BodyModel,
    ClassModel,
    FormerModel,
    MeanFormModel,
    Measures,
    SectionModel,
)
from panelshift.body.section import half_axes
from panelshift.body.turn import TurnOfCloth, turn_of_cloth
from panelshift.errors import BodyError
from tests.support.drafts import HOURGLASS, Figure, both_halves, drawn, round_gores
from tests.support.examples import examples, thinned
from tests.support.runs import (
    level_heights,
    level_widths,
    read_pattern,
    run,
    sample,
    sample_layers,
    two_layers,
)
from tests.support.strategies import distances, figures, gaps, likely_models

MEASURED_MM = 0.01


def expected_gain(turn: TurnOfCloth, body: BodyModel, gap: float, height: float, d: float) -> float:
    """d times the integral of cos(tilt) over the normals that panels cover.

    Without the code under test: tilt comes from differences of the girth (its own smoothing
    spreads over 12 mm, so 3 mm each way are near enough), on a circle or an ellipse.
    """
    gap_turn = float(np.interp(height, turn.profile.heights, turn.gap_angles))
    step = 3.0

    def girth(at: float) -> float:
        half = sum(np.interp(at, turn.profile.heights, row) for row in turn.profile.widths)
        return float((1.0 if turn.pattern.full else 2.0) * half + gap)

    if isinstance(body, ClassModel):
        rate = (girth(height + step) - girth(height - step)) / (2 * step) / (2 * np.pi)
        return float(d * np.sqrt(1 - rate**2) * (2 * np.pi - gap_turn))
    if isinstance(body, MeanFormModel):
        low, high = (
            body.section_at(turn.ring, turn.body, at)[0] for at in (height - step, height + step)
        )

        def cosine_on_form(normal: float) -> float:
            there = np.array([[normal]])
            moved = float((high.support(there) - low.support(there))[0, 0])
            return float(np.sqrt(1 - (moved / (2 * step)) ** 2))

        return 2 * d * quad(cosine_on_form, 0.0, np.pi - 0.5 * gap_turn)[0]
    assert isinstance(body, SectionModel)
    sizes = [
        half_axes(np.array([girth(at)]), body.ratio.at(np.array([at])), body.exponent)
        for at in (height - step, height + step)
    ]

    def cosine(normal: float) -> float:
        support = [np.hypot(b[0] * np.sin(normal), t[0] * np.cos(normal)) for b, t in sizes]
        return float(np.sqrt(1 - ((support[1] - support[0]) / (2 * step)) ** 2))

    return 2 * d * quad(cosine, 0.0, np.pi - 0.5 * gap_turn)[0]


@pytest.mark.slow
@pytest.mark.parametrize("name", thinned(["fuller_figure", "hourglass"]))
def test_samples_gain_what_theory_says_at_every_level(name: str) -> None:
    result = sample(name)
    job, turn = result.job, result.shifted.turn
    heights, drafted = level_heights(job.pattern), level_widths(job.pattern)
    for layer, written in sample_layers(name):
        d = float(layer.distances[0])
        wanted = [expected_gain(turn, job.body, job.gap, height, d) for height in heights]
        gain = 2 * (level_widths(written) - drafted).sum(axis=0)
        # On the mean form a level of the panels is not quite a level of the body.
        rel = 0.006 if isinstance(job.body, MeanFormModel) else 0.0
        # Digits of the file and slant of the level add up: the first does not shrink with d.
        assert (np.abs(gain - wanted) <= MEASURED_MM + rel * np.abs(wanted)).all()


@pytest.mark.slow
@pytest.mark.parametrize("name", ["hourglass", "fuller_figure"])
def test_samples_close_at_every_height(name: str) -> None:
    turn = sample(name).shifted.turn
    heights = turn.profile.heights
    whole = [turn.closure_at(height) for height in heights[::20]]
    assert np.abs(np.array(whole) - 2 * np.pi).max() <= 1e-9


@examples(8)
@given(figures(), likely_models, gaps, st.booleans())
def test_any_figure_closes_at_every_height(
    figure: Figure, model: BodyModel, gap: float, full: bool
) -> None:
    half = figure.panels()
    pattern = read_pattern(drawn(both_halves(half) if full else half))
    assert pattern.full is full
    try:
        turn = turn_of_cloth(pattern, model, ["side"] * len(pattern.panels), gap=gap)
    except BodyError as error:
        # A full hip just under a small waist: rightly refused, and no figure to close.
        if "no cloth can follow" not in error.problem:
            raise
        reject()
    whole = (1.0 if full else 2.0) * turn.angles.sum(axis=0) + turn.gap_angles
    assert np.abs(whole - 2 * np.pi).max() <= 1e-9


BODIES = {
    # Radius by meridian length, and its rate of change: sin(tilt).
    "hourglass": (lambda v: 95 + 25 * (1 - np.cos(v / 80)), lambda v: 25 / 80 * np.sin(v / 80)),
    "barrel": (lambda v: 110 + 20 * np.cos(v / 90), lambda v: -20 / 90 * np.sin(v / 90)),
}


@pytest.mark.parametrize(
    ("gap", "d"), thinned([(60.0, 1.3), (0.0, -0.9), (60.0, -0.9), (0.0, 1.3)], 2)
)
@pytest.mark.parametrize("body", BODIES)
def test_round_gores_gain_2_pi_d_cos_tilt(body: str, d: float, gap: float) -> None:
    radius, rate = BODIES[body]
    levels = {"bust": 90.0, "underbust": 50.0, "high hip": -45.0, "hip": -80.0}
    heights = tuple(np.linspace(-120.0, 120.0, 13))
    # Panels and gap together are the body's girth, so the gores alone fall short by the gap.
    gores = round_gores(lambda v: radius(v) - gap / (2 * np.pi), 4, heights, levels)
    outcome = run(
        drawn(gores), two_layers(d), SectionModel(Measures.constant(1.0)),
        classes=["side"] * 4, gap=gap,
    )  # fmt: skip
    gain = 2 * (level_widths(outcome.written()) - level_widths(outcome.pattern)).sum(axis=0)
    at = level_heights(outcome.pattern)
    share = 1 - gap / (2 * np.pi * radius(at))
    wanted = 2 * np.pi * d * np.sqrt(1 - rate(at) ** 2) * share
    assert gain == pytest.approx(wanted, abs=MEASURED_MM)


@examples(8)
@given(figures(lines=False), likely_models, distances, gaps)
def test_any_figure_gains_what_theory_says_at_the_waist(
    figure: Figure, model: BodyModel, d: float, gap: float
) -> None:
    # At the waist of these figures the edges run upright, so the tilt is nothing there but
    # for the smoothing of its bend.
    outcome = run(drawn(figure.panels()), two_layers(d), model, gap=gap)
    open_turn = float(np.interp(0.0, outcome.turn.profile.heights, outcome.turn.gap_angles))
    gain = outcome.written().waist - outcome.pattern.waist
    assert gain == pytest.approx(d * (2 * np.pi - open_turn), abs=MEASURED_MM + abs(d) * 5e-3)


def test_a_full_pattern_grows_as_its_half_does() -> None:
    half = HOURGLASS.panels()
    one = run(drawn(half), two_layers(1.0), gap=40.0)
    classes = [*reversed(["front"] * 2 + ["side"] * 2 + ["back"] * 2)]
    both = run(drawn(both_halves(half)), two_layers(1.0), gap=40.0, classes=classes + classes[::-1])
    assert both.pattern.full
    widths, twice = level_widths(one.layer()), level_widths(both.layer())
    assert twice[6:] == pytest.approx(widths, abs=1e-6)
    assert twice[:6] == pytest.approx(widths[::-1], abs=1e-6)


def test_a_former_grows_by_width_over_its_radius() -> None:
    outcome = run(drawn(HOURGLASS.panels()), two_layers(1.5), FormerModel(80.0))
    drafted = level_widths(outcome.pattern)
    gain = level_widths(outcome.written()) - drafted
    assert gain == pytest.approx(1.5 * drafted / 40.0, abs=MEASURED_MM)
