"""Style sheets and style attributes that move lines or take them away."""

from __future__ import annotations

from typing import Final

from .case import PROBE, Case

_SHEETS: Final = {
    "class": ".k{transform:rotate(20deg)}",
    "id": "#g{transform:rotate(20deg)}",
    "type": "g{transform:rotate(20deg)}",
    "type-and-class": "g.k{transform:rotate(20deg)}",
    "descendant": "svg g{transform:rotate(20deg)}",
    "child": "svg > g{transform:rotate(20deg)}",
    "attribute": "[class=k]{transform:rotate(20deg)}",
    "attribute-prefix": "[id^=g]{transform:rotate(20deg)}",
    "list": "rect, .k, circle{transform:rotate(20deg)}",
    "first-child": "g:nth-of-type(1){transform:rotate(20deg)}",
    "not": "g:not(.other){transform:rotate(20deg)}",
    "later-wins": ".k{transform:rotate(50deg)} .k{transform:rotate(20deg)}",
    "id-wins": "#g{transform:rotate(20deg)} .k{transform:rotate(50deg)}",
    "important-wins": ".k{transform:rotate(20deg)!important} #g{transform:rotate(50deg)}",
    "comment": "/* .k{} */ .k{transform:/**/rotate(20deg)}",
    "media-screen": "@media screen{.k{transform:rotate(20deg)}}",
    "media-all": "@media all{.k{transform:rotate(20deg)}}",
    "media-print": "@media print{.k{transform:rotate(50deg)}}",
    "other-property": ".k{fill:red;stroke-width:3px}",
    "origin": ".k{transform:rotate(20deg);transform-origin:900px 700px}",
    "upper-case": ".k{Transform:Rotate(20DEG)}",
    "has": ".k:has(path){transform:rotate(20deg)}",
    "root": ":root .k{transform:rotate(20deg)}",
    "word": "[class~=k]{transform:rotate(20deg)}",
    "empty-and-universal": "*:empty{transform:none} .k{transform:rotate(20deg)}",
    "nth-child": "g:nth-child(2n){transform:rotate(20deg)}",
    "sibling": "style ~ g{transform:rotate(20deg)}",
    "neighbour": "style + g{transform:rotate(20deg)}",
    "only-of-type": "g:only-of-type{transform:rotate(20deg)}",
    "is": ":is(.k,#z){transform:rotate(20deg)}",
    "where": ":where(#g){transform:rotate(50deg)} .k{transform:rotate(20deg)}",
    "media-not-matching-width": "@media print and (min-width:1px){.k{transform:scale(3)}}",
    "pseudo-element": ".k::before{transform:rotate(50deg)}",
    "hover": ".k:hover{transform:rotate(50deg)}",
    "keyframes-unused": "@keyframes a{from{opacity:0}} .k{transform:rotate(20deg)}",
    "broken-declaration": ".k{transform;transform:rotate(20deg);}",
}

_REFUSED_SHEETS: Final = {
    "unknown-at-rule": "@keyframes a{from{x:0}} .k{transform:rotate(20deg)}",
    "not-list": "g:not(.a,.b){transform:rotate(20deg)}",
    "supports": "@supports (x:1px){.k{transform:rotate(20deg)}}",
    "layer": "@layer a{.k{transform:rotate(20deg)}}",
    "media-width": "@media (min-width:1px){.k{transform:rotate(20deg)}}",
    "media-not-print": "@media not print{.k{transform:rotate(20deg)}}",
    "media-screen-and": "@media screen and (min-width:1px){.k{transform:rotate(20deg)}}",
    "keyframes-moving": "@keyframes a{from{transform:rotate(9deg)}to{transform:none}} "
    ".k{animation:a 900s}",
}

_STYLED: Final = {
    "rect": '<rect id="p" style="x:300px;y:200px;width:1500px;height:900px"/>',
    "rect-over-attributes": '<rect id="p" width="9" height="900" style="width:1500px"/>',
    "rect-radii": '<rect id="p" width="1500" height="900" style="rx:200px;ry:100px"/>',
    "rect-percent": '<rect id="p" height="900" style="width:25%"/>',
    "circle": '<circle id="p" style="cx:900px;cy:800px;r:500px"/>',
    "ellipse": '<ellipse id="p" style="cx:900px;cy:800px;rx:500px;ry:300px"/>',
    "path": '<path id="p" style="d:path(\'M300 300H1500V900Z\')"/>',
    "path-over-attribute": '<path id="p" d="M0 0H9V9Z" style="d:path(\'M300 300H1500V900Z\')"/>',
    "zero-without-unit": '<rect id="p" style="x:0;width:1500px;height:900px"/>',
}

