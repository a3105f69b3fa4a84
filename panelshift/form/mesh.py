"""Meshes read within bounds, and cut by planes into the parts of a body."""

from __future__ import annotations

import io
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import ConvexHull, QhullError

from ..errors import FormError
from ..outline import FloatArray
from .claims import refuse_claims

SUFFIXES: Final = (".stl", ".obj", ".ply", ".glb")

LARGEST_FILE: Final = 300_000_000
"""Bytes. A scan of two million faces as text has less."""

MOST_FACES: Final = 4_000_000
"""More than any hand-held scanner gives of a body; cutting them takes a few seconds."""

IntArray = np.ndarray[Any, np.dtype[np.int64]]

_INSTALL: Final = "Install what reads meshes: pip install 'panelshift[form]'."


@dataclass(frozen=True, eq=False)
class Mesh:
    """Triangles in the file's own units and axes.

    *points*: ndarray, shape (n, 3). Each a corner of a face. *faces*: ndarray of int, shape (m, 3).
    Indices of the points of each triangle. *source*: The file, for messages. *metres*: Whether the
    file's format says that its unit is the metre. *loose*: Part of the file's points that belong to
    no face.
    """

    points: FloatArray
    faces: IntArray
    source: str
    metres: bool = False
    loose: float = 0.0


def read_mesh(path: str | os.PathLike[str]) -> Mesh:
    """Read a mesh from an STL, OBJ, PLY or GLB file.

    *path*: nothing that the file refers to (pictures, materials) is opened.

    Returns: points that lie at the same place are one; faces without area are gone.

    Raises `FormError` if the file is of another kind, too large, broken or holds no faces, or if
    trimesh is not installed.
    """
    file = Path(path)
    _refuse_file(file)
    try:
        import trimesh
    except ImportError:
        raise FormError(
            "meshes cannot be read: the package trimesh is missing",
            remedy=_INSTALL,
            source=str(file),
        ) from None
    content = file.read_bytes()
    refuse_claims(content, file)
    try:
        # From bytes without a name and without a resolver: nothing beside it is ever looked for.
        loaded = trimesh.load_mesh(
            io.BytesIO(content),
            file_type=file.suffix.lower()[1:],
            resolver=None,
            process=False,
            skip_materials=True,
        )
        points = np.asarray(loaded.vertices, dtype=np.float64)
        faces = np.asarray(loaded.faces, dtype=np.int64)
    except Exception as error:
        # The reader raises whatever its parsing meets: KeyError, struct.error, IndexError ...
        cause = _CAUSES.get(type(error), f"it breaks its format's rules ({type(error).__name__})")
        raise FormError(
            f"the mesh cannot be read: {cause}",
            remedy="Export it again, as binary STL or PLY.",
            source=str(file),
        ) from error
    # Of a text OBJ only corners of faces are loaded: one that was cut off lists more points.
    listed = content.count(b"\nv ") if file.suffix.lower() == ".obj" else 0
    return _checked(points, faces, file, listed)


def _refuse_file(file: Path) -> None:
    if file.suffix.lower() not in SUFFIXES:
        raise FormError(
            f"{file.suffix or 'a file without an ending'} is not a kind of mesh that is read",
            remedy=f"Export the scan as {', '.join(SUFFIXES)}; STL will do.",
            source=str(file),
        )
    if not file.is_file():
        what = "there is no such file" if not file.exists() else "this is not a file"
        raise FormError(what, remedy="Name the scan's file.", source=str(file))
    size = file.stat().st_size
    if size > LARGEST_FILE:
        raise FormError(
            f"the file has {size / 1e6:.0f} MB; at most {LARGEST_FILE / 1e6:.0f} are read",
            remedy="Reduce the mesh to about 100,000 faces in a mesh program and export it again.",
            source=str(file),
        )


_CAUSES: Final[dict[type[Exception], str]] = {
    IndexError: "it names points or parts that are not there",
    MemoryError: "it claims more points or faces than memory holds",
}


