"""Reading drafted panels from SVG.

In: an SVG file or its bytes. Out: a Drawing: curves and texts in mm with their names and styles,
and what was left out. `read_svg` is the only entry; `reader` walks, the others say what it meets.
"""

from .reader import read_svg

__all__ = ["read_svg"]
