"""Panels laid on bodies whose surfaces are known in closed form."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from panelshift.body import Measures, Ring, SectionModel, Turn, surface
from panelshift.body.column import Column
from panelshift.body.support import ORDER, Sections
from panelshift.body.surface import laid
from panelshift.errors import BodyError
from panelshift.outline import FloatArray

V = np.arange(-60.0, 61.0, 3.0)
COUNT = 14
INNER = slice(6, -6)
"""Heights away from the ends, where slopes are taken from one side only."""


def ring_of(widths: FloatArray, gap: float = 0.0, heights: FloatArray = V) -> Ring:
    """Panels of one width each, given the girth's rows or every panel's."""
    if widths.ndim == 1:
        widths = np.repeat((widths[:, None] - gap) / COUNT, COUNT, axis=1)
    return Ring(heights, widths, gap, ("side",) * widths.shape[1])


def circles(radii: FloatArray, ahead: FloatArray | float = 0.0) -> Sections:
    coefficients = np.zeros((len(radii), ORDER + 1), dtype=np.complex128)
    coefficients[:, 0] = radii
    coefficients[:, 1] = 0.5 * np.asarray(ahead)
    return Sections(coefficients)


@pytest.mark.parametrize("ahead", [0.0, 20.0])
@pytest.mark.parametrize("centre", [-20.0, 0.0, 40.0])
def test_a_sphere_off_its_axis(centre: float, ahead: float) -> None:
    radius = 150.0
    z = np.linspace(-75.0, 75.0, 26)
    body = Column.of(z, circles(np.sqrt(radius**2 - (z - centre) ** 2), ahead), upright=True)
    latitude = np.arcsin(-centre / radius) + V / radius
    turn = laid(body, ring_of(2.0 * np.pi * radius * np.cos(latitude)))
    assert turn.angles == pytest.approx(np.full((len(V), COUNT), 2 * np.pi / COUNT), abs=1e-12)
    assert turn.tilts[INNER] == pytest.approx(
        np.repeat(-latitude[INNER, None], COUNT + 1, axis=1), abs=1e-6
    )
    assert np.abs(turn.slants).max() < 1e-9


@pytest.mark.parametrize("upright", [True, False])
@pytest.mark.parametrize("lean", [0.0, 0.15, -0.3])
def test_an_oblique_cone(lean: float, upright: bool) -> None:
    # Circles of radius 100 + 0.2 z, their middles at y = lean z: the surface moves out by
    # 0.2 + lean cos(psi) for each mm upright. Heights along the panels mean the sine of it.
    rate, gap = 0.2, 20.0
    z = np.linspace(-80.0, 80.0, 5)
    body = Column.of(z, circles(100.0 + rate * z, lean * z), upright=upright)
    if not upright:
        turn = laid(body, ring_of(2.0 * np.pi * (100.0 + rate * V), gap))
        assert np.sin(turn.tilts) == pytest.approx(rate + lean * np.cos(turn.normals), abs=1e-9)
    else:
        seams = np.linspace(-np.pi, np.pi, COUNT + 1)
        turn = laid(body, cut_from(Oblique(rate, lean), seams))
        assert turn.normals[INNER] == pytest.approx(
            np.repeat(seams[None], len(V), 0)[INNER], abs=1e-6
        )
        assert np.tan(turn.tilts) == pytest.approx(rate + lean * np.cos(turn.normals), abs=1e-6)
        # The normal's direction stays along the straight lines of a cone, and they slant.
        slants = np.arctan(-lean * np.sin(seams) * np.cos(turn.tilts[0]))
        assert turn.slants[INNER] == pytest.approx(
            np.repeat(slants[None], len(V), 0)[INNER], abs=1e-6
        )
    assert turn.closure() == pytest.approx(np.full(len(V), 2.0 * np.pi), abs=1e-12)


# -- bodies whose seams are known: cut, laid on again, and carried outwards -----------------


@dataclass(frozen=True)
class Oblique:
    """Circles of radius 100 + rate z about y = lean z."""

    rate: float
    lean: float

    def support(self, psi: FloatArray, z: FloatArray) -> FloatArray:
        return 100.0 + self.rate * z + self.lean * z * np.cos(psi)


@dataclass(frozen=True)
class Torso:
    """A waist with a bust before it and hips behind: waves of psi blended over height."""

    uneven: float = 0.0

    def support(self, psi: FloatArray, z: FloatArray) -> FloatArray:
        bust = np.exp(-(((z - 70.0) / 55.0) ** 2))
        hip = 0.5 * (1.0 - np.tanh((z + 30.0) / 40.0))
        shape = 1.0 - 0.07 * np.cos(2 * psi) + 0.006 * np.cos(3 * psi)
        shape = shape - bust * 0.018 * np.cos(4 * psi) + hip * 0.01 * np.cos(3 * psi)
        shape = shape + self.uneven * np.sin(2 * psi) * (1.0 + 0.004 * z)
        return 104.0 * shape + bust * (9.0 + 14.0 * np.cos(psi)) + hip * (22.0 - 9.0 * np.cos(psi))


def point(body: Oblique | Torso, psi: FloatArray, z: FloatArray) -> FloatArray:
    """The surface's own point, by central differences of the support function."""
    h = body.support(psi, z)
    slope = (body.support(psi + 1e-4, z) - body.support(psi - 1e-4, z)) / 2e-4
    x, y = h * np.sin(psi) + slope * np.cos(psi), h * np.cos(psi) - slope * np.sin(psi)
    return np.stack([x, y, z + 0.0 * x], axis=-1)


