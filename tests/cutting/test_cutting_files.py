"""The written files: true size, everything on them, nothing over anything else, equal bytes."""

from __future__ import annotations

import itertools
import re
import shutil
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
import shapely
from lxml import etree
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from panelshift.cutting.composing import ruler_squares
from panelshift.cutting.layer_sheets import layer_sheet, nested_sheet
from panelshift.cutting.panel_labels import SMALLEST_MM, WIDEST_FACE
from panelshift.cutting.parts import parts_of_layers, upright
from panelshift.cutting.plan import CutPlan, Cutting, cut_layers
from panelshift.files import safe_name
from panelshift.job import CutResult, cut, read_job, resolve
from panelshift.job.result import shift_job
from panelshift.outline import Curve
from panelshift.outline.crossing import nearest_position
from panelshift.outline.measure import length
from panelshift.pattern.drawing import Drawing, Shape
from panelshift.pattern.panel import Panel
from panelshift.sheets.lettering import width
from panelshift.sheets.sheet import Label
from panelshift.sheets.svg_writer import number, sheet_svg
from panelshift.sources.svg import read_svg
from tests.support.drawings import (
    STACK,
    Draft,
    full,
    group,
    half,
    panels,
    path,
    pattern,
    text,
    write_job,
)
from tests.support.examples import thinned
from tests.support.gored import gored_svg
from tests.support.runs import SAMPLES

SVG = "{http://www.w3.org/2000/svg}"
NAMES = thinned(["hourglass", "fuller_figure"])


@cache
def sample(name: str) -> CutResult:
    job = SAMPLES / f"{name}.toml"
    return cut(resolve(read_job(job), source=name))


def run(
    folder: Path, body: str, *, head: str = "", stack: str = STACK, rest: str = ""
) -> CutResult:
    job = write_job(folder, body, head=head, stack=stack, rest=rest)
    return cut(resolve(read_job(job)))


def layer_files(result: CutResult) -> dict[str, bytes]:
    return {name: data for name, data in result.drawings.items() if name != "overlay.svg"}


def of_kind(drawing: Drawing, kind: str) -> list[Shape]:
    return [shape for shape in drawing.shapes if shape.groups and shape.groups[-1] == kind]


def read(data: bytes) -> Drawing:
    return read_svg(data, name="written.svg")


def polygon(curve: Curve) -> Polygon:
    return Polygon(curve.flatten(1e-3))


# -- the document -------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_every_file_is_xml_at_true_size(name: str) -> None:
    for data in sample(name).drawings.values():
        root = etree.fromstring(data)
        assert root.tag == f"{SVG}svg"
        width, height = root.get("width", ""), root.get("height", "")
        assert width.endswith("mm")
        assert height.endswith("mm")
        assert root.get("viewBox") == f"0 0 {width[:-2]} {height[:-2]}"
        drawing = read(data)
        assert not drawing.left_out
        assert not drawing.warnings
        bounds = np.array([shape.curve.bounds() for shape in drawing.shapes])
        assert (bounds.min(axis=(0, 1)) >= 0.0).all()
        assert (bounds.max(axis=(0, 1)) <= [float(width[:-2]), float(height[:-2])]).all()


@pytest.mark.parametrize("name", NAMES)
def test_ids_are_unique_in_every_file(name: str) -> None:
    for data in sample(name).drawings.values():
        ids = Counter(
            element.get("id") for element in etree.fromstring(data).iter() if element.get("id")
        )
        assert [ident for ident, times in ids.items() if times > 1] == []


def test_ids_are_unique_though_panel_names_write_alike(tmp_path: Path) -> None:
    drafts = half(4, names=("side 2", "side-2", "Side (2)", "衣"))
    for data in run(tmp_path, panels(drafts)).drawings.values():
        ids = Counter(
            element.get("id") for element in etree.fromstring(data).iter() if element.get("id")
        )
        assert max(ids.values()) == 1


GROUPS = [
    *("cut-line", "fold-line", "stitch-line", "waistline", "level-lines", "notches", "grainlines"),
    *("bone-channels", "marks", "test-squares", "draft-text", "labels"),
]


@pytest.mark.parametrize("name", NAMES)
def test_each_kind_of_line_has_its_own_group(name: str) -> None:
    result = sample(name)
    count = len(result.job.pattern.panels)
    for data in layer_files(result).values():
        root = etree.fromstring(data)
        groups = [g.get("id") for g in root.findall(f"{SVG}g")]
        assert groups == [kind for kind in GROUPS if kind in groups]
        assert set(GROUPS) - set(groups) <= {"bone-channels", "marks", "fold-line", "draft-text"}
        drawing = read(data)
        for kind in ("cut-line", "stitch-line", "waistline"):
            assert len(of_kind(drawing, kind)) == count


