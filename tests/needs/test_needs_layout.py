"""From a length taken up to a length to buy, and the job's keys."""

from __future__ import annotations

import math

import numpy as np
import pytest

from panelshift.cutting.extras import Extras
from panelshift.cutting.loose import loose_pieces
from panelshift.cutting.plan import Allowances, CutPlan, Cutting, cut_layers
from panelshift.errors import JobError, StackError
from panelshift.job import read_job
from panelshift.job.result import cloth_options, fit_job
from panelshift.needs import packing
from panelshift.needs.buying import ROWS_ONLY, ClothOptions, Layout, bought, fabric_needs, lay
from panelshift.needs.cloth_picture import layout_picture
from panelshift.needs.cutting_list import ListLine, list_words
from panelshift.needs.laid import LaidPiece, pushed_together
from panelshift.needs.pieces import layer_pieces
from panelshift.stack import Fabric, Stack
from panelshift.units import to_mm
from tests.support.cloth import rectangle
from tests.support.drafts import drawn, walls
from tests.support.runs import run, sample


def laid(length: float, **options: float) -> Layout:
    return lay("cloth", [rectangle(80, length)], 500.0, ClothOptions(**{"spare": 0.0, **options}))


def test_shrinkage_and_spare_are_added() -> None:
    # What is bought shrinks as a whole: (485 + 15) / (1 - 0.2).
    assert laid(485.0, shrinkage=0.2, spare=15.0).needed == pytest.approx(625.0)
    assert laid(485.0).needed == pytest.approx(485.0)


@pytest.mark.parametrize(
    ("length", "unit", "mm", "words"),
    [
        (400.0, "mm", 400.0, "0.4 m"),
        (400.1, "mm", 500.0, "0.5 m"),
        (400.1, "cm", 500.0, "0.5 m"),
        (457.2, "in", 457.2, "1/2 yd"),
        (457.3, "in", 571.5, "5/8 yd"),
        (914.4, "in", 914.4, "1 yd"),
        (1000.0, "in", 1028.7, "1 1/8 yd"),
    ],
)
def test_length_to_buy_is_rounded_up_to_what_shops_sell(
    length: float, unit: str, mm: float, words: str
) -> None:
    layout = laid(length)
    assert layout.to_buy(unit) == pytest.approx(mm)
    assert layout.to_buy_text(unit) == words
    assert layout.to_buy(unit) >= layout.needed - 1e-6


def test_nothing_is_nothing() -> None:
    assert bought(0.0, "in") == "0 yd"


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"widths": ()}, "no cloth width"),
        ({"widths": (1400.0, 0.0)}, "cloth widths of 1400, 0 mm"),
        ({"widths": (math.nan,)}, "cloth widths of nan mm"),
        ({"shrinkage": 0.5}, "a shrinkage of 0.5"),
        ({"shrinkage": -0.1}, "a shrinkage of -0.1"),
        ({"shrinkage_width": 0.5}, "0.5 of the width"),
        ({"spare": -1.0}, "a spare length of -1 mm"),
        ({"spare": math.inf}, "a spare length of inf mm"),
    ],
)
def test_options_that_make_no_sense_are_refused(options: dict, words: str) -> None:
    with pytest.raises(StackError, match=words):
        ClothOptions(**options)


def test_cloth_is_bought_as_wide_as_it_is_sold() -> None:
    # What loses a tenth is laid on 450 mm, and told as the 500 mm that the shop has.
    options = ClothOptions((450.0,), shrinkage_width=0.1)
    layout = lay("cloth", [rectangle(80, 90)], 450.0, options, effort=0)
    assert (layout.cloth_width, layout.sold_width) == (450.0, 500.0)
    svg = layout_picture(layout)
    assert "on cloth 500 mm wide" in svg
    assert "cloth 450 mm wide once it is washed, selvedge to selvedge" in svg
    (words,) = list_words([ListLine("cloth", "a", 1)], CutPlan(), [layout])
    assert "of cloth 500 mm wide" in words


def test_no_piece_and_too_wide_a_piece_are_refused() -> None:
    with pytest.raises(StackError, match="no piece is cut of 'cloth'"):
        lay("cloth", [], 500.0, ClothOptions())
    with pytest.raises(StackError, match=r"piece 'wide' is 23\.62 in wide .* cloth 19\.69 in"):
        lay("cloth", [rectangle(600, 10, "wide")], 500.0, ClothOptions(), unit="in")
    with pytest.raises(StackError, match=r"piece 'wide' is 11\.81 in wide .* cloth 9\.84 in"):
        lay("cloth", [rectangle(300, 10, "wide")], 500.0, ClothOptions(folded=True), unit="in")


JOB = """
[pattern]
file = "corset.svg"

[[stack.fabric]]
name = "plain"
thickness = 0.2

[[stack.fabric]]
name = "velvet"
thickness = 0.8
"""


def _job(tmp_path, lines: str):
    file = tmp_path / "job.toml"
    file.write_text(JOB + lines)
    return read_job(file)


