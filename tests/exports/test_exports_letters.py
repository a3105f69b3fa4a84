"""Text converted to outlines: letters are marks or passed over, never panels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelshift.errors import PatternError
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import path
from tests.support.export_elements import EACH_BASE, base, body_of, of_role, pattern_of, plain
from tests.support.glyph_outlines import as_one_path, as_paths, glyph_paths
from tests.support.same_pattern import assert_same

ways = pytest.mark.parametrize("way", [as_paths, as_one_path])


def without_letters(found: Pattern, draft: str) -> Pattern:
    """The pattern with as many marks as the plain draft has: letters have no kind or role."""
    known = {mark.ident for panel in plain(draft).panels for mark in panel.marks}
    return replace(
        found,
        panels=tuple(
            replace(panel, marks=tuple(m for m in panel.marks if m.ident in known))
            for panel in found.panels
        ),
    )


def labels(draft: str, words: str, size: float, rise: float, way) -> str:
    """Words on every panel, from its left edge, `rise` of their size above the waist."""
    found = ""
    for panel in plain(draft).panels:
        x = float(panel.frame.origin[0]) - 0.5 * panel.waist_width + 4.0
        y = float(panel.frame.origin[1]) - rise * size
        found += way(glyph_paths(words, x, y, size))
    return found


@ways
@pytest.mark.parametrize("draft", EACH_BASE)
@pytest.mark.parametrize(
    ("words", "size", "rise"),
    [("8oA", 12.0, 2.0), ("8oA", 12.0, -0.35), ("OMB8", 12.0, -0.4), ("Bo", 22.0, -0.3)],
)
def test_letters_on_panels_are_marks(draft: str, words: str, size, rise, way) -> None:
    found = pattern_of(body_of(base(draft)) + labels(draft, words, size, rise, way))
    assert_same(without_letters(found, draft), plain(draft))
    assert not found.warnings
    assert not found.left_out
    # Counters are subpaths of their own: 8 and B have two, o, O and A one.
    outlines = {"8oA": 3 + 2 + 2, "OMB8": 2 + 1 + 3 + 3, "Bo": 3 + 2}[words]
    for panel, bare in zip(found.panels, plain(draft).panels, strict=True):
        assert len(panel.marks) == len(bare.marks) + outlines


@ways
def test_letters_that_stand_out_over_an_edge_are_told(way) -> None:
    draft = "half block"
    body = labels(draft, "Side panel No 8", 12.0, -0.35, way) + body_of(base(draft))
    found = pattern_of(body)
    assert_same(without_letters(found, draft), plain(draft))
    (warning,) = found.warnings
    assert "crossed by a waistline, but far too small for a panel" in warning
    drawn = sum(data.count("Z") for data in glyph_paths("Side panel No 8", 0.0, 0.0, 12.0))
    marks = sum(len(p.marks) for p in found.panels) - sum(len(p.marks) for p in plain(draft).panels)
    assert marks + len(found.left_out) == 4 * drawn


@ways
@pytest.mark.parametrize("size", [6.0, 20.0, 45.0])
@pytest.mark.parametrize("before", [False, True])
@pytest.mark.slow
def test_title_beside_the_panels_under_a_long_waistline(way, size: float, before: bool) -> None:
    draft = "half block"
    body = body_of(e for e in base(draft) if e.role != "waist") + path("M0 200H990", "waist")
    title = way(glyph_paths("8oA&@", 600.0, 200.0 + 0.35 * size, size))
    title += way(glyph_paths("Waist 640 mm", 600.0, 320.0, 9.0))
    found = pattern_of(title + body if before else body + title)
    assert_same(found, plain(draft))
    (warning,) = found.warnings
    assert "closed shapes: crossed by a waistline" in warning
    assert all("no panel" in i.reason or "too small" in i.reason for i in found.left_out)


@ways
def test_waistline_without_a_name_is_found_among_letters(way) -> None:
    elements = of_role(base("half block"), "outline", "waist")
    nameless = body_of(replace(e, name="") if e.role == "waist" else e for e in elements)
    stroke = path("M70 150V260", "path7")
    found = pattern_of(nameless + stroke + labels("half block", "8OA", 14.0, -0.4, way))
    assert [panel.name for panel in found.panels] == [p.name for p in plain("half block").panels]
    assert found.waist == pytest.approx(plain("half block").waist, abs=1e-6)


@ways
def test_letters_across_the_panel_upright(way) -> None:
    body = body_of(base("half block"))
    data = glyph_paths("Panel 8 oA", 82.0, 255.0, 12.0, -np.pi / 2.0)
    found = pattern_of(body + way(data))
    assert_same(without_letters(found, "half block"), plain("half block"))
    assert not found.warnings


def test_letters_as_large_as_a_panel_are_refused_by_name() -> None:
    body = body_of(base("half block"))
    letter = glyph_paths("M", 60.0, 300.0, 260.0)[0]
    with pytest.raises(PatternError, match="waistline waist 1 crosses this outline") as caught:
        pattern_of(body + f'<path id="big-M" d="{letter}"/>')
    assert caught.value.element == "big-M"
