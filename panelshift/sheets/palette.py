"""One palette: the colour, width and dash of every kind of line, in print and on screen.

Style sheets of the local page and pictures below this room cannot import it; a test holds their
colours equal to these.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

LineKind = Literal[
    "cut-line",
    "fold-line",
    "stitch-line",
    "waistline",
    "level-lines",
    "notches",
    "grainlines",
    "bone-channels",
    "marks",
    "test-squares",
]


@dataclass(frozen=True)
class Style:
    """How a kind of line is drawn.

    *label*: What it is called in words. *width*: In mm. *colour*: As #rrggbb. *dash*: Lengths in mm
    of dashes and spaces; empty for a solid line.
    """

    label: str
    width: float
    colour: str
    dash: tuple[float, ...] = ()


BLACK: Final = "#000000"
PAPER: Final = "#ffffff"
INK: Final = "#1d2321"
"""Outlines and words of pictures."""

SOFT: Final = "#555555"
"""The draft's own words, and lines of no kind of their own."""

FAINT: Final = "#6b746f"
"""Lines that only help: 4.9 to 1 on white, so that it will do for words as well."""

REMARK: Final = "#92261c"
"""What is at fault."""

DOUBT: Final = "#9a6a00"
"""What is to be looked at, and need not be mended."""

CLOTH: Final = "#efe8da"
MIRRORED: Final = "#d5e3ee"
"""A piece that is cut mirrored, on cloth."""

PALE: Final = "#b0a8a0"
"""A body's sections between the named ones."""

LITTLE_TURN: Final = "#f6e9d2"
MUCH_TURN: Final = "#7a1f4b"
"""Ends of the scale of how far a panel turns for its width."""

CLASS_TINTS: Final = {"front": "#f3e6bd", "side": "#c4d8e6", "back": "#e2cbdc"}
"""Grounds of panels by their class."""

STYLES: Final[dict[LineKind, Style]] = {
    "cut-line": Style("cut line", 0.6, BLACK),
    "fold-line": Style("fold of the cloth", 0.4, BLACK, (12.0, 3.0)),
    "stitch-line": Style("stitch line", 0.4, "#14486b", (4.0, 1.6)),
    "waistline": Style("waistline", 0.4, "#7a1f4b", (9.0, 2.0, 1.5, 2.0)),
    "level-lines": Style("level lines", 0.3, "#7a1f4b", (2.0, 2.0)),
    "notches": Style("notches", 0.6, BLACK),
    "grainlines": Style("grainline", 0.4, "#333333"),
    "bone-channels": Style("bone channels", 0.3, "#4a5a2b", (1.0, 1.0)),
    "marks": Style("other marks", 0.3, SOFT),
    "test-squares": Style("test squares", 0.4, BLACK),
}
"""Told apart by dash and width as well as by colour, so that a black print will do."""

LAYER_STYLES: Final[tuple[Style, ...]] = (
    Style("", 0.2, "#0b6e4f"),
    Style("", 0.2, "#14486b", (6.0, 2.0)),
    Style("", 0.2, "#b3541e", (2.0, 1.5)),
    Style("", 0.2, "#7a1f4b", (8.0, 1.5, 1.5, 1.5)),
    Style("", 0.2, "#3d3d3d", (0.8, 1.2)),
    Style("", 0.2, "#6a4c93", (12.0, 1.5, 1.5, 1.5, 1.5, 1.5)),
)
"""For sheets on which several layers lie on top of each other; repeated if there are more."""


SIDE_STYLES: Final = {
    "A": Style("A", 0.35, "#1d5850"),
    "B": Style("B", 0.35, "#a3361f", (3.0, 1.5)),
}
"""Two corsets side by side; dashed as well as of another colour: they are told apart in grey."""

PAGE_FRAME: Final = Style("page frame", 0.15, FAINT)
TRIM_EDGE: Final = Style("edge to trim", 0.8, BLACK, (14.0, 3.0))
"""The clearest line on a page: the scissors follow it first."""

GLUE_LINE: Final = Style("glue line", 0.25, INK, (3.0, 1.5))
MATCHING_MARK: Final = Style("matching mark", 0.25, BLACK)
BLANK_PAGE: Final = Style("blank page", 0.15, FAINT, (1.0, 1.5))
"""What is drawn on pages round the sheet."""


def between(first: str, last: str, share: float) -> str:
    """The colour a share (0 to 1) of the way from one to another.

    Examples
    --------
    >>> between("#000000", "#ffffff", 0.5)
    '#7f7f7f'
    """
    ends = [[int(colour[k : k + 2], 16) for k in (1, 3, 5)] for colour in (first, last)]
    return "#" + "".join(f"{int(a + share * (b - a)):02x}" for a, b in zip(*ends, strict=True))


def wanting(share: float) -> str:
    """The colour of cloth that wants length or, negative, has too much: from -1 to 1.

    Examples
    --------
    >>> wanting(0.0), wanting(1.0), wanting(-2.0)
    ('#ffffff', '#7a1f4b', '#14486b')
    """
    end = MUCH_TURN if share > 0.0 else STYLES["stitch-line"].colour
    return between(PAPER, end, min(abs(share), 1.0))


def layer_styles(names: Sequence[str]) -> dict[str, Style]:
    """A style for each layer, told apart by dash as well as by colour.

    Where there are more layers than styles they come again with bolder lines and longer dashes.
    """
    styles = {}
    for k, name in enumerate(names):
        again, place = divmod(k, len(LAYER_STYLES))
        style = LAYER_STYLES[place]
        dash = tuple(part * (1.0 + 0.6 * again) for part in style.dash)
        styles[name] = Style(name, style.width * (1.0 + again), style.colour, dash)
    return styles
