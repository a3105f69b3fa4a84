"""Drawings: everything from panelshift's own curves, remarks at their places."""

from __future__ import annotations

import pickle
import re

import numpy as np
import pytest
from lxml import etree

from panelshift.draft import assemble
from panelshift.errors import PatternError
from panelshift.fit.girths import OUTSIDE, SKIN
from panelshift.fit.html_page import fit_page
from panelshift.fit.layer_change import (
    OutlineChange,
    outline_change,
    overlay_figures,
    suitable_magnification,
)
from panelshift.fit.wrapping import wrapping
from panelshift.job import read_job, resolve
from panelshift.job.result import fit_job, shift_job
from panelshift.job.said import Finding
from panelshift.outline import Curve
from panelshift.sheets.lettering import width
from panelshift.sources.svg import read_svg
from panelshift.table.layer_view import LayerChoice, overlay, overlay_view
from panelshift.table.pattern_picture import (
    Flag,
    Pointing,
    drawing_picture,
    error_flag,
    flags,
    pattern_picture,
)
from panelshift.table.size_choice import size_picture
from panelshift.table.wrap_view import wrap_view
from panelshift.units import MM_PER_UNIT
from tests.support.drawings import Draft, half, panels, path, svg
from tests.support.pictures import Picture
from tests.support.runs import SAMPLES

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def facts():
    return fit_job(resolve(read_job(SAMPLES / "hourglass.toml")), lay_cloth=False)


def points(d: str) -> np.ndarray:
    return np.array(
        [[float(v) for v in pair.split(",")] for pair in re.findall(r"[-\d.]+,[-\d.]+", d)]
    )


def stems(picture: str) -> dict[str, tuple[float, float]]:
    """Foot of each flag in a picture."""
    root = etree.fromstring(picture)
    return {
        str(group.get("data-flag")): (
            float(group.find(f"{SVG}circle").get("cx")),
            float(group.find(f"{SVG}circle").get("cy")),
        )
        for group in root.iter(f"{SVG}g")
        if group.get("data-flag")
    }


def test_every_panel_is_drawn_where_it_lies() -> None:
    pattern = assemble(read_svg(svg(panels(half(3))).encode()))
    root = etree.fromstring(pattern_picture(pattern, "three"))
    groups = root.findall(f"{SVG}g")
    drawn = [points(group.find(f"{SVG}path").get("d")) for group in groups[:3]]
    shift = drawn[0].min(axis=0) - pattern.panels[0].outline.bounds()[0]
    for panel, found in zip(pattern.panels, drawn, strict=True):
        low, high = panel.outline.bounds() + shift
        assert np.abs(found.min(axis=0) - low).max() < 0.15
        assert np.abs(found.max(axis=0) - high).max() < 0.15
    _, _, width, height = (float(v) for v in root.get("viewBox").split())
    assert (np.vstack(drawn) >= 0.0).all()
    assert (np.vstack(drawn) <= [width, height]).all()


def test_what_may_be_pointed_at_lies_in_the_picture() -> None:
    pattern = assemble(read_svg(svg(panels(half(2))).encode()))
    low, high = pattern.panels[0].outline.bounds()
    far = Curve.polyline([high + 300.0, high + 400.0])
    options = {Pointing("leave-out", "", ("stray",)): [far]}
    plain, wider = (
        etree.fromstring(pattern_picture(pattern, "p", options=given)) for given in (None, options)
    )
    size = [[float(v) for v in root.get("viewBox").split()][2:] for root in (plain, wider)]
    drawn = np.vstack([points(e.get("d")) for e in wider.iter(f"{SVG}path")])
    assert size[1][0] > size[0][0]
    assert (drawn <= size[1]).all()
    assert np.ptp(drawn, axis=0) == pytest.approx(high + 400.0 - low, abs=0.2)


def test_names_stand_upright_where_the_narrowest_panel_has_no_room_across() -> None:
    """A name needs 1.09 times its width: across if all panels have that at the waist."""
    seen = set()
    for count in range(1, 14):
        name = "m" * count
        pattern = assemble(read_svg(svg(panels(half(2, names=[name, "2"]))).encode()))
        root = etree.fromstring(pattern_picture(pattern, "panels"))
        narrowest = min(panel.waist_width for panel in pattern.panels)
        upright = 1.09 * float(root.get("font-size")) * width(name) > narrowest
        words = root.findall(f".//{SVG}text[@class='name']")
        assert [word.get("transform") is not None for word in words] == [upright, upright], name
        seen.add(upright)
    assert seen == {True, False}


