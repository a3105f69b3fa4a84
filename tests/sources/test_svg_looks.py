"""Colours, widths and dashes of lines, how texts are set, and the rectangles that show them."""

from __future__ import annotations

import pytest

from panelshift.pattern.drawing import LineStyle

LINE = "M10 10H50"


def style(read, attributes, before="", around="", root=None):
    body = f'{before}<g {around}><path d="{LINE}" {attributes}/></g>'
    (shape,) = (read(body) if root is None else read(body, root)).shapes
    return shape.style


def test_nothing_said_is_nothing_painted(read):
    assert style(read, "") == LineStyle("", None, ())
    assert style(read, 'stroke="none" stroke-width="3"') == LineStyle()
    assert style(read, 'stroke="transparent"') == LineStyle()


@pytest.mark.parametrize(
    ("attributes", "before", "around"),
    [
        ('stroke="#1e90ff" stroke-width="0.5" stroke-dasharray="4,2"', "", ""),
        ('style="stroke:dodgerblue;stroke-width:.5px;stroke-dasharray:4 2"', "", ""),
        ("", "", 'stroke="rgb(30,144,255)" stroke-width="0.5" stroke-dasharray="4 2"'),
        (
            'class="a" stroke="red" stroke-width="9"',
            "<style>.a{stroke:#1E90FF;stroke-width:.5;stroke-dasharray:4,2}</style>",
            'stroke="green"',
        ),
        (
            'style="stroke:inherit" stroke="red"',
            "",
            'color="#1e90ff" style="stroke:currentColor;stroke-width:50%;stroke-width:.5;'
            'stroke-dasharray:4px,2px"',
        ),
    ],
)
def test_said_by_attribute_style_sheet_and_group(read, attributes, before, around):
    """dodgerblue is #1e90ff: CSS Color Module Level 4, section 6.1."""
    assert style(read, attributes, before, around) == LineStyle("#1e90ff", 0.5, (4.0, 2.0))


def test_widths_and_dashes_go_through_transforms(read):
    dashed = 'stroke="red" stroke-width="1" stroke-dasharray="3"'
    grown = LineStyle("#ff0000", 2.0, (6.0, 6.0))
    assert style(read, dashed, around='transform="rotate(30) scale(2)"') == grown
    assert style(read, dashed, root='width="200mm" height="200mm" viewBox="0 0 100 100"') == grown
    # SVG 2, section 8.11: such a line is as wide as on a page that is not scaled.
    fixed = style(
        read, f'{dashed} vector-effect="non-scaling-stroke"', around='transform="scale(9)"'
    )
    assert fixed.width == pytest.approx(25.4 / 96.0, abs=1e-4)


def test_unset_width_is_one_user_unit(read):
    assert style(read, 'stroke="red"', around='transform="scale(3)"').width == 3.0


@pytest.mark.parametrize(
    "attributes",
    [
        'stroke="red" stroke-width="-1" stroke-dasharray="3 -1"',
        'stroke="red" stroke-width="wide" stroke-dasharray="3 and 4"',
        'stroke="red" stroke-width="inherit" stroke-dasharray="0 0"',
    ],
)
def test_what_cannot_be_read_is_passed_over(read, attributes):
    assert style(read, attributes, around='stroke-width="2"') == LineStyle("#ff0000", 2.0, ())


def test_paint_that_is_no_plain_colour_stays_as_written(read):
    assert style(read, 'stroke="url(#fade)"').colour == "url(#fade)"


def test_rules_for_looks_alone_never_refuse_a_drawing(read):
    rules = "<style>a:no-such { stroke: red } @media (width > 3px) { path { stroke: red } }</style>"
    assert style(read, 'stroke="blue"', before=rules).colour == "#0000ff"


def test_styles_of_a_scaled_drawing_are_scaled(read):
    dashed = f'<path d="{LINE}" stroke="red" stroke-width="2" stroke-dasharray="1 3"/>'
    scaled = read(f'{dashed}<text x="8" y="6" font-size="4">a</text>').scaled(0.5)
    assert (scaled.texts[0].size, scaled.texts[0].anchor.tolist()) == (2.0, [4.0, 3.0])
    assert scaled.shapes[0].style == LineStyle("#ff0000", 1.0, (0.5, 1.5))
    assert scaled.page.tolist() == [[0, 0], [50, 50]]


