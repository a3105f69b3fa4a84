"""The PDF itself: valid, fonts embedded, native curves, stated sizes, the same every time."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from io import BytesIO
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest
from fontTools.ttLib import TTFont
from scipy.ndimage import maximum_filter

from panelshift.errors import PrintError
from panelshift.job.result import print_job
from panelshift.outline.bezier import LINE
from panelshift.printing.drawing_prints import print_sheet
from panelshift.printing.sheet_prints import (
    Printed,
    print_roll,
    print_tiles,
    print_warnings,
    print_whole,
)
from panelshift.sheets.lettering import face_font, subset
from panelshift.sheets.sheet import Label, Sheet
from tests.support.pixels import only, pdfium
from tests.support.prints import GREETING, options, sample_job, sheet, squares_sheet


def greeted() -> Sheet:
    whole = sheet()
    words = Label(GREETING, np.array([30.0, 330.0]), 7.0)
    return replace(whole, labels=(*whole.labels, words))


MADE: dict[str, Callable[[], Printed]] = {
    "tiles": lambda: print_tiles(greeted(), options(), [GREETING]),
    "small paper": lambda: print_tiles(greeted(), options("105x148"), [GREETING]),
    "one page": lambda: print_whole(greeted(), options("a2"), turned=False),
    "roll": lambda: print_roll(greeted(), options("roll:914")),
    "long roll": lambda: print_roll(replace(sheet(), height=6000.0), options("roll:914")),
    "nested": lambda: print_job(sample_job(), options(), nested=True)[0].printed,
}
KINDS = pytest.mark.parametrize("name", list(MADE))


@cache
def printed_as(name: str) -> Printed:
    """Made when first asked for, and once."""
    return MADE[name]()


@KINDS
@pytest.mark.slow
def test_qpdf_finds_no_fault(name: str, tmp_path: Path) -> None:
    data = printed_as(name).data
    with pikepdf.open(BytesIO(data)) as pdf:
        # Its name before pikepdf 10 was check.
        check = getattr(pdf, "check_pdf_syntax", None) or pdf.check
        assert check() == []
        assert len(pdf.pages) == printed_as(name).pages
    if shutil.which("qpdf") is None:
        pytest.skip("the qpdf program is not installed; pikepdf's own check has passed")
    file = tmp_path / "a.pdf"
    file.write_bytes(data)
    done = subprocess.run(["qpdf", "--check", str(file)], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "No syntax or stream encoding errors found" in done.stdout


def objects(pdf: pikepdf.Pdf) -> Iterator[pikepdf.Object]:
    for item in pdf.objects:
        if isinstance(item, (pikepdf.Dictionary, pikepdf.Stream)):
            yield item


@pytest.mark.slow
@KINDS
def test_every_font_is_embedded_as_a_subset(name: str) -> None:
    with pikepdf.open(BytesIO(printed_as(name).data)) as pdf:
        fonts = [item for item in objects(pdf) if item.get("/Type") == "/Font"]
        composite = [font for font in fonts if font.Subtype == "/Type0"]
        assert composite
        for font in composite:
            assert "/ToUnicode" in font
            (descendant,) = font.DescendantFonts
            file = descendant.FontDescriptor.get("/FontFile2") or descendant.FontDescriptor.get(
                "/FontFile3"
            )
            assert len(file.read_bytes()) > 500
            assert re.fullmatch(r"/[A-Z]{6}\+.+", str(descendant.FontDescriptor.FontName))
        # No font but the composite ones and what they consist of.
        assert len(fonts) == 2 * len(composite)


@pytest.mark.slow
@KINDS
def test_nothing_is_rasterised_and_curves_are_native(name: str) -> None:
    with pikepdf.open(BytesIO(printed_as(name).data)) as pdf:
        forms = [item for item in objects(pdf) if item.get("/Subtype") == "/Form"]
        assert not [item for item in objects(pdf) if item.get("/Subtype") == "/Image"]
        streams = [*forms, *(page.obj for page in pdf.pages)]
        operators = [str(op) for item in streams for _, op in pikepdf.parse_content_stream(item)]
        assert not {"BI", "ID", "EI", "sh"} & set(operators)
        assert operators.count("c") > 0
        # The drawing is stored once, however many pages show it.
        assert len(forms) == 1


def test_each_cubic_is_one_curve_operator() -> None:
    whole = sheet()
    with pikepdf.open(BytesIO(print_tiles(whole, options(), []).data)) as pdf:
        form = next(item for item in objects(pdf) if item.get("/Subtype") == "/Form")
        drawn = [str(op) for _, op in pikepdf.parse_content_stream(form)]
    cubics = sum(int((stroke.curve.degree != LINE).sum()) for stroke in whole.strokes)
    assert drawn.count("c") == cubics > 0


@pytest.mark.parametrize(
    ("paper", "points"),
    [
        # ISO 32000-1, 8.3.2.3: a unit is 1/72 in; checks.md, case 18.
        ("a4", (595.2756, 841.8898)),
        ("letter", (612.0, 792.0)),
        ("legal", (612.0, 1008.0)),
        ("tabloid", (792.0, 1224.0)),
    ],
)
def test_pages_have_the_paper_s_size_in_points(paper: str, points: tuple[float, float]) -> None:
    printed = print_tiles(sheet(1000.0, 900.0), options(paper), [], turned=False)
    with pikepdf.open(BytesIO(printed.data)) as pdf:
        for page in pdf.pages:
            assert [float(v) for v in page.MediaBox] == pytest.approx([0.0, 0.0, *points], abs=1e-3)
            assert "/UserUnit" not in page


@pytest.mark.parametrize(("height", "unit"), [(5000.0, None), (5200.0, 2), (11000.0, 3)])
def test_user_unit_makes_long_pages_of_at_most_14400_units(height: float, unit: int | None) -> None:
    whole = replace(squares_sheet(), height=height)
    printed = print_roll(whole, options("roll:914"))
    with pikepdf.open(BytesIO(printed.data)) as pdf:
        page = pdf.pages[0]
        box = [float(v) for v in page.MediaBox]
        assert max(box) <= 14400.0
        assert page.obj.get("/UserUnit") == unit
        size = np.array(box[2:]) * (unit or 1) * 25.4 / 72.0
    assert size == pytest.approx(printed.size, abs=0.001)
    assert printed.size[1] > height


@pytest.mark.slow
def test_viewers_are_told_not_to_scale_and_which_version_it_is() -> None:
    data = printed_as("tiles").data
    assert data.startswith(b"%PDF-1.6")
    with pikepdf.open(BytesIO(data)) as pdf:
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"


@pytest.mark.slow
def test_the_same_print_has_the_same_bytes_and_no_date() -> None:
    once, twice = (print_tiles(greeted(), options(), [GREETING]).data for _ in range(2))
    assert once == twice
    with pikepdf.open(BytesIO(once)) as pdf:
        keys = {str(key) for item in [pdf.docinfo, pdf.Root] for key in item}
    assert not keys & {"/CreationDate", "/ModDate", "/Metadata"}
    assert b"D:20" not in once


@pytest.mark.slow
def test_objects_are_packed_together() -> None:
    """Files are small: small objects lie in packed streams of them (ISO 32000-1, 7.5.7)."""
    data = printed_as("one page").data
    assert b"/Type /ObjStm" in data
    assert b"/FlateDecode" in data
    assert b"trailer" not in data


def test_embedded_fonts_keep_their_own_date() -> None:
    """A font stamped with the time of writing once made every print differ from the last."""
    font = TTFont(BytesIO(subset("latin", "abc").data))
    assert font["head"].modified == face_font("latin")["head"].modified
    font.close()


SCRIPT = """
import hashlib
from tests.support.prints import options, sample_job
from panelshift.errors import PrintError
from panelshift.job.result import print_job
job = sample_job()
found = print_job(job, options("letter"), nested=True, keep_together=True)
print(hashlib.sha256(b"".join(item.printed.data for item in found)).hexdigest())
"""


@pytest.mark.slow
def test_bytes_do_not_hang_on_the_hash_seed() -> None:
    root = Path(__file__).parents[2]
    found = {
        subprocess.run(
            [sys.executable, "-c", SCRIPT],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(root)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("0", "4711")
    }
    assert len(found) == 1
    assert len(found.pop().strip()) == len(hashlib.sha256(b"").hexdigest())


@pytest.mark.slow
def test_each_edge_of_a_page_names_the_page_that_lies_there() -> None:
    printed = printed_as("tiles")
    grid = printed.grid
    assert grid is not None
    wide, high = grid.paper.width, grid.paper.height
    for place, (row, column) in enumerate(grid.printed()):
        found = words_at(printed.data, printed.pages - grid.pages + place)
        assert grid.name(row, column) in found
        sides = {
            (row, column + 1): lambda x, y: x > wide - 34.0,
            (row, column - 1): lambda x, y: x < 34.0,
            (row - 1, column): lambda x, y: y < 34.0,
            (row + 1, column): lambda x, y: y > high - 34.0,
        }
        for (r, c), on_side in sides.items():
            if 0 <= r < grid.rows and 0 <= c < grid.columns:
                assert on_side(*found[grid.name(r, c)]), (row, column, r, c)


def words_at(data: bytes, index: int) -> dict[str, tuple[float, float]]:
    """Middle in mm from the top left of each word of a page; of the last one if it recurs."""
    document = pypdfium2.PdfDocument(data)
    page = document[index]
    text, high = page.get_textpage(), page.get_height()
    words = text.get_text_bounded()
    found = {}
    for match in re.finditer(r"\w+", words):
        boxes = np.array([text.get_charbox(k) for k in range(*match.span())])
        x = 0.5 * (boxes[:, 0].min() + boxes[:, 2].max())
        y = high - 0.5 * (boxes[:, 1].min() + boxes[:, 3].max())
        found[match.group()] = (x * 25.4 / 72.0, y * 25.4 / 72.0)
    document.close()
    return found


def test_the_map_shows_every_page_where_it_lies() -> None:
    """Names lie on one lattice, and below them is what the pages hold, taped together."""
    whole = sheet(430.0, 560.0)
    printed = print_tiles(whole, options(), [])
    grid = printed.grid
    assert grid is not None
    assert min(grid.columns, grid.rows) >= 2
    cover = printed.pages - grid.pages - 1
    found = words_at(printed.data, cover)
    names = [(grid.name(r, c), r, c) for r in range(grid.rows) for c in range(grid.columns)]
    at = np.array([found[name] for name, _, _ in names])
    middles = np.array([grid.corner(r, c) + 0.5 * np.array(grid.tile) for _, r, c in names])
    scale = np.polyfit(np.ravel(middles - middles.mean(axis=0)), np.ravel(at - at.mean(axis=0)), 1)[
        0
    ]
    start = at.mean(axis=0) - scale * middles.mean(axis=0)
    assert np.abs(start + scale * middles - at).max() < 0.5
    assert scale > 0.1
    per_mm = 8.0
    data = only(printed.data, "cut line")
    shown = pdfium(data, per_mm, cover + 1, cover + 1)[0] > 0.3
    pages = pdfium(data, per_mm * scale, cover + 2)
    near = maximum_filter(shown, size=9)
    m = grid.margin * scale * per_mm
    for (row, column), ink in zip(grid.printed(), pages, strict=True):
        # Every line of the page is on the map where the page lies, within half a millimetre of it.
        y, x = np.nonzero(ink > 0.3)
        corner = per_mm * (start + scale * grid.corner(row, column)) - m
        rows = np.clip(np.rint(y + corner[1]).astype(int), 0, shown.shape[0] - 1)
        columns = np.clip(np.rint(x + corner[0]).astype(int), 0, shown.shape[1] - 1)
        assert len(x) > 20
        assert near[rows, columns].mean() > 0.99, grid.name(row, column)


@pytest.mark.slow
def test_everything_drawn_has_a_place_in_the_document_s_structure() -> None:
    for name in MADE:
        with pikepdf.open(BytesIO(printed_as(name).data)) as pdf:
            root = pdf.Root.StructTreeRoot
            assert bool(pdf.Root.MarkInfo.Marked)
            assert str(pdf.Root.Lang) == "en"
            parents = list(root.ParentTree.Nums)
            found = []
            for place, page in enumerate(pdf.pages):
                drawn = [
                    int(operands[1].MCID)
                    for operands, operator in pikepdf.parse_content_stream(page)
                    if str(operator) == "BDC" and str(operands[0]) != "/OC"
                ]
                assert drawn == list(range(len(drawn)))
                assert drawn
                own = parents[parents.index(place) + 1] if place else parents[1]
                assert len(own) == len(drawn)
                found += [item.objgen for item in own]
                for item in own:
                    assert item.Pg.objgen == page.objgen
                    assert str(item.S) in ("/H1", "/P", "/Figure")
                    assert (str(item.S) == "/Figure") == ("/Alt" in item)
            assert [item.objgen for item in root.K.K] == found


@pytest.mark.slow
@pytest.mark.parametrize(
    "paper",
    ["a4", "105x148", *(pytest.param(more, marks=pytest.mark.slow) for more in ("a3", "letter"))],
)
def test_the_first_page_says_what_a_maker_must_know(paper: str) -> None:
    item = print_job(sample_job(), options(paper), layers=["brocade"])[0]
    grid = item.printed.grid
    assert grid is not None
    document = pypdfium2.PdfDocument(item.printed.data)
    covers = item.printed.pages - grid.pages
    pages = [document[place].get_textpage().get_text_bounded() for place in range(covers)]
    words = " ".join(" ".join(pages).split())
    document.close()
    for part in (
        "hourglass: brocade",
        "Print at 100 %",
        "no fit to page",
        "50 mm",
        "2 in",
        "fabric: brocade, 0.65 mm thick",
        "6 centre back",
        "Sharp tools",
        "licensed health professional",
        f"{grid.pages} pages of {paper}",
        f"{grid.taped[0]:.0f} x {grid.taped[1]:.0f} mm",
        "cut line",
        "waistline",
    ):
        assert part in words
    # The map names every page, also those left out.
    map_words = set(words.split())
    names = {grid.name(r, c) for r in range(grid.rows) for c in range(grid.columns)}
    assert names <= map_words


def test_a_single_page_states_its_size() -> None:
    printed = printed_as("roll")
    document = pypdfium2.PdfDocument(printed.data)
    words = " ".join(document[0].get_textpage().get_text_bounded().split())
    document.close()
    wide, high = printed.size
    assert f"This page is {wide:.5g} x {high:.5g} mm. Print at 100 %" in words
    assert "50 mm" in words, "a drawing without test squares gets them"


def test_a_sheet_without_lines_is_refused() -> None:
    empty = replace(sheet(), strokes=())
    for work in (
        lambda: print_tiles(empty, options(), []),
        lambda: print_roll(empty, options("roll:914")),
        lambda: print_whole(empty, options("a2"), turned=False),
    ):
        with pytest.raises(PrintError, match="no panel to print"):
            work()


def test_a_roll_of_more_than_50_m_is_refused() -> None:
    long = replace(sheet(), height=50_000.0)
    with pytest.raises(PrintError, match=r"the page would be 50\.\d m long"):
        print_roll(long, options("roll:914"))


def test_pages_longer_than_14400_units_come_with_a_warning() -> None:
    """Two common renderers pass over UserUnit and would print such a page at half its size."""
    (words,) = print_sheet(replace(sheet(), height=6000.0), options("roll:914"), "long").warnings
    assert "longer than 5.08 m" in words
    short = print_sheet(sheet(), options("roll:914"), "short")
    assert short.warnings == ()
    # 14400 units of 1/72 in themselves are still read by all.
    most = replace(short.printed, size=(100.0, 14400.0 / (72.0 / 25.4)))
    assert print_warnings(most, sheet()) == ()
    assert print_warnings(replace(most, size=(100.0, 5080.1)), sheet())
