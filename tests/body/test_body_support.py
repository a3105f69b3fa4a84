"""Sections as support functions against closed forms and elliptic integrals."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, strategies as st
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator
from scipy.special import ellipe, ellipeinc

from panelshift.body.measures import filled, monotone_rates
from panelshift.body.section import normal_at_fraction
from panelshift.body.support import LEAST_RADIUS, ORDER, Sections
from panelshift.errors import BodyError
from panelshift.outline import FloatArray

A, B = 140.0, 90.0


def ellipse(psi: FloatArray) -> FloatArray:
    return np.hypot(A * np.sin(psi), B * np.cos(psi))


def outline(count: int) -> FloatArray:
    """The ellipse's own points, 7 mm to the left and 11 mm behind the origin."""
    t = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    return np.column_stack([A * np.sin(t) + 7.0, B * np.cos(t) - 11.0])


ELLIPSE = Sections.of_support(ellipse)


@pytest.mark.parametrize(
    ("a", "b", "perimeter"),
    [(2, 1, 9.688448220548), (3, 2, 15.865439589291), (5, 3, 25.526998863398)],
)
def test_girth_of_an_ellipse_is_its_elliptic_integral(a: float, b: float, perimeter: float) -> None:
    # scipy.special.ellipe gives the same: 4 a E(1 - b^2 / a^2).
    found = Sections.of_support(lambda psi: np.hypot(a * np.sin(psi), b * np.cos(psi)))
    assert found.girths[0] == pytest.approx(perimeter, abs=1e-9)
    assert found.girths[0] == pytest.approx(4 * a * ellipe(1 - b * b / a / a), abs=1e-9)


def test_normals_of_an_ellipse_invert_the_incomplete_elliptic_integral() -> None:
    # At parameter t from the front the arc is A E(t | 1 - B^2 / A^2) and the normal's slope
    # is (B / A) tan t.
    t = np.linspace(0.05, 1.5, 12)
    arcs = A * ellipeinc(t, 1.0 - (B / A) ** 2)
    parts = arcs / (4 * A * ellipe(1 - (B / A) ** 2))
    found = ELLIPSE.normals(np.concatenate([-parts, parts])[None])[0]
    wanted = np.arctan2(B * np.sin(t), A * np.cos(t))
    assert found == pytest.approx(np.concatenate([-wanted, wanted]), abs=1e-11)


def test_the_part_of_an_ellipse_that_the_checks_name() -> None:
    # Direct quadrature of the parametrised curve: parameter 0 to pi/6 and 0.3 to 1.0 from the
    # end of the breadth turn 41.927024 and 41.874065 degrees.
    for low, high, degrees in ((0.0, np.pi / 6, 41.927024), (0.3, 1.0, 41.874065)):
        speed = lambda t: np.hypot(A * np.sin(t), B * np.cos(t))  # noqa: E731
        arcs = [quad(speed, 0.0, t, epsabs=1e-12)[0] for t in (low, high)]
        parts = 0.25 - np.array([arcs]) / ELLIPSE.girths[0]
        turn = -np.diff(ELLIPSE.normals(parts))[0, 0]
        assert np.degrees(turn) == pytest.approx(degrees, abs=1e-6)


def test_end_radii_of_an_ellipse() -> None:
    radii = ELLIPSE.radius(np.array([[0.0, np.pi / 2]]))[0]
    assert radii == pytest.approx([A * A / B, B * B / A], abs=1e-9)
    assert 1.0 / radii[::-1] == pytest.approx([0.0172840, 0.00459184], abs=1e-7)


