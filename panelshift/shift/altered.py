"""A draft altered after a fitting: edges moved, all on the panels carried along, seams walked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from ..errors import AlterationError
from ..files.plain_values import held_to_types
from ..outline import Curve, FloatArray
from ..outline.bezier import LINE
from ..outline.by_value import ByValue
from ..outline.planar import self_crossings
from ..pattern.edge_pieces import profile
from ..pattern.panel import STRAIGHT_EDGE_MM, Frame, Mark, Panel, panels_picture
from ..pattern.pattern import Pattern
from ..pattern.profile import SIDES
from .alteration import Alteration, edge_changes, level_at_edge
from .altered_field import AlteredField, refuse_gored
from .carrier import Carrier
from .end_edges import EndAlteration, moved_ends

_TOLERANCE_MM: Final = 0.0005
"""How exactly curves are drawn again: girths are to come out within 0.01 mm, over many edges."""

_LEAST_WIDTH_MM: Final = 2.0
"""A panel narrower than two widths of a needle's row of stitches cannot be sewn."""

_FLATNESS_MM: Final = 0.05
_STEP_MM: Final = 2.0
_CHANNELS_APART_MM: Final = 16.0
"""Bone lines nearer than this are of one group, which moves as one: channels keep their width."""


_SIDES_OF_A_STRIP: Final = 4
_SAME_MM: Final = 1e-6


@dataclass(frozen=True)
class GirthChange:
    """One level before and after: the sum of all panels there, both halves, without the gap.

    Parameters
    ----------
    level : str
    before, after : float
        In mm, measured across each panel between the ends of its level line; at the level's mean
        height where a panel has no line of it.
    asked : float
        By how much the alterations were to change it, in mm.
    """

    level: str
    before: float
    after: float
    asked: float

    @property
    def off(self) -> float:
        """What the change missed, in mm."""
        return self.after - self.before - self.asked


@dataclass(frozen=True)
class SeamChange:
    """One seam before and after.

    Parameters
    ----------
    seam : str
    before, after : (float, float)
        Lengths in mm of its two edges.
    """

    seam: str
    before: tuple[float, float]
    after: tuple[float, float]

    @property
    def difference(self) -> float:
        """First edge less second one, after it, in mm.

        Returns
        -------
        float
        """
        return self.after[0] - self.after[1]

    @property
    def apart(self) -> float:
        """By how much the two edges have changed differently, in mm.

        Returns
        -------
        float
        """
        return abs(self.difference - (self.before[0] - self.before[1]))


@dataclass(frozen=True, eq=False)
class Altered(ByValue):
    """An altered pattern, and what was changed.

    Parameters
    ----------
    pattern : Pattern
        The draft itself if nothing was altered.
    before : Pattern
        The draft.
    alterations : tuple of Alteration or EndAlteration
    girths : tuple of GirthChange
        From the top level down.
    seams : tuple of SeamChange
        Seams of which an edge changed its length.

    Examples
    --------
    >>> from panelshift import Alteration, DraftPanel, alter_pattern, pattern_from_panels
    >>> box = [(0, 0), (60, 0), (60, 160), (0, 160)]
    >>> draft = pattern_from_panels([DraftPanel("one", box, [(0, 90), (60, 90)])])
    >>> found = alter_pattern(draft, [Alteration("centre back", -2.0)])
    >>> [(girth.level, girth.before, girth.after) for girth in found.girths]
    [('waist', 120.0, 116.0)]
    """

    pattern: Pattern = field(repr=False)
    before: Pattern = field(repr=False)
    alterations: tuple[Alteration | EndAlteration, ...]
    girths: tuple[GirthChange, ...] = ()
    seams: tuple[SeamChange, ...] = ()

    def _repr_svg_(self) -> str:
        layers = [("before", self.before.panels), ("altered", self.pattern.panels)]
        return panels_picture(layers, self.before.source or "altered")


