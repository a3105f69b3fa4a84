"""Which way a mesh stands and in which unit it is: found from its shape, or said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from ..errors import FormError
from ..outline import FloatArray
from .mesh import Mesh, SlicePart, rivals, slices, trunk

UNITS: Final = {"mm": 1.0, "cm": 10.0, "dm": 100.0, "in": 25.4, "m": 1000.0}
"""Millimetres of one unit of the mesh."""

AXES: Final = ("x", "-x", "y", "-y", "z", "-z")

_TALLER: Final = 1.2
"""By how much the longest extent must exceed the next to be the upright one without a word."""

_GIRTHS: Final = (450.0, 1500.0)
"""Waists of adults, in mm: the 5 kg doll and the giant of a model shop are neither."""

_HEIGHTS: Final = (350.0, 2300.0)
"""A trunk from hip to bust at least; at most a tall adult on a base."""

_STEPS: Final = 160
_VALLEY: Final = 0.01
"""Part of the girth by which a waist is narrower than what lies above and below it."""

_STEEP: Final = 0.012
"""Part of the girth that a trunk gains in a mm of height at most: where it gains more, arms or
shoulders begin."""

_MOST_CUT: Final = 50_000
"""Faces that a level plane may cut: of a body in four million faces it cuts some ten thousand."""

_LOOSE: Final = 0.01
"""Part of the points that may belong to no face without a word."""

_LIMB: Final = 0.6
"""A valley with less than this of the trunk's median girth is a neck. (Not of the largest: that
may lie at shoulders with the arms held out.)"""


@dataclass(frozen=True, eq=False)
class Standing:
    """A mesh upright in mm, with its waist.

    *points*: ndarray, shape (n, 3). In mm: the third coordinate upwards from the waist. *faces*:
    ndarray of int, shape (m, 3). *units*, *up*: As found or given. *waist_girth*: Of the hull
    there, in mm. *low*, *high*: Where the trunk begins and ends, in mm from the waist. *words*:
    What was found out, and how sure that is.
    """

    points: FloatArray
    faces: np.ndarray[Any, np.dtype[np.int64]]
    units: str
    up: str
    waist_girth: float
    low: float
    high: float
    words: tuple[str, ...]
    source: str


def stand(mesh: Mesh, *, units: str = "", up: str = "", waist: float | None = None) -> Standing:
    """Set a mesh upright and find its unit and its waist.

    *units*: {"", "mm", "cm", "dm", "in", "m"}. Found from the size if empty. *up*: one of `AXES`,
    or empty: then the longest extent stands upright. *waist*: height of the waist above the mesh's
    lowest point in mm; else the narrowest place between hip and bust.

    Raises `FormError` if the mesh lies down, is no body, has two bodies, or if its unit, upright
    axis or waist cannot be told.
    """
    axis, words = _upright(mesh, mesh.points, up)
    if mesh.loose > _LOOSE:
        words.append(
            f"{100.0 * mesh.loose:.0f} % of the file's points belong to no face: see that the file "
            "is whole"
        )
    points = _turned(mesh.points, axis)
    span = float(np.ptp(points[:, 2]))
    runs = _Runs.of(points, mesh, span)
    if not up:
        axis, runs, points = _right_way_up(mesh, axis, runs, points)
    unit = _unit(mesh, units, runs, span, words)
    scale = UNITS[unit]
    runs = runs.scaled(scale)
    points = points * scale
    floor = float(points[:, 2].min())
    level = _waist(mesh, runs, floor, waist, words)
    girth = float(np.interp(level, runs.heights, runs.girths))
    low, high = runs.reach(level, mesh)
    points[:, 2] -= level
    return Standing(
        points,
        mesh.faces,
        unit,
        axis,
        girth,
        low - level,
        high - level,
        tuple(words),
        mesh.source,
    )


@dataclass(frozen=True, eq=False)
class _Runs:
    """Trunk girths of many slices; nothing where two parts are alike large."""

    heights: FloatArray
    girths: FloatArray
    parted: np.ndarray[Any, np.dtype[np.bool_]]
    parts: tuple[SlicePart | None, ...]

    @classmethod
    def of(cls, points: FloatArray, mesh: Mesh, span: float) -> _Runs:
        bottom = float(points[:, 2].min())
        # Never through a row of corners: meshes often have them at round heights.
        heights = bottom + span * (np.arange(_STEPS) + 0.5137) / _STEPS
        _refuse_tangle(points, mesh, heights)
        cut = slices(points, mesh.faces, heights)
        parts = tuple(trunk(found) for found in cut)
        girths = np.array([part.girth if part else 0.0 for part in parts])
        return cls(heights, girths, np.array([rivals(found) > 1 for found in cut]), parts)

    def scaled(self, scale: float) -> _Runs:
        return _Runs(self.heights * scale, self.girths * scale, self.parted, self.parts)

    def valleys(self) -> list[int]:
        """Where the trunk is narrowest between wider parts, deepest first."""
        girths = np.where(self.parted, 0.0, self.girths)
        usual = float(np.median(girths[girths > 0.0])) if girths.any() else 0.0
        found = []
        for i in range(1, len(girths) - 1):
            if not _LIMB * usual <= girths[i] <= min(girths[i - 1], girths[i + 1]):
                continue
            below = _climb(girths[:i][::-1], girths[i])
            above = _climb(girths[i + 1 :], girths[i])
            depth = min(below, above) - girths[i]
            if depth > _VALLEY * girths[i]:
                found.append((depth, i))
        return [i for _, i in sorted(found, reverse=True)]

    def reach(self, level: float, mesh: Mesh) -> tuple[float, float]:
        """How far down and up from the waist the slices are one trunk."""
        start = int(np.argmin(np.abs(self.heights - level)))
        whole = (self.girths > 0.0) & ~self.parted
        low = high = start
        steep = 1.0 + _STEEP * float(self.heights[1] - self.heights[0])
        while low > 0 and whole[low - 1] and self.girths[low - 1] < steep * self.girths[low]:
            low -= 1
        while (
            high < len(whole) - 1
            and whole[high + 1]
            and self.girths[high + 1] < steep * self.girths[high]
        ):
            high += 1
        return float(self.heights[low]), float(self.heights[high])


def _refuse_tangle(points: FloatArray, mesh: Mesh, heights: FloatArray) -> None:
    z = points[:, 2][mesh.faces]
    low, high = np.sort(z.min(axis=1)), np.sort(z.max(axis=1))
    most = int((np.searchsorted(low, heights) - np.searchsorted(high, heights)).max())
    if most > _MOST_CUT:
        raise FormError(
            f"a level plane cuts {most:,} of its {len(z):,} faces: they are no surface of a body",
            remedy="Check the scan in a mesh program; reduce it to about 100,000 faces.",
            source=mesh.source,
        )


def _climb(girths: FloatArray, floor: float) -> float:
    """Highest girth met before it falls below the valley's own."""
    lower = np.flatnonzero(girths < floor)
    run = girths[: int(lower[0])] if len(lower) else girths
    return float(run.max()) if len(run) else floor


