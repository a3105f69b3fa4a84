"""How far each layer's lines lie from the draft's, all the way round a panel, and pictures of it.

The fit sheet and the table draw the same measure, enlarged by the same rule: a maker who looks at
both sees one panel, not two.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..cutting.parts import Part, overlay_parts
from ..outline import Curve, FloatArray
from ..outline.measure import arc_table
from ..pattern.panel import Frame, Panel
from ..sheets.palette import FAINT, Style
from ..sheets.svg_writer import finished, line, picture, stroke, text
from ..shift import LayerPattern, Shifted

MAGNIFICATIONS: Final = (50.0, 20.0, 10.0, 5.0, 2.0, 1.0)
"""How many times as large changes may be drawn."""

_SHOWN_PART: Final = 1.0 / 6.0
"""Changes are enlarged to at most this part of a panel's width: it is still to be recognised."""

_STEP_MM: Final = 1.0
_EVERY_MM: Final = 3.0
"""Spacing of the points: pictures are looked at, not cut."""


@dataclass(frozen=True, eq=False)
class OutlineChange:
    """The draft's outline as points, and how far a layer's lies from each.

    *draft*, shape (m, 2): points of the draft's outline in panel coordinates (mm), from the bottom
    of the front edge up and round to the same place. *change*, shape (m, 2): from each point to its
    own on the layer, in mm.
    """

    draft: FloatArray
    change: FloatArray

    @property
    def distances(self) -> FloatArray:
        """How far each point moves, in mm, shape (m,)."""
        return np.asarray(np.hypot(*self.change.T))

    def at(self, enlarged: float) -> FloatArray:
        """The outline with the change drawn so many times as large: 0 is the draft, 1 the layer.

        Returns: ndarray, shape (m, 2).
        """
        return np.asarray(self.draft + enlarged * self.change)


def outline_change(
    draft: Panel, layer: Panel, axes: tuple[Frame, Frame] | None = None
) -> OutlineChange:
    """Compare a panel with itself in a layer, or in another corset, edge by edge.

    Points of the two belong together that divide their edge in the same proportion: corners
    belong to corners.

    *draft*, *layer*: before and after the shift. *axes*: of each; the draft's own for both, if not
    given, which the shift leaves where they are.
    """
    return _changed(axes or (draft.frame, draft.frame), _divided(draft), layer)


_Divided = list[tuple[FloatArray, FloatArray]]
"""Of each edge the parts of its length, and the points there."""


def _divided(draft: Panel) -> _Divided:
    found = []
    for _, edge in draft.runs():
        table = arc_table(edge, _STEP_MM)
        shares = _shares(*table)
        found.append((shares, _at(edge, table, shares)))
    return found


def _changed(axes: tuple[Frame, Frame], divided: _Divided, layer: Panel) -> OutlineChange:
    after = [
        _at(edge, arc_table(edge, _STEP_MM), shares)
        for (shares, _), (_, edge) in zip(divided, layer.runs(), strict=True)
    ]
    points = axes[0].to_panel(np.vstack([own for _, own in divided]))
    return OutlineChange(points, axes[1].to_panel(np.vstack(after)) - points)


def layer_changes(
    shifted: Shifted, layers: Sequence[LayerPattern]
) -> tuple[dict[str, OutlineChange], ...]:
    """Return for each panel how its outline changes in the layers that cover it, by their names.

    *layers*: of `shifted`.
    """
    found = []
    for index, panel in enumerate(shifted.turn.pattern.panels):
        divided = _divided(panel)
        found.append(
            {
                layer.fabric.name: _changed(
                    (panel.frame, panel.frame), divided, layer.whole.panels[index]
                )
                for layer in layers
                if index in layer.covered
            }
        )
    return tuple(found)


def spread_parts(shifted: Shifted, layers: Sequence[LayerPattern], by: float) -> list[Part]:
    """Panels with the stitch lines of layers so many times as far from the draft's: not to cut."""
    panels = shifted.turn.pattern.panels
    lines = {
        (index, name): Curve.polyline(panels[index].frame.to_sheet(change.at(by)), closed=True)
        for index, own in enumerate(layer_changes(shifted, layers))
        for name, change in own.items()
    }
    return overlay_parts(shifted, layers, lines)


