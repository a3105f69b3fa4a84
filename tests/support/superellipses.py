"""Superellipses: their perimeters, and a body of them that does not know how its seams run."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from panelshift.body import Ring, SectionModel, Turn
from panelshift.body.section import half_axes


def superellipse_perimeter(half_breadth: float, half_depth: float, exponent: float) -> float:
    ratio = np.array([half_breadth / half_depth])
    _, depth = half_axes(np.ones(1), ratio, exponent)
    return half_depth / float(depth[0])


class LeaningModel:
    """An ellipse at each level that tells how seams lean, not how they run across it."""

    def turn(self, ring: Ring) -> Turn:
        return replace(SectionModel().turn(ring), normals=None, slants=None)
