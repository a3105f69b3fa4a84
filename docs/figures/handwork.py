"""What hands do with paper and cloth: a swatch is pinned, pages are taped."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import sample
from canvas import GREEN, GREY, INK, PALE, RED, Canvas, rounded

from panelshift import parse_paper
from panelshift.cutting.layer_sheets import layer_sheet
from panelshift.outline import FloatArray
from panelshift.outline.pathtext import number, path_data
from panelshift.printing.pages import matching_marks
from panelshift.printing.tiling import PageGrid, PageOptions, drawn_lines, lay_grid
from panelshift.sheets.palette import GLUE_LINE, MATCHING_MARK, STYLES, TRIM_EDGE, Style
from panelshift.sheets.sheet import Sheet

TIMES: Final = "\N{MULTIPLICATION SIGN}"
ARM_MM: Final = 4.0
"""How far a cross runs on beyond the strip that two pages share."""

# -- a swatch -------------------------------------------------------------------------------

FORMER_MM, LENGTH_MM = 80.0, 180.0
INNER: Final = "coutille"
THICKER: Final = 8.0
ROUND_PX: Final = 1.5
MIDDLE: Final = np.array([118.0, 150.0])
SCALE_PX: Final = 17.0
"""Of the enlarged paper scale, for each mm."""


def pinning() -> str:
    """Two cloths round a former, seen from its end; and the paper scale, read at the pin."""
    fabrics = {fabric.name: fabric for fabric in sample.job().stack.fabrics}
    inner, outer = fabrics[INNER].build, fabrics[sample.OUTER].build
    between = fabrics["interlining"].build
    apart = 0.5 * inner + between + 0.5 * outer
    angle = LENGTH_MM / (0.5 * FORMER_MM + 0.5 * inner)
    overhang = apart * angle
    canvas = Canvas("Pinning a swatch: two cloths round a former, and what is read", 450.0)
    canvas.text(12, 24, "1. Pin, bend, pin again", bold=True)
    canvas.dot(MIDDLE, ROUND_PX * 0.5 * FORMER_MM, PALE)
    canvas.text(118, 146, ["former,", f"{FORMER_MM:g} mm"], anchor="middle", colour=GREY)
    canvas.line(_arc(0.5 * inner, 0.0, angle), GREEN, 0.8 * THICKER * inner)
    canvas.line(_arc(inner + 0.5 * between, 0.0, angle), GREY, 0.8 * THICKER * between)
    beyond = 0.3
    canvas.line(
        _arc(inner + between + 0.5 * outer, 0.0, angle + beyond), RED, 0.8 * THICKER * outer
    )
    outside = inner + between + outer
    for end in (0.0, angle):
        canvas.line([_round(-0.4, end), _round(outside + 2.2, end)], INK, 1.4)
        canvas.dot(_round(outside + 2.2, end), 3.0, INK)
    canvas.note((226, 66), _round(outside + 1.6, 0.0), ["first pin, through", "all of them"])
    at = _round(inner + between + 0.5 * outer, 1.1)
    canvas.note((226, 122), at, [f"outer cloth ({sample.OUTER})"], colour=RED)
    canvas.note((226, 150), _round(inner + 0.5 * between, 1.5), ["what lies between"], colour=GREY)
    canvas.note((226, 178), _round(0.5 * inner, 1.95), [f"inner cloth ({INNER})"], colour=GREEN)
    pin = _round(outside + 2.2, angle)
    canvas.line([(24, 230), pin], GREY, 0.7)
    canvas.text(12, 244, "second pin, where the inner cloth ends: towards the middle")

    canvas.text(12, 284, "2. Lay the outer cloth flat on its paper: read at the pin", bold=True)
    zero = 60.0
    canvas.line([(12, 308), (348, 308), (348, 342), (12, 342)], GREY, 0.9, fill=PALE, closed=True)
    for mm in range(17):
        long = 14.0 if mm % 5 == 0 else 8.0
        canvas.line([(zero + SCALE_PX * mm, 308), (zero + SCALE_PX * mm, 308 + long)], INK, 0.9)
        if mm % 5 == 0:
            canvas.text(zero + SCALE_PX * mm, 336, f"{mm}", anchor="middle")
    pin = zero + SCALE_PX * overhang
    canvas.line([(pin, 298), (pin, 322)], RED, 2.0)
    canvas.dot((pin, 298), 3.5, RED)
    canvas.text(pin + 8, 302, f"{overhang:.1f} mm", colour=RED, bold=True)
    canvas.text(zero, 302, "length of the inner", size=11, anchor="middle", colour=GREY)
    canvas.text(12, 374, "3. The distance between their middles", bold=True)
    radius = 0.5 * FORMER_MM + 0.5 * inner
    canvas.text(
        12,
        396,
        [
            f"overhang {TIMES} radius of the inner middle / its length",
            f"= {overhang:.1f} {TIMES} {radius:.1f} / {LENGTH_MM:g} = "
            f"{_distance(overhang, radius)} mm",
        ],
    )
    canvas.text(12, 438, f"cloths drawn {THICKER:g} times too thick", size=11, colour=GREY)
    return canvas.svg()


def _distance(overhang: float, radius: float) -> str:
    """What the numbers come to as they are shown, so that a reader finds the same."""
    return f"{round(overhang, 1) * round(radius, 1) / LENGTH_MM:.2f}"


def _round(away: float, angle: float) -> FloatArray:
    """On the page: so many mm outside the former, enlarged, at an angle from straight up."""
    radius = ROUND_PX * 0.5 * FORMER_MM + 0.8 * THICKER * away
    return MIDDLE + radius * np.array([math.sin(angle), -math.cos(angle)])


def _arc(away: float, start: float, end: float) -> FloatArray:
    return np.array([_round(away, angle) for angle in np.linspace(start, end, 81)])


# -- pages ----------------------------------------------------------------------------------

PAGE_PX: Final = 0.8
SHOWN_MM: Final = 160.0
"""How much of the pages is shown, from the top down."""

CLOSE_PX: Final = 4.0


def taping() -> str:
    """Two pages of the brocade: apart, laid on each other, and one cross from near by."""
    shifted, plan = sample.shifted(), sample.job().plan
    sheet = layer_sheet(shifted, shifted.layer(sample.OUTER), plan, headed=False)
    lines = drawn_lines(sheet.strokes, sheet.labels)
    grid = lay_grid(
        lines, (sheet.width, sheet.height), PageOptions(parse_paper("a4")), turned=False
    )
    wide, high = PAGE_PX * grid.tile[0], PAGE_PX * SHOWN_MM
    canvas = Canvas(
        "Taping two pages: trim one, lay it on the other, let the crosses run on", 530.0
    )
    canvas.text(12, 24, "1. Trim A1 along its bold dashed edge", bold=True)
    _page(canvas, sheet, grid, 0, (16.0, 36.0))
    _page(canvas, sheet, grid, 1, (344.0 - wide, 36.0))
    top = 36.0 + high + 36.0
    canvas.text(12, top - 12, "2. Lay it on B1, up to B1's fine dashed line", bold=True)
    left = 0.5 * (360.0 - wide - PAGE_PX * grid.step[0])
    _page(canvas, sheet, grid, 1, (left + PAGE_PX * grid.step[0], top))
    _page(canvas, sheet, grid, 0, (left, top))
    top += high + 40.0
    canvas.text(12, top - 16, "3. The long arm of each cross runs on; tape there first", bold=True)
    _close(canvas, grid, (16.0, top), (232.0, 150.0))
    canvas.note(
        (264, top + 30), (16.0 + 116.0 + 0.5 * CLOSE_PX * grid.overlap, top + 26), "A1's edge"
    )
    canvas.note((264, top + 79), (16.0 + 116.0 + 8.4 * CLOSE_PX, top + 75), "long arm")
    canvas.text(264, top + 120, ["A1 lies on B1"], colour=GREY)
    return canvas.svg()


def _page(
    canvas: Canvas, sheet: Sheet, grid: PageGrid, column: int, at: tuple[float, float]
) -> None:
    """The upper part of a page of the first row."""
    (x, y), (wide, _) = at, grid.tile
    low = float(grid.corner(0, column)[0])
    parts = [
        f'<svg x="{number(x)}" y="{number(y)}" width="{number(PAGE_PX * wide)}" '
        f'height="{number(PAGE_PX * SHOWN_MM)}" '
        f'viewBox="{number(low)} 0 {number(wide)} {number(SHOWN_MM)}" fill="none">',
        f'<rect x="{number(low)}" width="{number(wide)}" height="{number(SHOWN_MM)}" '
        f'fill="#ffffff" stroke="{GREY}"/>',
    ]
    kinds = list(STYLES)
    for stroke in sorted(sheet.strokes, key=lambda stroke: kinds.index(stroke.kind)):
        box = stroke.curve.bounds()
        if box[1, 0] < low or box[0, 0] > low + wide or box[0, 1] > SHOWN_MM:
            continue
        style = STYLES[stroke.kind]
        dash = " ".join(number(length) for length in style.dash)
        parts.append(
            f'<path d="{path_data(rounded(stroke.curve))}" stroke="{style.colour}" '
            f'stroke-width="{number(2.0 * style.width)}" stroke-dasharray="{dash or "none"}"/>'
        )
    if column == 0:
        parts.append(_line((low + wide, 0), (low + wide, SHOWN_MM), TRIM_EDGE, 2.5))
    else:
        parts.append(_line((low + grid.overlap, 0), (low + grid.overlap, SHOWN_MM), GLUE_LINE, 2.5))
    reach = 0.5 * grid.overlap + ARM_MM
    for mark in matching_marks(grid, 0, column):
        cx, cy = mark.at - grid.margin + (low, 0.0)
        if mark.axis == 0 and cy < SHOWN_MM:
            parts.append(_line((cx - reach, cy), (cx + reach, cy), MATCHING_MARK, 3.0))
            parts.append(_line((cx, cy - 4.0), (cx, cy + 4.0), MATCHING_MARK, 3.0))
    parts.append("</svg>")
    canvas.part("".join(parts))
    left = x + 8.0 + 30.0 * column
    canvas.line(
        [(left - 3, y + 4), (left + 28, y + 4), (left + 28, y + 26), (left - 3, y + 26)],
        "none",
        fill="#ffffff",
        closed=True,
    )
    canvas.text(left, y + 22, grid.name(0, column), size=18, bold=True)


def _close(
    canvas: Canvas, grid: PageGrid, at: tuple[float, float], size: tuple[float, float]
) -> None:
    """A cross of two pages that lie on each other, enlarged."""
    (x, y), (wide, high) = at, size
    middle = np.array([x + 0.5 * wide, y + 0.5 * high])
    half, reach = 0.5 * CLOSE_PX * grid.overlap, CLOSE_PX * (0.5 * grid.overlap + ARM_MM)
    box = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
    canvas.line(box, GREY, 0.8, fill="#ffffff", closed=True)
    under = [
        (middle[0] + half, y),
        (x + wide, y),
        (x + wide, y + high),
        (middle[0] + half, y + high),
    ]
    canvas.line(under, "none", fill=PALE, closed=True)
    canvas.line([(middle[0] + half, y), (middle[0] + half, y + high)], INK, 3.2, dash="28 6")
    canvas.line(middle + np.array([[-reach, 0.0], [reach, 0.0]]), INK, 1.2)
    for step in (-half, 0.0, half):
        canvas.line(middle + np.array([[step, -10.0], [step, 10.0]]), INK, 1.2)
    canvas.text(x + 8, y + 22, "A1", size=16, bold=True)
    canvas.text(x + wide - 8, y + 22, "B1", size=16, bold=True, anchor="end")


def _line(start: tuple[float, float], end: tuple[float, float], style: Style, bolder: float) -> str:
    """One straight line of a page's marks, bolder than on paper."""
    dash = " ".join(number(length) for length in style.dash)
    way = "L".join(f"{number(px)},{number(py)}" for px, py in (start, end))
    return (
        f'<path d="M{way}" stroke="{style.colour}" stroke-width="{number(bolder * style.width)}" '
        f'stroke-dasharray="{dash or "none"}"/>'
    )
