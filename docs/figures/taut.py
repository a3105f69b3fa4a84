"""A piece of the waist, enlarged: coutille, bones, allowances, and the brocade taut over them."""

from __future__ import annotations

from typing import Final

import numpy as np
import ways
from canvas import BLUE, GREY, INK, ORANGE, RED, Canvas

from panelshift.outline import FloatArray

TITLE: Final = "A piece of the waist, enlarged: taut cloth over two bones and a seam"
SEAM: Final = 3
"""Between the third panel and the fourth."""

PX_PER_MM: Final = 6.2
HALF_RAD: Final = 0.27


def figure() -> str:
    """Draw it."""
    found = ways.laid(ways.WAYS["24 steels, loose shell, seams pressed open"])
    level = int(np.argmin(np.abs(found.levels)))
    face, columns = found.pile.site.face, found.pile.columns
    middle = float(face.bounds[level, SEAM])
    psi = columns.psi[level]
    shown = np.flatnonzero(np.abs(psi - middle) <= HALF_RAD)
    shown = np.arange(shown[0] - 1, shown[-1] + 2)
    coutille = float(found.pile.site.outer[1, level])

    def place(angles: FloatArray, heights: FloatArray) -> FloatArray:
        row = np.full(len(angles), level)
        own = face.panel_at(row, angles)
        points = face.centres[level, own] + (face.radii[level, own] + coutille + heights) * np.exp(
            1j * angles
        )
        top = face.centres[level, SEAM] + (face.radii[level, SEAM] + coutille) * np.exp(1j * middle)
        points = (points - top) * np.exp(-1j * (middle - 0.5 * np.pi))
        return np.column_stack([180.0 - PX_PER_MM * points.real, 92.0 - PX_PER_MM * points.imag])

    canvas = Canvas(TITLE, 182.0)
    canvas.text(12, 20, "At the waist, from above: panels 3 and 4, true to scale", bold=True)
    fine = np.linspace(middle - HALF_RAD, middle + HALF_RAD, 90)
    cloth = np.vstack([place(fine, 0.0 * fine), place(fine[::-1], 0.0 * fine - 0.45)])
    canvas.line(list(cloth), BLUE, 0.6, fill=f"{BLUE}33", closed=True)
    ridges = found.pile.ridges
    for number in np.flatnonzero(ridges.on == 1):
        low, high = ridges.low[level, number], ridges.high[level, number]
        thick = ridges.thick[level, number]
        if thick <= 0.0 or low < fine[0] or high > fine[-1]:
            continue
        colour = ORANGE if ridges.casing[number] >= 0 or ridges.bar[number] else GREY
        across = np.linspace(low, high, 12)
        # Allowances of the shell lie on top of the bones where both are.
        under = _under(ridges.low[level], ridges.high[level], ridges.bar, across) * (colour == GREY)
        base = under * 1.5
        outline = np.vstack([place(across, base + thick), place(across[::-1], base[::-1])])
        canvas.line(list(outline), colour, 0.8, fill=f"{colour}55", closed=True)
    top = found.pile.paths[-1].relief.height[level, shown]
    for height in (0.0, 0.95):
        line = place(psi[shown], top + height)
        x = np.clip(line[:, 0], 30.0, 330.0)
        order = np.argsort(line[:, 0])
        y = np.interp(x, line[order, 0], line[order, 1])
        canvas.line(list(np.column_stack([x, y])), RED, 1.6 if height else 0.8)
    ends = place(np.array([middle, middle]), np.array([-2.5, 6.0]))
    canvas.line(list(ends), INK, 0.7, dash="3 2")
    canvas.text(186, 46, "seam", size=11)
    canvas.text(12, 150, "red: interlining and brocade, taut; blue: coutille", size=11)
    canvas.text(12, 166, "orange: bones; grey: the shell\u2019s allowances, pressed open", size=11)
    return canvas.svg()


def _under(low: FloatArray, high: FloatArray, bar: FloatArray, at: FloatArray) -> FloatArray:
    """Whether a bone lies under each direction."""
    return ((at[:, None] > low) & (at[:, None] < high) & bar).any(axis=1).astype(float)
