"""A draft's paper as one picture in true size, and the library that pictures need."""

from __future__ import annotations

from dataclasses import dataclass
from types import ModuleType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ...errors import PhotoError

PIXEL_MM: Final = 0.2
"""Side of a pixel: a pencil line of 0.3 mm still covers more than one."""


@dataclass(frozen=True, eq=False)
class Rectified:
    """A paper seen from above in true size.

    *image*: RGB, shape (h, w, 3), y downwards; where the cards lay it is painted out. *valid*:
    shape (h, w), whether a photo shows the paper there and no card covers it. *pixel*: side of a
    pixel in mm; the middle of pixel (row, column) lies at ((column + 0.5) pixel, (row + 0.5)
    pixel). *uncertainty*: of a position in mm, 95 %, by the strip that was held out and by how far
    photos disagree. *photos*: names of the files. *beyond*: where closed lines lie on the table
    that the strips do not enclose, in mm as places on the image, which they are not on.
    """

    image: NDArray[np.uint8]
    valid: NDArray[np.bool_]
    pixel: float
    uncertainty: float
    photos: tuple[str, ...]
    beyond: tuple[tuple[float, float], ...] = ()


def opencv() -> ModuleType:
    """The package cv2, imported when first needed.

    Raises `PhotoError` if it is not installed.
    """
    try:
        import cv2
    except ImportError:
        raise PhotoError(
            "photos cannot be read: the package opencv-python-headless is missing",
            remedy="In your copy of the repository run: pip install '.[paper]'",
        ) from None
    module: ModuleType = cv2
    return module
