"""The text of a sheet is what an XML library would write of it."""

from __future__ import annotations

import numpy as np
import pytest
from lxml import etree

from panelshift.outline import Curve
from panelshift.sheets.sheet import Label, Sheet, Stroke, numbered_layers
from panelshift.sheets.svg_writer import sheet_svg

LINE = Curve.polyline([(0.0, 0.0), (10.5, 0.0)])
WORDS = ["plain", "R&D <b>", 'say "ah"', "a\x00b\x1f\nc", "前身頃 żółw 🧵", "", "]]>", "\ufffe"]


def sheet(words: str) -> Sheet:
    strokes = (
        Stroke("cut-line", LINE, words),
        Stroke("cut-line", LINE, words),
        Stroke("marks", LINE),
        Stroke("stitch-line", LINE, words, "outer"),
    )
    labels = (
        Label(words, np.array([1.0, 2.0]), 5.0, 0.3, align="middle", bold=True),
        Label(words, np.array([3.0, 4.0]), 5.0, drafted=True),
    )
    layers = numbered_layers([("outer", 3), ("with nothing", 5)])
    return Sheet(words, 100.0, 50.5, strokes, labels, layers)


@pytest.mark.parametrize("words", WORDS)
def test_a_file_is_as_a_library_writes_it(words: str) -> None:
    written = sheet_svg(sheet(words))
    root = etree.fromstring(written)
    for element in root.iter("{*}text", "{*}title"):
        element.text = element.text or ""
    again = etree.tostring(root, xml_declaration=True, encoding="UTF-8")
    assert written == again + b"\n"


@pytest.mark.parametrize("words", WORDS)
def test_words_come_back_without_what_cannot_be_read(words: str) -> None:
    root = etree.fromstring(sheet_svg(sheet(words)))
    kept = "".join(ch for ch in words if ch >= " " and ch != "\ufffe")
    assert [text.text or "" for text in root.iter("{*}text", "{*}title")] == [kept] * 3


def test_groups_and_lines_have_names_of_their_own() -> None:
    root = etree.fromstring(sheet_svg(sheet("A & b")))
    idents = [element.get("id") for element in root.iter() if element.get("id")]
    assert idents == [
        "layer-3-outer",
        "layer-3-outer-a-b",
        "layer-5-with-nothing",
        "cut-line",
        "cut-line-a-b",
        "cut-line-a-b-2",
        "marks",
        "marks-sheet",
        "draft-text",
        "labels",
    ]


def test_only_the_stitch_line_of_one_layer_names_its_panel() -> None:
    strokes = (Stroke("stitch-line", LINE, "A & b"), Stroke("cut-line", LINE, "A & b"))
    for layer, names in (("", ["A & b"]), ("outer", [])):
        own = tuple(Stroke(s.kind, s.curve, s.panel, layer) for s in strokes)
        layers = numbered_layers([("outer", 3)]) if layer else ()
        root = etree.fromstring(sheet_svg(Sheet("one", 9.0, 9.0, own, (), layers)))
        assert [e.get("data-panel") for e in root.iter() if e.get("data-panel")] == names
