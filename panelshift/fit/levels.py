"""Levels right round the body: those that every panel reaches."""

from __future__ import annotations

from ..body.turn import TurnOfCloth

_NEARLY_MM = 1.0
"""A side edge that ends this close to a level still tells the width there."""


def short_panels(turn: TurnOfCloth, level: str) -> tuple[str, ...]:
    """Names of panels that end before a level: no girth can be stated there.

    A panel on which the level is not drawn counts as reaching it if both its side edges do.
    """
    pattern = turn.pattern
    height = pattern.level_height(level)
    short = []
    for index, panel in enumerate(pattern.panels):
        ends = turn.profile.ends[2 * index : 2 * index + 2]
        low, high = float(ends[:, 0].max()) - _NEARLY_MM, float(ends[:, 1].min()) + _NEARLY_MM
        if panel.level(level) is None and not low <= height <= high:
            short.append(panel.name)
    return tuple(short)


def whole_levels(turn: TurnOfCloth) -> tuple[str, ...]:
    """Names of the levels that every panel reaches, from the top down."""
    return tuple(name for name in turn.pattern.level_names() if not short_panels(turn, name))