def test_the_job_says_how_cloth_is_sold(tmp_path) -> None:
    keys = 'cloth_widths = [1400, "60 in"]\nnap = true\nshrinkage = 0.03\nspare = "2 in"\n'
    keys += "shrinkage_width = 0.1\nfolded = true\n"
    options = cloth_options(_job(tmp_path, keys))
    assert options["plain"] == ClothOptions()
    assert options["velvet"] == ClothOptions(
        (1400.0 * 0.9, to_mm("60 in") * 0.9), True, 0.03, 50.8, True, 0.1
    )


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("cloth_widths = []", "needs at least one width"),
        ("cloth_widths = [1]", "at least 50"),
        ('cloth_widths = ["wide"]', "'wide' is not a length"),
        ("shrinkage = 3.0", "less than 0.5"),
        ("nap = 1", "nap"),
        ("spare = -1", "at least 0"),
    ],
)
def test_faults_of_the_keys_are_named(tmp_path, lines: str, words: str) -> None:
    with pytest.raises(JobError) as caught:
        _job(tmp_path, lines)
    assert words in str(caught.value)
    assert "stack.fabric" in str(caught.value)


@pytest.mark.slow
def test_a_job_is_laid_by_its_keys() -> None:
    result = sample("hourglass")
    found = fit_job(result.job, result.shifted).needs
    assert [layout.cloth_width for layout in found.layouts] == [1400.0] * 4
    assert {layout.to_buy_text() for layout in found.layouts} == {"0.5 m"}


def test_a_piece_is_pushed_to_its_neighbour_and_none_away_from_the_beginning() -> None:
    laid = [
        LaidPiece(rectangle(100, 50, name), False, np.array(at))
        for name, at in (
            ("before", (0.0, -3.0)),
            ("behind", (20.0, 90.0)),
            ("beside", (300.0, 70.0)),
        )
    ]
    found = pushed_together(laid, 6.0)
    assert found[0].at.tolist() == [0.0, -3.0]
    # Six millimetres behind the first one's end at 47 mm; nothing is before the third.
    assert 53.0 <= found[1].at[1] < 53.25
    assert found[1].at[0] == 20.0
    assert found[2].at == pytest.approx([300.0, 0.0], abs=1e-9)


def test_pieces_have_the_allowances_of_their_own_cloth() -> None:
    shifted = sample("hourglass").shifted
    plain = CutPlan(allowances={})
    wide = CutPlan(allowances={"brocade": Allowances(top=30.0, bottom=45.0)})
    for layer in cut_layers(shifted):
        pairs = zip(
            layer_pieces(shifted, layer, plain), layer_pieces(shifted, layer, wide), strict=True
        )
        grown = [after.length - before.length for before, after in pairs]
        own = layer.fabric.name == "brocade"
        # From 10 mm each: 20 and 35 mm more, a little else where an end is not level.
        assert grown == [pytest.approx(55.0, abs=8.0) if own else 0.0] * len(grown)


def test_what_is_to_be_known_of_layouts_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """Widths that are too narrow, folded ones by half; that the solver was not to be had."""
    shifted = run(drawn(walls((45.0, 80.0))), Stack([Fabric("drill", 0.5)])).shifted
    monkeypatch.setattr(packing, "_run_child", lambda _: None)
    cloth = {"drill": ClothOptions((150.0, 190.0, 90.0), folded=True)}
    found = fabric_needs(shifted, CutPlan(), cloth)
    # With 10 mm of allowance on either side.
    wide = "piece 'wall 2' is 100 mm wide across the grain with its allowances, and does not fit"
    assert found.warnings == tuple(
        f"drill: {wide} on cloth {half} mm wide. Take wider cloth, or divide the piece."
        for half in (75, 95, 45)
    )
    assert found.layouts == ()
    found = fabric_needs(shifted, CutPlan(), {"drill": ClothOptions((150.0,))})
    assert [(lay.nested, lay.cloth_width) for lay in found.layouts] == [(False, 150.0)]
    assert found.warnings == (f"fabric needs: {ROWS_ONLY}",)
    # Rows that were asked for are no news.
    assert fabric_needs(shifted, CutPlan(), effort=0).warnings == ()


def test_every_piece_of_a_cloth_is_laid_with_it_and_none_of_another_s() -> None:
    stack = Stack([Fabric("drill", 0.5), Fabric("silk", 0.2)], "drill")
    shifted = run(drawn(walls((45.0, 80.0))), stack).shifted
    extras = Extras(binding=8.0, front_facing=25.0, modesty=60.0, fabric={"modesty": "drill"})
    plan = CutPlan(extras=extras, cuttings={"wall 2": Cutting(3)})
    loose = loose_pieces(shifted, plan, 40.0)
    panels = ["wall 1"] * 2 + ["wall 2"] * 3
    beside = {
        cloth: [item.name for item in loose for _ in range(item.count) if item.cloth == cloth]
        for cloth in ("drill", "silk")
    }
    assert all(beside.values())
    options = {"drill": ClothOptions((400.0, 700.0))}
    for layout in fabric_needs(shifted, plan, options, loose=loose, effort=0).layouts:
        names = [lying.piece.name for lying in layout.laid]
        assert names == [*panels, *beside[layout.fabric]]
        # The smaller half of an odd count is mirrored.
        assert [lying.piece.mirrored for lying in layout.laid][:5] == [
            *(False, True),
            *(False, False, True),
        ]
