"""The cutting list against the layouts, the sheets, and lengths measured by another library."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, strategies as st
from shapely.geometry import LineString, Point, Polygon

from panelshift import Bones, ClassModel, Construction, Fabric, Measures, Stack, shift_pattern
from panelshift.cutting.allowance import cut_line
from panelshift.cutting.bones import BoneOptions, bone_channels
from panelshift.cutting.extras import Extras
from panelshift.cutting.layer_sheets import layer_sheets
from panelshift.cutting.loose import (
    BIAS_STRIP_MM,
    LACING_ENDS_MM,
    LONGEST_DRAWN_MM,
    TURN_IN_MM,
    lacing_length,
    loose_parts,
    loose_pieces,
    loose_sheet,
)
from panelshift.cutting.panel_lines import eyelet_count, eyelet_places
from panelshift.cutting.parts import parts_of_layers, upright
from panelshift.cutting.plan import CutPlan, Cutting, cut_layers
from panelshift.errors import JobError, StackError, UnknownNameError
from panelshift.job import read_job, resolve
from panelshift.job.said import settings
from panelshift.needs.buying import ClothOptions, Layout, fabric_needs
from panelshift.needs.cutting_list import ListLine, cutting_list, list_csv, list_words
from panelshift.needs.laid import LaidPiece
from panelshift.needs.pieces import Piece, beside_pieces, folded_pieces
from panelshift.outline import Curve
from panelshift.pattern.panel import EDGE_NAMES
from tests.support.drawings import Draft, group, path, pattern
from tests.support.runs import sample, sample_by_classes

ALL = Extras(6.0, 20.0, 16.0, 40.0, 50.0, 120.0, 25.0, 12.0)
MIXED = CutPlan(cuttings={"2 front": Cutting(4), "3 side front": Cutting(3, mirrored=False)})


def by_shapely(curve: Curve) -> float:
    return float(LineString(curve.flatten(1e-4)).length)


@pytest.mark.slow
def test_pieces_of_the_list_are_those_of_the_layouts_and_the_sheets() -> None:
    """Panels, facings and strips: of each layer's cloth, and what is of none of them apart."""
    shifted = sample("hourglass").shifted
    extras = replace(ALL, fabric={"binding": "lining", "modesty": ""})
    plan = replace(MIXED, extras=extras)
    loose = loose_pieces(shifted, plan, 50.0)
    every = cutting_list(shifted, plan, loose)
    lines = [line for line in every if line.cloth]
    listed = {(line.cloth, line.name): (line.drawn, line.mirrored) for line in lines}
    assert len(listed) == len(lines)
    layouts = fabric_needs(shifted, plan, loose=loose, effort=0).layouts
    laid: dict[tuple[str, str], list[int]] = {}
    for layout in layouts:
        for piece in layout.laid:
            laid.setdefault((layout.fabric, piece.name), [0, 0])[piece.mirrored] += 1
    assert {key: tuple(both) for key, both in laid.items()} == listed
    # Facings and bindings of the cloths that are named, or are usual; tape, bones and lace of none.
    own = [(line.cloth, line.name) for line in lines if line.name.startswith(("fac", "bin", "cas"))]
    assert {cloth for cloth, name in own if "binding" in name} == {"lining"}
    assert {cloth for cloth, name in own if "facing" in name} == {"brocade"}
    assert {cloth for cloth, name in own if "casing" in name} == {"coutille"}
    apart = [line.name for line in every if not line.cloth]
    assert apart[:2] == ["waist tape", "modesty panel"]
    assert all(name.startswith(("bone ", "lacing")) for name in apart[2:])
    layers = cut_layers(shifted)
    drawn = [
        (layer.fabric.name, stroke.panel)
        for layer, sheet in zip(layers, layer_sheets(shifted, layers, plan), strict=True)
        for stroke in sheet.strokes
        if stroke.kind == "cut-line"
    ]
    sheet = loose_sheet(loose_parts(loose, plan), plan)
    of = {piece.name: piece.cloth for piece in loose}
    beside = {(of[s.panel], s.panel) for s in sheet.strokes if s.kind == "cut-line"}
    assert Counter([*drawn, *beside]) == Counter([*listed, ("", "modesty panel")])
    # On folded cloth a pair is cut of both plies at once: the pieces are as many.
    folded = {name: ClothOptions(folded=True) for name in {layer.fabric.name for layer in layers}}
    for layout in fabric_needs(shifted, plan, folded, loose=loose, effort=0).layouts:
        cut = Counter[str]()
        for lying in layout.laid:
            cut[lying.name] += lying.piece.plies
        assert cut == {name: sum(both) for (c, name), both in listed.items() if c == layout.fabric}
    words = list_words(lines, plan, layouts)
    boxes = sum(line.count("[_]") for line in words)
    assert boxes == sum(line.drawn + line.mirrored for line in lines)
    for layout in layouts:
        most = f"{layout.fabric}, at most {layout.to_buy_text()} of cloth 1400 mm wide"
        assert any(w.startswith(most) for w in words)
    rows = list(csv.DictReader(io.StringIO(list_csv(lines).decode())))
    assert len(rows) == len(lines)


