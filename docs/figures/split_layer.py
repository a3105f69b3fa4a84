"""A side panel, and a layer's parts of it: split across, and from top to bottom."""

from __future__ import annotations

from typing import Final

import numpy as np
from canvas import BLUE, GREEN, GREY, RED, Canvas

from panelshift import read_pattern
from panelshift.draft import Reading
from panelshift.outline import FloatArray
from panelshift.pattern.panel import Panel
from panelshift.shift.split_panels import apart, split_panels
from panelshift.stack import Fabric

TIMES: Final = 0.9
DRAFT: Final = """<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="300mm"
 viewBox="0 0 200 300"><path id="side" d="M26 250 C34 220 40 200 40 170 C40 140 30 90 28 60
 C60 52 96 52 128 58 C124 90 120 140 120 170 C120 200 126 220 132 250 Z"/>
 <path id="waist" d="M36 170 H124"/><path id="rib line" d="M20 122 C60 104 90 104 132 126"/>
 <path id="style line" d="M96 44 C70 100 86 200 60 260"/>
 <path id="grain" d="M76 235 V80"/></svg>"""


def figure() -> str:
    """Draw it."""
    lines = ("rib line", "style line")
    pattern = read_pattern(DRAFT, reading=Reading(split_at=lines, halves="half"))
    canvas = Canvas("A side panel, and a layer's parts of it, split across or upright", 228.0)
    shown: list[tuple[str, tuple[Panel, ...], FloatArray]] = [
        ("as drawn", pattern.panels, np.zeros((1, 2)))
    ]
    for name, steps in zip(lines, ([(0, 14), (0, -4)], [(-8, 6), (8, 6)]), strict=True):
        parts = apart(split_panels(pattern, Fabric("lining", 0.2, split_at=(name,)))).panels
        shown.append((f'split at "{name}"', parts, np.array(steps, dtype=float)))
    for k, (words, panels, steps) in enumerate(shown):
        for panel, step in zip(panels, steps, strict=True):
            at = np.array([119.0 * k - 10.0, -18.0]) + step
            matrix = np.column_stack([TIMES * np.eye(2), at])
            canvas.line(panel.outline.transformed(matrix), BLUE, 1.4)
            for level in panel.level_lines:
                canvas.line(level.curve.transformed(matrix), GREEN, 0.7)
            for mark in panel.marks:
                colour = GREY if mark.kind == "grainline" else RED
                canvas.line(mark.curve.transformed(matrix), colour, 1.0)
        canvas.text(119.0 * k + 62.0, 14.0, words, anchor="middle", bold=True)
    return canvas.svg()
