"""Interpolation at remembered places against numpy's own, row by row and group by group."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline.places import Places

SAMPLES = np.linspace(-30.0, 50.0, 17)
WANTED = np.array([-99.0, -30.0, -29.0, -3.7, 0.0, 5.0, 46.2, 49.9, 50.0, 51.0, 400.0])
ROWS = np.random.default_rng(3).normal(size=(4, len(SAMPLES)))


def rates(wanted: np.ndarray, samples: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Rise over run of the interval that holds each wanted place, or of the nearest."""
    slopes = np.diff(values) / np.diff(samples)
    return slopes[np.clip(np.searchsorted(samples, wanted, "right") - 1, 0, len(slopes) - 1)]


def test_even_samples_are_read_as_numpy_reads_them() -> None:
    found = Places.even(WANTED, SAMPLES).read(ROWS)
    expected = [np.interp(WANTED, SAMPLES, row) for row in ROWS]
    assert found == pytest.approx(np.array(expected), abs=1e-12)


def test_each_place_can_be_read_from_a_row_of_its_own() -> None:
    row = np.arange(len(WANTED)) % len(ROWS)
    values, slopes = Places.even(WANTED, SAMPLES).read_rows(ROWS, row)
    assert values == pytest.approx(
        [np.interp(w, SAMPLES, ROWS[k]) for w, k in zip(WANTED, row, strict=True)]
    )
    assert slopes == pytest.approx(
        [rates(np.array([w]), SAMPLES, ROWS[k])[0] for w, k in zip(WANTED, row, strict=True)]
    )


SIZES = (5, 1, 2, 9)
"""Samples of each group; one group has a single one."""


def test_groups_are_read_each_by_itself() -> None:
    rng = np.random.default_rng(8)
    groups = [np.sort(rng.uniform(-40.0, 40.0, size)) for size in SIZES]
    values = [rng.normal(size=size) for size in SIZES]
    keys = np.concatenate([1e4 * k + group for k, group in enumerate(groups)])
    starts = np.concatenate([[0], np.cumsum(SIZES)])
    flat = np.concatenate(values)
    for k, (group, own) in enumerate(zip(groups, values, strict=True)):
        inside = 0.5 * (group[1:] + group[:-1])
        wanted = np.concatenate([[-300.0, group[0] - 0.1], group, inside, [group[-1] + 0.1, 300.0]])
        which = np.full(len(wanted), k)
        places = Places.among(wanted, which, np.concatenate(groups), keys, starts)
        expected = np.interp(wanted, group, own)
        assert places.read(flat) == pytest.approx(expected, abs=1e-12)
        found, slopes = places.read_rows(flat[None], np.zeros_like(which))
        assert found == pytest.approx(expected, abs=1e-12)
        if len(group) > 1:
            assert slopes == pytest.approx(rates(wanted, group, own))