def test_lengths_of_strips_and_bones_are_those_of_another_library() -> None:
    result = sample("hourglass")
    shifted = result.shifted
    outer = cut_layers(shifted)[-1].pattern.panels
    found = {p.name: p for p in loose_pieces(shifted, CutPlan(extras=ALL), 50.0)}
    # The busk parts bindings and tape in two, each with two ends that are turned in.
    tape = 2.0 * sum(p.waist_width for p in shifted.layers[0].pattern.panels) + 4.0 * TURN_IN_MM
    assert found["waist tape"].length == pytest.approx(tape, abs=1e-6)
    folded = CutPlan(cuttings={shifted.turn.pattern[0].name: Cutting(1, fold="front")}, extras=ALL)
    whole = next(p for p in loose_pieces(shifted, folded, 50.0) if p.name == "waist tape")
    assert whole.length == pytest.approx(tape - 2.0 * TURN_IN_MM, abs=1e-6)
    for edge, count in (("top", 2), ("bottom", 3)):
        size = 2.0 * sum(by_shapely(panel.edge(edge)) for panel in outer) + 4.0 * TURN_IN_MM
        # Laid square to each other and joined aslant, strips lose their width at each join.
        strip = found[f"binding of the {edge} edge"]
        joined = strip.count * strip.length - (strip.count - 1) * strip.width
        assert joined == pytest.approx(size, abs=0.1)
        assert strip.count == np.ceil((size - strip.width) / (BIAS_STRIP_MM - strip.width)) == count
        # As it lies on the cloth: its sides at 45 degrees to the grain.
        sides = np.diff(strip.outline.flatten(), axis=0)
        assert sorted(np.hypot(*sides.T)) == pytest.approx(
            np.repeat([strip.width, strip.length], 2)
        )
        assert np.abs(sides[:, 0]) == pytest.approx(np.abs(sides[:, 1]))
    front, back = outer[0], outer[-1]
    for kind, panel, edge, width in (
        ("centre front", front, "front", 40.0),
        ("centre back", back, "back", 50.0),
    ):
        facing = found[f"facing of the {kind}, {panel.name}"]
        assert facing.length == pytest.approx(by_shapely(panel.edge(edge)) + 20.0, abs=0.1)
        assert (facing.count, facing.width) == (2, width + 10.0)
    assert found["modesty panel"].length == pytest.approx(by_shapely(back.edge("back")), abs=0.1)
    drawn = bone_channels(shifted.turn.pattern)
    channels = [channel for own in drawn for channel in own]
    assert [channel.number for channel in channels] == list(range(1, len(channels) + 1))
    for channel in channels:
        bone = found[f"bone b{channel.number}, {channel.panel}"]
        assert (bone.count, bone.length) == (2, pytest.approx(channel.length - 12.0))
        casing = found[f"casing of b{channel.number}"]
        assert casing.length == pytest.approx(channel.length + 2.0 * TURN_IN_MM)


