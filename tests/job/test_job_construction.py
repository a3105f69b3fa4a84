"""[construction] in the job file: what it says, what it comes to, what is refused."""

from __future__ import annotations

import math
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest

from panelshift.construction.account import (
    channels_take,
    construction_lines,
    needed_at,
    outcome_lines,
    tape_over,
)
from panelshift.construction.edges import roll, turned_in
from panelshift.construction.sewing import Bones, Shell
from panelshift.construction.tension import stretch_along
from panelshift.errors import ConstructionError, PanelshiftError
from panelshift.fit.facts import FitOptions
from panelshift.fit.girths import TAPE
from panelshift.job import read_job, resolve
from panelshift.job.construction_keys import (
    BonesTable,
    ConstructionTable,
    ShellTable,
    StripTable,
)
from panelshift.job.drafted import read_pattern
from panelshift.job.model import StretchTable
from panelshift.job.result import fit_job, shift_job, would_add
from panelshift.job.said import settings
from panelshift.job.seamwork import stretch_round
from panelshift.job.sewing_fields import sewing_fields
from tests.support.drawings import STACK, half, panels, path, write_job
from tests.support.terminal import answered

SAMPLES = Path(__file__).parents[2] / "sample_patterns"
SEWN = (SAMPLES / "hourglass_sewn.toml").read_text(encoding="utf-8")
PLAIN = (SAMPLES / "hourglass.toml").read_text(encoding="utf-8")


def job_of(tmp_path: Path, text: str, *changes: tuple[str, str]) -> Path:
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    svg = SAMPLES / "hourglass.svg"
    text = text.replace('file = "hourglass.svg"', f"file = '{svg}'")
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_every_choice_is_said_with_its_default() -> None:
    job = resolve(read_job(SAMPLES / "hourglass_sewn.toml"))
    lines = settings(job)
    assert (
        "sewn: interlining, brocade sewn as one; seams pressed open, 10 mm wide, lying inside; "
        "held at front and back edges only" in lines
    )
    assert "bones on coutille: 5.5 mm by 1.5 mm, flat bars, standing fully, as drawn" in lines
    assert "waist tape: from -12 mm to +12 mm from the waist, its ends eased over 24 mm" in lines
    assert "edges: top flat, bottom flat" in lines


def test_without_the_table_one_line_says_what_it_would_add(tmp_path: Path) -> None:
    job = resolve(read_job(SAMPLES / "hourglass.toml"))
    shifted = shift_job(job)
    words = would_add(job, shifted.turn)
    assert words.startswith("Nothing is said of how it is sewn.")
    assert (
        "From the drawing (bones drawn, 7 mm by 1.5 mm, and seams of 10 mm pressed open) "
        "brocade would need about 1" in words
    )
    assert shifted.lay is None
    # An outline that shows where a bone lies needs not be as wide as one.
    bone = path("M70 130H74V210H70Z", "bone 1")
    stack = STACK + '[[stack.fabric]]\nname = "bones"\nthickness = 1.2\ncoverage = 0.1\n'
    drawn = resolve(read_job(write_job(tmp_path, panels(half(2)) + bone, stack=stack)))
    assert "(bones drawn, 7 mm by 1.2 mm, " in would_add(drawn, shift_job(drawn).turn)
    # It is told on the fit sheet, which lays the cloth unless that is not wanted.
    facts = fit_job(job, shifted)
    assert facts.basis.unsaid == words
    assert set(facts.basis.cloth or ()) == set(job.stack.names)
    assert fit_job(job, shifted, lay_cloth=False).basis.cloth is None
    # What is not said of it is the same in Python.
    assert facts.basis.options == FitOptions()


def test_the_tape_counts_in_its_band_and_nowhere_else() -> None:
    shifted = shift_job(resolve(read_job(SAMPLES / "hourglass_sewn.toml")))
    lining = 0
    # Half of the lining and of the coutille; and the whole tape at the waist.
    assert shifted.grown.distance(lining, 2, 60.0) == pytest.approx(-0.325, abs=1e-6)
    assert shifted.grown.distance(lining, 2, -60.0) == pytest.approx(-0.325, abs=1e-6)
    assert -0.825 <= shifted.grown.distance(lining, 2, 0.0) < -0.7


