"""Whole documents made up by hypothesis: wild ones break nothing, untidy ones read alike."""

from __future__ import annotations

import numpy as np
from hypothesis import given, strategies as st

from panelshift.draft import assemble
from panelshift.errors import PanelshiftError
from panelshift.sources.svg import read_svg
from tests.fuzz import harness
from tests.support.examples import examples
from tests.support.pattern_strategies import Untidy, documents, untidy_patterns


@given(documents)
@examples(300)
def test_wild_documents(text: bytes) -> None:
    harness.svg(text)


@given(st.binary(max_size=300))
def test_any_bytes(data: bytes) -> None:
    for target in (harness.svg, harness.job):
        target(data)


@given(documents, st.data())
def test_documents_that_are_cut_or_spoiled(text: bytes, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(text)))
    harness.svg(text[:place] + data.draw(st.binary(max_size=4)) + text[place + 2 :])


@given(untidy_patterns())
@examples(15)
def test_untidy_patterns_read_like_clean_ones(drafts: Untidy) -> None:
    try:
        clean = assemble(read_svg(drafts.clean))
    except PanelshiftError:
        return
    untidy = assemble(read_svg(drafts.untidy))
    for one, other in zip(clean.panels, untidy.panels, strict=True):
        assert one.name == other.name
        apart = np.abs(one.outline.control - other.outline.control).max()
        assert apart < 1e-6