def test_a_channel_is_an_outline_two_lines_or_its_middle() -> None:
    draft = Draft("one", waist=120.0)
    x = draft.x
    body = draft.panel() + group(
        path(f"M{x + 15} 120V280", "b1")
        + path(f"M{x + 40} 120C{x + 36} 160 {x + 36} 240 {x + 40} 280", "b2")
        + path(f"M{x + 50} 120C{x + 46} 160 {x + 46} 240 {x + 50} 280", "b3")
        + path(f"M{x + 80} 130H{x + 90}V270H{x + 80}Z", "b4"),
        "bones",
    )
    (channels,) = bone_channels(pattern(body))
    arc = by_shapely(Curve.cubics([[(40, 120), (36, 160), (36, 240), (40, 280)]]))
    assert [channel.length for channel in channels] == pytest.approx([160.0, arc, 140.0], abs=0.1)
    across = [float(channel.middle[:, 0].mean()) - x for channel in channels]
    assert across == pytest.approx([15.0, 42.0, 85.0], abs=1.5)


@pytest.mark.parametrize(
    ("how", "middles", "drawn"),
    [
        ({"drawn_as": "pairs"}, [45.0], "two lines"),
        ({"drawn_as": "middles"}, [40.0, 50.0], "one line"),
        ({"per_panel": {"one": 3}}, [20.0, 60.0, 100.0], ""),
    ],
)
def test_channels_are_those_that_the_layers_were_laid_over(
    how: dict[str, Any], middles: list[float], drawn: str
) -> None:
    draft = Draft("one", waist=120.0)
    lines = path(f"M{draft.x + 40} 120V280", "b1") + path(f"M{draft.x + 50} 120V280", "b2")
    own = pattern(draft.panel() + group(lines, "bones"))
    sewn = Construction(bones=[Bones("drill", 7.0, 1.5, **how)])
    stack = Stack([Fabric("drill", 0.5), Fabric("satin", 0.3)])
    shifted = shift_pattern(own, stack, construction=sewn)
    (channels,) = bone_channels(own, shifted.lay)
    panel = own.panels[0]
    waist = [float(np.interp(0.0, *panel.frame.to_panel(c.middle).T[::-1])) for c in channels]
    front = panel.frame.to_panel(panel.waist.curve.start)[0]
    assert np.abs(np.array(waist) - front) == pytest.approx(middles, abs=0.6)
    assert {channel.drawn for channel in channels} == {drawn}
    listed = [
        item for item in loose_pieces(shifted, CutPlan(extras=ALL), 50.0) if "bone b" in item.name
    ]
    assert len(listed) == len(middles)
    # A word stands beside a line that is drawn; by number there is none.
    (part,) = parts_of_layers(shifted, shifted.layers[:1], CutPlan())[0]
    assert sum(label.text[:1] == "b" for label in part.labels) == len(middles) * bool(drawn)


@given(st.lists(st.floats(20.0, 300.0), min_size=1, max_size=9), st.floats(30.0, 160.0))
def test_a_bone_is_the_longest_sold_that_fits(sold: list[float], channel: float) -> None:
    (panel,) = bone_channels(
        pattern(Draft("one").panel() + group(path("M60 120V280", "b"), "bones"))
    )
    (own,) = panel
    # The line is 160 mm long.
    options = BoneOptions("steel", max(own.length - channel, 0.0), tuple(sold))
    bone = own.bone(options)
    fitting = [size for size in sold if size <= channel + 1e-6]
    assert bone == max(fitting, default=0.0)


