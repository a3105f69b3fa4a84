"""A drawing saved as SVG in true size, to be looked at and drawn on in any program."""

from __future__ import annotations

from collections.abc import Sequence
from math import degrees

import numpy as np
from lxml import etree

from ...outline.pathtext import number, path_texts
from ...pattern.drawing import Drawing, LineStyle, Shape, Text
from .document import SVG_NAMESPACE

_THIN_MM = 0.25


def drawing_svg(drawing: Drawing) -> bytes:
    """SVG of all curves and texts of a drawing, in mm, groups and styles kept.

    Lines that nobody has named get no id, so that reading the file again finds no name either.
    Numbers have three decimals: 0.0005 mm at most is lost.
    """
    low, high = _page(drawing)
    width, height = (number(float(side)) for side in high - low)
    root = etree.fromstring(f'<svg xmlns="{SVG_NAMESPACE}"/>')
    root.set("width", f"{width}mm")
    root.set("height", f"{height}mm")
    root.set("viewBox", f"{number(float(low[0]))} {number(float(low[1]))} {width} {height}")
    if drawing.title:
        _child(root, "title").text = drawing.title
    texts = path_texts([shape.curve for shape in drawing.shapes])
    inside = root
    groups: tuple[str, ...] = ()
    for shape, data in zip(drawing.shapes, texts, strict=True):
        if shape.groups != groups:
            groups, inside = shape.groups, _group(root, shape.groups)
        _child(inside, "path", {**_names(shape), "d": data, **_look(shape.style)})
    for text in drawing.texts:
        _put(_group(root, text.groups) if text.groups else root, text)
    etree.indent(root)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8")


def _page(drawing: Drawing) -> tuple[np.ndarray, np.ndarray]:
    if drawing.page is not None:
        return drawing.page[0], drawing.page[1]
    boxes = np.array([shape.curve.bounds() for shape in drawing.shapes])
    return boxes[:, 0].min(axis=0) - 10.0, boxes[:, 1].max(axis=0) + 10.0


def _child(
    parent: etree._Element, tag: str, attributes: dict[str, str] | None = None
) -> etree._Element:
    return etree.SubElement(parent, f"{{{SVG_NAMESPACE}}}{tag}", attributes or {})


def _group(root: etree._Element, groups: Sequence[str]) -> etree._Element:
    for name in groups:
        root = _child(root, "g", {"aria-label": name})
    return root


def _names(shape: Shape) -> dict[str, str]:
    """What a person has called it; classes and data as they are."""
    found = {f"data-{key}": value for key, value in shape.data.items()}
    if shape.names:
        found["id"] = shape.names[0]
    if len(shape.names) > 1:
        found["aria-label"] = shape.names[1]
    if shape.classes:
        found["class"] = " ".join(shape.classes)
    return found


def _look(style: LineStyle) -> dict[str, str]:
    if style.width is None:
        return {"fill": "#dddddd", "stroke": "none"}
    found = {
        "fill": "none",
        "stroke": style.colour if style.colour.startswith("#") else "#000000",
        "stroke-width": number(style.width or _THIN_MM),
    }
    if style.dash:
        found["stroke-dasharray"] = " ".join(map(number, style.dash))
    return found


def _put(parent: etree._Element, text: Text) -> None:
    x, y = (number(float(value)) for value in text.anchor)
    attributes = {
        "x": x,
        "y": y,
        "font-size": number(text.size),
        "font-family": "sans-serif",
        "text-anchor": text.align,
    }
    if text.bold:
        attributes["font-weight"] = "bold"
    if text.angle:
        attributes["transform"] = f"rotate({number(degrees(text.angle))} {x} {y})"
    _child(parent, "text", attributes).text = text.content
