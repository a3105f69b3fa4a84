"""Fabrics and the order in which they lie on the body."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .errors import StackError
from .outline import FloatArray


@dataclass(frozen=True)
class Fabric:
    """One layer of the stack.

    Parameters
    ----------
    name : str
    thickness : float
        In mm, as measured by the maker (ISO 5084 measures at 1 kPa under a flat foot; the
        pressure is from memory).
    coverage : float
        Part of the panel that the fabric covers, 0 to 1: bones in channels or a waist tape
        count in proportion.
    loft : float
        Factor on the thickness for compression, loft or glue webs: 1 for cloth as measured,
        below 1 for a wadding that is pressed flat.
    panels : frozenset of str or None
        Names of the panels it covers; None for all.
    cut_out : bool
        Whether it gets a cutting file.

    Raises
    ------
    StackError
        If the thickness is negative or a number is out of its range.
    """

    name: str
    thickness: float
    coverage: float = 1.0
    loft: float = 1.0
    panels: frozenset[str] | None = None
    cut_out: bool = True

    def __post_init__(self) -> None:
        for label, value, low, high in (
            ("thickness", self.thickness, 0.0, 50.0),
            ("coverage", self.coverage, 0.0, 1.0),
            ("loft", self.loft, 0.0, 10.0),
        ):
            if not (math.isfinite(value) and low <= value <= high):
                raise StackError(
                    f"{label} {value:g} of fabric {self.name!r} is not between {low:g} and "
                    f"{high:g}",
                    remedy="Thickness is in mm; coverage is a part of 1; loft is a factor.",
                    element=self.name,
                )

    @property
    def build(self) -> float:
        """What the fabric adds to the stack in mm: thickness times coverage times loft."""
        return self.thickness * self.coverage * self.loft

    def covers(self, panel: str) -> bool:
        """Whether the fabric lies on a panel."""
        return self.panels is None or panel in self.panels


@dataclass(frozen=True)
class Stack:
    """Fabrics from the body outwards, one of which keeps the drafted size.

    Parameters
    ----------
    fabrics : sequence of Fabric
    drafted : str
        Name of the drafted layer; the innermost if empty.

    Raises
    ------
    StackError
        If there is no fabric, two have one name, or the drafted layer is not among them or
        does not cover every panel.

    Examples
    --------
    >>> stack = Stack([Fabric("lining", 0.2), Fabric("coutille", 0.4), Fabric("satin", 0.3)])
    >>> [round(float(d), 3) for d in stack.distances(["1"])[:, 0]]
    [0.0, 0.3, 0.65]
    """

    fabrics: Sequence[Fabric]
    drafted: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "fabrics", tuple(self.fabrics))
        names = [fabric.name for fabric in self.fabrics]
        if not names:
            raise StackError("a stack without fabrics", remedy="Name at least one fabric.")
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise StackError(
                f"two fabrics have the name {twice[0]!r}",
                remedy="Give each layer its own name, even if it is the same cloth.",
                element=twice[0],
            )
        drafted = self.drafted or names[0]
        if drafted not in names:
            raise StackError(
                f"the drafted layer {drafted!r} is not in the stack",
                remedy=f"Use one of: {', '.join(names)}.",
                element="drafted_layer",
            )
        if self.fabrics[names.index(drafted)].panels is not None:
            raise StackError(
                f"the drafted layer {drafted!r} does not cover every panel",
                remedy="Choose a layer that covers all panels: the others are reckoned from it.",
                element="drafted_layer",
            )
        object.__setattr__(self, "drafted", drafted)

    def __len__(self) -> int:
        return len(self.fabrics)

    @property
    def drafted_index(self) -> int:
        """Place of the drafted layer, counted from the body."""
        return [fabric.name for fabric in self.fabrics].index(self.drafted)

    def distances(self, panels: Sequence[str]) -> FloatArray:
        """Signed distance of each layer's mid-surface from the drafted layer's.

        Parameters
        ----------
        panels : sequence of str
            Panel names.

        Returns
        -------
        ndarray, shape (layers, panels)
            In mm, positive away from the body: half of each thickness plus all that lies
            between.
        """
        build = np.array(
            [[fabric.build * fabric.covers(name) for name in panels] for fabric in self.fabrics]
        )
        middle = np.cumsum(build, axis=0) - 0.5 * build
        return np.asarray(middle - middle[self.drafted_index])

    def total(self) -> float:
        """Thickness in mm where every fabric lies."""
        return float(sum(fabric.build for fabric in self.fabrics))
