"""The one place that knows svgpathtools: path data becomes outlines.

What svgpathtools does otherwise than SVG says, and what is done about it:

- it joins all subpaths of one ``d`` into one chain of segments, so each is parsed alone;
- it reads past faults and, for some numbers (``1.e2``), reads other numbers; so the data are
  checked first and handed over as plain numbers (`pathgrammar`);
- an arc that ends where it starts fails an assertion, and an arc without radius warns, so
  neither is handed over;
- it transforms a rotated arc wrongly, so arcs are made cubics before any transform.

The module is imported with the reader but svgpathtools itself only when the first path is
read: it imports scipy, which takes half a second.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from typing import Any, Final

import numpy as np

from ...outline import FloatArray
from ...outline.bezier import CUBIC, LINE, QUADRATIC, IntArray, straighten
from .arcs import ARC_TOLERANCE_MM, arc_control
from .outlines import Outline
from .pathgrammar import Subpath, subpaths


def path_outlines(d: str, scale: float) -> list[Outline | None]:
    """Return the outline of each subpath, None for one that is only a point.

    Parameters
    ----------
    d : str
        Path data.
    scale : float
        Most by which the transform to come lengthens anything, in mm for each user unit;
        arcs become cubics within `ARC_TOLERANCE_MM` after it.

    Raises
    ------
    SvgError
        If the data break the grammar.

    Notes
    -----
    Lines, quadratics and cubics stay as drawn; segments of no length are dropped.
    """
    return [_outline(subpath, scale) for subpath in subpaths(d)]


@cache
def _library() -> Any:
    import svgpathtools

    return svgpathtools


def _outline(subpath: Subpath, scale: float) -> Outline | None:
    segments = list(_library().parse_path(subpath.data))
    if not segments:
        return None
    control, degree = segments_control(segments, ARC_TOLERANCE_MM / scale)
    return Outline.joined(straighten(control, degree), degree, closed=subpath.closed, scale=scale)


def segments_control(segments: Iterable[Any], tolerance: float) -> tuple[FloatArray, IntArray]:
    """Control points, shape (n, 4, 2), and degrees of svgpathtools' segments.

    Parameters
    ----------
    segments : iterable
        Of svgpathtools' Line, QuadraticBezier, CubicBezier and Arc; at least one.
    tolerance : float
        Largest distance between an arc and its cubics, in the segments' own units.

    Notes
    -----
    The handles of lines are still to be set (`panelshift.outline.curve.straighten`).
    """
    library = _library()
    rows: list[Sequence[complex]] = []
    degrees: list[int] = []
    for segment in segments:
        if isinstance(segment, library.Arc):
            # Its radii have been scaled up already where they were too small; `arc_control`
            # finds the arc from its ends again, which is exact where its centre is not.
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
