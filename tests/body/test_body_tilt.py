from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, strategies as st
from scipy.integrate import quad

from panelshift.body import Measures, Ring, SectionModel, infer_classes
from panelshift.body.ring import SMOOTHING_MM, body_girths, slopes, tilt_of
from panelshift.body.widths import ClassModel
from panelshift.errors import BodyError

HEIGHTS = np.arange(-120.0, 121.0, 3.0)


@pytest.mark.parametrize("power", [0, 1, 2, 3])
def test_slopes_of_cubics_are_exact_up_to_the_ends(power: int) -> None:
    x = HEIGHTS / 100.0
    expected = power * x ** max(power - 1, 0) / 100.0
    assert slopes(HEIGHTS, x**power) == pytest.approx(expected, abs=1e-13)


@pytest.mark.parametrize("count", [2, 3, 4, 5, 7])
def test_slopes_of_a_line_are_exact_on_few_heights(count: int) -> None:
    heights = np.linspace(0.0, 10.0, count)
    assert slopes(heights, 4.0 - 0.3 * heights) == pytest.approx(np.full(count, -0.3), abs=1e-12)


def test_one_height_has_no_slope() -> None:
    assert slopes(np.array([0.0]), np.array([5.0])).tolist() == [0.0]


def test_a_crease_is_rounded_over_the_smoothing_length_and_no_further() -> None:
    found = slopes(HEIGHTS, np.abs(HEIGHTS))
    outside = np.abs(HEIGHTS) > SMOOTHING_MM + 1e-9
    assert found[outside] == pytest.approx(np.sign(HEIGHTS[outside]), abs=1e-9)
    assert found[np.abs(HEIGHTS) < 1e-9] == pytest.approx(0.0, abs=1e-12)
    assert np.abs(found).max() < 1.2


def test_slopes_of_a_smooth_body_are_good_to_a_hundred_thousandth() -> None:
    found = slopes(HEIGHTS, np.sin(HEIGHTS / 100.0))
    assert found == pytest.approx(np.cos(HEIGHTS / 100.0) / 100.0, abs=1e-5)


def test_tilt_is_the_angle_whose_sine_is_the_rate() -> None:
    assert tilt_of(np.array([0.0, 0.5, -0.5]), "it") == pytest.approx([0, np.pi / 6, -np.pi / 6])


def test_a_rate_of_one_is_no_surface() -> None:
    with pytest.raises(BodyError, match=r"the hip changes by 1\.00 mm outwards"):
        tilt_of(np.array([0.2, -1.0]), "the hip")


def conical_ring(rate: float) -> Ring:
    """Four panels whose girth grows by 2 pi `rate` for each mm of height."""
    girths = 660.0 + 2.0 * np.pi * rate * HEIGHTS
    return Ring(HEIGHTS, np.repeat(girths[:, None] / 4.0, 4, axis=1), 0.0, ("side",) * 4)


@pytest.mark.parametrize("rate", [0.0, 0.2, -0.4])
def test_round_body_tilts_as_its_radius_grows(rate: float) -> None:
    turn = ClassModel().turn(conical_ring(rate))
    assert turn.tilts == pytest.approx(np.full(turn.tilts.shape, np.arcsin(rate)), abs=1e-12)
    circle = SectionModel(Measures.constant(1.0)).turn(conical_ring(rate))
    assert circle.tilts == pytest.approx(turn.tilts, abs=1e-9)


