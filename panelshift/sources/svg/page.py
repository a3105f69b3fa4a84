"""The outermost svg: how large one user unit is in millimetres."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...errors import SvgError
from ...outline import FloatArray
from .affine import Affine
from .lengths import MM_PER_PX, Basis, absolute_mm, number_and_unit
from .properties import Properties
from .viewport import AspectRatio, ViewBox, fitted

_STRETCH_NOTICED = 1e-6


@dataclass(frozen=True, slots=True)
class Page:
    """The outermost viewport.

    Parameters
    ----------
    transform : Affine
        From user units to mm, the origin at the viewport's top left.
    basis : Basis
        What percentages and em on the page refer to, in user units.
    warnings : tuple of str
        Doubts about the scale.
    in_px : bool
        Whether its size is given in px alone.
    rectangle : ndarray, shape (2, 2), or None
        Low and high corner of the viewport in mm; None if its size is not stated.
    """

    transform: Affine
    basis: Basis
    warnings: tuple[str, ...] = ()
    in_px: bool = False
    rectangle: FloatArray | None = None


def page(properties: Properties) -> Page:
    """Read the outermost svg's width, height, viewBox and preserveAspectRatio.

    Parameters
    ----------
    properties : Properties
        Of the outermost svg.

    Raises
    ------
    SvgError
        If one of them makes no sense, or the outermost svg has a transform of its own.
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
    basis = properties.basis.resized(box.width, box.height)
    return Page(transform, basis, tuple(warnings), in_px, _rectangle(width, height))


def _without_box(sizes: dict[str, float | None], properties: Properties, place: str) -> Page:
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
    return Page(Affine.scaling(MM_PER_PX, MM_PER_PX), basis, warnings, rectangle=rectangle)


def _rectangle(width: float | None, height: float | None) -> FloatArray | None:
    if width is None or height is None:
        return None
    return np.array([[0.0, 0.0], [width, height]])


def _written(properties: Properties, name: str) -> str:
    value = properties.styled(name)
    return f"no {name}" if value is None else f'{name}="{value}"'
