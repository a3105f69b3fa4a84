"""The walk through an SVG file that gathers its curves and texts in millimetres.

What is drawn decides, as in a browser, with these differences: clipping, masking, opacity
and colours are not looked at (a line is read even where it is not painted, with the upright
rectangle that shows a part of it, if there is one), and faults that browsers pass over are errors.
"""

from __future__ import annotations

import os
from dataclasses import replace
from functools import cached_property
from typing import Final
from urllib.parse import unquote

from lxml import etree

from ...errors import PanelshiftError, SvgError
from ...pattern.drawing import Drawing
from ..affine import Affine
from .document import SvgDocument, load
from .elements import (
    ADDED,
    BOXES,
    CONDITIONS,
    GROUPS,
    UNDRAWN,
    attributes_of,
    condition,
    is_unpainted_box,
    moving_animation,
    own_id,
    own_title,
    steps,
)
from .gathering import Gathering
from .lengths import Basis, clipped
from .primitives import SHAPES
from .properties import Look, Properties
from .styles import LOOKS, UNREAD_TRANSFORMS, Styles
from .surroundings import Inheritance, Surroundings, both_clips, hidden_by
from .viewport import (
    AspectRatio,
    OutermostViewport,
    ViewBox,
    fitted,
    outermost,
    px_per_inch,
    viewport_frame,
)

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
_STATED: Final = frozenset(
    (
        *("display", "visibility", "transform", "transform-origin", "transform-box"),
        *("font-size", "clip-path", *CONDITIONS, *UNREAD_TRANSFORMS),
    )
)
"""What decides where an element lies and whether it is drawn; most elements say none of it."""

_HREFS: Final = ("href", "{http://www.w3.org/1999/xlink}href")


def read_svg(source: str | os.PathLike[str] | bytes, *, name: str = "") -> Drawing:
    """Read the curves and texts of an SVG file.

    *source*: a file (.svg or .svgz), or the SVG text itself as bytes. *name*: what to call the
    source in messages, if it is bytes.

    Returns: shapes and texts in document order, in mm, y downwards, with the origin at the top left
    of the outermost viewport. Lines, quadratics and cubics stay what they are; elliptical arcs are
    cubics within 1e-4 mm. Whatever is not read is in `left_out`.

    Raises `SvgError` if the file is not readable SVG, or an element's geometry cannot be trusted.
    Raises `CurveError` if a shape's coordinates are not finite or beyond 100 m.

    Examples
    --------
    >>> drawing = read_svg(b'<svg xmlns="http://www.w3.org/2000/svg" width="1in" height="1in">'
    ...                    b'<line id="a" x2="96"/></svg>')
    >>> drawing.shapes[0].ident, drawing.shapes[0].curve.end.tolist()
    ('a', [25.4, 0.0])
    """
    document = load(source, name)
    return _Reader(document).drawing()


def page_map(document: SvgDocument) -> Affine:
    """The map from a document's outermost user units to mm."""
    return _Reader(document)._start(document.root).transform


