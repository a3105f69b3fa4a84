"""Where a body's front is: its mirror plane, and which end of that looks forward."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ..body.support import ComplexArray, Sections
from ..errors import FormError
from ..outline import FloatArray

_HIGHEST: Final = 12
"""Harmonics beyond are noise and do not know where the front is."""

_GRID: Final = 720

_FORWARD: Final = 0.12
"""Mean radii by which the top must lie before the bottom to tell the front."""

_TOES: Final = 0.15
"""Mean radii by which feet reach before the ankles: about 15 mm."""

_CLEAR: Final = 3.0
"""How many times more the body must differ from its image in any other plane."""


@dataclass(frozen=True)
class Facing:
    """Direction of the front in radians, from the frame's y towards its x.

    `sigma` is how well it is known (one standard deviation of the slices' own answers over
    the root of how many of them are independent); `asymmetry` is the part of the section's
    shape that its mirror image does not have; `clear` is how many times worse the next best
    plane fits; `forward` is how far the toes lie before
    the ankles, or the upper slices before the lower ones, in parts of the mean radius.
    """

    angle: float
    sigma: float
    asymmetry: float
    clear: float
    forward: float


def facing(heights: FloatArray, sections: Sections, toes: FloatArray | None = None) -> Facing:
    """Find the mirror plane of a body from its sections, and its front.

    *heights*: ndarray, shape (m,). In mm. *sections*: in any horizontal turn, of the trunk alone.
    *toes*: ndarray, shape (2,), optional. How far the feet's middle lies from the ankles' in mm,
    where there are feet.

    Raises `FormError` if two planes fit alike, or it cannot be told which side is the front.

    Notes
    -----
    A section is its own image in the plane of direction a if c_k exp(i k a) is real for all k.
    The plane is where the squares of the imaginary parts sum to the least, over all levels and
    k from 2 to 12. Bellies and seats are near to symmetric front to back as well, so the
    second best plane lies near 90 degrees from the best. Which end of the plane is the front
    the toes tell; on a form without feet, that the bust lies before the seat. (In the mean
    form of women by 0.34 mean radii, of men hardly at all.)
    """
    shape = sections.coefficients[:, 2 : _HIGHEST + 1]
    radius = sections.coefficients[:, 0].real
    scaled = shape / radius[:, None]
    angles = np.pi * np.arange(_GRID) / _GRID
    cost = _costs(scaled, angles).sum(axis=0)
    best = int(np.argmin(cost))
    apart = np.abs((angles - angles[best] + 0.5 * np.pi) % np.pi - 0.5 * np.pi)
    rest = np.where(apart > np.radians(25.0), cost, np.inf)
    clear = float(rest.min() / max(cost[best], 1e-300))
    if clear < _CLEAR:
        other = np.degrees(angles[int(np.argmin(rest))])
        raise FormError(
            "the front cannot be found: the body is as like its image in two planes "
            f"({np.degrees(angles[best]):.0f} and {other:.0f} degrees)",
            remedy="Say where it is with --front, such as --front y.",
            element="front",
        )
    angle = _refined(scaled, float(angles[best]))
    sigma = _spread(scaled, angle)
    along = sections.place @ np.array([np.sin(angle), np.cos(angle)])
    rise = float(np.polyfit(heights, along, 1)[0]) * float(np.ptp(heights))
    forward = rise / float(radius.mean())
    if toes is not None:
        feet = float(toes @ np.array([np.sin(angle), np.cos(angle)])) / float(radius.mean())
        if abs(feet) > _TOES:
            forward = feet
    if abs(forward) < _FORWARD:
        raise FormError(
            "which side is the front cannot be told: bust and seat lie nearly straight above "
            "each other",
            remedy=f"Say it with --front; one of {_name(angle)} and {_name(angle + np.pi)} "
            "degrees, counted as in the picture of the sections.",
            element="front",
        )
    if forward < 0.0:
        angle += np.pi
    size = float((np.abs(scaled) ** 2).sum())
    return Facing(
        float((angle + np.pi) % (2.0 * np.pi) - np.pi),
        sigma,
        float(np.sqrt(_costs(scaled, np.array([angle])).sum() / size)),
        clear,
        abs(forward),
    )


def _name(angle: float) -> str:
    return f"{np.degrees(angle) % 360.0:.0f}"


def turned(sections: Sections, angle: float) -> Sections:
    """Sections with the direction `angle` made the front."""
    k = np.arange(sections.coefficients.shape[1])
    return Sections(sections.coefficients * np.exp(1j * k * angle))


def _costs(scaled: ComplexArray, angles: FloatArray) -> FloatArray:
    """Squares of what is not symmetric, shape (levels, angles)."""
    k = np.arange(2, _HIGHEST + 1)
    image = (scaled[:, :, None] * np.exp(1j * k[:, None] * angles)).imag
    return np.asarray((image**2).sum(axis=1))


def _refined(scaled: ComplexArray, angle: float) -> float:
    """The least cost by Newton's steps from a neighbour on the grid."""
    k = np.arange(2, _HIGHEST + 1)
    for _ in range(4):
        turnedish = scaled * np.exp(1j * k * angle)
        first = 2.0 * float((k * turnedish.imag * turnedish.real).sum())
        second = 2.0 * float((k**2 * (turnedish.real**2 - turnedish.imag**2)).sum())
        if second <= 0.0:
            break
        angle -= float(np.clip(first / second, -0.01, 0.01))
    return angle


def _spread(scaled: ComplexArray, angle: float) -> float:
    """Standard deviation of the angle, from how the levels differ in it."""
    k = np.arange(2, _HIGHEST + 1)
    here = scaled * np.exp(1j * k * angle)
    first = (k * here.imag * here.real).sum(axis=1)
    second = (k**2 * (here.real**2 - here.imag**2)).sum(axis=1)
    own = -first / max(float(second.mean()), 1e-12)
    # Neighbouring slices say nearly the same: about one in eight is news.
    return float(np.std(own) / np.sqrt(max(len(own) / 8.0, 1.0)))
