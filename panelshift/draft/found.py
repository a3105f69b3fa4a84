"""Outlines on their way to becoming panels."""

from __future__ import annotations

from dataclasses import dataclass

from ..outline import Curve
from ..outline.crossing import Crossings
from ..pattern.drawing import Shape


@dataclass(frozen=True, eq=False)
class FoundPanel:
    """An outline with its waistline, before its front is known.

    Parameters
    ----------
    outline : Curve
        Closed.
    shapes : tuple of Shape
        What it was drawn with, the first first.
    waistline : Shape
    waist : Crossings
        Of the outline by the waistline: two.
    companions : tuple of Shape
        Outlines of the same panel that are not its net outline: they may hold its name.
    """

    outline: Curve
    shapes: tuple[Shape, ...]
    waistline: Shape
    waist: Crossings
    companions: tuple[Shape, ...] = ()

    @property
    def ident(self) -> str:
        """Id of the element that the outline was drawn with (the first of several)."""
        return self.shapes[0].ident


@dataclass(frozen=True, eq=False)
class Candidate:
    """A closed outline that may be a panel, with the largest gap that was bridged in mm."""

    outline: Curve
    shapes: tuple[Shape, ...]
    gap: float = 0.0

    @property
    def ident(self) -> str:
        """Id of the element that it was drawn with (the first of several)."""
        return self.shapes[0].ident
