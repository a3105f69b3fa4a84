"""Arc length, turning and corners of curves.

Lengths have an error estimate, which drives subdivision; corners are joints at which the tangent
breaks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

from .bezier import LINE, FloatArray, IntArray, bezier_derivatives, bezier_points, each, row
from .curve import Curve
from .many import gathered

LENGTH_TOLERANCE_MM: Final = 1e-6
"""Default absolute error of a segment's length."""


@dataclass(frozen=True, eq=False)
class _Rule:
    """A Gauss rule and its Kronrod extension on [0, 1], which reuses the Gauss nodes.

    Nodes and weights are those of Piessens et al., QUADPACK (Springer, 1983); a test checks
    their degree of exactness.
    """

    powers: FloatArray
    """1, t and t^2 at the nodes, shape (n, 3)."""
    kronrod: FloatArray
    difference: FloatArray
    """Weights of the difference between the two rules, shape (n,)."""

    @classmethod
    def of(cls, upper: str, weights: str) -> _Rule:
        """Make a rule from the nodes of [0, 1] of the usual [-1, 1], the middle one last."""
        half, share = (np.array([float(word) for word in t.split()]) for t in (upper, weights))
        nodes = np.concatenate([-half, half[-2::-1]])
        kronrod = np.concatenate([share, share[-2::-1]])
        _, gauss = np.polynomial.legendre.leggauss(len(nodes) // 2)
        difference = kronrod.copy()
        difference[1::2] -= gauss
        return cls(np.vander(0.5 * (nodes + 1.0), 3, True), 0.5 * kronrod, 0.5 * difference)


_WHOLE: Final = _Rule.of(
    """
    0.9956571630258081 0.9739065285171717 0.9301574913557082 0.8650633666889845
    0.7808177265864169 0.6794095682990244 0.5627571346686047 0.4333953941292472
    0.2943928627014602 0.14887433898163122 0.0
    """,
    """
    0.011694638867371874 0.032558162307964725 0.054755896574351995 0.07503967481091996
    0.0931254545836976 0.10938715880229764 0.12349197626206584 0.13470921731147334
    0.14277593857706009 0.14773910490133849 0.1494455540029169
    """,
)
"""10 and 21 points: for whole segments."""

_SHORT: Final = _Rule.of(
    """
    0.9604912687080203 0.7745966692414834 0.43424374934680254 0.0
    """,
    """
    0.10465622602646726 0.26848808986833345 0.40139741477596225 0.45091653865847414
    """,
)
"""3 and 7 points: for parts so short that they hardly bend."""

_ROUNDING: Final = 1e-12

_NOTHING_MM: Final = 1e-12
"""A length that is none, even where no error is allowed."""

_DERIVATIVE: Final = np.array(
    [[-3.0, 3.0, 0.0, 0.0], [6.0, -12.0, 6.0, 0.0], [-3.0, 9.0, -9.0, 3.0]]
)
"""From the control points of a cubic to the coefficients of its derivative."""

_UNEVEN: Final = 0.25
"""A least speed below this part of the greatest means a kink, or nearly one."""

_MANY_PARTS: Final = 100.0
"""Parts of one segment among which its tolerance is shared out."""

_MOST_HALVINGS: Final = 40
"""A cusp's error halves with each step; 2^-40 of a 100 m segment is far below any tolerance."""


def part_lengths(
    control: FloatArray, owner: IntArray, t0: FloatArray, t1: FloatArray
) -> FloatArray:
    """Arc length in mm over each of m short parts [t0, t1] of the cubics `owner`, shape (m,).

    The velocity of a cubic is, as a complex number, b (t - r)(t - s): its size has a kink, or
    the makings of one, at the real parts of r and s. Two rules may agree by chance on a part
    that holds one between their nodes; so a part on which they differ, or on which the speed
    is very uneven, is first cut there.
    """
    velocity, most = _velocity(control), LENGTH_TOLERANCE_MM
    total, bad = _integrals(*_moved(velocity[:, :, owner], t0, t1 - t0, _SHORT), most, _SHORT)
    if len(bad):
        total[bad] = _refined(velocity[:, :, owner[bad]], t0[bad], t1[bad], most, _SHORT)
    return total


def _refined(
    velocity: FloatArray, t0: FloatArray, t1: FloatArray, tolerance: float, rule: _Rule
) -> FloatArray:
    """Arc length over each of m parts that one pass cannot measure, shape (m,)."""
    total = np.zeros(len(t0))
    part, t0, t1 = _cut_at_kinks(velocity, t0, t1)
    # Halves add up their errors.
    each = tolerance / _MANY_PARTS
    for halving in range(_MOST_HALVINGS + 1):  # pragma: no branch - the last round ends it
        speeds = _moved(velocity[:, :, part], t0, t1 - t0, rule)
        fine, wrong = _integrals(*speeds, each, rule)
        if halving == _MOST_HALVINGS:  # pragma: no cover - lengths come to nothing before
            wrong = wrong[:0]
        fine[wrong] = 0.0
        total += np.bincount(part, fine, len(total))
        if len(wrong) == 0:
            break
        part, t0, t1 = part[wrong], t0[wrong], t1[wrong]
        middle = 0.5 * (t0 + t1)
        part = np.tile(part, 2)
        t0, t1 = np.concatenate([t0, middle]), np.concatenate([middle, t1])
    return total


def _integrals(
    dx: FloatArray, dy: FloatArray, tolerance: float, rule: _Rule
) -> tuple[FloatArray, IntArray]:
    """Arc lengths of m parts from their velocity at the nodes, and which are not to be trusted.

    *dx*, *dy*: ndarray, shape (nodes, m). Velocity with respect to a parameter that runs from 0 to
    1 over each part.

    Returns: *lengths*, ndarray, shape (m,); *bad*, ndarray of int, shape (k,).
    """
    squared = dx * dx + dy * dy
    speeds = np.sqrt(squared)
    fine, error = rule.kronrod @ speeds, np.abs(rule.difference @ speeds)
    uneven = squared.min(axis=0) < _UNEVEN**2 * squared.max(axis=0)
    # Below rounding size no halving helps: without the second bound a tolerance of 0 would
    # double the work forty times over.
    bad = uneven | (error > np.maximum(tolerance, _ROUNDING * fine))
    # A part that is shorter than the error allowed is right whatever it holds: where a curve runs
    # back on itself the speeds at the turn are rounding alone, and every half looks uneven.
    return fine, np.flatnonzero(bad & (fine > max(tolerance, _NOTHING_MM)))


def _velocity(control: FloatArray) -> FloatArray:
    """Coefficients of 1, t and t^2 of the derivatives of n cubics, shape (2, 3, n)."""
    # Seen from their first point, for what lies far out would lose digits.
    x, y = (control - control[:, :1]).transpose(2, 1, 0)
    return np.stack([_DERIVATIVE @ x, _DERIVATIVE @ y])


def _moved(
    velocity: FloatArray, t0: FloatArray, width: FloatArray, rule: _Rule
) -> tuple[FloatArray, FloatArray]:
    """Velocity at the nodes of parts [t0, t0 + width], as `_integrals` takes it."""
    a, b, c = velocity.transpose(1, 0, 2)
    moved = [a + t0 * (b + t0 * c), width * (b + 2.0 * t0 * c), width * width * c]
    x, y = np.stack(moved, axis=1) * width
    return rule.powers @ x, rule.powers @ y


def _cut_at_kinks(
    velocity: FloatArray, t0: FloatArray, t1: FloatArray
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Cut parts of cubics where their speed has a kink or comes near to one."""
    c, b, a = velocity[0] + 1j * velocity[1]
    root = np.sqrt(b * b - 4.0 * a * c)
    # The sign that adds sizes up loses no digits (Press et al., Numerical Recipes, 5.6).
    q = -0.5 * (b + np.where((np.conj(b) * root).real >= 0.0, root, -root))
    with np.errstate(divide="ignore", invalid="ignore"):
        kinks = np.stack([(q / a).real, (c / q).real])
    kinks = np.clip(np.where(np.isfinite(kinks), kinks, t0), t0, t1)
    bounds = np.stack([t0, kinks.min(axis=0), kinks.max(axis=0), t1])
    starts, ends = bounds[:-1].ravel(), bounds[1:].ravel()
    long = ends > starts
    return np.tile(np.arange(len(t0)), 3)[long], starts[long], ends[long]


def segment_lengths(curve: Curve, tolerance: float = LENGTH_TOLERANCE_MM) -> FloatArray:
    """Arc length of each segment in mm, shape (n,).

    *tolerance*: absolute error allowed for each segment, in mm. The error is estimated by comparing
    a 10-point Gauss rule with its 21-point Kronrod extension; where they differ by more, or the
    speed is very uneven, the segment is cut at the kinks of its speed, then halved.
    """
    velocity = _velocity(curve.control)
    result, bad = _integrals(
        _WHOLE.powers @ velocity[0], _WHOLE.powers @ velocity[1], tolerance, _WHOLE
    )
    if len(bad):
        ends = np.zeros(len(bad)), np.ones(len(bad))
        result[bad] = _refined(velocity[:, :, bad], *ends, tolerance, _WHOLE)
    lines = np.flatnonzero(curve.degree == LINE)
    if len(lines):
        chord = curve.control[lines, 3] - curve.control[lines, 0]
        result[lines] = np.hypot(chord[:, 0], chord[:, 1])
    return result


def length(curve: Curve, tolerance: float = LENGTH_TOLERANCE_MM) -> float:
    """Arc length of the whole curve in mm.

    Examples
    --------
    >>> from panelshift.outline import Curve
    >>> length(Curve.polyline([(0, 0), (3, 4), (3, 10)]))
    11.0
    """
    return float(segment_lengths(curve, tolerance).sum())


def turning(curve: Curve) -> float:
    """Net signed turn of the tangent along the curve in radians, corners included.

    Positive from the x axis towards the y axis. For a closed curve without
    self-crossings this is 2 pi or -2 pi (theorem of turning tangents).
    """
    parameters = np.linspace(0.0, 1.0, 17)
    control = np.repeat(curve.control, len(parameters), axis=0)
    inner = bezier_derivatives(control, np.tile(parameters, len(curve)))
    directions = inner.reshape(len(curve), len(parameters), 2)
    tangents = curve.end_tangents()
    directions[:, 0], directions[:, -1] = tangents[:, 0], tangents[:, 1]
    chain = directions.reshape(-1, 2)
    chain = chain[np.hypot(chain[:, 0], chain[:, 1]) > 0.0]
    if curve.closed:
        chain = np.vstack([chain, chain[:1]])
    return float(angles_between(chain[:-1], chain[1:]).sum())


def angles_between(first: FloatArray, second: FloatArray) -> FloatArray:
    """Signed angles from vectors `first` to `second`, each of shape (m, 2), in (-pi, pi]."""
    cross = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    dot = (first * second).sum(axis=1)
    result: FloatArray = np.arctan2(cross, dot)
    return result


def arc_table(curve: Curve, step: float) -> tuple[FloatArray, FloatArray]:
    """Positions along a curve and the arc length up to each.

    *step*: largest arc length between neighbouring positions, in mm (about).

    Returns: *positions*, ndarray, shape (m,): increasing from 0 to n; every joint of segments is
    among them; *lengths*, ndarray, shape (m,): arc length in mm from the start.
    """
    positions, parts = _parts(curve, np.arange(len(curve)), step)
    positions = np.concatenate([positions, [float(len(curve))]])
    return positions, np.concatenate([[0.0], np.cumsum(parts)])


def _parts(curve: Curve, segments: IntArray, step: float) -> tuple[FloatArray, FloatArray]:
    """Cut segments into parts of at most `step` mm: where each starts, and its arc length."""
    # The hull is longer than the curve, and costs no integral.
    sides = np.diff(curve.control[segments], axis=1)
    hull = np.hypot(sides[..., 0], sides[..., 1]).sum(axis=1)
    counts = np.clip(np.ceil(hull / step), 1, 4096).astype(np.int64)
    index, offset = each(counts)
    owner, widths = segments[index], 1.0 / counts[index]
    t0, t1 = offset * widths, (offset + 1) * widths
    return owner + t0, part_lengths(curve.control, owner, t0, t1)


def points_evenly(curve: Curve, count: int) -> FloatArray:
    """Points of a curve equally far apart along it, both ends among them, shape (count, 2).

    Unlike points at even positions they do not depend on where its nodes are.
    """
    return curve.points(position_at_length(curve, np.linspace(0.0, length(curve), count)))


def position_at_length(curve: Curve, lengths: npt.ArrayLike, step: float = 0.5) -> FloatArray:
    """Positions at given arc lengths from the start (mm), clipped to the curve's ends."""
    wanted = np.atleast_1d(np.asarray(lengths, dtype=np.float64))
    starts = np.concatenate([[0.0], np.cumsum(segment_lengths(curve))])
    holder = np.clip(np.searchsorted(starts, wanted, side="right") - 1, 0, len(curve) - 1)
    result = np.empty(len(wanted))
    # Only the segments that hold a wanted length are looked into.
    for segment in sorted(set(holder.tolist())):
        inside = holder == segment
        if curve.degree[segment] == LINE:
            table, ends = starts[segment : segment + 2], np.array([segment, segment + 1.0])
        else:
            positions, parts = _parts(curve, np.array([segment]), step)
            table = starts[segment] + np.concatenate([[0.0], np.cumsum(parts)])
            ends = np.concatenate([positions, [segment + 1.0]])
        result[inside] = np.interp(wanted[inside], table, ends)
    return result


def positions_at(curve: Curve, lengths: npt.ArrayLike) -> FloatArray:
    """As `position_at_length`, with Newton's steps on the arc length itself: to 1e-6 mm."""
    total = np.concatenate([[0.0], np.cumsum(segment_lengths(curve))])
    wanted = np.clip(row(lengths), 0.0, total[-1])
    s = position_at_length(curve, wanted)
    segment = np.minimum(s.astype(np.int64), len(curve) - 1)
    t = s - segment
    for _ in range(3):
        run = total[segment] + part_lengths(curve.control, segment, np.zeros_like(t), t)
        speed = np.hypot(*bezier_derivatives(curve.control[segment], t).T)
        step = np.divide(wanted - run, speed, out=np.zeros_like(t), where=speed > 1e-9)
        t = np.clip(t + step, 0.0, 1.0)
    return np.asarray(segment + t)


@cache
def _five() -> tuple[FloatArray, FloatArray]:
    """Nodes and weights on [0, 1], exact for polynomials up to the ninth degree."""
    nodes, weights = np.polynomial.legendre.leggauss(5)
    return 0.5 * (nodes + 1.0), 0.5 * weights


_NO_AREA: Final = 1e-13
"""Of the square on a curve's diagonal: less than this is rounding."""


def area_and_centroid(curve: Curve) -> tuple[float, FloatArray]:
    """Signed area in mm2 within a curve, closed by its chord, and its centroid in mm, shape (2,).

    Green's theorem: the integrals of x dy and of half squares round the border, whose degree on
    cubics is 8 at most: Gauss's rule of five nodes is exact. Positive where it runs from x to y.
    """
    nodes, weights = _five()
    middle = curve.hull_box.mean(axis=0)
    chord = np.linspace(curve.end, curve.start, 4)[None]
    control = np.concatenate([curve.control, chord]) - middle
    at = np.repeat(control, len(nodes), axis=0)
    t = np.tile(nodes, len(control))
    (x, y), (dx, dy) = bezier_points(at, t).T, bezier_derivatives(at, t).T
    weight = np.tile(weights, len(control))
    area = float(0.5 * weight @ (x * dy - y * dx))
    # A line there and back has none but by rounding, which would say anything of its centre.
    if abs(area) <= _NO_AREA * float(np.square(np.ptp(curve.hull_box, axis=0)).sum()):
        return 0.0, middle
    moments = np.array([weight @ (x * x * dy), -weight @ (y * y * dx)])
    return area, np.asarray(middle + 0.5 * moments / area)


CORNER_ANGLE: Final = np.radians(35.0)
"""A break of at least this much ends an edge; less is a vertex of an edge drawn in lines."""

STRAY_SEGMENT_MM: Final = 0.2
"""Segments shorter than this have no say in a corner's angle: they are drawing residue."""


def all_breaks(curves: Sequence[Curve]) -> list[FloatArray]:
    """Breaks of several curves in one pass: see `breaks`."""
    if not curves:
        return []
    control, _ = gathered(curves)
    chord = control[:, 3] - control[:, 0]
    stray = np.hypot(chord[:, 0], chord[:, 1]) < STRAY_SEGMENT_MM
    tangents = np.concatenate([curve.end_tangents() for curve in curves])
    ends = np.cumsum([len(curve) for curve in curves])
    firsts = np.concatenate([[0], ends[:-1]])
    arriving = np.concatenate([tangents[-1:, 1], tangents[:-1, 1]])
    arriving[firsts] = tangents[ends - 1, 1]
    turned = angles_between(arriving, tangents[:, 0])
    turned[firsts[[not curve.closed for curve in curves]]] = 0.0
    odd = np.logical_or.reduceat(stray, firsts).tolist()
    bounds = zip(curves, odd, firsts.tolist(), ends.tolist(), strict=True)
    return [breaks(curve) if bits else turned[k:end] for curve, bits, k, end in bounds]


def breaks(curve: Curve) -> FloatArray:
    """Signed break of the tangent at each joint in radians, shape (n,).

    Entry i belongs to the start of segment i; entry 0 of an open curve is 0. A run of stray
    segments counts as one joint, whose break stands where the run itself breaks most: short
    segments at the end of a refitted edge belong to that edge.
    """
    count = len(curve)
    chord = curve.control[:, 3] - curve.control[:, 0]
    real = np.hypot(chord[:, 0], chord[:, 1]) >= STRAY_SEGMENT_MM
    if not real.all():
        # Few segments are longer than their chord in a way that matters here.
        real = segment_lengths(curve, 1e-3) >= STRAY_SEGMENT_MM
    if not real.any():
        real[:] = True
    tangents = curve.end_tangents()
    arriving = np.concatenate([tangents[-1:, 1], tangents[:-1, 1]])
    turned = angles_between(arriving, tangents[:, 0])
    if real.all():
        if not curve.closed:
            turned[0] = 0.0
        return turned
    result = np.zeros(count)
    kept = np.flatnonzero(real)
    before = kept if curve.closed else kept[:-1]
    after = np.roll(kept, -1) if curve.closed else kept[1:]
    sharp = np.abs(turned)
    for one, two in zip(before, after, strict=True):
        run = np.arange(one + 1, one + 1 + (two - one - 1) % count + 1) % count
        at = run[np.argmax(sharp[run])]
        result[at] = angles_between(tangents[one : one + 1, 1], tangents[two : two + 1, 0])[0]
    return result
