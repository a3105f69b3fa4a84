"""Test pieces before and after, and seam strips: closed forms, coverage, refusals."""

from __future__ import annotations

import math

import numpy as np
import pytest

from panelshift.errors import SwatchError
from panelshift.job import read_job
from panelshift.swatch.slope import upwards
from panelshift.swatch.trials import LOAD, Trial, fit_trials, job_entries
from tests.support.drawings import STACK, Draft, panels, write_job
from tests.support.runs import SAMPLES
from tests.support.terminal import answered, refused, run

PIECES = """test,layer,inner,way,before,after,short,count
quilting,brocade,,girth,200,190,,
quilting,brocade,,girth,200,191.0,,
give,brocade,,girth,300,304,,
fold,brocade,coutille,,,,3.1,3
fold,brocade,coutille,,,,2.8,3
channels,coutille,,,90,88.5,,9
"""


def piece(before: float, after: float, kind="quilting", **others) -> Trial:
    return Trial(kind, "brocade", before, after, **others)


def fold(short: float, count: int = 3, **others) -> Trial:
    return piece(short, 0.0, "fold", count=count, inner="coutille", **others)


# -- closed forms -------------------------------------------------------------------------


def test_take_up_is_the_part_lost() -> None:
    found = fit_trials([piece(200.0, 190.0)])
    assert found.line.value == pytest.approx(0.05)
    assert found.line.uncertainty == pytest.approx(math.sqrt(2.0) * 0.5 / 200.0)
    assert "one piece only" in found.warnings()[0]
    assert fit_trials([piece(200.0, 190.0), piece(300.0, 285.0)]).warnings() == ()


def test_give_is_the_part_gained_and_knows_its_load() -> None:
    found = fit_trials([piece(300.0, 304.5, "give")] * 50)
    assert found.line.value == pytest.approx(0.015)
    assert found.line.parts["load"] == pytest.approx(LOAD * 0.015)


def test_channels_take_a_length_each() -> None:
    found = fit_trials([piece(90.0, 88.2, "channels", count=9)])
    assert found.line.value == pytest.approx(0.2)
    assert found.line.uncertainty == pytest.approx(math.sqrt(2.0) * 0.5 / 9.0)


@pytest.mark.parametrize("factor", [0.2, 0.5, 1.0])
def test_a_fold_falls_short_by_pi_d_a_seam(factor: float) -> None:
    d = 0.55
    found = fit_trials([fold(3 * math.pi * d * factor)], d, 0.05)
    assert found.line.value == pytest.approx(factor)
    own = math.sqrt(2.0) * 0.5 / (3 * math.pi * d)
    assert found.line.uncertainty == pytest.approx(math.hypot(own, factor * 0.05 / d))


def test_fold_in_a_number_of_seams_the_design_gives() -> None:
    """Twelve seams at d = 0.55 with factor 1: 20.7 mm."""
    assert fit_trials([fold(20.7, 12)], 0.55).line.value == pytest.approx(1.0, abs=2e-3)


def test_what_makers_read_lies_in_the_interval() -> None:
    """400 makers, three seam strips each, read to 0.5 mm, of a distance known to 5 %."""
    rng = np.random.default_rng(15)
    held = 0
    for _ in range(400):
        factor, d = rng.uniform(0.3, 0.8), 0.6
        said = d * (1.0 + 0.05 * rng.normal())
        shorts = [6 * math.pi * d * factor + math.sqrt(0.5) * rng.normal() for _ in range(3)]
        strips = [fold(short, 6, u_length=0.5) for short in shorts]
        low, high = fit_trials(strips, said, 0.05 * d).line.interval
        held += low <= factor <= high
    assert 364 <= held <= 393


