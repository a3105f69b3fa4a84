"""The mean form: its numbers, and what panels laid on it do."""

from __future__ import annotations

import json
from dataclasses import replace
from importlib.resources import files

import numpy as np
import pytest
from scipy.integrate import trapezoid

from panelshift.body import MeanFormModel, Measures, Ring
from panelshift.body.mean_form import (
    SEXES,
    Sex,
    population,
    stretched,
    upright,
    waist_radius,
)
from panelshift.body.support import ORDER, Sections
from panelshift.errors import BodyError
from panelshift.outline import FloatArray

V = np.linspace(-180.0, 170.0, 118)
GIRTHS = 650.0 + 300.0 * (V / 180.0) ** 2 / (1.0 + 0.3 * (V / 180.0) ** 2)
FRONT = np.array([[0.0, np.pi, 0.5 * np.pi, -0.5 * np.pi]])


def ring(count: int = 7, girths: FloatArray = GIRTHS) -> Ring:
    widths = np.repeat(girths[:, None] / (2 * count), 2 * count, axis=1)
    return Ring(V, widths, 0.0, ("side",) * 2 * count)


def ratios(sections: Sections) -> FloatArray:
    h = sections.support(np.repeat(FRONT, len(sections.coefficients), axis=0))
    return (h[:, 2] + h[:, 3]) / (h[:, 0] + h[:, 1])


# -- the numbers --------------------------------------------------------------------------


def test_the_data_tells_its_source_its_licence_and_what_it_is_not() -> None:
    data = json.loads(files("panelshift.body").joinpath("mean_form.json").read_text("utf-8"))
    assert "CC0" in data["source"]
    assert "CC0" in data["licence"]
    assert "no survey of people" in data["what_they_are_not"]
    assert len(data["levels"]) == 7


@pytest.mark.parametrize("sex", SEXES)
def test_mean_sections_have_the_mean_ratio_that_is_told_beside_them(sex: str) -> None:
    # The ratio was measured on the hulls, the waves were cut at 16: both tell of one body.
    data = json.loads(files("panelshift.body").joinpath("mean_form.json").read_text("utf-8"))
    form = population(sex).column(160.0, 100.0)  # type: ignore[arg-type]
    levels = form.at(form.heights)
    assert ratios(levels.shape) == pytest.approx(data[sex]["ratio"], abs=0.02)


@pytest.mark.parametrize("sex", SEXES)
def test_bodies_differ_in_many_waves_at_once(sex: Sex) -> None:
    """Principal components: none goes along with another, the first is the widest.

    The slopes that are told beside them are those of what changes from level to level.
    """
    form = population(sex)
    weights = np.append(np.append(np.arange(ORDER + 1.0), 2.0), 0.3)
    rows = np.concatenate([form.ways, 0.3 * form.way_rates])[:, :-1] * weights[:-1]
    parts = rows.swapaxes(0, 1).reshape(rows.shape[1], -1)
    sizes = np.linalg.norm(parts, axis=1)
    assert (np.diff(sizes) < 0.0).all()
    alike = parts @ parts.T / np.outer(sizes, sizes)
    assert alike == pytest.approx(np.eye(len(parts)), abs=0.01)
    steps = np.diff(form.heights)[:, None]
    first = form.ways[:, 0, 2:5]
    mean = 0.5 * (form.way_rates[1:, 0, 2:5] + form.way_rates[:-1, 0, 2:5])
    away = np.diff(first, axis=0) - mean * steps
    assert np.abs(away[[0, -1]]).max() < 0.15 * np.abs(first).max()  # those that lie 40 mm apart


@pytest.mark.parametrize("sex", SEXES)
def test_slopes_agree_with_what_changes_between_levels(sex: str) -> None:
    # A mean of slopes is no slope of means, but they cannot differ by much on the whole.
    form = population(sex)  # type: ignore[arg-type]
    width = np.diff(form.heights)
    pairs = (form.waves[:, 2], form.wave_rates[:, 2]), (form.place, form.place_rates)
    for values, rates in pairs:
        by_slopes = 0.5 * width * (rates[1:] + rates[:-1])
        assert by_slopes.sum() == pytest.approx(values[-1] - values[0], abs=0.12)


def test_women_at_the_bust_would_run_backwards_and_are_floored() -> None:
    form = population("women").column(160.0, 100.0)
    bust = Sections(form.at(np.array([160.0])).shape.coefficients)
    psi = np.linspace(-np.pi, np.pi, 721)[None]
    k = np.arange(bust.coefficients.shape[1])
    bare = Sections(bust.coefficients * (1.0 - k**2)).support(psi)
    assert bare.min() < -0.2
    assert bust.radius(psi).min() == pytest.approx(0.03)


# -- on panels ------------------------------------------------------------------------------


