"""A drawing saved as SVG in true size, to be looked at and drawn on in any program."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import degrees

import numpy as np
from lxml import etree

from ...errors import PatternError
from ...files.one_line import MOST_LETTERS, refuse_broken_line
from ...files.plain_values import held_to_types
from ...outline import Curve
from ...outline.pathtext import exact_texts, number, path_texts
from ...pattern.drawing import Drawing, LineStyle, Shape, Text
from ...pattern.pattern import Pattern
from .document import SVG_NAMESPACE

_THIN_MM = 0.25

_ATTRIBUTE = re.compile("[A-Za-z][A-Za-z0-9-]*")
"""Names of data attributes that every program keeps."""

_CLEAR_MM = 5.0
"""A panel nearer to the page's edge may be taken for one that it cuts off."""


def drawing_svg(drawing: Drawing, *, exact: bool = False) -> bytes:
    """SVG of all curves and texts of a drawing, in mm, groups and styles kept.

    Lines that nobody has named get no id, so that reading the file again finds no name either.
    Numbers have three decimals: 0.0005 mm at most is lost; or, if *exact*, all they have.
    """
    low, high = _page(drawing)
    width, height = (number(float(side)) for side in high - low)
    root = etree.fromstring(f'<svg xmlns="{SVG_NAMESPACE}"/>')
    root.set("width", f"{width}mm")
    root.set("height", f"{height}mm")
    root.set("viewBox", f"{number(float(low[0]))} {number(float(low[1]))} {width} {height}")
    if drawing.title:
        _child(root, "title").text = drawing.title
    texts = (exact_texts if exact else path_texts)([shape.curve for shape in drawing.shapes])
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


@held_to_types
def draft_svg(
    pattern: Pattern,
    *,
    title: str = "",
    altered: Mapping[str, str] | None = None,
    exact: bool = False,
) -> bytes:
    """SVG of a pattern as a draft, every line of it named, that reads back as the same pattern.

    Parameters
    ----------
    pattern : Pattern
    title : str
        What the drawing calls itself.
    altered : mapping of str to str, optional
        Data attributes of every outline: what was done to the draft.
    exact : bool
        Whether numbers have every digit, not three decimals.

    Returns
    -------
    bytes
        In mm. With three decimals 0.0005 mm at most is lost. Pieces that stand on each
        other are outlines of their own, and lines at which layers are split have their labels:
        reading names both as before.

    Raises
    ------
    PatternError
        If the title, or an attribute, is none that a file can hold.

    Examples
    --------
    >>> from panelshift import DraftPanel, pattern_from_panels, read_pattern
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])])
    >>> read_pattern(draft_svg(pattern)).panels[0].name
    'one'
    """
    refuse_broken_line(title, "the title of a draft", PatternError)
    for key, value in (altered or {}).items():
        if not _ATTRIBUTE.fullmatch(key):
            raise PatternError(
                f"a data attribute of the name {key!a:.60}",
                remedy="Give letters, figures and hyphens, a letter first.",
            )
        refuse_broken_line(value[:MOST_LETTERS], f"the data attribute {key!r}", PatternError)
    taken: set[str] = set()
    shapes: list[Shape] = []
    texts: list[Text] = []
    for panel in (piece for whole in pattern for piece in whole.pieces or (whole,)):
        named = {"panel": panel.name, **(altered or {})}
        shapes.append(_drawn(panel.outline, panel.ident, taken, named))
        labels = {mark.ident: mark.name for mark in panel.marks if mark.kind == "split"}
        for level in panel.level_lines:
            # A name that came up twice on one panel has a number behind it.
            known = level.name.rpartition("~")[0] or level.name
            line = _drawn(level.curve, level.ident, taken, {"level": known})
            shapes.append(_labelled(line, labels.pop(level.ident, ""), taken))
        for mark in panel.marks:
            if mark.kind == "split" and mark.ident not in labels:
                continue  # It is a level line, which bears its label.
            line = _labelled(_drawn(mark.curve, mark.ident, taken, {}), mark.name, taken)
            classes = () if mark.kind == "mark" else (mark.kind,)
            shapes.append(replace(line, classes=classes))
        shapes += [_drawn(slit.curve, slit.ident, taken, {}) for slit in panel.slits]
        texts += panel.texts
    drawing = Drawing(
        tuple(shapes), tuple(texts), source=pattern.source, title=title, page=draft_page(pattern)
    )
    return drawing_svg(drawing, exact=exact)


def draft_page(pattern: Pattern) -> np.ndarray:
    """Low and high corner of the page on which `draft_svg` puts a pattern, in sheet mm, (2, 2).

    Places stay what they are where they can: the low corner is the sheet's own unless a panel lies
    on its edge.
    """
    boxes = np.array([panel.outline.bounds() for panel in pattern.panels])
    low = np.floor(boxes[:, 0].min(axis=0) - _CLEAR_MM)
    return np.array([np.minimum(low, 0.0), np.ceil(boxes[:, 1].max(axis=0) + 10.0)])


_AN_ID = re.compile(r"[A-Za-z_][\w.-]*")


def _labelled(line: Shape, label: str, taken: set[str]) -> Shape:
    """A line with a label, by which others of the draft may be called as well."""
    if not label:
        return line
    ident = f"line-{len(taken)}"
    taken.add(ident)
    return replace(line, names=(ident, label))


def _drawn(curve: Curve, ident: str, taken: set[str], data: dict[str, str]) -> Shape:
    """A line with its own id, where it has one that no other line took."""
    names: tuple[str, ...] = ()
    if _AN_ID.fullmatch(ident) and ident not in taken:
        taken.add(ident)
        names = (ident,)
    return Shape(curve, ident, names, data=data, style=LineStyle("#000000", _THIN_MM))
