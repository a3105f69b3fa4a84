"""What an element takes over from the elements around it: place, look, clip and names."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Final, NamedTuple
from urllib.parse import unquote

import numpy as np
from lxml import etree

from ...errors import PanelshiftError, SvgError
from ...outline import FloatArray
from ..affine import Affine
from ..outlines import placed
from .elements import attributes_of, best_name, holders, own_id
from .lengths import Basis, font_size
from .primitives import SHAPES, drawn
from .properties import Look, Properties
from .styles import LOOKS, Styles


class Surroundings(NamedTuple):
    """The state that a container hands to its children.

    *transform*: from the children's user units to sheet mm. *basis*: what the children's relative
    lengths refer to. *clip*, shape (2, 2): as for `panelshift.pattern.drawing.Shape`. *frame*: the
    same of the nested viewports, which hide only what goes beyond them. *groups*:
    names of the containers, outermost first. *hidden_by*: ident of the element whose ``visibility``
    hides the children; empty if they show. *anchor*, *trail*: nearest id above, and the place of
    the container below it. *scope*: idents of the ``use`` elements being drawn, joined by ``/``.
    *uses*: those ``use`` elements, outermost first. *target*: what the innermost ``use`` refers to.
    *target_size*: width and height that this ``use`` gives to a symbol or svg.
    """

    transform: Affine
    basis: Basis
    look: Look
    clip: FloatArray | None = None
    frame: FloatArray | None = None
    groups: tuple[str, ...] = ()
    hidden_by: str = ""
    anchor: str = ""
    trail: str = ""
    scope: str = ""
    uses: tuple[etree._Element, ...] = ()
    target: etree._Element | None = None
    target_size: tuple[float | None, float | None] = (None, None)

    def ident(self, name: str, step: str) -> str:
        """Return an element's id, or its place such as ``g[1]/path[3] in layer1``."""
        if not name:
            name = f"{self.trail}{step}" + (f" in {self.anchor}" if self.anchor else "")
        return f"{self.scope}/{name}" if self.scope else name

    def inside(self, container: Properties, step: str) -> Surroundings:
        """Return the state for the children of a container, from its own."""
        name = best_name(container.element, container.attributes)
        ident = own_id(container.attributes)
        return self._replace(
            groups=(*self.groups, name) if name else self.groups,
            anchor=ident or self.anchor,
            trail="" if ident else f"{self.trail}{step}/",
        )

    def through(
        self,
        use: Properties,
        ident: str,
        target: etree._Element,
        size: tuple[float | None, float | None],
    ) -> Surroundings:
        """Return the surroundings for the element that a ``use`` refers to."""
        name = best_name(use.element, use.attributes)
        return self._replace(
            groups=(*self.groups, name) if name else self.groups,
            anchor="",
            trail="",
            scope=ident,
            uses=(*self.uses, use.element),
            target=target,
            target_size=size,
        )


_REFERENCE: Final = re.compile(r"""url\(\s*["']?#([^"')]+)["']?\s*\)""")

_UPRIGHT_SHARE: Final = 1e-6
"""Sides that lean by less than this share of the rectangle's size are upright."""


class Clips:
    """The clip rectangles of a file, each worked out once for each place it is used at.

    *styles_of*: winning declarations of an element with a style attribute. *find*: the element of
    an id, or None.
    """

    def __init__(
        self,
        styles_of: Callable[[etree._Element, str | None], Mapping[str, str]],
        find: Callable[[str], etree._Element | None],
    ) -> None:
        self._styles_of = styles_of
        self._find = find
        self._known: dict[tuple[str, Affine], FloatArray | None] = {}

    def inside(
        self, outer: FloatArray | None, properties: Properties, transform: Affine
    ) -> FloatArray | None:
        """Return the rectangle that shows an element's insides, given that around it."""
        reference = _REFERENCE.match(properties.styled("clip-path") or "")
        if reference is None:
            return outer
        key = (unquote(reference.group(1)), transform)
        if key not in self._known:
            self._known[key] = self._rectangle(self._find(key[0]), properties, transform)
        return both_clips(self._known[key], outer)

    def _rectangle(
        self, clip: etree._Element | None, user: Properties, transform: Affine
    ) -> FloatArray | None:
        """Return the corners in mm of a clipPath, if it is one upright rectangle."""
        if clip is None or clip.tag != "clipPath" or clip.get("clipPathUnits") not in _PLAIN:
            return None
        children = [child for child in clip if child.tag not in ("title", "desc")]
        if len(children) != 1 or children[0].tag not in SHAPES:
            return None
        (child,) = children
        try:
            for element in (clip, child):
                attributes = attributes_of(element)
                css = self._styles_of(element, attributes.get("style"))
                properties = Properties(element, attributes, css, user.basis)
                own = properties.transform()
                transform = transform if own is None else transform @ own
            result = drawn(str(child.tag), properties, transform.stretch)
            count = len(result.outlines)
            curves = placed(result.outlines, [transform] * count, [""] * count)
        except PanelshiftError:
            # What only clips is not looked at otherwise; a fault in it harms no line.
            return None
        if len(curves) != 1 or len(curves[0]) != _SIDES or not (curves[0].degree == 1).all():
            return None
        corners = curves[0].control[:, 0]
        box = np.array([corners.min(axis=0), corners.max(axis=0)])
        slack = _UPRIGHT_SHARE * float((box[1] - box[0]).max())
        # Each corner of a rectangle lies in a corner of its box.
        upright = (np.abs(corners[:, None] - box).min(axis=1) <= slack).all()
        return box if upright else None


