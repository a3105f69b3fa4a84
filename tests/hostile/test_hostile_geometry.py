"""Drawings that ask for too much: numbers, copies, pieces, lines, rules."""

from __future__ import annotations

import math

import pytest

from panelshift.draft import assemble, draft as meetings, finding, joining, nested
from panelshift.errors import CurveError, PanelshiftError, PatternError, SvgError
from panelshift.outline import Curve, crossing, curve
from panelshift.outline.crossing import crossings
from panelshift.sources import limits as most
from panelshift.sources.svg import lengths as numbers, pathdata, read_svg, reader, styles
from tests.support.drawings import Draft, drawing, half, panels, svg

from .bounds import MOST_MIB, bounded, memory_of


def read(body: str):
    return read_svg(svg(body).encode(), name="bad.svg")


def refused(body: str, match: str, kind: type[PanelshiftError] = SvgError) -> str:
    with bounded(), pytest.raises(kind, match=match) as caught:
        assemble(read(body))
    # No message carries megabytes of the file to the terminal.
    assert len(str(caught.value)) < 1500
    return str(caught.value)


GIANTS = ["1e13", "1e308", "1e309", "-1e309", "9" * 400, "1e999999999", "0." + "0" * 400 + "1e700"]


@pytest.mark.parametrize("number", GIANTS, ids=lambda text: text[:12])
@pytest.mark.parametrize(
    "element",
    [
        '<path d="M0 0L{} 1"/>',
        '<path d="M0 0a{} 9 0 1 1 5 5"/>',
        '<rect width="{}" height="1"/>',
        '<circle r="{}"/>',
        '<polygon points="0,0 {},1 3,3"/>',
        '<g transform="scale({})"><line x2="3"/></g>',
        '<g transform="translate({})"><line x2="3"/></g>',
        '<svg viewBox="0 0 {} 1"><line x2="3"/></svg>',
        '<text x="{}">a</text>',
        '<line x2="3" style="transform: translate({}px)"/>',
    ],
)
def test_giant_numbers(number, element) -> None:
    refused(
        element.format(number),
        "too large to be a coordinate|not a length|beyond 100 m",
        (PanelshiftError),
    )


@pytest.mark.parametrize(
    "word", ["nan", "inf", "-inf", "Infinity", "1e", "0x10", "1_000", "\u0661"]
)
def test_words_that_python_takes_for_numbers(word) -> None:
    for element in (f'<path d="M0 0L{word} 1"/>', f'<rect width="{word}" height="2"/>'):
        refused(element, "cannot be read|not a length|a unit")


def test_tiny_numbers_leave_finite_curves() -> None:
    with bounded():
        found = read(
            '<g transform="scale(1e-12)"><g transform="scale(1e-12)"><path id="a" d="M0 0L1 1"/>'
            '</g></g><circle r="1e-300"/><path d="M0 0A1e-9 9 3 1 1 1e-30 0"/>'
        )
    for shape in found.shapes:
        assert math.isfinite(float(abs(shape.curve.control).max()))


def test_transforms_that_multiply_up() -> None:
    refused('<g transform="scale(1e12)">' * 30 + '<path d="M0 0H1"/>' + "</g>" * 30, "multiply up")


@pytest.mark.parametrize(
    "body",
    [
        '<g id="g"><use href="#g"/></g>',
        '<use id="u" href="#u"/>',
        '<use id="u" href="#v"/><use id="v" href="#u"/>',
        '<symbol id="s"><use href="#s"/></symbol><use href="#s"/>',
        '<svg id="s"><g><use href="#s"/></g></svg>',
    ],
)
def test_copies_of_themselves(body) -> None:
    refused(body, "again and again")


@pytest.mark.slow
@pytest.mark.parametrize(
    "copies", [1000, *(pytest.param(few, marks=pytest.mark.slow) for few in (2, 10))]
)
def test_a_bomb_of_copies(copies) -> None:
    groups = "".join(
        f'<g id="g{k}">' + f'<use href="#g{k - 1}"/>' * copies + "</g>" for k in range(1, 40)
    )
    body = f'<defs><g id="g0"><line x2="1"/></g>{groups}</defs><use href="#g39"/>'
    assert reader.MOST_EXPANDED <= 20_000
    refused(body, f"more than {reader.MOST_EXPANDED} elements")


@pytest.mark.slow
def test_a_path_of_a_million_segments(tmp_path) -> None:
    for pair in ("h1v1", "a1 1 0 1 1 .1 .1", "M0 0h1", "t1 1"):
        refused(f'<path d="M0 0{pair * 500_000}"/>', f"more than {pathdata.MOST_PATH_SEGMENTS}")
    refused(f'<polygon points="{"1 2 " * 1_000_000}"/>', "characters long")
    file = tmp_path / "million.svg"
    file.write_text(svg(f'<path d="M0 0{"h1v1" * 500_000}"/>'))
    assert memory_of(file)[0] < MOST_MIB


@pytest.mark.slow
def test_bounds_on_shapes_segments_and_texts(monkeypatch) -> None:
    stray = "".join(f'<path d="M{k % 900} {k // 900}h.5"/>' for k in range(15_000))
    refused(stray, f"more than {most.MOST_SHAPES} lines")
    texts = '<text x="3">a</text>' * 6_000
    refused(texts, f"more than {most.MOST_TEXTS} texts")
    monkeypatch.setattr(most, "MOST_SEGMENTS", 500)
    refused('<path d="M0 0' + "h1" * 300 + '"/>' * 1 + '<path d="M0 0' + "h1" * 300 + '"/>', "500")


def test_a_list_of_points_is_bounded(monkeypatch) -> None:
    monkeypatch.setattr(numbers, "MOST_LISTED", 100)
    refused(f'<polyline points="{"1 2 " * 50}"/>', "is 200 characters long")


