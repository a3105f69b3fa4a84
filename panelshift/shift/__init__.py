"""The shift: each layer's panels mapped from the draft by a smooth field."""

from .layers import LayerPattern, Shifted, shift

__all__ = ["LayerPattern", "Shifted", "shift"]