@pytest.mark.parametrize("name", NAMES)
def test_kinds_are_told_apart_without_colour(name: str) -> None:
    for data in layer_files(sample(name)).values():
        styles = {
            g.get("id"): (g.get("stroke-dasharray"), g.get("stroke-width"))
            for g in etree.fromstring(data).findall(f"{SVG}g")
        }
        four = [styles[k] for k in ("cut-line", "stitch-line", "waistline", "level-lines")]
        assert len(set(four)) == 4


@pytest.mark.parametrize("name", NAMES)
def test_test_squares_measure_50_mm_and_2_inches(name: str) -> None:
    for data in sample(name).drawings.values():
        squares = of_kind(read(data), "test-squares")
        assert len(squares) == 2
        for square, size in zip(squares, (50.0, 50.8), strict=True):
            sides = np.hypot(*np.diff(square.curve.vertices, axis=0).T)
            assert sides == pytest.approx([size] * 4, abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_numbers_carry_no_more_than_three_decimals_and_no_minus_zero(name: str) -> None:
    for data in sample(name).drawings.values():
        for element in etree.fromstring(data).iter():
            for key, value in element.attrib.items():
                if key in ("id", "font-family", "stroke", "fill"):
                    continue
                assert not re.search(r"\.\d{4}", value), (key, value)
                assert not re.search(r"-0(?![\d.])|-0?\.0+(?!\d)", value), (key, value)
                assert "e" not in value if key == "d" else True
                assert not re.search(r"nan|inf", value, re.IGNORECASE)


@pytest.mark.parametrize(
    ("value", "text_"),
    [(0.0, "0"), (-0.0, "0"), (-0.0004, "0"), (1e-9, "0"), (12.3456, "12.346"), (100.0, "100")],
)
def test_number_is_as_short_as_it_can_be(value: float, text_: str) -> None:
    assert number(value) == text_


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.slow
def test_same_job_gives_the_same_bytes(name: str) -> None:
    job = read_job(SAMPLES / f"{name}.toml")
    again = cut(resolve(job, source=name))
    assert again.files == sample(name).files


def test_files_hold_no_paths_of_this_machine(tmp_path: Path) -> None:
    for data in run(tmp_path, panels(half(2))).drawings.values():
        assert str(tmp_path).encode() not in data


# -- panels on the sheet ------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_panels_do_not_overlap(name: str) -> None:
    for data in layer_files(sample(name)).values():
        areas = [polygon(shape.curve) for shape in of_kind(read(data), "cut-line")]
        squares = [polygon(shape.curve) for shape in of_kind(read(data), "test-squares")]
        for a, b in itertools.combinations(areas + squares, 2):
            assert a.distance(b) > 5.0


@pytest.mark.parametrize("width", [100, 300, 2000])
def test_panels_do_not_overlap_on_a_sheet_of_any_width(tmp_path: Path, width: float) -> None:
    result = run(tmp_path, panels(half(5)), rest=f"[sheet]\nwidth = {width}\n")
    for data in layer_files(result).values():
        areas = [polygon(shape.curve) for shape in of_kind(read(data), "cut-line")]
        assert all(a.distance(b) > 5.0 for a, b in itertools.combinations(areas, 2))
        assert max(a.bounds[2] for a in areas) <= max(width, 330.0)


@pytest.mark.parametrize("name", NAMES)
def test_cut_line_holds_the_stitch_line(name: str) -> None:
    for data in layer_files(sample(name)).values():
        drawing = read(data)
        pairs = zip(of_kind(drawing, "cut-line"), of_kind(drawing, "stitch-line"), strict=True)
        for outer, inner in pairs:
            assert polygon(outer.curve).buffer(2e-3).contains(polygon(inner.curve))


def rigid_distance(a: np.ndarray, b: np.ndarray) -> float:
    """Largest distance between point sets after the best turn and move, without mirroring."""
    p, q = a - a.mean(axis=0), b - b.mean(axis=0)
    angle = np.arctan2((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum(), (p * q).sum())
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    return float(np.hypot(*(p @ turn - q).T).max())


def test_rigid_distance_sees_a_mirrored_shape() -> None:
    shape = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 9.0], [0.0, 7.0]])
    turn = np.array([[0.0, 1.0], [-1.0, 0.0]])
    assert rigid_distance(shape, shape @ turn + 5.0) < 1e-9
    assert rigid_distance(shape, shape * [-1.0, 1.0]) > 0.5


@pytest.mark.parametrize("name", NAMES)
def test_drafted_layer_is_the_draft_moved_command_for_command(name: str) -> None:
    result = sample(name)
    (drafted,) = [layer for layer in result.shifted.layers if layer.drafted]
    file = next(n for n in result.drawings if n.startswith(f"layer-{drafted.place + 1}-"))
    written = of_kind(read(result.drawings[file]), "stitch-line")
    by_panel = {shape.ident.removeprefix("stitch-line-"): shape for shape in written}
    assert len(by_panel) == len(result.job.pattern.panels)
    for panel in result.job.pattern.panels:
        shape = by_panel[safe_name(panel.name)]
        assert shape.curve.degree.tolist() == panel.outline.degree.tolist()
        a = panel.outline.control.reshape(-1, 2)
        b = shape.curve.control.reshape(-1, 2)
        assert rigid_distance(a, b) < 0.001


