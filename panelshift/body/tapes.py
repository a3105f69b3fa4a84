"""Body model by tapes: what is measured is used, what is not comes from the mean form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np

from ..errors import BodyError
from ..outline import FloatArray
from .column import Column
from .mean_form import MeanFormModel, OfWhom, upright, waist_radius
from .ring import Ring
from .spread import ColumnModel, Draws, Scatter, drawn_forms
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

_FADING_MM: Final = 60.0
"""How far from a measured level what is known there fades to a third."""


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
    The waves a_k of a section and its place are taken as normally distributed round the mean
    form, with the spread between bodies. Breadth, depth, girth, front arc and stand-out are
    linear in them: the section that fits is the conditional mean (Gauss and Markov), what is
    still not known of it the conditional covariance. Between the measured heights the
    difference from the mean form is filled in smoothly; beyond them it stays.

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
        if not any(tapes.given() for tapes in self.tapes.values()):
            raise BodyError(
                "no tape of the body is given",
                remedy="Give breadth, depth, girth, front arc or stand-out at one height or more.",
                element="body.tapes",
            )
        if not (np.isfinite(self.error) and self.error > 0.0):
            raise BodyError(
                f"tapes with an error of {self.error:g} mm",
                remedy="Give the error of one tape in mm, such as 3.",
                element="body.error",
            )
        for height, tapes in self.tapes.items():
            _refuse_impossible(height, tapes, self.error)

    def _column(self, ring: Ring) -> Column:
        form, found = self._form.column(ring), self._estimates(ring)
        heights = np.array([estimate.height for estimate in found])
        return form.resampled(np.union1d(form.heights, heights)).shifted(
            heights,
            np.array([estimate.shape for estimate in found]),
            np.array([estimate.middle for estimate in found]),
        )

    def contradictions(self, ring: Ring) -> tuple[Contradiction, ...]:
        """Tapes that the others of their level, and the mean form, do not bear out."""
        return tuple(
            Contradiction(float(given), name, amount)
            for given, estimate in zip(sorted(self.tapes), self._estimates(ring), strict=True)
            for name, (amount, sd) in estimate.beyond.items()
            if abs(amount) > max(_SLACK * self.error, _DOUBTFUL * sd)
        )

    def _draws(self, ring: Ring, heights: FloatArray, count: int) -> Draws:
        found = self._estimates(ring)
        at = np.array([estimate.height for estimate in found])
        scatter = self._scatter(ring, heights)
        away = np.abs(heights[:, None] - at)
        nearest = np.argmin(away, axis=1)
        near = np.exp(-away.min(axis=1) / _FADING_MM)[:, None, None]
        known = np.array([estimate.root for estimate in found])[nearest]
        roots = near * known + (1.0 - near) * np.array([np.diag(row) for row in scatter.both])
        return drawn_forms(self.column(ring).at(heights), scatter, count, roots=roots)

    @property
    def _form(self) -> MeanFormModel:
        return MeanFormModel(self.of, bust_height=self.bust_height)

    def _scatter(self, ring: Ring, heights: FloatArray) -> Scatter:
        return self._form.scatter(ring, heights)

    def _estimates(self, ring: Ring) -> list[Estimate]:
        """The section at each measured height, from the lowest to the highest."""
        given = np.array(sorted(self.tapes), dtype=np.float64)
        heights = given if self.upright else upright(ring, None, given)
        form, waist = self._form.column(ring), waist_radius(ring, None)
        levels = form.resampled(np.append(heights, 0.0))
        spreads = self._scatter(ring, heights).both
        radii = np.interp(given, ring.heights, ring.girths) / (2.0 * np.pi)
        waves = levels.shape.real
        front = waist * (1.0 + 2.0 * waves[-1, 2:].sum()) + 2.0 * float(levels.middles[-1].real)
        found = []
        for row, key in enumerate(given.tolist()):
            tapes = self.tapes[key].given()
            mean = np.concatenate([waves[row], [levels.middles[row].real, 0.0]])
            rows, lacking = tape_rows(tapes, mean, float(radii[row]), float(front))
            found.append(
                estimated(float(heights[row]), tapes, rows, lacking, spreads[row], self.error)
            )
        return found


def _refuse_impossible(height: float, tapes: Tapes, error: float) -> None:
    """Refuse tapes that no closed convex curve has, though each be off by three errors."""
    given = tapes.given()
    faults = [
        f"its {_WORDS[name]} of {value:g} mm is no length"
        for name, value in given.items()
        if not (np.isfinite(value) and (value > 0.0 or name == "stand_out"))
    ]
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


SIZE: Final = ORDER + 3
"""Unknowns of a section: c_k / c_0 for k from 0, half the place in mm, and its scale."""

_PLACE, _SCALE = ORDER + 1, ORDER + 2
_K = np.arange(ORDER + 1)
_SCALE_SD: Final = 0.1
"""How far a body's girth may be from the pattern's, as a part of it, where none was measured."""


@dataclass(frozen=True, eq=False)
class Estimate:
    """A section of a body, and what is left unknown of it.

    Parameters
    ----------
    height : float
        Upright, in mm above the waist.
    shape : ndarray, shape (ORDER + 1,)
        How far c_k / c_0 differ from the form's.
    middle : float
        The same for half the place in mm.
    root : ndarray, shape (ORDER + 2, ORDER + 2)
        Times independent normal numbers it is what is still unknown of both.
    beyond : mapping of str to (float, float)
        By how much each tape is longer than the others and the mean form let expect, in mm, and
        the standard deviation of that: of the one left out of a normal quantity.
    """

    height: float
    shape: FloatArray
    middle: float
    root: FloatArray
    beyond: Mapping[str, tuple[float, float]]


def tape_rows(
    tapes: Mapping[str, float], mean: FloatArray, radius: float, front_at_waist: float
) -> tuple[FloatArray, FloatArray]:
    """Tapes as linear functions of the unknowns: rows in mm, and what they lack of the mean.

    *tapes*: in mm, by kind. *mean*: ndarray, shape (SIZE,). The form's own unknowns. *radius*:
    girth of the pattern over 2 pi in mm. *front_at_waist*: how far the front at the waist lies
    before the waist's place, in mm.

    Returns: *rows*, ndarray, shape (tapes, SIZE); *lacking*, ndarray, shape (tapes,).
    """
    quarter = 0.5 * np.pi * _K
    shape = _K > 1
    arc = np.divide(1.0 - _K**2, _K, out=np.zeros(ORDER + 1), where=shape) * np.sin(quarter)
    weights = {
        "breadth": (2.0, 4.0 * np.cos(quarter), 0.0),
        "depth": (2.0, 2.0 + 2.0 * np.cos(2.0 * quarter), 0.0),
        "girth": (2.0 * np.pi, np.zeros(ORDER + 1), 0.0),
        "front_arc": (np.pi, 4.0 * arc, 0.0),
        "stand_out": (1.0, np.full(ORDER + 1, 2.0), 2.0),
    }
    rows, lacking = np.zeros((len(tapes), SIZE)), np.zeros(len(tapes))
    for row, (place, (name, value)) in zip(rows, enumerate(tapes.items()), strict=True):
        round_, waves, moved = weights[name]
        row[: ORDER + 1] = radius * waves * shape
        row[_PLACE] = moved
        on_form = radius * round_ + row @ mean
        row[_SCALE] = on_form - moved * mean[_PLACE]
        lacking[place] = value - on_form + (front_at_waist if moved else 0.0)
    return rows, lacking


def estimated(
    height: float,
    tapes: Mapping[str, float],
    rows: FloatArray,
    lacking: FloatArray,
    spread: FloatArray,
    error: float,
) -> Estimate:
    """Conditional mean and covariance of a normal quantity, some linear functions being known.

    With prior covariance P, rows H and errors E the gain is K = P H' (H P H' + E)^-1; the mean
    moves by K times what the tapes lack, and the covariance becomes P - K H P.

    *rows*, *lacking*: as `tape_rows` gives them. *spread*: ndarray, shape (ORDER + 2,). Standard
    deviations of c_k / c_0 and of half the place between bodies. *error*: of one tape in mm.
    """
    prior = np.diag(np.append(spread, _SCALE_SD) ** 2)
    both = rows @ prior @ rows.T + error**2 * np.eye(len(rows))
    gain = np.linalg.solve(both, rows @ prior).T
    moved = gain @ lacking
    left = prior - gain @ rows @ prior
    values, vectors = np.linalg.eigh(0.5 * (left + left.T)[:-1, :-1])
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    # What each tape lacks of what all others let expect, and how far that may be off.
    inverse = np.linalg.inv(both)
    alone = np.diag(inverse)
    lacks, sds = inverse @ lacking / alone, 1.0 / np.sqrt(alone)
    beyond = dict(zip(tapes, zip(lacks.tolist(), sds.tolist(), strict=True), strict=True))
    return Estimate(height, moved[: ORDER + 1], float(moved[_PLACE]), root, beyond)
