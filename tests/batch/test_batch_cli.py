"""``panelshift batch``: what it prints, and its exit codes."""

from __future__ import annotations

from pathlib import Path

import pytest

from panelshift.batch import Outcome, running as batch_running
from panelshift.cli.job_commands import _watched
from tests.support.batches import Inline, base_job, told
from tests.support.drawings import write_job
from tests.support.terminal import Bar, listing, process, refused, run


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return base_job(tmp_path / "in")


@pytest.fixture(autouse=True)
def in_this_process(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Starting processes takes a second; one test does it, the others need not."""
    if "real_processes" in request.keywords:
        return

    class Pool(Inline):
        def __init__(self, *args: object) -> None:
            pass

        def renew(self) -> None:
            raise AssertionError

        def close(self) -> None:
            pass

    monkeypatch.setattr(batch_running, "LocalPool", Pool)


def counts(stdout: str) -> list[int]:
    lines = stdout.splitlines()[2:5]
    assert [line.split()[0] for line in lines] == ["done", "unchanged", "failed"]
    return [int(line.split()[-1]) for line in lines]


@pytest.mark.slow
def test_batch_in_processes_of_its_own(job: Path, tmp_path: Path) -> None:
    (tmp_path / "t.csv").write_text("name;pattern.lacing_gap;fit.busk\nAnn;12,5;9\nBo;20;\n")
    options = ("--table", tmp_path / "t.csv", "--out", tmp_path / "out", "--workers", "1")
    result = process("batch", job, *options)
    assert result.returncode == 0, result.stderr
    assert counts(result.stdout) == [2, 0, 0]
    assert "2 rows; columns parted by semicolons, decimal commas" in result.stderr
    assert "only the fit sheet reads fit.busk" in result.stderr
    assert "Jobs" in result.stderr
    assert (tmp_path / "out" / "ann" / "overlay.svg").exists()


def test_second_batch_has_nothing_to_do_unless_told_to(job: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    first = run("batch", job, "--out", out)
    assert first.exit_code == 0, first.output
    assert counts(first.stdout) == [1, 0, 0]
    assert {"summary.csv", "summary.json"} <= set(listing(out))
    assert f"1 of 1 jobs have their files, each in a directory of its own, in {out}." in (
        first.stdout
    )
    assert counts(run("batch", job, "--out", out).stdout) == [0, 1, 0]
    assert counts(run("batch", job, "--out", out, "--again").stdout) == [1, 0, 0]


@pytest.mark.parametrize("known", [True, False])
def test_the_bar_is_full_at_the_end_and_never_before(
    known: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    bar = Bar.watched(monkeypatch)
    three = [Outcome(name, "done") for name in "abc"]
    seen = []
    for place, outcome in enumerate(_watched(iter(three), 3 if known else None), start=1):
        seen.append(outcome)
        assert (bar.pos, bar.length) == (place, 3 if known else place + 1)
    assert seen == three
    bar.length = 0
    assert list(_watched(iter(()), 0)) == []
    assert bar.length == 0


def test_failures_are_listed_and_exit_1(job: Path, tmp_path: Path) -> None:
    none = tmp_path / "none.toml"
    result = run("batch", job, none, "--out", tmp_path / "out")
    assert result.exit_code == 1
    assert counts(result.stdout) == [1, 0, 1]
    failed = result.stdout.split("Failed:")[1]
    assert f"- none: {none}: cannot read: No such file or directory" in failed
    assert "What to do: Check the path of the job file." in failed
    assert "1 of 2 jobs have their files" in failed
    assert "Traceback" not in result.output


@pytest.mark.slow
def test_products_and_paper(job: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("batch", job, "--out", out, "--products", "tile, fit", "--paper", "a3")
    assert result.exit_code == 0, result.output
    names = {path.name for path in (out / "job").iterdir()}
    assert {"fit.html", "layer-1-lining-a3.pdf"} <= names
    assert "overlay.svg" not in names


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--products", "knit"), "unknown product 'knit'"),
        (("--products", ","), "no product is asked for"),
        (("--paper", "a9"), "unknown paper 'a9'"),
        (("--margin", "wide"), "'wide' is not a length"),
        (("--table", "none.csv"), "cannot read: No such file"),
    ],
)
def test_bad_options_exit_2(
    job: Path, tmp_path: Path, options: tuple[str, ...], words: str
) -> None:
    assert words in refused("batch", job, "--out", tmp_path / "out", *options, folder=tmp_path)


def test_bad_table_exits_2_with_all_faults(job: Path, tmp_path: Path) -> None:
    bad = tmp_path / "t.csv"
    bad.write_text("name,pattern.lacing_gap\nAnn,wide\nBo,high\n")
    message = refused("batch", job, "--table", bad, "--out", tmp_path / "out", folder=tmp_path)
    assert "row 2 (Ann), column pattern.lacing_gap" in message
    assert "row 3 (Bo), column pattern.lacing_gap" in message


def test_job_listed_twice_exits_2(job: Path, tmp_path: Path) -> None:
    message = refused("batch", job, job, "--out", tmp_path / "out", folder=tmp_path)
    assert "several jobs would write to the same directory" in message


def test_directory_that_is_a_file_exits_2(job: Path, tmp_path: Path) -> None:
    assert "is a file, not a directory" in refused("batch", job, "--out", job, folder=tmp_path)


@pytest.mark.parametrize("options", [(), ("--workers", "0"), ("--nonsense",)])
def test_wrong_use_exits_2(job: Path, tmp_path: Path, options: tuple[str, ...]) -> None:
    arguments = ("--out", tmp_path / "out", *options) if options else ()
    assert run("batch", job, *arguments).exit_code == 2


def test_table_takes_one_job(job: Path, tmp_path: Path) -> None:
    before = listing(tmp_path)
    result = run("batch", job, job, "--table", "t.csv", "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "--table takes one JOB" in result.stderr
    assert listing(tmp_path) == before


# -- the summary --------------------------------------------------------------------------


def test_warnings_of_many_jobs_are_told_once() -> None:
    outcomes = [Outcome(f"c{k}", "done", warnings=("look here",)) for k in range(7)]
    text = told([*outcomes, Outcome("d", "done", warnings=("and here",))], "out")
    assert "  - c0, c1, c2, c3, c4 and 2 more: look here\n  - d: and here" in text


def test_every_failure_is_listed() -> None:
    outcomes = [Outcome(f"c{k}", "failed", error="bad\n  What to do: mend") for k in range(30)]
    text = told(outcomes, "out")
    assert all(f"  - c{k}: bad\n      What to do: mend" in text for k in range(30))
    assert "0 of 30 jobs have their files" in text
    assert "Mend what failed and run the batch again." in text


def test_edited_file_fails_its_job_unless_told_to_overwrite(job: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run("batch", job, "--out", out)
    (out / "job" / "overlay.svg").write_text("edited")
    result = run("batch", job, "--out", out)
    assert result.exit_code == 1
    assert "that was changed since" in result.stdout
    assert run("batch", job, "--out", out, "--overwrite").exit_code == 0
    assert (out / "job" / "overlay.svg").read_text() != "edited"


def test_how_a_table_is_taken_is_said_beside_the_report(tmp_path: Path) -> None:
    job = write_job(tmp_path, "")
    table, out = tmp_path / "t.csv", tmp_path / "out"
    table.write_text("name;pattern.lacing_gap;fit.busk\nAnn;12,5;9\nBo;20;\n")
    found = run("batch", job, "--table", table, "--out", out, "--workers", "1")
    assert found.exit_code == 1
    assert [line for line in found.stderr.splitlines() if line][:2] == [
        f"{table}: 2 rows; columns parted by semicolons, decimal commas",
        f"{table}: only the fit sheet reads fit.busk; --products fit",
    ]
    problem = f"{tmp_path / 'draft.svg'}: no waistline found"
    first, *_, last = found.stdout.rstrip().splitlines()
    assert first.split() == ["Jobs", "Number"]
    failed = [line for line in found.stdout.splitlines() if problem in line]
    assert [line.partition(": no open")[0] for line in failed] == [
        f"  - {name}: {problem}" for name in ("Ann", "Bo")
    ]
    assert last == (
        f"0 of 2 jobs have their files, each in a directory of its own, in {out}. Mend what failed "
        "and run the batch again."
    )
