"""The drawing of one panel, upright about its waist's middle, ready to be placed."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.many import group_boxes, rises, share_polylines, transformed
from ..pattern.panel import Panel
from ..pattern.pattern import Pattern
from ..sheets.lettering import width
from ..sheets.sheet import Label, Stroke
from ..shift import LayerPattern, Shifted
from .panel_labels import LABEL_FLATNESS_MM, Room, panel_labels
from .panel_lines import panel_strokes
from .plan import CutPlan


@dataclass(frozen=True, eq=False)
class Part:
    """One panel's lines and labels, in mm about its waist's middle."""

    strokes: list[Stroke]
    labels: list[Label]

    def box(self) -> FloatArray:
        """((xmin, ymin), (xmax, ymax)) of its lines."""
        return part_boxes([self])[0]


def part_boxes(parts: Sequence[Part]) -> list[FloatArray]:
    """The box of each part, all in one pass: see `Part.box`."""
    return list(group_boxes([[stroke.curve for stroke in part.strokes] for part in parts]))


def moved_parts(parts: Sequence[Part], places: Sequence[FloatArray]) -> list[Part]:
    """Parts moved by vectors in mm, all in one pass."""
    moves = np.zeros((len(parts), 2, 3))
    moves[:, 0, 0] = moves[:, 1, 1] = 1.0
    moves[:, :, 2] = np.reshape(places, (-1, 2))
    drawn = carried([part.strokes for part in parts], moves)
    return [
        Part(strokes, [label.moved(place) for label in part.labels])
        for part, strokes, place in zip(parts, drawn, places, strict=True)
    ]


def carried(groups: Sequence[Sequence[Stroke]], matrices: FloatArray) -> list[list[Stroke]]:
    """Groups of lines, each under its own affine map, shape (groups, 2, 3), all in one pass."""
    each = np.repeat(matrices, [len(strokes) for strokes in groups], axis=0)
    curves = iter(transformed([s.curve for strokes in groups for s in strokes], each))
    return [[stroke.along(next(curves)) for stroke in strokes] for strokes in groups]


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


def layer_parts(shifted: Shifted, layer: LayerPattern, plan: CutPlan) -> list[Part]:
    """All panels of one layer."""
    return parts_of_layers(shifted, [layer], plan)[0]


def parts_of_layers(
    shifted: Shifted, layers: Sequence[LayerPattern], plan: CutPlan
) -> list[list[Part]]:
    """What `layer_parts` gives, of several layers in one pass."""
    draft = shifted.turn.pattern
    turns = [upright(panel) for panel in draft.panels]
    drawn = [(layer, k) for layer in layers for k in _sheet_order(draft, layer.covered)]
    drawings = _upright_strokes(drawn, plan, turns)
    rooms, texts = [], []
    bands = _bands(drawings)
    for (layer, index), strokes, taken in zip(drawn, drawings, bands, strict=True):
        panel = layer.pattern.panels[index]
        own = _draft_texts(panel, turns[index])
        words = [panel.name, layer.fabric.name, *plan.cutting(draft, index).words()]
        taken += [_text_band(label) for label in own]
        rooms.append(Room(panel.name, _stitch_line(strokes), taken, words))
        texts.append(own)
    drawing = zip(drawings, texts, panel_labels(rooms), strict=True)
    return [
        [
            Part(strokes, own + labels)
            for strokes, own, labels in itertools.islice(drawing, len(layer.covered))
        ]
        for layer in layers
    ]


def overlay_parts(shifted: Shifted, layers: Sequence[LayerPattern]) -> list[Part]:
    """Stitch, waist and level lines of several layers on top of each other, to look at."""
    drawn = shifted.turn.pattern
    groups, matrices = [], []
    for index in _sheet_order(drawn, range(len(drawn.panels))):
        strokes = []
        for layer in layers:
            if index in layer.covered:
                own = layer.pattern.panels[index]
                lines = [own.outline, own.waist.curve, *(lv.curve for lv in own.levels)]
                strokes += [
                    Stroke("stitch-line", curve, own.name, layer.fabric.name) for curve in lines
                ]
        if strokes:
            groups.append(strokes)
            matrices.append(upright(drawn.panels[index]))
    turned = carried(groups, np.array(matrices).reshape(-1, 2, 3))
    open_lines = [[s.curve for s in own if not s.curve.closed] for own in turned]
    rooms = [
        Room(own[0].panel, own[0].curve, rises(lines), [own[0].panel])
        for own, lines in zip(turned, open_lines, strict=True)
    ]
    return [Part(*both) for both in zip(turned, panel_labels(rooms), strict=True)]


def nested_parts(shifted: Shifted, layers: Sequence[LayerPattern], plan: CutPlan) -> list[Part]:
    """All lines of several layers nested in each other, to be cut out one after another.

    Lines that every layer has (grainline, bone channels, other marks) are drawn once, as
    they are on the first of the layers.
    """
    drawn = shifted.turn.pattern
    groups, rooms = [], []
    turns = [upright(panel) for panel in drawn.panels]
    every = [(layer, index) for layer in layers for index in layer.covered]
    found = iter(_upright_strokes(every, plan, turns))
    of_layer = [{index: next(found) for index in layer.covered} for layer in layers]
    for index in _sheet_order(drawn, range(len(drawn.panels))):
        panel = drawn.panels[index]
        having = [
            (layer, own[index]) for layer, own in zip(layers, of_layer, strict=True) if index in own
        ]
        strokes: list[Stroke] = []
        for place, (layer, own) in enumerate(having):
            for stroke in own:
                if stroke.kind in _PER_LAYER:
                    strokes.append(replace(stroke, layer=layer.fabric.name))
                elif place == 0:
                    strokes.append(stroke)
        if strokes:
            words = [panel.name, *plan.cutting(drawn, index).words(), "of each layer"]
            groups.append(strokes)
            rooms.append(Room(panel.name, _stitch_line(strokes), [], words))
    for room, taken in zip(rooms, _bands(groups), strict=True):
        room.taken.extend(taken)
    return [Part(*both) for both in zip(groups, panel_labels(rooms), strict=True)]


_PER_LAYER = frozenset({"cut-line", "stitch-line", "waistline", "level-lines", "notches"})


def _sheet_order(pattern: Pattern, indices: Sequence[int]) -> list[int]:
    """Panels from left to right, so that edges to be sewn together face each other.

    The centre front lies where it was drawn: on the right if the draft has it there.
    """
    last = pattern.panels[-1].frame
    right = np.array([-last.up[1], last.up[0]])
    return sorted(indices, reverse=bool(last.across @ right < 0.0))


def _upright_strokes(
    drawn: Sequence[tuple[LayerPattern, int]], plan: CutPlan, turns: Sequence[FloatArray]
) -> list[list[Stroke]]:
    """Lines of panels of layers, turned upright."""
    if not drawn:
        return []
    every = panel_strokes(drawn, plan)
    matrices = np.array([turns[index] for _, index in drawn])
    strokes = carried(every, matrices)
    share_polylines([_stitch_line(own) for own in strokes], LABEL_FLATNESS_MM)
    return strokes


_LEVEL_LINES = frozenset({"waistline", "level-lines"})


def _bands(groups: Sequence[Sequence[Stroke]]) -> list[list[tuple[float, float]]]:
    """The stretches of sheet y that level lines take up on each panel."""
    levels = [[s.curve for s in strokes if s.kind in _LEVEL_LINES] for strokes in groups]
    found = iter(rises([curve for own in levels for curve in own]))
    return [[next(found) for _ in own] for own in levels]


def _stitch_line(strokes: Sequence[Stroke]) -> Curve:
    return next(stroke.curve for stroke in strokes if stroke.kind == "stitch-line")


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