@pytest.mark.parametrize("degrees", [0.0, 33.0, 180.0])
def test_draft_on_a_turned_sheet_is_cut_upright(tmp_path: Path, degrees: float) -> None:
    drafts = half(3)
    body = panels(drafts) + "".join(d.line("bust", 60.0) for d in drafts)
    result = run(
        tmp_path, f'<g transform="translate(200 200) rotate({degrees} 300 300)">{body}</g>'
    )
    for data in layer_files(result).values():
        drawing = read(data)
        for kind, axis in (("grainlines", 0), ("waistline", 1)):
            lines = [s for s in of_kind(drawing, kind) if len(s.curve) == 1]
            assert len(lines) == 3
            for line in lines:
                assert abs((line.curve.end - line.curve.start)[axis]) <= 0.002


@pytest.mark.parametrize("quarters", [0, 1, 2, 3])
def test_a_panel_drawn_by_quarter_turns_is_laid_upright(quarters: int) -> None:
    """Its own upward direction goes up the sheet, and it is not mirrored."""
    (panel,) = pattern(panels(half(1))).panels
    turn = np.linalg.matrix_power(np.array([[0.0, -1.0], [1.0, 0.0]]), quarters)
    frame = replace(panel.frame, across=turn @ panel.frame.across, up=turn @ panel.frame.up)
    matrix = upright(replace(panel, frame=frame))
    assert matrix[:, :2] @ frame.up == pytest.approx((0.0, -1.0), abs=1e-12)
    assert np.linalg.det(matrix[:, :2]) == pytest.approx(1.0)
    assert matrix @ (*frame.origin, 1.0) == pytest.approx((0.0, 0.0), abs=1e-9)


@pytest.mark.parametrize("stacked", [False, True])
def test_the_test_squares_stand_beside_or_below_each_other(stacked: bool) -> None:
    first, second = (s.curve.bounds() for s in ruler_squares(20.0, 30.0, stacked=stacked)[0])
    assert first == pytest.approx(np.array([(20.0, 30.0), (70.0, 80.0)]))
    step = (0.0, 54.0) if stacked else (58.0, 0.0)
    assert second[0] == pytest.approx(first[0] + step)
    assert second[1] - second[0] == pytest.approx((50.8, 50.8))


def test_drawn_grainline_is_laid_upright_though_it_slants_on_the_draft(tmp_path: Path) -> None:
    drafts = half(4)
    x = drafts[1].x
    body = panels(drafts) + path(f"M{x + 10} 260L{x + 30} 130", "grain")
    result = run(tmp_path, body)
    for name, data in layer_files(result).items():
        (line,) = [s for s in of_kind(read(data), "grainlines") if s.ident == "grainlines-panel-2"]
        step = line.curve.end - line.curve.start
        # The cloth of a shifted layer grows across, by more at one end than at the other.
        assert abs(step[0]) < (0.002 if "lining" in name else 0.6)
        assert abs(step[1]) > 120.0


# -- notches ------------------------------------------------------------------------------


def waist_arc(panel_: object, edge: Curve, point: np.ndarray) -> tuple[float, float]:
    """Arc length along an edge from its lower and its upper end to a point on it."""
    position, away = nearest_position(edge, point)
    assert away < 1e-3
    below = length(edge.piece(0.0, position))
    return below, length(edge) - below


@pytest.mark.parametrize("name", NAMES)
def test_waist_notches_are_a_matching_pair_on_each_seam(name: str) -> None:
    result = sample(name)
    drafted = result.job.pattern

    def gaps(panels_: tuple, seam: object) -> np.ndarray:  # type: ignore[type-arg]
        first, second = panels_[seam.first], panels_[seam.second]  # type: ignore[attr-defined]
        a = waist_arc(first, first.edge("back"), first.waist.curve.end)
        b = waist_arc(second, second.edge("front"), second.waist.curve.start)
        return np.array(a) - np.array(b)

    for layer in result.shifted.layers:
        for seam in drafted.seams:
            # No further apart than on the draft, whose edges may differ by a little themselves.
            more = np.abs(gaps(layer.pattern.panels, seam)) - np.abs(gaps(drafted.panels, seam))
            assert more.max() < 0.1


@pytest.mark.parametrize("name", NAMES)
def test_notches_start_on_the_stitch_line_and_stay_in_the_allowance(name: str) -> None:
    result = sample(name)
    for data in layer_files(result).values():
        drawing = read(data)
        stitch = [polygon(shape.curve) for shape in of_kind(drawing, "stitch-line")]
        cuts = [polygon(shape.curve) for shape in of_kind(drawing, "cut-line")]
        for notch in of_kind(drawing, "notches"):
            line = LineString(notch.curve.vertices)
            assert min(p.exterior.distance(line) for p in stitch) < 2.0
            assert any(p.buffer(2.0).contains(line) for p in cuts)


