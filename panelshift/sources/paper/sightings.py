"""Strips found on pictures."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ...errors import PhotoError, few
from ...files.contents import read_bounded
from ...outline import FloatArray
from ..drawings import no_heic, picture_kind
from . import cards
from .placing import Sighting
from .rectified import opencv

_MOST_BYTES: Final = 100 * 1024**2
_MOST_PIXELS: Final = 120_000_000
_FEWEST_CORNERS: Final = 8
"""Of a strip's 22, to count as seen; it may lie half outside the picture."""

_SMALLEST_MARKER: Final = 0.012
"""Smallest marker looked for: its way round, as a part of the picture's longer side."""

_CLEAR_MM: Final = 2.2
"""How far round a corner nothing but the corner is printed: then the marker's edge begins."""


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture that was read. *image*: BGR, shape (h, w, 3). *name*: of its file."""

    name: str
    image: NDArray[np.uint8]

    @property
    def size(self) -> tuple[int, int]:
        """Wide and high, in pixels."""
        high, wide = self.image.shape[:2]
        return wide, high


def read_picture(path: Path) -> Picture:
    """Read a photo or a scan as its camera saw it, however it was held.

    Raises `PhotoError` if it cannot be read, or holds no picture that is known.
    """
    data = read_bounded(
        path,
        _MOST_BYTES,
        PhotoError,
        check="Check that you may open it.",
        too_large=("the picture is larger than 100 MiB", "Save it as JPEG."),
    )
    if picture_kind(data) == "HEIC":
        raise no_heic(os.fspath(path))
    # The library asks for it once, when it reads its first picture.
    os.environ.setdefault("OPENCV_IO_MAX_IMAGE_PIXELS", str(_MOST_PIXELS))
    cv = opencv()
    try:
        # Turned as its note says, the lens's middle would lie elsewhere on some photos.
        flags = cv.IMREAD_COLOR | cv.IMREAD_IGNORE_ORIENTATION
        image = cv.imdecode(np.frombuffer(data, np.uint8), flags) if data else None
    except cv.error:
        image = None
    if image is None or image.shape[0] * image.shape[1] > _MOST_PIXELS:
        raise PhotoError(
            "this is no picture that can be read",
            remedy="Save it as JPEG, PNG or TIFF of at most 120 megapixels.",
            source=os.fspath(path),
        )
    return Picture(path.name, image)


def sightings(picture: Picture, number: int) -> list[Sighting]:
    """The strips on a picture, to a part of a pixel; *number*: which picture it is."""
    cv = opencv()
    grey = cv.cvtColor(picture.image, cv.COLOR_BGR2GRAY)
    corners, ids = _markers(cv, grey)
    if ids is None:
        return []
    found = []
    shift = cards.corners()
    for name in cards.NAMES:
        own = [k for k, ident in enumerate(ids.ravel()) if ident in cards.markers(name)]
        if not own:
            continue
        detector = cv.aruco.CharucoDetector(cards.board(name))
        pixels, which, _, _ = detector.detectBoard(
            grey, markerCorners=[corners[k] for k in own], markerIds=ids[own]
        )
        if which is None or len(which) < _FEWEST_CORNERS:
            continue
        places = shift[which.ravel()]
        if len(np.unique(places[:, 1])) < cards.DOWN - 1:
            continue
        fine = _finer(cv, grey, places, pixels.reshape(-1, 2))
        found.append(Sighting(number, name, places, fine))
    return found


def _markers(cv: Any, grey: NDArray[np.uint8]) -> tuple[Sequence[Any], NDArray[np.int32] | None]:
    settings = cv.aruco.DetectorParameters()
    settings.minMarkerPerimeterRate = _SMALLEST_MARKER
    corners, ids, _ = cv.aruco.ArucoDetector(cards.dictionary(), settings).detectMarkers(grey)
    return corners, ids


def _finer(cv: Any, grey: NDArray[np.uint8], places: FloatArray, pixels: FloatArray) -> FloatArray:
    """The corners once more, from as much of the picture as shows nothing but them."""
    spans = np.ptp(pixels, axis=0), np.ptp(places, axis=0)
    scale = float(np.linalg.norm(spans[0]) / np.linalg.norm(spans[1]))
    half = int(np.clip(round(_CLEAR_MM * scale), 3, 20))
    rule = (cv.TERM_CRITERIA_EPS | cv.TERM_CRITERIA_MAX_ITER, 60, 1e-3)
    start = np.array(pixels[:, None], dtype=np.float32, order="C")
    fine = cv.cornerSubPix(grey, start, (half, half), (-1, -1), rule)
    refined: FloatArray = fine.reshape(-1, 2).astype(np.float64)
    return refined


def refuse_unseen(
    pictures: Sequence[Picture], seen: Sequence[Sighting], *, scans: bool = False
) -> None:
    """Refuse pictures that show too few strips, or that do not hang together.

    Raises `PhotoError`, naming the picture where it is one.
    """
    if not scans and len(pictures) < 2:
        raise PhotoError(
            f"{len(pictures)} photo: the lens shows only in two or more",
            remedy="Take one from straight above and others tilted by about a quarter of a right "
            "angle, and name them all. If it is the scan of a flatbed scanner, say so (--scan).",
        )
    fewest = _FEWEST_ON_SCAN if scans else _FEWEST_ON_PHOTO
    for number, picture in enumerate(pictures):
        names = [sighting.name for sighting in seen if sighting.picture == number]
        if len(names) < fewest:
            shown = f"strip {few(names)} alone" if len(names) == 1 else few(names) or "no strip"
            raise PhotoError(
                f"{shown} can be seen, and at least {fewest} are needed on each",
                remedy="Leave the picture out, or take it again: sharp, in even light, with the "
                "strips flat and whole. Strips are printed by: panelshift cards.",
                source=picture.name,
            )
    strips = sorted({sighting.name for sighting in seen})
    if not scans:
        twice = [s for s in strips if sum(sighting.name == s for sighting in seen) > 1]
        if len(twice) < FEWEST_STRIPS:
            raise PhotoError(
                f"{len(twice)} strips are seen on two photos or more ({few(twice) or 'none'}), "
                f"and at least {FEWEST_STRIPS} are needed",
                remedy="Lay six or more round the draft, some along it and some across, and take "
                "all of them in on each photo.",
            )
    joined, before = {0}, 0
    while len(joined) > before:
        before = len(joined)
        known = {sighting.name for sighting in seen if sighting.picture in joined}
        joined |= {sighting.picture for sighting in seen if sighting.name in known}
    for number, picture in enumerate(pictures):
        if number not in joined:
            raise PhotoError(
                f"it shows no strip that {pictures[0].name} or those joined to it show",
                remedy="Take another that shows strips of both, without moving anything.",
                source=picture.name,
            )


FEWEST_STRIPS: Final = 6
_FEWEST_ON_PHOTO: Final = 4
_FEWEST_ON_SCAN: Final = 1
