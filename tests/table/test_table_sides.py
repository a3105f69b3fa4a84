"""Which of two: edges of a seam, levels, layers, ends of a measured distance, steps to undo."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from shapely.geometry import LineString, Point

from panelshift.job.said import Finding
from panelshift.printing import PageOptions, parse_paper
from panelshift.table import parcel as parcel_module
from panelshift.table.edits import move, remove, rename
from panelshift.table.parcel import Wish, parcel_files, wish_of
from panelshift.table.pattern_picture import flags
from panelshift.table.workspace import History, Step, Work
from tests.support.drafts import both_halves, drawn, walls
from tests.support.runs import SAMPLES, read_pattern

WIDTHS = (45.0, 50.0, 55.0)


@pytest.mark.parametrize("full", [False, True], ids=["half", "full"])
def test_a_remark_on_a_seam_stands_on_the_edge_that_is_sewn(full: bool) -> None:
    panels = walls(WIDTHS)
    pattern = read_pattern(drawn(both_halves(panels) if full else panels))
    seams = pattern.walk()
    for walked, flag in zip(
        seams,
        flags([Finding("odd", "seam", seam=w.name) for w in seams], pattern, None),
        strict=True,
    ):
        panel = pattern.panels[walked.seam.first]
        sewn = LineString(panel.edge(walked.seam.first_edge).flatten(0.01))
        assert flag.at is not None
        assert sewn.distance(Point(flag.at)) == pytest.approx(0.0, abs=1e-6)


def job() -> dict[str, Any]:
    """Three layers, and a distance measured on either side of the middle one."""
    return {
        "stack": {
            "fabric": [{"name": name, "thickness": 0.3} for name in ("a", "b", "c")],
            "drafted_layer": "b",
            "measured": [
                {"inner": "a", "outer": "b", "distance": 0.4},
                {"inner": "b", "outer": "c", "distance": 0.5},
                {"inner": "a", "outer": "c", "distance": 0.9},
            ],
        }
    }


def pairs(data: Mapping[str, Any]) -> list[tuple[str, str]]:
    return [(item["inner"], item["outer"]) for item in data["stack"]["measured"]]


def test_a_layer_takes_what_was_measured_on_either_side_of_it_along() -> None:
    data = job()
    remove({"fabric": "b"}, "mm").change(data)
    assert pairs(data) == [("a", "c")]
    assert "drafted_layer" not in data["stack"]


def test_a_new_name_goes_to_either_end_of_what_was_measured() -> None:
    data = job()
    rename({"fabric": "b", "value": "new"}, "mm").change(data)
    assert pairs(data) == [("a", "new"), ("new", "c"), ("a", "c")]
    assert data["stack"]["drafted_layer"] == "new"


@pytest.mark.parametrize(
    ("name", "to", "order"),
    [("a", 1, "bac"), ("a", 2, "bca"), ("c", 0, "cab"), ("c", 1, "acb"), ("b", 9, "acb")],
)
def test_a_layer_comes_to_stand_at_the_place_it_is_moved_to(name: str, to: int, order: str) -> None:
    data = job()
    move({"fabric": name, "to": str(to)}, "mm").change(data)
    assert "".join(item["name"] for item in data["stack"]["fabric"]) == order


def test_steps_are_undone_from_the_last_and_redone_from_the_last_undone() -> None:
    works = [Work(f"job {k}".encode(), None) for k in range(4)]
    history = History()
    for k in range(3):
        history = history.after(works[k], f"step {k}")
    told, current = [], works[3]
    while (found := history.undone(current)) is not None:
        current, words, history = found
        told.append((words, current.job))
    assert told == [("step 2", b"job 2"), ("step 1", b"job 1"), ("step 0", b"job 0")]
    while (found := history.redone(current)) is not None:
        current, words, history = found
        told.append((words, current.job))
    assert told[3:] == [("step 0", b"job 1"), ("step 1", b"job 2"), ("step 2", b"job 3")]
    assert history.back == tuple(Step(works[k], f"step {k}") for k in range(3))


def test_margin_and_overlap_are_each_its_own() -> None:
    wish = wish_of({"margin": "7", "overlap": "1,2 cm", "paper": "a3"}, ("pages",), "mm")
    assert wish.pages == PageOptions(parse_paper("a3"), 7.0, 12.0)


@pytest.mark.parametrize(("nested", "together"), [(True, False), (False, True)])
def test_nested_and_kept_together_are_each_its_own(
    nested: bool, together: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: dict[str, Any] = {}

    def print_job(*_: object, **options: Any) -> list[Any]:
        asked.update(options)
        return []

    monkeypatch.setattr(parcel_module, "print_job", print_job)
    form = {"nested": "yes" * nested, "together": "yes" * together}
    wish = wish_of(form, ("pages",), "mm")
    assert (wish.nested, wish.keep_together) == (nested, together)
    told: list[str] = []
    parcel_files(SAMPLES / "hourglass.toml", wish, tell=told.append)
    assert told == ["the pages to print"]
    assert asked == {"nested": nested, "keep_together": together}
    assert isinstance(wish, Wish)
    assert np.isclose(wish.pages.margin, 10.0)