@pytest.mark.parametrize("allowance", thinned([8.0, 2.0, 25.0, 10.0], 2))
def test_notches_run_from_the_stitch_line_to_the_cut_edge(tmp_path: Path, allowance: float) -> None:
    """One on front edges and two on back edges, at any allowance; none at the openings."""
    result = run(tmp_path, panels(half(3)), rest=f"[allowance]\nseam = {allowance}\n")
    for data in layer_files(result).values():
        drawing = read(data)
        notches = of_kind(drawing, "notches")
        owners = [re.sub(r"-\d$", "", n.ident.removeprefix("notches-panel-")) for n in notches]
        assert owners == ["1", "1", "2", "2", "2", "3"]
        for notch in notches:
            apart = [
                min(polygon(s.curve).exterior.distance(Point(end)) for s in of_kind(drawing, kind))
                for kind, end in (("stitch-line", notch.curve.start), ("cut-line", notch.curve.end))
            ]
            assert max(apart) < 0.03


def test_notches_may_stand_on_the_cut_edge(tmp_path: Path) -> None:
    rest = '[sheet]\nnotches = "edge"\nmates = "numbered"\n[allowance]\nseam = 15\n'
    for data in layer_files(run(tmp_path, panels(half(3)), rest=rest)).values():
        drawing = read(data)
        notches = of_kind(drawing, "notches")
        assert len(notches) == 4
        for notch in notches:
            assert length(notch.curve) == pytest.approx(6.0, abs=0.01)
            cuts = (polygon(s.curve).exterior for s in of_kind(drawing, "cut-line"))
            assert min(cut.distance(Point(notch.curve.end)) for cut in cuts) < 0.03
        # Both edges of a seam bear its number.
        assert sorted(word for word in texts(data) if word.isdigit()) == ["1", "1", "2", "2"]


def test_each_seam_edge_names_its_mate(tmp_path: Path) -> None:
    for data in layer_files(run(tmp_path, panels(half(3)))).values():
        words = [word for word in texts(data) if word.startswith("to ")]
        assert sorted(words) == ["to panel 1", "to panel 2", "to panel 2", "to panel 3"]


@pytest.mark.slow
def test_gores_are_cut_with_the_panels_that_they_are_set_between() -> None:
    result = cut(resolve(read_job(SAMPLES / "gored.toml")))
    layer = result.shifted.layers[-1].whole
    data = layer_files(result)["layer-4-brocade.svg"]
    said = [words for words in texts(data) if words.startswith("to ")]
    mates = ("bust gore", "hip gore", "back gore", "2 side front", "3 side back")
    assert [said.count(f"to {mate}") for mate in mates] == [2, 2, 2, 4, 4]
    # Where each tip goes is marked on both panels, beside the waist's notches and the drafted ones.
    notches = of_kind(read(data), "notches")
    panels_ = [panel for panel in layer if panel.pointed is None]
    waists, drafted = 3 * 3, sum(m.kind == "notch" for p in layer for m in p.marks)
    assert len(notches) == waists + 2 * drafted + sum(len(p.tips) for p in panels_)
    plan, outer = result.job.plan, result.shifted.layers[-1]
    said = [plan.words(result.shifted, outer, k)[-1] for k in (1, 3)]
    assert said == ["added: seam 10, top 8 mm", "added: seam 10, bottom 8 mm"]


@pytest.mark.slow
def test_slits_are_drawn_where_a_layer_has_the_gore(tmp_path: Path) -> None:
    job = (SAMPLES / "slit_gores.toml").read_text()
    shutil.copy(SAMPLES / "slit_gores.svg", tmp_path)
    job = job.replace(
        "thickness = 0.2 ", 'panels = ["1 front", "2 side", "3 back"]\nthickness = 0.2 '
    )
    (tmp_path / "job.toml").write_text(job)
    result = cut(resolve(read_job(tmp_path / "job.toml")))
    files = layer_files(result)
    for file, slits in (("layer-1-lining.svg", 0), ("layer-4-brocade.svg", 3)):
        drawing = read(files[file])
        lines = [s for s in of_kind(drawing, "stitch-line") if not s.curve.closed]
        assert len(lines) == slits
        said = [words for words in texts(files[file]) if words.startswith("slit, to ")]
        gores = ("front bust gore", "side bust gore", "hip gore")
        assert [said.count(f"slit, to {gore}") for gore in gores] == [2 if slits else 0] * 3
    # A short line stands across each slit's end.
    outer = result.shifted.layer("brocade").whole
    tips = [slit.tip for panel in outer for slit in panel.slits]
    assert len(tips) == 3
    said = [words for words in texts(files["layer-4-brocade.svg"]) if words == "to 1 front"]
    assert len(said) == 2 * 2 + 1


