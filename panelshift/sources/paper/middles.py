"""The middle of a line on paper, finer than a pixel, and the curve that runs along it.

A plane of darkness is looked at along normals of a guess; where the weight of the line lies on each
is a point. Corners are where the curves fitted on both sides of them meet, never the rounded place
that a filter makes of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from scipy.interpolate import BSpline, make_lsq_spline
from scipy.ndimage import gaussian_filter1d, maximum_filter1d, uniform_filter1d

from ...outline import Curve, FloatArray
from ...outline.bezier import line_control
from .ink import FULL, Plane
from .rectified import opencv

STEP_MM: Final = 0.4
"""Points along a line lie as far apart."""

FIT_MM: Final = 0.03
"""How far a fitted curve may stay from where the line runs on average over some millimetres. Twice
as much and waists come out 0.07 mm wider a panel: a stiff curve cuts off where it is narrowest."""

CORNER: Final = math.radians(22.0)
"""A line that turns by more at once has a corner."""

STRAIGHT_MM: Final = 0.2
"""A run that stays as near to its chord is straight, if its place is not known better."""

_LEAST_STRAIGHT_MM: Final = 0.06
_BOWED: Final = 0.5
"""Share of the uncertainty of places by which one run may be bowed for it."""

_ACROSS_MM: Final = 0.1
_WIDE_MM, _NARROW_MM = 1.8, 0.9
"""How far to both sides the line is looked for, at first and when it is nearly known."""

_WEIGHED_MM: Final = 0.6
"""Half the width of what is weighed: the widest line and its blur."""

_ON_IT_MM: Final = 0.25

_ROUNDED_MM, _CLEAR_MM = 2.6, 1.0
"""How near to a corner a line is not to be trusted, when first followed and at last."""

_NEAR_MM, _FAR_MM = 1.2, 7.0
"""From where to where from a corner its two directions are taken."""

_WAYS_MM: Final = (36.0, 24.0, 16.0, 10.0)
"""Lengths of ways round something that touches the line."""

_STRAIGHTER: Final = 0.88
_GOES_ON: Final = math.radians(14.0)

_OWN_MM, _TWIN_MM = 0.95, 4.0
"""Half the width of the widest line, blurred, and how far beside it a second one is looked for."""
_TWIN: Final = 0.35
_TWIN_ALONG_MM: Final = 12.0

_SHORTEST_KNOTS_MM: Final = 6.0
_HEAVY: Final = 1e3


@dataclass(frozen=True, eq=False)
class Samples:
    """A line looked at across. *points*: middles in mm, shape (n, 2). *offsets*: how far each lies
    from the guess along its normal. *darkness*: on the guess, 0 to 1."""

    points: FloatArray
    offsets: FloatArray
    darkness: FloatArray


@dataclass(frozen=True, eq=False)
class Run:
    """A piece between two corners: a spline over a length in mm, or a straight line."""

    spline: BSpline
    straight: bool
    length: float

    def end(self, last: bool) -> tuple[FloatArray, FloatArray]:
        """Where it ends, and the direction there."""
        at = self.length if last else 0.0
        slope = self.spline.derivative()(at)
        return np.asarray(self.spline(at)), slope / np.hypot(*slope)

    def curve(self) -> Curve:
        """The run as lines or cubics."""
        if self.straight:
            ends = self.spline([0.0, self.length])
            return Curve.polyline(ends)
        knots = np.unique(self.spline.t)
        values, slopes = self.spline(knots), self.spline.derivative()(knots)
        third = np.diff(knots)[:, None] / 3.0
        control = np.stack(
            [
                values[:-1],
                values[:-1] + third * slopes[:-1],
                values[1:] - third * slopes[1:],
                values[1:],
            ],
            axis=1,
        )
        return Curve.cubics(control)


def ring_curve(plane: Plane, pixel: float, guess: FloatArray, doubt: float) -> Curve | None:
    """The closed curve along a line that runs near a ring of points, shape (n, 2) in mm.

    *doubt*: uncertainty of places in mm. None if it has fewer than two corners.
    """
    smooth = evened(shortened(plane, pixel, _even(np.vstack([guess, guess[:1]]))[:-1]))
    found = _across(plane, pixel, smooth, _normals(smooth, wrap=True), _WIDE_MM, wrap=True)
    # The guess steps from cell to cell of a grid: what is found along it does not.
    points = smooth + _normals(smooth, wrap=True) * found.offsets[:, None]
    corners = corners_of(points)
    if len(corners) < 2:
        return None
    pieces = []
    for first, last in zip(corners, np.roll(corners, -1), strict=True):
        size = (last - first) % len(points)
        pieces.append(points[(first + np.arange(size + 1)) % len(points)])
    runs = [fit_run(_trimmed(piece, _ROUNDED_MM), doubt) for piece in pieces]
    for _ in range(2):
        runs = _meeting(runs, doubt)
        runs = [_followed(plane, pixel, run, doubt) for run in runs]
    runs = _meeting(runs, doubt)
    return Curve.chain([run.curve() for run in runs], closed=True)


def shortened(plane: Plane, pixel: float, ring: FloatArray) -> FloatArray:
    """A ring without the ways round letters and notches that touch the line.

    Such a way is left where the line itself goes on straight, and dark all along, from where it
    starts to where it ends. A line that cuts off a corner does not go on straight.
    """
    level = float(np.median(_darkest(plane, pixel, ring, _normals(ring, wrap=True))))
    for reach in _WAYS_MM:
        many = round(reach / STEP_MM)
        if 2 * many > len(ring):
            break
        start = 0
        while start < len(ring):
            size = float(np.hypot(*(ring[(start + many) % len(ring)] - ring[start])))
            if size > _STRAIGHTER * reach or not _goes_on(plane, pixel, ring, start, many, level):
                start += 1
                continue
            ring = np.roll(ring, -start, axis=0)
            steps = np.linspace(0.0, 1.0, max(int(size / STEP_MM), 1) + 1)[:-1, None]
            chord = ring[0] + steps * (ring[many] - ring[0])
            ring = np.roll(np.vstack([chord, ring[many:]]), start, axis=0)
            start += len(chord)
    return ring


def _goes_on(
    plane: Plane, pixel: float, ring: FloatArray, start: int, many: int, level: float
) -> bool:
    """Whether the line goes straight on from a point of a ring to the one `many` further."""
    count, step = len(ring), round(_NEAR_MM * 5.0 / STEP_MM)
    one, other = ring[start], ring[(start + many) % count]
    before = one - ring[(start - step) % count]
    after = ring[(start + many + step) % count] - other
    chord = other - one
    if max(abs(_angle(before, chord)), abs(_angle(chord, after))) > _GOES_ON:
        return False
    size = float(np.hypot(*chord))
    if size < STEP_MM:
        return False
    steps = np.linspace(0.0, 1.0, int(size / STEP_MM) + 2)[:, None]
    normal = np.array([-chord[1], chord[0]]) / size
    dark = _darkest(plane, pixel, one + steps * chord, np.tile(normal, (len(steps), 1)))
    return bool(uniform_filter1d(dark, 3).min() > 0.4 * level)


def _darkest(plane: Plane, pixel: float, points: FloatArray, normals: FloatArray) -> FloatArray:
    """The darkest place near each point, across."""
    offsets = np.arange(-4, 5)[:, None] * pixel
    places = points[:, None, :] + normals[:, None, :] * offsets
    columns, rows = np.moveaxis(np.floor(places / pixel).astype(int), -1, 0)
    high, wide = plane.shape
    seen = plane[np.clip(rows, 0, high - 1), np.clip(columns, 0, wide - 1)]
    return np.asarray(seen.max(axis=1) / FULL)


def line_curve(plane: Plane, pixel: float, guess: FloatArray, doubt: float) -> Run:
    """An open line that runs near two or more points in mm."""
    run = fit_run(_even(guess), doubt)
    for _ in range(2):
        run = _followed(plane, pixel, run, doubt)
    return run


def look_along(plane: Plane, pixel: float, curve: Curve, step: float) -> tuple[Samples, FloatArray]:
    """A curve's line as it is found, and how far along the curve each place lies."""
    size = curve.length
    along = np.linspace(0.0, size, max(int(size / step), 2), endpoint=False)
    points = curve.points_along(along)
    tangents = curve.tangents_along(along)
    normals = np.column_stack([-tangents[:, 1], tangents[:, 0]])
    return _across(plane, pixel, points, normals, _NARROW_MM, wrap=curve.closed, step=step), along


