"""Horizontal slices of a mesh, and which part of each is the trunk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import ConvexHull, QhullError

from ..outline import FloatArray

IntArray = np.ndarray[Any, np.dtype[np.int64]]

_LEAST_POINTS: Final = 12
"""A slice of fewer says nothing of a shape."""

_BESIDE: Final = 0.6
"""Of two parts of a slice that lie apart, one whose hull has less than this of the other's area
is a limb or noise."""


@dataclass(frozen=True, eq=False)
class Part:
    """One connected part of a slice: its points, and its hull's corners anticlockwise."""

    points: FloatArray
    hull: FloatArray
    area: float
    girth: float

    @property
    def middle(self) -> FloatArray:
        """Mean of the hull's extents."""
        return np.asarray(0.5 * (self.hull.min(axis=0) + self.hull.max(axis=0)))


def slices(points: FloatArray, faces: IntArray, heights: FloatArray) -> list[list[Part]]:
    """Cut a mesh by horizontal planes into connected parts.

    *points*: ndarray, shape (n, 3). With the third coordinate upwards. *faces*: ndarray of int,
    shape (m, 3). *heights*: ndarray, shape (k,).

    Returns: for each height the parts, the one with the largest hull first; an empty list where
    nothing is cut.
    """
    z = points[:, 2]
    low, high = z[faces].min(axis=1), z[faces].max(axis=1)
    order = np.argsort(low, kind="stable")
    starts = low[order]
    found = []
    for height in heights.tolist():
        # Faces that begin below the plane, and of those the ones that end above it.
        below = order[: int(np.searchsorted(starts, height, side="right"))]
        cut = faces[below[high[below] > height]]
        found.append(_parts(points, cut, height))
    return found


def _parts(points: FloatArray, cut: IntArray, height: float) -> list[Part]:
    """Parts of one slice: two points on every cut face, joined where faces share an edge."""
    if len(cut) < 3:
        return []
    above = points[cut, 2] > height
    # The corner that lies alone on its side of the plane; both cut edges end there.
    alone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), (~above).argmax(axis=1))
    rows = np.arange(len(cut))
    apex = cut[rows, alone]
    edges = np.vstack([np.column_stack([apex, cut[rows, (alone + step) % 3]]) for step in (1, 2)])
    edges.sort(axis=1)
    # An edge belongs to two faces: its point is one and the same for both.
    key = edges[:, 0] * len(points) + edges[:, 1]
    _, first, index = np.unique(key, return_index=True, return_inverse=True)
    index = index.reshape(-1)
    one, two = points[edges[first, 0]], points[edges[first, 1]]
    share = ((height - one[:, 2]) / (two[:, 2] - one[:, 2]))[:, None]
    places = one[:, :2] + share * (two[:, :2] - one[:, :2])
    half = len(cut)
    graph = coo_array((np.ones(half, np.int8), (index[:half], index[half:])), (len(first),) * 2)
    count, label = connected_components(graph, directed=False)
    by_label = np.argsort(label, kind="stable")
    bounds = np.searchsorted(label[by_label], np.arange(count + 1))
    parts = [
        part
        for a, b in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True)
        if b - a >= _LEAST_POINTS and (part := _part(places[by_label[a:b]])) is not None
    ]
    return sorted(parts, key=lambda part: -part.area)


def _part(points: FloatArray) -> Part | None:
    try:
        hull = ConvexHull(points)
    except QhullError:
        return None
    corners = points[hull.vertices]
    # In the plane the library calls the area volume, and the perimeter area.
    return Part(points, corners, float(hull.volume), float(hull.area))


def trunk(parts: Sequence[Part], near: FloatArray | None = None) -> Part | None:
    """The part of a slice that is the body's trunk, or None if there is none.

    *parts*: of one slice, the largest first. *near*: ndarray, shape (2,), optional. Where the trunk
    of the neighbouring slice has its middle: of parts of like size the nearest is taken.

    Notes
    -----
    Holes in a scan split a trunk's outline into pieces of which each has a hull of its own;
    those whose hulls reach into each other are one part, and the hull closes the hole.
    """
    if not parts:
        return None
    joined = _joined(list(parts))
    rivals = [part for part in joined if part.area >= _BESIDE * joined[0].area]
    if near is None or len(rivals) == 1:
        return joined[0]
    return min(rivals, key=lambda part: float(np.hypot(*(part.middle - near))))


def rivals(parts: Sequence[Part]) -> int:
    """How many parts of a slice are as large as a trunk: two at the legs, or two bodies."""
    joined = _joined(list(parts))
    return sum(part.area >= _BESIDE * joined[0].area for part in joined) if joined else 0


def _joined(parts: list[Part]) -> list[Part]:
    """Parts whose hulls' boxes lie within each other by half, as one."""
    found: list[Part] = []
    for part in parts:
        for index, other in enumerate(found):
            if _share_inside(part.hull, other.hull) > 0.5:
                both = _part(np.vstack([other.points, part.points]))
                if both is not None:
                    found[index] = both
                break
        else:
            found.append(part)
    return sorted(found, key=lambda part: -part.area)


def _share_inside(small: FloatArray, large: FloatArray) -> float:
    """Part of one hull's box that lies in another's."""
    low = np.maximum(small.min(axis=0), large.min(axis=0))
    high = np.minimum(small.max(axis=0), large.max(axis=0))
    box = np.prod(np.maximum(np.ptp(small, axis=0), 1e-12))
    return float(np.prod(np.maximum(high - low, 0.0)) / box)
