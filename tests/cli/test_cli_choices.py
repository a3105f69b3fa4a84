"""From a doubtful drawing to cut cloth: new, a choice, cut. Nothing is cut before the choice."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from click.testing import Result

from panelshift.job import read_job
from panelshift.job.choices import survey_job
from tests.draft.misreadings import MAKERS, Case as Misreading
from tests.support.drawings import Draft, group, half, panels, path, svg, text
from tests.support.terminal import answered, refused, run

STRAIGHT, CURVED = (0.0, 0.0), (7.0, 10.0)
SOLID = 'stroke="#000000" stroke-width="0.5" fill="none"'
DASHED = f'{SOLID} stroke-dasharray="6 3"'


def row(names: list[str], width: float = 305.0 / 6.0) -> list[Draft]:
    """Panels of one width side by side, straight at both ends."""
    drafts = []
    for k, name in enumerate(names):
        left = STRAIGHT if k == 0 else CURVED
        right = STRAIGHT if k == len(names) - 1 else CURVED
        drafts.append(Draft(name, x=40.0 + k * (width + 30.0), waist=width, left=left, right=right))
    return drafts


def nameless(drafts: list[Draft], *, words: bool = False, waist: str = SOLID) -> str:
    """What is left where all names are gone: outlines, and three lines across each."""
    body = ""
    for draft in drafts:
        body += path(draft.data, extra=SOLID)
        for word, height in (("hip", -80.0), ("waist", 0.0), ("bust", 90.0)):
            y, x = draft.y - height, draft.x
            extra = waist if word == "waist" else SOLID
            if extra == "dashes":
                ends = [x - 10 + 9 * k for k in range(int((draft.waist + 28) // 9))]
                body += "".join(path(f"M{end} {y}h6", extra=SOLID) for end in ends)
                continue
            body += path(f"M{x - 20} {y}H{x + draft.waist + 20}", extra=extra)
            if words:
                body += text(word, x + 5.0, y - 2.0)
    return body


@dataclass(frozen=True)
class Case:
    """A drawing, the choices that a maker makes, and the waist that is right.

    `choices` holds key and words near the right line; of a drawing without a right
    waist nothing may ever be cut.
    """

    body: str
    choices: tuple[tuple[str, str], ...]
    waist: float | None
    root: str = ""


SYMMETRIC = ["1 centre front", "2", "3", "4", "5", "6 centre back"]
YOKE = path("M40 20H140V70L90 75L40 70Z", "yoke")
BULGING = Draft("1 centre front", x=40.0, waist=46.0)
BESIDE = [Draft(f"{k}", x=60.0 + 90.0 * k, waist=50.0, right=(2.0, 3.0)) for k in (2, 3, 4)]

CASES = {
    "symmetric half block": Case(panels(row(SYMMETRIC)), (), 610.0),
    "symmetric, no names, half": Case(
        panels(row([f"path{k}" for k in range(6)])), (("halves", "610"),), 610.0
    ),
    "symmetric, no names, full": Case(
        panels(row([f"path{k}" for k in range(6)], 610.0 / 6.0)), (), 610.0
    ),
    "full, 1 to 12": Case(panels(row([str(k + 1) for k in range(12)], 620.0 / 12.0)), (), 620.0),
    "centre front whole": Case(panels([BULGING, *BESIDE]), (), None),
    "yoke": Case(panels(half(4)) + YOKE, (("leave_out", "yoke"),), 368.0),
    "one page": Case(
        panels(half(4)), (), None, 'width="300mm" height="400mm" viewBox="0 0 300 400"'
    ),
    "no names, a word": Case(
        nameless(half(4), words=True), (("waistlines", "near the word 'waist'"),), 368.0
    ),
    "no names, no word": Case(
        nameless(half(4)), (("waistlines", "100 mm above its lowest"),), 368.0
    ),
    "no names, dashed": Case(nameless(half(4), waist=DASHED), (("waistlines", "dashed"),), 368.0),
    "no names, dashes as pieces": Case(
        nameless(half(4), waist="dashes"), (("waistlines", "100 mm above its lowest"),), 368.0
    ),
    "no names, symmetric": Case(
        nameless(row([""] * 6), words=True),
        (("waistlines", "near the word 'waist'"), ("halves", "half")),
        610.0,
    ),
}


def start(folder: Path, case: Case) -> tuple[Path, Result]:
    """The job file that `new` writes, with its thicknesses filled in."""
    (folder / "draft.svg").write_text(svg(case.body, root=case.root))
    made = run("new", folder / "draft.svg")
    assert made.exit_code in (0, 1), (made.output, made.exception)
    assert made.stderr == ""
    job = folder / "draft.toml"
    job.write_text(job.read_text().replace('"measure me"', "0.4"))
    return job, made


def choose(job: Path, key: str, words: str) -> None:
    """Take away the # before the option that the words are about."""
    lines = job.read_text().splitlines()
    found = []
    for k, line in enumerate(lines):
        if line.startswith(f"# {key} = "):
            after = (n for n in range(k + 1, len(lines)) if not lines[n].startswith("#  "))
            about = " ".join(part.lstrip("# ") for part in lines[k : next(after)])
            if words in about:
                found.append(k)
    (at,) = found
    lines[at] = lines[at].removeprefix("# ")
    job.write_text("\n".join(lines) + "\n")


