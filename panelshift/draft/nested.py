"""Outlines inside each other: net outlines, seam allowances, frames and shapes on panels."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Literal

import numpy as np

from ..errors import PatternError
from ..outline import Curve, FloatArray
from ..outline.bezier import LINE
from ..outline.many import boxes
from ..outline.measure import breaks
from ..outline.nearness import COPY_MM, Boxes, apart, is_copy, spread
from ..outline.planar import area, contains, overlap
from ..pattern.drawing import Shape, spaced
from .draft import Candidate, Draft, FoundPanel, NetOutline
from .names import described
from .tidy import name_worth

MOST_NESTED: Final = 5_000
"""Pairs of crossed outlines of which one may lie inside the other, at most."""

Relation = Literal["copy", "allowance", "close", "crossing", "unclear", "other"]

PANEL_WIDTH_MM: Final = 20.0
"""Closed shapes narrower than this at the waist inside another are bone channels and the
like; common practice, no source: channels run from 6 to 15 mm, panels from 25 mm."""

PANEL_HEIGHT_MM: Final = 60.0
"""Closed shapes less high than this inside another are letters and the like."""

_NET_SHARE: Final = 0.5
"""A single outline of at least this part of the area round it may be its net outline, even if
it does not run along it; a smaller one is a shape on the panel."""

_WIDEST_ALLOWANCE_MM: Final = 50.0
"""How far a net outline may lie inside its cut line: facings at the centre back included."""

_MARGIN_RATIO: Final = 4.0
"""Allowances of one panel differ by less: 8 mm at the top, 25 mm at the lacing edge."""

_NARROW_ALLOWANCE_MM: Final = 5.0
"""What counts for the narrowest allowance where an edge has none, as on a fold."""

_LONGEST_MITRE: Final = 3.0
"""How many times its width a cut line's corners may lie from the net outline."""

_RIGHT_ANGLE: Final = np.radians(0.5)
"""How far a corner may be from square for a rectangle."""

_BAND_MM: Final = 2.5
"""Outlines that run nearer to each other than this all round are the two sides of one thick
line: no allowance is as narrow."""

_STRAIGHT: Final = 0.005

_COVERED: Final = 0.85
"""Outlines that cross are of one panel, in two sizes, if one covers this part of the other."""

_SAME_AREA: Final = 1e-9

_EVEN_BAND: Final = 0.25
"""The two sides of a line lie evenly apart, but for this part; two sizes do not."""

_NET_NAMES: Final = re.compile(r"\bnet\b|\b(stitch|stitching|seam) ?lines?\b")


def sort_nested(draft: Draft) -> Draft:
    """Part net outlines from seam-allowance lines, sheet frames and shapes inside panels.

    Among the outlines that no waistline crosses are frames and cut lines: waistlines may end at
    the net outlines.

    Raises `PatternError` if it is not plain which of two outlines is the net one, or hundreds lie
    in one place.
    """
    sorting = _Sorting(draft)
    inside = _inside(draft.panels)
    for i in sorted(inside, key=lambda k: len(inside[k])):
        sorting.place(i, inside[i])
    draft = _sort_uncrossed(sorting.result())
    by_place = [panel for panel in draft.panels if panel.by_place]
    if by_place:
        idents = [panel.ident for panel in by_place]
        net = "outer" if draft.reading.net_outline == "outer" else "inner"
        draft.ledger.note(
            "net-outline-by-place",
            f"of two outlines round each other the {net} one is taken as the net outline "
            f"(net_outline in the job file, or names, say otherwise): {', '.join(idents)}",
            *idents,
        )
    return draft


