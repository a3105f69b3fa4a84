"""Copies: use and symbol, their places, sizes and what they inherit; and what is not drawn."""

from __future__ import annotations

from typing import Final

from .case import PROBE, Case

_SYMBOL: Final = (
    f'<symbol id="s" viewBox="-100 -50 1600 1200" overflow="visible" {{}}>{PROBE}</symbol>'
)

_SYMBOL_USES: Final = {
    "sized": ("", 'width="2400" height="1000"'),
    "placed": ("", 'x="400" y="300" width="2400" height="1000"'),
    "unsized": ("", 'x="400" y="300"'),
    "width-only": ("", 'width="1500"'),
    "own-size": ('width="1500" height="900"', 'x="400" y="300"'),
    "own-size-overridden": ('width="1500" height="900"', 'width="2400" height="1000"'),
    "own-place": ('x="100" y="200" width="1500" height="900"', 'x="400" y="300"'),
    "slice": ('preserveAspectRatio="xMinYMax slice"', 'width="2400" height="1000"'),
    "none": ('preserveAspectRatio="none"', 'width="2400" height="1000"'),
    "percent": ("", 'x="10%" y="5%" width="50%" height="40%"'),
    "turned": ("", 'width="2400" height="1000" transform="rotate(12)"'),
    "units": ("", 'x="50mm" width="500mm" height="9in"'),
}

