"""Taut cloth over ridges: closed forms, and the convex hull of an outside library."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, strategies as st
from scipy.spatial import ConvexHull
from shapely import MultiPoint

from panelshift.construction.taut import Columns, Face, Path, Relief, taut
from panelshift.outline import FloatArray
from tests.support.examples import examples

R = 105.0


def over(
    face: Face, low: FloatArray, high: FloatArray, thick: FloatArray, at: FloatArray | None = None
) -> Path:
    """Cloth over bendable ridges from `low` to `high` (directions), held at `at` besides."""
    m = len(face.bounds)
    parts = np.linspace(0.0, 1.0, 5)
    inner = (low[:, None] + (high - low)[:, None] * parts).ravel()
    own = np.zeros(0) if at is None else at
    psi = np.broadcast_to(np.concatenate([own, inner]), (m, len(own) + len(inner)))
    columns, place = Columns.of(face, psi)
    inside = (columns.psi[..., None] >= low - 1e-12) & (columns.psi[..., None] <= high + 1e-12)
    between = inside[:, :-1] & inside[:, 1:]
    laid = Relief(inside @ thick, between @ thick, np.ones(between.shape[:2], dtype=np.bool_))
    held = np.zeros(columns.psi.shape, dtype=np.bool_)
    np.put_along_axis(held, place[:, : len(own)], True, axis=1)
    return taut(face, columns, laid, held)


def round_face(turn: float = np.pi, radius: float = R, panels: int = 1) -> Face:
    return Face.of(
        np.full((1, panels), turn * radius / panels), np.full((1, panels), turn / panels)
    )


def corner(height: float, radius: float = R) -> tuple[float, float]:
    """Angle and extra length of a line from a height down to a circle (design: rope and earth)."""
    beta = math.acos(radius / (radius + height))
    return beta, radius * (math.tan(beta) - beta)


def test_a_line_lifted_from_the_earth() -> None:
    # Published puzzle: a rope round the earth (6400 km) made 1 m longer and pulled up at one
    # place stands 121.645 m high.
    _, extra = corner(121.645, 6_400_000.0)
    assert 2.0 * extra == pytest.approx(1.0, abs=1e-4)
    face = round_face(radius=6_400_000.0)
    at = np.array([1.5])
    path = over(face, at, at, np.array([121.645]))
    assert path.extra.sum() == pytest.approx(2.0 * extra, abs=1e-6)


def test_one_corner() -> None:
    at = np.array([1.4])
    path = over(round_face(), at, at, np.array([1.5]))
    assert path.extra.sum() == pytest.approx(2.0 * corner(1.5)[1], abs=1e-9)


@pytest.mark.parametrize("apart", [0.05, 0.1, 0.2, 0.31, 0.5])
@pytest.mark.parametrize("heights", [(1.5, 1.5), (1.5, 0.9), (0.4, 2.0)])
def test_two_corners_land_or_clear(apart: float, heights: tuple[float, float]) -> None:
    at = np.array([1.0, 1.0 + apart])
    path = over(round_face(), at, at, np.array(heights))
    (b1, c1), (b2, c2) = corner(heights[0]), corner(heights[1])
    a, b = R + heights[0], R + heights[1]
    chord = math.sqrt((a - b) ** 2 + 4.0 * a * b * math.sin(0.5 * apart) ** 2) - R * apart
    between = c1 + c2 if apart >= b1 + b2 else chord
    low = min(heights)
    if math.cos(apart) * (R + max(heights)) > R + low:
        pytest.skip("the lower corner lies under the line from the higher one")
    if apart < b1 + b2 and heights[0] != heights[1]:
        # The lower corner may lie under the line that comes down from the higher one.
        tangent = corner(max(heights))[0] - corner(low)[0]
        if apart <= tangent:
            pytest.skip("hidden")
    assert path.extra.sum() == pytest.approx(c1 + c2 + between, abs=1e-9)


def test_a_wide_ridge_that_bends() -> None:
    path = over(round_face(), np.array([1.0]), np.array([1.3]), np.array([1.5]))
    assert path.extra.sum() == pytest.approx(0.3 * 1.5 + 2.0 * corner(1.5)[1], abs=1e-9)


def test_twenty_four_bars_round_a_waist() -> None:
    # Held on top of two bars, opposite each other: half a ring.
    n, w, t = 24, 6.5, 1.5
    middle = np.arange(13) * 2.0 * np.pi / n
    half = 0.5 * w / R
    low, high = np.maximum(middle - half, 0.0), np.minimum(middle + half, np.pi)
    path = over(round_face(), low, high, np.full(13, t))
    assert 2.0 * path.extra.sum() == pytest.approx(8.57, abs=0.005)


def test_panels_share_a_chord_at_the_seam() -> None:
    face = round_face(panels=2)
    seam = np.pi / 2.0
    at = np.array([seam - 0.1, seam + 0.1])
    path = over(face, at, at, np.array([1.5, 1.5]))
    assert path.extra[0] == pytest.approx([path.extra[0, 0]] * 2, abs=1e-9)
    low = (R + 1.5) * math.cos(0.1) - R
    assert np.abs(path.relief.height - low).min() < 1e-9


def test_held_everywhere_is_the_face_itself() -> None:
    psi = np.linspace(0.0, np.pi, 200)
    none = np.zeros(1)
    path = over(round_face(panels=7), none, none, none, psi)
    assert np.abs(path.extra).max() < 1e-9


def test_a_hold_beside_a_ridge() -> None:
    # Stitched down 3 mm beside a bar: the line has no room to come down to the face.
    at = np.array([1.0])
    hold = np.array([1.0 + 3.0 / R])
    path = over(round_face(), at, at, np.array([1.5]), hold)
    a = R + 1.5
    chord = math.sqrt((a - R) ** 2 + 4.0 * a * R * math.sin(1.5 / R) ** 2) - 3.0
    assert path.extra.sum() == pytest.approx(corner(1.5)[1] + chord, abs=1e-9)


def test_beyond_a_bone_s_end_what_cloth_needs_falls_in_proportion() -> None:
    # Hull of a cylinder and a bar that ends 10 mm above its rim, by an outside library.
    t, w, room = 1.5, 7.0, 10.0
    turn = np.linspace(-np.pi, np.pi, 1441)[:-1]
    across = np.linspace(-0.5, 0.5, 9) * w / R
    points = np.vstack(
        [
            np.column_stack([r * np.cos(psi), r * np.sin(psi), np.full(len(psi), z)])
            for r, psi, z in ((R, turn, 0.0), (R, turn, room), (R + t, across, room))
        ]
    )
    hull = ConvexHull(points, qhull_options="QJ")
    whole = t * w / R + 2.0 * corner(t)[1]
    for part in (0.9, 0.6, 0.3):
        cut = []
        for a, b in itertools.combinations(range(3), 2):
            one, two = (points[hull.simplices[:, k]] for k in (a, b))
            meets = (one[:, 2] - part * room) * (two[:, 2] - part * room) < 0.0
            one, two = one[meets], two[meets]
            share = (part * room - one[:, 2]) / (two[:, 2] - one[:, 2])
            cut.append((one + share[:, None] * (two - one))[:, :2])
        ring = np.asarray(MultiPoint(np.vstack(cut)).convex_hull.exterior.coords)
        bare = 2.0 * len(turn) * R * math.sin(math.pi / len(turn))
        found = np.hypot(*np.diff(ring, axis=0).T).sum() - bare
        assert found == pytest.approx(part * whole, abs=2e-3)
        # The same by a lower ridge, as it is laid.
        half = np.array([1.4 - 0.5 * w / R]), np.array([1.4 + 0.5 * w / R])
        path = over(round_face(), *half, np.array([t * part ** (2.0 / 3.0)]))
        assert path.extra.sum() == pytest.approx(part * whole, rel=0.12)
        assert path.extra.sum() >= part * whole


@examples(40)
@given(st.integers(0, 10_000))
def test_against_a_hull_of_shapely(seed: int) -> None:
    rng = np.random.default_rng(seed)
    panels, ridges = int(rng.integers(2, 8)), int(rng.integers(1, 16))
    turn = 2.6
    face = Face.of(
        rng.uniform(30.0, 70.0, panels)[None], rng.dirichlet(np.full(panels, 4.0))[None] * turn
    )
    middle, half = rng.uniform(0.05, turn - 0.05, ridges), rng.uniform(0.0, 0.04, ridges)
    low, high = np.maximum(middle - half, 0.01), np.minimum(middle + half, turn - 0.01)
    thick = rng.uniform(0.1, 2.5, ridges)
    path = over(face, low, high, thick)
    psi = np.unique(np.concatenate([np.linspace(0.0, turn, 8001), low, high]))
    panel = face.panel_at(np.zeros(len(psi), dtype=np.int64), psi)
    height = ((psi[:, None] >= low) & (psi[:, None] <= high)) @ thick
    points = face.centres[0, panel] + (face.radii[0, panel] + height) * np.exp(1j * psi)
    ring = np.asarray(
        MultiPoint(np.column_stack([points.real, points.imag])).convex_hull.exterior.coords
    )
    around = np.abs(np.diff(ring[:, 0] + 1j * ring[:, 1])).sum() - abs(points[-1] - points[0])
    assert path.extra.sum() == pytest.approx(around - face.runs[0, -1], abs=0.002)
