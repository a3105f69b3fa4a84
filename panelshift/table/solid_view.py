"""The corset in three dimensions: its points for the page, and the same drawn still."""

from __future__ import annotations

import hashlib
import math
import pickle
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final, Literal

import numpy as np
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from ..fit.corset_picture import PaintedPanel, Viewpoint, still_picture
from ..fit.fact_tables import Grid, plain
from ..fit.facts import FitFacts
from ..fit.html_page import section_names
from ..fit.laid_panels import ROWS, STRIPS, LaidLayer, LaidPanel, suitable_lift
from ..fit.sections import short_names
from ..fit.share_card import share_card
from ..outline import FloatArray
from ..sheets.palette import CLASS_TINTS, INK, PALE, wanting
from ..sheets.svg_writer import stand_alone
from ..units import caliper_length, show, summand
from .session import Session
from .toml_changes import key_of

Colouring = Literal["class", "growth", "strain"]

COLOURINGS: Final[Mapping[Colouring, str]] = {
    "class": "where the panel looks",
    "growth": "how much wider it is cut",
    "strain": "strain, were all cut alike",
}

MOST_LIFT: Final = 50

_SCALE: Final = tuple(wanting(share) for share in (-1.0, 0.0, 1.0))
"""Colours of the most that is too much, of nothing, and of the most that is wanting."""

_RUNS: Final = 7
"""Colours of a strip from its bottom to its top, in the still picture."""


@dataclass(frozen=True)
class SolidChoice:
    """What of the corset is looked at, and from where.

    *layer*: all, each with a part taken away, if empty. *lift*: how many times as far apart layers
    are drawn as they lie. *aside*, *above*: of the point of view, in degrees.
    """

    layer: str
    by: Colouring
    lift: int
    aside: int
    above: int


def solid_choice(query: Mapping[str, str], facts: FitFacts) -> SolidChoice:
    """Return what the controls ask for; what makes no sense is left at its default."""
    names = [layer.fabric.name for layer in facts.layers]
    by: Colouring = next((name for name in COLOURINGS if name == query.get("by")), "growth")
    suits = int(suitable_lift(facts.laid, facts.laid_layers))
    return SolidChoice(
        query.get("layer", "") if query.get("layer") in names else "",
        by,
        whole_number(query, "lift", suits, 1, MOST_LIFT),
        whole_number(query, "aside", 24, -180, 180),
        whole_number(query, "above", 14, -20, 70),
    )


def whole_number(query: Mapping[str, str], name: str, usual: int, least: int, most: int) -> int:
    """Return the whole number that a control asks for, within bounds."""
    text = query.get(name, "")
    digits = text.removeprefix("-")
    if not (digits.isascii() and digits.isdigit() and len(digits) < 5):
        return usual
    return min(max(int(text), least), most)


def _shown(facts: FitFacts, choice: SolidChoice) -> list[tuple[LaidPanel, LaidLayer]]:
    """Panels in the layers that are looked at."""
    found = []
    for place, (panel, layers) in enumerate(zip(facts.laid, facts.laid_layers, strict=True)):
        most = _left_on(place, len(facts.laid), len(facts.layers))
        for layer in layers:
            order = [item.fabric.name for item in facts.layers].index(layer.name)
            if choice.layer == layer.name or (not choice.layer and order < most):
                found.append((panel, layer))
    return found


def _left_on(place: int, panels: int, layers: int) -> int:
    """Layers that are left on a panel where all are shown: on the wearer's left fewer in front."""
    half = panels // 2
    return layers if place < half else math.ceil((place - half + 1) / (panels - half) * layers)


def _most(facts: FitFacts, by: Colouring) -> float:
    """The largest number to colour by, in any layer, that the scale ends at."""
    values = [_values(layer, by) for own in facts.laid_layers for layer in own]
    return max((float(np.abs(value).max()) for value in values), default=0.0) or 1.0


def _values(layer: LaidLayer, by: Colouring) -> FloatArray:
    return layer.strain if by == "strain" else layer.growth


def still_solid(facts: FitFacts, choice: SolidChoice) -> str:
    """The picture as the server draws it."""
    most = _most(facts, choice.by)
    pieces = []
    for panel, layer in _shown(facts, choice):
        if choice.by == "class":
            colours = [[CLASS_TINTS.get(panel.curvature, PALE)]] * STRIPS
        else:
            share = _values(layer, choice.by) / most
            middles = 0.5 * (share[1:] + share[:-1])
            # Of many layers little of each is seen.
            runs = _RUNS if choice.layer else 4
            rows = np.linspace(0, ROWS - 1, 2 * runs + 1).astype(int)[1::2]
            colours = [[wanting(float(value)) for value in own[rows]] for own in middles]
        points = panel.at(layer.distance * choice.lift) if layer.distance else panel.points
        pieces.append(PaintedPanel(panel, points, colours))
    view = Viewpoint(math.radians(choice.aside), math.radians(choice.above))
    return still_picture(pieces, view)


def _mark(facts: FitFacts) -> str:
    """Changes whenever any of the pictures does."""
    shown = pickle.dumps((facts.laid, facts.laid_layers))
    return hashlib.sha256(shown).hexdigest()[:16]


