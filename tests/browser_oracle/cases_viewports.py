"""The page's size and units, viewBox, and nested svg with every preserveAspectRatio."""

from __future__ import annotations

from typing import Final

from .case import PROBE, Case

_ALIGNMENTS: Final = [f"x{x}Y{y}" for x in ("Min", "Mid", "Max") for y in ("Min", "Mid", "Max")]
_VALUES: Final = [
    *(f"{alignment} {fit}" for alignment in _ALIGNMENTS for fit in ("meet", "slice")),
    *("none", "none meet", "xMidYMid", "xMaxYMin"),
]

_INNER: Final = 'x="400" y="300" viewBox="-200 100 1600 1200" overflow="visible"'

_ROOTS: Final = {
    "mm": 'width="40mm" height="40mm" viewBox="0 0 4000 4000"',
    "cm": 'width="4cm" height="4cm" viewBox="0 0 4000 4000"',
    "in": 'width="1.5in" height="1.5in" viewBox="0 0 4000 4000"',
    "pt": 'width="108pt" height="108pt" viewBox="0 0 4000 4000"',
    "pc": 'width="9pc" height="9pc" viewBox="0 0 4000 4000"',
    "q": 'width="160Q" height="160Q" viewBox="0 0 4000 4000"',
    "px": 'width="150px" height="150px" viewBox="0 0 4000 4000"',
    "bare": 'width="150" height="150" viewBox="0 0 4000 4000"',
    "exponent": 'width="4e1mm" height="400e-1mm" viewBox="0 0 4e3 4e3"',
    "72-per-inch": 'width="2in" height="2in" viewBox="0 0 144 144"',
    "90-per-inch": 'width="2in" height="2in" viewBox="0 0 180 180"',
    "96-per-inch": 'width="2in" height="2in" viewBox="0 0 192 192"',
    "shifted": 'width="40mm" height="40mm" viewBox="-700 -300 4000 4000"',
    "commas": 'width="40mm" height="40mm" viewBox="-700,-300,4000,4000"',
    "wide": 'width="40mm" height="20mm" viewBox="0 0 4000 4000"',
    "tall": 'width="20mm" height="40mm" viewBox="0 0 4000 4000"',
    "wide-box": 'width="40mm" height="40mm" viewBox="0 0 6000 2000"',
    "wide-box-slice": 'width="40mm" height="40mm" viewBox="0 0 6000 2000" '
    'preserveAspectRatio="xMinYMax slice"',
    "wide-box-none": 'width="40mm" height="40mm" viewBox="0 0 6000 2000" '
    'preserveAspectRatio="none"',
    "wide-box-max": 'width="40mm" height="40mm" viewBox="0 0 6000 2000" '
    'preserveAspectRatio="xMaxYMax"',
    "width-only": 'width="40mm" viewBox="0 0 4000 3000"',
    "height-only": 'height="40mm" viewBox="0 0 3000 4000"',
    "style-size": 'style="width:40mm;height:30mm" viewBox="0 0 4000 3000"',
    "style-over-attribute": 'width="90mm" style="width:40mm" height="30mm" viewBox="0 0 4000 3000"',
}

