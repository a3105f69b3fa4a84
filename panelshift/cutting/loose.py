"""What is cut beside the panels: facings of the panels' own shape, strips, bones and the lace."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from ..construction.channels import astride
from ..errors import StackError
from ..outline import Curve, FloatArray
from ..outline.crossing import crossings, nearest_position
from ..outline.measure import all_breaks, length, position_at_length
from ..outline.offset import offset_all, turning_back
from ..pattern.panel import EDGE_NAMES, EdgeName, Panel
from ..pattern.pattern import EdgeKind, Pattern
from ..sheets.label_room import LabelRoom
from ..sheets.sheet import Sheet, Stroke
from ..shift import LayerPattern, Shifted
from .allowance import cut_line, straight
from .bones import BoneChannel, bone_channels, flat
from .composing import Arrange, compose, rowed
from .edge_bands import edge_bands
from .extras import CLOTH_EXTRAS, ClothExtra, cut_from
from .panel_labels import LABEL_FLATNESS_MM, blocks
from .panel_lines import eyelet_count, eyelet_marks, eyelet_places, on_the_fold
from .parts import Part, carried, upright
from .plan import CutPlan, cut_layers

TURN_IN_MM: Final = 20.0
"""Common practice, no source: at each end of a binding, a casing or a tape."""

BIAS_STRIP_MM: Final = 500.0
"""Common practice, no source: bindings are joined of strips as long as the cloth has room for."""

LACING_ENDS_MM: Final = 1500.0
"""Common practice, no source: both loops to pull by, and the knot."""

LONGEST_DRAWN_MM: Final = 180.0
"""A straight strip that is longer is drawn with a gap: its width is true, its length is told."""

_GAP_MM: Final = 10.0
_FOOT_MM: Final = 20.0
"""Length of what is drawn beyond the gap."""

_SMOOTH: Final = math.radians(0.5)
_SIDES: Final[tuple[EdgeName, ...]] = ("front", "back")
_ENDS: Final[tuple[EdgeName, ...]] = ("top", "bottom")


@dataclass(frozen=True, eq=False)
class LoosePiece:
    """Something to cut that is no panel: how many, how long and wide in mm, and what of it.

    `strokes` draw it upright, where it is cut of cloth by a shape. `cloth`: of which layer's cloth
    it is cut, if of any; `outline` lies on it, its grain along y, by its `fold` on that of the
    cloth if it has one. `mirrored` says whether half of them are mirror images.
    """

    name: str
    count: int
    length: float
    width: float = 0.0
    note: str = ""
    strokes: tuple[Stroke, ...] = ()
    mirrored: bool = False
    cloth: str = ""
    outline: Curve | None = None
    fold: Curve | None = None

    @property
    def sides(self) -> tuple[int, int]:
        """How many are cut as drawn, and how many mirrored."""
        images = self.count // 2 if self.mirrored else 0
        return self.count - images, images


def loose_pieces(shifted: Shifted, plan: CutPlan, gap: float) -> list[LoosePiece]:
    """All that is cut beside the panels, lengths by the outermost layer that covers them.

    *gap*: lacing gap in mm.
    """
    draft, extras = shifted.turn.pattern, plan.extras
    outermost = (cut_layers(shifted) or shifted.layers)[-1]
    outer = outermost.whole
    both = 1 if draft.full else 2
    of: dict[ClothExtra, str] = {
        extra: cut_from(extra, shifted.stack, extras) for extra in CLOTH_EXTRAS
    }
    found = []
    # A front that opens parts what runs along an edge in two, each with ends of its own.
    turned_in = 2.0 * TURN_IN_MM * (2 if _front_opens(draft, plan) else 1)
    if extras.binding > 0.0:
        thickness = sum(layer.fabric.build for layer in shifted.layers if layer.fabric.cut_out)
        # Folded into four, with the cloth of the stack inside.
        width = 4.0 * extras.binding + 2.0 * thickness
        for edge in _ENDS:
            size = both * sum(length(panel.edge(edge)) for panel in outer.panels)
            name = f"binding of the {edge} edge"
            found.append(_bias_strips(name, size + turned_in, width, of["binding"], plan))
    if extras.waist_tape > 0.0:
        inside = shifted.layers[0].whole
        size = both * sum(panel.waist_width for panel in inside.panels) + turned_in
        found.append(LoosePiece("waist tape", 1, size, extras.waist_tape))
    facings: tuple[tuple[EdgeKind, float, str], ...] = (
        ("centre_front", extras.front_facing, of["front_facing"]),
        ("centre_back", extras.back_facing, of["back_facing"]),
        ("top", extras.top_facing, of["top_facing"]),
        ("bottom", extras.bottom_facing, of["bottom_facing"]),
    )
    for kind, width, cloth in facings:
        if width > 0.0:
            own = _facings(shifted, outermost, plan, kind, width)
            found += [replace(piece, cloth=cloth) for piece in own]
    back = _centre_back(draft)
    if extras.modesty > 0.0 and back is not None:
        high = length(outer.panels[back[0]].edge(back[1]))
        note = "straight; hem it all round"
        found.append(_strip("modesty panel", 1, high, extras.modesty, note, of["modesty"]))
    for channel in flat(bone_channels(draft, shifted.lay)):
        bone = channel.bone(extras.bones)
        name = f"{extras.bones.kind} b{channel.number}, {channel.panel}"
        note = f"channel {plan.said(channel.length)}" if bone else "none sold is short enough"
        note += f", drawn as {channel.drawn}" if channel.drawn else ", spaced evenly"
        count = 1 if _on_a_fold(draft, plan, channel) else both
        found.append(LoosePiece(name, count, bone, 0.0, note))
        if extras.casing > 0.0:
            long, name = channel.length + 2.0 * TURN_IN_MM, f"casing of b{channel.number}"
            found.append(_strip(name, count, long, extras.casing, cloth=of["casing"]))
    if extras.eyelet_spacing > 0.0 and back is not None:
        count = eyelet_count(draft, extras)
        places = eyelet_places(length(outer.panels[back[0]].edge(back[1])), count)
        note = (
            f"{count} eyelets a side, {plan.said(2.0 * places[0])} apart, the lowest "
            f"{plan.said(places[0])} above the bottom stitch line"
        )
        panel, ring = draft.panels[back[0]], shifted.turn.ring
        line = panel.edge(back[1])
        drawn = line.points(position_at_length(line, eyelet_places(length(line), count)))
        gaps = np.full(count, gap)
        if ring.gap_varies:
            gaps = np.array([ring.gap_at(float(v)) for v in panel.frame.to_panel(drawn)[:, 1]])
        found.append(LoosePiece("lacing", 1, lacing_length(gaps, 2.0 * places[0], plan), 0.0, note))
    return found


def lacing_length(gaps: FloatArray, apart: float, plan: CutPlan) -> float:
    """Length in mm of a lace that crosses from eyelet to eyelet over the gap there, with its ends.

    *gaps*: in mm at each pair of eyelets, from the one where the lace lies straight across.
    *apart*: of eyelets along the edge, in mm.
    """
    across = gaps + 2.0 * plan.extras.eyelet_inset
    slants = np.hypot(0.5 * (across[1:] + across[:-1]), apart)
    return float(across[0] + 2.0 * slants.sum()) + LACING_ENDS_MM


def _on_a_fold(draft: Pattern, plan: CutPlan, channel: BoneChannel) -> bool:
    """Whether a channel lies across the fold, so that both halves have it together."""
    index = draft.index(channel.panel)
    fold, panel = plan.cutting(draft, index).fold, draft.panels[index]
    middle = panel.frame.to_panel(channel.middle)
    return fold is not None and astride(panel, fold, middle, channel.width)


def _front_opens(draft: Pattern, plan: CutPlan) -> bool:
    """Whether halves meet at the front, at a busk as a rule, and not on a fold."""
    return any(
        draft.edge_kind(k, edge) == "centre_front" and plan.cutting(draft, k).fold != edge
        for k in range(len(draft.panels))
        for edge in _SIDES
    )


def _centre_back(pattern: Pattern) -> tuple[int, EdgeName] | None:
    every = ((k, edge) for k in range(len(pattern.panels)) for edge in _SIDES)
    return next((item for item in every if pattern.edge_kind(*item) == "centre_back"), None)


def _bias_strips(name: str, size: float, width: float, cloth: str, plan: CutPlan) -> LoosePiece:
    """Strips that make a length on the bias, laid square to each other and joined aslant.

    Each join takes up as much as the strips are wide. Of no layer's cloth, it is one strip.
    """
    longest = max(BIAS_STRIP_MM, 4.0 * width)
    count = max(math.ceil((size - width) / (longest - width) - 1e-9), 1) if cloth else 1
    note = (
        "on the bias" if count == 1 else f"on the bias; joined aslant they make {plan.said(size)}"
    )
    strip = _strip(name, count, (size + (count - 1) * width) / count, width, note, cloth)
    assert strip.outline is not None  # a strip has one
    aslant = math.sqrt(0.5) * np.array([[1.0, 1.0, 0.0], [-1.0, 1.0, 0.0]])
    return replace(strip, outline=strip.outline.transformed(aslant))


def _strip(
    name: str, count: int, size: float, width: float, note: str = "", cloth: str = ""
) -> LoosePiece:
    """A straight strip; a long one is drawn in two parts with a break between them."""
    x, y = 0.5 * width, 0.5 * size
    box = Curve.polyline([(-x, -y), (x, -y), (x, y), (-x, y)], closed=True)
    plain = LoosePiece(name, count, size, width, note, cloth=cloth, outline=box)
    if size <= LONGEST_DRAWN_MM:
        return replace(plain, strokes=(Stroke("cut-line", box, name),))
    y, foot = 0.5 * LONGEST_DRAWN_MM, 0.5 * LONGEST_DRAWN_MM - _FOOT_MM
    strokes = []
    for end, near in ((-y, foot - _GAP_MM), (y, foot)):
        side = [(-x, near), (-x, end), (x, end), (x, near)]
        teeth = [(-x, near), (-x / 3.0, near + 3.0), (x / 3.0, near - 3.0), (x, near)]
        strokes.append(Stroke("cut-line", Curve.polyline(side), name))
        strokes.append(Stroke("marks", Curve.polyline(teeth), name))
    return replace(plain, strokes=tuple(strokes))


def _facings(
    shifted: Shifted, layer: LayerPattern, plan: CutPlan, kind: EdgeKind, width: float
) -> list[LoosePiece]:
    """Strips of the panels' own shape along an edge, with their allowances.

    Along a centre edge they are of its panel, along the top or the bottom of all panels in one.
    """
    found, pattern = [], layer.whole
    eased = {}
    if kind == "top" or kind == "bottom":
        pattern, joined = edge_bands(layer, kind, width)
        eased = {piece.panel.name: max(map(abs, piece.stretch)) for piece in joined}
    for k, panel in enumerate(pattern.panels):
        for edge in EDGE_NAMES:
            if pattern.edge_kind(k, edge) != kind:
                continue
            allowances = plan.edges(pattern, k, layer.fabric.name)
            cut = cut_line(panel, allowances, mitre_limit=plan.mitre_limit, corners=plan.corners)
            name = f"facing of the {kind.replace('_', ' ')}"
            if edge in _SIDES:
                name += f", {panel.name}"
            elif len(pattern) > 1:
                name += f", {k + 1} of {len(pattern)}"
            outline = _along_edge(panel, edge, width, cut, closed=True)
            fold = plan.cutting(pattern, k).fold
            fold = fold if edge in _ENDS or fold == edge else None
            open_line, bracket = outline, list[Curve]()
            if fold is not None and panel.is_straight(fold):
                open_line, bracket = on_the_fold(panel, fold, outline)
            strokes = [
                Stroke("cut-line", open_line, name),
                Stroke("stitch-line", _along_edge(panel, edge, width, panel.outline), name),
                *(Stroke("fold-line", curve, name) for curve in bracket),
            ]
            if kind == "centre_back":
                strokes += [
                    Stroke("marks", mark, name)
                    for mark in eyelet_marks(pattern, k, edge, shifted.turn.pattern, plan.extras)
                ]
            matrix = upright(panel if edge in _ENDS else shifted.turn.pattern.panels[k])
            (drawn,) = carried([strokes], matrix[None])
            beside = _ENDS if edge in _SIDES else _SIDES
            size = length(panel.edge(edge)) + sum(allowances[end] for end in beside)
            note = f"the shape of the panel's {edge} edge, {plan.said(width)} wide beside it"
            if edge in _ENDS:
                names = panel.made_of or (panel.name,)
                more = length(panel.edge(edge)) - sum(
                    length(layer.whole[name].edge(edge)) for name in names
                )
                note = (
                    f"all panels in one piece, {plan.said(width)} wide, its edge "
                    f"{plan.said(abs(more))} {'longer' if more >= 0.0 else 'shorter'} than theirs; "
                    f"ease it, the cloth gives up to {100.0 * eased.get(panel.name, 0.0):.1f} %"
                )
            if fold is not None:
                note += ", on the fold"
            count = 1 if pattern.full or fold is not None else 2
            across = width + allowances[edge]
            piece = LoosePiece(name, count, size, across, note, tuple(drawn), count == 2)
            own = None if fold is None else panel.edge(fold).transformed(matrix)
            found.append(replace(piece, outline=outline.transformed(matrix), fold=own))
    return found


def _along_edge(
    panel: Panel, edge: EdgeName, width: float, line: Curve, *, closed: bool = False
) -> Curve:
    """What of a closed line round a panel lies within a width of an edge; closed inside it too."""
    inner = _inner_line(panel, edge, width)
    whole = length(inner)
    met = crossings(line, inner, reach=2.0 * (width + 100.0))
    before = np.flatnonzero(met.along < 0.5 * whole)
    after = np.flatnonzero(met.along >= 0.5 * whole)
    middle, _ = nearest_position(line, _beside(panel, edge))
    if not (len(before) and len(after)):
        raise _too_wide(panel, edge)
    low, high = int(before[-1]), int(after[0])
    s0, s1 = float(met.positions[low]), float(met.positions[high])
    back = _between(inner, float(met.along[low]), float(met.along[high]), whole)
    size = float(len(line))
    if (middle - s1) % size < (s0 - s1) % size:
        kept = line.piece(s1, s0)
    else:
        kept, back = line.piece(s0, s1), back.reversed()
    return Curve.chain([back, kept], closed=True) if closed else kept


def _beside(panel: Panel, edge: EdgeName) -> FloatArray:
    """The middle of an edge."""
    own = panel.edge(edge)
    middle: FloatArray = own.points(position_at_length(own, 0.5 * length(own)))[0]
    return middle


def _too_wide(panel: Panel, edge: EdgeName) -> StackError:
    return StackError(
        f"the facing along the {edge} edge of panel {panel.name!r} is wider than the panel, or "
        "than its bends allow",
        remedy="Make the facing narrower, or take the whole panel as its facing.",
        element=f"extras.{edge}_facing",
    )


def _inner_line(panel: Panel, edge: EdgeName, width: float) -> Curve:
    """An edge's offset into its panel, from its start to its end, in sheet mm."""
    frame = panel.frame
    own = dict(panel.runs())[edge].transformed(frame.matrix)
    joints = [k for k, turn in enumerate(all_breaks([own])[0].tolist()) if abs(turn) > _SMOOTH]
    ends = [0, *(k for k in joints if 0 < k < len(own)), len(own)]
    parts = [own.piece(float(a), float(b)) for a, b in pairwise(ends)]
    by = [-width] * len(parts)
    if any(turning_back(parts, by)):
        raise _too_wide(panel, edge)
    joined: list[Curve] = []
    for part in offset_all(parts, by):
        if joined:
            met = crossings(part, joined[-1])
            if len(met):
                along = position_at_length(joined[-1], met.along[:1])
                joined[-1] = joined[-1].piece(0.0, float(along[0]))
                part = part.piece(float(met.positions[0]), float(len(part)))
            if not np.allclose(joined[-1].end, part.start, atol=1e-6):
                joined.append(straight(np.array([joined[-1].end, part.start])))
        joined.append(part)
    line = Curve.chain(joined)
    return line.transformed(np.column_stack([frame.across, frame.up, frame.origin]))


