"""Jobs handed out a few at a time, by an executor that does them at once, and what is kept."""

from __future__ import annotations

import hashlib
import os
import re
from array import array
from collections.abc import Sequence
from concurrent.futures import BrokenExecutor, Future
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from panelshift.batch import Outcome, index as index_module, worker
from panelshift.batch.clients import read_table
from panelshift.batch.dispatch import Dispatch
from panelshift.batch.folders import settle
from panelshift.batch.index import BatchIndex, stamp_of
from panelshift.batch.jobs import BatchJob, SettledJob
from panelshift.batch.record import Inputs, _content_digest
from panelshift.batch.running import LocalPool, _one_thread
from panelshift.batch.worker import KeptPatterns
from panelshift.errors import JobError
from panelshift.job.toml import parse_job


class Run:
    """A batch of jobs by number, each taking so many seconds as it says; *bad* end with *error*."""

    def __init__(
        self,
        count: int,
        *,
        width: int = 2,
        total: int | None = None,
        bad: Sequence[int] = (),
        error: BaseException | None = None,
    ) -> None:
        self.sizes: list[int] = []
        self.renewed = 0
        self.kept: list[tuple[str, bytes, Outcome]] = []
        self._bad, self._error = set(bad), error
        jobs: Any = [
            SimpleNamespace(number=k, job=SimpleNamespace(name=f"job {k}")) for k in range(count)
        ]
        order: Any = SimpleNamespace(resume=False)
        index: Any = SimpleNamespace(begin=self._begin, keep=self._keep)
        submit: Any = self._submit
        found = Dispatch(jobs, order, submit, self._renew, width, index, total).outcomes()
        self.outcomes = dict(found)

    def _begin(self, asked: Any, *, resume: bool) -> list[tuple[bytes, Outcome | None]]:
        assert not resume
        # Every fifth job need not be done.
        return [
            (
                b"%d" % number,
                Outcome(item.job.name, "unchanged") if number % 5 == 4 else None,
            )
            for number, item in asked
        ]

    def _keep(self, item: Any, key: bytes, outcome: Outcome) -> None:
        self.kept.append((item.job.name, key, outcome))

    def _renew(self) -> None:
        self.renewed += 1

    def _submit(self, work: Any, jobs: Sequence[Any], order: Any) -> Future[list[Outcome]]:
        self.sizes.append(len(jobs))
        future: Future[list[Outcome]] = Future()
        if self._error is not None and self._bad & {job.number for job in jobs}:
            future.set_exception(self._error)
        else:
            future.set_result([Outcome(job.job.name, "done", seconds=0.01) for job in jobs])
        return future


def test_chunks_grow_to_half_a_second_and_shrink_towards_the_end() -> None:
    """The pace is halved towards what was seen with each of the first eight, of 0.5 s each."""
    run = Run(600)
    # 480 are to be done: 0.01 s and 0.49 s over 2 to the eighth make 41 in half a second.
    assert run.sizes == [*[1] * 8, *[41] * 8, *[49] * 2, 46]
    # With two workers a chunk is at most a quarter of what is left, of which 32 are asked at once.
    run = Run(100, total=100)
    assert sum(run.sizes) == 80
    assert run.sizes[:10] == [*[1] * 8, 21, 14]
    assert run.sizes[-6:] == [1] * 6
    assert sorted(run.outcomes) == list(range(100))
    for number, outcome in run.outcomes.items():
        wanted = "unchanged" if number % 5 == 4 else "done"
        assert (outcome.name, outcome.status) == (f"job {number}", wanted)
    done = {k for k in range(100) if k % 5 != 4}
    assert {(name, key) for name, key, _ in run.kept} == {(f"job {k}", b"%d" % k) for k in done}
    assert all(run.outcomes[int(key)] is outcome for _, key, outcome in run.kept)


@pytest.mark.parametrize("died", [False, True])
def test_of_a_chunk_that_fails_as_a_whole_only_the_jobs_at_fault_fail(died: bool) -> None:
    error = BrokenExecutor("gone") if died else RuntimeError("no plain data")
    run = Run(60, width=1, bad=(21, 22), error=error)
    failed = {k: outcome.error for k, outcome in run.outcomes.items() if outcome.status == "failed"}
    words = (
        "its process ended abruptly: killed, out of memory, or crashed\n"
        "  What to do: Run the batch again, with fewer workers if memory is short."
        if died
        else "could not be handed to a worker or back: RuntimeError: no plain data\n"
        "  What to do: Check the executor, and that the job is made of plain data."
    )
    assert failed == {21: words, 22: words}
    assert sorted(run.outcomes) == list(range(60))
    # Once for the chunk that both are in, and once for each of them alone.
    assert run.renewed == (3 if died else 0)


