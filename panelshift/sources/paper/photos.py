"""From photos or scans of a paper to a drawing: the recipe."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from .above import rectify
from .doubts import Doubts, MeasuredLength, doubts_of, refuse_unmeasured, refuse_untrue, true_scale
from .placing import Placed, Sighting, solve
from .sightings import Picture, read_picture, refuse_unseen, sightings
from .tracing import Tracing, trace_paper

_FINDING: Final = 0.25
_SOLVING: Final = 0.15
_ABOVE: Final = 0.4
"""Parts of the time that steps take; tracing has the rest."""


@dataclass(frozen=True, eq=False)
class Traced:
    """What photos of a paper gave.

    *scale*: by what all was multiplied, by the maker's measured length; 1 if the print was true.
    *uncertainty*: of a place in mm, 95 %.
    """

    tracing: Tracing
    doubts: Doubts
    strips: tuple[str, ...]
    scale: float
    uncertainty: float


def place_pictures(
    pictures: Sequence[Picture], seen: Sequence[Sighting], *, scans: bool = False
) -> tuple[Placed, Doubts]:
    """Solve where strips and cameras were; pictures of one size are of one camera.

    Raises `PhotoError` if they show too little, or do not agree.
    """
    refuse_unseen(pictures, seen, scans=scans)
    sizes = [picture.size for picture in pictures]
    known = list(dict.fromkeys(sizes))
    lenses = [-1 if scans else known.index(size) for size in sizes]
    placed = solve(sizes, lenses, seen)
    doubts = doubts_of(placed)
    refuse_untrue(placed, doubts, [picture.name for picture in pictures])
    return placed, doubts


def trace_photos(
    paths: Sequence[Path],
    lengths: Sequence[MeasuredLength],
    *,
    scaled: bool = False,
    scans: bool = False,
    struck: Sequence[tuple[float, float]] = (),
    advance: Callable[[float], None] = lambda part: None,
) -> Traced:
    """Trace a paper from photos, or from scans.

    *lengths*: measured between strips. *scaled*: whether they may set the scale. *struck*: points
    in mm on lines that do not count. *advance*: told of each part of 1 that is done.

    Raises `PhotoError` and `ScaleError` if the pictures are not to be trusted; faults of the
    drawing itself are in the tracing.
    """
    refuse_unmeasured(lengths)
    pictures, seen = list[Picture](), list[Sighting]()
    for number, path in enumerate(paths):
        picture = read_picture(path)
        pictures.append(picture)
        seen += sightings(picture, number)
        advance(_FINDING / len(paths))
    placed, doubts = place_pictures(pictures, seen, scans=scans)
    scale = true_scale(placed, lengths, accepted=scaled)
    advance(_SOLVING)
    rectified = rectify(
        placed, pictures, doubts, scale=scale, advance=lambda part: advance(_ABOVE * part)
    )
    pictures.clear()
    tracing = trace_paper(rectified, struck)
    advance(1.0 - _FINDING - _SOLVING - _ABOVE)
    return Traced(tracing, doubts, placed.strips, scale, rectified.uncertainty)
