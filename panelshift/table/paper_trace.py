"""What the process does that traces a draft on paper: read what is asked for in a folder, and leave
there what came of it.

Imported by that process alone: it needs OpenCV and SciPy, which the page starts without.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

import numpy as np

from ..errors import PanelshiftError
from ..files import file_bytes, write_whole
from ..outline import Curve
from ..outline.crossing import crossings
from ..outline.pathtext import path_texts
from ..outline.planar import distance
from ..sources.paper.doubts import parse_measured
from ..sources.paper.followed import TracedPanel
from ..sources.paper.photos import see_paper
from ..sources.paper.rectified import PIXEL_MM, Rectified, opencv
from ..sources.paper.spots import Pointed
from ..sources.paper.tracing import Tracing, trace_paper
from ..sources.svg import drawing_svg
from ..units import trimmed
from .paper_work import (
    ABOUT,
    ABOVE,
    DRAWING,
    MOST_BYTES,
    OUTCOME,
    PICTURE,
    places_of,
    read_wish,
    short,
)

_MOST_PICTURE: Final = 500_000_000


def trace_in(home: Path, tell: Callable[[float], None]) -> None:
    """Trace what a folder asks for, and leave there what came of it, whole or not at all.

    *tell*: is told of each part of 1 that is done.
    """
    wish = read_wish(home)
    outcome: dict[str, Any] = {"key": wish.key, "seen_key": wish.seen_key}
    files: dict[Path, bytes] = {}
    try:
        seen = _kept(home, wish.seen_key)
        if seen is None:
            lengths = [parse_measured(text) for text in wish.lengths]
            paths = [home / name for name, _ in wish.photos]
            found = see_paper(paths, lengths, scaled=wish.scaled, scans=wish.scans, advance=tell)
            seen = found.rectified, found.trusted
            _keep(home, wish.seen_key, *seen)
        rectified, trusted = seen
        tracing = trace_paper(rectified, wish.pointed)
        outcome |= _plain(tracing, rectified, wish.pointed) | {"trusted": trusted}
        files = {home / DRAWING: drawing_svg(tracing.drawing), home / PICTURE: tracing.picture}
    except PanelshiftError as error:
        outcome["refused"] = {
            "problem": error.problem,
            "remedy": error.remedy,
            "source": os.path.basename(error.source),
            "element": error.element,
        }
    write_whole(files | {home / OUTCOME: json.dumps(outcome).encode()})


def _keep(home: Path, key: str, seen: Rectified, trusted: list[str]) -> None:
    """Keep the paper as seen from above: other lines on it are then traced at once."""
    cv2 = opencv()
    alpha = seen.valid.astype(np.uint8) * 255
    _, data = cv2.imencode(".png", np.dstack([seen.image, alpha]), [cv2.IMWRITE_PNG_COMPRESSION, 1])
    about = {
        "key": key,
        "uncertainty": seen.uncertainty,
        "photos": seen.photos,
        "beyond": seen.beyond,
        "trusted": trusted,
    }
    write_whole({home / ABOVE: data.tobytes(), home / ABOUT: json.dumps(about).encode()})


def _kept(home: Path, key: str) -> tuple[Rectified, list[str]] | None:
    try:
        about = json.loads(file_bytes(home / ABOUT, MOST_BYTES))
        if about["key"] != key:
            return None
        data = np.frombuffer(file_bytes(home / ABOVE, _MOST_PICTURE), np.uint8)
        image = opencv().imdecode(data, opencv().IMREAD_UNCHANGED)
        rectified = Rectified(
            np.ascontiguousarray(image[:, :, :3]),
            image[:, :, 3] > 0,
            PIXEL_MM,
            float(about["uncertainty"]),
            tuple(about["photos"]),
            places_of(about["beyond"]),
        )
        return rectified, list(about["trusted"])
    except (OSError, ValueError, TypeError, KeyError):
        return None


def _plain(tracing: Tracing, rectified: Rectified, pointed: Pointed) -> dict[str, Any]:
    high, wide = rectified.valid.shape
    return {
        "size": [wide * rectified.pixel, high * rectified.pixel],
        "panels": [_panel(panel, pointed) for panel in tracing.panels],
        "spots": [asdict(spot) for spot in tracing.spots],
    }


def _panel(panel: TracedPanel, pointed: Pointed) -> dict[str, Any]:
    low, high = panel.outline.bounds()
    drawn = [panel.outline, *panel.marks, *([] if panel.waist is None else [panel.waist])]
    known = repr([np.round(curve.flatten(0.05), 1).tolist() for curve in drawn])
    return {
        "mark": short(known + repr(panel.waist is None))[:12],
        "inside": _inside(panel.outline),
        "pointed": [
            ends for ends in pointed.waists if distance(panel.outline, np.mean(ends, axis=0)) == 0.0
        ],
        "size": (high - low).round(1).tolist(),
        "gore": panel.is_gore,
        "waist": None
        if panel.waist is None
        else _width(crossings(panel.outline, panel.waist).points),
        "lines": [
            mark.points_along([0.5 * mark.length])[0].round(1).tolist()
            for mark in panel.marks
            if len(crossings(panel.outline, mark)) == 2
        ],
        "path": path_texts([panel.outline])[0],
    }


def _inside(outline: Curve) -> list[float]:
    """A place in an outline: its centroid, or a middle on the level of that."""
    low, high = outline.bounds()
    y = float(outline.centroid[1])
    level = Curve.polyline([(low[0] - 9.0, y), (high[0] + 9.0, y)])
    met = np.sort(crossings(outline, level).points[:, 0])
    return [float(met[:2].mean()), y]


def _width(points: Any) -> str:
    return trimmed(float(np.hypot(*(points[-1] - points[0]))), 1)