def test_pieces_that_stand_on_each_other_are_cut_apart(tmp_path: Path) -> None:
    lower = [(0, -150), (0, 70), (110, 70), (110, -150)]
    upper = [(0, 0), (0, 80), (110, 80), (110, 0)]
    panels_ = {name: [(0, -150), (0, 150), (110, 150), (110, -150)] for name in ("front", "back")}
    drawing = gored_svg(
        {"yoke": upper}, panels={"front": panels_["front"], "side": lower, **panels_}
    )
    (tmp_path / "draft.svg").write_bytes(drawing)
    job = """
        pattern = { file = "draft.svg", drafted_waist = 660 }
        allowance = { seam = 10, top = 8, bottom = 8 }
        stands_on = [{ upper = "yoke", lower = "side" }]
        [[stack.fabric]]
        name = "lining"
        thickness = 0.2
        [[stack.fabric]]
        name = "drill"
        thickness = 0.6
        """
    (tmp_path / "job.toml").write_text(job)
    result = cut(resolve(read_job(tmp_path / "job.toml")))
    data = layer_files(result)["layer-2-drill.svg"]
    assert sorted(words for words in texts(data) if words.startswith("to ")) == sorted(
        ["to side", "to yoke"] * 3 + ["to front"] * 2 + ["to back"] * 2
    )
    said = [line for line in texts(data) if line.startswith("added:")]
    assert "added: seam 10, top 8 mm" in said
    assert "added: bottom 8, seam 10 mm" in said or "added: seam 10, bottom 8 mm" in said
    assert [line.name for line in result.lines[4:8]] == ["front", "side", "yoke", "back"]
    nested = nested_sheet(result.shifted, result.shifted.layers, result.job.plan)
    assert sum(stroke.kind == "cut-line" for stroke in nested.strokes) == 2 * 4
    # Without its head, as pages show it, it has the same layers to be hidden or shown.
    bare = nested_sheet(result.shifted, result.shifted.layers, result.job.plan, headed=False)
    assert bare.layers == nested.layers != ()
    # Two at each waist seam's edges, of which one is double; one where the seam across ends.
    assert len(of_kind(read(data), "notches")) == 2 * 3 + 2


def test_a_fold_is_not_cut(tmp_path: Path) -> None:
    """The cut line is open there, and the fold has a line, a bracket and words of its own."""
    rest = '[panel."panel 1"]\nfold = "front"\n'
    body = panels([Draft("panel 1", left=(0.0, 0.0)), Draft("panel 2", x=150.0)])
    for data in layer_files(run(tmp_path, body, rest=rest)).values():
        drawing = read(data)
        first, second = of_kind(drawing, "cut-line")
        assert (first.curve.closed, second.curve.closed) == (False, True)
        fold = of_kind(drawing, "fold-line")[0].curve
        ends = sorted([first.curve.start.tolist(), first.curve.end.tolist()])
        assert ends == pytest.approx(np.array(sorted([fold.start.tolist(), fold.end.tolist()])))
        along = fold.end - fold.start
        off = [along[0] * y - along[1] * x for x, y in (first.curve.flatten() - fold.start)]
        assert np.count_nonzero(np.abs(off) < 1e-3 * np.hypot(*along)) == 2
        assert "place on the fold, do not cut" in texts(data)


@pytest.mark.parametrize(("place", "edge"), [(0, "front"), (1, "back")])
def test_a_piece_of_two_panels_is_cut_as_the_one_that_lies_on_the_fold(
    place: int, edge: Literal["front", "back"]
) -> None:
    drafted = pattern(panels(half(2)))
    names = tuple(panel.name for panel in drafted)
    both = replace(drafted, panels=(replace(drafted.panels[0], made_of=names),))
    held = Cutting(1, mirrored=False, fold=edge)
    assert CutPlan(cuttings={names[place]: held}).cutting(both, 0) == held
    assert CutPlan().cutting(both, 0) == Cutting()


@pytest.mark.parametrize("slant", [-12.0, 0.0, 12.0])
def test_a_cut_line_ends_on_the_fold_however_the_top_leans(tmp_path: Path, slant: float) -> None:
    """Its allowance reached beyond the fold where the top rises away from it."""
    draft = f"M50 {100 + slant}L110 100V300H50Z"
    body = path(draft, "panel 1") + path("M40 200H120", "waist")
    rest = '[panel."panel 1"]\nfold = "front"\n'
    for data in layer_files(run(tmp_path, body, rest=rest)).values():
        drawing = read(data)
        (cut_,), (fold, *_) = of_kind(drawing, "cut-line"), of_kind(drawing, "fold-line")
        net = of_kind(drawing, "stitch-line")[0].curve.flatten()
        across = cut_.curve.flatten()[:, 0]
        assert across.min() == pytest.approx(net[:, 0].min(), abs=0.01)
        ends = np.array([cut_.curve.start, cut_.curve.end])
        # A shifted layer may lean by a hair.
        assert ends[:, 0] == pytest.approx([net[:, 0].min()] * 2, abs=0.01)
        # Along the fold up to the top's own cut line, 10 mm from its stitch line.
        rise = 10.0 / np.cos(np.arctan2(slant, 60.0))
        corner = net[np.abs(net[:, 0] - net[:, 0].min()) < 0.01][:, 1].min()
        assert ends[:, 1].min() == pytest.approx(corner - rise, abs=0.05)
        assert sorted(fold.curve.vertices[:, 1]) == pytest.approx(sorted(ends[:, 1]), abs=1e-3)


