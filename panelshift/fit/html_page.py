"""The fit sheet as one self-contained HTML page."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import TYPE_CHECKING, Any

from ..body import ClassModel, FormerModel, MeanFormModel, SectionModel, TapeModel
from ..body.form import FormModel
from ..cutting.composing import CAUTION
from ..cutting.verdict import walked_as_cut
from ..needs.cloth_picture import layout_picture
from ..sheets.palette import SIDE_STYLES
from ..sheets.svg_writer import key_line
from ..units import cloth_length, shown_length, tape_length
from .compared import ComparedCorsets
from .compared_tables import compared_figures, compared_tables, compared_words
from .corset_picture import corset_picture
from .fact_tables import (
    alike_tables,
    bulk_table,
    former_table,
    growth_tables,
    matching_table,
    narrow,
    needs_table,
    objects_table,
    recut_table,
    rolling_table,
    side_by_side,
    turning_table,
    waist_choices,
    walk_table,
    your_girths,
)
from .facts import FitFacts
from .first_page import answers, waist_sizes
from .girths import coarse
from .layer_change import overlay_figures
from .rolling import COMMON_OBJECTS, one_former
from .sections import section_figures, short_names

if TYPE_CHECKING:
    from jinja2 import Environment


def fit_page(facts: FitFacts, against: FitFacts | None = None) -> bytes:
    """Return the page; the same facts always give the same bytes.

    *against*: another corset, to be laid beside this one.
    """
    from markupsafe import Markup

    def picture(svg: str) -> Any:
        # Built by lxml, which has escaped every name in it.
        return Markup(svg)

    template = templates("panelshift.fit").get_template("fit.html")
    content = _content(facts, picture) | {"against": None}
    if against is not None:
        both = ComparedCorsets(facts.side, against.side)
        content["against"] = {
            "name": against.basis.plan.title,
            "words": compared_words(both, facts.units),
            "tables": narrow(*compared_tables(both, facts.units)),
            "key": [(name, picture(key_line(style))) for name, style in SIDE_STYLES.items()],
            "figures": [(name, picture(svg)) for name, svg in compared_figures(both)],
        }
    return template.render(**content).encode()


@cache
def templates(package: str) -> Environment:
    """The templates of a package, compiled once in a process.

    What is put into them is escaped, what is missing an error.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader(package),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _content(facts: FitFacts, picture: Callable[[str], Any]) -> dict[str, Any]:
    basis, pattern, units = facts.basis, facts.pattern, facts.units
    options = basis.options
    overlays = overlay_figures(pattern.panels, facts.changes, facts.styles, facts.magnified)
    sections = zip(facts.sections, section_figures(facts.sections, units), strict=True)
    return {
        "title": basis.plan.title,
        "record": basis.record,
        "units": units,
        "about": f"{'full' if pattern.full else 'half'} pattern of {len(pattern.panels)} panels, "
        f"drafted waist without the gap {tape_length(pattern.waist, units)}",
        "corset": picture(corset_picture(facts.shifted.turn, basis.body, gap=basis.gap)),
        "sizes": waist_sizes(facts),
        "outermost": facts.layers[-1].fabric.name if facts.layers else "",
        "drafted": facts.drafted,
        "drafted_named": basis.drafted_named,
        "answers": answers(facts),
        "unsaid": basis.unsaid,
        "warnings": facts.warnings(),
        "settings": basis.settings,
        "surprises": surprises(facts),
        "gap": cloth_length(basis.gap, units),
        "busk": cloth_length(options.busk, units) if options.busk else "",
        "seasoning": _seasoning(facts),
        "no_spread": any(None in row.plus_minus.values() for row in facts.girths),
        "waist_choices": narrow(waist_choices(facts)),
        "your_girths": narrow(your_girths(facts)),
        "side_by_side": narrow(side_by_side(facts)),
        "sections": [{"level": item.level, "svg": picture(svg)} for item, svg in sections],
        "section_names": section_names(facts),
        "how_drawn": _how_drawn(facts),
        "turning": narrow(turning_table(facts)),
        "matching": narrow(matching_table(facts)) if facts.matched else [],
        "growth": narrow(*growth_tables(facts)),
        "sewing": facts.sewing,
        "bulk": narrow(bulk_table(facts)) if facts.bulk else [],
        "recuts": narrow(recut_table(facts)) if pattern.seams and facts.verdict.steps else [],
        "key": [
            {"name": name, "svg": picture(key_line(style))} for name, style in facts.styles.items()
        ],
        "magnified": f"{facts.magnified:g}",
        "overlays": [
            {"panel": panel.name, "svg": picture(svg)}
            for panel, svg in zip(pattern.panels, overlays, strict=True)
        ],
        "tolerance": f"{shown_length(options.seam_tolerance, units)} {units}",
        "walk_summary": walk_summary(facts),
        "walks": narrow(walk_table(facts)) if facts.walks else [],
        "alike_words": " ".join(alike_words(facts)),
        "alike": narrow(*alike_tables(facts)),
        "rolling": narrow(rolling_table(facts), objects_table(facts)),
        "formers": narrow(former_table(facts)),
        "objects": [
            f"{thing.name}, {coarse(thing.smallest, units)} to {coarse(thing.largest, units)}, "
            f"some {coarse(thing.long, units)} long"
            for thing in COMMON_OBJECTS
        ],
        "object_sources": list(dict.fromkeys(t.source for t in COMMON_OBJECTS))[1:],
        "needs_table": narrow(needs_table(facts)),
        "needs": [
            {
                "fabric": layout.fabric,
                "width": coarse(layout.sold_width, units),
                "svg": picture(layout_picture(layout, units)),
            }
            for layout in facts.needs.layouts
        ],
        "cautions": CAUTION,
    }


