"""The plan of the mutants names modules and tests that are there: a move cannot empty it unsaid."""

from __future__ import annotations

import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
HERE = ROOT / "tests" / "mutation"


def table(name: str) -> dict[str, list[str]]:
    loaded: dict[str, list[str]] = tomllib.loads((HERE / name).read_text(encoding="utf-8"))
    return loaded


def test_every_module_and_every_test_of_the_plan_is_there() -> None:
    plan = table("plan.toml")
    assert len(plan) > 15
    assert [key for key in plan if not (ROOT / "panelshift" / f"{key}.py").is_file()] == []
    assert [path for paths in plan.values() for path in paths if not (ROOT / path).exists()] == []


def test_every_survivor_belongs_to_a_module_of_the_plan() -> None:
    text = (HERE / "survivors.toml").read_text(encoding="utf-8")
    modules = {item["module"] for item in tomllib.loads(text)["harmless"]}
    assert modules <= table("plan.toml").keys()
