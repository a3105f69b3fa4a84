"""What is laid on the cloth: every copy of every panel of a layer, by its cut line."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from ..cutting.allowance import cut_line
from ..cutting.parts import upright
from ..cutting.plan import CutPlan
from ..outline import Curve, FloatArray
from ..outline.planar import ring_area, unfolded
from ..shift import LayerPattern, Shifted

RING_FLATNESS_MM: Final = 0.05
"""Distance of a cut line from its polygon: half of the narrowest pencil line."""

MIRROR: Final = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
AS_DRAWN: Final = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])


@dataclass(frozen=True, eq=False)
class Piece:
    """One piece of cloth to cut, before it is laid.

    Parameters
    ----------
    name : str
        Of its panel.
    copy : int
        1 for the first of the panel's pieces.
    mirrored : bool
        Whether it is cut as the mirror image of the draft.
    outline : Curve
        Cut line in mm, allowances included, closed; the grain runs along y, the panel's top
        towards negative y, the origin in the middle of the drafted waist. Mirrored already
        if the piece is; unfolded if it lies on the fold.
    """

    name: str
    copy: int
    mirrored: bool
    outline: Curve

    @cached_property
    def ring(self) -> FloatArray:
        """Its cut line as a polygon, shape (m, 2), in mm."""
        return self.outline.flatten(RING_FLATNESS_MM)

    @cached_property
    def area(self) -> float:
        """In mm^2."""
        return ring_area(self.ring)

    @cached_property
    def box(self) -> FloatArray:
        """((xmin, ymin), (xmax, ymax)) of its cut line, in mm."""
        return np.array([self.ring.min(axis=0), self.ring.max(axis=0)])

    @property
    def width(self) -> float:
        """Room that it takes across the cloth, in mm."""
        return float(self.box[1, 0] - self.box[0, 0])

    @property
    def length(self) -> float:
        """Room that it takes along the cloth, in mm."""
        return float(self.box[1, 1] - self.box[0, 1])


def layer_pieces(shifted: Shifted, layer: LayerPattern, plan: CutPlan) -> tuple[Piece, ...]:
    """All pieces that are cut of one layer, in the pattern's order.

    *layer*: one of its layers. *plan*: allowances, and how often each panel is cut.

    Notes
    -----
    The cloth is taken to lie single, right side up: of a panel that is cut as mirrored pairs
    half of the pieces are mirrored, the smaller half of an odd count. A panel on the fold is
    laid as one whole piece, its cut line together with its image in the fold edge; how the
    cloth is folded for cutting is the maker's business and does not change its length by more
    than what folding wastes.
    """
    drawn = shifted.turn.pattern
    pieces = []
    for index in layer.covered:
        panel = layer.as_cut.panels[index]
        cutting = plan.cutting(drawn, index)
        allowances = plan.edges(layer.pattern, index, layer.fabric.name)
        # The drafted panel's own turn, as on the cutting files.
        matrix = upright(drawn.panels[index])
        cut = cut_line(panel, allowances, mitre_limit=plan.mitre_limit, corners=plan.corners)
        outline = cut.transformed(matrix)
        if cutting.fold is not None:
            edge = panel.edge(cutting.fold).transformed(matrix)
            outline = _unfolded(outline, edge)
        image = outline.transformed(MIRROR)
        plain = cutting.count - (cutting.count // 2 if cutting.mirrored else 0)
        for copy in range(1, cutting.count + 1):
            mirrored = copy > plain
            pieces.append(Piece(panel.name, copy, mirrored, image if mirrored else outline))
    return tuple(pieces)


def _unfolded(outline: Curve, fold: Curve) -> Curve:
    ring = unfolded(outline.flatten(RING_FLATNESS_MM), fold.start, fold.end)
    return Curve.polyline(ring, closed=True)
