"""The drawing of one panel, upright about its waist's middle, ready to be placed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..outline import FloatArray
from ..outline.many import box, transformed
from ..pattern.panel import Panel
from ..pattern.pattern import Pattern
from ..sheets.lettering import width
from ..sheets.sheet import Label, Stroke
from ..shift import LayerPattern, Shifted
from .panel_labels import panel_labels
from .panel_lines import panel_strokes
from .plan import CutPlan


@dataclass(frozen=True, eq=False)
class Part:
    """One panel's lines and labels, in mm about its waist's middle."""

    strokes: list[Stroke]
    labels: list[Label]

    def box(self) -> FloatArray:
        """((xmin, ymin), (xmax, ymax)) of its lines."""
        return box([stroke.curve for stroke in self.strokes])

    def at(self, place: FloatArray) -> Part:
        """Return the part moved by a vector in mm."""
        move = np.array([[1.0, 0.0, place[0]], [0.0, 1.0, place[1]]])
        return Part(
            _moved(self.strokes, move),
            [replace(label, at=label.at + place) for label in self.labels],
        )


def upright(panel: Panel) -> FloatArray:
    """Affine map, shape (2, 3), that turns a panel so that its grain runs up the sheet.

    The grain is the drawn grainline, or the panel's own vertical where none is drawn. Only
    a turn about the waist's middle: no panel is ever mirrored.
    """
    up = panel.frame.up
    for mark in panel.marks:
        if mark.kind == "grainline":
            corners = mark.curve.vertices
            # The longest stretch is the line itself, the others its arrow heads.
            steps = np.diff(corners, axis=0)
            step = steps[int(np.argmax(np.hypot(steps[:, 0], steps[:, 1])))]
            if np.hypot(*step) > 0.0:
                up = step / np.hypot(*step) * (1.0 if step @ panel.frame.up >= 0.0 else -1.0)
                break
    # The turn that carries `up` to (0, -1), which is up on a sheet with y downwards.
    turn = np.array([[-up[1], up[0]], [-up[0], -up[1]]])
    if np.abs(turn - np.eye(2)).max() < 1e-9:
        turn = np.eye(2)
    return np.column_stack([turn, -turn @ panel.frame.origin])


def layer_parts(
    shifted: Shifted, layer: LayerPattern, plan: CutPlan
) -> tuple[list[Part], tuple[str, ...]]:
    """All panels of one layer, and names of those whose cut line was flattened."""
    drawn = shifted.turn.pattern
    parts, flattened = [], []
    order = _sheet_order(drawn, layer.covered)
    upright_strokes = _upright_strokes(shifted, layer, order, plan)
    for index, (strokes, flat) in zip(order, upright_strokes, strict=True):
        panel = layer.pattern.panels[index]
        labels = _draft_texts(panel, upright(drawn.panels[index]))
        words = [panel.name, layer.fabric.name, *plan.cutting(drawn, index).words()]
        taken = [_text_band(label) for label in labels]
        parts.append(Part(strokes, labels + _labels(panel.name, strokes, taken, words)))
        if flat:
            flattened.append(panel.name)
    return parts, tuple(flattened)


def overlay_parts(shifted: Shifted, layers: Sequence[LayerPattern]) -> list[Part]:
    """Stitch, waist and level lines of several layers on top of each other, to look at."""
    parts = []
    drawn = shifted.turn.pattern
    for index in _sheet_order(drawn, range(len(drawn.panels))):
        panel = drawn.panels[index]
        matrix = upright(panel)
        strokes = []
        for layer in layers:
            if index in layer.covered:
                own = layer.pattern.panels[index]
                lines = [own.outline, own.waist.curve, *(lv.curve for lv in own.levels)]
                for curve in transformed(lines, matrix):
                    strokes.append(Stroke("stitch-line", curve, panel.name, layer.fabric.name))
        if strokes:
            taken = [_band(s) for s in strokes if not s.curve.closed]
            labels = panel_labels(panel.name, strokes[0].curve, taken, [panel.name])
            parts.append(Part(strokes, labels))
    return parts


def nested_parts(
    shifted: Shifted, layers: Sequence[LayerPattern], plan: CutPlan
) -> tuple[list[Part], tuple[str, ...]]:
    """All lines of several layers nested in each other, to be cut out one after another.

    Lines that every layer has (grainline, bone channels, other marks) are drawn once, as
    they are on the first of the layers.
    """
    drawn = shifted.turn.pattern
    parts, flattened = [], set[str]()
    of_layer = [
        dict(zip(layer.covered, _upright_strokes(shifted, layer, layer.covered, plan), strict=True))
        for layer in layers
    ]
    for index in _sheet_order(drawn, range(len(drawn.panels))):
        panel = drawn.panels[index]
        having = [
            (layer, own[index]) for layer, own in zip(layers, of_layer, strict=True) if index in own
        ]
        strokes: list[Stroke] = []
        for place, (layer, (own, flat)) in enumerate(having):
            if flat:
                flattened.add(panel.name)
            for stroke in own:
                if stroke.kind in _PER_LAYER:
                    strokes.append(replace(stroke, layer=layer.fabric.name))
                elif place == 0:
                    strokes.append(stroke)
        if strokes:
            words = [panel.name, *plan.cutting(drawn, index).words(), "of each layer"]
            parts.append(Part(strokes, _labels(panel.name, strokes, [], words)))
    return parts, tuple(sorted(flattened))


_PER_LAYER = frozenset({"cut-line", "stitch-line", "waistline", "level-lines", "notches"})


def _sheet_order(pattern: Pattern, indices: Sequence[int]) -> list[int]:
    """Panels from left to right, so that edges to be sewn together face each other.

    The centre front lies where it was drawn: on the right if the draft has it there.
    """
    last = pattern.panels[-1].frame
    right = np.array([-last.up[1], last.up[0]])
    return sorted(indices, reverse=bool(last.across @ right < 0.0))


def _upright_strokes(
    shifted: Shifted, layer: LayerPattern, indices: Sequence[int], plan: CutPlan
) -> list[tuple[list[Stroke], bool]]:
    drawn = shifted.turn.pattern.panels
    every = panel_strokes(layer.pattern, indices, layer.fabric.name, plan)
    return [
        (_moved(strokes, upright(drawn[index])), flat)
        for index, (strokes, flat) in zip(indices, every, strict=True)
    ]


def _moved(strokes: Sequence[Stroke], matrix: FloatArray) -> list[Stroke]:
    curves = transformed([stroke.curve for stroke in strokes], matrix)
    return [replace(s, curve=curve) for s, curve in zip(strokes, curves, strict=True)]


def _labels(
    name: str,
    strokes: Sequence[Stroke],
    taken: list[tuple[float, float]],
    words: Sequence[str],
) -> list[Label]:
    bands = [_band(s) for s in strokes if s.kind in ("waistline", "level-lines")]
    stitch = next(s for s in strokes if s.kind == "stitch-line")
    return panel_labels(name, stitch.curve, bands + taken, words)


def _band(stroke: Stroke) -> tuple[float, float]:
    """The stretch of sheet y that a line takes up."""
    y = stroke.curve.vertices[:, 1]
    return float(y.min()), float(y.max())


def _text_band(label: Label) -> tuple[float, float]:
    """The stretch of sheet y that a text takes up, level or turned."""
    run = width(label.text) * label.size * np.sin(label.angle)
    rise = label.size * abs(np.cos(label.angle))
    y = float(label.at[1])
    return min(y, y + run) - rise, max(y, y + run) + 0.3 * rise


def _draft_texts(panel: Panel, matrix: FloatArray) -> list[Label]:
    turn = float(np.arctan2(matrix[1, 0], matrix[0, 0]))
    return [
        Label(
            text.content,
            matrix[:, :2] @ text.anchor + matrix[:, 2],
            text.size,
            text.angle + turn,
            panel=panel.name,
            drafted=True,
        )
        for text in panel.texts
    ]
