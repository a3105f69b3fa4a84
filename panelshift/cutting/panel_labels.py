"""Words on panels: where there is room for them, clear of every line.

All layers of a panel take room together, so that their words stand in one place.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Final

import numpy as np

from ..outline import FloatArray
from ..pattern.panel import EdgeName, Panel, Span, grain_of
from ..sheets.label_room import LabelRoom
from ..sheets.lettering import width, wrapped
from ..sheets.sheet import Label
from ..shift import LayerPattern
from .bones import BoneChannel
from .panel_lines import clear_spot, edge_spot, set_grain
from .plan import CutPlan

NAME_SIZE_MM: Final = 11.0
SMALLEST_MM: Final = 2.0
"""Capitals of 2.3 mm, size 3.2, are read easily at 70 cm (from memory: 1/300 of the distance for
x-height); smaller only where a panel has no room."""

NAME_OVER_TEXT: Final = 1.9
"""How much larger a panel's name is set than the words below it."""

LABEL_FLATNESS_MM: Final = 0.1
"""Flatness of the lines that words keep clear of."""

WIDEST_FACE: Final = 1.23
"""A drawing program takes the first face of `svg_writer.FONT_FAMILY` that it has. The widest of
them, DejaVu Sans Bold, is 1.18 to 1.23 times as wide as the face that words are measured by, on
names of the samples; words as large as the measured face allows would hide the stitch line."""


_LINE: Final = 1.25
_COLUMNS: Final = (120.0, 90.0, 60.0, 44.0, 34.0, 26.0, 19.0)
"""Widths in mm of the block of words that are tried."""

_WAYS: Final = [
    *((5.0, False), (4.3, False), (5.0, True), (3.7, False)),
    *((4.3, True), (3.7, True), (3.2, False), (3.2, True)),
]
"""Sizes, and whether lines run on in one paragraph, in the order they are tried."""

_COLUMNS_APART: Final = (140.0, 90.0, 50.0, 34.0)
"""The same of lines that stand apart."""

_NARROWEST: Final = (140.0, 34.0, 22.0)
"""The same where hardly anything has room: "cut 2, one mirrored" in two lines."""

_CRAMPED: Final = (2.8, 2.4)
"""Smaller than words are read with ease: only where lines that stand apart have no room either."""

_MOST_BREAKS: Final = 3
"""So many lines more than there are things to say are still easy to read."""

_DEEPEST: Final = 0.22
"""How far letters reach below their line, as a part of the font size."""


def _level(
    text: str, middle: FloatArray, size: float, panel: str, *, bold: bool, turned: bool
) -> Label:
    """A line of words about its middle, level or read upwards."""
    down = (0.5 - _DEEPEST) * size + 0.1 * size
    step = np.array([down, 0.0]) if turned else np.array([0.0, down])
    angle = -0.5 * np.pi if turned else 0.0
    return Label(text, middle + step, size, angle, "middle", bold, panel)


def blocks(
    room: LabelRoom,
    panel: str,
    texts: Sequence[Sequence[str]],
    short: Sequence[Sequence[str]] = (),
) -> list[list[Label]]:
    """The block of words of a panel for each of its layers, all in one place.

    *texts*: for each layer its lines, the first of them the panel's name. As large as there is
    room for. Where a block has none its lines stand wherever they have, one by one; and where they
    have none either, in the middle. *short*: said instead where all of it would be too small to
    read with ease.
    """
    plain = [(3.2, True)]
    tries = [(texts, _WAYS, NAME_OVER_TEXT, (3.7, 3.2)), (texts, plain, 1.0, ())]
    if short:
        tries += [(short, _WAYS, NAME_OVER_TEXT, (3.7, 3.2)), (short, plain, 1.0, (3.2,))]
    for size, over in itertools.product(_CRAMPED, (NAME_OVER_TEXT, 1.0)):
        tries.append((short or texts, [(size, False), (size, True)], over, (size,)))
    for said, ways, over, sizes in tries:
        found = _in_one_block(room, panel, said, ways, over)
        for size, column in itertools.product(sizes, _COLUMNS_APART):
            found = found or _line_by_line(room, panel, said, size, column, over)
        if found is not None:
            return found
    # The name, its layer and how often it is cut, if they can be, rather than words across the
    # stitch lines.
    for count, size in itertools.product((3, 2, 1), (3.2, *_CRAMPED, SMALLEST_MM)):
        fewer = [lines[:count] for lines in short or texts]
        found = _in_one_block(room, panel, fewer, [(size, False), (size, count > 2)], 1.0)
        for column in _NARROWEST:
            found = found or _line_by_line(room, panel, fewer, size, column, 1.0)
        if found is not None:
            return found
    middle = room.middle()
    least = short or texts
    small = [_set(lines, SMALLEST_MM, 26.0, 1.0) for lines in least]
    return [_stack(panel, lines, middle, room.tall) for lines in small]


