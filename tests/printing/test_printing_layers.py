"""Optional content: each kind of line a layer that viewers switch."""

from __future__ import annotations

import itertools
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest

from panelshift.cutting.extras import Extras
from panelshift.cutting.parts import Part, upright
from panelshift.cutting.plan import cut_layers
from panelshift.cutting.verdict import verdict
from panelshift.fit.layer_change import spread_parts
from panelshift.job import read_job, resolve
from panelshift.job.resolved import Job
from panelshift.job.result import print_job, shift_job
from panelshift.outline import Curve
from panelshift.pattern.panel import EDGE_NAMES
from panelshift.printing.layer_prints import _breaks, _whole, print_spread
from panelshift.printing.sheet_prints import print_roll, print_tiles
from panelshift.printing.tiling import lay_grid
from panelshift.sheets.palette import STYLES
from panelshift.sheets.sheet import Sheet, Stroke, numbered_layers
from panelshift.stack import Stack
from tests.support.drawings import STACK, half, panels, write_job
from tests.support.pixels import RENDERERS, Render, layer_titles, only, without
from tests.support.prints import options, sample_job, sample_prints, sheet, squares_sheet

ROLL = options("roll:420")
KINDS = sorted({stroke.kind for stroke in squares_sheet().strokes} - {"test-squares"})
PER_MM = 3.0


def test_every_kind_of_line_has_a_layer_named_in_words() -> None:
    whole = squares_sheet()
    kinds = {stroke.kind for stroke in whole.strokes}
    found = layer_titles(print_tiles(whole, options(), []).data)
    assert len(found) == len(set(found))
    assert set(found) == {STYLES[kind].label for kind in kinds} | {"labels", "page marks"}


def test_layers_are_listed_and_switched_on_for_viewers() -> None:
    with pikepdf.open(BytesIO(print_tiles(squares_sheet(), options(), []).data)) as pdf:
        default = pdf.Root.OCProperties.D
        names = [str(group.Name) for group in pdf.Root.OCProperties.OCGs]
        assert [str(group.Name) for group in default.Order] == names
        assert [str(group.Name) for group in default.ON] == names
        assert pdf.Root.PageMode == "/UseOC"


@pytest.mark.parametrize("render", RENDERERS)
@pytest.mark.parametrize("kind", KINDS)
def test_switching_a_layer_off_leaves_the_sheet_without_its_lines(
    render: Render, kind: str
) -> None:
    whole = squares_sheet()
    others = tuple(stroke for stroke in whole.strokes if stroke.kind != kind)
    title = STYLES[kind].label  # type: ignore[index]
    off = render(without(print_roll(whole, ROLL).data, title), PER_MM)[0]
    on = render(print_roll(whole, ROLL).data, PER_MM)[0]
    bare = render(print_roll(replace(whole, strokes=others), ROLL).data, PER_MM)[0]
    assert np.abs(off - bare).max() < 0.02
    assert np.abs(on - bare).max() > 0.3


@pytest.mark.parametrize("render", RENDERERS)
def test_labels_and_page_marks_can_be_switched_off(render: Render) -> None:
    printed = print_tiles(squares_sheet(), options(), [])
    grid = printed.grid
    assert grid is not None
    first = printed.pages - grid.pages + 1

    def tile(data: bytes) -> np.ndarray:
        return render(data, PER_MM, first, first)[0]

    everything = tile(printed.data)
    m = round(grid.margin * PER_MM)
    assert everything[m - 1 : m + 1].sum(axis=0).mean() > 0.15, "the page frame is there"
    plain = tile(without(printed.data, "page marks"))
    assert plain[m - 1 : m + 1].max() == 0.0
    labels = tile(only(printed.data, "labels"))
    assert 0.0 < labels.mean() < everything.mean()
    words = pypdfium2.PdfDocument(printed.data)[first - 1].get_textpage().get_text_bounded()
    assert all(part in "".join(words.split()) for part in ("A1", "B1", "A2", "twopanels"))
    assert tile(only(printed.data)).max() == 0.0


