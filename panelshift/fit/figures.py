"""Pictures of the fit sheet, as SVG inside the page."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from lxml import etree

from ..cutting.sheet import Style
from ..cutting.svg_writer import SVG_NAMESPACE, number
from ..outline import FloatArray
from ..pattern.panel import EdgeName
from ..pattern.profile import sample_edge
from ..shift import LayerPattern, Shifted
from .section import Section

_LIGHT, _DARK = np.array([246, 233, 210]), np.array([122, 31, 75])
MAGNIFIED = 10.0
_EVERY = 8
_SIDES: tuple[EdgeName, ...] = ("front", "back")


def _svg(width: float, height: float, title: str) -> etree._Element:
    return etree.Element(
        f"{{{SVG_NAMESPACE}}}svg",
        {
            "viewBox": f"0 0 {number(width)} {number(height)}",
            "role": "img",
            "aria-label": title,
            "class": "figure",
        },
        nsmap={None: SVG_NAMESPACE},  # type: ignore[dict-item]
    )


def _text(
    parent: etree._Element, text: str, at: FloatArray, size: float, anchor: str = "middle"
) -> None:
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
    element.text = text


def _line(parent: etree._Element, points: FloatArray, attributes: dict[str, str]) -> None:
    # Pictures to look at: a tenth of a millimetre is finer than the screen.
    d = "M" + "L".join(f"{x:.1f},{y:.1f}" for x, y in points)
    etree.SubElement(parent, "path", {"d": d, "fill": "none", **attributes})


def _done(root: etree._Element) -> str:
    return etree.tostring(root, encoding="unicode")


def section_figure(section: Section) -> str:
    """Section of the body, each panel as strongly coloured as it turns, with its degrees."""
    everything = np.vstack([points for _, points in section.parts])
    low, high = everything.min(axis=0), everything.max(axis=0)
    border = 62.0
    offset = border - low
    width, height = high - low + 2.0 * border
    root = _svg(width, height, f"body section at the {section.level}")
    rates = [
        angle / max(float(np.hypot(*np.diff(points, axis=0).T).sum()), 1e-9)
        for (_, points), angle in zip(section.parts, section.angles, strict=True)
    ]
    cloth = [rate for rate, (name, _) in zip(rates, section.parts, strict=True) if name]
    least, most = min(cloth), max(cloth)
    middle = everything.mean(axis=0) + offset
    for (name, points), angle, rate in zip(section.parts, section.angles, rates, strict=True):
        moved = points + offset
        if not name:
            _line(
                root, moved, {"stroke": "#555555", "stroke-width": "1", "stroke-dasharray": "3 4"}
            )
            continue
        share = 0.5 if most - least < 1e-12 else (rate - least) / (most - least)
        colour = "#" + "".join(f"{int(c):02x}" for c in _LIGHT + share * (_DARK - _LIGHT))
        _line(root, moved, {"stroke": "#222222", "stroke-width": "9"})
        _line(root, moved, {"stroke": colour, "stroke-width": "7"})
        ends = moved[[0, -1]]
        for end in ends:
            outward = (end - middle) / np.hypot(*(end - middle))
            tick = np.array([end - 7.0 * outward, end + 7.0 * outward])
            _line(root, tick, {"stroke": "#222222", "stroke-width": "1.6"})
        at = moved[len(moved) // 2]
        outward = (at - middle) / np.hypot(*(at - middle))
        place = at + 30.0 * outward + np.array([0.0, -2.0])
        _text(root, _short(name), place, 11.0)
        _text(root, f"{np.degrees(angle):.1f}°", place + np.array([0.0, 13.0]), 12.0)
    front = np.array([middle[0], float(high[1] + offset[1]) - 16.0])
    back = np.array([middle[0], float(low[1] + offset[1]) + 24.0])
    _text(root, "centre front", front, 12.0)
    _text(root, "centre back", back, 12.0)
    return _done(root)


def _short(name: str) -> str:
    return name if len(name) <= 10 else name.split()[0][:10]


def overlay_figure(
    shifted: Shifted, layers: Sequence[LayerPattern], styles: dict[str, Style], index: int
) -> str:
    """A panel's edges in all layers: at true proportion, and with differences magnified."""
    panel = shifted.turn.pattern.panels[index]
    outline = panel.frame.to_panel(panel.outline.flatten(0.1))
    low, high = outline.min(axis=0), outline.max(axis=0)
    wide, tall = high - low
    space, border = 46.0, 26.0
    root = _svg(2.0 * wide + 2.0 * border + space, tall + 2.0 * border + 8.0, _title(panel.name))
    true_at = np.array([border - low[0], border + high[1]])
    big_at = true_at + np.array([wide + space, 0.0])
    flip = np.array([1.0, -1.0])
    for layer in layers:
        if index not in layer.covered:
            continue
        style = styles[layer.fabric.name]
        stroke = {"stroke": style.colour, "stroke-width": "0.7"}
        if style.dash:
            stroke["stroke-dasharray"] = " ".join(number(d) for d in style.dash)
        own = layer.pattern.panels[index]
        _line(root, own.frame.to_panel(own.outline.flatten(0.1)) * flip + true_at, stroke)
        bold = {**stroke, "stroke-width": "1"}
        for name in _SIDES:
            draft, moved = sample_edge(panel, name), sample_edge(own, name)
            u = np.interp(draft.v, moved.v, moved.u)
            points = np.column_stack([draft.u + MAGNIFIED * (u - draft.u), draft.v])
            points = np.vstack([points[:-1:_EVERY], points[-1:]])
            _line(root, points * flip + big_at, bold)
    for level in (panel.waist, *panel.levels):
        for at in (true_at, big_at):
            points = panel.frame.to_panel(level.curve.flatten(0.1)) * flip + at
            _line(root, points, {"stroke": "#777777", "stroke-width": "0.4"})
    y = tall + 2.0 * border
    _text(root, "true", np.array([border + 0.5 * wide, y]), 13.0)
    _text(root, f"differences x {MAGNIFIED:.0f}", np.array([border + 1.5 * wide + space, y]), 13.0)
    return _done(root)


def _title(name: str) -> str:
    return f"panel {name}: edges of all layers, at true proportion and with differences magnified"


def key_figure(styles: dict[str, Style]) -> str:
    """The layers' line styles with their names."""
    root = _svg(150.0 * min(len(styles), 4), 16.0 * (1 + (len(styles) - 1) // 4), "line styles")
    for place, (name, style) in enumerate(styles.items()):
        x, y = 150.0 * (place % 4) + 2.0, 16.0 * (place // 4) + 10.0
        stroke = {"stroke": style.colour, "stroke-width": "1.6"}
        if style.dash:
            stroke["stroke-dasharray"] = " ".join(number(d) for d in style.dash)
        _line(root, np.array([[x, y - 3.0], [x + 34.0, y - 3.0]]), stroke)
        _text(root, name[:18], np.array([x + 40.0, y]), 11.0, "start")
    return _done(root)