EACH = {
    "symmetric half block",
    "symmetric, no names, half",
    "centre front whole",
    "yoke",
    "one page",
    "no names, a word",
}
"""One of each kind: the others take as long and are looked at in CI."""


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", [n if n in EACH else pytest.param(n, marks=pytest.mark.slow) for n in CASES]
)
def test_the_right_choice_cuts_the_right_waist_and_nothing_is_cut_before(
    tmp_path: Path, name: str
) -> None:
    case = CASES[name]
    job, made = start(tmp_path, case)
    settled = not case.choices and case.waist is not None
    assert made.exit_code == (0 if settled else 1), made.output
    for key, words in case.choices:
        refused("cut", job, "--out", tmp_path / "out", folder=tmp_path)
        checked = run("check", job)
        assert checked.exit_code == 1, checked.output
        assert key in checked.stdout
        assert key in made.stdout
        choose(job, key, words)
    if case.waist is None:
        refused("cut", job, "--out", tmp_path / "out", folder=tmp_path)
        return
    assert run("check", job).exit_code == 0
    cut = run("cut", job, "--out", tmp_path / "out")
    assert cut.exit_code == 0, cut.output
    again = answered("check", tmp_path / "out" / "layer-1-lining.svg")["data"]
    drawn = sum(panel["waist"] for panel in again["panels"])
    full = answered("check", job)["data"]["halves"] == "full"
    assert drawn * (1.0 if full else 2.0) == pytest.approx(case.waist, abs=0.1)


@pytest.mark.slow
def test_every_line_that_may_be_the_waistline_is_listed_with_its_place(tmp_path: Path) -> None:
    job, made = start(tmp_path, CASES["no names, a word"])
    for listed in (made.stdout, job.read_text(), run("check", job).stdout):
        joined = " ".join(re.sub(r"^#? *", "", line) for line in listed.splitlines())
        for k, draft in enumerate(half(4), start=1):
            for height, word in ((20.0, "hip"), (100.0, "waist"), (190.0, "bust")):
                pattern = (
                    rf"panel {k} from the left \(\S+\): \S+, {height:g} mm above its lowest "
                    rf"point, solid black line, 0.5 mm wide, near the word '{word}'"
                )
                assert re.search(pattern, joined), (pattern, draft)


@pytest.mark.slow
def test_what_a_choice_gives_is_what_comes_of_it(tmp_path: Path) -> None:
    job, _ = start(tmp_path, CASES["no names, no word"])
    text_ = job.read_text()
    given = re.findall(r"^# (waistlines = .*)\n#    whole waist ([\d.]+) mm", text_, re.MULTILINE)
    assert len(given) == 3
    for line, waist in given:
        job.write_text(text_.replace(f"# {line}", line))
        found = answered("check", job)["data"]
        assert found["waist"] == pytest.approx(float(waist), abs=0.051)


def test_open_choices_as_plain_data(tmp_path: Path) -> None:
    job, _ = start(tmp_path, CASES["symmetric, no names, half"])
    found = answered("check", job, exits=1)["data"]
    (choice,) = found["choices"]
    assert choice["key"] == "halves"
    assert "\n# Take away the # before one line that begins with halves.\n" in job.read_text()
    text_ = job.read_text()
    job.write_text(text_.replace('units = "mm"', 'units = "in"'))
    assert f"{610.0 / 25.4:.2f} in" in survey_job(read_job(job)).choices[0].options[0].gives
    # Read in any editor without going sideways.
    assert 80 < max(map(len, text_.splitlines())) <= 100
    assert [option["value"] for option in choice["options"]] == ["half", "full"]
    assert "610 mm" in choice["options"][0]["gives"]
    assert "305 mm" in choice["options"][1]["gives"]


