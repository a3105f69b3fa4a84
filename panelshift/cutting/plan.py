"""What the maker decides about cutting, apart from the shape of the panels."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from ..errors import StackError
from ..pattern.panel import EDGE_NAMES, EdgeName
from ..pattern.pattern import EDGE_KINDS, EdgeKind, Pattern
from .allowance import MITRE_LIMIT

DEFAULT_ALLOWANCE_MM: Final = 10.0
"""Common practice, no source: 10 mm (3/8 in) for corset seams."""

SHEET_WIDTH_MM: Final = 900.0
"""About the width of a copy shop's roll."""


@dataclass(frozen=True)
class Allowances:
    """Seam allowance in mm for each kind of edge.

    Raises
    ------
    StackError
        If one is negative or more than 100 mm.
    """

    seam: float = DEFAULT_ALLOWANCE_MM
    centre_front: float = DEFAULT_ALLOWANCE_MM
    centre_back: float = DEFAULT_ALLOWANCE_MM
    top: float = DEFAULT_ALLOWANCE_MM
    bottom: float = DEFAULT_ALLOWANCE_MM

    def __post_init__(self) -> None:
        for kind in EDGE_KINDS:
            if not 0.0 <= self.of(kind) <= 100.0:
                raise StackError(
                    f"a {kind.replace('_', ' ')} allowance of {self.of(kind):g} mm",
                    remedy="Give a length from 0 to 100 mm.",
                    element=f"allowance.{kind}",
                )

    def of(self, kind: EdgeKind) -> float:
        """Allowance in mm of a kind of edge."""
        value: float = getattr(self, kind)
        return value


@dataclass(frozen=True)
class Cutting:
    """How often a panel is cut.

    Parameters
    ----------
    count : int
        Pieces to cut of each layer.
    mirrored : bool
        Whether half of them are cut mirrored (face to face).
    fold : {"front", "back"} or None
        Edge that lies on the fold of the cloth: it gets no allowance.
    """

    count: int = 2
    mirrored: bool = True
    fold: EdgeName | None = None

    def words(self) -> tuple[str, ...]:
        """What the label says, in short lines."""
        if self.fold is not None:
            return (f"cut {self.count}", "on the fold")
        if not self.mirrored:
            return (f"cut {self.count}",)
        return (f"cut {self.count}", "one mirrored" if self.count == 2 else "half mirrored")


@dataclass(frozen=True)
class CutPlan:
    """All that the cutting files need beside the shifted layers.

    Parameters
    ----------
    title : str
        The pattern's name.
    allowances : mapping of fabric name to Allowances
        Fabrics that are not named get the default.
    cuttings : mapping of panel name to Cutting
        Panels that are not named are cut once if both halves are drawn, else as a mirrored
        pair.
    mitre_limit : float
        Longest mitre as a multiple of the wider allowance.
    sheet_width : float
        In mm.
    """

    title: str = "pattern"
    allowances: Mapping[str, Allowances] = field(default_factory=dict)
    cuttings: Mapping[str, Cutting] = field(default_factory=dict)
    mitre_limit: float = MITRE_LIMIT
    sheet_width: float = SHEET_WIDTH_MM

    def cutting(self, pattern: Pattern, index: int) -> Cutting:
        """How often a panel is cut."""
        default = Cutting(1, mirrored=False) if pattern.full else Cutting()
        return self.cuttings.get(pattern.panels[index].name, default)

    def edges(self, pattern: Pattern, index: int, fabric: str) -> dict[EdgeName, float]:
        """Allowance in mm of each edge of a panel in a fabric."""
        table = self.allowances.get(fabric, Allowances())
        fold = self.cutting(pattern, index).fold
        return {
            edge: 0.0 if edge == fold else table.of(pattern.edge_kind(index, edge))
            for edge in EDGE_NAMES
        }
