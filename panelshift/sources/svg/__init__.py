"""Reading drafted panels from SVG.

In: an SVG file or its bytes. Out: a Drawing: curves and texts in mm with their names and styles,
and what was left out. `read_svg` is the only entry; `reader` walks, the others say what it meets.
`drawing_svg` saves a drawing, wherever it came from, `draft_svg` a pattern; `with_added` puts
layers beside a draft in its own document.
"""

from .added import with_added
from .reader import read_svg
from .saving import draft_page, draft_svg, drawing_svg

__all__ = ["draft_page", "draft_svg", "drawing_svg", "read_svg", "with_added"]
