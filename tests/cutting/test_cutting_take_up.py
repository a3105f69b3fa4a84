"""What sewing takes up of a cloth is drawn larger: rectangles, seams, prints, needs, and words."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from panelshift import DraftPanel, Fabric, Stack, StackError, cut, pattern_from_panels, resolve
from panelshift.cutting.layer_sheets import layer_sheet, nested_sheet
from panelshift.cutting.plan import Allowances, CutPlan, cut_layers
from panelshift.cutting.verdict import verdict, walked_as_cut
from panelshift.fit.fact_rows import facts_json, rows
from panelshift.fit.html_page import walk_summary
from panelshift.job import read_job
from panelshift.job.result import fit_job
from panelshift.needs.pieces import layer_pieces
from panelshift.sources.svg import parse_svg
from tests.support.drawings import STACK, Draft, panels, path, write_job
from tests.support.runs import SAMPLES
from tests.support.terminal import refused, run

WIDE, LONG = 0.04, 0.02
TAKEN = STACK.replace("thickness = 0.2", 'thickness = 0.2\ntake_up = "4 %"\ntake_up_length = 0.02')

# Two rectangles 100 by 200, the waist at 80 below the top, with a notch and a channel.
BODY = (
    '<path id="1" d="M20 20H120V220H20Z"/><path id="2" d="M160 20H260V220H160Z"/>'
    '<path id="waist" d="M0 100H280"/>'
    '<path id="notch-1" class="notch" d="M120 60H114"/>'
    '<path id="bone-1" class="bone" d="M40 30V210"/>'
)


def boxes(data: bytes, kind: str) -> list[np.ndarray]:
    """Boxes of the lines of a kind on a written sheet, from left to right."""
    shapes = [shape for shape in parse_svg(data).shapes if kind in shape.groups]
    found = [np.array(shape.curve.bounds()).reshape(2, 2) for shape in shapes]
    return sorted(found, key=lambda box: float(box[0, 0]))
