"""Classes inferred for a pattern of both halves: each half by itself, from its own CF to CB."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.body import (
    ClassModel,
    MeanFormModel,
    Measures,
    SectionModel,
    infer_classes,
)

FLAT = MeanFormModel("men", ratio=Measures.constant(6.0))

HALVES = [
    ([50] * 6, ("front", "front", "side", "side", "back", "back")),
    ([50] * 3, ("front", "side", "back")),
    ([50], ("side",)),
    ([120, 30, 30, 30], ("front", "side", "back", "back")),
    ([30, 90, 40], ("front", "side", "back")),
    # Were the first counted by half, the second would be a front panel too.
    ([60, 20, 120], ("front", "side", "back")),
    ([60, 20, 60, 60], ("front", "side", "side", "back")),
]
"""Widths from CF to CB with their classes."""


@pytest.mark.parametrize(
    ("left", "left_classes", "right", "right_classes"),
    [(*one, *two) for one in HALVES for two in HALVES if len(one[0]) == len(two[0])],
)
def test_each_half_has_the_classes_it_would_have_alone(
    left: list[float], left_classes: tuple, right: list[float], right_classes: tuple
) -> None:
    # An even number of panels: the centre front is a seam between the two middle ones.
    widths = np.array([*left[::-1], *right], dtype=float)
    assert infer_classes(widths, full=True) == (*left_classes[::-1], *right_classes)


@pytest.mark.parametrize(
    ("half", "classes"),
    [
        # The first is half of the panel across the centre front.
        ([30, 50, 50, 50], ("front", "front", "side", "back")),
        ([50, 50, 50], ("front", "side", "back")),
        ([90, 30, 30], ("front", "back", "back")),
        ([60], ("side",)),
    ],
)
def test_a_panel_across_the_centre_front_lies_half_in_each_half(
    half: list[float], classes: tuple[str, ...]
) -> None:
    widths = np.array([*half[:0:-1], 2 * half[0], *half[1:]], dtype=float)
    assert infer_classes(widths, full=True) == (*classes[:0:-1], *classes)


@pytest.mark.parametrize("full", [False, True])
def test_a_body_that_knows_its_sections_tells_where_panels_look(full: bool) -> None:
    # On the mean form of women the middles of six panels look to 11, 36, 67, 106, 148 and 174
    # degrees from straight ahead.
    half = np.full(6, 55.0)
    widths = np.concatenate([half, half]) if full else half
    words = ("front", "front", "side", "side", "back", "back")
    found = infer_classes(widths, full=full, body=MeanFormModel("women"), gap=30.0)
    assert found == (words[::-1] + words if full else words)
    # Round the edge of a body as flat as a board a panel looks to the side, wherever it begins.
    wide = np.array([70.0, 40.0, 10.0])
    assert infer_classes(wide, body=FLAT) == ("side", "back", "back")
    assert infer_classes(wide) == ("front", "back", "back")
    # Classes do not know: the places tell.
    assert infer_classes(half, body=ClassModel()) == words


def test_a_gap_moves_panels_only_where_it_is_told() -> None:
    # Round a circle their middles look to little more than 45 and than 135 degrees.
    widths = np.array([200.1, 199.9])
    circle = SectionModel(Measures.constant(1.0))
    assert infer_classes(widths, body=circle) == ("side", "back")
    assert infer_classes(widths, body=circle, gap=1.0) == ("front", "side")
