"""What seams tell of a reading: waistlines that do not meet on them, and panels out of order."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

from ..outline import Curve, FloatArray
from ..outline.measure import CORNER_ANGLE, breaks, length
from ..outline.nearness import apart
from ..pattern.panel import EdgeName, Panel
from ..pattern.pattern import Pattern
from ..pattern.profile import SIDES
from .draft import REACH_MM, Draft
from .names import described

_WAISTS_EASED_MM: Final = 3.0
_WAISTS_FAULT_MM: Final = 10.0
"""How far apart two waistlines may meet a seam: common practice, no source; waist notches of two
panels are pinned together first."""

_WALKS_MM: Final = 1.0
"""Two edges whose lengths differ by no more, above the waist and below, may be mates."""

_MISSES_MM: Final = 3.0
"""A seam whose edges differ by more speaks against an order that is only taken."""

_GOES_ON_MM: Final = 15.0
_ENDS: Final[tuple[EdgeName, EdgeName]] = ("top", "bottom")

_ALIKE: Final = 0.8
"""Cosine of the angle between panels that lie side by side, at least."""

_MOST_ORDERED: Final = 12
"""Panels of a half whose orders are all looked at."""


def tell_waists_apart(draft: Draft, pattern: Pattern) -> None:
    """Say of each seam whose two panels have their waistlines at different heights on it.

    The edges above the waists differ in length then, and those below as well, though the whole
    seam may walk: one of the two lines is another level, or a panel lies upside down.
    """
    for seam in pattern.seams:
        sides = ((seam.first, seam.first_edge), (seam.second, seam.second_edge))
        ends = [pattern.panels[k].waist_end(e) for k, e in sides]
        spans = seam.first_span, seam.second_span
        met = [
            (end, pattern.panels[k].stretch(e, span))
            for end, (k, e), span in zip(ends, sides, spans, strict=True)
            if end is not None
        ]
        met = [(end, curve) for end, curve in met if apart(end[None], curve)[0][0] <= REACH_MM]
        if len(met) < 2:
            continue  # a seam of a gore, or beyond one, that does not reach the waist
        above, below = np.array([_from_waist(*one) for one in met]).T
        misfit = float(min(abs(np.ptp(above)), abs(np.ptp(below))))
        if misfit <= _WAISTS_EASED_MM:
            continue
        one, two = (pattern.panels[k] for k, _ in sides)
        words = (
            f"seam {one.name} to {two.name}: the two waistlines meet it {misfit:.1f} mm apart: "
            f"above them the edges are {above[0]:.1f} and {above[1]:.1f} mm long, below them "
            f"{below[0]:.1f} and {below[1]:.1f} mm ({_found(draft, one)}, {_found(draft, two)})"
        )
        if misfit <= _WAISTS_FAULT_MM:
            draft.ledger.warn("waists-apart", words, *(_waist_ident(p) for p in (one, two)))
        else:
            draft.ledger.fault(
                "waists-apart",
                words,
                *(_waist_ident(p) for p in (one, two)),
                remedy="One of them may be another level, such as the hip line: give the word "
                "waist to the right line, or say in the job file which it is (waistlines). Or a "
                "panel lies upside down, or stands in the wrong place in the order (order).",
            )


def _found(draft: Draft, panel: Panel) -> str:
    """A panel's waistline, so that it is found in the drawing."""
    lines = (line for line in draft.waistlines if line.ident == _waist_ident(panel))
    return next(map(described, lines), _waist_ident(panel))


def _waist_ident(panel: Panel) -> str:
    return "" if panel.waist is None else panel.waist.ident


def _from_waist(end: FloatArray, curve: Curve) -> tuple[float, float]:
    """Length in mm of a side edge above and below where the waist meets it."""
    place = float(apart(end[None], curve)[1][0])
    return length(curve, 1e-2) - place, place


def tell_seams_that_go_on(draft: Draft, pattern: Pattern) -> None:
    """Say of seams that end at a sharp bend beyond which both outlines run on alike, up or down.

    It may be a bend of the seam, as under a cup, or the corner of a tab: the maker knows.
    """
    for seam in pattern.seams:
        sides = ((seam.first, seam.first_edge), (seam.second, seam.second_edge))
        one, two = (pattern.panels[k] for k, _ in sides)
        if seam.first_span or seam.second_span or {one.name, two.name} & set(draft.reading.corners):
            continue
        for end in _ENDS:
            beyond = [_beyond(pattern.panels[k], edge, end) for k, edge in sides]
            runs = [run for run in beyond if run is not None]
            if len(runs) < len(sides) or abs(np.diff([length(run) for run in runs])[0]) > _WALKS_MM:
                continue
            named = [
                f'[panel."{pattern.panels[k].name}"] corners = {{ {edge}_{end} = '
                f"[{run.end[0]:.1f}, {run.end[1]:.1f}] }}"
                for (k, edge), run in zip(sides, runs, strict=True)
            ]
            draft.ledger.fault(
                "seam-goes-on",
                f"seam {one.name} to {two.name}: it is taken to end at a sharp bend, and beyond it "
                f"both outlines run {'up' if end == 'top' else 'down'} alike for "
                f"{length(runs[0]):.0f} mm more",
                one.ident,
                two.ident,
                remedy="If it goes on there, make the nodes at the bend smooth in the drawing "
                f"program, or name its ends in the job file: {' and '.join(named)}. If it ends "
                "at the bend, as beside a tab, name the places of the bend so instead",
            )


