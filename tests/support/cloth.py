"""Pieces to lay on cloth, and what every layout must keep to."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from hypothesis import strategies as st
from shapely.geometry import Polygon

from panelshift.needs.buying import Layout
from panelshift.needs.pieces import Piece
from panelshift.outline import Curve

from .strategies import lengths


def piece(points: Sequence[tuple[float, float]], name: str = "piece", copy: int = 1) -> Piece:
    return Piece(name, copy, False, Curve.polyline(points, closed=True))


def rectangle(width: float, length: float, name: str = "piece", copy: int = 1) -> Piece:
    return piece([(0, 0), (width, 0), (width, length), (0, length)], name, copy)


def wedge(width: float, length: float, copy: int = 1) -> Piece:
    """A right triangle with its long side along the cloth."""
    return piece([(0, 0), (width, 0), (0, length)], "wedge", copy)


@st.composite
def gored(draw: st.DrawFn) -> Piece:
    """A four-sided piece, wider at one end or slanted, like a panel without its curves."""
    length = draw(lengths(60, 300))
    top, bottom = draw(lengths(20, 120)), draw(lengths(20, 120))
    lean, slope = draw(lengths(-40, 40)), draw(lengths(-20, 20))
    return piece([(0, 0), (top, slope), (lean + bottom, length), (lean, length)])


piles = st.lists(gored(), min_size=1, max_size=8)
"""Pieces of one fabric."""


def faults(layout: Layout, *, slack: float = 0.011) -> list[str]:
    """What is wrong with a layout by shapely alone: overlaps, gaps, edges, share, bound."""
    shapes = [Polygon(lying.outline.flatten(0.05)) for lying in layout.laid]
    found = []
    for i, first in enumerate(shapes):
        for j in range(i):
            apart = first.distance(shapes[j])
            if apart < layout.gap - slack or first.intersection(shapes[j]).area > slack:
                found.append(f"pieces {j} and {i} are {apart} mm apart")
        x0, y0, x1, y1 = first.bounds
        if x0 < -slack or x1 > layout.lying_width + slack or y0 < -slack:
            found.append(f"piece {i} leaves the cloth: {first.bounds}")
        if y1 > layout.length + 1e-6:
            found.append(f"piece {i} ends beyond the length")
    area = sum(s.area * lying.piece.plies for s, lying in zip(shapes, layout.laid, strict=True))
    if not np.isclose(area, layout.area, rtol=1e-9):
        found.append(f"area {area} against {layout.area}")
    if not 0.0 < layout.share <= 1.0 + 1e-9:
        found.append(f"share {layout.share}")
    if layout.length < layout.bound * (1.0 - 1e-9):
        found.append(f"length {layout.length} below the bound {layout.bound}")
    return found
