"""Write a sheet as SVG: true size in mm, one group for each kind of line.

The lines of text are joined here rather than by an XML library, which costs more than all the
geometry: what is written is a list of groups of paths, whose names and numbers hold nothing to
escape, and labels, whose words are escaped. A test reads each file and writes it again by lxml.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from html import escape
from itertools import groupby
from typing import Final

import numpy as np
from lxml import etree

from ..files import safe_name
from ..outline import FloatArray
from ..outline.pathtext import number, path_texts
from .palette import BLACK, PAPER, SOFT, STYLES, Style
from .sheet import Label, Sheet, Stroke

SVG_NAMESPACE: Final = "http://www.w3.org/2000/svg"
FONT_FAMILY: Final = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"
_safe_name = lru_cache(maxsize=4096)(safe_name)


def sheet_svg(sheet: Sheet) -> bytes:
    """Return a sheet as an SVG document; the same sheet always gives the same bytes."""
    width, height = number(sheet.width), number(sheet.height)
    lines = [
        "<?xml version='1.0' encoding='UTF-8'?>",
        f'<svg xmlns="{SVG_NAMESPACE}" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" version="1.1" fill="none" stroke-linecap="round" '
        'stroke-linejoin="round">',
        f" <title>{_escaped(sheet.title)}</title>",
        *_line_groups(sheet),
        *_label_groups(sheet.labels),
        "</svg>\n",
    ]
    return "\n".join(lines).encode()


def _line_groups(sheet: Sheet) -> Iterator[str]:
    """Groups of the layers, then of the kinds of lines that belong to no layer."""
    of_layer: dict[str, list[Stroke]] = {layer.name: [] for layer in sheet.layers}
    of_kind: dict[str, list[Stroke]] = {kind: [] for kind in STYLES}
    for stroke in sheet.strokes:
        if not stroke.layer:
            of_kind[stroke.kind].append(stroke)
        elif stroke.layer in of_layer:
            of_layer[stroke.layer].append(stroke)
    groups = [(layer.ident, layer.style, of_layer[layer.name]) for layer in sheet.layers]
    groups += [(kind, style, of_kind[kind]) for kind, style in STYLES.items() if of_kind[kind]]
    # All numbers of the sheet are written at once.
    paths = iter(path_texts([stroke.curve for _, _, strokes in groups for stroke in strokes]))
    for ident, style, strokes in groups:
        start = f' <g id="{ident}" stroke="{style.colour}" stroke-width="{number(style.width)}"'
        if style.dash:
            # Round caps would close the spaces of a short dash.
            dash = " ".join(number(part) for part in style.dash)
            start += f' stroke-dasharray="{dash}" stroke-linecap="butt"'
        if not strokes:
            yield f"{start}/>"
            continue
        yield f"{start}>"
        for name, own in zip(_idents(ident, strokes), strokes, strict=True):
            said = f' data-level="{_escaped(own.level, quote=True)}"' if own.level else ""
            if own.kind == "stitch-line" and own.panel and not own.layer:
                # What is read again has the panel's own name.
                said += f' data-panel="{_escaped(own.panel, quote=True)}"'
            yield f'  <path id="{name}"{said} d="{next(paths)}"/>'
        yield " </g>"


def _idents(group: str, strokes: Sequence[Stroke]) -> Iterator[str]:
    """An id for each line of a group: its panel's name, with a number from the second on."""
    used: dict[str, int] = {}
    for stroke in strokes:
        ident = f"{group}-{_safe_name(stroke.panel)}" if stroke.panel else f"{group}-sheet"
        used[ident] = used.get(ident, 0) + 1
        yield ident if used[ident] == 1 else f"{ident}-{used[ident]}"


def _label_groups(labels: Iterable[Label]) -> Iterator[str]:
    """The draft's own words, then those that were added."""
    ordered = sorted(labels, key=lambda label: not label.drafted)
    for drafted, chosen in groupby(ordered, key=lambda label: label.drafted):
        ident, fill = ("draft-text", SOFT) if drafted else ("labels", BLACK)
        # The white edge lies under the letters: lines never run through them.
        yield (
            f' <g id="{ident}" fill="{fill}" stroke="{PAPER}" stroke-width="1" '
            f'paint-order="stroke" font-family="{FONT_FAMILY}">'
        )
        for label in chosen:
            yield _text(label)
        yield " </g>"


def _text(label: Label) -> str:
    x, y = (number(value) for value in label.at.tolist())
    weight = ' font-weight="bold"' if label.bold else ""
    anchor = ' text-anchor="middle"' if label.align == "middle" else ""
    turn = ""
    if label.angle:
        turn = f' transform="rotate({number(float(np.degrees(label.angle)))} {x} {y})"'
    size = number(label.size)
    return (
        f'  <text x="{x}" y="{y}" font-size="{size}"{weight}{anchor}{turn}>'
        f"{_escaped(label.text)}</text>"
    )


@lru_cache(maxsize=4096)
def _escaped(text: str, *, quote: bool = False) -> str:
    """Leave out control characters, most of which XML cannot hold and none of which can be read."""
    return escape(
        "".join(ch for ch in text if unicodedata.category(ch) != "Cc" and ch not in "\ufffe\uffff"),
        quote=quote,
    )


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


def stand_alone(drawn: str) -> str:
    """Return a picture as a file of its own: with a size, a white ground and a font."""
    root = etree.fromstring(drawn)
    _, _, wide, tall = (root.get("viewBox") or "").split()
    root.set("width", f"{wide}mm")
    root.set("height", f"{tall}mm")
    root.set("font-family", FONT_FAMILY)
    root.insert(0, etree.Element("rect", {"width": "100%", "height": "100%", "fill": PAPER}))
    return etree.tostring(root, encoding="unicode") + "\n"
