import math

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.errors import SvgError
from panelshift.sources.svg import pathdata

LINE, QUADRATIC, CUBIC = 1, 2, 3


def path(read, d, **extra):
    return read(f'<path id="p" d="{d}"/>', **extra)


def only(read, d):
    (shape,) = path(read, d).shapes
    return shape.curve


def elevated(start, middle, end):
    start, middle, end = map(np.array, (start, middle, end))
    return [start, start + 2 / 3 * (middle - start), end + 2 / 3 * (middle - end), end]


# -- each command by hand -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("d", "vertices"),
    [
        ("M1 2L3 4", [[1, 2], [3, 4]]),
        ("m1 2l3 4", [[1, 2], [4, 6]]),
        ("M1 2 3 4 5 7", [[1, 2], [3, 4], [5, 7]]),
        ("m1 2 3 4 5 7", [[1, 2], [4, 6], [9, 13]]),
        ("M1 2H5V7", [[1, 2], [5, 2], [5, 7]]),
        ("M1 2h5v7", [[1, 2], [6, 2], [6, 9]]),
        ("M1 2l3 4H1V2", [[1, 2], [4, 6], [1, 6], [1, 2]]),
        ("M1 2H5 6 7", [[1, 2], [5, 2], [6, 2], [7, 2]]),
        ("M0 0L1.5.5-3e-2.25", [[0, 0], [1.5, 0.5], [-0.03, 0.25]]),
        ("M0,0L1.e2,5.", [[0, 0], [100, 5]]),
        ("\n M 0\t0 , 1 ,2 \r\n", [[0, 0], [1, 2]]),
        ("M+1-1L-2+2", [[1, -1], [-2, 2]]),
    ],
)
def test_lines(read, d, vertices):
    curve = only(read, d)
    assert curve.vertices == pytest.approx(np.array(vertices, dtype=float))
    assert set(curve.degree) == {LINE}
    assert not curve.closed


def test_cubics_and_quadratics_keep_their_kind(read):
    curve = only(read, "M0 0C1 2 3 4 5 6Q7 8 9 0L3 3c1 1 2 2 3 0q1 1 2 0")
    assert curve.degree.tolist() == [CUBIC, QUADRATIC, LINE, CUBIC, QUADRATIC]
    assert curve.control[0].tolist() == [[0, 0], [1, 2], [3, 4], [5, 6]]
    assert curve.control[1] == pytest.approx(np.array(elevated((5, 6), (7, 8), (9, 0))))
    assert curve.control[3].tolist() == [[3, 3], [4, 4], [5, 5], [6, 3]]
    assert curve.control[4] == pytest.approx(np.array(elevated((6, 3), (7, 4), (8, 3))))


@pytest.mark.parametrize("before", ["L9 9 5 5", "Q1 9 5 5", "A9 9 0 0 1 5 5", "M5 5", "H5V5"])
def test_smooth_cubic_after_another_kind_starts_at_its_point(read, before):
    curve = only(read, f"M0 5{before}S7 8 9 5")
    assert curve.control[-1].tolist() == [[5, 5], [5, 5], [7, 8], [9, 5]]


def test_smooth_cubic_after_a_cubic_reflects(read):
    curve = only(read, "M0 0C0 1 4 3 5 5S7 8 9 5s1 -1 1 0")
    assert curve.control[1].tolist() == [[5, 5], [6, 7], [7, 8], [9, 5]]
    assert curve.control[2].tolist() == [[9, 5], [11, 2], [10, 4], [10, 5]]


@pytest.mark.parametrize("before", ["L9 9 5 5", "C1 9 3 2 5 5", "A9 9 0 0 1 5 5", "M5 5"])
def test_smooth_quadratic_after_another_kind_is_straight(read, before):
    curve = only(read, f"M0 5{before}T9 5")
    assert curve.degree[-1] == QUADRATIC
    assert curve.control[-1] == pytest.approx(np.array(elevated((5, 5), (5, 5), (9, 5))))


def test_smooth_quadratic_after_a_quadratic_reflects(read):
    curve = only(read, "M0 0Q1 3 2 0T4 0t2 0")
    assert curve.control[1] == pytest.approx(np.array(elevated((2, 0), (3, -3), (4, 0))))
    assert curve.control[2] == pytest.approx(np.array(elevated((4, 0), (5, 3), (6, 0))))


@pytest.mark.parametrize("arc", ["A5 5 0 0 1 5 5", "a0 5 0 0 1 0 0"])
def test_an_arc_of_no_length_still_ends_a_run_of_cubics(read, arc):
    curve = only(read, f"M0 0C0 1 4 3 5 5{arc}S7 8 9 5")
    assert curve.control[1].tolist() == [[5, 5], [5, 5], [7, 8], [9, 5]]


