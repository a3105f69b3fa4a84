"""A mesh of a body or a dress form: read from a file, bounded, and free of any file format."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from ..errors import FormError
from ..outline import FloatArray

SUFFIXES: Final = (".stl", ".obj", ".ply", ".glb")

LARGEST_FILE: Final = 300_000_000
"""Bytes. A scan of two million faces as text has less."""

MOST_FACES: Final = 4_000_000
"""More than any hand-held scanner gives of a body; cutting them takes a few seconds."""

_INSTALL: Final = "Install what reads meshes: pip install 'panelshift[form]'."


@dataclass(frozen=True, eq=False)
class Mesh:
    """Triangles in the file's own units and axes.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
    faces : ndarray of int, shape (m, 3)
        Indices of the points of each triangle.
    source : str
        The file, for messages.
    metres : bool
        Whether the file's format says that its unit is the metre.
    """

    points: FloatArray
    faces: np.ndarray[Any, np.dtype[np.int64]]
    source: str
    metres: bool = False


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
    try:
        # From an open file and without a resolver: nothing beside it is ever looked for.
        with file.open("rb") as stream:
            loaded = trimesh.load_mesh(
                stream,
                file_type=file.suffix.lower()[1:],
                resolver=None,
                process=False,
                skip_materials=True,
            )
        points = np.asarray(loaded.vertices, dtype=np.float64)
        faces = np.asarray(loaded.faces, dtype=np.int64)
    except Exception as error:
        # The reader raises whatever its parsing meets: KeyError, struct.error, IndexError ...
        raise FormError(
            f"the mesh cannot be read ({type(error).__name__})",
            remedy="Export it again, as binary STL or PLY.",
            source=str(file),
        ) from error
    return _checked(points, faces, file)


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


def _checked(points: FloatArray, faces: Any, file: Path) -> Mesh:
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
    if not np.isfinite(points[np.unique(faces)]).all():
        raise FormError("a point is not a finite number", remedy="Export it again.", source=source)
    # One point for one place: formats such as STL repeat each for every face. A ten-millionth
    # of the size is far below what any scanner sees.
    span = float(np.ptp(points[np.unique(faces)], axis=0).max())
    if span <= 0.0:
        raise broken
    _, first, index = np.unique(
        np.round(points / (1e-7 * span)), axis=0, return_index=True, return_inverse=True
    )
    faces = index.reshape(-1)[faces]
    kept = (
        (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    )
    if not kept.any():
        raise broken
    return Mesh(points[first], faces[kept], source, metres=file.suffix.lower() == ".glb")
