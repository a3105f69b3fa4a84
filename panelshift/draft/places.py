"""Where a drawn line is, in words that let a maker find it in her own program."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from ..pattern.drawing import Shape
from ..units import trimmed
from .roles import given_name

_MOST_LISTED: Final = 12
"""Lines described in a message."""

_POINT_MM: Final = 1.0
"""Lines that reach less far across or down are said to be at one place."""

_COLOURS: Final = {
    "#000000": "black",
    "#ffffff": "white",
    "#ff0000": "red",
    "#00ff00": "green",
    "#008000": "green",
    "#0000ff": "blue",
    "#808080": "grey",
}


def described(shape: Shape) -> str:
    """Id of a shape; where no person has named it, how it looks and where it is as well.

    Examples
    --------
    >>> from panelshift.outline import Curve
    >>> from panelshift.pattern.drawing import LineStyle
    >>> line = Curve.polyline([(38.0, 230.0), (90.0, 230.0)])
    >>> described(Shape(line, "path[6]", style=LineStyle("#ff0000", 0.3, (6.0, 3.0))))
    'path[6] (dashed red line, 0.3 mm wide, 38 to 90 mm from the left, 230 mm from the top)'
    """
    if given_name(shape.names):
        return shape.ident
    return f"{shape.ident} ({looks(shape)}, {place(shape)})"


def looks(shape: Shape) -> str:
    """How a line is painted: dashed or solid, colour, width."""
    style = shape.style
    if style.width is None:
        return "filled shape without a line" if shape.curve.closed else "line that is not painted"
    what = "outline" if shape.curve.closed else "line"
    colour = colour_name(style.colour)
    kind = "dashed" if style.dash else "solid"
    words = " ".join(part for part in (kind, colour, what) if part)
    return f"{words}, {trimmed(style.width, 2)} mm wide"


def colour_name(colour: str) -> str:
    """The plain name of a colour, or what is written in the file."""
    return _COLOURS.get(colour, colour)


def place(shape: Shape) -> str:
    """Where a shape lies on the sheet, in mm from its left and its top edge."""
    low, high = shape.curve.hull_box.tolist()
    sides = zip(low, high, ("left", "top"), strict=True)
    return ", ".join(f"{_reach(a, b)} mm from the {side}" for a, b, side in sides)


def _reach(low: float, high: float) -> str:
    if high - low < _POINT_MM:
        return trimmed(0.5 * (low + high), 0)
    return f"{trimmed(low, 0)} to {trimmed(high, 0)}"


def listed(shapes: Sequence[Shape]) -> str:
    """Several shapes for a message, not too many."""
    names = [described(shape) for shape in shapes[:_MOST_LISTED]]
    more = len(shapes) - len(names)
    return ", ".join(names) + (f" and {more} more" if more else "")
