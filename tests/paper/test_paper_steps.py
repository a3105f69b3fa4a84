"""More steps of reading paper one by one, against closed forms."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from panelshift.errors import PhotoError
from panelshift.outline import Curve, FloatArray
from panelshift.sources.paper import cards
from panelshift.sources.paper.above import _frame as raster_of, _masks
from panelshift.sources.paper.followed import (
    _beside,
    guess_along,
    holes_in,
    off_line,
    straight_line,
)
from panelshift.sources.paper.ink import _enlarged
from panelshift.sources.paper.leftover import is_ruler, red_left, sort_leftover
from panelshift.sources.paper.light import _divided, _edges
from panelshift.sources.paper.middles import FULL, _darkest, _meeting, _normals, fit_run
from panelshift.sources.paper.photos import step_words
from panelshift.sources.paper.rectified import PIXEL_MM, Rectified, opencv
from panelshift.sources.paper.tracing import _frame as frame_round
from panelshift.sources.paper.waists import _straight_across
from tests.paper.test_paper_parts import PIXEL, drawn, grid

TURN = np.linspace(0.0, 2.0 * math.pi, 400, endpoint=False)
ROUND = np.column_stack([np.cos(TURN), np.sin(TURN)])


def around(middle: float, radius: float) -> Curve:
    return Curve.polyline(middle + radius * ROUND, closed=True)


def test_normals_of_a_ring_point_to_its_middle_everywhere() -> None:
    # A chord between neighbours of a circle is at right angles to the radius between them.
    assert _normals(5.0 * ROUND, wrap=True) == pytest.approx(-ROUND, abs=1e-12)
    half = _normals(5.0 * ROUND[:100], wrap=False)
    assert half[1:-1] == pytest.approx(-ROUND[1:99], abs=1e-12)
    # At an end there is the chord to its neighbour alone.
    step = math.pi / 400.0
    assert half[0] == pytest.approx([-math.cos(step), -math.sin(step)], abs=1e-12)


def test_a_short_run_is_one_piece_however_badly_that_fits() -> None:
    # Half a circle of 3 mm is 9.4 mm long, and a piece 6 mm at least.
    turn = np.linspace(0.0, math.pi, 60)
    run = fit_run(3.0 * np.column_stack([np.cos(turn), np.sin(turn)]), 0.01)
    assert not run.straight
    assert np.unique(run.spline.t) == pytest.approx([0.0, run.length])
    # One of 60 mm has room for 31 of them, and needs 4 at least to be as near as a few hundredths.
    wide = fit_run(60.0 * np.column_stack([np.cos(turn), np.sin(turn)]), 0.01)
    assert len(np.unique(wide.spline.t)) - 1 in range(2, 8)


def test_an_outline_beside_its_line_is_told_where_it_lies_farthest_off() -> None:
    x, y = grid(800, 800)
    away, angle = np.hypot(x - 40.0, y - 40.0), np.arctan2(y - 40.0, x - 40.0)
    # To the upper left the line was drawn up to half a millimetre outside.
    bump = 0.5 * np.clip(np.cos(2.0 * (angle + 2.0)), 0.0, None) * (np.cos(angle + 2.0) > 0.0)
    ink: Any = SimpleNamespace(dark=drawn(away - 30.0 - bump, 0.5), pixel=PIXEL)
    (spot,) = _beside(ink, around(40.0, 30.0))
    assert spot.kind == "line"
    assert spot.words.startswith("it is not clear where an outline runs: other lines touch it")
    place = np.array(spot.place) - 40.0
    assert math.atan2(place[1], place[0]) == pytest.approx(-2.0, abs=0.1)
    assert math.hypot(*place) == pytest.approx(30.5, abs=0.06)
    plain: Any = SimpleNamespace(dark=drawn(away - 30.0, 0.5), pixel=PIXEL)
    assert _beside(plain, around(40.0, 30.0)) == []


def test_a_line_close_beside_an_outline_is_a_second_one() -> None:
    x, y = grid(800, 800)
    away, angle = np.hypot(x - 40.0, y - 40.0), np.arctan2(y - 40.0, x - 40.0)
    # Two millimetres inside, over 45 mm to the right.
    twin = np.where(np.abs(angle) < 0.8, away - 28.0, 9.0)
    ink: Any = SimpleNamespace(
        dark=np.maximum(drawn(away - 30.0, 0.5), drawn(twin, 0.5)), pixel=PIXEL
    )
    (spot,) = _beside(ink, around(40.0, 30.0))
    assert spot.words.startswith("a second line runs close beside an outline")
    place = np.array(spot.place) - 40.0
    assert math.hypot(*place) == pytest.approx(30.0, abs=0.05)
    assert abs(math.atan2(place[1], place[0])) < 0.8


@pytest.mark.parametrize("wide", [1.0, 3.0, 8.0])
def test_a_hole_is_known_by_its_middle_and_width(wide: float) -> None:
    x, y = grid(800, 800)
    away, angle = np.hypot(x - 40.0, y - 40.0), np.arctan2(y - 40.0, x - 40.0)
    half = 0.5 * wide / 30.0
    ink: Any = SimpleNamespace(
        dark=np.where(np.abs(angle - 0.0) < half, 0, drawn(away - 30.0, 0.5)).astype(np.uint8),
        pixel=PIXEL,
    )
    # Across the start of the curve as anywhere else.
    ((place, width),) = holes_in(ink, around(40.0, 30.0))
    assert place == pytest.approx([70.0, 40.0], abs=0.15)
    assert width == pytest.approx(wide, abs=0.35)


def test_middles_of_cells_along_a_line_tell_the_line() -> None:
    along = np.array([0.6, 0.8])
    steps = np.linspace(0.0, 50.0, 126)[:, None]
    cells = (
        np.array([5.0, 9.0])
        + steps * along
        + 0.2 * np.array([-0.8, 0.6]) * (-1.0) ** np.arange(126).reshape(-1, 1)
    )
    found = straight_line(cells)
    assert {tuple(np.round(found.start, 1)), tuple(np.round(found.end, 1))} == {
        tuple(np.round([5.0, 9.0] + 0.5 * along, 1)),
        tuple(np.round([5.0, 9.0] + 49.5 * along, 1)),
    }
    assert off_line(cells, found) == pytest.approx(0.2, abs=0.01)
    guess = guess_along(cells)
    # Its ends, and a point every 3 mm between them.
    assert len(guess) == 16 + 2
    assert np.abs((guess - [5.0, 9.0]) @ np.array([-0.8, 0.6])).max() <= 0.21
    ahead = (guess - [5.0, 9.0]) @ along
    assert np.abs(np.diff(ahead[1:-1])).max() == pytest.approx(50.0 / 16.0, abs=0.3)
    assert sorted(ahead[[0, -1]].round(6).tolist()) == [0.0, 50.0]


def test_light_is_taken_off_a_picture_to_the_last_digit() -> None:
    """The light falls evenly from the upper left; a smaller picture of it tells it exactly."""
    high, wide, less = 600, 24, 3
    y, x = np.mgrid[:high, :wide] + 0.5
    share = np.where((np.arange(wide) % 5 == 0)[None, :], 0.4, 0.8)
    small_y, small_x = np.mgrid[: high // less, : wide // less] * less + 0.5 * less
    light = np.stack([250.0 - 0.1 * small_y - k * small_x for k in range(3)], axis=-1)
    image = np.stack([share * (250.0 - 0.1 * y - k * x) for k in range(3)], axis=-1)
    found = _divided(opencv(), image.round().astype(np.uint8), light.astype(np.float32))
    inner = slice(less, -less), slice(less, -less)
    # Paper comes to 245; a picture of whole numbers is half a one off, more where it is dark.
    truth = np.repeat(245.0 * share[None, :, :].repeat(high, axis=0).reshape(high, wide, 1), 3, 2)
    away = found[inner].astype(float) - truth[inner]
    assert np.abs(away).max() <= 0.5 + 245.0 * 0.5 / 150.0
    assert abs(away.mean()) < 0.1
    # RGB of BGR: the first channel of the light is the last of what comes out.
    tinted = np.full((8, 8, 3), [40, 90, 200], dtype=np.uint8)
    even = _divided(opencv(), tinted, np.full((4, 4, 3), 245.0, dtype=np.float32))
    assert (even == [200, 90, 40]).all()


def test_the_paper_s_light_is_enlarged_to_where_it_lies_in_the_picture() -> None:
    """A slope of light is the same slope in the picture, 3 and 5 times as large each way."""
    v, u = np.mgrid[:10, :8] + 0.5
    paper = (200.0 + 4.0 * v - 3.0 * u).astype(np.float32)
    rows = slice(12, 24)
    y, x = np.mgrid[rows, :40] + 0.5
    found = _enlarged(opencv(), paper, rows, (30, 40))
    # Beyond the middles of the outermost cells the light is as there.
    assert found[:, 3:-3] == pytest.approx((200.0 + 4.0 * y / 3.0 - 0.6 * x)[:, 3:-3], abs=0.1)


def seen(*strips: tuple[float, float, float]) -> Any:
    """Strips that lie so: x, y in mm and the turn in radians."""
    places = dict(enumerate(strips))

    def on_plane(name: int, points: FloatArray) -> FloatArray:
        x, y, turn = places[name]
        c, s = math.cos(turn), math.sin(turn)
        return np.array([x, y]) + points @ np.array([[c, s], [-s, c]])

    return SimpleNamespace(strips=tuple(places), on_plane=on_plane)


def test_a_paper_from_above_lies_along_its_first_strip() -> None:
    turn, scale = 0.6, 1.25
    c, s = math.cos(turn), math.sin(turn)
    own = np.array([[c, s], [-s, c]])
    far = np.array([300.0, 400.0]) @ own
    frame = raster_of(seen((50.0, -70.0, turn), (50.0 + far[0], -70.0 + far[1], turn)), scale)
    low, high = cards.outline().min(axis=0), cards.outline().max(axis=0)
    # 15 mm round both strips, 0.2 mm to a pixel in true size.
    size = scale * (high + [300.0, 400.0] - low + 30.0) / 0.2
    assert (frame.wide, frame.high) == tuple(np.ceil(size - 1e-9).astype(int))
    corner = np.array([50.0, -70.0]) + (low - 15.0) @ own
    assert frame.origin == pytest.approx(corner)
    assert frame.pixels(corner[None]) == pytest.approx(np.array([[-0.5, -0.5]]))
    ahead = corner + np.array([10.0, 20.0]) @ own
    assert frame.pixels(ahead[None])[0] == pytest.approx([62.0, 124.5])
    columns, rows = np.array([3.0, 90.0]), np.array([0.0, 7.0, 8.0])
    every = np.stack(np.meshgrid(columns, rows), axis=-1)
    back = frame.pixels(frame.plane(columns, rows).reshape(-1, 2))
    assert back.reshape(every.shape) == pytest.approx(every)
    with pytest.raises(PhotoError, match="too large a paper at once"):
        raster_of(seen((0.0, 0.0, 0.0), (3000.0, 1500.0, 0.0)), 1.0)


@pytest.mark.parametrize("upright", [False, True])
def test_a_frame_may_have_gaps_of_four_cells(upright: bool) -> None:
    rest = np.zeros((60, 80), dtype=bool)
    rest[[5, 54], 5:75] = rest[5:55, [5, 74]] = True
    inside = np.zeros((60, 80), dtype=np.uint8)
    inside[10:50, 12:60] = 1
    speck = rest.copy()
    speck[30, 66] = True
    assert (frame_round(None, speck, inside) & speck).sum() == rest.sum()  # type: ignore[arg-type]
    for gap, closed in ((4, True), (5, False)):
        cut = rest.copy()
        where = slice(20, 20 + gap)
        cut[(where, slice(None)) if upright else (slice(None), where)] = False
        found = frame_round(None, cut, inside) & cut  # type: ignore[arg-type]
        assert found.sum() == (cut.sum() if closed else 0)


def test_what_is_being_done_is_told_by_the_part_that_is_done() -> None:
    told = [step_words(part) for part in (0.0, 0.24, 0.25, 0.39, 0.4, 0.79, 0.8, 1.0)]
    assert (
        told[0::2]
        == told[1::2]
        == [
            "looking for the strips",
            "working out where the camera stood",
            "seeing the paper from above",
            "following the lines",
        ]
    )


def test_a_table_s_edge_is_where_paper_is_nearly_a_third_lighter_and_no_strip_lies() -> None:
    """Within 3.5 mm of a step on each side, counted in whole pixels; strips do not count."""
    light = np.full((30, 60, 3), 100.0, dtype=np.float32)
    for brighter, told in ((1.29, False), (1.31, True)):
        light[:, 30:] = 100.0 * brighter
        for per_mm, reach in ((1.0, 4), (2.0, 7), (0.5, 2)):
            found = _edges(opencv(), light, np.ones((30, 60), np.uint8), per_mm)
            truth = np.zeros((30, 60), dtype=np.uint8)
            truth[:, 30 - reach : 30 + reach] = told
            assert found.tolist() == truth.tolist()
    bare = np.ones((30, 60), np.uint8)
    bare[:, 30:] = 0
    assert not _edges(opencv(), light, bare, 1.0).any()


def test_the_darkest_place_across_a_line_is_at_most_four_pixels_aside() -> None:
    plane = np.random.default_rng(3).integers(0, 255, (30, 40)).astype(np.uint8)
    pixel = 0.2
    points = np.array([(3.1, 2.9), (0.3, 0.3), (7.9, 5.9), (4.05, 3.3)])
    normals = np.array([(1.0, 0.0), (0.0, 1.0), (0.6, 0.8), (-0.8, 0.6)])
    wanted = []
    for (x, y), (across, down) in zip(points, normals, strict=True):
        seen = []
        for k in range(-4, 5):
            column = math.floor((x + k * pixel * across) / pixel)
            row = math.floor((y + k * pixel * down) / pixel)
            seen.append(plane[min(max(row, 0), 29), min(max(column, 0), 39)])
        wanted.append(max(seen) / FULL)
    assert _darkest(plane, pixel, points, normals).tolist() == wanted


@pytest.mark.parametrize("scale", [1.0, 1.25])
def test_the_paper_lies_within_the_hull_of_its_strips_and_not_under_them(scale: float) -> None:
    """By shapely: 15 mm more than the hull, and 1.5 mm round each strip less."""
    from shapely import MultiPoint, Polygon, contains_xy

    placed = seen((0.0, 0.0, 0.0), (90.0, 160.0, 0.4), (-20.0, 150.0, -0.3))
    frame = raster_of(placed, scale)
    masked, within = _masks(opencv(), placed, frame)
    reach = scale / PIXEL_MM
    strips = [frame.pixels(placed.on_plane(name, cards.outline())) for name in placed.strips]
    hull = MultiPoint(np.concatenate(strips)).convex_hull.buffer(15.0 * reach)
    rows, columns = np.mgrid[: frame.high : 7, : frame.wide : 7]
    for found, areas, sign in (
        (within[::7, ::7], [hull], 1),
        (masked[::7, ::7] | ~within[::7, ::7], [Polygon(s).buffer(1.5 * reach) for s in strips], 0),
    ):
        # Edges are drawn to the whole pixel, and thick lines to half their width.
        for by in (-2.0, 2.0):
            inside = np.zeros(found.shape, dtype=bool)
            for area in areas:
                inside |= contains_xy(area.buffer(by), columns, rows)
            if by < 0.0:
                assert (found[inside] == bool(sign)).all()
            else:
                assert (found[~inside] != bool(sign)).all()


def test_a_waistline_between_two_places_goes_on_to_the_edges() -> None:
    box = Curve.polyline([(10.0, 10.0), (60.0, 10.0), (60.0, 90.0), (10.0, 90.0)], closed=True)
    found = _straight_across(box, np.array([(12.0, 40.0), (57.0, 46.0)]))
    assert found is not None
    rise = 6.0 / 45.0
    # Half a millimetre beyond them, so that it crosses both.
    more = 0.5 * np.array([45.0, 6.0]) / math.hypot(45.0, 6.0)
    edges = np.array([(10.0, 40.0 - 2.0 * rise) - more, (60.0, 46.0 + 3.0 * rise) + more])
    assert found.vertices[[0, -1]] == pytest.approx(edges, abs=1e-6)
    # Too short, and where no edges are.
    assert _straight_across(box, np.array([(12.0, 40.0), (13.0, 40.0)])) is None
    assert _straight_across(box, np.array([(112.0, 40.0), (157.0, 40.0)])) is None


def test_runs_that_meet_stay_bowed_as_they_are() -> None:
    """Four sides that bow by 0.12 mm: straight if their places were not known better."""
    corners = np.array([(10.0, 10.0), (60.0, 10.0), (60.0, 90.0), (10.0, 90.0)])
    runs, wanted = [], []
    for first, last in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        t = np.linspace(0.0, 1.0, 160)[:, None]
        across = np.array([last[1] - first[1], first[0] - last[0]])
        across = across / np.hypot(*across)
        side = first + t * (last - first) + 4.0 * 0.12 * t * (1.0 - t) * across
        runs.append(fit_run(side[3:-3], 0.0))
        wanted.append(side)
    assert not any(run.straight for run in runs)
    found = _meeting(runs, 1.0)
    assert not any(run.straight for run in found)
    for run, side in zip(found, wanted, strict=True):
        ends = run.spline([0.0, run.length])
        assert ends == pytest.approx(side[[0, -1]], abs=0.05)
        middle = np.asarray(run.spline(0.5 * run.length))
        assert middle == pytest.approx(side[79:81].mean(axis=0), abs=0.02)
        # Both its halves are alike.
        parts = np.asarray(run.spline(np.array([0.02, 0.1, 0.3, 0.7, 0.9, 0.98]) * run.length))
        off = parts - middle
        chord = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
        assert off @ chord == pytest.approx(-(off @ chord)[::-1], abs=1e-6)
        across = np.array([chord[1], -chord[0]])
        assert off @ across == pytest.approx((off @ across)[::-1], abs=1e-6)


RED_AT: list[Any] = [
    # Words, kind and place of what is said of a lone red line so long, and its remedy.
    (30.0, "1 red lines or marks outside the panels, not read: the longest of them", ""),
    (150.0, "a long red line lies outside the panels: outlines are read in dark pens alone", "If"),
]


@pytest.mark.parametrize(("long", "words", "remedy"), RED_AT)
def test_a_lone_red_line_is_told_at_its_middle(long: float, words: str, remedy: str) -> None:
    cell = 0.5
    red = np.zeros((80, 400), dtype=bool)
    red[40, 20 : 20 + round(long / cell)] = True
    red[60, 300:320] = True
    ink: Any = SimpleNamespace(red_ridges=SimpleNamespace(sure=red), cell=cell)
    (spot,) = red_left(ink, (), (), np.zeros(red.shape), ())
    assert spot.words.startswith(words.replace("1 red", "2 red"))
    assert spot.place == pytest.approx((10.0 + 0.5 * long, 20.25), abs=0.6)
    assert spot.remedy[:2] == remedy
    if remedy:
        assert f"(--strike {spot.place[0]:.0f} {spot.place[1]:.0f})" in spot.remedy
    # What lies on a panel, or was struck out, is not told; nor what is too short.
    within = np.zeros(red.shape)
    within[30:70] = 1.0
    assert red_left(ink, (), (), within, ()) == []
    assert len(red_left(ink, (), (), np.zeros(red.shape), ((155.0, 30.25),))) == 1
    red[:] = False
    red[40, 20:26] = True
    assert red_left(ink, (), (), np.zeros(red.shape), ()) == []


@pytest.mark.parametrize("turn", [0.0, 0.5, 0.5 * math.pi, 2.0])
def test_a_ruler_is_long_narrow_and_of_another_colour_or_full_of_lines(turn: float) -> None:
    c, s = math.cos(turn), math.sin(turn)
    along, across = np.array([c, s]), np.array([-s, c])
    middle = np.array([120.0, 110.0])
    y, x = np.mgrid[:1100, :1200]
    at = np.stack([x + 0.5, y + 0.5], axis=-1) * 0.2 - middle

    def paper(*bands: tuple[float, int]) -> Rectified:
        """White, with bands of a width in mm and of a grey all along."""
        image = np.full((1100, 1200, 3), 230, dtype=np.uint8)
        for wide, grey in bands:
            on = (np.abs(at @ across) <= 0.5 * wide) & (np.abs(at @ along) <= 75.0)
            image[on] = grey
        return Rectified(image, np.ones((1100, 1200), dtype=bool), 0.2, 0.1, ())

    def ring(long: float, wide: float) -> FloatArray:
        return np.array(
            [
                middle + a * 0.5 * long * along + b * 0.5 * wide * across
                for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
            ]
        )

    yellow, plain = paper((20.0, 190)), paper()
    assert is_ruler(yellow, ring(150.0, 20.0), 340.0)
    assert not is_ruler(plain, ring(150.0, 20.0), 340.0)
    # A line down the middle of white paper makes it no ruler.
    assert not is_ruler(paper((4.0, 60)), ring(150.0, 20.0), 340.0)
    # Full of lines it is one whatever its colour.
    assert is_ruler(plain, ring(150.0, 20.0), 2.5 * 340.0 + 1.0)
    assert not is_ruler(plain, ring(150.0, 20.0), 2.5 * 340.0 - 1.0)
    # Neither as broad as a panel, nor short, nor a single line.
    for long, wide in ((150.0, 61.0), (75.0, 20.0), (150.0, 4.0)):
        assert not is_ruler(yellow, ring(long, wide), 9_999.0)


def test_what_is_left_over_is_as_long_as_its_line() -> None:
    """An arch of 3 by 40 mm, on cells of 0.5 mm; and a straight line, which is as long as it is."""
    cell = 0.5
    rest = np.zeros((240, 300), dtype=bool)
    rest[20, 20:100] = rest[100, 20:100] = rest[20:101, 20] = True
    rest[200, 50:150] = True
    plain = np.zeros((240, 300), np.uint8)
    blank = Rectified(np.dstack([plain] * 3), plain == 0, 0.2, 0.1, ())
    ink: Any = SimpleNamespace(cell=cell)
    found = sort_leftover(blank, ink, rest, plain.astype(np.float32), plain > 0, ())
    lengths = {one.kind: round(one.length) for one in found}
    assert sorted(round(one.length) for one in found) == pytest.approx([50, 120], abs=2), lengths
