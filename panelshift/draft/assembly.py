"""From a drawing to a pattern, step by step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..errors import PatternError
from ..pattern.drawing import Drawing
from ..pattern.panel import Panel
from ..pattern.pattern import Pattern
from .edges import find_corners
from .enclosing import NetOutline
from .finding import find_panels
from .joining import JOIN_TOLERANCE_MM
from .marks import assign_marks, level_across
from .order import Halves, Placed, order_panels


@dataclass(frozen=True)
class Reading:
    """What the maker says about a drawing that geometry cannot tell.

    Parameters
    ----------
    order : tuple of str
        Panel names or ids from centre front to centre back.
    halves : {"auto", "half", "full"}
        Whether the panels are half the body or go right round it; told from names if auto.
    waistlines : tuple of str
        Ids of the waistlines.
    join_tolerance : float
        Largest gap in mm between ends of outline pieces that belong together.
    corners : mapping of panel name to mapping of corner name to (x, y)
        Unusual corners, in sheet mm. The corner names are those of `Corners`.
    net_outline : {"inner", "outer"}
        Which of two outlines, one within the other, is the stitch line where neither's name
        says so.

    Notes
    -----
    Readings compare by value; having a mapping in them they cannot be hashed.

    Examples
    --------
    Centre front lies on the right of this sheet, which only its maker can know:

    >>> from panelshift import read_pattern
    >>> svg = '''<svg xmlns="http://www.w3.org/2000/svg" width="160mm" height="200mm"
    ...  viewBox="0 0 160 200"><path id="a" d="M10 20 H70 V180 H10 Z"/>
    ...  <path id="b" d="M90 20 H150 V180 H90 Z"/><path id="waist" d="M5 110 H155"/></svg>'''
    >>> pattern = read_pattern(svg, reading=Reading(order=("b", "a"), halves="half"))
    >>> [panel.name for panel in pattern.panels]
    ['b', 'a']
    """

    order: tuple[str, ...] = ()
    halves: Halves = "auto"
    waistlines: tuple[str, ...] = ()
    join_tolerance: float = JOIN_TOLERANCE_MM
    corners: Mapping[str, Mapping[str, tuple[float, float]]] = field(default_factory=dict)
    net_outline: NetOutline = "inner"


def assemble(drawing: Drawing, reading: Reading | None = None) -> Pattern:
    """Put the shapes of a drawing together into a pattern.

    Parameters
    ----------
    drawing : Drawing
    reading : Reading, optional
        What names and position do not say.

    Raises
    ------
    PatternError
        If the shapes do not make up panels; the message names the element and the remedy.
    """
    reading = reading or Reading()
    found = find_panels(
        drawing,
        waistlines=reading.waistlines,
        join_tolerance=reading.join_tolerance,
        net_outline=reading.net_outline,
    )
    ordering = order_panels(
        drawing, found.panels, found.rest, order=reading.order, halves=reading.halves
    )
    bare = tuple(_panel(placed, reading, drawing.source) for placed in ordering.panels)
    panels, nowhere = assign_marks(bare, found.rest, drawing.texts)
    return Pattern(
        panels,
        ordering.full,
        drawing.source,
        drawing.left_out + found.left_out + nowhere,
        found.notes + ordering.notes,
        drawing.warnings + found.warnings + ordering.warnings,
    )


def _panel(placed: Placed, reading: Reading, source: str) -> Panel:
    found, frame = placed.found, placed.frame
    u = frame.to_panel(found.waist.points)[:, 0]
    front, back = (0, 1) if u[0] < u[1] else (1, 0)
    corners = find_corners(
        found.outline,
        frame,
        float(found.waist.positions[front]),
        float(found.waist.positions[back]),
        reading.corners.get(placed.name, {}),
        source=source,
        element=found.ident,
    )
    waist = level_across(found.waistline, "waist", found.outline, frame, corners)
    if waist is None:
        raise PatternError(
            f"waistline {found.waistline.ident} does not run from side edge to side edge",
            remedy="The side edges run from the waist to the next corners; draw the waist "
            "between them, or name unusual corners in the job file.",
            source=source,
            element=found.ident,
        )
    return Panel(placed.name, found.ident, found.outline, frame, corners, waist)
