"""Printing a cutting file: its lines, their kinds and its texts come out as they are in it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

from panelshift.errors import PatternError
from panelshift.job import cut
from panelshift.printing.drawing_prints import print_file, sheet_of_drawing
from panelshift.sheets.lettering import width
from panelshift.sources.svg import read_svg
from tests.support.pixels import layer_titles
from tests.support.prints import options, sample_job


@cache
def files() -> dict[str, bytes]:
    """Of the sample, as cut."""
    return dict(cut(sample_job()).drawings)


def layer() -> bytes:
    """The cutting file of the outermost fabric."""
    return next(content for name, content in files().items() if "brocade" in name)


def reread(content: bytes):  # type: ignore[no-untyped-def]
    return sheet_of_drawing(read_svg(content, name="a.svg"), "t")


@pytest.mark.slow
def test_kinds_of_lines_are_kept() -> None:
    again = reread(layer())
    root = etree.fromstring(layer())
    kinds = [stroke.kind for stroke in again.strokes]
    for group in root.iterfind("{*}g"):
        if group.find("{*}path") is not None:
            assert kinds.count(group.get("id", "")) == len(group)


def test_texts_stand_where_the_file_has_them() -> None:
    """Each point and what of the text stands at it; their distances within 0.5 mm."""
    again = reread(layer())
    written = list(etree.fromstring(layer()).iter("{*}text"))
    assert len(again.labels) == len(written) > 20
    points = np.array([[float(e.get("x", "")), float(e.get("y", ""))] for e in written])
    shift = again.labels[0].at - points[0]
    for label, element, point in zip(again.labels, written, points, strict=True):
        assert label.text == element.text
        assert label.at - shift == pytest.approx(point, abs=0.5)
        assert label.align == (element.get("text-anchor") or "start")
        assert label.bold == (element.get("font-weight") == "bold")
        assert label.drafted == (element.getparent().get("id") == "draft-text")
    assert {label.align for label in again.labels} == {"start", "middle"}


def test_fabrics_of_an_overlay_are_kept_apart() -> None:
    again = reread(files()["overlay.svg"])
    names = [(layer.number, layer.name) for layer in again.layers]
    assert names == [(1, "lining"), (3, "coutille"), (5, "interlining"), (6, "brocade")]


SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="200mm" viewBox="0 0 300 200"'


def drawing(body: str, extra: str = "") -> bytes:
    return f'{SVG} {extra}><path d="M10,10L200,10L200,150"/>{body}</svg>'.encode()


@pytest.mark.parametrize(
    ("body", "align", "bold"),
    [
        ('<text x="90" y="50">ab</text>', "start", False),
        ('<g text-anchor="middle"><text x="90" y="50">ab</text></g>', "middle", False),
        (
            '<text x="90" y="50" style="text-anchor: middle; font-weight:700">ab</text>',
            "middle",
            True,
        ),
        (
            '<g text-anchor="middle"><text text-anchor="start" x="90" y="50">ab</text></g>',
            "start",
            False,
        ),
        (
            '<g font-weight="bold"><text x="90" y="50" text-anchor="inherit">ab</text></g>',
            "start",
            True,
        ),
        ('<text x="90" y="50" font-weight="500" text-anchor="odd">ab</text>', "start", False),
    ],
)
def test_anchor_and_weight_are_inherited(body: str, align: str, bold: bool) -> None:
    (label,) = reread(drawing(body)).labels
    assert (label.align, label.bold) == (align, bold)


@pytest.mark.parametrize("turn", [0.0, 90.0])
def test_text_that_ends_at_its_point_is_moved_by_its_width(turn: float) -> None:
    body = (
        f'<text x="90" y="50" font-size="10" text-anchor="end" transform="rotate({turn} 90 50)">'
        "Hamburg</text>"
    )
    again = reread(drawing(body))
    (label,) = again.labels
    origin = again.strokes[0].curve.start - np.array([10.0, 10.0])
    direction = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    end = label.at + width("Hamburg") * 10.0 * direction
    assert end - origin == pytest.approx([90.0, 50.0], abs=1e-6)


def test_texts_that_say_the_same_keep_their_own_settings() -> None:
    body = (
        '<text x="20" y="50">ab</text><text x="90" y="50" text-anchor="middle">ab</text>'
        '<text x="150" y="50" id="t">ab</text><use href="#t" y="40"/>'
    )
    assert [label.align for label in reread(drawing(body)).labels] == [
        "start", "middle", "start", "start",
    ]  # fmt: skip


def test_a_hidden_text_moves_no_other_that_says_the_same() -> None:
    hidden = '<text x="20" y="90" text-anchor="end" display="none">Hamburg</text>'
    shown = '<text x="90" y="50" font-size="10">Hamburg</text>'
    (alone,), (beside,) = (reread(drawing(body)).labels for body in (shown, hidden + shown))
    assert beside.at.tolist() == alone.at.tolist()


def test_style_sheets_say_how_texts_are_set() -> None:
    body = "<style>.m { text-anchor: middle; font: 700 5px serif }</style>"
    (label,) = reread(drawing(body + '<text class="m" x="90" y="50">ab</text>')).labels
    assert (label.align, label.bold, label.size) == ("middle", True, 5.0)


def test_no_text_is_cut_off_at_the_sheet_s_edge() -> None:
    again = reread(drawing('<text x="199" y="150" font-size="20">a long end</text>'))
    (label,) = again.labels
    assert again.width >= label.at[0] + width(label.text) * label.size


def test_the_title_comes_from_the_drawing() -> None:
    assert read_svg(drawing("<title> my   corset </title>")).title == "my corset"
    assert read_svg(drawing("")).title == ""


def test_a_drawing_without_lines_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "text.svg"
    file.write_text(f'{SVG}><text x="1" y="2">only text</text></svg>')
    with pytest.raises(PatternError, match="holds no lines"):
        print_file(file, options())


def test_lines_of_other_drawings_are_marks_and_what_is_not_read_is_told(tmp_path: Path) -> None:
    file = tmp_path / "Own drawing.svg"
    file.write_bytes(drawing('<image width="10" height="10"/>'))
    item = print_file(file, options("160x210"))
    assert item.name == "own-drawing-160x210.pdf"
    assert item.title == "Own drawing"
    assert {"other marks", "test squares", "page marks"} <= set(layer_titles(item.printed.data))
    assert any("a picture is not read" in words for words in item.warnings)


def test_a_drawing_that_fits_one_page_needs_no_map(tmp_path: Path) -> None:
    file = tmp_path / "small.svg"
    file.write_bytes(drawing(""))
    assert print_file(file, options("a3")).printed.pages == 1
    assert print_file(file, options("160x210")).printed.grid is not None
