"""Pages of what commands say and write, as they were looked over: new, lists, refusals.

When they are meant to change, look at the new words and then refresh them:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/cli/test_cli_new_golden.py
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from panelshift import read_pattern
from tests.cli.test_cli_choices import CASES
from tests.draft.test_draft_sizes import REST, nested
from tests.support.drawings import Draft, group, half, panels, path, svg, text, write_job
from tests.support.golden import changes
from tests.support.terminal import run

SOLID = 'stroke="#000000" stroke-width="0.5" fill="none"'
DASHED = f'{SOLID} stroke-dasharray="6 3"'
TWO = half(2)
ALIKE = [replace(d, waist=60.0, name=f"path{k}") for k, d in enumerate(half(4))]


def nameless(drafts: list[Draft]) -> str:
    """Panels with three lines across each, one kind dashed, one beside a word."""
    body = ""
    for draft in drafts:
        body += path(draft.data, extra=SOLID) + text("hip", draft.x + 5.0, draft.y + 78.0)
        for height, extra in ((-80.0, SOLID), (0.0, DASHED), (90.0, SOLID)):
            y = draft.y - height
            body += path(f"M{draft.x - 20} {y}H{draft.x + draft.waist + 20}", extra=extra)
    return body


def open_outline() -> str:
    """A panel whose outline does not close by 2 mm, and another."""
    return TWO[0].pieces(2.0) + TWO[0].line(over=0.5) + TWO[1].panel()


def row_of_twelve() -> str:
    drafts = [replace(TWO[1], waist=45.0 + k, name=f"p{k}", x=40.0 + 80.0 * k) for k in range(12)]
    return panels(drafts)


DRAWINGS = {
    "two panels, with levels and a fold": panels(TWO)
    + path("M0 260H300", "hip")
    + path("M0 110H300", "bust")
    + text("cut on fold", TWO[0].x + 2.0, TWO[0].y + 30.0),
    "two outlines left out": panels(TWO)
    + path("M20 20H700V700H20Z", "frame")
    + path("M800 300H860V360H800Z", "pocket"),
    "no names, three lines": nameless(TWO),
    "one half or both": panels(ALIKE),
    "both halves, weakly": row_of_twelve(),
    "an outline that does not close": open_outline(),
    "pieces that no waistline crosses": panels(TWO)
    + path("M40 20H140V70L90 75L40 70Z", "yoke")
    + path("M400 20H440L430 60L420 80Z", "gusset"),
    "nothing in it": text("a note", 20, 20, "t1"),
}


FOLLOWING = {
    "no names, alike, so that a choice follows on another": CASES["no names, symmetric"].body,
    "three sizes, each in a dash of its own": "".join(nested("dash")) + REST,
}
"""Of these each option is a reading of its own, which takes a second."""

RATIO = (
    "# ratio = 1.35            # your own breadth over depth, if you measured it between two boards"
)
"""The last line of a starting job file that is the same in all."""


@pytest.mark.parametrize(
    ("page", "drawings"),
    [
        ("new.txt", DRAWINGS),
        pytest.param("new-choices.txt", FOLLOWING, marks=pytest.mark.slow),
    ],
    ids=["drawings", "choices"],
)
def test_what_new_says_and_writes_is_the_golden_page(
    page: str, drawings: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    told: list[str] = []
    for name, body in drawings.items():
        Path("draft.svg").write_text(svg(body, size=(1400.0, 800.0)), encoding="utf-8")
        made = run("new", "draft.svg", "--svg", "read.svg", "--overwrite")
        told += ["", f"== {name}: {made.exit_code}", made.stdout, made.stderr]
        if made.exit_code == 2:
            assert not Path("draft.toml").exists()
            continue
        written = Path("draft.toml").read_text(encoding="utf-8").splitlines()
        # How far a comment is set in tells what it is about.
        shown = [
            "#" + "." * (len(x) - 1 - len(x[1:].lstrip())) + x[1:].lstrip() if x[:1] == "#" else x
            for x in written
        ]
        if name != next(iter(DRAWINGS)):
            # What stands in every one of them is told once.
            first, last = (
                k for k, x in enumerate(written) if x.startswith(("# allowance_drawn", "[stack]"))
            )
            shown = [*shown[first + 1 : last], "...", *shown[written.index(RATIO) + 1 :]]
        told += ["-- draft.toml", *shown]
        if made.exit_code == 0:
            again = read_pattern("read.svg")
            assert again.waist == pytest.approx(read_pattern("draft.svg").waist, abs=0.01)
            assert [p.name for p in again] == [p.name for p in read_pattern("draft.svg")]
        Path("draft.toml").unlink()
        Path("read.svg").unlink()
    assert changes(page, "\n".join(told)) == []


def test_a_list_of_a_page_is_the_golden_one(tmp_path: Path) -> None:
    body = group(panels(TWO), "pieces") + path("M0 260H300", "hip", DASHED)
    # Of kinds of lines thirty are told, of what cannot be read ten.
    for k in range(33):
        body += path(f"M0 {300 + k}H50", f"line{k}", f'stroke="#0000{k:02x}" fill="none"') * 2
    body += "".join(f'<image id="photo{k}" width="20" height="20"/>' for k in range(12))
    (tmp_path / "draft.svg").write_text(svg(body))
    assert changes("list.txt", run("new", tmp_path / "draft.svg", "--list").stdout) == []


PLAIN = '[[stack.fabric]]\nname = "drill"\nthickness = 0.5\n'
SHELL = '[construction]\nswatches = ["bones.csv"]\n[[construction.bones]]\non = "drill"\n'
JOBS = {
    "a drafted layer that is none": ("", '[stack]\ndrafted_layer = "dril"\n' + PLAIN, ""),
    "the same beside readings of bones": (
        "",
        '[stack]\ndrafted_layer = "dril"\n' + PLAIN,
        SHELL + "width = 6\nthickness = 1.5\n",
    ),
    "faults by key": (
        "units = 'yd'\nwaistline = 'w'",
        PLAIN + "coverage = 2\n[[stack.fabric]]\nname = 3\n",
        '[gap_at]\nwaist = 1\n[body.girths]\nwaist = -1\n[panel."1"]\ncorners = { up = [1, 2] }\n',
    ),
    "names of nothing": (
        "",
        PLAIN + 'panels = ["panel 4"]\nsplit_at = ["hups"]\n',
        '[panel."panel 5"]\nclass = "side"\n[body.girths]\nhups = 900\n',
    ),
    "an order of other panels": ('order = ["panel 1", "panel 3"]', PLAIN, ""),
    "slips": (
        "lacing_gap = 3000",
        PLAIN.replace("0.5", "45"),
        "[allowance]\nseam = 400\n[body.girths]\nwaist = 20\n",
    ),
}


def test_refusals_of_jobs_are_the_golden_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    heads = "inner,outer,former,length,bones,bone_width,bone_thickness,flat_overhang,overhang"
    Path("bones.csv").write_text(f"{heads}\ndrill,silk,80,300,4,6,1.5,3,5\n")
    told = []
    for name, (head, stack, rest) in JOBS.items():
        write_job(tmp_path, panels(TWO), head=head, stack=stack, rest=rest)
        told += ["", f"== {name}"]
        pages = []
        for command in (["cut", "--out", "out"], ["fit", "--out", "out"], ["check"]):
            made = run(command[0], "job.toml", *command[1:])
            assert not Path("out").exists()
            pages.append(f"{made.exit_code} {made.stdout}{made.stderr}")
        told += [pages[0], *(page for page in pages[1:] if page != pages[0])]
    assert changes("refusals.txt", "\n".join(told)) == []


def test_cut_anew_takes_away_what_it_made_before_and_makes_no_more(tmp_path: Path) -> None:
    more = '[[stack.fabric]]\nname = "silk"\nthickness = 0.2\n'
    job = write_job(tmp_path, panels(TWO), stack=PLAIN + more, rest="[fit]\nneeds = false\n")
    out = tmp_path / "out"
    assert run("cut", job, "--out", out).exit_code == 0
    assert (out / "layer-2-silk.svg").exists()
    (out / "mine.txt").write_text("mine")
    write_job(tmp_path, panels(TWO), stack=PLAIN, rest="[fit]\nneeds = false\n")
    made = run("cut", job, "--out", out)
    assert made.exit_code == 0, made.output
    assert "removed, as an earlier run made it and this one does not" in made.stderr
    assert "layer-2-silk.svg" in made.stderr
    assert not (out / "layer-2-silk.svg").exists()
    assert (out / "mine.txt").read_text() == "mine"


def test_letters_that_a_terminal_does_not_know_are_shown_by_their_codes(tmp_path: Path) -> None:
    from click.testing import CliRunner

    from panelshift.cli import main

    (tmp_path / "draft.svg").write_text(svg(Draft("größe ✂").panel()), encoding="utf-8")
    for charset, shown in (("utf-8", "größe ✂"), ("latin-1", "größe \\u2702")):
        made = CliRunner(charset=charset).invoke(main, ["check", str(tmp_path / "draft.svg")])
        assert shown in made.output
