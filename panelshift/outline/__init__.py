"""Plane curves: Bezier chains, their length and turning, crossings, corners and refitting.

Nothing here knows of panels, fabrics or files.
"""

from .curve import Curve, FloatArray

__all__ = ["Curve", "FloatArray"]