def evened(ring: FloatArray) -> FloatArray:
    """A ring of points in even steps, free of the steps of a grid."""
    even = _even(np.vstack([ring, ring[:1]]))[:-1]
    return np.asarray(gaussian_filter1d(even, 1.5 / STEP_MM, axis=0, mode="wrap"))


def drawn_points(plane: Plane, pixel: float, ring: FloatArray) -> FloatArray:
    """Middles of the line along a ring of points near it, in mm."""
    smooth = evened(ring)
    return _across(plane, pixel, smooth, _normals(smooth, wrap=True), _WIDE_MM, wrap=True).points


def second_line(plane: Plane, pixel: float, curve: Curve) -> FloatArray | None:
    """A point where a second line runs beside a closed curve's own for a centimetre, too near to
    be a line of its own; None if there is none."""
    step = 2.0 * pixel
    along = np.arange(0.0, curve.length, step)
    points, tangents = curve.points_along(along), curve.tangents_along(along)
    normals = np.column_stack([-tangents[:, 1], tangents[:, 0]])
    offsets = np.arange(-round(_TWIN_MM / pixel), round(_TWIN_MM / pixel) + 1) * pixel
    columns, rows = np.floor(
        np.moveaxis(points[:, None] + normals[:, None] * offsets[:, None], -1, 0) / pixel
    ).astype(int)
    high, wide = plane.shape
    seen = plane[np.clip(rows, 0, high - 1), np.clip(columns, 0, wide - 1)].astype(float)
    calm = gaussian_filter1d(seen, 1.5 / step, axis=0, mode="wrap")
    own = calm[:, np.abs(offsets) <= 2.0 * pixel].max(axis=1)
    found = np.zeros(len(along), dtype=bool)
    for side in (-1.0, 1.0):
        beside = calm[:, side * offsets >= _OWN_MM].max(axis=1)
        run = uniform_filter1d((beside > _TWIN * own).astype(float), round(_TWIN_ALONG_MM / step))
        found |= run > 0.9
    return points[int(np.argmax(found))] if found.any() else None


