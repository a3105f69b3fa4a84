"""The distance that readings give: closed forms, uncertainty, agreement, refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.errors import StackError, SwatchError
from panelshift.swatch import PairFit, SwatchReading, fit_pair
from panelshift.swatch.distance import _shared
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
    # A ruler's half millimetre, the strip's cut on the curve, and pinning, over the angle.
    cut = 0.3 * (1.0 + found.distance / 40.225)
    expected = math.hypot(0.5, cut, 0.4) * 40.225 / 200
    assert found.line.uncertainty == pytest.approx(expected, rel=1e-12)
    half = 1.959963984540054 * found.line.uncertainty
    assert found.line.half_width == pytest.approx(half, rel=1e-12)
    assert found.line.parts["strips"] == pytest.approx(cut * 40.225 / 200, rel=1e-12)


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
    assert np.abs(found.line.residuals).max() < 1e-9
    assert found.line.consistent


def without_pinning(found: PairFit) -> float:
    """Standard uncertainty but for what pinning alike adds."""
    return math.sqrt(found.line.uncertainty**2 - found.line.parts["pinning"] ** 2)


def test_one_former_is_equally_wrong_in_all_its_readings() -> None:
    sure = {"u_overhang": 0.5, "u_former": 2.0, "u_length": 0.0}
    one = fit_pair([reading(80, 200, 5.0, **sure)] * 100, 0.0)
    # d = m D / 2W: what the diameter brings stays 2/80 of d however often it is used.
    assert one.line.parts["formers"] == pytest.approx(one.distance * 2 / 80, rel=1e-9)
    assert without_pinning(one) == pytest.approx(math.hypot(0.5 / 10 / 5, one.distance * 2 / 80))
    many = fit_pair([exact_on_angle(80 + 0.01 * k, **sure) for k in range(100)], 0.0)
    assert many.line.parts["formers"] == pytest.approx(many.distance * 2 / 80 / 10, rel=1e-2)


def test_one_cloth_is_equally_wrong_too() -> None:
    sure = [reading(80, 200, 5, u_overhang=0.5)] * 9
    by_cloth = fit_pair(sure, 1.0, thickness_uncertainty=0.5)
    assert by_cloth.line.parts["thickness"] == pytest.approx(by_cloth.distance * 0.25 / 40.5)


def test_a_strip_cut_wrong_shifts_its_mark_by_that_and_a_little_more() -> None:
    """Two arcs: the inner one e longer than the paper, the mark read from the paper's end."""
    d, r, paper, e = 1.3, 40.0, 200.0, 0.7
    marked = (paper + e) * (r + d) / r
    right = paper * (r + d) / r
    by_geometry = (marked - right) / 5.0
    found = fit_pair([reading(80, paper, right - paper, u_length=e)] * 9, 0.0)
    assert found.distance == pytest.approx(d)
    assert found.line.parts["strips"] == pytest.approx(by_geometry, rel=1e-9)
    # Two strips, each with its own error, the shorter on the same former.
    both = fit_pair([exact(d, 80, n, 0.0) for n in (200.0, 200.0, 120.0, 120.0)], 0.0)
    assert both.line.parts["strips"] < found.line.parts["strips"]


def test_a_short_strip_shows_what_pinning_does() -> None:
    d, bias = 1.3, 1.5
    readings = []
    for length in (180.0, 180.0, 60.0, 60.0):
        true = exact(d, 80.0, length, 0.4)
        readings.append(reading(80.0, length, true.overhang + bias, u_overhang=0.1, u_length=0.1))
    found = fit_pair(readings, 0.4)
    assert found.distance == pytest.approx(d, rel=1e-9)
    assert found.line.offset == pytest.approx(bias, rel=1e-9)
    assert "pinning" not in found.line.parts
    assert "every overhang is +1.5 mm off, however long the strip" in found.warnings()[0]
    # Without the short one the bias goes into the distance unseen, if not unallowed for.
    alone = fit_pair(readings[:2], 0.4)
    assert alone.distance == pytest.approx(d + bias * 40.2 / 180.0)
    assert alone.line.offset is None
    assert alone.warnings() == ()


@pytest.mark.parametrize(("length", "free"), [(91.0, False), (90.0, True)])
def test_half_as_long_is_short_enough(length: float, free: bool) -> None:
    found = fit_pair([reading(80, 180, 5), reading(80, length, 2.5)], 0.4)
    assert (found.line.offset is not None) == free


# -- beside the thicknesses -----------------------------------------------------------------


def by_thickness(former: float, length: float, overhang: float, flat: float = 0.65) -> PairFit:
    return fit_pair([reading(former, length, overhang)], 0.5, by_thickness=flat)


@pytest.mark.parametrize(
    ("former", "length", "overhang", "words"),
    [
        (80.0, 30.0, 9.5, "19.6 times the 0.65 mm by thickness"),
        (80.0, 180.0, 9.0, "3.1 times"),
        # A true distance of 0.65 mm, with one of the three in another unit or a girth.
        (80.0, 180.0, 73.8, "a length of 180 in instead of mm would explain it"),
        (80.0, 180.0, 0.0, "far less than the 4.00 mm by thickness"),
        (80.0, 180.0, 1.8, "an overhang of 1.8 cm instead of mm would explain it"),
    ],
)
def test_readings_that_the_thicknesses_can_hardly_explain(
    former: float, length: float, overhang: float, words: str
) -> None:
    flat = 4.0 if "4.00" in words or " cm instead" in words else 0.65
    with pytest.raises(SwatchError) as caught:
        by_thickness(former, length, overhang, flat)
    assert words in str(caught.value)
    # It is that reading's, whatever others say.
    assert "the reading says" in str(caught.value)