@pytest.mark.parametrize(
    ("text", "align", "bold", "size"),
    [
        ("a", "start", False, 4),
        ('<tspan text-anchor="end" font-size="2em">a</tspan>', "end", False, 8),
        ('a<tspan font-size="9">b</tspan>', "start", False, 4),
        ('\n <tspan><tspan font-weight="bold">a</tspan></tspan>', "start", True, 4),
        ('<tspan> </tspan>a<tspan font-size="9">b</tspan>', "start", False, 4),
        ('<tspan font-size="2rem" font-weight="900">a</tspan>', "start", True, 4),
    ],
)
def test_texts_are_set_as_their_first_letter(read, text, align, bold, size):
    (found,) = read(f'<text font-size="4">{text}</text>').texts
    assert (found.align, found.bold, found.size) == (align, bold, size)


@pytest.mark.parametrize(
    ("style", "width"),
    [
        ("stroke-width:-1", 3),
        ("stroke-width:2;stroke-width:-1", 2),
        ("stroke-width:-1!important", 3),
        ("stroke-width:-0", 0),
    ],
)
def test_a_width_below_nothing_is_none(read, style, width):
    """CSS drops the declaration alone: what an attribute or a rule says holds."""
    (line,) = read(f'<path stroke="red" stroke-width="3" style="{style}" d="{LINE}"/>').shapes
    assert line.style.width == width
    rules = "path { stroke: red; stroke-width: 5 } .a { stroke-width: -1% }"
    (line,) = read(f'<style>{rules}</style><path class="a" d="{LINE}"/>').shapes
    assert line.style.width == 5


@pytest.mark.parametrize("style", ["r:-4px", "r:3px;r:-4px"])
def test_a_radius_below_nothing_is_none(read, style):
    (circle,) = read(f'<circle r="3" style="{style}"/>').shapes
    assert circle.curve.hull_box[1, 0] == pytest.approx(3.0)


def test_title_and_page(read):
    drawing = read("<title> My\n corset </title>", 'width="2in" height="1in"')
    assert drawing.title == "My corset"
    assert drawing.page.ravel().tolist() == pytest.approx([0, 0, 50.8, 25.4])
    assert read(f'<path d="{LINE}"/>', "").page is None
    half = read("", 'width="50mm" viewBox="0 0 100 200"')
    assert half.page.ravel().tolist() == pytest.approx([0, 0, 50, 100])


RECTANGLE = '<clipPath id="c"><rect x="5" y="6" width="20" height="30"/></clipPath>'


@pytest.mark.parametrize(
    ("clip", "around", "corners"),
    [
        (RECTANGLE, "", [5, 6, 25, 36]),
        (RECTANGLE, 'transform="scale(2)"', [10, 12, 50, 72]),
        ('<clipPath id="c"><path d="M25 36V6H5V36z"/></clipPath>', "", [5, 6, 25, 36]),
        ('<clipPath id="c"><path d="M25 36V6H5z"/></clipPath>', "", None),
        ('<clipPath id="c"><path d="M25 36V6H5V32z"/></clipPath>', "", None),
        ('<clipPath id="c"><rect width="x" height="2"/></clipPath>', "", None),
        ('<clipPath id="c"><circle r="9"/></clipPath>', "", None),
        ('<clipPath id="c"/>', "", None),
        ('<rect id="c" width="2" height="2"/>', "", None),
        ("", "", None),
        (RECTANGLE.replace("id=", 'clipPathUnits="objectBoundingBox" id='), "", None),
    ],
)
def test_upright_rectangles_that_clip_are_known(read, clip, around, corners):
    body = f'<path d="{LINE}"/></g>'
    shape = read(f'{clip}<g clip-path="url(#c)" {around}>{body}').shapes[-1]
    styled = read(f"{clip}<g style=\"clip-path:url('#c')\" {around}>{body}").shapes[-1]
    assert (styled.clip is None) == (shape.clip is None)
    assert (None if shape.clip is None else shape.clip.ravel().tolist()) == corners