def suitable_magnification(panels: Iterable[Mapping[str, OutlineChange]]) -> float:
    """Return the largest of the usual magnifications that leaves every panel to be recognised.

    One holds for all panels, so that they can be compared.

    *panels*: as `layer_changes` gives them.
    """
    largest = max((_largest(change) for panel in panels for change in panel.values()), default=0.0)
    return next((m for m in MAGNIFICATIONS if m * largest <= _SHOWN_PART), MAGNIFICATIONS[-1])


def _largest(change: OutlineChange) -> float:
    """The furthest that a point moves, as a part of the panel's width."""
    return float(change.distances.max() / np.ptp(change.draft[:, 0]))


def _shares(positions: FloatArray, arc: FloatArray) -> FloatArray:
    """Parts of an edge's length, evenly spaced, with every joint among them, from 0 to 1."""
    whole = float(arc[-1])
    if whole == 0.0:
        return np.array([0.0, 1.0])
    joints = arc[positions == np.round(positions)] / whole
    return np.unique(np.concatenate([np.linspace(0.0, 1.0, int(whole / _EVERY_MM) + 2), joints]))


def _at(edge: Curve, table: tuple[FloatArray, FloatArray], shares: FloatArray) -> FloatArray:
    positions, arc = table
    return edge.points(np.interp(shares * arc[-1], arc, positions))


_LETTER: Final = 12.0
_BORDER: Final = 18.0
_SPACE: Final = 44.0
_FLIP: Final = np.array([1.0, -1.0])


def overlay_figures(
    panels: Sequence[Panel],
    changes: Sequence[Mapping[str, OutlineChange]],
    styles: Mapping[str, Style],
    magnified: float,
) -> list[str]:
    """Draw every panel's outline in all layers, and beside it the same with the differences
    from the draft magnified; a mm is as long in all of them.

    *panels*: of the draft. *changes*: for each panel; see `layer_changes`. *magnified*: how many
    times as large differences are drawn.
    """
    shown = [
        [change.at(times) for change in own.values() for times in (1.0, magnified)]
        for own in changes
    ]
    boxes = [
        np.vstack([outline_points(panel), *lines])
        for panel, lines in zip(panels, shown, strict=True)
    ]
    room = np.max([np.ptp(box, axis=0) for box in boxes], axis=0)
    return [
        _figure(panel, own, styles, magnified, (box, room))
        for panel, own, box in zip(panels, changes, boxes, strict=True)
    ]


def outline_points(panel: Panel) -> FloatArray:
    """A panel's outline as points in panel coordinates, shape (m, 2)."""
    return panel.frame.to_panel(panel.outline.flatten(0.1))


def _figure(
    panel: Panel,
    changes: Mapping[str, OutlineChange],
    styles: Mapping[str, Style],
    magnified: float,
    frame: tuple[FloatArray, FloatArray],
) -> str:
    box, (wide, tall) = frame
    low, high = box.min(axis=0), box.max(axis=0)
    root = picture(
        2.0 * (wide + _BORDER) + _SPACE,
        tall + 2.0 * _BORDER + _LETTER,
        f"panel {panel.name}: its layers at true proportion and with differences magnified",
    )
    slack = 0.5 * (wide - (high[0] - low[0]))
    true_at = np.array([_BORDER + slack - low[0], _BORDER + high[1]])
    big_at = true_at + np.array([wide + _SPACE, 0.0])
    for name, change in changes.items():
        line(root, change.at(1.0) * _FLIP + true_at, stroke(styles[name], 0.7))
        line(root, change.at(magnified) * _FLIP + big_at, stroke(styles[name], 1.1))
    for points in level_points(panel):
        for at in (true_at, big_at):
            line(root, points * _FLIP + at, {"stroke": FAINT, "stroke-width": "0.4"})
    y = tall + 2.0 * _BORDER + 0.4 * _LETTER
    text(root, "true", np.array([_BORDER + 0.5 * wide, y]), _LETTER)
    text(root, f"x {magnified:g}", np.array([_BORDER + 1.5 * wide + _SPACE, y]), _LETTER)
    return finished(root)


def level_points(panel: Panel) -> list[FloatArray]:
    """A panel's level lines as points in panel coordinates, the waist first, shapes (m, 2)."""
    levels = panel.level_lines
    return [panel.frame.to_panel(level.curve.flatten(0.1)) for level in levels]
