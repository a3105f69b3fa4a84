"""From a drawing to a pattern, step by step."""

from __future__ import annotations

from ..errors import PanelshiftError
from ..pattern.drawing import Drawing, Ledger
from ..pattern.pattern import Pattern
from .causes import because, shrunk_words
from .corners import find_corners
from .dashes import join_dashes
from .draft import Draft, Meetings
from .finding import cross, settle
from .joining import join
from .leaving import leave_out
from .marks import assign_marks, make_panel
from .nested import sort_nested
from .order import order
from .pages import tell_cut_off
from .reading import Reading
from .sizes import pick_size, tell_sizes
from .taking_off import take_off
from .tidy import drop_joined_copies, drop_specks, tidy
from .waistlines import find_waistlines, name_roles


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
    draft = join_dashes(draft)
    draft = tidy(draft)
    draft = join(draft)
    draft = drop_joined_copies(draft)
    return drop_specks(draft)


def _assembled(drawing: Drawing, reading: Reading) -> Pattern:
    draft = find_waistlines(outlined(drawing, reading))
    crossed = pick_size(cross(draft))
    draft = settle(sort_nested(crossed))
    tell_sizes(draft, crossed)
    tell_cut_off(draft)
    named, full = order(draft)
    corners = find_corners(named, reading.corners)
    named, corners = take_off(draft, named, corners, full)
    bare = tuple(map(make_panel, named, corners))
    panels = assign_marks(draft, bare)
    return Pattern(panels, full, drawing.source, tuple(draft.ledger.remarks))


def _laid_out(drawing: Drawing, reading: Reading) -> Draft:
    """A draft of which only the names are known."""
    ledger = Ledger()
    for item in drawing.left_out:
        ledger.leave_out("not-read", item.reason, item.ident)
    for words in drawing.warnings:
        ledger.warn("file", words)
    if drawing.shrunk is not None:
        ledger.warn("shrunk-page", shrunk_words(drawing.shrunk))
    roles = name_roles(drawing, reading.waistlines)
    return Draft(drawing, reading, ledger, roles, Meetings(), drawing.shapes)
