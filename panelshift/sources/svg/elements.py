"""Which elements draw, which only hold others, and the order in which they stand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from lxml import etree

from .styles import PROPERTIES

GROUPS: Final = frozenset(("g", "a"))
"""Elements whose children are all drawn in place."""

UNDRAWN: Final = frozenset(
    (
        *("defs", "symbol", "clipPath", "mask", "pattern", "marker", "filter", "hatch", "view"),
        *("linearGradient", "radialGradient", "meshgradient", "solidcolor", "color-profile"),
        *("font", "font-face", "glyph", "cursor", "metadata", "title", "desc"),
        *("style", "script", "animate", "animateColor", "animateMotion", "animateTransform"),
        *("set", "discard"),
    )
)
"""Elements that draw nothing where they stand (SVG 2, section 5.1, never-rendered)."""

DRAWN: Final = frozenset(
    (
        *("path", "polygon", "polyline", "rect", "circle", "ellipse", "line"),
        *("text", "image", "use", "foreignObject"),
    )
)
"""Elements that draw something, or refer to it."""

_MOVED_BY: Final = frozenset(
    (
        *("points", "x1", "y1", "x2", "y2", "viewBox", "preserveAspectRatio", "href"),
        *("xlink:href", "class", "style", *PROPERTIES),
    )
)
"""Attributes that an animation must not change: each decides where a line lies."""


def steps(element: etree._Element) -> Iterator[tuple[etree._Element, str]]:
    """Yield the SVG children of an element with their steps, such as ``path[3]``.

    Comments, processing instructions and elements of other namespaces are passed over.
    """
    counts: dict[str, int] = {}
    for child in element:
        tag = child.tag
        # lxml gives a function in place of a name for comments and the like.
        if not isinstance(tag, str) or "}" in tag:
            continue
        counts[tag] = counts.get(tag, 0) + 1
        yield child, f"{tag}[{counts[tag]}]"


def drawn_inside(element: etree._Element) -> int:
    """Count the elements in a group that would be drawn; a use counts as one."""
    count, waiting = 0, [element]
    while waiting:
        for child, _ in steps(waiting.pop()):
            if child.tag in DRAWN:
                count += 1
            elif child.tag not in UNDRAWN:
                waiting.append(child)
    return count


def condition(element: etree._Element) -> str:
    """Say why an element may not be drawn at all, or return an empty text.

    A browser has no extensions that a drawing could ask for, and which language it is set to
    is not known here (SVG 2, section 5.10).
    """
    if element.get("requiredExtensions") is not None:
        return "it asks for an extension (requiredExtensions)"
    if element.get("systemLanguage") is not None:
        return "it is drawn in some languages only (systemLanguage)"
    return ""


def moving_animation(root: etree._Element) -> etree._Element | None:
    """Return the first animation in a file that would move or hide a line, or None."""
    for element in root.iter("animate", "animateTransform", "animateMotion", "set"):
        name = (element.get("attributeName") or "").strip()
        if element.tag in ("animateTransform", "animateMotion") or name in _MOVED_BY:
            return element
    return None
