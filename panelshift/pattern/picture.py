"""Small pictures for notebooks: panels as they lie on the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np

from ..outline import Curve
from ..outline.pathtext import number, path_data
from .panel import Panel

_COLOURS = ("#0b6e4f", "#14486b", "#b3541e", "#7a1f4b", "#3d3d3d", "#6a4c93")
_DASHES = ("", "6 2", "2 1.5", "8 1.5 1.5 1.5", "0.8 1.2", "12 1.5 1.5 1.5 1.5 1.5")


def panels_picture(layers: Sequence[tuple[str, Sequence[Panel]]], title: str) -> str:
    """SVG text of the stitch lines of one or several layers on top of each other.

    Parameters
    ----------
    layers : sequence of (str, sequence of Panel)
        Name of each layer and its panels; the first layer's marks are drawn too.
    title : str
    """
    everything = np.vstack([p.outline.flatten(0.2) for _, panels in layers for p in panels])
    low, high = everything.min(axis=0) - 8.0, everything.max(axis=0) + 8.0
    x, y, width, height = (number(float(v)) for v in (*low, *(high - low)))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x} {y} {width} {height}" '
        f'width="100%" style="max-height:30em" fill="none" font-family="sans-serif">'
        f"<title>{escape(title)}</title>"
    ]
    for place, (name, panels) in enumerate(layers):
        dash = _DASHES[place % len(_DASHES)]
        parts.append(
            f'<g stroke="{_COLOURS[place % len(_COLOURS)]}" stroke-width="0.7"'
            + (f' stroke-dasharray="{dash}"' if dash else "")
            + f"><title>{escape(name)}</title>"
        )
        parts += [_path(panel.outline) for panel in panels]
        parts.append("</g>")
    parts.append('<g stroke="#6b746f" stroke-width="0.4">')
    for panel in layers[0][1]:
        parts += [_path(level.curve) for level in (panel.waist, *panel.levels)]
        parts += [_path(mark.curve) for mark in panel.marks]
    parts.append('</g><g fill="#1d2321" font-size="9" text-anchor="middle">')
    for panel in layers[0][1]:
        at = panel.frame.origin + 12.0 * panel.frame.up
        parts.append(
            f'<text x="{number(float(at[0]))}" y="{number(float(at[1]))}">'
            f"{escape(panel.name)}</text>"
        )
    return "".join([*parts, "</g></svg>"])


def _path(curve: Curve) -> str:
    return f'<path d="{path_data(curve)}"/>'
