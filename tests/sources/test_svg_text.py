import math

import pytest

from panelshift.errors import SvgError


def only(read, body):
    (text,) = read(body).texts
    return text


def test_text(read):
    text = only(read, '<g id="labels"><text id="t" x="10" y="20" font-size="5">Panel 1</text></g>')
    assert (text.content, text.ident, text.groups) == ("Panel 1", "t", ("labels",))
    assert text.anchor.tolist() == [10, 20]
    assert (text.size, text.angle) == (5, 0)


def test_white_space_is_collapsed(read):
    assert only(read, "<text>\n  Panel\t 1\n </text>").content == "Panel 1"


def test_placed_tspans_are_words_of_their_own(read):
    body = (
        '<text><tspan x="1" y="2">Front</tspan><tspan x="1" dy="5">Cut <tspan>2</tspan>x</tspan>'
        "<title>no</title><!-- no --></text>"
    )
    assert only(read, body).content == "Front Cut 2x"


def test_anchor_falls_back_to_the_first_tspan(read):
    body = (
        '<text y="4"><tspan>a</tspan><tspan x="1 2 3" y="9">b</tspan><tspan x="7">c</tspan></text>'
    )
    assert only(read, body).anchor.tolist() == [1, 4]
    assert only(read, "<text>a</text>").anchor.tolist() == [0, 0]
    assert only(read, '<text x="10%" y="1,2">a</text>').anchor.tolist() == [10, 1]


@pytest.mark.parametrize(
    ("transform", "anchor", "size", "angle"),
    [
        ("translate(5 6)", (15, 26), 5, 0),
        ("scale(2)", (20, 40), 10, 0),
        ("rotate(90)", (-20, 10), 5, math.pi / 2),
        ("rotate(30) scale(3)", None, 15, math.pi / 6),
        ("scale(3 2)", (30, 40), 10, 0),
        ("scale(-1 1)", (-10, 20), 5, math.pi),
        ("skewX(45)", (30, 20), 5, 0),
    ],
)
def test_text_goes_through_transforms(read, transform, anchor, size, angle):
    text = only(read, f'<g transform="{transform}"><text x="10" y="20" font-size="5">a</text></g>')
    if anchor is not None:
        assert text.anchor == pytest.approx(anchor)
    assert text.size == pytest.approx(size)
    assert text.angle == pytest.approx(angle)


@pytest.mark.parametrize(
    ("attributes", "size"),
    [
        ("", 16),
        ('font-size="12pt"', 16),
        ('style="font-size:4px"', 4),
        ('font-size="9" style="font-size:4px"', 4),
        ('font-size="2em"', 20),
        ('font-size="inherit"', 10),
    ],
)
def test_font_size_is_inherited(read, attributes, size):
    parent = "" if not attributes or "pt" in attributes else 'font-size="10"'
    assert only(read, f"<g {parent}><text {attributes}>a</text></g>").size == pytest.approx(size)


def test_font_size_in_ex_is_half_an_em_and_said(read):
    """CSS Values and Units 4, section 6.1.1: 0.5em where the height of x cannot be found."""
    drawing = read('<g font-size="10"><text style="font-size: 3ex">a</text><line x2="1"/></g>')
    assert drawing.texts[0].size == 15
    assert [words for words in drawing.warnings if "ex" in words] == [
        "font sizes in ex are read as half an em each, as no font is at hand"
    ]
    assert read('<text font-size="10">a</text>').warnings == ()


def test_size_is_in_mm(read):
    drawing = read('<text font-size="96">a</text>', 'width="9in" height="9in"')
    assert drawing.texts[0].size == pytest.approx(25.4)


def test_empty_text_is_nothing(read):
    drawing = read("<text> </text><text><title>x</title></text>")
    assert (drawing.texts, drawing.left_out) == ((), ())


def test_text_that_cannot_be_placed(read):
    with pytest.raises(SvgError, match='x="5vw" has a unit'):
        read('<text x="5vw">a</text>')
    with pytest.raises(SvgError, match="its text starts beyond 100 m"):
        read('<text id="t" x="200000">a</text>')
