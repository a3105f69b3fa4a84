"""Body models that look at the panels' widths alone: by classes, and rolled over a cylinder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

import numpy as np

from ..errors import BodyError
from ..outline import FloatArray
from .measures import Measures
from .ring import Ring, RingModel, Turn, body_girths, slopes, tilt_of

CLASS_NAMES: Final = ("front", "side", "back")

_BREADTH, _DEPTH = 1.4, 1.0
_MEAN_RADIUS = 1.2083479025
"""Perimeter over 2 pi of the ellipse with half axes 1.4 and 1.0 (scipy.special.ellipe)."""

DEFAULT_FACTORS: Final[Mapping[str, float]] = MappingProxyType(
    {
        "front": _BREADTH**2 / _DEPTH / _MEAN_RADIUS,
        "side": _DEPTH**2 / _BREADTH / _MEAN_RADIUS,
        "back": float(np.sqrt(_BREADTH * _DEPTH)) / _MEAN_RADIUS,
    }
)
"""Radius of curvature of each class over the mean radius.

Front and side are those of an ellipse with breadth to depth 1.4 at the ends of its axes.
The back is their geometric mean: flat beside the spine, round towards the side. That blend
is a convention of this project, without a source.
"""

_FRONT_ENDS, _BACK_BEGINS = 1.0 / 3.0, 2.0 / 3.0


@dataclass(frozen=True)
class ClassModel(RingModel):
    """Turning in proportion to width over (factor of the class times mean radius).

    Parameters
    ----------
    factors : mapping of class name to float
        Radius of curvature over the mean radius, for front, side and back.
    girths : Measures, optional
        Girths of the body in mm; where none are given the pattern's own are used.

    Raises
    ------
    BodyError
        If a factor is missing or not a positive number.

    Notes
    -----
    The angles are normalised to close: at each height panels and gap sum to 2 pi. The gap
    belongs to the back. The surface's tilt is that of a round body of the same girth, the
    same at every seam.

    Models compare by value; having a mapping in them they cannot be hashed.

    Examples
    --------
    Three panels of one width: the side turns most, so it grows most.

    >>> from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels, shift_pattern
    >>> x = [0, 120, 240]
    >>> pattern = pattern_from_panels([
    ...     DraftPanel(name, [(a, 0), (a + 110, 0), (a + 110, 160), (a, 160)],
    ...                [(a, 90), (a + 110, 90)]) for name, a in zip("123", x)])
    >>> stack = Stack([Fabric("drill", 0.5), Fabric("satin", 0.5)])
    >>> shifted = shift_pattern(pattern, stack, ClassModel(), classes=["front", "side", "back"])
    >>> shifted.growth_table()[1].round(2).tolist()  # mm; together pi d, half of 2 pi d
    [0.29, 0.8, 0.48]
    """

    factors: Mapping[str, float] = field(default_factory=lambda: DEFAULT_FACTORS)
    girths: Measures | None = None

    def __post_init__(self) -> None:
        for name in CLASS_NAMES:
            value = self.factors.get(name)
            if value is None or not (np.isfinite(value) and value > 0.0):
                raise BodyError(
                    f"the factor of class {name!r} is {value}, not a positive number",
                    remedy="Give a radius of curvature over the mean radius, such as 1.6.",
                    element=f"body.factors.{name}",
                )

    def __reduce__(self) -> tuple[object, ...]:
        # A read-only view of a dictionary does not pickle; models travel to other processes.
        return type(self), (dict(self.factors), self.girths)

    def _answer(self, ring: Ring) -> Turn:
        for name in ring.classes:
            if name not in CLASS_NAMES:
                raise BodyError(
                    f"unknown class {name!r}",
                    remedy=f"Use one of: {', '.join(CLASS_NAMES)}.",
                    element=name,
                )
        factors = np.array([self.factors[name] for name in ring.classes])
        raw = ring.widths / factors
        raw_gap = np.full(len(raw), ring.gap / self.factors["back"])
        scale = 2.0 * np.pi / (raw.sum(axis=1) + raw_gap)
        angles = raw * scale[:, None]
        outward = slopes(ring.heights, body_girths(ring, self.girths)) / (2.0 * np.pi)
        tilts = tilt_of(outward, "the mean radius of the body", ring.heights)
        seams = ring.widths.shape[1] + 1
        return Turn(ring.heights, angles, raw_gap * scale, np.repeat(tilts[:, None], seams, 1))


def infer_classes(widths: FloatArray, *, full: bool = False) -> tuple[str, ...]:
    """Classes of panels from their place between CF and CB.

    Parameters
    ----------
    widths : ndarray, shape (n,)
        Waist widths in mm, from centre front to centre back; or, if full, right round the
        body from one lacing edge to the other.
    full : bool

    Returns
    -------
    tuple of str
        front for panels whose middle lies in the first third of a half, back in the last,
        else side.
    """
    if full:
        # Each half by itself, from CF to CB; a middle panel lies half in each of them.
        count = len(widths)
        folded = np.array(widths, dtype=np.float64)
        if count % 2:
            folded[count // 2] *= 0.5
        left = infer_classes(folded[: (count + 1) // 2][::-1])
        right = infer_classes(folded[count // 2 :])
        return left[::-1] + right[count % 2 :]
    middles = (np.cumsum(widths) - 0.5 * widths) / widths.sum()
    return tuple(
        "front" if m < _FRONT_ENDS else "back" if m > _BACK_BEGINS else "side" for m in middles
    )


@dataclass(frozen=True)
class FormerModel(RingModel):
    """Turning of panels rolled over a cylindrical former.

    Parameters
    ----------
    diameter : float
        Of the former, in mm.
    inner_thickness : float
        Of the layer that lies on the former, in mm: the cloth's middle is what turns.

    Raises
    ------
    BodyError
        If the diameter is not a positive number.

    Notes
    -----
    theta = width / (D/2 + t/2). A former is no body: the sum of turning tells by how much
    rolling over-eases (more than 2 pi) or under-eases (less). A cylinder does not tilt, so
    nothing changes in length.

    Examples
    --------
    A 55 mm panel rolled over an 80 mm bottle, 1.5 mm between the middles of its two layers:

    >>> from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels, shift_pattern
    >>> box = [(0, 0), (55, 0), (55, 160), (0, 160)]
    >>> pattern = pattern_from_panels([DraftPanel("one", box, [(0, 90), (55, 90)])])
    >>> stack = Stack([Fabric("felt", 1.5), Fabric("wool", 1.5)])
    >>> rolled = shift_pattern(pattern, stack, FormerModel(80.0, inner_thickness=1.5))
    >>> round(rolled.growth(1, 0, 0.0), 2)  # 1.5 * 55 / (40 + 0.75)
    2.02
    """

    diameter: float
    inner_thickness: float = 0.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.diameter) and self.diameter > 0.0):
            raise BodyError(
                f"a former of diameter {self.diameter:g} mm",
                remedy="Give the diameter of the jar, bottle or ham in mm.",
                element="body.diameter",
            )

    def _answer(self, ring: Ring) -> Turn:
        angles = ring.widths / (0.5 * self.diameter + 0.5 * self.inner_thickness)
        count = ring.widths.shape[1] + 1
        return Turn(
            ring.heights,
            angles,
            np.zeros(len(angles)),
            np.zeros((len(angles), count)),
            closes=False,
        )