def test_notch_points_inwards_where_there_is_no_allowance(tmp_path: Path) -> None:
    result = run(tmp_path, panels(half(2)), rest="[allowance]\nseam = 0\n")
    for data in layer_files(result).values():
        drawing = read(data)
        stitch = [polygon(s.curve) for s in of_kind(drawing, "stitch-line")]
        for notch in of_kind(drawing, "notches"):
            line = LineString(notch.curve.vertices)
            assert any(p.buffer(0.03).contains(line) for p in stitch)


# -- labels -------------------------------------------------------------------------------


def texts(data: bytes, group_id: str = "labels") -> list[str]:
    root = etree.fromstring(data)
    return [t.text or "" for t in root.iterfind(f".//{SVG}g[@id='{group_id}']/{SVG}text")]


def test_labels_hold_panel_layer_count_and_mirroring(tmp_path: Path) -> None:
    rest = '[panel."panel 2"]\ncut = 1\n[panel."panel 3"]\nfold = "back"\n'
    result = run(tmp_path, panels(half(3)), rest=rest)
    for name, fabric in (("layer-1-lining", "lining"), ("layer-3-brocade", "brocade")):
        own = texts(result.drawings[f"{name}.svg"])
        words = " ".join(own)
        for each in (
            "panel 1",
            "panel 2",
            "panel 3",
            f": {fabric}",
            "on the fold",
            "right side up",
        ):
            assert each in words
        assert f"draft: {fabric}" in own
        # Words along the centres are a mock-up's.
        assert not {"centre front", "centre back"} & set(own)
    said = CutPlan(
        title="Iris", client="size 38", revision="draft 3", cuttings=result.job.plan.cuttings
    )
    layer = result.shifted.layers[2]
    assert said.words(result.shifted, layer, 1) == [
        "panel 2",
        "Iris, size 38",
        "layer 3 of 3: brocade",
        "cut 1",
        "right side up",
        "added: seam 10, top 10, bottom 10 mm",
        "draft 3",
    ]
    napped = replace(said, napped=frozenset({"brocade"}), unit="in")
    assert napped.words(result.shifted, layer, 2)[3:6] == [
        "cut 1, on the fold",
        "right side up, nap: top up",
        "added: seam 3/8, top 3/8, bottom 3/8 in",
    ]


def test_full_pattern_is_labelled_cut_1(tmp_path: Path) -> None:
    words = " ".join(texts(run(tmp_path, panels(full(6))).drawings["layer-1-lining.svg"]))
    assert words.count("cut 1") == 6
    assert "mirrored" not in words


def test_texts_of_the_draft_come_along_in_their_own_group(tmp_path: Path) -> None:
    result = run(tmp_path, panels(half(1)) + text("ease here", 65, 150, "t"))
    for data in layer_files(result).values():
        assert texts(data, "draft-text") == ["ease here"]


def test_words_keep_clear_of_those_that_the_draft_has_there(tmp_path: Path) -> None:
    def labels(body: str) -> tuple[Panel, list[Label]]:
        job = resolve(read_job(write_job(tmp_path, body, rest='[body]\nmodel = "classes"\n')))
        shifted = shift_job(job)
        ((part,),) = parts_of_layers(shifted, cut_layers(shifted)[1:2], job.plan)
        return shifted.turn.pattern.panels[0], part.labels

    panel, usual = labels(panels(half(1)))
    own = [label for label in usual if label.panel]
    x, y = next(label.at for label in own if label.bold) + panel.frame.origin
    _, moved = labels(panels(half(1)) + text("ease", x, y))
    (drafted,) = (label for label in moved if label.drafted)
    assert drafted.text == "ease"
    assert [label.text for label in moved if not label.drafted] == [label.text for label in usual]
    assert any(letters(drafted).intersects(letters(label)) for label in usual)
    for label in moved:
        assert label is drafted or not letters(drafted).intersects(letters(label)), label.text


def test_words_that_repeat_a_panels_name_are_not_drawn_across_its_lines(tmp_path: Path) -> None:
    said = text("1 centre front / cut 2", 65, 150) + text("ease 1 here", 65, 170)
    result = run(tmp_path, panels(half(1, names=("path4000",))) + said)
    assert result.job.pattern.panels[0].name == "1 centre front"
    layers = cut_layers(result.shifted)
    (sheet, *_) = (layer_sheet(result.shifted, layer, result.job.plan) for layer in layers)
    assert [label.text for label in sheet.labels if label.drafted] == ["ease 1 here"]


