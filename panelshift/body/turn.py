"""Turn of cloth: growth across and lengthening along each panel, per mm of distance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ..errors import BodyError
from ..outline import FloatArray
from ..outline.splines import Spline
from ..pattern.panel import EdgeName
from ..pattern.pattern import Pattern
from ..pattern.profile import Profile, profile
from . import BodyModel, Ring, Turn

LEVEL_STEP_MM: Final = 3.0
"""Spacing of the heights at which the body model is asked; splines fill in between."""

_RUN_OUT_MM: Final = 25.0
"""Beyond the ends of the edges angles and tilts follow their tangents over this length, as the
edges themselves do in the profile."""


@dataclass(frozen=True, eq=False)
class TurnOfCloth:
    """What one mm of distance from the drafted layer does to each panel.

    Parameters
    ----------
    pattern : Pattern
    profile : Profile
        The panels' side edges; all arrays below are on its heights.
    angles : ndarray, shape (panels, m)
        Turning theta of each panel in radians.
    gap_angles : ndarray, shape (m,)
        Turning of the lacing gap.
    growth : ndarray, shape (panels, m)
        Growth across for each mm of distance: cos(tilt) theta.
    gap_growth : ndarray, shape (m,)
        The same for the lacing gap.
    tilt : dict of edge name to ndarray, shape (panels, m)
        Tilt at the front and back edge of each panel in radians, shared by the two sides of
        a seam.
    body : Turn
        The body model's own answer, right round the body.
    strain : dict of edge name to ndarray, shape (panels, m), optional
        Relative change of length along the front and back edge for each mm of distance,
        where the body model knows how the seams run.

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
    """

    pattern: Pattern
    profile: Profile = field(repr=False)
    angles: FloatArray = field(repr=False)
    gap_angles: FloatArray = field(repr=False)
    growth: FloatArray = field(repr=False)
    gap_growth: FloatArray = field(repr=False)
    tilt: dict[EdgeName, FloatArray] = field(repr=False)
    body: Turn = field(repr=False)
    strain: dict[EdgeName, FloatArray] | None = field(default=None, repr=False)

    def angle_at(self, panel: int, height: float) -> float:
        """Turning of a panel at a height in mm, in radians."""
        return float(np.interp(height, self.profile.heights, self.angles[panel]))

    def growth_at(self, panel: int, height: float) -> float:
        """Growth of a panel across for each mm of distance, at a height in mm."""
        return float(np.interp(height, self.profile.heights, self.growth[panel]))

    def ring_growth_at(self, height: float) -> float:
        """Growth right round the body, gap included, for each mm of distance."""
        drawn = self.growth.sum(axis=0)
        whole = (1.0 if self.pattern.full else 2.0) * drawn + self.gap_growth
        return float(np.interp(height, self.profile.heights, whole))

    def width_at(self, panel: int, height: float) -> float:
        """Width of a drafted panel in mm at a height in mm."""
        return float(np.interp(height, self.profile.heights, self.profile.widths[panel]))

    def closure_at(self, height: float) -> float:
        """Sum of turning right round the body at a height in mm, in radians."""
        drawn = self.angles.sum(axis=0)
        whole = (1.0 if self.pattern.full else 2.0) * drawn + self.gap_angles
        return float(np.interp(height, self.profile.heights, whole))


def turn_of_cloth(
    pattern: Pattern,
    body: BodyModel,
    classes: Sequence[str],
    *,
    gap: float = 0.0,
    edges: Profile | None = None,
) -> TurnOfCloth:
    """Ask a body model how each panel turns and tilts.

    Parameters
    ----------
    pattern : Pattern
    body : BodyModel
    classes : sequence of str
        Curvature class of each panel, in the pattern's order.
    gap : float
        Lacing gap in mm.
    edges : Profile, optional
        As `profile` gives it for this pattern, where it is known already.

    Raises
    ------
    BodyError
        If the number of classes is not that of panels, the gap is negative, or the model
        cannot answer.
    """
    if len(classes) != len(pattern.panels):
        raise BodyError(
            f"{len(classes)} classes for {len(pattern.panels)} panels",
            remedy="Give one class for each panel, in order.",
            source=pattern.source,
        )
    if not (np.isfinite(gap) and gap >= 0.0):
        raise BodyError(
            f"a lacing gap of {gap:g} mm",
            remedy="Give the opening at the centre back in mm, 0 if the edges meet.",
            element="lacing_gap",
        )
    if edges is None:
        edges = profile(pattern)
    heights = _levels(edges)
    widths = np.array([np.interp(heights, edges.heights, row) for row in edges.widths]).T
    _refuse_no_width(pattern, heights, widths)
    order = tuple(classes)
    if pattern.full:
        ring = Ring(heights, widths, gap, order)
    else:
        ring = Ring(heights, np.hstack([widths[:, ::-1], widths]), gap, order[::-1] + order)
    answer = body.turn(ring)
    return _spread(pattern, edges, answer)


def _levels(edges: Profile) -> FloatArray:
    """Evenly spaced heights over all that the side edges reach, the ends included."""
    low, high = edges.drawn
    # The sheet's turn or unit must not change the count by a rounding error.
    count = max(int(np.ceil((high - low) / LEVEL_STEP_MM - 1e-6)), 4) + 1
    return np.linspace(low, high, count)


def _refuse_no_width(pattern: Pattern, heights: FloatArray, widths: FloatArray) -> None:
    level, panel = np.unravel_index(int(np.argmin(widths)), widths.shape)
    if widths[level, panel] <= 0.0:
        raise BodyError(
            f"panel {pattern.panels[panel].name!r} has no width "
            f"{heights[level]:+.0f} mm from the waist: its side edges meet or cross",
            remedy="Cut the point off square, or check the panel's corners.",
            source=pattern.source,
            element=pattern.panels[panel].ident,
        )


def _spread(pattern: Pattern, edges: Profile, answer: Turn) -> TurnOfCloth:
    """Bring the body's answer for the ring on to the panels and the fine grid."""
    count = len(pattern.panels)
    first = 0 if pattern.full else count
    inside = np.clip(edges.heights, answer.heights[0], answer.heights[-1])
    past = edges.heights - inside
    beyond = np.sign(past) * _RUN_OUT_MM * -np.expm1(-np.abs(past) / _RUN_OUT_MM)
    going_on = np.exp(-np.abs(past) / _RUN_OUT_MM)

    def splined(values: FloatArray) -> tuple[FloatArray, FloatArray]:
        # A spline is linear in its data: sums that close on the coarse heights close between
        # them and, as their slopes sum to nothing, beyond. Where the edges end the values go
        # on along their tangent: a crease there would bend every top that rises above them.
        spline = Spline.smooth(answer.heights, values)
        slope = spline.rates(inside).T
        return spline.at(inside).T + beyond * slope, slope * going_on

    angles, gap_angles = (splined(values)[0] for values in (answer.angles, answer.gap_angles))
    tilts, tilting = splined(answer.tilts)
    own = angles[first : first + count]
    backwards = np.array([pattern.ends(i)[0] == "back" for i in range(count)])[:, None]

    def on_edges(seams: FloatArray) -> dict[EdgeName, FloatArray]:
        begin, end = seams[first : first + count], seams[first + 1 : first + count + 1]
        return {
            "front": np.where(backwards, end, begin),
            "back": np.where(backwards, begin, end),
        }

    cosines = np.cos(tilts)
    strain = None
    if answer.normals is not None and answer.slants is not None:
        slants, turning = splined(answer.slants)[0], splined(answer.normals)[1]
        up, round_ = np.cos(slants), np.sin(slants)
        strain = on_edges((cosines * turning * round_ - tilting * up) * up)
    growth = own * 0.5 * (cosines[first : first + count] + cosines[first + 1 : first + count + 1])
    gap_growth = gap_angles * 0.5 * (cosines[0] + cosines[-1])
    tilt = on_edges(tilts)
    return TurnOfCloth(pattern, edges, own, gap_angles, growth, gap_growth, tilt, answer, strain)
