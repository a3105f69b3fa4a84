"""The distance that readings give: closed forms, uncertainty, agreement, refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, strategies as st
from scipy import stats

from panelshift.errors import StackError, SwatchError
from panelshift.swatch import PairFit, SwatchReading, fit_pair
from panelshift.swatch.pinned import parse_reading
from tests.support.strategies import lengths


def reading(former: float, length: float, overhang: float, **others: float) -> SwatchReading:
    return SwatchReading("coutille", "brocade", former, length, overhang, **others)


def exact(distance: float, former: float, length: float, thickness: float, under: float = 0.0):
    """A reading without error: two arcs of one angle, the outer `distance` further out."""
    inner = former / 2 + under + thickness / 2
    angle = length / inner
    overhang = angle * (inner + distance) - length
    return reading(former, length, overhang, under=under)


def fit(*overhangs: float, **others: float) -> PairFit:
    """Readings of one former and swatch whose angle is 5: the distance is overhang / 5."""
    return fit_pair([reading(80.0, 200.0, m, **others) for m in overhangs], 0.0)


# -- closed forms -------------------------------------------------------------------------


def test_one_reading_is_the_formula() -> None:
    found = fit_pair([reading(80.0, 200.0, 6.5)], 0.45)
    assert found.distance == pytest.approx(6.5 * (80 / 2 + 0.45 / 2) / 200, rel=1e-12)
    # A ruler's half millimetre, over the angle.
    assert found.uncertainty == pytest.approx(0.5 * (40 + 0.225) / 200, rel=1e-12)
    assert found.half_width == pytest.approx(1.959963984540054 * found.uncertainty, rel=1e-12)


@given(
    distance=lengths(0.05, 4),
    thickness=lengths(0, 2),
    under=lengths(0, 5),
    formers=st.lists(lengths(60, 150), min_size=1, max_size=6),
)
def test_readings_without_error_give_the_distance(
    distance: float, thickness: float, under: float, formers: list[float]
) -> None:
    found = fit_pair([exact(distance, f, 150.0, thickness, under) for f in formers], thickness)
    assert found.distance == pytest.approx(distance, abs=1e-10)
    assert np.abs(found.residuals).max() < 1e-9
    assert found.consistent


def test_equal_readings_are_averaged() -> None:
    found = fit(5.0, 6.0, u_overhang=0.5)
    assert found.distance == pytest.approx(5.5 / 5.0)
    assert found.uncertainty == pytest.approx(0.5 / math.sqrt(2.0) / 5.0)


def test_weights_are_the_inverse_squares_of_the_uncertainties() -> None:
    sure, unsure = reading(80, 200, 5.0, u_overhang=0.1), reading(80, 200, 6.0, u_overhang=0.3)
    found = fit_pair([sure, unsure], 0.0)
    weights = np.array([1 / 0.01, 1 / 0.09])
    mean = float(np.sum(weights * [5.0, 6.0]) / weights.sum())
    assert found.distance == pytest.approx(mean / 5.0, rel=1e-12)


def test_scatter_is_found_from_three_readings() -> None:
    values = [5.0, 6.0, 7.0]
    found = fit(*values)
    assert found.scatter == pytest.approx(1.0)
    assert found.freedom == 2
    assert found.uncertainty == pytest.approx(1.0 / math.sqrt(3.0) / 5.0)
    # scipy's own interval of a mean.
    low, high = stats.t.interval(0.95, 2, np.mean(values), stats.sem(values))
    assert found.interval == pytest.approx((low / 5.0, high / 5.0), rel=1e-12)


def test_slope_and_its_uncertainty_are_those_of_a_line_through_the_origin() -> None:
    readings = [reading(f, 180.0, m) for f, m in ((60, 8.1), (80, 5.2), (100, 5.0), (120, 3.3))]
    found = fit_pair(readings, 0.4)
    x = 180.0 / (np.array([60, 80, 100, 120]) / 2 + 0.2)
    y = np.array([8.1, 5.2, 5.0, 3.3])
    slope, rest, *_ = np.linalg.lstsq(x[:, None], y, rcond=None)
    assert found.distance == pytest.approx(float(slope[0]), rel=1e-12)
    assert found.uncertainty == pytest.approx(math.sqrt(rest[0] / 3 / (x @ x)), rel=1e-12)


def test_readings_that_agree_by_luck_are_not_exact() -> None:
    found = fit(6.5, 6.5, 6.5, 6.5)
    assert found.scatter == pytest.approx(0.5 / math.sqrt(12.0))
    assert found.uncertainty == pytest.approx(0.5 / math.sqrt(12.0) / 2.0 / 5.0)


def test_one_former_is_equally_wrong_in_all_its_readings() -> None:
    overhangs = [5.0] * 100
    one = fit_pair([reading(80, 200, m, u_overhang=0.5, u_former=2.0) for m in overhangs], 0.0)
    # d = m D / 2W: what the diameter brings stays 2/80 of d however often it is used.
    assert one.uncertainty == pytest.approx(
        math.hypot(0.5 / 10 / 5.0, one.distance * 2 / 80), rel=1e-9
    )
    many = fit_pair(
        [
            exact_on_angle(80 + 0.01 * k, u_overhang=0.5, u_former=2.0)
            for k in range(len(overhangs))
        ],
        0.0,
    )
    assert many.uncertainty == pytest.approx(
        math.hypot(0.5 / 10 / 5.0, many.distance * 2 / 80 / 10), rel=1e-2
    )


def exact_on_angle(former: float, **others: float) -> SwatchReading:
    """A reading of an angle of 5 radians and a distance of 1 mm on a former of its own."""
    return reading(former, 2.5 * former, 5.0, **others)


def test_one_swatch_and_one_cloth_are_equally_wrong_too() -> None:
    by_length = fit_pair([reading(80, 200, 5, u_overhang=1e-6, u_length=4.0)] * 9, 0.0)
    assert by_length.uncertainty == pytest.approx(by_length.distance * 4 / 200, rel=1e-6)
    sure = [reading(80, 200, 5, u_overhang=1e-6)] * 9
    by_cloth = fit_pair(sure, 1.0, thickness_uncertainty=0.5)
    assert by_cloth.uncertainty == pytest.approx(by_cloth.distance * 0.25 / 40.5, rel=1e-6)


def test_shared_errors_add_degrees_of_freedom() -> None:
    overhangs = (5.0, 5.4, 5.8)
    plain = fit_pair([reading(80, 200, m) for m in overhangs], 0.0)
    both = fit_pair([reading(80, 200, m, u_former=8.0) for m in overhangs], 0.0)
    shared = both.distance * 8 / 80
    assert both.uncertainty == pytest.approx(math.hypot(plain.uncertainty, shared), rel=1e-9)
    # Welch and Satterthwaite: only the scatter has a limited number.
    assert both.freedom == pytest.approx(2 * (both.uncertainty / plain.uncertainty) ** 4)


# -- agreement ----------------------------------------------------------------------------


def test_chi_square_is_that_of_the_stated_uncertainties() -> None:
    found = fit(4.0, 5.0, 6.0, u_overhang=0.5)
    assert found.chi_square == pytest.approx(8.0)
    assert found.chance == pytest.approx(math.exp(-4.0))
    # The mean of three leaves two thirds of the variance to each residual.
    assert found.standardised == pytest.approx([-2 / math.sqrt(2 / 3), 0, 2 / math.sqrt(2 / 3)])


def test_stated_uncertainties_are_widened_when_they_cannot_explain_the_scatter() -> None:
    found = fit(4.0, 5.0, 6.0, u_overhang=0.5)
    assert found.widened == pytest.approx(2.0)
    assert found.uncertainty == pytest.approx(2.0 * 0.5 / math.sqrt(3.0) / 5.0)
    assert "do not agree" in found.warnings()[0]
    calm = fit(4.6, 5.0, 5.4, u_overhang=0.5)
    assert calm.widened == 1.0
    assert calm.warnings() == ()


def test_the_reading_that_disagrees_is_named() -> None:
    readings = [
        SwatchReading("a", "b", 80, 200, m, origin=f"line {k}")
        for k, m in enumerate((5.0, 5.2, 9.0, 4.9, 5.1), start=2)
    ]
    found = fit_pair(readings, 0.0)
    assert found.outlier is readings[2]
    assert any("line 4 misses the others by +3.2 mm" in words for words in found.warnings())
    unnamed = fit(5.0, 5.2, 9.0, 4.9, 5.1)
    assert "reading 3 misses" in unnamed.warnings()[0]


@pytest.mark.parametrize(("times", "named"), [(2.5, False), (2.65, True)])
def test_of_many_readings_one_may_be_further_off(times: float, named: bool) -> None:
    """The largest of five: 2.576, the normal deviate of 5 % over five and two sides."""
    # The one apart is held against the mean of all: four fifths of it remain.
    off = times * 0.5 * math.sqrt(4 / 5) / (4 / 5)
    found = fit(5.0, 5.0, 5.0, 5.0, 5.0 + off, u_overhang=0.5)
    assert found.standardised[-1] == pytest.approx(times)
    assert (found.outlier is not None) == named


def test_of_two_readings_neither_is_blamed() -> None:
    found = fit(5.0, 9.0)
    assert found.outlier is None
    assert not found.consistent
    assert "take a third" in found.warnings()[0]


def test_scatter_of_all_readings_blames_the_cloth() -> None:
    found = fit(4.2, 5.8, 4.2, 5.8, 4.2, 5.8)
    assert found.outlier is None
    assert "slip or stretch" in found.warnings()[0]


def test_one_reading_is_warned_about() -> None:
    assert "one reading only; its uncertainty is the ruler's alone" in fit(5.0).warnings()[0]
    assert fit(5.0, 5.1).warnings() == ()


def test_a_distance_that_is_hardly_known_is_warned_about() -> None:
    assert "more than half of it" in fit(1.0, 1.2).warnings()[0]
    assert "no distance can be told" in fit(0.0, 0.0).warnings()[0]


def test_no_entry_without_a_distance() -> None:
    with pytest.raises(StackError, match="is not above 0"):
        _ = fit(0.0, 0.0).entry


def test_entry_has_the_same_interval() -> None:
    found = fit(5.0, 6.0, 7.0)
    assert 1.959963984540054 * found.entry.uncertainty == pytest.approx(found.half_width)
    assert found.entry.uncertainty > 2.0 * found.uncertainty


# -- refusals -----------------------------------------------------------------------------

NAN, INF = float("nan"), float("inf")


@pytest.mark.parametrize(
    ("former", "length", "overhang", "words"),
    [
        (0.0, 200.0, 5.0, "the diameter of the former is 0 mm"),
        (-80.0, 200.0, 5.0, "the diameter of the former is -80 mm"),
        (NAN, 200.0, 5.0, "the diameter of the former is nan mm"),
        (INF, 200.0, 5.0, "the diameter of the former is inf mm"),
        (2001.0, 200.0, 5.0, "more than 2000"),
        (80.0, 0.0, 5.0, "the length of the swatch is 0 mm"),
        (80.0, -1.0, 5.0, "the length of the swatch is -1 mm"),
        (80.0, NAN, 5.0, "the length of the swatch is nan mm"),
        (80.0, 200.0, NAN, "the overhang is nan mm"),
        (80.0, 200.0, 200.0, "overhang of 200 mm is not smaller than the swatch of 200 mm"),
        (80.0, 200.0, -1.6, "overhang of -1.6 mm is below 0"),
    ],
)
def test_readings_that_cannot_be_right(
    former: float, length: float, overhang: float, words: str
) -> None:
    with pytest.raises(SwatchError, match=words):
        reading(former, length, overhang)


@pytest.mark.parametrize(
    ("others", "words"),
    [
        ({"u_overhang": 0.0}, "the uncertainty of the overhang is 0 mm"),
        ({"u_overhang": NAN}, "the uncertainty of the overhang is nan mm"),
        ({"u_former": -1.0}, "the uncertainty of the former is -1 mm"),
        ({"u_length": INF}, "the uncertainty of the length is inf mm"),
        ({"under": -0.1}, "the thickness under the inner cloth is -0.1 mm"),
    ],
)
def test_other_numbers_that_cannot_be_right(others: dict[str, float], words: str) -> None:
    with pytest.raises(SwatchError, match=words):
        reading(80.0, 200.0, 5.0, **others)


def test_a_reading_a_little_below_nothing_is_noise() -> None:
    assert reading(80.0, 200.0, -1.4).overhang == -1.4
    with pytest.raises(SwatchError, match="below 0"):
        reading(80.0, 200.0, -1.4, u_overhang=0.4)


def test_a_swatch_that_laps_over_itself_is_refused() -> None:
    round_it = 2.0 * math.pi * 40.2
    assert fit_pair([reading(80.0, round_it - 0.01, 5.0)], 0.4).distance > 0.0
    with pytest.raises(SwatchError, match="laps over itself: round this former it is only 253 mm"):
        fit_pair([reading(80.0, round_it + 0.01, 5.0)], 0.4)


@pytest.mark.parametrize(
    ("thickness", "uncertainty", "words"),
    [
        (-0.1, 0.0, "thickness of the inner cloth is -0.1"),
        (NAN, 0.0, "thickness of the inner cloth is nan"),
        (0.1, -1.0, "uncertainty of the inner cloth's thickness is -1"),
    ],
)
def test_thickness_that_cannot_be_right(thickness: float, uncertainty: float, words: str) -> None:
    with pytest.raises(SwatchError, match=words):
        fit_pair([reading(80, 200, 5)], thickness, thickness_uncertainty=uncertainty)


def test_nothing_and_several_pairs_are_refused() -> None:
    with pytest.raises(SwatchError, match="there is no reading"):
        fit_pair([], 0.0)
    other = SwatchReading("lining", "brocade", 80, 200, 5)
    with pytest.raises(SwatchError, match="coutille to brocade and of lining to brocade"):
        fit_pair([reading(80, 200, 5), other], 0.0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("80,200", "'80,200' is not three lengths"),
        ("80,200,6,5", "'80,200,6,5' is not three lengths"),
        ("80,200,", "overhang: '' is not a length"),
        ("80,nan,5", "length: 'nan' is not a length"),
        ("3 ft,200,5", "former: unknown unit 'ft'"),
    ],
)
def test_readings_on_the_command_line_are_refused_in_words(text: str, words: str) -> None:
    with pytest.raises(SwatchError, match=words) as caught:
        parse_reading(text, "a", "b", origin="reading 2")
    assert caught.value.element == "reading 2"


def test_units_on_the_command_line() -> None:
    found = parse_reading("3in, 20 cm, 6.5mm", "a", "b", under=0.5)
    assert (found.former, found.length, found.overhang) == pytest.approx((76.2, 200.0, 6.5))
    assert found.under == 0.5
