"""Layers as groups with labels, foreign names and elements, styles: the pattern is the same."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from html import escape
from itertools import groupby

import pytest

from tests.support.drafts import path_data
from tests.support.drawings import path
from tests.support.export_elements import (
    EACH_BASE,
    FILLED,
    STROKED,
    Element,
    base,
    body_of,
    of_role,
    pattern_of,
    plain,
)
from tests.support.same_pattern import assert_same

bases = pytest.mark.parametrize("draft", EACH_BASE)

FOREIGN = 'xmlns:atelier="https://panelshift.invalid/ns/atelier"'

Label = Callable[[str, int], tuple[str, str]]
"""Of a name and a number: attributes, and children, of an element that bears the name."""

LABELS: dict[str, Label] = {
    "id": lambda name, k: (f'id="{name}-{k}"', ""),
    "aria-label": lambda name, k: (f'id="path{k}" aria-label="{name}"', ""),
    "foreign label": lambda name, k: (f'id="path{k}" atelier:label="{name}"', ""),
    "title": lambda name, k: (f'id="path{k}"', f"<title>{name}</title>"),
    "data": lambda name, k: (f'id="path{k}" data-name="{name}" aria-label="{name}"', ""),
}


def labelled(element: Element, number: int, label: Label) -> str:
    attributes, children = label(escape(element.name), number)
    if element.role == "outline":
        attributes = attributes.replace(f"-{number}", "")
    return (
        f'<path {FOREIGN} atelier:kind="net" {attributes} {element.paint} '
        f'd="{path_data(element.curves[0])}">{children}</path>'
    )


def by_panel(elements: Iterable[Element]) -> dict[str, list[Element]]:
    found: dict[str, list[Element]] = {}
    for element in elements:
        found.setdefault(element.panel, []).append(element)
    return found


@bases
@pytest.mark.parametrize("how", LABELS)
def test_names_as_ids_labels_titles(draft: str, how: str) -> None:
    body = "".join(labelled(e, k, LABELS[how]) for k, e in enumerate(base(draft)))
    found = pattern_of(body)
    assert_same(found, plain(draft))
    assert not found.warnings
    assert not found.left_out


@bases
@pytest.mark.parametrize("how", ["aria-label", "foreign label", "title", "id"])
def test_panels_as_groups_that_bear_the_name(draft: str, how: str) -> None:
    body = ""
    for k, (panel, members) in enumerate(by_panel(base(draft)).items()):
        attributes, children = LABELS[how](escape(panel), k)
        attributes = attributes.replace(f"-{k}", "")
        inner = "".join(
            f'<path id="path{k}{n}" {e.paint} d="{path_data(e.curves[0])}"/>'
            if e.role == "outline"
            else labelled(e, 100 * k + n, LABELS[how])
            for n, e in enumerate(members)
        )
        body += f"<g {FOREIGN} {attributes}>{children}<g>{inner}</g></g>"
    found = pattern_of(f'<g id="layer1" {FOREIGN} atelier:label="Layer 1">{body}</g>')
    assert_same(found, plain(draft))
    assert not found.left_out


@bases
def test_layers_by_kind_of_line_with_labels(draft: str) -> None:
    """All outlines in one layer, all waistlines in the next, and so on: lines have no names."""
    body = ""
    order = sorted(base(draft), key=lambda e: (e.role != "outline", e.name))
    for label, members in groupby(
        order, key=lambda e: "outline" if e.role == "outline" else e.name
    ):
        lines = "".join(
            labelled(e, 0, LABELS["aria-label"]) if label == "outline" else path(_data(e))
            for e in members
        )
        title = "Outlines" if label == "outline" else label
        body += f'<g {FOREIGN} atelier:groupmode="layer" atelier:label="{title}">{lines}</g>'
    assert_same(pattern_of(body), plain(draft))


def _data(element: Element) -> str:
    return path_data(element.curves[0])


JUNK = (
    "<metadata><rdf xmlns='http://example.org/rdf#'><x>Waist</x><path d='M0 0H9V9z'/></rdf>"
    "</metadata>",
    f"<atelier:view {FOREIGN} zoom='0.7' cx='1'><atelier:grid id='waist'/></atelier:view>",
    "<defs><linearGradient id='g1'><stop offset='0'/></linearGradient>"
    "<clipPath id='c1'><path d='M0 0H999V999H0z'/></clipPath>"
    "<marker id='m1'><path id='waist mark' d='M0 0L5 5'/></marker>"
    "<symbol id='s1'><rect width='99' height='300'/></symbol></defs>",
    "<!-- exported: waist=640 -->",
    "<?atelier version='3'?>",
    "<desc>a corset, waist 640</desc>",
    "<style>.a{fill:none} @media print {.b{stroke:red}} #none > .c{fill:url(#g1)}</style>",
    "<script>0</script>",
    "<g id='Layer 2'/><g/>",
    "<view id='v1' viewBox='0 0 9 9'/>",
)


@pytest.mark.parametrize("junk", JUNK, ids=lambda text: text[1:9])
def test_what_programs_add_changes_nothing(junk: str) -> None:
    draft = "half block"
    body = f'<g clip-path="url(#c1)">{junk}{body_of(base(draft))}</g>{junk}'
    found = pattern_of(junk + body)
    assert_same(found, plain(draft))
    assert not found.left_out


STYLES = {
    "attributes": STROKED,
    "inline": 'style="fill:none;stroke:#000;stroke-width:.5;marker-end:url(#m1)"',
    "class": 'class="st0 st3"',
    "classes that look like names": 'class="fil0 str2 thick-line"',
    "all": f'{FILLED} class="a" style="display:inline;opacity:1;vector-effect:none"',
}


@pytest.mark.parametrize("how", STYLES)
@pytest.mark.parametrize("named", [True, False])
def test_styles_name_nothing(how: str, named: bool) -> None:
    """Outlines without ids are numbered; a class that all of them share is no name."""
    draft = "half block"
    elements = base(draft)
    outlines = "".join(
        f'<path {f"""id="{escape(e.name)}" """ if named else ""}{STYLES[how]} d="{_data(e)}"/>'
        for e in of_role(elements, "outline")
    )
    sheet = "<style>.st0{fill:none}.fil0,.a{fill:#fefefe;fill-rule:nonzero}</style>"
    rest = body_of(e for e in elements if e.role != "outline")
    found = pattern_of(sheet + outlines + rest)
    if named:
        assert_same(found, plain(draft))
    else:
        names = [str(k + 1) for k in range(len(found.panels))]
        assert [panel.name for panel in found.panels] == names
        assert found.waist == pytest.approx(plain(draft).waist, abs=1e-6)


def test_class_of_one_panel_alone_may_name_it() -> None:
    elements = base("half block")
    outlines = "".join(
        f'<path class="st0 {name}" d="{_data(e)}"/>'
        for e, name in zip(of_role(elements, "outline"), ("cf", "sf", "sb", "cb"), strict=True)
    )
    found = pattern_of(outlines + body_of(e for e in elements if e.role != "outline"))
    assert [panel.name for panel in found.panels] == ["cf", "sf", "sb", "cb"]


def test_class_may_say_what_a_line_is() -> None:
    elements = base("half block")
    waists = "".join(
        f'<path class="st1 waist" d="{_data(e)}"/>' for e in of_role(elements, "waist")
    )
    found = pattern_of(waists + body_of(e for e in elements if e.role != "waist"))
    assert_same(found, plain("half block"))


@pytest.mark.parametrize("word", ["path", "Vector", "Curve", "object", "Compound Path", "Element"])
def test_numbers_that_a_program_gives_do_not_order_the_panels(word: str) -> None:
    elements = base("half block")
    outlines = of_role(elements, "outline")
    numbered = "".join(
        f'<path id="{word} {number}" d="{_data(e)}"/>'
        for e, number in zip(outlines, (3, 1, 4, 2), strict=True)
    )
    found = pattern_of(numbered + body_of(e for e in elements if e.role != "outline"))
    widths = [round(panel.waist_width, 6) for panel in found.panels]
    assert widths == [40.0, 44.0, 48.0, 52.0]
    assert [panel.name for panel in found.panels] == ["1", "2", "3", "4"]


def test_group_of_a_panel_that_is_named_after_a_level_names_no_lines() -> None:
    """Else a line above the waist of the panel called hip would turn it upside down."""
    elements = base("half block")
    body = ""
    for members, name in zip(
        by_panel(elements).values(), ("1 cf", "2 bust", "3 hip", "4 cb"), strict=True
    ):
        outline, _, bust = members[:3]
        body += f'<g id="{name}">{path(_data(outline))}{path(_data(bust))}</g>'
    found = pattern_of(body + body_of(of_role(elements, "waist")))
    assert [panel.name for panel in found.panels] == ["1 cf", "2 bust", "3 hip", "4 cb"]
    for panel in found.panels:
        assert panel.frame.up[1] < -0.999
        assert [level.name for level in panel.levels] == ["level +90"]
