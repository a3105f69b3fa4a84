"""What sewing takes up of a cloth is drawn larger: rectangles, seams, prints, needs, and words."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from panelshift import DraftPanel, Fabric, Stack, pattern_from_panels, shift_pattern
from panelshift.cutting.layer_sheets import layer_sheet, nested_sheet, overlay_sheet
from panelshift.cutting.plan import CutPlan, cut_layers, drawn_larger
from panelshift.cutting.verdict import verdict, walked_as_cut
from panelshift.errors import StackError
from panelshift.fit.fact_rows import facts_json, rows
from panelshift.fit.html_page import walk_summary
from panelshift.job import Job, cut, read_job, resolve
from panelshift.job.result import fit_job, shift_job
from panelshift.needs.pieces import layer_pieces
from panelshift.outline import Curve
from panelshift.printing.layer_prints import print_layers
from panelshift.printing.paper import parse_paper
from panelshift.printing.tiling import PageOptions
from panelshift.shift import Shifted
from panelshift.sources.svg import read_svg
from tests.support.drawings import STACK, Draft, panels, write_job
from tests.support.runs import SAMPLES
from tests.support.terminal import refused, run

# Rectangles 100 by 200, the waist 80 below the top, a notch and a channel on the first.
BODY = (
    '<path id="1-front" d="M20 20H120V220H20Z"/><path id="2-back" d="M160 20H260V220H160Z"/>'
    '<path id="waist" d="M0 100H280"/><path id="bust" d="M0 50H280"/>'
    '<path id="notch-1" d="M120 60H114"/><path id="bone-1" d="M50 30V210"/>'
)

WIDER = STACK.replace("thickness = 0.2", 'thickness = 0.2\ntake_up = "4 %"')
BOTH = WIDER.replace('take_up = "4 %"', 'take_up = "4 %"\ntake_up_length = 0.02')


def job_of(folder: Path, stack: str, rest: str = "", body: str = BODY) -> Job:
    # The lining keeps the drafted size, so that only take-up moves its lines.
    stack = '[stack]\ndrafted_layer = "lining"\n' + stack
    return resolve(read_job(write_job(folder, body, stack=stack, rest=rest)))


def lines(data: bytes, kind: str) -> list[Curve]:
    """Lines of a kind in a written file, from left to right."""
    shapes = read_svg(data, name="written.svg").shapes
    found = [s.curve for s in shapes if s.groups and s.groups[-1] == kind]
    return sorted(found, key=lambda curve: float(curve.bounds()[0, 0]))


def size(curve: Curve) -> list[float]:
    low, high = curve.bounds()
    return [float(v) for v in high - low]


# -- a rectangle, read back from the file ---------------------------------------------------


@pytest.mark.parametrize(("stack", "longer"), [(WIDER, 1.0), (BOTH, 1.0 / 0.98)])
def test_a_rectangle_is_drawn_larger_before_its_allowance(
    tmp_path: Path, stack: str, longer: float
) -> None:
    file = cut(job_of(tmp_path, stack)).drawings["layer-1-lining.svg"]
    for outline, outer in zip(lines(file, "stitch-line"), lines(file, "cut-line"), strict=True):
        assert size(outline) == pytest.approx([100.0 / 0.96, 200.0 * longer], abs=2e-3)
        # The allowance is not stretched: 10 mm on each side, as always.
        assert size(outer) == pytest.approx([100.0 / 0.96 + 20.0, 200.0 * longer + 20.0], abs=2e-3)
        waist = next(
            w for w in lines(file, "waistline") if w.bounds()[0, 0] >= outer.bounds()[0, 0]
        )
        below_top = waist.start[1] - outline.bounds()[0, 1]
        assert below_top == pytest.approx(80.0 * longer, abs=2e-3)
    assert size(lines(file, "stitch-line")[0])[0] == pytest.approx(104.1667, abs=2e-3)


def test_notches_bones_and_levels_move_likewise(tmp_path: Path) -> None:
    file = cut(job_of(tmp_path, BOTH)).drawings["layer-1-lining.svg"]
    low, high = lines(file, "stitch-line")[0].bounds()
    (bone,) = lines(file, "bone-channels")
    assert bone.start[0] - low[0] == pytest.approx(30.0 / 0.96, abs=2e-3)
    assert size(bone)[1] == pytest.approx(180.0 / 0.98, abs=2e-3)
    bust = lines(file, "level-lines")[0]
    assert bust.start[1] - low[1] == pytest.approx(30.0 / 0.98, abs=2e-3)
    assert size(bust)[0] == pytest.approx(100.0 / 0.96, abs=2e-3)
    drawn = [n for n in lines(file, "notches") if abs(n.start[1] - low[1] - 40.0 / 0.98) < 2e-3]
    ends = sorted(float(x - high[0]) for n in drawn for x in (n.start[0], n.end[0]))
    # The drafted notch reaches 6 mm inside, stretched with the panel; its run out to the cut
    # edge is the allowance, which is not.
    assert ends[0] == pytest.approx(-6.0 / 0.96, abs=2e-3)
    assert ends[-1] == pytest.approx(10.0, abs=2e-3)


def test_a_panel_that_lies_askew_is_stretched_along_its_own_axes(tmp_path: Path) -> None:
    turned = f'<g transform="translate(220 40) rotate(30)">{BODY}</g>'
    file = cut(job_of(tmp_path, BOTH, body=turned)).drawings["layer-1-lining.svg"]
    for outline in lines(file, "stitch-line"):
        assert size(outline) == pytest.approx([100.0 / 0.96, 200.0 / 0.98], abs=3e-3)


def test_each_of_two_fabrics_is_cut_to_its_own(tmp_path: Path) -> None:
    stack = WIDER.replace("thickness = 0.5", "thickness = 0.5\ntake_up = 0.01")
    job = job_of(tmp_path, stack, '[[construction.shell]]\nlayers = ["lining", "coutille"]')
    shifted = shift_job(job)
    for name, share in (("lining", 0.04), ("coutille", 0.01), ("brocade", 0.0)):
        layer = shifted.layer(name)
        assert layer.as_cut.waist == pytest.approx(layer.pattern.waist / (1.0 - share), abs=1e-9)


@pytest.mark.slow
def test_all_else_is_told_as_sewn(tmp_path: Path) -> None:
    plain, taken = job_of(tmp_path, STACK), job_of(tmp_path, BOTH)
    one, two = (fit_job(job, lay_cloth=False) for job in (plain, taken))
    more = [row for row in rows(two) if row not in rows(one)]
    # What is recut on another layer's paper is about what is cut, and follows.
    papers = "cut on one paper"
    assert {row.section for row in more} - {papers} == {"take-up"}
    assert {row.section for row in rows(one) if row not in rows(two)} <= {papers}
    found = json.loads(facts_json(two))["sections"]["take-up"]
    # Exactly, and by both numbers: what is lost and what the sheet is larger by.
    assert [item["value"] for item in found] == [4.0, 1.041667, 2.0, 1.020408]


@pytest.mark.parametrize("name", ["hourglass", "fuller_figure_sewn"])
def test_with_nothing_taken_up_the_sewn_pattern_itself_is_cut(name: str) -> None:
    job = resolve(read_job(SAMPLES / f"{name}.toml"))
    for layer in shift_job(job).layers:
        assert layer.as_cut is layer.pattern


def test_zero_gives_the_same_bytes(tmp_path: Path) -> None:
    said = STACK.replace("thickness = 0.2", 'thickness = 0.2\ntake_up = "0 %"\ntake_up_length = 0')
    assert cut(job_of(tmp_path, said)).files == cut(job_of(tmp_path, STACK)).files


# -- seams as cut ---------------------------------------------------------------------------


def shifted_by(across: float, along: float) -> Shifted:
    """Two panels whose seam has a straight and a slanting edge of one length, 200 mm."""
    slant = float(np.sqrt(200.0**2 - 60.0**2))
    one = [(0.0, 0.0), (100.0, 0.0), (100.0, 200.0), (0.0, 200.0)]
    two = [(200.0, 0.0), (300.0, 0.0), (300.0, slant), (260.0, slant)]
    pattern = pattern_from_panels(
        [
            DraftPanel("front", one, [(0.0, 100.0), (100.0, 100.0)]),
            DraftPanel("back", two, [(190.0, 100.0), (310.0, 100.0)]),
        ]
    )
    cloth = Fabric("quilted", 0.6, take_up=across, take_up_length=along)
    return shift_pattern(pattern, Stack([cloth]))


def test_seams_walk_as_cut_where_both_ways_lose_the_same() -> None:
    (layer,) = shifted_by(0.04, 0.04).layers
    (sewn,), (as_cut,) = layer.walk(), layer.walk(as_cut=True)
    assert sewn.difference == pytest.approx(0.0, abs=1e-9)
    assert as_cut.difference == pytest.approx(0.0, abs=1e-9)
    assert as_cut.first == pytest.approx(200.0 / 0.96)
    assert walked_as_cut(shifted_by(0.04, 0.04), "mm") == []


def test_a_slanting_edge_grows_more_and_that_is_said() -> None:
    shifted = shifted_by(0.04, 0.0)
    (as_cut,) = shifted.layers[0].walk(as_cut=True)
    # Its run of 60 is drawn 60 / 0.96 wide.
    slanting = np.hypot(60.0 / 0.96, np.sqrt(200.0**2 - 60.0**2))
    assert (as_cut.first, as_cut.second) == pytest.approx((200.0, slanting))
    (line,) = walked_as_cut(shifted, "mm")
    assert f"differ by {slanting - 200.0:.1f} mm, 1 of 1 seams" in line


def test_the_seam_that_differs_most_as_cut_is_named() -> None:
    """Of three seams one leans on neither side, and the last one's edge most."""
    drafts, x = [], 0.0
    for name, front, back in (("a", 0.0, 0.0), ("b", 0.0, 30.0), ("c", 0.0, 60.0), ("d", 0.0, 0.0)):
        high = [np.sqrt(200.0**2 - lean**2) for lean in (front, back)]
        corners = [(x + front, high[0]), (x + 90.0 + back, high[1]), (x + 90.0, 0.0), (x, 0.0)]
        drafts.append(DraftPanel(name, corners, [(x, 100.0), (x + 90.0 + 0.5 * back, 100.0)]))
        x += 200.0
    shifted = shift_pattern(
        pattern_from_panels(drafts), Stack([Fabric("drill", 0.5, take_up=0.04)], "drill")
    )
    lengths = [np.hypot(lean / 0.96, np.sqrt(200.0**2 - lean**2)) for lean in (30.0, 60.0)]
    assert lengths[0] - 200.0 > 0.1
    (line,) = walked_as_cut(shifted, "mm")
    assert line.startswith(
        f"drill as cut: the edges of c to d differ by {lengths[1] - 200.0:.1f} mm, 2 of 3 seams by"
    )


