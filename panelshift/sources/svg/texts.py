"""Text elements: what they say, where they start, how large and in which direction."""

from __future__ import annotations

import math

import numpy as np
from lxml import etree

from ...outline import FloatArray
from .affine import Affine
from .lengths import Axis, Basis, user_length
from .naming import collapsed

_SILENT = ("title", "desc", "metadata", "style", "script")
_POSITIONS = ("x", "y", "dx", "dy")


def content(element: etree._Element) -> str:
    """Return the characters of a text element, white space collapsed.

    A ``tspan`` with a position of its own starts a new word, since programs write each line
    of a text as one. Elements of other namespaces and titles are not part of the text.
    """
    pieces: list[str] = []
    _collect(element, pieces)
    return collapsed("".join(pieces))


def _collect(element: etree._Element, pieces: list[str]) -> None:
    # Nesting is bounded by the parser, at about 250 levels.
    pieces.append(element.text or "")
    for child in element:
        if _speaks(child):
            if any(name in child.attrib for name in _POSITIONS):
                pieces.append(" ")
            _collect(child, pieces)
        pieces.append(child.tail or "")


def holders(element: etree._Element) -> list[etree._Element]:
    """Return the elements that the first letter of an element lies in, outermost first."""
    if (element.text or "").strip():
        return [element]
    for child in element:
        inner = holders(child) if _speaks(child) else []
        if inner:
            return [element, *inner]
        if (child.tail or "").strip():
            return [element]
    return []


def _speaks(child: etree._Element) -> bool:
    tag = child.tag
    return isinstance(tag, str) and "}" not in tag and tag not in _SILENT


def start(element: etree._Element, basis: Basis) -> FloatArray:
    """Return where a text starts, in user units, shape (2,).

    It is the x and y of the element or, where it has none, of the first ``tspan`` that has;
    of a list the first is taken. Shifts (dx, dy) and ``text-anchor`` are not followed.

    Raises
    ------
    SvgError
        If one of them is no length.
    """
    point = []
    axes: tuple[Axis, Axis] = ("x", "y")
    for axis in axes:
        owner = next(
            (node for node in element.iter("text", "tspan") if (node.get(axis) or "").strip()),
            None,
        )
        if owner is None:
            point.append(0.0)
            continue
        first = (owner.get(axis) or "").replace(",", " ").split()[0]
        point.append(user_length(first, name=axis, axis=axis, basis=basis))
    return np.array(point)


def size_mm(font_size: float, transform: Affine) -> float:
    """Return the font's height across the baseline in mm."""
    along = math.hypot(transform.a, transform.b)
    return 0.0 if along == 0.0 else font_size * abs(transform.determinant) / along


def angle(transform: Affine) -> float:
    """Return the direction of the baseline in radians, from x towards y."""
    return math.atan2(transform.b, transform.a)
