import math

import numpy as np
import pytest

from panelshift.errors import SvgError
from panelshift.outline.measure import length, turning


def only(read, body):
    drawing = read(body)
    assert drawing.left_out == ()
    (shape,) = drawing.shapes
    return shape.curve


def reason(read, body):
    drawing = read(body)
    assert drawing.shapes == ()
    (left,) = drawing.left_out
    assert left.ident == "a"
    return left.reason


def test_line(read):
    curve = only(read, '<line x1="1" y1="2" x2="3mm" y2="10%"/>')
    assert curve.vertices == pytest.approx(np.array([[1, 2], [3 * 96 / 25.4, 10]]))
    assert curve.degree.tolist() == [1]
    assert not curve.closed


def test_line_defaults_are_zero(read):
    assert only(read, '<line y2="5"/>').vertices.tolist() == [[0, 0], [0, 5]]


def test_line_attributes_are_not_styled(read):
    assert only(read, '<line x2="5" style="x2: 9px"/>').end.tolist() == [5, 0]


def test_polyline_and_polygon(read):
    points = 'points="0,0 10,0 10,10"'
    assert only(read, f"<polyline {points}/>").vertices.tolist() == [[0, 0], [10, 0], [10, 10]]
    polygon = only(read, f"<polygon {points}/>")
    assert polygon.vertices.tolist() == [[0, 0], [10, 0], [10, 10], [0, 0]]
    assert polygon.closed
    assert polygon.degree.tolist() == [1, 1, 1]


def test_polygon_that_repeats_its_start(read):
    assert len(only(read, '<polygon points="0 0 10 0 10 10 0 0"/>')) == 3


def test_repeated_points_are_dropped(read):
    assert len(only(read, '<polyline points=" 0-1,0-1 5 5 5 5 7e0,7.5 "/>')) == 2


@pytest.mark.parametrize(
    ("points", "problem"),
    [
        ("0 0 1", "points holds 3 numbers, so one x has no y"),
        ("0 0 1 1,", "points cannot be read at character 8: ','"),
        (",0 0 1 1", "points cannot be read at character 1: ',0 0 1 1'"),
        ("0 0,,1 1", "points cannot be read at character 4: ',,1 1'"),
        ("0 0 1 1px", "points cannot be read at character 8: 'px'"),
        ("0 0 1 1e999", "1e999 is too large"),
    ],
)
def test_points_that_cannot_be_read(read, points, problem):
    with pytest.raises(SvgError, match=problem) as caught:
        read(f'<polygon id="a" points="{points}"/>')
    assert caught.value.element == "a"


def test_long_faulty_lists_are_refused_quickly(read):
    with pytest.raises(SvgError, match=r"1{60}\.\.\. is too large"):
        read(f'<polygon points="{"1" * 5000}x"/>')
    with pytest.raises(SvgError, match="at character 1"):
        read(f'<polygon points="{" " * 50_000}x"/>')


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ('<line id="a" x1="2" x2="2"/>', "it is only a point"),
        ('<polyline id="a" points="5 5"/>', "it is only a point"),
        ('<polygon id="a" points="5 5 5 5"/>', "it is only a point"),
        ('<polygon id="a" points=" "/>', "it has no points"),
        ('<polygon id="a"/>', "it has no points"),
        ('<rect id="a" width="5"/>', "its height is 0"),
        ('<rect id="a" height="5"/>', "its width is 0"),
        ('<rect id="a" width="-5" height="5"/>', "its width is negative"),
        ('<rect id="a" width="5" height="-5"/>', "its height is negative"),
        ('<circle id="a"/>', "its r is 0"),
        ('<circle id="a" r="-1"/>', "its r is negative"),
        ('<ellipse id="a"/>', "its rx is 0"),
        ('<ellipse id="a" rx="3" ry="0"/>', "its ry is 0"),
        ('<ellipse id="a" rx="-3" ry="2"/>', "its rx is negative"),
    ],
)
def test_what_draws_nothing_is_listed(read, body, why):
    assert reason(read, body) == why


# -- rect ---------------------------------------------------------------------------------


def test_rect(read):
    curve = only(read, '<rect x="1" y="2" width="30" height="20"/>')
    assert curve.vertices.tolist() == [[1, 2], [31, 2], [31, 22], [1, 22], [1, 2]]
    assert curve.degree.tolist() == [1, 1, 1, 1]
    assert curve.closed