def test_nothing_on_a_tile_lies_outside_all_layers() -> None:
    """Nor on the map: only the first page's text is always there."""
    printed = print_tiles(squares_sheet(), options(), [])
    grid = printed.grid
    assert grid is not None
    for render in (RENDERERS[0].values[0],):
        pages = render(only(printed.data), 1.0, printed.pages - grid.pages + 1)
        assert max(float(page.max()) for page in pages) == 0.0
        # A page that gets its test squares from the print has them in a layer as well.
        roll = print_roll(sheet(), options("roll:450")).data
        assert "test squares" in " ".join(layer_titles(roll))
        off = render(without(roll, STYLES["test-squares"].label), PER_MM)[0]
        assert np.abs(render(roll, PER_MM)[0] - off).max() > 0.3


def test_lines_of_a_fabric_are_its_own_and_the_cut_line_is_bolder() -> None:
    whole = sheet()
    layers = numbered_layers([("lining", 1), ("brocade", 4)])
    strokes = tuple(
        replace(stroke, layer="lining" if stroke.panel == "1" else "brocade")
        if stroke.kind in ("cut-line", "stitch-line")
        else stroke
        for stroke in whole.strokes
    )
    drawn = print_roll(replace(whole, strokes=strokes, layers=layers), options("roll:450")).data
    assert layer_titles(drawn)[:2] == ["lining", "brocade"]
    assert len(set(fabric_dashes(drawn, 2))) == 2
    for place, layer in enumerate(layers, start=1):
        widths = fabric_set(drawn, "w")[f"/fabric{place}"]
        # The second panel has no stitch line.
        bolder = [1.5, 0.9][: 3 - place]
        assert np.ravel(widths) == pytest.approx(layer.style.width * np.array(bolder))


@pytest.mark.slow
def test_of_shared_papers_those_of_the_verdict_are_printed(tmp_path: Path) -> None:
    file = write_job(
        tmp_path, panels(half(2)), stack=STACK.replace("0.5", "0.02").replace("0.8", "2.4")
    )
    job = resolve(read_job(file))
    found = verdict(shift_job(job), job.plan)
    names = [layer.fabric.name for layer in found.shared]
    assert 0 < len(names) < 3
    prints = print_job(job, options("roll:914"), share=True)
    assert [item.title for item in prints] == [f"draft: {name}" for name in names]


def thick_job() -> Job:
    """The sample in cloth so thick that its layers lie further apart than a line is wide."""
    job = sample_job()
    cloths = tuple(
        replace(fabric, thickness=4.0 * fabric.thickness) for fabric in job.stack.fabrics
    )
    return replace(job, stack=Stack(cloths, job.stack.drafted))


@pytest.mark.slow
def test_nested_layers_that_would_run_together_are_the_innermost_and_the_outermost() -> None:
    item = print_job(sample_job(), options("a3"), nested=True)[0]
    titles = layer_titles(item.printed.data)
    assert titles[:2] == ["lining", "brocade"]
    assert not {"coutille", "interlining"} & set(titles)
    first = pypdfium2.PdfDocument(item.printed.data)[0].get_textpage().get_text_bounded()
    assert "coutille: not drawn, its lines lie" in " ".join(first.split())


@pytest.mark.slow
def test_layers_spread_lie_so_many_times_as_far_from_the_draft_and_say_it() -> None:
    """Corners of the drawn lines, against the corners of the layers' own edges."""
    job, by = sample_job(), 7.0
    shifted = shift_job(job)
    drafted = shifted.turn.pattern.panels
    brocade = shifted.layer("brocade")
    parts = spread_parts(shifted, cut_layers(shifted), by)
    for part in parts:
        index = next(k for k, p in enumerate(drafted) if p.name == part.strokes[0].panel)
        (line,) = (s.curve for s in part.strokes if s.layer == "brocade")
        turn = upright(drafted[index])
        for edge in EDGE_NAMES:
            here = drafted[index].edge(edge).start
            far = here + by * (brocade.whole.panels[index].edge(edge).start - here)
            far = turn[:, :2] @ far + turn[:, 2]
            assert np.hypot(*(line.vertices - far).T).min() < 1e-6
        assert "NOT TO CUT FROM" in " ".join(label.text for label in part.labels)
    last = print_job(job, options("a3"), layers=["lining"], spread=by)[-1]
    assert last.name == "layers-spread-a3.pdf"
    words = text_of(last.printed.data)
    assert "7 times as far from the draft's" in words
    assert "to cut, the finer" not in words


