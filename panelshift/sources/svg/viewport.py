"""Viewports: how a box of user units is fitted into one, and the outermost one, the page.

And what a file tells of its own past: a page that was shrunk to fit, other dots to the inch.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from lxml import etree

from ...errors import PanelshiftError, SvgError
from ...outline import Curve, FloatArray
from ...units import MM_PER_INCH
from ..affine import Affine
from .lengths import MM_PER_PX, Basis, absolute_mm, clipped, number_and_unit, number_list
from .properties import Properties
from .transforms import attribute_transform

_SHARES: Final = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
_ALIGNMENTS: Final = {f"x{x}Y{y}": (_SHARES[x], _SHARES[y]) for x in _SHARES for y in _SHARES}


@dataclass(frozen=True, slots=True)
class ViewBox:
    """The rectangle of user units that is shown, width and height above 0."""

    x: float
    y: float
    width: float
    height: float

    @classmethod
    def parse(cls, text: str | None) -> ViewBox | None:
        """Read a viewBox attribute; None where there is none."""
        if text is None:
            return None
        numbers = number_list(text, f'viewBox="{clipped(text)}"')
        if len(numbers) != 4 or min(numbers[2:]) <= 0.0:
            raise SvgError(
                f'viewBox="{clipped(text)}" is not four numbers with width and height above 0',
                remedy="Write viewBox as min-x min-y width height.",
            )
        return cls(*numbers)


@dataclass(frozen=True, slots=True)
class AspectRatio:
    """How a viewBox of another shape than its viewport is placed.

    *x*, *y*: share of the spare room before the box: 0 for Min, 0.5 for Mid, 1 for Max. *slices*:
    whether the box covers the viewport (slice) or lies inside it (meet). *stretches*: whether x and
    y are scaled apart (none).
    """

    x: float = 0.5
    y: float = 0.5
    slices: bool = False
    stretches: bool = False

    @classmethod
    def parse(cls, text: str | None) -> AspectRatio:
        """Read a preserveAspectRatio attribute; xMidYMid meet where there is none."""
        words = (text or "").split()
        if words[:1] == ["defer"]:
            # SVG 1.1 let an embedded picture's own value win; it means nothing elsewhere.
            words = words[1:]
        if not words and text is None:
            return cls()
        fits = words[1] if len(words) == 2 else "meet"
        known = words[:1] == ["none"] or (words[:1] and words[0] in _ALIGNMENTS)
        if not known or len(words) > 2 or fits not in ("meet", "slice"):
            raise SvgError(
                f'preserveAspectRatio="{clipped(text or "")}" is none of the known forms',
                remedy="Write none, or one like xMidYMid, with meet or slice after it.",
            )
        if words[0] == "none":
            return cls(stretches=True)
        x, y = _ALIGNMENTS[words[0]]
        return cls(x, y, slices=fits == "slice")


def fitted(
    box: ViewBox, aspect: AspectRatio, width: float, height: float, x: float = 0.0, y: float = 0.0
) -> Affine:
    """Map a viewBox into the viewport at (x, y) of a given size.

    Follows the algorithm of SVG 2, section 8.2 ("equivalent transform of an SVG viewport").
    Nothing is clipped.
    """
    scale_x, scale_y = width / box.width, height / box.height
    if not aspect.stretches:
        scale_x = scale_y = max(scale_x, scale_y) if aspect.slices else min(scale_x, scale_y)
    return Affine(
        a=scale_x,
        d=scale_y,
        e=x - box.x * scale_x + aspect.x * (width - box.width * scale_x),
        f=y - box.y * scale_y + aspect.y * (height - box.height * scale_y),
    )


def viewport_frame(
    transform: Affine, x: float, y: float, width: float, height: float
) -> FloatArray | None:
    """Return the corners in mm of a nested viewport, beyond which nothing of it is shown.

    *transform*: from the user units around it to mm. None where it does not lie upright.
    """
    across, aslant = abs(transform.a) + abs(transform.d), abs(transform.b) + abs(transform.c)
    if min(across, aslant) > _LEANING * max(across, aslant):
        return None
    ends = np.array([transform.point(x, y), transform.point(x + width, y + height)])
    return np.array([ends.min(axis=0), ends.max(axis=0)])


_LEANING: Final = 1e-6

_STRETCH_NOTICED = 1e-6
_MISFIT_NOTICED = 1e-3
"""Sides of a page are rounded to full px or mm, by less than this part of them."""


@dataclass(frozen=True, slots=True)
class OutermostViewport:
    """The outermost viewport.

    *transform*: from user units to mm, the origin at the viewport's top left. *basis*: what
    percentages and em on the page refer to, in user units. *warnings*: doubts about the scale.
    *in_px*: whether its size is given in px alone. *rectangle*, shape (2, 2): low and high corner
    of the viewport in mm; None if its size is not stated.
    """

    transform: Affine
    basis: Basis
    warnings: tuple[str, ...] = ()
    in_px: bool = False
    rectangle: FloatArray | None = None


def outermost(properties: Properties) -> OutermostViewport:
    """Read the outermost svg's width, height, viewBox and preserveAspectRatio.

    *properties*: of the outermost svg.
    """
    root = properties.element
    transform = properties.transform()
    if transform is not None and transform != Affine():
        raise SvgError(
            "the outermost <svg> has a transform, which drawing programs read differently",
            remedy="Move it to a group inside, or apply it and remove it.",
        )
    sizes: dict[str, float | None] = {}
    units = set()
    for name in ("width", "height"):
        found = properties.geometry(name)
        sizes[name] = None if found is None else absolute_mm(found[0], name, needs_unit=found[1])
        if found is not None and sizes[name] is not None:
            units.add(number_and_unit(found[0], name)[1] or "px")
    box = ViewBox.parse(root.get("viewBox"))
    aspect = AspectRatio.parse(root.get("preserveAspectRatio"))
    place = f'<svg id="{root.get("id")}">' if root.get("id") else "<svg>"
    in_px = units == {"px"}
    if box is None:
        return replace(_without_box(sizes, properties, place), in_px=in_px)

    warnings: list[str] = []
    stated = {name: size for name, size in sizes.items() if size is not None}
    unstated = " and ".join(_written(properties, name) for name in sizes if name not in stated)
    box_text = f'viewBox="{root.get("viewBox")}"'
    width, height = stated.get("width"), stated.get("height")
    if not stated:
        width, height = box.width * MM_PER_PX, box.height * MM_PER_PX
        warnings.append(
            f"{place} has {unstated}, so its scale is not stated: one unit of {box_text} is "
            f"taken as 1 px = {MM_PER_PX:.4f} mm"
        )
    elif width is None or height is None:
        scale = width / box.width if width is not None else (height or 0.0) / box.height
        width, height = box.width * scale, box.height * scale
        warnings.append(
            f"{place} has {unstated}; one unit of {box_text} is taken as {scale:.6g} mm, as "
            f"{' and '.join(_written(properties, name) for name in stated)} says"
        )
    transform = fitted(box, aspect, width, height)
    if aspect.stretches and abs(transform.a / transform.d - 1.0) > _STRETCH_NOTICED:
        warnings.append(
            f'{place} has preserveAspectRatio="none" and stretches the drawing: one unit of '
            f"{box_text} is {transform.a:.6g} mm across and {transform.d:.6g} mm down"
        )
    across, down = width / box.width, height / box.height
    if not aspect.stretches and abs(across / down - 1.0) > _MISFIT_NOTICED:
        warnings.append(
            f"{place} was fitted to its page: its width makes one unit of {box_text} "
            f"{across:.6g} mm, its height {down:.6g} mm; {transform.a:.6g} mm are taken"
        )
    basis = properties.basis.resized(box.width, box.height)
    return OutermostViewport(transform, basis, tuple(warnings), in_px, _rectangle(width, height))


def _without_box(
    sizes: dict[str, float | None], properties: Properties, place: str
) -> OutermostViewport:
    """Without a viewBox, SVG 2, section 8.2, makes one user unit one px."""
    width, height = sizes["width"], sizes["height"]
    basis = Basis(
        None if width is None else width / MM_PER_PX,
        None if height is None else height / MM_PER_PX,
        properties.basis.font_size,
    )
    warnings: tuple[str, ...] = ()
    if width is None and height is None:
        names = " and ".join(_written(properties, name) for name in sizes)
        warnings = (
            f"{place} has {names} and no viewBox, so its scale is not stated: one unit is taken "
            f"as 1 px = {MM_PER_PX:.4f} mm",
        )
    rectangle = _rectangle(width, height)
    return OutermostViewport(
        Affine.scaling(MM_PER_PX, MM_PER_PX), basis, warnings, rectangle=rectangle
    )


def _rectangle(width: float | None, height: float | None) -> FloatArray | None:
    if width is None or height is None:
        return None
    return np.array([[0.0, 0.0], [width, height]])


def _written(properties: Properties, name: str) -> str:
    value = properties.styled(name)
    return f"no {name}" if value is None else f'{name}="{value}"'


_LARGE_MM: Final = 20.0
"""Letters drawn as outlines have transforms of their own, and are smaller."""

_NEARLY_ALL: Final = 0.8
_LEAST_SHRINK: Final = 0.9
"""What is drawn at less than this part of its numbers was scaled on purpose."""

_EVEN: Final = 1e-6

_FEWEST: Final = 4

_PAGES_MM: Final = (
    *((841.0, 1189.0), (594.0, 841.0), (420.0, 594.0), (297.0, 420.0), (210.0, 297.0)),
    *((215.9, 279.4), (215.9, 355.6), (279.4, 431.8)),
)
"""ISO 216 A0 to A4; letter, legal and tabloid (ANSI/ASME Y14.1)."""

_PX_PER_INCH: Final = (72.0, 90.0)
_PAGE_PX: Final = 1.0
"""How far a page's size in px may be rounded."""

