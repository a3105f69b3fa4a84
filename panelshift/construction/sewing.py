"""What the maker says of how a corset is sewn: shells, seams, bones, strips along edges."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from ..errors import ConstructionError
from ..files.plain_values import refuse_misfits
from ..outline.by_value import fix_mappings

SeamKind = Literal["open", "to front", "to back", "felled", "lapped"]
"""Allowances pressed open, both to one side, felled to the back, or overlapped flat."""

Held = Literal["edges", "seams", "fused"]
"""At centre front and back only, at the seams besides, or everywhere."""

DrawnAs = Literal["", "outlines", "pairs", "adjoining", "middles"]
"""How bone channels are drawn: told from the lines themselves if empty."""

ALLOWANCE_MM: Final = 10.0
"""Common practice, no source; a job's own allowance goes before it."""

_PLIES: Final[dict[SeamKind, tuple[int, int]]] = {
    "open": (1, 1),
    "to front": (2, 0),
    "to back": (0, 2),
    "felled": (0, 3),
    "lapped": (1, 1),
}


def _refuse_lone_uncertainty(name: str) -> None:
    raise ConstructionError(
        f"{name}_uncertainty is given, and not {name} itself",
        remedy=f"Give {name} as well, as a swatch tells it; or leave its uncertainty out.",
        element=f"{name}_uncertainty",
    )


def _refuse(
    what: str, value: float | None, low: float, most: float, element: str, unit: str = " mm"
) -> None:
    if value is not None and not low <= value <= most:
        raise ConstructionError(
            f"{what} of {value:g}{unit}",
            remedy=f"Give from {low:g} to {most:g}{unit}.",
            element=element,
        )


@dataclass(frozen=True)
class Shell:
    """Cloths that are sewn into panels together, as one.

    Parameters
    ----------
    layers : sequence of str
        Names of the fabrics, from the body outwards.
    seams : {"open", "to front", "to back", "felled", "lapped"}
        What becomes of the allowances. Felled, three plies more lie behind the seam line within
        the fell; lapped, one more on either side of it.
    allowance : float, optional
        Width in mm of what lies beside the seam line: the allowance, the fell, or half the lap;
        if not given that of the corset's other seams, `ALLOWANCE_MM` if nothing is said of them.
    graded : sequence of float
        Widths in mm where plies are trimmed to several: one for each cloth of a seam that is
        pressed open, else one for each ply of one side; the last is that of all that follow.
    lie : {"inside", "outside"}
        On which face of the shell the allowances lie.
    held : {"edges", "seams", "fused"}
        Where the shell is held to what lies below it: at centre front and back only, at the seams
        besides (stitched in the ditch), or everywhere. Its own cloths are held to each other at
        the seams, or everywhere if it is fused.

    Raises
    ------
    ConstructionError
        If it has no layer, or a width is not between 0 and 50 mm.

    Examples
    --------
    >>> Shell(["interlining", "brocade"], seams="to back").plies
    (0, 2)
    """

    layers: Sequence[str]
    seams: SeamKind = "open"
    allowance: float | None = None
    graded: Sequence[float] = ()
    lie: Literal["inside", "outside"] = "inside"
    held: Held = "edges"

    def __post_init__(self) -> None:
        refuse_misfits(self, "a shell")
        if not self.layers:
            raise ConstructionError(
                "a shell without layers", remedy="Name the fabrics that are sewn together."
            )
        for width in (self.allowance, *self.graded):
            _refuse("a seam allowance", width, 0.0, 50.0, self.layers[0])

    @property
    def plies(self) -> tuple[int, int]:
        """Plies of each cloth that lie before and behind the seam line beside the panel itself."""
        return _PLIES[self.seams]


@dataclass(frozen=True)
class Bones:
    """Bones of one kind.

    Parameters
    ----------
    on : str
        The layer that they lie on, on its outer side.
    width, thickness : float
        In mm.
    bends : bool
        Whether they bend across their width, as cords or cable ties side by side do. A flat bar
        stands on its middle.
    drawn_as : {"", "outlines", "pairs", "adjoining", "middles"}
        What the lines marked as bones are: closed outlines, pairs of stitch lines, neighbours that
        share a line, or middles. Told from the lines themselves if empty.
    per_panel : mapping of str to int, optional
        Bones of each panel, evenly spaced, in place of what is drawn.
    channel : float, optional
        Between the stitch lines of a channel in mm; told from the drawing, else the bone's width
        and thickness together.
    casing : float
        Thickness in mm of a casing's cloth over the bones; 0 if two layers make the channels.
    stitched : sequence of str
        Layers that lie outside the bones and are stitched down along both lines of each channel.
    standing : float, optional
        How high a bone stands in mm, as measured, in place of its thickness.
    standing_uncertainty : float
        Standard uncertainty of `standing` in mm; 0 takes it as exact.

    Raises
    ------
    ConstructionError
        If a size cannot be.

    Examples
    --------
    >>> Bones("coutille", width=6.5, thickness=1.5).room
    8.0
    """

    on: str
    width: float
    thickness: float
    bends: bool = False
    drawn_as: DrawnAs = ""
    per_panel: Mapping[str, int] | None = None
    channel: float | None = None
    casing: float = 0.0
    stitched: Sequence[str] = ()
    standing: float | None = None
    standing_uncertainty: float = 0.0

    def __post_init__(self) -> None:
        refuse_misfits(self, "bones")
        fix_mappings(self)
        _refuse("a width of bones", self.width, 0.5, 50.0, "width")
        _refuse("a thickness of bones", self.thickness, 0.3, 10.0, "thickness")
        _refuse("a thickness of casings", self.casing, 0.0, 10.0, "casing")
        _refuse("an uncertainty", self.standing_uncertainty, 0.0, 5.0, "standing_uncertainty")
        if self.channel is not None and not self.channel >= self.width + self.thickness - 1e-9:
            raise ConstructionError(
                f"bones of {self.width:g} by {self.thickness:g} mm do not go into channels of "
                f"{self.channel:g} mm",
                remedy=f"Stitch channels at least {self.width + self.thickness:g} mm wide, width "
                "and thickness together, or take narrower bones.",
                element="channel",
            )
        if self.standing is None and self.standing_uncertainty:
            _refuse_lone_uncertainty("standing")
        if self.standing is not None and not 0.0 <= self.standing <= 2.0 * self.thickness:
            raise ConstructionError(
                f"bones {self.thickness:g} mm thick stand {self.standing:g} mm high",
                remedy="Give how far they stand above the cloth beside them, in mm.",
                element="standing",
            )

    @property
    def height(self) -> float:
        """How high a bone stands in mm: as measured, else fully."""
        return self.thickness if self.standing is None else self.standing

    @property
    def room(self) -> float:
        """Width of a channel in mm that is not drawn or stated."""
        return self.width + self.thickness if self.channel is None else self.channel


