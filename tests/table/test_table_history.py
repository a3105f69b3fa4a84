"""Undoing and redoing."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, strategies as st

from panelshift.table import workspace
from panelshift.table.workspace import (
    History,
    Step,
    Work,
    Workspace,
    history_bytes,
    read_history,
)


def works(count: int) -> list[Work]:
    return [Work(f"title = {k}\n".encode(), f"row {k}\n" if k % 2 else None) for k in range(count)]


def walked(states: list[Work]) -> History:
    result = History()
    for k, before in enumerate(states[:-1]):
        result = result.after(before, f"step {k}")
    return result


def test_all_the_way_back_and_forward_again() -> None:
    states = works(5)
    kept, current = walked(states), states[-1]
    for k in (3, 2, 1, 0):
        step = kept.undone(current)
        assert step is not None
        current, words, kept = step
        assert (current, words) == (states[k], f"step {k}")
    assert kept.undone(current) is None
    for k in (1, 2, 3, 4):
        step = kept.redone(current)
        assert step is not None
        current, words, kept = step
        assert (current, words) == (states[k], f"step {k - 1}")
    assert kept.redone(current) is None


def test_a_new_change_ends_what_could_be_redone() -> None:
    states = works(3)
    step = walked(states).undone(states[-1])
    assert step is not None
    assert step[2].after(states[1], "another way").forward == ()


def test_a_state_is_found_again_by_its_revision() -> None:
    states = works(4)
    kept = walked(states)
    assert kept.find(states[1].revision) == states[1]
    assert kept.find("unknown") is None
    assert len({work.revision for work in states}) == 4
    assert Work(b"a").revision == Work(b"a").revision
    assert Work(b"a", "b").revision != Work(b"a").revision


def test_both_bounds_drop_the_oldest(monkeypatch) -> None:
    many = walked(works(workspace.MOST_STEPS + 10))
    assert len(many.back) == workspace.MOST_STEPS
    assert many.back[-1].words == f"step {workspace.MOST_STEPS + 8}"
    monkeypatch.setattr(workspace, "MOST_CHARACTERS", 40)
    assert [step.words for step in walked(works(9)).back] == ["step 6", "step 7"]


BYTES = st.binary(max_size=30)


@given(
    st.lists(st.tuples(BYTES, st.none() | st.text(max_size=5), st.text(max_size=5)), max_size=4),
    BYTES,
)
@pytest.mark.slow
def test_a_history_survives_its_file(steps, current) -> None:
    def storable(text: str | None) -> bool:
        return text is None or text.isprintable()

    kept = tuple(Step(Work(job, text), words) for job, text, words in steps if storable(text))
    whole = History(kept, kept[:1])
    now = Work(current)
    assert read_history(history_bytes(whole, now), now) == whole
    # Kept for another state: going back still makes sense, going forward does not.
    assert read_history(history_bytes(whole, now), Work(current + b"x")) == History(kept)


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"{}",
        b"[]",
        b"null",
        b'{"back": 3}',
        b'{"back": [{"words": 1}], "forward": []}',
        b"\xff",
    ],
)
def test_a_damaged_file_is_an_empty_history(raw) -> None:
    assert read_history(raw, Work(b"")) == History()


def test_readings_are_the_page_s_where_they_lie_beside_the_job(tmp_path) -> None:
    own = Workspace(tmp_path / "job.toml")
    names = ("a.csv", "../a.csv", "sub/a.csv", "", 3, None)
    found = []
    for name in names:
        said = "" if name is None else f"[stack]\nswatches = {json.dumps(name)}\n"
        found.append(own._readings_file(said.encode()))
    assert found == [tmp_path / "a.csv", *[None] * 5]
    assert own._readings_file(b"[stack") is None