def _upright(mesh: Mesh, used: FloatArray, up: str) -> tuple[str, list[str]]:
    if up:
        if up not in AXES:
            raise FormError(
                f"{up!r} is no upright direction",
                remedy=f"Say which way is up in the file: {', '.join(AXES)}.",
                source=mesh.source,
                element="up",
            )
        return up, [f"up is {up}, as said"]
    extents = np.ptp(used, axis=0)
    order = np.argsort(extents)[::-1]
    longest, ratio = "xyz"[int(order[0])], float(extents[order[0]] / extents[order[1]])
    if ratio < _TALLER:
        raise FormError(
            f"which way is up cannot be told: its extents {_three(extents)} are nearly alike",
            remedy="Say it with --up, such as --up z.",
            source=mesh.source,
            element="up",
        )
    if longest == "x":
        raise FormError(
            f"the body seems to lie down: it is longest along x ({_three(extents)})",
            remedy="Turn it upright in a mesh program; if x is up in this file, say --up x.",
            source=mesh.source,
            element="up",
        )
    return longest, [f"up is along {longest}, {ratio:.1f} times longer than the next extent"]


def _three(extents: FloatArray) -> str:
    return " by ".join(f"{value:.4g}" for value in extents.tolist())


def _turned(points: FloatArray, axis: str) -> FloatArray:
    """Points with the upright axis third, right-handed as they were."""
    index = "xyz".index(axis[-1])
    turned = np.roll(points, 2 - index, axis=1)
    if axis.startswith("-"):
        turned = turned * np.array([-1.0, 1.0, -1.0])
    return np.array(turned)


