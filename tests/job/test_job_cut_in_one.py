"""A layer of fewer pieces than the draft has panels: files, lists, prints, and what is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from panelshift.construction.account import seam_bulk
from panelshift.cutting.verdict import verdict
from panelshift.fit.fact_rows import rows
from panelshift.job import read_job, resolve
from panelshift.job.resolved import Job
from panelshift.job.result import CutResult, cloth_in_rows, cut, fit_job, print_job, shift_job
from panelshift.printing import PageOptions, parse_paper
from panelshift.shift import Shifted
from tests.support.drawings import half, panels, write_job
from tests.support.terminal import run

IN_TWO = 'cut_in_one = [["panel 1", "panel 2"], ["panel 3", "panel 4"]]'


def written(folder: Path, lining: str = IN_TWO, rest: str = "") -> Path:
    stack = (
        '[stack]\ndrafted_layer = "drill"\n'
        f'[[stack.fabric]]\nname = "lining"\nthickness = 0.2\n{lining}\n'
        '[[stack.fabric]]\nname = "drill"\nthickness = 0.5\n'
        '[[stack.fabric]]\nname = "satin"\nthickness = 0.4\n'
    )
    return write_job(folder, panels(half(4)), stack=stack, rest=rest)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> CutResult:
    return cut(resolve(read_job(written(tmp_path_factory.mktemp("in_one")))))


def test_files_and_lists_have_the_pieces(made: CutResult) -> None:
    lining, drill = (
        made.drawings[f"{name}.svg"].decode() for name in ("layer-1-lining", "layer-2-drill")
    )
    assert "panel 1 + panel 2" in lining
    assert "sew 1 dart first" in lining
    assert "to panel 3 + panel 4" in lining
    assert "panel 1 + panel 2" not in drill
    listed = [(line.cloth, line.name, line.drawn, line.mirrored) for line in made.lines]
    assert listed[:3] == [
        ("lining", "panel 1 + panel 2", 1, 1),
        ("lining", "panel 3 + panel 4", 1, 1),
        ("drill", "panel 1", 1, 1),
    ]
    (told, _) = [words for words in made.warnings if words.startswith("lining: ")]
    assert "panel 1 + panel 2 in one piece does not lie flat without darts" in told
    # A paper of its own, and no steps for those who redraw panels.
    found = verdict(made.shifted, made.job.plan)
    assert ["lining"] in [[layer.fabric.name for layer in paper] for paper in found.papers]
    assert "lining" not in found.steps
    layouts = cloth_in_rows(made.job, made.shifted).layouts
    assert [len(layout.laid) for layout in layouts if layout.fabric == "lining"] == [4]
    assert not any(layout.nested for layout in layouts)


def test_the_fit_sheet_walks_the_seams_there_are(made: CutResult) -> None:
    facts = fit_job(made.job, made.shifted, lay_cloth=False)
    walked = [(walk.layer, walk.seam) for walk in facts.walks]
    assert walked[:2] == [
        ("lining", "panel 1 + panel 2 to panel 3 + panel 4"),
        ("drill", "panel 1 to panel 2"),
    ]
    assert all(walk.passes for walk in facts.walks)
    assert [code for code, _ in facts.look_at()].count("cut-in-one") == 2
    own = {
        (fact.panel, fact.level, fact.quantity): float(fact.value)
        for fact in rows(facts)
        if fact.section == "cut in one"
    }
    assert own["panel 1 + panel 2", "waist", "width after"] == pytest.approx(
        own["panel 1 + panel 2", "waist", "width before"]
    )
    assert own["panel 1 + panel 2", "", "dart sewn along panel 1 to panel 2, width"] > 3.0


@pytest.mark.slow
@pytest.mark.parametrize("nested", [False, True])
def test_prints_have_it_beside_what_is_nested(made: CutResult, nested: bool) -> None:
    options = PageOptions(parse_paper("a4"))
    prints = print_job(made.job, options, made.shifted, nested=nested)
    names = [item.name.rpartition("-")[0] for item in prints]
    assert ("layer-1-lining" in names) is True
    assert ("layers-nested" in names) is nested
    only = print_job(made.job, options, made.shifted, nested=nested, layers=["lining"])
    assert [item.name for item in only] == ["layer-1-lining-a4.pdf"]


def on_fold(folder: Path, panel: str, edge: str, lining: str = IN_TWO) -> tuple[Job, Shifted]:
    rest = f'[panel."{panel}"]\nfold = "{edge}"\n'
    job = resolve(read_job(written(folder, lining, rest)))
    return job, shift_job(job)


def test_a_piece_lies_on_the_fold_by_its_outer_edge(tmp_path: Path) -> None:
    job, shifted = on_fold(tmp_path, "panel 1", "front")
    found = cut(job, shifted)
    assert [(line.name, line.drawn, line.mirrored) for line in found.lines[:2]] == [
        ("panel 1 + panel 2", 1, 0),
        ("panel 3 + panel 4", 1, 1),
    ]
    assert b"on the fold" in found.drawings["layer-1-lining.svg"]


SEWN = """
[construction]
[[construction.shell]]
layers = ["{layers}"]
seams = "to back"
"""


def test_a_seam_that_a_layer_lacks_makes_no_ply(tmp_path: Path) -> None:
    plies = {}
    for name, lining in (("apart", ""), ("one", IN_TWO)):
        folder = tmp_path / name
        folder.mkdir()
        path = written(folder, lining, SEWN.format(layers="lining"))
        lay = shift_job(resolve(read_job(path))).lay
        assert lay is not None
        plies[name] = np.array([seam.plies for seam in seam_bulk(lay)])
    # Pressed to one side the lining has two plies more behind each of its seams.
    assert (plies["apart"] - plies["one"]).tolist() == [2, 0, 2]


@pytest.fixture(scope="module")
def divided(tmp_path_factory: pytest.TempPathFactory) -> CutResult:
    # The front is on the fold; both names are of one line over panels 1 and 2.
    rest = (
        '[panel."panel 1"]\nfold = "front"\n[extras]\neyelet_spacing = 20\n'
        '[construction]\n[[construction.shell]]\nlayers = ["drill"]\n'
    )
    split = 'split_at = ["waist"]\ncut_in_one = [["panel 2", "panel 3"]]'
    return cut(resolve(read_job(written(tmp_path_factory.mktemp("split"), split, rest))))


@pytest.mark.slow
def test_a_split_layer_is_listed_printed_and_laid_by_its_parts(divided: CutResult) -> None:
    job, shifted = divided.job, divided.shifted
    names = [f"{panel}, {part} part" for panel in ("panel 1", "panel 2 + panel 3", "panel 4")
             for part in ("lower", "upper")]  # fmt: skip
    listed = [(line.name, line.drawn, line.mirrored) for line in divided.lines[:6]]
    assert listed == [(name, 1, int(name[6] != "1")) for name in names]
    lining, drill = (
        divided.drawings[f"{name}.svg"].decode() for name in ("layer-1-lining", "layer-2-drill")
    )
    assert "split at waist" in lining
    assert "to panel 4, upper part" in lining
    assert lining.count("place on the fold, do not cut") == 2
    assert "split" not in drill
    assert [words for words in divided.warnings if "the cloth in its seams at waist" in words]
    layouts = cloth_in_rows(job, shifted).layouts
    assert [len(layout.laid) for layout in layouts if layout.fabric == "lining"] == [10]
    prints = print_job(job, PageOptions(parse_paper("a4")), shifted, nested=True)
    assert [item.name for item in prints if "lining" in item.name] == ["layer-1-lining-a4.pdf"]
    found = verdict(shifted, job.plan)
    assert ["lining"] in [[layer.fabric.name for layer in paper] for paper in found.papers]
    facts = fit_job(job, shifted, lay_cloth=False)
    assert "split" in [code for code, _ in facts.look_at()]
    assert [walk.seam for walk in facts.walks if walk.layer == "lining"] == [
        "panel 1 to panel 2 + panel 3",
        "panel 2 + panel 3 to panel 4",
    ]


@pytest.mark.slow
def test_eyelets_of_parts_are_those_of_the_whole_edge(divided: CutResult) -> None:
    crosses = {
        name: sorted(
            float(stroke.curve.vertices[2, 1])
            for stroke in divided.sheets[name].strokes
            if stroke.kind == "marks"
        )
        for name in ("layer-1-lining", "layer-2-drill")
    }
    assert len(crosses["layer-1-lining"]) == len(crosses["layer-2-drill"]) > 4


REFUSED = [
    ('split_at = ["rib"]', "", "to be split at 'rib': no such line"),
    ("split_at = 3", "", "stack.fabric"),
    ('cut_in_one = [["panel 1", "panel 3"]]', "", "but panel 2 lies between them"),
    ('cut_in_one = [["panel 1", "panel 5"]]', "", "no panel 'panel 5'"),
    (
        'cut_in_one = [["panel 1", "panel 2"], ["panel 2", "panel 3"]]',
        "",
        "and again in panel 2, panel 3",
    ),
    ('cut_in_one = [["panel 1"]]', "", "to be cut in one of panel 1"),
    ('cut_in_one = ["panel 1", "panel 2"]', "", "stack.fabric"),
    (
        'cut_in_one = [["panel 3", "panel 4"]]\npanels = ["panel 1", "panel 2", "panel 3"]',
        "",
        "does not lie on it",
    ),
    (IN_TWO, '[panel."panel 2"]\nfold = "front"\n', "its front edge is sewn to the next panel"),
    (IN_TWO, '[panel."panel 2"]\ncut = 4\n', "'panel 2' is cut 'cut 4, half mirrored'"),
    (IN_TWO, SEWN.format(layers='lining", "drill'), "cut of different pieces"),
    (f"darts_from = -1\n{IN_TWO}", "", "darts_from"),
]


@pytest.mark.parametrize(("lining", "rest", "told"), REFUSED, ids=range(len(REFUSED)))
def test_what_contradicts_itself_writes_nothing(
    tmp_path: Path, lining: str, rest: str, told: str
) -> None:
    path = written(tmp_path, lining, rest)
    found = run("cut", path, "--out", tmp_path / "out")
    assert found.exit_code == 2, found.output
    assert told in " ".join(found.stderr.split())
    assert not (tmp_path / "out").exists()
