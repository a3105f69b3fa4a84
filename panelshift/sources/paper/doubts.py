"""How far a solved set of pictures is to be trusted, and the refusals."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from ...errors import PhotoError, ScaleError, UnitError
from ...outline import FloatArray
from ...units import to_mm, trimmed
from . import cards
from .placing import Placed, errors_of, fitted
from .starting import at, rigid

_WORST_RMS: Final = 0.25
_WORST_STRIP: Final = 0.35
"""In pixels: of all corners, and of one strip's on one photo."""

_WORST_MM: Final = 0.25
"""Between photos, and of the strip that was held out: 95 % of corners lie nearer."""

_WORST_400: Final = 0.2
"""Of a length of 400 mm in mm, 95 %, by what the corners leave open: 0.3 is then passed by three
lengths in a thousand."""

_WORST_MIDDLE: Final = 5.0
"""Of the lens's middle, in standard deviations of usual ones."""

_LENGTH_MM: Final = 400.0
_MOST_LENGTHS: Final = 200
SHORTEST_MM: Final = 350.0
"""Of a measured length: half a millimetre is then a seventh of a percent."""

_OFF: Final = 0.003
"""Within this part of it a measured length says no more than that the print is true."""

_LENGTH = re.compile(r"\s*([A-Za-z])\s*(?:to|-|\u2013)\s*([A-Za-z])\b\s*:?\s*(\S.*)", re.IGNORECASE)
_RETAKE: Final = (
    "Tape draft and strips flat, move nothing between photos, use one lens without zoom, focus "
    "sharply and hold the focus, and take them again."
)


@dataclass(frozen=True)
class MeasuredLength:
    """A length between the crosses of two strips, in mm, as the maker measured it."""

    first: str
    second: str
    mm: float

    @property
    def ends(self) -> str:
        """Its ends in words."""
        return f"{self.first} to {self.second}"


def parse_measured(text: str) -> MeasuredLength:
    """Read a length such as "A to D 612.5 mm": two letters of strips, then a length.

    Raises `PhotoError` if it names no two strips, or is too short, and `UnitError` as
    `panelshift.units.to_mm` does.

    Examples
    --------
    >>> parse_measured("A to D 612.5 mm")
    MeasuredLength(first='A', second='D', mm=612.5)
    >>> parse_measured("a-c: 24 1/8 in").mm
    612.775
    """
    match = _LENGTH.fullmatch(text)
    if match is None or not {match[1].upper(), match[2].upper()} <= set(cards.NAMES):
        raise PhotoError(
            f"{text!r:.60} names no two strips and a length",
            remedy="Measure from the cross of one strip to that of another, and write it so: "
            "A to D 612.5 mm (--length 'A to D 612.5 mm').",
            element="--length",
        )
    first, second, words = match[1].upper(), match[2].upper(), match[3]
    try:
        length = to_mm(words)
    except UnitError as error:
        raise error.located(element="--length") from None
    if first == second or not length >= SHORTEST_MM:
        raise PhotoError(
            f"{text!r:.60} is shorter than {SHORTEST_MM:g} mm",
            remedy="Measure between strips that lie further apart: over a short way half a "
            "millimetre is too much.",
            element="--length",
        )
    return MeasuredLength(first, second, length)


@dataclass(frozen=True)
class Doubts:
    """How far corners of strips agree, in pixels and on the paper.

    *rms*: of all corners, in pixels. *worst*: the largest of one strip on one picture, with its
    letter and picture. *apart*: between pictures in mm, 95 %. *held_out*: of a strip that had no
    part in solving, in mm, 95 %, with its letter. *of_400*: of a length of 400 mm, in mm, 95 %.
    """

    rms: float
    worst: tuple[float, str, int]
    apart: float
    held_out: tuple[float, str]
    of_400: float

    @property
    def uncertainty(self) -> float:
        """Of a place on the paper, in mm, 95 %: the largest that any of them shows."""
        return max(self.apart, self.held_out[0], self.of_400)


def doubts_of(placed: Placed) -> Doubts:
    """Measure how far pictures are to be trusted."""
    sums = [
        (float(np.sqrt((errors**2).sum(axis=1).mean())), sighting.name, sighting.picture)
        for errors, sighting in zip(placed.residuals, placed.sightings, strict=True)
    ]
    return Doubts(
        placed.rms,
        max(sums),
        _apart(placed, placed, placed.strips),
        _held_out(placed),
        _of_400(placed, _lengths(placed)),
    )