def _checked(points: FloatArray, faces: Any, file: Path, listed: int) -> Mesh:
    source = str(file)
    broken = FormError(
        "the mesh holds no faces", remedy="Export the surface, not points alone.", source=source
    )
    if points.ndim != 2 or points.shape[1:] != (3,) or faces.ndim != 2 or not len(faces):
        raise broken
    if len(faces) > MOST_FACES:
        raise FormError(
            f"the mesh has {len(faces):,} faces; at most {MOST_FACES:,} are read",
            remedy="Reduce it to about 100,000 faces in a mesh program and export it again.",
            source=source,
        )
    if faces.min() < 0 or faces.max() >= len(points):
        raise FormError(
            "faces name points that are not there", remedy="Export it again.", source=source
        )
    count = max(len(points), listed)
    points, faces = _used(points, faces)
    loose = 1.0 - len(points) / count
    if not np.isfinite(points).all():
        raise FormError("a point is not a finite number", remedy="Export it again.", source=source)
    low = points.min(axis=0)
    span = float((points.max(axis=0) - low).max())
    if span <= 0.0:
        raise broken
    # One point for one place: formats such as STL repeat each for every face. A two-millionth
    # of the size is far below what any scanner sees, and three such places fit one integer.
    steps = np.round((points - low) / span * (2**21 - 1)).astype(np.int64)
    place = (steps[:, 0] << 42) | (steps[:, 1] << 21) | steps[:, 2]
    _, first, index = np.unique(place, return_index=True, return_inverse=True)
    faces = index.reshape(-1)[faces]
    kept = (
        (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    )
    if not kept.any():
        raise broken
    points, faces = _used(points[first], faces[kept])
    return Mesh(points, faces, source, file.suffix.lower() == ".glb", loose)


def _used(points: FloatArray, faces: IntArray) -> tuple[FloatArray, IntArray]:
    """Points that are corners of faces, and the faces by them."""
    used = np.zeros(len(points), dtype=np.bool_)
    used[faces] = True
    return points[used], (np.cumsum(used) - 1)[faces]


_LEAST_POINTS: Final = 12
"""A slice of fewer says nothing of a shape."""

_MOST_PARTS: Final = 64
"""Of one slice, the widest: two arms, a trunk and noise are a dozen."""

_BESIDE: Final = 0.6
"""Of two parts of a slice that lie apart, one whose hull has less than this of the other's area
is a limb or noise."""


@dataclass(frozen=True, eq=False)
class SlicePart:
    """One connected part of a slice: its points, and its hull's corners anticlockwise."""

    points: FloatArray
    hull: FloatArray
    area: float
    girth: float

    @property
    def middle(self) -> FloatArray:
        """Mean of the hull's extents."""
        return np.asarray(0.5 * (self.hull.min(axis=0) + self.hull.max(axis=0)))


def slices(points: FloatArray, faces: IntArray, heights: FloatArray) -> list[list[SlicePart]]:
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


def _parts(points: FloatArray, cut: IntArray, height: float) -> list[SlicePart]:
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
    ordered = places[by_label]
    extents = np.maximum.reduceat(ordered, bounds[:-1]) - np.minimum.reduceat(ordered, bounds[:-1])
    extents[np.diff(bounds) < _LEAST_POINTS] = 0.0
    widest = np.argsort(-extents.sum(axis=1), kind="stable")[:_MOST_PARTS]
    parts = [
        part
        for k in widest.tolist()
        if bounds[k + 1] - bounds[k] >= _LEAST_POINTS
        and (part := _part(ordered[bounds[k] : bounds[k + 1]])) is not None
    ]
    return sorted(parts, key=lambda part: -part.area)


def _part(points: FloatArray) -> SlicePart | None:
    try:
        hull = ConvexHull(points)
    except QhullError:
        return None
    corners = points[hull.vertices]
    # In the plane the library calls the area volume, and the perimeter area.
    return SlicePart(points, corners, float(hull.volume), float(hull.area))


def trunk(parts: Sequence[SlicePart], near: FloatArray | None = None) -> SlicePart | None:
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


def rivals(parts: Sequence[SlicePart]) -> int:
    """How many parts of a slice are as large as a trunk: two at the legs, or two bodies."""
    joined = _joined(list(parts))
    return sum(part.area >= _BESIDE * joined[0].area for part in joined) if joined else 0


def _joined(parts: list[SlicePart]) -> list[SlicePart]:
    """Parts whose hulls' boxes lie within each other by half, as one."""
    found: list[SlicePart] = []
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
