"""Numbers from outside the project, each with its source.

Checks keep the numbers under which they were first listed.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from panelshift.body import Measures, SectionModel
from panelshift.cutting.allowance import cut_line
from panelshift.outline import Curve
from panelshift.outline.measure import length, turning
from panelshift.outline.offset import offset_all
from tests.support.drafts import PanelDraft, drawn, walls
from tests.support.runs import level_widths, read_pattern, run, two_layers
from tests.support.superellipses import superellipse_perimeter

CIRCLE = SectionModel(Measures.constant(1.0))

# -- 1: running track. World Athletics track geometry as published on several public pages
# (read); arithmetic run.

STRAIGHT, KERB, LANE = 84.39, 36.50, 1.22
INNERMOST, OTHERS = 0.30, 0.20
"""How far out a lane is measured: the first from its kerb, all others from the line inside."""


def track(radius: float) -> Curve:
    """The inner kerb, clockwise (panel coordinates), its bends as cubics of 7.5 degrees."""
    s = 0.5 * STRAIGHT
    steps = np.radians(np.linspace(0.0, 180.0, 25))
    bends = []
    for sense in (1.0, -1.0):
        at = np.column_stack([sense * (s + radius * np.sin(steps)), sense * radius * np.cos(steps)])
        way = sense * np.column_stack([np.cos(steps), -np.sin(steps)])
        handle = 4.0 / 3.0 * np.tan(np.radians(7.5) / 4.0) * radius
        control = np.stack(
            [at[:-1], at[:-1] + handle * way[:-1], at[1:] - handle * way[1:], at[1:]], axis=1
        )
        bends.append(Curve.cubics(control))
    back = Curve.polyline([bends[0].end, bends[1].start])
    out = Curve.polyline([bends[1].end, bends[0].start])
    return Curve.chain([bends[0], back, bends[1], out], closed=True)


def test_1_track_lane_one_is_400_m() -> None:
    assert length(offset_all([track(KERB)], [INNERMOST])[0]) == pytest.approx(400.0012, abs=1e-4)


def test_1_lanes_beyond_the_first_are_measured_nearer_their_line() -> None:
    lanes = [length(offset_all([track(KERB)], [OTHERS + k * LANE])[0]) for k in range(1, 6)]
    assert lanes[0] == pytest.approx(407.038, abs=1e-3)
    assert np.diff(lanes) == pytest.approx([7.6655] * 4, abs=1e-4)
    assert lanes[4] == pytest.approx(437.700, abs=1e-3)


def test_1_cut_line_round_a_track_is_a_lane_longer() -> None:
    # Through the reader: a stadium of the track's shape (1 m drawn as 4 mm, CF and CB on the
    # straights), cut with one lane all round; corners named, for a stadium has none.
    from panelshift.draft import Reading, assemble
    from panelshift.sources.svg import read_svg

    scale = 4.0
    s, r = 0.5 * STRAIGHT * scale, KERB * scale
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="800mm" height="800mm" '
        f'viewBox="-400 -400 800 800"><path id="track" d="M{-r},{-s}A{r},{r} 0 0 1 {r},{-s}'
        f'L{r},{s}A{r},{r} 0 0 1 {-r},{s}Z"/><path id="waist" d="M{-r - 1},0H{r + 1}"/></svg>'
    )
    corners = {
        "front_top": (400 - r, 400 - s),
        "back_top": (400 + r, 400 - s),
        "back_bottom": (400 + r, 400 + s),
        "front_bottom": (400 - r, 400 + s),
    }
    pattern = assemble(
        read_svg(svg.encode(), name="track.svg"), Reading(corners={"track": corners})
    )
    panel = pattern.panels[0]
    allowance = dict.fromkeys(("front", "back", "top", "bottom"), LANE * scale)
    lane = cut_line(panel, allowance)
    assert length(lane) - length(panel.outline) == pytest.approx(7.6655 * scale, abs=1e-3)


def test_1_a_garment_round_a_track_grows_by_a_lane() -> None:
    # The same closed convex shape worn: panels round the track's inner edge, any widths, gain
    # one lane in all when their layer lies one lane further out (1 m as 4 mm).
    kerb = (2 * STRAIGHT + 2 * np.pi * KERB) * 4.0
    half = [kerb / 2 * part for part in (0.1, 0.25, 0.3, 0.15, 0.2)]
    outcome = run(drawn(walls(half)), two_layers(LANE * 4.0))
    gain = 2 * (np.array(level_widths(outcome.written())) - level_widths(outcome.pattern)).sum(0)
    assert gain == pytest.approx([7.6655 * 4.0] * 3, abs=0.01)


# -- 2: layers bent together. The PCB Design Magazine, January 2014, p. 30 (read): 1.5 t is a
# rule of thumb there, and the value varies with the number of layers and how tight the bend is.
# That it is meant for a bend of 90 degrees is our reading. It gives the order of magnitude; what
# is proved here is pi/2 t, which is 4.7 % above it.


@pytest.mark.parametrize("thickness", [0.2, 0.5, 1.0])
def test_2_a_layer_bent_by_90_degrees_is_cut_half_as_long_again_as_it_is_thick(
    thickness: float,
) -> None:
    # Four equal panels round a circle: each is bent by 90 degrees.
    outcome = run(drawn(walls([150.0, 150.0])), two_layers(thickness), CIRCLE)
    for panel in range(2):
        assert outcome.turn.angle_at(panel, 0.0) == pytest.approx(np.pi / 2)
        growth = outcome.shifted.growth(1, panel, 0.0)
        assert growth == pytest.approx(np.pi / 2 * thickness, rel=1e-9)
        assert 1.0 * thickness < growth < 2.0 * thickness
    gain = np.array(level_widths(outcome.written())) - level_widths(outcome.pattern)
    assert gain == pytest.approx(np.full((2, 3), np.pi / 2 * thickness), abs=0.002)


# -- 3 and 4: bends in sheet metal, whose neutral layer lies K of the thickness from the inside.
# 3: a public page with a bend allowance calculator, worked example (read, run). 4: README of an
# open-source sheet-metal workbench for a general CAD program (read, run). Cloth keeps its own
# middle (K = 1/2); these check the arithmetic of an arc through a layer, not cloth.


@pytest.mark.parametrize(
    ("radius", "thickness", "k", "allowance", "within"),
    [(0.125 * 25.4, 0.125 * 25.4, 0.44, 0.2827 * 25.4, 2e-3), (1.64, 2.00, 0.38, 3.76991, 1e-5)],
)
def test_3_and_4_a_bend_is_as_long_as_its_neutral_layer(
    radius: float, thickness: float, k: float, allowance: float, within: float
) -> None:
    # A quarter circle on the inside, turning right, and the offset that is the neutral layer.
    turn = np.radians(np.linspace(0.0, 90.0, 13))
    at = radius * np.column_stack([1.0 - np.cos(turn), np.sin(turn)])
    way = np.column_stack([np.sin(turn), np.cos(turn)])
    handle = 4.0 / 3.0 * np.tan(np.radians(7.5) / 4.0) * radius
    quarter = Curve.cubics(
        np.stack([at[:-1], at[:-1] + handle * way[:-1], at[1:] - handle * way[1:], at[1:]], axis=1)
    )
    bent = length(offset_all([quarter], [k * thickness])[0])
    assert bent == pytest.approx(allowance, abs=within)
    assert bent - length(quarter) == pytest.approx(np.pi / 2.0 * k * thickness, rel=1e-6)


# -- 7 and 10: perimeters. 7: scipy.special.ellipe; 10: scipy quad.


@pytest.mark.parametrize(
    ("a", "b", "perimeter"),
    [
        (2, 1, 9.688448220548),
        (3, 2, 15.865439589291),
        (5, 3, 25.526998863398),
        (10, 1, 40.639741801009),
    ],
)
def test_7_ellipse_perimeter(a: float, b: float, perimeter: float) -> None:
    assert superellipse_perimeter(a, b, 2.0) == pytest.approx(perimeter, abs=1e-11)
    assert superellipse_perimeter(b, a, 2.0) == pytest.approx(perimeter, abs=1e-11)


@pytest.mark.parametrize(
    ("exponent", "perimeter"),
    [(2.0, 731.128766), (2.5, 759.654545), (3.0, 781.290839), (4.0, 811.217546)],
)
def test_10_superellipse_perimeter(exponent: float, perimeter: float) -> None:
    assert superellipse_perimeter(140, 90, exponent) == pytest.approx(perimeter, abs=1e-6)


# -- 8 and 9: an ellipse of a body's size, half axes 140 and 90. 8: scipy; 9: direct
# quadrature (values recorded). Parameter 0 is at the side of the body.

A, B, D = 140.0, 90.0, 0.8


def ellipse_arc(start: float, end: float) -> float:
    from scipy.integrate import quad

    return float(
        quad(lambda t: np.hypot(A * np.sin(t), B * np.cos(t)), start, end, epsabs=1e-11)[0]
    )


EDGES = (np.pi / 2, np.pi / 6, 0.0, -0.3, -1.0, -np.pi / 2)
"""Parameters of the panels' edges from the centre front to the centre back."""


