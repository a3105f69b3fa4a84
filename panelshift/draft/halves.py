"""Whether one half of a pattern is drawn, or both: all evidence, weighed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from ..errors import PatternError
from ..outline import FloatArray
from ..pattern.drawing import spaced
from .draft import Draft, UprightPanel
from .names import described
from .panel_words import at_centre, body_side, cut_counts, panel_number, says_fold

WEIGHTS: Final[dict[str, int]] = {
    "drafted waist": 6,
    "sides": 4,
    "one side": 3,
    "centre names": 4,
    "one centre name": 2,
    "numbering": 3,
    "cut two": 4,
    "cut one": 2,
    "fold": 4,
    "mirror": 2,
    "plain mirror": 4,
    "girth": 2,
    "count": 1,
}
"""What each kind of evidence weighs: 6 is measured, 4 is said, 2 is likely, 1 is a hint."""

PLAIN: Final = 2
"""Evidence that outweighs the other side by so much settles it; less is weak."""

CONTRADICTED: Final = 3
"""From this weight on both sides, nothing but a waist that was measured settles it."""

LEAST_GIRTH_MM: Final = 400.0
MOST_GIRTH_MM: Final = 1600.0
"""Waists of adults lie between; common practice, no source."""

POSSIBLE_GIRTHS_MM: Final = (50.0, 10_000.0)
"""A waist beyond is in other units; common practice, no source."""

_MOST_IN_A_HALF: Final = 8
"""Panels of one half from six to eight a side at most; common practice, no source."""

_SAME_WAIST: Final = 0.01
_MIRROR_MM: Final = 1.0
_OF_ITSELF_MM: Final = 0.5
_BULGES_MM: Final = 2.0
_HEIGHTS: Final = 41

Drawn = Literal["half", "full"]


@dataclass(frozen=True)
class Evidence:
    """One reason to take a drawing for a half pattern or for a full one."""

    drawn: Drawn
    kind: str
    words: str

    @property
    def weight(self) -> int:
        """What it weighs."""
        return WEIGHTS[self.kind]


def are_both_drawn(draft: Draft, placed: Sequence[UprightPanel]) -> bool:
    """Whether the panels go right round the body, rather than from front to back.

    Raises `PatternError` if the evidence contradicts itself or is balanced, if both halves are
    drawn one after the other and nothing tells their sides, or if a panel of both halves lies among
    those of one.
    """
    shapes = _Shapes(placed)
    if draft.reading.halves != "auto":
        full = draft.reading.halves == "full"
    else:
        if shapes.copied:
            raise PatternError(
                "the second half of the panels is the first one drawn again, not its mirror "
                f"image, from {described(placed[len(placed) // 2].found.shapes[0])} on: one half "
                "drawn twice, as for two fabrics",
                remedy="Keep one of each panel: delete the others, or name them as leave_out or "
                "their layer as leave_layers in the job file. If both are to be read, set halves.",
                element=placed[len(placed) // 2].found.ident,
            )
        full = _weighed(draft, list(_evidence(draft, placed, shapes)))
        sided = {body_side(_names(panel)) for panel in placed} >= {"left", "right"}
        if full and shapes.repeats and not (shapes.mirrored or sided or draft.reading.order):
            raise PatternError(
                "both halves are drawn, one after the other, and nothing says which is the left "
                "one",
                remedy="Put left or right, or L or R, into the panels' names; or give "
                'pattern.order right round the body, and halves = "full".',
                element="pattern.halves",
            )
        if full and not (shapes.mirrored or shapes.repeats or sided) and _in_rows(placed):
            raise PatternError(
                "the panels stand in rows of which none is the mirror image of another: two "
                "versions or two garments, perhaps",
                remedy="Keep one: name the panels of the other as leave_out, or their layer as "
                'leave_layers, in the job file. If both rows are one garment, set halves = "full".',
                element="pattern.halves",
                key="halves",
            )
    if full:
        _refuse_uneven(placed)
    else:
        _refuse_whole_front(draft, placed, shapes)
    return full


def _refuse_uneven(placed: Sequence[UprightPanel]) -> None:
    """Refuse sides of which one has more panels: the centre front would be taken to lie elsewhere.

    It is the middle seam, or lies across the middle panel.
    """
    of = Counter(body_side(_names(panel)) for panel in placed)
    if of["left"] and of["right"] and of["left"] != of["right"]:
        raise PatternError(
            f"both halves are drawn, but {of['left']} panels are named left and {of['right']} "
            "right: where the centre front lies could not be told",
            remedy="Draw as many panels on both sides: cut one of the side that has fewer in two, "
            "and name its parts in cut_in_one of each layer that has them in one piece. "
            "Or correct the names; a panel that lies across the centre front has no side.",
            element="pattern.halves",
        )


def _in_rows(placed: Sequence[UprightPanel]) -> bool:
    """Whether panels stand above each other on the sheet."""
    heights = [float(panel.centre @ placed[0].up) for panel in placed]
    tall = min(float(np.ptp(p.found.outline.flatten() @ placed[0].up)) for p in placed)
    return max(heights) - min(heights) > 0.5 * tall


def _weighed(draft: Draft, found: Sequence[Evidence]) -> bool:
    """Which side outweighs the other; it is noted, and doubts are warned of."""
    weight = Counter[str]()
    for evidence in found:
        weight[evidence.drawn] += evidence.weight
    full = weight["full"] > weight["half"]
    more, less = max(weight["full"], weight["half"]), min(weight["full"], weight["half"])
    why = {
        drawn: "; ".join(e.words for e in found if e.drawn == drawn) for drawn in ("half", "full")
    }
    measured = any(evidence.kind == "drafted waist" for evidence in found)
    if less and (more - less < PLAIN or (less >= CONTRADICTED and not measured)):
        raise PatternError(
            "it is not plain whether one half of the pattern is drawn or both. For one half: "
            f"{why['half']}. For both: {why['full']}",
            remedy='Set halves = "half" or halves = "full" in the job file: the whole waist is '
            "twice what is drawn, or just that.",
            element="pattern.halves",
            key="halves",
        )
    if full and {e.kind for e in found if e.drawn == "full"} == {"drafted waist"} and less:
        # Half a waist that was stated for a whole one says the same as a doll's: which, is asked.
        raise PatternError(
            f"drafted_waist counts both halves, and is what all that is drawn measures, but "
            f"{why['half']}",
            remedy="If one half is drawn, give twice as much as drafted_waist. If both are, set "
            'halves = "full" in the job file.',
            element="pattern.halves",
            key="halves",
        )
    drawn: Drawn = "full" if full else "half"
    said = "both halves are drawn" if full else "one half is drawn"
    if less:
        other = why["half" if full else "full"]
        draft.ledger.warn(
            "halves-doubted", f"{said}: {why[drawn]}; though {other} (halves says otherwise)"
        )
    elif more < PLAIN:
        reason = why[drawn] or "nothing says otherwise"
        draft.ledger.warn(
            "halves-weak",
            f"{said} as far as can be told: {reason}; state halves in the job file",
        )
    else:
        draft.ledger.note("halves", f"{said}: {why[drawn]}")
    return full


def _evidence(draft: Draft, placed: Sequence[UprightPanel], shapes: _Shapes) -> Iterator[Evidence]:
    """All that speaks for one half or for both."""
    yield from _of_names(placed)
    yield from _of_words(draft, placed)
    drawn = sum(shapes.widths)
    waist = draft.reading.drafted_waist
    if waist is not None:
        for side, whole in (("half", 2.0 * drawn), ("full", drawn)):
            if abs(whole / waist - 1.0) <= _SAME_WAIST:
                yield Evidence(
                    "half" if side == "half" else "full",
                    "drafted waist",
                    "the waist is then the drafted one",
                )
    if drawn < LEAST_GIRTH_MM:
        yield Evidence("half", "girth", f"{drawn:.0f} mm is no whole waist")
    # Where the file states no unit, too large a waist speaks against the one that was taken.
    if 2.0 * drawn > MOST_GIRTH_MM and not draft.drawing.unit_taken:
        yield Evidence("full", "girth", f"{2.0 * drawn:.0f} mm is no waist")
    # Where every panel is its own mirror image, a mirrored half is no more than a copy.
    if len(placed) >= 4 and not all(shapes.of_itself):
        # Panels that are all alike, but for their edges at the centre, mirror each other anyhow.
        kind = "plain mirror" if shapes.unlike else "mirror"
        if shapes.mirrored:
            yield Evidence("full", kind, "the second half of the panels mirrors the first")
        elif shapes.repeats:
            words = "the second half of the panels repeats the first, mirrored"
            yield Evidence("full", kind, words)
    if len(placed) > _MOST_IN_A_HALF:
        yield Evidence("full", "count", f"{len(placed)} panels are many for one half")


def _of_names(placed: Sequence[UprightPanel]) -> Iterator[Evidence]:
    """What the names of panels say."""
    sides = Counter(body_side(_names(panel)) for panel in placed)
    if sides["left"] and sides["right"]:
        yield Evidence("full", "sides", "panels are named left and right")
    elif len(placed) > 1 and sides[None] == 0:
        yield Evidence("half", "one side", f"all panels are named {next(iter(sides))}")
    numbers = Counter(panel_number(panel.name) for panel in placed)
    again = [number for number, count in numbers.items() if number is not None and count == 2]
    if len(placed) > 3 and 2 * len(again) >= len(placed) - 1:
        yield Evidence("full", "numbering", "each number is given twice")
    ends = [at_centre(_names(panel)) for panel in placed]
    if not any(ends):
        ends = [at_centre(_names(panel), plain=True) for panel in placed]
    front, back = ends.count("front"), ends.count("back")
    last = len(placed) - 1
    if front > 1 or back > 1:
        end = "front" if front > 1 else "back"
        yield Evidence("full", "centre names", f"two panels lie at the centre {end}")
    elif front and back and {ends.index("front"), ends.index("back")} == {0, last}:
        yield Evidence("half", "centre names", "names run from centre front to centre back")
    elif front and 0 < ends.index("front") < last and 2 * ends.index("front") == last:
        yield Evidence("full", "centre names", "the centre front lies in the middle")
    elif front + back == 1 and ends[0] != ends[-1] and len(placed) > 1:
        end = "front" if front else "back"
        yield Evidence("half", "one centre name", f"one panel at an end is the centre {end}")


def _of_words(draft: Draft, placed: Sequence[UprightPanel]) -> Iterator[Evidence]:
    """What is written on the panels: how often each is cut, and whether on a fold."""
    cuts: Counter[str] = Counter()
    fold = False
    for panel in placed:
        low, high = panel.found.outline.hull_box
        inside = [
            text.content
            for text in draft.drawing.texts
            if (text.anchor >= low).all() and (text.anchor <= high).all()
        ]
        words = " / ".join(spaced(name) for name in (*panel.found.shapes[0].names, *inside))
        fold = fold or says_fold(words)
        if counts := cut_counts(words):
            cuts["one" if counts[0] == 1 else "two"] += 1
    if fold:
        yield Evidence("half", "fold", "a panel is cut on the fold")
    if 2 * cuts["two"] >= len(placed):
        yield Evidence("half", "cut two", "panels are to be cut twice")
    elif cuts["one"] == len(placed):
        yield Evidence("full", "cut one", "each panel is to be cut once")


def _names(panel: UprightPanel) -> tuple[str, ...]:
    return (panel.name, *panel.found.shapes[0].groups)


class _Shapes:
    """Outlines of panels as they stand upright, to be laid on each other's mirror images."""

    def __init__(self, placed: Sequence[UprightPanel]) -> None:
        count = len(placed)
        self._edges = [_edges(panel) for panel in placed]
        self.widths = [
            float(np.hypot(*(p.found.waist.points[1] - p.found.waist.points[0]))) for p in placed
        ]
        self.of_itself = [self._mirrors(k, k, _OF_ITSELF_MM) for k in range(count)]
        half = count // 2
        self.mirrored = all(self._mirrors(k, count - 1 - k) for k in range(half + count % 2))
        self.repeats = count % 2 == 0 and all(self._mirrors(k, k + half) for k in range(half))

        same = [self._same(k, k + half) for k in range(half)]
        of_half = [(j, k) for k in range(half) for j in range(k)]
        self.unlike = half > 1 and not any(self._same(*p) or self._mirrors(*p) for p in of_half)
        self.copied = count % 2 == 0 and self.unlike and all(same) and not self.repeats

    def _same(self, one: int, two: int) -> bool:
        pairs = zip(self._edges[one], self._edges[two], strict=True)
        return all(float(np.abs(a - b).max()) <= _MIRROR_MM for a, b in pairs)

    def _mirrors(self, one: int, two: int, within: float = _MIRROR_MM) -> bool:
        first, second = self._edges[one], self._edges[two]
        heights = np.abs(first[2] - second[2]).max()
        return bool(
            heights <= within
            and np.abs(first[0] + second[1]).max() <= within
            and np.abs(first[1] + second[0]).max() <= within
        )

    def bulges(self, k: int) -> bool:
        """Whether both sides of a panel reach out beyond its waist."""
        left, right, _ = self._edges[k]
        half = 0.5 * self.widths[k]
        return bool(-left.min() > half + _BULGES_MM and right.max() > half + _BULGES_MM)


