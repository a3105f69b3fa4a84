"""The transform attribute and property as affine maps, read strictly.

A transform that cannot be read is an error: what browsers do, drawing the element in the
wrong place, would cost cloth.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from typing import Final

from ...errors import SvgError
from ..affine import Affine
from .lengths import SPACE, Axis, Basis, clipped, number, number_list, shown, user_length
from .styles import Node, values

_FUNCTION = re.compile(f"{SPACE}(,{SPACE})?([A-Za-z]+){SPACE}\\(([^()]*)\\)")

_ATTRIBUTE_FORMS: Final[dict[str, tuple[tuple[int, ...], Callable[..., Affine]]]] = {
    "matrix": ((6,), Affine),
    "translate": ((1, 2), lambda x, y=0.0: Affine.translation(x, y)),
    "scale": ((1, 2), lambda x, y=None: Affine.scaling(x, x if y is None else y)),
    "rotate": ((1, 3), Affine.rotation),
    "skewX": ((1,), lambda x: Affine.skewing(x, 0.0)),
    "skewY": ((1,), lambda y: Affine.skewing(0.0, y)),
}
"""Number of arguments and matrix of each form (SVG 1.1, section 7.6)."""


def attribute_transform(text: str) -> Affine:
    """Return the map of a transform attribute; the rightmost function applies first.

    Examples
    --------
    >>> attribute_transform("translate(10) scale(2, 3)")
    Affine(a=2.0, b=0.0, c=0.0, d=3.0, e=10.0, f=0.0)
    """
    result = Affine()
    if text.strip() in ("", "none"):
        return result
    position = 0
    while position < len(text.rstrip()):
        match = _FUNCTION.match(text, position)
        if match is None or (match.group(1) and position == 0):
            raise SvgError(
                f'transform="{clipped(text)}" cannot be read at character {position + 1}: '
                f"{shown(text, position)}",
                remedy="Write matrix, translate, scale, rotate, skewX or skewY with bare numbers.",
            )
        name = match.group(2)
        arguments = number_list(
            match.group(3), f'transform="{clipped(text)}": the list of {name}()'
        )
        counts, form = _ATTRIBUTE_FORMS.get(name, ((), Affine))
        if len(arguments) not in counts:
            raise SvgError(
                f'transform="{clipped(text)}": {name}() with {len(arguments)} numbers is not known',
                remedy="Write matrix (6), translate (1, 2), scale (1, 2), rotate (1, 3), "
                "skewX (1) or skewY (1).",
            )
        result = result @ form(*arguments)
        position = match.end()
    return result


# -- CSS Transforms Level 1 --------------------------------------------------------------

_DEGREES: Final = {"deg": 1.0, "rad": 180.0 / math.pi, "grad": 0.9, "turn": 360.0}


class _CssReader:
    """Turns the arguments of CSS functions into numbers of one kind."""

    def __init__(self, text: str, basis: Basis) -> None:
        self.text = text
        self.basis = basis

    def fault(self, problem: str) -> SvgError:
        return SvgError(
            f"the style transform: {clipped(self.text)} cannot be read: {problem}",
            remedy="Use matrix, translate, scale, rotate or skew in the plane, with units.",
        )

    def function(self, node: Node) -> Affine:
        """Return the map of one function token."""
        if node.type != "function":
            raise self.fault(f"{node.serialize()!r} is not a function")
        arguments = self._arguments(node)
        name = node.lower_name
        forms: dict[str, tuple[tuple[int, ...], Callable[..., Affine]]] = {
            "matrix": ((6,), lambda *a: Affine(*map(self._number, a))),
            "translate": ((1, 2), self._translate),
            "translatex": ((1,), self._translate),
            "translatey": ((1,), lambda y: Affine.translation(0.0, self._length(y, "y"))),
            "scale": ((1, 2), self._scale),
            "scalex": ((1,), lambda x: Affine.scaling(self._factor(x), 1.0)),
            "scaley": ((1,), lambda y: Affine.scaling(1.0, self._factor(y))),
            "rotate": ((1,), lambda angle: Affine.rotation(self._angle(angle))),
            "skew": ((1, 2), self._skew),
            "skewx": ((1,), self._skew),
            "skewy": ((1,), lambda y: Affine.skewing(0.0, self._angle(y))),
        }
        if name not in forms:
            raise self.fault(f"{node.name}() is not known here")
        counts, form = forms[name]
        if len(arguments) not in counts:
            raise self.fault(f"{node.name}() with {len(arguments)} values is not known")
        return form(*arguments)

    def _arguments(self, function: Node) -> list[Node]:
        tokens = [node for node in function.arguments if node.type not in ("whitespace", "comment")]
        commas = tokens[1::2]
        if len(tokens) % 2 == 0 or any(comma != "," for comma in commas):
            raise self.fault(f"{function.name}() needs values separated by commas")
        return tokens[::2]

    def _number(self, node: Node) -> float:
        if node.type != "number":
            raise self.fault(f"{node.serialize()!r} is not a bare number")
        return number(node.representation)

    def _factor(self, node: Node) -> float:
        if node.type == "percentage":
            return number(node.representation) / 100.0
        return self._number(node)

    def _angle(self, node: Node) -> float:
        if node.type == "number" and node.value == 0:
            return 0.0
        if node.type != "dimension" or node.lower_unit not in _DEGREES:
            raise self.fault(f"{node.serialize()!r} is not an angle in deg, rad, grad or turn")
        return number(node.representation) * _DEGREES[node.lower_unit]

    def _length(self, node: Node, axis: Axis) -> float:
        return user_length(
            node.serialize(), name="transform", axis=axis, basis=self.basis, needs_unit=True
        )

    def _translate(self, x: Node, y: Node | None = None) -> Affine:
        return Affine.translation(self._length(x, "x"), 0.0 if y is None else self._length(y, "y"))

    def _scale(self, x: Node, y: Node | None = None) -> Affine:
        factor = self._factor(x)
        return Affine.scaling(factor, factor if y is None else self._factor(y))

    def _skew(self, x: Node, y: Node | None = None) -> Affine:
        return Affine.skewing(self._angle(x), 0.0 if y is None else self._angle(y))


def css_transform(text: str, basis: Basis) -> Affine:
    """Return the map of a CSS transform property.

    Percentages in translate refer to the nearest viewport, as the initial value of
    transform-box (view-box) says.
    """
    result = Affine()
    if text.strip().lower() == "none":
        return result
    reader = _CssReader(text, basis)
    for node in values(text):
        result = result @ reader.function(node)
    return result


_ORIGIN_WORDS: Final[dict[str, tuple[Axis | None, str]]] = {
    "left": ("x", "0%"),
    "right": ("x", "100%"),
    "top": ("y", "0%"),
    "bottom": ("y", "100%"),
    "center": (None, "50%"),
}


def transform_origin(text: str, basis: Basis, *, needs_unit: bool) -> tuple[float, float]:
    """Return the point a transform turns about, in user units (CSS Transforms 1, section 6)."""
    words = [node.serialize().lower() for node in values(text)]
    if len(words) == 3 and words[2] in ("0", "0px"):
        words = words[:2]
    if len(words) == 1:
        words.append("center")
    places = [_ORIGIN_WORDS.get(word, (None, word)) for word in words]
    # Side names may stand in either order, but not with a length among them.
    named = all(word in _ORIGIN_WORDS for word in words)
    if len(places) == 2 and named and (places[0][0] == "y" or places[1][0] == "x"):
        places.reverse()
    if len(places) != 2 or places[0][0] == "y" or places[1][0] == "x":
        raise SvgError(
            f"transform-origin: {clipped(text)} cannot be read",
            remedy="Write two lengths, such as 10px 20px.",
        )
    lengths = [
        user_length(value, name="transform-origin", axis=axis, basis=basis, needs_unit=needs_unit)
        for (_, value), axis in zip(places, _AXES, strict=True)
    ]
    return lengths[0], lengths[1]


_AXES: Final[Sequence[Axis]] = ("x", "y")
