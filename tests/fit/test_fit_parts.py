"""Parts of the fit sheet's facts one by one, by formula."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from panelshift.body import ClassModel, Measures, SectionModel, TapeModel, Tapes
from panelshift.body.turn import turn_of_cloth
from panelshift.fit.facts import _walks
from panelshift.fit.girths import short_panels
from panelshift.fit.layer_change import _SHOWN_PART, MAGNIFICATIONS, suitable_magnification
from panelshift.fit.matching import _girths_given
from panelshift.fit.plus_minus import Doubt, growth_by_body, together
from panelshift.fit.sections import section_at
from panelshift.outline import Curve
from panelshift.pattern.two_sides import both_sides
from panelshift.stack import Fabric, Stack
from tests.support.drafts import PanelDraft, drawn, walls
from tests.support.gored import slit_gored
from tests.support.runs import read_pattern, run


def test_girths_that_tapes_told_stand_beside_the_pattern_s_from_the_top_down() -> None:
    pattern = read_pattern(drawn(walls([200.0, 150.0])))
    turn: Any = SimpleNamespace(
        pattern=pattern,
        profile=SimpleNamespace(
            drawn=(-100.0, 100.0), widths_at=lambda at: np.array([200.0 + at, 150.0 + 0.0 * at])
        ),
        ring=SimpleNamespace(gap_at=lambda height: 30.0 + 0.1 * height),
    )
    heights = {0.0: 720.0, 70.0: 900.0, -40.0: 800.0, 100.0: 950.0, 140.0: 960.0, -140.0: 990.0}
    tapes = {at: Tapes(girth=girth) for at, girth in heights.items()}
    tapes[20.0] = Tapes(depth=200.0)
    told = [
        ("+100 mm from the waist", 940.0, 950.0),
        ("bust", 877.0, 900.0),
        ("waist", 730.0, 720.0),
        ("-40 mm from the waist", 646.0, 800.0),
    ]
    taped = list(_girths_given(turn, TapeModel(tapes), "mm"))
    assert [(m.level, m.pattern, m.body) for m in taped] == told
    assert {m.quantity for m in taped} == {"girth"}
    # Other bodies may have girths, or none.
    rows = sorted(heights.items())
    measures = Measures(np.array([at for at, _ in rows]), np.array([girth for _, girth in rows]))
    given = SimpleNamespace(girths=measures)
    assert list(_girths_given(turn, given, "mm")) == taped  # type: ignore[arg-type]
    assert list(_girths_given(turn, SectionModel(Measures.constant(1.4)), "mm")) == []


@pytest.mark.parametrize(
    ("turned", "spread", "leeway", "whole"),
    [
        # Distance times what the turn is not known by, and what sewing adds for it in proportion.
        (0.4, 0.1, None, 0.2),
        (0.4, 0.1, 0.8, 0.2 + 0.8 * 0.25),
        (0.4, 0.6, 0.8, 1.2 + 0.8),
        (1.6, 0.4, 0.8, 0.8 + 0.8 * 0.25),
        (0.0, 0.1, 0.8, 0.2),
        (-0.2, 0.1, 0.8, 0.2),
        (0.4, None, 0.8, None),
    ],
)
def test_the_body_s_part_of_a_growth(
    turned: float, spread: float | None, leeway: float | None, whole: float | None
) -> None:
    by_turn = np.zeros((2, 3, 4))
    by_turn[1, 2, 3] = leeway or 0.0
    shifted: Any = SimpleNamespace(
        turn=SimpleNamespace(
            spread_at=lambda panel, height: spread if (panel, height) == (2, 50.0) else 9.0,
            growth_at=lambda panel, height: turned if (panel, height) == (2, 50.0) else 9.0,
        ),
        grown=SimpleNamespace(
            distance=lambda *place: 2.0 if place == (1, 2, 50.0) else 9.0,
        ),
        leeway=None
        if leeway is None
        else SimpleNamespace(by_turn=by_turn, at=lambda height: 3 if height == 50.0 else 0),
    )
    found = growth_by_body(shifted, 1, 2, 50.0)
    assert found == (None if whole is None else pytest.approx(whole))


def test_errors_that_know_nothing_of_each_other_are_added_in_quadrature() -> None:
    assert together(3.0, 4.0) == 5.0
    assert together(3.0, None) == 3.0
    assert together(None, 4.0) is None


def test_what_to_measure_next_is_told_if_anything_tells_more() -> None:
    assert Doubt("silk", 3.0).remedy() == ""
    assert Doubt("silk", 3.0, measurable=True).remedy() == (
        "no one measure takes a tenth of that away; tapes at five levels, sections traced with a "
        "flexible curve or a scan do"
    )
    assert Doubt("silk", 3.0, "depth at the waist", 0.584, measurable=True).remedy() == (
        "the depth at the waist would leave about 58% of that"
    )


def test_the_largest_magnification_is_taken_that_leaves_panels_to_be_recognised() -> None:
    def change(furthest: float) -> Any:
        draft = np.array([[0.0, 0.0], [50.0, 10.0]])
        return {"outline": SimpleNamespace(distances=np.array([0.0, furthest]), draft=draft)}

    assert suitable_magnification([]) == suitable_magnification([{}]) == MAGNIFICATIONS[0]
    for magnification, next_one in zip(MAGNIFICATIONS, (*MAGNIFICATIONS[1:], 1.0), strict=True):
        # As far as may be shown at that one, on a panel of 50 mm, and a little farther.
        most = 50.0 * _SHOWN_PART / magnification
        assert suitable_magnification([change(0.01 * most), change(0.999 * most)]) == magnification
        assert suitable_magnification([change(1.001 * most)]) == next_one


@pytest.mark.parametrize("both", [False, pytest.param(True, marks=pytest.mark.slow)])
def test_beyond_its_slits_a_panel_is_one_part_of_a_section(both: bool) -> None:
    pattern = both_sides(slit_gored()) if both else slit_gored()
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * len(pattern), gap=40.0)
    section = section_at(turn, ClassModel(), "waist", gap=40.0)
    names = [panel.name for panel in pattern if panel.pointed is None]
    around = names if both else [*names[::-1], *names]
    # From centre back to centre back, its mirror image on the other side a part of its own.
    assert [name for name, _ in section.parts] == [*around, ""]
    assert [pattern.panels[k].name for k in section.panels] == around
    angles = [turn.angle_at(name, 0.0) for name in around]
    assert section.angles[:-1] == pytest.approx(angles, abs=1e-9)
    assert sum(section.angles) == pytest.approx(2.0 * np.pi)
    points = [part for _, part in section.parts]
    for one, two in zip(points, [*points[1:], points[0]], strict=True):
        assert one[-1] == pytest.approx(two[0], abs=1e-6)


def edge(u: float, low: float, high: float) -> Curve:
    return Curve.polyline([(u, low), (u, high)])


@pytest.mark.parametrize(("tolerance", "passes"), [(0.5, False), (9.9, False), (10.1, True)])
def test_a_seam_fails_whichever_of_its_edges_is_longer(tolerance: float, passes: bool) -> None:
    lows = (-100.0, -110.0, -100.0)
    panels = [
        PanelDraft(f"wall {k}", edge(-25.0, low, 100.0), edge(25.0, low, 100.0))
        for k, low in enumerate(lows, start=1)
    ]
    shifted = run(drawn(panels), Stack([Fabric("drill", 0.5)], "drill")).shifted
    walks = list(_walks(shifted, tolerance))
    assert [walk.difference for walk in walks] == pytest.approx([-10.0, 10.0], abs=1e-6)
    assert [walk.passes for walk in walks] == [passes, passes]


@pytest.mark.parametrize("up", [1.0, pytest.param(-1.0, marks=pytest.mark.slow)])
def test_a_panel_reaches_a_level_that_both_its_side_edges_reach(up: float) -> None:
    """The level is not drawn on it; an edge that ends within a millimetre still tells."""

    def between(u: float, end: float) -> Curve:
        return edge(u, *sorted((-100.0 * up, end * up)))

    name = "bust" if up > 0.0 else "hip"
    far = PanelDraft("far", between(-25.0, 100.0), between(25.0, 100.0), {name: 70.0 * up})
    for front, back, short in ((100.0, 50.0, True), (50.0, 100.0, True), (100.0, 69.5, False)):
        near = PanelDraft("near", between(-25.0, front), between(25.0, back))
        pattern = read_pattern(drawn([far, near]))
        turn = turn_of_cloth(pattern, ClassModel(), ["side"] * 2, gap=40.0)
        assert short_panels(turn, name) == (("near",) if short else ())
