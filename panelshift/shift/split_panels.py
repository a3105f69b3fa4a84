"""A layer whose panels are divided at lines that the other layers do not have."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

import numpy as np

from ..draft.piled import UNEVEN_MM, at_arc, met, waist_arc
from ..errors import StackError, few
from ..outline import Curve, FloatArray
from ..outline.crossing import crossings, nearest_position
from ..outline.measure import length
from ..outline.planar import line
from ..pattern.panel import EDGE_NAMES, EdgeName, Panel
from ..pattern.pattern import Pattern
from ..stack import Fabric
from .panel_parts import ACROSS, ALONG, Rails, moved_ends, parts_of

_NEAREST_MM: Final = 3.0
"""Lines nearer to each other leave nothing to sew between them."""


@dataclass(frozen=True, eq=False)
class _DividingLine:
    """A line of a name that divides a panel, from the one of two edges to the other."""

    name: str
    rails: Rails
    curve: Curve

    def ending(self, edge: EdgeName, at: FloatArray) -> _DividingLine:
        """The same with its end on an edge moved to a point of that."""
        ends = (at, self.curve.end) if edge == self.rails[0] else (self.curve.start, at)
        return replace(self, curve=moved_ends(self.curve, *ends))


@dataclass(frozen=True, eq=False)
class _Splitting:
    """A pattern, and the fabric that has some of its panels in parts."""

    pattern: Pattern
    fabric: Fabric

    def fault(self, problem: str, remedy: str, element: str = "") -> StackError:
        """The error of a layer that cannot be split so."""
        return StackError(
            f"layer {self.fabric.name!r}, {problem}",
            remedy=f"{remedy} See split_at in docs/fewer-pieces.md.",
            source=self.pattern.source,
            element=self.fabric.name,
        )

    def cuts(self, panel: Panel) -> list[_DividingLine]:
        """The lines that divide a panel."""
        if not self.fabric.covers((*panel.made_of, panel.name)[0]):
            return []
        found = []
        for name in self.fabric.split_at:
            own = [m.curve for m in panel.marks if m.kind == "split" and m.name == name]
            level = None if own else panel.level(name)
            own = own if level is None else [level.curve]
            if len(panel.made_of) > 1 and len(own) > 1:
                own = [_over_all(panel, own)]
            for curve in own:
                edge = _nearest_edge(panel, curve.start)
                rails = ACROSS if edge in ACROSS else ALONG
                found.append(
                    _DividingLine(name, rails, curve if edge == rails[0] else curve.reversed())
                )
        return found

    def refuse_unknown(self) -> None:
        """Refuse names of which no line crosses a panel of the layer."""
        used = {cut.name for panel in self.pattern for cut in self.cuts(panel)}
        for name in self.fabric.split_at:
            if name not in used:
                known = dict.fromkeys(
                    known
                    for panel in self.pattern
                    for known in (
                        *(mark.name for mark in panel.marks if mark.kind == "split"),
                        *(level.name for level in panel.level_lines),
                    )
                )
                raise self.fault(
                    f"to be split at {name!r:.60}: no such line crosses a panel on which it lies",
                    "Draw an open line across the panels and give its label or id, or give a "
                    f"level. Lines here: {few(known)}.",
                )

    def refuse_uneven(self) -> None:
        """Refuse pieces of several panels over which a line across does not run all the way."""
        for group in self.fabric.cut_in_one:
            own = [self.cuts(self.pattern[name]) for name in group]
            across = [sorted(c.name for c in cuts if c.rails == ACROSS) for cuts in own]
            twice = any(len({c.name for c in cuts}) < len(cuts) for cuts in own)
            if twice or any(one != across[0] for one in across):
                raise self.fault(
                    f"{' + '.join(group)} in one piece: a line that runs across one of its panels "
                    "does not run across all of them, or two lines of a panel have one name",
                    "Draw it over all panels of the piece, each line under its own name, or leave "
                    "the panels apart.",
                )

    def trued(self, cuts_of: Sequence[list[_DividingLine]]) -> list[list[_DividingLine]]:
        """The same lines, those that end at one place of a seam as far from the waist on both."""
        found = [list(cuts) for cuts in cuts_of]
        for seam in self.pattern.seams:
            sides = (seam.first, seam.first_edge), (seam.second, seam.second_edge)
            ends = [self._ends(k, edge, found[k]) for k, edge in sides]
            if len(ends[0]) != len(ends[1]):
                continue
            for (one, i), (two, j) in zip(*ends, strict=True):
                if abs(one - two) <= UNEVEN_MM:
                    for (k, edge), n in zip(sides, (i, j), strict=True):
                        at = at_arc(self.pattern.panels[k], edge, 0.5 * (one + two))
                        found[k][n] = found[k][n].ending(edge, at)
        return found

    def _ends(
        self, index: int, edge: EdgeName, cuts: Sequence[_DividingLine]
    ) -> list[tuple[float, int]]:
        """How far from the waist along an edge lines across end, upwards, and which they are."""
        panel = self.pattern.panels[index]
        curve = panel.edge(edge)
        found = []
        for n, cut in enumerate(cuts):
            if cut.rails == ACROSS and edge in ACROSS:
                end = cut.curve.start if edge == "front" else cut.curve.end
                at = nearest_position(curve, end)[0]
                found.append((length(curve.piece(0.0, at)) - waist_arc(panel, edge), n))
        return sorted(found)

    def refuse(self, index: int, cuts: Sequence[_DividingLine]) -> None:
        """Refuse lines by which a panel cannot be divided."""
        panel = self.pattern.panels[index]
        for one, two in combinations(cuts, 2):
            if line(one.curve).distance(line(two.curve)) < _NEAREST_MM:
                raise self.fault(
                    f"panel {panel.name!r}: the lines {one.name!r:.40} and {two.name!r:.40} cross, "
                    f"or come nearer to each other than {_NEAREST_MM:g} mm",
                    "Split a panel across, or from top to bottom, at lines that keep apart.",
                )
        near = [s for s in self.pattern.seams if index in (s.first, s.second)]
        beside = [self.pattern.panels[k] for s in near for k in (s.first, s.second)]
        across = cuts[0].rails == ACROSS
        gored = panel.pointed or panel.slits or (across and any(p.pointed for p in beside))
        if panel.pieces or gored:
            raise self.fault(
                f"panel {panel.name!r}, which the line {cuts[0].name!r:.40} crosses, is made of "
                "pieces, is a gore or has one in its seam or its slit",
                "End the line before that panel. A panel that is in pieces on some layers only is "
                "drawn as one, and split on those.",
            )
        for cut in cuts if not across else ():
            assert panel.waist is not None  # as it is no gore
            if len(crossings(panel.waist.curve, cut.curve)) != 1:
                raise self.fault(
                    f"panel {panel.name!r}: the line {cut.name!r:.40} crosses its waistline more "
                    "than once",
                    "Draw it so that it runs straight over the waist.",
                )


def refuse_unsplittable(pattern: Pattern, fabric: Fabric) -> None:
    """Refuse lines at which a layer cannot be split: unknown ones, or such as cross.

    *pattern*: the draft, which is split for that. Raises `StackError`.
    """
    if fabric.split_at:
        own = _Splitting(pattern, fabric)
        own.refuse_unknown()
        split_panels(pattern, fabric)
        own.refuse_uneven()


def split_panels(pattern: Pattern, fabric: Fabric) -> Pattern:
    """The pattern with the panels in parts that a fabric has so.

    Parts side by side stand in its order; those on each other are `pieces` of their panel.

    Raises `StackError` if the lines do not divide the panels, or do not meet at a seam.
    """
    own = _Splitting(pattern, fabric)
    cuts_of = [own.cuts(panel) for panel in pattern]
    for k, cuts in enumerate(cuts_of):
        if cuts:
            own.refuse(k, cuts)
    places: list[Sequence[Panel]] = []
    for k, (panel, cuts) in enumerate(zip(pattern, own.trued(cuts_of), strict=True)):
        places.append((panel,))
        if cuts:
            parts = parts_of(panel, cuts[0].rails, [cut.curve for cut in cuts])
            if cuts[0].rails == ACROSS:
                places[k] = (replace(panel, pieces=parts),)
            else:
                places[k] = parts if pattern.ends(k) == ("front", "back") else parts[::-1]
    names = [piece.name for own in places for panel in own for piece in panel.pieces or (panel,)]
    for name in names:
        if names.count(name) > 1:
            raise own.fault(
                f"two of its pieces would be called {name!r}",
                "Give one of the panels another name in the drawing.",
            )
    return met(expanded(pattern, places), own.fault)


def apart(pattern: Pattern) -> Pattern:
    """The pattern by its pieces, where panels are cut in several that stand on each other."""
    return expanded(pattern, [panel.pieces or (panel,) for panel in pattern])


def expanded(pattern: Pattern, places: Sequence[Sequence[Panel]]) -> Pattern:
    """The pattern with one panel or several in the place of each."""
    before = 0.5 * len(pattern) if pattern.centre is None else pattern.centre
    ends = np.cumsum([len(own) for own in places])
    full = 0.0 if before < 1.0 else float(ends[int(before) - 1])
    # The panel across the centre front is one piece.
    centre = full + before % 1.0 if pattern.full else None
    return replace(pattern, panels=tuple(p for own in places for p in own), centre=centre)


def _over_all(panel: Panel, parts: Sequence[Curve]) -> Curve:
    """A line over all panels of a piece, from its front to its back."""
    along = []
    for curve in parts:
        u = panel.frame.to_panel([curve.start, curve.end])[:, 0]
        along.append((float(u.min()), curve if u[0] < u[1] else curve.reversed()))
    row = [curve for _, curve in sorted(along, key=lambda item: item[0])]
    joined = row[:1]
    for two in row[1:]:
        one = joined.pop()
        if np.hypot(*(two.start - one.end)) > UNEVEN_MM:  # over an open dart
            joined += [one, Curve.polyline([one.end, two.start]), two]
            continue
        at = 0.5 * (one.end + two.start)
        joined += [moved_ends(one, one.start, at), moved_ends(two, at, two.end)]
    return Curve.chain(joined)


def _nearest_edge(panel: Panel, point: FloatArray) -> EdgeName:
    away = {edge: nearest_position(panel.edge(edge), point)[1] for edge in EDGE_NAMES}
    return min(away, key=away.__getitem__)
