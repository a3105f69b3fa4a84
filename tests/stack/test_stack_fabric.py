"""A fabric by itself."""

from __future__ import annotations

import re

import numpy as np
import pytest

from panelshift import Fabric, Stack
from panelshift.errors import StackError
from panelshift.stack.measured import MeasuredDistance, _adjustment


def test_a_band_lies_where_it_lies_and_nowhere_else() -> None:
    tape = Fabric("waist tape", 0.5, band=(-12.0, 12.0))
    stack = Stack([Fabric("coutille", 0.4), tape, Fabric("satin", 0.3)])
    heights = np.array([-13.0, -12.0, 0.0, 12.0, 13.0])
    satin = stack.at_heights(["one"], heights)[0][3, 0]
    assert satin.tolist() == pytest.approx([0.35, 0.85, 0.85, 0.85, 0.35])
    assert stack.at_heights(["one"], heights)[1][1, 0].tolist() == [0.0, 0.5, 0.5, 0.5, 0.0]
    assert stack.changes_with_height
    assert not Stack([Fabric("coutille", 0.4)]).changes_with_height
    assert stack.at(0.0) is stack.at(5.0)


def test_thickness_by_height_is_linear_between_and_held_beyond() -> None:
    quilted = Fabric("quilt", 2.0, by_height=((-100.0, 0.5), (0.0, 1.0), (50.0, 0.8)))
    thick = [quilted.at(h).thickness for h in (-200.0, -100.0, -50.0, 0.0, 25.0, 50.0, 90.0)]
    assert thick == pytest.approx([1.0, 1.0, 1.5, 2.0, 1.8, 1.6, 1.6])
    # What it is at a height it is all over: asked again, it does not change a second time.
    assert quilted.at(-50.0).at(50.0) == Fabric("quilt", 1.5)


@pytest.mark.parametrize("own", ["loft", "loft_uncertainty"])
def test_cloth_does_not_rise_by_more_than_ten_times(own: str) -> None:
    assert getattr(Fabric("quilt", 0.5, **{own: 10.0}), own) == 10.0
    with pytest.raises(StackError, match=r"10\.5 of fabric 'quilt' is not between 0 and 10"):
        Fabric("quilt", 0.5, **{own: 10.5})


def test_a_band_upside_down_is_refused() -> None:
    with pytest.raises(StackError, match="lies from 10 to -10"):
        Fabric("tape", 0.5, band=(10.0, -10.0))


def test_a_band_cannot_keep_the_drafted_size() -> None:
    with pytest.raises(StackError, match="does not cover every panel"):
        Stack([Fabric("tape", 0.5, band=(-10.0, 10.0))])


def test_a_stack_is_of_fabrics_and_drafted_by_a_name() -> None:
    with pytest.raises(StackError, match="a stack without fabrics"):
        Stack([])
    with pytest.raises(TypeError, match="drafted"):
        Stack([Fabric("a", 0.5)], drafted=1.5)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("key", "high", "words"),
    [
        ("thickness", 50.0, "thickness 51 of fabric 'a' is not between 0 and 50"),
        ("coverage", 1.0, "coverage 2 of fabric 'a' is not between 0 and 1"),
        ("loft", 10.0, "loft 11 of fabric 'a' is not between 0 and 10"),
        ("thickness_uncertainty", 50.0, "thickness uncertainty 51 of fabric 'a' is not between 0"),
        ("loft_uncertainty", 10.0, "loft uncertainty 11 of fabric 'a' is not between 0 and 10"),
        ("coverage_uncertainty", 1.0, "coverage uncertainty 2 of fabric 'a' is not between 0"),
        ("darts_from", 1000.0, "darts are sewn 1001 of fabric 'a' is not between 0 and 1000"),
    ],
)
def test_numbers_of_a_fabric_have_bounds(key: str, high: float, words: str) -> None:
    for value in (0.0, high):
        assert getattr(Fabric("a", **{"thickness": 0.5, key: value}), key) == value
    for value in (high + 1.0, 1.0001 * high, -0.001, float("nan")):
        with pytest.raises(StackError) as caught:
            Fabric("a", **{"thickness": 0.5, key: value})
        assert (words in caught.value.problem) == (value == high + 1.0)


