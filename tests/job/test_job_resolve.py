"""What a job makes of a pattern: order, classes, names that must exist, scale, starter file."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from panelshift.body import ClassModel, FormerModel, MeanFormModel, Measures, SectionModel
from panelshift.draft import assemble
from panelshift.errors import JobError, PanelshiftError, PatternError, ScaleError, StackError
from panelshift.job import Job, read_job, resolve
from panelshift.job.checks import check_scale
from panelshift.job.choices import Survey
from panelshift.job.result import cut, drawn_job
from panelshift.job.said import check_draft, settings
from panelshift.job.starter import starter_job
from panelshift.sources.drawings import read_drawing
from tests.support.drawings import (
    STACK,
    Draft,
    full,
    half,
    job_text,
    panels,
    path,
    svg,
    text,
    write_job,
)
from tests.support.examples import thinned

BODY = panels(half(4))
SAMPLES = Path(__file__).parents[2] / "sample_patterns"


def job(
    folder: Path, body: str = BODY, *, head: str = "", stack: str = STACK, rest: str = ""
) -> Job:
    file = write_job(folder, body, head=head, stack=stack, rest=rest)
    return resolve(read_job(file), source=str(file))


def names(found: Job) -> list[str]:
    return [panel.name for panel in found.pattern.panels]


# -- order and joins ----------------------------------------------------------------------


def test_order_of_the_job_file_is_followed(tmp_path: Path) -> None:
    found = job(tmp_path, head='order = ["panel 4", "panel 3", "panel 2", "panel 1"]')
    assert names(found) == ["panel 4", "panel 3", "panel 2", "panel 1"]


def test_joins_make_the_order(tmp_path: Path) -> None:
    rest = '[panel.b]\njoins = "d"\n[panel.d]\njoins = "a"\n[panel.a]\njoins = "c"\n'
    drafts = half(4, names=("a", "b", "c", "d"))
    assert names(job(tmp_path, panels(drafts), rest=rest)) == ["b", "d", "a", "c"]


def test_one_join_keeps_the_rest_in_place(tmp_path: Path) -> None:
    drafts = half(4, names=("a", "b", "c", "d"))
    found = job(tmp_path, panels(drafts), rest='[panel.a]\njoins = "b"\n')
    assert names(found) == ["a", "b", "c", "d"]


@pytest.mark.parametrize(
    ("rest", "words"),
    [
        ('[panel.a]\njoins = "z"\n', "joins names panel 'z', which the pattern has not"),
        ('[panel.a]\njoins = "b"\n[panel.b]\njoins = "a"\n', "do not make one chain"),
        ('[panel.a]\njoins = "c"\n[panel.b]\njoins = "c"\n', "do not make one chain"),
        ('[panel.a]\njoins = "a"\n', "do not make one chain"),
    ],
)
def test_joins_that_make_no_chain_are_refused(tmp_path: Path, rest: str, words: str) -> None:
    drafts = half(3, names=("a", "b", "c"))
    with pytest.raises(JobError, match=words):
        job(tmp_path, panels(drafts), rest=rest)


def test_halves_waistlines_and_tolerance_reach_the_reader(tmp_path: Path) -> None:
    assert not job(tmp_path, panels(full(6)), head='halves = "half"').pattern.full
    draft = Draft("side")
    lines = path("M20 140H110", "line0") + path("M20 200H110", "line1")
    found = job(tmp_path, draft.outline() + lines, head='waistlines = ["line1"]')
    assert found.pattern.panels[0].waist.ident == "line1"
    body = draft.pieces(0.8) + draft.line()
    assert job(tmp_path, body, head="join_tolerance = 1").pattern.panels
    with pytest.raises(PatternError, match=r"a gap of 0\.80 mm"):
        job(tmp_path, body)


def test_corners_of_the_job_file_reach_the_panel(tmp_path: Path) -> None:
    data = "M40 80H80L96 110L90 200V300H40Z"
    body = path(data, "side") + path("M30 200H100", "waist")
    rest = "[panel.side.corners]\nback_top = [96, 110]\n"
    assert job(tmp_path, body, rest=rest).pattern.panels[0].edge("back").end == pytest.approx(
        [96.0, 110.0], abs=1e-6
    )


# -- names that must exist ----------------------------------------------------------------


def test_names_that_do_not_exist_are_listed_all_at_once_with_the_valid_ones(
    tmp_path: Path,
) -> None:
    stack = '[stack]\ndrafted_layer = "linen"\n' + STACK
    stack += 'panels = ["panel 9"]\n'
    rest = '[panel."panel 7"]\nclass = "side"\n[body]\ngirths = { bust = 900 }\n'
    with pytest.raises(JobError) as caught:
        job(tmp_path, stack=stack, rest=rest)
    message = str(caught.value)
    for words in (
        'panel."panel 7": the pattern has no panel of that name',
        "stack.fabric (brocade).panels: the pattern has no panel 'panel 9'",
        "body.girths.bust: no such level",
        "stack.drafted_layer: no fabric has the name 'linen'",
        "Panels here: panel 1, panel 2, panel 3, panel 4.",
        "Levels: waist.",
        "Layers: lining, coutille, brocade.",
    ):
        assert words in message


def test_ratio_of_an_unknown_level_is_refused(tmp_path: Path) -> None:
    with pytest.raises(JobError, match=r"body\.ratio\.knee: no such level"):
        job(tmp_path, rest='[body]\nmodel = "section"\nratio = { knee = 1.2 }\n')


def test_two_fabrics_of_one_name_are_refused(tmp_path: Path) -> None:
    stack = STACK.replace("brocade", "lining")
    with pytest.raises(StackError, match="two fabrics have the name 'lining'"):
        job(tmp_path, stack=stack)


def test_drafted_layer_must_cover_every_panel(tmp_path: Path) -> None:
    stack = '[stack]\ndrafted_layer = "brocade"\n' + STACK + 'panels = ["panel 1"]\n'
    with pytest.raises(StackError, match="does not cover every panel"):
        job(tmp_path, stack=stack)


def test_allowance_of_over_100_mm_is_refused_with_its_key(tmp_path: Path) -> None:
    with pytest.raises(PanelshiftError, match="allowance"):
        job(tmp_path, rest="[allowance]\nseam = 101\n")


# -- defaults and overrides ---------------------------------------------------------------


def test_classes_are_inferred_and_overruled(tmp_path: Path) -> None:
    found = job(tmp_path, rest='[panel."panel 1"]\nclass = "side"\n')
    assert found.classes[0] == "side"
    assert found.inferred == {"panel 2", "panel 3", "panel 4"}
    plain = job(tmp_path)
    assert plain.classes[0] == "front"
    assert plain.classes[-1] == "back"
    assert set(plain.classes) == {"front", "side", "back"}


@pytest.mark.parametrize("count", [6, 7, 8])
def test_classes_of_a_full_pattern_are_the_same_on_both_halves(tmp_path: Path, count: int) -> None:
    classes = job(tmp_path, panels(full(count))).classes
    assert classes == classes[::-1]
    assert classes[0] == "back"
    assert classes[count // 2] == "front"


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        ("", MeanFormModel),
        ('model = "classes"', ClassModel),
        ('model = "section"', SectionModel),
        ('model = "section"\nratio = { waist = 1.3 }\nexponent = 2.5', SectionModel),
        ('model = "former"\ndiameter = "8 cm"', FormerModel),
        ('model = "mean"', MeanFormModel),
    ],
)
def test_body_model_is_the_jobs(tmp_path: Path, body: str, kind: type) -> None:
    found = job(tmp_path, rest=f"[body]\n{body}\n").body
    assert isinstance(found, kind)
    if isinstance(found, FormerModel):
        assert found.diameter == 80.0


@pytest.mark.parametrize(
    ("body", "of", "ratio", "words"),
    [
        ("", "either", None, "the mean form of women and men, at the draft's girths"),
        ('of = "women"\nratio = 1.3', "women", 1.3, "of women, at the draft's girths; your own"),
        ('of = "men"\nratio = { waist = 1.25 }', "men", 1.25, "the mean form of men"),
    ],
)
def test_the_mean_form_is_whose_the_job_says(
    tmp_path: Path, body: str, of: str, ratio: float | None, words: str
) -> None:
    found = job(tmp_path, rest=f'[body]\nmodel = "mean"\n{body}\n')
    assert isinstance(found.body, MeanFormModel)
    assert found.body.of == of
    assert (found.body.ratio is None) == (ratio is None)
    if isinstance(found.body.ratio, Measures):
        assert found.body.ratio.values.tolist() == [ratio]
    assert words in "\n".join(settings(found))


def test_the_mean_forms_bust_is_put_at_the_patterns(tmp_path: Path) -> None:
    text = Path(SAMPLES / "hourglass.toml").read_text()
    (tmp_path / "hourglass.svg").write_bytes((SAMPLES / "hourglass.svg").read_bytes())
    (tmp_path / "job.toml").write_text(text + '\n[body]\nmodel = "mean"\n')
    found = resolve(read_job(tmp_path / "job.toml"))
    assert isinstance(found.body, MeanFormModel)
    assert "bust" in found.pattern.level_names()
    assert found.body.bust_height == found.pattern.level_height("bust")


def test_whose_form_means_nothing_to_a_section(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="of has no meaning for the body model 'section'"):
        job(tmp_path, rest='[body]\nmodel = "section"\nof = "men"\n')


def test_fabrics_own_allowance_goes_before_the_jobs_and_that_before_the_default(
    tmp_path: Path,
) -> None:
    stack = STACK + "[stack.fabric.allowance]\nseam = 3\n"
    plan = job(tmp_path, stack=stack, rest="[allowance]\nseam = 7\ntop = 6\n").plan
    own, other = plan.allowances["brocade"], plan.allowances["lining"]
    assert (own.seam, own.top, own.bottom) == (3.0, 6.0, 10.0)
    assert (other.seam, other.top, other.bottom) == (7.0, 6.0, 10.0)


@pytest.mark.parametrize(
    ("panel", "keys", "words", "told"),
    [
        (1, "", ("cut 2", "one mirrored"), ""),
        (1, "cut = 1", ("cut 1",), "panel 2 is cut 1 as drawn and 0 mirrored"),
        (1, "cut = 4", ("cut 4", "half mirrored"), ""),
        (1, "cut = 5", ("cut 5", "2 mirrored"), "panel 2 is cut 3 as drawn and 2 mirrored"),
        (1, "cut = 2\nmirrored = false", ("cut 2",), "panel 2 is cut 2 as drawn and 0 mirrored"),
        (0, 'fold = "front"', ("cut 1", "on the fold"), ""),
        (-1, 'fold = "back"\ncut = 2', ("cut 2", "on the fold"), ""),
    ],
)
def test_cut_mirrored_and_fold_say_how_a_panel_is_cut(
    tmp_path: Path, panel: int, keys: str, words: tuple[str, ...], told: str
) -> None:
    names = [f"panel {k + 1}" for k in range(4)]
    found = job(tmp_path, rest=f'[panel."{names[panel]}"]\n{keys}\n')
    assert found.plan.cutting(found.pattern, panel % 4).words() == words
    assert found.plan.cutting(found.pattern, 2).words() == ("cut 2", "one mirrored")
    odd = [remark.words for remark in found.look_at if remark.code == "cut-count"]
    assert [words.startswith(told) for words in odd] == [True] * bool(told)


@pytest.mark.parametrize(
    ("panel", "edge", "head", "why"),
    [
        ("panel 2", "front", "", "its front edge is sewn to the next panel"),
        ("panel 1", "back", "", "its back edge is sewn to the next panel"),
        ("panel 4", "back", "lacing_gap = 40", "its back edge lies at the lacing gap"),
    ],
)
def test_what_is_sewn_or_laced_lies_on_no_fold(
    tmp_path: Path, panel: str, edge: str, head: str, why: str
) -> None:
    with pytest.raises(JobError, match=why):
        job(tmp_path, head=head, rest=f'[panel."{panel}"]\nfold = "{edge}"\n')


def test_a_fold_that_the_drawing_speaks_of_is_asked_for(tmp_path: Path) -> None:
    words = text("cut 1 on the fold", 70.0, 150.0)
    said = job(tmp_path, panels(half(4)) + words)
    (told,) = [remark for remark in said.look_at if remark.code == "fold-words"]
    assert 'say fold = "front" in its table' in told.words
    for keys in ('fold = "front"', "cut = 2"):
        settled = job(tmp_path, panels(half(4)) + words, rest=f'[panel."panel 1"]\n{keys}\n')
        assert "fold-words" not in {remark.code for remark in settled.look_at}


@pytest.mark.parametrize(
    ("words", "keys", "told"),
    [
        ("cut 4", "", "'cut 4' stand on panel 1, and 2 of each layer"),
        ("cut 3", "", "'cut 3' stand on panel 1, and 2 of each layer"),
        # That it is to lie on the fold is told, and says it all.
        ("cut 1 on the fold", "", ""),
        ("cut a pair", "", ""),
        # Of all layers together, or each by itself.
        ("cut 6", "", ""),
        ("cut 2 brocade, cut 2 lining", "", ""),
        ("cut 4", '[panel."panel 1"]\ncut = 2', ""),
    ],
)
def test_words_that_have_a_panel_cut_otherwise_are_told(
    tmp_path: Path, words: str, keys: str, told: str
) -> None:
    said = job(tmp_path, panels(half(4)) + text(words, 70, 215), rest=keys)
    found = [remark.words for remark in said.look_at if remark.code == "cut-words"]
    assert [told in line for line in found] == [True] * bool(told)


@pytest.mark.parametrize(
    ("percent", "head", "rest", "told"),
    [
        (100.0, "", "", False),
        (101.0, "", "", False),
        (109.0, "", "", True),
        (92.0, "", "", True),
        (109.0, "halves = 'half'", "", True),
        # With the lacing gap, or as the body has it.
        (110.0, "lacing_gap = {gap}", "", False),
        (110.0, "", "[body]\nmodel = 'section'\nratio = 1.4\ngirths = {{waist = {whole}}}", False),
    ],
)
def test_a_waist_in_words_that_nothing_has_is_told(
    tmp_path: Path, percent: float, head: str, rest: str, told: bool
) -> None:
    body = panels(half(5))
    waist = job(tmp_path, body).pattern.waist
    size = {"gap": 0.1 * waist, "whole": 1.1 * waist}
    words = text(f"Waist {waist * percent / 100.0:.1f} mm", 500, 500)
    head, rest = head.format(**size), rest.format(**size)
    said = job(tmp_path, body + words, head=head, rest=rest)
    codes = [remark.code for remark in said.look_at]
    assert ("reduced" in codes) == told
    checked = check_draft(said.file)
    assert ("reduced" in [finding.code for finding in checked.warnings]) == told


def test_fold_edge_gets_no_allowance(tmp_path: Path) -> None:
    found = job(tmp_path, rest='[panel."panel 1"]\nfold = "front"\n')
    edges = found.plan.edges(found.pattern, 0, "lining")
    assert edges == {"front": 0.0, "back": 10.0, "top": 10.0, "bottom": 10.0}


@pytest.mark.parametrize("drawn", [None, svg(BODY).encode()])
def test_a_fault_names_the_job_whatever_stands_for_its_drawing(
    tmp_path: Path, drawn: bytes | None
) -> None:
    file = read_job(write_job(tmp_path, BODY, rest="[panel.none]\n"))
    with pytest.raises(JobError) as caught:
        drawn_job(file, drawn, source="the job", name="the drawing")
    assert caught.value.source == "the job"


def test_full_pattern_is_cut_once_each(tmp_path: Path) -> None:
    found = job(tmp_path, panels(full(6)), rest="[panel.pb]\ncut = 2\n")
    assert found.plan.cutting(found.pattern, 0).words() == ("cut 1",)
    # A second one is another of the same side.
    twice = [panel.name for panel in found.pattern.panels].index("pb")
    assert found.plan.cutting(found.pattern, twice).words() == ("cut 2",)


@pytest.mark.slow
def test_partial_fabric_gets_no_cutting_file_unless_asked(tmp_path: Path) -> None:
    tape = '[[stack.fabric]]\nname = "tape"\nthickness = 0.4\ncoverage = 0.1\n'
    assert list(cut(job(tmp_path, stack=STACK + tape)).drawings) == [
        "layer-1-lining.svg",
        "layer-2-coutille.svg",
        "layer-3-brocade.svg",
        "overlay.svg",
    ]
    asked = cut(job(tmp_path, stack=STACK + tape + "cut_out = true\n")).drawings
    assert "layer-4-tape.svg" in asked


def test_fabrics_whose_names_write_alike_get_files_of_their_own(tmp_path: Path) -> None:
    stack = STACK.replace("lining", "Satin (red)").replace("brocade", "satin red")
    files = cut(job(tmp_path, stack=stack)).drawings
    assert len([name for name in files if "satin-red" in name]) == 2


def test_fabric_may_cover_only_some_panels(tmp_path: Path) -> None:
    stack = STACK + 'panels = ["panel 2", "panel 3"]\n'
    text = cut(job(tmp_path, stack=stack)).drawings["layer-3-brocade.svg"].decode()
    assert "cut-line-panel-2" in text
    assert "cut-line-panel-1" not in text


# -- scale --------------------------------------------------------------------------------

WAIST = 2.0 * (40 + 44 + 48 + 52)


@pytest.mark.parametrize("off", [0.0, 0.009, -0.009])
def test_waist_within_one_per_cent_passes(tmp_path: Path, off: float) -> None:
    found = job(tmp_path)
    check_scale(found.pattern, WAIST / (1.0 + off), "mm")


@pytest.mark.parametrize(
    ("ratio", "clue"),
    [
        (72 / 96, "72/96"),
        (90 / 96, "90/96"),
        (96 / 72, "96/72"),
        (96 / 90, "96/90"),
        (25.4, "25.4"),
        (1 / 25.4, "1/25.4"),
        (2.54, "2.54"),
        (1 / 2.54, "1/2.54"),
        (10.0, "10: mm were taken for cm"),
        (0.1, "1/10: cm were taken for mm"),
        (2.0, "2: both halves"),
        (0.5, "1/2: one half"),
        (25.4 / 96, "25.4/96"),
    ],
)
@pytest.mark.parametrize("off", thinned([1.006, 1.0, 0.994]))
def test_scale_that_looks_like_a_known_mistake_is_named(
    tmp_path: Path, ratio: float, clue: str, off: float
) -> None:
    found = job(tmp_path)
    with pytest.raises(ScaleError) as caught:
        check_scale(found.pattern, WAIST / (ratio * off), "mm")
    message = str(caught.value)
    assert f"which looks like {clue}" in message
    assert "pattern.drafted_waist" in message
    assert f"(ratio {ratio * off:.4f}" in message


@pytest.mark.parametrize("ratio", [1.02, 0.97, 1.5, 0.83, 3.0, 7.7])
def test_scale_of_no_known_mistake_says_the_number_only(tmp_path: Path, ratio: float) -> None:
    found = job(tmp_path)
    with pytest.raises(ScaleError) as caught:
        check_scale(found.pattern, WAIST / ratio, "mm")
    message = str(caught.value)
    assert "looks like" not in message
    assert f"(ratio {ratio:.4f})" in message
    size = "too large" if ratio > 1 else "too small"
    assert f"{abs(ratio - 1):.1%} {size}" in message


def test_scale_message_is_in_the_jobs_units(tmp_path: Path) -> None:
    with pytest.raises(ScaleError, match=r"waist is 14\.49 in, but drafted_waist is 10 in"):
        cut(job(tmp_path, head='drafted_waist = "10 in"\nunits = "in"'))


def test_scale_that_the_message_proposes_mends_the_draft(tmp_path: Path) -> None:
    with pytest.raises(ScaleError) as caught:
        cut(job(tmp_path, head="drafted_waist = 490.67"))
    value = str(caught.value).split("pattern.scale = ")[1].split()[0]
    mended = job(tmp_path, head=f"drafted_waist = 490.67\nscale = {value}")
    assert mended.pattern.waist == pytest.approx(490.67, rel=1e-5)
    assert cut(mended).drawings


def test_px_draft_is_scaled_like_css(tmp_path: Path) -> None:
    # 96 px to the inch: the same numbers without units come out 25.4/96 as large.
    (tmp_path / "draft.svg").write_text(svg(BODY, root='width="1000" height="1000"'))
    (tmp_path / "job.toml").write_text(job_text())
    found = resolve(read_job(tmp_path / "job.toml"))
    assert found.pattern.waist == pytest.approx(WAIST * 25.4 / 96.0)
    assert np.isclose(found.pattern.panels[0].waist_width, 40.0 * 25.4 / 96.0)


# -- the starting job file ----------------------------------------------------------------


@pytest.mark.parametrize(
    "label", ["1 CF", 'the "big" one', "a.b]c", "größe ✂", "back\\slash", "tab&#9;new", "it's #1"]
)
def test_starting_job_holds_any_name_and_path(tmp_path: Path, label: str) -> None:
    escaped = label.replace('"', "&quot;")
    draft = Draft("x")
    body = f'<path id="path1" aria-label="{escaped}" d="{draft.data}"/>' + draft.line()
    found = job(tmp_path, body)
    data = tomllib.loads(starter_job(Survey((found.pattern,)), Path('in "here"\\ü/draft.svg')))
    assert list(data["panel"]) == [found.pattern.panels[0].name]
    assert data["pattern"]["file"] == 'in "here"\\ü/draft.svg'
    assert data["panel"][found.pattern.panels[0].name]["class"] == "side"


def test_starting_job_lists_the_panels_in_order_with_widths_and_classes(tmp_path: Path) -> None:
    found = job(tmp_path)
    text = starter_job(Survey((found.pattern,)), Path("draft.svg"))
    data = tomllib.loads(text)
    assert list(data["panel"]) == ["panel 1", "panel 2", "panel 3", "panel 4"]
    assert tuple(table["class"] for table in data["panel"].values()) == found.classes
    assert "44 mm at the waist" in text
    assert "# drafted_waist = 368.0" in text
    assert "Left out of" not in text


def test_starting_job_lists_the_outlines_left_out(tmp_path: Path) -> None:
    patch = path("M20 20H700V400H20Z", "path99") + path("M800 300H860V360H800Z", "pocket")
    (tmp_path / "draft.svg").write_text(svg(BODY + patch))
    pattern = assemble(read_drawing((tmp_path / "draft.svg").read_bytes()), keep_faults=True)
    lines = starter_job(Survey((pattern, pattern)), Path("draft.svg")).splitlines()
    told = [remark for remark in pattern.ledger if remark.kind == "left out"]
    assert {remark.code for remark in told} == {"frame", "nowhere"}
    # Of the first pattern alone, where several may be meant.
    (at,) = (k for k, line in enumerate(lines) if "left out" in line.lower())
    assert lines[at] == "# Left out of the pattern:"
    assert lines[at - 1] == ""
    said = " ".join(line.lstrip("# ") for line in lines[at + 1 :])
    for remark in told:
        assert f"{remark.elements[0]}: {remark.words}" in said
    assert all(len(line) <= 96 and line[:5].strip() == "#" for line in lines[at + 1 : at + 3])
