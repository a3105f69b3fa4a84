"""All that a drawing's file is read as: what lies in it, and the pattern or the refusal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from panelshift.draft import Reading, assemble
from panelshift.errors import PanelshiftError
from panelshift.form.section_file import MeasuredForm
from panelshift.form.traced import measure_traced
from panelshift.outline.measure import length
from panelshift.outline.pathtext import path_data
from panelshift.pattern.drawing import Drawing, LineStyle, Shape, Text
from panelshift.pattern.edge_pieces import profile
from panelshift.pattern.panel import EDGE_NAMES, Panel, grain_of
from panelshift.pattern.pattern import Pattern
from panelshift.pattern.places import Places
from panelshift.pattern.profile import Profile
from panelshift.pattern.two_sides import both_sides
from panelshift.sources.drawings import read_drawing
from tests.support.accounts import account, ledger, points

HEIGHTS: Final = np.array([-150.0, -75.0, -20.0, 0.0, 33.3, 90.0, 180.0])
"""Where panels are measured across, in mm above the waist; some lie beyond their ends."""

ALONG: Final = np.linspace(0.0, 1.0, 9)


def told(content: bytes, reading: Reading | None) -> list[str]:
    """Everything that is read from a file, one line for each thing, or why nothing is."""
    try:
        drawing = read_drawing(content, name="draft")
    except PanelshiftError as error:
        return refused(error)
    try:
        pattern = assemble(drawing, reading, keep_faults=True)
    except PanelshiftError as error:
        return [*drawn(drawing), *refused(error)]
    return [*drawn(drawing), *account(pattern), *measured(pattern), *ledger(pattern)]


def told_form(content: bytes) -> list[str]:
    """Everything that curves traced round a body are measured as, or why they are not."""
    try:
        form = measure_traced(content)
    except PanelshiftError as error:
        return refused(error)
    return list(body(form))


def refused(error: PanelshiftError) -> list[str]:
    """What is said instead."""
    where = "" if error.at is None else f" at {points(error.at)}"
    kind = type(error).__name__
    return [
        f"REFUSED by {kind}, {error.element or 'no element'}{where}: {error.problem}",
        f"  Remedy: {error.remedy}",
    ]


def drawn(drawing: Drawing) -> Iterator[str]:
    """What a reader hands over."""
    said = {
        "page": None if drawing.page is None else points(drawing.page),
        "in px": drawing.in_px,
        "px to the inch": drawing.px_per_inch and f"{drawing.px_per_inch:.2f}",
        "shrunk": drawing.shrunk and f"{drawing.shrunk:.4f}",
        "unit taken": drawing.unit_taken,
        "title": drawing.title,
    }
    yield "drawing: " + ", ".join(f"{key} {value}" for key, value in said.items() if value)
    yield from map(_shape, drawing.shapes)
    yield from map(_text, drawing.texts)
    for item in drawing.left_out:
        yield f"not read {item.ident}: {item.reason}"
    for words in (*drawing.warnings, *drawing.notes):
        yield f"said of the file: {words}"


def _shape(shape: Shape) -> str:
    said = {
        "of": shape.element,
        "names": ", ".join(shape.names),
        "in": " / ".join(shape.groups),
        "classes": " ".join(shape.classes),
        "data": ", ".join(f"{key}={value}" for key, value in shape.data.items()),
        "line": _style(shape.style),
        "clip": "" if shape.clip is None else points(shape.clip),
    }
    more = "".join(f", {key} {value}" for key, value in said.items() if value)
    return f"shape {shape.ident}{more}: {path_data(shape.curve)}"


def _style(style: LineStyle) -> str:
    width = "" if style.width is None else f"{style.width:.2f} mm"
    dash = "/".join(f"{part:.2f}" for part in style.dash)
    return " ".join(filter(None, (style.colour, width, dash)))


def _text(text: Text) -> str:
    looks = ", bold" * text.bold + ", mirrored" * text.mirrored
    where = f" in {' / '.join(text.groups)}" if text.groups else ""
    return (
        f"text {text.ident}{where}: {text.content!r}, {text.align} at {points(text.anchor)}, "
        f"{text.size:.2f} mm, turned {np.degrees(text.angle):.1f} degrees{looks}"
    )


def measured(pattern: Pattern) -> Iterator[str]:
    """What follows from a pattern: kinds of edges, areas, widths by height, and the other side."""
    yield f"{pattern.headline()}, {pattern.area:.1f} mm2"
    for name in pattern.level_names():
        yield f"level {name} at {pattern.level_height(name):.2f}"
    edges = _edges_by_height(pattern)
    widths = None if edges is None else edges.widths_at(HEIGHTS)
    for index, panel in enumerate(pattern.panels):
        yield f"{panel.name} {_edges(pattern, index)}"
        centre, box = points(panel.centroid), points(panel.outline.bounds())
        yield f"  {panel.area:.1f} mm2 about {centre}, within {box}"
        if widths is not None:
            yield "  widths " + ", ".join(f"{width:.2f}" for width in widths[index])
        grain = grain_of(panel)
        if grain is not None:
            yield f"  grain {points(grain[0])}{', a bare line' * grain[1]}"
        seams = ", ".join(str(number) for number, _ in pattern.seams_of(index))
        yield f"  seams {seams or 'none'}; stacked {pattern.stacked(index)}"
    yield "at the waist " + ", ".join(
        f"{pattern.panels[s.first].name} {s.first_edge} to {pattern.panels[s.second].name} "
        f"{s.second_edge}"
        for s in pattern.waist_seams
    )
    if edges is not None:
        yield from _walked(pattern, edges)
    yield from _larger(pattern)
    if not pattern.full:
        whole = both_sides(pattern)
        yield "both sides: " + ", ".join(_place(panel) for panel in whole)


def _place(panel: Panel) -> str:
    return f"{panel.name} about {points(panel.centroid)}"


def _edges(pattern: Pattern, index: int) -> str:
    panel = pattern.panels[index]
    return ", ".join(
        f"{name} {length(panel.edge(name)):.2f} {pattern.edge_kind(index, name)}"
        f"{' straight' * panel.is_straight(name)}"
        for name in EDGE_NAMES
    )


def _edges_by_height(pattern: Pattern) -> Profile | None:
    """The side edges of all panels; None where a fault leaves nothing to be measured."""
    if any(remark.kind == "fault" for remark in pattern.ledger):
        return None
    return profile(pattern)


def _walked(pattern: Pattern, edges: Profile) -> Iterator[str]:
    """How far along each edge heights lie, what it is sewn to there, and widths of places."""
    for edge in range(len(edges.starts) - 1):
        which = np.full(len(HEIGHTS), edge)
        spots = edges.at_heights(HEIGHTS, which)
        arcs = edges.arc_at(spots)
        back = edges.point(edges.at_arcs(arcs, which))[1]
        mates = edges.mates.edge[spots.piece], edges.mates.offset[spots.piece]
        yield (
            f"edge {edge} from {edges.ends[edge][0]:.2f} to {edges.ends[edge][1]:.2f}: "
            + ", ".join(
                f"{arc + 0.0:.2f} up to {height:.2f} beside {mate} {off + 0.0:.2f}"
                for arc, height, mate, off in zip(arcs, back, *mates, strict=True)
            )
        )
    there = edges.there(HEIGHTS, 2.0)
    yield "panels at heights: " + ", ".join(
        "".join("01"[int(is_so)] for is_so in row) for row in there
    )
    places = Places.of(pattern)
    for panel, part, row in zip(
        places.panel, places.part, places.widths(edges, HEIGHTS), strict=True
    ):
        yield f"place {panel}.{part}: " + ", ".join(f"{width + 0.0:.2f}" for width in row)


def _larger(pattern: Pattern) -> Iterator[str]:
    """All that lies on panels drawn wider and longer, and turned over."""
    for panel in pattern.larger(1.25, 1.1).mirrored():
        lines = [mark.curve for mark in panel.marks] + [slit.curve for slit in panel.slits]
        yield f"larger {panel.name}: within {points(panel.outline.bounds())}, " + ", ".join(
            [f"{level.name} {level.height:.2f}" for level in panel.level_lines]
            + [points(curve.hull_box) for curve in lines]
            + [f"{text.content} {points(text.anchor)} {text.align}" for text in panel.texts]
            + [f"{tip.piece} {points(tip.point)}" for tip in panel.tips]
            + [f"{piece.name} {points(piece.centroid)}" for piece in panel.pieces]
        )


def body(form: MeasuredForm) -> Iterator[str]:
    """What was measured of a body: girths, radii and places by height."""
    errors = form.errors
    yield (
        f"{form.made_from}, levels {form.names}, errs by {errors.surface:.2f} mm, "
        f"{np.degrees(errors.front):.2f} degrees, {errors.waist:.2f} mm"
    )
    yield from form.found
    rows = np.broadcast_to(2.0 * np.pi * ALONG[:-1], (len(form.heights), len(ALONG) - 1))
    for height, girth, place, reach in zip(
        form.heights,
        form.sections.girths,
        form.sections.place,
        form.sections.support(rows),
        strict=True,
    ):
        reaches = " ".join(f"{one + 0.0:.2f}" for one in reach)
        yield f"at {height:.2f}: {girth:.2f} round, at {points(place)}, reaches {reaches}"
