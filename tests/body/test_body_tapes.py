"""Tapes: what is given is used, what is not comes from the mean form, nonsense is refused."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.body import MeanFormModel, Ring, TapeModel, Tapes
from panelshift.body.support import ORDER, Sections
from panelshift.body.tapes import SIZE, estimated, tape_rows
from panelshift.errors import BodyError

V = np.linspace(-120.0, 120.0, 81)
GIRTHS = 650.0 + 160.0 * (V / 120.0) ** 2
RING = Ring(V, np.repeat(GIRTHS[:, None] / 14, 14, axis=1), 0.0, ("side",) * 14)
QUARTER = np.pi / 2


def tapes_of(section: Sections, waist_front: float) -> dict[str, float]:
    """What tapes show on a section, by its points and the lengths of its pieces."""
    psi = np.linspace(-np.pi, np.pi, 20001)
    points = section.points(psi[None])[0]
    steps = np.hypot(*np.diff(points, axis=0).T)
    ahead = np.abs(0.5 * (psi[1:] + psi[:-1])) < QUARTER
    return {
        "breadth": float(np.ptp(points[:, 0])),
        "depth": float(np.ptp(points[:, 1])),
        "girth": float(steps.sum()),
        "front_arc": float(steps[ahead].sum()),
        "stand_out": float(points[:, 1].max() - waist_front),
    }


def test_each_tape_is_the_linear_function_it_is_taken_for() -> None:
    radius, front = 105.0, 91.0
    unknown = np.zeros(SIZE)
    unknown[2:5] = -0.06, 0.004, -0.003
    unknown[ORDER + 1] = 4.0
    coefficients = radius * unknown[None, : ORDER + 1].astype(np.complex128)
    coefficients[:, 0], coefficients[:, 1] = radius, unknown[ORDER + 1]
    shown = tapes_of(Sections(coefficients), front)
    _, lacking = tape_rows(shown, unknown, radius, front)
    assert lacking == pytest.approx(np.zeros(5), abs=1e-3)
    # And away from a circle, which lacks what the section is not.
    rows, lacking = tape_rows(shown, np.zeros(SIZE), radius, front)
    assert rows @ unknown == pytest.approx(lacking, abs=1e-3)


def test_one_tape_of_one_unknown_is_weighed_by_its_error() -> None:
    # Two normal quantities that add up: the mean moves by P / (P + E) of what is lacking.
    rows = np.zeros((1, SIZE))
    rows[0, 2] = 100.0
    spread = np.zeros(ORDER + 2)
    spread[2] = 0.04
    found = estimated(0.0, {"depth": 0.0}, rows, np.array([5.0]), spread, 3.0)
    share = 16.0 / (16.0 + 9.0)
    assert 100.0 * found.shape[2] == pytest.approx(5.0 * share)
    # Nothing else tells of it: it is 5 mm longer than expected, and 5 mm are one deviation.
    assert found.beyond["depth"] == pytest.approx((5.0, 5.0))
    left = (found.root @ found.root.T)[2, 2]
    assert left == pytest.approx(0.04**2 * (1.0 - share))


def sections_of(model: TapeModel, heights: list[float]) -> Sections:
    at = np.array(heights)
    return model.column(RING).at(at).sections(np.interp(at, V, GIRTHS) / (2 * np.pi))


def test_exact_tapes_are_met_and_the_rest_is_the_form() -> None:
    model = TapeModel({0.0: Tapes(breadth=240.0, depth=160.0, girth=650.0)}, "women", 0.05)
    section = sections_of(model, [0.0])
    h = section.support(np.array([[0.0, np.pi, QUARTER, -QUARTER]]))[0]
    assert [h[2] + h[3], h[0] + h[1]] == pytest.approx([240.0, 160.0], abs=0.1)
    form = MeanFormModel("women").column(RING).at(np.zeros(1)).shape.coefficients
    assert section.coefficients[0, 8:] / section.coefficients[0, 0] == pytest.approx(
        form[0, 8:], abs=2e-3
    )


def test_what_is_measured_at_one_height_stays_beyond_it() -> None:
    model = TapeModel({0.0: Tapes(breadth=250.0, depth=150.0, girth=650.0)}, "women", 0.1)
    form = MeanFormModel("women").column(RING)
    column = model.column(RING)
    apart = column.resampled(V).shape - form.resampled(V).shape
    assert np.ptp(apart, axis=0) == pytest.approx(np.zeros(ORDER + 1), abs=1e-9)
    assert np.abs(apart).max() > 0.01


def test_a_girth_alone_tells_nothing_of_the_shape() -> None:
    model = TapeModel({0.0: Tapes(girth=700.0)}, "women")
    form = MeanFormModel("women").turn(RING)
    assert model.turn(RING).angles == pytest.approx(form.angles, abs=1e-9)


def test_heights_along_the_panels_and_upright_are_told_apart() -> None:
    tapes = {100.0: Tapes(breadth=300.0, depth=220.0)}
    along, upright = (
        TapeModel(tapes, "women", upright=flag).column(RING).heights for flag in (False, True)
    )
    assert 100.0 in upright
    assert 100.0 not in along
    assert ((along > 90.0) & (along < 100.0)).any()


@pytest.mark.parametrize("of", ["women", "men", "either"])
def test_it_closes_and_knows_more_the_more_is_measured(of: str) -> None:
    few = TapeModel({0.0: Tapes(girth=650.0)}, of)  # type: ignore[arg-type]
    level = Tapes(breadth=235.0, depth=175.0, girth=650.0, front_arc=330.0)
    more = TapeModel({0.0: level}, of)  # type: ignore[arg-type]
    spreads = []
    for model in (few, more):
        turn = model.turn(RING)
        assert turn.closure() == pytest.approx(np.full(len(V), 2 * np.pi), abs=1e-9)
        assert turn.spread is not None
        waist = int(np.argmin(np.abs(turn.spread.heights)))
        spreads.append(float((turn.spread.growth[waist] ** 2).mean()))
    assert spreads[1] < 0.8 * spreads[0]


def test_contradictions_are_told_by_level_with_the_amount() -> None:
    fine = {-100.0: Tapes(breadth=280.0, depth=215.0), 0.0: Tapes(breadth=230.0, depth=175.0)}
    assert TapeModel(fine, "women").contradictions(RING) == ()
    odd = TapeModel({0.0: Tapes(breadth=230.0, depth=230.0, girth=652.0, front_arc=400.0)}, "men")
    told = odd.contradictions(RING)
    assert told
    assert {c.height for c in told} == {0.0}
    assert max(abs(c.amount) for c in told) > 9.0


@pytest.mark.parametrize(
    ("tapes", "words"),
    [
        ({}, "no tape of the body"),
        ({0.0: Tapes()}, "no tape of the body"),
        ({0.0: Tapes(breadth=-3.0)}, r"\+0 mm from the waist: its breadth of -3 mm is no length"),
        ({0.0: Tapes(girth=float("nan"))}, "its girth of nan mm is no length"),
        (
            {-80.0: Tapes(breadth=300.0, depth=200.0, girth=600.0)},
            "-80 mm from the waist: a section 300 mm wide and 200 mm deep is between 721 and 1000",
        ),
        ({5.0: Tapes(breadth=300.0, front_arc=250.0)}, "front arc of 250 mm is shorter than"),
        (
            {5.0: Tapes(breadth=250.0, girth=700.0, front_arc=500.0)},
            "leaves 200 mm for the back, less than its breadth of 250 mm",
        ),
    ],
)
def test_tapes_that_no_curve_has_are_refused(tapes: dict[float, Tapes], words: str) -> None:
    with pytest.raises(BodyError, match=words):
        TapeModel(tapes)


def test_an_error_must_be_a_number() -> None:
    with pytest.raises(BodyError, match="an error of 0 mm"):
        TapeModel({0.0: Tapes(girth=650.0)}, error=0.0)