# -- refusals -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("trial", "words"),
    [
        (lambda: piece(20.0, 6000.0), "the length after is 6000 mm"),
        (lambda: piece(2.0, 19.0), "the length before is 2 mm"),
        (lambda: piece(math.nan, 19.0), "the length before is nan mm"),
        (lambda: piece(190.0, 200.0), "longer after it"),
        (lambda: piece(300.0, 290.0, "give"), "shorter after it"),
        (lambda: piece(200.0, 190.0, count=0), "0 channels or seams"),
        (lambda: piece(200.0, 190.0, u_length=0.0), "uncertainty of a length is 0 mm"),
        (lambda: fit_trials([]), "there is no piece"),
        (lambda: fit_trials([piece(200, 190), fold(2.0)]), "several kinds"),
        (lambda: fit_trials([fold(2.0)]), "is not known"),
        (lambda: fit_trials([piece(200.0, 100.0)]), "more than can be"),
        (lambda: fit_trials([fold(12.0, u_length=0.3)], 0.55), "more than can be"),
        (lambda: fit_trials([piece(200, 20, "shrinkage")]), "more than can be"),
    ],
)
def test_pieces_that_cannot_be_right(trial, words: str) -> None:
    with pytest.raises(SwatchError, match=words):
        trial()


def test_pieces_that_disagree_or_say_nothing_are_told() -> None:
    apart = fit_trials([piece(200.0, 190.0), piece(200.0, 195.0)])
    assert "do not agree" in apart.warnings()[0]
    assert "cannot be told from nothing" in fit_trials([piece(200.0, 199.8)]).warnings()[-1]


def test_what_few_pieces_give_a_job_is_as_wide_as_their_interval() -> None:
    (entry,) = job_entries([fit_trials([piece(200.0, after) for after in (189.0, 190.0, 191.0)])])
    assert entry.key == "take_up"
    assert entry.value == pytest.approx(0.05)
    # They scatter by 1 mm; Student's factor for two degrees of freedom is 4.303, not 1.96.
    assert entry.uncertainty == pytest.approx(4.3027 / 1.96 / math.sqrt(3.0) / 200.0, rel=1e-4)


# -- on the command line ------------------------------------------------------------------


def test_a_file_of_pieces_is_read_and_told(tmp_path) -> None:
    file = tmp_path / "pieces.csv"
    file.write_text(PIECES)
    thick = ("--inner-thickness", "0.5", "--outer-thickness", "0.6")
    shown = run("swatch", "--csv", file, *thick).stdout
    assert "brocade: taken up by quilting, round the body" in shown
    lines = shown[shown.index("For the job file:") :].splitlines()[2:4]
    assert lines == [
        "stretch = 0.0133   # in the [[stack.fabric]] of brocade",
        "fold_factor = 0.57   # in [construction], with fold_factor_uncertainty = 0.10",
    ]
    found = {
        item["kind"]: item for item in answered("swatch", "--csv", file, *thick)["data"]["fits"]
    }
    assert found["quilting"]["value"] == pytest.approx(0.0475)
    assert found["fold"]["value"] == pytest.approx(5.9 / (6 * math.pi * 0.55))
    assert found["channels"]["value"] == pytest.approx(1.5 / 9)


def test_pieces_of_one_cloth_need_no_thickness(tmp_path) -> None:
    file = tmp_path / "pieces.csv"
    file.write_text("test,layer,before,after\nshrinkage,drill,250,245\n")
    shown = run("swatch", "--csv", file).stdout
    assert "2.00 %" in shown
    assert "shrinkage = 0.0200   # in the [[stack.fabric]] of drill" in shown


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("ironing,a,,,200,190,,", "test is 'ironing'"),
        ("quilting,,,,200,190,,", "no layer"),
        ("quilting,a,,up,200,190,,", "way is 'up'"),
        ("quilting,a,,,200,,,", "no after"),
        ("fold,a,,,,,3,3", "no inner layer"),
        ("fold,a,b,,,,,3", "no short"),
        ("channels,a,,,90,88,,x", "line 2: count"),
    ],
)
def test_faults_of_a_file_of_pieces(row: str, words: str, tmp_path) -> None:
    file = tmp_path / "pieces.csv"
    file.write_text(PIECES.splitlines()[0] + f"\n{row}\n")
    assert words in refused("swatch", "--csv", file, "--inner-thickness", "1", folder=tmp_path)


