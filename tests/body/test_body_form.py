"""Panels laid on sections that were measured."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest

from panelshift.body import Ring
from panelshift.body.form import FormErrors, FormModel
from panelshift.body.support import Sections
from panelshift.errors import BodyError

HEIGHTS = np.linspace(-150.0, 150.0, 31)
OVAL = Sections.of_support(
    lambda psi: np.repeat((105.0 - 14.0 * np.cos(2.0 * psi))[None, :], len(HEIGHTS), axis=0)
)
RING = Ring(np.linspace(-30.0, 30.0, 21), np.full((21, 12), 55.0), 0.0, ("side",) * 12)


def test_sections_that_do_not_reach_the_waist_are_refused() -> None:
    with pytest.raises(BodyError, match="the waist is not among them"):
        FormModel(HEIGHTS + 400.0, OVAL).turn(RING)


@pytest.mark.parametrize("first", [None, "right"])
def test_doubt_grows_with_what_is_not_known(first) -> None:
    ring = replace(RING, first=first)
    sure = FormModel(HEIGHTS, OVAL, errors=FormErrors(0.1, 1e-3, 1.0)).turn(ring).spread
    unsure = FormModel(HEIGHTS, OVAL, errors=FormErrors(4.0, 0.05, 20.0)).turn(ring).spread
    assert sure is not None
    assert unsure is not None
    assert (unsure.growth > sure.growth).all()


def test_a_front_that_is_not_known_matters_where_halves_are_cut_apart() -> None:
    # Halves cut alike are laid on the mean of both: a turn of the body cancels to first order.
    model = FormModel(HEIGHTS, OVAL, errors=FormErrors(1e-6, 0.05, 1e-6))
    alike, apart = (model.turn(replace(RING, first=first)).spread for first in (None, "right"))
    assert alike is not None
    assert apart is not None
    assert apart.growth.max() > 3.0 * alike.growth.max()


def test_a_turn_goes_to_another_process_and_still_tells_its_spread() -> None:
    turn = FormModel(HEIGHTS, OVAL).turn(RING)
    there = pickle.loads(pickle.dumps(turn))
    assert turn.spread is not None
    assert (there.spread.growth == turn.spread.growth).all()


@pytest.mark.parametrize("upright", [True, False])
def test_a_section_has_the_girth_of_the_ring_that_lies_on_it(upright: bool) -> None:
    # A cylinder: upright heights and those along the panels are one.
    model = FormModel(HEIGHTS, OVAL, upright=upright)
    section, normals = model.section_at(RING, model.turn(RING), 12.0)
    assert section.girths == pytest.approx([12 * 55.0], abs=1e-6)
    assert normals == pytest.approx(model.turn(RING).normals[10], abs=1e-9)
    assert RING.gap_at(12.0) == 0.0


def test_what_lies_between_sections_that_are_far_apart_adds_doubt() -> None:
    errors = FormErrors(0.1, 1e-3, 1.0)
    every = slice(None, None, 15)
    sections = Sections(OVAL.coefficients[every])
    ring = replace(RING, heights=np.linspace(-150.0, 150.0, 21))
    near = FormModel(HEIGHTS, OVAL, errors=errors).turn(ring).spread
    far = FormModel(HEIGHTS[every], sections, errors=errors).turn(ring).spread
    assert near is not None
    assert far is not None
    ratio = far.growth / near.growth
    # Near a section there is hardly more doubt than its own; half-way between two there is.
    assert (ratio.min(axis=0) < 2.5).all()
    assert (ratio.max(axis=0) > 5.0).all()