def test_long_texts_are_left_out() -> None:
    found = read(f'<text id="t" x="3">{"long " * 100_000}</text>')
    assert found.texts == ()
    assert "is no label" in found.left_out[0].reason


IN_FULL = [False, pytest.param(True, marks=pytest.mark.slow)]
"""A part of it against that part of the bound after each change; all of it in CI."""


@pytest.mark.parametrize("full", IN_FULL)
def test_style_sheets_of_many_rules(monkeypatch, full) -> None:
    if not full:
        monkeypatch.setattr(styles, "MOST_MATCHED", styles.MOST_MATCHED // 100)
    rules, elements = (20_000, 5_000) if full else (200, 500)
    sheet = "".join(f".k{k} * > g ~ path {{ x: {k}px }}" for k in range(rules))
    body = f"<style>{sheet}</style>" + '<g class="k1"><path d="M0 0h1"/></g>' * 1000
    refused(body, "too many rules")
    words = "* " * (3_000 if full else 300)
    refused(
        f"<style>{words}{{ x: 3px }}</style>" + "<g/>" * elements, "too many rules|not be followed"
    )


@pytest.mark.parametrize("full", IN_FULL)
def test_a_hatch_that_nobody_can_join(monkeypatch, full) -> None:
    # Every end lies within the join tolerance of every other: pairs grow with the square.
    if not full:
        monkeypatch.setattr(joining, "MOST_MEETINGS", joining.MOST_MEETINGS // 100)
    lines = 3_000 if full else 300
    fan = "".join(f'<path d="M50 50q9 9 {50 + k / 10} {k / 100}"/>' for k in range(lines))
    refused(fan, "line ends lie within", PatternError)


@pytest.mark.slow
def test_thousands_of_copies_in_one_place() -> None:
    stray = "".join(f'<line id="a" x2="{k / 10_000}"/>' for k in range(4_000))
    refused(stray, "thousands of lines lie on top of each other", PatternError)


@pytest.mark.slow
def test_a_chain_of_thousands_of_pieces() -> None:
    # Taken apart one loose end after the other, pass after pass, this took minutes.
    chain = "".join(f'<path d="M{k % 100 + 5} {k // 100}h1"/>' for k in range(6_000))
    with bounded():
        pattern = assemble(read(panels(half(2)) + chain))
    assert len(pattern.panels) == 2


@pytest.mark.slow
def test_a_tangle_of_crossing_pieces() -> None:
    fan = "".join(
        f'<path d="M0 {k}L900 {400 - k}"/><path d="M0 {k}L0 {k + 1}"/>' for k in range(600)
    )
    assert joining.MOST_TANGLED < 800
    with bounded():
        assemble(read(panels(half(2)) + fan))


@pytest.mark.slow
def test_thousands_of_marks_on_a_panel() -> None:
    hatch = "".join(
        f'<path d="M{60 + k % 30} {100 + 0.2 * (k // 30)}h.5v.1"/>' for k in range(1500)
    )
    closed = "".join(f'<path d="M{k % 90 * 10} {400 + k // 90 * 4}h2v2z"/>' for k in range(1500))
    with bounded(2.0 * 10.0):
        pattern = assemble(read(panels(half(2)) + hatch + closed))
    assert sum(len(panel.marks) for panel in pattern.panels) == 1500
    assert len(pattern.left_out) == 1500


@pytest.mark.slow
def test_hundreds_of_panels() -> None:
    row = [
        Draft(f"p {k}", x=100.0 * (k % 200) + 30, y=200.0 + 300 * (k // 200)) for k in range(300)
    ]
    with bounded(2.0 * 10.0):
        large = 'width="25000mm" height="1000mm" viewBox="0 0 25000 1000"'
        pattern = assemble(drawing(panels(row), large))
    assert len(pattern.panels) == 300


def test_too_many_panels(monkeypatch) -> None:
    monkeypatch.setattr(finding, "MOST_PANELS", 3)
    refused(panels(half(4)), "cross more than 3 outlines", PatternError)


def test_panels_on_top_of_each_other(monkeypatch) -> None:
    monkeypatch.setattr(nested, "MOST_NESTED", 20)
    rings = "".join(
        Draft(f"p {k}", x=90.0 - k, waist=50.0 + 2 * k, above=90.0 + k, below=90.0 + k).outline()
        for k in range(9)
    )
    refused(rings + '<path id="waist" d="M0 200H300"/>', "on top of each other", PatternError)


def test_waistlines_on_top_of_each_other(monkeypatch) -> None:
    monkeypatch.setattr(meetings, "MOST_CROSSINGS", 20)
    draft = Draft("1")
    many = draft.panel() + "".join(draft.line(f"waist {k}", 0.2 * k) for k in range(30))
    refused(many, "too many lines lie on top", PatternError)


def test_curves_that_take_millions_of_points() -> None:
    control = [
        [(9.0 * k, 9.0 * k), (9e4, 9e4), (-9e4, 9e4), (9.0 * k + 9.0, 9.0 * k + 9.0)]
        for k in range(2000)
    ]
    bent = Curve.cubics(control)
    with bounded(), pytest.raises(CurveError, match="too long and too bent"):
        bent.flatten(1e-6)
    assert curve.MOST_FLAT_POINTS <= 1_000_000


def test_a_waistline_and_an_outline_of_too_many_pieces() -> None:
    teeth = [(k / 100.0, float(k % 2)) for k in range(20_000)]
    comb, line = Curve.polyline(teeth), Curve.polyline([(x, 1.0 - y) for x, y in teeth])
    assert crossing.MOST_COMPARED < 20_000**2
    with bounded(), pytest.raises(CurveError, match="too many pieces to be crossed"):
        crossings(comb, line)
