import time

import numpy as np
import pytest

from panelshift.errors import SvgError
from panelshift.pattern.drawing import LeftOut
from panelshift.sources.svg import reader


def vertices(read, body):
    return [shape.curve.vertices.tolist() for shape in read(body).shapes]


LINE = '<line id="a" x1="1" y1="2" x2="3" y2="2"/>'


@pytest.mark.parametrize("href", ["href", "xlink:href"])
def test_use_places_a_copy(read, href):
    drawing = read(f'{LINE}<use id="u" {href}="#a" x="10" y="20" transform="scale(2)"/>')
    assert [shape.ident for shape in drawing.shapes] == ["a", "u/a"]
    assert drawing.shapes[1].curve.vertices.tolist() == [[22, 44], [26, 44]]


def test_href_beats_the_old_form(read):
    body = f'<defs>{LINE}<line id="b" x2="9"/></defs><use href="#b" xlink:href="#a"/>'
    assert read(body).shapes[0].ident == "use[1]/b"


def test_what_is_used_may_lie_in_any_undrawn_element(read):
    for holder in ("defs", "clipPath", "mask", "pattern", "marker", "symbol"):
        body = f'<{holder}>{LINE}</{holder}><use id="u" href="#a"/>'
        assert [shape.ident for shape in read(body).shapes] == ["u/a"]


def test_undrawn_elements_draw_nothing_where_they_stand(read):
    for holder in ("defs", "clipPath", "mask", "pattern", "marker", "symbol", "filter"):
        drawing = read(f"<{holder}>{LINE}</{holder}>")
        assert (drawing.shapes, drawing.left_out) == ((), ())


def test_use_of_a_group_and_of_a_use(read):
    body = (
        f'<defs><g id="g" transform="translate(100 0)">{LINE}</g>'
        '<use id="inner" href="#g" x="10"/></defs><use id="outer" href="#inner" y="5"/>'
    )
    drawing = read(body)
    assert [shape.ident for shape in drawing.shapes] == ["outer/inner/a"]
    assert drawing.shapes[0].curve.vertices.tolist() == [[111, 7], [113, 7]]


def test_copies_stand_in_document_order(read):
    body = f'{LINE}<use id="u" href="#a"/><line id="z" x2="1"/>'
    assert [shape.ident for shape in read(body).shapes] == ["a", "u/a", "z"]


def test_escaped_references(read):
    body = '<line id="a b" x2="1"/><use id="u" href="#a%20b"/>'
    assert read(body).shapes[1].ident == "u/a b"


def test_symbol_with_viewbox(read):
    symbol = '<symbol id="s" viewBox="5 5 10 20" {}><line x1="5" y1="5" x2="15" y2="25"/></symbol>'
    # 40 x 40 shows 10 x 20 at scale 2, centred: 10 spare on the left.
    body = symbol.format("") + '<use href="#s" x="1" y="2" width="40" height="40"/>'
    assert vertices(read, body) == [[[11, 2], [31, 42]]]
    # The use's own size wins over the symbol's; alignment is the symbol's.
    body = symbol.format('width="7" height="7" preserveAspectRatio="xMaxYMin"')
    assert vertices(read, body + '<use href="#s" width="40" height="40"/>') == [[[20, 0], [40, 40]]]
    assert vertices(read, body + '<use href="#s"/>')[0][0] == [3.5, 0]
    # Neither gives a size: all of the page, 100 x 100.
    assert vertices(read, symbol.format("") + '<use href="#s"/>') == [[[25, 0], [75, 100]]]


def test_symbol_without_viewbox(read):
    body = f'<symbol id="s" x="3" transform="scale(2)">{LINE}</symbol><use href="#s" x="1"/>'
    assert vertices(read, body) == [[[9, 4], [13, 4]]]


def test_a_symbol_inside_a_symbol_is_not_drawn(read):
    body = f'<symbol id="s"><symbol>{LINE}</symbol></symbol><use href="#s"/>'
    assert read(body).shapes == ()


def test_a_used_symbol_is_drawn_whatever_its_display(read):
    body = f'<symbol id="s" display="none">{LINE}</symbol><use id="u" href="#s"/>'
    assert [shape.ident for shape in read(body).shapes] == ["u/a"]


def test_use_of_svg_gives_it_a_size(read):
    body = (
        '<defs><svg id="s" width="10" height="10" viewBox="0 0 1 1"><line x2="1"/></svg></defs>'
        '<use href="#s" width="50" height="50"/><use href="#s"/>'
    )
    assert vertices(read, body) == [[[0, 0], [50, 0]], [[0, 0], [10, 0]]]


def test_size_of_a_use_is_not_passed_further_down(read):
    body = (
        '<defs><g id="g"><svg width="10" height="10" viewBox="0 0 1 1"><line x2="1"/></svg></g>'
        '</defs><use href="#g" width="50" height="50"/>'
    )
    assert vertices(read, body) == [[[0, 0], [10, 0]]]


def test_styles_inherit_through_use(read):
    body = '<defs><line id="a" x2="1em"/></defs><use font-size="5" href="#a"/>'
    assert vertices(read, body) == [[[0, 0], [5, 0]]]
    hidden = f'<defs>{LINE}</defs><use id="u" visibility="hidden" href="#a"/>'
    assert read(hidden).left_out == (LeftOut("u", "hidden (1 element)"),)


