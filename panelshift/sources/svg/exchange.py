"""Curves to and from svgpathtools, for scripts that draft with it."""

from __future__ import annotations

from typing import Any

from ...errors import CurveError
from ...outline import Curve
from ...outline.bezier import LINE, QUADRATIC, straighten
from .arcs import ARC_TOLERANCE_MM
from .pathdata import segments_control


def to_svgpathtools(curve: Curve) -> Any:
    """Return a curve as an svgpathtools Path.

    Parameters
    ----------
    curve : Curve

    Returns
    -------
    svgpathtools.Path
        Points are complex numbers in mm; every segment is of the degree it was drawn with.

    Examples
    --------
    >>> from panelshift.outline import Curve
    >>> to_svgpathtools(Curve.polyline([(0, 0), (3, 4)])).length()
    5.0
    """
    from svgpathtools import CubicBezier, Line, Path, QuadraticBezier

    segments = []
    for control, degree in zip(curve.control, curve.degree, strict=True):
        a, b, c, d = (complex(x, y) for x, y in control)
        if degree == LINE:
            segments.append(Line(a, d))
        elif degree == QUADRATIC:
            segments.append(QuadraticBezier(a, 1.5 * b - 0.5 * a, d))
        else:
            segments.append(CubicBezier(a, b, c, d))
    return Path(*segments)


def from_svgpathtools(path: Any) -> Curve:
    """Return an svgpathtools Path, in mm, as a curve; arcs become cubics within 1e-4 mm.

    Parameters
    ----------
    path : svgpathtools.Path
        One unbroken path.

    Returns
    -------
    Curve
        Closed if the path ends where it starts.

    Raises
    ------
    CurveError
        If it has no segment, or its numbers are not finite.

    Examples
    --------
    >>> from svgpathtools import parse_path
    >>> len(from_svgpathtools(parse_path("M0,0 L10,0 L10,5 Z")))
    3
    """
    segments = list(path)
    if not segments:
        raise CurveError("a path without segments", remedy="Give at least one segment.")
    control, degree = segments_control(segments, ARC_TOLERANCE_MM)
    closed = bool(segments[0].start == segments[-1].end)
    return Curve(straighten(control, degree), degree, closed)
