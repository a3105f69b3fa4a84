"""Swatches with bones: closed forms against shapely's hull, the fit, and what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import MultiPoint

from panelshift.errors import SwatchError
from panelshift.outline import FloatArray
from panelshift.swatch.boned import BonedReading, fit_boned, over_bone, room_needed
from panelshift.swatch.pinned import SwatchReading
from tests.support.examples import thinned
from tests.support.terminal import refused, run

HEAD = "inner,outer,former,length,bones,bone_width,bone_thickness,flat_overhang,overhang"


def hull(radius: float, height: float, width: float, bends: bool) -> FloatArray:
    """Corners of the convex hull of a circle and one bone at angle 0, shape (n, 2)."""
    round_it = np.linspace(0.0, 2.0 * math.pi, 40_001)[:-1]
    face = radius * np.exp(1j * round_it)
    if bends:
        half = 0.5 * width / radius
        bone = (radius + height) * np.exp(1j * np.linspace(-half, half, 801))
    else:
        bone = radius + height + 1j * np.array([-0.5, 0.5]) * width
    points = np.concatenate([face, bone])
    around = MultiPoint(np.column_stack([points.real, points.imag])).convex_hull
    return np.asarray(around.exterior.coords)


@pytest.mark.parametrize("bends", [True, False])
@pytest.mark.parametrize(
    ("radius", "height", "width"),
    thinned(
        [(40.0, 1.5, 7.0), (40.0, 0.9, 7.0), (30.0, 0.3, 4.0), (105.0, 1.5, 12.0), (60.0, 3.0, 1.0)]
    ),
)
def test_cloth_over_a_bone_is_the_hull(
    radius: float, height: float, width: float, bends: bool
) -> None:
    corners = hull(radius, height, width, bends)
    longer = float(np.hypot(*np.diff(corners, axis=0).T).sum()) - 2.0 * math.pi * radius
    assert over_bone(radius, height, width, bends) == pytest.approx(longer, abs=2e-5)
    # Where the cloth comes down on the former on either side.
    face = corners[np.hypot(*corners.T) < radius + 1e-9]
    room = 2.0 * radius * float(np.abs(np.arctan2(face[:, 1], face[:, 0])).min())
    assert room_needed(radius, width, height, bends) == pytest.approx(room, abs=0.05)


def test_a_bone_without_height_or_width_is_nothing() -> None:
    assert over_bone(40.0, 0.0, 7.0, True) == 0.0
    # One corner, small beside the radius: (2 t)^1.5 / (3 sqrt(r)) on either side.
    t = 1e-3
    assert over_bone(40.0, t, 0.0, False) == pytest.approx(
        2.0 * (2.0 * t) ** 1.5 / (3.0 * math.sqrt(40.0)), rel=1e-3
    )


def reading(height: float, error: float = 0.0, **others) -> BonedReading:
    """A reading of four bones 7 by 1.5 mm that stand so high, on an inner cloth of 0.5 mm."""
    flat = SwatchReading("coutille", "brocade", 80.0, 180.0, 2.9, **others)
    extra = 4 * over_bone(40.5, height, 7.0, False)
    return BonedReading(flat, 2.9 + extra + error, 4, 7.0, 1.5)


def test_bones_that_bend_are_fitted_as_such() -> None:
    bent = replace(reading(1.0), bends=True, overhang=2.9 + 4 * over_bone(40.5, 1.1, 7.0, True))
    assert fit_boned([bent] * 3, 0.5).line.value == pytest.approx(1.1, abs=1e-9)


@pytest.mark.parametrize("height", [0.2, 0.9, 1.5])
def test_readings_without_error_give_the_height(height: float) -> None:
    found = fit_boned([reading(height)] * 3, 0.5)
    assert found.line.value == pytest.approx(height, abs=1e-9)
    assert found.share == pytest.approx(height / 1.5)
    assert found.warnings() == ()


def test_uncertainty_is_that_of_the_overhangs_over_the_steepness() -> None:
    found = fit_boned([reading(1.2)], 0.5)
    h = 1e-6
    steep = 4 * (over_bone(40.5, 1.2 + h, 7, False) - over_bone(40.5, 1.2 - h, 7, False)) / (2 * h)
    assert found.line.uncertainty == pytest.approx(math.sqrt(2.0) * 0.5 / steep, rel=1e-6)
    assert "one reading only" in found.warnings()[0]


def test_one_flat_reading_beside_several_counts_once() -> None:
    many = fit_boned([reading(1.2, u_overhang=0.5)] * 100, 0.5)
    one = fit_boned([reading(1.2, u_overhang=0.5)], 0.5)
    # The overhangs with bones average out; the flat one is equally wrong in all.
    assert many.line.uncertainty == pytest.approx(one.line.uncertainty / math.sqrt(2.0), rel=1e-2)
    apart = [reading(1.2, u_overhang=0.5) for _ in range(100)]
    apart = [replace(r, flat=replace(r.flat, former=80 + 1e-9 * k)) for k, r in enumerate(apart)]
    assert fit_boned(apart, 0.5).line.uncertainty < 0.2 * many.line.uncertainty


@pytest.mark.slow
def test_what_makers_read_lies_in_the_interval() -> None:
    """400 makers who read both overhangs to 0.4 mm, three times: 364 to 393 by chance."""
    rng = np.random.default_rng(14)
    held = 0
    for _ in range(400):
        height = rng.uniform(0.6, 1.5)
        readings = []
        for _ in range(3):
            whole = reading(height, 0.4 * rng.normal())
            flat = replace(whole.flat, overhang=2.9 + 0.4 * rng.normal(), u_overhang=0.4)
            readings.append(replace(whole, flat=flat))
        low, high = fit_boned(readings, 0.5).line.interval
        held += low <= height <= high
    assert 364 <= held <= 393


def test_bones_that_stand_too_close_are_refused() -> None:
    room = room_needed(40.5, 7.0, 1.5, False)
    assert 28.0 < room < 36.0
    crowded = replace(reading(1.5), bones=math.floor(180.0 / room) + 1)
    with pytest.raises(SwatchError, match="the cloth comes down between them only from"):
        fit_boned([crowded], 0.5)
    assert fit_boned([replace(crowded, bones=crowded.bones - 1)], 0.5).line.value > 0.0


@pytest.mark.parametrize(
    ("others", "words"),
    [
        ({"width": 0.0}, "the width of a bone is 0 mm"),
        ({"thickness": 15.0}, "the thickness of a bone is 15 mm"),
        ({"bones": 0}, "there are 0 bones"),
        ({"overhang": 180.0}, "not smaller than the swatch"),
        ({"overhang": 0.5}, "smaller than without"),
        ({"overhang": math.nan}, "nan mm with bones"),
    ],
)
def test_numbers_that_cannot_be_right(others: dict, words: str) -> None:
    with pytest.raises(SwatchError, match=words):
        replace(reading(1.2), **others)


def test_bones_that_seem_too_high_or_not_to_stand_are_asked_about() -> None:
    high = fit_boned([reading(2.4, 0.1 * k) for k in (-1, 0, 1)], 0.5)
    assert "seem to stand" in high.warnings()[-1]
    flat = replace(reading(1.0), overhang=2.8)
    assert "no height can be told" in fit_boned([flat] * 2, 0.5).warnings()[-1]
    apart = fit_boned([reading(0.3), reading(1.5)] * 3, 0.5)
    assert "do not agree" in apart.warnings()[0]


def test_few_bones_on_a_flat_former_tell_little() -> None:
    whole = reading(1.2)
    flat = replace(whole.flat, former=300.0)
    extra = over_bone(150.5, 1.2, 7.0, False)
    vague = fit_boned([replace(whole, flat=flat, bones=1, overhang=2.9 + extra)] * 2, 0.5)
    assert "known to within" in vague.warnings()[-1]
    assert vague.job_line.startswith("standing = 1.2")
    none = fit_boned([replace(whole, overhang=2.8)] * 2, 0.5)
    assert "no height can be told" in none.said
    assert none.job_line == ""


def test_kinds_are_not_mixed() -> None:
    with pytest.raises(SwatchError, match="several layers or kinds"):
        fit_boned([reading(1.0), replace(reading(1.0), width=6.0)], 0.5)
    with pytest.raises(SwatchError, match="no reading"):
        fit_boned([], 0.5)


def test_a_file_of_bones_is_read_and_told(tmp_path) -> None:
    file = tmp_path / "bones.csv"
    file.write_text(f"{HEAD}\na,b,80,180,4,7,1.5,2.9,6.0\na,b,80,180,4,7,1.5,2.9,5.6\n")
    shown = run("swatch", "--csv", file, "--inner-thickness", "0.5").stdout
    assert "a to b over bones 7 by 1.5 mm, flat bars" in shown
    assert "% of their thickness" in shown
    assert "in the [[construction.bones]] of 7 by 1.5 mm on a" in shown
    message = refused("swatch", "--csv", file, folder=tmp_path)
    assert "the thickness of the inner cloth is needed" in message


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("a,b,80,180,4.5,7,1.5,2.9,6.0", "bones: '4.5' is no whole number"),
        ("a,b,80,180,,7,1.5,2.9,6.0", "line 2: bones"),
        ("a,,80,180,4,7,1.5,2.9,6.0", "no outer layer"),
        ("a,b,80,180,4,7,1.5,2.9,0.5", "line 2: the overhang with bones"),
    ],
)
def test_faults_of_a_file_of_bones(row: str, words: str, tmp_path) -> None:
    file = tmp_path / "bones.csv"
    file.write_text(f"{HEAD}\n{row}\n")
    assert words in refused("swatch", "--csv", file, "--inner-thickness", "1", folder=tmp_path)
