"""What the fit sheet says of each layer, measured on the cutting files that were written."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from panelshift.cutting.layer_sheets import layer_stem
from panelshift.draft import Reading, assemble
from panelshift.files import safe_name
from panelshift.fit.facts import FitFacts
from panelshift.job import cut, read_job, resolve
from panelshift.job.result import fit_job
from panelshift.outline.measure import length
from panelshift.pattern.panel import Level, Panel
from panelshift.pattern.pattern import Pattern
from panelshift.sources.svg import read_svg
from tests.support.runs import SAMPLES

JOBS = ["hourglass", pytest.param("fuller_figure", marks=pytest.mark.slow)]

FILE_MM = 0.01
"""Curves are written to 0.001 mm and refitted to 0.005."""


@cache
def facts(name: str) -> FitFacts:
    return fit_job(resolve(read_job(SAMPLES / f"{name}.toml")))


@cache
def written(name: str) -> dict[str, Pattern]:
    """Every cutting file of a sample, written and read back, by layer."""
    result = cut(resolve(read_job(SAMPLES / f"{name}.toml")))
    names = [panel.name for panel in result.job.pattern.panels]
    # A cutting file names its stitch lines after the panels.
    order = Reading(tuple(f"stitch-line-{safe_name(name)}" for name in names))
    files = {}
    for layer in facts(name).layers:
        drawing = read_svg(result.drawings[f"{layer_stem(layer)}.svg"], name="layer.svg")
        read = assemble(drawing, order)
        panels = [replace(p, name=n) for p, n in zip(read.panels, names, strict=True)]
        files[layer.fabric.name] = replace(read, panels=tuple(panels))
    return files


def from_top(panel: Panel) -> list[Level]:
    return sorted(panel.level_lines, key=lambda level: -level.height)


def width(name: str, layer: str, panel: str, level: str) -> float:
    """Length of a level line between the stitch edges in a written file.

    Files do not name their level lines: the draft says which one is which, from the top.
    """
    pattern = written(name)[layer]
    index = pattern.index(panel)
    draft = from_top(facts(name).pattern.panels[index])
    lines = from_top(pattern.panels[index])
    assert len(lines) == len(draft)
    return length(lines[[item.name for item in draft].index(level)].curve)


@pytest.mark.parametrize("name", JOBS)
@pytest.mark.slow
def test_strain_and_excess_are_those_of_the_files(name: str) -> None:
    sheet = facts(name)
    drafted = sheet.drafted
    outer = inner = 0
    for item in sheet.alike:
        own = width(name, item.layer, item.panel, item.level)
        kept = width(name, drafted, item.panel, item.level)
        assert own - kept == pytest.approx(item.growth, abs=FILE_MM)
        if item.strain is not None:
            assert (own - kept) / kept == pytest.approx(item.strain, abs=FILE_MM / kept)
            outer += 1
        if item.buckle is not None:
            assert kept - own == pytest.approx(-item.growth, abs=FILE_MM)
            inner += 1
    panels = len(sheet.pattern.panels)
    assert outer >= panels
    assert inner >= panels


@pytest.mark.slow
@pytest.mark.parametrize("name", JOBS)
def test_growth_is_that_of_the_files(name: str) -> None:
    sheet, files = facts(name), written(name)
    drafted = sheet.drafted
    compared = [item for item in sheet.grown if item.layer in files]
    for item in compared:
        grown = width(name, item.layer, item.panel, item.level) - width(
            name, drafted, item.panel, item.level
        )
        assert grown == pytest.approx(item.growth, abs=FILE_MM)
    levels = sum(1 + len(panel.levels) for panel in sheet.pattern.panels)
    assert len(compared) == levels * len(files)


@pytest.mark.slow
@pytest.mark.parametrize("name", JOBS)
def test_corset_alone_is_the_sum_of_the_written_panels(name: str) -> None:
    sheet, files = facts(name), written(name)
    for row in sheet.yours:
        for layer, pattern in files.items():
            both = 2.0 * sum(width(name, layer, p.name, row.level) for p in pattern.panels)
            room = 2.0 * FILE_MM * len(pattern.panels)
            assert row.edge_to_edge[layer] == pytest.approx(both, abs=room)


@pytest.mark.parametrize("name", JOBS)
def test_walked_seams_are_as_long_as_in_the_files(name: str) -> None:
    sheet, files = facts(name), written(name)
    walked = {
        (layer, seam.name): (seam.first, seam.second)
        for layer, pattern in files.items()
        for seam in pattern.walk()
    }
    assert len(sheet.walks) == len(walked) > 0
    for walk in sheet.walks:
        first, second = walked[walk.layer, walk.seam]
        assert (walk.first, walk.second) == pytest.approx((first, second), abs=2.0 * FILE_MM)
        assert walk.difference == pytest.approx(walk.first - walk.second)
        assert walk.passes


def test_pieces_cut_alike_would_be_as_far_out_as_stated(tmp_path: Path) -> None:
    # The same job with no thickness at all is the pattern of one who cuts all layers alike.
    text = (SAMPLES / "hourglass.toml").read_text()
    for thickness in ("0.2", "0.5", "0.45", "1.5", "0.3", "0.65"):
        text = text.replace(f"thickness = {thickness} ", "thickness = 0 ")
        text = text.replace(f"thickness = {thickness}\n", "thickness = 0\n")
    text = text.replace('"hourglass.svg"', f'"{SAMPLES / "hourglass.svg"}"')
    job = tmp_path / "alike.toml"
    job.write_text(text)
    alike = fit_job(resolve(read_job(job)))
    assert all(item.growth == 0.0 for item in alike.grown)
    needed = {(i.layer, i.panel, i.level): i for i in facts("hourglass").alike}
    for panel in alike.pattern.panels:
        for level in panel.level_lines:
            item = needed["brocade", panel.name, level.name]
            assert item.strain is not None
            full = width("hourglass", "brocade", panel.name, level.name)
            assert level.width * (1.0 + item.strain) == pytest.approx(full, abs=FILE_MM)
