"""What was measured of a body: its sections, what was found out, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from ..body.form import FormErrors, FormModel
from ..body.measures import Measures
from ..body.support import Sections
from ..outline import FloatArray
from ..units import MM_PER_UNIT

MadeFrom = Literal["scan", "traced"]


@dataclass(frozen=True, eq=False)
class MeasuredForm:
    """Sections of one body in one frame.

    Parameters
    ----------
    heights : ndarray, shape (k,)
        Upright, in mm above the waist, increasing.
    sections : Sections
        In mm; x to the wearer's left, y to the front.
    made_from : {"scan", "traced"}
    errors : FormErrors
    found : tuple of str
        What was found out, in words.
    names : dict of str to float
        Heights in mm of levels that were named.

    Examples
    --------
    >>> round_body = Sections.of_support(lambda psi: np.full((2, psi.shape[-1]), 100.0))
    >>> form = MeasuredForm(np.array([-50.0, 50.0]), round_body, "traced", FormErrors())
    >>> form.shown_girth(0.0, "cm")
    '62.8 cm'
    """

    heights: FloatArray
    sections: Sections
    made_from: MadeFrom
    errors: FormErrors
    found: tuple[str, ...] = ()
    names: dict[str, float] = field(default_factory=dict)

    def girth_at(self, height: float) -> float:
        """Girth in mm at a height.

        Parameters
        ----------
        height : float
            In mm above the waist.

        Returns
        -------
        float
        """
        return float(np.interp(height, self.heights, self.sections.girths))

    def shown_girth(self, height: float, units: str) -> str:
        """Girth at a height as a tape reads it: whole mm, tenths of a cm, hundredths of an inch.

        Parameters
        ----------
        height : float
            In mm above the waist.
        units : {"mm", "cm", "in"}
            In which it is shown.

        Returns
        -------
        str
        """
        digits = {"mm": 0, "cm": 1, "in": 2}[units]
        return f"{self.girth_at(height) / MM_PER_UNIT[units]:.{digits}f} {units}"

    def model(self, girths: Measures | None = None) -> FormModel:
        """The body model that lays panels round it.

        Parameters
        ----------
        girths : Measures, optional
            Girths in mm to bring the sections to; else the pattern's own.

        Returns
        -------
        FormModel
        """
        return FormModel(self.heights, self.sections, True, girths, self.errors)
