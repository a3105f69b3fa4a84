"""Gores of round bodies, set in a seam and in a slit. Source: Gauss and Bonnet's theorem.

Half of a ball or a cone is cut from equal panels. Out of the hip a slice is cut, which narrows to a
point, and is set in again as a gore: the body stays what it was, and so does what its pieces are
when it is carried outwards. How far the edges of all pieces lean away from each other at a level,
summed, changes from level to level by the curvature of the body between them: by nothing on a cone,
whose pieces join without a dart, and on a ball by the area over the radius squared.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from panelshift.body import ClassModel
from panelshift.body.turn import turn_of_cloth
from panelshift.draft import Gore, Reading, assemble
from panelshift.outline import Curve, FloatArray
from panelshift.outline.measure import length
from panelshift.pattern.edge_pieces import profile
from panelshift.pattern.pattern import Pattern
from panelshift.shift import shift
from panelshift.sources.svg import read_svg
from tests.support.drafts import PanelDraft, drawn, hermite
from tests.support.runs import two_layers

TIP, LOW, HIGH = -24.0, -90.0, 80.0
SLOPE, COUNT, SHARE = 0.3, 6, np.pi / 12.0
LEVELS = {"hip": -63.0, "bust": 56.0}

WHERE = {
    "in a seam": Gore("hip gore", ("gore 3", "gore 4"), tip=f"{TIP} mm"),
    "in a slit": Gore("hip gore", slit="slit"),
}


OUT_AND_IN = [1.5, pytest.param(-1.0, marks=pytest.mark.slow)]


@dataclass(frozen=True)
class Round:
    """Distance from the axis by length along the meridian, and the sine of the tilt."""

    radius: Callable[[FloatArray], FloatArray]
    outward: Callable[[FloatArray], FloatArray]


BALL = Round(lambda v: 110.0 * np.cos(v / 110.0), lambda v: -np.sin(v / 110.0))
CONE = Round(lambda v: 110.0 + np.sin(0.25) * v, lambda v: np.full_like(v, np.sin(0.25)))


def gored(body: Round, where: str) -> Pattern:
    """Half of the body; a slice between two panels, or from the middle of one, is its gore."""
    cut = {(2, 1.0), (3 if where == "in a seam" else 2, -1.0)}

    def edge(k: int, side: float) -> Curve:
        less = 0.5 * SLOPE if (k, side) in cut else 0.0
        below = hermite(
            lambda v: side * (SHARE * body.radius(v) - less * (TIP - v)),
            np.linspace(LOW, TIP, 5).tolist(),
            lambda v: side * (SHARE * body.outward(v) + less),
        )
        above = hermite(
            lambda v: side * SHARE * body.radius(v),
            np.linspace(TIP, HIGH, 8).tolist(),
            lambda v: side * SHARE * body.outward(v),
        )
        return Curve.chain([below, above], closed=False)

    panels = [
        PanelDraft(f"gore {k + 1}", edge(k, -1.0), edge(k, 1.0), LEVELS) for k in range(COUNT)
    ]
    half, long = 0.5 * SLOPE * (TIP - LOW), TIP - LOW
    extra = f'<path id="hip gore" d="M1000 600 l{half} {long} h{-2.0 * half} z"/>'
    if where == "in a slit":
        x = 30.0 + sum(float(np.ptp(p.bounds()[:, 0])) + 25.0 for p in panels[:2])
        x -= float(panels[2].bounds()[0, 0])
        extra += f'<path id="slit" d="M{x} {300.0 - LOW} V{300.0 - TIP}"/>'
    svg = drawn(panels).replace(b"</svg>", extra.encode() + b"</svg>")
    return assemble(read_svg(svg), Reading(gores=(WHERE[where],), halves="half"))


def shifted(pattern: Pattern, d: float) -> Pattern:
    turn = turn_of_cloth(pattern, ClassModel(), ["side"] * len(pattern))
    return shift(pattern, two_layers(d), turn).layer("shifted").whole


def leaning(pattern: Pattern, heights: FloatArray) -> FloatArray:
    """How far the edges of all pieces lean apart at heights, as slopes, summed."""
    edges = profile(pattern)
    count = 2 * len(pattern)
    edge, at = np.repeat(np.arange(count), len(heights)), np.tile(heights, count)
    slopes = edges.across(at, edges.at_heights(at, edge))[1].reshape(-1, 2, len(heights))
    there = edges.there(heights)
    return np.asarray(((slopes[:, 1] - slopes[:, 0]) * there).sum(axis=0))


AWAY = np.array([-80.0, -70.0, -60.0, -50.0, -42.0, -12.0, 0.0, 30.0, 60.0])
"""Heights that are not beside the tip."""


@pytest.mark.parametrize("where", list(WHERE))
@pytest.mark.parametrize("d", OUT_AND_IN)
def test_gores_of_a_cone_join_without_a_dart(where: str, d: float) -> None:
    pattern = gored(CONE, where)
    layer = shifted(pattern, d)
    for one in (pattern, layer):
        assert leaning(one, AWAY) == pytest.approx(np.pi * np.sin(0.25), abs=2e-3)
    # A cone keeps its length, and grows across by the same everywhere.
    edges = profile(layer)
    grown = edges.widths_at(AWAY).sum(axis=0) - profile(pattern).widths_at(AWAY).sum(axis=0)
    # Seven pieces, each to a few thousandths.
    assert grown == pytest.approx(np.pi * d * np.cos(0.25), abs=0.02)


@pytest.mark.parametrize("where", list(WHERE))
@pytest.mark.parametrize("d", OUT_AND_IN)
def test_gores_of_a_ball_leave_the_curvature_between_two_levels(where: str, d: float) -> None:
    pattern = gored(BALL, where)
    layer, larger = shifted(pattern, d), (110.0 + d) / 110.0
    heights = np.array([-60.0, 60.0])
    # Half of the zone between them: 2 pi R h, h being its height along the axis.
    area = np.pi * (110.0 + d) ** 2 * 2.0 * np.sin(60.0 / 110.0)
    for one, at in ((pattern, heights), (layer, larger * heights)):
        change = float(np.diff(leaning(one, at))[0])
        assert -change == pytest.approx(area / (110.0 + d) ** 2, abs=3e-3)


@pytest.mark.parametrize("where", list(WHERE))
@pytest.mark.parametrize("d", OUT_AND_IN)
def test_all_pieces_of_a_ball_scale_both_ways(where: str, d: float) -> None:
    pattern = gored(BALL, where)
    layer, larger = shifted(pattern, d), (110.0 + d) / 110.0
    before, after = profile(pattern), profile(layer)
    wide = before.widths_at(AWAY)
    assert after.widths_at(larger * AWAY) == pytest.approx(larger * wide, abs=0.02)
    lengths = larger * pattern.seam_lengths()
    assert layer.seam_lengths() == pytest.approx(lengths, abs=0.02)
    for one, two in zip(pattern, layer, strict=True):
        for old, new in zip(one.slits, two.slits, strict=True):
            assert length(new.curve) == pytest.approx(larger * length(old.curve), abs=0.005)
