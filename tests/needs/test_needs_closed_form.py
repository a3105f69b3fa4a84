"""Layouts whose length is known without a computer."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift.errors import StackError
from panelshift.needs import packing
from panelshift.needs.bounds import _profile, lower_bound
from panelshift.needs.buying import ClothOptions, lay
from panelshift.needs.laid import LaidPiece, _room_before, pushed_together
from panelshift.needs.packing import effort_for
from panelshift.needs.pieces import Piece
from panelshift.needs.solver import solve
from panelshift.outline import Curve
from tests.support.cloth import faults, gored, piece, piles, rectangle, wedge
from tests.support.examples import examples
from tests.support.strategies import lengths

NAP = ClothOptions(nap=True)
FREE = ClothOptions()


def test_one_piece_takes_its_own_length() -> None:
    layout = lay("cloth", [rectangle(80, 333)], 500.0, FREE)
    assert layout.length == pytest.approx(333.0)
    assert layout.bound == pytest.approx(333.0)
    assert layout.above_bound == pytest.approx(0.0)
    assert layout.share == pytest.approx(80 / 500)


@pytest.mark.parametrize(("count", "length"), [(3, 200.0), (6, 403.0), (7, 606.0)])
@pytest.mark.slow
def test_rectangles_that_fill_the_width_exactly(count: int, length: float) -> None:
    # Three of 100 mm and two gaps of 3 mm on 306 mm.
    pieces = [rectangle(100, 200, copy=k) for k in range(count)]
    layout = lay("cloth", pieces, 306.0, FREE, gap=3.0, effort=10)
    assert layout.length == pytest.approx(length)
    # Two rows are proved to be the best; of three the third is above the bound by area.
    assert layout.bound == pytest.approx({3: 200.0, 6: 403.0, 7: 700 * 200 / 306}[count], abs=0.03)
    assert faults(layout) == []


def test_what_fills_the_width_to_the_last_bit_shares_a_row() -> None:
    # 1.1 + 2.2 is more than 3.3 by the last bit; the two are no neighbours by length.
    pieces = [rectangle(1.1, 200), rectangle(3.3, 190), rectangle(2.2, 180)]
    layout = lay("cloth", pieces, 3.3, FREE, gap=0.0, effort=0)
    assert layout.length == pytest.approx(390.0)


def test_rectangles_tile_the_cloth_without_a_gap() -> None:
    layout = lay(
        "cloth", [rectangle(100, 200, copy=k) for k in range(6)], 300.0, FREE, gap=0.0, effort=10
    )
    assert layout.length == pytest.approx(400.0)
    assert layout.above_bound == pytest.approx(0.0, abs=1e-4)
    assert layout.share == pytest.approx(1.0)
    assert faults(layout) == []


def test_a_piece_as_wide_as_the_cloth_is_laid() -> None:
    layout = lay("cloth", [rectangle(300, 100), rectangle(300, 50)], 300.0, FREE)
    assert layout.length == pytest.approx(153.0)


@pytest.mark.slow
def test_two_triangles_make_a_rectangle_only_if_one_may_be_turned() -> None:
    # Along the slanted side the gap of 2 mm takes 2 / cos of cloth across.
    width = 100.0 + 2.0 * np.hypot(100, 300) / 300 + 1.0
    pieces = [wedge(100, 300, copy=k) for k in (1, 2)]
    free = lay("cloth", pieces, width, FREE, gap=2.0)
    held = lay("cloth", pieces, width, NAP, gap=2.0)
    assert free.length < 310.0
    assert sum(lying.turned for lying in free.laid) == 1
    # Lying the same way the second moves along by the height of the first where it stands.
    assert held.length > 550.0
    assert not any(lying.turned for lying in held.laid)
    assert faults(free) == faults(held) == []


def test_a_short_piece_goes_into_a_hollow() -> None:
    hollow = piece([(0, 0), (100, 0), (100, 300), (60, 300), (60, 100), (0, 100)], "hollow")
    layout = lay("cloth", [hollow, rectangle(50, 150)], 101.0, FREE, gap=3.0)
    assert layout.length == pytest.approx(300.0)
    assert faults(layout) == []


def test_bound_by_the_line_half_way() -> None:
    # On cloth shorter than twice 200 and the gap, all three cross the middle: 300 on 250.
    pieces = [rectangle(100, length, copy=k) for k, length in enumerate((300, 300, 200))]
    assert lower_bound(pieces, 250.0, 0.0) == pytest.approx(400.0, abs=0.02)
    assert lower_bound(pieces, 250.0, 3.0) == pytest.approx(403.0, abs=0.02)
    # Five that narrow from 100 to 50 over 300: on a length L each is at least 100 - L / 12
    # wide on the line, and five times that is 300 at L = 480. Their area asks for 375.
    tapers = [piece([(0, 0), (100, 0), (75, 300), (25, 300)], copy=k) for k in range(5)]
    assert lower_bound(tapers, 300.0, 0.0) == pytest.approx(480.0, abs=0.2)
    assert lower_bound(tapers, 200.0, 0.0) == pytest.approx(max(562.5, 600.0), abs=0.2)


@given(piles, lengths(170, 600), st.booleans(), st.sampled_from((0.0, 3.0, 10.0)))
def test_rows_never_overlap_nor_beat_the_bound(
    pieces: list, width: float, nap: bool, gap: float
) -> None:
    layout = lay("cloth", pieces, width, ClothOptions(nap=nap), gap=gap, effort=0)
    assert faults(layout) == []
    assert len(layout.laid) == len(pieces)
    assert not (nap and any(lying.turned for lying in layout.laid))


@examples(8)
@given(st.lists(gored(), min_size=2, max_size=6), lengths(170, 400), st.booleans())
def test_nests_never_overlap_nor_exceed_rows(pieces: list, width: float, nap: bool) -> None:
    options = ClothOptions(nap=nap)
    layout = lay("cloth", pieces, width, options, effort=6)
    rows = lay("cloth", pieces, width, options, effort=0)
    assert faults(layout) == []
    assert layout.length <= rows.length + 1e-9
    assert layout.nested
    assert not (nap and any(lying.turned for lying in layout.laid))


def test_effort_grows_with_the_pieces() -> None:
    """80 pieces stayed in plain rows with the effort of a dozen."""
    assert [effort_for(count, 40) for count in (1, 14, 28, 84, 500)] == [40, 40, 80, 240, 240]


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(70))
def test_freedom_to_turn_pieces_never_makes_a_layout_longer(seed: int) -> None:
    """12 of 70 were longer, as the solver may end worse where it may turn pieces."""
    random = np.random.default_rng(seed)
    pieces = []
    for copy in range(random.integers(3, 9)):
        length, top, bottom, lean = random.uniform([60, 20, 20, -40], [300, 120, 120, 40])
        corners = [(0.0, 0.0), (top, 0.0), (lean + bottom, length), (lean, length)]
        pieces.append(piece(corners, copy=copy))
    width = float(random.uniform(200.0, 400.0))
    free, held = (lay("cloth", pieces, width, how, effort=4).length for how in (FREE, NAP))
    assert free <= held + 0.1


def test_folded_cloth_takes_a_pair_at_once() -> None:
    pair = [rectangle(100, 200, "side", 1), replace(rectangle(100, 200, "side", 2), mirrored=True)]
    layout = lay("cloth", pair * 3, 2 * 306.0, ClothOptions(folded=True), gap=3.0)
    # Six are cut, three lie side by side on half the width.
    assert [lying.piece.plies for lying in layout.laid] == [2, 2, 2]
    assert layout.length == layout.bound == pytest.approx(200.0)
    assert layout.share == pytest.approx(6 * 100 / 612)
    assert faults(layout) == []
    alone = lay("cloth", [rectangle(100, 200)] * 2, 2 * 306.0, ClothOptions(folded=True))
    assert [lying.piece.plies for lying in alone.laid] == [1, 1]
    with pytest.raises(StackError, match=r"does not fit on cloth 50 mm wide"):
        lay("cloth", pair, 100.0, ClothOptions(folded=True))


@pytest.mark.parametrize(("width", "length"), [(406.0, 300.0), (300.0, 503.0)])
def test_pieces_on_the_fold_lie_along_it(width: float, length: float) -> None:
    half = rectangle(100, 300, "front").outline
    whole = Curve.polyline([(-100, 0), (100, 0), (100, 300), (-100, 300)], closed=True)
    pieces = [Piece("front", 1, False, whole, half), *[rectangle(100, 200)] * 1]
    pieces.append(replace(pieces[1], copy=2, mirrored=True))
    layout = lay("cloth", pieces, width, ClothOptions(folded=True), gap=3.0, effort=0)
    front, side = layout.laid
    assert front.piece.held
    assert front.box[0, 0] == 0.0
    assert side.piece.plies == 2
    # Beside it where there is room, else behind it.
    assert layout.length == pytest.approx(length)
    assert layout.area == pytest.approx(200 * 300 + 2 * 100 * 200)


def test_a_piece_meets_another_with_a_corner_of_either() -> None:
    """A roof below a box: its ridge meets the box's floor, or two walls a valley's sides."""
    box = np.array([(20.0, 60.0), (80.0, 60.0), (80.0, 100.0), (20.0, 100.0)])
    roof = np.array([(0.0, 0.0), (100.0, 0.0), (50.0, 40.0)])
    valley = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 40.0), (50.0, 0.0), (0.0, 40.0)])
    aside = np.array([200.0, 0.0])
    assert _room_before(box, roof) == pytest.approx(20.0)
    assert _room_before(box, valley) == pytest.approx(60.0 - 40.0 * 30.0 / 50.0)
    # Upside down the corner that leads is the moving one's.
    assert _room_before(100.0 - roof, [100.0, 60.0] - box) == pytest.approx(60.0)
    assert _room_before(box - [0.0, 20.0], roof) == 0.0
    assert _room_before(box + aside, roof) == np.inf


def test_nothing_but_pieces_on_the_fold_lies_below_each_other_in_their_order() -> None:
    pieces = []
    for name, wide, long in (("front", 100.0, 300.0), ("back", 80.0, 120.0)):
        corners = [(-wide, 0), (wide, 0), (wide, long), (-wide, long)]
        whole = Curve.polyline(corners, closed=True)
        pieces.append(Piece(name, 1, False, whole, rectangle(wide, long).outline))
    for effort in (0, 40):
        layout = lay("cloth", pieces, 406.0, ClothOptions(folded=True), gap=3.0, effort=effort)
        assert [lying.piece.name for lying in layout.laid] == ["front", "back"]
        boxes = np.array([lying.box for lying in layout.laid])
        expected = [[(0.0, 0.0), (100.0, 300.0)], [(0.0, 303.0), (80.0, 423.0)]]
        assert boxes == pytest.approx(np.array(expected))
        assert layout.nested == (effort > 0)
        assert layout.area == 2.0 * (100.0 * 300.0 + 80.0 * 120.0)
    # What is not held lies beside the widest of them.
    layout = lay(
        "cloth",
        [rectangle(60, 200, "side", 1), pieces[1], pieces[0]],
        2.0 * 170.0,
        ClothOptions(folded=True),
        gap=3.0,
        effort=0,
    )
    side, back, front = layout.laid
    assert [lying.piece.name for lying in layout.laid] == ["side", "back", "front"]
    assert side.box[0] == pytest.approx([103.0, 0.0])
    assert [back.box[0, 1], front.box[0, 1]] == pytest.approx([0.0, 123.0])
    assert layout.length == pytest.approx(423.0)


def test_no_layout_is_shorter_than_its_area_and_its_longest_piece() -> None:
    """Many small pieces, none of which lies across the middle of the cloth by itself."""
    small = [rectangle(30, 10, copy=k) for k in range(100)]
    assert lower_bound(small, 100.0, 0.0) == pytest.approx(100 * 30 * 10 / 100.0)
    assert lower_bound([*small[:4], rectangle(20, 80)], 100.0, 0.0) == pytest.approx(80.0)


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 2, 0)])
def test_pieces_are_pushed_until_they_meet_whatever_their_order(order: tuple[int, ...]) -> None:
    # Two under each other in one column, a third beside them; 4 mm between any two.
    places = [(0.0, 0.0), (0.0, 500.0), (200.0, 90.0)]
    laid = [LaidPiece(rectangle(100, 50 + 10 * k), False, np.array(places[k])) for k in order]
    found = pushed_together(laid, 4.0)
    at = {k: lying.box[0] for k, lying in zip(order, found, strict=True)}
    assert at[0] == pytest.approx((0.0, 0.0))
    assert at[2] == pytest.approx((200.0, 0.0))
    assert at[1][0] == 0.0
    # The room kept round a piece is a little outside its corners.
    assert 54.0 - 1e-6 <= at[1][1] < 54.2


def test_what_the_solver_answers_is_laid_from_the_beginning(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pieces = [rectangle(50, 100), rectangle(60, 80)]
    asked: list[dict] = []

    def answer(task: str) -> str:
        asked.append(json.loads(task))
        return f"chatter\n{json.dumps(answers)}"

    monkeypatch.setattr(packing, "_run_child", answer)
    # Along the cloth, then across it; the second is turned.
    answers = [[0.0, 107.0, 2.0], [180.0, 90.0, 130.0]]
    laid, used = packing._solved(pieces, 500.0, 4.0, [0.0, 180.0], 1, 7, 100.0)
    assert used
    assert laid is not None
    assert [lying.turned for lying in laid] == [False, True]
    assert [lying.piece for lying in laid] == pieces
    boxes = np.array([lying.box for lying in laid])
    assert boxes[:, 0, 1].min() == pytest.approx(0.0)
    assert boxes[0, 0] == pytest.approx((0.0, 107.0 - (90.0 - 80.0)))
    assert boxes[1, 1] == pytest.approx((128.0, 80.0))
    (task,) = asked
    assert (task["width"], task["seed"], task["turns"]) == (504.0, 7, [0.0, 180.0])
    # The solver's x runs along the cloth: rings are as long as pieces with the gap round them.
    assert [np.ptp(ring, axis=0).tolist() for ring in task["rings"]] == [
        pytest.approx([104.5, 54.5], abs=0.5),
        pytest.approx([84.5, 64.5], abs=0.5),
    ]
    answers = answers[:1]
    assert packing._solved(pieces, 500.0, 4.0, [0.0], 1, 7, 100.0) == (None, True)
    assert packing._solved([rectangle(501, 9)], 500.0, 4.0, [0.0], 1, 7, 9.0) == (None, True)
    monkeypatch.setattr(packing, "_run_child", lambda task: None)
    assert packing._solved(pieces, 500.0, 4.0, [0.0], 1, 7, 100.0) == (None, False)


@pytest.mark.parametrize("place", [(0.0, 0.0), (-500.0, 30.0), (700.0, -90.0)])
def test_the_widths_of_a_piece_come_to_its_area_wherever_it_lies(place: tuple) -> None:
    """Trapezia between its corners, against the shoelace formula."""
    corners = np.array([(0, 5), (60, 0), (90, 40), (80, 120), (30, 70), (10, 160)]) + place
    heights, widths = _profile(piece([tuple(corner) for corner in corners]))
    assert heights[0, 0] == 0.0
    assert heights[-1, 1] == pytest.approx(160.0)
    assert heights[1:, 0] == pytest.approx(heights[:-1, 1])
    x, y = corners.T
    shoelace = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
    assert (np.diff(heights, axis=1)[:, 0] @ widths.mean(axis=1)) == pytest.approx(shoelace)


@pytest.mark.parametrize(
    ("effort", "enough", "width"),
    [
        (1, 0.0, 90.0),  # stops at the first report of work, with what was found before it
        (3, 0.0, 80.0),  # an attempt in vain counts for many
        (99, 0.0, 70.0),  # never reached: to the library's own end
        (99, 85.0, 80.0),  # short enough
    ],
)
def test_the_solver_stops_by_reports_of_work(
    effort: int, enough: float, width: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The library's place is taken by one that reports what is written here."""
    reports = [("found", 90.0), ("better", 90.0), ("found", 80.0), ("vain", 80.0), ("found", 70.0)]
    given: dict = {}

    def found(length: float) -> SimpleNamespace:
        lain = [SimpleNamespace(id=str(k), rotation=0.0, translation=(length, k)) for k in (1, 0)]
        return SimpleNamespace(width=length, placed_items=lain)

    library = SimpleNamespace(
        Item=lambda *item: item,
        StripPackingInstance=lambda *instance: SimpleNamespace(solve=lambda *run: None),
        StripPackingConfig=lambda **config: given.update(config),
        ProgressQueue=lambda: SimpleNamespace(drain=lambda: [(k, found(v)) for k, v in reports]),
        ReportType=SimpleNamespace(ExplImproving="better", ExplInfeas="vain"),
    )
    monkeypatch.setitem(sys.modules, "spyrrow", library)
    rings = 2 * [[(0.0, 0.0), (9.0, 0.0), (9.0, 9.0)]]
    task = {"width": 50.0, "rings": rings, "turns": [0.0], "seed": 7}
    task |= {"seconds": 60.0, "parent": None}
    answer = solve({**task, "effort": effort, "enough": enough})
    assert answer == [[0.0, width, 0], [0.0, width, 1]]
    # Twice the same answer, on any machine: one thread, one seed, and no clock that ends it.
    assert (given["num_workers"], given["seed"], given["total_computation_time"]) == (1, 7, None)
    assert min(given["exploration_time"], given["compression_time"]) >= 3600