@dataclass(frozen=True)
class Strip:
    """A strip of cloth along an edge: a facing, a stay, a binding's inside.

    Parameters
    ----------
    on : str
        The layer that it lies on, on its outer side; empty for the skin.
    thickness, width : float
        In mm; the width is measured from the edge.
    edge : {"centre_front", "centre_back", "seams", "top", "bottom"}
        Along seams it lies as wide on either side.
    low, high : float, optional
        From where to where it lies, in mm above the waist, if not all the way.

    Raises
    ------
    ConstructionError
        If a size cannot be.

    Examples
    --------
    >>> Strip("lining", thickness=0.3, width=40.0, edge="centre_back").width
    40.0
    """

    on: str
    thickness: float
    width: float
    edge: Literal["centre_front", "centre_back", "seams", "top", "bottom"]
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        refuse_misfits(self, "a strip")
        _refuse("a strip's thickness", self.thickness, 0.0, 10.0, "thickness")
        _refuse("a strip's width", self.width, 0.0, 500.0, "width")
        low = -math.inf if self.low is None else self.low
        high = math.inf if self.high is None else self.high
        if not low < high:
            raise ConstructionError(
                f"a strip from {low:g} to {high:g} mm above the waist",
                remedy="Give the lower end first; below the waist is negative.",
                element="strip",
            )


@dataclass(frozen=True)
class Construction:
    """How a corset is sewn.

    Parameters
    ----------
    shells : sequence of Shell
        Layers in none of them are shells of their own, their seams pressed open inwards.
    bones : sequence of Bones
    strips : sequence of Strip
    strength_layer : str
        The layer that carries the tension; the drafted one if empty.
    lacing : float, optional
        How hard it is laced: pressure with the unit kPa, 1 at rest, 3 usual, 6 tight.
    stretch : mapping of str to float
        Part of its length by which each layer stretches in a hang test: 1 kg on a strip 50 mm
        wide, hung the way that goes round the body. With those of the strength layer and the
        outermost one, and the lacing, the best cut over bones is computed.
    fold_factor : float, optional
        What part of the turn into a seam counts in layers that are sewn as one, 0 to 1, as seam
        strips tell; not applied if it is not given.
    fold_factor_uncertainty : float
        Standard uncertainty of `fold_factor`, a part of 1 as well; 0 takes it as exact.
    body : {"soft", "stiff"}
        What lies inside the strength layer sinks into a soft body, and makes no layer longer; on
        a stiff one, such as a stand, it stands.

    Raises
    ------
    ConstructionError
        If a number is out of its range.

    Examples
    --------
    >>> from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels, shift_pattern
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> panels = [DraftPanel("one", box, [(0, 90), (60, 90)])]
    >>> stack = Stack([Fabric("coutil", 0.5), Fabric("satin", 0.3)])
    >>> sewn = Construction(bones=[Bones("coutil", 7.0, 1.5, per_panel={"one": 2})])
    >>> flat, over = (
    ...     shift_pattern(pattern_from_panels(panels), stack, construction=how).growth(1, 0, 0.0)
    ...     for how in (None, sewn))
    >>> round(flat, 2), round(over, 2)
    (1.26, 4.35)
    """

    shells: Sequence[Shell] = ()
    bones: Sequence[Bones] = ()
    strips: Sequence[Strip] = ()
    strength_layer: str = ""
    body: Literal["soft", "stiff"] = "soft"
    lacing: float | None = None
    stretch: Mapping[str, float] = field(default_factory=dict)
    fold_factor: float | None = None
    fold_factor_uncertainty: float = 0.0

    def __post_init__(self) -> None:
        refuse_misfits(self, "a construction")
        fix_mappings(self)
        _refuse("lacing", self.lacing, 0.1, 20.0, "lacing", " kPa")
        _refuse("a fold factor", self.fold_factor, 0.0, 1.0, "fold_factor", "")
        spread = self.fold_factor_uncertainty
        _refuse("an uncertainty", spread, 0.0, 1.0, "fold_factor_uncertainty", "")
        if self.fold_factor is None and spread:
            _refuse_lone_uncertainty("fold_factor")
        for value in self.stretch.values():
            _refuse("a stretch", value, 1e-5, 0.5, "stretch", "")
