"""Fabrics, the order in which they lie on the body, and the distances between them."""

from .fabric import Fabric
from .measured import MeasuredDistance
from .stack import Stack
from .surfaces import Surface, Surfaces

__all__ = ["Fabric", "MeasuredDistance", "Stack", "Surface", "Surfaces"]
