"""All curves of a pattern in one array, carried to all layers together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.bezier import IntArray, bezier_derivatives, bezier_points
from ..outline.refit import REFIT_TOLERANCE_MM, refit_copies
from ..pattern.drawing import Text
from ..pattern.panel import Corners, Level, Mark, Panel, TipPoint
from ..pattern.pattern import Pattern
from .field import FREE

_PINS = {"front": 0.0, "back": 1.0}


class Carrying(Protocol):
    """Maps that carry the panels of a pattern: those of the layers, or an alteration's."""

    @property
    def count(self) -> int:
        """How many maps there are."""
        ...

    def carry(
        self,
        points: FloatArray,
        speeds: FloatArray,
        layer: IntArray,
        panel: IntArray,
        pinned: FloatArray,
    ) -> tuple[FloatArray, FloatArray]:
        """Images of points and of vectors at them: see `Fields.carry`."""
        ...


@dataclass(frozen=True, eq=False)
class Carrier:
    """The curves of every panel (edges, waist, levels, marks, slits), segment by segment.

    numpy costs more for each call than for each number: one pass over all segments of all
    panels takes little longer than one over a single edge.

    *control*: ndarray, shape (n, 4, 2). Control points in panel coordinates, mm. *degree*: ndarray
    of int, shape (n,). *panel*: ndarray of int, shape (n,). Panel that each segment lies on.
    *pinned*: ndarray, shape (n,). See `Fields.carry`. *curve*: ndarray of int, shape (n,). Number
    of the curve that each segment belongs to. *entries*: All panels, each followed by its pieces.
    *owners*: Index of the panel that each belongs to. *counts*: Number of curves of each. *edges*:
    Number of those, the first, that make up its outline.
    """

    pattern: Pattern
    control: FloatArray
    degree: IntArray
    panel: IntArray
    pinned: FloatArray
    curve: IntArray
    entries: tuple[Panel, ...]
    owners: IntArray
    counts: tuple[int, ...]
    edges: tuple[int, ...]

    @classmethod
    def of(cls, pattern: Pattern, held: Mapping[tuple[int, Mark], float] | None = None) -> Carrier:
        """Gather the curves of a pattern.

        *held*: place across its panel, from 0 to 1, of marks that move as that place does, by the
        panel's index and the mark.
        """
        held = held or {}
        curves: list[Curve] = []
        panels: list[int] = []
        pins: list[float] = []
        counts, edges = [], []
        entries = [
            (k, piece) for k, panel in enumerate(pattern.panels) for piece in (panel, *panel.pieces)
        ]
        for index, panel in entries:
            own = [(run, _PINS.get(name, FREE)) for name, run in panel.runs()]
            edges.append(len(own))
            own += [(level.curve, FREE) for level in panel.level_lines]
            own += [(mark.curve, held.get((index, mark), FREE)) for mark in panel.marks]
            own += [(slit.curve, FREE) for slit in panel.slits]
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
            tuple(panel for _, panel in entries),
            np.array([index for index, _ in entries]),
            tuple(counts),
            tuple(edges),
        )

    @property
    def size(self) -> int:
        """Points that are looked at for each layer: a curve takes ten or so a segment."""
        return 10 * len(self.control)

    def carry(
        self, fields: Carrying, tolerance: float = REFIT_TOLERANCE_MM
    ) -> list[tuple[Panel, ...]]:
        """Every panel in every layer of the fields, in sheet mm; fits are within the tolerance."""
        layers, segments = fields.count, len(self.control)
        many = sum(self.counts)

        def image(
            segment: IntArray, t: FloatArray, layer: IntArray
        ) -> tuple[FloatArray, FloatArray]:
            control = self.control[segment]
            return fields.carry(
                bezier_points(control, t),
                bezier_derivatives(control, t),
                layer,
                self.panel[segment],
                self.pinned[segment],
            )

        control, degree, source = refit_copies(self.degree, image, layers, tolerance)
        layer, segment = np.divmod(source, segments)
        owner = self.curve[segment] + many * layer
        # Joints within one curve are one point to the last bit.
        same = owner[1:] == owner[:-1]
        control[1:][same, 0] = control[:-1][same, 3]
        sheet = _Axes.of(self.pattern, self.panel[segment]).to_sheet(control)
        ends = np.searchsorted(owner, np.arange(layers * many + 1))
        self._close_outlines(sheet, ends, layers)
        for array in (sheet, degree):
            array.flags.writeable = False
        middles = 0.5 * (control[ends[:-1], 0, 1] + control[ends[1:] - 1, 3, 1])
        carried = _Carried(sheet, degree, ends.tolist(), middles.tolist())
        texts, tips = self._carried_texts(fields), self._carried_tips(fields)
        whole, at = [], 0
        for own, met in zip(texts, tips, strict=True):
            found = []
            for k, count in enumerate(self.counts):
                panel = _rebuilt(self.entries[k], carried, at, self.edges[k])
                found.append(replace(panel, texts=own[k], tips=met[k]))
                at += count
            whole.append(self._with_pieces(found))
        return whole

    def _with_pieces(self, found: Sequence[Panel]) -> tuple[Panel, ...]:
        """Panels again, each with its pieces."""
        if len(found) == len(self.pattern.panels):
            return tuple(found)
        own = iter(found)
        return tuple(
            replace(next(own), pieces=tuple(next(own) for _ in panel.pieces))
            for panel in self.pattern.panels
        )

    def _axes(self, numbers: Sequence[int]) -> tuple[IntArray, _Axes]:
        """For things on entries, so many on each: the panel of each thing, and its axes."""
        owner = np.repeat(self.owners, numbers)
        return owner, _Axes.of(self.pattern, owner)

    def _close_outlines(self, sheet: FloatArray, ends: IntArray, layers: int) -> None:
        """Make the joints between the four edges of each outline exact, in place."""
        before = np.cumsum([0, *self.counts[:-1]])
        first = (before + sum(self.counts) * np.arange(layers)[:, None]).ravel()
        count = np.tile(self.edges, layers)
        for edge in range(1, max(self.edges)):
            start = ends[(first + edge)[edge < count]]
            sheet[start, 0] = sheet[start - 1, 3]
        sheet[ends[first + count] - 1, 3] = sheet[ends[first], 0]

    def _carried_texts(self, fields: Carrying) -> list[list[tuple[Text, ...]]]:
        """The words of every entry in every layer, at the images of their anchors."""
        words = [text for panel in self.entries for text in panel.texts]
        if not words:
            return [[()] * len(self.entries)] * fields.count
        owner, axes = self._axes([len(panel.texts) for panel in self.entries])
        inner = axes.to_panel(np.array([text.anchor for text in words])[:, None])[:, 0]
        whole = self._images(fields, inner, owner, np.full(len(words), FREE))
        result = []
        for images in whole:
            anchors = iter(axes.to_sheet(images[:, None])[:, 0])
            result.append(
                [
                    tuple(replace(text, anchor=next(anchors)) for text in panel.texts)
                    for panel in self.entries
                ]
            )
        return result

    def _carried_tips(self, fields: Carrying) -> list[list[tuple[TipPoint, ...]]]:
        """Where gores and seams across end on the side edges of every entry in every layer."""
        tips = [tip for panel in self.entries for tip in panel.tips]
        if not tips:
            return [[()] * len(self.entries)] * fields.count
        owner, axes = self._axes([len(panel.tips) for panel in self.entries])
        inner = axes.to_panel(np.array([tip.point for tip in tips])[:, None])[:, 0]
        pins = np.array([_PINS[tip.edge] for tip in tips])
        result = []
        for images in self._images(fields, inner, owner, pins):
            points = iter(axes.to_sheet(images[:, None])[:, 0])
            result.append(
                [
                    tuple(replace(tip, point=next(points)) for tip in panel.tips)
                    for panel in self.entries
                ]
            )
        return result

    def _images(
        self, fields: Carrying, inner: FloatArray, owner: IntArray, pins: FloatArray
    ) -> FloatArray:
        """Images of points in every layer, (layers, k, 2)."""
        layers = np.arange(fields.count)[:, None]
        return fields.carry(inner, np.zeros_like(inner), layers, owner, pins)[0]


