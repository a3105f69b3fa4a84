"""What scripts give as a line."""

from __future__ import annotations

import pytest

from panelshift.sources.scripts import line_of


@pytest.mark.parametrize(
    ("points", "closed"),
    [
        ([(0, 0), (60, 0), (60, 80), (0, 0)], True),
        ([(0, 0), (60, 0), (60, 80), (0, 80)], False),
        ([(0, 0), (60, 0)], False),
        # There and back is no figure that closes, but begins where it ends.
        ([(0, 0), (60, 0), (0, 0)], True),
    ],
)
def test_a_line_is_closed_that_ends_where_it_begins(
    points: list[tuple[float, float]], closed: bool
) -> None:
    assert line_of(points).closed is closed