def test_facings_are_what_another_library_cuts_off_the_panels() -> None:
    """Cut line and stitch line within 0.1 mm of the panel's, up to the width beside its edge."""
    result = sample("hourglass")
    shifted, plan = result.shifted, CutPlan(extras=ALL, cuttings=result.job.plan.cuttings)
    outer, draft = cut_layers(shifted)[-1].pattern.panels, shifted.turn.pattern.panels
    pieces = {p.name: p for p in loose_pieces(shifted, plan, 50.0)}
    for name, k, edge, width in (("front", 0, "front", 40.0), ("back", -1, "back", 50.0)):
        panel, piece = outer[k], pieces[f"facing of the centre {name}, {outer[k].name}"]
        turn = upright(draft[k])
        own = panel.edge(edge).transformed(turn).flatten(1e-3)
        ends = [own[0] - 40.0 * unit(own[1] - own[0]), own[-1] + 40.0 * unit(own[-1] - own[-2])]
        line = LineString([ends[0], *own, ends[1]])
        middle = turn @ [*panel.frame.origin, 1.0]
        side = (
            width
            if line.buffer(1.0, single_sided=True).distance(Point(middle))
            < line.buffer(-1.0, single_sided=True).distance(Point(middle))
            else -width
        )
        drawn = {stroke.kind: Polygon(stroke.curve.flatten(1e-3)) for stroke in piece.strokes[:2]}
        assert [stroke.curve.closed for stroke in piece.strokes[:2]] == [True, False]
        cut = cut_line(panel, dict.fromkeys(EDGE_NAMES, 10.0)).transformed(turn)
        for kind, whole in (("cut-line", cut), ("stitch-line", panel.outline.transformed(turn))):
            expected = Polygon(whole.flatten(1e-3)).intersection(
                line.buffer(side, single_sided=True).union(
                    line.buffer(-np.sign(side) * 30.0, single_sided=True)
                )
            )
            assert expected.area > 1000.0
            assert drawn[kind].hausdorff_distance(expected) < 0.1
            assert drawn[kind].symmetric_difference(expected).area < 5.0
        assert piece.mirrored


def unit(vector: np.ndarray) -> np.ndarray:
    return vector / np.hypot(*vector)


def test_a_facing_wider_than_its_panel_is_refused() -> None:
    plan = CutPlan(extras=Extras(front_facing=400.0))
    with pytest.raises(StackError, match="wider than the panel"):
        loose_pieces(sample("hourglass").shifted, plan, 50.0)


def test_a_facing_on_the_fold_is_laid_whole_and_has_no_cut_line_there() -> None:
    shifted = sample("hourglass").shifted
    fold = CutPlan(cuttings={shifted.turn.pattern.panels[0].name: Cutting(1, False, "front")})
    plan = replace(fold, extras=Extras(front_facing=40.0))
    item = next(p for p in loose_pieces(shifted, plan, 50.0) if "facing" in p.name)
    assert (item.count, item.sides) == (1, (1, 0))
    cut = next(stroke.curve for stroke in item.strokes if stroke.kind == "cut-line")
    assert not cut.closed
    assert any(stroke.kind == "fold-line" for stroke in item.strokes)
    (whole,) = beside_pieces([item], "brocade")
    half = Polygon(item.outline.flatten(1e-3))
    assert whole.area == pytest.approx(2.0 * half.area, rel=1e-3)
    (held,) = folded_pieces([whole])
    assert held.held


def test_a_bone_across_the_fold_is_one_for_both_halves() -> None:
    # Its channel is 7 mm wide: in the middle of the fold, and 10 mm beside it.
    panels = [Draft(name, x=x, left=(0.0, 0.0)) for name, x in (("1", 40.0), ("2", 140.0))]
    lines = "".join(path(f"M{x - 3.5} 120V280h7V120Z", f"bone {k}") for k, x in enumerate((40, 50)))
    read = pattern("".join(panel.panel() for panel in panels) + lines)
    shifted = shift_pattern(read, Stack([Fabric("silk", 0.5)], "silk"), gap=50.0)
    for fold, counts in ((None, [2, 2]), ("front", [1, 2])):
        plan = CutPlan(
            cuttings={} if fold is None else {"1": Cutting(1, False, "front")},
            extras=Extras(casing=20.0),
        )
        for kind in ("bone b", "casing"):
            loose = [p for p in loose_pieces(shifted, plan, 50.0) if p.name.startswith(kind)]
            assert [piece.count for piece in loose] == counts


