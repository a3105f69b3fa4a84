"""The pictures of "A first corset": a draft, a piece, and the fit sheet's first page, explained."""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
import sample
from canvas import BLUE, GREY, PALE, Canvas
from lxml import etree

from panelshift.cutting.parts import Part, layer_parts, upright
from panelshift.fit.corset_picture import corset_picture
from panelshift.fit.fact_tables import waist_choices
from panelshift.fit.facts import FitFacts
from panelshift.fit.first_page import answers, waist_sizes
from panelshift.job.result import fit_job
from panelshift.outline import Curve, FloatArray
from panelshift.sheets.palette import STYLES

PANEL: Final = "2 front"
LEFT, RIGHT = 112.0, 248.0
"""Where words at the left end, and words at the right begin."""

IN_SHORT: Final = (
    "which layers one paper serves",
    "what to recut if they share one all the same",
    "a former for each panel, to try its pieces on",
    "what a tape should read when it is laced",
    "what to measure to know more",
)
"""What the sheet's sentences are about, in their order."""


@cache
def facts() -> FitFacts:
    """What the fit sheet of the sample states."""
    return fit_job(sample.job(), sample.shifted(), lay_cloth=False)


# -- the draft ------------------------------------------------------------------------------


def drafted() -> str:
    """One panel as a maker draws it, every mark named."""
    panel = sample.job().pattern.panels[sample.job().pattern.index(PANEL)]
    matrix = _placed(upright(panel), 1.0, (180.0, 240.0))
    canvas = Canvas("One panel of a draft, and what each line on it is", 466.0)
    lines = {mark.kind: mark.curve.transformed(matrix) for mark in reversed(panel.marks)}
    for mark in panel.marks:
        canvas.line(mark.curve.transformed(matrix), GREY, 0.8)
    for level in panel.levels:
        canvas.line(level.curve.transformed(matrix), GREY, 0.9, dash="3 2")
    outline, waist = panel.outline.transformed(matrix), panel.waist.curve.transformed(matrix)
    canvas.line(outline, BLUE, 2.0)
    canvas.line(waist, BLUE, 2.0)
    front, back = (panel.edge(side).transformed(matrix) for side in ("front", "back"))
    heights = {level.name: float(level.curve.transformed(matrix).end[1]) for level in panel.levels}
    middle = float(waist.end[1])

    canvas.text(180, 26, "top edge", anchor="middle")
    canvas.text(180, 434, "bottom edge", anchor="middle")
    words = ["one outline,", "closed, without", "seam allowance"]
    canvas.note((LEFT, 84), _on(front, 80), words, colour=BLUE)
    notch = lines["notch"].flatten()[-1]
    canvas.note((RIGHT, float(notch[1]) + 4), notch, ["notch"])
    canvas.note((LEFT, 200), _on(front, 196), ["front edge,", "towards the", "centre front"])
    canvas.note((RIGHT, 208), _on(back, 204), ["back edge,", "sewn to the", "next panel"])
    words = ["waistline: its", "name holds", "the word waist"]
    canvas.note((RIGHT, middle + 18), waist.end, words, colour=BLUE)
    for name, place in heights.items():
        if name in ("bust", "hip"):
            canvas.note((RIGHT, place + 4), _on(back, place), [f"{name} line"])
    grain = lines["grainline"].flatten()
    canvas.note((LEFT, 300), _side(grain, 296, -1), ["grainline"])
    bones = [m.curve.transformed(matrix) for m in panel.marks if m.kind == "bone"]
    bone = min((curve.flatten() for curve in bones), key=lambda points: points[:, 0].min())
    canvas.note((LEFT, 350), _side(bone, 346, -1), ["bone channel"])
    canvas.line([(70, 452), (92, 452)], BLUE, 2.0)
    canvas.text(98, 456, "needed")
    canvas.line([(172, 452), (194, 452)], GREY, 0.9, dash="3 2")
    canvas.text(200, 456, "welcome")
    return canvas.svg()


# -- a piece of the cutting file ------------------------------------------------------------


