"""Panels filled with parallel lines: no panels, levels, joints or marks come of them."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from panelshift.draft import assemble
from panelshift.draft.tidy import find_hatching
from panelshift.outline import Curve
from panelshift.pattern.drawing import Shape
from panelshift.sources.svg import read_svg
from tests.support.examples import thinned
from tests.support.export_changes import hatch, in_pieces, mixed, outlines_changed
from tests.support.export_elements import (
    Element,
    Elements,
    assembled,
    base,
    body_of,
    document,
    of_role,
    pattern_of,
    plain,
)
from tests.support.same_pattern import assert_same


def hatched(elements: Elements, *sets: tuple[float, float], compound: bool = False) -> Elements:
    """Lines of each (angle, distance) over each outline: elements of their own, or one."""
    found = []
    for outline in of_role(elements, "outline"):
        lines = [line for way in sets for line in hatch(outline.curves[0], *way)]
        found += [Element(tuple(lines))] if compound else [Element((line,)) for line in lines]
    return found


SETS = [
    [(0.0, 2.0)],
    [(0.0, 5.5)],
    [(0.3, 2.0)],
    [(np.pi / 4, 3.0)],
    [(np.pi / 2, 1.0)],
    [(1.9, 2.0)],
    [(0.8, 3.0), (-0.8, 3.0)],
    [(0.0, 4.0), (np.pi / 2, 1.5)],
]


@pytest.mark.parametrize(
    ("draft", "sets", "compound", "before"),
    thinned(
        [("half block", sets, k % 2 == 0, k % 4 > 1) for k, sets in enumerate(SETS)]
        + [("hourglass", SETS[k], k % 2 == 1, k % 4 < 2) for k in (1, 3, 6)]
    ),
    ids=str,
)
@pytest.mark.slow
def test_hatching_is_passed_over_with_one_warning(draft: str, sets, compound, before) -> None:
    elements = base(draft)
    lines = hatched(elements, *sets, compound=compound)
    found = assembled(lines + elements if before else elements + lines)
    assert_same(found, plain(draft))
    (warning,) = found.warnings
    assert "parallel lines at equal distances are taken for hatching" in warning
    assert "give lines that mean something a name" in warning
    told = [item for item in found.left_out if "hatching" in item.reason]
    # A set may be parted where one of its lines happens to lie on a level line.
    least = len(sets) * len(found.panels)
    assert least <= len(told) <= 3 * least
    others = [item.reason for item in found.left_out if item not in told]
    assert all("drawn twice" in reason or "stray line" in reason for reason in others)


@pytest.mark.slow
def test_hatching_over_outlines_in_pieces() -> None:
    draft = "half block"
    elements = base(draft)
    broken = outlines_changed(elements, lambda e: in_pieces(e[0], (0.0, 0.21, 0.5, 0.8)))
    lines = hatched(elements, (0.8, 2.0), (-0.8, 2.0))
    assert_same(assembled(mixed(broken + lines, 7)), plain(draft))


def test_waistline_without_a_name_is_found_under_hatching() -> None:
    elements = of_role(base("half block"), "outline", "waist")
    nameless = [replace(e, name="") if e.role == "waist" else e for e in elements]
    found = assembled(nameless + hatched(elements, (0.1, 1.5)))
    assert_same(found, assembled(elements))


@pytest.mark.parametrize("label", ["hatching", "Hatch 2", "crosshatch", "shading"])
def test_hatching_may_be_named_however_few_lines_it_has(label: str) -> None:
    elements = base("half block")
    lines = body_of(hatched(elements, (0.1, 20.0)))
    found = pattern_of(body_of(elements) + f'<g id="{label}">{lines}</g>')
    assert_same(found, plain("half block"))
    assert not found.warnings
    (told,) = found.left_out
    assert told.reason.startswith("hatching, and ")


def test_named_lines_at_equal_distances_are_kept() -> None:
    elements = base("half block")
    rows = hatched(elements, (np.pi / 2, 1.5))
    found = assembled(elements + [replace(e, name="cord channel") for e in rows])
    bones = [mark for panel in found.panels for mark in panel.marks if mark.kind == "bone"]
    assert len(bones) == 4 + len(rows)
    assert not found.warnings


def test_few_lines_across_a_panel_are_no_hatching() -> None:
    outline = of_role(base("half block"), "outline")[0]
    rows = [Element((line,)) for line in hatch(outline.curves[0], 0.0, 19.0)]
    found = assembled(base("half block") + rows)
    assert len(found.panels[0].levels) == 2 + len(rows)
    assert not found.warnings


def test_row_of_short_lines_is_no_hatching() -> None:
    ticks = [
        Element((Curve.polyline([(58.0, 100.0 + 6 * k), (63.0, 100.0 + 6 * k)]),))
        for k in range(25)
    ]
    found = assembled(base("half block") + ticks)
    assert len([m for m in found.panels[0].marks if m.kind == "notch"]) == 1 + len(ticks)


def test_a_line_in_pieces_is_no_hatching_beside_one_that_leans_a_little() -> None:
    # The longest gives the direction, in which the others then lie a hair aside of each other.
    ends = [((60.0, 20.0), (60.04, 26.5))]
    ends += [((9.0, 20.0 + 6 * k), (9.0, 26.0 + 6 * k)) for k in range(40)]
    lines = [Shape(Curve.polyline(pair), f"line {k}") for k, pair in enumerate(ends)]
    assert find_hatching(lines) == []


def test_slanting_line_from_edge_to_edge_is_a_mark_and_no_level() -> None:
    slanting = Element((Curve.polyline([(40.0, 150.0), (120.0, 250.0)]),))
    found = assembled([*base("half block"), slanting])
    assert [level.name for level in found.panels[0].levels] == ["bust", "hip"]
    assert [m.kind for m in found.panels[0].marks].count("mark") == 1


def test_fills_by_pattern_draw_no_lines() -> None:
    elements = [replace(e, paint='fill="url(#weave)"') for e in base("half block")]
    lines = "".join(f'<path id="waist{k}" d="M0 {k}H400"/>' for k in range(0, 400, 2))
    weave = f'<pattern id="weave" width="4" height="4">{lines}</pattern>'
    for place in (f"<defs>{weave}</defs>", weave):
        found = pattern_of(place + body_of(elements))
        assert_same(found, plain("half block"))
        assert not found.left_out


@pytest.mark.slow
def test_three_hundred_lines_a_panel_take_less_than_a_second() -> None:
    elements = base("hourglass")
    lines: Elements = []
    for outline in of_role(elements, "outline"):
        (_, top), (_, bottom) = outline.curves[0].bounds()
        lines += [Element((c,)) for c in hatch(outline.curves[0], 0.0, (bottom - top) / 300.0)]
    assert len(lines) >= 1790
    drawing = read_svg(document(body_of(elements + lines)))
    taken = []
    for _ in range(2):
        started = time.process_time()
        found = assemble(drawing)
        taken.append(time.process_time() - started)
    assert min(taken) < 1.0
    assert_same(found, plain("hourglass"))
