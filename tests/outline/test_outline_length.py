from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from scipy.integrate import quad

from panelshift.outline import Curve, measure
from panelshift.outline.measure import (
    angles_between,
    arc_table,
    length,
    position_at_length,
    segment_lengths,
    turning,
)
from tests.support.strategies import cubics, polycurves


def quad_length(curve: Curve) -> float:
    """Arc length by scipy's adaptive quadrature, segment by segment."""
    return sum(
        quad(
            lambda t, k=k: float(np.hypot(*curve.derivatives([k + t])[0])),
            0.0,
            1.0 - 1e-15,
            limit=400,
            epsabs=1e-9,
        )[0]
        for k in range(len(curve))
    )


def test_parabola_has_its_closed_form_length() -> None:
    # y = x^2 / (4 f) from 0 to x: x/2 sqrt(1 + (x/2f)^2) + f asinh(x / 2f); closed form.
    f, x = 30.0, 90.0
    q = np.array([(0.0, 0.0), (x / 2, 0.0), (x, x * x / (4 * f))])
    cubic = [q[0], (q[0] + 2 * q[1]) / 3, (2 * q[1] + q[2]) / 3, q[2]]
    expected = x / 2 * np.sqrt(1 + (x / (2 * f)) ** 2) + f * np.arcsinh(x / (2 * f))
    assert length(Curve.cubics([cubic])) == pytest.approx(expected, abs=1e-9)


def test_quarter_circle_cubic_is_a_little_long() -> None:
    # The usual kappa: its radius errs by up to 2.7e-4 of R outwards, its length by less.
    kappa = 4 / 3 * (np.sqrt(2) - 1)
    quarter = Curve.cubics([[(100, 0), (100, 100 * kappa), (100 * kappa, 100), (0, 100)]])
    assert length(quarter) == pytest.approx(quad_length(quarter), abs=1e-8)
    assert 0.0 < length(quarter) - 50 * np.pi < 100 * 2.8e-4 * np.pi / 2


@given(polycurves())
def test_length_agrees_with_adaptive_quadrature(curve: Curve) -> None:
    assert length(curve) == pytest.approx(quad_length(curve), abs=1e-5)


def test_a_cusp_is_measured_to_the_tolerance() -> None:
    # A fixed 16-point rule is tenths of a mm out here.
    cusp = Curve.cubics([[(0, 0), (100, 100), (0, 100), (100, 0)]])
    assert length(cusp) == pytest.approx(quad_length(cusp), abs=2e-6)
    there_and_back = Curve.cubics([[(0, 0), (100, 0), (100, 0), (0, 0)]])
    assert length(there_and_back) == pytest.approx(150.0, abs=2e-6)


def test_lines_are_measured_by_their_ends() -> None:
    assert segment_lengths(Curve.polyline([(0, 0), (3, 4), (3, 10)])).tolist() == [5.0, 6.0]


@given(polycurves())
def test_length_and_turning_do_not_depend_on_direction(curve: Curve) -> None:
    back = curve.reversed()
    assert length(back) == pytest.approx(length(curve), abs=1e-5)


def test_turning_counts_signed_angles() -> None:
    # Catches abs(kappa): an S-curve that ends as it began turns through nothing.
    ess = Curve.cubics([[(0, 0), (80, 60), (140, -60), (220, 0)]])
    ends = ess.end_tangents()[0]
    assert turning(ess) == pytest.approx(float(angles_between(ends[:1], ends[1:])[0]), abs=1e-12)


@pytest.mark.parametrize("sense", [1, -1])
def test_a_closed_outline_turns_once(sense: int) -> None:
    # Theorem of turning tangents, corners included.
    outline = Curve.polyline([(0, 0), (100, 0), (100, 60), (40, 60), (40, 100), (0, 100)][::sense])
    closed = Curve.polyline(outline.vertices, closed=True)
    assert turning(closed) == pytest.approx(2 * np.pi * sense, abs=1e-12)


def test_turning_follows_a_loop_past_half_a_turn() -> None:
    # End tangents alone would say -90 degrees; the loop turns through 270.
    loop = Curve.cubics([[(0, 0), (300, 0), (100, 300), (100, 0)]])
    assert turning(loop) == pytest.approx(1.5 * np.pi, abs=1e-9)