STRIP = (
    '[[construction.strip]]\non = "coutille"\nthickness = 0.4\nwidth = 30\nedge = "centre_back"\n'
)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('layers = ["interlining", "brocade"]', 'layers = ["brocat"]', "no layer 'brocat'"),
        ("width = 5.5", "width = 6.2", "neither the bone's own width"),
        ("from = -12", 'from = "waits"', "is no level"),
        ("from = -12", "from = 40", "lies from 40 to 12"),
        ("[allowance] ", f"{STRIP}from = 'waits'\n\n[allowance] ", "construction.strip: 'waits'"),
        ("width = 5.5", "width = 5.5\nwith = 3", "is not a known key"),
        ('body = "soft" ', 'body = "hard" ', "is not one of"),
    ],
)
def test_what_is_wrong_is_told(tmp_path: Path, old: str, new: str, words: str) -> None:
    with pytest.raises(PanelshiftError, match=words) as caught:
        shift_job(resolve(read_job(job_of(tmp_path, SEWN, (old, new)))))
    assert caught.value.remedy


def test_bones_by_coverage_beside_bones_are_refused_with_the_remedy(tmp_path: Path) -> None:
    text = PLAIN + '\n[[construction.bones]]\non = "coutille"\nwidth = 5.5\nthickness = 1.5\n'
    with pytest.raises(ConstructionError, match="would count twice") as caught:
        resolve(read_job(job_of(tmp_path, text)))
    assert "Take" in caught.value.remedy


@pytest.mark.slow
def test_gives_and_lacing_give_the_best_cut(tmp_path: Path) -> None:
    known = (
        ("thickness = 0.45", "thickness = 0.45\nstretch = 0.003"),
        ("thickness = 0.65", "thickness = 0.65\nstretch = 0.01"),
        ('body = "soft" ', 'body = "soft"\nlacing = 3 '),
    )
    lay = shift_job(resolve(read_job(job_of(tmp_path, SEWN, *known)))).lay
    assert lay is not None
    assert lay.cuts is not None
    assert lay.cuts.known
    assert lay.cuts.best is not None
    weak = (
        ("thickness = 0.45", "thickness = 0.45\nstretch = 0.02"),
        ("thickness = 0.65", "thickness = 0.65\nstretch = 0.05"),
        ('body = "soft" ', 'body = "soft"\nlacing = 6 '),
    )
    lay = shift_job(resolve(read_job(job_of(tmp_path, SEWN, *weak)))).lay
    assert lay is not None
    assert lay.cuts is not None
    assert lay.cuts.best is None
    assert any("no cut of brocade serves" in line for line in outcome_lines(lay, "mm"))


@pytest.mark.slow
def test_the_second_sample_says_what_comes_of_its_sewing() -> None:
    lay = shift_job(resolve(read_job(SAMPLES / "fuller_figure_sewn.toml"))).lay
    assert lay is not None
    facts = fit_job(resolve(read_job(SAMPLES / "fuller_figure_sewn.toml")), lay_cloth=False)
    own = {row.level: row for row in facts.girths if row.drafted == "coutille"}
    for level, row in own.items():
        more = row.closed[TAPE] - row.closed["coutille"]
        height = lay.turn.pattern.level_height(level)
        assert tape_over(lay, height) == pytest.approx(more, abs=1e-6)
    lines = outcome_lines(lay, "in")
    assert any("26 channels take" in line for line in lines)
    assert any("thickest seam at the waist" in line for line in lines)


