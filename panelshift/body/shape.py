"""Body model by sections that were measured: traced, sliced from a mesh, or worked out."""

from __future__ import annotations

from dataclasses import dataclass

from .column import Column
from .measures import Measures
from .ring import Ring, Turn
from .surface import laid


@dataclass(frozen=True, eq=False)
class ShapeModel:
    """Panels laid round known sections, brought to the pattern's girths.

    Parameters
    ----------
    column : Column
        The sections, from wherever they come.
    girths : Measures, optional
        Girths of the body in mm by height along the panels; else the pattern's own.

    Examples
    --------
    Sections traced 100 mm below the waist and at it, round bodies both:

    >>> import numpy as np
    >>> from panelshift.body.support import Sections
    >>> t = np.linspace(0.0, 2.0 * np.pi, 90, endpoint=False)
    >>> round_ = np.column_stack([np.sin(t), np.cos(t)])
    >>> sections = Sections.of_points([140.0 * round_, 105.0 * round_])
    >>> body = ShapeModel(Column.of(np.array([-100.0, 0.0]), sections, upright=True))
    >>> ring = Ring(np.linspace(-90.0, 0.0, 31), np.full((31, 6), 120.0), 0.0, ("side",) * 6)
    >>> np.degrees(body.turn(ring).angles[-1]).round(2).tolist()
    [60.0, 60.0, 60.0, 60.0, 60.0, 60.0]
    """

    column: Column
    girths: Measures | None = None

    def turn(self, ring: Ring) -> Turn:
        """Turning, tilt and slant for a ring of panels.

        *ring*: the panels' widths right round the body, in mm.

        Returns: angles in radians at the ring's heights.

        Raises `BodyError` if the girth changes faster than cloth can follow.
        """
        return laid(self.column, ring, self.girths)
