"""Turn of cloth: growth across and lengthening along each panel, per mm of distance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from ..errors import BodyError, ShiftError, UnknownNameError, WrongTypeError
from ..outline import FloatArray
from ..outline.bezier import IntArray, sealed
from ..outline.by_value import ByValue
from ..outline.splines import Spline
from ..pattern.edge_pieces import profile
from ..pattern.panel import EdgeName
from ..pattern.pattern import Pattern
from ..pattern.places import Places
from ..pattern.profile import SIDES, Profile, run_out
from ..pattern.two_sides import first_side
from . import BodyModel, Measures, Ring, Turn
from .spread import COVER_95

LEVEL_STEP_MM: Final = 3.0
"""Spacing of the heights at which the body model is asked; splines fill in between."""

_BEYOND_MM: Final = 1.0
"""How far beyond its panels a pattern may be asked."""


@dataclass(frozen=True, eq=False)
class TurnOfCloth(ByValue):
    """What one mm of distance from the drafted layer does to each panel.

    Parameters
    ----------
    pattern : Pattern
    profile : Profile
        The panels' side edges.
    spline : Spline
        Over the heights that the edges reach: each panel's turning in radians; the tilt at each
        of its side edges, front and back in turn, shared by the two sides of a seam; then the
        lacing gap's turning and the tilts beside it; then, where the body model knows how the
        seams run, the slant of each side edge, and last the direction of the normal there.
    body : Turn
        The body model's own answer, right round the body.
    ring : Ring
        The panels as they were laid round it.

    Notes
    -----
    For a layer at distance d a panel grows by d cos(tilt) theta at each level (Meusnier's
    theorem) and its length from the waist changes by d (tilt(0) - tilt(v)). That is a seam
    that runs straight up the surface. One that slants by an angle a from there, its normal
    turning by psi' for each mm of height, is strained by

        (-tilt' cos a + cos(tilt) psi' sin a) cos a

    for each mm of distance: the change of the surface's normal along the seam, taken along
    the seam (m being up the surface and T along the level, dn/ds = -tilt_s m + cos(tilt)
    psi_s T, and the seam's tangent is cos a m + sin a T). Round a closed
    section the angles sum to 2 pi (turning tangents), so the whole girth grows by
    2 pi d cos(tilt) (Steiner's formula).

    Beyond the ends of the edges angles and tilts go on along their tangents over 25 mm, as the
    edges themselves do: a crease there would bend every top that rises above them.
    """

    pattern: Pattern
    profile: Profile = field(repr=False, compare=False)
    spline: Spline = field(repr=False, compare=False)
    body: Turn = field(repr=False)
    ring: Ring = field(repr=False, compare=False)

    def with_classes(self, classes: Sequence[str]) -> TurnOfCloth:
        """The same with other curvature classes, round a body whose model does not ask for them."""
        return replace(self, ring=replace(self.ring, classes=_all_round(self.places, classes)))

    @cached_property
    def places(self) -> Places:
        """Where the panels lie in the ring: those with slits have several places."""
        return Places.of(self.pattern)

    def by_place(self, heights: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Width in mm and turning of each place at heights in mm, shapes (places, m)."""
        widths = self.places.widths(self.profile, heights)
        rows, spline = np.arange(len(widths)), self.spline
        if self.places.lines is not None:
            rows, spline = rows + self.places.first, self._by_column
        every = np.tile(heights, len(widths)), np.repeat(rows, len(heights))
        return widths, read_beyond(spline, *every)[0].reshape(widths.shape)

    def growth_by_place(self, heights: FloatArray) -> FloatArray:
        """Growth of each place for each mm of distance at heights, shape (places, m).

        A panel's parts grow as they turn, together as the panel does.
        """
        growth = self.growth_on(heights)
        owner, (_, turned) = self.places.panel, self.by_place(heights)
        whole = self.places.summed(turned)[owner]
        several = np.bincount(owner)[owner][:, None]
        share = np.where(whole != 0.0, turned / np.where(whole != 0.0, whole, 1.0), 1.0 / several)
        return np.asarray(growth[owner] * share)

    @cached_property
    def _by_column(self) -> Spline:
        """Turning of each column of the ring."""
        return Spline.smooth(self.body.heights, self.body.angles)

    # -- at any height ------------------------------------------------------------------

    def read(self, heights: FloatArray, row: IntArray) -> tuple[FloatArray, FloatArray]:
        """Rows of the spline, shape (..., k), at heights in mm, (k,), and their rates."""
        return read_beyond(self.spline, heights, row)

    def tilts_at(self, heights: FloatArray, edge: IntArray) -> tuple[FloatArray, FloatArray]:
        """Tilts in radians of side edges, as `profile` numbers them, and their rates, (k,)."""
        return self.read(heights, len(self.pattern.panels) + edge)

    def strains_at(self, heights: FloatArray, edge: IntArray) -> FloatArray | None:
        """Relative change of length of side edges for each mm of distance, shape (k,).

        None if the body model does not know how the seams run.
        """
        count = len(self.pattern.panels)
        known = self._gap_row + 3
        if not self.knows_seams:
            return None
        rows = np.stack([count + edge, known + edge, known + 2 * count + edge])
        (tilt, slant, _), (tilting, _, turning) = self.read(heights, rows)
        up, aside = np.cos(slant), np.sin(slant)
        return np.asarray((np.cos(tilt) * turning * aside - tilting * up) * up)

    @property
    def knows_seams(self) -> bool:
        """Whether the body model knows how the seams run, and so tells their strain."""
        return self.body.normals is not None and self.body.slants is not None

    @property
    def _gap_row(self) -> int:
        return 3 * len(self.pattern.panels)

    def grown(self, heights: FloatArray, panel: IntArray) -> tuple[FloatArray, FloatArray]:
        """Growth of panels across for each mm of distance, and its rate, shapes (k,)."""
        count = len(self.pattern.panels)
        return self._grown(heights, panel, count + 2 * panel, count + 2 * panel + 1)

    def grown_and_tilts(
        self, heights: FloatArray, panel: IntArray
    ) -> tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]:
        """What `grown` gives of panels, and `tilts_at` of their two edges, shapes (2, k)."""
        front = len(self.pattern.panels) + 2 * panel
        value, rate = self.read(heights, np.stack([panel, front, front + 1]))
        return _growth(value, rate), (value[1:], rate[1:])

    def _grown(
        self, heights: FloatArray, angle: IntArray, one: IntArray, two: IntArray
    ) -> tuple[FloatArray, FloatArray]:
        """Growth of what turns by row `angle` between tilts by rows `one` and `two`."""
        return _growth(*self.read(heights, np.stack([angle, one, two])))

    @cached_property
    def _names(self) -> tuple[str, ...]:
        return tuple(panel.name for panel in self.pattern.panels)

    def place(self, panel: int | str) -> int:
        """Place of a panel in the pattern, by its name or its place there."""
        # Rows of the spline beyond the panels' are edges: they would answer.
        return UnknownNameError.place("panel", panel, self._names)

    @cached_property
    def reach(self) -> tuple[float, float]:
        """From where to where there are panels, in mm above the waist."""
        panels = self.pattern.panels
        ends = np.concatenate([p.frame.to_panel(p.outline.flatten())[:, 1] for p in panels])
        return float(ends.min()), float(ends.max())

    def within_reach(self, heights: npt.ArrayLike) -> FloatArray:
        """Heights in mm above the waist as an array.

        Raises `WrongTypeError` if they are no numbers, and `ShiftError` if no panel reaches to one.
        """
        found = _heights(heights)
        low, high = self.reach
        beyond = found[~((found >= low - _BEYOND_MM) & (found <= high + _BEYOND_MM))]
        if beyond.size:
            raise ShiftError(
                f"no panel reaches to {beyond.flat[0]:g} mm above the waist",
                remedy=f"Give a height from {low:.0f} to {high:.0f} mm.",
            )
        return found

    def angle_at(self, panel: int | str, height: float) -> float:
        """Turning of a panel, by its place or its name, at a height in mm, in radians.

        Raises `UnknownNameError` for a panel that is not there, `ShiftError` for no height.
        """
        return float(self.read(np.array([one_height(height)]), np.array([self.place(panel)]))[0][0])

    def gap_angle_at(self, height: float) -> float:
        """Turning of the lacing gap at a height in mm, in radians."""
        return float(self.read(np.array([one_height(height)]), np.array([self._gap_row]))[0][0])

    def growth_at(self, panel: int | str, height: float) -> float:
        """Growth of a panel across for each mm of distance, at a height in mm.

        Raises `UnknownNameError` for a panel that is not there, `ShiftError` for no height.
        """
        panel, height = self.place(panel), one_height(height)
        known = self._growth_known
        if (panel, height) not in known:
            found, _ = self.grown(np.array([height]), np.array([panel]))
            known[panel, height] = float(found[0])
        return known[panel, height]

    def ring_growth_at(self, height: float) -> float:
        """Growth right round the body, gap included, for each mm of distance."""
        at = np.array([one_height(height)])
        drawn = sum(self.growth_at(i, height) for i in range(len(self.pattern.panels)))
        return float((1.0 if self.pattern.full else 2.0) * drawn + self._gap_growth(at)[0])

    def width_at(self, panel: int | str, height: float) -> float:
        """Width of a drafted panel in mm at a height in mm.

        Raises `UnknownNameError` for a panel that is not there, `ShiftError` for no height.
        """
        panel, height = self.place(panel), one_height(height)
        if height not in self._widths_known:
            self._widths_known[height] = self.profile.widths_at(np.array([height]))[:, 0]
        return float(self._widths_known[height][panel])

    @cached_property
    def _growth_known(self) -> dict[tuple[int, float], float]:
        """What was asked for: a fit sheet asks for the same few levels hundreds of times."""
        return {}

    @cached_property
    def _widths_known(self) -> dict[float, FloatArray]:
        return {}

    def spread_at(self, panel: int | str, height: float) -> float | None:
        """Plus or minus (95 %) of a panel's growth that the body leaves open, at a height.

        In mm for each mm of distance; None if the body model states none.
        """
        spread = self.body.spread
        if spread is None:
            return None
        columns, height = self.places.columns(self.place(panel)), one_height(height)
        if len(columns) == 1:
            growth = spread.growth[:, columns[0]]
        else:
            growth = COVER_95 * spread.bodies[:, :, columns].sum(axis=2).std(axis=0)
        return float(np.interp(height, spread.heights, growth))

    def lengthening_spread_at(
        self, panel: int | str, edge: EdgeName, height: float
    ) -> float | None:
        """The same for the length of a panel's edge from the waist to a height in mm."""
        UnknownNameError.unless("side edge", edge, SIDES)
        height = one_height(height)
        spread = self.body.spread
        if spread is None:
            return None
        seam = self.places.first + self.places.edges[self.place(panel), SIDES.index(edge)]
        return float(np.interp(height, spread.heights, spread.lengthening[:, seam]))

    def closure_at(self, height: float) -> float:
        """Sum of turning right round the body at a height in mm, in radians."""
        drawn = sum(self.angle_at(i, height) for i in range(len(self.pattern.panels)))
        return (1.0 if self.pattern.full else 2.0) * drawn + self.gap_angle_at(height)

    # -- on the profile's heights -------------------------------------------------------

    def _spread(self, rows: IntArray) -> FloatArray:
        heights = self.profile.heights
        at = np.tile(heights, len(rows))
        return sealed(self.read(at, np.repeat(rows, len(heights)))[0].reshape(len(rows), -1))

    def _gap_growth(self, heights: FloatArray) -> FloatArray:
        row = np.full(len(heights), self._gap_row)
        return self._grown(heights, row, row + 1, row + 2)[0]

    @cached_property
    def angles(self) -> FloatArray:
        """Turning of each panel in radians at the profile's heights, shape (panels, m)."""
        return self._spread(np.arange(len(self.pattern.panels)))

    @cached_property
    def gap_angles(self) -> FloatArray:
        """Turning of the lacing gap there, shape (m,)."""
        return np.asarray(self._spread(np.array([self._gap_row]))[0])

    @cached_property
    def growth(self) -> FloatArray:
        """Growth of each panel for each mm of distance there, shape (panels, m)."""
        return sealed(self.growth_on(self.profile.heights))

    def growth_on(self, heights: FloatArray) -> FloatArray:
        """Growth of each panel for each mm of distance at heights, shape (panels, m)."""
        count = len(self.pattern.panels)
        panel = np.repeat(np.arange(count), len(heights))
        return self.grown(np.tile(heights, count), panel)[0].reshape(count, -1)

    @cached_property
    def gap_growth(self) -> FloatArray:
        """The same of the lacing gap, shape (m,)."""
        return sealed(self._gap_growth(self.profile.heights))

    @cached_property
    def tilt(self) -> dict[EdgeName, FloatArray]:
        """Tilt in radians at the front and back edges there, each of shape (panels, m)."""
        count = len(self.pattern.panels)
        rows = count + 2 * np.arange(count)
        return {name: self._spread(rows + side) for side, name in enumerate(SIDES)}


def one_height(given: float) -> float:
    """A height in mm above the waist; refused if it is no number, or many."""
    found = _heights(given)
    if found.ndim:
        WrongTypeError.unless(given, (), "a height", "one height in mm above the waist")
    if np.isnan(found):
        raise ShiftError("a height that is no number", remedy="Give it in mm above the waist.")
    return float(found)


def _heights(given: npt.ArrayLike) -> FloatArray:
    """Heights as an array of numbers."""
    wanted = "a height, or an array of heights, in mm above the waist"
    try:
        found = np.asarray(given)
    except ValueError:
        found = np.array(None)
    if (found.size and found.dtype.kind not in "iuf") or np.ma.is_masked(given):
        WrongTypeError.unless(given, (), "a height", wanted)
    return found.astype(np.float64)


def read_beyond(
    spline: Spline, heights: FloatArray, row: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Rows of a spline over the heights that edges reach, (..., k), and their rates.

    Beyond the ends they go on along their tangents for a while, as the edges themselves do.
    """
    low, high = spline.knots[0], spline.knots[-1]
    inside = np.minimum(np.maximum(heights, low), high)
    value, rate = spline.read_rows(inside, row)
    far, share = run_out(heights - inside)
    return value + rate * far, rate * share


def _growth(value: FloatArray, rate: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Growth, and its rate, from a turning and two tilts and theirs, each of shape (3, k)."""
    cos = 0.5 * np.cos(value[1:]).sum(axis=0)
    change = -0.5 * (np.sin(value[1:]) * rate[1:]).sum(axis=0)
    return value[0] * cos, rate[0] * cos + value[0] * change


def turn_of_cloth(
    pattern: Pattern,
    body: BodyModel,
    classes: Sequence[str],
    *,
    gap: float | Measures = 0.0,
    edges: Profile | None = None,
    first: Literal["right", "left"] | None = None,
) -> TurnOfCloth:
    """Ask a body model how each panel turns and tilts.

    *classes*: curvature class of each panel, in the pattern's order. *gap*: lacing gap in mm,
    or by height.
    *edges*: as `profile` gives it for this pattern, where it is known already. *first*: {"right",
    "left"}. Half of the wearer that the first panels of a full pattern cover, told by their names
    if not given; it matters where the body's halves differ.

    Raises `BodyError` if the number of classes is not that of panels, the gap is negative, or the
    model cannot answer.
    """
    if len(classes) != len(pattern.panels):
        raise BodyError(
            f"{len(classes)} classes for {len(pattern.panels)} panels",
            remedy="Give one class for each panel, in order.",
            source=pattern.source,
        )
    least = float(gap.values.min()) if isinstance(gap, Measures) else gap
    if not (np.isfinite(least) and least >= 0.0):
        raise BodyError(
            f"a lacing gap of {least:g} mm",
            remedy="Give the opening at the centre back in mm, 0 if the edges meet.",
            element="lacing_gap",
        )
    if edges is None:
        edges = profile(pattern)
    heights = _levels(edges)
    _refuse_no_width(pattern, edges, heights, edges.widths_at(heights).T)
    places = Places.of(pattern)
    widths = places.widths(edges, heights).T
    order = _all_round(places, classes)
    if pattern.full:
        ring = Ring(heights, widths, gap, order, first or first_side(pattern))
    else:
        ring = Ring(heights, np.hstack([widths[:, ::-1], widths]), gap, order)
    answer = body.turn(ring)
    WrongTypeError.unless(answer, Turn, "the body model's answer", "a panelshift.body.Turn")
    if answer.angles.shape[1] != ring.widths.shape[1]:
        raise BodyError(
            f"the body model turns {answer.angles.shape[1]} panels; {ring.widths.shape[1]} lie "
            "round the body",
            remedy="Give angles for all panels right round, as the ring has widths.",
        )
    return _spread(places, edges, answer, ring)


def _all_round(places: Places, classes: Sequence[str]) -> tuple[str, ...]:
    """Classes of the panels of both halves, as a ring has them."""
    return tuple(classes[panel] for panel in places.all_round)


def _levels(edges: Profile) -> FloatArray:
    """Evenly spaced heights over all that the side edges reach, the ends included."""
    low, high = edges.drawn
    # The sheet's turn or unit must not change the count by a rounding error.
    count = max(int(np.ceil((high - low) / LEVEL_STEP_MM - 1e-6)), 4) + 1
    return np.linspace(low, high, count)


def _refuse_no_width(
    pattern: Pattern, edges: Profile, heights: FloatArray, widths: FloatArray
) -> None:
    """A panel has some width wherever it is; a gore has none beyond its tip."""
    widths = np.where(edges.there(heights).T, widths, np.inf)
    level, panel = np.unravel_index(int(np.argmin(widths)), widths.shape)
    if widths[level, panel] <= 0.0:
        raise BodyError(
            f"panel {pattern.panels[panel].name!r} has no width "
            f"{heights[level]:+.0f} mm from the waist: its side edges meet or cross",
            remedy="Cut the point off square, or check the panel's corners.",
            source=pattern.source,
            element=pattern.panels[panel].ident,
        )


def _spread(places: Places, edges: Profile, answer: Turn, ring: Ring) -> TurnOfCloth:
    """Bring the body's answer for the ring on to the panels.

    A spline is linear in its data: sums that close on the body's heights close between them
    and, as their slopes sum to nothing, beyond.
    """
    seams = places.first + places.edges
    columns = [
        places.by_panel(answer.angles),
        answer.tilts[:, seams.ravel()],
        answer.gap_angles[:, None],
        answer.tilts[:, [0, -1]],
    ]
    if answer.normals is not None and answer.slants is not None:
        columns += [seen[:, seams.ravel()] for seen in (answer.slants, answer.normals)]
    spline = Spline.smooth(answer.heights, np.concatenate(columns, axis=1))
    return TurnOfCloth(places.pattern, edges, spline, answer, ring)
