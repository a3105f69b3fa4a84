"""Curves traced round a body that is known."""

from __future__ import annotations

import re

import numpy as np
import pytest
from lxml import etree
from scipy.special import ellipe

from panelshift.errors import FormError
from panelshift.form.convex import convex_fit
from panelshift.form.traced import measure_traced
from panelshift.outline import FloatArray
from tests.form.bodies import sections

LEVELS = {"hip": -200.0, "high hip": -100.0, "waist": 0.0, "underbust": 80.0, "bust": 150.0}


def ring(z: float, *, noise: float = 0.0, half: bool = False, seed: int = 1) -> FloatArray:
    """Points of a section on the sheet: front up the page, wearer's left at the left."""
    end = np.pi if half else 2.0 * np.pi
    psi = np.linspace(0.0, end, 120, endpoint=half)
    points = sections(np.array([z])).points(psi[None])[0]
    points += np.random.default_rng(seed).normal(0.0, noise, points.shape)
    return -points


def traced(
    *, noise: float = 0.0, half: bool = False, turn: float = 0.0, plumb: float = 0.0
) -> bytes:
    c, s = np.cos(turn), np.sin(turn)
    body = ""
    for number, (name, height) in enumerate(LEVELS.items()):
        points = ring(height, noise=noise, half=half, seed=number)
        marks = np.array([[0.0, -plumb], [0.0, -130.0]])
        at = np.array([250.0 + 400.0 * number, 300.0])
        points, marks = (p @ np.array([[c, s], [-s, c]]) + at for p in (points, marks))
        d = "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in points) + ("" if half else "Z")
        label = name if name == "waist" else f"{name} {height:g}"
        (px, py), (fx, fy) = marks
        body += (
            f'<g aria-label="{label}"><path d="{d}"/>'
            f'<circle id="plumb{number}" cx="{px}" cy="{py}" r="2"/>'
            f'<circle id="cf{number}" cx="{fx}" cy="{fy}" r="2"/></g>'
        )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="2400mm" height="600mm" '
        f'viewBox="0 0 2400 600">{body}</svg>'
    ).encode()


@pytest.mark.parametrize(
    ("half", "turn"),
    [
        (True, 0.7),
        *(
            pytest.param(half, turn, marks=pytest.mark.slow)
            for half, turn in ((False, 0.7), (False, 0.0), (False, -2.0), (True, 0.0), (True, -2.0))
        ),
    ],
)
def test_clean_curves_give_the_sections(half: bool, turn: float) -> None:
    found = measure_traced(traced(half=half, turn=turn))
    truth = sections(found.heights)
    assert found.heights.tolist() == sorted(LEVELS.values())
    # What keeps noise out pulls sharp ends in a little: 0.2 % of the girth.
    assert np.abs(found.sections.girths / truth.girths - 1.0).max() < 0.002
    assert np.abs(found.sections.place - truth.place).max() < 0.3


def test_either_half_of_the_body_may_be_traced() -> None:
    left = traced(half=True)
    # The sheet turned over: the wearer's right half, with the front still up the page.
    root = etree.fromstring(left)
    over = etree.SubElement(
        root, "{http://www.w3.org/2000/svg}g", transform="matrix(-1 0 0 1 2400 0)"
    )
    over.extend(root[:-1])
    one, other = (measure_traced(data).sections for data in (left, etree.tostring(root)))
    assert np.abs(one.coefficients - other.coefficients).max() < 1e-6


def test_noise_is_smoothed_into_a_convex_curve() -> None:
    found = measure_traced(traced(noise=1.5))
    truth = sections(found.heights)
    psi = np.broadcast_to(np.linspace(0.0, 6.2, 90), (len(found.heights), 90))
    assert (found.sections.radius(psi) > 0.0).all()
    assert np.abs(found.sections.girths - truth.girths).max() < 4.0
    assert 1.0 < found.errors.surface < 2.0


@pytest.mark.parametrize("half", [False, True])
def test_a_plumb_line_may_hang_before_the_body(half: bool) -> None:
    inside, before = (
        measure_traced(traced(half=half, turn=0.4, plumb=plumb)) for plumb in (0.0, 230.0)
    )
    one, other = inside.sections.coefficients, before.sections.coefficients
    assert np.abs(np.delete(one - other, 1, axis=1)).max() < 0.02
    assert inside.sections.place - before.sections.place == pytest.approx(
        np.tile([0.0, 230.0], (len(LEVELS), 1)), abs=0.1
    )