def _apart(solved: Placed, placed: Placed, names: Sequence[str]) -> float:
    """How far corners lie from their mean over pictures, in mm, 95 %; 0 if each is on one alone.

    *placed*: where to look for them.
    """
    found = []
    for name in names:
        own = [s for s in placed.sightings if s.name == name]
        laid: dict[tuple[float, float], list[FloatArray]] = {}
        for sighting in own:
            near = placed.on_plane(name, sighting.places)
            back = solved.back(sighting.pixels, sighting.picture, near)
            for place, point in zip(sighting.places.tolist(), back, strict=True):
                laid.setdefault((place[0], place[1]), []).append(point)
        for points in laid.values():
            if len(points) > 1:
                found += np.linalg.norm(points - np.mean(points, axis=0), axis=1).tolist()
    return float(np.percentile(found, 95.0)) if found else 0.0


def _held_out(placed: Placed) -> tuple[float, str]:
    """Solve without the strip that the others need least, and see how true it comes out.

    Returns its letter as well, empty if no strip can be spared.
    """
    lengths = _lengths(placed)
    open_without = {
        # The first strip holds the plane in place.
        name: _of_400(_without(placed, name), lengths)
        for name in placed.strips[1:]
        if len({s.picture for s in placed.sightings if s.name != name}) == len(placed.sizes)
    }
    if len(open_without) < 2:
        return 0.0, ""
    hidden = min(open_without, key=lambda name: open_without[name])
    without = fitted(_without(placed, hidden))
    found = []
    for sighting in placed.sightings:
        if sighting.name == hidden:
            near = placed.on_plane(hidden, sighting.places)
            back = without.back(sighting.pixels, sighting.picture, near)
            half = 0.5 * without.stretch
            own = sighting.places * np.exp([half, -half])
            found.append(np.linalg.norm(back - at(rigid(own, back), own), axis=1))
    own_error = float(np.percentile(np.concatenate(found), 95.0))
    return max(own_error, _apart(without, placed, [hidden])), hidden


def _without(placed: Placed, name: str) -> Placed:
    return replace(placed, sightings=tuple(s for s in placed.sightings if s.name != name))