@given(st.floats(60, 200), st.floats(-40, 40), st.floats(-40, 40), st.floats(-1.0, 1.0))
def test_a_shifted_circle_turns_evenly_and_stands_in_its_place(
    radius: float, left: float, ahead: float, part: float
) -> None:
    circle = Sections.of_support(lambda p: radius + left * np.sin(p) + ahead * np.cos(p))
    assert circle.place[0] == pytest.approx([left, ahead], abs=1e-9)
    assert circle.normals(np.array([[part]]))[0, 0] == pytest.approx(2 * np.pi * part, abs=1e-12)
    psi = np.array([[0.3, 2.0, -1.0]])
    around = circle.points(psi)[0] - [left, ahead]
    assert around == pytest.approx(radius * np.column_stack([np.sin(psi[0]), np.cos(psi[0])]))


def test_points_of_an_ellipse_lie_on_it_with_those_normals() -> None:
    psi = np.linspace(-np.pi, np.pi, 25)
    x, y = ELLIPSE.points(psi[None])[0].T
    assert (x / A) ** 2 + (y / B) ** 2 == pytest.approx(np.ones(25), abs=1e-9)
    assert np.arctan2(x / A**2, y / B**2)[1:-1] == pytest.approx(psi[1:-1], abs=1e-9)


def test_a_polygon_round_an_ellipse_has_its_series_and_place() -> None:
    # The bound is the polygon's own: 4000 chords fall short by about 1e-6 of the ellipse.
    found = Sections.of_points([outline(4000)], smoothing=0.0)
    assert found.place[0] == pytest.approx([7.0, -11.0], abs=1e-9)
    assert found.coefficients[0, 2:] == pytest.approx(ELLIPSE.coefficients[0, 2:], abs=2e-6)
    assert found.girths[0] == pytest.approx(ELLIPSE.girths[0], abs=1e-3)


def test_hollows_and_the_order_of_points_do_not_count() -> None:
    points = outline(60)
    hollow = np.vstack([points[::-1], 0.5 * points + 3.0])[
        np.random.default_rng(3).permutation(120)
    ]
    one, two = (Sections.of_points([p]).coefficients for p in (points, hollow))
    assert two == pytest.approx(one, abs=1e-10)
    assert Sections.of_points([points], smoothing=0.0).girths[0] == pytest.approx(
        shapely.MultiPoint(hollow).convex_hull.length, abs=1e-9
    )


def test_corners_of_a_hull_are_rounded_and_nothing_else() -> None:
    box = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)])
    found = Sections.of_points([box])
    assert found.girths[0] == pytest.approx(320.0, abs=1e-9)
    assert found.place[0] == pytest.approx([50.0, 30.0], abs=1e-9)
    # A quarter of the girth from the front lies on the side, which faces straight sideways.
    assert found.normals(np.array([[0.25]]))[0, 0] == pytest.approx(np.pi / 2, abs=1e-12)
    # Damping by exp(-(k s)^2 / 2) is to spread each edge's length over a bell of width s: so
    # the middle of the front edge turns as that bell does.
    turned = found.normals(np.array([[-25.0, 25.0]]) / 320.0)[0]
    from scipy.stats import norm

    wanted = norm.ppf(0.75) * np.radians(5.0)
    # The least radius in the four corners takes 3 % of the girth.
    assert turned == pytest.approx([-wanted, wanted], rel=0.03)


def test_points_on_one_line_are_no_section() -> None:
    with pytest.raises(BodyError, match="lie on one line"):
        Sections.of_points([np.array([(0.0, 0.0), (1.0, 2.0), (2.0, 4.0)])])


def test_normals_do_not_depend_on_size_or_place() -> None:
    bigger = Sections(3.0 * ELLIPSE.coefficients)
    moved = ELLIPSE.coefficients.copy()
    moved[:, 1] += 20.0 - 3.0j
    parts = np.linspace(-0.5, 0.5, 11)[None]
    for other in (bigger, Sections(moved)):
        assert other.normals(parts) == pytest.approx(ELLIPSE.normals(parts), abs=1e-12)


