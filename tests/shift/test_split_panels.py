"""Layers split at lines of their own: the parts are the panel, their new edges are one line."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import pytest
import shapely

from panelshift.body import ClassModel
from panelshift.body.turn import turn_of_cloth
from panelshift.draft import Gore, Reading, StandsOn, assemble
from panelshift.errors import StackError
from panelshift.outline import Curve
from panelshift.outline.crossing import nearest_position
from panelshift.outline.measure import length, position_at_length
from panelshift.outline.planar import line, polygon
from panelshift.pattern.panel import EDGE_NAMES, Panel, grain_of
from panelshift.pattern.pattern import Pattern
from panelshift.pattern.two_sides import both_sides
from panelshift.shift import LayerPattern, shift
from panelshift.shift.split_panels import refuse_unsplittable
from panelshift.sources.svg import read_svg
from panelshift.stack import Fabric, Stack
from tests.support.gored import gored_svg

# Panels stand 190 mm apart from 60 on, 110 wide, the waist at 220, tops at 70, hems at 370.
ACROSS = '<path id="rib" d="M40 150 C 200 120 400 160 600 140"/>'
UPRIGHT = '<path id="style" d="M300 40 C 320 200 290 250 310 390"/>'
BAND = '<path id="band" d="M40 300 H600"/>'
GRAIN = '<path id="grain" d="M320 330 L290 130"/>'
BONES = (
    '<path id="bone 1" d="M265 90 V350 H272 V90 Z"/><path id="bone 2" d="M345 90 V350"/>'
    '<path id="notch" d="M243 120 H250"/><path id="notch 2" d="M243 139 H252"/>'
    '<path id="hip" d="M230 330 H380"/>'
)


def draft(
    lines: str,
    *names: str,
    stands_on: tuple[StandsOn, ...] = (),
    gores: tuple[Gore, ...] = (),
    loose: dict[str, list[tuple[float, float]]] | None = None,
    panels: dict[str, list[tuple[float, float]]] | None = None,
) -> Pattern:
    drawing = read_svg(gored_svg(loose or {}, panels=panels, extra=lines))
    reading = Reading(halves="half", split_at=names, stands_on=stands_on, gores=gores)
    return assemble(drawing, reading)


def split(
    pattern: Pattern, *names: str, groups: Sequence[tuple[str, ...]] = (), darts_from: float = 3.0
) -> LayerPattern:
    outer = Fabric("outer", 2.0, split_at=names, cut_in_one=tuple(groups), darts_from=darts_from)
    stack = Stack([Fabric("inner", 2.0), outer], "inner")
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * len(pattern))
    return shift(pattern, stack, turn).layers[1]


def refused(pattern: Pattern, *names: str, groups: Sequence[tuple[str, ...]] = ()) -> str:
    cloth = Fabric("lining", 0.2, split_at=names, cut_in_one=tuple(groups))
    with pytest.raises(StackError) as told:
        refuse_unsplittable(pattern, cloth)
    return told.value.problem


def check_parts(whole: Panel, parts: Sequence[Panel]) -> None:
    """Together they are the panel; what they share is one line on both."""
    assert sum(part.outline.area for part in parts) == pytest.approx(whole.outline.area, rel=1e-6)
    shapes = [polygon(part.outline) for part in parts]
    union, panel = shapely.unary_union(shapes), polygon(whole.outline)
    assert union.symmetric_difference(panel).area < 1e-6 * panel.area
    for part in parts:
        for edge in set(EDGE_NAMES) - part.parted:
            for point in part.edge(edge).flatten(0.5):
                assert nearest_position(whole.edge(edge), point)[1] < 1e-6
    for one, two in itertools.pairwise(parts):
        edge, mate = ("top", "bottom") if "top" in one.parted else ("back", "front")
        assert one.edge(edge).points([0.3]) == pytest.approx(two.edge(mate).points([0.3]), abs=1e-9)
        assert length(one.edge(edge)) == pytest.approx(length(two.edge(mate)), abs=1e-9)


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["rib"], ["lower part", "upper part"]),
        (["band", "rib"], ["lower part", "middle part", "upper part"]),
        (["rib", "band", "waist"], [f"part {k} of 4" for k in (1, 2, 3, 4)]),
    ],
)
def test_parts_across_are_the_panel(names: list[str], words: list[str]) -> None:
    layer = split(draft(ACROSS + BAND, *names), *names)
    cut = layer.pieced.whole
    for panel in layer.whole:
        parts = [piece for piece in cut if piece.made_of == (panel.name,)]
        check_parts(panel, parts)
        assert [part.name for part in parts] == [f"{panel.name}, {own}" for own in words]
    assert all(abs(walked.difference) < 1e-3 for walked in cut.walk())
    kinds = [cut.edge_kind(0, edge) for edge in EDGE_NAMES]
    assert kinds == ["centre_front", "seam", "seam", "bottom"]
    assert cut.open_edges() >= {(k, "front") for k in range(len(words))}
    # The seams that all layers have are walked as ever.
    assert [walked.name for walked in layer.walk()] == ["front to side", "side to back"]


@pytest.mark.parametrize("turned_over", [False, True])
def test_parts_beside_each_other_are_the_panel(turned_over: bool) -> None:
    pattern = draft(UPRIGHT, "style")
    pattern = pattern.mirrored() if turned_over else pattern
    layer = split(pattern, "style")
    cut = layer.pieced.whole
    assert [panel.name for panel in cut] == ["front", "side, front part", "side, back part", "back"]
    check_parts(layer.whole["side"], cut.panels[1:3])
    assert [walked.name for walked in cut.walk()] == [
        "front to side, front part",
        "side, front part to side, back part",
        "side, back part to back",
    ]
    assert all(abs(walked.difference) < 1e-3 for walked in cut.walk())
    # Each part has its own waist, and the heights of the panel.
    assert cut.waist == pytest.approx(layer.whole.waist, abs=1e-3)
    for part in cut.panels[1:3]:
        assert part.waist is not None
        assert part.waist.height == pytest.approx(0.0, abs=1e-6)
        assert part.frame.origin == pytest.approx(part.waist.curve.points([0.5])[0], abs=0.01)


def test_a_line_that_slants_over_the_waist_leaves_its_marks() -> None:
    layer = split(draft('<path id="slant" d="M225 170 L 385 260"/>', "slant"), "slant")
    lower, upper = (piece for piece in layer.pieced.whole if piece.made_of == ("side",))
    check_parts(layer.whole["side"], (lower, upper))
    assert lower.waist is None
    assert upper.waist is None
    for part, balance in ((lower, "top"), (upper, "bottom")):
        kinds = [mark.kind for mark in part.marks]
        assert sorted(kinds) == ["level", "notch", "notch"]
        edge = part.edge("top" if balance == "top" else "bottom")
        (at,) = edge.points(position_at_length(edge, [length(edge) / 3.0]))
        starts = [mark.curve.start for mark in part.marks if mark.kind == "notch"]
        assert min(np.hypot(*(start - at)) for start in starts) < 1e-6
        # It lies within the part.
        assert all(polygon(part.outline).buffer(0.05).contains(line(m.curve)) for m in part.marks)
    waist = layer.whole["side"].waist
    assert waist is not None
    ends = [waist.curve.start, waist.curve.end]
    for part, end in ((lower, ends[0]), (upper, ends[1])):
        assert min(np.hypot(*(mark.curve.start - end)) for mark in part.marks) < 0.1


def test_what_is_drawn_is_parted_with_the_panel() -> None:
    pattern = draft(ACROSS + GRAIN + BONES, "rib")
    layer = split(pattern, "rib")
    lower, upper = (piece for piece in layer.pieced.whole if piece.made_of == ("side",))
    whole = grain_of(layer.whole["side"])
    assert whole is not None
    for part in (lower, upper):
        drawn = grain_of(part)
        assert drawn is not None
        way, old = (ends[1] - ends[0] for ends in (drawn[0], whole[0]))
        assert way[0] * old[1] - way[1] * old[0] == pytest.approx(0.0, abs=0.2)
        assert polygon(part.outline).contains(line(drawn_line(part)))
        kinds = sorted(mark.kind for mark in part.marks)
        assert kinds.count("bone") == 2
        long = sum(length(mark.curve) for mark in part.marks if mark.kind == "bone")
        assert long > 100.0
    # One notch stood where the seam across ends, the other on the upper part.
    assert sum(mark.kind == "notch" for mark in lower.marks) == 1
    assert sum(mark.kind == "notch" for mark in upper.marks) == 2
    assert [level.name for level in lower.levels] == ["hip"]
    assert lower.waist is not None
    assert upper.level_lines == ()


def drawn_line(part: Panel) -> Curve:
    (grain,) = (mark.curve for mark in part.marks if mark.kind == "grainline")
    return grain


def test_a_line_over_one_panel_ends_on_those_beside() -> None:
    pattern = draft('<path id="yoke" d="M230 120 H380"/>', "yoke")
    cut = split(pattern, "yoke").pieced.whole
    assert {(tip.edge, tip.piece) for tip in cut["front"].tips} == {("back", "side, upper part")}
    assert [walked.name for walked in cut.walk()] == [
        "front to side, lower part",
        "front to side, upper part",
        "side, lower part to back",
        "side, upper part to back",
        "side, lower part to side, upper part",
    ]
    assert all(abs(walked.difference) < 2e-3 for walked in cut.walk())


def test_both_halves_are_split_alike() -> None:
    half = draft(ACROSS + UPRIGHT, "rib", "style")
    full = both_sides(half)
    for name in ("rib", "style"):
        cut, own = (split(pattern, name).pieced.whole for pattern in (full, half))
        assert cut.front_place == len(own)
        assert len(cut) == 2 * len(own)
        lengths = cut.seam_lengths()
        assert lengths[:, 0] == pytest.approx(lengths[:, 1], abs=2e-3)
        assert {cut.panels[k].name for k, _ in cut.open_edges()} == {
            f"{side} {own.panels[k].name}"
            for k, _ in own.open_edges()
            for side in ("left", "right")
        }


@pytest.mark.parametrize("darts_from", [3.0, 500.0])
def test_a_piece_of_several_panels_is_split_after_joining(darts_from: float) -> None:
    pattern = draft(ACROSS + UPRIGHT, "rib", "style")
    for name, count in (("rib", 4), ("style", 3)):
        layer = split(pattern, name, groups=[("front", "side")], darts_from=darts_from)
        (joined,) = layer.joined
        own = [piece for piece in layer.pieced.whole if piece.made_of == ("front", "side")]
        check_parts(joined.panel, own)
        assert len(layer.pieced.whole) == count
        assert [walked.name for walked in layer.walk()] == ["front + side to back"]
        assert len(layer.walk(as_cut=True)) == 1