def _in_one_block(
    room: LabelRoom,
    panel: str,
    texts: Sequence[Sequence[str]],
    ways: Sequence[tuple[float, bool]],
    over: float,
) -> list[list[Label]] | None:
    """All lines together, the first way for which there is room."""
    best = None
    run_on = [[lines[0], "; ".join(lines[1:])] for lines in texts]
    for size, joined in ways:
        for column in _COLUMNS:
            said = run_on if joined else texts
            each = [_measured(tuple(lines), size, column, over) for lines in said]
            across = max(wide for _, wide in each)
            set_lines = [lines for lines, _ in each]
            count = max(map(len, set_lines))
            if count > _MOST_BREAKS + max(map(len, texts)) and size > SMALLEST_MM:
                continue
            if best is not None and count > best[0][0]:
                continue
            down = max(_LINE * sum(own for _, own in lines) for lines in set_lines)
            for turned in (False, True):
                spot = room.place(*((down, across) if turned else (across, down)))
                if spot is not None and (best is None or (count, spot[1]) < best[0]):
                    best = (count, spot[1]), spot[0], turned, set_lines
        if best is not None:
            _, middle, turned, set_lines = best
            return [_stack(panel, lines, middle, turned) for lines in set_lines]
    return None


def _line_by_line(
    room: LabelRoom,
    panel: str,
    texts: Sequence[Sequence[str]],
    size: float,
    column: float,
    over: float,
) -> list[list[Label]] | None:
    """Lines that stand apart, each read upwards as near to the one before as it can.

    What is broken stays together: "cut 2, one" in one place and "mirrored" in another would say
    something else.
    """
    free = room.copy()
    found: list[list[Label]] = [[] for _ in texts]
    near = None
    for k in range(max(map(len, texts))):
        said = [_apart(lines, k, size, column, over) for lines in texts]
        across = max(_wide(lines, bold=k == 0) for lines in said if lines)
        down = 1.1 * max(sum(own for _, own in lines) for lines in said)
        spot = free.place(down, across, near)
        if spot is None:
            return None
        near = spot[0]
        # As wide as in the widest face, of whichever layer's words are.
        half = 0.5 * np.array([down, across])
        free.take_box(near - half, near + half)
        for labels, lines in zip(found, said, strict=True):
            stacked = _stack(panel, lines, near, turned=True)
            labels += [replace(label, bold=k == 0) for label in stacked]
    return found


def _apart(lines: Sequence[str], k: int, size: float, column: float, over: float) -> list[_SetLine]:
    """The k-th of the lines, broken to a column; nothing where there are fewer."""
    if k == 0:
        return _set(lines[:1], size, column, over)
    return _broken(lines[k], size, column) if k < len(lines) else []


_SetLine = tuple[str, float]


