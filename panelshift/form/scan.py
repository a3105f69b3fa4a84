"""From a scan or a dress form to sections: the recipe, step by step."""

from __future__ import annotations

import os
from typing import Final

import numpy as np

from ..body.form import FormErrors
from ..body.support import ORDER, ComplexArray, Sections
from ..errors import FormError
from ..files.plain_values import held_to_types
from ..outline import FloatArray
from .facing import Facing, facing, turned
from .mesh import read_mesh, slices, trunk
from .section_file import MeasuredForm
from .standing import Standing, stand

_STEP_MM: Final = 5.0
_KEPT_MM: Final = 10.0
"""Slices are cut twice as close as levels are kept: smoothing has its neighbours."""

_REACH_MM: Final = 450.0
"""No corset reaches further from the waist."""

_LEAST_REACH_MM: Final = 60.0

_WINDOW_MM: Final = 25.0
"""Half width of the smoothing over heights; a clean mesh needs no more (trials on meshes)."""

_UNEVEN: Final = 0.004
"""Part of the radius by which left and right may differ without a word: half a millimetre."""

_LEAST_MM: Final = 0.15
"""What cutting a clean mesh by planes leaves open of its surface."""

_LASTING: Final = 1.6
"""What smoothing leaves of noise, by what it takes away: faces of a scan are as high as slices lie
apart, so that neighbours err alike (trials with noise of 1 mm on meshes of bodies)."""

_FRONTS: Final = {"x": 0, "y": 1, "z": 2}


@held_to_types
def measure_scan(
    path: str | os.PathLike[str],
    *,
    units: str = "",
    up: str = "",
    front: str = "",
    waist: float | None = None,
) -> MeasuredForm:
    """Measure a body or a dress form from a mesh.

    Parameters
    ----------
    path : path
        An STL, OBJ, PLY or GLB file.
    units : {"", "mm", "cm", "dm", "in", "m"}
        Found from the size if empty.
    up : str
        Upright direction in the file, such as "z" or "-y"; found if empty.
    front : str
        Direction in which the body looks in the file, such as "y" or "-x"; found if empty.
    waist : float, optional
        Height of the waist above the lowest point in mm; found if not given.

    Returns
    -------
    MeasuredForm

    Raises
    ------
    FormError
        If the mesh cannot be read, is no body, or something cannot be found; the message says
        which option tells it.

    Notes
    -----
    Each slice is replaced by its convex hull, over which cloth lies; that closes holes as well.
    Support functions of the hulls are smoothed over heights by cubics fitted to the slices
    within 25 mm, the nearer the heavier (tricube weights: Cleveland, J. American Statistical
    Association 74, 1979; from memory).

    Examples
    --------
    >>> try:
    ...     measure_scan("notes.txt")
    ... except FormError as error:
    ...     print(error.problem)
    .txt is not a kind of mesh that is read
    """
    standing = stand(read_mesh(path), units=units, up=up, waist=waist)
    heights, sections = _sliced(standing)
    found, direction = _front(standing, heights, sections, front)
    sections = turned(sections, direction)
    words = [*standing.words, found[0]]
    kept = heights[:: round(_KEPT_MM / _STEP_MM)]
    kept = kept[(kept >= heights[0]) & (kept <= heights[-1])]
    smooth = Sections(smoothed(heights, sections.coefficients, kept, _WINDOW_MM))
    uneven = float(
        np.abs(smooth.coefficients.imag[:, 2:]).max() / smooth.coefficients[:, 0].real.max()
    )
    if uneven > 0.004:
        words.append("left and right differ; a half draft is cut for the mean of both")
    rough = _roughness(heights, sections.coefficients)
    errors = FormErrors(
        surface=max(_LEAST_MM, _LASTING * rough),
        front=max(found[1], float(np.radians(0.3))),
        waist=2.0 if waist is not None else 6.0,
    )
    return MeasuredForm(kept, smooth, "scan", errors, tuple(words))


