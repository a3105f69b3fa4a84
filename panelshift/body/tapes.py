"""Body model by tapes: what is measured is used, what is not comes from the mean form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np

from ..errors import BodyError
from ..files.plain_values import refuse_misfits
from ..outline import FloatArray
from ..outline.by_value import fix_mappings
from ..units import LONGEST_MM
from .column import Column, Modes
from .mean_form import MeanFormModel, OfWhom, upright
from .ring import Ring
from .spread import ColumnModel, Draws, conditioned
from .support import ORDER

TAPES: Final = ("breadth", "depth", "girth", "front_arc", "stand_out")
"""Kinds of tapes, as `Tapes` has them."""

_WORDS: Final = {
    "breadth": "breadth",
    "depth": "depth",
    "girth": "girth",
    "front_arc": "front arc",
    "stand_out": "stand-out",
}

_SLACK: Final = 3.0
"""Errors by which tapes may contradict each other before it is told."""

_DOUBTFUL: Final = 5.0
"""Standard deviations beyond which a tape is told of. Bodies that were left out of the mean differ
from it by 1.4 times their waves' spreads: beyond 3.5, 10 of 360 right tapes were told of."""


@dataclass(frozen=True)
class Tapes:
    """What was measured at one height, in mm; None where nothing was.

    Parameters
    ----------
    breadth, depth : float, optional
        From side to side and from front to back, with a large caliper or two boards.
    girth : float, optional
        Right round.
    front_arc : float, optional
        Over the front, from the point that stands out most at one side to that at the other.
    stand_out : float, optional
        How far the front stands before the front at the waist; less than nothing behind it.
    """

    breadth: float | None = None
    depth: float | None = None
    girth: float | None = None
    front_arc: float | None = None
    stand_out: float | None = None

    def __post_init__(self) -> None:
        refuse_misfits(self, "what was measured")

    def given(self) -> dict[str, float]:
        """What was measured, by kind."""
        found = ((name, getattr(self, name)) for name in TAPES)
        return {name: float(value) for name, value in found if value is not None}


class Contradiction(NamedTuple):
    """A tape that the others do not bear out.

    Parameters
    ----------
    height : float
        In mm above the waist, as it was given.
    tape : str
        Its kind.
    amount : float
        By how much it is longer than the other tapes of its level and the mean form let expect,
        in mm.
    """

    height: float
    tape: str
    amount: float


@dataclass(frozen=True)
class TapeModel(ColumnModel):
    """Panels laid round the body that is likeliest, given tapes and what bodies are like.

    Parameters
    ----------
    tapes : mapping of float to Tapes
        By height in mm above the waist.
    of : {"women", "men", "either"}
        Whose mean form stands for what was not measured.
    error : float
        Standard deviation of one tape in mm.
    upright : bool
        Whether the heights are upright; else they run along the panels.
    bust_height : float, optional
        As for `MeanFormModel`.

    Raises
    ------
    BodyError
        If nothing was measured, a tape or the error is not a positive number, or no closed
        curve has the tapes of a level.

    Notes
    -----
    Bodies are the mean form and modes, each by a normal number of its own: the ways in which
    bodies of that mesh differ in many waves at once, and each wave by itself for what those do
    not do.
    Breadth, depth, girth, front arc and stand-out are linear in them: the body that fits is the
    conditional mean (Gauss and Markov), what is still not known of it the conditional
    covariance. What is measured at one level so tells of its neighbours as much as bodies do.

    A closed convex curve in a box as wide as its breadth and as deep as its depth that touches
    all four sides is at least twice the box's diagonal and at most twice both sides long.

    Examples
    --------
    >>> model = TapeModel({0.0: Tapes(breadth=230.0, depth=170.0, girth=640.0)}, of="women")
    >>> ring = Ring(np.linspace(-30.0, 30.0, 21), np.full((21, 14), 640.0 / 14), 0.0,
    ...             ("side",) * 14)
    >>> bool(abs(model.turn(ring).closure()[10] - 2 * np.pi) < 1e-9)
    True
    """

    tapes: Mapping[float, Tapes] = field(default_factory=dict)
    of: OfWhom = "either"
    error: float = 3.0
    upright: bool = False
    bust_height: float | None = None

    def __post_init__(self) -> None:
        refuse_misfits(self, "a body by tapes")
        fix_mappings(self)
        if not any(tapes.given() for tapes in self.tapes.values()):
            raise BodyError(
                "no tape of the body is given",
                remedy="Give breadth, depth, girth, front arc or stand-out at one height or more.",
                element="body.tapes",
            )
        if not 0.0 < self.error <= LONGEST_MM:
            raise BodyError(
                f"tapes with an error of {self.error:g} mm",
                remedy="Give the error of one tape in mm, such as 3.",
                element="body.error",
            )
        for height, tapes in self.tapes.items():
            _refuse_impossible(height, tapes, self.error)

    def _column(self, ring: Ring) -> Column:
        return self._told(ring)[0]

    def _draws(self, ring: Ring, heights: FloatArray, count: int) -> Draws:
        return Draws.around(*self._told(ring), heights, count)

    def _told(self, ring: Ring) -> tuple[Column, Modes]:
        """The likeliest body, and how others that have the same tapes differ from it."""
        form, modes = self._form.likely(ring)
        rows, lacking, error, _ = self._lacks(ring, form, modes)
        parts, root = conditioned(rows, lacking, error)
        return form.with_added(modes, parts), modes.times(root)

    def contradictions(self, ring: Ring) -> tuple[Contradiction, ...]:
        """Tapes that all others, and the mean form, do not bear out."""
        rows, lacking, error, names = self._lacks(ring, *self._form.likely(ring))
        # What each lacks of what all others let expect, and how far that may be off: of one left
        # out of a normal quantity.
        inverse = np.linalg.inv(rows @ rows.T + error)
        alone = np.diag(inverse)
        beyond, sds = inverse @ lacking / alone, 1.0 / np.sqrt(alone)
        return tuple(
            Contradiction(height, name, amount)
            for (height, name), amount, sd in zip(names, beyond.tolist(), sds, strict=True)
            if abs(amount) > max(_SLACK * self.error, _DOUBTFUL * sd)
        )

    @property
    def _form(self) -> MeanFormModel:
        return MeanFormModel(self.of, bust_height=self.bust_height)

    def _lacks(
        self, ring: Ring, form: Column, modes: Modes
    ) -> tuple[FloatArray, FloatArray, FloatArray, list[tuple[float, str]]]:
        """All tapes as functions of the modes, what they lack of the form's, and their errors.

        Beside its own error a tape has that of the body's size, which is alike for all of a level.
        """
        given = np.array(sorted(self.tapes), dtype=np.float64)
        at = np.append(given if self.upright else upright(ring, None, given), 0.0)
        levels, known = form.resampled(at), modes.at(at).values
        radii = np.interp(np.append(given, 0.0), ring.heights, ring.girths) / (2.0 * np.pi)
        shapes, middles = levels.shape.real, levels.middles.real
        found: list[tuple[FloatArray, float, float, int]] = []
        names = []
        for level, height in enumerate(given.tolist()):
            for name, value in self.tapes[height].given().items():
                of_size, waves, of_place = _FUNCTIONS[name]
                on_form = float(radii[level] * (of_size + waves @ shapes[level]))
                row = known[level] @ np.append(radii[level] * waves, of_place)
                size, lacks = on_form, value - on_form
                if of_place:
                    # It is counted from the front of the waist.
                    front = radii[-1] * (of_size + waves @ shapes[-1])
                    lacks += float(front + of_place * (middles[-1] - middles[level]))
                    row = row - known[-1] @ np.append(radii[-1] * waves, of_place)
                found.append((row, lacks, size, level))
                names.append((height, name))
        rows, lacking, sizes, of_level = (np.array(part) for part in zip(*found, strict=True))
        error = self.error**2 * np.eye(len(rows))
        error += _SCALE_SD**2 * np.outer(sizes, sizes) * (of_level[:, None] == of_level)
        return rows, lacking, error, names


