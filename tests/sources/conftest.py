"""What the tests of the SVG reader share: SVG text around a body, and how to read it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from panelshift.pattern.drawing import Drawing
from panelshift.sources.svg import read_svg

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"

ONE_MM = 'width="100mm" height="100mm" viewBox="0 0 100 100"'
"""Root attributes that make one user unit one millimetre."""


@pytest.fixture(scope="session")
def read() -> Callable[..., Drawing]:
    """Read elements inside an svg whose unit is 1 mm, or whose attributes are given."""

    def reader(body: str, root: str = ONE_MM, *, before: str = "") -> Drawing:
        text = f'{before}<svg xmlns="{SVG}" xmlns:xlink="{XLINK}" {root}>{body}</svg>'
        return read_svg(text.encode(), name="drawing.svg")

    return reader
