"""Tapes: what is given is used, what is not comes from the mean form, nonsense is refused."""

from __future__ import annotations

import numpy as np
import pytest

from panelshift.body import MeanFormModel, Ring, TapeModel, Tapes
from panelshift.body.mean_form import upright
from panelshift.body.spread import conditioned
from panelshift.body.support import Sections
from panelshift.body.tapes import _FUNCTIONS
from panelshift.errors import BodyError
from tests.support.examples import thinned

V = np.linspace(-120.0, 120.0, 81)
GIRTHS = 650.0 + 160.0 * (V / 120.0) ** 2
RING = Ring(V, np.repeat(GIRTHS[:, None] / 14, 14, axis=1), 0.0, ("side",) * 14)
QUARTER = np.pi / 2


def tapes_of(section: Sections, waist_front: float) -> dict[str, float]:
    """What tapes show on a section, by its points and the lengths of its pieces."""
    psi = np.linspace(-np.pi, np.pi, 20001)
    points = section.points(psi[None])[0]
    steps = np.hypot(*np.diff(points, axis=0).T)
    ahead = np.abs(0.5 * (psi[1:] + psi[:-1])) < QUARTER
    return {
        "breadth": float(np.ptp(points[:, 0])),
        "depth": float(np.ptp(points[:, 1])),
        "girth": float(steps.sum()),
        "front_arc": float(steps[ahead].sum()),
        "stand_out": float(points[:, 1].max() - waist_front),
    }


def test_a_body_whose_own_tapes_are_given_comes_out_again() -> None:
    # Tapes read off the points of a body that lies one deviation of some modes from the form: the
    # functions they are taken for must be what a tape shows.
    form, modes = MeanFormModel("women").likely(RING)
    parts = np.zeros(modes.count)
    parts[[0, 14, 30]] = 1.0, -1.0, 1.0
    body = form.with_added(modes, parts)
    heights = np.array([-100.0, 0.0, 90.0])
    radii = np.interp(heights, V, GIRTHS) / (2.0 * np.pi)
    rows = body.at(heights).sections(radii)
    front = float(rows.support(np.zeros((3, 1)))[1, 0])
    told = {}
    for height, row in zip(heights.tolist(), rows.coefficients, strict=True):
        shown = tapes_of(Sections(row[None]), front)
        told[height] = Tapes(**(shown if height else {**shown, "stand_out": None}))
    model = TapeModel(told, "women", 0.05, upright=True)
    found = model.column(RING).at(heights).sections(radii)
    for height, row in zip(heights.tolist(), found.coefficients, strict=True):
        again = tapes_of(Sections(row[None]), front)
        for name, value in told[height].given().items():
            assert again[name] == pytest.approx(value, abs=0.4), (height, name)
    assert model.contradictions(RING) == ()


@pytest.mark.parametrize("name", ["breadth", "depth", "girth", "front_arc", "stand_out"])
@pytest.mark.parametrize("k", [2, 3, 4, 5, 7])
def test_what_a_wave_of_a_section_adds_to_a_tape_is_what_a_tape_shows(name: str, k: int) -> None:
    # h = 100 + 2 c cos(k psi), so small a wave that the section stays convex.
    c = 20.0 / k**2
    wavy = Sections.of_support(lambda psi: 100.0 + 2.0 * c * np.cos(k * psi))
    circle, waves, _ = _FUNCTIONS[name]
    shown = tapes_of(wavy, 0.0)[name]
    if name == "front_arc":
        # The points of the widest places end it, which a wave moves along the curve: count normals.
        shown = float(wavy.arc_between(-QUARTER, QUARTER)[0])
    if name in ("breadth", "depth", "stand_out") and k > 2:
        # What lies farthest out may lie beside the axis, as a tape finds it and no wave alone.
        side = {"breadth": (QUARTER, -QUARTER), "depth": (0.0, np.pi), "stand_out": (0.0,)}[name]
        shown = float(wavy.support(np.array([side])).sum())
    assert 100.0 * circle + waves[k] * c == pytest.approx(shown, abs=0.01)


def test_one_tape_of_one_unknown_is_weighed_by_its_error() -> None:
    # Two normal quantities that add up: the mean moves by P / (P + E) of what is lacking.
    mean, root = conditioned(np.array([[4.0, 0.0]]), np.array([5.0]), np.array([[9.0]]))
    share = 16.0 / (16.0 + 9.0)
    assert 4.0 * mean == pytest.approx([5.0 * share, 0.0])
    left = root @ root.T
    assert left == pytest.approx(np.diag([1.0 - share, 1.0]))


def sections_of(model: TapeModel, heights: list[float]) -> Sections:
    at = np.array(heights)
    return model.column(RING).at(at).sections(np.interp(at, V, GIRTHS) / (2 * np.pi))


def test_exact_tapes_are_met_and_the_rest_is_the_form() -> None:
    model = TapeModel({0.0: Tapes(breadth=240.0, depth=160.0, girth=650.0)}, "women", 0.05)
    section = sections_of(model, [0.0])
    h = section.support(np.array([[0.0, np.pi, QUARTER, -QUARTER]]))[0]
    assert [h[2] + h[3], h[0] + h[1]] == pytest.approx([240.0, 160.0], abs=0.1)
    form = MeanFormModel("women").column(RING).at(np.zeros(1)).shape.coefficients
    assert section.coefficients[0, 8:] / section.coefficients[0, 0] == pytest.approx(
        form[0, 8:], abs=2e-3
    )


