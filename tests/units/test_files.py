"""Files are written whole or not at all, under names that are safe anywhere."""

from __future__ import annotations

import errno
import os
import re
import stat
from pathlib import Path
from typing import NoReturn

import pytest
from hypothesis import example, given, strategies as st

from panelshift.errors import OutputError
from panelshift.files import safe_name, write_whole
from panelshift.files.one_line import as_line, line_fault
from tests.support.terminal import listing


def no_room(*_: object, **__: object) -> NoReturn:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_files_are_written_and_directories_made(tmp_path: Path) -> None:
    write_whole({tmp_path / "a" / "b" / "one": b"1", tmp_path / "two": b""})
    assert listing(tmp_path) == {"a": None, "a/b": None, "a/b/one": b"1", "two": b""}


def test_written_files_have_the_usual_mode(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_whole({tmp_path / "one": b"1"})
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "one").stat().st_mode) == 0o640


def test_old_content_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "one").write_bytes(b"a much longer old content")
    write_whole({tmp_path / "one": b"new"})
    assert listing(tmp_path) == {"one": b"new"}


@pytest.mark.parametrize("call", ["fsync", "replace", "open"])
def test_failure_leaves_the_old_content_and_no_temporary_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    (tmp_path / "one").write_bytes(b"old")
    before = listing(tmp_path)
    monkeypatch.setattr(os, call, no_room)
    with pytest.raises(OutputError, match="cannot write: No space left on device") as caught:
        write_whole({tmp_path / "one": b"new", tmp_path / "two": b"2"})
    assert "has room" in str(caught.value)
    assert listing(tmp_path) == before


def test_disk_that_fills_on_the_second_file_leaves_neither(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, calls = os.fsync, []

    def fills(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 2:
            no_room()
        real(handle)

    monkeypatch.setattr(os, "fsync", fills)
    with pytest.raises(OutputError) as caught:
        write_whole({tmp_path / name: b"x" for name in ("one", "two", "three")})
    assert str(tmp_path / "two") in str(caught.value)
    assert listing(tmp_path) == {}


def test_failure_leaves_no_new_directories(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "old").mkdir()
    monkeypatch.setattr(os, "fsync", no_room)
    with pytest.raises(OutputError):
        write_whole({tmp_path / "old" / "new" / "deep" / "one": b"1"})
    assert listing(tmp_path) == {"old": None}


def test_longest_possible_file_name_is_written(tmp_path: Path) -> None:
    write_whole({tmp_path / ("n" * 255): b"1"})
    assert listing(tmp_path) == {"n" * 255: b"1"}


def test_failure_while_renaming_names_the_file_that_could_not_be_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.replace

    def stubborn(source: str, target: Path) -> None:
        if Path(target).name == "two":
            no_room()
        real(source, target)

    monkeypatch.setattr(os, "replace", stubborn)
    with pytest.raises(OutputError) as caught:
        write_whole({tmp_path / name: name.encode() for name in ("one", "two", "three")})
    assert str(tmp_path / "two") in str(caught.value)
    assert str(tmp_path / "three") not in str(caught.value)
    assert listing(tmp_path) == {"one": b"one"}


def test_interrupted_writing_leaves_no_temporary_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(_: int) -> NoReturn:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_whole({tmp_path / "one": b"1"})
    assert listing(tmp_path) == {}


def test_directory_below_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(OutputError, match=r"cannot write: (Not a directory|File exists)"):
        write_whole({tmp_path / "file" / "sub" / "one": b"1"})
    assert listing(tmp_path) == {"file": b""}


def test_target_that_is_a_directory_is_refused_before_anything_is_replaced(
    tmp_path: Path,
) -> None:
    (tmp_path / "two").mkdir()
    with pytest.raises(OutputError, match="Is a directory"):
        write_whole({tmp_path / "one": b"1", tmp_path / "two": b"2"})
    assert listing(tmp_path) == {"two": None}


@pytest.mark.skipif(not Path("/proc/version").exists(), reason="needs /proc")
def test_file_system_that_takes_no_files_is_refused() -> None:
    with pytest.raises(OutputError, match="cannot write"):
        write_whole({Path("/proc/panelshift/one"): b"1"})


@pytest.mark.parametrize("name", ["n" * 300, "a\0b"])
def test_impossible_file_name_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(OutputError, match="cannot write"):
        write_whole({tmp_path / name: b"1"})
    assert listing(tmp_path) == {}


@given(st.text(max_size=200))
@example("")
@example("../../etc/passwd")
@example("ÄÖÜ ß")
@example("衣")
@example("con")
@example("a\0b")
@example("\u0130\ufb01\u2160")
@example("-" * 100)
@example("x" * 59 + " y")
def test_safe_name_is_letters_digits_and_single_hyphens(name: str) -> None:
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", safe_name(name))
    assert len(safe_name(name)) <= 60


def test_safe_name_keeps_what_it_can() -> None:
    assert safe_name("Brocade (façade) no. 2") == "brocade-facade-no-2"
    assert safe_name("衣") == "unnamed"


@pytest.mark.parametrize(
    ("code", "cause", "remedy"),
    [
        (errno.ENOENT, "its directory does not exist", "that is there"),
        (errno.EACCES, "you may not write there", "that you may write to"),
        (errno.EROFS, "the disk can only be read", "on another disk"),
        (errno.ENOSPC, "the disk is full", "Make room"),
        (errno.ENAMETOOLONG, "the name is too long", "shorter name"),
        (errno.ENOTDIR, "a file is where a directory should be", "Move that file away"),
        (errno.EISDIR, "a directory is where the file should be", "Move that directory away"),
        (errno.EIO, "cannot write: ", "another directory"),
    ],
)
def test_each_cause_has_its_remedy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, cause: str, remedy: str
) -> None:
    def refused(*_: object) -> NoReturn:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(os, "open", refused)
    with pytest.raises(OutputError) as caught:
        write_whole({tmp_path / "one": b"1"})
    assert cause in caught.value.problem
    assert remedy in caught.value.remedy
    # A cause is told once, and no other remedy beside it.
    assert ("room" in caught.value.remedy) == (code == errno.ENOSPC)


def test_a_line_of_words_has_300_letters_at_most_and_none_that_breaks_it() -> None:
    turning = (0x2028, 0x2029, 0x202A, 0x202E, 0x2066, 0x2069)
    breaks = [chr(k) for k in (0, 9, 10, 13, 0x1B, 0x7F, 0x9B, *turning)]
    breaks += ["\ud800", "\ufffe", "\uffff"]
    for broken in breaks:
        assert as_line(f"a{broken}b") == "a b"
        assert line_fault(f"a{broken}b") == "must be one line of text without control characters"
    # Narrow spaces, marks that join letters and letters of all scripts break nothing.
    kept = "Größe 12 «x» 裾 \u202f\u200d\u2065\u206a"
    assert (as_line(kept), line_fault(kept)) == (kept, "")
    assert as_line("x" * 301) == "x" * 300
    assert line_fault("x" * 300) == ""
    assert line_fault("x" * 301) == "has 301 letters, more than 300"
