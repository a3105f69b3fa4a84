"""Curves to and from svgpathtools, for scripts that draft with it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final

import numpy as np

from ..errors import CurveError
from ..outline import Curve, FloatArray
from ..outline.bezier import CUBIC, LINE, QUADRATIC, IntArray, straighten
from .svg.outlines import ARC_TOLERANCE_MM, arc_control


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
    control, degree = _segments_control(segments, ARC_TOLERANCE_MM)
    closed = bool(segments[0].start == segments[-1].end)
    return Curve(straighten(control, degree), degree, closed)


def _segments_control(segments: Iterable[Any], tolerance: float) -> tuple[FloatArray, IntArray]:
    """Return control points and degrees of svgpathtools' segments; lines get no handles yet.

    Its arcs are made cubics here, since it transforms a rotated arc wrongly. Their radii have
    been scaled up already where they were too small; `arc_control` finds each arc from its ends
    again, which is exact where its centre is not.
    """
    from svgpathtools import Arc

    rows: list[Sequence[complex]] = []
    degrees: list[int] = []
    for segment in segments:
        if isinstance(segment, Arc):
            arc = arc_control(
                segment.start,
                segment.end,
                (segment.radius.real, segment.radius.imag),
                segment.rotation,
                bool(segment.large_arc),
                bool(segment.sweep),
                tolerance,
            )
            rows.extend(arc.view(np.complex128)[..., 0].tolist())
            degrees.extend([CUBIC] * len(arc))
            continue
        points = segment.bpoints()
        degrees.append(_DEGREES[len(points)])
        rows.append(_elevated(*points))
    plane = np.array(rows, dtype=np.complex128)
    return np.stack([plane.real, plane.imag], axis=-1), np.array(degrees)


_DEGREES: Final = {2: LINE, 3: QUADRATIC, 4: CUBIC}


def _elevated(start: complex, *others: complex) -> tuple[complex, complex, complex, complex]:
    """Return a Bezier curve of degree 1 to 3 as a cubic; a line's handles are still to be set."""
    *inner, end = others
    if not inner:
        return start, start, end, end
    if len(inner) == 1:
        middle = inner[0]
        return start, start + (middle - start) * (2 / 3), end + (middle - end) * (2 / 3), end
    return start, inner[0], inner[1], end
