"""Words on panels of many sizes: they keep clear of lines, and where they stand was looked over.

When they are meant to change, look at the new places and then refresh the golden page:

    PANELSHIFT_REFRESH_GOLDEN=1 pytest tests/cutting/test_cutting_words.py
"""

from __future__ import annotations

import itertools
from typing import Literal

import numpy as np
import pytest

from panelshift.cutting.panel_labels import blocks
from panelshift.cutting.panel_lines import set_grain
from panelshift.cutting.plan import Cutting
from panelshift.draft import Gore
from panelshift.sheets.label_room import LabelRoom
from panelshift.sheets.lettering import width
from panelshift.sheets.sheet import Label, label_corners
from tests.support.golden import changes
from tests.support.gored import gored, gored_svg, wedge

LONG = [
    ["4 side", "Hourglass; layer 3 of 6: coutille", "cut 2, one mirrored", "added: seam 10 mm"],
    ["4 side", "Hourglass; layer 4 of 6: interlining", "cut 2", "added: top 8, seam 10 mm"],
]
SHORT = [["4 side", "3 of 6: coutille"], ["4 side", "4 of 6: interlining"]]
SLACK_MM = 1.0
"""Boxes of words reach further than their letters do."""

SIZES = [
    *((220, 60), (120, 300), (70, 300), (45, 300), (34, 280), (26, 260), (21, 250)),
    *((17, 240), (13, 200), (10, 170), (8, 120), (6, 60), (30, 14), (4, 4)),
]


def said(wide: float, high: float, short: bool) -> list[list[Label]]:
    """Words within a panel with a line across its middle."""
    ring = np.array([(0, 0), (wide, 0), (wide, high), (0, high), (0, 0)], dtype=np.float64)
    waist = np.array([(0, 0.5 * high), (wide, 0.5 * high)])
    return blocks(LabelRoom([ring], [waist]), "4 side", LONG, SHORT if short else ())


@pytest.mark.parametrize("short", [False, True])
@pytest.mark.parametrize(("wide", "high"), [size for size in SIZES if min(size) >= 10.0])
def test_words_lie_within_the_panel_and_on_no_line(wide: float, high: float, short: bool) -> None:
    for layer in said(wide, high, short):
        boxes = []
        for label in layer:
            corners = label_corners(label)
            low, high_corner = corners.min(axis=0), corners.max(axis=0)
            assert (low > 0.0).all()
            assert (high_corner < (wide, high)).all()
            assert high_corner[1] < 0.5 * high or low[1] > 0.5 * high
            boxes.append((low, high_corner))
        for (a, b), (c, d) in itertools.combinations(boxes, 2):
            assert (a >= d - SLACK_MM).any() or (c >= b - SLACK_MM).any()


def test_words_stand_where_they_were_looked_over() -> None:
    lines = []
    for (wide, high), short in itertools.product(SIZES, (False, True)):
        lines.append(f"PANEL {wide} by {high} mm{', or in short' if short else ''}")
        for layer in said(wide, high, short):
            lines += [
                f"at {label.at[0]:.1f} {label.at[1]:.1f}, {np.degrees(label.angle):.0f} degrees, "
                f"{label.align}, size {label.size:.2f}{', bold' if label.bold else ''}: "
                f"{label.text}"
                for label in layer
            ]
    assert changes("panel-words.txt", "\n".join(lines)) == []


@pytest.mark.parametrize(("wide", "high"), [(60.0, 14.0), (40.0, 16.0), (8.0, 120.0)])
def test_a_small_piece_keeps_its_name_its_layer_and_how_often_it_is_cut(
    wide: float, high: float
) -> None:
    ring = np.array([(0, 0), (wide, 0), (wide, high), (0, high), (0, 0)], dtype=np.float64)
    words = ["gore 2", "layer 2 of 4", "cut 4, half mirrored", "coutille", "right side up"]
    (found,) = blocks(LabelRoom([ring], []), "gore 2", [words], [words])
    together = " ".join(label.text for label in found)
    assert all(each in together for each in words[:3])
    assert min(label.size for label in found) >= 2.0


@pytest.mark.parametrize("angle", [0.0, np.radians(30.0), -0.5 * np.pi])
@pytest.mark.parametrize(("align", "left"), [("start", 0.0), ("middle", -0.5)])
def test_letters_stand_in_a_box_turned_about_where_they_begin(
    angle: float, align: Literal["start", "middle"], left: float
) -> None:
    label = Label("side", np.array([30.0, 40.0]), 5.0, align=align, angle=angle)
    across, down = (
        np.array([np.cos(angle), np.sin(angle)]),
        np.array([-np.sin(angle), np.cos(angle)]),
    )
    long = 5.0 * width("side")
    corners = [
        label.at + x * long * across + y * 5.0 * down
        for x, y in ((left, 0.3), (left + 1.0, 0.3), (left + 1.0, -1.0), (left, -1.0))
    ]
    assert label_corners(label) == pytest.approx(np.array(corners))


@pytest.mark.parametrize(
    ("cutting", "words"),
    [
        (Cutting(), "cut 2, one mirrored"),
        (Cutting(4), "cut 4, half mirrored"),
        (Cutting(3), "cut 3, one mirrored"),
        (Cutting(5), "cut 5, 2 mirrored"),
        (Cutting(1), "cut 1"),
        (Cutting(2, mirrored=False), "cut 2"),
        (Cutting(1, mirrored=False, fold="front"), "cut 1, on the fold"),
    ],
)
def test_a_label_says_how_many_are_cut_and_mirrored(cutting: Cutting, words: str) -> None:
    assert ", ".join(cutting.words()) == words


def test_words_that_belong_together_stand_together_where_lines_stand_apart() -> None:
    """Gaps of 7 to 12 mm, 26 mm high: "cut 2, one mirrored" has no room in one line."""
    ring = np.array([(0, 0), (40, 0), (40, 26), (0, 26), (0, 0)], dtype=np.float64)
    lines = [np.array([(x, 0.0), (x, 26.0)]) for x in (12.0, 22.0, 33.0)]
    (layer,) = blocks(LabelRoom([ring], lines), "gore", [["gore", "of 4", "cut 2, one mirrored"]])
    at = {label.text: label for label in layer}
    first, second = at["cut 2, one"], at["mirrored"]
    assert second.at - first.at == pytest.approx([1.25 * first.size, 0.0])


@pytest.mark.parametrize(("up", "heights"), [(True, (0.44, 0.84)), (False, (0.16, 0.56))])
def test_a_grainline_that_a_gore_lacks_is_set_towards_its_tip(
    up: bool, heights: tuple[float, float]
) -> None:
    gore = gored(gored_svg({"gore": wedge(up=up)}), Gore("gore", ("front", "side")))["gore"]
    points = gore.frame.to_panel(gore.outline.flatten(0.01))[:, 1]
    low, high = float(points.min()), float(points.max())
    ends = gore.frame.to_panel(set_grain(gore, None))
    assert (ends[:, 1] - low) / (high - low) == pytest.approx(heights)
    assert ends[0, 0] == pytest.approx(ends[1, 0])