CASES: Final[list[Case]] = [
    *(
        Case(f"symbol-{name}", f'{_SYMBOL.format(own)}<use id="u" href="#s" {attributes}/>')
        for name, (own, attributes) in _SYMBOL_USES.items()
    ),
    Case("symbol-without-box", f'<symbol id="s">{PROBE}</symbol><use id="u" href="#s" x="500"/>'),
    Case(
        "symbol-in-symbol",
        f'<symbol id="s" viewBox="0 0 1000 1000">{PROBE}</symbol>'
        '<symbol id="t" viewBox="0 0 4000 4000">'
        '<use id="v" href="#s" x="200" width="1500"/></symbol>'
        '<use id="u" href="#t" x="300" y="400" width="2000" height="3000"/>',
    ),
    Case(
        "symbol-css-transform",
        f'<symbol id="s" viewBox="0 0 1000 1000">{PROBE}</symbol>'
        '<use id="u" href="#s" width="1500" style="transform:rotate(9deg) scale(.8)"/>',
    ),
    Case(
        "symbol-own-transform",
        f'<symbol id="s" viewBox="0 0 1000 1000" transform="rotate(20)">{PROBE}</symbol>'
        '<use id="u" href="#s" x="400" width="1500" height="1500"/>',
    ),
    Case("use-shape", f'{PROBE}<use id="u" href="#bow" x="900" y="700"/>'),
    Case("use-xlink", f'{PROBE}<use id="u" xlink:href="#bow" x="900" y="700"/>'),
    Case("use-both-links", f'{PROBE}<use id="u" href="#flag" xlink:href="#bow" x="900"/>'),
    Case(
        "use-percent-encoded",
        '<path id="a b" d="M0 0H500V300Z"/><use id="u" href="#a%20b" x="900"/>',
    ),
    Case("use-before-definition", f'<use id="u" href="#bow" x="900" y="700"/>{PROBE}'),
    Case("use-percent", f'{PROBE}<use id="u" href="#bow" x="25%" y="10%"/>'),
    Case("use-units", f'{PROBE}<use id="u" href="#bow" x="200mm" y="3in"/>'),
    Case(
        "use-transform-then-place",
        f'{PROBE}<use id="u" href="#bow" x="900" y="700" transform="rotate(20) scale(.7 1.1)"/>',
    ),
    Case(
        "use-of-transformed",
        '<path id="p" transform="rotate(20)" d="M300 0H900L500 700Z"/>'
        '<use id="u" href="#p" x="900" y="100"/>',
    ),
    Case(
        "use-of-group",
        f'<g id="g" transform="scale(.8 1.2)">{PROBE}</g>'
        '<use id="u" href="#g" x="900" y="700" transform="skewX(10)"/>',
    ),
    Case("use-of-defs-member", f'<defs>{PROBE}</defs><use id="u" href="#bow" x="900"/>'),
    Case(
        "use-leaves-parents-transform-out",
        f'<g transform="scale(3)"><defs>{PROBE}</defs></g><use id="u" href="#bow" x="300"/>',
    ),
    Case(
        "use-of-use",
        f'{PROBE}<use id="u" href="#bow" x="300" transform="rotate(5)"/>'
        '<use id="v" href="#u" y="900" transform="scale(.9)"/>',
    ),
    Case(
        "use-of-svg",
        f'<svg id="s" width="1000" height="900" viewBox="0 0 1000 1000">{PROBE}</svg>'
        '<use id="u" href="#s" x="1500" y="900" width="2000" height="1800"/>',
    ),
    Case(
        "use-of-svg-keeps-size",
        f'<svg id="s" x="100" width="1000" height="900" viewBox="0 0 1000 1000">{PROBE}</svg>'
        '<use id="u" href="#s" x="1500" y="900"/>',
    ),
    Case("use-size-means-nothing", f'{PROBE}<use id="u" href="#bow" x="900" width="90"/>'),
    Case(
        "use-in-group",
        f'{PROBE}<g transform="translate(500 500) rotate(30)"><use id="u" href="#bow"/></g>',
    ),
    Case(
        "use-css-place",
        f'{PROBE}<use id="u" href="#bow" style="x:900px;y:500px"/>',
    ),
    Case(
        "use-font-size",
        '<rect id="p" width="2em" height="1em" font-size="100"/><g font-size="300">'
        '<use id="u" href="#q" y="900"/></g><defs><rect id="q" width="2em" height="1em"/></defs>',
    ),
    Case(
        "use-missing",
        f'{PROBE}<use id="u" href="#none"/>',
        left_out="not in the file",
    ),
    Case("use-of-nothing", f'{PROBE}<use id="u"/>', left_out="refers to nothing"),
    Case(
        "use-of-marker",
        f'<marker id="m"><path d="M0 0H9V9Z"/></marker>{PROBE}<use id="u" href="#m"/>',
        left_out="draws nothing",
    ),
    Case(
        "use-recursive",
        f'{PROBE}<g id="g"><use id="u" href="#g"/></g>',
        refused="again and again",
    ),
    Case("hidden-defs", f'<defs><path id="q" d="M0 0H9V9Z"/></defs>{PROBE}'),
    Case("hidden-symbol", f'<symbol id="s"><path id="q" d="M0 0H9V9Z"/></symbol>{PROBE}'),
    Case("hidden-clip-path", f'<clipPath id="c"><path id="q" d="M0 0H9V9Z"/></clipPath>{PROBE}'),
    Case("hidden-mask", f'<mask id="c"><path id="q" d="M0 0H9V9Z"/></mask>{PROBE}'),
    Case("hidden-pattern", f'<pattern id="c"><path id="q" d="M0 0H9V9Z"/></pattern>{PROBE}'),
    Case("hidden-marker", f'<marker id="c"><path id="q" d="M0 0H9V9Z"/></marker>{PROBE}'),
    Case(
        "clipped",
        f'<clipPath id="c"><rect width="300" height="300"/></clipPath>'
        f'<g clip-path="url(#c)">{PROBE}</g>',
    ),
    Case(
        "masked",
        f'<mask id="c"><rect width="300" height="300" fill="#fff"/></mask>'
        f'<g mask="url(#c)">{PROBE}</g>',
    ),
    Case(
        "transparent", f'<g opacity="0">{PROBE}</g><rect id="r" width="9" height="9" fill="none"/>'
    ),
    Case("switch-takes-the-first", f"<switch>{PROBE}</switch>", left_out="switch"),
    Case(
        "switch-group",
        f'<switch><foreignObject requiredExtensions="urn:x" width="9" height="9"/>'
        f"<g>{PROBE}</g></switch>",
        left_out="extension",
    ),
    Case("extension-asked-for", f'<g requiredExtensions="urn:x">{PROBE}</g>', left_out="extension"),
    Case(
        "switch-language",
        '<switch><rect id="q" systemLanguage="xx" width="900" height="500"/>'
        '<rect id="p" width="700" height="300"/></switch>',
        left_out="language",
    ),
    Case(
        "symbol-style-size",
        f'<symbol id="s" viewBox="0 0 1600 1200">{PROBE}</symbol>'
        '<use id="u" href="#s" style="width:1500px;height:900px"/>',
        refused="the style width",
    ),
    Case("link", f'<a href="https://example.invalid/">{PROBE}</a>'),
    Case("foreign-namespace", f'<x:y xmlns:x="urn:x"><path id="q" d="M0 0H9V9Z"/></x:y>{PROBE}'),
]