_SAVED_AT_90: Final = "{http://www.inkscape.org/namespaces/inkscape}version"
"""Its program changed from 90 px to the inch to 96 with its release 0.92 (its release notes)."""

_SAVED_AT_72: Final = ("http://ns.adobe.com/AdobeIllustrator/10.0/",)
"""Namespaces declared by a program whose px are points (from memory)."""


EVEN: Final = 0.997
"""What grows in all directions alike is exact to this part: programs round their numbers."""

_MOST_NAMED: Final = 3
"""One panel's lines and letters are pulled together."""


def is_large(curve: Curve) -> bool:
    """Whether a curve may be a panel, or a line of one."""
    return float((curve.hull_box[1] - curve.hull_box[0]).max()) >= _LARGE_MM


def pulled(maps: Iterable[tuple[str, Affine]]) -> tuple[str, ...]:
    """Say what is drawn smaller in one direction than in the other, by its transforms.

    *maps*: by ident, of large lines and of letters: those of a panel that was pulled by a handle
    at its side keep their transform where lines have lost theirs.
    """
    found = [(ident, own.pull) for ident, own in maps if own.pull <= EVEN]
    if not found:
        return ()
    names = ", ".join(ident for ident, _ in found[:_MOST_NAMED])
    names += f" and {len(found) - _MOST_NAMED} more" if len(found) > _MOST_NAMED else ""
    return (
        f"drawn {1.0 - found[0][1]:.1%} smaller in one direction than in the other, as its "
        f"transform says: {names}; if a panel was pulled by a handle at its side, undo that in the "
        "drawing program, as its neighbours do not fit it any more",
    )


