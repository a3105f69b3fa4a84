"""A seam allowance that is drawn in comes off again, exactly."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from panelshift import Reading, read_pattern
from panelshift.errors import PatternError
from panelshift.outline import Curve
from panelshift.outline.measure import length
from panelshift.outline.nearness import apart, spread
from panelshift.outline.planar import polygon
from panelshift.pattern.pattern import EDGE_KINDS, EdgeKind, Pattern
from tests.support.drafts import Figure, PanelDraft, path_data

FIGURE = Figure(
    waists=(48.0, 52.0, 56.0, 44.0),
    bust=(1.2, 1.45, 1.25, 1.1),
    hip=(1.15, 1.3, 1.45, 1.2),
    shares=(0.0, 0.45, 0.5, 0.85),
)


def _sheet(
    panels: list[PanelDraft],
    grown: float,
    *,
    join: str = "mitre",
    words: str = "",
    stitched: str | None = None,
) -> str:
    """Panels grown by an allowance; their net sides as open lines of that name, or of none."""
    body, left = "", 20.0
    for k, panel in enumerate(panels):
        (low, _), (high, _) = panel.bounds()
        matrix = np.array([[1.0, 0.0, left - low], [0.0, -1.0, 240.0]])
        outline = panel.outline()
        if grown:
            ring = polygon(outline, 1e-4).buffer(
                grown, join_style=join, mitre_limit=20.0, quad_segs=64
            )
            outline = Curve.polyline(np.asarray(ring.exterior.coords)[:-1], closed=True)
        line = Curve.polyline([(low - 1.5 * grown - 2.0, 0.0), (high + 1.5 * grown + 2.0, 0.0)])
        body += f'<path id="panel-{k + 1}" d="{path_data(outline.transformed(matrix))}"/>'
        body += f'<path id="waist-{k + 1}" d="{path_data(line.transformed(matrix))}"/>'
        for edge in (panel.front, panel.back) if stitched is not None else ():
            named = f'id="{stitched}-{k}-{edge is panel.back}"' if stitched else ""
            body += f'<path {named} d="{path_data(edge.transformed(matrix))}"/>'
        left += float(high - low) + 80.0
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="500mm" '
        f'viewBox="0 0 900 500">{body}{words}</svg>'
    )


def _every(by: float) -> dict[EdgeKind, float]:
    return dict.fromkeys(EDGE_KINDS, by)


def _read(svg: str, allowance: Mapping[EdgeKind, float] | None = None) -> Pattern:
    return read_pattern(svg, reading=Reading(halves="half", allowance_drawn=allowance))


def _off(net: Pattern, found: Pattern) -> float:
    """How far the outlines of two patterns lie apart at most, in mm, in both directions."""
    return max(
        float(apart(spread(one), two)[0].max())
        for a, b in zip(net.panels, found.panels, strict=True)
        for one, two in ((a.outline, b.outline), (b.outline, a.outline))
    )


@pytest.mark.parametrize(
    "by",
    [6.0, 10.0, 15.0],
)
@pytest.mark.slow
def test_what_was_grown_with_mitres_and_taken_off_is_the_net_draft(by: float) -> None:
    net = _read(_sheet(FIGURE.panels(), 0.0))
    gross = _read(_sheet(FIGURE.panels(), by), _every(0.0))
    # Its seams, which walk once it is off and not before, tell its width by themselves.
    with pytest.raises(PatternError, match=rf"seems to be drawn in: .* {by:.0f}\.00 mm taken off"):
        _read(_sheet(FIGURE.panels(), by))
    found = _read(_sheet(FIGURE.panels(), by), _every(by))
    assert gross.waist - net.waist == pytest.approx(2.0 * 2.0 * 4 * by, abs=1.0)
    assert _off(net, found) < 0.02
    assert found.waist == pytest.approx(net.waist, abs=0.02)
    for a, b in zip(net.panels, found.panels, strict=True):
        for name in ("front", "back", "top", "bottom"):
            assert length(b.edge(name)) == pytest.approx(length(a.edge(name)), abs=0.02)


@pytest.mark.slow
def test_round_corners_of_the_allowance_come_off_as_corners() -> None:
    net = _read(_sheet(FIGURE.panels(), 0.0))
    found = _read(_sheet(FIGURE.panels(), 8.0, join="round"), _every(8.0))
    assert _off(net, found) < 0.1


def test_rectangles_lose_what_each_kind_of_edge_has() -> None:
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="300mm" '
        'viewBox="0 0 400 300"><path id="a" d="M10 20H90V220H10Z"/>'
        '<path id="b" d="M110 20H200V220H110Z"/><path id="waist" d="M0 120H390"/></svg>'
    )
    kinds: dict[EdgeKind, float] = {"seam": 10.0, "centre_front": 20.0, "top": 5.0, "bottom": 7.0}
    found = _read(svg, kinds)
    boxes = [panel.outline.bounds().round(9).tolist() for panel in found.panels]
    assert boxes == [[[30.0, 25.0], [80.0, 213.0]], [[120.0, 25.0], [200.0, 213.0]]]
    assert [panel.waist_width for panel in found.panels] == pytest.approx([50.0, 80.0], abs=1e-9)


@pytest.mark.parametrize("by", [6.0, 10.0, 15.0])
def test_corners_rounded_by_arcs_of_the_allowance_come_off_as_corners(by: float) -> None:
    # What a drawing program gives that grows a rectangle with round joins.
    arc = f"A{by} {by} 0 0 1"
    left, right, top, bottom = 60 - by, 100 + by, 80 - by, 280 + by
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="400mm" '
        f'viewBox="0 0 400 400"><path id="a" d="M60 {top}H100{arc} {right} 80V280{arc} 100 {bottom}'
        f'H60{arc} {left} 280V80{arc} 60 {top}Z"/><path id="waist" d="M0 180H390"/></svg>'
    )
    panel = _read(svg, _every(by)).panels[0]
    assert panel.outline.bounds() == pytest.approx(np.array([(60, 80), (100, 280)]), abs=1e-5)
    assert [length(panel.edge(edge)) for edge in ("front", "top", "back", "bottom")] == (
        pytest.approx([200.0, 40.0, 200.0, 40.0], abs=1e-5)
    )


def test_hollow_corners_are_restored_too() -> None:
    # A notch of the bottom edge, 30 wide and 20 deep, grown by 5: 20 wide, its bottom 5 lower.
    net = "M30 20H110V220H85V200H55V220H30Z"
    gross = "M25 15H115V225H80V205H60V225H25Z"
    head = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="300mm" '
        'viewBox="0 0 400 300"><path id="waist" d="M0 120H390"/>'
    )
    rest = '<path id="{}" d="{}"/></svg>'
    expected = _read(head + rest.format("a", net)).panels[0]
    found = _read(head + rest.format("a", gross), _every(5.0)).panels[0]
    assert apart(spread(expected.outline), found.outline)[0].max() < 1e-6
    assert apart(spread(found.outline), expected.outline)[0].max() < 1e-6


def test_more_than_a_panel_has_is_refused() -> None:
    with pytest.raises(PatternError, match="cannot be taken off"):
        _read(_sheet(FIGURE.panels(), 0.0), _every(30.0))


@pytest.mark.parametrize(
    "words",
    ["with seam allowance 1 cm", "seam allowance 10 mm included", "incl. 10 mm allowance"],
)
@pytest.mark.slow
def test_words_on_the_sheet_that_say_so_are_heeded(words: str) -> None:
    text = f'<text x="30" y="100" font-size="5">{words}</text>'
    svg = _sheet(FIGURE.panels(), 10.0, words=text)
    with pytest.raises(PatternError) as caught:
        _read(svg)
    assert "allowance_drawn = 10 " in caught.value.remedy
    net, off = _read(_sheet(FIGURE.panels(), 0.0)), _read(svg, _every(10.0))
    assert _read(svg, _every(0.0)).waist > off.waist
    assert _off(net, off) < 0.02


def test_stitch_lines_along_the_sides_alone_say_that_it_is_drawn_in() -> None:
    # Straight panels, whose seams walk with and without it.
    straight = replace(FIGURE, bust=(1.0,) * 4, hip=(1.0,) * 4).panels()
    for name in ("", "stitch line"):
        svg = _sheet(straight, 10.0, stitched=name)
        with pytest.raises(PatternError, match="8 lines run along the edges") as caught:
            _read(svg)
        assert "seam = 10, centre_front = 10, centre_back = 10, top = 0," in caught.value.remedy
    # Rows of stitching in plain net panels look the same, unless they have a name.
    assert _read(svg, _every(0.0)).waist > _read(_sheet(straight, 0.0)).waist + 70.0
    assert _read(_sheet(straight, 10.0, stitched="channel"))
    plain = _sheet(straight, 10.0, stitched="")
    said = Reading(halves="half", drafted_waist=_read(plain, _every(0.0)).waist)
    assert read_pattern(plain, reading=said).waist == said.drafted_waist


@pytest.mark.parametrize("words", ["no seam allowance included", "add seam allowance 10 mm"])
def test_words_that_deny_it_are_heeded_as_well(words: str) -> None:
    text = f'<text x="30" y="100" font-size="5">{words}</text>'
    assert _read(_sheet(FIGURE.panels(), 0.0, words=text)).waist > 0.0
