"""What the content of a PDF draws: lines and texts under their matrices, styles and layers.

Section numbers are those of ISO 32000-1.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import pikepdf
from pikepdf import Array, Dictionary, Name, Object, Stream

from ...errors import PdfError
from ...pattern.drawing import LineStyle
from ..affine import Affine
from ..outlines import Outline
from .graphics import (
    Box,
    GraphicsState,
    Painted,
    Said,
    Subpaths,
    floats,
    hex_colour,
    holds,
    upright,
    within,
)
from .letters import Font
from .opening import AGAIN, DAMAGE, Layers, numbers, reason_of, unpacked

MOST_OPERATORS: Final = 2_000_000
"""Operators in a file at most, forms counted each time that they are drawn."""

_DEEPEST: Final = 24
"""Forms in forms, and states that are kept, at most."""

_DEVICES: Final = frozenset(("/DeviceGray", "/DeviceRGB", "/DeviceCMYK", "/CalGray", "/CalRGB"))


@dataclass
class Walk:
    """Walks over contents and gathers what they draw.

    *left*: what was not read, with how many of it.
    """

    layers: Layers
    drawn: list[Painted] = field(default_factory=list)
    said: list[Said] = field(default_factory=list)
    left: dict[str, int] = field(default_factory=dict)
    count: int = 0
    paths: int = 0
    _parsed: dict[Any, list[Any]] = field(default_factory=dict)
    _fonts: dict[Any, Font] = field(default_factory=dict)

    def page(self, content: bytes, resources: Any, to_mm: Affine, clip: Box) -> None:
        """Walk over the content of a page."""
        self.paths = 0
        instructions = _instructions(content)
        _Pass(self, GraphicsState(to_mm, clip), resources, (), "", 0).run(instructions)

    def note(self, note: Object, look: Object, to_mm: Affine, clip: Box) -> None:
        """Walk over what an annotation looks like (algorithm 8.1 in 12.5.5)."""
        box = numbers(look.get("/BBox", ()), 4, "the frame of a note")
        matrix = matrix_of(look)
        corners = [matrix.point(x, y) for x in box[0::2] for y in box[1::2]]
        low = [min(c[k] for c in corners) for k in (0, 1)]
        high = [max(c[k] for c in corners) for k in (0, 1)]
        a, b, c, d = numbers(note.get("/Rect", ()), 4, "the place of a note")
        goal = min(a, c), min(b, d), max(a, c), max(b, d)
        if min(high[0] - low[0], high[1] - low[1]) <= 0.0:
            return
        sx = (goal[2] - goal[0]) / (high[0] - low[0])
        sy = (goal[3] - goal[1]) / (high[1] - low[1])
        fit = Affine(sx, 0.0, 0.0, sy, goal[0] - low[0] * sx, goal[1] - low[1] * sy)
        hidden = "" if self.layers.shown(note.get("/OC")) else self.layers.name(note.get("/OC"))
        one = _Pass(self, GraphicsState(to_mm @ fit, clip), Dictionary(), ("notes",), hidden, 0)
        one.form(look)

    def instructions(self, form: Object) -> list[Any]:
        """The operators of a form, parsed once."""
        key = form.objgen
        if key not in self._parsed or key == (0, 0):
            self._parsed[key] = _instructions(unpacked(form))
        return self._parsed[key]

    def font(self, font: Object) -> Font:
        """A font, read once."""
        key = font.objgen
        if key not in self._fonts or key == (0, 0):
            try:
                self._fonts[key] = Font(font)
            except (TypeError, ValueError, KeyError, IndexError, OverflowError) as error:
                raise PdfError(f"a font in it is damaged: {error}", remedy=AGAIN) from None
        return self._fonts[key]

    def leave(self, what: str) -> None:
        """Count something that is not read."""
        self.left[what] = self.left.get(what, 0) + 1


def _instructions(content: bytes) -> list[Any]:
    # The file has to outlive its stream, so it needs a name.
    holder = pikepdf.Pdf.new()
    stream = pikepdf.Stream(holder, content)
    try:
        with warnings.catch_warnings():
            # An end within an operator is only warned of.
            warnings.simplefilter("error")
            return [(str(i.operator), i.operands) for i in pikepdf.parse_content_stream(stream)]
    except DAMAGE as error:
        raise PdfError(f"its content is damaged: {reason_of(error)}", remedy=AGAIN) from None


def matrix_of(form: Object) -> Affine:
    """The matrix of a form (8.10)."""
    matrix = form.get("/Matrix")
    return Affine() if matrix is None else Affine(*numbers(matrix, 6, "the matrix of a form"))


class _Pass:
    """One content stream with its resources."""

    def __init__(
        self,
        walk: Walk,
        state: GraphicsState,
        resources: Any,
        groups: tuple[str, ...],
        hidden: str,
        depth: int,
    ) -> None:
        self.walk = walk
        self.state = state
        self.resources = resources if isinstance(resources, Dictionary) else Dictionary()
        self.marked: list[tuple[tuple[str, ...], str]] = [(groups, hidden)]
        self.depth = depth
        self.kept: list[GraphicsState] = []
        self.path = Subpaths()
        self.clipping = False
        self.text_matrix = self.line_matrix = Affine()

    def run(self, instructions: Sequence[tuple[str, Any]]) -> None:
        """Carry out operators in turn."""
        self.walk.count += len(instructions)
        if self.walk.count > MOST_OPERATORS:
            raise PdfError(
                "it draws more than any pattern does",
                remedy="Save the pattern alone, without pictures, hatching and traced noise.",
            )
        for operator, operands in instructions:
            act = _ACTS.get(operator)
            if act is None:
                continue
            try:
                act(self, operands)
            except (TypeError, ValueError, IndexError, OverflowError, KeyError) as error:
                if operator == "Do" and isinstance(error, PdfError):
                    # Of a form within, which has its own words, once.
                    raise
                # Only of values are the words our own: of types each release of pikepdf says it
                # otherwise.
                why = error if isinstance(error, ValueError) else "it takes other kinds of values"
                raise PdfError(
                    f"the operator {operator} in its content makes no sense: {why}", remedy=AGAIN
                ) from None

    # -- state ------------------------------------------------------------------------

    def keep(self, _: Any) -> None:
        if len(self.kept) > 10_000:
            raise ValueError("too many states are kept")
        self.kept.append(self.state)

    def restore(self, _: Any) -> None:
        # Files that restore once too often are common, and viewers pass over it.
        if self.kept:
            self.state = self.kept.pop()

    def concat(self, operands: Any) -> None:
        matrix = Affine(*floats(operands, 6))
        self.state = replace(self.state, ctm=self.state.ctm @ matrix)

    def width(self, operands: Any) -> None:
        self.state = replace(self.state, width=floats(operands, 1)[0])

    def dash(self, operands: Any) -> None:
        parts = tuple(float(part) for part in operands[0])
        # An odd number of parts is gone through twice (8.4.3.6).
        parts = parts * 2 if len(parts) % 2 else parts
        self.state = replace(self.state, dash=parts if sum(parts) > 0.0 else ())

    def parameters(self, operands: Any) -> None:
        found = self.resource("/ExtGState", operands[0])
        if not isinstance(found, Dictionary):
            return
        if "/LW" in found:
            self.width([found["/LW"]])
        if "/D" in found:
            self.dash(list(found["/D"]))
        if "/Font" in found:
            font, size = found["/Font"]
            self.state = replace(self.state, font=self.walk.font(font), size=float(size))

    def resource(self, kind: str, name: Any) -> Any:
        table = self.resources.get(kind)
        return table.get(str(name)) if isinstance(table, Dictionary) else None

    # -- colour -----------------------------------------------------------------------

    def device(self, operands: Any, count: int) -> None:
        self.state = replace(self.state, colour=hex_colour(floats(operands, count)), space=None)

    def space(self, operands: Any) -> None:
        name = operands[0]
        space = name if str(name) in _DEVICES else self.resource("/ColorSpace", name)
        self.state = replace(self.state, space=space, colour="#000000")

    def paint(self, operands: Any) -> None:
        parts = [float(part) for part in operands if not isinstance(part, Name)]
        space, kind = self.state.space, ""
        if isinstance(space, Array) and len(space):
            kind = str(space[0])
        if kind in ("/Separation", "/DeviceN"):
            names = [space[1]] if kind == "/Separation" else list(space[1])
            said = " ".join(
                f"{str(name)[1:]} {part:g}" for name, part in zip(names, parts, strict=False)
            )
            self.state = replace(self.state, colour=said)
        elif len(parts) in (1, 3, 4) and kind not in ("/Indexed", "/Lab", "/Pattern"):
            self.state = replace(self.state, colour=hex_colour(parts))
        else:
            self.state = replace(self.state, colour=" ".join(f"{part:g}" for part in parts))

    # -- paths ------------------------------------------------------------------------

    def move(self, operands: Any) -> None:
        self.path.move(*floats(operands, 2))

    def line(self, operands: Any) -> None:
        self.path.line(*floats(operands, 2))

    def curve(self, operands: Any) -> None:
        self.path.curve(*floats(operands, 6))

    def curve_v(self, operands: Any) -> None:
        self.path.curve(*self.path.pen, *floats(operands, 4))

    def curve_y(self, operands: Any) -> None:
        values = floats(operands, 4)
        self.path.curve(*values, *values[2:])

    def close(self, _: Any = None) -> None:
        self.path.close()

    def rectangle(self, operands: Any) -> None:
        self.path.rectangle(*floats(operands, 4))

    def stroke(self, _: Any) -> None:
        self.finish(self.state.line())

    def close_stroke(self, _: Any) -> None:
        self.close()
        self.finish(self.state.line())

    def fill(self, _: Any) -> None:
        self.finish(LineStyle())

    def clip(self, _: Any) -> None:
        self.clipping = True

    def finish(self, style: LineStyle | None) -> None:
        """End the path; without a style nothing of it is painted."""
        outlines = self.path.taken()
        if style is not None and outlines:
            groups, hidden = self.marked[-1]
            self.walk.paths += 1
            for outline in outlines:
                # What is filled alone is closed whether or not it says so (8.5.3.3).
                if style.width is None and not outline.closed:
                    outline = outline._replace(closed=True)
                self.walk.drawn.append(
                    Painted(
                        outline,
                        self.state.ctm,
                        style,
                        groups,
                        self.state.clip,
                        hidden,
                        self.walk.paths,
                    )
                )
        if self.clipping:
            self.clipping = False
            self.state = replace(
                self.state, clip=within(self.state.clip, upright(outlines, self.state.ctm))
            )

    # -- what is entered ----------------------------------------------------------------

    def enter(self, operands: Any) -> None:
        found = self.resource("/XObject", operands[0])
        if not isinstance(found, Stream):
            return
        if found.get("/Subtype") == Name.Image:
            self.image()
        elif found.get("/Subtype") == Name.Form:
            self.form(found)

    def image(self, _: Any = None) -> None:
        self.walk.leave("a picture is not read")

    def shading(self, _: Any) -> None:
        self.walk.leave("a shading is not read")

    def form(self, form: Object) -> None:
        """Draw a form (8.10.1): its matrix, its frame, its content with its own resources."""
        if self.depth >= _DEEPEST:
            raise PdfError("forms lie in forms without end", remedy=AGAIN)
        groups, hidden = self.marked[-1]
        content = form.get("/OC")
        if content is not None:
            groups, hidden = self.inside(content)
        ctm = self.state.ctm @ matrix_of(form)
        box = numbers(form.get("/BBox", ()), 4, "the frame of a form")
        frame = Outline.through([(x, y) for x in box[0::2] for y in box[1::2]], closed=True)
        clip = within(self.state.clip, upright([frame], ctm, any_order=True))
        state = replace(self.state, ctm=ctm, clip=clip)
        resources = form.get("/Resources", self.resources)
        inner = _Pass(self.walk, state, resources, groups, hidden, self.depth + 1)
        inner.run(self.walk.instructions(form))

    def mark(self, operands: Any) -> None:
        """Begin marked content (14.6); optional content names a layer."""
        here = self.marked[-1]
        if len(operands) == 2 and str(operands[0]) == "/OC":
            content = operands[1]
            if isinstance(content, Name):
                content = self.resource("/Properties", content)
            here = self.inside(content)
        self.marked.append(here)

    def unmark(self, _: Any) -> None:
        if len(self.marked) > 1:
            self.marked.pop()

    def inside(self, content: Any) -> tuple[tuple[str, ...], str]:
        """Groups and hiding layer inside optional content."""
        groups, hidden = self.marked[-1]
        name = self.walk.layers.name(content)
        if not hidden and not self.walk.layers.shown(content):
            hidden = name or "without a name"
        return (*groups, name) if name else groups, hidden

    # -- texts --------------------------------------------------------------------------

    def begin_text(self, _: Any) -> None:
        self.text_matrix = self.line_matrix = Affine()

    def set_font(self, operands: Any) -> None:
        font = self.resource("/Font", operands[0])
        found = self.walk.font(font) if isinstance(font, Dictionary) else None
        self.state = replace(self.state, font=found, size=float(operands[1]))

    def letter_space(self, operands: Any) -> None:
        self.state = replace(self.state, letter_space=floats(operands, 1)[0])

    def word_space(self, operands: Any) -> None:
        self.state = replace(self.state, word_space=floats(operands, 1)[0])

    def stretch(self, operands: Any) -> None:
        self.state = replace(self.state, stretch=0.01 * floats(operands, 1)[0])

    def leading(self, operands: Any) -> None:
        self.state = replace(self.state, leading=floats(operands, 1)[0])

    def rise(self, operands: Any) -> None:
        self.state = replace(self.state, rise=floats(operands, 1)[0])

    def mode(self, operands: Any) -> None:
        self.state = replace(self.state, mode=int(floats(operands, 1)[0]))

    def set_matrix(self, operands: Any) -> None:
        self.text_matrix = self.line_matrix = Affine(*floats(operands, 6))

    def next_line(self, operands: Any) -> None:
        x, y = floats(operands, 2)
        self.line_matrix = self.line_matrix @ Affine.translation(x, y)
        self.text_matrix = self.line_matrix

    def next_leading(self, operands: Any) -> None:
        self.state = replace(self.state, leading=-floats(operands, 2)[1])
        self.next_line(operands)

    def next_plain(self, _: Any = None) -> None:
        self.next_line((0.0, -self.state.leading))

    def show(self, operands: Any) -> None:
        state = self.state
        if state.font is None:
            return
        data, advance, words = bytes(operands[0]), 0.0, ""
        for text, width, is_space in state.font.shown(data):
            words += text
            step = width * state.size + state.letter_space + (state.word_space if is_space else 0.0)
            advance += step * state.stretch
        whole = state.ctm @ self.text_matrix
        start, end = whole.point(0.0, state.rise), whole.point(advance, state.rise)
        self.text_matrix = self.text_matrix @ Affine.translation(advance, 0.0)
        along = math.hypot(whole.a, whole.b)
        if state.mode in _UNSEEN_MODES:
            self.walk.leave("text that is not painted is not read")
        elif words and along > 0.0 and state.size and holds(state.clip, start):
            groups, hidden = self.marked[-1]
            size = abs(state.size * whole.determinant) / along
            angle = math.atan2(whole.b, whole.a)
            begin, stop = complex(*start), complex(*end)
            # Sheets have y downwards: letters as they are written turn with the page.
            mirrored, bold = whole.determinant > 0.0, state.font.bold
            self.walk.said.append(
                Said(words, begin, stop, size, angle, bold, groups, hidden, mirrored)
            )
        elif data and not words:
            self.walk.leave("text whose letters have no names is not read")

    def show_list(self, operands: Any) -> None:
        for part in operands[0]:
            if isinstance(part, (int, float)) or not isinstance(part, (bytes, pikepdf.String)):
                shift = -float(part) * 1e-3 * self.state.size * self.state.stretch
                self.text_matrix = self.text_matrix @ Affine.translation(shift, 0.0)
            else:
                self.show([part])

    def show_next(self, operands: Any) -> None:
        self.next_plain()
        self.show(operands)

    def show_spaced(self, operands: Any) -> None:
        word, letter = floats(operands[:2], 2)
        self.state = replace(self.state, word_space=word, letter_space=letter)
        self.show_next(operands[2:])


_UNSEEN_MODES: Final = (3, 7)
"""Text that is neither filled nor stroked (9.3.6)."""

_ACTS: Final[dict[str, Callable[[_Pass, Any], None]]] = {
    "q": _Pass.keep,
    "Q": _Pass.restore,
    "cm": _Pass.concat,
    "w": _Pass.width,
    "d": _Pass.dash,
    "gs": _Pass.parameters,
    "G": lambda p, o: p.device(o, 1),
    "RG": lambda p, o: p.device(o, 3),
    "K": lambda p, o: p.device(o, 4),
    "CS": _Pass.space,
    "SC": _Pass.paint,
    "SCN": _Pass.paint,
    "m": _Pass.move,
    "l": _Pass.line,
    "c": _Pass.curve,
    "v": _Pass.curve_v,
    "y": _Pass.curve_y,
    "h": _Pass.close,
    "re": _Pass.rectangle,
    "S": _Pass.stroke,
    "s": _Pass.close_stroke,
    "f": _Pass.fill,
    "F": _Pass.fill,
    "f*": _Pass.fill,
    "B": _Pass.stroke,
    "B*": _Pass.stroke,
    "b": _Pass.close_stroke,
    "b*": _Pass.close_stroke,
    "n": lambda p, o: p.finish(None),
    "W": _Pass.clip,
    "W*": _Pass.clip,
    "Do": _Pass.enter,
    "INLINE IMAGE": _Pass.image,
    "sh": _Pass.shading,
    "BMC": _Pass.mark,
    "BDC": _Pass.mark,
    "EMC": _Pass.unmark,
    "BT": _Pass.begin_text,
    "Tf": _Pass.set_font,
    "Tc": _Pass.letter_space,
    "Tw": _Pass.word_space,
    "Tz": _Pass.stretch,
    "TL": _Pass.leading,
    "Ts": _Pass.rise,
    "Tr": _Pass.mode,
    "Tm": _Pass.set_matrix,
    "Td": _Pass.next_line,
    "TD": _Pass.next_leading,
    "T*": _Pass.next_plain,
    "Tj": _Pass.show,
    "TJ": _Pass.show_list,
    "'": _Pass.show_next,
    '"': _Pass.show_spaced,
}
