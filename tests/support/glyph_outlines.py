"""Text converted to outlines, with the glyphs of the font that the project prints with."""

from __future__ import annotations

from functools import cache

import numpy as np
from fontTools.misc.transform import Transform
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

from panelshift.sheets.lettering import opened_font


@cache
def _font() -> TTFont:
    return opened_font("latin")


def glyph_paths(words: str, x: float, y: float, size: float, angle: float = 0.0) -> list[str]:
    """Path data of each letter, in mm, from the start of a baseline."""
    font = _font()
    glyphs, names, widths = font.getGlyphSet(), font.getBestCmap(), font["hmtx"]
    scale = size / font["head"].unitsPerEm
    found = []
    for letter in words:
        name = names[ord(letter)]
        pen = SVGPathPen(glyphs)
        place = Transform().translate(x, y).rotate(angle).scale(scale, -scale)
        glyphs[name].draw(TransformPen(pen, place))
        if data := pen.getCommands():
            found.append(data)
        step = widths[name][0] * scale
        x, y = x + step * np.cos(angle), y + step * np.sin(angle)
    return found


def as_paths(data: list[str], extra: str = 'fill="#000000"') -> str:
    """One path element a letter."""
    return "".join(f'<path {extra} d="{one}"/>' for one in data)


def as_one_path(data: list[str], extra: str = 'fill="#000000"') -> str:
    """All letters as one compound path."""
    return f'<path {extra} d="{"".join(data)}"/>'
