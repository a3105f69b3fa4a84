"""The tracing over the paper, for the maker to approve: what is wrong shows at a glance."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from ...outline import FloatArray
from .followed import TracedPanel, contour
from .leftover import Kind, Leftover
from .rectified import Rectified, opencv
from .spots import Spot

_PX_PER_MM: Final = 2.5
_FINE: Final = 4
"""Binary digits of a pixel's fraction, as lines are drawn."""

_OUTLINE: Final = (0, 140, 60)
_WAIST: Final = (214, 0, 120)
_MARK: Final = (0, 120, 200)
_ALLOWANCE: Final = (120, 170, 230)
_FAULT: Final = (225, 30, 0)
_TOLD: Final = (240, 150, 0)

_LEFT: Final[dict[Kind, tuple[int, int, int]]] = {
    "doubt": _FAULT,
    "writing": _TOLD,
    "overshoot": _TOLD,
    "ruler": _TOLD,
    "struck": _TOLD,
    "inner": _MARK,
}


def approval_picture(
    rectified: Rectified,
    panels: Sequence[TracedPanel],
    spots: Sequence[Spot],
    left: Sequence[Leftover],
) -> bytes:
    """PNG: the paper made pale, outlines and numbers over it, every place that is told circled."""
    cv2 = opencv()
    rows, columns = rectified.valid.shape
    scale = _PX_PER_MM * rectified.pixel
    size = max(round(columns * scale), 1), max(round(rows * scale), 1)
    small = cv2.resize(rectified.image, size, interpolation=cv2.INTER_AREA)
    # In coarse steps: the grain of paper takes long to pack, and shows nothing.
    picture = (cv2.addWeighted(small, 0.45, small, 0.0, 0.55 * 255.0) >> 3) << 3
    for one in left:
        if one.kind in _LEFT:
            cells = np.rint(one.cells * _PX_PER_MM).astype(int)
            inside = ((cells >= 0) & (cells < size)).all(axis=1)
            picture[cells[inside, 1], cells[inside, 0]] = _LEFT[one.kind]
    for panel in panels:
        _put_panel(cv2, picture, rectified, panel)
    for number, panel in enumerate(panels, start=1):
        _write(cv2, picture, panel.middle - np.array([0.0, 30.0]), str(number), _OUTLINE, 2.0)
    for spot in spots:
        if spot.kind != "panel":
            colour = _FAULT if spot.remedy else _TOLD
            middle = tuple(round(v * _PX_PER_MM) for v in spot.place)
            cv2.circle(picture, middle, round(6 * _PX_PER_MM), colour, 2, cv2.LINE_AA)
        elif spot.remedy:
            _write(cv2, picture, np.array(spot.place), "?", _FAULT, 3.0)
    _, data = cv2.imencode(".png", picture[..., ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 4])
    return bytes(data)


def _put_panel(cv2: Any, picture: Any, rectified: Rectified, panel: TracedPanel) -> None:
    if panel.figure.outer is not None:
        ring = contour(panel.figure.outer, panel.figure.corner, 2.0 * rectified.pixel)
        _line(cv2, picture, ring, _ALLOWANCE, 1)
    for mark in panel.marks:
        _line(cv2, picture, mark.flatten(0.05), _MARK, 1)
    _line(cv2, picture, panel.outline.flatten(0.05), _OUTLINE, 2)
    if panel.waist is not None:
        _line(cv2, picture, panel.waist.flatten(0.05), _WAIST, 3)


def _line(
    cv2: Any, picture: Any, points: FloatArray, colour: tuple[int, int, int], width: int
) -> None:
    # The middle of a pixel is a whole number there.
    fine = np.rint((points * _PX_PER_MM - 0.5) * 2**_FINE).astype(np.int32)
    cv2.polylines(picture, [fine], False, colour, width, cv2.LINE_AA, _FINE)


def _write(
    cv2: Any, picture: Any, at: FloatArray, words: str, colour: tuple[int, int, int], size: float
) -> None:
    face = cv2.FONT_HERSHEY_SIMPLEX
    (width, height), _ = cv2.getTextSize(words, face, size, 3)
    x, y = np.rint(at * _PX_PER_MM).astype(int)
    cv2.putText(
        picture,
        words,
        (int(x - width // 2), int(y + height // 2)),
        face,
        size,
        colour,
        3,
        cv2.LINE_AA,
    )