def _edges(panel: UprightPanel) -> tuple[FloatArray, FloatArray, FloatArray]:
    """How far a panel reaches to the left and to the right at even steps of its height.

    The third entry holds the heights of its bottom and its top above the waist.
    """
    points = panel.found.outline.flatten() - panel.centre
    u, v = points @ panel.right, points @ panel.up
    low, high = float(v.min()), float(v.max())
    # A hair inside both ends, where an edge that runs along one has no one place.
    heights = low + (high - low) * np.linspace(0.02, 0.98, _HEIGHTS)
    rise, at = np.diff(v), heights[:, None]
    met = (np.minimum(v[:-1], v[1:]) <= at) & (np.maximum(v[:-1], v[1:]) >= at) & (rise != 0.0)
    share = (at - v[:-1]) / np.where(rise != 0.0, rise, 1.0)
    cut = u[:-1] + share * np.diff(u)
    left = np.where(met, cut, np.inf).min(axis=1)
    right = np.where(met, cut, -np.inf).max(axis=1)
    return left, right, np.array([low, high])


def _refuse_whole_front(draft: Draft, placed: Sequence[UprightPanel], shapes: _Shapes) -> None:
    """A panel across the centre front, drawn whole beside halves, would be counted twice."""
    if all(shapes.of_itself):
        return
    for k, panel in enumerate(placed):
        named = at_centre(_names(panel)) == "front"
        if not shapes.of_itself[k] or not shapes.bulges(k):
            continue
        if not named and k == 0:
            draft.ledger.warn(
                "whole-front",
                f"panel {panel.name} is its own mirror image and lies at the centre front: if it "
                "is drawn whole, it is counted twice",
                panel.found.ident,
            )
        if named:
            raise PatternError(
                f"panel {panel.name} is its own mirror image, so that it seems to lie across the "
                "centre front and to be drawn whole, while the others are drawn for one half: "
                f"its {shapes.widths[k]:.0f} mm of waist would be counted twice",
                remedy="Cut it along the centre front line and keep the half that lies beside "
                "the other panels; or draw both halves of all panels.",
                element=panel.found.ident,
            )