def letters(label: Label) -> Polygon:
    """The box of a label's capitals and descenders in the widest of its faces."""
    across = WIDEST_FACE * width(label.text, bold=label.bold) * label.size
    left = -0.5 * across if label.align == "middle" else 0.0
    shape = box(left, -0.75 * label.size, left + across, 0.2 * label.size)
    turned = affinity.rotate(shape, label.angle, origin=(0, 0), use_radians=True)
    return affinity.translate(turned, *label.at)


@pytest.mark.slow
@pytest.mark.parametrize("name", [*NAMES, pytest.param("nested", marks=pytest.mark.slow)])
def test_labels_are_clear_of_every_line_and_of_each_other(name: str) -> None:
    """The most of them stood across the grainline, bones or level lines once."""
    result = sample("hourglass" if name == "nested" else name)
    layers = cut_layers(result.shifted)
    sheets = [layer_sheet(result.shifted, layer, result.job.plan) for layer in layers]
    if name == "nested":
        sheets = [nested_sheet(result.shifted, layers, result.job.plan)]
    for sheet in sheets:
        lines = shapely.MultiLineString([s.curve.flatten(0.01) for s in sheet.strokes if s.panel])
        own = [label for label in sheet.labels if label.panel and not label.drafted]
        assert len(own) > 12 * len(result.job.pattern.panels)
        shapes = [letters(label) for label in own]
        for label, shape in zip(own, shapes, strict=True):
            assert shape.distance(lines) > 0.1, label.text
            assert label.size >= 3.0
        tree = shapely.STRtree(shapes)
        assert len(tree.query(shapes, predicate="overlaps")[0]) == 0


@pytest.mark.slow
@pytest.mark.parametrize("name", ["gored", "slit_gores"])
def test_a_small_piece_says_what_it_is_of_before_all_else(name: str) -> None:
    result = sample(name)
    for layer in cut_layers(result.shifted):
        sheet = layer_sheet(result.shifted, layer, result.job.plan)
        lines = shapely.MultiLineString([s.curve.flatten(0.01) for s in sheet.strokes if s.panel])
        gores = {panel.name for panel in layer.whole if panel.pointed}
        own = [label for label in sheet.labels if label.panel in gores]
        assert {label.panel for label in own if label.bold} == gores
        for label in own:
            assert letters(label).distance(lines) > 0.1, label.text
            assert label.size >= SMALLEST_MM, label.text
        said = [label.panel for label in own if label.text.startswith("layer ")]
        assert sorted(said) == sorted(gores)


@pytest.mark.parametrize("name", NAMES)
def test_the_words_of_a_panel_stand_in_one_place_on_all_layers(name: str) -> None:
    result = sample(name)
    every = [
        {part.strokes[0].panel: next(lb for lb in part.labels if lb.bold) for part in parts}
        for parts in parts_of_layers(result.shifted, cut_layers(result.shifted), result.job.plan)
    ]
    for own in every[1:]:
        for panel, label in own.items():
            first = every[0][panel]
            assert (label.size, label.angle) == (first.size, first.angle)
            # Fabrics' names may take another number of lines.
            assert np.hypot(*(label.at - first.at)) < 6.0


@pytest.mark.slow
def test_words_keep_clear_of_where_pages_end() -> None:
    """Kept together, a panel's block is moved off the line at which its page ends."""
    result = sample("hourglass")
    shifted, plan = result.shifted, result.job.plan
    layers = cut_layers(shifted)
    names = {part.strokes[0].panel: part for part in parts_of_layers(shifted, layers, plan)[0]}
    breaks = {}
    for name, part in names.items():
        y = next(float(label.at[1]) for label in part.labels if label.bold) - 2.0
        breaks[name] = [np.array([[-200.0, y], [200.0, y]])]
    for parts in parts_of_layers(shifted, layers, plan, breaks):
        for part in parts:
            (line,) = breaks[part.strokes[0].panel]
            start = next(k for k, label in enumerate(part.labels) if label.bold)
            for label in part.labels[start:]:
                assert letters(label).distance(LineString(line)) > 0.1, label.text


def test_every_file_carries_the_caution() -> None:
    for data in sample("hourglass").drawings.values():
        words = " ".join(texts(data))
        assert "licensed health professional" in words
        assert "Sharp tools" in words


NASTY = "</text><script>alert(1)</script>&amp;\"'"


def test_markup_in_names_stays_text(tmp_path: Path) -> None:
    escaped = NASTY.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")
    draft = half(1)[0]
    body = f'<path id="path1" aria-label="{escaped}" d="{draft.data}"/>' + draft.line()
    stack = STACK.replace('"brocade"', "'''" + NASTY + "'''")
    result = run(tmp_path, body, head="title = '''" + NASTY + "'''", stack=stack)
    for name, data in result.drawings.items():
        assert b"<script" not in data
        assert re.fullmatch(r"[a-z0-9-]+\.svg", name)
        root = etree.fromstring(data)
        assert not root.findall(f".//{SVG}script")
        assert any(NASTY in words for words in texts(data))


