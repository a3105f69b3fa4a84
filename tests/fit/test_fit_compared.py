"""Two corsets side by side, against closed forms: one full turn, equal shares, what lies where."""

from __future__ import annotations

import csv
import io
from functools import cache
from math import pi
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from panelshift import Fabric, Stack, compare_corsets, shift_pattern
from panelshift.cli import main
from panelshift.errors import WrongTypeError
from panelshift.fit.compared import ComparedCorsets, CorsetSide
from panelshift.fit.compared_tables import compared_figures, compared_tables, compared_words
from panelshift.needs.buying import fabric_needs
from panelshift.shift import Shifted
from tests.support.drafts import Sheet, drawn, walls
from tests.support.runs import read_pattern, sample, sample_by_classes

MORE_MM = 0.7


@cache
def corset(silk: float, *, name: str = "silk", panels: frozenset[str] | None = None) -> Shifted:
    fabrics = [Fabric("drill", 0.5), Fabric(name, silk, panels=panels)]
    pattern = sample("hourglass").shifted.turn.pattern
    return shift_pattern(pattern, Stack(fabrics, "drill"), gap=50.0)


@cache
def both() -> ComparedCorsets:
    return compare_corsets(corset(0.4), corset(0.4 + MORE_MM))


@pytest.mark.slow
def test_a_thicker_layer_is_a_full_turn_longer_outside_and_nothing_inside() -> None:
    more = {(item.level, item.of): item.more for item in both().girths}
    assert {level for level, _ in more} >= {"waist", "bust", "hip"}
    # On slopes thickness lies aslant to the level: the waist of this draft is nearly upright.
    assert more["waist", "outside"] == pytest.approx(2.0 * pi * MORE_MM, rel=2e-3)
    assert more["waist", "outside, tape over all"] == more["waist", "outside"]
    assert {more[level, "skin side"] for level, _ in more} == {0.0}


@pytest.mark.slow
def test_growth_is_compared_panel_by_panel_and_adds_up_to_half_a_turn() -> None:
    """The middle of the thicker layer lies half as much further out; the gap turns as well."""
    at_waist = [item for item in both().growth if item.of == "silk" and item.level == "waist"]
    turn = corset(0.4).turn
    height = turn.pattern.level_height("waist")
    angles = [turn.angle_at(k, height) for k in range(len(turn.pattern.panels))]
    assert len(at_waist) == len(angles) == 6
    for place, (item, angle) in enumerate(zip(at_waist, angles, strict=True)):
        assert item.more == pytest.approx(0.5 * MORE_MM * angle, rel=5e-3)
        assert item.first == pytest.approx(corset(0.4).growth(1, place, height), rel=1e-14)
    assert {item.more for item in both().growth if item.of == "drill"} == {0.0}


@pytest.mark.slow
def test_lines_lie_as_far_apart_as_panels_grow_from_either_side() -> None:
    lines = both().lines["silk"]
    grown = {i.panel: i.more for i in both().growth if i.of == "silk" and i.level == "waist"}
    for name, change in lines.items():
        # Of a panel that is moved on both sides each takes half, of one at the centre one all.
        near = np.abs(change.draft[:, 1]) < 4.0
        assert np.ptp(change.change[near, 0]) == pytest.approx(grown[name], rel=0.05)
    back = compare_corsets(corset(0.4 + MORE_MM), corset(0.4), gaps=(50.0, 50.0))
    assert [i.more for i in back.growth] == [-i.more for i in both().growth]
    for name, change in back.lines["silk"].items():
        most = lines[name].distances.max()
        assert change.distances.max() == pytest.approx(most, abs=1e-3)
        # What is A's outline is B's now; points are 3 mm apart, so ends lie that little aside.
        assert np.ptp(change.draft, axis=0) == pytest.approx(
            np.ptp(lines[name].at(1.0), axis=0), abs=1e-2
        )
    same = compare_corsets(corset(0.4), corset(0.4))
    # The gap that they were shifted with counts unasked, as it does where it is given.
    inside = next(item.first for item in same.girths if item.of == "skin side")
    assert inside == pytest.approx(back.girths[0].first)
    assert max(float(c.distances.max()) for own in same.lines.values() for c in own.values()) == 0.0


