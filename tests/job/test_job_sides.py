"""Left and right apart: a half drawn out to both, altered on one, and names that mean both."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from panelshift.body import ClassModel, SectionModel
from panelshift.body.turn import turn_of_cloth
from panelshift.draft import Reading, assemble
from panelshift.errors import AlterationError, JobError, PatternError
from panelshift.job import read_job, resolve
from panelshift.job.new_draft import new_draft
from panelshift.job.resolved import Job
from panelshift.job.result import cut
from panelshift.pattern.pattern import Pattern
from panelshift.pattern.two_sides import both_sides, first_side, side_of
from panelshift.shift import shift
from panelshift.sources.svg import read_svg
from panelshift.stack import Fabric, Stack
from tests.support.drafts import HOURGLASS, Sheet, drawn
from tests.support.drawings import half, panels, write_job
from tests.support.runs import SAMPLES, read_pattern

LEFT = '[[alteration]]\nseam = "2 to 3"\nlet_out = 6\nfrom = "bottom"\nto = "top"\nrun_out = 10\n'
LEFT += 'side = "left"\n'


def made(folder: Path, rest: str = LEFT, stack: str = "") -> Job:
    given = {"stack": stack} if stack else {}
    return resolve(read_job(write_job(folder, panels(half(4)), rest=rest, **given)))


@pytest.mark.parametrize("body", [ClassModel(), SectionModel()], ids=["classes", "section"])
def test_a_full_draft_of_two_equal_halves_gives_the_layers_of_the_half(
    body: ClassModel | SectionModel,
) -> None:
    one = read_pattern(drawn(HOURGLASS.panels()))
    stack = Stack([Fabric("lining", 0.3), Fabric("drill", 0.6), Fabric("silk", 0.9)], "drill")
    classes = ("front", "front", "side", "side", "back", "back")
    whole = both_sides(one)
    half_shifted = shift(one, stack, turn_of_cloth(one, body, classes, gap=40.0))
    order = classes[::-1] + classes
    shifted = shift(whole, stack, turn_of_cloth(whole, body, order, gap=40.0))
    for own, both in zip(half_shifted.layers, shifted.layers, strict=True):
        for panel in own.whole:
            for side in ("left", "right"):
                mate = both.whole[f"{side} {panel.name}"]
                for edge in ("front", "top", "back", "bottom"):
                    at = np.linspace(0.0, 1.0, 9)
                    points = [
                        p.frame.to_panel(p.edge(edge).points(at * len(p.edge(edge))))
                        for p in (panel, mate)
                    ]
                    assert np.abs(points[0] - points[1]).max() < 1e-6, (side, panel.name, edge)
    assert whole.waist == pytest.approx(one.waist)
    worst = [
        max(abs(walk.difference) for layer in found.layers for walk in layer.walk())
        for found in (half_shifted, shifted)
    ]
    assert worst[1] == pytest.approx(worst[0], abs=1e-6)


@pytest.mark.parametrize("mirrored", [False, True])
def test_the_half_with_its_front_on_the_left_is_the_left_one(mirrored: bool) -> None:
    svg = drawn(HOURGLASS.panels(), Sheet(mirrored=mirrored))
    order = tuple(f"panel {k}" for k in range(1, 7))
    one = assemble(read_svg(svg, name="half.svg"), Reading(order=order, halves="half"))
    whole = both_sides(one)
    drawn_side = "right" if mirrored else "left"
    assert whole[f"{drawn_side} panel 2"].outline == one["panel 2"].outline
    assert [panel.name for panel in whole][::11] == ["right panel 6", "left panel 6"]
    assert first_side(whole) == "right"
    with pytest.raises(PatternError, match="both halves are drawn"):
        both_sides(whole)


def test_names_tell_sides() -> None:
    told = [side_of(name) for name in ("left front", "CF_R", "back", "left of right", "Belt")]
    assert told == ["left", "right", None, None, None]
    assert [side_of(name) for name in ("L5", "r2", "upright", "Bright")] == [
        "left",
        "right",
        None,
        None,
    ]


@pytest.mark.slow
def test_one_side_altered_makes_both_marked_and_counted(tmp_path: Path) -> None:
    found = made(tmp_path)
    names = [f"{side} panel {k}" for side, ks in (("right", (4, 3, 2, 1)), ("left", (1, 2, 3, 4)))
             for k in ks]  # fmt: skip
    assert [panel.name for panel in found.pattern] == names
    plain = resolve(read_job(write_job(tmp_path, panels(half(4)))))
    assert found.pattern.waist == pytest.approx(plain.pattern.waist + 6.0)
    for k in range(1, 5):
        right, own = found.pattern[f"right panel {k}"], plain.pattern[f"panel {k}"]
        assert right.waist_width == pytest.approx(own.waist_width, abs=1e-9)
    result = cut(found)
    assert {(line.drawn, line.mirrored) for line in result.lines} == {(1, 0)}
    assert any("marked left and right (the wearer's)" in words for words in result.warnings)
    for text in (drawing.decode() for name, drawing in result.drawings.items() if "layer" in name):
        assert "left panel 2" in text
        assert "right panel 2" in text


def waists(pattern: Pattern) -> dict[str, float]:
    return {panel.name: panel.waist_width for panel in pattern}


def test_what_names_no_side_is_made_on_both_and_centres_have_sides(tmp_path: Path) -> None:
    both = '[[alteration]]\nseam = "centre back"\ntake_in = { waist = 2, "+50 mm" = 2 }\n'
    one = both.replace("2", "3") + 'side = "right"\non = "4"\n'
    found = waists(made(tmp_path, both + one).pattern)
    plain = waists(resolve(read_job(write_job(tmp_path, panels(half(4))))).pattern)
    assert found["left panel 4"] == pytest.approx(plain["panel 4"] - 2.0)
    assert found["right panel 4"] == pytest.approx(plain["panel 4"] - 5.0)


def test_names_without_their_side_mean_both(tmp_path: Path) -> None:
    stack = (
        '[stack]\ndrafted_layer = "drill"\n[[stack.fabric]]\nname = "drill"\nthickness = 0.5\n'
        '[[stack.fabric]]\nname = "silk"\nthickness = 0.2\npanels = ["panel 1", "left panel 2"]\n'
        '[[stack.fabric]]\nname = "lawn"\nthickness = 0.2\n'
        'cut_in_one = [["panel 3", "panel 4"], ["left panel 1", "left panel 2"]]\n'
    )
    rest = (
        LEFT + '[panel."panel 3"]\nclass = "side"\ncut = 4\n[panel."panel 4"]\ncut = 4\n'
        '[panel."panel 1"]\nclass = "front"\nmirrored = true\n'
        '[panel."left panel 3"]\nclass = "back"\n'
        '[construction]\n[[construction.bones]]\non = "drill"\nwidth = 7\nthickness = 1.5\n'
        'per_panel = { "panel 2" = 2, "left panel 1" = 1 }\n'
    )
    found = made(tmp_path, rest, stack)
    classes = dict(zip([panel.name for panel in found.pattern], found.classes, strict=True))
    assert (classes["left panel 3"], classes["right panel 3"]) == ("back", "side")
    assert found.plan.cuttings["right panel 3"].sides == (2, 0)
    # Mirror images of each other, they are pieces of their own.
    assert not found.plan.cuttings["left panel 1"].mirrored
    _, silk, lawn = found.stack.fabrics
    assert silk.panels == {"left panel 1", "right panel 1", "left panel 2"}
    assert lawn.cut_in_one == (
        ("left panel 3", "left panel 4"),
        ("right panel 3", "right panel 4"),
        ("left panel 1", "left panel 2"),
    )
    assert found.sewn is not None
    (bones,) = found.sewn.construction.bones
    assert bones.per_panel == {"left panel 2": 2, "right panel 2": 2, "left panel 1": 1}


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ('fold = "front"', "lies on the fold"),
        ("cut = 3", "cut 3 times, not half of them for each side"),
        ("cut = 2\nmirrored = false", "cut 2 times, not half"),
    ],
)
def test_what_makes_one_piece_of_both_sides_is_refused(
    tmp_path: Path, said: str, told: str
) -> None:
    with pytest.raises(JobError, match=told):
        made(tmp_path, f'{LEFT}[panel."panel 1"]\n{said}\n')


@pytest.mark.slow
def test_gores_are_on_both_sides_but_in_no_new_draft(tmp_path: Path) -> None:
    shutil.copy(SAMPLES / "gored.svg", tmp_path)
    text = (SAMPLES / "gored.toml").read_text(encoding="utf-8")
    asked = '[[alteration]]\nseam = "centre back"\ntake_in = { waist = 4, "-80 mm" = 0 }\n'
    (tmp_path / "job.toml").write_text(f'{text}{asked}side = "left"\n', encoding="utf-8")
    job = read_job(tmp_path / "job.toml")
    pattern = resolve(job).pattern
    assert {f"{side} hip gore" for side in ("left", "right")} < {panel.name for panel in pattern}
    assert pattern.waist == pytest.approx(656.0, abs=1e-3)
    with pytest.raises(AlterationError, match="a left and a right one of every gore"):
        new_draft(job)
    assert new_draft(job, saved=False).svg == b""
    (tmp_path / "job.toml").write_text(text + asked, encoding="utf-8")
    half = new_draft(read_job(tmp_path / "job.toml"))
    assert half.altered.pattern.waist == pytest.approx(652.0, abs=1e-3)


def test_the_new_draft_has_both_and_goes_with_the_same_job(tmp_path: Path) -> None:
    rest = LEFT + '[panel."panel 3"]\nclass = "side"\n'
    file = write_job(tmp_path, panels(half(4)), rest=rest)
    found = new_draft(read_job(file))
    assert found.advice[0] == 'in [pattern]: file = "draft-2.svg", halves = "full"'
    # An order by the names of the half would not be that of both.
    joined = rest.replace("class", 'joins = "panel 4"\nclass')
    advice = new_draft(read_job(write_job(tmp_path, panels(half(4)), rest=joined))).advice
    assert 'order = ["right panel 4", "right panel 3", "right panel 2"' in advice[0]
    assert advice[1] == 'take out of [panel."panel 3"]: joins'
    again = tmp_path / "again"
    again.mkdir()
    second = write_job(again, "", head='halves = "full"', rest=rest.removeprefix(LEFT))
    read = read_job(second)
    read.pattern.file.write_bytes(found.svg)
    job = resolve(read)
    assert waists(job.pattern) == pytest.approx(waists(found.altered.pattern), abs=1e-3)
    assert set(job.file.panel) == {"left panel 3", "right panel 3"}
