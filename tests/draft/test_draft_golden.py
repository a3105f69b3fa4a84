"""Everything that is read from small drawings, step by step of the reading, and all that is said.

The golden page was looked over by eye; when it is meant to change, look at the new one and refresh
it:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/draft/test_draft_golden.py
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import pytest

from panelshift.draft import Gore, Reading, StandsOn
from panelshift.outline import Curve
from panelshift.pattern.drawing import Drawing
from panelshift.sources.svg import read_svg
from tests.support.accounts import read_or_refused
from tests.support.drawings import Draft, drawing, full, group, half, panels, path, text
from tests.support.golden import changes
from tests.support.gored import gored_svg, slit, wedge

Case = tuple[Drawing, Reading | None]

ONE, TWO = half(2)
BOTH: Final = panels([ONE, TWO])
PAGE: Final = 'width="210mm" height="297mm" viewBox="0 0 210 297"'


def svg(body: str, root: str = "", **said: object) -> Case:
    return drawing(body, root), Reading(**said)  # type: ignore[arg-type]


def dashes(
    *corners: tuple[float, float], dash: float = 6.0, space: float = 3.0, extra: str = ""
) -> str:
    """A way from corner to corner, cut into unnamed dashes that run on round the corners."""
    found, left, on = "", dash, True
    for (x0, y0), (x1, y1) in itertools.pairwise(corners):
        size, at = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5, 0.0
        while at < size:
            end = min(at + left, size)
            a, b = at / size, end / size
            if on:
                (ax, ay), (bx, by) = ((x0 + k * (x1 - x0), y0 + k * (y1 - y0)) for k in (a, b))
                found += path(f"M{ax:.4f} {ay:.4f}L{bx:.4f} {by:.4f}", extra=extra)
            left -= end - at
            at = end
            if left <= 1e-9:
                on, left = not on, space if on else dash
    return found


def dashed_lines() -> Iterator[tuple[str, Case]]:
    outlines = ONE.outline() + TWO.outline()
    waist = dashes((45.0, 200.0), (200.0, 200.0), dash=8.0, space=4.0)
    yield "a dashed waist across both", svg(outlines + waist)
    # Their corners lie in spaces: a channel drawn as a box, a third side, a fold, and the waist.
    box = dashes((70.0, 130.0), (70.0, 250.0), (78.0, 250.0), (78.0, 130.0), dash=5.0, space=2.0)
    angle = dashes((146.0, 120.0), (146.0, 171.5), (166.0, 171.5), dash=5.0, space=2.0)
    # By itself, so that its second line is the last; the corner lies in a space.
    red = 'stroke="#ff0000"'
    angle += dashes((150.0, 100.0), (150.0, 148.0), (175.0, 148.0), dash=5, space=2, extra=red)
    bent = dashes((158.0, 260.0), (164.0, 230.0), (176.0, 220.0), dash=3.0, space=1.5)
    short = dashes((152.0, 280.0), (166.0, 280.0), dash=3.0, space=1.5)
    yield "dashed lines round corners", svg(BOTH + box + angle + bent + short)
    # Written with a colour and a width, and numbered by a program; one id names the whole line.
    numbered = "".join(
        path(f"M{52 + 10 * k} 200h7", f"line-{k}", 'stroke="#0000ff" stroke-width="0.4"')
        for k in range(15)
    )
    yield "numbered dashes of the waist", svg(outlines + numbered, waistlines=("line-7",))
    uneven = "".join(path(f"M{x} 150h4") for x in (145, 151, 157, 163, 174, 180))
    yield "a row with one wide space", svg(BOTH + uneven)


def joined_lines() -> Iterator[tuple[str, Case]]:
    waists = ONE.line() + TWO.line()
    yield "outlines in pieces", svg(ONE.pieces(0.2) + TWO.pieces() + waists)
    yield "a gap too wide", svg(ONE.pieces(1.2) + TWO.pieces() + waists)
    chain = path("M100 200V260L184 300", "last") + path("M184 300V80H144", "first")
    open_ring = chain + path("M144 80L100 196", "middle")
    yield "the way round is open", svg(ONE.panel() + open_ring)
    halves = path("M48 200H80", "waist") + path("M80 200H110", "waist") + TWO.line()
    yield "a waist in two pieces", svg(ONE.outline() + TWO.outline() + halves)
    level = path("M172 260H150", "hip b") + path("M128 260H150", "hip a")
    more = path("M172 260H196", "hip c") + path("M52 260H112", "hip d")
    yield "a level in three pieces, from the inside out", svg(BOTH + level + more)
    channel = path("M70 120V280H77V120H70", "bone") + path(
        "M150 120V280L157 280V120L150 120", "bone 2"
    )
    there = path("M170 120V280V120", "bone 3") + path("M176 110V280L176 110", "")
    yield "channels that come back to where they began", svg(BOTH + channel + there)
    # As a reader hands them over that knows no command to close a line.
    drawn, _ = svg(BOTH + channel)
    opened = [replace(s, curve=Curve(s.curve.control, s.curve.degree)) for s in drawn.shapes]
    yield "shapes that are not said to be closed", (replace(drawn, shapes=tuple(opened)), None)
    stray = path("M60 80H104L104.02 80.02C104 120 100 160 100 200C100 233 107 267 107 300H60Z", "a")
    yield "a stray piece at a corner", svg(stray + path("M50 200H110", "waist") + TWO.panel())
    branch = path("M140 80V300H191V80Z", "") + path("M140 250H191") + path("M165 80V300")
    yield "lines that meet an outline", svg(ONE.panel() + branch + path("M130 200H200", "waist"))


def passed_over() -> Iterator[tuple[str, Case]]:
    lines = "".join(path(f"M60 {90 + 4 * k}L95 {110 + 4 * k}") for k in range(40))
    corner = path("M90 87L95 89.8571") + path("M62 247.1L66 249.4") + path("M150 100L170 111.4286")
    yield "hatching with bits in its corners", svg(BOTH + lines + corner)
    few = "".join(path(f"M64 {110 + 5 * k}h20", "hatching") for k in range(3))
    yield "hatching by name", svg(BOTH + group(few, "shading"))
    copies = ONE.outline(ident="") + path("M125.001 200.001H199", "") + TWO.outline(ident="other")
    bust = path("M50 150H190", "bust") + path("M50 150H190", "hip") + path("M50 150H190", "")
    yield "lines drawn twice", svg(BOTH + copies + bust)
    yield "an outline and its pieces on top", svg(BOTH + ONE.pieces().replace("id=", "data-x="))
    specks = path("M70 120l.2 .1") + path("M75 130h.4") + path("M160 130v.3", "notch")
    yield "specks", svg(BOTH + specks)
    words = text("test square 2 in", 20, 20) + path("M300 20h50.8v50.8h-50.8z", "test square 2 in")
    frame = path("M5 5H400V400H5Z", "frame") + path("M300 100h30v30h-30z", "logo")
    yield "a frame, a square and a logo", svg(BOTH + words + frame)
    layer = group(path("M70 110v50", "x") + text("old", 75, 130), "First draft")
    reading = {"leave_layers": ("first draft",), "leave_out": ("y", "z")}
    marks = path("M75 120v50", "y") + path("M160 120v50", "z")
    twice = "".join(
        path(
            f"M{x} 80H{x + 44}V300H{x}Z M{x + 0.3} 80.3H{x + 43.7}V299.7H{x + 0.3}Z",
            f"{x}",
            'fill="black" stroke="none"',
        )
        for x in (60, 140)
    )
    yield "outlines with an inside and an outside", svg(twice + ONE.line() + TWO.line())
    yield "what the maker leaves out", svg(BOTH + layer + marks, **reading)
    yield "no such layer", svg(BOTH + layer, leave_layers=("second",))


def at_the_page() -> Iterator[tuple[str, Case]]:
    edge = path("M140 80H184V297H140Z", "cut")
    piece = path("M20 297V190C30 150 30 120 20 90H40C50 150 40 200 45 297", "piece")
    yield "cut off by the page", svg(ONE.panel() + edge + TWO.line() + piece, PAGE)
    corner = path("M0 0H44V220H0Z", "1") + path("M0 120H44", "waist 1") + TWO.panel()
    yield "at the corner of the page", svg(corner, PAGE)
    clip = '<clipPath id="tile"><rect x="0" y="0" width="170" height="297"/></clipPath>'
    clipped = f'{clip}<g clip-path="url(#tile)">{BOTH}</g>'
    yield "cut off by a clip", svg(clipped, PAGE)
    for name, wide in (("cut off by its frame", 170), ("in a frame of its own size", 184)):
        yield name, svg(f'<svg width="{wide}" height="300">{BOTH}</svg>')
    tight = 'width="124mm" height="220mm" viewBox="60 80 124 220"'
    inner = (
        ONE.outline() + TWO.outline() + path("M60 200h40", "waist") + path("M140 200h44", "waist 2")
    )
    yield "fitted to its page", svg(inner, tight)
    yield "no unit", svg(panels(full(4)), 'viewBox="0 0 800 400"')
    unstated, _ = svg(BOTH)
    larger = replace(unstated.scaled(4.0), unit_taken="mm")
    yield "waists of adults in mm", (larger, None)
    smaller = replace(unstated.scaled(0.4), unit_taken="mm")
    yield "in cm, or in px, and not in mm", (smaller, None)
    yield "a fourth of its size", svg(BOTH + text("Scale 1:4", 20, 20))


def nested() -> Iterator[tuple[str, Case]]:
    def ring(by: float, name: str, extra: str = "") -> str:
        return "".join(
            path(f"M{x - by} {80 - by}H{x + w + by}V{300 + by}H{x - by}Z", f"{name} {k}", extra)
            for k, (x, w) in enumerate(((80.0, 40.0), (220.0, 44.0)), 1)
        )

    waists = path("M70 200H130", "waist 1") + path("M210 200H274", "waist 2")
    colours = [f'stroke="{c}" stroke-width="0.5"' for c in ("#ff0000", "#00ff00", "#0000ff")]
    sizes = "".join(group(ring(6.0 * k, "abc"[k], colours[k]), f"size {k}") for k in range(3))
    words = "".join(
        text(word, x, 301 + 6.0 * k) for x in (84, 224) for k, word in enumerate(("S", "M", "L"))
    )
    yield "three sizes", svg(sizes + waists + words)
    for said in ("M", "outermost", "layer size 0"):
        yield f"three sizes, of them {said}", svg(sizes + waists + words, size=said)
    yield "a size that is none", svg(sizes + waists + words, size="XL")
    yield "a size of one", svg(BOTH, size="M")
    yield "a cut line", svg(ring(0.0, "panel") + ring(10.0, "cut line") + waists)
    drawn, _ = svg(ring(0.0, "panel") + ring(10.0, "cut line") + waists)
    opened = [replace(s, curve=Curve(s.curve.control, s.curve.degree)) for s in drawn.shapes]
    drawn = replace(drawn, shapes=tuple(opened))
    yield "a cut line, to be taken off", (drawn, Reading(allowance_drawn={"seam": 10.0}))
    yield "cut lines alone", svg(ring(0.0, "cut line") + waists)
    yield "two outlines", svg(ring(0.0, "panel") + ring(10.0, "other") + waists)
    yield (
        "two outlines, the outer one",
        svg(ring(0.0, "panel") + ring(10.0, "other") + waists, net_outline="outer"),
    )


def allowances() -> Iterator[tuple[str, Case]]:
    off = {"seam": 10.0, "centre_front": 20.0, "centre_back": 15.0, "top": 5.0, "bottom": 0.0}
    yield "an allowance drawn in", svg(BOTH, allowance_drawn=off)
    every = dict.fromkeys(off, 6.0)
    bent = path(
        "M60 80Q80 70 104 84C104 120 100 160 100 200C100 233 107 267 107 300L84 296L60 300Z", "a"
    )
    round_one = path(
        "M146 80H178A6 6 0 0 1 184 86V294A6 6 0 0 1 178 300"
        "H146A6 6 0 0 1 140 294V86A6 6 0 0 1 146 80Z",
        "b",
    )
    body = bent + round_one + path("M50 200H195", "waist")
    yield "bent edges, corners round and hollow", svg(body, allowance_drawn=every)
    # The front edge goes on into the top without a corner: a step between two allowances.
    smooth = path("M60 300V110C60 90 70 80 90 80H104V300Z", "a")
    step = {"seam": 4.0, "centre_front": 10.0, "top": 5.0, "bottom": 5.0, "centre_back": 4.0}
    corners = {"a": {"front_top": (60.0, 110.0)}}
    yield (
        "two allowances on one line",
        svg(
            smooth + path("M50 200H195", "waist") + TWO.outline(),
            allowance_drawn=step,
            corners=corners,
        ),
    )
    yield "more than there is", svg(BOTH, allowance_drawn=dict.fromkeys(off, 25.0))
    yield "words say so", svg(BOTH + text("seam allowance 1 cm included", 20, 20))


def marked() -> Iterator[tuple[str, Case]]:
    lines = (
        path("M50 150H190", "bust")
        + path("M52 260L194 262", "hip")
        + path("M98 170H104", "notch")
        + path("M80 100V280", "grainline")
        + path("M70 120V280", "bone 1")
        + path("M62 90L90 130")
        + path("M155 120V280H162V120Z", "channel")
        + path("M150 240L160 220L170 240Z", "dart")
    )
    yield "levels and marks", svg(BOTH + lines + text("ease", 70, 230) + text("afar", 400, 400))
    outlines = ONE.outline() + TWO.outline()
    ticks = "".join(
        path(f"M{x - 3} 200h6", f"waist {k}") for k, x in enumerate((60, 100, 140, 184))
    )
    yield "two marks for each waist", svg(outlines + ticks)
    yield "three marks", svg(outlines + ticks + path("M117 200h6", "waist 9"))
    split = path("M55 130H108", "yoke line") + path("M134 130H190", "yoke line 2")
    yield "split at lines", svg(BOTH + split, split_at=("yoke line", "yoke line 2"))
    yield "split at none", svg(BOTH + split, split_at=("seam across",))
    yield "only one line across each", svg(outlines + path("M50 205H195"))
    yield "two lines across", svg(outlines + path("M50 205H195") + path("M50 240H195", "b"))
    bar = path("M300 20h48", "scale bar 50 mm")
    yield "a scale bar", svg(BOTH + bar)
    cut_in = path("M40 100H440V320H40Z", "block") + path("M40 200H440", "waist")
    yield "undivided", svg(cut_in + path("M130 320V100", "path7") + path("M250 100V320"))


def ordered() -> Iterator[tuple[str, Case]]:
    yield "a full pattern", svg(panels(full(4)))
    yield "an order", svg(BOTH, order=("panel 2", "panel 1"))
    yield "an order without one", svg(BOTH, order=("panel 2",))
    turned = ONE.mirrored(140.0, "1 front"), TWO.mirrored(60.0, "2 back")
    yield "drawn from right to left", svg(panels(turned))
    named = [d.at(d.x, name=f"path{k}88") for k, d in enumerate((ONE, TWO))]
    words = text("Centre back", 65, 240) + text("2", 65, 250) + text("Front 1", 145, 240)
    yield "named by words", svg(panels(named) + words)
    seams = path("M60 80H100V300H60Z", "1") + path("M140 80H180V312H140Z", "2")
    yield "a seam that does not walk", svg(seams + path("M50 200H190", "waist"))
    level = path("M50 196L110 206", "waist 1") + path("M130 206L195 198", "waist 2")
    plumb = path("M80 90V290", "plumb 1") + path("M160 90V290", "plumb 2")
    outlines = ONE.outline() + TWO.outline()
    yield "a waist that is not level", svg(outlines + level)
    yield "the same with plumb lines", svg(outlines + level + plumb)
    apart = path("M50 200H110", "waist 1") + path("M130 215H195", "waist 2")
    yield "waists apart", svg(outlines + apart)
    three = "".join(d.outline() for d in half(3))
    askew = path("M50 196L110 206", "1") + path("M130 204L195 198", "2")
    askew += path("M210 201L290 193", "3")
    yield "three waists that are not level", svg(three + group(askew, "waist"))
    rounded = path(
        "M60 300V95Q60 80 75 80H90Q104 80 104 95C104 120 100 160 100 200C100 233 107 267 107 300Z",
        "1",
    )
    yield "corners that are round", svg(rounded + ONE.line() + TWO.panel())
    pointed = {"panel 1": {"front_top": (60.0, 80.0), "back_bottom": (107.0, 290.0)}}
    yield "corners that are told", svg(BOTH, corners=pointed)
    beyond = {"panel 1": {"front_top": (70.0, 80.0)}}
    yield "a corner told on the top edge", svg(BOTH, corners=beyond)


def in_parts() -> Iterator[tuple[str, Case]]:
    between = Gore("gore", ("front", "side"))
    yield "a gore in a seam", (read_svg(gored_svg({"gore": wedge()})), _gored(between))
    yield "a gore too long", (read_svg(gored_svg({"gore": wedge(305.0, 80.0)})), _gored(between))
    line = slit("hip slit", 1, (55.0, -151.5), (55.0, -50.0))
    inside = read_svg(gored_svg({"gore": wedge(100.0)}, extra=line))
    yield "a gore in a slit", (inside, _gored(Gore("gore", slit="hip slit")))
    yield "a slit alone", (inside, _gored())
    yield "a gore that is not named", (read_svg(gored_svg({"gore": wedge()})), _gored())
    hem = [(0.0, 0.0), (0.0, 40.0), (118.0, 40.0), (120.0, 0.0)]
    piled = read_svg(gored_svg({"hem": hem}))
    yield (
        "a piece below another",
        (piled, Reading(halves="half", stands_on=(StandsOn("front", "hem"),))),
    )


def named_halves() -> Iterator[tuple[str, Case]]:
    for names in (
        ("front", "side", "back"),
        ("centre front", "side front", "side back", "centre back"),
        ("1", "2", "3"),
        ("back", "front"),
        ("left front", "left side", "left back"),
        ("left front", "left back", "right back", "right front"),
        ("front left", "side", "front right"),
        ("side back", "centre front", "side back 2"),
        ("1 a", "2 a", "2 b", "1 b"),
        ("1", "2", "3", "3", "2", "1"),
        ("centre front", "centre front 2", "side", "back"),
        ("front", "piece", "piece 2"),
        ("piece", "piece 2", "CB"),
        ("A", "B", "C", "D"),
    ):
        drawn = [Draft(n, x=60.0 + 70.0 * k, waist=40.0 + 3.0 * k) for k, n in enumerate(names)]
        yield f"named {', '.join(names)}", svg(panels(drawn))
    for words in ("cut 2", "cut 4", "cut 1 on fold", "cut 2 pairs", "cut 1", "place on fold"):
        told = text(words, 66, 230) + text(words, 146, 230)
        yield f"both say {words}", svg(BOTH + told)
    yield "one says cut 1 on fold", svg(BOTH + text("cut 1 on fold", 66, 230))
    for waist in (168.0, 84.0, 300.0):
        yield f"drafted to {waist:g}", svg(BOTH, drafted_waist=waist)
    for halves in ("half", "full"):
        yield f"said to be {halves}", svg(panels(full(4)), halves=halves)


def bent() -> Iterator[tuple[str, Case]]:
    """Edges that bend before their corner, by so many degrees and so far from it."""

    def one(bottom: str, name: str = "1") -> str:
        return path(f"M60 80H104C104 120 100 160 100 200C100 233 107 267 107 300{bottom}Z", name)

    waists = ONE.line() + TWO.line()
    for inwards in (2, 5, 9, 14, 30):
        for beyond in (8, 20, 40):
            low = f"L{107 - inwards * beyond / 57.3:.3f} {300 + beyond}L60 {300 + beyond}"
            yield (
                f"bent by {inwards} and {beyond} beyond",
                svg(one(low) + TWO.outline() + waists),
            )
    yield "rounded off at a seam", svg(one("Q107 312 95 312H60") + TWO.outline() + waists)
    yield "rounded off at a centre", svg(one("H75Q60 300 60 285") + TWO.outline() + waists)
    yield "a scallop", svg(one("Q92 330 78 310Q66 330 60 300") + TWO.outline() + waists)
    yield "a busk that leans", svg(one("H66L60 270") + TWO.outline() + waists)
    tab = "M136 80H184V340H150L133 300C133 267 140 233 140 200C140 160 136 120 136 80Z"
    yield "tabs beside a seam", svg(one("L90 340H60") + path(tab, "2") + waists)
    yield "a tab on one side", svg(one("L90 340H60") + TWO.outline() + waists)
    yield "a point", svg(one("L84 340L60 300") + TWO.outline() + waists)


def taken_off() -> Iterator[tuple[str, Case]]:
    waist = path("M50 200H195", "waist")
    shapes = {
        "a hollow top": "M60 80Q82 100 104 80C104 120 100 160 100 200C100 233 107 267 107 300H60Z",
        "a notched bottom": "M60 80H104V300H90L82 290L74 300H60Z",
        "smooth at the top": "M60 300V100Q60 80 80 80H84Q104 80 104 100V300Z",
        "a sharp tip": "M60 80H104V300L82 360L60 300Z",
        "closed by curves": "M60 80C75 76 90 76 104 80C98 150 98 250 104 300C90 304 75 304 60 300"
        "C66 250 66 150 60 80Z",
        "too narrow": "M60 80H78V300H60Z",
    }
    for about, d in shapes.items():
        for by in ({"seam": 8.0}, {"seam": 8.0, "top": 3.0, "centre_front": 12.0, "bottom": 5.0}):
            off = dict.fromkeys(("centre_front", "centre_back", "top", "bottom"), 8.0) | by
            said = ", ".join(f"{key} {value:g}" for key, value in by.items())
            drawn = path(d, "a") + TWO.outline() + waist
            yield f"{about}: {said}", svg(drawn, allowance_drawn=off)


def _gored(*gores: Gore) -> Reading:
    return Reading(gores=gores, halves="half")


STEPS: Final = {
    step.__name__: step
    for step in (
        dashed_lines,
        joined_lines,
        passed_over,
        at_the_page,
        nested,
        allowances,
        marked,
        ordered,
        in_parts,
        named_halves,
        bent,
        taken_off,
    )
}
MANY: Final = ("named_halves", "bent", "taken_off")
"""Steps of so many drawings that they are left to CI."""


@pytest.mark.parametrize(
    "step", [pytest.param(s, marks=pytest.mark.slow) if s in MANY else s for s in STEPS]
)
def test_what_is_read_and_said_is_the_golden_page(step: str) -> None:
    told: list[str] = []
    for about, (drawn, reading) in STEPS[step]():
        told += [f"== {about}", *read_or_refused(drawn, reading)]
    assert changes(f"draft-{step.replace('_', '-')}.txt", "\n".join(told)) == []
