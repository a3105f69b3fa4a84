"""The picture of a layout."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import numpy as np
import pytest
from lxml import etree
from shapely.geometry import Point, Polygon

from panelshift.needs.buying import ClothOptions, Layout, lay
from panelshift.needs.cloth_picture import (
    PAGE_MM,
    Name,
    _key_lines,
    _roomiest,
    _strip,
    layout_picture,
    names_in,
)
from panelshift.needs.laid import LaidPiece
from panelshift.needs.pieces import layer_pieces
from panelshift.sheets.lettering import width as letters
from tests.support.cloth import piece, rectangle
from tests.support.golden import changes
from tests.support.runs import sample

SVG = "{http://www.w3.org/2000/svg}"


def layout_of(name: str, width: float, **options: bool) -> Layout:
    result = sample(name)
    layer = result.shifted.layers[result.shifted.stack.drafted_index]
    pieces = layer_pieces(result.shifted, layer, result.job.plan)
    return lay(layer.fabric.name, pieces, width, ClothOptions((width,), **options), effort=0)


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in etree.fromstring(svg).iter(SVG + "text")]


@pytest.mark.parametrize(
    "name", ["hourglass", pytest.param("fuller_figure", marks=pytest.mark.slow)]
)
@pytest.mark.parametrize("width", [700.0, 1400.0, 2000.0])
def test_it_holds_every_name_and_every_piece(name: str, width: float) -> None:
    layout = layout_of(name, width)
    svg = layout_picture(layout)
    root = etree.fromstring(svg)
    words = " ".join(texts(svg))
    for lying in layout.laid:
        assert lying.name in words
    assert words.count("mirrored") == len(layout.laid) // 2
    filled = [p for p in root.iter(SVG + "path") if p.get("fill") != "none" and p.get("fill")]
    assert len(filled) == len(layout.laid)


@pytest.mark.parametrize("width", [500.0, 1400.0, 2800.0])
def test_letters_are_legible_on_the_page(width: float) -> None:
    root = etree.fromstring(layout_picture(layout_of("hourglass", width)))
    scale = PAGE_MM / float(root.get("viewBox").split()[2])
    sizes = [float(t.get("font-size")) * scale for t in root.iter(SVG + "text")]
    assert min(sizes) > 1.85
    assert max(sizes) < 3.0


@pytest.mark.parametrize(
    ("unit", "marks"),
    [
        ("mm", ["0 mm", "100", "200", "300"]),
        ("cm", ["0 cm", "10", "20", "30"]),
        ("in", ["0 yd", "1/8", "1/4", "3/8"]),
    ],
)
def test_marks_along_the_length(unit: str, marks: list[str]) -> None:
    layout = layout_of("hourglass", 1400.0)
    svg = layout_picture(layout, unit)
    assert [t for t in texts(svg) if t in marks] == marks
    assert re.search(rf"buy {re.escape(layout.to_buy_text(unit))}", " ".join(texts(svg)))


def test_names_stand_inside_their_pieces() -> None:
    layout = layout_of("fuller_figure", 1400.0)
    for lying, name in zip(layout.laid, names_in(layout.laid, 20.0, 10.0, 1.3), strict=True):
        assert not name.key
        assert Polygon(lying.ring).contains(Point(*name.at).buffer(0.6 * name.size))


@pytest.mark.slow
def test_names_without_room_stand_below_by_number() -> None:
    pieces = [rectangle(12, 300, f"narrow strip {k}") for k in range(1, 40)]
    svg = layout_picture(lay("cloth", pieces, 1400.0, ClothOptions(), effort=0))
    words = texts(svg)
    assert "7" in words
    below = ";  ".join(words)
    for k in range(1, 40):
        assert f"{k} narrow strip {k}" in below


def test_strange_names_are_escaped() -> None:
    name = 'a <b> & "c" \x07 </svg><script>x</script>'
    svg = layout_picture(lay("x < y", [rectangle(200, 900, name)], 1400.0, ClothOptions()))
    assert "<script>" not in svg
    root = etree.fromstring(svg)
    assert root.get("aria-label").startswith("x < y on cloth 1400 mm wide: 1 pieces on 900 mm")
    assert any('a <b> & "c"  </svg>' in text for text in texts(svg))


def test_grain_or_nap_is_said() -> None:
    assert "grain" in texts(layout_picture(layout_of("hourglass", 1400.0)))
    assert "nap: one way" in texts(layout_picture(layout_of("hourglass", 1400.0, nap=True)))


def test_nothing_has_an_id_and_nothing_is_fetched() -> None:
    root = etree.fromstring(layout_picture(layout_of("hourglass", 1400.0)))
    assert not root.xpath("//@id")
    assert not root.xpath("//@href")


@pytest.mark.parametrize("width", [1400.0, 2800.0])
def test_names_stand_about_their_places_and_words_below_on_the_page(width: float) -> None:
    layout = layout_of("hourglass", width)
    root = etree.fromstring(layout_picture(layout))
    left, top, wide, high = map(float, root.get("viewBox").split())
    turned = [g for g in root.iter(SVG + "g") if "rotate" in g.get("transform", "")]
    # After the names comes the arrow of the grain.
    groups = turned[: len(layout.laid)]
    shown = [[text.text for text in group.iter(SVG + "text")] for group in groups]
    for group, words in zip(groups, shown, strict=True):
        lines = list(group.iter(SVG + "text"))
        size = float(lines[0].get("font-size"))
        heights = np.array([float(line.get("y")) for line in lines])
        # The middle of small letters lies about a third of a letter above the baseline.
        assert heights.mean() == pytest.approx(0.35 * size, abs=0.06 * size), words
        assert (np.diff(heights) > size).all()
        assert {float(line.get("x")) for line in lines} == {0.0}
        assert {line.get("text-anchor") for line in lines} == {"middle"}
    foot = [t for t in root if t.tag == SVG + "text" and float(t.get("y")) > layout.length]
    # On wide cloth some pieces are drawn too small for their names: these stand below.
    assert bool(foot) == (width > 2000.0)
    for line in foot:
        size, start = float(line.get("font-size")), float(line.get("x"))
        assert line.get("text-anchor", "start") == "start"
        assert left <= start
        assert start + 0.9 * size * letters(line.text) <= left + wide
        assert float(line.get("y")) < top + high


def test_the_widest_strip_of_a_hollow_piece_is_found() -> None:
    # A fork with tines of 10 and 30 mm: above its foot there are two strips.
    ring = [(0, 0), (60, 0), (60, 100), (30, 100), (30, 20), (10, 20), (10, 100), (0, 100), (0, 0)]
    for across, ends in ((1.0, (30.0, 60.0)), (-1.0, (-60.0, -30.0))):
        turned = np.array(ring, dtype=float) * (across, 1.0)
        assert _strip(turned, 40.0, 90.0) == pytest.approx(ends)
        assert _strip(turned, 5.0, 15.0) == pytest.approx(sorted((0.0, 60.0 * across)))
    assert _strip(turned, 200.0, 210.0) == (0.0, 0.0)


def test_the_roomiest_strip_lies_in_the_piece_wherever_it_lies() -> None:
    for x, y in ((0.0, 200.0), (500.0, 0.0), (-90.0, -300.0)):
        box = np.array([(x, y), (x + 60.0, y), (x + 60.0, y + 100.0), (x, y + 100.0), (x, y)])
        middle, room = _roomiest(box, 50.0, 20.0)
        assert middle == pytest.approx((x + 30.0, y + 50.0))
        assert room == pytest.approx(60.0)
        assert _roomiest(box, 101.0, 20.0)[1] == 0.0


def test_names_below_stand_in_lines_as_wide_as_the_picture() -> None:
    """Each as full as it can be; what is wider by itself has a line of its own."""
    words = [("lining " * (1 + k % 4)).strip() + f" {k}" for k in range(12)] + ["w" * 200, "end"]
    keyed = [
        Name((str(k),), (one,), np.zeros(2), 3.0, False, str(k)) for k, one in enumerate(words)
    ]
    lines = _key_lines([*keyed, keyed[0]])
    assert ";  ".join(lines) == ";  ".join(f"{k} {one}" for k, one in enumerate(words))
    room = max(letters(line) for line in lines if "www" not in line)
    assert 1 < len(lines) < len(words)
    for line, following in itertools.pairwise(lines):
        assert letters(f"{line};  {following.partition(';  ')[0]}") > room


@pytest.mark.parametrize(
    ("name", "unit", "options"),
    [
        ("plain", "mm", ClothOptions()),
        ("folded", "cm", ClothOptions(folded=True, nap=True)),
        ("washed", "in", ClothOptions(shrinkage_width=0.04)),
    ],
)
def test_the_whole_picture(name: str, unit: str, options: ClothOptions) -> None:
    """Two pieces of each of three sizes: one hollow, one too narrow for its name."""
    hollow = [(0.0, 0.0), (250.0, 0.0), (250.0, 620.0), (170.0, 620.0), (150.0, 90.0), (0.0, 80.0)]
    pieces = [
        replace(made, copy=copy, mirrored=copy == 2)
        for made in (piece(hollow, "front"), rectangle(7, 300, "strap"), rectangle(190, 410, "b"))
        for copy in (1, 2)
    ]
    laid = [
        LaidPiece(own, turned, np.array(at))
        for own, turned, at in zip(
            pieces,
            (False, True, False, False, True, False),
            ((5.0, 2.0), (260.0, 640.0), (280.0, 5.0), (310.0, 5.0), (560.0, 420.0), (340.0, 5.0)),
            strict=True,
        )
    ]
    layout = Layout("satin", 1200.0 if options.folded else 900.0, options, 6.0, tuple(laid))
    assert not changes(f"cloth-{name}.svg", layout_picture(layout, unit))
