"""The maker's measures of the body: girths and breadth over depth at any levels known."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..body import Measures
from ..errors import UnitError
from ..pattern.pattern import Pattern
from ..pattern.profile import profile
from ..units import to_mm
from .model import BodyTable

_NEARLY_MM = 0.5
"""A level drawn right along an edge may lie beyond its end by rounding."""


def height_of(key: str, pattern: Pattern) -> float | None:
    """Height in mm above the waist that a key of a measure means, None if it means none.

    A key is a level of the pattern, or a signed length from the waist, such as "+120 mm",
    "-85" or "+4.5 in"; a level of that very name wins.

    Parameters
    ----------
    key : str
    pattern : Pattern
    """
    if key in pattern.level_names():
        return pattern.level_height(key)
    # The sign tells a height from a misspelt level whose name is a number.
    if key.strip()[:1] not in ("+", "-"):
        return None
    try:
        return to_mm(key)
    except UnitError:
        return None


def measures(values: Mapping[str, float], pattern: Pattern) -> Measures:
    """Bring measures in order of height; `measure_faults` must have found nothing wrong.

    Raises
    ------
    BodyError
        If two of them stand at one height.
    """
    heights = [height_of(key, pattern) for key in values]
    return Measures(
        np.array([height for height in heights if height is not None]),
        np.array(list(values.values())),
    )


def measure_faults(body: BodyTable, pattern: Pattern) -> list[str]:
    """Every key of a measure that means no height, or one that the pattern does not reach.

    A girth corrects the pattern's own girth at its height, so there must be one. A ratio of
    breadth to depth may lie beyond the pattern: it bounds what is filled in between.
    """
    faults = []
    for name, table in (("girths", body.girths), ("ratio", body.ratio)):
        if not isinstance(table, dict):
            continue
        for key in table:
            height = height_of(key, pattern)
            if height is None:
                faults.append(f"body.{name}.{key}: no such level, nor a height such as +120 mm")
            elif name == "girths":
                low, high = profile(pattern).drawn
                if not low - _NEARLY_MM <= height <= high + _NEARLY_MM:
                    faults.append(
                        f"body.girths.{key}: the pattern's side edges reach from {low:+.0f} to "
                        f"{high:+.0f} mm from the waist"
                    )
    return faults
