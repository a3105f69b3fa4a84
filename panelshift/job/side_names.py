"""Names of panels in a job without their side: they mean the panels of both sides."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..errors import JobError
from ..pattern.pattern import Pattern
from ..pattern.two_sides import SIDES_OF_BODY, sided
from .model import JobFile, PanelTable


def with_sides(job: JobFile, pattern: Pattern, *, source: str = "") -> JobFile:
    """The job with every panel called as a full pattern calls it.

    A name that no panel has is that of the panels with "left" and "right" before it, if there are
    such; what is said of one of them goes before what is said of both.

    Raises `JobError` if panels of both sides are to be cut as one, or not to be parted evenly.
    """
    names = {panel.name for panel in pattern}

    def both(name: str) -> tuple[str, ...]:
        found = tuple(sided(side, name) for side in SIDES_OF_BODY)
        return found if name not in names and names.issuperset(found) else (name,)

    def all_of(given: Sequence[str]) -> tuple[str, ...]:
        return tuple(own for name in given for own in both(name))

    if not pattern.full:
        return job
    panel: dict[str, PanelTable] = {}
    for name, table in job.panel.items():
        for own in both(name):
            if own == name:
                panel.setdefault(own, table)
                continue
            half, said = _of_one_side(name, table, source), job.panel.get(own)
            more = {} if said is None else {k: getattr(said, k) for k in said.model_fields_set}
            panel[own] = half.model_copy(update=more)
    fabrics = []
    for fabric in job.stack.fabric:
        pieces: list[tuple[str, ...]] = []
        for group in fabric.cut_in_one:
            parts = [both(name) for name in group]
            if all(len(part) == 2 for part in parts):
                pieces += [tuple(part[side] for part in parts) for side in (0, 1)]
            else:
                pieces.append(all_of(group))
        update: dict[str, Any] = {"cut_in_one": tuple(pieces)}
        if fabric.panels is not None:
            update["panels"] = all_of(fabric.panels)
        fabrics.append(fabric.model_copy(update=update))
    stack = job.stack.model_copy(update={"fabric": tuple(fabrics)})
    construction = job.construction
    if construction is not None:
        bones = []
        for kind in construction.bones:
            given = getattr(kind, "per_panel", None) or {}
            counts = {own: count for name, count in given.items() for own in both(name)}
            bones.append(kind.model_copy(update={"per_panel": counts} if given else {}))
        construction = construction.model_copy(update={"bones": tuple(bones)})
    update = {"panel": panel, "stack": stack, "construction": construction}
    return job.model_copy(update=update)


def _of_one_side(name: str, table: PanelTable, source: str) -> PanelTable:
    """What is said of a panel of both sides, for one of them."""
    if table.fold is not None:
        raise JobError(
            f"panel {name!r} lies on the fold, so that both sides are cut as one piece, but the "
            "two sides are cut apart",
            remedy="Take fold out of its table: left and right are then pieces of their own, with "
            "a seam between them.",
            source=source,
            element=f"panel.{name}",
        )
    if table.cut is None:
        return table.model_copy(update={"mirrored": None})
    count, odd = divmod(table.cut, 2)
    if odd or table.mirrored is False:
        raise JobError(
            f"panel {name!r} is cut {table.cut} times, not half of them for each side",
            remedy=f'Say it of each side: [panel."left {name}"] and [panel."right {name}"].',
            source=source,
            element=f"panel.{name}",
        )
    return table.model_copy(update={"cut": count, "mirrored": False})
