"""Which elements draw, which only hold others, and the order in which they stand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from lxml import etree

GROUPS: Final = frozenset(("g", "a", "switch"))
"""Elements whose children are drawn in place; a switch is read whole, not by language."""

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
