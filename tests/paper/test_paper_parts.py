"""Steps of reading paper one by one, against closed forms."""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import cv2
import numpy as np
import pytest

from panelshift.errors import PhotoError
from panelshift.outline import FloatArray
from panelshift.sources.paper import sightings
from panelshift.sources.paper.ink import FULL, _kernels, _ridges
from panelshift.sources.paper.light import _bare
from panelshift.sources.paper.middles import drawn_points, fit_run

PIXEL = 0.1


def drawn(distance: FloatArray, width: float) -> Any:
    """Ink where a distance from a line is less than half its width, soft at its edges."""
    share = np.clip((0.5 * width - np.abs(distance)) / PIXEL + 0.5, 0.0, 1.0)
    return np.rint(FULL * share).astype(np.uint8)


def grid(wide: int, high: int) -> tuple[FloatArray, FloatArray]:
    """Middles of pixels in mm."""
    y, x = np.mgrid[:high, :wide]
    return (x + 0.5) * PIXEL, (y + 0.5) * PIXEL


def test_points_near_a_drawn_circle_come_to_lie_on_its_middle() -> None:
    x, y = grid(800, 800)
    plane = drawn(np.hypot(x - 40.0, y - 40.0) - 30.0, 0.5)
    turn = np.linspace(0.0, 2.0 * math.pi, 628, endpoint=False)
    radius = 30.0 + 0.2 * np.sin(3.0 * turn)
    guess = 40.0 + radius[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    found = drawn_points(plane, PIXEL, guess)
    # A point every 0.4 mm.
    assert len(found) == round(60.0 * math.pi / 0.4)
    assert np.hypot(*(found - 40.0).T) == pytest.approx(np.full(len(found), 30.0), abs=0.03)
    ahead = np.unwrap(np.arctan2(*(found - 40.0).T[::-1]))
    assert np.diff(ahead) == pytest.approx(np.full(len(found) - 1, 0.4 / 30.0), abs=0.001)


def test_a_run_ends_where_its_points_do_and_in_their_direction() -> None:
    turn = np.linspace(0.0, 0.5 * math.pi, 300)
    run = fit_run(60.0 * np.column_stack([np.cos(turn), np.sin(turn)]), 0.05)
    # What it is measured by is smoothed, and so a little shorter.
    assert run.length == pytest.approx(30.0 * math.pi, rel=0.01)
    for last, place, way in ((False, [60.0, 0.0], [0.0, 1.0]), (True, [0.0, 60.0], [-1.0, 0.0])):
        at, along = run.end(last)
        # As it is smoothed, a free end stands back by less than a step of 0.4 mm.
        assert at == pytest.approx(place, abs=0.4)
        assert np.hypot(*at) == pytest.approx(60.0, abs=0.05)
        assert along == pytest.approx(way, abs=0.02)
    assert run.curve().length == pytest.approx(30.0 * math.pi, abs=0.8)
    straight = fit_run(np.column_stack([np.linspace(5.0, 45.0, 200), np.full(200, 7.0)]), 0.05)
    assert straight.straight
    assert straight.end(False)[0] == pytest.approx([5.0, 7.0], abs=0.4)
    assert straight.end(True)[0] == pytest.approx([45.0, 7.0], abs=0.4)


def test_lines_are_looked_for_in_twelve_directions_evenly() -> None:
    """Weights are of a bell 0.9 mm along and 0.28 mm across, cut off at 2.5 times 0.9 mm."""
    cell = 0.1
    kernels = _kernels(cell)
    assert len(kernels) == 12
    for k, (weights, beside, step) in enumerate(kernels):
        reach = weights.shape[0] // 2
        assert (weights.shape, reach) == ((2 * reach + 1, 2 * reach + 1), 23)
        y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1] * cell
        c, s = math.cos(math.pi * k / 12), math.sin(math.pi * k / 12)
        assert weights.sum() == pytest.approx(1.0, abs=1e-5)
        along = math.sqrt(float((weights * (c * x + s * y) ** 2).sum()))
        across = math.sqrt(float((weights * (c * y - s * x) ** 2).sum()))
        # A bell that is cut off 2.5 deviations away is 0.95 as wide as the whole.
        assert along == pytest.approx(0.9 * 0.955, abs=0.04)
        assert across == pytest.approx(0.28, abs=0.005)
        assert step == (round(-s), round(c))
        far = math.hypot(*beside)
        assert beside == pytest.approx([-s * far, c * far], abs=0.75)


def test_a_line_is_found_all_the_way_across_the_parts_that_are_looked_at_by_themselves() -> None:
    """Parts are of 384 cells: two lines cross a plane of 460 by 420 from end to end."""
    wide, high, cell = 460, 420, 0.2
    x, y = grid(2 * wide, 2 * high)
    plane = np.maximum(drawn(x - 86.1, 0.5), drawn(y - 60.1, 0.5))
    found = _ridges(cv2, plane, (wide, high), np.ones((high, wide), dtype=bool), cell)
    assert found.strength.shape == (high, wide)
    column, row = 430, 300
    away = np.r_[20 : column - 20, column + 20 : wide - 20]
    assert found.sure[row, away].all()
    beside = np.r_[20 : row - 20, row + 20 : high - 20]
    assert found.sure[beside, column].all()
    assert np.ptp(found.strength[row, away]) < 1e-5
    assert np.ptp(found.strength[beside, column]) < 1e-5
    clear = found.sure.copy()
    clear[row - 3 : row + 4] = clear[:, column - 3 : column + 4] = False
    assert not clear.any()
    assert not found.faint[:, away][[row - 10, row + 10]].any()


def test_strips_are_left_out_of_the_paper_s_light() -> None:
    corners = np.array([[40.0, 40.0], [240.0, 60.0], [236.0, 100.0], [36.0, 80.0]])
    placed: Any = SimpleNamespace(
        sightings=[SimpleNamespace(picture=0, name=1), SimpleNamespace(picture=1, name=2)],
        on_plane=lambda name, outline: corners + (name - 1) * 1000.0,
        see=lambda places, number: SimpleNamespace(pixels=places),
    )
    bare = _bare(cv2, placed, 0, (60, 140), 2)
    # A parallelogram, in pixels half as fine; its rim takes a pixel or two more.
    (a, b), (c, d) = corners[1] - corners[0], corners[3] - corners[0]
    expected = 0.25 * abs(float(a * d - b * c))
    assert (bare == 0).sum() == pytest.approx(expected, abs=3.0 * 250.0)
    assert (bare == 0).sum() > expected
    middle = corners.mean(axis=0) / 2
    assert bare[int(middle[1]), int(middle[0])] == 0
    assert bare[5, 5] == bare[55, 135] == bare[50, 20] == 1


def test_a_picture_that_is_too_large_is_told(tmp_path: Path, monkeypatch: Any) -> None:
    assert sightings._MOST_BYTES == 104_857_600
    monkeypatch.setattr(sightings, "_MOST_BYTES", 10)
    (tmp_path / "photo.jpg").write_bytes(bytes(11))
    with pytest.raises(PhotoError) as caught:
        sightings.read_picture(tmp_path / "photo.jpg")
    assert caught.value.problem == "the picture is larger than 100 MiB"
    assert caught.value.remedy == "Save it as JPEG."
    assert caught.value.source == str(tmp_path / "photo.jpg")