def _set(
    lines: Sequence[str], size: float, column: float, over: float = NAME_OVER_TEXT
) -> list[_SetLine]:
    """Lines of words with their sizes, wrapped to a column; the name is as large as it can be."""
    widest = WIDEST_FACE * max(width(lines[0], bold=True), 0.1)
    name = max(min(NAME_SIZE_MM, over * size, column / widest), size)
    found = _broken(lines[0], name, column)
    for line in lines[1:]:
        found += _broken(line, size, column)
    return found


def _broken(line: str, size: float, column: float) -> list[_SetLine]:
    return [(text, size) for text in wrapped(line, column / (WIDEST_FACE * size))]


@lru_cache(maxsize=4096)
def _measured(
    lines: tuple[str, ...], size: float, column: float, over: float
) -> tuple[list[_SetLine], float]:
    """Set lines and their width in mm: a batch says the same on every job's panels."""
    found = _set(lines, size, column, over)
    return found, _wide(found)


def _wide(lines: Sequence[_SetLine], *, bold: bool = True) -> float:
    """Width in mm of lines in the widest face, the first of them bold."""
    return max(
        WIDEST_FACE * width(text, bold=bold and k == 0) * size
        for k, (text, size) in enumerate(lines)
    )


def _stack(panel: str, lines: Sequence[_SetLine], middle: FloatArray, turned: bool) -> list[Label]:
    down = -0.5 * _LINE * sum(size for _, size in lines)
    labels = []
    for k, (text, size) in enumerate(lines):
        down += _LINE * size
        base = down - 0.28 * size
        step = np.array([base, 0.0]) if turned else np.array([0.0, base])
        angle = -0.5 * np.pi if turned else 0.0
        labels.append(Label(text, middle + step, size, angle, "middle", k == 0, panel))
    return labels


_IN_ALLOWANCE_MM: Final = 7.5
"""An allowance as wide as this has room for words, which leave the panel itself clear."""

_PAST_WORDS_MM: Final = 18.0
_SMALL_MM: Final = 3.2


def edge_words(layer: LayerPattern, index: int, plan: CutPlan, turn: FloatArray) -> list[Label]:
    """What each side edge is sewn to, seam numbers at the notches, and the word on a fold."""
    pattern = layer.whole_as_cut
    panel, allowances = pattern.panels[index], plan.edges(pattern, index, layer.fabric.name)
    found, at_waist = [], pattern.waist_seams
    for number, seam in pattern.seams_of(index):
        for own, edge, span, mate, mate_edge in (
            (seam.first, seam.first_edge, seam.first_span, seam.second, seam.second_edge),
            (seam.second, seam.second_edge, seam.second_span, seam.first, seam.first_edge),
        ):
            if own != index:
                continue
            slit = span if span and span.slit else None
            if slit and not layer.fabric.covers(slit.slit):
                continue  # this layer is not cut open there
            # A panel's back goes to a front as a rule; its name may end in such a word itself.
            unlike = f", its {edge} edge" if mate_edge == edge else ""
            words = f"to {pattern.panels[mate].name}{unlike}"
            at = clear_spot(panel, edge, span=span)
            room = allowances[edge]
            if slit:
                words, room = f"slit, {words}", 0.0
            found.append(_along(panel, edge, at, words, room, turn, slit))
            if plan.mates == "numbered":
                waist = panel.waist_end(edge) if seam in at_waist else None
                # A gore's seam has its number beside the words.
                beside = at + _PAST_WORDS_MM * panel.frame.up if waist is None else waist
                over = beside + 5.0 * panel.frame.up
                found.append(_along(panel, edge, over, str(number), room, turn, slit))
    fold = plan.cutting(pattern, index).fold
    for side in ("front", "back") if plan.centres else ():
        kind = pattern.edge_kind(index, side)
        if kind in ("centre_front", "centre_back") and side != fold:
            at, words = clear_spot(panel, side), kind.replace("_", " ")
            found.append(_along(panel, side, at, words, allowances[side], turn))
    if fold:
        at = clear_spot(panel, fold, inside=True)
        found.append(_along(panel, fold, at, "place on the fold, do not cut", 0.0, turn))
    return found


