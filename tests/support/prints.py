"""Sheets and jobs to be printed."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from panelshift.cutting.composing import ruler_squares
from panelshift.job import read_job, resolve
from panelshift.job.resolved import Job
from panelshift.job.result import print_job
from panelshift.outline import Curve
from panelshift.printing import PageOptions, parse_paper
from panelshift.printing.sheet_prints import PrintedFile
from panelshift.sheets.sheet import Label, Sheet, Stroke

from .runs import SAMPLES

GREETING = "Zażółć gęślą jaźń · Ξεσκεπάζω την ψυχοφθόρα · 絹のブロケード・金茶"
"""Every Polish letter with a mark, accented Greek, and kanji with both kana."""


def options(paper: str = "a4", margin: float = 10.0, overlap: float = 10.0) -> PageOptions:
    return PageOptions(parse_paper(paper), margin, overlap)


def waisted(left: float, top: float, width: float, height: float) -> Curve:
    """A closed outline with curved sides, all cubics and lines."""
    right, bottom, nip = left + width, top + height, 0.2 * width
    mid = top + 0.5 * height

    def side(x: float, y0: float, y1: float, x1: float) -> list[list[float]]:
        step = (y1 - y0) / 3.0
        return [[x, y0], [x, y0 + step], [x1, y1 - step], [x1, y1]]

    parts = [
        Curve.polyline([(left, top), (right, top)]),
        Curve.cubics([side(right, top, mid, right - nip), side(right - nip, mid, bottom, right)]),
        Curve.polyline([(right, bottom), (left, bottom)]),
        Curve.cubics([side(left, bottom, mid, left + nip), side(left + nip, mid, top, left)]),
    ]
    return Curve.chain(parts, closed=True)


def sheet(width: float = 420.0, height: float = 390.0) -> Sheet:
    """Two panels with most kinds of lines and labels, one over the corner where pages meet."""
    one = waisted(12.3, 14.7, 0.42 * width, height - 31.0)
    two = waisted(0.52 * width, 22.1, 0.45 * width, height - 47.0)
    inner = waisted(22.3, 24.7, 0.42 * width - 20.0, height - 51.0)
    level = 0.47 * height
    strokes = (
        Stroke("cut-line", one, "1"),
        Stroke("cut-line", two, "2"),
        Stroke("stitch-line", inner, "1"),
        Stroke("waistline", Curve.polyline([(20.0, level), (width - 20.0, level + 3.0)])),
        Stroke("level-lines", Curve.polyline([(20.0, 70.0), (width - 20.0, 71.0)])),
        Stroke("notches", Curve.polyline([(40.0, 150.0), (50.0, 150.0)])),
        Stroke("grainlines", Curve.polyline([(100.0, 60.0), (100.0, height - 60.0)])),
        Stroke("bone-channels", Curve.polyline([(130.0, 60.0), (133.0, height - 60.0)])),
        Stroke("marks", Curve.polyline([(300.0, 60.0), (303.0, height - 60.0)])),
    )
    labels = (
        Label("OHO", np.array([190.0, 265.0]), 11.0, align="middle", bold=True),
        Label("turned", np.array([60.0, 260.0]), 6.0, angle=-0.5 * np.pi, drafted=True),
        Label("start", np.array([230.0, 200.0]), 8.0),
    )
    return Sheet("two panels", width, height, strokes, labels)


def squares_sheet(width: float = 400.0, height: float = 300.0) -> Sheet:
    """A sheet that brings its own test squares, as a cutting file does."""
    strokes, labels = ruler_squares(15.0, 15.0)
    rest = sheet(width, height)
    return replace(rest, strokes=(*strokes, *rest.strokes), labels=(*labels, *rest.labels))


@cache
def sample_prints() -> tuple[PrintedFile, ...]:
    """The sample's layers on a4, printed once for all that look at them."""
    return tuple(print_job(sample_job(), options()))


@cache
def sample_job(name: str = "hourglass") -> Job:
    return resolve(read_job(SAMPLES / f"{name}.toml"))