@given(st.floats(1.0, 1.8), st.floats(-0.5, 0.5))
def test_an_ellipse_is_that_of_the_section_model(ratio: float, part: float) -> None:
    # A wave of order 40 is left out: at a ratio of 1.8 it is below 1e-11 of the whole.
    found = Sections.of_support(lambda p: np.hypot(ratio * np.sin(p), np.cos(p)))
    wanted = normal_at_fraction(np.array([part]), np.array([ratio]))
    assert found.normals(np.array([[part]]))[0] == pytest.approx(wanted, abs=1e-9)


def sharp() -> Sections:
    """A wave that would make the curve run backwards at four places."""
    return Sections.of_support(lambda psi: 100.0 + 9.0 * np.cos(4.0 * psi))


def test_too_sharp_a_curve_is_floored_and_still_runs_right_round() -> None:
    section = sharp()
    psi = np.linspace(0.0, 2.0 * np.pi, 4001)
    bare = 100.0 - 135.0 * np.cos(4.0 * psi)
    assert section.radius(psi[None])[0] == pytest.approx(np.maximum(bare, 3.0), abs=1e-9)
    arcs = np.concatenate([[0.0], np.cumsum(np.maximum(0.5 * (bare[1:] + bare[:-1]), 3.0))])
    found = section.normals((arcs / arcs[-1])[None])[0]
    # The floor's own length is summed by degrees, to 0.03 mm; on a radius of 3 mm that is a
    # hundredth of a radian.
    assert found == pytest.approx(psi, abs=1e-2)
    assert (np.diff(section.normals(np.linspace(-1.0, 1.0, 999)[None])[0]) > 0.0).all()
    assert pytest.approx(3.0) == LEAST_RADIUS * 100.0


@given(st.lists(st.floats(-1, 1), min_size=6, max_size=6), st.floats(0.0, 1.0))
def test_parts_and_normals_go_together_for_any_curve(waves: list[float], part: float) -> None:
    coefficients = np.zeros((1, ORDER + 1), dtype=np.complex128)
    coefficients[0, 0] = 100.0
    coefficients[0, 2:5] = np.array(waves[:3]) + 1j * np.array(waves[3:])
    section = Sections(coefficients)
    psi = float(section.normals(np.array([[part]]))[0, 0])
    assert section.arc_between(0.0, psi)[0] / section.girths[0] == pytest.approx(part, abs=1e-9)
    mirrored = float(section.mirrored().normals(np.array([[-part]]))[0, 0])
    assert mirrored == pytest.approx(-psi, abs=1e-9)


def test_the_symmetric_part_is_the_mean_with_the_mirror_image() -> None:
    section = Sections.of_support(lambda p: 100.0 + 6.0 * np.cos(2 * p) + 4.0 * np.sin(3 * p))
    psi = np.array([[0.4, 1.1, -2.0]])
    mean = 0.5 * (section.support(psi) + section.support(-psi))
    assert section.symmetric().support(psi) == pytest.approx(mean, abs=1e-10)


@pytest.mark.parametrize("count", [2, 3, 7])
def test_filling_between_heights_is_that_of_scipy(count: int) -> None:
    random = np.random.default_rng(count)
    x = np.cumsum(random.uniform(5.0, 50.0, count))
    values = random.normal(size=(count, 4))
    at = np.linspace(x[0], x[-1], 57)
    reference = PchipInterpolator(x, values)
    found, rates = filled(x, values, monotone_rates(x, values), at)
    assert found == pytest.approx(reference(at), abs=1e-12)
    assert rates == pytest.approx(reference(at, 1), abs=1e-12)
    beyond, still = filled(x, values, monotone_rates(x, values), np.array([x[0] - 9, x[-1] + 9]))
    assert beyond == pytest.approx(values[[0, -1]])
    assert not still.any()


def test_one_height_stands_for_all() -> None:
    x, values = np.array([3.0]), np.array([[1.0, 2.0]])
    found, rates = filled(x, values, monotone_rates(x, values), np.array([-1.0, 9.0]))
    assert found == pytest.approx(np.array([[1.0, 2.0]] * 2))
    assert not rates.any()
