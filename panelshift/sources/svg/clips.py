"""The upright rectangles that show a part of a drawing only.

Nothing is cut off by them: a line is read whole. But a line that runs along such a rectangle
was likely cut off there by the program that wrote it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Final
from urllib.parse import unquote

import numpy as np
from lxml import etree

from ...errors import PanelshiftError
from ...outline import FloatArray
from .affine import Affine
from .primitives import SHAPES, drawn
from .properties import Properties

_REFERENCE: Final = re.compile(r"""url\(\s*["']?#([^"')]+)["']?\s*\)""")

_UPRIGHT_SHARE: Final = 1e-6
"""Sides that lean by less than this share of the rectangle's size are upright."""


class Clips:
    """The clip rectangles of a file, each worked out once for each place it is used at.

    Parameters
    ----------
    styles_of : callable
        Winning declarations of an element.
    find : callable
        The element of an id, or None.
    """

    def __init__(
        self,
        styles_of: Callable[[etree._Element], Mapping[str, str]],
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
        own = self._known[key]
        if own is None or outer is None:
            return outer if own is None else own
        return np.array([np.maximum(own[0], outer[0]), np.minimum(own[1], outer[1])])

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
                properties = Properties(element, self._styles_of(element), user.basis)
                own = properties.transform()
                transform = transform if own is None else transform @ own
            result = drawn(str(child.tag), properties, transform.stretch)
            curves = [outline.placed(transform) for outline in result.outlines]
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


_PLAIN: Final = (None, "userSpaceOnUse")
_SIDES: Final = 4
