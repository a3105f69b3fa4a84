"""What the maker says about a drawing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from ..pattern.pattern import EdgeKind

JOIN_TOLERANCE_MM: Final = 0.5
"""Ends within this distance are one point: about the width of a drawn pencil line."""

Halves = Literal["auto", "half", "full"]
NetOutline = Literal["inner", "outer"]


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
    size : str
        Which of several outlines round each other is read: its place from inside ("1",
        "innermost"), layer, dash, colour, width or a word beside it; empty if one is drawn.
    leave_out : tuple of str
        Ids of closed shapes that look like panels and are none, or are not to be cut.
    leave_layers : tuple of str
        Names of the drawing's layers (groups) that are left out altogether.
    drafted_waist : float or None
        All panels together at the waist in mm, as drafted: it tells one half from both.
    allowance_drawn : mapping of edge kind to float, or None
        The seam allowance in mm that the outlines have in them, to be taken off, by the kinds
        seam, centre_front, centre_back, top and bottom; None if the maker says nothing of it.

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
    size: str = ""
    leave_out: tuple[str, ...] = ()
    leave_layers: tuple[str, ...] = ()
    drafted_waist: float | None = None
    allowance_drawn: Mapping[EdgeKind, float] | None = None
