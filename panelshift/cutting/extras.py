"""What is cut beside the panels: bindings, facings, tapes, casings, a panel behind the gap."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal, get_args

from ..errors import StackError
from ..files.plain_values import refuse_misfits
from ..outline.by_value import fix_mappings
from ..stack import Stack
from ..units import LONGEST_MM
from .bones import BoneOptions

ClothExtra = Literal[
    "binding", "casing", "front_facing", "back_facing", "top_facing", "bottom_facing", "modesty"
]
CLOTH_EXTRAS: Final[tuple[ClothExtra, ...]] = get_args(ClothExtra)
"""What is cut of cloth beside the panels."""


@dataclass(frozen=True)
class Extras:
    """What is cut beside the panels; a width of 0 means that there is none.

    Parameters
    ----------
    binding : float
        Finished width in mm of the binding of the top and the bottom edge.
    waist_tape, casing : float
        Widths in mm of the tape round the waist and of a casing for each bone.
    front_facing, back_facing : float
        Finished widths in mm of facings along the centre edges.
    modesty : float
        Width in mm of the panel behind the lacing gap.
    eyelet_spacing, eyelet_inset : float
        Between eyelets along the centre back at most, and from its edge to them, in mm.
    bones : BoneOptions
        Which bones are bought.
    fabric : mapping of str to str
        Of which layer's cloth a binding, casing, facing or modesty panel is cut, by these names,
        "" for none of them. Those not named: casings of the drafted layer's, all else of the
        outermost that is cut.
    top_facing, bottom_facing : float
        Widths in mm of facings along those edges, of all panels in one piece.

    Raises
    ------
    StackError
        If a width is negative, or beyond 100 m.

    Examples
    --------
    >>> Extras(binding=8.0, fabric={"binding": "silk"}).binding
    8.0
    """

    binding: float = 0.0
    waist_tape: float = 0.0
    casing: float = 0.0
    front_facing: float = 0.0
    back_facing: float = 0.0
    modesty: float = 0.0
    eyelet_spacing: float = 0.0
    eyelet_inset: float = 12.0
    bones: BoneOptions = field(default_factory=BoneOptions)
    fabric: Mapping[ClothExtra, str] = field(default_factory=dict)
    top_facing: float = 0.0
    bottom_facing: float = 0.0

    def __post_init__(self) -> None:
        refuse_misfits(self, "what is cut beside the panels")
        fix_mappings(self)
        for name, width in vars(self).items():
            if name not in ("bones", "fabric") and not 0.0 <= width <= LONGEST_MM:
                raise StackError(
                    f"a {name.replace('_', ' ')} of {width:g} mm",
                    remedy="Give a width in mm, 0 for none.",
                    element=f"extras.{name}",
                )


def cut_from(extra: ClothExtra, stack: Stack, extras: Extras) -> str:
    """Of which layer's cloth an extra is cut; "" if of none of them.

    Where the maker does not say: casings of the drafted layer's, as a rule the strength layer,
    all else of the outermost that is cut (common practice, no source).
    """
    own = [fabric.name for fabric in stack.fabrics if fabric.cut_out]
    usual = stack.drafted if extra == "casing" and stack.drafted in own else own[-1] if own else ""
    return extras.fabric.get(extra, usual)
