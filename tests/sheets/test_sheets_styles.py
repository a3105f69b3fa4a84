"""The whole palette, as it was looked over: refresh with PANELSHIFT_REFRESH_GOLDEN=1."""

from __future__ import annotations

from panelshift.sheets import palette
from tests.support.golden import changes


def test_every_colour_and_style_is_as_it_was_looked_over() -> None:
    told = [f"{name}: {value!r}" for name, value in vars(palette).items() if name.isupper()]
    assert changes("palette.txt", "\n".join(told)) == []
