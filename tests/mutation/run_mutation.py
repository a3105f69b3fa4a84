"""Mutation score of the geometric core; see README.md here.

python -m tests.mutation.run_mutation [MODULE ...] [--results FILE]
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import json
import os
import random
import sys
import tomllib
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from .judging import (
    KILLED,
    SURVIVED,
    TIMED_OUT,
    load_libraries,
    quick_verdicts,
    whole_verdict,
)
from .mutants import Mutant, mutants

HERE: Final = Path(__file__).resolve().parent
ROOT: Final = HERE.parents[1]
MOST_MUTANTS: Final = 100
"""Mutants judged of one module: of a larger module a sample, always the same."""

Reasons = Mapping[tuple[str, str], str]
"""Why a survivor does no harm, by module and name."""


def main() -> int:
    """Judge every mutant and print the figures; 1 if a survivor has no reason yet."""
    options = _options()
    plan = tomllib.loads((HERE / "plan.toml").read_text(encoding="utf-8"))
    chosen = options.modules or list(plan)
    reasons = _reasons()
    remembered = _Remembered(options.results)
    os.chdir(ROOT)
    os.nice(10)
    load_libraries()
    total: Counter[str] = Counter()
    made = unexplained = 0
    for module in chosen:
        every = mutants(ROOT / "panelshift" / f"{module}.py")
        verdicts = _judge_module(module, sample(every), plan[module], reasons, remembered)
        counts = Counter(verdict for _, verdict in verdicts)
        total += counts
        survivors = [mutant for mutant, verdict in verdicts if verdict == SURVIVED]
        made += len(every)
        print(_row(module, len(every), counts), flush=True)
        for mutant in survivors:
            reason = reasons.get((module, mutant.name))
            unexplained += reason is None
            print(f"    {mutant.name}\n        {reason or 'NO REASON YET'}", flush=True)
        for mutant, verdict in verdicts:
            if verdict != SURVIVED and (module, mutant.name) in reasons:
                print(f"    listed as harmless, but {verdict}: {mutant.name}", flush=True)
    print(_row("all", made, total))
    return int(unexplained > 0)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="run_mutation", description=__doc__)
    parser.add_argument("modules", nargs="*", metavar="MODULE", help="as plan.toml names them")
    parser.add_argument(
        "--results",
        type=Path,
        default=None,
        metavar="FILE",
        help="remember mutants that were found, and judge only the others again",
    )
    return parser.parse_args()


def _reasons() -> Reasons:
    listed = tomllib.loads((HERE / "survivors.toml").read_text(encoding="utf-8"))
    return {
        (group["module"], name): group["reason"]
        for group in listed.get("harmless", [])
        for name in group["mutants"]
    }


class _Remembered:
    """Verdicts of earlier runs in a file, if one is named: more tests never save a mutant."""

    def __init__(self, file: Path | None) -> None:
        self._file = file.resolve() if file else None
        known = self._file and self._file.exists()
        self._verdicts: dict[str, str] = json.loads(self._file.read_text()) if known else {}

    def verdict(self, module: str, mutant: Mutant) -> str:
        return self._verdicts.get(self._key(module, mutant), SURVIVED)

    def note(self, module: str, mutant: Mutant, verdict: str) -> None:
        self._verdicts[self._key(module, mutant)] = verdict
        if self._file:
            self._file.write_text(json.dumps(self._verdicts))

    @staticmethod
    def _key(module: str, mutant: Mutant) -> str:
        tree = ast.parse(mutant.source)
        for node in ast.walk(tree):  # what a docstring says changes no verdict
            if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
                node.value.value = ""
        return hashlib.sha256(f"{module}\n{ast.dump(tree)}".encode()).hexdigest()


def sample(every: list[Mutant]) -> list[Mutant]:
    """At most `MOST_MUTANTS` of them, in order."""
    chosen = random.Random(0).sample(range(len(every)), min(len(every), MOST_MUTANTS))
    return [every[i] for i in sorted(chosen)]


def _judge_module(
    module: str,
    every: list[Mutant],
    tests: list[str],
    reasons: Reasons,
    remembered: _Remembered,
) -> list[tuple[Mutant, str]]:
    path = ROOT / "panelshift" / f"{module}.py"
    name = f"panelshift.{module.replace('/', '.')}"
    verdicts = {i: remembered.verdict(module, mutant) for i, mutant in enumerate(every)}
    quick = [i for i, mutant in enumerate(every) if verdicts[i] == SURVIVED and mutant.in_body]
    # The code as it is goes first, the same way: it has to live.
    source = path.read_text(encoding="utf-8")
    judged = quick_verdicts(name, [source, *(every[i].source for i in quick)], tests)
    _refuse_failing(next(judged, (0, KILLED))[1], tests)
    for index, verdict in judged:
        i = quick[index - 1]
        verdicts[i] = verdict
        remembered.note(module, every[i], verdict)
    # What runs while the module is imported, or a test collected, knows nothing of a quick mutant:
    # what has no reason to live is judged once more.
    whole = [
        i
        for i, mutant in enumerate(every)
        if verdicts[i] == SURVIVED and not (mutant.in_body and (module, mutant.name) in reasons)
    ]
    if whole:
        _refuse_failing(whole_verdict(name, path, source, tests), tests)
    for i in whole:
        verdicts[i] = whole_verdict(name, path, every[i].source, tests)
        remembered.note(module, every[i], verdicts[i])
    return [(mutant, verdicts[i]) for i, mutant in enumerate(every)]


def _refuse_failing(verdict: str, tests: list[str]) -> None:
    if verdict != SURVIVED:
        raise SystemExit(f"the tests fail without any mutant: {' '.join(tests)}")


def _row(module: str, made: int, counts: Counter[str]) -> str:
    judged = counts.total()
    found = counts[KILLED] + counts[TIMED_OUT]
    return (
        f"{module:16} {judged:5} of {made:5} mutants, {found:5} killed "
        f"({counts[TIMED_OUT]} by time), {100.0 * found / max(judged, 1):5.1f} %"
    )


if __name__ == "__main__":
    sys.exit(main())