def test_what_is_measured_at_one_height_tells_less_the_farther_away() -> None:
    model = TapeModel({0.0: Tapes(breadth=250.0, depth=150.0, girth=650.0)}, "women", 0.1)
    form = MeanFormModel("women").column(RING)
    at = np.array([0.0, 40.0, 80.0, 120.0])
    apart = (model.column(RING).resampled(at).shape - form.resampled(at).shape)[:, 2].real
    assert abs(apart[0]) > 0.01
    assert (np.diff(np.abs(apart)) < 0.0).all()
    assert 0.2 < apart[2] / apart[0] < 0.8


def test_a_girth_alone_tells_nothing_of_the_shape() -> None:
    for bust in (None, 120.0):
        model = TapeModel({0.0: Tapes(girth=700.0)}, "women", bust_height=bust)
        form = MeanFormModel("women", bust_height=bust).turn(RING)
        assert model.turn(RING).angles == pytest.approx(form.angles, abs=1e-9)


def test_heights_along_the_panels_and_upright_are_told_apart() -> None:
    tapes = Tapes(breadth=300.0, depth=220.0)
    reached = float(upright(RING, None, np.array([100.0]))[0])
    assert 90.0 < reached < 99.0
    parts = []
    for height, flag in ((100.0, False), (reached, True), (100.0, True)):
        model = TapeModel({height: tapes}, "women", upright=flag)
        rows, *_ = model._lacks(RING, *MeanFormModel("women").likely(RING))
        parts.append(rows / np.interp(height, V, GIRTHS))
    assert parts[0] == pytest.approx(parts[1], abs=1e-12)
    assert np.abs(parts[0] - parts[2]).max() > 1e-3 * np.abs(parts[0]).max()


@pytest.mark.parametrize("of", thinned(["women", "men", "either"]))
def test_it_closes_and_knows_more_the_more_is_measured(of: str) -> None:
    few = TapeModel({0.0: Tapes(girth=650.0)}, of)  # type: ignore[arg-type]
    level = Tapes(breadth=235.0, depth=175.0, girth=650.0, front_arc=330.0)
    more = TapeModel({0.0: level}, of)  # type: ignore[arg-type]
    spreads = []
    for model in (few, more):
        turn = model.turn(RING)
        assert turn.closure() == pytest.approx(np.full(len(V), 2 * np.pi), abs=1e-9)
        assert turn.spread is not None
        waist = int(np.argmin(np.abs(turn.spread.heights)))
        spreads.append(float((turn.spread.growth[waist] ** 2).mean()))
    assert spreads[1] < 0.8 * spreads[0]


def test_contradictions_are_told_by_level_with_the_amount() -> None:
    fine = {-100.0: Tapes(breadth=280.0, depth=215.0), 0.0: Tapes(breadth=230.0, depth=175.0)}
    assert TapeModel(fine, "women").contradictions(RING) == ()
    odd = TapeModel({0.0: Tapes(breadth=230.0, depth=230.0, girth=652.0, front_arc=400.0)}, "men")
    told = odd.contradictions(RING)
    assert told
    assert {c.height for c in told} == {0.0}
    assert max(abs(c.amount) for c in told) > 9.0
    # The uppermost is told as well: an eye would see it first.
    high = TapeModel({**fine, 120.0: Tapes(breadth=250.0, depth=330.0)}, "women")
    assert 120.0 in {c.height for c in high.contradictions(RING)}


@pytest.mark.parametrize(
    ("tapes", "words"),
    [
        ({}, "no tape of the body"),
        ({0.0: Tapes()}, "no tape of the body"),
        ({0.0: Tapes(breadth=-3.0)}, r"\+0 mm from the waist: its breadth of -3 mm is no length"),
        ({0.0: Tapes(girth=float("nan"))}, "its girth of nan mm is no length"),
        (
            {-80.0: Tapes(breadth=300.0, depth=200.0, girth=600.0)},
            "-80 mm from the waist: a section 300 mm wide and 200 mm deep is between 721 and 1000",
        ),
        ({5.0: Tapes(breadth=300.0, front_arc=250.0)}, "front arc of 250 mm is shorter than"),
        (
            {5.0: Tapes(breadth=250.0, girth=700.0, front_arc=500.0)},
            "leaves 200 mm for the back, less than its breadth of 250 mm",
        ),
    ],
)
def test_tapes_that_no_curve_has_are_refused(tapes: dict[float, Tapes], words: str) -> None:
    with pytest.raises(BodyError, match=words):
        TapeModel(tapes)


def test_an_error_must_be_a_number() -> None:
    with pytest.raises(BodyError, match="an error of 0 mm"):
        TapeModel({0.0: Tapes(girth=650.0)}, error=0.0)


def test_without_any_tape_it_says_so() -> None:
    with pytest.raises(BodyError, match="no tape of the body is given"):
        TapeModel()