# -- subpaths -----------------------------------------------------------------------------


def test_subpaths_become_shapes(read):
    drawing = path(read, "M0 0L1 0 1 1zM5 5L6 6m1 1l2 0")
    assert [shape.ident for shape in drawing.shapes] == ["p~1", "p~2", "p~3"]
    assert [shape.curve.closed for shape in drawing.shapes] == [True, False, False]
    assert drawing.shapes[0].curve.vertices.tolist() == [[0, 0], [1, 0], [1, 1], [0, 0]]
    # A relative m counts from the point before it.
    assert drawing.shapes[2].curve.vertices.tolist() == [[7, 7], [9, 7]]


def test_a_single_subpath_keeps_the_id(read):
    assert path(read, "M0 0L1 0 1 1z").shapes[0].ident == "p"


def test_after_a_closepath_the_pen_is_at_the_start(read):
    drawing = path(read, "M1 2L5 2 5 5zl0 9m1 1h3")
    assert [shape.curve.vertices.tolist() for shape in drawing.shapes] == [
        [[1, 2], [5, 2], [5, 5], [1, 2]],
        [[1, 2], [1, 11]],
        [[2, 12], [5, 12]],
    ]
    relative = path(read, "M1 2L5 2 5 5zm1 1h3")
    assert relative.shapes[1].curve.vertices.tolist() == [[2, 3], [5, 3]]


def test_closing(read):
    gap = only(read, "M0 0H10V10Z")
    assert len(gap) == 3
    assert gap.closed
    assert gap.degree.tolist() == [LINE] * 3
    shut = only(read, "M0 0H10V10L0 0Z")
    assert len(shut) == 3
    assert shut.closed
    curved = only(read, "M0 0H10C10 9 1 9 0 0z")
    assert curved.degree.tolist() == [LINE, CUBIC]
    assert not only(read, "M0 0H10V10L0 0").closed


@pytest.mark.parametrize("last", ["L0 5e-7", "C10 9 1 9 0 5e-7"])
def test_a_gap_of_rounding_is_snapped_shut(read, last):
    curve = only(read, f"M0 0H10V10{last}z")
    assert len(curve) == 3
    assert curve.end.tolist() == [0.0, 0.0]
    if last.startswith("L"):
        # The handles of a line stay on it.
        third = curve.control[-1, 0] * 2 / 3
        assert curve.control[-1, 1] == pytest.approx(third, rel=1e-15)


def test_a_gap_that_can_be_seen_is_closed_by_a_line(read):
    curve = only(read, "M0 0H10V10L0 2e-6z")
    assert len(curve) == 4
    assert curve.control[-1, 0].tolist() == [0.0, 2e-6]


def test_the_gap_is_measured_in_mm(read):
    far = '<path id="p" transform="scale(1e-4)" d="M0 0H10000V10000L0 0.009z"/>'
    assert len(read(far).shapes[0].curve) == 3
    near = '<path id="p" transform="scale(1e3)" d="M0 0H.01V.01L0 9e-9z"/>'
    assert len(read(near).shapes[0].curve) == 4


def test_segments_of_no_length_are_dropped(read):
    curve = only(read, "M.1 .7l0 0H5h0C5 .7 5 .7 5 .7q0 0 0 0A3 3 0 0 0 5 .7L9 9L9 9z")
    assert curve.vertices.tolist() == [[0.1, 0.7], [5, 0.7], [9, 9], [0.1, 0.7]]


def test_a_loop_that_returns_is_not_dropped(read):
    assert only(read, "M5 5C9 0 9 9 5 5").degree.tolist() == [CUBIC]


@pytest.mark.parametrize("d", ["M5 5", "M5 5z", "M5 5L5 5", "m5 5l0 0z", "M5 5A0 0 0 0 0 5 5"])
def test_a_path_that_is_a_point(read, d):
    drawing = path(read, d)
    assert drawing.shapes == ()
    assert [(left.ident, left.reason) for left in drawing.left_out] == [("p", "it is only a point")]


def test_a_part_of_a_path_that_is_a_point(read):
    drawing = path(read, "M5 5M0 0L1 0 1 1zM7 7")
    assert [shape.ident for shape in drawing.shapes] == ["p"]
    assert [(left.ident, left.reason) for left in drawing.left_out] == [
        ("p", "part 1 of its path is only a point"),
        ("p", "part 3 of its path is only a point"),
    ]


