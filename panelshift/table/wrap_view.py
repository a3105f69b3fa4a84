"""The layers from flat to wrapped round the body, from all cut alike to each its own size."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..fit.fact_tables import NOTHING, Grid, plain
from ..fit.facts import FitFacts
from ..fit.wrapping import WrappedPart, Wrapping, wrapping, wrapping_picture
from ..sheets.palette import wanting
from ..units import cloth_length, summand
from .pattern_picture import safe
from .solid_view import whole_number
from .toml_changes import key_of


def wrap_view(facts: FitFacts, query: Mapping[str, str]) -> dict[str, Any]:
    """Return the picture at a level, its controls, and the same in words."""
    levels = {section.level: section for section in facts.sections}
    if not levels:
        return {"levels": (), "keep": ""}
    usual = "waist" if "waist" in levels else next(iter(levels))
    level = query.get("level", "") if query.get("level") in levels else usual
    wrapped, cut = (whole_number(query, name, usual, 0, 100) for name, usual in _USUAL)
    found = wrapping(
        facts.shifted, facts.layers, levels[level], wrapped=wrapped / 100.0, cut=cut / 100.0
    )
    most = f"{found.most:.1%} of the width"
    return {
        "levels": tuple(levels),
        "level": level,
        "wrapped": wrapped,
        "cut": cut,
        "keep": key_of("\n".join(["wrap", *levels])),
        "lift": f"{found.lift:g}",
        "waves": f"{found.waves:g}",
        "svg": safe(wrapping_picture(found)),
        "key": [
            (wanting(-1.0), f"too much, by {most}"),
            (wanting(0.0), "as it should be"),
            (wanting(1.0), f"strained, by {most}"),
        ],
        "words": _words(found, facts.units),
        "table": _table(facts, found),
    }


_USUAL = (("wrapped", 100), ("cut", 0))


def _all(found: Wrapping) -> list[WrappedPart]:
    return [part for parts in found.parts for part in parts]


def _words(found: Wrapping, units: str) -> str:
    """What is worst, in a sentence or two."""
    strained = max(_all(found), key=lambda part: part.strain, default=None)
    buckled = max(_all(found), key=lambda part: part.wave, default=None)
    said = []
    if strained is not None and strained.strain > 1e-6:
        said.append(f"{strained.layer} strains most in {strained.panel}, by {strained.strain:.1%}.")
    if buckled is not None and buckled.excess > 1e-6:
        over, high = (cloth_length(v, units, up=True) for v in (buckled.excess, buckled.wave))
        said.append(
            f"{buckled.layer} has {over} over in {buckled.panel}: one wave of it would stand "
            f"{high} high."
        )
    return " ".join(said) or "Every layer lies as it should: nothing strains, nothing is over."


def _table(facts: FitFacts, found: Wrapping) -> Grid:
    """Each layer with the panels in which it is worst."""
    rows = []
    for layer in facts.layers:
        name = layer.fabric.name
        own = [part for part in _all(found) if part.layer == name]
        strained = max(own, key=lambda part: part.strain)
        buckled = max(own, key=lambda part: part.wave)
        rows.append(
            plain(
                name,
                f"{strained.strain:.1%} in {strained.panel}" if strained.strain else NOTHING,
                f"{summand(buckled.excess, facts.units)} in {buckled.panel}"
                if buckled.excess
                else NOTHING,
                summand(buckled.wave, facts.units) if buckled.excess else NOTHING,
                kept=name == facts.drafted,
            )
        )
    units = facts.units
    heads = ("strains by at most", f"over by at most, {units}", f"wave, {units}")
    return Grid(f"At the {found.section.level}", "layer", heads, tuple(rows))
