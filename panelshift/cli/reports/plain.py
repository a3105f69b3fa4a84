"""What commands came to as plain data for programs: lengths in mm, angles in radians.

docs/json.schema.json describes all of it, and says so of whatever the tests print.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from ...draft.names import looks
from ...job.choices import Survey
from ...job.new_draft import NewDraft
from ...job.result import CutResult
from ...job.said import Check, settings
from ...outline.measure import length
from ...pattern.drawing import Drawing
from ...pattern.panel import EDGE_NAMES
from ...pattern.pattern import Pattern, SeamLengths

if TYPE_CHECKING:
    from ...form.section_file import MeasuredForm
    from ...job.swatch_files import SwatchResult
    from ...printing.sheet_prints import PrintedFile
    from ...sources.paper.photos import PaperSeen
    from ...sources.paper.tracing import Tracing
    from ...swatch import Comparison, PairFit
    from ...swatch.slope import Slope

_DIGITS: Final = 4
"""Of lengths in mm: a tenth of what a plotter resolves."""


def _mm(value: float) -> float:
    # The sign of a zero tells nothing.
    return round(float(value), _DIGITS) + 0.0


def _seam(walked: SeamLengths) -> dict[str, Any]:
    return {
        "name": walked.name,
        "first": _mm(walked.first),
        "second": _mm(walked.second),
        "difference": _mm(walked.difference),
    }


def _left_out(read: Pattern | Drawing) -> list[dict[str, str]]:
    return [{"id": item.ident, "reason": item.reason} for item in read.left_out]


def check_data(check: Check) -> dict[str, Any]:
    """What was read from a draft."""
    pattern = check.pattern
    return {
        "source": pattern.source,
        "halves": "full" if pattern.full else "half",
        "waist": _mm(pattern.waist),
        "drafted_waist": check.drafted_waist,
        "lacing_gap": check.gap,
        "panels": [
            {
                "name": panel.name,
                "id": panel.ident,
                "class": cls,
                "class_inferred": panel.name in check.inferred,
                "waist": _mm(panel.waist_width),
                "edges": {edge: _mm(length(panel.edge(edge))) for edge in EDGE_NAMES},
                "levels": {
                    level.name: {"height": _mm(level.height), "width": _mm(level.width)}
                    for level in panel.levels
                },
                "marks": [
                    *({"kind": mark.kind, "id": mark.ident} for mark in panel.marks),
                    *({"kind": "slit", "id": slit.ident} for slit in panel.slits),
                ],
                "texts": [text.content for text in panel.texts],
            }
            for panel, cls in zip(pattern.panels, check.classes, strict=True)
        ],
        "seams": list(map(_seam, pattern.walk())),
        "notes": list(pattern.notes),
        "left_out": _left_out(pattern),
        "choices": [],
    }


def survey_data(found: Survey) -> dict[str, Any]:
    """What a draft can be read as, and what is to be chosen first."""
    pattern = found.pattern
    return {
        "panels": [] if pattern is None else [panel.name for panel in pattern.panels],
        "waist": None if pattern is None else _mm(pattern.waist),
        "choices": [
            {
                "key": choice.key,
                "question": choice.question,
                "why": choice.why,
                "options": [
                    {
                        "value": list(o.value) if isinstance(o.value, tuple) else o.value,
                        "gives": o.gives,
                        "about": list(o.about),
                    }
                    for o in choice.options
                ],
            }
            for choice in found.choices
        ],
    }


def pages_data(pages: Iterable[tuple[int, Drawing]]) -> dict[str, Any]:
    """What each page of a draft's file holds: lines of one layer, colour and dash counted."""
    found = []
    for number, drawing in pages:
        kinds = Counter((tuple(s.groups), looks(s)) for s in drawing.shapes)
        found.append(
            {
                "page": number,
                "lines": [
                    {"layers": list(layers), "looks": look, "count": count}
                    for (layers, look), count in kinds.most_common()
                ],
                "left_out": [
                    {"id": gone.ident, "reason": gone.reason} for gone in drawing.left_out
                ],
            }
        )
    return {"pages": found}


def altered_data(made: NewDraft) -> dict[str, Any]:
    """Changes, girths and seams before and after."""
    found = made.altered
    return {
        "source": found.before.source,
        "alterations": [one.said() for one in found.alterations],
        "waist": {"before": _mm(found.before.waist), "after": _mm(found.pattern.waist)},
        "girths": [
            {
                "level": girth.level,
                "before": _mm(girth.before),
                "after": _mm(girth.after),
                "asked": _mm(girth.asked),
            }
            for girth in found.girths
        ],
        "seams": [
            {
                "name": seam.seam,
                "before": list(map(_mm, seam.before)),
                "after": list(map(_mm, seam.after)),
                "difference": _mm(seam.difference),
            }
            for seam in found.seams
        ],
        "job": list(made.advice),
    }