def test_an_answer_s_letter_stands_left_of_its_leftmost_line() -> None:
    pattern = assemble(read_svg(svg(panels(half(2))).encode()))
    low_left = Curve.polyline([[70.0, 250.0], [110.0, 270.0]])
    high_right = Curve.polyline([[140.0, 110.0], [145.0, 150.0]])
    options = {Pointing("a", "B", ("x", "y")): [high_right, low_left], Pointing("b", "", ()): []}
    root = etree.fromstring(pattern_picture(pattern, "panels", options=options))
    groups = root.findall(f"{SVG}g[@class='option']")
    assert [group.get("data-answer") for group in groups] == ["a", "b"]
    assert [part.get("class") for part in groups[0]] == ["hit", "line", "hit", "line", "name"]
    assert len(groups[1]) == 0
    letter = float(root.get("font-size"))
    line = points(groups[0][3].get("d"))
    assert np.ptp(line, axis=0) == pytest.approx([40.0, 20.0], abs=0.11)
    words = groups[0][4]
    at = [float(words.get("x")), float(words.get("y"))]
    beside = [line[:, 0].min() - 0.5 * letter, line[:, 1].mean() + 0.35 * letter]
    assert at == pytest.approx(beside, abs=0.1)
    assert (words.text, words.get("text-anchor")) == ("B", "end")


def test_level_names_stand_at_the_left_of_the_whole_row() -> None:
    # Drawn from right to left: the first panel in order lies last on the sheet.
    pattern = assemble(read_svg((SAMPLES / "fuller_figure.svg").read_bytes()))
    root = etree.fromstring(pattern_picture(pattern, "row"))
    outlines = [p for p in root.iter(f"{SVG}path") if p.get("class") == "outline"]
    left = min(points(p.get("d"))[:, 0].min() for p in outlines)
    names = [t for t in root.iter(f"{SVG}text") if t.get("class") == "level-name"]
    assert {t.text for t in names} == set(pattern.level_names())
    assert all(float(t.get("x")) < left for t in names)


def test_an_open_outline_is_flagged_at_its_gap() -> None:
    one = Draft("side")
    drawing = read_svg(svg(one.pieces(3.0) + one.line()).encode())
    with pytest.raises(PatternError) as caught:
        assemble(drawing)
    stated = re.search(r"at \((.*), (.*)\) mm", caught.value.problem)
    assert stated is not None
    assert caught.value.at == pytest.approx([float(v) for v in stated.groups()], abs=0.05)
    flag = error_flag(caught.value, drawing)
    picture = drawing_picture(drawing, "open", flag, caught.value.element)
    foot = stems(picture)["1"]
    ends = np.vstack([points(p.get("d")) for p in etree.fromstring(picture).findall(f"{SVG}path")])
    # Both ends of the gap of 3 mm lie beside the flag's foot.
    near = np.hypot(*(ends - foot).T)
    assert np.sort(near)[:2].max() <= 3.2
    assert etree.fromstring(picture).xpath("count(//*[@class='at-fault'])") == 1


def test_an_outline_that_crosses_itself_is_flagged_at_the_crossing() -> None:
    text = path("M40 80L90 300H40L90 80Z", "side") + path("M0 220H130", "waist")
    with pytest.raises(PatternError) as caught:
        assemble(read_svg(svg(text).encode()))
    assert caught.value.at == pytest.approx((65.0, 190.0), abs=0.01)
    assert caught.value.located(source="x").at == caught.value.at
    assert pickle.loads(pickle.dumps(caught.value)).at == caught.value.at


def test_a_remark_on_what_is_no_panel_has_its_lines_drawn() -> None:
    drawing = read_svg(svg(panels(half(2)) + path("M300 10h40v40", "stray")).encode())
    pattern = assemble(drawing)
    own = pattern.panels[1].ident
    stray, panel = flags(
        [Finding("odd", "seam", element="stray"), Finding("odd", "seam", element=own)],
        pattern,
        drawing,
    )
    assert stray.curve == next(s.curve for s in drawing.shapes if s.ident == "stray")
    assert panel.curve is None


