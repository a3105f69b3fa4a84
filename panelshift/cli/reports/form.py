"""What was measured of a body, in words: findings, and girths to compare with a tape."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...form.measured import MeasuredForm
from ...units import MM_PER_UNIT
from .tables import listing, paragraphs, table


def form_text(form: MeasuredForm, written: Sequence[str], units: str = "mm") -> str:
    """Return the report as text.

    *written*: paths of the files that were written. *units*: {"mm", "cm", "in"}.
    """
    front_error = float(np.degrees(form.errors.front))
    return paragraphs(
        f"Waist {form.shown_girth(0.0, units)} round; sections from "
        f"{_height(float(form.heights[0]), units)} to {_height(float(form.heights[-1]), units)} "
        "of the waist.",
        listing("Found", list(form.found)),
        listing(
            "Counted with (one standard deviation)",
            [
                f"surface {form.errors.surface:.1f} mm",
                f"direction of the front {front_error:.1f} degrees",
                f"height of the waist {form.errors.waist:.0f} mm",
            ],
        ),
        "Compare these girths with a tape, held level:\n" + _girths(form, units),
        listing(
            "Next",
            [
                "look at the picture: is the front at the top, and the waist where it should be?",
                'in the job file: [body] model = "form", file = "sections.json"',
            ],
        ),
        listing("Written", list(written)),
    )


def _girths(form: MeasuredForm, units: str) -> str:
    heights = sorted({*form.names.values(), *_every(form, 50.0)}, reverse=True)
    named = {height: name for name, height in form.names.items()}
    rows = [
        [
            _height(height, units),
            named.get(height, "waist" if height == 0.0 else ""),
            form.shown_girth(height, units),
        ]
        for height in heights
    ]
    return table(["height", "level", "girth"], rows)


def _every(form: MeasuredForm, step: float) -> list[float]:
    low, high = (float(form.heights[index]) / step for index in (0, -1))
    return [step * k for k in range(int(np.ceil(low)), int(np.floor(high)) + 1)]


def _height(height: float, units: str) -> str:
    digits = {"mm": 0, "cm": 1, "in": 2}[units]
    return f"{height / MM_PER_UNIT[units]:+.{digits}f} {units}"
