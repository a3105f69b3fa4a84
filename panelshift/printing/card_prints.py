"""Print the strips that lie round a draft when it is photographed, with what to do with them."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from ..cutting.composing import ruler_squares
from ..outline import Curve, FloatArray
from ..sheets.palette import BLACK, FAINT, STYLES, Style
from ..sheets.sheet import Label
from ..sources.paper import cards
from .content import PAGE_LAYER, SQUARES_LAYER, Content, Letters, PdfLayer
from .flow import Flow, Leaf
from .paper import Paper
from .pdf_file import PdfFile

_MARGIN_MM: Final = 10.0
_STRIPS: Final = PdfLayer("strips", "strips")
_CUT: Final = Style("cut here", 0.15, FAINT)
_FINE: Final = Style("cross", 0.2, BLACK)
_TITLE: Final = "Strips to photograph a draft with"
_RING_MM: Final = 4.0
_ARM_MM: Final = 5.5
_LETTER_MM: Final = 9.0
_PER_PAGE: Final = 3

_STEPS: Final = (
    "1. Print at 100 % (actual size) on plain paper: no fit to page. Measure both squares.",
    "2. Cut the strips out along the thin lines. Leave them flat: no folds, no curls.",
    "3. Tape the draft flat on a table or a floor. Tape six strips flat round it, as the picture "
    "shows, and one or two on the draft, between or inside the pieces: without them its middle "
    "is not known. A strip may cover paper, but no line.",
    "4. Strip A lies along the bottom, its letter upright: the drawing will stand as it does.",
    "5. With a long ruler measure from the cross of one strip straight to the cross of another, "
    "350 mm or more apart, to half a millimetre. Write it down: A to D, 612.5 mm. Measure a "
    "second pair across the first. Then move nothing any more.",
    "6. Take four photos without zoom, with one lens, all strips in each: one straight from "
    "above, the others tilted, about a quarter of a right angle, each from another side. Even "
    "light, no flash, no shadow of yours.",
    "7. Run: panelshift trace PHOTOS --length 'A to D 612.5 mm' --out draft.svg",
)
_LAID: Final = (
    ("A", 20.0, 88.0, 0.0),
    ("B", 92.0, 88.0, 0.0),
    ("C", 166.0, 28.0, 0.5 * math.pi),
    ("D", 92.0, 4.0, 0.0),
    ("E", 20.0, 4.0, 0.0),
    ("F", 14.0, 28.0, 0.5 * math.pi),
    ("G", 92.0, 29.0, 0.5 * math.pi),
)
"""Where strips lie in the picture: letter, left, top, and whether it stands."""


def print_cards(paper: Paper) -> bytes:
    """PDF of nine strips, three to a page, after a page of what to do; *paper*: A4 or letter.

    Raises `PhotoError` if the package that makes markers is not installed.
    """
    leaf = _first_leaf(paper)
    pages = [cards.NAMES[k : k + _PER_PAGE] for k in range(0, len(cards.NAMES), _PER_PAGE)]
    letters = Letters()
    for label in leaf.labels:
        letters.note(label.text)
    letters.note(cards.NAMES + _foot(pages[0]))
    document = PdfFile(_TITLE, [_STRIPS, SQUARES_LAYER, PAGE_LAYER], letters.fonts())
    wide, high = paper.width, paper.height
    content = Content(document.fonts, high)
    content.begin_layer(SQUARES_LAYER.resource)
    content.add("q")
    content.style(STYLES["test-squares"])
    for stroke in leaf.strokes:
        content.curve(stroke.curve)
    content.add("Q")
    content.end_layer()
    content.begin_layer(PAGE_LAYER.resource)
    content.add("q")
    with content.tagged("P"):
        for label in leaf.labels:
            content.text(label)
    with content.tagged("Figure", "Strips laid round a draft"):
        for style, curve in leaf.samples:
            content.style(style)
            content.curve(curve)
    content.add("Q")
    content.end_layer()
    document.page(wide, high, content, None, "what to do")
    for names in pages:
        document.page(wide, high, _strips(document, paper, names), None, names)
    return document.data()


def _first_leaf(paper: Paper) -> Leaf:
    across = paper.width - 2.0 * _MARGIN_MM
    flow = Flow(_MARGIN_MM, _MARGIN_MM, across, paper.height - 2.0 * _MARGIN_MM)
    flow.text([_TITLE], 8.0, bold=True)
    flow.space(3.0)
    strokes, labels = ruler_squares(0.0, 0.0)
    flow.block(Leaf(labels, strokes), 109.0, 54.0)
    flow.text(_STEPS, 4.2)
    flow.space(3.0)
    flow.block(_picture(), 167.0, 104.0)
    (leaf,) = flow.leaves()
    return leaf


def _picture() -> Leaf:
    """Strips round a draft and on it, smaller than they are, and a draft that is smaller still."""
    lines: list[tuple[Style, FloatArray]] = []
    labels = []
    wide, high = 54.0, 13.5
    for name, x, y, angle in _LAID:
        box = np.array([(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)])
        at = np.array([wide - 5.0, 0.5 * high + 1.8])
        turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
        shift = np.array([x, y])
        lines.append((_FINE, box @ turn + shift))
        labels.append(Label(name, at @ turn + shift, 5.0, angle, "middle", bold=True))
        for k in range(11):
            edge = np.array([(4.5 * k, 0.0), (4.5 * k, high)])
            lines.append((_CUT, edge @ turn + shift))
        for k in (1, 2):
            row = np.array([(0.0, 4.5 * k), (45.0, 4.5 * k)])
            lines.append((_CUT, row @ turn + shift))
    samples = [(style, Curve.polyline(points, closed=len(points) == 4)) for style, points in lines]
    for x in (24.0, 50.0, 100.0, 126.0):
        panel = [
            (x, 30.0),
            (x + 18.0, 28.0),
            (x + 15.0, 52.0),
            (x + 20.0, 78.0),
            (x - 2.0, 80.0),
            (x + 3.0, 53.0),
        ]
        samples.append((STYLES["stitch-line"], Curve.polyline(panel, closed=True)))
        waist = [(x + 3.0, 53.0), (x + 15.0, 52.0)]
        samples.append((STYLES["waistline"], Curve.polyline(waist)))
    return Leaf(labels, [], samples)


def _strips(document: PdfFile, paper: Paper, names: str) -> Content:
    """A page of strips, each running down it, to be read when the page lies on its left side."""
    content = Content(document.fonts, paper.height)
    top = _MARGIN_MM + cards.BORDER_MM
    step = cards.WIDTH_MM + 2.0 * cards.BORDER_MM
    left = 0.5 * (paper.width - _PER_PAGE * step)
    content.begin_layer(_STRIPS.resource)
    with content.tagged("Figure", f"Strips {', '.join(names)}"):
        for place, name in enumerate(names):
            _strip(content, name, left + (place + 1) * step - cards.BORDER_MM, top)
    content.end_layer()
    content.begin_layer(PAGE_LAYER.resource)
    with content.tagged("P"):
        y = top + cards.LENGTH_MM + cards.TAB_MM + 4.0
        content.text(Label(_foot(names), np.array([left, y]), 3.6))
    content.end_layer()
    return content


def _foot(names: str) -> str:
    return f"Strips {', '.join(names)}. Print at 100 % (actual size), cut along the thin lines."


def _strip(content: Content, name: str, right: float, top: float) -> None:
    """A strip whose first corner lies at (right, top), its length downwards."""

    def placed(points: FloatArray) -> list[tuple[float, float]]:
        return [(right - y, top + x) for x, y in points.tolist()]

    content.add("q")
    content.style(_CUT)
    content.line(*placed(cards.outline()), closed=True)
    content.add("0 g")
    for x, y, wide, high in cards.black_boxes(name):
        content.box(right - y - high, top + x, high, wide, "")
    content.add("f")
    content.style(_FINE)
    cross = np.array(cards.CROSS)
    for arm in ((_ARM_MM, 0.0), (0.0, _ARM_MM)):
        content.line(*placed(np.array([cross - arm, cross + arm])))
    angles = np.linspace(0.0, 2.0 * math.pi, 49)[:-1]
    ring = cross + _RING_MM * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    content.line(*placed(ring), closed=True)
    content.add("Q")
    for y in (0.2, 0.8):
        # A capital's middle lies a third of the letter's size above its baseline.
        (at,) = placed(np.array([[cross[0], y * cards.WIDTH_MM + 0.35 * _LETTER_MM]]))
        content.text(Label(name, np.array(at), _LETTER_MM, 0.5 * math.pi, "middle", bold=True))