def ellipse_panels() -> list[PanelDraft]:
    return walls([ellipse_arc(b, a) for a, b in itertools.pairwise(EDGES)])


BODY = SectionModel(Measures.constant(A / B))


def test_8_a_garment_round_the_ellipse_has_the_offsets_girth() -> None:
    outcome = run(drawn(ellipse_panels()), two_layers(D), BODY)
    assert outcome.pattern.waist == pytest.approx(731.128765860, abs=1e-6)
    assert outcome.layer().waist == pytest.approx(736.155314106, abs=1e-6)
    # Ten widths, each rounded to 0.001 mm in the file.
    assert outcome.written().waist == pytest.approx(736.155314106, abs=0.01)


@pytest.mark.parametrize(("place", "curvature"), [(0, 0.00459184), (1, 0.0172840)])
def test_8_curvature_at_the_ends_of_the_axes(place: int, curvature: float) -> None:
    # Narrow panels at the centre front (0) and the side (1): turn over width.
    narrow = 0.5
    rest = ellipse_arc(0.0, np.pi / 2) - narrow
    outcome = run(drawn(walls([narrow, rest, narrow, rest])), two_layers(D), BODY)
    turn = outcome.turn.angle_at(2 * place, 0.0)
    assert turn / narrow == pytest.approx(curvature, rel=1e-4)