def normal(body: Oblique | Torso, psi: FloatArray, z: FloatArray) -> FloatArray:
    """The unit normal: that of the tangent plane spanned by small steps on the surface."""
    step = 1e-3
    across = point(body, psi + step, z) - point(body, psi - step, z)
    up = point(body, psi, z + step) - point(body, psi, z - step)
    cross = np.cross(up, across)
    return cross / np.linalg.norm(cross, axis=-1, keepdims=True)


def lengths(points: FloatArray) -> FloatArray:
    """Running length of curves given by points along the first axis."""
    steps = np.linalg.norm(np.diff(points, axis=0), axis=-1)
    return np.concatenate([np.zeros((1, *steps.shape[1:])), np.cumsum(steps, axis=0)])


FINE = np.linspace(-90.0, 90.0, 361)


def heights_along(body: Oblique | Torso, seams: FloatArray) -> FloatArray:
    """Length up the surface from the waist at each fine height and seam: that of sec(tilt)."""
    z = FINE[:, None]
    rise = (body.support(seams, z + 1e-3) - body.support(seams, z - 1e-3)) / 2e-3
    run = np.sqrt(1.0 + rise**2)
    steps = 0.5 * (run[1:] + run[:-1]) * np.diff(FINE)[:, None]
    total = np.vstack([np.zeros((1, steps.shape[1])), np.cumsum(steps, axis=0)])
    return total - total[len(FINE) // 2]


def cut_from(body: Oblique | Torso, seams: FloatArray, first: str | None = None) -> Ring:
    """Panels as they are cut from a body along seams, given by their normals' directions.

    Parameters: seams has shape (k + 1,), or (fine, k + 1) where they change with height.
    """
    seams = np.broadcast_to(seams, (len(FINE), seams.shape[-1]))
    along = heights_along(body, seams)
    share = np.linspace(0.0, 1.0, 101)[:, None, None]
    between = seams[None, :, :-1] + share * np.diff(seams, axis=1)[None]
    widths = lengths(point(body, between, np.broadcast_to(FINE[:, None], between.shape[1:])))[-1]
    middles = 0.5 * (along[:, 1:] + along[:, :-1])
    drawn = np.column_stack([np.interp(V, m, w) for m, w in zip(middles.T, widths.T, strict=True)])
    return Ring(V, drawn, 0.0, ("side",) * drawn.shape[1], first)


def column(body: Oblique | Torso) -> Column:
    z = np.arange(-90.0, 91.0, 2.0)
    return Column.of(z, Sections.of_support(lambda p: body.support(p, z[:, None])), upright=True)


def leaning_seams(count: int) -> FloatArray:
    """Seams that keep an even spread at the back and lean by up to 25 degrees in between."""
    base = np.linspace(-np.pi, np.pi, count + 1)
    return base + 0.22 * np.sin(2.0 * base) * np.sin(FINE[:, None] / 70.0)


def test_seams_come_back_to_where_they_were_cut() -> None:
    body, seams = Torso(), leaning_seams(COUNT)
    turn = laid(column(body), cut_from(body, seams))
    assert turn.normals is not None
    along = heights_along(body, seams)
    for k in range(COUNT + 1):
        wanted = np.interp(V, along[:, k], seams[:, k])
        # Mean lengths stand for a panel's both edges: a thousandth of its angle.
        assert turn.normals[INNER, k] == pytest.approx(wanted[INNER], abs=2e-3)


@pytest.mark.parametrize("uneven", [0.0, 0.02])
def test_growth_of_every_panel_is_that_of_the_offset_surface(uneven: float) -> None:
    body, seams = Torso(uneven), leaning_seams(COUNT)
    first = "right" if uneven else None
    turn = laid(column(body), cut_from(body, seams, first))
    d = 1e-2
    share = np.linspace(0.0, 1.0, 201)[:, None]
    found = np.diff(turn.normals, axis=1)
    cosines = np.cos(turn.tilts)
    found = found * 0.5 * (cosines[:, 1:] + cosines[:, :-1])
    along = heights_along(body, seams)
    worst = []
    for height in (-45.0, -21.0, 0.0, 24.0, 45.0):
        level = int(np.argmin(np.abs(V - height)))
        for k in range(COUNT):
            z = np.array([np.interp(height, along[:, j], FINE) for j in (k, k + 1)])
            psi = np.array([np.interp(z[j], FINE, seams[:, k + j]) for j in (0, 1)])
            run = (psi[0] + share * (psi[1] - psi[0]), z[0] + share * (z[1] - z[0]))
            grown = [
                lengths(point(body, *run) + way * d * normal(body, *run))[-1, 0] for way in (1, -1)
            ]
            wanted = (grown[0] - grown[1]) / (2.0 * d)
            worst.append((found[level, k] - wanted) / wanted)
    worst = np.array(worst)
    assert np.sqrt((worst**2).mean()) < 0.01
    assert np.abs(worst).max() < 0.03


@pytest.mark.slow
@pytest.mark.parametrize("uneven", [0.0, 0.02])
def test_lengths_of_leaning_seams_are_those_on_the_offset_surface(uneven: float) -> None:
    body, seams = Torso(uneven), leaning_seams(COUNT)
    turn = laid(column(body), cut_from(body, seams, "right" if uneven else None))
    along = heights_along(body, seams)
    d = 1e-2
    slanted, tilted = [], []
    for k in range(COUNT + 1):
        psi = seams[:, k]
        runs = [
            lengths(point(body, psi, FINE) + way * d * normal(body, psi, FINE)) for way in (1, -1)
        ]
        truth = (runs[0] - runs[1]) / (2.0 * d)
        truth = np.interp(V, along[:, k], truth - truth[len(FINE) // 2])
        strain = seam_rates(turn, k)
        found = np.concatenate([[0.0], np.cumsum(0.5 * (strain[1:] + strain[:-1]) * np.diff(V))])
        found -= found[len(V) // 2]
        slanted.append((found - truth)[INNER])
        tilted.append((turn.tilts[len(V) // 2, k] - turn.tilts[:, k] - truth)[INNER])
    # In mm of seam for each mm of distance; the tilt alone misses most where seams lean.
    assert np.abs(slanted).max() < 0.01
    assert np.abs(tilted).max() > 0.05


def seam_rates(turn: Turn, seam: int) -> FloatArray:
    """Change of a seam's length for each mm of height and of distance."""
    assert turn.normals is not None
    assert turn.slants is not None
    tilting = np.gradient(turn.tilts[:, seam], V, edge_order=2)
    turning = np.gradient(turn.normals[:, seam], V, edge_order=2)
    a, tilt = turn.slants[:, seam], turn.tilts[:, seam]
    return -tilting * np.cos(a) + np.cos(tilt) * turning * np.sin(a)


def test_a_helix_on_a_cylinder_takes_the_square_of_its_slant() -> None:
    # Unrolled, a line at angle a to the upright; carried out by d its run round grows by
    # (R + d) / R, and so its length by sin(a)^2 / R for each mm of each.
    radius, slope = 100.0, 0.4
    shares = np.linspace(-np.pi, np.pi, 7) * radius
    seams = shares + slope * V[:, None] * (np.abs(shares) < 300.0)
    turn = laid(
        Column.of(np.array([0.0]), circles(np.array([radius])), upright=True),
        Ring(V, np.diff(seams, axis=1), 0.0, ("side",) * 6, "right"),
    )
    # Ring.arcs puts the centre front at the middle seam, which leans here: so do all others
    # stand still beside it, and the ends lean backwards.
    strain = seam_rates(turn, 0) * np.cos(turn.slants[:, 0])
    angle = np.arctan(slope)
    assert turn.slants[:, 0] == pytest.approx(np.full(len(V), -angle), abs=1e-9)
    assert strain == pytest.approx(np.full(len(V), np.sin(angle) ** 2 / radius), abs=1e-9)


# -- left and right --------------------------------------------------------------------


def test_equal_halves_are_laid_on_the_mean_of_left_and_right() -> None:
    body = Torso(0.02)
    even = ring_of(np.full(len(V), 700.0))
    turn = laid(column(body), even)
    assert turn.angles == pytest.approx(turn.angles[:, ::-1], abs=1e-9)
    level = Torso(0.0)
    assert turn.angles == pytest.approx(laid(column(level), even).angles, abs=1e-9)


def test_halves_drafted_each_by_itself_follow_their_own_side() -> None:
    body, widths = Torso(0.02), np.full((len(V), COUNT), 50.0)
    right, left = (
        laid(column(body), Ring(V, widths, 0.0, ("side",) * COUNT, first))
        for first in ("right", "left")
    )
    assert left.angles == pytest.approx(right.angles[:, ::-1], abs=1e-9)
    assert np.abs(right.angles - right.angles[:, ::-1]).max() > 0.02
    assert right.closure() == pytest.approx(np.full(len(V), 2 * np.pi), abs=1e-12)


def test_the_front_is_the_middle_seam_or_the_middle_of_the_middle_panel() -> None:
    one = Ring(np.zeros(1), np.array([[30.0, 50.0, 40.0, 20.0]]), 10.0, ("side",) * 4, "right")
    assert one.arcs()[0].tolist() == [-80.0, -50.0, 0.0, 40.0, 60.0]
    odd = Ring(np.zeros(1), np.array([[30.0, 50.0, 40.0]]), 10.0, ("side",) * 3, "right")
    assert odd.arcs()[0].tolist() == [-55.0, -25.0, 25.0, 65.0]


# -- what sections are brought to -----------------------------------------------------------


def test_ellipses_in_a_column_are_the_section_model() -> None:
    girths = 700.0 + 150.0 * np.sin(V / 60.0)
    ratio = 1.4 + 0.001 * V
    body = Column.of(
        V,
        Sections.of_support(lambda p: np.hypot(ratio[:, None] * np.sin(p), np.cos(p))),
        upright=False,
    )
    ring = ring_of(girths, 30.0)
    found, wanted = laid(body, ring), SectionModel(Measures(V, ratio)).turn(ring)
    assert found.angles == pytest.approx(wanted.angles, abs=1e-9)
    assert found.tilts[INNER] == pytest.approx(wanted.tilts[INNER], abs=1e-6)


def test_the_middle_of_the_depth_stays_when_a_section_is_scaled() -> None:
    body = Torso(0.02)
    z = np.array([0.0])
    own = Sections.of_support(lambda p: body.support(p, z[:, None]))
    levels = Column.of(z, own, upright=True).at(z)
    ends = np.array([[0.0, np.pi, np.pi / 2, -np.pi / 2]])
    for radius in (own.girths / (2 * np.pi), np.array([80.0])):
        h, before = levels.sections(radius).support(ends)[0], own.support(ends)[0]
        assert h[0] - h[1] == pytest.approx(before[0] - before[1], abs=1e-9)
        assert h[2] - h[3] == pytest.approx(before[2] - before[3], abs=1e-9)
        assert h[0] + h[1] == pytest.approx(
            (before[0] + before[1]) * radius[0] / own.girths[0] * 2 * np.pi
        )


def test_given_girths_make_the_body_and_leave_the_panels() -> None:
    ring = ring_of(np.full(len(V), 700.0))
    body = column(Oblique(0.0, 0.0))
    larger = Measures(np.array([-60.0, 60.0]), np.array([700.0, 760.0]))
    turn = laid(body, ring, larger)
    assert turn.angles == pytest.approx(laid(body, ring).angles, abs=1e-9)
    rate = 60.0 / 120.0 / (2 * np.pi)
    assert np.sin(turn.tilts[INNER]) == pytest.approx(
        np.full(turn.tilts[INNER].shape, rate), abs=1e-6
    )


@pytest.mark.parametrize("upright", [True, False])
def test_a_body_that_no_cloth_can_follow_is_refused(upright: bool) -> None:
    z = np.array([-60.0, 60.0])
    body = Column.of(z, circles(np.array([100.0, 100.0])), upright=upright)
    with pytest.raises(BodyError, match="no cloth can follow"):
        laid(body, ring_of(700.0 + 7.0 * V))


def test_lengths_that_do_not_settle_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("panelshift.body.surface._MOST_PASSES", 1)
    with pytest.raises(BodyError, match="no cloth can follow"):
        laid(column(Torso()), ring_of(700.0 + V))


def test_heights_must_increase_and_match() -> None:
    for heights in ([0.0, 0.0], [0.0]):
        with pytest.raises(BodyError, match="do not increase"):
            Column.of(np.array(heights), circles(np.array([90.0, 100.0])), upright=True)


def test_tilts_that_do_not_settle_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(surface, "_MOST_ROUNDS", 0)
    with pytest.raises(BodyError, match="no cloth can follow"):
        surface._tilts(np.zeros((3, 2)), np.ones((3, 2)), np.zeros((3, 1)), np.zeros((3, 2)))
