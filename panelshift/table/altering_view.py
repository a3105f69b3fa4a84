"""What step 1 shows after a fitting: alterations as forms, and the altered draft over the old."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from ..errors import AlterationError, PanelshiftError
from ..fit.compared_tables import BOTH_ALIKE, altered_tables
from ..job.altering import AlterationTable
from ..job.model import JobFile
from ..job.values import height_said
from ..outline import Curve
from ..pattern.panel import EdgeName
from ..pattern.pattern import Pattern
from ..pattern.two_sides import SIDES_OF_BODY, sided
from ..shift.alteration import CENTRES, ENDS, Alteration, edges_at
from ..units import shown_length, unit_words
from .pattern_picture import Pointing, pattern_picture, safe
from .stages import State
from .toml_changes import key_of

Choices = tuple[tuple[str, str], ...]
"""Values of a list, each with its words."""

Edges = tuple[tuple[str, EdgeName], ...]
"""Names of panels, each with one of its edges."""

_WAYS: Final[Mapping[str, Choices]] = {
    "seam": (("let_out", "let out"), ("take_in", "taken in")),
    "edge": (("lower", "lowered"), ("raise", "raised")),
}
_HALF: Final[Choices] = (("", "both sides"), ("left", "left only"), ("right", "right only"))
_FULL: Final[Choices] = (
    ("", "this one"),
    ("both", "and the one that mirrors it"),
    ("left", "on the left"),
    ("right", "on the right"),
)


@dataclass(frozen=True)
class AlterationForm:
    """An alteration as fields.

    *place*: among the job's, empty for a new one. *kind*: seam or edge; *of*: which of *wheres*,
    each with an id by which a new one is pointed at. *said*: all of it in words. *amounts*: levels
    of the draft, or places along the edge, each with what stands in its field; *heights*: further
    ones. *more*: what stands in the fields of the other keys. *keep*: changes when the job's own
    does.
    """

    place: str
    kind: str
    of: str
    wheres: Choices
    said: str
    way: str
    ways: Choices
    amounts: Choices
    heights: Choices
    sides: Choices
    more: Mapping[str, str]
    keep: str

    @property
    def ident(self) -> str:
        """Begins the ids of its parts."""
        return f"alter-{self.place or self.kind}"


def altering_view(state: State, file: JobFile) -> dict[str, Any] | None:
    """Return a job's alterations, what they come to, and what a further one may be of.

    None while there is no draft.
    """
    draft, found = state.draft.value, state.altered.value
    if draft is None:
        return None
    units = file.pattern.units
    seams = _seams(draft)
    new = (AlterationTable.model_construct(seam=""), AlterationTable.model_construct(edge=""))
    before, after = (draft, draft) if found is None else (found.before, found.pattern)
    wheres = (*seams.items(), *((end, tuple((panel.name, end) for panel in draft)) for end in ENDS))
    options = {
        Pointing(_where(name), "", ()): tuple(_lines(before, edges)) for name, edges in wheres
    }
    svg = state.reckoner.pictures.recall(
        ("altered", state.pattern_key),
        lambda: pattern_picture(
            after,
            "the altered draft over the draft" if after is not before else "the draft",
            options=options,
            before=() if after is before else before.panels,
        ),
    )
    told = () if found is None or not file.pattern.fitting_layer else found.alterations
    return {
        "forms": [
            _form(str(place), table, draft, seams, units)
            for place, table in enumerate(file.alteration)
        ],
        "new": [_form("", table, draft, seams, units) for table in new],
        "panels": [panel.name for panel in draft],
        "layer": file.pattern.fitting_layer,
        "told": [one.said(units) for one in told],
        "unit": unit_words(units),
        "svg": safe(svg),
        "altered": after is not before,
        "tables": () if found is None else altered_tables(found, units),
        "alike": "" if before.full else BOTH_ALIKE,
        "name": f"{file.pattern.file.stem}-2",
    }


def _seams(draft: Pattern) -> dict[str, Edges]:
    """Every seam that may be altered, by its name, from the centre front on."""
    names = (CENTRES[0], *(walked.name for walked in draft.walk()), CENTRES[1])
    return {name: edges for name in names if (edges := _edges(draft, name))}


def _edges(draft: Pattern, seam: str) -> Edges:
    """The edges of a seam by its name; none if there is no such seam."""
    try:
        found = edges_at(draft, Alteration(seam, 0.0))
    except PanelshiftError:
        return ()
    return tuple((draft.panels[index].name, edge) for index, edge in found)


def _where(name: str) -> str:
    """Id of what chooses a seam or an edge."""
    return f"where-{key_of(name)}"


def _lines(pattern: Pattern, edges: Edges) -> Iterator[Curve]:
    """The lines of edges, on both sides where a draft of one half was drawn out to both."""
    for name, edge in edges:
        called = {name, *(sided(side, name) for side in SIDES_OF_BODY)}
        yield from (panel.edge(edge) for panel in pattern if panel.name in called)


def _form(
    place: str,
    table: AlterationTable,
    draft: Pattern,
    seams: Mapping[str, Edges],
    units: str,
) -> AlterationForm:
    kind = "seam" if table.edge is None else "edge"
    ways = _WAYS[kind]
    given = {way: getattr(table, "raise_" if way == "raise" else way) for way, _ in ways}
    way, amount = next((item for item in given.items() if item[1] is not None), (ways[0][0], None))
    whole, by_place = (None, amount) if isinstance(amount, dict) else (amount, {})
    by_seam = {edges: name for name, edges in seams.items()}
    called = (lambda name: by_seam.get(_edges(draft, name), name)) if kind == "edge" else str
    shown = {called(name): shown_length(mm, units) for name, mm in by_place.items()}
    known = draft.level_names() if kind == "seam" else tuple(dict.fromkeys((*seams, *shown)))
    heights = tuple((name, text) for name, text in shown.items() if name not in known)
    more = {
        "whole": shown_length(whole, units),
        "from": height_said(table.from_) or "",
        "to": height_said(table.to) or "",
        "run_out": shown_length(table.run_out, units),
        "on": table.on,
        "side": table.side or "",
        "note": table.note,
    }
    said = _said(table, units) if place else ""
    wheres = tuple(seams) if kind == "seam" else ENDS
    of = (table.seam if kind == "seam" else table.edge) or ""
    return AlterationForm(
        place=place,
        kind=kind,
        of=by_seam.get(_edges(draft, of), of) if kind == "seam" else of,
        wheres=tuple((name, "" if place else _where(name)) for name in wheres),
        said=said,
        way=way,
        ways=ways,
        amounts=tuple((name, shown.get(name, "")) for name in known),
        heights=(*heights, ("", "")) if kind == "seam" else (),
        sides=_FULL if draft.full else _HALF,
        more=more,
        keep=key_of(repr((place, said, of, more, shown, tuple(seams), known, units))),
    )


def _said(table: AlterationTable, units: str) -> str:
    """An alteration in words, or what is wrong with it as it stands in the job file."""
    try:
        return table.alteration().said(units)
    except AlterationError as error:
        return f"{error.element}: {error.problem}"
