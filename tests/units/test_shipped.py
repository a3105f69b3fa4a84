"""Where what is installed with the package is looked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from panelshift.files import shipped


def test_the_sample_lies_beside_a_package_that_was_installed_into_a_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # As pip install --target does; one of another copy, in Python's own place, is not taken first.
    beside = tmp_path / "share/panelshift"
    (beside / "sample").mkdir(parents=True)
    monkeypatch.setitem(shipped._COPY, "sample", tmp_path / "nowhere")
    monkeypatch.setattr(shipped, "_BESIDE", beside)
    assert shipped.home.__wrapped__("sample") == beside / "sample"
