import pytest

from panelshift.pattern.drawing import LeftOut

EDITOR = 'xmlns:ed="http://example.org/editor"'


def idents(drawing):
    return [shape.ident for shape in drawing.shapes]


def test_elements_without_id_are_named_by_their_place(read):
    line = '<line x2="1"/>'
    body = (
        f'{line}<path d="M0 0L1 1"/>{line}<g>{line}<g>{line}</g></g>'
        f'<g id="layer1">{line}<g>{line}{line}</g><a>{line}</a></g>'
    )
    assert idents(read(body)) == [
        "line[1]",
        "path[1]",
        "line[2]",
        "g[1]/line[1]",
        "g[1]/g[1]/line[1]",
        "line[1] in layer1",
        "g[1]/line[1] in layer1",
        "g[1]/line[2] in layer1",
        "a[1]/line[1] in layer1",
    ]


def test_elements_of_other_kinds_do_not_count(read):
    body = f'<!-- line --><e:line {EDITOR.replace("ed", "e")}/><line x2="1"/>'
    assert idents(read(body)) == ["line[1]"]


def test_idents_are_unique(read):
    body = (
        '<line id="a" x2="1"/><line id="a" x2="1"/><line id="a" x2="1"/><line id="a (2)" x2="1"/>'
        '<path id="p" d="M0 0L1 1M2 2L3 3"/><line id="p~1" x2="1"/><text id="a">x</text>'
        '<line id=" " x2="1"/>'
    )
    drawing = read(body)
    found = [*idents(drawing), *(text.ident for text in drawing.texts)]
    assert found == [
        *("a", "a (2)", "a (3)", "a (2) (2)", "p~1", "p~2", "p~1 (2)", "line[6]", "a (4)"),
    ]


def test_names_and_classes_of_an_element(read):
    body = (
        f'<line {EDITOR} id="p1" ed:label="Front  panel" aria-label="front" class="panel cf p1" '
        'label="plain" x2="1"><title> The\n title </title><desc>no</desc></line>'
        '<line x2="1"/>'
    )
    named, nameless = read(body).shapes
    assert set(named.names[1:3]) == {"Front panel", "plain"}
    assert named.names[0] == "p1"
    assert named.names[3:] == ("front", "The title")
    assert named.classes == ("panel", "cf", "p1")
    assert nameless.names == ()


def test_groups_are_named_by_label_then_title_then_id_and_the_page_is_none(read):
    body = (
        f'<g {EDITOR} id="g1" ed:label="Layer 1"><title>t</title><g id="g2"><title>Titled</title>'
        '<g id="g3"><g><a aria-label="link"><switch><line x2="1"/></switch></a></g></g></g></g>'
    )
    drawing = read(body, 'id="page" width="9mm" height="9mm"')
    assert drawing.shapes[0].groups == ("Layer 1", "Titled", "g3", "link")


@pytest.mark.parametrize(
    ("ident", "name"),
    [
        ("_x31_", "1"),
        ("_x31_2_side_front", "12_side_front"),
        ("high_x5F_hip_1_", "high_hip_1_"),
        ("side_x2F_back", "side/back"),
        # What an id could have held as it is was written so by a person.
        ("panel_x31_", "panel_x31_"),
        ("_x41_", "_x41_"),
        ("_x0A_", "_x0A_"),
    ],
)
def test_names_that_ids_cannot_hold_are_written_out(read, ident, name):
    (shape,) = read(f'<g id="{ident}"><line id="{ident}" x2="1"/></g>').shapes
    assert (shape.ident, shape.names, shape.groups) == (ident, (name,), (name,))


def test_groups_of_a_copy(read):
    body = (
        '<symbol id="s"><title>Symbol</title><line x2="1"/></symbol>'
        '<g id="g"><use id="u" aria-label="Copy" href="#s"/></g>'
    )
    (shape,) = read(body).shapes
    assert shape.groups == ("g", "Copy", "Symbol")
    assert shape.ident == "u/line[1] in s"


def test_data_attributes(read):
    (shape,) = read('<line x2="1" data-panel="3" data-class="side front" dat="x"/>').shapes
    assert shape.data == {"panel": "3", "class": "side front"}


# -- what is not shown --------------------------------------------------------------------


@pytest.mark.parametrize(
    "attributes",
    ['display="none"', 'style="fill:red; display : none"', 'class="gone"', 'style="DISPLAY:None"'],
)
def test_undisplayed_shapes(read, attributes):
    drawing = read(f'<style>.gone {{ display: none }}</style><line id="a" {attributes} x2="1"/>')
    assert drawing.shapes == ()
    assert drawing.left_out == (LeftOut("a", "display: none"),)


def test_a_style_can_bring_an_element_back(read):
    drawing = read('<line id="a" display="none" style="display: inline" x2="1"/>')
    assert idents(drawing) == ["a"]


def test_an_undisplayed_group_is_one_entry(read):
    body = (
        '<g id="off" display="none"><line id="x" x2="1"/><g><path/><text>t</text></g>'
        '<use/><defs><line/></defs></g><g display="none"><g/></g>'
        '<defs display="none"><line/></defs>'
        '<text id="t" display="none">x</text><svg id="in" display="none"><line/></svg>'
    )
    drawing = read(body)
    assert drawing.shapes == ()
    assert drawing.left_out == (
        LeftOut("off", "display: none (4 elements)"),
        LeftOut("t", "display: none"),
        LeftOut("in", "display: none (1 element)"),
    )


def test_a_page_that_is_not_displayed(read):
    drawing = read('<line x2="1"/>', 'style="display:none" width="9mm" height="9mm"')
    assert drawing.left_out == (LeftOut("svg", "display: none (1 element)"),)


@pytest.mark.parametrize("value", ["hidden", "collapse"])
def test_visibility_is_inherited_and_can_be_undone(read, value):
    body = (
        f'<g id="off" visibility="{value}"><line id="b" x2="1"/><text>t</text>'
        '<g style="visibility: visible"><line id="c" x2="1"/></g>'
        '<line id="d" visibility="visible" x2="1"/><line id="e" visibility="hidden" x2="1"/></g>'
        f'<line id="f" visibility="{value}" x2="1"/>'
    )
    drawing = read(body)
    assert idents(drawing) == ["c", "d"]
    assert drawing.left_out == (
        LeftOut("off", "hidden (2 elements)"),
        LeftOut("e", "hidden"),
        LeftOut("f", "hidden"),
    )


def test_a_hidden_page(read):
    drawing = read('<line x2="1"/>', 'id="page" visibility="hidden" width="9mm" height="9mm"')
    assert drawing.left_out == (LeftOut("page", "hidden (1 element)"),)


def test_two_hidden_shapes_of_one_id_are_two_entries(read):
    drawing = read('<line id="a" display="none"/>' * 2)
    assert drawing.left_out == (LeftOut("a", "display: none"),) * 2