@dataclass(frozen=True, eq=False)
class _Carried:
    """Carried curves by number: segments in sheet mm, where each begins, how high it lies."""

    control: FloatArray
    degree: IntArray
    ends: list[int]
    heights: list[float]

    def curve(self, number: int, closed: bool = False) -> Curve:
        part = slice(self.ends[number], self.ends[number + 1])
        return Curve.trusted(self.control[part], self.degree[part], closed)

    def level(self, number: int, drawn: Level) -> Level:
        return Level(drawn.name, self.curve(number), self.heights[number] + 0.0, drawn.ident)


def _rebuilt(panel: Panel, carried: _Carried, at: int, edges: int) -> Panel:
    """A panel from its carried curves, in the order in which `Carrier.of` gathered them."""
    first, *ends = carried.ends[at : at + edges + 1]
    outline = Curve.trusted(
        carried.control[first : ends[-1]], carried.degree[first : ends[-1]], True
    )
    stops = [float(end - first) for end in ends[:-1]]
    if panel.pointed == "top":
        stops.insert(0, stops[0])
    elif panel.pointed == "bottom":
        stops.append(0.0)
    front_top, back_top, back_bottom = stops
    corners = Corners(0.0, front_top, back_top, back_bottom, True)
    levels = [
        carried.level(number, level)
        for number, level in enumerate(panel.level_lines, start=at + edges)
    ]
    first_level = 0 if panel.waist is None else 1
    beside = at + edges + len(levels)
    marks = tuple(
        replace(mark, curve=carried.curve(number, mark.curve.closed))
        for number, mark in enumerate(panel.marks, start=beside)
    )
    slits = tuple(
        replace(slit, curve=carried.curve(number))
        for number, slit in enumerate(panel.slits, start=beside + len(marks))
    )
    return Panel(
        panel.name,
        panel.ident,
        outline,
        panel.frame,
        corners,
        levels[0] if first_level else None,
        tuple(levels[first_level:]),
        marks,
        made_of=panel.made_of,
        parted=panel.parted,
        slits=slits,
    )


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
