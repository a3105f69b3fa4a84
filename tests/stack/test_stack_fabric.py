"""A fabric by itself."""

from __future__ import annotations

from panelshift import Fabric


def test_a_thickness_of_another_unit_is_pointed_out() -> None:
    assert Fabric("coutille", 0.45).warnings() == ()
    (words,) = Fabric("brocade", 8.0).warnings()
    assert words.startswith("brocade is 8 mm thick, more than cloth for corsets is")
