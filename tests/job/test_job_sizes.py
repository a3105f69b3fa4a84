"""Several sizes in one drawing: the starting job file lists them to choose from."""

from __future__ import annotations

from pathlib import Path

import pytest

from panelshift.job.choices import survey
from panelshift.job.starter import starter_job
from tests.draft.test_draft_sizes import REST, nested
from tests.support.drawings import drawing


@pytest.mark.slow
def test_each_size_is_offered_with_its_waist() -> None:
    found = survey(drawing("".join(nested("dash")) + REST))
    (choice,) = (choice for choice in found.choices if choice.key == "size")
    assert [option.value for option in choice.options] == ["1", "2", "3"]
    for option, waist in zip(choice.options, (264, 324, 384), strict=True):
        assert f"whole waist {waist} mm" in option.gives
    text = starter_job(found, Path("draft.svg"))
    for line in ('# size = "1"', '# size = "2"', '# size = "3"'):
        assert line in text
    assert "dashed 8 3" in " ".join(text.split())