@pytest.mark.slow
def test_a_measured_height_goes_before_all(tmp_path: Path) -> None:
    full = shift_job(resolve(read_job(SAMPLES / "hourglass_sewn.toml"))).lay
    low = shift_job(
        resolve(read_job(job_of(tmp_path, SEWN, ("width = 5.5", "width = 5.5\nstanding = 0.9"))))
    ).lay
    assert full is not None
    assert low is not None
    assert needed_at(low, 0.0)[0][-1] < needed_at(full, 0.0)[0][-1] - 2.0


BONED = (
    "inner,outer,former,length,bones,bone_width,bone_thickness,flat_overhang,overhang\n"
    "coutille,brocade,80,180,4,5.5,1.5,3.0,4.3\ncoutille,brocade,80,180,4,5.5,1.5,3.5,6.4\n"
    "coutille,brocade,80,180,4,5.5,1.5,2.5,4.2\n"
)
PIECES = (
    "test,layer,inner,way,before,after,short,count\n"
    "give,brocade,,girth,300,304,,\nstitching,brocade,,girth,200,196,,\n"
    "fold,brocade,interlining,,,,2.4,3\n"
)
MADE = ('body = "soft" ', 'body = "soft"\nswatches = ["bones.csv", "pieces.csv"] ')


def test_swatches_of_bones_and_test_pieces_are_read_straight_into_keys(tmp_path: Path) -> None:
    path = job_of(tmp_path, SEWN, MADE)
    (tmp_path / "bones.csv").write_text(BONED, encoding="utf-8")
    (tmp_path / "pieces.csv").write_text(PIECES, encoding="utf-8")
    found = resolve(read_job(path))
    assert found.sewn is not None
    how = found.sewn.construction
    assert 0.5 < how.bones[0].height < 1.2
    # Few readings are known by Student's interval: that of a plain 1.96 would be half as wide.
    (bones,) = answered("swatch", "--csv", tmp_path / "bones.csv", "--job", path)["data"]["fits"]
    low, high = bones["interval_95"]
    wide = 0.5 * (high - low) / NormalDist().inv_cdf(0.975)
    assert how.bones[0].standing_uncertainty == pytest.approx(wide)
    assert wide > 1.2 * bones["standard_uncertainty"]
    assert how.stretch["brocade"] == pytest.approx(4.0 / 300.0)
    # Three seams of two cloths whose middles lie half of both thicknesses apart.
    assert how.fold_factor == pytest.approx(2.4 / (3.0 * math.pi * 0.475))
    assert how.fold_factor_uncertainty > 0.05
    brocade = found.stack.fabrics[-1]
    assert brocade.take_up == pytest.approx(0.02)
    # Two lengths of 200 mm are read to half a mm.
    assert brocade.take_up_uncertainty == pytest.approx(math.sqrt(2.0) * 0.5 / 200.0)
    assert {file.name for file in found.file.sources()} >= {"bones.csv", "pieces.csv"}
    lines = settings(found)
    assert any("as measured" in line for line in lines)


@pytest.mark.parametrize(
    ("change", "boned", "words"),
    [
        (("width = 5.5", "width = 5.5\nstanding = 0.9"), BONED, "is stated, and bones.csv"),
        (("thickness = 1.5", "thickness = 1.2"), BONED, r"no \[\[construction.bones\]\] are 5.5"),
        (("", ""), "inner,outer,former,length,overhang\na,b,80,180,4\n", "flat swatches"),
    ],
)
def test_swatches_that_do_not_fit_the_job(
    tmp_path: Path, change: tuple[str, str], boned: str, words: str
) -> None:
    path = job_of(tmp_path, SEWN, MADE, change)
    (tmp_path / "bones.csv").write_text(boned, encoding="utf-8")
    with pytest.raises(PanelshiftError, match=words) as caught:
        resolve(read_job(path), source="job.toml")
    assert caught.value.remedy
    assert Path(str(caught.value.source)).name == "bones.csv"


