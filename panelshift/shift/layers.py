"""Shift a whole pattern to every layer of a stack."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import ShiftError, StackError
from ..outline import FloatArray
from ..outline.planar import self_crossing
from ..pattern.panel import Panel
from ..pattern.pattern import Pattern, SeamLengths
from ..stack import Fabric, Stack
from ..turn import TurnOfCloth
from .carrier import Carrier
from .field import Fields
from .seams import edge_lengthening

_CHECK_FLATNESS_MM = 0.05
"""Flatness for looking whether edges cross: far finer than any crossing that matters."""


@dataclass(frozen=True, eq=False)
class LayerPattern:
    """The pattern of one layer.

    Parameters
    ----------
    fabric : Fabric
    place : int
        Place in the stack, 0 next to the body.
    pattern : Pattern
        All panels, shifted; `covered` says which of them the fabric has.
    distances : ndarray, shape (panels,)
        Distance of its mid-surface from the drafted layer's on each panel, in mm.
    drafted : bool
        Whether this is the drafted layer: its curves are those that were read.
    """

    fabric: Fabric
    place: int
    pattern: Pattern
    distances: FloatArray
    drafted: bool

    def _repr_svg_(self) -> str:
        from ..pattern.picture import panels_picture

        panels = [self.pattern.panels[i] for i in self.covered]
        return panels_picture([(self.fabric.name, panels)], self.fabric.name)

    @property
    def covered(self) -> tuple[int, ...]:
        """Indices of the panels that this fabric covers."""
        return tuple(
            i for i, panel in enumerate(self.pattern.panels) if self.fabric.covers(panel.name)
        )

    def walk(self) -> tuple[SeamLengths, ...]:
        """Walk the seams between panels that this fabric covers."""
        covered = set(self.covered)
        return tuple(
            walked
            for walked in self.pattern.walk()
            if walked.seam.first in covered and walked.seam.second in covered
        )


@dataclass(frozen=True, eq=False)
class Shifted:
    """All layers of a pattern, from the body outwards, and the turn that made them."""

    layers: tuple[LayerPattern, ...]
    turn: TurnOfCloth
    stack: Stack

    def layer(self, name: str) -> LayerPattern:
        """The layer of a fabric's name.

        Raises
        ------
        KeyError
            If there is none.
        """
        for layer in self.layers:
            if layer.fabric.name == name:
                return layer
        raise KeyError(name)

    def growth_table(self, height: float = 0.0) -> FloatArray:
        """Growth in mm of every panel in every layer at a height, shape (layers, panels)."""
        each = [self.turn.growth_at(i, height) for i in range(len(self.turn.pattern.panels))]
        return np.array([layer.distances * each for layer in self.layers])

    def _repr_svg_(self) -> str:
        from ..pattern.picture import panels_picture

        return panels_picture(
            [
                (layer.fabric.name, [layer.pattern.panels[i] for i in layer.covered])
                for layer in self.layers
                if layer.covered
            ],
            self.turn.pattern.source or "layers",
        )

    def growth(self, layer: int, panel: int, height: float) -> float:
        """Growth in mm of a panel in a layer at a height in mm above the waist."""
        return float(self.layers[layer].distances[panel]) * self.turn.growth_at(panel, height)


def anchors(pattern: Pattern) -> FloatArray:
    """Where each panel stays put: 0 at a straight open front edge, 1 at a back one, else 1/2.

    Returns
    -------
    ndarray, shape (panels,)
    """
    result = np.full(len(pattern.panels), 0.5)
    for index, edge in sorted(pattern.open_edges()):
        panel = pattern.panels[index]
        if panel.is_straight(edge):
            result[index] = 0.0 if edge == "front" else 1.0
    return result


def shift(pattern: Pattern, stack: Stack, turn: TurnOfCloth) -> Shifted:
    """Shift every panel to every layer.

    Parameters
    ----------
    pattern : Pattern
    stack : Stack
    turn : TurnOfCloth
        Of the same pattern.

    Raises
    ------
    StackError
        If a fabric covers a panel that is not in the pattern.
    ShiftError
        If a layer would fold a panel over or make its outline cross itself.
    """
    names = [panel.name for panel in pattern.panels]
    for fabric in stack.fabrics:
        unknown = sorted((fabric.panels or frozenset()) - set(names))
        if unknown:
            raise StackError(
                f"fabric {fabric.name!r} covers panel {unknown[0]!r}, which the pattern has not",
                remedy=f"Use the pattern's panel names: {', '.join(names)}.",
                source=pattern.source,
                element=fabric.name,
            )
    distances = stack.distances(names)
    fixed = anchors(pattern)
    carrier = Carrier.of(pattern)
    layers = []
    for place, fabric in enumerate(stack.fabrics):
        drafted = place == stack.drafted_index
        moved = _shift_layer(carrier, turn, fabric, distances[place], fixed)
        layers.append(LayerPattern(fabric, place, moved, distances[place], drafted))
    return Shifted(tuple(layers), turn, stack)


def _shift_layer(
    carrier: Carrier, turn: TurnOfCloth, fabric: Fabric, distances: FloatArray, fixed: FloatArray
) -> Pattern:
    pattern = carrier.pattern
    if not distances.any():
        return pattern
    along = edge_lengthening(turn, distances, fixed)
    rows = np.stack(
        [
            turn.profile.front,
            turn.profile.back,
            distances[:, None] * turn.growth,
            along["front"],
            along["back"],
        ],
        axis=-1,
    )
    for panel, own in zip(pattern.panels, rows, strict=True):
        _refuse_fold(pattern, panel, fabric, turn.profile.heights, own)
    panels = carrier.carry(Fields.of(turn.profile.heights, rows, fixed))
    for panel in panels:
        at = self_crossing(panel.outline, _CHECK_FLATNESS_MM)
        if at is not None:
            height = float(panel.frame.to_panel(at)[1])
            raise _fold(pattern, panel, fabric, height, "its edges would cross")
    return replace(pattern, panels=panels)


def _refuse_fold(
    pattern: Pattern, panel: Panel, fabric: Fabric, heights: FloatArray, rows: FloatArray
) -> None:
    """Refuse a field whose Jacobian is not positive somewhere on the panel."""
    v = panel.frame.to_panel(panel.outline.control.reshape(-1, 2))[:, 1]
    first, last = np.searchsorted(heights, [v.min(), v.max()])
    rows, heights = rows[first : last + 1], heights[first : last + 1]
    narrow = rows[:, 1] - rows[:, 0] + rows[:, 2] <= 0.0
    if narrow.any():
        height = float(heights[np.argmax(narrow)])
        raise _fold(pattern, panel, fabric, height, "it would have no width left")
    falling = np.diff(rows[:, 3:], axis=0).min(axis=1) <= -(heights[1] - heights[0])
    if falling.any():
        height = float(heights[np.argmax(falling)])
        raise _fold(pattern, panel, fabric, height, "it would fold over on itself")


def _fold(pattern: Pattern, panel: Panel, fabric: Fabric, height: float, what: str) -> ShiftError:
    return ShiftError(
        f"panel {panel.name!r} in layer {fabric.name!r}, {height:+.0f} mm from the waist: {what}",
        remedy="Check the thicknesses (in mm) and the waist of the pattern: the layer lies "
        "deeper than the curve of the body allows.",
        source=pattern.source,
        element=panel.ident,
    )
