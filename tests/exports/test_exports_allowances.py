"""A second outline round the net one: which is the net outline, and what is said of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from panelshift.draft import Reading
from panelshift.errors import JobError, PatternError, ScaleError
from panelshift.job import read_job, resolve
from panelshift.job.checks import OUTLINE_UNCHECKED
from panelshift.job.keys import is_known, with_overrides
from panelshift.job.result import cut
from panelshift.outline import Curve
from panelshift.outline.planar import area
from panelshift.pattern.pattern import Pattern
from tests.support.drawings import job_text
from tests.support.export_changes import allowance, allowances, in_pieces, mixed, turned, unnamed
from tests.support.export_elements import (
    EACH_BASE,
    Element,
    Elements,
    assembled,
    base,
    body_of,
    document,
    of_role,
    plain,
)
from tests.support.same_pattern import assert_same

pytestmark = pytest.mark.slow

bases = pytest.mark.parametrize("draft", EACH_BASE)
OUTER = Reading(net_outline="outer")


def assert_net_is_told(found: Pattern, draft: str) -> None:
    """The net pattern is read, and both the report and each cut line say so."""
    assert_same(found, plain(draft))
    assert not found.warnings
    reasons = [item.reason for item in found.left_out]
    assert len(reasons) == len(found.panels)
    assert all("the seam allowance round" in r and "taken as the net outline" in r for r in reasons)
    (note,) = (note for note in found.notes if "net_outline in the job file" in note)
    assert "the inner one is taken as the net outline" in note
    assert all(panel.ident in note for panel in found.panels)


def with_long_waistlines(elements: Elements, by: float) -> Elements:
    """Waistlines that run on by so much at each end, over the cut line as well."""

    def longer(curve: Curve) -> Curve:
        step = (curve.end - curve.start) / np.hypot(*(curve.end - curve.start))
        return Curve.polyline([curve.start - by * step, curve.end + by * step])

    return [replace(e, curves=(longer(e.curves[0]),)) if e.role == "waist" else e for e in elements]


@bases
@pytest.mark.parametrize(
    ("width", "more_right", "long", "before"),
    [(10, 0, 0, True), (10, 0, 12, False), (15, 0, 9.5, True), (15, 0, 0, False), (8, 12, 0, True)],
)
def test_cut_lines_round_the_net_outlines(draft, width, more_right, long, before) -> None:
    elements = with_long_waistlines(base(draft), float(long))
    cuts = allowances(elements, float(width), float(more_right))
    found = assembled(cuts + elements if before else elements + cuts)
    assert_net_is_told(found, draft)


@bases
def test_cut_lines_shuffled_turned_and_in_pieces(draft: str) -> None:
    elements = base(draft)
    cuts = [p for e in allowances(elements, 10.0) for p in in_pieces(e, (0.0, 0.3, 0.7))]
    found = assembled(mixed(elements + cuts, 11))
    assert_same(found, plain(draft))
    assert all("(3 pieces)" in item.reason for item in found.left_out)


@bases
def test_cut_lines_as_one_compound_path(draft: str) -> None:
    elements = base(draft)
    whole = Element(tuple(e.curves[0] for e in allowances(elements, 12.0)), "", "cut")
    assert_net_is_told(assembled([whole, *elements]), draft)


@bases
@pytest.mark.parametrize("inner_first", [True, False])
def test_net_and_cut_line_as_one_ring(draft: str, inner_first: bool) -> None:
    def ring(element: Element) -> Element:
        (net,) = element.curves
        pair = (net, turned(allowance(net, 10.0)))
        return replace(element, curves=pair if inner_first else pair[::-1])

    elements = [ring(e) if e.role == "outline" else e for e in base(draft)]
    assert_net_is_told(assembled(elements), draft)


@bases
@pytest.mark.parametrize("named", ["net", "cut", "both"])
def test_name_on_either_outline_names_the_panel(draft: str, named: str) -> None:
    elements = []
    for e in base(draft):
        if e.role == "outline":
            wide = replace(e, role="outline", curves=(allowance(e.curves[0], 10.0),))
            elements += [unnamed(e) if named == "cut" else e]
            elements += [unnamed(wide) if named == "net" else wide]
        else:
            elements.append(e)
    assert_net_is_told(assembled(elements), draft)


@bases
@pytest.mark.parametrize("label", ["cut line", "seam allowance", "Cutting lines"])
def test_named_cut_lines_need_no_geometry(draft: str, label: str) -> None:
    elements = base(draft)
    cuts = [replace(e, name=label) for e in allowances(elements, 10.0)]
    found = assembled(with_long_waistlines(elements, 15.0) + cuts)
    assert_same(found, plain(draft))
    assert {item.reason for item in found.left_out} == {
        "named as a seam allowance or cut line; not part of a net panel"
    }


def test_narrow_panel_in_a_wide_allowance_is_the_net_one() -> None:
    narrow = Curve.polyline([(100, 100), (127, 100), (127, 380), (100, 380)], closed=True)
    waist = Element((Curve.polyline([(85, 240), (142, 240)]),), "waist", "waist")
    net = Element((narrow,), "1", "outline")
    wide = replace(unnamed(net), curves=(allowance(narrow, 15.0),))
    assert area(narrow) < 0.5 * area(wide.curves[0])
    for elements in ([net, wide, waist], [wide, net, waist]):
        found = assembled(elements)
        assert [panel.name for panel in found.panels] == ["1"]
        assert found.panels[0].waist_width == pytest.approx(27.0)


# -- which one is it? ---------------------------------------------------------------------


def decorated(draft: str, *, long: float = 0.0) -> Elements:
    """A draft whose panels have a line 8 mm inside the edge, as for a row of stitches."""
    elements = with_long_waistlines(base(draft), long)
    lines = [
        replace(e, name="", role="line", curves=(allowance(e.curves[0], -8.0),))
        for e in of_role(elements, "outline")
    ]
    return elements + lines


@bases
def test_job_may_say_that_the_outer_outline_is_the_net_one(draft: str) -> None:
    found = assembled(decorated(draft), reading=OUTER)
    assert found.waist == pytest.approx(plain(draft).waist, abs=1e-6)
    assert [panel.name for panel in found.panels] == [p.name for p in plain(draft).panels]
    # The line inside is kept, as a mark.
    marks = [len(panel.marks) for panel in found.panels]
    assert marks == [len(panel.marks) + 1 for panel in plain(draft).panels]
    assert not found.left_out
    (note,) = (note for note in found.notes if "net_outline" in note)
    assert "the outer one is taken as the net outline" in note


@pytest.mark.parametrize("label", ["net", "stitch line", "Seam lines"])
def test_name_of_the_outer_outline_goes_before_the_geometry(label: str) -> None:
    draft = "half block"
    named = [
        replace(e, name=f"{label} {e.name}") if e.role == "outline" else e for e in decorated(draft)
    ]
    found = assembled(named)
    assert found.waist == pytest.approx(plain(draft).waist, abs=1e-6)
    assert assembled(decorated(draft)).waist < plain(draft).waist - 8.0


def test_outer_outline_that_no_waistline_reaches_is_refused() -> None:
    elements = base("half block")
    with pytest.raises(PatternError, match="its waistline ends at the outline inside it") as caught:
        assembled(elements + allowances(elements, 10.0), reading=OUTER)
    assert "net_outline" in caught.value.remedy
    assert caught.value.source == "export.svg"


def test_several_sizes_round_each_other_are_refused_and_listed() -> None:
    elements = base("half block")
    with pytest.raises(PatternError) as caught:
        assembled(elements + allowances(elements, 6.0) + allowances(elements, 12.0))
    assert "3 outlines lie round each other, as several sizes do: " in caught.value.problem
    # Panel 1 is 40 mm wide at the waist, and 6 and 12 mm wider on both sides in the other sizes.
    for width in ("40.0", "52.0", "64.0"):
        assert f"{width} mm at the waist" in caught.value.problem
    assert "(and 3 more)" in caught.value.problem
    assert "leave_layers" in caught.value.remedy


def test_shape_on_part_of_a_panel_is_a_mark_and_pointed_out() -> None:
    yoke = Curve.polyline([(62, 190), (98, 190), (98, 298), (62, 298)], closed=True)
    shape = Element((yoke,), "", "mark")
    found = assembled([*base("half block"), shape])
    assert found.waist == pytest.approx(368.0, abs=1e-6)
    assert len(found.panels[0].marks) == 4
    (warning,) = found.warnings
    assert "not as a net outline lies inside its seam allowance" in warning


def test_shape_that_fills_most_of_a_panel_is_refused_unless_a_name_settles_it() -> None:
    elements = base("half block")
    yoke = Curve.polyline([(61, 105), (99, 105), (99, 299), (61, 299)], closed=True)
    with pytest.raises(PatternError, match="not plain which is the net outline") as caught:
        assembled([*elements, Element((yoke,), "yoke")])
    assert caught.value.element == "yoke 28"
    assert "stitch line" in caught.value.remedy
    named = [replace(e, name="1 stitch line") if e.name == "panel 1" else e for e in elements]
    found = assembled([*named, Element((yoke,), "yoke")])
    assert found.waist == pytest.approx(368.0, abs=1e-6)
    assert len(found.panels[0].marks) == 4


@pytest.mark.parametrize("long", [0.0, 400.0])
def test_frame_round_the_sheet_is_told_without_a_warning(long: float) -> None:
    frame = Curve.polyline([(5, 5), (900, 5), (900, 600), (5, 600)], closed=True)
    elements = base("half block")
    line = Element((Curve.polyline([(5, 200), (900, 200)]),), "waist", "waist")
    if long:
        elements = [e for e in elements if e.role != "waist"] + [line]
    found = assembled([Element((frame,)), *elements])
    assert_same(found, plain("half block"))
    (told,) = found.left_out
    assert told.reason == "a frame round 4 panels"
    assert not found.warnings


def test_frame_that_two_rows_of_waistlines_cross_is_told() -> None:
    frame = Curve.polyline([(5, 5), (900, 5), (900, 900), (5, 900)], closed=True)
    lower = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 400.0]])
    outlines = of_role(base("half block"), "outline")
    rows = [e if k < 2 else e.moved(lower) for k, e in enumerate(outlines)]
    lines = [
        Element((Curve.polyline([(5, y), (900, y)]),), "waist", "waist") for y in (200.0, 600.0)
    ]
    found = assembled([*rows, Element((frame,)), *lines])
    assert [panel.name for panel in found.panels] == [e.name for e in outlines]
    assert [item.reason for item in found.left_out] == ["a frame round 4 panels"]
    assert not found.warnings


def test_rectangle_round_each_panel_that_its_waistline_reaches_is_a_frame() -> None:
    found = []
    for element in base("half block"):
        if element.role == "waist":
            (start, end) = element.curves[0].start, element.curves[0].end
            low, high = start[0] - 60.0, end[0] + 60.0
            # The panels lie 40 mm apart: each in a frame of its own, on a sheet of its own.
            frame = Curve.polyline([(low, 60), (high, 60), (high, 330), (low, 330)], closed=True)
            line = Curve.polyline([(low, 200.0), (high, 200.0)])
            found.append([Element((frame,)), replace(element, curves=(line,))])
        elif element.role == "outline":
            found.append([element])
    for outline, framed in zip(found[::2], found[1::2], strict=True):
        pattern = assembled(outline + framed)
        assert [panel.name for panel in pattern.panels] == [outline[0].name]
        assert [item.reason for item in pattern.left_out] == ["a frame round 1 panel"]
        assert not pattern.warnings


# -- the job file -------------------------------------------------------------------------


def job_file(folder: Path, elements: Elements, head: str = "") -> Path:
    (folder / "draft.svg").write_bytes(document(body_of(elements)))
    (folder / "job.toml").write_text(job_text(head=head))
    return folder / "job.toml"


@pytest.mark.parametrize(("choice", "waist"), [("inner", 240.0), ("outer", 368.0)])
def test_net_outline_of_the_job_file_reaches_the_pattern(tmp_path, choice, waist) -> None:
    file = job_file(tmp_path, decorated("half block"), f'net_outline = "{choice}"')
    assert resolve(read_job(file)).pattern.waist == pytest.approx(waist, abs=0.5)


@pytest.mark.parametrize("value", ['"middle"', "1", "true", '""'])
def test_net_outline_of_another_value_is_refused_with_its_key(tmp_path, value: str) -> None:
    file = job_file(tmp_path, base("half block"), f"net_outline = {value}")
    with pytest.raises(JobError, match=r"pattern\.net_outline: .*'inner' or 'outer'"):
        read_job(file)


@pytest.mark.slow
def test_choice_by_place_alone_is_a_warning_until_the_job_bears_it_out(tmp_path) -> None:
    def warnings(elements: Elements, head: str) -> tuple[str, ...]:
        return resolve(read_job(job_file(tmp_path, elements, head))).pattern.warnings

    elements = base("half block")
    cuts = allowances(elements, 10.0)
    assert warnings(elements + cuts, "") == (OUTLINE_UNCHECKED,)
    assert not warnings(elements + cuts, 'net_outline = "inner"')
    assert not warnings(elements + cuts, "drafted_waist = 368")
    named = [replace(e, name="cut line") for e in cuts]
    assert not warnings(elements + named, "")
    net = [
        replace(e, name=f"{e.name} net") if e.role == "outline" else e
        for e in with_long_waistlines(elements, 15.0)
    ]
    assert not warnings(net + cuts, "")


def test_wrong_outline_shows_in_the_drafted_waist_and_the_message_says_where(tmp_path) -> None:
    file = job_file(tmp_path, decorated("half block"), "drafted_waist = 368")
    with pytest.raises(ScaleError, match="First see whether net_outline takes the right one"):
        cut(resolve(read_job(file)))
    plainly = job_file(tmp_path, base("half block"), "drafted_waist = 300")
    with pytest.raises(ScaleError) as caught:
        cut(resolve(read_job(plainly)))
    assert "net_outline" not in str(caught.value)


def test_net_outline_survives_joins_and_batch_overrides(tmp_path) -> None:
    file = job_file(tmp_path, decorated("half block"), 'net_outline = "outer"')
    joined = file.read_text() + '\n[panel."panel 1"]\njoins = "panel 2"\n'
    file.write_text(joined)
    assert resolve(read_job(file)).pattern.waist == pytest.approx(368.0, abs=1e-6)
    assert is_known(("pattern", "net_outline"))
    changed = with_overrides({"pattern": {}}, {"pattern.net_outline": "outer"})
    assert changed == {"pattern": {"net_outline": "outer"}}