@pytest.mark.parametrize(
    "key", ["take_up", "take_up_length", "take_up_uncertainty", "reduced", "reduced_length"]
)
def test_at_most_two_fifths_of_a_piece_are_taken_up(key: str) -> None:
    assert getattr(Fabric("a", 0.5, **{key: 0.4}), key) == 0.4
    for value in (-0.001, 0.401):
        with pytest.raises(StackError, match=f"{key} of fabric 'a' is .*, not between 0 and 0.4"):
            Fabric("a", 0.5, **{key: value})


def test_cloth_is_cut_larger_by_what_is_taken_up_and_smaller_to_be_stretched() -> None:
    cloth = Fabric("a", 0.5, take_up=0.2, take_up_length=0.1, reduced=0.04, reduced_length=0.28)
    assert cloth.cut_larger == pytest.approx((0.96 / 0.8, 0.72 / 0.9))
    assert Fabric("a", 0.5, take_up=0.2, take_up_uncertainty=0.02).sewn_uncertainty == (
        pytest.approx(0.025)
    )


@pytest.mark.parametrize("rough", [0.1, 5.0])
def test_two_readings_of_a_distance_are_widened_alike(rough: float) -> None:
    """Both, though one of them is far better known: by the root of chi-square over one."""
    fine = 1e-4
    off = 2.0 * np.hypot(rough, fine)
    both = (
        MeasuredDistance("a", "b", 6.0, fine),
        MeasuredDistance("a", "b", 6.0 + off, rough),
    )
    hat, widened = _adjustment(np.ones((2, 1)), both)
    share = fine**2 / (fine**2 + rough**2)
    assert hat == pytest.approx(np.array([[1.0 - share, share]] * 2))
    assert widened == pytest.approx([2.0, 2.0])
    alone, one = _adjustment(np.ones((1, 1)), both[:1])
    assert (alone.tolist(), one.tolist()) == ([[pytest.approx(1.0)]], [1.0])
    for reading in (6.0 + 1.4 * off, 6.0 + 1.6 * off):
        told = MeasuredDistance("b", "a", reading, rough)
        if reading < 6.0 + 1.5 * off:
            assert _adjustment(np.ones((2, 1)), (both[0], told))[1] == pytest.approx([2.8, 2.8])
            continue
        # Beyond three both are named, also the one that is hardly moved.
        with pytest.raises(StackError, match=r"contradict each other: .*a to b.*b to a"):
            _adjustment(np.ones((2, 1)), (both[0], told))


def test_surfaces_and_their_doubt_add_up_from_the_skin() -> None:
    """Of builds a, b, c the middles lie at a/2, a + b/2, a + b + c/2 from the skin, which are
    sums with those weights; of doubts the weights' squares add up (GUM, JCGM 100:2008, 5.1.2)."""
    a, b, c = 0.5, 1.2, 0.3
    doubt = np.array([0.03, 0.05, 0.02])
    cloths = [
        Fabric(name, thick, thickness_uncertainty=u)
        for name, thick, u in zip("abc", (a, b, c), doubt.tolist(), strict=True)
    ]
    found = Stack(cloths, "b").surfaces()
    weights = np.array(
        [[0.0, 0.0, 0.0], [0.5, 0.0, 0.0], [1.0, 0.5, 0.0], [1.0, 1.0, 0.5], [1.0, 1.0, 1.0]]
    )
    assert found.of_thickness == pytest.approx(weights)
    assert found.positions == pytest.approx((weights - weights[2]) @ [a, b, c])
    assert found.uncertainty("skin", 2) == pytest.approx(np.hypot.reduce(weights[3] * doubt))
    assert found.uncertainty(1, "outside") == pytest.approx(
        np.hypot.reduce((weights[4] - weights[2]) * doubt)
    )
    told = Stack([*cloths[:2], Fabric("c", c)], "b").surfaces()
    assert told.unknown("skin", "outside") == ("c",)
    assert told.uncertainty("skin", "outside") is None
    assert told.uncertainty("skin", 1) == pytest.approx(np.hypot.reduce(weights[2] * doubt))


