"""How one outline lies round another: as a cut line, as a frame, as a panel round a shape."""

from __future__ import annotations

import re
from typing import Final, Literal

import numpy as np

from ..errors import PatternError
from ..outline import Curve, FloatArray
from ..outline.bezier import LINE
from ..outline.corners import breaks
from ..outline.planar import area
from .closeness import apart, spread
from .copies import is_copy
from .found import Candidate, FoundPanel
from .roles import spaced

NetOutline = Literal["inner", "outer"]
Relation = Literal["copy", "allowance", "unclear", "other"]

_PANEL_WIDTH_MM: Final = 20.0
"""Closed shapes narrower than this at the waist inside another are bone channels and the
like; common practice, no source: channels run from 6 to 15 mm, panels from 25 mm."""

_PANEL_HEIGHT_MM: Final = 60.0
"""Closed shapes less high than this inside another are letters and the like."""

_NET_SHARE: Final = 0.5
"""A single outline of at least this part of the area round it may be its net outline, even if
it does not run along it; a smaller one is a shape on the panel."""

_WIDEST_ALLOWANCE_MM: Final = 50.0
"""How far a net outline may lie inside its cut line: facings at the centre back included."""

_MARGIN_RATIO: Final = 4.0
"""Allowances of one panel differ by less: 8 mm at the top, 25 mm at the lacing edge."""

_NARROW_ALLOWANCE_MM: Final = 5.0
"""What counts for the narrowest allowance where an edge has none, as on a fold."""

_LONGEST_MITRE: Final = 3.0
"""How many times its width a cut line's corners may lie from the net outline."""

_RIGHT_ANGLE: Final = np.radians(0.5)
"""How far a corner may be from square for a rectangle."""

_BAND_MM: Final = 2.5
"""Outlines that run nearer to each other than this all round are the two sides of one thick
line: no allowance is as narrow."""

_NET_NAMES: Final = re.compile(r"\bnet\b|\b(stitch|stitching|seam) ?lines?\b")


def relation(outer: FoundPanel | Candidate, inner: FoundPanel) -> Relation:
    """Tell how an outline lies round another of a panel's size.

    Returns
    -------
    {"copy", "allowance", "unclear", "other"}
        On top of it; as a cut line round a stitch line; perhaps so; as a panel round a shape.

    Raises
    ------
    PatternError
        If the two are the sides of one thick line.
    """
    if is_copy(outer.outline, inner.outline):
        return "copy"
    margins = apart(spread(inner.outline), outer.outline)[0]
    widest = float(margins.max())
    if widest < _BAND_MM:
        raise PatternError(
            f"two outlines run {widest:.2g} mm apart all round: {outer.ident} and {inner.ident}; "
            "they look like the two sides of one thick line",
            remedy="Draw the outline as a line, not as the filled shape of its stroke; or delete "
            "one of them.",
            element=outer.ident,
        )
    beyond = float(apart(spread(outer.outline), inner.outline)[0].max())
    narrow = max(float(np.quantile(margins, 0.1)), _NARROW_ALLOWANCE_MM)
    if (
        widest <= min(_WIDEST_ALLOWANCE_MM, _MARGIN_RATIO * narrow)
        and beyond <= _LONGEST_MITRE * widest
    ):
        return "allowance"
    fills = area(inner.outline) >= _NET_SHARE * area(outer.outline)
    return "unclear" if fills else "other"


def net_of(outer: FoundPanel | Candidate, inner: FoundPanel, net: NetOutline) -> NetOutline:
    """Tell which of two outlines is the net one: what their names say, or else `net`."""
    if settled_by_names(outer, inner):
        return "outer" if is_named_net(outer) else "inner"
    return net


def settled_by_names(outer: FoundPanel | Candidate, inner: FoundPanel) -> bool:
    """Whether one of two outlines is called a net outline and the other is not."""
    return is_named_net(outer) != is_named_net(inner)


def is_named_net(panel: FoundPanel | Candidate) -> bool:
    """Whether an outline's own names, or its group's, call it a net outline."""
    shape = panel.shapes[0]
    names = (*shape.names, *shape.classes, *shape.groups[-1:])
    return any(_NET_NAMES.search(spaced(name)) for name in names)


def is_frame(outer: FoundPanel, inner: FoundPanel) -> bool:
    """Whether an outline is a rectangle, as the one inside it is not."""
    return _is_rectangle(outer.outline) and not _is_rectangle(inner.outline)


def _is_rectangle(curve: Curve) -> bool:
    corners = np.abs(np.abs(breaks(curve)) - 0.5 * np.pi) < _RIGHT_ANGLE
    return len(curve) == 4 and bool((curve.degree == LINE).all() and corners.all())


def is_panel_sized(panel: FoundPanel) -> bool:
    """Whether an outline inside another is large enough for a panel."""
    step: FloatArray = panel.waist.points[1] - panel.waist.points[0]
    width = float(np.hypot(*step))
    return width >= _PANEL_WIDTH_MM and height(panel) >= _PANEL_HEIGHT_MM


def height(panel: FoundPanel) -> float:
    """How far an outline reaches across the direction of its waist, in mm."""
    step: FloatArray = panel.waist.points[1] - panel.waist.points[0]
    up = np.array([-step[1], step[0]]) / max(float(np.hypot(*step)), 1e-12)
    return float(np.ptp(panel.outline.flatten(0.1) @ up))