def test_lines_in_no_set_are_listed_all_the_same(tmp_path: Path) -> None:
    # The second panel has a line more, and none of one height, word or look with the first's.
    one, two = half(2)
    body = path(one.data, extra=SOLID) + path(two.data, extra=SOLID)
    for draft, at in ((one, (0, 60)), (two, (10, 33, 77))):
        for k, height in enumerate(at):
            y, wide = draft.y - height, 0.3 + 0.1 * k + 0.01 * height
            body += path(
                f"M{draft.x - 20} {y}H{draft.x + draft.waist + 15}",
                extra=f'stroke="#000" stroke-width="{wide}"',
            )
    job, made = start(tmp_path, Case(body, (), None))
    assert made.exit_code == 1
    assert made.stdout.count("above its lowest point") == 5
    assert "none is alike on every panel" in made.stdout
    refused("cut", job, "--out", tmp_path / "out", folder=tmp_path)


def test_layers_and_shapes_to_leave_out_are_named_in_the_job(tmp_path: Path) -> None:
    old = [draft.at(draft.x, 600.0, f"old {draft.name}") for draft in half(2)]
    body = panels(half(2)) + group(panels(old), "first version") + YOKE
    job, _ = start(tmp_path, Case(body, (), None))
    written = job.read_text().replace(
        "[pattern]\n", '[pattern]\nleave_layers = ["First Version"]\nleave_out = ["yoke"]\n', 1
    )
    job.write_text(re.sub(r"(?m)^\[panel\.\"old.*\n(class.*\n)?", "", written))
    found = answered("check", job)
    assert [panel["name"] for panel in found["data"]["panels"]] == ["panel 1", "panel 2"]
    assert found["must_be_mended"] == []


def test_what_is_weakly_known_stays_in_sight_after_new(tmp_path: Path) -> None:
    """Twelve panels that mirror nothing are both halves, with a warning that `new` must not end."""
    drafts = [replace(d, waist=45.0 + k) for k, d in enumerate(row([f"p{k}" for k in range(12)]))]
    (tmp_path / "draft.svg").write_text(svg(panels(drafts), size=(1400.0, 1000.0)))
    run("new", tmp_path / "draft.svg")
    text = (tmp_path / "draft.toml").read_text()
    assert "halves" not in tomllib.loads(text)["pattern"]
    assert "TO BE CHECKED. both halves are drawn as far as can be told" in " ".join(text.split())
    assert '# halves = "full"\n# halves = "half"' in text
    assert "# allowance_drawn = 10" in text
    filled = text.replace('"measure me"', "0.5")
    (tmp_path / "draft.toml").write_text(filled)
    assert "state halves in the job file" in run("check", tmp_path / "draft.toml").output
    (tmp_path / "draft.toml").write_text(filled.replace('# halves = "full"', 'halves = "full"'))
    assert "halves in the job file" not in run("check", tmp_path / "draft.toml").output


def misreading(maker: str, cause: str) -> Misreading:
    """The drawing of a kind that tempts the reader by this cause."""
    made = (make() for make in MAKERS if make.__name__ == maker)
    return next(case for case in made if cause in case.draft.cause)


@pytest.mark.slow
def test_the_width_that_seams_tell_is_offered(tmp_path: Path) -> None:
    """Cut lines alone, without a word: `new` offers the width with which the seams walk."""
    case = misreading("_silent_allowance", "12.7 mm drawn in")
    (tmp_path / "draft.svg").write_text(case.draft.svg)
    assert run("new", tmp_path / "draft.svg").exit_code == 1
    text = (tmp_path / "draft.toml").read_text()
    assert '# allowance_drawn = "0 mm"' in text
    assert '# allowance_drawn = "12.7 mm"' in text
    assert "whole waist 600." in text or "whole waist 599.9" in text
    chosen = text.replace('# allowance_drawn = "12.7 mm"', 'allowance_drawn = "12.7 mm"')
    chosen = chosen.replace('"measure me"', "0.5").replace("# halves", "halves", 1)
    (tmp_path / "draft.toml").write_text(chosen)
    data = answered("check", tmp_path / "draft.toml")["data"]
    assert data["waist"] == pytest.approx(600.0, abs=0.2)


@pytest.mark.slow
def test_a_bare_drawing_is_doubted_as_its_job_is(tmp_path: Path) -> None:
    """Two outlines whose places alone tell the net one are a warning without a job file as well."""
    case = misreading("_allowance", "allowance of 10 mm round")
    (tmp_path / "draft.svg").write_text(case.draft.svg)
    data = answered("check", tmp_path / "draft.svg")
    assert "outline-unchecked" in {found["code"] for found in data["look_at"]}