@pytest.mark.parametrize("attribute", ["", 'd=""', 'd=" "', 'd="none"', 'style="d: none"'])
def test_a_path_without_data(read, attribute):
    (left,) = read(f'<path id="p" {attribute}/>').left_out
    assert (left.ident, left.reason) == ("p", "it has no path data")


# -- faults -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("d", "problem"),
    [
        ("L1 2", "at character 1: expected M as the first command, found 'L1 2'"),
        ("1 2", "at character 1: expected a command letter, found '1 2'"),
        ("M1 2X3 4", "at character 5: expected a command letter, found 'X3 4'"),
        ("M1 2L3", "at character 7: expected a number (L takes 2), found the end"),
        ("M1 2L3 4 5", "at character 11: expected a number (L takes 2), found the end"),
        ("M1 2L", "at character 6: expected a number (L takes 2), found the end"),
        ("M", "at character 2: expected a number (M takes 2), found the end"),
        ("M1 2C1 2 3 4 5", "at character 15: expected a number (C takes 6), found the end"),
        ("M1 2L3 4,", "at character 10: expected a number after the comma, found the end"),
        ("M1 2,L3 4", "at character 6: expected a number after the comma, found 'L3 4'"),
        ("M,1 2", "at character 2: expected a number (M takes 2), found ',1 2'"),
        ("M1,,2", "at character 4: expected a number (M takes 2), found ',2'"),
        ("M1 2z3 4", "at character 6: expected a command letter, found '3 4'"),
        ("M1 2 NaN", "at character 6: expected a command letter, found 'NaN'"),
        ("M1 2L3 4e", "at character 9: expected a command letter, found 'e'"),
        ("M1 2L3 .", "at character 8: expected a number (L takes 2), found '.'"),
        ("M1 2L3 -", "at character 8: expected a number (L takes 2), found '-'"),
        ("M1 2L٣ 4", "at character 6: expected a number (L takes 2), found '٣ 4'"),
        ("M1 2\u00a0L3 4", "at character 5: expected a command letter"),
        ("M0 0A5 5 0 2 1 9 9", "at character 12: expected a flag, 0 or 1, (A takes 7), found"),
        ("M0 0A5 5 0 1 1 9", "at character 17: expected a number (A takes 7), found the end"),
        ("M0 0A5 5 0 1", "expected a flag, 0 or 1, (A takes 7), found the end"),
        ("M0 0L1e400 3", "1e400 is too large to be a coordinate"),
        ("M0 0L1e13 3", "1e13 is too large to be a coordinate"),
    ],
)
def test_faults_name_the_element_and_the_character(read, d, problem):
    with pytest.raises(SvgError) as caught:
        path(read, d)
    assert problem in caught.value.problem
    assert (caught.value.source, caught.value.element) == ("drawing.svg", "p")


def test_arc_flags_without_separators(read):
    whole = only(read, "M0 0A5 5 0 0 1 6 8a5,5,0,1,0,-6,-8")
    packed = only(read, "M0 0A5 5 0 016 8a5,5,0,10-6-8")
    assert packed.control.tolist() == whole.control.tolist()


# -- any path, written in any way, is read back -------------------------------------------

COORDINATE = st.integers(-2000, 2000).map(lambda value: value / 16)
POINT = st.tuples(COORDINATE, COORDINATE)
SEGMENT = st.one_of(
    st.tuples(st.sampled_from(["L", "T"]), POINT),
    st.tuples(st.sampled_from(["H", "V"]), COORDINATE),
    st.tuples(st.sampled_from(["Q", "S"]), POINT, POINT),
    st.tuples(st.just("C"), POINT, POINT, POINT),
)
STYLE = st.tuples(st.booleans(), st.sampled_from([" ", ",", " , ", "\n"]), st.booleans())


