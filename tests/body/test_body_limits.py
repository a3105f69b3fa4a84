"""What body models take at the edge of the allowed, and the shapes of their answers."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.body import BodyModel, ClassModel, FormerModel, Measures, Ring, SectionModel
from panelshift.body.ring import body_girths
from panelshift.errors import BodyError

HEIGHTS = np.linspace(-60.0, 60.0, 9)


def ring(panels: int) -> Ring:
    rows = 50.0 + np.outer(HEIGHTS / 60.0, np.linspace(-3.0, 5.0, panels))
    return Ring(HEIGHTS, rows, 30.0, ("side",) * panels)


@pytest.mark.parametrize("panels", [2, 3, 8])
@pytest.mark.parametrize("model", [ClassModel(), SectionModel(), FormerModel(90.0)])
def test_every_panel_has_an_angle_and_every_seam_a_tilt(model: BodyModel, panels: int) -> None:
    turn = model.turn(ring(panels))
    assert turn.angles.shape == (len(HEIGHTS), panels)
    assert turn.gap_angles.shape == turn.closure().shape == (len(HEIGHTS),)
    assert turn.tilts.shape == (len(HEIGHTS), panels + 1)


def test_a_former_thinner_than_a_millimetre_is_a_former() -> None:
    assert FormerModel(0.5).turn(ring(2)).angles[4, 0] == pytest.approx(50.0 / 0.25)


def test_two_measures_half_a_millimetre_apart_are_two() -> None:
    measures = Measures(np.array([0.5, 0.0]), np.array([670.0, 660.0]))
    assert measures.at(np.array([0.0, 0.25, 0.5])) == pytest.approx([660.0, 665.0, 670.0])


def test_one_girth_is_the_girth_of_the_waist() -> None:
    body = ring(4)
    girths = body_girths(body, Measures.constant(300.0))
    assert girths == pytest.approx(body.girths * 300.0 / np.interp(0.0, HEIGHTS, body.girths))
    assert girths[4] == pytest.approx(300.0)


@pytest.mark.parametrize("values", ["wide", [None, 2.0], object()])
def test_measures_that_are_no_numbers_are_refused(values: object) -> None:
    with pytest.raises(BodyError):
        Measures(np.array([0.0, 10.0]), values)