_DISPLAY: Final = {
    "none-attribute": '<rect id="q" width="9" height="9" display="none"/>',
    "none-style": '<rect id="q" width="9" height="9" style="display:none"/>',
    "none-style-over-attribute": '<rect id="q" width="9" height="9" display="inline" '
    'style="display:none"/>',
    "none-group": '<g display="none"><rect id="q" width="9" height="9" display="inline"/></g>',
    "none-class": '<style>.k{display:none}</style><rect id="q" class="k" width="9" height="9"/>',
    "hidden": '<rect id="q" width="9" height="9" visibility="hidden"/>',
    "collapse": '<rect id="q" width="9" height="9" visibility="collapse"/>',
    "hidden-group": '<g visibility="hidden"><rect id="q" width="9" height="9"/></g>',
}

CASES: Final[list[Case]] = [
    *(
        Case(f"sheet-{name}", f'<style>{sheet}</style><g id="g" class="k">{PROBE}</g>')
        for name, sheet in _SHEETS.items()
    ),
    *(
        Case(
            f"sheet-{name}",
            f'<style>{sheet}</style><g id="g" class="k">{PROBE}</g>',
            refused="style",
        )
        for name, sheet in _REFUSED_SHEETS.items()
    ),
    Case(
        "sheet-attribute-beats-type",
        "<style>g{transform:rotate(50deg)}</style>"
        f'<g style="transform:rotate(20deg)">{PROBE}</g>',
    ),
    Case(
        "sheet-beats-attribute",
        f'<style>g{{transform:rotate(20deg)}}</style><g transform="rotate(50)">{PROBE}</g>',
    ),
    Case(
        "sheet-two",
        f"<style>g{{transform:rotate(50deg)}}</style><style>g{{transform:rotate(20deg)}}</style>"
        f"<g>{PROBE}</g>",
    ),
    Case(
        "sheet-cdata",
        f"<style><![CDATA[svg>g{{transform:rotate(20deg)}}]]></style><g>{PROBE}</g>",
    ),
    Case(
        "sheet-of-another-type",
        f'<style type="text/x-other">g{{transform:rotate(20deg)}}</style><g>{PROBE}</g>',
    ),
    Case(
        "sheet-through-use",
        f'<style>.k{{transform:rotate(20deg)}}</style><defs><g id="g" class="k">{PROBE}</g></defs>'
        '<use id="u" href="#g" x="900"/>',
    ),
    Case(
        "sheet-nested-rule",
        f"<style>g{{&amp; polygon{{transform:rotate(20deg)}}}}</style><g>{PROBE}</g>",
        refused="nested",
    ),
    *(Case(f"styled-{name}", body) for name, body in _STYLED.items()),
    *(Case(f"display-{name}", body + PROBE) for name, body in _DISPLAY.items()),
    Case(
        "display-visible-in-hidden",
        f'<g visibility="hidden"><g visibility="visible">{PROBE}</g></g>',
    ),
    Case("display-contents", f'<g style="display:contents">{PROBE}</g>', refused="display"),
    Case(
        "display-contents-turned",
        f'<g style="display:contents" transform="rotate(20)">{PROBE}</g>',
        refused="display",
    ),
    Case("display-inherit", f'<g style="display:inherit">{PROBE}</g>'),
    Case(
        "display-words",
        f'<g style="display:block">{PROBE}</g><g display="zzz">'
        '<rect id="r" width="900" height="500"/></g>',
    ),
    Case("display-inline", f'<g style="display:inline">{PROBE}</g>'),
    Case(
        "style-unitless-width", '<rect id="p" style="width:1500;height:900px"/>', refused="no unit"
    ),
    Case(
        "style-calc",
        '<rect id="p" style="width:calc(100px + 5%);height:900px"/>',
        refused="not a length",
    ),
    Case(
        "style-inherit",
        '<g><rect id="p" height="900" style="width:inherit"/></g>',
        refused="is not followed here",
    ),
    Case(
        "attribute-calc", '<rect id="p" width="calc(100px)" height="900"/>', refused="not a length"
    ),
]