OVER = '<path d="M0 8H40V30"/>'


@pytest.mark.parametrize(
    ("body", "corners"),
    [
        ('<svg x="5" y="6" width="20" height="30">{}</svg>', [5, 6, 25, 36]),
        ('<svg x="5" y="6" width="20" height="30" viewBox="0 0 10 15">{}</svg>', [5, 6, 25, 36]),
        ('<svg width="50%" height="10" transform="scale(-1 2)">{}</svg>', [-50, 0, 0, 20]),
        ('<g transform="rotate(90)"><svg width="9" height="8">{}</svg></g>', [-8, 0, 0, 9]),
        ('<g transform="rotate(9)"><svg width="9" height="8">{}</svg></g>', None),
        ('<svg width="9" height="8" overflow="visible">{}</svg>', None),
        ('<svg width="9" height="8" overflow="hidden" style="overflow:auto">{}</svg>', None),
        ('<svg width="9" height="8" style="overflow:scroll">{}</svg>', [0, 0, 9, 8]),
        # As large as the page, at the copy's place.
        ('<symbol id="s">{}</symbol><use href="#s" x="70" y="3"/>', None),
        (
            '<symbol id="s"><g transform="translate(-1)">{}</g></symbol><use href="#s" x="7"/>',
            [7, 0, 107, 100],
        ),
        ('<symbol id="s">{}</symbol><use href="#s" width="9" height="8"/>', [0, 0, 9, 8]),
        ('<svg width="9" height="9"><svg x="2" y="-3">{}</svg></svg>', [2, 0, 9, 6]),
        # What lies in its frame, or beyond it by half a line's width, shows whole.
        ('<svg width="40" height="30">{}</svg>', None),
        ('<svg width="39.6" height="30">{}</svg>', None),
        ('<svg width="39.4" height="30">{}</svg>', [0, 0, 39.4, 30]),
    ],
)
def test_a_nested_viewport_shows_what_lies_in_it(read, body, corners):
    (shape,) = read(body.format(OVER), 'width="100mm" height="100mm" viewBox="0 0 100 100"').shapes
    assert (None if shape.clip is None else shape.clip.ravel().tolist()) == (
        corners if corners is None else pytest.approx(corners)
    )


def test_a_viewport_and_a_clip_show_what_they_share(read):
    body = f'<svg width="18" height="60"><g clip-path="url(#c)">{OVER}</g></svg>'
    (shape,) = read(RECTANGLE + body).shapes
    assert shape.clip.ravel().tolist() == [5, 6, 18, 36]
    # An arc whose control points alone lie beyond the frame is whole.
    arc = '<svg width="40" height="40"><path d="M5 5C5 45 35 45 35 5"/></svg>'
    assert read(arc).shapes[0].clip is None


def test_clips_in_clips_show_what_they_share(read):
    other = '<clipPath id="d"><rect x="10" width="90" height="10"/></clipPath>'
    shape = read(
        f'{RECTANGLE}{other}<g clip-path="url(#c)"><path d="{LINE}" clip-path="url(#d)"/></g>'
    ).shapes[0]
    assert shape.clip.ravel().tolist() == [10, 6, 25, 10]
    assert shape.curve.end.tolist() == [50, 10]


def test_boxes_that_only_tell_how_far_a_shape_reaches_are_no_shapes(read):
    """An office program writes one before each shape: read as panels, they hid the panels."""
    box = '<rect class="BoundingBox" stroke="none" fill="none" x="9" width="42" height="30"/>'
    found = read(f'<g>{box}<path d="{LINE}"/></g>' * 3)
    assert len(found.shapes) == 3
    (left,) = found.left_out
    assert left.reason == "rectangles that are not painted (3 elements)"
    assert len(read(box.replace('stroke="none"', 'stroke="red"')).shapes) == 1
