"""Outputs replace only what panelshift itself wrote."""

from __future__ import annotations

from pathlib import Path

import pytest

from panelshift.errors import OutputError
from panelshift.files.outputs import RECORD_NAME, _remove, write_outputs


def test_own_output_is_replaced_without_asking(tmp_path: Path) -> None:
    target = tmp_path / "layer.svg"
    write_outputs({target: b"one"})
    write_outputs({target: b"two"})
    assert target.read_bytes() == b"two"


def test_file_of_somebody_else_is_kept(tmp_path: Path) -> None:
    target = tmp_path / "layer.svg"
    target.write_bytes(b"precious")
    with pytest.raises(OutputError, match="did not write"):
        write_outputs({tmp_path / "first.svg": b"x", target: b"one"})
    assert target.read_bytes() == b"precious"
    assert not (tmp_path / "first.svg").exists()


def test_own_output_that_was_edited_by_hand_is_kept(tmp_path: Path) -> None:
    target = tmp_path / "layer.svg"
    write_outputs({target: b"one"})
    target.write_bytes(b"one, with a dart moved by hand")
    with pytest.raises(OutputError, match="changed since"):
        write_outputs({target: b"two"})
    assert target.read_bytes() == b"one, with a dart moved by hand"


def test_overwrite_replaces_all_the_same(tmp_path: Path) -> None:
    target = tmp_path / "layer.svg"
    target.write_bytes(b"precious")
    write_outputs({target: b"one"}, overwrite=True)
    assert target.read_bytes() == b"one"
    write_outputs({target: b"two"})
    assert target.read_bytes() == b"two"


@pytest.mark.parametrize("overwrite", [False, True])
def test_input_is_never_replaced(tmp_path: Path, overwrite: bool) -> None:
    pattern = tmp_path / "overlay.svg"
    pattern.write_bytes(b"draft")
    link = tmp_path / "out"
    link.symlink_to(tmp_path)
    with pytest.raises(OutputError, match="made from"):
        write_outputs({link / "overlay.svg": b"one"}, overwrite=overwrite, inputs=[pattern])
    assert pattern.read_bytes() == b"draft"


def test_same_content_is_no_clash(tmp_path: Path) -> None:
    target = tmp_path / "layer.svg"
    target.write_bytes(b"one")
    write_outputs({target: b"one"})
    write_outputs({target: b"two"})
    assert target.read_bytes() == b"two"


def test_file_left_by_a_run_that_died_after_its_record_is_still_own(tmp_path: Path) -> None:
    target = tmp_path / "layer.svg"
    write_outputs({target: b"one"})
    write_outputs({target: b"two"})
    target.write_bytes(b"one")  # as if the rename to the second had never happened
    write_outputs({target: b"three"})
    assert target.read_bytes() == b"three"


@pytest.mark.parametrize("junk", [b"", b"{", b"[1]", b'{"layer.svg": 3}', b"\xff\xfe"])
def test_spoilt_record_remembers_nothing(tmp_path: Path, junk: bytes) -> None:
    target = tmp_path / "layer.svg"
    target.write_bytes(b"precious")
    (tmp_path / RECORD_NAME).write_bytes(junk)
    with pytest.raises(OutputError, match="did not write"):
        write_outputs({target: b"one"})
    assert target.read_bytes() == b"precious"


def test_what_somebody_took_away_meanwhile_is_removed_already(tmp_path: Path) -> None:
    (tmp_path / "stale.svg").touch()
    for _ in range(2):
        _remove(tmp_path / "stale.svg")
    (tmp_path / "folder").mkdir()
    with pytest.raises(OutputError, match="cannot remove what an earlier run left"):
        _remove(tmp_path / "folder")
