"""Pictures of each panel in all layers: at true proportion, and with differences magnified."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from lxml import etree

from ..outline import FloatArray
from ..pattern.panel import EdgeName, Panel
from ..pattern.profile import sample_edge
from ..sheets.palette import Style
from ..sheets.picture import finished, line, picture, stroke, text
from ..shift import LayerPattern, Shifted

MAGNIFICATIONS: Final = (50.0, 20.0, 10.0, 5.0, 2.0, 1.0)
_LARGEST_SHOWN_MM: Final = 14.0
_EVERY: Final = 8
_LETTER: Final = 12.0
_BORDER: Final = 18.0
_SPACE: Final = 44.0
_FLIP: Final = np.array([1.0, -1.0])
_SIDES: Final[tuple[EdgeName, ...]] = ("front", "back")


@dataclass(frozen=True, eq=False)
class OverlayFigures:
    """A picture of each panel, all to one scale.

    Parameters
    ----------
    magnified : float
        By how much the differences are drawn larger.
    pictures : tuple of str
        SVG, one a panel.
    """

    magnified: float
    pictures: tuple[str, ...]


def overlay_figures(
    shifted: Shifted, layers: Sequence[LayerPattern], styles: Mapping[str, Style]
) -> OverlayFigures:
    """Draw every panel's outline in all layers, and beside it its side edges with the
    differences from the draft magnified.

    The same scale and magnification hold for all panels, so that they can be compared.
    """
    panels = shifted.turn.pattern.panels
    moved = [_differences(panel, layers, index) for index, panel in enumerate(panels)]
    largest = max(
        (float(np.abs(d).max()) for own in moved for edges in own.values() for _, d in edges),
        default=0.0,
    )
    magnified = next(
        (m for m in MAGNIFICATIONS if m * largest <= _LARGEST_SHOWN_MM), MAGNIFICATIONS[-1]
    )
    boxes = [panel.frame.to_panel(panel.outline.flatten(0.1)) for panel in panels]
    wide, tall = np.max([np.ptp(box, axis=0) for box in boxes], axis=0)
    return OverlayFigures(
        magnified,
        tuple(
            _figure(panel, index, layers, styles, (moved[index], magnified), (wide, tall))
            for index, panel in enumerate(panels)
        ),
    )


Edges = tuple[tuple[FloatArray, FloatArray], ...]
"""For each side edge its points, shape (m, 2), and how far a layer lies from them in u."""


def _differences(panel: Panel, layers: Sequence[LayerPattern], index: int) -> dict[str, Edges]:
    """Side edges of the draft, and how far each layer's lie from them, in mm across."""
    result = {}
    for layer in layers:
        if index not in layer.covered:
            continue
        edges = []
        for name in _SIDES:
            draft, own = sample_edge(panel, name), sample_edge(layer.pattern.panels[index], name)
            points = np.column_stack([draft.u, draft.v])
            edges.append((points, np.interp(draft.v, own.v, own.u) - draft.u))
        result[layer.fabric.name] = tuple(edges)
    return result


def _figure(
    panel: Panel,
    index: int,
    layers: Sequence[LayerPattern],
    styles: Mapping[str, Style],
    differences: tuple[Mapping[str, Edges], float],
    size: tuple[float, float],
) -> str:
    moved, magnified = differences
    wide, tall = size
    box = panel.frame.to_panel(panel.outline.flatten(0.1))
    low, high = box.min(axis=0), box.max(axis=0)
    root = picture(
        2.0 * (wide + _BORDER) + _SPACE,
        tall + 2.0 * _BORDER + _LETTER,
        f"panel {panel.name}: its layers at true proportion and with differences magnified",
    )
    slack = 0.5 * (wide - (high[0] - low[0]))
    true_at = np.array([_BORDER + slack - low[0], _BORDER + high[1]])
    big_at = true_at + np.array([wide + _SPACE, 0.0])
    for layer in layers:
        if layer.fabric.name not in moved:
            continue
        style = styles[layer.fabric.name]
        own = layer.pattern.panels[index]
        shown = panel.frame.to_panel(own.outline.flatten(0.1))
        line(root, shown * _FLIP + true_at, stroke(style, 0.7))
        for points, across in moved[layer.fabric.name]:
            big = points + np.column_stack([magnified * across, np.zeros(len(points))])
            big = np.vstack([big[:-1:_EVERY], big[-1:]])
            line(root, big * _FLIP + big_at, stroke(style, 1.1))
    _levels(root, panel, (true_at, big_at))
    y = tall + 2.0 * _BORDER + 0.4 * _LETTER
    text(root, "true", np.array([_BORDER + 0.5 * wide, y]), _LETTER)
    text(root, f"x {magnified:g}", np.array([_BORDER + 1.5 * wide + _SPACE, y]), _LETTER)
    return finished(root)


def _levels(root: etree._Element, panel: Panel, places: Sequence[FloatArray]) -> None:
    for level in (panel.waist, *panel.levels):
        for at in places:
            points = panel.frame.to_panel(level.curve.flatten(0.1)) * _FLIP + at
            line(root, points, {"stroke": "#777777", "stroke-width": "0.4"})