def _along(
    panel: Panel,
    edge: EdgeName,
    at: FloatArray,
    text: str,
    allowance: float,
    turn: FloatArray,
    slit: Span | None = None,
) -> Label:
    """Words along an edge, in its allowance if that is wide enough, else inside."""
    size = min(_SMALL_MM, 0.4 * allowance) if allowance >= _IN_ALLOWANCE_MM else 3.0
    offset = 0.5 * allowance if allowance >= _IN_ALLOWANCE_MM else -2.2 - 0.5 * size
    middle, along = edge_spot(panel, edge, at, offset, slit)
    middle, along = turn[:, :2] @ middle + turn[:, 2], turn[:, :2] @ along
    if edge in ("top", "bottom") and along[0] < 0.0:
        along = -along  # not upside down
    angle = float(np.arctan2(along[1], along[0]))
    down = np.array([-along[1], along[0]])
    return Label(text, middle + 0.35 * size * down, size, angle, "middle", panel=panel.name)


def line_words(
    layer: LayerPattern,
    index: int,
    room: LabelRoom,
    plan: CutPlan,
    turn: FloatArray,
    channels: Sequence[BoneChannel],
) -> list[Label]:
    """Names of level lines, the word on the grainline and the numbers of bone channels."""
    panel = layer.whole_as_cut.panels[index]

    def on_sheet(points: FloatArray) -> FloatArray:
        moved: FloatArray = points @ turn[:, :2].T + turn[:, 2]
        return moved

    found = []
    for level in panel.level_lines:
        ends = on_sheet(np.array([level.curve.start, level.curve.end]))
        found.append(_beside(room, level.name, ends, np.array([0.0, -3.2]), panel.name))
    shaft = grain_of(panel)
    fold = plan.cutting(layer.whole, index).fold
    grain = on_sheet(shaft[0] if shaft else set_grain(panel, fold))
    words = "grain, nap: top up" if layer.fabric.name in plan.napped else "grain"
    found.append(_beside(room, words, grain, np.array([3.2, 0.0]), panel.name, turned=True))
    for channel in channels:
        if not channel.drawn:
            continue  # by number: there is no line to stand beside
        middle = channel.middle
        if layer.whole_as_cut is not layer.whole:
            larger = panel.frame.larger(*layer.fabric.cut_larger)
            middle = middle @ larger[:, :2].T + larger[:, 2]
        middle = on_sheet(middle)
        label = _beside(
            room, f"b{channel.number}", middle[[0, -1]], np.array([4.5, 0.0]), panel.name
        )
        found.append(label)
    return [label for label in found if label is not None]


_SHARES: Final = (0.75, 0.6, 0.85, 0.4, 0.5, 0.25, 0.12)
"""Parts of a line at which its name may stand, in the order they are tried."""


def _beside(
    room: LabelRoom,
    text: str,
    ends: FloatArray,
    step: FloatArray,
    panel: str,
    *,
    turned: bool = False,
) -> Label | None:
    """A word beside a line between two points, as near as there is room.

    In an allowance only where the panel itself has none.
    """
    reaches = ((True, 2.5), (True, 6.0), (True, 15.0), (False, 2.5), (False, 6.0))
    # Turned rather than small, and small rather than nowhere.
    ways = ((_SMALL_MM, turned), (3.0, turned), (3.0, not turned), (2.6, turned))
    on_line = ends[0] + np.array(_SHARES)[:, None] * (ends[1] - ends[0])
    spots = np.stack([on_line + step, on_line - step], axis=1).reshape(-1, 2)
    for (size, own), (inside, reach) in itertools.product(ways, reaches):
        across, down = WIDEST_FACE * width(text) * size, 1.1 * size
        box = (down, across) if own else (across, down)
        middle = room.first(*box, spots, reach, inside=inside)
        if middle is not None:
            label = _level(text, middle, size, panel, bold=False, turned=own)
            room.take(label)
            return label
    return None
