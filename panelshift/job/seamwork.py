"""From a job's ``[construction]`` to how its stack is sewn, and to what turns over its edges."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from ..construction.edges import EdgeFinish, roll
from ..construction.sewing import Bones, Construction, Shell, Strip
from ..construction.sewn import Sewn
from ..construction.tension import stretch_along
from ..errors import JobError, PanelshiftError
from ..pattern.edge_pieces import profile
from ..pattern.panel import Panel
from ..pattern.pattern import EdgeKind, Pattern
from ..stack import Stack
from .construction_keys import ConstructionTable
from .model import StretchTable


def sewn_of(
    table: ConstructionTable,
    pattern: Pattern,
    stack: Stack,
    allowance: float,
    stretch: Mapping[str, float],
    *,
    source: str = "",
) -> Sewn:
    """How a job says that its stack is sewn.

    *allowance*: of seams where nothing else is said. *stretch*: of layers, by name.

    Raises `PanelshiftError` if a height means none, or it contradicts itself or the stack.
    """
    try:
        whole = Construction(
            [Shell(**dict(item)) for item in table.shell],
            [Bones(**dict(item)) for item in table.bones],
            [_strip(dict(item), pattern) for item in table.strip],
            table.strength_layer,
            table.body,
            table.lacing,
            stretch,
            table.fold_factor,
            table.fold_factor_uncertainty,
        )
        return Sewn(whole, stack, allowance)
    except PanelshiftError as error:
        raise error.located(source=source) from None


def _strip(keys: dict[str, Any], pattern: Pattern) -> Strip:
    for end in ("low", "high"):
        if keys[end] is not None:
            height = pattern.height_of(keys[end])
            if height is None:
                raise JobError(
                    f"construction.strip: {keys[end]!r:.40} is no level, nor a height such as "
                    "+120 mm",
                    remedy=f"Levels here: {', '.join(pattern.level_names())}.",
                    element="construction.strip",
                )
            keys[end] = height
    return Strip(**keys)


def stretch_round(given: float | StretchTable, pattern: Pattern) -> float:
    """Stretch of a fabric the way that goes round the body, from its stretch by direction.

    Of the panels' mean, by their widths at the waist: the warp runs along the grainline that is
    drawn, else up the panel.
    """
    if not isinstance(given, StretchTable):
        return given
    widths = np.array([panel.waist_width for panel in pattern.panels])
    angles = 0.5 * math.pi - np.array([_lean(panel) for panel in pattern.panels])
    found = stretch_along(given.warp, given.weft, given.bias, angles)
    return float(found @ widths / widths.sum())


def _lean(panel: Panel) -> float:
    """Angle of a panel's grainline from its upright, in radians."""
    for mark in panel.marks:
        if mark.kind == "grainline":
            across, up = panel.frame.to_panel(mark.curve.flatten())[[0, -1]].T
            return math.atan2(across[1] - across[0], up[1] - up[0])
    return 0.0


def edge_rolls(
    table: ConstructionTable, pattern: Pattern, stack: Stack, layer: str
) -> dict[EdgeKind, float]:
    """What a layer needs besides to turn over the top and the bottom edge, in mm.

    Its distance is from the innermost layer that is cut, round which all others turn, by what lies
    between the two there, on the panel where that is most.
    """
    cut = [place for place, fabric in enumerate(stack.fabrics) if fabric.cut_out]
    place = stack.names.index(layer)
    if place not in cut:
        return {}
    low, high = profile(pattern).drawn
    ends: tuple[tuple[EdgeKind, EdgeFinish, float], ...] = (
        ("top", table.top, high),
        ("bottom", table.bottom, low),
    )
    rolls: dict[EdgeKind, float] = {}
    for edge, finish, height in ends:
        here = stack.at(height)
        apart = max(here.surfaces(p.name).distance(cut[0], place) for p in pattern.panels)
        if (more := roll(finish, apart)) > 0.0:
            rolls[edge] = more
    return rolls
