"""Basic shapes and paths of SVG 2, sections 9 and 10, as outlines in user units."""

from __future__ import annotations

from array import array
from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np

from ...errors import SvgError
from ...outline.bezier import CUBIC, LINE, FloatArray, line_control
from ..outlines import ARC_TOLERANCE_MM, Outline, arc_control
from . import styles
from .lengths import number_list
from .pathdata import path_outlines
from .properties import Properties


class Drawn(NamedTuple):
    """What an element draws.

    *reasons*: why a part of it, or all of it, draws nothing.
    """

    outlines: tuple[Outline, ...]
    reasons: tuple[str, ...] = ()


_POINT: Final = "it is only a point"


def drawn(tag: str, properties: Properties, scale: float) -> Drawn:
    """Return the outlines of a shape element.

    *tag*: one of `SHAPES`. *scale*: most by which the element's transform lengthens anything, in mm
    per user unit.
    """
    return SHAPES[tag](properties, scale)


def _one(outline: Outline) -> Drawn:
    return Drawn((), (_POINT,)) if outline.is_point else Drawn((outline,))


def _nothing(**sizes: float | None) -> Drawn | None:
    """Say that nothing is drawn where a size is not above zero."""
    for name, size in sizes.items():
        if size is None or size == 0.0:
            return Drawn((), (f"its {name} is 0",))
        if size < 0.0:
            return Drawn((), (f"its {name} is negative",))
    return None


def _path(properties: Properties, scale: float) -> Drawn:
    found = properties.geometry("d")
    text, styled = found if found is not None else ("", False)
    data = _styled_path(text) if styled else text
    if data.strip() in ("", "none"):
        return Drawn((), ("it has no path data",))
    outlines = path_outlines(data, scale)
    if len(outlines) == 1:
        return _one(outlines[0])
    return Drawn(
        tuple(outline for outline in outlines if not outline.is_point),
        tuple(
            f"part {place} of its path is only a point"
            for place, outline in enumerate(outlines, start=1)
            if outline.is_point
        ),
    )


def _styled_path(text: str) -> str:
    """Return the path data of the CSS value ``path("...")``."""
    if text.lower() == "none":
        return ""
    nodes = styles.values(text)
    if len(nodes) == 1 and nodes[0].type == "function" and nodes[0].lower_name == "path":
        strings = [node for node in nodes[0].arguments if node.type != "whitespace"]
        if len(strings) == 1 and strings[0].type == "string":
            data: str = strings[0].value
            return data
    raise SvgError(
        f"the style d: {text[:40]} cannot be read",
        remedy='Write d: path("..."), or use the d attribute.',
    )


def _points(properties: Properties) -> list[tuple[float, float]]:
    numbers = number_list(properties.element.get("points", ""), "points")
    if len(numbers) % 2:
        raise SvgError(
            f"points holds {len(numbers)} numbers, so one x has no y",
            remedy="Delete the shape or draw it again.",
        )
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def _polygon(properties: Properties, scale: float, *, closed: bool = True) -> Drawn:
    points = _points(properties)
    if len(points) == 0:
        return Drawn((), ("it has no points",))
    return _one(Outline.through(points, closed=closed))


def _polyline(properties: Properties, scale: float) -> Drawn:
    return _polygon(properties, scale, closed=False)


def _line(properties: Properties, _: float) -> Drawn:
    ends = [
        (properties.length(x, "x"), properties.length(y, "y"))
        for x, y in (("x1", "y1"), ("x2", "y2"))
    ]
    return _one(Outline.through(ends, closed=False))


def _circle(properties: Properties, scale: float) -> Drawn:
    radius = properties.length("r", "diagonal")
    return _nothing(r=radius) or _ellipse_about(properties, radius, radius, scale)


