"""Pages of a PDF, operator by operator (ISO 32000-1), and what other programs make of a draft."""

from __future__ import annotations

import io
import shutil
import subprocess
import zlib
from pathlib import Path

import numpy as np
import pikepdf
import pytest

from panelshift.draft import assemble
from panelshift.errors import PanelshiftError, PdfError, SvgError
from panelshift.outline import Curve
from panelshift.outline.measure import length
from panelshift.pattern.drawing import Drawing, Shape
from panelshift.sources.drawings import read_drawing
from panelshift.sources.pdf import read_pages, read_pdf
from panelshift.sources.svg import drawing_svg, read_svg
from tests.support.pdfs import POINTS, made, stroked

SAMPLES = Path(__file__).parents[2] / "sample_patterns"


def only(content: str, **kinds: object):
    (shape,) = read_pdf(made([content], **kinds)).shapes
    return shape


def ends(shape) -> list[list[float]]:
    return [shape.curve.start.round(4).tolist(), shape.curve.end.round(4).tolist()]


def mm(points: float) -> float:
    return points / POINTS


# A line from 10 to 60 mm across, 20 mm above the foot of a page of 200 by 300 mm.
LINE = f"{10 * POINTS} {20 * POINTS} m {60 * POINTS} {20 * POINTS} l S"


def test_a_page_stands_upright_in_mm() -> None:
    assert ends(only(LINE)) == [[10.0, 280.0], [60.0, 280.0]]


@pytest.mark.parametrize(
    ("turn", "expected", "size"),
    [
        (90, [[20.0, 10.0], [20.0, 60.0]], [300.0, 200.0]),
        (180, [[190.0, 20.0], [140.0, 20.0]], [200.0, 300.0]),
        (270, [[280.0, 190.0], [280.0, 140.0]], [300.0, 200.0]),
        (-90, [[280.0, 190.0], [280.0, 140.0]], [300.0, 200.0]),
    ],
)
def test_a_turned_page_is_read_as_it_is_seen(turn: int, expected: object, size: object) -> None:
    drawing = read_pdf(made([LINE], page={"Rotate": turn}))
    assert ends(drawing.shapes[0]) == expected
    assert drawing.page[1].round(3).tolist() == size


def test_a_unit_of_its_own_and_a_crop_box() -> None:
    box = pikepdf.Array([5 * POINTS, 0, 100 * POINTS, 150 * POINTS])
    shape = only(LINE, page={"UserUnit": 2.0, "CropBox": box})
    assert ends(shape) == [[10.0, 260.0], [110.0, 260.0]]


def test_what_lies_off_the_page_is_told() -> None:
    far = f"{300 * POINTS} 0 m {400 * POINTS} 9 l S"
    drawing = read_pdf(made([f"{LINE} {far}"]))
    assert len(drawing.shapes) == 1
    assert "outside" in drawing.left_out[0].reason


def test_matrices_and_forms_are_carried_out_in_turn() -> None:
    # Scaled by 2 on the page, moved by 10 in the form's matrix, turned inside: 0 1 -1 0.
    form = "q 0 1 -1 0 0 0 cm 0 0 m 30 0 l S Q"
    entries = {"/Matrix": pikepdf.Array([1, 0, 0, 1, 10, 5])}
    shape = only("q 2 0 0 2 0 0 cm /A Do Q", forms={"A": (form, entries)})
    x, low, high = mm(20), 300 - mm(10), 300 - mm(70)
    assert np.allclose(ends(shape), [[x, low], [x, high]], atol=2e-4)


def test_curves_stay_curves_whatever_way_they_are_written() -> None:
    one = only("10 10 m 20 40 60 40 90 10 c S").curve.control
    short = only("10 10 m 10 10 60 40 90 10 c S").curve.control
    assert np.allclose(only("10 10 m 60 40 90 10 v S").curve.control, short)
    late = only("10 10 m 20 40 90 10 90 10 c S").curve.control
    assert np.allclose(only("10 10 m 20 40 90 10 y S").curve.control, late)
    # A cubic's middle is (P0 + 3 P1 + 3 P2 + P3) / 8.
    middle = np.array([(10 + 60 + 180 + 90) / 8, (10 + 120 + 120 + 10) / 8])
    assert np.allclose(
        only("10 10 m 20 40 60 40 90 10 c S").curve.points(0.5)[0],
        [mm(middle[0]), 300 - mm(middle[1])],
    )
    assert one.shape == (1, 4, 2)