def test_a_fabric_that_is_not_cut_is_refused_as_a_facing_s(tmp_path: Path) -> None:
    """Refused by name, said where it stands, and told where it is by default."""
    text = "[extras]\nback_facing = 40\nfabric = {back_facing = 'waist tape'}\n"
    job = sample_by_classes(tmp_path)
    source = job.read_text()
    job.write_text(source + text)
    with pytest.raises(JobError, match=r"extras\.fabric\.back_facing") as caught:
        resolve(read_job(job), source=str(job))
    assert "brocade" in str(caught.value.remedy)
    job.write_text(source + text.replace("'waist tape'", "'coutille'"))
    assert "back facing: cut of coutille" in settings(resolve(read_job(job), source=str(job)))
    plan = CutPlan(extras=Extras(fabric={"casing": "felt"}))
    with pytest.raises(UnknownNameError, match="felt"):
        plan.refuse_unknown(sample("hourglass").shifted)


def test_every_loose_piece_of_cloth_is_drawn_once_at_its_size() -> None:
    shifted, plan = sample("hourglass").shifted, CutPlan(extras=ALL)
    pieces = loose_pieces(shifted, plan, 50.0)
    parts = {part.strokes[0].panel: part for part in loose_parts(pieces, plan)}
    bought = ("waist tape", "bone ", "lacing")
    assert list(parts) == [p.name for p in pieces if not p.name.startswith(bought)]
    for piece in (p for p in pieces if p.name in parts and "facing" not in p.name):
        low, high = parts[piece.name].box()
        words = " ".join(label.text for label in parts[piece.name].labels)
        assert high[0] - low[0] == pytest.approx(piece.width, abs=1e-6)
        whole = piece.length <= LONGEST_DRAWN_MM
        assert ("drawn shorter" in words) != whole
        assert high[1] - low[1] == pytest.approx(piece.length if whole else LONGEST_DRAWN_MM)
        # No closed outline that somebody might cut at a wrong length.
        closed = [s.curve.closed for s in parts[piece.name].strokes if s.kind == "cut-line"]
        assert all(closed) == whole


def test_eyelets_stand_on_every_layer_s_back_and_on_its_facing() -> None:
    shifted, plan = sample("hourglass").shifted, CutPlan(extras=ALL)
    layers = cut_layers(shifted)
    count = eyelet_count(shifted.turn.pattern, ALL)
    for layer, parts in zip(layers, parts_of_layers(shifted, layers, plan), strict=True):
        back = layer.pattern.panels[-1]
        edge = back.edge("back").transformed(upright(shifted.turn.pattern.panels[-1]))
        line = LineString(edge.flatten(1e-4))
        part = next(part for part in parts if part.strokes[0].panel == back.name)
        # The middle of each cross, where its stroke turns.
        marks = [s.curve.control[1, 3] for s in part.strokes if s.kind == "marks"][-count:]
        assert len(marks) == count == 13
        away = [line.distance(Point(mark)) for mark in marks]
        assert away == pytest.approx([12.0] * count, abs=0.1)
        along = np.sort([line.project(Point(mark)) for mark in marks])
        assert along == pytest.approx((np.arange(count) + 0.5) * line.length / count, abs=0.1)
    facing = next(p for p in loose_pieces(shifted, plan, 50.0) if "centre back" in p.name)
    assert sum(stroke.kind == "marks" for stroke in facing.strokes) == count


def test_eyelets_and_lace_follow_their_closed_form() -> None:
    draft = sample("hourglass").shifted.turn.pattern
    whole = by_shapely(draft.panels[-1].edge("back"))
    places = eyelet_places(whole, eyelet_count(draft, ALL))
    assert np.diff(places).max() <= 25.0
    assert np.ptp(np.diff(places)) < 1e-9
    assert [places[0], whole - places[-1]] == pytest.approx([0.5 * (places[1] - places[0])] * 2)
    plan = CutPlan(extras=Extras(eyelet_spacing=30.0, eyelet_inset=10.0))
    # One bar of 40 mm and four slants over 40 by 30 mm.
    assert lacing_length(np.full(3, 20.0), 30.0, plan) == pytest.approx(
        40.0 + 4 * 50.0 + LACING_ENDS_MM
    )
    # Over a gap that opens from 20 to 40 mm a slant goes over 50 by 30.
    wider = lacing_length(np.array([20.0, 40.0]), 30.0, plan)
    assert wider == pytest.approx(40.0 + 2 * np.hypot(50.0, 30.0) + LACING_ENDS_MM)