def solid_view(facts: FitFacts, query: Mapping[str, str]) -> dict[str, Any]:
    """Return the still picture, its controls, and the same in words."""
    choice = solid_choice(query, facts)
    names = [layer.fabric.name for layer in facts.layers]
    return {
        "choice": choice,
        "layers": names,
        "colourings": COLOURINGS,
        "keep": key_of("\n".join(["solid", *names])),
        "most_lift": MOST_LIFT,
        "asked": asdict(choice),
        # The picture is fetched anew when what it shows is another.
        "drawn": _mark(facts),
        "key": _key(facts, choice),
        "drafted": facts.drafted,
        "table": _table(facts),
        "names": section_names(facts),
        "units": facts.units,
    }


def _key(facts: FitFacts, choice: SolidChoice) -> list[tuple[str, str]]:
    """Colours with what they mean."""
    if choice.by == "class":
        return [(tint, f"{name} panels") for name, tint in CLASS_TINTS.items()]
    most = _most(facts, choice.by)
    ends = f"{most:.1%}" if choice.by == "strain" else show(most, facts.units)
    less, more = (
        ("too much cloth", "must stretch") if choice.by == "strain" else ("narrower", "wider")
    )
    return [
        (_SCALE[0], f"{ends} {less}"),
        (_SCALE[1], f"as {facts.drafted}"),
        (_SCALE[2], f"{ends} {more}"),
    ]


def _table(facts: FitFacts) -> Grid:
    """The same in numbers: each layer, and the panel in which it differs most."""
    rows = []
    for layer in facts.layers:
        name = layer.fabric.name
        own = [
            (panel, item)
            for panel, layers in zip(facts.laid, facts.laid_layers, strict=True)
            for item in layers
            if item.name == name
        ]
        panel, item = max(own, key=lambda pair: float(np.abs(pair[1].growth).max()))
        place = np.unravel_index(int(np.abs(item.growth).argmax()), item.growth.shape)
        grown, strain = float(item.growth[place]), float(item.strain[place])
        rows.append(
            plain(
                name,
                caliper_length(item.distance, facts.units, signed=True).split()[0],
                summand(grown, facts.units, signed=True),
                f"{strain:+.1%}",
                panel.name if grown else "-",
                kept=name == facts.drafted,
            )
        )
    return Grid(
        "What the picture shows",
        "layer",
        (f"lies out, {facts.units}", f"wider by at most, {facts.units}", "strain there", "panel"),
        tuple(rows),
    )


def solid_data(facts: FitFacts) -> dict[str, Any]:
    """All panels and layers for the page to draw: mm to the wearer's left, ahead and up."""
    names = [layer.fabric.name for layer in facts.layers]
    panels, brief = [], short_names([panel.name for panel in facts.pattern.panels])
    for place, (panel, layers) in enumerate(zip(facts.laid, facts.laid_layers, strict=True)):
        panels.append(
            {
                "name": brief[panel.name] if panel.named else "",
                "edges": [ends.tolist() for ends in panel.edges],
                "tint": CLASS_TINTS.get(panel.curvature, PALE),
                "points": _numbers(panel.points, 2),
                "outward": _numbers(panel.outward, 4),
                "left_on": _left_on(place, len(facts.laid), len(names)),
                "layers": [
                    {
                        "layer": names.index(layer.name),
                        "distance": round(layer.distance, 4),
                        "growth": _numbers(layer.growth, 4),
                        "strain": _numbers(layer.strain, 6),
                    }
                    for layer in layers
                ],
            }
        )
    return {
        "layers": names,
        "columns": STRIPS + 1,
        "rows": ROWS,
        "most": {"growth": _most(facts, "growth"), "strain": _most(facts, "strain")},
        "scale": _SCALE,
        "ink": INK,
        "inside": PALE,
        "panels": panels,
    }


def _numbers(values: FloatArray, digits: int) -> list[float]:
    numbers: list[float] = np.round(values, digits).ravel().tolist()
    return numbers


class SolidRoutes:
    """The corset of one session, to be drawn by the page and to be kept as a picture."""

    def __init__(self, session: Session) -> None:
        self.session = session

    def routes(self) -> list[Route]:
        """Everything that can be asked for."""
        return [
            Route("/solid.json", self.points),
            Route("/solid.svg", self.picture),
            Route("/card.svg", self.card),
        ]

    async def points(self, request: Request) -> Response:
        """Everything that the page needs to draw it; nothing where there is none yet."""
        return JSONResponse(await run_in_threadpool(self._of, solid_data, {}))

    async def picture(self, request: Request) -> Response:
        """The still picture, by itself."""
        query = dict(request.query_params)

        def draw(facts: FitFacts) -> str:
            return stand_alone(still_solid(facts, solid_choice(query, facts)))

        return await self._drawn(draw, "corset.svg")

    async def card(self, request: Request) -> Response:
        """The card to share; with the job's title only if that is asked for."""
        named = request.query_params.get("named") == "1"

        def draw(facts: FitFacts) -> str:
            return share_card(facts, title=facts.basis.plan.title if named else "")

        return await self._drawn(draw, "card.svg")

    async def _drawn(self, draw: Callable[[FitFacts], str], name: str) -> Response:
        found = await run_in_threadpool(self._of, draw, "")
        if not found:
            return Response(status_code=404)
        headers = {"content-disposition": f'attachment; filename="{name}"'}
        return Response(found, media_type="image/svg+xml", headers=headers)

    def _of(self, made: Callable[[FitFacts], Any], nothing: Any) -> Any:
        state = self.session.state()
        if state is None:
            return nothing
        with state.lock:
            facts = state.facts.value
            return nothing if facts is None else made(facts)
