"""Meshes made to hurt: each is refused with its cause, in bounded time and memory."""

from __future__ import annotations

import json
import struct
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from panelshift.errors import FormError
from panelshift.form.scan import measure_scan
from panelshift.outline import FloatArray

from .bounds import MOST_MIB, bounded

pytest.importorskip("trimesh")

HOSTILE_S = 5.0
SOUP = np.random.default_rng(0).normal(size=(2000, 9)) * 300.0
CORNERS = np.array([0, 0, 0, 1, 0, 0, 0, 1, 0], dtype="<f4").tobytes()
OBJ = b"v 0 0 0\nv 1 0 0\nv 0 1 0\n"


def stl(corners: FloatArray, claimed: int | None = None) -> bytes:
    rows = np.zeros(len(corners), dtype=[("normal", "<f4", 3), ("at", "<f4", 9), ("word", "<u2")])
    rows["at"] = corners
    return b" " * 80 + struct.pack("<I", len(rows) if claimed is None else claimed) + rows.tobytes()


def soup_with(value: float) -> bytes:
    corners = SOUP.copy()
    corners[5, 3] = value
    return stl(corners)


def ply(vertices: int, faces: int, body: bytes = b"", kind: str = "binary_little_endian") -> bytes:
    return (
        f"ply\nformat {kind} 1.0\nelement vertex {vertices}\n"
        "property float x\nproperty float y\nproperty float z\n"
        f"element face {faces}\nproperty list uint int vertex_indices\nend_header\n"
    ).encode() + body


def glb(nodes: int = 1, **changes: dict[str, object]) -> bytes:
    """One triangle, with parts of its accessor, view and buffer changed."""
    accessor = {"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3"}
    tree = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": list(range(nodes))}],
        "nodes": [{"mesh": 0}] * nodes,
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "mode": 4}]}],
        "accessors": [accessor | changes.get("accessor", {})],
        "bufferViews": [{"buffer": 0, "byteLength": 36} | changes.get("view", {})],
        "buffers": [{"byteLength": 36} | changes.get("buffer", {})],
    }
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text
    chunks += struct.pack("<II", len(CORNERS), 0x004E4942) + CORNERS
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def great_soup() -> bytes:
    return stl(np.random.default_rng(1).normal(size=(400_000, 9)) * ([300.0, 300.0, 1200.0] * 3))


BROKEN: dict[str, tuple[Callable[[], bytes], str]] = {
    "nan.stl": (lambda: soup_with(np.nan), "not a finite number"),
    "infinite.stl": (lambda: soup_with(np.inf), "not a finite number"),
    "one_point.stl": (lambda: stl(np.tile([1.0, 2.0, 3.0] * 3, (1_000_000, 1))), "no faces"),
    "no_area.stl": (lambda: stl(np.tile(np.repeat([0.0, 1.0, 2.0], 3), (1000, 1))), "no waist"),
    "huge.stl": (lambda: stl(SOUP * 1e35), "no waist"),
    "soup.stl": (lambda: stl(SOUP), "no waist"),
    "great_soup.stl": (great_soup, "no surface of a body"),
    "empty.stl": (lambda: b"", "no faces"),
    "cut_off.stl": (lambda: stl(SOUP, 4_000_000_000), "claims 4,000,000,000 faces and holds 2,000"),
    "head.stl": (lambda: stl(SOUP[:0], 4_000_000_000), "cut off"),
    "beyond.obj": (lambda: OBJ + b"f 1 2 2000000000\n", "points or parts that are not there"),
    "before.obj": (lambda: OBJ + b"f 1 2 -9\n", "points or parts that are not there"),
    "many_corners.obj": (lambda: OBJ + b"f" + b" 1 2 3" * 300_000 + b"\n", "no waist"),
    "points.ply": (lambda: ply(4_000_000_000, 1), "cut off"),
    "more_points.ply": (lambda: ply(10**30, 1), "cut off"),
    "faces.ply": (lambda: ply(3, 4_000_000_000, CORNERS), "cut off"),
    "corners.ply": (lambda: ply(3, 1, CORNERS + struct.pack("<I", 2**32 - 1)), "cut off"),
    "text.ply": (lambda: ply(4_000_000_000, 1, b"0 0 0\n", "ascii"), "cut off"),
    "values.glb": (lambda: glb(accessor={"count": 4_000_000_000}), "4,000,000,000 values"),
    "beyond.glb": (lambda: glb(accessor={"byteOffset": 4_000_000_000}), "cannot be read"),
    "before.glb": (lambda: glb(accessor={"byteOffset": -400}), "cannot be read"),
    "view.glb": (lambda: glb(view={"byteLength": 4_000_000_000}), "cannot be read"),
    "copies.glb": (lambda: glb(nodes=20_000), "20,000 objects"),
    "outside.glb": (lambda: glb(buffer={"uri": "/dev/zero"}), "in another file"),
    "deep.glb": (
        lambda: struct.pack("<4sIIII", b"glTF", 2, 90_020, 90_000, 0x4E4F534A) + b"[" * 90_000,
        "head is broken",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
@pytest.mark.slow
def test_a_hostile_mesh_is_refused_in_time(tmp_path: Path, name: str) -> None:
    make, words = BROKEN[name]
    path = tmp_path / name
    path.write_bytes(make())
    with bounded(HOSTILE_S), pytest.raises(FormError, match=words):
        measure_scan(path, up="z", units="mm")


_CHILD = """
import resource, sys
most, out, *paths = sys.argv[1:]
resource.setrlimit(resource.RLIMIT_DATA, (int(most) << 20,) * 2)
from panelshift.cli import main
for path in paths:
    try:
        main(["form", path, "--out", out])
    except SystemExit as end:
        print(end.code)
"""


@pytest.mark.slow
def test_the_command_line_refuses_them_in_bounded_memory(tmp_path: Path) -> None:
    """One process for all: it starts for longer than it reads, and what it keeps adds up."""
    pytest.importorskip("resource")
    names = ("one_point.stl", "cut_off.stl", "points.ply", "values.glb", "copies.glb", "beyond.obj")
    paths, out = [tmp_path / name for name in names], tmp_path / "out"
    for path in paths:
        path.write_bytes(BROKEN[path.name][0]())
    done = subprocess.run(
        [sys.executable, "-c", _CHILD, f"{MOST_MIB:.0f}", str(out), *map(str, paths)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.stdout.split() == ["2"] * len(names), done.stderr
    told = [line for line in done.stderr.splitlines() if line.startswith("panelshift: ")]
    for line, path in zip(told, paths, strict=True):
        assert line.startswith(f"panelshift: {path}")
    assert "Traceback" not in done.stderr
    assert "MemoryError" not in done.stderr
    assert "than memory holds" not in done.stderr
    assert not list(out.glob("*"))
