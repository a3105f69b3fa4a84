import math

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.errors import SvgError
from panelshift.sources.affine import Affine

C, S = math.cos(math.radians(30)), math.sin(math.radians(30))
T = math.tan(math.radians(20))

ATTRIBUTES = [
    ("matrix(1 2 3 4 5 6)", [[1, 3, 5], [2, 4, 6]]),
    ("matrix(1,2,3,4,5,6)", [[1, 3, 5], [2, 4, 6]]),
    ("translate(3)", [[1, 0, 3], [0, 1, 0]]),
    ("translate(3 4)", [[1, 0, 3], [0, 1, 4]]),
    ("translate(3-4)", [[1, 0, 3], [0, 1, -4]]),
    ("scale(2)", [[2, 0, 0], [0, 2, 0]]),
    ("scale(2 , -3)", [[2, 0, 0], [0, -3, 0]]),
    ("rotate(30)", [[C, -S, 0], [S, C, 0]]),
    ("rotate(90)", [[0, -1, 0], [1, 0, 0]]),
    ("rotate(-450)", [[0, 1, 0], [-1, 0, 0]]),
    ("rotate(90 10 20)", [[0, -1, 30], [1, 0, 10]]),
    ("rotate(30,10,20)", [[C, -S, 10 - 10 * C + 20 * S], [S, C, 20 - 10 * S - 20 * C]]),
    ("skewX(20)", [[1, T, 0], [0, 1, 0]]),
    ("skewY(20)", [[1, 0, 0], [T, 1, 0]]),
    # The rightmost applies first: 3 * (x + 1) + 5 against 3 x + 5 + 1.
    ("translate(5) scale(3) translate(1)", [[3, 0, 8], [0, 3, 0]]),
    ("translate(1)translate(5),scale(3)", [[3, 0, 6], [0, 3, 0]]),
    (" \n translate ( 1e1 , .5 ) , rotate(180) ", [[-1, 0, 10], [0, -1, 0.5]]),
    ("", [[1, 0, 0], [0, 1, 0]]),
    ("none", [[1, 0, 0], [0, 1, 0]]),
]


def matrix_of(read, attributes, before=""):
    """Where (0, 0), (1, 0) and (0, 1) are taken, as a matrix of shape (2, 3)."""
    drawing = read(f'{before}<polyline {attributes} points="0 0 1 0 0 1"/>')
    origin, x, y = drawing.shapes[0].curve.vertices
    return np.array([x - origin, y - origin, origin]).T


@pytest.mark.parametrize(("text", "matrix"), ATTRIBUTES)
def test_transform_attribute(read, text, matrix):
    assert matrix_of(read, f'transform="{text}"') == pytest.approx(np.array(matrix), abs=1e-12)


def test_quarter_turns_are_exact(read):
    assert matrix_of(read, 'transform="rotate(90)"').tolist() == [[0, -1, 0], [1, 0, 0]]


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("rotate(45deg)", r"the list of rotate\(\) cannot be read at character 3: 'deg'"),
        ("translate(10px, 5px)", "cannot be read at character 3: 'px, 5px'"),
        ("scale(2", "cannot be read at character 1: 'scale"),
        ("scale 2", "cannot be read at character 1"),
        ("scale(2) x", "cannot be read at character 9: ' x'"),
        ("scale(2),,scale(3)", "cannot be read at character 9: ',,scale"),
        (",scale(2)", "cannot be read at character 1: ',scale"),
        ("scale(2,,3)", r"the list of scale\(\) cannot be read at character 2: ',,3'"),
        ("scale(,3)", "cannot be read at character 1: ',3'"),
        ("scale()", r"scale\(\) with 0 numbers is not known"),
        ("scale(1 2 3)", r"scale\(\) with 3 numbers is not known"),
        ("rotate(1 2)", r"rotate\(\) with 2 numbers"),
        ("matrix(1 2 3 4 5)", r"matrix\(\) with 5 numbers"),
        ("skew(3)", r"skew\(\) with 1 numbers"),
        ("Rotate(3)", r"Rotate\(\) with 1 numbers"),
        ("scale(NaN)", "cannot be read at character 1: 'NaN'"),
        ("scale(1e999)", "1e999 is too large"),
    ],
)
def test_transform_attributes_that_cannot_be_read(read, text, problem):
    with pytest.raises(SvgError, match=problem) as caught:
        read(f'<g id="panel" transform="{text}"><line x2="3"/></g>')
    assert (caught.value.source, caught.value.element) == ("drawing.svg", "panel")


