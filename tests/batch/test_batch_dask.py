"""A cluster's executor carries a batch out through the same interface."""

from __future__ import annotations

from pathlib import Path

import pytest

from panelshift.batch import BatchJob, run_many
from tests.support.batches import base_job, clients, inline, statuses
from tests.support.terminal import listing


@pytest.mark.slow
def test_cluster_of_two_processes_makes_the_same_bytes(tmp_path: Path) -> None:
    # Not when the tests are collected: importing it takes a second.
    distributed = pytest.importorskip(
        "distributed", reason="dask.distributed is not installed: pip install 'panelshift[dask]'"
    )
    dask = pytest.importorskip("dask")
    job = base_job(tmp_path / "in")
    inline(clients(job, 8), tmp_path / "here")
    jobs = clients(job, 8)
    bad = BatchJob("bad", job, {"pattern.lacing_gap": "wide"})
    with (
        dask.config.set({"temporary_directory": str(tmp_path / "dask")}),
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster, timeout="60s") as client,
    ):
        workers = client.scheduler_info()["workers"]
        assert len(workers) == 2
        executor = client.get_executor()
        out = tmp_path / "there"
        first = run_many([*jobs, bad], executor=executor, out=out, workers=2)
        assert statuses(first) == ["done"] * 8 + ["failed"]
        assert [outcome.name for outcome in first] == [*(job.name for job in jobs), "bad"]
        assert listing(out) == listing(tmp_path / "here")

        # The same tasks once more: the cluster must not answer them out of its memory.
        (out / "client-3" / "overlay.svg").unlink()
        second = run_many(jobs, executor=executor, out=out, workers=2)
        assert [k for k, status in enumerate(statuses(second)) if status == "done"] == [3]
        assert listing(out) == listing(tmp_path / "here")
