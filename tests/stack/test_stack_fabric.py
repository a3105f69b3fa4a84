"""A fabric by itself."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift import Fabric, Stack
from panelshift.errors import StackError


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