def _right_way_up(
    mesh: Mesh, axis: str, runs: _Runs, points: FloatArray
) -> tuple[str, _Runs, FloatArray]:
    """Legs and hips below, neck and shoulders above."""
    top, bottom = runs.girths[-_STEPS // 10 :], runs.girths[: _STEPS // 10]
    legs_below = runs.parted[: _STEPS // 3].mean() - runs.parted[-_STEPS // 3 :].mean()
    if abs(legs_below) > 0.2:
        upside_down = legs_below < 0.0
    else:
        ends = float(bottom.max()), float(top.max())
        if max(ends) < 1.15 * min(ends):
            raise FormError(
                "which end is up cannot be told: both ends are alike wide",
                remedy=f"Say it with --up {axis} or --up -{axis}.",
                source=mesh.source,
                element="up",
            )
        upside_down = ends[0] < ends[1]
    if not upside_down:
        return axis, runs, points
    flipped = f"-{axis}"
    points = _turned(mesh.points, flipped)
    span = float(np.ptp(points[:, 2]))
    return flipped, _Runs.of(points, mesh, span), points


def _unit(mesh: Mesh, units: str, runs: _Runs, span: float, words: list[str]) -> str:
    if units:
        if units not in UNITS:
            raise FormError(
                f"unknown unit {units!r}",
                remedy=f"Use one of {', '.join(UNITS)}.",
                source=mesh.source,
                element="units",
            )
        words.append(f"one unit of the file is 1 {units}, as said")
        return units
    valleys = runs.valleys()
    girth = runs.girths[valleys[0]] if valleys else float(np.median(runs.girths))
    possible = [
        name
        for name, scale in UNITS.items()
        if _GIRTHS[0] <= girth * scale <= _GIRTHS[1] and _HEIGHTS[0] <= span * scale <= _HEIGHTS[1]
    ]
    if mesh.metres and "m" in possible:
        words.append("the file's format counts in metres")
        return "m"
    if len(possible) == 1:
        words.append(
            f"one unit of the file is taken as 1 {possible[0]}: it is {span:.4g} high and "
            f"{girth:.4g} round the waist"
        )
        return possible[0]
    if possible:
        raise FormError(
            f"its unit cannot be told: {span:.4g} high and {girth:.4g} round the waist could be "
            f"{' or '.join(possible)}",
            remedy=f"Say it with --units, such as --units {possible[0]}.",
            source=mesh.source,
            element="units",
        )
    raise FormError(
        f"this is no adult's body in any unit: {span:.4g} high and {girth:.4g} round",
        remedy="Check that the file holds a body or a dress form; if it does, scale it in a mesh "
        "program to its true height, and say --units.",
        source=mesh.source,
    )


def _waist(mesh: Mesh, runs: _Runs, floor: float, given: float | None, words: list[str]) -> float:
    if given is not None:
        level = floor + given
        index = int(np.argmin(np.abs(runs.heights - level)))
        if not runs.heights[0] < level < runs.heights[-1] or runs.parted[index]:
            raise FormError(
                f"there is no trunk {given:g} mm above its lowest point",
                remedy="Measure the waist's height from the floor (or the form's lower edge) up.",
                source=mesh.source,
                element="waist",
            )
        words.append(f"the waist lies {given:.0f} mm above the lowest point, as said")
        return level
    valleys = runs.valleys()
    if not valleys:
        both = runs.parted.mean() > 0.5
        what = "it holds two bodies, or legs alone" if both else "no waist is found"
        raise FormError(
            f"{what}: nowhere is one part of it narrower than above and below",
            remedy="Scan one body alone, arms away from it; or say where the waist is with "
            "--waist, the height in mm above the lowest point.",
            source=mesh.source,
        )
    best = valleys[0]
    level, girth = float(runs.heights[best]), float(runs.girths[best])
    near = [i for i in valleys[1:] if runs.girths[i] < 1.02 * girth]
    if near:
        raise FormError(
            "two places could be the waist: "
            + " and ".join(
                f"{runs.heights[i] - floor:.0f} mm up ({runs.girths[i]:.0f} round)"
                for i in (best, *near)
            ),
            remedy="Say which with --waist, the height in mm above the lowest point.",
            source=mesh.source,
        )
    # The parabola through three girths finds the narrowest place between the slices.
    if 0 < best < len(runs.girths) - 1:
        a, b, c = (float(runs.girths[best + k]) for k in (-1, 0, 1))
        bend = a - 2.0 * b + c
        if bend > 0.0:
            level += 0.5 * (a - c) / bend * float(runs.heights[1] - runs.heights[0])
    words.append(
        f"the waist is taken where the trunk is narrowest, {level - floor:.0f} mm above the "
        f"lowest point: {girth:.0f} mm round"
    )
    return level
