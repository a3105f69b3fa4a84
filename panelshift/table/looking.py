"""What step 4 shows: a panel in all layers, and the tables that go with it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

from markupsafe import Markup

from ..fit.fact_tables import growth_tables, waist_choices, walk_table, your_girths
from ..fit.facts import FitFacts
from ..fit.grid import Grid, narrow
from ..fit.html_page import answers, headline
from ..fit.overlay_figure import MAGNIFICATIONS
from ..sheets.picture import key_line
from ..units import show
from .fabric_view import key_of
from .overlay import Look, overlay
from .stages import State
from .views import told

MOST_COLUMNS: Final = 6


def look_of(form: Mapping[str, str], facts: FitFacts) -> Look:
    """Return what the controls ask for; what makes no sense is left at its default.

    Parameters
    ----------
    form : mapping
    facts : FitFacts
    """
    panels = facts.pattern.panels
    names = [layer.fabric.name for layer in facts.layers]
    panel = _whole(form.get("panel", ""))
    if panel is None or panel >= len(panels):
        panel = _most_turned(facts)
    enlarged = _whole(form.get("enlarged", ""))
    part = _whole(form.get("part", ""))
    return Look(
        panel,
        form.get("layer", "") if form.get("layer") in names else "",
        float(enlarged) if enlarged is not None and float(enlarged) in MAGNIFICATIONS else 0.0,
        1.0 if part is None else min(max(part, 0), 100) / 100.0,
    )


def _most_turned(facts: FitFacts) -> int:
    """The panel that turns most at the waist: there the layers differ most."""
    names = [panel.name for panel in facts.pattern.panels]
    at_waist = {turn.panel: turn.angle for turn in facts.turning if turn.level == "waist"}
    return max(range(len(names)), key=lambda index: at_waist.get(names[index], 0.0))


def _whole(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else None


def look_view(state: State | None, form: Mapping[str, str]) -> dict[str, Any]:
    """Return everything that step 4 shows, nothing but the reason if it cannot.

    Parameters
    ----------
    state : State or None
        None if nothing is on the table.
    form : mapping
        What its controls ask for.
    """
    if state is None:
        return {"look": None, "unmeasured": (), "trouble": []}
    with state.lock:
        facts = state.facts.value
        if facts is None:
            error = state.shifted.error or state.facts.error
            trouble = [] if error is None else [told(error)]
            return {"look": None, "unmeasured": state.unmeasured, "trouble": trouble}
        return {"look": overlay_view(state, facts, form) | _tables(facts), "trouble": []}


def overlay_view(state: State, facts: FitFacts, form: Mapping[str, str]) -> dict[str, Any]:
    """Return the picture of one panel and its controls.

    Parameters
    ----------
    state : State
    facts : FitFacts
        Of that state.
    form : mapping
    """
    look = look_of(form, facts)
    drawn = overlay(facts, state.changes(facts, look.panel), look)
    panels = [panel.name for panel in facts.pattern.panels]
    layers = [layer.fabric.name for layer in facts.layers]
    return {
        "panel": look.panel,
        "panels": panels,
        "layer": look.layer,
        "layers": layers,
        # The controls are left as they are while there is the same to choose from.
        "keep": key_of("\n".join([*panels, "", *layers])),
        "part": math.floor(100.0 * look.part + 0.5),
        "enlarged": f"{drawn.enlarged:g}",
        "chosen": f"{look.enlarged:g}" if look.enlarged else "",
        "enlargements": [f"{value:g}" for value in reversed(MAGNIFICATIONS)],
        "svg": _safe(drawn.svg),
        "widest": drawn.widest,
        "key": [
            {"name": name, "svg": _safe(key_line(style))} for name, style in drawn.styles.items()
        ],
        "growth_of": list(drawn.styles)[-1] if drawn.styles else "",
        "units": facts.units,
    }


def _tables(facts: FitFacts) -> dict[str, Any]:
    units = facts.units
    failed = sum(not walk.passes for walk in facts.walks)
    return {
        "headline": headline(facts),
        "answers": answers(facts),
        "girths": [*narrow(waist_choices(facts)), *narrow(your_girths(facts))],
        "growth": [part for grid in growth_tables(facts) for part in narrow(grid)],
        "walks": _walks(facts),
        "walk_words": (
            f"{failed} of {len(facts.walks)} fail: look at the draft's own seams first."
            if failed
            else f"All {len(facts.walks)} pass."
        ),
        "tolerance": show(facts.basis.options.seam_tolerance, units),
    }


def _walks(facts: FitFacts) -> list[Grid]:
    return narrow(walk_table(facts), MOST_COLUMNS) if facts.walks else []


def _safe(svg: str) -> Markup:
    # Built by lxml from panelshift's own curves and numbers; lxml has escaped every name in it.
    return Markup(svg)