def test_layers_spread_are_told_in_the_makers_unit(tmp_path: Path) -> None:
    file = write_job(tmp_path, panels(half(1)), rest='[body]\nmodel = "classes"\n')
    job = resolve(read_job(file))
    shifted, plan = shift_job(job), replace(job.plan, unit="in")
    parts = spread_parts(shifted, cut_layers(shifted)[:1], 3.0)
    assert [part.labels[0].text for part in parts] == ["panel 1"]
    item = print_spread(shifted, plan, options("105x148"), parts, 3.0)
    assert item.printed.grid is not None
    wide, high = np.array(item.printed.grid.taped) / 25.4
    assert f"taped together {wide:.1f} x {high:.1f} in." in text_of(item.printed.data)


@pytest.mark.parametrize("overlap", [0.0, 12.0])
@pytest.mark.parametrize("turned", [False, True])
def test_pages_end_on_a_panel_in_the_middle_of_what_two_of_them_show(
    overlap: float, turned: bool
) -> None:
    """The lines that words keep clear of, against the windows of the pages themselves."""
    chosen = options(overlap=overlap)
    box, place = np.array([(-70.0, -210.0), (95.0, 190.0)]), np.array([431.0, 333.0])
    far = np.array([(0.0, 0.0), (900.0, 900.0)])
    grid = lay_grid([far], (900.0, 900.0), chosen, turned=turned)
    wanted = []
    for axis, count in ((0, grid.columns), (1, grid.rows)):
        corners = [grid.corner(*((0, k) if axis == 0 else (k, 0)))[axis] for k in range(count)]
        for before, after in itertools.pairwise(corners):
            at = 0.5 * (before + grid.tile[axis] + after)
            low, high = box[:, axis] + place[axis]
            if low <= at <= high:
                line = box + place
                line[:, axis] = at
                wanted.append(line)
    found = _breaks(["one"], [box], [place], chosen, turned=turned)["one"]
    assert len(found) == len(wanted) > 1
    assert np.array(found) + place == pytest.approx(np.array(wanted))


def test_what_is_larger_than_a_page_is_not_drawn_to_see_whether_it_fits() -> None:
    """It is 220 by 270 mm with what is left round it; A4 has 190 by 277, or 277 by 190."""
    box = Curve.polyline([(0, 0), (190, 0), (190, 240), (0, 240)], closed=True)

    def build(*_: object) -> Sheet:
        raise AssertionError("drawn")

    assert _whole([Part([Stroke("cut-line", box, "1")], [])], build, options()) is None


@pytest.mark.slow
def test_nested_layers_have_a_layer_and_a_style_each() -> None:
    job = thick_job()
    item = print_job(job, options("a3"), nested=True)[0]
    titles = layer_titles(item.printed.data)
    fabrics = ["lining", "coutille", "interlining", "brocade"]
    assert titles[: len(fabrics)] == fabrics
    assert {"grainline", "bone channels", "labels", "page marks"} <= set(titles)
    assert "cut line" not in titles, "lines of a fabric go with the fabric"


@pytest.mark.slow
def test_nested_fabrics_differ_in_dash_not_only_in_colour() -> None:
    item = print_job(thick_job(), options("a3"), nested=True)[0]
    dashes = fabric_dashes(item.printed.data, 4)
    assert len(set(dashes)) == 4


def fabric_dashes(data: bytes, count: int) -> list[tuple[float, ...]]:
    """Dash pattern set first inside each fabric's optional content."""
    found = fabric_set(data, "d")
    return [found[f"/fabric{place}"][0] for place in range(1, count + 1)]


def fabric_set(data: bytes, name: str) -> dict[str, list[tuple[float, ...]]]:
    """What an operator sets inside each optional content of the sheet, one after the other."""
    with pikepdf.open(BytesIO(data)) as pdf:
        form = next(
            item
            for item in pdf.objects
            if isinstance(item, pikepdf.Stream) and item.get("/Subtype") == "/Form"
        )
        found: dict[str, list[tuple[float, ...]]] = {}
        inside = ""
        for operands, operator in pikepdf.parse_content_stream(form):
            if str(operator) == "BDC":
                inside = str(operands[1])
            elif str(operator) == name:
                # A dash is a list, and where in it to begin.
                given = operands[0] if name == "d" else operands
                found.setdefault(inside, []).append(tuple(map(float, given)))
    return found


