"""How lines and letters look: what an element inherits of it, and what of that is kept.

Nothing here decides where a line lies. So what cannot be read is passed over, as a browser
passes over it, and never refuses a drawing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import tinycss2.color3

from ...errors import SvgError
from ...pattern.drawing import Align, LineStyle
from .affine import Affine
from .lengths import MM_PER_PX, Basis, user_length
from .properties import Properties
from .styles import LOOKS

_BOLD_FROM: Final = 600
"""Weight from which a text is bold: half way between 400 (normal) and 700 (bold)."""
_WEIGHTS: Final = {"bold": True, "bolder": True, "normal": False, "lighter": False}
_ALIGNMENTS: Final[dict[str, Align]] = {"start": "start", "middle": "middle", "end": "end"}

_MOST_DASHES: Final = 64
"""Dashes and spaces that are kept of a pattern; programs write up to a dozen."""

_STEPS_PER_MM: Final = 1e4
"""Widths and dashes are rounded to 0.1 um, so that equal styles compare equal."""


@dataclass(frozen=True, slots=True)
class Look:
    """What an element takes over from those around it, lengths in its user units.

    Parameters
    ----------
    color : str
        What ``currentColor`` is.
    stroke : str
        As #rrggbb, or as written where it is no plain colour; empty where nothing is painted.
    width : float
    dash : tuple of float
    align : {"start", "middle", "end"}
        Which part of a text stands at its point.
    bold : bool
    """

    color: str = "#000000"
    stroke: str = ""
    width: float = 1.0
    dash: tuple[float, ...] = ()
    align: Align = "start"
    bold: bool = False

    def inside(self, properties: Properties) -> Look:
        """Return the look of an element that lies in one that looks like this."""
        said = tuple(
            [(name, value) for name in LOOKS if (value := properties.styled(name)) is not None]
        )
        return _changed(self, said, properties.basis) if said else self

    def line(self, transform: Affine, vector_effect: str | None) -> LineStyle:
        """Return the style of a line under a transform to mm; one that skews takes the mean."""
        if not self.stroke:
            return LineStyle()
        scale = math.sqrt(abs(transform.determinant))
        if vector_effect == "non-scaling-stroke":
            # SVG 2, section 8.11: as wide as it would be in px on the page.
            scale = MM_PER_PX
        return _line_style(self.stroke, self.width, self.dash, scale)


@lru_cache(maxsize=256)
def _line_style(stroke: str, width: float, dash: tuple[float, ...], scale: float) -> LineStyle:
    return LineStyle(stroke, _rounded(width * scale), tuple(_rounded(x * scale) for x in dash))


def _rounded(value: float) -> float:
    return round(value * _STEPS_PER_MM) / _STEPS_PER_MM


@lru_cache(maxsize=256)
def _changed(look: Look, said: tuple[tuple[str, str], ...], basis: Basis) -> Look:
    """Return a look after declarations; `color` stands before `stroke`, which may refer to it."""
    for name, text in said:
        word = text.strip().lower()
        if word in ("", "inherit", "unset"):
            continue
        if word == "initial":
            # Fields that a property sets have names of their own, `_FIELDS`.
            look = replace(look, **{_FIELDS[name]: getattr(_INITIAL, _FIELDS[name])})
        elif name == "color":
            look = replace(look, color=_colour(text, look) or look.color)
        elif name == "stroke":
            look = replace(look, stroke=_colour(text, look))
        elif name == "stroke-width":
            width = _lengths([word], basis)
            look = look if width is None else replace(look, width=width[0])
        elif name == "stroke-dasharray":
            dash = [] if word == "none" else _lengths(word.replace(",", " ").split(), basis)
            look = look if dash is None else replace(look, dash=_dashes(dash))
        elif name == "text-anchor":
            look = replace(look, align=_ALIGNMENTS.get(word, look.align))
        elif name == "font-weight":
            heavy = int(word[:4]) >= _BOLD_FROM if word.isdecimal() else look.bold
            look = replace(look, bold=_WEIGHTS.get(word, heavy))
    return look


_INITIAL: Final = Look()
_FIELDS: Final = {
    "color": "color",
    "stroke": "stroke",
    "stroke-width": "width",
    "stroke-dasharray": "dash",
    "text-anchor": "align",
    "font-weight": "bold",
}


def _colour(text: str, look: Look) -> str:
    """Return a colour as #rrggbb; empty for none, as written for a gradient and the like."""
    word = text.strip()
    if word.lower() == "none":
        return ""
    found = tinycss2.color3.parse_color(word)
    if found == "currentColor":
        return look.color
    if found is None:
        return " ".join(word.split())[:100]
    if found.alpha == 0.0:
        return ""
    channels = (min(max(channel, 0.0), 1.0) for channel in (found.red, found.green, found.blue))
    return "#" + "".join(f"{round(255.0 * channel):02x}" for channel in channels)


def _lengths(texts: list[str], basis: Basis) -> list[float] | None:
    """Return lengths of 0 or more in user units, or None if one of them is none."""
    try:
        found = [
            user_length(text, name="stroke", axis="diagonal", basis=basis)
            for text in texts[:_MOST_DASHES]
        ]
    except SvgError:
        return None
    return None if any(length < 0.0 for length in found) else found


def _dashes(lengths: list[float]) -> tuple[float, ...]:
    """Return dashes and spaces by turns; an odd number of them is gone through twice."""
    if not any(lengths):
        return ()
    return tuple(lengths * 2 if len(lengths) % 2 else lengths)
