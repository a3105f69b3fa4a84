"""The two sample patterns laid on cloth."""

from __future__ import annotations

import os
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from shapely.geometry import Polygon

from panelshift.cutting.layer_sheets import layer_sheet
from panelshift.cutting.parts import upright
from panelshift.cutting.plan import CutPlan, Cutting, cut_layers
from panelshift.needs import packing
from panelshift.needs.buying import ClothOptions, FabricNeeds, fabric_needs
from panelshift.needs.cloth_picture import layout_picture
from panelshift.needs.pieces import layer_pieces
from panelshift.shift import LayerPattern
from tests.support.cloth import faults
from tests.support.runs import SAMPLES as FOLDER, sample

NAMES = ("hourglass", "fuller_figure")
SAMPLES = (NAMES[0], pytest.param(NAMES[1], marks=pytest.mark.slow))
WIDTHS = (914.0, 1400.0)


@cache
def needs(name: str, effort: int = 4) -> FabricNeeds:
    """All layouts of a sample; little effort finds layouts that are as sound, only longer."""
    result = sample(name)
    options = {f.name: ClothOptions(WIDTHS) for f in result.job.stack.fabrics}
    return fabric_needs(result.shifted, result.job.plan, options, effort=effort)


def coutille(name: str) -> LayerPattern:
    layers = cut_layers(sample(name).shifted)
    return next(layer for layer in layers if layer.fabric.name == "coutille")


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
def test_every_layout_is_sound(name: str) -> None:
    found = needs(name)
    assert found.warnings == ()
    for layout in found.layouts:
        assert faults(layout) == [], (layout.fabric, layout.cloth_width)
        assert layout.nested


@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.slow
def test_fabrics_and_widths_come_in_order(name: str) -> None:
    cut = [layer.fabric.name for layer in cut_layers(sample(name).shifted)]
    listed = [(layout.fabric, layout.cloth_width) for layout in needs(name).layouts]
    assert listed == [(fabric, width) for fabric in cut for width in WIDTHS]


@pytest.mark.slow
def test_lengths_stay_where_they_were_found() -> None:
    # Wide bands: another kind of processor may round the solver's single precision otherwise.
    found = {(n, la.cloth_width): la.length for n in NAMES for la in needs(n, 20).layouts}
    assert found["hourglass", 1400.0] == pytest.approx(393.4, abs=0.5)
    assert found["hourglass", 914.0] < 700.0
    assert found["fuller_figure", 914.0] < 800.0
    assert found["fuller_figure", 1400.0] < 722.0
    above = {(n, la.cloth_width): la.above_bound for n in NAMES for la in needs(n, 20).layouts}
    assert above["hourglass", 1400.0] < 1e-4
    assert above["hourglass", 914.0] < 0.08
    assert above["fuller_figure", 914.0] < 0.12


@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.slow
def test_each_panel_is_cut_twice_once_mirrored(name: str) -> None:
    panels = [panel.name for panel in sample(name).job.pattern.panels]
    for layout in needs(name).layouts:
        counts = Counter((lying.name, lying.mirrored) for lying in layout.laid)
        assert counts == Counter((p, m) for p in panels for m in (False, True))


def _sense(points: np.ndarray) -> float:
    x, y = points[:-1].T
    x1, y1 = points[1:].T
    return float(np.sign((x * y1 - x1 * y).sum()))


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
def test_mirrored_pieces_are_mirror_images(name: str) -> None:
    for layout in needs(name).layouts:
        pairs: dict[str, dict[bool, np.ndarray]] = {}
        for lying in layout.laid:
            ring = lying.outline.flatten(0.05)
            assert np.linalg.det(lying.matrix[:, :2]) == (-1.0 if lying.mirrored else 1.0)
            pairs.setdefault(lying.name, {})[lying.mirrored] = ring
        for pair in pairs.values():
            # The same points drawn round the other way, and the same area.
            assert _sense(pair[True]) == -_sense(pair[False])
            assert Polygon(pair[True]).area == pytest.approx(Polygon(pair[False]).area)


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
def test_pieces_are_the_cut_lines_of_the_cutting_file(name: str) -> None:
    result, layer = sample(name), coutille(name)
    sheet = layer_sheet(result.shifted, layer, result.job.plan)
    drawn = {s.panel: s.curve for s in sheet.strokes if s.kind == "cut-line"}
    for layout in needs(name).layouts:
        if layout.fabric == "coutille":
            for lying in layout.laid:
                area = Polygon(drawn[lying.name].flatten(0.05)).area
                assert lying.piece.area == pytest.approx(area, rel=1e-9)


