"""viewBox and preserveAspectRatio: how a box of user units is fitted into a viewport."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from ...errors import SvgError
from .affine import Affine
from .numbers import clipped, number_list

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
        """Read a viewBox attribute; None where there is none.

        Raises
        ------
        SvgError
            If it is not four numbers, or its width or height is not above zero.
        """
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

    Parameters
    ----------
    x, y : float
        Share of the spare room before the box: 0 for Min, 0.5 for Mid, 1 for Max.
    slices : bool
        Whether the box covers the viewport (slice) or lies inside it (meet).
    stretches : bool
        Whether x and y are scaled apart (none).
    """

    x: float = 0.5
    y: float = 0.5
    slices: bool = False
    stretches: bool = False

    @classmethod
    def parse(cls, text: str | None) -> AspectRatio:
        """Read a preserveAspectRatio attribute; xMidYMid meet where there is none.

        Raises
        ------
        SvgError
            If it is none of the forms of SVG 2, section 8.7.
        """
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
    box: ViewBox,
    aspect: AspectRatio,
    width: float,
    height: float,
    x: float = 0.0,
    y: float = 0.0,
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
