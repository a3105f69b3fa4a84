"""Where to begin: rough places of strips and pictures, by projective maps of the plane alone."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ...outline import FloatArray
from .cameras import half_diagonal
from .rectified import opencv

if TYPE_CHECKING:
    from .placing import Sighting


def start(
    sizes: Sequence[tuple[int, int]],
    lenses: Sequence[int],
    sightings: Sequence[Sighting],
    strips: Sequence[str],
    focal: float,
) -> tuple[FloatArray, FloatArray]:
    """Poses of pictures, shape (p, 6), and places of strips, shape (s, 3), the first at zero.

    *focal*: logarithm of the focal length in half diagonals, of all photos.
    """
    maps, places = _plane_maps(len(sizes), lenses, sightings, strips)
    poses = np.zeros((len(sizes), 6))
    for picture, (size, lens) in enumerate(zip(sizes, lenses, strict=True)):
        h = maps[picture]
        if lens < 0:
            poses[picture] = [h[0, 0], h[0, 1], h[1, 0], h[1, 1], h[0, 2], h[1, 2]]
        else:
            poses[picture] = _pose(h, size, float(np.exp(focal)))
    return poses, places


def _plane_maps(
    pictures: int, lenses: Sequence[int], sightings: Sequence[Sighting], strips: Sequence[str]
) -> tuple[dict[int, FloatArray], FloatArray]:
    """Maps of the plane to pictures, and places of strips; grown from the first strip on."""
    maps: dict[int, FloatArray] = {}
    placed = {strips[0]: np.zeros(3)}
    # A picture by the strips placed so far, then strips by pictures; once more with all.
    while len(maps) < pictures or len(placed) < len(strips):
        before = len(maps) + len(placed)
        _map_pictures(maps, placed, lenses, sightings)
        _place_strips(maps, placed, sightings, strips[0])
        if len(maps) + len(placed) == before:
            raise AssertionError("the pictures are not joined by strips")
    for _ in range(8):
        _map_pictures(maps, placed, lenses, sightings)
        _place_strips(maps, placed, sightings, strips[0])
    return maps, np.array([placed[name] for name in strips])


def _map_pictures(
    maps: dict[int, FloatArray],
    placed: dict[str, FloatArray],
    lenses: Sequence[int],
    sightings: Sequence[Sighting],
) -> None:
    cv = opencv()
    for picture, lens in enumerate(lenses):
        own = [s for s in sightings if s.picture == picture and s.name in placed]
        if not own:
            continue
        points = np.concatenate([at(placed[s.name], s.places) for s in own])
        pixels = np.concatenate([s.pixels for s in own])
        if lens < 0:
            found, _ = cv.estimateAffinePartial2D(points, pixels)
            maps[picture] = np.vstack([found, [0.0, 0.0, 1.0]])
        else:
            maps[picture], _ = cv.findHomography(points, pixels)


def _place_strips(
    maps: dict[int, FloatArray],
    placed: dict[str, FloatArray],
    sightings: Sequence[Sighting],
    first: str,
) -> None:
    found: dict[str, list[FloatArray]] = {}
    for sighting in sightings:
        if sighting.picture in maps and sighting.name != first:
            back = np.linalg.inv(maps[sighting.picture])
            points = np.column_stack([sighting.pixels, np.ones(len(sighting.pixels))]) @ back.T
            laid = points[:, :2] / points[:, 2:]
            found.setdefault(sighting.name, []).append(rigid(sighting.places, laid))
    for name, several in found.items():
        placed[name] = np.median(several, axis=0) if len(several) > 2 else several[0]


def at(place: FloatArray, points: FloatArray) -> FloatArray:
    """Points of a strip where it lies: x, y and its angle."""
    c, s = np.cos(place[2]), np.sin(place[2])
    laid: FloatArray = points @ np.array([[c, s], [-s, c]]) + place[:2]
    return laid


def rigid(points: FloatArray, laid: FloatArray) -> FloatArray:
    """The place (x, y, angle) that takes points nearest to where they lie (Kabsch, 1976)."""
    middle, target = points.mean(axis=0), laid.mean(axis=0)
    a, b = points - middle, laid - target
    angle = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    turned = at(np.array([0.0, 0.0, angle]), middle[None])[0]
    return np.array([*(target - turned), angle])


def _pose(h: FloatArray, size: tuple[int, int], focal: float) -> FloatArray:
    """The pose of a photo from its map of the plane (Zhang, 2000, section 3.1)."""
    reach = half_diagonal(size)
    middle = 0.5 * np.array(size) - 0.5
    camera = np.array([[reach * focal, 0, middle[0]], [0, reach * focal, middle[1]], [0, 0, 1.0]])
    columns = np.linalg.solve(camera, h)
    columns /= np.sqrt(np.linalg.norm(columns[:, 0]) * np.linalg.norm(columns[:, 1]))
    if columns[2, 2] < 0.0:
        columns = -columns
    u, _, v = np.linalg.svd(np.column_stack([columns[:, :2], np.cross(*columns[:, :2].T)]))
    vector, _ = opencv().Rodrigues(u @ np.diag([1.0, 1.0, np.linalg.det(u @ v)]) @ v)
    return np.concatenate([vector.ravel(), columns[:, 2]])
