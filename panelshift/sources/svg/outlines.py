"""Outlines in user units, before their transform is applied."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from ...outline.bezier import LINE, FloatArray, IntArray, line_control, straighten
from ...outline.curve import Curve
from .affine import Affine

JOIN_MM: Final = 1e-6
"""Ends nearer than this are one point: a gap of a nanometre is rounding, not drawing."""

_JOIN_RELATIVE: Final = 1e-9
"""The same for files in tiny or huge units, as a share of the largest coordinate."""


@dataclass(frozen=True, eq=False)
class Outline:
    """A chain of segments as a `Curve` holds them, but in user units of any size.

    Parameters
    ----------
    control : ndarray, shape (n, 4, 2)
    degree : ndarray of int, shape (n,)
    closed : bool
    """

    control: FloatArray
    degree: IntArray
    closed: bool

    @classmethod
    def through(cls, points: npt.ArrayLike, *, closed: bool, scale: float) -> Outline | None:
        """Return straight lines through points of shape (m, 2); None if they are one point."""
        vertices = np.asarray(points, dtype=np.float64)
        control = line_control(vertices[:-1], vertices[1:])
        return cls.joined(control, np.full(len(control), LINE), closed=closed, scale=scale)

    @classmethod
    def joined(
        cls, control: FloatArray, degree: IntArray, *, closed: bool, scale: float
    ) -> Outline | None:
        """Drop segments of no length and close what is to be closed; None if nothing is left.

        A closing line is added unless the gap is at most `JOIN_MM`, in which case the last
        end is moved onto the start.

        Parameters
        ----------
        control, degree : ndarray
            As in `Outline`.
        closed : bool
        scale : float
            Most by which the transform lengthens anything, in mm for each user unit.
        """
        # Only the ends of a line count: the handles between equal ends may be rounded apart.
        bent = (degree != LINE)[:, None]
        drawn = (control[:, 3] != control[:, 0]).any(axis=1) | (
            bent & (control[:, 1:3] != control[:, :1]).any(axis=2)
        ).any(axis=1)
        control, degree = control[drawn], degree[drawn]
        if len(control) == 0:
            return None
        if closed:
            start, end = control[0, 0], control[-1, 3]
            gap = float(np.hypot(*(end - start)))
            limit = max(JOIN_MM / scale, _JOIN_RELATIVE * float(np.abs(control).max()))
            if gap > limit:
                control = np.concatenate([control, line_control(end[None], start[None])])
                degree = np.append(degree, LINE)
            elif gap > 0.0:
                control[-1, 3] = start
                control = straighten(control, degree)
        return cls(control, degree, closed)

    def placed(self, transform: Affine) -> Curve:
        """Return the curve in mm under a transform.

        Raises
        ------
        CurveError
            If a coordinate is not finite or beyond 100 m.
        """
        # A transform of huge numbers overflows; the curve refuses the infinity it makes.
        with np.errstate(over="ignore", invalid="ignore"):
            return Curve(transform.applied(self.control), self.degree, self.closed)
