"""All curves of a pattern in one array, carried to a layer together."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.curve import IntArray, bezier_derivatives, bezier_points
from ..outline.refit import refit_segments
from ..pattern.panel import Corners, Level, Mark, Panel
from ..pattern.pattern import Pattern
from .field import FREE, Fields

_PINS = {"front": 0.0, "back": 1.0}


@dataclass(frozen=True, eq=False)
class Carrier:
    """The curves of every panel (edges, waist, levels, marks), segment by segment.

    numpy costs more for each call than for each number: one pass over all segments of all
    panels takes little longer than one over a single edge.

    Parameters
    ----------
    pattern : Pattern
    control : ndarray, shape (n, 4, 2)
        Control points in panel coordinates, mm.
    degree : ndarray of int, shape (n,)
    panel : ndarray of int, shape (n,)
        Panel that each segment lies on.
    pinned : ndarray, shape (n,)
        See `Fields.carry`.
    curve : ndarray of int, shape (n,)
        Number of the curve that each segment belongs to.
    counts : tuple of int
        Number of curves of each panel.
    """

    pattern: Pattern
    control: FloatArray
    degree: IntArray
    panel: IntArray
    pinned: FloatArray
    curve: IntArray
    counts: tuple[int, ...]

    @classmethod
    def of(cls, pattern: Pattern) -> Carrier:
        """Gather the curves of a pattern."""
        curves: list[Curve] = []
        panels: list[int] = []
        pins: list[float] = []
        counts = []
        for index, panel in enumerate(pattern.panels):
            own = [(run, _PINS.get(name, FREE)) for name, run in panel.runs()]
            own += [(level.curve, FREE) for level in (panel.waist, *panel.levels)]
            own += [(mark.curve, FREE) for mark in panel.marks]
            curves += [curve for curve, _ in own]
            pins += [pin for _, pin in own]
            panels += [index] * len(own)
            counts.append(len(own))
        sizes = [len(curve) for curve in curves]
        owner = np.repeat(np.arange(len(curves)), sizes)
        panel_of = np.asarray(panels)[owner]
        control = np.concatenate([curve.control for curve in curves])
        return cls(
            pattern,
            _Axes.of(pattern, panel_of).to_panel(control),
            np.concatenate([curve.degree for curve in curves]),
            panel_of,
            np.asarray(pins)[owner],
            owner,
            tuple(counts),
        )

    def carry(self, fields: Fields) -> tuple[Panel, ...]:
        """Every panel as the fields move it, in sheet mm; fits are within 0.005 mm."""

        def image(index: IntArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
            control = self.control[index]
            return fields.carry(
                bezier_points(control, t),
                bezier_derivatives(control, t),
                self.panel[index],
                self.pinned[index],
            )

        control, degree, source = refit_segments(self.degree, image)
        owner = self.curve[source]
        # Joints within one curve are one point to the last bit.
        same = owner[1:] == owner[:-1]
        control[1:][same, 0] = control[:-1][same, 3]
        sheet = _Axes.of(self.pattern, self.panel[source]).to_sheet(control)
        for array in (sheet, degree):
            array.flags.writeable = False
        ends = np.searchsorted(owner, np.arange(sum(self.counts) + 1))
        pieces = [
            (sheet[low:high], degree[low:high])
            for low, high in zip(ends[:-1].tolist(), ends[1:].tolist(), strict=True)
        ]
        panels: list[Panel] = []
        at = 0
        for panel, count in zip(self.pattern.panels, self.counts, strict=True):
            panels.append(_rebuilt(panel, pieces[at : at + count], fields, len(panels)))
            at += count
        return tuple(panels)


_Piece = tuple[FloatArray, IntArray]


def _rebuilt(panel: Panel, pieces: list[_Piece], fields: Fields, index: int) -> Panel:
    """A panel from its carried curves, in the order in which `Carrier.of` gathered them."""
    runs, rest = pieces[:4], pieces[4:]
    control = np.concatenate([piece[0] for piece in runs])
    control[1:, 0] = control[:-1, 3]
    control[-1, 3] = control[0, 0]
    control.flags.writeable = False
    outline = Curve.trusted(control, np.concatenate([piece[1] for piece in runs]), True)
    ends = np.cumsum([len(piece[0]) for piece in runs]).tolist()
    corners = Corners(0.0, float(ends[0]), float(ends[1]), float(ends[2]), True)
    waist, *levels = (
        _level(panel, level, piece)
        for level, piece in zip((panel.waist, *panel.levels), rest, strict=False)
    )
    marks = [
        Mark(mark.kind, Curve.trusted(*piece, mark.curve.closed), mark.ident)
        for mark, piece in zip(panel.marks, rest[1 + len(levels) :], strict=True)
    ]
    return Panel(
        panel.name,
        panel.ident,
        outline,
        panel.frame,
        corners,
        waist,
        tuple(levels),
        tuple(marks),
        tuple(
            replace(text, anchor=_carried_point(panel, text.anchor, fields, index))
            for text in panel.texts
        ),
    )


def _level(panel: Panel, level: Level, piece: _Piece) -> Level:
    control = piece[0]
    middle = 0.5 * (control[0, 0] + control[-1, 3]) - panel.frame.origin
    height = float(middle @ panel.frame.up) + 0.0
    return Level(level.name, Curve.trusted(*piece), height, level.ident)


def _carried_point(panel: Panel, point: FloatArray, fields: Fields, index: int) -> FloatArray:
    inner = panel.frame.to_panel(point[None])
    where, free = np.array([index]), np.array([FREE])
    images, _ = fields.carry(inner, np.zeros_like(inner), where, free)
    result: FloatArray = panel.frame.to_sheet(images)[0]
    return result


@dataclass(frozen=True, eq=False)
class _Axes:
    """Frames of many segments: origins and axes of shape (n, 1) for each coordinate."""

    origin: FloatArray
    across: FloatArray
    up: FloatArray

    @classmethod
    def of(cls, pattern: Pattern, panel: IntArray) -> _Axes:
        frames = [p.frame for p in pattern.panels]
        return cls(
            np.array([f.origin for f in frames])[panel][:, None],
            np.array([f.across for f in frames])[panel][:, None],
            np.array([f.up for f in frames])[panel][:, None],
        )

    def to_panel(self, control: FloatArray) -> FloatArray:
        relative = control - self.origin
        x, y = relative[..., 0], relative[..., 1]
        u = self.across[..., 0] * x + self.across[..., 1] * y
        v = self.up[..., 0] * x + self.up[..., 1] * y
        return np.stack([u, v], axis=-1)

    def to_sheet(self, control: FloatArray) -> FloatArray:
        u, v = control[..., :1], control[..., 1:]
        return np.asarray(self.origin + u * self.across + v * self.up)