def _refuse_impossible(height: float, tapes: Tapes, error: float) -> None:
    """Refuse tapes that no closed convex curve has, though each be off by three errors."""
    given = tapes.given()
    faults = [
        f"its {_WORDS[name]} of {value:g} mm is no length"
        for name, value in given.items()
        if not (abs(value) <= LONGEST_MM and (value > 0.0 or name == "stand_out"))
    ]
    if not abs(height) <= LONGEST_MM:
        faults.append("there is nobody")
    breadth, depth, girth = tapes.breadth, tapes.depth, tapes.girth
    arc, slack = tapes.front_arc, _SLACK * error
    if breadth and depth and girth and not faults:
        low, high = 2.0 * float(np.hypot(breadth, depth)), 2.0 * (breadth + depth)
        if not low - slack <= girth <= high + slack:
            faults.append(
                f"a section {breadth:g} mm wide and {depth:g} mm deep is between {low:.0f} and "
                f"{high:.0f} mm round, not {girth:g}"
            )
    if breadth and arc and arc < breadth - slack:
        faults.append(f"its front arc of {arc:g} mm is shorter than its breadth of {breadth:g} mm")
    if breadth and arc and girth and girth - arc < breadth - slack:
        faults.append(
            f"its front arc of {arc:g} mm leaves {girth - arc:g} mm for the back, less than its "
            f"breadth of {breadth:g} mm"
        )
    if faults:
        raise BodyError(
            f"tapes {height:+g} mm from the waist: {'; '.join(faults)}",
            remedy="Measure that level anew, all tapes at one height and in one unit.",
            element="body.tapes",
        )


_SCALE_SD: Final = 0.1
"""How far a body's girth may be from the pattern's, as a part of it, where none was measured."""


def _functions() -> dict[str, tuple[float, FloatArray, float]]:
    """Each kind of tape: for a radius of 1 what it is on a circle, by c_k / c_0 and half the place.

    The waves begin with c_0 and c_1, which have no part in a section's shape.
    """
    k = np.arange(ORDER + 1)
    quarter, shape = 0.5 * np.pi * k, k > 1
    arc = np.divide(1.0 - k**2, k, out=np.zeros(ORDER + 1), where=shape) * np.sin(quarter)
    return {
        "breadth": (2.0, shape * 4.0 * np.cos(quarter), 0.0),
        "depth": (2.0, shape * (2.0 + 2.0 * np.cos(2.0 * quarter)), 0.0),
        "girth": (2.0 * np.pi, np.zeros(ORDER + 1), 0.0),
        "front_arc": (np.pi, shape * 4.0 * arc, 0.0),
        "stand_out": (1.0, shape * 2.0, 2.0),
    }


_FUNCTIONS: Final = _functions()
