"""Fabric needs: pieces laid on cloth on the grain, and the length to buy."""

from ..cutting.plan import ClothOptions
from .fabric import FabricNeeds, fabric_needs, lay
from .layout import Layout, bought
from .nesting import EFFORT, GAP_MM
from .picture import layout_picture
from .pieces import Piece, layer_pieces
from .placing import Placement

__all__ = [
    "EFFORT",
    "GAP_MM",
    "ClothOptions",
    "FabricNeeds",
    "Layout",
    "Piece",
    "Placement",
    "bought",
    "fabric_needs",
    "lay",
    "layer_pieces",
    "layout_picture",
]
