"""Body models that look at the panels' widths alone: by classes, and rolled over a cylinder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

from ..errors import BodyError, BodyNameError, CurveError
from ..files.plain_values import held_to_types, refuse_misfits
from ..outline import FloatArray
from ..outline.bezier import numbers
from ..outline.by_value import FixedDict, fix_mappings
from ..units import LONGEST_MM
from .measures import RATIOS, ROUND_MM, Measures, refuse_girths
from .ring import SMOOTHING_MM, BodyModel, Ring, RingModel, Turn, body_girths, slopes, tilt_of

CLASS_NAMES: Final = ("front", "side", "back")

FACTORS: Final[Mapping[str, Mapping[str, float]]] = FixedDict(
    {
        "women": {"front": 1.13, "side": 0.83, "back": 1.01},
        "men": {"front": 1.16, "side": 0.79, "back": 1.04},
        "either": {"front": 1.145, "side": 0.81, "back": 1.025},
    }
)
"""Radius of curvature of each class over the mean radius, by whose body it is.

Fitted to the bodies of which mean_form.json has the mean, at all levels together. The last is
the mean of the two before it.
"""

DEFAULT_FACTORS: Final = FACTORS["either"]

_FRONT_ENDS, _BACK_BEGINS = 1.0 / 3.0, 2.0 / 3.0


@dataclass(frozen=True)
class ClassModel(RingModel):
    """Turning in proportion to width over (factor of the class times mean radius).

    Parameters
    ----------
    factors : mapping of class name to float
        Radius of curvature over the mean radius, for front, side and back; `FACTORS` has those
        fitted to women, to men, and the mean of both, which stands here if none are given.
    girths : Measures, optional
        Girths of the body in mm; where none are given the pattern's own are used.

    Raises
    ------
    BodyError
        If a factor is missing or not from 0.01 to 100, or a girth is none.

    Notes
    -----
    The angles are normalised to close: at each height panels and gap sum to 2 pi. The gap
    belongs to the back. The surface's tilt is that of a round body of the same girth, the
    same at every seam.

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
    [0.44, 0.63, 0.5]
    """

    factors: Mapping[str, float] = field(default_factory=lambda: DEFAULT_FACTORS)
    girths: Measures | None = None

    def __post_init__(self) -> None:
        refuse_misfits(self, "a class model")
        fix_mappings(self)
        for name in CLASS_NAMES:
            value = self.factors.get(name)
            if value is None or not RATIOS[0] <= value <= RATIOS[1]:
                raise BodyError(
                    f"the factor of class {name!r} is {value}, not from 0.01 to 100",
                    remedy="Give a radius of curvature over the mean radius, such as 1.6.",
                    element=f"body.factors.{name}",
                )
        refuse_girths(self.girths)

    def _answer(self, ring: Ring) -> Turn:
        for name in ring.classes:
            if name not in CLASS_NAMES:
                raise BodyNameError(
                    f"unknown class {name!r}",
                    remedy=f"Use one of: {', '.join(CLASS_NAMES)}.",
                    element=name,
                )
        factors = np.array([self.factors[name] for name in ring.classes])
        raw = ring.widths / factors
        raw_gap = np.asarray(ring.gaps / self.factors["back"])
        scale = 2.0 * np.pi / (raw.sum(axis=1) + raw_gap)
        angles = raw * scale[:, None]
        outward = slopes(ring.heights, body_girths(ring, self.girths)) / (2.0 * np.pi)
        tilts = tilt_of(outward, "the mean radius of the body", ring.heights)
        seams = ring.widths.shape[1] + 1
        return Turn(ring.heights, angles, raw_gap * scale, np.repeat(tilts[:, None], seams, 1))


@held_to_types
def infer_classes(
    widths: npt.ArrayLike, *, full: bool = False, body: BodyModel | None = None, gap: float = 0.0
) -> tuple[str, ...]:
    """Classes of panels from where they look, or from their place between CF and CB.

    Parameters
    ----------
    widths : array_like, shape (n,)
        Waist widths in mm, from centre front to centre back; or, if full, right round the
        body from one lacing edge to the other.
    full : bool
    body : BodyModel, optional
        One that knows how its sections turn tells where each panel looks.
    gap : float
        Lacing gap in mm.

    Returns
    -------
    tuple of str
        With a body that can tell, front for panels whose middle looks within 45 degrees of
        straight ahead, back within 45 degrees of straight behind, else side. Without, front for
        panels whose middle lies in the first third of a half, back in the last, else side.

    Raises
    ------
    BodyError
        If the widths are no row of lengths from 0 on, some of them above it, or the gap is none.

    Examples
    --------
    >>> infer_classes([48.0, 50.0, 57.0, 60.0, 55.0, 50.0])
    ('front', 'front', 'side', 'side', 'back', 'back')
    """
    try:
        widths = numbers(widths)
    except CurveError:
        widths = np.empty(0)
    known = widths.ndim == 1 and ((widths >= 0.0) & (widths <= LONGEST_MM)).all()
    if not (known and widths.any()):
        raise BodyError(
            "waist widths of panels that are no row of lengths",
            remedy="Give the width of each panel in mm, an array of shape (n,).",
        )
    if not 0.0 <= gap <= LONGEST_MM:
        raise BodyError(f"a lacing gap of {gap:g} mm", remedy="Give its width in mm, 0 for none.")
    normals = None if body is None else _normals_at_waist(widths, full, body, gap)
    if normals is not None:
        middles = np.abs(0.5 * (normals[1:] + normals[:-1]))[0 if full else len(widths) :]
        return tuple(_class(m, 0.25, 0.75) for m in middles / np.pi)
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
    return tuple(_class(m, _FRONT_ENDS, _BACK_BEGINS) for m in middles)


def _class(middle: float, front_ends: float, back_begins: float) -> str:
    return "front" if middle < front_ends else "back" if middle > back_begins else "side"


def _normals_at_waist(
    widths: FloatArray, full: bool, body: BodyModel, gap: float
) -> FloatArray | None:
    """Directions of the seams' normals on a body as upright as it is at the waist, (k + 1,)."""
    around = np.asarray(widths) if full else np.concatenate([widths[::-1], widths])
    heights = np.array([-SMOOTHING_MM, 0.0, SMOOTHING_MM])
    ring = Ring(heights, np.tile(around, (3, 1)), gap, ("side",) * len(around))
    normals = body.turn(ring).normals
    return None if normals is None else normals[1]


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
        If the diameter is not a number of 0.01 mm or more, or the thickness not from 0 to 50.

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
        refuse_misfits(self, "a former")
        if not ROUND_MM[0] <= self.diameter < np.inf:
            raise BodyError(
                f"a former of diameter {self.diameter:g} mm",
                remedy="Give the diameter of the jar, bottle or ham in mm.",
                element="body.diameter",
            )
        if not 0.0 <= self.inner_thickness <= 50.0:
            raise BodyError(
                f"a layer of {self.inner_thickness:g} mm on the former",
                remedy="Give the thickness of the cloth that lies on it, from 0 to 50 mm.",
                element="body.inner_thickness",
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
