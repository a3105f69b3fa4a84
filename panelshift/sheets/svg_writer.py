"""Write a sheet as SVG: true size in mm, one group for each kind of line."""

from __future__ import annotations

import unicodedata
from typing import Final

import numpy as np
from lxml import etree

from ..files import safe_name
from ..outline.pathtext import number, path_data
from .palette import BLACK, PAPER, SOFT, STYLES, Style
from .sheet import Label, Sheet, Stroke

SVG_NAMESPACE: Final = "http://www.w3.org/2000/svg"
FONT_FAMILY = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"


def sheet_svg(sheet: Sheet) -> bytes:
    """Return a sheet as an SVG document; the same sheet always gives the same bytes."""
    width, height = number(sheet.width), number(sheet.height)
    root = etree.Element(
        f"{{{SVG_NAMESPACE}}}svg",
        {
            "width": f"{width}mm",
            "height": f"{height}mm",
            "viewBox": f"0 0 {width} {height}",
            "version": "1.1",
            "fill": "none",
            "stroke-linecap": "round",
            "stroke-linejoin": "round",
        },
        nsmap={None: SVG_NAMESPACE},  # type: ignore[dict-item]
    )
    etree.SubElement(root, "title").text = _printable(sheet.title)
    if sheet.layers:
        _layer_groups(root, sheet)
    _kind_groups(root, [stroke for stroke in sheet.strokes if not stroke.layer])
    _label_groups(root, sheet.labels)
    etree.indent(root, " ")
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8") + b"\n"


def _styled(root: etree._Element, ident: str, style: Style) -> etree._Element:
    group = etree.SubElement(
        root, "g", {"id": ident, "stroke": style.colour, "stroke-width": number(style.width)}
    )
    if style.dash:
        group.set("stroke-dasharray", " ".join(number(part) for part in style.dash))
        # Round caps would close the spaces of a short dash.
        group.set("stroke-linecap", "butt")
    return group


def _kind_groups(root: etree._Element, strokes: list[Stroke]) -> None:
    for kind, style in STYLES.items():
        chosen = [stroke for stroke in strokes if stroke.kind == kind]
        if not chosen:
            continue
        group = _styled(root, kind, style)
        _paths(group, chosen, kind)


def _layer_groups(root: etree._Element, sheet: Sheet) -> None:
    for layer in sheet.layers:
        chosen = [stroke for stroke in sheet.strokes if stroke.layer == layer.name]
        _paths(_styled(root, layer.ident, layer.style), chosen, layer.ident)


def _paths(group: etree._Element, strokes: list[Stroke], prefix: str) -> None:
    used: dict[str, int] = {}
    for stroke in strokes:
        ident = f"{prefix}-{safe_name(stroke.panel)}" if stroke.panel else prefix + "-sheet"
        used[ident] = used.get(ident, 0) + 1
        unique = ident if used[ident] == 1 else f"{ident}-{used[ident]}"
        etree.SubElement(group, "path", {"id": unique, "d": path_data(stroke.curve)})


def _label_groups(root: etree._Element, labels: tuple[Label, ...]) -> None:
    for ident, drafted in (("draft-text", True), ("labels", False)):
        chosen = [label for label in labels if label.drafted == drafted]
        if not chosen:
            continue
        group = etree.SubElement(
            root,
            "g",
            {
                "id": ident,
                "fill": SOFT if drafted else BLACK,
                "stroke": PAPER,
                "stroke-width": "1",
                # The white edge lies under the letters: lines never run through them.
                "paint-order": "stroke",
                "font-family": FONT_FAMILY,
            },
        )
        for label in chosen:
            _text(group, label)


def _text(group: etree._Element, label: Label) -> None:
    x, y = number(float(label.at[0])), number(float(label.at[1]))
    attributes = {"x": x, "y": y, "font-size": number(label.size)}
    if label.bold:
        attributes["font-weight"] = "bold"
    if label.align == "middle":
        attributes["text-anchor"] = "middle"
    if label.angle:
        attributes["transform"] = f"rotate({number(float(np.degrees(label.angle)))} {x} {y})"
    etree.SubElement(group, "text", attributes).text = _printable(label.text)


def _printable(text: str) -> str:
    """Leave out control characters: XML cannot hold most, and none can be read."""
    return "".join(
        ch for ch in text if unicodedata.category(ch) != "Cc" and ch not in "\ufffe\uffff"
    )