# -- words, prints, papers, cloth -----------------------------------------------------------


def test_sheets_labels_and_prints_say_it(tmp_path: Path) -> None:
    job = job_of(tmp_path, BOTH)
    shifted = shift_job(job)
    words = "drawn 4.17 % wider and 2.04 % longer for what sewing takes up"
    lining, coutille, _ = cut_layers(shifted)
    texts = [label.text for label in layer_sheet(shifted, lining, job.plan).labels]
    assert texts.count(words) == 1  # in the head
    assert words in job.plan.words(shifted, lining, 0)
    assert not any("drawn" in line for line in job.plan.words(shifted, coutille, 0))
    assert "drawn" not in " ".join(
        label.text for label in layer_sheet(shifted, coutille, job.plan).labels
    )
    nested = nested_sheet(shifted, cut_layers(shifted), job.plan)
    said = " ".join(label.text for label in nested.labels)
    assert "take-up are in the stitch" in said
    assert "lining: drawn 4.17 %" in said.replace("  ", " ")
    # Layers that are drawn larger by different parts share no channel.
    bones = [stroke.layer for stroke in nested.strokes if stroke.kind == "bone-channels"]
    assert bones == ["lining", "coutille", "brocade"]
    over = " ".join(label.text for label in overlay_sheet(shifted, job.plan).labels)
    assert "as sewn, not as drawn larger to cut" in over