@given(POINT, st.lists(st.tuples(SEGMENT, STYLE), min_size=1, max_size=8), st.booleans())
def test_written_paths_round_trip(read, start, segments, closed):
    """An independent writer with a model of the pen; its numbers are exact binary fractions."""
    words = [f"M{start[0]!r} {start[1]!r}"]
    expected = []
    pen, reflected, last, letter_before = start, start, "", "L"
    for (kind, *arguments), (relative, separator, repeats) in segments:
        if kind == "H":
            points = [(arguments[0], pen[1])]
        elif kind == "V":
            points = [(pen[0], arguments[0])]
        else:
            points = arguments
        origin = pen if relative else (0.0, 0.0)
        if kind in "HV":
            axis = "HV".index(kind)
            numbers = [arguments[0] - origin[axis]]
        else:
            numbers = [value - origin[i] for point in points for i, value in enumerate(point)]
        letter = kind.lower() if relative else kind
        shown = "" if repeats and letter == letter_before else letter
        words.append((shown or " ") + separator.join(map(repr, numbers)))
        letter_before = letter

        end = points[-1]
        if kind in "LHV":
            segment = (LINE, None, end)
        elif kind in "QT":
            smooth = reflected if last in "QT" and last else pen
            middle = points[0] if kind == "Q" else smooth
            segment = (QUADRATIC, elevated(pen, middle, end), end)
            reflected = (2 * end[0] - middle[0], 2 * end[1] - middle[1])
        else:
            smooth = reflected if last in "CS" and last else pen
            first, second = points[:2] if kind == "C" else (smooth, points[0])
            segment = (CUBIC, [pen, first, second, end], end)
            reflected = (2 * end[0] - second[0], 2 * end[1] - second[1])
        degree, control, _ = segment
        if control is None:
            control = [np.array(pen) + (np.array(end) - pen) * k / 3 for k in range(4)]
        if any(tuple(point) != tuple(map(float, pen)) for point in control):
            expected.append((degree, control))
        pen, last = end, kind
    if closed:
        words.append("Z")
        if expected and pen != start:
            back = [np.array(pen) + (np.array(start) - pen) * k / 3 for k in range(4)]
            expected.append((LINE, back))
    shapes = path(read, "".join(words)).shapes
    if not expected:
        assert shapes == ()
        return
    curve = shapes[0].curve
    assert curve.closed == closed
    assert curve.degree.tolist() == [degree for degree, _ in expected]
    wanted = np.array([control for _, control in expected], dtype=float)
    assert curve.control == pytest.approx(wanted, rel=1e-12, abs=1e-10)
    # Chained without the smallest gap.
    assert (curve.control[1:, 0] == curve.control[:-1, 3]).all()


@given(st.text(alphabet="MmLlHhVvCcSsQqTtAaZz0123456789.,-+e \n", max_size=40))
def test_any_text_is_read_or_refused(read, text):
    try:
        shapes = path(read, text).shapes
    except SvgError:
        shapes = ()
    assert all(np.isfinite(shape.curve.control).all() for shape in shapes)


def test_joints_stay_exact_under_a_transform(read):
    d = "M0 0" + "".join(f"L{k * 0.7:.3f} {math.sin(k):.5f}" for k in range(1, 200)) + "z"
    curve = read(f'<path transform="rotate(33) skewX(5)" d="{d}"/>').shapes[0].curve
    assert (curve.control[1:, 0] == curve.control[:-1, 3]).all()
    assert (curve.end == curve.start).all()


# -- two ways from characters to commands --------------------------------------------------

_NUMBERS = ["0", "-1", "+2.5", ".5", "7.", "1e2", "-.5E-3", "007", "1e13", "1_0", "e"]
_BETWEEN = [" ", ",", "", " , ", ",,", "\t", "\v", "\u00a0"]
_SIZES = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "Z": 0}

_any_words = st.lists(
    st.one_of(*map(st.sampled_from, (_NUMBERS, _BETWEEN, "MmZzLlHhVvCcSsQqTtAaEx"))), max_size=12
)


@st.composite
def _nearly_right_words(draw):
    """Commands with as many numbers as they take, and mostly with what may stand between them."""
    words = []
    letters = draw(st.sampled_from(["MLHVCZ", "MLHVCSQTZlhvcsqtz"]))
    for letter in draw(st.lists(st.sampled_from(letters), max_size=5)):
        words.append(letter)
        for _ in range(_SIZES[letter.upper()] * draw(st.sampled_from([1, 1, 2]))):
            words.append(draw(st.sampled_from(["1", "-2", ".5", "3.25", "1e1"])))
            words.append(draw(st.sampled_from([" ", ",", " ,"])))
        if words[-1] != letter and draw(st.integers(0, 3)):
            words.pop()
    return words


GREEDY = pathdata._plain("*")


@given(st.one_of(_any_words, _nearly_right_words()))
def test_quick_reading_takes_what_the_grammar_takes_and_no_more(words):
    d = "M1 2" + "".join(words)
    quick = pathdata._quick(d, 1e-4)
    # The pattern for a Python whose possessive groups are none takes the same.
    assert (GREEDY.fullmatch(d) is None) is (pathdata._PLAIN.fullmatch(d) is None)
    try:
        strict = pathdata._drawn(pathdata._strict(d), 1e-4)
    except SvgError:
        assert quick is None
        return
    if quick is None:
        # It leaves arcs to the strict one.
        assert {"A", "a"} & set(d)
        return
    assert quick == strict
