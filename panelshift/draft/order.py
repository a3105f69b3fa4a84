"""Which panel follows which, what each is called, where its top and the front are."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..errors import PatternError, few
from ..files.one_line import collapsed
from ..pattern.drawing import Shape
from ..pattern.panel import Frame
from .draft import Draft, FoundPanel, UprightPanel
from .halves import are_both_drawn
from .names import given_name, place
from .panel_words import at_centre, body_rank, body_side, centre_of, panel_number, series_of
from .tops import up_vectors
from .written_names import end_against, named_by_words, numbers_against, numbers_unlike_names


@dataclass(frozen=True, eq=False)
class NamedPanel:
    """A found panel with its name and its axes."""

    name: str
    found: FoundPanel
    frame: Frame

    def turned(self) -> NamedPanel:
        """The panel with its front where its back was taken to be."""
        return replace(self, frame=replace(self.frame, across=-self.frame.across))


def order(draft: Draft) -> tuple[tuple[NamedPanel, ...], bool]:
    """Name the panels and put them in order from centre front to centre back.

    A full pattern is ordered right round the body instead, from one edge of the lacing gap
    to the other.

    Raises `PatternError` if two panels have one name, or the order given does not list every panel
    once.
    """
    upright = [
        UprightPanel(found, up, found.waist.points.mean(axis=0), name)
        for found, up, name in zip(
            draft.panels, up_vectors(draft), _names(draft.panels), strict=True
        )
    ]
    placed = named_by_words(draft, by_position(upright))
    if draft.reading.order:
        placed = _by_given_order(placed, draft.reading.order)
        forward = runs_right(placed)
        how = None
    else:
        placed, forward, how = _by_names(placed)
    placed = [p if p.name else replace(p, name=str(k + 1)) for k, p in enumerate(placed)]
    _refuse_twins(placed)
    full = are_both_drawn(draft, placed)
    if full and how and (turned := _front_in_the_middle(placed)) is not placed:
        placed, forward = turned, runs_right(turned)
    if how:
        # A full pattern has its centre front in the middle, whatever the order went by.
        draft.ledger.note(*(_ROUND_THE_BODY if full else how))
        if not full and not forward and how[0] == "order" and not _is_told(placed):
            names = few(panel.name for panel in placed)
            draft.ledger.warn(
                "order-doubted",
                f"panels are taken in the order {names}, from centre front to centre back, which "
                "on the sheet is from right to left, and no word says where the centre front is: "
                "if they count from the centre back, say the order in the job file, [pattern] "
                "order = [...]",
            )
    _doubt(draft, placed, full)
    _doubt_by_words(draft, placed, full, by_place=how is not None and how[0] == "order-taken")
    frames = [
        NamedPanel(u.name, u.found, frame_of(u, _across_sign(k, len(placed), full, forward)))
        for k, u in enumerate(placed)
    ]
    return tuple(frames), full


def _names(panels: tuple[FoundPanel, ...]) -> list[str]:
    """Name each panel from data-panel, its own names, or what holds only it.

    A label may stand on an outline or on each of its pieces. The label of a path that draws
    several panels names none of them, nor does a class or a group that several have.
    """
    drawn, holders = Counter[str](), Counter[str]()
    for found in panels:
        shape = found.shapes[0]
        drawn[shape.element] += 1
        holders.update({*shape.groups, *shape.classes})
    names = []
    for found in panels:
        shape = found.shapes[0]
        name = shape.data.get("panel", "").strip()
        if not name and (not shape.element or drawn[shape.element] == 1):
            name = _common_name(found.shapes) or given_name(
                name for companion in found.companions for name in companion.names
            )
        if not name:
            own = [held for held in (*shape.classes, *reversed(shape.groups)) if holders[held] == 1]
            name = given_name(own)
        names.append(collapsed(name))
    return names


def _common_name(shapes: tuple[Shape, ...]) -> str:
    """Return the name that a person gave to all pieces of an outline alike, or empty."""
    shared = set(shapes[0].names).intersection(*(shape.names for shape in shapes[1:]))
    return given_name(name for name in shapes[0].names if name in shared)


def _quoted(name: str) -> str:
    """A name as a job file has it, cut short: an empty one shows as well."""
    return f'"{name:.40}"'


def _by_given_order(placed: list[UprightPanel], order: tuple[str, ...]) -> list[UprightPanel]:
    by_name: dict[str, UprightPanel] = {}
    for position, panel in enumerate(placed):
        by_name.setdefault(panel.found.ident, panel)
        by_name.setdefault(panel.name or str(position + 1), panel)
    order = tuple(name if name in by_name else collapsed(name) for name in order)
    unknown = [name for name in order if name not in by_name]
    chosen = [by_name[name] for name in order if name in by_name]
    missing = [p.name or p.found.ident for p in placed if all(p is not c for c in chosen)]
    twice = len({id(panel) for panel in chosen}) < len(chosen)
    if unknown or missing or twice:
        known = few(panel.name or panel.found.ident for panel in placed)
        faults = [f"no such panel: {few(map(_quoted, unknown))}"] if unknown else []
        faults += [f"not in the order: {few(missing)}"] if missing else []
        faults += ["a panel is named twice"] if twice else []
        raise PatternError(
            f"the order of panels does not fit the drawing ({'; '.join(faults)})",
            remedy="List every panel once, from centre front to centre back, by its name or id: "
            f"{known}.",
            element="pattern.order",
        )
    return chosen


_ROUND_THE_BODY: Final = (
    "order",
    "panels ordered right round the body, from centre back to centre back",
)
_LEFT_TO_RIGHT: Final = (
    "order-taken",
    "panels ordered left to right: centre front is taken to be on the left (name the panels or "
    "give pattern.order in the job file to change it)",
)


def _by_names(
    placed: list[UprightPanel],
) -> tuple[list[UprightPanel], bool, tuple[str, str]]:
    """Use numbers in names, then centre front and back; else left to right."""
    halves = _by_sides(placed)
    if halves:
        return halves, runs_right(halves), _ROUND_THE_BODY
    series = series_of(panel.name for panel in placed)
    if series is not None:
        ordered = [placed[k] for k in np.argsort(np.array(series, dtype=np.int64))]
        first = ordered[0].name
        what, least = (
            ("numbers", str(min(series))) if re.search(r"\d", first) else ("letters", first)
        )
        end = "front"
        if _falls(ordered):
            ordered.reverse()
            end = "back"
        how = f"panels ordered by the {what} in their names, {least} at centre {end}"
        return ordered, runs_right(ordered), ("order", how)
    ranks = [body_rank(panel.name) for panel in placed]
    told = [rank for rank in ranks if rank is not None]
    if len(placed) > 2 and len(set(told)) == len(placed):
        ordered = [placed[k] for k in np.argsort(np.array(told, dtype=np.int64))]
        how = (
            "panels ordered by their names, from the centre front over the side to the centre back"
        )
        return ordered, runs_right(ordered), ("order", how)
    falls = _falls(placed)
    if len(placed) > 1 and (
        falls or _centre(placed[0]) == "front" or _centre(placed[-1]) == "back"
    ):
        where, way = ("right", "right to left") if falls else ("left", "left to right")
        how = f"panels ordered {way}: their names put centre front on the {where}"
        return placed[::-1] if falls else placed, not falls, ("order-taken", how)
    return placed, True, _LEFT_TO_RIGHT


def _doubt(draft: Draft, placed: list[UprightPanel], full: bool) -> None:
    """Say where words in names contradict the order that was taken, in either half."""
    middle = len(placed) // 2
    for half in (placed[:middle][::-1], placed[middle:]) if full else (placed,):
        known = [(rank, p) for p in half if (rank := body_rank(p.name)) is not None]
        for (rank, panel), (after, beside) in itertools.pairwise(known):
            if rank > after:
                words = (
                    f"panels are taken in the order {few(p.name for p in half)} from centre front "
                    f"to centre back, but {beside.name!r} is called nearer to the front than "
                    f"{panel.name!r}"
                )
                if draft.reading.order:
                    own = f"{words}: see whether the order that you gave begins at the centre front"
                    draft.ledger.warn("order-doubted", own, panel.found.ident)
                    return
                draft.ledger.fault(
                    "order-doubted",
                    words,
                    panel.found.ident,
                    remedy="Say the order in the job file, [pattern] order = [...], or put "
                    "numbers into the panels' names (labels), 1 at the centre front",
                )
                return


def _doubt_by_words(
    draft: Draft, placed: list[UprightPanel], full: bool, *, by_place: bool
) -> None:
    """Say where words on the drawing put the centre front or back elsewhere than the order does.

    Numbers on some panels say it as well, where they name none since one has no number.
    """
    names = few(p.name for p in placed)
    idents = []
    if found := end_against(draft, placed, full, by_place=by_place):
        text, end = found
        words = f"the words {text.content!r:.60} put the centre {end} elsewhere"
        idents = [text.ident]
    elif (
        by_place
        and not full
        and (numbers := numbers_against(draft, placed) or _falling_numbers(placed))
    ):
        words = f"the numbers on them are {few(numbers)}"
    else:
        if not full and not draft.reading.order and (n := numbers_unlike_names(draft, placed)):
            draft.ledger.warn(
                "order-doubted",
                f"panels are called {names} in the file, and go by that, but the numbers written "
                f"on them are {few(n)}: see which is right, and say the order in the job file, "
                "[pattern] order = [...]",
            )
        return
    words = f"panels are taken in the order {names}, but {words}"
    if draft.reading.order:
        draft.ledger.warn("order-doubted", words, *idents)
        return
    order = ", ".join(f'"{panel.name}"' for panel in placed[::-1])
    draft.ledger.fault(
        "order-doubted",
        words,
        *idents,
        remedy=f"Say the order in the job file, from the centre front: [pattern] order = [{order}] "
        "if it is the other way round. Or put numbers into the panels' names, 1 at the centre "
        "front",
    )


def _falling_numbers(placed: list[UprightPanel]) -> list[str]:
    """Numbers in names, if they count down from one panel to the next and no word says why."""
    numbers = [n for panel in placed if (n := panel_number(panel.name)) is not None]
    if len(numbers) < max(2, len(placed)) or _centre(placed[0]) or _centre(placed[-1]):
        return []
    down = all(one - two == 1 for one, two in itertools.pairwise(numbers))
    return [str(number) for number in numbers] if down else []


def _by_sides(placed: list[UprightPanel]) -> list[UprightPanel]:
    """Both halves in order, if each panel has a side of the body and a number on it.

    The halves need not lie side by side: two half patterns below each other will do.
    """
    sides: dict[str, dict[int, UprightPanel]] = {"left": {}, "right": {}}
    for panel in placed:
        side = body_side((panel.name, *panel.found.shapes[0].groups))
        number = panel_number(panel.name)
        if side is None or number is None or number in sides[side]:
            return []
        sides[side][number] = panel
    if not all(half and series_of(map(str, half)) for half in sides.values()):
        return []
    first = body_side((placed[0].name, *placed[0].found.shapes[0].groups))
    halves = [[half[k] for k in sorted(half)] for half in sides.values()]
    for half in halves:
        if _falls(half):
            half.reverse()
    begin, end = halves if first == "left" else halves[::-1]
    return [*begin[::-1], *end]


def _front_in_the_middle(placed: list[UprightPanel]) -> list[UprightPanel]:
    """Both halves with the centre front between them, where names say that it lies outside.

    Raises `PatternError` if one panel lies across the centre back.
    """
    middle, odd = divmod(len(placed), 2)
    ends = [at_centre((panel.name,), plain=True) for panel in placed]
    outside = {ends[0], ends[-1]} - {None} or {"front"}
    inside = {ends[middle - 1 + odd], ends[middle]} - {None} or {"back"}
    if len(placed) < 2 or outside != {"front"} or inside != {"back"} or not any(ends):
        return placed
    if odd:
        raise PatternError(
            f"panel {placed[middle].name} lies across the centre back, and the panels at both ends "
            "meet at the centre front: the opening would have to be in front",
            remedy="Draw the opening at the centre back: cut the panel there in two, and put both "
            "halves side by side with their centre fronts together.",
            element=placed[middle].found.ident,
        )
    return [*placed[:middle][::-1], *placed[middle:][::-1]]


def _is_told(placed: list[UprightPanel]) -> bool:
    """Whether a word in a name says where the panels' centre front, side or back is."""
    return any(_centre(panel) or body_rank(panel.name) is not None for panel in placed)


