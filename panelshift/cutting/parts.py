"""The drawing of one panel, upright about its waist's middle, ready to be placed."""

from __future__ import annotations

import itertools
import threading
import weakref
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.many import group_boxes, share_polylines, transformed
from ..pattern.drawing import Text, spaced
from ..pattern.panel import Panel, grain_of
from ..pattern.pattern import Pattern
from ..sheets.label_room import LabelRoom
from ..sheets.sheet import Label, Stroke, label_corners
from ..shift import LayerPattern, Shifted
from ..shift.split_panels import apart
from .bones import BoneChannel, bone_channels, channels_on
from .panel_labels import LABEL_FLATNESS_MM, blocks, edge_words, line_words
from .panel_lines import panel_strokes
from .plan import CutPlan, cut_layers, drawn_larger


@dataclass(frozen=True, eq=False)
class Part:
    """One panel's lines and labels, in mm about its waist's middle."""

    strokes: list[Stroke]
    labels: list[Label]

    def box(self) -> FloatArray:
        """((xmin, ymin), (xmax, ymax)) of its lines and of the draft's own words."""
        return part_boxes([self])[0]


def part_boxes(parts: Sequence[Part]) -> list[FloatArray]:
    """The box of each part, all in one pass: see `Part.box`."""
    found = list(group_boxes([[stroke.curve for stroke in part.strokes] for part in parts]))
    for k, part in enumerate(parts):
        # Words that were added stand between the lines; the draft's own may reach beyond them.
        for label in (label for label in part.labels if label.drafted):
            corners = label_corners(label)
            low, high = corners.min(axis=0), corners.max(axis=0)
            found[k] = np.array([np.minimum(found[k][0], low), np.maximum(found[k][1], high)])
    return found


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
    drawn, up = grain_of(panel), panel.frame.up
    if drawn is not None and (size := float(np.hypot(*(drawn[0][1] - drawn[0][0])))) > 0.0:
        up = (drawn[0][1] - drawn[0][0]) / size
    # The turn that carries `up` to (0, -1), which is up on a sheet with y downwards.
    turn = np.array([[-up[1], up[0]], [-up[0], -up[1]]])
    if np.abs(turn - np.eye(2)).max() < 1e-9:
        turn = np.eye(2)
    return np.column_stack([turn, -turn @ panel.frame.origin])


Breaks = Mapping[str, Sequence[FloatArray]]
"""By panel, polylines at which pages end, about its waist's middle: words keep clear of them."""


def layer_parts(
    shifted: Shifted, layer: LayerPattern, plan: CutPlan, breaks: Breaks | None = None
) -> list[Part]:
    """All panels of one layer: see `parts_of_layers`."""
    return parts_of_layers(shifted, [layer], plan, breaks)[0]


def parts_of_layers(
    shifted: Shifted,
    layers: Sequence[LayerPattern],
    plan: CutPlan,
    breaks: Breaks | None = None,
) -> list[list[Part]]:
    """Panels of some layers; the words of each panel stand in one place on all layers of it."""
    draft = shifted.turn.pattern
    wanted = {layer.place for layer in layers}
    cut = {layer.place for layer in cut_layers(shifted)}
    # As every layer's words depend on all layers, all are drawn, and kept for the next that is
    # asked for: scripts take one layer after another, and what is printed was drawn before.
    found = _LAST.of(shifted, plan) if breaks is None and wanted <= cut else {}
    if not found:
        alike = [
            one for one in shifted.layers if one.place in wanted | cut and not one.fabric.own_pieces
        ]
        drawn, numbered = _by_pieces(shifted)
        own_alike = [one.pieced for one in alike]
        parts = _together(shifted, own_alike, drawn, plan, numbered, breaks)
        # By place: a layer's own hash takes in all its numbers.
        found |= {layer.place: own for layer, own in zip(alike, parts, strict=True)}
    for layer in layers:
        if layer.fabric.own_pieces and layer.place not in found:
            own = layer.pieced
            numbers = channels_on(own.whole, bone_channels(draft, shifted.lay))
            (found[layer.place],) = _together(shifted, [own], own.whole, plan, numbers, breaks)
    return [list(found[layer.place]) for layer in layers]


class _Last(threading.local):
    """The parts of the layers that are cut, by their places, of what was drawn last."""

    _shifted: weakref.ref[Shifted] | None = None
    _plan: CutPlan | None = None

    def of(self, shifted: Shifted, plan: CutPlan) -> dict[int, list[Part]]:
        """What is known of them, to be added to; empty if something else was drawn last."""
        if self._shifted is None or self._shifted() is not shifted or self._plan != plan:
            self._shifted, self._plan = weakref.ref(shifted, self._forget), plan
            self._found: dict[int, list[Part]] = {}
        return self._found

    def _forget(self, gone: weakref.ref[Shifted]) -> None:
        if gone is self._shifted:
            self._shifted, self._plan, self._found = None, None, {}


