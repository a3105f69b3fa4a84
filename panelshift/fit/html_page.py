"""The fit sheet as one self-contained HTML page."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from ..body import ClassModel, FormerModel, MeanFormModel, TapeModel
from ..body.form import FormModel
from ..cutting.composing import CAUTION
from ..needs import layout_picture
from ..sheets.svg_writer import key_line
from ..units import show
from .fact_tables import (
    alike_tables,
    bulk_table,
    former_table,
    growth_tables,
    matching_table,
    narrow,
    needs_table,
    rolling_tables,
    side_by_side,
    turning_table,
    waist_choices,
    walk_table,
    your_girths,
)
from .facts import FitFacts
from .girths import OUTSIDE, SKIN, coarse, doubt_words
from .layer_change import overlay_figures
from .rolling import COMMON_OBJECTS
from .sections import section_figures, short_names

if TYPE_CHECKING:
    from jinja2 import Environment


def fit_page(facts: FitFacts) -> bytes:
    """Return the page; the same facts always give the same bytes."""
    from markupsafe import Markup

    def picture(svg: str) -> Any:
        # Built by lxml, which has escaped every name in it.
        return Markup(svg)

    template = templates("panelshift.fit").get_template("fit.html")
    return template.render(**_content(facts, picture)).encode()


def templates(package: str) -> Environment:
    """The templates of a package: what is put into them is escaped, what is missing an error."""
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
        "units": units,
        "pattern_headline": pattern.headline(units),
        "full": pattern.full,
        "drafted": facts.drafted,
        "drafted_named": basis.drafted_named,
        "headline": headline(facts),
        "answers": answers(facts),
        "warnings": facts.warnings(),
        "settings": basis.settings,
        "gap": show(basis.gap, units),
        "busk": show(options.busk, units) if options.busk else "",
        "seasoning": _seasoning(facts),
        "no_spread": any(None in row.plus_minus.values() for row in facts.girths),
        "waist_choices": narrow(waist_choices(facts)),
        "your_girths": narrow(your_girths(facts)),
        "side_by_side": narrow(*side_by_side(facts)),
        "sections": [{"level": item.level, "svg": picture(svg)} for item, svg in sections],
        "section_names": _section_names(facts),
        "how_drawn": _how_drawn(facts),
        "turning": narrow(turning_table(facts)),
        "matching": narrow(matching_table(facts)) if facts.matched else [],
        "growth": narrow(*growth_tables(facts)),
        "sewing": facts.sewing,
        "bulk": narrow(bulk_table(facts)) if facts.bulk else [],
        "key": [
            {"name": name, "svg": picture(key_line(style))} for name, style in facts.styles.items()
        ],
        "magnified": f"{facts.magnified:g}",
        "overlays": [
            {"panel": panel.name, "svg": picture(svg)}
            for panel, svg in zip(pattern.panels, overlays, strict=True)
        ],
        "tolerance": show(options.seam_tolerance, units),
        "walk_summary": walk_summary(facts),
        "walks": narrow(walk_table(facts)) if facts.walks else [],
        "alike": narrow(*alike_tables(facts)),
        "rolling": narrow(*rolling_tables(facts)),
        "formers": narrow(former_table(facts)),
        "objects": [
            {
                "name": thing.name,
                "size": f"{coarse(thing.smallest, units)} to {coarse(thing.largest, units)}",
                "source": thing.source,
                "long": coarse(thing.long, units),
            }
            for thing in COMMON_OBJECTS
        ],
        "needs_table": narrow(needs_table(facts)),
        "needs": [
            {
                "fabric": layout.fabric,
                "width": coarse(layout.cloth_width, units),
                "svg": picture(layout_picture(layout, units)),
            }
            for layout in facts.needs.layouts
        ],
        "cautions": CAUTION,
    }


def headline(facts: FitFacts) -> str:
    """One line on the waist: inside and outside, with plus or minus where it is known."""
    units = facts.units
    for row in facts.yours:
        if row.level == "waist":
            parts = []
            for name, surface in (("inside", SKIN), ("outside", OUTSIDE)):
                error = row.plus_minus[surface]
                spread = "" if error is None else f", plus or minus {show(error, units)}"
                parts.append(f"{name} {show(row.closed[surface], units)}{spread}")
            return f"Finished waist, lacing gap counted: {'; '.join(parts)}."
    return ""


def answers(facts: FitFacts) -> list[str]:
    """Short answers to what decides the cut: which panels matter, and what if nothing is done."""
    units = facts.units
    lines = []
    at_waist = [t for t in facts.turning if t.level == "waist" and t.share is not None]
    most = sorted(at_waist, key=lambda t: -(t.share or 0.0))[:3]
    if len(at_waist) > len(most) > 0:
        named = ", ".join(f"{t.panel} ({t.share:.0%})" for t in most)
        lines.append(
            f"Panels that matter most at the waist, with their share of the turn: {named}."
        )
    lines += doubt_words(facts.shifted, units)
    strained = max(facts.alike, key=lambda item: item.strain or 0.0, default=None)
    if strained is not None and strained.strain:
        lines.append(
            f"If all layers were cut alike, {strained.layer} would have to stretch by up to "
            f"{strained.strain:.2%} ({strained.panel}, {strained.level})."
        )
    buckled = max(facts.alike, key=lambda item: item.buckle or 0.0, default=None)
    if buckled is not None and buckled.buckle:
        lines.append(
            f"If all layers were cut alike, {buckled.layer} would have "
            f"{show(-buckled.growth, units)} over in {buckled.panel} at the {buckled.level}: "
            f"one smooth wave of it would stand {show(buckled.buckle, units)} high."
        )
    return lines


def _section_names(facts: FitFacts) -> list[str]:
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
    return "The shape is the section model's own, at the draft's girth."


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
    if failed:
        return f"{failed} of {len(facts.walks)} fail: look at the draft's own seams first."
    return f"All {len(facts.walks)} pass."
