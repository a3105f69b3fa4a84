"""Where parts, the key of layers and the squares to measure stand on a sheet, by closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.cutting.composing import SPACE_MM, legend, rows, ruler_squares
from panelshift.sheets.sheet import numbered_layers


def test_the_key_of_layers_goes_on_in_a_column_beside_after_four() -> None:
    layers = numbered_layers([(f"cloth {k}", k + 1) for k in range(6)])
    strokes, labels = legend(layers, 200.0, 47.5)
    corners = [(200.0 + 110.0 * (k // 4), 47.5 + 7.5 * (k % 4)) for k in range(6)]
    for (left, base), layer, stroke, label in zip(corners, layers, strokes, labels, strict=True):
        assert (stroke.kind, stroke.layer, label.text) == ("stitch-line", layer.name, layer.name)
        assert stroke.curve.vertices.tolist() == [[left, base - 1.6], [left + 32.0, base - 1.6]]
        assert (label.at.tolist(), label.size) == ([left + 36.0, base], 5.0)


@pytest.mark.parametrize(
    ("stacked", "corners"),
    [(False, [(7.0, 9.0), (65.0, 9.0)]), (True, [(7.0, 9.0), (7.0, 63.0)])],
)
def test_the_squares_to_measure(stacked: bool, corners: list[tuple[float, float]]) -> None:
    strokes, labels = ruler_squares(7.0, 9.0, stacked=stacked)
    sizes = (50.0, 50.8)
    for stroke, (x, y), size in zip(strokes, corners, sizes, strict=True):
        assert stroke.kind == "test-squares"
        assert stroke.curve.bounds() == pytest.approx(np.array([(x, y), (x + size, y + size)]))
    assert [label.text for label in labels] == ["50 mm", "measure me", "2 in", "measure me"]
    for name, below, (x, y), size in zip(labels[::2], labels[1::2], corners, sizes, strict=True):
        assert name.at == pytest.approx([x + 0.5 * size, y + 0.5 * size])
        assert below.at == pytest.approx([x + 0.5 * size, y + 0.5 * size + 8.0])


def test_rows_hold_their_waists_level_and_no_more_than_the_sheet_is_wide() -> None:
    boxes = [
        np.array([(-30.0, -100.0), (40.0, 90.0)]),
        np.array([(-50.0, -60.0), (50.0, 140.0)]),
        np.array([(-20.0, -10.0), (30.0, 20.0)]),
        np.array([(-200.0, -5.0), (200.0, 5.0)]),
    ]
    # 15 + 70 + 15 + 100 + 15 fit on 215 mm, and the third does not beside them.
    places, wide, high = rows(boxes, 215.0)
    first, second = SPACE_MM + 100.0, SPACE_MM + 240.0 + SPACE_MM + 10.0
    third = second + 20.0 + SPACE_MM + 5.0
    assert np.array(places) == pytest.approx(
        np.array([(45.0, first), (150.0, first), (35.0, second), (215.0, third)])
    )
    assert (wide, high) == (430.0, third + 5.0 + SPACE_MM)
    # A little narrower, and the second goes down too.
    assert len({float(place[1]) for place in rows(boxes[:2], 214.0)[0]}) == 2