@pytest.mark.parametrize("of", ["women", "men", "either"])
def test_it_closes_and_both_halves_are_alike(of: str) -> None:
    turn = MeanFormModel(of).turn(ring())  # type: ignore[arg-type]
    assert turn.closure() == pytest.approx(np.full(len(V), 2 * np.pi), abs=1e-9)
    assert turn.angles == pytest.approx(turn.angles[:, ::-1], abs=1e-9)
    assert turn.tilts == pytest.approx(turn.tilts[:, ::-1], abs=1e-9)


def test_either_lies_between_women_and_men() -> None:
    level = int(np.argmin(np.abs(V)))
    women, men, either = (
        MeanFormModel(of).turn(ring()).angles[level] for of in ("women", "men", "either")
    )
    assert either == pytest.approx(0.5 * (women + men), abs=0.02)


def test_the_bust_stands_before_the_waist_and_the_back_behind() -> None:
    turn = MeanFormModel("women").turn(ring())
    high = int(np.argmin(np.abs(V - 110.0)))
    assert turn.tilts[high, 7] > turn.tilts[high, 0] + 0.05


@pytest.mark.parametrize("of", ["women", "men", "either"])
def test_steep_hips_are_followed_to_their_ends(of: str) -> None:
    # The mean radius grows by up to 0.88 mm for each mm along the panels, most at their ends:
    # heights beyond those, which the search for upright ones meets, once grew without bound.
    girths = 640.0 + 0.88 * np.pi / 180.0 * np.minimum(V, 0.0) ** 2
    turn = MeanFormModel(of).turn(ring(7, girths))  # type: ignore[arg-type]
    steepest = np.sin(turn.tilts).min()
    assert -1.0 < steepest < -0.8
    assert turn.closure() == pytest.approx(np.full(len(V), 2 * np.pi), abs=1e-9)


def test_the_height_of_the_bust_runs_along_the_panels() -> None:
    here = ring()
    high = float(upright(here, None, np.array([150.0]))[0])
    slope = np.gradient(GIRTHS, V) / (2 * np.pi)
    run = np.sqrt(1.0 - slope**2)
    wanted = trapezoid(np.interp(np.linspace(0.0, 150.0, 999), V, run), dx=150.0 / 998)
    assert high == pytest.approx(wanted, abs=0.1)
    given = MeanFormModel("women", bust_height=150.0).column(here)
    assert given.heights[5] == pytest.approx(high)
    assert MeanFormModel("women").column(here).heights[5] == population("women").bust_height


@pytest.mark.parametrize("end", [0, -1])
def test_a_body_has_no_crease_where_its_form_ends(end: int) -> None:
    form = population("women").column(160.0, 110.0)
    past = np.array([-1e-6, 0.0, 1e-6, 5.0, 20.0, 500.0]) * (1.0 if end else -1.0)
    heights = np.sort(form.heights[end] + past)
    here, there = form.resampled(heights), form.resampled(heights + 1e-4)
    for value, rate in (("shape", "shape_rates"), ("middles", "middle_rates")):
        rates = getattr(here, rate)
        rose = (getattr(there, value) - getattr(here, value)) / 1e-4
        np.testing.assert_allclose(rose, rates, atol=1e-6)
        in_order = rates if end else rates[::-1]
        np.testing.assert_allclose(in_order[0], in_order[2], atol=1e-6)
        np.testing.assert_allclose(in_order[-1], 0.0, atol=1e-8)
    assert abs(form.middle_rates[end]) > 0.05  # what would be the crease


@pytest.mark.parametrize("sex", SEXES)
def test_nothing_is_creased_at_a_level_nor_changes_how_it_bends(sex: str) -> None:
    # Seams' strains follow the second derivative: it must not jump where the form is given.
    form = population(sex).column(160.0, 110.0)  # type: ignore[arg-type]
    step = 0.01
    for level in form.heights[1:-1]:
        at = level + step * np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
        here = form.resampled(at)
        for values, rates in ((here.shape[:, 2:8], here.shape_rates[:, 2:8]),):
            rose = (values[1:] - values[:-1]) / step
            assert rose == pytest.approx(0.5 * (rates[1:] + rates[:-1]), abs=1e-8)
            below, above = (rates[1] - rates[0]) / step, (rates[4] - rates[3]) / step
            assert np.abs(above - below).max() < 1e-7
        below, above = np.diff(here.middle_rates)[[0, 3]] / step
        assert abs(above - below) < 1e-4


def test_heights_beyond_the_panels_are_upright() -> None:
    ends = upright(ring(), None, np.array([V[-1], V[-1] + 30.0]))
    assert np.diff(ends) == pytest.approx([30.0])


def test_ones_own_ratio_is_met_at_its_girth() -> None:
    own = Measures(np.array([-100.0, 0.0, 120.0]), np.array([1.5, 1.2, 1.35]))
    form = MeanFormModel("women", ratio=own).column(ring())
    found = form.at(form.heights)
    assert ratios(found.shape) == pytest.approx(own.at(form.heights), abs=2e-3)
    assert found.shape.girths == pytest.approx(np.full(7, 2 * np.pi))