def both_clips(own: FloatArray | None, outer: FloatArray | None) -> FloatArray | None:
    """Return what an upright rectangle and the one around it both show."""
    if own is None or outer is None:
        return outer if own is None else own
    return np.array([np.maximum(own[0], outer[0]), np.minimum(own[1], outer[1])])


_PLAIN: Final = (None, "userSpaceOnUse")
_SIDES: Final = 4


class Inheritance:
    """Works out what an element has of its own, and what it takes over.

    *find*: the element of an id, or None.
    """

    def __init__(self, styles: Styles, find: Callable[[str], etree._Element | None]) -> None:
        self._styles = styles
        self._clips = Clips(styles.of, find)
        # A dict keeps each doubt once, in order.
        self.doubts: dict[str, None] = {}
        # What the last styled element lay in, what its style said and what came of it: lines
        # next to each other mostly look alike.
        self._last: tuple[Surroundings, Mapping[str, str], Surroundings] | None = None

    def properties(self, element: etree._Element, basis: Basis) -> Properties:
        """Return what an element says of itself."""
        attributes = attributes_of(element)
        css = self._styles.of(element, attributes.get("style"))
        return Properties(element, attributes, css, basis)

    def font_size(self, properties: Properties) -> float:
        """Return an element's own font size, in user units, given that around it."""
        text = properties.styled("font-size")
        if text is None:
            return properties.basis.font_size
        if text.strip().lower().endswith("ex"):
            self.doubts[_EX] = None
        return font_size(text, properties.basis.font_size)

    def with_look(self, own: Surroundings, properties: Properties) -> Surroundings:
        """Return an element's state with its own look."""
        plain = LOOKS.isdisjoint(properties.attributes)
        last = self._last
        if plain and last is not None and last[0] is own and last[1] is properties.css:
            return last[2]
        look = own.look.inside(properties)
        result = own if look is own.look else own._replace(look=look)
        if plain:
            self._last = (own, properties.css, result)
        return result

    def own(self, properties: Properties, ident: str, around: Surroundings) -> Surroundings:
        """Return an element's own place, font size, clip and whether it is hidden."""
        basis = around.basis
        size = self.font_size(properties)
        if size != basis.font_size:
            basis = replace(basis, font_size=size)
            properties = properties._replace(basis=basis)
        own = properties.transform()
        transform = around.transform if own is None else around.transform @ own
        return around._replace(
            transform=transform,
            basis=basis,
            clip=self._clips.inside(around.clip, properties, transform),
            hidden_by=hidden_by(properties, ident, around),
        )

    def first_letter(self, properties: Properties, look: Look) -> tuple[float, Look]:
        """Return size and look of the letter that a text starts with, which a tspan may set."""
        size = properties.basis.font_size
        for holder in holders(properties.element)[1:]:
            basis = replace(properties.basis, font_size=size)
            inner = self.properties(holder, basis)
            with suppress(SvgError):
                # No line lies elsewhere for it, so a size that cannot be read is no fault.
                size = self.font_size(inner)
            look = look.inside(inner._replace(basis=replace(basis, font_size=size)))
        return size, look


def hidden_by(properties: Properties, ident: str, around: Surroundings) -> str:
    """Return the ident of the element whose visibility hides another; empty if it shows."""
    value = (properties.styled("visibility") or "").strip().lower()
    if value in ("hidden", "collapse"):
        return ident
    return "" if value in ("visible", "initial") else around.hidden_by


_EX: Final = "font sizes in ex are read as half an em each, as no font is at hand"
