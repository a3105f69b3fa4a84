"""From photos or scans to a paper seen from above, and how far it is to be trusted: the recipe."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from .above import rectify
from .doubts import Doubts, MeasuredLength, doubts_of, refuse_unmeasured, refuse_untrue, true_scale
from .placing import Placed, Sighting, solve
from .rectified import Rectified
from .sightings import Picture, read_picture, refuse_unseen, sightings

_FINDING: Final = 0.25
_SOLVING: Final = 0.15
_ABOVE: Final = 0.4
SEEN: Final = _FINDING + _SOLVING + _ABOVE
"""Parts of the time that steps take; tracing has what is left."""

_STEPS: Final = (
    (_FINDING, "looking for the strips"),
    (_FINDING + _SOLVING, "working out where the camera stood"),
    (SEEN, "seeing the paper from above"),
    (1.0, "following the lines"),
)

_CLAIMED_MM: Final = 1.0
"""What a drawing from photos is said to be true to, until real ones have been measured."""


def step_words(part: float) -> str:
    """What is being done when a part of 1 is done."""
    return next((words for end, words in _STEPS if part < end - 1e-6), _STEPS[-1][1])


@dataclass(frozen=True, eq=False)
class PaperSeen:
    """A paper that was seen from above.

    *scale*: by what all was multiplied, by the maker's measured length; 1 if the print was true.
    """

    rectified: Rectified
    doubts: Doubts
    strips: tuple[str, ...]
    scale: float

    @property
    def trusted(self) -> list[str]:
        """How true it is, in words."""
        doubts = self.doubts
        size, strip, _ = doubts.worst
        words = [
            f"strips seen: {', '.join(self.strips)}; they lie {doubts.rms:.2f} pixels off on "
            f"average (strip {strip} {size:.2f})",
            f"a place agrees within {self.rectified.uncertainty:.2f} mm (95 %) by strips and "
            f"photos; claimed is no more than ± {_CLAIMED_MM:g} mm, until real photographs have "
            "been measured",
        ]
        if doubts.held_out[1]:
            words.append(
                f"strip {doubts.held_out[1]}, held out to measure the error, came out within "
                f"{doubts.held_out[0]:.2f} mm"
            )
        if self.scale != 1.0:
            words.append(f"all was scaled by {self.scale:.4f} to the measured length")
        return words


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


def see_paper(
    paths: Sequence[Path],
    lengths: Sequence[MeasuredLength],
    *,
    scaled: bool = False,
    scans: bool = False,
    advance: Callable[[float], None] = lambda part: None,
) -> PaperSeen:
    """See a paper from above, from photos or from scans.

    *lengths*: measured between strips. *scaled*: whether they may set the scale. *advance*: told of
    each part of 1 that is done, up to `SEEN`.

    Raises `PhotoError` and `ScaleError` if the pictures are not to be trusted.
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
    return PaperSeen(rectified, doubts, placed.strips, scale)