def test_remarks_find_the_panel_or_seam_they_name() -> None:
    pattern = assemble(read_svg((SAMPLES / "hourglass.svg").read_bytes()))
    seam = pattern.walk()[1]
    first, second, third = flags(
        [
            Finding("its edges differ", "seam", seam=seam.name),
            Finding("odd", "seam", pattern.panels[2].ident),
            Finding(f"{pattern.panels[2].ident}: not about it", "order"),
        ],
        pattern,
        None,
    )
    panel = pattern.panels[seam.seam.first]
    low, high = panel.outline.bounds()
    assert first.at is not None
    assert (low - 1.0 <= first.at).all()
    assert (first.at <= high + 1.0).all()
    assert second.at == pytest.approx(pattern.panels[2].outline.bounds().mean(axis=0))
    assert third.at is None
    # A number stands in its ring, above its place, on a stem that ends there.
    root = etree.fromstring(pattern_picture(pattern, "p", (first, second, third)))
    for group in root.iter(f"{SVG}g"):
        if group.get("data-flag"):
            foot, head = group.findall(f"{SVG}circle")
            x, low, up = (float(c) for c in (foot.get("cx"), foot.get("cy"), head.get("cy")))
            radius, dot = (float(ring.get("r")) for ring in (head, foot))
            assert float(head.get("cx")) == x
            assert dot < radius < low - up - dot
            line = group.find(f"{SVG}path").get("d")
            stem = re.fullmatch(r"M([-\d.]+),([-\d.]+)V([-\d.]+)", line)
            assert stem is not None
            assert [float(part) for part in stem.groups()] == [x, low, up]
            (words,) = group.findall(f"{SVG}text")
            assert words.text == group.get("data-flag")
            assert float(words.get("x")) == x
            assert up < float(words.get("y")) < up + radius
    assert sorted(stems(pattern_picture(pattern, "p", (first, second, third)))) == ["1", "2"]


def test_names_are_escaped_whatever_they_are() -> None:
    evil = "</text><script>alert(1)</script>"
    name = evil.replace("<", "&lt;").replace(">", "&gt;")
    text = panels(half(2)).replace('id="', f'id="{name}', 1)
    pattern = assemble(read_svg(svg(text).encode()))
    remark = Flag(1, evil, np.array([10.0, 10.0]))
    classes = ["front"] * len(pattern.panels)
    picture = pattern_picture(pattern, evil, (remark,), classes)
    assert "<script" not in picture
    assert {str(e.tag).removeprefix(SVG) for e in etree.fromstring(picture).iter()} <= {
        "svg", "g", "path", "text", "title", "defs", "pattern", "rect", "circle",
    }  # fmt: skip


def test_classes_are_told_apart_without_colour() -> None:
    pattern = assemble(read_svg((SAMPLES / "hourglass.svg").read_bytes()))
    classes = ["front", "front", "side", "side", "back", "back"]
    root = etree.fromstring(pattern_picture(pattern, "p", (), classes))
    words = [e.text for e in root.iter(f"{SVG}text") if e.get("class") == "class-name"]
    assert words == classes
    assert len(root.findall(f".//{SVG}pattern")) == 3


# -- layers -----------------------------------------------------------------------------


def test_the_change_of_an_outline_is_the_layer_s_own(facts) -> None:
    shifted = facts.shifted
    for layer in facts.layers:
        for index in layer.covered:
            draft = shifted.turn.pattern.panels[index]
            change = outline_change(draft, layer.pattern.panels[index])
            assert np.abs(change.at(0.0) - change.draft).max() == 0.0
            if layer.drafted:
                assert np.abs(change.change).max() < 1e-9
            # At the waist the width grows by what the field says.
            by_height = change.draft[np.abs(change.draft[:, 1]) < 4.0]
            moved = change.change[np.abs(change.draft[:, 1]) < 4.0]
            back = moved[by_height[:, 0] > 0.0, 0].mean()
            front = moved[by_height[:, 0] < 0.0, 0].mean()
            assert back - front == pytest.approx(shifted.growth(layer.place, index, 0.0), abs=0.01)


