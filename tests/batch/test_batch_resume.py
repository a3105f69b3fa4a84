"""What is done and unchanged is not done again; whatever changed is."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest

from panelshift.batch import BatchJob, index, record, worker
from panelshift.batch.record import RECORD_NAME
from panelshift.files import outputs
from panelshift.printing import PageOptions, parse_paper
from tests.support.batches import base_job, clients, inline, statuses
from tests.support.drawings import STACK, half, job_text, panels, svg
from tests.support.terminal import listing, run


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return base_job(tmp_path / "in")


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "out"


def stamps(folder: Path) -> dict[str, int]:
    """When each file was written, in ns."""
    found = [p for p in folder.rglob("*") if p.is_file() and p.name != index.INDEX_NAME]
    return {str(path): path.stat().st_mtime_ns for path in found}


def test_second_run_does_nothing_and_answers_the_same(job: Path, out: Path) -> None:
    first = inline(clients(job, 3), out)
    before, written = listing(out), stamps(out)
    second = inline(clients(job, 3), out)
    assert statuses(second) == ["unchanged"] * 3
    assert [o.files for o in second] == [o.files for o in first]
    assert listing(out) == before
    assert stamps(out) == written


def test_files_and_hashes_are_told(job: Path, out: Path) -> None:
    (outcome,) = inline([job], out)
    contents = {str(p): p.read_bytes() for p in (out / "job").iterdir() if p.name[0] != "."}
    assert outcome.files == {name: record.sha256(data) for name, data in contents.items()}
    assert set(map(os.path.basename, outcome.files)) == {
        "layer-1-lining.svg",
        "layer-2-coutille.svg",
        "layer-3-brocade.svg",
        "overlay.svg",
        "cutting-list.csv",
    }


def test_all_is_done_again_on_demand_with_the_same_bytes(job: Path, out: Path) -> None:
    inline([job], out)
    before, written = listing(out), stamps(out)
    assert statuses(inline([job], out, resume=False)) == ["done"]
    assert listing(out) == before
    assert all(stamp > written[path] for path, stamp in stamps(out).items())


def test_changed_drawing_counts(job: Path, out: Path) -> None:
    inline([job], out)
    (job.parent / "draft.svg").write_text(svg(panels(half(4))))
    (outcome,) = inline([job], out)
    assert outcome.status == "done"
    assert statuses(inline([job], out)) == ["unchanged"]


def test_changed_value_counts_for_its_job_only(job: Path, out: Path) -> None:
    inline(clients(job, 3), out)
    changed = clients(job, 3)
    changed[1] = BatchJob("client 1", job, {"pattern.lacing_gap": 99})
    assert statuses(inline(changed, out)) == ["unchanged", "done", "unchanged"]


def test_words_that_change_nothing_do_not_count(job: Path, out: Path) -> None:
    inline([job], out)
    job.write_text("# a remark\n" + job.read_text().replace("0.5", '"0.05 cm"'))
    assert statuses(inline([job], out)) == ["unchanged"]


def test_another_version_counts(job: Path, out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    inline([job], out)
    for module in (record, index):
        monkeypatch.setattr(module, "__version__", "999")
    assert statuses(inline([job], out)) == ["done"]


def test_swatch_file_counts(job: Path, out: Path) -> None:
    swatches = job.parent / "swatches.csv"
    line = "lining,coutille,80,200,{}\n"
    swatches.write_text("inner,outer,former,length,overhang\n" + line.format(2))
    job.write_text(job_text(stack=f'[stack]\nswatches = "swatches.csv"\n{STACK}'))
    assert statuses(inline([job], out)) == ["done"]
    assert statuses(inline([job], out)) == ["unchanged"]
    swatches.write_text("inner,outer,former,length,overhang\n" + line.format(2.1))
    assert statuses(inline([job], out)) == ["done"]


def test_file_that_is_gone_is_made_again(job: Path, out: Path) -> None:
    inline([job], out)
    before = listing(out)
    (out / "job" / "overlay.svg").unlink()
    assert statuses(inline([job], out)) == ["done"]
    assert listing(out) == before


def test_file_that_was_edited_is_not_replaced_unless_told_to(job: Path, out: Path) -> None:
    inline([job], out)
    before = listing(out)
    (out / "job" / "overlay.svg").write_bytes(b"edited")
    (outcome,) = inline([job], out)
    assert outcome.status == "failed"
    assert "that was changed since" in outcome.error
    assert "--overwrite" in outcome.error
    assert (out / "job" / "overlay.svg").read_bytes() == b"edited"
    assert statuses(inline([job], out, overwrite=True)) == ["done"]
    assert listing(out) == before


DAMAGED = (
    "",
    "{",
    "[]",
    "null",
    '{"format": 0}',
    '{"format": 1}',
    '{"format": 1, "job": "job", "products": {"cut": []}}',
    "[" * 100_000,
)


@pytest.mark.slow
def test_damaged_record_counts_as_none(job: Path, out: Path) -> None:
    inline([job], out)
    before = listing(out)
    for text in DAMAGED:
        (out / "job" / RECORD_NAME).write_text(text)
        assert statuses(inline([job], out)) == ["done"], text[:60]
        assert listing(out) == before, text[:60]


def test_record_cannot_have_files_elsewhere_removed(job: Path, out: Path) -> None:
    inline([job], out)
    precious = out / "precious"
    precious.write_bytes(b"mine")
    path = out / "job" / RECORD_NAME
    data = json.loads(path.read_text())
    data["products"]["cut"]["files"]["../precious"] = record.sha256(b"mine")
    data["products"]["cut"]["inputs"] = "other"
    path.write_text(json.dumps(data))
    assert statuses(inline([job], out)) == ["done"]
    assert precious.read_bytes() == b"mine"


def test_layer_that_was_renamed_does_not_lie_there_twice(job: Path, out: Path) -> None:
    inline([job], out)
    job.write_text(job.read_text().replace("brocade", "silk"))
    inline([job], out)
    fresh = out.parent / "fresh"
    inline([job], fresh)
    assert listing(out).keys() == listing(fresh).keys()


def test_layer_that_was_changed_by_hand_stays_when_it_is_not_made_any_more(
    job: Path, out: Path
) -> None:
    inline([job], out)
    mine = out / "job" / "layer-3-brocade.svg"
    mine.write_bytes(b"mine")
    job.write_text(job.read_text().replace("brocade", "silk"))
    inline([job], out)
    assert mine.read_bytes() == b"mine"


def test_cutting_files_of_another_job_or_command_are_one_set_with_those_of_this(
    job: Path, out: Path
) -> None:
    inline([BatchJob("one", job, out=out)], out)
    text = job.read_text()
    job.write_text(text.replace("brocade", "silk"))
    run("cut", job, "--out", out)
    assert [path.name for path in out.glob("layer-3-*.svg")] == ["layer-3-silk.svg"]
    job.write_text(text.replace("brocade", "wool"))
    assert statuses(inline([BatchJob("two", job, out=out)], out)) == ["done"]
    layers = {path.name for path in out.glob("layer-*.svg")}
    run("cut", job, "--out", out.parent / "fresh")
    assert layers == {path.name for path in (out.parent / "fresh").glob("layer-*.svg")}


def test_a_writer_that_is_at_work_in_a_job_s_directory_is_not_disturbed(
    job: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inline([job], out)
    half = out / "job" / ".overlay.svg.0123abcd"
    half.write_bytes(b"half")
    monkeypatch.setattr(outputs, "PATIENCE_S", 0.0)
    with outputs._alone(out / "job"):
        (outcome,) = inline([job], out, resume=False)
        assert "another panelshift is writing there" in outcome.error
        assert half.exists()
    assert statuses(inline([job], out, resume=False)) == ["done"]
    assert not half.exists()


def test_a_set_of_a_run_that_was_killed_does_not_lie_beside_the_next(
    job: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inline([job], out)
    text = job.read_text()
    job.write_text(text.replace("brocade", "silk"))
    real = os.replace

    def killed(old: str, new: Path) -> None:
        if os.path.basename(new) == RECORD_NAME:
            raise KeyboardInterrupt
        real(old, new)

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", killed)
        with pytest.raises(KeyboardInterrupt):
            inline([job], out)
    job.write_text(text.replace("brocade", "wool"))
    inline([job], out)
    fresh = out.parent / "fresh"
    inline([job], fresh)
    assert listing(out).keys() == listing(fresh).keys()


def test_failure_leaves_what_an_earlier_run_made(job: Path, out: Path) -> None:
    inline([job], out)
    before, text = listing(out), job.read_text()
    job.write_text(text.replace("0.5", "99"))
    assert statuses(inline([job], out)) == ["failed"]
    assert listing(out) == before
    job.write_text(text)
    assert statuses(inline([job], out)) == ["unchanged"]


@pytest.mark.slow
def test_products_are_recorded_each_by_itself(job: Path, out: Path) -> None:
    assert statuses(inline([job], out)) == ["done"]
    written = stamps(out)
    assert statuses(inline([job], out, products=("cut", "fit"))) == ["done"]
    again = stamps(out)
    files = [path for path in written if path.endswith(".svg")]
    assert len(files) == 4
    assert all(again[path] == written[path] for path in files)
    assert statuses(inline([job], out, products=("fit",))) == ["unchanged"]
    assert statuses(inline([job], out)) == ["unchanged"]


@pytest.mark.slow
def test_pages_on_two_papers_lie_beside_each_other(job: Path, out: Path) -> None:
    def tiles(paper: str, margin: float = 10.0) -> list[str]:
        pages = PageOptions(parse_paper(paper), margin)
        return statuses(inline([job], out, products=("tile",), pages=pages))

    assert tiles("a4") == ["done"]
    assert tiles("a3") == ["done"]
    assert tiles("a4") == ["unchanged"]
    assert tiles("a4", 12.0) == ["done"]
    names = {path.name for path in (out / "job").glob("*.pdf")}
    assert {"layer-1-lining-a4.pdf", "layer-1-lining-a3.pdf"} <= names


def test_where_the_files_lie_makes_no_difference(
    job: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inline([job], out)
    before = listing(out)
    moved = job.parent.parent / "moved"
    moved.mkdir()
    job.parent.rename(moved / "in")
    out.rename(moved / "out")
    monkeypatch.chdir(moved)
    assert statuses(inline([Path("in/job.toml")], Path("out"))) == ["unchanged"]
    assert listing(moved / "out") == before


def test_warnings_are_told_again_when_nothing_is_done(job: Path, out: Path) -> None:
    drawing = job.parent / "draft.svg"
    drawing.write_text(drawing.read_text().replace('xmlns="http://www.w3.org/2000/svg"', ""))
    (first,) = inline([job], out)
    (second,) = inline([job], out)
    assert second.status == "unchanged"
    assert first.warnings
    assert second.warnings == first.warnings


def test_drawing_that_changes_while_it_is_read_is_not_recorded(
    job: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = worker.make

    def disturbed(*given: Any) -> Any:
        (job.parent / "draft.svg").write_text(svg(panels(half(4))))
        return real(*given)

    monkeypatch.setattr(worker, "make", disturbed)
    (outcome,) = inline([job], out)
    assert "its files were changed while it was carried out" in outcome.error
    assert not (out / "job").exists()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the platform has no named pipes")
def test_pipe_is_never_taken_for_unchanged_nor_waited_for(job: Path, out: Path) -> None:
    assert statuses(inline([job], out)) == ["done"]
    drawing = job.parent / "draft.svg"
    drawing.unlink()
    os.mkfifo(drawing)
    for _ in range(2):
        (outcome,) = inline([job], out)
        assert outcome.status == "failed"
        assert "this is a pipe or a device, not a file" in outcome.error


def test_missing_drawing_is_told_as_ever(job: Path, out: Path) -> None:
    (job.parent / "draft.svg").unlink()
    (outcome,) = inline([job], out)
    assert "there is no such file" in outcome.error


def test_record_is_plain_data_without_paths_or_times(job: Path, out: Path) -> None:
    inline([job], out)
    text = (out / "job" / RECORD_NAME).read_text()
    data = json.loads(text)
    assert list(data) == ["format", "job", "panelshift", "products"]
    assert list(data["products"]["cut"]) == ["files", "inputs", "warnings"]
    assert str(out) not in text
    assert str(job.parent) not in text


@pytest.mark.slow
def test_file_that_cannot_be_removed_is_told(
    job: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inline([job], out)
    job.write_text(job.read_text().replace("brocade", "silk"))

    unlink = Path.unlink

    def stubborn(self: Path, missing_ok: bool = False) -> None:
        if self.suffix == ".svg":
            raise PermissionError(1, "Operation not permitted")
        unlink(self, missing_ok)

    monkeypatch.setattr(Path, "unlink", stubborn)
    (outcome,) = inline([job], out)
    assert "cannot remove what an earlier run left: Operation not permitted" in outcome.error
    assert "layer-3-brocade.svg" in outcome.error
    monkeypatch.undo()
    # All else was in place.
    assert statuses(inline([job], out)) == ["unchanged"]
    assert not (out / "job" / "layer-3-brocade.svg").exists()


def test_drawing_that_may_not_be_read_is_told_as_ever(
    job: Path, out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.open

    def forbidden(path: Any, *arguments: Any, **options: Any) -> int:
        if os.path.basename(path) == "draft.svg":
            raise PermissionError(13, "Permission denied")
        return real(path, *arguments, **options)

    monkeypatch.setattr(os, "open", forbidden)
    (outcome,) = inline([job], out)
    assert "Permission denied" in outcome.error