def test_rectangles_closed_paths_and_fills_are_closed() -> None:
    drawing = read_pdf(
        made(["10 10 50 80 re S 100 10 m 150 10 l 150 60 l s 9 9 m 9 50 l 60 9 l f"])
    )
    assert [shape.curve.closed for shape in drawing.shapes] == [True, True, True]
    assert drawing.shapes[2].style.width is None
    assert length(drawing.shapes[0].curve) == pytest.approx(mm(260))


def test_subpaths_of_one_path_belong_together() -> None:
    drawing = read_pdf(made(["10 10 m 60 10 l 10 90 m 60 90 l S 5 5 m 9 5 l n 0 0 m 8 8 l S"]))
    assert [shape.ident for shape in drawing.shapes] == ["line 1~1", "line 1~2", "line 2"]
    assert drawing.shapes[0].element == "line 1"


@pytest.mark.parametrize(
    ("operators", "colour"),
    [
        ("1 0 0 RG", "#ff0000"),
        ("0.5 G", "#808080"),
        ("0 1 1 0 K", "#ff0000"),
        ("/DeviceRGB CS 0 0 1 SC", "#0000ff"),
    ],
)
def test_lines_keep_their_colour_width_and_dash(operators: str, colour: str) -> None:
    style = only(f"2 0 0 2 0 0 cm {operators} 3 w [6 3] 0 d 0 0 m 50 50 l S").style
    assert style.colour == colour
    assert style.width == pytest.approx(mm(6))
    assert style.dash == pytest.approx((mm(12), mm(6)))


def test_layers_name_groups_and_hide_what_they_hold() -> None:
    content = f"/OC /L0 BDC {LINE} EMC /OC /L1 BDC {LINE} 0 0 m 9 9 l S EMC {LINE}"
    drawing = read_pdf(made([content], layers={"waist": True, "old": False}))
    assert [shape.groups for shape in drawing.shapes] == [("waist",), ()]
    assert [gone.reason for gone in drawing.left_out] == [
        "the layer 'old' is switched off (2 times)"
    ]


def test_a_form_may_belong_to_a_layer() -> None:
    forms = {"A": (LINE, {"/OC": 0}), "B": (LINE, {"/OC": 1})}
    drawing = read_pdf(
        made(["/A Do /B Do"], layers={"size 40": True, "size 42": False}, forms=forms)
    )
    assert [shape.groups for shape in drawing.shapes] == [("size 40",)]


def test_texts_are_joined_and_stand_where_they_are_written() -> None:
    words = (
        "BT /F 20 Tf 1 0 0 1 100 200 Tm (centre ) Tj (front) Tj 0 -40 Td [(wa) 20 (ist)] TJ "
        "3 Tr (unseen) Tj 0 Tr ET BT /F 20 Tf 0 1 -1 0 300 100 Tm (up) Tj ET"
    )
    drawing = read_pdf(made([f"{LINE} {words}"]))
    assert [text.content for text in drawing.texts] == ["centre front", "waist", "up"]
    front, waist, up = drawing.texts
    assert np.allclose(front.anchor, [mm(100), 300 - mm(200)], atol=1e-4)
    assert np.allclose(waist.anchor, [mm(100), 300 - mm(160)], atol=1e-4)
    assert front.size == pytest.approx(mm(20))
    assert front.bold
    assert up.angle == pytest.approx(-np.pi / 2)
    assert any("not painted" in gone.reason for gone in drawing.left_out)


