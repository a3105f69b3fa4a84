"""All that is drawn on a row of panels, as it lies on the one piece that they make."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.bezier import CUBIC, IntArray, bezier_derivatives, bezier_points
from ..outline.crossing import nearest_position
from ..outline.many import gathered, transformed
from ..outline.measure import length, position_at_length
from ..outline.planar import self_crossings
from ..outline.refit import refit
from ..pattern.panel import Corners, Frame, Level, Mark, Panel, TipPoint
from .flattened import SheetMap
from .panel_row import ROW_ENDS, SEAM_SAMPLES, PanelRow
from .seam_darts import SeamDart

_JOINT_MM: Final = 0.05
"""Lines of neighbours whose ends lie further apart are joined by a short straight one."""

_STEP_MM: Final = 3.0
"""A step between two top or bottom edges is trued up to here; a wider one is an open dart."""

_TRUED_MM: Final = 20.0
"""Length on either side of a seam that is gone along which top and bottom are made smooth."""

_SMOOTH: Final = math.radians(0.5)
_CORNER: Final = math.radians(25.0)
"""An edge that turns by more at a seam was drawn with a corner there, and keeps it."""


@dataclass(frozen=True, eq=False)
class DrawnRow:
    """A row's panels under a map for each of them, which leaves the middle one where it is."""

    row: PanelRow
    maps: Sequence[SheetMap]

    @property
    def _back(self) -> FloatArray:
        """Affine map from the axes of the panel in the middle to the sheet."""
        frame, sign = self.row.panels[self.row.middle].frame, self.row.signs[self.row.middle]
        return np.column_stack([sign * frame.across, frame.up, frame.origin])

    def _images(self, place: int, curves: Sequence[Curve], *, rigid: bool = False) -> list[Curve]:
        """Curves of a panel as they lie in the piece, on the sheet."""
        map_ = self.maps[place]
        map_ = SheetMap(map_.turn, map_.step, None) if rigid else map_
        own = transformed(curves, self.row.matrix(place))
        return transformed(_carried(map_, own), self._back)

    def seam_length(self, place: int) -> float:
        """Length of the seam behind a panel as it lies in the piece, in mm."""
        row = self.row
        return length(self._images(place, [row.panels[place].edge(row.sides[place][1])])[0])

    def panel(self, darts: Sequence[Sequence[SeamDart]]) -> tuple[Panel, float]:
        """The piece, and how far its top and bottom were moved to be smooth, in mm."""
        row = self.row
        main = row.panels[row.middle]
        names = [level.name for level in main.level_lines]
        shared = [n for n in names if all(own.level(n) is not None for own in row.panels)]
        runs: dict[str, list[Curve]] = {}
        marks: list[Mark] = []
        for place, panel in enumerate(row.panels):
            lines = [panel.edge(edge) for edge in (*row.sides[place], *ROW_ENDS)]
            lines += [lv.curve for n in shared if (lv := panel.level(n)) is not None]
            if row.signs[place] < 0.0:
                lines[2:] = [curve.reversed() for curve in lines[2:]]
            images = self._images(place, lines)
            for key, curve in zip(("begin", "end", *ROW_ENDS, *shared), images, strict=True):
                runs.setdefault(key, []).append(curve)
            for mark in row.kept(place, shared):
                # Grainlines stay straight.
                (own,) = self._images(place, [mark.curve], rigid=mark.kind == "grainline")
                marks.append(replace(mark, curve=own))
        marks += [
            Mark("dart", self._legs(runs, place, dart))
            for place, each in enumerate(darts)
            for dart in each
        ]
        front, behind = runs["begin"][0], runs["end"][-1]
        (bottom, low), (top, high) = (_trued(runs[edge]) for edge in ROW_ENDS)
        outline, corners = Corners.between(front, top, behind, bottom)
        across = {name: _end_to_end(runs[name]) for name in shared}
        frame = _frame(across[names[0]], self._back)
        levels = [
            Level(name, curve, float(frame.to_panel([curve.start, curve.end])[:, 1].mean()))
            for name, curve in across.items()
        ]
        if crossed := self_crossings([outline]):
            height = float(frame.to_panel(crossed[0][1])[1])
            raise row.fault(f"its edges would cross {height:+.0f} mm from the waist")
        piece = Panel(
            row.name,
            main.ident,
            outline,
            frame,
            corners,
            levels[0],
            tuple(levels[1:]),
            tuple(marks),
            made_of=tuple(own.name for own in row.panels),
            tips=(*self._tips(0, front), *self._tips(-1, behind)),
        )
        return piece, max(low, high)

    def _tips(self, place: int, drawn: Curve) -> Iterator[TipPoint]:
        """Where gores, or seams across beside it, end on an outer edge of the piece."""
        panel, edge = self.row.panels[place], self.row.sides[place][place]
        own = panel.edge(edge)
        for tip in (tip for tip in panel.tips if tip.edge == edge):
            at, _ = nearest_position(own, tip.point)
            run = length(own.piece(0.0, at)) / length(own) * length(drawn)
            (point,) = drawn.points(position_at_length(drawn, [run]))
            yield TipPoint("back" if place else "front", point, tip.piece)

    def _legs(self, runs: Mapping[str, Sequence[Curve]], place: int, dart: SeamDart) -> Curve:
        """Both stitch lines of a dart, up the one and down the other."""
        shares = 2.0 * np.array(dart.rows) / (SEAM_SAMPLES - 1)
        legs = []
        for own, key in ((place, "end"), (place + 1, "begin")):
            edge = self.row.sides[own][key == "end"]
            at = self.row.lengths_at(own, edge, shares)
            low, high = position_at_length(runs[key][own], at)
            legs.append(runs[key][own].piece(float(low), float(high)))
        return _end_to_end([legs[0], legs[1].reversed()])