def test_control_characters_in_names_of_a_drawing_never_reach_a_file(tmp_path: Path) -> None:
    draft = half(1)[0]
    label = "si&#9;de &#10;one&#13;&#x7f;&#x85;&#x9b;31m"
    body = f'<path id="path1" aria-label="{label}" d="{draft.data}"/>' + draft.line()
    for data in run(tmp_path, body).drawings.values():
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f]", data.decode())
        assert "si de one 31m" in " ".join(texts(data))


# -- the overlay --------------------------------------------------------------------------


def test_overlay_has_a_group_for_each_layer_with_a_legend(tmp_path: Path) -> None:
    root = etree.fromstring(run(tmp_path, panels(half(2))).drawings["overlay.svg"])
    groups = [g.get("id") for g in root.findall(f"{SVG}g")]
    assert groups[:3] == ["layer-1-lining", "layer-2-coutille", "layer-3-brocade"]
    dashes = [g.get("stroke-dasharray") for g in root.findall(f"{SVG}g")[:3]]
    assert len(set(dashes)) == 3
    own = texts(sheet_data(root))
    assert {"lining", "coutille", "brocade"} <= set(own)


def test_layers_have_one_number_in_the_overlay_and_in_their_files(tmp_path: Path) -> None:
    stack = "".join(
        f'[[stack.fabric]]\nname = "{name}"\nthickness = 0.3\n{more}'
        for name, more in (("lining", ""), ("tape", "cut_out = false\n"), ("silk", ""))
    )
    result = run(tmp_path, panels(half(2)), stack=stack)
    root = etree.fromstring(result.drawings["overlay.svg"])
    groups = [g.get("id") for g in root.findall(f"{SVG}g") if "layer-" in str(g.get("id"))]
    assert groups == ["layer-1-lining", "layer-3-silk"]
    assert [f"{group}.svg" for group in groups] == list(layer_files(result))


def sheet_data(root: etree._Element) -> bytes:
    return etree.tostring(root)


def test_overlay_lays_the_layers_over_each_other(tmp_path: Path) -> None:
    drawing = read(run(tmp_path, panels(half(2))).drawings["overlay.svg"])
    outlines = {
        layer: [s for s in of_kind(drawing, f"layer-{k}-{layer}") if s.curve.closed]
        for k, layer in enumerate(("lining", "coutille", "brocade"), start=1)
    }
    assert all(len(found) == 2 for found in outlines.values())
    for inner, outer in zip(outlines["lining"], outlines["brocade"], strict=True):
        a, b = polygon(inner.curve), polygon(outer.curve)
        assert a.intersection(b).area > 0.97 * a.area
        assert b.area > a.area


def test_overlay_of_many_layers_has_room_for_its_legend(tmp_path: Path) -> None:
    stack = "".join(f'[[stack.fabric]]\nname = "cloth {k}"\nthickness = 0.3\n' for k in range(9))
    result = run(tmp_path, panels(half(2)), stack=stack)
    drawing = read(result.drawings["overlay.svg"])
    panels_ = [s for s in drawing.shapes if s.curve.closed and s.groups[-1].startswith("layer-")]
    top = min(float(s.curve.bounds()[0, 1]) for s in panels_)
    keys = [t for t in drawing.texts if t.content.startswith("cloth ")]
    assert len(keys) == 9
    assert max(float(t.anchor[1]) for t in keys) < top


def test_level_lines_marks_and_bones_of_the_draft_are_on_every_layer(tmp_path: Path) -> None:
    draft = half(1)[0]
    body = draft.panel() + draft.line("hip", -50) + draft.line("bust", 60)
    body += group(path(f"M{draft.x + 10} 120V280", "b1"), "bones")
    body += path(f"M{draft.x + 20} 150h5", "dart") + path(f"M{draft.x} 250h6", "notch")
    for data in layer_files(run(tmp_path, body)).values():
        drawing = read(data)
        count = {k: len(of_kind(drawing, k)) for k in ("level-lines", "bone-channels", "marks")}
        assert count == {"level-lines": 2, "bone-channels": 1, "marks": 1}
        assert {"waist", "hip", "bust", "grain", "b1"} <= set(texts(data))
        # As it was drawn, and on from the stitch line to the cut edge.
        assert len(of_kind(drawing, "notches")) == 2


def test_sheet_can_be_written_twice_with_equal_bytes() -> None:
    result = sample("hourglass")
    layer = cut_layers(result.shifted)[0]
    sheet = layer_sheet(result.shifted, layer, result.job.plan)
    assert sheet_svg(sheet) == sheet_svg(sheet) == result.drawings["layer-1-lining.svg"]