def test_where_every_process_dies_no_more_are_started_after_ten() -> None:
    run = Run(30, width=1, bad=range(30), error=BrokenExecutor("gone"))
    assert run.renewed == 9
    statuses = [run.outcomes[k].status for k in range(30)]
    assert statuses == ["unchanged" if k % 5 == 4 else "failed" for k in range(30)]


def settled(number: int, out: str) -> SettledJob:
    return SettledJob(BatchJob(f"job {number}", {"pattern": {}}), out)


def test_a_summary_tells_also_what_was_begun_only_and_what_has_a_directory_twice() -> None:
    index = BatchIndex(None, [], "")
    jobs = [(0, settled(0, "a")), (1, settled(1, "b")), (2, settled(2, "a")), (3, settled(3, "a"))]
    answers = index.begin(jobs, resume=True)
    twice = (
        "another job of this batch has its directory, a\n"
        "  What to do: List each job once, and give jobs names of their own."
    )
    assert [None if known is None else known.error for _, known in answers] == [
        *[None, None],
        *[twice] * 2,
    ]
    outcome = Outcome("job 1", "done", {"x.svg": "0", "y.svg": "1"}, "", ("look",))
    index.keep(jobs[1][1], answers[1][0], outcome)
    assert list(index.summary()) == [
        ("job 0", None, "a", 0, 0, ""),
        ("job 1", "done", "b", 2, 1, ""),
        *[
            (
                f"job {k}",
                "failed",
                f"a (job {k + 1})",
                0,
                0,
                twice,
            )
            for k in (2, 3)
        ],
    ]
    index.close()


