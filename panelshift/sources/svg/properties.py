"""What one element says of itself, in attributes and styles: its geometry and its look."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final, NamedTuple

import tinycss2.color3
from lxml import etree

from ...errors import SvgError
from ...pattern.drawing import Align, LineStyle
from ..affine import Affine
from .lengths import MM_PER_PX, Axis, Basis, user_length
from .styles import LOOKS, UNREAD_TRANSFORMS, values
from .transforms import attribute_transform, css_transform, transform_origin

_ATTRIBUTES_ONLY: Final = frozenset(("x1", "y1", "x2", "y2", "points"))
_RADII: Final = frozenset(("rx", "ry"))
_UNMOVED: Final = ("none", "normal", "auto", "initial", "unset", "1", "100%", "0deg", "0", "0px")
_UNSET: Final = ("initial", "unset")
_UNREAD: Final = frozenset(UNREAD_TRANSFORMS)
_REFUSED: Final = ("inherit", "revert", "revert-layer")


class Properties(NamedTuple):
    """What an element says of its own geometry.

    *css*: winning declarations of style sheets and the style attribute. *basis*: what its relative
    lengths refer to.
    """

    element: etree._Element
    attributes: Mapping[str, str]
    css: Mapping[str, str]
    basis: Basis

    def styled(self, name: str) -> str | None:
        """Return a property's value as styled, or else as written in an attribute."""
        value = self.css.get(name)
        return self.attributes.get(name) if value is None else value

    def geometry(self, name: str) -> tuple[str, bool] | None:
        """Return a geometry property's text and whether it comes from a style.

        None where it is missing, initial or auto.
        """
        value = None if name in _ATTRIBUTES_ONLY else self.css.get(name)
        if value is None:
            text = self.attributes.get(name)
            if text is not None and text.strip() == "auto":
                if name in _RADII:
                    # By SVG 2 it means the other radius; browsers take the attribute for 0.
                    raise SvgError(
                        f'{name}="auto" is read differently by programs',
                        remedy=f"Leave {name} out, or write the radius.",
                    )
                return None
            return None if text is None else (text, False)
        word = value.lower()
        if word in _REFUSED:
            raise SvgError(
                f"the style {name}: {value} is not followed here",
                remedy=f"Write the value of {name} itself.",
            )
        return None if word == "auto" or word in _UNSET else (value, True)

    def optional_length(self, name: str, axis: Axis) -> float | None:
        """Return a length in user units, or None where it is missing or auto."""
        found = self.geometry(name)
        if found is None:
            return None
        text, styled = found
        return user_length(text, name=name, axis=axis, basis=self.basis, needs_unit=styled)

    def attribute_length(self, name: str, axis: Axis) -> float | None:
        """Return a length that only an attribute may give, or None where it is missing."""
        if name in self.css:
            raise SvgError(
                f"the style {name} of <{self.element.tag}> is read differently by programs",
                remedy=f"Write {name} as an attribute.",
            )
        return self.optional_length(name, axis)

    def length(self, name: str, axis: Axis, default: float = 0.0) -> float:
        """Return a length in user units, or the default where it is missing or auto."""
        value = self.optional_length(name, axis)
        return default if value is None else value

    def transform(self) -> Affine | None:
        """Return the element's own transform about its transform-origin; None if it has none."""
        for name in () if _UNREAD.isdisjoint(self.css) else UNREAD_TRANSFORMS:
            value = self.css.get(name, "none").lower()
            if value not in _UNMOVED:
                raise SvgError(
                    f"the style {name}: {value} moves the element and is not followed here",
                    remedy="Write it as a transform, or apply it in the drawing program.",
                )
        styled = self.css.get("transform")
        if styled is not None and styled.lower() in _UNSET:
            return None
        if styled is not None:
            result = css_transform(styled, self.basis)
        else:
            text = self.attributes.get("transform")
            if text is None:
                return None
            result = attribute_transform(text)
        return self._about_origin(result, styled)

    def _about_origin(self, transform: Affine, styled: str | None) -> Affine:
        origin = self.styled("transform-origin")
        box = (self.styled("transform-box") or "view-box").lower()
        turns = (transform.a, transform.b, transform.c, transform.d) != (1.0, 0.0, 0.0, 1.0)
        relative = "%" in (styled or "") or turns
        if relative and box != "view-box":
            raise SvgError(
                f"its transform refers to transform-box: {box}, which is not followed here",
                remedy="Apply the transform in the drawing program, or use view-box.",
            )
        if origin is None or origin.lower() in _UNSET:
            return transform
        needs_unit = "transform-origin" in self.css
        return transform.about(*transform_origin(origin, self.basis, needs_unit=needs_unit))


_BOLD_FROM: Final = 600
"""Weight from which a text is bold: half way between 400 (normal) and 700 (bold)."""
_WEIGHTS: Final = {"bold": True, "bolder": True, "normal": False, "lighter": False}
_ALIGNMENTS: Final[dict[str, Align]] = {"start": "start", "middle": "middle", "end": "end"}

_MOST_DASHES: Final = 64
"""Dashes and spaces that are kept of a pattern; programs write up to a dozen."""

_STEPS_PER_MM: Final = 1e4
"""Widths and dashes are rounded to 0.1 um, so that equal styles compare equal."""


@dataclass(frozen=True, eq=False, slots=True)
class Look:
    """What an element takes over from those around it, lengths in its user units.

    The same declarations inside the same look give the same object.

    *color*: what ``currentColor`` is. *stroke*: as #rrggbb, or as written where it is no plain
    colour; empty where nothing is painted. *align*: which part of a text stands at its point.
    """

    color: str = "#000000"
    stroke: str = ""
    width: float = 1.0
    dash: tuple[float, ...] = ()
    align: Align = "start"
    bold: bool = False

    def inside(self, properties: Properties) -> Look:
        """Return the look of an element that lies in one that looks like this."""
        css, attributes = properties.css, properties.attributes
        said = tuple([(n, v) for n in LOOKS if (v := css.get(n, attributes.get(n))) is not None])
        return _changed(self, said, properties.basis) if said else self

    def line(self, transform: Affine, vector_effect: str | None) -> LineStyle:
        """Return the style of a line under a transform to mm; one that skews takes the mean."""
        if not self.stroke:
            return LineStyle()
        scale = transform.mean_stretch
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
    nodes = values(word)
    found = tinycss2.color3.parse_color(nodes[0]) if len(nodes) == 1 else None
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
