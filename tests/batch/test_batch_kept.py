"""What jobs share is kept only as long as nothing that decides it has changed."""

from __future__ import annotations

import copy
import threading
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from panelshift.batch import BatchJob, Outcome, worker
from panelshift.batch.products import makings
from panelshift.batch.record import Inputs
from panelshift.job.checks import OUTLINE_UNCHECKED
from panelshift.job.drafted import reading_key
from panelshift.printing import PageOptions, parse_paper
from tests.support.batches import inline, statuses
from tests.support.drawings import half, panels, write_job
from tests.support.examples import thinned
from tests.support.runs import SAMPLES

CHANGES: dict[str, Any] = {
    "pattern.lacing_gap": 90.0,
    "pattern.scale": 1.02,
    "pattern.title": "another",
    "pattern.halves": "full",
    "pattern.order": ["panel 3", "panel 2", "panel 1"],
    "panel.panel 1.class": "side",
    "panel.panel 1.joins": "panel 3",
    "panel.panel 1.cut": 3,
    "body.girths.waist": 700.0,
    "body.girths.+40 mm": 700.0,
    "body.factors.front": 2.5,
    "body.model": "section",
    "stack.fabric.lining.thickness": 0.9,
    "stack.fabric.lining.loft": 1.5,
    "stack.fabric.brocade.thickness": 1.9,
    "stack.drafted_layer": "brocade",
    "allowance.seam": 17.0,
    "sheet.mitre_limit": 1.0,
}
"""One value for each key that changes what is cut; the rest of the job stays."""

TWO = """[[stack.fabric]]
name = "lining"
thickness = 0.2
[[stack.fabric]]
name = "brocade"
thickness = 0.8
"""


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("in")
    return write_job(folder, panels(half(3)), stack=TWO, rest='\n[body]\nmodel = "classes"\n')


@pytest.fixture(autouse=True)
def nothing_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    forget(monkeypatch)