@pytest.mark.parametrize("render", RENDERERS[:1])
@pytest.mark.slow
def test_a_fabric_switched_off_leaves_the_other_fabrics(render: Render) -> None:
    data = print_job(sample_job(), options("roll:914"), nested=True)[0].printed.data
    alone = render(only(data, "brocade"), PER_MM)[0]
    others = render(without(data, "brocade", "labels"), PER_MM)[0]
    both = render(without(data, "labels"), PER_MM)[0]
    assert 0.0 < alone.mean() < both.mean()
    # What is drawn when both are on is what either shows.
    assert np.abs(both - np.maximum(alone, others)).mean() < 0.002
    assert np.abs(both - others).max() > 0.5


def test_no_sheet_of_one_layer_has_fabrics() -> None:
    whole: Sheet = squares_sheet()
    assert not any(t in ("lining", "brocade") for t in layer_titles(print_roll(whole, ROLL).data))


@pytest.mark.slow
def test_a_whole_job_in_one_file_has_one_grid_one_cover_and_a_name_for_each_page() -> None:
    job = sample_job()
    (item,) = print_job(job, options(), one_file=True)
    separate = sample_prints()
    grid = item.printed.grid
    assert grid is not None
    with pikepdf.open(BytesIO(item.printed.data)) as pdf:
        names = [page.label for page in pdf.pages]
        with pdf.open_outline() as outline:
            marks = [entry.title for entry in outline.root]
        assert pdf.Root.Lang == "en"
    covers = names.count("cover")
    assert covers in (1, 2)
    fabrics = ["lining", "coutille", "interlining", "brocade"]
    assert marks == ["cover", *(f"hourglass: {fabric}" for fabric in fabrics)]
    assert len(names) == item.printed.pages < sum(one.printed.pages for one in separate)
    for fabric in fabrics:
        own = [name for name in names if name.startswith(f"hourglass: {fabric} ")]
        # Each page of the grid that is printed has the same name for every layer.
        assert {name.rpartition(" ")[2] for name in own} <= {
            grid.name(row, column) for row, column in grid.printed()
        }
        assert len(set(own)) == len(own) >= 4


@pytest.mark.slow
def test_a_panel_lies_at_one_place_of_the_grid_in_all_layers() -> None:
    """The outlines of the first page of two layers, from pixels, nearly cover each other."""
    (item,) = print_job(sample_job(), options("a3"), one_file=True)
    data = only(item.printed.data, "cut line")
    with pikepdf.open(BytesIO(data)) as pdf:
        names = [page.label for page in pdf.pages]
    pages = [names.index(f"hourglass: {fabric} A1") + 1 for fabric in ("lining", "brocade")]
    one, two = (RENDERERS[0].values[0](data, 1.0, page, page)[0] > 0.2 for page in pages)
    shifts = [np.roll(two, (a, b), (0, 1)) for a in range(-2, 3) for b in range(-2, 3)]
    near = np.any(shifts, axis=0)
    assert one.sum() > 500
    assert (one & near).sum() > 0.97 * one.sum()


@pytest.mark.slow
def test_shared_papers_are_fewer_and_those_of_the_verdict() -> None:
    job = sample_job()
    titles = [item.title for item in print_job(job, options("a3"), share=True)]
    assert titles == ["hourglass: coutille", "hourglass: brocade"]
    # The lining is cut from the coutille's paper: that is what is needed of it.
    (of_lining,) = print_job(job, options("roll:914"), layers=["lining"], share=True)
    assert of_lining.title == "hourglass: coutille"
    roll = print_job(job, options("roll:914"), one_file=True)
    assert [item.printed.pages for item in roll] == [1]


@pytest.mark.slow
@pytest.mark.parametrize(("projector", "ground"), [("light", 0.0), ("dark", 1.0)])
def test_a_projected_page_is_the_sheet_alone_in_thick_lines_on_its_background(
    projector: str, ground: float
) -> None:
    chosen = replace(options(), projector=projector)
    (item,) = print_job(sample_job(), chosen, layers=["coutille"])
    assert item.name == "layer-3-coutille-projector.pdf"
    with pikepdf.open(BytesIO(item.printed.data)) as pdf:
        (page,) = pdf.pages
        box = [float(value) for value in page.MediaBox]
    # No head and no margins: as large as the panels in rows.
    assert np.array(box[2:]) * 25.4 / 72.0 == pytest.approx(item.printed.size, abs=0.01)
    assert item.printed.size[1] < 450.0
    shown = RENDERERS[0].values[0](only(item.printed.data, "cut line"), 4.0)[0]
    # How dark: lines are of the other colour than the ground.
    assert np.median(shown) == pytest.approx(ground, abs=0.02)
    inked = np.abs(shown - ground) > 0.5
    runs = [len(run) for run in "".join("x" if v else " " for v in inked[800]).split()]
    # 0.6 mm thrice, across a line that is nearly upright.
    assert np.median(runs) / 4.0 == pytest.approx(1.8, abs=0.3)