def test_a_stack_that_swatches_meet_and_that_is_none_is_the_job_s_own_fault(tmp_path: Path) -> None:
    path = job_of(tmp_path, SEWN, MADE)
    (tmp_path / "bones.csv").write_text(BONED, encoding="utf-8")
    read = read_job(path)
    job = read.model_copy(update={"stack": read.stack.model_copy(update={"drafted_layer": "felt"})})
    with pytest.raises(PanelshiftError, match="felt") as caught:
        resolve(job, source="job.toml")
    assert caught.value.source == "job.toml"


def test_stretch_by_direction_is_that_of_the_grain(tmp_path: Path) -> None:
    table = "{ warp = 0.004, weft = 0.01, bias = 0.06 }"
    change = ("thickness = 0.65", f"thickness = 0.65\nstretch = {table}")
    found = resolve(read_job(job_of(tmp_path, SEWN, change)))
    assert found.sewn is not None
    # The grain runs up the panels: what goes round the body is the weft, or nearly.
    assert found.sewn.construction.stretch["brocade"] == pytest.approx(0.01, abs=2e-3)
    angles = np.array([0.0, 0.5 * math.pi, 0.25 * math.pi])
    assert stretch_along(0.004, 0.01, 0.06, angles) == pytest.approx([0.004, 0.01, 0.06])
    # Two panels of 40 and 44 mm: the grain of the first leans by 30 degrees, whatever way it is
    # drawn, with a joint that lies beside it; that of the second runs up it.
    for side in (1.0, -1.0):
        end = 60.0 + 100.0 * math.tan(math.radians(30.0)) * side
        grain = path(f"M60 220L61 200L{end} 120", "grain 1")
        pattern = read_pattern(read_job(write_job(tmp_path, panels(half(2)) + grain)))
        (mark,) = pattern[0].marks
        assert mark.kind == "grainline"
        given = StretchTable(warp=0.004, weft=0.01, bias=0.06)
        own = stretch_along(0.004, 0.01, 0.06, np.radians([60.0, 90.0]))
        assert own[0] > own[1]
        expected = (40.0 * own[0] + 44.0 * own[1]) / 84.0
        assert stretch_round(given, pattern) == pytest.approx(expected)
        assert stretch_round(0.02, pattern) == 0.02


def test_fields_for_a_form_are_those_of_the_tables() -> None:
    job = read_job(SAMPLES / "hourglass_sewn.toml")
    groups = sewing_fields(job, ("1 centre front",))
    paths = {group.path for group in groups if group.present}
    assert ("construction", "bones", 0) in paths
    assert ("construction", "bones", 1) not in paths
    own = {item.path: item for group in groups for item in group.fields}
    width = own["construction", "bones", 0, "width"]
    assert (width.current, width.kind, width.unit, width.needed) == (5.5, "length", "mm", True)
    assert own["construction", "shell", 0, "allowance"].default == "10 mm"
    assert own["construction", "strength_layer"].default == "coutille"
    assert dict(own["construction", "shell", 0, "seams"].options)["felled"] == "felled to the back"
    assert ("stack", "fabric", 1, "from") in own
    tables = {"shell": ShellTable, "bones": BonesTable, "strip": StripTable}
    for kind, table in {**tables, "construction": ConstructionTable}.items():
        place = 0 if kind == "construction" else 1
        keys = {p[-1] for p in own if p[:1] == ("construction",) and p[place] == kind}
        keys = {key for key in keys if isinstance(key, str)}
        named = {item.alias or key for key, item in table.model_fields.items()}
        if kind == "construction":
            keys, named = keys & named, named - {*tables, "swatches"}
        assert keys == named, kind
    for item in own.values():
        assert item.label
        assert item.help.endswith(".")
        assert item.needed or item.default
        assert item.kind != "choice" or item.options