def forget(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(worker, "_kept", threading.local())


def test_the_order_of_tables_decides_nothing(job: Path) -> None:
    keys = []
    for names in (["panel 1", "panel 2"], ["panel 2", "panel 1"]):
        file = BatchJob("a", job, {f"panel.{name}.class": "side" for name in names}).load()
        assert list(file.panel) == names
        own = Inputs.of(file)
        drawn = own.drawn(file)
        keys.append((drawn, own.turned(drawn), own.digest(makings(["cut"])[0])))
    assert keys[0] == keys[1]


def answers(outcomes: list[Outcome]) -> list[tuple[dict[str, str], tuple[str, ...], str]]:
    """What each job came to, wherever it lies."""
    return [
        (
            {Path(name).name: digest for name, digest in item.files.items()},
            item.warnings,
            item.error,
        )
        for item in outcomes
    ]


def together_and_alone(
    jobs: list[BatchJob], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> list[Any]:
    """Answers of jobs that follow each other, once they are those of each job by itself."""
    found = answers(inline(jobs, folder / "together"))
    for item, answer in zip(jobs, found, strict=True):
        # What a job is alone depends on its file and its overrides: once is enough for each.
        what = (str(item.job), repr(item.overrides))
        if what not in _ALONE:
            forget(monkeypatch)
            (_ALONE[what],) = answers(inline([item], folder / "alone"))
        assert answer == _ALONE[what], item.name
    return found


_ALONE: dict[tuple[str, str], Any] = {}
"""What a job came to by itself, by its file and its overrides."""


@pytest.mark.slow
def test_a_job_with_one_other_value_is_what_it_is_alone(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One batch: the plain job twice, then each value twice with the plain job after it."""
    jobs = [BatchJob("one", job), BatchJob("two", job)]
    for key, value in CHANGES.items():
        jobs += [
            BatchJob(f"other {key}", job, {key: value}),
            # By now the pattern of the other is kept, and what follows from it is reckoned.
            BatchJob(f"same {key}", job, {key: value}),
            BatchJob(f"plain {key}", job),
        ]
    one, two, *rest = together_and_alone(jobs, tmp_path, monkeypatch)
    assert one == two
    for key, other, same, plain in zip(CHANGES, *(rest[k::3] for k in range(3)), strict=True):
        assert plain == one, key
        assert other == same, key
        assert other != one, f"{key}: a value that changes nothing shows nothing"


@pytest.mark.parametrize(
    ("base", "key", "value"),
    thinned(
        [
            ({"body.model": "former", "body.diameter": 80.0}, "body.diameter", 90.0),
            ({"body.model": "former", "body.diameter": 80.0}, "stack.fabric.lining.thickness", 3.0),
            ({"body.model": "former", "body.diameter": 80.0}, "stack.fabric.lining.coverage", 0.1),
            ({"panel.panel 1.class": "front"}, "panel.panel 1.class", "side"),
            ({"body.model": "section", "body.ratio": 1.4}, "body.ratio", 1.6),
            ({"body.model": "section", "body.ratio": 1.4}, "body.exponent", 2.5),
            ({"body.model": "mean", "body.of": "women"}, "body.of", "men"),
        ]
    ),
)
@pytest.mark.slow
def test_a_body_is_kept_with_all_that_it_is_made_of(
    job: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    base: dict[str, Any],
    key: str,
    value: Any,
) -> None:
    jobs = [BatchJob(name, job, base) for name in ("one", "two")]
    jobs += [BatchJob("other", job, {**base, key: value}), BatchJob("three", job, base)]
    one, two, other, three = together_and_alone(jobs, tmp_path, monkeypatch)
    assert one == two == three
    assert other != one


@pytest.mark.slow
def test_a_smaller_join_tolerance_is_not_answered_from_a_larger_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    draft = half(3)
    body = panels(draft[:2]) + draft[2].pieces(0.3) + draft[2].line()
    job = write_job(folder, body)
    jobs = [
        BatchJob("wide", job, {"pattern.join_tolerance": 0.5}),
        BatchJob("wide again", job, {"pattern.join_tolerance": 0.5}),
        BatchJob("narrow", job, {"pattern.join_tolerance": 0.1}),
    ]
    together_and_alone(jobs, tmp_path, monkeypatch)
    forget(monkeypatch)
    assert statuses(inline(jobs, tmp_path / "again")) == ["done", "done", "failed"]


@pytest.mark.slow
def test_a_doubt_that_a_stated_default_settles_is_not_carried_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    drafts = half(3)
    cut_lines = [
        replace(d, name=f"cut {d.name}", x=d.x - 10.0, waist=d.waist + 20.0, above=130, below=110)
        for d in drafts
    ]
    job = write_job(folder, panels(drafts) + "".join(line.outline() for line in cut_lines))
    jobs = [
        BatchJob("unsaid", job),
        BatchJob("unsaid too", job),
        BatchJob("said", job, {"pattern.net_outline": "inner"}),
    ]
    unsaid, _, said = together_and_alone(jobs, tmp_path, monkeypatch)
    assert OUTLINE_UNCHECKED in unsaid[1]
    assert OUTLINE_UNCHECKED not in said[1]


@pytest.mark.slow
def test_jobs_alike_share_pattern_profile_and_turn(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    reckoned: list[str] = []
    for name in ("turn_of_cloth", "profile"):
        real = getattr(worker, name)

        def counted(*given: Any, _real: Any = real, _name: str = name, **more: Any) -> Any:
            reckoned.append(_name)
            return _real(*given, **more)

        monkeypatch.setattr(worker, name, counted)
    alike = [BatchJob(str(k), job, {"allowance.seam": 10.0 + k}) for k in range(4)]
    gaps = [BatchJob(f"gap {k}", job, {"pattern.lacing_gap": 10.0 * k}) for k in (1, 2)]
    assert statuses(inline([*alike, *gaps], tmp_path / "out")) == ["done"] * 6
    # The first is not known to be settled until it is done; then one profile for all, and a
    # turn for each gap.
    assert reckoned == ["turn_of_cloth", "profile", *["turn_of_cloth"] * 3]


def test_threads_do_not_share_what_they_keep(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    inline([BatchJob("one", job)], tmp_path / "out")
    mine = worker._own_kept()
    others: list[worker.Kept] = []
    thread = threading.Thread(target=lambda: others.append(worker._own_kept()))
    thread.start()
    thread.join()
    assert worker._own_kept() is mine
    assert others[0] is not mine


READ: dict[str, dict[str, Any]] = {
    "a gore's tip": {"gore": [{"panel": "g", "between": ["a", "b"], "tip": "-40 mm"}]},
    "another tip": {"gore": [{"panel": "g", "between": ["a", "b"], "tip": "-45 mm"}]},
    "a piece on another": {"stands_on": [{"upper": "a", "lower": "b"}]},
    "split at a line": {
        "stack": {"fabric": [{"name": "lining", "thickness": 0.2, "split_at": ["rib line"]}]}
    },
    "corners": {"panel": {"a": {"corners": {"front_top": [1, 2]}}}},
    "joins": {"panel": {"a": {"joins": "b"}}},
    "halves": {"pattern": {"file": "draft.svg", "halves": "full"}},
    "the default, stated": {"pattern": {"file": "draft.svg", "net_outline": "auto"}},
    "an alteration": {"alteration": [{"edge": "top", "lower": {"a": 4}}]},
}
"""What a job may say of its draft, in whichever of its tables."""


def test_whatever_is_said_of_the_draft_has_it_read_anew() -> None:
    """For batches, and for the page: a draft that is kept is of a job that says just the same."""
    plain = {
        "pattern": {"file": "draft.svg"},
        "stack": {"fabric": [{"name": "lining", "thickness": 0.2}]},
    }
    drawn, read = set(), set()
    for changes in ({}, *READ.values()):
        file = BatchJob("a", {**plain, **changes}, folder=Path("nowhere")).load()
        drawn.add(Inputs.of(file).drawn(file))
        read.add(reading_key(file))
    assert len(drawn) == 1 + len(READ)
    # The page keeps drafts before they are altered, and altered ones by what altered them.
    assert len(read) == len(READ)
    titled = BatchJob("a", plain, {"pattern.title": "b"}, folder=Path("nowhere")).load()
    assert reading_key(titled) in read


TURNED: dict[str, dict[str, Any]] = {
    "a gap": {"pattern": {"file": "draft.svg", "lacing_gap": 40}},
    "by height": {"pattern": {"file": "draft.svg", "lacing_gap": 40, "gap_at": {"+80 mm": 60}}},
    "a body": {"body": {"girths": {"waist": 700}}},
    "its model": {"body": {"model": "section"}},
    "a class": {"panel": {"a": {"class": "side"}}},
    "inner cloth": {"stack": {"fabric": [{"name": "lining", "thickness": 0.3}]}},
    "another draft": {"gore": [{"panel": "g", "between": ["a", "b"]}]},
}
"""What decides how panels turn, in whichever table of the job."""


def test_whatever_decides_the_turn_has_it_reckoned_anew() -> None:
    plain = {
        "pattern": {"file": "draft.svg"},
        "stack": {"fabric": [{"name": "lining", "thickness": 0.2}]},
    }
    turned = set()
    for changes in ({}, *TURNED.values()):
        file = BatchJob("a", {**plain, **changes}, folder=Path("nowhere")).load()
        own = Inputs.of(file)
        turned.add(own.turned(own.drawn(file)))
    assert len(turned) == 1 + len(TURNED)


@pytest.mark.parametrize("name", ["draft.svg", "a\0b.svg"])
def test_of_stated_defaults_only_one_that_settles_a_doubt_is_other_work(name: str) -> None:
    """Whether its file is there or can be none."""
    table = {"file": name}
    stack = {"fabric": [{"name": "lining", "thickness": 0.2}]}
    digests = [
        Inputs.of(BatchJob("a", {"pattern": table | more, "stack": stack}).load()).digest(
            makings(["cut"], None)[0]
        )
        for more in ({}, {"lacing_gap": 0.0}, {"net_outline": "auto"})
    ]
    assert digests[0] == digests[1] != digests[2]


def test_other_pages_are_other_work() -> None:
    """A record of pages with another margin, say, is not taken for what is asked now."""
    plain = {
        "pattern": {"file": "draft.svg"},
        "stack": {"fabric": [{"name": "lining", "thickness": 0.2}]},
    }
    file = BatchJob("a", plain, folder=Path("nowhere")).load()
    asked = [
        PageOptions(parse_paper("a4")),
        PageOptions(parse_paper("a3")),
        PageOptions(parse_paper("a4"), margin=12.0),
        PageOptions(parse_paper("a4"), overlap=12.0),
        PageOptions(parse_paper("a4"), projector="dark"),
        PageOptions(parse_paper("a4"), strip=True),
    ]
    made = [Inputs.of(file).digest(makings(["tile"], pages)[0]) for pages in asked]
    assert len(set(made)) == len(asked)
    # Sheets without pages do not ask for any.
    cut = {Inputs.of(file).digest(makings(["cut"], pages)[0]) for pages in asked}
    assert len(cut) == 1


@pytest.mark.slow
def test_gores_of_one_draft_are_each_jobs_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = tomllib.loads((SAMPLES / "gored.toml").read_text())
    lower = copy.deepcopy(job)
    lower["gore"][0]["tip"] = "+60 mm"
    jobs = [
        BatchJob(name, data, folder=SAMPLES)
        for name, data in (("one", job), ("lower", lower), ("again", job))
    ]
    one, other, again = together_and_alone(jobs, tmp_path, monkeypatch)
    assert one == again
    assert one != other
