"""What is kept of one state for the next: never more than is the same for both."""

from __future__ import annotations

from pathlib import Path

from panelshift.table.stages import Reckoner, State
from panelshift.table.workspace import Work
from tests.support.drawings import half, job_text, panels, svg


def test_what_is_kept_is_what_would_be_reckoned_afresh(tmp_path: Path) -> None:
    """Each of these changes one thing that decides how panels turn, and nothing else of the job."""
    (tmp_path / "draft.svg").write_text(svg(panels(half(2))), encoding="utf-8")
    own, keeping = tmp_path / "job.toml", Reckoner()
    classes = '[body]\nmodel = "classes"\n'
    seen = []
    for head, rest in (
        ("lacing_gap = 40", classes),
        ("lacing_gap = 70", classes),
        ('lacing_gap = 70\ngap_at = { "+60 mm" = 90 }', classes),
        ('lacing_gap = 70\ngap_at = { "+60 mm" = 95 }', classes),
        ("lacing_gap = 70", '[body]\nmodel = "section"\nratio = 1.3\n'),
        ("lacing_gap = 70", '[body]\nmodel = "section"\nratio = 1.5\n'),
        ("lacing_gap = 70", classes),
    ):
        state = State(Work(job_text(head=head, rest=rest).encode()), own, keeping)
        assert state.shifted.error is None
        assert state.shifted.value is not None
        seen.append(state.shifted.value.growth_table([-30.0, 0.0, 60.0]).tobytes())
    # All others differ, so that one that was kept too long would be seen twice.
    assert len(set(seen)) == len(seen) - 1
    assert seen[-1] == seen[1]
    fresh = State(state.work, own, Reckoner()).shifted.value
    assert fresh is not None
    assert seen[-1] == fresh.growth_table([-30.0, 0.0, 60.0]).tobytes()


def test_on_a_former_the_innermost_cloth_decides_the_turn(tmp_path: Path) -> None:
    (tmp_path / "draft.svg").write_text(svg(panels(half(2))), encoding="utf-8")

    def key(inner: float, outer: float, body: str) -> object:
        cloths = (("a", inner), ("b", outer))
        stack = "".join(
            f'[[stack.fabric]]\nname = "{name}"\nthickness = {thick}\n' for name, thick in cloths
        )
        text = job_text(head="lacing_gap = 40", stack=stack, rest=f"[body]\n{body}\n")
        return State(Work(text.encode()), tmp_path / "job.toml", Reckoner()).turn_key

    former, round_it = 'model = "former"\ndiameter = 60', 'model = "classes"'
    assert key(0.5, 0.8, former) == key(0.5, 1.1, former) != key(0.7, 0.8, former)
    assert key(0.5, 0.8, round_it) == key(0.7, 1.1, round_it)