@held_to_types
def alter_pattern(pattern: Pattern, alterations: Sequence[Alteration | EndAlteration]) -> Altered:
    """Alter a draft by seam and level, or its top and bottom, as a fitting of the mock-up found.

    Parameters
    ----------
    pattern : Pattern
    alterations : sequence of Alteration or EndAlteration
        Several on one seam add up.

    Returns
    -------
    Altered
        Panels that nothing touches are the same objects, and without alterations the whole pattern.

    Raises
    ------
    AlterationError
        If one names a side that the draft has not, a panel would be narrower than nothing or cross
        itself, or an edge would lie over a straight bone channel; if only a part of a pattern is
        given; or if a gore stands in the seam.
    UnknownNameError
        If there is no such seam, panel or level.

    Notes
    -----
    An edge moves across its panel by its share of the amount; what lies between two edges moves in
    proportion, but grainlines keep their direction, bone channels their width, and straight bones
    stay straight. The two edges of
    a seam lean differently, so that the same amount lengthens them differently: both take the mean
    of their strains at equal distance from the waist, by moving along the panel, so that they
    still walk.

    Examples
    --------
    >>> from panelshift import DraftPanel, pattern_from_panels
    >>> pattern = pattern_from_panels([
    ...     DraftPanel("front", [(0, 0), (60, 0), (60, 160), (0, 160)], [(0, 90), (60, 90)]),
    ...     DraftPanel("back", [(80, 0), (150, 0), (150, 160), (80, 160)], [(80, 90), (150, 90)])])
    >>> wider = alter_pattern(pattern, [Alteration("front to back", 6.0)])
    >>> wider.pattern.waist - pattern.waist  # 6 mm on each half of the body
    12.0
    >>> wider.seams
    ()
    """
    if pattern.whole is not None:
        raise AlterationError(
            "only a part of a pattern is given, whose other panels would stay as they are",
            remedy="Alter the whole pattern, and take the part of what comes of it.",
        )
    seams = [one for one in alterations if isinstance(one, Alteration)]
    ends = [one for one in alterations if isinstance(one, EndAlteration)]
    wider, girths = _wider(pattern, seams)
    altered = moved_ends(wider, ends)
    if altered is pattern:
        return Altered(pattern, pattern, tuple(alterations))
    return Altered(altered, pattern, tuple(alterations), girths, _seams(pattern, altered))


def _wider(
    pattern: Pattern, alterations: Sequence[Alteration]
) -> tuple[Pattern, tuple[GirthChange, ...]]:
    """The pattern with its seams let out and taken in, and the girths of its levels."""
    changes = edge_changes(pattern, alterations)
    if not any(change.amount.values.any() for change in changes):
        return pattern, ()
    refuse_gored(pattern, changes)
    bend = AlteredField.of(pattern, changes)
    _refuse_narrow(pattern, bend)
    moved = bend.moved
    # By panel as well: panels drawn about one origin may have equal marks.
    moving = {
        (k, mark): own for k in sorted(moved) for mark, own in _moving(pattern.panels[k]).items()
    }
    held = {which: own.place for which, own in moving.items()}
    (carried,) = Carrier.of(pattern, held).carry(bend, _TOLERANCE_MM)
    panels = tuple(
        _finished(old, new, bend, k, moving) if k in moved else old
        for k, (old, new) in enumerate(zip(pattern.panels, carried, strict=True))
    )
    _refuse_crossed(panels)
    altered = replace(pattern, panels=panels)
    return altered, _girths(pattern, altered, bend)


@dataclass(frozen=True, eq=False)
class _Moving:
    """How a mark moves that is not simply carried: with one place across the panel, from 0 to 1.

    *whole*: height in mm at which it moves as a whole; None if it moves at each of its heights as
    that place does there.
    """

    place: float
    whole: float | None = None


