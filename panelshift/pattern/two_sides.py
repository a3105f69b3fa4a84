"""Left and right: a half pattern drawn out to both sides, and what names say of sides."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Literal

from ..errors import PatternError, WrongTypeError
from ..files.plain_values import held_to_types
from .drawing import spaced
from .panel import Panel
from .pattern import Pattern, other_way_round

Side = Literal["left", "right"]
SIDES_OF_BODY: Final[tuple[Side, Side]] = ("left", "right")

_SAID: Final[dict[str, Side]] = {"left": "left", "l": "left", "right": "right", "r": "right"}


def side_of(name: str) -> Side | None:
    """The half of the body that a panel's name tells, as a word or as L or R, such as L3."""
    sides = {_SAID[word] for word in spaced(name).split() if word in _SAID}
    return sides.pop() if len(sides) == 1 else None


def first_side(pattern: Pattern) -> Side:
    """The wearer's side that the first panels of a full pattern cover: right, if names are mute."""
    return "left" if side_of(pattern.panels[0].name) == "left" else "right"


def sided(side: Side, name: str) -> str:
    """What a panel of a half pattern is called on one side."""
    return f"{side} {name}"


@held_to_types
def both_sides(half: Pattern) -> Pattern:
    """Draw a half pattern out to both sides, so that they can be altered apart.

    Parameters
    ----------
    half : Pattern

    Returns
    -------
    Pattern
        From the wearer's right back over the front to the left back. The half that is drawn is the
        wearer's left if its front lies towards the left of the sheet, as pieces look from outside,
        right side up; the other is its mirror image. Names get "left" or "right" before them.

    Raises
    ------
    PatternError
        If both halves are drawn already, or a part of a pattern is given.

    Examples
    --------
    >>> from panelshift import DraftPanel, pattern_from_panels
    >>> box, waist = [(0, 0), (60, 0), (60, 160), (0, 160)], [(0, 90), (60, 90)]
    >>> half = pattern_from_panels([DraftPanel(name, box, waist) for name in ("front", "back")])
    >>> [panel.name for panel in both_sides(half)]
    ['right back', 'right front', 'left front', 'left back']
    """
    WrongTypeError.unless(half, Pattern, "the pattern", "what read_pattern gives")
    if half.full or half.whole is not None:
        raise PatternError(
            "only a half pattern is drawn out to both sides: both halves are drawn, or only a part",
            remedy="Name the panels of one side, which both halves have; give a pattern with all "
            "its panels.",
            source=half.source,
        )
    frame = half.panels[0].frame
    front_left = frame.across[0] * frame.up[1] - frame.across[1] * frame.up[0] < 0.0
    over = half.mirrored()
    left, right = (half, over) if front_left else (over, half)
    panels = (*other_way_round(_named(right, "right")), *_named(left, "left"))
    return replace(half, panels=panels, full=True)


def _named(half: Pattern, side: Side) -> tuple[Panel, ...]:
    return tuple(_of_side(panel, side) for panel in half)


def _of_side(panel: Panel, side: Side) -> Panel:
    """A panel and its pieces, called after their side."""
    return replace(
        panel,
        name=sided(side, panel.name),
        ident=sided(side, panel.ident),
        made_of=tuple(sided(side, name) for name in panel.made_of),
        tips=tuple(replace(tip, piece=sided(side, tip.piece)) for tip in panel.tips),
        pieces=tuple(_of_side(piece, side) for piece in panel.pieces),
        slits=tuple(replace(slit, piece=sided(side, slit.piece)) for slit in panel.slits),
    )
