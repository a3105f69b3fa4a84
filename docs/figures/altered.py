"""Two panels before and after their seam was let out at the hip."""

from __future__ import annotations

from typing import Final

import numpy as np
import sample
from canvas import GREEN, GREY, INK, RED, Canvas

from panelshift import Alteration, alter_pattern
from panelshift.outline import FloatArray

SEAM: Final = "3 side front to 4 side"
HIP_MM: Final = 16.0
"""More than a fitting finds as a rule: to be seen."""

TIMES: Final = 1.0


def figure() -> str:
    """Draw it."""
    draft = sample.job().pattern
    found = alter_pattern(draft, [Alteration(SEAM, {"waist": 0.0, "hip": HIP_MM})])
    canvas = Canvas(f"{SEAM}: let out by {HIP_MM:g} mm at the hip, by nothing at the waist", 410.0)
    both = [(old, new) for old, new in zip(draft, found.pattern, strict=True) if old is not new]
    low = np.min([old.outline.bounds()[0] for old, _ in both], axis=0)

    step = np.array([40.0, 56.0]) - TIMES * low
    matrix = np.column_stack([TIMES * np.eye(2), step])

    def at(points: FloatArray) -> FloatArray:
        return TIMES * points + step

    for old, new in both:
        canvas.line(old.outline.transformed(matrix), GREY, 1.0, dash="4 3")
        canvas.line(new.outline.transformed(matrix), RED, 1.6)
        for level in (new.waist, *new.levels):
            canvas.line(level.curve.transformed(matrix), GREEN, 0.8)
        middle = at(new.waist.curve.flatten()).mean(axis=0)
        canvas.text(middle[0], 32.0, new.name, anchor="middle", bold=True)
    for side, (_, new) in enumerate(both):
        hip = new.levels[-1].curve
        x, y = at(hip.start if side else hip.end)
        words = f"{0.5 * HIP_MM:g} mm"
        canvas.note((x + (28.0 if side else -28.0), y - 16.0), (x, y), [words], colour=INK)
    return canvas.svg()
