"""Which layers are printed, on which papers, and the sheet and the roll that hold them."""

from __future__ import annotations

import pytest

from panelshift.cutting.plan import CutPlan
from panelshift.cutting.verdict import verdict
from panelshift.errors import PrintError
from panelshift.outline import Curve
from panelshift.printing import layer_prints
from panelshift.printing.layer_prints import print_layers
from panelshift.printing.sheet_prints import _together, print_roll
from panelshift.sheets.sheet import Sheet, Stroke
from panelshift.stack import Fabric, Stack
from tests.support.drafts import drawn, walls
from tests.support.prints import options
from tests.support.runs import run

WALLS = drawn(walls((45.0, 50.0, 55.0)))


@pytest.fixture
def printed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Prints are told by their layers' names, and not made."""
    monkeypatch.setattr(layer_prints, "_layer", lambda _order, layer, *_: layer.fabric.name)
    monkeypatch.setattr(
        layer_prints, "_nested", lambda _order, layers: [layer.fabric.name for layer in layers]
    )


@pytest.mark.usefixtures("printed")
def test_a_chosen_layer_s_paper_is_the_one_that_serves_it() -> None:
    cloths = tuple(Fabric(f"cloth {k}", 0.6) for k in range(4))
    shifted = run(WALLS, Stack(cloths, "cloth 0")).shifted
    # So exactly that the drafted layer's paper serves its neighbour too, and the outer one's its.
    step = max(verdict(shifted, CutPlan(accuracy=20.0)).apart) / 3.0
    plan = CutPlan(accuracy=1.5 * step)
    for chosen, papers in (
        ([], ["cloth 0", "cloth 3"]),
        (["cloth 1"], ["cloth 0"]),
        (["cloth 2"], ["cloth 3"]),
        (["cloth 2, cloth 1"], ["cloth 0", "cloth 3"]),
    ):
        assert print_layers(shifted, plan, options(), layers=chosen, share=True) == papers
        alone = [name for name in shifted.stack.names if not chosen or name in chosen[0]]
        assert print_layers(shifted, plan, options(), layers=chosen) == alone


@pytest.mark.usefixtures("printed")
def test_a_layer_with_pieces_of_its_own_is_printed_beside_the_nested_ones() -> None:
    one = Fabric("facing", 0.4, split_at=("waist",))
    shifted = run(WALLS, Stack([Fabric("drill", 0.5), one, Fabric("silk", 0.2)], "drill")).shifted
    assert print_layers(shifted, CutPlan(), options(), nested=True) == [["drill", "silk"], "facing"]


def test_a_print_names_the_panels_that_its_layer_covers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layer_prints, "_print", lambda _order, _make, _build, _stem, about: about)
    stack = Stack(
        [Fabric("drill", 0.5), Fabric("facing", 0.4, panels=["wall 2", "wall 3"])], "drill"
    )
    whole, part = print_layers(run(WALLS, stack).shifted, CutPlan(), options())
    assert "fabric: drill, 0.5 mm thick; panels: wall 1, wall 2, wall 3" in whole
    assert "fabric: facing, 0.4 mm thick; panels: wall 2, wall 3" in part


def test_sheets_on_one_grid_are_as_large_as_the_largest_each_way() -> None:
    one, two = Sheet("one", 300.0, 90.0, (), ()), Sheet("two", 200.0, 400.0, (), ())
    for sheets in ([one, two], [two, one]):
        whole = _together("both", sheets)
        assert (whole.title, whole.width, whole.height) == ("both", 300.0, 400.0)
    assert _together("both", [two]) is two


def test_a_roll_that_is_too_narrow_is_told_which_would_do() -> None:
    line = Stroke("cut-line", Curve.polyline([(0.0, 0.0), (700.0, 90.0)]))
    with pytest.raises(PrintError) as caught:
        print_roll(Sheet("wide", 700.0, 90.0, (line,), ()), options("roll:600", margin=10.0))
    assert caught.value.problem == "wide is 700 mm wide, the roll leaves 580 mm"
    assert caught.value.remedy == (
        "Take a roll of at least 720 mm, smaller margins, or tiled pages."
    )