class _Reader:
    """One pass over a document, with an explicit stack of elements still to be seen."""

    def __init__(self, document: SvgDocument) -> None:
        self._document = document
        try:
            self._styles = Styles(document.root)
        except PanelshiftError as error:
            raise error.located(source=document.source, element="style") from error
        self._found = Gathering()
        self._expanded = 0
        self._inherited = Inheritance(self._styles, lambda ident: self._by_id.get(ident))
        self._stack: list[tuple[etree._Element, str, Surroundings]] = []

    def drawing(self) -> Drawing:
        """Walk the document and return what was found."""
        root, source = self._document.root, self._document.source
        warnings = (*self._document.warnings, *self._styles.warnings)
        try:
            sheet = self._start(root)
        except PanelshiftError as error:
            raise error.located(
                source=source, element=own_id(attributes_of(root)) or "svg"
            ) from error
        while self._stack:
            element, step, around = self._stack.pop()
            try:
                self._visit(element, step, around)
            except PanelshiftError as error:
                place = clipped(around.ident(own_id(attributes_of(element)), step))
                raise error.located(source=source, element=place) from error
        try:
            drawing = self._found.drawing(
                source, (*warnings, *sheet.warnings, *self._inherited.doubts), sheet.transform
            )
        except PanelshiftError as error:
            raise error.located(source=source) from error
        return replace(
            drawing,
            in_px=sheet.in_px,
            title=own_title(root),
            page=sheet.rectangle,
            px_per_inch=px_per_inch(root, sheet.rectangle) if sheet.in_px else None,
        )

    def _start(self, root: etree._Element) -> OutermostViewport:
        """Read the page, and put what lies on it on the stack."""
        moving = moving_animation(root)
        if moving is not None:
            raise SvgError(
                f"an animation (<{moving.tag}>) moves or hides lines",
                remedy="Delete the animation; a pattern does not move.",
                element=own_id(attributes_of(moving)),
            )
        basis = Basis(None, None)
        properties = self._inherited.properties(root, basis)
        basis = replace(basis, font_size=self._inherited.font_size(properties))
        properties = properties._replace(basis=basis)
        sheet = outermost(properties)
        ident = own_id(properties.attributes) or "svg"
        if _is_undisplayed(properties):
            self._found.leave_whole(root, ident, "display: none")
        else:
            # The outermost title names the sheet, not the lines on it: it is no group.
            around = Surroundings(sheet.transform, sheet.basis, Look().inside(properties))
            self._push(root, around._replace(hidden_by=hidden_by(properties, ident, around)))
        return sheet

    def _push(self, container: etree._Element, around: Surroundings) -> None:
        self._stack.extend((child, step, around) for child, step in reversed([*steps(container)]))

    def _visit(self, element: etree._Element, step: str, around: Surroundings) -> None:
        tag = str(element.tag)
        if tag in UNDRAWN and element is not around.target:
            return
        if around.uses:
            self._count_expanded()
        properties = self._inherited.properties(element, around.basis)
        name = own_id(properties.attributes)
        ident = around.ident(name, step)
        if ADDED in properties.attributes:
            self._found.leave_whole(element, ident, f"panelshift drew it, as {ADDED} says")
            return
        if is_unpainted_box(tag, properties.attributes):
            # Told once for all of them: there is one before each line, outline and text.
            self._found.leave(f"class {BOXES}", "rectangles that are not painted", counted=True)
            return
        own = around
        if not (_STATED.isdisjoint(properties.attributes) and _STATED.isdisjoint(properties.css)):
            # A symbol that is referred to is drawn whatever its own display (SVG 2, section 5.5).
            undrawn = "display: none" if _is_undisplayed(properties) and tag != "symbol" else ""
            if undrawn := undrawn or condition(properties.attributes):
                self._found.leave_whole(element, ident, undrawn)
                return
            own = self._inherited.own(properties, ident, around)
            properties = properties._replace(basis=own.basis)
        if properties.css or not LOOKS.isdisjoint(properties.attributes):
            own = self._inherited.with_look(own, properties)

        if tag in SHAPES or tag == "text":
            if own.hidden_by:
                self._found.leave(own.hidden_by, "hidden", counted=own.hidden_by != ident)
            elif not own.transform.stretch <= MOST_STRETCH:
                raise SvgError(
                    "its transforms multiply up to more than any length",
                    remedy="Check the transforms of the element and its groups.",
                )
            elif own.transform.is_flat:
                self._found.leave(ident, "its transforms flatten it to nothing")
            elif tag == "text":
                size, look = self._inherited.first_letter(properties, own.look)
                self._found.add_text(properties, ident, own, size, look)
            else:
                self._found.add_shapes(tag, properties, name, ident, own)
        elif tag in GROUPS:
            self._push(element, own.inside(properties, step))
        elif tag == "switch":
            self._take_branch(element, own.inside(properties, step))
        elif tag in ("svg", "symbol"):
            self._enter_viewport(properties, ident, own, own.inside(properties, step))
        elif tag == "use":
            self._follow_use(properties, ident, own)
        else:
            self._found.leave(ident, _REASONS.get(tag, f"the element <{tag}> is not known"))

    # -- what is entered ------------------------------------------------------------

    def _take_branch(self, switch: etree._Element, inner: Surroundings) -> None:
        """Go on to the first child whose conditions hold (SVG 2, section 5.9)."""
        taken = False
        for child, step in steps(switch):
            if child.tag in UNDRAWN:
                continue
            own = attributes_of(child)
            reason = "another branch of its switch is drawn" if taken else condition(own)
            if reason:
                self._found.leave_whole(child, inner.ident(own_id(own), step), reason)
            else:
                taken = True
                self._stack.append((child, step, inner))

    def _enter_viewport(
        self, properties: Properties, ident: str, around: Surroundings, inner: Surroundings
    ) -> None:
        """Go into a nested svg, or a symbol that is used (SVG 2, sections 5.5 and 8.2)."""
        element = properties.element
        basis = properties.basis
        given = around.target_size if element is around.target else (None, None)
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
        frame = inner.frame
        if width is not None and height is not None and not _overflows(properties):
            own = viewport_frame(inner.transform, x, y, width, height)
            frame = both_clips(own, frame)
        inner = inner._replace(transform=inner.transform @ placed, basis=inside, frame=frame)
        self._push(element, inner)

    def _follow_use(self, properties: Properties, ident: str, around: Surroundings) -> None:
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
        if use in around.uses:
            raise SvgError(
                f"it draws itself again and again through {href}",
                remedy="Delete the copy, or unlink it in the drawing program.",
            )
        if len(around.uses) >= MOST_USES:
            raise SvgError(
                f"copies (use) of copies lie more than {MOST_USES} deep",
                remedy="Unlink the copies in the drawing program.",
            )
        x, y = properties.length("x", "x"), properties.length("y", "y")
        # Only a symbol or svg takes a size from a copy.
        size = _own_size(properties) if tag in ("symbol", "svg") else (None, None)
        state = around._replace(transform=around.transform @ Affine.translation(x, y))
        self._stack.append((target, f"{tag}[1]", state.through(properties, ident, target, size)))

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


def _overflows(properties: Properties) -> bool:
    """Whether a nested viewport shows what lies beyond it (SVG 2, section 8.6)."""
    # Browsers hide it unless something is said, though the property's own initial value does not.
    value = (properties.styled("overflow") or "hidden").strip().lower()
    return value in ("visible", "auto", "initial", "unset")


def _is_undisplayed(properties: Properties) -> bool:
    value = (properties.styled("display") or "").strip().lower()
    if value == "contents":
        raise SvgError(
            f"display: {value} is read differently by programs",
            remedy="Write display: none to hide an element, or nothing to show it.",
        )
    return value == "none"