def test_thickness_by_height_is_at_most_that_of_any_cloth() -> None:
    assert Fabric("a", 2.0, by_height=((0.0, 25.0),)).by_height == ((0.0, 25.0),)
    with pytest.raises(StackError, match=r"'a' is 50\.2 mm thick 0 mm above the waist"):
        Fabric("a", 2.0, by_height=((0.0, 25.1),))


def test_a_distance_of_fabrics_that_are_not_there_says_so() -> None:
    with pytest.raises(StackError) as caught:
        Stack([Fabric("a", 0.5)], measured=[MeasuredDistance("a", "b", 0.5, 0.1)])
    assert caught.value.problem.startswith("measured distance: ")
    assert not caught.value.remedy.startswith("measured distance: ")


@pytest.mark.parametrize(
    "points", [((0.0, 1.0), (0.0, 0.5)), ((-5.0, 1.0), (9.0, 1.0), (2.0, 1.0))]
)
def test_heights_at_which_a_thickness_is_told_rise(points: tuple[tuple[float, float], ...]) -> None:
    (low, _), (high, _) = points[-2:]
    with pytest.raises(StackError) as caught:
        Fabric("a", 0.5, by_height=points)
    assert caught.value.problem == (
        f"the heights at which 'a' is told do not rise: {low:g}, {high:g}"
    )
    wrong = [((float("inf"), 1.0),), ((0.0, -0.1),), ((0.0, float("nan")),)]
    for given in wrong:
        with pytest.raises(StackError, match="mm above the waist"):
            Fabric("a", 0.5, by_height=given)


def test_a_fabric_given_by_lists_is_the_one_given_by_tuples() -> None:
    """Equal, and with an equal hash: a stack keeps what it worked out by its fabrics."""
    one = Fabric(
        "a",
        0.5,
        panels={"one", "two"},  # type: ignore[arg-type]
        band=[-20.0, 30.0],  # type: ignore[arg-type]
        by_height=[[0.0, 1.0], [50.0, 0.5]],  # type: ignore[arg-type]
        cut_in_one=[["one", "two"]],  # type: ignore[arg-type]
        split_at=["waist", "hip"],  # type: ignore[arg-type]
    )
    two = Fabric(
        "a",
        0.5,
        panels=frozenset({"one", "two"}),
        band=(-20.0, 30.0),
        by_height=((0.0, 1.0), (50.0, 0.5)),
        cut_in_one=(("one", "two"),),
        split_at=("waist", "hip"),
    )
    assert (one, hash(one), repr(one)) == (two, hash(two), repr(two))


def test_what_a_stack_worked_out_cannot_be_written_into() -> None:
    found = Stack([Fabric("a", 0.5), Fabric("b", 0.5, thickness_uncertainty=0.1)]).surfaces()
    arrays = [value for value in vars(found).values() if isinstance(value, np.ndarray)]
    assert len(arrays) == 6
    assert not any(array.flags.writeable for array in arrays)


@pytest.mark.parametrize("last", [True, False])
def test_a_stack_changes_with_height_if_any_of_its_fabrics_does(last: bool) -> None:
    cloths = [Fabric("a", 0.5), Fabric("b", 2.0, by_height=((0.0, 1.0), (50.0, 0.5)))]
    stack = Stack(cloths if last else cloths[::-1], "a")
    assert stack.changes_with_height
    assert stack.at(50.0).fabrics == tuple(fabric.at(50.0) for fabric in stack.fabrics)


def test_fabrics_may_come_one_by_one() -> None:
    fabrics = [Fabric("lining", 0.2), Fabric("satin", 0.3)]
    assert Stack(iter(fabrics)) == Stack(fabrics)  # type: ignore[arg-type]


def test_the_thinnest_cloth_still_shows_in_the_picture() -> None:
    picture = Stack([Fabric("gauze", 0.001), Fabric("felt", 10.0)])._repr_svg_()
    assert re.findall(r'<rect .*?height="([0-9.]+)"', picture)[1] == "1.0"