def piece() -> str:
    """The same panel in the brocade's cutting file, line by line, and the words on it."""
    shifted, plan = sample.shifted(), sample.job().plan
    layer = shifted.layer(sample.OUTER)
    index = shifted.turn.pattern.index(PANEL)
    part: Part = next(
        part for part in layer_parts(shifted, layer, plan) if part.strokes[0].panel == PANEL
    )
    matrix = _placed(np.eye(2, 3), 1.0, (180.0, 236.0))
    canvas = Canvas("One piece of a cutting file: its lines and its words", 572.0)
    kinds = list(STYLES)
    strokes = sorted(part.strokes, key=lambda stroke: kinds.index(stroke.kind))
    drawn = [(stroke.kind, stroke.curve.transformed(matrix)) for stroke in strokes]
    for kind, curve in drawn:
        style = STYLES[kind]
        dash = " ".join(f"{length:g}" for length in style.dash)
        canvas.line(curve, style.colour, 2.0 * style.width, dash=dash)
    by_kind = dict(reversed(drawn))
    cut, stitch = by_kind["cut-line"].flatten(0.2), by_kind["stitch-line"].flatten(0.2)
    waist = by_kind["waistline"].flatten()
    left, right = np.sort(waist[:, 0])[[0, -1]]
    near = [curve.flatten().mean(axis=0) for kind, curve in drawn if kind == "notches"]
    front = min((n for n in near if n[0] < left), key=lambda n: abs(n[1] - 236.0))
    backs = [n for n in near if n[0] > right and abs(n[1] - 236.0) < 12.0]
    seam = plan.allowances[sample.OUTER].seam

    canvas.note((LEFT, 70), _side(cut, 66, -1), ["cut line:", "along this", "you cut"])
    canvas.note((LEFT, 150), _side(stitch, 146, -1), ["stitch line:", "turn of cloth", "is in it"])
    words = ["waist notches:", "one on a", "front edge"]
    canvas.note((LEFT, 240), front, words)
    canvas.note((RIGHT, 240), backs[0], ["two on a", "back edge"])
    between = _side(cut, 96, 1) - (0.5 * seam, 0)
    canvas.note((RIGHT, 100), between, ["allowance,", f"{seam:g} mm here"])
    level = min(
        (curve.flatten() for kind, curve in drawn if kind == "level-lines"),
        key=lambda points: abs(points[0, 1] - 321.0),
    )
    canvas.note((RIGHT, 325), level[np.argmax(level[:, 0])], ["level line"])
    grain = by_kind["grainlines"].flatten()
    canvas.note((LEFT, 310), _side(grain, 306, -1), ["grainline:", "along the", "selvedge"])
    bones = [c.flatten() for k, c in drawn if k == "bone-channels"]
    bone = max(bones, key=lambda points: points[:, 0].max())
    canvas.note((RIGHT, 170), _side(bone, 166, 1), ["bone", "channel"])
    canvas.text(180, 446, "The words on it:", anchor="middle", colour=GREY)
    name, *words = plan.words(shifted, layer, index)
    canvas.line([(20, 456), (340, 456), (340, 562), (20, 562)], GREY, 0.8, closed=True)
    canvas.text(32, 476, name, bold=True)
    canvas.text(32, 494, words)
    return canvas.svg()


# -- the fit sheet --------------------------------------------------------------------------


def fit_page() -> str:
    """The fit sheet's first page, its sentences told in short."""
    job, found = sample.job(), facts()
    if len(answers(found)) != len(IN_SHORT):
        raise ValueError("the fit sheet says something else than this picture")
    canvas = Canvas("The first page of the fit sheet: four things to look at", 512.0)
    canvas.line([(8, 8), (352, 8), (352, 504), (8, 504)], GREY, 1.0, closed=True)
    canvas.text(20, 32, "hourglass: fit sheet", size=14, bold=True)
    root = etree.fromstring(corset_picture(sample.shifted().turn, job.body, gap=job.gap))
    for key, value in {"x": "20", "y": "44", "width": "168", "height": "190"}.items():
        root.set(key, value)
    canvas.part(etree.tostring(root, encoding="unicode"))
    canvas.badge((32, 224), "1")
    canvas.badge((210, 60), "2")
    canvas.text(226, 64, "finished waist", bold=True)
    for place, (name, size) in enumerate(waist_sizes(found)):
        canvas.text(204, 98 + 44 * place, size, size=18, bold=True)
        canvas.text(204, 114 + 44 * place, name, size=12, colour=GREY)
    canvas.badge((32, 258), "3")
    canvas.text(48, 262, "which layer keeps the drafted size", bold=True)
    choices = waist_choices(found)
    for place, word in enumerate(choices.heads[:3]):
        canvas.text(196 + 70 * place, 284, word, size=11, anchor="end", colour=GREY)
    for place, row in enumerate(choices.rows):
        y = 304.0 + 19.0 * place
        own = "your choice" in row.head
        if own:
            box = [(16, y - 14), (344, y - 14), (344, y + 5), (16, y + 5)]
            canvas.line(box, "none", fill=PALE, closed=True)
        canvas.text(22, y, row.head.split(" (")[0], bold=own)
        for column, cell in enumerate(row.cells[:3]):
            canvas.text(196 + 70 * column, y, cell.text, anchor="end", bold=own)
    canvas.badge((32, 394), "4")
    canvas.text(48, 398, "what to do", bold=True)
    for place, words in enumerate(IN_SHORT):
        canvas.text(22, 420 + 18 * place, f"{place + 1}. {words}", size=12)
    return canvas.svg()


# -- places ---------------------------------------------------------------------------------


def _placed(matrix: FloatArray, scale: float, middle: tuple[float, float]) -> FloatArray:
    """A map followed by a scale, its origin carried to the middle."""
    found = scale * matrix
    found[:, 2] += middle
    return found


def _on(edge: Curve, y: float) -> FloatArray:
    """The point of an edge at a height of the page."""
    points = edge.flatten(0.2)
    points = points[np.argsort(points[:, 1])]
    return np.array([np.interp(y, points[:, 1], points[:, 0]), y])


def _side(points: FloatArray, y: float, side: int) -> FloatArray:
    """Where a line through points crosses a height: the leftmost (-1) or the rightmost (1)."""
    a, b = points, np.roll(points, -1, axis=0)
    crossing = (a[:, 1] - y) * (b[:, 1] - y) < 0.0
    a, b = a[crossing], b[crossing]
    across = a[:, 0] + (y - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
    return np.array([side * np.max(side * across), y])