@pytest.mark.slow
def test_facings_and_strips_are_printed_after_the_layers_on_their_grid() -> None:
    extras = Extras(binding=6.0, back_facing=40.0, casing=16.0)
    job = replace(sample_job(), plan=replace(sample_job().plan, extras=extras))
    (item,) = print_job(job, options(), one_file=True)
    with pikepdf.open(BytesIO(item.printed.data)) as pdf:
        names = [page.label for page in pdf.pages]
        with pdf.open_outline() as outline:
            assert outline.root[-1].title == "hourglass: facings and strips"
    assert names[-1].startswith("hourglass: facings and strips ")
    # All of it in one column of pages, if the job asks for that.
    file = job.file.model_copy(update={"sheet": job.file.sheet.model_copy(update={"strip": True})})
    (strip,) = print_job(replace(job, file=file), options("a3"), one_file=True)
    assert strip.printed.grid is not None
    assert 1 in (strip.printed.grid.columns, strip.printed.grid.rows)
    separate = print_job(job, options("a3"), share=True)
    assert [one.name for one in separate][-1] == "facings-and-strips-a3.pdf"
    words = text_of(separate[-1].printed.data)
    for name in ("binding of the top edge", "facing of the centre back", "casing of b12"):
        assert name in words
    # Asked for some layers by name, a maker wants those.
    assert len(print_job(job, options("a3"), layers=["coutille"])) == 1


def text_of(data: bytes) -> str:
    document = pypdfium2.PdfDocument(data)
    words = " ".join(page.get_textpage().get_text_bounded() for page in document)
    document.close()
    return " ".join(words.split())


@pytest.mark.slow
def test_half_a_piece_is_never_nameless() -> None:
    """Each page of a layer names the panels whose lines it shows, and no others."""
    item = sample_prints()[-1]
    grid = item.printed.grid
    assert grid is not None
    job, shown = sample_job(), []
    first = item.printed.pages - grid.pages
    cut_lines = RENDERERS[0].values[0](only(item.printed.data, "cut line"), 1.0, first + 1)
    for place, ink in enumerate(cut_lines):
        own = pages_words(item.printed.data, first + place)
        named = {panel.name for panel in job.pattern.panels if panel.name in own}
        assert named or ink.mean() < 0.002
        shown.append(named)
    assert set().union(*shown) == {panel.name for panel in job.pattern.panels}
    # Some panel lies on several pages, and is named on each.
    assert sum(map(len, shown)) > len(job.pattern.panels)


def pages_words(data: bytes, index: int) -> str:
    document = pypdfium2.PdfDocument(data)
    words = document[index].get_textpage().get_text_bounded()
    document.close()
    return " ".join(words.split())


@pytest.mark.slow
def test_pages_that_lie_edge_to_edge_are_not_trimmed() -> None:
    edge_to_edge = options(margin=0.0, overlap=0.0)
    item = print_job(sample_job(), edge_to_edge, layers=["coutille"])[0]
    words = text_of(item.printed.data)
    assert "Nothing is to be trimmed" in words
    assert "bold dashed edge" not in words
    dashes = []
    for data in (item.printed.data, sample_prints()[1].printed.data):
        with pikepdf.open(BytesIO(data)) as pdf:
            dashes.append(any(b"[14 3] 0 d" in p.Contents.read_bytes() for p in pdf.pages))
    # The bold dashes of the edge to trim: where there is none, and where there is one.
    assert dashes == [False, True]


@pytest.mark.slow
def test_every_cover_says_which_papers_are_needed() -> None:
    for item in sample_prints():
        words = text_of(item.printed.data)
        own = "brocade: a paper of its own" if "brocade" in item.title else "serves lining, inter"
        assert own in words
        # And the cover is one page all the same.
        assert item.printed.grid is not None
        assert item.printed.pages == item.printed.grid.pages + 1