@pytest.mark.slow
@pytest.mark.parametrize(
    "changed", [{"corners": "mirrored"}, {"corners": "squared"}, {"mitre_limit": 1.01}]
)
def test_corners_are_those_of_the_cutting_file(changed: dict[str, Any]) -> None:
    result, layer = sample("hourglass"), coutille("hourglass")
    plan = replace(result.job.plan, **changed)
    usual = {p.name: p.area for p in layer_pieces(result.shifted, layer, result.job.plan)}
    sheet = layer_sheet(result.shifted, layer, plan)
    drawn = {s.panel: s.curve.flatten(0.05) for s in sheet.strokes if s.kind == "cut-line"}
    pieces = layer_pieces(result.shifted, layer, plan)
    for piece in pieces:
        assert piece.area == pytest.approx(Polygon(drawn[piece.name]).area, rel=1e-9)
    assert any(abs(piece.area - usual[piece.name]) > 1.0 for piece in pieces)


@pytest.mark.slow
def test_the_matrix_carries_the_upright_panel_to_the_cloth() -> None:
    result, layer = sample("hourglass"), coutille("hourglass")
    drafted = result.shifted.turn.pattern.panels
    panels = {panel.name: panel for panel in layer.pattern.panels}
    for layout in needs("hourglass").layouts:
        if layout.fabric == "coutille":
            for lying in layout.laid:
                index = [p.name for p in drafted].index(lying.name)
                stitch = panels[lying.name].outline.transformed(upright(drafted[index]))
                inside = Polygon(stitch.transformed(lying.matrix).flatten(0.05))
                assert Polygon(lying.outline.flatten(0.05)).contains(inside)


def test_counts_follow_the_plan() -> None:
    result, layer = sample("hourglass"), coutille("hourglass")
    plan = CutPlan(cuttings={"2 front": Cutting(5), "4 side": Cutting(3, mirrored=False)})
    pieces = layer_pieces(result.shifted, layer, plan)
    counts = Counter((piece.name, piece.mirrored) for piece in pieces)
    assert counts["2 front", False] == 3
    assert counts["2 front", True] == 2
    assert counts["4 side", False] == 3
    assert counts["4 side", True] == 0
    assert [p.copy for p in pieces if p.name == "2 front"] == [1, 2, 3, 4, 5]


def test_a_panel_on_the_fold_is_laid_whole() -> None:
    result, layer = sample("hourglass"), coutille("hourglass")
    plan = CutPlan(cuttings={"6 centre back": Cutting(1, mirrored=False, fold="back")})
    whole = layer_pieces(result.shifted, layer, plan)[-1]
    sheet = layer_sheet(result.shifted, layer, plan)
    half = [s.curve for s in sheet.strokes if s.kind == "cut-line"][-1]
    assert whole.area == pytest.approx(2.0 * Polygon(half.flatten(0.05)).area, rel=1e-6)
    # Alike on both sides of the fold, which runs along the grain.
    middle = 0.5 * (whole.box[0, 0] + whole.box[1, 0])
    image = Polygon(whole.ring * (-1.0, 1.0) + (2.0 * middle, 0.0))
    assert image.symmetric_difference(Polygon(whole.ring)).area < 1.0
    assert whole.width == pytest.approx(2.0 * float(np.ptp(half.flatten()[:, 0])), abs=0.2)