def _falls(panels: list[UprightPanel]) -> bool:
    """Whether names at both ends put the centre front at the last panel."""
    first, last = panels[0], panels[-1]
    ranks = body_rank(first.name), body_rank(last.name)
    if ranks[0] is not None and ranks[1] is not None and ranks[0] != ranks[1]:
        return ranks[0] > ranks[1]
    ends = _centre(first), _centre(last)
    return ends[0] != ends[1] and (ends[0] == "back" or ends[1] == "front")


def _centre(panel: UprightPanel) -> str | None:
    return centre_of((panel.name, *panel.found.shapes[0].groups))


def _refuse_twins(placed: list[UprightPanel]) -> None:
    seen: dict[str, str] = {}
    for panel in placed:
        if panel.name in seen:
            raise PatternError(
                f"two panels have the name {panel.name!r}: {seen[panel.name]} and "
                f"{panel.found.ident} ({place(panel.found.shapes[0])})",
                remedy="Give each panel its own id or label; if one is a copy or of another "
                "version, delete it, or name its layer as leave_layers in the job file.",
                element=panel.found.ident,
            )
        seen[panel.name] = panel.found.ident


def _across_sign(index: int, count: int, full: bool, forward: bool) -> float:
    """+1 if a panel's front-to-back direction is the sheet's right (panel upright)."""
    sign = 1.0 if forward else -1.0
    # In a full pattern the first half runs from the back to the front. A single middle
    # panel lies across the centre front; its first edge is called the front.
    return -sign if full and index < count // 2 else sign


