"""What panelshift form draws of a body: an invented one, from above and from both sides."""

from __future__ import annotations

import numpy as np

from panelshift import FormErrors, MeasuredForm
from panelshift.body.support import Sections
from panelshift.form.picture import form_picture
from panelshift.outline import FloatArray


def figure() -> str:
    """Draw it."""
    heights = np.arange(-220.0, 201.0, 20.0)
    z = heights[:, None]

    def support(psi: FloatArray) -> FloatArray:
        radius = 105.0 + 40.0 * (z / 200.0) ** 2 / (1.0 + 0.4 * (z / 200.0) ** 2) - 0.05 * z
        flat = 0.13 - 0.02 * np.tanh(z / 120.0)
        place = 0.17 * radius * np.tanh(z / 140.0)
        return np.asarray(radius * (1.0 - flat * np.cos(2.0 * psi)) + place * np.cos(psi))

    names = {"bust": 160.0, "hip": -200.0}
    form = MeasuredForm(heights, Sections.of_support(support), "traced", FormErrors(), names=names)
    return form_picture(form, "mm").decode()
