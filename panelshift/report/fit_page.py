"""The fit sheet as one self-contained HTML page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from ..cutting.header import CAUTION
from ..fit.alike import Alike
from ..fit.figures import key_figure, overlay_figure, section_figure
from ..fit.girths import OUTSIDE, SKIN
from ..fit.rolling import COMMON_OBJECTS
from ..shift import LayerPattern
from ..units import show
from .cutting import settings
from .fit_facts import FitFacts


def fit_page(facts: FitFacts) -> bytes:
    """Return the page; the same facts always give the same bytes."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("panelshift.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )

    def picture(svg: str) -> Any:
        # Built by lxml, which has escaped every name in it.
        return Markup(svg)

    text = environment.get_template("fit.html").render(**_content(facts, picture))
    return text.encode()


def _content(facts: FitFacts, picture: Callable[[str], Any]) -> dict[str, Any]:
    job, shifted = facts.job, facts.shifted
    units = job.file.pattern.units
    pattern = shifted.turn.pattern
    options = job.file.fit

    def size(value: float) -> str:
        return show(value, units)

    return {
        "title": job.plan.title,
        "units": units,
        "panel_count": len(pattern.panels),
        "full": pattern.full,
        "drafted": job.stack.drafted,
        "drafted_named": bool(job.file.stack.drafted_layer),
        "headline": headline(facts),
        "settings": settings(job),
        "gap": size(job.gap),
        "busk": size(options.busk) if options.busk else "",
        "no_spread": any(None in row.plus_minus.values() for row in facts.girths),
        "side_by_side": _side_by_side(facts),
        "girths": _girths(facts),
        "seasoning": _seasoning(facts),
        "sections": [
            {"level": item.level, "svg": picture(section_figure(item))} for item in facts.sections
        ],
        "drawn_true": all(item.drawn_true for item in facts.sections),
        "levels": list(pattern.level_names()),
        "growth": [_growth(facts, layer) for layer in facts.layers if layer.distances.any()],
        "key": picture(key_figure(facts.styles)),
        "overlays": [
            {
                "panel": panel.name,
                "svg": picture(overlay_figure(shifted, facts.layers, facts.styles, index)),
            }
            for index, panel in enumerate(pattern.panels)
        ],
        "tolerance": size(options.seam_tolerance),
        "walk_summary": _walk_summary(facts),
        "layer_names": [layer.fabric.name for layer in facts.layers],
        "walks": _walks(facts),
        "alike": _alike(facts),
        "rolling": [
            {
                "panel": step.panel,
                "level": step.level,
                "angle": f"{np.degrees(step.angle):.1f}°",
                "former": size(step.former),
                "front": size(step.step_front),
                "back": size(step.step_back),
                "objects": ", ".join(step.objects) or "nothing common",
            }
            for step in facts.rolling
        ],
        "formers": [
            {
                "diameter": size(item.diameter),
                "gained": size(item.gained),
                "needed": size(item.needed),
                "words": _former_words(item.excess, size),
            }
            for item in facts.formers
        ],
        "objects": "; ".join(
            f"{thing.name} {size(thing.smallest)} to {size(thing.largest)} ({thing.source})"
            for thing in COMMON_OBJECTS
        ),
        "needs": [],
        "warnings": list(pattern.warnings),
        "cautions": CAUTION,
    }


def headline(facts: FitFacts) -> str:
    """One line on the waist: inside and outside, with plus or minus where it is known."""
    units = facts.job.file.pattern.units
    for row in facts.girths:
        if row.drafted == facts.job.stack.drafted and row.level == "waist":
            parts = []
            for name, surface in (("inside", SKIN), ("outside", OUTSIDE)):
                error = row.plus_minus[surface]
                spread = "" if error is None else f", plus or minus {show(error, units)}"
                parts.append(f"{name} {show(row.closed[surface], units)}{spread}")
            return f"Finished waist, lacing gap counted: {'; '.join(parts)}."
    return ""


def _side_by_side(facts: FitFacts) -> list[dict[str, Any]]:
    """The waist inside and outside for every layer that might keep the drafted size."""
    units = facts.job.file.pattern.units
    return [
        {
            "drafted": row.drafted,
            "yours": row.drafted == facts.job.stack.drafted,
            "cells": [
                show(values[surface], units).split()[0]
                for values in (row.closed, row.edge_to_edge)
                for surface in (SKIN, OUTSIDE)
            ],
        }
        for row in facts.girths
        if row.level == "waist"
    ]