_SMALLER_MM = 100.0
_JAR_MM = 80.0
_HAND_MM = 90.0
"""Common sizes, from memory: how far a small and a full waist differ, a jar, the back of a hand."""


def surprises(facts: FitFacts) -> list[tuple[str, str]]:
    """What makers expect otherwise: a question, and its answer with the job's own numbers."""
    units = facts.units
    row = next((row for row in facts.yours if row.level == "waist"), None)
    jar, hand = (one_former(facts.shifted, size) for size in (_JAR_MM, _HAND_MM))
    if row is None or not facts.layers or jar.needed <= 0.0:
        return []
    needed, waist = jar.needed, row.closed[row.drafted]
    inner, outer = facts.layers[0].fabric.name, facts.layers[-1].fabric.name
    more = _length(needed, units)
    share = ""
    if waist > 2.0 * _SMALLER_MM:
        share = (
            f" But of {_length(waist, units)} that is {needed / waist:.2%}, and of a waist "
            f"{coarse(_SMALLER_MM, units)} smaller {needed / (waist - _SMALLER_MM):.2%}: the same "
            "length is a greater share, so a small waist shows it more."
        )
    return [
        (
            "Why does a smaller waist need just as much?",
            f"Once round the body is one full turn, whatever its size. {outer} lies as far outside "
            f"{inner} on a small waist as on a full one, so round these panels it needs {more} "
            f"more on either.{share}",
        ),
        (
            "Why does rolling the pieces over a jar give more?",
            f"A jar of {coarse(_JAR_MM, units)} is much rounder than a waist, so each panel turns "
            "further on it, and all of them together more than once round: rolled over it they "
            f"would gain {_length(jar.gained, units)} where the body asks for {more}.",
        ),
        (
            "Why do right pieces not meet over a hand?",
            f"A hand is about as round as something {coarse(_HAND_MM, units)} thick. Over it the "
            f"outer pieces of all panels together come {_length(abs(hand.excess), units)} "
            f"{'short' if hand.excess > 0.0 else 'too long'}, each panel by its share, though they "
            "are right on the body. Over the former given for a panel its edges meet.",
        ),
    ]


def alike_words(facts: FitFacts) -> list[str]:
    """What all layers cut alike would come to where it is most."""
    lines = []
    strained = max(facts.alike, key=lambda item: item.strain or 0.0, default=None)
    if strained is not None and strained.strain:
        lines.append(
            f"{strained.layer} would have to stretch by up to {strained.strain:.1%} "
            f"({strained.panel}, {strained.level})."
        )
    buckled = max(facts.alike, key=lambda item: item.buckle or 0.0, default=None)
    if buckled is not None and buckled.buckle:
        most = -buckled.growth, buckled.buckle
        over, high = (cloth_length(v, facts.units, up=True) for v in most)
        lines.append(
            f"{buckled.layer} would have {over} over in {buckled.panel} at the "
            f"{buckled.level}: one smooth wave of it would stand {high} high."
        )
    return lines


def _length(length_mm: float, units: str) -> str:
    return tape_length(length_mm, units)


def section_names(facts: FitFacts) -> list[str]:
    """Which names the pictures shorten, and to what."""
    short = short_names([panel.name for panel in facts.pattern.panels])
    return [f"{brief} = {name}" for name, brief in short.items() if brief != name]


def _how_drawn(facts: FitFacts) -> str:
    body = facts.basis.body
    if isinstance(body, ClassModel):
        return "The class model gives angles, not a shape: each panel is drawn as one arc."
    if isinstance(body, MeanFormModel):
        return "The shape is that of the mean form, at the draft's girth."
    if isinstance(body, FormModel | TapeModel):
        return "The shape is that of your body's own sections, at the draft's girth."
    if isinstance(body, FormerModel):
        return (
            "A former is no body: the angles are those of rolling and do not close; each panel is "
            "drawn as one arc, and what is left open is spread over all."
        )
    whose = "section" if isinstance(body, SectionModel) else "body"
    return f"The shape is the {whose} model's own, at the draft's girth."


def _seasoning(facts: FitFacts) -> str:
    if facts.seasoning is None:
        return ""
    low, high = facts.seasoning
    return (
        f"Worn in: the cloth gives by your own figure of {low:.1%} to {high:.1%}, the lacing gap "
        "stays as it is."
    )


def walk_summary(facts: FitFacts) -> str:
    """How many walked seams pass, in words."""
    if not facts.walks:
        return "There is no seam to walk."
    failed = sum(not walk.passes for walk in facts.walks)
    words = f"All {len(facts.walks)} pass."
    if failed:
        words = f"{failed} of {len(facts.walks)} fail: look at the draft's own seams first."
    return " ".join([words, *(f"{line}." for line in walked_as_cut(facts.shifted, facts.units))])
