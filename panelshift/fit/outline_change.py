"""How a layer's outline lies beside the draft's, all the way round, to be drawn enlarged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.measure import arc_table
from ..pattern.panel import Panel

_STEP_MM: Final = 1.0
_EVERY_MM: Final = 3.0
"""Spacing of the points: pictures are looked at, not cut."""


@dataclass(frozen=True, eq=False)
class OutlineChange:
    """The draft's outline as points, and how far a layer's lies from each.

    Parameters
    ----------
    draft : ndarray, shape (m, 2)
        Points of the draft's outline in panel coordinates (mm), from the bottom of the front
        edge up and round to the same place.
    change : ndarray, shape (m, 2)
        From each point to its own on the layer, in mm.
    """

    draft: FloatArray
    change: FloatArray

    def at(self, enlarged: float) -> FloatArray:
        """The outline with the change drawn so many times as large: 0 is the draft, 1 the layer.

        Returns
        -------
        ndarray, shape (m, 2)
        """
        return np.asarray(self.draft + enlarged * self.change)


def outline_change(draft: Panel, layer: Panel) -> OutlineChange:
    """Compare a panel with itself in a layer, edge by edge.

    Points of the two belong together that divide their edge in the same proportion: corners
    belong to corners.

    Parameters
    ----------
    draft, layer : Panel
        Before and after the shift.
    """
    before, after = [], []
    for (_, old), (_, new) in zip(draft.runs(), layer.runs(), strict=True):
        shares = _shares(old)
        before.append(_at(old, shares))
        after.append(_at(new, shares))
    # Both in the draft's axes, which the shift leaves where they are.
    points = draft.frame.to_panel(np.vstack(before))
    return OutlineChange(points, draft.frame.to_panel(np.vstack(after)) - points)


def _shares(edge: Curve) -> FloatArray:
    """Parts of an edge's length, evenly spaced, with every joint among them, from 0 to 1."""
    positions, arc = arc_table(edge, _STEP_MM)
    whole = float(arc[-1])
    if whole == 0.0:
        return np.array([0.0, 1.0])
    joints = arc[positions == np.round(positions)] / whole
    return np.unique(np.concatenate([np.linspace(0.0, 1.0, int(whole / _EVERY_MM) + 2), joints]))


def _at(edge: Curve, shares: FloatArray) -> FloatArray:
    positions, arc = arc_table(edge, _STEP_MM)
    return edge.points(np.interp(shares * arc[-1], arc, positions))