@pytest.mark.slow
def test_a_curved_fold_is_warned_of() -> None:
    result = sample("hourglass")
    plan = CutPlan(cuttings={"2 front": Cutting(1, mirrored=False, fold="back")})
    found = fabric_needs(result.shifted, plan, effort=0)
    assert "'2 front' is laid as mirrored about its back edge" in found.warnings[0]


def test_cloth_narrower_than_a_piece_is_named_and_the_rest_is_laid() -> None:
    result = sample("hourglass")
    options = {"coutille": ClothOptions((100.0, 1400.0))}
    found = fabric_needs(result.shifted, result.job.plan, options, effort=0)
    (warning,) = found.warnings
    assert "coutille: piece '4 side' is 117 mm" in warning
    assert "100 mm wide" in warning
    listed = [(layout.fabric, layout.cloth_width) for layout in found.layouts]
    assert ("coutille", 1400.0) in listed
    assert ("coutille", 100.0) not in listed


@pytest.mark.slow
def test_rows_stand_in_where_the_library_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(packing.sys, "executable", "")
    result = sample("hourglass")
    options = {f.name: ClothOptions((914.0,)) for f in result.job.stack.fabrics}
    found = fabric_needs(result.shifted, result.job.plan, options)
    assert all(faults(layout) == [] for layout in found.layouts)
    assert not any(layout.nested for layout in found.layouts)
    assert found.warnings[-1].startswith("fabric needs: the nesting library could not be used")


@pytest.mark.parametrize("answer", ["null", "[]", "[[0.0, 0.0, 0.0]]", "nonsense"])
@pytest.mark.slow
def test_a_solver_that_gives_up_or_errs_costs_nothing(
    answer: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(packing, "_run_child", lambda task: answer)
    pieces = layer_pieces(
        sample("hourglass").shifted, coutille("hourglass"), sample("hourglass").job.plan
    )
    found = packing.nest(pieces, 914.0)
    rows = packing.nest(pieces, 914.0, effort=0)
    assert [tuple(p.at) for p in found.laid] == [tuple(p.at) for p in rows.laid]


def test_a_layout_with_overlaps_is_not_believed(monkeypatch: pytest.MonkeyPatch) -> None:
    heap = "[" + ", ".join(["[0.0, 0.0, 200.0]"] * 12) + "]"
    monkeypatch.setattr(packing, "_run_child", lambda task: heap)
    result = sample("hourglass")
    pieces = layer_pieces(result.shifted, coutille("hourglass"), result.job.plan)
    assert packing.laid_length(packing.nest(pieces, 914.0).laid) > 600.0


SCRIPT = """
import sys
from pathlib import Path
from panelshift.job import read_job
from panelshift.job import resolve
from panelshift.job.result import shift_job
from panelshift.needs.buying import ClothOptions, fabric_needs
from panelshift.needs.cloth_picture import layout_picture
job = resolve(read_job(Path(sys.argv[1])))
cloth = {f.name: ClothOptions((914.0,)) for f in job.stack.fabrics}
for layout in fabric_needs(shift_job(job), job.plan, cloth, effort=15).layouts:
    print(layout_picture(layout))
"""


@pytest.mark.slow
def test_another_process_draws_the_same_bytes() -> None:
    result = sample("hourglass")
    cloth = {f.name: ClothOptions((914.0,)) for f in result.job.stack.fabrics}
    here = fabric_needs(result.shifted, result.job.plan, cloth, effort=15).layouts
    there = subprocess.run(
        [sys.executable, "-W", "error", "-c", SCRIPT, str(FOLDER / "hourglass.toml")],
        capture_output=True,
        check=True,
        text=True,
        env={**os.environ, "PYTHONHASHSEED": "7"},
    ).stdout
    assert [layout_picture(layout) for layout in here] == there.splitlines()
