import numpy as np
import pytest

from panelshift.errors import SvgError
from panelshift.sources.svg import read_svg
from tests.support.drawings import group, path, svg, text


def end_mm(drawing, index=0):
    return drawing.shapes[index].curve.end.tolist()


@pytest.mark.parametrize(
    ("length", "mm"),
    [
        ("1in", 25.4),
        ("96px", 25.4),
        ("96", 25.4),
        ("72pt", 25.4),
        ("6pc", 25.4),
        ("2.54cm", 25.4),
        ("25.4mm", 25.4),
        ("101.6Q", 25.4),
        ("101.6q", 25.4),
        ("25.4MM", 25.4),
        ("+9.6e1", 25.4),
        ("6em", 25.4),
    ],
)
def test_units_of_css_values_section_6_2(read, length, mm):
    drawing = read(f'<line x2="{length}"/>', 'width="50mm" height="50mm"')
    assert end_mm(drawing) == pytest.approx([mm, 0.0], rel=1e-14)


def test_percentages_refer_to_width_height_and_diagonal(read):
    root = 'width="300mm" height="400mm" viewBox="0 0 30 40"'
    assert end_mm(read('<line x2="50%" y2="25%"/>', root)) == pytest.approx([150.0, 100.0])
    circle = read('<circle r="10%"/>', root).shapes[0].curve
    # The diagonal of 30 x 40 is 50; 10 % of 50 / sqrt 2 units of 10 mm.
    assert circle.start == pytest.approx([50.0 / np.sqrt(2.0), 0.0])


def test_em_refers_to_the_inherited_font_size(read):
    body = (
        '<g font-size="10"><line x2="2em"/><g style="font-size:150%"><line x2="2em"/>'
        '<line font-size="2em" x2="1em"/></g></g>'
        '<g style="font: italic bold 5px/2 serif"><line x2="1em"/></g>'
        '<g font-size="x-large"><line x2="1em"/></g><g font-size="larger"><line x2="1em"/></g>'
    )
    ends = [shape.curve.end[0] for shape in read(body).shapes]
    assert ends == pytest.approx([20.0, 30.0, 30.0, 5.0, 24.0, 19.2])


@pytest.mark.parametrize(
    ("attribute", "problem"),
    [
        ('x2="5vw"', 'x2="5vw" has a unit that is not read here'),
        ('x2="5rem"', 'x2="5rem" has a unit that is not read here'),
        ('x2="5ex"', "has a unit that is not read"),
        ('x2="5furlong"', "has a unit that is not read"),
        ('x2=""', 'x2="" is not a length'),
        ('x2="five"', 'x2="five" is not a length'),
        ('x2="1,5"', 'x2="1,5" is not a length'),
        ('x2="calc(1px + 2px)"', "is not a length"),
        ('x2="5 mm"', 'x2="5 mm" has a space between number and unit'),
        ('font-size="2rem"', 'font-size="2rem" has a unit'),
        ('font-size="-2px"', 'font-size="-2px" is negative'),
    ],
)
def test_lengths_that_cannot_be_read(read, attribute, problem):
    with pytest.raises(SvgError, match=problem) as caught:
        read(f'<line id="w" {attribute}/>')
    assert (caught.value.source, caught.value.element) == ("drawing.svg", "w")


def test_percentage_of_an_unknown_page(read):
    with pytest.raises(SvgError, match='x2="50%" is a share of a page whose size is not stated'):
        read('<line x2="50%"/>', "")
    with pytest.raises(SvgError, match='r="50%" is a share of a page'):
        read('<circle r="50%"/>', 'width="5mm"')


# -- the outermost svg --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("root", "mm_per_unit"),
    [
        ('width="210mm" height="297mm" viewBox="0 0 210 297"', 1.0),
        ('width="210mm" height="297mm" viewBox="0 0 2100 2970"', 0.1),
        ('width="10in" height="5in" viewBox="0 0 720 360"', 25.4 / 72.0),
        ('width="960" height="960" viewBox="0 0 10 10"', 25.4),
        ('width="10in" height="10in"', 25.4 / 96.0),
        ('style="width: 30mm; height: 30mm" width="1" height="1" viewBox="0,0,10,10"', 3.0),
    ],
)
def test_scale_of_the_page(read, root, mm_per_unit):
    drawing = read('<line x2="2" y2="3"/>', root)
    assert end_mm(drawing) == pytest.approx([2 * mm_per_unit, 3 * mm_per_unit], rel=1e-14)
    assert drawing.warnings == ()


@pytest.mark.parametrize("sizes", ["", 'width="100%" height="100%"', 'width="auto"'])
def test_an_unstated_scale_is_one_px_with_a_warning(read, sizes):
    drawing = read('<line x2="96"/>', f'id="page" {sizes} viewBox="-10 0 500 500"')
    assert end_mm(drawing) == pytest.approx([(96 + 10) * 25.4 / 96, 0.0])
    (warning,) = drawing.warnings
    assert '<svg id="page"> has ' in warning
    assert (sizes.split()[0] if sizes else "no width and no height") in warning
    assert 'viewBox="-10 0 500 500" is taken as 1 px = 0.2646 mm' in warning