CASES: Final[list[Case]] = [
    *(
        Case(
            f"nested-svg-{value.replace(' ', '-')}",
            f'<svg {_INNER} width="2400" height="1000" preserveAspectRatio="{value}">{PROBE}</svg>',
        )
        for value in _VALUES
    ),
    Case(
        "nested-svg-tall-slice",
        f'<svg {_INNER} width="900" height="2400" preserveAspectRatio="xMaxYMid slice">'
        f"{PROBE}</svg>",
    ),
    Case("nested-svg-plain", f'<svg x="500" y="300">{PROBE}</svg>'),
    Case("nested-svg-size-without-box", f'<svg x="5" width="900" height="900">{PROBE}</svg>'),
    Case("nested-svg-box-without-size", f'<svg viewBox="0 0 2000 1000">{PROBE}</svg>'),
    Case("nested-svg-width-only", f'<svg width="1500" viewBox="0 0 2000 1000">{PROBE}</svg>'),
    Case(
        "nested-svg-percent",
        f'<svg x="10%" y="5%" width="50%" height="40%" viewBox="0 0 2000 1000">{PROBE}</svg>',
    ),
    Case(
        "nested-svg-percent-inside",
        '<svg x="300" y="300" width="2000" height="1000" viewBox="0 0 400 400">'
        '<rect id="p" x="10%" y="10%" width="50%" height="25%"/>'
        '<circle id="c" cx="50%" cy="50%" r="10%"/></svg>',
    ),
    Case(
        "nested-svg-percent-inside-without-box",
        '<svg x="300" y="300" width="2000" height="1000">'
        '<rect id="p" x="10%" y="10%" width="50%" height="25%"/></svg>',
    ),
    Case(
        "nested-svg-in-svg",
        '<svg x="300" y="200" width="2000" height="2000" viewBox="0 0 1000 1000">'
        '<svg x="100" y="50" width="500" height="800" viewBox="0 0 2000 2000" '
        f'preserveAspectRatio="xMinYMax">{PROBE}</svg></svg>',
    ),
    Case(
        "nested-svg-in-turned-group",
        f'<g transform="rotate(15)"><svg {_INNER} width="2400" height="1000" '
        f'preserveAspectRatio="none">{PROBE}</svg></g>',
    ),
    Case(
        "nested-svg-own-transform",
        f'<svg {_INNER} width="2400" height="1000" transform="rotate(15)">{PROBE}</svg>',
    ),
    Case(
        "nested-svg-clips-nothing-away",
        f'<svg width="300" height="300" viewBox="0 0 300 300">{PROBE}</svg>',
    ),
    Case("nested-svg-units", f'<svg x="200mm" width="5in" height="300pt">{PROBE}</svg>'),
    Case(
        "nested-svg-style-size",
        f'<svg style="width:1500px;height:900px" viewBox="0 0 2000 1000">{PROBE}</svg>',
        refused="the style width",
    ),
    Case(
        "nested-svg-style-place",
        f'<svg style="x:900px;y:500px" width="2000" height="1000">{PROBE}</svg>',
        refused="the style x",
    ),
    Case("nested-svg-auto", f'<svg width="auto" viewBox="0 0 2000 1000">{PROBE}</svg>'),
    Case(
        "nested-svg-origin-percent",
        f'<svg {_INNER} width="2400" height="1800"><g transform="rotate(20)" '
        f'transform-origin="50% 50%">{PROBE}</g></svg>',
    ),
    Case(
        "page-shifted-origin-percent",
        f'<g transform="rotate(20)" transform-origin="50% 50%">{PROBE}</g>',
        root='width="1.5in" height="1.5in" viewBox="-700 -300 3810 3810"',
    ),
    Case(
        "page-shifted-origin-length",
        f'<g transform="rotate(20)" transform-origin="900 700">{PROBE}</g>',
        root='width="1.5in" height="1.5in" viewBox="-700 -300 3810 3810"',
    ),
    Case(
        "nested-svg-zero",
        f'<svg width="0" height="9">{PROBE}</svg><rect id="r" width="9" height="9"/>',
        left_out="width is 0",
    ),
    *(
        Case(f"page-{name}", '<rect id="p" x="10" y="20" width="100" height="80"/>', root=root)
        if "per-inch" in name
        else Case(f"page-{name}", PROBE, root=root, floating=name.endswith("-only"))
        for name, root in _ROOTS.items()
    ),
    Case(
        "page-no-box-mm",
        '<rect id="p" x="10" width="70" height="50"/>',
        root='width="40mm" height="30mm"',
    ),
    Case(
        "page-no-box-px",
        '<rect id="p" x="10" width="70" height="50"/>',
        root='width="150" height="120"',
    ),
    Case(
        "page-no-box-pt",
        '<rect id="p" x="10" width="70" height="50"/>',
        root='width="108pt" height="90pt"',
    ),
    Case("page-no-size", '<rect id="p" x="10" width="70" height="50"/>', root=""),
    Case(
        "page-box-zero",
        PROBE,
        root='width="40mm" height="40mm" viewBox="0 0 0 4000"',
        refused="above 0",
    ),
    Case(
        "page-box-words", PROBE, root='width="40mm" height="40mm" viewBox="all"', refused="viewBox"
    ),
    Case(
        "page-em",
        PROBE,
        root='width="10em" height="10em" viewBox="0 0 4000 4000"',
        refused="not an absolute",
    ),
    Case(
        "page-aspect-fault",
        PROBE,
        root='width="40mm" height="40mm" viewBox="0 0 4000 4000" preserveAspectRatio="middle"',
        refused="none of the known forms",
    ),
]