def cut_data(result: CutResult) -> dict[str, Any]:
    """Growth of every panel in every layer, walked seams, pieces."""
    job, shifted = result.job, result.shifted
    drafted, growth = shifted.turn.pattern, shifted.grown
    return {
        "title": job.plan.title,
        "source": drafted.source,
        "halves": "full" if drafted.full else "half",
        "drafted_layer": job.stack.drafted,
        "lacing_gap": job.gap,
        "waist": _mm(drafted.waist),
        "layers": [
            {
                "name": layer.fabric.name,
                "drafted": layer.drafted,
                "cut_out": layer.fabric.cut_out,
                "waist": _mm(layer.whole.waist),
                "panels": [
                    {
                        "name": drafted.panels[i].name,
                        "distance": _mm(layer.distances[i]),
                        "growth": {
                            level.name: _mm(growth.at(layer.place, i, level.height))
                            if layer.place in growth.moves
                            else 0.0
                            for level in drafted.panels[i].level_lines
                        },
                    }
                    for i in layer.covered
                ],
                "seams": list(map(_seam, layer.walk())),
            }
            for layer in shifted.layers
        ],
        "pieces": [
            {
                "cloth": line.cloth,
                "name": line.name,
                "drawn": line.drawn,
                "mirrored": line.mirrored,
                "length": _mm(line.length),
                "width": _mm(line.width),
                "note": line.note,
            }
            for line in result.lines
        ],
        "settings": list(settings(job)),
    }


def tile_data(prints: Sequence[PrintedFile], files: Sequence[Path]) -> dict[str, Any]:
    """Pages of each print, and its size taped together."""
    return {
        "prints": [
            {
                "title": item.title,
                "file": str(file),
                "pages": item.printed.pages,
                "columns": None if item.printed.grid is None else item.printed.grid.columns,
                "rows": None if item.printed.grid is None else item.printed.grid.rows,
                "width": _mm(item.printed.size[0]),
                "height": _mm(item.printed.size[1]),
            }
            for item, file in zip(prints, files, strict=True)
        ]
    }


def form_data(form: MeasuredForm) -> dict[str, Any]:
    """Girths of a body that was measured, by height above the waist."""
    girths = zip(form.heights.tolist(), form.sections.girths.tolist(), strict=True)
    return {
        "made_from": form.made_from,
        "found": list(form.found),
        "sections": [{"height": _mm(height), "girth": _mm(girth)} for height, girth in girths],
        "levels": {name: _mm(height) for name, height in form.names.items()},
        "standard_deviations": {
            "surface": form.errors.surface,
            "front": form.errors.front,
            "waist": form.errors.waist,
        },
    }


def traced_data(seen: PaperSeen, tracing: Tracing) -> dict[str, Any]:
    """What came of photos of a paper, and how true it is."""
    return {
        "panels": len(tracing.panels),
        "strips": list(seen.strips),
        "scale": seen.scale,
        "uncertainty_95": seen.rectified.uncertainty,
        "pixels_off": seen.doubts.rms,
        "spots": [
            {"kind": spot.kind, "place": list(map(_mm, spot.place)), "words": spot.words}
            for spot in tracing.spots
        ],
    }


def swatch_data(found: SwatchResult) -> dict[str, Any]:
    """What was fitted to readings: distances, bones, test pieces."""
    beside = found.comparisons or (None,) * len(found.fits)
    flat = [_flat_data(*both) for both in zip(found.fits, beside, strict=True)]
    bones = [
        {
            "kind": "bones",
            "inner": fit.readings[0].flat.inner,
            "outer": fit.readings[0].flat.outer,
            "standing": fit.line.value,
            "share": fit.share,
            **_fitted(fit.line),
        }
        for fit in found.boned
    ]
    trials = [
        {
            "kind": fit.kind,
            "layer": fit.trials[0].layer,
            "inner": fit.trials[0].inner,
            "way": fit.trials[0].way,
            "value": fit.line.value,
            **_fitted(fit.line),
        }
        for fit in found.trials
    ]
    return {"fits": [*flat, *bones, *trials], "job_lines": found.job_lines}


def _flat_data(fit: PairFit, beside: Comparison | None) -> dict[str, Any]:
    line = fit.line
    return {
        "kind": "flat",
        "inner": fit.inner,
        "outer": fit.outer,
        "inner_thickness": fit.inner_thickness,
        "distance": fit.distance,
        **_fitted(line),
        "shared_parts": dict(line.parts),
        "offset": line.offset,
        "offset_uncertainty": line.u_offset,
        "chi_square": line.chi_square,
        "chance": line.chance,
        "readings": [
            {
                "origin": reading.origin,
                "former": reading.former,
                "length": reading.length,
                "under": reading.under,
                "overhang": reading.overhang,
                "u_overhang": reading.spread,
                "angle": float(angle),
                "residual": float(residual),
            }
            for reading, angle, residual in zip(
                fit.readings, fit.angles, line.residuals, strict=True
            )
        ],
        "against_thickness": beside
        and {
            "by_thickness": beside.by_thickness,
            "difference": beside.difference,
            "deviations": beside.deviations,
            "word": beside.word,
            "between": list(beside.between),
            "unknown_uncertainty": list(beside.unknown),
        },
    }


def _fitted(line: Slope) -> dict[str, Any]:
    return {
        "standard_uncertainty": line.uncertainty,
        "degrees_of_freedom": None if math.isinf(line.freedom) else line.freedom,
        "interval_95": list(line.interval),
        "entry_uncertainty": line.entry_uncertainty,
        "consistent": line.consistent,
    }
