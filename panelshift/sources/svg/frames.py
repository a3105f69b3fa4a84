"""Where the walk stands: everything an element takes over from the elements around it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from lxml import etree

from ...outline import FloatArray
from .affine import Affine
from .lengths import Basis
from .looks import Look
from .naming import best_name, own_id


@dataclass(frozen=True, eq=False, slots=True)
class Frame:
    """The state that a container hands to its children.

    Parameters
    ----------
    transform : Affine
        From the children's user units to sheet mm.
    basis : Basis
        What the children's relative lengths refer to.
    look : Look
    clip : ndarray, shape (2, 2), or None
        As for `panelshift.pattern.drawing.Shape`.
    groups : tuple of str
        Names of the containers, outermost first.
    hidden_by : str
        Ident of the element whose ``visibility`` hides the children; empty if they show.
    anchor, trail : str
        Nearest id above, and the place of the container below it.
    scope : str
        Idents of the ``use`` elements being drawn, joined by ``/``.
    uses : tuple of lxml elements
        Those ``use`` elements, outermost first.
    target : lxml element or None
        What the innermost ``use`` refers to.
    target_size : (float or None, float or None)
        Width and height that this ``use`` gives to a symbol or svg.
    """

    transform: Affine
    basis: Basis
    look: Look
    clip: FloatArray | None = None
    groups: tuple[str, ...] = ()
    hidden_by: str = ""
    anchor: str = ""
    trail: str = ""
    scope: str = ""
    uses: tuple[etree._Element, ...] = ()
    target: etree._Element | None = None
    target_size: tuple[float | None, float | None] = (None, None)

    def ident(self, element: etree._Element, step: str) -> str:
        """Return an element's id, or its place such as ``g[1]/path[3] in layer1``."""
        name = own_id(element)
        if not name:
            name = f"{self.trail}{step}" + (f" in {self.anchor}" if self.anchor else "")
        return f"{self.scope}/{name}" if self.scope else name

    def inside(
        self, element: etree._Element, step: str, transform: Affine, basis: Basis, hidden_by: str
    ) -> Frame:
        """Return the frame for the children of a container; the look is its own already."""
        name, ident = best_name(element), own_id(element)
        return replace(
            self,
            transform=transform,
            basis=basis,
            hidden_by=hidden_by,
            groups=(*self.groups, name) if name else self.groups,
            anchor=ident or self.anchor,
            trail="" if ident else f"{self.trail}{step}/",
        )

    def through(
        self,
        use: etree._Element,
        ident: str,
        target: etree._Element,
        size: tuple[float | None, float | None],
    ) -> Frame:
        """Return the frame for the element that a ``use`` refers to."""
        name = best_name(use)
        return replace(
            self,
            groups=(*self.groups, name) if name else self.groups,
            anchor="",
            trail="",
            scope=ident,
            uses=(*self.uses, use),
            target=target,
            target_size=size,
        )
