"""Body models: how much each panel turns across its width, and how each seam tilts."""

from .classes import ClassModel, infer_classes
from .former import FormerModel
from .measures import Measures
from .ring import BodyModel, Ring, Turn
from .section import SectionModel

__all__ = [
    "BodyModel",
    "ClassModel",
    "FormerModel",
    "Measures",
    "Ring",
    "SectionModel",
    "Turn",
    "infer_classes",
]
