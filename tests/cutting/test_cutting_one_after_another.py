"""Layers asked for one after another are drawn once, and never from what was drawn for another."""

from __future__ import annotations

import gc
import itertools
from dataclasses import replace

import pytest

from panelshift import (
    Allowances,
    CutPlan,
    DraftPanel,
    Fabric,
    PageOptions,
    Shifted,
    Stack,
    layer_pdf,
    layer_svg,
    parse_paper,
    pattern_from_panels,
    shift_pattern,
)
from panelshift.cutting import parts

PATTERN = pattern_from_panels(
    [
        DraftPanel(name, [(x, 0), (x + 70, 0), (x + 70, 160), (x, 160)], [(x, 90), (x + 70, 90)])
        for name, x in (("front", 0), ("back", 100))
    ]
)
NAMES = ["lining", "drill", "silk", "facing"]


def shifted(thickness: float = 0.5) -> Shifted:
    fabrics = [Fabric("lining", 0.3), Fabric("drill", thickness), Fabric("silk", 0.4)]
    own = Fabric("facing", 0.4, panels=frozenset({PATTERN.panels[0].name}))
    return shift_pattern(PATTERN, Stack([*fabrics, own], "drill"), gap=40.0)


@pytest.fixture
def counts(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many layers were drawn, each time that panels were."""
    found: list[int] = []
    inner = parts._together

    def counted(*args: object) -> object:
        found.append(len(args[1]))  # type: ignore[arg-type]
        return inner(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(parts, "_together", counted)
    return found


def test_all_layers_are_drawn_once_however_often_they_are_asked_for(counts: list[int]) -> None:
    made = shifted()
    first = [layer_svg(made, name) for name in NAMES]
    for name in reversed(NAMES):
        layer_pdf(made, name, PageOptions(parse_paper("a4")))
    assert [layer_svg(made, name, CutPlan()) for name in NAMES] == first
    assert counts == [4]


def test_what_was_drawn_for_another_plan_or_corset_is_not_taken() -> None:
    plans = [
        CutPlan("pattern"),
        CutPlan("pattern", {"silk": Allowances(top=20.0)}),
        CutPlan("pattern", corners="squared"),
    ]
    corsets = [shifted(), shifted(0.9)]

    def fresh(k: int, plan: CutPlan, name: str) -> bytes:
        parts._LAST.of(shifted(0.2), plan)
        return layer_svg(corsets[k], name, plan)

    each = list(itertools.product(range(2), plans, ["silk"]))
    wanted = {one: fresh(*one) for one in each}
    assert len(set(wanted.values())) == len(each)
    for k, plan, name in (*each, *reversed(each), *each[::3]):
        assert layer_svg(corsets[k], name, replace(plan)) == wanted[k, plan, name]


@pytest.mark.slow
def test_nothing_is_kept_of_layers_that_are_gone() -> None:
    made = shifted()
    layer_svg(made, "silk")
    assert parts._LAST._found
    del made
    gc.collect()
    assert not parts._LAST._found