def test_no_size_at_all_is_one_px_with_a_warning(read):
    drawing = read('<line x2="96"/>', "")
    assert end_mm(drawing) == pytest.approx([25.4, 0.0])
    assert drawing.warnings == (
        "<svg> has no width and no height and no viewBox, so its scale is not stated: one unit "
        "is taken as 1 px = 0.2646 mm",
    )


@pytest.mark.parametrize(
    ("sizes", "scale"), [('width="50mm"', 0.5), ('height="50mm" width="100%"', 0.25)]
)
def test_one_stated_size_scales_the_other(read, sizes, scale):
    drawing = read('<line x2="100" y2="200"/>', f'{sizes} viewBox="0 0 100 200"')
    assert end_mm(drawing) == pytest.approx([100 * scale, 200 * scale])
    assert f"is taken as {scale} mm, as {sizes.split()[0]} says" in drawing.warnings[0]


@pytest.mark.parametrize(
    ("root", "problem"),
    [
        ('width="0" height="5mm"', 'width="0" leaves no page'),
        ('width="-3mm" height="5mm"', 'width="-3mm" leaves no page'),
        ('width="5mm" height="0%"', 'height="0%" leaves no page'),
        ('width="5em" height="5mm"', 'width="5em" of the outermost <svg> is not an absolute'),
        ('width="wide"', 'width="wide" is not a length'),
        ('width="210 mm"', "space between number and unit"),
        ('style="width: 210"', "the style width: 210 has no unit"),
        ('style="width: inherit"', "the style width: inherit is not followed"),
        ('viewBox="0 0 0 10"', 'viewBox="0 0 0 10" is not four numbers with width and height'),
        ('viewBox="0 0 10 -10"', 'viewBox="0 0 10 -10" is not four'),
        ('viewBox="0 0 10"', 'viewBox="0 0 10" is not four'),
        ('viewBox="0 0 NaN 10"', 'viewBox="0 0 NaN 10" cannot be read at character 4: \' NaN'),
        ('viewBox="0 0,,10 10"', "cannot be read at character 4"),
        ('viewBox="0 0 1e999 10"', "1e999 is too large"),
        ('transform="scale(2)"', "the outermost <svg> has a transform"),
        ('viewBox="0 0 1 1" preserveAspectRatio="middle"', 'preserveAspectRatio="middle" is none'),
        ('preserveAspectRatio="xMidYMid meet slice"', "is none of the known forms"),
        ('preserveAspectRatio="xMidYMid fill"', "is none of the known forms"),
        ('preserveAspectRatio=""', "is none of the known forms"),
    ],
)
def test_pages_that_make_no_sense(read, root, problem):
    with pytest.raises(SvgError, match=problem) as caught:
        read("", f'id="page" {root}')
    assert (caught.value.source, caught.value.element) == ("drawing.svg", "page")


@pytest.mark.parametrize(("fit", "mm"), [("xMidYMid", 9.9), ("xMidYMid slice", 10)])
def test_a_page_of_another_shape_than_its_viewbox_is_warned_about(read, fit, mm):
    root = f'width="100mm" height="99mm" viewBox="0 0 10 10" preserveAspectRatio="{fit}"'
    (words,) = read('<line x2="10"/>', root).warnings
    assert "its width makes one unit" in words
    assert f"10 mm, its height 9.9 mm; {mm} mm are taken" in words
    rounded = 'width="794px" height="1123px" viewBox="0 0 210 297"'
    assert read("", rounded).warnings == ()


def test_stretching_is_warned_about(read):
    root = 'width="100mm" height="30mm" viewBox="0 0 10 10" preserveAspectRatio="none"'
    drawing = read('<line x2="10" y2="10"/>', root)
    assert end_mm(drawing) == pytest.approx([100.0, 30.0])
    assert "stretches the drawing: one unit" in drawing.warnings[0]
    assert "10 mm across and 3 mm down" in drawing.warnings[0]
    even = 'width="100mm" height="100mm" viewBox="0 0 10 10" preserveAspectRatio="none"'
    assert read("", even).warnings == ()


# viewBox 0 0 10 20: wide is a 100 x 40 viewport (meet 2, slice 10), tall 30 x 120 (meet 3,
# slice 6); where the corner (0, 0) comes to lie is worked out by hand.
WIDE_MEET = {"xMin": 0.0, "xMid": 40.0, "xMax": 80.0}
WIDE_SLICE = {"YMin": 0.0, "YMid": -80.0, "YMax": -160.0}
TALL_MEET = {"YMin": 0.0, "YMid": 30.0, "YMax": 60.0}
TALL_SLICE = {"xMin": 0.0, "xMid": -15.0, "xMax": -30.0}


