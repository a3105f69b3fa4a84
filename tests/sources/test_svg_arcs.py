import math

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.errors import SvgError
from panelshift.sources.outlines import arc_control

TOLERANCE_MM = 1e-4


def cubic_error(angle: float) -> float:
    """How far the usual cubic over an angle lies off a unit circle: see `outlines._pieces`."""
    return 2.0 / 27.0 * math.sin(angle / 4.0) ** 6 / math.cos(angle / 4.0) ** 2


def slack_mm(axes):
    """A chord that is a diameter to the last digit leaves the centre open to its square root."""
    return 1e-9 + 5e-8 * np.linalg.norm(axes, 2)


def ellipse_of(start, end, radii, rotation, large, sweep):
    """Centre form of an arc as SVG 2, implementation notes B.2.4 and B.2.5, write it."""
    (x1, y1), (x2, y2) = start, end
    rx, ry = radii
    phi = math.radians(rotation)
    turn = np.array([[math.cos(phi), -math.sin(phi)], [math.sin(phi), math.cos(phi)]])
    x, y = turn.T @ np.array([(x1 - x2) / 2, (y1 - y2) / 2])
    excess = (x / rx) ** 2 + (y / ry) ** 2
    root = 0.0
    if excess > 1:
        rx, ry = rx * math.sqrt(excess), ry * math.sqrt(excess)
    else:
        root = (rx * ry) ** 2 / ((rx * y) ** 2 + (ry * x) ** 2) - 1
    factor = math.sqrt(max(0.0, root)) * (-1 if large == sweep else 1)
    inner = factor * np.array([rx * y / ry, -ry * x / rx])
    centre = turn @ inner + np.array([(x1 + x2) / 2, (y1 + y2) / 2])
    return centre, turn @ np.diag([rx, ry])


def check_on_ellipse(curve, matrix, centre, axes):
    """Sample the curve and measure its distance from the transformed ellipse."""
    linear, shift = matrix[:, :2], matrix[:, 2]
    points = curve.points(np.linspace(0, len(curve), 40 * len(curve) + 1))
    unit = np.linalg.solve(linear @ axes, (points - shift - linear @ centre).T).T
    foot = unit / np.hypot(*unit.T)[:, None]
    distance = np.hypot(*((linear @ axes) @ (unit - foot).T))
    assert distance.max() <= TOLERANCE_MM + slack_mm(linear @ axes)
    return np.unwrap(np.arctan2(unit[:, 1], unit[:, 0]))


def check_arc(read, start, end, radii, rotation, large, sweep, matrix):
    d = (
        f"M{start[0]!r} {start[1]!r}A{radii[0]!r} {radii[1]!r} {rotation!r} "
        f"{large:d} {sweep:d} {end[0]!r} {end[1]!r}"
    )
    (a, c, e), (b, d_, f) = matrix
    transform = f"matrix({a!r} {b!r} {c!r} {d_!r} {e!r} {f!r})"
    curve = read(f'<path transform="{transform}" d="{d}"/>').shapes[0].curve
    matrix = np.array(matrix)
    assert curve.start == pytest.approx(matrix @ [*start, 1], abs=1e-9)
    assert curve.end == pytest.approx(matrix @ [*end, 1], abs=1e-9)
    assert set(curve.degree) == {3}
    angles = check_on_ellipse(curve, matrix, *ellipse_of(start, end, radii, rotation, large, sweep))
    steps = np.diff(angles)
    assert (steps > 0).all() if sweep else (steps < 0).all()
    return abs(angles[-1] - angles[0])


MATRICES = {
    "plain": [[1, 0, 0], [0, 1, 0]],
    "mirrored": [[-1, 0, 90], [0, 1, 0]],
    "squeezed": [[1.05, 0, 0], [0, 0.97, 0]],
    "skewed": [[1, 0.7, -3], [0, 1, 5]],
    "turned": [[0.6, -0.8, 10], [0.8, 0.6, 2]],
    "all": [[-2.1, 0.4, 7], [0.3, 3.3, -4]],
    "tiny": [[0.01, 0, 0], [0, 0.02, 0]],
    "large": [[300, 0, 0], [0, 200, 0]],
}


@pytest.mark.parametrize("matrix", MATRICES.values(), ids=MATRICES.keys())
@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("sweep", [False, True])
@pytest.mark.parametrize("rotation", [0.0, 30.0, 90.0, -200.5])
def test_arcs_lie_on_their_ellipse(read, matrix, large, sweep, rotation):
    angle = check_arc(
        read, (10.0, 20.0), (35.0, 42.0), (40.0, 22.0), rotation, large, sweep, matrix
    )
    assert (angle > math.pi) == large


COORDINATES = st.tuples(st.floats(-100, 100), st.floats(-100, 100))