@pytest.mark.parametrize("text", ["80,18,5.5", "80,18,2.5", "8,180,2.9", "8,18,0.55"])
def test_centimetres_are_refused_with_what_they_would_be(text: str) -> None:
    with pytest.raises(SwatchError, match=r"in cm it would be \d+ mm"):
        parse_reading(text, "a", "b")


def test_twice_the_thicknesses_passes_within_a_readings_noise() -> None:
    # 1.96 x (0.5, 0.3 on the curve, 0.4) in quadrature over the angle: 1.40 mm of overhang.
    angle = 180.0 / 40.25
    assert by_thickness(80, 180, 1.3 * angle + 1.38).distance > 1.3
    with pytest.raises(SwatchError, match="give the fabric its loft"):
        by_thickness(80, 180, 1.3 * angle + 1.42)


def test_less_than_half_and_more_than_twice_are_asked_about() -> None:
    low = by_thickness(80, 180, 3.0, 3.0).warnings()[-1]
    assert "reading 1: 0.67 mm between the middles, less than half of the 3.00 mm" in low
    assert "radius" in low
    high = by_thickness(80, 180, 1.31 * 180.0 / 40.25).warnings()[-1]
    assert "reading 1: 1.31 mm between the middles, more than twice the 0.65 mm" in high
    assert not [w for w in by_thickness(80, 180, 1.29 * 180.0 / 40.25).warnings() if "twice" in w]


def test_a_girth_for_a_diameter_is_asked_about_and_refused_when_it_is_sure() -> None:
    """An 80 mm jar of 251.3 mm round, a true distance of 0.65 mm."""
    slip = "the girth of the former instead of its diameter would explain it"
    assert slip in by_thickness(251.3, 180, 2.91).warnings()[-1]
    with pytest.raises(SwatchError, match=slip):
        fit_pair([reading(251.3, 250, 4.05 + 0.1 * k) for k in (-1, 0, 1)], 0.5, by_thickness=0.65)


def test_readings_that_only_together_are_too_far_off_are_refused_together() -> None:
    """Each within its noise of twice 0.65 mm, twelve of them not."""
    angle = 180.0 / 40.25
    readings = [reading(80, 180, 1.58 * angle + 0.1 * (-1) ** k) for k in range(12)]
    assert fit_pair(readings[:1], 0.5, by_thickness=0.65).warnings()
    with pytest.raises(SwatchError, match=r"coutille to brocade: the readings say 1\.58 mm"):
        fit_pair(readings, 0.5, by_thickness=0.65)


def test_without_thicknesses_no_cloth_is_so_thick() -> None:
    with pytest.raises(SwatchError, match=r"8\.9 mm apart, more than cloth for corsets is thick"):
        fit_pair([reading(80, 180, 40.0)], 0.5)


def exact_on_angle(former: float, **others: float) -> SwatchReading:
    """A reading of an angle of 5 radians and a distance of 1 mm on a former of its own."""
    return reading(former, 2.5 * former, 5.0, **others)


# -- agreement ----------------------------------------------------------------------------


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


def test_of_two_readings_neither_is_blamed() -> None:
    found = fit(5.0, 9.0)
    assert found.outlier is None
    assert not found.line.consistent
    assert "take a third" in found.warnings()[0]


def test_scatter_of_all_readings_blames_the_cloth() -> None:
    found = fit(4.2, 5.8, 4.2, 5.8, 4.2, 5.8)
    assert found.outlier is None
    assert "slip or stretch" in found.warnings()[0]


def test_one_reading_is_warned_about() -> None:
    assert "one reading only; its uncertainty is what is usual" in fit(5.0).warnings()[0]
    assert fit(5.0, 5.1).warnings() == ()


def test_a_distance_that_is_hardly_known_is_warned_about() -> None:
    assert "more than half of it" in fit(1.0, 1.2).warnings()[0]
    assert "no distance can be told" in fit(0.0, 0.0).warnings()[0]


def test_no_entry_without_a_distance() -> None:
    with pytest.raises(StackError, match="is not above 0"):
        _ = fit(0.0, 0.0).entry


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
        (14.0, 200.0, 5.0, "in cm it would be 140 mm"),
        (80.0, 29.0, 5.0, "a swatch of 29 mm is too small"),
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


def test_what_readings_share_is_their_former_their_strip_and_their_cloth() -> None:
    readings = [
        SwatchReading("drill", "silk", former, long, 1.5 * long / former)
        for former, long in ((80.0, 180.0), (80.0, 170.0), (120.0, 170.0))
    ]
    assert fit_pair(readings, 0.5).pair == "drill to silk"
    shared = _shared(readings, 0.5, 0.02)
    assert {name: error.alike.astype(int).tolist() for name, error in shared.items()} == {
        "formers": [[1, 1, 0], [1, 1, 0], [0, 0, 1]],
        "strips": [[1, 0, 0], [0, 1, 1], [0, 1, 1]],
        "thickness": [[1, 1, 1]] * 3,
        "pinning": [[1, 1, 1]] * 3,
    }
