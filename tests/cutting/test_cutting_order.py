"""Words and lines that could be exchanged: labels, layers, what is drawn once, who lies where."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, strategies as st
from shapely.geometry import Polygon

from panelshift.cutting.allowance import cut_line
from panelshift.cutting.composing import SPACE_MM, rows
from panelshift.cutting.layer_sheets import layer_words
from panelshift.cutting.parts import layer_parts, nested_parts, upright
from panelshift.cutting.plan import CutPlan, Cutting, cut_layers
from panelshift.outline import Curve
from panelshift.stack import Fabric, Stack
from tests.support.drafts import drawn, walls
from tests.support.drawings import Draft, half, panels, path, pattern, svg
from tests.support.runs import Run, run, sample

WIDTHS = (45.0, 50.0, 55.0)


def walled(*cloths: Fabric) -> Run:
    return run(drawn(walls(WIDTHS)), Stack(cloths))


def test_labels_read_from_the_panel_s_name_down() -> None:
    outcome = walled(Fabric("drill", 0.5))
    parts = layer_parts(outcome.shifted, outcome.shifted.layers[0], CutPlan())
    for place, part in enumerate(parts, start=1):
        size = max(label.size for label in part.labels)
        block = [label for label in part.labels if label.bold]
        assert [label.text for label in block] == [f"wall {place}"]
        assert block[0].size == size
        at = part.labels.index(block[0])
        # With or without room for lines of their own.
        words = " ".join(label.text for label in part.labels[at:]).replace(";", "")
        assert words == (
            f"wall {place} pattern layer 1 of 1: drill cut 2, one mirrored right side up "
            f"added: {ADDED[place]} mm"
        )


ADDED = {
    1: "centre front 10, top 10, seam 10, bottom 10",
    2: "seam 10, top 10, bottom 10",
    3: "seam 10, top 10, centre back 10, bottom 10",
}


@pytest.mark.parametrize(
    ("cutting", "words"),
    [
        (Cutting(2), ("cut 2", "one mirrored")),
        (Cutting(4), ("cut 4", "half mirrored")),
        (Cutting(2, mirrored=False), ("cut 2",)),
    ],
)
def test_a_pair_says_one_mirrored_and_more_say_half(cutting: Cutting, words: object) -> None:
    assert cutting.words() == words


def test_layers_are_counted_from_the_body_and_distances_told_from_the_least() -> None:
    """A band on one panel only lifts the outer layer there: its distance is a range."""
    band = Fabric("band", 0.3, panels=frozenset({"wall 2"}))
    outcome = walled(Fabric("lining", 0.2), band, Fabric("satin", 0.4))
    words = [layer_words(outcome.shifted, layer) for layer in outcome.shifted.layers]
    assert [lines[0].partition(",")[0] for lines in words] == [f"layer {k} of 3" for k in (1, 2, 3)]
    # By hand: half of both cloths, and the band's whole thickness where it lies.
    assert "mid-surface +0.3 to +0.6 mm" in words[2][1]


def test_the_distance_of_a_layer_inside_is_told_from_the_least_as_well() -> None:
    band = Fabric("band", 0.3, panels=frozenset({"wall 2"}))
    stack = Stack((Fabric("lining", 0.2), band, Fabric("satin", 0.4)), "satin")
    outcome = run(drawn(walls(WIDTHS)), stack)
    told = re.search(
        r"([-+][\d.]+) to ([-+][\d.]+)", layer_words(outcome.shifted, outcome.shifted.layers[0])[1]
    )
    assert told is not None
    assert [float(value) for value in told.groups()] == [-0.6, -0.3]


@given(
    st.lists(st.tuples(st.floats(5.0, 400.0), st.floats(5.0, 400.0)), min_size=1, max_size=12),
    st.floats(430.0, 1500.0),
)
def test_no_row_is_wider_than_the_sheet(sizes: list[tuple[float, float]], width: float) -> None:
    boxes = [np.array([[-0.3 * a, -0.6 * b], [0.7 * a, 0.4 * b]]) for a, b in sizes]
    places, used, high = rows(boxes, width)
    assert used <= width + 1e-9
    placed = [box + place for box, place in zip(boxes, places, strict=True)]
    low, top = (
        np.min([box[0] for box in placed], axis=0),
        np.max([box[1] for box in placed], axis=0),
    )
    assert (low >= SPACE_MM - 1e-9).all()
    assert (top <= np.array([used, high]) - SPACE_MM + 1e-9).all()


@pytest.mark.parametrize("ends", [(120.0, 280.0), (280.0, 120.0)], ids=["down", "up"])
def test_a_panel_stands_on_its_bottom_whichever_way_its_grain_was_drawn(
    ends: tuple[float, float],
) -> None:
    grain = path(f"M65 {ends[0]}L65 {ends[1]}", "grainline")
    (panel,) = pattern(Draft("side").panel() + grain).panels
    assert [mark.kind for mark in panel.marks] == ["grainline"]
    assert upright(panel)[:, :2] == pytest.approx(np.eye(2), abs=1e-9)


def test_a_mitre_is_measured_by_the_wider_of_its_two_allowances() -> None:
    """A square corner of 2 and 30 mm: its tip lies 30.1 mm off, and 5 mm would cut it away."""
    draft = Draft("box", waist=60.0, left=(0.0, 0.0), right=(0.0, 0.0))
    (panel,) = pattern(draft.panel()).panels
    cut = cut_line(panel, {"front": 2.0, "back": 30.0, "top": 2.0, "bottom": 2.0})
    area = Polygon(cut.flatten(1e-3)).area
    assert area == pytest.approx((60.0 + 32.0) * (220.0 + 4.0), abs=1e-6)


@pytest.mark.slow
def test_what_all_layers_share_is_drawn_once_as_on_the_first() -> None:
    result = sample("hourglass")
    layers = cut_layers(result.shifted)
    nested = nested_parts(result.shifted, layers, result.job.plan)
    first = layer_parts(result.shifted, layers[0], result.job.plan)
    shared = ("grainlines", "bone-channels", "marks")
    for both, own in zip(nested, first, strict=True):
        drawn_once = [s.curve for s in both.strokes if s.kind in shared]
        expected = [s.curve for s in own.strokes if s.kind in shared]
        assert len(expected) > 0
        assert same(drawn_once, expected)
        for kind in ("cut-line", "stitch-line", "waistline"):
            names = [s.layer for s in both.strokes if s.kind == kind]
            assert names == [layer.fabric.name for layer in layers]


def same(one: list[Curve], two: list[Curve]) -> bool:
    return len(one) == len(two) and all(
        np.array_equal(a.control, b.control) for a, b in zip(one, two, strict=True)
    )


def test_each_nested_panel_has_its_own_words() -> None:
    plan = CutPlan(cuttings={"2": Cutting(1, fold="front"), "3": Cutting(4)})
    outcome = run(pattern_bytes(), Stack((Fabric("lining", 0.2), Fabric("satin", 0.4))))
    parts = nested_parts(outcome.shifted, outcome.shifted.layers, plan)
    words = {}
    for part in parts:
        at = next(k for k, label in enumerate(part.labels) if label.bold)
        words[part.labels[at].text] = " ".join(label.text for label in part.labels[at + 1 :])
    assert words == {
        "1": "cut 2 one mirrored of each layer",
        "2": "cut 1 on the fold of each layer",
        "3": "cut 4 half mirrored of each layer",
    }


def pattern_bytes() -> bytes:
    return svg(panels(half(3, names=("1", "2", "3")))).encode()
