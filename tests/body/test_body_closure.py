"""The angles through which panels and gap turn sum to a full turn: theorem of turning tangents."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given

from panelshift.body import BodyModel, ClassModel, FormerModel, Measures, Ring, SectionModel, Turn
from panelshift.body.widths import FACTORS
from panelshift.errors import BodyError
from tests.support.examples import examples, thinned
from tests.support.strategies import closing_models, rings

FULL_TURN = 2.0 * np.pi
HEIGHTS = np.linspace(-100.0, 100.0, 21)


def ring(*widths: float, gap: float = 0.0, classes: tuple[str, ...] = ()) -> Ring:
    rows = np.tile(widths, (len(HEIGHTS), 1)).astype(float)
    return Ring(HEIGHTS, rows, gap, classes or ("side",) * len(widths))


@given(rings(), closing_models)
@examples(15)
def test_panels_and_gap_make_a_full_turn(body: Ring, model: BodyModel) -> None:
    turn = model.turn(body)
    assert np.abs(turn.closure() - FULL_TURN).max() <= 1e-9
    # Nor does any of them turn backwards.
    assert (turn.angles > 0.0).all()
    assert (turn.gap_angles >= -1e-12).all()


@pytest.mark.parametrize(
    "exponent",
    [1.1, 2.0, 20.0, *(pytest.param(n, marks=pytest.mark.slow) for n in (1.5, 2.5, 4.0))],
)
@pytest.mark.parametrize("ratio", thinned([0.3, 1.0, 1.4, 3.0]))
@pytest.mark.parametrize("gap", thinned([60.0, 0.0], 2))
def test_extreme_sections_close(exponent: float, ratio: float, gap: float) -> None:
    model = SectionModel(Measures.constant(ratio), exponent)
    # Widths whose sums are rounded: a seam may come to lie 1e-16 of the girth beside an axis.
    turn = model.turn(ring(64.2, 78.4, 61.7, 61.7, 78.4, 64.2, gap=gap))
    assert np.abs(turn.closure() - FULL_TURN).max() <= 1e-9
    assert turn.normals is not None
    assert np.abs(turn.normals + turn.normals[:, ::-1]).max() <= 1e-9
    if gap == 0.0:
        # What is not there turns through nothing: the panels alone make the full turn.
        assert np.abs(turn.gap_angles).max() <= 1e-12


@pytest.mark.parametrize("fault", [2e-9, -2e-9, 0.1])
def test_a_model_that_does_not_close_is_refused(fault: float) -> None:
    angles = np.full((1, 4), np.pi / 2)
    angles[0, 2] += fault
    with pytest.raises(BodyError, match="misses a full turn by"):
        Turn(np.zeros(1), angles, np.zeros(1), np.zeros((1, 5)))


def test_a_fault_at_one_level_of_many_is_refused() -> None:
    angles = np.full((50, 4), np.pi / 2)
    angles[37, 0] -= 1e-8
    with pytest.raises(BodyError, match="misses a full turn by 1e-08 rad"):
        Turn(np.arange(50.0), angles, np.zeros(50), np.zeros((50, 5)))


def test_angles_that_are_not_finite_are_refused() -> None:
    with pytest.raises(BodyError, match="not finite"):
        Turn(np.zeros(1), np.full((1, 2), np.nan), np.zeros(1), np.zeros((1, 3)))


def test_a_former_does_not_close_and_says_so() -> None:
    # Twelve 55 mm panels on an 80 mm bottle, by hand: each turns through 55 / 40.
    turn = FormerModel(80.0).turn(ring(*[55.0] * 12))
    assert turn.closes is False
    assert turn.closure() == pytest.approx(np.full(len(HEIGHTS), 12 * 55 / 40))
    assert (turn.tilts == 0.0).all()


def test_a_former_counts_half_the_inner_layer() -> None:
    turn = FormerModel(80.0, 3.0).turn(ring(55.0))
    assert turn.angles[0, 0] == pytest.approx(55 / 41.5)


def test_wider_panels_of_one_class_turn_further() -> None:
    angles = ClassModel().turn(ring(30, 60)).angles[0]
    assert angles[1] == pytest.approx(2 * angles[0])


def test_a_class_turns_in_inverse_proportion_to_its_factor() -> None:
    model = ClassModel({"front": 2.0, "side": 0.5, "back": 1.0})
    front, side, back = model.turn(ring(50, 50, 50, classes=("front", "side", "back"))).angles[0]
    assert side / front == pytest.approx(4.0)
    assert side / back == pytest.approx(2.0)


def test_the_gap_is_part_of_the_back() -> None:
    turn = ClassModel().turn(ring(50, 50, gap=50.0, classes=("side", "back")))
    assert turn.gap_angles[0] == pytest.approx(turn.angles[0, 1])


def test_default_factors_are_those_fitted_to_the_bodies_of_the_mean_form() -> None:
    # Fitted over all levels of the bodies that mean_form.json is the mean of.
    assert FACTORS["women"] == {"front": 1.13, "side": 0.83, "back": 1.01}
    assert FACTORS["men"] == {"front": 1.16, "side": 0.79, "back": 1.04}
    for name, factor in ClassModel().factors.items():
        both = 0.5 * (FACTORS["women"][name] + FACTORS["men"][name])
        assert factor == pytest.approx(both, abs=1e-9)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: ClassModel({"front": 1.0, "side": 1.0}), "class 'back' is None"),
        (lambda: ClassModel({"front": 0.0, "side": 1.0, "back": 1.0}), "class 'front' is 0"),
        (lambda: ClassModel({"front": 1, "side": np.nan, "back": 1}), "class 'side' is nan"),
        (lambda: SectionModel(Measures.constant(0.0)), "ratio of 0, not from 0.01 to 100"),
        (lambda: SectionModel(exponent=1.099), "exponent 1.099 is not from 1.1 to 20"),
        (lambda: SectionModel(exponent=np.nan), "exponent nan"),
        (lambda: FormerModel(0.0), "diameter 0 mm"),
        (lambda: FormerModel(np.inf), "diameter inf mm"),
        (lambda: ClassModel().turn(ring(50, classes=("hip",))), "unknown class 'hip'"),
    ],
)
def test_parameters_that_make_no_body_are_refused(make: object, words: str) -> None:
    with pytest.raises(BodyError, match=words):
        make()  # type: ignore[operator]


def test_an_unknown_class_lists_the_known_ones() -> None:
    with pytest.raises(BodyError) as caught:
        ClassModel().turn(ring(50, classes=("hip",)))
    assert "front, side, back" in caught.value.remedy


@pytest.mark.parametrize("model", [ClassModel(), SectionModel()])
def test_a_girth_that_no_cloth_can_follow_is_refused(model: BodyModel) -> None:
    rows = np.column_stack([300 + 8 * HEIGHTS[:, None]] * 2) + 600
    with pytest.raises(BodyError, match="no cloth can follow"):
        model.turn(Ring(HEIGHTS, rows, 0.0, ("side", "side")))
