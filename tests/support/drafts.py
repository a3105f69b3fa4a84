"""Half patterns made from formulas, and their drawing as SVG text.

A draft is made in panel coordinates: u from the front to the back, v up from the waist, in
mm. Drawing it puts the panels side by side, centre front on the left, and turns v down the
page.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from panelshift.outline import Curve, FloatArray
from panelshift.outline.bezier import CUBIC, LINE, QUADRATIC

Function = Callable[[FloatArray], FloatArray]

UNITS_MM: Final[dict[str, float]] = {"mm": 1.0, "cm": 10.0, "in": 25.4, "px": 25.4 / 96.0}
"""CSS Values: the drawing's user unit in mm."""

SPACE_MM: Final = 25.0


@dataclass(frozen=True, eq=False)
class PanelDraft:
    """A panel in its own coordinates; its edges run from the bottom to the top."""

    name: str
    front: Curve
    back: Curve
    levels: Mapping[str, float] = field(default_factory=dict)
    """Height of each level line above the waist."""

    def outline(self) -> Curve:
        """Up the front, over the top, down the back and along the bottom, closed."""
        top = Curve.polyline([self.front.end, self.back.end])
        bottom = Curve.polyline([self.back.start, self.front.start])
        return Curve.chain([self.front, top, self.back.reversed(), bottom], closed=True)

    def bounds(self) -> FloatArray:
        return self.outline().bounds()


def hermite(u: Function, heights: Sequence[float], slope: Function | None = None) -> Curve:
    """An edge u(v) as cubics between the given heights, rising."""
    v = np.asarray(heights, dtype=np.float64)
    if slope is None:
        h = 1e-4
        rate = (u(v + h) - u(v - h)) / (2.0 * h)
    else:
        rate = slope(v)
    x = u(v)
    third = np.diff(v) / 3.0
    control = np.empty((len(v) - 1, 4, 2))
    control[:, 0] = np.column_stack([x[:-1], v[:-1]])
    control[:, 1] = np.column_stack([x[:-1] + rate[:-1] * third, v[:-1] + third])
    control[:, 2] = np.column_stack([x[1:] - rate[1:] * third, v[1:] - third])
    control[:, 3] = np.column_stack([x[1:], v[1:]])
    return Curve.cubics(control)


def straight(u: Function, heights: Sequence[float]) -> Curve:
    """An edge as straight lines with a vertex at each of the given heights."""
    v = np.asarray(heights, dtype=np.float64)
    return Curve.polyline(np.column_stack([u(v), v]))


# -- bodies -----------------------------------------------------------------------------


def round_gores(
    radius: Function,
    half_count: int,
    heights: Sequence[float],
    levels: Mapping[str, float],
    *,
    lines: bool = False,
) -> list[PanelDraft]:
    """Equal gores of a surface of revolution, half of those that go round.

    Parameters
    ----------
    radius : callable
        Distance from the axis by length along the meridian from the waist, in mm.
    half_count : int
        Panels in the half pattern.
    heights : sequence of float
        Ends of the segments of the side edges, from the bottom to the top.
    levels : mapping of name to height
    lines : bool
        Draw the edges as straight lines.
    """
    draw = straight if lines else hermite
    share = np.pi / (2.0 * half_count)
    back = draw(lambda v: share * radius(v), heights)
    front = draw(lambda v: -share * radius(v), heights)
    return [PanelDraft(f"gore {k + 1}", front, back, levels) for k in range(half_count)]


def sphere_gores(
    radius: float, half_count: int, reach: tuple[float, float], waist_at: float = 0.0
) -> list[PanelDraft]:
    """Gores of a sphere between two meridian lengths from the waist.

    The waist itself lies at `waist_at` mm above the equator, along the meridian.
    """
    heights = np.linspace(*reach, 2 * int(np.ceil((reach[1] - reach[0]) / 20.0)) + 1)
    levels = {"bust": 0.7 * reach[1], "hip": 0.7 * reach[0]}
    return round_gores(
        lambda v: radius * np.cos((v + waist_at) / radius), half_count, tuple(heights), levels
    )


