"""What is read agrees with what a browser draws, case by case; no browser is run here.

The answers were recorded by ``remake_answers.py``, which also tells how.
"""

from __future__ import annotations

import json
from typing import Any, Final

import numpy as np
import pytest

from panelshift.errors import PanelshiftError
from panelshift.pattern.drawing import Drawing
from panelshift.sources.svg import read_svg
from tests.support.examples import thinned

from .case import Case
from .cases import CASES
from .compare import POINT_MM, agreement, by_element, ink_box
from .remake_answers import ANSWERS, SECOND_ANSWERS
from .second_opinion import INK_MM, OTHERWISE

_KEPT: Final[dict[str, Any]] = json.loads(ANSWERS.read_text(encoding="utf-8"))
_KEPT_SECOND: Final[dict[str, Any]] = json.loads(SECOND_ANSWERS.read_text(encoding="utf-8"))

_ANSWERS: Final = {name: _KEPT[name]["drawn"] for name in CASES}
_SECOND: Final = {name: _KEPT_SECOND[name]["ink"] for name in CASES}

_READ: Final = [case for case in CASES.values() if not case.refused]

_QUARTER_ERROR: Final = 0.000273
"""Largest distance from a unit circle of a cubic over a quarter of it."""


def _drawing(case: Case) -> Drawing:
    return read_svg(case.svg.encode(), name=f"{case.name}.svg")


def test_there_are_enough_cases_and_each_has_its_answers() -> None:
    assert len(CASES) >= 150
    for kept in (_KEPT, _KEPT_SECOND):
        assert set(kept) - {"made by"} == set(CASES)
        # Answers to another drawing than the case now is would prove nothing.
        assert [name for name, case in CASES.items() if kept[name]["of"] != case.digest] == []


@pytest.mark.parametrize(
    "case", thinned(case for case in _READ if not case.browser_strays), ids=lambda case: case.name
)
def test_every_point_and_length_is_the_browsers(case: Case) -> None:
    drawing = _drawing(case)
    left_out = {item.ident for item in drawing.left_out}
    ours = by_element(drawing)
    answers = {answer["path"]: answer for answer in _ANSWERS[case.name]}
    assert len(answers) == len(_ANSWERS[case.name])
    if case.browser_blank:
        assert ours
        assert not answers
        return
    assert set(ours) <= set(answers)
    if not case.left_out:
        assert set(ours) == set(answers)
        assert left_out <= set(ours) or not left_out & set(answers)
    for path, shapes in ours.items():
        found = agreement(shapes, answers[path], floating=case.floating)
        assert found.point <= POINT_MM, path
        assert abs(found.length) <= found.allowed, path


def test_a_large_arc_strays_in_the_browser_and_not_here() -> None:
    case = CASES["arc-of-200-mm"]
    assert [one for one in _READ if one.browser_strays] == [case]
    centre, radius = np.array([210.0, 210.0]), 200.0
    (answer,) = _ANSWERS[case.name]
    browser = np.hypot(*(np.array(answer["points"]) - centre).T) - radius
    # Outside the circle, by as much as a cubic over a quarter turn is, and more than we allow.
    assert browser.min() > -1e-3
    assert POINT_MM < 0.9 * _QUARTER_ERROR * radius < browser.max()
    assert browser.max() < 1.02 * _QUARTER_ERROR * radius
    (shape,) = _drawing(case).shapes
    ours = np.hypot(*(shape.curve.flatten(1e-4) - centre).T) - radius
    assert np.abs(ours).max() < 2.1e-4


def test_the_browser_draws_where_its_matrix_says() -> None:
    # Specks beside the elements confirm getScreenCTM, but for those that a switch does not draw.
    strayed = {case.name for case in _READ for answer in _ANSWERS[case.name] if "specks" in answer}
    assert strayed <= {name for name in CASES if name.startswith("switch-")}


@pytest.mark.parametrize(
    "case", [case for case in CASES.values() if case.refused], ids=lambda case: case.name
)
def test_what_cannot_be_trusted_is_refused(case: Case) -> None:
    with pytest.raises(PanelshiftError) as caught:
        _drawing(case)
    assert case.refused in caught.value.problem
    assert caught.value.remedy


@pytest.mark.parametrize(
    "case", [case for case in CASES.values() if case.left_out], ids=lambda case: case.name
)
def test_what_is_left_out_is_listed(case: Case) -> None:
    assert any(case.left_out in item.reason for item in _drawing(case).left_out)


@pytest.mark.parametrize(
    "case",
    thinned(case for case in _READ if case.name not in OTHERWISE),
    ids=lambda case: case.name,
)
def test_a_second_renderer_inks_the_same_box(case: Case) -> None:
    ink = _SECOND[case.name]
    if ink is None:
        # Lines enclose no area, so there is nothing to ink.
        assert ink_box(_drawing(case), (1000.0, 1000.0)) is None
        return
    ours = ink_box(_drawing(case), ink["page"])
    assert ours is not None
    assert np.abs(ours - ink["box"]).max() <= max(INK_MM, ink["pixel"])


def test_the_comparison_can_fail() -> None:
    # A hundredth of a millimetre too far must show, and so must a missing piece.
    case = CASES["path-cubic"]
    (answer,) = _ANSWERS[case.name]
    shapes = _drawing(case).scaled(1.001).shapes
    assert agreement(shapes, answer).point > POINT_MM
    half = [shapes[0].curve.piece(0.0, 0.5)]
    whole = _drawing(case).shapes[0]
    cut = [type(whole)(half[0], whole.ident)]
    found = agreement(cut, answer)
    assert abs(found.length) > found.allowed
