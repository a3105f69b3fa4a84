"""Layers drawn into the document of a draft, beside it: the draft stays what it is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

import numpy as np
from lxml import etree

from ...files import safe_name
from .document import SVG_NAMESPACE, load, markup
from .elements import ADDED
from .reader import page_map, read_svg

_CLEAR_MM: Final = 20.0
"""Between the draft and the first layer, and between layers."""

_PROGRAM: Final = "http://www.inkscape.org/namespaces/inkscape"
"""Namespace by which a widespread drawing program knows a group as a layer; others ignore it."""


def with_added(
    document: bytes, layers: Mapping[str, bytes], *, name: str = "", scale: float = 1.0
) -> bytes:
    """Return an SVG document with sheets in a row to the right of all that it shows.

    *layers*: each sheet, as SVG that has a viewBox, in mm, by what its group is to be called. Those
    of an earlier time are taken away. *name*: what to call the document in messages. *scale*: of
    the draft; where the document states its size in px alone, it tells how large these are.

    Raises as `read_svg`.
    """
    drawing = read_svg(document, name=name)
    to_mm = page_map(load(document, name))
    root = markup(document)
    for group in [element for element in root.iter() if element.get(ADDED) is not None]:
        if (parent := group.getparent()) is not None:
            parent.remove(group)
    # A size in mm is true on paper whatever the draft in it; px are what the draft makes of them.
    unit = 1.0 / scale if drawing.in_px else 1.0
    ends = [shape.curve.bounds()[1, 0] for shape in drawing.shapes]
    ends += [] if drawing.page is None else [drawing.page[1, 0]]
    x = float(np.max(ends, initial=0.0)) + _CLEAR_MM
    for title, sheet in layers.items():
        drawn = etree.fromstring(sheet)
        left, top, wide, _ = (unit * float(part) for part in (drawn.get("viewBox") or "").split())
        # Both maps only stretch and shift: no drawing program turns its page.
        place = (unit / to_mm.a, unit / to_mm.d)
        at = (x - left - to_mm.e) / to_mm.a, (-top - to_mm.f) / to_mm.d
        root.append(_group(title, drawn, (*place, *at)))
        x += wide + unit * _CLEAR_MM
    return etree.tostring(root.getroottree(), xml_declaration=True, encoding="UTF-8")


def _group(title: str, sheet: etree._Element, place: Iterable[float]) -> etree._Element:
    """One sheet as a group that drawing programs know as a layer."""
    a, d, e, f = (f"{value:.9g}" for value in place)
    ident = f"panelshift-{safe_name(title)}"
    group = etree.Element(
        f"{{{SVG_NAMESPACE}}}g",
        {
            "id": ident,
            ADDED: "layer",
            "aria-label": title,
            f"{{{_PROGRAM}}}groupmode": "layer",
            f"{{{_PROGRAM}}}label": title,
            "transform": f"matrix({a} 0 0 {d} {e} {f})",
            **{key: value for key in _INHERITED if (value := sheet.get(key))},
        },
        nsmap={"inkscape": _PROGRAM},
    )
    for child in sheet:
        if child.tag != f"{{{SVG_NAMESPACE}}}title":
            group.append(child)
    for element in group.iter():
        if element is not group and (own := element.get("id")):
            element.set("id", f"{ident}-{own}")
    group.tail = "\n"
    return group


_INHERITED: Final = ("fill", "stroke-linecap", "stroke-linejoin")