def cone_gores(
    waist_radius: float, tilt: float, half_count: int, reach: tuple[float, float]
) -> list[PanelDraft]:
    """Gores of a cone that flares outwards upwards by `tilt` (radians)."""
    levels = {"bust": 0.7 * reach[1], "hip": 0.7 * reach[0]}
    return round_gores(
        lambda v: waist_radius + v * np.sin(tilt), half_count, reach, levels, lines=True
    )


def walls(
    widths: Sequence[float], reach: tuple[float, float] = (-100.0, 100.0)
) -> list[PanelDraft]:
    """Rectangles: the panels of an upright wall round any section."""
    levels = {"bust": 0.7 * reach[1], "hip": 0.7 * reach[0]}
    return [
        PanelDraft(
            f"wall {k + 1}",
            Curve.polyline([(-0.5 * width, reach[0]), (-0.5 * width, reach[1])]),
            Curve.polyline([(0.5 * width, reach[0]), (0.5 * width, reach[1])]),
            levels,
        )
        for k, width in enumerate(widths)
    ]


@dataclass(frozen=True)
class Figure:
    """A half pattern for a figure: what each panel springs at the bust and at the hip.

    Mates lean differently; each seam is trued, so that its two edges are equally long above
    and below the waist.
    """

    waists: tuple[float, ...]
    """Width of each panel at the waist, from CF to CB."""
    bust: tuple[float, ...]
    """Width of each panel at its top over that at its waist, before truing."""
    hip: tuple[float, ...]
    shares: tuple[float, ...]
    """Part of each panel's spring that its front edge takes, 0 to 1."""
    top: float = 150.0
    bottom: float = -140.0
    lines: bool = False
    """Draw edges as straight lines with a vertex at the waist, else as smooth cubics."""
    straight_front: bool = True
    """A straight centre front, as for a busk."""

    def panels(self) -> list[PanelDraft]:
        edges = [self._edges(k) for k in range(len(self.waists))]
        ends = [[[self.bottom, self.top], [self.bottom, self.top]] for _ in edges]
        for k in range(len(edges) - 1):
            for end in (0, 1):
                true = _trued(edges[k][1], edges[k + 1][0], (self.bottom, self.top)[end])
                ends[k][1][end], ends[k + 1][0][end] = true
        levels = {
            "bust": 0.7 * self.top,
            "underbust": 0.4 * self.top,
            "high hip": 0.4 * self.bottom,
            "hip": 0.7 * self.bottom,
        }
        return [
            PanelDraft(
                f"panel {k + 1}",
                self._drawn(edges[k][0], *ends[k][0]),
                self._drawn(edges[k][1], *ends[k][1]),
                levels,
            )
            for k in range(len(edges))
        ]

    def _drawn(self, u: Function, low: float, high: float) -> Curve:
        if self.lines:
            return straight(u, (low, 0.0, high))
        return hermite(u, (low, 0.5 * low, 0.0, 0.5 * high, high))

    def _edges(self, k: int) -> tuple[Function, Function]:
        share = 0.0 if k == 0 and self.straight_front else self.shares[k]
        half = 0.5 * self.waists[k]

        def front(v: FloatArray) -> FloatArray:
            return -half - share * self._spring(k, v)

        def back(v: FloatArray) -> FloatArray:
            return half + (1.0 - share) * self._spring(k, v)

        return front, back

    def _spring(self, k: int, v: FloatArray) -> FloatArray:
        """Gain in width over the waist: a smooth bend at the waist, or a crease."""
        up = np.maximum(np.asarray(v, dtype=np.float64), 0.0) / self.top
        down = np.minimum(np.asarray(v, dtype=np.float64), 0.0) / self.bottom
        if not self.lines:
            # Rises like a parabola from the waist and straightens out.
            up, down = up * up * (1.8 - 0.8 * up), down * down * (1.8 - 0.8 * down)
        return self.waists[k] * ((self.bust[k] - 1.0) * up + (self.hip[k] - 1.0) * down)


def _trued(one: Function, two: Function, end: float) -> tuple[float, float]:
    """Heights at which two edges, run from the waist to `end`, are equally long."""
    v = np.linspace(0.0, end, 4001)
    runs = [
        np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(u(v)), np.diff(v)))]) for u in (one, two)
    ]
    length = min(run[-1] for run in runs)
    first, second = (float(np.interp(length, run, v)) for run in runs)
    return first, second


