"""Every job has a name and a directory that it shares with no other."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from panelshift.batch import BatchJob, folders as placing, run_many
from panelshift.batch.folders import as_jobs, settle
from panelshift.batch.record import RECORD_NAME, Record
from panelshift.errors import JobError
from tests.support.examples import examples


def folders(*names: str) -> list[str]:
    return [item.out for item in settle([BatchJob(name, "a.toml") for name in names], "out")]


def test_names_become_safe_directories() -> None:
    assert folders("Ann", "Bo B.", "../Zoë") == ["out/ann", "out/bo-b", "out/zoe"]


def test_names_of_devices_are_none_of_directories() -> None:
    assert folders("CON", "nul.", "aux ", "Com1", "lpt10") == [
        "out/the-con",
        "out/the-nul",
        "out/the-aux",
        "out/the-com1",
        "out/lpt10",
    ]


def test_a_job_keeps_its_directory_whoever_comes_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def taken(*names: str) -> list[str]:
        settled = settle([BatchJob(name, "a.toml") for name in names], tmp_path)
        for item in settled:
            os.makedirs(item.out, exist_ok=True)
            Path(item.out, RECORD_NAME).write_bytes(Record(item.job.name).to_bytes())
        return [os.path.relpath(item.out, tmp_path) for item in settled]

    (first,) = taken("Bo B.")
    assert first == "bo-b"
    # In another run, and in the same.
    (second,) = taken("bo b")
    assert second != first
    third, *others = taken("BO_B", "bo b", "Bo B.")
    assert others == [second, first]
    # And beyond what lies in one directory.
    monkeypatch.setattr(placing, "SHARDED_BEYOND", 3)
    *same, fourth = taken("Bo B.", "bo b", "BO_B", "Bo-B")
    assert same == [first, second, third]
    assert os.path.dirname(fourth)
    monkeypatch.undo()
    assert taken("Bo-B", "Bo B.") == [fourth, first]


def test_names_that_look_alike_once_made_safe_stay_apart() -> None:
    first, second, third = folders("Bo B.", "bo b", "Ann")
    assert first.startswith("out/bo-b-")
    assert second.startswith("out/bo-b-")
    assert first != second
    assert third == "out/ann"


def test_directory_does_not_depend_on_the_order_of_the_jobs() -> None:
    names = ["Bo B.", "bo b", "Ann", "BO_B"]
    assert folders(*names) == folders(*names[::-1])[::-1]


@pytest.mark.slow
@examples(20)
@given(st.lists(st.text(min_size=1, max_size=9).filter(str.strip), unique=True, max_size=9))
def test_any_different_names_have_different_directories_below_the_batch(names: list[str]) -> None:
    found = folders(*names)
    assert len(set(found)) == len(names)
    assert all(os.path.dirname(folder) == "out" for folder in found)


def test_job_files_are_named_by_as_much_of_their_path_as_tells_them_apart() -> None:
    paths = ["a/36/corset.toml", "b/36/corset.toml", "38/corset.toml", "vest.toml"]
    names = [job.name for job in as_jobs(paths)]
    assert names == ["a/36/corset", "b/36/corset", names[2], "vest"]
    assert names[2].endswith("/38/corset")
    sizes = [job.name for job in as_jobs([Path("36/corset.toml"), Path("38/corset.toml")])]
    assert sizes == ["36/corset", "38/corset"]


def test_jobs_with_names_of_their_own_keep_them() -> None:
    own = BatchJob("corset", "other.toml")
    assert [job.name for job in as_jobs(["corset.toml", own])] == ["corset", "corset"]


def test_job_listed_twice_is_refused_with_its_directory_and_both_places(tmp_path: Path) -> None:
    job = tmp_path / "corset.toml"
    again = tmp_path / "." / "sub" / ".." / "corset.toml"
    (tmp_path / "sub").mkdir()
    with pytest.raises(JobError) as caught:
        run_many([job, again], out=tmp_path / "out")
    message = str(caught.value)
    assert "several jobs would write to the same directory" in message
    assert f"{tmp_path / 'out' / 'corset'}: corset ({job}), corset (" in message
    assert "List each job once" in message
    assert not (tmp_path / "out").exists()


def test_same_directory_under_two_names_is_refused(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    jobs = [
        BatchJob("a", "a.toml", out=tmp_path / "real" / "x"),
        BatchJob("b", "b.toml", out=tmp_path / "link" / "x"),
    ]
    with pytest.raises(JobError, match="the same directory"):
        run_many(jobs)


@pytest.mark.parametrize("count", [19, 20, 21, 50])
def test_of_many_shared_directories_the_first_are_listed(count: int) -> None:
    jobs = [BatchJob(str(k // 2), "a.toml", out=f"out/{k // 2}") for k in range(2 * count)]
    with pytest.raises(JobError) as caught:
        settle(jobs, None)
    assert str(caught.value).count("out/") == min(count, 20)
    assert (f"and {count - 20} more" in str(caught.value)) == (count > 20)


def test_job_without_directory_or_name_is_refused(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="there is no directory for the files of 'a'"):
        run_many(["a.toml"])
    with pytest.raises(JobError, match="a job without a name"):
        run_many([BatchJob(" ", "a.toml")], out=tmp_path)
    with pytest.raises(JobError, match=r"cannot be a directory: .*embedded null"):
        run_many(["a.toml"], out=tmp_path / "a\0b")


def test_directory_of_a_jobs_own_counts_as_it_is() -> None:
    (item,) = settle([BatchJob("a", "a.toml", out=Path("mine"))], "out")
    assert item.out == "mine"
