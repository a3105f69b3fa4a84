"""Bones: the channels of a pattern, numbered, and the bone that goes into each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ..construction.channels import Channel, channels_of
from ..construction.laying import Lay
from ..errors import StackError
from ..files.one_line import refuse_broken_line
from ..files.plain_values import refuse_misfits
from ..outline import Curve, FloatArray
from ..outline.planar import Areas
from ..pattern.pattern import Pattern
from ..units import LONGEST_MM

_SAMPLES: Final = 41

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

    Raises
    ------
    StackError
        If the clearance is negative, a length is not above 0, or one is beyond 100 m; or the kind
        is none that fits in a line.

    Examples
    --------
    >>> BoneOptions("spring steel 7 mm", lengths=(250.0, 300.0)).clearance
    12.0
    """

    kind: str = "bone"
    clearance: float = CLEARANCE_MM
    lengths: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        refuse_misfits(self, "which bones are bought")
        refuse_broken_line(self.kind, "the kind of bones", StackError)
        sold = all(0.0 < length <= LONGEST_MM for length in self.lengths)
        if not (sold and 0.0 <= self.clearance <= LONGEST_MM):
            raise StackError(
                f"bones sold in {', '.join(f'{length:g}' for length in self.lengths) or 'any'} mm, "
                f"{self.clearance:g} mm shorter than their channels",
                remedy="Give lengths in mm above 0, and a clearance of 0 or more.",
                element="extras.bones",
            )


@dataclass(frozen=True, eq=False)
class BoneChannel:
    """One channel: its panel's name, its number in the pattern, its middle line on the sheet.

    `drawn` says what it was read from, so that a maker sees where two bones were taken for one.
    """

    panel: str
    number: int
    middle: FloatArray
    length: float
    drawn: str
    width: float

    def bone(self, options: BoneOptions) -> float:
        """Length in mm of the bone that goes in: the longest sold that does, if some are listed."""
        room = max(self.length - options.clearance, 0.0)
        fitting = [sold for sold in options.lengths if sold <= room + 1e-6]
        if options.lengths:
            return max(fitting, default=0.0)
        return room


def bone_channels(pattern: Pattern, lay: Lay | None = None) -> list[list[BoneChannel]]:
    """Channels of each panel from front to back, numbered through the pattern from 1.

    *lay*: how the layers lie, where it is said how they are sewn: then these are its channels.
    """
    kinds = () if lay is None else lay.sewn.construction.bones
    own: list[Channel] = [c for bones in kinds or (None,) for c in channels_of(pattern, bones)]
    found: list[list[BoneChannel]] = []
    number = 0
    for index, panel in enumerate(pattern.panels):
        here = [channel for channel in own if channel.panel == index]
        here.sort(key=lambda channel: float(channel.middle[:, 0].mean()))
        found.append(
            [
                BoneChannel(
                    panel.name, k, panel.frame.to_sheet(c.middle), c.length, c.drawn, c.width
                )
                for k, c in enumerate(here, start=number + 1)
            ]
        )
        number += len(here)
    return found


def channels_on(
    pieces: Pattern, channels: Sequence[Sequence[BoneChannel]]
) -> list[list[BoneChannel]]:
    """Of channels of panels, those that run on each piece, as far as they do.

    None on pieces of several panels, which are turned to lie beside each other.
    """
    areas = Areas([piece.outline for piece in pieces])
    found = []
    for k, piece in enumerate(pieces):
        own = [*piece.made_of, piece.name][:1] if len(piece.made_of) < 2 else []
        here = []
        for channel in (one for one in flat(channels) if one.panel in own):
            line = Curve.polyline(channel.middle)
            points = line.points(np.linspace(0.0, len(line), _SAMPLES))
            within = points[areas.distances([k] * _SAMPLES, points) == 0.0]
            if len(within) > 1:
                here.append(replace(channel, panel=piece.name, middle=within))
        found.append(here)
    return found


def flat(channels: Sequence[Sequence[BoneChannel]]) -> list[BoneChannel]:
    """All channels of a pattern in one list."""
    return [channel for own in channels for channel in own]
