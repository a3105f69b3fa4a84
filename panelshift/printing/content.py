"""PDF content: lines and text as operators, in mm with y upwards, and faces cut down to it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from ..outline import Curve
from ..outline.bezier import LINE
from ..outline.pathtext import number
from ..sheets.lettering import BOLDER, FaceName, Subset, runs, subset, width
from ..sheets.palette import BLACK, PAPER, SOFT, STYLES, Style
from ..sheets.sheet import Label, Sheet, Stroke

_HALO_MM = 1.0


@dataclass
class Letters:
    """Collects the characters that a document needs, then gives their fonts."""

    used: dict[FaceName, set[str]] = field(default_factory=dict)

    def note(self, text: str) -> None:
        """Take note of a text that will be drawn."""
        for run in runs(text):
            self.used.setdefault(run.face, set()).update(run.text)

    def fonts(self) -> dict[FaceName, Subset]:
        """A subset of each face that is needed."""
        return {face: subset(face, sorted(used)) for face, used in sorted(self.used.items())}


@dataclass(frozen=True)
class Beam:
    """How a sheet is drawn to be thrown on cloth: thick lines in one colour on a background."""

    ink: str
    ground: str

    def style(self, style: Style) -> Style:
        """A style as thick as a projector can show, told apart by its dash."""
        dash = tuple(_BEAM * part for part in style.dash)
        return Style(style.label, _BEAM * style.width, self.ink, dash)


_BEAM: Final = 3.0
"""How much thicker lines are thrown than printed: 1.2 mm and more, about two pixels of a common
projector two metres above the table (from memory)."""

BEAMS: Final = {"light": Beam(BLACK, PAPER), "dark": Beam(PAPER, BLACK)}


class Content:
    """Builds a content stream, line by line.

    Parameters
    ----------
    height : float
        Height in mm of what is drawn: y is given downwards and written upwards.
    beam : Beam, optional
        How it is drawn for a projector.
    """

    def __init__(
        self, fonts: dict[FaceName, Subset], height: float, beam: Beam | None = None
    ) -> None:
        self._fonts = fonts
        self._height = height
        self._beam = beam
        self._lines: list[str] = []
        self.tags: list[tuple[str, str]] = []
        """Role and description of each stretch that has one, by its number on the page."""

    def data(self) -> bytes:
        """Return the content stream so far."""
        return ("\n".join(self._lines) + "\n").encode("ascii")

    def add(self, operators: str) -> None:
        """Add operators as they are."""
        self._lines.append(operators)

    @contextmanager
    def tagged(self, role: str, description: str = "") -> Iterator[None]:
        """Give what is drawn inside a role in the document's structure (ISO 32000-1, 14.7)."""
        self.add(f"/{role} <</MCID {len(self.tags)}>> BDC")
        self.tags.append((role, description))
        yield
        self.add("EMC")

    def begin_layer(self, name: str) -> None:
        """Open optional content (ISO 32000-1, 8.11.3.2) of a resource name."""
        self.add(f"/OC /{name} BDC")

    def end_layer(self) -> None:
        """Close it."""
        self.add("EMC")

    def style(self, style: Style) -> None:
        """Set line width, colour, dash, caps and joins."""
        if self._beam is not None:
            style = self._beam.style(style)
        caps = "0 J" if style.dash else "1 J"
        dash = " ".join(number(part) for part in style.dash)
        self.add(f"{number(style.width)} w {_colour(style.colour)} RG [{dash}] 0 d {caps} 1 j")

    def curve(self, curve: Curve) -> None:
        """Stroke a curve with native lines and cubics."""
        self._lines.append(self._path(curve) + (" s" if curve.closed else " S"))

    def _path(self, curve: Curve) -> str:
        # A hundredth of a millimetre is finer than any printer's dot.
        control = np.round(curve.control * (1.0, -1.0) + (0.0, self._height), 2) + 0.0
        words = [f"{_point(control[0, 0])} m"]
        last = len(curve) - 1
        for index, points in enumerate(control):
            if curve.degree[index] == LINE:
                if not (curve.closed and index == last):
                    words.append(f"{_point(points[3])} l")
            else:
                words.append(f"{_point(points[1])} {_point(points[2])} {_point(points[3])} c")
        return " ".join(words)

    def line(self, *points: tuple[float, float], closed: bool = False) -> None:
        """Stroke straight lines through points: quicker than a curve, for marks on a page."""
        words = " l ".join(f"{number(x)} {number(self._height - y)}" for x, y in points)
        self.add(words.replace(" l ", " m ", 1) + (" l s" if closed else " l S"))

    def ground(self, across: float, down: float, colour: str) -> None:
        """Fill the whole of what is drawn."""
        self.add(f"q {_colour(colour)} rg")
        self.box(0.0, 0.0, across, down, "f")
        self.add("Q")

    def box(self, x: float, y: float, across: float, down: float, operator: str = "S") -> None:
        """Draw a rectangle from its top left corner; operator S strokes, f fills."""
        low = self._height - y - down
        self.add(f"{number(x)} {number(low)} {number(across)} {number(down)} re {operator}")

    def place_form(self, name: str, x: float, y: float, form_height: float, scale: float) -> None:
        """Draw a form of given height in mm with its top left corner at a point."""
        low = self._height - y - form_height * scale
        self.add(f"q {scale:.6g} 0 0 {scale:.6g} {number(x)} {number(low)} cm /{name} Do Q")

    def text(self, label: Label, *, colour: str = BLACK, halo: bool = True) -> None:
        """Draw a label over a white edge, so that lines never run through its letters."""
        if self._beam is not None:
            colour, halo = self._beam.ink, False
        x, y = float(label.at[0]), self._height - float(label.at[1])
        cosine, sine = float(np.cos(label.angle)), -float(np.sin(label.angle))
        start = -0.5 * width(label.text) * label.size if label.align == "middle" else 0.0
        x, y = x + start * cosine, y + start * sine
        matrix = " ".join(
            f"{value + 0.0:.4f}".rstrip("0").rstrip(".") for value in (cosine, sine, -sine, cosine)
        )
        shown = " ".join(
            f"/{run.face} {number(label.size)} Tf <{self._codes(run.face, run.text)}> Tj"
            for run in runs(label.text)
        )
        # A hundredth of a millimetre does for words.
        where = f"{matrix} {number(round(x, 2))} {number(round(y, 2))} Tm"
        if halo:
            self.add(f"q 1 1 1 RG {number(_HALO_MM)} w 1 j [] 0 d BT 1 Tr {where} {shown} ET Q")
        fill = _colour(colour)
        if label.bold:
            edge = number(BOLDER * label.size)
            self.add(f"q {fill} rg {fill} RG {edge} w 1 j [] 0 d BT 2 Tr {where} {shown} ET Q")
        else:
            self.add(f"q {fill} rg BT 0 Tr {where} {shown} ET Q")

    def _codes(self, face: FaceName, text: str) -> str:
        codes = self._fonts[face].codes
        return "".join(f"{codes[character]:04X}" for character in text)