def test_points_of_a_changed_outline_lie_on_the_layer(facts) -> None:
    layer = facts.layers[-1]
    for index in layer.covered:
        draft = facts.shifted.turn.pattern.panels[index]
        change = outline_change(draft, layer.pattern.panels[index])
        own = draft.frame.to_panel(layer.pattern.panels[index].outline.flatten(0.005))
        apart = [np.hypot(*(own - point).T).min() for point in change.at(1.0)[::7]]
        # Half the spacing of the flattened outline is the most that a point on it can miss.
        spacing = np.hypot(*np.diff(own, axis=0).T).max()
        assert max(apart) <= 0.5 * spacing + 0.01


@pytest.mark.parametrize("part", [0.0, 0.4, 1.0])
def test_the_slider_goes_from_the_draft_to_the_layer(facts, part) -> None:
    look = LayerChoice(panel=3, layer="brocade", enlarged=20.0, part=part)
    root = etree.fromstring(overlay(facts, look).svg)
    (line,) = [e for e in root.iter(f"{SVG}path") if e.get("data-layer")]
    change = facts.changes[3]["brocade"]
    found = points(line.get("d"))
    expected = change.at(20.0 * part) * [1.0, -1.0]
    offset = (found - expected).mean(axis=0)
    assert np.abs(found - expected - offset).max() < 0.11
    # The paper does not move under the lines.
    whole = etree.fromstring(overlay(facts, LayerChoice(3, "", 20.0, 1.0)).svg)
    assert whole.get("viewBox") == root.get("viewBox")
    assert overlay_view(facts, {"part": f"{100.0 * part:g}"})["part"] == 100.0 * part


@pytest.mark.slow
def test_the_table_and_the_fit_sheet_draw_the_same_lines(facts) -> None:
    figures = overlay_figures(facts.pattern.panels, facts.changes, facts.styles, facts.magnified)
    assert f"drawn {facts.magnified:g} times as large" in fit_page(facts).decode()
    for index, figure in enumerate(figures):
        drawn = overlay(facts, LayerChoice(index))
        assert drawn.enlarged == facts.magnified
        on_table = {
            line.get("data-layer"): points(line.get("d"))
            for line in etree.fromstring(drawn.svg).iter(f"{SVG}path")
            if line.get("data-layer")
        }
        # In the sheet each layer is drawn twice: true, then enlarged.
        on_sheet = [points(line.get("d")) for line in etree.fromstring(figure).iter(f"{SVG}path")]
        for (name, own), large in zip(on_table.items(), on_sheet[1::2], strict=False):
            assert name in facts.styles
            apart = (large - own) - (large - own).mean(axis=0)
            assert np.abs(apart).max() < 0.11


@pytest.mark.parametrize(
    ("moved", "magnified"), [(0.0, 50.0), (0.19, 50.0), (0.21, 20.0), (2.1, 2.0), (11.0, 1.0)]
)
def test_no_panel_is_enlarged_beyond_recognition(moved: float, magnified: float) -> None:
    wide = np.array([[0.0, 0.0], [60.0, 100.0]])
    changes = {"a": OutlineChange(wide, np.array([[0.0, 0.0], [0.6 * moved, 0.8 * moved]]))}
    assert suitable_magnification([{}, changes]) == magnified


def test_each_answer_to_which_layer_keeps_its_size_stands_at_that_layer(facts) -> None:
    rows = [row for row in facts.girths if row.level == "waist"]
    content = size_picture(facts, rows)
    drawn = Picture.of(content)
    assert not drawn.beyond()
    assert not drawn.lapping()
    root = etree.fromstring(content)
    slabs = [
        [float(box.get("x")), float(box.get("x")) + float(box.get("width"))]
        for box in root.iter(f"{SVG}rect")
    ]
    dots = [(float(dot.get("cx")), float(dot.get("cy"))) for dot in root.iter(f"{SVG}circle")]
    names = facts.shifted.stack.names
    assert len(slabs) == len(names)
    assert len(dots) == len(rows)
    for row, (x, y) in zip(rows, dots, strict=True):
        # A dot in the middle of its cloth, on the line beside which its name and sizes stand.
        assert x == pytest.approx(np.mean(slabs[names.index(row.drafted)]), abs=0.002)
        beside = [word for word in drawn.words if abs(word.points[:, 1].mean() - y) < 5.0]
        sizes = [row.closed[surface] / MM_PER_UNIT[facts.units] for surface in (SKIN, OUTSIDE)]
        name, *told = (word.words for word in sorted(beside, key=lambda word: word.box[0]))
        assert name == row.drafted
        assert [float(size) for size in told] == pytest.approx(sizes, abs=0.6)