def test_pieces_with_a_job_use_its_distance(tmp_path) -> None:
    file = tmp_path / "pieces.csv"
    file.write_text(PIECES)
    answer = answered("swatch", "--csv", file, "--job", SAMPLES / "hourglass.toml")
    found = {item["kind"]: item for item in answer["data"]["fits"]}
    # Coutille and brocade lie 1.15 mm apart in the sample.
    assert found["fold"]["value"] == pytest.approx(5.9 / (6 * math.pi * 1.15))
    assert found["quilting"]["value"] == pytest.approx(0.0475)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("quilting,satin,,,200,190,,", "there is no layer 'satin' in the stack"),
        ("fold,coutille,brocade,,,,3,3", "'brocade' does not lie inside 'coutille'"),
    ],
)
def test_pieces_of_layers_that_the_job_has_not(row: str, words: str, tmp_path) -> None:
    file = tmp_path / "pieces.csv"
    file.write_text(PIECES.splitlines()[0] + f"\n{row}\n")
    job = SAMPLES / "hourglass.toml"
    assert words in refused("swatch", "--csv", file, "--job", job, folder=tmp_path)


def test_a_job_names_flat_swatches_only_as_its_own(tmp_path) -> None:
    from tests.support.drawings import STACK, Draft, panels, write_job

    (tmp_path / "pieces.csv").write_text("test,layer,before,after\nshrinkage,drill,250,245\n")
    draft = panels([Draft(str(k), x=40.0 + 90.0 * k, waist=50.0 + k) for k in range(4)])
    job = write_job(tmp_path, draft, stack='[stack]\nswatches = "pieces.csv"\n' + STACK)
    message = refused("cut", job, "--out", tmp_path / "out", folder=tmp_path)
    assert "holds test pieces, and flat swatches are asked for here" in message


def test_the_job_takes_the_lines_that_are_printed(tmp_path) -> None:
    file = tmp_path / "pieces.csv"
    file.write_text(PIECES)
    shown = run("swatch", "--csv", file, "--job", SAMPLES / "hourglass.toml").stdout
    give, fold = shown[shown.index("For the job file:") :].splitlines()[2:4]
    bones = tmp_path / "bones.csv"
    bones.write_text(
        "inner,outer,former,length,bones,bone_width,bone_thickness,flat_overhang,overhang\n"
        "coutille,brocade,80,180,4,7,1.5,2.9,5.8\n"
    )
    shown = run("swatch", "--csv", bones, "--inner-thickness", "0.5").stdout
    (standing,) = [line for line in shown.splitlines() if line.startswith("standing = ")]
    stack = STACK.replace('name = "brocade"', f'name = "brocade"\n{give}')
    rest = (
        f'\n[construction]\n{fold}\n[[construction.bones]]\non = "coutille"\nwidth = 7\n'
        f"thickness = 1.5\nper_panel = {{ 1 = 1 }}\n{standing}\n"
    )
    draft = panels([Draft(str(k), x=40.0 + 90.0 * k, waist=50.0 + k) for k in range(4)])
    found = read_job(write_job(tmp_path, draft, stack=stack, rest=rest))
    assert found.construction is not None
    assert found.construction.fold_factor == pytest.approx(0.27, abs=0.01)
    assert found.construction.bones[0].standing == pytest.approx(1.3, abs=0.2)
    assert next(f.stretch for f in found.stack.fabric if f.name == "brocade") == 0.0133


