"""The walk through an SVG file that gathers its curves and texts in millimetres.

What is drawn decides, as in a browser, with these differences: clipping, masking, opacity
and colours are not looked at (a line is read even where it is not painted), and faults that
browsers pass over are errors.
"""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import replace
from functools import cached_property
from typing import Final
from urllib.parse import unquote

from lxml import etree

from ...errors import PanelshiftError, SvgError
from ...pattern.drawing import Drawing
from . import texts
from .affine import Affine
from .clips import Clips
from .document import Document, load
from .elements import (
    GROUPS,
    UNDRAWN,
    condition,
    moving_animation,
    steps,
)
from .frames import Frame
from .gathering import Gathering
from .lengths import Basis
from .looks import Look
from .naming import own_id, own_title
from .numbers import clipped
from .page import Page, page
from .primitives import SHAPES
from .properties import Properties
from .styles import Styles
from .viewport import AspectRatio, ViewBox, fitted

MOST_USES: Final = 64
"""No drawing needs ``use`` of ``use`` deeper than this."""

MOST_EXPANDED: Final = 20_000
"""Elements drawn through ``use`` at most: a few lines of SVG can ask for billions."""

MOST_STRETCH: Final = 1e100
"""Most by which nested transforms may lengthen anything; the square must still be a number."""

_REASONS: Final = {
    "image": "a picture is not read",
    "foreignObject": "text or markup that is not SVG is not read",
}
_HREFS: Final = ("href", "{http://www.w3.org/1999/xlink}href")


def read_svg(source: str | os.PathLike[str] | bytes, *, name: str = "") -> Drawing:
    """Read the curves and texts of an SVG file.

    Parameters
    ----------
    source : str, PathLike or bytes
        A file (.svg or .svgz), or the SVG text itself as bytes.
    name : str
        What to call the source in messages, if it is bytes.

    Returns
    -------
    Drawing
        Shapes and texts in document order, in mm, y downwards, with the origin at the top
        left of the outermost viewport. Lines, quadratics and cubics stay what they are;
        elliptical arcs are cubics within 1e-4 mm. Whatever is not read is in `left_out`.

    Raises
    ------
    SvgError
        If the file is not readable SVG, or an element's geometry cannot be trusted.
    CurveError
        If a shape's coordinates are not finite or beyond 100 m.

    Examples
    --------
    >>> drawing = read_svg(b'<svg xmlns="http://www.w3.org/2000/svg" width="1in" height="1in">'
    ...                    b'<line id="a" x2="96"/></svg>')
    >>> drawing.shapes[0].ident, drawing.shapes[0].curve.end.tolist()
    ('a', [25.4, 0.0])
    """
    document = load(source, name)
    return _Walk(document).drawing()


