"""DXF in and out: what ezdxf draws is read in mm, and what is written is read back tag by tag."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from panelshift.cli import main
from panelshift.draft import Reading, assemble
from panelshift.errors import DxfError, PatternError, SvgError
from panelshift.outline import Curve
from panelshift.outline.bezier import LINE
from panelshift.outline.measure import length
from panelshift.sheets.dxf_writer import sheet_dxf
from panelshift.sheets.palette import STYLES
from panelshift.sheets.sheet import Sheet, Stroke
from panelshift.sources.drawings import read_drawing
from panelshift.sources.svg import read_svg
from tests.support.examples import thinned

SAMPLES = Path(__file__).parents[2] / "sample_patterns"


def made(draw: Callable[..., object], *, units: int = 4, measurement: int | None = None) -> bytes:
    document = ezdxf.new("R2010", units=units)
    draw(document, document.modelspace())
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def shapes(draw: Callable[..., object], **how: int):
    return read_drawing(made(draw, **how)).shapes


@pytest.mark.parametrize(("units", "mm"), [(1, 25.4), (4, 1.0), (5, 10.0), (6, 1000.0)])
def test_units_are_those_of_the_file(units: int, mm: float) -> None:
    (shape,) = shapes(lambda _, space: space.add_line((1, 1), (4, 5)), units=units)
    assert length(shape.curve) == pytest.approx(5.0 * mm)


@pytest.mark.parametrize(("tall", "mm"), [(400.0, 1.0), (15.0, 25.4)])
def test_a_unit_that_is_not_stated_is_told_by_the_size(tall: float, mm: float) -> None:
    drawing = read_drawing(made(lambda _, s: s.add_line((0, 0), (0, tall)), units=0))
    assert length(drawing.shapes[0].curve) == pytest.approx(tall * mm)
    assert "does not say its unit" in drawing.warnings[0]


@pytest.mark.parametrize("tall", [3.0, 40_000.0])
def test_a_unit_that_nothing_tells_is_refused(tall: float) -> None:
    with pytest.raises(DxfError, match="does not say its unit"):
        read_drawing(made(lambda _, s: s.add_line((0, 0), (0, tall)), units=0))


def test_y_runs_upwards_and_texts_stand_where_they_are() -> None:
    def draw(_: object, space) -> None:
        space.add_line((0, 0), (100, 0))
        space.add_line((0, 300), (100, 300))
        text = space.add_text("centre front", height=8, rotation=90, dxfattribs={"layer": "names"})
        text.set_placement((50, 100))

    drawing = read_drawing(made(draw))
    assert drawing.shapes[0].curve.start.tolist() == [10.0, 310.0]
    assert drawing.shapes[1].curve.start.tolist() == [10.0, 10.0]
    (text,) = drawing.texts
    assert (text.content, text.size, text.groups) == ("centre front", 8.0, ("names",))
    assert text.anchor.tolist() == [60.0, 210.0]
    assert text.angle == pytest.approx(-math.pi / 2)


def test_bulges_are_arcs() -> None:
    # A bulge is the tangent of a quarter of the angle: 1 is half a circle.
    points = [(0, 0, 0), (300, 0, 1.0), (300, 200, 0), (0, 200, math.tan(math.pi / 8))]
    (shape,) = shapes(lambda _, s: s.add_lwpolyline(points, format="xyb", close=True))
    quarter = 200 / math.sqrt(2) * math.pi / 2
    assert shape.curve.closed
    assert length(shape.curve) == pytest.approx(600.0 + 100 * math.pi + quarter, abs=1e-3)


@pytest.mark.parametrize("bulge", [0.3, -0.3, 1.0, -1.0])
@pytest.mark.parametrize("first", thinned([0, 1, 2]))
@pytest.mark.parametrize("kind", ["add_lwpolyline", "add_polyline2d"])
@pytest.mark.parametrize("extrusion", [1, -1])
def test_bulges_turn_to_their_own_side(kind, first, bulge, extrusion) -> None:
    # To the right of its chord an arc adds a circle's segment to a piece drawn to the left.
    points = [(0, 0, 0), (300, 0, bulge), (300, 200, 0), (0, 200, bulge)]
    points = [*points[first:], *points[:first]]

    def draw(_: object, space) -> None:
        own = {"extrusion": (0, 0, extrusion)}
        getattr(space, kind)(points, format="xyb", close=True, dxfattribs=own)

    (shape,) = shapes(draw)
    angle, control = 4.0 * math.atan(bulge), shape.curve.control
    radius = 100.0 / math.sin(angle / 2.0)
    segment = 0.5 * radius**2 * (angle - math.sin(angle))
    assert np.abs(control[1:, 0] - control[:-1, 3]).max() < 1e-9
    assert shapely.Polygon(shape.curve.flatten(1e-4)).area == pytest.approx(
        60_000.0 + 2.0 * segment, abs=0.5
    )


def test_arcs_ellipses_and_splines_lie_where_they_should() -> None:
    def draw(_: object, space) -> None:
        space.add_circle((0, 0), 500)
        space.add_arc((0, 0), 300, 20, 140)
        space.add_ellipse((0, 0), (400, 0), 0.5)
        space.add_spline([(0, 0), (100, 300), (250, 200), (400, 350)])
        space.add_rational_spline([(0, 0), (100, 300), (250, 200), (400, 350)], [1, 2, 3, 1])

    circle, arc, ellipse, spline, rational = read_drawing(made(draw)).shapes
    assert length(circle.curve) == pytest.approx(1000 * math.pi, abs=1e-3)
    assert length(arc.curve) == pytest.approx(300 * math.radians(120), abs=1e-3)
    middle = circle.curve.bounds().mean(axis=0)
    points = ellipse.curve.flatten(0.001) - middle
    assert np.abs(np.hypot(points[:, 0] / 400, points[:, 1] / 200) - 1).max() * 400 < 0.005
    for shape, entity in zip(
        (spline, rational),
        list(ezdxf.read(io.StringIO(made(draw).decode())).modelspace())[3:],
        strict=True,
    ):
        exact = np.array([[p.x, -p.y] for p in entity.flattening(0.003)])
        own = shape.curve.flatten(0.003)
        shift = own[0] - exact[0]
        away = shapely.LineString(own).hausdorff_distance(shapely.LineString(exact + shift))
        assert away < 0.02


def test_points_of_a_spline_that_are_doubled_count_once() -> None:
    points = [(0, 0), (100, 300), (250, 200), (400, 350)]
    doubled = [point for point in points for _ in (0, 1)]

    def draw(_: object, space) -> None:
        space.add_spline(points)
        space.add_spline(doubled)
        space.add_spline([*points, points[-1]])
        space.add_spline([points[1], points[1]])

    plain, *others = shapes(draw)
    assert len(others) == 2
    for other in others:
        assert np.allclose(other.curve.control, plain.curve.control)


def test_a_closed_spline_of_points_alone_is_refused() -> None:
    def draw(_: object, space) -> None:
        space.add_spline([(0, 0), (100, 300), (250, 200)]).closed = True

    with pytest.raises(DxfError, match="points that it goes through alone"):
        read_drawing(made(draw))


def test_blocks_in_blocks_turned_and_mirrored() -> None:
    def draw(document, space) -> None:
        inner = document.blocks.new("notch")
        inner.add_line((0, 0), (10, 0), dxfattribs={"layer": "marks"})
        outer = document.blocks.new("side front")
        outer.add_blockref("notch", (100, 0), dxfattribs={"rotation": 90})
        outer.add_lwpolyline([(0, 0, 0.5), (200, 0, 0), (200, 300, 0)], format="xyb", close=True)
        space.add_blockref("side front", (0, 0), dxfattribs={"xscale": -2, "yscale": 2})

    line, outline = shapes(draw)
    assert line.groups == ("side front", "notch", "marks")
    assert length(line.curve) == pytest.approx(20.0)
    assert np.allclose(line.curve.end - line.curve.start, [0.0, -20.0])
    # The bulge of 0.5 turns through 4 atan 0.5 over a chord of 400.
    angle = 4 * math.atan(0.5)
    arc = 400 / (2 * math.sin(angle / 2)) * angle
    assert length(outline.curve) == pytest.approx(arc + 600 + math.hypot(400, 600), abs=2e-3)


@pytest.mark.parametrize("x", [1, -1])
@pytest.mark.parametrize("y", [1, -1])
@pytest.mark.parametrize("flag", [0, 2, 4])
def test_words_in_blocks_that_are_mirrored_stand_where_they_are_drawn(x, y, flag) -> None:
    def draw(document, space) -> None:
        block = document.blocks.new("label")
        own = {"insert": (10, 20), "text_generation_flag": flag}
        block.add_text("front", height=5, dxfattribs=own)
        block.add_mtext("back", dxfattribs={"insert": (10, 40), "char_height": 4})
        space.add_line((0, 0), (0, 300))
        space.add_blockref("label", (100, 100), dxfattribs={"xscale": x, "yscale": y})

    drawing = read_drawing(made(draw))
    one, two = drawing.texts
    (line,) = drawing.shapes
    place = one.anchor - line.curve.start
    assert np.allclose(place, [100.0 + 10.0 * x, -100.0 - 20.0 * y])
    assert np.allclose(two.anchor - one.anchor, [0.0, -20.0 * y])
    for text, turned in ((one, flag), (two, 0)):
        along = np.array([math.cos(text.angle), math.sin(text.angle)])
        top = np.array([along[1], -along[0]]) * (-1.0 if text.mirrored else 1.0)
        assert np.allclose(along, [-x if turned & 2 else x, 0.0])
        assert np.allclose(top, [0.0, y if turned & 4 else -y])


def test_layers_colours_and_dashes_are_kept() -> None:
    def draw(document, space) -> None:
        document.linetypes.add("dashes", [9.0, 6.0, -3.0])
        document.layers.add("waist", color=1, linetype="dashes")
        document.layers.add("old").off()
        space.add_line((0, 0), (100, 0), dxfattribs={"layer": "waist", "lineweight": 35})
        space.add_line((0, 0), (0, 100), dxfattribs={"layer": "old"})
        space.add_point((5, 5))

    drawing = read_drawing(made(draw))
    (shape,) = drawing.shapes
    assert shape.groups == ("waist",)
    assert (shape.style.colour, shape.style.width, shape.style.dash) == (
        "#ff0000",
        0.35,
        (6.0, 3.0),
    )
    assert sorted(gone.reason for gone in drawing.left_out) == [
        "a point is not read",
        "the layer 'old' is switched off",
    ]


def test_numbered_layers_say_what_their_lines_are() -> None:
    def draw(document, space) -> None:
        block = document.blocks.new("FRONT")
        for layer, inset in (("1", 0), ("14", 10)):
            wide, tall = 100 - inset, 400 - inset
            points = [(inset, inset), (wide, inset), (wide, tall), (inset, tall)]
            block.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})
        block.add_line((50, 50), (50, 350), dxfattribs={"layer": "7"})
        space.add_blockref("FRONT", (0, 0), dxfattribs={"layer": "1"})

    assert [shape.groups[-1] for shape in shapes(draw)] == ["cut line", "stitch line", "grain"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("size", "read", "factor"),
    [(0.1, "1626 mm in inches", "0.393701"), (96.0 / 25.4, "2419 mm in millimetres", "0.264583")],
)
def test_a_unit_that_the_waist_speaks_against_is_asked(size: float, read: str, factor: str) -> None:
    plain = read_svg(SAMPLES / "hourglass.svg")

    def draw(_: object, space) -> None:
        for shape in plain.shapes:
            aside = {"sheet", "bones", "grain"} & set(shape.groups)
            if aside or shape.names[-1] not in ("waist", shape.ident):
                continue
            points = shape.curve.flatten(0.05) * (size, -size)
            look = {"layer": "waist" if shape.names[-1] == "waist" else "0"}
            if shape.curve.closed:
                space.add_lwpolyline(points[:-1], close=True, dxfattribs=look)
            else:
                space.add_lwpolyline(points, dxfattribs=look)

    drawing = read_drawing(made(draw, units=0))
    with pytest.raises(PatternError, match=read) as caught:
        assemble(drawing)
    assert f"{factor} if it is drawn in" in caught.value.remedy
    whole = assemble(drawing.scaled(float(factor))).waist
    assert whole == pytest.approx(640.0, abs=0.1)
    # Whoever states the waist is believed.
    stated = Reading(drafted_waist=640.0 / float(factor))
    assert assemble(drawing, stated).waist == pytest.approx(640.0 / float(factor), abs=1.0)


@pytest.mark.slow
def test_a_sample_through_dxf_gives_its_pattern() -> None:
    drawing = read_svg(SAMPLES / "hourglass.svg")

    def draw(document, space) -> None:
        for shape in drawing.shapes:
            name = shape.names[-1] if shape.names else "0"
            look = {"layer": name}
            for degree, points in zip(shape.curve.degree, shape.curve.control, strict=True):
                flipped = points * (1.0, -1.0)
                if degree == LINE:
                    space.add_line(flipped[0], flipped[3], dxfattribs=look)
                else:
                    space.add_open_spline([(*p, 0) for p in flipped], degree=3, dxfattribs=look)

    plain, through = assemble(drawing), assemble(read_drawing(made(draw)))
    assert through.waist == pytest.approx(plain.waist, abs=0.02)
    for one, two in zip(plain.panels, through.panels, strict=True):
        assert length(one.outline) == pytest.approx(length(two.outline), abs=0.02)


# -- written ---------------------------------------------------------------------------------


def tags(data: bytes) -> list[tuple[int, str]]:
    """All group codes and values of an ASCII DXF: two lines each, read without ezdxf."""
    lines = data.decode().splitlines()
    return [(int(code), value) for code, value in zip(lines[::2], lines[1::2], strict=True)]


def polylines(data: bytes) -> list[tuple[str, list[tuple[float, float]]]]:
    found: list[tuple[str, list[tuple[float, float]]]] = []
    inside = False
    for code, value in tags(data):
        if code == 0:
            inside = value == "LWPOLYLINE"
            if inside:
                found.append(("", []))
        elif inside and code == 8:
            found[-1] = (value, found[-1][1])
        elif inside and code == 10:
            found[-1][1].append((float(value), math.nan))
        elif inside and code == 20:
            found[-1][1][-1] = (found[-1][1][-1][0], float(value))
    return found


@pytest.mark.slow
def test_cut_writes_what_a_machine_cuts(tmp_path: Path) -> None:
    job = SAMPLES / "hourglass.toml"
    run = CliRunner().invoke(main, ["cut", str(job), "--out", str(tmp_path), "--dxf"])
    assert run.exit_code == 0, run.output
    files = sorted(tmp_path.glob("*.dxf"))
    assert [file.stem for file in files] == [
        file.stem for file in sorted(tmp_path.glob("layer-*.svg"))
    ]
    for file in files:
        data = file.read_bytes()
        drawn = read_svg(file.with_suffix(".svg"))
        # What is closed says so: it does not come back to its first point.
        assert all(points[0] != points[-1] for _, points in polylines(data))
        for layer, kind in (("1", "cut-line"), ("14", "stitch-line")):
            own = sorted(
                shapely.Polygon(points).length for on, points in polylines(data) if on == layer
            )
            # By group, as the SVG names it; both readers stand beside each other.
            svg = sorted(
                length(shape.curve)
                for shape in drawn.shapes
                if shape.curve.closed and any(kind in group for group in shape.groups)
            )
            assert len(own) == 6
            assert own == pytest.approx(svg, abs=0.02)
        assert "Piece Name: 1 centre front" in data.decode()


def test_the_same_sheet_gives_the_same_bytes() -> None:
    curve = Curve.polyline([(0, 0), (90, 0), (40, 300)], closed=True)
    sheet = Sheet("lining", 200.0, 400.0, (Stroke("cut-line", curve, "front"),), ())
    assert sheet_dxf(sheet) == sheet_dxf(sheet)
    block = ezdxf.read(io.StringIO(sheet_dxf(sheet).decode())).blocks["PIECE-1"]
    (line,) = block.query("LWPOLYLINE")
    # y upwards; what is closed says so and does not come back to its first point.
    assert (list(line.vertices()), line.closed) == ([(0, 400), (90, 400), (40, 100)], True)
    words = [(text.dxf.text, *text.dxf.insert.vec2) for text in block.query("TEXT")]
    assert words == [("Piece Name: front", 0.0, 420.0), ("Material: lining", 0.0, 413.0)]
    said = [value for code, value in tags(sheet_dxf(sheet)) if code == 1]
    assert {"Piece Name: front", "Material: lining"} <= set(said)
    # A machine gets the lines of panels alone, not the frame, nor what was drawn beside them.
    other = (Stroke("cut-line", curve, ""), Stroke("test-squares", curve, "front"))
    assert sheet_dxf(replace(sheet, strokes=(*sheet.strokes, *other))) == sheet_dxf(sheet)
    layers = [layer.dxf.name for layer in ezdxf.read(io.StringIO(sheet_dxf(sheet).decode())).layers]
    numbered = [name for name in layers if name not in ("0", "Defpoints")]
    assert numbered == sorted(numbered, key=int)
    assert {"1", "14"} <= set(numbered)
    # A dashed kind is read back dashed, a solid one solid.
    dashed = next(kind for kind, style in STYLES.items() if style.dash)
    for kind in ("cut-line", dashed):
        one = replace(sheet, strokes=(Stroke(kind, curve, "front"),))
        looks = [bool(shape.style.dash) for shape in read_drawing(sheet_dxf(one)).shapes]
        assert looks == [bool(STYLES[kind].dash)] * len(looks)


# -- what is refused -------------------------------------------------------------------------


def test_damage_is_told() -> None:
    data = made(lambda _, s: s.add_line((0, 0), (100, 0)))
    for broken in (data[: len(data) // 2], data[:30], b"0\nSECTION\n" + bytes(100)):
        with pytest.raises(DxfError) as caught:
            read_drawing(broken, name="draft.dxf")
        assert caught.value.source == "draft.dxf"


def test_bare_drawings_units_and_pages_are_told() -> None:
    with pytest.raises(DxfError, match="no lines"):
        read_drawing(made(lambda _, s: s.add_point((1, 1))))
    with pytest.raises(DxfError, match="code 3"):
        read_drawing(made(lambda _, s: s.add_line((0, 0), (1, 1)), units=3))
    with pytest.raises(SvgError, match="only a PDF has pages"):
        read_drawing(made(lambda _, s: s.add_line((0, 0), (9, 9))), page=1)


@pytest.mark.parametrize("flag", [2, 4], ids=["curve", "spline"])
def test_a_polyline_made_smooth_by_fitting_is_refused(flag: int) -> None:
    def draw(_: object, space) -> None:
        line = space.add_polyline2d([(0, 0), (90, 0), (90, 300)])
        line.dxf.flags |= flag

    with pytest.raises(DxfError, match="made smooth by fitting"):
        read_drawing(made(draw))


def test_an_entity_that_may_be_a_line_is_warned_of() -> None:
    def draw(_: object, space) -> None:
        space.add_line((0, 0), (0, 300))
        space.add_mline([(0, 0), (90, 0), (90, 300)])

    assert "MLINE is not read" in read_drawing(made(draw)).warnings[0]


def test_blocks_without_end_are_refused() -> None:
    def within_itself(document, space) -> None:
        block = document.blocks.new("a")
        block.add_blockref("b", (0, 0))
        document.blocks.new("b").add_blockref("a", (0, 0))
        space.add_blockref("a", (0, 0))

    def many(document, space) -> None:
        below = document.blocks.new("a0")
        below.add_line((0, 0), (1, 1))
        for k in range(1, 12):
            block = document.blocks.new(f"a{k}")
            for _ in range(10):
                block.add_blockref(f"a{k - 1}", (0, 0))
        space.add_blockref("a11", (0, 0))

    def rows(document, space) -> None:
        document.blocks.new("a").add_line((0, 0), (1, 1))
        space.add_blockref(
            "a",
            (0, 0),
            dxfattribs={
                "row_count": 30_000,
                "column_count": 30_000,
                "row_spacing": 1,
                "column_spacing": 1,
            },
        )

    for draw in (within_itself, many, rows):
        with pytest.raises(DxfError):
            read_drawing(made(draw))