def test_operators_of_text_move_it_as_the_standard_says() -> None:
    """Section 9.3: a letter of 556/1000 at size 10 takes ((5.56 + Tc + Tw) Tz / 100) points."""
    words = (
        "BT /F 10 Tf 1 0 0 1 100 700 Tm (a) Tj 0 -50 Td 7 Ts (b) Tj 0 Ts "
        "5 -60 TD (c) Tj T* (d) Tj 30 TL (e) ' 4 100 (f ) \" (g) Tj 0 Tw 0 Tc "
        "1 0 0 1 100 300 Tm 200 Tz (hh) Tj 40 Ts 100 Tz (i) Tj 0 Ts "
        "1 0 0 1 100 200 Tm (k) Tj [-9000 (l) 2000 (m)] TJ ET"
    )
    drawing = read_pdf(made([f"{LINE} {words}"]))
    found = {text.content.strip(): text.anchor for text in drawing.texts}
    places = {
        "a": (100, 700),
        "b": (100, 650 + 7),
        "c": (105, 590),
        "d": (105, 530),
        "e": (105, 500),
        "f g": (105, 470),
        "hh": (100, 300),
        "i": (100 + 2 * 5.56 * 2, 340),
        "k": (100, 200),
        "l": (100 + 5.56 + 90, 200),
        "m": (100 + 5.56 + 90 + 5.56 - 20, 200),
    }
    assert found.keys() == places.keys()
    for letter, (x, y) in places.items():
        assert found[letter] == pytest.approx([mm(x), 300 - mm(y)], abs=1e-3), letter


@pytest.mark.parametrize("degrees", [0.0, 30.0, 90.0, 200.0])
def test_letters_along_any_line_are_one_word(degrees: float) -> None:
    """Letters of 20 points set wide one by one, and one that stands beside the line's end."""
    along = np.exp(1j * np.radians(degrees))
    set_ = [(letter, 300.0 + 300.0j + 20.0 * k * along) for k, letter in enumerate("waist")]
    set_.append(("x", set_[-1][1] + (20.0 + 40.0j) * along))
    cosine, sine = along.real, along.imag
    turn = f"{cosine:.9f} {sine:.9f} {-sine:.9f} {cosine:.9f}"
    shown = "".join(f"{turn} {at.real:.6f} {at.imag:.6f} Tm ({one}) Tj " for one, at in set_)
    drawing = read_pdf(made([f"{LINE} BT /F 20 Tf {shown} ET"]))
    assert [text.content.replace(" ", "") for text in drawing.texts] == ["waist", "x"]
    assert np.exp(1j * drawing.texts[0].angle) == pytest.approx(along.conjugate(), abs=1e-6)


def test_a_line_that_was_drawn_on_the_page_later_is_read() -> None:
    pdf = pikepdf.open(io.BytesIO(made([LINE])))
    look = pikepdf.Stream(pdf, b"0 5 m 40 5 l S")
    look.Subtype, look.BBox = pikepdf.Name.Form, pikepdf.Array([0, 0, 40, 10])
    note = pikepdf.Dictionary(
        Type=pikepdf.Name.Annot,
        Subtype=pikepdf.Name.Line,
        Rect=pikepdf.Array([100, 200, 180, 220]),
        AP=pikepdf.Dictionary(N=pdf.make_indirect(look)),
    )
    pdf.pages[0].obj.Annots = pikepdf.Array([pdf.make_indirect(note)])
    stream = io.BytesIO()
    pdf.save(stream)
    drawn = read_pdf(stream.getvalue()).shapes[1]
    assert drawn.groups == ("notes",)
    assert np.allclose(ends(drawn), [[mm(100), 300 - mm(210)], [mm(180), 300 - mm(210)]], atol=2e-4)


# -- what other programs make of a draft -----------------------------------------------------


CONVERTERS = {
    "rsvg-convert": ["rsvg-convert", "-f", "pdf", "-o"],
    "inkscape": ["inkscape", "--export-filename"],
}


