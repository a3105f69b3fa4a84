"""Path data written in one pass is what writing number by number gives."""

from __future__ import annotations

import numpy as np
from hypothesis import given, strategies as st

from panelshift.outline import Curve
from panelshift.outline.bezier import CUBIC, LINE, QUADRATIC
from panelshift.outline.pathtext import number, path_data, path_texts

COORDINATE = st.one_of(
    st.floats(-99_999.0, 99_999.0),
    st.integers(-99_999_000, 99_999_000).map(lambda steps: steps / 1000.0),
    st.sampled_from([0.0, -0.0, 0.0005, -0.0005, 0.00049999, 9.9996, -9.9996, 99.9995, 1e-12]),
)
POINT = st.tuples(COORDINATE, COORDINATE)


@st.composite
def curves(draw: st.DrawFn) -> Curve:
    """Chains of lines, cubics and quadratics, as trusted steps inside the package make them."""
    kinds = draw(st.lists(st.sampled_from([LINE, CUBIC, QUADRATIC]), min_size=1, max_size=4))
    start = np.array(draw(POINT))
    control = []
    at = start
    for _ in kinds:
        handles = [np.array(draw(POINT)) for _ in range(3)]
        control.append([at, *handles])
        at = handles[-1]
    closed = draw(st.booleans())
    if closed:
        control[-1][3] = start
    return Curve.trusted(np.array(control), np.array(kinds), closed)


def one_by_one(curve: Curve) -> str:
    """The same path, each number formatted by Python."""

    def point(at: np.ndarray) -> str:
        x, y = (round(float(v), 3) for v in np.round(at, 3) + 0.0)
        return f"{number(x)},{number(y)}"

    text = "M" + point(curve.control[0, 0])
    for k, (points, kind) in enumerate(zip(curve.control, curve.degree, strict=True)):
        if kind == CUBIC:
            text += "C" + " ".join(point(p) for p in points[1:])
        elif kind == QUADRATIC:
            text += f"Q{point(1.5 * points[1] - 0.5 * points[0])} {point(points[3])}"
        elif not (curve.closed and k == len(curve) - 1):
            text += "L" + point(points[3])
    return text + ("Z" if curve.closed else "")


@given(st.lists(curves(), min_size=1, max_size=4))
def test_all_at_once_is_one_by_one(several: list[Curve]) -> None:
    assert path_texts(several) == [one_by_one(curve) for curve in several]


@given(curves())
def test_one_is_one_of_many(curve: Curve) -> None:
    assert path_data(curve) == one_by_one(curve)


def test_no_curve_is_no_text() -> None:
    assert path_texts([]) == []


def test_a_closed_line_of_one_side_is_a_point() -> None:
    curve = Curve.trusted(np.zeros((1, 4, 2)), np.array([LINE]), True)
    assert path_data(curve) == "M0,0Z"
