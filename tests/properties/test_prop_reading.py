"""Harmless changes of a drawing never change its pattern; changes of meaning are told."""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, strategies as st

from panelshift import PanelshiftError, Pattern, read_pattern
from panelshift.outline import Curve
from panelshift.outline.measure import length
from panelshift.pattern.panel import EDGE_NAMES
from tests.routes.drafts import SOLID, THIN, Placed, panels, placed, sheet, truth
from tests.support.drafts import PanelDraft, both_halves, path_data
from tests.support.examples import examples

TRUTH = truth(panels())


@dataclass(frozen=True)
class Changes:
    """What a program may do to a drawing without meaning anything by it."""

    seed: int
    shuffled: bool
    pieces: int
    """In how many open pieces each outline is written; 1 for a closed one."""
    exploded: bool
    """Waistlines as dashes, each a line of its own, their names gone."""
    layered: bool
    extra: bool
    """A layer with a border and a title beside the pattern."""


CHANGES = st.builds(
    Changes,
    st.integers(0, 2**16),
    st.booleans(),
    st.integers(1, 4),
    st.booleans(),
    st.booleans(),
    st.booleans(),
)


def outline_elements(item: Placed, changes: Changes, chance: random.Random) -> list[str]:
    curve = item.panel.outline()
    if changes.pieces == 1:
        return [item.path(curve, SOLID, item.panel.name)]
    count = len(curve)
    start = chance.randrange(count)
    rolled = Curve(
        np.roll(curve.control, -start, axis=0), np.roll(curve.degree, -start), closed=False
    )
    cuts = sorted(chance.sample(range(1, count), min(changes.pieces - 1, count - 1)))
    ends = [0, *cuts, count]
    runs = [rolled.piece(a, b) for a, b in itertools.pairwise(ends)]
    return [
        item.path(run.reversed() if chance.random() < 0.5 else run, SOLID, f"{item.panel.name} {k}")
        for k, run in enumerate(runs)
    ]


def waist_elements(item: Placed, changes: Changes) -> list[str]:
    whole = item.across(0.0, THIN, f"waist {item.panel.name}")
    if not changes.exploded:
        return [whole]
    low, high = item.low - 2.0, item.high + 2.0
    dashes = []
    for u in np.arange(low, high, 9.0):
        dash = Curve.polyline([(u, 0.0), (min(u + 6.0, high), 0.0)])
        dashes.append(item.path(dash, THIN))
    return dashes


def drawing(changes: Changes, of: Sequence[PanelDraft] = ()) -> bytes:
    chance = random.Random(changes.seed)
    groups = []
    for item in placed(of or panels()):
        elements = outline_elements(item, changes, chance) + waist_elements(item, changes)
        elements.append(item.word(item.panel.name, item.low + 16.0, 30.0))
        if changes.shuffled:
            chance.shuffle(elements)
        body = "".join(elements)
        groups.append(f'<g id="layer{len(groups)}">{body}</g>' if changes.layered else body)
    if changes.shuffled and changes.layered:
        chance.shuffle(groups)
    if changes.extra:
        border = '<rect id="border" x="4" y="4" width="612" height="432"'
        groups.append(
            f'<g id="sheet">{border} style="{THIN}"/><text x="20" y="430">A corset</text></g>'
        )
    return sheet("".join(groups), width=1240.0 if of else 620.0).encode()


def assert_is_the_draft(pattern: Pattern) -> None:
    assert not pattern.full
    assert [panel.waist_width for panel in pattern.panels] == pytest.approx(TRUTH.waists, abs=1e-3)
    for panel, edges in zip(pattern.panels, TRUTH.edges, strict=True):
        found = (length(panel.edge("front")), length(panel.edge("back")))
        assert found == pytest.approx(edges, abs=1e-3)


@given(CHANGES)
@examples(40)
def test_harmless_changes_never_change_the_pattern(changes: Changes) -> None:
    assert_is_the_draft(read_pattern(drawing(changes)))


@pytest.mark.slow
@given(CHANGES)
@examples(20)
def test_a_mirrored_half_drawn_or_not_gives_the_same_panels(changes: Changes) -> None:
    """The other half, drawn as well, changes no panel of the first, nor the whole waist."""
    half = read_pattern(drawing(changes))
    both = read_pattern(drawing(changes, both_halves(panels())))
    assert (half.full, both.full) == (False, True)
    assert both.waist == pytest.approx(half.waist, abs=1e-3)
    count = len(half.panels)
    for ours, theirs in zip(half.panels, both.panels[count:], strict=True):
        assert theirs.waist.width == pytest.approx(ours.waist.width, abs=1e-3)
        for edge in EDGE_NAMES:
            assert length(theirs.edge(edge)) == pytest.approx(length(ours.edge(edge)), abs=1e-3)


def test_the_same_pieces_in_any_order_make_the_same_bytes() -> None:
    plain = Changes(3, False, 3, False, False, False)
    elements = [
        element
        for item in placed(panels())
        for element in (
            *outline_elements(item, plain, random.Random(3)),
            *waist_elements(item, plain),
        )
    ]
    first = read_pattern(sheet("".join(elements)).encode())
    for seed in range(5):
        random.Random(seed).shuffle(elements)
        again = read_pattern(sheet("".join(elements)).encode())
        for one, two in zip(first.panels, again.panels, strict=True):
            assert path_data(one.outline) == path_data(two.outline)


@given(CHANGES, st.sampled_from(["no waistline", "another size", "off the page"]))
@examples(30)
def test_changes_of_meaning_are_told(changes: Changes, meaning: str) -> None:
    whole = drawing(changes).decode()
    items = placed(panels())
    if meaning == "no waistline":
        # A panel of the same kind beside the others, that no waistline crosses.
        curve = items[1].panel.outline()
        lone = items[1].path(
            curve.transformed(np.array([[0.5, 0.0, 0.0], [0.0, 0.5, -10.0]])), SOLID, "5 gusset"
        )
        lone = f'<g transform="translate(300 0)">{lone}</g>'
        changed = whole.replace("</svg>", f"{lone}</svg>").replace('"620mm"', '"1020mm"')
        changed = changed.replace('viewBox="0 0 620', 'viewBox="0 0 1020')
    elif meaning == "another size":
        larger = "".join(
            item.path(
                item.panel.outline().transformed(np.array([[scale, 0.0, 0.0], [0.0, scale, 0.0]])),
                SOLID,
                f"size {scale}",
            )
            for item in items
            for scale in (1.05, 1.1)
        )
        changed = whole.replace("</svg>", f"{larger}</svg>")
    else:
        changed = whole.replace('"620mm"', '"300mm"').replace(
            'viewBox="0 0 620', 'viewBox="0 0 300'
        )
    with pytest.raises(PanelshiftError):
        read_pattern(changed.encode())