_LAST: Final = _Last()


def _by_pieces(shifted: Shifted) -> tuple[Pattern, list[list[BoneChannel]]]:
    """The draft by the pieces that all layers have of it, and the bone channels on each."""
    draft = shifted.turn.pattern
    channels = bone_channels(draft, shifted.lay)
    if not any(panel.pieces for panel in draft):
        return draft, channels
    drawn = apart(draft)
    return drawn, channels_on(drawn, channels)


def _together(
    shifted: Shifted,
    layers: Sequence[LayerPattern],
    drawn: Pattern,
    plan: CutPlan,
    channels: Sequence[Sequence[BoneChannel]],
    breaks: Breaks | None,
) -> list[list[Part]]:
    """Parts of layers that have the same panels: those of a pattern, which says how they lie."""
    away = breaks or {}
    turns = [upright(panel) for panel in drawn.panels]
    every = [(layer, k) for layer in layers for k in layer.covered]
    found = _upright_strokes(every, plan, shifted.turn.pattern, turns)
    lines = {(layer.place, k): strokes for (layer, k), strokes in zip(every, found, strict=True)}
    labels: dict[tuple[int, int], list[Label]] = {}
    # What is drawn larger by another part has its lines, and so its words, elsewhere.
    sizes = dict.fromkeys(layer.fabric.cut_larger for layer in layers)
    for k, size in itertools.product(range(len(drawn.panels)), sizes):
        own = [a for a in layers if k in a.covered and a.fabric.cut_larger == size]
        if not own:
            continue
        strokes = [lines[layer.place, k] for layer in own]
        words = [plan.words(shifted, layer, k) for layer in own]
        short = [plan.words(shifted, layer, k, short=True) for layer in own]
        room = _room(strokes, away.get(drawn.panels[k].name, ()))
        own_labels = _panel_labels(own, k, room, words, plan, turns[k], channels[k], short)
        labels |= {(layer.place, k): each for layer, each in zip(own, own_labels, strict=True)}
    return [
        [
            Part(lines[layer.place, k], labels[layer.place, k])
            for k in _sheet_order(drawn, layer.covered)
        ]
        for layer in layers
    ]


def _panel_labels(
    layers: Sequence[LayerPattern],
    index: int,
    room: LabelRoom,
    words: Sequence[Sequence[str]],
    plan: CutPlan,
    turn: FloatArray,
    channels: Sequence[BoneChannel],
    short: Sequence[Sequence[str]] = (),
) -> list[list[Label]]:
    """All words on one panel in each of its layers: small ones beside their lines, then a block."""
    name = layers[0].whole.panels[index].name
    drafted = [_draft_texts(layer.whole_as_cut.panels[index], turn) for layer in layers]
    beside = [edge_words(layer, index, plan, turn) for layer in layers]
    for label in (*itertools.chain(*drafted), *itertools.chain(*beside)):
        room.take(label)
    shared = line_words(layers[0], index, room, plan, turn, channels)
    block = blocks(room, name, words, short)
    return [
        drafts + edges + shared + own
        for drafts, edges, own in zip(drafted, beside, block, strict=True)
    ]


def _room(strokes: Sequence[Sequence[Stroke]], breaks: Sequence[FloatArray] = ()) -> LabelRoom:
    """The room of a panel between the lines of its layers and the ends of pages."""
    share_polylines([s.curve for own in strokes for s in own], LABEL_FLATNESS_MM)
    cuts, stitches, lines = [], [], list(breaks)
    for stroke in (stroke for own in strokes for stroke in own):
        points = stroke.curve.flatten(LABEL_FLATNESS_MM)
        if stroke.kind == "cut-line":
            # Open along the fold, which is straight.
            cuts.append(np.vstack([points, points[:1]]))
        elif stroke.kind == "stitch-line" and stroke.curve.closed:
            stitches.append(points)
        else:
            lines.append(points)
    return LabelRoom(cuts, lines, stitches) if cuts else LabelRoom(stitches, lines)


Spread = Mapping[tuple[int, str], Curve]
"""By panel and fabric, a stitch line drawn further from the draft's than it lies."""


