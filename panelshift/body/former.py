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

    Raises
    ------
    BodyError
        If the diameter is not a positive number.

    Notes
    -----
    theta = width / (D/2 + t/2). A former is no body: the sum of turning tells by how much
    rolling over-eases (more than 2 pi) or under-eases (less). A cylinder does not tilt, so
    nothing changes in length.

    Examples
    --------
    A 55 mm panel rolled over an 80 mm bottle, 1.5 mm between the middles of its two layers:

    >>> from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels, shift_pattern
    >>> box = [(0, 0), (55, 0), (55, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (55, 90)])])
    >>> stack = Stack([Fabric("felt", 1.5), Fabric("wool", 1.5)])
    >>> rolled = shift_pattern(pattern, stack, FormerModel(80.0, inner_thickness=1.5))
    >>> round(rolled.growth(1, 0, 0.0), 2)  # 1.5 * 55 / (40 + 0.75)
    2.02
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
        """Turning of each panel; tilt is zero.

        Parameters
        ----------
        ring : Ring
            The panels' widths right round the body, in mm.

        Returns
        -------
        Turn
            Angles and tilts in radians at the ring's heights.
        """
        angles = ring.widths / (0.5 * self.diameter + 0.5 * self.inner_thickness)
        count = ring.widths.shape[1] + 1
        return Turn(
            ring.heights,
            angles,
            np.zeros(len(angles)),
            np.zeros((len(angles), count)),
            closes=False,
        )