def _moving(panel: Panel) -> dict[Mark, _Moving]:
    """Grainlines, which keep their direction, and bone lines, in groups that keep their widths.

    A group of straight lines stays straight: steel does not bend across its width.
    """
    ends = panel.frame.to_panel(_waist_ends(panel))[:, 0]
    middles = {
        mark: panel.frame.to_panel(mark.curve.flatten()).mean(axis=0)
        for mark in panel.marks
        if mark.kind in ("bone", "grainline")
    }

    def moving(group: Sequence[Mark]) -> _Moving:
        u, v = np.mean([(middles[one]) for one in (group[0], group[-1])], axis=0)
        place = float(np.clip((u - ends[0]) / np.ptp(ends), 0.0, 1.0))
        straight = group[0].kind == "grainline" or all(_is_straight(one.curve) for one in group)
        return _Moving(place, float(v) if straight else None)

    bones = sorted(
        (mark for mark in middles if mark.kind == "bone"), key=lambda mark: float(middles[mark][0])
    )
    found = {mark: moving([mark]) for mark in middles if mark.kind == "grainline"}
    group: list[Mark] = []
    for number, mark in enumerate(bones):
        group.append(mark)
        following = bones[number + 1 :][:1]
        if not following or middles[following[0]][0] - middles[mark][0] > _CHANNELS_APART_MM:
            found |= dict.fromkeys(group, moving(group))
            group = []
    return found


def _waist_ends(panel: Panel) -> FloatArray:
    return np.array([panel.waist_end(edge) for edge in SIDES])


def _waist_height(panel: Panel) -> float:
    """Where a waist that is not level has its middle, in mm; 0 for others, but for rounding."""
    assert panel.waist is not None
    height = panel.waist.height
    return height if abs(height) > _SAME_MM else 0.0


def _is_straight(curve: Curve) -> bool:
    """Whether a line has no bend: a strip's outline, or a line that hardly leaves its chord."""
    if curve.closed:
        return len(curve) <= _SIDES_OF_A_STRIP and bool((curve.degree == LINE).all())
    points = curve.flatten()
    chord = curve.end - curve.start
    away = points - curve.start
    bulge = np.abs(chord[0] * away[:, 1] - chord[1] * away[:, 0]).max()
    return bool(bulge <= STRAIGHT_EDGE_MM * np.hypot(*chord))


def _finished(
    old: Panel,
    new: Panel,
    bend: AlteredField,
    index: int,
    moving: Mapping[tuple[int, Mark], _Moving],
) -> Panel:
    """A carried panel with its waist's middle as origin, and what moves as a whole so moved."""
    origin = _waist_ends(new).mean(axis=0) - _waist_height(old) * new.frame.up
    frame = replace(new.frame, origin=origin)
    pieces = zip(old.pieces, new.pieces, strict=True)
    return replace(
        _settled(old, new, frame, bend, index, moving),
        pieces=tuple(_settled(*own, frame, bend, index, moving) for own in pieces),
    )


def _settled(
    old: Panel,
    new: Panel,
    frame: Frame,
    bend: AlteredField,
    index: int,
    moving: Mapping[tuple[int, Mark], _Moving],
) -> Panel:
    """A carried panel, or a piece of it, in its axes."""
    marks = []
    for before, after in zip(old.marks, new.marks, strict=True):
        own = moving.get((index, before))
        if own is not None and own.whole is not None:
            at = np.array([[0.0, own.whole]])
            image, _ = bend.carry(
                at, np.zeros((1, 2)), np.zeros(1, int), np.array([index]), np.array([own.place])
            )
            step = (old.frame.to_sheet(image) - old.frame.to_sheet(at))[0]
            moved = before.curve.transformed(np.column_stack([np.eye(2), step]))
            if before.kind == "bone":
                _refuse_outside(old, moved, bend, index)
            after = replace(after, curve=moved)
        marks.append(after)
    levels = tuple(
        replace(line, height=float(frame.to_panel([line.curve.start, line.curve.end])[:, 1].mean()))
        for line in new.levels
    )
    return replace(new, frame=frame, marks=tuple(marks), levels=levels)


