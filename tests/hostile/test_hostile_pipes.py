"""A named pipe in the place of any file is refused at once: nobody may ever write to it."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from panelshift import save
from panelshift.batch import read_table
from panelshift.errors import OutputError, PanelshiftError
from panelshift.files.outputs import RECORD_NAME, write_outputs
from panelshift.form.scan import measure_scan
from panelshift.form.traced import measure_traced
from panelshift.job import JobFile, read_job, resolve
from panelshift.printing import PageOptions, parse_paper
from panelshift.printing.drawing_prints import print_file
from panelshift.sources.svg import read_svg
from panelshift.swatch import read_csv
from panelshift.table.session import Session
from tests.support.drawings import half, job_text, panels, svg

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")

READERS: dict[str, Callable[[Path], object]] = {
    "drawing.svg": read_svg,
    "job.toml": read_job,
    "swatches.csv": read_csv,
    "clients.csv": lambda path: read_table(path, path.parent / "plain.toml"),
    "sections.json": lambda path: resolve(_job_with(path.parent, f'file = "{path.name}"')),
    "traced.svg": measure_traced,
    "scan.stl": measure_scan,
    "layer.svg": lambda path: print_file(path, PageOptions(parse_paper("a4"))),
    "opened.toml": lambda path: Session(path.parent, path),
}


def _job_with(folder: Path, form: str) -> JobFile:
    job = folder / "with.toml"
    job.write_text(job_text() + f'\n[body]\nmodel = "form"\n{form}\n')
    return read_job(job)


def at_once(work: Callable[[], object]) -> BaseException | None:
    """What a piece of work raises; it may not take longer than a few seconds."""
    raised: list[BaseException] = []

    def run() -> None:
        try:
            work()
        except BaseException as error:
            raised.append(error)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    thread.join(20.0)
    assert not thread.is_alive()
    return raised[0] if raised else None


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "draft.svg").write_text(svg(panels(half(3))))
    (tmp_path / "plain.toml").write_text(job_text())
    return tmp_path


@pytest.mark.parametrize("name", READERS)
def test_every_reader_refuses_a_pipe_at_once(folder: Path, name: str) -> None:
    os.mkfifo(folder / name)
    error = at_once(lambda: READERS[name](folder / name))
    assert isinstance(error, PanelshiftError)
    assert "not a file" in error.problem
    assert name in error.source
    assert error.remedy


def test_the_page_refuses_a_drawing_that_became_a_pipe(folder: Path) -> None:
    session = Session(folder, folder / "plain.toml")
    (folder / "draft.svg").unlink()
    os.mkfifo(folder / "draft.svg")
    state = session.state()
    assert state is not None
    assert at_once(lambda: state.pattern) is None
    assert state.drawing.error is not None
    assert "not a file" in state.drawing.error.problem


def test_records_and_outputs_that_are_pipes_are_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / RECORD_NAME)
    target = tmp_path / "one.svg"
    assert at_once(lambda: write_outputs({target: b"new"})) is None
    assert target.read_bytes() == b"new"
    os.mkfifo(tmp_path / "two.svg")
    for overwrite in (False, True):
        error = at_once(lambda: write_outputs({tmp_path / "two.svg": b"new"}, overwrite=overwrite))  # noqa: B023
        assert isinstance(error, OutputError)
        assert error.problem == "there is a pipe or a device of that name, not a file"
        # As root, what is written to /dev/null would take its place.
        assert (tmp_path / "two.svg").is_fifo()
    error = at_once(lambda: save(b"new", tmp_path / "two.svg"))
    assert isinstance(error, OutputError)
    assert (tmp_path / "two.svg").is_fifo()
