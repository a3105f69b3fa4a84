"""What is said of how a corset is sewn: tapes over it by closed forms, and every sentence."""

from __future__ import annotations

import math
from dataclasses import astuple
from typing import Literal

import numpy as np
import pytest

from panelshift import (
    ClassModel,
    DraftPanel,
    Fabric,
    Reading,
    SectionModel,
    pattern_from_panels,
    read_pattern,
)
from panelshift.body import Measures
from panelshift.body.turn import turn_of_cloth
from panelshift.construction.account import (
    construction_lines,
    fold_range,
    needed_at,
    outcome_lines,
    seam_bulk,
    tape_over,
)
from panelshift.construction.edges import folds
from panelshift.construction.laying import Lay, lay
from panelshift.construction.sewing import Bones, Construction, Shell, Strip
from panelshift.construction.sewn import Sewn
from panelshift.construction.tension import USUAL_INNER, USUAL_OUTER, cuts_over
from panelshift.stack import Stack
from tests.support.examples import thinned
from tests.support.golden import changes

WIDTH, COUNT, GAP = 50.0, 6, 60.0
ROUND = 2.0 * WIDTH * COUNT + GAP
STACK = Stack([Fabric("lining", 0.3), Fabric("coutil", 0.5), Fabric("satin", 0.4)], "coutil")
BARE = [Shell([name], allowance=0.0) for name in STACK.names]
OUTSIDE = 0.25 + 0.4
"""From the middle of the coutil to what a tape lies on."""


def cylinder(
    how: Construction, *, stack: Stack = STACK, full: bool = False, gap: float = GAP
) -> Lay:
    """Equal straight panels round a body that is a cylinder, open by a gap at the back."""
    boxes = []
    for k in range(COUNT * (2 if full else 1)):
        corners = np.array([(0.0, 0.0), (WIDTH, 0.0), (WIDTH, 260.0), (0.0, 260.0)])
        at = (80.0 * k, 0.0)
        waist = np.array([(0.0, 130.0), (WIDTH, 130.0)])
        boxes.append(DraftPanel(f"p{k + 1}", corners + at, waist + at))
    pattern = pattern_from_panels(boxes, halves="full" if full else "half")
    round_body = SectionModel(Measures.constant(1.0))
    turn = turn_of_cloth(pattern, round_body, ["side"] * len(boxes), gap=gap)
    return lay(Sewn(how, stack), turn, np.linspace(-130.0, 130.0, 5))


@pytest.mark.parametrize("full", [False, True])
@pytest.mark.parametrize("gap", [0.0, GAP])
def test_a_tape_round_a_bare_cylinder_reads_two_pi_times_its_distance(
    full: bool, gap: float
) -> None:
    found = cylinder(Construction(BARE), full=full, gap=gap)
    for height in (0.0, 77.5, -120.0):
        assert tape_over(found, height) == pytest.approx(2.0 * math.pi * OUTSIDE, abs=1e-6)
        assert needed_at(found, height)[0] == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


@pytest.mark.parametrize("full", [False, True])
def test_over_the_gap_a_tape_lies_as_far_out_as_the_backs_beside_it(full: bool) -> None:
    # An outer cloth on the last panel alone: of a whole corset one of the two backs has it.
    own = Fabric("pad", 1.0, panels=frozenset({f"p{COUNT * (2 if full else 1)}"}))
    stack = Stack([*STACK.fabrics, own], "coutil")
    how = Construction([*BARE, Shell(["pad"], held="fused")])
    found = cylinder(how, stack=stack, full=full)
    turn_of_one = 2.0 * math.pi * WIDTH / ROUND
    many, beside = (1, 0.5) if full else (2, 1.0)
    padded = many * turn_of_one + beside * 2.0 * math.pi * GAP / ROUND
    # From the pad's edge it goes straight on to the cloth beside it, once for each pad.
    radius = ROUND / (2.0 * math.pi) + OUTSIDE
    beta = math.acos(radius / (radius + 1.0))
    over = many * radius * (math.tan(beta) - beta)
    wanted = 2.0 * math.pi * OUTSIDE + padded * 1.0 + over
    assert tape_over(found, 0.0) == pytest.approx(wanted, abs=1e-4)
    assert needed_at(found, 0.0)[1] == pytest.approx(over, abs=1e-4)


