"""What a reader hands over: named curves and texts in millimetres, free of any file format;
and the ledger of what is to be said of them: left out, settled, to be looked at."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from ..errors import CurveError, PatternError
from ..outline import Curve, FloatArray
from ..outline.by_value import ByValue, read_only

Align = Literal["start", "middle", "end"]
"""Which part of a text stands at its point."""


@dataclass(frozen=True, slots=True)
class LineStyle:
    """How a line is painted.

    *colour*: as #rrggbb, or as written in the file where it is no plain colour; empty where no line
    is painted, as on a shape that is only filled, or nothing is known of it. *width*: in mm; None
    where no line is painted, or nothing is known of it. *dash*: lengths in mm of dashes and spaces
    by turns; empty for a solid line.
    """

    colour: str = ""
    width: float | None = None
    dash: tuple[float, ...] = ()

    def scaled(self, scale: float) -> LineStyle:
        """Return the style of a line that is drawn larger by a factor."""
        width = None if self.width is None else self.width * scale
        return LineStyle(self.colour, width, tuple(length * scale for length in self.dash))


def spaced(name: str) -> str:
    """Return a name in lower case with its words apart: ``WaistLine_2`` gives ``waist line 2``.

    Accents are left out: ``côté`` gives ``cote``.
    """
    if not name.isascii():
        name = "".join(
            c for c in unicodedata.normalize("NFKD", name) if not unicodedata.combining(c)
        )
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Za-z])(?=\d)|(?<=\d)(?=[A-Za-z])", " ", name)
    return re.sub(r"[^0-9a-z]+", " ", parted.lower()).strip()


@dataclass(frozen=True, eq=False)
class Shape(ByValue):
    """One drawn curve, in sheet coordinates (mm, y downwards).

    *curve*: A single unbroken curve; a path with several subpaths makes several shapes. *ident*:
    The element's id, or a description of its place in the file where it has none; unique in the
    drawing. *names*: What the element itself is called: id, label, title; may be empty. *groups*:
    Names of the groups it lies in, outermost first. *data*: The element's data attributes without
    the ``data-`` prefix. *classes*: The element's classes. They may say what kind of line it is, as
    names do. *element*: What `ident` would be without a number for the subpath, if it is one of
    several of its element; else empty. *clip*: ndarray, shape (2, 2), or None. Low and high corner
    in mm of the upright rectangle outside of which the drawing shows nothing of it. The curve
    itself is whole. None if there is none, or its clip has another form.
    """

    curve: Curve
    ident: str
    names: tuple[str, ...] = ()
    groups: tuple[str, ...] = ()
    data: Mapping[str, str] = field(default_factory=dict)
    classes: tuple[str, ...] = ()
    element: str = ""
    style: LineStyle = LineStyle()
    clip: FloatArray | None = None

    def scaled(self, scale: float) -> Shape:
        """Return the shape with all lengths multiplied by a factor.

        Raises `CurveError` if that carries its curve beyond 100 m.
        """
        return replace(
            self,
            curve=self.curve.scaled(scale),
            style=self.style.scaled(scale),
            clip=None if self.clip is None else self.clip * scale,
        )


@dataclass(frozen=True, eq=False)
class Text(ByValue):
    """One run of drawn text.

    Parameters
    ----------
    content : str
    anchor : ndarray, shape (2,)
        Point on the baseline, in sheet mm, at which the part named by `align` stands.
    size : float
        Font size in mm.
    angle : float
        Direction of the baseline in radians, from x towards y.
    ident : str
        As for `Shape`.
    groups : tuple of str
        As for `Shape`.
    align : {"start", "middle", "end"}
    bold : bool
    mirrored : bool
        Whether the letters are mirrored: their tops then lie on the other side of the baseline.
    """

    content: str
    anchor: FloatArray
    size: float
    angle: float
    ident: str
    groups: tuple[str, ...] = ()
    align: Align = "start"
    bold: bool = False
    mirrored: bool = False

    def __post_init__(self) -> None:
        read_only(self, "anchor")


@dataclass(frozen=True)
class LeftOut:
    """A drawn thing that takes no part in the pattern, and why."""

    ident: str
    reason: str


@dataclass(frozen=True, eq=False)
class Drawing(ByValue):
    """All that was read from one file.

    *shapes*, *texts*: In document order. *left_out*: What the reader could not use; nothing is
    dropped without a word. *warnings*: Doubts about the whole file, such as an unstated scale.
    *in_px*: Whether the file gives its size in px alone. It was then read at 96 px to the inch, as
    CSS has it, which not every program means. *source*: File name or other origin, for messages.
    *px_per_inch*: How many px to the inch such a file means by its program or its page's size, if
    that is another number; None if nothing tells. *shrunk*: Factor below 1 by which one and the
    same transform of nearly all lines draws them smaller than their own numbers: a converter made
    the page fit. None if there is none. *title*: What the drawing calls itself; may be empty.
    *page*: ndarray, shape (2, 2), or None. Low and high corner of its page in mm; None if its size
    is not stated. *notes*: How it was put together, if it came in several parts. *unit_taken*: The
    unit in which it was read, as `MM_PER_UNIT` has it, if the file states none; else empty.
    """

    shapes: tuple[Shape, ...]
    texts: tuple[Text, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    warnings: tuple[str, ...] = ()
    source: str = ""
    in_px: bool = False
    title: str = ""
    page: FloatArray | None = None
    px_per_inch: float | None = None
    shrunk: float | None = None
    notes: tuple[str, ...] = ()
    unit_taken: str = ""

    def scaled(self, scale: float) -> Drawing:
        """Return the drawing with all lengths multiplied by a factor.

        Raises `CurveError` if that carries a curve beyond 100 m, or the factor is no size.
        """
        if not 0.0 < scale < math.inf:
            raise CurveError(f"a drawing scaled by {scale:g}", remedy="Give a factor above 0.")
        return replace(
            self,
            shapes=tuple(shape.scaled(scale) for shape in self.shapes),
            texts=tuple(
                replace(text, anchor=text.anchor * scale, size=text.size * scale)
                for text in self.texts
            ),
            page=None if self.page is None else self.page * scale,
            # Whoever says by how much it is to be larger has looked at its size.
            unit_taken="",
        )


RemarkKind = Literal["left out", "note", "warning", "fault"]

CODES: Final[dict[str, str]] = {
    "file": "the drawing file itself is in doubt, such as its scale",
    "pages-joined": "how the pages of a tiled drawing were put together",
    "shrunk-page": "all lines are drawn a little smaller than their own numbers say",
    "reduced": "words on the drawing, or a scale bar, speak of another size than it has",
    "not-read": "the reader of the file could not use it",
    "hatching": "parallel lines at equal distances",
    "copy": "drawn twice, one line on top of the other",
    "dashes-joined": "short pieces in a row are one dashed line",
    "speck": "a stray line too short to mean anything",
    "joined": "an outline was joined from several pieces, or a line on a panel was",
    "waist-marks": "a waistline was drawn between the marks at a panel's sides",
    "waistline-alone": "a line was taken as the waistline, being the only one across",
    "waistline-unused": "a waistline that crosses no panel, or lies on another",
    "level-unused": "a line is called after a level, and does not run across its panel",
    "level-twice": "two lines on a panel are called after one level",
    "net-outline-by-place": "which of two outlines is the net one was told by their places",
    "allowance-drawn": "the allowance that is drawn in was taken off",
    "several-outlines": "more than two outlines lie round each other: several sizes, perhaps",
    "other-size": "of another size than the one asked for",
    "seam-allowance": "an outline round another is its seam allowance",
    "frame": "an outline round panels is a frame",
    "mark-inside": "an outline inside another is taken as a mark on it",
    "too-small": "crossed by a waistline, but far too small for a panel",
    "open-outline": "an open line beside the panels may be a piece of an outline",
    "upright": "by which lines it was told what is upright",
    "not-level": (
        "a waistline and another level line differ in direction: the waistline is taken as level"
    ),
    "waists-apart": "the waistlines of two panels do not meet on their seam",
    "gore": "where a gore stands, and what says its upright",
    "gore-uneven": "a gore's tip or level line does not meet those of the panels beside it",
    "slit-alone": "a line is called a slit, and no gore is set in it",
    "pieces": "a panel is made of pieces that stand on each other",
    "split-line": "on which panels a line divides the layers that are split at it",
    "shared-edges": "several panels seem to be drawn as one, with lines that they share",
    "no-waistline": "it looks like a panel, but no waistline crosses it",
    "short-panel": "it looks like a panel, but is far shorter than the others",
    "cut-off": "an outline runs along or off the edge of the page, or of its clip",
    "left-out": "the maker asked to leave it out",
    "seam-goes-on": "a seam ends at a bend, beyond which both its outlines run on alike",
    "bent-corner": "a side edge ends at a gentle bend, or may",
    "top-by-words": "which end of a panel is its top was told by the words on it",
    "top-by-levels": "panels lie upside down on the sheet, as their named levels tell",
    "top-taken": "which end of a panel is its top was taken from other panels, or from the sheet",
    "lies-sideways": "which end of a panel is its top was told from its place alone",
    "named-by-words": "panels have the names that are written on them",
    "order-taken": "the order of the panels, or of those between the ends, is that on the sheet",
    "order": "how the order of the panels was told, or where their fronts are",
    "order-doubted": "names of panels speak against the order that was taken",
    "halves": "how it was told whether one half or both are drawn",
    "halves-weak": "little tells whether one half or both are drawn",
    "halves-doubted": "some evidence speaks against what was taken, one half or both",
    "whole-front": "the panel at the centre front may be drawn whole beside halves",
    "set-aside": "its name says that it is no part of a panel",
    "nowhere": "it lies on no panel",
    "scale-unchecked": "nothing was stated that would tell a wrong scale",
    "outline-unchecked": "nothing was stated that would tell a wrong net outline",
    "altered": "the draft was altered after a fitting, before anything was made of it",
}
"""Codes of remarks, which stay the same from release to release, and what each is about."""


@dataclass(frozen=True)
class Remark:
    """One thing said of a drawing.

    *kind*: a drawn thing that takes no part; how a doubtful point was settled; what the maker
    should look at; what must be mended before anything is cut. *code*: one of `CODES`. *words*: for
    people. Of a thing left out: why. *elements*: ids of what it is about; of a thing left out that
    one, or the first of several. *remedy*: of a fault: what to do about it.
    """

    kind: RemarkKind
    code: str
    words: str
    elements: tuple[str, ...] = ()
    remedy: str = ""


def refusal(remarks: Iterable[Remark]) -> PatternError | None:
    """The first fault as an error that says how many more there are; None if there is none."""
    faults = [remark for remark in remarks if remark.kind == "fault"]
    if not faults:
        return None
    more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
    element = next(iter(faults[0].elements), "")
    return PatternError(
        f"{faults[0].words.removeprefix(f'{element}: ')}{more}",
        remedy=faults[0].remedy,
        element=element,
        key="size" if faults[0].code == "several-outlines" else "",
    )


@dataclass(frozen=True)
class Ledger:
    """The remarks of one drawing, in the order in which they were made."""

    remarks: list[Remark] = field(default_factory=list)

    def leave_out(self, code: str, why: str, *elements: str) -> None:
        """Say that a drawn thing takes no part."""
        self.remarks.append(Remark("left out", code, why, elements))

    def note(self, code: str, words: str, *elements: str) -> None:
        """Say how a doubtful point was settled."""
        self.remarks.append(Remark("note", code, words, elements))

    def fault(self, code: str, words: str, *elements: str, remedy: str) -> None:
        """Say what must be mended before anything is cut."""
        self.remarks.append(Remark("fault", code, words, elements, remedy))

    def warn(self, code: str, words: str, *elements: str) -> None:
        """Say what the maker should look at."""
        self.remarks.append(Remark("warning", code, words, elements))