def test_an_elliptic_cone_tilts_by_its_support() -> None:
    # Outwards a cone of similar ellipses moves by its support function's rate: at the centre
    # front and back (the depth) less than at the side (the breadth), by the ratio.
    turn = SectionModel(Measures.constant(1.4)).turn(conical_ring(0.2))
    sines = np.sin(turn.tilts[len(HEIGHTS) // 2])
    assert sines[1] / sines[2] == pytest.approx(1.4)


def test_the_mean_rate_round_a_section_is_that_of_its_girth() -> None:
    # Cauchy's formula: the girth is the integral of the support function over the normal.
    from panelshift.body.section import half_axes

    girth, rate, step = 660.0, 0.3, 1e-3
    axes = [
        half_axes(np.array([girth + s * rate * 2 * np.pi]), np.array([1.4]), 2.5)
        for s in (-step, step)
    ]

    def outward(psi: float) -> float:
        m = 2.5 / 1.5
        h = [
            (abs(b[0] * np.sin(psi)) ** m + abs(d[0] * np.cos(psi)) ** m) ** (1 / m)
            for b, d in axes
        ]
        return (h[1] - h[0]) / (2 * step)

    mean = quad(outward, 0.0, np.pi / 2, limit=200)[0] / (np.pi / 2)
    assert mean == pytest.approx(rate, abs=1e-5)


# -- measures ---------------------------------------------------------------------------


@given(
    st.lists(st.floats(300, 1300), min_size=2, max_size=6),
    st.lists(st.floats(5, 80), min_size=6, max_size=6),
)
def test_measures_never_overshoot(values: list[float], steps: list[float]) -> None:
    heights = np.cumsum(steps)[: len(values)]
    measures = Measures(heights, np.array(values))
    for k in range(len(values) - 1):
        between = measures.at(np.linspace(heights[k], heights[k + 1], 50))
        low, high = sorted(values[k : k + 2])
        assert between.min() >= low - 1e-9
        assert between.max() <= high + 1e-9


def test_measures_go_through_what_is_given_and_stay_beyond() -> None:
    measures = Measures(np.array([100.0, -120.0, 0.0]), np.array([900.0, 950.0, 660.0]))
    at = measures.at(np.array([-500.0, -120.0, 0.0, 100.0, 500.0]))
    assert at == pytest.approx([950, 950, 660, 900, 900])


def test_one_measure_stands_for_all_heights() -> None:
    assert Measures.constant(1.4).at(np.array([-50.0, 0.0, 99.0])).tolist() == [1.4] * 3


@pytest.mark.parametrize("heights", ["x", [[5.0]], [0.0, np.nan], None])
@pytest.mark.parametrize("given", [Measures.constant(1.0), Measures(np.arange(3.0), np.ones(3))])
def test_measures_are_not_read_at_what_is_no_height(given: Measures, heights: Any) -> None:
    with pytest.raises(BodyError, match="no list of numbers"):
        given.at(heights)


@pytest.mark.parametrize(
    ("heights", "values", "words"),
    [
        ([], [], "missing or not finite"),
        ([0.0, np.nan], [1.0, 1.0], "missing or not finite"),
        ([0.0, 10.0], [1.0, np.inf], "missing or not finite"),
        ([0.0, 10.0, 0.0], [1.0, 2.0, 3.0], "at one height"),
        ([0.0, 10.0], [1.0], "measures of shape"),
    ],
)
def test_senseless_measures_are_refused(
    heights: list[float], values: list[float], words: str
) -> None:
    with pytest.raises(BodyError, match=words):
        Measures(np.array(heights), np.array(values))


def test_given_girths_scale_the_draft_between_them() -> None:
    ring = conical_ring(0.2)
    given_at = Measures(np.array([0.0, 90.0]), np.array([700.0, 800.0]))
    girths = body_girths(ring, given_at)
    assert np.interp([0.0, 90.0], HEIGHTS, girths) == pytest.approx([700.0, 800.0])
    below = girths[0] / ring.girths[0]
    assert below == pytest.approx(700.0 / 660.0)


def test_girths_not_given_are_the_patterns_own() -> None:
    ring = conical_ring(0.1)
    assert body_girths(ring, None) == pytest.approx(ring.widths.sum(axis=1))


# -- the ring ---------------------------------------------------------------------------


def test_seams_lie_from_the_middle_of_the_gap_to_itself() -> None:
    ring = Ring(np.zeros(1), np.array([[90.0, 100.0, 100.0, 90.0]]), 20.0, ("side",) * 4)
    assert ring.fractions()[0] == pytest.approx([-0.475, -0.25, 0.0, 0.25, 0.475])


@pytest.mark.parametrize(
    ("widths", "classes"),
    [
        ([50] * 6, ("front", "front", "side", "side", "back", "back")),
        ([50] * 3, ("front", "side", "back")),
        ([50], ("side",)),
        ([120, 30, 30, 30], ("front", "side", "back", "back")),
    ],
)
def test_classes_are_inferred_by_thirds(widths: list[float], classes: tuple[str, ...]) -> None:
    assert infer_classes(np.array(widths, dtype=float)) == classes


@pytest.mark.parametrize(
    "widths", [["a", "b"], [[1.0, 2.0]], [], [0.0, 0.0], [50.0, -1.0], [np.nan]]
)
def test_classes_want_a_row_of_lengths(widths: Any) -> None:
    with pytest.raises(BodyError, match="no row of lengths"):
        infer_classes(widths)
