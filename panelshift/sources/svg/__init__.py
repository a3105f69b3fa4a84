"""Reading drafted panels from SVG: curves and texts in millimetres, and what was left out.

`read_svg` is the only entry. Its modules, from the bottom up: `numbers`, `affine`,
`lengths`, `viewport` (small grammars and values); `document` (safe parsing); `styles`,
`transforms`, `properties` (what an element says of itself); `arcs`, `pathgrammar`,
`pathdata`, `outlines`, `primitives` (its geometry); `page`, `frames`, `naming`, `texts` and
`reader` (the walk).
"""

from .reader import read_svg

__all__ = ["read_svg"]
