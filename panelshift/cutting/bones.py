"""Bones: the channels drawn on panels, numbered, and the bone that goes into each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from ..outline import Curve, FloatArray
from ..outline.measure import length
from ..outline.planar import area
from ..pattern.panel import Panel
from ..pattern.pattern import Pattern

WIDEST_CHANNEL_MM: Final = 16.0
"""Two stitch lines further apart are two channels: common practice, no source (wide bones are
about 12 mm)."""

_LIKE: Final = 0.7
"""The two lines of a channel are nearly as long as each other: the shorter this part at least."""

CLEARANCE_MM: Final = 12.0
"""Common practice, no source: 6 mm free at each end of a bone."""


@dataclass(frozen=True)
class BoneOptions:
    """Which bones are bought.

    Parameters
    ----------
    kind : str
        As it stands in the list, such as "spring steel 7 mm".
    clearance : float
        By how much a bone is shorter than its channel, both ends together, in mm.
    lengths : tuple of float
        Lengths in mm that are sold; empty where bones are cut to length.
    """

    kind: str = "bone"
    clearance: float = CLEARANCE_MM
    lengths: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class BoneChannel:
    """One channel: its panel's name, its number in the pattern, its middle line, its arc length.

    `drawn` says what it was read from, so that a maker sees where two bones were taken for one.
    """

    panel: str
    number: int
    middle: FloatArray
    length: float
    drawn: str

    def bone(self, options: BoneOptions) -> float:
        """Length in mm of the bone that goes in: the longest sold that does, if some are listed."""
        room = max(self.length - options.clearance, 0.0)
        fitting = [sold for sold in options.lengths if sold <= room + 1e-6]
        if options.lengths:
            return max(fitting, default=0.0)
        return room


def bone_channels(pattern: Pattern) -> list[list[BoneChannel]]:
    """Channels of each panel from front to back, numbered through the pattern from 1."""
    found: list[list[BoneChannel]] = []
    number = 0
    for panel in pattern.panels:
        own = sorted(_middles(panel), key=lambda item: _across(panel, item[0]))
        found.append(
            [
                BoneChannel(panel.name, number + k, *channel)
                for k, channel in enumerate(own, start=1)
            ]
        )
        number += len(own)
    return found


def _across(panel: Panel, middle: FloatArray) -> float:
    return float(panel.frame.to_panel(middle)[:, 0].mean())


def _middles(panel: Panel) -> list[tuple[FloatArray, float, str]]:
    """Middle line, arc length and way of drawing of each channel of a panel.

    A closed outline is one channel; two lines side by side are the stitching of one; a line by
    itself is the middle of one.
    """
    bones = [mark.curve for mark in panel.marks if mark.kind == "bone"]
    found = [(*_of_outline(panel, curve), "an outline") for curve in bones if curve.closed]
    lines = [_sampled(panel, curve) for curve in bones if not curve.closed]
    lengths = [length(curve) for curve in bones if not curve.closed]
    gaps = sorted(
        (float(np.hypot(*(lines[i] - lines[j]).T).mean()), i, j)
        for i in range(len(lines))
        for j in range(i + 1, len(lines))
        if min(lengths[i], lengths[j]) >= _LIKE * max(lengths[i], lengths[j])
    )
    free = set(range(len(lines)))
    for gap, i, j in gaps:
        if gap <= WIDEST_CHANNEL_MM and {i, j} <= free:
            free -= {i, j}
            middle, size = 0.5 * (lines[i] + lines[j]), 0.5 * (lengths[i] + lengths[j])
            found.append((middle, size, "two lines"))
    return found + [(lines[k], lengths[k], "one line") for k in sorted(free)]


def _sampled(panel: Panel, curve: Curve) -> FloatArray:
    """Points along a line from its bottom to its top, as many on each."""
    points = curve.points(np.linspace(0.0, len(curve), 25))
    rising = (points[-1] - points[0]) @ panel.frame.up > 0.0
    return points if rising else points[::-1]


def _of_outline(panel: Panel, curve: Curve) -> tuple[FloatArray, float]:
    """Middle line and length of a channel drawn as an outline.

    A strip of length l and width w has half its perimeter l + w and its area l w, bent or not.
    """
    half = 0.5 * length(curve)
    long = 0.5 * (half + math.sqrt(max(half * half - 4.0 * area(curve), 0.0)))
    # Without the point that closes it, which would count twice.
    points = curve.flatten()[:-1]
    height = points @ panel.frame.up
    order = np.argsort(height)
    low, high = points[order[:2]].mean(axis=0), points[order[-2:]].mean(axis=0)
    return np.linspace(low, high, 25), long


def flat(channels: Sequence[Sequence[BoneChannel]]) -> list[BoneChannel]:
    """All channels of a pattern in one list."""
    return [channel for own in channels for channel in own]
