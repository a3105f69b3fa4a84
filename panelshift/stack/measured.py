"""Distances between layers that were measured, and the gaps of a stack that agree with them.

A stack of n layers has n - 1 gaps between neighbouring mid-surfaces. The thicknesses give each
gap; a swatch measures the sum of some of them. The gaps that meet the measurements with the
least change are

    g = g0 + W A^T (A W A^T)^+ (d - A g0)

with g0 the gaps by thickness, a row of A for each measured pair (1 for every gap between its two
layers, else 0), d the distances measured and W = diag(g0): the change of each gap is weighed by
its size. One pair by itself scales its gaps in proportion. (Weighted least norm, the generalised
inverse of linear least squares: Bjorck, Numerical Methods for Least Squares Problems, 1996,
section 1.2; from memory.)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..errors import StackError
from ..files.plain_values import refuse_misfits
from ..outline import FloatArray
from ..units import caliper_length
from .fabric import THICKEST_MM

LEAST_UNCERTAINTY_MM: Final = 1e-4
"""No swatch measures better; it keeps the weights of several measurements within bounds."""

CONTRADICTION: Final = 3.0
"""Measurements contradict each other when one of them misses what all together say by more
than this many combined standard uncertainties."""

_NOTHING_MM: Final = 1e-9
_RANK: Final = 1e-10

_ELEMENT = "stack.measured"


@dataclass(frozen=True)
class MeasuredDistance:
    """A distance between the mid-surfaces of two layers, measured on a swatch.

    Parameters
    ----------
    inner, outer : str
        Names of the fabrics; the inner one lies nearer to the body.
    distance : float
        In mm.
    uncertainty : float
        Its standard uncertainty in mm: half the width of a 95 % interval, over 1.96.

    Raises
    ------
    StackError
        If a number is out of its range or both names are the same.

    Examples
    --------
    A swatch said how far apart two middles lie; what was reckoned from thickness gives way:

    >>> from panelshift import Fabric, Stack
    >>> fabrics = [Fabric("coutille", 0.5), Fabric("velvet", 1.5)]
    >>> pinned = MeasuredDistance("coutille", "velvet", 0.8, 0.05)
    >>> float(Stack(fabrics, "coutille", (pinned,)).distances(["side"])[1, 0])
    0.8
    """

    inner: str
    outer: str
    distance: float
    uncertainty: float

    def __post_init__(self) -> None:
        refuse_misfits(self, "a measured distance")
        if self.inner == self.outer:
            raise StackError(
                f"a distance from {self.inner!r} to itself",
                remedy="Name two different layers.",
                element=_ELEMENT,
            )
        if not (math.isfinite(self.distance) and 0.0 < self.distance <= THICKEST_MM):
            raise StackError(
                f"the measured distance {self.pair} of {self.distance:g} mm is not above 0 and "
                f"at most {THICKEST_MM:g}",
                remedy="Give the distance in mm between the middles of the two layers.",
                element=_ELEMENT,
            )
        low, high = LEAST_UNCERTAINTY_MM, THICKEST_MM
        if not (math.isfinite(self.uncertainty) and low <= self.uncertainty <= high):
            raise StackError(
                f"the uncertainty {self.uncertainty:g} mm of the measured distance {self.pair} "
                f"is not between {low:g} and {high:g}",
                remedy="Nothing is measured exactly: give the standard uncertainty in mm, as "
                "panelshift swatch prints it.",
                element=_ELEMENT,
            )

    @property
    def pair(self) -> str:
        """The two layers in words."""
        return f"{self.inner} to {self.outer}"


def fault(problem: str, remedy: str) -> StackError:
    """Return an error that names the stack's measured distances."""
    return StackError(problem, remedy=remedy, element=_ELEMENT)


@dataclass(frozen=True, eq=False)
class Gaps:
    """The gaps of a stack, and how they follow from what was given.

    `sizes`, (gaps,), in mm; `of_thickness`, (gaps, gaps), how much each changes with each gap by
    thickness, the weights held; `of_measured`, (gaps, pairs), with each measured distance;
    `widened`, (pairs,), by how much each pair's uncertainty grows as pairs contradict each other.
    """

    sizes: FloatArray
    of_thickness: FloatArray
    of_measured: FloatArray
    widened: FloatArray


