"""A top or bottom edge that leaves a side edge steeply, and what is taken of it."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.draft import Reading, assemble
from panelshift.outline import Curve
from panelshift.pattern.drawing import Drawing, Shape
from panelshift.pattern.pattern import Pattern
from tests.support.drafts import Figure
from tests.support.examples import thinned

FIGURE = Figure((70.0, 78.0, 84.0), (1.2, 1.45, 1.25), (1.15, 1.3, 1.45), (0.0, 0.45, 0.5))
DROP = 40.0

SLIGHT = Figure((50.0, 52.0, 54.0), (1.1, 1.1, 1.1), (1.04, 1.04, 1.04), (0.0, 0.5, 0.9))
"""Its sides lean by so little at the hip that a bend there is slight."""


def steep(kind: str, degrees: float, where: int, *, end: str) -> Pattern:
    """A half whose panel `where` has a top or bottom edge that leaves its front edge steeply."""
    shapes, left = [], 40.0
    for k, panel in enumerate(FIGURE.panels()):
        front, back = panel.front, panel.back
        ends = {"top": Curve.polyline([front.end, back.end])}
        ends["bottom"] = Curve.polyline([front.start, back.start])
        if k == where:
            ends[end] = _leaving(kind, degrees, ends[end], 1.0 if end == "top" else -1.0)
        edges = [front, ends["top"], back.reversed(), ends["bottom"].reversed()]
        low, high = panel.bounds()
        page = np.array([[1.0, 0.0, left - low[0]], [0.0, -1.0, 300.0]])
        outline = Curve.chain(edges, closed=True).transformed(page)
        waist = Curve.polyline([(low[0] - 1.0, 0.0), (high[0] + 1.0, 0.0)]).transformed(page)
        shapes += [Shape(outline, f"{k + 1}"), Shape(waist, f"waist {k + 1}")]
        left += float(high[0] - low[0]) + 25.0
    return assemble(Drawing(tuple(shapes)), Reading(halves="half"), keep_faults=True)


def _leaving(kind: str, degrees: float, edge: Curve, sense: float) -> Curve:
    lean = np.radians(degrees)
    start, end, way = edge.start, edge.end, np.array([np.sin(lean), sense * np.cos(lean)])
    if kind == "line":
        return Curve.polyline([start, start + DROP * way, end])
    if kind == "round":
        near = end + np.array([-30.0, sense * 0.3 * DROP])
        return Curve.cubics(np.array([[start, start + 0.6 * DROP * way, near, end]]))
    middle, flat = start + np.array([35.0, sense * DROP]), np.array([18.0, 0.0])
    rise = [start, start + 0.6 * DROP * way, middle - flat, middle]
    return Curve.cubics(np.array([rise, [middle, middle + flat, end - flat, end]]))


def test_a_scallop_on_every_panel_is_no_piece_of_its_sides() -> None:
    shapes, left = [], 40.0
    for k, panel in enumerate(SLIGHT.panels()):
        a, d = panel.back.start, panel.front.start
        middle, down = 0.5 * (a + d) + [0.0, 12.0], np.array([0.0, -25.0])
        aside, out = np.array([2.0, 0.0]), np.array([10.0, 0.0])
        scallops = [[a, a + down - aside, middle + out + down, middle]]
        scallops += [[middle, middle - out + down, d + down + aside, d]]
        top = Curve.polyline([panel.front.end, panel.back.end])
        edges = [panel.front, top, panel.back.reversed(), Curve.cubics(np.array(scallops))]
        low, high = panel.bounds()
        page = np.array([[1.0, 0.0, left - low[0]], [0.0, -1.0, 300.0]])
        waist = Curve.polyline([(low[0] - 1.0, 0.0), (high[0] + 1.0, 0.0)]).transformed(page)
        outline = Curve.chain(edges, closed=True).transformed(page)
        shapes += [Shape(outline, f"{k + 1}"), Shape(waist, f"waist {k + 1}")]
        left += float(high[0] - low[0]) + 25.0
    found = assemble(Drawing(tuple(shapes)), Reading(halves="half"))
    for read, panel in zip(found.panels, SLIGHT.panels(), strict=True):
        lengths = [read.edge("front").length, read.edge("back").length]
        assert lengths == pytest.approx([panel.front.length, panel.back.length], abs=1e-3)


def told(pattern: Pattern) -> list[str]:
    return [remark.kind for remark in pattern.ledger if remark.code == "bent-corner"]


@pytest.mark.parametrize("end", ["top", "bottom"])
@pytest.mark.parametrize("kind", ["line", "round", "up"])
@pytest.mark.parametrize("degrees", thinned([8.0, 4.0, 11.0]))
def test_an_edge_however_steep_is_no_piece_of_the_side(kind: str, degrees: float, end: str) -> None:
    fronts = [panel.front.length for panel in FIGURE.panels()]
    seam = steep(kind, degrees, 1, end=end)
    assert seam.panels[1].edge("front").length == pytest.approx(fronts[1], abs=1e-4)
    centre = steep(kind, degrees, 0, end=end)
    found = centre.panels[0].edge("front")
    if kind == "line":
        # Nothing tells whether it is the bend of an edge that goes on, and that is said.
        assert told(centre) == ["warning"]
        assert found.length == pytest.approx(fronts[0] + DROP, abs=1e-4)
    else:
        assert told(centre) == (["warning"] if kind == "up" else ["note"])
        assert found.length == pytest.approx(fronts[0], abs=1e-4)
        assert centre.panels[0].is_straight("front")


def test_a_bend_of_a_centre_edge_that_goes_on_is_told_until_its_end_is_named() -> None:
    asked = steep("line", 16.0, 0, end="top")
    (remark,) = (r for r in asked.ledger if r.code == "bent-corner")
    x, y = asked.panels[0].edge("front").end
    assert f"with [{x:.1f}, {y:.1f}] this is told no more" in remark.words


def test_a_gently_curved_centre_edge_is_not_told() -> None:
    crease = Curve.polyline(
        [(0.0, 100.0), (8.0, 0.0), (2.0, -100.0), (60.0, -100.0), (60.0, 100.0)]
    )
    outline = Curve.chain([crease, Curve.polyline([crease.end, crease.start])], closed=True)
    waist = Curve.polyline([(-1.0, 0.0), (61.0, 0.0)])
    found = assemble(Drawing((Shape(outline, "1"), Shape(waist, "waist"))), keep_faults=True)
    assert told(found) == []
