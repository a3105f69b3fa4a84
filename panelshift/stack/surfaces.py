"""Where the surfaces of a stack lie on one panel, and how well that is known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..errors import StackNameError
from ..outline import FloatArray
from ..outline.by_value import Sealed
from .measured import Gaps

Surface = int | Literal["skin", "outside"]
"""A layer's mid-surface by its place from the body (0 first), the inner face of the innermost
layer, or the outer face of the outermost."""


@dataclass(frozen=True, eq=False)
class Surfaces(Sealed):
    """Surfaces of a stack on one panel, in mm from the drafted layer's mid-surface.

    Distances are positive away from the body.

    Parameters
    ----------
    names : tuple of str
        Of the fabrics, from the body outwards.
    positions : ndarray, shape (layers + 2,)
        Skin side, every mid-surface, outside. A fabric that does not lie on the panel has no
        thickness there: its mid-surface is where it would be.
    of_thickness : ndarray, shape (layers + 2, layers)
        How much each position changes with each fabric's build, all reckoned from the skin.
    of_measured : ndarray, shape (layers + 2, pairs)
        How much each position changes with each measured distance of the stack.
    thickness_uncertainty : ndarray, shape (layers,)
        Standard uncertainty of each build in mm; nan where it is not known.
    measured_uncertainty : ndarray, shape (pairs,)
        Standard uncertainty of each measured distance in mm.
    alike : ndarray, shape (layers, layers)
        1 where two fabrics are of one cloth, and equally wrong.
    """

    names: tuple[str, ...]
    positions: FloatArray
    of_thickness: FloatArray
    of_measured: FloatArray
    thickness_uncertainty: FloatArray
    measured_uncertainty: FloatArray
    alike: FloatArray

    @classmethod
    def of(
        cls,
        names: tuple[str, ...],
        builds: FloatArray,
        build_uncertainty: FloatArray,
        gaps: Gaps,
        measured_uncertainty: FloatArray,
        drafted: int,
        alike: FloatArray,
    ) -> Surfaces:
        """Add up builds and gaps from the skin outwards.

        Parameters
        ----------
        names : tuple of str
        builds, build_uncertainty : ndarray, shape (layers,)
            What each fabric adds on this panel.
        gaps : Gaps
            Between neighbouring mid-surfaces; its columns are the measured pairs.
        measured_uncertainty : ndarray, shape (pairs,)
        drafted : int
            Place of the drafted layer.
        alike : ndarray, shape (layers, layers)
        """
        count = len(names)
        halves = 0.5 * np.eye(count)
        of_thickness = np.zeros((count + 2, count))
        of_measured = np.zeros((count + 2, len(measured_uncertainty)))
        # A gap by thickness is half of both its neighbours.
        steps = gaps.of_thickness @ (halves[:-1] + halves[1:])
        of_thickness[1:-1] = halves[0]
        of_thickness[2:-1] += np.cumsum(steps, axis=0)
        of_measured[2:-1] = np.cumsum(gaps.of_measured, axis=0)
        of_thickness[-1] = of_thickness[-2] + halves[-1]
        of_measured[-1] = of_measured[-2]
        middles = 0.5 * builds[0] + np.concatenate([[0.0], np.cumsum(gaps.sizes)])
        positions = np.concatenate([[0.0], middles, [middles[-1] + 0.5 * builds[-1]]])
        return cls(
            names,
            positions - middles[drafted],
            of_thickness,
            of_measured,
            build_uncertainty,
            measured_uncertainty * gaps.widened,
            alike,
        )

    @property
    def skin(self) -> float:
        """The inner face of the innermost layer."""
        return float(self.positions[0])

    @property
    def middles(self) -> FloatArray:
        """The mid-surface of each layer, from the body outwards; shape (layers,)."""
        return self.positions[1:-1]

    @property
    def outside(self) -> float:
        """The outer face of the outermost layer."""
        return float(self.positions[-1])

    def distance(self, first: Surface, second: Surface) -> float:
        """Distance in mm from one surface to another, positive if the second lies outside."""
        return float(self.positions[self._row(second)] - self.positions[self._row(first)])

    def uncertainty(self, first: Surface, second: Surface) -> float | None:
        """Standard uncertainty in mm of the distance between two surfaces.

        Independent contributions are added in quadrature (GUM, JCGM 100:2008, 5.1.2): each
        cloth counts as often as it lies between the surfaces, and a measured pair
        stands for the thicknesses that it spans.

        Returns
        -------
        float or None
            None if a thickness between them has no stated uncertainty; `unknown` names it.
        """
        if self.unknown(first, second):
            return None
        return quadrature(*self.shares(first, second), self)

    def unknown(self, first: Surface, second: Surface) -> tuple[str, ...]:
        """Fabrics that matter to a distance and whose uncertainty is not stated."""
        thickness, _ = self.shares(first, second)
        missing = np.isnan(self.thickness_uncertainty) & (np.abs(thickness) > 1e-9)
        return tuple(self.names[k] for k in np.flatnonzero(missing))

    def shares(self, first: Surface, second: Surface) -> tuple[FloatArray, FloatArray]:
        """How much a distance changes with each thickness and each measured distance.

        Returns
        -------
        (ndarray, ndarray), shapes (layers,) and (pairs,)
            Sums of these over panels, each weighted, give the uncertainty of a girth: see
            `Stack.girth_uncertainty`.

        Raises
        ------
        StackNameError
            If there is no such surface.
        """
        i, j = self._row(first), self._row(second)
        thickness = self.of_thickness[j] - self.of_thickness[i]
        return thickness, self.of_measured[j] - self.of_measured[i]

    def _row(self, surface: Surface) -> int:
        named = isinstance(surface, str)
        if named and surface == "skin":
            return 0
        if named and surface == "outside":
            return len(self.positions) - 1
        if isinstance(surface, int) and 0 <= surface < len(self.names):
            return surface + 1
        raise StackNameError(
            f"there is no surface {surface!r} in a stack of {len(self.names)} layers",
            remedy=f'Use "skin", "outside" or a place from 0 to {len(self.names) - 1}.',
        )


def quadrature(thickness: FloatArray, measured: FloatArray, surfaces: Surfaces) -> float:
    """Combine shares in thicknesses and measured distances into a standard uncertainty in mm."""
    known = np.nan_to_num(surfaces.thickness_uncertainty)
    own = thickness * known
    pinned = measured * surfaces.measured_uncertainty
    return float(np.sqrt(own @ surfaces.alike @ own + pinned @ pinned))