@pytest.mark.parametrize(
    ("text", "matrix"),
    [
        ("translate(1in, 50%)", [[1, 0, 96], [0, 1, 50]]),
        ("translate(10%)", [[1, 0, 10], [0, 1, 0]]),
        ("translateX(2px) translateY(3px)", [[1, 0, 2], [0, 1, 3]]),
        ("TRANSLATEX(0)", [[1, 0, 0], [0, 1, 0]]),
        ("scale(50%)", [[0.5, 0, 0], [0, 0.5, 0]]),
        ("scale(2, 3)", [[2, 0, 0], [0, 3, 0]]),
        ("scaleX(2) scaleY(-1)", [[2, 0, 0], [0, -1, 0]]),
        ("rotate(30deg)", [[C, -S, 0], [S, C, 0]]),
        ("rotate(0.25turn)", [[0, -1, 0], [1, 0, 0]]),
        ("rotate(100grad)", [[0, -1, 0], [1, 0, 0]]),
        (f"rotate({math.pi / 6!r}rad)", [[C, -S, 0], [S, C, 0]]),
        ("rotate(0)", [[1, 0, 0], [0, 1, 0]]),
        ("skew(20deg)", [[1, T, 0], [0, 1, 0]]),
        ("skew(20deg, 20deg)", [[1, T, 0], [T, 1, 0]]),
        ("skewX(20deg)", [[1, T, 0], [0, 1, 0]]),
        ("skewY(20deg)", [[1, 0, 0], [T, 1, 0]]),
        ("matrix(1, 2, 3, 4, 5, 6)", [[1, 3, 5], [2, 4, 6]]),
        ("translateX(5px) scale(3) translateX(1px)", [[3, 0, 8], [0, 3, 0]]),
        ("none", [[1, 0, 0], [0, 1, 0]]),
        ("initial", [[1, 0, 0], [0, 1, 0]]),
    ],
)
def test_css_transform_beats_the_attribute(read, text, matrix):
    found = matrix_of(read, f'transform="scale(7)" style="transform: {text}"')
    assert found == pytest.approx(np.array(matrix), abs=1e-12)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("rotate(45)", "'45' is not an angle"),
        ("rotate(1px)", "'1px' is not an angle"),
        ("translate(10, 5)", "the style transform: 10 has no unit"),
        ("translate(1px 2px)", "needs values separated by commas"),
        ("translate()", "needs values separated by commas"),
        ("scale(1px)", "'1px' is not a bare number"),
        ("scale(1, 2, 3)", r"scale\(\) with 3 values is not known"),
        ("translate3d(1px, 2px, 3px)", r"translate3d\(\) is not known here"),
        ("perspective(3px)", r"perspective\(\) is not known here"),
        ("var(--x)", r"var\(\) is not known here"),
        ("inherit", "'inherit' is not a function"),
        ("rotate(1e999deg)", "too large"),
    ],
)
def test_css_transforms_that_cannot_be_read(read, text, problem):
    with pytest.raises(SvgError, match=problem) as caught:
        read(f'<line id="a" style="transform: {text}" x2="3"/>')
    assert caught.value.element == "a"


@pytest.mark.parametrize(
    ("origin", "x", "y"),
    [
        ("10px 20px", 10, 20),
        ("10px", 10, 50),
        ("left", 0, 50),
        ("top", 50, 0),
        ("bottom right", 100, 100),
        ("right bottom 0px", 100, 100),
        ("center", 50, 50),
        ("top 10px", None, None),
        ("10% top", 10, 0),
        ("0 0", 0, 0),
        ("initial", 0, 0),
    ],
)
def test_transform_origin(read, origin, x, y):
    style = f'style="transform: rotate(90deg); transform-origin: {origin}"'
    if x is None:
        # A side name before a length names the wrong axis: CSS refuses it, and so do we.
        with pytest.raises(SvgError, match="transform-origin: top 10px cannot be read"):
            matrix_of(read, style)
        return
    # (px, py) turns about (x, y) to (x + y - py, y - x + px).
    expected = np.array([[0, -1, x + y], [1, 0, y - x]])
    assert matrix_of(read, style) == pytest.approx(expected)


def test_transform_origin_as_attribute_serves_both_kinds(read):
    expected = np.array([[0, -1, 30], [1, 0, 10]])
    for how in ('transform="rotate(90)"', 'style="transform: rotate(90deg)"'):
        assert matrix_of(read, f'transform-origin="10 20" {how}') == pytest.approx(expected)


