"""What the maker asks to leave out: layers of the drawing, and single elements."""

from __future__ import annotations

from dataclasses import replace

from ..errors import PatternError
from ..pattern.drawing import Shape
from .draft import Draft
from .roles import spaced

_MOST_LISTED = 20


def leave_out(draft: Draft) -> Draft:
    """Part shapes and texts from those that the maker asked to leave out.

    Raises `PatternError` if there is no layer or no element of that name.
    """
    return _leave_elements(_leave_layers(draft))


def layers(draft: Draft) -> list[str]:
    """Names of the groups in a drawing, in the order in which they come."""
    return list(dict.fromkeys(name for shape in draft.shapes for name in shape.groups))


def _leave_layers(draft: Draft) -> Draft:
    for layer in draft.reading.leave_layers:
        wanted = spaced(layer)
        gone = [s for s in draft.shapes if wanted in map(spaced, s.groups)]
        texts = [t for t in draft.drawing.texts if wanted in map(spaced, t.groups)]
        if not gone and not texts:
            known = layers(draft)
            more = f" and {len(known) - _MOST_LISTED} more" if len(known) > _MOST_LISTED else ""
            raise PatternError(
                f"the drawing has no layer {layer!r} to leave out",
                remedy=f"Its layers and groups: {', '.join(known[:_MOST_LISTED]) or 'none'}{more}.",
                element="pattern.leave_layers",
            )
        _tell(draft, gone, f"in the layer {layer}, which was left out as asked")
        kept = tuple(text for text in draft.drawing.texts if text not in texts)
        draft = replace(draft.without(gone), drawing=replace(draft.drawing, texts=kept))
    return draft


def _leave_elements(draft: Draft) -> Draft:
    for ident in draft.reading.leave_out:
        gone = [s for s in draft.shapes if ident in (s.ident, s.element, *s.names)]
        if not gone:
            raise PatternError(
                f"there is no element {ident!r} to leave out",
                remedy="Give ids of shapes in the drawing; panelshift check lists what it read.",
                element="pattern.leave_out",
            )
        _tell(draft, gone, "left out as asked")
        draft = draft.without(gone)
    return draft


def _tell(draft: Draft, gone: list[Shape], why: str) -> None:
    if gone:
        more = f" ({len(gone)} lines)" if len(gone) > 1 else ""
        draft.ledger.leave_out("left-out", f"{why}{more}", *(shape.ident for shape in gone))