def by_position(panels: list[UprightPanel]) -> list[UprightPanel]:
    """Order as one reads: rows from the top, left to right, seen with the panels upright."""
    up = np.sum([panel.up for panel in panels], axis=0)
    size = float(np.hypot(*up))
    up = up / size if size > 1e-9 else panels[0].up
    right = np.array([-up[1], up[0]])
    heights = [float(np.ptp(panel.found.outline.flatten() @ up)) for panel in panels]
    rows: list[list[UprightPanel]] = []
    for panel in sorted(panels, key=lambda p: -float(p.centre @ up)):
        # A new row begins where a waist lies more than half a panel below the row's first.
        if rows and float((rows[-1][0].centre - panel.centre) @ up) < 0.5 * min(heights):
            rows[-1].append(panel)
        else:
            rows.append([panel])
    return [p for row in rows for p in sorted(row, key=lambda p: float(p.centre @ right))]


def runs_right(placed: list[UprightPanel]) -> bool:
    """Whether an order runs to the right on the sheet, by majority of its steps.

    A step down or up a column of panels says nothing, though their middles lie askew.
    """
    steps = [(b.centre - a.centre, a) for a, b in itertools.pairwise(placed)]
    beside = [
        np.sign(right)
        for step, panel in steps
        if abs(right := float(step @ panel.right)) > abs(float(step @ panel.up))
    ]
    return bool(sum(beside) >= 0)


def frame_of(panel: UprightPanel, sign: float) -> Frame:
    """Return a panel's axes; the back lies to its right if `sign` is above zero."""
    step = panel.found.waist.points[1] - panel.found.waist.points[0]
    across = step / np.hypot(*step)
    if float(across @ panel.right) * sign < 0.0:
        across = -across
    return Frame(panel.centre, across, panel.up)