@pytest.mark.parametrize("full", [False, True])
@pytest.mark.parametrize("edge", ["centre_back", "centre_front"])
def test_a_strip_along_the_backs_or_fronts_is_ridden_over_on_both_sides(
    edge: Literal["centre_back", "centre_front"], full: bool
) -> None:
    strip = Strip("coutil", 0.8, 20.0, edge)
    found = cylinder(Construction(BARE, strips=[strip]), full=full)
    needed, tape = needed_at(found, 0.0)
    # The satin lies as much higher on the strip, and comes straight down from its edge.
    radius = ROUND / (2.0 * math.pi) + 0.25
    beta = math.acos(radius / (radius + 0.8))
    over = 2.0 * (20.0 * 0.8 / radius + radius * (math.tan(beta) - beta))
    assert needed == pytest.approx([0.0, 0.0, over], abs=0.01)
    assert tape == pytest.approx(over, abs=0.01)
    # The panels that it lies on have all of it.
    ends = (0, -1) if edge == "centre_back" else (COUNT - 1, COUNT)
    wanted = np.zeros(COUNT * 2)
    wanted[list(ends)] = 0.5 * over
    assert found.extra[2, :, 2] == pytest.approx(wanted if full else wanted[COUNT:], abs=0.01)
    flat = 2.0 * math.pi * OUTSIDE
    assert tape_over(found, 0.0) == pytest.approx(flat + over, abs=0.01)


SEAMS = {
    # Plies of each cloth before and behind the seam line, and how far each turns there.
    "open": (1, 1, 0.5, 0.5),
    "to front": (2, 0, 1.0, 0.0),
    "to back": (0, 2, 0.0, 1.0),
    "felled": (0, 3, 0.0, 1.0),
    "lapped": (1, 1, 0.0, 0.0),
}


@pytest.mark.parametrize(
    ("kind", "full"), [*((kind, False) for kind in SEAMS), ("to front", True), ("to back", True)]
)
def test_two_cloths_sewn_as_one_turn_into_their_seams(kind: str, full: bool) -> None:
    *_, before, behind = SEAMS[kind]
    both = Shell(["coutil", "satin"], seams=kind)  # type: ignore[arg-type]
    found = cylinder(Construction([both]), full=full)
    needed = folds(found.sewn, found.distances, found.turn, found.levels)
    apart = math.pi * (0.25 + 0.2)
    half = [behind * (k > 0) + before * (k < COUNT - 1) for k in range(COUNT)]
    # Fronts lie to the left of their own half's backs, or to the right of the other's; none of
    # these is the centre front, where two edges meet.
    row = half[::-1] + half if full else half
    assert needed[2] == pytest.approx(apart * np.array(row)[:, None] * np.ones(len(found.levels)))
    assert not needed[:2].any()
    assert fold_range(found) == pytest.approx(2.0 * apart * sum(half))


