"""The outline of a gore as a panel that stands upright on its tip."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Literal

import numpy as np

from ..errors import PatternError
from ..outline import Curve, FloatArray
from ..outline.measure import CORNER_ANGLE, area_and_centroid, breaks, length
from ..pattern.panel import Frame, Panel
from ..pattern.profile import SIDES
from .draft import Draft, FoundGore
from .names import described
from .unplaced import level_lines, standing

OpenEnd = Literal["top", "bottom"]
UP_THE_SHEET: Final = np.array([0.0, -1.0])
UP_THE_SHEET.setflags(write=False)
_SIDEWAYS: Final = 0.3


def upright(
    draft: Draft,
    gore: FoundGore,
    beside: Frame,
    opens_at: OpenEnd | None = None,
    up: FloatArray = UP_THE_SHEET,
) -> tuple[Panel, bool]:
    """The gore as a panel whose tip is its frame's origin, and whether a line said its upright.

    A level line that is drawn right across it says what is level; else its upright runs from the
    tip to the middle of the edge opposite. A waistline gives it its height as well. *opens_at*:
    told by the job file, or by how it lies to *up*, a unit vector on the sheet, if not given.
    """
    outline = gore.found.outline
    tip = _tip(gore, outline)
    _, middle = area_and_centroid(outline)
    axis = tip - middle
    down = (opens_at or _opens_at(gore, axis, up)) == "top"
    axis = -axis if down else axis
    named = _named(draft, gore, axis, beside)
    across = sorted(level_lines(draft, named), key=lambda found: found.name != "waist")
    line = across[0] if across else None
    if line is None:
        ends = [named.edge(name) for name in SIDES]
        hem = [edge.end if down else edge.start for edge in ends]
        axis = 0.5 * (hem[0] + hem[1]) - tip
        axis = axis if down else -axis
    else:
        step = line.curve.end - line.curve.start
        normal = np.array([-step[1], step[0]])
        axis = normal if normal @ axis > 0.0 else -normal
    panel = _named(draft, gore, axis, beside)
    if line is not None and line.name == "waist":
        frame = replace(panel.frame, origin=0.5 * (line.curve.start + line.curve.end))
        panel = replace(panel, frame=frame, waist=replace(line, height=0.0))
    return panel, line is not None


def _tip(gore: FoundGore, outline: Curve) -> FloatArray:
    """The sharpest of its corners."""
    turned = np.abs(breaks(outline))
    sharpest = int(np.argmax(turned))
    others = np.delete(turned, sharpest)
    if turned[sharpest] < CORNER_ANGLE:
        raise unfit(gore, "its outline has no corner", _TO_A_POINT)
    if others.max(initial=0.0) > turned[sharpest] - np.radians(5.0):
        raise unfit(
            gore,
            "two of its corners are equally sharp, so that it cannot be told which is its tip",
            f"{_TO_A_POINT} It is to be longer than it is wide: a piece that is not is better "
            "drawn as a panel of its own that reaches the waist.",
        )
    return np.asarray(outline.points([float(sharpest)])[0])


_TO_A_POINT: Final = (
    "Draw its two side edges until they meet in a point: there three pieces are sewn together. "
    "Cut the point off, or round it, when you cut the cloth."
)


def _opens_at(gore: FoundGore, axis: FloatArray, up: FloatArray) -> OpenEnd:
    """Where it opens: as the job file says, else as it lies on the sheet."""
    if gore.said.opens_at:
        return gore.said.opens_at
    rises = float(axis @ up)
    if abs(rises) < _SIDEWAYS * float(np.hypot(*axis)):
        raise unfit(
            gore,
            "it lies on its side in the drawing, so that it cannot be told where it opens",
            'Give opens_at = "bottom" for a gore over the hip, or "top" for one over the bust.',
        )
    return "top" if rises < 0.0 else "bottom"


def _named(draft: Draft, gore: FoundGore, axis: FloatArray, beside: Frame) -> Panel:
    """The gore as a panel that stands upright along an axis."""
    up = axis / np.hypot(*axis)
    right = np.array([-up[1], up[0]])
    left_handed = float(beside.across @ np.array([-beside.up[1], beside.up[0]])) < 0.0
    frame = Frame(_tip(gore, gore.found.outline), -right if left_handed else right, up)
    panel = standing(draft, gore.found, gore.name, frame, pointed=True)
    if panel is None:
        raise unfit(
            gore,
            "half way up its outline is crossed more than twice",
            "Draw it as one piece that grows wider from its tip on.",
        )
    if panel.pointed is None:
        wide = min(length(panel.edge("top")), length(panel.edge("bottom")))
        raise unfit(
            gore, f"it does not come to a point: its tip is {wide:.1f} mm wide", _TO_A_POINT
        )
    return panel


def unfit(gore: FoundGore, problem: str, remedy: str) -> PatternError:
    """The error of a gore that cannot stand where it is to."""
    shape = gore.found.shapes[0]
    return PatternError(
        f"the gore {gore.name!r} ({described(shape)}): {problem}",
        remedy=remedy,
        element=gore.found.ident,
    )