@pytest.mark.slow
def test_a_print_is_as_large_as_the_sheet(tmp_path: Path) -> None:
    options = PageOptions(parse_paper("a0"))
    wide = []
    for stack in (STACK, WIDER):
        job = job_of(tmp_path, stack)
        shifted = shift_job(job)
        (own,) = print_layers(shifted, job.plan, options, layers=["lining"])
        wide.append(layer_sheet(shifted, shifted.layer("lining"), job.plan).width)
        assert own.printed.size[0] >= wide[-1]
    # Two panels, each 100 / 0.96; sheets are whole mm.
    assert wide[1] - wide[0] == pytest.approx(2.0 * (100.0 / 0.96 - 100.0), abs=1.0) or (
        wide == [330.0, 330.0]
    )


def test_a_paper_is_not_shared_with_a_layer_that_is_drawn_larger(tmp_path: Path) -> None:
    # The form's hips run on below its lowest section: the outer layer is 1.76 mm wider there.
    plan = CutPlan(accuracy=1.8)
    assert len(verdict(shift_job(job_of(tmp_path, STACK)), plan).papers) == 1
    found = verdict(shift_job(job_of(tmp_path, WIDER)), plan)
    assert sorted(len(paper) for paper in found.papers) == [1, 2]
    # From the lining's larger paper the others step inwards, by 2.08 mm an edge less growth.
    assert set(found.steps) == {"coutille", "brocade"}
    assert dict(found.steps["coutille"])["1-front to 2-back"] < 0.0


