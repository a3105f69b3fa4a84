"""Alterations drawn as lines in a layer of the draft: what they say, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from panelshift.job import read_job, resolve
from panelshift.job.new_draft import new_draft
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import group, half, panels, path, write_job
from tests.support.terminal import refused, run

PANELS = half(4)
SECOND, THIRD = PANELS[1:3]
EDGE = SECOND.x + SECOND.waist
"""Where the waist meets the back edge of the second panel; its bottom is 9 mm further out."""

HIP = f"M{EDGE} 200L{EDGE + 9.0 + 6.0} 300"
HEAD = 'fitting_layer = "fitting"\n'


def job(folder: Path, *lines: str, head: str = HEAD) -> Path:
    drawn = "".join(path(line, f"line {k}") for k, line in enumerate(lines))
    return write_job(folder, panels(PANELS) + group(drawn, "fitting"), head=head)


def back_edge(pattern: Pattern, at: float) -> float:
    """How far out the back edge of the second panel lies at a height."""
    panel = pattern["panel 2"]
    points = panel.frame.to_panel(panel.edge("back").flatten())
    own = float(np.interp(at, points[:, 1], points[:, 0]))
    return own + float(panel.frame.to_sheet([0.0, 0.0])[0])


def test_a_line_says_where_its_edge_is_to_lie(tmp_path: Path) -> None:
    plain = resolve(read_job(job(tmp_path, HIP, head='leave_layers = ["fitting"]\n'))).pattern
    found = resolve(read_job(job(tmp_path, HIP)))
    for height in (-99.0, -80.0, -50.0, -20.0, 60.0):
        line = EDGE + 15.0 * max(-height, 0.0) / 100.0
        wanted = line if height < 0.0 else back_edge(plain, height)
        assert back_edge(found.pattern, height) == pytest.approx(wanted, abs=0.3), height
    # Only this panel's edge.
    assert found.pattern["panel 3"].waist_width == plain["panel 3"].waist_width
    assert any("all on panel 2" in words for words in found.warnings)
    # Drawn bottom up, and further than the edge, it says the same.
    longer = f"M{EDGE + 15.0 + 1.5} 310L{EDGE} 200"
    again = resolve(read_job(job(tmp_path, longer))).pattern
    assert back_edge(again, -80.0) == pytest.approx(back_edge(found.pattern, -80.0), abs=0.3)


def test_front_edges_and_centres_go_the_other_way(tmp_path: Path) -> None:
    left, back = THIRD.x, PANELS[3].x + PANELS[3].waist
    lines = f"M{left + 3.0} 70L{left + 3.0} 310", f"M{back - 4.0} 70L{back - 4.0} 310"
    pattern = resolve(read_job(job(tmp_path, *lines))).pattern
    plain = resolve(read_job(job(tmp_path, *lines, head='leave_layers = ["fitting"]\n'))).pattern
    for name, less in (("panel 3", 3.0), ("panel 4", 4.0), ("panel 2", 0.0)):
        got = pattern[name].waist_width
        assert got == pytest.approx(plain[name].waist_width - less, abs=0.3), name


def test_the_new_draft_is_altered_once(tmp_path: Path) -> None:
    found = new_draft(read_job(job(tmp_path, HIP)))
    assert any("take out of [pattern]: fitting_layer" in line for line in found.advice)
    file = job(tmp_path, HIP)
    read_job(file).pattern.file.write_bytes(found.svg)
    told = refused("cut", file, "--out", tmp_path / "out", folder=tmp_path)
    assert "no layer 'fitting'" in told
    made = run("alter", job(tmp_path, HIP), "--out", tmp_path / "draft-2.svg")
    assert made.exit_code == 0, made.output


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([f"M{EDGE + 5.0} 200L{EDGE + 15.0} 300"], "it ends 5.0 mm beside its edge, 120 mm before"),
        (["M900 200L900 300"], "mm from the nearest edge"),
        ([f"M{SECOND.x} 74L{EDGE} 74"], 'edge = "top"'),
        ([HIP, f"M{EDGE} 200L{EDGE + 20.0} 300"], "'line 0' is drawn beside the same edge"),
        ([f"M{EDGE} 200L{EDGE + 4.0} 260L{EDGE + 4.0} 240L{EDGE + 15.0} 300"], "turns back"),
        ([f"M{0.5 * (EDGE + THIRD.x)} 90L{0.5 * (EDGE + THIRD.x)} 290"], "it may be of the"),
        ([f"M{EDGE} 200L{EDGE + 20.0} 300L{EDGE + 25.0} 300Z"], "it is closed"),
        ([f"M{EDGE - 0.1} 195L{EDGE - 0.1} 205"], "it lies on its edge"),
    ],
)
def test_lines_that_are_not_plain_write_nothing(
    tmp_path: Path, lines: list[str], words: str
) -> None:
    file = job(tmp_path, *lines)
    told = refused("cut", file, "--out", tmp_path / "out", folder=tmp_path)
    assert words in " ".join(told.split())


def test_two_lines_beside_one_edge_at_different_heights_both_count(tmp_path: Path) -> None:
    bust = f"M{EDGE} 200L{EDGE + 6.0 + 5.0} 80"
    plain = resolve(read_job(job(tmp_path, HIP, head='leave_layers = ["fitting"]\n'))).pattern
    found = resolve(read_job(job(tmp_path, HIP, bust))).pattern
    for height, line in ((-80.0, EDGE + 12.0), (80.0, EDGE + 11.0 * 80.0 / 120.0)):
        assert back_edge(found, height) == pytest.approx(line, abs=0.3)
        assert back_edge(found, height) > back_edge(plain, height) + 0.5