def overlay_parts(
    shifted: Shifted, layers: Sequence[LayerPattern], spread: Spread | None = None
) -> list[Part]:
    """Stitch, waist and level lines of several layers on top of each other, to look at; or the
    stitch lines alone, as they are `spread`."""
    drawn = shifted.turn.pattern
    groups, matrices = [], []
    for index in _sheet_order(drawn, range(len(drawn.panels))):
        strokes = []
        for layer in layers:
            if index in layer.covered:
                own = layer.whole.panels[index]
                parts = [p for p in layer.pieced.whole if p.made_of == (own.name,)]
                lines = [piece.outline for piece in parts or (own,)]
                lines += [level.curve for level in own.level_lines]
                lines += [slit.curve for slit in own.slits if layer.fabric.covers(slit.piece)]
                if spread is not None:
                    lines = [spread[index, layer.fabric.name]]
                strokes += [
                    Stroke("stitch-line", curve, own.name, layer.fabric.name) for curve in lines
                ]
        if strokes:
            groups.append(strokes)
            matrices.append(upright(drawn.panels[index]))
    turned = carried(groups, np.array(matrices).reshape(-1, 2, 3))
    told = [] if spread is None else ["NOT TO CUT FROM"]
    return [
        Part(own, blocks(_room([own]), own[0].panel, [[own[0].panel, *told]])[0]) for own in turned
    ]


def nested_parts(
    shifted: Shifted,
    layers: Sequence[LayerPattern],
    plan: CutPlan,
    breaks: Breaks | None = None,
) -> list[Part]:
    """All lines of several layers nested in each other, to be cut out one after another.

    None of the layers has pieces of its own.

    Lines that every layer has (grainline, bone channels, other marks) are drawn once, as
    they are on the first of the layers, unless sewing takes up more of one than of another.
    """
    drawn, channels = _by_pieces(shifted)
    layers = [layer.pieced for layer in layers]
    turns = [upright(panel) for panel in drawn.panels]
    every = [(layer, index) for layer in layers for index in layer.covered]
    lines = iter(_upright_strokes(every, plan, shifted.turn.pattern, turns))
    of_layer = [{index: next(lines) for index in layer.covered} for layer in layers]
    parts = []
    for index in _sheet_order(drawn, range(len(drawn.panels))):
        having = [layer for layer in layers if index in layer.covered]
        if not having:
            continue
        own = [lines[index] for lines in of_layer if index in lines]
        # Drawn larger by different parts, layers share no line.
        alike = len({layer.fabric.cut_larger for layer in having}) == 1
        strokes = [
            replace(stroke, layer=layer.fabric.name)
            if stroke.kind in _PER_LAYER or not alike
            else stroke
            for place, (layer, each) in enumerate(zip(having, own, strict=True))
            for stroke in each
            if place == 0 or stroke.kind in _PER_LAYER or not alike
        ]
        panel = drawn.panels[index]
        words = [panel.name, *plan.cutting(drawn, index).words(), "of each layer"]
        words += [
            f"{layer.fabric.name}: {larger}"
            for layer in having
            if (larger := drawn_larger(layer.fabric))
        ]
        labels = _panel_labels(
            having[:1],
            index,
            _room([list(itertools.chain(*own))], (breaks or {}).get(panel.name, ())),
            [words],
            plan,
            turns[index],
            channels[index],
        )
        parts.append(Part(strokes, labels[0]))
    return parts


_PER_LAYER = frozenset(
    {"cut-line", "fold-line", "stitch-line", "waistline", "level-lines", "notches"}
)


def _sheet_order(pattern: Pattern, indices: Sequence[int]) -> list[int]:
    """Panels from left to right, so that edges to be sewn together face each other.

    The centre front lies where it was drawn: on the right if the draft has it there.
    """
    last = pattern.panels[-1].frame
    right = np.array([-last.up[1], last.up[0]])
    return sorted(indices, reverse=bool(last.across @ right < 0.0))


def _upright_strokes(
    drawn: Sequence[tuple[LayerPattern, int]],
    plan: CutPlan,
    draft: Pattern,
    turns: Sequence[FloatArray],
) -> list[list[Stroke]]:
    """Lines of panels of layers, turned upright."""
    if not drawn:
        return []
    every = panel_strokes(drawn, plan, draft)
    matrices = np.array([turns[index] for _, index in drawn])
    return carried(every, matrices)


_SAID_ANYWAY: Final = frozenset(
    {"panel", "piece", "part", "no", "cut", "1", "2", "one", "two", "a", "pair", "pairs", "of"}
)
"""Beside a panel's name: words that our own label says of it."""


def _repeats_name(text: Text, name: str) -> bool:
    """Whether words of the draft say no more than the panel's own label does."""
    words, own = set(spaced(text.content).split()), set(spaced(name).split())
    return bool(words & own) and words <= own | _SAID_ANYWAY


def _draft_texts(panel: Panel, matrix: FloatArray) -> list[Label]:
    """The draft's own words on a panel, without its name, which would cross lines."""
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
        if not _repeats_name(text, panel.name)
    ]
