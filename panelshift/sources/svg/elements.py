"""Which elements draw, in which order they stand, and what they are called."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from lxml import etree

from ...files.one_line import MOST_LETTERS, collapsed
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

ADDED: Final = "data-panelshift"
"""Attribute of a group that panelshift drew into a draft's document: no part of the draft."""

BOXES: Final = "BoundingBox"
"""Class of the rectangle that an office program writes before each shape, and does not paint."""

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


def is_unpainted_box(tag: str, attributes: Mapping[str, str]) -> bool:
    """Whether an element only tells how far the shape beside it reaches.

    Examples
    --------
    >>> is_unpainted_box("rect", {"class": "BoundingBox", "stroke": "none", "fill": "none"})
    True
    >>> is_unpainted_box("rect", {"class": "BoundingBox", "stroke": "black", "fill": "none"})
    False
    """
    return (
        tag == "rect"
        and attributes.get("class") == BOXES
        and attributes.get("stroke") == "none"
        and attributes.get("fill") == "none"
    )


CONDITIONS: Final = ("requiredExtensions", "systemLanguage")
"""Attributes that `condition` looks at."""


def condition(attributes: Mapping[str, str]) -> str:
    """Say why an element may not be drawn at all, or return an empty text.

    A browser has no extensions that a drawing could ask for, and which language it is set to
    is not known here (SVG 2, section 5.10).
    """
    if attributes.get("requiredExtensions") is not None:
        return "it asks for an extension (requiredExtensions)"
    if attributes.get("systemLanguage") is not None:
        return "it is drawn in some languages only (systemLanguage)"
    return ""


def moving_animation(root: etree._Element) -> etree._Element | None:
    """Return the first animation in a file that would move or hide a line, or None."""
    for element in root.iter("animate", "animateTransform", "animateMotion", "set"):
        name = (element.get("attributeName") or "").strip()
        if element.tag in ("animateTransform", "animateMotion") or name in _MOVED_BY:
            return element
    return None


MOST_CLASSES: Final = 50
"""Classes of an element that are looked at."""


def _name(text: str | None) -> str:
    if not text:
        return ""
    if len(text) <= MOST_LETTERS and " " not in text and text.isprintable():
        # Nothing to collapse; most ids are such.
        return text
    return collapsed(text)[:MOST_LETTERS].strip()


def attributes_of(element: etree._Element) -> dict[str, str]:
    """Return the attributes of an element, looked up faster than through lxml."""
    # Any: the stubs of lxml allow for bytes, which no parsed file holds.
    attributes: Any = dict(element.items())
    found: dict[str, str] = attributes
    return found


def own_id(attributes: Mapping[str, str]) -> str:
    """Return an element's id, or an empty string."""
    return _name(attributes.get("id"))


_CODED: Final = re.compile("_x([0-9A-F]{2,4})_")


def _written_out(ident: str) -> str:
    """Return the name that a program made an id of: ``1`` of ``_x31_``, ``a_b`` of ``a_x5F_b``.

    Ids cannot begin with a digit, nor have signs in them; some programs write their numbers then.
    """

    def letter(match: re.Match[str]) -> str:
        sign = chr(int(match[1], 16))
        needed = not sign.isalnum() or (sign.isdigit() and match.start() == 0)
        return sign if sign.isprintable() and needed else match[0]

    return _CODED.sub(letter, ident) if "_x" in ident else ident


def own_title(element: etree._Element) -> str:
    """Return the text of an element's own title, or an empty string."""
    title = element.find("title")
    return "" if title is None else _name("".join(map(str, title.itertext())))


_SILENT: Final = frozenset(("id", "style", "d", "points", "transform", "x", "y", "width", "height"))
"""Attributes that name nothing, or not here; a shortcut, for most elements have no others."""


def own_words(
    element: etree._Element, attributes: Mapping[str, str], ident: str
) -> tuple[tuple[str, ...], dict[str, str], tuple[str, ...]]:
    """Return what an element says of itself: its names, its data attributes and its classes.

    The names are id, labels and title, each once and in this order; data attributes come without
    their ``data-`` prefix.
    """
    names: list[str] = [_written_out(ident)]
    data: dict[str, str] = {}
    classes: tuple[str, ...] = ()
    for key, value in attributes.items():
        if key in _SILENT:
            continue
        if key.startswith("data-"):
            data[_name(key[5:])] = _name(value)
        elif key == "class":
            classes = _each_once(map(_name, value.split()[:MOST_CLASSES]))
        elif key.endswith("label"):
            names[1:] = _labels(attributes)
    if len(element):
        names.append(own_title(element))
    return _each_once(names), data, classes


def _each_once(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(filter(None, names)))


def best_name(element: etree._Element, attributes: Mapping[str, str]) -> str:
    """Return the label of a group, else its title, else its id, else an empty string."""
    found = (*_labels(attributes), own_title(element), _written_out(own_id(attributes)))
    return next(filter(None, found), "")


def _labels(attributes: Mapping[str, str]) -> list[str]:
    """Label attributes of any namespace, as drawing programs write them, then aria-label."""
    found = [
        _name(value)
        for key, value in attributes.items()
        if key.endswith("label") and key.rpartition("}")[2] == "label"
    ]
    return [*found, _name(attributes.get("aria-label"))]


class Idents:
    """Gives out names that are unique in a drawing."""

    def __init__(self) -> None:
        self._taken: set[str] = set()
        self._next: dict[str, int] = {}

    def unique(self, name: str) -> str:
        """Return the name, or the name with a number where it is taken."""
        ident = name
        while ident in self._taken:
            count = self._next.get(name, 2)
            self._next[name] = count + 1
            ident = f"{name} ({count})"
        self._taken.add(ident)
        return ident


def holders(element: etree._Element) -> list[etree._Element]:
    """Return the elements that the first letter of an element lies in, outermost first."""
    if (element.text or "").strip():
        return [element]
    for child in element:
        inner = holders(child) if speaks(child) else []
        if inner:
            return [element, *inner]
        if (child.tail or "").strip():
            return [element]
    return []


def speaks(child: etree._Element) -> bool:
    """Whether an element inside a text is part of what it says."""
    tag = child.tag
    return isinstance(tag, str) and "}" not in tag and tag not in _WORDLESS


_WORDLESS: Final = ("title", "desc", "metadata", "style", "script")
