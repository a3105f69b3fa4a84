"""Transforms baked in or nested, scaled view boxes, and px at 72, 90 or 96 to the inch."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from panelshift.errors import ScaleError
from panelshift.job import read_job, resolve
from panelshift.job.checks import PX_UNCHECKED
from panelshift.job.result import cut
from panelshift.outline import Curve
from panelshift.pattern.pattern import Pattern
from tests.support.drafts import path_data
from tests.support.drawings import job_text
from tests.support.examples import thinned
from tests.support.export_elements import EACH_BASE, base, body_of, document, pattern_of, plain
from tests.support.same_pattern import SAME_MM, assert_same

bases = pytest.mark.parametrize("draft", EACH_BASE)


def matrix(*rows: tuple[float, float, float]) -> np.ndarray:
    return np.array([*rows, (0.0, 0.0, 1.0)])


def turn(angle: float) -> np.ndarray:
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    return matrix((c, -s, 0.0), (s, c, 0.0))


NESTS = {
    "shift": [("translate(30 -12.5)", matrix((1, 0, 30), (0, 1, -12.5)))],
    "scale": [("scale(0.352778)", matrix((0.352778, 0, 0), (0, 0.352778, 0)))],
    "turned and back": [
        ("rotate(90)", turn(90.0)),
        ("matrix(0 -2 2 0 7 9)", matrix((0, 2, 7), (-2, 0, 9))),
    ],
    "mirrored": [
        ("scale(-1 1)", matrix((-1, 0, 0), (0, 1, 0))),
        ("translate(-600)", matrix((1, 0, -600), (0, 1, 0))),
    ],
    "skewed": [
        ("skewX(12)", matrix((1, np.tan(np.radians(12)), 0), (0, 1, 0))),
        ("scale(1.5 .8)", matrix((1.5, 0, 0), (0, 0.8, 0))),
        (
            "rotate(-30 5 6)",
            matrix((1, 0, 5), (0, 1, 6)) @ turn(-30.0) @ matrix((1, 0, -5), (0, 1, -6)),
        ),
    ],
}


@pytest.mark.parametrize("nest", NESTS)
@pytest.mark.parametrize(
    ("draft", "on"),
    thinned([("half block", "each path"), ("half block", "a copy"), ("hourglass", "groups")], 2),
)
def test_transforms_nested_and_baked_in(draft: str, nest: str, on: str) -> None:
    """Lines drawn under transforms are the lines that a program bakes them into."""
    whole = np.eye(3)
    for _, step in NESTS[nest]:
        whole = whole @ step
    back = np.linalg.inv(whole)[:2]
    inner = [element.moved(back) for element in base(draft)]
    words = [text for text, _ in NESTS[nest]]
    if on == "each path":
        body = body_of(inner).replace("<path ", f'<path transform="{" ".join(words)}" ')
    else:
        body = body_of(inner)
        for word in reversed(words):
            body = f'<g transform="{word}">{body}</g>'
    if on == "a copy":
        body = f'<defs><g id="whole">{body}</g></defs><use href="#whole"/>'
    found = pattern_of(body)
    assert_same(found, plain(draft))
    assert not found.warnings


ROOTS = {
    "0.1 mm": ('width="100cm" height="1000mm" viewBox="0 0 10000 10000"', 0.1),
    "pt": ('width="2880pt" height="2880pt" viewBox="0 0 2880 2880"', 25.4 / 72.0),
    "in": ('width="40in" height="40in" viewBox="0 0 40 40"', 25.4),
    "px in mm": ('width="1016mm" height="1016mm" viewBox="0 0 3840 3840"', 25.4 / 96.0),
    "thousandths": ('width="40in" height="40in" viewBox="0 0 40000 40000"', 0.0254),
    "taller than its box": ('width="900mm" height="1100mm" viewBox="0 -100 900 1100"', 1.0),
}


@pytest.mark.parametrize("root", ROOTS)
def test_scaled_view_boxes(root: str) -> None:
    draft = "half block"
    attributes, unit = ROOTS[root]
    scale = np.array([[1.0 / unit, 0.0, 0.0], [0.0, 1.0 / unit, 0.0]])
    if root == "taller than its box":
        scale[1, 2] = -100.0
    found = pattern_of(body_of(element.moved(scale) for element in base(draft)), attributes)
    assert_same(found, plain(draft))
    assert not found.warnings


@bases
@pytest.mark.parametrize(("unit", "digits"), [(25.4 / 96.0, 2), (25.4 / 72.0, 3), (1.0, 3)])
def test_rounded_numbers_move_lines_by_no_more_than_their_last_digit(draft, unit, digits) -> None:
    scale = np.array([[1.0 / unit, 0.0, 0.0], [0.0, 1.0 / unit, 0.0]])

    def data(curve: Curve) -> str:
        return path_data(Curve(np.round(curve.control, digits), curve.degree, curve.closed))

    root = f'width="{4000 * unit!r}mm" height="{4000 * unit!r}mm" viewBox="0 0 4000 4000"'
    found = pattern_of(body_of((e.moved(scale) for e in base(draft)), data), root)
    assert_same(found, plain(draft), within=max(SAME_MM, 3.0 * unit * 10.0**-digits))


# -- px -----------------------------------------------------------------------------------


def px_job(
    folder: Path, per_inch: float, head: str = "", *, unit: str = "", box: bool = True
) -> Path:
    """The hourglass exported in px of which some program takes so many for an inch."""
    scale = np.array([[per_inch / 25.4, 0.0, 0.0], [0.0, per_inch / 25.4, 0.0]])
    size = f"{round(1000.0 * per_inch / 25.4, 3)!r}"
    root = f'width="{size}{unit}" height="{size}{unit}"'
    if box:
        root += f' viewBox="0 0 {size} {size}"'
    body = body_of(element.moved(scale) for element in base("hourglass"))
    (folder / "draft.svg").write_bytes(document(body, root))
    (folder / "job.toml").write_text(job_text(head=head))
    return folder / "job.toml"


def read(file: Path) -> Pattern:
    return resolve(read_job(file)).pattern


forms = pytest.mark.parametrize(("unit", "box"), [("px", True), ("", False)])


@forms
def test_96_px_are_an_inch_but_that_is_said_unless_the_waist_bears_it_out(tmp_path, unit, box):
    found = read(px_job(tmp_path, 96.0, unit=unit, box=box))
    assert_same(found, plain("hourglass"))
    assert found.warnings == (PX_UNCHECKED,)
    assert "drafted_waist" in PX_UNCHECKED
    for head in ("drafted_waist = 640", "scale = 1.01"):
        assert not read(px_job(tmp_path, 96.0, head, unit=unit, box=box)).warnings


@forms
@pytest.mark.parametrize(
    ("per_inch", "clue", "factor"), [(72.0, "72/96", 4.0 / 3.0), (90.0, "90/96", 16.0 / 15.0)]
)
@pytest.mark.slow
def test_other_px_are_detected_by_the_waist_and_mended_as_the_message_says(
    tmp_path, per_inch, clue, factor, unit, box
) -> None:
    file = px_job(tmp_path, per_inch, "drafted_waist = 640", unit=unit, box=box)
    with pytest.raises(ScaleError) as caught:
        cut(resolve(read_job(file)))
    message = str(caught.value)
    assert f"looks like {clue}: the drawing has {per_inch:.0f} px to the inch" in message
    assert "640 mm" in message
    assert f"set pattern.scale = {factor:.6g}" in message
    head = f"drafted_waist = 640\nscale = {factor:.6g}"
    mended = read(px_job(tmp_path, per_inch, head, unit=unit, box=box))
    # The factor has six digits: it is exact to 3e-6, and the sheet 700 mm wide.
    assert mended.waist == pytest.approx(640.0, rel=4e-6)
    assert_same(mended, plain("hourglass"), within=3e-3)


@pytest.mark.parametrize("per_inch", [72.0, 90.0])
def test_wrong_px_without_a_drafted_waist_are_never_silent(tmp_path, per_inch: float) -> None:
    found = read(px_job(tmp_path, per_inch))
    assert found.waist == pytest.approx(640.0 * per_inch / 96.0)
    assert PX_UNCHECKED in found.warnings


def test_page_in_mm_says_nothing_of_px(tmp_path) -> None:
    (tmp_path / "draft.svg").write_bytes(document(body_of(base("hourglass"))))
    (tmp_path / "job.toml").write_text(job_text())
    assert not read(tmp_path / "job.toml").warnings


def test_page_without_a_size_says_what_was_assumed(tmp_path) -> None:
    body = body_of(base("hourglass"))
    (tmp_path / "draft.svg").write_bytes(document(body, 'viewBox="0 0 1000 1000"'))
    (tmp_path / "job.toml").write_text(job_text(head="drafted_waist = 640"))
    found = resolve(read_job(tmp_path / "job.toml"))
    (warning,) = found.pattern.warnings
    assert "its scale is not stated" in warning
    with pytest.raises(ScaleError, match=r"25\.4/96: mm were taken for px"):
        cut(found)