def test_an_ellipse_has_the_girth_of_the_elliptic_integral() -> None:
    t = np.linspace(0.0, 2.0 * np.pi, 200, endpoint=False)
    fit = convex_fit(np.column_stack([140.0 * np.cos(t), 95.0 * np.sin(t)]))
    # E of scipy.special, a general numerical library.
    whole = 4.0 * 140.0 * ellipe(1.0 - (95.0 / 140.0) ** 2)
    assert fit.sections.girths[0] == pytest.approx(whole, abs=0.5)
    assert fit.rms < 0.8


def test_a_whole_curve_need_not_be_its_own_mirror_image() -> None:
    t, turn = np.linspace(0.0, 2.0 * np.pi, 120, endpoint=False), 0.2
    across, along = 140.0 * np.sin(t), 95.0 * np.cos(t)
    # Turned from the front to the wearer's left, and off to that side.
    c, s = np.cos(turn), np.sin(turn)
    points = np.column_stack([30.0 + c * across + s * along, -s * across + c * along])
    fit = convex_fit(points)
    assert np.angle(-fit.sections.coefficients[0, 2]) == pytest.approx(-2.0 * turn, abs=0.002)
    assert fit.sections.place[0] == pytest.approx([30.0, 0.0], abs=0.05)
    # Of a half alone both are lost: it is mirrored in the line from front to back.
    half = convex_fit(np.column_stack([across, along])[:61], symmetric=True)
    assert half.sections.girths[0] == pytest.approx(fit.sections.girths[0], abs=0.5)
    assert half.sections.place[0, 0] == pytest.approx(0.0, abs=1e-9)


SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="900mm" viewBox="0 0 900 900">'
MARKS = '<path id="cf" d="M300 150v2"/><path id="plumb" d="M300 300v2"/>'
CIRCLES = "".join(
    f'<circle aria-label="{name}" cx="300" cy="300" r="110"/>'
    for name in ("waist", "bust 150", "hip -200")
)


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("", "0 levels are too few"),
        ('<circle cx="300" cy="300" r="110"/>', "no curve is called by its level"),
        (f'{MARKS}<circle aria-label="bust" cx="300" cy="300" r="110"/>', "has no height"),
        (f'{MARKS}<circle id="bust-150" cx="300" cy="300" r="110"/>', "wrong side of the waist"),
        (CIRCLES, "no mark of the centre front"),
        (
            MARKS
            + CIRCLES.replace("waist", "underbust 90")
            + '<path aria-label="waist" d="M190 300A110 110 0 1 1 300 410"/>',
            "is open",
        ),
        (
            MARKS
            + CIRCLES.replace("waist", "underbust 90")
            + '<path aria-label="waist" d="M190 300C190 500 410 100 410 300S190 100 190 300Z"/>',
            "crosses itself",
        ),
        (
            MARKS
            + CIRCLES.replace("waist", "underbust 90")
            + '<path aria-label="waist" d="M190 200H410V400H310V290H290V400H190Z"/>',
            "hollow by",
        ),
        (
            MARKS + CIRCLES + '<circle aria-label="waist" cx="560" cy="300" r="110"/>',
            "2 closed curves that do not lie together are called 'waist'",
        ),
        (
            MARKS + CIRCLES.replace('r="110"', 'r="11"'),
            "no adult's body|lie on one line",
        ),
        (
            '<path id="cf" d="M300 290v2"/><path id="plumb" d="M300 190v2"/>' + CIRCLES,
            "centre front lies 101 mm inside the curve",
        ),
        (MARKS + CIRCLES + 20 * CIRCLES, "are more than 5 m long together"),
    ],
)
def test_drawings_that_are_no_sections_are_refused(body: str, words: str) -> None:
    with pytest.raises(FormError, match=words):
        measure_traced(f"{SVG}{body}</svg>".encode())


@pytest.mark.parametrize(("side", "told"), [(0.0, False), (190.0, True)])
def test_a_curve_with_corners_says_how_long_a_tape_round_it_is(side: float, told: bool) -> None:
    """A body has no corners: of a square the tape round it, four sides long, is told as well.

    Points lie every 4 mm along it, not in its corners: the tape is 3 mm shorter at most.
    """
    square = f'<rect aria-label="waist" x="205" y="205" width="{side}" height="{side}"/>'
    body = MARKS + (CIRCLES.replace("waist", "underbust 90") + square if told else CIRCLES)
    found = measure_traced(f"{SVG}{body}</svg>".encode()).found
    words = next(line for line in found if line.startswith("waist"))
    tape = re.search(r"a tape round the outermost of them is (\d+) mm", words)
    assert (tape is not None) == told
    assert tape is None or int(tape[1]) == pytest.approx(4.0 * side, abs=3.0)
