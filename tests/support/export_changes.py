"""What drawing programs do to the elements of a draft when they export it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from panelshift.outline import Curve
from panelshift.outline.bezier import of_degree

from .drafts import path_data
from .export_elements import FILLED, Change, Element, Elements, of_role


def outlines_changed(elements: Elements, change: Change) -> Elements:
    """The elements with only the outlines changed."""
    found: Elements = []
    for element in elements:
        found += change([element]) if element.role == "outline" else [element]
    return found


def turned(curve: Curve) -> Curve:
    """The same line drawn the other way round."""
    return curve.reversed()


def begun_at(curve: Curve, start: int) -> Curve:
    """A closed line that begins at another of its segments."""
    if not curve.closed:
        return curve
    start %= len(curve)
    return Curve(np.roll(curve.control, -start, 0), np.roll(curve.degree, -start), closed=True)


def each_curve(elements: Elements, change) -> Elements:
    return [replace(e, curves=tuple(map(change, e.curves))) for e in elements]


# -- pieces -------------------------------------------------------------------------------


def in_pieces(element: Element, cuts: Sequence[float]) -> Elements:
    """An outline as open paths, cut at parts (0 to 1) of its segments' count."""
    (curve,) = element.curves
    places = sorted({round(cut * len(curve), 3) % len(curve) for cut in cuts})
    ends = [*places[1:], places[0]]
    return [
        replace(element, role="piece", curves=(curve.piece(start, end),))
        for start, end in zip(places, ends, strict=True)
    ]


def nudged(element: Element, step: tuple[float, float]) -> Element:
    return element.moved(np.array([[1.0, 0.0, step[0]], [0.0, 1.0, step[1]]]))


def unnamed(element: Element, paint: str = FILLED) -> Element:
    return replace(element, name="", paint=paint)


def mixed(elements: Elements, seed: int) -> Elements:
    """The elements in another order, some of them drawn the other way round."""
    rng = np.random.default_rng(seed)
    found = [elements[k] for k in rng.permutation(len(elements))]
    return [each_curve([e], turned)[0] if rng.integers(2) else e for e in found]


# -- residue ------------------------------------------------------------------------------


def specks(elements: Elements, size: float, seed: int, count: int = 12) -> Elements:
    """Tiny stray lines on the draft's own lines and joints, where they could do harm."""
    rng = np.random.default_rng(seed)
    found = []
    for k in rng.integers(len(elements), size=count):
        curve = elements[k].curves[0]
        place = rng.uniform(0.0, len(curve)) if rng.integers(2) else rng.integers(len(curve))
        angle = rng.uniform(0.0, 2.0 * np.pi)
        (at,) = curve.points([place])
        step = size * np.array([np.cos(angle), np.sin(angle)])
        found.append(Element((Curve.polyline([at, at + step]),)))
    return found


def with_double_points(curve: Curve, step: float = 0.0) -> str:
    """Path data in which every point is drawn twice, the second time `step` mm aside."""
    parts = path_data(curve).removesuffix("Z").replace("C", "|C").replace("L", "|L")
    parts = parts.replace("Q", "|Q").split("|")
    ends = curve.vertices[1:] + step
    again = [f"L{x!r} {y!r}" for x, y in ends.tolist()]
    doubled = [part + more for part, more in zip(parts[1:], again, strict=True)]
    return parts[0] + "".join(doubled) + ("Z" if curve.closed else "")


def closed_by(how: str, miss: tuple[float, float] = (0.0, 0.0)):
    """Path data that close outlines in another way.

    Parameters
    ----------
    how : {"return", "return Z", "miss Z"}
        An explicit return to the start without or with Z, or one that misses the start.
    miss : (float, float)
        By how much, in mm.
    """

    def data(curve: Curve) -> str:
        if not curve.closed:
            return path_data(curve)
        control = curve.control.copy()
        control[-1, 3] += miss
        drawn = path_data(Curve(of_degree(control, curve.degree), curve.degree))
        return drawn if how == "return" else drawn + "Z"

    return data


# -- what lies round and on panels ----------------------------------------------------------


def allowance(curve: Curve, width: float, more_right: float = 0.0) -> Curve:
    """A cut line round a net outline, mitred; on the right as much wider as is said."""
    area = shapely.Polygon(curve.flatten(0.01)).buffer(width, join_style="mitre", mitre_limit=2.5)
    if more_right:
        area = area.union(shapely.affinity.translate(area, more_right, 0.0))
    return Curve.polyline(np.array(area.exterior.coords)[:-1], closed=True)


def allowances(elements: Elements, width: float, more_right: float = 0.0) -> Elements:
    """An unnamed cut line round each outline."""
    return [
        replace(unnamed(e), role="cut", curves=(allowance(e.curves[0], width, more_right),))
        for e in of_role(elements, "outline")
    ]


def hatch(curve: Curve, angle: float, pitch: float, phase: float = 0.37) -> tuple[Curve, ...]:
    """Parallel lines cut off at an outline, which they touch with both ends."""
    area = shapely.Polygon(curve.flatten(0.01))
    middle = np.array(area.centroid.coords[0])
    along = np.array([np.cos(angle), np.sin(angle)])
    up = np.array([-along[1], along[0]])
    reach = (curve.flatten(0.1) - middle) @ up
    found = []
    for k in range(int(reach.min() / pitch) - 1, int(reach.max() / pitch) + 1):
        at = middle + (k + phase) * pitch * up
        cut = shapely.LineString([at - 1000.0 * along, at + 1000.0 * along]).intersection(area)
        found += [
            Curve.polyline(part.coords)
            for part in shapely.get_parts(cut)
            if part.geom_type == "LineString" and part.length > 1e-6
        ]
    return tuple(found)
