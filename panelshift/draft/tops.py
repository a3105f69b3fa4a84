"""Where the top of each panel lies: by named levels, words, the other panels, or the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from ..errors import few
from ..outline import FloatArray
from .draft import Draft, FoundPanel
from .names import LEVELS_ABOVE, LEVELS_BELOW
from .written_names import tops_by_words

_PAGE_UP: Final = np.array([0.0, -1.0])
_SIDEWAYS: Final = 0.05
_SPEAKS: Final = 0.7
"""Words along a panel, or this way and that, say nothing of its top."""
_ALIKE: Final = 0.9
"""Tops lie alike if their mean, seen along another panel, is nearly as long as each of them."""


def up_vectors(draft: Draft) -> list[FloatArray]:
    """The direction from waist to top of each panel.

    By named levels, else words on it, else as on the panels that have them, else the page.
    """
    normals = [_across_the_waist(found) for found in draft.panels]
    votes, against_itself = _votes(draft, normals)
    told = [np.sign(vote) * normal for normal, vote in zip(normals, votes, strict=True) if vote]
    others = np.mean(told, axis=0) if told else None
    mixed = any(float(top @ _PAGE_UP) < -_SIDEWAYS for top in told)
    result, turned, by_sheet = [], [], []
    for found, normal, vote in zip(draft.panels, normals, votes, strict=True):
        by_page = float(normal @ _PAGE_UP)
        # Panels of one draft stand alike: those on which a level is missing go with the rest.
        alike = 0.0 if others is None else float(normal @ others)
        if vote == 0.0 and abs(alike) > _ALIKE and found.ident not in against_itself:
            vote = alike
            if vote * by_page < _SIDEWAYS * abs(vote):
                turned.append(found.ident)
        elif vote == 0.0:
            vote = by_page
            if mixed:
                by_sheet.append(found.ident)
            if abs(vote) < _SIDEWAYS:
                draft.ledger.warn(
                    "lies-sideways",
                    f"{found.ident}: the panel lies on its side and no level line is named, so "
                    "its top is taken to be on the left; name a bust or hip line to say it",
                    found.ident,
                )
                vote = -float(normal[0])
        result.append(normal if vote > 0.0 else -normal)
    if turned:
        draft.ledger.warn(
            "top-taken",
            f"{few(turned)}: nothing there tells the top, which is taken to lie as on the other "
            "panels, not upwards on the sheet; name a bust or hip line on each to say it",
            *turned,
        )
    if by_sheet:
        draft.ledger.warn(
            "top-taken",
            f"{few(by_sheet)}: nothing there tells the top, which is taken to lie upwards on the "
            "sheet, though other panels stand on their heads; name a bust or hip line on each to "
            "say it",
            *by_sheet,
        )
    if others is None and draft.panels and all(up @ _PAGE_UP > _SIDEWAYS for up in result):
        draft.ledger.note(
            "top-taken",
            "the panels are taken as they stand on the sheet, tops upwards: no named level says so",
        )
    return result


def _across_the_waist(found: FoundPanel) -> FloatArray:
    step = found.waist.points[1] - found.waist.points[0]
    return np.asarray(np.array([-step[1], step[0]]) / np.hypot(*step))


def _votes(draft: Draft, normals: Sequence[FloatArray]) -> tuple[list[float], set[str]]:
    """Whether levels, else words, put the top along each normal (above 0), or against it.

    Then the panels whose levels put it on both sides.
    """
    senses = {
        shape.ident: 1.0 if role.level in LEVELS_ABOVE else -1.0
        for shape in draft.shapes
        if (role := draft.role(shape)) and role.level in LEVELS_ABOVE + LEVELS_BELOW
    }
    levels = [shape for shape in draft.shapes if shape.ident in senses]
    crossed = draft.meetings.across([found.outline for found in draft.panels], levels)
    # Words are not looked at where levels tell it.
    tops = [np.zeros(2)] * len(crossed)
    if not all(crossed):
        tops = tops_by_words(draft, draft.panels)
    votes, against_itself, by_levels = [], set(), []
    for found, normal, hits, top in zip(draft.panels, normals, crossed, tops, strict=True):
        middle = found.waist.points.mean(axis=0)
        vote = 0.0
        for shape, hit in hits:
            above = np.sign((hit.points.mean(axis=0) - middle) @ normal)
            vote += senses[shape.ident] * float(above)
        if vote == 0.0 and hits:
            against_itself.add(found.ident)
        elif vote * float(normal @ _PAGE_UP) < -_SIDEWAYS * abs(vote):
            by_levels.append(found.ident)
        if vote == 0.0 and abs(normal @ top) > _SPEAKS:
            vote = float(normal @ top)
            if vote * float(normal @ _PAGE_UP) < _SIDEWAYS * abs(vote):
                draft.ledger.note(
                    "top-by-words", f"{found.ident}: its top was told by its words", found.ident
                )
        votes.append(vote)
    if by_levels:
        draft.ledger.note(
            "top-by-levels",
            f"{few(by_levels)}: upside down on the sheet, as named levels tell: bust lines lie "
            "above the waist, hip lines below",
            *by_levels,
        )
    return votes, against_itself