def _beyond(panel: Panel, edge: EdgeName, end: EdgeName) -> Curve | None:
    """What of a top or bottom edge goes on steeply from a side edge to a further corner, if any."""
    run = panel.edge(end) if edge == "front" else panel.edge(end).reversed()
    sense = 1.0 if end == "top" else -1.0
    if float(((run.control[:, 3] - run.start) @ panel.frame.up * sense).max()) < _GOES_ON_MM:
        return None
    for joint in np.flatnonzero(np.abs(breaks(run)) >= CORNER_ANGLE)[::-1].tolist():
        found = run.piece(0.0, float(joint))
        step = found.end - found.start
        rise = float(step @ panel.frame.up) * sense
        if rise >= max(_GOES_ON_MM, abs(float(step @ panel.frame.across))):
            return found
    return None


def tell_other_order(draft: Draft, pattern: Pattern) -> None:
    """Say that seams walk in another order than that on the sheet, where no name tells the order.

    Panels that were moved to fit on the sheet are out of order; the lengths of their edges above
    and below the waist then tell it, if there is one order alone in which every seam walks.
    """
    panels = pattern.panels
    taken = any(remark.code == "order-taken" for remark in draft.ledger.remarks)
    if not taken or pattern.full or not 3 <= len(panels) <= _MOST_ORDERED:
        return
    if any(panel.waist is None for panel in panels):
        return
    lengths = _side_lengths(panels)
    misses = np.abs(lengths[:, None, 1] - lengths[None, :, 0]).max(axis=2)
    worst = float(misses.diagonal(offset=1).max())
    found = _walks(misses <= _WALKS_MM) if worst > _MISSES_MM else []
    if len(found) == 1:
        names = [panels[k].name for k in found[0]]
        quoted = ", ".join(f'"{name}"' for name in names)
        draft.ledger.fault(
            "order-taken",
            "in the order in which the panels lie on the sheet the edges of a seam differ by up to "
            f"{worst:.1f} mm; in one other order all seams walk: {', '.join(names)}",
            remedy=f"See whether that is right; then say so in the job file: [pattern] order = "
            f"[{quoted}]. Or write its name on each panel.",
        )


def _side_lengths(panels: Sequence[Panel]) -> FloatArray:
    """Length of each panel's front and back edge above and below its waist, shape (n, 2, 2)."""
    return np.array(
        [
            [_from_waist(np.asarray(panel.waist_end(name)), panel.edge(name)) for name in SIDES]
            for panel in panels
        ]
    )


def fronts_are_backs(panels: Sequence[Panel], full: bool) -> bool:
    """Whether panels fit only if the front edge of each is its back edge.

    So it is where pieces were moved about without being mirrored: their places on the sheet do not
    say then where their fronts are. Seams tell it, or else the straight edges at both ends.
    """
    if len(panels) < 2:
        return False
    sides = [SIDES[::-1] if full and k < len(panels) // 2 else SIDES for k in range(len(panels))]
    outer, inner = (
        [panels[0].is_straight(sides[0][k]), panels[-1].is_straight(sides[-1][1 - k])]
        for k in (0, 1)
    )
    if all(outer) and not any(inner):
        return False
    lengths = _side_lengths(panels)
    if full:
        lengths[: len(panels) // 2] = lengths[: len(panels) // 2, ::-1]
    one, two = lengths.swapaxes(0, 1)
    as_taken = float(np.abs(two[:-1] - one[1:]).max())
    turned = float(np.abs(one[:-1] - two[1:]).max())
    straight = all(inner) and not any(outer)
    if _are_scattered(panels) and max(as_taken, turned) <= _WALKS_MM:
        # Their places say nothing then: of two centre edges one at least is straight as a rule.
        return sum(inner) > sum(outer)
    if turned <= _WALKS_MM < as_taken:
        # By little one seam may be drawn wrong, where all edges are about as long.
        return straight or as_taken > _MISSES_MM
    return straight and max(as_taken, turned) <= _WALKS_MM


def _are_scattered(panels: Sequence[Panel]) -> bool:
    """Whether panels stand in directions that differ, so that none lies to the right of another."""
    ups = np.array([panel.frame.up for panel in panels])
    return float((ups @ ups.T).min()) < _ALIKE


def _walks(fits: npt.NDArray[np.bool_]) -> list[tuple[int, ...]]:
    """Orders of all panels, two at most, in which each back edge fits the next front edge."""
    follows = [np.flatnonzero(row).tolist() for row in fits]

    @cache
    def rest(last: int, left: frozenset[int]) -> tuple[tuple[int, ...], ...]:
        """What may follow a panel, of those left: asked once, or alike panels never end."""
        if not left:
            return ((),)
        found = ((k, *more) for k in follows[last] if k in left for more in rest(k, left - {k}))
        return tuple(itertools.islice(found, 2))

    everyone = frozenset(range(len(fits)))
    orders = ((k, *more) for k in everyone for more in rest(k, everyone - {k}))
    return list(itertools.islice(orders, 2))