@pytest.mark.parametrize(
    ("panel", "degrees", "growth"), [(1, 41.927024, 0.585412), (3, 41.874065, 0.584672)]
)
def test_9_part_of_the_ellipse(panel: int, degrees: float, growth: float) -> None:
    outcome = run(drawn(ellipse_panels()), two_layers(D), BODY)
    assert np.degrees(outcome.turn.angle_at(panel, 0.0)) == pytest.approx(degrees, abs=1e-6)
    for drafted, layer in zip(
        level_widths(outcome.pattern)[panel], level_widths(outcome.layer())[panel], strict=True
    ):
        assert layer - drafted == pytest.approx(growth, abs=1e-6)


@pytest.mark.parametrize(("panel", "growth"), [(1, 0.585412), (3, 0.584672)])
def test_9_part_of_the_ellipse_on_the_written_file(panel: int, growth: float) -> None:
    outcome = run(drawn(ellipse_panels()), two_layers(D), BODY)
    width = outcome.written().panels[panel].waist_width
    assert width - outcome.pattern.panels[panel].waist_width == pytest.approx(growth, abs=0.0011)


def test_9_a_gap_takes_its_own_part_of_the_turn() -> None:
    # The last 0.2 of the parameter are left open at the centre back.
    edges = (np.pi / 2, np.pi / 6, 0.0, -0.3, -1.0, 0.2 - np.pi / 2)
    widths = [ellipse_arc(b, a) for a, b in itertools.pairwise(edges)]
    gap = 2 * ellipse_arc(0.0, np.pi / 2) - sum(widths)
    outcome = run(drawn(walls(widths)), two_layers(D), BODY, gap=2 * gap)
    assert outcome.shifted.growth(1, 3, 0.0) == pytest.approx(0.584672, abs=1e-6)
    # Normal at parameter t: tan = a sin t / (b cos t).
    open_turn = 2 * (np.pi / 2 - np.arctan2(A * np.cos(0.2), B * np.sin(0.2)))
    waist = outcome.layer().waist - outcome.pattern.waist
    assert waist == pytest.approx(D * (2 * np.pi - open_turn), abs=1e-6)


