"""Body models: how much each panel turns across its width, and how each seam tilts."""

from .classes import ClassModel, infer_classes
from .former import FormerModel
from .mean_form import MeanFormModel
from .measures import Measures
from .ring import BodyModel, Ring, Spread, Turn
from .section import SectionModel
from .shape import ShapeModel
from .tapes import TapeModel, Tapes

__all__ = [
    "BodyModel",
    "ClassModel",
    "FormerModel",
    "MeanFormModel",
    "Measures",
    "Ring",
    "SectionModel",
    "ShapeModel",
    "Spread",
    "TapeModel",
    "Tapes",
    "Turn",
    "infer_classes",
]