def test_pieces_to_lay_are_those_that_are_cut(tmp_path: Path) -> None:
    job = job_of(tmp_path, BOTH)
    shifted = shift_job(job)
    piece = layer_pieces(shifted, shifted.layer("lining"), job.plan)[0]
    assert (piece.width, piece.length) == pytest.approx((100.0 / 0.96 + 20.0, 200.0 / 0.98 + 20.0))


def test_words_of_the_draft_and_numbers_of_channels_move_along(tmp_path: Path) -> None:
    body = BODY + '<text x="90" y="200" font-size="5">hem</text>'
    job = job_of(tmp_path, BOTH, body=body)
    panel = shift_job(job).layer("lining").as_cut.panels[0]
    (text,) = panel.texts
    # 20 right of the waist's middle and 100 below it.
    assert panel.frame.to_panel(text.anchor) == pytest.approx((20.0 / 0.96, -100.0 / 0.98))
    (bust,) = panel.levels
    assert bust.height == pytest.approx(50.0 / 0.98)


def test_the_report_says_it_once(tmp_path: Path) -> None:
    draft = panels([Draft("1"), Draft("2", x=140.0)])
    job = write_job(tmp_path, draft, stack=WIDER)
    text = run("cut", job, "--out", tmp_path / "out").stdout
    assert text.count("drawn 4.17 % wider") == 1
    assert "take_up 0.04, take_up_length 0" in text
    assert "cut as drafted" not in text
    facts = fit_job(resolve(read_job(job)), lay_cloth=False)
    assert sum("drawn 4.17 % wider" in line for line in facts.basis.settings) == 1
    assert walk_summary(facts).startswith("All 2 pass") or walk_summary(facts).startswith("All 3")


# -- bad input ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("-0.02", "is negative, as if sewing made the cloth larger"),
        ('"-2 %"', "is negative"),
        ("2", 'two parts in a hundred are 0.02, or "2 %"'),
        ('"60 %"', "half of the cloth or more"),
        ('"2 mm"', "has a unit"),
        ("true", "must be a number"),
        ('"much"', "is not a number"),
        ("0.2", "take up 20 % of lining"),
    ],
)
def test_what_cannot_be_is_refused(tmp_path: Path, value: str, words: str) -> None:
    stack = STACK.replace("thickness = 0.2", f"thickness = 0.2\ntake_up = {value}")
    message = refused(
        "cut", write_job(tmp_path, BODY, stack=stack), "--out", tmp_path / "out", folder=tmp_path
    )
    assert words in " ".join(message.split())
    assert "take_up" in message


@pytest.mark.parametrize("share", [-0.01, 0.5, float("nan")])
def test_a_fabric_of_a_script_is_refused_too(share: float) -> None:
    with pytest.raises(StackError, match="take_up_length of fabric 'drill'"):
        Fabric("drill", 0.5, take_up_length=share)


def test_fabrics_are_cut_larger_by_the_part_that_is_left() -> None:
    fabric = replace(Fabric("satin", 0.3), take_up=0.2, take_up_length=0.1)
    assert fabric.cut_larger == pytest.approx((1.25, 1.0 / 0.9))


def test_cloth_that_is_stretched_to_its_size_is_cut_smaller() -> None:
    bias = Fabric("bias satin", 0.3, reduced=0.03)
    assert bias.cut_larger == pytest.approx((0.97, 1.0))
    assert drawn_larger(bias) == "drawn 3 % narrower for being stretched to size"
    both = replace(bias, take_up_length=0.02, reduced=0.0)
    assert drawn_larger(both) == "drawn 2.04 % longer for what sewing takes up"
    with pytest.raises(StackError, match="reduced of fabric 'net'"):
        Fabric("net", 0.2, reduced=0.5)
