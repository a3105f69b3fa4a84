"""Pieces of the fit sheet's pictures: SVG elements inside a page."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from lxml import etree

from ..outline import FloatArray
from ..outline.pathtext import number
from .palette import Style
from .svg_writer import SVG_NAMESPACE


def picture(width: float, height: float, title: str) -> etree._Element:
    """Return an empty picture of a size in its own units, with its description."""
    return etree.Element(
        f"{{{SVG_NAMESPACE}}}svg",
        {
            "viewBox": f"0 0 {number(width)} {number(height)}",
            "role": "img",
            "aria-label": title,
        },
        nsmap={None: SVG_NAMESPACE},  # type: ignore[dict-item]
    )


def text(
    parent: etree._Element, content: str, at: FloatArray, size: float, anchor: str = "middle"
) -> None:
    """Add a line of text at a point of its baseline."""
    element = etree.SubElement(
        parent,
        "text",
        {
            "x": number(float(at[0])),
            "y": number(float(at[1])),
            "font-size": number(size),
            "text-anchor": anchor,
        },
    )
    element.text = content


def line(parent: etree._Element, points: FloatArray, attributes: Mapping[str, str]) -> None:
    """Add an open polyline, shape (m, 2)."""
    # Pictures to look at: a tenth of a millimetre is finer than the screen.
    d = "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in points)
    etree.SubElement(parent, "path", {"d": d, "fill": "none", **attributes})


def stroke(style: Style, width: float) -> dict[str, str]:
    """Attributes of a line in a layer's style."""
    result = {"stroke": style.colour, "stroke-width": number(width)}
    if style.dash:
        result["stroke-dasharray"] = " ".join(number(d) for d in style.dash)
    return result


def finished(root: etree._Element) -> str:
    """Return the picture's text."""
    return etree.tostring(root, encoding="unicode")


def key_line(style: Style) -> str:
    """Return a short sample of a layer's line style."""
    root = picture(44.0, 6.0, f"line style of {style.label}")
    line(root, np.array([[1.0, 3.0], [43.0, 3.0]]), stroke(style, 1.6))
    return finished(root)