# -- 11 and 12: offsets of cubics. kurbopy 0.13.1, offset_cubic at tolerance 1e-7 and arclen
# (Apache licence; run outside the project, values recorded, no dependency).

OFFSETS = {
    11: (
        [(0, 0), (60, -12), (140, -20), (220, 5)],
        222.404948567,
        28.663957,
        222.004724,
        222.805173,
    ),
    12: ([(0, 0), (80, 60), (140, -60), (220, 5)], 233.943488, 2.223961, 233.912436, 233.974541),
}


@pytest.mark.parametrize("check", [11, 12])
def test_11_12_offset_cubics(check: int) -> None:
    points, whole, degrees, left, right = OFFSETS[check]
    cubic = Curve.cubics([points])
    assert length(cubic) == pytest.approx(whole, abs=1e-6)
    # 12 turns both ways: the sum of absolute curvature would be far from 2.2 degrees.
    assert np.degrees(turning(cubic)) == pytest.approx(degrees, abs=1e-6)
    # Ours is fitted within 0.005 mm of the true offset.
    assert length(offset_all([cubic], [0.8])[0]) == pytest.approx(left, abs=1e-3)
    assert length(offset_all([cubic], [-0.8])[0]) == pytest.approx(right, abs=1e-3)


# -- 18: units. CSS Values, SVG, ISO 216, ASME Y14.1.


@pytest.mark.parametrize(
    ("attributes", "user", "millimetres"),
    [
        ('width="1in" height="1in"', 96.0, 25.4),
        ('width="1in" height="1in" viewBox="0 0 72 72"', 72.0, 25.4),
        ('width="210mm" height="297mm"', 793.7008, 210.0),
        ('width="210mm" height="297mm"', 1122.5197, 297.0),
        ('width="595.2756pt" height="841.8898pt" viewBox="0 0 210 297"', 297.0, 297.0),
        ('width="8.5in" height="11in" viewBox="0 0 215.9 279.4"', 279.4, 279.4),
    ],
)
def test_18_units_of_a_drawing(attributes: str, user: float, millimetres: float) -> None:
    from panelshift.sources.svg import read_svg

    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" {attributes}>'
        f'<path id="line" d="M0,0V{user!r}"/></svg>'
    )
    (shape,) = read_svg(svg.encode(), name="units.svg").shapes
    assert length(shape.curve) == pytest.approx(millimetres, abs=2e-4)


@pytest.mark.parametrize("unit", ["mm", "cm", "in", "px"])
def test_18_a_pattern_is_the_same_size_in_any_unit(unit: str) -> None:
    from tests.support.drafts import Sheet

    pattern = read_pattern(drawn(walls([50.8, 101.6]), Sheet(unit=unit)))
    assert [panel.waist_width for panel in pattern.panels] == pytest.approx([50.8, 101.6])