@dataclass
class _Sorting:
    """What is known so far of outlines that waistlines cross, from the innermost outwards."""

    draft: Draft
    dropped: dict[int, tuple[str, str]] = field(default_factory=dict)
    """Why an outline takes no part: a code and words."""
    marks: set[int] = field(default_factory=set)
    companions: dict[int, list[Candidate]] = field(default_factory=dict)
    by_place: dict[int, int] = field(default_factory=dict)
    doubts: dict[int, list[str]] = field(default_factory=dict)

    def place(self, i: int, inside: list[int]) -> None:
        """Say what an outline is, given what lies inside it."""
        panels = self.draft.panels
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
        outer, inner = self.draft.panels[i], self.draft.panels[j]
        how = relation(outer, inner)
        if how in ("unclear", "other") and is_frame(outer, inner):
            self.dropped[i] = _frame_round(1)
        elif how == "other":
            self.draft.ledger.warn(
                "mark-inside",
                f"{inner.ident}: it lies inside {outer.ident}, but not as a net outline lies "
                "inside its seam allowance, so it is taken as a mark on it",
                inner.ident,
                outer.ident,
            )
        else:
            self._choose(i, j, how)

    def _choose(self, i: int, j: int, how: Relation) -> None:
        """Keep one of two outlines of one panel; the other may hold the panel's name."""
        outer, inner = self.draft.panels[i], self.draft.panels[j]
        if how == "copy":
            keeps_inner = _worth(inner) >= _worth(outer)
        else:
            keeps_inner = net_of(outer, inner, self.draft.reading.net_outline) == "inner"
        kept, gone = (j, i) if keeps_inner else (i, j)
        panel = self.draft.panels[kept]
        self.companions.setdefault(kept, []).extend(
            (self.draft.panels[gone], *self.companions.pop(gone, ()))
        )
        by_place = how != "copy" and not settled_by_names(outer, inner)
        if by_place and how != "allowance":
            self.doubts.setdefault(kept, []).append(doubt_of(how, outer, inner))
        count = self.by_place.get(kept, 0) + self.by_place.pop(gone, 0) + by_place
        self.by_place[kept] = count
        if how == "copy":
            self.dropped[gone] = ("copy", f"drawn twice: it lies on top of {panel.ident}")
        elif keeps_inner:
            self.dropped[gone] = _allowance_round(panel)

    def result(self) -> Draft:
        """Sort the outlines as they were placed."""
        panels: list[FoundPanel] = []
        marks: list[Shape] = []
        for i, panel in enumerate(self.draft.panels):
            if i in self.dropped:
                _leave_out(self.draft, panel, *self.dropped[i])
            elif i in self.marks:
                marks += panel.shapes
            else:
                others = tuple(found.shapes[0] for found in self.companions.get(i, ()))
                by_place, doubts = self.by_place.get(i, 0), tuple(self.doubts.get(i, ()))
                panels.append(replace(panel, companions=others, by_place=by_place, doubts=doubts))
        return replace(self.draft, panels=tuple(panels), shapes=(*self.draft.shapes, *marks))


def _sort_uncrossed(draft: Draft) -> Draft:
    """Tell frames and cut lines that no waistline reaches from other closed shapes."""
    if not draft.outlines:
        return draft
    panels = list(draft.panels)
    places = Boxes([panel.outline for panel in panels])
    bounds = boxes([panel.outline for panel in panels])
    kept = []
    for candidate in draft.outlines:
        low, high = candidate.outline.hull_box
        near = [
            k
            for k in places.near(candidate.outline.hull_box, 0.0)
            if (low <= bounds[k, 0] + COPY_MM).all()
            and (high >= bounds[k, 1] - COPY_MM).all()
            and contains(candidate.outline, panels[k].outline)
        ]
        if len(near) > 1:
            _leave_out(draft, candidate, *_frame_round(len(near)))
        elif near and (how := _how_round(candidate, panels[near[0]])):
            panel = panels[near[0]]
            if net_of(candidate, panel, draft.reading.net_outline) == "outer":
                raise PatternError(
                    "this is to be the net outline, but its waistline ends at the outline "
                    f"inside it, {described(panel.shapes[0])}",
                    remedy="Draw the waistline right across, from side edge to side edge; or "
                    "take the inner outline (net_outline in the job file, and names).",
                    element=candidate.ident,
                )
            panels[near[0]] = replace(
                panel,
                companions=(*panel.companions, candidate.shapes[0]),
                by_place=panel.by_place + (not settled_by_names(candidate, panel)),
                doubts=panel.doubts
                if how == "allowance" or settled_by_names(candidate, panel)
                else (*panel.doubts, doubt_of(how, candidate, panel)),
            )
            _leave_out(draft, candidate, *_allowance_round(panel))
        else:
            kept.append(candidate)
    return replace(draft, panels=tuple(panels), outlines=tuple(kept))