@given(cubics)
def test_arc_table_ends_at_the_whole_length(curve: Curve) -> None:
    positions, table = arc_table(curve, 0.5)
    assert (np.diff(positions) > 0).all()
    assert (np.diff(table) >= 0).all()
    assert table[-1] == pytest.approx(length(curve), abs=1e-3)


def test_position_at_length_finds_the_middle_of_an_edge() -> None:
    edge = Curve.cubics([[(0, 0), (10, 50), (0, 100), (20, 150)]])
    whole = length(edge)
    (middle,) = position_at_length(edge, [0.5 * whole])
    assert length(edge.piece(0.0, float(middle))) == pytest.approx(0.5 * whole, abs=1e-3)


def test_position_at_length_is_clipped_to_the_ends() -> None:
    edge = Curve.polyline([(0, 0), (0, 10), (0, 30)])
    assert position_at_length(edge, [-5.0, 99.0]).tolist() == [0.0, 2.0]


def test_cusps_and_hairpins_have_their_closed_form_lengths() -> None:
    # Parts from t0 to the end of a cubic with a cusp at its middle. Two rules agreed by chance on
    # one in nine of them: an error estimate alone missed the cusp by up to 1e-3 mm.
    control = np.array([[0.0, 0.0], [100.0, 100.0], [0.0, 100.0], [100.0, 0.0]])
    for t0 in np.linspace(0.0, 0.49, 99):
        part = Curve.cubics(control[None]).piece(t0, 1.0)
        exact = 50.0 * ((1.0 + (1.0 - 2.0 * t0) ** 2) ** 1.5 - 1.0 + 2.0 * np.sqrt(2.0) - 1.0)
        assert length(part) == pytest.approx(exact, abs=1e-9), t0


def test_a_curve_of_polynomial_speed_is_exact_to_the_last_digits() -> None:
    # A Pythagorean hodograph (Farouki, Pythagorean-Hodograph Curves, 2008): the velocity is the
    # square of u + iv, so the speed u^2 + v^2 is a polynomial, and a wrong node or weight shows.
    for u0, u1, v0, v1 in [(3.0, 1.0, 0.5, 2.0), (9.0, 7.0, -4.0, 1.0), (1.0, 4.0, 4.0, 1.0)]:
        w0, w1 = complex(u0, v0), complex(u1, v1)
        points = np.cumsum([0.0, w0 * w0 / 3.0, w0 * w1 / 3.0, w1 * w1 / 3.0])
        curve = Curve.cubics(np.stack([points.real, points.imag], axis=1)[None])
        exact = (abs(w0) ** 2 + (w0 * w1.conjugate()).real + abs(w1) ** 2) / 3.0
        assert length(curve) == pytest.approx(exact, rel=1e-14)
        _, table = arc_table(curve, 1e-2)
        assert table[-1] == pytest.approx(exact, rel=1e-13)


@pytest.mark.parametrize(
    "control",
    [
        [[20, 20], [1000, 20], [1000, 20], [1000, 20]],
        [[1000, 100], [60, 100], [1, 100], [50, 100]],
        [[50, 100], [1000, 100], [50, 100], [1000, 100]],
    ],
    ids=["slows down", "turns back", "back and forth"],
)
def test_a_curve_that_runs_back_on_itself_takes_few_parts(
    monkeypatch: pytest.MonkeyPatch, control: list[list[float]]
) -> None:
    counted = []
    integrals = measure._integrals

    def counting(*args):
        counted.append(args[0].shape[1])
        return integrals(*args)

    monkeypatch.setattr(measure, "_integrals", counting)
    curve = Curve.cubics([control])
    _, along = measure.arc_table(curve, 1.0)
    # On a line the length is the sum of the ways between turns.
    x = curve.points(np.linspace(0.0, 1.0, 200_001))[:, 0]
    assert along[-1] == pytest.approx(np.abs(np.diff(x)).sum(), abs=1e-4)
    assert max(counted) < 10_000
