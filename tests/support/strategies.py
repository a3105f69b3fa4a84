"""Every hypothesis strategy of the test suite."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from hypothesis import strategies as st

from panelshift.body import ClassModel, Measures, SectionModel
from panelshift.body.ring import BodyModel, Ring
from panelshift.outline import Curve
from panelshift.stack import Fabric, MeasuredDistance

from .drafts import Figure, Sheet


def lengths(low: float, high: float) -> st.SearchStrategy[float]:
    """Lengths in mm, to a hundredth: what a maker would draw or measure."""
    return st.integers(round(low * 100), round(high * 100)).map(lambda n: n / 100)


points = st.tuples(lengths(-300, 300), lengths(-300, 300))

cubics = st.lists(points, min_size=4, max_size=4).map(lambda p: Curve.cubics([p]))
"""Any single cubic: straight, looped, cusped or shrunk to a point among them."""


@st.composite
def polycurves(draw: st.DrawFn) -> Curve:
    """Open chains of one to five cubics."""
    count = draw(st.integers(1, 5))
    nodes = draw(st.lists(points, min_size=3 * count + 1, max_size=3 * count + 1))
    return Curve.cubics([nodes[3 * k : 3 * k + 4] for k in range(count)])


@st.composite
def gentle_cubics(draw: st.DrawFn) -> Curve:
    """Cubics like a drafted edge: handles along the chord, no radius below about 20 mm."""
    size = draw(lengths(80, 400))
    heights = [draw(st.floats(-0.12, 0.12)) * size for _ in range(2)]
    end = draw(st.floats(-0.2, 0.2)) * size
    return Curve.cubics(
        [[(0.0, 0.0), (size / 3, heights[0]), (2 * size / 3, heights[1]), (size, end)]]
    )


distances = st.one_of(lengths(-2, -0.05), lengths(0.05, 2))
"""Of a layer's mid-surface from the drafted one, in mm."""


@st.composite
def figures(draw: st.DrawFn, *, lines: bool | None = None) -> Figure:
    """Half patterns that a maker might draft: three to seven panels, each with its springs."""
    count = draw(st.integers(3, 7))

    def each(values: st.SearchStrategy[float]) -> tuple[float, ...]:
        return tuple(draw(st.lists(values, min_size=count, max_size=count)))

    # A front panel alike on both sides is taken for a whole one, and refused beside halves.
    front = draw(st.one_of(st.floats(0.1, 0.3), st.floats(0.7, 0.9)))
    return Figure(
        waists=each(lengths(32, 80)),
        bust=each(st.floats(1.0, 1.6)),
        hip=each(st.floats(1.0, 1.6)),
        shares=(front, *each(st.floats(0.1, 0.9))[1:]),
        top=draw(lengths(100, 190)),
        bottom=-draw(lengths(80, 170)),
        lines=draw(st.booleans()) if lines is None else lines,
        straight_front=draw(st.booleans()),
    )


gaps = st.one_of(st.just(0.0), lengths(10, 100))

closing_models: st.SearchStrategy[BodyModel] = st.one_of(
    st.tuples(st.floats(0.5, 3.0), st.floats(0.2, 3.0), st.floats(0.5, 3.0)).map(
        lambda f: ClassModel(dict(zip(("front", "side", "back"), f, strict=True)))
    ),
    st.tuples(st.floats(0.4, 2.5), st.floats(1.1, 8.0)).map(
        lambda p: SectionModel(Measures.constant(p[0]), p[1])
    ),
)
"""Body models whose turning closes."""

likely_models: st.SearchStrategy[BodyModel] = st.one_of(
    st.just(ClassModel()),
    st.tuples(st.floats(1.0, 1.7), st.sampled_from((2.0, 2.5))).map(
        lambda p: SectionModel(Measures.constant(p[0]), p[1])
    ),
)
"""Body models with parameters a person has."""


@st.composite
def rings(draw: st.DrawFn) -> Ring:
    """Widths of panels round a body that swells and shrinks smoothly."""
    half = draw(st.integers(1, 8))
    base = np.array(draw(st.lists(lengths(20, 120), min_size=2 * half, max_size=2 * half)))
    swell = np.array(draw(st.lists(st.floats(-0.25, 0.25), min_size=2 * half, max_size=2 * half)))
    heights = np.linspace(-120.0, 120.0, 41)
    widths = base * (1.0 + swell * np.sin(heights[:, None] / 90.0))
    classes = draw(
        st.lists(st.sampled_from(("front", "side", "back")), min_size=2 * half, max_size=2 * half)
    )
    return Ring(heights, widths, draw(gaps), tuple(classes))


sheets = st.builds(
    Sheet,
    unit=st.sampled_from(("mm", "cm", "in", "px")),
    angle=st.floats(-np.pi, np.pi),
    offset=st.tuples(lengths(-400, 400), lengths(-400, 400)),
    reverse=st.booleans(),
    start=st.integers(0, 12),
)
"""Ways to draw one and the same pattern."""


def bodies_of_revolution() -> st.SearchStrategy[Callable[[np.ndarray], np.ndarray]]:
    """Radius by meridian length: an hourglass or a barrel."""
    return st.tuples(lengths(90, 130), st.floats(-15, 15), lengths(70, 120)).map(
        lambda p: lambda v: p[0] + p[1] * (1.0 - np.cos(np.asarray(v) / p[2]))
    )


def fabrics(low: float = 0.05, high: float = 3.0) -> st.SearchStrategy[list[Fabric]]:
    """Two to six fabrics from the body outwards, named a, b, c and so on."""
    return st.lists(lengths(low, high), min_size=2, max_size=6).map(
        lambda thick: [Fabric(chr(97 + k), t) for k, t in enumerate(thick)]
    )


@st.composite
def measured_gaps(
    draw: st.DrawFn,
) -> tuple[np.ndarray, list[MeasuredDistance], list[tuple[int, int]]]:
    """Gaps by thickness and one to three pairs whose measured sums can all be met."""
    gaps = np.array(draw(st.lists(lengths(0.05, 3.0), min_size=1, max_size=5)))
    ends = st.tuples(st.integers(0, len(gaps)), st.integers(0, len(gaps)))
    pairs = draw(st.lists(ends.filter(lambda p: p[0] < p[1]), min_size=1, max_size=3, unique=True))
    # Sums of gaps that are all above nothing cannot contradict each other.
    true = gaps * np.array([draw(st.floats(0.7, 1.4)) for _ in gaps])
    measured = [
        MeasuredDistance(chr(97 + i), chr(97 + j), float(true[i:j].sum()), 0.05) for i, j in pairs
    ]
    return gaps, measured, pairs
