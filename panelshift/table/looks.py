"""What step 4 can show beside the fabrics: a further way to look is one more entry in `LOOKS`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from ..errors import PanelshiftError
from ..fit.fact_tables import growth_tables, narrow, waist_choices, walk_table, your_girths
from ..fit.facts import FitFacts
from ..fit.first_page import answers
from ..fit.html_page import walk_summary
from ..units import show
from .against_view import against_view
from .layer_view import overlay_view
from .solid_view import solid_view
from .stages import State
from .views import is_decided, late_view, told
from .wrap_view import wrap_view

Query = Mapping[str, str]
"""What the controls of a page ask for."""


@dataclass(frozen=True)
class WayToLook:
    """A way to look at the layers.

    *name*: in addresses and ids: ``/look/NAME`` gives its template alone, for its own controls to
    ask for. *title*: on its button. *template*: shows ``look``, which is what *view* returns of a
    state whose facts are known, and of what was kept aside as A; *whole*: the same with the
    controls, put into step 4.
    """

    name: str
    title: str
    template: str
    whole: str
    view: Callable[[State, Query, State | None], dict[str, Any]]


def _of_facts(
    view: Callable[[FitFacts, Query], dict[str, Any]],
) -> Callable[[State, Query, State | None], dict[str, Any]]:
    """A view of one corset alone."""

    def shown(state: State, query: Query, aside: State | None) -> dict[str, Any]:
        assert state.facts.value is not None  # as who asks has seen to
        return view(state.facts.value, query)

    return shown


LOOKS: Final[Mapping[str, WayToLook]] = {
    look.name: look
    for look in (
        WayToLook(
            "overlay", "Cut lines", "overlay.html", "cut-lines.html", _of_facts(overlay_view)
        ),
        WayToLook("wrap", "Wrapped", "wrap-view.html", "wrap.html", _of_facts(wrap_view)),
        WayToLook("solid", "On the body", "solid-view.html", "solid.html", _of_facts(solid_view)),
        WayToLook("against", "A and B", "against-view.html", "against.html", against_view),
    )
}
"""By name, in the order of their buttons; the first is shown until another is chosen."""


def chosen_look(query: Query) -> WayToLook:
    """The way to look that a page asks for; the first if it names none that there is."""
    return LOOKS.get(query.get("look", ""), next(iter(LOOKS.values())))


def look_view(state: State | None, query: Query, aside: State | None = None) -> dict[str, Any]:
    """Return everything that step 4 shows, nothing but the reason if it cannot.

    *aside*: what was kept as A.
    """
    if state is None:
        return {"look": None, "unmeasured": (), "trouble": [], **late_view(None)}
    with state.lock:
        facts = state.facts.value
        # Only now is known whether the steps are in order.
        late = late_view(state)
        if facts is None:
            error = state.shifted.error or state.facts.error
            trouble = [] if error is None else [told(error)]
            return {"look": None, "unmeasured": state.unmeasured, "trouble": trouble, **late}
        chosen = chosen_look(query)
        shown: dict[str, Any] = {
            "looks": tuple(LOOKS.values()),
            "chosen": chosen,
            "trouble": [],
            "drafted": facts.drafted,
            "decided": state.file.value is not None and is_decided(state.file.value),
        }
        try:
            shown["look"] = chosen.view(state, query, aside)
        except PanelshiftError as error:
            shown |= {"look": None, "unmeasured": (), "trouble": [told(error)]}
        return shown | late


def tables_view(state: State | None) -> dict[str, Any]:
    """Return what follows the picture: what to do, sizes, seams and growth; they take longer."""
    if state is None:
        return {"tables": None, **late_view(None)}
    with state.lock:
        facts = state.facts.value
        try:
            tables = None if facts is None else _tables(facts)
        except PanelshiftError:
            # Said beside the picture, which needs less.
            tables = None
        return {"tables": tables, **late_view(state)}


def _tables(facts: FitFacts) -> dict[str, Any]:
    return {
        "units": facts.units,
        "answers": answers(facts),
        "girths": narrow(waist_choices(facts), your_girths(facts)),
        "growth": narrow(*growth_tables(facts)),
        "sewing": facts.sewing,
        "walks": narrow(walk_table(facts)) if facts.walks else [],
        "walk_words": walk_summary(facts),
        "tolerance": show(facts.basis.options.seam_tolerance, facts.units),
    }