def _even(points: FloatArray) -> FloatArray:
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0.0, along[-1], max(int(along[-1] / STEP_MM), 1) + 1)
    return np.column_stack([np.interp(at, along, points[:, axis]) for axis in (0, 1)])


def _normals(points: FloatArray, *, wrap: bool) -> FloatArray:
    if wrap:
        ahead = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    else:
        ahead = np.gradient(points, axis=0)
    ahead = ahead / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    return np.column_stack([-ahead[:, 1], ahead[:, 0]])


def _across(
    plane: Plane,
    pixel: float,
    points: FloatArray,
    normals: FloatArray,
    reach: float,
    *,
    wrap: bool,
    step: float = STEP_MM,
) -> Samples:
    cv2 = opencv()
    offsets = np.arange(-round(reach / _ACROSS_MM), round(reach / _ACROSS_MM) + 1) * _ACROSS_MM
    places = points[:, None, :] + normals[:, None, :] * offsets[:, None]
    low = np.maximum(np.floor(places.min(axis=(0, 1)) / pixel).astype(int) - 3, 0)
    high = np.ceil(places.max(axis=(0, 1)) / pixel).astype(int) + 3
    crop = plane[low[1] : high[1], low[0] : high[0]].astype(np.float32) / FULL
    where = (places / pixel - 0.5 - low).astype(np.float32)
    seen = cv2.remap(
        crop, where[..., 0], where[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    mode: Literal["wrap", "nearest"] = "wrap" if wrap else "nearest"
    calm = gaussian_filter1d(seen.astype(float), min(0.6 / step, 1.5), axis=0, mode=mode)
    calm = gaussian_filter1d(calm, 1.5, axis=1, mode="nearest")
    # What is near outweighs what is dark: writing may run beside the line.
    peak = np.argmax(calm * np.exp(-0.5 * (offsets / reach) ** 2), axis=1)
    half = round(_WEIGHED_MM / _ACROSS_MM)
    rows = np.arange(len(points))[:, None]
    # Beyond the ends of the profile there is paper, for all that is known.
    wide = np.pad(calm, ((0, 0), (half, half)), mode="edge")
    window = wide[rows, peak[:, None] + np.arange(2 * half + 1)]
    ground = np.maximum(window[:, 0], window[:, -1])[:, None]
    weight = np.maximum(window - ground, 0.0)
    total = weight.sum(axis=1)
    shift = (weight @ np.arange(-half, half + 1)) / np.maximum(total, 1e-9) * _ACROSS_MM
    offset = offsets[peak] + shift
    here = calm[:, np.abs(offsets) <= _ON_IT_MM].max(axis=1)
    return Samples(points + normals * offset[:, None], offset, here)


def corners_of(points: FloatArray) -> list[int]:
    """Which of a ring's points are next to its corners."""
    calm = gaussian_filter1d(points, 0.8 / STEP_MM, axis=0, mode="wrap")
    near, far = round(_NEAR_MM / STEP_MM), round(_FAR_MM / STEP_MM)
    before = np.roll(calm, near, axis=0) - np.roll(calm, far, axis=0)
    after = np.roll(calm, -far, axis=0) - np.roll(calm, -near, axis=0)
    turn = np.abs(_angle(before, after))
    peaks = (turn == maximum_filter1d(turn, far, mode="wrap")) & (turn > 0.6 * CORNER)
    return [int(k) for k in np.flatnonzero(peaks) if _sharp(calm, int(k)) > CORNER]


def _sharp(points: FloatArray, at: int) -> float:
    """Angle between the parabolas on both sides of a point, carried on to it: a bend has none."""
    reach = np.arange(round(_ROUNDED_MM / STEP_MM), round(14.0 / STEP_MM))
    t = reach * STEP_MM
    slopes = []
    for side in (-1, 1):
        part = points[(at + side * reach) % len(points)]
        slopes.append(side * np.polynomial.polynomial.polyfit(t, part, 2)[1])
    return float(np.abs(_angle(slopes[0], slopes[1])))


def _angle(one: FloatArray, other: FloatArray) -> FloatArray:
    cross = one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0]
    return np.asarray(np.arctan2(cross, (one * other).sum(axis=-1)))


def _trimmed(points: FloatArray, by: float) -> FloatArray:
    cut = min(round(by / STEP_MM), (len(points) - 4) // 2)
    return points[cut : len(points) - cut] if cut > 0 else points


def fit_run(points: FloatArray, doubt: float, ends: tuple[FloatArray, ...] = ()) -> Run:
    """The simplest curve along points that lie about evenly: straight if it may be.

    *ends*: where it has to start and to end, if that is known.
    """
    weight = np.ones(len(points))
    if ends:
        points = np.vstack([ends[0], points, ends[1]])
        weight = np.concatenate([[_HEAVY], weight, [_HEAVY]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    # Points stray to both sides: a straight way through them is shorter than from one to the next.
    calm = gaussian_filter1d(points, 1.0 / STEP_MM, axis=0, mode="nearest")
    steps = np.maximum(np.hypot(*np.diff(calm, axis=0).T), 1e-3)
    along = np.concatenate([[0.0], np.cumsum(steps)]) if not ends else along
    size = float(along[-1])
    allowed = min(max(_BOWED * doubt, _LEAST_STRAIGHT_MM), STRAIGHT_MM)
    spline, apart, _ = _fitted(along, points, weight, 1, 0)
    if np.abs(apart).max() <= allowed:
        return Run(spline, True, size)
    pieces, most = 1, max(1, min(int(size / _SHORTEST_KNOTS_MM), (len(points) - 4) // 2))
    while True:
        spline, apart, noise = _fitted(along, points, weight, 3, pieces - 1)
        if pieces >= most or np.abs(apart).max() <= max(FIT_MM, 3.0 * noise):
            return Run(spline, False, size)
        pieces = min(pieces + 1 + pieces // 3, most)


def _fitted(
    along: FloatArray, points: FloatArray, weight: FloatArray, degree: int, inner: int
) -> tuple[BSpline, FloatArray, float]:
    """A spline by least squares that strays do not pull; how far the line stays from it on average
    over some millimetres, and how well that average is known."""
    size = along[-1]
    knots = np.concatenate(
        [
            np.zeros(degree + 1),
            np.linspace(0.0, size, inner + 2)[1:-1],
            np.full(degree + 1, size),
        ]
    )
    trust = weight.copy()
    for _ in range(3):
        spline = make_lsq_spline(along, points, knots, degree, w=np.sqrt(trust))
        slope = spline.derivative()(along)
        slope /= np.maximum(np.hypot(*slope.T), 1e-9)[:, None]
        rest = points - spline(along)
        apart = rest[:, 1] * slope[:, 0] - rest[:, 0] * slope[:, 1]
        scale = max(1.4826 * float(np.median(np.abs(apart))), 0.02)
        share = np.clip(1.0 - (apart / (5.0 * scale)) ** 2, 0.0, None) ** 2
        trust = weight * np.maximum(share, 1e-6)
    spread = 2.0 / STEP_MM
    share = np.minimum(trust, 1.0)
    mean = gaussian_filter1d(apart * share, spread, mode="nearest")
    mean /= np.maximum(gaussian_filter1d(share, spread, mode="nearest"), 1e-3)
    rough = float(np.sqrt(np.average((apart - mean) ** 2, weights=share)))
    # Neighbours are averaged over 0.6 mm already.
    return spline, mean, rough * math.sqrt(1.5 / (spread * 2.0 * math.sqrt(math.pi)))


def _meeting(runs: list[Run], doubt: float) -> list[Run]:
    """Runs carried on to where they meet their neighbours."""
    meets = []
    for one, other in zip(runs, runs[1:] + runs[:1], strict=True):
        (p, d), (q, e) = one.end(True), other.end(False)
        cross = d[0] * e[1] - d[1] * e[0]
        if abs(cross) < math.sin(0.5 * CORNER):
            meets.append(0.5 * (p + q))
            continue
        meets.append(p + d * (((q - p)[0] * e[1] - (q - p)[1] * e[0]) / cross))
    found = []
    for number, run in enumerate(runs):
        t = np.linspace(0.0, run.length, max(int(run.length / STEP_MM), 4) + 1)
        ends = meets[number - 1], meets[number]
        if run.straight:
            line = line_control(ends[0][None], ends[1][None])[0]
            size = float(np.hypot(*(ends[1] - ends[0])))
            found.append(Run(BSpline([0.0, 0.0, size, size], line[[0, 3]], 1), True, size))
        else:
            found.append(fit_run(np.asarray(run.spline(t)), 0.0, ends))
    return found


def _followed(plane: Plane, pixel: float, run: Run, doubt: float) -> Run:
    """The run fitted anew to the line as seen along it."""
    t = np.linspace(0.0, run.length, max(int(run.length / STEP_MM), 8) + 1)
    points = np.asarray(run.spline(t))
    slope = run.spline.derivative()(t)
    slope = slope / np.maximum(np.hypot(*slope.T), 1e-9)[:, None]
    normals = np.column_stack([-slope[:, 1], slope[:, 0]])
    found = _across(plane, pixel, points, normals, _NARROW_MM, wrap=False)
    return fit_run(_trimmed(found.points, _CLEAR_MM), doubt)