def test_a_stretched_circle_is_an_ellipse_and_slopes_go_along() -> None:
    form = population("men").column(200.0, 100.0)
    flat = form._with(*(0.0 * v for v in form._values))
    flat.shape[:, 0] = 1.0
    ratio = 1.2 + 0.001 * form.heights
    made = stretched(flat, ratio, np.full(7, 0.001))
    step = 0.5
    for row, (height, wanted) in enumerate(zip(form.heights, ratio, strict=True)):
        around = [
            Sections.of_support(lambda p, r=r: np.hypot(r * np.sin(p), np.cos(p))).coefficients[0]
            for r in (wanted - 0.001 * step, wanted, wanted + 0.001 * step)
        ]
        shapes = [c / c[0] for c in around]
        assert made.shape[row] == pytest.approx(shapes[1], abs=1e-9), height
        slope = (shapes[2] - shapes[0]) / (2 * step)
        assert made.shape_rates[row] == pytest.approx(slope, abs=1e-7)


@pytest.mark.parametrize("lean", [0.0, 1e-3])
def test_slopes_of_a_stretched_form_are_those_of_its_sections(lean: float) -> None:
    """As the forms a little lower and a little higher tell them; heights as far down as up."""
    form = population("women").column(200.0, 100.0)
    form = replace(form, heights=np.linspace(-120.0, 120.0, len(form.heights)))
    ratio, rates = np.full(7, 1.3) + lean * form.heights, np.full(7, lean)
    made = stretched(form, ratio, rates)
    step = 0.05
    low, high = (
        stretched(
            replace(form, shape=form.shape + way * form.shape_rates), ratio + way * rates, rates
        ).shape
        for way in (-step, step)
    )
    assert np.abs(made.shape_rates).max() > 1e-4
    assert made.shape_rates == pytest.approx((high - low) / (2.0 * step), abs=1e-8)
    assert made.middles == pytest.approx(form.middles)


def test_given_girths_set_the_size_of_the_waist() -> None:
    here = ring()
    assert waist_radius(here, None) == pytest.approx(650.0 / (2 * np.pi), abs=0.1)
    given = Measures.constant(800.0)
    assert waist_radius(here, given) == pytest.approx(800.0 / (2 * np.pi), abs=0.1)


# -- plus or minus --------------------------------------------------------------------------


def test_the_spread_is_worked_out_when_asked_and_only_once() -> None:
    turn = MeanFormModel("women").turn(ring())
    assert "spread" not in vars(turn)
    assert turn.spread is turn.spread


@pytest.mark.parametrize(("of", "overall"), [("women", 0.24), ("men", 0.19)])
def test_the_plus_or_minus_is_about_that_of_bodies_left_out(of: str, overall: float) -> None:
    # Seven panels a half, all heights together: half widths that held 95 % of the panels of
    # bodies left out of the mean (mean_form.json, growth_95).
    spread = MeanFormModel(of).turn(ring()).spread  # type: ignore[arg-type]
    assert spread is not None
    assert np.sqrt((spread.growth**2).mean()) == pytest.approx(overall, rel=0.2)


def test_either_covers_both() -> None:
    women, men, either = (MeanFormModel(of).turn(ring()) for of in ("women", "men", "either"))
    assert either.spread is not None
    for one in (women, men):
        assert one.spread is not None
        apart = np.abs(one.angles - either.angles)
        heights = [int(np.argmin(np.abs(V - h))) for h in either.spread.heights]
        assert (apart[heights] < either.spread.growth + 0.1).all()
    assert either.spread.growth.mean() > men.spread.growth.mean()


def test_knowing_the_ratio_narrows_and_is_said_to() -> None:
    plain = MeanFormModel("women").turn(ring()).spread
    known = MeanFormModel("women", ratio=Measures.constant(1.35)).turn(ring()).spread
    assert plain is not None
    assert known is not None
    assert (known.growth**2).mean() < (plain.growth**2).mean()
    gained = [part for _, _, part in plain.narrowing]
    assert gained == sorted(gained, reverse=True)
    assert all(0.0 < part < 1.0 for part in gained)
    by_name = {name: part for name, _, part in plain.narrowing}
    left = {name: part for name, _, part in known.narrowing}
    assert left["breadth over depth"] < by_name["breadth over depth"]


def test_other_models_state_none() -> None:
    from panelshift.body import ClassModel

    assert ClassModel().turn(ring()).spread is None


# -- refusals -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("model", "words"),
    [
        ({"of": "cats"}, "no mean form of 'cats'"),
        ({"ratio": Measures.constant(-1.0)}, "ratio of -1, not from"),
        ({"bust_height": 5.0}, "a bust 5 mm above the waist"),
    ],
)
def test_senseless_forms_are_refused(model: dict[str, object], words: str) -> None:
    with pytest.raises(BodyError, match=words):
        MeanFormModel(**model)  # type: ignore[arg-type]