def test_the_index_is_put_on_disk_every_two_seconds(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [0.0]
    monkeypatch.setattr(index_module, "time", SimpleNamespace(monotonic=lambda: clock[0]))
    index = BatchIndex(None, [], "")
    store, commits = index._store, []

    class Counted:
        def commit(self) -> None:
            commits.append(clock[0])
            store.commit()

        def __getattr__(self, name: str) -> Any:
            return getattr(store, name)

    index._store = Counted()  # type: ignore[assignment]
    for number, now in enumerate((0.5, 1.9, 2.1, 2.2, 4.0, 4.2, 4.3)):
        clock[0] = now
        index.begin([(number, settled(number, f"{number}"))], resume=True)
    assert commits == [2.1, 4.2]
    index.close()


def test_names_that_are_one_once_made_safe_are_told_apart_by_eight_digits() -> None:
    jobs = [BatchJob(name, {"pattern": {}}) for name in ("Bo B.", "bo b", "Ann")]
    one, two, three = (Path(item.out).name for item in settle(jobs, "out"))
    assert three == "ann"
    assert one != two
    for folder in (one, two):
        assert re.fullmatch("bo-b-[0-9a-f]{8}", folder)


@pytest.mark.parametrize("own", [None, "3"])
def test_workers_take_one_thread_each_unless_the_maker_says_how_many(
    own: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = "OPENBLAS_NUM_THREADS"
    monkeypatch.delenv(name, raising=False)
    if own is not None:
        monkeypatch.setenv(name, own)
    with _one_thread():
        assert os.environ[name] == (own or "1")
    assert os.environ.get(name) == own


def test_a_pool_waits_for_its_processes_and_takes_back_what_they_have_not_begun() -> None:
    pool = object.__new__(LocalPool)
    told: list[dict[str, bool]] = []

    class Stub:
        def shutdown(self, **how: bool) -> None:
            told.append(how)

    pool._pool = Stub()  # type: ignore[assignment]
    pool._start = Stub  # type: ignore[assignment, method-assign]
    first = pool._pool
    pool.renew()
    assert pool._pool is not first
    pool.close()
    assert told == [{"wait": True, "cancel_futures": True}] * 2


def test_what_files_hold_and_when_they_were_touched(tmp_path: Path) -> None:
    """Hashes by FIPS 180-4 and RFC 7693, of what there is, and words for what there is not."""
    file = tmp_path / "a.svg"
    file.write_bytes(b"abc")
    assert _content_digest(file) == hashlib.sha256(b"abc").hexdigest()
    assert _content_digest(tmp_path / "none") == "absent"
    assert _content_digest(Path("a\0b")) == "absent"
    assert _content_digest(tmp_path) == "unreadable"
    found = file.stat()
    seen = [found.st_size, found.st_mtime_ns, found.st_ctime_ns]
    size = hashlib.blake2b(array("q", seen).tobytes(), digest_size=16).hexdigest()
    assert stamp_of([str(file)]) == size
    none = hashlib.blake2b(repr([tuple(seen), None]).encode(), digest_size=16).hexdigest()
    assert stamp_of([str(file), str(tmp_path / "none")]) == none


def test_a_table_makes_up_for_what_it_gives_and_for_nothing_else() -> None:
    """A job whose two cloths are still to be measured, and a table that has one of them."""
    fabrics = [{"name": name, "thickness": "measure me"} for name in ("drill", "satin")]
    data = {
        "pattern": {"file": "draft.svg"},
        "stack": {"drafted_layer": "drill", "fabric": fabrics},
    }
    heads = [f"stack.fabric.{name}.thickness" for name in ("drill", "satin")]
    both = read_table(f"name,{','.join(heads)}\nAnn,0.5,0.3\n".encode(), BatchJob("a", data))
    assert dict(both.jobs[0].overrides) == dict(zip(heads, (0.5, 0.3), strict=True))
    with pytest.raises(JobError) as caught:
        read_table(f"name,{heads[0]}\nAnn,0.5\n".encode(), BatchJob("a", data))
    assert caught.value.problem.startswith("a fault in the job file:")
    assert "stack.fabric[2] (satin).thickness: 'measure me' is not" in caught.value.problem


def test_a_row_that_ends_before_its_name_has_none() -> None:
    data = {
        "pattern": {"file": "draft.svg"},
        "stack": {"drafted_layer": "drill", "fabric": [{"name": "drill", "thickness": 0.5}]},
    }
    text = b"pattern.lacing_gap,pattern.title,name\n12,a,Ann\n13,b\n14\n15,d,ann\n"
    with pytest.raises(JobError) as caught:
        read_table(text, BatchJob("a", data))
    # The line of headings is row 1.
    assert [line.strip() for line in caught.value.problem.split("\n")[1:]] == [
        "row 3, column name: is empty",
        "row 4, column name: is empty",
        "row 5, column name: 'ann' is in row 2 already, as 'Ann'",
    ]


@pytest.mark.parametrize("stated", [(), ("net_outline",), ("title", "net_outline"), ("title",)])
def test_of_what_a_job_states_only_the_net_outline_counts_as_stated(
    stated: tuple[str, ...], tmp_path: Path
) -> None:
    """Its default, stated, is no longer told as one: files are made anew, and the note goes."""
    own = {"title": "", "net_outline": "auto"}
    data = {
        "pattern": {"file": "draft.svg"} | {key: own[key] for key in stated},
        "stack": {"drafted_layer": "drill", "fabric": [{"name": "drill", "thickness": 0.5}]},
    }
    found = Inputs.of(parse_job(data, source="", folder=tmp_path)).job
    assert found["pattern"]["stated"] == [key for key in stated if key == "net_outline"]
    assert found["pattern"]["file"] == {"name": "draft.svg", "sha256": "absent"}


def test_a_worker_keeps_sixteen_patterns_with_their_last_turns(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told: list[Any] = []

    def profile(pattern: Any) -> str:
        told.append(f"edges of {pattern}")
        return f"edges of {pattern}"

    def turn_of_cloth(*what: Any, **how: Any) -> Any:
        told.append((*what, how))
        return object()

    monkeypatch.setattr(worker, "profile", profile)
    monkeypatch.setattr(worker, "turn_of_cloth", turn_of_cloth)
    kept = KeptPatterns()
    first, other = object(), object()

    def turn(pattern: Any, turned: str, body: str = "body", drawn: str = "0") -> Any:
        job: Any = SimpleNamespace(pattern=pattern, body=body, classes=["a"], opening=4.0)
        return kept.turn(drawn, turned, job)

    def keep(drawn: int, pattern: Any) -> None:
        kept.keep(str(drawn), pattern)

    assert kept.pattern("0") is None
    keep(0, first)
    one = turn(first, "x")
    keep(0, first)
    assert turn(first, "x") is one
    two = turn(first, "y", "other body")
    assert turn(first, "y", "other body") is two is not one
    edges = f"edges of {first}"
    assert told == [
        edges,
        (first, "body", ["a"], {"gap": 4.0, "edges": edges}),
        (first, "other body", ["a"], {"gap": 4.0, "edges": edges}),
    ]
    # Of a pattern that is not the one kept nothing is known, nor kept.
    told.clear()
    assert turn(other, "y", "other body") is not two
    assert turn(other, "y", "other body", drawn="none") is not two
    assert told == [(other, "other body", ["a"], {"gap": 4.0})] * 2
    assert turn(first, "y", "other body") is two
    for k in range(1, 16):
        keep(k, f"pattern {k}")
    keep(0, first)
    keep(16, "pattern 16")
    # The one that was not taken for the longest time goes.
    assert [k for k in range(17) if kept.pattern(str(k)) is None] == [1]
    assert kept.pattern("0") is first
