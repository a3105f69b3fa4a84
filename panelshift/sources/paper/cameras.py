"""How a camera or a scanner sees a plane, with derivatives.

A lens moves what lies at a distance r from the picture's middle along its radius by a factor
1 + a1 r + a2 r^2 + a3 r^3 + a4 r^4 + a6 r^6, r being 1 in the picture's corner: Brown's even powers
("Close-range camera calibration", 1971) and the odd ones that lens figures of photographers have.
Without the odd ones whole millimetres hide behind residuals that look perfect.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ...outline import FloatArray

POWERS: Final = (1, 2, 3, 4, 6)
LENS: Final = 3 + len(POWERS)
"""Numbers of a lens: logarithm of the focal length, the middle (x, y), then a factor a power."""

POSE: Final = 6
"""Numbers of a photo: its rotation vector, then its place; of a scan: a matrix, then its place."""


@dataclass(frozen=True, eq=False)
class Seen:
    """Points of the plane on pictures, with derivatives.

    *pixels*: shape (n, 2). *by_lens*, *by_pose*, *by_point*: shapes (n, 2, LENS), (n, 2, POSE) and
    (n, 2, 2).
    """

    pixels: FloatArray
    by_lens: FloatArray
    by_pose: FloatArray
    by_point: FloatArray


def half_diagonal(size: tuple[int, int]) -> float:
    """Distance in pixels of a picture's corner from its middle; *size*: wide, high."""
    return 0.5 * float(np.hypot(*size))


def photographed(
    points: FloatArray, lens: FloatArray, pose: FloatArray, size: tuple[int, int]
) -> Seen:
    """Points (n, 2) of the plane in mm on one photo. *lens*, *pose*: see `LENS` and `POSE`."""
    reach = half_diagonal(size)
    turn, slopes = _rotation(pose[:3], points)
    eye = points @ turn[:, :2].T + pose[3:]
    depth = eye[:, 2:]
    scale = np.exp(lens[0])
    flat = scale * eye[:, :2] / depth
    r = np.hypot(flat[:, 0], flat[:, 1])
    powers = r[:, None] ** np.array(POWERS)
    factor = 1.0 + powers @ lens[3:]
    # Of the factor by r, over r; nothing pulls in the middle itself.
    safe = np.maximum(r, 1e-9)
    bend = (powers * np.array(POWERS)) @ lens[3:] / safe**2
    count = len(points)
    by_flat = reach * (
        factor[:, None, None] * np.eye(2) + bend[:, None, None] * flat[:, :, None] * flat[:, None]
    )
    by_eye = np.zeros((count, 2, 3))
    by_eye[:, 0, 0] = by_eye[:, 1, 1] = scale / depth[:, 0]
    by_eye[:, :, 2] = -flat / depth
    by_eye = by_flat @ by_eye
    by_lens = np.zeros((count, 2, LENS))
    by_lens[:, :, 0] = (by_flat @ flat[:, :, None])[:, :, 0]
    by_lens[:, 0, 1] = by_lens[:, 1, 2] = 1.0
    by_lens[:, :, 3:] = reach * flat[:, :, None] * powers[:, None]
    by_pose = np.concatenate([by_eye @ slopes, by_eye], axis=2)
    middle = 0.5 * np.array(size, dtype=np.float64) - 0.5 + lens[1:3]
    pixels = middle + reach * factor[:, None] * flat
    return Seen(pixels, by_lens, by_pose, by_eye @ turn[:, :2])


def scanned(points: FloatArray, pose: FloatArray) -> Seen:
    """Points (n, 2) of the plane in mm on one scan: moved, turned and stretched, nothing else."""
    matrix = pose[:4].reshape(2, 2)
    count = len(points)
    by_pose = np.zeros((count, 2, POSE))
    by_pose[:, 0, :2] = by_pose[:, 1, 2:4] = points
    by_pose[:, 0, 4] = by_pose[:, 1, 5] = 1.0
    by_point = np.broadcast_to(matrix, (count, 2, 2))
    return Seen(points @ matrix.T + pose[4:], np.zeros((count, 2, LENS)), by_pose, by_point)


def _rotation(vector: FloatArray, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The matrix of a rotation vector, and how turned points (n, 2) move with it, (n, 3, 3).

    By Rodrigues, and the right Jacobian of SO(3) (Sola, "A micro Lie theory", 2018, eq. 143).
    """
    angle = float(np.linalg.norm(vector))
    cross = _cross(vector)
    square = cross @ cross
    if angle < 1e-6:
        a, b, c = 1.0, 0.5, 1.0 / 6.0
    else:
        a = np.sin(angle) / angle
        b = (1.0 - np.cos(angle)) / angle**2
        c = (angle - np.sin(angle)) / angle**3
    turn = np.eye(3) + a * cross + b * square
    right = np.eye(3) - b * cross + c * square
    x, y = points.T
    zero = np.zeros_like(x)
    around = np.array([[zero, zero, y], [zero, zero, -x], [-y, x, zero]]).transpose(2, 0, 1)
    return turn, -turn @ around @ right


def _cross(vector: FloatArray) -> FloatArray:
    x, y, z = vector
    return np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
