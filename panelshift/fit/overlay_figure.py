"""Pictures of each panel in all layers: at true proportion, and with differences magnified."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from lxml import etree

from ..outline import FloatArray
from ..pattern.panel import Panel
from ..sheets.palette import FAINT, Style
from ..sheets.picture import finished, line, picture, stroke, text
from .layer_change import OutlineChange

_LETTER: Final = 12.0
_BORDER: Final = 18.0
_SPACE: Final = 44.0
_FLIP: Final = np.array([1.0, -1.0])


def overlay_figures(
    panels: Sequence[Panel],
    changes: Sequence[Mapping[str, OutlineChange]],
    styles: Mapping[str, Style],
    magnified: float,
) -> list[str]:
    """Draw every panel's outline in all layers, and beside it the same with the differences
    from the draft magnified; a mm is as long in all of them.

    *panels*: of the draft. *changes*: for each panel; see `layer_changes`. *magnified*: how many
    times as large differences are drawn.
    """
    shown = [
        [change.at(times) for change in own.values() for times in (1.0, magnified)]
        for own in changes
    ]
    boxes = [
        np.vstack([_outline(panel), *lines]) for panel, lines in zip(panels, shown, strict=True)
    ]
    room = np.max([np.ptp(box, axis=0) for box in boxes], axis=0)
    return [
        _figure(panel, own, styles, magnified, (box, room))
        for panel, own, box in zip(panels, changes, boxes, strict=True)
    ]


def _outline(panel: Panel) -> FloatArray:
    return panel.frame.to_panel(panel.outline.flatten(0.1))


def _figure(
    panel: Panel,
    changes: Mapping[str, OutlineChange],
    styles: Mapping[str, Style],
    magnified: float,
    frame: tuple[FloatArray, FloatArray],
) -> str:
    box, (wide, tall) = frame
    low, high = box.min(axis=0), box.max(axis=0)
    root = picture(
        2.0 * (wide + _BORDER) + _SPACE,
        tall + 2.0 * _BORDER + _LETTER,
        f"panel {panel.name}: its layers at true proportion and with differences magnified",
    )
    slack = 0.5 * (wide - (high[0] - low[0]))
    true_at = np.array([_BORDER + slack - low[0], _BORDER + high[1]])
    big_at = true_at + np.array([wide + _SPACE, 0.0])
    for name, change in changes.items():
        line(root, change.at(1.0) * _FLIP + true_at, stroke(styles[name], 0.7))
        line(root, change.at(magnified) * _FLIP + big_at, stroke(styles[name], 1.1))
    _levels(root, panel, (true_at, big_at))
    y = tall + 2.0 * _BORDER + 0.4 * _LETTER
    text(root, "true", np.array([_BORDER + 0.5 * wide, y]), _LETTER)
    text(root, f"x {magnified:g}", np.array([_BORDER + 1.5 * wide + _SPACE, y]), _LETTER)
    return finished(root)


def _levels(root: etree._Element, panel: Panel, origins: Sequence[FloatArray]) -> None:
    for level in (panel.waist, *panel.levels):
        for at in origins:
            points = panel.frame.to_panel(level.curve.flatten(0.1)) * _FLIP + at
            line(root, points, {"stroke": FAINT, "stroke-width": "0.4"})
