"""All that is to be known of a pattern as it was read, one line for each thing."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from panelshift.draft import Reading, assemble
from panelshift.errors import PanelshiftError
from panelshift.outline.measure import length, position_at_length
from panelshift.pattern.drawing import Drawing
from panelshift.pattern.panel import Panel
from panelshift.pattern.pattern import Pattern


def read_or_refused(drawing: Drawing, reading: Reading | None = None) -> list[str]:
    """The account of a drawing's pattern, or its refusal."""
    try:
        found = assemble(drawing, reading, keep_faults=True)
    except PanelshiftError as error:
        where = "" if error.at is None else f" at {points(error.at)}"
        return [f"REFUSED {error.element}{where}: {error.problem}", f"  Remedy: {error.remedy}"]
    return [*account(found), *ledger(found)]


def account(pattern: Pattern) -> Iterator[str]:
    """Everything that a pattern holds; points in sheet mm, heights and widths in panel mm."""
    yield f"{'full' if pattern.full else 'half'}, {pattern.waist:.2f} mm at the waist"
    for panel in pattern.panels:
        yield from _panel(panel)
    for walk in pattern.walk():
        spans = ", ".join(
            f"{side} {span}"
            for side, span in zip(
                ("first", "second"), (walk.seam.first_span, walk.seam.second_span), strict=True
            )
            if span is not None
        )
        yield f"seam {walk.name}: {walk.first:.2f} and {walk.second:.2f} {spans}"


def _panel(panel: Panel, depth: str = "") -> Iterator[str]:
    frame = panel.frame
    yield (
        f"{depth}PANEL {panel.name} ({panel.ident}), origin {points(frame.origin)}, "
        f"across {points(frame.across)}, up {points(frame.up)}"
    )
    depth += "  "
    if panel.made_of or panel.parted:
        yield f"{depth}of {', '.join(panel.made_of)}; parted at {', '.join(sorted(panel.parted))}"
    for name, run in panel.runs():
        # Five points of each edge at equal distances along it: what is in between follows.
        at = position_at_length(run, np.linspace(0.0, length(run), 5))
        along = points(run.points(at)) if length(run) > 0.0 else points(run.start)
        yield f"{depth}{name}, {length(run):.2f} mm: {along}"
    for level in panel.level_lines:
        ends = points([level.curve.start, level.curve.end])
        yield f"{depth}level {level.name} ({level.ident}) at {level.height:.2f}: {ends}"
    for mark in panel.marks:
        box = points(mark.curve.hull_box)
        named = f" {mark.name!r}" if mark.name else ""
        closed = ", closed" if mark.curve.closed else ""
        yield (
            f"{depth}{mark.kind}{named} ({mark.ident}), {length(mark.curve):.2f} mm{closed}: {box}"
        )
    for text in panel.texts:
        yield f"{depth}words {text.content!r} ({text.ident}) at {points(text.anchor)}"
    for tip in panel.tips:
        yield f"{depth}tip of {tip.piece} at its {tip.edge}: {points(tip.point)}"
    for slit in panel.slits:
        ends = points([slit.curve.start, slit.curve.end])
        yield f"{depth}slit of {slit.piece} ({slit.ident}), open at its {slit.opens_at}: {ends}"
    for piece in panel.pieces:
        yield from _panel(piece, depth)


def ledger(pattern: Pattern) -> Iterator[str]:
    """All that is said of a drawing, with codes and ids."""
    for remark in pattern.ledger:
        yield f"{remark.kind} {remark.code} [{', '.join(remark.elements)}]: {remark.words}"
        if remark.remedy:
            yield f"  Remedy: {remark.remedy}"


def points(given: npt.ArrayLike) -> str:
    """Points to 0.01 mm, without a sign before 0."""
    rows = np.asarray(given, dtype=np.float64).reshape(-1, 2) + 0.0
    return " ".join(f"({x:.2f}, {y:.2f})" for x, y in np.round(rows, 2) + 0.0)