def _carried(map_: SheetMap, curves: Sequence[Curve]) -> list[Curve]:
    """Curves in a panel's axes as they lie in the piece."""
    control, _ = gathered(curves)

    def image(index: IntArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
        own = control[index]
        return map_.carried(bezier_points(own, t), bezier_derivatives(own, t))

    return refit(curves, image)


def _end_to_end(curves: Sequence[Curve]) -> Curve:
    """Lines of neighbours as one, with a short straight one where they do not meet."""
    parts = [curves[0]]
    for curve in curves[1:]:
        if math.dist(parts[-1].end, curve.start) > _JOINT_MM:
            parts.append(Curve.polyline([parts[-1].end, curve.start]))
        parts.append(curve)
    return Curve.chain(parts)


def _trued(curves: Sequence[Curve]) -> tuple[Curve, float]:
    """Edges of neighbours as one smooth edge, and how far it was moved for that, in mm.

    Where they turn a little at a seam one cubic goes from the tangent before to the one after it.
    """
    whole, moved = curves[0], 0.0
    for curve in curves[1:]:
        meet = math.dist(whole.end, curve.start) <= _STEP_MM
        before, after = whole.end_tangents()[-1, 1], curve.end_tangents()[0, 0]
        turn = abs(math.atan2(before[0] * after[1] - before[1] * after[0], before @ after))
        apart = math.dist(whole.end, curve.start) > _JOINT_MM
        if not (meet and turn < _CORNER and (apart or turn > _SMOOTH)):
            whole = _end_to_end([whole, curve])
            continue
        reach = min(_TRUED_MM, 0.4 * length(whole), 0.4 * length(curve))
        cut = (
            position_at_length(whole, length(whole) - reach)[0],
            position_at_length(curve, reach)[0],
        )
        left, right = whole.piece(0.0, float(cut[0])), curve.piece(float(cut[1]), float(len(curve)))
        ends = left.end_tangents()[-1, 1], right.end_tangents()[0, 0]
        arm = math.dist(left.end, right.start) / 3.0
        points = [left.end, left.end + arm * ends[0], right.start - arm * ends[1], right.start]
        bridge = Curve(np.array([points]), np.array([CUBIC]))
        ends_off = [nearest_position(bridge, end)[1] for end in (whole.end, curve.start)]
        moved = max(moved, *ends_off)
        whole = Curve.chain([left, bridge, right])
    return whole, moved


def _frame(waist: Curve, back: FloatArray) -> Frame:
    """The axes of a piece whose waist is known; `back` holds those of its middle panel."""
    across = (waist.end - waist.start) / math.dist(waist.end, waist.start)
    up = np.array([-across[1], across[0]])
    middle = 0.5 * (waist.start + waist.end)
    return Frame(middle, across, up if up @ back[:, 1] > 0.0 else -up)
