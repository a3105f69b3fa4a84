"""What is laid on the cloth: every copy of every panel, facing and strip, by its cut line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np

from ..cutting.allowance import cut_line, up_to_fold
from ..cutting.loose import LoosePiece
from ..cutting.parts import upright
from ..cutting.plan import CutPlan
from ..outline import Curve, FloatArray
from ..outline.planar import ring_area, unfolded
from ..shift import LayerPattern, Shifted

RING_FLATNESS_MM: Final = 0.05
"""Distance of a cut line from its polygon: half of the narrowest pencil line."""

_UPRIGHT_MM: Final = 0.5
"""How far a fold may lean or bulge to lie on the fold of the cloth."""

MIRROR: Final = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
AS_DRAWN: Final = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])


@dataclass(frozen=True, eq=False)
class Piece:
    """One piece of cloth to cut, before it is laid.

    `name` is its panel's, `copy` is 1 for the first of the panel's pieces, `mirrored` tells whether
    it is cut as the mirror image of the draft. `outline` is its cut line in mm, allowances
    included, closed; the grain runs along y, the panel's top towards negative y, the origin in the
    middle of the drafted waist; mirrored already if the piece is, unfolded if it lies on the fold.
    `half` is that of a piece on the fold, its fold on the left. On folded cloth a piece may be cut
    of both `plies` at once, and `held` is one that lies with its fold on the cloth's. `even` is
    what is its own mirror image.
    """

    name: str
    copy: int
    mirrored: bool
    outline: Curve
    half: Curve | None = None
    plies: int = 1
    held: bool = False
    even: bool = False

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
    laid as one whole piece, its cut line together with its image in the fold edge; for folded
    cloth see `folded_pieces`.
    """
    own = layer.pieced
    drawn = shifted.turn.pattern if own is layer else own.whole
    pieces = []
    for index in own.covered:
        panel = own.whole_as_cut.panels[index]
        cutting = plan.cutting(drawn, index)
        allowances = plan.edges(own.whole, index, layer.fabric.name)
        # The drafted panel's own turn, as on the cutting files.
        matrix = upright(drawn.panels[index])
        cut = cut_line(panel, allowances, mitre_limit=plan.mitre_limit, corners=plan.corners)
        outline, half = cut.transformed(matrix), None
        if cutting.fold is not None:
            edge = panel.edge(cutting.fold).transformed(matrix)
            if panel.is_straight(cutting.fold):
                kept = up_to_fold(outline, edge)
                ends = Curve.polyline([kept.end, kept.start])
                outline = Curve.chain([kept, ends], closed=True)
            half = _left_half(outline, edge)
            outline = _unfolded(outline, edge)
        pieces += _copies(panel.name, cutting.sides, outline, half)
    return tuple(pieces)


def beside_pieces(loose: Sequence[LoosePiece], fabric: str) -> tuple[Piece, ...]:
    """All pieces that are cut of a layer's cloth beside its panels."""
    found: list[Piece] = []
    for item in loose:
        if item.cloth != fabric or item.outline is None:
            continue
        outline, half = item.outline, None
        if item.fold is not None:
            half = _left_half(outline, item.fold)
            outline = _unfolded(outline, item.fold)
        even = item.fold is None and not item.mirrored
        found += _copies(item.name, item.sides, outline, half, even=even)
    return tuple(found)


def _copies(
    name: str, sides: tuple[int, int], outline: Curve, half: Curve | None, *, even: bool = False
) -> list[Piece]:
    image = outline.transformed(MIRROR)
    return [
        Piece(name, copy, copy > sides[0], image if copy > sides[0] else outline, half, even=even)
        for copy in range(1, sum(sides) + 1)
    ]


def folded_pieces(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """What is laid on cloth folded along its length, the fold on the left, right sides together.

    A piece and its mirror image are cut of both plies at once, and so are two strips; what has no
    mirror image takes one ply, and a piece on the fold lies there by its half, if its fold runs
    along the grain.
    """
    found = []
    for name in dict.fromkeys(piece.name for piece in pieces):
        own = [piece for piece in pieces if piece.name == name]
        pairs = own[0].even
        images = own[1::2] if pairs else [piece for piece in own if piece.mirrored]
        plain = own[::2] if pairs else [piece for piece in own if not piece.mirrored]
        for k, piece in enumerate(plain):
            if piece.half is not None:
                found.append(replace(piece, outline=piece.half, held=True))
            else:
                found.append(replace(piece, plies=2 if k < len(images) else 1))
        found += images[len(plain) :]
    return tuple(found)


def _left_half(outline: Curve, fold: Curve) -> Curve | None:
    """A panel by its fold, which lies on the left; None if it runs aslant to the grain."""
    if np.ptp(fold.flatten()[:, 0]) > _UPRIGHT_MM:
        return None
    middle = 0.5 * (fold.start[0] + fold.end[0])
    on_right = outline.flatten()[:, 0].mean() < middle
    return outline.transformed(MIRROR) if on_right else outline


def _unfolded(outline: Curve, fold: Curve) -> Curve:
    ring = unfolded(outline.flatten(RING_FLATNESS_MM), fold.start, fold.end)
    return Curve.polyline(ring, closed=True)