def _refuse_outside(panel: Panel, bone: Curve, bend: AlteredField, index: int) -> None:
    """Refuse a straight channel over which an edge that was taken in would lie."""
    u, v = panel.frame.to_panel(bone.flatten()).T
    for edge, sign in ((2 * index, -1.0), (2 * index + 1, 1.0)):
        own = np.full(len(v), edge)
        out, _ = bend.outwards(own, v)
        drawn, _, _ = bend.profile.across(v, bend.profile.at_heights(v, own))
        over = (out < 0.0) & (sign * (u - drawn) > out)
        if over.any():
            k = int(np.argmax(over))
            raise AlterationError(
                f"a straight bone channel of panel {panel.name!r} would lie over its "
                f"{SIDES[edge % 2]} edge, {v[k]:+.0f} mm from the waist",
                remedy="Move the channel in the draft, or take in less there, or on the other "
                "panel alone (on).",
                element=panel.name,
            )


def _refuse_narrow(pattern: Pattern, bend: AlteredField) -> None:
    """Refuse a panel that would have no width left at some height that it reaches."""
    for index in sorted(bend.moved):
        panel = pattern.panels[index]
        reach = panel.frame.to_panel(panel.outline.control.reshape(-1, 2))[:, 1]
        own = np.linspace(reach.min(), reach.max(), int(np.ptp(reach) / _STEP_MM) + 2)
        more = sum(bend.outwards(np.full(len(own), 2 * index + side), own)[0] for side in (0, 1))
        widths = bend.profile.widths_at(own)[index]
        narrow = (widths + more < _LEAST_WIDTH_MM) & (more < 0.0)
        if narrow.any():
            k = int(np.argmax(narrow))
            left = float((widths + more)[k])
            raise AlterationError(
                f"panel {panel.name!r} would be {left:.1f} mm wide "
                f"{own[k]:+.0f} mm from the waist, where the draft has {widths[k]:.1f}",
                remedy="Take in less there, or at other seams as well.",
                element=panel.name,
            )


def _refuse_crossed(panels: tuple[Panel, ...]) -> None:
    crossed = self_crossings([panel.outline for panel in panels], _FLATNESS_MM)
    if crossed:
        index, at = crossed[0]
        height = float(panels[index].frame.to_panel(at)[1])
        raise AlterationError(
            f"the edges of panel {panels[index].name!r} would cross {height:+.0f} mm from the "
            "waist",
            remedy="Alter it by less there, or let it run out over a longer way.",
            element=panels[index].name,
        )


def _girths(before: Pattern, after: Pattern, bend: AlteredField) -> tuple[GirthChange, ...]:
    """Every level before and after, and what the alterations asked for there."""
    both = 1.0 if before.full else 2.0
    later = profile(after)
    result = []
    for name in before.level_names():
        height = before.level_height(name)
        sums = np.zeros(3)
        for index, (old, new) in enumerate(zip(before.panels, after.panels, strict=True)):
            line, drawn = old.level(name), new.level(name)
            asked = 0.0
            for side, edge in enumerate(SIDES):
                at = level_at_edge(before, name, index, edge)
                own = np.array([height if at is None else at])
                asked += float(bend.outwards(np.array([2 * index + side]), own)[0][0])
            if line is None or drawn is None:
                at_height = np.array([height])
                one, two = (p.widths_at(at_height)[index, 0] for p in (bend.profile, later))
            else:
                one, two = _across(old, line.curve), _across(new, drawn.curve)
            sums += (one, two, asked)
        was, now, wanted = (both * sums).tolist()
        result.append(GirthChange(name, was, now, wanted))
    return tuple(result)


def _across(panel: Panel, curve: Curve) -> float:
    """Width across a panel between the ends of a line."""
    return float(panel.frame.across @ (curve.end - curve.start))


def _seams(before: Pattern, after: Pattern) -> tuple[SeamChange, ...]:
    found = []
    for old, new in zip(before.walk(), after.walk(), strict=True):
        lengths = (old.first, old.second), (new.first, new.second)
        if np.abs(np.subtract(*lengths)).max() > 1e-6:
            found.append(SeamChange(old.name, *lengths))
    return tuple(found)
