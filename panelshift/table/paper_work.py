"""A draft on paper, until it is a drawing: photos beside the job, and what the maker said of them.

All of it lies in a folder of its own, so that it is there after a restart.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import math
import os
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from ..errors import JobError, OutputError, PhotoError
from ..files import file_bytes, safe_name, write_whole
from ..sources.drawings import no_heic, picture_kind
from ..sources.paper.spots import Place, Pointed

HOME: Final = ".panelshift-paper"
MOST_PHOTOS: Final = 8
"""All are held at once while the paper is seen from above: 60 MB each, of 12 MP."""

MOST_PHOTO_BYTES: Final = 240 * 1024**2
"""Of all that is dropped at once."""

_MOST_POINTED: Final = 200
MOST_BYTES: Final = 4_000_000

_WISH = "paper.json"
OUTCOME, DRAWING, PICTURE = "outcome.json", "drawing.svg", "tracing.png"


ABOVE, ABOUT = "above.png", "above.json"
_OWN: Final = (_WISH, OUTCOME, DRAWING, PICTURE, ABOVE, ABOUT)
_COPY: Final = re.compile(r"[a-z0-9-]+-[0-9a-f]{4}\.(?:png|jpeg|tiff|gif|bmp|webp)")
"""Names that photos are kept under."""


@dataclass(frozen=True)
class PaperWish:
    """What the maker gave: *photos*, each a file's name and what its content is known by; *lengths*
    as they were typed; and what was pointed at and *approved* in the tracing, panels by what they
    are known by. *used*: the pattern that the drawing became."""

    photos: tuple[tuple[str, str], ...] = ()
    lengths: tuple[str, ...] = ()
    scans: bool = False
    scaled: bool = False
    pointed: Pointed = field(default_factory=Pointed)
    approved: tuple[str, ...] = ()
    used: str = ""

    @property
    def seen_key(self) -> str:
        """Changes when the paper has to be seen from above anew."""
        return short(repr((self.photos, self.lengths, self.scans, self.scaled)))

    @property
    def key(self) -> str:
        """Changes when the lines have to be traced anew."""
        return short(self.seen_key + repr(self.pointed))


def short(text: str) -> str:
    """What a text is known by."""
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()[:16]


def read_wish(home: Path) -> PaperWish:
    """What a folder holds of it; nothing if it is missing or damaged."""
    try:
        data = json.loads(file_bytes(home / _WISH, MOST_BYTES))
        pointed = data["pointed"]
        return PaperWish(
            tuple((_plain_name(name), str(known)) for name, known in data["photos"]),
            tuple(str(text) for text in data["lengths"]),
            bool(data["scans"]),
            bool(data["scaled"]),
            Pointed(
                places_of(pointed["struck"]),
                places_of(pointed["left_out"]),
                tuple(places_of(ends) for ends in pointed["waists"]),
                places_of(pointed["gores"]),
            ),
            tuple(str(mark) for mark in data["approved"]),
            str(data["used"]),
        )
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return PaperWish()


def _plain_name(name: str) -> str:
    if os.path.basename(name) != name or name.startswith("."):
        raise ValueError(name)
    return name


def places_of(data: Sequence[Sequence[float]]) -> tuple[Place, ...]:
    """Places as a file holds them.

    Raises `ValueError` or `TypeError` if it holds none.
    """
    found = tuple((float(x), float(y)) for x, y in data)
    if not all(map(math.isfinite, sum(found, ()))):
        raise ValueError(data)
    return found


def write_wish(home: Path, wish: PaperWish, photos: Sequence[tuple[str, bytes]] = ()) -> None:
    """Keep it, with the photos that are new.

    Raises `OutputError` if it cannot be written, or something else is in its place.
    """
    if home.is_symlink() or (home.exists() and not home.is_dir()):
        raise OutputError(
            f"{HOME} is in the way: it is no folder",
            remedy="Move it to another folder; the photos of a draft are kept there.",
            source=str(home),
        )
    files = {home / name: content for name, content in photos}
    write_whole(files | {home / _WISH: (json.dumps(asdict(wish)) + "\n").encode()})


def with_photos(
    wish: PaperWish, given: Sequence[tuple[str, bytes]]
) -> tuple[PaperWish, list[tuple[str, bytes]]]:
    """The wish with more photos, and which of them are new, by the names they are kept under.

    Raises `PhotoError` if one is no picture, or there are too many.
    """
    photos, new = list(wish.photos), list[tuple[str, bytes]]()
    for uploaded, content in given:
        kind = picture_kind(content)
        if kind == "HEIC":
            raise no_heic(f"{uploaded:.80}")
        if not kind:
            raise PhotoError(
                "this is no picture",
                remedy="Choose photos or scans alone: JPEG, PNG or TIFF.",
                source=f"{uploaded:.80}",
            )
        known = hashlib.sha256(content).hexdigest()[:16]
        if any(known == other for _, other in photos):
            continue
        stem = safe_name(uploaded.replace("\\", "/").rpartition("/")[2].rpartition(".")[0])[:40]
        # Part of what it is known by: photos from two cameras may be called alike.
        name = f"{stem}-{known[:4]}.{kind.lower()}"
        photos.append((name, known))
        new.append((name, content))
    if len(photos) > MOST_PHOTOS:
        raise PhotoError(
            f"{len(photos)} pictures are too many at once",
            remedy=f"Four photos are enough; take out some, so that no more than {MOST_PHOTOS} are "
            "left.",
        )
    return replace(wish, photos=tuple(photos), approved=(), used="", pointed=Pointed()), new


def changed_pointed(wish: PaperWish, kind: str, places: tuple[Any, ...]) -> PaperWish:
    """The wish with other places pointed at. *kind*: a field of `Pointed`.

    Raises `JobError` if there are too many.
    """
    if len(places) > _MOST_POINTED:
        raise JobError(
            f"more than {_MOST_POINTED} places are pointed at",
            remedy="Rub out what does not count, and photograph the paper again.",
        )
    return replace(wish, pointed=replace(wish.pointed, **{kind: places}), used="")


def read_outcome(home: Path) -> dict[str, Any] | None:
    """What came of the last tracing; None if there is nothing, or it is damaged."""
    try:
        data = json.loads(file_bytes(home / OUTCOME, MOST_BYTES))
        return data if isinstance(data, dict) and "key" in data else None
    except (OSError, ValueError, RecursionError):
        return None


def tidy(home: Path, wish: PaperWish) -> None:
    """Remove what was kept of photos that are taken out: copies alone, and files of this page's.

    Nothing of it is left where there are none.
    """
    if home.is_symlink() or not (home / _WISH).is_file():
        return
    kept = {name for name, _ in wish.photos}
    for path in home.iterdir():
        own = _COPY.fullmatch(path.name) or (not kept and path.name in _OWN)
        # What a process that was stopped had begun to write.
        begun = path.name.startswith(".") and path.name[1:].rpartition(".")[0] in _OWN
        if (own or begun) and path.name not in kept:
            path.unlink(missing_ok=True)
    if not kept:
        with contextlib.suppress(OSError):
            home.rmdir()