@pytest.mark.parametrize(
    ("origin", "problem"),
    [
        ("1px 2px 3px", "transform-origin: 1px 2px 3px cannot be read"),
        ("left right", "cannot be read"),
        ("top bottom", "cannot be read"),
        ("10 20", "the style transform-origin: 10 has no unit"),
        ("nowhere", 'transform-origin="nowhere" is not a length'),
    ],
)
def test_transform_origins_that_cannot_be_read(read, origin, problem):
    with pytest.raises(SvgError, match=problem):
        read(f'<line style="transform: scale(2); transform-origin: {origin}" x2="3"/>')


def test_boxes_that_are_not_worked_out_are_refused(read):
    box = "transform-box: fill-box"
    with pytest.raises(SvgError, match="refers to transform-box: fill-box"):
        read(f'<line style="{box}; transform: scale(2); transform-origin: 50% 50%" x2="3"/>')
    with pytest.raises(SvgError, match="refers to transform-box: fill-box"):
        read(f'<line style="{box}; transform: translate(50%)" x2="3"/>')
    # Without an origin the transform turns about the box's corner, not the page's.
    with pytest.raises(SvgError, match="refers to transform-box: fill-box"):
        read(f'<line style="{box}; transform: scale(2)" x2="3"/>')
    shift = f'style="{box}; transform: translate(2px, 3px)"'
    assert matrix_of(read, shift).tolist() == [[1, 0, 2], [0, 1, 3]]


@pytest.mark.parametrize(
    "declaration", ["translate: 3px", "rotate: 45deg", "scale: 2", "zoom: 2", "offset-path: none x"]
)
def test_other_properties_that_move_elements_are_refused(read, declaration):
    with pytest.raises(SvgError, match=f"the style {declaration} moves the element"):
        read(f'<line style="{declaration}" x2="3"/>')


def test_properties_that_could_move_but_do_not(read):
    style = "rotate: none; scale: 1; translate: none; zoom: 100%; offset-path: none"
    assert matrix_of(read, f'style="{style}"').tolist() == [[1, 0, 0], [0, 1, 0]]


def test_groups_compose_from_the_outside(read):
    body = '<g transform="translate(10 0)"><g transform="scale(2)"><line x1="1" x2="3"/></g></g>'
    assert read(body).shapes[0].curve.vertices.tolist() == [[12.0, 0.0], [16.0, 0.0]]


def test_a_flattening_transform_draws_nothing(read):
    drawing = read('<g transform="scale(1 0)"><line id="a" x2="3"/><text id="b">x</text></g>')
    reason = "its transforms flatten it to nothing"
    assert [(left.ident, left.reason) for left in drawing.left_out] == [
        ("a", reason),
        ("b", reason),
    ]


def test_transforms_that_overflow(read):
    groups = '<g transform="scale(1e12)">' * 30
    with pytest.raises(SvgError, match="its transforms multiply up"):
        read(groups + '<line x2="3"/>' + "</g>" * 30)


NUMBERS = st.floats(-50, 50).map(lambda value: round(value, 3))


@given(
    st.lists(
        st.one_of(
            st.tuples(st.just("translate"), NUMBERS, NUMBERS),
            st.tuples(st.just("scale"), NUMBERS.filter(bool), NUMBERS.filter(bool)),
            st.tuples(st.just("rotate"), NUMBERS),
            st.tuples(st.just("skewX"), NUMBERS),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_lists_equal_nested_groups(read, functions):
    texts = [f"{name}({' '.join(map(repr, numbers))})" for name, *numbers in functions]
    points = '<polyline points="1 0 0 1 2 2"/>'
    listed = read(f'<g transform="{" ".join(texts)}">{points}</g>', HUGE)
    nested = read(
        "".join(f'<g transform="{text}">' for text in texts) + points + "</g>" * len(texts), HUGE
    )
    for one, other in zip(listed.shapes, nested.shapes, strict=True):
        assert one.curve.control == pytest.approx(other.curve.control, rel=1e-9, abs=1e-12)


HUGE = 'width="1mm" height="1mm" viewBox="0 0 10000 10000"'


@given(st.tuples(*[NUMBERS] * 4))
def test_stretch_is_the_largest_singular_value(numbers):
    a, b, c, d = numbers
    transform = Affine(a, b, c, d, 7.0, 8.0)
    linear = np.array([[a, c], [b, d]])
    assert transform.stretch == pytest.approx(np.linalg.norm(linear, 2), abs=1e-9)
    assert transform.determinant == pytest.approx(np.linalg.det(linear), abs=1e-9)