def _ellipse(properties: Properties, scale: float) -> Drawn:
    rx, ry = properties.optional_length("rx", "x"), properties.optional_length("ry", "y")
    # SVG 2, section 10.4: an automatic radius is as long as the other one.
    rx, ry = (ry if rx is None else rx) or 0.0, (rx if ry is None else ry) or 0.0
    return _nothing(rx=rx, ry=ry) or _ellipse_about(properties, rx, ry, scale)


def _ellipse_about(properties: Properties, rx: float, ry: float, scale: float) -> Drawn:
    x, y = properties.length("cx", "x"), properties.length("cy", "y")
    # SVG 2, section 10.4: four arcs from three o'clock, x axis towards y axis.
    ends = [complex(x + rx, y), complex(x, y + ry), complex(x - rx, y), complex(x, y - ry)]
    return _chained(
        [
            _quarter(start, end, rx, ry, scale)
            for start, end in zip(ends, [*ends[1:], ends[0]], strict=True)
        ]
    )


def _rect(properties: Properties, scale: float) -> Drawn:
    width, height = properties.length("width", "x"), properties.length("height", "y")
    nothing = _nothing(width=width, height=height)
    if nothing:
        return nothing
    x, y = properties.length("x", "x"), properties.length("y", "y")
    rx, ry = _corner_radii(properties, width, height)
    if rx == 0.0 or ry == 0.0:
        corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
        return _one(Outline.through(corners, closed=True))
    # SVG 2, section 10.2: from the end of the top left corner, clockwise as drawn.
    right, bottom = x + width, y + height
    left_in, top_in = x + rx, y + ry
    # Where two corners meet, rounding must not leave a hair of a line between them.
    right_in = left_in if 2.0 * rx == width else right - rx
    bottom_in = top_in if 2.0 * ry == height else bottom - ry
    corners_and_ends = (
        (complex(right_in, y), complex(right, top_in)),
        (complex(right, bottom_in), complex(right_in, bottom)),
        (complex(left_in, bottom), complex(x, bottom_in)),
        (complex(x, top_in), complex(left_in, y)),
    )
    blocks = []
    pen = complex(left_in, y)
    for start, end in corners_and_ends:
        blocks.append(_straight(pen, start))
        blocks.append(_quarter(start, end, rx, ry, scale))
        pen = end
    return _chained(blocks)


def _corner_radii(properties: Properties, width: float, height: float) -> tuple[float, float]:
    """Return the radii of a rect's corners (SVG 2, section 10.2, "auto" and clamping)."""
    rx, ry = properties.optional_length("rx", "x"), properties.optional_length("ry", "y")
    for name, radius in (("rx", rx), ("ry", ry)):
        if radius is not None and radius < 0.0:
            raise SvgError(
                f'{name}="{properties.styled(name)}" is negative',
                remedy=f"Give {name} as 0 or more.",
            )
    rx, ry = (ry if rx is None else rx) or 0.0, (rx if ry is None else ry) or 0.0
    return min(rx, width / 2.0), min(ry, height / 2.0)


Block = tuple[FloatArray, int]


def _straight(start: complex, end: complex) -> Block:
    ends = np.array([[start.real, start.imag], [end.real, end.imag]])
    return line_control(ends[:1], ends[1:]), LINE


def _quarter(start: complex, end: complex, rx: float, ry: float, scale: float) -> Block:
    tolerance = ARC_TOLERANCE_MM / scale
    return arc_control(start, end, (rx, ry), 0.0, False, True, tolerance), CUBIC


def _chained(blocks: list[Block]) -> Drawn:
    rows = array("d", np.concatenate([block for block, _ in blocks]).ravel().tolist())
    degrees = b"".join(bytes((degree,)) * len(block) for block, degree in blocks)
    return _one(Outline(rows, degrees, closed=True))


SHAPES: Final[dict[str, Callable[[Properties, float], Drawn]]] = {
    "path": _path,
    "polygon": _polygon,
    "polyline": _polyline,
    "rect": _rect,
    "circle": _circle,
    "ellipse": _ellipse,
    "line": _line,
}
"""Every element that draws outlines, by name."""
