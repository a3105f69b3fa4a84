"""Layers that are drawn into a draft's own document: the whole of it, and what is read of it."""

from __future__ import annotations

from panelshift.sources.svg.added import with_added

SVG = 'xmlns="http://www.w3.org/2000/svg"'
DRAFT = (
    f'<svg {SVG} width="200mm" height="100mm" viewBox="-10 -20 400 200">'
    '<rect id="one" x="0" y="0" width="380" height="90"/></svg>'
).encode()
SHEET = (
    f'<svg {SVG} viewBox="5 7 60 40" fill="none" stroke-linecap="round">'
    '<title>lining</title><g id="cut"><path id="a" d="M5 7H65"/></g><text>lining</text></svg>'
).encode()
GROUP = (
    '<g xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" id="panelshift-{ident}" '
    'data-panelshift="layer" aria-label="{name}" inkscape:groupmode="layer" '
    'inkscape:label="{name}" transform="matrix(2 0 0 2 {x} -34)" fill="none" '
    'stroke-linecap="round"><g id="panelshift-{ident}-cut">'
    '<path id="panelshift-{ident}-a" d="M5 7H65"/></g><text>lining</text></g>\n'
)


def test_the_whole_document_of_a_draft_with_layers() -> None:
    found = with_added(DRAFT, {"lining": SHEET, "outer one": SHEET}, name="draft.svg")
    # Two user units to a mm: the first 20 mm beyond the page, the next 60 + 20 mm further.
    first, second = (2.0 * (220.0 + step - 5.0) - 10.0 for step in (0.0, 80.0))
    groups = GROUP.format(ident="lining", name="lining", x=f"{first:g}")
    groups += GROUP.format(ident="outer-one", name="outer one", x=f"{second:g}")
    head = b"<?xml version='1.0' encoding='UTF-8'?>\n"
    assert found == head + DRAFT[:-6] + groups.encode() + b"</svg>"
    # Once more they take the place of the first ones, and one alone leaves the others out.
    again = with_added(found, {"lining": SHEET})
    assert again.count(b'data-panelshift="layer"') == 1
    assert again == with_added(DRAFT, {"lining": SHEET})