@pytest.mark.parametrize(
    ("kind", "graded", "before", "behind"),
    [
        ("open", (), {8.0: 2}, {8.0: 2}),
        ("to front", (), {8.0: 4}, {}),
        ("to back", (), {}, {8.0: 4}),
        ("felled", (), {}, {8.0: 6}),
        ("lapped", (), {8.0: 2}, {8.0: 2}),
        # One width for each cloth where it is pressed open or lapped, else one for each ply.
        ("open", (10.0, 6.0), {10.0: 1, 6.0: 1}, {10.0: 1, 6.0: 1}),
        ("to front", (10.0, 6.0), {10.0: 2, 6.0: 2}, {}),
        ("felled", (12.0, 10.0), {}, {12.0: 2, 10.0: 4}),
    ],
)
@pytest.mark.parametrize("full", thinned([True, False], 2))
def test_plies_of_allowances_beside_a_seam(
    kind: str, graded: tuple[float, ...], before: object, behind: object, full: bool
) -> None:
    sewn = Shell(["coutil", "satin"], seams=kind, allowance=8.0, graded=graded)  # type: ignore[arg-type]
    found = cylinder(Construction([sewn, Shell(["lining"], allowance=0.0)]), full=full)
    level = int(np.argmin(np.abs(found.levels)))
    ridges, bounds = found.pile.ridges, found.pile.site.face.bounds[level]
    seam = COUNT + 1 if full else 1
    widths = []
    for side in (-1.0, 1.0):
        near, far = (ridges.low, ridges.high) if side > 0 else (ridges.high, ridges.low)
        own = (np.abs(near[level] - bounds[seam]) < 1e-6) & (ridges.thick[level] > 0.0)
        # A face of this radius, on which what lies inside stands, makes a width of an angle.
        radius = ROUND / (2.0 * math.pi)
        across = side * (far - near)[level, own] * radius
        widths.append(dict(zip(across.round().tolist(), ridges.plies[own].tolist(), strict=True)))
        for wide, plies, thick in zip(
            across, ridges.plies[own], ridges.thick[level, own], strict=True
        ):
            assert wide == pytest.approx(round(wide), rel=0.02)
            if len(own) and not graded:
                assert thick == pytest.approx(plies * 0.5 * (0.5 + 0.4))
    assert widths == [before, behind]
    plies = max(sum(side.values()) for side in widths)
    bulk = seam_bulk(found)
    # At the centre front two edges meet, and nothing is sewn.
    wanted = [3 if full and k == COUNT else 3 + plies for k in range(1, len(bounds) - 1)]
    assert [item.plies for item in bulk] == wanted


def bones_by(count: int, **more: object) -> Bones:
    per_panel = {f"p{k + 1}": count for k in range(COUNT)}
    return Bones("coutil", 6.0, 1.5, per_panel=per_panel, **more)  # type: ignore[arg-type]


HANG = {"coutil": 0.003, "satin": 0.01}
SEWN = {
    "nothing said": Construction(),
    "every kind of seam and hold": Construction(
        [
            Shell(["lining"], seams="lapped", held="fused"),
            Shell(["coutil"], seams="felled", lie="outside", held="seams"),
            Shell(["satin"], seams="to front", graded=[12.0, 6.0]),
        ],
        body="stiff",
    ),
    "sewn as one": Construction([Shell(["coutil", "satin"], seams="to back", allowance=8.0)]),
    "sewn as one, by a fold factor": Construction(
        [Shell(["coutil", "satin"], seams="lapped"), Shell(["lining"])], fold_factor=0.0
    ),
    "sewn as one, by half of it": Construction([Shell(["coutil", "satin"])], fold_factor=0.5),
    "strips": Construction(
        strips=[
            Strip("coutil", 0.6, 30.0, "centre_back"),
            Strip("", 0.4, 20.0, "top", low=20.0),
            Strip("lining", 0.4, 8.0, "seams", low=-40.0, high=60.0),
            Strip("coutil", 0.4, 8.0, "bottom", high=-60.0),
        ]
    ),
    "bones": Construction(bones=[bones_by(2)], strength_layer="coutil"),
    "two kinds of bones": Construction(
        bones=[
            bones_by(1, bends=True, channel=9.0, casing=0.4, stitched=["satin"]),
            Bones("lining", 5.0, 1.0, per_panel={"p1": 1}),
        ]
    ),
    "bones as measured": Construction(bones=[bones_by(1, standing=0.9)]),
    "bones, one cloth tested": Construction(bones=[bones_by(1)], stretch={"satin": 0.01}),
    "bones, both cloths tested": Construction(bones=[bones_by(1)], stretch=HANG),
    "bones, laced by 2 kPa": Construction(bones=[bones_by(1)], lacing=2.0),
    "bones, all known": Construction(bones=[bones_by(1)], stretch=HANG, lacing=3.0),
    "cloth that must not strain": Construction(
        bones=[bones_by(1)], stretch={"coutil": 0.015, "satin": 0.007}, lacing=2.1
    ),
    "cloth that gives more": Construction(
        bones=[bones_by(1)], stretch={"coutil": 0.02, "satin": 0.05}, lacing=6.0
    ),
}


