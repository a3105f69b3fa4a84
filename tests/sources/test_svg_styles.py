import re

import pytest

from panelshift.errors import SvgError
from panelshift.sources.svg import styles


def left_edge(read, sheet, attributes='id="a" class="b c" x="1"', extra=""):
    """The x of a rect under a style sheet."""
    body = f'<style>{sheet}</style>{extra}<g class="outer"><rect {attributes} {SIZE}/></g>'
    return read(body).shapes[0].curve.start[0]


SIZE = 'width="1" height="1"'


@pytest.mark.parametrize(
    ("sheet", "x"),
    [
        ("rect { x: 2px }", 2),
        ("RECT { x: 2px }", 1),
        (".b { X: 2px }", 2),
        ("#a { x: 2px } .b { x: 3px } rect { x: 4px }", 2),
        (".b { x: 3px } rect { x: 4px }", 3),
        (".b.c { x: 3px } .c { x: 4px }", 3),
        (".b { x: 3px } .c { x: 4px }", 4),
        ("rect { x: 2px !important } #a { x: 3px }", 2),
        ("#a { x: 3px !important } rect { x: 2px !important }", 3),
        ("g > rect { x: 2px } rect { x: 3px }", 2),
        ("svg .outer rect, nothing { x: 2px }", 2),
        ("rect:first-child { x: 2px }", 2),
        ("rect:not(.b) { x: 2px }", 1),
        ("[id=a] { x: 2px }", 2),
        (":root { x: 2px }", 1),
        ("* { x: 2px }", 2),
        ("rect::before { x: 2px }", 1),
        ("rect:hover { x: 2px }", 1),
        ("/* c */ rect /* c */ { /* c */ x /* c */ : 2px /* c */ ; y: 1px }", 2),
        ("rect { x: 2px; x: 3px }", 3),
        ("rect { x: 3px !important; x: 2px }", 3),
        ("rect { \\78: 2px }", 2),
        ("rect { fill: red; stroke-x: 2px }", 1),
        ("rect { x: initial }", 0),
        ("rect { x: unset }", 0),
        ("<![CDATA[ g > rect { x: 2px } ]]>", 2),
        ("rect { x: 10% }", 10),
        ("rect { x: 0 }", 0),
        ("rect { font-size: 10px; x: 2em }", 20),
    ],
)
def test_cascade(read, sheet, x):
    assert left_edge(read, sheet) == pytest.approx(x)
    assert read(f"<style>{sheet}</style>").warnings == ()


@pytest.mark.parametrize(
    ("sheet", "style", "x"),
    [
        ("#a { x: 2px }", "x: 5px", 5),
        ("#a { x: 2px !important }", "x: 5px", 2),
        ("#a { x: 2px !important }", "x: 5px !important", 5),
        ("", "x: 5px; x: 6px", 6),
        ("", "x: 5px !important; x: 6px", 5),
        ("", "fill: url(#x); x: 5px", 5),
        ("#a { x: 2px }", "fill: red", 2),
        ("", "x 5px; y: 3px", 1),
        ("", "/* x: 3px */ x: 5px", 5),
    ],
)
def test_style_attribute(read, sheet, style, x):
    assert left_edge(read, sheet, f'id="a" x="1" style="{style}"') == pytest.approx(x)


def test_each_geometry_property(read):
    sheet = (
        "<style>#r { x: 1px; y: 2px; width: 3px; height: 4px } #c { cx: 5px; cy: 6px; r: 2px }"
        "#e { cx: 5px; cy: 6px; rx: 2px; ry: 3px } #p { d: path('M1 2L3 4') }</style>"
    )
    rect, circle, ellipse, path = (
        shape.curve
        for shape in read(
            sheet
            + '<rect id="r" x="9" y="9" width="9" height="9"/><circle id="c" cx="9" cy="9" r="9"/>'
            + '<ellipse id="e" cx="9" cy="9" rx="9" ry="9"/><path id="p" d="M9 9L0 0"/>'
        ).shapes
    )
    assert rect.bounds().tolist() == [[1, 2], [4, 6]]
    assert circle.bounds()[1] == pytest.approx([7, 8])
    assert circle.start.tolist() == [7, 6]
    assert ellipse.start.tolist() == [7, 6]
    assert ellipse.bounds()[1] == pytest.approx([7, 9])
    assert path.vertices.tolist() == [[1, 2], [3, 4]]


@pytest.mark.parametrize(
    ("element", "problem"),
    [
        (f'<rect style="x: 5" {SIZE}/>', "the style x: 5 has no unit, so browsers ignore it"),
        (f'<rect style="x: inherit" {SIZE}/>', "the style x: inherit is not followed here"),
        (f'<rect style="x: revert" {SIZE}/>', "the style x: revert is not followed here"),
        (f'<rect style="x: calc(1px + 1px)" {SIZE}/>', "is not a length"),
        ('<path style="d: M0 0L1 1"/>', "the style d: M0 0L1 1 cannot be read"),
        ('<path style="d: path(M0 0)"/>', "cannot be read"),
        ("<path style=\"d: path('M0 X')\"/>", "its path data cannot be read at character 4"),
    ],
)
def test_styles_that_cannot_be_followed(read, element, problem):
    with pytest.raises(SvgError, match=problem) as caught:
        read(f"<g>{element}</g>")
    assert caught.value.element.endswith("[1] in g[1]") or caught.value.element.startswith("g[1]/")


