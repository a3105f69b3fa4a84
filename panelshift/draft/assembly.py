"""From a drawing to a pattern, step by step, without what the maker asks to leave out."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from ..errors import PanelshiftError, PatternError
from ..outline import Curve
from ..outline.bezier import LINE
from ..outline.measure import length
from ..outline.planar import area
from ..pattern.drawing import Drawing, Ledger, Shape, refusal, spaced
from ..pattern.panel import Corners, Panel
from ..pattern.pattern import Pattern
from .bends import bent_corners
from .causes import (
    because,
    shrunk_words,
    tell_cut_off,
    tell_reduced,
    tell_unit,
    told_where,
)
from .clues import refuse_lines_along
from .corners import find_corners
from .dashes import join_dashes
from .draft import Draft, Meetings, Reading
from .finding import cross, settle
from .gores import part_gores, set_gores, tell_levels_apart
from .joining import join
from .marks import assign_marks, make_panel, tell_undivided
from .mates import fronts_are_backs, tell_other_order, tell_seams_that_go_on, tell_waists_apart
from .names import without_panels
from .nested import sort_nested
from .order import NamedPanel, order
from .piled import part_pieces, stand, upright_pieces
from .rulers import tell_rulers
from .sizes import pick_size, tell_sizes
from .slits import part_slits, tell_slits_alone
from .split_lines import split_roles, with_split_lines
from .taking_off import take_off
from .tidy import drop_joined_copies, drop_specks, tidy
from .uprights import own_uprights
from .waist_marks import join_waist_marks
from .waistlines import find_waistlines, name_roles
from .written_sizes import tell_written_waist


def assemble(
    drawing: Drawing, reading: Reading | None = None, *, keep_faults: bool = False
) -> Pattern:
    """Put the shapes of a drawing together into a pattern.

    *reading*: what names and position do not say. *keep_faults*: return a pattern that must not be
    cut all the same, to be looked at: its ledger holds what must be mended, such as a panel without
    a waistline.

    Raises `PatternError` if the shapes do not make up panels; the message names the element and the
    remedy.
    """
    try:
        pattern = _assembled(drawing, reading or Reading())
    except PanelshiftError as error:
        raise because(error, drawing).located(source=drawing.source) from None
    if not keep_faults:
        pattern.refuse_faults()
    return pattern


def outlined(drawing: Drawing, reading: Reading) -> Draft:
    """A draft whose closed outlines are found, but not yet which lines are waistlines.

    Raises `PatternError` as `assemble`, of outlines alone.
    """
    draft = _laid_out(drawing, reading)
    draft = leave_out(draft)
    draft = part_slits(join_dashes(draft))
    draft = tidy(draft)
    draft = join(draft)
    draft = drop_joined_copies(draft)
    return drop_specks(draft)


def _assembled(drawing: Drawing, reading: Reading) -> Pattern:
    draft = find_waistlines(part_gores(join_waist_marks(outlined(drawing, reading))))
    crossed = pick_size(cross(draft))
    crossed = part_pieces(crossed)
    draft = settle(sort_nested(crossed))
    tell_sizes(draft, crossed)
    tell_cut_off(draft)
    try:
        named, full = order(draft)
    except PatternError as error:
        # Outlines that are too many have too many names as well.
        raise refusal(draft.ledger.remarks) or error from None
    named = own_uprights(draft, named, full)
    made, corners, told = _cornered(draft, named, full)
    if not reading.corners and fronts_are_backs(made, full):
        named = tuple(panel.turned() for panel in named)
        made, corners, told = _cornered(draft, named, full)
        words = "where the panels' fronts are was told by their edges, not by their places"
        draft.ledger.note("order", words)
    draft.ledger.remarks.extend(told.remarks)
    net, corners = take_off(draft, named, corners, full)
    if net != named:
        made = tuple(map(make_panel, net, corners))
    bare = set_gores(draft, made, full)
    marked = assign_marks(draft, (*bare, *upright_pieces(draft, bare)))
    panels = stand(draft, with_split_lines(draft, marked), full)
    on = {t.ident for panel in panels for piece in (panel, *panel.pieces) for t in piece.texts}
    beside = (text.content for text in draft.drawing.texts if text.ident not in on)
    written = tuple(filter(None, (drawing.title, *beside)))
    pattern = Pattern(panels, full, drawing.source, words=written)
    tell_unit(draft, pattern)
    tell_rulers(draft)
    refuse_lines_along(draft, pattern)
    tell_waists_apart(draft, pattern)
    tell_levels_apart(draft, pattern)
    tell_slits_alone(draft)
    tell_other_order(draft, pattern)
    tell_seams_that_go_on(draft, pattern)
    tell_undivided(draft, pattern)
    tell_reduced(draft, pattern)
    tell_written_waist(draft, pattern)
    return replace(pattern, ledger=told_where(draft.ledger.remarks, drawing))


def _cornered(
    draft: Draft, named: tuple[NamedPanel, ...], full: bool
) -> tuple[tuple[Panel, ...], list[Corners], Ledger]:
    """The panels with their corners, and what is to be said of these."""
    told = Ledger()
    corners = find_corners(named, draft.reading.corners)
    made = tuple(map(make_panel, named, corners))
    bent = bent_corners(draft, made, corners, full, told)
    return made if bent == corners else tuple(map(make_panel, named, bent)), bent, told


def _laid_out(drawing: Drawing, reading: Reading) -> Draft:
    """A draft of which only the names are known."""
    drawing = replace(drawing, shapes=tuple(map(_closed, without_panels(drawing.shapes))))
    ledger = Ledger()
    for item in drawing.left_out:
        ledger.leave_out("not-read", item.reason, item.ident)
    for words in drawing.notes:
        ledger.note("pages-joined", words)
    for words in drawing.warnings:
        ledger.warn("file", words)
    if drawing.shrunk is not None:
        ledger.warn("shrunk-page", shrunk_words(drawing.shrunk))
    roles = name_roles(drawing, reading.waistlines)
    roles = split_roles(drawing.shapes, roles, reading.split_at)
    return Draft(drawing, reading, ledger, roles, Meetings(), drawing.shapes)


_MOST_LISTED: Final = 20
_ONE_PLACE_MM: Final = 1e-6


def _closed(shape: Shape) -> Shape:
    """What ends where it began and goes round something is closed: a channel, a gore, a panel.

    Some programs leave out the command that says so, others close a single line by the way back.
    """
    curve = shape.curve
    back = float(np.abs(curve.control[-1, 3] - curve.control[0, 0]).max()) <= _ONE_PLACE_MM
    if back and len(curve) == 2 and (curve.degree == LINE).all():
        return replace(shape, curve=Curve(curve.control[:1], curve.degree[:1]))
    if curve.closed or float(np.abs(curve.end - curve.start).max()) > _ONE_PLACE_MM:
        return shape
    # A line there and back goes round nothing.
    if area(curve) <= _ONE_PLACE_MM * length(curve) ** 2:
        return shape
    return replace(shape, curve=Curve.chain([curve], closed=True))


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
