"""The fit sheet's facts as plain rows, as CSV and as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from typing import Any

import numpy as np

from ..construction.account import fold_range, needed_at
from ..files import csv_bytes
from .facts import FitFacts
from .first_page import answers, seam_steps
from .girths import TAPE, LevelGirths, whole_levels
from .plus_minus import doubt_words
from .rolling import COMMON_OBJECTS


@dataclass(frozen=True)
class Fact:
    """One number with its place; empty words where a place has no meaning.

    *section*: part of the fit sheet. *drafted*: layer that keeps the drafted size. *layer*: layer
    or surface. *panel*: panel or seam. *value*: in `unit`; numbers carry six decimals. *unit*: mm,
    deg, % or nothing.
    """

    section: str
    drafted: str
    layer: str
    panel: str
    level: str
    quantity: str
    value: float | str
    unit: str


def rows(facts: FitFacts) -> list[Fact]:
    """Every number of the sheet as plain rows, lengths in mm, angles in degrees."""
    return [
        *_girths(facts),
        *_turning(facts),
        *_matched(facts),
        *_growth(facts),
        *_taken_up(facts),
        *_cut_in_one(facts),
        *_sewing(facts),
        *_recuts(facts),
        *_walks(facts),
        *_alike(facts),
        *_rolling(facts),
        *_needs(facts),
    ]


def _fact(section: str, quantity: str, value: float | str, unit: str = "mm", **place: str) -> Fact:
    if not isinstance(value, str):
        # The sign of a zero tells nothing.
        value = round(float(value), 6) + 0.0
    where = {"drafted": "", "layer": "", "panel": "", "level": ""} | place
    return Fact(section, **where, quantity=quantity, value=value, unit=unit)


def _girths(facts: FitFacts) -> Iterator[Fact]:
    for row in facts.girths:
        for surface in row.closed:
            for quantity, value in _girth(row, surface, facts.seasoning):
                where = {"drafted": row.drafted, "layer": surface, "level": row.level}
                yield _fact("finished girth", quantity, value, **where)


def _girth(
    row: LevelGirths, surface: str, seasoning: tuple[float, float] | None
) -> Iterator[tuple[str, float]]:
    error = row.plus_minus[surface]
    yield "with gap", row.closed[surface]
    yield "corset alone", row.edge_to_edge[surface]
    if error is not None:
        yield "plus or minus (95 %)", error
    if seasoning is not None:
        yield "worn in, least, with gap", row.worn_in(surface, seasoning[0])
        yield "worn in, most, with gap", row.worn_in(surface, seasoning[1])


def _turning(facts: FitFacts) -> Iterator[Fact]:
    for item in facts.turning:
        where = {"panel": item.panel, "level": item.level}
        yield _fact("turning", "angle", float(np.degrees(item.angle)), "deg", **where)
        if item.share is not None:
            yield _fact("turning", "share of all panels", 100.0 * item.share, "%", **where)
    for section in facts.sections:
        for (name, _), angle in zip(section.parts, section.angles, strict=True):
            if not name:
                degrees, level = float(np.degrees(angle)), section.level
                yield _fact("turning", "angle of the lacing gap", degrees, "deg", level=level)


def _matched(facts: FitFacts) -> Iterator[Fact]:
    for item in facts.matched:
        for whose, value in (("pattern", item.pattern), ("body", item.body)):
            words = f"{item.quantity}, {whose}"
            yield _fact("pattern and body", words, value, level=item.level)
        words = f"{item.quantity}, body less pattern"
        yield _fact("pattern and body", words, item.difference, level=item.level)


def _growth(facts: FitFacts) -> Iterator[Fact]:
    for layer in facts.shifted.layers:
        for panel, distance in zip(facts.pattern.panels, layer.distances, strict=True):
            if layer.fabric.covers(panel.name):
                where = {"layer": layer.fabric.name, "panel": panel.name}
                yield _fact("growth", "distance from the drafted layer", distance, **where)
    for item in facts.grown:
        where = {"layer": item.layer, "panel": item.panel, "level": item.level}
        yield _fact("growth", "across", item.growth, **where)
        if item.plus_minus is not None:
            yield _fact("growth", "plus or minus (95 %)", item.plus_minus, **where)
        if item.by_body is not None:
            yield _fact("growth", "plus or minus by the body (95 %)", item.by_body, **where)


def _taken_up(facts: FitFacts) -> Iterator[Fact]:
    for layer in facts.layers:
        fabric = layer.fabric
        ways = zip(("round the body", "along the panel"), fabric.cut_larger, strict=True)
        for way, larger in ways:
            taken, reduced = (
                (fabric.take_up, fabric.reduced)
                if way == "round the body"
                else (fabric.take_up_length, fabric.reduced_length)
            )
            where = {"layer": fabric.name}
            if taken:
                yield _fact("take-up", f"lost {way}", 100.0 * taken, "%", **where)
            if reduced:
                yield _fact("take-up", f"stretched {way}", 100.0 * reduced, "%", **where)
            if larger != 1.0:
                yield _fact("take-up", f"drawn larger {way}, factor", larger, "", **where)


def _cut_in_one(facts: FitFacts) -> Iterator[Fact]:
    section = "cut in one"
    for layer in facts.layers:
        for piece in layer.joined:
            where = {"layer": layer.fabric.name, "panel": piece.panel.name}
            for one in piece.levels:
                for when, value in (("before", one.before), ("after", one.after)):
                    yield _fact(section, f"width {when}", value, level=one.name, **where)
            for one in piece.seams:
                for when, value in (("before", one.before), ("after", one.after)):
                    yield _fact(section, f"length {when} along {one.name}", value, **where)
            yield _fact(section, "change of area", 100.0 * piece.area.share, "%", **where)
            yield _fact(section, "shrinks by", -100.0 * piece.stretch[0], "%", **where)
            yield _fact(section, "gives by", 100.0 * piece.stretch[1], "%", **where)
            for seam, dart in piece.darts:
                kind = "dart sewn" if piece.sewn else "dart left out"
                for what, value in (
                    ("width", dart.width),
                    ("from", dart.low),
                    ("to", dart.high),
                    ("widest at", dart.at),
                ):
                    yield _fact(section, f"{kind} along {seam}, {what}", value, **where)


def _sewing(facts: FitFacts) -> Iterator[Fact]:
    lay = facts.shifted.lay
    if lay is None:
        return
    for level in whole_levels(facts.shifted.turn):
        needed, tape = needed_at(lay, facts.pattern.level_height(level))
        for name, value in zip(lay.sewn.stack.names, needed.tolist(), strict=True):
            yield _fact("sewing", "needed over ridges", value, layer=name, level=level)
        yield _fact("sewing", "needed over ridges", tape, layer=TAPE, level=level)
    for item in facts.bulk:
        yield _fact("sewing", "plies at the waist", float(item.plies), "", panel=item.seam)
        yield _fact("sewing", "thickness at the waist", item.thickness, panel=item.seam)
    yield _fact("sewing", "turned into seams, at most", fold_range(lay), level="waist")
    cuts = lay.cuts
    if cuts is not None and not cuts.measured:
        named = [("cut flat", cuts.flat), ("cut taut", cuts.taut)]
        if cuts.best is not None:
            named.append(("best cut", (cuts.best, cuts.best)))
        for name, two in named:
            for end, cut in zip(("least", "most"), two, strict=True):
                where = {"layer": cuts.outer_name, "level": "waist"}
                yield _fact("sewing", f"{name}: strain, {end}", 100.0 * cut.strain, "%", **where)
                yield _fact(
                    "sewing", f"{name}: bones stand, {end}", 100.0 * cut.stands, "%", **where
                )


def _recuts(facts: FitFacts) -> Iterator[Fact]:
    for item in seam_steps(facts):
        where = {"drafted": facts.drafted, "layer": item.layer, "panel": item.seam}
        where["level"] = "waist"
        yield _fact("cut on one paper", "each edge outwards, rounded", item.step, **where)
        if item.plus_minus is not None:
            words = "each edge, plus or minus (95 %)"
            yield _fact("cut on one paper", words, item.plus_minus, **where)


def _walks(facts: FitFacts) -> Iterator[Fact]:
    yield _fact("seam walk", "tolerance", facts.basis.options.seam_tolerance)
    for walk in facts.walks:
        where = {"layer": walk.layer, "panel": walk.seam}
        yield _fact("seam walk", "first edge", walk.first, **where)
        yield _fact("seam walk", "second edge", walk.second, **where)
        yield _fact("seam walk", "difference", walk.difference, **where)
        if walk.by_body is not None:
            yield _fact("seam walk", "length, plus or minus by the body", walk.by_body, **where)
            if walk.plus_minus is not None:
                yield _fact("seam walk", "length, plus or minus (95 %)", walk.plus_minus, **where)
        yield _fact("seam walk", "verdict", "pass" if walk.passes else "fail", "", **where)


def _alike(facts: FitFacts) -> Iterator[Fact]:
    for item in facts.alike:
        where = {"layer": item.layer, "panel": item.panel, "level": item.level}
        if item.strain is not None:
            yield _fact("all cut alike", "strain", 100.0 * item.strain, "%", **where)
        if item.buckle is not None:
            yield _fact("all cut alike", "excess", -item.growth, **where)
            yield _fact("all cut alike", "one wave high", item.buckle, **where)


def _rolling(facts: FitFacts) -> Iterator[Fact]:
    for step in facts.rolling:
        where = {"panel": step.panel, "level": step.level}
        if step.former is not None:
            yield _fact("rolling guide", "former diameter", step.former, **where)
            if step.plus_minus is not None:
                words = "former, plus or minus by the body (95 %)"
                yield _fact("rolling guide", words, step.plus_minus, **where)
        yield _fact("rolling guide", "step at front edge", step.step_front, **where)
        yield _fact("rolling guide", "step at back edge", step.step_back, **where)
        if step.objects:
            yield _fact("rolling guide", "about as thick", ", ".join(step.objects), "", **where)
    for former in facts.formers:
        name = f"one former of {former.diameter:g} mm"
        yield _fact(name, "gained, whole corset", former.gained, level="waist")
        yield _fact(name, "needed on the body", former.needed, level="waist")
        yield _fact(name, "gained less needed", former.excess, level="waist")


def _needs(facts: FitFacts) -> Iterator[Fact]:
    units = facts.units
    for layout in facts.needs.layouts:
        name = f"fabric needs on cloth {layout.sold_width:g} mm wide"
        yield _fact(name, "layout length", layout.length, layer=layout.fabric)
        yield _fact(name, "length to buy", layout.to_buy(units), layer=layout.fabric)
        yield _fact(name, "share used", 100.0 * layout.share, "%", layer=layout.fabric)
        yield _fact(name, "lower bound", layout.bound, layer=layout.fabric)
        yield _fact(name, "above the bound", 100.0 * layout.above_bound, "%", layer=layout.fabric)


def facts_csv(facts: FitFacts) -> bytes:
    """All rows as CSV (RFC 4180), in UTF-8."""
    names = [field.name for field in fields(Fact)]
    return csv_bytes([names, *([getattr(row, name) for name in names] for row in rows(facts))])


def facts_data(facts: FitFacts) -> dict[str, Any]:
    """All rows grouped by section, with what they were reckoned from, as JSON has it."""
    basis, options = facts.basis, facts.basis.options
    grouped: dict[str, list[dict[str, Any]]] = {}
    for row in rows(facts):
        entry = {key: value for key, value in asdict(row).items() if value != ""}
        grouped.setdefault(entry.pop("section"), []).append(entry)
    return {
        "title": basis.plan.title,
        "units": "mm, degrees",
        "shown_in": facts.units,
        "drafted_layer": facts.drafted,
        "lacing_gap": basis.gap,
        "busk": options.busk,
        "seasoning": list(options.seasoning),
        "seam_tolerance": options.seam_tolerance,
        "levels": {
            name: round(facts.pattern.level_height(name), 6) + 0.0
            for name in facts.pattern.level_names()
        },
        "what_to_do": answers(facts),
        "papers": [[own.fabric.name for own in paper] for paper in facts.verdict.papers],
        "settings": list(basis.settings),
        **({"sewing": facts.sewing} if facts.sewing else {}),
        **({"unsaid": basis.unsaid} if basis.unsaid else {}),
        "body": doubt_words(facts.shifted, facts.units),
        "warnings": facts.warnings(),
        "look_at": [{"code": code, "words": words} for code, words in facts.look_at()],
        "sections": grouped,
        "common_objects": [asdict(thing) for thing in COMMON_OBJECTS],
    }


def facts_json(facts: FitFacts) -> bytes:
    """What `facts_data` gives, as a file."""
    return (json.dumps(facts_data(facts), indent=1, ensure_ascii=False) + "\n").encode()
