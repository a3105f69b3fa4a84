"""Bodies of our own making whose sections are known: blended shapes, as meshes and as formulas."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import trimesh

from panelshift.body.support import Sections
from panelshift.outline import FloatArray

HEIGHTS = np.linspace(-300.0, 260.0, 113)


def support(psi: FloatArray, z: FloatArray, *, lopsided: float = 0.0) -> FloatArray:
    """h of an invented trunk with bust before and seat behind, shape (len(z), len(psi))."""
    z = z[:, None]
    radius = 105.0 + 40.0 * (z / 200.0) ** 2 / (1.0 + 0.4 * (z / 200.0) ** 2) - 0.05 * z
    ratio = 0.13 - 0.02 * np.tanh(z / 120.0)
    third = 0.02 * np.tanh(z / 150.0)
    place = radius * 0.17 * np.tanh(z / 140.0)
    return (
        radius * (1.0 - ratio * np.cos(2 * psi) - third * np.cos(3 * psi))
        + place * np.cos(psi)
        + lopsided * np.sin(2 * psi)
    )


def sections(z: FloatArray, *, lopsided: float = 0.0) -> Sections:
    # Exact: no wave of it is finer than the third.
    return Sections.of_support(lambda psi: support(psi, z, lopsided=lopsided), 128)


def trunk(chance: np.random.Generator) -> Sections:
    """A trunk like that one with bust, flatness, corners, flare and lean of its own, at HEIGHTS."""
    size, flare, lean, flat, flatter, third, square, ahead = chance.uniform(
        [90.0, 25.0, -0.08, 0.09, -0.03, -0.03, 0.005, 0.05],
        [125.0, 50.0, 0.03, 0.17, 0.02, 0.03, 0.035, 0.22],
    )

    def around(psi: FloatArray) -> FloatArray:
        z = HEIGHTS[:, None]
        swell = (z / 200.0) ** 2 / (1.0 + 0.4 * (z / 200.0) ** 2)
        radius = size + flare * swell + lean * z
        shape = 1.0 - (flat + flatter * np.tanh(z / 120.0)) * np.cos(2.0 * psi)
        shape = shape - third * np.tanh(z / 150.0) * np.cos(3.0 * psi)
        shape = shape - square * (0.5 + 0.5 * np.tanh(z / 130.0)) * np.cos(4.0 * psi)
        return radius * (shape + ahead * np.tanh(z / 140.0) * np.cos(psi))

    return Sections.of_support(around)


def mesh(
    *, turned: float = 0.0, scale: float = 1.0, around: int = 240, lopsided: float = 0.0
) -> trimesh.Trimesh:
    """The trunk as a closed mesh: y up, in mm times `scale`, looking along z before it is turned.

    The wearer's left is at +x, as on a body that looks at us along z with y up.
    """
    return shell(
        HEIGHTS, sections(HEIGHTS, lopsided=lopsided), turned=turned, scale=scale, around=around
    )


def shell(
    heights: FloatArray,
    body: Sections,
    *,
    turned: float = 0.0,
    scale: float = 1.0,
    around: int = 240,
) -> trimesh.Trimesh:
    """Any sections as such a mesh."""
    psi = 2.0 * np.pi * np.arange(around) / around
    rows = np.broadcast_to(psi, (len(heights), around))
    curves = body.points(rows)
    c, s = np.cos(turned), np.sin(turned)
    left, front = curves[..., 0], curves[..., 1]
    x, z = c * left + s * front, -s * left + c * front
    y = np.broadcast_to(heights[:, None] + 900.0, x.shape)
    points = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    index = np.arange(len(points)).reshape(len(heights), around)
    a, b = index[:-1], np.roll(index[:-1], -1, axis=1)
    d, e = index[1:], np.roll(index[1:], -1, axis=1)
    faces = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, e), (a, e, d))])
    ends = np.array([points[index[0]].mean(axis=0), points[index[-1]].mean(axis=0)])
    low, high = len(points), len(points) + 1
    caps = [
        np.column_stack([np.roll(index[0], -1), index[0], np.full(around, low)]),
        np.column_stack([index[-1], np.roll(index[-1], -1), np.full(around, high)]),
    ]
    return trimesh.Trimesh(
        np.vstack([points, ends]) * scale, np.vstack([faces, *caps]), process=False
    )


def saved(body: trimesh.Trimesh, path: Path) -> Path:
    body.export(path)
    return path