def test_every_line_that_pieces_give_a_job_by_its_closed_form() -> None:
    """Parts taken one after the other, each as well known as the number that was fitted."""
    groups = [
        [piece(200.0, 194.0)] * 4,
        [piece(200.0, 198.0, "cording")] * 4,
        [piece(250.0, 248.0, "stitching", way="length")] * 4,
        [piece(90.0, 88.2, "channels", count=9)] * 4,
        [piece(400.0, 392.0, "shrinkage", way="girth")] * 4,
        [piece(400.0, 388.0, "shrinkage", way="length")] * 4,
        [piece(300.0, 304.5, "give")] * 4,
        [piece(200.0, 120.0, "quilting", way="length")] * 4,
        [fold(3.0)] * 4,
    ]
    fits = [fit_trials(own, 0.55 if own[0].kind == "fold" else None) for own in groups]
    quilted, corded, _, channels, *_ = (fit.line.entry_uncertainty for fit in fits)
    kept = np.array([1.0 - 0.03, 1.0 - 0.01, 1.0 - 0.02])
    known = np.array([quilted, corded, channels * 9 / 90.0])
    spread = float(np.hypot.reduce(known * kept.prod() / kept))
    in_table = "# in the [[stack.fabric]] of brocade"
    assert [entry.line for entry in job_entries(fits)] == [
        f"shrinkage_width = 0.0200   {in_table}",
        f"shrinkage = 0.0300   {in_table}",
        f"stretch = 0.0150   {in_table}",
        f"fold_factor = {3.0 / (3.0 * math.pi * 0.55):.2f}   # in [construction], with "
        f"fold_factor_uncertainty = {upwards(fits[-1].line.entry_uncertainty, 2)}",
        f"take_up = {1.0 - kept.prod():.4f}   {in_table}: quilting, cording, channels as close as "
        f"on the piece, one every 10 mm; take_up_uncertainty = {upwards(spread, 4)}",
    ]
    # Quilting takes more than can be drawn larger for: no line, with the stitching's nor alone.
    assert fits[7].taken_up == pytest.approx(0.4)
    # Nor where there is so little that four digits have nothing of it.
    for after, lines in (
        (248.0, [f"take_up_length = 0.0080   {in_table}: stitching"]),
        (249.98, [f"take_up_length = 0.0001   {in_table}: stitching"]),
        (249.99, []),
    ):
        fit = fit_trials([piece(250.0, after, "stitching", way="length")] * 4)
        assert [entry.line for entry in job_entries([fit])] == lines


# -- lines of what sewing takes up, read by a job -------------------------------------------

SEWN = """test,layer,inner,way,before,after,short,count
quilting,brocade,,girth,200,194,,
cording,brocade,,,200,198,,
stitching,brocade,,length,250,248,,
channels,coutille,,,90,88.2,,9
quilting,lining,,,200,160,,
"""


def test_lines_of_what_sewing_takes_paste_into_a_job(tmp_path) -> None:
    file = tmp_path / "pieces.csv"
    file.write_text(SEWN)
    job = write_job(tmp_path, panels([Draft("1"), Draft("2", x=140.0)]))
    shown = run("swatch", "--csv", file, "--job", job).stdout
    found = {
        line.split()[0] + line.split("#")[1]: line for line in shown.split("\n") if "#" in line
    }
    # One after the other: 1 - 0.97 * 0.99; channels: nine of 0.2 mm each on 90.
    stack = STACK
    for line, name, key, value in zip(
        found.values(),
        ("brocade", "brocade", "coutille"),
        ("take_up", "take_up_length", "take_up"),
        (1.0 - 0.97 * 0.99, 2.0 / 250.0, 0.02),
        strict=True,
    ):
        assert name in line
        assert float(line.split("=")[1].split("#")[0]) == pytest.approx(value, abs=5e-5), key
        stack = stack.replace(f'name = "{name}"\n', f'name = "{name}"\n{line}\n')
    assert "one every 10 mm" in list(found.values())[2]
    # A fifth of the lining is more than pieces are drawn larger for.
    assert "lining: taken up by quilting: more than pieces can be drawn larger for" in shown
    (tmp_path / "other").mkdir()
    read = read_job(write_job(tmp_path / "other", panels([Draft("1")]), stack=stack))
    by_name = {table.name: table for table in read.stack.fabric}
    assert by_name["brocade"].take_up == pytest.approx(0.0397)
    assert by_name["brocade"].take_up_length == pytest.approx(0.008)
    assert by_name["coutille"].take_up == pytest.approx(0.02)
    assert by_name["lining"].take_up == 0.0
