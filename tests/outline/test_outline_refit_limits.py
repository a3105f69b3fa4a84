"""When a fit is split and when a line stays a line: images made to err by a known amount."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline import Curve
from panelshift.outline.bezier import CUBIC, LINE
from panelshift.outline.refit import REFIT_TOLERANCE_MM, CurveMap, refit


def refit_one(curve: Curve, image: CurveMap, tolerance: float = REFIT_TOLERANCE_MM) -> Curve:
    return refit([curve], image, tolerance)[0]


TOLERANCE = 0.005
ALONG = {"x": (1.0, 0.0), "y": (0.0, 1.0), "both": (0.6, 0.8), "down": (0.8, -0.6)}
"""Directions of a chord."""


def straight(way: str, size: float, kind: int) -> Curve:
    ends = [(0.0, 0.0), tuple(size * np.array(ALONG[way]))]
    line = Curve.polyline(ends)
    return Curve(line.control, np.array([kind]))


def bumped(curve: Curve, at: float, width: float, size: tuple[float, float]) -> CurveMap:
    """The curve with a bump: exp(-((t - at) / width)^2) times the size, in x and y."""

    def image(index: np.ndarray, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        away = (t - at) / width
        bump = np.exp(-(away**2))[:, None] * np.array(size)
        slope = (-2.0 * away / width)[:, None] * bump
        return curve.points(index + t) + bump, curve.derivatives(index + t) + slope

    return image


@pytest.mark.parametrize("eighth", range(1, 8))
@pytest.mark.parametrize(("part", "pieces"), [(0.8, 1), (1.2, 2)])
def test_an_error_at_any_eighth_of_a_segment_is_seen(eighth: int, part: float, pieces: int) -> None:
    curve = straight("x", 100.0, CUBIC)
    size = part * TOLERANCE / np.sqrt(2)
    # Too narrow to be felt at any other eighth.
    found = refit_one(curve, bumped(curve, eighth / 8, 0.02, (size, size)), TOLERANCE)
    assert min(len(found), 2) == pieces


def test_errors_at_several_places_do_not_add_up() -> None:
    curve = straight("x", 100.0, CUBIC)

    def image(index: np.ndarray, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        off = 0.8 * TOLERANCE * np.sin(np.pi * t) ** 2
        rate = 0.8 * TOLERANCE * np.pi * np.sin(2 * np.pi * t)
        up = np.array([0.0, 1.0])
        return curve.points(t) + off[:, None] * up, curve.derivatives(t) + rate[:, None] * up

    assert len(refit_one(curve, image, TOLERANCE)) == 1


@pytest.mark.parametrize("way", ALONG)
@pytest.mark.parametrize("size", [0.5, 100.0])
@pytest.mark.parametrize(("part", "kept"), [(0.8, True), (1.2, False)])
def test_a_line_stays_one_while_its_image_bulges_less_than_the_tolerance(
    way: str, size: float, part: float, kept: bool
) -> None:
    line = straight(way, size, LINE)
    across = part * TOLERANCE * np.array([-ALONG[way][1], ALONG[way][0]])
    found = refit_one(line, bumped(line, 0.5, 0.02, tuple(across)), TOLERANCE)
    assert (found.degree.tolist() == [LINE]) is kept
    # What was drawn as a curve stays one, however straight it is.
    bent = straight(way, size, CUBIC)
    assert LINE not in refit_one(bent, bumped(bent, 0.5, 0.02, tuple(across)), TOLERANCE).degree


@pytest.mark.parametrize("way", ["x", "y"])
def test_a_line_whose_image_comes_back_to_its_start_is_no_line(way: str) -> None:
    line = straight(way, 50.0, LINE)

    def image(index: np.ndarray, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        out, rate = t * (1.0 - t), 1.0 - 2.0 * t
        return out[:, None] * np.array(ALONG[way]), rate[:, None] * np.array(ALONG[way])

    found = refit_one(line, image, TOLERANCE)
    assert found.degree.tolist() == [CUBIC]
    assert found.points([0.5])[0] == pytest.approx(0.25 * np.array(ALONG[way]))


def test_an_image_that_no_cubic_follows_is_split_a_bounded_number_of_times() -> None:
    curve = straight("x", 100.0, CUBIC)

    def image(index: np.ndarray, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        rough = 20.0 * TOLERANCE * (np.sin(12.9898 * t) * 43758.5453 % 1.0)
        return curve.points(t) + np.stack([0.0 * t, rough], axis=1), curve.derivatives(t)

    found = refit_one(curve, image, TOLERANCE)
    assert 1000 < len(found) < 10_000
    ends = image(np.zeros(2, dtype=np.int64), np.array([0.0, 1.0]))[0]
    assert np.array([found.start, found.end]) == pytest.approx(ends)
    # Nothing is left out on the way.
    assert np.diff(found.vertices[:, 0]).max() < 0.2


def test_fits_cannot_be_changed_in_place() -> None:
    curves = [straight("x", 9.0, CUBIC), straight("y", 9.0, LINE)]

    def image(index: np.ndarray, t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        points = np.stack([9.0 * t, 0.0 * t + index], axis=1)
        return points, np.stack([9.0 + 0.0 * t, 0.0 * t], axis=1)

    for found, number in zip(refit(curves, image), (0, 1), strict=True):
        assert found.vertices == pytest.approx(np.array([(0.0, number), (9.0, number)]))
        assert not found.control.flags.writeable
        assert not found.degree.flags.writeable
