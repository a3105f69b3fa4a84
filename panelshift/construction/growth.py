"""How much wider every layer is than the draft, by layer, panel and height."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ..body.turn import TurnOfCloth, read_beyond
from ..outline import FloatArray
from ..outline.bezier import IntArray, sealed
from ..outline.by_value import Sealed
from ..outline.splines import Spline
from ..stack import Stack

RELAXED_MM: Final = 24.0
"""Where a band ends cloth comes down over about this length: distances are averaged over as much,
by Hann's weights."""

SMOOTHED_MM: Final = 6.0
"""What ridges add has run out by itself: it is averaged over so much only, for smooth edges."""


@dataclass(frozen=True, eq=False)
class Growth(Sealed):
    """Growth of layers across their panels, and how far they lie out at the panels' edges.

    *distances*: ndarray, shape (layers, panels). Of each layer from the drafted one on each panel,
    in mm; at the waist, where it depends on the height. *spline*: Over the height, for each layer
    in turn: the distance on each panel; what it needs there beside distance times turn; the
    distance at each side edge, panel by panel. Without it distances are the same at all heights,
    and nothing more is needed.

    Notes
    -----
    Growth is distance times turn plus what cloth needs that rides over ridges. It is never divided
    by the turn: a panel that does not turn at all may have ridges.
    """

    distances: FloatArray
    turn: TurnOfCloth = field(repr=False)
    spline: Spline | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        # The layers' distances are rows of these.
        object.__setattr__(self, "distances", sealed(self.distances))

    @classmethod
    def flat(cls, stack: Stack, turn: TurnOfCloth) -> Growth:
        """Growth of layers that lie flat on each other; bands end over `RELAXED_MM`."""
        names = [panel.name for panel in turn.pattern.panels]
        if not stack.changes_with_height:
            return cls(stack.distances(names), turn)
        levels = turn.body.heights
        distances = stack.at_heights(names, levels)[0][1:-1]
        layers, panels, m = distances.shape
        return cls.over_levels(turn, levels, distances, np.zeros((layers, 3 * panels, m)))

    @classmethod
    def over_levels(
        cls, turn: TurnOfCloth, levels: FloatArray, distances: FloatArray, ridged: FloatArray
    ) -> Growth:
        """Growth that is known at some levels.

        *distances*: of flat cloths, (layers, panels, m). *ridged*: for each layer what ridges add
        on each panel, then how much further out it lies for them at both edges of each,
        (layers, 3 panels, m).
        """
        layers, panels, _ = distances.shape
        flat = relaxed(levels, distances, RELAXED_MM)
        reach = cloth_ends(turn)
        reach = np.concatenate([reach, np.repeat(reach, 2, axis=0)])
        reach = np.broadcast_to(reach, (layers, *reach.shape))
        ridged = relaxed(levels, ridged, SMOOTHED_MM, reach)
        ridged[:, panels:] += np.repeat(flat, 2, axis=1)
        rows = np.concatenate([flat, ridged], axis=1)
        spline = Spline.smooth(levels, rows.reshape(-1, len(levels)).T)
        waist = [np.interp(0.0, levels, row) for row in flat.reshape(-1, len(levels))]
        return cls(np.array(waist).reshape(layers, panels), turn, spline)

    def part(self, layers: IntArray) -> Growth:
        """Of some layers only."""
        if self.spline is None:
            return Growth(self.distances[layers], self.turn)
        each = 4 * self.distances.shape[1]
        rows = (each * layers[:, None] + np.arange(each)).ravel()
        spline = Spline(self.spline.knots, self.spline.values[:, rows], self.spline.slopes[:, rows])
        return Growth(self.distances[layers], self.turn, spline)

    @property
    def moves(self) -> IntArray:
        """Layers that differ from the draft anywhere."""
        rows = self.distances
        if self.spline is not None:
            rows = self.spline.values.T.reshape(len(rows), -1)
        return np.flatnonzero(rows.any(axis=1))

    def _rows(self, layer: IntArray, part: int, number: IntArray) -> IntArray:
        panels = self.distances.shape[1]
        return np.asarray(4 * panels * layer + part * panels + number)

    def _read(self, v: FloatArray, row: IntArray) -> tuple[FloatArray, FloatArray]:
        assert self.spline is not None
        return read_beyond(self.spline, v, row)

    def grown(
        self,
        layer: IntArray,
        panel: IntArray,
        v: FloatArray,
        turned: tuple[FloatArray, FloatArray],
    ) -> tuple[FloatArray, FloatArray]:
        """Growth in mm and its rate, where the turn's growth for each mm and its rate are known.

        `panel` and `v` have shape (k,), `layer` that or (layers, 1).
        """
        grown, rate = turned
        if self.spline is None:
            d = self.distances[layer, panel]
            return d * grown, d * rate
        d, change = self._read(v, self._rows(layer, 0, panel))
        more, more_rate = self._read(v, self._rows(layer, 1, panel))
        return d * grown + more, d * rate + change * grown + more_rate

    def at(self, layer: int, panel: int, v: float) -> float:
        """Growth of one panel in one layer at a height, in mm."""
        if self.spline is None:
            return float(self.distances[layer, panel] * self.turn.growth_at(panel, v))
        where, number = np.array([v]), np.array([panel])
        turned = self.turn.grown(where, number)
        return float(self.grown(np.array([layer]), number, where, turned)[0][0])

    def distance(self, layer: int, panel: int, v: float) -> float:
        """Distance of a layer's flat cloth from the drafted one on a panel at a height, in mm."""
        if self.spline is None:
            return float(self.distances[layer, panel])
        row = self._rows(np.array([layer]), 0, np.array([panel]))
        return float(self._read(np.array([v]), row)[0][0])

    def extra(self, layer: int, panel: int, v: float) -> float:
        """What the layer needs there beside distance times turn, in mm."""
        if self.spline is None:
            return 0.0
        row = self._rows(np.array([layer]), 1, np.array([panel]))
        return float(self._read(np.array([v]), row)[0][0])

    def at_edges(self, edge: IntArray, v: FloatArray) -> FloatArray:
        """Distance in mm of every layer at side edges, as `profile` numbers them: (layers, k)."""
        layers = np.arange(len(self.distances))[:, None]
        if self.spline is None:
            return self.distances[:, edge // 2]
        return self._read(v, self._rows(layers, 2, edge))[0]

    def on(self, v: FloatArray) -> FloatArray:
        """Growth at heights on every panel in mm, shape (layers, panels, m)."""
        turned = self.turn.growth_on(v)
        if self.spline is None:
            return self.distances[:, :, None] * turned
        layers, panels = self.distances.shape
        panel, many = np.repeat(np.arange(panels), len(v)), np.tile(v, panels)
        flat = turned.ravel(), np.zeros(turned.size)
        grown, _ = self.grown(np.arange(layers)[:, None], panel, many, flat)
        return grown.reshape(layers, panels, -1)


def relaxed(
    levels: FloatArray, rows: FloatArray, over: float, ends: FloatArray | None = None
) -> FloatArray:
    """Numbers at evenly spaced levels, (..., m), each averaged over some mm either side.

    *ends*: from where to where there is cloth, (..., 2): only that is looked at, and what holds at
    its ends holds beyond.
    """
    step = float(levels[1] - levels[0])
    half = int(over / step)
    weights = 1.0 + np.cos(np.pi * np.arange(-half, half + 1) * step / over)
    none = np.zeros((*rows.shape[:-1], half))
    there = np.ones(rows.shape)
    if ends is not None:
        low, high = ends[..., :1] - 0.5 * step, ends[..., 1:] + 0.5 * step
        there = np.where((levels >= low) & (levels <= high), there, 0.0)

    def summed(values: FloatArray) -> FloatArray:
        padded = np.concatenate([none, values, none], axis=-1)
        windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1, axis=-1)
        return np.asarray(windows @ weights)

    found = summed(rows * there) / np.maximum(summed(there), 1e-9)
    first = np.argmax(there, axis=-1, keepdims=True)
    last = len(levels) - 1 - np.argmax(there[..., ::-1], axis=-1, keepdims=True)
    return np.take_along_axis(found, np.clip(np.arange(len(levels)), first, last), axis=-1)


def cloth_ends(turn: TurnOfCloth) -> FloatArray:
    """From where to where each panel reaches, in mm above the waist, shape (panels, 2)."""
    ends = turn.profile.ends.reshape(-1, 2, 2)
    return np.stack([ends[:, :, 0].min(axis=1), ends[:, :, 1].max(axis=1)], axis=1)
