"""Fabric needs: pieces laid on cloth on the grain, and the length to buy.

In: a shifted pattern, the plan, and how each cloth is sold. Out: layouts and their pictures.
"""

from .buying import ClothOptions, FabricNeeds, Layout, bought, fabric_needs, lay
from .cloth_picture import layout_picture
from .laid import LaidPiece
from .packing import EFFORT, GAP_MM
from .pieces import Piece, layer_pieces

__all__ = [
    "EFFORT",
    "GAP_MM",
    "ClothOptions",
    "FabricNeeds",
    "Layout",
    "Piece",
    "LaidPiece",
    "bought",
    "fabric_needs",
    "lay",
    "layer_pieces",
    "layout_picture",
]
