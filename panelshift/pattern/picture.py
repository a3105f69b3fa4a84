"""Small pictures for notebooks: lines as they lie on the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.pathtext import number, path_data

_COLOURS = ("#0b6e4f", "#14486b", "#b3541e", "#7a1f4b", "#3d3d3d", "#6a4c93")
_DASHES = ("", "6 2", "2 1.5", "8 1.5 1.5 1.5", "0.8 1.2", "12 1.5 1.5 1.5 1.5 1.5")


def picture(
    layers: Sequence[tuple[str, Sequence[Curve]]],
    lines: Sequence[Curve],
    words: Sequence[tuple[str, FloatArray]],
    title: str,
) -> str:
    """SVG text of the outlines of one or several layers on top of each other.

    *layers*: sequence of (str, sequence of Curve). Name of each layer and its outlines. *lines*:
    drawn in grey on top. *words*: sequence of (str, ndarray). Texts, and the middle of each one's
    baseline in mm.
    """
    everything = np.vstack([curve.flatten(0.2) for _, outlines in layers for curve in outlines])
    low, high = everything.min(axis=0) - 8.0, everything.max(axis=0) + 8.0
    x, y, width, height = (number(float(v)) for v in (*low, *(high - low)))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x} {y} {width} {height}" '
        f'width="100%" style="max-height:30em" fill="none" font-family="sans-serif">'
        f"<title>{escape(title)}</title>"
    ]
    for index, (name, outlines) in enumerate(layers):
        dash = _DASHES[index % len(_DASHES)]
        parts.append(
            f'<g stroke="{_COLOURS[index % len(_COLOURS)]}" stroke-width="0.7"'
            + (f' stroke-dasharray="{dash}"' if dash else "")
            + f"><title>{escape(name)}</title>"
        )
        parts += [_path(outline) for outline in outlines]
        parts.append("</g>")
    parts.append('<g stroke="#6b746f" stroke-width="0.4">')
    parts += [_path(line) for line in lines]
    parts.append('</g><g fill="#1d2321" font-size="9" text-anchor="middle">')
    parts += [
        f'<text x="{number(float(x))}" y="{number(float(y))}">{escape(text)}</text>'
        for text, (x, y) in words
    ]
    return "".join([*parts, "</g></svg>"])


def _path(curve: Curve) -> str:
    return f'<path d="{path_data(curve)}"/>'
