"""Which of many curves lie near one: bounding boxes, all compared at once.

A sheet may hold thousands of shapes, and most pairs of them lie far apart. Boxes of control
points hold their curves, so whatever is passed over here truly is apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline import Curve, FloatArray
from ..outline.crossing import SAME_POINT_MM, Crossings, crossings
from ..pattern.drawing import Shape

REACH_MM: Final = 2.0
"""How far short of an outline a level line may stop and still count as crossing it."""

MOST_CROSSINGS: Final = 50_000
"""Pairs of an outline and a waistline near each other, at most."""


class Boxes:
    """The boxes of some curves, in their order.

    Parameters
    ----------
    curves : sequence of Curve

    Examples
    --------
    >>> boxes = Boxes([Curve.polyline([(0, 0), (9, 9)]), Curve.polyline([(20, 0), (30, 5)])])
    >>> boxes.near(np.array([[10.0, 0.0], [11.0, 1.0]]), 2.0)
    [0]
    """

    def __init__(self, curves: Sequence[Curve]) -> None:
        hulls = np.array([curve.hull_box for curve in curves]).reshape(-1, 2, 2)
        self._low, self._high = hulls[:, 0], hulls[:, 1]

    def near(self, box: FloatArray, room: float) -> list[int]:
        """Indices of the curves whose boxes come within `room` mm of a box, in order.

        Parameters
        ----------
        box : ndarray, shape (2, 2)
            ((xmin, ymin), (xmax, ymax)); for a point, twice the point.
        room : float
        """
        met = (self._low <= box[1] + room).all(axis=1) & (self._high >= box[0] - room).all(axis=1)
        found: list[int] = np.flatnonzero(met).tolist()
        return found


class NearLines:
    """Lines that may cross outlines; those whose boxes lie apart are passed over.

    Parameters
    ----------
    shapes : sequence of Shape
    source : str
        For messages.
    """

    def __init__(self, shapes: Sequence[Shape], source: str) -> None:
        self._shapes = shapes
        self._boxes = Boxes([shape.curve for shape in shapes])
        self._source = source
        self._left = MOST_CROSSINGS

    def crossing(self, curve: Curve) -> Iterator[tuple[Shape, Crossings]]:
        """Yield each line that crosses a curve, with its crossings.

        Raises
        ------
        PatternError
            After `MOST_CROSSINGS` lines in all.
        """
        for index in self._boxes.near(curve.hull_box, REACH_MM + SAME_POINT_MM):
            self._left -= 1
            if self._left < 0:
                raise PatternError(
                    "too many lines lie on top of too many outlines",
                    remedy="Name the waistlines, and delete the hatching on the panels.",
                    source=self._source,
                )
            line = self._shapes[index]
            found = crossings(curve, line.curve, reach=REACH_MM)
            if len(found):
                yield line, found