@pytest.mark.parametrize("program", CONVERTERS)
@pytest.mark.parametrize("sample", ["hourglass", "fuller_figure"])
@pytest.mark.slow
def test_a_sample_through_another_program_keeps_every_length(
    program: str, sample: str, tmp_path: Path
) -> None:
    if shutil.which(program) is None:
        pytest.skip(f"no {program}")
    source = SAMPLES / f"{sample}.svg"
    target = tmp_path / "out.pdf"
    *command, option = CONVERTERS[program]
    named = [option, str(target)] if option == "-o" else [f"{option}={target}"]
    subprocess.run([*command, *named, str(source)], check=True, capture_output=True)
    found = read_drawing(target)
    drawn = read_svg(source)
    assert len(found.shapes) == len(drawn.shapes)
    for one, two in zip(found.shapes, drawn.shapes, strict=True):
        assert length(one.curve) == pytest.approx(length(two.curve), abs=0.005)
        assert np.abs(one.curve.bounds() - two.curve.bounds()).max() < 0.005


def test_a_draft_with_layers_gives_the_pattern_that_its_svg_gives() -> None:
    drawing = read_svg(SAMPLES / "hourglass.svg")
    names = {shape.names[-1]: True for shape in drawing.shapes if shape.names}
    places = {name: k for k, name in enumerate(names)}
    lines = []
    for shape in drawing.shapes:
        line = stroked(shape.curve, 460.0)
        dash = "[6 3] 0 d" if shape.style.dash else "[] 0 d"
        line = f"{dash} {line}"
        if shape.names:
            line = f"/OC /L{places[shape.names[-1]]} BDC {line} EMC"
        lines.append(line)
    pdf = made(["\n".join(lines)], (673.34, 460.0), layers=names)
    plain, through = assemble(drawing), assemble(read_pdf(pdf))
    assert through.waist == pytest.approx(plain.waist, abs=0.005)
    for one, two in zip(plain.panels, through.panels, strict=True):
        assert np.abs(one.outline.bounds() - two.outline.bounds()).max() < 0.005
        assert length(one.outline) == pytest.approx(length(two.outline), abs=0.005)


# -- saved as SVG ----------------------------------------------------------------------------


def test_a_drawing_saved_as_svg_is_read_again_as_it_was() -> None:
    content = (
        f"/OC /L0 BDC 1 0 0 RG 2 w [6 3] 0 d {LINE} 10 10 m 20 40 60 40 90 10 c 90 90 l s EMC "
        "BT /F 20 Tf 0.6 0.8 -0.8 0.6 100 200 Tm (waist & hip) Tj ET"
    )
    drawing = read_pdf(made([content], layers={"side <1>": True}))
    again = read_svg(drawing_svg(drawing))
    assert np.abs(again.page - drawing.page).max() < 0.001
    for one, two in zip(drawing.shapes, again.shapes, strict=True):
        assert np.abs(one.curve.control - two.curve.control).max() <= 0.001
        assert (one.groups, one.curve.closed, one.names) == (two.groups, two.curve.closed, ())
        assert one.style.colour == two.style.colour
        assert one.style.dash == pytest.approx(two.style.dash, abs=0.001)
    (one,), (two,) = drawing.texts, again.texts
    assert (one.content, one.bold) == (two.content, two.bold)
    assert two.angle == pytest.approx(one.angle, abs=1e-4)


def test_a_sample_saved_again_is_the_same_drawing() -> None:
    drawing = read_svg(SAMPLES / "hourglass.svg")
    again = read_svg(drawing_svg(drawing))
    assert [shape.names for shape in again.shapes] == [shape.names for shape in drawing.shapes]
    assert [shape.groups for shape in again.shapes] == [shape.groups for shape in drawing.shapes]


# -- what is refused -------------------------------------------------------------------------


def refused(data: bytes, *words: str, page: int | None = None) -> None:
    with pytest.raises(PanelshiftError) as caught:
        read_drawing(data, page=page, name="draft.pdf")
    assert caught.value.source == "draft.pdf"
    for word in words:
        assert word in str(caught.value)
    assert caught.value.remedy


def test_locked_files_are_refused() -> None:
    for user in ("", "secret"):
        lock = pikepdf.Encryption(owner="boss", user=user)
        refused(made([LINE], encryption=lock), "password", "copy without one")