def meet(
    by_thickness: FloatArray,
    measured: Sequence[MeasuredDistance],
    spans: Sequence[tuple[int, int]],
) -> Gaps:
    """Change gaps as little as can be so that each measured pair has its distance.

    Several measurements that depend on each other (two pairs and the pair that spans both)
    are first adjusted among themselves, weighted by their uncertainties.

    *by_thickness*: ndarray, shape (gaps,). Gaps in mm that the thicknesses give. *spans*: sequence
    of (int, int). Layers of each pair, counted from the body.

    Raises `StackError` if measurements contradict each other, or would put a layer inside the one
    below it.
    """
    count = len(by_thickness)
    if not measured:
        return Gaps(by_thickness.copy(), np.eye(count), np.zeros((count, 0)), np.ones(0))
    sums = np.array([[float(i <= k < j) for k in range(count)] for i, j in spans])
    hat, widened = _adjustment(sums, measured)
    root = np.sqrt(_weights(sums, by_thickness))
    pull = root[:, None] * np.linalg.pinv(sums * root, rcond=_RANK)
    given = np.array([item.distance for item in measured])
    sizes = by_thickness + pull @ (hat @ given - sums @ by_thickness)
    _refuse_inside_out(sizes, pull, measured)
    return Gaps(np.maximum(sizes, 0.0), np.eye(count) - pull @ sums, pull @ hat, widened)


def _weights(sums: FloatArray, by_thickness: FloatArray) -> FloatArray:
    """Gaps by thickness; one without thickness takes part only if nothing else can give way."""
    weights = np.where(by_thickness > _NOTHING_MM, by_thickness, 0.0)
    rank = np.linalg.matrix_rank
    if rank(sums * np.sqrt(weights)) < rank(sums):
        weights = np.where(weights > 0.0, weights, 1.0)
    return np.asarray(weights)


def _adjustment(
    sums: FloatArray, measured: Sequence[MeasuredDistance]
) -> tuple[FloatArray, FloatArray]:
    """Matrix that turns measured distances into the nearest ones that fit together.

    With it comes the factor by which the uncertainty of each grows: the Birge ratio of all that
    depend on each other, the root of chi-square over its degrees of freedom, if that is above 1.

    Raises `StackError` if they contradict each other.
    """
    u = np.array([item.uncertainty for item in measured])
    weighted = sums / u[:, None]
    within = weighted @ np.linalg.pinv(weighted, rcond=_RANK)
    hat = u[:, None] * within / u
    distances = np.array([item.distance for item in measured])
    residual = distances - hat @ distances
    # A projection: what is left over has the covariance u (1 - within) u.
    spread = u * np.sqrt(np.clip(1.0 - np.diag(within), 0.0, None))
    off = (spread > 1e-6 * u) & (np.abs(residual) > CONTRADICTION * spread)
    if off.any():
        chosen = [item for item, bad in zip(measured, off, strict=True) if bad]
        raise fault(
            f"the measured distances contradict each other: {_in_words(chosen)}; they miss one "
            f"another by more than {CONTRADICTION:g} of their combined uncertainties",
            "Measure these pairs again, or leave out the one you trust least.",
        )
    redundant = spread > 1e-6 * u
    free = float(np.trace(np.eye(len(u)) - within))
    widened = np.ones(len(u))
    if redundant.any():
        chi_square = float(np.sum((residual / u) ** 2))
        widened[redundant] = max(1.0, math.sqrt(chi_square / free))
    return np.asarray(hat), widened


def _refuse_inside_out(
    sizes: FloatArray, pull: FloatArray, measured: Sequence[MeasuredDistance]
) -> None:
    for gap in np.flatnonzero(sizes < -_NOTHING_MM):
        chosen = [item for item, part in zip(measured, pull[gap], strict=True) if abs(part) > _RANK]
        raise fault(
            f"the measured distances cannot all hold: {_in_words(chosen)}; layer {gap + 2} from "
            f"the body would lie {caliper_length(-sizes[gap])} inside layer {gap + 1}",
            "Measure these pairs again, or leave out the one you trust least.",
        )


def _in_words(measured: Sequence[MeasuredDistance]) -> str:
    return ", ".join(
        f"{item.pair} {caliper_length(item.distance)} (uncertainty "
        f"{caliper_length(item.uncertainty, up=True)})"
        for item in measured
    )