class _Walk:
    """One pass over a document, with an explicit stack of elements still to be seen."""

    def __init__(self, document: Document) -> None:
        self._document = document
        try:
            self._styles = Styles(document.root)
        except PanelshiftError as error:
            raise error.located(source=document.source, element="style") from error
        self._found = Gathering()
        self._expanded = 0
        self._clips = Clips(self._styles.of, lambda ident: self._by_id.get(ident))
        self._stack: list[tuple[etree._Element, str, Frame]] = []

    def drawing(self) -> Drawing:
        """Walk the document and return what was found."""
        root, source = self._document.root, self._document.source
        warnings = (*self._document.warnings, *self._styles.warnings)
        try:
            sheet = self._start(root)
        except PanelshiftError as error:
            raise error.located(source=source, element=own_id(root) or "svg") from error
        while self._stack:
            element, step, frame = self._stack.pop()
            try:
                self._visit(element, step, frame)
            except PanelshiftError as error:
                place = clipped(frame.ident(element, step))
                raise error.located(source=source, element=place) from error
        return replace(
            self._found.drawing(source, (*warnings, *sheet.warnings)),
            in_px=sheet.in_px,
            title=own_title(root),
            page=sheet.rectangle,
        )

    def _start(self, root: etree._Element) -> Page:
        """Read the page, and put what lies on it on the stack."""
        moving = moving_animation(root)
        if moving is not None:
            raise SvgError(
                f"an animation (<{moving.tag}>) moves or hides lines",
                remedy="Delete the animation; a pattern does not move.",
                element=own_id(moving),
            )
        basis = Basis(None, None)
        properties = Properties(root, self._styles.of(root), basis)
        basis = replace(basis, font_size=properties.font_size(basis.font_size))
        properties = replace(properties, basis=basis)
        sheet = page(properties)
        ident = own_id(root) or "svg"
        if _is_undisplayed(properties):
            self._found.leave_whole(root, ident, "display: none")
        else:
            # The outermost title names the sheet, not the lines on it: it is no group.
            frame = Frame(sheet.transform, sheet.basis, Look().inside(properties))
            self._push(root, replace(frame, hidden_by=_hidden_by(properties, ident, frame)))
        return sheet

    def _push(self, container: etree._Element, frame: Frame) -> None:
        self._stack.extend((child, step, frame) for child, step in reversed([*steps(container)]))

    def _visit(self, element: etree._Element, step: str, frame: Frame) -> None:
        tag = str(element.tag)
        is_target = element is frame.target
        if tag in UNDRAWN and not is_target:
            return
        if frame.uses:
            self._count_expanded()
        ident = frame.ident(element, step)
        properties = Properties(element, self._styles.of(element), frame.basis)
        # A symbol that is referred to is drawn whatever its own display (SVG 2, section 5.5).
        if _is_undisplayed(properties) and tag != "symbol":
            self._found.leave_whole(element, ident, "display: none")
            return
        if reason := condition(element):
            self._found.leave_whole(element, ident, reason)
            return
        basis = frame.basis
        size = properties.font_size(basis.font_size)
        if size != basis.font_size:
            basis = replace(basis, font_size=size)
            properties = replace(properties, basis=basis)
        hidden_by = _hidden_by(properties, ident, frame)
        own = properties.transform()
        transform = frame.transform if own is None else frame.transform @ own
        look = frame.look.inside(properties)
        clip = self._clips.inside(frame.clip, properties, transform)
        if look is not frame.look or clip is not frame.clip:
            frame = replace(frame, look=look, clip=clip)

        if tag in SHAPES or tag == "text":
            if hidden_by:
                self._found.leave(hidden_by, "hidden", counted=hidden_by != ident)
            elif not transform.stretch <= MOST_STRETCH:
                raise SvgError(
                    "its transforms multiply up to more than any length",
                    remedy="Check the transforms of the element and its groups.",
                )
            elif transform.is_flat:
                self._found.leave(ident, "its transforms flatten it to nothing")
            elif tag == "text":
                size, look = self._first_letter(properties, look)
                self._found.add_text(properties, ident, replace(frame, look=look), transform, size)
            else:
                self._found.add_shapes(tag, properties, ident, frame, transform)
        elif tag in GROUPS:
            self._push(element, frame.inside(element, step, transform, basis, hidden_by))
        elif tag == "switch":
            inner = frame.inside(element, step, transform, basis, hidden_by)
            self._take_branch(element, inner)
        elif tag in ("svg", "symbol"):
            self._enter_viewport(
                properties, ident, frame, frame.inside(element, step, transform, basis, hidden_by)
            )
        elif tag == "use":
            state = replace(frame, transform=transform, basis=basis, hidden_by=hidden_by)
            self._follow_use(properties, ident, state)
        else:
            self._found.leave(ident, _REASONS.get(tag, f"the element <{tag}> is not known"))

    def _first_letter(self, properties: Properties, look: Look) -> tuple[float, Look]:
        """Return size and look of the letter that a text starts with, which a tspan may set."""
        size = properties.basis.font_size
        for holder in texts.holders(properties.element)[1:]:
            basis = replace(properties.basis, font_size=size)
            inner = Properties(holder, self._styles.of(holder), basis)
            with suppress(SvgError):
                # No line lies elsewhere for it, so a size that cannot be read is no fault.
                size = inner.font_size(size)
            look = look.inside(replace(inner, basis=replace(basis, font_size=size)))
        return size, look

    # -- what is entered ------------------------------------------------------------

    def _take_branch(self, switch: etree._Element, inner: Frame) -> None:
        """Go on to the first child whose conditions hold (SVG 2, section 5.9)."""
        taken = False
        for child, step in steps(switch):
            if child.tag in UNDRAWN:
                continue
            reason = "another branch of its switch is drawn" if taken else condition(child)
            if reason:
                self._found.leave_whole(child, inner.ident(child, step), reason)
            else:
                taken = True
                self._stack.append((child, step, inner))

    def _enter_viewport(
        self, properties: Properties, ident: str, frame: Frame, inner: Frame
    ) -> None:
        """Go into a nested svg, or a symbol that is used (SVG 2, sections 5.5 and 8.2)."""
        element = properties.element
        basis = properties.basis
        given = frame.target_size if element is frame.target else (None, None)
        width, height = _own_size(properties)
        width = width if given[0] is None else given[0]
        height = height if given[1] is None else given[1]
        width = basis.width if width is None else width
        height = basis.height if height is None else height
        for name, size in (("width", width), ("height", height)):
            if size is not None and size <= 0.0:
                self._found.leave(ident, f"its {name} is {'0' if size == 0.0 else 'negative'}")
                return
        box = ViewBox.parse(element.get("viewBox"))
        aspect = AspectRatio.parse(element.get("preserveAspectRatio"))
        x = properties.attribute_length("x", "x") or 0.0
        y = properties.attribute_length("y", "y") or 0.0
        if box is None:
            placed, inside = Affine.translation(x, y), replace(basis, width=width, height=height)
        elif width is None or height is None:
            raise SvgError(
                "it fills a page whose size is not stated",
                remedy="Give the outermost <svg> a width and height in mm, or a viewBox.",
            )
        else:
            placed = fitted(box, aspect, width, height, x, y)
            inside = basis.resized(box.width, box.height)
        self._push(element, replace(inner, transform=inner.transform @ placed, basis=inside))

    def _follow_use(self, properties: Properties, ident: str, frame: Frame) -> None:
        """Go on to the element that a use refers to (SVG 2, section 5.6)."""
        use = properties.element
        href = next((use.get(name) for name in _HREFS if name in use.attrib), None)
        href = (href or "").strip()
        if not href.startswith("#"):
            what = f"another file ({href})" if href else "nothing"
            self._found.leave(ident, f"it refers to {what}")
            return
        target = self._by_id.get(unquote(href[1:]))
        if target is None:
            self._found.leave(ident, f"it refers to {href}, which is not in the file")
            return
        tag = str(target.tag)
        if "}" in tag or (tag in UNDRAWN and tag != "symbol"):
            self._found.leave(ident, f"it refers to {href}, a <{tag}>, which draws nothing")
            return
        if use in frame.uses:
            raise SvgError(
                f"it draws itself again and again through {href}",
                remedy="Delete the copy, or unlink it in the drawing program.",
            )
        if len(frame.uses) >= MOST_USES:
            raise SvgError(
                f"copies (use) of copies lie more than {MOST_USES} deep",
                remedy="Unlink the copies in the drawing program.",
            )
        x, y = properties.length("x", "x"), properties.length("y", "y")
        # Only a symbol or svg takes a size from a copy.
        size = _own_size(properties) if tag in ("symbol", "svg") else (None, None)
        state = replace(frame, transform=frame.transform @ Affine.translation(x, y))
        self._stack.append((target, f"{tag}[1]", state.through(use, ident, target, size)))

    @cached_property
    def _by_id(self) -> dict[str, etree._Element]:
        found: dict[str, etree._Element] = {}
        for element in self._document.root.iter("*"):
            ident = element.get("id")
            if ident:
                found.setdefault(ident, element)
        return found

    def _count_expanded(self) -> None:
        self._expanded += 1
        if self._expanded > MOST_EXPANDED:
            raise SvgError(
                f"copies (use) make up more than {MOST_EXPANDED} elements",
                remedy="Unlink the copies in the drawing program and delete those not needed.",
            )


def _own_size(properties: Properties) -> tuple[float | None, float | None]:
    return properties.attribute_length("width", "x"), properties.attribute_length("height", "y")


def _is_undisplayed(properties: Properties) -> bool:
    value = (properties.styled("display") or "").strip().lower()
    if value == "contents":
        raise SvgError(
            f"display: {value} is read differently by programs",
            remedy="Write display: none to hide an element, or nothing to show it.",
        )
    return value == "none"


def _hidden_by(properties: Properties, ident: str, frame: Frame) -> str:
    value = (properties.styled("visibility") or "").strip().lower()
    if value in ("hidden", "collapse"):
        return ident
    return "" if value in ("visible", "initial") else frame.hidden_by
