"""Body model of those who roll pin: every panel rolled over one cylinder."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import BodyError
from .ring import Ring, Turn


@dataclass(frozen=True)
class FormerModel:
    """Turning of panels rolled over a cylindrical former.

    Parameters
    ----------
    diameter : float
        Of the former, in mm.
    inner_thickness : float
        Of the layer that lies on the former, in mm: the cloth's middle is what turns.

    Notes
    -----
    theta = width / (D/2 + t/2). A former is no body: the sum of turning tells by how much
    rolling over-eases (more than 2 pi) or under-eases (less). A cylinder does not tilt, so
    nothing changes in length.
    """

    diameter: float
    inner_thickness: float = 0.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.diameter) and self.diameter > 0.0):
            raise BodyError(
                f"a former of diameter {self.diameter:g} mm",
                remedy="Give the diameter of the jar, bottle or ham in mm.",
                element="body.diameter",
            )

    def turn(self, ring: Ring) -> Turn:
        """Turning of each panel; tilt is zero."""
        angles = ring.widths / (0.5 * self.diameter + 0.5 * self.inner_thickness)
        count = ring.widths.shape[1] + 1
        return Turn(
            ring.heights,
            angles,
            np.zeros(len(angles)),
            np.zeros((len(angles), count)),
            closes=False,
        )