def _sliced(standing: Standing) -> tuple[FloatArray, Sections]:
    """Hulls of slices every 5 mm, from the lowest of the trunk to the highest."""
    low = max(standing.low, -_REACH_MM)
    high = min(standing.high, _REACH_MM)
    if low > -_LEAST_REACH_MM or high < _LEAST_REACH_MM:
        raise FormError(
            f"the trunk reaches from {low:+.0f} to {high:+.0f} mm about the waist only",
            remedy="Scan from the seat to above the bust, arms held away from the body.",
            source=standing.source,
        )
    steps = np.arange(np.ceil(low / _STEP_MM), np.floor(high / _STEP_MM) + 1.0)
    heights = _STEP_MM * steps
    # Meshes like to have corners at round heights; a plane beside them cuts clean faces.
    cut = slices(standing.points, standing.faces, heights + 1.7e-4)
    hulls: list[FloatArray] = []
    kept: list[float] = []
    near = None
    for height, parts in zip(heights.tolist(), cut, strict=True):
        part = trunk(parts, near)
        if part is None:
            continue
        near = part.middle
        # The frame's x runs to the wearer's left: seen from above with the front ahead the
        # mesh's right-handed axes have it to the right.
        hulls.append(part.hull * np.array([-1.0, 1.0]))
        kept.append(height)
    found = np.array(kept)
    if len(found) < 12 or float(np.diff(found).max()) > 40.0:
        raise FormError(
            "the mesh has gaps of more than 40 mm in height",
            remedy="Close its holes in a mesh program, or scan again.",
            source=standing.source,
        )
    return found, Sections.of_points(hulls)


def _front(
    standing: Standing, heights: FloatArray, sections: Sections, front: str
) -> tuple[tuple[str, float], float]:
    """Words with the doubt in radians, and the direction itself."""
    if front:
        angle = _said(standing, front)
        return (f"the front is {front}, as said", float(np.radians(1.0))), angle
    near = np.abs(heights) <= 250.0
    try:
        found = facing(heights[near], Sections(sections.coefficients[near]), _toes(standing))
    except FormError as error:
        raise error.located(source=standing.source) from None
    return (_facing_words(standing, found), found.sigma), found.angle


def _facing_words(standing: Standing, found: Facing) -> str:
    return (
        f"the front is found {np.degrees(found.angle):+.1f} degrees from the file's own axis, "
        f"known to {max(np.degrees(found.sigma), 0.1):.1f} degrees; its image in the mirror "
        f"differs by {100.0 * found.asymmetry:.1f} % of the shape"
    )


def _said(standing: Standing, front: str) -> float:
    """Direction of a named axis of the file, in the frame that stands upright."""
    name = front.removeprefix("-")
    up = standing.up.removeprefix("-")
    if name not in _FRONTS or name == up:
        raise FormError(
            f"{front!r} is no direction of the front",
            remedy=f"Say which way the body looks: one of the axes that are not {up}, "
            "with - for the other way.",
            source=standing.source,
            element="front",
        )
    # As `stand` turns the axes: rolled until the upright one comes last.
    shift = 2 - _FRONTS[up]
    place = (_FRONTS[name] + shift) % 3
    sign = -1.0 if front.startswith("-") else 1.0
    flip = -1.0 if standing.up.startswith("-") and place == 0 else 1.0
    vector = np.zeros(2)
    vector[place] = sign * flip
    return float(np.arctan2(-vector[0], vector[1]))


def _toes(standing: Standing) -> FloatArray | None:
    """How far the feet's middle lies from the ankles', if the body stands on two feet."""
    bottom = float(standing.points[:, 2].min())
    if -bottom < 700.0:
        return None
    stature = -bottom / 0.62
    cut = slices(standing.points, standing.faces, bottom + stature * np.array([0.015, 0.07]))
    if any(len(parts) < 2 for parts in cut):
        return None
    feet, ankles = (np.mean([part.middle for part in parts[:2]], axis=0) for parts in cut)
    return np.asarray((feet - ankles) * np.array([-1.0, 1.0]))


def smoothed(
    heights: FloatArray, values: ComplexArray, at: FloatArray, window: float
) -> ComplexArray:
    """Values at other heights, by cubics fitted to the neighbours within a window each way.

    *heights*: ndarray, shape (m,). Increasing, in mm. *values*: ndarray of complex, shape (m, n).
    *at*: ndarray, shape (k,). *window*: in mm.

    Returns: ndarray of complex, shape (k, n).
    """
    result = np.empty((len(at), values.shape[1]), dtype=np.complex128)
    for row, height in zip(result, at.tolist(), strict=True):
        away = heights - height
        reach = max(window, float(np.sort(np.abs(away))[min(5, len(away) - 1)]) * 1.01)
        near = np.abs(away) < reach
        weights = (1.0 - (np.abs(away[near]) / reach) ** 3) ** 1.5
        powers = np.vander(away[near] / reach, 4, increasing=True)
        fit = np.linalg.lstsq(
            powers * weights[:, None], values[near] * weights[:, None], rcond=None
        )[0]
        row[:] = fit[0]
    return result


def _roughness(heights: FloatArray, values: ComplexArray) -> float:
    """Standard deviation in mm of slices from their smoothed neighbours."""
    away = values - smoothed(heights, values, heights, _WINDOW_MM)
    waves = np.where(np.arange(ORDER + 1) == 0, 1.0, 2.0)
    return float(np.sqrt((waves * np.abs(away) ** 2).sum(axis=1).mean()))
