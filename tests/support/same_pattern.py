"""When are two patterns the same?"""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.outline.measure import length
from panelshift.outline.planar import area
from panelshift.pattern.panel import EDGE_NAMES, Panel
from panelshift.pattern.pattern import Pattern

SAME_MM = 1e-3
"""Lengths and places that differ by less are the same: a fiftieth of a drawn hairline."""


def assert_same(found: Pattern, plain: Pattern, *, within: float = SAME_MM) -> None:
    """Panels, names, edges, waists, levels and marks of both patterns are the same."""
    assert [panel.name for panel in found.panels] == [panel.name for panel in plain.panels]
    assert found.full == plain.full
    # The whole waist counts each panel's width twice.
    assert abs(found.waist - plain.waist) <= 2.0 * within * len(plain.panels)
    for one, two in zip(found.panels, plain.panels, strict=True):
        assert_same_panel(one, two, within)


def assert_same_panel(found: Panel, plain: Panel, within: float) -> None:
    for edge in EDGE_NAMES:
        one, two = found.edge(edge), plain.edge(edge)
        assert abs(length(one) - length(two)) <= within, (found.name, edge)
        assert np.abs(one.start - two.start).max() <= within, (found.name, edge)
        assert np.abs(one.end - two.end).max() <= within, (found.name, edge)
    # Areas are those of polygons: a bulge to the other side would differ by hundreds of mm^2.
    room = length(plain.outline) * (within + 0.02)
    assert abs(area(found.outline) - area(plain.outline)) <= room, found.name
    assert np.abs(found.frame.origin - plain.frame.origin).max() <= within, found.name
    # Axes of length 1: 50 mm along a waist they come to the same.
    for axis in ("across", "up"):
        apart = getattr(found.frame, axis) - getattr(plain.frame, axis)
        assert np.abs(apart).max() <= within / 10.0, (found.name, axis)
    assert _levels(found) == [
        (name, pytest.approx(height, abs=within), pytest.approx(width, abs=within))
        for name, height, width in _levels(plain)
    ]
    ours, theirs = _marks(found), _marks(plain)
    assert [mark[0] for mark in ours] == [mark[0] for mark in theirs], found.name
    for one, two in zip(ours, theirs, strict=True):
        assert np.abs(np.array(one[1:]) - np.array(two[1:])).max() <= within, (found.name, one[0])
    assert [text.content for text in found.texts] == [text.content for text in plain.texts]


def _levels(panel: Panel) -> list[tuple[str, float, float]]:
    return [(level.name, level.height, level.width) for level in panel.level_lines]


def _marks(panel: Panel) -> list[tuple[str, float, float, float, float, float]]:
    """Kind, box and length of each mark, in an order that does not hang on the file's."""
    found = []
    for mark in panel.marks:
        (x0, y0), (x1, y1) = mark.curve.hull_box
        found.append((mark.kind, *(float(v) for v in (x0, y0, x1, y1)), length(mark.curve)))
    return sorted(found, key=lambda mark: (mark[0], *(round(v, 1) for v in mark[1:])))
