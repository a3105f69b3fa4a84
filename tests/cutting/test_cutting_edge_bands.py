"""Facings along the top and the bottom: all panels in one piece, as wide all along."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
import shapely

from panelshift import DraftPanel, pattern_from_panels
from panelshift.body import ClassModel
from panelshift.body.turn import turn_of_cloth
from panelshift.cutting.composing import rowed
from panelshift.cutting.edge_bands import End, edge_bands
from panelshift.cutting.extras import Extras
from panelshift.cutting.loose import (
    LoosePiece,
    _inner_line,
    loose_parts,
    loose_pieces,
    loose_sheet,
)
from panelshift.cutting.plan import Allowances, CutPlan, Cutting
from panelshift.errors import StackError
from panelshift.outline import Curve
from panelshift.outline.measure import length
from panelshift.outline.planar import area
from panelshift.pattern.pattern import Pattern
from panelshift.sheets.sheet import Stroke
from panelshift.shift import LayerPattern, shift
from panelshift.stack import Fabric, Stack
from tests.support.drafts import PanelDraft, both_halves, cone_gores, drawn, walls
from tests.support.runs import read_pattern

WIDE = 30.0


def facings(
    drafts: Sequence[PanelDraft], end: End, **kept: object
) -> tuple[Pattern, list[LoosePiece]]:
    pattern = read_pattern(drawn(drafts))
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * len(pattern))
    extras = Extras(**{f"{end}_facing": WIDE})  # type: ignore[arg-type]
    none = Allowances(0.0, 0.0, 0.0, 0.0, 0.0)
    plan = CutPlan(extras=extras, allowances={"drill": none}, **kept)  # type: ignore[arg-type]
    return pattern, loose_pieces(shift(pattern, Stack([Fabric("drill", 0.5)]), turn), plan, 0.0)


def shifted_layer(pattern: Pattern) -> LayerPattern:
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * len(pattern))
    return shift(pattern, Stack([Fabric("drill", 0.5)]), turn).layers[0]


def outlined(piece: LoosePiece) -> float:
    assert piece.outline is not None
    return area(piece.outline)


@pytest.mark.parametrize("end", ["top", "bottom"])
def test_on_an_upright_wall_it_is_a_straight_strip(end: End) -> None:
    _, (piece,) = facings(walls((40.0, 60.0, 80.0)), end)
    assert (piece.count, piece.mirrored, piece.cloth) == (2, True, "drill")
    assert piece.length == pytest.approx(180.0, abs=1e-3)
    assert outlined(piece) == pytest.approx(180.0 * WIDE, abs=0.1)
    assert "0 mm longer" in piece.note or "0 mm shorter" in piece.note


def test_on_a_cone_it_is_a_part_of_a_ring() -> None:
    pattern, (piece,) = facings(cone_gores(105.0, 0.3, 6, (-100.0, 100.0)), "top")
    whole = sum(length(panel.edge("top")) for panel in pattern)
    assert piece.length == pytest.approx(whole, rel=2e-3)
    # The ring of 6 gores, a flat angle each; its inner edge is shorter by angle times width.
    panel = pattern.panels[0]
    ways = [panel.edge(side).end - panel.edge(side).start for side in ("front", "back")]
    angle = 6.0 * abs(np.subtract(*(np.arctan2(way[1], way[0]) for way in ways)))
    assert outlined(piece) == pytest.approx(WIDE * (whole - 0.5 * angle * WIDE), rel=3e-3)
    assert "gives up to 0.0 %" in piece.note


def test_both_halves_have_one_each_and_on_the_fold_it_is_one() -> None:
    _, pieces = facings(both_halves(walls((40.0, 60.0))), "top")
    assert [(p.name, p.count) for p in pieces] == [
        ("facing of the top, 1 of 2", 1),
        ("facing of the top, 2 of 2", 1),
    ]
    assert outlined(pieces[0]) == pytest.approx(outlined(pieces[1]), rel=1e-4)
    held = {"wall 1": Cutting(1, mirrored=False, fold="front")}
    _, (piece,) = facings(walls((40.0, 60.0)), "bottom", cuttings=held)
    assert (piece.count, piece.mirrored) == (1, False)
    assert piece.fold is not None
    assert "on the fold" in piece.note
    assert {stroke.kind for stroke in piece.strokes} == {"cut-line", "stitch-line", "fold-line"}


def test_one_higher_than_the_panels_is_refused() -> None:
    with pytest.raises(StackError, match="wider than panel 'wall 1' is high"):
        facings(walls((40.0, 60.0), (-10.0, 12.0)), "top")


def test_where_gores_are_set_in_none_is_drawn() -> None:
    pattern = read_pattern(drawn(walls((40.0, 60.0))))
    layer = shifted_layer(pattern)
    gore = replace(pattern.panels[1], waist=None)
    whole = replace(pattern, panels=(pattern.panels[0], gore))
    with pytest.raises(
        StackError, match="where pieces are set in or stand on each other: 'wall 2'"
    ):
        edge_bands(replace(layer, whole=whole), "top", WIDE)


@pytest.mark.parametrize("wide", [5.0, 20.0])
def test_the_inner_line_of_an_edge_with_corners_is_another_librarys_offset(wide: float) -> None:
    ring = [(0, 0), (100, 0), (100, 160), (0, 160), (-9, 115), (-12, 85), (-9, 60)]
    (panel,) = pattern_from_panels([DraftPanel("one", ring, [(-12, 85), (100, 85)])])
    edge = shapely.LineString(panel.edge("front").vertices)
    assert len(edge.coords) == 5
    wanted = edge.offset_curve(wide, join_style="mitre", mitre_limit=10.0)
    found = shapely.LineString(_inner_line(panel, "front", wide).vertices)
    assert found.hausdorff_distance(wanted) < 1e-9
    assert shapely.Polygon(panel.outline.vertices).buffer(1e-9).covers(found)


def test_facings_lie_in_rows_as_wide_as_the_sheet_or_as_they_are_arranged() -> None:
    """Two strips of 180 mm by 30, 15 mm round each: under each other, or side by side."""
    box = Curve.polyline([(0, 0), (180, 0), (180, 30), (0, 30)], closed=True)
    pieces = [
        LoosePiece(name, 1, 180.0, 30.0, strokes=(Stroke("cut-line", box, name),)) for name in "ab"
    ]
    plan = CutPlan(sheet_width=300.0)
    parts = loose_parts(pieces, plan)
    for sheet, shape in (
        (loose_sheet(parts, plan, headed=False), (210.0, 105.0)),
        (loose_sheet(parts, plan, arrange=rowed(600.0), headed=False), (405.0, 60.0)),
    ):
        boxes = [
            shapely.box(*stroke.curve.bounds().ravel())
            for stroke in sheet.strokes
            if stroke.kind == "cut-line"
        ]
        assert len(boxes) == 2
        assert not boxes[0].intersects(boxes[1])
        assert (sheet.width, sheet.height) == pytest.approx(shape, abs=0.01)
        assert shapely.box(0.0, 0.0, sheet.width, sheet.height).covers(shapely.union_all(boxes))