def test_a_drawing_elsewhere_on_its_sheet_is_the_same_corset() -> None:
    """Each in its own axes: the middles of the waists lie on each other."""
    one, other = (
        shift_pattern(
            read_pattern(drawn(walls((45.0, 50.0, 55.0)), Sheet(offset=place))),
            Stack([Fabric("drill", 0.5), Fabric("silk", 0.4)], "drill"),
        )
        for place in ((30.0, 400.0), (330.0, 440.0))
    )
    found = compare_corsets(one, other)
    far = max(float(c.distances.max()) for own in found.lines.values() for c in own.values())
    assert far < 1e-3
    assert max(abs(item.more) for item in (*found.girths, *found.growth)) < 1e-6


def test_what_only_one_has_is_told_and_outermost_layers_are_called_by_both_names() -> None:
    names = [panel.name for panel in corset(0.4).turn.pattern.panels]
    some = corset(0.9, name="lace", panels=frozenset(names[:3]))
    found = compare_corsets(corset(0.4), some)
    assert found.layers == {"drill": ("drill", "drill"), "silk / lace": ("silk", "lace")}
    assert found.only == (("layer silk",), ("layer lace",))
    assert list(found.lines["silk / lace"]) == names[:3]
    words = " ".join(compared_words(found, "mm"))
    assert "Only A has: layer silk." in words
    assert "Only B has: layer lace." in words
    assert "Cut alike in both: drill." in words
    assert "silk / lace: B's lines lie up to" in words
    apart = [
        corset(0.4, panels=frozenset(names[:2])),
        corset(0.9, name="lace", panels=frozenset(names[3:])),
    ]
    told = " ".join(compared_words(compare_corsets(*apart), "mm"))
    assert "silk / lace: B's lines" not in told
    with pytest.raises(WrongTypeError, match="second of compare_corsets"):
        compare_corsets(corset(0.4), "thicker")  # type: ignore[arg-type]


def test_tables_and_pictures_show_what_differs() -> None:
    result = sample("hourglass")
    needs = fabric_needs(result.shifted, result.job.plan, effort=0)
    one = CorsetSide(result.shifted, 50.0, needs=needs)
    found = ComparedCorsets(one, CorsetSide(corset(0.4), 50.0))
    girths, *growth, cloth = compared_tables(found, "in")
    assert girths.heads == ("A", "B", "B less A")
    assert next(row.head for row in girths.rows if row.kept) == "waist, inside"
    assert growth[-1].caption.startswith("Growth of brocade / silk across, in,")
    bought = needs.layouts[0]
    assert [cell.text for cell in cloth.rows[0].cells] == [
        f"at most {bought.to_buy_text('in')}",
        "-",
    ]
    drawn = dict(compared_figures(both()))
    assert len(drawn) == 6
    assert all(name.startswith("silk: ") for name in drawn)
    assert not any(" id=" in svg for svg in drawn.values())


@pytest.mark.slow
def test_the_fit_sheet_lays_another_job_beside(tmp_path: Path) -> None:
    job = sample_by_classes(tmp_path)
    job.write_text(f"{job.read_text()}\n[fit]\nneeds = false\n")
    other = tmp_path / "other.toml"
    other.write_text(job.read_text().replace("thickness = 0.65", "thickness = 1.65"))
    out = tmp_path / "out"
    done = CliRunner().invoke(main, ["fit", str(job), "--against", str(other), "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert "The finished waist of B: inside 687 mm, the same as A's; outside 706 mm" in done.output
    assert "Beside hourglass" in (out / "fit.html").read_text()
    rows = list(csv.DictReader(io.StringIO((out / "against.csv").read_text())))
    at_waist = next(r for r in rows if (r["of"], r["level"]) == ("outside", "waist"))
    more = float(at_waist["b_mm"]) - float(at_waist["a_mm"])
    assert more == pytest.approx(2.0 * pi, rel=2e-3)