def test_a_facing_is_said_from_where_to_where(tmp_path: Path) -> None:
    strip = f"{STRIP}from = 'hip'\nto = 20\n\n[allowance] "
    job = resolve(read_job(job_of(tmp_path, SEWN, ("[allowance] ", strip))))
    assert (
        "strip along centre back on coutille: 30 mm by 0.4 mm, from -130 mm to +20 mm "
        "from the waist" in settings(job)
    )
    anywhere = job_of(
        tmp_path,
        SEWN,
        ("[allowance] ", f"{STRIP}\n[allowance] "),
        ('\non = "coutille"\nthickness = 0.4', "\nthickness = 0.4"),
    )
    assert "strip along centre back on the skin side: 30 mm by 0.4 mm" in settings(
        resolve(read_job(anywhere))
    )


@pytest.mark.slow
def test_a_fold_factor_is_added_to_the_outer_cloth_only(tmp_path: Path) -> None:
    plain = shift_job(resolve(read_job(SAMPLES / "hourglass_sewn.toml")))
    change = ('body = "soft" ', 'body = "soft"\nfold_factor = 0.5 ')
    folded = shift_job(resolve(read_job(job_of(tmp_path, SEWN, change))))
    more = folded.growth_table() - plain.growth_table()
    # 0.475 between the middles, a quarter turn on both edges of all but the outermost panels.
    assert more[4, 1:-1] == pytest.approx([0.5 * 0.475 * math.pi] * 4, abs=1e-3)
    assert more[4, [0, -1]] == pytest.approx([0.25 * 0.475 * math.pi] * 2, abs=1e-3)
    assert np.abs(more[:4]).max() < 1e-9


def test_edges_that_turn_put_the_cut_line_further_out(tmp_path: Path) -> None:
    change = ('body = "soft" ', 'body = "soft"\ntop = "faced"\nbottom = "bagged" ')
    job = resolve(read_job(job_of(tmp_path, SEWN, change)))
    own = job.plan.allowances["brocade"]
    # From the lining's middle to the brocade's; the waist tape does not lie at the edges.
    apart = 0.5 * 0.2 + 0.45 + 0.3 + 0.5 * 0.65
    assert own.top == pytest.approx(8.0 + math.pi * apart)
    assert own.bottom == pytest.approx(8.0 + 0.5 * math.pi * apart)
    assert job.plan.allowances["lining"].top == 8.0
    assert any("turns over the top" in line for line in settings(job))


def test_rolls_are_of_the_order_that_sewing_practice_has() -> None:
    # Collars and lapels 1/8 in (Threads 131, pp. 71-76, read as an excerpt); flap linings 1 to 2 mm
    # (sewing courses): cloths about a millimetre apart.
    assert 1.0 < roll("bagged", 1.0) < 2.0
    assert roll("faced", 1.0) == pytest.approx(25.4 / 8.0, abs=0.1)
    assert roll("flat", 1.0) == roll("bound", 1.0) == 0.0


def test_a_bend_of_a_layered_flexible_circuit() -> None:
    # About 1.5 times the thickness more for each outer layer a bend (The PCB Design Magazine,
    # January 2014, p. 30; that it bends by 90 degrees is our reading): pi / 2 is within 5 %.
    assert turned_in(Shell(["a"]))[0] == pytest.approx(1.5, rel=0.05)


def test_channels_of_ten_millimetres() -> None:
    least, most = channels_take(Bones("a", 6.5, 1.5), 10.0)
    assert (24.0 * least, 24.0 * most) == pytest.approx((2.7, 8.1), abs=0.06)