def _girths(facts: FitFacts) -> list[dict[str, Any]]:
    units = facts.job.file.pattern.units
    drafted = facts.job.stack.drafted
    names = list(dict.fromkeys(row.drafted for row in facts.girths))
    names.sort(key=lambda name: name != drafted)
    choices = []
    for name in names:
        levels = [row for row in facts.girths if row.drafted == name]
        surfaces = []
        for surface in levels[0].closed:
            cells = []
            for row in levels:
                words = show(row.closed[surface], units).split()[0]
                error = row.plus_minus[surface]
                if error is not None:
                    words += f" ± {show(error, units).split()[0]}"
                words += f" ({show(row.edge_to_edge[surface], units).split()[0]})"
                cells.append(words)
            surfaces.append({"surface": surface, "cells": cells, "kept": surface == name})
        choices.append(
            {
                "drafted": name,
                "yours": name == drafted,
                "levels": [row.level for row in levels],
                "rows": surfaces,
            }
        )
    return choices


def _seasoning(facts: FitFacts) -> str:
    low, high = facts.job.file.fit.seasoning
    if high <= 0.0:
        return ""
    units = facts.job.file.pattern.units
    row = next(
        r for r in facts.girths if r.drafted == facts.job.stack.drafted and r.level == "waist"
    )
    inside = row.closed[SKIN]
    return (
        f"Worn in, by your own figure of {low:.1%} to {high:.1%}: the waist inside becomes "
        f"{show(inside * (1.0 + low), units)} to {show(inside * (1.0 + high), units)}."
    )


def _growth(facts: FitFacts, layer: LayerPattern) -> dict[str, Any]:
    shifted, units = facts.shifted, facts.job.file.pattern.units
    pattern = shifted.turn.pattern
    table = []
    for index in layer.covered:
        panel = pattern.panels[index]
        found = [panel.level(name) for name in pattern.level_names()]
        cells = [
            show(shifted.growth(layer.place, index, lv.height), units, signed=True).split()[0]
            if lv
            else "-"
            for lv in found
        ]
        table.append({"panel": panel.name, "cells": cells})
    low, high = float(layer.distances.min()), float(layer.distances.max())
    distance = f"{low:+.3f} mm" if high - low < 5e-4 else f"{low:+.3f} to {high:+.3f} mm"
    return {"name": layer.fabric.name, "distance": distance, "rows": table}


def _walks(facts: FitFacts) -> list[dict[str, Any]]:
    units = facts.job.file.pattern.units
    names = [layer.fabric.name for layer in facts.layers]
    seams = list(dict.fromkeys(walk.seam for walk in facts.walks))
    by_place = {(walk.seam, walk.layer): walk for walk in facts.walks}
    table = []
    for seam in seams:
        cells = []
        for name in names:
            walk = by_place.get((seam, name))
            if walk is None:
                cells.append({"text": "-", "css": ""})
            else:
                words = show(walk.difference, units, signed=True).split()[0]
                verdict = "pass" if walk.passes else "fail"
                cells.append({"text": f"{words} {verdict}", "css": verdict})
        table.append({"seam": seam, "cells": cells})
    return table


def _walk_summary(facts: FitFacts) -> str:
    failed = sum(not walk.passes for walk in facts.walks)
    if failed:
        return f"{failed} of {len(facts.walks)} fail: look at the draft's own seams first."
    return f"All {len(facts.walks)} pass."


def _alike(facts: FitFacts) -> list[dict[str, Any]]:
    units = facts.job.file.pattern.units
    levels = facts.shifted.turn.pattern.level_names()
    result = []
    for layer in facts.layers:
        own = [item for item in facts.alike if item.layer == layer.fabric.name]
        if not own or not layer.distances.any():
            continue
        outer = bool(layer.distances.max() > 0.0)
        what = "stretch it would need" if outer else "excess, and buckle at most"
        table = []
        for panel in dict.fromkeys(item.panel for item in own):
            cells = [_alike_cell(own, panel, level, units) for level in levels]
            table.append({"panel": panel, "cells": cells})
        result.append({"name": layer.fabric.name, "what": what, "rows": table})
    return result


def _alike_cell(items: Sequence[Alike], panel: str, level: str, units: str) -> str:
    for item in items:
        if item.panel == panel and item.level == level:
            if item.strain is not None:
                return f"{item.strain:.2%}"
            if item.buckle is not None:
                excess = show(-item.growth, units).split()[0]
                return f"{excess}, {show(item.buckle, units).split()[0]}"
            return "0"
    return "-"


def _former_words(excess: float, size: Callable[[float], str]) -> str:
    if abs(excess) < 0.5:
        return "comes out right"
    return f"{'over' if excess > 0.0 else 'under'}-eases by {size(abs(excess))}"