@pytest.mark.parametrize(
    ("sheet", "warning", "x"),
    [
        ("@media all { rect { x: 2px } }", None, 2),
        ("@media screen { rect { x: 2px } }", "under '@media screen' are applied", 2),
        ("@media print { rect { x: 2px } }", "under '@media print' are not applied", 1),
        ("@media print { rect { fill: red } }", None, 1),
        ("@media print and (min-width: 1px) { rect { x: 2px } }", "are not applied", 1),
        ("@media (min-width: 1px) { rect { fill: red } }", None, 1),
        ("@supports (x: y) { rect { fill: red } }", None, 1),
        ("@media screen { @media print { rect { x: 2px } } }", "'@media print' are not", 1),
        ("@import 'other.css';", "outside the file .@import .other.css.. is not read", 1),
        ("@font-face { font-family: x }", None, 1),
        ("@media print;", None, 1),
        ("rect:foo(1) { fill: red }", None, 1),
    ],
)
def test_conditions_and_selectors_that_are_not_followed(read, sheet, warning, x):
    body = f'<style>{sheet}</style><rect id="a" x="1" {SIZE}/>'
    drawing = read(body + f"<style>{sheet}</style>")
    assert drawing.shapes[0].curve.start[0] == x
    if warning is None:
        assert drawing.warnings == ()
    else:
        # Written twice, warned about once.
        assert len(set(drawing.warnings)) == len(drawing.warnings)
        assert re.search(warning, " / ".join(drawing.warnings))


@pytest.mark.parametrize(
    ("sheet", "words"),
    [
        ("@media (min-width: 1px) { rect { x: 2px } }", r"under '@media \(min-width: 1px\)'"),
        ("@media not print { rect { x: 2px } }", "under '@media not print'"),
        ("@supports (x: y) { rect { x: 2px } }", r"under '@supports \(x: y\)'"),
        ("@layer base { rect { display: none } }", "under '@layer base'"),
        ("@keyframes a { from { transform: none } }", "under '@keyframes a'"),
        ("rect:foo(1) { x: 2px }", r"selector 'rect:foo\(1\)' \(for x\)"),
        ("rect, $ { x: 2px; y: 3px }", r"selector 'rect, \$' \(for x, y\)"),
        ("s|rect { x: 2px }", r"selector 's\|rect'"),
        ("g { rect { x: 2px } }", "rules nested inside 'g'"),
    ],
)
def test_what_a_browser_may_apply_and_this_cannot_is_refused(read, sheet, words):
    match = f"the style (rules )?{words}.* cannot be followed here"
    with pytest.raises(SvgError, match=match) as caught:
        read(f"<style>{sheet}</style><rect {SIZE}/>")
    assert caught.value.element == "style"


def test_a_style_element_for_an_unknown_medium(read):
    with pytest.raises(SvgError, match=r"under 'media tv'"):
        read('<style media="tv">rect { x: 2px }</style>')


def test_matching_is_bounded(read, monkeypatch):
    monkeypatch.setattr(styles, "MOST_MATCHED", 20)
    assert left_edge(read, "rect { x: 2px }") == 2
    with pytest.raises(SvgError, match="too many rules for so many elements"):
        read(f"<style>{'rect { x: 2px }' * 9}</style><rect {SIZE}/>")


def test_media_and_type_of_a_style_element(read):
    rect = f'<rect x="1" {SIZE}/>'
    for attributes, x in (('media="print"', 1), ('type="text/plain"', 1), ('type="text/css"', 2)):
        drawing = read(f"<style {attributes}>rect {{ x: 2px }}</style>{rect}")
        assert drawing.shapes[0].curve.start[0] == x


def test_an_outside_sheet_is_warned_about(read):
    drawing = read("", before='<?note?><?xml-stylesheet href="a.css"?>')
    assert drawing.warnings == ("a style sheet outside the file (xml-stylesheet) is not read",)


@pytest.mark.parametrize("opening", ["(", "{", "[", ":is("])
def test_brackets_without_end_are_refused(read, opening):
    with pytest.raises(SvgError, match="nests brackets more than 64 deep") as caught:
        read(f"<style>{opening * 5000}</style>")
    assert caught.value.element == "style"
    with pytest.raises(SvgError, match="nests brackets more than 64 deep"):
        read(f'<line x2="3" style="transform:{opening * 5000}"/>')


@pytest.mark.parametrize("attribute", ["stroke='{}'", "style='width:{}px'", "style='stroke:{}'"])
def test_numbers_of_thousands_of_digits_are_refused(read, attribute):
    with pytest.raises(SvgError, match="number of a thousand digits"):
        read(f'<line x2="3" stroke-width="1" {attribute.format("7" * 5000)}/>')


def test_many_brackets_side_by_side_are_fine(read):
    sheet = "rect { x: 2px } " * 100 + ")" * 100
    assert left_edge(read, sheet) == 2


def test_rules_match_where_the_element_stands_not_where_it_is_used(read):
    body = (
        "<style>defs rect { x: 2px } use rect { x: 3px }</style>"
        f'<defs><rect id="a" x="1" {SIZE}/></defs><use href="#a"/>'
    )
    assert read(body).shapes[0].curve.start[0] == 2


def test_font_shorthand_and_keywords(read):
    def em(style):
        return read(f'<g style="{style}"><line x2="1em"/></g>').shapes[0].curve.end[0]

    assert em("font: bold 20px/1.5 serif") == 20
    assert em("font: 400 12px serif") == 12
    assert em("font: caption") == 16
    assert em("font: small serif") == pytest.approx(16 * 8 / 9)
    assert em("font-size: 20px; font: 12px serif") == 12
    assert em("font: 12px serif; font-size: 20px") == 20
    assert em("font-size: 50%") == 8
    assert em("font-size: smaller") == pytest.approx(16 / 1.2)
    assert em("font-size: inherit") == 16
    assert em("font-size: initial") == 16
