"""Whether panels fit with their edges as they are taken, or with front and back exchanged."""

from __future__ import annotations

from typing import Any, cast

import pytest

from panelshift import read_pattern
from panelshift.draft.mates import fronts_are_backs
from panelshift.outline import Curve
from panelshift.pattern.panel import EdgeName, Panel
from tests.support.drafts import PanelDraft, both_halves, drawn

OTHER: dict[EdgeName, EdgeName] = {"front": "back", "back": "front"}


class Exchanged:
    """A panel whose front edge is taken for its back edge."""

    def __init__(self, panel: Panel) -> None:
        self.frame, self._panel = panel.frame, panel

    def edge(self, name: EdgeName) -> Any:
        return self._panel.edge(OTHER[name])

    def waist_end(self, name: EdgeName) -> Any:
        return self._panel.waist_end(OTHER[name])

    def is_straight(self, name: EdgeName) -> bool:
        return self._panel.is_straight(OTHER[name])


@pytest.mark.parametrize("full", [False, True])
def test_seams_tell_that_every_front_is_a_back(full: bool) -> None:
    """From the wearer's left round to the right a left panel's back edge comes first."""
    # Every seam is 10 mm longer than the one before it, so that each edge fits one other.
    half = [
        PanelDraft(
            f"panel {k + 1}",
            Curve.polyline([(-25.0, -100.0), (-25.0, 100.0 + 10.0 * k)]),
            Curve.polyline([(25.0, -100.0), (25.0, 110.0 + 10.0 * k)]),
        )
        for k in range(4)
    ]
    found = read_pattern(drawn(both_halves(half) if full else half)).panels
    turned = [cast(Panel, Exchanged(panel)) for panel in found]
    assert fronts_are_backs(turned, full)
    assert not fronts_are_backs(found, full)
    # With one half right and the other not nothing fits.
    middle = len(found) // 2
    assert not fronts_are_backs([*found[:middle], *turned[middle:]], full)
    assert not fronts_are_backs([*turned[:middle], *found[middle:]], full)
