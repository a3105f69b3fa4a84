"""What content is drawn with: the graphics state, paths in the making, colours and clips.

Section numbers are those of ISO 32000-1.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ...outline.bezier import CUBIC, LINE
from ...pattern.drawing import LineStyle
from ..affine import Affine
from ..outlines import Outline
from .letters import Font

Box = tuple[float, float, float, float]
"""Low x and y, high x and y, in mm."""

_UPRIGHT = 1e-9


@dataclass(frozen=True)
class Painted:
    """One subpath that is painted, in units of the content, and what belongs to it.

    *clip*: in mm, None if there is none. *hidden*: the layer that hides it, if one does.
    """

    outline: Outline
    to_mm: Affine
    style: LineStyle
    groups: tuple[str, ...]
    clip: Box | None
    hidden: str
    number: int


@dataclass(frozen=True)
class Said:
    """Letters shown at once: where they start and end in mm, their size and direction.

    *mirrored*: as for `Text`.
    """

    text: str
    start: complex
    end: complex
    size: float
    angle: float
    bold: bool
    groups: tuple[str, ...]
    hidden: str
    mirrored: bool = False


@dataclass(frozen=True)
class GraphicsState:
    """The graphics state (8.4), as far as it matters to lines and texts."""

    ctm: Affine
    clip: Box | None = None
    width: float = 1.0
    dash: tuple[float, ...] = ()
    colour: str = "#000000"
    space: Any = None
    font: Font | None = None
    size: float = 0.0
    letter_space: float = 0.0
    word_space: float = 0.0
    stretch: float = 1.0
    leading: float = 0.0
    rise: float = 0.0
    mode: int = 0

    def line(self) -> LineStyle:
        """How a line is painted now, in mm."""
        scale = self.ctm.mean_stretch
        dash = tuple(part * scale for part in self.dash)
        return LineStyle(self.colour, self.width * scale, dash)


@dataclass
class Subpaths:
    """A path in the making (8.5.2): its subpaths so far, and the one in hand."""

    outlines: list[Outline] = field(default_factory=list)
    rows: array[float] = field(default_factory=lambda: array("d"))
    degrees: bytearray = field(default_factory=bytearray)
    start: tuple[float, float] = (0.0, 0.0)
    pen: tuple[float, float] = (0.0, 0.0)

    def move(self, x: float, y: float) -> None:
        """Begin a subpath."""
        self.end(closed=False)
        self.start = self.pen = (x, y)

    def line(self, x: float, y: float) -> None:
        """Go on straight."""
        self.rows.extend((*self.pen, *self.pen, x, y, x, y))
        self.degrees.append(LINE)
        self.pen = (x, y)

    def curve(self, a: float, b: float, c: float, d: float, x: float, y: float) -> None:
        """Go on in a cubic."""
        self.rows.extend((*self.pen, a, b, c, d, x, y))
        self.degrees.append(CUBIC)
        self.pen = (x, y)

    def close(self) -> None:
        """Go back to where the subpath began."""
        self.end(closed=True)
        self.pen = self.start

    def rectangle(self, x: float, y: float, w: float, h: float) -> None:
        """Draw a rectangle as a subpath of its own."""
        self.move(x, y)
        for corner in ((x + w, y), (x + w, y + h), (x, y + h)):
            self.line(*corner)
        self.close()

    def end(self, *, closed: bool) -> None:
        """End the subpath in hand."""
        if self.degrees:
            self.outlines.append(Outline(self.rows, bytes(self.degrees), closed))
            self.rows, self.degrees = array("d"), bytearray()

    def taken(self) -> list[Outline]:
        """All subpaths; the next path begins with none."""
        self.end(closed=False)
        outlines, self.outlines = self.outlines, []
        return outlines


def floats(operands: Any, count: int) -> list[float]:
    """So many finite numbers; raises `ValueError` if they are not."""
    values = [float(value) for value in operands]
    if len(values) != count:
        raise ValueError(f"it has {len(values)} numbers, not {count}")
    if not all(map(math.isfinite, values)):
        raise ValueError("a number is not finite")
    return values


def hex_colour(parts: Sequence[float]) -> str:
    """A colour of one, three or four parts as #rrggbb."""
    parts = [min(max(part, 0.0), 1.0) for part in parts]
    if len(parts) == 4:
        parts = [1.0 - min(1.0, part + parts[3]) for part in parts[:3]]
    parts = parts * 3 if len(parts) == 1 else parts
    return "#" + "".join(f"{round(255.0 * part):02x}" for part in parts)


def upright(outlines: Sequence[Outline], to_mm: Affine, *, any_order: bool = False) -> Box | None:
    """The rectangle that an outline is, if it is one and stands upright; None if it is not."""
    if len(outlines) != 1 or any(degree != LINE for degree in outlines[0].degrees):
        return None
    rows = np.frombuffer(outlines[0].rows).reshape(-1, 4, 2)
    corners = [to_mm.point(*row[0]) for row in rows] + [to_mm.point(*rows[-1, 3])]
    x, y = np.array(corners).T
    box = float(x.min()), float(y.min()), float(x.max()), float(y.max())
    slack = _UPRIGHT + 1e-9 * max(map(abs, box))
    on_x = np.minimum(np.abs(x - box[0]), np.abs(x - box[2])) <= slack
    on_y = np.minimum(np.abs(y - box[1]), np.abs(y - box[3])) <= slack
    if not (on_x & on_y).all() or len(corners) not in (4, 5):
        return None
    if not any_order:
        steps = np.abs(np.diff(np.array(corners), axis=0)) > slack
        if (steps.sum(axis=1) > 1).any():
            return None
    return box


def holds(box: Box | None, point: tuple[float, float]) -> bool:
    """Whether a point is seen under a clip."""
    return box is None or (box[0] <= point[0] <= box[2] and box[1] <= point[1] <= box[3])


def within(outer: Box | None, inner: Box | None) -> Box | None:
    """What is seen under both of two clips."""
    if outer is None or inner is None:
        return outer or inner
    return (
        max(outer[0], inner[0]),
        max(outer[1], inner[1]),
        min(outer[2], inner[2]),
        min(outer[3], inner[3]),
    )