@pytest.mark.parametrize(("lacing", "count"), [(16, 3), (24, 2)])
def test_a_closed_corset_of_24_inches_as_the_trade_has_it(lacing: int, count: int) -> None:
    # Trade writing has 25 to 26 in outside for a closed 24 in corset; thicknesses invented.
    from panelshift import (
        Bones,
        ClassModel,
        Construction,
        DraftPanel,
        Fabric,
        Shell,
        Stack,
        pattern_from_panels,
    )
    from panelshift.body.turn import turn_of_cloth
    from panelshift.construction.laying import lay
    from panelshift.construction.sewn import Sewn

    width = 24.0 * 25.4 / 12.0
    names = [f"panel {k}" for k in range(6)]
    draft = [
        DraftPanel(
            name,
            np.array([(0.0, 0.0), (width, 0.0), (width, 260.0), (0.0, 260.0)]) + (70.0 * k, 0.0),
            np.array([(0.0, 130.0), (width, 130.0)]) + (70.0 * k, 0.0),
        )
        for k, name in enumerate(names)
    ]
    pattern = pattern_from_panels(draft)
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * 6)
    # Two bones a panel; or two and one and one.
    per_panel = {name: 2 if count == 2 or not k % 3 else 1 for k, name in enumerate(names)}
    stack = Stack([Fabric("lining", 0.25), Fabric("coutil", 0.5), Fabric("satin", 0.5)], "lining")
    how = Construction(
        [Shell(["lining"]), Shell(["coutil"], seams="to back"), Shell(["satin"])],
        [Bones("coutil", 6.5, 1.5, casing=0.4, per_panel=per_panel)],
    )
    found = lay(Sewn(how, stack), turn)
    outside = 24.0 * 25.4 + 2.0 * math.pi * (0.125 + 0.5 + 0.5) + needed_at(found, 0.0)[1]
    assert 24.7 <= outside / 25.4 <= 26.0
    assert sum(per_panel.values()) * 2 == lacing


def test_all_kinds_of_sewing_have_words() -> None:
    shells = (
        Shell(["a"], held="fused"),
        Shell(["a", "b"], seams="felled", held="seams"),
        Shell(["c"], seams="to front", graded=[10.0, 6.0]),
    )
    from panelshift import Construction, Strip

    bones = Bones("a", 7.0, 1.5, bends=True, casing=0.4, stitched=["b"], per_panel={"1": 2})
    how = Construction(bones=[bones], strips=[Strip("", 0.5, 30.0, "top")], body="stiff")
    text = "\n".join(construction_lines(how, shells))
    for words in (
        "fused to what lies below",
        "felled, 10 mm wide",
        "held at its seams",
        "pressed to front, 10 mm, 6 mm wide",
        "bending across",
        "by number",
        "b stitched down beside them",
        "strip along top on the skin side: 30 mm by 0.5 mm",
        "stiff body: what lies inside stands on it",
    ):
        assert words in text


@pytest.mark.slow
def test_a_gap_that_opens_upwards(tmp_path: Path) -> None:
    change = ("lacing_gap = 50 ", 'lacing_gap = 50\ngap_at = { bust = 90, hip = "1 in" } ')
    straight = resolve(read_job(SAMPLES / "hourglass.toml"))
    opened = resolve(read_job(job_of(tmp_path, PLAIN, change)))
    one, two = shift_job(straight).turn, shift_job(opened).turn
    for level, gap in (("bust", 90.0), ("waist", 50.0), ("hip", 25.4)):
        height = opened.pattern.level_height(level)
        assert two.ring.gap_at(height) == pytest.approx(gap, abs=0.1)
    # A wider gap turns more, and leaves the panels less; the whole still closes.
    assert two.gap_angle_at(150.0) > one.gap_angle_at(150.0) + 0.02
    assert two.closure_at(150.0) == pytest.approx(2.0 * math.pi, abs=1e-9)
    facts = fit_job(opened, lay_cloth=False)
    own = {row.level: row for row in facts.girths if row.drafted == "coutille"}
    for level, gap in (("bust", 90.0), ("waist", 50.0), ("hip", 25.4)):
        row = own[level]
        # On the drafted layer nothing but the gap lies between the two.
        between = row.closed["coutille"] - row.edge_to_edge["coutille"]
        assert between == pytest.approx(gap, abs=0.2)


def test_a_gap_at_no_level_is_told(tmp_path: Path) -> None:
    change = ("lacing_gap = 50 ", "lacing_gap = 50\ngap_at = { bost = 90 } ")
    with pytest.raises(PanelshiftError, match=r"pattern\.gap_at\.bost"):
        resolve(read_job(job_of(tmp_path, PLAIN, change)))
