"""A panel's frame, its four edges, and which of them count as straight."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from panelshift.outline import Curve
from panelshift.pattern.drawing import Text
from panelshift.pattern.panel import Frame, Level, Panel
from panelshift.pattern.pattern import Pattern
from tests.support.drafts import PanelDraft, Sheet, drawn, hermite, straight
from tests.support.runs import read_pattern

HEIGHTS = (-80.0, -40.0, 0.0, 50.0, 100.0)
LEVELS = {"bust": 70.0, "hip": -60.0}


def panel(bulge: float = 5.0, sheet: Sheet | None = None) -> Panel:
    """A panel with a straight front; its back edge bulges from the chord by so many mm."""
    chord = HEIGHTS[-1] - HEIGHTS[0]

    def back(v: np.ndarray) -> np.ndarray:
        t = (np.asarray(v) - HEIGHTS[0]) / chord
        return 40.0 + 4.0 * bulge * t * (1.0 - t)

    front = straight(lambda v: 0.0 * v - 30.0, HEIGHTS)
    draft = PanelDraft("one", front, hermite(back, HEIGHTS), LEVELS)
    return read_pattern(drawn([draft], sheet)).panels[0]


@pytest.mark.parametrize("mirrored", [False, True])
def test_frames_turn_and_move_points_and_back(mirrored: bool) -> None:
    c, s = 0.6, 0.8
    up = np.array([s, -c]) if mirrored else np.array([-s, c])
    frame = Frame(np.array([10.0, -20.0]), np.array([c, s]), up)
    points = np.array([(3.0, 4.0), (-7.0, 2.0)])
    sheet = np.array([(10.0 + u * c + v * up[0], -20.0 + u * s + v * up[1]) for u, v in points])
    assert frame.to_sheet(points) == pytest.approx(sheet)
    assert frame.to_panel(sheet) == pytest.approx(points)
    assert sheet @ frame.matrix[:, :2].T + frame.matrix[:, 2] == pytest.approx(points)
    larger = frame.larger(1.1, 0.7)
    stretched = frame.to_panel(sheet @ larger[:, :2].T + larger[:, 2])
    assert stretched == pytest.approx(points * [1.1, 0.7])


@pytest.mark.parametrize("sheet", [None, Sheet(reverse=True, start=3, angle=0.3)])
def test_edges_run_upwards_and_from_front_to_back(sheet: Sheet | None) -> None:
    one = panel(sheet=sheet)
    waist = 40.0 + 4.0 * 5.0 * (80 / 180) * (100 / 180)
    half = 0.5 * (waist + 30.0)
    corners = {
        "front": [(-half, -80.0), (-half, 100.0)],
        "back": [(half - waist + 40.0, -80.0), (half - waist + 40.0, 100.0)],
    }
    corners["top"] = [corners["front"][1], corners["back"][1]]
    corners["bottom"] = [corners["front"][0], corners["back"][0]]
    for name, (start, end) in corners.items():
        edge = one.edge(name)  # type: ignore[arg-type]
        assert one.frame.to_panel(edge.start) == pytest.approx(start, abs=1e-2)
        assert one.frame.to_panel(edge.end) == pytest.approx(end, abs=1e-2)
    runs = one.runs()
    assert [name for name, _ in runs] == ["front", "top", "back", "bottom"]
    for (_, run), (_, following) in zip(runs, (*runs[1:], runs[0]), strict=True):
        assert run.end == pytest.approx(following.start)


@pytest.mark.parametrize("angle", [0.0, 0.7, np.pi / 2])
@pytest.mark.parametrize(("bulge", "straight_"), [(0.0, True), (0.48, True), (0.52, False)])
def test_an_edge_is_straight_up_to_half_a_millimetre(
    angle: float, bulge: float, straight_: bool
) -> None:
    one = panel(bulge, Sheet(angle=angle, offset=(500.0, 500.0)))
    assert one.is_straight("front")
    assert one.is_straight("back") is straight_
    assert panel(-bulge, Sheet(angle=angle, offset=(500.0, 500.0))).is_straight("back") is straight_


def test_levels_are_found_by_name_and_as_wide_as_their_ends_are_apart() -> None:
    one = panel()
    found = one.level("hip")
    assert found is not None
    assert found.height == pytest.approx(-60.0)
    assert one.level(one.waist.name) is one.waist
    assert one.level("armhole") is None
    bent = Curve.polyline([(1.0, 2.0), (50.0, 50.0), (4.0, 6.0)])
    assert Level("x", bent, 0.0).width == pytest.approx(5.0)


def test_all_that_is_drawn_on_a_panel_grows_about_its_waist_s_middle() -> None:
    one = panel(sheet=Sheet(angle=0.4, offset=(500.0, 500.0)))
    assert one.middle == pytest.approx(one.frame.origin)
    assert replace(one, waist=None).middle == pytest.approx(one.outline.bounds().mean(axis=0))
    word = Text("one", one.frame.to_sheet([7.0, 30.0]), 10.0, 0.0, "word")
    larger = replace(one, texts=(word,)).larger(1.1, 0.7)
    assert one.frame.to_panel(larger.texts[0].anchor) == pytest.approx([7.7, 21.0])
    before, after = (one.frame.to_panel(p.outline.control) for p in (one, larger))
    assert after == pytest.approx(before * [1.1, 0.7])
    assert [level.height for level in larger.levels] == pytest.approx([49.0, -42.0])


def test_a_panel_is_a_polygon_to_others() -> None:
    import shapely

    one = panel()
    # A parabola's segment over a chord c with bulge b has the area 2/3 c b.
    assert shapely.geometry.shape(one).area == pytest.approx(180 * 70 + 2 / 3 * 180 * 5, rel=1e-3)


def test_what_is_printed_of_a_panel_is_its_name_and_outline() -> None:
    one = panel()
    assert repr(one) == f"Panel(name='one', ident={one.ident!r}, outline={one.outline!r})"
    pattern = Pattern((one,), True, "draft.svg")
    assert repr(pattern) == f"Pattern(panels=({one!r},), full=True, source='draft.svg')"
    assert (pattern.ledger, pattern.whole, pattern.centre) == ((), None, None)
    for more in ((None,), (None, 0.5)):
        with pytest.raises(TypeError, match="positional"):
            Pattern((one,), True, "draft.svg", (), *more)  # type: ignore[misc]
    word = Text("one", np.zeros(2), 10.0, 0.0, "word")
    assert (word.groups, word.align, word.bold, word.mirrored) == ((), "start", False, False)