def rounded(read, attributes):
    """Radii of the corners, read off where the straight sides begin and end."""
    curve = only(read, f'<rect x="1" y="2" width="30" height="20" {attributes}/>')
    assert curve.closed
    assert turning(curve) == pytest.approx(2 * math.pi)
    low, high = curve.bounds()
    assert low == pytest.approx([1, 2])
    assert high == pytest.approx([31, 22])
    # It starts at (x + rx, y) and comes back to it along the top left corner from (x, y + ry).
    rx = curve.start[0] - 1
    left = curve.vertices[np.abs(curve.vertices[:, 0] - 1) < 1e-9]
    return rx, left[:, 1].min() - 2


@pytest.mark.parametrize(
    ("attributes", "radii"),
    [
        ('rx="5" ry="4"', (5, 4)),
        ('rx="5"', (5, 5)),
        ('ry="4"', (4, 4)),
        ('style="rx: auto" rx="9" ry="4"', (4, 4)),
        ('rx="40" ry="4"', (15, 4)),
        ('rx="12"', (12, 10)),
        ('rx="99" ry="99"', (15, 10)),
        ('rx="10%" ry="5%"', (10, 5)),
        ('style="rx: 5px" rx="7" ry="4"', (5, 4)),
    ],
)
def test_rect_radii(read, attributes, radii):
    assert rounded(read, attributes) == pytest.approx(radii)


@pytest.mark.parametrize("attributes", ['rx="5" ry="0"', 'rx="0" ry="5"', 'rx="0"'])
def test_rect_with_one_radius_of_zero_has_sharp_corners(read, attributes):
    assert len(only(read, f'<rect width="30" height="20" {attributes}/>')) == 4


def test_rounded_rect_length(read):
    curve = only(read, '<rect x="3" width="30" height="20" rx="5"/>')
    # 2 (30 + 20) - 8 * 5 of sides and a circle of radius 5.
    assert length(curve) == pytest.approx(60 + 10 * math.pi, abs=1e-3)
    lines = curve.control[curve.degree == 1]
    assert lines[:, [0, 3]].tolist() == [
        [[8, 0], [28, 0]],
        [[33, 5], [33, 15]],
        [[28, 20], [8, 20]],
        [[3, 15], [3, 5]],
    ]


def test_a_rect_rounded_to_an_ellipse_has_no_sides(read):
    curve = only(read, '<rect x="0.1" y="0.7" width="0.7" height="1.1" rx="1" ry="1"/>')
    assert set(curve.degree) == {3}


def test_a_negative_radius_is_an_error(read):
    with pytest.raises(SvgError, match='rx="-5" is negative'):
        read('<rect width="30" height="20" rx="-5"/>')


# -- circles ------------------------------------------------------------------------------


def test_circle(read):
    curve = only(read, '<circle cx="10" cy="20" r="5"/>')
    quarters = [[15, 20], [10, 25], [5, 20], [10, 15], [15, 20]]
    for point in quarters:
        assert np.hypot(*(curve.vertices - point).T).min() == 0.0
    assert curve.vertices[[0, -1]].tolist() == [[15, 20], [15, 20]]
    assert length(curve) == pytest.approx(10 * math.pi, abs=1e-3)
    assert turning(curve) == pytest.approx(2 * math.pi)


@pytest.mark.parametrize(
    ("attributes", "radii"),
    [
        ('rx="5" ry="3"', (5, 3)),
        ('rx="5"', (5, 5)),
        ('ry="3"', (3, 3)),
        ('style="rx: auto" ry="3"', (3, 3)),
        ('rx="10%" ry="3"', (10, 3)),
    ],
)
def test_ellipse(read, attributes, radii):
    curve = only(read, f'<ellipse cx="10" cy="20" {attributes}/>')
    unit = (curve.points(np.linspace(0, len(curve), 500)) - [10, 20]) / radii
    assert np.hypot(*unit.T) == pytest.approx(np.ones(500), abs=1e-4)
    assert curve.closed


@pytest.mark.parametrize("element", ['rect width="9" height="9" rx="auto"', 'ellipse ry=" auto"'])
def test_an_automatic_radius_is_no_attribute(read, element):
    # SVG 2 makes it the other radius, browsers make it 0.
    with pytest.raises(SvgError, match='="auto" is read differently'):
        read(f"<{element}/>")