def _how_round(outer: Candidate, inner: FoundPanel) -> Relation | None:
    """How a cut line or another size that no waistline reaches lies round a panel."""
    how = relation(outer, inner)
    loose = how in ("unclear", "other")
    return None if how in ("copy", "other") or (loose and is_rectangle(outer.outline)) else how


def doubt_of(how: Relation, outer: Candidate, inner: Candidate) -> str:
    """Why two outlines may be no net outline and its cut line."""
    one, two = described(inner.shapes[0]), described(outer.shapes[0])
    if how == "close":
        return f"{one} runs nearer to {two} than an allowance is wide"
    if how == "crossing":
        return f"they lie on top of each other and cross: {one} and {two}"
    return (
        f"{one} lies inside {two} and fills most of it, but its distance from it varies too much "
        "for a seam allowance, so that it is not plain which is the net outline"
    )


def _frame_round(count: int) -> tuple[str, str]:
    return "frame", f"a frame round {count} panel{'s' if count > 1 else ''}"


def _allowance_round(panel: FoundPanel) -> tuple[str, str]:
    why = f"the seam allowance round {panel.ident}, which is taken as the net outline"
    return "seam-allowance", why


def _leave_out(draft: Draft, outline: Candidate, code: str, why: str) -> None:
    count = len(outline.shapes)
    more = f" ({count} pieces)" if count > 1 else ""
    draft.ledger.leave_out(code, f"{why}{more}", *(shape.ident for shape in outline.shapes))


def relation(outer: Candidate, inner: FoundPanel) -> Relation:
    """Tell how an outline lies round another of a panel's size.

    On top of it ("copy"); as a cut line round a stitch line ("allowance"); nearer than that; on top
    of it, but not as large; perhaps so ("unclear"); as a panel round a shape ("other").

    Raises `PatternError` if the two are the sides of one thick line.
    """
    if is_copy(outer.outline, inner.outline):
        return "copy"
    if not contains(outer.outline, inner.outline):
        return "crossing"
    margins = apart(spread(inner.outline), outer.outline)[0]
    widest = float(margins.max())
    if widest < _BAND_MM:
        if float(np.ptp(margins)) <= _EVEN_BAND * widest:
            raise PatternError(
                f"two outlines run {widest:.2g} mm apart all round: "
                f"{described(outer.shapes[0])} and {described(inner.shapes[0])}; "
                "they look like the two sides of one thick line",
                remedy="Draw the outline as a line, not as the filled shape of its stroke; or "
                "delete one of them, or leave it out (leave_out in the job file, with its id).",
                element=outer.ident,
            )
        return "close"
    beyond = float(apart(spread(outer.outline), inner.outline)[0].max())
    narrow = max(float(np.quantile(margins, 0.1)), _NARROW_ALLOWANCE_MM)
    if (
        widest <= min(_WIDEST_ALLOWANCE_MM, _MARGIN_RATIO * narrow)
        and beyond <= _LONGEST_MITRE * widest
    ):
        return "allowance"
    fills = area(inner.outline) >= _NET_SHARE * area(outer.outline)
    return "unclear" if fills else "other"


def net_of(outer: Candidate, inner: FoundPanel, net: NetOutline) -> NetOutline:
    """Tell which of two outlines is the net one: what their names say, or else `net`."""
    if settled_by_names(outer, inner):
        return "outer" if is_named_net(outer) else "inner"
    return "outer" if net == "outer" else "inner"


def settled_by_names(outer: Candidate, inner: FoundPanel) -> bool:
    """Whether one of two outlines is called a net outline and the other is not."""
    return is_named_net(outer) != is_named_net(inner)


