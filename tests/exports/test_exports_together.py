"""Several things that an export does to a draft at once: the pattern is still the same."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import event, given, settings

from panelshift.draft import assemble
from panelshift.pattern.pattern import Pattern
from panelshift.sources.svg import read_svg
from tests.support.examples import examples
from tests.support.export_elements import plain
from tests.support.export_strategies import Export, exports
from tests.support.same_pattern import assert_same

WITHIN_MM = 2e-3
"""A copy may be taken for the line that it lies on, and copies lie up to 0.0015 mm aside."""


def without_letters(found: Pattern) -> Pattern:
    """All marks of the half block have a name; letters have none."""
    return replace(
        found,
        panels=tuple(
            replace(panel, marks=tuple(mark for mark in panel.marks if mark.kind != "mark"))
            for panel in found.panels
        ),
    )


@given(exports("half block"))
@examples(20)
@pytest.mark.slow
def test_disturbed_drafts_make_the_plain_drafts_pattern(export: Export) -> None:
    for change in export.changes:
        event(change)
    found = without_letters(assemble(read_svg(export.file, name="export.svg")))
    assert_same(found, plain(export.draft), within=WITHIN_MM)
    expected = {
        "hatching": "taken for hatching",
        "letters": "too small for a panel",
    }
    told = [words for change, words in expected.items() if change in export.changes]
    assert all(any(words in warning for words in told) for warning in found.warnings)
    if "hatching" in export.changes:
        assert any("taken for hatching" in warning for warning in found.warnings)
    if "cut lines" in export.changes:
        allowances = [i for i in found.left_out if "the seam allowance round" in i.reason]
        assert len(allowances) == len(found.panels)


@pytest.mark.slow
@given(exports("hourglass"))
@settings(max_examples=2)
def test_disturbed_samples_keep_their_panels_and_lengths(export: Export) -> None:
    found = assemble(read_svg(export.file, name="export.svg"))
    assert_same(without_marks(found), without_marks(plain(export.draft)), within=WITHIN_MM)


def without_marks(found: Pattern) -> Pattern:
    return replace(found, panels=tuple(replace(panel, marks=()) for panel in found.panels))
