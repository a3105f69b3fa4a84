"""Stacks with measured distances: least change, contradictions, uncertainty."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, strategies as st
from scipy.linalg import null_space

from panelshift.errors import StackError
from panelshift.stack import Fabric, MeasuredDistance, Stack
from panelshift.stack.measured import meet
from tests.support.strategies import fabrics, measured_gaps

A, B, C, D = (Fabric(n, t) for n, t in (("a", 0.2), ("b", 0.4), ("c", 0.6), ("d", 0.8)))
"""Gaps by thickness: 0.3, 0.5, 0.7."""


def pair(inner: str, outer: str, distance: float, uncertainty: float = 0.03) -> MeasuredDistance:
    return MeasuredDistance(inner, outer, distance, uncertainty)


def middles(stack: Stack, panel: str = "1") -> list[float]:
    return [float(d) for d in stack.distances([panel])[:, 0]]


# -- least change -------------------------------------------------------------------------


def test_one_pair_scales_the_gaps_between_in_proportion() -> None:
    stack = Stack([A, B, C, D], measured=[pair("a", "c", 1.2)])
    assert middles(stack) == pytest.approx([0.0, 0.45, 1.2, 1.9], abs=1e-12)


def test_layers_outside_the_pair_keep_their_gaps() -> None:
    plain, stack = Stack([A, B, C, D]), Stack([A, B, C, D], measured=[pair("b", "c", 0.9)])
    gaps, before = np.diff(middles(stack)), np.diff(middles(plain))
    assert gaps == pytest.approx([before[0], 0.9, before[2]], abs=1e-12)


def test_distances_are_reckoned_from_the_drafted_layer() -> None:
    stack = Stack([A, B, C, D], "c", [pair("a", "c", 1.2)])
    assert middles(stack) == pytest.approx([-1.2, -0.75, 0.0, 0.7], abs=1e-12)


def test_skin_and_outside_lie_half_a_cloth_beyond_the_middles() -> None:
    found = Stack([A, B, C, D], "b", [pair("a", "d", 3.0)]).surfaces()
    assert found.middles[0] - found.skin == pytest.approx(0.1, abs=1e-12)
    assert found.outside - found.middles[-1] == pytest.approx(0.4, abs=1e-12)
    assert found.distance("skin", "outside") == pytest.approx(3.5, abs=1e-12)
    assert found.distance(3, 0) == pytest.approx(-3.0, abs=1e-12)
    assert Stack([A, B, C, D], "b", [pair("a", "d", 3.0)]).total() == pytest.approx(3.5)


@given(measured_gaps())
def test_every_pair_is_met(case: tuple) -> None:
    gaps, measured, spans = case
    found = meet(gaps, measured, spans).sizes
    for item, (i, j) in zip(measured, spans, strict=True):
        assert found[i:j].sum() == pytest.approx(item.distance, abs=1e-9)


@given(measured_gaps(), st.integers(0, 2**32 - 1))
def test_no_other_gaps_that_meet_the_pairs_change_less(case: tuple, seed: int) -> None:
    gaps, measured, spans = case

    def change(sizes: np.ndarray) -> float:
        return float(np.sum((sizes - gaps) ** 2 / gaps))

    found = meet(gaps, measured, spans).sizes
    sums = np.array([[float(i <= k < j) for k in range(len(gaps))] for i, j in spans])
    free = null_space(sums)
    rng = np.random.default_rng(seed)
    for size in (1e-3, 0.1, 1.0):
        other = found + free @ rng.normal(scale=size, size=free.shape[1])
        assert change(other) >= change(found) - 1e-12


@given(fabrics(), st.data())
def test_measured_as_computed_changes_nothing(cloth: list[Fabric], data: st.DataObject) -> None:
    plain = Stack(cloth)
    here = plain.distances(["1"])[:, 0]
    i = data.draw(st.integers(0, len(cloth) - 2))
    j = data.draw(st.integers(i + 1, len(cloth) - 1))
    same = pair(cloth[i].name, cloth[j].name, float(here[j] - here[i]))
    stack = replace(plain, measured=[same])
    assert stack.distances(["1"])[:, 0] == pytest.approx(here, abs=1e-12)


@given(fabrics(), st.floats(0.7, 1.4), st.floats(1.01, 1.3))
def test_a_larger_distance_moves_no_layer_inwards(
    cloth: list[Fabric], factor: float, more: float
) -> None:
    whole = float(Stack(cloth).distances(["1"])[-1, 0])
    first, last = cloth[0].name, cloth[-1].name
    small = Stack(cloth, measured=[pair(first, last, factor * whole)]).distances(["1"])
    large = Stack(cloth, measured=[pair(first, last, more * factor * whole)]).distances(["1"])
    assert (large - small >= -1e-12).all()
    assert large[-1, 0] > small[-1, 0]


# -- no thickness -------------------------------------------------------------------------


def test_a_gap_without_thickness_stays_closed_while_others_can_give_way() -> None:
    thin = [Fabric("a", 0.0), Fabric("b", 0.0), Fabric("c", 0.6)]
    assert middles(Stack(thin, measured=[pair("a", "c", 0.9)])) == pytest.approx([0.0, 0.0, 0.9])


def test_gaps_without_thickness_share_what_only_they_can_take() -> None:
    thin = [Fabric(name, 0.0) for name in "abc"]
    assert middles(Stack(thin, measured=[pair("a", "c", 0.8)])) == pytest.approx([0.0, 0.4, 0.8])
    mixed = [Fabric("a", 0.4), Fabric("b", 0.0), Fabric("c", 0.0)]
    both = Stack(mixed, measured=[pair("a", "b", 0.2), pair("a", "c", 0.3)])
    assert middles(both) == pytest.approx([0.0, 0.2, 0.3])


def test_one_fabric_and_no_panels() -> None:
    assert Stack([A]).distances(["1", "2"]).tolist() == [[0.0, 0.0]]
    assert Stack([A, B]).distances([]).shape == (2, 0)


# -- panels -------------------------------------------------------------------------------


def test_a_pair_counts_only_where_all_that_the_swatch_held_lies() -> None:
    middle = replace(B, panels=frozenset(["front"]))
    plain = Stack([A, middle, C])
    stack = Stack([A, middle, C], measured=[pair("a", "c", 1.2)])
    assert middles(stack, "front")[2] == pytest.approx(1.2)
    assert middles(stack, "back") == middles(plain, "back")
    assert middles(stack, "back")[2] == pytest.approx(0.4)
    assert stack.applied("front") == [0]
    assert stack.applied("back") == []


def test_a_layer_outside_the_pair_need_not_lie_everywhere() -> None:
    outer = replace(D, panels=frozenset(["front"]))
    stack = Stack([A, B, outer], measured=[pair("a", "b", 0.5)])
    assert middles(stack, "back")[1] == pytest.approx(0.5)


# -- contradictions -----------------------------------------------------------------------


def test_pairs_that_depend_on_each_other_share_their_difference_by_variance() -> None:
    u = np.array([0.01, 0.02, 0.04])
    given_ = [pair("a", "b", 0.30, u[0]), pair("b", "c", 0.50, u[1]), pair("a", "c", 0.87, u[2])]
    # The loop misses by -0.07; least squares gives each its part in proportion to u squared.
    parts = 0.07 * u**2 / np.sum(u**2)
    expected = [0.30 + parts[0], 0.80 + parts[0] + parts[1]]
    assert middles(Stack([A, B, C], measured=given_))[1:] == pytest.approx(expected, abs=1e-12)
    assert expected[1] == pytest.approx(0.87 - parts[2])


@pytest.mark.parametrize(
    ("times", "agree"), [(2.9, True), (3.1, False), (-2.9, True), (-3.1, False)]
)
def test_beyond_three_combined_uncertainties_pairs_contradict_each_other(
    times: float, agree: bool
) -> None:
    combined = math.sqrt(0.01**2 + 0.02**2 + 0.03**2)
    far = 0.80 + times * combined
    given_ = [pair("a", "b", 0.30, 0.01), pair("b", "c", 0.50, 0.02), pair("a", "c", far, 0.03)]
    unrelated = pair("c", "d", 0.7, 0.01)
    if agree:
        assert len(Stack([A, B, C, D], measured=[*given_, unrelated])) == 4
        return
    with pytest.raises(StackError, match=r"contradict each other: a to b 0\.3 mm") as caught:
        Stack([A, B, C, D], measured=[*given_, unrelated])
    assert "a to c" in str(caught.value)
    assert "c to d" not in str(caught.value)


def test_pairs_that_would_turn_layers_inside_out_are_refused() -> None:
    with pytest.raises(StackError, match=r"cannot all hold: a to b .* a to c .*layer 3 .*layer 2"):
        Stack([A, B, C], measured=[pair("a", "b", 0.9), pair("a", "c", 0.8)])


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (("a", "x", 0.5), r"no layer 'x' in the stack[\s\S]*The fabrics of the stack are: a, b, c"),
        (("c", "a", 0.5), r"'c' does not lie inside 'a'[\s\S]*from the body outwards: a, b, c"),
    ],
)
def test_pairs_must_be_of_the_stack(entry: tuple[str, str, float], words: str) -> None:
    with pytest.raises(StackError, match=words):
        Stack([A, B, C], measured=[pair(*entry)])


def test_a_pair_may_be_given_once() -> None:
    with pytest.raises(StackError, match="the distance a to b is given twice"):
        Stack([A, B], measured=[pair("a", "b", 0.3), pair("a", "b", 0.31)])


@pytest.mark.parametrize(
    ("inner", "outer", "distance", "uncertainty", "words"),
    [
        ("a", "a", 1.0, 0.1, "from 'a' to itself"),
        ("a", "b", 0.0, 0.1, "of 0 mm is not above 0"),
        ("a", "b", -1.0, 0.1, "of -1 mm is not above 0"),
        ("a", "b", float("nan"), 0.1, "of nan mm is not above 0"),
        ("a", "b", 51.0, 0.1, "at most 50"),
        ("a", "b", 1.0, 0.0, "uncertainty 0 mm .* is not between"),
        ("a", "b", 1.0, float("inf"), "uncertainty inf mm .* is not between"),
    ],
)
def test_measurements_that_cannot_be_right(
    inner: str, outer: str, distance: float, uncertainty: float, words: str
) -> None:
    with pytest.raises(StackError, match=words):
        MeasuredDistance(inner, outer, distance, uncertainty)


# -- uncertainty --------------------------------------------------------------------------

U = (0.02, 0.03, 0.05)
KNOWN = [replace(f, thickness_uncertainty=u) for f, u in zip((A, B, C), U, strict=True)]


def test_uncertainty_by_thickness_adds_halves_and_wholes_in_quadrature() -> None:
    found = Stack(KNOWN, "b").surfaces()
    assert found.uncertainty(0, 2) == pytest.approx(math.hypot(0.01, 0.03, 0.025))
    assert found.uncertainty(0, 1) == pytest.approx(math.hypot(0.01, 0.015))
    assert found.uncertainty("skin", 1) == pytest.approx(math.hypot(0.02, 0.015))
    assert found.uncertainty("skin", "outside") == pytest.approx(math.hypot(*U))
    assert found.uncertainty(2, 0) == found.uncertainty(0, 2)
    assert found.uncertainty(1, 1) == 0.0


def test_coverage_loft_and_panels_count() -> None:
    tape = replace(KNOWN[1], coverage=0.2, loft=0.5, panels=frozenset(["front"]))
    stack = Stack([KNOWN[0], tape, KNOWN[2]])
    front = stack.surfaces("front").uncertainty(0, 2)
    assert front == pytest.approx(math.hypot(0.01, 0.003, 0.025))
    assert stack.surfaces("back").uncertainty(0, 2) == pytest.approx(math.hypot(0.01, 0.025))


def test_a_measured_pair_stands_for_the_thicknesses_that_it_spans() -> None:
    found = Stack(KNOWN, measured=[pair("a", "c", 0.9, 0.07)]).surfaces()
    assert found.uncertainty(0, 2) == pytest.approx(0.07, rel=1e-12)
    # The halves that stand out of the pair, and the pair.
    assert found.uncertainty("skin", "outside") == pytest.approx(math.hypot(0.01, 0.07, 0.025))


def test_pairs_that_depend_on_each_other_are_better_known_together() -> None:
    u = np.array([0.03, 0.03, 0.03])
    given_ = [pair("a", "b", 0.3, u[0]), pair("b", "c", 0.5, u[1]), pair("a", "c", 0.8, u[2])]
    found = Stack(KNOWN, measured=given_).surfaces()
    # One way round has variance u squared, the other twice that: together two thirds.
    assert found.uncertainty(0, 2) == pytest.approx(0.03 * math.sqrt(2 / 3), rel=1e-9)


def test_uncertainty_is_unknown_where_a_thickness_is() -> None:
    found = Stack([KNOWN[0], B, KNOWN[2]]).surfaces()
    assert found.uncertainty(0, 2) is None
    assert found.unknown(0, 2) == ("b",)
    assert found.uncertainty("skin", 0) == pytest.approx(0.01)
    measured = Stack([KNOWN[0], B, KNOWN[2]], measured=[pair("a", "c", 0.9, 0.07)])
    assert measured.surfaces().uncertainty("skin", "outside") is not None
    # Within the pair the proportions still depend on it.
    assert measured.surfaces().unknown(0, 1) == ("b",)
    assert measured.girth_uncertainty({"1": 3.0}, 0, 1) is None


def test_surfaces_that_are_not_there() -> None:
    found = Stack(KNOWN).surfaces()
    for wrong in (3, -1, "top"):
        with pytest.raises(StackError, match=r'Use "skin", "outside" or a place from 0 to 2'):
            found.distance(wrong, 0)  # type: ignore[arg-type]


@pytest.mark.slow
def test_uncertainty_agrees_with_a_simulation() -> None:
    """Monte Carlo (JCGM 101:2008): thicknesses and swatch drawn at random, surfaces measured."""
    rng = np.random.default_rng(5)
    sigma = (0.01, 0.02, 0.02, 0.03)
    cloth = [replace(f, thickness_uncertainty=u) for f, u in zip((A, B, C, D), sigma, strict=True)]
    swatch = pair("a", "c", 0.85, 0.03)
    found = Stack(cloth, "b", [swatch]).surfaces()
    drawn = []
    for _ in range(1500):
        fabrics_ = [
            replace(f, thickness=f.thickness + u * rng.normal())
            for f, u in zip(cloth, sigma, strict=True)
        ]
        read = replace(swatch, distance=swatch.distance + swatch.uncertainty * rng.normal())
        drawn.append(Stack(fabrics_, "b", [read]).surfaces().positions)
    positions = np.array(drawn)
    rows = {"skin": 0, 0: 1, 1: 2, 2: 3, 3: 4, "outside": 5}
    for first, second in (("skin", "outside"), (0, 1), (1, 3), ("skin", 1), (1, "outside")):
        spread = float(np.std(positions[:, rows[second]] - positions[:, rows[first]]))
        # A standard deviation from 1,500 draws is itself known to 1.8 %; three of those, and
        # the weights of the gaps are held in the formula.
        assert found.uncertainty(first, second) == pytest.approx(spread, rel=0.06)


def test_girth_uncertainty_adds_what_panels_share_before_squaring() -> None:
    tape = replace(KNOWN[1], panels=frozenset(["front"]))
    stack = Stack([KNOWN[0], tape, KNOWN[2]])
    u = stack.girth_uncertainty({"front": 2.0, "back": 3.0}, 0, 2)
    assert u == pytest.approx(math.hypot(5.0 * 0.01, 2.0 * 0.03, 5.0 * 0.025))
    whole = Stack(KNOWN, measured=[pair("a", "c", 0.9, 0.07)])
    turns = {str(k): 2.0 * math.pi / 12 for k in range(12)}
    assert whole.girth_uncertainty(turns, 0, 2) == pytest.approx(2.0 * math.pi * 0.07)


@pytest.mark.parametrize("value", [-0.1, float("nan"), 51.0])
def test_uncertainty_of_a_thickness_has_a_range(value: float) -> None:
    with pytest.raises(StackError, match="thickness uncertainty"):
        Fabric("a", 0.2, thickness_uncertainty=value)


@pytest.mark.parametrize(
    ("cloth", "drafted", "words"),
    [
        ([], "", "a stack without fabrics"),
        ([A, A], "", "two fabrics have the name 'a'"),
        ([A, B], "x", "the drafted layer 'x' is not in the stack"),
        ([A, replace(B, panels=frozenset(["1"]))], "b", "'b' does not cover every panel"),
    ],
)
def test_stacks_that_make_no_sense(cloth: list[Fabric], drafted: str, words: str) -> None:
    with pytest.raises(StackError, match=words):
        Stack(cloth, drafted)


# -- what the uncertainty takes in ----------------------------------------------------------


def test_thickness_coverage_and_loft_are_added_in_quadrature() -> None:
    bones = Fabric("bones", 1.5, 0.2, 0.9, None, False, 0.1, 0.05, 0.04)
    parts = (0.1 * 0.2 * 0.9, 1.5 * 0.2 * 0.05, 1.5 * 0.04 * 0.9)
    assert bones.build_uncertainty == pytest.approx(math.hypot(*parts))
    assert replace(bones, thickness_uncertainty=None).build_uncertainty is None
    for name in ("loft", "coverage"):
        with pytest.raises(StackError, match=f"{name} uncertainty"):
            replace(bones, **{f"{name}_uncertainty": -0.1})


def test_one_cloth_used_twice_is_equally_wrong_twice() -> None:
    """Two layers of one bolt between two others: what it is wrong by counts double."""
    fabrics_ = [Fabric(n, 0.4, thickness_uncertainty=0.03) for n in "abcd"]
    plain = Stack(fabrics_).surfaces()
    assert plain.uncertainty(0, 3) == pytest.approx(0.03 * math.hypot(0.5, 1.0, 1.0, 0.5))
    same = [replace(f, cloth="drill") if f.name in "bc" else f for f in fabrics_]
    assert Stack(same).surfaces().uncertainty(0, 3) == pytest.approx(
        0.03 * math.hypot(0.5, 2.0, 0.5)
    )
    assert Stack(same).surfaces().uncertainty(1, 2) == pytest.approx(0.03 * 1.0)


def test_a_tape_on_bones_counts_their_whole_thickness() -> None:
    bones = Fabric("bones", 1.5, 0.2, cut_out=False, thickness_uncertainty=0.1)
    stack = Stack([KNOWN[0], bones, KNOWN[2]])
    turns = {"all": 2.0 * math.pi}
    # Half of the drafted layer, all of the outermost.
    cloths = [f * (k.thickness_uncertainty or 0) for k, f in ((KNOWN[0], 0.5), (KNOWN[2], 1.0))]
    for ridges, part in ((False, 0.2), (True, 1.0)):
        expected = 2.0 * math.pi * math.hypot(*cloths, part * 0.1)
        found = stack.girth_uncertainty(turns, 0, "outside", ridges=ridges)
        assert found == pytest.approx(expected)


@pytest.mark.parametrize("miss", [0.05, 0.12])
def test_pairs_that_contradict_each_other_know_less(miss: float) -> None:
    """a-b, b-c and a-c, u each: one degree of freedom, chi-square miss^2 / (3 u^2)."""
    u = 0.04
    measured = [pair("a", "b", 0.4, u), pair("b", "c", 0.6, u), pair("a", "c", 1.0 + miss, u)]
    found = Stack([A, B, C, D], measured=measured).surfaces()
    birge = max(1.0, miss / (math.sqrt(3.0) * u))
    # The sum by the adjusted pairs: two thirds of its own variance remain.
    _, shares = found.shares(0, 2)
    assert float(np.hypot.reduce(shares * found.measured_uncertainty)) == pytest.approx(
        u * math.sqrt(2.0 / 3.0) * birge
    )


def test_pairs_that_depend_on_no_other_keep_theirs() -> None:
    measured = [
        pair("a", "b", 0.4, 0.04),
        pair("b", "c", 0.6, 0.04),
        pair("a", "c", 1.12, 0.04),
        pair("c", "d", 0.7, 0.04),
    ]
    found = Stack([A, B, C, D], measured=measured).surfaces()
    assert found.measured_uncertainty[3] == 0.04
    assert (found.measured_uncertainty[:3] > 0.06).all()


def test_shares_are_how_distances_follow_what_was_measured() -> None:
    """Each distance between two surfaces, reckoned again with a pair a little further apart."""
    given = [pair("a", "c", 1.2), pair("b", "d", 1.6)]
    stack, step = Stack([A, B, C, D], "b", given), 1e-6
    base = stack.surfaces()
    for number, one in enumerate(given):
        wider = [*given[:number], replace(one, distance=one.distance + step), *given[number + 1 :]]
        moved = Stack([A, B, C, D], "b", wider).surfaces()
        for first, second in itertools.product(["skin", 0, 1, 2, 3, "outside"], repeat=2):
            change = (moved.distance(first, second) - base.distance(first, second)) / step
            assert base.shares(first, second)[1][number] == pytest.approx(change, abs=1e-6)


def test_beside_a_gap_without_thickness_the_others_give_way_by_theirs() -> None:
    """Pairs over two gaps of 0.3 and 0.5 mm, and over one of nothing."""
    pairs = [pair("a", "c", 1.2), pair("c", "d", 0.1)]
    gaps = meet(np.array([0.3, 0.5, 0.0]), pairs, [(0, 2), (2, 3)])
    assert gaps.sizes == pytest.approx([0.45, 0.75, 0.1])
