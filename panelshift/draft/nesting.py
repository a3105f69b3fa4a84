"""Outlines inside each other: net outlines, seam allowances, frames and shapes on panels."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from ..errors import PatternError
from ..outline.planar import contains
from ..pattern.drawing import LeftOut, Shape
from .copies import COPY_MM, is_copy, name_worth
from .enclosing import (
    NetOutline,
    Relation,
    is_frame,
    is_named_net,
    is_panel_sized,
    net_of,
    relation,
    settled_by_names,
)
from .found import Candidate, FoundPanel
from .nearby import Boxes

MOST_NESTED: Final = 5_000
"""Pairs of crossed outlines of which one may lie inside the other, at most."""


@dataclass
class Nested:
    """Outlines sorted by what lies inside what.

    Parameters
    ----------
    panels : list of FoundPanel
        Net outlines, with their companions.
    uncrossed : list of Candidate
        Outlines without a waistline that lie round no panel.
    inner : list of Candidate
        Outlines on a panel: marks.
    aside : list of LeftOut
        Frames, seam allowances, outlines drawn twice.
    rings : list of int
        How many outlines lie round or inside each panel as a cut line lies round a net
        outline, without a name that says which is which.
    warnings : list of str
    """

    panels: list[FoundPanel] = field(default_factory=list)
    uncrossed: list[Candidate] = field(default_factory=list)
    inner: list[Candidate] = field(default_factory=list)
    aside: list[LeftOut] = field(default_factory=list)
    rings: list[int] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def sort_nested(
    panels: list[FoundPanel], uncrossed: list[Candidate], *, net: NetOutline = "inner"
) -> Nested:
    """Part net outlines from seam-allowance lines, sheet frames and shapes inside panels.

    Parameters
    ----------
    panels : list of FoundPanel
        All outlines that a waistline crosses twice.
    uncrossed : list of Candidate
        Outlines that none crosses: where waistlines end at the net outlines, frames and cut
        lines are among them.
    net : {"inner", "outer"}
        Which of two outlines, one round the other as a cut line lies round a stitch line, is
        the net outline, where their names do not say it.

    Raises
    ------
    PatternError
        If it is not plain which of two outlines is the net one, or hundreds lie in one place.
    """
    sorting = _Sorting(panels, net)
    inside = _inside(panels)
    for i in sorted(inside, key=lambda k: len(inside[k])):
        sorting.place(i, inside[i])
    result = sorting.result()
    _sort_uncrossed(result, uncrossed, net)
    result.warnings += [
        f"{panel.ident}: {count + 1} outlines lie round each other (several sizes?), and the "
        f"{net}most is taken as the net outline"
        for panel, count in zip(result.panels, result.rings, strict=True)
        if count > 1
    ]
    return result


@dataclass
class _Sorting:
    """What is known so far of outlines that waistlines cross, from the innermost outwards."""

    panels: list[FoundPanel]
    net: NetOutline
    dropped: dict[int, str] = field(default_factory=dict)
    """Why an outline takes no part."""
    marks: set[int] = field(default_factory=set)
    companions: dict[int, list[Shape]] = field(default_factory=dict)
    rings: dict[int, int] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)

    def place(self, i: int, inside: list[int]) -> None:
        """Say what an outline is, given what lies inside it."""
        panels = self.panels
        settled = self.marks | self.dropped.keys()
        like = [j for j in inside if j not in settled and is_panel_sized(panels[j])]
        if len(like) > 1 and not is_named_net(panels[i]):
            self.dropped[i] = _frame_round(len(like))
        elif like:
            self._pair(i, like[0])
        if i not in self.dropped:
            self.marks |= set(inside) - self.dropped.keys()

    def _pair(self, i: int, j: int) -> None:
        """Tell what outline i, round outline j, makes of the two."""
        outer, inner = self.panels[i], self.panels[j]
        how = relation(outer, inner)
        if how in ("unclear", "other") and is_frame(outer, inner):
            self.dropped[i] = _frame_round(1)
        elif how == "other":
            self.warnings.append(
                f"{inner.ident}: it lies inside {outer.ident}, but not as a net outline lies "
                "inside its seam allowance, so it is taken as a mark on it"
            )
        elif how == "unclear" and not settled_by_names(outer, inner):
            raise PatternError(
                f"it lies inside {outer.ident} and fills most of it, but its distance from it "
                "varies too much for a seam allowance, so that it is not plain which is the net "
                "outline",
                remedy="Put the words stitch line into the name of the net outline, or frame into "
                "that of a frame.",
                element=inner.ident,
            )
        else:
            self._choose(i, j, how)

    def _choose(self, i: int, j: int, how: Relation) -> None:
        """Keep one of two outlines of one panel; the other may hold the panel's name."""
        outer, inner = self.panels[i], self.panels[j]
        if how == "copy":
            keeps_inner = _worth(inner) >= _worth(outer)
        else:
            keeps_inner = net_of(outer, inner, self.net) == "inner"
        kept, gone = (j, i) if keeps_inner else (i, j)
        self.companions.setdefault(kept, []).extend(
            (self.panels[gone].shapes[0], *self.companions.pop(gone, ()))
        )
        by_place = how != "copy" and not settled_by_names(outer, inner)
        self.rings[kept] = self.rings.get(kept, 0) + self.rings.pop(gone, 0) + by_place
        if how == "copy":
            self.dropped[gone] = f"drawn twice: it lies on top of {self.panels[kept].ident}"
        elif keeps_inner:
            self.dropped[gone] = _allowance_round(self.panels[kept])

    def result(self) -> Nested:
        """Sort the outlines as they were placed."""
        found = Nested(warnings=self.warnings)
        for i, panel in enumerate(self.panels):
            if i in self.dropped:
                found.aside.append(_left_out(panel, self.dropped[i]))
            elif i in self.marks:
                found.inner.append(Candidate(panel.outline, panel.shapes))
            else:
                companions = tuple(self.companions.get(i, ()))
                found.panels.append(replace(panel, companions=companions))
                found.rings.append(self.rings.get(i, 0))
        return found


