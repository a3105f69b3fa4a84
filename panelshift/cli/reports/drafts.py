"""What was read from a draft, what must be mended before cutting, and what is to be chosen."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from ...draft.names import looks
from ...fit.compared_tables import BOTH_ALIKE, altered_tables
from ...job.choices import OpenChoice, Survey
from ...job.new_draft import NewDraft
from ...job.said import Check
from ...outline.measure import length
from ...pattern.drawing import Drawing
from ...pattern.panel import EDGE_NAMES
from ...units import show, summand, unit_words
from ..answering import STANDARD, SaidThing
from . import listing, paragraphs, table

if TYPE_CHECKING:
    from ...sources.paper.photos import PaperSeen
    from ...sources.paper.tracing import Tracing


_MOST_KINDS: Final = 30
_MOST_UNREAD: Final = 10
"""So many are listed of a page; of more, how many they are."""


def check_text(check: Check) -> str:
    """Findings as text for people."""
    pattern, units = check.pattern, check.units

    panel_rows = [
        [
            panel.name,
            cls + ("*" if panel.name in check.inferred else ""),
            summand(panel.waist_width, units),
            *(summand(length(panel.edge(edge)), units) for edge in EDGE_NAMES),
            ", ".join(level.name for level in panel.levels) or "none",
            str(len(panel.marks)),
        ]
        for panel, cls in zip(pattern.panels, check.classes, strict=True)
    ]
    heads = ["panel", "class", "waist", *EDGE_NAMES, "level lines", "marks"]
    seam_rows = [
        [
            walked.name,
            *(summand(x, units) for x in (walked.first, walked.second, walked.difference)),
        ]
        for walked in pattern.walk()
    ]
    return paragraphs(
        f"{pattern.source}: {pattern.headline(units)}; lengths in {unit_words(units)}",
        table(heads, panel_rows),
        "* class inferred from the panel's place; set it in the job file" if check.inferred else "",
        _waist_text(check),
        table(["seam", "first edge", "second edge", "difference"], seam_rows) if seam_rows else "",
        listing("How it was read", pattern.notes),
        listing("Left out", [f"{item.ident}: {item.reason}" for item in pattern.left_out]),
        listing("Look at", [found.words for found in check.warnings]),
        listing("Must be mended", [found.words for found in check.faults])
        or "Nothing that must be mended.",
    )


def _waist_text(check: Check) -> str:
    whole = check.pattern.waist
    words = f"waist: half {show(0.5 * whole, check.units)}, whole {show(whole, check.units)}"
    if check.gap:
        words += f", with the lacing gap {show(whole + check.gap, check.units)}"
    if check.drafted_waist is not None:
        words += f"; drafted to {show(check.drafted_waist, check.units)}"
        words += f" ({show(whole - check.drafted_waist, check.units, signed=True)})"
    return words


def traced_text(seen: PaperSeen, tracing: Tracing, out: Path, picture: Path) -> str:
    """What came of photos of a paper, for people."""
    panels = len(tracing.panels)
    return paragraphs(
        f"wrote {out}: {panels} panel{'s' * (panels != 1)}\nwrote {picture}: look at it before you "
        "use the drawing",
        listing("How true it is", seen.trusted),
        listing("Look at", [spot.words for spot in tracing.spots]),
    )


def untraced_text(tracing: Tracing, picture: Path) -> str:
    """What has to be mended on a paper before its drawing can be used, for people."""
    told = [spot.words for spot in tracing.spots if not spot.remedy]
    return paragraphs(
        f"wrote {picture}: a red circle or question mark stands at what must be mended",
        listing("Must be mended", [f"{spot.words}: {spot.remedy}" for spot in tracing.faults]),
        listing("Look at", told),
    )


def new_text(found: Survey, job: Path, look: Sequence[SaidThing], mend: Sequence[SaidThing]) -> str:
    """What `panelshift new` has to say about the job file that it wrote."""
    # Written to the standard stream, it is in whatever file the maker has sent it to.
    shown = "the job file" if job == STANDARD else str(job)
    ready = "save it as a file, and run: panelshift check JOB" if job == STANDARD else ""
    pattern = found.pattern
    if pattern is None:
        head = f"{shown}: written, but the drawing cannot be read yet."
    else:
        drawn = "both halves" if pattern.full else "one half"
        head = (
            f"{shown}: {len(pattern.panels)} panels found, {drawn} drawn, "
            f"whole waist {show(pattern.waist)}."
        )
    steps = (
        "Measure your fabrics, fill in their thickness, say in [body] for whom it is (of), then "
        f"{ready or f'run: panelshift check {job}'}"
    )
    if found.choices:
        keys = ", ".join(choice.key for choice in found.choices)
        steps = f"Open {shown}, take away the # before one line of each choice ({keys}). {steps}"
    return paragraphs(
        head,
        *map(_choice_text, found.choices),
        listing("Look at", [said.words for said in look]),
        listing("Must be mended", [said.words for said in mend]),
        steps,
    )


def pages_text(pages: Iterable[tuple[int, Drawing]]) -> str:
    """What each page of a draft's file holds: layers, and lines of one colour and dash."""
    from ...sources.pdf import page_words

    parts = []
    for number, drawing in pages:
        head = page_words(number, drawing)
        kinds = Counter((" / ".join(s.groups) or "no layer", looks(s)) for s in drawing.shapes)
        rows = [f"{layer}: {count} of: {look}" for (layer, look), count in kinds.most_common()]
        gone = [f"not read: {one.ident}: {one.reason}" for one in drawing.left_out]
        if rest := rows[_MOST_KINDS:]:
            rows[_MOST_KINDS:] = [f"and {len(rest)} more kinds of lines"]
        if rest := gone[_MOST_UNREAD:]:
            gone[_MOST_UNREAD:] = [f"not read: {len(rest)} more"]
        rows += gone
        parts.append(listing(head, rows) if rows else head)
    return paragraphs(*parts)


def choices_text(found: Survey, source: str) -> str:
    """What is to be chosen, for people."""
    keys = ", ".join(choice.key for choice in found.choices)
    return paragraphs(
        f"{source}: the drawing can be read in more than one way. Nothing is cut before it is "
        f"said in [pattern] of the job file ({keys}); panelshift new writes one with these lines.",
        *map(_choice_text, found.choices),
        listing("Must be mended", found.faults),
    )


def _choice_text(choice: OpenChoice) -> str:
    items = []
    for option in choice.options:
        value = option.value if isinstance(option.value, str) else ", ".join(option.value)
        lines = [f"{value or 'none'}: {option.gives}", *option.about]
        items.append("\n      ".join(lines))
    return listing(f"To be chosen: {choice.key}. {choice.question} {choice.why}", items)


def altered_text(made: NewDraft, units: str, written: Sequence[str], *, told: bool) -> str:
    """What `panelshift alter` has to say: changes, girths and seams before and after.

    *told*: whether there is a new draft, and so something to change in the job file.
    """
    found = made.altered
    head = f"{found.before.source}: {found.before.headline(units)}"
    if not found.alterations:
        head += "; nothing is to be altered, and it is saved as it was read"
    elif not found.before.full:
        head += f"\n{BOTH_ALIKE}"
    return paragraphs(
        head,
        listing(f"Altered, in {unit_words(units)}", [one.said(units) for one in found.alterations]),
        *(
            f"{grid.caption}:\n"
            + table(
                [grid.corner, *grid.heads],
                [[row.head, *(cell.text for cell in row.cells)] for row in grid.rows],
            )
            for grid in altered_tables(found, units)
        ),
        listing("Written", written),
        listing("For the new draft the job file has to say", made.advice) if told else "",
    )