def is_named_net(panel: Candidate) -> bool:
    """Whether an outline's own names, or its group's, call it a net outline."""
    shape = panel.shapes[0]
    names = (*shape.names, *shape.classes, *shape.groups[-1:])
    return any(_NET_NAMES.search(spaced(name)) for name in names)


def is_frame(outer: FoundPanel, inner: FoundPanel) -> bool:
    """Whether an outline is a rectangle, as the one inside it is not."""
    return is_rectangle(outer.outline) and not is_rectangle(inner.outline)


def is_rectangle(curve: Curve) -> bool:
    """Whether a closed curve has four straight sides at right angles."""
    corners = np.abs(np.abs(breaks(curve)) - 0.5 * np.pi) < _RIGHT_ANGLE
    return len(curve) == 4 and bool((curve.degree == LINE).all() and corners.all())


def is_straight(curve: Curve) -> bool:
    """Whether an open line runs straight, within half a millimetre of each hundred."""
    points = curve.control.reshape(-1, 2) - curve.start
    chord = curve.end - curve.start
    size = float(np.hypot(*chord))
    return bool(np.abs(points @ np.array([-chord[1], chord[0]])).max() <= _STRAIGHT * size * size)


def is_panel_sized(panel: FoundPanel) -> bool:
    """Whether an outline inside another is large enough for a panel."""
    step: FloatArray = panel.waist.points[1] - panel.waist.points[0]
    width = float(np.hypot(*step))
    return width >= PANEL_WIDTH_MM and height(panel) >= PANEL_HEIGHT_MM


def height(panel: FoundPanel) -> float:
    """How far an outline reaches across the direction of its waist, in mm."""
    step: FloatArray = panel.waist.points[1] - panel.waist.points[0]
    up = np.array([-step[1], step[0]]) / max(float(np.hypot(*step)), 1e-12)
    return float(np.ptp(panel.outline.flatten() @ up))


def _inside(panels: Sequence[FoundPanel]) -> dict[int, list[int]]:
    """Of each outline, those that lie inside it, or that it nearly covers, though they cross.

    Of two in one place, the later lies in the earlier.
    """
    low, high = boxes([panel.outline for panel in panels]).transpose(1, 0, 2)
    count = np.arange(len(panels))
    fits = (low[:, None] <= low + COPY_MM).all(axis=2) & (high[:, None] >= high - COPY_MM).all(
        axis=2
    )
    twins = (np.abs(low[:, None] - low) < COPY_MM).all(axis=2)
    twins &= (np.abs(high[:, None] - high) < COPY_MM).all(axis=2)
    fits &= (~twins | (count > count[:, None])) & (count != count[:, None])
    middles = np.array([panel.waist.points.mean(axis=0) for panel in panels]).reshape(-1, 2)
    sizes = np.array([area(panel.outline) for panel in panels])
    # Of two that are as large as each other, the later lies round the earlier.
    larger = sizes[:, None] > sizes * (1.0 + _SAME_AREA)
    larger |= (np.abs(sizes[:, None] - sizes) <= _SAME_AREA * sizes) & (count[:, None] > count)
    covers = larger & ((low[:, None] <= middles) & (middles <= high[:, None])).all(axis=2)
    compared = np.cumsum((fits | covers).sum(axis=1))
    if len(panels) and compared[-1] > MOST_NESTED:
        raise PatternError(
            "hundreds of outlines lie inside or on top of each other",
            remedy="Delete the copies, or put each size on a sheet of its own.",
            element=panels[int(np.argmax(compared > MOST_NESTED))].ident,
        )
    return {
        i: [
            j
            for j in np.flatnonzero(fits[i] | covers[i]).tolist()
            if (fits[i, j] and contains(outer.outline, panels[j].outline))
            or (twins[i, j] and fits[i, j] and is_copy(outer.outline, panels[j].outline))
            or (covers[i, j] and overlap(outer.outline, panels[j].outline) >= _COVERED)
        ]
        for i, outer in enumerate(panels)
    }


def _worth(panel: FoundPanel) -> int:
    return name_worth(panel.shapes[0]) if len(panel.shapes) == 1 else 0
