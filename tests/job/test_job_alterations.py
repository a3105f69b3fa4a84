"""Alterations of a job: made before everything, told, never twice; and the new draft."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from panelshift import read_pattern
from panelshift.errors import AlterationError, PatternError, ScaleError
from panelshift.job import altering, new_draft as writing, read_job, resolve
from panelshift.job.drafted import drafted_pattern
from panelshift.job.new_draft import new_draft
from panelshift.sources.svg import draft_svg
from tests.support.drawings import Draft, half, panels, write_job
from tests.support.runs import SAMPLES
from tests.support.terminal import answered, refused, run

BODY = panels(half(4))
OUT_6 = '[[alteration]]\nseam = "2 to 3"\nlet_out = "6 mm"\n'


def job(folder: Path, rest: str = OUT_6, *, head: str = "", body: str = BODY) -> Path:
    return write_job(folder, body, head=head, rest=rest)


@pytest.mark.slow
def test_everything_is_made_from_the_altered_draft(tmp_path: Path) -> None:
    file = job(tmp_path)
    read = read_job(file)
    found = resolve(read)
    assert found.pattern.waist == pytest.approx(drafted_pattern(read).waist + 12.0)
    words = "the draft was altered first, in mm: 2 to 3: +6"
    assert words in found.warnings
    for command in ("cut", "fit", "tile"):
        made = run(command, file, "--out", tmp_path / command)
        assert made.exit_code == 0, made.output
        assert words in made.stdout
    made = run("check", file)
    assert words in made.stdout


def test_taking_in_is_the_other_way(tmp_path: Path) -> None:
    rest = OUT_6 + '[[alteration]]\nseam = "2 to 3"\ntake_in = { waist = 6, "+50 mm" = 6 }\n'
    found = new_draft(read_job(job(tmp_path, rest)))
    assert found.altered.pattern.waist == pytest.approx(found.altered.before.waist)


@pytest.mark.slow
def test_the_drafted_waist_is_that_of_the_draft(tmp_path: Path) -> None:
    file = job(tmp_path, head="drafted_waist = 368")
    assert drafted_pattern(read_job(file)).waist == pytest.approx(368.0)
    assert run("cut", file, "--out", tmp_path / "out").exit_code == 0
    assert run("check", file).exit_code == 0
    with pytest.raises(ScaleError):
        resolve(read_job(job(tmp_path, head="drafted_waist = 380")))


def test_alter_writes_a_draft_that_is_not_altered_again(tmp_path: Path) -> None:
    file = job(tmp_path, head="drafted_waist = 368\nscale = 1\n")
    made = run("alter", file, "--out", tmp_path / "draft-2.svg")
    assert made.exit_code == 0, made.output
    for words in (
        "the whole girth changes by twice what is entered",
        "  - 2 to 3: +6",
        'in [pattern]: file = "draft-2.svg", halves = "half", drafted_waist = 380.00\n',
        "take out of [pattern]: scale",
        "take out every [[alteration]]",
    ):
        assert words in made.stdout
    text = file.read_text()
    second = tmp_path / "second.toml"
    second.write_text(text.replace("draft.svg", "draft-2.svg").replace("368", "380"))
    message = refused("cut", second, "--out", tmp_path / "out", folder=tmp_path)
    assert "the draft has had alteration 1 already: 2 to 3: +6" in message
    second.write_text(second.read_text() + 'note = "second fitting"\n')
    data = answered("alter", second, "--out", tmp_path / "draft-3.svg")["data"]
    assert data["waist"] == {"before": 380.0, "after": 392.0}
    assert data["girths"][0] == {"level": "waist", "before": 380.0, "after": 392.0, "asked": 12.0}
    # The third draft has had both.
    both = read_job(second).alteration[0].mark, read_job(file).alteration[0].mark
    assert all(mark in (tmp_path / "draft-3.svg").read_text() for mark in both)


def test_without_alterations_it_is_the_draft(tmp_path: Path) -> None:
    file = job(tmp_path, "")
    made = run("alter", file, "--out", tmp_path / "same.svg")
    assert "nothing is to be altered" in made.stdout
    assert (tmp_path / "same.svg").read_bytes() == draft_svg(drafted_pattern(read_job(file)))


def test_corners_of_the_job_are_told_anew(tmp_path: Path) -> None:
    draft = half(4)[1]
    x, y = draft.x - draft.left[0], draft.y - draft.above
    rest = OUT_6 + f'[panel."panel 2"]\ncorners = {{ front_top = [{x}, {y}] }}\n'
    found = new_draft(read_job(job(tmp_path, rest)))
    [line] = [line for line in found.advice if "corners" in line]
    assert line.startswith('in [panel."panel 2"]: corners = { front_top = [')
    assert "back_bottom = [" in line


def test_a_draft_that_would_be_read_otherwise_is_not_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = job(tmp_path)
    read = read_job(file)
    draft = drafted_pattern(read)
    longer = replace(draft, panels=tuple(panel.larger(1.0, 1.001) for panel in draft))
    fewer = replace(draft, panels=draft.panels[:3])
    for wrong in (longer, fewer):
        monkeypatch.setattr(writing, "_read_again", lambda *_, wrong=wrong: wrong)
        message = refused("alter", file, "--out", tmp_path / "draft-2.svg", folder=tmp_path)
        assert "would not be read as what was altered" in message


def test_panels_that_come_to_lie_on_each_other_are_read_all_the_same(tmp_path: Path) -> None:
    one = Draft("panel 1", x=60.0)
    near = panels([one, Draft("panel 2", x=60.0 + one.waist + 14.0)])
    file = job(tmp_path, '[[alteration]]\nseam = "1 to 2"\nlet_out = 40\n', body=near)
    assert run("alter", file, "--out", tmp_path / "draft-2.svg").exit_code == 0


@pytest.mark.parametrize(
    ("rest", "words"),
    [
        ('[[alteration]]\nseam = "2 to 3"\n', "needs either let_out or take_in"),
        (OUT_6 + "take_in = 2\n", "needs either let_out or take_in"),
        (OUT_6 + 'side = "up"\n', "alteration[1].side"),
        (OUT_6 + "run_out = -2\n", "alteration[1].run_out"),
        (OUT_6.replace("6 mm", "six"), "alteration[1].let_out"),
        (OUT_6 + "run_out = 20\n", "run_out, but neither from nor to"),
        (OUT_6.replace("2 to 3", "2 to 4"), "there is no seam '2 to 4'"),
        (OUT_6.replace("2 to 3", "2 to 4") + 'side = "left"\n', "there is no seam '2 to 4'"),
        (OUT_6.replace("6 mm", "-400 mm"), "would be"),
    ],
)
def test_faults_are_told_and_nothing_is_written(tmp_path: Path, rest: str, words: str) -> None:
    file = job(tmp_path, rest)
    for command, out in (("alter", "draft-2.svg"), ("cut", "out")):
        message = refused(command, file, "--out", tmp_path / out, folder=tmp_path)
        assert words in message
        assert str(file) in message


def test_a_mock_up_is_cut_to_the_altered_lines_with_wide_allowances(tmp_path: Path) -> None:
    file = job(tmp_path, OUT_6 + "[allowance]\nseam = 6\n")
    made = run("alter", file, "--mock-up", tmp_path / "mock-up.svg")
    assert made.exit_code == 0, made.output
    assert "has to say" not in made.stdout
    assert not (tmp_path / "draft-2.svg").exists()
    # Stitch lines are read again as net outlines, cut lines as what lies round them.
    again = read_pattern(tmp_path / "mock-up.svg")
    assert again.waist == pytest.approx(drafted_pattern(read_job(file)).waist + 12.0, abs=0.01)
    text = (tmp_path / "mock-up.svg").read_text()
    assert "bottom 25 mm" in text
    # Words along the open edges, which a fitting pins to each other.
    assert [text.count(f">{words}<") for words in ("centre front", "centre back")] == [1, 1]
    neither = run("alter", file)
    assert neither.exit_code == 2
    assert "Give --out, or --mock-up, or both." in neither.stderr


def test_the_new_draft_is_an_svg(tmp_path: Path) -> None:
    assert "is no name of an SVG file" in refused(
        "alter", job(tmp_path), "--out", tmp_path / "draft-2.dxf", folder=tmp_path
    )


def test_a_draft_that_must_be_mended_is_told_as_such(tmp_path: Path) -> None:
    from tests.support.drawings import path

    body = BODY + path("M400 100 H470 V300 H400 Z", "stray")
    file = job(tmp_path, body=body)
    with pytest.raises(PatternError):
        new_draft(read_job(file))
    with pytest.raises(PatternError):
        resolve(read_job(file))


def test_girths_that_miss_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(altering, "MET_MM", -1.0)
    with pytest.raises(AlterationError, match="the girth at the level waist would change by"):
        resolve(read_job(job(tmp_path)))


LOWER = '[[alteration]]\nedge = "top"\nlower = { "centre front" = 10, "2 to 3" = 0 }\n'


@pytest.mark.slow
def test_an_edge_is_lowered_and_the_new_draft_has_it(tmp_path: Path) -> None:
    file = job(tmp_path, LOWER + 'note = "too high in front"\n')
    found = new_draft(read_job(file))
    before, after = (
        pattern.panels[0].frame.to_panel(pattern.panels[0].edge("top").start)[1]
        for pattern in (found.altered.before, found.altered.pattern)
    )
    assert after == pytest.approx(before - 10.0, abs=1e-6)
    made = run("alter", file, "--out", tmp_path / "draft-2.svg")
    assert made.exit_code == 0, made.output
    assert "top edge: -10 at centre front, 0 at 2 to 3" in made.stdout
    # With one side besides, both sides have it.
    both = resolve(read_job(job(tmp_path, LOWER + OUT_6 + 'side = "left"\n'))).pattern
    for side in ("left", "right"):
        front = both[f"{side} panel 1"]
        assert front.frame.to_panel(front.edge("top").start)[1] == pytest.approx(after, abs=1e-6)


@pytest.mark.parametrize(
    ("rest", "words"),
    [
        (LOWER + 'seam = "2 to 3"\n', "needs either a seam, or an edge"),
        ("[[alteration]]\nlet_out = 3\n", "needs either a seam, or an edge"),
        ('[[alteration]]\nedge = "top"\n', "an edge needs either raise or lower"),
        (LOWER + "raise = { waist = 3 }\n", "an edge needs either raise or lower"),
        (LOWER + 'side = "left"\n', "side means nothing of the top edge"),
        (OUT_6 + 'lower = { "2 to 3" = 3 }\n', "lower means nothing of a seam"),
        (LOWER.replace("centre front", "1 to 5"), "there is no place '1 to 5'"),
        (LOWER.replace("10", "115"), "from the waist"),
    ],
)
def test_edges_that_are_unclear_write_nothing(tmp_path: Path, rest: str, words: str) -> None:
    file = job(tmp_path, rest)
    found = refused("alter", file, "--out", tmp_path / "draft-2.svg", folder=tmp_path)
    assert words in " ".join(found.split())


@pytest.mark.slow
def test_a_mock_up_of_a_gored_draft_is_cut(tmp_path: Path) -> None:
    made = run("alter", SAMPLES / "gored.toml", "--mock-up", tmp_path / "mock-up.svg")
    assert made.exit_code == 0, made.output
    assert "bust gore" in (tmp_path / "mock-up.svg").read_text()