def test_a_lace_follows_a_gap_that_opens_upwards() -> None:
    def lace(gap: float | Measures) -> float:
        draft = sample("hourglass").shifted.turn.pattern
        opened = shift_pattern(draft, Stack([Fabric("coutille", 0.5)]), ClassModel(), gap=gap)
        plan = CutPlan(extras=Extras(eyelet_spacing=20.0))
        return next(p.length for p in loose_pieces(opened, plan, 50.0) if p.name == "lacing")

    narrow, wide, opening = (
        lace(50.0),
        lace(Measures.constant(150.0)),
        Measures([0, 100], [50, 150]),
    )
    assert lace(Measures.constant(50.0)) == narrow
    assert narrow + 300.0 < lace(opening) < wide - 300.0


def test_nothing_is_listed_that_is_not_asked_for() -> None:
    result = sample("fuller_figure")
    assert loose_pieces(result.shifted, CutPlan(), 50.0) == []


@pytest.mark.parametrize(
    ("lines", "read"),
    [
        (["M60 120V280"], ["one line"]),
        (["M60 120V280", "M70 120V280"], ["two lines"]),
        (["M50 120V280", "M80 120V280"], ["one line", "one line"]),
        (["M60 120V280H67V120Z"], ["an outline"]),
    ],
)
def test_it_is_said_what_a_channel_was_read_from(lines: list[str], read: list[str]) -> None:
    drawn = "".join(path(line, f"b{k}") for k, line in enumerate(lines))
    (panel,) = bone_channels(pattern(Draft("one").panel() + group(drawn, "bones")))
    assert [channel.drawn for channel in panel] == read


@pytest.mark.parametrize("count", [1, 2, 3, 8, 9, 40])
@pytest.mark.parametrize("pairs", [True, False])
def test_there_is_a_box_to_tick_for_every_piece(count: int, pairs: bool) -> None:
    drawn, mirrored = Cutting(count, mirrored=pairs).sides
    words = ListLine("drill", "side", drawn, mirrored).words(CutPlan())
    assert (words.count("[_]") if count <= 8 else int(words.split()[2])) == count
    assert ("mirrored" in words) == (pairs and count > 1)


def test_rows_are_told_as_at_most_and_each_cloth_by_its_own() -> None:
    """A length that a layout with interlocking pieces needs is not hedged."""

    def bought(fabric: str, length: float, *, nested: bool) -> Layout:
        ring = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, length], [0.0, length]])
        piece = Piece(fabric, 1, False, Curve.polyline(ring, closed=True))
        laid = LaidPiece(piece, False, np.zeros(2))
        return Layout(fabric, 900.0, ClothOptions((900.0,)), 3.0, (laid,), nested)

    lines = [ListLine(cloth, "side", 1, 1) for cloth in ("drill", "satin")]
    layouts = [bought("drill", 500.0, nested=True), bought("satin", 800.0, nested=False)]
    drill, satin = list_words(lines, CutPlan(), layouts)
    for words, layout in ((drill, layouts[0]), (satin, layouts[1])):
        assert words.startswith(f"{layout.fabric}, ")
        assert f"{layout.to_buy_text('mm')} of cloth 900" in words
    assert "at most" in satin
    assert "at most" not in drill


def test_every_panel_that_a_layer_covers_is_listed_in_order() -> None:
    shifted = sample("hourglass").shifted
    every = cutting_list(shifted, MIXED)
    for layer in cut_layers(shifted):
        names = [layer.whole.panels[index].name for index in layer.covered]
        assert [line.name for line in every if line.cloth == layer.fabric.name] == names
    assert len(every) == sum(len(layer.covered) for layer in cut_layers(shifted))
