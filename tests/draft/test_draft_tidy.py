"""Pieces that are shorter than anybody draws, beside longer ones."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from panelshift.draft.tidy import without_stray_pieces
from panelshift.outline import Curve
from panelshift.outline.bezier import CUBIC, LINE, line_control

BEND = np.array([(0.0, 0.0), (10.0, 20.0), (30.0, 40.0), (60.0, 40.0)])
STEP = np.array([0.0, 0.03])


def line(one: np.ndarray, two: np.ndarray) -> np.ndarray:
    return line_control(one[None], two[None])[0]


@pytest.mark.parametrize("backwards", [False, True])
def test_an_end_goes_to_where_the_stray_piece_ends_and_its_handle_with_it(backwards: bool) -> None:
    end = BEND[3] + STEP
    drawn = Curve(np.stack([BEND, line(BEND[3], end)]), np.array([CUBIC, LINE]))
    wanted = BEND + np.outer([0.0, 0.0, 1.0, 1.0], STEP)
    (found,) = without_stray_pieces([drawn.reversed() if backwards else drawn])
    assert found.control == pytest.approx(wanted[None, :: -1 if backwards else 1])
    assert (found.degree.tolist(), found.closed) == ([CUBIC], False)


@pytest.mark.parametrize("aside", [True, False])
def test_between_two_pieces_the_one_is_moved_that_turns_less(aside: bool) -> None:
    """A step across the first's end is along the second's start, which is drawn back to it."""
    step = np.array([0.0, 0.03]) if aside else np.array([0.03, 0.0])
    after = BEND[3] + step
    far = after + [0.0, 50.0]
    control = np.stack([BEND, line(BEND[3], after), line(after, far)])
    (found,) = without_stray_pieces([Curve(control, np.array([CUBIC, LINE, LINE]))])
    meets = BEND[3] if aside else after
    first = BEND + np.outer([0.0, 0.0, 1.0, 1.0], meets - BEND[3])
    assert found.control == pytest.approx(np.stack([first, line(meets, far)]))


def test_lines_without_stray_pieces_are_left_as_they_are() -> None:
    long = Curve(BEND[None], np.array([CUBIC]))
    # Short pieces that come to more than a hairline together are a line's own.
    points = np.array([60.0, 40.0]) + np.outer(np.linspace(0.0, 0.08, 3), [1.0, 0.0])
    own = np.stack([BEND, *(line(one, two) for one, two in pairwise(points))])
    run = Curve(own, np.array([CUBIC, LINE, LINE]))
    tiny = Curve(own[1:], np.array([LINE, LINE]))
    assert without_stray_pieces([long, run, tiny]) == [long, run, tiny]
    assert without_stray_pieces([]) == []
