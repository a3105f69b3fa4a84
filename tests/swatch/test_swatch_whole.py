"""Whole sheets, and all that whole files of readings come to, against what was looked over by eye.

Pages that another program sees (tests/printing) tell where lines are, not every word. When these
are meant to change, look at the new ones and then refresh them:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/swatch/test_swatch_whole.py
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
import pytest

from panelshift.errors import PanelshiftError
from panelshift.sheets.sheet import Sheet
from panelshift.stack import Fabric, Stack
from panelshift.swatch.boned import BonedFit, BonedReading
from panelshift.swatch.distance import PairFit
from panelshift.swatch.pairs import (
    bones_in_stack,
    compare,
    fit_in_stack,
    measured_by,
    trials_in_stack,
)
from panelshift.swatch.pinned import SwatchReading, parse_reading
from panelshift.swatch.recorded import Reading, only, parse_csv
from panelshift.swatch.slope import Slope
from panelshift.swatch.strip_kinds import boned_sheet, pieces_sheet
from panelshift.swatch.strips import strips_sheet
from panelshift.swatch.trials import Trial, TrialFit, job_entries
from tests.support.golden import changes

SHEETS: Final = {
    "two formers": lambda: strips_sheet((100.0, 60.0)),
    "a small one, and so no short strip": lambda: strips_sheet((32.0,)),
    "bones": lambda: boned_sheet((60.0, 140.0)),
    "pieces": pieces_sheet,
}


def drawn(sheet: Sheet) -> Iterator[str]:
    """Every line, ticks of one length together, and every word with its place."""
    yield f"{sheet.title}: {sheet.width:g} by {sheet.height:g}"
    ticks: dict[str, list[str]] = {}
    for stroke in sheet.strokes:
        points = stroke.curve.vertices
        (x, y), (end, other) = points[0], points[-1]
        if len(points) == 2 and y == other:
            about = f"{stroke.kind} from {x:.3f} to {end:.3f} at"
            ticks.setdefault(about, []).append(f"{y:.3f}")
        else:
            closed = " closed" if stroke.curve.closed else ""
            yield f"{stroke.kind}{closed} {' '.join(f'{a:.3f},{b:.3f}' for a, b in points)}"
    yield from (f"{about} {' '.join(heights)}" for about, heights in ticks.items())
    for label in sheet.labels:
        at = f"{label.at[0]:.3f},{label.at[1]:.3f}"
        bold = " bold" if label.bold else ""
        yield f"{at} {label.size:g} {label.angle:.3f} {label.align}{bold} {label.text}"


def test_every_line_and_word_of_the_sheets_is_where_it_was_looked_over() -> None:
    told: list[str] = []
    for name, sheet in SHEETS.items():
        told += [f"== {name}", *drawn(sheet())]
    assert changes("swatch-sheets.txt", "\n".join(told)) == []


STACK: Final = Stack(
    [
        Fabric("lining", 0.2, thickness_uncertainty=0.02),
        Fabric("coutille", 0.5, thickness_uncertainty=0.05),
        Fabric("brocade", 0.8),
    ]
)

FLAT: Final = "inner,outer,former,length,overhang"
BONED: Final = (
    "inner,outer,former,length,bones,bone_width,bone_thickness,bends,flat_overhang,overhang"
)
PIECES: Final = "test,layer,inner,way,before,after,short,count"
PAIR: Final = "coutille,brocade"

FILES: Final = {
    "one reading": [FLAT, f"{PAIR},80,180,3.1"],
    "two that agree": [FLAT, f"{PAIR},80,180,3", f"{PAIR},60,150,3.1"],
    "two that do not": [f"{FLAT},u_overhang", f"{PAIR},80,180,1.9,0.2", f"{PAIR},80,180,4,0.2"],
    "five, one of them off": [
        f"{FLAT},u_overhang",
        *(f"{PAIR},{d},180,{180 * 0.65 / (d / 2 + 0.25):.1f},0.2" for d in (60, 80, 100, 120)),
        f"{PAIR},80,180,6.2,0.2",
    ],
    "a short strip that tells how it is pinned": [
        FLAT,
        *(f"{PAIR},80,{long},{long * 0.65 / 40.25 + 2.0:.2f}" for long in (180, 178, 60, 58, 62)),
    ],
    "all that may be given": [
        "former_mm;length (cm);overhang_in;inner;outer;u_overhang;u_former;u_length;under;note",
        "# the maker's own words",
        "80;18;0,12;coutille;brocade;0.3;0.5;0.2;0.4;a jar",
        "",
        "60;15;0,125;coutille;brocade;0.4;0.5;0.2;0.4;",
        "80;18;0,05;lining;coutille;0.3;0.5;0.2;0;",
    ],
    "hardly any distance": [FLAT, "lining,coutille,100,180,0.2", "lining,coutille,80,160,0.4"],
    "below nothing": [FLAT, "lining,coutille,100,180,-0.9"],
    "flatter than half": [FLAT, *(f"{PAIR},{d},{d * 2},{d / 50}" for d in (60, 80, 100))],
    "more than twice": [FLAT, f"{PAIR},60,150,7.2", f"{PAIR},60,150,6.2", f"{PAIR},80,180,6"],
    "round the girth": [FLAT, f"{PAIR},251,180,3.1"],
    "an overhang in cm": [FLAT, f"{PAIR},60,180,0.38", f"{PAIR},60,180,0.4"],
    "a swatch in cm": [f"{FLAT}", f"{PAIR},80,18,3.1"],
    "over itself": [FLAT, f"{PAIR},50,180,3"],
    "turned round": [FLAT, "brocade,coutille,80,180,3"],
    "no such layer": [FLAT, "coutille,velvet,80,180,3"],
    "bones that bend": [
        BONED,
        *(f"{PAIR},{d},180,4,7,1.5,yes,3.1,{h}" for d, h in ((80, 5.2), (80, 5.5), (60, 5.6))),
    ],
    "flat bars, of one flat reading": [
        f"{BONED},u_overhang,under",
        *(f"{PAIR},80,180,3,10,2,no,3.1,{high},0.2,0.3" for high in (5.6, 5.9)),
    ],
    "bones of two kinds": [
        BONED,
        f"{PAIR},80,180,4,7,1.5,yes,3.1,8.9",
        f"{PAIR},80,180,3,4,1,,3.1,3.0",
    ],
    "bones that do not agree": [BONED, *(f"{PAIR},80,180,4,7,1.5,,3,{h}" for h in (4, 9, 13))],
    "bones that stand too high": [BONED, f"{PAIR},80,180,4,7,1.5,yes,3.1,14.5"],
    "bones too close": [BONED, f"{PAIR},80,180,9,7,1.5,,3.1,8"],
    "bones exchanged": [BONED, f"{PAIR},80,180,4,7,1.5,,8,3"],
    "pieces of all kinds": [
        PIECES,
        "quilting,brocade,,girth,200,190,,",
        "quilting,brocade,,girth,200,191,,",
        "cording,brocade,,girth,300,291,,",
        "stitching,coutille,,length,250,247,,",
        "shrinkage,coutille,,length,200,196,,",
        "shrinkage,coutille,,girth,200,197,,",
        "shrinkage,lining,,bias,200,198,,",
        "give,brocade,,girth,300,304,,",
        "give,lining,,,300,303,,",
        "give,lining,,length,300,302,,",
        "channels,coutille,,girth,90,88.5,,9",
        "channels,coutille,,girth,120,118,,11",
        "fold,brocade,coutille,,,,3.1,3",
        "fold,brocade,coutille,,,,2.8,4",
    ],
    "pieces that say nothing": [PIECES, "quilting,brocade,,,200,199.8,,"],
    "pieces that do not agree": [PIECES, *(f"give,lining,,,200,{a},," for a in (201, 204, 215))],
    "pieces as one knows them": [
        "test,layer,way,before_cm,after_cm,u_length",
        "shrinkage,coutille,length,20,19.5,0.02",
        "shrinkage,coutille,length,20,19.6,0.02",
    ],
    "pieces drawn larger than may be": [PIECES, *2 * ["cording,brocade,,girth,200,125,,"]],
    "more than can be": [PIECES, "shrinkage,coutille,,,200,110,,", "give,lining,,,200,199,,"],
    "a fold turned round": [PIECES, "fold,coutille,brocade,,,,3,3"],
    "a piece of no layer": [PIECES, "give,velvet,,,200,203,,"],
    "headings that are none": ["inner,outer,formr,length,overhang,ovrhang", f"{PAIR},8,8,8,8"],
    "headings that are not there": ["inner,former", "coutille,8"],
    "units by turns": [FLAT, f"{PAIR},80 mm,180,3", f"{PAIR},80,18 cm,3"],
    "faults of many lines": [
        FLAT,
        f"{PAIR},80,180",
        f"{PAIR},80,180,3,4,5",
        f"{PAIR},eighty,180,3",
        ",brocade,80,180,3",
        f"{PAIR},8,180,3",
        f"{PAIR},3000,180,3",
        f"{PAIR},80,20,3",
        f"{PAIR},80,-5,3",
        f"{PAIR},80,180,190",
        f"{PAIR},80,180,-2",
    ],
    "faults of stated doubts": [
        f"{FLAT},u_overhang,u_former,u_length,under",
        f"{PAIR},80,180,3,0,,,",
        f"{PAIR},80,180,3,,-1,,",
        f"{PAIR},80,180,3,,,-1,",
        f"{PAIR},80,180,3,,,,-1",
    ],
    "faults of bones": [
        BONED,
        f"{PAIR},80,180,4,40,1.5,yes,3,5",
        f"{PAIR},80,180,4,7,12,yes,3,5",
        f"{PAIR},80,180,60,7,1.5,yes,3,5",
        f"{PAIR},80,180,4,7,1.5,yes,3,200",
        f"{PAIR},80,180,4,7,1.5,perhaps,3,5",
        f"{PAIR},80,180,4.5,7,1.5,,3,5",
    ],
    "faults of pieces": [
        PIECES,
        "knitting,brocade,,,200,190,,",
        "quilting,,,,200,190,,",
        "quilting,brocade,,round,200,190,,",
        "quilting,brocade,,,200,,,",
        "fold,brocade,,,,,3,3",
        "fold,brocade,coutille,,,,,3",
        "give,brocade,,,300,290,,",
        "quilting,brocade,,,190,200,,",
        "quilting,brocade,,,200,190,,0",
        "quilting,brocade,,,9,8,,",
        "quilting,brocade,,,200,6000,,",
    ],
    "no line": [FLAT],
    "nothing": [""],
}


def _numbers(values: object) -> str:
    """In thousandths: golden pages are compared to 0.001."""
    return " ".join(f"{1e3 * v + 0.0:.7g}" for v in np.ravel(np.asarray(values, dtype=float)))


def _slope(line: Slope) -> Iterator[str]:
    scatter = "stated" if line.scatter is None else _numbers(line.scatter)
    offset = "" if line.offset is None else f", offset {_numbers([line.offset, line.u_offset])}"
    parts = ", ".join(f"{name} {_numbers(part)}" for name, part in line.parts.items())
    yield (
        f"  value {_numbers(line.value)} uncertainty {_numbers(line.uncertainty)} "
        f"freedom {_numbers(line.freedom)} scatter {scatter}{offset}"
    )
    yield f"  95 % {_numbers(line.interval)}, for an entry {_numbers(line.entry_uncertainty)}"
    yield f"  parts: {parts}"
    yield f"  residuals {_numbers(line.residuals.round(9))}"
    yield f"  standardised {_numbers(line.standardised.round(9))}"
    yield (
        f"  chi-square {_numbers(round(line.chi_square, 9))} chance {_numbers(line.chance)} "
        f"widened {_numbers(line.widened)} consistent {line.consistent} shifted {line.shifted} "
        f"outlier {line.outlier}"
    )


def _of_pair(fit: PairFit) -> Iterator[str]:
    yield f"{fit.pair}: {_numbers(fit.distance)} mm, by thickness {fit.by_thickness}"
    yield f"  inner {_numbers(fit.inner_thickness)} angles {_numbers(fit.angles)}"
    yield from _slope(fit.line)
    yield f"  the one that is off: {fit.outlier}"
    beside = compare(fit, STACK)
    yield f"  {beside.word} by {_numbers(beside.deviations)}: {beside}"
    yield from (f"  {words}" for words in fit.warnings())
    yield f"  {measured_by([fit])}"


def _of_bones(fit: BonedFit) -> Iterator[str]:
    yield f"{fit.said}; share {_numbers(fit.share)}"
    yield from _slope(fit.line)
    yield f"  {fit.job_line}"
    yield from (f"  {words}" for words in fit.warnings())


def _of_pieces(fit: TrialFit) -> Iterator[str]:
    yield f"{fit.said}; {_numbers([fit.taken_up, fit.u_taken_up])}"
    yield from _slope(fit.line)
    yield from (f"  {words}" for words in fit.warnings())


def _come_to(readings: Sequence[Reading]) -> Iterator[str]:
    """All that readings give, fit by fit."""
    first = readings[0]
    if isinstance(first, SwatchReading):
        for pair in fit_in_stack(only(SwatchReading, readings), STACK):
            yield from _of_pair(pair)
    elif isinstance(first, BonedReading):
        for bones in bones_in_stack(only(BonedReading, readings), STACK):
            yield from _of_bones(bones)
    else:
        fits = trials_in_stack(only(Trial, readings), STACK)
        for pieces in fits:
            yield from _of_pieces(pieces)
        for entry in job_entries(fits):
            yield f"  {entry.line} ({_numbers([entry.value, entry.uncertainty])})"


def told_of(lines: Sequence[str]) -> Iterator[str]:
    """What stands in a file, as it was read, and what it comes to; or why not."""
    try:
        readings = parse_csv("\n".join(lines) + "\n", source="readings.csv")
        yield from (f"read: {reading}" for reading in readings)
        yield from _come_to(readings)
    except PanelshiftError as error:
        yield f"REFUSED {error}"


def test_what_whole_files_of_readings_come_to_was_looked_over() -> None:
    told: list[str] = []
    for about, lines in FILES.items():
        told += [f"== {about}", *told_of(lines)]
    assert changes("swatch-readings.txt", "\n".join(told)) == []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("80,200", "'80,200' is not three lengths"),
        ("80,200,6.5,1", "'80,200,6.5,1' is not three lengths"),
        ("80,long,6.5", "length: "),
        ("80,200,6 stone", "overhang: "),
    ],
)
def test_a_reading_in_one_word_is_refused_by_what_is_wrong(text: str, words: str) -> None:
    with pytest.raises(PanelshiftError) as caught:
        parse_reading(text, "coutille", "brocade", origin="reading 2")
    assert caught.value.problem.startswith(words)
    assert caught.value.element == "reading 2"