def shrunk(curves: Sequence[Curve], transforms: Sequence[str]) -> float | None:
    """Return the factor by which one and the same transform shrinks nearly all large lines.

    *curves*: in mm. *transforms*: each curve's own transform attribute.
    """
    large = [words for curve, words in zip(curves, transforms, strict=True) if is_large(curve)]
    scales: Counter[float] = Counter()
    for words, count in Counter(large).items():
        try:
            matrix = attribute_transform(words)
        except PanelshiftError:
            continue  # A transform that the style has replaced.
        straight = matrix.b == matrix.c == 0.0 and abs(abs(matrix.d) - matrix.a) <= _EVEN
        if straight and _LEAST_SHRINK < matrix.a < 1.0 - _EVEN:
            scales[matrix.a] += count
    if not scales:
        return None
    scale, count = scales.most_common(1)[0]
    return scale if count >= max(_NEARLY_ALL * len(large), _FEWEST) else None


def px_per_inch(root: etree._Element, page_mm: FloatArray | None) -> float | None:
    """Return how many px to the inch a file in px means, None if nothing tells that it is not 96.

    Its program tells, or its page, if that is a usual one at another number of px.
    """
    if page_mm is not None:
        size = sorted(((page_mm[1] - page_mm[0]) / MM_PER_PX).tolist())
        for dots in (96.0, *_PX_PER_INCH):
            for page in _PAGES_MM:
                expected = [side / MM_PER_INCH * dots for side in page]
                if max(abs(a - b) for a, b in zip(size, expected, strict=True)) <= _PAGE_PX:
                    return None if dots == 96.0 else dots
    version = str(root.get(_SAVED_AT_90) or "").split(" ")[0].split(".")
    if version[0] == "0" and len(version) > 1 and version[1].isdecimal() and int(version[1]) < 92:
        return 90.0
    return 72.0 if set(_SAVED_AT_72) & set(root.nsmap.values()) else None