@pytest.mark.parametrize("kept", [0.2, 0.6, 0.95])
def test_files_that_are_cut_off_are_refused(kept: float) -> None:
    data = made([LINE] * 20)
    refused(data[: int(kept * len(data))], "damaged", "print it to a new PDF")


def test_a_stream_that_is_cut_off_is_refused() -> None:
    pdf = pikepdf.open(io.BytesIO(made([LINE])))
    packed = zlib.compress(b" ".join([LINE.encode()] * 50))[:-20]
    pdf.pages[0].obj.Contents = pikepdf.Stream(
        pdf, packed, pikepdf.Dictionary(Filter=pikepdf.Name.FlateDecode)
    )
    stream = io.BytesIO()
    pdf.save(stream, compress_streams=False, stream_decode_level=pikepdf.StreamDecodeLevel.none)
    refused(stream.getvalue(), "page 1", "cut off")


@pytest.mark.slow
def test_what_unpacks_without_end_is_refused() -> None:
    packed = zlib.compress(bytes(40 * 1024 * 1024), 9)
    pdf = pikepdf.open(io.BytesIO(made([LINE])))
    pdf.pages[0].obj.Contents = pikepdf.Stream(
        pdf, packed, pikepdf.Dictionary(Filter=pikepdf.Name.FlateDecode)
    )
    stream = io.BytesIO()
    pdf.save(stream, compress_streams=False, stream_decode_level=pikepdf.StreamDecodeLevel.none)
    refused(stream.getvalue(), "unpacks to more than")


def test_forms_in_themselves_end() -> None:
    refused(made(["/A Do"], forms={"A": ("/A Do", {})}), "page 1: forms lie in forms")
    # What makes no sense in a form is told once, however deep the form lies.
    within = {"A": ("/B Do", {}), "B": ("1 2 m x y l S", {})}
    refused(made(["/A Do"], forms=within), "page 1: the operator y in its content makes no sense")


@pytest.mark.parametrize("content", ["1 2 m x y l S", "5 w 1 2 3 m", "1 0 0 1 cm", "(a) w"])
def test_operators_without_sense_are_refused(content: str) -> None:
    refused(made([content]), "page 1", "makes no sense")


def test_pages_that_are_pictures_or_bare_are_told() -> None:
    refused(made([""]), "no lines")
    refused(made(["BI /W 1 /H 1 /BPC 8 /CS /G ID x EI"]), "picture", "Trace")
    refused(made([LINE]), "no page 3", page=3)


def test_pictures_are_told_by_what_they_are() -> None:
    with pytest.raises(SvgError, match="a picture \\(JPEG\\)"):
        read_drawing(b"\xff\xd8\xff\xe0 and so on")
    with pytest.raises(SvgError, match="only a PDF has pages"):
        read_drawing(b"<svg/>", page=2)


def test_one_of_several_pages_is_named() -> None:
    data = made([LINE, f"{LINE} 0 0 m 50 50 l S"])
    assert len(read_pdf(data, page=2).shapes) == 2
    assert [len(page.drawing.shapes) for page in read_pages(data)] == [1, 2]
    with pytest.raises(PdfError, match="page 2: 2 lines") as caught:
        read_pdf(data)
    assert caught.value.key == "page"


def test_a_drawing_without_a_page_is_saved_on_one_that_holds_it() -> None:
    """With 10 mm all round, wherever its lines lie."""
    lines = [[(-40.0, 300.0), (10.0, 305.0)], [(20.0, 310.0), (55.0, 420.0)]]
    drawing = Drawing(tuple(Shape(Curve.polyline(line), "") for line in lines))
    again = read_svg(drawing_svg(drawing))
    assert again.page is not None
    low, high = again.page
    assert high - low == pytest.approx((115.0, 140.0))
    ends = np.array([(shape.curve.start, shape.curve.end) for shape in again.shapes])
    assert ends.reshape(-1, 2).min(axis=0) - low == pytest.approx((10.0, 10.0))
    assert high - ends.reshape(-1, 2).max(axis=0) == pytest.approx((10.0, 10.0))
