"""The seeds and every crasher that fuzzing has found, played again without the fuzzer."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import pytest

from . import harness

HERE: Final = Path(__file__).resolve().parent
_FILES: Final = sorted(
    file
    for folder in ("corpus", "cases")
    for file in (HERE / folder).rglob("*")
    if file.is_file() and not file.name.startswith(".")
)


@pytest.mark.parametrize("file", _FILES, ids=lambda file: str(file.relative_to(HERE)))
def test_replay(file: Path) -> None:
    harness.TARGETS[file.parent.name](file.read_bytes())


def test_every_target_has_seeds() -> None:
    assert {file.parent.name for file in _FILES} == set(harness.TARGETS)


def test_the_harness_sees_what_is_broken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(harness, "LONGEST_S", -1.0)
    with pytest.raises(harness.BrokenError, match="processor time"):
        harness.svg(b"<svg/>")

    def fails(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(harness, "LONGEST_S", 2.0)
    monkeypatch.setattr(harness, "read_svg", fails)
    with pytest.raises(ZeroDivisionError):
        harness.svg(b"<svg/>")
