"""Body models: how much each panel turns across its width, and how each seam tilts."""

from .mean_form import MeanFormModel
from .measures import Measures
from .ring import BodyModel, Ring, Spread, Turn
from .section import SectionModel
from .tapes import TapeModel, Tapes
from .widths import ClassModel, FormerModel, infer_classes

__all__ = [
    "BodyModel",
    "ClassModel",
    "FormerModel",
    "MeanFormModel",
    "Measures",
    "Ring",
    "SectionModel",
    "Spread",
    "TapeModel",
    "Tapes",
    "Turn",
    "infer_classes",
]