@pytest.mark.parametrize("untested", [("coutil",), ("satin",), ("coutil", "satin")])
def test_a_range_holds_what_any_two_usual_cloths_come_to(untested: tuple[str, ...]) -> None:
    def comes_to(**stretch: float) -> tuple[np.ndarray, np.ndarray]:
        how = Construction(bones=[bones_by(1)], stretch=stretch, lacing=4.0)
        found = cuts_over(Sewn(how, STACK), 24, 105.0, 11.0)
        assert found is not None
        assert found.laced
        assert found.untested == (() if len(stretch) == 2 else untested)
        two = np.array(
            [[(cut.stands, cut.strain) for cut in each] for each in (found.flat, found.taut)]
        )
        assert [cut.longer for cut in (*found.flat, *found.taut)] == [0.0, 0.0, 11.0, 11.0]
        return two[:, 0], two[:, 1]

    known = {"coutil": 0.008, "satin": 0.03}
    least, most = comes_to(**{name: known[name] for name in known if name not in untested})
    usual = {"coutil": USUAL_INNER, "satin": USUAL_OUTER}
    ranges = [np.linspace(*usual[name], 6) if name in untested else [known[name]] for name in known]
    pairs = [comes_to(coutil=one, satin=two) for one in ranges[0] for two in ranges[1]]
    assert all(np.array_equal(*pair) for pair in pairs)
    singles = np.array([pair[0] for pair in pairs])
    assert singles.min(axis=0) == pytest.approx(least, abs=1e-12)
    assert singles.max(axis=0) == pytest.approx(most, abs=1e-12)


def test_every_sentence_on_how_a_corset_is_sewn_is_the_golden_one() -> None:
    told = []
    for name, how in SEWN.items():
        found = cylinder(how)
        told += ["", f"== {name}"]
        told += construction_lines(found.sewn.construction, found.sewn.shells)
        told += outcome_lines(found, "mm")
        if name in ("strips", "two kinds of bones"):
            told += construction_lines(found.sewn.construction, found.sewn.shells, "in")
            told += outcome_lines(found, "in")
    assert changes("sewn.txt", "\n".join(told)) == []


@pytest.mark.parametrize("bends", [False, True])
def test_a_bone_over_the_fold_is_one_of_both_halves(bends: bool) -> None:
    def of(width: float, places: tuple[float, ...], halves: Literal["half", "full"]) -> Lay:
        bones = "".join(f'<path id="bone{x:g}" d="M{10 + x} 10 V70"/>' for x in places)
        pattern = read_pattern(
            '<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="80mm" '
            f'viewBox="0 0 400 80"><path id="front" d="M10 10 h{width} v60 h-{width} Z"/>'
            f'<path id="waist" d="M10 40 h{width}"/>{bones}</svg>',
            reading=Reading(halves=halves),
        )
        bars = Bones("coutil", 7.0, 1.5, bends, drawn_as="middles")
        turn = turn_of_cloth(pattern, ClassModel(), ["side"])
        return lay(Sewn(Construction(BARE, [bars]), STACK), turn)

    half = of(150.0, (0.001, 60.0), "half")
    full = of(300.0, (90.0, 150.0, 210.0), "full")
    assert half.cuts is not None
    assert full.cuts is not None
    for mine, other in ((half.cuts.flat, full.cuts.flat), (half.cuts.taut, full.cuts.taut)):
        for one, two in zip(mine, other, strict=True):
            assert astuple(one) == pytest.approx(astuple(two), rel=1e-3)
    assert outcome_lines(half, "mm")[-1] == outcome_lines(full, "mm")[-1]
    assert outcome_lines(half, "mm")[-1].startswith("3 channels take")