@given(
    COORDINATES,
    COORDINATES,
    st.tuples(st.floats(2, 200), st.floats(2, 200)),
    st.floats(-360, 360),
    st.booleans(),
    st.booleans(),
    st.sampled_from(list(MATRICES.values())),
)
def test_any_arc_lies_on_its_ellipse(read, start, end, radii, rotation, large, sweep, matrix):
    if math.dist(start, end) < 0.1:
        return
    matrix = np.array(matrix) / max(1.0, np.abs(matrix).max())
    check_arc(read, start, end, radii, rotation, large, sweep, matrix.tolist())


def test_radii_that_are_too_small_are_scaled_up(read):
    # A chord of 20 along the first radius: (1, 2) becomes (10, 20), half an ellipse.
    curve = read('<path d="M0 0A1 2 0 0 1 20 0"/>').shapes[0].curve
    assert curve.points(len(curve) / 2)[0] == pytest.approx([10.0, -20.0], abs=1e-3)
    angle = check_arc(read, (0, 0), (20, 0), (1, 2), 0, False, True, MATRICES["plain"])
    assert angle == pytest.approx(math.pi)


@pytest.mark.parametrize("radii", ["0 5", "5 0", "0 0", "1e-13 5"])
def test_no_radius_makes_a_line(read, radii):
    curve = read(f'<path d="M0 0A{radii} 30 0 1 9 4"/>').shapes[0].curve
    assert curve.degree.tolist() == [1]
    assert curve.end.tolist() == [9.0, 4.0]


def test_negative_radii_count_as_positive(read):
    one, other = (
        read(f'<path d="M0 0A{radii} 30 0 1 9 4"/>').shapes[0].curve for radii in ("8 6", "-8 -6")
    )
    assert one.control.tolist() == other.control.tolist()


def test_a_nearly_straight_arc_keeps_its_digits(read):
    # The sagitta of a chord of 100 under a radius of 1e9 is 100^2 / 8e9 = 1.25e-6.
    curve = read('<path d="M0 0A1e9 1e9 0 0 0 100 0"/>').shapes[0].curve
    assert len(curve) == 1
    assert curve.points(0.5)[0] == pytest.approx([50.0, 1.25e-6], rel=1e-6)


def test_an_arc_beyond_all_size(read):
    with pytest.raises(SvgError, match="an arc in it is far larger than any pattern"):
        read('<g transform="scale(1e12)"><path d="M0 0A1e12 1e12 0 0 0 1e12 1e12"/></g>')


@pytest.mark.parametrize("angle", [0.1, 0.5, 1.0, math.pi / 2, 2.0, math.pi])
def test_the_error_bound_is_kept_and_is_tight(angle):
    handle = 4 / 3 * math.tan(angle / 4)
    control = np.array(
        [1, 1 + 1j * handle, np.exp(1j * angle) * (1 - 1j * handle), np.exp(1j * angle)]
    )
    t = np.linspace(0, 1, 4001)
    weights = np.array([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3])
    off = np.abs(control @ weights) - 1
    assert off.min() >= -1e-14
    assert off.max() <= cubic_error(angle) + 1e-15
    assert off.max() >= 0.95 * cubic_error(angle) - 1e-15


def test_no_more_pieces_than_needed():
    def pieces(radius, tolerance):
        return len(arc_control(0j, radius * (1 + 1j), (radius,) * 2, 0, False, True, tolerance))

    assert pieces(100.0, 1.0) == 1
    for radius in (1.0, 50.0, 400.0):
        count = pieces(radius, TOLERANCE_MM)
        assert radius * cubic_error(math.pi / 2 / count) <= TOLERANCE_MM
        if count > 1:
            # One piece fewer, allowing for the simplification in the count, would not do.
            assert radius * cubic_error(math.pi / 2 / (count - 1)) > 0.6 * TOLERANCE_MM


@pytest.mark.parametrize("scale", [0.01, 1.0, 50.0])
def test_circles_keep_the_tolerance_after_scaling(read, scale):
    curve = read(f'<circle cx="10" cy="20" r="30" transform="scale({scale})"/>').shapes[0].curve
    matrix = np.array([[scale, 0, 0], [0, scale, 0]])
    angles = check_on_ellipse(curve, matrix, np.array([10.0, 20.0]), np.diag([30.0, 30.0]))
    assert angles[-1] - angles[0] == pytest.approx(2 * math.pi)
    assert curve.start == pytest.approx([40 * scale, 20 * scale])
    assert curve.closed


def test_a_stretched_turned_ellipse(read):
    body = '<ellipse cx="1" cy="2" rx="30" ry="7" transform="skewX(20) rotate(30) scale(1 -3)"/>'
    curve = read(body).shapes[0].curve
    radians = math.radians(30)
    turn = np.array(
        [[math.cos(radians), -math.sin(radians)], [math.sin(radians), math.cos(radians)]]
    )
    skew = np.array([[1, math.tan(math.radians(20))], [0, 1]])
    linear = skew @ turn @ np.diag([1, -3])
    matrix = np.column_stack([linear, [0, 0]])
    check_on_ellipse(curve, matrix, np.array([1.0, 2.0]), np.diag([30.0, 7.0]))
    assert curve.closed
