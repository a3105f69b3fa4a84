"""What drafting scripts hand over: panels as arrays, and curves of svgpathtools, there and back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any, Final

import numpy as np

from ..errors import CurveError, PatternError, WrongTypeError
from ..files.one_line import collapsed, refuse_broken_line
from ..files.plain_values import held_to_types, refuse_misfits
from ..outline import Curve, FloatArray
from ..outline.bezier import CUBIC, LINE, QUADRATIC, IntArray, numbers, of_degree
from ..outline.by_value import ByValue, fix
from ..pattern.drawing import Drawing, Shape
from .affine import Affine
from .outlines import ARC_TOLERANCE_MM, JOIN_MM, arc_control, placed
from .svg.pathdata import path_outlines

_APART_MM: Final = 40.0
"""Between panels that are laid side by side: waistlines may stick out."""


@dataclass(frozen=True, eq=False)
class DraftPanel(ByValue):
    """A panel as a drafting script has it, without any SVG.

    Parameters
    ----------
    name : str
        Unique in the pattern.
    outline : Curve, array_like, str or geometry
        The net outline in mm: a curve; points of shape (m, 2) or cubic control points of shape
        (n, 4, 2); SVG path data of one subpath; a path of svgpathtools; or whatever has a
        ``__geo_interface__``, such as a polygon or ring of shapely. It is closed if it is not.
    waist : array_like, shape (k, 2), or what an outline may be
        The waistline, from one side edge to the other. Lines stay open.
    levels : mapping of str to the same
        Other level lines by name.
    notches : sequence of the same
        Short lines across the outline.
    grainline : the same, optional
        Such as its two ends.
    corners : mapping of corner name to (x, y)
        Where they are unusual: some of front_top, back_top, back_bottom and front_bottom.
    bones : sequence of the same as waist
        Bone channels, as their outlines, closed where the first point is the last as well; or as
        their stitch lines or middles.

    Raises
    ------
    PatternError
        If a name is empty, or has control characters or more than 300 letters.

    Notes
    -----
    Each panel may be drawn about its own origin: where one lies on another, `pattern_from_panels`
    lays them side by side. All points are in mm. y runs downwards, as on a sheet and in SVG; the
    top of a panel is where its bust line lies, or up the sheet if no level says it.

    Examples
    --------
    >>> from panelshift import pattern_from_panels
    >>> side = DraftPanel(
    ...     "side", [(0, 0), (60, 0), (60, 160), (0, 160)], waist=[(0, 90), (60, 90)],
    ...     levels={"hip": [(0, 140), (60, 140)]},
    ... )
    >>> pattern_from_panels([side]).level_height("hip")  # mm above the waist
    -50.0

    A channel of 8 mm down its middle, and a front whose edge is not to end at its first corner:

    >>> cut_off = [(0, 20), (20, 0), (60, 0), (60, 160), (0, 160)]
    >>> side = DraftPanel("side", cut_off, [(0, 90), (60, 90)], corners={"front_top": (20, 0)},
    ...                   bones=[[(26, 10), (34, 10), (34, 150), (26, 150), (26, 10)]])
    >>> panel = pattern_from_panels([side])["side"]
    >>> [mark.kind for mark in panel.marks], panel.edge("top").length
    (['bone'], 40.0)
    """

    name: str
    outline: Any = field(repr=False)
    waist: Any = field(repr=False)
    levels: Mapping[str, Any] = field(default_factory=dict, repr=False)
    notches: Sequence[Any] = field(default=(), repr=False)
    grainline: Any = field(default=None, repr=False)
    corners: Mapping[str, tuple[float, float]] = field(default_factory=dict, repr=False)
    bones: Sequence[Any] = field(default=(), repr=False)

    def __post_init__(self) -> None:
        refuse_misfits(self, "a panel")
        for what, name in (("a panel", self.name), *(("a level", name) for name in self.levels)):
            refuse_broken_line(name, f"the name of {what}", PatternError, empty=False)
        # As a drawing's panel is called by the same words.
        object.__setattr__(self, "name", collapsed(self.name))
        fix(self, "outline", "waist", "levels", "notches", "grainline", "corners", "bones")


def draft_drawing(
    panels: Sequence[DraftPanel],
) -> tuple[Drawing, tuple[str, ...], dict[str, dict[str, tuple[float, float]]]]:
    """Return the drawing of some panels, the ids of their waistlines and their corners in it."""
    every = [_shapes(panel) for panel in panels]
    aside = _aside(every)
    shapes = tuple(
        replace(one, curve=one.curve.transformed([[1.0, 0.0, x], [0.0, 1.0, 0.0]])) if x else one
        for own, x in zip(every, aside, strict=True)
        for one in own
    )
    corners = {
        panel.name: {name: (float(at[0]) + x, float(at[1])) for name, at in panel.corners.items()}
        for panel, x in zip(panels, aside, strict=True)
        if panel.corners
    }
    return Drawing(shapes, source="script"), tuple(map(_waist_ident, panels)), corners


def _aside(panels: list[list[Shape]]) -> list[float]:
    """How far panels are moved into a row behind the first, if any lies on another."""
    boxes = np.array([shapes[0].curve.bounds() for shapes in panels])
    low, high = boxes[:, 0], boxes[:, 1]
    meet = ((low[:, None] <= high) & (low <= high[:, None])).all(axis=2)
    if meet.sum() == len(panels):
        return [0.0] * len(panels)
    widths = high[:, 0] - low[:, 0] + _APART_MM
    row = low[0, 0] + np.cumsum(widths) - widths
    return [float(x) for x in row - low[:, 0]]


def _waist_ident(panel: DraftPanel) -> str:
    return f"waist/{panel.name}"


def _shapes(panel: DraftPanel) -> list[Shape]:
    for name, value in (("waist", panel.waist), ("outline", panel.outline)):
        wanted = "points in mm, such as [(0, 90), (60, 90)]"
        WrongTypeError.unless(value, object if value is not None else (), f"the {name}", wanted)
    outline = outline_of(panel.outline)
    if not outline.closed:
        outline = _closed(outline)
    data = {"panel": panel.name}
    shapes = [Shape(outline, f"outline/{panel.name}", data=data)]
    shapes.append(Shape(line_of(panel.waist), _waist_ident(panel)))
    for level, points in panel.levels.items():
        ident = f"{level}/{panel.name}"
        shapes.append(Shape(line_of(points), ident, data={"level": level}))
    for place, points in enumerate(panel.notches, start=1):
        ident = f"notch {place}/{panel.name}"
        shapes.append(Shape(line_of(points), ident, names=("notch",)))
    for place, points in enumerate(panel.bones, start=1):
        ident = f"bone {place}/{panel.name}"
        shapes.append(Shape(line_of(points), ident, names=("bone",)))
    if panel.grainline is not None:
        line = line_of(panel.grainline)
        shapes.append(Shape(line, f"grainline/{panel.name}", names=("grainline",)))
    return shapes


def line_of(given: Any) -> Curve:
    """The curve of anything that is taken as a line: closed if its last point is the first."""
    shape = getattr(given, "__geo_interface__", None)
    if shape is not None and not isinstance(given, Curve) and shape.get("type") == "LineString":
        given = shape["coordinates"]
    elif not isinstance(given, (list, tuple, np.ndarray)):
        return outline_of(given)
    values = numbers(given)
    if values.ndim == 3:
        return Curve.cubics(values)
    ends = values.ndim == 2 and len(values) > 2 and np.array_equal(values[0], values[-1])
    return Curve.polyline(values, closed=bool(ends))


def outline_of(given: Any) -> Curve:
    """The curve of anything that is taken as an outline: see `DraftPanel`."""
    if isinstance(given, Curve):
        return given
    if isinstance(given, str):
        return _of_path_data(given)
    if type(given).__module__.partition(".")[0] == "svgpathtools":
        return from_svgpathtools(given)
    if (shape := getattr(given, "__geo_interface__", None)) is not None:
        return _of_geometry(shape)
    values = numbers(given)
    if values.ndim == 3:
        return Curve.cubics(values)
    if values.ndim == 2:
        return Curve.polyline(values, closed=True)
    raise CurveError(
        f"an outline of shape {values.shape}",
        remedy="Give points of shape (m, 2) or control points of shape (n, 4, 2).",
    )


def _of_path_data(d: str) -> Curve:
    outlines = [outline for outline in path_outlines(d, 1.0) if not outline.is_point]
    if len(outlines) != 1:
        raise CurveError(
            f"path data of {len(outlines)} subpaths: {d!r:.60}",
            remedy="Give one subpath, in mm, such as 'M0 0 H60 V160 H0 Z'.",
        )
    return placed(outlines, [Affine()], ["path data"])[0]


def _of_geometry(shape: Mapping[str, Any]) -> Curve:
    rings = shape.get("coordinates", ())
    if shape.get("type") == "Polygon" and len(rings) == 1:
        return Curve.polyline(rings[0], closed=True)
    if shape.get("type") in ("LineString", "LinearRing"):
        return Curve.polyline(rings, closed=True)
    raise CurveError(
        f"a geometry of type {shape.get('type')!r} with {len(rings)} parts as an outline",
        remedy="Give a polygon without holes, or the ring or line round it.",
    )


def _closed(curve: Curve) -> Curve:
    if np.array_equal(curve.start, curve.end):
        return Curve(curve.control, curve.degree, closed=True)
    return Curve.chain([curve, Curve.polyline([curve.end, curve.start])], closed=True)


@held_to_types
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
        If it has no segment, is broken, or its numbers are not finite.

    Examples
    --------
    >>> from svgpathtools import parse_path
    >>> len(from_svgpathtools(parse_path("M0,0 L10,0 L10,5 Z")))
    3
    """
    from svgpathtools import Arc, CubicBezier, Line, QuadraticBezier

    kinds = (Line, QuadraticBezier, CubicBezier, Arc)
    alone = isinstance(path, kinds) or not isinstance(path, Iterable)
    segments: list[Any] = [path] if alone else list(path)
    for segment in segments:
        WrongTypeError.unless(segment, kinds, "a segment", "a Path of svgpathtools")
    if not segments:
        raise CurveError("a path without segments", remedy="Give at least one segment.")
    for place, (one, two) in enumerate(pairwise(segments), start=1):
        if not abs(one.end - two.start) <= JOIN_MM:
            raise CurveError(
                f"the path is broken: segment {place} ends at {one.end:.3f}, and the next one "
                f"starts at {two.start:.3f}",
                remedy="Give its continuous subpaths one by one (Path.continuous_subpaths).",
            )
    control, degree = _segments_control(segments, ARC_TOLERANCE_MM)
    closed = bool(segments[0].start == segments[-1].end)
    return Curve(of_degree(control, degree), degree, closed)


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