def _lengths(placed: Placed) -> FloatArray:
    """How lengths of about 400 mm within the strips move with all that is solved, a row for each.

    As each picture shows them, scaled to 400 mm.
    """
    # Strips and the middles between them: where the draft lies, and no further.
    corners = cards.corners()[[0, 10, 11, 21]]
    ends = np.concatenate([placed.on_plane(name, corners) for name in placed.strips])
    first, last = np.triu_indices(len(ends))
    points = 0.5 * (ends[first] + ends[last])[::3]
    one, two = np.triu_indices(len(points), 1)
    ways = points[two] - points[one]
    lengths = np.linalg.norm(ways, axis=1)
    near = np.flatnonzero(np.abs(lengths - _LENGTH_MM) < 0.3 * _LENGTH_MM)
    if not len(near):
        near = np.array([int(np.argmax(lengths))])
    near = near[:: max(1, len(near) // _MOST_LENGTHS)]
    units = ways[near] / lengths[near, None] ** 2 * _LENGTH_MM
    rows = []
    for picture in range(len(placed.sizes)):
        moves = placed.moves(points, picture)[:, :, placed.free]
        rows.append(((moves[two[near]] - moves[one[near]]) * units[:, :, None]).sum(axis=1))
    return np.concatenate(rows)


def _of_400(placed: Placed, lengths: FloatArray) -> float:
    """What the corners leave open of lengths, in mm, 95 %: by the covariance of all values."""
    errors, slopes = errors_of(placed, placed.values)
    slopes = slopes[:, placed.free]
    # Values have units of all sizes: each by how much the pictures feel it.
    felt = np.maximum(np.linalg.norm(slopes, axis=0), 1e-12)
    _, sizes, ways = np.linalg.svd(slopes / felt, full_matrices=False)
    kept = sizes > 1e-10 * sizes[0]
    # Less than the usual noise may be luck with lenses; scanners have none.
    least = 1.0 if max(placed.lenses) >= 0 else 0.1
    noise = max(least, float((errors**2).mean()))
    loose = np.sqrt(noise) * ways[kept].T / sizes[kept] / felt[:, None]
    return 1.96 * float(np.linalg.norm(lengths @ loose, axis=1).max())


def refuse_untrue(placed: Placed, doubts: Doubts, names: Sequence[str]) -> None:
    """Refuse pictures that do not agree; *names*: of their files.

    Raises `PhotoError`.
    """
    size, strip, picture = doubts.worst
    if size > _WORST_STRIP:
        raise PhotoError(
            f"strip {strip} lies {size:.2f} pixels off on average, and {_WORST_STRIP} are allowed: "
            "it is not flat, was moved, or the photo is not sharp there; or the lens focused anew "
            "between photos",
            remedy=f"Tape strip {strip} flat. {_RETAKE}",
            source=names[picture],
            element=strip,
        )
    if doubts.rms > _WORST_RMS:
        raise PhotoError(
            f"the strips lie {doubts.rms:.2f} pixels off on average, and {_WORST_RMS} are allowed: "
            "the photos are not sharp, or not all of one lens",
            remedy=_RETAKE,
        )
    if placed.off_middle > _WORST_MIDDLE:
        raise PhotoError(
            "the lens's middle lies far from that of the photos: they were cropped, or turned and "
            "saved again",
            remedy="Take the photos as the camera saved them, uncropped and all of one lens.",
        )
    if doubts.apart > _WORST_MM:
        raise PhotoError(
            f"the photos disagree by {doubts.apart:.2f} mm, and {_WORST_MM} are allowed",
            remedy=_RETAKE,
        )
    if doubts.held_out[0] > _WORST_MM:
        raise PhotoError(
            f"strip {doubts.held_out[1]}, held out to measure the error, comes out "
            f"{doubts.held_out[0]:.2f} mm wrong, and {_WORST_MM} are allowed",
            remedy=f"Lay more strips, one or two of them on the draft. {_RETAKE}",
            element=doubts.held_out[1],
        )
    if doubts.of_400 > _WORST_400:
        remedy = (
            "Go nearer, lay a strip or two on the draft, and tilt the photos by about a quarter of "
            "a right angle, each to another side."
        )
        if max(placed.lenses) < 0:
            remedy = "Scan at 300 dots to the inch, and let scans share more strips."
        raise PhotoError(
            f"the pictures leave 400 mm open by {doubts.of_400:.2f} mm, and {_WORST_400} are "
            "allowed",
            remedy=remedy,
        )


def refuse_unmeasured(lengths: Sequence[MeasuredLength]) -> None:
    """Refuse pictures for which no length was measured: nothing else tells how large a print is.

    Raises `PhotoError`.
    """
    if not lengths:
        raise PhotoError(
            "no measured length: a print that came out too small looks the same on every photo",
            remedy="Measure from the cross of one strip to that of another, at least "
            f"{SHORTEST_MM:g} mm, and write it so: A to D 612.5 mm (--length 'A to D 612.5 mm').",
            element="--length",
        )


def true_scale(
    placed: Placed, lengths: Sequence[MeasuredLength], *, accepted: bool = False
) -> float:
    """By what all lengths are to be multiplied: 1 if the print is true.

    *accepted*: whether the maker lets a measured length set the scale.

    Raises `PhotoError` if no length is given, or its strips are not seen, and `ScaleError` if the
    print is not true, or lengths contradict each other.
    """
    refuse_unmeasured(lengths)
    ratios = [length.mm / _between(placed, length) for length in lengths]
    low, high = int(np.argmin(ratios)), int(np.argmax(ratios))
    if ratios[high] > ratios[low] * (1.0 + _OFF):
        raise ScaleError(
            f"{lengths[low].ends} and {lengths[high].ends} contradict each other by "
            f"{_percent(ratios[high] / ratios[low])} %",
            remedy="Measure both again.",
            element="--length",
        )
    ratio = float(np.mean(ratios))
    across = float(np.exp(placed.stretch))
    if max(abs(ratio - 1.0), abs(across - 1.0)) <= _OFF:
        return 1.0
    if accepted:
        return ratio
    length = lengths[int(np.argmax(np.abs(np.array(ratios) - 1.0)))]
    if abs(across - 1.0) > _OFF:
        problem = f"the strips were printed {_percent(across)} % longer than wide"
        if across < 1.0:
            problem = f"the strips were printed {_percent(1.0 / across)} % wider than long"
    else:
        found = trimmed(length.mm / ratio, 1)
        problem = (
            f"{length.ends} measures {trimmed(length.mm, 1)} mm, but is {found} mm by the strips "
            f"({_percent(ratio)} %)"
        )
    raise ScaleError(
        problem,
        remedy="Measure once more. If the length is right, the strips were not printed at 100 %: "
        "print them again, or let all be scaled by what you measured (--scale-to-length).",
        element="--length",
    )


def _percent(ratio: float) -> str:
    return f"{100.0 * (ratio - 1.0):.1f}"


def _between(placed: Placed, length: MeasuredLength) -> float:
    for name in (length.first, length.second):
        if name not in placed.strips:
            raise PhotoError(
                f"a length was measured to strip {name}, which is on no picture",
                remedy="Measure between two strips that the pictures show.",
                element="--length",
            )
    cross = np.array([cards.CROSS])
    ends = [placed.on_plane(name, cross)[0] for name in (length.first, length.second)]
    return float(np.linalg.norm(ends[1] - ends[0]))