def test_each_layer_has_the_panels_where_it_is_worst(facts) -> None:
    view = wrap_view(facts, {"wrapped": "60", "cut": "40"})
    table = view["table"]
    assert [row.head for row in table.rows] == [layer.fabric.name for layer in facts.layers]
    section = next(item for item in facts.sections if item.level == view["level"])
    found = wrapping(facts.shifted, facts.layers, section, wrapped=0.6, cut=0.4)
    for row in table.rows:
        own = [part for parts in found.parts for part in parts if part.layer == row.head]
        strained = max(part.strain for part in own)
        told = row.cells[0].text
        assert told.startswith(f"{strained:.1%} in ") == (strained > 0.0)
        assert row.kept == (row.head == facts.drafted)


def test_growth_is_written_at_each_level(facts) -> None:
    drawn = overlay(facts, LayerChoice(panel=3))
    rows: dict[str, set[str]] = {}
    for e in etree.fromstring(drawn.svg).iter(f"{SVG}text"):
        rows.setdefault(e.get("y"), set()).add(e.text)
    panel = facts.shifted.turn.pattern.panels[3]
    place = facts.shifted.layer("brocade").place
    grown = {
        level.name: f"{facts.shifted.growth(place, 3, level.height):+.1f}"
        for level in panel.level_lines
    }
    assert len(set(grown.values())) > 1
    for name, words in grown.items():
        assert {name, words} in rows.values()
    # Beside its level's line, the name before the panel and the number behind it.
    root = etree.fromstring(drawn.svg)
    lines = [points(e.get("d")) for e in root.iter(f"{SVG}path") if e.get("class") == "level-line"]
    assert len(lines) == len(panel.level_lines)
    outlines = [e for e in root.iter(f"{SVG}path") if e.get("data-layer")]
    reach = np.vstack([points(e.get("d")) for e in outlines])
    heights = sorted(float(y) for y, words in rows.items() if words & set(grown))
    for y, line in zip(heights, sorted(lines, key=lambda line: line[:, 1].mean()), strict=True):
        assert -1.0 < y - line[:, 1].mean() < 6.0
    _, _, wide, high = map(float, root.get("viewBox").split())
    for e in root.iter(f"{SVG}text"):
        if e.text in grown:
            assert 0.0 < float(e.get("x")) < reach[:, 0].min()
        if e.text in grown.values():
            assert reach[:, 0].max() < float(e.get("x")) < wide
        assert 0.0 < float(e.get("y")) < high
    assert drawn.enlarged in (5.0, 10.0, 20.0, 50.0)
    assert list(drawn.styles) == [layer.fabric.name for layer in facts.layers]


def test_the_place_to_look_at_is_where_the_layer_that_moves_most_moves_most(facts) -> None:
    every = overlay(facts, LayerChoice(panel=3))
    draft = facts.shifted.turn.pattern.panels[3]
    alone, moved = {}, {}
    for layer in facts.layers:
        name = layer.fabric.name
        choice = LayerChoice(panel=3, layer=name, enlarged=every.enlarged)
        alone[name] = overlay(facts, choice).widest
        change = outline_change(draft, layer.pattern.panels[3])
        moved[name] = float(np.hypot(*change.change.T).max())
    assert len(set(alone.values())) > 1
    assert every.widest == alone[max(moved, key=moved.__getitem__)]


def test_shift_job_takes_what_is_known_already(facts) -> None:
    again = shift_job(resolve(read_job(SAMPLES / "hourglass.toml")), facts.shifted.turn)
    assert again.turn is facts.shifted.turn
    assert np.array_equal(again.growth_table(), facts.shifted.growth_table())
