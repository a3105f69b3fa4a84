"""How near the second renderer's ink must come, and where it is known to draw otherwise.

In every case listed here the browser agrees with panelshift, or nothing is inked at all.
"""

from __future__ import annotations

from typing import Final

from .cases import CASES

INK_MM: Final = 0.01
"""One pixel of the pictures: a pixel is inked where the edge covers but a part of it."""

_REASONS: Final[dict[str, tuple[str, ...]]] = {
    "it does not follow CSS transforms": (
        *(name for name in CASES if name.startswith(("css-", "sheet-"))),
        "symbol-css-transform",
    ),
    "it takes no geometry from styles": (
        *(name for name in CASES if name.startswith("styled-")),
        "use-css-place",
        "page-style-size",
        "page-style-over-attribute",
    ),
    "it does not know the unit Q, or units in capitals": (
        "shape-units-more",
        "shape-upper-case-units",
        "page-q",
    ),
    "it clips, masks and leaves out what is transparent; clips are left alone here": (
        "nested-svg-clips-nothing-away",
        "nested-svg-units",
        "clipped",
        "masked",
        "transparent",
    ),
    "it places and sizes symbols by SVG 1.1": (
        "symbol-own-size",
        "symbol-own-place",
        "symbol-own-transform",
        "symbol-percent",
        "symbol-in-symbol",
    ),
    "it draws an svg of no width": ("nested-svg-zero",),
    "it does not decode references": ("use-percent-encoded",),
    "a tip thinner than a pixel is not inked": ("path-cusp", "path-smooth-cubic-many"),
}

OTHERWISE: Final[dict[str, str]] = {
    name: reason for reason, names in _REASONS.items() for name in names
}
"""Cases in which the second renderer disagrees with panelshift and the browser, and why."""
