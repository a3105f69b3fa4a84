"""A directory holds one set: killed at any step, written by two at once, or with fewer files."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from hashlib import sha256
from pathlib import Path
from types import SimpleNamespace

import pytest

from panelshift.errors import OutputError
from panelshift.files import outputs
from panelshift.files.outputs import (
    PENDING_NAME,
    RECORD_NAME,
    end_pending,
    record_bytes,
    recover,
    write_outputs,
)

OLD = {"layer-1-lining.svg": b"old one", "layer-2-satin.svg": b"old two", "overlay.svg": b"old"}
NEW = {"layer-1-lining.svg": b"new one", "layer-3-silk.svg": b"new three", "overlay.svg": b"new"}

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="no processes are forked here")


def put(folder: Path, files: dict[str, bytes]) -> list[Path]:
    return write_outputs({folder / k: v for k, v in files.items()}, made_by="cut")


def seen(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir() if not p.name.startswith(".")}


def killed_at(step: int, folder: Path) -> bool:
    """Write the new set in a process that dies at a step that changes the disk; whether it did."""
    child = os.fork()
    if child == 0:  # pragma: no cover - a process of its own
        count = 0

        def dying(call):
            def act(*args, **kwargs):
                nonlocal count
                count += 1
                if count == step:
                    os._exit(9)
                return call(*args, **kwargs)

            return act

        for name in ("replace", "unlink", "fsync", "open", "rmdir"):
            setattr(os, name, dying(getattr(os, name)))
        Path.unlink = dying(Path.unlink)  # type: ignore[method-assign]
        try:
            put(folder, NEW)
        finally:
            os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9


@pytest.mark.slow
def test_killed_at_every_step_leaves_a_set_to_the_next_run(tmp_path: Path) -> None:
    kinds = set()
    for step in range(1, 60):
        folder = tmp_path / str(step)
        put(folder, OLD)
        if not killed_at(step, folder):
            break
        end_pending(folder)
        found = seen(folder)
        assert found in (OLD, NEW), step
        kinds.add(found == NEW)
        # And the next run is not refused, and leaves nothing of the one that died.
        put(folder, NEW)
        assert seen(folder) == NEW
        assert {p.name for p in folder.iterdir()} == {*NEW, RECORD_NAME}
    assert step > 12
    assert kinds == {True, False}


def test_what_a_run_makes_no_more_is_removed_unless_it_was_changed(tmp_path: Path) -> None:
    put(tmp_path, OLD)
    (tmp_path / "overlay.svg").write_bytes(b"drawn on")
    write_outputs({tmp_path / "fit.html": b"sheet"}, made_by="fit")
    gone = put(tmp_path, {"layer-1-lining.svg": b"new one"})
    assert gone == [tmp_path / "layer-2-satin.svg"]
    assert seen(tmp_path) == {
        "layer-1-lining.svg": b"new one",
        "overlay.svg": b"drawn on",
        "fit.html": b"sheet",
    }


def test_another_writer_is_waited_for_ten_seconds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fcntl = pytest.importorskip("fcntl")
    clock = [0.0]

    def sleep(seconds: float) -> None:
        clock[0] += seconds

    monkeypatch.setattr(outputs, "time", SimpleNamespace(monotonic=lambda: clock[0], sleep=sleep))
    handle = os.open(tmp_path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        with pytest.raises(OutputError, match="another panelshift is writing there"):
            put(tmp_path, OLD)
    finally:
        os.close(handle)
    assert clock[0] == pytest.approx(10.0, abs=0.1)


def test_two_writers_take_turns(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    other = (
        "import fcntl, os, sys, time\n"
        "handle = os.open(sys.argv[1], os.O_RDONLY)\n"
        "fcntl.flock(handle, fcntl.LOCK_EX)\n"
        "print('locked', flush=True)\n"
        "sys.stdin.read()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", other, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"locked\n"
        monkeypatch.setattr(outputs, "PATIENCE_S", 0.2)
        waits: list[float] = []
        sleep = time.sleep
        monkeypatch.setattr(outputs.time, "sleep", lambda s: (waits.append(s), sleep(s)))
        begin, opened = time.monotonic(), len(os.listdir("/dev/fd"))
        with pytest.raises(OutputError, match="another panelshift is writing there"):
            put(tmp_path, OLD)
        assert 0.1 < time.monotonic() - begin < 5.0
        # Without keeping the processor busy, nor the directory open.
        assert sum(waits) > 0.15
        assert len(os.listdir("/dev/fd")) == opened
        assert seen(tmp_path) == {}
        process.kill()
    # A process that dies lets go.
    put(tmp_path, OLD)
    assert seen(tmp_path) == OLD


@pytest.mark.parametrize(
    "note",
    [
        {"moves": {"overlay.svg": "mine.txt"}, "gone": {}},
        {"moves": {"overlay.svg": "../mine.txt"}, "gone": {"mine.txt": "0" * 64}},
        {"moves": {"../overlay.svg": ".overlay.svg.01234567"}, "gone": {"../mine.txt": ""}},
        {"moves": [["a", "b"]], "gone": ["mine.txt"]},
        [1],
    ],
)
def test_a_note_that_somebody_else_put_there_touches_nothing(tmp_path: Path, note: object) -> None:
    folder = tmp_path / "out"
    put(folder, OLD)
    for place in (folder, tmp_path):
        (place / "mine.txt").write_bytes(b"precious")
    (folder / PENDING_NAME).write_text(json.dumps(note))
    put(folder, OLD)
    assert seen(folder) == {**OLD, "mine.txt": b"precious"}
    assert (tmp_path / "mine.txt").read_bytes() == b"precious"


def test_what_was_begun_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path, OLD)
    # What a writer that died had not yet named goes with the next; what is nobody's stays.
    for name in (".overlay.svg.89abcdef", ".notes"):
        (tmp_path / name).write_bytes(b"half")
    # Where directories cannot be locked, as on Windows, there is nothing to let go.
    with monkeypatch.context() as patch:
        patch.setattr(outputs, "_locked", lambda folder: None)
        put(tmp_path, OLD)
    assert sorted(p.name for p in tmp_path.iterdir() if p.name[0] == ".") == [".notes", RECORD_NAME]
    (tmp_path / ".notes").unlink()
    for name, content in (("overlay.svg", b"new"), ("layer-3-silk.svg", b"new three")):
        (tmp_path / f".{name}.0123abcd").write_bytes(content)
    # One whose place was written to since stays there, and what was to come there goes.
    (tmp_path / ".overlay.pdf.0123abcd").write_bytes(b"new pages")
    (tmp_path / "overlay.pdf").write_bytes(b"pages of the maker")
    moves = {
        name: f".{name}.0123abcd" for name in ("overlay.svg", "layer-3-silk.svg", "overlay.pdf")
    }
    digests = {name: sha256(OLD[name]).hexdigest() for name in OLD if name.startswith("layer")}
    (tmp_path / "layer-1-lining.svg").write_bytes(b"drawn on")
    was = {"overlay.svg": sha256(OLD["overlay.svg"]).hexdigest()}
    note = {"moves": moves, "was": was, "gone": digests}
    (tmp_path / PENDING_NAME).write_text(json.dumps(note))
    end_pending(tmp_path)
    assert seen(tmp_path) == {
        "layer-1-lining.svg": b"drawn on",
        "layer-3-silk.svg": b"new three",
        "overlay.pdf": b"pages of the maker",
        "overlay.svg": b"new",
    }
    assert {path.name for path in tmp_path.iterdir() if path.name[0] == "."} == {RECORD_NAME}


def interrupted_at(step: int, monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    """Have the renaming of a set come to an end when so many of its files are in place."""
    count = iter(range(100))
    replace = os.replace

    def act(old: str, new: Path) -> None:
        # The note of what is pending is the first to be renamed, the directory's record the second.
        if next(count) == step:
            raise error
        replace(old, new)

    monkeypatch.setattr(os, "replace", act)


@pytest.mark.parametrize("error", [KeyboardInterrupt(), PermissionError(13, "in use")])
def test_what_is_interrupted_among_its_files_is_ended_by_the_next_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: BaseException
) -> None:
    put(tmp_path, OLD)
    for step in (1, 3):
        with monkeypatch.context() as patch:
            interrupted_at(step, patch, error)
            with pytest.raises((KeyboardInterrupt, OutputError)):
                put(tmp_path, NEW)
        recover(tmp_path, ())
        assert seen(tmp_path) == (OLD if step == 1 else NEW)
    assert {p.name for p in tmp_path.iterdir()} == {*NEW, RECORD_NAME}


def test_what_was_edited_after_a_kill_is_not_replaced_by_what_was_pending(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(tmp_path, OLD)
    with monkeypatch.context() as patch:
        interrupted_at(3, patch, KeyboardInterrupt())
        with pytest.raises(KeyboardInterrupt):
            put(tmp_path, NEW)
    (tmp_path / "overlay.svg").write_bytes(b"drawn on")
    with pytest.raises(OutputError, match=r"overlay.svg: .*was changed since"):
        put(tmp_path, NEW)
    assert (tmp_path / "overlay.svg").read_bytes() == b"drawn on"
    assert {p.name for p in tmp_path.iterdir()} == {*NEW, RECORD_NAME}
    write_outputs({tmp_path / k: v for k, v in NEW.items()}, made_by="cut", overwrite=True)
    assert seen(tmp_path) == NEW


def test_each_command_s_files_are_a_set_of_their_own(tmp_path: Path) -> None:
    def both(**files: str) -> list[Path]:
        made_by = {tmp_path / name: maker for name, maker in files.items()}
        contents = {path: path.name.encode() for path in made_by}
        return write_outputs(contents, made_by=made_by, records={tmp_path / ".note": b"noted"})

    both(one="cut", two="cut", three="tile")
    assert both(four="tile") == [tmp_path / "three"]
    assert both(one="cut", four="tile") == [tmp_path / "two"]
    assert (tmp_path / ".note").read_bytes() == b"noted"


def test_a_directory_that_may_not_be_listed_is_written_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.open

    def forbidden(path: Path, *arguments: int) -> int:
        if os.path.isdir(path):
            raise PermissionError(13, "Permission denied")
        return real(path, *arguments)

    monkeypatch.setattr(os, "open", forbidden)
    put(tmp_path, OLD)
    assert seen(tmp_path) == OLD


@pytest.mark.parametrize("name", ["a\0b", "\ud800", "..", "x" * 300])
def test_names_that_no_file_can_have_are_passed_over_in_records(tmp_path: Path, name: str) -> None:
    put(tmp_path, OLD)
    record = json.loads((tmp_path / RECORD_NAME).read_text())
    record[name] = {"hashes": ["0" * 64], "made_by": "cut"}
    (tmp_path / RECORD_NAME).write_text(json.dumps(record))
    note = {"moves": {name: f".{name[:40]}.01234567"}, "was": {}, "gone": {name: "0" * 64}}
    (tmp_path / PENDING_NAME).write_text(json.dumps(note))
    put(tmp_path, NEW)
    assert seen(tmp_path) == NEW


def test_the_same_record_is_written_as_the_same_bytes() -> None:
    one, two = (
        {"files": {"b": 1, "a": 2}, "kind": "cut"},
        {"kind": "cut", "files": {"a": 2, "b": 1}},
    )
    written = b'{\n "files": {\n  "a": 2,\n  "b": 1\n },\n "kind": "cut"\n}\n'
    assert record_bytes(one) == record_bytes(two) == written
