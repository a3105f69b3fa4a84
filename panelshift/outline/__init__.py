"""Plane curves: Bezier chains, their length and turning, crossings, corners and refitting.

Nothing here knows of panels, fabrics or files.
"""

from .bezier import FloatArray
from .curve import Curve

__all__ = ["Curve", "FloatArray"]