@pytest.mark.parametrize(
    ("use", "reason"),
    [
        ("<use id='u'/>", "it refers to nothing"),
        ("<use id='u' href=''/>", "it refers to nothing"),
        ("<use id='u' href='#none'/>", "it refers to #none, which is not in the file"),
        ("<use id='u' href='other.svg#a'/>", "it refers to another file (other.svg#a)"),
        ("<use id='u' href='#c'/>", "it refers to #c, a <clipPath>, which draws nothing"),
        ("<use id='u' href='#i'/>", None),
        ("<use id='u' width='0' href='#s'/>", None),
    ],
)
def test_references_that_lead_nowhere(read, use, reason):
    body = f"<defs><clipPath id='c'/><image id='i'/><symbol id='s'>{LINE}</symbol></defs>{use}"
    drawing = read(body)
    assert drawing.shapes == ()
    (left,) = drawing.left_out
    if reason is not None:
        assert left == LeftOut("u", reason)
    else:
        assert left in (LeftOut("u/i", "a picture is not read"), LeftOut("u/s", "its width is 0"))


@pytest.mark.parametrize(
    ("body", "element"),
    [
        ('<g id="g"><use id="u" href="#g"/></g>', "u/u"),
        ('<use id="u" href="#u"/>', "u/u"),
        ('<use id="u" href="#v"/><use id="v" href="#u"/>', "u/v/u"),
        ('<symbol id="s"><use id="u" href="#s"/></symbol><use id="v" href="#s"/>', "v/u/u"),
    ],
)
def test_an_element_that_draws_itself(read, body, element):
    with pytest.raises(SvgError, match="it draws itself again and again") as caught:
        read(body)
    assert (caught.value.source, caught.value.element) == ("drawing.svg", element)


def test_the_page_used_inside_itself(read):
    with pytest.raises(SvgError, match="it draws itself again and again"):
        read('<use id="u" href="#page"/>', 'id="page" width="9mm" height="9mm"')


def chain(count, copies=1):
    groups = "".join(
        f'<g id="g{k}">' + f'<use href="#g{k - 1}"/>' * copies + "</g>" for k in range(1, count)
    )
    return f'<defs><g id="g0"><line x2="1"/></g>{groups}</defs><use href="#g{count - 1}"/>'


def test_depth_of_copies_is_bounded(read):
    assert len(read(chain(64)).shapes) == 1
    with pytest.raises(SvgError, match=r"copies \(use\) of copies lie more than 64 deep"):
        read(chain(65))


def test_number_of_copies_is_bounded(read, monkeypatch):
    monkeypatch.setattr(reader, "MOST_EXPANDED", 2000)
    assert len(read(chain(9, copies=2)).shapes) == 256
    start = time.perf_counter()
    with pytest.raises(SvgError, match="make up more than 2000 elements"):
        read(chain(40, copies=2))
    assert time.perf_counter() - start < 5.0


def test_a_mirrored_half(read):
    body = (
        '<path id="half" d="M50 0C70 20 70 40 50 60"/>'
        '<use id="other" href="#half" transform="matrix(-1 0 0 1 100 0)"/>'
    )
    one, other = (shape.curve.control for shape in read(body).shapes)
    assert other == pytest.approx(np.array([100, 0]) + one * [-1, 1])


@pytest.mark.parametrize("name", ["width", "height", "x", "y"])
def test_a_nested_svg_takes_no_size_or_place_from_a_style(read, name):
    # SVG 2 says that it does; browsers ignore it.
    with pytest.raises(SvgError, match=f"the style {name} of <svg> is read differently"):
        read(f'<svg style="{name}: 9px" width="5" height="5">{LINE}</svg>')


def test_a_switch_takes_its_first_branch(read):
    body = (
        '<switch id="s"><title>t</title><foreignObject id="f" requiredExtensions="urn:x"/>'
        '<line id="l" systemLanguage="de" x2="1"/><g id="g"><line id="a" x2="3"/></g>'
        '<g id="h"><line x2="5"/><line x2="7"/></g></switch>'
    )
    drawing = read(body)
    assert [shape.ident for shape in drawing.shapes] == ["a"]
    assert drawing.left_out == (
        LeftOut("f", "it asks for an extension (requiredExtensions)"),
        LeftOut("l", "it is drawn in some languages only (systemLanguage)"),
        LeftOut("h", "another branch of its switch is drawn (2 elements)"),
    )


def test_conditions_count_outside_a_switch_too(read):
    drawing = read('<g id="g" requiredExtensions=""><line x2="3"/></g><line id="b" x2="4"/>')
    assert [shape.ident for shape in drawing.shapes] == ["b"]
    assert drawing.left_out[0].ident == "g"


@pytest.mark.parametrize(
    "animation",
    [
        '<animate id="m" attributeName="width" to="9"/>',
        '<set id="m" attributeName="display" to="none"/>',
        '<animateTransform id="m" attributeName="transform" type="rotate" to="9"/>',
        '<animateMotion id="m" path="M0 0L9 9"/>',
    ],
)
def test_an_animation_that_moves_lines_is_refused(read, animation):
    with pytest.raises(SvgError, match=r"an animation .* moves or hides lines") as caught:
        read(f'<rect width="5" height="5">{animation}</rect>')
    assert caught.value.element == "m"


def test_an_animation_of_colours_is_passed_over(read):
    body = '<rect width="5" height="5"><animate attributeName="fill" to="red"/></rect>'
    assert len(read(body).shapes) == 1


def test_display_contents_is_refused(read):
    with pytest.raises(SvgError, match="display: contents is read differently"):
        read(f'<g style="display: contents">{LINE}</g>')
    assert len(read(f'<g style="display: inherit">{LINE}</g>').shapes) == 1
