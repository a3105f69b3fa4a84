"""One element's attributes and styles, read together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lxml import etree

from ...errors import SvgError
from .affine import Affine
from .lengths import Axis, Basis, font_size, user_length
from .styles import UNREAD_TRANSFORMS
from .transforms import attribute_transform, css_transform, transform_origin

_ATTRIBUTES_ONLY: Final = frozenset(("x1", "y1", "x2", "y2", "points"))
_RADII: Final = frozenset(("rx", "ry"))
_UNMOVED: Final = ("none", "normal", "auto", "initial", "unset", "1", "100%", "0deg", "0", "0px")
_UNSET: Final = ("initial", "unset")
_REFUSED: Final = ("inherit", "revert", "revert-layer")


@dataclass(frozen=True, eq=False, slots=True)
class Properties:
    """What an element says of its own geometry.

    Parameters
    ----------
    element : lxml element
    css : mapping of str to str
        Winning declarations of style sheets and the style attribute.
    basis : Basis
        What its relative lengths refer to.
    """

    element: etree._Element
    css: Mapping[str, str]
    basis: Basis

    def styled(self, name: str) -> str | None:
        """Return a property's value as styled, or else as written in an attribute."""
        value = self.css.get(name)
        return self.element.get(name) if value is None else value

    def geometry(self, name: str) -> tuple[str, bool] | None:
        """Return a geometry property's text and whether it comes from a style.

        None where it is missing, initial or auto.

        Raises
        ------
        SvgError
            If a style asks for a value that is not worked out here.
        """
        value = None if name in _ATTRIBUTES_ONLY else self.css.get(name)
        if value is None:
            text = self.element.get(name)
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
        """Return a length in user units, or None where it is missing or auto.

        Raises
        ------
        SvgError
            If it is no length.
        """
        found = self.geometry(name)
        if found is None:
            return None
        text, styled = found
        return user_length(text, name=name, axis=axis, basis=self.basis, needs_unit=styled)

    def attribute_length(self, name: str, axis: Axis) -> float | None:
        """Return a length that only an attribute may give, or None where it is missing.

        Raises
        ------
        SvgError
            If it is no length, or a style gives it too.
        """
        if name in self.css:
            raise SvgError(
                f"the style {name} of <{self.element.tag}> is read differently by programs",
                remedy=f"Write {name} as an attribute.",
            )
        return self.optional_length(name, axis)

    def length(self, name: str, axis: Axis, default: float = 0.0) -> float:
        """Return a length in user units, or the default where it is missing or auto.

        Raises
        ------
        SvgError
            If it is no length.
        """
        value = self.optional_length(name, axis)
        return default if value is None else value

    def font_size(self, parent: float) -> float:
        """Return the element's font size in user units.

        Raises
        ------
        SvgError
            If it is no size.
        """
        text = self.styled("font-size")
        return parent if text is None else font_size(text, parent)

    def transform(self) -> Affine | None:
        """Return the element's own transform about its transform-origin; None if it has none.

        Raises
        ------
        SvgError
            If it cannot be read, or depends on a box that is not worked out here.
        """
        for name in UNREAD_TRANSFORMS:
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
            text = self.element.get("transform")
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