def _between(line: Curve, low: float, high: float, whole: float) -> Curve:
    """The part of a line between two lengths along it, which may lie beyond its ends."""
    tangents = line.end_tangents()
    s0, s1 = position_at_length(line, [max(low, 0.0), min(high, whole)])
    parts = [line.piece(float(s0), float(s1))]
    if low < 0.0:
        parts.insert(0, straight(np.array([line.start + low * tangents[0, 0], line.start])))
    if high > whole:
        parts.append(straight(np.array([line.end, line.end + (high - whole) * tangents[-1, 1]])))
    return Curve.chain(parts)


def loose_parts(pieces: Sequence[LoosePiece], plan: CutPlan) -> list[Part]:
    """Pieces that have a shape, ready to be placed, each with its words."""
    return [_part(piece, plan) for piece in pieces if piece.strokes]


def _part(piece: LoosePiece, plan: CutPlan) -> Part:
    cut = [s.curve for s in piece.strokes if s.kind == "cut-line"]
    # The two parts of a long strip have their words in one of them.
    ring = cut[0].flatten(LABEL_FLATNESS_MM)
    ring = ring if cut[0].closed else np.vstack([ring, ring[:1]])
    others = [s.curve.flatten(LABEL_FLATNESS_MM) for s in piece.strokes if s.kind != "cut-line"]
    words = [
        ", ".join(part for part in (plan.title, plan.client) if part),
        f"cut {piece.count}"
        + (f" of {piece.cloth}" if piece.cloth else "")
        + (", one mirrored" if piece.mirrored else ""),
        f"{plan.said(piece.length)} by {plan.said(piece.width)}",
        "drawn shorter" if len(cut) > 1 else "",
        piece.note,
        plan.revision,
    ]
    words = [piece.name, *(line for line in words if line)]
    room = LabelRoom([ring], others)
    (labels,) = blocks(room, piece.name, [words])
    return Part(list(piece.strokes), labels)


LOOSE_TITLE: Final = "facings and strips"
LOOSE_STEM: Final = "facings-and-strips"
LOOSE_WORDS: Final = (
    "what is cut of cloth beside the panels; allowances are in the pieces",
    "true size, but for strips with a gap: their width is true, their length is told",
)


def loose_sheet(
    parts: Sequence[Part], plan: CutPlan, *, arrange: Arrange | None = None, headed: bool = True
) -> Sheet:
    """The sheet of all that is cut of cloth beside the panels, of at least one part."""
    title = f"{plan.title}: {LOOSE_TITLE}"
    return compose(title, LOOSE_WORDS, parts, arrange or rowed(plan.sheet_width), headed=headed)