HOURGLASS: Final = Figure(
    waists=(45.0, 50.0, 52.0, 56.0, 50.0, 45.0),
    bust=(1.15, 1.5, 1.35, 1.2, 1.15, 1.05),
    hip=(1.1, 1.25, 1.4, 1.5, 1.35, 1.15),
    shares=(0.0, 0.45, 0.5, 0.5, 0.55, 0.9),
)
"""An invented figure with a small waist."""


def both_halves(half: Sequence[PanelDraft]) -> list[PanelDraft]:
    """A full pattern from a half: mirrored from CB to CF, then as it is from CF to CB."""
    mirror = np.array([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    left = [
        PanelDraft(
            f"left {panel.name}",
            panel.back.transformed(mirror),
            panel.front.transformed(mirror),
            panel.levels,
        )
        for panel in reversed(half)
    ]
    return left + [replace(panel, name=f"right {panel.name}") for panel in half]


# -- drawing ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Sheet:
    """How a draft lies on its sheet and in which unit it is drawn."""

    unit: str = "mm"
    angle: float = 0.0
    """Turn of the whole sheet in radians."""
    offset: tuple[float, float] = (30.0, 300.0)
    """Where the waist's left end lies, in mm."""
    mirrored: bool = False
    reverse: bool = False
    """Draw outlines the other way round."""
    start: int = 0
    """Begin outlines at this segment."""


def drawn(panels: Sequence[PanelDraft], sheet: Sheet | None = None) -> bytes:
    """The draft as an SVG file, at true size, with waistlines and level lines."""
    sheet = sheet or Sheet()
    scale = 1.0 / UNITS_MM[sheet.unit]
    body = []
    left = 0.0
    for number, panel in enumerate(panels, start=1):
        low, high = panel.bounds()
        matrix = _to_sheet(left - low[0], sheet, scale)
        outline = panel.outline()
        if sheet.reverse:
            outline = outline.reversed()
        if sheet.start:
            outline = _rolled(outline, sheet.start % len(outline))
        names = {"waist": 0.0, **panel.levels}
        lines = "".join(
            f'<path id="{number}-{name}" d="{path_data(line.transformed(matrix))}"/>'
            for name, line in (
                (name, Curve.polyline([(low[0] - 1.0, v), (high[0] + 1.0, v)]))
                for name, v in names.items()
            )
        )
        body.append(f'<path id="{panel.name}" d="{path_data(outline.transformed(matrix))}"/>')
        body.append(lines)
        left += high[0] - low[0] + SPACE_MM
    # However it is turned, it lies on its page.
    low, size = f"{-3000.0 * scale!r}", f"{9000.0 * scale!r}"
    suffix = "" if sheet.unit == "px" else sheet.unit
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}{suffix}" height="{size}{suffix}" '
        f'viewBox="{low} {low} {size} {size}">{"".join(body)}</svg>'
    ).encode()


def _to_sheet(left: float, sheet: Sheet, scale: float) -> FloatArray:
    c, s = np.cos(sheet.angle), np.sin(sheet.angle)
    turn = np.array([[c, -s], [s, c]])
    flip = np.diag([-1.0 if sheet.mirrored else 1.0, -1.0])
    linear = turn @ flip
    place = linear @ np.array([left, 0.0]) + np.asarray(sheet.offset)
    return scale * np.column_stack([linear, place])


def _rolled(outline: Curve, start: int) -> Curve:
    return Curve(
        np.roll(outline.control, -start, axis=0), np.roll(outline.degree, -start), closed=True
    )


def path_data(curve: Curve) -> str:
    """Path data with every digit of the numbers."""
    parts = [f"M{_pair(curve.start)}"]
    for points, degree in zip(curve.control, curve.degree, strict=True):
        if degree == LINE:
            parts.append(f"L{_pair(points[3])}")
        elif degree == QUADRATIC:
            parts.append(f"Q{_pair(1.5 * points[1] - 0.5 * points[0])} {_pair(points[3])}")
        elif degree == CUBIC:
            parts.append("C" + " ".join(_pair(point) for point in points[1:]))
    return "".join(parts) + ("Z" if curve.closed else "")


def _pair(point: FloatArray) -> str:
    return f"{float(point[0])!r},{float(point[1])!r}"