def _point(point: np.ndarray[tuple[int], np.dtype[np.float64]]) -> str:
    return f"{number(float(point[0]))} {number(float(point[1]))}"


def _colour(colour: str) -> str:
    parts = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    return " ".join(number(part) for part in parts)


@dataclass(frozen=True)
class PdfLayer:
    """A layer that viewers can switch: its resource name and what people read."""

    resource: str
    title: str


LABEL_LAYER = PdfLayer("labels", "labels")
SQUARES_LAYER = PdfLayer("testsquares", STYLES["test-squares"].label)
PAGE_LAYER = PdfLayer("pagemarks", "page marks")


def sheet_layers(sheet: Sheet) -> list[PdfLayer]:
    """PDF layers of a sheet: one for each kind of line, or each fabric, that it holds."""
    layers = [
        PdfLayer(f"fabric{place}", layer.name) for place, layer in enumerate(sheet.layers, start=1)
    ]
    kinds = {stroke.kind for stroke in sheet.strokes if not stroke.layer}
    layers += [
        PdfLayer(kind.replace("-", ""), style.label)
        for kind, style in STYLES.items()
        if kind in kinds
    ]
    return [*layers, LABEL_LAYER]


def draw_sheet(content: Content, sheet: Sheet) -> None:
    """Draw everything on a sheet, each kind of line inside its own PDF layer."""
    for place, layer in enumerate(sheet.layers, start=1):
        chosen = [stroke for stroke in sheet.strokes if stroke.layer == layer.name]
        _draw_fabric(content, f"fabric{place}", layer.style, chosen)
    for kind, style in STYLES.items():
        strokes = [s for s in sheet.strokes if s.kind == kind and not s.layer]
        if strokes:
            _draw(content, kind.replace("-", ""), style, strokes)
    content.begin_layer(LABEL_LAYER.resource)
    for label in sheet.labels:
        # Words that stand on panels are clear of all lines, but for those that were drafted.
        halo = label.drafted or not label.panel
        content.text(label, colour=SOFT if label.drafted else BLACK, halo=halo)
    content.end_layer()


def _draw(content: Content, layer: str, style: Style, strokes: Sequence[Stroke]) -> None:
    content.begin_layer(layer)
    content.add("q")
    content.style(style)
    for stroke in strokes:
        content.curve(stroke.curve)
    content.add("Q")
    content.end_layer()


def _draw_fabric(content: Content, layer: str, style: Style, strokes: Sequence[Stroke]) -> None:
    """One fabric of a nested sheet: its cut lines bolder than what is inside them."""
    content.begin_layer(layer)
    content.add("q")
    for bold in (True, False):
        chosen = [s for s in strokes if (s.kind == "cut-line") == bold]
        if chosen:
            scale = 1.5 if bold else 0.9
            content.style(Style(style.label, style.width * scale, style.colour, style.dash))
            for stroke in chosen:
                content.curve(stroke.curve)
    content.add("Q")
    content.end_layer()