@pytest.mark.parametrize("x", ["xMin", "xMid", "xMax"])
@pytest.mark.parametrize("y", ["YMin", "YMid", "YMax"])
def test_each_alignment(read, x, y):
    def corner(size, fit):
        width, height = size
        body = (
            f'<svg width="{width}" height="{height}" viewBox="0 0 10 20" '
            f'preserveAspectRatio="{x}{y} {fit}"><line x2="1" y2="1"/></svg>'
        )
        curve = read(body).shapes[0].curve
        return [*curve.start, *(curve.end - curve.start)]

    assert corner((100, 40), "meet") == pytest.approx([WIDE_MEET[x], 0, 2, 2])
    assert corner((100, 40), "slice") == pytest.approx([0, WIDE_SLICE[y], 10, 10])
    assert corner((30, 120), "meet") == pytest.approx([0, TALL_MEET[y], 3, 3])
    assert corner((30, 120), "slice") == pytest.approx([TALL_SLICE[x], 0, 6, 6])


def test_default_alignment_and_the_old_defer(read):
    for aspect in ("", 'preserveAspectRatio="defer xMidYMid meet"'):
        body = f'<svg width="100" height="40" viewBox="0 0 10 20" {aspect}><line x2="1"/></svg>'
        assert read(body).shapes[0].curve.start == pytest.approx([40.0, 0.0])


def test_viewbox_origin_and_page_alignment(read):
    root = 'width="100mm" height="40mm" viewBox="-5 5 10 20"'
    # Scale 2; the box's corner (-5, 5) lies at (40, 0) mm.
    drawing = read('<line x1="-5" y1="5" x2="0" y2="6"/>', root)
    assert drawing.shapes[0].curve.vertices == pytest.approx(np.array([[40, 0], [50, 2]]))


def test_nested_svg(read):
    body = (
        '<svg x="10" y="20" width="50%" height="40" viewBox="5 5 10 10">'
        '<line x1="50%" y1="10" x2="15" y2="15"/></svg>'
    )
    # A 50 x 40 viewport shows 10 x 10 at scale 4, centred: 5 mm spare on the left.
    curve = read(body).shapes[0].curve
    assert curve.vertices == pytest.approx(np.array([[15.0, 40.0], [55.0, 60.0]]))


def test_nested_svg_without_viewbox_or_size(read):
    body = '<svg x="1" y="2" transform="scale(2)"><line x2="50%"/></svg>'
    assert read(body).shapes[0].curve.vertices == pytest.approx(np.array([[2, 4], [102, 4]]))


def test_nested_svg_of_an_unknown_page(read):
    assert read('<svg><line x2="96"/></svg>', "").shapes[0].curve.end[0] == pytest.approx(25.4)
    with pytest.raises(SvgError, match="it fills a page whose size is not stated"):
        read('<svg viewBox="0 0 1 1"><line x2="96"/></svg>', "")


@pytest.mark.parametrize(("size", "word"), [("0", "0"), ("-3", "negative")])
def test_nested_svg_of_no_size(read, size, word):
    (left,) = read(f'<svg id="in" width="{size}"><line x2="5"/></svg>').left_out
    assert (left.ident, left.reason) == ("in", f"its width is {word}")


def test_nested_viewbox_of_no_size(read):
    with pytest.raises(SvgError, match='viewBox="0 0 0 5" is not four') as caught:
        read('<svg id="in" viewBox="0 0 0 5"/>')
    assert caught.value.element == "in"


def test_what_was_pulled_by_a_handle_at_its_side_is_told() -> None:
    ring = path("M0 0h60v200h-60z", "{}")
    lines = [
        ring.format("even"),
        group(ring.format("pulled") + text("front", 10, 20, "words"), "front", PULLED),
        group(ring.format("turned"), "back", 'transform="rotate(30) scale(1.4 -1.4)"'),
        group(ring.format("also"), "side", 'transform="scale(0.9 1) rotate(30)"'),
        path("M0 0h60v200h-60z", "skewed", 'transform="skewX(20)"'),
        # A notch's round hole, and rounding.
        path("M0 0h3v3h-3z", "hole", PULLED),
        path("M0 0h60v200h-60z", "rounded", 'transform="matrix(0.9999 0 0 1.0001 0 0)"'),
    ]
    (told,) = read_svg(svg("".join(lines)).encode()).warnings
    assert told.startswith("drawn 5.0% smaller in one direction than in the other, as its trans")
    assert told.split("says: ")[1].split(";")[0] == "words, pulled, also"


PULLED = 'transform="matrix(0.95 0 0 1 100 50)"'


def test_a_page_that_is_stretched_is_told_once() -> None:
    root = 'width="900mm" height="1000mm" viewBox="0 0 1000 1000" preserveAspectRatio="none"'
    (told,) = read_svg(svg(path("M0 0h60v200h-60z"), root=root).encode()).warnings
    assert "stretches the drawing" in told