def _sort_uncrossed(result: Nested, uncrossed: list[Candidate], net: NetOutline) -> None:
    """Tell frames and cut lines that no waistline reaches from other closed shapes."""
    boxes = Boxes([panel.outline for panel in result.panels])
    for candidate in uncrossed:
        low, high = candidate.outline.hull_box
        near = [
            k
            for k in boxes.near(candidate.outline.hull_box, 0.0)
            if (low <= result.panels[k].outline.bounds()[0] + COPY_MM).all()
            and (high >= result.panels[k].outline.bounds()[1] - COPY_MM).all()
            and contains(candidate.outline, result.panels[k].outline)
        ]
        if len(near) > 1:
            result.aside.append(_left_out(candidate, _frame_round(len(near))))
        elif near and relation(candidate, result.panels[near[0]]) == "allowance":
            panel = result.panels[near[0]]
            if net_of(candidate, panel, net) == "outer":
                raise PatternError(
                    "this is to be the net outline, but its waistline ends at the outline "
                    f"inside it, {panel.ident}",
                    remedy="Draw the waistline right across, from side edge to side edge; or "
                    "take the inner outline (net_outline in the job file, and names).",
                    element=candidate.ident,
                )
            result.panels[near[0]] = replace(
                panel, companions=(*panel.companions, candidate.shapes[0])
            )
            result.rings[near[0]] += not settled_by_names(candidate, panel)
            result.aside.append(_left_out(candidate, _allowance_round(panel)))
        else:
            result.uncrossed.append(candidate)


def _frame_round(count: int) -> str:
    return f"a frame round {count} panel{'s' if count > 1 else ''}"


def _allowance_round(panel: FoundPanel) -> str:
    return f"the seam allowance round {panel.ident}, which is taken as the net outline"


def _left_out(outline: FoundPanel | Candidate, why: str) -> LeftOut:
    count = len(outline.shapes)
    return LeftOut(outline.ident, f"{why} ({count} pieces)" if count > 1 else why)


def _inside(panels: list[FoundPanel]) -> dict[int, list[int]]:
    """Of each outline, those that lie inside it; of two in one place, the later in the earlier."""
    boxes = np.array([panel.outline.bounds() for panel in panels]).reshape(-1, 2, 2)
    inside: dict[int, list[int]] = {i: [] for i in range(len(panels))}
    compared = 0
    for i, outer in enumerate(panels):
        fits = (boxes[i, 0] <= boxes[:, 0] + COPY_MM).all(axis=1)
        fits &= (boxes[i, 1] >= boxes[:, 1] - COPY_MM).all(axis=1)
        twins = np.abs(boxes[i] - boxes).max(axis=(1, 2)) < COPY_MM
        fits &= ~twins | (np.arange(len(panels)) > i)
        fits[i] = False
        compared += int(fits.sum())
        if compared > MOST_NESTED:
            raise PatternError(
                "hundreds of outlines lie inside or on top of each other",
                remedy="Delete the copies, or put each size on a sheet of its own.",
                element=outer.ident,
            )
        inside[i] += [
            int(j)
            for j in np.flatnonzero(fits)
            if contains(outer.outline, panels[j].outline)
            or (twins[j] and is_copy(outer.outline, panels[j].outline))
        ]
    return inside


def _worth(panel: FoundPanel) -> int:
    return name_worth(panel.shapes[0]) if len(panel.shapes) == 1 else 0
